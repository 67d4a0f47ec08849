//! Wrong verdicts and lengths of tests that are judged while they are held, as a Markdown table.
//!
//! `live [TESTS [DIAL_TESTS]]`: tests a row, 2000 without; a fit to rounded readings takes a thousand times as long as
//! another, so that the rows of a dial may have their own number.
#![allow(clippy::print_stdout, reason = "a study prints its table")]

use casetight::vessel::Direction;
use casetight_tests::live::{Row, logged, logged_with_all_unknown, read_by_eye};

fn main() {
    let argument = |n| std::env::args().nth(n).and_then(|n| n.parse().ok());
    let tests = argument(1).unwrap_or(2000);
    let dial_tests = argument(2).unwrap_or(tests);
    for direction in [Direction::Pressure, Direction::Vacuum] {
        println!("{direction}:\n\n{}", Row::HEAD);
        for (study, tests, seed) in [
            (logged(direction), tests, 1),
            (read_by_eye(direction), dial_tests, 2),
            (logged_with_all_unknown(direction), tests, 3),
        ] {
            for ratio in [0.5, 0.8, 0.99, 1.0, 1.01, 1.25, 2.0] {
                println!("{}", study.run(ratio, tests, seed));
            }
        }
        println!();
    }
}
