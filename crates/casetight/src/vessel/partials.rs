//! What every forward model gives.

/// Gauge pressure and its derivatives, each with all else that the pressure depends on held.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct ModelPartials {
    /// Gauge pressure \[Pa\].
    pub(crate) gauge: f64,
    /// By the rate \[Pa s\].
    pub(crate) by_rate: f64,
    /// By the start pressure.
    pub(crate) by_start: f64,
    /// By the ambient pressure.
    pub(crate) by_ambient: f64,
    /// By time \[Pa/s\].
    pub(crate) by_time: f64,
    /// By ln tau \[Pa\].
    pub(crate) by_ln_settling_time: f64,
    /// By the start temperature's excess \[Pa\].
    pub(crate) by_start_excess: f64,
    /// By the relative wall drift \[Pa s\].
    pub(crate) by_wall_drift: f64,
}
