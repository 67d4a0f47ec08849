//! The tested volume from the engine's dimensions: primary compression ratio, clearance, rig.

use std::f64::consts::{FRAC_PI_4, TAU};

use uom::si::angle::radian;
use uom::si::f64::Angle;

use super::crank::{Crank, ROD, STROKE, check_length, travel};
use super::error::VolumeError;
use super::method::Method;
use super::piston::{Piston, Transfers};
use super::tested::TestedVolume;
use crate::measured::{
    Distribution, Dual, DualNum, Input, Measured, MeasuredError, Propagated, PropagatedJointly,
    propagate, propagate_jointly,
};
use crate::quantity::{Length, Ratio, Volume};

/// How far above 1, in standard uncertainties, a compression ratio must be: `V_swept/(CR - 1)` has no usable first-order
/// uncertainty (and soon no finite mean) where CR - 1 is not told from zero.
const RATIO_COVERAGE: f64 = 2.0;

pub(super) const BORE: &str = "bore";
pub(super) const PRIMARY: &str = "primary_compression_ratio";
pub(super) const COMPRESSION: &str = "compression_ratio";
const ANGLE: &str = "crank angle";
pub(super) const RIG: &str = "rig";

pub(super) fn swept<D: DualNum<f64> + Copy>(bore: D, stroke: D) -> D {
    bore * bore * stroke * FRAC_PI_4
}

/// What lies beyond the swept volume on one side of the piston, from that side's ratio `(V + V_swept)/V`.
fn beyond<D: DualNum<f64> + Copy>(swept: D, ratio: D) -> D {
    swept / (ratio - 1.0)
}

/// The dimensions of a two-stroke engine that its volumes follow from.
///
/// - `primary_compression_ratio = V_case(top)/V_case(bottom)`, the crankcase's, over the full stroke, so that
///   `V_case(bottom) = V_swept/(ratio - 1)`. The case ends at the piston's underside and takes in the transfer ducts.
/// - `compression_ratio = (V_swept + V_clearance)/V_clearance`, the cylinder's, geometric: over the full stroke, not from
///   the closing of the exhaust port (a "trapped" or "effective" ratio is smaller and gives too large a clearance).
///
/// ```
/// use casetight::measured::{Distribution, Measured};
/// use casetight::quantity::{Length, Ratio, Volume};
/// use casetight::volume::{Engine, Piston, TestedVolume};
/// use uom::si::{length::millimeter, ratio::ratio, volume::cubic_centimeter};
///
/// let length = |mm, half_width| {
///     Measured::from_half_width(
///         Length::new::<millimeter>(mm),
///         Length::new::<millimeter>(half_width),
///         Distribution::Rectangular,
///     )
/// };
/// let number = |value, half_width| {
///     Measured::from_half_width(
///         Ratio::new::<ratio>(value),
///         Ratio::new::<ratio>(half_width),
///         Distribution::Rectangular,
///     )
/// };
/// let engine = Engine::new(length(40.0, 0.05)?, length(34.0, 0.05)?, length(62.0, 0.5)?, number(1.45, 0.05)?)?
///     .with_compression_ratio(number(8.0, 0.5)?)?;
/// let rig = Measured::exact(Volume::new::<cubic_centimeter>(15.0))?;
/// let tested = TestedVolume::from_engine(&engine, Piston::Bottom, &rig)?;
/// let v = tested.volume();
/// assert!((v.value().get::<cubic_centimeter>() - 158.77).abs() < 0.01);
/// assert!((v.standard_uncertainty().get::<cubic_centimeter>() - 6.11).abs() < 0.01);
/// // Nearly all of it comes from the primary compression ratio.
/// assert!(tested.contributions().iter().any(|c| c.name == "primary_compression_ratio" && c.variance_share > 0.95));
/// # Ok::<(), casetight::volume::VolumeError>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Engine {
    bore: Measured<Length>,
    stroke: Measured<Length>,
    rod: Measured<Length>,
    primary_compression_ratio: Measured<Ratio>,
    compression_ratio: Option<Measured<Ratio>>,
}

/// A row of [`Engine::over_a_turn`].
#[derive(Debug, Clone, PartialEq)]
pub struct TurnPoint {
    /// Crank angle after top dead center.
    pub after_top: Angle,
    /// Piston travel from top dead center.
    pub travel: Measured<Length>,
    /// The volume below the piston, transfer ducts included, without a rig.
    pub case_side: Measured<Volume>,
    /// The volume above the piston; `None` where the engine has no compression ratio.
    pub cylinder_side: Option<Measured<Volume>>,
}

impl Engine {
    /// An engine's dimensions; the rod from center to center.
    ///
    /// # Errors
    /// [`VolumeError::Length`] for a bore, stroke or rod that is not above zero, [`VolumeError::Rod`] for a rod that is
    /// not longer than half the stroke, [`VolumeError::Ratio`] for a ratio not above 1 by more than twice its standard
    /// uncertainty.
    pub fn new(
        bore: Measured<Length>,
        stroke: Measured<Length>,
        rod: Measured<Length>,
        primary_compression_ratio: Measured<Ratio>,
    ) -> Result<Self, VolumeError> {
        check_length(BORE, bore.value())?;
        Crank::new(stroke.value(), rod.value())?;
        check_ratio(PRIMARY, &primary_compression_ratio)?;
        Ok(Self {
            bore,
            stroke,
            rod,
            primary_compression_ratio,
            compression_ratio: None,
        })
    }

    /// The same with its compression ratio (geometric), which a test with open transfers needs.
    ///
    /// # Errors
    /// [`VolumeError::Ratio`] as for the primary ratio.
    pub fn with_compression_ratio(
        self,
        compression_ratio: Measured<Ratio>,
    ) -> Result<Self, VolumeError> {
        check_ratio(COMPRESSION, &compression_ratio)?;
        Ok(Self {
            compression_ratio: Some(compression_ratio),
            ..self
        })
    }

    /// The slider-crank.
    #[must_use]
    pub fn crank(&self) -> Crank {
        Crank {
            stroke: self.stroke.value(),
            rod: self.rod.value(),
        }
    }

    /// Swept volume `pi/4 bore^2 stroke` \[m3\].
    ///
    /// # Errors
    /// [`VolumeError::Measured`] where the result is beyond what a number holds.
    pub fn swept_volume(&self) -> Result<Measured<Volume>, VolumeError> {
        let inputs = [self.bore.input(BORE), self.stroke.input(STROKE)];
        let swept = propagate(&inputs, None, |[bore, stroke]| swept(bore, stroke))?;
        Ok(swept.measured()?)
    }

    /// Volumes on both sides of the piston at `angles` equally spaced crank angles, from top dead center on.
    ///
    /// # Errors
    /// [`VolumeError::NoAngles`] for none; [`VolumeError::Measured`] where a result is beyond what a number holds.
    pub fn over_a_turn(&self, angles: u16) -> Result<Vec<TurnPoint>, VolumeError> {
        if angles == 0 {
            return Err(VolumeError::NoAngles);
        }
        let step = TAU / f64::from(angles);
        (0..angles)
            .map(|row| self.at(Angle::new::<radian>(step * f64::from(row))))
            .collect()
    }

    /// Volumes on both sides of the piston at a crank angle after top dead center, taken as exact.
    ///
    /// # Errors
    /// [`VolumeError::Angle`] unless the angle is finite; [`VolumeError::Measured`] as above.
    pub fn at(&self, after_top: Angle) -> Result<TurnPoint, VolumeError> {
        let got = after_top.get::<radian>();
        if !got.is_finite() {
            return Err(VolumeError::Angle { got });
        }
        let theta = Dual::from(got);
        let [bore, stroke, rod, primary] = self.case_inputs();
        let below = propagate_jointly(
            &[bore.clone(), stroke.clone(), rod.clone(), primary],
            None,
            |[bore, stroke, rod, primary]| {
                let (bottom, above_bottom) = case_side(bore, stroke, rod, primary, theta);
                [travel(stroke, rod, theta), bottom + above_bottom]
            },
        )?;
        let [travelled, case] = outputs(&below)?;
        let cylinder_side = match &self.compression_ratio {
            None => None,
            Some(ratio) => {
                let inputs = [bore, stroke, rod, ratio.input(COMPRESSION)];
                let above = propagate(&inputs, None, |[bore, stroke, rod, ratio]| {
                    let under_head = swept(bore, travel(stroke, rod, theta));
                    beyond(swept(bore, stroke), ratio) + under_head
                })?;
                Some(above.measured()?)
            }
        };
        Ok(TurnPoint {
            after_top,
            travel: travelled.measured()?,
            case_side: case.measured()?,
            cylinder_side,
        })
    }

    fn case_inputs(&self) -> [Input; 4] {
        [
            self.bore.input(BORE),
            self.stroke.input(STROKE),
            self.rod.input(ROD),
            self.primary_compression_ratio.input(PRIMARY),
        ]
    }
}

/// The case at bottom dead center, and what the piston has left free above that at the angle theta.
fn case_side(bore: Dual, stroke: Dual, rod: Dual, primary: Dual, theta: Dual) -> (Dual, Dual) {
    let bottom = beyond(swept(bore, stroke), primary);
    (bottom, swept(bore, stroke - travel(stroke, rod, theta)))
}

fn outputs<const M: usize>(joint: &PropagatedJointly) -> Result<&[Propagated; M], VolumeError> {
    let got = joint.outputs().len();
    let wrong = MeasuredError::ModelOutputs { got, expected: M };
    joint.outputs().try_into().map_err(|_| wrong.into())
}

impl TestedVolume {
    /// The tested volume from the engine's dimensions, the piston's position and the rig's own volume (hose, gauge,
    /// adapters up to the case; exactly zero where it is already in the dimensions).
    ///
    /// Transfers open: `V = V_case(bottom) + V_swept + V_clearance + V_rig`, independent of the crank's angle.
    /// Transfers shut: `V = V_case(bottom) + A (stroke - s(theta)) + V_rig`, with `A = pi/4 bore^2`. Uncertainties go through
    /// the whole sum at once, since bore and stroke enter several of its parts. First order: see
    /// [`crate::measured::propagate`].
    ///
    /// Limits: crank axis in line with the bore; a flat piston crown, or a ratio that allows for its shape; no leak past
    /// the rings into the space above during a test with the transfers shut.
    ///
    /// # Errors
    /// [`VolumeError::NoCompressionRatio`] with the transfers open and no compression ratio; [`VolumeError::Rig`] for a
    /// rig volume below zero; [`VolumeError::Piston`] for an impossible crank angle.
    pub fn from_engine(
        engine: &Engine,
        piston: Piston,
        rig: &Measured<Volume>,
    ) -> Result<Self, VolumeError> {
        check_rig(rig)?;
        let piston = piston.checked()?;
        let rig = rig.input(RIG);
        match piston.transfers() {
            Transfers::Open => Self::case_and_cylinder(engine, rig),
            Transfers::Shut => Self::case_alone(engine, piston, rig),
        }
    }

    fn case_and_cylinder(engine: &Engine, rig: Input) -> Result<Self, VolumeError> {
        let ratio = engine
            .compression_ratio
            .as_ref()
            .ok_or(VolumeError::NoCompressionRatio)?;
        let [bore, stroke, _, primary] = engine.case_inputs();
        let inputs = [bore, stroke, primary, ratio.input(COMPRESSION), rig];
        let joint = propagate_jointly(&inputs, None, |[bore, stroke, primary, ratio, rig]| {
            let swept = swept(bore, stroke);
            let (case, clearance) = (beyond(swept, primary), beyond(swept, ratio));
            [case + swept + clearance + rig, case, swept, clearance, rig]
        })?;
        let names = ["case at bottom", "swept volume", "clearance at top", RIG];
        Self::from_outputs(Method::EngineDimensions, &joint, names.map(Into::into))
    }

    fn case_alone(engine: &Engine, piston: Piston, rig: Input) -> Result<Self, VolumeError> {
        let [bore, stroke, rod, primary] = engine.case_inputs();
        let inputs = [bore, stroke, rod, primary, position(piston)?, rig];
        let joint =
            propagate_jointly(&inputs, None, |[bore, stroke, rod, primary, theta, rig]| {
                let (case, above) = case_side(bore, stroke, rod, primary, theta);
                [case + above + rig, case, above, rig]
            })?;
        let names = ["case at bottom", "cylinder below the piston", RIG];
        Self::from_outputs(Method::EngineDimensions, &joint, names.map(Into::into))
    }
}

/// The crank's angle with the piston in this position.
pub(super) fn position(piston: Piston) -> Result<Input, MeasuredError> {
    let (after_top, half_width) = piston.angle();
    let angle = Measured::from_half_width(after_top, half_width, Distribution::Rectangular)?;
    Ok(angle.input(ANGLE))
}

pub(super) fn check_rig(rig: &Measured<Volume>) -> Result<(), VolumeError> {
    let got = rig.value().value;
    if got < 0.0 {
        return Err(VolumeError::Rig { got });
    }
    Ok(())
}

pub(super) fn check_ratio(
    name: &'static str,
    measured: &Measured<Ratio>,
) -> Result<(), VolumeError> {
    let got = measured.value().value;
    let standard_uncertainty = measured.standard_uncertainty().value;
    if got - 1.0 > RATIO_COVERAGE * standard_uncertainty {
        Ok(())
    } else {
        Err(VolumeError::Ratio {
            name,
            got,
            standard_uncertainty,
        })
    }
}

#[cfg(test)]
#[path = "engine_tests.rs"]
mod tests;
