//! The assessment as one document: the JSON of the command line and of the Python package, SI units in field names.

use serde::Serialize;
use uom::si::length::meter;
use uom::si::time::second;

use super::{AssessError, GoOn, Outcome, RunAssessment};
use crate::fit::{Interval, LawWeight, Part, PartKind};
use crate::limit::{Basis, Decision, Verdict};
use crate::vessel::{DecayLaw, Direction};

/// Version of the document; a field's meaning never changes within one.
pub const FORMAT: u32 = 1;

/// An assessed session.
#[derive(Debug, Clone, Serialize)]
pub struct AssessDocument {
    /// [`FORMAT`].
    pub format: u32,
    /// One a run, in the sheet's order.
    pub runs: Vec<RunDocument>,
    /// What to do next, in sentences.
    pub next: Vec<String>,
}

/// A value with an interval whose ends may be missing: a stalled run has a lower end only.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct OpenInterval {
    /// Best estimate.
    pub value: Option<f64>,
    /// Lower end.
    pub low: Option<f64>,
    /// Upper end.
    pub high: Option<f64>,
}

impl OpenInterval {
    fn above(low: f64) -> Self {
        Self {
            value: None,
            low: Some(low),
            high: None,
        }
    }
}

impl From<Interval> for OpenInterval {
    fn from(i: Interval) -> Self {
        Self {
            value: Some(i.value),
            low: Some(i.low),
            high: Some(i.high),
        }
    }
}

/// An interval at a level.
#[derive(Debug, Clone, Serialize)]
pub struct LeveledInterval {
    #[serde(flatten)]
    interval: OpenInterval,
    level: f64,
}

/// A diameter and the discharge coefficient it assumes.
#[derive(Debug, Clone, Serialize)]
pub struct DiameterInterval {
    #[serde(flatten)]
    interval: OpenInterval,
    cd: f64,
}

/// A volume flow and the conditions it is counted at.
#[derive(Debug, Clone, Serialize)]
pub struct FlowInterval {
    #[serde(flatten)]
    interval: OpenInterval,
    reference: String,
}

/// A limit as it applies to a run.
#[derive(Debug, Clone, Serialize)]
pub struct LimitDocument {
    /// What the decision was made on.
    pub basis: &'static str,
    /// Largest allowed effective area at the best value of the volume.
    pub allowed_area_m2: f64,
    /// Largest allowed rate.
    pub allowed_rate_per_s: f64,
    /// Probability of being within it; null where the readings take back what the fit says.
    pub probability_within: Option<f64>,
    /// What follows from it, and from what the readings support.
    pub verdict: Verdict,
    /// How sure that verdict is; null where it is undecided.
    pub sureness: Option<f64>,
}

/// A reason not to take the fit at its word.
#[derive(Debug, Clone, Serialize)]
pub struct DoubtDocument {
    /// Its name.
    pub doubt: &'static str,
    /// In a sentence.
    pub reason: String,
}

/// One part of the area's uncertainty.
#[derive(Debug, Clone, Serialize)]
pub struct PartDocument {
    /// Where it comes from.
    pub part: PartKind,
    /// Standard uncertainty.
    pub standard_uncertainty_m2: f64,
}

/// A leak law and how well it explains the readings.
#[derive(Debug, Clone, Serialize)]
pub struct LawDocument {
    /// The law's name.
    pub law: &'static str,
    /// Its probability given the readings, among the laws tried.
    pub weight: f64,
}

/// An assessed run. Fields that a run doesn't have are null.
#[derive(Debug, Clone, Serialize)]
pub struct RunDocument {
    /// The run's name.
    pub name: String,
    /// Pressure or vacuum.
    pub direction: Direction,
    /// The verdict; null where no limit is stated.
    pub verdict: Option<Verdict>,
    /// Effective area.
    pub effective_area_m2: LeveledInterval,
    /// Diameter of the round hole that an assumed discharge coefficient gives.
    pub diameter_m: DiameterInterval,
    /// The rig's own effective area, where it was taken off.
    pub rig_effective_area_m2: Option<OpenInterval>,
    /// Flow at the start pressure.
    pub flow_m3_s: FlowInterval,
    /// Rate k.
    pub rate_per_s: OpenInterval,
    /// Fitted gauge pressure at the first reading; the highest pressure of a stalled run.
    pub start_gauge_pa: f64,
    /// The leak law that the readings tell; null where they don't. A stall's bound is that of an orifice.
    pub law: Option<&'static str>,
    /// The laws tried that can't be dismissed, the likeliest first.
    pub laws: Vec<LawDocument>,
    /// Root mean square of reading less fit.
    pub residual_rms_pa: Option<f64>,
    /// Probability that the strictest limit is met, by the fit.
    pub probability_within_limit: Option<f64>,
    /// How sure the verdict is; null where it is undecided, stalled or not given.
    pub sureness: Option<f64>,
    /// Why the fit is not taken at its word, the gravest reason first.
    pub doubts: Vec<DoubtDocument>,
    /// How much longer to hold an undecided run; null where that would not help or is not needed.
    pub go_on_s: Option<f64>,
    /// Where the interval comes from.
    pub parts: Vec<PartDocument>,
    /// The limits, as they apply.
    pub limits: Vec<LimitDocument>,
    /// What to know, in sentences.
    pub notes: Vec<String>,
}

impl From<&Decision> for LimitDocument {
    fn from(decision: &Decision) -> Self {
        Self {
            basis: match decision.allowed.basis {
                Basis::Rate => "rate",
                Basis::Area => "area",
            },
            allowed_area_m2: decision.allowed.area_m2,
            allowed_rate_per_s: decision.allowed.rate,
            probability_within: decision.supported_probability(),
            verdict: decision.verdict,
            sureness: decision.sureness(),
        }
    }
}

impl From<&Part> for PartDocument {
    fn from(part: &Part) -> Self {
        Self {
            part: part.kind,
            standard_uncertainty_m2: part.standard_uncertainty_m2,
        }
    }
}

impl From<&LawWeight> for LawDocument {
    fn from(law: &LawWeight) -> Self {
        Self {
            law: law.law.name(),
            weight: law.weight,
        }
    }
}

impl RunDocument {
    /// The document of a run.
    ///
    /// # Errors
    /// [`AssessError::Leak`] for an impossible discharge coefficient.
    pub fn new(name: &str, run: &RunAssessment) -> Result<Self, AssessError> {
        let assumptions = &run.assumptions;
        let level = assumptions.level;
        let cd = assumptions.discharge_coefficient;
        let reference = assumptions.flow_reference.to_string();
        let leveled = |interval| LeveledInterval { interval, level };
        let notes = run.notes.iter().map(ToString::to_string).collect();
        let base = Self {
            name: name.to_owned(),
            direction: run.direction,
            verdict: run.verdict,
            effective_area_m2: leveled(OpenInterval::above(0.0)),
            diameter_m: DiameterInterval {
                interval: OpenInterval::above(0.0),
                cd,
            },
            flow_m3_s: FlowInterval {
                interval: OpenInterval::above(0.0),
                reference: reference.clone(),
            },
            rig_effective_area_m2: None,
            rate_per_s: OpenInterval::above(0.0),
            start_gauge_pa: 0.0,
            law: None,
            laws: Vec::new(),
            residual_rms_pa: None,
            probability_within_limit: run.probability_within_limit(),
            sureness: run.sureness(),
            doubts: run
                .doubts()
                .map(|doubt| DoubtDocument {
                    doubt: doubt.name(),
                    reason: doubt.words(assumptions.pressure_unit),
                })
                .collect(),
            go_on_s: None,
            parts: Vec::new(),
            limits: Vec::new(),
            notes,
        };
        Ok(match &run.outcome {
            Outcome::Fitted(fitted) => Self {
                effective_area_m2: leveled(fitted.fit.area.into()),
                diameter_m: DiameterInterval {
                    interval: fitted.diameter_m.into(),
                    cd,
                },
                flow_m3_s: FlowInterval {
                    interval: fitted.flow_m3_s.into(),
                    reference,
                },
                rig_effective_area_m2: fitted.fit.rig.map(Into::into),
                rate_per_s: fitted.fit.rate.into(),
                start_gauge_pa: fitted.fit.start.pascals(),
                law: fitted.fit.law.map(DecayLaw::name),
                laws: fitted.fit.laws.iter().map(Into::into).collect(),
                residual_rms_pa: Some(fitted.fit.residual_rms_pa),
                go_on_s: match fitted.go_on {
                    Some(GoOn::For(time)) => Some(time.get::<second>()),
                    _ => None,
                },
                parts: fitted.fit.parts.iter().map(Into::into).collect(),
                limits: fitted.decisions.iter().map(Into::into).collect(),
                ..base
            },
            Outcome::Stalled { stall, bound } => Self {
                effective_area_m2: leveled(OpenInterval::above(bound.area.square_meters())),
                diameter_m: DiameterInterval {
                    interval: OpenInterval::above(bound.area.diameter(cd)?.get::<meter>()),
                    cd,
                },
                flow_m3_s: FlowInterval {
                    interval: OpenInterval::above(bound.flow_m3_s),
                    reference,
                },
                rate_per_s: OpenInterval::above(bound.rate),
                start_gauge_pa: stall.reached().pascals(),
                law: Some(DecayLaw::Orifice.name()),
                ..base
            },
        })
    }
}
