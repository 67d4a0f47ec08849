//! Where in the text a way to get the volume went wrong.

use crate::sheet::document::Table;
use crate::sheet::error::{Problem, SheetError};

/// What went wrong, and the key of `[volume]` that it belongs to, or `engine`.
pub(in crate::sheet) type Wrong = (&'static str, Problem);

/// An error of the ways at its key in the text.
pub(in crate::sheet) fn place(sheet: &Table<'_>, (key, problem): Wrong) -> SheetError {
    match (key, sheet.get("volume")) {
        ("engine", _) | (_, None) => sheet.error_at("engine", problem),
        ("", Some(volume)) => volume.error(problem),
        (key, Some(volume)) => match volume.any_table(String::new) {
            Ok(table) => table.error_at(key, problem),
            Err(error) => error,
        },
    }
}
