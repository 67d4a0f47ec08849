//! Benches on which the world differs from what their sheets tell, and what the library makes of them.
//!
//! Each [`Family`] is one thing that a sheet does not mention: a warm engine, a hose that stretches, a zero that is off, a leak of no
//! usual law. [`Setup::draw`] draws an ordinary bench, [`Family::simulate`] changes one thing on it and reads the gauge, [`assess`]
//! writes the sheet that a technician would write, and [`Row`] counts what was said.
//!
//! All but [`assess`] and the verdicts that [`Row`] counts share no code with the library.

mod assessed;
mod family;
mod hose;
mod leak;
mod row;
mod setup;
mod told;
mod vessel;

pub use assessed::{Answer, Answered, Judged, LIMITS_OVER_TRUTH, assess, sheet_text, warnings};
pub use family::Family;
pub use hose::{Hose, gauge_at as gauge_with_hose_at};
pub use leak::{Change, Leak, SHARP_EDGED, Shape, discharge_coefficient};
pub use row::Row;
pub use setup::{Direction, GaugeKind, Setup};
pub use told::{Simulated, Told};
pub use vessel::{Creep, Vessel, Wall};

use crate::simulator::study;

/// One row of the table: so many runs of a family, all of one direction on one kind of gauge.
///
/// Run `n` of a seed stands on the same ordinary bench in every family, so that families can be held beside the control.
#[must_use]
pub fn row(family: Family, direction: Direction, gauge: GaugeKind, runs: u64, seed: u64) -> Row {
    let answers = study(seed, runs, |_, rng| {
        let setup = Setup::draw(direction, gauge, rng);
        let simulated = family.simulate(&setup, rng);
        let answer = assess(&simulated);
        (simulated.area_m2, answer)
    });
    Row::of(family, direction, gauge, &answers)
}

#[cfg(test)]
mod tests;
