//! `[gas]`: what is pumped in.

use super::document::{Item, Table};
use super::error::{Problem, SheetError};
use super::keys::declare::{table, together};
use super::keys::entry::Value;
use super::keys::form::{Form, Number, Positive, ReadForm, needed};
use super::keys::keyed::{Together, TogetherFrom};
use super::keys::rule::Optional;
use super::keys::stated::quoted;
use casetight::gas::{Gas, GasError};
use casetight::quantity::{DynamicViscosity, MolarMass, Unit};

/// The gas that the case is pumped up with. Under vacuum it does not count: what leaks in, and what the case held before, is air.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum TestGas {
    /// The ambient air, as humid as it is.
    #[default]
    Air,
    /// A gas of [`Gas::known`].
    Named(Gas),
    /// Any other, by what is known of it.
    Given(GivenGas),
}

/// A gas by what is known of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GivenGas {
    /// Molar mass.
    pub molar_mass: MolarMass,
    /// Ratio of heat capacities.
    pub heat_capacity_ratio: f64,
    /// Viscosity at the temperature of the test.
    pub viscosity: DynamicViscosity,
}

impl GivenGas {
    /// The gas.
    ///
    /// # Errors
    /// As [`Gas::given`].
    pub fn gas(&self) -> Result<Gas, GasError> {
        Gas::given(self.molar_mass, self.heat_capacity_ratio, self.viscosity)
    }
}

table! {
    /// The gas that is pumped in, where it is not the air around. Runs under vacuum are of that air all the same: it is what leaks in.
    #[derive(Default)]
    pub(super) struct GasKeys, before one {
        /// Its name; this, or the three keys below.
        name: Option<Gas> = Optional(AGas), else "the air around, as humid as `[ambient]` says";
        /// Of another gas: its molar mass.
        molar_mass: Option<MolarMass> = Optional(Positive), beside heat_capacity_ratio "1.4", beside viscosity "18 uPa s";
        /// Of another gas: its ratio of heat capacities cp/cv as an ideal gas, 1.01 to 1.67.
        heat_capacity_ratio: Option<f64> = Optional(Number), beside molar_mass "29 g/mol", beside viscosity "18 uPa s";
        /// Of another gas: its viscosity at the temperature of the test.
        viscosity: Option<DynamicViscosity> = Optional(Positive), beside molar_mass "29 g/mol", beside heat_capacity_ratio "1.4";
    }
}

const OWN: &[&str] = &["molar_mass", "heat_capacity_ratio", "viscosity"];

/// A gas has a name that is known, or numbers of its own.
fn one(table: &Table<'_>) -> Result<(), SheetError> {
    match OWN.iter().find(|key| table.has(key)) {
        Some(key) if table.has("name") => {
            let other = "name";
            let advice = "a gas with a name has its own";
            Err(table.error_at(key, Problem::Excludes { other, advice }))
        }
        _ => Ok(()),
    }
}

/// A gas by its name.
struct AGas;

needed!(AGas => Gas);

impl Form<Gas> for AGas {
    fn value(&self) -> Value {
        Value::Words(Gas::known().iter().map(Gas::name).collect())
    }

    fn write(&self, gas: &Gas) -> String {
        quoted(gas.name())
    }
}

impl<C> ReadForm<Gas, C> for AGas {
    fn read(&self, item: &Item<'_>, _: &C) -> Result<Gas, SheetError> {
        item.word(&Gas::known().map(|gas| (gas.name(), gas)))
    }
}

impl Together for TestGas {
    type Keys = GasKeys;

    fn keys(&self, _: &'static Unit) -> Result<GasKeys, &'static str> {
        Ok(match *self {
            Self::Air => GasKeys::default(),
            Self::Named(gas) if Gas::known().contains(&gas) => GasKeys {
                name: Some(gas),
                ..GasKeys::default()
            },
            Self::Named(_) => return Err("a gas that is not known by its name"),
            Self::Given(given) => GasKeys {
                name: None,
                molar_mass: Some(given.molar_mass),
                heat_capacity_ratio: Some(given.heat_capacity_ratio),
                viscosity: Some(given.viscosity),
            },
        })
    }
}

impl<C> TogetherFrom<C> for TestGas {
    fn of(keys: GasKeys, table: &Table<'_>, _: &C) -> Result<Self, SheetError> {
        let (Some(molar_mass), Some(heat_capacity_ratio), Some(viscosity)) =
            (keys.molar_mass, keys.heat_capacity_ratio, keys.viscosity)
        else {
            return Ok(keys.name.map_or(Self::Air, Self::Named));
        };
        let given = GivenGas {
            molar_mass,
            heat_capacity_ratio,
            viscosity,
        };
        match given.gas() {
            Ok(_) => Ok(Self::Given(given)),
            Err(error) => {
                let key = match error {
                    GasError::HeatCapacityRatio { .. } => "heat_capacity_ratio",
                    GasError::Viscosity { .. } => "viscosity",
                    _ => "molar_mass",
                };
                Err(table.error_at(key, error))
            }
        }
    }
}

together!(TestGas);
