//! Leak area, with an honest interval, from the pressure or vacuum test of a two-stroke crankcase.
//!
//! The modules are rooms on a ladder: each uses only those above it in this list.
#![forbid(unsafe_code)]
#![cfg_attr(
    test,
    allow(
        clippy::unwrap_used,
        clippy::expect_used,
        clippy::panic,
        clippy::indexing_slicing,
        clippy::unreachable,
        clippy::float_cmp
    )
)]

pub mod assess;
pub mod constants;
pub mod fit;
pub mod gas;
pub mod gauge;
pub mod leak;
pub mod limit;
pub mod measured;
mod numerics;
pub mod pump;
pub mod quantity;
pub mod record;
#[cfg(feature = "sheet")]
pub mod sheet;
pub mod vessel;
pub mod volume;
