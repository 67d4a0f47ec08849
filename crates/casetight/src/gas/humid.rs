//! Humid air.

use uom::si::ratio::ratio;

use super::viscosity::Viscosity;
use super::{Gas, GasError, GasState};
use crate::constants::{
    DRY_AIR_KG_PER_MOL, MOLAR_GAS_J_PER_MOL_K, WATER_KG_PER_MOL, ZERO_CELSIUS_K,
};
use crate::quantity::Ratio;

/// cp of dry air over R at gamma = 1.4.
const DRY_AIR_HEAT: f64 = 3.5;
/// cp of water vapor as an ideal gas over R at 20 °C: 33.57 J/(mol K), computed from the reference equation of state of water
/// by an open property library.
const VAPOR_HEAT: f64 = 4.037;

impl Gas {
    /// Air of a relative humidity read in a state (that of the ambient air); its vapor stays with it as the pressure
    /// changes.
    ///
    /// Mole fraction of the vapor `x = h f p_sv/p`, with the saturation pressure `p_sv` and the enhancement factor f of
    /// CIPM-2007; molar mass `M = M_a (1 - x) + M_v x`, `R = R_m/M`; gamma from the molar heat capacities 3.5 `R_m` of dry air
    /// and 4.04 `R_m` of vapor. The compressibility factor (0.9996) is left out. At 20 °C and 50 % R is 0.44 % above that of
    /// dry air, and a leak area found with dry air 0.2 % too large.
    ///
    /// Valid from 0 to 60 °C; CIPM-2007 itself is stated for 15 to 27 °C. Air that is compressed may pass its dew point:
    /// then it is not as humid as this in the case.
    ///
    /// Source: `[CIPM2007]`; viscosity `[LemmonJacobsen2004]`, `[IAPWS2008]`, `[Wilke1950]`.
    ///
    /// ```
    /// use casetight::gas::{Gas, GasState};
    /// use casetight::quantity::{AbsolutePressure, Ratio, ThermodynamicTemperature};
    /// use uom::si::{ratio::percent, thermodynamic_temperature::degree_celsius};
    ///
    /// let room = GasState {
    ///     pressure: AbsolutePressure::from_pascals(101_325.0)?,
    ///     temperature: ThermodynamicTemperature::new::<degree_celsius>(20.0),
    /// };
    /// let air = Gas::humid_air(Ratio::new::<percent>(50.0), room)?;
    /// assert!((air.specific_gas_constant() - 288.32).abs() < 0.01);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// [`GasError::RelativeHumidity`], [`GasError::HumidTemperature`], [`GasError::VaporPressure`].
    pub fn humid_air(relative_humidity: Ratio, state: GasState) -> Result<Self, GasError> {
        let h = relative_humidity.get::<ratio>();
        if !(0.0..=1.0).contains(&h) {
            return Err(GasError::RelativeHumidity { got: h });
        }
        let t = state.kelvins();
        if !(273.15..=333.15).contains(&t) {
            return Err(GasError::HumidTemperature { got: t });
        }
        let p = state.pressure.pascals();
        let vapor_pressure = h * enhancement(p, t) * saturation_pressure(t);
        if vapor_pressure >= p {
            return Err(GasError::VaporPressure {
                vapor: vapor_pressure,
                pressure: p,
            });
        }
        let x = vapor_pressure / p;
        let molar_mass = (1.0 - x) * DRY_AIR_KG_PER_MOL.value() + x * WATER_KG_PER_MOL.value();
        let heat = (1.0 - x) * DRY_AIR_HEAT + x * VAPOR_HEAT;
        Ok(Self {
            name: "humid air",
            specific_gas_constant: MOLAR_GAS_J_PER_MOL_K.value() / molar_mass,
            heat_capacity_ratio: heat / (heat - 1.0),
            viscosity: Some(Viscosity::Moist { vapor: x }),
        })
    }
}

/// Pressure of saturated water vapor \[Pa\] at T \[K\]: exp(A T^2 + B T + C + D/T). Source: `[CIPM2007]`.
fn saturation_pressure(t: f64) -> f64 {
    ((1.237_884_7e-5 * t - 1.912_131_6e-2) * t + 33.937_110_47 - 6_343.164_5 / t).exp()
}

/// By how much air, at p \[Pa\] and T \[K\], raises that pressure. Source: `[CIPM2007]`.
fn enhancement(p: f64, t: f64) -> f64 {
    let celsius = t - ZERO_CELSIUS_K.value();
    1.000_62 + 3.14e-8 * p + 5.6e-7 * celsius * celsius
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{AbsolutePressure, ThermodynamicTemperature};
    use uom::si::thermodynamic_temperature::kelvin;

    fn state(pascals: f64, kelvins: f64) -> GasState {
        GasState {
            pressure: AbsolutePressure::from_pascals(pascals).unwrap(),
            temperature: ThermodynamicTemperature::new::<kelvin>(kelvins),
        }
    }

    #[test]
    fn water_boils_and_meets_its_triple_point() {
        // From memory: triple point 611.657 Pa at 273.16 K; 2339 Pa at 20 °C; 19.95 kPa at 60 °C (steam tables).
        for (t, p, tolerance) in [
            (273.16, 611.657, 1e-3),
            (293.15, 2_339.0, 1e-3),
            (333.15, 19_946.0, 2e-3),
        ] {
            let got = saturation_pressure(t);
            assert!((got / p - 1.0).abs() < tolerance, "{t}: {got}");
        }
    }

    #[test]
    fn air_without_vapor_is_dry_air() {
        let zero = Gas::humid_air(Ratio::new::<ratio>(0.0), state(1e5, 293.15)).unwrap();
        let dry = Gas::dry_air();
        assert_eq!(zero.specific_gas_constant(), dry.specific_gas_constant());
        assert!((zero.heat_capacity_ratio() - 1.4).abs() < 1e-15);
        assert_eq!(zero.pascal_seconds(293.15), dry.pascal_seconds(293.15));
    }

    #[test]
    fn what_no_air_has_is_named() {
        let air = |h: f64, p: f64, t: f64| Gas::humid_air(Ratio::new::<ratio>(h), state(p, t));
        for h in [-0.01, 1.01, f64::NAN] {
            assert!(matches!(
                air(h, 1e5, 293.15),
                Err(GasError::RelativeHumidity { .. })
            ));
        }
        for t in [263.15, 373.15, f64::NAN] {
            assert!(matches!(
                air(0.5, 1e5, t),
                Err(GasError::HumidTemperature { .. })
            ));
        }
        assert!(matches!(
            air(1.0, 2_000.0, 293.15),
            Err(GasError::VaporPressure { .. })
        ));
    }
}
