//! A tested volume that was measured as a whole, whatever way.

use super::error::VolumeError;
use super::method::Method;
use super::tested::{Part, TestedVolume};
use crate::measured::{Contribution, Measured};
use crate::quantity::Volume;

impl TestedVolume {
    /// The whole tested volume, rig included, as a number with its uncertainty.
    ///
    /// # Errors
    /// [`VolumeError::NotPositive`] unless above zero.
    ///
    /// ```
    /// use casetight::measured::{Distribution, Evaluation, Measured};
    /// use casetight::quantity::Volume;
    /// use casetight::volume::TestedVolume;
    /// use uom::si::volume::cubic_centimeter;
    ///
    /// let volume = TestedVolume::measured_directly(
    ///     Measured::new(
    ///         Volume::new::<cubic_centimeter>(240.0),
    ///         Volume::new::<cubic_centimeter>(4.0),
    ///         Evaluation::TypeB(Distribution::Normal),
    ///     )?
    ///     .with_source("filled with light oil from a burette"),
    /// )?;
    /// assert_eq!(volume.method().words(), "measured directly, rig included");
    /// # Ok::<(), casetight::volume::VolumeError>(())
    /// ```
    pub fn measured_directly(volume: Measured<Volume>) -> Result<Self, VolumeError> {
        const NAME: &str = "whole volume";
        let got = volume.value().value;
        if got <= 0.0 {
            return Err(VolumeError::NotPositive { got });
        }
        let uncertainty = volume.standard_uncertainty().value;
        Ok(Self {
            method: Method::MeasuredDirectly,
            parts: vec![Part {
                name: NAME.into(),
                volume: volume.clone(),
            }],
            contributions: vec![Contribution {
                name: NAME.into(),
                sensitivity: 1.0,
                uncertainty,
                variance_share: if uncertainty > 0.0 { 1.0 } else { 0.0 },
            }],
            volume,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use uom::si::volume::cubic_centimeter;

    fn cubic_centimeters(value: f64) -> Volume {
        Volume::new::<cubic_centimeter>(value)
    }

    #[test]
    fn is_passed_through() {
        let measured = Measured::from_half_width(
            cubic_centimeters(240.0),
            cubic_centimeters(6.0),
            crate::measured::Distribution::Rectangular,
        )
        .unwrap()
        .with_source("burette");
        let tested = TestedVolume::measured_directly(measured.clone()).unwrap();
        assert_eq!(tested.volume(), &measured);
        assert_eq!(tested.parts()[0].volume, measured);
        assert_eq!(tested.contributions()[0].variance_share, 1.0);
    }

    #[test]
    fn zero_and_below_are_refused() {
        for got in [0.0, -1.0] {
            let volume = Measured::exact(cubic_centimeters(got)).unwrap();
            assert!(matches!(
                TestedVolume::measured_directly(volume),
                Err(VolumeError::NotPositive { .. })
            ));
        }
    }
}
