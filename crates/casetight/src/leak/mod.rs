//! Leak laws: the mass flow through a leak as a function of the gas upstream and the pressure downstream.
//!
//! The area that a decay can tell is the effective area `CdA`: that of the ideal orifice (Cd = 1) that passes the same
//! mass flow. A hole's diameter needs an assumed discharge coefficient; [`EffectiveArea::diameter`] asks for it.
//!
//! A new law is one file here and one `pub use` line below.

mod orifice;

use std::f64::consts::PI;

use uom::si::area::square_meter;
use uom::si::length::meter;

use crate::gas::{Gas, GasState};
use crate::quantity::{AbsolutePressure, Area, Length, MassRate};

pub use orifice::Orifice;

/// A law of mass flow through a leak.
pub trait LeakLaw: std::fmt::Debug {
    /// The law's name as sheets and results write it.
    fn name(&self) -> &'static str;

    /// Mass flow [kg/s] from the upstream state to the downstream pressure; zero where the downstream pressure is not
    /// the lower one.
    fn mass_flow(&self, gas: &Gas, upstream: GasState, downstream: AbsolutePressure) -> MassRate;

    /// The regime of that flow and what is out of the law's range there.
    fn regime(&self, gas: &Gas, upstream: GasState, downstream: AbsolutePressure) -> Regime;
}

/// How the gas flows through a leak.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum FlowKind {
    /// Sonic at the narrowest place: the downstream pressure no longer matters.
    Choked,
    /// Below the speed of sound everywhere.
    Subsonic,
}

/// The regime of a flow: returned by each law for each pair of pressures.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Regime {
    /// Choked or subsonic.
    pub kind: FlowKind,
    /// Ratio x of downstream to upstream pressure.
    pub pressure_ratio: f64,
    /// Reynolds number of a hole of this effective area, 4 mdot/(pi d mu).
    pub reynolds: Option<f64>,
    /// What lies outside the law's range of validity, one entry each.
    pub out_of_range: Vec<RangeNote>,
}

/// Something that lies outside a law's range of validity.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum RangeNote {
    /// Reynolds number so low that viscosity, not inertia, sets the flow: an orifice law understates the area.
    LowReynolds {
        /// The Reynolds number found.
        reynolds: f64,
        /// Below this the discharge coefficient falls.
        limit: f64,
    },
}

impl std::fmt::Display for RangeNote {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::LowReynolds { reynolds, limit } => write!(
                f,
                "Reynolds number {reynolds:.0} is below {limit:.0}: viscosity slows so small a leak, and its true opening is \
                 larger than the orifice that passes the same flow"
            ),
        }
    }
}

/// What can be wrong with a leak's size.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LeakError {
    /// An area must be finite and not below zero.
    #[error("effective area {got} m2 is not a finite number of at least zero")]
    Area {
        /// What was given, in square meters.
        got: f64,
    },
    /// A diameter must be finite and not below zero.
    #[error("hole diameter {got} m is not a finite number of at least zero")]
    Diameter {
        /// What was given, in meters.
        got: f64,
    },
    /// A discharge coefficient lies above 0 and not above 1.
    #[error(
        "discharge coefficient {got} is not above 0 and up to 1; a thin sharp-edged hole has about 0.6"
    )]
    DischargeCoefficient {
        /// What was given.
        got: f64,
    },
}

/// Effective leak area `CdA` [m2]: the area of the ideal orifice (Cd = 1) that passes the same mass flow.
///
/// ```
/// use casetight::leak::EffectiveArea;
/// use casetight::quantity::Length;
/// use uom::si::{area::square_millimeter, length::millimeter};
///
/// let leak = EffectiveArea::of_hole(Length::new::<millimeter>(0.1), 0.62)?;
/// assert!((leak.area().get::<square_millimeter>() - 0.004_869).abs() < 1e-6);
/// assert!((leak.diameter(0.62)?.get::<millimeter>() - 0.1).abs() < 1e-12);
/// # Ok::<(), casetight::leak::LeakError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct EffectiveArea(Area);

impl EffectiveArea {
    /// # Errors
    /// [`LeakError::Area`] unless the area is finite and at least zero.
    pub fn new(area: Area) -> Result<Self, LeakError> {
        Self::from_square_meters(area.get::<square_meter>())
    }

    /// # Errors
    /// As [`EffectiveArea::new`].
    pub fn from_square_meters(area: f64) -> Result<Self, LeakError> {
        if area.is_finite() && area >= 0.0 {
            Ok(Self(Area::new::<square_meter>(area)))
        } else {
            Err(LeakError::Area { got: area })
        }
    }

    /// The effective area Cd pi d^2/4 of a round hole of diameter d.
    ///
    /// # Errors
    /// [`LeakError::Diameter`], [`LeakError::DischargeCoefficient`].
    pub fn of_hole(diameter: Length, discharge_coefficient: f64) -> Result<Self, LeakError> {
        let d = diameter.get::<meter>();
        if !(d.is_finite() && d >= 0.0) {
            return Err(LeakError::Diameter { got: d });
        }
        Self::from_square_meters(check_coefficient(discharge_coefficient)? * PI * d * d / 4.0)
    }

    /// The area.
    #[must_use]
    pub fn area(self) -> Area {
        self.0
    }

    /// The area in square meters.
    #[must_use]
    pub fn square_meters(self) -> f64 {
        self.0.get::<square_meter>()
    }

    /// Diameter of the round hole that has this effective area at an assumed discharge coefficient.
    ///
    /// # Errors
    /// [`LeakError::DischargeCoefficient`].
    pub fn diameter(self, discharge_coefficient: f64) -> Result<Length, LeakError> {
        let cd = check_coefficient(discharge_coefficient)?;
        Ok(Length::new::<meter>(
            (4.0 * self.square_meters() / (PI * cd)).sqrt(),
        ))
    }
}

fn check_coefficient(cd: f64) -> Result<f64, LeakError> {
    if cd > 0.0 && cd <= 1.0 {
        Ok(cd)
    } else {
        Err(LeakError::DischargeCoefficient { got: cd })
    }
}
