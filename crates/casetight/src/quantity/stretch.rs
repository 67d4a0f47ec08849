//! How much a vessel gives under pressure.

use super::{QuantityError, finite};

/// Relative growth of a volume for a gauge pressure in it, `c = (dV/dp)/V` \[1/Pa\]: that of hose, boots and blanks.
///
/// A volume that stretches holds more gas than a rigid one: with 1 % a bar, a needle at 50 kPa falls 2 % slower.
///
/// # Example
/// ```
/// use casetight::quantity::{Stretch, TradeUnits};
///
/// let boots: Stretch = "2 %/bar".parse()?;
/// assert_eq!(boots.per_pascal(), 2e-7);
/// assert_eq!(boots.to_string(), "2 %/bar");
/// # Ok::<(), casetight::quantity::ParseQuantityError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Stretch(f64);

impl Stretch {
    /// A stretch from its value in 1/Pa.
    ///
    /// # Errors
    /// [`QuantityError::NotFinite`] unless the value is finite.
    pub fn from_per_pascal(stretch: f64) -> Result<Self, QuantityError> {
        finite("stretch", stretch).map(Self)
    }

    /// The value in 1/Pa.
    #[must_use]
    pub fn per_pascal(self) -> f64 {
        self.0
    }

    /// A spread of stretches, which may be anything.
    pub(crate) const fn spread(per_pascal: f64) -> Self {
        Self(per_pascal)
    }
}
