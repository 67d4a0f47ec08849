//! Leak area, with an honest interval, from the pressure or vacuum test of a two-stroke crankcase.
//!
//! Readings of a falling needle, and the circumstances that they were taken in, give the area of the hole that would leak as much:
//!
//! ```
//! use casetight::fit::fit;
//! use casetight::gas::Gas;
//! use casetight::gauge::Gauge;
//! use casetight::measured::{Distribution, Evaluation, Measured};
//! use casetight::quantity::{AbsolutePressure, Pressure, TemperatureDrift, ThermodynamicTemperature, Volume};
//! use casetight::record::{Bench, Readings};
//! use casetight::vessel::Heat;
//! use uom::si::{pressure::pascal, thermodynamic_temperature::kelvin, volume::cubic_centimeter};
//!
//! let cm3 = |v| Volume::new::<cubic_centimeter>(v);
//! let bench = Bench {
//!     volume: Measured::new(cm3(250.0), cm3(5.0), Evaluation::TypeB(Distribution::Normal))?,
//!     ambient_pressure: Measured::exact(AbsolutePressure::from_pascals(101_325.0)?)?,
//!     temperature: Measured::exact(ThermodynamicTemperature::new::<kelvin>(293.15))?,
//!     drift_allowance: TemperatureDrift::ZERO,
//!     heat: Heat::default(),
//!     gauge: Gauge::digital(Pressure::new::<pascal>(100.0))?,
//!     gas: Gas::dry_air(),
//! };
//! let (times_s, gauges_pa) = ([0.0, 30.0, 60.0, 90.0], [48_300.0, 45_100.0, 42_300.0, 40_000.0]);
//! let readings = Readings::from_si(&times_s, &gauges_pa, bench.ambient_pressure.value())?;
//! let leak = fit(&readings, &bench, 0.95)?;
//! println!("{:.2e} m2, from {:.2e} to {:.2e}", leak.area.value, leak.area.low, leak.area.high);
//! # assert!(leak.area.low > 0.0 && (0.5e-9..1.5e-9).contains(&leak.area.value));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
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
