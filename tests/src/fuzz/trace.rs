//! A logger's trace: what is read is whole, and reads the same however it comes and written again.

use std::fmt::Write as _;
use std::io::{self, Read};

use casetight_bench::record::Trace;

use super::{Fault, ensure, readable};

/// Any bytes as a trace.
///
/// # Errors
/// What is wrong with the answer.
pub fn invariant(bytes: &[u8]) -> Result<(), Fault> {
    let read = Trace::from_bytes(bytes);
    let dripped = Trace::from_reader(Dripping(bytes));
    ensure(dripped == read, || {
        format!("read at once {read:?}, byte by byte {dripped:?}")
    })?;
    let trace = match read {
        Ok(trace) => trace,
        Err(error) => return readable(&error),
    };
    whole(&trace)?;
    let again = Trace::from_bytes(written(&trace).as_bytes());
    ensure(again.as_ref() == Ok(&trace), || {
        format!("{trace:?} written and read again is {again:?}")
    })
}

/// Columns of one length, not empty, each number finite.
pub(super) fn whole(trace: &Trace) -> Result<(), Fault> {
    let Trace {
        time_s,
        gauge_pa,
        temperature_k,
    } = trace;
    let lengths = [time_s.len(), gauge_pa.len()];
    let rows = temperature_k.as_ref().map_or(time_s.len(), Vec::len);
    ensure(!time_s.is_empty() && lengths == [rows; 2], || {
        format!("columns of {lengths:?} and {rows}")
    })?;
    let mut numbers = time_s
        .iter()
        .chain(gauge_pa)
        .chain(temperature_k.iter().flatten());
    ensure(numbers.all(|number| number.is_finite()), || {
        format!("a number that is none: {trace:?}")
    })
}

/// The same as a file in SI units.
fn written(trace: &Trace) -> String {
    let mut text = "time_s,gauge_pa".to_owned();
    if trace.temperature_k.is_some() {
        text.push_str(",temperature_k");
    }
    for (row, (time, gauge)) in trace.time_s.iter().zip(&trace.gauge_pa).enumerate() {
        let _ = write!(text, "\n{time},{gauge}");
        if let Some(kelvins) = trace.temperature_k.as_ref().and_then(|all| all.get(row)) {
            let _ = write!(text, ",{kelvins}");
        }
    }
    text.push('\n');
    text
}

/// A source that hands out one byte at a time.
struct Dripping<'b>(&'b [u8]);

impl Read for Dripping<'_> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let room = into.len().min(1);
        self.0.read(into.get_mut(..room).unwrap_or_default())
    }
}
