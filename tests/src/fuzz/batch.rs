//! A long file of many runs: each run has its row, with numbers in order or an error.

use casetight::limit::Verdict;
use casetight_bench::batch::{BatchRow, rows};
use casetight_bench::record::LongRuns;
use casetight_bench::sheet::{NoTraces, Sheet};

use super::{Fault, ensure, readable};

/// Runs of a file that are assessed; the others are read only.
const RUNS: usize = 6;
/// Readings of a run beyond which it is read only.
const READINGS: usize = 40;

/// The bench that all are assessed on.
pub(super) const BENCH: &str = "format = 1\n[volume]\nvalue = \"250 cm3\"\nuncertainty = \"3 cm3\"\n\
    [ambient]\npressure = \"101325 Pa\"\ntemperature = \"20 C\"\n[gauge]\nunit = \"kPa\"\nresolution = \"0.1 kPa\"\n\
    [limit]\nmax_drop = \"1 psi\"\nfrom = \"7 psi\"\nover = \"60 s\"\n[[run]]\nname = \"as all\"\nreadings = [[0, 48], [9, 47]]\n";

/// Any bytes as a file of runs.
///
/// # Errors
/// What is wrong with the answer.
pub fn invariant(bytes: &[u8]) -> Result<(), Fault> {
    let file = match LongRuns::new(bytes) {
        Ok(file) => file,
        Err(error) => return readable(&error),
    };
    let mut runs = Vec::new();
    let mut before = 0;
    for run in file {
        let run = match run {
            Ok(run) => run,
            Err(error) => return readable(&error),
        };
        ensure(run.line > before, || {
            format!(
                "run {:?} at line {} after line {before}",
                run.name, run.line
            )
        })?;
        before = run.line;
        let short = match &run.columns {
            Ok(columns) => {
                let count = columns.time_s.len();
                ensure(count > 0 && count == columns.gauge_pa.len(), || {
                    format!("columns of {count} and {}", columns.gauge_pa.len())
                })?;
                count <= READINGS
            }
            Err(_) => true,
        };
        if short && runs.len() < RUNS {
            runs.push(run);
        }
    }
    let sheet = Sheet::parse(BENCH, "bench", &NoTraces).map_err(|error| error.to_string())?;
    let run = sheet.runs.first().ok_or("the bench has no run")?;
    let bench = sheet.bench_for(run).map_err(|error| error.to_string())?;
    let limits: Vec<_> = sheet.limits.iter().map(|stated| stated.limit).collect();
    let rows = rows(&runs, &bench, &limits, &sheet.assumptions);
    ensure(rows.len() == runs.len(), || {
        format!("{} rows of {} runs", rows.len(), runs.len())
    })?;
    for (row, run) in rows.iter().zip(&runs) {
        ensure(row.run == run.name, || {
            format!("the row of {:?} stands at {:?}", row.run, run.name)
        })?;
        of_row(row)?;
    }
    Ok(())
}

fn of_row(row: &BatchRow) -> Result<(), Fault> {
    let wrong = || format!("{row:?}");
    if let Some(error) = &row.error {
        ensure(row.verdict.is_none() && row.rate_per_s.is_none(), wrong)?;
        return readable(error);
    }
    let numbers = [
        row.effective_area_m2,
        row.area_low_m2,
        row.area_high_m2,
        row.rate_per_s,
        row.rate_low_per_s,
        row.rate_high_per_s,
        row.start_gauge_pa,
        row.residual_rms_pa,
    ];
    ensure(
        numbers.iter().flatten().all(|number| number.is_finite()),
        wrong,
    )?;
    for ends in [
        [row.area_low_m2, row.effective_area_m2, row.area_high_m2],
        [row.rate_low_per_s, row.rate_per_s, row.rate_high_per_s],
    ] {
        let there: Vec<f64> = ends.into_iter().flatten().collect();
        ensure(
            there.is_sorted() && there.iter().all(|end| *end >= 0.0),
            wrong,
        )?;
    }
    let doubted = row.doubts.is_some();
    ensure(!(doubted && row.verdict == Some(Verdict::Holds)), wrong)
}
