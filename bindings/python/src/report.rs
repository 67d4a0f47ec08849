//! The page for the record.

use std::io::Write;
use std::path::PathBuf;

use casetight::limit::Verdict;
use casetight_bench::sheet::Sheet;
use casetight_files::whole::WholeFile;
use casetight_report::{Report as Core, ReportError, words};
use pyo3::prelude::*;

use crate::assess::worst;
use crate::document::in_attribute;
use crate::restore::{Made, Restored};
use crate::same::by_value;
use crate::scalar::Given;

/// A sheet's page for the record: what `Sheet.report` returns, and what `casetight report` writes.
///
/// A notebook shows it in a frame of its own.
///
/// Examples
/// --------
/// >>> Sheet.read(demo / "clearing-saw-3.toml").report()
/// <Report: Clearing saw 3, leaks under pressure, leaks>
#[pyclass(frozen, eq, hash, module = "casetight")]
#[derive(Debug)]
pub(crate) struct Report {
    page: Page,
    made: Made,
}

/// A page with what stands at its top.
#[derive(Debug)]
pub(crate) struct Page {
    title: String,
    verdict: Option<Verdict>,
    html: String,
}

by_value!(Report: |this| &this.page);

impl Page {
    pub(crate) fn of(sheet: &Sheet, before: Option<&Sheet>) -> Result<Self, ReportError> {
        let report = Core::new(sheet, before)?;
        Ok(Self {
            title: words::title(sheet).to_owned(),
            verdict: report.session().worst(),
            html: report.page(),
        })
    }
}

impl Report {
    pub(crate) fn new(page: Page, made: Made) -> Self {
        Self { page, made }
    }
}

#[pymethods]
impl Report {
    /// The sheet's title.
    #[getter]
    fn title(&self) -> &str {
        &self.page.title
    }

    /// The worst run's verdict, as that of `Session`.
    #[getter]
    fn verdict(&self) -> Option<&'static str> {
        worst(self.page.verdict)
    }

    /// The page as text: HTML in one piece, with its drawings and style in it; it fetches nothing and runs no script.
    ///
    /// Examples
    /// --------
    /// >>> Sheet.read(demo / "clearing-saw-3.toml").report().to_html()[:15]
    /// '<!DOCTYPE html>'
    fn to_html(&self) -> &str {
        &self.page.html
    }

    /// Writes the page to a file, whole or not at all: an older one of that name stays if anything goes wrong, and the new one has
    /// its permissions. Through a link the file that it leads to is replaced.
    ///
    /// Parameters
    /// ----------
    /// path : str or path
    ///     The file, in a folder that is there; no pipe or device.
    ///
    /// Raises
    /// ------
    /// OSError
    ///     Where it can't be written.
    ///
    /// Examples
    /// --------
    /// >>> import tempfile, pathlib
    /// >>> with tempfile.TemporaryDirectory() as folder:
    /// ...     page = pathlib.Path(folder) / "clearing-saw-3.html"
    /// ...     Sheet.read(demo / "clearing-saw-3.toml").report().write(page)
    /// ...     page.read_text(encoding="utf-8")[:15]
    /// '<!DOCTYPE html>'
    fn write(&self, py: Python<'_>, path: Given<PathBuf>) -> PyResult<()> {
        py.detach(|| {
            let mut file = WholeFile::new(&path.0)?;
            file.write_all(self.page.html.as_bytes())?;
            file.finish()
        })
        .map_err(PyErr::from)
    }

    fn __repr__(&self) -> String {
        let verdict = worst(self.page.verdict).unwrap_or("not judged");
        format!("<Report: {}, {verdict}>", self.page.title)
    }

    /// In a frame, since the page brings its own style.
    fn _repr_html_(&self) -> String {
        format!(
            "<iframe title=\"{}, crankcase leak test\" sandbox srcdoc=\"{}\" \
             style=\"width:100%;height:48em;border:0\"></iframe>",
            in_attribute(&self.page.title),
            in_attribute(&self.page.html)
        )
    }
    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Restored<'py>> {
        self.made.reduce(py)
    }
}
