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

mod numerics;

pub mod printable;

pub mod quantity;

pub mod measured;

pub mod constants;

pub mod gas;

pub mod leak;

pub mod volume;

pub mod vessel;

pub mod gauge;

pub mod caution;

pub mod record;

pub mod plausible;

pub mod fit;

pub mod doubt;

pub mod limit;

pub mod pump;

pub mod plan;

pub mod running;

pub mod isolate;

pub mod assess;

pub mod batch;

pub mod watch;

#[cfg(feature = "sheet")]
pub mod sheet;

#[cfg(feature = "sheet")]
pub mod session;

#[cfg(feature = "sheet")]
pub mod mixture;

#[cfg(feature = "sheet")]
pub mod locate;

pub mod compare;

/// The README's code, compiled.
#[cfg(all(doctest, feature = "sheet"))]
#[doc = include_str!("../../../README.md")]
struct Readme;
