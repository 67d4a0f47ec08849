//! A way to get the volume, with the spaces that were tested but not measured by it.

use std::borrow::Cow;

use crate::sheet::document::Table;
use crate::sheet::error::{Problem, SheetError};
use crate::sheet::keys::declare::table;
use crate::sheet::keys::entry::Entry;
use crate::sheet::keys::form::{Each, Inline, Name};
use crate::sheet::keys::keyed::{FromKeys, Key, KeyRule, Keyed, ReadKey};
use crate::sheet::keys::rule::Usual;
use crate::sheet::keys::valued::Unstated::LastDigit;
use crate::sheet::keys::valued::Valued;
use crate::sheet::keys::writer::Writer;
use casetight::measured::Measured;
use casetight::quantity::Volume;
use casetight::volume::{TestedVolume, VolumeError};

/// A method with the spaces that were tested but not measured by it.
#[derive(Debug, Clone, PartialEq)]
pub struct With<T> {
    /// What was read.
    pub method: T,
    /// Spaces to be added: hose and gauge that were not there at the measurement; below zero for what was there only then.
    pub add: Vec<Added>,
}

table! {
    /// A space to be added to what a method measured.
    pub struct Added {
        /// Its name.
        pub name: String = Name("a name for the space"), like "hose and gauge";
        /// Its volume; below zero for what was there at the measurement only.
        pub volume: Measured<Volume> = Valued(LastDigit), like "18 cm3", uncertainty "uncertainty";
    }
}

/// The key that every way has beside its own.
const ADD: Key = Key {
    what: "Spaces that are tested and were not measured; below zero the other way.",
    ..Key::of("add")
};

const SPACES: Usual<Each<Inline>, Vec<Added>> = Usual(
    Each(
        Inline,
        "a list of spaces `[{ name, volume, uncertainty }, ...]`",
    ),
    Vec::new,
);

impl<T: Keyed> Keyed for With<T> {
    const WHAT: &'static [&'static str] = T::WHAT;

    fn names(names: &mut Vec<&'static str>) {
        T::names(names);
        SPACES.names(&ADD, names);
    }

    fn entries() -> Vec<Entry> {
        let mut entries = T::entries();
        entries.extend(SPACES.entries(&ADD));
        entries
    }

    fn write(&self, out: &mut Writer) {
        SPACES.write(&ADD, &self.add, out);
        self.method.write(out);
    }
}

impl<T: FromKeys<C>, C> FromKeys<C> for With<T> {
    fn read(table: &Table<'_>, known: &C) -> Result<Self, SheetError> {
        Ok(Self {
            add: SPACES.read(&ADD, table, known)?,
            method: T::read(table, known)?,
        })
    }
}

impl<T> With<T> {
    /// A method's volume with what is to be added.
    pub(super) fn plus(
        &self,
        measured: Result<TestedVolume, Problem>,
    ) -> Result<TestedVolume, Problem> {
        let add = |so_far: TestedVolume, added: &Added| -> Result<TestedVolume, VolumeError> {
            so_far.plus(Cow::from(added.name.clone()), &added.volume)
        };
        Ok(self.add.iter().try_fold(measured?, add)?)
    }
}
