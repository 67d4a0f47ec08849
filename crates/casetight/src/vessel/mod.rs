//! The forward model: a leak on a volume, and the gauge pressure against time that follows.
//!
//! An isothermal vessel with an orifice has closed forms, in both directions, choked and subsonic, for any gas:
//! [`IsothermalDecay`] is their public face. They rest on one idea: for each leak law there is a coordinate of the
//! pressure that falls along a straight line in time; choked flow and subsonic flow share it. [`LawDecay`] is the same for
//! the other laws that have such a coordinate. Any law at all, gas that exchanges heat with its wall, a wall that drifts and
//! a boot that gives are [`ThermalVessel`].

mod heat;
mod laminar;
mod law;
mod lumped;
mod model;
mod power;
mod sonic;
mod straight;
mod thermal;
mod thermal_ode;

use uom::si::thermodynamic_temperature::kelvin;
use uom::si::volume::cubic_meter;

use crate::gas::{Gas, GasState};
use crate::leak::{EffectiveArea, LeakError};
use crate::quantity::{GaugePressure, QuantityError, Time, Volume};

pub(crate) use heat::HeatPrior;
pub use heat::{Conductance, Heat};
pub(crate) use law::Coordinate;
pub use law::{DecayLaw, LawDecay};
pub(crate) use model::{DecayModel, HeatParameters, ModelParameters, ModelPartials};
pub(crate) use straight::{OrificeCoordinate, Straight};
pub use thermal::{ThermalVessel, VesselState};

/// Whether the case is pumped above ambient or pulled below it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "lowercase")
)]
pub enum Direction {
    /// Above ambient: air leaks out.
    Pressure,
    /// Below ambient: air leaks in.
    Vacuum,
}

impl Direction {
    /// The direction of a test that starts at this gauge pressure; none at exactly zero.
    #[must_use]
    pub fn of(start: GaugePressure) -> Option<Self> {
        match start.pascals() {
            g if g > 0.0 => Some(Self::Pressure),
            g if g < 0.0 => Some(Self::Vacuum),
            _ => None,
        }
    }

    /// +1 for pressure, -1 for vacuum.
    #[must_use]
    pub fn sign(self) -> f64 {
        match self {
            Self::Pressure => 1.0,
            Self::Vacuum => -1.0,
        }
    }
}

impl std::fmt::Display for Direction {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Pressure => "pressure",
            Self::Vacuum => "vacuum",
        })
    }
}

/// What can be wrong with a vessel.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum VesselError {
    /// The tested volume must be finite and above zero.
    #[error("tested volume {got} m3 is not a finite number above zero")]
    Volume {
        /// What was given, in cubic meters.
        got: f64,
    },
    /// The temperature must be finite and above absolute zero.
    #[error("gas temperature {got} K is not a finite number above zero")]
    Temperature {
        /// What was given, in kelvins.
        got: f64,
    },
    /// A test starts above or below ambient.
    #[error("the start gauge pressure is zero: nothing drives a leak")]
    NoPressure,
    /// A thermal conductance must be a number and not below zero.
    #[error(
        "thermal conductance {got} W/K is not a number of at least zero (infinite is isothermal)"
    )]
    Conductance {
        /// What was given, in watts per kelvin.
        got: f64,
    },
    /// A settling time before the first reading must be finite and not below zero.
    #[error("the gas was left to settle for {got} s; it must be a finite time of at least zero")]
    SettledFor {
        /// What was given, in seconds.
        got: f64,
    },
    /// Gas that settles at once has the wall's temperature.
    #[error(
        "gas at {got} K can't start off the wall's temperature where the conductance is infinite"
    )]
    SettledAtOnce {
        /// What was given, in kelvins.
        got: f64,
    },
    /// A compliance must be finite, not below zero, and leave a volume.
    #[error(
        "compliance {got} m3/Pa is not a finite number of at least zero that leaves a volume at the start pressure"
    )]
    Compliance {
        /// What was given, in cubic meters per pascal.
        got: f64,
    },
    /// A time must be finite and not before the start.
    #[error("time {got} s at place {place} (from 0) is not a finite number of at least zero")]
    Time {
        /// Which of the times.
        place: usize,
        /// What was given, in seconds.
        got: f64,
    },
    /// The law has no flow for this gas.
    #[error(
        "the law \"{law}\" gives a mass flow of {got} kg/s; it may need the viscosity of a gas that has none"
    )]
    Flow {
        /// The law's name.
        law: &'static str,
        /// What it gave, in kilograms per second.
        got: f64,
    },
    /// The equations can't be followed further.
    #[error("the vessel's equations can't be followed beyond {seconds} s")]
    Integration {
        /// How far they were followed, in seconds.
        seconds: f64,
    },
    /// The pressure is out of reach.
    #[error(transparent)]
    Quantity(#[from] QuantityError),
    /// The law's own number can't be.
    #[error(transparent)]
    Leak(#[from] LeakError),
}

/// Decay of an isothermal vessel (T = ambient temperature) through an ideal orifice; the right limit for slow leaks.
///
/// With k = `CdA` sqrt(R T)/V \[1/s\] and x the ratio of the lower to the higher pressure:
/// - pressure test, choked (p > `p_a`/x*): p = p0 exp(-k Psi* t)
/// - pressure test, subsonic: F(q) = F(q0) - k sqrt(beta/2) t, q^2 = x^-beta - 1, F(q) = Int (1+s^2)^(1/beta - 3/2) ds
/// - vacuum test, choked (p < x* `p_a`): p = p0 + k `p_a` Psi* t
/// - vacuum test, subsonic: u = u0 - k sqrt(beta/2) t, u^2 = 1 - x^beta
///
/// Both reach ambient in finite time and stay there. Derived for this project; source of the flow: `NACA1135`.
///
/// ```
/// use casetight::gas::{Gas, GasState};
/// use casetight::leak::EffectiveArea;
/// use casetight::quantity::{AbsolutePressure, GaugePressure, Length, ThermodynamicTemperature, Volume};
/// use casetight::vessel::IsothermalDecay;
/// use uom::si::{length::millimeter, thermodynamic_temperature::kelvin, time::second, volume::cubic_centimeter};
///
/// // How long does a hole of 0.1 mm take from 7 to 6 psi in 250 cm3?
/// let psi = 6894.757;
/// let decay = IsothermalDecay::new(
///     EffectiveArea::of_hole(Length::new::<millimeter>(0.1), 0.62)?,
///     Volume::new::<cubic_centimeter>(250.0),
///     GaugePressure::from_pascals(7.0 * psi)?,
///     GasState {
///         pressure: AbsolutePressure::from_pascals(101_325.0)?,
///         temperature: ThermodynamicTemperature::new::<kelvin>(293.15),
///     },
///     &Gas::dry_air(),
/// )?;
/// let t = decay.time_to(GaugePressure::from_pascals(6.0 * psi)?).ok_or("never")?;
/// assert!((t.get::<second>() - 13.0).abs() < 0.05);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Copy)]
pub struct IsothermalDecay(LawDecay);

impl IsothermalDecay {
    /// A leak of this effective area on this volume, from a start gauge pressure (above zero pressure, below zero
    /// vacuum) at time zero, in ambient gas at the vessel's own temperature.
    ///
    /// # Errors
    /// [`VesselError`] names the quantity that can't be.
    pub fn new(
        area: EffectiveArea,
        volume: Volume,
        start: GaugePressure,
        ambient: GasState,
        gas: &Gas,
    ) -> Result<Self, VesselError> {
        Self::from_rate(
            rate_per_area(volume, ambient, gas)? * area.square_meters(),
            start,
            ambient,
            gas,
        )
    }

    /// As [`IsothermalDecay::new`], from the rate k = `CdA` sqrt(R T)/V \[1/s\] that a decay identifies.
    ///
    /// # Errors
    /// As there.
    pub fn from_rate(
        k: f64,
        start: GaugePressure,
        ambient: GasState,
        gas: &Gas,
    ) -> Result<Self, VesselError> {
        LawDecay::from_rate(DecayLaw::Orifice, k, start, ambient, gas).map(Self)
    }

    /// Gauge pressure at a time after the start (the start pressure itself for times before it).
    #[must_use]
    pub fn gauge_at(&self, time: Time) -> GaugePressure {
        self.0.gauge_at(time)
    }

    /// When the gauge passes a pressure; none where it never does (beyond the start, past ambient, or no leak).
    #[must_use]
    pub fn time_to(&self, gauge: GaugePressure) -> Option<Time> {
        self.0.time_to(gauge)
    }

    /// When the needle reaches zero; none without a leak.
    #[must_use]
    pub fn ends_after(&self) -> Option<Time> {
        self.0.ends_after()
    }

    /// The straightening coordinate of a gauge pressure: against time it is a straight line for an orifice, the
    /// diagnostic plot for one. Zero at ambient.
    ///
    /// # Errors
    /// [`QuantityError::BeyondVacuum`].
    pub fn straightened(&self, gauge: GaugePressure) -> Result<f64, QuantityError> {
        self.0.straightened(gauge)
    }
}

/// sqrt(R T)/V \[1/(s m2)\]: what turns an effective area into the rate k.
///
/// # Errors
/// [`VesselError::Volume`], [`VesselError::Temperature`].
pub fn rate_per_area(volume: Volume, ambient: GasState, gas: &Gas) -> Result<f64, VesselError> {
    let v = volume.get::<cubic_meter>();
    if !(v.is_finite() && v > 0.0) {
        return Err(VesselError::Volume { got: v });
    }
    let t = ambient.temperature.get::<kelvin>();
    if !(t.is_finite() && t > 0.0) {
        return Err(VesselError::Temperature { got: t });
    }
    Ok((gas.specific_gas_constant() * t).sqrt() / v)
}
