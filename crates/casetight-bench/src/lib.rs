//! The bench around the leak: sheets, traces, plans, verdicts while the needle falls, and where it leaks.
//!
//! What one run's readings tell is `casetight`'s; here is the job around it: the session of one engine as a sheet states it
//! ([`sheet`], [`session`]), a logger's file ([`record`]), what to expect before pumping ([`plan`], [`pump`]), a verdict while the needle
//! falls ([`watch`]), many runs ([`batch`]), which place leaks and which blank to move next ([`isolate`], [`locate`]), whether the repair
//! worked ([`compare`]), and what the leak does to the running engine ([`running`], [`mixture`]).
//!
//! ```
//! use casetight_bench::session::Session;
//! use casetight_bench::sheet::{NoTraces, Sheet};
//!
//! let text = r#"
//! format = 1
//! [volume]
//! value = "250 cm3"
//! uncertainty = "10 cm3"
//! [ambient]
//! pressure = "1013 hPa"
//! temperature = "20 C"
//! [gauge]
//! unit = "psi"
//! division = "0.5 psi"
//! [[run]]
//! name = "all blanked"
//! readings = [[0, 7.0], [30, 6.5], [60, 6.0]]
//! "#;
//! let session = Session::assess(&Sheet::parse(text, "sheet.toml", &NoTraces)?)?;
//! assert_eq!(session.runs.len(), 1);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! The modules are rooms on a ladder: each uses only those above it in this list, and those of `casetight`.
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

pub mod printable;

pub mod record;

pub mod plausible;

pub mod pump;

pub mod plan;

pub mod running;

pub mod isolate;

pub mod narrow;

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

#[cfg(feature = "sheet")]
pub mod begin;

/// The README's code, compiled.
#[cfg(all(doctest, feature = "sheet"))]
#[doc = include_str!("../../../README.md")]
struct Readme;
