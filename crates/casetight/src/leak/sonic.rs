//! The law of pneumatics: sonic conductance and critical pressure ratio.

use uom::si::mass_rate::kilogram_per_second;

use super::orifice::regime_of_hole;
use super::{LeakError, LeakLaw, Orifice, RangeNote, Regime, check_critical_ratio, check_exponent};
use crate::gas::{Gas, GasState};
use crate::quantity::{AbsolutePressure, MassRate, ReferenceConditions, SonicConductance};

/// Reference density `rho_0` \[kg/m3\], a convention, not to be recomputed. Source: `[ISO8778]`.
const REFERENCE_DENSITY: f64 = 1.185;

/// Subsonic index m of the ellipse.
const ELLIPSE: f64 = 0.5;

/// Flow by sonic conductance C \[m3/(s Pa)\], critical pressure ratio b and subsonic index m.
///
/// `mdot = C rho_0 p_u sqrt(T_0/T_u)` for x <= b, and (1 - ((x - b)/(1 - b))^2)^m times that above; x is the ratio of
/// downstream to upstream pressure, `T_0 = 293.15 K`, `rho_0 = 1.185 kg/m3`, and m = 0.5 (an ellipse) unless it is given.
///
/// C is the one for air, as catalogs state it. Another gas is taken to pass the mass flow that it has through the same
/// critical throat: Psi*/sqrt(R) of the gas over that of dry air, times as much; b and m are kept, since they are the
/// passage's. With dry air the equation above is met exactly.
///
/// Valid for passages with inertia, not friction, in charge; b up to that of an ideal nozzle (0.528 with air), commonly
/// 0.2 to 0.5.
///
/// Source: `[ISO6358]`.
///
/// ```
/// use casetight::gas::{Gas, GasState};
/// use casetight::leak::{LeakLaw, SonicConductanceLaw};
/// use casetight::quantity::{AbsolutePressure, SonicConductance, ThermodynamicTemperature};
/// use uom::si::{mass_rate::gram_per_second, thermodynamic_temperature::degree_celsius};
///
/// // 0.1 dm3/(s bar), from 2 bar: 0.2 dm3/s of reference air while the flow is choked.
/// let valve = SonicConductanceLaw::new(
///     SonicConductance::from_cubic_meters_per_second_pascal(1e-9)?,
///     0.3,
/// )?;
/// let upstream = GasState {
///     pressure: AbsolutePressure::from_pascals(200e3)?,
///     temperature: ThermodynamicTemperature::new::<degree_celsius>(20.0),
/// };
/// let flow = |downstream: f64| -> Result<f64, Box<dyn std::error::Error>> {
///     let downstream = AbsolutePressure::from_pascals(downstream)?;
///     Ok(valve.mass_flow(&Gas::dry_air(), upstream, downstream).get::<gram_per_second>())
/// };
/// assert!((flow(60e3)? - 0.2370).abs() < 1e-9);
/// assert!((flow(160e3)? - 0.1659).abs() < 5e-5);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SonicConductanceLaw {
    conductance: SonicConductance,
    critical_ratio: f64,
    exponent: f64,
}

impl SonicConductanceLaw {
    /// What [`LeakLaw::name`] gives.
    pub const NAME: &str = "sonic conductance";

    /// A passage of sonic conductance C and critical ratio b.
    ///
    /// # Errors
    /// [`LeakError::CriticalRatio`] unless b is at least 0 and below 1.
    pub fn new(conductance: SonicConductance, critical_ratio: f64) -> Result<Self, LeakError> {
        Ok(Self {
            conductance,
            critical_ratio: check_critical_ratio(critical_ratio)?,
            exponent: ELLIPSE,
        })
    }

    /// The same passage with another subsonic index m.
    ///
    /// # Errors
    /// [`LeakError::Exponent`] unless m lies in 0.25 to 1.
    pub fn with_exponent(self, exponent: f64) -> Result<Self, LeakError> {
        Ok(Self {
            exponent: check_exponent(exponent, 0.25, 1.0)?,
            ..self
        })
    }

    /// Sonic conductance C for air.
    #[must_use]
    pub fn conductance(&self) -> SonicConductance {
        self.conductance
    }

    /// Critical pressure ratio b.
    #[must_use]
    pub fn critical_ratio(&self) -> f64 {
        self.critical_ratio
    }

    /// Subsonic index m.
    #[must_use]
    pub fn exponent(&self) -> f64 {
        self.exponent
    }

    /// Flow over choked flow at a pressure ratio.
    fn ratio(&self, x: f64) -> f64 {
        if x <= self.critical_ratio {
            return 1.0;
        }
        if x >= 1.0 {
            return 0.0;
        }
        // 1 - w^2 = (1 - w)(1 + w), without cancellation at w = 1.
        let one_less_w = (1.0 - x) / (1.0 - self.critical_ratio);
        (one_less_w * (2.0 - one_less_w)).powf(self.exponent)
    }

    /// The effective area \[m2\] that passes the choked flow: `C rho_0 sqrt(R T_0)/Psi*` of dry air.
    fn choked_area(&self) -> f64 {
        use uom::si::thermodynamic_temperature::kelvin;
        let air = Gas::dry_air();
        let t_0 = ReferenceConditions::ANR.temperature().get::<kelvin>();
        self.conductance.cubic_meters_per_second_pascal()
            * REFERENCE_DENSITY
            * (air.specific_gas_constant() * t_0).sqrt()
            / Orifice::flow_function(&air, 0.0)
    }
}

impl LeakLaw for SonicConductanceLaw {
    fn name(&self) -> &'static str {
        Self::NAME
    }

    fn mass_flow(&self, gas: &Gas, upstream: GasState, downstream: AbsolutePressure) -> MassRate {
        let p_u = upstream.pressure.pascals();
        let choked = self.choked_area() * p_u * Orifice::flow_function(gas, 0.0)
            / (gas.specific_gas_constant() * upstream.kelvins()).sqrt();
        MassRate::new::<kilogram_per_second>(choked * self.ratio(downstream.pascals() / p_u))
    }

    fn regime(&self, gas: &Gas, upstream: GasState, downstream: AbsolutePressure) -> Regime {
        let mut regime = regime_of_hole(
            self,
            gas,
            upstream,
            downstream,
            self.critical_ratio,
            self.choked_area(),
        );
        let limit = gas.critical_pressure_ratio();
        if self.critical_ratio > limit {
            regime.out_of_range.push(RangeNote::CriticalRatio {
                critical_ratio: self.critical_ratio,
                limit,
            });
        }
        regime
    }
}
