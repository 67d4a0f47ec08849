//! A logger's trace: a CSV file of times and gauge pressures, read as it streams in.
//!
//! The first line names the columns, in any order: `time_s` and one `gauge_<unit>` (`gauge_kpa`, `gauge_psi`,
//! `gauge_inhg` and so on, any unit of [`GaugePressure`](casetight::quantity::GaugePressure)), and, if the logger keeps it, `temperature_c` or
//! `temperature_k`. Other columns are ignored, as are blank lines and lines that start with `#`. Columns are parted by
//! commas, numbers have a decimal point, the text is UTF-8 (with or without a byte order mark). Other files are read by a
//! [`ReadingProfile`](super::ReadingProfile).
//!
//! ```
//! use casetight_bench::record::{Trace, TraceError};
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

use std::io::Read;

use super::rows::{Columns, Rows};
use super::trace_error::TraceError;
use super::window::Window;

/// Times and gauge pressures as logged, of the same length, at least one.
///
/// Nothing is checked here beyond each number being one: [`Readings`](casetight::readings::Readings) says what a run may be.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    /// Times \[s\].
    pub time_s: Vec<f64>,
    /// Gauge pressures \[Pa\].
    pub gauge_pa: Vec<f64>,
    /// Temperatures \[K\], where there is a column of them.
    pub temperature_k: Option<Vec<f64>>,
}

impl Trace {
    /// A trace from the bytes of a CSV file.
    ///
    /// # Errors
    /// [`TraceError`] names the first line that is not valid.
    pub fn from_bytes(bytes: &[u8]) -> Result<Self, TraceError> {
        Self::from_reader(bytes)
    }

    /// A trace from a CSV file as it streams in. Memory is that of the numbers kept, whatever the file's size.
    ///
    /// # Errors
    /// [`TraceError`] names the first line that is not valid.
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

#[cfg(test)]
mod tests {
    use std::fmt::Write as _;

    use proptest::prelude::*;

    use super::*;
    use crate::record::{Encoding, EncodingError};
    use std::io;

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
