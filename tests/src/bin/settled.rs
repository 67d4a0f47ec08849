//! How often the fit of a fast hole on settled gas misses the best curve, as a Markdown table.
#![allow(clippy::print_stdout, reason = "a study prints its table")]

use casetight_tests::asked_for;
use casetight_tests::settled::{Tests, settled};

fn main() {
    let runs = asked_for(1500);
    println!(
        "| falls to a tenth in, s | settled for, s | noise, Pa | runs | missed the best curve | area off by 10 % | interval holds the truth |\n\
         |---|---:|---:|---:|---:|---:|---:|"
    );
    for (seed, (falls_in_s, settled_for_s, gauge_pa)) in (1..).zip([
        ((10.0, 20.0), 10.0, (100.0, 60.0)),
        ((10.0, 20.0), 5.0, (10.0, 10.0)),
        ((10.0, 20.0), 10.0, (10.0, 10.0)),
        ((10.0, 20.0), 30.0, (10.0, 10.0)),
        ((2.0, 10.0), 10.0, (10.0, 10.0)),
        ((10.0, 20.0), 10.0, (1.0, 2.0)),
        ((2.0, 10.0), 10.0, (1.0, 2.0)),
    ]) {
        let tests = Tests {
            falls_in_s,
            settled_for_s,
            gauge_pa,
        };
        let fits = settled(&tests, runs, seed);
        let count = |of: &dyn Fn(&[f64; 3], f64) -> bool| {
            fits.iter().filter(|fit| of(&fit.area, fit.truth)).count()
        };
        println!(
            "| {} to {} | {settled_for_s} | {} | {runs} | {} | {} | {:.3} |",
            falls_in_s.0,
            falls_in_s.1,
            gauge_pa.1,
            fits.iter().filter(|fit| fit.missed()).count(),
            count(&|[value, ..], truth| (value / truth).ln().abs() > 0.1),
            count(&|[_, low, high], truth| *low <= truth && truth <= *high) as f64 / runs as f64
        );
    }
}
