//! A sheet as it is written: the lines of each table, then its tables.

use super::stated::quoted;
use crate::sheet::error::{Problem, SheetError};
use casetight::quantity::Unit;

/// What a table of the written sheet holds.
pub(in crate::sheet) struct Writer {
    /// The table's name with those of the tables that it is in; empty for the sheet itself.
    path: String,
    /// One of a list of tables.
    listed: bool,
    lines: Vec<(&'static str, String)>,
    tables: Vec<Writer>,
    refused: Option<&'static str>,
    /// The unit of readings.
    unit: &'static Unit,
}

impl Writer {
    /// A sheet whose readings are in this unit.
    pub(in crate::sheet) fn new(unit: &'static Unit) -> Self {
        Self {
            path: String::new(),
            listed: false,
            lines: Vec::new(),
            tables: Vec::new(),
            refused: None,
            unit,
        }
    }

    pub(in crate::sheet) fn unit(&self) -> &'static Unit {
        self.unit
    }

    /// Readings from here on in this table are in this unit.
    pub(in crate::sheet) fn readings_in(&mut self, unit: &'static Unit) {
        self.unit = unit;
    }

    /// A line; the value is TOML already.
    pub(in crate::sheet) fn line(&mut self, key: &'static str, value: impl Into<String>) {
        self.lines.push((key, value.into()));
    }

    /// A line above those that are there.
    pub(in crate::sheet) fn first_line(&mut self, key: &'static str, value: String) {
        self.lines.insert(0, (key, value));
    }

    /// What no sheet has words for.
    pub(in crate::sheet) fn refuse(&mut self, what: &'static str) {
        self.refused = Some(what);
    }

    fn path_of(&self, name: &str) -> String {
        let bare = |letter: char| letter.is_ascii_alphanumeric() || letter == '_';
        let name = if name.chars().all(bare) && !name.is_empty() {
            name.to_owned()
        } else {
            quoted(name)
        };
        match self.path.as_str() {
            "" => name,
            path => format!("{path}.{name}"),
        }
    }

    /// Writes into the table of this name.
    pub(in crate::sheet) fn table(&mut self, name: &str, write: impl FnOnce(&mut Self)) {
        let path = self.path_of(name);
        let same = |table: &Self| table.path == path && !table.listed;
        if let Some(there) = self.tables.iter_mut().find(|table| same(table)) {
            write(there);
        } else {
            self.push(path, false, write);
        }
    }

    /// Writes one more table of this name.
    pub(in crate::sheet) fn one_more(&mut self, name: &str, write: impl FnOnce(&mut Self)) {
        self.push(self.path_of(name), true, write);
    }

    fn push(&mut self, path: String, listed: bool, write: impl FnOnce(&mut Self)) {
        let mut table = Self {
            path,
            listed,
            ..Self::new(self.unit)
        };
        write(&mut table);
        self.tables.push(table);
    }

    /// The text.
    ///
    /// # Errors
    /// [`Problem::NotWritable`] for the first table with something that a sheet has no words for.
    pub(in crate::sheet) fn text(&self) -> Result<String, SheetError> {
        if let Some(what) = self.refused {
            return Err(SheetError::new(
                "",
                &*self.path,
                None,
                Problem::NotWritable { what },
            ));
        }
        let mut text = String::new();
        if self.listed {
            text = format!("\n[[{}]]\n", self.path);
        } else if !self.path.is_empty() && !self.lines.is_empty() {
            text = format!("\n[{}]\n", self.path);
        }
        for (key, value) in &self.lines {
            text.extend([key, " = ", value.as_str(), "\n"]);
        }
        for table in &self.tables {
            text.push_str(&table.text()?);
        }
        Ok(text)
    }

    /// The lines as a table within a line.
    pub(in crate::sheet) fn in_line(&self) -> String {
        let lines: Vec<String> = self
            .lines
            .iter()
            .map(|(key, value)| format!("{key} = {value}"))
            .collect();
        format!("{{ {} }}", lines.join(", "))
    }
}
