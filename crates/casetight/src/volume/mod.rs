//! The tested volume V with its standard uncertainty and how it was got.
//!
//! A decay identifies CdA/V, so whatever is wrong with V is wrong with the leak's area in the same proportion. Each way
//! to get V is one file here (an `impl TestedVolume` that ends in [`TestedVolume`]) and one line in the list of [`Method`].

mod direct;
mod engine;
mod piston;

use crate::measured::{Contribution, Measured, MeasuredError};
use crate::quantity::Volume;

pub use engine::{Crank, Engine, TurnPoint};
pub use piston::{Piston, PistonError, Transfers};

macro_rules! methods {
    ($($(#[$doc:meta])* $name:ident => $words:literal,)+) => {
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
        }
    };
}

methods! {
    /// Geometry: [`TestedVolume::from_engine`].
    EngineDimensions => "computed from the engine's dimensions",
    /// Measured as a whole: [`TestedVolume::measured_directly`].
    MeasuredDirectly => "measured directly, rig included",
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
    pub name: &'static str,
    /// Its volume. Parts share inputs, so their uncertainties don't add up to the whole's.
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
}

/// What can be wrong with an engine's dimensions or a volume.
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
