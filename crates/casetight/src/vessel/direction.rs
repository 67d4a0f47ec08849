//! Above ambient or below.

use crate::quantity::GaugePressure;

/// Whether the case is pumped above ambient or pulled below it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "lowercase")
)]
pub enum Direction {
    /// Above ambient: air leaks out.
    Pressure,
    /// Below ambient: air leaks in.
    Vacuum,
}

impl Direction {
    /// The direction of a test that starts at this gauge pressure; none at exactly zero.
    #[must_use]
    pub fn of(start: GaugePressure) -> Option<Self> {
        match start.pascals() {
            g if g > 0.0 => Some(Self::Pressure),
            g if g < 0.0 => Some(Self::Vacuum),
            _ => None,
        }
    }

    /// +1 for pressure, -1 for vacuum.
    #[must_use]
    pub fn sign(self) -> f64 {
        match self {
            Self::Pressure => 1.0,
            Self::Vacuum => -1.0,
        }
    }
}

impl std::fmt::Display for Direction {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Pressure => "pressure",
            Self::Vacuum => "vacuum",
        })
    }
}
