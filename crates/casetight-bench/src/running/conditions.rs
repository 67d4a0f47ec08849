//! How the engine runs: ports, load, the polytrope of the gas; typical values where they are not known.

use uom::si::angle::degree;
use uom::si::frequency::hertz;
use uom::si::ratio::ratio;

use super::error::RunningError;
use casetight::measured::{Distribution, Measured, MeasuredError};
use casetight::quantity::{Angle, Frequency, Ratio};

/// Port timing, each angle with its uncertainty, after or before top dead center.
#[derive(Debug, Clone, PartialEq)]
pub struct Ports {
    /// Exhaust opens, after top; it closes as far before.
    pub exhaust_opens: Measured<Angle>,
    /// Transfers open, after top; they close as far before.
    pub transfer_opens: Measured<Angle>,
    /// Intake opens, before top.
    pub intake_opens: Measured<Angle>,
    /// Intake closes, after top.
    pub intake_closes: Measured<Angle>,
}

/// Speed, and how much air a turn takes in.
#[derive(Debug, Clone, PartialEq)]
pub struct Load {
    /// Turns in a time.
    pub speed: Frequency,
    /// Mass of air that goes through the carburetor in a turn over swept volume times ambient density.
    pub delivery_ratio: Measured<Ratio>,
}

/// How the engine runs.
#[derive(Debug, Clone, PartialEq)]
pub struct Conditions {
    /// Port timing.
    pub ports: Ports,
    /// Exponent of the polytrope that the gas in the case follows.
    pub polytropic_exponent: Measured<Ratio>,
    /// Idling.
    pub idle: Load,
    /// Full throttle.
    pub full: Load,
}

/// Typical values where an engine's own are not stated (common practice of small piston-ported engines, from memory, no
/// source; that of the transfers is what tuning pages on the web give for 6000 to 8000 rpm, half of 120 to 124 degrees
/// off the bottom): value and half-width of a rectangular distribution.
pub mod typical {
    /// Exhaust opens \[deg after top\].
    pub const EXHAUST_OPENS: (f64, f64) = (108.0, 5.0);
    /// Transfers open \[deg after top\].
    pub const TRANSFER_OPENS: (f64, f64) = (casetight::volume::TRANSFERS_OPEN_DEG, 5.0);
    /// Intake opens \[deg before top\].
    pub const INTAKE_OPENS: (f64, f64) = (65.0, 10.0);
    /// Intake closes \[deg after top\].
    pub const INTAKE_CLOSES: (f64, f64) = (65.0, 10.0);
    /// Exponent of the polytrope.
    pub const POLYTROPIC_EXPONENT: (f64, f64) = (1.3, 0.1);
    /// Speed at idle \[rpm\].
    pub const IDLE_RPM: f64 = 2800.0;
    /// Delivery ratio at idle.
    pub const IDLE_DELIVERY_RATIO: (f64, f64) = (0.25, 0.10);
    /// Speed at full throttle \[rpm\].
    pub const FULL_RPM: f64 = 9000.0;
    /// Delivery ratio at full throttle.
    pub const FULL_DELIVERY_RATIO: (f64, f64) = (0.60, 0.15);
}

/// [`Measured::source`] of a value of [`typical`].
pub const TYPICAL: &str = "typical of small two-stroke engines, common practice";

impl Conditions {
    /// [`typical`] values.
    ///
    /// # Errors
    /// None, but for constants that were edited into something impossible: [`RunningError::Measured`].
    pub fn typical() -> Result<Self, RunningError> {
        let angle = |(value, half): (f64, f64)| -> Result<_, MeasuredError> {
            let degrees = Angle::new::<degree>;
            let range = Distribution::Rectangular;
            Ok(
                Measured::from_half_width(degrees(value), degrees(half), range)?
                    .with_source(TYPICAL),
            )
        };
        let number = |(value, half): (f64, f64)| -> Result<_, MeasuredError> {
            let number = Ratio::new::<ratio>;
            let range = Distribution::Rectangular;
            Ok(Measured::from_half_width(number(value), number(half), range)?.with_source(TYPICAL))
        };
        let rpm = |value: f64| Frequency::new::<hertz>(value / 60.0);
        Ok(Self {
            ports: Ports {
                exhaust_opens: angle(typical::EXHAUST_OPENS)?,
                transfer_opens: angle(typical::TRANSFER_OPENS)?,
                intake_opens: angle(typical::INTAKE_OPENS)?,
                intake_closes: angle(typical::INTAKE_CLOSES)?,
            },
            polytropic_exponent: number(typical::POLYTROPIC_EXPONENT)?,
            idle: Load {
                speed: rpm(typical::IDLE_RPM),
                delivery_ratio: number(typical::IDLE_DELIVERY_RATIO)?,
            },
            full: Load {
                speed: rpm(typical::FULL_RPM),
                delivery_ratio: number(typical::FULL_DELIVERY_RATIO)?,
            },
        })
    }
}

impl Load {
    /// The speed \[Hz\], finite and above zero.
    pub(super) fn check(&self) -> Result<f64, RunningError> {
        let got = self.speed.get::<hertz>();
        if got.is_finite() && got > 0.0 {
            Ok(got)
        } else {
            Err(RunningError::Speed { got })
        }
    }
}
