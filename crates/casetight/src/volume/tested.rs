//! The tested volume itself: its value, parts and what its uncertainty comes from.

use std::borrow::Cow;

use super::error::VolumeError;
use super::method::Method;
use crate::measured::{
    Contribution, Measured, MeasuredError, Propagated, PropagatedJointly, propagate,
};
use crate::quantity::Volume;

/// One of the spaces that make up a tested volume.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// The space in words.
    pub name: Cow<'static, str>,
    /// Its volume, below zero for a solid that stands in a space. Parts share inputs, so their uncertainties don't add up
    /// to the whole's.
    pub volume: Measured<Volume>,
}

/// The volume that a test shuts in: its value, standard uncertainty, method, parts, and what its uncertainty comes from.
#[derive(Debug, Clone, PartialEq)]
pub struct TestedVolume {
    pub(super) volume: Measured<Volume>,
    pub(super) method: Method,
    pub(super) parts: Vec<Part>,
    pub(super) contributions: Vec<Contribution>,
}

impl TestedVolume {
    /// The volume V \[m3\], rig included.
    #[must_use]
    pub fn volume(&self) -> &Measured<Volume> {
        &self.volume
    }

    /// How it was got.
    #[must_use]
    pub fn method(&self) -> Method {
        self.method
    }

    /// The spaces it is the sum of.
    #[must_use]
    pub fn parts(&self) -> &[Part] {
        &self.parts
    }

    /// What each input adds to its uncertainty \[m3\], and its share of the variance.
    #[must_use]
    pub fn contributions(&self) -> &[Contribution] {
        &self.contributions
    }

    /// What the method takes for granted, a sentence each.
    #[must_use]
    pub fn assumptions(&self) -> &'static [&'static str] {
        self.method.assumptions()
    }

    /// The same with a further space, independent of the rest: the hose and gauge of a test that were not there when the
    /// volume was measured, or (below zero) what was there only then.
    ///
    /// # Errors
    /// [`VolumeError::NotPositive`] where nothing is left.
    ///
    /// ```
    /// use casetight::measured::{Distribution, Evaluation, Measured};
    /// use casetight::quantity::Volume;
    /// use casetight::volume::TestedVolume;
    /// use uom::si::volume::cubic_centimeter;
    ///
    /// let cm3 = |value, u| {
    ///     let volume = Volume::new::<cubic_centimeter>;
    ///     Measured::new(volume(value), volume(u), Evaluation::TypeB(Distribution::Normal))
    /// };
    /// let tested = TestedVolume::measured_directly(cm3(240.0, 4.0)?)?.plus("hose and gauge", &cm3(12.0, 3.0)?)?;
    /// assert!((tested.volume().value().get::<cubic_centimeter>() - 252.0).abs() < 1e-9);
    /// assert!((tested.volume().standard_uncertainty().get::<cubic_centimeter>() - 5.0).abs() < 1e-9);
    /// # Ok::<(), casetight::volume::VolumeError>(())
    /// ```
    pub fn plus(
        mut self,
        name: impl Into<Cow<'static, str>>,
        space: &Measured<Volume>,
    ) -> Result<Self, VolumeError> {
        let name = name.into();
        let inputs = [self.volume.input("so far"), space.input(name.clone())];
        let sum = propagate(&inputs, None, |[so_far, space]| so_far + space)?;
        let [so_far, added] = sum.contributions() else {
            let (got, expected) = (sum.contributions().len(), 2);
            return Err(MeasuredError::ModelOutputs { got, expected }.into());
        };
        for contribution in &mut self.contributions {
            contribution.variance_share *= so_far.variance_share;
        }
        self.contributions.push(added.clone());
        self.parts.push(Part {
            name,
            volume: space.clone(),
        });
        self.volume = whole(&sum, self.method)?;
        Ok(self)
    }

    /// From the outputs of a model: the whole, then its parts as named. What is left over is ignored.
    pub(super) fn from_outputs(
        method: Method,
        joint: &PropagatedJointly,
        names: impl IntoIterator<Item = Cow<'static, str>>,
    ) -> Result<Self, VolumeError> {
        let [first, parts @ ..] = joint.outputs() else {
            let (got, expected) = (0, 1);
            return Err(MeasuredError::ModelOutputs { got, expected }.into());
        };
        let parts = names
            .into_iter()
            .zip(parts)
            .map(|(name, part)| {
                let volume = sourced(part, method)?;
                Ok(Part { name, volume })
            })
            .collect::<Result<_, VolumeError>>()?;
        Ok(Self {
            volume: whole(first, method)?,
            method,
            parts,
            contributions: first.contributions().to_vec(),
        })
    }
}

pub(super) fn sourced(
    output: &Propagated,
    method: Method,
) -> Result<Measured<Volume>, MeasuredError> {
    let volume: Measured<Volume> = output.measured()?;
    Ok(volume.with_source(method.words()))
}

/// A whole volume, which is above zero.
pub(super) fn whole(output: &Propagated, method: Method) -> Result<Measured<Volume>, VolumeError> {
    if output.value() <= 0.0 {
        return Err(VolumeError::NotPositive {
            got: output.value(),
        });
    }
    Ok(sourced(output, method)?)
}
