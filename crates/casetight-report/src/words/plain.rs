//! The answer of a run in one plain sentence.

use casetight::doubt::Doubt;
use casetight::fit::{Cause, Strain};
use casetight::limit::{DECISION_PROBABILITY, Decision, Verdict};
use casetight::quantity::{Pressure, Unit};
use casetight::vessel::Direction;
use casetight_bench::assess::{Bound, FittedRun, Note, Outcome, RunAssessment};
use casetight_bench::pump::Stall;
use casetight_bench::session::SessionRun;
use uom::si::pressure::pascal;

use super::{NOT_FOLLOWED, area_in_words, plainly, time};
use crate::fall::{Fall, deciding};

/// As many digits as a rounded number has.
const ALL_DIGITS: usize = 12;
/// Nobody reads a gauge finer.
const MOST_DECIMALS: i32 = 9;

/// What a test of one run showed, in a sentence that a customer understands and in the gauge's unit: "Holds: it lost 0.25 psi in 60 s,
/// the limit is 1 psi; 99 % sure."
///
/// The fall is the one that was read: over the limit's own time where a reading stands there, else from the first reading to the
/// last. A run that is undecided says why.
///
/// ```
/// use casetight_bench::session::Session;
/// use casetight_bench::sheet::{NoTraces, Sheet};
/// use casetight_report::words::plain_answer;
///
/// let text = r#"
/// format = 1
/// [volume]
/// value = "250 cm3"
/// uncertainty = "10 cm3"
/// [ambient]
/// pressure = "1013 hPa"
/// temperature = "20 C"
/// [gauge]
/// unit = "kPa"
/// resolution = "0.1 kPa"
/// [limit]
/// max_drop = "7 kPa"
/// from = "48 kPa"
/// over = "30 s"
/// [[run]]
/// name = "pressure"
/// readings = [[0, 48.0], [10, 42.8], [20, 37.7], [30, 32.8]]
/// "#;
/// let sheet = Sheet::parse(text, "sheet.toml", &NoTraces)?;
/// let session = Session::assess(&sheet)?;
/// assert_eq!(
///     plain_answer(&session.runs[0]),
///     "Leaks: it lost 15.2 kPa in 30 s, the limit is 7 kPa; over 99.9 % sure."
/// );
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn plain_answer(run: &SessionRun) -> String {
    match &run.assessment.outcome {
        Outcome::Fitted(fitted) => of_readings(run, fitted),
        Outcome::Stalled { stall, bound } => of_stall(run, stall, bound),
        _ => "Not judged.".to_owned(),
    }
}

fn of_readings(run: &SessionRun, fitted: &FittedRun) -> String {
    let assessment = &run.assessment;
    let decision = deciding(assessment, &fitted.decisions);
    let doubt = telling(assessment);
    // These are about the whole run.
    let whole = matches!(doubt, Some(Doubt::NeedleLost { .. } | Doubt::Rose { .. }));
    let limit = decision.filter(|_| !whole).map(|d| &d.allowed.limit);
    let Some(fall) = Fall::of(run, fitted, limit) else {
        return format!("{}: {NOT_FOLLOWED}.", head(run));
    };
    let told = Told {
        unit: assessment.assumptions.pressure_unit,
        step: run.bench.gauge.step(),
        several: fitted.decisions.len() > 1,
    };
    let lost = told.fall(&fall);
    let Some(decision) = decision else {
        let but = doubt.map_or(String::new(), |doubt| {
            format!(", but {}", told.doubt(doubt))
        });
        let end = if run.rig_alone {
            ""
        } else {
            "; no limit is stated"
        };
        return format!("{}: {lost}{but}{end}.", head(run));
    };
    let limit = told.limit(&fall, decision);
    let end = match (decision.sureness(), doubt) {
        (Some(sure), _) => {
            let against = told.against(&fall, decision).unwrap_or_default();
            format!("{against}; {} % sure", whole_percent(sure))
        }
        (None, Some(doubt)) => format!(", but {}", told.doubt(doubt)),
        (None, None) => format!(", but {}", why_open(fitted, decision)),
    };
    format!("{}: {lost}, {limit}{end}.", head(run))
}

/// Of the doubts the one that tells most: what was dangerous or is misread, then a cause that is seen, and last that the needle lost
/// much, which the sentence says already.
fn telling(assessment: &RunAssessment) -> Option<&Doubt> {
    let says_more: [fn(&Doubt) -> bool; 5] = [
        |doubt| matches!(doubt, Doubt::AboveCaution { .. }),
        |doubt| matches!(doubt, Doubt::Misread(_)),
        |doubt| matches!(doubt, Doubt::Unsteady(unsteady) if unsteady.cause.is_some()),
        |doubt| !matches!(doubt, Doubt::NeedleLost { rest: None, .. }),
        |_| true,
    ];
    let first = |says: fn(&Doubt) -> bool| assessment.doubts().find(|doubt| says(doubt));
    says_more.into_iter().find_map(first)
}

fn of_stall(run: &SessionRun, stall: &Stall, bound: &Bound) -> String {
    let unit = run.assessment.assumptions.pressure_unit;
    let reached = stall.reached().pascals();
    let needle = if reached == 0.0 {
        "the pump did not move the needle".to_owned()
    } else {
        let vacuum = of_vacuum(stall.direction());
        let reached = unit.shown(reached.abs(), 3);
        format!("the pump brought the needle no further than {reached}{vacuum}")
    };
    let notes = &run.assessment.notes;
    let is_beyond = |note: &Note| matches!(note, Note::Stalled { beyond_limit: true });
    let beyond = if notes.iter().any(is_beyond) {
        ", beyond the limit already"
    } else {
        ""
    };
    let least = area_in_words(bound.area.square_meters());
    format!(
        "{}: {needle}; the leak is at least {least}{beyond}.",
        head(run)
    )
}

/// The verdict, or what stands for it.
fn head(run: &SessionRun) -> &'static str {
    match run.assessment.verdict {
        Some(Verdict::Holds) => "Holds",
        Some(Verdict::Leaks) => "Leaks",
        Some(Verdict::Undecided) => "Undecided",
        Some(Verdict::Stalled) => "Stalled",
        None if run.rig_alone => "The rig alone, not judged",
        None => "Not judged",
    }
}

/// How pressures and limits are told in a sentence.
struct Told {
    unit: &'static Unit,
    /// What is read of the gauge, and so told.
    step: Pressure,
    /// Whether there are several limits.
    several: bool,
}

impl Told {
    fn pressure(&self, pascals: f64) -> String {
        as_read(pascals, self.unit, self.step)
    }

    fn limit_of(&self, pascals: f64) -> String {
        plainly(self.unit.from_si(pascals), self.unit.symbol(), 3)
    }

    fn fall(&self, fall: &Fall<'_>) -> String {
        let vacuum = of_vacuum(fall.direction());
        let time = time(fall.seconds());
        let pascals = fall.lost_pa();
        let lost = self.pressure(pascals.abs());
        if lost.starts_with("0 ") {
            return format!("the needle stood still for {time}");
        }
        let verb = if pascals > 0.0 { "lost" } else { "gained" };
        format!("it {verb} {lost}{vacuum} in {time}")
    }

    /// The limit: in its own numbers where the run started where it does, else as what it lets this run lose.
    fn limit(&self, fall: &Fall<'_>, decision: &Decision) -> String {
        let strictest = if self.several { "strictest " } else { "" };
        if let Some((drop, over)) = fall.beside_limits_own(decision) {
            let (drop, over) = (self.limit_of(drop), time(over));
            let over = if over == time(fall.seconds()) {
                String::new()
            } else {
                format!(" in {over}")
            };
            return format!("the {strictest}limit is {drop}{over}");
        }
        fall.at_limit_pa(decision).map_or_else(
            || format!("the {strictest}limit can't be told as a fall"),
            |lost| {
                let lost = self.limit_of(lost);
                format!("at the {strictest}limit it would have lost {lost}")
            },
        )
    }

    /// What has to be said where the fall that was read lies on the other side of the limit than the verdict.
    fn against(&self, fall: &Fall<'_>, decision: &Decision) -> Option<String> {
        let (lost, told) = (fall.lost_pa(), fall.limit_as_told_pa(decision)?);
        let by_leak = plainly(self.unit.from_si(fall.by_leak_pa()?), self.unit.symbol(), 2);
        let rig = if fall.has_rig() { "the rig, " } else { "" };
        match decision.verdict {
            Verdict::Holds if lost > told => Some(format!(
                ", but by all readings the leak itself makes up only {by_leak} of that, and {rig}heat or the gauge the rest"
            )),
            Verdict::Leaks if lost < told => Some(format!(
                ", but by all readings the leak itself makes {by_leak}, and heat or the gauge hid a part of that"
            )),
            _ => None,
        }
    }

    /// Why a run is undecided, as the end of a sentence.
    fn doubt(&self, doubt: &Doubt) -> String {
        let shown = |pascals: f64| self.unit.shown(pascals, 3);
        match doubt {
            Doubt::AboveCaution { start_pa } => {
                format!(
                    "it was started at {}, more than is safe for seals and blanks",
                    shown(*start_pa)
                )
            }
            Doubt::NotFinite => NOT_FOLLOWED.to_owned(),
            Doubt::WrongSide { .. } => "the readings and a leak contradict each other".to_owned(),
            Doubt::NeedleLost {
                rest: Some(rest), ..
            } => {
                format!(
                    "the needle fell at once and then rested at {}, which one steady leak does not do",
                    shown(rest.at_pa)
                )
            }
            Doubt::NeedleLost { .. } => {
                "how much of that is the leak can't be told: settling gas or a \
                 moving gauge may have taken a part"
                    .to_owned()
            }
            Doubt::Rose { .. } => {
                "no leak makes a needle rise, and what does can hide one".to_owned()
            }
            Doubt::Misread(misread) => {
                format!(
                    "reading {} ({}) does not belong to the others",
                    misread.row,
                    shown(misread.reading_pa)
                )
            }
            Doubt::Turned {
                row, reading_pa, ..
            } => {
                format!(
                    "reading {row} ({}) decides alone, and may be misread",
                    shown(*reading_pa)
                )
            }
            Doubt::Misfit { .. } => {
                "the readings scatter more than those of one leak do".to_owned()
            }
            Doubt::Unsteady(unsteady) => self.unsteady(unsteady.cause.as_ref()),
            Doubt::Strained(strain) => strained(strain),
            Doubt::BeyondReach(_) => {
                "how much of that is gas that warms or cools is not known for such a test"
                    .to_owned()
            }
            _ => "the readings are not those of one steady leak".to_owned(),
        }
    }

    fn unsteady(&self, cause: Option<&Cause>) -> String {
        match cause {
            Some(Cause::Changed {
                time_s,
                before,
                after,
            }) => {
                let changed = if after.si().value > before.si().value {
                    "opened"
                } else {
                    "closed"
                };
                format!("something {changed} at about {}", time(time_s.round()))
            }
            Some(Cause::Drifts { kelvins_per_minute }) => {
                let drifts = if *kelvins_per_minute > 0.0 {
                    "warming"
                } else {
                    "cooling"
                };
                format!("the engine was still {drifts}")
            }
            Some(Cause::Zero { off_pa }) => format!(
                "the gauge would show {} without any pressure",
                self.unit.shown(*off_pa, 3)
            ),
            _ => "the readings don't look like those of one steady leak".to_owned(),
        }
    }
}

fn strained(strain: &Strain) -> String {
    match strain {
        Strain::Heat { .. } => {
            "a small leak explains that only with gas that is further off the case's temperature than pumping brings it".to_owned()
        }
        Strain::Term { kind, .. } => {
            format!("one leak explains that only if {} is further off than the sheet has it", kind.words())
        }
        Strain::RigBeyondWhole { .. } => "the rig alone leaked more than rig and engine together".to_owned(),
        _ => "the readings of the rig alone are not those of one leak".to_owned(),
    }
}

/// Why a run is undecided that no doubt is about.
fn why_open(fitted: &FittedRun, decision: &Decision) -> String {
    let within = decision.probability_within;
    let asked = 100.0 * DECISION_PROBABILITY;
    if within <= 1.0 - DECISION_PROBABILITY && fitted.fit.rate.si().low <= 0.0 {
        return "a needle that stands still does not tell so small a leak from none".to_owned();
    }
    let (sure, side) = if within >= 0.5 {
        (within, "within")
    } else {
        (1.0 - within, "beyond")
    };
    format!(
        "it is only {} % sure to be {side} it, and {asked} % is asked for",
        whole_percent(sure)
    )
}

fn of_vacuum(direction: Direction) -> &'static str {
    match direction {
        Direction::Pressure => "",
        Direction::Vacuum => " of vacuum",
    }
}

/// A difference of readings \[Pa\], as finely as they are read, or as they were written where that is finer by a digit or two.
pub(crate) fn as_read(pascals: f64, unit: &Unit, step: Pressure) -> String {
    let (value, step) = (unit.from_si(pascals), unit.from_si(step.get::<pascal>()));
    let decimals = decimals_of(step);
    let shift = |decimals: i32| 10_f64.powi(decimals);
    let rounded = |decimals: i32| (value * shift(decimals)).round() / shift(decimals);
    // What came by way of pascals has no digits of its own.
    let is_written = |decimals: &i32| (rounded(*decimals) - value).abs() < 1e-6 * step;
    let decimals = (decimals..=decimals + 2)
        .find(is_written)
        .unwrap_or(decimals);
    // No fall is minus zero.
    Unit::si(unit.symbol()).shown(rounded(decimals) + 0.0, ALL_DIGITS)
}

/// How many decimals a gauge is read to whose readings have this step: as many as write the step, where three do.
fn decimals_of(step: f64) -> i32 {
    let shifted = |decimals: &i32| step * 10_f64.powi(*decimals);
    let written = |decimals: &i32| {
        let step = shifted(decimals);
        step >= 0.5 && (step - step.round()).abs() < 1e-6 * step
    };
    let tells_it = |decimals: &i32| shifted(decimals) >= 1.0;
    (0..=3)
        .find(written)
        .or_else(|| (0..=MOST_DECIMALS).find(tells_it))
        .unwrap_or(MOST_DECIMALS)
}

/// A probability in whole percent, rounded down so that none is told surer than it is.
fn whole_percent(p: f64) -> String {
    if p > 0.999 {
        "over 99.9".to_owned()
    } else {
        format!("{:.0}", (100.0 * p + 1e-9).floor())
    }
}

#[cfg(test)]
#[path = "plain_tests.rs"]
mod tests;
