//! The two kinds of pressure that a bench confuses.

use core::marker::PhantomData;

use uom::si::pressure::pascal;

use super::{Pressure, QuantityError};

/// Absolute pressure `p` \[Pa\]: above zero and finite.
///
/// It neither adds to, nor compares with, a [`GaugePressure`]; only an ambient pressure leads from one to the other.
///
/// # Example
/// ```
/// use casetight::quantity::AbsolutePressure;
///
/// let p = AbsolutePressure::from_pascals(149_588.3)?;
/// let p_a = AbsolutePressure::from_pascals(101_325.0)?;
/// assert!((p.gauge(p_a).pascals() - 48_263.3).abs() < 1e-9);
/// assert!(p > p_a);
/// # Ok::<(), casetight::quantity::QuantityError>(())
/// ```
///
/// One kind where the other belongs does not compile:
/// ```compile_fail,E0308
/// use casetight::quantity::{AbsolutePressure, GaugePressure};
/// fn barometer(_: AbsolutePressure) {}
/// fn mixed(reading: GaugePressure) {
///     barometer(reading);
/// }
/// ```
/// nor does a sum of the two:
/// ```compile_fail,E0369
/// use casetight::quantity::{AbsolutePressure, GaugePressure};
/// fn added(ambient: AbsolutePressure, reading: GaugePressure) -> AbsolutePressure {
///     ambient + reading
/// }
/// ```
/// nor a comparison:
/// ```compile_fail,E0308
/// use casetight::quantity::{AbsolutePressure, GaugePressure};
/// fn compared(ambient: AbsolutePressure, reading: GaugePressure) -> bool {
///     reading < ambient
/// }
/// ```
/// nor a plain pressure, which does not say which kind it is:
/// ```compile_fail,E0308
/// use casetight::quantity::{AbsolutePressure, Pressure};
/// fn unsaid(drop: Pressure) -> AbsolutePressure {
///     drop
/// }
/// ```
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct AbsolutePressure(Pressure);

/// Gauge pressure `p - p_a` \[Pa\]: above zero in a pressure test, below zero in a vacuum test; finite.
///
/// # Example
/// ```
/// use casetight::quantity::{AbsolutePressure, GaugePressure};
///
/// let reading = GaugePressure::from_pascals(-48_263.3)?;
/// assert!(reading.is_vacuum());
/// let ambient = AbsolutePressure::from_pascals(101_325.0)?;
/// assert!((reading.absolute(ambient)?.pascals() - 53_061.7).abs() < 1e-9);
/// # Ok::<(), casetight::quantity::QuantityError>(())
/// ```
///
/// An absolute pressure where a reading belongs does not compile:
/// ```compile_fail,E0308
/// use casetight::quantity::{AbsolutePressure, GaugePressure};
/// fn needle(_: GaugePressure) {}
/// fn mixed(barometer: AbsolutePressure) {
///     needle(barometer);
/// }
/// ```
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct GaugePressure(Pressure);

impl AbsolutePressure {
    /// An absolute pressure `p` \[Pa\], above zero.
    ///
    /// # Errors
    /// [`QuantityError::AbsolutePressure`] unless the value is finite and above zero.
    pub fn new(pressure: Pressure) -> Result<Self, QuantityError> {
        let got = pressure.get::<pascal>();
        if got.is_finite() && got > 0.0 {
            Ok(Self(pressure))
        } else {
            Err(QuantityError::AbsolutePressure { got })
        }
    }

    /// An absolute pressure from its value in pascals.
    ///
    /// # Errors
    /// As [`AbsolutePressure::new`].
    pub fn from_pascals(pascals: f64) -> Result<Self, QuantityError> {
        Self::new(Pressure::new::<pascal>(pascals))
    }

    /// For constants of this module that are plainly above zero.
    pub(super) const fn known(pascals: f64) -> Self {
        Self(Pressure {
            dimension: PhantomData,
            units: PhantomData,
            value: pascals,
        })
    }

    /// The value in pascals.
    #[must_use]
    pub fn pascals(self) -> f64 {
        self.0.get::<pascal>()
    }

    /// The size of this pressure above a perfect vacuum, as a plain pressure for `uom` arithmetic.
    #[must_use]
    pub fn size(self) -> Pressure {
        self.0
    }

    /// What a perfect gauge would show at this ambient pressure: `p - p_a`.
    #[must_use]
    pub fn gauge(self, ambient: AbsolutePressure) -> GaugePressure {
        GaugePressure(self.0 - ambient.0)
    }
}

impl GaugePressure {
    /// Neither pressure nor vacuum: the needle at rest.
    pub const ZERO: Self = Self(Pressure {
        dimension: PhantomData,
        units: PhantomData,
        value: 0.0,
    });

    /// A gauge pressure `p - p_a` \[Pa\], of either sign.
    ///
    /// # Errors
    /// [`QuantityError::GaugePressure`] unless the value is finite.
    pub fn new(pressure: Pressure) -> Result<Self, QuantityError> {
        let got = pressure.get::<pascal>();
        if got.is_finite() {
            Ok(Self(pressure))
        } else {
            Err(QuantityError::GaugePressure { got })
        }
    }

    /// A gauge pressure from its value in pascals.
    ///
    /// # Errors
    /// As [`GaugePressure::new`].
    pub fn from_pascals(pascals: f64) -> Result<Self, QuantityError> {
        Self::new(Pressure::new::<pascal>(pascals))
    }

    /// The value in pascals.
    #[must_use]
    pub fn pascals(self) -> f64 {
        self.0.get::<pascal>()
    }

    /// The size `|p - p_a|` of the reading, the same for a pressure and a vacuum as deep.
    #[must_use]
    pub fn size(self) -> Pressure {
        self.0.abs()
    }

    /// Whether the reading lies below ambient. A reading of zero does not.
    #[must_use]
    pub fn is_vacuum(self) -> bool {
        self.pascals() < 0.0
    }

    /// The absolute pressure behind this gauge reading: `p = p_g + p_a`.
    ///
    /// # Errors
    /// [`QuantityError::BeyondVacuum`] where the sum is not above zero.
    pub fn absolute(self, ambient: AbsolutePressure) -> Result<AbsolutePressure, QuantityError> {
        AbsolutePressure::new(self.0 + ambient.0).map_err(|_| QuantityError::BeyondVacuum {
            gauge: self.pascals(),
            ambient: ambient.pascals(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn an_absolute_pressure_is_above_zero() {
        for pascals in [0.0, -0.0, -1.0, f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            assert!(matches!(
                AbsolutePressure::from_pascals(pascals),
                Err(QuantityError::AbsolutePressure { .. })
            ));
        }
        assert_eq!(
            AbsolutePressure::from_pascals(1e-3).unwrap().pascals(),
            1e-3
        );
    }

    #[test]
    fn a_gauge_pressure_is_finite() {
        for pascals in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            assert!(matches!(
                GaugePressure::from_pascals(pascals),
                Err(QuantityError::GaugePressure { .. })
            ));
        }
    }

    #[test]
    fn no_vacuum_is_deeper_than_ambient() {
        let ambient = AbsolutePressure::known(90_000.0);
        let reading = GaugePressure::from_pascals(-90_000.0).unwrap();
        assert_eq!(
            reading.absolute(ambient),
            Err(QuantityError::BeyondVacuum {
                gauge: -90_000.0,
                ambient: 90_000.0
            })
        );
    }

    #[test]
    fn size_and_direction() {
        let vacuum = GaugePressure::from_pascals(-34_000.0).unwrap();
        let pressure = GaugePressure::from_pascals(34_000.0).unwrap();
        assert!(vacuum.is_vacuum() && !pressure.is_vacuum() && !GaugePressure::ZERO.is_vacuum());
        assert_eq!(vacuum.size(), pressure.size());
        assert_eq!(vacuum.size().get::<pascal>(), 34_000.0);
        assert_eq!(AbsolutePressure::known(5.0).size().get::<pascal>(), 5.0);
    }

    proptest! {
        #[test]
        fn gauge_and_absolute_are_inverse(p in 1.0..1e6_f64, p_a in 5e4..1.1e5_f64) {
            let ambient = AbsolutePressure::known(p_a);
            let back = AbsolutePressure::known(p).gauge(ambient).absolute(ambient).unwrap();
            // One rounding each way, of numbers no larger than the larger pressure.
            prop_assert!((back.pascals() - p).abs() <= f64::EPSILON * p.max(p_a));
        }
    }
}
