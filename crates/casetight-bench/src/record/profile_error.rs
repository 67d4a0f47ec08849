//! What can be wrong with a profile of a foreign file.

use super::column::Column;

/// What can be wrong with a profile, whatever the file.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ProfileError {
    /// A separator that can't part columns.
    #[error(
        "separator {got:?} can't part columns; write \";\", \",\", \"\\t\", \" \" or another mark of ASCII"
    )]
    Separator {
        /// What was given.
        got: char,
    },
    /// A decimal mark that is none.
    #[error("decimal mark {got:?}; write \".\" or \",\"")]
    Decimal {
        /// What was given.
        got: char,
    },
    /// A thousands mark that can't be told from something else.
    #[error(
        "{key} {got:?} can't be told from a digit, a sign, the separator or the decimal mark; write another mark, or leave it out"
    )]
    Thousands {
        /// Which key.
        key: &'static str,
        /// What was given.
        got: char,
    },
    /// The same mark parts columns and decimals.
    #[error("{mark:?} can't be both separator and decimal mark")]
    SameMark {
        /// The mark.
        mark: char,
    },
    /// A scale that is zero or no number, or an offset that is no number.
    #[error("{key} is {got}; it must be finite, and a scale not zero")]
    Scale {
        /// Which key.
        key: &'static str,
        /// What was given.
        got: f64,
    },
    /// Columns are counted from 1.
    #[error("{key} is column 0; columns are counted from 1")]
    ColumnZero {
        /// Which key.
        key: &'static str,
    },
    /// One column for two quantities.
    #[error("{first} and {second} are both column {column}; each needs its own")]
    SameColumn {
        /// One key.
        first: &'static str,
        /// The other.
        second: &'static str,
        /// The column.
        column: Column,
    },
    /// A column's name in a file without names.
    #[error(
        "{key} is the column named \"{column}\", but header = false says that no line names the columns; write the column's number"
    )]
    NameWithoutHeader {
        /// Which key.
        key: &'static str,
        /// The name.
        column: String,
    },
    /// Absolute readings without an ambient pressure.
    #[error("absolute pressures need the ambient pressure, which is subtracted; none was given")]
    NoAmbient,
}

impl ProfileError {
    /// The key at fault, as a bench sheet has it.
    #[must_use]
    pub fn key(&self) -> &'static str {
        match self {
            Self::Separator { .. } | Self::SameMark { .. } => "separator",
            Self::Decimal { .. } => "decimal",
            Self::Thousands { key, .. }
            | Self::Scale { key, .. }
            | Self::ColumnZero { key }
            | Self::NameWithoutHeader { key, .. } => key,
            Self::SameColumn { second, .. } => second,
            Self::NoAmbient => "pressure_kind",
        }
    }
}
