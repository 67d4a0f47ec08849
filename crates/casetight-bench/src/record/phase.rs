//! What a stretch of a recording is.

use std::fmt;
use std::ops::Range;

/// What happens in a part of a trace.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum PhaseKind {
    /// The needle rests near zero.
    Idle,
    /// The needle is brought up, in strokes or at once, or down in a vacuum test; or a supply holds it there.
    Pump,
    /// Gas takes the wall's temperature.
    Settle,
    /// The case is shut and the needle goes where the leak lets it.
    Hold,
    /// A bumped hose, a spike, a dropout.
    Disturbance,
    /// The case is opened.
    Vent,
}

impl fmt::Display for PhaseKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Idle => "idle",
            Self::Pump => "pump",
            Self::Settle => "settle",
            Self::Hold => "hold",
            Self::Disturbance => "disturbance",
            Self::Vent => "vent",
        })
    }
}

/// A part of a trace.
#[derive(Debug, Clone, PartialEq)]
pub struct Phase {
    /// What happens.
    pub kind: PhaseKind,
    /// Its readings, counted from 0.
    pub rows: Range<usize>,
    /// Time \[s\] of its first reading.
    pub start_s: f64,
    /// Time \[s\] of its last reading.
    pub end_s: f64,
}
