//! Flow as the leak trade measures it.

use uom::si::{
    catalytic_activity::katal, mass_rate::kilogram_per_second,
    molar_heat_capacity::joule_per_kelvin_mole, specific_heat_capacity::joule_per_kilogram_kelvin,
};

use super::{MassRate, QuantityError, ThermodynamicTemperature, finite, kelvins};

/// Specific gas constant `R` \[J/(kg K)\], that of one gas.
pub type SpecificGasConstant = uom::si::f64::SpecificHeatCapacity;
/// Molar gas constant `R_m` \[J/(mol K)\], the same for every gas.
pub type MolarGasConstant = uom::si::f64::MolarHeatCapacity;
/// Flow of amount of substance [mol/s]; `uom` files it under catalytic activity.
pub type MolarRate = uom::si::f64::CatalyticActivity;

/// Throughput `Q = p dV/dt = V dp/dt` \[Pa m3/s\]: the flow of a gas as pressure times volume per time; of either sign.
///
/// The same throughput is less gas when warm: `dm/dt = Q/(R T)` and `dn/dt = Q/(R_m T)`, for an ideal gas.
/// 1 Pa m3/s is 10 mbar L/s. `[SP811]` for the units.
///
/// # Example
/// ```
/// use casetight::quantity::{Throughput, TradeUnits};
///
/// let leak = Throughput::parse("1 Pa m3/s")?;
/// assert_eq!(leak.display_in("mbar L/s")?.to_string(), "10 mbar L/s");
/// # Ok::<(), casetight::quantity::ParseQuantityError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Throughput(f64);

impl Throughput {
    /// A throughput from its value in Pa m3/s.
    ///
    /// # Errors
    /// [`QuantityError::NotFinite`] unless the value is finite.
    pub fn from_pascal_cubic_meters_per_second(value: f64) -> Result<Self, QuantityError> {
        finite("throughput", value).map(Self)
    }

    /// The value in Pa m3/s.
    #[must_use]
    pub fn pascal_cubic_meters_per_second(self) -> f64 {
        self.0
    }

    /// The mass flow `dm/dt = Q/(R T)` \[kg/s\] of an ideal gas of specific gas constant R at the temperature T of the
    /// throughput.
    ///
    /// # Errors
    /// [`QuantityError::Temperature`] or [`QuantityError::GasConstant`] unless finite and above zero;
    /// [`QuantityError::NotFinite`] where the result overflows.
    ///
    /// # Example
    /// ```
    /// use casetight::quantity::{SpecificGasConstant, ThermodynamicTemperature, Throughput};
    /// use uom::si::{mass_rate::milligram_per_second, specific_heat_capacity::joule_per_kilogram_kelvin,
    ///     thermodynamic_temperature::kelvin};
    ///
    /// let leak = Throughput::from_pascal_cubic_meters_per_second(1.0)?;
    /// let air = SpecificGasConstant::new::<joule_per_kilogram_kelvin>(287.055);
    /// let flow = leak.mass_rate(ThermodynamicTemperature::new::<kelvin>(293.15), air)?;
    /// assert!((flow.get::<milligram_per_second>() - 11.8835).abs() < 1e-4);
    /// # Ok::<(), casetight::quantity::QuantityError>(())
    /// ```
    pub fn mass_rate(
        self,
        temperature: ThermodynamicTemperature,
        gas_constant: SpecificGasConstant,
    ) -> Result<MassRate, QuantityError> {
        let r = positive_gas_constant(gas_constant.get::<joule_per_kilogram_kelvin>())?;
        let rate = finite("mass flow", self.0 / (r * kelvins(temperature)?))?;
        Ok(MassRate::new::<kilogram_per_second>(rate))
    }

    /// The throughput `Q = R T dm/dt` \[Pa m3/s\] of a mass flow of an ideal gas at temperature T.
    ///
    /// # Errors
    /// As [`Throughput::mass_rate`].
    pub(crate) fn from_mass_rate(
        rate: MassRate,
        temperature: ThermodynamicTemperature,
        gas_constant: SpecificGasConstant,
    ) -> Result<Self, QuantityError> {
        let r = positive_gas_constant(gas_constant.get::<joule_per_kilogram_kelvin>())?;
        Self::from_pascal_cubic_meters_per_second(
            rate.get::<kilogram_per_second>() * r * kelvins(temperature)?,
        )
    }

    /// The molar flow `dn/dt = Q/(R_m T)` [mol/s] of an ideal gas at the temperature T of the throughput.
    ///
    /// # Errors
    /// As [`Throughput::mass_rate`].
    ///
    /// # Example
    /// ```
    /// use casetight::quantity::{MolarGasConstant, ThermodynamicTemperature, Throughput};
    /// use uom::si::{catalytic_activity::katal, molar_heat_capacity::joule_per_kelvin_mole,
    ///     thermodynamic_temperature::kelvin};
    ///
    /// // 1e-5 cm3/s of gas at 0 C and 101.325 kPa.
    /// let leak = Throughput::from_pascal_cubic_meters_per_second(1.013_25e-6)?;
    /// let r_m = MolarGasConstant::new::<joule_per_kelvin_mole>(8.314_462_618);
    /// let flow = leak.molar_rate(ThermodynamicTemperature::new::<kelvin>(273.15), r_m)?;
    /// assert!((flow.get::<katal>() - 4.4615e-10).abs() < 1e-14);
    /// # Ok::<(), casetight::quantity::QuantityError>(())
    /// ```
    pub fn molar_rate(
        self,
        temperature: ThermodynamicTemperature,
        gas_constant: MolarGasConstant,
    ) -> Result<MolarRate, QuantityError> {
        let r = positive_gas_constant(gas_constant.get::<joule_per_kelvin_mole>())?;
        let rate = finite("molar flow", self.0 / (r * kelvins(temperature)?))?;
        Ok(MolarRate::new::<katal>(rate))
    }
}

/// Sonic conductance `C` \[m3/(s Pa)\]: choked volume flow at reference conditions for each pascal of absolute upstream
/// pressure; zero or above.
///
/// `dm/dt = C rho_0 p_u sqrt(T_0/T_u)` while choked, with `rho_0` and `T_0` of the reference atmosphere. `[ISO6358]`
///
/// # Example
/// ```
/// use casetight::quantity::{SonicConductance, TradeUnits};
///
/// let c = SonicConductance::parse("0.2 dm3/(s bar)")?;
/// assert!((c.cubic_meters_per_second_pascal() - 2e-9).abs() < 1e-24);
/// # Ok::<(), casetight::quantity::ParseQuantityError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct SonicConductance(f64);

impl SonicConductance {
    /// A sonic conductance from its value in m3/(s Pa).
    ///
    /// # Errors
    /// [`QuantityError::SonicConductance`] unless the value is finite and not below zero.
    pub fn from_cubic_meters_per_second_pascal(got: f64) -> Result<Self, QuantityError> {
        if got.is_finite() && got >= 0.0 {
            Ok(Self(got))
        } else {
            Err(QuantityError::SonicConductance { got })
        }
    }

    /// The value in m3/(s Pa).
    #[must_use]
    pub fn cubic_meters_per_second_pascal(self) -> f64 {
        self.0
    }
}

/// Lets a gas constant pass, molar or specific, that is finite and above zero.
fn positive_gas_constant(got: f64) -> Result<f64, QuantityError> {
    if got.is_finite() && got > 0.0 {
        Ok(got)
    } else {
        Err(QuantityError::GasConstant { got })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::ReferenceConditions;
    use crate::quantity::TradeUnits;
    use proptest::prelude::*;
    use uom::si::thermodynamic_temperature::kelvin;

    fn at(kelvins: f64) -> ThermodynamicTemperature {
        ThermodynamicTemperature::new::<kelvin>(kelvins)
    }

    fn specific(value: f64) -> SpecificGasConstant {
        SpecificGasConstant::new::<joule_per_kilogram_kelvin>(value)
    }

    #[test]
    fn molar_flow_of_the_bubble_test_sensitivity() {
        // published: ASTM E515-11, 4.5e-10 mol/s for 1e-5 Std cm3/s. Its two figures are all that it states; the
        // reference temperature that fits them is 0 C.
        let leak = Throughput::parse("1e-5 atm cm3/s").unwrap();
        let r_m = MolarGasConstant::new::<joule_per_kelvin_mole>(8.314_462_618_153_24);
        let molar = leak.molar_rate(at(273.15), r_m).unwrap().get::<katal>();
        assert!((molar - 4.5e-10).abs() < 0.05e-10, "{molar}");
        // independent script, exact arithmetic: 1.01325e-6/(8.31446261815324 * 273.15).
        assert!((molar / 4.461_504e-10 - 1.0).abs() < 1e-6, "{molar}");
    }

    #[test]
    fn molar_and_mass_flow_agree_through_the_molar_mass() {
        // self-consistency: R = R_m/M, so dm/dt = M dn/dt.
        let (r_m, molar_mass) = (8.314_462_618, 28.9647e-3);
        let leak = Throughput::from_pascal_cubic_meters_per_second(0.3).unwrap();
        let mass = leak
            .mass_rate(at(310.0), specific(r_m / molar_mass))
            .unwrap();
        let molar = leak
            .molar_rate(
                at(310.0),
                MolarGasConstant::new::<joule_per_kelvin_mole>(r_m),
            )
            .unwrap();
        let ratio = mass.get::<kilogram_per_second>() / molar.get::<katal>();
        assert!((ratio / molar_mass - 1.0).abs() < 1e-14);
    }

    #[test]
    fn bad_inputs_are_named() {
        let leak = Throughput::from_pascal_cubic_meters_per_second(1.0).unwrap();
        for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(matches!(
                leak.mass_rate(at(bad), specific(287.0)),
                Err(QuantityError::Temperature { .. })
            ));
            assert!(matches!(
                leak.mass_rate(at(293.0), specific(bad)),
                Err(QuantityError::GasConstant { .. })
            ));
            assert!(matches!(
                leak.molar_rate(
                    at(293.0),
                    MolarGasConstant::new::<joule_per_kelvin_mole>(bad)
                ),
                Err(QuantityError::GasConstant { .. })
            ));
        }
        assert!(matches!(
            leak.mass_rate(at(1e-200), specific(1e-200)),
            Err(QuantityError::NotFinite {
                dimension: "mass flow",
                ..
            })
        ));
        assert!(matches!(
            Throughput::from_pascal_cubic_meters_per_second(f64::NAN),
            Err(QuantityError::NotFinite {
                dimension: "throughput",
                ..
            })
        ));
        for bad in [-1e-9, f64::NAN, f64::INFINITY] {
            assert!(matches!(
                SonicConductance::from_cubic_meters_per_second_pascal(bad),
                Err(QuantityError::SonicConductance { .. })
            ));
        }
    }

    proptest! {
        #[test]
        fn mass_flow_and_back(q in -1e3..1e3_f64, t in 200.0..400.0_f64, r in 100.0..5000.0_f64) {
            let leak = Throughput::from_pascal_cubic_meters_per_second(q).unwrap();
            let rate = leak.mass_rate(at(t), specific(r)).unwrap();
            let back = Throughput::from_mass_rate(rate, at(t), specific(r)).unwrap();
            prop_assert!((back.0 - q).abs() <= 4.0 * f64::EPSILON * q.abs());
        }

        #[test]
        fn the_way_by_volume_is_the_way_by_mass(q in 1e-6..1e3_f64, t in 200.0..400.0_f64) {
            let leak = Throughput::from_pascal_cubic_meters_per_second(q).unwrap();
            let by_volume = ReferenceConditions::ANR.volume_rate(leak, at(t)).unwrap();
            let by_mass = ReferenceConditions::ANR
                .mass_rate(by_volume, specific(287.055)).unwrap()
                .get::<kilogram_per_second>();
            let direct = leak.mass_rate(at(t), specific(287.055)).unwrap().get::<kilogram_per_second>();
            prop_assert!((by_mass / direct - 1.0).abs() < 1e-14);
        }
    }
}
