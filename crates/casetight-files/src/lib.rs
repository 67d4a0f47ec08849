//! Files of crankcase leak tests: bench sheets and the traces that they name come in, results go out whole or not at all.
//!
//! The library `casetight` opens no file; what may be opened, how much of it is read and what may be replaced is settled here,
//! once for all who do.
#![forbid(unsafe_code)]
#![cfg_attr(test, allow(clippy::unwrap_used, reason = "a test may fail"))]

mod folder;
mod regular;
pub mod whole;

pub use folder::{Folder, folder_of};
pub use regular::{Capped, LARGEST_SHEET, LARGEST_TRACE, open, open_capped, read_sheet_bytes};
