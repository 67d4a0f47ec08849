//! The isentropic orifice (nozzle).

use std::f64::consts::PI;

use uom::si::mass_rate::kilogram_per_second;

use super::{EffectiveArea, LeakLaw, RangeNote, Regime, kind_at, knudsen_number, slip_note};
use crate::gas::{Gas, GasState};
use crate::quantity::{AbsolutePressure, MassRate};

/// Below this Reynolds number the discharge coefficient of a thin hole falls visibly (common practice, no source).
const LOW_REYNOLDS: f64 = 100.0;

/// An orifice of constant effective area, with isentropic flow to its narrowest place.
///
/// `mdot = CdA p_u/sqrt(R T_u) Psi(x)`, with x the ratio of downstream to upstream pressure;
/// Psi(x) = sqrt(2/beta (x^(2/gamma) - x^((gamma+1)/gamma))) above the critical ratio x*, and
/// Psi* = sqrt(gamma) (2/(gamma+1))^((gamma+1)/(2(gamma-1))) at and below it (choked).
/// Valid for an ideal gas, steady flow, and a hole large enough that inertia rather than viscosity rules.
///
/// Source: `[NACA1135]`.
///
/// ```
/// use casetight::gas::{Gas, GasState};
/// use casetight::leak::{EffectiveArea, LeakLaw, Orifice};
/// use casetight::quantity::{AbsolutePressure, ThermodynamicTemperature};
/// use uom::si::{mass_rate::kilogram_per_second, thermodynamic_temperature::kelvin};
///
/// // A converging nozzle of 6 cm2 from 120 kPa and 400 K into 45 kPa is choked: 0.1455 kg/s.
/// let nozzle = Orifice::new(EffectiveArea::from_square_meters(6e-4)?);
/// let upstream = GasState {
///     pressure: AbsolutePressure::from_pascals(120e3)?,
///     temperature: ThermodynamicTemperature::new::<kelvin>(400.0),
/// };
/// let flow = nozzle.mass_flow(&Gas::dry_air(), upstream, AbsolutePressure::from_pascals(45e3)?);
/// assert!((flow.get::<kilogram_per_second>() - 0.1455).abs() < 5e-5);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Orifice {
    area: EffectiveArea,
}

impl Orifice {
    /// What [`LeakLaw::name`] gives.
    pub const NAME: &str = "orifice";

    /// An orifice of this effective area.
    #[must_use]
    pub fn new(area: EffectiveArea) -> Self {
        Self { area }
    }

    /// Flow function `Psi(x) = mdot sqrt(R T_u)/(CdA p_u)` at a pressure ratio x in 0..=1; zero above 1.
    #[must_use]
    pub fn flow_function(gas: &Gas, pressure_ratio: f64) -> f64 {
        let gamma = gas.heat_capacity_ratio();
        let beta = gas.isentropic_exponent();
        if pressure_ratio <= gas.critical_pressure_ratio() {
            return gamma.sqrt()
                * (2.0 / (gamma + 1.0)).powf((gamma + 1.0) / (2.0 * (gamma - 1.0)));
        }
        if pressure_ratio >= 1.0 {
            return 0.0;
        }
        // x^(2/gamma) - x^((gamma+1)/gamma) = x^(2/gamma) (1 - x^beta), the difference taken without cancellation.
        let ln_x = pressure_ratio.ln();
        (2.0 / beta * (2.0 / gamma * ln_x).exp() * -(beta * ln_x).exp_m1()).sqrt()
    }

    /// Mass flow through one square meter of effective area \[kg/(s m2)\].
    #[doc(hidden)]
    #[must_use]
    pub fn mass_flux(gas: &Gas, upstream: GasState, downstream: AbsolutePressure) -> f64 {
        let p_u = upstream.pressure.pascals();
        p_u / (gas.specific_gas_constant() * upstream.kelvins()).sqrt()
            * Self::flow_function(gas, downstream.pascals() / p_u)
    }
}

impl LeakLaw for Orifice {
    fn name(&self) -> &'static str {
        Self::NAME
    }

    fn mass_flow(&self, gas: &Gas, upstream: GasState, downstream: AbsolutePressure) -> MassRate {
        MassRate::new::<kilogram_per_second>(
            self.area.square_meters() * Self::mass_flux(gas, upstream, downstream),
        )
    }

    fn regime(&self, gas: &Gas, upstream: GasState, downstream: AbsolutePressure) -> Regime {
        regime_of_hole(
            self,
            gas,
            upstream,
            downstream,
            gas.critical_pressure_ratio(),
            self.area.square_meters(),
        )
    }
}

/// Mach number of isentropic flow to the pressure ratio x, 1 where it chokes.
fn mach_number(gas: &Gas, pressure_ratio: f64) -> f64 {
    let x = pressure_ratio.clamp(gas.critical_pressure_ratio(), 1.0);
    let rise = (-gas.isentropic_exponent() * x.ln()).exp_m1();
    (2.0 * rise / (gas.heat_capacity_ratio() - 1.0)).sqrt()
}

/// The regime of a law that is a hole: its numbers are those of a round hole of an effective area \[m2\].
pub(super) fn regime_of_hole(
    law: &dyn LeakLaw,
    gas: &Gas,
    upstream: GasState,
    downstream: AbsolutePressure,
    critical_ratio: f64,
    area: f64,
) -> Regime {
    let pressure_ratio = downstream.pascals() / upstream.pressure.pascals();
    let flow = law
        .mass_flow(gas, upstream, downstream)
        .get::<kilogram_per_second>();
    let diameter = (4.0 * area / PI).sqrt();
    let reynolds = gas
        .pascal_seconds(upstream.kelvins())
        .filter(|_| diameter > 0.0)
        .map(|mu| 4.0 * flow / (PI * diameter * mu));
    let knudsen = knudsen_number(gas, upstream, downstream, diameter);
    let slow = reynolds
        .filter(|reynolds| *reynolds < LOW_REYNOLDS)
        .map(|reynolds| RangeNote::LowReynolds {
            reynolds,
            limit: LOW_REYNOLDS,
        });
    Regime {
        kind: kind_at(pressure_ratio, critical_ratio),
        pressure_ratio,
        reynolds,
        mach: Some(mach_number(gas, pressure_ratio)),
        knudsen,
        out_of_range: slow.into_iter().chain(slip_note(knudsen)).collect(),
    }
}
