//! Runs and sheets assessed.

use casetight::assess::document::RunDocument;
use casetight::assess::{Assumptions, GoOn, Outcome, RunAssessment as Core, assess as core_assess};
use casetight::limit::Verdict;
use casetight::quantity::{GaugePressure, Ratio, ReferenceConditions, Time, TradeUnits};
use pyo3::prelude::*;

use crate::array::Floats;
use crate::document::{table, to_json, to_python, value};
use crate::errors::Answer;
use crate::fit::{Fit, Interval, level_or_usual, readings};
use crate::gauge::Bench;
use crate::limit::{Decision, Limit, limits, word};
use crate::scalar::Si;

/// A run from readings to verdict: what `assess` returns, and what a session holds.
#[pyclass(frozen, module = "casetight")]
#[derive(Debug)]
pub(crate) struct RunAssessment {
    pub(crate) name: String,
    pub(crate) core: Core,
}

impl RunAssessment {
    fn document(&self) -> Answer<serde_json::Value> {
        value(&RunDocument::new(&self.name, &self.core)?)
    }

    fn fitted(&self) -> Option<&casetight::assess::FittedRun> {
        match &self.core.outcome {
            Outcome::Fitted(fitted) => Some(fitted),
            _ => None,
        }
    }

    pub(crate) fn is_fitted(&self) -> bool {
        self.fitted().is_some()
    }

    pub(crate) fn in_words(&self) -> String {
        let verdict = self.core.verdict.map_or("no limit stated", word);
        let fit = self.fitted().map_or_else(
            || "the needle was not raised".to_owned(),
            |fitted| Fit(fitted.fit.clone()).in_words(),
        );
        format!("{verdict}; {fit}")
    }
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
    fn fit(&self) -> Option<Fit> {
        self.fitted().map(|fitted| Fit(fitted.fit.clone()))
    }

    /// Effective area CdA [m2]; None of a run whose needle was not raised (`to_dict` has its lower bound).
    #[getter]
    fn effective_area_m2(&self) -> Option<Interval> {
        self.fitted().map(|fitted| Interval(fitted.fit.area))
    }

    /// Diameter [m] of the round hole of the assumed discharge coefficient.
    #[getter]
    fn diameter_m(&self) -> Option<Interval> {
        self.fitted().map(|fitted| Interval(fitted.diameter_m))
    }

    /// Flow [m3/s] at the run's start pressure, counted at the assumed reference.
    #[getter]
    fn flow_m3_s(&self) -> Option<Interval> {
        self.fitted().map(|fitted| Interval(fitted.flow_m3_s))
    }

    /// One decision a limit.
    #[getter]
    fn decisions(&self) -> Vec<Decision> {
        let fitted = self.fitted().into_iter();
        fitted
            .flat_map(|fitted| fitted.decisions.iter().cloned().map(Decision))
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
        &self,
        py: Python<'py>,
        axes: Option<Bound<'py, PyAny>>,
    ) -> Answer<Bound<'py, PyAny>> {
        let Some(fitted) = self.fitted() else {
            return Err(crate::errors::Failure::new(format!(
                "run \"{}\": the needle was not raised, so there is no curve to draw",
                self.name
            )));
        };
        let plots = py.import("casetight._plots")?;
        Ok(plots.call_method1("fit", (Fit(fitted.fit.clone()), axes))?)
    }

    fn __repr__(&self) -> String {
        format!("<RunAssessment: {}>", self.in_words())
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
#[pyo3(signature = (time_s, gauge_pa, bench, limits=Vec::new(), *, level=None, discharge_coefficient=None, flow_reference=None, name=String::new()))]
pub(crate) fn assess(
    py: Python<'_>,
    time_s: Floats<'_, Time>,
    gauge_pa: Floats<'_, GaugePressure>,
    bench: &Bound<'_, Bench>,
    limits: Vec<Bound<'_, Limit>>,
    level: Option<Si<Ratio>>,
    discharge_coefficient: Option<Si<Ratio>>,
    flow_reference: Option<&str>,
    name: String,
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
            Some(reference) => reference.parse::<ReferenceConditions>()?,
            None => usual.flow_reference,
        },
        ..usual
    };
    let bench = &bench.get().core;
    let readings = readings(&time_s, &gauge_pa, bench)?;
    let limits = self::limits(limits);
    let core = py.detach(|| core_assess(&readings, bench, &limits, &assumptions))?;
    Ok(RunAssessment { name, core })
}

/// The verdict of several runs in words.
pub(crate) fn worst(verdict: Option<Verdict>) -> Option<&'static str> {
    verdict.map(word)
}
