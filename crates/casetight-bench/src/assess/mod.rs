//! One run from readings to verdict: fit, decision against each limit, how long to go on, and what to say about it.

mod course;
#[cfg(feature = "serde")]
pub mod document;
mod gas;
mod note;
mod pressure;
mod remedy;

use uom::si::area::square_meter;
use uom::si::frequency::hertz;
use uom::si::length::meter;
use uom::si::pressure::pascal;
use uom::si::time::second;
use uom::si::volume_rate::cubic_meter_per_second;

pub use gas::OtherGas;
pub use note::{GoOn, Note};
pub(crate) use pressure::{Move, common_pressure};
pub use remedy::remedy;

use crate::plausible;
use crate::pump::{PumpError, Stall};
use casetight::below::check_coefficient;
use casetight::below::expected_rate;
use casetight::below::flow_per_area;
use casetight::doubt::{self, Doubt};
use casetight::estimate::Estimate;
use casetight::fit::{
    CANDIDATES, Candidate, Course, Fit, FitError, FitNote, Method, Part, PartKind, fit_laws,
};
use casetight::leak::{EffectiveArea, LeakError};
use casetight::limit::{Basis, Decision, Limit, LimitError, Verdict, decide, verdict};
use casetight::quantity::{
    Frequency, Length, Pressure, QuantityError, ReferenceConditions, Time, Unit, VolumeRate,
};
use casetight::readings::{Bench, Readings, Touched};
use casetight::vessel::{DecayLaw, Direction, rate_per_area};

/// Nobody holds longer than this for one run \[s\].
const PATIENCE_SECONDS: f64 = 4.0 * 3600.0;

/// Each try of a longer hold is this much longer than the last.
const LONGER_BY: f64 = 1.08;

/// Discharge coefficient unless stated otherwise: a thin sharp-edged hole at small pressure (common practice).
pub const DISCHARGE_COEFFICIENT: f64 = 0.62;

/// Confidence level of the intervals unless stated otherwise.
pub const LEVEL: f64 = 0.95;

/// What a leak's numbers are stated with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Assumptions {
    /// Discharge coefficient Cd of the hole whose diameter is quoted. Only diameters depend on it.
    pub discharge_coefficient: f64,
    /// Confidence level of the intervals.
    pub level: f64,
    /// Conditions that flows are counted at, 0 °C and 101.325 kPa unless stated otherwise.
    pub flow_reference: ReferenceConditions,
    /// The kind of leak, where it is known; else the fit weighs [`CANDIDATES`].
    pub law: Option<DecayLaw>,
    /// The unit that sentences state pressures in, that of the gauge; kPa unless stated otherwise.
    pub pressure_unit: &'static Unit,
}

/// See [`Assumptions::pressure_unit`].
static KILOPASCAL: Unit = Unit::new("kPa", 1e3, 1.0).readable_from(1e3);

impl Default for Assumptions {
    fn default() -> Self {
        Self {
            discharge_coefficient: DISCHARGE_COEFFICIENT,
            level: LEVEL,
            flow_reference: ReferenceConditions::NORMAL,
            law: None,
            pressure_unit: &KILOPASCAL,
        }
    }
}

/// What can go wrong in an assessment.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum AssessError {
    /// The fit.
    #[error(transparent)]
    Fit(#[from] FitError),
    /// A limit.
    #[error(transparent)]
    Limit(#[from] LimitError),
    /// The pump.
    #[error(transparent)]
    Pump(#[from] PumpError),
    /// The discharge coefficient.
    #[error(transparent)]
    Leak(#[from] LeakError),
    /// A pressure.
    #[error(transparent)]
    Quantity(#[from] QuantityError),
}

/// A run with readings, assessed.
#[derive(Debug, Clone)]
pub struct FittedRun {
    /// The fit.
    pub fit: Fit,
    /// Diameter of the round hole of the assumed discharge coefficient.
    pub diameter: Estimate<Length>,
    /// Flow at the run's start pressure, counted at the assumed reference.
    pub flow: Estimate<VolumeRate>,
    /// One decision a limit.
    pub decisions: Vec<Decision>,
    /// Holding on, for an undecided run.
    pub go_on: Option<GoOn>,
}

/// What became of a run.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub enum Outcome {
    /// Readings were fitted.
    Fitted(Box<FittedRun>),
    /// The pump never raised the needle.
    Stalled {
        /// The stall.
        stall: Stall,
        /// What the leak is at least.
        bound: Bound,
    },
}

/// Lower bounds of a stalled run's leak.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bound {
    /// Effective area.
    pub area: EffectiveArea,
    /// Rate k in the volume under test.
    pub rate: Frequency,
    /// Flow at the pressure reached, counted at the assumed reference.
    pub flow: VolumeRate,
}

/// A run's assessment.
#[derive(Debug, Clone)]
pub struct RunAssessment {
    /// What became of it.
    pub outcome: Outcome,
    /// Pressure or vacuum.
    pub direction: Direction,
    /// The verdict; none without a limit.
    pub verdict: Option<Verdict>,
    /// What to know.
    pub notes: Vec<Note>,
    /// What the numbers were stated with.
    pub assumptions: Assumptions,
}

impl RunAssessment {
    /// Why the fit is not taken at its word, the gravest reason first; empty where it is.
    pub fn doubts(&self) -> impl Iterator<Item = &Doubt> {
        self.notes.iter().filter_map(|note| match note {
            Note::Doubt { doubt, .. } => Some(doubt),
            _ => None,
        })
    }

    /// How sure the stated verdict is: that of the strictest limit for one that holds, of the limit that is most surely broken for one
    /// that leaks; none for one that is undecided, stalled or not there.
    #[must_use]
    pub fn sureness(&self) -> Option<f64> {
        let within = self.probability_within_limit()?;
        match self.verdict? {
            Verdict::Holds => Some(within),
            Verdict::Leaks => Some(1.0 - within),
            Verdict::Undecided | Verdict::Stalled => None,
        }
    }

    /// Probability that the leak is within the strictest limit; none where the readings take back what the fit says of one.
    #[must_use]
    pub fn probability_within_limit(&self) -> Option<f64> {
        match &self.outcome {
            Outcome::Fitted(run) => {
                let of_each = run.decisions.iter().map(Decision::supported_probability);
                of_each
                    .collect::<Option<Vec<_>>>()?
                    .into_iter()
                    .reduce(f64::min)
            }
            Outcome::Stalled { .. } => None,
        }
    }
}

/// Assesses a run with readings.
///
/// The verdict is that of the strictest limit: a run holds when it holds by all.
///
/// # Errors
/// [`AssessError`] names what is not valid.
pub fn assess(
    readings: &Readings,
    bench: &Bench,
    limits: &[Limit],
    assumptions: &Assumptions,
) -> Result<RunAssessment, AssessError> {
    judge(
        fit_run(readings, bench, assumptions)?,
        readings,
        bench,
        limits,
        assumptions,
    )
}

/// The fit behind an assessment.
///
/// # Errors
/// As [`fit_laws`].
pub fn fit_run(
    readings: &Readings,
    bench: &Bench,
    assumptions: &Assumptions,
) -> Result<Fit, FitError> {
    match assumptions.law {
        None => fit_laws(readings, bench, assumptions.level, &CANDIDATES),
        Some(law) => fit_laws(
            readings,
            bench,
            assumptions.level,
            &[Candidate::certain(law)],
        ),
    }
}

/// Assesses a fit of these readings, such as one that the rig's leak was taken off.
///
/// # Errors
/// As [`assess`].
pub fn judge(
    fit: Fit,
    readings: &Readings,
    bench: &Bench,
    limits: &[Limit],
    assumptions: &Assumptions,
) -> Result<RunAssessment, AssessError> {
    let decisions: Vec<Decision> = limits
        .iter()
        .map(|l| decide(l, &fit, bench))
        .collect::<Result<_, _>>()?;
    let strictest = decisions
        .iter()
        .min_by(|a, b| a.probability_within.total_cmp(&b.probability_within));
    let verdict = (!decisions.is_empty())
        .then(|| Verdict::worst(decisions.iter().map(|d| Some(d.verdict))))
        .flatten();
    let undecided = verdict == Some(Verdict::Undecided) && fit.method != Method::Fallen;
    // A longer hold mends no reading.
    let go_on = strictest
        .filter(|decision| undecided && decision.doubts.is_empty())
        .map(|decision| go_on(&fit, bench, decision, readings))
        .transpose()?;
    let cd = check_coefficient(assumptions.discharge_coefficient)?;
    let diameter = fit.area.map(|area| {
        let area = area.get::<square_meter>();
        Length::new::<meter>((4.0 * area / (std::f64::consts::PI * cd)).sqrt())
    });
    let from = fit.judged_from();
    let per_area = flow_per_area(bench, fit.direction, from, &assumptions.flow_reference)?;
    let flow = fit.area.scaled_to(per_area);
    let unit = assumptions.pressure_unit;
    let mut notes = doubts(&fit, bench, &decisions, unit);
    let doubted = !notes.is_empty();
    notes.extend(beside(&fit, &notes, unit));
    notes.extend(surprises(readings, bench, limits, unit));
    let gas = OtherGas::of(bench, fit.direction, from, limits);
    notes.extend(gas.map(Note::Gas));
    notes.extend(remarks(
        &fit,
        bench,
        &decisions,
        (go_on, doubted),
        assumptions,
    ));
    Ok(RunAssessment {
        direction: fit.direction,
        verdict,
        notes,
        assumptions: *assumptions,
        outcome: Outcome::Fitted(Box::new(FittedRun {
            fit,
            diameter,
            flow,
            decisions,
            go_on,
        })),
    })
}

/// What surprises about a run.
fn surprises(
    readings: &Readings,
    bench: &Bench,
    limits: &[Limit],
    unit: &'static Unit,
) -> impl Iterator<Item = Note> {
    let found = plausible::surprises(readings, bench).into_iter();
    let found = found.chain(plausible::far_from_limits(readings, limits));
    found.map(move |surprise| Note::Surprise { surprise, unit })
}

/// Assesses a run whose needle the pump never raised.
///
/// # Errors
/// [`AssessError`] names what is not valid.
pub fn assess_stalled(
    stall: Stall,
    bench: &Bench,
    limits: &[Limit],
    assumptions: &Assumptions,
) -> Result<RunAssessment, AssessError> {
    let area = stall.least_area(bench, assumptions.level)?;
    let per_area =
        rate_per_area(bench.volume.value(), bench.ambient(), &bench.gas).map_err(FitError::from)?;
    let flow = flow_per_area(
        bench,
        stall.direction(),
        stall.reached(),
        &assumptions.flow_reference,
    )?;
    let bound = Bound {
        area,
        rate: Frequency::new::<hertz>(area.square_meters() * per_area),
        flow: VolumeRate::new::<cubic_meter_per_second>(area.square_meters() * flow),
    };
    let mut beyond_limit = false;
    for limit in limits {
        match limit.allowed(bench, stall.direction(), stall.reached()) {
            Ok(allowed) => beyond_limit |= area.square_meters() > allowed.area_m2,
            // A hold at the little pressure that was reached can't be asked of this gauge; the bound stands without it.
            Err(LimitError::StepTooCoarse { .. }) => {}
            Err(error) => return Err(error.into()),
        }
    }
    let gas = OtherGas::of(bench, stall.direction(), stall.reached(), limits);
    let notes = [Note::Stalled { beyond_limit }];
    Ok(RunAssessment {
        direction: stall.direction(),
        verdict: Some(Verdict::Stalled),
        notes: notes.into_iter().chain(gas.map(Note::Gas)).collect(),
        assumptions: *assumptions,
        outcome: Outcome::Stalled { stall, bound },
    })
}

/// How much longer an undecided run should be held: the shortest hold, at the run's pace of readings, whose expected
/// interval around today's best value would decide. An interval that is wider today than such readings were expected to leave it stays
/// wider by as much.
fn go_on(
    fit: &Fit,
    bench: &Bench,
    decision: &Decision,
    readings: &Readings,
) -> Result<GoOn, AssessError> {
    let held = readings.duration().get::<second>();
    let pace = (readings.len() - 1) as f64 / held;
    let per_area =
        rate_per_area(bench.volume.value(), bench.ambient(), &bench.gas).map_err(FitError::from)?;
    let beyond_rate = fit.relative_size();
    let expected = |duration: f64| {
        expected_rate(
            bench,
            (fit.rate.si().value, fit.start),
            duration,
            duration * pace + 1.0,
            fit.rate.level,
        )
    };
    let width = |rate: &Estimate<Frequency>| rate.si().high - rate.si().value;
    let wider = expected(held).map_or(1.0, |today| width(&fit.rate) / width(&today));
    let decides = |duration: f64| -> bool {
        let Some(rate) = expected(duration).map(|rate| rate.stretched(wider.max(1.0))) else {
            return false;
        };
        let area = rate.scaled_to(1.0 / per_area).widened(beyond_rate);
        let within = decision.allowed.probability_expected(fit, (&rate, &area));
        verdict(within) != Verdict::Undecided
    };
    // No less than one more reading.
    let mut duration = held + (LONGER_BY - 1.0) * held.max(1.0 / ((LONGER_BY - 1.0) * pace));
    while duration < PATIENCE_SECONDS {
        if decides(duration) {
            return Ok(GoOn::For(Time::new::<second>(duration - held)));
        }
        duration *= LONGER_BY;
    }
    let counts = |part: &&Part| decision.allowed.basis == Basis::Area || !part.kind.is_of_size();
    let instead = largest(
        fit.parts
            .iter()
            .filter(counts)
            .filter(|p| p.kind != PartKind::Noise),
    )
    .filter(|part| part.standard_uncertainty_m2 > 0.0)
    .map_or(PartKind::Noise, |part| part.kind);
    Ok(GoOn::Useless { instead })
}

fn largest<'a>(parts: impl Iterator<Item = &'a Part>) -> Option<&'a Part> {
    parts.max_by(|a, b| {
        a.standard_uncertainty_m2
            .total_cmp(&b.standard_uncertainty_m2)
    })
}

/// Each doubt of the decisions once, in their order; without a limit those of the fit.
fn doubts(fit: &Fit, bench: &Bench, decisions: &[Decision], unit: &'static Unit) -> Vec<Note> {
    let of_fit = if decisions.is_empty() {
        doubt::of_fit(fit, bench)
    } else {
        Vec::new()
    };
    let all = decisions.iter().flat_map(|d| &d.doubts).chain(&of_fit);
    let mut notes = Vec::new();
    for doubt in all {
        let note = Note::Doubt {
            doubt: *doubt,
            unit,
        };
        if !notes.contains(&note) {
            notes.push(note);
        }
    }
    notes
}

/// That the readings are not those of one steady leak, where a leak far beyond its limit is told all the same.
fn beside(fit: &Fit, said: &[Note], unit: &'static Unit) -> Option<Note> {
    let doubt = Doubt::Unsteady(fit.unsteady?);
    let is_said = said.contains(&Note::Doubt { doubt, unit });
    (!is_said).then_some(Note::Beside { doubt, unit })
}

/// What the needle lost from the first reading to the last \[Pa\], and in what time \[s\].
fn lost(fit: &Fit) -> Option<(f64, f64)> {
    let (first, last) = (fit.residuals.first()?, fit.residuals.last()?);
    let lost_pa = (first.reading_pa - last.reading_pa) * fit.direction.sign();
    Some((lost_pa, last.time_s - first.time_s))
}

/// What the needle showed, where it showed no plain fall.
fn course(fit: &Fit, bench: &Bench, unit: &'static Unit) -> Option<Note> {
    let (lost_pa, seconds) = lost(fit)?;
    let fall = Pressure::new::<pascal>(lost_pa);
    let seen = lost_pa > bench.gauge.error_of_fall(fall).get::<pascal>();
    match fit.course {
        Course::Falls => None,
        Course::Rises => Some(Note::Rises),
        Course::Explained => Some(Note::FallExplained {
            lost_pa: if seen { lost_pa } else { 0.0 },
            explained_pa: fit.fall_without_leak_pa()?,
            seconds,
            unit,
        }),
        Course::Stands if seen => Some(Note::FallNotTold {
            lost_pa,
            seconds,
            unit,
        }),
        Course::Stands => Some(Note::Stands),
    }
}

/// What a logged temperature does, where a gauge shows it.
fn by_temperature(fit: &Fit, bench: &Bench, unit: &'static Unit) -> Option<Note> {
    let by = fit.by_temperature?;
    let (lost_pa, _) = lost(fit)?;
    // Where the course tells it, that is enough.
    let shows = fit.course != Course::Explained
        && by.moves_pa.abs() > bench.gauge.reading_uncertainty().get::<pascal>();
    shows.then(|| Note::ByTemperature {
        lost_pa,
        by_temperature_pa: -by.moves_pa * fit.direction.sign(),
        unit,
    })
}

/// What else there is to know.
fn remarks(
    fit: &Fit,
    bench: &Bench,
    decisions: &[Decision],
    (go_on, doubted): (Option<GoOn>, bool),
    assumptions: &Assumptions,
) -> Vec<Note> {
    let mut notes = Vec::new();
    if decisions.is_empty() {
        notes.push(Note::NoLimit);
    }
    let warmed = by_temperature(fit, bench, assumptions.pressure_unit);
    if !doubted {
        // What a logged temperature makes of a fall is told by itself.
        let told = |note: &Note| warmed.is_some() && matches!(note, Note::FallNotTold { .. });
        let course = course(fit, bench, assumptions.pressure_unit);
        notes.extend(course.filter(|note| !told(note)));
    }
    notes.extend(warmed);
    let touched = fit.by_temperature.map(|by| by.touched);
    notes.extend((touched == Some(Touched::Nearby)).then_some(Note::ThermometerNearby));
    let said = |note: &&FitNote| !(doubted && matches!(note, FitNote::Misfit { .. }));
    notes.extend(fit.notes.iter().filter(said).copied().map(Note::Fit));
    notes.extend(fit.rig.map(|rig| Note::RigTaken {
        area_m2: rig.si().value,
    }));
    notes.extend(fit.regime.out_of_range.iter().cloned().map(Note::Law));
    if fit.course == Course::Falls && !fit.laws.is_empty() {
        notes.push(Note::Laws {
            kinds: fit.kinds_of_law(),
            told: fit.law.is_some(),
        });
    }
    notes.extend(go_on.map(Note::GoOn));
    let variance: f64 = fit
        .parts
        .iter()
        .map(|p| p.standard_uncertainty_m2.powi(2))
        .sum();
    if let Some(part) = largest(fit.parts.iter()).filter(|_| variance > 0.0 && variance.is_finite())
    {
        let share = part.standard_uncertainty_m2.powi(2) / variance;
        notes.push(Note::LargestPart {
            kind: part.kind,
            share,
        });
    }
    notes
}
