//! Leaks of several laws tested from several pressures: coverage of isolated areas, and false alarms of a comparison and of a
//! trend, as Markdown tables.
#![allow(clippy::print_stdout, reason = "a study prints its table")]

use casetight_tests::asked_for;
use casetight_tests::coverage::wilson;
use casetight_tests::pressures::{isolated, said_to_change, said_to_drift};

fn main() {
    let engines = asked_for(1000);
    println!(
        "| starts, kPa | leaking sites | hold the truth | 95 % of fraction |\n|---|---:|---:|---:|"
    );
    for (seed, (low, high)) in (1..).zip([(46.0, 50.0), (25.0, 60.0), (48.0, 48.1)]) {
        let held = isolated((1e3 * low, 1e3 * high), engines, seed);
        let (from, to) = wilson(held.held, held.of);
        let fraction = held.fraction();
        println!(
            "| {low} to {high} | {} | {fraction:.3} | {from:.3} to {to:.3} |",
            held.of
        );
    }
    println!(
        "\n| unchanged leak, tested from kPa | tests | said to have fallen | said to have grown |\n|---|---:|---:|---:|"
    );
    let say = |name: &str, (fell, grew): (f64, f64)| {
        println!(
            "| {name} | {engines} | {:.1} % | {:.1} % |",
            100.0 * fell,
            100.0 * grew
        );
    };
    for (before, after) in [(50e3, 25e3), (60e3, 30e3), (25e3, 50e3), (48e3, 48e3)] {
        let name = format!("{:.0}, then {:.0}", 1e-3 * before, 1e-3 * after);
        say(&name, said_to_change((before, after), engines, 11));
    }
    for starts in [[60e3, 53e3, 46e3, 39e3, 32e3, 25e3], [48e3; 6]] {
        let name = starts
            .map(|start| format!("{:.0}", 1e-3 * start))
            .join(", ");
        say(&name, said_to_drift(&starts, engines / 2, 12));
    }
}
