//! How often sound engines are told to hold, as a Markdown table: leaks of half their limit.
#![allow(clippy::print_stdout, reason = "a study prints its table")]

use casetight::vessel::Direction;
use casetight_tests::asked_for;
use casetight_tests::recovery::{Exchange, named};
use casetight_tests::sound::{Shares, shares};

fn main() {
    let runs = asked_for(2000);
    println!("{}", Shares::HEAD);
    for direction in [Direction::Pressure, Direction::Vacuum] {
        for (name, mut study) in named(direction) {
            if study.heat == Exchange::Drawn {
                study.heat = Exchange::Pumped;
            }
            println!(
                "{}",
                shares(&study, 0.5, runs, 1).row(&format!("{direction}: {name}"))
            );
        }
    }
}
