//! What was read at the bench: readings of one run, validated, and the circumstances that they were read in.

mod bench;
#[cfg(feature = "sheet")]
mod date;
mod day;
#[cfg(feature = "sheet")]
mod decoded;
mod drift;
#[cfg(feature = "sheet")]
mod encoding;
#[cfg(feature = "sheet")]
mod long;
#[cfg(feature = "sheet")]
pub mod profile;
mod readings;
pub mod segments;
mod settling;
mod site;
mod spelling;
#[cfg(feature = "sheet")]
pub mod trace;
mod window;

pub use bench::Bench;
pub(crate) use bench::sides;
pub use day::{Date, DateError};
#[cfg(feature = "sheet")]
pub use decoded::TextEncoding;
pub use drift::{CourseError, TemperatureCourse};
#[cfg(feature = "sheet")]
pub use encoding::{Encoding, EncodingError};
#[cfg(feature = "sheet")]
pub use long::{LoggedColumns, LongRun, LongRuns, RowError};
#[cfg(feature = "sheet")]
pub use profile::{
    Column, ColumnUnit, EmptyCells, PressureKind, ProfileError, ReadingProfile, RepeatedTimes,
    TimeUnit,
};
pub use readings::{Readings, ReadingsError};
pub use segments::{Phase, PhaseKind, Segments, SegmentsError};
pub use site::{Site, SiteError};
#[cfg(feature = "sheet")]
pub use trace::{Trace, TraceError};
pub use window::{Chosen, Edge, Window, WindowError};

#[cfg(feature = "sheet")]
pub(crate) use encoding::text_of;
#[cfg(feature = "sheet")]
pub(crate) use spelling::nearest;
