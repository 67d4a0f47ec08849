//! The circumstances of readings that do not stand on the sheet: which run of it they are like.

use std::path::Path;

use casetight::readings::Bench;
use casetight_bench::sheet::Sheet;

use crate::CommandError;
use crate::files::Files;

/// Name of a run that stands for readings elsewhere.
const AWAITED: &str = "readings elsewhere";

/// Why a sheet does not tell what readings were taken on.
#[derive(Debug, thiserror::Error)]
pub(crate) enum CircumstancesError {
    /// No run of this name.
    #[error("{file}: there is no run \"{name}\"; its runs are: {}", listed(there))]
    NoSuchRun {
        /// The sheet.
        file: String,
        /// What was asked for.
        name: String,
        /// The names that are there.
        there: Vec<String>,
    },
    /// The runs of a sheet are not alike.
    #[error(
        "{file}: its runs are not made on the same volume with the same gas; name the one that the readings are like with --run: {}",
        listed(there)
    )]
    NotAlike {
        /// The sheet.
        file: String,
        /// The names that are there.
        there: Vec<String>,
    },
}

fn listed(names: &[String]) -> String {
    let quoted: Vec<String> = names.iter().map(|name| format!("\"{name}\"")).collect();
    quoted.join(", ")
}

/// The bench of readings that were taken as a run of the sheet was: the one named, or any where all are alike, or one with
/// the piston in this position where the sheet has none.
pub(crate) fn bench_like(
    files: &Files,
    (sheet, path): (&Sheet, &Path),
    run: Option<&str>,
    piston: Option<&str>,
) -> Result<Bench, CommandError> {
    let file = || path.display().to_string();
    let there = || sheet.runs.iter().map(|run| run.name.clone()).collect();
    if let Some(name) = run {
        let found = sheet.runs.iter().find(|run| run.name == name);
        let found = found.ok_or_else(|| CircumstancesError::NoSuchRun {
            file: file(),
            name: name.to_owned(),
            there: there(),
        })?;
        return Ok(sheet.bench_for(found)?);
    }
    let Some((first, others)) = sheet.runs.split_first() else {
        let (sheet, run) = files.sheet_with(path, AWAITED, piston, None)?;
        return Ok(sheet.bench_for(&run)?);
    };
    let first = sheet.bench_for(first)?;
    for other in others {
        if sheet.bench_for(other)? != first {
            return Err(CircumstancesError::NotAlike {
                file: file(),
                there: there(),
            }
            .into());
        }
    }
    Ok(first)
}
