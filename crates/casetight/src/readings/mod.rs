//! The readings of one run, validated, and the circumstances that they were read in.

pub(crate) mod bench;
mod course;
mod effects;
#[allow(clippy::module_inception, reason = "what the room is named for")]
pub(crate) mod readings;

pub use bench::Bench;
pub(crate) use bench::sides;
pub use course::{CourseError, TemperatureCourse, Touched};
pub use effects::{Effects, EffectsError};
pub use readings::{Readings, ReadingsError};
