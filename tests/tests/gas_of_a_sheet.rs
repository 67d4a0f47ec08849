//! What a sheet's gas and barometer do to its runs, and what is said of them.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "test code"
)]

use casetight_bench::assess::{Note, Outcome};
use casetight_bench::plausible::Surprise;
use casetight_bench::session::Session;
use casetight_bench::sheet::{NoTraces, Sheet};

const DIRECT: &str = r#"format = 1
[volume]
value = "250 cm3"
uncertainty = "5 cm3"
[ambient]
pressure = "1013 hPa"
temperature = "20 C"
[gauge]
unit = "kPa"
resolution = "0.1 kPa"
[[run]]
name = "one"
readings = [[0, 48.0], [60, 45.0]]
"#;

const RUNS: &str = "[[run]]\nname = \"vacuum\"\nreadings = [[0, -48.0], [60, -45.0]]\n[[run]]\nname = \"stalled\"\nstalled = { strokes = 30, \
    stroke_volume = \"25 cm3\", over = \"30 s\", reached = \"-1 kPa\" }\n";

fn parse(text: &str) -> Sheet {
    Sheet::parse(text, "sheet.toml", &NoTraces).unwrap()
}

fn with(lines: &str) -> Sheet {
    let text = DIRECT.replace("[gauge]", &format!("{lines}\n[gauge]"));
    parse(&format!("{text}{RUNS}"))
}

/// The same readings and a gas of R/R' of the specific gas constant: at equal gamma the area is larger by sqrt(R'/R), by hand. Nitrogen
/// has R = 296.803 by CIAAW's 28.0134 g/mol, air 287.055: the area falls by sqrt(287.055/296.803) = 0.983441.
#[test]
fn the_area_goes_with_the_root_of_the_gas_constant() {
    let area = |lines: &str, run: usize| {
        let session = Session::assess(&with(lines)).unwrap();
        match &session.runs[run].assessment.outcome {
            Outcome::Fitted(fitted) => fitted.fit.area.si().value,
            other => panic!("{other:?}"),
        }
    };
    let nitrogen = "[gas]\nname = \"nitrogen\"";
    let ratio = area(nitrogen, 0) / area("", 0);
    // Heat settles a little faster or slower by the gas's heat capacity.
    assert!((ratio - 0.983_441).abs() < 2e-4, "{ratio}");
    // Under vacuum the very same.
    let bits = |lines| area(lines, 1).to_bits();
    assert_eq!(bits(nitrogen), bits(""));
    // CIPM-2007: 50 % at 20 °C makes R 0.44 % larger, and the area 0.2 % smaller.
    let humid = area("humidity = \"50 %\"", 1) / area("", 1);
    assert!(
        (humid - (287.055_f64 / 288.32).sqrt()).abs() < 3e-4,
        "{humid}"
    );
}

#[test]
fn another_gas_is_said_and_dry_air_is_not() {
    let said = |lines: &str| {
        let session = Session::assess(&with(lines)).unwrap();
        let gas = |note: &Note| match note {
            Note::Gas(gas) => Some(gas.to_string()),
            _ => None,
        };
        let runs = session.runs.iter();
        runs.map(|run| run.assessment.notes.iter().find_map(gas))
            .collect::<Vec<_>>()
    };
    assert_eq!(said(""), [None, None, None]);
    let argon = said("[gas]\nname = \"argon\"\n[limit]\nmin_hold = \"1 min\"");
    let first = argon[0].as_deref().unwrap();
    assert!(first.starts_with("The gas is argon, in which"), "{first}");
    assert!(
        first.ends_with("the limit on the needle is taken as one in argon"),
        "{first}"
    );
    assert_eq!(&argon[1..], [None, None]);
    assert!(said("humidity = \"60 %\"").iter().all(Option::is_some));
}

/// Of all runs the first says it. By hand for 48 kPa: at 101.325 and 95.461 kPa (standard atmosphere, 500 m) the flow of a hole.
#[test]
fn a_standard_barometer_is_noted_once() {
    let notes = |pressure: &str| {
        let text = format!("{DIRECT}{RUNS}").replace("1013 hPa", pressure);
        let session = Session::assess(&parse(&text)).unwrap();
        let larger = |note: &Note| match note {
            Note::Surprise {
                surprise: Surprise::Standard { larger, .. },
                ..
            } => Some(*larger),
            _ => None,
        };
        let each = session.runs.iter().flat_map(|run| &run.assessment.notes);
        each.filter_map(larger).collect::<Vec<_>>()
    };
    for pressure in [
        "1013.25 hPa",
        "101325 Pa",
        "29.92 inHg",
        "1 atm",
        "760 mmHg",
        "14.696 psi",
    ] {
        let found = notes(pressure);
        assert_eq!(found.len(), 1, "{pressure}: {found:?}");
        let flow = |ambient: f64| {
            let x: f64 = ambient / (ambient + 48e3);
            let psi = (3.5 * (x.powf(2.0 / 1.4) - x.powf(2.4 / 1.4))).sqrt();
            (ambient + 48e3) * psi
        };
        let want = flow(101_325.0) / flow(95_461.0) - 1.0;
        assert!((found[0] / want - 1.0).abs() < 3e-3, "{found:?} {want}");
    }
    for pressure in ["1013 hPa", "1013.5 hPa", "30 inHg", "954 hPa"] {
        assert!(notes(pressure).is_empty(), "{pressure}");
    }
}

/// The sheet of one run with other lines for its pressure.
fn with_ambient(lines: &str) -> Sheet {
    let text = format!("{DIRECT}{RUNS}");
    let stated = text.lines().find(|line| line.starts_with("pressure = "));
    parse(&text.replace(&format!("{}\n", stated.unwrap()), lines))
}

/// What the session says of the barometer.
fn said(ambient: &str) -> Option<Surprise> {
    let session = Session::assess(&with_ambient(ambient)).unwrap();
    let notes = session
        .runs
        .iter()
        .flat_map(|run| run.assessment.notes.clone());
    let surprises = notes.filter_map(|note| match note {
        Note::Surprise { surprise, .. } => Some(surprise),
        _ => None,
    });
    let mut surprises = surprises;
    surprises.next()
}

#[test]
fn a_barometer_that_contradicts_the_altitude_was_likely_reduced() {
    let Some(Surprise::Altitude {
        larger: Some(larger),
        ..
    }) = said("pressure = \"1013 hPa\"\naltitude = \"1000 m\"\n")
    else {
        panic!("no note")
    };
    // An orifice's area goes with 1/(p_u psi): by hand from 48 kPa, 149.3 and 137.9 kPa of absolute pressure, psi 0.649 and 0.664.
    assert!((0.03..0.09).contains(&larger), "{larger}");
    // Neither reduced nor the altitude's.
    let odd = said("pressure = \"700 hPa\"\naltitude = \"200 m\"\n");
    assert!(
        matches!(odd, Some(Surprise::Altitude { larger: None, .. })),
        "{odd:?}"
    );
    for agrees in [
        "pressure = \"905 hPa\"\naltitude = \"1000 m\"\n",
        "pressure = \"1013 hPa\"\npressure_at = \"sea level\"\naltitude = \"1000 m\"\n",
        "altitude = \"1000 m\"\n",
        // The standard atmosphere to the last digit, where it may well be.
        "pressure = \"1013.25 hPa\"\naltitude = \"20 m\"\n",
        "altitude = \"0 m\"\n",
    ] {
        assert_eq!(said(agrees), None, "{agrees}");
    }
    let standard = said("pressure = \"1013.25 hPa\"\n");
    let words = standard.unwrap().to_string();
    assert!(words.contains("altitude"), "{words}");
    let higher = said("pressure = \"1013.25 hPa\"\naltitude = \"300 m\"\n");
    assert!(
        matches!(higher, Some(Surprise::Standard { meters: 300.0, .. })),
        "{higher:?}"
    );
}
