//! What the runs of one direction say, gathered from the sheet and then reckoned with.

use std::collections::BTreeSet;

use uom::si::area::square_meter;

use super::error::LocateError;
use super::found::{InDirection, RunArea, least};
use super::note::{Note, note_bubbles, note_once};
use super::soap::soap;
use crate::assess::{Move, Outcome, common_pressure};
use crate::isolate::{
    Choices, Evidence, IsolateError, Measurement, Run, Watcher, isolate, next_step,
    smallest_visible,
};
use crate::pump::Stall;
use crate::record::Site;
use crate::session::{Session, SessionRun};
use crate::sheet::methods::Rates;
use crate::sheet::{self, Sheet};
use casetight::below::numerics::probability;
use casetight::doubt::{self, Doubt};
use casetight::estimate::Estimate;
use casetight::fit::{Fit, PartKind};
use casetight::limit::LimitError;
use casetight::quantity::{Area, GaugePressure};
use casetight::readings::Bench;
use casetight::vessel::Direction;

/// Sites that no blank or plug fits, and those of the test's own parts.
const HARD_TO_BLANK: &[Site] = &[
    Site::BaseGasket,
    Site::CaseSeam,
    Site::ExhaustBlank,
    Site::IntakeBlank,
    Site::HoseJoint,
    Site::GaugeJoint,
];

/// A lower bound that says nothing: zero, to within the smallest hole that anybody would look for \[m2\].
const NOTHING_SAID: f64 = 1e-14;

impl RunArea {
    fn new(
        sheet: &Sheet,
        run: &SessionRun,
        (at, (factor, relative)): (GaugePressure, (f64, f64)),
    ) -> Result<Self, LimitError> {
        let (area, is_bound) = match &run.assessment.outcome {
            Outcome::Fitted(fitted) => (fitted.fit.area, false),
            Outcome::Stalled { bound, .. } => {
                let level = run.assessment.assumptions.level;
                (Estimate::at_least(bound.area.area(), level), true)
            }
        };
        Ok(Self {
            name: run.name.clone(),
            area: area.scaled(factor).widened(relative),
            is_bound,
            rig_alone: run.rig_alone,
            allowed_area_m2: allowed(sheet, run, at)?,
            doubts: doubts(run),
        })
    }
}

/// The pressure that the areas of a direction are told at, that of its runs which [`common_pressure`] names; none without any.
fn told_at(sheet: &Sheet, session: &Session, direction: Direction) -> Option<GaugePressure> {
    let runs = sheet.runs.iter().zip(&session.runs);
    let counted = runs.filter(|(run, assessed)| {
        assessed.assessment.direction == direction && !has_known_leak(sheet, run)
    });
    common_pressure(counted.map(|(_, assessed)| (reached(assessed), !measures(assessed))))
}

/// Whether a run measures its leak, and not only bounds it from below.
fn measures(run: &SessionRun) -> bool {
    match &run.assessment.outcome {
        Outcome::Fitted(fitted) => fitted.fit.area.high.is_finite(),
        Outcome::Stalled { .. } => false,
    }
}

/// What a run's area, or its lower bound, is multiplied by at a pressure, and the relative standard uncertainty of that by what its
/// readings leave open of the law.
fn moved(run: &SessionRun, at: GaugePressure) -> Result<(f64, f64), IsolateError> {
    let by = Move {
        bench: &run.bench,
        direction: run.assessment.direction,
        from: reached(run),
        to: at,
    };
    let moved = match &run.assessment.outcome {
        Outcome::Fitted(fitted) if measures(run) => {
            by.of_area(fitted.fit.laws_between_pressures())?
        }
        _ => {
            let factor = by.of_lower_bound(run.assessment.assumptions.laws())?;
            factor.map(|factor| (factor, 0.0))
        }
    };
    Ok(moved.unwrap_or((1.0, 0.0)))
}

/// The strictest limit as an effective area in a run's own volume, from the pressure that areas are told at \[m2\].
fn allowed(sheet: &Sheet, run: &SessionRun, at: GaugePressure) -> Result<Option<f64>, LimitError> {
    if run.rig_alone {
        return Ok(None);
    }
    let mut strictest = None;
    for stated in &sheet.limits {
        let direction = run.assessment.direction;
        match stated.limit.allowed(&run.bench, direction, at) {
            Ok(allowed) => strictest = least(strictest, Some(allowed.area_m2)),
            // Of a stalled pump, as in its assessment: a hold at the little pressure that it reached can't be asked of the gauge.
            Err(LimitError::StepTooCoarse { .. }) => {}
            Err(error) => return Err(error),
        }
    }
    Ok(strictest)
}

/// What speaks against a run's fit: as it was judged, and as far as the fit itself raises it.
fn doubts(run: &SessionRun) -> Vec<Doubt> {
    let mut doubts: Vec<Doubt> = run.assessment.doubts().copied().collect();
    if let Outcome::Fitted(fitted) = &run.assessment.outcome {
        for doubt in doubt::of_fit(&fitted.fit, &run.bench) {
            if !doubts.contains(&doubt) {
                doubts.push(doubt);
            }
        }
    }
    doubts
}

/// Highest gauge pressure of a run, of vacuum the deepest.
fn reached(run: &SessionRun) -> GaugePressure {
    match &run.assessment.outcome {
        Outcome::Fitted(fitted) => fitted.fit.judged_from(),
        Outcome::Stalled { stall, .. } => stall.reached(),
    }
}

/// Of two runs, of which one may be missing, that of the engine which reached the higher pressure.
fn higher<'s>(one: Option<&'s SessionRun>, other: &'s SessionRun) -> Option<&'s SessionRun> {
    let size = |run: &SessionRun| reached(run).size();
    let is_higher = one.is_none_or(|one| size(one) < size(other));
    if !other.rig_alone && is_higher {
        Some(other)
    } else {
        one
    }
}

/// The site that a run leaks at: all that were not blanked.
fn exposed(run: &sheet::Run, sites: &BTreeSet<Site>) -> BTreeSet<Site> {
    if run.rig_alone.is_some() {
        return BTreeSet::new();
    }
    sites
        .iter()
        .filter(|site| !run.blanked.contains(site))
        .cloned()
        .collect()
}

/// Whether the sheet has this run as one with a known leak.
fn has_known_leak(sheet: &Sheet, run: &sheet::Run) -> bool {
    let sheet::Space::Methods(methods) = &sheet.space else {
        return false;
    };
    methods.added_leak.as_ref().is_some_and(
        |with| matches!(&with.method.rates, Rates::Runs { together, .. } if *together == run.name),
    )
}

/// What the runs of one direction say, before it is reckoned with.
pub(super) struct Gathered<'s> {
    direction: Direction,
    at: GaugePressure,
    runs: Vec<RunArea>,
    evidence: Evidence<Site>,
    /// The run of the engine that reached the highest pressure; none where only the rig was tested.
    highest: Option<&'s SessionRun>,
    /// Sites that some run blanked.
    blanked: BTreeSet<Site>,
}

impl<'s> Gathered<'s> {
    pub(super) fn new(
        sheet: &Sheet,
        session: &'s Session,
        sites: &BTreeSet<Site>,
        direction: Direction,
        notes: &mut Vec<Note>,
    ) -> Result<Option<Self>, LocateError> {
        let told_at = told_at(sheet, session, direction);
        let mut evidence = Evidence {
            runs: Vec::new(),
            soap: Vec::new(),
            shared_relative_uncertainty: 0.0,
        };
        let mut volumes = Volumes::default();
        let mut highest: Option<&SessionRun> = None;
        let mut runs = Vec::new();
        let mut blanked = BTreeSet::new();
        let mut repaired: BTreeSet<Site> = BTreeSet::new();
        for (run, assessed) in sheet.runs.iter().zip(&session.runs) {
            repaired.extend(run.repaired.iter().cloned());
            if assessed.assessment.direction != direction {
                continue;
            }
            let name = || run.name.clone();
            if has_known_leak(sheet, run) {
                notes.push(Note::KnownLeak { run: name() });
                continue;
            }
            let Some(at) = told_at else { continue };
            let wrong = |source| LocateError::Run {
                run: name(),
                source,
            };
            let (measurement, says) = measured(assessed, &mut volumes).map_err(wrong)?;
            if !says {
                notes.push(Note::NothingSaid { run: name() });
            }
            let moved = moved(assessed, at).map_err(wrong)?;
            let open = exposed(run, sites);
            evidence
                .soap
                .extend(soap((run, assessed), at, &open, &repaired, notes).map_err(wrong)?);
            blanked.extend(run.blanked.iter().cloned());
            evidence.runs.push(
                Run::new(open, measurement.moved(moved)).after_repair_of(repaired.iter().cloned()),
            );
            runs.push(RunArea::new(sheet, assessed, (at, moved))?);
            highest = higher(highest, assessed);
        }
        evidence.shared_relative_uncertainty = volumes.shared_uncertainty();
        Ok(told_at.map(|at| Self {
            direction,
            at,
            runs,
            evidence,
            highest,
            blanked,
        }))
    }

    /// Says which sites no run exposed, and whether the rig was open with them in all.
    fn note_exposure(&self, sites: &BTreeSet<Site>, ever: &BTreeSet<&Site>, notes: &mut Vec<Note>) {
        let never: Vec<Site> = sites
            .iter()
            .filter(|s| !ever.contains(s))
            .cloned()
            .collect();
        if !never.is_empty() {
            note_once(notes, self.direction, |directions| Note::NeverExposed {
                directions,
                sites: never.clone(),
            });
        }
        if self.evidence.runs.iter().all(|run| !run.exposed.is_empty()) {
            note_once(notes, self.direction, |directions| Note::RigNotTested {
                directions,
            });
        }
    }

    pub(super) fn located(
        self,
        sheet: &Sheet,
        sites: &BTreeSet<Site>,
        notes: &mut Vec<Note>,
    ) -> Result<InDirection, LocateError> {
        let direction = self.direction;
        let wrong = |source| LocateError::Direction { direction, source };
        let ever: BTreeSet<&Site> = self.evidence.runs.iter().flat_map(|r| &r.exposed).collect();
        self.note_exposure(sites, &ever, notes);
        let found = isolate(&self.evidence, sheet.assumptions.level).map_err(wrong)?;
        let first = self.runs.first().map(|run| run.name.as_str());
        let first = sheet
            .runs
            .iter()
            .find(|run| Some(run.name.as_str()) == first);
        let unit = first.map_or(sheet.gauge_unit, |run| sheet.unit_of(run));
        for run in &self.runs {
            notes.extend(run.doubts.first().map(|doubt| Note::Doubted {
                run: run.name.clone(),
                reason: doubt.words(unit),
            }));
        }
        if found.contradicts_itself() {
            let probability = found.probability_of_misfit;
            notes.push(Note::Misfit {
                direction,
                probability,
            });
        }
        let choices = self.choices(sheet, &ever).map_err(wrong)?;
        note_bubbles(notes, &self.evidence, &found);
        Ok(InDirection {
            direction,
            at: self.at,
            pressure_unit: unit,
            next: next_step(&self.evidence, &found, &choices).map_err(wrong)?,
            allowed_area_m2: self
                .runs
                .iter()
                .map(|run| run.allowed_area_m2)
                .fold(None, least),
            discharge_coefficient: sheet.assumptions.discharge_coefficient,
            found,
            runs: self.runs,
            evidence: self.evidence,
        })
    }

    fn choices(
        &self,
        sheet: &Sheet,
        ever: &BTreeSet<&Site>,
    ) -> Result<Choices<Site>, IsolateError> {
        let or = |stated: &Option<Vec<Site>>, usual: &dyn Fn(&Site) -> bool| -> Vec<Site> {
            let usual = || {
                ever.iter()
                    .copied()
                    .filter(|site| usual(site))
                    .cloned()
                    .collect()
            };
            stated.clone().unwrap_or_else(usual)
        };
        let fits_a_blank =
            |site: &Site| self.blanked.contains(site) || !HARD_TO_BLANK.contains(site);
        let under_pressure = self.highest.filter(|run| reached(run).pascals() > 0.0);
        Ok(Choices {
            blanks: or(&sheet.search.can_blank, &fits_a_blank),
            sprays: or(&sheet.search.can_spray, &|_| true),
            visible: under_pressure
                .map(|run| smallest_visible(&run.bench, reached(run), Watcher::Workshop))
                .transpose()?,
        })
    }
}

/// The fits whose areas share a volume: those of the runs of the engine; the rig alone has a volume of its own.
#[derive(Default)]
struct Volumes<'s> {
    of_engine: Vec<&'s Fit>,
    of_rig: Vec<&'s Fit>,
}

impl Volumes<'_> {
    /// What all areas share, relative to them.
    fn shared_uncertainty(self) -> f64 {
        let sharing = if self.of_engine.is_empty() {
            self.of_rig
        } else {
            self.of_engine
        };
        Evidence::<Site>::shared_uncertainty_of(sharing)
    }
}

/// What a run measured, and whether that says anything.
fn measured<'s>(
    assessed: &'s SessionRun,
    volumes: &mut Volumes<'s>,
) -> Result<(Measurement, bool), IsolateError> {
    let fit = match &assessed.assessment.outcome {
        Outcome::Fitted(fitted) => &fitted.fit,
        Outcome::Stalled { stall, .. } => return of_stall(stall, &assessed.bench),
    };
    let measurement = of_fit(fit)?;
    if !assessed.rig_alone {
        volumes.of_engine.push(fit);
        return Ok((measurement, true));
    }
    volumes.of_rig.push(fit);
    let volume = fit.relative_part(PartKind::Volume);
    Ok((measurement.with_relative(volume), true))
}

/// What a fitted run measured: its area, or a lower bound where the needle had fallen to rest by the second reading.
fn of_fit(fit: &Fit) -> Result<Measurement, IsolateError> {
    if fit.area.high.is_finite() {
        return Measurement::from_fit(fit);
    }
    let z = probability::normal_quantile(0.5 + fit.rate.level / 2.0);
    let area_per_rate = fit.area.si().value / fit.rate.si().value;
    let square_meters = Area::new::<square_meter>;
    Measurement::at_least(
        square_meters(fit.area.si().value),
        square_meters((fit.rate.si().value - fit.rate.si().low) / z * area_per_rate),
    )
}

/// What a stalled run bounds, and whether it bounds anything.
fn of_stall(stall: &Stall, bench: &Bench) -> Result<(Measurement, bool), IsolateError> {
    let square_meters = Area::new::<square_meter>;
    if stall.least_area(bench, 0.5)?.square_meters() > 0.0 {
        return Ok((Measurement::from_stall(stall, bench)?, true));
    }
    let nothing = Measurement::at_least(square_meters(0.0), square_meters(NOTHING_SAID))?;
    Ok((nothing, false))
}
