//! What the ambient pressure is where a sheet states the altitude.

use uom::si::pressure::pascal;

use super::{DIRECT, parse, refused};
use crate::sheet::Sheet;

const STATED: &str = "pressure = \"1013 hPa\"\n";

fn sheet(ambient: &str) -> Sheet {
    parse(&DIRECT.replace(STATED, ambient)).unwrap()
}

/// Ambient pressure at the bench and its standard uncertainty [Pa].
fn here(ambient: &str) -> (f64, f64) {
    let pressure = sheet(ambient).ambient_pressure().unwrap();
    let u = pressure.standard_uncertainty().get::<pascal>();
    (pressure.value().pascals(), u)
}

/// Published: ISO 2533 (ICAO Doc 7488), geopotential altitudes: 101 325, 95 460.8, 89 874.6, 79 495.2 and 54 019.9 Pa; from memory, and by
/// an independent script of its formula. The first is by definition.
#[test]
fn an_altitude_alone_tells_the_pressure_within_the_weather() {
    for (meters, pascals) in [
        (0, 101_325.0),
        (500, 95_460.8),
        (1000, 89_874.6),
        (2000, 79_495.2),
        (5000, 54_019.9),
    ] {
        let (got, u) = here(&format!("altitude = \"{meters} m\"\n"));
        assert!((got / pascals - 1.0).abs() < 1e-6, "{meters}: {got}");
        // A column of air 10 K warmer than the standard's, by hand: at 1000 m 0.119 times 10/288, 370 Pa.
        assert!((1000.0..2600.0).contains(&u), "{meters}: {u}");
    }
    let (in_feet, _) = here("altitude = \"1000 ft\"\n");
    let (in_meters, _) = here("altitude = \"304.8 m\"\n");
    assert!((in_feet - in_meters).abs() < 1e-6);
    let (below, _) = here("altitude = \"-400 m\"\n");
    assert!((below / 106_223.0 - 1.0).abs() < 1e-3, "{below}");
}

#[test]
fn a_pressure_at_sea_level_is_carried_to_the_bench() {
    let (got, u) = here(
        "pressure = \"1020 hPa\"\npressure_at = \"sea level\"\naltitude = \"1000 m\"\naltitude_uncertainty = \"10 m\"\n",
    );
    assert!(
        (got - 102_000.0 * 89_874.6 / 101_325.0).abs() < 0.5,
        "{got}"
    );
    // By hand: 100 Pa of the report, 10 m of altitude at 10.7 Pa a meter, 370 Pa of the column.
    assert!(
        (u / 89.0_f64.hypot(107.0).hypot(372.0) - 1.0).abs() < 0.03,
        "{u}"
    );
    let at_bench = here("pressure = \"900 hPa\"\npressure_at = \"bench\"\naltitude = \"1000 m\"\n");
    assert_eq!(at_bench, (90_000.0, 100.0));
}

#[test]
fn what_an_altitude_can_not_be() {
    let refused =
        |to: &str, key: &str, on: &str, said: &str| refused(DIRECT, STATED, to, key, on, said);
    refused(
        "altitude = \"9000 m\"\n",
        "ambient.altitude",
        "9000",
        "-500 to 6000 m",
    );
    refused(
        "altitude = \"-700 m\"\n",
        "ambient.altitude",
        "-700",
        "-500 to 6000 m",
    );
    let at_sea = "pressure = \"1013 hPa\"\npressure_at = \"sea level\"\n";
    refused(
        at_sea,
        "ambient.altitude",
        "[ambient]",
        "write `altitude = \"350 m\"`",
    );
    refused(
        "altitude = \"5 m\"\npressure_at = \"sea level\"\n",
        "ambient.pressure_at",
        "pressure_at",
        "1013 hPa",
    );
    refused(
        "pressure = \"1013 hPa\"\npressure_at = \"home\"\n",
        "ambient.pressure_at",
        "home",
        "sea level",
    );
}

#[test]
fn a_sheet_with_an_altitude_is_written_as_it_was_read() {
    for ambient in [
        "altitude = \"350 m\"\n",
        "altitude = \"1200 ft\"\naltitude_uncertainty = \"+- 50 ft\"\n",
        "pressure = \"1019.5 hPa\"\npressure_at = \"sea level\"\naltitude = \"350 m\"\n",
    ] {
        let sheet = sheet(ambient);
        assert_eq!(
            parse(&sheet.to_toml().unwrap()).unwrap(),
            sheet,
            "{ambient}"
        );
    }
}
