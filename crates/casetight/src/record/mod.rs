//! What was read at the bench: readings of one run, validated, and the circumstances that they were read in.

mod bench;
mod readings;

pub use bench::Bench;
pub(crate) use bench::sides;
pub use readings::{Readings, ReadingsError};
