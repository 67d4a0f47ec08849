//! The gas in the case: specific gas constant and ratio of heat capacities, and the state it is in.

use uom::si::thermodynamic_temperature::kelvin;

use crate::quantity::{AbsolutePressure, DynamicViscosity, MassDensity, ThermodynamicTemperature};

/// An ideal gas with constant heat capacities.
///
/// Real dry air at 20 °C departs from this by 0.06 % in the critical flow function, far below any term of a bench
/// test's uncertainty.
///
/// ```
/// use casetight::gas::Gas;
///
/// let air = Gas::dry_air();
/// assert!((air.specific_gas_constant() - 287.055).abs() < 1e-3);
/// assert!((air.critical_pressure_ratio() - 0.528_281_787_7).abs() < 1e-10);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gas {
    name: &'static str,
    specific_gas_constant: f64,
    heat_capacity_ratio: f64,
    sutherland: Option<Sutherland>,
}

/// Coefficients of Sutherland's law mu = b T^1.5/(T + s).
#[derive(Debug, Clone, Copy, PartialEq)]
struct Sutherland {
    /// b [kg/(s m K^0.5)].
    b: f64,
    /// s [K].
    s: f64,
}

/// Pressure and temperature of a gas: what a leak law needs to know of the side it comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GasState {
    /// Absolute pressure p.
    pub pressure: AbsolutePressure,
    /// Temperature T.
    pub temperature: ThermodynamicTemperature,
}

impl GasState {
    /// Temperature T [K].
    #[must_use]
    pub fn kelvins(&self) -> f64 {
        self.temperature.get::<kelvin>()
    }
}

impl Gas {
    /// Dry air: R = 287.055 J/(kg K) from the molar gas constant and a molar mass of 28.9647 g/mol, gamma = 1.4.
    ///
    /// Source: `[CODATA2018]`, `[USSA1976]`.
    #[must_use]
    pub fn dry_air() -> Self {
        Self {
            name: "dry air",
            specific_gas_constant: 8.314_462_618 / 0.028_964_7,
            heat_capacity_ratio: 1.4,
            sutherland: Some(Sutherland {
                b: 1.458e-6,
                s: 110.4,
            }),
        }
    }

    /// A gas of given specific gas constant R [J/(kg K)] and ratio of heat capacities gamma = cp/cv.
    ///
    /// # Errors
    /// [`GasError`] unless R is finite and above zero and gamma lies in 1.01 to 1.67 (5/3, the monatomic gas, is the
    /// largest that an ideal gas has).
    pub fn new(
        name: &'static str,
        specific_gas_constant: f64,
        heat_capacity_ratio: f64,
    ) -> Result<Self, GasError> {
        if !(specific_gas_constant.is_finite() && specific_gas_constant > 0.0) {
            return Err(GasError::SpecificGasConstant {
                got: specific_gas_constant,
            });
        }
        if !(1.01..=1.67).contains(&heat_capacity_ratio) {
            return Err(GasError::HeatCapacityRatio {
                got: heat_capacity_ratio,
            });
        }
        Ok(Self {
            name,
            specific_gas_constant,
            heat_capacity_ratio,
            sutherland: None,
        })
    }

    /// The gas's name.
    #[must_use]
    pub fn name(&self) -> &'static str {
        self.name
    }

    /// Specific gas constant R [J/(kg K)].
    #[must_use]
    pub fn specific_gas_constant(&self) -> f64 {
        self.specific_gas_constant
    }

    /// Ratio of heat capacities gamma = cp/cv.
    #[must_use]
    pub fn heat_capacity_ratio(&self) -> f64 {
        self.heat_capacity_ratio
    }

    /// beta = (gamma - 1)/gamma, the exponent of the isentropic temperature ratio T/T0 = (p/p0)^beta.
    #[must_use]
    pub fn isentropic_exponent(&self) -> f64 {
        (self.heat_capacity_ratio - 1.0) / self.heat_capacity_ratio
    }

    /// Critical pressure ratio x* = (2/(gamma + 1))^(gamma/(gamma - 1)): at or below this ratio of downstream to
    /// upstream pressure the flow is choked. Source: `[NACA1135]`.
    #[must_use]
    pub fn critical_pressure_ratio(&self) -> f64 {
        (2.0 / (self.heat_capacity_ratio + 1.0)).powf(1.0 / self.isentropic_exponent())
    }

    /// Dynamic viscosity mu = b T^1.5/(T + s) [Pa s] (Sutherland), where the gas's coefficients are known; for air
    /// good to 1 % from -50 to 150 °C. Source: `[USSA1976]`.
    #[must_use]
    pub fn viscosity(&self, temperature: ThermodynamicTemperature) -> Option<DynamicViscosity> {
        use uom::si::dynamic_viscosity::pascal_second;
        let t = temperature.get::<kelvin>();
        self.sutherland
            .map(|law| DynamicViscosity::new::<pascal_second>(law.b * t.powf(1.5) / (t + law.s)))
    }

    /// Density p/(R T) [kg/m3] of the gas in a state.
    #[must_use]
    pub fn density(&self, state: GasState) -> MassDensity {
        use uom::si::mass_density::kilogram_per_cubic_meter;
        MassDensity::new::<kilogram_per_cubic_meter>(
            state.pressure.pascals() / (self.specific_gas_constant * state.kelvins()),
        )
    }
}

/// What can be wrong with a gas.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum GasError {
    /// The specific gas constant is not a finite number above zero.
    #[error(
        "specific gas constant {got} J/(kg K) is not a finite number above zero; dry air has 287.055"
    )]
    SpecificGasConstant {
        /// What was given, in J/(kg K).
        got: f64,
    },
    /// The ratio of heat capacities is outside 1.01 to 1.67.
    #[error("ratio of heat capacities {got} is outside 1.01 to 1.67; air has 1.4")]
    HeatCapacityRatio {
        /// What was given.
        got: f64,
    },
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn viscosity_of_air_at_sea_level_of_the_standard_atmosphere() {
        use uom::si::dynamic_viscosity::pascal_second;
        // Published: U.S. Standard Atmosphere 1976, sea level, 288.15 K: 1.7894e-5 Pa s.
        let mu = Gas::dry_air()
            .viscosity(ThermodynamicTemperature::new::<kelvin>(288.15))
            .unwrap();
        assert!((mu.get::<pascal_second>() - 1.7894e-5).abs() < 5e-10);
    }

    #[test]
    fn rejects_what_no_gas_has() {
        assert_eq!(
            Gas::new("x", -1.0, 1.4),
            Err(GasError::SpecificGasConstant { got: -1.0 })
        );
        assert!(matches!(
            Gas::new("x", f64::NAN, 1.4),
            Err(GasError::SpecificGasConstant { .. })
        ));
        assert_eq!(
            Gas::new("x", 287.0, 1.0),
            Err(GasError::HeatCapacityRatio { got: 1.0 })
        );
        assert!(matches!(
            Gas::new("x", 287.0, f64::INFINITY),
            Err(GasError::HeatCapacityRatio { .. })
        ));
    }
}
