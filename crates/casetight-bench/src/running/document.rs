//! The estimate as one document: the JSON of the command line, SI units in field names.

use serde::Serialize;
use uom::si::angle::degree;
use uom::si::frequency::hertz;
use uom::si::ratio::ratio;

use super::{ASSUMPTIONS, LeanShift, SMALL_IS_NOT_HARMLESS, SMALL_SHIFT, Share};
use casetight::estimate::Estimate;
use casetight::quantity::{Angle, Area};

/// Version of the document; a field's meaning never changes within one.
pub const FORMAT: u32 = 1;

/// From row to row of the pressure over a turn \[deg\].
const EVERY_DEGREES: u16 = 10;

/// What a leak does to the mixture: an estimate.
#[derive(Debug, Clone, Serialize)]
pub struct RunningDocument {
    /// [`FORMAT`].
    pub format: u32,
    /// Always true: no number here was measured on the running engine.
    pub estimate: bool,
    /// Area of the leak for air that goes in.
    pub inward_area_m2: Estimate<f64>,
    /// The run that it comes from.
    pub inward_run: String,
    /// Area of the leak for mixture that goes out.
    pub outward_area_m2: Estimate<f64>,
    /// The run that it comes from.
    pub outward_run: String,
    /// One for each load.
    pub loads: Vec<LoadDocument>,
    /// What is taken for granted.
    pub assumptions: Vec<&'static str>,
    /// What to know, in sentences.
    pub notes: Vec<&'static str>,
}

/// One load.
#[derive(Debug, Clone, Serialize)]
pub struct LoadDocument {
    /// "idle" or "full throttle".
    pub name: &'static str,
    /// Speed.
    pub speed_hz: f64,
    /// Delivery ratio.
    pub delivery_ratio: f64,
    /// Air by the carburetor, a turn.
    pub delivered_kg: f64,
    /// Air leaked in, a turn.
    pub leaked_in_kg: Estimate<f64>,
    /// Mixture leaked out, a turn.
    pub leaked_out_kg: Estimate<f64>,
    /// Relative rise of lambda.
    pub lean_shift: Estimate<f64>,
    /// What its interval comes from.
    pub shares: Vec<Share>,
    /// Lowest gauge pressure in the case.
    pub lowest_gauge_pa: f64,
    /// Highest.
    pub highest_gauge_pa: f64,
    /// Pressure over the turn.
    pub turn: Vec<TurnDocument>,
}

/// Pressure at an angle.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct TurnDocument {
    /// After top dead center.
    pub after_top_deg: f64,
    /// In the case.
    pub gauge_pa: f64,
}

impl LoadDocument {
    /// The document of one load.
    #[must_use]
    pub fn new(name: &'static str, lean: &LeanShift) -> Self {
        let (lowest, highest) = lean.pressure.extremes();
        Self {
            name,
            speed_hz: lean.load.speed.get::<hertz>(),
            delivery_ratio: lean.load.delivery_ratio.value().get::<ratio>(),
            delivered_kg: lean.delivered_kg,
            leaked_in_kg: lean.leaked_in.si(),
            leaked_out_kg: lean.leaked_out.si(),
            lean_shift: lean.shift,
            shares: lean.shares.clone(),
            lowest_gauge_pa: lowest.pascals(),
            highest_gauge_pa: highest.pascals(),
            turn: (0..360 / EVERY_DEGREES)
                .map(|row| {
                    let after_top_deg = f64::from(row * EVERY_DEGREES);
                    let after_top = Angle::new::<degree>(after_top_deg);
                    TurnDocument {
                        after_top_deg,
                        gauge_pa: lean.pressure.gauge_at(after_top).pascals(),
                    }
                })
                .collect(),
        }
    }
}

impl RunningDocument {
    /// The document of the loads, with the leaks and the runs that they come from.
    #[must_use]
    pub fn new(
        (inward_area, inward_run): (Estimate<Area>, String),
        (outward_area, outward_run): (Estimate<Area>, String),
        loads: Vec<LoadDocument>,
    ) -> Self {
        let small = loads.iter().any(|load| load.lean_shift.value < SMALL_SHIFT);
        Self {
            notes: small.then_some(SMALL_IS_NOT_HARMLESS).into_iter().collect(),
            format: FORMAT,
            estimate: true,
            inward_area_m2: inward_area.si(),
            inward_run,
            outward_area_m2: outward_area.si(),
            outward_run,
            loads,
            assumptions: ASSUMPTIONS.to_vec(),
        }
    }
}
