//! A whole bench sheet assessed: each run, and what to do next.

use crate::assess::document::{AssessDocument, FORMAT, RunDocument};
use crate::assess::{AssessError, Note, Outcome, RunAssessment, assess_stalled, fit_run, judge};
use crate::plausible;
use crate::pump::Stall;
use crate::sheet::{Record, Run, Sheet, SheetError};
use casetight::below::numerics::probability::{self, Z_95};
use casetight::estimate::Estimate;
use casetight::fit::{Course, Fit};
use casetight::limit::{Basis, Verdict};
use casetight::quantity::GaugePressure;
use casetight::readings::Bench;
use casetight::vessel::Direction;

use uom::si::pressure::pascal;

/// An assessed run of a sheet.
#[derive(Debug, Clone)]
pub struct SessionRun {
    /// The run's name.
    pub name: String,
    /// Whether it is a run of the rig alone, which is not judged.
    pub rig_alone: bool,
    /// What it was assessed on: volume under test, ambient, gauge.
    pub bench: Bench,
    /// The assessment.
    pub assessment: RunAssessment,
}

/// An assessed sheet.
#[derive(Debug, Clone)]
pub struct Session {
    /// One a run, in the sheet's order.
    pub runs: Vec<SessionRun>,
    /// What to do next.
    pub next: Vec<NextStep>,
}

/// What can go wrong.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SessionError {
    /// The sheet.
    #[error(transparent)]
    Sheet(#[from] SheetError),
    /// A run.
    #[error("run \"{run}\": {source}")]
    Run {
        /// The run's name.
        run: String,
        /// What is wrong with it.
        source: AssessError,
    },
    /// A sheet without runs has nothing to assess.
    #[error("the sheet has no [[run]] yet: add one with its readings")]
    NoRuns,
}

/// How much larger a leak is in one direction than in the other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Asymmetry {
    /// The direction in which it is larger.
    pub larger: Direction,
    /// Effective area there over that in the other direction; the upper end may be infinite.
    pub ratio: Estimate<f64>,
    /// Two-sided probability that a leak that is the same in both directions would look so different.
    pub chance: f64,
}

impl Asymmetry {
    /// A difference is reported where chance brings it about less often than this.
    pub const SIGNIFICANT: f64 = 0.01;

    /// Of two fits in opposite directions: the ratio of their areas. What both share, volume and temperature, is left out
    /// of its uncertainty. None for fits of one direction, or where no number follows.
    #[must_use]
    pub fn of(one: &Fit, other: &Fit) -> Option<Self> {
        let own = |fit: &Fit| {
            fit.parts
                .iter()
                .filter(|part| !part.kind.is_of_size())
                .map(|part| part.standard_uncertainty_m2.powi(2))
                .sum::<f64>()
        };
        let (large, small) = if one.area.value >= other.area.value {
            (one, other)
        } else {
            (other, one)
        };
        if one.direction == other.direction || !large.area.high.is_finite() {
            return None;
        }
        let (a, b) = (large.area.si().value, small.area.si().value);
        let (of_a, of_b) = (own(large), own(small));
        let chance = 2.0 * probability::normal_cdf(-(a - b) / (of_a + of_b).sqrt());
        // Fieller's limits of a ratio of two normal values, [Fieller1954].
        let z2 = Z_95 * Z_95;
        let (mean, spread) = (
            b * b - z2 * of_b,
            z2 * (of_a * b * b + of_b * a * a - z2 * of_a * of_b),
        );
        let root = spread.max(0.0).sqrt();
        let (low, high) = if mean > 0.0 {
            ((a * b - root) / mean, (a * b + root) / mean)
        } else {
            // The smaller may be nothing: only a lower end is left, its other root.
            ((a * a - z2 * of_a) / (a * b + root), f64::INFINITY)
        };
        (a > 0.0 && chance.is_finite()).then_some(Self {
            larger: large.direction,
            ratio: Estimate::of_size(a / b, low, high, 0.95),
            chance,
        })
    }
}

/// How a leak that a run has shown is to be looked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Hunt {
    /// Pressure where any run under pressure leaks, else vacuum, under which soap shows nothing.
    pub under: Direction,
    /// Whether the sheet has a run of the rig alone in that direction.
    pub rig_tested: bool,
}

/// A next step, in a sentence ([`std::fmt::Display`]).
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum NextStep {
    /// All runs hold.
    Done,
    /// A leak is there: find its site.
    FindSite(Hunt),
    /// Only pressure, or only vacuum, leaks.
    OneDirection {
        /// The direction that leaks.
        leaks: Direction,
    },
    /// The leak is larger in one direction than in the other, beyond chance.
    LargerInOne(Asymmetry),
    /// The pump stalled: a gross leak.
    FindGrossLeak {
        /// Pressure where any run under pressure stalled, else vacuum.
        under: Direction,
    },
    /// A run needs a longer hold, or something known better.
    Decide,
    /// A run's needle rose.
    Settle,
    /// No limit is stated.
    StateLimit,
}

impl NextStep {
    /// Whether the step puts pressure or vacuum on the engine, so that the cautions belong beside it.
    #[must_use]
    pub fn pumps(self) -> bool {
        !matches!(self, Self::Done | Self::StateLimit)
    }

    /// Whether the step sprays soap.
    #[must_use]
    pub fn sprays(self) -> bool {
        matches!(
            self,
            Self::FindSite(_)
                | Self::FindGrossLeak { .. }
                | Self::OneDirection { .. }
                | Self::LargerInOne(_)
        )
    }

    /// The step in a line or two; the sentence ([`std::fmt::Display`]) says why.
    #[must_use]
    pub fn in_short(&self) -> String {
        match self {
            Self::OneDirection { leaks } => {
                format!("It leaks under {leaks} only: {}", look_first(*leaks))
            }
            Self::LargerInOne(a) => {
                let by = if a.ratio.high.is_finite() {
                    format!("{:.1} times", a.ratio.value)
                } else {
                    format!("at least {:.1} times", a.ratio.low)
                };
                let (larger, first) = (a.larger, look_first(a.larger));
                format!("It leaks {by} as much under {larger}: {first}")
            }
            Self::FindSite(hunt) => {
                let rig = if hunt.rig_tested {
                    ""
                } else {
                    "test the rig alone, all blanked at the hose; then "
                };
                let how = match hunt.under {
                    Direction::Pressure => {
                        "soap it while pressure holds, or blank one site at a time and repeat the run"
                    }
                    Direction::Vacuum => {
                        "blank one site at a time and repeat the vacuum run; soap shows nothing there"
                    }
                };
                format!("Find the site: {rig}{how}")
            }
            other => other.to_string(),
        }
    }
}

/// What [`points_to`] comes to, in short.
fn look_first(leaks: Direction) -> &'static str {
    match leaks {
        Direction::Pressure => {
            "look for a crank seal fitted the wrong way round, or a blank, cover or boot that pressure pushes off"
        }
        Direction::Vacuum => "look at the crank seals first, then at a decompression valve or plug",
    }
}

impl std::fmt::Display for NextStep {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Done => f.write_str("All runs hold. Take the blanks out, and keep this sheet as the record"),
            Self::FindSite(hunt) => hunt.fmt(f),
            Self::OneDirection { leaks } => write!(
                f,
                "The engine leaks under {leaks} only, which points to {} (common practice, no source). {}",
                points_to(*leaks),
                match leaks {
                    Direction::Pressure => "Soap these while pressure holds, what is fastened from outside first",
                    Direction::Vacuum =>
                        "Such a leak may close under pressure, where alone soap shows anything: blank one place at a time and \
                         repeat the vacuum run, the crank seals first",
                }
            ),
            Self::LargerInOne(a) => {
                write!(f, "The leak is ")?;
                if a.ratio.high.is_finite() {
                    write!(f, "{:.2} times ({:.2} to {:.2}) as large", a.ratio.value, a.ratio.low, a.ratio.high)?;
                } else {
                    write!(f, "at least {:.2} times as large", a.ratio.low)?;
                }
                write!(
                    f,
                    " under {} as under {} ({:.1} % by chance), which points to {} (common practice, no source). Look at the \
                     crank seals first",
                    a.larger,
                    match a.larger {
                        Direction::Pressure => Direction::Vacuum,
                        Direction::Vacuum => Direction::Pressure,
                    },
                    100.0 * a.chance,
                    points_to(a.larger)
                )
            }
            Self::FindGrossLeak { under: Direction::Pressure } => f.write_str(
                "The needle would not rise: look for something left open or loose before blaming a seal (blanks, plug, \
                 decompression valve, hose), then soap while pumping",
            ),
            Self::FindGrossLeak { under: Direction::Vacuum } => f.write_str(
                "The needle would not go down: look for something left open or loose before blaming a seal (blanks, plug, \
                 decompression valve, hose). Soap shows nothing under vacuum: put low pressure on the engine instead and soap \
                 while pumping, or blank one place after the other and pump again",
            ),
            Self::Decide => f.write_str("Repeat the undecided run as its note says before calling the engine good or bad"),
            Self::Settle => f.write_str("Let engine and rig come to one temperature, then repeat the run whose needle rose"),
            Self::StateLimit => f.write_str("State a limit in [limit] to have the runs judged"),
        }
    }
}

impl std::fmt::Display for Hunt {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(if self.rig_tested {
            "Find the site: "
        } else {
            "Test the rig alone first (all blanked at the hose), then find the site: "
        })?;
        f.write_str(match self.under {
            Direction::Pressure => {
                "soap the seals, gaskets and blanks while pressure holds, or blank one site at a time and repeat the run"
            }
            Direction::Vacuum => {
                "blank one site at a time and repeat the vacuum run. Soap shows nothing under vacuum: to soap the seals, gaskets \
                 and blanks, put low pressure on the engine, where a leak that pressure closes stays dry"
            }
        })
    }
}

/// What leaks more in one direction than in the other. Source: common practice, no publication.
///
/// A lip seal seals against pressure on the side that its lip faces: it presses the lip onto the shaft, and from the other
/// side lifts it. A valve, plug or cover is pressed tight by pressure from one side and lifted by pressure from the other.
fn points_to(leaks: Direction) -> &'static str {
    match leaks {
        Direction::Pressure => {
            "a crank seal whose lip faces outward (one fitted the wrong way round, or the outer lip of a double-lipped one), which \
             vacuum presses onto the shaft and pressure lifts; or to a blank, cover or boot that vacuum pulls tight and pressure \
             pushes off"
        }
        Direction::Vacuum => {
            "a crank seal whose lip faces into the case, as most do, worn, hardened or with a weak spring: pressure still presses \
             it onto the shaft, vacuum lets the outside air lift it; or to a decompression valve or plug that pressure pushes \
             tight, or to a place on the far side of a reed valve, which pressure shuts"
        }
    }
}

impl Session {
    /// Assesses every run of a sheet.
    ///
    /// # Errors
    /// [`SessionError`] names the run, or the part of the sheet, that is not valid.
    pub fn assess(sheet: &Sheet) -> Result<Self, SessionError> {
        let rigs = Rigs::of(sheet)?;
        Self::assess_less(sheet, &rigs)
    }

    /// As [`Session::assess`], with the rig's own leak left in the runs.
    ///
    /// # Errors
    /// As there.
    pub(crate) fn assess_with_rig(sheet: &Sheet) -> Result<Self, SessionError> {
        Self::assess_less(sheet, &Rigs::default())
    }

    fn assess_less(sheet: &Sheet, rigs: &Rigs) -> Result<Self, SessionError> {
        let limits: Vec<_> = sheet.limits.iter().map(|stated| stated.limit).collect();
        let by_rule = sheet.limits.iter().any(|stated| stated.rule.is_some());
        let mut runs = Vec::with_capacity(sheet.runs.len());
        let mut barometer = None;
        let mut of_volume = false;
        for run in &sheet.runs {
            let bench = sheet.bench_for(run)?;
            let rig_alone = run.rig_alone.is_some();
            let limits: &[_] = if rig_alone { &[] } else { &limits };
            let mut assessment = assess_run(sheet, run, &bench, limits, rigs)
                .map_err(|source| wrong(run, source))?;
            say_first(&mut assessment, run, by_rule);
            // Of the barometer the first run says it for all.
            if let (None, Some(readings)) = (&barometer, run.record.readings()) {
                let meters = sheet.ambient.altitude_beside_barometer();
                let surprise = plausible::barometer(readings, &bench, meters);
                barometer = surprise.filter(|_| sheet.ambient.is_read_at_bench());
                let unit = sheet.unit_of(run);
                assessment
                    .notes
                    .extend(barometer.map(|surprise| Note::Surprise { surprise, unit }));
            }
            // So with a volume that is taken from what is typical.
            if !of_volume && !rig_alone {
                let note = note_on_volume(sheet, run, &assessment)?;
                of_volume = note.is_some();
                assessment.notes.extend(note);
            }
            runs.push(SessionRun {
                name: run.name.clone(),
                rig_alone,
                bench,
                assessment,
            });
        }
        if runs.is_empty() {
            return Err(SessionError::NoRuns);
        }
        let next = next_steps(&runs);
        Ok(Self { runs, next })
    }

    /// The verdict of the worst run, in the order leaks, undecided or stalled or not judged (none), holds.
    #[must_use]
    pub fn worst(&self) -> Option<Verdict> {
        Verdict::worst(judged(&self.runs).map(|run| run.assessment.verdict))
    }

    /// The document of the session.
    ///
    /// # Errors
    /// As [`RunDocument::new`].
    pub fn document(&self) -> Result<AssessDocument, SessionError> {
        let runs = self
            .runs
            .iter()
            .map(|run| {
                RunDocument::new(&run.name, &run.assessment).map_err(|source| SessionError::Run {
                    run: run.name.clone(),
                    source,
                })
            })
            .collect::<Result<_, _>>()?;
        Ok(AssessDocument {
            format: FORMAT,
            runs,
            next: self.next.iter().map(ToString::to_string).collect(),
        })
    }
}

/// What the volume of a run is taken from where the sheet does not say; a run that is judged by the needle's speed needs no better one.
fn note_on_volume(
    sheet: &Sheet,
    run: &Run,
    assessment: &RunAssessment,
) -> Result<Option<Note>, SheetError> {
    let judged_by_speed = match &assessment.outcome {
        Outcome::Fitted(fitted) => {
            let mut bases = fitted.decisions.iter().map(|d| d.allowed.basis);
            !fitted.decisions.is_empty() && bases.all(|basis| basis == Basis::Rate)
        }
        Outcome::Stalled { .. } => false,
    };
    let taken = sheet.taken_volume(run.piston)?;
    Ok(taken.map(|mut outlook| {
        outlook.ways.truncate(usize::from(!judged_by_speed));
        Note::Volume {
            outlook,
            judged_by_speed,
        }
    }))
}

/// What comes before all that a run's readings say.
fn say_first(assessment: &mut RunAssessment, run: &Run, by_rule: bool) {
    if run.rig_alone.is_some() {
        assessment.notes.retain(|note| *note != Note::NoLimit);
        assessment.notes.insert(0, Note::RigAlone);
    } else if by_rule {
        assessment.notes.insert(0, Note::CommonPractice);
    }
    if let Some(window) = run.record.window().filter(|window| window.leaves_out()) {
        assessment.notes.insert(0, Note::Window(window.clone()));
    }
}

/// The fits of the runs of the rig alone, by their names.
#[derive(Debug, Default)]
struct Rigs(Vec<(String, Fit)>);

impl Rigs {
    fn of(sheet: &Sheet) -> Result<Self, SessionError> {
        let mut rigs = Vec::new();
        for run in sheet.runs.iter().filter(|run| run.rig_alone.is_some()) {
            let Some(readings) = run.record.readings() else {
                continue;
            };
            let bench = sheet.bench_for(run)?;
            let fit = fit_run(readings, &bench, &sheet.assumptions_of(run))
                .map_err(|error| wrong(run, error.into()))?;
            rigs.push((run.name.clone(), fit));
        }
        Ok(Self(rigs))
    }

    fn of_run(&self, run: &Run) -> Option<&Fit> {
        let found = self.0.iter().find(|(name, _)| *name == run.name);
        found.map(|(_, fit)| fit)
    }

    /// Of several runs in a direction, the one that knows the rig's leak best.
    fn in_direction(&self, direction: Direction) -> Option<&Fit> {
        let width = |fit: &&Fit| fit.area.si().high - fit.area.si().low;
        let those = self.0.iter().map(|(_, fit)| fit);
        those
            .filter(|fit| fit.direction == direction)
            .min_by(|a, b| width(a).total_cmp(&width(b)))
    }
}

/// The runs of the engine.
fn judged(runs: &[SessionRun]) -> impl Iterator<Item = &SessionRun> {
    runs.iter().filter(|run| !run.rig_alone)
}

fn wrong(run: &Run, source: AssessError) -> SessionError {
    SessionError::Run {
        run: run.name.clone(),
        source,
    }
}

fn assess_run(
    sheet: &Sheet,
    run: &Run,
    bench: &Bench,
    limits: &[casetight::limit::Limit],
    rigs: &Rigs,
) -> Result<RunAssessment, AssessError> {
    match &run.record {
        Record::Readings(readings) | Record::Trace { readings, .. } => {
            let fit = match rigs.of_run(run) {
                Some(alone) => alone.clone(),
                None => fit_run(readings, bench, &sheet.assumptions_of(run))?,
            };
            let rig = rigs.in_direction(fit.direction);
            let fit = match rig.filter(|_| run.rig_alone.is_none()) {
                Some(rig) => fit.less(rig),
                None => fit,
            };
            judge(fit, readings, bench, limits, &sheet.assumptions_of(run))
        }
        Record::Stalled(stalled) => {
            // A needle that never left zero was not seen to reach even the smallest step, on the side that was pumped to.
            let reached = if stalled.reached.pascals() == 0.0 {
                let side = run.direction.unwrap_or(Direction::Pressure).sign();
                GaugePressure::from_pascals(side * bench.gauge.step().get::<pascal>())?
            } else {
                stalled.reached
            };
            let stall = Stall::new(
                f64::from(stalled.strokes),
                stalled.stroke_volume,
                stalled.over,
                reached,
            )?;
            assess_stalled(stall, bench, limits, &sheet.assumptions_of(run))
        }
    }
}

/// The most significant difference between a run of one direction and one of the other, on equal volumes, where the pair is
/// the only one; with several runs the blanks may differ, and the comparison is the isolation's.
fn asymmetry(runs: &[SessionRun]) -> Option<Asymmetry> {
    let mut fits = judged(runs).filter_map(|run| match &run.assessment.outcome {
        Outcome::Fitted(fitted) => Some(&fitted.fit),
        Outcome::Stalled { .. } => None,
    });
    let (one, other) = (fits.next()?, fits.next()?);
    if fits.next().is_some() {
        return None;
    }
    Asymmetry::of(one, other).filter(|a| a.chance < Asymmetry::SIGNIFICANT)
}

/// The direction in which every run leaks, where every run of the other one holds.
fn leaks_in_one(runs: &[SessionRun]) -> Option<Direction> {
    let all = |direction: Direction, wanted: Verdict| {
        let mut those = judged(runs)
            .filter(|run| run.assessment.direction == direction)
            .peekable();
        those.peek().is_some() && those.all(|run| run.assessment.verdict == Some(wanted))
    };
    [
        (Direction::Pressure, Direction::Vacuum),
        (Direction::Vacuum, Direction::Pressure),
    ]
    .into_iter()
    .find(|(leaks, holds)| all(*leaks, Verdict::Leaks) && all(*holds, Verdict::Holds))
    .map(|(leaks, _)| leaks)
}

fn next_steps(runs: &[SessionRun]) -> Vec<NextStep> {
    let some = |wanted: Verdict| judged(runs).any(|run| run.assessment.verdict == Some(wanted));
    // Soap needs pressure: it is the direction to look in wherever the leak shows there.
    let under = |wanted: Verdict| {
        let mut those = judged(runs).filter(|run| run.assessment.verdict == Some(wanted));
        if those.any(|run| run.assessment.direction == Direction::Pressure) {
            Direction::Pressure
        } else {
            Direction::Vacuum
        }
    };
    let mut next = Vec::new();
    if some(Verdict::Stalled) {
        let under = under(Verdict::Stalled);
        next.push(NextStep::FindGrossLeak { under });
    }
    next.extend(leaks_in_one(runs).map(|leaks| NextStep::OneDirection { leaks }));
    if !next
        .iter()
        .any(|step| matches!(step, NextStep::OneDirection { .. }))
    {
        next.extend(asymmetry(runs).map(NextStep::LargerInOne));
    }
    if some(Verdict::Leaks) {
        let under = under(Verdict::Leaks);
        let rig_tested = runs
            .iter()
            .any(|run| run.rig_alone && run.assessment.direction == under);
        next.push(NextStep::FindSite(Hunt { under, rig_tested }));
    }
    if some(Verdict::Undecided) {
        next.push(NextStep::Decide);
    }
    let rises = |run: &SessionRun| match &run.assessment.outcome {
        Outcome::Fitted(fitted) => fitted.fit.course == Course::Rises,
        Outcome::Stalled { .. } => false,
    };
    if runs.iter().any(rises) {
        next.push(NextStep::Settle);
    }
    if judged(runs).any(|run| run.assessment.verdict.is_none()) {
        next.push(NextStep::StateLimit);
    }
    if judged(runs).all(|run| run.assessment.verdict == Some(Verdict::Holds)) {
        next.push(NextStep::Done);
    }
    next
}

#[cfg(test)]
mod tests;
