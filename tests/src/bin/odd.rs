//! Odd readings in great number, and what was said of them, as a Markdown table: no fault may be in it.
//!
//! `odd [CASES [FROM]]`: 100 000 without, from the sheet of number 0. Exits with 1 where there is a fault. Each is printed with its
//! sheet as soon as it is found, beside how far the study is, on the error channel.
#![allow(
    clippy::print_stdout,
    clippy::print_stderr,
    reason = "a study prints its table, and how far it is"
)]

use std::process::ExitCode;

use casetight_tests::odd::Tally;

/// Sheets between two words of how far the study is.
const AT_ONCE: u32 = 1000;

fn main() -> ExitCode {
    let number = |place: usize| std::env::args().nth(place).and_then(|n| n.parse().ok());
    let cases: u32 = number(1).unwrap_or(100_000);
    let first: u32 = number(2).unwrap_or(0);
    let end = first.saturating_add(cases);
    let mut tally = Tally::default();
    let mut told = 0;
    for from in (first..end).step_by(AT_ONCE as usize) {
        let to = end.min(from.saturating_add(AT_ONCE));
        tally.assess(from..to);
        for (fault, text) in tally.faults.iter().skip(told) {
            eprintln!("\n{fault}\n{text}");
        }
        told = tally.faults.len();
        eprintln!("{to} of {end} sheets, faults: {told}");
    }
    println!("{}", Tally::HEAD);
    println!("{tally}");
    if tally.faults.is_empty() {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    }
}
