//! The state of the gas that a "standard" volume flow counts in.

use core::fmt;
use core::marker::PhantomData;
use core::str::FromStr;

use uom::si::{thermodynamic_temperature::kelvin, volume_rate::cubic_meter_per_second};

use super::{
    AbsolutePressure, MassRate, ParseQuantityError, QuantityError, SpecificGasConstant,
    ThermodynamicTemperature, Throughput, TradeUnits, VolumeRate, finite, kelvins,
};

/// Reference conditions: the pressure `p_0` \[Pa\] and temperature `T_0` \[K\] at which a volume flow counts its gas.
///
/// A flow in sccm means nothing before these are stated: 0 C instead of 20 C changes it by 7.3 %.
/// The gas is ideal and dry; the humidity that ISO 8778 adds (65 %) is left out, and the density of 1.185 kg/m3 that
/// goes with it belongs to the law of sonic conductance.
///
/// As text: a name ("normal", "ANR", "ISA"), or a temperature and an absolute pressure ("0 C, 101.325 kPa").
///
/// # Example
/// ```
/// use casetight::quantity::{ReferenceConditions, TradeUnits, VolumeRate};
///
/// let flow = VolumeRate::parse("1 sccm")?;
/// let leak = ReferenceConditions::NORMAL.throughput(flow)?;
/// assert!((leak.pascal_cubic_meters_per_second() - 1.68875e-3).abs() < 1e-15);
/// assert_eq!("0 C, 101.325 kPa".parse(), Ok(ReferenceConditions::NORMAL));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReferenceConditions {
    pressure: AbsolutePressure,
    temperature: ThermodynamicTemperature,
}

impl ReferenceConditions {
    /// 0 C and 101.325 kPa: the normal state of `[DIN1343]`, and what most mass flow meters mean by sccm.
    pub const NORMAL: Self = Self::known(101_325.0, 273.15);
    /// 20 C and 100 kPa: the standard reference atmosphere (ANR) of `[ISO8778]`, used in pneumatics.
    pub const ANR: Self = Self::known(100_000.0, 293.15);
    /// 15 C and 101.325 kPa: the standard atmosphere at sea level, `[ISO2533]`.
    pub const ISA: Self = Self::known(101_325.0, 288.15);

    const NAMED: [(&'static str, Self); 3] = [
        ("normal", Self::NORMAL),
        ("ANR", Self::ANR),
        ("ISA", Self::ISA),
    ];

    const fn known(pascals: f64, kelvins: f64) -> Self {
        Self {
            pressure: AbsolutePressure::known(pascals),
            temperature: ThermodynamicTemperature {
                dimension: PhantomData,
                units: PhantomData,
                value: kelvins,
            },
        }
    }

    /// Reference conditions `p_0` and `T_0`.
    ///
    /// # Errors
    /// [`QuantityError::Temperature`] unless the temperature is finite and above absolute zero.
    pub fn new(
        pressure: AbsolutePressure,
        temperature: ThermodynamicTemperature,
    ) -> Result<Self, QuantityError> {
        kelvins(temperature)?;
        Ok(Self {
            pressure,
            temperature,
        })
    }

    /// The pressure `p_0` \[Pa\].
    #[must_use]
    pub fn pressure(self) -> AbsolutePressure {
        self.pressure
    }

    /// The temperature `T_0` \[K\].
    #[must_use]
    pub fn temperature(self) -> ThermodynamicTemperature {
        self.temperature
    }

    /// The volume flow at these conditions `q_0 = (Q/p_0) (T_0/T)` \[m3/s\] of a throughput `Q` at temperature `T`.
    ///
    /// # Errors
    /// [`QuantityError::Temperature`] unless T is finite and above absolute zero; [`QuantityError::NotFinite`] where the
    /// result overflows.
    pub fn volume_rate(
        self,
        throughput: Throughput,
        temperature: ThermodynamicTemperature,
    ) -> Result<VolumeRate, QuantityError> {
        let cooled = self.temperature.get::<kelvin>() / kelvins(temperature)?;
        let rate = throughput.pascal_cubic_meters_per_second() / self.pressure.pascals() * cooled;
        Ok(VolumeRate::new::<cubic_meter_per_second>(finite(
            "volume flow",
            rate,
        )?))
    }

    /// The throughput `Q = p_0 q_0` \[Pa m3/s\], at the temperature `T_0`, of a volume flow counted at these conditions.
    ///
    /// # Errors
    /// [`QuantityError::NotFinite`] unless the flow and the result are finite.
    pub fn throughput(self, rate: VolumeRate) -> Result<Throughput, QuantityError> {
        Throughput::from_pascal_cubic_meters_per_second(
            rate.get::<cubic_meter_per_second>() * self.pressure.pascals(),
        )
    }

    /// The mass flow `dm/dt = q_0 p_0/(R T_0)` \[kg/s\] of a volume flow counted at these conditions.
    ///
    /// # Errors
    /// [`QuantityError::GasConstant`] unless R is finite and above zero; [`QuantityError::NotFinite`] unless the flow
    /// and the result are finite.
    pub fn mass_rate(
        self,
        rate: VolumeRate,
        gas_constant: SpecificGasConstant,
    ) -> Result<MassRate, QuantityError> {
        self.throughput(rate)?
            .mass_rate(self.temperature, gas_constant)
    }

    /// The volume flow `q_0 = dm/dt R T_0/p_0` \[m3/s\], counted at these conditions, of a mass flow.
    ///
    /// # Errors
    /// As [`ReferenceConditions::mass_rate`].
    pub fn volume_rate_of_mass(
        self,
        rate: MassRate,
        gas_constant: SpecificGasConstant,
    ) -> Result<VolumeRate, QuantityError> {
        let throughput = Throughput::from_mass_rate(rate, self.temperature, gas_constant)?;
        self.volume_rate(throughput, self.temperature)
    }

    /// The conditions as text that parses back to the same bits: kelvins and pascals.
    #[must_use]
    pub fn written(self) -> String {
        format!(
            "{}, {}",
            self.temperature.written(),
            self.pressure.size().written()
        )
    }
}

/// Temperature and pressure to at most six digits: "0 C, 101.325 kPa".
impl fmt::Display for ReferenceConditions {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{}, {}",
            self.temperature.trade().digits(6),
            self.pressure.size().trade().digits(6)
        )
    }
}

impl FromStr for ReferenceConditions {
    type Err = ParseQuantityError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let text = text.trim();
        if let Some((_, known)) = Self::NAMED
            .iter()
            .find(|(name, _)| name.eq_ignore_ascii_case(text))
        {
            return Ok(*known);
        }
        // A comma with a space parts the two; one without may be a decimal comma, which the parts then report.
        let (first, second) = text
            .split_once(", ")
            .or_else(|| text.split_once(','))
            .ok_or_else(|| ParseQuantityError::ReferenceConditions {
                text: text.to_owned(),
            })?;
        let (temperature, pressure) = match ThermodynamicTemperature::parse(first) {
            Err(ParseQuantityError::UnknownUnit { .. }) => {
                let pressure = AbsolutePressure::parse(first)?;
                (ThermodynamicTemperature::parse(second)?, pressure)
            }
            temperature => (temperature?, AbsolutePressure::parse(second)?),
        };
        Ok(Self::new(pressure, temperature)?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use uom::si::specific_heat_capacity::joule_per_kilogram_kelvin;

    #[test]
    fn one_standard_cubic_centimeter_a_minute() {
        let flow = VolumeRate::parse("1 sccm").unwrap();
        // published: 1.68875e-3 Pa m3/s at 0 C and 101.325 kPa, NIST's factor as tables of flow units quote it;
        // it is exact, 101325e-6/60.
        let leak = ReferenceConditions::NORMAL.throughput(flow).unwrap();
        assert!((leak.pascal_cubic_meters_per_second() / 1.68875e-3 - 1.0).abs() < 1e-15);
        // independent script, exact arithmetic: 1 Pa m3/s = 592.154 sccm.
        let back = ReferenceConditions::NORMAL
            .volume_rate(
                Throughput::from_pascal_cubic_meters_per_second(1.0).unwrap(),
                ReferenceConditions::NORMAL.temperature(),
            )
            .unwrap();
        assert!((back.value_in("sccm").unwrap() - 592.154).abs() < 5e-4);
    }

    #[test]
    fn the_stated_temperature_matters() {
        // self-consistency: the same throughput of gas at 20 C is less at 0 C by the ratio of temperatures.
        let leak = Throughput::from_pascal_cubic_meters_per_second(1.0).unwrap();
        let warm = ReferenceConditions::ANR.temperature();
        let cold = ReferenceConditions::NORMAL.volume_rate(leak, warm).unwrap();
        let expected = 273.15 / 293.15 / 101_325.0;
        assert!((cold.get::<cubic_meter_per_second>() / expected - 1.0).abs() < 1e-15);
    }

    #[test]
    fn names_and_numbers_mean_the_same() {
        for (text, expected) in [
            ("normal", ReferenceConditions::NORMAL),
            ("Normal", ReferenceConditions::NORMAL),
            ("0 C, 101.325 kPa", ReferenceConditions::NORMAL),
            ("1 atm, 273.15 K", ReferenceConditions::NORMAL),
            ("anr", ReferenceConditions::ANR),
            ("20\u{b0}C,1bar", ReferenceConditions::ANR),
            ("ISA", ReferenceConditions::ISA),
            (" 15 C, 1013.25 mbar ", ReferenceConditions::ISA),
            ("15,0 C, 1013,25 mbar", ReferenceConditions::ISA),
        ] {
            assert_eq!(text.parse::<ReferenceConditions>(), Ok(expected), "{text}");
        }
    }

    #[test]
    fn each_mistake_is_named() {
        let parse = |text: &str| text.parse::<ReferenceConditions>().unwrap_err();
        for text in ["standard", "", "0 C"] {
            assert!(
                matches!(parse(text), ParseQuantityError::ReferenceConditions { .. }),
                "{text}"
            );
        }
        assert!(parse("STP").to_string().contains("normal, ANR, ISA"));
        assert!(matches!(
            parse("0 C, 101,325 kPa"),
            ParseQuantityError::Unclear { .. }
        ));
        for text in ["0 C, 0 psig", "0 psig, 0 C"] {
            assert!(
                matches!(parse(text), ParseQuantityError::MisplacedUnit { .. }),
                "{text}"
            );
        }
        assert!(matches!(
            parse("0 K, 1 bar"),
            ParseQuantityError::Value(QuantityError::Temperature { got: 0.0 })
        ));
        assert!(matches!(
            ReferenceConditions::new(
                AbsolutePressure::known(1e5),
                ThermodynamicTemperature::new::<kelvin>(f64::NAN)
            ),
            Err(QuantityError::Temperature { .. })
        ));
    }

    #[test]
    fn shows_six_digits() {
        assert_eq!(ReferenceConditions::NORMAL.to_string(), "0 C, 101.325 kPa");
        assert_eq!(ReferenceConditions::ANR.to_string(), "20 C, 100 kPa");
        assert_eq!(ReferenceConditions::ISA.to_string(), "15 C, 101.325 kPa");
    }

    proptest! {
        #[test]
        fn written_text_keeps_every_bit(p in 1.0..1e7_f64, t in 1.0..1e3_f64) {
            let known = ReferenceConditions::known(p, t);
            prop_assert_eq!(known.written().parse(), Ok(known));
        }

        #[test]
        fn volume_and_mass_are_inverse(q in -1.0..1.0_f64, r in 100.0..5000.0_f64) {
            let r = SpecificGasConstant::new::<joule_per_kilogram_kelvin>(r);
            let rate = VolumeRate::new::<cubic_meter_per_second>(q);
            let mass = ReferenceConditions::ISA.mass_rate(rate, r).unwrap();
            let back = ReferenceConditions::ISA.volume_rate_of_mass(mass, r).unwrap();
            prop_assert!((back.get::<cubic_meter_per_second>() - q).abs() <= 4.0 * f64::EPSILON * q.abs());
        }
    }
}
