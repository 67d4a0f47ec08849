//! Coverage of isolated areas over simulated engines, and the runs that it takes to find the worst leak, as Markdown tables.
#![allow(clippy::print_stdout, reason = "a study prints its table")]

use casetight_tests::asked_for;
use casetight_tests::isolation::{Coverage, Design, Searches, coverage, searches};

fn main() {
    let engines = asked_for(1000);
    println!("{}", Coverage::HEAD);
    let mut all = Coverage::default();
    for (seed, design) in (1..).zip(Design::ALL) {
        let name = match design {
            Design::OneByOne => "one blank a run",
            Design::OneMore => "one blank more each run",
            Design::AtRandom => "blanks at random",
        };
        let of_design = coverage(design, engines, seed);
        println!("{}", of_design.rows(name));
        all.add(of_design);
    }
    println!("{}", all.rows("all three"));
    let (proposed, fixed) = searches(engines, 4);
    println!("\n{}", Searches::HEAD);
    println!("{}", proposed.row("as proposed"));
    println!("{}", fixed.row("one site after another"));
}
