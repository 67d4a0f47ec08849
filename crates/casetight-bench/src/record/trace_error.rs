//! What can be wrong with a trace.

use std::io;

use super::encoding::EncodingError;
use super::profile_error::ProfileError;
use crate::printable;

/// What can be wrong with a trace. Lines are counted from 1.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum TraceError {
    /// Not UTF-8.
    #[error(transparent)]
    Encoding(#[from] EncodingError),
    /// The file could not be read.
    #[error("reading stopped at line {line}: {message}")]
    Read {
        /// The last line that was read.
        line: u64,
        /// What kind of failure.
        kind: io::ErrorKind,
        /// The system's words.
        message: String,
    },
    /// No line that is not blank or a comment.
    #[error(
        "the file has no data; it should start with the line `time_s,gauge_kpa` (or another unit)"
    )]
    Empty,
    /// Numbers where the names of the columns should be.
    #[error(
        "line {line}: `{found}` where the columns' names should be; put a line such as `time_s,gauge_kpa` before the numbers"
    )]
    NoHeader {
        /// Which line.
        line: u64,
        /// What is there.
        found: String,
    },
    /// A column that is needed is not there.
    #[error("line {line}: no column {column} among `{found}`{}", advice(found))]
    MissingColumn {
        /// The line of the columns' names.
        line: u64,
        /// The column's name.
        column: &'static str,
        /// The names that are there.
        found: String,
    },
    /// A gauge column's unit is none.
    #[error(
        "line {line}, column {column}: `{unit}` is not a unit of gauge pressure; write gauge_pa, gauge_kpa, gauge_psi, gauge_mbar, gauge_bar or gauge_inhg"
    )]
    UnknownUnit {
        /// The line of the columns' names.
        line: u64,
        /// The column's name.
        column: String,
        /// What stands for a unit in it.
        unit: String,
    },
    /// Two columns of the same quantity.
    #[error("line {line}: both {first} and {second} are there; keep one, or rename the other")]
    TwoColumns {
        /// The line of the columns' names.
        line: u64,
        /// One column.
        first: String,
        /// The other.
        second: String,
    },
    /// Names of columns and nothing below.
    #[error("no readings below the columns' names on line {line}")]
    NoRows {
        /// The line of the columns' names.
        line: u64,
    },
    /// Fewer fields than columns: as where the logger was cut off.
    #[error(
        "line {line}: {got} of {expected} fields{}; if the logger was cut off here, remove the line",
        missing(column.as_deref())
    )]
    TooFewFields {
        /// Which line.
        line: u64,
        /// The first needed column that has no field, if any.
        column: Option<String>,
        /// How many columns there are.
        expected: usize,
        /// How many fields there are.
        got: usize,
    },
    /// More fields than columns: as where decimal commas split numbers.
    #[error(
        "line {line}: {got} fields for {expected} columns; is a comma meant as a decimal point? write points"
    )]
    TooManyFields {
        /// Which line.
        line: u64,
        /// How many columns there are.
        expected: usize,
        /// How many fields there are.
        got: usize,
    },
    /// A comma inside a number.
    #[error(
        "line {line}, column {column}: `{found}` has a comma; write a decimal point, and no comma"
    )]
    DecimalComma {
        /// Which line.
        line: u64,
        /// Which column.
        column: String,
        /// What is there.
        found: String,
    },
    /// Not a number that a reading can be: text, nothing, NaN, an infinity.
    #[error(
        "line {line}, column {column}: `{found}` is not a finite number; correct it or remove the line"
    )]
    NotANumber {
        /// Which line.
        line: u64,
        /// Which column.
        column: String,
        /// What is there.
        found: String,
    },
    /// The profile that says how to read the file.
    #[error("profile: {0}")]
    Profile(#[from] ProfileError),
    /// Nothing where a profile's table should be.
    #[error(
        "the file has no table below the lines that the profile skips; are skip_rows and comment right?"
    )]
    NoTable,
    /// A column that a profile names is not there.
    #[error(
        "line {line}: no column {column} among `{found}`; are the profile's separator, skip_rows and columns right?"
    )]
    NoColumn {
        /// The line of the columns' names.
        line: u64,
        /// The column's name or number.
        column: String,
        /// The names that are there.
        found: String,
    },
    /// A row ends before a column that a profile names.
    #[error(
        "line {line}: {got} field(s) and no column {column}; if the logger was cut off here, remove the line, else look at the profile's separator"
    )]
    CutOff {
        /// Which line.
        line: u64,
        /// The column's name or number.
        column: String,
        /// How many fields there are.
        got: usize,
    },
    /// Not a number as a profile writes them.
    #[error(
        "line {line}, column {column}: `{found}` is not a finite number with `{decimal}` as its decimal mark{}; correct it, or the profile's marks",
        and_thousands(*thousands)
    )]
    NotANumberHere {
        /// Which line.
        line: u64,
        /// The column's name or number.
        column: String,
        /// What is there.
        found: String,
        /// The decimal mark.
        decimal: char,
        /// The thousands mark.
        thousands: Option<char>,
    },
    /// Not a date and time.
    #[error(
        "line {line}, column {column}: `{found}` is not a date and time such as 2024-05-01T12:34:56.789; correct it, or the profile's time_unit"
    )]
    NotADate {
        /// Which line.
        line: u64,
        /// The column's name or number.
        column: String,
        /// What is there.
        found: String,
    },
    /// Two readings of one time, where a profile does not say to take their mean.
    #[error(
        "line {line}: the reading before has the time {time_s} s, too; give each reading its own, or write repeated_times = \"mean\" in the profile"
    )]
    RepeatedTime {
        /// Which line.
        line: u64,
        /// The time \[s\].
        time_s: f64,
    },
    /// A quotation mark without its partner.
    #[error("line {line}: a quotation mark is opened and not closed")]
    OpenQuote {
        /// Which line.
        line: u64,
    },
    /// A line beyond any trace's.
    #[error("line {line} is longer than {LONGEST_LINE} bytes; is this a logger's CSV file?")]
    LongLine {
        /// Which line.
        line: u64,
    },
}

fn advice(found: &str) -> &'static str {
    if found.contains(';') {
        "; part the columns by commas, not semicolons, and write decimal points"
    } else if found.contains("\\t") {
        "; part the columns by commas, not tabs"
    } else {
        "; name it so"
    }
}

fn and_thousands(mark: Option<char>) -> String {
    mark.map_or(String::new(), |mark| {
        format!(" and `{mark}` between groups of three digits")
    })
}

fn missing(column: Option<&str>) -> String {
    column.map_or(String::new(), |column| format!(" and no {column}"))
}

impl TraceError {
    /// The error of a file that may be none of a logger's: of its cells only what may be a number or a date is told.
    pub(super) fn told_of_no_trace(mut self) -> Self {
        let of_a_number =
            |c: char| c.is_ascii_digit() || " '.,:+-eETZ\u{2212}\u{a0}\u{202f}\u{2019}".contains(c);
        match &mut self {
            Self::NotANumberHere { found, .. } | Self::NotADate { found, .. }
                if found.chars().all(of_a_number) => {}
            Self::NotANumberHere { found, .. }
            | Self::NotADate { found, .. }
            | Self::NoColumn { found, .. } => *found = quoted(found, false),
            _ => {}
        }
        self
    }

    /// The line at fault, counted from 1; none where it is the whole file or the profile.
    #[must_use]
    pub fn line(&self) -> Option<u64> {
        match self {
            Self::Empty | Self::NoTable | Self::Profile(_) => None,
            Self::Encoding(EncodingError { line, .. })
            | Self::Read { line, .. }
            | Self::NoHeader { line, .. }
            | Self::MissingColumn { line, .. }
            | Self::UnknownUnit { line, .. }
            | Self::TwoColumns { line, .. }
            | Self::NoRows { line }
            | Self::TooFewFields { line, .. }
            | Self::TooManyFields { line, .. }
            | Self::DecimalComma { line, .. }
            | Self::NotANumber { line, .. }
            | Self::NoColumn { line, .. }
            | Self::CutOff { line, .. }
            | Self::NotANumberHere { line, .. }
            | Self::NotADate { line, .. }
            | Self::RepeatedTime { line, .. }
            | Self::OpenQuote { line }
            | Self::LongLine { line } => Some(*line),
        }
    }
}

/// A longer line than this \[bytes\] is no line of a trace; it keeps memory bounded whatever file is named by mistake.
pub(super) const LONGEST_LINE: u64 = 1 << 16;

/// Of what a file says, no more letters than these are told.
const TOLD: usize = 80;

/// What a file says, as an error tells it: of one that is no trace, the marks between words and numbers alone.
pub(super) fn quoted(found: &str, is_trace: bool) -> String {
    const LEFT_OUT: char = '\u{2026}';
    let mut out = String::new();
    let mut letters = 0;
    for c in printable::line(found).chars() {
        let c = if is_trace || !c.is_alphanumeric() {
            c
        } else if out.ends_with(LEFT_OUT) {
            continue;
        } else {
            LEFT_OUT
        };
        if letters == TOLD {
            out.push(LEFT_OUT);
            break;
        }
        out.push(c);
        letters += 1;
    }
    out
}
