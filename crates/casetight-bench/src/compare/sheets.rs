//! Bench sheets compared: which runs belong together, what they share, and whether the engine is repaired.

use super::ratio::{Change, Comparison, Note, compare, unlike_starts};
use super::test::{Known, Shared, SharedVolume, Test};
use super::trend::{Trend, TrendPoint, Unit, trend};
use super::{CompareError, Course};
use crate::assess::common_pressure;
use crate::record::Date;
use crate::session::{Session, SessionError, SessionRun};
use crate::sheet::{Run, Sheet, SheetError, Space};
use casetight::limit::Verdict;
use casetight::quantity::GaugePressure;
use casetight::vessel::Direction;
use casetight::volume::Typical;

/// The names of inputs of a volume that are set anew for each run.
const POSITION: [&str; 2] = ["crank angle", Typical::Position.input()];

/// The name of the one that belongs to the rig.
const RIG: &str = "rig";

/// What can go wrong.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SheetsError {
    /// One of the sheets.
    #[error(transparent)]
    Session(#[from] SessionError),
    /// Volume of a run.
    #[error(transparent)]
    Sheet(#[from] SheetError),
    /// The comparison.
    #[error("{what}: {source}")]
    Compare {
        /// Which runs or sheets.
        what: String,
        /// What is wrong.
        source: CompareError,
    },
    /// Two machines.
    #[error(
        "the sheets are of two machines, \"{before}\" and \"{after}\"; a repair is compared on one and the same"
    )]
    Machines {
        /// One.
        before: String,
        /// The other.
        after: String,
    },
    /// No run of a name.
    #[error("the sheet \"{sheet}\" has no run \"{run}\"; it has: {}", runs.join(", "))]
    NoSuchRun {
        /// The sheet's title.
        sheet: String,
        /// The name asked for.
        run: String,
        /// The names it has.
        runs: Vec<String>,
    },
    /// The rig's run and the engine's.
    #[error(
        "run \"{rig}\" is of the rig alone and run \"{engine}\" of the engine; name two of the same"
    )]
    RigAndEngine {
        /// The run of the rig alone.
        rig: String,
        /// The run of the engine.
        engine: String,
    },
    /// Nothing to compare.
    #[error("no run of one sheet has the direction of one of the other; name one run of each")]
    NoPairs,
    /// Some dated, some not.
    #[error("the sheet \"{sheet}\" has no `date` while others have one; date all of them or none")]
    NoDate {
        /// Its title.
        sheet: String,
    },
}

/// Whether the engine is repaired.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Repair {
    /// It holds now, and there is no repair to tell: it was not seen to leak before, and no fall of the leak is told.
    Holds,
    /// It holds now; without a limit, the leak fell.
    Repaired,
    /// It can't be told.
    NotTold,
    /// It still leaks, or leaks more.
    StillLeaks,
}

/// Two runs compared.
#[derive(Debug, Clone, PartialEq)]
pub struct Pair {
    /// Name of the run before.
    pub before: String,
    /// Name of the run after.
    pub after: String,
    /// Pressure or vacuum, of the run after.
    pub direction: Direction,
    /// Verdicts by the sheets' limits, before and after; none without a limit.
    pub verdicts: (Option<Verdict>, Option<Verdict>),
    /// The comparison.
    pub comparison: Comparison,
    /// Whether the engine is repaired, by this run.
    pub repair: Repair,
}

/// Two sheets compared.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetsComparison {
    /// Runs that belong together, in the order of the sheet after.
    pub pairs: Vec<Pair>,
    /// Names of runs of the sheet before that have no partner.
    pub only_before: Vec<String>,
    /// Names of runs of the sheet after that have no partner.
    pub only_after: Vec<String>,
    /// The worst of the pairs.
    pub repair: Repair,
    /// What to know of the sheets.
    pub notes: Vec<SheetsNote>,
}

/// Something to know of two sheets that are compared, in a sentence ([`std::fmt::Display`]).
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum SheetsNote {
    /// Nothing says that the sheets are of one machine.
    Perhaps {
        /// The machine that the sheet before states, or its title in quotes.
        before: String,
        /// That of the sheet after.
        after: String,
    },
    /// Runs of the rig alone are not compared.
    RigLeftOut {
        /// Their names, before and after.
        runs: Vec<String>,
    },
    /// A compared run's fit is not taken at its word.
    Doubted {
        /// The run's name.
        run: String,
        /// Why, in a sentence.
        reason: String,
    },
}

impl std::fmt::Display for SheetsNote {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Perhaps { before, after } => write!(
                f,
                "Nothing says that both sheets are of one machine: before it is {before}, after it {after}. State `machine` on \
                 both; what is said here holds only if it is the same"
            ),
            Self::RigLeftOut { runs } => write!(
                f,
                "Runs of the rig alone say nothing of a repair and are not compared, their leak is taken off the others: {}",
                runs.join(", ")
            ),
            Self::Doubted { run, reason } => write!(f, "Run \"{run}\": {reason}"),
        }
    }
}

/// A run of a sheet, assessed.
struct Assessed<'s> {
    sheet: &'s Sheet,
    run: &'s Run,
    session: SessionRun,
    test: Test,
}

impl Assessed<'_> {
    /// Why its fit is not taken at its word, the gravest reason; none where it is.
    fn doubted(&self) -> Option<String> {
        let assessment = &self.session.assessment;
        let unit = assessment.assumptions.pressure_unit;
        let mut doubts = assessment.doubts();
        doubts.next().map(|doubt| doubt.words(unit))
    }
}

impl Assessed<'_> {
    /// Where its area belongs, and whether that is a lower bound only.
    fn start(&self) -> (GaugePressure, bool) {
        let test = &self.test;
        (test.gauge_pressure(), test.known() == Known::AtLeast)
    }

    /// Its test, moved to a pressure where there is one.
    fn at_pressure(&self, at: Option<GaugePressure>) -> Result<Test, CompareError> {
        let test = self.test.clone();
        match at {
            Some(at) => test.at_pressure(&self.session.bench, at),
            None => Ok(test),
        }
    }
}

fn assessed(sheet: &Sheet) -> Result<Vec<Assessed<'_>>, SheetsError> {
    let session = Session::assess(sheet)?;
    sheet
        .runs
        .iter()
        .zip(session.runs)
        .map(|(run, session)| {
            let test =
                Test::of_assessment(&session.assessment, &session.bench).map_err(|source| {
                    SheetsError::Compare {
                        what: format!("run \"{}\"", run.name),
                        source,
                    }
                })?;
            Ok(Assessed {
                sheet,
                run,
                session,
                test,
            })
        })
        .collect()
}

/// The runs of two sheets, before and after a repair, matched by direction and name, or the two that are named.
///
/// Where in a direction one run is left on either sheet, the two are matched though their names differ. A volume, gauge
/// or engine that both sheets state alike is taken to be one and the same, so that what it leaves open cancels.
///
/// # Errors
/// [`SheetsError`] names what is not valid.
pub fn compare_sheets(
    before: &Sheet,
    after: &Sheet,
    chosen: Option<(&str, &str)>,
) -> Result<SheetsComparison, SheetsError> {
    check_machines(before, after)?;
    let (mut old, mut new) = (assessed(before)?, assessed(after)?);
    let mut notes: Vec<SheetsNote> = perhaps(before, after).into_iter().collect();
    if chosen.is_none() {
        let of_rig = |runs: &[Assessed<'_>]| -> Vec<String> {
            let of_rig = runs.iter().filter(|one| one.session.rig_alone);
            of_rig.map(|one| format!("\"{}\"", one.run.name)).collect()
        };
        let mut runs = of_rig(&old);
        runs.extend(of_rig(&new));
        runs.dedup();
        if !runs.is_empty() {
            notes.push(SheetsNote::RigLeftOut { runs });
        }
        old.retain(|one| !one.session.rig_alone);
        new.retain(|one| !one.session.rig_alone);
    }
    let (pairs, only_before, only_after) = match chosen {
        Some((a, b)) => {
            let (a, b) = (find(before, &old, a)?, find(after, &new, b)?);
            one_kind(a, b)?;
            (vec![(a, b, true)], Vec::new(), Vec::new())
        }
        None => matched(&old, &new),
    };
    for one in pairs.iter().flat_map(|(a, b, _)| [a, b]) {
        notes.extend(one.doubted().map(|reason| SheetsNote::Doubted {
            run: one.run.name.clone(),
            reason,
        }));
    }
    let pairs: Vec<Pair> = pairs
        .into_iter()
        .map(|(a, b, chosen)| pair(a, b, chosen))
        .collect::<Result<_, _>>()?;
    let repair = pairs
        .iter()
        .map(|pair| pair.repair)
        .max()
        .ok_or(SheetsError::NoPairs)?;
    Ok(SheetsComparison {
        pairs,
        only_before,
        only_after,
        repair,
        notes,
    })
}

/// The rig alone is compared with the rig alone.
fn one_kind(a: &Assessed<'_>, b: &Assessed<'_>) -> Result<(), SheetsError> {
    let (rig, engine) = match (a.session.rig_alone, b.session.rig_alone) {
        (true, false) => (a, b),
        (false, true) => (b, a),
        _ => return Ok(()),
    };
    Err(SheetsError::RigAndEngine {
        rig: rig.run.name.clone(),
        engine: engine.run.name.clone(),
    })
}

/// That two sheets may be of two machines: only one of them states its machine, or neither does and they have two titles.
fn perhaps(before: &Sheet, after: &Sheet) -> Option<SheetsNote> {
    let alike = match (&before.machine, &after.machine) {
        // Two that differ are refused.
        (Some(_), Some(_)) => true,
        (None, None) => before.title.eq_ignore_ascii_case(&after.title),
        _ => false,
    };
    let named = |sheet: &Sheet| match &sheet.machine {
        Some(machine) => format!("\"{machine}\""),
        None if sheet.title.is_empty() => "a sheet without machine and title".to_owned(),
        None => format!("the sheet \"{}\", which states none", sheet.title),
    };
    (!alike).then(|| SheetsNote::Perhaps {
        before: named(before),
        after: named(after),
    })
}

fn check_machines(before: &Sheet, after: &Sheet) -> Result<(), SheetsError> {
    match (&before.machine, &after.machine) {
        (Some(a), Some(b)) if !a.eq_ignore_ascii_case(b) => Err(SheetsError::Machines {
            before: a.clone(),
            after: b.clone(),
        }),
        _ => Ok(()),
    }
}

fn find<'a, 's>(
    sheet: &Sheet,
    runs: &'a [Assessed<'s>],
    name: &str,
) -> Result<&'a Assessed<'s>, SheetsError> {
    runs.iter()
        .find(|r| r.run.name == name)
        .ok_or_else(|| SheetsError::NoSuchRun {
            sheet: sheet.title.clone(),
            run: name.to_owned(),
            runs: runs.iter().map(|r| format!("\"{}\"", r.run.name)).collect(),
        })
}

type Matched<'a, 's> = (&'a Assessed<'s>, &'a Assessed<'s>, bool);

/// Pairs (and whether their names were meant to match), and the names that are left on either sheet.
fn matched<'a, 's>(
    old: &'a [Assessed<'s>],
    new: &'a [Assessed<'s>],
) -> (Vec<Matched<'a, 's>>, Vec<String>, Vec<String>) {
    let alike = |a: &Assessed<'_>, b: &Assessed<'_>| {
        a.test.direction() == b.test.direction() && a.run.name.eq_ignore_ascii_case(&b.run.name)
    };
    let left = |these: &'a [Assessed<'s>], others: &[Assessed<'s>], direction: Direction| {
        let left: Vec<&Assessed<'_>> = these
            .iter()
            .filter(|a| a.test.direction() == direction && !others.iter().any(|b| alike(a, b)))
            .collect();
        left
    };
    let (mut pairs, mut only_before, mut only_after) = (Vec::new(), Vec::new(), Vec::new());
    for b in new {
        if let Some(a) = old.iter().find(|a| alike(a, b)) {
            pairs.push((a, b, true));
        }
    }
    for direction in [Direction::Pressure, Direction::Vacuum] {
        match (
            left(old, new, direction).as_slice(),
            left(new, old, direction).as_slice(),
        ) {
            ([a], [b]) => pairs.push((*a, *b, false)),
            (a, b) => {
                only_before.extend(a.iter().map(|r| r.run.name.clone()));
                only_after.extend(b.iter().map(|r| r.run.name.clone()));
            }
        }
    }
    (pairs, only_before, only_after)
}

fn pair(a: &Assessed<'_>, b: &Assessed<'_>, named: bool) -> Result<Pair, SheetsError> {
    let what = || format!("runs \"{}\" and \"{}\"", a.run.name, b.run.name);
    let wrong = |source: CompareError| SheetsError::Compare {
        what: what(),
        source,
    };
    let shared = shared(a, b)?;
    let one_direction = a.test.direction() == b.test.direction();
    let at = common_pressure([a.start(), b.start()]).filter(|_| one_direction);
    let moved = |one: &Assessed<'_>| one.at_pressure(at).map_err(wrong);
    let (before, after) = (moved(a)?, moved(b)?);
    let level = b.session.assessment.assumptions.level;
    let mut comparison = compare(&before, &after, &shared, level).map_err(wrong)?;
    let starts = at.and_then(|at| unlike_starts(&a.test, &b.test, at));
    comparison.notes.extend(starts);
    let sites = |run: &Run| {
        let mut names: Vec<String> = run.blanked.iter().map(ToString::to_string).collect();
        names.sort();
        names
    };
    if sites(a.run) != sites(b.run) {
        comparison.notes.push(Note::Blanks);
    }
    if !named {
        comparison.notes.push(Note::Names);
    }
    if matches!((a.sheet.date, b.sheet.date), (Some(old), Some(new)) if new < old) {
        comparison.notes.push(Note::Dates);
    }
    let verdicts = (a.session.assessment.verdict, b.session.assessment.verdict);
    Ok(Pair {
        before: a.run.name.clone(),
        after: b.run.name.clone(),
        direction: b.test.direction(),
        verdicts,
        repair: repair(
            verdicts,
            comparison.change,
            a.doubted().is_some() || b.doubted().is_some(),
        ),
        comparison,
    })
}

/// By the limit where there is one; what the limit leaves open, by the change, if both fits are taken at their word. What held before
/// has had no repair to tell.
fn repair(
    (before, after): (Option<Verdict>, Option<Verdict>),
    change: Change,
    doubted: bool,
) -> Repair {
    let change = if doubted { Change::NotTold } else { change };
    let leaked = matches!(before, Some(Verdict::Leaks | Verdict::Stalled));
    match (after, change) {
        (Some(Verdict::Holds), Change::Fell) if before != Some(Verdict::Holds) => Repair::Repaired,
        (Some(Verdict::Holds), _) if leaked => Repair::Repaired,
        (Some(Verdict::Holds), _) => Repair::Holds,
        (None, Change::Fell) => Repair::Repaired,
        (Some(Verdict::Leaks), _) | (_, Change::Grew) => Repair::StillLeaks,
        _ => Repair::NotTold,
    }
}

/// What two runs share by what their sheets state.
fn shared(a: &Assessed<'_>, b: &Assessed<'_>) -> Result<Shared, SheetsError> {
    let one_sheet = std::ptr::eq(a.sheet, b.sheet) || a.sheet == b.sheet;
    Ok(Shared {
        volume: shared_volume((a.sheet, a.run), (b.sheet, b.run))?,
        gauge: a.sheet.gauge == b.sheet.gauge && a.sheet.unit_of(a.run) == b.sheet.unit_of(b.run),
        surroundings: one_sheet,
    })
}

fn shared_volume(
    (sheet_a, a): (&Sheet, &Run),
    (sheet_b, b): (&Sheet, &Run),
) -> Result<SharedVolume, SheetError> {
    match (sheet_a.rig_volume_of(a)?, sheet_b.rig_volume_of(b)?) {
        (None, None) => {}
        (Some(one), Some(other)) if one == other => return Ok(SharedVolume::Same),
        _ => return Ok(SharedVolume::Apart),
    }
    let whole = sheet_a.space == sheet_b.space;
    let (dimensions, rig) = match (&sheet_a.space, &sheet_b.space) {
        (
            Space::Engine {
                dimensions: one,
                rig: one_rig,
            },
            Space::Engine {
                dimensions: other,
                rig: other_rig,
            },
        ) => (one == other, one_rig == other_rig),
        _ => (whole, whole),
    };
    if !dimensions {
        return Ok(SharedVolume::Apart);
    }
    if whole && a.piston == b.piston && !has_angle(sheet_a, a)? {
        return Ok(SharedVolume::Same);
    }
    // ln V_b - ln V_a, input by input: what both have in common with its difference, the rest each on its own.
    let common = |name: &str| !POSITION.contains(&name) && (name != RIG || rig);
    let inputs = |sheet: &Sheet, run: &Run| -> Result<Vec<(String, f64)>, SheetError> {
        let tested = sheet.volume_for(run.piston)?;
        let volume = tested.volume().value().value;
        let relative = tested
            .contributions()
            .iter()
            .map(|c| (c.name.to_string(), c.uncertainty / volume));
        Ok(relative.collect())
    };
    let (one, other) = (inputs(sheet_a, a)?, inputs(sheet_b, b)?);
    let in_other =
        |name: &str, of: &[(String, f64)]| of.iter().find(|(n, _)| n == name).map(|(_, u)| *u);
    let mut sum = 0.0;
    for (name, u) in &other {
        let partner = in_other(name, &one).filter(|_| common(name));
        sum += (u - partner.unwrap_or(0.0)).powi(2);
    }
    for (name, u) in &one {
        if !common(name) || in_other(name, &other).is_none() {
            sum += u * u;
        }
    }
    Ok(SharedVolume::InPart {
        ratio_uncertainty: sum.sqrt(),
    })
}

/// Whether the run's volume depends on an angle that was set by hand.
fn has_angle(sheet: &Sheet, run: &Run) -> Result<bool, SheetError> {
    let tested = sheet.volume_for(run.piston)?;
    let mut of_position = tested
        .contributions()
        .iter()
        .filter(|c| POSITION.contains(&c.name.as_ref()));
    Ok(of_position.any(|c| c.uncertainty != 0.0))
}

/// A run of a sheet in a trend.
#[derive(Debug, Clone, PartialEq)]
pub struct RunOfSheet {
    /// The sheet's title.
    pub title: String,
    /// Its day.
    pub date: Option<Date>,
    /// The run's name.
    pub run: String,
    /// Days since the first sheet, or its place in their order from 1.
    pub at: f64,
    /// What it told.
    pub test: Test,
}

/// The trend of one direction over many sheets.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetTrend {
    /// Pressure or vacuum.
    pub direction: Direction,
    /// The runs, in the order of time.
    pub runs: Vec<RunOfSheet>,
    /// The trend.
    pub trend: Trend,
}

/// The trend of each direction over sheets of one machine, by date where all have one, else in the order given.
///
/// Of each sheet and direction the first run counts, or the one of this name.
///
/// # Errors
/// [`SheetsError`] names what is not valid; [`CompareError::TooFewTests`] where no direction has three tests.
pub fn trend_of_sheets(
    sheets: &[Sheet],
    run: Option<&str>,
) -> Result<Vec<SheetTrend>, SheetsError> {
    // A sheet in between that states none hides no change of the machine.
    let stated: Vec<&Sheet> = sheets.iter().filter(|s| s.machine.is_some()).collect();
    for pair in stated.windows(2) {
        if let [one, other] = pair {
            check_machines(one, other)?;
        }
    }
    let dated = sheets.iter().any(|s| s.date.is_some());
    let mut order: Vec<&Sheet> = sheets.iter().collect();
    if dated {
        if let Some(undated) = sheets.iter().find(|s| s.date.is_none()) {
            return Err(SheetsError::NoDate {
                sheet: undated.title.clone(),
            });
        }
        order.sort_by_key(|s| s.date);
    }
    let first = order.first().and_then(|s| s.date);
    let mut runs = Vec::new();
    for (place, sheet) in (1..).zip(order.iter().copied()) {
        let at = match (sheet.date, first) {
            (Some(date), Some(first)) => f64::from(date.days_since(first)),
            _ => f64::from(place),
        };
        for one in assessed(sheet)? {
            runs.push((at, one));
        }
    }
    let mut trends = Vec::new();
    let mut most = 0;
    for direction in [Direction::Pressure, Direction::Vacuum] {
        let mut of_direction: Vec<&(f64, Assessed<'_>)> = Vec::new();
        for candidate in &runs {
            let counts = candidate.1.test.direction() == direction
                && run.is_none_or(|name| candidate.1.run.name == name)
                && !of_direction
                    .iter()
                    .any(|other| std::ptr::eq(other.1.sheet, candidate.1.sheet));
            if counts {
                of_direction.push(candidate);
            }
        }
        most = most.max(of_direction.len());
        if of_direction.len() < 3 {
            continue;
        }
        trends.push(trend_of(&of_direction, direction, dated)?);
    }
    if trends.is_empty() {
        return Err(SheetsError::Compare {
            what: "the sheets".to_owned(),
            source: CompareError::TooFewTests { got: most },
        });
    }
    Ok(trends)
}

fn trend_of(
    runs: &[&(f64, Assessed<'_>)],
    direction: Direction,
    dated: bool,
) -> Result<SheetTrend, SheetsError> {
    let wrong = |source| SheetsError::Compare {
        what: format!("the {direction} tests"),
        source,
    };
    let pressure = common_pressure(runs.iter().map(|(_, one)| one.start()));
    let points: Vec<TrendPoint> = runs
        .iter()
        .map(|(at, one)| {
            let test = one.at_pressure(pressure).map_err(wrong)?;
            Ok(TrendPoint { at: *at, test })
        })
        .collect::<Result<_, SheetsError>>()?;
    // What every neighbor shares is shared by all; the widest ratio of volumes stands for the rest.
    let mut common = Shared::all();
    common.surroundings = false;
    let mut widest = 0.0_f64;
    for pair in runs.windows(2) {
        let [(_, a), (_, b)] = pair else { continue };
        let between = shared(a, b)?;
        common.gauge &= between.gauge;
        match between.volume {
            SharedVolume::Apart => common.volume = SharedVolume::Apart,
            SharedVolume::InPart { ratio_uncertainty } => widest = widest.max(ratio_uncertainty),
            SharedVolume::Same => {}
        }
    }
    if widest > 0.0 && common.volume == SharedVolume::Same {
        common.volume = SharedVolume::InPart {
            ratio_uncertainty: widest,
        };
    }
    let level = runs.last().map_or(crate::assess::LEVEL, |(_, one)| {
        one.session.assessment.assumptions.level
    });
    let unit = if dated { Unit::Days } else { Unit::Tests };
    let trend = trend(&points, unit, &common, level).map_err(wrong)?;
    let runs = runs
        .iter()
        .zip(points)
        .map(|((at, one), point)| RunOfSheet {
            title: one.sheet.title.clone(),
            date: one.sheet.date,
            run: one.run.name.clone(),
            at: *at,
            test: point.test,
        })
        .collect();
    Ok(SheetTrend {
        direction,
        runs,
        trend,
    })
}

impl SheetTrend {
    /// Whether the leak grows.
    #[must_use]
    pub fn grows(&self) -> bool {
        self.trend.course == Course::Grows
    }
}
