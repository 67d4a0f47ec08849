//! The power law of building physics.

use uom::si::mass_rate::kilogram_per_second;
use uom::si::pressure::pascal;
use uom::si::volume_rate::cubic_meter_per_second;

use super::{LeakError, LeakLaw, RangeNote, Regime, check_exponent, kind_at};
use crate::gas::{Gas, GasState};
use crate::quantity::{AbsolutePressure, MassRate, Pressure, VolumeRate};

/// Least exponent: flow that inertia rules. Source: `[ISO9972]`.
const INERTIAL: f64 = 0.5;
/// Largest exponent: flow that friction rules. Source: `[ISO9972]`.
const VISCOUS: f64 = 1.0;

/// Volume flow `Q_v = c dp^n` at a pressure difference dp, with 0.5 <= n <= 1.
///
/// `Q_v` is counted at the mean of the two pressures and the temperature upstream: `mdot = c dp^n (p_u + p_d)/(2 R T_u)`. So
/// n = 1 is the laminar law of [`Capillary`](super::Capillary) itself, and n = 0.5 is near an orifice; between them it
/// bridges the two, or stands for many small leaks of both kinds. The standards that the form comes from work at
/// differences below 100 Pa, where it doesn't matter to 0.05 % which side the volume is counted at.
///
/// At a pressure ratio x = (1 - n)/(1 + n) the flow from a given upstream state is largest; below, it stays so (choked).
///
/// Valid as an interpolation over the pressures that c and n were found at; beyond the critical ratio of an orifice it says
/// too much.
///
/// Source: `[ISO9972]`, `[ASTME779]` (form and bounds of n).
///
/// ```
/// use casetight::gas::{Gas, GasState};
/// use casetight::leak::{EffectiveArea, PowerLaw};
/// use casetight::quantity::{AbsolutePressure, Pressure, ThermodynamicTemperature, VolumeRate};
/// use uom::si::{
///     pressure::pascal, thermodynamic_temperature::degree_celsius, volume_rate::cubic_meter_per_second,
/// };
///
/// // 1 m3/s at 1 Pa and n = 0.5: an effective leakage area of sqrt(rho/2) = 0.7759 m2.
/// let house = PowerLaw::new(
///     VolumeRate::new::<cubic_meter_per_second>(1.0),
///     Pressure::new::<pascal>(1.0),
///     0.5,
/// )?;
/// let inside = GasState {
///     pressure: AbsolutePressure::from_pascals(101_329.0)?,
///     temperature: ThermodynamicTemperature::new::<degree_celsius>(20.0),
/// };
/// let outside = AbsolutePressure::from_pascals(101_325.0)?;
/// let area = EffectiveArea::passing(&house, &Gas::dry_air(), inside, outside)?;
/// assert!((area.square_meters() - 0.7759).abs() < 1e-4);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PowerLaw {
    coefficient: f64,
    exponent: f64,
}

impl PowerLaw {
    /// What [`LeakLaw::name`] gives.
    pub const NAME: &str = "power law";

    /// A leak that passes a volume flow at a pressure difference, with an exponent n: c = flow/difference^n.
    ///
    /// # Errors
    /// [`LeakError::Flow`] unless the flow is finite and at least zero, [`LeakError::PressureDifference`] unless the
    /// difference is finite and above zero, [`LeakError::Exponent`] unless n lies in 0.5 to 1.
    pub fn new(flow: VolumeRate, difference: Pressure, exponent: f64) -> Result<Self, LeakError> {
        let q = flow.get::<cubic_meter_per_second>();
        if !(q.is_finite() && q >= 0.0) {
            return Err(LeakError::Flow { got: q });
        }
        let dp = difference.get::<pascal>();
        if !(dp.is_finite() && dp > 0.0) {
            return Err(LeakError::PressureDifference { got: dp });
        }
        let exponent = Self::check_exponent(exponent)?;
        Ok(Self {
            coefficient: q / dp.powf(exponent),
            exponent,
        })
    }

    /// The coefficient c \[m3/(s Pa^n)\].
    #[must_use]
    pub fn coefficient(&self) -> f64 {
        self.coefficient
    }

    /// The exponent n.
    #[must_use]
    pub fn exponent(&self) -> f64 {
        self.exponent
    }

    /// The pressure ratio (1 - n)/(1 + n) that largest flow is reached at: of (1 - x)^n (1 + x).
    pub(crate) fn critical_ratio(exponent: f64) -> f64 {
        (1.0 - exponent) / (1.0 + exponent)
    }

    pub(crate) fn check_exponent(exponent: f64) -> Result<f64, LeakError> {
        check_exponent(exponent, INERTIAL, VISCOUS)
    }
}

impl LeakLaw for PowerLaw {
    fn name(&self) -> &'static str {
        Self::NAME
    }

    fn mass_flow(&self, gas: &Gas, upstream: GasState, downstream: AbsolutePressure) -> MassRate {
        let p_u = upstream.pressure.pascals();
        let p_d = downstream
            .pascals()
            .max(p_u * Self::critical_ratio(self.exponent));
        let volume = self.coefficient * (p_u - p_d).max(0.0).powf(self.exponent);
        MassRate::new::<kilogram_per_second>(
            volume * 0.5 * (p_u + p_d) / (gas.specific_gas_constant() * upstream.kelvins()),
        )
    }

    fn regime(&self, gas: &Gas, upstream: GasState, downstream: AbsolutePressure) -> Regime {
        let pressure_ratio = downstream.pascals() / upstream.pressure.pascals();
        let limit = gas.critical_pressure_ratio();
        let mut out_of_range = Vec::new();
        if pressure_ratio < limit {
            out_of_range.push(RangeNote::BeyondChoking {
                pressure_ratio,
                limit,
            });
        }
        Regime {
            kind: kind_at(pressure_ratio, Self::critical_ratio(self.exponent)),
            pressure_ratio,
            reynolds: None,
            mach: None,
            knudsen: None,
            out_of_range,
        }
    }
}
