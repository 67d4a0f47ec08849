//! The whole job on simulated engines, from the sheet's text on: test, verdict, repair, retest, record.
//! The simulator has its own flow law and integration.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "test code")]

use std::fmt::Write;

use casetight::estimate::Estimate;
use casetight::limit::Verdict;
use casetight::vessel::Direction;
use casetight_bench::compare::{Change, Repair, compare_sheets, trend_of_sheets};
use casetight_bench::isolate::{Place, Step};
use casetight_bench::locate::locate;
use casetight_bench::record::Site;
use casetight_bench::session::{NextStep, Session};
use casetight_bench::sheet::{NoTraces, Sheet};
use casetight_tests::simulator::{DRY_AIR_GAS_R, Instrument, Law, Thermal, Truth, study};
use rand::Rng;

const PSI: f64 = 6_894.757_293;

/// The engine that the sheet describes: 46 mm by 31 mm, both ratios, rig of 18 cm3. By hand:
/// pi/4 4.6^2 3.1 (1/0.42 + 1 + 1/6.1) + 18 = 200.6 cm3.
const VOLUME_M3: f64 = 200.6e-6;

struct Leak {
    hole_m: f64,
    hold_s: f64,
}

/// The readings of a dial of half-psi divisions, read to a quarter of one.
fn readings(leak: &Leak, rng: &mut impl Rng) -> String {
    let truth = Truth {
        law: Law::Orifice {
            cd_area_m2: 0.62 * std::f64::consts::PI * leak.hole_m.powi(2) / 4.0,
        },
        volume_m3: VOLUME_M3,
        ambient_pa: 101_325.0,
        wall_temperature_k: 293.15,
        gas_r: DRY_AIR_GAS_R,
        gamma: 1.4,
        start_gauge_pa: 7.0 * PSI,
        // Slow leaks: the gas keeps the wall's temperature.
        thermal: Thermal::Isothermal,
        wall_drift_k_per_s: 0.0,
    };
    let dial = Instrument {
        resolution_pa: 0.125 * PSI,
        noise_pa: 0.0125 * PSI,
        stopwatch_s: 0.15,
        ..Instrument::PERFECT
    };
    let times: Vec<f64> = (0..13).map(|n| leak.hold_s * f64::from(n) / 12.0).collect();
    let mut rows = String::new();
    for (time, gauge) in dial.read(|moments| truth.gauge_at(moments), &times, rng) {
        writeln!(rows, "  [{time}, {:.3}],", gauge / PSI).unwrap();
    }
    rows
}

fn sheet(date: &str, leak: &Leak, rng: &mut impl Rng) -> Sheet {
    let run = format!(
        "[[run]]\nname = \"pressure\"\npiston = \"bottom\"\nblanked = [\"exhaust blank\", \"intake blank\", \
         \"impulse fitting\"]\nreadings = [\n{}]\n",
        readings(leak, rng)
    );
    sheet_of(date, &run)
}

fn sheet_of(date: &str, runs: &str) -> Sheet {
    let text = format!(
        r#"format = 1
title = "Blower under test, {date}"
machine = "Blower under test"
date = {date}
[engine]
bore = "46 mm"
stroke = "31 mm"
rod = "55 mm"
primary_compression_ratio = "1.42"
compression_ratio = "7.1"
[rig]
volume = "18 cm3"
uncertainty = "1 cm3"
[ambient]
pressure = "1013.25 hPa"
temperature = "20 C"
[gauge]
unit = "psi"
division = "0.5 psi"
readable = "0.125 psi"
accuracy_class = 1.6
span = "15 psi"
[limit]
max_drop = "1 psi"
from = "7 psi"
over = "60 s"
{runs}"#
    );
    Sheet::parse(&text, "simulated.toml", &NoTraces).unwrap()
}

/// The ratio of a leak that fell, and what became of the repair.
#[track_caller]
fn fell(before: &Sheet, after: &Sheet, repair: Repair) -> Estimate<f64> {
    let compared = compare_sheets(before, after, None).unwrap();
    let comparison = &compared.pairs[0].comparison;
    assert_eq!((comparison.change, compared.repair), (Change::Fell, repair));
    comparison.ratio
}

#[test]
fn a_leaking_engine_is_found_repaired_and_told_so() {
    study(7, 1, |_, rng| {
        // It leaks, and the sheet says what to do.
        let leaking = Leak {
            hole_m: 110e-6,
            hold_s: 60.0,
        };
        let before = sheet("2026-03-02", &leaking, rng);
        let session = Session::assess(&before).unwrap();
        assert_eq!(session.worst(), Some(Verdict::Leaks));
        assert!(
            session
                .next
                .iter()
                .any(|step| matches!(step, NextStep::FindSite(_)) && step.pumps())
        );

        // A first repair finds one of two leaks: better, and not good.
        let half_repaired = Leak {
            hole_m: 70e-6,
            hold_s: 60.0,
        };
        let better = sheet("2026-03-04", &half_repaired, rng);
        let ratio = fell(&before, &better, Repair::StillLeaks);
        let truth = (70.0_f64 / 110.0).powi(2);
        assert!(ratio.low < truth && truth < ratio.high, "{ratio:?}");

        // The second one holds.
        let repaired = Leak {
            hole_m: 12e-6,
            hold_s: 300.0,
        };
        let after = sheet("2026-03-05", &repaired, rng);
        let ratio = fell(&before, &after, Repair::Repaired);
        let truth = (12.0_f64 / 110.0).powi(2);
        assert!(
            ratio.low < truth && truth < ratio.high && ratio.high < 2.0 * truth,
            "{ratio:?}"
        );
        assert_eq!(Session::assess(&after).unwrap().next, [NextStep::Done]);

        // The record reads back as it was written.
        let text = after.to_toml().unwrap();
        assert!(text.contains("date = \"2026-03-05\""));
        let again = Sheet::parse(&text, "again.toml", &NoTraces).unwrap();
        assert_eq!(again, after);
        let of_record = compare_sheets(&before, &again, None).unwrap();
        assert_eq!(of_record.pairs[0].comparison.ratio, ratio);
    });
}

#[test]
fn a_seal_that_wears_shows_over_the_months() {
    study(8, 1, |_, rng| {
        let days = [
            "2025-01-06",
            "2025-04-07",
            "2025-07-07",
            "2025-10-06",
            "2026-01-05",
        ];
        let sheets: Vec<Sheet> = (0..)
            .zip(days)
            .map(|(n, day)| {
                let leak = Leak {
                    hole_m: 20e-6 * 1.25_f64.powi(n),
                    hold_s: 240.0,
                };
                sheet(day, &leak, rng)
            })
            .collect();
        let trends = trend_of_sheets(&sheets, None).unwrap();
        let growth = trends[0].trend.growth.unwrap();
        // 1.25^2 in area in 91 days.
        let truth = 1.25_f64.powf(2.0 * 30.0 / 91.0);
        assert!(trends[0].grows(), "{growth:?}");
        assert!(
            growth.low < truth && truth < growth.high && growth.high < 1.3,
            "{growth:?} {truth}"
        );
    });
}

const FLYWHEEL: &str = "crank seal, flywheel side";
const DRIVE: &str = "crank seal, drive side";
/// Diameters of holes [m].
const LEAKS: [(&str, f64); 3] = [(FLYWHEEL, 90e-6), (DRIVE, 25e-6), ("base gasket", 18e-6)];
const SITE_LIST: &str = "[isolate]\nsites = [\"crank seal, flywheel side\", \"crank seal, drive side\", \"base gasket\"]\n";

/// The one hole that all open ones are together [m]: areas add, so the squares of diameters do.
fn hole(blanked: &[&str]) -> f64 {
    let open = LEAKS.iter().filter(|(site, _)| !blanked.contains(site));
    open.map(|(_, d)| d * d).sum::<f64>().sqrt()
}

/// A run in a sheet's words.
fn written(name: &str, blanked: &[&str], leak: &Leak, rng: &mut impl Rng) -> String {
    let always = ["exhaust blank", "intake blank", "impulse fitting"];
    let listed: Vec<String> = always
        .iter()
        .chain(blanked)
        .map(|s| format!("\"{s}\""))
        .collect();
    let readings = readings(leak, rng);
    format!(
        "[[run]]\nname = \"{name}\"\npiston = \"bottom\"\nsettled_for = \"20 s\"\nblanked = [{}]\nreadings = [\n{readings}]\n",
        listed.join(", ")
    )
}

/// Before the test: a minute on this dial tells a leak at the limit.
#[test]
fn the_plan_of_the_dial_tells_a_leak_at_the_limit() {
    let empty = sheet_of("2026-03-01", SITE_LIST);
    let plans = empty.plan().unwrap();
    let plan = plans
        .iter()
        .find(|p| p.direction == Direction::Pressure)
        .unwrap();
    let limit = plan.strictest().unwrap();
    let least = plan.detection.detected.unwrap().square_meters();
    assert!(least < limit.allowed.area_m2, "{least}");
}

/// Leaking run, search, repair, retest: the site is named without being told, and the comparison says repaired.
#[test]
fn from_the_leaking_engine_to_the_repaired_one() {
    study(9, 5, |_, rng| {
        let mut run = |name: &str, blanked: &[&str], hole_m: f64, hold_s: f64| {
            written(name, blanked, &Leak { hole_m, hold_s }, rng)
        };
        // The engine leaks; each seal is capped in turn.
        let runs = [
            run("all open", &[], hole(&[]), 60.0),
            run("drive side capped", &[DRIVE], hole(&[DRIVE]), 60.0),
            run(
                "flywheel side capped",
                &[FLYWHEEL],
                hole(&[FLYWHEEL]),
                300.0,
            ),
            run(
                "both capped",
                &[FLYWHEEL, DRIVE],
                hole(&[FLYWHEEL, DRIVE]),
                300.0,
            ),
        ]
        .concat();
        let before = sheet_of("2026-03-02", &format!("{SITE_LIST}{runs}"));
        let session = Session::assess(&before).unwrap();
        assert_eq!(session.worst(), Some(Verdict::Leaks));
        let located = locate(&before).unwrap();
        let found = &located.directions[0];
        assert_eq!(
            found.next.step,
            Step::Repair(Place::Site(Site::CrankSealFlywheelSide))
        );
        let seal = found.found.share(&Site::CrankSealFlywheelSide).unwrap();
        let truth = 0.62 * std::f64::consts::PI * 90e-6_f64.powi(2) / 4.0;
        assert!(seal.told_apart);
        // On a dial the law is not told, and each area's interval is some tenths wide.
        assert!(
            seal.area.si().low < truth && truth < seal.area.si().high,
            "{:?}",
            seal.area
        );

        // A new seal on the flywheel's side.
        let after = sheet_of(
            "2026-03-03",
            &run("all open", &[], hole(&[FLYWHEEL]), 300.0),
        );
        let compared = compare_sheets(&before, &after, None).unwrap();
        assert_eq!(compared.repair, Repair::Repaired);
        assert_eq!(compared.pairs[0].comparison.change, Change::Fell);
        assert_eq!(Session::assess(&after).unwrap().next, [NextStep::Done]);
    });
}
