//! A thin hole with sharp edges.

use std::f64::consts::PI;

use uom::si::length::meter;
use uom::si::mass_rate::kilogram_per_second;

use super::orifice::regime_of_hole;
use super::{LeakError, LeakLaw, Orifice, Regime, check_length};
use crate::gas::{Gas, GasState};
use crate::quantity::{AbsolutePressure, Length, MassRate};

/// Coefficients of x^0 to x^5, the pressure ratio's, in the discharge coefficient.
const DISCHARGE: [f64; 6] = [0.8414, -0.1002, 0.8415, -3.9, 4.6001, -1.6827];

/// A thin round hole with sharp edges, whose discharge coefficient depends on the pressure ratio.
///
/// `mdot = Cd(x) pi d^2/4 p_u/sqrt(R T_u) Psi(x)`, Psi that of [`Orifice`], x the ratio of downstream to upstream pressure,
/// and `Cd = 0.8414 - 0.1002 x + 0.8415 x^2 - 3.9 x^3 + 4.6001 x^4 - 1.6827 x^5`. The jet contracts to 60 % of the hole at
/// x = 1 and less and less as x falls. It does so below the critical ratio too: the flow of such a hole goes on rising a
/// little where that of a nozzle is choked `[Bragg1960]`.
///
/// Valid for air and 0 <= x <= 1, for a hole much longer in diameter than in depth, and where the Reynolds number is not
/// low ([`LeakLaw::regime`]); for other gases the dependence on x is taken to be the same. Over a decay from 70 kPa the
/// effective area falls by 15 %.
///
/// Source: `[Perry1949]`, by the polynomial through its data that the documentation of a simulation tool prints.
///
/// ```
/// use casetight::leak::SharpEdgedHole;
///
/// assert!((SharpEdgedHole::discharge_coefficient(1.0) - 0.6001).abs() < 1e-12);
/// assert!((SharpEdgedHole::discharge_coefficient(0.6) - 0.7071).abs() < 5e-5);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SharpEdgedHole {
    diameter: f64,
}

impl SharpEdgedHole {
    /// What [`LeakLaw::name`] gives.
    pub const NAME: &str = "sharp-edged hole";

    /// A hole of a diameter d.
    ///
    /// # Errors
    /// [`LeakError::Dimension`] unless it is finite and at least zero.
    pub fn new(diameter: Length) -> Result<Self, LeakError> {
        Ok(Self {
            diameter: check_length("hole diameter", diameter)?,
        })
    }

    /// The diameter d.
    #[must_use]
    pub fn diameter(&self) -> Length {
        Length::new::<meter>(self.diameter)
    }

    /// Discharge coefficient Cd at a pressure ratio x, which is held within 0..=1.
    #[must_use]
    pub fn discharge_coefficient(pressure_ratio: f64) -> f64 {
        let x = pressure_ratio.clamp(0.0, 1.0);
        DISCHARGE.iter().rev().fold(0.0, |sum, c| sum * x + c)
    }

    /// Effective area \[m2\] at a pressure ratio.
    fn effective_area(self, pressure_ratio: f64) -> f64 {
        Self::discharge_coefficient(pressure_ratio) * PI * self.diameter * self.diameter / 4.0
    }
}

impl LeakLaw for SharpEdgedHole {
    fn name(&self) -> &'static str {
        Self::NAME
    }

    fn mass_flow(&self, gas: &Gas, upstream: GasState, downstream: AbsolutePressure) -> MassRate {
        let x = downstream.pascals() / upstream.pressure.pascals();
        MassRate::new::<kilogram_per_second>(
            self.effective_area(x) * Orifice::mass_flux(gas, upstream, downstream),
        )
    }

    fn regime(&self, gas: &Gas, upstream: GasState, downstream: AbsolutePressure) -> Regime {
        let x = downstream.pascals() / upstream.pressure.pascals();
        regime_of_hole(
            self,
            gas,
            upstream,
            downstream,
            gas.critical_pressure_ratio(),
            self.effective_area(x),
        )
    }
}
