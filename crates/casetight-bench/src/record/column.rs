//! How a foreign file names its columns, times, units and gaps.

use std::fmt;
use std::marker::PhantomData;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use casetight::quantity::{ParseQuantityError, TradeUnits, Unit};

/// A column by the name in the header, or by its place, counted from 1.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Column {
    /// Its place, from 1.
    Number(usize),
    /// Its name; capitals don't matter, nor space around it.
    Named(String),
}

impl fmt::Display for Column {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Number(number) => number.fmt(f),
            Self::Named(name) => f.write_str(name),
        }
    }
}

/// What the time column counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[non_exhaustive]
pub enum TimeUnit {
    /// s.
    #[default]
    #[serde(rename = "s")]
    Seconds,
    /// ms.
    #[serde(rename = "ms")]
    Milliseconds,
    /// us.
    #[serde(rename = "us")]
    Microseconds,
    /// min.
    #[serde(rename = "min")]
    Minutes,
    /// h.
    #[serde(rename = "h")]
    Hours,
    /// ISO 8601 date and time, such as 2024-05-01T12:34:56.789+02:00; the trace's seconds count from its first reading.
    #[serde(rename = "date")]
    Date,
}

impl TimeUnit {
    /// The units by the names that a profile has for them.
    pub const NAMES: [(&'static str, Self); 6] = [
        ("s", Self::Seconds),
        ("ms", Self::Milliseconds),
        ("us", Self::Microseconds),
        ("min", Self::Minutes),
        ("h", Self::Hours),
        ("date", Self::Date),
    ];

    /// A number of this unit in seconds; exact where a division is.
    pub(super) fn seconds(self, number: f64) -> f64 {
        match self {
            Self::Seconds | Self::Date => number,
            Self::Milliseconds => number / 1e3,
            Self::Microseconds => number / 1e6,
            Self::Minutes => number * 60.0,
            Self::Hours => number * 3600.0,
        }
    }
}

/// What the pressure column counts from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum PressureKind {
    /// Ambient pressure.
    #[default]
    Gauge,
    /// A perfect vacuum; the ambient pressure is subtracted.
    Absolute,
}

impl PressureKind {
    /// The kinds by the names that a profile has for them.
    pub const NAMES: [(&'static str, Self); 2] =
        [("gauge", Self::Gauge), ("absolute", Self::Absolute)];
}

/// What to do with readings of one time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum RepeatedTimes {
    /// Refuse the file: which reading is right, nobody knows.
    #[default]
    Error,
    /// Take their mean: a logger whose clock is coarser than its pace.
    Mean,
}

impl RepeatedTimes {
    /// The ways by the names that a profile has for them.
    pub const NAMES: [(&'static str, Self); 2] = [("error", Self::Error), ("mean", Self::Mean)];
}

/// What to do with a row that lacks a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum EmptyCells {
    /// Refuse the file.
    #[default]
    Error,
    /// Leave the row out: a sensor that dropped out.
    Skip,
}

impl EmptyCells {
    /// The ways by the names that a profile has for them.
    pub const NAMES: [(&'static str, Self); 2] = [("error", Self::Error), ("skip", Self::Skip)];
}

/// The unit of a column, as text in serde formats.
pub struct ColumnUnit<Q> {
    pub(super) unit: &'static Unit,
    quantity: PhantomData<fn() -> Q>,
}

impl<Q> ColumnUnit<Q> {
    /// The unit.
    #[must_use]
    pub fn unit(self) -> &'static Unit {
        self.unit
    }
}

impl<Q> Clone for ColumnUnit<Q> {
    fn clone(&self) -> Self {
        *self
    }
}

impl<Q> Copy for ColumnUnit<Q> {}

impl<Q> PartialEq for ColumnUnit<Q> {
    fn eq(&self, other: &Self) -> bool {
        self.unit == other.unit
    }
}

impl<Q> fmt::Debug for ColumnUnit<Q> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("ColumnUnit")
            .field(&self.unit.symbol())
            .finish()
    }
}

impl<Q: TradeUnits> FromStr for ColumnUnit<Q> {
    type Err = ParseQuantityError;

    fn from_str(spelling: &str) -> Result<Self, Self::Err> {
        Ok(Self {
            unit: Q::unit(spelling.trim())?,
            quantity: PhantomData,
        })
    }
}

impl<Q> Serialize for ColumnUnit<Q> {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.unit.symbol())
    }
}

impl<'de, Q: TradeUnits> Deserialize<'de> for ColumnUnit<Q> {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer)?
            .parse()
            .map_err(serde::de::Error::custom)
    }
}

impl<Q: TradeUnits> ColumnUnit<Q> {
    /// The SI unit of the quantity.
    #[must_use]
    pub fn si() -> Self {
        Self {
            unit: Q::UNITS.first().unwrap_or(&const { Unit::si("") }),
            quantity: PhantomData,
        }
    }
}
