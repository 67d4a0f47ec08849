//! What a case was filled with.

use crate::sheet::document::{Item, Table};
use crate::sheet::error::SheetError;
use crate::sheet::keys::declare::{table, together};
use crate::sheet::keys::entry::Value;
use crate::sheet::keys::form::{Form, ReadForm, needed};
use crate::sheet::keys::keyed::{Together, TogetherFrom};
use crate::sheet::keys::rule::Optional;
use crate::sheet::keys::valued::Unstated::{LastDigit, Usual};
use crate::sheet::keys::valued::Valued;
use crate::sheet::usual::TEMPERATURE_UNCERTAINTY;
use casetight::measured::Measured;
use casetight::quantity::{MassDensity, ThermodynamicTemperature, Unit};

/// What a case was filled with.
#[derive(Debug, Clone, PartialEq)]
pub enum FillLiquid {
    /// Water of a temperature, that of the surroundings where it is not stated.
    Water {
        /// The water's temperature.
        temperature: Option<Measured<ThermodynamicTemperature>>,
    },
    /// A liquid of a density.
    OfDensity(Measured<MassDensity>),
}

table! {
    /// The liquid.
    pub(in crate::sheet) struct LiquidKeys, before one {
        /// A liquid whose density is known; this or `density`.
        liquid: Option<Known> = Optional(ByName);
        /// Of the water.
        temperature: Option<Measured<ThermodynamicTemperature>> = Optional(Valued(Usual(TEMPERATURE_UNCERTAINTY))), like "20 C", else "that in `[ambient]`", beside liquid "water";
        /// Density of another liquid.
        density: Option<Measured<MassDensity>> = Optional(Valued(LastDigit)), like "0.85 g/cm3";
    }
}

/// A liquid whose density is known.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Known;

struct ByName;

needed!(ByName => Known);

impl Form<Known> for ByName {
    fn value(&self) -> Value {
        Value::Words(vec!["water"])
    }

    fn write(&self, Known: &Known) -> String {
        "\"water\"".to_owned()
    }
}

impl<C> ReadForm<Known, C> for ByName {
    fn read(&self, item: &Item<'_>, _: &C) -> Result<Known, SheetError> {
        if item.text("the liquid")?.eq_ignore_ascii_case("water") {
            return Ok(Known);
        }
        Err(item.outside(
            "the liquids known by name, which is \"water\"; of another state its `density`",
        ))
    }
}

fn one(table: &Table<'_>) -> Result<(), SheetError> {
    const KEYS: &[&str] = &["liquid", "density"];
    let advice = "write `liquid = \"water\"`, whose density is known, or another liquid's density";
    table.one_of(KEYS, advice).map(drop)
}

impl Together for FillLiquid {
    type Keys = LiquidKeys;

    fn keys(&self, _: &'static Unit) -> Result<LiquidKeys, &'static str> {
        Ok(match self.clone() {
            Self::Water { temperature } => LiquidKeys {
                liquid: Some(Known),
                temperature,
                density: None,
            },
            Self::OfDensity(density) => LiquidKeys {
                liquid: None,
                temperature: None,
                density: Some(density),
            },
        })
    }
}

impl<C> TogetherFrom<C> for FillLiquid {
    fn of(keys: LiquidKeys, _: &Table<'_>, _: &C) -> Result<Self, SheetError> {
        Ok(match keys.density {
            Some(density) => Self::OfDensity(density),
            None => Self::Water {
                temperature: keys.temperature,
            },
        })
    }
}

together!(FillLiquid);
