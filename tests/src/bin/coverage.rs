//! Coverage and bias of the effective area over simulated tests, as a Markdown table.
#![allow(clippy::print_stdout, reason = "a study prints its table")]

use casetight::vessel::Direction;
use casetight_tests::asked_for;
use casetight_tests::coverage::Coverage;
use casetight_tests::recovery::named;

fn main() {
    let runs = asked_for(2000);
    let (head, line) = Coverage::HEAD.split_once('\n').unwrap_or_default();
    println!("{head} of the bound, law unknown | of the bound, law known |\n{line}---:|---:|");
    for direction in [Direction::Pressure, Direction::Vacuum] {
        for (name, study) in named(direction) {
            let (coverage, ratios) = study.run_beside_least(runs, 1);
            let row = coverage.row(&format!("{direction}: {name}"));
            println!("{row} {:.2} | {:.2} |", ratios[0], ratios[1]);
        }
    }
}
