//! Fits of one run.

mod laws;
mod readings;
mod words;

pub(crate) use laws::{Laws, level_or_usual};
pub(crate) use readings::{Temperature, given, readings, with_drift, worked};
pub(crate) use words::in_words;

use std::sync::Arc;

use casetight::estimate::Estimate as CoreEstimate;
use casetight::fit::{Course, Fit as Core, Method, fit_laws};
use casetight::quantity::{GaugePressure, Ratio, ThermodynamicTemperature, Time, TradeUnits};
use casetight::vessel::Direction;
use casetight_bench::assess::Note;
use casetight_bench::plausible::{Surprise, surprises};
use numpy::{IntoPyArray, PyArray1};
use pyo3::prelude::*;
use pyo3::types::PyDict;
use serde::Serialize;

use crate::array::{Floats, map};
use crate::document::{table, to_json, to_python, value};
use crate::errors::Answer;
use crate::estimate::Estimate;
use crate::gauge::Bench;
use crate::restore::{Made, Restored};
use crate::same::by_value;
use crate::scalar::{Drift, Given, Plain, Si};
use crate::vessel::DecayLaw;

/// A law with its probability given the readings, among the laws tried.
#[pyclass(frozen, eq, hash, module = "casetight")]
#[derive(Debug)]
pub(crate) struct LawWeight {
    core: casetight::fit::LawWeight,
    made: Made,
}

by_value!(LawWeight: |this| this.core);

#[pymethods]
impl LawWeight {
    /// The law.
    #[getter]
    fn law(&self) -> DecayLaw {
        DecayLaw(self.core.law)
    }

    /// Its probability.
    #[getter]
    fn weight(&self) -> f64 {
        self.core.weight
    }

    /// Rate [1/s] by this law, of the orifice with the same flow at the start pressure.
    #[getter]
    fn rate_per_s(&self) -> f64 {
        self.core.rate_per_s
    }

    /// Sum of the squared residuals and of the shared terms.
    #[getter]
    fn chi_squared(&self) -> f64 {
        self.core.chi_squared
    }

    fn __repr__(&self) -> String {
        format!(
            "<LawWeight: {} {:.1} %>",
            self.core.law.name(),
            100.0 * self.core.weight
        )
    }
    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Restored<'py>> {
        self.made.reduce(py)
    }
}

/// Keys are those of `casetight assess --json` where both say the same.
#[derive(Serialize)]
struct FitDocument<'a> {
    format: u32,
    direction: Direction,
    course: &'static str,
    effective_area_m2: CoreEstimate<f64>,
    rate_per_s: CoreEstimate<f64>,
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
#[pyclass(frozen, eq, hash, module = "casetight")]
#[derive(Debug)]
pub(crate) struct Fit {
    core: Core,
    /// What surprises about the readings and the bench.
    surprises: Vec<Surprise>,
    made: Made,
}

by_value!(Fit: |this| (&this.core, &this.surprises));

impl Fit {
    pub(crate) fn new(core: Core, surprises: Vec<Surprise>, made: Made) -> Self {
        Self {
            core,
            surprises,
            made,
        }
    }

    fn document(&self) -> Answer<serde_json::Value> {
        let fit = &self.core;
        value(&FitDocument {
            format: FORMAT,
            direction: fit.direction,
            course: self.course(),
            effective_area_m2: fit.area.si(),
            rate_per_s: fit.rate.si(),
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
        let column: Vec<f64> = self.core.residuals.iter().map(of).collect();
        column.into_pyarray(py)
    }
}

#[pymethods]
impl Fit {
    /// "pressure" or "vacuum".
    #[getter]
    fn direction(&self) -> String {
        self.core.direction.to_string()
    }

    /// What the readings show: the needle "falls", "stands" or "rises".
    #[getter]
    fn course(&self) -> &'static str {
        match self.core.course {
            Course::Falls => "falls",
            Course::Stands => "stands",
            Course::Rises => "rises",
            Course::Explained => "explained",
        }
    }

    /// The law, where the readings tell it from the others tried; else None.
    #[getter]
    fn law(&self) -> Option<DecayLaw> {
        self.core.law.map(DecayLaw)
    }

    /// The laws tried that can't be dismissed, the likeliest first.
    #[getter]
    fn laws(slf: &Bound<'_, Self>) -> Vec<LawWeight> {
        let laws = slf.get().core.laws.iter().enumerate();
        laws.map(|(place, law)| LawWeight {
            core: *law,
            made: Made::at("Fit.laws", slf, place),
        })
        .collect()
    }

    /// Rate k = CdA sqrt(R T)/V [1/s]: what a decay identifies. Its interval holds all but volume and temperature.
    #[getter]
    fn rate_per_s(slf: &Bound<'_, Self>) -> Estimate {
        Estimate::of("Fit.rate_per_s", slf, slf.get().core.rate)
    }

    /// Effective area CdA [m2]; its interval holds volume and temperature as well.
    #[getter]
    fn effective_area_m2(slf: &Bound<'_, Self>) -> Estimate {
        Estimate::of("Fit.effective_area_m2", slf, slf.get().core.area)
    }

    /// The rig's own effective area [m2] at the start pressure, where it was subtracted.
    #[getter]
    fn rig_area_m2(slf: &Bound<'_, Self>) -> Option<Estimate> {
        let rig = slf.get().core.rig;
        rig.map(|rig| Estimate::of("Fit.rig_area_m2", slf, rig))
    }

    /// Gauge pressure at the first reading, fitted by the likeliest law [Pa].
    #[getter]
    fn start_gauge_pa(&self) -> f64 {
        self.core.start.pascals()
    }

    /// Where the area's interval comes from: standard uncertainty [m2] by the name of each part; they add in quadrature.
    #[getter]
    fn parts<'py>(&self, py: Python<'py>) -> Answer<Bound<'py, PyDict>> {
        let parts = PyDict::new(py);
        for part in &self.core.parts {
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
        self.core.residual_rms_pa
    }

    /// Sum of the squared standardized residuals and of the shared terms.
    #[getter]
    fn chi_squared(&self) -> f64 {
        self.core.chi_squared
    }

    /// Readings less the two fitted quantities, rate and start pressure.
    #[getter]
    fn degrees_of_freedom(&self) -> usize {
        self.core.degrees_of_freedom
    }

    /// Correlation of rate and start pressure.
    #[getter]
    fn correlation(&self) -> f64 {
        self.core.correlation
    }

    /// How the rate's interval was got: "quadratic", "profile", "rounded" or "fallen".
    #[getter]
    fn method(&self) -> &'static str {
        match self.core.method {
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
        self.core.iterations
    }

    /// Whether the solver reached an optimum.
    #[getter]
    fn converged(&self) -> bool {
        self.core.converged
    }

    /// What to know, one sentence each.
    #[getter]
    fn notes(&self) -> Vec<String> {
        let surprises = self.surprises.iter().map(ToString::to_string);
        let notes = self.core.notes.iter().copied();
        surprises
            .chain(notes.map(|note| Note::Fit(note).to_string()))
            .collect()
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
        rate_per_s: Option<Plain>,
    ) -> Answer<Bound<'py, PyAny>> {
        let rate = rate_per_s.map_or(self.core.rate.si().value, |rate| rate.0);
        map(py, [&time_s], |[time]| {
            Ok(self.core.reading_at(time, rate).unwrap_or(f64::NAN))
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
            Ok(self.core.straightened(reading).unwrap_or(f64::NAN))
        })
    }

    /// The effective area [m2] that the same leak has at another start pressure [Pa].
    ///
    /// Examples
    /// --------
    /// >>> leak = fit([0, 5, 10, 15], [48300, 45500, 42800, 40300], bench, laws=["orifice"])
    /// >>> leak.area_from("1 psi").value == leak.effective_area_m2.value
    /// True
    fn area_from(slf: &Bound<'_, Self>, start_gauge_pa: Si<GaugePressure>) -> Estimate {
        let from = start_gauge_pa.0;
        let made = Made::at("Fit.area_from", slf, from.pascals());
        Estimate::made(slf.get().core.area_from(from), made)
    }

    /// The same leak without the rig's, known from a fit of the rig alone in the same direction.
    ///
    /// Examples
    /// --------
    /// >>> leak = fit([0, 5, 10, 15], [48300, 45500, 42800, 40300], bench)
    /// >>> leak.less(leak).effective_area_m2.value
    /// 0.0
    fn less<'py>(slf: &Bound<'py, Self>, rig: Given<Bound<'py, Self>>) -> Self {
        let this = slf.get();
        Self {
            core: this.core.clone().less(&rig.0.get().core),
            surprises: this.surprises.clone(),
            made: Made::with("Fit.less", slf, Some(rig.0)),
        }
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
    ///     For the curve and the residuals; without, those of a new figure of ``matplotlib.pyplot``, which a notebook shows by
    ///     itself and a script by ``matplotlib.pyplot.show()``.
    ///
    /// Returns
    /// -------
    /// pair of matplotlib axes
    ///     Of the curve and of the residuals.
    ///
    /// Raises
    /// ------
    /// ImportError
    ///     Without matplotlib; it says how to install it.
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

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Restored<'py>> {
        self.made.reduce(py)
    }

    fn _repr_html_(&self) -> String {
        let laws: Vec<String> = self
            .core
            .laws
            .iter()
            .map(|l| format!("{} {:.0} %", l.law.words(), 100.0 * l.weight))
            .collect();
        let Core { area, rate, .. } = &self.core;
        let mut rows = vec![
            ("effective area (CdA)", area.to_string()),
            (
                "rate",
                format!(
                    "{:.3e} per s ({:.3e} to {:.3e})",
                    rate.si().value,
                    rate.si().low,
                    rate.si().high
                ),
            ),
            ("start", self.core.start.trade().to_string()),
            ("law", laws.join(", ")),
            (
                "residuals",
                format!(
                    "{:.0} Pa rms, {} readings",
                    self.core.residual_rms_pa,
                    self.core.residuals.len()
                ),
            ),
        ];
        rows.extend(self.notes().into_iter().map(|note| ("note", note)));
        table(&format!("Fit of a {} run", self.core.direction), &rows)
    }
}

impl Fit {
    fn in_words(&self) -> String {
        in_words(&self.core)
    }
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
/// temperature_k : array_like, shape (n,), optional
///     Temperature at each reading [K], three or more, of what the bench's `thermometer` touched: the gas follows its course.
/// drift_k_s : float or pair, optional
///     A steady drift of the wall's [K/s], where it is known otherwise, and its standard uncertainty. Without either, the
///     bench's own holds.
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
/// ArgumentError
///     For arrays of anything but real numbers.
/// QuantityError
///     For a unit that does not convert.
/// KeyboardInterrupt
///     At once, where the readings are many.
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
#[pyo3(signature = (time_s, gauge_pa, bench, *, laws=None, level=None, temperature_k=None, drift_k_s=None))]
pub(crate) fn fit(
    py: Python<'_>,
    time_s: Floats<'_, Time>,
    gauge_pa: Floats<'_, GaugePressure>,
    bench: Given<Bound<'_, Bench>>,
    laws: Option<Laws>,
    level: Option<Si<Ratio>>,
    temperature_k: Option<Floats<'_, ThermodynamicTemperature>>,
    drift_k_s: Option<Drift>,
) -> Answer<Fit> {
    let bench = bench.0;
    let temperature = Temperature {
        of_readings: temperature_k,
        drift: drift_k_s,
    };
    let taken = Arc::new(readings(&time_s, &gauge_pa, &temperature, bench.get())?);
    let laws = Laws::or_usual(laws);
    let level = level_or_usual(level);
    let found = {
        let (on, core, laws) = (Arc::clone(&taken), bench.get().core.clone(), laws.clone());
        worked(py, &taken.readings, move || {
            fit_laws(&on.readings, &core, level, &laws)
        })??
    };
    let surprises = surprises(&taken.readings, &bench.get().core);
    let bench = bench.unbind();
    let made = Made::by("fit", move |py| {
        let (columns, named) = given(py, &taken, &bench)?;
        named.set_item("laws", Laws::as_given(py, &laws)?)?;
        named.set_item("level", level)?;
        Ok((columns, named))
    });
    Ok(Fit::new(found, surprises, made))
}
