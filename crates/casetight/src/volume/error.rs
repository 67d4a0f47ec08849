//! What can be wrong with a volume or what it is got from, and the checks that several ways share.

use std::borrow::Cow;

use super::method::Method;
use super::piston::{Piston, PistonError};
use crate::measured::{Contribution, Measurable, Measured, MeasuredError, PropagatedJointly};
use crate::quantity::{
    GaugePressure, Length, Ratio, ThermodynamicTemperature, TradeUnits, Volume, told,
};

/// How far from zero, in standard uncertainties, a difference must be that a volume is divided by. At this distance first
/// order falls short of the quotient's true spread by about a tenth.
const RESOLVED: f64 = 5.0;

/// What can be wrong with an engine's dimensions, a measurement of a volume, or a volume.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum VolumeError {
    /// A length must be finite and above zero.
    #[error("{name} {} is not a finite length above zero", told::<Length>(*got))]
    Length {
        /// Which dimension.
        name: &'static str,
        /// What was given, in meters.
        got: f64,
    },
    /// A rod no longer than the crank's throw can't turn over.
    #[error(
        "rod {} must be longer than the crank's throw of {} (half the stroke); the rod is measured from center to center",
        told::<Length>(*rod), told::<Length>(*throw)
    )]
    Rod {
        /// The rod's length from center to center, in meters.
        rod: f64,
        /// Half the stroke, in meters.
        throw: f64,
    },
    /// A compression ratio compares a larger volume with a smaller one.
    #[error(
        "{name} {got} must be a finite number above 1, by more than twice its standard uncertainty {}",
        told::<Ratio>(*standard_uncertainty)
    )]
    Ratio {
        /// Which ratio.
        name: &'static str,
        /// What was given.
        got: f64,
        /// Its standard uncertainty.
        standard_uncertainty: f64,
    },
    /// A displacement that bore and stroke contradict.
    #[error(
        "a displacement of {:.2} cm3 contradicts bore and stroke, which make {:.2} cm3; correct the one that is wrong, or leave the displacement out",
        stated * 1e6, swept * 1e6
    )]
    Displacement {
        /// What was given, in cubic meters.
        stated: f64,
        /// What bore and stroke make, in cubic meters.
        swept: f64,
    },
    /// With the transfers open the cylinder is under test too.
    #[error(
        "with the transfer ports open the cylinder is part of the tested volume: give compression_ratio (full stroke, geometric), or measure the volume directly"
    )]
    NoCompressionRatio,
    /// The rig's own volume can't be below zero.
    #[error("rig volume {} is below zero", told::<Volume>(*got))]
    Rig {
        /// What was given, in cubic meters.
        got: f64,
    },
    /// A tested volume must be above zero.
    #[error("tested volume {} is not above zero", told::<Volume>(*got))]
    NotPositive {
        /// What was given, in cubic meters.
        got: f64,
    },
    /// The piston is somewhere between top and bottom.
    #[error("piston travel {} does not lie between 0 and the stroke of {}", told::<Length>(*got), told::<Length>(*stroke))]
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
    #[error("{name} is {shown}; it must be above zero")]
    Input {
        /// Which input.
        name: &'static str,
        /// What was given, in the SI unit.
        got: f64,
        /// The same in a unit that reads well at its size.
        shown: String,
    },
    /// An input that can't be below zero.
    #[error("{name} is {shown}; it can't be below zero")]
    Negative {
        /// Which input.
        name: &'static str,
        /// What was given, in the SI unit.
        got: f64,
        /// The same in a unit that reads well at its size.
        shown: String,
    },
    /// The volume is divided by this difference, which the readings don't tell from zero.
    #[error(
        "{name} is {}; it must stand clear of zero by {RESOLVED} times its standard uncertainty, so make it larger or read it more closely{}",
        uncertainties(*got, *standard_uncertainty), settle(*.unsettled)
    )]
    Unresolved {
        /// Which difference.
        name: &'static str,
        /// Its value, in the SI unit.
        got: f64,
        /// Its standard uncertainty.
        standard_uncertainty: f64,
        /// Whether most of that is gas that may not have settled.
        unsettled: bool,
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
        "{} after {strokes} strokes: with its dead space the pump can't pass {}",
        told::<GaugePressure>(*gauge), told::<GaugePressure>(*limit)
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
    #[error("water at {}: the density formula holds from 0 to 40 C", told::<ThermodynamicTemperature>(*got))]
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
    #[error("`{piece}`: the inner diameter {} must be smaller than the outer {}", told::<Length>(*inner), told::<Length>(*outer))]
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

/// The output at this place, a difference that the volume is divided by, stands clear of zero.
pub(super) fn check_resolved(
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
        return Ok(());
    }
    let most = |part: &&Contribution| part.variance_share > 0.5;
    let most = difference.contributions().iter().find(most);
    Err(VolumeError::Unresolved {
        name,
        got,
        standard_uncertainty,
        unsettled: most.is_some_and(|part| part.name == UNSETTLED),
    })
}

/// The input that says how far the gas had settled.
pub(super) const UNSETTLED: &str = "gas not settled";

/// How far from zero a difference is.
fn uncertainties(got: f64, standard_uncertainty: f64) -> String {
    if got == 0.0 {
        "zero".to_owned()
    } else {
        format!(
            "{} times its standard uncertainty",
            told::<Ratio>(got.abs() / standard_uncertainty)
        )
    }
}

fn settle(unsettled: bool) -> &'static str {
    if unsettled {
        ". Most of that is gas that may not have settled: wait until it surely has, and say how nearly in `settled_within`"
    } else {
        ""
    }
}

pub(super) fn check_positive<Q: Measurable + TradeUnits>(
    name: &'static str,
    measured: &Measured<Q>,
) -> Result<(), VolumeError> {
    let got = measured.value().si();
    if got > 0.0 {
        Ok(())
    } else {
        let shown = told::<Q>(got);
        Err(VolumeError::Input { name, got, shown })
    }
}

pub(super) fn check_not_negative<Q: Measurable + TradeUnits>(
    name: &'static str,
    measured: &Measured<Q>,
) -> Result<(), VolumeError> {
    let got = measured.value().si();
    if got >= 0.0 {
        Ok(())
    } else {
        let shown = told::<Q>(got);
        Err(VolumeError::Negative { name, got, shown })
    }
}
