//! What a table with known keys can do.

use super::entry::{Absent, Content, Entry, Value};
use super::writer::Writer;
use crate::sheet::document::{Item, Table, headed};
use crate::sheet::error::SheetError;
use casetight::quantity::Unit;

/// A key as it is declared.
#[derive(Debug, Clone, Copy)]
pub(in crate::sheet) struct Key {
    /// Its name.
    pub(in crate::sheet) name: &'static str,
    /// The name of the key of its uncertainty, where it has one.
    pub(in crate::sheet) uncertainty: &'static str,
    /// What it is, in words.
    pub(in crate::sheet) what: &'static str,
    /// A value that would be right.
    pub(in crate::sheet) example: &'static str,
    /// What stands for it where it is not there, in words, if its rule does not say that.
    pub(in crate::sheet) absent: Option<&'static str>,
    /// The keys that must stand beside it, each with a value that would be right.
    pub(in crate::sheet) beside: &'static [(&'static str, &'static str)],
}

impl Key {
    /// A key of which no more is said.
    pub(in crate::sheet) const fn of(name: &'static str) -> Self {
        Self {
            name,
            uncertainty: "",
            what: "",
            example: "",
            absent: None,
            beside: &[],
        }
    }

    pub(in crate::sheet) fn entry(&self, absent: Absent, value: Value) -> Entry {
        Entry {
            key: self.name,
            what: self.what.trim().to_owned(),
            absent: self
                .absent
                .map_or(absent, |words| Absent::Stands(words.to_owned())),
            is_uncertainty: false,
            beside: self.beside.iter().map(|(partner, _)| *partner).collect(),
            value,
        }
    }

    /// Refuses the key without those that must stand beside it.
    pub(in crate::sheet) fn check(&self, table: &Table<'_>) -> Result<(), SheetError> {
        let mut beside = self.beside.iter();
        beside.try_for_each(|(partner, example)| table.needs_partner(self.name, partner, example))
    }
}

/// What is said of a key and how it is written.
pub(in crate::sheet) trait KeyRule<T> {
    /// The keys that belong to it.
    fn names(&self, key: &Key, names: &mut Vec<&'static str>) {
        names.push(key.name);
    }

    fn entries(&self, key: &Key) -> Vec<Entry>;

    fn write(&self, key: &Key, value: &T, out: &mut Writer);
}

/// How a key is read by someone who knows `C` of the rest of the sheet.
pub(in crate::sheet) trait ReadKey<T, C>: KeyRule<T> {
    fn read(&self, key: &Key, table: &Table<'_>, known: &C) -> Result<T, SheetError>;
}

/// What the keys of a table say.
pub(in crate::sheet) trait Keyed {
    /// What the table is, in the lines of its comment.
    const WHAT: &'static [&'static str];

    /// The keys that are known in the table.
    fn names(names: &mut Vec<&'static str>);

    /// What the reference and the schema say of each key.
    fn entries() -> Vec<Entry>;

    fn write(&self, out: &mut Writer);
}

/// What can be read from the keys of a table by someone who knows `C` of the rest of the sheet.
pub(in crate::sheet) trait FromKeys<C>: Keyed + Sized {
    fn read(table: &Table<'_>, known: &C) -> Result<Self, SheetError>;
}

/// What follows from several keys together, which are a table of their own or a part of one.
pub(in crate::sheet) trait Together: Sized {
    /// What the keys say, one by one.
    type Keys: Keyed;

    /// What they would have to say; readings in this unit.
    ///
    /// # Errors
    /// What no sheet has words for.
    fn keys(&self, unit: &'static Unit) -> Result<Self::Keys, &'static str>;
}

/// As [`Together`], read by someone who knows `C`.
pub(in crate::sheet) trait TogetherFrom<C>: Together<Keys: FromKeys<C>> {
    fn of(keys: Self::Keys, table: &Table<'_>, known: &C) -> Result<Self, SheetError>;
}

/// What the reference and the schema say of a table.
pub(in crate::sheet) fn content<T: Keyed>() -> Content {
    // What follows a blank line, or points to the library, is for its readers.
    let first = T::WHAT.iter().take_while(|line| !line.trim().is_empty());
    let what = first.copied().collect::<String>();
    let what = what
        .split_once("; see [")
        .map_or(what.clone(), |(what, _)| format!("{what}."));
    Content {
        what: what.trim().to_owned(),
        entries: T::entries(),
        inline: false,
    }
}

/// What a value says that is a table of known keys.
pub(in crate::sheet) fn keyed<T: FromKeys<C>, C>(
    item: &Item<'_>,
    known: &C,
) -> Result<T, SheetError> {
    keyed_as(item, known, || headed(item.path()))
}

/// The same of a table that messages call so.
pub(in crate::sheet) fn keyed_as<T: FromKeys<C>, C>(
    item: &Item<'_>,
    known: &C,
    expected: impl Fn() -> String,
) -> Result<T, SheetError> {
    let mut names = Vec::new();
    T::names(&mut names);
    T::read(&item.table(expected, &names)?, known)
}
