//! The tested volume V with its standard uncertainty and how it was got.
//!
//! A decay identifies CdA/V, so whatever is wrong with V is wrong with the leak's area in the same proportion. Each way
//! to get V is one file here (an `impl TestedVolume` that ends in [`TestedVolume`]) and one line in the list of [`Method`].

mod added_leak;
#[cfg(test)]
mod bench;
mod combine;
mod direct;
mod engine;
mod expansion;
mod fill;
mod parts_list;
mod piston;
mod rotation;
mod settling;
mod strokes;

use std::borrow::Cow;

use crate::measured::{
    Contribution, Measurable, Measured, MeasuredError, Propagated, PropagatedJointly, propagate,
};
use crate::quantity::Volume;

pub use added_leak::{AddedLeak, VolumeAndArea};
pub use combine::{Combined, Member, combine, combine_sharing};
pub use engine::{Crank, Engine, TurnPoint};
pub use expansion::Expansion;
pub use fill::{Fill, Liquid, water_density};
pub use parts_list::{MOST_PIECES, PartsList, Piece, Sense, Shape};
pub use piston::{Piston, PistonError, Transfers};
pub use rotation::{Loss, Rotation};
pub use settling::Settling;
pub use strokes::{StrokeReading, Strokes};

macro_rules! methods {
    ($($(#[$doc:meta])* $name:ident => $words:literal, $assumptions:expr;)+) => {
        /// How a tested volume was got.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
        #[non_exhaustive]
        pub enum Method {
            $($(#[$doc])* $name,)+
        }

        impl Method {
            /// Every method.
            pub const ALL: &[Self] = &[$(Self::$name),+];

            /// The method in words.
            #[must_use]
            pub const fn words(self) -> &'static str {
                match self {
                    $(Self::$name => $words,)+
                }
            }

            /// What the method takes for granted, a sentence each.
            #[must_use]
            pub const fn assumptions(self) -> &'static [&'static str] {
                match self {
                    $(Self::$name => $assumptions,)+
                }
            }
        }
    };
}

methods! {
    /// Geometry: [`TestedVolume::from_engine`].
    EngineDimensions => "computed from the engine's dimensions", engine::ASSUMPTIONS;
    /// Measured as a whole: [`TestedVolume::measured_directly`].
    MeasuredDirectly => "measured directly, rig included", direct::ASSUMPTIONS;
    /// Gas let in from a known volume: [`TestedVolume::from_expansion`].
    Expansion => "expansion from a known volume", expansion::ASSUMPTIONS;
    /// The piston as its own pump: [`TestedVolume::from_rotation`].
    CrankRotation => "crank turned with the transfers shut", rotation::ASSUMPTIONS;
    /// Strokes of a pump: [`TestedVolume::from_strokes`].
    PumpStrokes => "counted pump strokes", strokes::ASSUMPTIONS;
    /// A known leak beside the unknown one: [`TestedVolume::from_added_leak`].
    AddedLeak => "known leak added to the unknown one", added_leak::ASSUMPTIONS;
    /// Filled with a liquid and weighed: [`TestedVolume::from_fill`].
    LiquidFill => "filled with a liquid and weighed", fill::ASSUMPTIONS;
    /// Shapes added and subtracted: [`TestedVolume::from_parts_list`].
    PartsList => "added up from its parts", parts_list::ASSUMPTIONS;
    /// Weighted mean of several: [`Combined::tested`].
    Combined => "combined from several methods", combine::ASSUMPTIONS;
}

impl std::fmt::Display for Method {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.words())
    }
}

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
    volume: Measured<Volume>,
    method: Method,
    parts: Vec<Part>,
    contributions: Vec<Contribution>,
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
    fn from_outputs(
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

fn sourced(output: &Propagated, method: Method) -> Result<Measured<Volume>, MeasuredError> {
    let volume: Measured<Volume> = output.measured()?;
    Ok(volume.with_source(method.words()))
}

/// A whole volume, which is above zero.
fn whole(output: &Propagated, method: Method) -> Result<Measured<Volume>, VolumeError> {
    if output.value() <= 0.0 {
        return Err(VolumeError::NotPositive {
            got: output.value(),
        });
    }
    Ok(sourced(output, method)?)
}

/// How far from zero, in standard uncertainties, a difference must be that a volume is divided by. At this distance first
/// order falls short of the quotient's true spread by about a tenth.
const RESOLVED: f64 = 5.0;

/// The output at this place, a difference that the volume is divided by, stands clear of zero.
fn check_resolved(
    name: &'static str,
    joint: &PropagatedJointly,
    place: usize,
) -> Result<(), VolumeError> {
    let (got, expected) = (joint.outputs().len(), place + 1);
    let difference = joint
        .outputs()
        .get(place)
        .ok_or(MeasuredError::ModelOutputs { got, expected })?;
    let (got, standard_uncertainty) = (difference.value(), difference.standard_uncertainty());
    if got != 0.0 && got.abs() >= RESOLVED * standard_uncertainty {
        Ok(())
    } else {
        Err(VolumeError::Unresolved {
            name,
            got,
            standard_uncertainty,
        })
    }
}

fn check_positive<Q: Measurable>(
    name: &'static str,
    measured: &Measured<Q>,
) -> Result<(), VolumeError> {
    let got = measured.value().si();
    if got > 0.0 {
        Ok(())
    } else {
        Err(VolumeError::Input { name, got })
    }
}

fn check_not_negative<Q: Measurable>(
    name: &'static str,
    measured: &Measured<Q>,
) -> Result<(), VolumeError> {
    let got = measured.value().si();
    if got >= 0.0 {
        Ok(())
    } else {
        Err(VolumeError::Negative { name, got })
    }
}

/// What can be wrong with an engine's dimensions, a measurement of a volume, or a volume.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum VolumeError {
    /// A length must be finite and above zero.
    #[error("{name} {got} m is not a finite length above zero")]
    Length {
        /// Which dimension.
        name: &'static str,
        /// What was given, in meters.
        got: f64,
    },
    /// A rod no longer than the crank's throw can't turn over.
    #[error(
        "rod {rod} m must be longer than the crank's throw of {throw} m (half the stroke); the rod is measured from center to center"
    )]
    Rod {
        /// The rod's length from center to center, in meters.
        rod: f64,
        /// Half the stroke, in meters.
        throw: f64,
    },
    /// A compression ratio compares a larger volume with a smaller one.
    #[error(
        "{name} {got} must be a finite number above 1, by more than twice its standard uncertainty {standard_uncertainty}"
    )]
    Ratio {
        /// Which ratio.
        name: &'static str,
        /// What was given.
        got: f64,
        /// Its standard uncertainty.
        standard_uncertainty: f64,
    },
    /// With the transfers open the cylinder is under test too.
    #[error(
        "with the transfer ports open the cylinder is part of the tested volume: give compression_ratio (full stroke, geometric), or measure the volume directly"
    )]
    NoCompressionRatio,
    /// The rig's own volume can't be below zero.
    #[error("rig volume {got} m3 is below zero")]
    Rig {
        /// What was given, in cubic meters.
        got: f64,
    },
    /// A tested volume must be above zero.
    #[error("tested volume {got} m3 is not above zero")]
    NotPositive {
        /// What was given, in cubic meters.
        got: f64,
    },
    /// The piston is somewhere between top and bottom.
    #[error("piston travel {got} m does not lie between 0 and the stroke of {stroke} m")]
    Travel {
        /// What was given, in meters from top dead center.
        got: f64,
        /// The stroke in meters.
        stroke: f64,
    },
    /// A crank angle must be finite.
    #[error("crank angle {got} rad is not a finite number")]
    Angle {
        /// What was given, in radians.
        got: f64,
    },
    /// An input that can only be above zero.
    #[error("{name} is {got} (in SI units); it must be above zero")]
    Input {
        /// Which input.
        name: &'static str,
        /// What was given, in the SI unit.
        got: f64,
    },
    /// An input that can't be below zero.
    #[error("{name} is {got} (in SI units); it can't be below zero")]
    Negative {
        /// Which input.
        name: &'static str,
        /// What was given, in the SI unit.
        got: f64,
    },
    /// The volume is divided by this difference, which the readings don't tell from zero.
    #[error(
        "{name} is {got} with a standard uncertainty of {standard_uncertainty} (SI units): it must stand clear of zero by {RESOLVED} times that, so make it larger or read it more closely"
    )]
    Unresolved {
        /// Which difference.
        name: &'static str,
        /// Its value, in the SI unit.
        got: f64,
        /// Its standard uncertainty.
        standard_uncertainty: f64,
    },
    /// A measurement on the case side alone says nothing of the cylinder above it.
    #[error(
        "turning the crank measures the case side alone, but the transfer ports are open at the piston position `{piston}`: give a position with the transfers shut, or measure the volume another way"
    )]
    TransfersOpen {
        /// The position that was asked for.
        piston: Piston,
    },
    /// A gauge reading without strokes, or none at all.
    #[error("counted strokes need at least one reading, each after one stroke or more")]
    NoStrokes,
    /// The pump can't reach so high a pressure with so much dead space.
    #[error(
        "{gauge} Pa gauge after {strokes} strokes: with its dead space the pump can't pass {limit} Pa"
    )]
    BeyondPump {
        /// After how many strokes.
        strokes: u32,
        /// The pressure read, above ambient, in pascals.
        gauge: f64,
        /// The highest that the pump reaches, in pascals.
        limit: f64,
    },
    /// The formula for water's density is for 0 to 40 °C.
    #[error("water at {got} K: the density formula holds from 273.15 K to 313.15 K (0 to 40 °C)")]
    WaterTemperature {
        /// What was given, in kelvins.
        got: f64,
    },
    /// A liquid is denser than the air that it drives out.
    #[error("liquid of {liquid} kg/m3 in air of {air} kg/m3: the liquid must be the denser")]
    LiquidDensity {
        /// The liquid's density, in kg/m3.
        liquid: f64,
        /// The air's density, in kg/m3.
        air: f64,
    },
    /// A list of parts with nothing in it.
    #[error("a list of parts needs at least one piece, each counted at least once")]
    NoParts,
    /// A list of more parts than anyone measures.
    #[error(
        "{got} pieces; a list has up to {most}: put equal ones together with their count, and small ones into one"
    )]
    ManyParts {
        /// How many pieces there are.
        got: usize,
        /// How many there may be.
        most: usize,
    },
    /// A ring's hole is smaller than the ring.
    #[error("`{piece}`: the inner diameter {inner} m must be smaller than the outer {outer} m")]
    Annulus {
        /// The piece's name.
        piece: Cow<'static, str>,
        /// Inner diameter, in meters.
        inner: f64,
        /// Outer diameter, in meters.
        outer: f64,
    },
    /// A dimension of a piece must be above zero.
    #[error("`{piece}`: its {dimension} of {got} (SI units) must be above zero")]
    Dimension {
        /// The piece's name.
        piece: Cow<'static, str>,
        /// Which dimension.
        dimension: &'static str,
        /// What was given, in the SI unit.
        got: f64,
    },
    /// A weighted mean of nothing.
    #[error("no volume to combine: give at least one")]
    NothingToCombine,
    /// A volume without uncertainty would outweigh all others.
    #[error(
        "the volume \"{method}\" has no uncertainty, so it can't be weighed against others: state one, or use it alone"
    )]
    NoUncertainty {
        /// How it was got.
        method: Method,
    },
    /// Volumes that share all of their uncertainty are one measurement.
    #[error(
        "these volumes share so much of their uncertainty that they can't be weighed against each other: leave one out"
    )]
    NotIndependent,
    /// A table over a turn has at least one row.
    #[error("a table over a turn of the crank needs at least one angle")]
    NoAngles,
    /// The piston's position.
    #[error(transparent)]
    Piston(#[from] PistonError),
    /// The propagation of uncertainty.
    #[error(transparent)]
    Measured(#[from] MeasuredError),
}
