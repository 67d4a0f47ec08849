//! Where the files come from that a sheet names.

use std::collections::BTreeMap;
use std::io;
use std::io::Read;

/// Where the traces that a sheet names are to be had. This crate opens no file itself.
pub trait Traces {
    /// Opens the trace of this name, as the sheet states it.
    ///
    /// # Errors
    /// What kept it from being opened.
    fn open<'t>(&'t self, file: &str) -> io::Result<Box<dyn Read + 't>>;

    /// Whether the trace of this name is yet to be written, so that what stands in for it says nothing of the run's side of
    /// ambient.
    fn awaits(&self, _file: &str) -> bool {
        false
    }
}

/// No traces: a sheet that names one is an error.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct NoTraces;

impl Traces for NoTraces {
    fn open<'t>(&'t self, _: &str) -> io::Result<Box<dyn Read + 't>> {
        Err(io::Error::new(
            io::ErrorKind::Unsupported,
            "no traces can be read here; put the readings on the sheet",
        ))
    }
}

/// Traces in memory by their names.
impl Traces for BTreeMap<String, Vec<u8>> {
    fn open<'t>(&'t self, file: &str) -> io::Result<Box<dyn Read + 't>> {
        match self.get(file) {
            Some(bytes) => Ok(Box::new(bytes.as_slice())),
            None => Err(io::Error::new(io::ErrorKind::NotFound, "no such trace")),
        }
    }
}
