//! Many runs from one frame of readings in long format, by the Arrow C data interface, on all cores.

use std::borrow::Cow;
use std::collections::HashMap;
use std::sync::Arc;

use arrow_array::cast::AsArray;
use arrow_array::types::Float64Type;
use arrow_array::{Array, ArrayRef, Float64Array, LargeStringArray, RecordBatch, StringArray};
use arrow_cast::cast;
use arrow_schema::{ArrowError, DataType, Field, Schema, TimeUnit};
use casetight::fit::{Candidate, FitError, fit_laws};
use casetight::limit::{Limit as CoreLimit, LimitError, decide};
use casetight::quantity::{Ratio, TemperatureDrift};
use casetight::readings::{
    Bench as CoreBench, CourseError, Readings, ReadingsError, TemperatureCourse, Touched,
};
use casetight::vessel::VesselError;
use pyo3::prelude::*;
use pyo3::types::PyMapping;
use pyo3_arrow::{PySchema, PyTable};
use rayon::prelude::*;

use crate::errors::{Answer, Failure};
use crate::fit::{Laws, level_or_usual, with_drift};
use crate::gauge::Bench;
use crate::limit::{Limit, limits, word};
use crate::pool::pool;
use crate::scalar::{Given, Si};

/// Runs between two looks at signals and calls of `progress`; fewer where they have more readings than this together.
const CHUNK_RUNS: usize = 256;
const CHUNK_READINGS: usize = 1 << 16;

impl From<ArrowError> for Failure {
    fn from(error: ArrowError) -> Self {
        Self::new(error.to_string())
    }
}

/// One bench for all runs, or one each by the run's name.
#[derive(Debug)]
pub(crate) enum Benches {
    One(Box<OnBench>),
    Each(HashMap<String, OnBench>),
}

/// A bench as a batch needs it, away from the interpreter.
#[derive(Debug, Clone)]
pub(crate) struct OnBench {
    core: CoreBench,
    drift: Option<(TemperatureDrift, TemperatureDrift)>,
    thermometer: Touched,
}

impl From<&Bench> for OnBench {
    fn from(bench: &Bench) -> Self {
        Self {
            core: bench.core.clone(),
            drift: bench.drift,
            thermometer: bench.thermometer,
        }
    }
}

impl<'py> FromPyObject<'_, 'py> for Benches {
    type Error = PyErr;

    fn extract(object: Borrowed<'_, 'py, PyAny>) -> PyResult<Self> {
        if let Ok(bench) = object.cast::<Bench>() {
            return Ok(Self::One(Box::new(bench.get().into())));
        }
        let refused = || -> PyErr {
            Failure::kind("bench is a Bench, or a mapping of one to each run's name").into()
        };
        let each = object.cast::<PyMapping>().map_err(|_| refused())?;
        let mut benches = HashMap::new();
        for entry in each.items()?.iter() {
            let (name, bench): (Bound<'_, PyAny>, Bound<'_, PyAny>) = entry.extract()?;
            let bench = bench.cast::<Bench>().map_err(|_| refused())?.get().into();
            benches.insert(name.str()?.to_string_lossy().into_owned(), bench);
        }
        Ok(Self::Each(benches))
    }
}

impl Benches {
    fn of(&self, run: &str) -> Option<&OnBench> {
        match self {
            Self::One(bench) => Some(bench),
            Self::Each(benches) => benches.get(run),
        }
    }
}

/// The columns of one batch of the frame.
struct Columns {
    run: LargeStringArray,
    time: Float64Array,
    gauge: Float64Array,
    temperature: Option<Float64Array>,
}

/// Rows side by side in one batch.
#[derive(Clone, Copy)]
struct Stretch {
    batch: usize,
    start: usize,
    length: usize,
}

/// Where a run's readings are.
struct Rows<'a> {
    run: &'a str,
    stretches: Vec<Stretch>,
}

/// How many of the runs come next: as many as keep every core busy for a moment.
fn chunk_length(runs: &[Rows<'_>], threads: usize) -> usize {
    let mut readings = 0;
    let few = runs.iter().take_while(|rows| {
        let before = readings;
        readings += rows.stretches.iter().map(|s| s.length).sum::<usize>();
        before < CHUNK_READINGS
    });
    few.count().min(CHUNK_RUNS).max(threads).min(runs.len())
}

/// A column of the frame by its name.
fn column<'a>(batch: &'a RecordBatch, name: &str) -> Answer<&'a ArrayRef> {
    batch.column_by_name(name).ok_or_else(|| {
        let schema = batch.schema();
        let known: Vec<&str> = schema.fields().iter().map(|f| f.name().as_str()).collect();
        Failure::new(format!(
            "the frame has no column \"{name}\"; its columns are {}",
            known.join(", ")
        ))
    })
}

/// Refuses nulls, naming the first of them.
fn no_null(array: &dyn Array, name: &str, before: usize) -> Answer<()> {
    let null = (0..array.len())
        .find(|row| array.is_null(*row))
        .filter(|_| array.null_count() > 0);
    match null {
        Some(row) => Err(Failure::new(format!(
            "column \"{name}\" has no value in row {} (from 0)",
            before + row
        ))),
        None => Ok(()),
    }
}

/// A column of numbers. One that has no value is NaN: it belongs to a run, and is that run's error.
fn numbers(batch: &RecordBatch, name: &str) -> Answer<Float64Array> {
    let array = column(batch, name)?;
    if !array.data_type().is_numeric() {
        return Err(Failure::new(format!(
            "column \"{name}\" is of type {}; it must hold real numbers in the unit of its name",
            array.data_type()
        )));
    }
    // A column of 64-bit floats comes back as it is, the same buffer.
    let floats = cast(array, &DataType::Float64)?;
    Ok(without_gaps(floats.as_primitive::<Float64Type>()))
}

fn without_gaps(floats: &Float64Array) -> Float64Array {
    if floats.null_count() == 0 {
        return floats.clone();
    }
    floats
        .iter()
        .map(|v| v.unwrap_or(f64::NAN))
        .collect::<Vec<f64>>()
        .into()
}

/// A column of times [s]: numbers, or spans of time. Dates have no zero to count from.
fn times(batch: &RecordBatch, name: &str) -> Answer<Float64Array> {
    let array = column(batch, name)?;
    let a_second = match array.data_type() {
        DataType::Duration(TimeUnit::Second) => 1.0,
        DataType::Duration(TimeUnit::Millisecond) => 1e3,
        DataType::Duration(TimeUnit::Microsecond) => 1e6,
        DataType::Duration(TimeUnit::Nanosecond) => 1e9,
        DataType::Timestamp(..) | DataType::Date32 | DataType::Date64 => {
            return Err(Failure::new(format!(
                "column \"{name}\" is of type {}: dates, where times in seconds belong; write frame[\"{name}\"] = \
                 (frame[\"{name}\"] - frame[\"{name}\"].min()).dt.total_seconds()",
                array.data_type()
            )));
        }
        _ => return numbers(batch, name),
    };
    let counts = cast(array, &DataType::Int64)?;
    let counts = cast(&counts, &DataType::Float64)?;
    let seconds = counts
        .as_primitive::<Float64Type>()
        .unary(|count| count / a_second);
    Ok(without_gaps(&seconds))
}

fn names(batch: &RecordBatch, name: &str, before: usize) -> Answer<LargeStringArray> {
    let array = column(batch, name)?;
    let of = match array.data_type() {
        DataType::Dictionary(_, of) => of,
        plain => plain,
    };
    let named = of.is_integer()
        || matches!(
            of,
            DataType::Utf8 | DataType::LargeUtf8 | DataType::Utf8View
        );
    if !named {
        return Err(Failure::new(format!(
            "column \"{name}\" is of type {}; a run's name is text or a whole number",
            array.data_type()
        )));
    }
    no_null(array, name, before)?;
    Ok(cast(array, &DataType::LargeUtf8)?
        .as_string::<i64>()
        .clone())
}

/// The runs in the order of their first readings.
fn grouped(columns: &[Columns]) -> Vec<Rows<'_>> {
    let mut runs: Vec<Rows<'_>> = Vec::new();
    let mut places: HashMap<&str, usize> = HashMap::new();
    let mut last: Option<(&str, usize)> = None;
    for (batch, columns) in columns.iter().enumerate() {
        for row in 0..columns.run.len() {
            let run = columns.run.value(row);
            let place = match last {
                Some((name, place)) if name == run => place,
                _ => *places.entry(run).or_insert_with(|| {
                    runs.push(Rows {
                        run,
                        stretches: Vec::new(),
                    });
                    runs.len() - 1
                }),
            };
            last = Some((run, place));
            let Some(rows) = runs.get_mut(place) else {
                continue;
            };
            match rows.stretches.last_mut() {
                Some(s) if s.batch == batch && s.start + s.length == row => s.length += 1,
                _ => rows.stretches.push(Stretch {
                    batch,
                    start: row,
                    length: 1,
                }),
            }
        }
    }
    runs
}

/// What keeps a run from being fitted and judged.
#[derive(Debug, thiserror::Error)]
enum Unfit {
    #[error("no bench is given for this run")]
    NoBench,
    #[error(transparent)]
    Readings(#[from] ReadingsError),
    #[error(transparent)]
    Course(#[from] CourseError),
    #[error(transparent)]
    Fit(#[from] FitError),
    #[error(transparent)]
    Limit(#[from] LimitError),
}

/// What all fits of a batch share.
struct Job<'a> {
    columns: &'a [Columns],
    benches: &'a Benches,
    limits: &'a [CoreLimit],
    laws: &'a [Candidate],
    level: f64,
}

/// A run's row of the result; an interval that is open upward ends at infinity.
#[derive(Default)]
struct Row {
    verdict: Option<&'static str>,
    numbers: [Option<f64>; NUMBERS.len()],
    law: Option<&'static str>,
    error: Option<String>,
}

/// The result's columns of numbers.
const NUMBERS: [&str; 8] = [
    "effective_area_m2",
    "area_low_m2",
    "area_high_m2",
    "rate_per_s",
    "rate_low_per_s",
    "rate_high_per_s",
    "start_gauge_pa",
    "residual_rms_pa",
];

impl Job<'_> {
    /// Lent where the run's rows lie side by side.
    fn values(&self, rows: &Rows<'_>, of: fn(&Columns) -> Option<&Float64Array>) -> Cow<'_, [f64]> {
        let stretch = |s: &Stretch| {
            let values = self.columns.get(s.batch).and_then(of);
            let values = values.map(|v| v.values().as_ref());
            values
                .and_then(|v| v.get(s.start..s.start + s.length))
                .unwrap_or(&[])
        };
        match rows.stretches.as_slice() {
            [one] => Cow::Borrowed(stretch(one)),
            many => Cow::Owned(many.iter().flat_map(stretch).copied().collect()),
        }
    }

    /// A run's row. What is wrong with the run stands in it; what is wrong with every run is the caller's.
    fn row(&self, rows: &Rows<'_>) -> Result<Row, FitError> {
        match self.fitted(rows) {
            Ok(row) => Ok(row),
            Err(Unfit::Fit(
                error @ (FitError::Level { .. } | FitError::Vessel(VesselError::Leak(_))),
            )) => Err(error),
            Err(error) => Ok(Row {
                error: Some(error.to_string()),
                ..Row::default()
            }),
        }
    }

    fn fitted(&self, rows: &Rows<'_>) -> Result<Row, Unfit> {
        let bench = self.benches.of(rows.run).ok_or(Unfit::NoBench)?;
        let times = self.values(rows, |c| Some(&c.time));
        let readings = Readings::from_si(
            &times,
            &self.values(rows, |c| Some(&c.gauge)),
            bench.core.ambient_pressure.value(),
        )?;
        let readings = if self.columns.iter().any(|c| c.temperature.is_some()) {
            let kelvins = self.values(rows, |c| c.temperature.as_ref());
            let course = TemperatureCourse::of(&times, &kelvins, None)?;
            readings.with_temperature(course.touching(bench.thermometer))
        } else {
            with_drift(readings, bench.drift)
        };
        let bench = &bench.core;
        let fit = fit_laws(&readings, bench, self.level, self.laws)?;
        let mut strictest = None;
        for limit in self.limits {
            let decision = decide(limit, &fit, bench)?;
            let stricter = |least: &casetight::limit::Decision| {
                decision.probability_within < least.probability_within
            };
            if strictest.as_ref().is_none_or(stricter) {
                strictest = Some(decision);
            }
        }
        let numbers = [
            fit.area.si().value,
            fit.area.si().low,
            fit.area.si().high,
            fit.rate.si().value,
            fit.rate.si().low,
            fit.rate.si().high,
            fit.start.pascals(),
            fit.residual_rms_pa,
        ];
        Ok(Row {
            verdict: strictest.map(|d| word(d.verdict)),
            numbers: numbers.map(Some),
            law: fit.law.map(casetight::vessel::DecayLaw::name),
            error: None,
        })
    }
}

/// The columns of a result, in their order; it does not change within a version of the format.
fn schema() -> Schema {
    let text = |name: &str| Field::new(name, DataType::Utf8, true);
    let mut fields = vec![Field::new("run", DataType::Utf8, false), text("verdict")];
    let number = |name: &&str| Field::new(*name, DataType::Float64, true);
    fields.extend(NUMBERS.iter().take(NUMBERS.len() - 1).map(number));
    fields.push(text("law"));
    fields.extend(NUMBERS.last().map(number));
    fields.push(text("error"));
    Schema::new(fields).with_metadata(HashMap::from([("format".to_owned(), "1".to_owned())]))
}

fn table(runs: &[Rows<'_>], rows: &[Row]) -> Answer<PyTable> {
    let text = |of: fn(&Row) -> Option<&str>| -> ArrayRef {
        Arc::new(rows.iter().map(of).collect::<StringArray>())
    };
    let number = |place: usize| -> ArrayRef {
        let values = rows.iter().map(|r| r.numbers.get(place).copied().flatten());
        Arc::new(values.collect::<Float64Array>())
    };
    let names: StringArray = runs.iter().map(|rows| Some(rows.run)).collect();
    let mut columns: Vec<ArrayRef> = vec![Arc::new(names), text(|r| r.verdict)];
    columns.extend((0..NUMBERS.len() - 1).map(number));
    columns.push(text(|r| r.law));
    columns.push(number(NUMBERS.len() - 1));
    columns.push(text(|r| r.error.as_deref()));
    let schema = Arc::new(schema());
    let batch = RecordBatch::try_new(Arc::clone(&schema), columns)?;
    Ok(PyTable::try_new(vec![batch], schema)?)
}

/// Fits many runs, on all cores, from a frame of readings in long format.
///
/// Parameters
/// ----------
/// frame : pandas, polars or pyarrow frame
///     Anything with ``__arrow_c_stream__``: one row a reading, with the columns of the next three arguments. Columns of
///     64-bit floats are not copied. Readings of a run stand in the order of their times; runs may be interleaved.
/// bench : Bench or mapping of str to Bench
///     Circumstances of all runs, or of each by its name.
/// limits : sequence of Limit
///     A run holds when it holds by all; without one the verdict is null.
/// laws, level
///     As those of `fit`.
/// progress : callable, optional
///     Called with the runs done and the runs in all, every few hundred runs, or fewer where they are long.
/// run, time_s, gauge_pa : str
///     Names of the columns. The one of times may hold spans of time.
/// temperature_k : str, optional
///     Name of a column of temperatures [K] of what the bench's `thermometer` touched; the gas follows their course.
///
/// Returns
/// -------
/// pyarrow.Table
///     One row a run, in the order of first appearance, with the columns of `result_schema`. An interval that is open upward
///     ends at infinity; ``law`` is null where the readings don't tell it. A run that can't be fitted, or
///     that has a reading or a time without a value, has its reason in ``error`` and null elsewhere.
///
/// Raises
/// ------
/// Error
///     For a frame without such columns, with rows that name no run, or of other types.
/// FitError
///     For a level or a law that no run can be fitted with.
/// ImportError
///     Without pyarrow; it says how to install it.
/// KeyboardInterrupt
///     As often as `progress` is told.
///
/// Notes
/// -----
/// The interpreter is free for other threads in the meantime. ``RAYON_NUM_THREADS`` limits the cores. A forked child makes
/// threads of its own.
///
/// Examples
/// --------
/// >>> import pyarrow as pa
/// >>> frame = pa.table({"run": ["a"] * 4, "time_s": [0.0, 5, 10, 15], "gauge_pa": [48300.0, 45500, 42800, 40300]})
/// >>> fit_many(frame, bench, limits=[Limit.one_psi_a_minute()]).column("verdict").to_pylist()
/// ['leaks']
#[pyfunction]
#[pyo3(signature = (frame, bench, *, limits=Given(Vec::new()), laws=None, level=None, progress=None, run="run", time_s="time_s", gauge_pa="gauge_pa", temperature_k=None))]
pub(crate) fn fit_many<'py>(
    py: Python<'py>,
    frame: Given<PyTable>,
    bench: Benches,
    limits: Given<Vec<Bound<'py, Limit>>>,
    laws: Option<Laws>,
    level: Option<Si<Ratio>>,
    progress: Option<Bound<'py, PyAny>>,
    run: &str,
    time_s: &str,
    gauge_pa: &str,
    temperature_k: Option<Given<String>>,
) -> Answer<Bound<'py, PyAny>> {
    let extras = py.import("casetight._extras")?;
    extras.call_method1("needed", ("pyarrow", "arrow", "fit_many"))?;
    let (batches, _) = frame.0.into_inner();
    let temperature = temperature_k.as_ref().map(|name| name.0.as_str());
    let columns = py.detach(|| -> Answer<Vec<Columns>> {
        let mut columns = Vec::with_capacity(batches.len());
        let mut before = 0;
        for batch in &batches {
            columns.push(Columns {
                run: names(batch, run, before)?,
                time: times(batch, time_s)?,
                gauge: numbers(batch, gauge_pa)?,
                temperature: temperature.map(|name| numbers(batch, name)).transpose()?,
            });
            before += batch.num_rows();
        }
        Ok(columns)
    })?;
    let runs = py.detach(|| grouped(&columns));
    let job = Job {
        columns: &columns,
        benches: &bench,
        limits: &self::limits(&limits),
        laws: &Laws::or_usual(laws),
        level: level_or_usual(level),
    };
    let pool = pool(py)?;
    let threads = pool.current_num_threads();
    let mut rows: Vec<Row> = Vec::with_capacity(runs.len());
    let mut left = runs.as_slice();
    while let Some((chunk, rest)) = left
        .split_at_checked(chunk_length(left, threads))
        .filter(|(chunk, _)| !chunk.is_empty())
    {
        left = rest;
        let fitted: Result<Vec<Row>, FitError> =
            py.detach(|| pool.install(|| chunk.par_iter().map(|rows| job.row(rows)).collect()));
        rows.extend(fitted?);
        py.check_signals()?;
        if let Some(progress) = &progress {
            progress.call1((rows.len(), runs.len()))?;
        }
    }
    Ok(table(&runs, &rows)?.into_pyarrow(py)?)
}

/// The columns of a result of `fit_many`: a pyarrow schema that does not change within a format, which its metadata says.
///
/// Examples
/// --------
/// >>> result_schema().names[:3]
/// ['run', 'verdict', 'effective_area_m2']
#[pyfunction]
pub(crate) fn result_schema(py: Python<'_>) -> Answer<Bound<'_, PyAny>> {
    let extras = py.import("casetight._extras")?;
    extras.call_method1("needed", ("pyarrow", "arrow", "result_schema"))?;
    Ok(PySchema::new(Arc::new(schema())).into_pyarrow(py)?)
}
