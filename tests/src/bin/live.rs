//! Wrong verdicts and lengths of tests that are judged while they are held, as a Markdown table.
#![allow(clippy::print_stdout, reason = "a study prints its table")]

use casetight::vessel::Direction;
use casetight_tests::live::{Row, logged, logged_with_all_unknown, read_by_eye};

fn main() {
    let tests = std::env::args()
        .nth(1)
        .and_then(|n| n.parse().ok())
        .unwrap_or(2000);
    for direction in [Direction::Pressure, Direction::Vacuum] {
        println!("{direction}\n\n{}", Row::HEAD);
        for (study, seed) in [
            (logged(direction), 1),
            (read_by_eye(direction), 2),
            (logged_with_all_unknown(direction), 3),
        ] {
            for ratio in [0.5, 0.8, 0.99, 1.0, 1.01, 1.25, 2.0] {
                println!("{}", study.run(ratio, tests, seed));
            }
        }
        println!();
    }
}
