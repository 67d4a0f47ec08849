//! `[profiles.NAME]`: how a foreign logger's file is read. Its keys stand with [`ReadingProfile`].

use super::document::{Item, Table};
use super::error::SheetError;
use super::keys::entry::{Entry, Value};
use super::keys::form::{
    AColumn, Characters, Count, Form, Mark, Number, ReadForm, Truth, Word, needed,
};
use super::keys::keyed::{FromKeys, Key, KeyRule, Keyed, ReadKey};
use super::keys::rule::{Optional, Usual};
use super::keys::stated::quoted;
use super::keys::writer::Writer;
use crate::record::profile::reading_profile;
use crate::record::{
    Column, ColumnUnit, EmptyCells, PressureKind, ReadingProfile, RepeatedTimes, TextEncoding,
    TimeUnit,
};
use casetight::quantity::{Pressure, ThermodynamicTemperature, TradeUnits};

/// The unit of a column, and what it is of.
struct AUnit(&'static str);

needed!(AUnit => ColumnUnit<Q>, for [Q: TradeUnits]);

impl<Q: TradeUnits> Form<ColumnUnit<Q>> for AUnit {
    fn value(&self) -> Value {
        Value::Text
    }

    fn write(&self, unit: &ColumnUnit<Q>) -> String {
        quoted(unit.unit().symbol())
    }
}

impl<Q: TradeUnits, C> ReadForm<ColumnUnit<Q>, C> for AUnit {
    fn read(&self, item: &Item<'_>, _: &C) -> Result<ColumnUnit<Q>, SheetError> {
        item.of(item.text(self.0)?.parse())
    }
}

macro_rules! read_and_written {
    ($($(#[doc = $doc:literal])+ $key:ident: $type:ty = $form:expr, [$($usual:tt)+];)+) => {
        impl Keyed for ReadingProfile {
            const WHAT: &'static [&'static str] = &["How a foreign logger's files are read; as many as there are."];

            fn names(names: &mut Vec<&'static str>) {
                names.extend([$(stringify!($key)),+]);
            }

            fn entries() -> Vec<Entry> {
                let mut entries = Vec::new();
                $(entries.extend(KeyRule::<$type>::entries(
                    &read_and_written!(@rule $form, $($usual)+),
                    &read_and_written!(@key $key, [$($usual)+] $($doc)+),
                ));)+
                entries
            }

            fn write(&self, out: &mut Writer) {
                $(KeyRule::<$type>::write(
                    &read_and_written!(@rule $form, $($usual)+),
                    &read_and_written!(@key $key, [$($usual)+] $($doc)+),
                    &self.$key,
                    out,
                );)+
            }
        }

        impl<C> FromKeys<C> for ReadingProfile {
            fn read(table: &Table<'_>, known: &C) -> Result<Self, SheetError> {
                $(read_and_written!(@key $key, [$($usual)+] $($doc)+).check(table)?;)+
                let profile = Self {
                    $($key: ReadKey::<$type, C>::read(
                        &read_and_written!(@rule $form, $($usual)+),
                        &read_and_written!(@key $key, [$($usual)+] $($doc)+),
                        table,
                        known,
                    )?,)+
                };
                match profile.check() {
                    Ok(()) => Ok(profile),
                    Err(error) => Err(table.error_at(error.key(), error)),
                }
            }
        }
    };
    (@rule $form:expr, usual $usual:expr) => { Usual($form, || $usual) };
    (@rule $form:expr, needed $example:literal) => { $form };
    (@rule $form:expr, optional) => { Optional($form) };
    (@rule $form:expr, beside $partner:literal $example:literal) => {
        Optional($form)
    };
    (@key $key:ident, [$($usual:tt)+] $($doc:literal)+) => {
        Key {
            what: concat!($($doc),+),
            example: read_and_written!(@example $($usual)+),
            beside: read_and_written!(@beside $($usual)+),
            ..Key::of(stringify!($key))
        }
    };
    (@example needed $example:literal) => { $example };
    (@example $($other:tt)+) => { "" };
    (@beside beside $partner:literal $example:literal) => { &[($partner, $example)] };
    (@beside $($other:tt)+) => { &[] };
}
reading_profile!(read_and_written);
