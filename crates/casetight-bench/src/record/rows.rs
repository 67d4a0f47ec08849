//! The rows of a trace as they are read: header, columns, lines of bounded length.

use std::io::{self, BufRead, BufReader, Read};

use super::encoding::text_of;
use super::trace_error::{LONGEST_LINE, TraceError, quoted};
use casetight::quantity::{GaugePressure, ThermodynamicTemperature, TradeUnits, Unit};

const TIME: &str = "time_s";
const GAUGE: &str = "gauge_";
const TEMPERATURE: &str = "temperature_";

/// Shown where a gauge column is missing.
const GAUGE_COLUMN: &str = "gauge_<unit>, such as gauge_kpa";

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
    pub(super) temperature: Option<Column>,
}

/// The unit of a column's name; capitals don't matter there.
fn unit_of<Q: TradeUnits>(spelling: &str) -> Option<&'static Unit> {
    let same = |unit: &&Unit| unit.symbol().eq_ignore_ascii_case(spelling);
    Q::UNITS
        .iter()
        .find(same)
        .or_else(|| Q::unit(spelling).ok())
}

/// What the names of a header say.
#[derive(Debug, Default)]
struct Named {
    time: Option<Column>,
    gauge: Option<Column>,
    temperature: Option<Column>,
    /// The first gauge column whose unit nobody knows, and that unit.
    unknown: Option<(String, String)>,
}

impl Named {
    fn of(names: &[String], line: u64) -> Result<Self, TraceError> {
        let mut named = Self::default();
        for (index, name) in names.iter().enumerate() {
            let lower = name.to_ascii_lowercase();
            let (place, unit) = if lower == TIME {
                (&mut named.time, None)
            } else if let Some(spelling) = lower.strip_prefix(GAUGE) {
                let Some(unit) = unit_of::<GaugePressure>(spelling) else {
                    named
                        .unknown
                        .get_or_insert_with(|| (quoted(name, true), quoted(spelling, true)));
                    continue;
                };
                (&mut named.gauge, Some(unit))
            } else if let Some(unit) = lower
                .strip_prefix(TEMPERATURE)
                .and_then(unit_of::<ThermodynamicTemperature>)
            {
                (&mut named.temperature, Some(unit))
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
        Ok(named)
    }
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
        let named = Named::of(&names, line)?;
        let missing = |column| TraceError::MissingColumn {
            line,
            column,
            found: found(),
        };
        let time = named.time.ok_or_else(|| missing(TIME))?;
        let gauge = named.gauge.ok_or_else(|| match named.unknown {
            Some((column, unit)) => TraceError::UnknownUnit { line, column, unit },
            None => missing(GAUGE_COLUMN),
        })?;
        Ok(Self {
            line,
            count: names.len(),
            time,
            gauge,
            temperature: named.temperature,
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

    /// Reads up to the end of the next line, of LF, CR LF or CR alone, or as much of it as a line may have.
    fn read_line(&mut self) -> io::Result<()> {
        loop {
            let room = LONGEST_LINE.saturating_sub(self.line.len() as u64);
            let block = match self.source.fill_buf() {
                Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
                block => block?,
            };
            let most = usize::try_from(room).unwrap_or(usize::MAX).min(block.len());
            let block = block.get(..most).unwrap_or_default();
            let end = block.iter().position(|byte| matches!(byte, b'\n' | b'\r'));
            let part = block
                .get(..end.map_or(most, |end| end + 1))
                .unwrap_or_default();
            let (taken, last) = (part.len(), part.last().copied());
            self.line.extend_from_slice(part);
            self.source.consume(taken);
            match last {
                Some(b'\r') => return self.read_line_feed(),
                Some(b'\n') | None => return Ok(()),
                Some(_) => {}
            }
        }
    }

    /// Takes the second half of a CR LF, where it is there.
    fn read_line_feed(&mut self) -> io::Result<()> {
        loop {
            match self.source.fill_buf() {
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                next => {
                    if next?.first() == Some(&b'\n') {
                        self.line.push(b'\n');
                        self.source.consume(1);
                    }
                    return Ok(());
                }
            }
        }
    }

    /// Takes the next line that says something; an empty one at the end.
    fn advance(&mut self) -> Result<(), TraceError> {
        loop {
            self.line.clear();
            self.handed_out = 0;
            let (line, offset) = (self.number + 1, self.offset);
            self.read_line().map_err(|error| TraceError::Read {
                line: self.number,
                kind: error.kind(),
                message: error.to_string(),
            })?;
            let got = self.line.len() as u64;
            if got == 0 {
                return Ok(());
            }
            (self.number, self.offset) = (line, offset + got);
            if line <= self.layout.skip {
                continue;
            }
            let text = text_of(&self.line, offset, line)?;
            if got == LONGEST_LINE && !text.ends_with(['\n', '\r']) {
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
