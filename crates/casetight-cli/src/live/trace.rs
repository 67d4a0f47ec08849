//! The file that a run grows in: each reading is on the disk before it is used.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use casetight::quantity::Unit;
use casetight_bench::record::{Trace, TraceError};
use casetight_files::{LARGEST_TRACE, folder_of, open_capped};

use super::LiveError;
use crate::files::{FileError, not_read, not_written};

/// Leads the comment that says when the clock of a run stood at zero.
const CLOCK_ZERO: &str = "# time_s counts from unix time ";

/// Starts the line of the columns' names; the unit follows.
const HEADER: &str = "time_s,gauge_";

/// A trace that grows.
#[derive(Debug)]
pub(super) struct GrowingTrace {
    path: PathBuf,
    file: File,
}

/// What stood in a trace that is gone on with.
#[derive(Debug, Default)]
pub(super) struct Before {
    /// Its readings; none where it was left before the first.
    pub(super) readings: Option<Trace>,
    /// When its clock stood at zero, where it kept one.
    pub(super) clock_zero: Option<SystemTime>,
    /// What a crash left of a line, taken off.
    pub(super) torn: Option<String>,
    /// A last line without its end, kept.
    pub(super) unended: Option<String>,
}

fn header(unit: &Unit) -> String {
    format!("{HEADER}{}", unit.symbol().to_lowercase())
}

/// Whether a file is one that a live run left before its first reading: empty, or with nothing but what such a run writes above
/// readings. A file with anything else in it, a note even, is nobody's to begin anew.
pub(crate) fn holds_no_readings(path: &Path) -> bool {
    /// Nothing longer is.
    const MOST: u64 = 1 << 10;
    let mut bytes = Vec::new();
    let whole = open_capped(path, MOST).and_then(|mut file| file.read_to_end(&mut bytes));
    whole.is_ok() && are_no_readings(&bytes)
}

fn are_no_readings(bytes: &[u8]) -> bool {
    let above = |line: &str| {
        line.starts_with(CLOCK_ZERO) || CLOCK_ZERO.starts_with(line) || is_header(line)
    };
    std::str::from_utf8(bytes).is_ok_and(|text| text.lines().all(above))
}

/// A line of the columns' names, or what a full disk left of it.
fn is_header(line: &str) -> bool {
    line.starts_with(HEADER) || HEADER.starts_with(line)
}

/// Of a file that no live run began, nothing is told.
fn check_columns(path: &Path, text: &str, unit: &Unit) -> Result<(), LiveError> {
    let expected = header(unit);
    let found = text.lines().find(|line| !line.starts_with('#'));
    if found == Some(&*expected) {
        return Ok(());
    }
    let found = found.filter(|line| is_header(line));
    Err(LiveError::OtherColumns {
        path: path.to_owned(),
        found: found.map(str::to_owned),
        expected,
    })
}

/// When the clock stood at zero, where the trace says it.
fn clock_zero_of(text: &str) -> Option<SystemTime> {
    text.lines()
        .find_map(|line| line.strip_prefix(CLOCK_ZERO))
        .and_then(|rest| rest.trim_end_matches(" s").parse().ok())
        .and_then(|seconds| Duration::try_from_secs_f64(seconds).ok())
        .map(|since| UNIX_EPOCH + since)
}

/// A reading that was written whole but for the end of its line: time and gauge, and the last digit.
fn is_reading(line: &[u8]) -> bool {
    let Ok(text) = std::str::from_utf8(line) else {
        return false;
    };
    let numbers: Vec<_> = text.split(',').map(str::parse::<f64>).collect();
    matches!(*numbers, [Ok(_), Ok(_)]) && text.ends_with(|c: char| c.is_ascii_digit())
}

impl GrowingTrace {
    /// A trace that is not there yet, or that holds no reading yet.
    pub(super) fn start(
        path: &Path,
        unit: &Unit,
        clock_zero: Option<SystemTime>,
    ) -> Result<Self, LiveError> {
        let not_written = |source| not_written(path, source);
        let opened = OpenOptions::new().append(true).create_new(true).open(path);
        let (mut trace, is_new) = match opened {
            Ok(file) => (Self::growing(path, file)?, true),
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {
                let (trace, bytes) = Self::there(path)?;
                if !are_no_readings(&bytes) {
                    return Err(LiveError::IsThere {
                        path: path.to_owned(),
                    });
                }
                (trace, false)
            }
            Err(source) => return Err(not_written(source).into()),
        };
        if let Err(source) = trace.begin(unit, clock_zero) {
            // A file that says nothing is in the way of the next attempt.
            if is_new {
                let _ = std::fs::remove_file(path);
            }
            return Err(not_written(source).into());
        }
        // The file's name is kept safe with its folder; where that is not possible, the file still is.
        let _ = File::open(folder_of(path)).and_then(|folder| folder.sync_all());
        Ok(trace)
    }

    /// Writes what stands above readings, and nothing else.
    fn begin(&mut self, unit: &Unit, clock_zero: Option<SystemTime>) -> io::Result<()> {
        let mut head = String::new();
        if let Some(since) = clock_zero.and_then(|zero| zero.duration_since(UNIX_EPOCH).ok()) {
            head = format!("{CLOCK_ZERO}{:.3} s\n", since.as_secs_f64());
        }
        self.file.set_len(0)?;
        self.write(&format!("{head}{}\n", header(unit)))
    }

    /// A trace that no other live run can write on as long as this one does.
    fn growing(path: &Path, file: File) -> Result<Self, LiveError> {
        let path = path.to_owned();
        match file.try_lock() {
            Err(TryLockError::WouldBlock) => Err(LiveError::InUse { path }),
            // A file system without locks is no reason to test no engine.
            Ok(()) | Err(TryLockError::Error(_)) => Ok(Self { path, file }),
        }
    }

    /// A trace that is there, and what stands in it.
    fn there(path: &Path) -> Result<(Self, Vec<u8>), LiveError> {
        let read_error = |source| not_read(path, source);
        // Neither a pipe nor a device.
        open_capped(path, LARGEST_TRACE).map_err(read_error)?;
        let file = OpenOptions::new().read(true).append(true).open(path);
        let trace = Self::growing(path, file.map_err(|source| not_appended(path, source))?)?;
        let mut bytes = Vec::new();
        (&trace.file)
            .take(LARGEST_TRACE)
            .read_to_end(&mut bytes)
            .map_err(read_error)?;
        Ok((trace, bytes))
    }

    /// A trace that was left. A line that a crash tore is taken off its end; a reading that lacks no more than the end of its line
    /// is kept. One without readings is begun anew, with this zero of the clock.
    pub(super) fn resume(
        path: &Path,
        unit: &Unit,
        clock_zero: Option<SystemTime>,
    ) -> Result<(Self, Before), LiveError> {
        let (mut trace, mut bytes) = Self::there(path)?;
        let append_error = |source| not_appended(path, source);
        if are_no_readings(&bytes) {
            trace.begin(unit, clock_zero).map_err(append_error)?;
            let before = Before {
                clock_zero,
                ..Before::default()
            };
            return Ok((trace, before));
        }
        let whole = bytes
            .iter()
            .rposition(|b| *b == b'\n')
            .map_or(0, |at| at + 1);
        let last = bytes.split_off(whole);
        let text_of = |line: &[u8]| String::from_utf8_lossy(line).into_owned();
        let mut before = Before::default();
        if is_reading(&last) {
            bytes.extend_from_slice(&last);
            bytes.push(b'\n');
            before.unended = Some(text_of(&last));
        } else if !last.is_empty() {
            before.torn = Some(text_of(&last));
        }
        let text = String::from_utf8_lossy(&bytes);
        check_columns(path, &text, unit)?;
        before.clock_zero = clock_zero_of(&text);
        before.readings = match Trace::from_bytes(&bytes) {
            Ok(trace) => Some(trace),
            Err(TraceError::NoRows { .. }) => None,
            Err(source) => {
                return Err(LiveError::Trace {
                    path: path.to_owned(),
                    source,
                });
            }
        };
        // Written on only now that it is known for a live run's.
        if before.unended.is_some() {
            trace.append("\n")?;
        }
        if before.torn.is_some() {
            trace.file.set_len(whole as u64).map_err(append_error)?;
        }
        Ok((trace, before))
    }

    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    /// Puts a reading on the disk, in the unit of the trace.
    pub(super) fn add(&mut self, time_s: f64, gauge: f64) -> Result<(), LiveError> {
        self.append(&format!("{time_s},{gauge}\n"))
    }

    fn append(&mut self, text: &str) -> Result<(), LiveError> {
        self.write(text)
            .map_err(|source| not_appended(&self.path, source).into())
    }

    fn write(&mut self, text: &str) -> io::Result<()> {
        let before = self.file.metadata()?.len();
        // One write, so that a crash leaves at most one torn line, at the end.
        let done = self
            .file
            .write_all(text.as_bytes())
            .and_then(|()| self.file.sync_data());
        if done.is_err() {
            // What a full disk took of a line is no reading.
            let _ = self.file.set_len(before);
        }
        done
    }
}

/// What kept a trace from growing.
fn not_appended(path: &Path, source: io::Error) -> FileError {
    FileError::Append {
        path: path.to_owned(),
        source,
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test may fail")]
mod tests {
    use super::*;

    #[test]
    fn what_a_live_run_leaves_before_its_first_reading() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("bench-live.csv");
        for (text, none) in [
            ("", true),
            ("time_s,gau", true),
            (
                "# time_s counts from unix time 1.000 s\ntime_s,gauge_kpa\n",
                true,
            ),
            ("# time_s cou", true),
            ("# notes on the saw\n", false),
            ("time_s,gauge_kpa\n0,48\n", false),
            ("time_s,gauge_kpa\n0,48", false),
            ("format = 1\n", false),
        ] {
            std::fs::write(&path, text).unwrap();
            assert_eq!(holds_no_readings(&path), none, "{text}");
        }
        assert!(!holds_no_readings(folder.path()));
    }

    #[test]
    fn a_reading_without_its_line_end_is_told_from_a_torn_one() {
        for (line, whole) in [
            ("18,45.5", true),
            ("18,-7", true),
            ("18,45.", false),
            ("18,", false),
            ("18", false),
            ("18,4e", false),
            ("# 18,4", false),
        ] {
            assert_eq!(is_reading(line.as_bytes()), whole, "{line}");
        }
    }
}
