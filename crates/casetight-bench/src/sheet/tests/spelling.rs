//! Spellings of times and numbers, and runs in a unit of their own.

use proptest::prelude::*;

use super::{DIRECT, FULL, parse, refused};
use crate::sheet::*;
use casetight::quantity::{GaugePressure, TradeUnits};

const GOOD: &str = "readings = [[0, 48.0], [60, 45.0]]";

fn with(readings: &str) -> Result<Sheet, SheetError> {
    assert!(DIRECT.contains(GOOD));
    parse(&DIRECT.replace(GOOD, readings))
}

#[test]
fn times_and_decimals_of_readings() {
    let plain = parse(DIRECT).unwrap();
    for readings in [
        "readings = [[\"0:00\", 48.0], [\"1:00\", 45.0]]",
        "readings = [[\":00\", 48], [\"1 min\", \"45,0\"]]",
        "readings = [[\"0 s\", \"48,0\"], [\"60\", 45]]",
        "readings = [[0, \"48\"], [\"0:01:00\", 45]]",
    ] {
        assert_eq!(with(readings).unwrap(), plain, "{readings}");
    }
    let window = parse(&FULL.replace(
        "file = \"logged.csv\"",
        "file = \"logged.csv\"\nwindow = [\"0:00\", \"0:01\"]",
    ))
    .unwrap();
    let seconds = parse(&FULL.replace(
        "file = \"logged.csv\"",
        "file = \"logged.csv\"\nwindow = [0, 1]",
    ))
    .unwrap();
    assert_eq!(window, seconds);
    let colon = FULL.replace("over = \"1 min\"", "over = \"1:00\"");
    assert_eq!(parse(&colon).unwrap(), parse(FULL).unwrap());
}

#[test]
fn what_is_asked_about_readings() {
    for (to, key, said) in [
        (
            "readings = [[\"0:75\", 48], [60, 45]]",
            "run[1].readings[1][1]",
            "write `1:15`",
        ),
        (
            "readings = [[0, \"48 kPa\"], [60, 45]]",
            "run[1].readings[1][2]",
            "write 48",
        ),
        (
            "readings = [[0, \"1,000\"], [60, 45]]",
            "run[1].readings[1][2]",
            "`1000` or `1.000`",
        ),
        (
            "readings = [[0, 48,0], [60, 45,0]]",
            "run[1].readings[1]",
            "A decimal comma is a point",
        ),
        (
            "readings = [[48, 0], [45, 60]]",
            "run[1].readings",
            "write the time first, as in `[60, 45]`",
        ),
        (
            "readings = [[-48, 0], [-45, 60]]",
            "run[1].readings",
            "write the time first",
        ),
    ] {
        refused(DIRECT, GOOD, to, key, to, said);
    }
    // Times that fall beside pressures that fall were exchanged by nobody.
    refused(
        DIRECT,
        GOOD,
        "readings = [[60, 48], [0, 45]]",
        "run[1].readings[2]",
        "readings =",
        "does not come after",
    );
}

/// A dial with two scales: one run in kPa, one in inches of mercury.
#[test]
fn a_run_may_have_its_own_unit() {
    let both = format!(
        "{DIRECT}[[run]]\nname = \"second\"\nunit = \"in Hg\"\ndirection = \"vacuum\"\nreadings = [[0, 14], [60, 13]]\nat_rest = \"-0.1 inHg\"\n"
    );
    let sheet = parse(&both).unwrap();
    let [pressure, vacuum] = sheet.runs.as_slice() else {
        panic!("{:?}", sheet.runs);
    };
    assert_eq!(
        (
            sheet.unit_of(pressure).symbol(),
            sheet.unit_of(vacuum).symbol()
        ),
        ("kPa", "inHg")
    );
    let first = vacuum.record.readings().unwrap().gauges_pa()[0];
    assert_eq!(
        Ok(first),
        GaugePressure::parse("-14 inHg").map(GaugePressure::pascals)
    );
    // It is written in its unit, and reads the same.
    let written = sheet.to_toml().unwrap();
    assert!(
        written.contains("unit = \"inHg\"") && written.contains("[0, -14]"),
        "{written}"
    );
    assert_eq!(parse(&written).unwrap(), sheet);
    // What is said of it is in its unit.
    let units: Vec<&str> = sheet
        .runs
        .iter()
        .map(|run| sheet.assumptions_of(run).pressure_unit.symbol())
        .collect();
    assert_eq!(units, ["kPa", "inHg"]);
    for (from, to, said) in [
        (
            "[0, 14]",
            "[0, 34]",
            "reading 1: -34 inHg is deeper than a perfect vacuum at an ambient of 29.91 inHg",
        ),
        (
            "direction = \"vacuum\"\n",
            "",
            "many dials in inHg show a vacuum",
        ),
        ("in Hg", "inhg", "write `inHg`"),
    ] {
        let error = parse(&both.replace(from, to)).unwrap_err().to_string();
        assert!(error.contains(said), "{error}");
    }
    refused(
        DIRECT,
        "48.0]",
        "-102.0]",
        "run[1].readings[1]",
        "readings",
        "-102 kPa is deeper",
    );
}

#[test]
fn keys_are_told_where_they_belong() {
    for (from, to, key, said) in [
        (
            "temperature = \"20 C\"",
            "temperature = \"20 C\"\ndivision = \"1 kPa\"",
            "ambient.division",
            "it belongs under [gauge]",
        ),
        (
            "name = \"one\"",
            "name = \"one\"\nstroke_every = \"1 s\"",
            "run[1].stroke_every",
            "it belongs under [plan]",
        ),
        (
            "temperature = ",
            "temp = ",
            "ambient.temp",
            "is `temperature` meant?",
        ),
        (
            "pressure = ",
            "Barometer = ",
            "ambient.Barometer",
            "is `pressure` meant?",
        ),
        (
            "readings = ",
            "readings_kpa = ",
            "run[1].readings_kpa",
            "is `readings` meant?",
        ),
    ] {
        let on = to.lines().last().unwrap();
        refused(DIRECT, from, to, key, on, said);
    }
}

#[test]
fn a_mark_of_byte_order_is_passed_over() {
    let marked = [
        "\u{feff}".as_bytes(),
        DIRECT
            .replace('\n', "\r\n")
            .replace(" = ", "\t=\t")
            .as_bytes(),
    ]
    .concat();
    assert_eq!(
        Sheet::from_bytes(&marked, "s", &NoTraces).unwrap(),
        parse(DIRECT).unwrap()
    );
    for blank in ["", "\n \n", "\u{feff}"] {
        assert!(matches!(
            parse(blank).unwrap_err().problem(),
            Problem::Blank
        ));
    }
}

proptest! {
    #[test]
    fn a_time_of_a_reading_is_its_seconds(first in 0_u32..100, more in 1_u32..5000, gauge in 1_u32..1000) {
        let second = first + more;
        let gauge = f64::from(gauge)/10.0;
        let clock = |t: u32| format!("\"{}:{:02}\"", t/60, t % 60);
        let numbers = with(&format!("readings = [[{first}, 99.9], [{second}, {gauge:?}]]")).unwrap();
        let comma = format!("\"{gauge:?}\"").replace('.', ",");
        let spelled = with(&format!("readings = [[{}, \"99,9\"], [{}, {comma}]]", clock(first), clock(second))).unwrap();
        prop_assert_eq!(&spelled, &numbers);
        prop_assert_eq!(parse(&spelled.to_toml().unwrap()).unwrap(), numbers);
    }

    #[test]
    fn a_fraction_is_written_so_that_it_reads_alike(above in 0_u32..97, below in 1_u32..97) {
        let fraction = FULL.replace("\"52.0 mm\"", &format!("\"2-{}/{below} in\"", above % below));
        let sheet = parse(&fraction).unwrap();
        prop_assert_eq!(parse(&sheet.to_toml().unwrap()).unwrap(), sheet);
    }

    /// Whatever stands in a line, the sheet is read or refused on one line.
    #[test]
    fn no_line_makes_it_panic(line in "[a-z_]{0,9} ?[=:]? ?[\"'\\[]{0,2}[-0-9.,:/ a-zA-Z\u{b0}\u{201c}]{0,14}[\"'\\]]{0,2}", place in 0_usize..16) {
        let mut lines: Vec<&str> = DIRECT.lines().collect();
        lines.insert(place.min(lines.len()), &line);
        if let Err(error) = parse(&lines.join("\n")) {
            prop_assert!(!error.to_string().contains('\n'), "{error}");
        }
    }
}
