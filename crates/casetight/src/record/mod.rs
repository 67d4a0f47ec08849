//! What was read at the bench: readings of one run, validated, and the circumstances that they were read in.

mod bench;
#[cfg(feature = "sheet")]
mod encoding;
#[cfg(feature = "sheet")]
mod long;
mod readings;
mod site;
mod spelling;
#[cfg(feature = "sheet")]
pub mod trace;

pub use bench::Bench;
pub(crate) use bench::sides;
#[cfg(feature = "sheet")]
pub use encoding::{Encoding, EncodingError};
#[cfg(feature = "sheet")]
pub use long::{LoggedColumns, LongRun, LongRuns, RowError};
pub use readings::{Readings, ReadingsError};
pub use site::{Site, SiteError};
#[cfg(feature = "sheet")]
pub use trace::{Trace, TraceError};

#[cfg(feature = "sheet")]
pub(crate) use encoding::text_of;
#[cfg(feature = "sheet")]
pub(crate) use spelling::nearest;
