//! Support of the test suite: simulated pressure and vacuum tests, coverage statistics and published tables.
//!
//! [`simulator`] never calls the library under test: it has its own flow laws and its own integration, so that a mistake
//! cannot cancel itself. [`recovery`] brings the two together. A simulation or a table that fails is a broken test, and says so by a panic.
#![forbid(unsafe_code)]
#![allow(
    clippy::panic,
    clippy::unwrap_used,
    clippy::missing_panics_doc,
    reason = "a test's support reports a broken simulation or table by failing the test"
)]
#![cfg_attr(
    test,
    allow(
        clippy::expect_used,
        clippy::indexing_slicing,
        clippy::unreachable,
        clippy::float_cmp
    )
)]

pub mod clean_room;
pub mod coverage;
pub mod fuzz;
pub mod isolation;
pub mod live;
pub mod odd;
pub mod open_data;
pub mod pressures;
pub mod recovery;
pub mod repairs;
pub mod settled;
pub mod simulator;
pub mod sound;
pub mod table;
pub mod validation;
pub mod worked;
pub mod worlds;

/// How many runs a study is asked for, as its first argument; else the usual.
#[must_use]
pub fn asked_for<N: std::str::FromStr>(usual: N) -> N {
    let first = std::env::args().nth(1);
    first.and_then(|n| n.parse().ok()).unwrap_or(usual)
}
