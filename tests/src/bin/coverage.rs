//! Coverage and bias of the effective area over simulated tests, as a Markdown table.
#![allow(clippy::print_stdout, reason = "a study prints its table")]

use casetight::vessel::Direction;
use casetight_tests::coverage::Coverage;
use casetight_tests::recovery::{dial, digital, drifting, isothermal};

fn main() {
    let runs = std::env::args()
        .nth(1)
        .and_then(|n| n.parse().ok())
        .unwrap_or(2000);
    println!("{}", Coverage::HEAD);
    for direction in [Direction::Pressure, Direction::Vacuum] {
        println!(
            "{}",
            isothermal(digital(), direction, runs, 1).row(&format!("{direction}, digital gauge"))
        );
        println!(
            "{}",
            isothermal(dial(), direction, runs, 2).row(&format!("{direction}, dial gauge"))
        );
        let drift = 0.3 / 60.0;
        println!(
            "{}",
            drifting(digital(), direction, drift, runs, 3)
                .row(&format!("{direction}, digital gauge, drift of 0.3 K/min"))
        );
    }
}
