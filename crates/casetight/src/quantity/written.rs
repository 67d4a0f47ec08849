//! Quantities in and out of serde formats, always as text with the unit.
//!
//! Whatever unit of [`TradeUnits`] is read, the SI unit is written, with the digits that parse back to the same bits.
//! The newtypes of this crate do so on their own; a `uom` quantity does with this module, or inside [`Written`]. A bare
//! number is refused, except for a ratio, which has no unit.
//!
//! # Example
//! ```
//! use casetight::quantity::{GaugePressure, Length, Volume, Written};
//! use serde::{Deserialize, Serialize};
//!
//! #[derive(Serialize, Deserialize)]
//! struct Rig {
//!     #[serde(with = "casetight::quantity::written")]
//!     bore: Length,
//!     volume: Option<Written<Volume>>,
//!     reading: GaugePressure,
//! }
//!
//! let rig: Rig = serde_json::from_str(r#"{"bore": "52 mm", "volume": "30 cc", "reading": "0.5 bar"}"#)?;
//! assert_eq!(
//!     serde_json::to_string(&rig)?,
//!     r#"{"bore":"0.052 m","volume":"0.00003 m3","reading":"50000 Pa"}"#
//! );
//! # Ok::<(), serde_json::Error>(())
//! ```

use core::fmt;
use core::marker::PhantomData;

use serde::{
    Deserialize, Deserializer, Serialize, Serializer,
    de::{Error as _, Visitor},
    ser::Error as _,
};

use super::unit::joined;
use super::{
    AbsolutePressure, GaugePressure, ReferenceConditions, SonicConductance, Stretch,
    TemperatureDrift, Throughput, TradeUnits,
};

/// Writes a quantity as text in its SI unit; for `#[serde(with = ...)]`.
///
/// # Errors
/// Those of the serializer, and one where the quantity has a value that it can't be read with, such as NaN.
pub fn serialize<Q: TradeUnits, S: Serializer>(
    quantity: &Q,
    serializer: S,
) -> Result<S::Ok, S::Error> {
    Q::from_si_value(quantity.si_value()).map_err(S::Error::custom)?;
    serializer.serialize_str(&quantity.written())
}

/// Reads a quantity from text with its unit; for `#[serde(with = ...)]`.
///
/// # Errors
/// Those of the deserializer, and the [`ParseQuantityError`](super::ParseQuantityError) in words.
pub fn deserialize<'de, Q: TradeUnits, D: Deserializer<'de>>(
    deserializer: D,
) -> Result<Q, D::Error> {
    // Only where a bare number may stand does the format have to say which of the two it holds.
    if Q::unit("").is_ok() {
        deserializer.deserialize_any(TextVisitor(PhantomData))
    } else {
        deserializer.deserialize_str(TextVisitor(PhantomData))
    }
}

struct TextVisitor<Q>(PhantomData<Q>);

impl<Q: TradeUnits> Visitor<'_> for TextVisitor<Q> {
    type Value = Q;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} as text with its unit: ", Q::DIMENSION)?;
        for (i, unit) in Q::UNITS.iter().enumerate() {
            let comma = if i == 0 { "" } else { ", " };
            write!(f, "{comma}\"{}\"", joined("...", unit.symbol(), ""))?;
        }
        Ok(())
    }

    fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<Q, E> {
        Q::parse(text).map_err(E::custom)
    }

    fn visit_f64<E: serde::de::Error>(self, value: f64) -> Result<Q, E> {
        match Q::unit("") {
            Ok(_) => Q::from_value_in(value, "").map_err(E::custom),
            Err(_) => Err(E::invalid_type(serde::de::Unexpected::Float(value), &self)),
        }
    }

    fn visit_i64<E: serde::de::Error>(self, value: i64) -> Result<Q, E> {
        self.visit_f64(value as f64)
    }

    fn visit_u64<E: serde::de::Error>(self, value: u64) -> Result<Q, E> {
        self.visit_f64(value as f64)
    }
}

/// A quantity that serde reads and writes as text with its unit, wherever a type is wanted: in an `Option`, in a list.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Written<Q>(pub Q);

impl<Q: TradeUnits> Serialize for Written<Q> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serialize(&self.0, serializer)
    }
}

impl<'de, Q: TradeUnits> Deserialize<'de> for Written<Q> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserialize(deserializer).map(Self)
    }
}

macro_rules! written_newtype {
    ($($quantity:ty),*) => {$(
        impl Serialize for $quantity {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serialize(self, serializer)
            }
        }

        impl<'de> Deserialize<'de> for $quantity {
            fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                deserialize(deserializer)
            }
        }
    )*};
}

written_newtype!(
    AbsolutePressure,
    GaugePressure,
    SonicConductance,
    Stretch,
    TemperatureDrift,
    Throughput
);

impl Serialize for ReferenceConditions {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.written())
    }
}

impl<'de> Deserialize<'de> for ReferenceConditions {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        text.parse().map_err(D::Error::custom)
    }
}
