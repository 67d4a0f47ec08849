//! A run that is judged while it is held: lines of time \[s\] and gauge pressure \[Pa\]. What is said after each is sound, a reading that
//! is refused changes nothing, and the last word has the numbers that the readings have together.

use casetight::doubt::Doubt;
use casetight::limit::{Limit, Verdict};
use casetight::quantity::{GaugePressure, Time, TradeUnits as _};
use casetight::readings::{Bench, Readings};
use casetight_bench::assess::{Assumptions, Outcome, assess};
use casetight_bench::sheet::{NoTraces, Sheet};
use casetight_bench::watch::{Update, Watch, WatchError};

use super::batch::BENCH;
use super::{Fault, ensure, numbers, readable, sound};

/// Lines beyond these are not looked at.
const LINES: usize = 24;

/// Any bytes as lines.
///
/// # Errors
/// What is wrong with an answer.
pub fn invariant(bytes: &[u8]) -> Result<(), Fault> {
    let text = String::from_utf8_lossy(bytes);
    let sheet = Sheet::parse(BENCH, "bench", &NoTraces).map_err(|error| error.to_string())?;
    let run = sheet.runs.first().ok_or("the bench has no run")?;
    let bench = sheet.bench_for(run).map_err(|error| error.to_string())?;
    let limits: Vec<_> = sheet.limits.iter().map(|stated| stated.limit).collect();
    let mut watch = Watch::new(bench.clone(), limits.clone(), sheet.assumptions);
    let mut last = None;
    for line in text.lines().take(LINES) {
        let mut numbers = numbers(line);
        let (Some(time), Some(gauge)) = (numbers.next(), numbers.next()) else {
            continue;
        };
        let (Ok(seconds), Ok(gauge)) = (
            Time::from_si_value(time),
            GaugePressure::from_pascals(gauge),
        ) else {
            continue;
        };
        let before = watch.times_s().len();
        match watch.add(seconds, gauge) {
            Ok(None) => ensure(watch.times_s().len() == before + 1, || {
                "a reading that was taken up is not there".to_owned()
            })?,
            Ok(Some(update)) => {
                ensure(update.readings == before + 1, || {
                    format!("{} readings after {before}", update.readings)
                })?;
                sound(&update.assessment)?;
                let probability = update.needed_probability.unwrap_or(0.95);
                ensure((0.5..=1.0).contains(&probability), || {
                    format!("a probability of {probability} is needed")
                })?;
                let doubts: Vec<_> = update.assessment.doubts().map(Doubt::name).collect();
                let holds = update.verdict == Some(Verdict::Holds);
                ensure(!holds || doubts.is_empty(), || {
                    format!("holds while it is held, in spite of {doubts:?}")
                })?;
                last = Some(update);
            }
            Err(error) => {
                let kept = watch.times_s().len();
                let taken = matches!(error, WatchError::Assess(_));
                ensure(kept == before + usize::from(taken), || {
                    format!("{kept} readings after {before}: {error}")
                })?;
                readable(&error)?;
            }
        }
    }
    match last.filter(|last| last.readings == watch.times_s().len()) {
        Some(last) => as_together(&last, &watch, &bench, &limits, &sheet.assumptions),
        None => Ok(()),
    }
}

/// That the last word has the numbers that the readings have together.
fn as_together(
    last: &Update,
    watch: &Watch,
    bench: &Bench,
    limits: &[Limit],
    assumptions: &Assumptions,
) -> Result<(), Fault> {
    let ambient = bench.ambient_pressure.value();
    let together = Readings::from_si(watch.times_s(), watch.gauges_pa(), ambient)
        .map_err(|error| format!("readings that passed one by one are none: {error}"))?;
    let together = assess(&together, bench, limits, assumptions)
        .map_err(|error| format!("what was assessed is refused: {error}"))?;
    let area = |outcome: &Outcome| match outcome {
        Outcome::Fitted(run) => Some(run.fit.area.si().value.to_bits()),
        _ => None,
    };
    let same = area(&together.outcome) == area(&last.assessment.outcome);
    ensure(same && together.verdict == last.assessment.verdict, || {
        "other numbers together than at the last look".to_owned()
    })
}
