//! What must be true of any bytes: one invariant a file, tried by `cargo xtask fuzz` on what libFuzzer thinks of, and by the test
//! `the_corpus_is_answered_as_it_must_be` on the committed files of `tests/data/corpus`.
//!
//! Each takes bytes as they come and says what is wrong, if anything is. A panic is wrong too. What every one of them asks of a
//! refusal: its text is there, and is one line of letters that can be seen.

pub mod batch;
pub mod live;
pub mod profile;
pub mod quantity;
pub mod sheet;
pub mod trace;
pub mod whole;

use std::fmt::Display;

use casetight::caution;
use casetight::doubt::Doubt;
use casetight::estimate::Estimate;
use casetight::limit::Verdict;
use casetight::quantity::TradeUnits as _;
use casetight_bench::assess::{Outcome, RunAssessment};
use casetight_bench::printable;

/// What is wrong, in words.
pub type Fault = String;

/// An invariant: what is wrong with the answer to these bytes.
pub type Invariant = fn(&[u8]) -> Result<(), Fault>;

/// All of them, by the names of their files and of the folders of their seeds.
pub const INVARIANTS: [(&str, Invariant); 7] = [
    ("batch", batch::invariant),
    ("live", live::invariant),
    ("profile", profile::invariant),
    ("quantity", quantity::invariant),
    ("sheet", sheet::invariant),
    ("trace", trace::invariant),
    ("whole", whole::invariant),
];

/// The one of a name.
#[must_use]
pub fn of(name: &str) -> Option<Invariant> {
    let found = INVARIANTS.iter().find(|(known, _)| *known == name);
    found.map(|(_, invariant)| *invariant)
}

/// Wrong unless it is so.
fn ensure(is_so: bool, wrong: impl FnOnce() -> Fault) -> Result<(), Fault> {
    if is_so { Ok(()) } else { Err(wrong()) }
}

/// A refusal is one line that can be read.
fn readable(error: &impl Display) -> Result<(), Fault> {
    let text = error.to_string();
    ensure(!text.trim().is_empty(), || {
        "a refusal without a word".to_owned()
    })?;
    ensure(printable::line(&text) == text, || {
        format!("a refusal with what is not seen: {text:?}")
    })
}

/// Numbers from which readings may be made: all of a line, parted by commas or space.
fn numbers(line: &str) -> impl Iterator<Item = f64> + '_ {
    let fields = line.split([',', ';', ' ', '\t', '\r']);
    fields.filter_map(|field| field.parse().ok())
}

/// What must be true of a run's assessment, whatever was read: see docs/src/holds.md.
fn sound(run: &RunAssessment) -> Result<(), Fault> {
    let Outcome::Fitted(fitted) = &run.outcome else {
        return ensure(run.verdict != Some(Verdict::Holds), || {
            "a stalled run holds".to_owned()
        });
    };
    let fit = &fitted.fit;
    for (what, interval) in [
        ("rate", fit.rate.si()),
        ("area", fit.area.si()),
        ("diameter", fitted.diameter.si()),
        ("flow", fitted.flow.si()),
    ] {
        ordered(&interval).map_err(|wrong| format!("{what}: {wrong}"))?;
    }
    for note in &run.notes {
        readable(note)?;
    }
    for decision in &fitted.decisions {
        let probability = decision.probability_within;
        ensure((0.0..=1.0).contains(&probability), || {
            format!("a probability of {probability}")
        })?;
    }
    if run.verdict == Some(Verdict::Holds) {
        let doubts: Vec<&str> = run.doubts().map(Doubt::name).collect();
        ensure(doubts.is_empty(), || {
            format!("holds in spite of {doubts:?}")
        })?;
        let read = fit.residuals.first().map_or(0.0, |first| first.reading_pa);
        let most = caution::pressure_limit().si_value();
        ensure(read <= most, || format!("holds from {read} Pa"))?;
        // Known: "leaks" is said by a fit that did not converge, too (tests/data/corpus/README.md).
        ensure(fit.converged, || {
            "holds by a fit that did not converge".to_owned()
        })?;
        let acceptable = fit.is_acceptable();
        ensure(acceptable, || {
            "holds by a fit that is not acceptable".to_owned()
        })?;
        let sureness = run.sureness().unwrap_or(f64::NAN);
        ensure(sureness >= 0.95, || format!("holds, {sureness} sure"))?;
    }
    Ok(())
}

/// low <= value <= high, none of them NaN, low at least zero.
fn ordered(interval: &Estimate<f64>) -> Result<(), Fault> {
    let Estimate {
        value, low, high, ..
    } = *interval;
    ensure(0.0 <= low && low <= value && value <= high, || {
        format!("{low} to {value} to {high}")
    })
}
