//! `casetight batch`.

use std::fs::File;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::mpsc;

use casetight::limit::{Limit, Verdict};
use casetight::readings::Bench;
use casetight_bench::assess::Assumptions;
use casetight_bench::batch::{BatchRow, rows};
use casetight_bench::printable;
use casetight_bench::record::{LongRun, LongRuns, TraceError};
use casetight_files::whole::WholeFile;
use clap::Args;
use indicatif::{ProgressBar, ProgressStyle};
use serde::Serialize;

use crate::circumstances::bench_like;
use crate::files::{Files, not_written};
use crate::{ALL_HOLD, Answer, CommandError, NOT_DECIDED, SOME_LEAK, in_json, words};

/// Runs and readings that are assessed in one go: with three of such blocks at a time, one that is read, one that waits and
/// one that is worked on, they bound the memory.
const BLOCK_RUNS: usize = 256;
const BLOCK_READINGS: usize = 1 << 18;

#[derive(Debug, Args)]
pub(crate) struct Batch {
    /// Readings of many runs (CSV): columns run, time_s and gauge_pa (or another unit); the lines of a run stand together.
    readings: PathBuf,
    /// Bench sheet (TOML, format 1) with volume, ambient, gauge and limits of all runs.
    #[arg(long)]
    sheet: PathBuf,
    /// Results (CSV), one line a run, in the order of the readings; written whole or not at all.
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
    /// The run of the sheet that the readings are like, where its runs are not made on one volume.
    #[arg(long, value_name = "NAME")]
    run: Option<String>,
    /// Where the piston stood, for a sheet with `[engine]` that has no run: "bottom", "top", "60 deg, transfers shut".
    #[arg(long, conflicts_with = "run")]
    piston: Option<String>,
    /// One JSON document with the counts on standard output instead of words.
    #[arg(long)]
    json: bool,
}

/// What can go wrong with a batch as a whole.
#[derive(Debug, thiserror::Error)]
pub(crate) enum BatchFileError {
    /// The readings.
    #[error("{}: {source}", path.display())]
    Readings {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        source: TraceError,
    },
}

/// How many runs came out how.
#[derive(Debug, Default, Serialize)]
struct Counts {
    format: u32,
    runs: u64,
    holds: u64,
    leaks: u64,
    undecided: u64,
    no_limit: u64,
    errors: u64,
}

impl Counts {
    fn count(&mut self, row: &BatchRow) {
        self.runs += 1;
        *match (&row.error, row.verdict) {
            (Some(_), _) => &mut self.errors,
            (None, Some(Verdict::Holds)) => &mut self.holds,
            (None, Some(Verdict::Leaks)) => &mut self.leaks,
            (None, None) => &mut self.no_limit,
            (None, Some(_)) => &mut self.undecided,
        } += 1;
    }

    fn exit(&self) -> u8 {
        if self.leaks > 0 {
            SOME_LEAK
        } else if self.holds == self.runs {
            ALL_HOLD
        } else {
            NOT_DECIDED
        }
    }

    fn say(&self, out: &Path) -> String {
        let mut parts = vec![
            format!("{} hold", self.holds),
            format!("{} leak", self.leaks),
            format!("{} undecided", self.undecided),
        ];
        if self.no_limit > 0 {
            parts.push(format!(
                "{} not judged, as no limit is stated",
                self.no_limit
            ));
        }
        if self.errors > 0 {
            parts.push(format!(
                "{} not assessed, see the column error",
                self.errors
            ));
        }
        let runs = if self.runs == 1 { "run" } else { "runs" };
        format!(
            "{} {runs}: {}. Results: {}\n",
            self.runs,
            parts.join(", "),
            words::path(out)
        )
    }
}

pub(crate) fn run(files: &Files, batch: &Batch) -> Result<Answer, CommandError> {
    let sheet = files.sheet(&batch.sheet)?;
    let bench = bench_like(
        files,
        (&sheet, &batch.sheet),
        batch.run.as_deref(),
        batch.piston.as_deref(),
    )?;
    let limits: Vec<Limit> = sheet.limits.iter().map(|stated| stated.limit).collect();
    let file = files.open(&batch.readings)?;
    let results = files.begin(&batch.out)?;
    let bar = progress(&file);
    let like = Like {
        bench,
        limits,
        assumptions: sheet.assumptions,
    };
    let counts = assess_all(batch, &like, bar.wrap_read(file), results);
    bar.finish_and_clear();
    let counts = counts?;
    let text = if batch.json {
        in_json(&counts)?
    } else {
        counts.say(&batch.out)
    };
    Ok(Answer {
        text,
        exit: counts.exit(),
    })
}

/// What all runs of the file have in common.
struct Like {
    bench: Bench,
    limits: Vec<Limit>,
    assumptions: Assumptions,
}

/// A bar on standard error, where that is a terminal.
fn progress(file: &File) -> ProgressBar {
    let length = file.metadata().map_or(0, |about| about.len());
    // A template that can't be read leaves the bar as it comes.
    let style = ProgressStyle::with_template("{wide_bar} {bytes}/{total_bytes}, {eta} to go")
        .unwrap_or_else(|_| ProgressStyle::default_bar());
    ProgressBar::new(length).with_style(style)
}

/// Reads, assesses and writes block by block; the reading goes on beside the rest.
fn assess_all(
    batch: &Batch,
    like: &Like,
    source: impl io::Read + Send,
    results: WholeFile,
) -> Result<Counts, CommandError> {
    let readings_error = |source| BatchFileError::Readings {
        path: batch.readings.clone(),
        source,
    };
    let result_error = |source| not_written(&batch.out, source);
    let mut table = csv::Writer::from_writer(results);
    let mut counts = Counts {
        format: 1,
        ..Counts::default()
    };
    std::thread::scope(|scope| -> Result<(), CommandError> {
        let (to, blocks) = mpsc::sync_channel(1);
        scope.spawn(move || read(source, &to));
        for block in blocks {
            let block = block.map_err(readings_error)?;
            for mut row in rows(&block, &like.bench, &like.limits, &like.assumptions) {
                counts.count(&row);
                guard(&mut row);
                table
                    .serialize(&row)
                    .map_err(|error| result_error(error.into()))?;
            }
        }
        Ok(())
    })?;
    let whole = table
        .into_inner()
        .map_err(|error| result_error(io::Error::other(error.error().to_string())))?;
    whole.finish().map_err(result_error)?;
    Ok(counts)
}

/// The texts of a row that come from the readings, as a spreadsheet may open them.
fn guard(row: &mut BatchRow) {
    for text in [Some(&mut row.run), row.error.as_mut()]
        .into_iter()
        .flatten()
    {
        *text = printable::cell(&printable::line(text)).into_owned();
    }
}

/// Sends the file's runs in blocks, and what ends them early; stops where nobody takes them.
fn read(source: impl io::Read, to: &mpsc::SyncSender<Result<Vec<LongRun>, TraceError>>) {
    let mut block = Vec::new();
    let mut readings = 0;
    let runs = match LongRuns::new(source) {
        Ok(runs) => runs,
        Err(error) => {
            let _ = to.send(Err(error));
            return;
        }
    };
    for run in runs {
        match run {
            Ok(run) => {
                readings += run.columns.as_ref().map_or(0, |c| c.time_s.len());
                block.push(run);
            }
            Err(error) => {
                let _ = to.send(Err(error));
                return;
            }
        }
        if block.len() >= BLOCK_RUNS || readings >= BLOCK_READINGS {
            readings = 0;
            if to.send(Ok(std::mem::take(&mut block))).is_err() {
                return;
            }
        }
    }
    if !block.is_empty() {
        let _ = to.send(Ok(block));
    }
}
