//! What the reference and the schema say of a key.

use casetight::quantity::TradeUnits;

/// What is said of a key.
pub(in crate::sheet) struct Entry {
    pub(in crate::sheet) key: &'static str,
    pub(in crate::sheet) what: String,
    pub(in crate::sheet) absent: Absent,
    /// Whether it is the uncertainty of the entry before.
    pub(in crate::sheet) is_uncertainty: bool,
    /// The keys that must stand beside it.
    pub(in crate::sheet) beside: Vec<&'static str>,
    pub(in crate::sheet) value: Value,
}

/// What it means that a key is not there.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::sheet) enum Absent {
    /// It must be.
    Never,
    /// Nothing is said.
    Nothing,
    /// This stands for it.
    Stands(String),
}

/// What a value looks like.
pub(in crate::sheet) enum Value {
    /// Text with a number and a unit, or a bare number too.
    Quantity {
        dimension: &'static str,
        bare: bool,
    },
    Number,
    /// A time: a number of seconds, or text with a unit or with minutes.
    Second,
    /// A time and a number.
    Reading,
    Whole {
        least: u32,
    },
    Truth,
    /// The format of the sheet.
    Format,
    Text,
    /// One of these words.
    Words(Vec<&'static str>),
    /// Text or a whole number from 1.
    Column,
    /// A date, in quotes or not.
    Date,
    List(Box<Value>),
    /// So many values of one kind.
    Row(Box<Value>, usize),
    /// One or the other.
    Either(Box<Value>, Box<Value>),
    Table(Content),
    /// Tables by names of the user's.
    Named(Content),
}

/// What a table holds.
pub(in crate::sheet) struct Content {
    pub(in crate::sheet) what: String,
    pub(in crate::sheet) entries: Vec<Entry>,
    /// Whether it stands within a line.
    pub(in crate::sheet) inline: bool,
}

impl Value {
    pub(in crate::sheet) fn quantity<Q: TradeUnits>() -> Self {
        Self::Quantity {
            dimension: Q::DIMENSION,
            bare: Q::UNITS.iter().any(|unit| unit.symbol().is_empty()),
        }
    }
}
