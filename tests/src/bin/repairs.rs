//! Coverage of the ratio before/after a repair, false alarms, and coverage of a trend, as Markdown tables.
#![allow(clippy::print_stdout, reason = "a study prints its table")]

use casetight_tests::asked_for;
use casetight_tests::coverage::Coverage;
use casetight_tests::recovery::{Reader, dial, digital};
use casetight_tests::repairs::{Repairs, false_alarms, repairs, trends};

/// Holes that the hold of a test measures well \[m\].
const LEAK: (f64, f64) = (60e-6, 180e-6);
/// Holes after a repair, down to ones that the gauge can't tell from none.
const REPAIRED: (f64, f64) = (5e-6, 60e-6);

fn main() {
    let runs = asked_for(2000);
    println!("{}", Coverage::HEAD);
    say_repairs(runs);
    say_trends(runs);
    say_false_alarms(runs);
}

/// Tests before and after on one gauge and one volume, or on two of each.
fn study(reader: Reader, class: Option<f64>, shared: bool, after_m: (f64, f64)) -> Repairs {
    Repairs {
        reader,
        class,
        shared,
        told: shared,
        before_m: LEAK,
        after_m,
    }
}

fn say_repairs(runs: u64) {
    for (seed, (name, study)) in (1..).zip([
        (
            "one exact digital gauge, one volume",
            study(digital(), None, true, LEAK),
        ),
        (
            "one digital gauge of class 1.6, one volume",
            study(digital(), Some(1.6), true, LEAK),
        ),
        (
            "two digital gauges of class 1.6, two volumes",
            study(digital(), Some(1.6), false, LEAK),
        ),
        (
            "one dial of class 1.6, one volume",
            study(dial(), Some(1.6), true, LEAK),
        ),
        (
            "two dials of class 1.6, two volumes",
            study(dial(), Some(1.6), false, LEAK),
        ),
        (
            "one digital gauge of class 1.6, repaired to a hole of 5 to 60 um",
            study(digital(), Some(1.6), true, REPAIRED),
        ),
        (
            "one dial of class 1.6, repaired to a hole of 5 to 60 um",
            study(dial(), Some(1.6), true, REPAIRED),
        ),
    ]) {
        println!("{}", repairs(&study, runs, seed).row(name));
    }
}

fn say_trends(runs: u64) {
    for (name, scatter) in [
        ("no scatter", 0.0),
        ("a scatter of 5 %", 0.05),
        ("a scatter of 30 %", 0.3),
    ] {
        for (tests, first_m) in [(4, 60e-6), (8, 60e-6), (8, 6e-6)] {
            let row = trends(digital(), (tests, first_m), scatter, runs / 4, 2);
            let first = 1e6 * first_m;
            println!(
                "{}",
                row.row(&format!(
                    "trend of {tests} tests from a hole of {first:.0} um, {name}"
                ))
            );
        }
    }
}

fn say_false_alarms(runs: u64) {
    println!(
        "\n| unchanged leak | runs | said to have fallen | said to have grown |\n|---|---:|---:|---:|"
    );
    for (name, shared) in [
        ("one digital gauge of class 1.6, one volume", true),
        ("two of each", false),
    ] {
        let (fell, grew) = false_alarms(&study(digital(), Some(1.6), shared, LEAK), runs, 3);
        println!(
            "| {name} | {runs} | {:.1} % | {:.1} % |",
            100.0 * fell,
            100.0 * grew
        );
    }
}
