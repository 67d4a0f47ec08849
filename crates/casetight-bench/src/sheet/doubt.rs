//! Why readings without a sign may be a vacuum.

use std::fmt;

/// Why readings without a sign may be a vacuum.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Doubt {
    /// The run's name says so.
    Name,
    /// They are in a unit that vacuum dials are marked in.
    Unit(&'static str),
}

impl fmt::Display for Doubt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Name => f.write_str("the run's name says vacuum"),
            Self::Unit(unit) => write!(f, "many dials in {unit} show a vacuum"),
        }
    }
}
