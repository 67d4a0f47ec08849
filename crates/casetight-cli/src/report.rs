//! `casetight report`: one self-contained HTML page for the record, printable on a sheet or two; or a handout for a class.

use std::path::Path;

use casetight_report::words::title;
use casetight_report::{Report, ReportError, handout};

use crate::files::Files;
use crate::{ALL_HOLD, Answer, CommandError, exit_of, words};

pub(crate) fn run(
    files: &Files,
    path: &Path,
    out: &Path,
    before: Option<&Path>,
) -> Result<Answer, CommandError> {
    let sheet = files.sheet(path)?;
    let before = before.map(|path| files.sheet(path)).transpose()?;
    let report = Report::new(&sheet, before.as_ref()).map_err(|error| match error {
        ReportError::Session(source) => CommandError::Session {
            file: path.display().to_string(),
            source,
        },
        other => other.into(),
    })?;
    files.write(out, &report.page())?;
    let exit = exit_of(report.session().worst());
    Ok(Answer {
        text: format!(
            "{}: report written to {}\n",
            title(&sheet),
            words::path(out)
        ),
        exit,
    })
}

/// A handout judges nothing.
pub(crate) fn class(files: &Files, path: &Path, out: &Path) -> Result<Answer, CommandError> {
    let sheet = files.sheet(path)?;
    let page = handout(&sheet).map_err(|source| CommandError::Handout {
        file: path.display().to_string(),
        source,
    })?;
    files.write(out, &page)?;
    Ok(Answer {
        text: format!(
            "{}: class handout written to {}\n",
            title(&sheet),
            words::path(out)
        ),
        exit: ALL_HOLD,
    })
}
