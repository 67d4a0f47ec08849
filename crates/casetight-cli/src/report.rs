//! `casetight report`: one self-contained HTML page for the record, printable on a sheet or two.

use std::path::Path;

use casetight_report::words::title;
use casetight_report::{Report, ReportError};

use crate::{Answer, CommandError, exit_of, files};

pub(crate) fn run(path: &Path, out: &Path, before: Option<&Path>) -> Result<Answer, CommandError> {
    let sheet = files::read_sheet(path)?;
    let before = before.map(files::read_sheet).transpose()?;
    let report = Report::new(&sheet, before.as_ref()).map_err(|error| match error {
        ReportError::Session(source) => CommandError::Session {
            file: path.display().to_string(),
            source,
        },
        other => other.into(),
    })?;
    files::write_whole(out, &report.page())?;
    let exit = exit_of(report.session().worst());
    Ok(Answer {
        text: format!("{}: report written to {}\n", title(&sheet), out.display()),
        exit,
    })
}
