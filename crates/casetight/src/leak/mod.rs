//! Leak laws: the mass flow through a leak as a function of the gas upstream and the pressure downstream.
//!
//! The area that a decay can tell is the effective area `CdA`: that of the ideal orifice (Cd = 1) that passes the same
//! mass flow. A hole's diameter needs an assumed discharge coefficient; [`EffectiveArea::diameter`] asks for it.
//!
//! [`EffectiveArea::passing`] finds the effective area of any law at a pair of pressures; the project quotes it at a run's
//! starting pressure.
//!
//! A new law is one file here and its lines in the list below.

mod laminar;
mod orifice;
mod parallel;
mod power;
mod sharp_edged;
mod sonic;

use std::f64::consts::PI;

use uom::si::area::square_meter;
use uom::si::length::meter;
use uom::si::mass_rate::kilogram_per_second;

use crate::gas::{Gas, GasState};
use crate::quantity::{AbsolutePressure, Area, Length, MassRate};

pub use laminar::{Capillary, Slot};
pub use orifice::Orifice;
pub use parallel::Parallel;
pub use power::PowerLaw;
pub use sharp_edged::SharpEdgedHole;
pub use sonic::SonicConductanceLaw;

/// The names of all laws, as [`LeakLaw::name`] gives them.
pub const NAMES: [&str; 7] = [
    Orifice::NAME,
    SharpEdgedHole::NAME,
    SonicConductanceLaw::NAME,
    Capillary::NAME,
    Slot::NAME,
    PowerLaw::NAME,
    Parallel::NAME,
];

/// Above this Knudsen number the gas slips along the walls and a leak passes more than a continuum would: 0.01, the usual
/// end of continuum flow. Source: common practice.
pub const KNUDSEN_LIMIT: f64 = 0.01;

/// A law of mass flow through a leak.
pub trait LeakLaw: std::fmt::Debug {
    /// The law's name as sheets and results write it.
    fn name(&self) -> &'static str;

    /// Mass flow \[kg/s\] from the upstream state to the downstream pressure; zero where the downstream pressure is not
    /// the lower one, and no number (NaN) where the law needs the gas's viscosity and that is unknown.
    fn mass_flow(&self, gas: &Gas, upstream: GasState, downstream: AbsolutePressure) -> MassRate;

    /// The regime of that flow and what is out of the law's range there.
    fn regime(&self, gas: &Gas, upstream: GasState, downstream: AbsolutePressure) -> Regime;
}

/// How the gas flows through a leak.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum FlowKind {
    /// Sonic at the narrowest place: the downstream pressure no longer matters, or hardly.
    Choked,
    /// Below the speed of sound everywhere.
    Subsonic,
}

/// The regime of a flow: returned by each law for each pair of pressures. A number is missing where the law has no
/// length to form it with, or the gas's viscosity is unknown.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Regime {
    /// Choked or subsonic.
    pub kind: FlowKind,
    /// Ratio x of downstream to upstream pressure.
    pub pressure_ratio: f64,
    /// Reynolds number mdot D/(A mu) of the passage: D is the diameter of a hole of the effective area, or the hydraulic
    /// diameter of a capillary or slot.
    pub reynolds: Option<f64>,
    /// Mach number where the gas is fastest: in the hole, or at the end of a capillary or slot.
    pub mach: Option<f64>,
    /// Knudsen number: the molecules' mean free path over the smallest width of the passage.
    pub knudsen: Option<f64>,
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
    /// Reynolds number so high that the flow isn't laminar.
    Turbulent {
        /// The Reynolds number found.
        reynolds: f64,
        /// Above this the flow may turn turbulent.
        limit: f64,
    },
    /// The gas is so fast that its inertia matters to a law that knows friction only.
    Fast {
        /// The Mach number found.
        mach: f64,
        /// Above this the law overstates the flow.
        limit: f64,
    },
    /// The passage is so narrow, or the gas so thin, that molecules slip along the walls.
    Slip {
        /// The Knudsen number found.
        knudsen: f64,
        /// Above this the law understates the flow.
        limit: f64,
    },
    /// The passage is too short for the flow to settle into the law's profile.
    Entrance {
        /// Length that the flow needs to settle \[m\].
        entrance: f64,
        /// Length of the passage \[m\].
        length: f64,
    },
    /// A slot so narrow for its gap that its end walls hold the flow back too.
    EndWalls {
        /// Width over gap.
        aspect: f64,
        /// Below this the end walls take more than 6 % of the flow.
        limit: f64,
    },
    /// A critical ratio higher than an ideal nozzle has.
    CriticalRatio {
        /// The critical ratio b.
        critical_ratio: f64,
        /// That of an ideal nozzle.
        limit: f64,
    },
    /// A power law beyond the pressure ratio at which flow through a hole chokes.
    BeyondChoking {
        /// The pressure ratio x.
        pressure_ratio: f64,
        /// The critical ratio of the gas.
        limit: f64,
    },
    /// The law needs a viscosity that isn't known: it gives no flow.
    ViscosityUnknown {
        /// The gas.
        gas: &'static str,
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
            Self::Turbulent { reynolds, limit } => write!(
                f,
                "Reynolds number {reynolds:.0} is above {limit:.0}: the flow may be turbulent, and less than the laminar law says"
            ),
            Self::Fast { mach, limit } => write!(
                f,
                "Mach number {mach:.2} is above {limit}: inertia holds the gas back, and the flow is less than the laminar law says"
            ),
            Self::Slip { knudsen, limit } => write!(
                f,
                "Knudsen number {knudsen:.3} is above {limit}: the gas slips along the walls, and the flow is more than the law says"
            ),
            Self::Entrance { entrance, length } => write!(
                f,
                "the flow needs {:.1} mm to settle and has {:.1} mm: it is less than the laminar law says",
                1e3 * entrance,
                1e3 * length
            ),
            Self::EndWalls { aspect, limit } => write!(
                f,
                "the slot is {aspect:.1} times as wide as its gap, below {limit:.0}: its end walls hold the gas back, and the \
                 flow is less than the law says"
            ),
            Self::CriticalRatio {
                critical_ratio,
                limit,
            } => write!(
                f,
                "critical ratio {critical_ratio:.3} is above the {limit:.3} of an ideal nozzle: no single restriction has it"
            ),
            Self::BeyondChoking {
                pressure_ratio,
                limit,
            } => write!(
                f,
                "pressure ratio {pressure_ratio:.3} is below {limit:.3}, where flow through a hole chokes: the power law \
                 says too much there"
            ),
            Self::ViscosityUnknown { gas } => write!(
                f,
                "the viscosity of {gas} is unknown: the law gives no flow"
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
    /// A length of a passage must be finite and not below zero; one that is divided by, above zero.
    #[error("{what} {got} m is not a finite number {bound} zero")]
    Dimension {
        /// Which length.
        what: &'static str,
        /// What was given, in meters.
        got: f64,
        /// "above" or "of at least".
        bound: &'static str,
    },
    /// A critical ratio lies in 0 to 1, and below 1.
    #[error(
        "critical pressure ratio {got} is not in 0 to 1, below 1; an ideal nozzle has 0.528 with air"
    )]
    CriticalRatio {
        /// What was given.
        got: f64,
    },
    /// An exponent lies within its law's bounds.
    #[error("exponent {got} is outside {least} to {most}")]
    Exponent {
        /// What was given.
        got: f64,
        /// Least that the law allows.
        least: f64,
        /// Most that the law allows.
        most: f64,
    },
    /// The flow of a power law must be finite and not below zero.
    #[error("flow {got} m3/s is not a finite number of at least zero")]
    Flow {
        /// What was given, in cubic meters per second.
        got: f64,
    },
    /// The pressure difference of a power law must be finite and above zero.
    #[error("pressure difference {got} Pa is not a finite number above zero")]
    PressureDifference {
        /// What was given, in pascals.
        got: f64,
    },
    /// Without a pressure difference every leak passes the same: nothing.
    #[error(
        "at {upstream} Pa upstream and {downstream} Pa downstream nothing flows, so no area passes the same flow; upstream \
         must be higher"
    )]
    NoFlow {
        /// Upstream absolute pressure in pascals.
        upstream: f64,
        /// Downstream absolute pressure in pascals.
        downstream: f64,
    },
    /// The law gives no flow since the gas's viscosity is unknown.
    #[error(
        "the viscosity of {gas} is unknown, and the {law} law needs it; `Gas::with_viscosity` takes it"
    )]
    ViscosityUnknown {
        /// The gas.
        gas: &'static str,
        /// The law.
        law: &'static str,
    },
}

/// Effective leak area `CdA` \[m2\]: the area of the ideal orifice (Cd = 1) that passes the same mass flow.
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

    /// The effective area of a law between two pressures: that of the ideal orifice that passes the same mass flow there.
    ///
    /// For any law but the orifice it changes with the pressures. The effective area of a run is the one at its starting
    /// pressure.
    ///
    /// ```
    /// use casetight::gas::{Gas, GasState};
    /// use casetight::leak::{Capillary, EffectiveArea};
    /// use casetight::quantity::{AbsolutePressure, Length, ThermodynamicTemperature};
    /// use uom::si::{length::millimeter, thermodynamic_temperature::degree_celsius};
    ///
    /// let scratch = Capillary::new(Length::new::<millimeter>(0.05), Length::new::<millimeter>(6.0))?;
    /// let case = |pascals| -> Result<_, Box<dyn std::error::Error>> {
    ///     Ok(GasState {
    ///         pressure: AbsolutePressure::from_pascals(101_325.0 + pascals)?,
    ///         temperature: ThermodynamicTemperature::new::<degree_celsius>(20.0),
    ///     })
    /// };
    /// let ambient = AbsolutePressure::from_pascals(101_325.0)?;
    /// let area = |gauge| -> Result<_, Box<dyn std::error::Error>> {
    ///     Ok(EffectiveArea::passing(&scratch, &Gas::dry_air(), case(gauge)?, ambient)?.square_meters())
    /// };
    /// // The same scratch looks smaller as the pressure falls: its flow falls faster than that of an orifice.
    /// assert!((area(48e3)? * 1e6 - 0.000_300_5).abs() < 1e-7);
    /// assert!((area(12e3)? * 1e6 - 0.000_127_1).abs() < 1e-7);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// [`LeakError::NoFlow`] unless the upstream pressure is the higher one; [`LeakError::ViscosityUnknown`].
    pub fn passing(
        law: &dyn LeakLaw,
        gas: &Gas,
        upstream: GasState,
        downstream: AbsolutePressure,
    ) -> Result<Self, LeakError> {
        let flux = Orifice::mass_flux(gas, upstream, downstream);
        if flux <= 0.0 {
            return Err(LeakError::NoFlow {
                upstream: upstream.pressure.pascals(),
                downstream: downstream.pascals(),
            });
        }
        let flow = law
            .mass_flow(gas, upstream, downstream)
            .get::<kilogram_per_second>();
        if flow.is_nan() && gas.viscosity(upstream.temperature).is_none() {
            return Err(LeakError::ViscosityUnknown {
                gas: gas.name(),
                law: law.name(),
            });
        }
        Self::from_square_meters(flow / flux)
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

#[doc(hidden)]
pub fn check_coefficient(cd: f64) -> Result<f64, LeakError> {
    if cd > 0.0 && cd <= 1.0 {
        Ok(cd)
    } else {
        Err(LeakError::DischargeCoefficient { got: cd })
    }
}

/// A length in meters that is finite and not below zero.
fn check_length(what: &'static str, length: Length) -> Result<f64, LeakError> {
    match length.get::<meter>() {
        got if got.is_finite() && got >= 0.0 => Ok(got),
        got => Err(LeakError::Dimension {
            what,
            got,
            bound: "of at least",
        }),
    }
}

/// A length in meters that is finite and above zero.
fn check_divisor(what: &'static str, length: Length) -> Result<f64, LeakError> {
    match check_length(what, length) {
        Ok(got) if got > 0.0 => Ok(got),
        Ok(got) | Err(LeakError::Dimension { got, .. }) => Err(LeakError::Dimension {
            what,
            got,
            bound: "above",
        }),
        Err(other) => Err(other),
    }
}

pub(crate) fn check_critical_ratio(b: f64) -> Result<f64, LeakError> {
    if (0.0..1.0).contains(&b) {
        Ok(b)
    } else {
        Err(LeakError::CriticalRatio { got: b })
    }
}

pub(crate) fn check_exponent(got: f64, least: f64, most: f64) -> Result<f64, LeakError> {
    if (least..=most).contains(&got) {
        Ok(got)
    } else {
        Err(LeakError::Exponent { got, least, most })
    }
}

fn kind_at(pressure_ratio: f64, critical_ratio: f64) -> FlowKind {
    if pressure_ratio <= critical_ratio {
        FlowKind::Choked
    } else {
        FlowKind::Subsonic
    }
}

/// Mean free path at the mean of two pressures, over a width \[m\].
fn knudsen_number(
    gas: &Gas,
    upstream: GasState,
    downstream: AbsolutePressure,
    width: f64,
) -> Option<f64> {
    let path = gas.mean_free_path(upstream)?.get::<meter>();
    let p_u = upstream.pressure.pascals();
    let mean = 0.5 * (p_u + downstream.pascals());
    (width > 0.0).then(|| path * p_u / (mean * width))
}

fn slip_note(knudsen: Option<f64>) -> Option<RangeNote> {
    knudsen
        .filter(|knudsen| *knudsen > KNUDSEN_LIMIT)
        .map(|knudsen| RangeNote::Slip {
            knudsen,
            limit: KNUDSEN_LIMIT,
        })
}

#[cfg(test)]
mod tests;
