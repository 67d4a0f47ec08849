//! The file that a run grows in: each reading is on the disk before it is used.

use std::fs::{File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use casetight::quantity::Unit;
use casetight::record::{Trace, TraceError};

use super::LiveError;
use crate::files::{FileError, folder_of};

/// Leads the comment that says when the clock of a run stood at zero.
const CLOCK_ZERO: &str = "# time_s counts from unix time ";

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
}

fn header(unit: &Unit) -> String {
    format!("time_s,gauge_{}", unit.symbol().to_lowercase())
}

impl GrowingTrace {
    /// A trace that is not there yet.
    pub(super) fn start(
        path: &Path,
        unit: &Unit,
        clock_zero: Option<SystemTime>,
    ) -> Result<Self, LiveError> {
        let opened = OpenOptions::new().append(true).create_new(true).open(path);
        let file = match opened {
            Ok(file) => file,
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {
                return Err(LiveError::IsThere {
                    path: path.to_owned(),
                });
            }
            Err(source) => {
                return Err(FileError::Write {
                    path: path.to_owned(),
                    source,
                }
                .into());
            }
        };
        let mut trace = Self {
            path: path.to_owned(),
            file,
        };
        let mut head = String::new();
        if let Some(since) = clock_zero.and_then(|zero| zero.duration_since(UNIX_EPOCH).ok()) {
            head = format!("{CLOCK_ZERO}{:.3} s\n", since.as_secs_f64());
        }
        trace.append(&format!("{head}{}\n", header(unit)))?;
        // The file's name is kept safe with its folder; where that can't be, the file still is.
        let folder = folder_of(path);
        let folder = if folder.as_os_str().is_empty() {
            Path::new(".")
        } else {
            folder
        };
        let _ = File::open(folder).and_then(|folder| folder.sync_all());
        Ok(trace)
    }

    /// A trace that was left. A line that a crash tore is taken off its end.
    pub(super) fn resume(path: &Path, unit: &Unit) -> Result<(Self, Before), LiveError> {
        let read_error = |source| FileError::Read {
            path: path.to_owned(),
            source,
        };
        let mut bytes = std::fs::read(path).map_err(read_error)?;
        let whole = bytes
            .iter()
            .rposition(|b| *b == b'\n')
            .map_or(0, |at| at + 1);
        let torn = bytes.split_off(whole);
        let trace_error = |source: TraceError| LiveError::Trace {
            path: path.to_owned(),
            source,
        };
        let text = String::from_utf8_lossy(&bytes);
        let mut lines = text.lines();
        let expected = header(unit);
        let found = lines.clone().find(|line| !line.starts_with('#'));
        if found != Some(&*expected) {
            return Err(LiveError::OtherColumns {
                path: path.to_owned(),
                found: found.unwrap_or_default().to_owned(),
                expected,
            });
        }
        let clock_zero = lines
            .find_map(|line| line.strip_prefix(CLOCK_ZERO))
            .and_then(|rest| rest.trim_end_matches(" s").parse().ok())
            .and_then(|seconds| Duration::try_from_secs_f64(seconds).ok())
            .map(|since| UNIX_EPOCH + since);
        let readings = match Trace::from_bytes(&bytes) {
            Ok(trace) => Some(trace),
            Err(TraceError::NoRows { .. }) => None,
            Err(error) => return Err(trace_error(error)),
        };
        let append_error = |source| FileError::Append {
            path: path.to_owned(),
            source,
        };
        let file = OpenOptions::new()
            .append(true)
            .open(path)
            .map_err(append_error)?;
        if !torn.is_empty() {
            file.set_len(whole as u64).map_err(append_error)?;
        }
        let before = Before {
            readings,
            clock_zero,
            torn: (!torn.is_empty()).then(|| String::from_utf8_lossy(&torn).into_owned()),
        };
        let path = path.to_owned();
        Ok((Self { path, file }, before))
    }

    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    /// Puts a reading on the disk, in the unit of the trace.
    pub(super) fn add(&mut self, time_s: f64, gauge: f64) -> Result<(), LiveError> {
        self.append(&format!("{time_s},{gauge}\n"))
    }

    fn append(&mut self, text: &str) -> Result<(), LiveError> {
        // One write, so that a crash leaves at most one torn line, at the end.
        let done = self
            .file
            .write_all(text.as_bytes())
            .and_then(|()| self.file.sync_data());
        done.map_err(|source| {
            FileError::Append {
                path: self.path.clone(),
                source,
            }
            .into()
        })
    }
}
