//! The gas of a sheet's runs.

use super::{DIRECT, parse};
use crate::sheet::*;
use casetight::vessel::Direction;

const RUNS: &str = "[[run]]\nname = \"vacuum\"\nreadings = [[0, -48.0], [60, -45.0]]\n[[run]]\nname = \"stalled\"\nstalled = { strokes = 30, \
    stroke_volume = \"25 cm3\", over = \"30 s\", reached = \"-1 kPa\" }\n";

fn with(lines: &str) -> Sheet {
    let text = DIRECT.replace("[gauge]", &format!("{lines}\n[gauge]"));
    parse(&format!("{text}{RUNS}")).unwrap()
}

fn gases(sheet: &Sheet) -> Vec<&'static str> {
    let gas = |run: &Run| sheet.bench_for(run).unwrap().gas.name();
    sheet.runs.iter().map(gas).collect()
}

#[test]
fn what_is_pumped_in_goes_out_and_air_comes_in() {
    let plain = with("");
    assert_eq!(plain.gas, TestGas::Air);
    assert_eq!(gases(&plain), ["dry air"; 3]);
    let argon = with("[gas]\nname = \"argon\"");
    assert_eq!(gases(&argon), ["argon", "dry air", "dry air"]);
    let neon = with(
        "[gas]\nmolar_mass = \"20.18 g/mol\"\nheat_capacity_ratio = 1.667\nviscosity = \"31.4 uPa s\"",
    );
    assert_eq!(gases(&neon), ["given gas", "dry air", "dry air"]);
    let humid = with("humidity = \"60 %\"");
    assert_eq!(gases(&humid), ["humid air"; 3]);
    // A plan has each direction's own.
    for (sheet, other) in [(&argon, "argon"), (&humid, "humid air")] {
        assert_eq!(sheet.gas_in(Direction::Pressure).unwrap().name(), other);
        assert_eq!(sheet.plan().unwrap().len(), 2);
    }
    for sheet in [plain, argon, neon, humid] {
        assert_eq!(parse(&sheet.to_toml().unwrap()).unwrap(), sheet);
    }
}

/// By hand, with 2339 Pa of vapor at 20 °C (steam tables), an enhancement of 1.004 and molar masses of 28.9647 and 18.0153 g/mol: R moves by
/// 0.378 of the vapor's part, for 10 % of humidity by 0.378 2348/101300 0.1 = 0.000876, that is by 0.257 K of 293.15 K, beside the usual 1 K.
#[test]
fn an_open_humidity_is_an_open_temperature() {
    let spread = |lines: &str| {
        let sheet = with(lines);
        let bench = sheet.bench_for(&sheet.runs[0]).unwrap();
        bench.temperature.standard_uncertainty().value
    };
    assert_eq!(spread(""), 1.0);
    assert_eq!(
        spread("humidity = \"60 %\"\nhumidity_uncertainty = \"0 %\""),
        1.0
    );
    let open = spread("humidity = \"60 %\"\nhumidity_uncertainty = \"10 %\"");
    assert!((open - 1.0_f64.hypot(0.257)).abs() < 5e-4, "{open}");
    let usual = spread("humidity = \"60 %\"");
    assert!((usual - 1.0_f64.hypot(0.128)).abs() < 5e-4, "{usual}");
}
