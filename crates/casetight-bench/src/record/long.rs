//! Many runs in one CSV file, in long form: the name of its run on each line.
//!
//! The first line names the columns, in any order: `run`, `time_s` and one `gauge_<unit>`; other columns are ignored, as
//! in a [`Trace`](super::Trace). The lines of a run stand together, so that a file of any size is read with the memory of
//! one run, and of eight bytes for each name that went by. What is wrong with a line is its run's error; the runs about
//! it are read all the same.
//!
//! ```
//! use casetight_bench::record::{LongRuns, RowError};
//!
//! let file = "run,time_s,gauge_kpa\na,0,48.2\na,30,45.1\nb,0,48.0\nb,30,\na,60,42.0\n";
//! let runs: Vec<_> = LongRuns::new(file.as_bytes())?.collect::<Result<_, _>>()?;
//! assert_eq!(runs[0].name, "a");
//! assert_eq!(runs[0].columns.as_ref().map(|columns| columns.time_s.len()), Ok(2));
//! assert!(matches!(runs[1].columns, Err(RowError::Row(_))));
//! assert_eq!(runs[2].columns, Err(RowError::CameBack { line: 6 }));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

use std::collections::HashSet;
use std::collections::hash_map::DefaultHasher;
use std::hash::{BuildHasher, BuildHasherDefault};
use std::io::Read;

use super::rows::{Columns, Row, Rows};
use super::trace_error::TraceError;

const RUN: &str = "run";

/// Times and gauge pressures of one run as they stand in a file, of the same length.
///
/// Nothing is checked here beyond each number being one: [`Readings`](casetight::readings::Readings) says what a run may be.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LoggedColumns {
    /// Times \[s\].
    pub time_s: Vec<f64>,
    /// Gauge pressures \[Pa\].
    pub gauge_pa: Vec<f64>,
}

/// One run of a file.
#[derive(Debug, Clone, PartialEq)]
pub struct LongRun {
    /// The name on its lines.
    pub name: String,
    /// Its first line in the file, counted from 1.
    pub line: u64,
    /// What stands there, or the first thing that is wrong with it.
    pub columns: Result<LoggedColumns, RowError>,
}

/// What can be wrong with a run of a file.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum RowError {
    /// A line can't be read.
    #[error(transparent)]
    Row(#[from] TraceError),
    /// A line names no run.
    #[error("line {line}: no name in the column run")]
    NoName {
        /// Which line.
        line: u64,
    },
    /// The name was there before, with other runs between.
    #[error(
        "line {line}: a run of this name stands further up, with other runs between; the lines of a run must stand together: sort them by run and time, or give this run a name of its own"
    )]
    CameBack {
        /// Which line.
        line: u64,
    },
}

/// The runs of a file as it streams in.
#[derive(Debug)]
pub struct LongRuns<R> {
    rows: Rows<R>,
    columns: Columns,
    run_index: usize,
    /// The first line of the next run, read already.
    next: Option<Line>,
    gone_by: HashSet<u64, BuildHasherDefault<DefaultHasher>>,
    failed: bool,
}

/// A line of the file: whose, where, and what it says.
#[derive(Debug)]
struct Line {
    name: String,
    number: u64,
    reading: Result<(f64, f64), RowError>,
}

impl<R: Read> LongRuns<R> {
    /// Reads the names of the columns.
    ///
    /// # Errors
    /// [`TraceError`] where they, or all lines below, are missing or are not valid.
    pub fn new(source: R) -> Result<Self, TraceError> {
        let mut rows = Rows::new(source);
        let header = rows.next_row()?.ok_or(TraceError::Empty)?;
        let columns = Columns::of(&header)?;
        let run_index = columns.named(&header, RUN)?;
        let mut runs = Self {
            rows,
            columns,
            run_index,
            next: None,
            gone_by: HashSet::default(),
            failed: false,
        };
        runs.next = runs.line(None)?;
        if runs.next.is_none() {
            return Err(TraceError::NoRows {
                line: runs.columns.line,
            });
        }
        Ok(runs)
    }

    /// The next line; one that names no run belongs to the one before it.
    fn line(&mut self, before: Option<&str>) -> Result<Option<Line>, TraceError> {
        let Some(row) = self.rows.next_row()? else {
            return Ok(None);
        };
        let named = row.fields.get(self.run_index).unwrap_or_default();
        let named = String::from_utf8_lossy(named.trim_ascii());
        let number = row.line;
        if named.is_empty() {
            return Ok(Some(Line {
                name: before.unwrap_or_default().to_owned(),
                number,
                reading: Err(RowError::NoName { line: number }),
            }));
        }
        Ok(Some(Line {
            name: named.into_owned(),
            number,
            reading: self.columns.reading(&row).map_err(RowError::Row),
        }))
    }

    fn run(&mut self, first: Line) -> Result<LongRun, TraceError> {
        let Line { name, number, .. } = first;
        let mut columns = if self.gone_by.insert(self.gone_by.hasher().hash_one(&name)) {
            Ok(LoggedColumns::default())
        } else {
            Err(RowError::CameBack { line: number })
        };
        let mut reading = first.reading;
        loop {
            // The first thing that is wrong stays; the lines below it are only passed over.
            if let Ok(kept) = &mut columns {
                match reading {
                    Ok((time, gauge)) => {
                        kept.time_s.push(time);
                        kept.gauge_pa.push(gauge);
                    }
                    Err(error) => columns = Err(error),
                }
            }
            match self.line(Some(&name))? {
                Some(line) if line.name == name => reading = line.reading,
                other => {
                    self.next = other;
                    break;
                }
            }
        }
        Ok(LongRun {
            name,
            line: number,
            columns,
        })
    }
}

impl<R: Read> Iterator for LongRuns<R> {
    type Item = Result<LongRun, TraceError>;

    /// The next run; an error where the file itself can't be read on, and nothing after it.
    fn next(&mut self) -> Option<Self::Item> {
        if self.failed {
            return None;
        }
        let first = self.next.take()?;
        let run = self.run(first);
        self.failed = run.is_err();
        Some(run)
    }
}

impl Columns {
    /// Time \[s\] and gauge pressure \[Pa\] of a row.
    fn reading(&self, row: &Row<'_>) -> Result<(f64, f64), TraceError> {
        self.check_count(row)?;
        Ok((self.time.value(row)?, self.gauge.value(row)?))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Vec<LongRun> {
        LongRuns::new(text.as_bytes())
            .unwrap()
            .map(Result::unwrap)
            .collect()
    }

    fn fault(text: &str) -> TraceError {
        match LongRuns::new(text.as_bytes()) {
            Err(error) => error,
            Ok(mut runs) => runs.find_map(Result::err).unwrap(),
        }
    }

    /// Old line ends, of a carriage return alone, end lines as the others do, on their own and mixed with them.
    #[test]
    fn a_carriage_return_alone_ends_a_line() {
        let rows = [
            "run,time_s,gauge_pa",
            "a,0,5",
            "a,1,4",
            "# b follows",
            "b,0,3",
        ];
        for ends in [["\r"; 5], ["\r", "\n", "\r\n", "\r", "\r"]] {
            let text: String = rows
                .iter()
                .zip(ends)
                .flat_map(|(row, end)| [*row, end])
                .collect();
            let lines: Vec<(String, u64)> = read(&text)
                .into_iter()
                .map(|run| (run.name, run.line))
                .collect();
            assert_eq!(
                lines,
                [("a".to_owned(), 2), ("b".to_owned(), 5)],
                "{text:?}"
            );
        }
        let fault = LongRuns::new(&b"run,time_s,gauge_pa\ra,0,5\ra,1\r"[..])
            .unwrap()
            .next()
            .unwrap();
        let words = fault.unwrap().columns.unwrap_err().to_string();
        assert!(words.contains("line 3"), "{words}");
        // As long as a file is that has no other line ends.
        let many: Vec<String> = (0..20_000).map(|time| format!("a,{time},5\r")).collect();
        let runs = read(&format!("run,time_s,gauge_pa\r{}", many.concat()));
        assert_eq!(runs[0].columns.as_ref().unwrap().time_s.len(), 20_000);
    }

    #[test]
    fn runs_come_in_order_with_their_lines() {
        let runs =
            read("gauge_pa,run,who,time_s\n5,a,x,0\n4,a,x,1\n\n# b follows\n3,\"b, late\",y,0\n");
        assert_eq!(
            runs,
            [
                LongRun {
                    name: "a".into(),
                    line: 2,
                    columns: Ok(LoggedColumns {
                        time_s: vec![0.0, 1.0],
                        gauge_pa: vec![5.0, 4.0]
                    })
                },
                LongRun {
                    name: "b, late".into(),
                    line: 6,
                    columns: Ok(LoggedColumns {
                        time_s: vec![0.0],
                        gauge_pa: vec![3.0]
                    })
                },
            ]
        );
    }

    #[test]
    fn a_bad_line_is_its_runs_error_alone() {
        let runs = read(
            "run,time_s,gauge_pa\na,0,5\na,1,nan\na,2,bad\nb,0,5\nb,1\nc,0,5\n,1,4\nd,0,5\nd,1,4\n",
        );
        let words: Vec<String> = runs
            .iter()
            .map(|run| match &run.columns {
                Ok(columns) => columns.time_s.len().to_string(),
                Err(error) => error.to_string(),
            })
            .collect();
        assert!(
            words[0].contains("line 3, column gauge_pa: `nan`"),
            "{words:?}"
        );
        assert!(words[1].contains("line 6: 2 of 3 fields"), "{words:?}");
        assert!(words[2].contains("line 8: no name"), "{words:?}");
        assert_eq!(words[3], "2");
    }

    #[test]
    fn a_name_that_comes_back_is_an_error_of_its_second_run() {
        let runs = read("run,time_s,gauge_pa\na,0,5\na,1,4\nb,0,5\na,2,3\na,3,2\nc,0,1\n");
        assert_eq!(runs.len(), 4);
        assert!(runs[0].columns.is_ok() && runs[3].columns.is_ok());
        assert_eq!(runs[2].columns, Err(RowError::CameBack { line: 5 }));
    }

    #[test]
    fn a_file_that_is_none_is_refused_as_a_whole() {
        assert_eq!(fault(""), TraceError::Empty);
        assert_eq!(
            fault("run,time_s,gauge_pa\n"),
            TraceError::NoRows { line: 1 }
        );
        assert!(matches!(
            fault("time_s,gauge_pa\n0,1\n"),
            TraceError::MissingColumn { column: "run", .. }
        ));
        assert!(matches!(
            fault("a,0,5\nb,0,5\n"),
            TraceError::NoHeader { line: 1, .. }
        ));
        let broken = b"run,time_s,gauge_pa\na,0,5\na,1,\xff\n";
        let runs = LongRuns::new(broken.as_slice()).unwrap();
        assert!(matches!(runs.last(), Some(Err(TraceError::Encoding(_)))));
    }
}
