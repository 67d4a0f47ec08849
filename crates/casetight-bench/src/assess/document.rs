//! The assessment as one document: the JSON of the command line and of the Python package, SI units in field names.

use serde::Serialize;
use uom::si::frequency::hertz;
use uom::si::length::meter;
use uom::si::time::second;
use uom::si::volume_rate::cubic_meter_per_second;

use super::{AssessError, Bound, FittedRun, GoOn, Outcome, RunAssessment};
use casetight::estimate::Estimate;
use casetight::fit::{LawWeight, Part, PartKind};
use casetight::limit::{Basis, Decision, Verdict};
use casetight::measured::Measurable;
use casetight::vessel::{DecayLaw, Direction};

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

impl<Q: Measurable<Spread = Q>> From<Estimate<Q>> for OpenInterval {
    fn from(estimate: Estimate<Q>) -> Self {
        let i = estimate.si();
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
        let base = Self::without_figures(name, run);
        let cd = run.assumptions.discharge_coefficient;
        Ok(match &run.outcome {
            Outcome::Fitted(fitted) => base.with_fit(fitted),
            Outcome::Stalled { stall, bound } => {
                let diameter = bound.area.diameter(cd)?.get::<meter>();
                base.with_bound(bound, diameter, stall.reached().pascals())
            }
        })
    }

    /// What is the same however the run went; of the leak, that it is nothing or more.
    fn without_figures(name: &str, run: &RunAssessment) -> Self {
        let assumptions = &run.assumptions;
        Self {
            name: name.to_owned(),
            direction: run.direction,
            verdict: run.verdict,
            effective_area_m2: LeveledInterval {
                interval: OpenInterval::above(0.0),
                level: assumptions.level,
            },
            diameter_m: DiameterInterval {
                interval: OpenInterval::above(0.0),
                cd: assumptions.discharge_coefficient,
            },
            flow_m3_s: FlowInterval {
                interval: OpenInterval::above(0.0),
                reference: assumptions.flow_reference.to_string(),
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
            notes: run.notes.iter().map(ToString::to_string).collect(),
        }
    }

    fn with_fit(mut self, fitted: &FittedRun) -> Self {
        let fit = &fitted.fit;
        self.effective_area_m2.interval = fit.area.into();
        self.diameter_m.interval = fitted.diameter.into();
        self.flow_m3_s.interval = fitted.flow.into();
        self.rig_effective_area_m2 = fit.rig.map(Into::into);
        self.rate_per_s = fit.rate.into();
        self.start_gauge_pa = fit.start.pascals();
        self.law = fit.law.map(DecayLaw::name);
        self.laws = fit.kinds_of_law().iter().map(Into::into).collect();
        self.residual_rms_pa = Some(fit.residual_rms_pa);
        self.go_on_s = match fitted.go_on {
            Some(GoOn::For(time)) => Some(time.get::<second>()),
            _ => None,
        };
        self.parts = fit.parts.iter().map(Into::into).collect();
        self.limits = fitted.decisions.iter().map(Into::into).collect();
        self
    }

    /// A stalled pump's: a bound from below, and how far the needle came.
    fn with_bound(mut self, bound: &Bound, diameter_m: f64, reached_pa: f64) -> Self {
        self.effective_area_m2.interval = OpenInterval::above(bound.area.square_meters());
        self.diameter_m.interval = OpenInterval::above(diameter_m);
        self.flow_m3_s.interval = OpenInterval::above(bound.flow.get::<cubic_meter_per_second>());
        self.rate_per_s = OpenInterval::above(bound.rate.get::<hertz>());
        self.start_gauge_pa = reached_pa;
        self.law = Some(DecayLaw::Orifice.name());
        self
    }
}
