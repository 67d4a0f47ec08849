//! Odd readings in great number, and what was said of them, as a Markdown table: no fault may be in it.
//!
//! `odd [CASES]`: 100 000 without. Exits with 1 where there is a fault, and prints the sheet.
#![allow(clippy::print_stdout, reason = "a study prints its table")]

use std::process::ExitCode;

use casetight_tests::odd::{Tally, tally};

fn main() -> ExitCode {
    let cases = std::env::args()
        .nth(1)
        .and_then(|n| n.parse().ok())
        .unwrap_or(100_000);
    let tally = tally(cases);
    println!("{}", Tally::HEAD);
    println!("{tally}");
    for (fault, text) in tally.faults.iter().take(20) {
        println!("\n{fault}\n{text}");
    }
    if tally.faults.is_empty() {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    }
}
