//! The plan as one document: the JSON of the command line, SI units in field names.

use serde::Serialize;
use uom::si::length::meter;
use uom::si::pressure::pascal;
use uom::si::temperature_interval::kelvin;
use uom::si::time::second;
use uom::si::volume::cubic_meter;

use super::{Detection, Disturbance, Expected, GaugeOutlook, LimitOutlook, Plan};
use crate::pump::Pumped;
use casetight::caution;
use casetight::leak::{EffectiveArea, LeakError};
use casetight::limit::Basis;
use casetight::quantity::Time;
use casetight::vessel::Direction;

/// Version of the document; a field's meaning never changes within one.
pub const FORMAT: u32 = 1;

/// The plans of a sheet.
#[derive(Debug, Clone, Serialize)]
pub struct PlansDocument {
    /// [`FORMAT`].
    pub format: u32,
    /// One for each direction.
    pub plans: Vec<PlanDocument>,
    /// Before pumping.
    pub cautions: Vec<&'static str>,
}

/// A plan.
#[derive(Debug, Clone, Serialize)]
pub struct PlanDocument {
    /// Pressure or vacuum.
    pub direction: Direction,
    /// Gauge pressure to pump to.
    pub target_gauge_pa: f64,
    /// Hold.
    pub hold_s: f64,
    /// Time between readings.
    pub readings_every_s: f64,
    /// How many readings.
    pub readings: u32,
    /// Volume under test.
    pub volume_m3: f64,
    /// Its standard uncertainty.
    pub volume_standard_uncertainty_m3: f64,
    /// The rig, where it is known apart.
    pub rig: Option<RigDocument>,
    /// Pumping up.
    pub pumping: PumpingDocument,
    /// Waiting for the gas.
    pub settling: SettlingDocument,
    /// One for each limit.
    pub limits: Vec<LimitDocument>,
    /// A ladder of holes.
    pub ladder: Vec<ExpectedDocument>,
    /// What the sheet's gauge can tell.
    pub detection: DetectionDocument,
    /// What other gauges could.
    pub gauges: Vec<GaugeDocument>,
    /// One kelvin warmer at the hold's end.
    pub one_kelvin: DisturbanceDocument,
    /// The barometer one hectopascal higher at the hold's end.
    pub one_hectopascal: DisturbanceDocument,
    /// What to know, in sentences.
    pub notes: Vec<String>,
}

/// [`super::RigShare`].
#[derive(Debug, Clone, Copy, Serialize)]
pub struct RigDocument {
    /// Hose, gauge, adapters.
    pub volume_m3: f64,
    /// Share of the volume under test.
    pub share: f64,
    /// Times that the least leak is larger for it.
    pub costs: f64,
}

/// [`super::Pumping`].
#[derive(Debug, Clone, Copy, Serialize)]
pub struct PumpingDocument {
    /// Of a stroke.
    pub stroke_volume_m3: f64,
    /// Not cleared by a stroke.
    pub dead_space_m3: f64,
    /// From stroke to stroke.
    pub stroke_every_s: f64,
    /// Strokes to the target, tight.
    pub strokes: f64,
    /// Their standard uncertainty.
    pub strokes_standard_uncertainty: f64,
    /// Leak that holds the needle at the target.
    pub stalls_at_target_area_m2: f64,
    /// Leak that holds it halfway.
    pub stalls_halfway_area_m2: f64,
}

/// [`super::Settling`].
#[derive(Debug, Clone, Copy, Serialize)]
pub struct SettlingDocument {
    /// Gas off the wall's temperature when pumping stops (95 %).
    pub excess_k: f64,
    /// To a part of 1/e.
    pub time_constant_s: f64,
    /// What it may still move the needle by.
    pub allowed_pa: f64,
    /// Wait in a usual case.
    pub usual_s: f64,
    /// Wait in a slow one (95 %).
    pub safe_s: f64,
}

/// [`super::Expected`].
#[derive(Debug, Clone, Copy, Serialize)]
pub struct ExpectedDocument {
    /// Effective area.
    pub effective_area_m2: f64,
    /// Of the round hole.
    pub diameter_m: f64,
    /// Fall over the hold.
    pub fall_pa: f64,
    /// The same in readable steps.
    pub steps: f64,
    /// Fall by one readable step.
    pub one_step_after_s: Option<f64>,
    /// Needle at zero.
    pub at_zero_after_s: Option<f64>,
    /// Expected standard uncertainty of the area over the area; none where it can't be told.
    pub relative_uncertainty: Option<f64>,
}

/// [`super::LimitOutlook`].
#[derive(Debug, Clone, Copy, Serialize)]
pub struct LimitDocument {
    /// What the limit is stated in: "rate" or "area".
    pub basis: &'static str,
    /// Largest allowed rate.
    pub rate_per_s: f64,
    /// A leak right at the limit.
    pub at_limit: ExpectedDocument,
    /// Hold that decides.
    pub decides_after_s: Option<f64>,
    /// Strokes to the target against such a leak; none where the pump stalls.
    pub strokes: Option<u32>,
    /// Where the pump stalls.
    pub stalls_at_gauge_pa: Option<f64>,
}

/// [`super::Detection`], with the diameters of round holes of the assumed discharge coefficient.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct DetectionDocument {
    /// Upper bound of a tight case; critical value.
    pub bound_area_m2: f64,
    /// Its hole.
    pub bound_diameter_m: f64,
    /// Least leak detected; minimum detectable value.
    pub detected_area_m2: Option<f64>,
    /// Its hole.
    pub detected_diameter_m: Option<f64>,
}

/// [`super::GaugeOutlook`].
#[derive(Debug, Clone, Copy, Serialize)]
pub struct GaugeDocument {
    /// What kind of gauge.
    pub name: &'static str,
    /// Its step.
    pub step_pa: f64,
    /// What it can tell.
    #[serde(flatten)]
    pub detection: DetectionDocument,
    /// Hold that decides the strictest limit.
    pub decides_after_s: Option<f64>,
}

/// [`super::Disturbance`].
#[derive(Debug, Clone, Copy, Serialize)]
pub struct DisturbanceDocument {
    /// Change of the gauge pressure.
    pub needle_pa: f64,
    /// Leak that moves the needle as far.
    pub effective_area_m2: f64,
    /// Towards zero, as with a leak.
    pub like_a_leak: bool,
}

fn seconds(time: Time) -> f64 {
    time.get::<second>()
}

impl PlansDocument {
    /// The document of plans.
    ///
    /// # Errors
    /// As [`PlanDocument::new`].
    pub fn new(plans: &[Plan]) -> Result<Self, LeakError> {
        Ok(Self {
            format: FORMAT,
            plans: plans
                .iter()
                .map(PlanDocument::new)
                .collect::<Result<_, _>>()?,
            cautions: caution::BEFORE_PUMPING.to_vec(),
        })
    }
}

impl PlanDocument {
    /// The document of a plan.
    ///
    /// # Errors
    /// [`LeakError::DischargeCoefficient`] for an intent that was put together with an impossible one.
    pub fn new(plan: &Plan) -> Result<Self, LeakError> {
        let cubic = |v: casetight::quantity::Volume| v.get::<cubic_meter>();
        let intent = &plan.intent;
        let cd = intent.discharge_coefficient;
        Ok(Self {
            direction: plan.direction,
            target_gauge_pa: intent.target.pascals(),
            hold_s: seconds(intent.hold),
            readings_every_s: seconds(intent.every),
            readings: plan.readings,
            volume_m3: cubic(plan.volume.value()),
            volume_standard_uncertainty_m3: cubic(plan.volume.standard_uncertainty()),
            rig: plan.rig.as_ref().map(|rig| RigDocument {
                volume_m3: cubic(rig.volume.value()),
                share: rig.share,
                costs: rig.costs,
            }),
            pumping: PumpingDocument {
                stroke_volume_m3: cubic(plan.pumping.pump.stroke_volume()),
                dead_space_m3: cubic(plan.pumping.pump.dead_space()),
                stroke_every_s: seconds(plan.pumping.pump.every()),
                strokes: plan.pumping.strokes,
                strokes_standard_uncertainty: plan.pumping.strokes_uncertainty,
                stalls_at_target_area_m2: plan.pumping.stalls_at_target.square_meters(),
                stalls_halfway_area_m2: plan.pumping.stalls_halfway.square_meters(),
            },
            settling: SettlingDocument {
                excess_k: plan.settling.excess.get::<kelvin>(),
                time_constant_s: seconds(plan.settling.time_constant),
                allowed_pa: plan.settling.allowed.get::<pascal>(),
                usual_s: seconds(plan.settling.usual),
                safe_s: seconds(plan.settling.safe),
            },
            limits: plan.limits.iter().map(LimitDocument::from).collect(),
            ladder: plan.ladder.iter().map(ExpectedDocument::from).collect(),
            detection: DetectionDocument::new(&plan.detection, cd)?,
            gauges: plan
                .gauges
                .iter()
                .map(|gauge| GaugeDocument::new(gauge, cd))
                .collect::<Result<_, _>>()?,
            one_kelvin: DisturbanceDocument::from(&plan.one_kelvin),
            one_hectopascal: DisturbanceDocument::from(&plan.one_hectopascal),
            notes: plan.notes.iter().map(ToString::to_string).collect(),
        })
    }
}

impl From<&Expected> for ExpectedDocument {
    fn from(expected: &Expected) -> Self {
        Self {
            effective_area_m2: expected.area.square_meters(),
            diameter_m: expected.diameter.get::<meter>(),
            fall_pa: expected.fall.get::<pascal>(),
            steps: expected.steps,
            one_step_after_s: expected.one_step_after.map(seconds),
            at_zero_after_s: expected.at_zero_after.map(seconds),
            relative_uncertainty: Some(expected.relative_uncertainty).filter(|u| u.is_finite()),
        }
    }
}

impl From<&LimitOutlook> for LimitDocument {
    fn from(limit: &LimitOutlook) -> Self {
        let (strokes, stalls_at_gauge_pa) = match limit.pumping {
            Pumped::Reaches { strokes, .. } => (Some(strokes), None),
            Pumped::Stalls { needle } => (None, Some(needle.pascals())),
        };
        Self {
            basis: match limit.allowed.basis {
                Basis::Rate => "rate",
                Basis::Area => "area",
            },
            rate_per_s: limit.allowed.rate,
            at_limit: ExpectedDocument::from(&limit.at_limit),
            decides_after_s: limit.decides_after.map(seconds),
            strokes,
            stalls_at_gauge_pa,
        }
    }
}

impl DetectionDocument {
    fn new(detection: &Detection, cd: f64) -> Result<Self, LeakError> {
        let hole = |area: EffectiveArea| area.diameter(cd).map(|d| d.get::<meter>());
        Ok(Self {
            bound_area_m2: detection.bound.square_meters(),
            bound_diameter_m: hole(detection.bound)?,
            detected_area_m2: detection.detected.map(EffectiveArea::square_meters),
            detected_diameter_m: detection.detected.map(hole).transpose()?,
        })
    }
}

impl GaugeDocument {
    fn new(gauge: &GaugeOutlook, cd: f64) -> Result<Self, LeakError> {
        Ok(Self {
            name: gauge.name,
            step_pa: gauge.gauge.step().get::<pascal>(),
            detection: DetectionDocument::new(&gauge.detection, cd)?,
            decides_after_s: gauge.decides_after.map(seconds),
        })
    }
}

impl From<&Disturbance> for DisturbanceDocument {
    fn from(disturbance: &Disturbance) -> Self {
        Self {
            needle_pa: disturbance.needle.get::<pascal>(),
            effective_area_m2: disturbance.area.square_meters(),
            like_a_leak: disturbance.like_a_leak,
        }
    }
}
