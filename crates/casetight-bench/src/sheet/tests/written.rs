//! What was read is written so that it reads the same.

use super::{DIRECT, FULL, parse};
use crate::sheet::*;
use casetight::limit::Limit;
use casetight::quantity::{
    Area, GaugePressure, Length, Mass, MassDensity, Pressure, Ratio, Time, TradeUnits,
};
use proptest::prelude::*;
use uom::si::volume::cubic_centimeter;

#[test]
fn a_written_sheet_reads_the_same() {
    for text in [FULL, DIRECT] {
        let sheet = parse(text).unwrap();
        let written = sheet.to_toml().unwrap();
        let again = parse(&written).unwrap_or_else(|error| panic!("{written}\n{error}"));
        assert_eq!(again, sheet, "{written}");
        // And in the same words.
        assert_eq!(again.to_toml().unwrap(), written);
    }
    let written = parse(FULL).unwrap().to_toml().unwrap();
    for line in [
        "bore = \"52 mm\"\nbore_uncertainty = \"+- 50 um (last digit)\"",
        "stroke = \"1.575 in\"\nstroke_uncertainty = \"+- 0.002 in\"",
        "rod_uncertainty = \"0.1 mm\"",
        "reference = \"ANR\"",
        "flow_reference = \"ISA\"",
        "  [30.5, 6.75],",
        "blanked = [\"exhaust blank\", \"intake blank\", \"oil pump shaft\"]",
    ] {
        assert!(written.contains(line), "{written}\nlacks {line}");
    }
    assert!(!written.contains("temperature_uncertainty"), "{written}");
}

#[test]
fn limits_that_no_table_holds() {
    let mut sheet = parse(DIRECT).unwrap();
    let psi = |value: f64| Pressure::parse(&format!("{value} psi")).unwrap();
    let over = Time::parse("1 min").unwrap();
    let state = |limit| StatedLimit { limit, rule: None };
    let drop = state(Limit::Drop {
        drop: psi(1.0),
        from: psi(7.0),
        over,
        at_volume: None,
    });
    let hold = |from| state(Limit::Hold { time: over, from });
    for (limits, held) in [
        (vec![drop, hold(Some(psi(7.0)))], true),
        (vec![hold(None)], true),
        (vec![drop, drop], false),
        (vec![drop, hold(Some(psi(6.0)))], false),
        (vec![drop, hold(None)], false),
    ] {
        sheet.limits = limits;
        match sheet.to_toml() {
            Ok(text) => {
                assert!(held);
                assert_eq!(parse(&text).as_ref(), Ok(&sheet));
            }
            Err(error) => {
                assert!(!held, "{error}");
                assert!(matches!(error.problem(), Problem::NotWritable { .. }));
            }
        }
    }
}

#[test]
fn no_unit_starts_like_a_number() {
    fn check<Q: TradeUnits>() {
        for unit in Q::UNITS {
            let first = unit.symbol().chars().next().unwrap_or('m');
            assert!(
                !first.is_ascii_digit() && !"+-.eE".contains(first),
                "{}",
                unit.symbol()
            );
        }
    }
    check::<Length>();
    check::<Ratio>();
    check::<Volume>();
    check::<Area>();
    check::<Mass>();
    check::<MassDensity>();
    check::<Time>();
}

/// A dial's numbers without a sign, and the same sheet after it was written out.
#[test]
fn a_stated_direction_is_kept_when_a_sheet_is_written() {
    let text = DIRECT.replacen(
        "readings = [[0, 48",
        "direction = \"vacuum\"\nreadings = [[0, 48",
        1,
    );
    let sheet = parse(&text).unwrap();
    let run = &sheet.runs[0];
    assert_eq!(run.direction, Some(casetight::vessel::Direction::Vacuum));
    let readings = run.record.readings().unwrap();
    assert!(readings.gauges_pa().iter().all(|gauge| *gauge < 0.0));
    let written = sheet.to_toml().unwrap();
    assert!(written.contains("direction = \"vacuum\""), "{written}");
    assert_eq!(parse(&written).unwrap(), sheet);
}

/// The factor is kept as its logarithm, and comes back all the same. The second is one of the few, two in a million, of which the
/// exponential of the logarithm has another logarithm.
#[test]
fn a_conductance_keeps_every_bit() {
    for factor in [1.3, 1.999_347_516_173_781_3] {
        let heat =
            format!("[heat]\nconductance = \"0.5 W/K\"\nconductance_factor = {factor}\n[gauge]");
        let sheet = parse(&DIRECT.replace("[gauge]", &heat)).unwrap();
        let written = sheet.to_toml().unwrap();
        assert_eq!(parse(&written).unwrap(), sheet, "{written}");
    }
}

proptest! {
    /// Half the last digit of a length, whatever its digits and exponent.
    #[test]
    fn the_last_digit(digits in 1_u32..100_000, decimals in 0_usize..6, exponent in -3_i32..4, exponential: bool) {
        let number = f64::from(digits) / 10_f64.powi(i32::try_from(decimals).unwrap());
        let (tail, exponent) = if exponential { (format!("e{exponent}"), exponent) } else { (String::new(), 0) };
        let text = format!("{number:.decimals$}{tail} cm3");
        let sheet = parse(&FULL.replace("\"35 cm3\"\nuncertainty = \"3 cc\"", &format!("\"{text}\""))).unwrap();
        let Space::Engine { rig, .. } = sheet.space else { unreachable!() };
        let half = 0.5 * 10_f64.powi(exponent - i32::try_from(decimals).unwrap());
        let got = rig.standard_uncertainty().get::<cubic_centimeter>() * 3_f64.sqrt();
        prop_assert!((got / half - 1.0).abs() < 1e-12, "{text}: {got}");
    }

    /// Whatever can be parsed is written so that it reads equal.
    #[test]
    fn written_numbers_keep_every_bit(
        bore in 10.0..100.0_f64,
        tolerance in 1e-4..0.5_f64,
        kelvins in 260.0..310.0_f64,
        start in 1.0..60.0_f64,
        fall in 0.0..1.0_f64,
        unit in prop::sample::select(vec!["psi", "kPa", "inHg", "mbar", "mmHg"]),
        angle in -360.0..360.0_f64,
        set_within in 0.0..10.0_f64,
    ) {
        let scale = 48e3 / GaugePressure::unit(unit).unwrap().to_si(60.0);
        let text = FULL
            .replace("\"52.0 mm\"", &format!("\"{bore} mm\"\nbore_uncertainty = \"+- {tolerance} mm\""))
            .replace("\"70 F\"", &format!("\"{kelvins} K\""))
            .replace("60 +- 2 deg", &format!("{angle} +- {set_within} deg"))
            .replace("unit = \"psi\"", &format!("unit = \"{unit}\""))
            .replace("name = \"all blanked\"", "name = \"all blanked\"\ndirection = \"pressure\"")
            .replace("readings = [[0, -7.0], [30, -6.75]]", &format!("direction = \"pressure\"\nreadings = [[0, {}], [0.1, {}]]", start * scale, (start - fall) * scale));
        let sheet = parse(&text).unwrap();
        let written = sheet.to_toml().unwrap();
        prop_assert_eq!(parse(&written).unwrap(), sheet);
    }

    #[test]
    fn any_bytes_are_answered(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        let _ = Sheet::from_bytes(&bytes, "s", &NoTraces);
    }

    /// A damaged sheet is read or refused with words; what is read can be written and read again.
    #[test]
    fn any_damage_is_answered(
        at in 0_usize..3000,
        length in 0_usize..30,
        to in prop::string::string_regex("[\\[\\]{}=\"'0-9a-z.,\\-\n\u{b5}e+# ]{0,12}").unwrap(),
    ) {
        let start = at % FULL.len();
        let end = (start + length).min(FULL.len());
        let text = format!("{}{to}{}", &FULL[..start], &FULL[end..]);
        match parse(&text) {
            Ok(sheet) => prop_assert_eq!(parse(&sheet.to_toml().unwrap()).unwrap(), sheet),
            Err(error) => prop_assert!(!error.to_string().is_empty()),
        }
    }
}
