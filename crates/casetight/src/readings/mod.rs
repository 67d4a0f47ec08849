//! The readings of one run, validated, and the circumstances that they were read in.

pub(crate) mod bench;
mod drift;
mod effects;
#[allow(clippy::module_inception, reason = "what the room is named for")]
pub(crate) mod readings;

pub use bench::Bench;
pub(crate) use bench::sides;
pub use drift::{CourseError, TemperatureCourse};
pub use effects::{Effects, EffectsError};
pub use readings::{Readings, ReadingsError};
