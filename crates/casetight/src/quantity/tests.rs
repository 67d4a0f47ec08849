//! What holds for every kind of quantity, and the published sizes of units.

use core::fmt::Debug;

use proptest::prelude::*;

use super::*;

/// Runs a generic check on every kind of quantity that has trade units.
macro_rules! for_every_quantity {
    ($check:ident $(, $argument:expr)*) => {
        $check::<Pressure>($($argument),*)?;
        $check::<AbsolutePressure>($($argument),*)?;
        $check::<GaugePressure>($($argument),*)?;
        $check::<Volume>($($argument),*)?;
        $check::<Length>($($argument),*)?;
        $check::<Area>($($argument),*)?;
        $check::<Time>($($argument),*)?;
        $check::<ThermodynamicTemperature>($($argument),*)?;
        $check::<TemperatureInterval>($($argument),*)?;
        $check::<TemperatureDrift>($($argument),*)?;
        $check::<Mass>($($argument),*)?;
        $check::<MassRate>($($argument),*)?;
        $check::<VolumeRate>($($argument),*)?;
        $check::<Throughput>($($argument),*)?;
        $check::<SonicConductance>($($argument),*)?;
        $check::<ThermalConductance>($($argument),*)?;
        $check::<Frequency>($($argument),*)?;
        $check::<Angle>($($argument),*)?;
        $check::<Ratio>($($argument),*)?;
        $check::<MassDensity>($($argument),*)?;
        $check::<MolarMass>($($argument),*)?;
        $check::<DynamicViscosity>($($argument),*)?;
        $check::<Angle>($($argument),*)?;
    };
}

fn parses_in_every_unit<Q: TradeUnits + Debug>(value: f64) -> Result<(), TestCaseError> {
    for unit in Q::UNITS {
        for spelling in unit.spellings() {
            for text in [
                format!("{value} {spelling}"),
                format!("{value:e}\u{a0}{spelling}"),
                format!(" {value} {spelling} {}", Q::KIND),
            ] {
                let q = Q::parse(&text).map_err(|e| TestCaseError::fail(e.to_string()))?;
                let back = q.value_in(unit.symbol()).unwrap();
                // Two roundings each way; on a temperature scale those of the larger absolute temperature.
                let scale = value.max(unit.from_si(unit.to_si(0.0) * 2.0).abs());
                prop_assert!(
                    (back - value).abs() <= 4.0 * f64::EPSILON * scale,
                    "{text}: {back}"
                );
            }
        }
    }
    Ok(())
}

fn written_keeps_bits<Q: TradeUnits + Debug>(si: f64) -> Result<(), TestCaseError> {
    if let Ok(q) = Q::from_si_value(si) {
        let back = Q::parse(&q.written()).map_err(|e| TestCaseError::fail(e.to_string()))?;
        prop_assert_eq!(
            back.si_value().to_bits(),
            q.si_value().to_bits(),
            "{}",
            q.written()
        );
    }
    Ok(())
}

fn shown_keeps_four_digits<Q: TradeUnits + Debug>(si: f64) -> Result<(), TestCaseError> {
    let q = Q::from_si_value(si).unwrap();
    let shown = q.trade();
    let back = Q::parse(&shown.to_string()).map_err(|e| TestCaseError::fail(e.to_string()))?;
    let back = back.value_in(shown.symbol()).unwrap();
    prop_assert!(
        (back - shown.value()).abs() <= 0.5001e-3 * shown.value().abs(),
        "{shown}"
    );
    Ok(())
}

#[cfg(feature = "serde")]
fn json_keeps_bits<Q: TradeUnits + Debug>(si: f64) -> Result<(), TestCaseError> {
    let q = Q::from_si_value(si).unwrap();
    let json = serde_json::to_string(&Written(q)).unwrap();
    let back: Written<Q> = serde_json::from_str(&json).unwrap();
    prop_assert_eq!(back.0.si_value().to_bits(), si.to_bits(), "{}", json);
    Ok(())
}

#[test]
fn more_digits_than_a_number_holds_are_not_shown() {
    let third = Length::parse("0.333 mm").unwrap();
    for digits in [17, 18, 65_536, usize::MAX] {
        assert_eq!(
            third.trade().digits(digits).to_string(),
            third.trade().digits(17).to_string()
        );
    }
}

proptest! {
    #[test]
    fn every_unit_of_every_quantity_is_read(mantissa in 1.0..10.0_f64, exponent in -6..6_i32) {
        for_every_quantity!(parses_in_every_unit, mantissa * 10_f64.powi(exponent));
    }

    #[test]
    fn written_text_parses_back_to_the_same_bits(si in any::<f64>()) {
        for_every_quantity!(written_keeps_bits, si);
    }

    #[test]
    fn shown_text_parses_back_to_four_digits(mantissa in 1.0..10.0_f64, exponent in -12..9_i32) {
        for_every_quantity!(shown_keeps_four_digits, mantissa * 10_f64.powi(exponent));
    }

    #[cfg(feature = "serde")]
    #[test]
    fn json_parses_back_to_the_same_bits(mantissa in 1.0..10.0_f64, exponent in -300..300_i32) {
        for_every_quantity!(json_keeps_bits, mantissa * 10_f64.powi(exponent));
    }

    #[test]
    fn no_text_makes_it_panic(text in any::<String>(), tail in "[-+\u{2212}0-9.,eE nNaAiIfFpsg]{0,12}") {
        let _ = GaugePressure::parse(&text);
        let _ = Ratio::parse(&tail);
        let _ = GaugePressure::parse(&tail);
        let _ = text.parse::<ReferenceConditions>();
    }
}

fn table_is_sound<Q: TradeUnits>() -> Result<(), TestCaseError> {
    let first = Q::UNITS.first().unwrap();
    prop_assert_eq!(
        first.to_si(1.5),
        1.5,
        "{}: the SI unit comes first",
        Q::DIMENSION
    );
    let mut spellings: Vec<_> = Q::UNITS.iter().flat_map(Unit::spellings).collect();
    spellings.extend(Q::MISPLACED.iter().map(|(unit, _)| *unit));
    let count = spellings.len();
    spellings.sort_unstable();
    spellings.dedup();
    prop_assert_eq!(
        spellings.len(),
        count,
        "{}: a spelling means one thing",
        Q::DIMENSION
    );
    let smallest = Q::UNITS
        .iter()
        .filter_map(Unit::reads_well_from)
        .fold(f64::INFINITY, f64::min);
    prop_assert_eq!(
        smallest,
        0.0,
        "{}: every size has a readable unit",
        Q::DIMENSION
    );
    Ok(())
}

#[test]
fn every_table_is_sound() -> Result<(), TestCaseError> {
    for_every_quantity!(table_is_sound);
    Ok(())
}

fn assert_published<Q: TradeUnits + Debug>(text: &str, published: f64, half_last_digit: f64) {
    let si = Q::parse(text).unwrap().si_value();
    assert!(
        (si - published).abs() <= half_last_digit,
        "{text} = {si}, published {published}"
    );
}

#[test]
fn unit_sizes_are_those_of_sp_811() {
    // published: NIST SP 811 (2008), appendix B.8, as the tables of uom 0.38 repeat them; seven digits, so the tolerance is
    // half of the last one. Those without a rounding are exact there.
    assert_published::<Pressure>("1 psi", 6.894_757e3, 0.5e-3);
    assert_published::<Pressure>("1 inHg", 3.386_389e3, 0.5e-3);
    assert_published::<Pressure>("1 inH2O", 2.490_889e2, 0.5e-4);
    assert_published::<Pressure>("1 mmHg", 1.333_224e2, 0.5e-4);
    assert_published::<Pressure>("1 Torr", 1.333_224e2, 0.5e-4);
    assert_published::<Pressure>("1 atm", 1.013_25e5, 0.0);
    assert_published::<Pressure>("1 bar", 1e5, 0.0);
    assert_published::<Pressure>("1 mbar", 1e2, 0.0);
    assert_published::<Pressure>("1 kgf/cm2", 9.806_65e4, 0.0);
    assert_published::<Volume>("1 in3", 1.638_706e-5, 0.5e-11);
    assert_published::<Volume>("1 US fl oz", 2.957_353e-5, 0.5e-11);
    assert_published::<Volume>("1 L", 1e-3, 0.0);
    assert_published::<Length>("1 in", 2.54e-2, 0.0);
    assert_published::<Length>("1 thou", 2.54e-5, 0.0);
    assert_published::<Area>("1 in2", 6.4516e-4, 0.0);
    assert_published::<Mass>("1 oz", 2.834_952e-2, 0.5e-8);
    assert_published::<Mass>("1 lb", 4.535_924e-1, 0.5e-7);
    // published: SP 811, B.8: T/K = t/C + 273.15 and T/K = (t/F + 459.67)/1.8, both exact.
    assert_published::<ThermodynamicTemperature>("20 C", 293.15, 0.0);
    assert_published::<ThermodynamicTemperature>("68 F", 293.15, 1e-13);
    assert_published::<TemperatureInterval>("9 F", 5.0, 0.0);
    // from memory: the barometer's 29.92 inHg is 101.32 kPa.
    assert_published::<AbsolutePressure>("29.92 inHg", 101_320.0, 5.0);
}

#[test]
fn prefixes_and_times_are_exact() {
    // By definition: SI prefixes, 60 s in a minute, 3600 s in an hour, 1 L = 1 dm3.
    for (text, pascals) in [
        ("1 hPa", 1e2),
        ("1 kPa", 1e3),
        ("1 MPa", 1e6),
        ("1 psi", 6_894.757_293_168_362),
    ] {
        assert_published::<Pressure>(text, pascals, 0.0);
        assert_published::<AbsolutePressure>(text, pascals, 0.0);
        assert_published::<GaugePressure>(text, pascals, 0.0);
    }
    assert_published::<AbsolutePressure>("1 psia", 6_894.757_293_168_362, 0.0);
    assert_published::<GaugePressure>("1 psig", 6_894.757_293_168_362, 0.0);
    for (text, cubic_meters) in [("1 mL", 1e-6), ("1 cm3", 1e-6), ("1 mm3", 1e-9)] {
        assert_published::<Volume>(text, cubic_meters, 0.0);
    }
    for (text, meters) in [("1 cm", 1e-2), ("1 mm", 1e-3), ("1 um", 1e-6)] {
        assert_published::<Length>(text, meters, 0.0);
    }
    for (text, square_meters) in [("1 cm2", 1e-4), ("1 mm2", 1e-6), ("1 um2", 1e-12)] {
        assert_published::<Area>(text, square_meters, 0.0);
    }
    for (text, seconds) in [("1 ms", 1e-3), ("1 min", 60.0), ("1 h", 3600.0)] {
        assert_published::<Time>(text, seconds, 0.0);
    }
    for (text, kilograms) in [("1 g", 1e-3), ("1 mg", 1e-6)] {
        assert_published::<Mass>(text, kilograms, 0.0);
    }
    for (text, rate) in [
        ("1 g/s", 1e-3),
        ("1 mg/s", 1e-6),
        ("60 g/min", 1e-3),
        ("3600 kg/h", 1.0),
    ] {
        assert_published::<MassRate>(text, rate, 0.0);
    }
    for (text, rate) in [
        ("1 L/s", 1e-3),
        ("60 L/min", 1e-3),
        ("60 slpm", 1e-3),
        ("60 mL/min", 1e-6),
        ("60 cm3/min", 1e-6),
        ("60 sccm", 1e-6),
        ("1 cm3/s", 1e-6),
    ] {
        assert_published::<VolumeRate>(text, rate, 0.0);
    }
    for (text, rate) in [("60 K/min", 1.0), ("3600 K/h", 1.0), ("108 F/min", 1.0)] {
        assert_published::<TemperatureDrift>(text, rate, 0.0);
    }
    assert_published::<ThermalConductance>("1 mW/K", 1e-3, 0.0);
    assert_published::<Frequency>("60 rpm", 1.0, 0.0);
    assert_published::<Frequency>("1 kHz", 1e3, 0.0);
    assert_published::<Ratio>("100 %", 1.0, 0.0);
    assert_published::<MassDensity>("0.998 g/mL", 998.0, 0.0);
    assert_published::<Angle>("180 deg", core::f64::consts::PI, 0.0);
    assert_published::<Throughput>("1 Pa L/s", 1e-3, 0.0);
    assert_published::<SonicConductance>("1 dm3/(s bar)", 1e-8, 0.0);
}

#[test]
fn units_of_gases_are_exact() {
    assert_published::<MolarMass>("28 kg/kmol", 28e-3, 0.0);
    assert_published::<DynamicViscosity>("1 cP", 1e-3, 0.0);
    assert_published::<DynamicViscosity>("18 µPa s", 18e-6, 0.0);
}

#[test]
fn unit_sizes_agree_with_uom() {
    // A peer library's tables, of seven digits: half of the last is at most 5e-7 of the value.
    use uom::si::{mass, pressure, volume};
    let near =
        |ours: f64, theirs: f64| assert!((ours / theirs - 1.0).abs() < 5e-7, "{ours} {theirs}");
    let p = |text| Pressure::parse(text).unwrap();
    near(p("7 psi").get::<pressure::psi>(), 7.0);
    near(p("7 inHg").get::<pressure::inch_of_mercury>(), 7.0);
    near(p("7 inH2O").get::<pressure::inch_of_water>(), 7.0);
    near(p("7 mmHg").get::<pressure::millimeter_of_mercury>(), 7.0);
    near(p("7 Torr").get::<pressure::torr>(), 7.0);
    near(
        p("7 kgf/cm2").get::<pressure::kilogram_force_per_square_centimeter>(),
        7.0,
    );
    near(
        Volume::parse("7 cu in")
            .unwrap()
            .get::<volume::cubic_inch>(),
        7.0,
    );
    near(
        Volume::parse("7 US fl oz")
            .unwrap()
            .get::<volume::fluid_ounce>(),
        7.0,
    );
    near(Mass::parse("7 lb").unwrap().get::<mass::pound>(), 7.0);
    near(Mass::parse("7 oz").unwrap().get::<mass::ounce>(), 7.0);
}

#[test]
fn leak_rates_convert() {
    let one = Throughput::parse("1 Pa m3/s").unwrap();
    let near = |unit: &str, published: f64, relative: f64| {
        let value = one.value_in(unit).unwrap();
        assert!((value / published - 1.0).abs() < relative, "{value} {unit}");
    };
    // self-consistency: 1 Pa = 0.01 mbar and 1 m3 = 1000 L.
    near("mbar L/s", 10.0, 1e-15);
    // common practice, no source: leak tables print 0.987 atm cm3/s and 0.75 Torr L/s for 1 mbar L/s.
    near("atm cm3/s", 9.87, 5e-4);
    near("Torr L/s", 7.5, 5e-4);
    // independent script, exact arithmetic: 1/0.101325 and 7600/1013.25.
    near("atm cm3/s", 9.869_232_667, 1e-9);
    near("Torr l/s", 7.500_616_827, 1e-9);
}

#[test]
fn trade_examples() {
    fn shown<Q: TradeUnits + Debug>(text: &str) -> String {
        Q::parse(text).unwrap().trade().to_string()
    }
    assert_eq!(shown::<GaugePressure>("7 psi"), "48.26 kPa gauge");
    assert_eq!(shown::<GaugePressure>("\u{2212}7psig"), "-48.26 kPa gauge");
    assert_eq!(
        shown::<AbsolutePressure>("1013.25 hPa"),
        "101.3 kPa absolute"
    );
    assert_eq!(shown::<Pressure>("0 psi"), "0 Pa");
    assert_eq!(shown::<Volume>("250 cc"), "250 cm3");
    assert_eq!(shown::<Volume>("1.5 L"), "1.5 L");
    assert_eq!(shown::<Length>("0.3 mm"), "0.3 mm");
    assert_eq!(shown::<Length>("20 \u{b5}m"), "20 um");
    assert_eq!(shown::<Length>("20 \u{3bc}m"), "20 um");
    assert_eq!(shown::<Area>("0.05 mm\u{b2}"), "0.05 mm2");
    assert_eq!(shown::<Area>("300 um2"), "300 um2");
    assert_eq!(shown::<Time>("325 s"), "325 s");
    assert_eq!(shown::<Time>("0.5 h"), "30 min");
    assert_eq!(shown::<ThermodynamicTemperature>("293.15 K"), "20 C");
    assert_eq!(shown::<ThermodynamicTemperature>("-10 \u{b0}C"), "-10 C");
    assert_eq!(shown::<TemperatureDrift>("1 K/min"), "1 K/min");
    assert_eq!(shown::<VolumeRate>("3 sccm"), "3 cm3/min");
    assert_eq!(shown::<VolumeRate>("2 slpm"), "2 L/min");
    assert_eq!(shown::<Throughput>("1 mbar\u{b7}l/s"), "0.1 Pa m3/s");
    assert_eq!(
        shown::<SonicConductance>("0.2 dm3/(s bar)"),
        "0.2 dm3/(s bar)"
    );
    assert_eq!(shown::<ThermalConductance>("0.45 W/K"), "0.45 W/K");
    assert_eq!(shown::<Frequency>("3000 rpm"), "50 Hz");
    assert_eq!(shown::<Frequency>("50 1/s"), "50 Hz");
    assert_eq!(shown::<Ratio>("6.5"), "6.5");
    assert_eq!(shown::<MassDensity>("0.83 g/cm3"), "830 kg/m3");
    assert_eq!(shown::<MolarMass>("0.0289647 kg/mol"), "28.96 g/mol");
    assert_eq!(shown::<DynamicViscosity>("0.0000182 Pa s"), "18.2 uPa s");
    assert_eq!(shown::<Angle>("60 deg"), "60 deg");
    assert_eq!(shown::<Ratio>("6.5:1"), "6.5");
    assert_eq!(shown::<Ratio>("12 %"), "0.12");
}

#[test]
fn a_display_obeys_its_format() {
    let p = GaugePressure::parse("7 psi").unwrap();
    assert_eq!(p.display_in("psig").unwrap().to_string(), "7 psig");
    assert_eq!(p.display_in("psi").unwrap().to_string(), "7 psi gauge");
    assert_eq!(format!("{p:.3}"), "48.263 kPa gauge");
    assert_eq!(
        format!("{p:>18}|{p:<18}|{p:^17}"),
        "   48.26 kPa gauge|48.26 kPa gauge   | 48.26 kPa gauge "
    );
    assert_eq!(format!("{p:>20.1}"), "      48.3 kPa gauge");
    assert_eq!(
        p.display_in("Pa").unwrap().digits(7).to_string(),
        "48263.3 Pa gauge"
    );
}

#[test]
fn numbers_show_their_leading_digits() {
    fn shown(value: f64) -> String {
        Ratio::new::<uom::si::ratio::ratio>(value)
            .trade()
            .to_string()
    }
    for (value, expected) in [
        (0.0, "0"),
        (-0.0, "0"),
        (9.9996, "10"),
        (99_995.0, "99995"),
        (999_999.6, "1e6"),
        (123_456.7, "123457"),
        (1_234_567.0, "1.235e6"),
        (0.001_234_56, "0.001235"),
        (0.000_123_456, "1.235e-4"),
        (-0.5, "-0.5"),
        (f64::NAN, "NaN"),
        (f64::INFINITY, "inf"),
    ] {
        assert_eq!(shown(value), expected);
    }
}

mod mistakes {
    use super::*;
    use ParseQuantityError as E;

    fn length(text: &str) -> E {
        Length::parse(text).unwrap_err()
    }

    #[test]
    fn nothing() {
        assert!(matches!(length("  "), E::Empty { .. }));
        assert_eq!(
            length("").to_string(),
            "no length is given, where a number and a unit should be, such as \"52 mm\""
        );
    }

    #[test]
    fn no_number() {
        for text in [
            "mm",
            ". mm",
            "- 3 mm",
            "1.2.3 mm",
            "e5 mm",
            "--3 mm",
            "m3",
            "3, mm",
            "1-3/0 mm",
            "3/8/26 mm",
            "1,2,3 mm",
            "1/2.5 mm",
        ] {
            assert!(matches!(length(text), E::NotANumber { .. }), "{text}");
        }
        assert_eq!(
            length("mm").to_string(),
            "`mm` is not one number and one unit, as length is written, such as \"52 mm\""
        );
    }

    #[test]
    fn not_finite() {
        for text in [
            "NaN mm",
            "nan",
            "inf mm",
            "-inf mm",
            "+Infinity m",
            "\u{2212}Inf m",
            "1e999 m",
            "-1e400 mm",
        ] {
            assert!(matches!(length(text), E::NotFinite { .. }), "{text}");
        }
        assert!(matches!(
            Pressure::parse("1e308 MPa"),
            Err(E::NotFinite { .. })
        ));
    }

    #[test]
    fn no_unit() {
        let error = length("52");
        assert!(matches!(&error, E::MissingUnit { number, .. } if number == "52"));
        assert_eq!(
            error.to_string(),
            "`52` has no unit: length is written with one, such as \"52 mm\", in one of m, cm, mm, um, in, ft, thou"
        );
    }

    #[test]
    fn an_unknown_unit() {
        let error = length("52 furlong");
        assert!(matches!(&error, E::UnknownUnit { unit, .. } if unit == "furlong"));
        assert_eq!(
            error.to_string(),
            "`furlong` is not a unit of length: write one of m, cm, mm, um, in, ft, thou"
        );
        // Capitals count: a millipascal is not a megapascal.
        assert!(matches!(
            Pressure::parse("1 mPa"),
            Err(E::UnknownUnit { .. })
        ));
        assert_eq!(
            GaugePressure::parse("7 kpa").unwrap_err().to_string(),
            "`kpa` is not a unit of gauge pressure: write `kPa`"
        );
        assert!(matches!(Ratio::parse("3 mm"), Err(E::UnknownUnit { .. })));
        assert!(matches!(
            Length::parse("3 mm gauge"),
            Err(E::UnknownUnit { .. })
        ));
        assert!(matches!(
            GaugePressure::parse("3 gauge"),
            Err(E::UnknownUnit { .. })
        ));
        assert!(matches!(Length::unit("psi"), Err(E::UnknownUnit { .. })));
    }

    #[test]
    fn a_unit_of_the_other_kind() {
        let advice = |error: E| match error {
            E::MisplacedUnit { advice, .. } => advice,
            other => panic!("{other:?}"),
        };
        for text in ["7 psig", "48 kPa gauge"] {
            assert!(
                advice(AbsolutePressure::parse(text).unwrap_err())
                    .contains("add the ambient pressure")
            );
        }
        for text in ["21.7 psia", "150 kPa absolute"] {
            assert!(
                advice(GaugePressure::parse(text).unwrap_err())
                    .contains("subtract the ambient pressure")
            );
        }
        for text in ["7 psig", "7 psia", "7 psi gauge", "7 psi absolute"] {
            assert!(advice(Pressure::parse(text).unwrap_err()).contains("write psi"));
        }
        assert!(advice(Volume::parse("3 fl oz").unwrap_err()).contains("imp fl oz"));
        assert!(advice(Volume::parse("3 oz").unwrap_err()).contains("a weight"));
        assert!(advice(Time::parse("3 m").unwrap_err()).contains("min"));
        assert!(advice(Throughput::parse("3 sccm").unwrap_err()).contains("reference"));
    }

    #[test]
    fn an_impossible_value() {
        assert_eq!(
            AbsolutePressure::parse("-7 psi")
                .map_err(|e| matches!(e, E::Value(QuantityError::AbsolutePressure { .. }))),
            Err(true)
        );
        assert!(matches!(
            ThermodynamicTemperature::parse("-300 C"),
            Err(E::Value(QuantityError::Temperature { got })) if (got + 26.85).abs() < 1e-9
        ));
        assert!(matches!(
            SonicConductance::parse("-1 dm3/(s bar)"),
            Err(E::Value(QuantityError::SonicConductance { .. }))
        ));
        assert!(matches!(
            Length::from_value_in(f64::NAN, "mm"),
            Err(E::Value(QuantityError::NotFinite {
                dimension: "length",
                ..
            }))
        ));
        assert!(matches!(
            TemperatureDrift::from_kelvins_per_second(f64::INFINITY),
            Err(QuantityError::NotFinite { .. })
        ));
    }
}

#[cfg(feature = "serde")]
mod in_files {
    use super::*;

    #[test]
    fn newtypes_are_text() {
        let p: GaugePressure = serde_json::from_str("\"-7 psi\"").unwrap();
        assert_eq!(p, GaugePressure::parse("-7 psi").unwrap());
        assert_eq!(
            serde_json::from_str::<GaugePressure>(&serde_json::to_string(&p).unwrap()).unwrap(),
            p
        );
        assert_eq!(
            serde_json::to_string(&ReferenceConditions::ANR).unwrap(),
            "\"293.15 K, 100000 Pa\""
        );
        let reference: ReferenceConditions = serde_json::from_str("\"ANR\"").unwrap();
        assert_eq!(reference, ReferenceConditions::ANR);
    }

    #[test]
    fn a_bare_number_is_refused_with_the_units() {
        let error = serde_json::from_str::<Written<Length>>("52")
            .unwrap_err()
            .to_string();
        assert!(
            error.contains("length as text with its unit: \"... m\", \"... cm\""),
            "{error}"
        );
    }

    #[test]
    fn a_mistake_in_the_text_is_told() {
        let error = serde_json::from_str::<AbsolutePressure>("\"7 psig\"")
            .unwrap_err()
            .to_string();
        assert!(error.contains("add the ambient pressure"), "{error}");
    }

    #[test]
    fn a_ratio_may_be_a_number() {
        for json in ["1.5", "\"1.5\"", "\"150 %\""] {
            let ratio: Written<Ratio> = serde_json::from_str(json).unwrap();
            assert_eq!(ratio.0.si_value(), 1.5);
        }
        assert_eq!(
            serde_json::from_str::<Written<Ratio>>("7")
                .unwrap()
                .0
                .si_value(),
            7.0
        );
    }

    #[test]
    fn nan_is_not_written() {
        let error =
            serde_json::to_string(&Written(Length::new::<uom::si::length::meter>(f64::NAN)));
        assert!(
            error
                .unwrap_err()
                .to_string()
                .contains("not a finite number")
        );
    }
}
