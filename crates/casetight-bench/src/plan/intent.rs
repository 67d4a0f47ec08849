//! What is to be planned, and what is usual where the sheet does not say.

use crate::pump::HandPump;
use casetight::quantity::{GaugePressure, Time};

/// One pound-force per square inch \[Pa\]. Source: `[SP811]`, appendix B.8, with more digits from its definition.
pub(super) const PSI: f64 = 6_894.757_293_168_361;

/// Pressure, and depth of vacuum, of a test whose sheet states none \[Pa\]: 7 psi (common practice, no source).
pub const TARGET_PA: f64 = 7.0 * PSI;

/// Hold \[s\] of a test whose sheet states none (common practice, no source).
pub const HOLD_SECONDS: f64 = 60.0;

/// Readings are spread over the hold in so many intervals where nothing is stated (common practice, no source).
pub const INTERVALS: f64 = 10.0;

/// How a test is meant to be run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Intent {
    /// Gauge pressure to pump to, below zero for vacuum.
    pub target: GaugePressure,
    /// How long to hold.
    pub hold: Time,
    /// Time from reading to reading.
    pub every: Time,
    /// The pump.
    pub pump: HandPump,
    /// Discharge coefficient that diameters are counted with.
    pub discharge_coefficient: f64,
}
