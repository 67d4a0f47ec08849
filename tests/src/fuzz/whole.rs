//! Whole assessments: a sheet as it is written, or an odd one in numbers, and the rules of docs/src/holds.md for the answer.
//!
//! Bytes that begin with `format` are a sheet. All others are numbers: on the first line those of the bench, in the order of
//! [`bench`], on each line below a time \[s\] and a gauge pressure \[Pa\]. What the needle may lose is then reckoned by the simulator,
//! which knows nothing of the library.

use casetight::limit::Verdict;
use casetight_bench::session::Session;
use casetight_bench::sheet::{NoTraces, Sheet};

use super::{Fault, ensure, numbers, readable, sound};
use crate::odd::{Course, OddLimit, OddSheet, faults};

/// Runs and readings beyond which a sheet is not assessed: it takes too long for what it tells.
const RUNS: usize = 4;
/// See [`RUNS`].
const READINGS: usize = 40;
/// Readings of an odd sheet.
const ODD_READINGS: usize = 16;

/// Any bytes as a sheet, or as numbers.
///
/// # Errors
/// What is wrong with the answer.
pub fn invariant(bytes: &[u8]) -> Result<(), Fault> {
    let text = String::from_utf8_lossy(bytes);
    if text.starts_with("format") {
        return of_sheet(&text);
    }
    let mut lines = text.lines();
    let mut odd = bench(&numbers(lines.next().unwrap_or_default()).collect::<Vec<_>>());
    for line in lines.take(ODD_READINGS) {
        let mut numbers = numbers(line).filter(|number| number.is_finite());
        if let (Some(time), Some(gauge)) = (numbers.next(), numbers.next()) {
            odd.readings.push((time, gauge));
        }
    }
    if odd.readings.len() < 2 {
        return Ok(());
    }
    of_sheet(&odd.text())?;
    let (_, faults) = faults(&odd, 0);
    ensure(faults.is_empty(), || {
        format!("{}\n{}", faults.join("; "), odd.text())
    })
}

fn of_sheet(text: &str) -> Result<(), Fault> {
    let sheet = match Sheet::parse(text, "whole.toml", &NoTraces) {
        Ok(sheet) => sheet,
        Err(error) => return readable(&error),
    };
    let long = |run: &casetight_bench::sheet::Run| {
        let readings = run.record.readings();
        readings.is_some_and(|readings| readings.len() > READINGS)
    };
    if sheet.runs.len() > RUNS || sheet.runs.iter().any(long) {
        return Ok(());
    }
    let session = match Session::assess(&sheet) {
        Ok(session) => session,
        Err(error) => return readable(&error),
    };
    for run in &session.runs {
        sound(&run.assessment).map_err(|wrong| format!("{}: {wrong}", run.name))?;
    }
    let verdicts = session.runs.iter().map(|run| run.assessment.verdict);
    let all_hold = verdicts
        .clone()
        .all(|verdict| verdict == Some(Verdict::Holds));
    let worst = session.worst();
    ensure(
        session.runs.is_empty() || all_hold == (worst == Some(Verdict::Holds)),
        || {
            format!(
                "{worst:?} is the worst of {:?}",
                verdicts.collect::<Vec<_>>()
            )
        },
    )?;
    let document = match session.document() {
        Ok(document) => document,
        Err(error) => return readable(&error),
    };
    let json = serde_json::to_value(&document).map_err(|error| format!("no JSON: {error}"))?;
    ensure(json.get("runs").is_some(), || {
        "a document without runs".to_owned()
    })
}

/// A bench of these numbers, each kept within what an odd bench may be; what is missing is usual.
fn bench(numbers: &[f64]) -> OddSheet {
    let number = |place: usize, usual: f64, least: f64, most: f64| {
        let given = numbers
            .get(place)
            .copied()
            .filter(|number| number.is_finite());
        given.unwrap_or(usual).clamp(least, most)
    };
    let step = number(3, 100.0, 1e-3, 2e4);
    let from = number(10, 48e3, 10e3, 60e3);
    let limit = match number(8, 0.0, 0.0, 2.0) {
        kind if kind < 1.0 => OddLimit::Drop(
            number(9, 0.14, 0.02, 0.5) * from,
            from,
            number(11, 60.0, 10.0, 120.0),
        ),
        kind if kind < 2.0 => OddLimit::Area(number(9, 1e-9, 1e-11, 1e-6)),
        _ => OddLimit::Flow(number(9, 1e-6, 1e-8, 1e-4)),
    };
    let class = number(6, 0.0, 0.0, 4.0);
    OddSheet {
        course: Course::Scatter,
        volume: (number(0, 250e-6, 1e-9, 10.0), number(1, 0.02, 0.0, 0.5)),
        ambient: number(2, 101_325.0, 40e3, 110e3),
        gauge: (step, step * number(4, 0.3, 0.0, 3.0)),
        dial: number(12, 0.0, 0.0, 1.0) >= 0.5,
        class: (class >= 0.25).then_some(class),
        settled_for: number(5, 0.0, 0.0, 60.0),
        level: number(7, 0.95, 0.5, 0.9999),
        limit,
        readings: Vec::new(),
    }
}
