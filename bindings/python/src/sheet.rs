//! Bench sheets, and sessions assessed from them.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use casetight::caution;
use casetight::compare::compare_sheets;
use casetight::compare::document::CompareDocument;
use casetight::locate::locate;
use casetight::mixture::Mixture as CoreMixture;
use casetight::plan::document::PlansDocument;
use casetight::session::Session as CoreSession;
use casetight::sheet::{NoTraces, Run, Sheet as Core, Traces};
use numpy::{IntoPyArray, PyArray1};
use pyo3::exceptions::PyKeyError;
use pyo3::prelude::*;
use pyo3::types::{PyIterator, PyList};

use crate::assess::{RunAssessment, worst};
use crate::document::{Document, table, to_json, to_python, value};
use crate::errors::{Answer, Failure};
use crate::gauge::Bench;
use crate::limit::Limit;
use crate::mixture::Mixture;
use crate::report::Report;
use crate::volume::TestedVolume;

/// Traces beside a bench sheet.
struct Beside<'a>(&'a Path);

impl Traces for Beside<'_> {
    fn open<'t>(&'t self, file: &str) -> io::Result<Box<dyn Read + 't>> {
        Ok(Box::new(File::open(self.0.join(file))?))
    }
}

/// A bench sheet: one engine's test session as TOML.
///
/// Examples
/// --------
/// >>> sheet = Sheet.read(demo / "mist-blower-14.toml")
/// >>> sheet.title, sheet.runs
/// ('Mist blower 14, sound', ['pressure', 'vacuum'])
#[pyclass(frozen, module = "casetight")]
#[derive(Debug)]
pub(crate) struct Sheet(Core);

impl Sheet {
    fn run(&self, name: &str) -> PyResult<&Run> {
        let run = self.0.runs.iter().find(|run| run.name == name);
        run.ok_or_else(|| {
            PyKeyError::new_err(format!(
                "no run has the name {name:?}; the runs are {}",
                self.runs().join(", ")
            ))
        })
    }
}

#[pymethods]
impl Sheet {
    /// Reads a sheet from its text.
    ///
    /// Parameters
    /// ----------
    /// text : str
    ///     The sheet.
    /// traces : dict of str to bytes, optional
    ///     The trace files that it names.
    ///
    /// Raises
    /// ------
    /// SheetError
    ///     Says what is wrong, where, and what would be right.
    ///
    /// Examples
    /// --------
    /// >>> text = (demo / "mist-blower-14.toml").read_text()
    /// >>> Sheet.from_toml(text).to_toml() == Sheet.from_toml(Sheet.from_toml(text).to_toml()).to_toml()
    /// True
    #[staticmethod]
    #[pyo3(signature = (text, *, traces=None))]
    fn from_toml(text: &str, traces: Option<BTreeMap<String, Vec<u8>>>) -> Answer<Self> {
        let traces: Box<dyn Traces> = match traces {
            Some(traces) => Box::new(traces),
            None => Box::new(NoTraces),
        };
        Ok(Self(Core::parse(text, "sheet", &*traces)?))
    }

    /// Reads a sheet from a file, and the traces that it names from beside it.
    ///
    /// Raises
    /// ------
    /// OSError
    ///     Where the file can't be read.
    /// SheetError
    ///     As `from_toml`.
    ///
    /// Examples
    /// --------
    /// >>> Sheet.read(demo / "ice-auger-7.toml")
    /// <Sheet: Ice auger 7, leaks under vacuum, 2 runs>
    #[staticmethod]
    fn read(py: Python<'_>, path: PathBuf) -> Answer<Self> {
        Ok(Self(py.detach(|| -> Answer<Core> {
            let bytes = std::fs::read(&path).map_err(PyErr::from)?;
            let folder = path.parent().unwrap_or(Path::new(""));
            let name = path.display().to_string();
            Ok(Core::from_bytes(&bytes, &name, &Beside(folder))?)
        })?))
    }

    /// The sheet as text that reads back to the same sheet.
    ///
    /// Raises
    /// ------
    /// SheetError
    ///     For what can't be written.
    ///
    /// Examples
    /// --------
    /// >>> Sheet.read(demo / "mist-blower-14.toml").to_toml()[:10]
    /// 'format = 1'
    fn to_toml(&self) -> Answer<String> {
        Ok(self.0.to_toml()?)
    }

    /// The sheet's title.
    #[getter]
    fn title(&self) -> &str {
        &self.0.title
    }

    /// Names of its runs.
    #[getter]
    fn runs(&self) -> Vec<String> {
        self.0.runs.iter().map(|run| run.name.clone()).collect()
    }

    /// Its limits.
    #[getter]
    fn limits(&self) -> Vec<Limit> {
        self.0.limits.iter().map(|s| Limit(s.limit)).collect()
    }

    /// The circumstances of a run: its tested volume, the surroundings, the gauge.
    ///
    /// Raises
    /// ------
    /// KeyError
    ///     For a run that there is not.
    ///
    /// Examples
    /// --------
    /// >>> Sheet.read(demo / "mist-blower-14.toml").bench("vacuum").ambient_pa
    /// (101325.0, 100.0)
    fn bench(&self, run: &str) -> Answer<Bench> {
        Ok(Bench::in_air(self.0.bench_for(self.run(run)?)?))
    }

    /// Times [s] and gauge pressures [Pa] of a run, as two arrays; empty for one whose needle was not raised.
    ///
    /// Raises
    /// ------
    /// KeyError
    ///     For a run that there is not.
    ///
    /// Examples
    /// --------
    /// >>> time_s, gauge_pa = Sheet.read(demo / "mist-blower-14.toml").readings("pressure")
    /// >>> time_s.shape
    /// (11,)
    fn readings<'py>(
        &self,
        py: Python<'py>,
        run: &str,
    ) -> Answer<(Bound<'py, PyArray1<f64>>, Bound<'py, PyArray1<f64>>)> {
        let readings = self.run(run)?.record.readings();
        let column = |of: fn(&casetight::record::Readings) -> &[f64]| {
            readings
                .map_or_else(Vec::new, |r| of(r).to_vec())
                .into_pyarray(py)
        };
        Ok((
            column(casetight::record::Readings::times_s),
            column(casetight::record::Readings::gauges_pa),
        ))
    }

    /// The tested volume of a run.
    ///
    /// Raises
    /// ------
    /// KeyError
    ///     For a run that there is not.
    ///
    /// Examples
    /// --------
    /// >>> round(Sheet.read(demo / "mist-blower-14.toml").volume("pressure").volume_m3 * 1e6, 1)
    /// 200.6
    fn volume(&self, run: &str) -> Answer<TestedVolume> {
        Ok(TestedVolume(self.0.volume_of(self.run(run)?)?))
    }

    /// Fits every run, judges it, and says what to do next.
    ///
    /// Raises
    /// ------
    /// SessionError
    ///     Names the run that can't be assessed.
    ///
    /// Examples
    /// --------
    /// >>> Sheet.read(demo / "clearing-saw-3.toml").assess().verdict
    /// 'leaks'
    fn assess(&self, py: Python<'_>) -> Answer<Session> {
        Ok(Session(py.detach(|| CoreSession::assess(&self.0))?))
    }

    /// What to expect before pumping: the document of `casetight plan --json`, cautions included.
    ///
    /// Raises
    /// ------
    /// SheetError, LeakError
    ///     Where the sheet leaves something open that a plan needs.
    ///
    /// Examples
    /// --------
    /// >>> len(Sheet.read(demo / "string-trimmer-6.toml").plan()["cautions"]) > 0
    /// True
    fn plan(&self, py: Python<'_>) -> Answer<Document> {
        let plans = py.detach(|| self.0.plan())?;
        Document::new("plan", &PlansDocument::new(&plans)?)
    }

    /// Which place leaks, and what to blank or spray next: the document of `casetight isolate --json`.
    ///
    /// Raises
    /// ------
    /// LocateError
    ///     Where the runs can't tell.
    ///
    /// Examples
    /// --------
    /// >>> found = Sheet.read(demo / "clearing-saw-5.toml").isolate()
    /// >>> found["directions"][0]["next"]["step"]
    /// 'repair'
    fn isolate(&self, py: Python<'_>) -> Answer<Document> {
        let located = py.detach(|| locate(&self.0))?;
        Document::new("isolate", &located.document())
    }

    /// Whether a repair changed the leaks: this sheet before it and another after, the document of `casetight compare
    /// --json`.
    ///
    /// Parameters
    /// ----------
    /// after : Sheet
    ///     The sheet after the repair.
    /// runs : pair of str, optional
    ///     Names of the run before and the run after; runs are matched by direction and name without.
    ///
    /// Raises
    /// ------
    /// CompareError
    ///     Where the sheets or their runs can't be compared.
    ///
    /// Examples
    /// --------
    /// >>> before = Sheet.read(demo / "mist-blower-9-before.toml")
    /// >>> before.compare(Sheet.read(demo / "mist-blower-9-repaired.toml"))["repair"]
    /// 'repaired'
    #[pyo3(signature = (after, *, runs=None))]
    fn compare(
        &self,
        py: Python<'_>,
        after: &Bound<'_, Self>,
        runs: Option<(String, String)>,
    ) -> Answer<Document> {
        let after = &after.get().0;
        let chosen = runs.as_ref().map(|(a, b)| (a.as_str(), b.as_str()));
        let compared = py.detach(|| compare_sheets(&self.0, after, chosen))?;
        Document::new("compare", &CompareDocument::from(&compared))
    }

    /// What its leaks do to the mixture of the running engine: an estimate, at idle and at full throttle.
    ///
    /// Needs the engine's dimensions and a run of the engine. What ``[running]`` does not state is typical of small
    /// two-strokes.
    ///
    /// Raises
    /// ------
    /// SessionError
    ///     Names the run that can't be assessed.
    /// RunningError
    ///     For a sheet without the engine's dimensions, without a run of the engine, or with running conditions that can't be.
    ///
    /// Examples
    /// --------
    /// >>> Sheet.read(demo / "kart-engine-2.toml").running().inward_area_m2.high
    /// inf
    fn running(&self, py: Python<'_>) -> Answer<Mixture> {
        Ok(Mixture(py.detach(|| CoreMixture::of(&self.0))?))
    }

    /// The page for the record, as `casetight report` writes it: verdict, numbers, drawings, cautions, inputs.
    ///
    /// Parameters
    /// ----------
    /// before : Sheet, optional
    ///     The sheet before a repair, to compare with.
    ///
    /// Raises
    /// ------
    /// SessionError
    ///     Names the run that can't be assessed.
    /// CompareError
    ///     Where the sheet before can't be compared with this one.
    ///
    /// Examples
    /// --------
    /// >>> before = Sheet.read(demo / "mist-blower-9-before.toml")
    /// >>> Sheet.read(demo / "mist-blower-9-repaired.toml").report(before)
    /// <Report: Mist blower 9, new crank seals, holds>
    #[pyo3(signature = (before=None))]
    fn report(&self, py: Python<'_>, before: Option<&Bound<'_, Self>>) -> Answer<Report> {
        Report::new(py, &self.0, before.map(|sheet| &sheet.get().0))
    }

    fn __repr__(&self) -> String {
        format!("<Sheet: {}, {} runs>", self.0.title, self.0.runs.len())
    }
}

/// An assessed sheet: what `Sheet.assess` returns. It is a sequence of its runs' assessments.
///
/// Examples
/// --------
/// >>> session = Sheet.read(demo / "mist-blower-14.toml").assess()
/// >>> [(run.name, run.verdict) for run in session]
/// [('pressure', 'holds'), ('vacuum', 'holds')]
#[pyclass(frozen, sequence, module = "casetight")]
#[derive(Debug)]
pub(crate) struct Session(CoreSession);

impl Session {
    fn document(&self) -> Answer<serde_json::Value> {
        value(&self.0.document()?)
    }

    fn assessments(&self) -> Vec<RunAssessment> {
        let runs = self.0.runs.iter();
        runs.map(|run| RunAssessment {
            name: run.name.clone(),
            core: run.assessment.clone(),
        })
        .collect()
    }
}

#[pymethods]
impl Session {
    /// The worst run's verdict: "leaks" before "undecided", "stalled" or None, before "holds".
    #[getter]
    fn verdict(&self) -> Option<&'static str> {
        worst(self.0.worst())
    }

    /// The runs' assessments.
    #[getter]
    fn runs(&self) -> Vec<RunAssessment> {
        self.assessments()
    }

    /// What to do next, one sentence each.
    #[getter]
    fn next(&self) -> Vec<String> {
        self.0.next.iter().map(ToString::to_string).collect()
    }

    /// Cautions that belong beside the next steps.
    #[getter]
    fn cautions(&self) -> Vec<&'static str> {
        let mut cautions = Vec::new();
        if self.0.next.iter().any(|step| step.pumps()) {
            cautions.extend(caution::BEFORE_PUMPING);
        }
        if self.0.next.iter().any(|step| step.sprays()) {
            cautions.extend(caution::BEFORE_SPRAYING);
        }
        cautions
    }

    fn __len__(&self) -> usize {
        self.0.runs.len()
    }

    fn __getitem__(&self, place: isize) -> PyResult<RunAssessment> {
        let wanted = usize::try_from(place)
            .ok()
            .or_else(|| self.0.runs.len().checked_sub(place.unsigned_abs()));
        let run = wanted.and_then(|wanted| self.assessments().into_iter().nth(wanted));
        run.ok_or_else(|| pyo3::exceptions::PyIndexError::new_err("no such run"))
    }

    fn __iter__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyIterator>> {
        PyList::new(
            py,
            self.assessments()
                .into_iter()
                .map(|run| Py::new(py, run))
                .collect::<PyResult<Vec<_>>>()?,
        )?
        .try_iter()
    }

    /// As a dictionary: the document of `casetight assess --json`.
    ///
    /// Examples
    /// --------
    /// >>> Sheet.read(demo / "mist-blower-14.toml").assess().to_dict()["runs"][0]["verdict"]
    /// 'holds'
    fn to_dict<'py>(&self, py: Python<'py>) -> Answer<Bound<'py, PyAny>> {
        Ok(to_python(py, &self.document()?)?)
    }

    /// As JSON text.
    ///
    /// Examples
    /// --------
    /// >>> Sheet.read(demo / "mist-blower-14.toml").assess().to_json()[:11]
    /// '{"format":1'
    #[pyo3(signature = (*, indent=false))]
    fn to_json(&self, indent: bool) -> Answer<String> {
        to_json(&self.document()?, indent)
    }

    /// The first fitted run as `Fit.plot` draws it, or another by its name.
    ///
    /// Raises
    /// ------
    /// ValueError
    ///     Where no such run was fitted.
    #[pyo3(signature = (run=None, axes=None))]
    fn plot<'py>(
        &self,
        py: Python<'py>,
        run: Option<&str>,
        axes: Option<Bound<'py, PyAny>>,
    ) -> Answer<Bound<'py, PyAny>> {
        let mut runs = self.assessments().into_iter();
        let chosen = runs.find(|r| run.map_or(r.is_fitted(), |name| r.name == name));
        chosen
            .ok_or_else(|| Failure::new("no such run in the session"))?
            .plot(py, axes)
    }

    fn __repr__(&self) -> String {
        let runs: Vec<String> = self
            .assessments()
            .iter()
            .map(|run| format!("{}: {}", run.name, run.in_words()))
            .collect();
        format!("<Session: {}>", runs.join("; "))
    }

    fn _repr_html_(&self) -> String {
        let runs = self.assessments();
        let mut rows: Vec<(&str, String)> = runs
            .iter()
            .map(|run| (run.name.as_str(), run.in_words()))
            .collect();
        rows.extend(self.next().into_iter().map(|step| ("next", step)));
        let cautions = self.cautions();
        rows.extend(cautions.into_iter().map(|c| ("caution", c.to_owned())));
        table("Session", &rows)
    }
}
