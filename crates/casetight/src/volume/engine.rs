//! The tested volume from the engine's dimensions: slider-crank, primary compression ratio, clearance, rig.

use std::f64::consts::{FRAC_PI_4, TAU};

use uom::si::angle::radian;
use uom::si::f64::Angle;
use uom::si::length::meter;

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
pub(super) const STROKE: &str = "stroke";
pub(super) const ROD: &str = "rod";
const PRIMARY: &str = "primary_compression_ratio";
const COMPRESSION: &str = "compression_ratio";
const ANGLE: &str = "crank angle";
const RIG: &str = "rig";

/// Piston travel from top dead center.
///
/// `s = r (1 - cos theta) + l - sqrt(l^2 - r^2 sin^2 theta)`, written without its differences of like numbers.
pub(super) fn travel<D: DualNum<f64> + Copy>(stroke: D, rod: D, theta: D) -> D {
    let r = stroke * 0.5;
    let half = (theta * 0.5).sin();
    let across = r * theta.sin();
    r * half * half * 2.0 + across * across / (rod + (rod * rod - across * across).sqrt())
}

pub(super) fn swept<D: DualNum<f64> + Copy>(bore: D, stroke: D) -> D {
    bore * bore * stroke * FRAC_PI_4
}

/// What lies beyond the swept volume on one side of the piston, from that side's ratio `(V + V_swept)/V`.
fn beyond<D: DualNum<f64> + Copy>(swept: D, ratio: D) -> D {
    swept / (ratio - 1.0)
}

/// A slider-crank: stroke and rod (center to center), crank axis in line with the bore.
///
/// Derived from the triangle of throw r = stroke/2, rod l and the distance between crank axis and wrist pin.
/// Not for an offset (desaxe) cylinder: there travel is not symmetric about top dead center.
///
/// ```
/// use casetight::quantity::Length;
/// use casetight::volume::Crank;
/// use uom::si::{angle::degree, f64::Angle, length::millimeter};
///
/// let crank = Crank::new(Length::new::<millimeter>(60.0), Length::new::<millimeter>(110.0))?;
/// let travel = crank.travel(Angle::new::<degree>(90.0))?;
/// assert!((travel.get::<millimeter>() - 34.1699).abs() < 5e-5);
/// # Ok::<(), casetight::volume::VolumeError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Crank {
    stroke: Length,
    rod: Length,
}

impl Crank {
    /// A slider-crank from its stroke and rod length (center to center).
    ///
    /// # Errors
    /// [`VolumeError::Length`] unless both are finite and above zero, [`VolumeError::Rod`] unless the rod is longer than
    /// half the stroke.
    pub fn new(stroke: Length, rod: Length) -> Result<Self, VolumeError> {
        check_length(STROKE, stroke)?;
        check_length(ROD, rod)?;
        let throw = stroke * 0.5;
        if rod <= throw {
            return Err(VolumeError::Rod {
                rod: rod.get::<meter>(),
                throw: throw.get::<meter>(),
            });
        }
        Ok(Self { stroke, rod })
    }

    /// Stroke 2 r.
    #[must_use]
    pub fn stroke(&self) -> Length {
        self.stroke
    }

    /// Rod length l from center to center.
    #[must_use]
    pub fn rod(&self) -> Length {
        self.rod
    }

    /// Piston travel from top dead center at a crank angle theta after it,
    /// `s = r (1 - cos theta) + l - sqrt(l^2 - r^2 sin^2 theta)` \[m\].
    ///
    /// # Errors
    /// [`VolumeError::Angle`] unless the angle is finite.
    pub fn travel(&self, after_top: Angle) -> Result<Length, VolumeError> {
        Ok(Length::new::<meter>(self.travel_dual(after_top)?.re))
    }

    /// `ds/dtheta` \[m per radian\].
    ///
    /// # Errors
    /// [`VolumeError::Angle`] unless the angle is finite.
    pub fn travel_per_radian(&self, after_top: Angle) -> Result<Length, VolumeError> {
        Ok(Length::new::<meter>(self.travel_dual(after_top)?.eps))
    }

    fn travel_dual(&self, after_top: Angle) -> Result<Dual, VolumeError> {
        let got = after_top.get::<radian>();
        if !got.is_finite() {
            return Err(VolumeError::Angle { got });
        }
        let theta = Dual::from(got).derivative();
        Ok(travel(
            self.stroke.value.into(),
            self.rod.value.into(),
            theta,
        ))
    }

    /// The crank angle, 0 to pi after top dead center, at which the piston has gone down by `travel`.
    ///
    /// `tan^2(theta/2) = s (2 l - s)/((2 r - s)(2 r + 2 l - s))`, the half-angle form of the law of cosines, which keeps its
    /// digits at both ends.
    ///
    /// # Errors
    /// [`VolumeError::Travel`] unless the travel lies between zero and the stroke.
    pub fn angle(&self, travel: Length) -> Result<Angle, VolumeError> {
        let (s, stroke, rod) = (travel.value, self.stroke.value, self.rod.value);
        if !(0.0..=stroke).contains(&s) {
            return Err(VolumeError::Travel { got: s, stroke });
        }
        let from_top = s * (2.0 * rod - s);
        let from_bottom = (stroke - s) * (stroke + 2.0 * rod - s);
        let half = from_top.max(0.0).sqrt().atan2(from_bottom.sqrt());
        Ok(Angle::new::<radian>(2.0 * half))
    }
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
        if rig.value().value < 0.0 {
            return Err(VolumeError::Rig {
                got: rig.value().value,
            });
        }
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
        let (after_top, half_width) = piston.angle();
        let angle = Measured::from_half_width(after_top, half_width, Distribution::Rectangular)?;
        let [bore, stroke, rod, primary] = engine.case_inputs();
        let inputs = [bore, stroke, rod, primary, angle.input(ANGLE), rig];
        let joint =
            propagate_jointly(&inputs, None, |[bore, stroke, rod, primary, theta, rig]| {
                let (case, above) = case_side(bore, stroke, rod, primary, theta);
                [case + above + rig, case, above, rig]
            })?;
        let names = ["case at bottom", "cylinder below the piston", RIG];
        Self::from_outputs(Method::EngineDimensions, &joint, names.map(Into::into))
    }
}

pub(super) fn check_length(name: &'static str, length: Length) -> Result<(), VolumeError> {
    let got = length.get::<meter>();
    if got.is_finite() && got > 0.0 {
        Ok(())
    } else {
        Err(VolumeError::Length { name, got })
    }
}

fn check_ratio(name: &'static str, measured: &Measured<Ratio>) -> Result<(), VolumeError> {
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
mod tests {
    use super::*;
    use crate::measured::{Evaluation, monte_carlo};
    use proptest::prelude::*;
    use uom::si::angle::degree;
    use uom::si::length::millimeter;
    use uom::si::ratio::ratio;
    use uom::si::volume::cubic_centimeter;

    /// Lengths, volumes and angles are a few operations from their inputs: some units in the last place.
    const ROUNDING: f64 = 1e-13;

    const NORMAL: Evaluation = Evaluation::TypeB(Distribution::Normal);

    fn mm(value: f64) -> Length {
        Length::new::<millimeter>(value)
    }

    fn deg(value: f64) -> Angle {
        Angle::new::<degree>(value)
    }

    fn length(value: f64, uncertainty: f64) -> Measured<Length> {
        Measured::new(mm(value), mm(uncertainty), NORMAL).unwrap()
    }

    fn number(value: f64, uncertainty: f64) -> Measured<Ratio> {
        Measured::new(
            Ratio::new::<ratio>(value),
            Ratio::new::<ratio>(uncertainty),
            NORMAL,
        )
        .unwrap()
    }

    fn cm3(value: f64, uncertainty: f64) -> Measured<Volume> {
        let volume = Volume::new::<cubic_centimeter>;
        Measured::new(volume(value), volume(uncertainty), NORMAL).unwrap()
    }

    fn in_cm3(volume: &Measured<Volume>) -> f64 {
        volume.value().get::<cubic_centimeter>()
    }

    /// An engine of the given swept volume [cm3] at a stroke of 40 mm.
    fn engine_of(swept: f64, primary: f64) -> Engine {
        let bore = (swept * 1000.0 / (FRAC_PI_4 * 40.0)).sqrt();
        Engine::new(
            length(bore, 0.0),
            length(40.0, 0.0),
            length(80.0, 0.0),
            number(primary, 0.0),
        )
        .unwrap()
    }

    /// A blower's engine with uncertainties as a bench would state them.
    fn blower() -> Engine {
        Engine::new(
            length(40.0, 0.03),
            length(34.0, 0.03),
            length(62.0, 0.3),
            number(1.45, 0.02),
        )
        .unwrap()
        .with_compression_ratio(number(8.0, 0.3))
        .unwrap()
    }

    #[test]
    fn travel_agrees_with_an_independent_script() {
        // Independent script: s = r (1 - cos a) + l - sqrt(l^2 - r^2 sin^2 a), printed to 1e-4 mm.
        for (stroke, rod, table) in [
            (
                60.0,
                110.0,
                [
                    (30.0, 5.0468),
                    (60.0, 18.1122),
                    (90.0, 34.1699),
                    (110.0, 43.9343),
                    (120.0, 48.1122),
                ],
            ),
            (
                34.0,
                62.0,
                [
                    (30.0, 2.8630),
                    (60.0, 10.2733),
                    (90.0, 19.3762),
                    (110.0, 24.9077),
                    (120.0, 27.2733),
                ],
            ),
            (
                32.0,
                60.0,
                [
                    (30.0, 2.6793),
                    (60.0, 9.6219),
                    (90.0, 18.1727),
                    (110.0, 23.3866),
                    (120.0, 25.6219),
                ],
            ),
        ] {
            let crank = Crank::new(mm(stroke), mm(rod)).unwrap();
            for (angle, travel) in table {
                let got = crank.travel(deg(angle)).unwrap().get::<millimeter>();
                assert!(
                    (got - travel).abs() < 5.1e-5,
                    "{stroke}/{rod} at {angle}: {got}"
                );
            }
        }
    }

    #[test]
    fn case_volumes_agree_with_an_independent_script() {
        // Independent script: V(bottom) = V_swept/(ratio - 1), V(top) = V(bottom) + V_swept, printed to 0.1 cm3.
        for (swept, primary, bottom, top) in [
            (50.0, 1.4, 125.0, 175.0),
            (65.0, 1.5, 130.0, 195.0),
            (35.0, 1.45, 77.8, 112.8),
        ] {
            let engine = engine_of(swept, primary);
            let at = |degrees| in_cm3(&engine.at(deg(degrees)).unwrap().case_side);
            assert!((at(180.0) - bottom).abs() < 0.051);
            assert!((at(0.0) - top).abs() < 0.051);
        }
    }

    #[test]
    fn half_a_square_engine_by_hand() {
        // Self-consistency: swept 40 cm3, primary 1.5, compression 9, so case 80, clearance 5, rig 12 cm3.
        let engine = engine_of(40.0, 1.5)
            .with_compression_ratio(number(9.0, 0.0))
            .unwrap();
        let whole = |piston| TestedVolume::from_engine(&engine, piston, &cm3(12.0, 0.0)).unwrap();
        let volume = |piston| in_cm3(whole(piston).volume());
        assert!((volume(Piston::Bottom) - 137.0).abs() < 1e-10);
        assert!((volume(Piston::Top) - 132.0).abs() < 1e-10);
        let shut = "90 deg, transfers shut".parse().unwrap();
        // r = 20, l = 80: s(90 deg) = 20 + 80 - sqrt(6000) mm.
        let left = 40.0 - (100.0 - 6000.0_f64.sqrt());
        assert!((volume(shut) - (92.0 + left)).abs() < 1e-10);
        let open = "130 deg, transfers open".parse().unwrap();
        assert_eq!(volume(open), volume(Piston::Bottom));
        let bottom = whole(Piston::Bottom);
        let names: Vec<_> = bottom
            .parts()
            .iter()
            .map(|part| part.name.as_ref())
            .collect();
        assert_eq!(
            names,
            ["case at bottom", "swept volume", "clearance at top", "rig"]
        );
        assert_eq!(
            whole(Piston::Top).volume().standard_uncertainty().value,
            0.0
        );
        assert_eq!(whole(Piston::Top).method(), Method::EngineDimensions);
    }

    #[test]
    fn uncertainty_goes_through_the_whole_sum_at_once() {
        let (engine, rig) = (blower(), cm3(15.0, 1.5));
        let tested = TestedVolume::from_engine(&engine, Piston::Bottom, &rig).unwrap();
        // By hand: V = V_s k + V_rig with k = 1 + 1/(P - 1) + 1/(C - 1).
        let swept = FRAC_PI_4 * 4.0 * 4.0 * 3.4;
        let k = 1.0 + 1.0 / 0.45 + 1.0 / 7.0;
        let parts = [
            2.0 * swept * k * 0.03 / 40.0,
            swept * k * 0.03 / 34.0,
            -swept * 0.02 / 0.45_f64.powi(2),
            -swept * 0.3 / 49.0,
            1.5,
        ];
        let u = parts.iter().map(|part| part * part).sum::<f64>().sqrt();
        let got = tested
            .volume()
            .standard_uncertainty()
            .get::<cubic_centimeter>();
        assert!((got / u - 1.0).abs() < ROUNDING, "{got} {u}");
        assert!((in_cm3(tested.volume()) / (swept * k + 15.0) - 1.0).abs() < ROUNDING);
        for (contribution, part) in tested.contributions().iter().zip(parts) {
            let got = contribution.uncertainty * 1e6;
            assert!((got / part - 1.0).abs() < 1e-12, "{contribution:?} {part}");
        }
        let shares: f64 = tested
            .contributions()
            .iter()
            .map(|c| c.variance_share)
            .sum();
        assert!((shares - 1.0).abs() < ROUNDING);
        // The parts share bore, stroke and the ratio's swept volume: in quadrature they give another number.
        let quadrature = tested
            .parts()
            .iter()
            .map(|part| {
                part.volume
                    .standard_uncertainty()
                    .get::<cubic_centimeter>()
                    .powi(2)
            })
            .sum::<f64>()
            .sqrt();
        assert!(quadrature < got);
    }

    #[test]
    fn first_order_agrees_with_monte_carlo_for_usual_uncertainties() {
        let engine = blower();
        let rig = cm3(15.0, 1.5);
        let piston: Piston = "60 +- 2 deg, transfers shut".parse().unwrap();
        let tested = TestedVolume::from_engine(&engine, piston, &rig).unwrap();
        let (after_top, half_width) = piston.angle();
        let angle =
            Measured::from_half_width(after_top, half_width, Distribution::Rectangular).unwrap();
        let [bore, stroke, rod, primary] = engine.case_inputs();
        let inputs = [
            bore,
            stroke,
            rod,
            primary,
            angle.input(ANGLE),
            rig.input(RIG),
        ];
        // Written from the textbook's form, not the code's.
        let run = monte_carlo(&inputs, None, 100_000, 7, |[b, s, l, p, t, rig]| {
            let r = s / 2.0;
            let down = r - r * t.cos() + l - (l * l - (r * t.sin()).powi(2)).sqrt();
            let area = b * b * FRAC_PI_4;
            area * s * p / (p - 1.0) - area * down + rig
        })
        .unwrap();
        let volume = tested.volume();
        // 1/(P - 1) bends: (u/(P - 1))^2 = 0.2 % of the case volume in the mean, about as much in u; 0.3 % from sampling.
        let bias = run.mean() / volume.value().value - 1.0;
        assert!(bias.abs() < 3e-3, "{bias}");
        let spread = run.standard_uncertainty() / volume.standard_uncertainty().value - 1.0;
        assert!(spread.abs() < 0.012, "{spread}");
        // The angle counts, but little.
        let share = tested.contributions()[4].variance_share;
        assert!((0.001..0.1).contains(&share), "{share}");
    }

    #[test]
    fn a_turn_starts_at_the_top_and_is_even() {
        let turn = blower().over_a_turn(36).unwrap();
        assert_eq!(turn.len(), 36);
        assert_eq!(turn[0].after_top.value, 0.0);
        assert_eq!(turn[0].travel.value().value, 0.0);
        for point in &turn {
            let mirrored = blower().at(deg(360.0) - point.after_top).unwrap();
            let relative = point.case_side.value() / mirrored.case_side.value();
            assert!((relative.value - 1.0).abs() < ROUNDING);
        }
        let cylinder = |point: &TurnPoint| in_cm3(point.cylinder_side.as_ref().unwrap());
        assert!((cylinder(&turn[18]) / cylinder(&turn[0]) - 8.0).abs() < 1e-12);
        assert!(matches!(
            blower().over_a_turn(0),
            Err(VolumeError::NoAngles)
        ));
        assert!(
            engine_of(40.0, 1.5)
                .at(deg(10.0))
                .unwrap()
                .cylinder_side
                .is_none()
        );
    }

    #[test]
    fn impossible_dimensions_are_refused() {
        for got in [0.0, -1.0, f64::INFINITY, f64::NAN] {
            let error = Crank::new(mm(got), mm(60.0)).unwrap_err();
            assert!(matches!(error, VolumeError::Length { name: "stroke", .. }));
            let error = Crank::new(mm(34.0), mm(got)).unwrap_err();
            assert!(matches!(error, VolumeError::Length { name: "rod", .. }));
        }
        for rod in [10.0, 17.0] {
            let error = Crank::new(mm(34.0), mm(rod)).unwrap_err();
            assert!(matches!(error, VolumeError::Rod { .. }), "{error}");
        }
        let engine = |bore, primary| {
            Engine::new(
                length(bore, 0.0),
                length(34.0, 0.0),
                length(62.0, 0.0),
                primary,
            )
        };
        assert!(matches!(
            engine(0.0, number(1.45, 0.0)),
            Err(VolumeError::Length { name: "bore", .. })
        ));
        for primary in [number(1.0, 0.0), number(0.7, 0.0), number(1.1, 0.06)] {
            let error = engine(40.0, primary).unwrap_err();
            assert!(
                matches!(error, VolumeError::Ratio { name: PRIMARY, .. }),
                "{error}"
            );
        }
        let error = blower()
            .with_compression_ratio(number(1.0, 0.0))
            .unwrap_err();
        assert!(matches!(
            error,
            VolumeError::Ratio {
                name: COMPRESSION,
                ..
            }
        ));
    }

    #[test]
    fn impossible_tests_are_refused() {
        let rig = cm3(15.0, 0.0);
        let refused = |engine: &Engine, piston: Piston, rig: &Measured<Volume>| {
            TestedVolume::from_engine(engine, piston, rig).unwrap_err()
        };
        let engine = engine_of(40.0, 1.5);
        let error = refused(&engine, Piston::Bottom, &rig);
        assert_eq!(error, VolumeError::NoCompressionRatio);
        let error = refused(&engine, Piston::Top, &cm3(-1.0, 0.0));
        assert!(matches!(error, VolumeError::Rig { .. }));
        let piston = Piston::Angle {
            after_top: deg(f64::NAN),
            half_width: deg(0.0),
            transfers: Transfers::Shut,
        };
        let error = refused(&engine, piston, &rig);
        assert!(matches!(error, VolumeError::Piston(_)));
        let speck = Engine::new(
            length(1e-150, 0.0),
            length(1e-150, 0.0),
            length(1e-150, 0.0),
            number(1.5, 0.0),
        );
        let error = refused(&speck.unwrap(), Piston::Top, &cm3(0.0, 0.0));
        assert!(matches!(
            error,
            VolumeError::NotPositive { .. } | VolumeError::Measured(_)
        ));
        let crank = engine.crank();
        for travel in [-0.1, 40.1, f64::NAN] {
            let error = crank.angle(mm(travel)).unwrap_err();
            assert!(matches!(error, VolumeError::Travel { .. }));
        }
        for angle in [f64::NAN, f64::INFINITY] {
            assert!(matches!(
                crank.travel(deg(angle)),
                Err(VolumeError::Angle { .. })
            ));
            assert!(matches!(
                engine.at(deg(angle)),
                Err(VolumeError::Angle { .. })
            ));
        }
    }

    prop_compose! {
        fn cranks()(stroke in 20.0..80.0_f64, rods in 0.55..3.0_f64) -> Crank {
            Crank::new(mm(stroke), mm(stroke * rods)).unwrap()
        }
    }

    proptest! {
        #[test]
        fn travel_goes_down_steadily(crank in cranks(), a in 0.0..180.0_f64, b in 0.0..180.0_f64) {
            let (low, high) = (a.min(b), a.max(b));
            let travel = |angle| crank.travel(deg(angle)).unwrap();
            let slack = crank.stroke() * ROUNDING;
            prop_assert!(travel(low) <= travel(high) + slack);
            prop_assert!(travel(0.0).value == 0.0);
            prop_assert!((travel(180.0) - crank.stroke()).abs() <= slack);
        }

        #[test]
        fn angle_undoes_travel(crank in cranks(), angle in 0.0..180.0_f64) {
            let travel = crank.travel(deg(angle)).unwrap().min(crank.stroke());
            let back = crank.angle(travel).unwrap();
            // Near bottom dead center the travel's last digit is the angle's eighth, so compare what can be told:
            // the travel at the angle found.
            let again = crank.travel(back).unwrap();
            prop_assert!((again - travel).abs() <= crank.stroke() * ROUNDING);
            if angle < 170.0 {
                prop_assert!((back.get::<degree>() - angle).abs() < 1e-9, "{}", back.get::<degree>());
            }
        }

        #[test]
        fn derivative_is_the_slope(crank in cranks(), angle in 0.0..360.0_f64) {
            let h = 1e-3;
            let travel = |angle| crank.travel(deg(angle)).unwrap().value;
            let slope = (travel(angle + h) - travel(angle - h)) / (2.0 * h.to_radians());
            let got = crank.travel_per_radian(deg(angle)).unwrap().value;
            // Central difference: its third-order term and the travels' rounding over h, with room for short rods.
            prop_assert!((got - slope).abs() < 1e-6 * crank.stroke().value, "{got} {slope}");
        }

        #[test]
        fn case_and_cylinder_share_the_swept_volume(
            bore in 30.0..60.0_f64, stroke in 25.0..60.0_f64, primary in 1.2..2.0_f64, angle in 0.0..360.0_f64,
        ) {
            let engine = Engine::new(
                length(bore, 0.1), length(stroke, 0.1), length(1.8 * stroke, 0.5), number(primary, 0.01),
            ).unwrap().with_compression_ratio(number(8.0, 0.1)).unwrap();
            let swept = engine.swept_volume().unwrap().value();
            let (top, here, bottom) =
                (engine.at(deg(0.0)).unwrap(), engine.at(deg(angle)).unwrap(), engine.at(deg(180.0)).unwrap());
            let slack = top.case_side.value() * ROUNDING;
            prop_assert!((top.case_side.value() - bottom.case_side.value() - swept).abs() <= slack);
            let quotient = top.case_side.value() / bottom.case_side.value();
            prop_assert!((quotient.value - primary).abs() <= 1e-12);
            let both = |point: &TurnPoint| point.case_side.value() + point.cylinder_side.as_ref().unwrap().value();
            prop_assert!((both(&here) - both(&top)).abs() <= slack);
            let tested = TestedVolume::from_engine(&engine, Piston::Bottom, &cm3(0.0, 0.0)).unwrap();
            prop_assert!((both(&here) - tested.volume().value()).abs() <= slack);
            let parts: Volume = tested.parts().iter().map(|part| part.volume.value()).sum();
            prop_assert!((parts - tested.volume().value()).abs() <= slack);
        }
    }
}
