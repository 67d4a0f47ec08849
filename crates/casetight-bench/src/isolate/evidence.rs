//! What was done and seen, and the equations that it makes.

use std::cmp::Ordering;
use std::collections::BTreeSet;
use std::fmt;

use uom::si::area::square_meter;

use super::error::IsolateError;
use super::site_name::SiteName;
use super::soap::{Sight, Sprayed};
use crate::pump::Stall;
use casetight::below::numerics::probability;
use casetight::fit::Fit;
use casetight::quantity::Area;
use casetight::readings::Bench;

/// More unknown areas than this are more than a bench has, and too many to weigh against each other.
const MOST_SPOTS: usize = 20;

/// A place that leaks: a site of the engine or the rig, which is exposed in every run.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Place<S> {
    /// A site of the engine.
    Site(S),
    /// Hose, gauge, pump and blanks.
    Rig,
}

impl<S: fmt::Display> fmt::Display for Place<S> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Site(site) => site.fmt(f),
            Self::Rig => f.write_str("rig"),
        }
    }
}

/// Whether a place's area is the one before a repair or the one that it has now.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Stage {
    /// As it is now.
    Now,
    /// As it was before its repair.
    BeforeRepair,
}

/// A place at a stage: what has one area.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Spot<S> {
    /// Where.
    pub place: Place<S>,
    /// When.
    pub stage: Stage,
}

impl<S: fmt::Display> fmt::Display for Spot<S> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.place.fmt(f)?;
        match self.stage {
            Stage::Now => Ok(()),
            Stage::BeforeRepair => f.write_str(" before its repair"),
        }
    }
}

/// What is known of a sum of areas.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Relation {
    /// It was measured.
    Equals,
    /// It is no smaller.
    AtLeast,
    /// It is no larger.
    AtMost,
}

/// The effective area that a run measured, without the uncertainty that all runs of a sheet share; or a bound of it.
///
/// ```
/// use casetight_bench::isolate::Measurement;
/// use casetight::quantity::Area;
/// use uom::si::area::square_millimeter;
///
/// let mm2 = Area::new::<square_millimeter>;
/// let run = Measurement::new(mm2(0.012), mm2(0.0004))?;
/// let needle_stood_still = Measurement::at_most(mm2(0.0003), 0.95)?;
/// # Ok::<(), casetight_bench::isolate::IsolateError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measurement {
    pub(super) relation: Relation,
    /// \[m2\]
    pub(super) value: f64,
    /// Standard uncertainty \[m2\].
    pub(super) uncertainty: f64,
}

impl Measurement {
    /// A measured area and its standard uncertainty; the area may be below zero by chance.
    ///
    /// # Errors
    /// [`IsolateError::Area`] unless the area is finite, [`IsolateError::Uncertainty`] unless its uncertainty is finite
    /// and above zero.
    pub fn new(area: Area, standard_uncertainty: Area) -> Result<Self, IsolateError> {
        Self::of(
            Relation::Equals,
            area.get::<square_meter>(),
            standard_uncertainty.get::<square_meter>(),
        )
    }

    /// An upper bound at a one-sided level, where the needle stood still: a measured zero whose normal error reaches the
    /// bound at that level.
    ///
    /// # Errors
    /// [`IsolateError::Level`] outside 0.5 to 1; as [`Measurement::new`].
    pub fn at_most(bound: Area, level: f64) -> Result<Self, IsolateError> {
        if !(level > 0.5 && level < 1.0) {
            return Err(IsolateError::Level { got: level });
        }
        let uncertainty = bound.get::<square_meter>() / probability::normal_quantile(level);
        Self::of(Relation::Equals, 0.0, uncertainty)
    }

    /// A lower bound with the standard uncertainty of the bound itself.
    ///
    /// # Errors
    /// As [`Measurement::new`].
    pub fn at_least(bound: Area, standard_uncertainty: Area) -> Result<Self, IsolateError> {
        Self::of(
            Relation::AtLeast,
            bound.get::<square_meter>(),
            standard_uncertainty.get::<square_meter>(),
        )
    }

    /// The effective area of a fitted run with what of its interval is the run's own: noise, gauge and ambient. Volume
    /// and temperature are shared ([`Evidence::shared_uncertainty_of`]).
    ///
    /// # Errors
    /// As [`Measurement::new`].
    pub fn from_fit(fit: &Fit) -> Result<Self, IsolateError> {
        let (rate, area) = (fit.rate, fit.area);
        let z = probability::normal_quantile(0.5 + rate.level / 2.0);
        // Where the best rate is zero, the area's upper end stands for its size: a little wide.
        let area_per_rate = if rate.si().value > 0.0 {
            area.si().value / rate.si().value
        } else {
            area.si().high / rate.si().high
        };
        let half_width = if rate.si().low > 0.0 {
            0.5 * (rate.si().high - rate.si().low)
        } else {
            rate.si().high - rate.si().value
        };
        Self::of(
            Relation::Equals,
            area.si().value,
            half_width / z * area_per_rate,
        )
    }

    /// The lower bound of a run whose needle the pump never raised.
    ///
    /// # Errors
    /// [`IsolateError::Pump`]; as [`Measurement::new`], where the pump's strokes could all be in the case.
    pub fn from_stall(stall: &Stall, bench: &Bench) -> Result<Self, IsolateError> {
        let best = stall.least_area(bench, 0.5)?.square_meters();
        let below = stall
            .least_area(bench, probability::normal_cdf(1.0))?
            .square_meters();
        Self::of(Relation::AtLeast, best, best - below)
    }

    /// With this relative standard uncertainty of its own beside the rest, such as that of a volume that no other run has.
    #[cfg(feature = "sheet")]
    pub(crate) fn with_relative(self, relative: f64) -> Self {
        Self {
            uncertainty: self.uncertainty.hypot(relative * self.value),
            ..self
        }
    }

    /// At another pressure, where it is so many times as large, known to a relative standard uncertainty.
    #[cfg(feature = "sheet")]
    pub(crate) fn moved(self, (factor, relative): (f64, f64)) -> Self {
        let moved = Self {
            value: factor * self.value,
            uncertainty: factor * self.uncertainty,
            ..self
        };
        moved.with_relative(relative)
    }

    fn of(relation: Relation, value: f64, uncertainty: f64) -> Result<Self, IsolateError> {
        if !value.is_finite() {
            return Err(IsolateError::Area { got: value });
        }
        if !(uncertainty.is_finite() && uncertainty > 0.0) {
            return Err(IsolateError::Uncertainty { got: uncertainty });
        }
        Ok(Self {
            relation,
            value,
            uncertainty,
        })
    }
}

/// One run: what was exposed, that is, not blanked; what had been repaired by then; what came out.
///
/// A run with nothing exposed is a test of the rig alone.
#[derive(Debug, Clone, PartialEq)]
pub struct Run<S> {
    /// Sites that could leak.
    pub exposed: BTreeSet<S>,
    /// Sites whose (last) repair came before this run.
    pub repaired: BTreeSet<S>,
    /// What the run measured.
    pub measurement: Measurement,
}

impl<S: SiteName> Run<S> {
    /// A run before any repair.
    pub fn new(exposed: impl IntoIterator<Item = S>, measurement: Measurement) -> Self {
        Self {
            exposed: exposed.into_iter().collect(),
            repaired: BTreeSet::new(),
            measurement,
        }
    }

    /// The run as one made after these repairs.
    #[must_use]
    pub fn after_repair_of(mut self, sites: impl IntoIterator<Item = S>) -> Self {
        self.repaired.extend(sites);
        self
    }
}

/// All that was done and seen at one engine, in one direction, with one volume.
///
/// ```
/// use casetight_bench::isolate::{Evidence, Measurement, Run};
/// use casetight::quantity::Area;
/// use uom::si::area::square_millimeter;
///
/// let mm2 = Area::new::<square_millimeter>;
/// let measured = |area| Measurement::new(mm2(area), mm2(0.03 * area));
/// let evidence = Evidence {
///     runs: vec![
///         Run::new(["base gasket", "intake boot", "spark plug"], measured(0.0120)?),
///         Run::new(["base gasket", "spark plug"], measured(0.0021)?),
///     ],
///     soap: vec![],
///     shared_relative_uncertainty: 0.03,
/// };
/// let found = casetight_bench::isolate::isolate(&evidence, 0.95)?;
/// let boot = found.share(&"intake boot").unwrap();
/// assert!(boot.area.low > mm2(0.0088) && boot.area.high < mm2(0.0113));
/// // No run told the other two, or the rig, apart: their sum is known.
/// assert_eq!(found.share(&"spark plug").unwrap().spots.len(), 3);
/// assert_eq!(found.bounds(&"spark plug").unwrap().0, 0.0);
/// # Ok::<(), casetight_bench::isolate::IsolateError>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence<S> {
    /// The runs, in the order in which they were made.
    pub runs: Vec<Run<S>>,
    /// What was sprayed.
    pub soap: Vec<Sprayed<S>>,
    /// Relative standard uncertainty that all measured areas share, by one volume and one temperature.
    pub shared_relative_uncertainty: f64,
}

impl<S: SiteName> Evidence<S> {
    /// The places that were seen to bubble as they are now, each once: not those that were repaired since.
    pub(crate) fn bubbling(&self) -> impl Iterator<Item = Spot<S>> {
        let repaired: BTreeSet<&S> = self.runs.iter().flat_map(|run| &run.repaired).collect();
        let bubbled: BTreeSet<&S> = self
            .soap
            .iter()
            .filter(|seen| seen.sight() == Sight::Bubbles)
            .filter(|seen| seen.is_after_repair() || !repaired.contains(seen.site()))
            .map(Sprayed::site)
            .collect();
        bubbled.into_iter().map(|site| Spot {
            place: Place::Site(site.clone()),
            stage: Stage::Now,
        })
    }
}

impl<S> Evidence<S> {
    /// What fitted runs of one sheet share: volume and temperature, what the volume stretches by included, the largest of all runs (they are of one volume).
    pub fn shared_uncertainty_of<'a>(fits: impl IntoIterator<Item = &'a Fit>) -> f64 {
        fits.into_iter().map(Fit::relative_size).fold(0.0, f64::max)
    }
}

/// One equation or bound: a sum of spots and what is known of it.
#[derive(Debug, Clone)]
pub(super) struct Equation {
    /// Whether each spot is in the sum.
    pub(super) has: Vec<bool>,
    pub(super) relation: Relation,
    /// \[m2\]
    pub(super) value: f64,
    /// \[m2\]
    pub(super) uncertainty: f64,
}

impl Equation {
    fn of_run<S: SiteName>(run: &Run<S>, has: Vec<bool>, shared: f64) -> Self {
        let Measurement {
            relation,
            value,
            uncertainty,
        } = run.measurement;
        Self {
            has,
            relation,
            value,
            // A bound from the pump does not scale with the shared volume as the measured areas do.
            uncertainty: if relation == Relation::Equals {
                uncertainty
            } else {
                uncertainty.hypot(shared * value)
            },
        }
    }

    fn of_soap<S: SiteName>(sprayed: &Sprayed<S>, has: Vec<bool>) -> Self {
        Self {
            has,
            relation: match sprayed.sight() {
                Sight::Bubbles => Relation::AtLeast,
                Sight::Dry => Relation::AtMost,
            },
            value: sprayed.bound().square_meters(),
            uncertainty: sprayed.uncertainty().get::<square_meter>(),
        }
    }

    /// An order that does not depend on when a run was made.
    fn by_content(&self, other: &Self) -> Ordering {
        self.has
            .cmp(&other.has)
            .then(self.relation.cmp(&other.relation))
            .then(self.value.total_cmp(&other.value))
            .then(self.uncertainty.total_cmp(&other.uncertainty))
    }

    /// Departure of a sum from what is known of it, in standard uncertainties; zero where a bound is kept.
    pub(super) fn departure(&self, sum: f64) -> f64 {
        let off = (sum - self.value) / self.uncertainty;
        match self.relation {
            Relation::Equals => off,
            Relation::AtLeast => off.min(0.0),
            Relation::AtMost => off.max(0.0),
        }
    }
}

/// The unknown areas and all that is known of their sums.
#[derive(Debug, Clone)]
pub(super) struct Equations<S> {
    pub(super) spots: Vec<Spot<S>>,
    pub(super) rows: Vec<Equation>,
}

/// The sites that some run has repaired: each has an area of before, and one of now.
struct Repairs<'e, S>(BTreeSet<&'e S>);

impl<'e, S: SiteName> Repairs<'e, S> {
    fn of(evidence: &'e Evidence<S>) -> Self {
        Self(evidence.runs.iter().flat_map(|r| &r.repaired).collect())
    }

    fn spot(&self, site: &S, repaired: bool) -> Spot<S> {
        Spot {
            place: Place::Site(site.clone()),
            stage: if self.0.contains(site) && !repaired {
                Stage::BeforeRepair
            } else {
                Stage::Now
            },
        }
    }

    /// The spots that a run leaks at, the rig's among them.
    fn open_in(&self, run: &Run<S>) -> BTreeSet<Spot<S>> {
        run.exposed
            .iter()
            .map(|site| self.spot(site, run.repaired.contains(site)))
            .chain([Spot {
                place: Place::Rig,
                stage: Stage::Now,
            }])
            .collect()
    }
}

impl<S: SiteName> Equations<S> {
    /// # Errors
    /// [`IsolateError`] names what is wrong with the evidence.
    pub(super) fn new(evidence: &Evidence<S>) -> Result<Self, IsolateError> {
        let shared = evidence.shared_relative_uncertainty;
        if !(0.0..=0.5).contains(&shared) {
            return Err(IsolateError::SharedUncertainty { got: shared });
        }
        if evidence.runs.is_empty() {
            return Err(IsolateError::NoRuns);
        }
        let repairs = Repairs::of(evidence);
        let spots: Vec<Spot<S>> = evidence
            .runs
            .iter()
            .flat_map(|run| repairs.open_in(run))
            .collect::<BTreeSet<_>>()
            .into_iter()
            .collect();
        if spots.len() > MOST_SPOTS {
            return Err(IsolateError::TooManySpots {
                got: spots.len(),
                most: MOST_SPOTS,
            });
        }
        let mut rows: Vec<Equation> = evidence
            .runs
            .iter()
            .map(|run| {
                let open = repairs.open_in(run);
                let has = spots.iter().map(|s| open.contains(s)).collect();
                Equation::of_run(run, has, shared)
            })
            .collect();
        for sprayed in &evidence.soap {
            let at = repairs.spot(sprayed.site(), sprayed.is_after_repair());
            let has: Vec<bool> = spots.iter().map(|s| *s == at).collect();
            if !has.contains(&true) {
                return Err(IsolateError::SprayedUnexposed {
                    site: sprayed.site().to_string(),
                });
            }
            rows.push(Equation::of_soap(sprayed, has));
        }
        // In an order of their own: the same runs in another order give the same answer to the last digit.
        rows.sort_by(Equation::by_content);
        Ok(Self { spots, rows })
    }
}

/// The size that areas are counted in: the largest that was measured, or its uncertainty \[m2\].
pub(super) fn scale(rows: &[Equation]) -> f64 {
    rows.iter()
        .map(|row| row.value.abs().max(row.uncertainty))
        .fold(f64::MIN_POSITIVE, f64::max)
}
