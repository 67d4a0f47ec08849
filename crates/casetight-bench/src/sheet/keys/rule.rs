//! What a key's line says beyond its form: that it may be left out, what stands for it then, and that its value is a table.

use std::collections::BTreeMap;
use std::marker::PhantomData;

use super::entry::{Absent, Entry, Value};
use super::form::{Form, ReadForm};
use super::keyed::{FromKeys, Key, KeyRule, Keyed, ReadKey, content, keyed, keyed_as};
use super::writer::Writer;
use crate::sheet::document::Table;
use crate::sheet::error::{Problem, SheetError};

/// What may be left out.
pub(in crate::sheet) struct Optional<R>(pub(in crate::sheet) R);

impl<T, R: KeyRule<T>> KeyRule<Option<T>> for Optional<R> {
    fn names(&self, key: &Key, names: &mut Vec<&'static str>) {
        self.0.names(key, names);
    }

    fn entries(&self, key: &Key) -> Vec<Entry> {
        let mut entries = self.0.entries(key);
        if let Some(first) = entries.first_mut()
            && first.absent == Absent::Never
        {
            first.absent = Absent::Nothing;
        }
        entries
    }

    fn write(&self, key: &Key, value: &Option<T>, out: &mut Writer) {
        if let Some(value) = value {
            self.0.write(key, value, out);
        }
    }
}

impl<T, C, R: ReadKey<T, C>> ReadKey<Option<T>, C> for Optional<R> {
    fn read(&self, key: &Key, table: &Table<'_>, known: &C) -> Result<Option<T>, SheetError> {
        table.needs_partner(key.uncertainty, key.name, key.example)?;
        table
            .has(key.name)
            .then(|| self.0.read(key, table, known))
            .transpose()
    }
}

/// What may be left out, and what stands for it then.
pub(in crate::sheet) struct Usual<F, T>(pub(in crate::sheet) F, pub(in crate::sheet) fn() -> T);

impl<T: PartialEq, F: Form<T>> KeyRule<T> for Usual<F, T> {
    fn entries(&self, key: &Key) -> Vec<Entry> {
        let usual = self.0.write(&self.1());
        let absent = match usual.as_str() {
            "\"\"" | "[]" => Absent::Nothing,
            _ => Absent::Stands(format!("`{usual}`")),
        };
        vec![key.entry(absent, self.0.value())]
    }

    fn write(&self, key: &Key, value: &T, out: &mut Writer) {
        if *value != self.1() {
            out.line(key.name, self.0.write(value));
        }
    }
}

impl<T: PartialEq, C, F: ReadForm<T, C>> ReadKey<T, C> for Usual<F, T> {
    fn read(&self, key: &Key, table: &Table<'_>, known: &C) -> Result<T, SheetError> {
        let item = table.get(key.name);
        item.map_or_else(|| Ok(self.1()), |item| self.0.read(&item, known))
    }
}

/// What several keys of this table say together.
pub(in crate::sheet) struct Here;

impl<T: Keyed> KeyRule<T> for Here {
    fn names(&self, _: &Key, names: &mut Vec<&'static str>) {
        T::names(names);
    }

    fn entries(&self, _: &Key) -> Vec<Entry> {
        T::entries()
    }

    fn write(&self, _: &Key, value: &T, out: &mut Writer) {
        value.write(out);
    }
}

impl<T: FromKeys<C>, C> ReadKey<T, C> for Here {
    fn read(&self, _: &Key, table: &Table<'_>, known: &C) -> Result<T, SheetError> {
        T::read(table, known)
    }
}

/// A table of its own, which must be there.
pub(in crate::sheet) struct OwnTable;

impl<T: Keyed> KeyRule<T> for OwnTable {
    fn entries(&self, key: &Key) -> Vec<Entry> {
        vec![key.entry(Absent::Never, Value::Table(content::<T>()))]
    }

    fn write(&self, key: &Key, value: &T, out: &mut Writer) {
        out.table(key.name, |out| value.write(out));
    }
}

impl<T: FromKeys<C>, C> ReadKey<T, C> for OwnTable {
    fn read(&self, key: &Key, table: &Table<'_>, known: &C) -> Result<T, SheetError> {
        let missing = || table.error_at(key.name, Problem::MissingTable { name: key.name });
        keyed(&table.get(key.name).ok_or_else(missing)?, known)
    }
}

/// A table of its own; where it is not there, what follows from an empty one.
pub(in crate::sheet) struct OrEmpty;

impl<T: Keyed> KeyRule<T> for OrEmpty {
    fn entries(&self, key: &Key) -> Vec<Entry> {
        vec![key.entry(Absent::Nothing, Value::Table(content::<T>()))]
    }

    fn write(&self, key: &Key, value: &T, out: &mut Writer) {
        OwnTable.write(key, value, out);
    }
}

impl<T: FromKeys<C>, C> ReadKey<T, C> for OrEmpty {
    fn read(&self, key: &Key, table: &Table<'_>, known: &C) -> Result<T, SheetError> {
        match table.get(key.name) {
            Some(item) => keyed(&item, known),
            None => T::read(&table.below(key.name)?, known),
        }
    }
}

/// Tables of one kind, by its word in messages; there may be none.
pub(in crate::sheet) struct Tables(pub(in crate::sheet) &'static str);

impl<T: Keyed> KeyRule<Vec<T>> for Tables {
    fn entries(&self, key: &Key) -> Vec<Entry> {
        let each = Value::Table(content::<T>());
        vec![key.entry(Absent::Nothing, Value::List(Box::new(each)))]
    }

    fn write(&self, key: &Key, value: &Vec<T>, out: &mut Writer) {
        for each in value {
            out.one_more(key.name, |out| each.write(out));
        }
    }
}

impl<T: FromKeys<C>, C> ReadKey<Vec<T>, C> for Tables {
    fn read(&self, key: &Key, table: &Table<'_>, known: &C) -> Result<Vec<T>, SheetError> {
        let Some(list) = table.get(key.name) else {
            return Ok(Vec::new());
        };
        let (kind, path) = (self.0, list.path());
        let each = list.list(&format!(
            "a list of {kind}s, each under [[{path}]] with two brackets,"
        ))?;
        let expected = || format!("a {kind}'s table");
        each.iter()
            .map(|item| keyed_as(item, known, expected))
            .collect()
    }
}

/// Tables by names of the user's, of one kind by its word in messages.
pub(in crate::sheet) struct Named(pub(in crate::sheet) &'static str);

impl<T: Keyed> KeyRule<BTreeMap<String, T>> for Named {
    fn entries(&self, key: &Key) -> Vec<Entry> {
        vec![key.entry(Absent::Nothing, Value::Named(content::<T>()))]
    }

    fn write(&self, key: &Key, value: &BTreeMap<String, T>, out: &mut Writer) {
        for (name, each) in value {
            out.table(key.name, |out| out.table(name, |out| each.write(out)));
        }
    }
}

impl<T: FromKeys<C>, C> ReadKey<BTreeMap<String, T>, C> for Named {
    fn read(
        &self,
        key: &Key,
        table: &Table<'_>,
        known: &C,
    ) -> Result<BTreeMap<String, T>, SheetError> {
        let Some(item) = table.get(key.name) else {
            return Ok(BTreeMap::new());
        };
        let kind = self.0;
        let expected = || format!("a {kind}'s table");
        let each = item.named(&format!(
            "tables of {kind}s, each under [{}.NAME],",
            key.name
        ))?;
        let read = |(name, item)| Ok((name, keyed_as(&item, known, expected)?));
        each.into_iter().map(read).collect()
    }
}

/// A field that no key says.
pub(in crate::sheet) struct Apart;

impl<T> KeyRule<T> for Apart {
    fn names(&self, _: &Key, _: &mut Vec<&'static str>) {}

    fn entries(&self, _: &Key) -> Vec<Entry> {
        Vec::new()
    }

    fn write(&self, _: &Key, _: &T, _: &mut Writer) {}
}

impl<T: Default, C> ReadKey<T, C> for Apart {
    fn read(&self, _: &Key, _: &Table<'_>, _: &C) -> Result<T, SheetError> {
        Ok(T::default())
    }
}

/// A key that stands here and is read and written elsewhere.
pub(in crate::sheet) struct Unread<F, T>(
    pub(in crate::sheet) F,
    pub(in crate::sheet) PhantomData<T>,
);

impl<T, F: Form<T>> KeyRule<()> for Unread<F, T> {
    fn entries(&self, key: &Key) -> Vec<Entry> {
        vec![key.entry(Absent::Never, self.0.value())]
    }

    fn write(&self, _: &Key, (): &(), _: &mut Writer) {}
}

impl<T, C, F: Form<T>> ReadKey<(), C> for Unread<F, T> {
    fn read(&self, _: &Key, _: &Table<'_>, _: &C) -> Result<(), SheetError> {
        Ok(())
    }
}

/// A key that is written here and read later, once what stands above it has been; until then its content is empty.
pub(in crate::sheet) struct Later<R>(pub(in crate::sheet) R);

impl<T, R: KeyRule<T>> KeyRule<T> for Later<R> {
    fn entries(&self, key: &Key) -> Vec<Entry> {
        self.0.entries(key)
    }

    fn write(&self, key: &Key, value: &T, out: &mut Writer) {
        self.0.write(key, value, out);
    }
}

impl<T: Default, C, R: KeyRule<T>> ReadKey<T, C> for Later<R> {
    fn read(&self, _: &Key, _: &Table<'_>, _: &C) -> Result<T, SheetError> {
        Ok(T::default())
    }
}
