//! Bench sheets, and sessions assessed from them.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::io::{self, Read};
use std::path::PathBuf;
use std::sync::Arc;

use casetight::caution;
use casetight_bench::compare::compare_sheets;
use casetight_bench::compare::document::CompareDocument;
use casetight_bench::locate::locate;
use casetight_bench::mixture::Mixture as CoreMixture;
use casetight_bench::plan::document::PlansDocument;
use casetight_bench::session::Session as CoreSession;
use casetight_bench::sheet::{NoTraces, Record, Run, Sheet as Core, Traces};
use casetight_files::{Folder, read_sheet_bytes};
use numpy::{IntoPyArray, PyArray1};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyIterator, PyList, PyMapping};

use crate::assess::{RunAssessment, in_words, worst};
use crate::document::{Document, table, to_json, to_python, value};
use crate::errors::{Answer, Failure, ours};
use crate::gas::Gas;
use crate::gauge::Bench;
use crate::limit::Limit;
use crate::mixture::Mixture;
use crate::pool::interruptible;
use crate::report::{Page, Report};
use crate::restore::{Made, Restored};
use crate::same::by_value;
use crate::scalar::Given;
use crate::volume::TestedVolume;

/// Traces of a bench sheet. What is read is kept, so that the sheet can travel.
struct Keeping {
    folder: Folder,
    read: RefCell<BTreeMap<String, Vec<u8>>>,
}

impl Traces for Keeping {
    fn open<'t>(&'t self, file: &str) -> io::Result<Box<dyn Read + 't>> {
        let opened = self.folder.open_trace(file)?;
        // A file that several runs name is read from its beginning again.
        self.read.borrow_mut().insert(file.to_owned(), Vec::new());
        Ok(Box::new(Kept {
            file: opened,
            name: file.to_owned(),
            read: &self.read,
        }))
    }
}

/// A file whose bytes are kept as they are read, and no further.
struct Kept<'a, R> {
    file: R,
    name: String,
    read: &'a RefCell<BTreeMap<String, Vec<u8>>>,
}

impl<R: Read> Read for Kept<'_, R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let count = self.file.read(into)?;
        let mut kept = self.read.borrow_mut();
        let kept = kept.entry(self.name.clone()).or_default();
        kept.extend_from_slice(into.get(..count).unwrap_or(&[]));
        Ok(count)
    }
}

/// The traces that a sheet names, by their names in it.
#[derive(Debug)]
pub(crate) struct Files(BTreeMap<String, Vec<u8>>);

impl<'py> FromPyObject<'_, 'py> for Files {
    type Error = PyErr;

    fn extract(object: Borrowed<'_, 'py, PyAny>) -> PyResult<Self> {
        let Ok(files) = object.cast::<PyMapping>() else {
            return Err(
                Failure::kind("traces are a mapping of each file's name to its bytes").into(),
            );
        };
        let mut read = BTreeMap::new();
        for entry in files.items()?.iter() {
            let (name, bytes) = entry.extract().map_err(|error| ours(object.py(), error))?;
            read.insert(name, bytes);
        }
        Ok(Self(read))
    }
}

/// A bench sheet: one engine's test session as TOML.
///
/// Examples
/// --------
/// >>> sheet = Sheet.read(demo / "mist-blower-14.toml")
/// >>> sheet.title, sheet.runs
/// ('Mist blower 14, sound', ['pressure', 'vacuum'])
#[pyclass(frozen, eq, hash, module = "casetight")]
#[derive(Debug)]
pub(crate) struct Sheet {
    core: Arc<Core>,
    made: Made,
}

by_value!(Sheet: |this| &this.core);

impl Sheet {
    /// A sheet as it was read: its text and the traces that it names.
    fn new(core: Core, text: String, traces: BTreeMap<String, Vec<u8>>) -> Self {
        let made = Made::by("Sheet.from_toml", move |py| {
            let files = PyDict::new(py);
            for (name, bytes) in &traces {
                files.set_item(name, pyo3::types::PyBytes::new(py, bytes))?;
            }
            let named = PyDict::new(py);
            named.set_item("traces", files)?;
            Ok(((text.as_str(),).into_pyobject(py)?, named))
        });
        Self {
            core: Arc::new(core),
            made,
        }
    }

    fn run(&self, name: &Given<String>) -> Answer<&Run> {
        let run = self.core.runs.iter().find(|run| run.name == name.0);
        run.ok_or_else(|| {
            Failure::missing(format!(
                "no run has the name {:?}; the runs are {}",
                name.0,
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
    fn from_toml(text: Given<String>, traces: Option<Files>) -> Answer<Self> {
        let read = match &traces {
            Some(traces) => Core::parse(&text.0, "sheet", &traces.0)?,
            None => Core::parse(&text.0, "sheet", &NoTraces)?,
        };
        let traces = traces.map_or_else(BTreeMap::new, |traces| traces.0);
        Ok(Self::new(read, text.0, traces))
    }

    /// Reads a sheet from a file, and the traces that it names from below its folder.
    ///
    /// Parameters
    /// ----------
    /// path : str or path
    ///     The file, no pipe or device, of up to 64 MiB.
    /// traces_anywhere : bool, optional
    ///     Whether the sheet may name traces outside its folder too.
    ///
    /// Raises
    /// ------
    /// OSError
    ///     Where the file can't be read.
    /// SheetError
    ///     As `from_toml`, and for a trace that the sheet may not name.
    ///
    /// Examples
    /// --------
    /// >>> Sheet.read(demo / "ice-auger-7.toml")
    /// <Sheet: Ice auger 7, leaks under vacuum, 2 runs>
    #[staticmethod]
    #[pyo3(signature = (path, *, traces_anywhere=false))]
    fn read(py: Python<'_>, path: Given<PathBuf>, traces_anywhere: bool) -> Answer<Self> {
        let path = path.0;
        py.detach(|| {
            let bytes = read_sheet_bytes(&path).map_err(PyErr::from)?;
            let beside = Keeping {
                folder: Folder::of(&path).with_traces_anywhere(traces_anywhere),
                read: RefCell::default(),
            };
            let name = path.display().to_string();
            let read = Core::from_bytes(&bytes, &name, &beside)?;
            let text = String::from_utf8_lossy(&bytes);
            let text = text.trim_start_matches('\u{feff}').to_owned();
            Ok(Self::new(read, text, beside.read.into_inner()))
        })
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
        Ok(self.core.to_toml()?)
    }

    /// The sheet's title.
    #[getter]
    fn title(&self) -> &str {
        &self.core.title
    }

    /// Names of its runs.
    #[getter]
    fn runs(&self) -> Vec<String> {
        self.core.runs.iter().map(|run| run.name.clone()).collect()
    }

    /// Its limits.
    #[getter]
    fn limits(&self) -> Vec<Limit> {
        self.core.limits.iter().map(|s| Limit(s.limit)).collect()
    }

    /// The circumstances of a run: its tested volume, the surroundings, the gauge. What its trace logged of the temperature
    /// `temperature_k` has.
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
    fn bench(&self, py: Python<'_>, run: Given<String>) -> Answer<Bench> {
        let run = self.run(&run)?;
        let bench = self.core.bench_for(run)?;
        let gas = Gas::of_sheet(&self.core, bench.gas)?;
        Ok(Bench::of_sheet(
            py,
            bench,
            self.core.ambient.thermometer,
            gas,
        )?)
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
        run: Given<String>,
    ) -> Answer<(Bound<'py, PyArray1<f64>>, Bound<'py, PyArray1<f64>>)> {
        let readings = self.run(&run)?.record.readings();
        let column = |of: fn(&casetight::readings::Readings) -> &[f64]| {
            readings
                .map_or_else(Vec::new, |r| of(r).to_vec())
                .into_pyarray(py)
        };
        Ok((
            column(casetight::readings::Readings::times_s),
            column(casetight::readings::Readings::gauges_pa),
        ))
    }

    /// Temperatures [K] at the readings of a run, an array; None where its trace has no column of them. With the run's
    /// `bench`, which knows what the thermometer touched, they go to `fit` and `assess`.
    ///
    /// Raises
    /// ------
    /// KeyError
    ///     For a run that there is not.
    ///
    /// Examples
    /// --------
    /// >>> Sheet.read(demo / "mist-blower-14.toml").temperature_k("pressure") is None
    /// True
    fn temperature_k<'py>(
        &self,
        py: Python<'py>,
        run: Given<String>,
    ) -> Answer<Option<Bound<'py, PyArray1<f64>>>> {
        Ok(match &self.run(&run)?.record {
            Record::Trace {
                temperature_k: Some(kelvins),
                ..
            } => Some(kelvins.clone().into_pyarray(py)),
            _ => None,
        })
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
    fn volume(slf: &Bound<'_, Self>, run: Given<String>) -> Answer<TestedVolume> {
        let this = slf.get();
        let volume = this.core.volume_of(this.run(&run)?)?;
        Ok(TestedVolume::new(
            volume,
            Made::at("Sheet.volume", slf, run.0),
        ))
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
    fn assess(slf: &Bound<'_, Self>) -> Answer<Session> {
        let sheet = Arc::clone(&slf.get().core);
        let core = interruptible(slf.py(), move || CoreSession::assess(&sheet))??;
        let made = Made::of("Sheet.assess", slf);
        Ok(Session { core, made })
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
    fn plan(slf: &Bound<'_, Self>) -> Answer<Document> {
        let sheet = Arc::clone(&slf.get().core);
        let plans = interruptible(slf.py(), move || sheet.plan())??;
        let made = Made::of("Sheet.plan", slf);
        Document::new("plan", &PlansDocument::new(&plans)?, made)
    }

    /// Which place leaks, and what to blank or spray next: the document of `casetight isolate --json`.
    ///
    /// Areas are told at one gauge pressure, `at_gauge_pa` of each direction: of those that its runs started from, the one nearest
    /// to zero. Limits are converted there.
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
    fn isolate(slf: &Bound<'_, Self>) -> Answer<Document> {
        let sheet = Arc::clone(&slf.get().core);
        let located = interruptible(slf.py(), move || locate(&sheet))??;
        let made = Made::of("Sheet.isolate", slf);
        Document::new("isolate", &located.document(), made)
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
    fn compare<'py>(
        slf: &Bound<'py, Self>,
        after: Given<Bound<'py, Self>>,
        runs: Option<Given<(String, String)>>,
    ) -> Answer<Document> {
        let (before, later) = (Arc::clone(&slf.get().core), Arc::clone(&after.0.get().core));
        let runs = runs.map(|runs| runs.0);
        let chosen = runs.clone();
        let compared = interruptible(slf.py(), move || {
            let chosen = chosen.as_ref().map(|(a, b)| (a.as_str(), b.as_str()));
            compare_sheets(&before, &later, chosen)
        })??;
        let (before, after) = (slf.clone().unbind(), after.0.unbind());
        let made = Made::by("Sheet.compare", move |py| {
            let named = PyDict::new(py);
            named.set_item("runs", runs.clone())?;
            Ok(((&before, &after).into_pyobject(py)?, named))
        });
        Document::new("compare", &CompareDocument::from(&compared), made)
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
    ///     For a sheet without the engine's dimensions, without a run of the engine, or with running conditions that are not valid.
    ///
    /// Examples
    /// --------
    /// >>> Sheet.read(demo / "kart-engine-2.toml").running().inward_area_m2.high
    /// inf
    fn running(slf: &Bound<'_, Self>) -> Answer<Mixture> {
        let sheet = Arc::clone(&slf.get().core);
        let core = interruptible(slf.py(), move || CoreMixture::of(&sheet))??;
        let made = Made::of("Sheet.running", slf);
        Ok(Mixture { core, made })
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
    fn report<'py>(
        slf: &Bound<'py, Self>,
        before: Option<Given<Bound<'py, Self>>>,
    ) -> Answer<Report> {
        let sheet = Arc::clone(&slf.get().core);
        let earlier = before
            .as_ref()
            .map(|before| Arc::clone(&before.0.get().core));
        let page = interruptible(slf.py(), move || Page::of(&sheet, earlier.as_deref()))??;
        let made = Made::with("Sheet.report", slf, before.map(|before| before.0));
        Ok(Report::new(page, made))
    }

    fn __repr__(&self) -> String {
        format!(
            "<Sheet: {}, {} runs>",
            self.core.title,
            self.core.runs.len()
        )
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Restored<'py>> {
        self.made.reduce(py)
    }
}

/// An assessed sheet: what `Sheet.assess` returns. It is a sequence of its runs' assessments.
///
/// Examples
/// --------
/// >>> session = Sheet.read(demo / "mist-blower-14.toml").assess()
/// >>> [(run.name, run.verdict) for run in session]
/// [('pressure', 'holds'), ('vacuum', 'holds')]
#[pyclass(frozen, sequence, eq, hash, module = "casetight")]
#[derive(Debug)]
pub(crate) struct Session {
    core: CoreSession,
    made: Made,
}

by_value!(Session: |this| &this.core);

impl Session {
    fn document(&self) -> Answer<serde_json::Value> {
        value(&self.core.document()?)
    }

    fn assessment(slf: &Bound<'_, Self>, place: usize) -> Answer<RunAssessment> {
        let run = slf.get().core.runs.get(place);
        let run = run.ok_or_else(|| Failure::missing("no such run"))?;
        Ok(RunAssessment {
            name: run.name.clone(),
            core: run.assessment.clone(),
            made: Made::at("Session.runs", slf, place),
        })
    }

    fn objects<'py>(slf: &Bound<'py, Self>) -> Answer<Vec<Bound<'py, RunAssessment>>> {
        let mut runs = Vec::new();
        for run in Self::runs(slf)? {
            runs.push(Bound::new(slf.py(), run)?);
        }
        Ok(runs)
    }

    /// Each run's name and what became of it.
    fn told(&self) -> Vec<(&str, String)> {
        let runs = self.core.runs.iter();
        runs.map(|run| (run.name.as_str(), in_words(&run.assessment)))
            .collect()
    }
}

#[pymethods]
impl Session {
    /// The worst run's verdict: "leaks" before "undecided", "stalled" or None, before "holds".
    #[getter]
    fn verdict(&self) -> Option<&'static str> {
        worst(self.core.worst())
    }

    /// The runs' assessments.
    #[getter]
    fn runs(slf: &Bound<'_, Self>) -> Answer<Vec<RunAssessment>> {
        let places = 0..slf.get().core.runs.len();
        places.map(|place| Self::assessment(slf, place)).collect()
    }

    /// What to do next, one sentence each.
    #[getter]
    fn next(&self) -> Vec<String> {
        self.core.next.iter().map(ToString::to_string).collect()
    }

    /// Cautions that belong beside the next steps.
    #[getter]
    fn cautions(&self) -> Vec<&'static str> {
        let mut cautions = Vec::new();
        if self.core.next.iter().any(|step| step.pumps()) {
            cautions.extend(caution::BEFORE_PUMPING);
        }
        if self.core.next.iter().any(|step| step.sprays()) {
            cautions.extend(caution::BEFORE_SPRAYING);
        }
        cautions
    }

    fn __len__(&self) -> usize {
        self.core.runs.len()
    }

    fn __getitem__(slf: &Bound<'_, Self>, place: isize) -> Answer<RunAssessment> {
        let runs = slf.get().core.runs.len();
        let wanted = usize::try_from(place)
            .ok()
            .or_else(|| runs.checked_sub(place.unsigned_abs()));
        Self::assessment(slf, wanted.unwrap_or(runs))
    }

    fn __iter__<'py>(slf: &Bound<'py, Self>) -> Answer<Bound<'py, PyIterator>> {
        Ok(PyList::new(slf.py(), Self::objects(slf)?)?.try_iter()?)
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
        slf: &Bound<'py, Self>,
        run: Option<Given<String>>,
        axes: Option<Bound<'py, PyAny>>,
    ) -> Answer<Bound<'py, PyAny>> {
        let wanted = |found: &RunAssessment| match &run {
            Some(name) => found.name == name.0,
            None => found.is_fitted(),
        };
        let runs = Self::objects(slf)?;
        let chosen = runs.iter().find(|found| wanted(found.get()));
        let chosen = chosen.ok_or_else(|| Failure::missing("no such run in the session"))?;
        RunAssessment::plot(chosen, axes)
    }

    fn __repr__(&self) -> String {
        let runs = self.told();
        let runs: Vec<String> = runs
            .into_iter()
            .map(|(name, words)| format!("{name}: {words}"))
            .collect();
        format!("<Session: {}>", runs.join("; "))
    }

    fn _repr_html_(&self) -> String {
        let mut rows = self.told();
        rows.extend(self.next().into_iter().map(|step| ("next", step)));
        let cautions = self.cautions();
        rows.extend(cautions.into_iter().map(|c| ("caution", c.to_owned())));
        table("Session", &rows)
    }
    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Restored<'py>> {
        self.made.reduce(py)
    }
}
