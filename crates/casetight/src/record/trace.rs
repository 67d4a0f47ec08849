//! A logger's trace: a CSV file of times and gauge pressures, read as it streams in.
//!
//! The first line names the columns, in any order: `time_s` and one `gauge_<unit>` (`gauge_kpa`, `gauge_psi`,
//! `gauge_inhg` and so on, any unit of [`GaugePressure`]), and, if the logger keeps it, `temperature_c` or
//! `temperature_k`. Other columns are ignored, as are blank lines and lines that start with `#`. Columns are parted by
//! commas, numbers have a decimal point, the text is UTF-8 (with or without a byte order mark). Other files are read by a
//! [`ReadingProfile`](super::ReadingProfile).
//!
//! ```
//! use casetight::record::{Trace, TraceError};
//!
//! let trace = Trace::from_bytes(b"# after new seals\ngauge_kpa,time_s\n48.2,0\n45.1,30\n")?;
//! assert_eq!(trace.time_s, [0.0, 30.0]);
//! assert!((trace.gauge_pa[1] - 45_100.0).abs() < 1e-9);
//!
//! let error = Trace::from_bytes(b"time_s,gauge_kpa\n0,48.2\n30,\"45,1\"\n").unwrap_err();
//! assert_eq!(error.line(), Some(3));
//! assert_eq!(
//!     error.to_string(),
//!     "line 3, column gauge_kpa: `45,1` has a comma; write a decimal point, and no comma"
//! );
//! # Ok::<(), TraceError>(())
//! ```

use std::io::{self, BufRead, BufReader, Read};

use super::drift::{CourseError, TemperatureCourse};
use super::window::Window;
use super::{EncodingError, ProfileError, text_of};
use crate::printable;
use crate::quantity::{
    GaugePressure, TemperatureInterval, ThermodynamicTemperature, TradeUnits, Unit,
};

/// A longer line than this \[bytes\] is no line of a trace; it keeps memory bounded whatever file is named by mistake.
const LONGEST_LINE: u64 = 1 << 16;

const TIME: &str = "time_s";
const GAUGE: &str = "gauge_";
const TEMPERATURE: &str = "temperature_";

/// Shown where a gauge column is missing.
const GAUGE_COLUMN: &str = "gauge_<unit>, such as gauge_kpa";

/// Times and gauge pressures as logged, of the same length, at least one.
///
/// Nothing is checked here beyond each number being one: [`Readings`](super::Readings) says what a run may be.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    /// Times \[s\].
    pub time_s: Vec<f64>,
    /// Gauge pressures \[Pa\].
    pub gauge_pa: Vec<f64>,
    /// Temperatures \[K\], where there is a column of them.
    pub temperature_k: Option<Vec<f64>>,
}

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
        "line {line}: the time {time_s} s is that of the reading before; give each reading its own, or write repeated_times = \"mean\" in the profile"
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

impl Trace {
    /// A trace from the bytes of a CSV file.
    ///
    /// # Errors
    /// [`TraceError`] names the first line that can't be.
    pub fn from_bytes(bytes: &[u8]) -> Result<Self, TraceError> {
        Self::from_reader(bytes)
    }

    /// A trace from a CSV file as it streams in. Memory is that of the numbers kept, whatever the file's size.
    ///
    /// # Errors
    /// [`TraceError`] names the first line that can't be.
    pub fn from_reader(source: impl Read) -> Result<Self, TraceError> {
        let mut rows = Rows::new(source);
        let header = rows.next_row()?.ok_or(TraceError::Empty)?;
        let columns = Columns::of(&header)?;
        let mut trace = Self {
            time_s: Vec::new(),
            gauge_pa: Vec::new(),
            temperature_k: columns.temperature.as_ref().map(|_| Vec::new()),
        };
        while let Some(row) = rows.next_row()? {
            columns.check_count(&row)?;
            trace.time_s.push(columns.time.value(&row)?);
            trace.gauge_pa.push(columns.gauge.value(&row)?);
            if let (Some(column), Some(kept)) = (&columns.temperature, &mut trace.temperature_k) {
                kept.push(column.value(&row)?);
            }
        }
        if trace.time_s.is_empty() {
            return Err(TraceError::NoRows { line: columns.line });
        }
        trace.shrink();
        Ok(trace)
    }

    /// The line through the temperatures of a window; none where the logger kept none. `step` is the thermometer's
    /// resolution where it is known.
    ///
    /// # Errors
    /// As [`TemperatureCourse::of`].
    pub fn temperature_course(
        &self,
        window: &Window,
        step: Option<TemperatureInterval>,
    ) -> Result<Option<TemperatureCourse>, CourseError> {
        let Some(kelvins) = &self.temperature_k else {
            return Ok(None);
        };
        let times = self.time_s.get(window.rows.clone()).unwrap_or_default();
        let kelvins = kelvins.get(window.rows.clone()).unwrap_or_default();
        TemperatureCourse::of(times, kelvins, step).map(Some)
    }

    /// The readings of a window alone.
    #[must_use]
    pub fn within(mut self, window: &Window) -> Self {
        let keep = |values: &mut Vec<f64>| {
            values.truncate(window.rows.end);
            values.drain(..window.rows.start.min(values.len()));
        };
        keep(&mut self.time_s);
        keep(&mut self.gauge_pa);
        self.temperature_k.iter_mut().for_each(keep);
        self.shrink();
        self
    }

    /// Gives back the room for numbers that did not come.
    pub(super) fn shrink(&mut self) {
        self.time_s.shrink_to_fit();
        self.gauge_pa.shrink_to_fit();
        if let Some(kept) = &mut self.temperature_k {
            kept.shrink_to_fit();
        }
    }
}

/// The line of the file that a reading, counted from 1, stands on.
pub(crate) fn line_of_reading(source: impl Read, reading: usize) -> Option<u64> {
    let mut rows = Rows::new(source);
    // The columns' names come first.
    for _ in 0..reading {
        rows.next_row().ok()??;
    }
    rows.next_row().ok()?.map(|row| row.line)
}

/// A column that is kept.
#[derive(Debug)]
pub(super) struct Column {
    name: String,
    index: usize,
    unit: Option<&'static Unit>,
}

#[derive(Debug)]
pub(super) struct Columns {
    pub(super) line: u64,
    count: usize,
    pub(super) time: Column,
    pub(super) gauge: Column,
    temperature: Option<Column>,
}

/// The unit of a column's name; capitals don't matter there.
fn unit_of<Q: TradeUnits>(spelling: &str) -> Option<&'static Unit> {
    let same = |unit: &&Unit| unit.symbol().eq_ignore_ascii_case(spelling);
    Q::UNITS
        .iter()
        .find(same)
        .or_else(|| Q::unit(spelling).ok())
}

impl Columns {
    pub(super) fn of(header: &Row<'_>) -> Result<Self, TraceError> {
        let line = header.line;
        let names: Vec<String> = header.fields.iter().map(name_of).collect();
        let number = |name: &String| name.parse::<f64>().is_ok();
        let ours = |name: &String| {
            let lower = name.to_ascii_lowercase();
            lower.starts_with(TIME) || lower.starts_with(GAUGE)
        };
        // Of a file that is no trace at all, nothing is told.
        let told = names.iter().any(ours) || names.len() > 1 && names.iter().all(number);
        let found = || quoted(&names.join(","), told);
        if names.iter().any(number) {
            return Err(TraceError::NoHeader {
                line,
                found: found(),
            });
        }
        let (mut time, mut gauge, mut temperature) = (None, None, None);
        let mut unknown = None;
        for (index, name) in names.iter().enumerate() {
            let lower = name.to_ascii_lowercase();
            let (place, unit) = if lower == TIME {
                (&mut time, None)
            } else if let Some(spelling) = lower.strip_prefix(GAUGE) {
                let Some(unit) = unit_of::<GaugePressure>(spelling) else {
                    unknown.get_or_insert_with(|| (quoted(name, true), quoted(spelling, true)));
                    continue;
                };
                (&mut gauge, Some(unit))
            } else if let Some(unit) = lower
                .strip_prefix(TEMPERATURE)
                .and_then(unit_of::<ThermodynamicTemperature>)
            {
                (&mut temperature, Some(unit))
            } else {
                continue;
            };
            let column = Column {
                name: name.clone(),
                index,
                unit,
            };
            if let Some(first) = place.replace(column) {
                return Err(TraceError::TwoColumns {
                    line,
                    first: first.name,
                    second: name.clone(),
                });
            }
        }
        let missing = |column| TraceError::MissingColumn {
            line,
            column,
            found: found(),
        };
        let time = time.ok_or_else(|| missing(TIME))?;
        let gauge = gauge.ok_or_else(|| match unknown {
            Some((column, unit)) => TraceError::UnknownUnit { line, column, unit },
            None => missing(GAUGE_COLUMN),
        })?;
        Ok(Self {
            line,
            count: names.len(),
            time,
            gauge,
            temperature,
        })
    }

    /// Where a column of this name stands, which every file of this kind has.
    pub(super) fn named(
        &self,
        header: &Row<'_>,
        column: &'static str,
    ) -> Result<usize, TraceError> {
        let names: Vec<String> = header.fields.iter().map(name_of).collect();
        let index = names
            .iter()
            .position(|name| name.eq_ignore_ascii_case(column));
        index.ok_or_else(|| TraceError::MissingColumn {
            line: self.line,
            column,
            found: quoted(&names.join(","), true),
        })
    }

    pub(super) fn check_count(&self, row: &Row<'_>) -> Result<(), TraceError> {
        let (line, expected, got) = (row.line, self.count, row.fields.len());
        match got.cmp(&expected) {
            std::cmp::Ordering::Equal => Ok(()),
            std::cmp::Ordering::Greater => Err(TraceError::TooManyFields {
                line,
                expected,
                got,
            }),
            std::cmp::Ordering::Less => {
                let column = [
                    Some(&self.time),
                    Some(&self.gauge),
                    self.temperature.as_ref(),
                ]
                .into_iter()
                .flatten()
                .find(|column| column.index >= got)
                .map(|column| column.name.clone());
                Err(TraceError::TooFewFields {
                    line,
                    column,
                    expected,
                    got,
                })
            }
        }
    }
}

fn name_of(field: &[u8]) -> String {
    String::from_utf8_lossy(field.trim_ascii()).into_owned()
}

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

impl Column {
    /// The number in this column, in the SI unit.
    pub(super) fn value(&self, row: &Row<'_>) -> Result<f64, TraceError> {
        let field = row.fields.get(self.index).unwrap_or_default().trim_ascii();
        let number = std::str::from_utf8(field)
            .ok()
            .and_then(|text| text.parse::<f64>().ok())
            .map(|number| self.unit.map_or(number, |unit| unit.to_si(number)))
            .filter(|number| number.is_finite());
        number.ok_or_else(|| {
            let (line, column, found) =
                (row.line, self.name.clone(), quoted(&name_of(field), true));
            if found.contains(',') {
                TraceError::DecimalComma {
                    line,
                    column,
                    found,
                }
            } else {
                TraceError::NotANumber {
                    line,
                    column,
                    found,
                }
            }
        })
    }
}

/// One row of the file.
pub(super) struct Row<'r> {
    pub(super) line: u64,
    pub(super) fields: &'r csv::ByteRecord,
}

/// What a file's lines are.
#[derive(Debug)]
pub(super) struct Layout {
    /// Between columns.
    pub(super) separator: u8,
    /// In front of a comment; none where empty.
    pub(super) comment: String,
    /// Lines at the top that are left out.
    pub(super) skip: u64,
}

/// The rows of a CSV file with the lines that they stand on.
#[derive(Debug)]
pub(super) struct Rows<R> {
    reader: csv::Reader<Lines<R>>,
    record: csv::ByteRecord,
}

impl<R: Read> Rows<R> {
    pub(super) fn new(source: R) -> Self {
        let layout = Layout {
            separator: b',',
            comment: "#".to_owned(),
            skip: 0,
        };
        Self::of(source, layout)
    }

    pub(super) fn of(source: R, layout: Layout) -> Self {
        Self {
            reader: csv::ReaderBuilder::new()
                .has_headers(false)
                .flexible(true)
                .delimiter(layout.separator)
                .from_reader(Lines::new(source, layout)),
            record: csv::ByteRecord::new(),
        }
    }

    pub(super) fn next_row(&mut self) -> Result<Option<Row<'_>>, TraceError> {
        let more = self.reader.read_byte_record(&mut self.record);
        let lines = self.reader.get_mut();
        let line = lines.number;
        match more {
            Ok(true) => Ok(Some(Row {
                line,
                fields: &self.record,
            })),
            Ok(false) => Ok(None),
            Err(error) => Err(lines.fault.take().unwrap_or_else(|| TraceError::Read {
                line,
                kind: io::ErrorKind::Other,
                message: error.to_string(),
            })),
        }
    }
}

/// Hands text on line by line: never more than one line in a read, so that the CSV reader's row is always the last line
/// that was handed out. Blank lines and comments stay behind. (The CSV reader counts neither where a row follows them.)
#[derive(Debug)]
struct Lines<R> {
    source: BufReader<R>,
    layout: Layout,
    line: Vec<u8>,
    handed_out: usize,
    /// Of the line held, from 1.
    number: u64,
    /// Of the line after it, in bytes.
    offset: u64,
    fault: Option<TraceError>,
}

impl<R: Read> Lines<R> {
    fn new(source: R, layout: Layout) -> Self {
        Self {
            source: BufReader::with_capacity(1 << 16, source),
            layout,
            line: Vec::new(),
            handed_out: 0,
            number: 0,
            offset: 0,
            fault: None,
        }
    }

    /// Takes the next line that says something; an empty one at the end.
    fn advance(&mut self) -> Result<(), TraceError> {
        loop {
            self.line.clear();
            self.handed_out = 0;
            let (line, offset) = (self.number + 1, self.offset);
            let got = (&mut self.source)
                .take(LONGEST_LINE)
                .read_until(b'\n', &mut self.line)
                .map_err(|error| TraceError::Read {
                    line: self.number,
                    kind: error.kind(),
                    message: error.to_string(),
                })? as u64;
            if got == 0 {
                return Ok(());
            }
            (self.number, self.offset) = (line, offset + got);
            if line <= self.layout.skip {
                continue;
            }
            let text = text_of(&self.line, offset, line)?;
            if got == LONGEST_LINE && !text.ends_with('\n') {
                return Err(TraceError::LongLine { line });
            }
            let said = text.trim_start();
            let comment = &self.layout.comment;
            if said.is_empty() || (!comment.is_empty() && said.starts_with(comment)) {
                continue;
            }
            if !text
                .bytes()
                .filter(|byte| *byte == b'"')
                .count()
                .is_multiple_of(2)
            {
                return Err(TraceError::OpenQuote { line });
            }
            self.handed_out = self.line.len() - text.len();
            return Ok(());
        }
    }
}

impl<R: Read> Read for Lines<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        if self.handed_out == self.line.len()
            && let Err(fault) = self.advance()
        {
            let message = fault.to_string();
            self.fault = Some(fault);
            return Err(io::Error::other(message));
        }
        let mut rest = self.line.get(self.handed_out..).unwrap_or_default();
        let got = rest.read(into)?;
        self.handed_out += got;
        Ok(got)
    }
}

#[cfg(test)]
mod tests {
    use std::fmt::Write as _;

    use proptest::prelude::*;

    use super::*;
    use crate::record::Encoding;

    fn read(text: &str) -> Result<Trace, TraceError> {
        Trace::from_bytes(text.as_bytes())
    }

    #[test]
    fn columns_in_any_order_and_unit() {
        for (text, pascals, kelvins) in [
            ("time_s,gauge_pa\n0,7\n1,6\n", [7.0, 6.0], None),
            ("gauge_kpa,time_s\n7,0\n6,1\n", [7e3, 6e3], None),
            ("Time_S, Gauge_kPa \r\n0, 7\r\n1, 6\r\n", [7e3, 6e3], None),
            ("time_s,gauge_mbar\n0,70\n1,60", [7e3, 6e3], None),
            ("time_s,gauge_bar\n0,-0.07\n1,-0.06", [-7e3, -6e3], None),
            // Published: NIST SP 811, B.8: 1 psi is 6894.757 Pa, 1 inHg 3386.389 Pa.
            ("time_s,gauge_psi\n0,1\n1,2\n", [6894.757, 13789.514], None),
            ("time_s,gauge_inHg\n0,1\n1,2\n", [3386.389, 6772.778], None),
            ("time_s,gauge_psig\n0,1\n1,2\n", [6894.757, 13789.514], None),
            (
                "n,note,temperature_c,gauge_hpa,time_s\n1,\"a, b\",20,1,0\n2,,21,2,1\n",
                [100.0, 200.0],
                Some([293.15, 294.15]),
            ),
            (
                "time_s,temperature_k,gauge_pa\n0,290,1\n1,291,2",
                [1.0, 2.0],
                Some([290.0, 291.0]),
            ),
            (
                "\u{feff}\"time_s\",\"gauge_pa\",gauge_needle\n\"0\",\"1\",x\n\"1\",\"2\",y",
                [1.0, 2.0],
                None,
            ),
            (
                "# a, comment \"\n\n  # more\ntime_s,gauge_pa\n\n0,1e0\n# 5,5\n+1,2.\n\n",
                [1.0, 2.0],
                None,
            ),
        ] {
            let trace = read(text).unwrap_or_else(|error| panic!("{text}: {error}"));
            assert_eq!(trace.time_s, [0.0, 1.0], "{text}");
            // The published factors have seven digits.
            for (got, expected) in trace.gauge_pa.iter().zip(pascals) {
                assert!(
                    (got - expected).abs() <= 2e-7 * expected.abs(),
                    "{text}: {got}"
                );
            }
            assert_eq!(trace.gauge_pa.len(), 2);
            assert_eq!(
                trace.temperature_k.as_deref(),
                kelvins.as_ref().map(|k| &k[..])
            );
        }
    }

    #[test]
    #[rustfmt::skip] // one case, one line
    fn every_mistake_says_where_and_what() {
        let long = format!("time_s,gauge_pa\n0,1\n{}\n", "9".repeat(70_000));
        for (text, line, said) in [
            ("", None, "no data"),
            ("\n  \n# only a comment\n", None, "no data"),
            ("time_s,gauge_pa\n", Some(1), "no readings below"),
            ("# x\ntime_s,gauge_pa\n# y\n", Some(2), "no readings below"),
            ("0,48\n30,45\n", Some(1), "columns' names"),
            ("time,gauge_pa\n0,1", Some(1), "no column time_s among `time,gauge_pa`"),
            ("time_s,pressure\n0,1", Some(1), "no column gauge_<unit>"),
            ("time_s,gauge\n0,1", Some(1), "no column gauge_<unit>"),
            ("time_s;gauge_kpa\n0;1", Some(1), "not semicolons"),
            ("time_s\tgauge_kpa\n0\t1", Some(1), "not tabs"),
            ("time_s,gauge_furlong\n0,1", Some(1), "`furlong` is not a unit"),
            ("time_s,gauge_psia\n0,1", Some(1), "`psia` is not a unit of gauge"),
            ("time_s,gauge_pa,gauge_psi\n0,1,1", Some(1), "both gauge_pa and gauge_psi"),
            ("time_s,gauge_pa,TIME_S\n0,1,1", Some(1), "both time_s and TIME_S"),
            ("time_s,gauge_pa\n0,48\n30\n", Some(3), "1 of 2 fields and no gauge_pa"),
            ("time_s,gauge_pa,x\n0,48,\n30,4", Some(3), "2 of 3 fields; if the logger"),
            ("time_s,gauge_pa\n0,48\n30,45,1\n", Some(3), "3 fields for 2 columns"),
            ("time_s,gauge_pa\n0,48\n30,\"45,1\"\n", Some(3), "column gauge_pa: `45,1` has a comma"),
            ("time_s,gauge_pa\n0,48\n\n#\nx,45\n", Some(5), "column time_s: `x` is not"),
            ("time_s,gauge_pa\r\n0,48\r\n30,\r\n", Some(3), "column gauge_pa: `` is not"),
            ("time_s,gauge_pa\n0,NaN\n", Some(2), "`NaN` is not a finite number"),
            ("time_s,gauge_pa\n0,-inf\n", Some(2), "`-inf` is not a finite number"),
            ("time_s,gauge_pa\n0,1e999\n", Some(2), "`1e999` is not a finite number"),
            ("time_s,gauge_mpa\n0,1e304\n", Some(2), "`1e304` is not a finite number"),
            ("time_s,gauge_pa\n0,\"48\n30,45\n", Some(2), "quotation mark"),
            ("time_s,gauge_pa,temperature_c\n0,1,warm", Some(2), "column temperature_c"),
            (&long, Some(3), "longer than 65536"),
        ] {
            let error = read(text).unwrap_err();
            let words = error.to_string();
            assert_eq!(error.line(), line, "{text}: {words}");
            assert!(words.contains(said), "{text}: {words}");
            if let Some(line) = line {
                assert!(words.contains(&format!("line {line}")), "{words}");
            }
        }
    }

    #[test]
    fn an_encoding_names_its_byte() {
        let utf16: Vec<u8> = "time_s,gauge_pa\n0,1\n"
            .encode_utf16()
            .flat_map(u16::to_le_bytes)
            .collect();
        let marked = [b"\xFF\xFE", utf16.as_slice()].concat();
        for (bytes, offset, line, encoding) in [
            (marked.as_slice(), 0, 1, Encoding::Utf16),
            (&utf16, 1, 1, Encoding::Utf16),
            (
                b"time_s,gauge_pa\n0,1\n30,\xB52\n",
                23,
                3,
                Encoding::Unknown,
            ),
            (
                b"# \xB5bar\ntime_s,gauge_pa\n0,1\n",
                2,
                1,
                Encoding::Unknown,
            ),
        ] {
            let expected = EncodingError {
                offset,
                line,
                encoding,
            };
            assert_eq!(Trace::from_bytes(bytes), Err(expected.into()));
        }
    }

    #[test]
    fn a_failing_disk_is_not_an_end() {
        struct Failing;
        impl Read for Failing {
            fn read(&mut self, _: &mut [u8]) -> io::Result<usize> {
                Err(io::Error::new(io::ErrorKind::TimedOut, "no answer"))
            }
        }
        let source = b"time_s,gauge_pa\n0,1\n".chain(Failing);
        assert_eq!(
            Trace::from_reader(source),
            Err(TraceError::Read {
                line: 2,
                kind: io::ErrorKind::TimedOut,
                message: "no answer".into(),
            })
        );
    }

    #[test]
    fn a_reading_is_found_again() {
        let text = b"# x\ntime_s,gauge_pa\n0,1\n\n# y\n1,2\n";
        assert_eq!(line_of_reading(&text[..], 1), Some(3));
        assert_eq!(line_of_reading(&text[..], 2), Some(6));
        assert_eq!(line_of_reading(&text[..], 3), None);
    }

    /// A trace that is never held as a whole.
    struct Logger {
        row: u32,
        rows: u32,
        text: String,
        given: usize,
    }

    impl Logger {
        fn new(rows: u32) -> Self {
            let text = "time_s,gauge_kpa\n".to_owned();
            let (row, given) = (0, 0);
            Self {
                row,
                rows,
                text,
                given,
            }
        }
    }

    impl Read for Logger {
        fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
            if self.given == self.text.len() && self.row < self.rows {
                self.text.clear();
                self.given = 0;
                let until = (self.row + 1000).min(self.rows);
                for row in self.row..until {
                    writeln!(self.text, "{}.{:02},48.{row:08}", row / 100, row % 100).unwrap();
                }
                self.row = until;
            }
            let got = (&self.text.as_bytes()[self.given..]).read(into)?;
            self.given += got;
            Ok(got)
        }
    }

    fn a_long_trace(rows: u32) {
        let trace = Trace::from_reader(Logger::new(rows)).unwrap();
        assert_eq!(trace.time_s.len(), rows as usize);
        assert_eq!(trace.gauge_pa.len(), rows as usize);
        let last = f64::from(rows - 1);
        assert!((trace.time_s.last().unwrap() - last / 100.0).abs() < 1e-9);
        assert!((trace.gauge_pa.last().unwrap() - 48e3 - last * 1e-5).abs() < 1e-6);
    }

    #[test]
    fn two_hundred_thousand_rows() {
        a_long_trace(200_000);
    }

    #[test]
    #[ignore = "heavy: ten million rows"]
    fn ten_million_rows() {
        a_long_trace(10_000_000);
    }

    proptest! {
        #[test]
        fn any_bytes_are_answered(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
            let _ = Trace::from_bytes(&bytes);
        }

        #[test]
        fn any_damage_is_answered(at in 0_usize..60, byte: u8, cut in 0_usize..60) {
            let mut bytes = b"time_s,gauge_kpa,temperature_c\n0,48.2,20\n30,45.1,20.5\n".to_vec();
            let length = bytes.len();
            bytes[at % length] = byte;
            bytes.truncate(60 - cut);
            if let Ok(trace) = Trace::from_bytes(&bytes) {
                prop_assert_eq!(trace.time_s.len(), trace.gauge_pa.len());
                prop_assert!(trace.gauge_pa.iter().all(|g| g.is_finite()));
            }
        }

        #[test]
        fn what_is_written_is_read(rows in prop::collection::vec((-1e6..1e6_f64, -1e5..1e5_f64), 1..50)) {
            let mut text = "time_s,gauge_pa\n".to_owned();
            for (time, gauge) in &rows {
                writeln!(text, "{time:?},{gauge:?}").unwrap();
            }
            let trace = read(&text).unwrap();
            prop_assert!(trace.time_s.iter().zip(&trace.gauge_pa).map(|(t, g)| (*t, *g)).eq(rows));
        }
    }
}
