//! Fits of one run.

use casetight::assess::Note;
use casetight::fit::{
    CANDIDATES, Candidate, Course, Fit as Core, Interval as CoreInterval, Method, fit_laws,
};
use casetight::quantity::{Area, GaugePressure, Ratio, Time, TradeUnits};
use casetight::record::{Bench as CoreBench, Readings};
use casetight::vessel::Direction;
use numpy::{IntoPyArray, PyArray1};
use pyo3::prelude::*;
use pyo3::types::PyDict;
use serde::Serialize;
use uom::si::area::square_meter;

use crate::array::{Floats, map};
use crate::document::{table, to_json, to_python, value};
use crate::errors::Answer;
use crate::gauge::Bench;
use crate::scalar::Si;
use crate::vessel::{DecayLaw, NamedLaw};

/// A value that can't be negative, with the interval that holds the truth as often as its level says.
///
/// `low` is zero where the truth may be zero; `high` is infinite where the interval is open upward.
#[pyclass(frozen, module = "casetight")]
#[derive(Debug)]
pub(crate) struct Interval(pub(crate) CoreInterval);

#[pymethods]
impl Interval {
    /// Best estimate.
    #[getter]
    fn value(&self) -> f64 {
        self.0.value
    }

    /// Lower end.
    #[getter]
    fn low(&self) -> f64 {
        self.0.low
    }

    /// Upper end.
    #[getter]
    fn high(&self) -> f64 {
        self.0.high
    }

    /// Confidence level, 0.95 for 95 %.
    #[getter]
    fn level(&self) -> f64 {
        self.0.level
    }

    /// Probability that the quantity lies at or below a limit, in the interval's unit.
    ///
    /// Examples
    /// --------
    /// >>> leak = fit([0, 5, 10, 15], [48300, 45500, 42800, 40300], bench)
    /// >>> round(leak.effective_area_m2.probability_within(leak.effective_area_m2.high), 3)
    /// 0.975
    fn probability_within(&self, limit: f64) -> f64 {
        self.0.probability_within(limit)
    }

    /// As a dictionary with value, low, high and level.
    fn to_dict<'py>(&self, py: Python<'py>) -> Answer<Bound<'py, PyAny>> {
        Ok(to_python(py, &value(&self.0)?)?)
    }

    fn __repr__(&self) -> String {
        let CoreInterval {
            value, low, high, ..
        } = self.0;
        format!(
            "<Interval: {value:.4e} ({low:.4e} to {high:.4e}, {} %)>",
            100.0 * self.0.level
        )
    }
}

/// A law with its probability given the readings, among the laws tried.
#[pyclass(frozen, module = "casetight")]
#[derive(Debug)]
pub(crate) struct LawWeight(casetight::fit::LawWeight);

#[pymethods]
impl LawWeight {
    /// The law.
    #[getter]
    fn law(&self) -> DecayLaw {
        DecayLaw(self.0.law)
    }

    /// Its probability.
    #[getter]
    fn weight(&self) -> f64 {
        self.0.weight
    }

    /// Rate [1/s] by this law, of the orifice with the same flow at the start pressure.
    #[getter]
    fn rate_per_s(&self) -> f64 {
        self.0.rate_per_s
    }

    /// Sum of the squared residuals and of the shared terms.
    #[getter]
    fn chi_squared(&self) -> f64 {
        self.0.chi_squared
    }

    fn __repr__(&self) -> String {
        format!(
            "<LawWeight: {} {:.1} %>",
            self.0.law.name(),
            100.0 * self.0.weight
        )
    }
}

/// Keys are those of `casetight assess --json` where both say the same.
#[derive(Serialize)]
struct FitDocument<'a> {
    format: u32,
    direction: Direction,
    course: &'static str,
    effective_area_m2: CoreInterval,
    rate_per_s: CoreInterval,
    start_gauge_pa: f64,
    law: Option<&'static str>,
    laws: Vec<LawDocument>,
    parts: Vec<PartDocument>,
    residual_rms_pa: f64,
    chi_squared: f64,
    degrees_of_freedom: usize,
    correlation: f64,
    method: &'static str,
    iterations: u64,
    converged: bool,
    notes: &'a [String],
    residuals: Vec<ResidualDocument>,
}

#[derive(Serialize)]
struct LawDocument {
    law: &'static str,
    weight: f64,
    rate_per_s: f64,
    chi_squared: f64,
}

#[derive(Serialize)]
struct PartDocument {
    part: casetight::fit::PartKind,
    standard_uncertainty_m2: f64,
}

#[derive(Serialize)]
struct ResidualDocument {
    time_s: f64,
    reading_pa: f64,
    fitted_pa: f64,
    standardized: f64,
}

/// Version of [`FitDocument`].
const FORMAT: u32 = 1;

/// A leak fitted to the readings of one run: what `fit` returns.
#[pyclass(frozen, module = "casetight")]
#[derive(Debug)]
pub(crate) struct Fit(pub(crate) Core);

impl Fit {
    fn document(&self) -> Answer<serde_json::Value> {
        let fit = &self.0;
        value(&FitDocument {
            format: FORMAT,
            direction: fit.direction,
            course: self.course(),
            effective_area_m2: fit.area,
            rate_per_s: fit.rate,
            start_gauge_pa: fit.start.pascals(),
            law: fit.law.map(casetight::vessel::DecayLaw::name),
            laws: fit
                .laws
                .iter()
                .map(|l| LawDocument {
                    law: l.law.name(),
                    weight: l.weight,
                    rate_per_s: l.rate_per_s,
                    chi_squared: l.chi_squared,
                })
                .collect(),
            parts: fit
                .parts
                .iter()
                .map(|p| PartDocument {
                    part: p.kind,
                    standard_uncertainty_m2: p.standard_uncertainty_m2,
                })
                .collect(),
            residual_rms_pa: fit.residual_rms_pa,
            chi_squared: fit.chi_squared,
            degrees_of_freedom: fit.degrees_of_freedom,
            correlation: fit.correlation,
            method: self.method(),
            iterations: fit.iterations,
            converged: fit.converged,
            notes: &self.notes(),
            residuals: fit
                .residuals
                .iter()
                .map(|r| ResidualDocument {
                    time_s: r.time_s,
                    reading_pa: r.reading_pa,
                    fitted_pa: r.fitted_pa,
                    standardized: r.standardized,
                })
                .collect(),
        })
    }

    fn column<'py>(
        &self,
        py: Python<'py>,
        of: impl Fn(&casetight::fit::Residual) -> f64,
    ) -> Bound<'py, PyArray1<f64>> {
        let column: Vec<f64> = self.0.residuals.iter().map(of).collect();
        column.into_pyarray(py)
    }
}

#[pymethods]
impl Fit {
    /// "pressure" or "vacuum".
    #[getter]
    fn direction(&self) -> String {
        self.0.direction.to_string()
    }

    /// What the readings show: the needle "falls", "stands" or "rises".
    #[getter]
    fn course(&self) -> &'static str {
        match self.0.course {
            Course::Falls => "falls",
            Course::Stands => "stands",
            Course::Rises => "rises",
            _ => "unknown",
        }
    }

    /// The law, where the readings tell it from the others tried; else None.
    #[getter]
    fn law(&self) -> Option<DecayLaw> {
        self.0.law.map(DecayLaw)
    }

    /// The laws tried that can't be dismissed, the likeliest first.
    #[getter]
    fn laws(&self) -> Vec<LawWeight> {
        self.0.laws.iter().copied().map(LawWeight).collect()
    }

    /// Rate k = CdA sqrt(R T)/V [1/s]: what a decay identifies. Its interval holds all but volume and temperature.
    #[getter]
    fn rate_per_s(&self) -> Interval {
        Interval(self.0.rate)
    }

    /// Effective area CdA [m2]; its interval holds volume and temperature as well.
    #[getter]
    fn effective_area_m2(&self) -> Interval {
        Interval(self.0.area)
    }

    /// The rig's own effective area [m2] at the start pressure, where it was subtracted.
    #[getter]
    fn rig_area_m2(&self) -> Option<Interval> {
        self.0.rig.map(Interval)
    }

    /// Gauge pressure at the first reading, fitted by the likeliest law [Pa].
    #[getter]
    fn start_gauge_pa(&self) -> f64 {
        self.0.start.pascals()
    }

    /// Where the area's interval comes from: standard uncertainty [m2] by the name of each part; they add in quadrature.
    #[getter]
    fn parts<'py>(&self, py: Python<'py>) -> Answer<Bound<'py, PyDict>> {
        let parts = PyDict::new(py);
        for part in &self.0.parts {
            parts.set_item(
                to_python(py, &value(&part.kind)?)?,
                part.standard_uncertainty_m2,
            )?;
        }
        Ok(parts)
    }

    /// Times of the readings [s].
    #[getter]
    fn time_s<'py>(&self, py: Python<'py>) -> Bound<'py, PyArray1<f64>> {
        self.column(py, |r| r.time_s)
    }

    /// Readings [Pa].
    #[getter]
    fn reading_pa<'py>(&self, py: Python<'py>) -> Bound<'py, PyArray1<f64>> {
        self.column(py, |r| r.reading_pa)
    }

    /// What the gauge would have shown [Pa], fitted offset and scale included.
    #[getter]
    fn fitted_pa<'py>(&self, py: Python<'py>) -> Bound<'py, PyArray1<f64>> {
        self.column(py, |r| r.fitted_pa)
    }

    /// Reading less fitted, in standard uncertainties of a reading.
    #[getter]
    fn standardized<'py>(&self, py: Python<'py>) -> Bound<'py, PyArray1<f64>> {
        self.column(py, |r| r.standardized)
    }

    /// Root mean square of reading less fitted [Pa].
    #[getter]
    fn residual_rms_pa(&self) -> f64 {
        self.0.residual_rms_pa
    }

    /// Sum of the squared standardized residuals and of the shared terms.
    #[getter]
    fn chi_squared(&self) -> f64 {
        self.0.chi_squared
    }

    /// Readings less the two fitted quantities, rate and start pressure.
    #[getter]
    fn degrees_of_freedom(&self) -> usize {
        self.0.degrees_of_freedom
    }

    /// Correlation of rate and start pressure.
    #[getter]
    fn correlation(&self) -> f64 {
        self.0.correlation
    }

    /// How the rate's interval was got: "quadratic", "profile", "rounded" or "fallen".
    #[getter]
    fn method(&self) -> &'static str {
        match self.0.method {
            Method::Quadratic => "quadratic",
            Method::Profile => "profile",
            Method::Rounded => "rounded",
            Method::Fallen => "fallen",
            _ => "unknown",
        }
    }

    /// The solver's iterations.
    #[getter]
    fn iterations(&self) -> u64 {
        self.0.iterations
    }

    /// Whether the solver reached an optimum.
    #[getter]
    fn converged(&self) -> bool {
        self.0.converged
    }

    /// What to know, one sentence each.
    #[getter]
    fn notes(&self) -> Vec<String> {
        let notes = self.0.notes.iter().copied();
        notes.map(|note| Note::Fit(note).to_string()).collect()
    }

    /// Gauge readings [Pa] that the likeliest law has at times [s] on the run's own clock, gauge errors included; a rate
    /// [1/s] other than the fitted one gives the edges of a band. NaN where there is none.
    ///
    /// Examples
    /// --------
    /// >>> leak = fit([0, 5, 10, 15], [48300, 45500, 42800, 40300], bench)
    /// >>> bool(abs(leak.reading_at(5.0) - 45500) < 200)
    /// True
    #[pyo3(signature = (time_s, *, rate_per_s=None))]
    fn reading_at<'py>(
        &self,
        py: Python<'py>,
        time_s: Floats<'py, Time>,
        rate_per_s: Option<f64>,
    ) -> Answer<Bound<'py, PyAny>> {
        let rate = rate_per_s.unwrap_or(self.0.rate.value);
        map(py, [&time_s], |[time]| {
            Ok(self.0.reading_at(time, rate).unwrap_or(f64::NAN))
        })
    }

    /// Gauge readings [Pa] in the straightening coordinate of the likeliest law; NaN at or past zero.
    ///
    /// Examples
    /// --------
    /// >>> leak = fit([0, 5, 10, 15], [48300, 45500, 42800, 40300], bench)
    /// >>> leak.straightened(leak.reading_pa).shape
    /// (4,)
    fn straightened<'py>(
        &self,
        py: Python<'py>,
        reading_pa: Floats<'py, GaugePressure>,
    ) -> Answer<Bound<'py, PyAny>> {
        map(py, [&reading_pa], |[reading]| {
            Ok(self.0.straightened(reading).unwrap_or(f64::NAN))
        })
    }

    /// The effective area [m2] that the same leak has at another start pressure [Pa].
    ///
    /// Examples
    /// --------
    /// >>> leak = fit([0, 5, 10, 15], [48300, 45500, 42800, 40300], bench, laws=["orifice"])
    /// >>> leak.area_from("1 psi").value == leak.effective_area_m2.value
    /// True
    fn area_from(&self, start_gauge_pa: Si<GaugePressure>) -> Interval {
        Interval(self.0.area_from(start_gauge_pa.0))
    }

    /// The same leak without the rig's, known from a fit of the rig alone in the same direction.
    ///
    /// Examples
    /// --------
    /// >>> leak = fit([0, 5, 10, 15], [48300, 45500, 42800, 40300], bench)
    /// >>> leak.less(leak).effective_area_m2.value
    /// 0.0
    fn less(&self, rig: &Bound<'_, Self>) -> Self {
        Self(self.0.clone().less(&rig.get().0))
    }

    /// As a dictionary of plain Python objects, residuals included.
    ///
    /// Examples
    /// --------
    /// >>> fit([0, 5, 10, 15], [48300, 45500, 42800, 40300], bench).to_dict()["direction"]
    /// 'pressure'
    fn to_dict<'py>(&self, py: Python<'py>) -> Answer<Bound<'py, PyAny>> {
        Ok(to_python(py, &self.document()?)?)
    }

    /// As JSON text.
    ///
    /// Examples
    /// --------
    /// >>> fit([0, 5, 10, 15], [48300, 45500, 42800, 40300], bench).to_json()[:11]
    /// '{"format":1'
    #[pyo3(signature = (*, indent=false))]
    fn to_json(&self, indent: bool) -> Answer<String> {
        to_json(&self.document()?, indent)
    }

    /// Readings, fitted curve and residuals, drawn by matplotlib (extra "plot").
    ///
    /// Parameters
    /// ----------
    /// axes : pair of matplotlib axes, optional
    ///     For the curve and the residuals; a new figure without.
    ///
    /// Returns
    /// -------
    /// matplotlib figure
    #[pyo3(signature = (axes=None))]
    fn plot<'py>(
        slf: &Bound<'py, Self>,
        axes: Option<Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        let plots = slf.py().import("casetight._plots")?;
        plots.call_method1("fit", (slf, axes))
    }

    fn __repr__(&self) -> String {
        format!("<Fit: {}>", self.in_words())
    }

    fn _repr_html_(&self) -> String {
        let laws: Vec<String> = self
            .0
            .laws
            .iter()
            .map(|l| format!("{} {:.0} %", l.law.words(), 100.0 * l.weight))
            .collect();
        let Core { area, rate, .. } = self.0;
        let mut rows = vec![
            ("effective area (CdA)", area_in_words(&area)),
            (
                "rate",
                format!(
                    "{:.3e} per s ({:.3e} to {:.3e})",
                    rate.value, rate.low, rate.high
                ),
            ),
            ("start", self.0.start.trade().to_string()),
            ("law", laws.join(", ")),
            (
                "residuals",
                format!(
                    "{:.0} Pa rms, {} readings",
                    self.0.residual_rms_pa,
                    self.0.residuals.len()
                ),
            ),
        ];
        rows.extend(self.notes().into_iter().map(|note| ("note", note)));
        table(&format!("Fit of a {} run", self.0.direction), &rows)
    }
}

impl Fit {
    pub(crate) fn in_words(&self) -> String {
        let law = self.0.laws.first().map_or(String::new(), |l| {
            format!(", {} {:.0} %", l.law.name(), 100.0 * l.weight)
        });
        format!(
            "{}, effective area {}{law}",
            self.0.direction,
            area_in_words(&self.0.area)
        )
    }
}

/// An area with its interval in a unit that reads well.
pub(crate) fn area_in_words(area: &CoreInterval) -> String {
    let shown = |value: f64| {
        Area::new::<square_meter>(value)
            .trade()
            .digits(3)
            .to_string()
    };
    let high = if area.high.is_finite() {
        shown(area.high)
    } else {
        "open".to_owned()
    };
    format!(
        "{} ({} to {high}, {} %)",
        shown(area.value),
        shown(area.low),
        100.0 * area.level
    )
}

/// Laws to try, each alone or with its prior probability.
#[derive(Debug)]
pub(crate) struct Laws(pub(crate) Vec<Candidate>);

impl<'py> FromPyObject<'_, 'py> for Laws {
    type Error = PyErr;

    fn extract(object: Borrowed<'_, 'py, PyAny>) -> PyResult<Self> {
        if let Ok(law) = object.extract::<NamedLaw>() {
            return Ok(Self(vec![Candidate::certain(law.0)]));
        }
        let mut candidates = Vec::new();
        for entry in object.try_iter()? {
            let entry = entry?;
            let (law, prior) = match entry.extract::<(NamedLaw, f64)>() {
                Ok((law, prior)) => (law, prior),
                Err(_) => (entry.extract::<NamedLaw>()?, 1.0),
            };
            if !(prior.is_finite() && prior > 0.0) {
                return Err(crate::errors::Failure::new(format!(
                    "the prior probability {prior} of the law \"{}\" is not a finite number above zero",
                    law.0.name()
                ))
                .into());
            }
            candidates.push(Candidate { law: law.0, prior });
        }
        if candidates.is_empty() {
            return Err(crate::errors::Failure::new(
                "no law to try; leave `laws` out to try the usual ones",
            )
            .into());
        }
        Ok(Self(candidates))
    }
}

impl Laws {
    /// The laws given, or those that are tried otherwise.
    pub(crate) fn or_usual(laws: Option<Self>) -> Vec<Candidate> {
        laws.map_or_else(|| CANDIDATES.to_vec(), |laws| laws.0)
    }
}

/// The confidence level given, or the usual one.
pub(crate) fn level_or_usual(level: Option<Si<Ratio>>) -> f64 {
    level.map_or(casetight::assess::LEVEL, |level| level.0.si_value())
}

/// The readings of a run from two columns.
pub(crate) fn readings(
    time_s: &Floats<'_, Time>,
    gauge_pa: &Floats<'_, GaugePressure>,
    bench: &CoreBench,
) -> Answer<Readings> {
    Ok(Readings::from_si(
        &time_s.column("time_s")?,
        &gauge_pa.column("gauge_pa")?,
        bench.ambient_pressure.value(),
    )?)
}

/// Fits the readings of one run.
///
/// Parameters
/// ----------
/// time_s : array_like, shape (n,)
///     Times of the readings [s], rising.
/// gauge_pa : array_like, shape (n,)
///     Gauge pressures [Pa]; below zero for a vacuum test.
/// bench : Bench
///     Volume, ambient, gauge, gas.
/// laws : sequence of laws, optional
///     Laws to try: each a `DecayLaw` or its name, or a pair of one and its prior probability. The usual ones without.
/// level : float, optional
///     Confidence level of the intervals, 0.5 to 0.9999; 0.95 without.
///
/// Returns
/// -------
/// Fit
///     Estimates with intervals, the laws with their weights, residuals.
///
/// Raises
/// ------
/// ReadingsError
///     For readings that can't be those of one run: the message names the reading.
/// FitError
///     For what keeps them from being fitted.
/// TypeError
///     For arrays of anything but real numbers.
///
/// Notes
/// -----
/// What a decay identifies is the rate CdA sqrt(R T)/V; the area needs the volume. The method is that of the theory
/// manual's page on the fit. No copy is made of a contiguous ``float64`` array at this door; the core keeps its own.
///
/// Examples
/// --------
/// >>> leak = fit([0, 5, 10, 15], [48300, 45500, 42800, 40300], bench)
/// >>> leak.effective_area_m2.low < leak.effective_area_m2.value < leak.effective_area_m2.high
/// True
#[pyfunction]
#[pyo3(signature = (time_s, gauge_pa, bench, *, laws=None, level=None))]
pub(crate) fn fit(
    py: Python<'_>,
    time_s: Floats<'_, Time>,
    gauge_pa: Floats<'_, GaugePressure>,
    bench: &Bound<'_, Bench>,
    laws: Option<Laws>,
    level: Option<Si<Ratio>>,
) -> Answer<Fit> {
    let bench = &bench.get().core;
    let readings = readings(&time_s, &gauge_pa, bench)?;
    let laws = Laws::or_usual(laws);
    let level = level_or_usual(level);
    Ok(Fit(py.detach(|| fit_laws(&readings, bench, level, &laws))?))
}
