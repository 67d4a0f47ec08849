//! What leaves the simulation: readings, what the sheet tells beside them, and the truth.

use super::setup::GaugeKind;

/// What a sheet tells of the bench.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Told {
    /// The gauge, of which only its step is told.
    pub gauge: GaugeKind,
    /// Volume under test \[m3\].
    pub volume_m3: f64,
    /// Its standard uncertainty \[m3\].
    pub volume_uncertainty_m3: f64,
    /// Barometer \[Pa\].
    pub ambient_pa: f64,
    /// Temperature \[K\].
    pub temperature_k: f64,
}

/// A simulated run.
#[derive(Debug, Clone, PartialEq)]
pub struct Simulated {
    /// What the sheet tells.
    pub told: Told,
    /// Noted times \[s\] and gauge pressures \[Pa\].
    pub readings: Vec<(f64, f64)>,
    /// The effective area at the start pressure \[m2\], from and to: the same but for a leak that changes on the way, where any area
    /// between may be called true.
    pub area_m2: (f64, f64),
}
