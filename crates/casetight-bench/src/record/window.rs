//! Which readings of a trace are used, and why.

use std::fmt;
use std::ops::Range;

use super::phase::PhaseKind;

/// What a hold lies next to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Edge {
    /// The trace's first or last reading.
    Trace,
    /// Pumping.
    Pump,
    /// Settling.
    Settling,
    /// A disturbance.
    Disturbance,
    /// Venting.
    Vent,
    /// Rest near zero.
    Idle,
}

impl Edge {
    pub(super) fn of(neighbor: Option<PhaseKind>) -> Self {
        match neighbor {
            None | Some(PhaseKind::Hold) => Self::Trace,
            Some(PhaseKind::Pump) => Self::Pump,
            Some(PhaseKind::Settle) => Self::Settling,
            Some(PhaseKind::Disturbance) => Self::Disturbance,
            Some(PhaseKind::Vent) => Self::Vent,
            Some(PhaseKind::Idle) => Self::Idle,
        }
    }

    fn words(self) -> &'static str {
        match self {
            Self::Trace => "",
            Self::Pump => "pumping",
            Self::Settling => "settling",
            Self::Disturbance => "a disturbance",
            Self::Vent => "venting",
            Self::Idle => "the rest at zero",
        }
    }
}

/// Why these readings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Chosen {
    /// The trace is one hold, and all of it is used.
    Whole,
    /// The user stated it.
    Stated,
    /// The longest undisturbed hold that was found.
    Found {
        /// What comes before it.
        after: Edge,
        /// What comes after it.
        before: Edge,
        /// Of how many holds.
        of_holds: usize,
        /// Whether settling, where there was any, was over before the middle of the decay.
        settled: bool,
    },
}

/// The readings of a trace that are used, shown as a sentence ([`fmt::Display`]).
#[derive(Debug, Clone, PartialEq)]
pub struct Window {
    /// The readings, counted from 0.
    pub rows: Range<usize>,
    /// How many readings the trace has.
    pub of_rows: usize,
    /// Time \[s\] of the first reading used.
    pub from_s: f64,
    /// Time \[s\] of the last reading used.
    pub to_s: f64,
    /// Why these.
    pub chosen: Chosen,
}

/// What can be wrong with a stated window.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum WindowError {
    /// Its ends are not in order, or not numbers.
    #[error("the window from {from_s} s to {to_s} s is empty; write the earlier time first")]
    Empty {
        /// Its start \[s\].
        from_s: f64,
        /// Its end \[s\].
        to_s: f64,
    },
    /// Too few readings lie in it.
    #[error(
        "{got} reading(s) between {from_s} s and {to_s} s; the trace goes from {first_s} s to {last_s} s, and a fall needs at least two readings"
    )]
    TooFew {
        /// Its start \[s\].
        from_s: f64,
        /// Its end \[s\].
        to_s: f64,
        /// How many readings lie in it.
        got: usize,
        /// Time \[s\] of the trace's first reading.
        first_s: f64,
        /// Time \[s\] of the trace's last reading.
        last_s: f64,
    },
}

impl Window {
    /// The readings from one time to another, both included; the times \[s\] rise.
    ///
    /// ```
    /// use casetight_bench::record::Window;
    ///
    /// let window = Window::stated(&[0.0, 1.0, 2.0, 3.0], 0.5, 3.0)?;
    /// assert_eq!(window.rows, 1..4);
    /// assert_eq!(
    ///     window.to_string(),
    ///     "3 of the trace's 4 readings are used, 1 s to 3 s, as the sheet's window says"
    /// );
    /// # Ok::<(), casetight_bench::record::WindowError>(())
    /// ```
    ///
    /// # Errors
    /// [`WindowError`] for ends out of order and for fewer than two readings.
    pub fn stated(time_s: &[f64], from_s: f64, to_s: f64) -> Result<Self, WindowError> {
        if !(from_s.is_finite() && to_s.is_finite() && from_s < to_s) {
            return Err(WindowError::Empty { from_s, to_s });
        }
        let rows = time_s.partition_point(|time| *time < from_s)
            ..time_s.partition_point(|time| *time <= to_s);
        let inside = time_s.get(rows.clone()).unwrap_or_default();
        match inside {
            [first, .., last] => Ok(Self {
                of_rows: time_s.len(),
                from_s: *first,
                to_s: *last,
                chosen: Chosen::Stated,
                rows,
            }),
            _ => Err(WindowError::TooFew {
                from_s,
                to_s,
                got: inside.len(),
                first_s: time_s.first().copied().unwrap_or(f64::NAN),
                last_s: time_s.last().copied().unwrap_or(f64::NAN),
            }),
        }
    }

    /// Whether readings of the trace are left out.
    #[must_use]
    pub fn leaves_out(&self) -> bool {
        self.rows.len() < self.of_rows
    }
}

/// Seconds without the digits that say nothing.
pub(super) fn seconds(time: f64) -> f64 {
    (time * 1e3).round() / 1e3
}

impl fmt::Display for Window {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.chosen == Chosen::Whole {
            return write!(f, "All {} readings of the trace are used", self.of_rows);
        }
        write!(
            f,
            "{} of the trace's {} readings are used, {} s to {} s, ",
            self.rows.len(),
            self.of_rows,
            seconds(self.from_s),
            seconds(self.to_s)
        )?;
        let Chosen::Found {
            after,
            before,
            of_holds,
            settled,
        } = self.chosen
        else {
            return f.write_str("as the sheet's window says");
        };
        f.write_str("the ")?;
        if of_holds > 1 {
            write!(f, "longest of {of_holds} undisturbed holds")?;
        } else {
            f.write_str("hold that was found")?;
        }
        match (after, before) {
            (Edge::Trace, Edge::Trace) => {}
            (after, Edge::Trace) => write!(f, ", after {}", after.words())?,
            (Edge::Trace, before) => write!(f, ", before {}", before.words())?,
            (after, before) => {
                let (after, before) = (after.words(), before.words());
                write!(f, ", after {after} and before {before}")?;
            }
        }
        if !settled {
            f.write_str("; it may not have settled yet")?;
        }
        f.write_str(". State `window = [from_s, to_s]` in the run to choose another")
    }
}
