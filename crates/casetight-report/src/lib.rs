//! Reports of crankcase leak tests: a page for the record, the charts of a test and of a running engine, and the words that
//! results are told in.
//!
//! It takes what the library `casetight` found and draws or says it; it reckons nothing, and asks the library's models for the course
//! of a leak that is drawn beside the readings. The same sheet gives the same page,
//! byte for byte: no clock, no random number, nothing fetched.
//!
//! ```
//! use casetight_bench::sheet::{NoTraces, Sheet};
//! use casetight_report::Report;
//!
//! let text = r#"
//! format = 1
//! title = "Mist blower 14"
//! [volume]
//! value = "250 cm3"
//! uncertainty = "10 cm3"
//! [ambient]
//! pressure = "1013 hPa"
//! temperature = "20 C"
//! [gauge]
//! unit = "kPa"
//! resolution = "0.1 kPa"
//! [[run]]
//! name = "pressure"
//! readings = [[0, 48.0], [10, 42.8], [20, 37.7], [30, 32.8]]
//! "#;
//! let sheet = Sheet::parse(text, "sheet.toml", &NoTraces)?;
//! let page = Report::new(&sheet, None)?.page();
//! assert!(page.starts_with("<!DOCTYPE html>"));
//! assert!(page.contains("<h1>Mist blower 14</h1>"));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
#![forbid(unsafe_code)]

mod chart;
mod fall;
mod figures;
mod handout;
mod page;
mod plot;
mod turn;
mod units;
pub mod words;

pub use handout::{HandoutError, handout};

use casetight_bench::compare::{SheetsComparison, SheetsError, compare_sheets};
use casetight_bench::locate::{LocateError, Located, locate};
use casetight_bench::mixture::Mixture;
use casetight_bench::printable;
use casetight_bench::session::{Session, SessionError};
use casetight_bench::sheet::Sheet;

/// What keeps a sheet from being reported.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ReportError {
    /// A run, or part of the sheet, that can't be assessed.
    #[error(transparent)]
    Session(#[from] SessionError),
    /// The sheet before the repair can't be compared with it.
    #[error(transparent)]
    Before(#[from] SheetsError),
}

/// An assessed sheet, ready for its page.
#[derive(Debug)]
pub struct Report<'s> {
    sheet: &'s Sheet,
    session: Session,
    /// Its sites, where it has evidence of them.
    located: Option<Result<Located, LocateError>>,
    /// The sheet before the repair, and the comparison.
    before: Option<(&'s Sheet, SheetsComparison)>,
}

impl<'s> Report<'s> {
    /// Assesses a sheet, looks for its leaking sites where its runs tell of them, and compares it with the sheet `before` a
    /// repair.
    ///
    /// # Errors
    /// [`ReportError`] says which run or part of a sheet can't be assessed, or why the two can't be compared. Sites that
    /// can't be told apart are no error: the page says so.
    pub fn new(sheet: &'s Sheet, before: Option<&'s Sheet>) -> Result<Self, ReportError> {
        let session = Session::assess(sheet)?;
        let before = match before {
            Some(before) => Some((before, compare_sheets(before, sheet, None)?)),
            None => None,
        };
        Ok(Self {
            sheet,
            session,
            located: tells_of_sites(sheet).then(|| locate(sheet)),
            before,
        })
    }

    /// What the page tells of: the assessed sheet.
    #[must_use]
    pub fn session(&self) -> &Session {
        &self.session
    }

    /// The page: HTML in one file, with its drawings and its style in it, for a screen by day or night and for paper.
    ///
    /// Whatever stands in the sheet is text on it, never markup.
    #[must_use]
    pub fn page(&self) -> String {
        printable::lines(&page::page(self)).into_owned()
    }
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

/// The chart of a sheet's runs that have readings, as SVG: readings, fit and band; residuals; the straightened coordinate.
///
/// The session is that of the sheet.
#[must_use]
pub fn decay_chart(sheet: &Sheet, session: &Session) -> String {
    let runs = session.runs.iter().zip(&sheet.runs);
    let runs = runs.map(|(run, read)| (run.name.as_str(), &run.assessment, &read.record));
    let svg = plot::figure(words::title(sheet), runs).to_svg();
    printable::lines(&svg).into_owned()
}

/// The chart of the pressure in the running engine's case over a turn, at idle and at full throttle, as SVG; an estimate.
///
/// The estimate is that of the sheet.
#[must_use]
pub fn turn_chart(sheet: &Sheet, mixture: &Mixture) -> String {
    let svg = turn::figure(words::title(sheet), &sheet.running.ports, mixture).to_svg();
    printable::lines(&svg).into_owned()
}
