//! The units of the trade: one table for each kind of quantity.
//!
//! A factor is a fraction of two numbers that a float holds exactly, so that the only roundings are those of the
//! multiplication and the division. Definitions are exact unless the table says otherwise: the inch is 25.4 mm, the
//! pound 0.453 592 37 kg, standard gravity 9.806 65 m/s2. `[SP811]`, appendix B.8, prints the rounded values.

use uom::si::angle::radian;
use uom::si::area::square_meter;
use uom::si::dynamic_viscosity::pascal_second;
use uom::si::frequency::hertz;
use uom::si::length::meter;
use uom::si::mass::kilogram;
use uom::si::mass_density::kilogram_per_cubic_meter;
use uom::si::mass_rate::kilogram_per_second;
use uom::si::molar_mass::kilogram_per_mole;
use uom::si::pressure::pascal;
use uom::si::ratio::ratio;
use uom::si::thermal_conductance::watt_per_kelvin;
use uom::si::time::second;
use uom::si::volume::cubic_meter;
use uom::si::volume_rate::cubic_meter_per_second;
use uom::si::{temperature_interval, thermodynamic_temperature};

use super::drift::TemperatureDrift;
use super::pressure::{AbsolutePressure, GaugePressure};
use super::stretch::Stretch;
use super::text::TradeUnits;
use super::throughput::{SonicConductance, Throughput};
use super::unit::{KILOPASCAL, Unit};
use super::{
    Angle, Area, DynamicViscosity, Frequency, Length, Mass, MassDensity, MassRate, MolarMass,
    Pressure, QuantityError, Ratio, TemperatureInterval, ThermalConductance,
    ThermodynamicTemperature, Time, Volume, VolumeRate, finite, kelvins,
};

/// Pound-force by square inch: 0.453 592 37 * 9.806 65/0.0254^2 Pa.
const fn psi(symbol: &'static str) -> Unit {
    Unit::new(symbol, 44_482_216_152_605.0, 6_451_600_000.0)
}

/// Units of pressure, and those that only one kind of pressure has.
macro_rules! pressure_units {
    ($($own:expr),*) => {
        &[
            Unit::si("Pa").readable_from(0.0),
            Unit::new("hPa", 100.0, 1.0),
            KILOPASCAL.readable_from(1e3),
            Unit::new("MPa", 1e6, 1.0).readable_from(1e6),
            Unit::new("mbar", 100.0, 1.0),
            Unit::new("bar", 1e5, 1.0),
            psi("psi").also(&["PSI", "lbf/in2"]),
            $($own,)*
            // Conventional: 25.4 mm and 1 mm of mercury at 13 595.1 kg/m3 and standard gravity.
            Unit::new("inHg", 3_386_388_640_341.0, 1e9).also(&["in Hg", "in. Hg", "\"Hg", "\" Hg", "inches Hg", "inches of mercury"]),
            // Conventional: 25.4 mm of water at 1000 kg/m3 and standard gravity (not that of 4 C, nor of 60 F).
            Unit::new("inH2O", 24_908_891.0, 1e5).also(&["in H2O", "inWC", "in WC"]),
            Unit::new("mmHg", 133_322_387_415.0, 1e9).also(&["mm Hg", "millimeters of mercury"]),
            Unit::new("Torr", 101_325.0, 760.0).also(&["torr"]),
            Unit::new("atm", 101_325.0, 1.0),
            Unit::new("kgf/cm2", 98_066.5, 1.0).also(&["kg/cm2", "at"]),
        ]
    };
}

/// The way in and out of a quantity of `uom`, which may be any finite number.
macro_rules! trade_units {
    (
        $quantity:ty, $si:ty, $dimension:literal, $example:literal, $units:expr
        $(, clock: $clock:literal)? $(, misplaced: $misplaced:expr)?
    ) => {
        impl TradeUnits for $quantity {
            const DIMENSION: &'static str = $dimension;
            const EXAMPLE: &'static str = $example;
            const UNITS: &'static [Unit] = $units;
            $(const CLOCK: bool = $clock;)?
            $(const MISPLACED: &'static [(&'static str, &'static str)] = $misplaced;)?

            fn si_value(self) -> f64 {
                self.get::<$si>()
            }

            fn from_si_value(value: f64) -> Result<Self, QuantityError> {
                finite($dimension, value).map(Self::new::<$si>)
            }
        }
    };
}

const SAY_PSI: &str = "a size or a difference is asked for, which is neither gauge nor absolute, so write psi, kPa or \
                       mbar alone";

trade_units!(
    Pressure, pascal, "pressure", "0.5 psi", pressure_units!(),
    misplaced: &[
        ("psig", SAY_PSI),
        ("psia", SAY_PSI),
        ("gauge", SAY_PSI),
        ("absolute", SAY_PSI),
    ]
);

const SUBTRACT_AMBIENT: &str = "it counts from a perfect vacuum, so subtract the ambient pressure and write the \
                                difference in psig, psi or kPa";

const ADD_AMBIENT: &str = "it counts from the ambient pressure, so add the ambient pressure and write the sum in psia, \
                           psi or kPa";

/// The way in and out of a newtype of this crate.
macro_rules! newtype_units {
    (
        $quantity:ty, $get:ident, $new:ident, $dimension:literal, $example:literal, $units:expr
        $(, kind: $kind:literal)? $(, misplaced: $misplaced:expr)?
    ) => {
        impl TradeUnits for $quantity {
            const DIMENSION: &'static str = $dimension;
            const EXAMPLE: &'static str = $example;
            const UNITS: &'static [Unit] = $units;
            $(const KIND: &'static str = $kind;)?
            $(const MISPLACED: &'static [(&'static str, &'static str)] = $misplaced;)?

            fn si_value(self) -> f64 {
                self.$get()
            }

            fn from_si_value(value: f64) -> Result<Self, QuantityError> {
                Self::$new(value)
            }
        }

        /// As [`TradeUnits::trade`]: in a readable unit, to four digits.
        impl core::fmt::Display for $quantity {
            fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
                self.trade().fmt(f)
            }
        }

        /// As [`TradeUnits::parse`].
        impl core::str::FromStr for $quantity {
            type Err = super::ParseQuantityError;

            fn from_str(text: &str) -> Result<Self, Self::Err> {
                <Self as TradeUnits>::parse(text)
            }
        }
    };
}

newtype_units!(
    GaugePressure, pascals, from_pascals, "gauge pressure", "7 psi",
    pressure_units!(psi("psig").saying_kind()),
    kind: "gauge",
    misplaced: &[("psia", SUBTRACT_AMBIENT), ("absolute", SUBTRACT_AMBIENT)]
);

newtype_units!(
    AbsolutePressure, pascals, from_pascals, "absolute pressure", "1013 hPa",
    pressure_units!(psi("psia").saying_kind()),
    kind: "absolute",
    misplaced: &[("psig", ADD_AMBIENT), ("gauge", ADD_AMBIENT)]
);

trade_units!(
    Volume, cubic_meter, "volume", "250 cm3",
    &[
        Unit::si("m3").readable_from(1.0),
        Unit::new("L", 1.0, 1e3).also(&["l", "dm3"]).readable_from(1e-3),
        Unit::new("mL", 1.0, 1e6).also(&["ml"]),
        Unit::new("cm3", 1.0, 1e6).also(&["cc", "ccm"]).readable_from(1e-7),
        Unit::new("mm3", 1.0, 1e9).readable_from(0.0),
        Unit::new("in3", 16_387_064.0, 1e12).also(&["cu in"]),
        // 231 in3/128.
        Unit::new("US fl oz", 295_735_295_625.0, 1e16),
        // The gallon of 4.546 09 L over 160.
        Unit::new("imp fl oz", 454_609.0, 16e9),
    ],
    misplaced: &[
        ("fl oz", "it is not the same in the US and in Britain, so write US fl oz (29.57 mL) or imp fl oz (28.41 mL)"),
        ("oz", "it is a weight, so write US fl oz (29.57 mL) or imp fl oz (28.41 mL), or what the liquid weighed where a mass is asked for"),
    ]
);

trade_units!(
    Length,
    meter,
    "length",
    "52 mm",
    &[
        Unit::si("m").readable_from(1.0),
        Unit::new("cm", 1.0, 100.0),
        Unit::new("mm", 1.0, 1e3).readable_from(1e-4),
        Unit::new("um", 1.0, 1e6).readable_from(0.0),
        Unit::new("in", 254.0, 1e4).also(&["inch", "inches", "in.", "\""]),
        Unit::new("ft", 3048.0, 1e4).also(&["foot", "feet"]),
        Unit::new("thou", 254.0, 1e7).also(&["mil"]),
    ]
);

trade_units!(
    Area,
    square_meter,
    "area",
    "0.02 mm2",
    &[
        Unit::si("m2").readable_from(1.0),
        Unit::new("cm2", 1.0, 1e4).readable_from(1e-3),
        Unit::new("mm2", 1.0, 1e6).readable_from(1e-8),
        Unit::new("um2", 1.0, 1e12).readable_from(0.0),
        Unit::new("in2", 64_516.0, 1e8).also(&["sq in"]),
    ]
);

trade_units!(
    Time, second, "time", "60 s",
    &[
        Unit::si("s").also(&["sec", "seconds"]).readable_from(1.0),
        Unit::new("ms", 1.0, 1e3).readable_from(0.0),
        Unit::new("min", 60.0, 1.0).also(&["minutes", "minute"]).readable_from(600.0),
        Unit::new("h", 3600.0, 1.0).also(&["hours", "hour"]).readable_from(7200.0),
    ],
    clock: true,
    misplaced: &[("m", "it stands for meters, so write min for minutes")]
);

trade_units!(
    TemperatureInterval,
    temperature_interval::kelvin,
    "temperature difference",
    "1 K",
    &[
        Unit::si("K").readable_from(0.0),
        Unit::new("C", 1.0, 1.0),
        Unit::new("F", 5.0, 9.0),
    ]
);

trade_units!(
    Mass,
    kilogram,
    "mass",
    "12.5 g",
    &[
        Unit::si("kg").readable_from(1.0),
        Unit::new("g", 1.0, 1e3).readable_from(1e-3),
        Unit::new("mg", 1.0, 1e6).readable_from(0.0),
        Unit::new("oz", 28_349_523_125.0, 1e12),
        Unit::new("lb", 45_359_237.0, 1e8).also(&["lbs"]),
    ]
);

trade_units!(
    MassDensity,
    kilogram_per_cubic_meter,
    "density",
    "1000 kg/m3",
    &[
        Unit::si("kg/m3").also(&["g/L", "g/l"]).readable_from(0.0),
        Unit::new("g/cm3", 1e3, 1.0).also(&["g/mL", "g/ml", "kg/L", "kg/l", "kg/dm3"]),
    ]
);

trade_units!(
    MolarMass,
    kilogram_per_mole,
    "molar mass",
    "29 g/mol",
    &[
        Unit::si("kg/mol"),
        Unit::new("g/mol", 1.0, 1e3)
            .also(&["kg/kmol", "u"])
            .readable_from(0.0),
    ]
);

trade_units!(
    DynamicViscosity,
    pascal_second,
    "viscosity",
    "18 uPa s",
    &[
        Unit::si("Pa s").also(&["Pa*s", "kg/(m s)"]),
        Unit::new("mPa s", 1.0, 1e3).also(&["mPa*s", "cP"]),
        Unit::new("uPa s", 1.0, 1e6)
            .also(&["uPa*s", "µPa s", "μPa s"])
            .readable_from(0.0),
    ]
);

trade_units!(
    VolumeRate,
    cubic_meter_per_second,
    "volume flow",
    "20 cm3/min",
    &[
        Unit::si("m3/s").readable_from(1.0),
        Unit::new("L/s", 1.0, 1e3).also(&["l/s", "dm3/s"]),
        Unit::new("L/min", 1.0, 6e4)
            .also(&["l/min", "dm3/min"])
            .readable_from(1.0 / 6e4),
        Unit::new("mL/min", 1.0, 6e7).also(&["ml/min"]),
        Unit::new("cm3/min", 1.0, 6e7)
            .also(&["cc/min"])
            .readable_from(0.0),
        Unit::new("cm3/s", 1.0, 1e6).also(&["cc/s"]),
        // The reference conditions of these two are the caller's to keep: `ReferenceConditions`.
        Unit::new("sccm", 1.0, 6e7),
        Unit::new("slpm", 1.0, 6e4).also(&["slm"]),
    ]
);

trade_units!(
    MassRate,
    kilogram_per_second,
    "mass flow",
    "1 mg/s",
    &[
        Unit::si("kg/s").readable_from(1.0),
        Unit::new("g/s", 1.0, 1e3).readable_from(1e-3),
        Unit::new("mg/s", 1.0, 1e6).readable_from(0.0),
        Unit::new("g/min", 1.0, 6e4),
        Unit::new("kg/h", 1.0, 3600.0),
    ]
);

trade_units!(
    ThermalConductance,
    watt_per_kelvin,
    "thermal conductance",
    "0.1 W/K",
    &[
        Unit::si("W/K").also(&["W/C"]).readable_from(0.1),
        Unit::new("mW/K", 1.0, 1e3)
            .also(&["mW/C"])
            .readable_from(0.0),
    ]
);

trade_units!(
    Frequency,
    hertz,
    "frequency",
    "3000 rpm",
    &[
        Unit::si("Hz").also(&["1/s"]).readable_from(0.0),
        Unit::new("kHz", 1e3, 1.0).readable_from(1e4),
        Unit::new("rpm", 1.0, 60.0).also(&["1/min", "r/min"]),
    ]
);

trade_units!(
    Angle,
    radian,
    "angle",
    "60 deg",
    &[
        Unit::si("rad"),
        Unit::new("deg", std::f64::consts::PI, 180.0)
            .also(&["degrees", "degree"])
            .readable_from(0.0),
    ]
);

trade_units!(
    Ratio,
    ratio,
    "ratio",
    "1.45",
    &[
        // Without a unit; ":1" is how a compression ratio is written.
        Unit::si("").also(&[":1", ": 1"]).readable_from(0.0),
        Unit::new("%", 1.0, 100.0).also(&["percent"]),
    ]
);

newtype_units!(
    TemperatureDrift,
    kelvins_per_second,
    from_kelvins_per_second,
    "temperature drift",
    "0.3 K/min",
    &[
        Unit::si("K/s").also(&["C/s"]).readable_from(1.0),
        Unit::new("K/min", 1.0, 60.0)
            .also(&["C/min"])
            .readable_from(0.0),
        Unit::new("K/h", 1.0, 3600.0).also(&["C/h"]),
        Unit::new("F/min", 1.0, 108.0),
    ]
);

newtype_units!(
    Stretch,
    per_pascal,
    from_per_pascal,
    "stretch",
    "1 %/bar",
    &[
        Unit::si("1/Pa"),
        Unit::new("%/bar", 1.0, 1e7)
            .also(&["% per bar", "%/100 kPa"])
            .readable_from(0.0),
        Unit::new("%/psi", 1.0, 689_475.729_316_8),
        Unit::new("%/kPa", 1.0, 1e5),
    ]
);

const COUNTED_GAS: &str =
    "it counts gas at reference conditions, so give a volume flow together with its reference";

newtype_units!(
    Throughput, pascal_cubic_meters_per_second, from_pascal_cubic_meters_per_second, "throughput", "0.001 Pa m3/s",
    &[
        Unit::si("Pa m3/s").readable_from(0.0),
        Unit::new("Pa L/s", 1.0, 1e3).also(&["Pa l/s"]),
        Unit::new("mbar L/s", 1.0, 10.0).also(&["mbar l/s"]),
        Unit::new("Torr L/s", 101_325.0, 760_000.0).also(&["Torr l/s", "torr l/s"]),
        Unit::new("atm cm3/s", 101_325.0, 1e6).also(&["atm cc/s"]),
    ],
    misplaced: &[("sccm", COUNTED_GAS), ("slpm", COUNTED_GAS), ("slm", COUNTED_GAS)]
);

newtype_units!(
    SonicConductance,
    cubic_meters_per_second_pascal,
    from_cubic_meters_per_second_pascal,
    "sonic conductance",
    "0.1 dm3/(s bar)",
    &[
        Unit::si("m3/(s Pa)")
            .also(&["m3/(Pa s)"])
            .readable_from(0.0),
        Unit::new("dm3/(s bar)", 1.0, 1e8)
            .also(&[
                "dm3/(bar s)",
                "L/(s bar)",
                "l/(s bar)",
                "L/(bar s)",
                "l/(bar s)"
            ])
            .readable_from(1e-10),
    ]
);

impl TradeUnits for ThermodynamicTemperature {
    const DIMENSION: &'static str = "temperature";
    const EXAMPLE: &'static str = "20 C";
    const UNITS: &'static [Unit] = &[
        Unit::si("K"),
        Unit::new("C", 1.0, 1.0).shifted(273.15).readable_from(0.0),
        Unit::new("F", 5.0, 9.0).shifted(459.67),
    ];

    fn si_value(self) -> f64 {
        self.get::<thermodynamic_temperature::kelvin>()
    }

    fn from_si_value(value: f64) -> Result<Self, QuantityError> {
        let temperature = Self::new::<thermodynamic_temperature::kelvin>(value);
        kelvins(temperature).map(|_| temperature)
    }
}
