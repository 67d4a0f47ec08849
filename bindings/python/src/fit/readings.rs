//! Readings and their temperature, as a caller hands them over and gets them back.

use casetight::quantity::{GaugePressure, TemperatureDrift, ThermodynamicTemperature, Time};
use casetight::readings::{Readings, TemperatureCourse};
use numpy::IntoPyArray;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

use crate::array::Floats;
use crate::errors::{Answer, Failure};
use crate::gauge::Bench;
use crate::pool::interruptible;
use crate::scalar::Drift;

/// Fits of more readings than this are done on a thread of their own, so that the keyboard can interrupt them; fewer are
/// done before anybody gets there.
const LONG_READINGS: usize = 256;

/// How the temperature went, where the caller says.
pub(crate) struct Temperature<'py> {
    pub(crate) of_readings: Option<Floats<'py, ThermodynamicTemperature>>,
    pub(crate) drift: Option<Drift>,
}

/// The readings of a run, and the temperatures \[K\] that were logged beside them.
pub(crate) struct Taken {
    pub(crate) readings: Readings,
    kelvins: Option<Vec<f64>>,
}

/// The readings of a run from two columns, with the temperature's course: as it is stated beside them, or as the bench
/// knows it.
pub(crate) fn readings(
    time_s: &Floats<'_, Time>,
    gauge_pa: &Floats<'_, GaugePressure>,
    temperature: &Temperature<'_>,
    bench: &Bench,
) -> Answer<Taken> {
    let times = time_s.column("time_s")?;
    let ambient = bench.core.ambient_pressure.value();
    let readings = Readings::from_si(&times, &gauge_pa.column("gauge_pa")?, ambient)?;
    match (&temperature.of_readings, temperature.drift) {
        (Some(_), Some(_)) => Err(Failure::new(
            "temperature_k and drift_k_s exclude each other: give the temperatures, or the drift that they have",
        )),
        (Some(kelvins), None) => {
            let kelvins = kelvins.column("temperature_k")?.into_owned();
            let course = TemperatureCourse::of(&times, &kelvins, None)?;
            Ok(Taken {
                readings: readings.with_temperature(course.touching(bench.thermometer)),
                kelvins: Some(kelvins),
            })
        }
        (None, drift) => Ok(Taken {
            readings: with_drift(readings, drift.map_or(bench.drift, |drift| Some(drift.0))),
            kelvins: None,
        }),
    }
}

/// Readings with a drift that was measured, if one was.
pub(crate) fn with_drift(
    readings: Readings,
    drift: Option<(TemperatureDrift, TemperatureDrift)>,
) -> Readings {
    match drift {
        Some((drift, uncertainty)) => readings.with_drift(drift, uncertainty),
        None => readings,
    }
}

/// What a run was assessed from, so that it can be again: positional times, readings and bench, and the temperature.
pub(crate) fn given<'py>(
    py: Python<'py>,
    Taken { readings, kelvins }: &Taken,
    bench: &Py<Bench>,
) -> PyResult<(Bound<'py, PyTuple>, Bound<'py, PyDict>)> {
    let column = |values: &[f64]| values.to_vec().into_pyarray(py);
    let columns = (
        column(readings.times_s()),
        column(readings.gauges_pa()),
        bench,
    );
    let named = PyDict::new(py);
    if let Some((drift, uncertainty)) = readings.drift() {
        let pair = (drift.kelvins_per_second(), uncertainty.kelvins_per_second());
        named.set_item("drift_k_s", pair)?;
    }
    if let Some(kelvins) = kelvins {
        named.set_item("temperature_k", column(kelvins))?;
    }
    Ok((columns.into_pyobject(py)?, named))
}

/// Work on readings of a run: where they are many, so that the keyboard can interrupt it.
pub(crate) fn worked<T: Send + 'static>(
    py: Python<'_>,
    readings: &Readings,
    work: impl FnOnce() -> T + Send + 'static,
) -> Answer<T> {
    if readings.len() > LONG_READINGS {
        interruptible(py, work)
    } else {
        Ok(py.detach(work))
    }
}
