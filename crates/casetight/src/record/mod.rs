//! What was read at the bench: readings of one run, validated, and the circumstances that they were read in.

mod bench;
mod day;
#[cfg(feature = "sheet")]
mod encoding;
mod readings;
mod site;
mod spelling;
#[cfg(feature = "sheet")]
pub mod trace;

pub use bench::Bench;
pub(crate) use bench::sides;
pub use day::{Date, DateError};
#[cfg(feature = "sheet")]
pub use encoding::{Encoding, EncodingError};
pub use readings::{Readings, ReadingsError};
pub use site::{Site, SiteError};
#[cfg(feature = "sheet")]
pub use trace::{Trace, TraceError};

#[cfg(feature = "sheet")]
pub(crate) use encoding::text_of;
#[cfg(feature = "sheet")]
pub(crate) use spelling::nearest;
