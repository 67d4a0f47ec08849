//! Comparisons and trends as one document: the JSON of the command line and of other bindings, SI units in field names.

use serde::Serialize;

use super::ratio::{Change, Comparison};
use super::sheets::{Pair, Repair, SheetTrend, SheetsComparison};
use super::test::{Known, Test};
use super::trend::{Course, Unit};
use crate::assess::document::OpenInterval;
use casetight::estimate::Estimate;
use casetight::limit::Verdict;
use casetight::quantity::Area;
use casetight::vessel::Direction;

/// Version of the documents; a field's meaning never changes within one.
pub const FORMAT: u32 = 1;

/// Two sheets compared.
#[derive(Debug, Clone, Serialize)]
pub struct CompareDocument {
    /// [`FORMAT`].
    pub format: u32,
    /// `holds`, `repaired`, `still_leaks` or `not_told`: the worst of the pairs.
    pub repair: Repair,
    /// One a pair of runs.
    pub pairs: Vec<PairDocument>,
    /// Runs without a partner on the sheet before.
    pub only_before: Vec<String>,
    /// Runs without a partner on the sheet after.
    pub only_after: Vec<String>,
    /// What to know of the sheets, in sentences.
    pub notes: Vec<String>,
}

/// Two runs compared. Ends that the readings don't tell are null.
#[derive(Debug, Clone, Serialize)]
pub struct PairDocument {
    /// Name of the run before.
    pub run_before: String,
    /// Name of the run after.
    pub run_after: String,
    /// Pressure or vacuum.
    pub direction: Direction,
    /// `holds` (now, and no repair is told), `repaired`, `still_leaks` or `not_told`.
    pub repair: Repair,
    /// `fell`, `grew` or `not_told`.
    pub change: Change,
    /// Area after over area before.
    pub ratio: RatioDocument,
    /// Two-sided p-value.
    pub p_value: f64,
    /// Whether it is an upper bound.
    pub p_value_is_bound: bool,
    /// Probability that the leak is smaller than it was.
    pub probability_fell: f64,
    /// Effective area before.
    pub effective_area_before_m2: OpenInterval,
    /// Effective area after.
    pub effective_area_after_m2: OpenInterval,
    /// Verdict by the limit before; null without one.
    pub verdict_before: Option<Verdict>,
    /// Verdict by the limit after.
    pub verdict_after: Option<Verdict>,
    /// Gauge pressure that the areas are compared at.
    pub at_gauge_pa: f64,
    /// All of it in a sentence.
    pub sentence: String,
    /// What to know, in sentences.
    pub notes: Vec<String>,
}

/// A ratio; ends that are not told are null.
#[derive(Debug, Clone, Serialize)]
pub struct RatioDocument {
    #[serde(flatten)]
    interval: OpenInterval,
    level: f64,
}

impl RatioDocument {
    fn new(r: Estimate<f64>, tells_value: bool) -> Self {
        Self {
            interval: OpenInterval {
                value: tells_value.then_some(r.value),
                low: Some(r.low),
                high: Some(r.high).filter(|high| high.is_finite()),
            },
            level: r.level,
        }
    }
}

fn area(area: Estimate<Area>, known: Known) -> OpenInterval {
    let i = area.si();
    if known == Known::AtLeast {
        OpenInterval {
            value: None,
            low: Some(i.low),
            high: None,
        }
    } else {
        i.into()
    }
}

impl PairDocument {
    fn new(pair: &Pair) -> Self {
        let c: &Comparison = &pair.comparison;
        Self {
            run_before: pair.before.clone(),
            run_after: pair.after.clone(),
            direction: pair.direction,
            repair: pair.repair,
            change: c.change,
            ratio: RatioDocument::new(c.ratio, c.tells_value()),
            p_value: c.p_value,
            p_value_is_bound: c.p_is_bound(),
            probability_fell: c.probability_fell,
            effective_area_before_m2: area(c.before, c.known.0),
            effective_area_after_m2: area(c.after, c.known.1),
            verdict_before: pair.verdicts.0,
            verdict_after: pair.verdicts.1,
            at_gauge_pa: c.at.pascals(),
            sentence: c.to_string(),
            notes: c.notes.iter().map(ToString::to_string).collect(),
        }
    }
}

impl From<&SheetsComparison> for CompareDocument {
    fn from(compared: &SheetsComparison) -> Self {
        Self {
            format: FORMAT,
            repair: compared.repair,
            pairs: compared.pairs.iter().map(PairDocument::new).collect(),
            only_before: compared.only_before.clone(),
            only_after: compared.only_after.clone(),
            notes: compared.notes.iter().map(ToString::to_string).collect(),
        }
    }
}

/// Trends over many sheets.
#[derive(Debug, Clone, Serialize)]
pub struct TrendsDocument {
    /// [`FORMAT`].
    pub format: u32,
    /// One a direction.
    pub trends: Vec<TrendDocument>,
}

/// The trend of a direction.
#[derive(Debug, Clone, Serialize)]
pub struct TrendDocument {
    /// Pressure or vacuum.
    pub direction: Direction,
    /// `grows`, `shrinks` or `not_told`.
    pub course: Course,
    /// Whether `growth` is for thirty `days`, or from one to the next of the `tests`.
    pub unit: Unit,
    /// Factor of growth; null where too few tests tell a size.
    pub growth: Option<RatioDocument>,
    /// Two-sided p-value.
    pub p_value: f64,
    /// Standard deviation of ln A from test to test; null where not told.
    pub scatter_ln: Option<f64>,
    /// The tests, in the order of time.
    pub tests: Vec<TrendTestDocument>,
    /// All of it in a sentence.
    pub sentence: String,
}

/// A test in a trend.
#[derive(Debug, Clone, Serialize)]
pub struct TrendTestDocument {
    /// The sheet's title.
    pub title: String,
    /// Its date.
    pub date: Option<String>,
    /// The run's name.
    pub run: String,
    /// Days since the first test, or its place in the order.
    pub at: f64,
    /// Effective area.
    pub effective_area_m2: OpenInterval,
    /// The trend's line there; null where none is told.
    pub fitted_area_m2: Option<f64>,
}

impl From<&[SheetTrend]> for TrendsDocument {
    fn from(trends: &[SheetTrend]) -> Self {
        let of_test = |test: &Test| area(test.area(), test.known());
        Self {
            format: FORMAT,
            trends: trends
                .iter()
                .map(|one| TrendDocument {
                    direction: one.direction,
                    course: one.trend.course,
                    unit: one.trend.unit,
                    growth: one
                        .trend
                        .growth
                        .map(|growth| RatioDocument::new(growth, true)),
                    p_value: one.trend.p_value,
                    scatter_ln: Some(one.trend.scatter).filter(|s| s.is_finite()),
                    tests: one
                        .runs
                        .iter()
                        .zip(&one.trend.fitted_m2)
                        .map(|(run, fitted)| TrendTestDocument {
                            title: run.title.clone(),
                            date: run.date.map(|d| d.to_string()),
                            run: run.run.clone(),
                            at: run.at,
                            effective_area_m2: of_test(&run.test),
                            fitted_area_m2: Some(*fitted).filter(|f| f.is_finite()),
                        })
                        .collect(),
                    sentence: one.trend.to_string(),
                })
                .collect(),
        }
    }
}
