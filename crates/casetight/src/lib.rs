//! Leak area, with an honest interval, from the pressure or vacuum test of a two-stroke crankcase.
//!
//! Readings of a falling needle, and the circumstances that they were taken in, give the area of the hole that would leak as much:
//!
//! ```
//! use casetight::prelude::*;
//!
//! let bench = Bench::new(
//!     Measured::parse("250 cm3", "+- 10 cm3")?,
//!     AbsolutePressure::parse("1013 hPa")?,
//!     ThermodynamicTemperature::parse("20 C")?,
//!     Gauge::digital(Pressure::parse("0.1 kPa")?)?,
//! )?;
//! let (times_s, gauges_pa) = ([0.0, 30.0, 60.0, 90.0], [48_300.0, 45_100.0, 42_300.0, 40_000.0]);
//! let readings = Readings::from_si(&times_s, &gauges_pa, bench.ambient_pressure.value())?;
//! let leak = fit(&readings, &bench, 0.95)?;
//! println!("{}", leak.area);
//! # assert!(leak.area.si().low > 0.0 && (0.5e-9..1.5e-9).contains(&leak.area.si().value));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! Quantities are those of [`uom`], which is handed on. The job around the leak, with sheets, plans, traces and comparisons, is the crate
//! `casetight-bench`.
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

pub mod quantity;

pub mod measured;

pub mod estimate;

pub mod constants;

pub mod gas;

pub mod leak;

pub mod volume;

pub mod vessel;

pub mod gauge;

pub mod caution;

pub mod readings;

pub mod fit;

pub mod doubt;

pub mod limit;

mod error;

pub mod prelude;

#[doc(hidden)]
pub mod below;

pub use error::Error;
pub use uom;
