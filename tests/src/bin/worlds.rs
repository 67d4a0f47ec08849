//! Benches on which the world differs from what their sheets tell, as a Markdown table.
//!
//! `worlds [RUNS] [SEED] [FAMILY...]`: 1000 runs a row, seed 1 and all families without.
#![allow(
    clippy::print_stdout,
    clippy::print_stderr,
    reason = "a study prints its table, and what it does not know"
)]

use std::process::ExitCode;

use casetight_tests::worlds::{Direction, Family, GaugeKind, Row, row};

fn main() -> ExitCode {
    let mut words = std::env::args().skip(1).peekable();
    let mut number = || words.next_if(|word| word.parse::<u64>().is_ok());
    let runs = number().and_then(|n| n.parse().ok()).unwrap_or(1000);
    let seed = number().and_then(|n| n.parse().ok()).unwrap_or(1);
    let mut families = Vec::new();
    for name in words {
        let Some(family) = Family::named(&name) else {
            let known: Vec<_> = Family::ALL.into_iter().map(Family::name).collect();
            eprintln!("no family {name}; there are: {}", known.join(", "));
            return ExitCode::FAILURE;
        };
        families.push(family);
    }
    if families.is_empty() {
        families.extend(Family::ALL);
    }
    println!("{}", Row::HEAD);
    for family in families {
        for direction in Direction::ALL {
            for gauge in GaugeKind::ALL {
                println!("{}", row(family, direction, gauge, runs, seed));
            }
        }
    }
    ExitCode::SUCCESS
}
