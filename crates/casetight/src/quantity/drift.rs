//! How fast a wall warms or cools.

use super::{QuantityError, finite};

/// Rate of change of a temperature `r = dT/dt` \[K/s\], of either sign.
///
/// A steady wall drift passes for a leak: `dp/dt = p r/T`, so 1 K/min at 150 kPa and 293 K is 8.5 Pa/s.
///
/// # Example
/// ```
/// use casetight::quantity::{TemperatureDrift, TradeUnits};
///
/// let drift: TemperatureDrift = "0.3 K/min".parse()?;
/// assert_eq!(drift.kelvins_per_second(), 0.005);
/// assert_eq!(drift.to_string(), "0.3 K/min");
/// # Ok::<(), casetight::quantity::ParseQuantityError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct TemperatureDrift(f64);

impl TemperatureDrift {
    /// A wall that keeps its temperature.
    pub const ZERO: Self = Self(0.0);

    /// Standard uncertainty of the steady drift of a wall that has stood in the room for hours, 0.1 K/min (common practice, no
    /// source). A case that was just run, washed or sprayed drifts more.
    pub const USUAL: Self = Self(0.1 / 60.0);

    /// A drift from its value in K/s.
    ///
    /// # Errors
    /// [`QuantityError::NotFinite`] unless the value is finite.
    pub fn from_kelvins_per_second(rate: f64) -> Result<Self, QuantityError> {
        finite("temperature drift", rate).map(Self)
    }

    /// The value in K/s.
    #[must_use]
    pub fn kelvins_per_second(self) -> f64 {
        self.0
    }
}
