//! Leaks of laws between and beyond those of a hole and of a fine gap.

use crate::simulator::{SMOOTHING_PA, psi_per_root};

/// Discharge coefficients of a thin sharp-edged hole: pressure ratio downstream over upstream, and Cd.
///
/// Source: from memory, values after `[Perry1949]`.
pub const SHARP_EDGED: [(f64, f64); 7] = [
    (0.3, 0.84),
    (0.5, 0.82),
    (0.6, 0.79),
    (0.7, 0.74),
    (0.8, 0.68),
    (0.9, 0.63),
    (1.0, 0.608),
];

/// How the flow of a leak depends on the pressures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shape {
    /// Isentropic orifice of constant effective area.
    Orifice,
    /// `mdot ~ (p_u^2 - p_d^2)/(R T_u)`.
    Laminar,
    /// `mdot ~ ((p_u^2 - p_d^2)/(R T_u))^n`.
    Squares(f64),
    /// `mdot ~ p_u/(R T_u) (p_u - p_d)^n`.
    Drop(f64),
    /// Isentropic orifice whose coefficient is that of [`discharge_coefficient`].
    SharpEdged,
    /// Isentropic orifice whose area follows the gauge pressure g: `A0 (1 + c (|g|/|g0| - 1))`, and never below zero.
    Lip(f64),
}

/// A change of a leak's area while the needle is watched.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Change {
    /// When \[s\].
    pub at_s: f64,
    /// Area after over area before.
    pub factor: f64,
}

/// A leak, by the ideal orifice of the same flow at the start.
#[derive(Debug, Clone, PartialEq)]
pub struct Leak {
    /// Effective area of that orifice \[m2\].
    pub area_m2: f64,
    /// Shares of the flow at the start, and their shapes.
    pub parts: Vec<(f64, Shape)>,
    /// A change on the way.
    pub change: Option<Change>,
}

/// What a flow depends on beside the state of the gas.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Surroundings {
    pub(super) ambient_pa: f64,
    pub(super) ambient_k: f64,
    pub(super) gas_r: f64,
    pub(super) gamma: f64,
    /// Gauge pressure over ambient pressure at the start.
    pub(super) start: f64,
}

impl Leak {
    /// A hole that nothing changes.
    #[must_use]
    pub fn hole(area_m2: f64) -> Self {
        Self::of(area_m2, Shape::Orifice)
    }

    /// A leak of one shape.
    #[must_use]
    pub fn of(area_m2: f64, shape: Shape) -> Self {
        Self {
            area_m2,
            parts: vec![(1.0, shape)],
            change: None,
        }
    }

    /// Area over that at the start that a change has left at a time.
    pub(super) fn factor_at(&self, time_s: f64) -> f64 {
        match self.change {
            Some(change) if time_s > change.at_s => change.factor,
            _ => 1.0,
        }
    }

    /// Mass flow out \[kg/s\] at gauge pressure y `p_a` of gas of this temperature, before any change; negative inward.
    pub(super) fn flow_out(&self, around: &Surroundings, y: f64, temperature_k: f64) -> f64 {
        let at_start = |shape| flow(shape, around, around.start, around.ambient_k);
        let upstream_k = if y >= 0.0 {
            temperature_k
        } else {
            around.ambient_k
        };
        let of_orifice = self.area_m2 * at_start(Shape::Orifice);
        let size: f64 = self
            .parts
            .iter()
            .map(|(share, shape)| {
                share * of_orifice / at_start(*shape) * flow(*shape, around, y, upstream_k)
            })
            .sum();
        size.copysign(y)
    }
}

/// Size of a shape's flow in a unit of its own; an orifice's in kg/(s m2).
fn flow(shape: Shape, around: &Surroundings, y: f64, upstream_k: f64) -> f64 {
    let width = SMOOTHING_PA / around.ambient_pa;
    // |y|^n with the infinite slope at ambient rounded off.
    let power = |n: f64| y.abs() * y.hypot(width).powf(n - 1.0);
    let upstream_pa = around.ambient_pa * (1.0 + y.max(0.0));
    let specific = around.gas_r * upstream_k;
    let orifice = || upstream_pa / specific.sqrt() * psi_per_root(y, around.gamma) * power(0.5);
    match shape {
        Shape::Orifice => orifice(),
        Shape::Laminar => around.ambient_pa.powi(2) * (2.0 + y) * y.abs() / specific,
        Shape::Squares(n) => (around.ambient_pa.powi(2) * (2.0 + y) / specific).powf(n) * power(n),
        Shape::Drop(n) => upstream_pa / specific * around.ambient_pa.powf(n) * power(n),
        Shape::SharpEdged => {
            let ratio = if y >= 0.0 { 1.0 / (1.0 + y) } else { 1.0 + y };
            discharge_coefficient(ratio) * orifice()
        }
        Shape::Lip(slope) => (1.0 + slope * ((y / around.start).abs() - 1.0)).max(0.0) * orifice(),
    }
}

/// Cd of a thin sharp-edged hole at a pressure ratio, straight between the values of [`SHARP_EDGED`] and constant below them.
#[must_use]
pub fn discharge_coefficient(ratio: f64) -> f64 {
    let mut below = (0.0, 0.84);
    for above in SHARP_EDGED {
        if ratio <= above.0 {
            let part = (ratio - below.0) / (above.0 - below.0);
            return below.1 + part * (above.1 - below.1);
        }
        below = above;
    }
    below.1
}
