//! What a gauge shows: the step of its readings, its noise, its accuracy class and the stopwatch beside it.

use crate::quantity::{Pressure, Time};

/// Accuracy class after EN 837-1: the largest permitted error is `class` percent of the span.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AccuracyClass {
    /// Percent of span: 0.1, 0.25, 0.6, 1, 1.6, 2.5 or 4 in EN 837-1; any number above zero is taken.
    pub class: f64,
    /// The span of the scale (from its lowest to its highest mark).
    pub span: Pressure,
}

/// A gauge as its readings see it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gauge {
    step: Pressure,
    noise: Pressure,
    accuracy: Option<AccuracyClass>,
    stopwatch: Time,
}
