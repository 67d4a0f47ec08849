//! The slider-crank: piston travel, its derivative and the crank angle of a travel.

use uom::si::angle::radian;
use uom::si::f64::Angle;
use uom::si::length::meter;

use super::error::VolumeError;
use crate::measured::{Dual, DualNum};
use crate::quantity::Length;

pub(super) const STROKE: &str = "stroke";
pub(super) const ROD: &str = "rod";

/// Piston travel from top dead center.
///
/// `s = r (1 - cos theta) + l - sqrt(l^2 - r^2 sin^2 theta)`, written without its differences of like numbers.
pub(super) fn travel<D: DualNum<f64> + Copy>(stroke: D, rod: D, theta: D) -> D {
    let r = stroke * 0.5;
    let half = (theta * 0.5).sin();
    let across = r * theta.sin();
    r * half * half * 2.0 + across * across / (rod + (rod * rod - across * across).sqrt())
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
    pub(super) stroke: Length,
    pub(super) rod: Length,
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

    /// The travel \[m\] and its slope \[m per radian\].
    pub(super) fn travel_dual(&self, after_top: Angle) -> Result<Dual, VolumeError> {
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

pub(super) fn check_length(name: &'static str, length: Length) -> Result<(), VolumeError> {
    let got = length.get::<meter>();
    if got.is_finite() && got > 0.0 {
        Ok(())
    } else {
        Err(VolumeError::Length { name, got })
    }
}
