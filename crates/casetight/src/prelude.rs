//! What a first fit needs, in one `use`.
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
//! let readings = Readings::from_si(&[0.0, 30.0, 60.0], &[48_300.0, 45_100.0, 42_300.0], bench.ambient_pressure.value())?;
//! let leak = fit(&readings, &bench, 0.95)?;
//! assert!(leak.area.high < Area::parse("0.002 mm2")?);
//! # Ok::<(), casetight::Error>(())
//! ```

pub use crate::estimate::Estimate;
pub use crate::fit::{Fit, fit};
pub use crate::gas::Gas;
pub use crate::gauge::{AccuracyClass, Gauge};
pub use crate::limit::{Decision, Limit, Rule, Verdict, decide};
pub use crate::measured::{Distribution, Evaluation, IntoMeasured, Measured};
pub use crate::quantity::{
    AbsolutePressure, Area, GaugePressure, Length, Pressure, ReferenceConditions, TemperatureDrift,
    ThermodynamicTemperature, Time, TradeUnits, Volume, VolumeRate,
};
pub use crate::readings::{Bench, Effects, Readings};
pub use crate::vessel::{DecayLaw, Direction, Heat};
pub use crate::volume::{Engine, Piston, TestedVolume};
