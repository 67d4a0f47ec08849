//! scratch
use casetight::vessel::Direction;
use casetight_tests::recovery::*;
use casetight_tests::coverage::Coverage;
fn main() {
    let n = std::env::args().nth(1).and_then(|n| n.parse().ok()).unwrap_or(500);
    println!("{}", Coverage::HEAD);
    for d in [Direction::Pressure, Direction::Vacuum] {
        for (name, s) in named(d) { if name.contains("dial") {
            println!("{}", s.run(n, 1).row(&format!("{d} {name}")));
            let s = Study { heat: Exchange::Isothermal, ..s };
            println!("{}", s.run(n, 1).row(&format!("{d} {name} iso")));
        } }
        let mut r = digital(); r.instrument.noise_pa*=1.5;
            println!("{}", Study::isothermal(r, d).run(n, 1).row(&format!("{d} worse")));
    }
}
