//! Runs and sheets assessed.

use std::sync::Arc;

use casetight::limit::Verdict;
use casetight::quantity::{
    GaugePressure, Ratio, ReferenceConditions, ThermodynamicTemperature, Time, TradeUnits,
};
use casetight_bench::assess::document::RunDocument;
use casetight_bench::assess::{
    Assumptions, GoOn, Note, Outcome, RunAssessment as Core, assess as core_assess,
};
use casetight_bench::plausible::Surprise;
use pyo3::prelude::*;

use crate::array::Floats;
use crate::document::{table, to_json, to_python, value};
use crate::errors::Answer;
use crate::estimate::Estimate;
use crate::fit::{Fit, Temperature, given, level_or_usual, readings, worked};
use crate::gauge::Bench;
use crate::limit::{Decision, Limit, limits, word};
use crate::restore::{Made, Restored};
use crate::same::by_value;
use crate::scalar::{Drift, Given, Si};

/// A run from readings to verdict: what `assess` returns, and what a session holds.
#[pyclass(frozen, eq, hash, module = "casetight")]
#[derive(Debug)]
pub(crate) struct RunAssessment {
    pub(crate) name: String,
    pub(crate) core: Core,
    pub(crate) made: Made,
}

by_value!(RunAssessment: |this| (&this.name, &this.core));

impl RunAssessment {
    fn document(&self) -> Answer<serde_json::Value> {
        value(&RunDocument::new(&self.name, &self.core)?)
    }

    fn fitted(&self) -> Option<&casetight_bench::assess::FittedRun> {
        match &self.core.outcome {
            Outcome::Fitted(fitted) => Some(fitted),
            _ => None,
        }
    }

    pub(crate) fn is_fitted(&self) -> bool {
        self.fitted().is_some()
    }

    fn in_words(&self) -> String {
        in_words(&self.core)
    }
}

/// An assessment in one line.
pub(crate) fn in_words(run: &Core) -> String {
    let verdict = run.verdict.map_or("no limit stated", word);
    let fit = match &run.outcome {
        Outcome::Fitted(fitted) => crate::fit::in_words(&fitted.fit),
        _ => "the needle was not raised".to_owned(),
    };
    format!("{verdict}; {fit}")
}

#[pymethods]
impl RunAssessment {
    /// The run's name.
    #[getter]
    fn name(&self) -> &str {
        &self.name
    }

    /// "pressure" or "vacuum".
    #[getter]
    fn direction(&self) -> String {
        self.core.direction.to_string()
    }

    /// "holds", "leaks", "undecided" or "stalled"; None without a limit.
    #[getter]
    fn verdict(&self) -> Option<&'static str> {
        self.core.verdict.map(word)
    }

    /// The fit; None of a run whose needle was not raised.
    #[getter]
    fn fit(slf: &Bound<'_, Self>) -> Option<Fit> {
        let this = slf.get();
        let surprises = this.core.notes.iter().filter_map(|note| match note {
            // Of the barometer the session speaks, once for all its fits.
            Note::Surprise {
                surprise: Surprise::Standard { .. } | Surprise::Altitude { .. },
                ..
            } => None,
            Note::Surprise { surprise, .. } => Some(*surprise),
            _ => None,
        });
        let made = Made::of("RunAssessment.fit", slf);
        let fitted = this.fitted()?;
        Some(Fit::new(fitted.fit.clone(), surprises.collect(), made))
    }

    /// Effective area CdA [m2]; None of a run whose needle was not raised (`to_dict` has its lower bound).
    #[getter]
    fn effective_area_m2(slf: &Bound<'_, Self>) -> Option<Estimate> {
        let fitted = slf.get().fitted()?;
        Some(Estimate::of(
            "RunAssessment.effective_area_m2",
            slf,
            fitted.fit.area,
        ))
    }

    /// Diameter [m] of the round hole of the assumed discharge coefficient.
    #[getter]
    fn diameter_m(slf: &Bound<'_, Self>) -> Option<Estimate> {
        let fitted = slf.get().fitted()?;
        Some(Estimate::of(
            "RunAssessment.diameter_m",
            slf,
            fitted.diameter,
        ))
    }

    /// Flow [m3/s] at the run's start pressure, counted at the assumed reference.
    #[getter]
    fn flow_m3_s(slf: &Bound<'_, Self>) -> Option<Estimate> {
        let fitted = slf.get().fitted()?;
        Some(Estimate::of("RunAssessment.flow_m3_s", slf, fitted.flow))
    }

    /// One decision a limit.
    #[getter]
    fn decisions(slf: &Bound<'_, Self>) -> Vec<Decision> {
        let fitted = slf.get().fitted().into_iter();
        let decisions = fitted.flat_map(|fitted| &fitted.decisions).enumerate();
        decisions
            .map(|(place, decision)| Decision {
                core: decision.clone(),
                made: Made::at("RunAssessment.decisions", slf, place),
            })
            .collect()
    }

    /// Probability that the leak is within the strictest limit.
    #[getter]
    fn probability_within_limit(&self) -> Option<f64> {
        self.core.probability_within_limit()
    }

    /// How much longer an undecided run should be held [s]; None where that would not decide it, or nothing is open.
    #[getter]
    fn go_on_s(&self) -> Option<f64> {
        match self.fitted()?.go_on {
            Some(GoOn::For(time)) => Some(time.si_value()),
            _ => None,
        }
    }

    /// What to know, one sentence each.
    #[getter]
    fn notes(&self) -> Vec<String> {
        self.core.notes.iter().map(ToString::to_string).collect()
    }

    /// As a dictionary: a run of `casetight assess --json`.
    ///
    /// Examples
    /// --------
    /// >>> run = assess([0, 5, 10, 15], [48300, 45500, 42800, 40300], bench, [Limit.one_psi_a_minute()])
    /// >>> run.to_dict()["verdict"]
    /// 'leaks'
    fn to_dict<'py>(&self, py: Python<'py>) -> Answer<Bound<'py, PyAny>> {
        Ok(to_python(py, &self.document()?)?)
    }

    /// As JSON text.
    ///
    /// Examples
    /// --------
    /// >>> assess([0, 5, 10, 15], [48300, 45500, 42800, 40300], bench).to_json()[:10]
    /// '{"name":""'
    #[pyo3(signature = (*, indent=false))]
    fn to_json(&self, indent: bool) -> Answer<String> {
        to_json(&self.document()?, indent)
    }

    /// Readings, fitted curve and residuals, drawn by matplotlib (extra "plot"); as `Fit.plot`.
    ///
    /// Raises
    /// ------
    /// ValueError
    ///     For a run whose needle was not raised: there is no curve to draw.
    #[pyo3(signature = (axes=None))]
    pub(crate) fn plot<'py>(
        slf: &Bound<'py, Self>,
        axes: Option<Bound<'py, PyAny>>,
    ) -> Answer<Bound<'py, PyAny>> {
        let Some(fit) = Self::fit(slf) else {
            return Err(crate::errors::Failure::new(format!(
                "run \"{}\": the needle was not raised, so there is no curve to draw",
                slf.get().name
            )));
        };
        let plots = slf.py().import("casetight._plots")?;
        Ok(plots.call_method1("fit", (fit, axes))?)
    }

    fn __repr__(&self) -> String {
        format!("<RunAssessment: {}>", self.in_words())
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Restored<'py>> {
        self.made.reduce(py)
    }

    fn _repr_html_(&self) -> String {
        let mut rows = vec![("result", self.in_words())];
        if let Some(p) = self.core.probability_within_limit() {
            rows.push(("within the limit", format!("{:.1} % sure", 100.0 * p)));
        }
        rows.extend(self.notes().into_iter().map(|note| ("note", note)));
        let name = if self.name.is_empty() {
            "Run"
        } else {
            &self.name
        };
        table(name, &rows)
    }
}

/// Assesses the readings of one run: fit, a decision against each limit, how long to go on.
///
/// Parameters
/// ----------
/// time_s, gauge_pa, bench
///     As those of `fit`.
/// limits : sequence of Limit
///     A run holds when it holds by all; without one there is no verdict.
/// level : float, optional
///     Confidence level of the intervals.
/// temperature_k, drift_k_s
///     As those of `fit`.
/// discharge_coefficient : float
///     Cd of the hole whose diameter is quoted; only diameters depend on it.
/// flow_reference : str
///     What flows are counted at: "normal", "ANR", "ISA", or "20 C, 1013.25 hPa".
/// name : str
///     The run's name in the document.
///
/// Raises
/// ------
/// ReadingsError, AssessError, QuantityError
///     As `fit`, and for a limit that can't be applied.
///
/// Examples
/// --------
/// >>> run = assess([0, 5, 10, 15], [48300, 45500, 42800, 40300], bench, [Limit.one_psi_a_minute()])
/// >>> run.verdict, run.probability_within_limit < 0.001
/// ('leaks', True)
#[pyfunction]
#[pyo3(signature = (time_s, gauge_pa, bench, limits=Given(Vec::new()), *, level=None, discharge_coefficient=None, flow_reference=None, name=Given(String::new()), temperature_k=None, drift_k_s=None))]
pub(crate) fn assess(
    py: Python<'_>,
    time_s: Floats<'_, Time>,
    gauge_pa: Floats<'_, GaugePressure>,
    bench: Given<Bound<'_, Bench>>,
    limits: Given<Vec<Bound<'_, Limit>>>,
    level: Option<Si<Ratio>>,
    discharge_coefficient: Option<Si<Ratio>>,
    flow_reference: Option<Given<String>>,
    name: Given<String>,
    temperature_k: Option<Floats<'_, ThermodynamicTemperature>>,
    drift_k_s: Option<Drift>,
) -> Answer<RunAssessment> {
    let usual = Assumptions::default();
    let usual = Assumptions {
        level: level_or_usual(level),
        ..usual
    };
    let assumptions = Assumptions {
        discharge_coefficient: discharge_coefficient
            .map_or(usual.discharge_coefficient, |cd| cd.0.si_value()),
        flow_reference: match flow_reference {
            Some(reference) => reference.0.parse::<ReferenceConditions>()?,
            None => usual.flow_reference,
        },
        ..usual
    };
    let (bench, name) = (bench.0, name.0);
    let temperature = Temperature {
        of_readings: temperature_k,
        drift: drift_k_s,
    };
    let taken = Arc::new(readings(&time_s, &gauge_pa, &temperature, bench.get())?);
    let core = {
        let (on, core) = (Arc::clone(&taken), bench.get().core.clone());
        let limits = self::limits(&limits);
        worked(py, &taken.readings, move || {
            core_assess(&on.readings, &core, &limits, &assumptions)
        })??
    };
    let limits: Vec<Py<Limit>> = limits.0.into_iter().map(Bound::unbind).collect();
    let (called, bench) = (name.clone(), bench.unbind());
    let made = Made::by("assess", move |py| {
        let (columns, named) = given(py, &taken, &bench)?;
        named.set_item("limits", &limits)?;
        named.set_item("level", assumptions.level)?;
        named.set_item("discharge_coefficient", assumptions.discharge_coefficient)?;
        named.set_item("flow_reference", assumptions.flow_reference.written())?;
        named.set_item("name", &called)?;
        Ok((columns, named))
    });
    Ok(RunAssessment { name, core, made })
}

/// The verdict of several runs in words.
pub(crate) fn worst(verdict: Option<Verdict>) -> Option<&'static str> {
    verdict.map(word)
}
