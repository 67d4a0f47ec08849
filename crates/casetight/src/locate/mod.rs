//! Site by site from a bench sheet: its runs and its soap, put together for each direction, and what to blank or spray next.
//!
//! [`crate::isolate`] holds the reckoning; here stands what of a sheet goes into it:
//!
//! - A run leaks at every site of the engine that it does not list as `blanked`, and at the rig. The sites are those of
//!   `[isolate]` (without it the two crank seals, the base gasket and the case seam, which every crankcase has) and all
//!   that the runs name.
//! - A run with all of them blanked is a test of the rig alone. A blank that itself leaks counts to the rig.
//! - `repaired` names what was repaired before a run, after the one above: from there on the site has an area of its own.
//! - A stalled pump, and a needle at rest by the second reading, bound the area from below.
//! - A limit is converted in the volume of each run of the engine, never in that of the rig alone. A place is judged by the
//!   strictest limit of the runs that it was open in, whatever their order.
//! - A site in `dry` was watched at the lowest pressure that the run had, one in `bubbles` at the highest: of the pressures
//!   that the run reached, those that say the least. `soaped_at` states the pressure instead.
//!
//! Pressure and vacuum are told apart, since a worn lip seal leaks in one and not in the other.
//!
//! ```
//! use casetight::isolate::{Place, Step};
//! use casetight::locate::locate;
//! use casetight::record::Site;
//! use casetight::sheet::{NoTraces, Sheet};
//!
//! let text = r#"
//! format = 1
//! [volume]
//! value = "150 cm3"
//! uncertainty = "3 cm3"
//! [ambient]
//! pressure = "1013 hPa"
//! temperature = "20 C"
//! [gauge]
//! unit = "kPa"
//! resolution = "0.1 kPa"
//! [heat]
//! settled_for = "20 s"
//! [isolate]
//! sites = ["crank seal, flywheel side", "cover plate"]
//! [[run]]
//! name = "all open"
//! readings = [[0, 48.0], [10, 41.6], [20, 35.9], [30, 30.7], [40, 26.1]]
//! [[run]]
//! name = "cover greased"
//! blanked = ["cover plate"]
//! readings = [[0, 48.0], [10, 41.8], [20, 36.0], [30, 30.9], [40, 26.3]]
//! [[run]]
//! name = "rig alone"
//! blanked = ["cover plate", "crank seal, flywheel side"]
//! readings = [[0, 48.0], [100, 47.9], [200, 47.8], [300, 47.7]]
//! "#;
//! let sheet = Sheet::parse(text, "sheet.toml", &NoTraces)?;
//! let located = locate(&sheet)?;
//! let pressure = &located.directions[0];
//! assert_eq!(pressure.next.step, Step::Repair(Place::Site(Site::CrankSealFlywheelSide)));
//! let seal = pressure.found.share(&Site::CrankSealFlywheelSide).unwrap();
//! assert!(seal.told_apart && seal.area.low > 3e-9);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub mod document;
#[cfg(test)]
mod tests;

use std::collections::BTreeSet;
use std::fmt;

use uom::si::area::square_meter;

use crate::assess::Outcome;
use crate::doubt::{self, Doubt};
use crate::fit::{Fit, PartKind};
use crate::isolate::{
    Choices, Evidence, IsolateError, Isolation, Measurement, Place, Proposal, Run, Share, Sight,
    Spot, Sprayed, Stage, Watcher, isolate, next_step, smallest_visible,
};
use crate::limit::{LimitError, Verdict};
use crate::numerics::probability;
use crate::pump::Stall;
use crate::quantity::{Area, GaugePressure, QuantityError};
use crate::record::{Bench, Site};
use crate::session::{Session, SessionError, SessionRun};
use crate::sheet::methods::Rates;
use crate::sheet::{self, Sheet};
use crate::vessel::Direction;

/// Where every two-stroke crankcase can leak, taken where a sheet lists no sites.
pub const USUAL_SITES: [Site; 4] = [
    Site::CrankSealFlywheelSide,
    Site::CrankSealDriveSide,
    Site::BaseGasket,
    Site::CaseSeam,
];

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

/// A sheet's sites, direction by direction.
#[derive(Debug, Clone)]
pub struct Located {
    /// One for each direction that has runs, pressure first.
    pub directions: Vec<InDirection>,
    /// What to know.
    pub notes: Vec<Note>,
}

/// What the runs of one direction say.
#[derive(Debug, Clone)]
pub struct InDirection {
    /// Pressure or vacuum.
    pub direction: Direction,
    /// The effective area of each run that went into it.
    pub runs: Vec<RunArea>,
    /// What went into it.
    pub evidence: Evidence<Site>,
    /// Each place's area, alone or with others.
    pub found: Isolation<Site>,
    /// What to do next, and how probable each place is to be the worst.
    pub next: Proposal<Site>,
    /// The strictest limit of the sheet, as an effective area, of all runs of the engine in this direction \[m2\].
    pub allowed_area_m2: Option<f64>,
    /// Discharge coefficient that holes are shown with.
    pub discharge_coefficient: f64,
}

/// What leaked in one run, all open places together.
#[derive(Debug, Clone, PartialEq)]
pub struct RunArea {
    /// The run's name.
    pub name: String,
    /// Best estimate \[m2\]; none of a stalled pump.
    pub value: Option<f64>,
    /// Lower end of the interval \[m2\].
    pub low: f64,
    /// Upper end \[m2\]; none where nothing bounds it.
    pub high: Option<f64>,
    /// Whether it is a run of the rig alone, which no limit judges.
    pub rig_alone: bool,
    /// The strictest limit of the sheet as an effective area in this run's volume \[m2\]; none without a limit, and for the
    /// rig alone.
    pub allowed_area_m2: Option<f64>,
    /// Why its fit is not taken at its word.
    pub doubts: Vec<Doubt>,
}

impl RunArea {
    fn new(sheet: &Sheet, run: &SessionRun) -> Result<Self, LimitError> {
        let (value, low, high) = match &run.assessment.outcome {
            Outcome::Fitted(fitted) => {
                let area = fitted.fit.area;
                let high = Some(area.high).filter(|high| high.is_finite());
                (Some(area.value), area.low, high)
            }
            Outcome::Stalled { bound, .. } => (None, bound.area.square_meters(), None),
        };
        Ok(Self {
            name: run.name.clone(),
            value,
            low,
            high,
            rig_alone: run.rig_alone,
            allowed_area_m2: allowed(sheet, run)?,
            doubts: doubts(run),
        })
    }
}

/// The strictest limit as an effective area in a run's own volume and from its own start \[m2\].
fn allowed(sheet: &Sheet, run: &SessionRun) -> Result<Option<f64>, LimitError> {
    if run.rig_alone {
        return Ok(None);
    }
    let mut strictest = None;
    for stated in &sheet.limits {
        let direction = run.assessment.direction;
        match stated.limit.allowed(&run.bench, direction, reached(run)) {
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

/// The smaller of two, either of which may be missing.
fn least(one: Option<f64>, other: Option<f64>) -> Option<f64> {
    [one, other].into_iter().flatten().reduce(f64::min)
}

/// Highest gauge pressure of a run, of vacuum the deepest.
fn reached(run: &SessionRun) -> GaugePressure {
    match &run.assessment.outcome {
        Outcome::Fitted(fitted) => fitted.fit.judged_from(),
        Outcome::Stalled { stall, .. } => stall.reached(),
    }
}

/// Something to know, in a sentence ([`fmt::Display`]).
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Note {
    /// Sites that were blanked in every run of these directions.
    NeverExposed {
        /// The directions.
        directions: Vec<Direction>,
        /// The sites.
        sites: Vec<Site>,
    },
    /// No run of these directions had all sites blanked.
    RigNotTested {
        /// The directions.
        directions: Vec<Direction>,
    },
    /// A run was made with a leak of known size beside the engine's own.
    KnownLeak {
        /// The run's name.
        run: String,
    },
    /// A stall that the volume alone explains.
    NothingSaid {
        /// The run's name.
        run: String,
    },
    /// A blank bubbled while it was in place.
    BlankBubbles {
        /// The run's name.
        run: String,
        /// The site that is shut off there.
        site: Site,
    },
    /// Soap was watched on a needle that had come to rest.
    NoPressureLeft {
        /// The run's name.
        run: String,
    },
    /// Bubbles at a place whose area no run told apart.
    OnlyBubbles {
        /// The site.
        site: Site,
        /// What all open places together leak at most \[m2\]; none where nothing bounds it.
        at_most_m2: Option<f64>,
    },
    /// The runs of a direction do not fit together.
    Misfit {
        /// The direction.
        direction: Direction,
        /// Probability of departures as large by chance.
        probability: f64,
    },
    /// A run's fit is not taken at its word.
    Doubted {
        /// The run's name.
        run: String,
        /// Why, in a sentence.
        reason: String,
    },
    /// The ways to the tested volume disagree.
    VolumesDisagree {
        /// How, in words.
        how: String,
    },
}

/// What can go wrong.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LocateError {
    /// A run can't be assessed.
    #[error(transparent)]
    Session(#[from] SessionError),
    /// What a run says of the sites can't be.
    #[error("run \"{run}\": {source}")]
    Run {
        /// The run's name.
        run: String,
        /// What is wrong.
        source: IsolateError,
    },
    /// The runs of a direction can't be put together.
    #[error("{direction}: {source}")]
    Direction {
        /// The direction.
        direction: Direction,
        /// What is wrong.
        source: IsolateError,
    },
    /// A limit can't be.
    #[error(transparent)]
    Limit(#[from] LimitError),
    /// Every run is one with a known leak.
    #[error("every run was made with a known leak; add one without it")]
    OnlyKnownLeaks,
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NeverExposed { directions, sites } => {
                let words: Vec<&str> = sites.iter().map(Site::words).collect();
                write!(
                    f,
                    "Blanked in every {} run, so that nothing is known of it there: {}. A blank that itself leaks counts to the \
                     rig",
                    or(directions),
                    words.join("; ")
                )
            }
            Self::RigNotTested { directions } => write!(
                f,
                "No {} run had every site blanked, so the rig is not told apart from the sites that were open in all runs. Test \
                 the rig alone: blank all sites, or shut the hose off at the engine",
                or(directions)
            ),
            Self::KnownLeak { run } => write!(
                f,
                "Run \"{run}\" had a known leak added for the volume; it is left out here"
            ),
            Self::NothingSaid { run } => write!(
                f,
                "The pump of run \"{run}\" made so few strokes that all could be in the case still: it says nothing of a leak"
            ),
            Self::BlankBubbles { run, site } => write!(
                f,
                "In run \"{run}\" the blank on the {} bubbled: the blank leaks, and counts to the rig. Seat it anew and repeat \
                 the run",
                site.words()
            ),
            Self::NoPressureLeft { run } => write!(
                f,
                "The needle of run \"{run}\" had come to rest, so that dry spots there say nothing: state `soaped_at`, the \
                 pressure while they were watched, or pump on while spraying"
            ),
            Self::OnlyBubbles { site, at_most_m2 } => {
                write!(
                    f,
                    "Bubbles name the {}, and do not measure it: it leaks, and no run tells its area from that of the other \
                     places. It is",
                    site.words()
                )?;
                match at_most_m2 {
                    Some(most) => write!(f, " no more than {:.0} um2", most * 1e12),
                    None => f.write_str(" bounded by nothing from above"),
                }
            }
            Self::Misfit {
                direction,
                probability,
            } => write!(
                f,
                "The {direction} runs do not fit together (a misfit as large happens by chance with {:.1} %): a blank that \
                 leaks, a hose that was disturbed, or a repair that was not noted. The intervals do not cover that",
                100.0 * probability
            ),
            Self::Doubted { run, reason } => write!(f, "Run \"{run}\": {reason}"),
            Self::VolumesDisagree { how } => write!(
                f,
                "The ways to the tested volume disagree ({how}); see `casetight volume`"
            ),
        }
    }
}

/// "pressure", "pressure or vacuum".
fn or(directions: &[Direction]) -> String {
    let words: Vec<String> = directions.iter().map(ToString::to_string).collect();
    words.join(" or ")
}

/// Adds a note; one that an earlier direction has too is said once for both.
fn note_once(notes: &mut Vec<Note>, direction: Direction, of: impl Fn(Vec<Direction>) -> Note) {
    let earlier = of(vec![Direction::Pressure]);
    match notes.iter_mut().find(|note| **note == earlier) {
        Some(note) if direction != Direction::Pressure => {
            *note = of(vec![Direction::Pressure, direction]);
        }
        _ => notes.push(of(vec![direction])),
    }
}

/// Says of each place that bubbled that its size is not known, where it is not.
fn note_bubbles(notes: &mut Vec<Note>, evidence: &Evidence<Site>, found: &Isolation<Site>) {
    for spot in evidence.bubbling() {
        let share = found
            .shares
            .iter()
            .find(|share| share.spots.contains(&spot));
        let (Place::Site(site), Some(share)) = (&spot.place, share) else {
            continue;
        };
        if share.only_bubbles() {
            notes.push(Note::OnlyBubbles {
                site: site.clone(),
                at_most_m2: Some(share.area.high).filter(|high| high.is_finite()),
            });
        }
    }
}

/// Puts a sheet's runs and soap together, direction by direction.
///
/// # Errors
/// [`LocateError`] names the run, or the direction, that can't be.
pub fn locate(sheet: &Sheet) -> Result<Located, LocateError> {
    let session = Session::assess_with_rig(sheet)?;
    let sites = sites(sheet);
    let mut notes = Vec::new();
    let mut directions = Vec::new();
    for direction in [Direction::Pressure, Direction::Vacuum] {
        let gathered = Gathered::new(sheet, &session, &sites, direction, &mut notes)?;
        if let Some(gathered) = gathered {
            directions.push(gathered.located(sheet, &sites, &mut notes)?);
        }
    }
    if directions.is_empty() {
        return Err(LocateError::OnlyKnownLeaks);
    }
    // One sentence for all runs of one volume.
    for run in &sheet.runs {
        let volumes = sheet.volumes_of(run).map_err(SessionError::from)?;
        let combined = volumes.and_then(|volumes| volumes.combined);
        if let Some(combined) = combined.filter(|combined| !combined.agree()) {
            let note = Note::VolumesDisagree {
                how: combined.to_string(),
            };
            if !notes.contains(&note) {
                notes.push(note);
            }
        }
    }
    Ok(Located { directions, notes })
}

/// Every site where the engine can leak, in the order of [`Site`].
fn sites(sheet: &Sheet) -> BTreeSet<Site> {
    let listed = if sheet.search.sites.is_empty() {
        USUAL_SITES.as_slice()
    } else {
        &sheet.search.sites
    };
    let named = sheet.runs.iter().flat_map(|run| {
        [&run.blanked, &run.repaired, &run.bubbles, &run.dry]
            .into_iter()
            .flatten()
    });
    listed.iter().chain(named).cloned().collect()
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
struct Gathered<'s> {
    direction: Direction,
    runs: Vec<RunArea>,
    evidence: Evidence<Site>,
    /// The run of the engine that reached the highest pressure; none where only the rig was tested.
    highest: Option<&'s SessionRun>,
    /// Sites that some run blanked.
    blanked: BTreeSet<Site>,
}

impl<'s> Gathered<'s> {
    fn new(
        sheet: &Sheet,
        session: &'s Session,
        sites: &BTreeSet<Site>,
        direction: Direction,
        notes: &mut Vec<Note>,
    ) -> Result<Option<Self>, LocateError> {
        let mut evidence = Evidence {
            runs: Vec::new(),
            soap: Vec::new(),
            shared_relative_uncertainty: 0.0,
        };
        // One volume is shared by the runs of the engine; the rig alone has its own.
        let (mut fits, mut of_rig): (Vec<&Fit>, Vec<&Fit>) = (Vec::new(), Vec::new());
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
            let wrong = |source| LocateError::Run {
                run: name(),
                source,
            };
            let measurement = match &assessed.assessment.outcome {
                Outcome::Fitted(fitted) => {
                    let measured = of_fit(&fitted.fit).map_err(wrong)?;
                    if assessed.rig_alone {
                        of_rig.push(&fitted.fit);
                        measured.with_relative(fitted.fit.relative_part(PartKind::Volume))
                    } else {
                        fits.push(&fitted.fit);
                        measured
                    }
                }
                Outcome::Stalled { stall, .. } => {
                    let (measurement, says) = of_stall(stall, &assessed.bench).map_err(wrong)?;
                    if !says {
                        notes.push(Note::NothingSaid { run: name() });
                    }
                    measurement
                }
            };
            let open = exposed(run, sites);
            evidence
                .soap
                .extend(soap(run, assessed, &open, &repaired, notes).map_err(wrong)?);
            blanked.extend(run.blanked.iter().cloned());
            evidence
                .runs
                .push(Run::new(open, measurement).after_repair_of(repaired.iter().cloned()));
            runs.push(RunArea::new(sheet, assessed)?);
            let size = |run: &SessionRun| reached(run).size();
            if !assessed.rig_alone && highest.is_none_or(|other| size(other) < size(assessed)) {
                highest = Some(assessed);
            }
        }
        let sharing = if fits.is_empty() { of_rig } else { fits };
        evidence.shared_relative_uncertainty = Evidence::<Site>::shared_uncertainty_of(sharing);
        Ok((!runs.is_empty()).then_some(Self {
            direction,
            runs,
            evidence,
            highest,
            blanked,
        }))
    }

    fn located(
        self,
        sheet: &Sheet,
        sites: &BTreeSet<Site>,
        notes: &mut Vec<Note>,
    ) -> Result<InDirection, LocateError> {
        let direction = self.direction;
        let wrong = |source| LocateError::Direction { direction, source };
        let ever: BTreeSet<&Site> = self.evidence.runs.iter().flat_map(|r| &r.exposed).collect();
        let never: Vec<Site> = sites
            .iter()
            .filter(|s| !ever.contains(s))
            .cloned()
            .collect();
        if !never.is_empty() {
            note_once(notes, direction, |directions| Note::NeverExposed {
                directions,
                sites: never.clone(),
            });
        }
        if self.evidence.runs.iter().all(|run| !run.exposed.is_empty()) {
            note_once(notes, direction, |directions| Note::RigNotTested {
                directions,
            });
        }
        let found = isolate(&self.evidence, sheet.assumptions.level).map_err(wrong)?;
        let unit = sheet.gauge_unit;
        for run in &self.runs {
            notes.extend(run.doubts.first().map(|doubt| Note::Doubted {
                run: run.name.clone(),
                reason: doubt.words(unit),
            }));
        }
        if found.probability_of_misfit < MISFIT {
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

/// Runs that depart from each other as much as they do, or more, less often than this by chance, do not fit together.
const MISFIT: f64 = 0.01;

/// What a fitted run measured: its area, or a lower bound where the needle had fallen to rest by the second reading.
fn of_fit(fit: &Fit) -> Result<Measurement, IsolateError> {
    if fit.area.high.is_finite() {
        return Measurement::from_fit(fit);
    }
    let z = probability::normal_quantile(0.5 + fit.rate.level / 2.0);
    let area_per_rate = fit.area.value / fit.rate.value;
    let square_meters = Area::new::<square_meter>;
    Measurement::at_least(
        square_meters(fit.area.value),
        square_meters((fit.rate.value - fit.rate.low) / z * area_per_rate),
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

/// What was sprayed in a run.
fn soap(
    run: &sheet::Run,
    assessed: &SessionRun,
    open: &BTreeSet<Site>,
    repaired: &BTreeSet<Site>,
    notes: &mut Vec<Note>,
) -> Result<Vec<Sprayed<Site>>, IsolateError> {
    let (highest, lowest) = pressures(run, assessed)?;
    let mut sprayed = Vec::new();
    for (sight, watched) in [(Sight::Bubbles, &run.bubbles), (Sight::Dry, &run.dry)] {
        let reached = match sight {
            Sight::Bubbles => highest,
            Sight::Dry => lowest,
        };
        for site in watched {
            if !open.contains(site) {
                if sight == Sight::Bubbles {
                    let (run, site) = (run.name.clone(), site.clone());
                    notes.push(Note::BlankBubbles { run, site });
                }
                continue;
            }
            if sight == Sight::Dry && reached.pascals() <= 0.0 && highest.pascals() > 0.0 {
                let note = Note::NoPressureLeft {
                    run: run.name.clone(),
                };
                if !notes.contains(&note) {
                    notes.push(note);
                }
                continue;
            }
            let seen = Sprayed::new(site.clone(), sight, &assessed.bench, reached)?;
            sprayed.push(if repaired.contains(site) {
                seen.after_its_repair()
            } else {
                seen
            });
        }
    }
    Ok(sprayed)
}

/// The highest and the lowest gauge pressure that soap can have been watched at.
fn pressures(
    run: &sheet::Run,
    assessed: &SessionRun,
) -> Result<(GaugePressure, GaugePressure), QuantityError> {
    let (highest, lowest) = match &assessed.assessment.outcome {
        Outcome::Fitted(fitted) => {
            let readings = run.record.readings();
            let last = readings.and_then(|readings| readings.gauges_pa().last().copied());
            let start = fitted.fit.judged_from();
            // Noise can lift the last reading of a needle that stands still above the first.
            let last = GaugePressure::from_pascals(last.unwrap_or_else(|| start.pascals()))?;
            (start, if last < start { last } else { start })
        }
        Outcome::Stalled { stall, .. } => (stall.reached(), stall.reached()),
    };
    // Soap shows nothing under vacuum, whatever is stated.
    let stated = run.soaped_at.filter(|_| highest.pascals() > 0.0);
    Ok(stated.map_or((highest, lowest), |at| (at, at)))
}

/// Whether a share is of the rig alone.
fn is_rig_alone(share: &Share<Site>) -> bool {
    share.spots.iter().all(|spot| spot.place == Place::Rig)
}

fn has_rig(share: &Share<Site>) -> bool {
    share.spots.iter().any(|spot| spot.place == Place::Rig)
}

fn is_now(share: &Share<Site>) -> bool {
    share.spots.iter().any(|spot| spot.stage == Stage::Now)
}

impl InDirection {
    /// The strictest limit of the runs that one of these places was open in, as an effective area \[m2\].
    #[must_use]
    pub fn allowed_for(&self, share: &Share<Site>) -> Option<f64> {
        let of = |spot: &Spot<Site>, run: &Run<Site>| match &spot.place {
            Place::Site(site) => run.exposed.contains(site),
            Place::Rig => false,
        };
        let judged_by = |run: &Run<Site>| share.spots.iter().any(|spot| of(spot, run));
        let runs = self.runs.iter().zip(&self.evidence.runs);
        runs.filter(|(_, run)| judged_by(run))
            .map(|(area, _)| area.allowed_area_m2)
            .fold(None, least)
    }

    /// The verdict on a share of the engine's: whether its interval lies within the limit, beyond it, or on both sides. None
    /// without a limit, for the rig alone, and for what was there before a repair.
    ///
    /// A share that the rig has part in does not leak by this: it may be the rig.
    #[must_use]
    pub fn verdict_on(&self, share: &Share<Site>) -> Option<Verdict> {
        let allowed = self.allowed_for(share)?;
        if is_rig_alone(share) || !is_now(share) {
            return None;
        }
        Some(self.taken(if share.area.high <= allowed {
            Verdict::Holds
        } else if share.area.low > allowed && !has_rig(share) {
            Verdict::Leaks
        } else {
            Verdict::Undecided
        }))
    }

    /// What is left of a verdict in view of what speaks against the fits of the runs: areas are differences of all of them, so that
    /// one which is not those of a leak takes back either verdict.
    fn taken(&self, verdict: Verdict) -> Verdict {
        let despite = |verdict: Verdict, run: &RunArea| {
            if run.doubts.iter().any(Doubt::contradicts_fit) {
                Verdict::Undecided
            } else {
                verdict.despite(&run.doubts)
            }
        };
        self.runs.iter().fold(verdict, despite)
    }

    /// The verdict on all sites together; none without a limit.
    ///
    /// Leaks: a site (or several that were not told apart, the rig not among them) is beyond the limit by itself, or the lower
    /// ends of all add up to more. Holds: each that was ever open is within it, and so is the sum of their best values. Else
    /// undecided.
    #[must_use]
    pub fn verdict(&self) -> Option<Verdict> {
        let allowed = self.allowed_area_m2?;
        let judged = || {
            let shares = self.found.shares.iter();
            shares.filter_map(|share| Some((share, self.verdict_on(share)?)))
        };
        let sum = |of: &dyn Fn(&Share<Site>) -> f64| -> f64 { judged().map(|(s, _)| of(s)).sum() };
        let leaks = judged().any(|(_, verdict)| verdict == Verdict::Leaks)
            || sum(&|share| if has_rig(share) { 0.0 } else { share.area.low }) > allowed;
        Some(self.taken(if leaks {
            Verdict::Leaks
        } else if judged().count() > 0
            && judged().all(|(_, verdict)| verdict == Verdict::Holds)
            && sum(&|share| share.area.value) <= allowed
        {
            Verdict::Holds
        } else {
            Verdict::Undecided
        }))
    }

    /// Probability of a place to be the worst leak of this direction; none where the runs contradict each other so much that
    /// no engine fits them.
    #[must_use]
    pub fn probability_worst(&self, place: &Place<Site>) -> Option<f64> {
        let suspects = &self.next.suspects;
        if suspects.worst.is_empty() && suspects.tight <= 0.0 {
            return None;
        }
        let worst = suspects.worst.iter().find(|(other, _)| other == place);
        Some(worst.map_or(0.0, |(_, p)| *p))
    }

    /// The sites as they are now, each with its share.
    pub fn sites(&self) -> impl Iterator<Item = (&Site, &Share<Site>)> {
        self.found.shares.iter().flat_map(|share| {
            share
                .spots
                .iter()
                .filter_map(move |spot| match &spot.place {
                    Place::Site(site) if spot.stage == Stage::Now => Some((site, share)),
                    _ => None,
                })
        })
    }
}

impl Located {
    /// The verdict of the worst direction, in the order leaks, undecided or not judged (none), holds.
    #[must_use]
    pub fn worst(&self) -> Option<Verdict> {
        Verdict::worst(self.directions.iter().map(InDirection::verdict))
    }
}
