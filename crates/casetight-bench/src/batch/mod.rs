//! Many runs on one bench, assessed in order, in parallel with the feature `rayon`. Each has the numbers that
//! [`assess`] gives it alone, to the last bit.
//!
//! ```
//! use casetight_bench::assess::Assumptions;
//! use casetight_bench::batch::assess_many;
//! use casetight::gas::Gas;
//! use casetight::gauge::Gauge;
//! use casetight::limit::{Rule, Verdict};
//! use casetight::measured::Measured;
//! use casetight::quantity::{AbsolutePressure, TemperatureDrift, TradeUnits};
//! use casetight::readings::Bench;
//!
//! let bench = Bench {
//!     volume: Measured::exact(TradeUnits::parse("250 cm3")?)?,
//!     ambient_pressure: Measured::exact(AbsolutePressure::from_pascals(101_325.0)?)?,
//!     temperature: Measured::exact(TradeUnits::parse("20 C")?)?,
//!     drift_allowance: TemperatureDrift::ZERO,
//!     effects: casetight::readings::Effects::none(),
//!     heat: casetight::vessel::Heat::default(),
//!     gauge: Gauge::digital(TradeUnits::parse("0.1 kPa")?)?,
//!     gas: Gas::dry_air(),
//! };
//! let runs: [(&[f64], &[f64]); 2] = [
//!     (&[0.0, 30.0, 60.0], &[48_300.0, 47_500.0, 46_700.0]),
//!     (&[0.0, 30.0, 20.0], &[48_300.0, 47_500.0, 46_700.0]),
//! ];
//! let limits = [Rule::OnePsiAMinute.limit()];
//! let results = assess_many(&runs, &bench, &limits, &Assumptions::default());
//! assert_eq!(results[0].as_ref().map(|run| run.verdict), Ok(Some(Verdict::Holds)));
//! assert!(results[1].is_err());
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod row;
#[cfg(test)]
pub(crate) mod tests;

use crate::assess::{AssessError, Assumptions, RunAssessment, assess};
use casetight::limit::Limit;
use casetight::readings::{Bench, Readings, ReadingsError};

pub use row::BatchRow;

/// What can be wrong with one of many runs; the others are assessed all the same.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum BatchError {
    /// Its lines in the file.
    #[cfg(feature = "sheet")]
    #[error(transparent)]
    Row(#[from] crate::record::RowError),
    /// Its readings.
    #[error(transparent)]
    Readings(#[from] ReadingsError),
    /// Its assessment.
    #[error(transparent)]
    Assess(#[from] AssessError),
}

/// Assesses runs of one bench, each a column of times \[s\] and one of gauge pressures \[Pa\]; results in their order.
///
/// # Errors
/// None of its own: a run that can't be assessed has its [`BatchError`] in its place.
#[must_use]
pub fn assess_many(
    runs: &[(&[f64], &[f64])],
    bench: &Bench,
    limits: &[Limit],
    assumptions: &Assumptions,
) -> Vec<Result<RunAssessment, BatchError>> {
    in_order(runs, |(time_s, gauge_pa)| {
        assess_one(time_s, gauge_pa, bench, limits, assumptions)
    })
}

/// As [`assess_many`] for runs as they come out of a file, each as the row of its results.
#[cfg(feature = "sheet")]
#[must_use]
pub fn rows(
    runs: &[crate::record::LongRun],
    bench: &Bench,
    limits: &[Limit],
    assumptions: &Assumptions,
) -> Vec<BatchRow> {
    in_order(runs, |run| {
        let assessed = match &run.columns {
            Ok(columns) => assess_one(
                &columns.time_s,
                &columns.gauge_pa,
                bench,
                limits,
                assumptions,
            ),
            Err(error) => Err(error.clone().into()),
        };
        BatchRow::new(&run.name, &assessed)
    })
}

fn assess_one(
    time_s: &[f64],
    gauge_pa: &[f64],
    bench: &Bench,
    limits: &[Limit],
    assumptions: &Assumptions,
) -> Result<RunAssessment, BatchError> {
    let readings = Readings::from_si(time_s, gauge_pa, bench.ambient_pressure.value())?;
    Ok(assess(&readings, bench, limits, assumptions)?)
}

/// What `work` makes of each item, in order.
#[cfg(feature = "rayon")]
fn in_order<T: Sync, R: Send>(items: &[T], work: impl Fn(&T) -> R + Sync + Send) -> Vec<R> {
    use rayon::prelude::*;
    items.par_iter().map(work).collect()
}

/// What `work` makes of each item, in order.
#[cfg(not(feature = "rayon"))]
fn in_order<T, R>(items: &[T], work: impl Fn(&T) -> R) -> Vec<R> {
    items.iter().map(work).collect()
}
