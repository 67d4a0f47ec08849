//! The study `worlds` in small: benches on which the world differs from what their sheets tell. Seeded, so that it either passes always
//! or never; the study in large is the program `worlds`.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "test code"
)]

mod sources;

use std::fs;
use std::path::Path;

use casetight_tests::simulator::run_rng;
use casetight_tests::worlds::{
    Answer, Creep, Direction, Family, GaugeKind, LIMITS_OVER_TRUTH, Leak, Row, Setup, assess, row,
};

use sources::ROOT;

const SEED: u64 = 20;

fn rows(family: Family, runs: u64) -> Vec<Row> {
    let mut rows = Vec::new();
    for direction in Direction::ALL {
        for gauge in GaugeKind::ALL {
            rows.push(row(family, direction, gauge, runs, SEED));
        }
    }
    rows
}

/// Where nothing differs from what the sheet takes for granted, 95 of 100 intervals hold the truth, within what the number of runs tells,
/// no sheet is refused and hardly a verdict is wrong.
#[test]
fn a_bench_as_told_is_covered() {
    for row in rows(Family::AsTold, 100) {
        let coverage = row.coverage.unwrap();
        assert_eq!(row.refused, 0, "{row}");
        assert!(
            (coverage.wilson_low..=coverage.wilson_high).contains(&0.95),
            "{row}"
        );
        assert!(row.wrong() <= 0.01, "{row}");
        assert!(row.meets_the_bar());
    }
}

/// The study can fail: of a dial whose readings remember those before, which no sheet here mentions, far fewer intervals hold the area than
/// should. Whatever happens to agree among such readings, hardly one of them is called misread, and hardly a verdict is wrong.
#[test]
fn a_world_that_no_sheet_allows_for_is_found_out() {
    let mut rows = rows(Family::Correlated, 100);
    rows.retain(|row| row.gauge == GaugeKind::Dial);
    for row in &rows {
        let coverage = row.coverage.unwrap();
        assert!(coverage.wilson_high < 0.85, "{row}");
        let misread = row.warnings.get("misread").copied().unwrap_or(0);
        assert!(misread <= 2, "{row}");
    }
    // 0.075 where a verdict takes the scatter for what it seems.
    let wrong = rows.iter().map(Row::wrong).sum::<f64>() / rows.len() as f64;
    assert!(wrong <= 0.04, "{wrong}");
}

/// Of a leak whose film opens or closes on the way, read finely, every run is told to be none of one steady leak, and no verdict is
/// wrong.
#[test]
fn a_film_that_opens_or_closes_is_told_of() {
    for row in rows(Family::Film, 25) {
        if row.gauge == GaugeKind::Digital {
            assert_eq!(
                (row.warned, row.wrong_holds, row.wrong_leaks),
                (row.runs, 0, 0),
                "{row}"
            );
        }
    }
}

/// Self-consistency: a rigid case that neither leaks nor settles stands, and its sheet tells of no leak beyond what a reading's step hides;
/// one whose rubber creeps falls by gamma times the growth, and back by what heat restores: in the end by the growth of 161 kPa.
#[test]
fn a_case_that_creeps_falls_without_a_leak() {
    let mut rng = run_rng(SEED, 0);
    let mut setup = Setup::draw(Direction::Pressure, GaugeKind::Digital, &mut rng).with_start(60e3);
    let vessel = &mut setup.vessel;
    vessel.leak = Leak::hole(0.0);
    vessel.start_excess_k = 0.0;
    vessel.wall.drift_k_per_s = 0.0;
    assert!((vessel.gauge_at(&[300.0])[0] - 60e3).abs() < 1e-3);
    vessel.creep = Some(Creep {
        per_pa: 0.005 / 50e3,
        time_s: 20.0,
    });
    let end = vessel.gauge_at(&[1000.0])[0];
    let kept = (vessel.ambient_pa + end) * (1.0 + 0.005 / 50e3 * end);
    assert!((kept - vessel.ambient_pa - 60e3).abs() < 1e-3, "{end}");
    let mut simulated = Family::Plain.simulate(&setup, &mut rng);
    // Judged by a limit of 0.01 mm2, for there is no true area to judge by.
    simulated.area_m2 = (1e-8 / LIMITS_OVER_TRUTH.0, 1e-8 / LIMITS_OVER_TRUTH.1);
    let Answer::Answered(said) = assess(&simulated) else {
        panic!("refused");
    };
    assert!(said.high > 0.0 && said.high < 1e-8, "{said:?}");
}

/// What simulates knows nothing of what is tested: of the study's files only those that write sheets and count verdicts name the library.
#[test]
fn the_simulations_share_no_code_with_the_library() {
    let folder = Path::new(ROOT).join("tests/src/worlds");
    let mut free = Vec::new();
    for entry in fs::read_dir(&folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if !path.is_file() || ["assessed.rs", "row.rs"].contains(&name.as_str()) {
            continue;
        }
        let text = fs::read_to_string(&path).unwrap();
        let named = ["casetight::", "casetight_bench", "casetight_report"];
        assert!(named.iter().all(|of| !text.contains(of)), "{name}");
        free.push(name);
    }
    free.sort();
    let simulating = [
        "family.rs",
        "hose.rs",
        "leak.rs",
        "setup.rs",
        "told.rs",
        "vessel.rs",
    ];
    assert_eq!(free, simulating);
    let simulator = fs::read_to_string(Path::new(ROOT).join("tests/src/simulator.rs")).unwrap();
    assert!(!simulator.contains("use casetight::"));
}
