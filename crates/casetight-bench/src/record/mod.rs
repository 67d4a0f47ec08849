//! What was read at the bench: traces of loggers, the hold that is found in them, sites and dates.

mod cells;
#[cfg(feature = "sheet")]
mod column;
#[cfg(feature = "sheet")]
mod date;
mod day;
#[cfg(feature = "sheet")]
mod decoded;
#[cfg(feature = "sheet")]
mod encoding;
mod labels;
#[cfg(feature = "sheet")]
mod long;
mod phase;
mod pieces;
#[cfg(feature = "sheet")]
pub mod profile;
#[cfg(feature = "sheet")]
mod profile_error;
#[cfg(feature = "sheet")]
mod rows;
pub mod segments;
mod settling;
mod site;
mod spelling;
#[cfg(feature = "sheet")]
pub mod trace;
#[cfg(feature = "sheet")]
mod trace_error;
mod window;

#[cfg(feature = "sheet")]
pub use column::{Column, ColumnUnit, EmptyCells, PressureKind, RepeatedTimes, TimeUnit};
pub use day::{Date, DateError};
#[cfg(feature = "sheet")]
pub use decoded::TextEncoding;
#[cfg(feature = "sheet")]
pub use encoding::{Encoding, EncodingError};
#[cfg(feature = "sheet")]
pub use long::{LoggedColumns, LongRun, LongRuns, RowError};
pub use phase::{Phase, PhaseKind};
#[cfg(feature = "sheet")]
pub use profile::ReadingProfile;
#[cfg(feature = "sheet")]
pub use profile_error::ProfileError;
pub use segments::{Segments, SegmentsError};
pub use site::{Site, SiteError};
#[cfg(feature = "sheet")]
pub use trace::Trace;
#[cfg(feature = "sheet")]
pub use trace_error::TraceError;
pub use window::{Chosen, Edge, Window, WindowError};

#[cfg(feature = "sheet")]
pub(crate) use encoding::text_of;
#[cfg(feature = "sheet")]
pub(crate) use spelling::nearest;
