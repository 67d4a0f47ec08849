//! A value with its interval.

use casetight::estimate::Estimate as Core;
use casetight::measured::Measurable;
use pyo3::prelude::*;

use crate::document::{to_python, value};
use crate::errors::Answer;
use crate::restore::{Made, Restored};
use crate::same::by_value;
use crate::scalar::Plain;

/// A value that can't be negative, with the interval that holds the truth as often as its level says.
///
/// `low` is zero where the truth may be zero; `high` is infinite where the interval is open upward.
///
/// Examples
/// --------
/// >>> Sheet.read(demo / "kart-engine-2.toml").running().idle.lean_shift.high
/// inf
#[pyclass(frozen, eq, hash, module = "casetight")]
#[derive(Debug)]
pub(crate) struct Estimate {
    core: Core<f64>,
    made: Made,
}

by_value!(Estimate: |this| this.core);

impl Estimate {
    /// An attribute of something.
    pub(crate) fn of<Q, T>(name: &'static str, parent: &Bound<'_, T>, core: Core<Q>) -> Self
    where
        Q: Measurable<Spread = Q>,
    {
        Self::made(core, Made::of(name, parent))
    }

    pub(crate) fn made<Q: Measurable<Spread = Q>>(core: Core<Q>, made: Made) -> Self {
        let core = core.si();
        Self { core, made }
    }
}

#[pymethods]
impl Estimate {
    /// Best estimate.
    #[getter]
    fn value(&self) -> f64 {
        self.core.value
    }

    /// Lower end.
    #[getter]
    fn low(&self) -> f64 {
        self.core.low
    }

    /// Upper end.
    #[getter]
    fn high(&self) -> f64 {
        self.core.high
    }

    /// Confidence level, 0.95 for 95 %.
    #[getter]
    fn level(&self) -> f64 {
        self.core.level
    }

    /// Probability that the quantity lies at or below a limit, in the interval's unit.
    ///
    /// Examples
    /// --------
    /// >>> leak = fit([0, 5, 10, 15], [48300, 45500, 42800, 40300], bench)
    /// >>> round(leak.effective_area_m2.probability_within(leak.effective_area_m2.high), 3)
    /// 0.975
    fn probability_within(&self, limit: Plain) -> f64 {
        self.core.probability_within(limit.0)
    }

    /// As a dictionary with value, low, high and level.
    ///
    /// Examples
    /// --------
    /// >>> list(Sheet.read(demo / "string-trimmer-6.toml").running().idle.lean_shift.to_dict())
    /// ['value', 'low', 'high', 'level']
    fn to_dict<'py>(&self, py: Python<'py>) -> Answer<Bound<'py, PyAny>> {
        Ok(to_python(py, &value(&self.core)?)?)
    }

    fn __repr__(&self) -> String {
        let Core {
            value, low, high, ..
        } = self.core;
        format!(
            "<Estimate: {value:.4e} ({low:.4e} to {high:.4e}, {} %)>",
            100.0 * self.core.level
        )
    }
    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Restored<'py>> {
        self.made.reduce(py)
    }
}
