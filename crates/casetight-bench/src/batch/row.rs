//! The result of one run as a flat row: the columns of the table that the command line and the Python package write.

use uom::si::frequency::hertz;

use super::BatchError;
use crate::assess::{Outcome, RunAssessment};
use casetight::doubt::Doubt;
use casetight::limit::Verdict;
use casetight::vessel::DecayLaw;

/// One run's results, SI units in the names. A number that the run doesn't have is none, the upper end of an interval that is
/// open upward too.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct BatchRow {
    /// The run's name.
    pub run: String,
    /// The verdict; none without a limit, or where there is an error.
    pub verdict: Option<Verdict>,
    /// Effective area `CdA`.
    pub effective_area_m2: Option<f64>,
    /// Lower end of its interval.
    pub area_low_m2: Option<f64>,
    /// Upper end of its interval.
    pub area_high_m2: Option<f64>,
    /// Rate k.
    pub rate_per_s: Option<f64>,
    /// Lower end of its interval.
    pub rate_low_per_s: Option<f64>,
    /// Upper end of its interval.
    pub rate_high_per_s: Option<f64>,
    /// Fitted gauge pressure at the first reading.
    pub start_gauge_pa: Option<f64>,
    /// The leak law behind the numbers.
    pub law: Option<&'static str>,
    /// Root mean square of reading less fit.
    pub residual_rms_pa: Option<f64>,
    /// What is wrong with the run.
    pub error: Option<String>,
    /// Why the fit is not taken at its word: the names of the reasons, the gravest first, with a space between; none where it is.
    pub doubts: Option<String>,
}

impl BatchRow {
    /// The row of a run.
    #[must_use]
    pub fn new(run: &str, assessed: &Result<RunAssessment, BatchError>) -> Self {
        let empty = Self {
            run: run.to_owned(),
            verdict: None,
            effective_area_m2: None,
            area_low_m2: None,
            area_high_m2: None,
            rate_per_s: None,
            rate_low_per_s: None,
            rate_high_per_s: None,
            start_gauge_pa: None,
            law: None,
            residual_rms_pa: None,
            error: None,
            doubts: None,
        };
        let assessment = match assessed {
            Ok(assessment) => assessment,
            Err(error) => {
                return Self {
                    error: Some(error.to_string()),
                    ..empty
                };
            }
        };
        let verdict = assessment.verdict;
        let doubts: Vec<&str> = assessment.doubts().map(Doubt::name).collect();
        let doubts = (!doubts.is_empty()).then(|| doubts.join(" "));
        let finite = |end: f64| Some(end).filter(|end| end.is_finite());
        match &assessment.outcome {
            Outcome::Fitted(fitted) => {
                let (area, rate) = (&fitted.fit.area, &fitted.fit.rate);
                Self {
                    verdict,
                    effective_area_m2: Some(area.si().value),
                    area_low_m2: Some(area.si().low),
                    area_high_m2: finite(area.si().high),
                    rate_per_s: Some(rate.si().value),
                    rate_low_per_s: Some(rate.si().low),
                    rate_high_per_s: finite(rate.si().high),
                    start_gauge_pa: Some(fitted.fit.start.pascals()),
                    law: Some(law_of(assessment)),
                    residual_rms_pa: finite(fitted.fit.residual_rms_pa),
                    doubts,
                    ..empty
                }
            }
            Outcome::Stalled { stall, bound } => Self {
                verdict,
                area_low_m2: Some(bound.area.square_meters()),
                rate_low_per_s: Some(bound.rate.get::<hertz>()),
                start_gauge_pa: Some(stall.reached().pascals()),
                law: Some(law_of(assessment)),
                ..empty
            },
        }
    }
}

/// The law that a run's readings tell; empty where they don't. A stall's bound is an orifice's.
fn law_of(assessment: &RunAssessment) -> &'static str {
    match &assessment.outcome {
        Outcome::Fitted(fitted) => fitted.fit.law.map_or("", DecayLaw::name),
        Outcome::Stalled { .. } => DecayLaw::Orifice.name(),
    }
}
