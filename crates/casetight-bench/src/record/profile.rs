//! How a foreign logger's file is to be read.
//!
//! ```
//! use casetight::quantity::AbsolutePressure;
//! use casetight_bench::record::{Column, PressureKind, ReadingProfile, TimeUnit, TraceError};
//!
//! // Milliseconds and bar absolute, with decimal commas, below two lines of the logger's own.
//! let profile = ReadingProfile {
//!     separator: ';',
//!     decimal: ',',
//!     skip_rows: 2,
//!     time_unit: TimeUnit::Milliseconds,
//!     pressure_unit: "bar".parse()?,
//!     pressure_kind: PressureKind::Absolute,
//!     ..ReadingProfile::new(Column::Named("t".into()), Column::Number(3))
//! };
//! let file = b"Logger 4711\nbench 2\nt;n;p\n0;1;1,50000\n250;2;1,49875\n";
//! let ambient = AbsolutePressure::from_pascals(100_000.0)?;
//! let trace = profile.read(&file[..], Some(ambient))?;
//! assert_eq!(trace.time_s, [0.0, 0.25]);
//! assert!((trace.gauge_pa[1] - 49_875.0).abs() < 1e-6);
//!
//! let cut = profile.read(&b"a\nb\nt;n;p\n0;1;1.50\n"[..], Some(ambient)).unwrap_err();
//! assert_eq!(
//!     cut.to_string(),
//!     "line 4, column 3: `1.50` is not a finite number with `,` as its decimal mark; correct it, or the profile's marks"
//! );
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

use std::io::Read;

use serde::{Deserialize, Serialize};

use super::column::{Column, ColumnUnit, EmptyCells, PressureKind, RepeatedTimes, TimeUnit};
use super::date::Instant;
use super::decoded::{Decoded, TextEncoding};
use super::profile_error::ProfileError;
use super::rows::{Layout, Row, Rows};
use super::trace::Trace;
use super::trace_error::{TraceError, quoted};
use casetight::quantity::{AbsolutePressure, Pressure, ThermodynamicTemperature};

/// The keys of a profile: comment, name, type; how its value looks in a sheet, and what stands for it where it is not there. They are
/// handed to a macro: to the one below that makes [`ReadingProfile`], and to the one of the sheet that reads and writes it.
macro_rules! reading_profile {
    ($make:ident) => {
        $make! {
            /// How the bytes stand for letters; `latin-1` is read as windows-1252.
            encoding: TextEncoding = Word(&TextEncoding::NAMES), [usual TextEncoding::Utf8];
            /// Parts the columns: an ASCII mark or a tab; a space stands for a run of them.
            separator: char = Mark, [usual ','];
            /// Decimal mark, `.` or `,`.
            decimal: char = Mark, [usual '.'];
            /// A line that starts with this is a comment; none where empty.
            comment: String = Characters("text that a comment starts with"), [usual "#".to_owned()];
            /// Lines at the top that are no part of the table.
            skip_rows: u64 = Count, [usual 0];
            /// Whether the table's first line names the columns.
            header: bool = Truth, [usual true];
            /// The time column, by its name or by its number from 1.
            time: Column = AColumn, [needed "Time"];
            /// Its unit; `"date"` is ISO 8601.
            time_unit: TimeUnit = Word(&TimeUnit::NAMES), [usual TimeUnit::Seconds];
            /// Its mark between groups of three digits; the same as the decimal mark in a column of whole numbers.
            time_thousands: Option<char> = Mark, [optional];
            /// The pressure column, by its name or by its number from 1.
            pressure: Column = AColumn, [needed "2"];
            /// Its unit, after scale and offset.
            pressure_unit: ColumnUnit<Pressure> = AUnit("a unit of pressure"), [usual ColumnUnit::si()];
            /// Gauge or absolute; the ambient pressure is subtracted from what is absolute.
            pressure_kind: PressureKind = Word(&PressureKind::NAMES), [usual PressureKind::Gauge];
            /// Its mark between groups of three digits.
            pressure_thousands: Option<char> = Mark, [optional];
            /// Pressure in its unit = offset + scale times the number in the file: for a sensor in volts.
            scale: f64 = Number, [usual 1.0];
            /// As `scale`.
            offset: f64 = Number, [usual 0.0];
            /// The temperature column, where there is one.
            temperature: Option<Column> = AColumn, [optional];
            /// Its unit; kelvins where none is stated.
            temperature_unit: Option<ColumnUnit<ThermodynamicTemperature>> =
                AUnit("a unit of temperature"), [beside "temperature" "3"];
            /// Readings of one time: an error, or their mean.
            repeated_times: RepeatedTimes = Word(&RepeatedTimes::NAMES), [usual RepeatedTimes::Error];
            /// Rows that lack a number: an error, or left out.
            empty_cells: EmptyCells = Word(&EmptyCells::NAMES), [usual EmptyCells::Error];
        }
    };
}
pub(crate) use reading_profile;

macro_rules! made_of {
    ($($(#[doc = $doc:literal])+ $key:ident: $type:ty = $form:expr, [$($usual:tt)+];)+) => {
        /// How a foreign logger's file is to be read: text, rows, columns, units. The names of the fields are the keys of a bench
        /// sheet's `[profiles.NAME]`; only the two columns are needed there.
        #[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
        #[serde(try_from = "Stated")]
        pub struct ReadingProfile {
            $($(#[doc = $doc])+ pub $key: $type,)+
        }

        /// What is stated of a profile in a serde format.
        #[derive(Deserialize)]
        #[serde(deny_unknown_fields)]
        struct Stated {
            $($key: Option<$type>,)+
        }

        impl TryFrom<Stated> for ReadingProfile {
            type Error = &'static str;

            fn try_from(stated: Stated) -> Result<Self, Self::Error> {
                Ok(Self {
                    $($key: made_of!(@stated stated.$key, $key $($usual)+),)+
                })
            }
        }

        impl ReadingProfile {
            /// What is usual, with columns that no file has.
            fn usual() -> Self {
                Self {
                    $($key: made_of!(@usual $($usual)+),)+
                }
            }
        }
    };
    (@usual usual $usual:expr) => { $usual };
    (@usual needed $example:literal) => { Column::Number(0) };
    (@usual $($none:tt)+) => { None };
    (@stated $stated:expr, $key:ident usual $usual:expr) => { $stated.unwrap_or_else(|| $usual) };
    (@stated $stated:expr, $key:ident needed $example:literal) => {
        $stated.ok_or(concat!("missing field `", stringify!($key), "`"))?
    };
    (@stated $stated:expr, $key:ident $($none:tt)+) => { $stated.unwrap_or_default() };
}
reading_profile!(made_of);

impl ReadingProfile {
    /// A profile of these two columns, and else of the format that needs none: commas, decimal points, a header, seconds;
    /// the pressure in pascals of gauge pressure.
    #[must_use]
    pub fn new(time: Column, pressure: Column) -> Self {
        Self {
            time,
            pressure,
            ..Self::usual()
        }
    }

    /// Checks what a profile says against itself.
    ///
    /// # Errors
    /// [`ProfileError`] names the key.
    pub fn check(&self) -> Result<(), ProfileError> {
        self.check_marks()?;
        if !(self.scale.is_finite() && self.scale != 0.0) {
            let got = self.scale;
            return Err(ProfileError::Scale { key: "scale", got });
        }
        if !self.offset.is_finite() {
            let got = self.offset;
            return Err(ProfileError::Scale { key: "offset", got });
        }
        self.check_columns()
    }

    /// No mark may stand for two things, or for what a number is written with.
    fn check_marks(&self) -> Result<(), ProfileError> {
        let taken = |mark: char| {
            mark.is_alphanumeric() || matches!(mark, '"' | '\n' | '\r' | '+' | '-' | '\u{2212}')
        };
        let separator = self.separator;
        if !separator.is_ascii() || taken(separator) || separator == '\0' {
            return Err(ProfileError::Separator { got: separator });
        }
        if !matches!(self.decimal, '.' | ',') {
            return Err(ProfileError::Decimal { got: self.decimal });
        }
        if separator == self.decimal {
            return Err(ProfileError::SameMark { mark: separator });
        }
        for (key, mark, decimal) in [
            // Whole numbers need no decimal mark.
            ("time_thousands", self.time_thousands, None),
            (
                "pressure_thousands",
                self.pressure_thousands,
                Some(self.decimal),
            ),
        ] {
            if let Some(got) = mark
                && (taken(got) || got == separator || Some(got) == decimal)
            {
                return Err(ProfileError::Thousands { key, got });
            }
        }
        Ok(())
    }

    /// Columns are counted from one, named only where a header names them, and each is one thing.
    fn check_columns(&self) -> Result<(), ProfileError> {
        let columns = [
            ("time", Some(&self.time)),
            ("pressure", Some(&self.pressure)),
            ("temperature", self.temperature.as_ref()),
        ];
        let mut before: Vec<(&'static str, &Column)> = Vec::new();
        for (key, column) in columns {
            let Some(column) = column else { continue };
            match column {
                Column::Number(0) => return Err(ProfileError::ColumnZero { key }),
                Column::Named(name) if !self.header => {
                    let column = name.clone();
                    return Err(ProfileError::NameWithoutHeader { key, column });
                }
                _ => {}
            }
            if let Some((first, _)) = before.iter().find(|(_, other)| *other == column) {
                return Err(ProfileError::SameColumn {
                    first,
                    second: key,
                    column: column.clone(),
                });
            }
            before.push((key, column));
        }
        Ok(())
    }

    /// Reads a trace as it streams in; memory is that of the numbers kept. Absolute pressures need the ambient.
    ///
    /// # Errors
    /// [`TraceError`] names the first line that is not valid, and what would be right; [`TraceError::Profile`] what is wrong
    /// with the profile itself.
    pub fn read(
        &self,
        source: impl Read,
        ambient: Option<AbsolutePressure>,
    ) -> Result<Trace, TraceError> {
        let mut trace = Trace {
            time_s: Vec::new(),
            gauge_pa: Vec::new(),
            temperature_k: self.temperature.as_ref().map(|_| Vec::new()),
        };
        // How many readings the last row stands for.
        let mut alike = 1.0;
        let blend = |kept: Option<&mut f64>, new: f64, count: f64| {
            if let Some(kept) = kept {
                *kept += (new - *kept) / count;
            }
        };
        self.each(source, ambient, |reading| {
            if reading.repeats {
                alike += 1.0;
                blend(trace.gauge_pa.last_mut(), reading.gauge, alike);
                if let (Some(kept), Some(new)) = (&mut trace.temperature_k, reading.temperature) {
                    blend(kept.last_mut(), new, alike);
                }
                return;
            }
            alike = 1.0;
            trace.time_s.push(reading.time);
            trace.gauge_pa.push(reading.gauge);
            if let (Some(kept), Some(new)) = (&mut trace.temperature_k, reading.temperature) {
                kept.push(new);
            }
        })?;
        trace.shrink();
        Ok(trace)
    }

    /// The line that a reading of [`ReadingProfile::read`], counted from 1, starts on.
    pub(crate) fn line_of_reading(
        &self,
        source: impl Read,
        ambient: Option<AbsolutePressure>,
        reading: usize,
    ) -> Option<u64> {
        let (mut count, mut line) = (0, None);
        // Whatever stops the reading stops it as in the first pass.
        let _ = self.each(source, ambient, |row| {
            count += usize::from(!row.repeats);
            if count == reading && line.is_none() {
                line = Some(row.line);
            }
        });
        line
    }

    /// Hands on each reading of the file.
    fn each(
        &self,
        source: impl Read,
        ambient: Option<AbsolutePressure>,
        keep: impl FnMut(Reading),
    ) -> Result<(), TraceError> {
        self.check()?;
        let ambient = match (self.pressure_kind, ambient) {
            (PressureKind::Gauge, _) => 0.0,
            (PressureKind::Absolute, Some(ambient)) => ambient.pascals(),
            (PressureKind::Absolute, None) => return Err(ProfileError::NoAmbient.into()),
        };
        let layout = Layout {
            separator: u8::try_from(self.separator).unwrap_or(b','),
            comment: self.comment.clone(),
            skip: self.skip_rows,
        };
        let mut rows = Rows::of(Decoded::new(source, self.encoding), layout);
        let header = if self.header {
            let row = rows.next_row()?.ok_or(TraceError::NoTable)?;
            let names: Vec<String> = self.fields(&row).map(text_of_field).collect();
            Some((row.line, names))
        } else {
            None
        };
        // A file that has none of the columns' names may be none of the logger's at all.
        let is_trace = header
            .as_ref()
            .is_some_and(|(_, names)| self.names_one_of(names));
        let read = self
            .places(header.as_ref())
            .and_then(|places| self.each_row(&mut rows, &places, ambient, keep));
        let some = read.map_err(|error| {
            if is_trace {
                error
            } else {
                error.told_of_no_trace()
            }
        })?;
        match header {
            _ if some => Ok(()),
            Some((line, _)) => Err(TraceError::NoRows { line }),
            None => Err(TraceError::NoTable),
        }
    }

    /// Where the columns are in a table with these names.
    fn places(&self, header: Option<&(u64, Vec<String>)>) -> Result<Places, TraceError> {
        Ok(Places {
            time: place(&self.time, header)?,
            pressure: place(&self.pressure, header)?,
            temperature: match &self.temperature {
                Some(column) => Some(place(column, header)?),
                None => None,
            },
        })
    }

    /// Hands on each reading of the rows below the names; whether there was one.
    fn each_row<R: Read>(
        &self,
        rows: &mut Rows<R>,
        places: &Places,
        ambient: f64,
        mut keep: impl FnMut(Reading),
    ) -> Result<bool, TraceError> {
        let mut start: Option<Instant> = None;
        let mut before: Option<f64> = None;
        while let Some(row) = rows.next_row()? {
            let Some(cells) = self.cells(&row, places)? else {
                continue;
            };
            let line = row.line;
            let time = self.seconds(cells.time, line, &mut start)?;
            let gauge = self.pascals(cells.pressure, line)? - ambient;
            let temperature = self.kelvins(cells.temperature, line)?;
            for (value, column, found) in [
                (time, &self.time, cells.time),
                (gauge, &self.pressure, cells.pressure),
            ] {
                if !value.is_finite() {
                    return Err(self.not_a_number(line, column, found, None));
                }
            }
            // Equal to the bit: a clock that did not tick.
            let repeats = before.is_some_and(|before| before.total_cmp(&time).is_eq());
            if repeats && self.repeated_times == RepeatedTimes::Error {
                return Err(TraceError::RepeatedTime { line, time_s: time });
            }
            before = Some(time);
            keep(Reading {
                line,
                time,
                gauge,
                temperature,
                repeats,
            });
        }
        Ok(before.is_some())
    }

    /// Whether one of these names, or a part of it where another separator was meant, is that of a column.
    fn names_one_of(&self, names: &[String]) -> bool {
        let apart = |c: char| !c.is_alphanumeric();
        [&self.time, &self.pressure].into_iter().any(|column| {
            let Column::Named(name) = column else {
                return false;
            };
            names.iter().any(|other| {
                same_name(name, other) || other.split(apart).any(|part| same_name(name, part))
            })
        })
    }

    /// The fields of a row; of runs of spaces only what stands between them.
    fn fields<'r>(&self, row: &Row<'r>) -> impl Iterator<Item = &'r [u8]> + use<'r> {
        let spaces = self.separator == ' ';
        row.fields
            .iter()
            .filter(move |field| !spaces || !field.is_empty())
    }

    /// The text of the cells that are kept; none where the row is left out.
    fn cells<'r>(&self, row: &Row<'r>, places: &Places) -> Result<Option<Cells<'r>>, TraceError> {
        let cell = |place: usize, column: &Column| -> Result<&'r str, TraceError> {
            let field = self
                .fields(row)
                .nth(place)
                .ok_or_else(|| TraceError::CutOff {
                    line: row.line,
                    column: column.to_string(),
                    got: self.fields(row).count(),
                })?;
            // Lines were checked to be text.
            Ok(std::str::from_utf8(field).unwrap_or_default().trim())
        };
        let missing = self.empty_cells == EmptyCells::Skip;
        let cells = Cells {
            time: cell(places.time, &self.time)?,
            pressure: cell(places.pressure, &self.pressure)?,
            temperature: match (&self.temperature, places.temperature) {
                (Some(column), Some(place)) => Some(cell(place, column)?),
                _ => None,
            },
        };
        let empty =
            cells.time.is_empty() || cells.pressure.is_empty() || cells.temperature == Some("");
        Ok((!(missing && empty)).then_some(cells))
    }

    /// A time \[s\]; a date's is that since the first one, which is kept in `start`.
    fn seconds(
        &self,
        text: &str,
        line: u64,
        start: &mut Option<Instant>,
    ) -> Result<f64, TraceError> {
        if self.time_unit == TimeUnit::Date {
            let instant = Instant::parse(text).ok_or_else(|| TraceError::NotADate {
                line,
                column: self.time.to_string(),
                found: quoted(text, true),
            })?;
            return Ok(instant.seconds_after(*start.get_or_insert(instant)));
        }
        let number = self.number(text, line, &self.time, self.time_thousands)?;
        Ok(self.time_unit.seconds(number))
    }

    /// A pressure as the file counts it, gauge or absolute \[Pa\].
    fn pascals(&self, text: &str, line: u64) -> Result<f64, TraceError> {
        let number = self.number(text, line, &self.pressure, self.pressure_thousands)?;
        let scaled = self.offset + self.scale * number;
        Ok(self.pressure_unit.unit.to_si(scaled))
    }

    /// A temperature \[K\], where the profile has a column of them.
    fn kelvins(&self, text: Option<&str>, line: u64) -> Result<Option<f64>, TraceError> {
        let (Some(column), Some(text)) = (&self.temperature, text) else {
            return Ok(None);
        };
        let number = self.number(text, line, column, None)?;
        let unit = self.temperature_unit.unwrap_or_else(ColumnUnit::si).unit;
        Ok(Some(unit.to_si(number)))
    }

    /// A number as this profile writes it.
    fn number(
        &self,
        text: &str,
        line: u64,
        column: &Column,
        thousands: Option<char>,
    ) -> Result<f64, TraceError> {
        parse_number(text, self.decimal, thousands)
            .ok_or_else(|| self.not_a_number(line, column, text, thousands))
    }

    fn not_a_number(
        &self,
        line: u64,
        column: &Column,
        found: &str,
        thousands: Option<char>,
    ) -> TraceError {
        TraceError::NotANumberHere {
            line,
            column: column.to_string(),
            found: quoted(found, true),
            decimal: self.decimal,
            thousands,
        }
    }
}

/// A reading as it comes.
struct Reading {
    line: u64,
    time: f64,
    gauge: f64,
    temperature: Option<f64>,
    repeats: bool,
}

/// Where the columns are, from 0.
struct Places {
    time: usize,
    pressure: usize,
    temperature: Option<usize>,
}

struct Cells<'r> {
    time: &'r str,
    pressure: &'r str,
    temperature: Option<&'r str>,
}

fn same_name(name: &str, other: &str) -> bool {
    other.to_lowercase() == name.trim().to_lowercase()
}

fn text_of_field(field: &[u8]) -> String {
    String::from_utf8_lossy(field.trim_ascii()).into_owned()
}

/// Where a column is, from 0.
fn place(column: &Column, header: Option<&(u64, Vec<String>)>) -> Result<usize, TraceError> {
    let missing = |line: u64, names: &[String]| TraceError::NoColumn {
        line,
        column: column.to_string(),
        found: quoted(&names.join(" | "), true),
    };
    match (column, header) {
        (Column::Number(number), Some((line, names))) if *number > names.len() => {
            Err(missing(*line, names))
        }
        (Column::Number(number), _) => Ok(number.saturating_sub(1)),
        (Column::Named(name), header) => {
            let (line, names) = header.map_or((0, [].as_slice()), |(line, names)| (*line, names));
            let mut found = names
                .iter()
                .enumerate()
                .filter(|(_, other)| same_name(name, other));
            match (found.next(), found.next()) {
                (Some((place, _)), None) => Ok(place),
                (Some((_, first)), Some((_, second))) => Err(TraceError::TwoColumns {
                    line,
                    first: first.clone(),
                    second: second.clone(),
                }),
                (None, _) => Err(missing(line, names)),
            }
        }
    }
}

/// A finite number with this decimal mark; a thousands mark parts its whole part in groups of three digits or is not there.
fn parse_number(text: &str, decimal: char, thousands: Option<char>) -> Option<f64> {
    let plain = decimal == '.' && thousands.is_none();
    let parsed: f64 = if plain && !text.starts_with('\u{2212}') {
        text.parse().ok()?
    } else {
        let mut digits = String::with_capacity(text.len());
        // Where the marks are alike, every one of them parts thousands.
        let (whole, fraction) = match text.split_once(decimal) {
            Some((whole, fraction)) if thousands != Some(decimal) => (whole, Some(fraction)),
            _ => (text, None),
        };
        let unsigned = whole.strip_prefix(['+', '-', '\u{2212}']).unwrap_or(whole);
        if unsigned.len() < whole.len() && !whole.starts_with('+') {
            digits.push('-');
        }
        match thousands {
            Some(mark) if unsigned.contains(mark) => {
                for (place, group) in unsigned.split(mark).enumerate() {
                    let wanted = if place == 0 { 1..=3 } else { 3..=3 };
                    if !wanted.contains(&group.len()) || !group.bytes().all(|b| b.is_ascii_digit())
                    {
                        return None;
                    }
                    digits.push_str(group);
                }
            }
            _ => digits.push_str(unsigned),
        }
        // A mark that is not this profile's: nobody knows what it means.
        if digits.contains(['.', ',']) || fraction.is_some_and(|f| f.contains(['.', ','])) {
            return None;
        }
        if let Some(fraction) = fraction {
            digits.push('.');
            digits.push_str(fraction);
        }
        digits.parse().ok()?
    };
    Some(parsed).filter(|number| number.is_finite())
}

#[cfg(test)]
#[path = "profile_tests.rs"]
mod tests;
