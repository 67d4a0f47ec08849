//! `casetight report`: one self-contained HTML page for the record, printable on a sheet or two.

mod figures;
mod page;

use std::path::Path;

use casetight::compare::{SheetsComparison, compare_sheets};
use casetight::limit::Verdict;
use casetight::locate::{LocateError, Located, locate};
use casetight::session::Session;
use casetight::sheet::Sheet;

use crate::words::title;
use crate::{ALL_HOLD, Answer, CommandError, NOT_DECIDED, SOME_LEAK, files};

/// What a page is made of.
pub(super) struct Report<'a> {
    /// The sheet.
    sheet: &'a Sheet,
    /// Assessed.
    session: &'a Session,
    /// Its sites, where it has evidence of them.
    located: Option<&'a Result<Located, LocateError>>,
    /// The sheet before the repair, and the comparison.
    before: Option<(&'a Sheet, &'a SheetsComparison)>,
}

pub(crate) fn run(path: &Path, out: &Path, before: Option<&Path>) -> Result<Answer, CommandError> {
    let sheet = files::read_sheet(path)?;
    let before = before.map(files::read_sheet).transpose()?;
    let session = Session::assess(&sheet).map_err(|source| CommandError::Session {
        file: path.display().to_string(),
        source,
    })?;
    let compared = match &before {
        Some(before) => Some((before, compare_sheets(before, &sheet, None)?)),
        None => None,
    };
    let located = tells_of_sites(&sheet).then(|| locate(&sheet));
    let report = Report {
        sheet: &sheet,
        session: &session,
        located: located.as_ref(),
        before: compared
            .as_ref()
            .map(|(sheet, compared)| (*sheet, compared)),
    };
    files::write_whole(out, &page::page(&report))?;
    let exit = match session.worst() {
        Some(Verdict::Holds) => ALL_HOLD,
        Some(Verdict::Leaks) => SOME_LEAK,
        _ => NOT_DECIDED,
    };
    Ok(Answer {
        text: format!("{}: report written to {}\n", title(&sheet), out.display()),
        exit,
    })
}

/// Whether the runs were made to tell sites apart: with different blanks, or with soap.
fn tells_of_sites(sheet: &Sheet) -> bool {
    let soap = sheet
        .runs
        .iter()
        .any(|run| !run.bubbles.is_empty() || !run.dry.is_empty());
    let blanks = sheet.runs.windows(2).any(|pair| match pair {
        [one, other] => {
            one.blanked.iter().any(|site| !other.blanked.contains(site))
                || other.blanked.iter().any(|site| !one.blanked.contains(site))
        }
        _ => false,
    });
    soap || blanks
}
