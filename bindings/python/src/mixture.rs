//! What the leaks of a sheet do to the running engine.

use std::f64::consts::TAU;

use casetight::quantity::{Angle, TradeUnits};
use casetight_bench::mixture::{MeasuredLeak, Mixture as Core};
use casetight_bench::running::LeanShift as CoreLeanShift;
use casetight_bench::running::document::LoadDocument;
use casetight_report::words::{area_in_words, estimate_in_words, number};
use numpy::{IntoPyArray, PyArray1};
use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::document::{table, to_json, to_python, value};
use crate::errors::{Answer, Failure};
use crate::estimate::Estimate;
use crate::restore::{Made, Restored};
use crate::same::by_value;
use crate::scalar::Given;

/// What a leak does to the mixture at one load: how much leaner it is, and what that follows from. An estimate.
///
/// Examples
/// --------
/// >>> running = Sheet.read(demo / "string-trimmer-6.toml").running()
/// >>> running.idle.lean_shift.value > running.full_throttle.lean_shift.value
/// True
#[pyclass(frozen, eq, hash, module = "casetight")]
#[derive(Debug)]
pub(crate) struct LeanShift {
    name: &'static str,
    core: CoreLeanShift,
    made: Made,
}

by_value!(LeanShift: |this| (this.name, &this.core));

impl LeanShift {
    fn in_words(&self) -> String {
        shift_in_words(&self.core)
    }

    fn document(&self) -> LoadDocument {
        LoadDocument::new(self.name, &self.core)
    }
}

#[pymethods]
impl LeanShift {
    /// "idle" or "full throttle".
    #[getter]
    fn name(&self) -> &'static str {
        self.name
    }

    /// Speed, turns in a second [Hz].
    #[getter]
    fn speed_hz(&self) -> f64 {
        self.core.load.speed.si_value()
    }

    /// Air through the carburetor a turn over swept volume times ambient density.
    #[getter]
    fn delivery_ratio(&self) -> f64 {
        self.core.load.delivery_ratio.value().si_value()
    }

    /// Air by the carburetor, a turn [kg].
    #[getter]
    fn delivered_kg(&self) -> f64 {
        self.core.delivered_kg
    }

    /// Air that leaks in, a turn [kg].
    #[getter]
    fn leaked_in_kg(slf: &Bound<'_, Self>) -> Estimate {
        Estimate::of("LeanShift.leaked_in_kg", slf, slf.get().core.leaked_in)
    }

    /// Mixture that leaks out, a turn [kg].
    #[getter]
    fn leaked_out_kg(slf: &Bound<'_, Self>) -> Estimate {
        Estimate::of("LeanShift.leaked_out_kg", slf, slf.get().core.leaked_out)
    }

    /// Relative rise of lambda and of the air/fuel ratio: 0.01 is 1 % leaner.
    #[getter]
    fn lean_shift(slf: &Bound<'_, Self>) -> Estimate {
        Estimate::of("LeanShift.lean_shift", slf, slf.get().core.shift)
    }

    /// What the range of the lean shift comes from: by how much each lowers and raises it; the parts add in quadrature.
    #[getter]
    fn shares<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let shares = PyDict::new(py);
        for share in &self.core.shares {
            shares.set_item(share.from, (share.down, share.up.unwrap_or(f64::INFINITY)))?;
        }
        Ok(shares)
    }

    /// Lowest gauge pressure in the case over a turn [Pa].
    #[getter]
    fn lowest_gauge_pa(&self) -> f64 {
        self.core.pressure.extremes().0.pascals()
    }

    /// Highest gauge pressure in the case over a turn [Pa].
    #[getter]
    fn highest_gauge_pa(&self) -> f64 {
        self.core.pressure.extremes().1.pascals()
    }

    /// A turn in equal steps from the top: angle [rad] and gauge pressure in the case [Pa], each an array.
    ///
    /// Raises
    /// ------
    /// ValueError
    ///     For no angles at all.
    ///
    /// Examples
    /// --------
    /// >>> angle_rad, gauge_pa = Sheet.read(demo / "string-trimmer-6.toml").running().idle.over_a_turn(360)
    /// >>> gauge_pa.shape, bool(gauge_pa.min() < 0.0 < gauge_pa.max())
    /// ((360,), True)
    fn over_a_turn<'py>(
        &self,
        py: Python<'py>,
        angles: Given<u16>,
    ) -> Answer<(Bound<'py, PyArray1<f64>>, Bound<'py, PyArray1<f64>>)> {
        let angles = angles.0;
        if angles == 0 {
            return Err(Failure::new("no angles: a turn needs at least one"));
        }
        let step = TAU / f64::from(angles);
        let turn: Vec<f64> = (0..angles).map(|at| f64::from(at) * step).collect();
        let pressure = &self.core.pressure;
        let gauges = turn
            .iter()
            .map(|angle| Ok(pressure.gauge_at(Angle::from_si_value(*angle)?).pascals()))
            .collect::<Answer<Vec<f64>>>()?;
        Ok((turn.into_pyarray(py), gauges.into_pyarray(py)))
    }

    /// As a dictionary: a load of `casetight running --json`.
    ///
    /// Examples
    /// --------
    /// >>> Sheet.read(demo / "string-trimmer-6.toml").running().idle.to_dict()["name"]
    /// 'idle'
    fn to_dict<'py>(&self, py: Python<'py>) -> Answer<Bound<'py, PyAny>> {
        Ok(to_python(py, &value(&self.document())?)?)
    }

    fn __repr__(&self) -> String {
        format!(
            "<LeanShift: {}, {}, an estimate>",
            self.name,
            self.in_words()
        )
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Restored<'py>> {
        self.made.reduce(py)
    }
}

/// What the leaks of a sheet do to the mixture of the running engine: what `Sheet.running` returns. An estimate: nothing of
/// it was measured on the running engine.
///
/// Examples
/// --------
/// >>> running = Sheet.read(demo / "string-trimmer-6.toml").running()
/// >>> running.inward_run, running.outward_run
/// ('vacuum', 'pressure')
#[pyclass(frozen, eq, hash, module = "casetight")]
#[derive(Debug)]
pub(crate) struct Mixture {
    pub(crate) core: Core,
    pub(crate) made: Made,
}

by_value!(Mixture: |this| &this.core);

impl Mixture {
    fn document(&self) -> Answer<serde_json::Value> {
        value(&self.core.document())
    }

    /// One of the two loads, an attribute.
    fn load(slf: &Bound<'_, Self>, place: usize, attribute: &'static str) -> LeanShift {
        let [idle, full] = slf.get().core.loads();
        let (name, core) = if place == 0 { idle } else { full };
        LeanShift {
            name,
            core: core.clone(),
            made: Made::of(attribute, slf),
        }
    }

    /// The loads by their names, in words.
    fn in_words(&self) -> [(&'static str, String); 2] {
        let loads = self.core.loads();
        loads.map(|(name, core)| (name, shift_in_words(core)))
    }
}

fn shift_in_words(load: &CoreLeanShift) -> String {
    let percent = |part: f64| format!("{} %", number(100.0 * part));
    format!("leaner by {}", estimate_in_words(load.shift, percent))
}

fn leak_in_words(leak: &MeasuredLeak) -> String {
    let size = estimate_in_words(leak.area, area_in_words);
    format!(
        "leak of {size} by the {} run \"{}\"",
        leak.direction, leak.run
    )
}

#[pymethods]
impl Mixture {
    /// Effective area of the leak for air that goes in [m2].
    #[getter]
    fn inward_area_m2(slf: &Bound<'_, Self>) -> Estimate {
        let area = slf.get().core.inward.area;
        Estimate::of("Mixture.inward_area_m2", slf, area)
    }

    /// The run that it comes from.
    #[getter]
    fn inward_run(&self) -> &str {
        &self.core.inward.run
    }

    /// Effective area of the leak for mixture that goes out [m2].
    #[getter]
    fn outward_area_m2(slf: &Bound<'_, Self>) -> Estimate {
        let area = slf.get().core.outward.area;
        Estimate::of("Mixture.outward_area_m2", slf, area)
    }

    /// The run that it comes from.
    #[getter]
    fn outward_run(&self) -> &str {
        &self.core.outward.run
    }

    /// At idle.
    #[getter]
    fn idle(slf: &Bound<'_, Self>) -> LeanShift {
        Self::load(slf, 0, "Mixture.idle")
    }

    /// At full throttle.
    #[getter]
    fn full_throttle(slf: &Bound<'_, Self>) -> LeanShift {
        Self::load(slf, 1, "Mixture.full_throttle")
    }

    /// What is taken for granted, one sentence each.
    #[getter]
    fn assumptions(&self) -> Vec<&'static str> {
        self.core.document().assumptions
    }

    /// As a dictionary: the document of `casetight running --json`.
    ///
    /// Examples
    /// --------
    /// >>> Sheet.read(demo / "string-trimmer-6.toml").running().to_dict()["estimate"]
    /// True
    fn to_dict<'py>(&self, py: Python<'py>) -> Answer<Bound<'py, PyAny>> {
        Ok(to_python(py, &self.document()?)?)
    }

    /// As JSON text.
    ///
    /// Examples
    /// --------
    /// >>> Sheet.read(demo / "string-trimmer-6.toml").running().to_json()[:11]
    /// '{"format":1'
    #[pyo3(signature = (*, indent=false))]
    fn to_json(&self, indent: bool) -> Answer<String> {
        to_json(&self.document()?, indent)
    }

    fn __repr__(&self) -> String {
        let loads = self.in_words();
        let loads = loads.map(|(name, shift)| format!("{name} {shift}"));
        format!("<Mixture, an estimate: {}>", loads.join("; "))
    }

    fn _repr_html_(&self) -> String {
        let mut rows = vec![
            ("air in", leak_in_words(&self.core.inward)),
            ("mixture out", leak_in_words(&self.core.outward)),
        ];
        rows.extend(self.in_words());
        let granted = self.assumptions().into_iter().map(str::to_owned);
        rows.extend(granted.map(|assumption| ("taken for granted", assumption)));
        table("Running engine, an estimate", &rows)
    }
    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Restored<'py>> {
        self.made.reduce(py)
    }
}
