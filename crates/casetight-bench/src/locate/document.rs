//! The sites as one document: the JSON of the command line, SI units in field names.

use serde::Serialize;
use uom::si::length::meter;

use super::found::{InDirection, Located};
use super::verdict::is_now;
use crate::isolate::{Share, Sight, Sprayed, Stage, Step};
use crate::record::Site;
use casetight::estimate::Estimate;
use casetight::leak::EffectiveArea;
use casetight::limit::Verdict;
use casetight::quantity::Area;
use casetight::vessel::Direction;

/// Version of the document; a field's meaning never changes within one.
pub const FORMAT: u32 = 1;

/// A sheet's sites.
#[derive(Debug, Clone, Serialize)]
pub struct LocateDocument {
    /// [`FORMAT`].
    pub format: u32,
    /// One for each direction.
    pub directions: Vec<DirectionDocument>,
    /// What to know, in sentences.
    pub notes: Vec<String>,
}

/// The sites in one direction.
#[derive(Debug, Clone, Serialize)]
pub struct DirectionDocument {
    /// Pressure or vacuum.
    pub direction: Direction,
    /// The gauge pressure that all areas belong to, and that limits are converted at.
    pub at_gauge_pa: f64,
    /// The verdict on all sites; null where no limit is stated.
    pub verdict: Option<Verdict>,
    /// The strictest limit of all runs of the engine as an effective area; null where none is stated.
    pub allowed_area_m2: Option<f64>,
    /// Relative standard uncertainty that all areas share, by volume and temperature.
    pub shared_relative_uncertainty: f64,
    /// What leaked in each run, all open places together.
    pub runs: Vec<RunAreaDocument>,
    /// Each place, or several that were not told apart, at a stage.
    pub shares: Vec<ShareDocument>,
    /// Each site as it is now.
    pub sites: Vec<SiteDocument>,
    /// The rig's share; null where it was not told apart from a site.
    pub rig: Option<AreaInterval>,
    /// How the runs fit together.
    pub consistency: Consistency,
    /// What soap says.
    pub soap: Vec<SoapDocument>,
    /// What to do next.
    pub next: NextDocument,
}

/// What leaked in one run.
#[derive(Debug, Clone, Serialize)]
pub struct RunAreaDocument {
    /// The run's name.
    pub name: String,
    /// Best estimate; null of a stalled pump.
    pub value_m2: Option<f64>,
    /// Lower end.
    pub low_m2: f64,
    /// Upper end; null where nothing bounds it.
    pub high_m2: Option<f64>,
    /// The strictest limit in this run's volume; null where none is stated, and for the rig alone.
    pub allowed_area_m2: Option<f64>,
}

/// An effective area with its interval; an upper end that nothing bounds is null.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct AreaInterval {
    /// Best estimate.
    pub value: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: Option<f64>,
    /// Confidence level.
    pub level: f64,
}

/// The diameter of a round hole and the discharge coefficient it assumes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct HoleInterval {
    /// Best estimate.
    pub value: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: Option<f64>,
    /// Discharge coefficient.
    pub cd: f64,
}

/// What one place, or several that were not told apart, leak together.
#[derive(Debug, Clone, Serialize)]
pub struct ShareDocument {
    /// The places; `rig` is hose, gauge, pump and blanks.
    pub places: Vec<String>,
    /// `now` or `before_repair`.
    pub stage: &'static str,
    /// Whether the runs alone fix the sum.
    pub told_apart: bool,
    /// Whether bubbles were seen there: it leaks, whatever its lower end.
    pub bubbled: bool,
    /// The verdict; null where no limit is stated, for the rig, and for what was there before a repair.
    pub verdict: Option<Verdict>,
    /// Effective area.
    pub effective_area_m2: AreaInterval,
    /// Diameter of the round hole of this area.
    pub diameter_m: HoleInterval,
}

/// A site as it is now.
#[derive(Debug, Clone, Serialize)]
pub struct SiteDocument {
    /// The site.
    pub site: String,
    /// Lower end of its own interval: zero where it was not told apart.
    pub low_m2: f64,
    /// Upper end; null where nothing bounds it.
    pub high_m2: Option<f64>,
    /// The places that it was not told apart from.
    pub shares_with: Vec<String>,
    /// Probability that it is the worst leak of this direction; null where the runs contradict each other.
    pub probability_worst: Option<f64>,
}

/// How the runs fit together.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Consistency {
    /// Sum of the squared departures from the best areas.
    pub chi_squared: f64,
    /// Runs and soap evidence less the areas that were fitted above zero.
    pub degrees_of_freedom: usize,
    /// Probability of departures as large by chance.
    pub probability_of_misfit: f64,
}

/// What soap says of a site.
#[derive(Debug, Clone, Serialize)]
pub struct SoapDocument {
    /// The site.
    pub site: String,
    /// `bubbles` or `dry`.
    pub sight: &'static str,
    /// Whether it was sprayed after its repair.
    pub after_repair: bool,
    /// Bound of its effective area: lower for bubbles, upper for none.
    pub bound_m2: f64,
    /// Whether leaks stayed hidden that a full pressure would have shown.
    pub hides_others: bool,
    /// The same in a sentence.
    pub text: String,
}

/// What to do next.
#[derive(Debug, Clone, Serialize)]
pub struct NextDocument {
    /// `blank`, `spray`, `repair`, `done` or `nothing_tells`.
    pub step: &'static str,
    /// Sites (or the rig) that the step is done to.
    pub sites: Vec<String>,
    /// Expected information on which place is the worst.
    pub bits: f64,
    /// Probability of the step's yes.
    pub probability: f64,
    /// Probability that nothing leaks.
    pub probability_tight: f64,
    /// The step with its reason, in a sentence.
    pub text: String,
    /// Cautions that belong to the step.
    pub cautions: Vec<&'static str>,
}

fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

impl From<Estimate<Area>> for AreaInterval {
    fn from(area: Estimate<Area>) -> Self {
        let i = area.si();
        Self {
            value: i.value,
            low: i.low,
            high: finite(i.high),
            level: i.level,
        }
    }
}

impl Located {
    /// The document of the sites.
    #[must_use]
    pub fn document(&self) -> LocateDocument {
        LocateDocument {
            format: FORMAT,
            directions: self.directions.iter().map(direction).collect(),
            notes: self.notes.iter().map(ToString::to_string).collect(),
        }
    }
}

fn direction(of: &InDirection) -> DirectionDocument {
    let rig = of.found.rig().filter(|share| share.spots.len() == 1);
    DirectionDocument {
        direction: of.direction,
        at_gauge_pa: of.at.pascals(),
        verdict: of.verdict(),
        allowed_area_m2: of.allowed_area_m2,
        shared_relative_uncertainty: of.evidence.shared_relative_uncertainty,
        runs: of
            .runs
            .iter()
            .map(|run| (run, run.area.si()))
            .map(|(run, area)| RunAreaDocument {
                name: run.name.clone(),
                value_m2: (!run.is_bound).then_some(area.value),
                low_m2: area.low,
                high_m2: Some(area.high).filter(|high| high.is_finite()),
                allowed_area_m2: run.allowed_area_m2,
            })
            .collect(),
        shares: of.found.shares.iter().map(|s| share(of, s)).collect(),
        sites: of
            .sites()
            .map(|(name, share)| site(of, name, share))
            .collect(),
        rig: rig.map(|share| share.area.into()),
        consistency: Consistency {
            chi_squared: of.found.chi_squared,
            degrees_of_freedom: of.found.degrees_of_freedom,
            probability_of_misfit: of.found.probability_of_misfit,
        },
        soap: of
            .evidence
            .soap
            .iter()
            .map(|sprayed| soap(sprayed, of))
            .collect(),
        next: next(of),
    }
}

fn share(of: &InDirection, share: &Share<Site>) -> ShareDocument {
    let cd = of.discharge_coefficient;
    // A coefficient of a sheet lies within what it can be.
    let hole = |area: f64| {
        let area = EffectiveArea::from_square_meters(area).ok()?;
        let diameter = area.diameter(cd).ok()?;
        Some(diameter.get::<meter>())
    };
    let area = share.area;
    ShareDocument {
        places: places(share),
        stage: if is_now(share) {
            "now"
        } else {
            "before_repair"
        },
        told_apart: share.told_apart,
        bubbled: share.bubbled,
        verdict: of.verdict_on(share),
        effective_area_m2: area.into(),
        diameter_m: HoleInterval {
            value: hole(area.si().value).unwrap_or(0.0),
            low: hole(area.si().low).unwrap_or(0.0),
            high: hole(area.si().high),
            cd,
        },
    }
}

/// The places of a share; of one that mixes stages each says its own.
fn places(share: &Share<Site>) -> Vec<String> {
    let mixed = is_now(share) && share.spots.iter().any(|s| s.stage == Stage::BeforeRepair);
    let named = |spot: &crate::isolate::Spot<Site>| {
        if mixed {
            spot.to_string()
        } else {
            spot.place.to_string()
        }
    };
    share.spots.iter().map(named).collect()
}

fn site(of: &InDirection, name: &Site, share: &Share<Site>) -> SiteDocument {
    let place = crate::isolate::Place::Site(name.clone());
    let others = share
        .spots
        .iter()
        .filter(|spot| spot.place != place || spot.stage != Stage::Now);
    SiteDocument {
        site: name.to_string(),
        low_m2: if share.spots.len() == 1 {
            share.area.si().low
        } else {
            0.0
        },
        high_m2: finite(share.area.si().high),
        shares_with: others.map(ToString::to_string).collect(),
        probability_worst: of.probability_worst(&place),
    }
}

fn soap(sprayed: &Sprayed<Site>, of: &InDirection) -> SoapDocument {
    SoapDocument {
        site: sprayed.site().to_string(),
        sight: match sprayed.sight() {
            Sight::Bubbles => "bubbles",
            Sight::Dry => "dry",
        },
        after_repair: sprayed.is_after_repair(),
        bound_m2: sprayed.bound().square_meters(),
        hides_others: sprayed.hides_others(),
        text: format!("{}.", sprayed.words(of.pressure_unit)),
    }
}

fn next(of: &InDirection) -> NextDocument {
    let names = |sites: &[Site]| sites.iter().map(ToString::to_string).collect();
    let (step, sites): (&str, Vec<String>) = match &of.next.step {
        Step::Blank(sites) => ("blank", names(sites)),
        Step::Spray(site) => ("spray", vec![site.to_string()]),
        Step::Repair(place) => ("repair", vec![place.to_string()]),
        Step::Done => ("done", Vec::new()),
        Step::NothingTells => ("nothing_tells", Vec::new()),
    };
    NextDocument {
        step,
        sites,
        bits: of.next.bits,
        probability: of.next.probability,
        probability_tight: of.next.suspects.tight,
        text: format!("{}.", of.next),
        cautions: of.next.cautions.clone(),
    }
}
