//! What a live run says, line by line: in words, or in JSON.

use std::fmt::{Display, Write as _};
use std::io::Write as _;
use std::path::Path;

use casetight::caution;
use casetight::estimate::Estimate;
use casetight::fit::Course;
use casetight::limit::Verdict;
use casetight::quantity::Unit;
use casetight_bench::assess::document::{AssessDocument, FORMAT, RunDocument};
use casetight_bench::assess::{Outcome, RunAssessment};
use casetight_bench::printable;
use casetight_bench::session::{Hunt, NextStep, Session, SessionError, SessionRun};
use casetight_bench::sheet::Sheet;
use casetight_bench::watch::{Update, Watch};
use casetight_report::words::{area_interval, number, percent, side_in_words};
use serde::Serialize;

use super::trace::Before;
use crate::CommandError;
use crate::assess::{say_next, say_run};
use crate::brief::{self, How};
use crate::words::{self, HEADING, WARNING, style, styled, wrapped};

/// One line of the JSON.
#[derive(Debug, Serialize)]
#[serde(tag = "event", rename_all = "lowercase")]
enum Event<'a> {
    Start {
        format: u32,
        run: &'a str,
        file: String,
        cautions: &'a [&'a str],
    },
    Reading(Box<ReadingEvent>),
    Skipped {
        error: String,
    },
    Kept {
        note: String,
    },
    End {
        file: String,
        verdict: Option<Verdict>,
        looks: usize,
        assessment: Box<AssessDocument>,
    },
}

#[derive(Debug, Serialize)]
struct ReadingEvent {
    time_s: f64,
    gauge_pa: f64,
    readings: usize,
    verdict: Option<Verdict>,
    decided: bool,
    looks: usize,
    probability_within_limit: Option<f64>,
    needed_probability: Option<f64>,
    effective_area_m2: Option<Estimate<f64>>,
    rate_per_s: Option<Estimate<f64>>,
}

/// Says what happens as it happens. An output that nobody reads any more does not stop a run.
pub(super) struct Speaker {
    how: How,
    unit: &'static Unit,
    said_decided: bool,
}

impl Speaker {
    pub(super) fn new(how: How, unit: &'static Unit) -> Self {
        Self {
            how,
            unit,
            said_decided: false,
        }
    }

    fn is_json(&self) -> bool {
        self.how == How::Json
    }

    fn line(text: &str) {
        let mut out = anstream::stdout();
        let _ = out
            .write_all(styled(text).as_bytes())
            .and_then(|()| out.flush());
    }

    fn event(event: &Event<'_>) {
        // These events hold nothing that JSON lacks.
        if let Ok(mut text) = serde_json::to_string(event) {
            text.push('\n');
            Self::line(&text);
        }
    }

    pub(super) fn start(&self, run: &str, file: &Path) {
        if self.is_json() {
            Self::event(&Event::Start {
                format: FORMAT,
                run,
                file: file.display().to_string(),
                cautions: caution::BEFORE_PUMPING,
            });
            return;
        }
        let mut text = format!(
            "{HEADING}{run}{HEADING:#}: readings are kept in {}\n{WARNING}Before pumping{WARNING:#}\n",
            words::path(file)
        );
        for caution in caution::BEFORE_PUMPING {
            text.push_str(&wrapped("  ", caution));
        }
        Self::line(&text);
    }

    /// Asks for the next mark, where a person is there.
    pub(super) fn ask(&self, mark: f64) {
        let mut err = anstream::stderr();
        let _ = write!(
            err,
            "Enter as the needle passes {mark} {} > ",
            self.unit.symbol()
        );
        let _ = err.flush();
    }

    /// A line or a reading that can't be used.
    pub(super) fn skipped(&self, error: &impl Display) {
        // It quotes what came, whatever that was.
        let error = printable::line(&error.to_string()).into_owned();
        if self.is_json() {
            Self::event(&Event::Skipped { error });
        } else {
            Self::complain(&format!("skipped: {error}"));
        }
    }

    /// What was left at the end of a file that is gone on with.
    pub(super) fn left(&self, before: &Before) {
        if let Some(torn) = &before.torn {
            self.skipped(&format!(
                "`{torn}` at the file's end, a line that was not written whole; it was taken off"
            ));
        }
        if let Some(unended) = &before.unended {
            let kept = format!(
                "`{unended}` at the file's end had no end of its line, and was kept as a reading; take it out where the gauge showed another"
            );
            if self.is_json() {
                Self::event(&Event::Kept { note: kept });
            } else {
                Self::complain(&kept);
            }
        }
    }

    /// The command was asked to end before the input did.
    pub(super) fn ends(&self) {
        if !self.is_json() {
            Self::complain("ended here; this is the assessment so far");
        }
    }

    fn complain(text: &str) {
        let _ = writeln!(anstream::stderr(), "{WARNING}{text}{WARNING:#}");
    }

    /// A reading that alone says nothing yet.
    pub(super) fn taken(&mut self, watch: &Watch) {
        if watch.times_s().len() > 1 {
            return;
        }
        if self.is_json() {
            Self::event(&Event::Reading(Box::new(reading(watch, None))));
        } else {
            Self::line(&format!("{}\n", self.place(watch)));
        }
    }

    pub(super) fn update(&mut self, watch: &Watch, update: &Update) {
        if self.is_json() {
            Self::event(&Event::Reading(Box::new(reading(watch, Some(update)))));
            return;
        }
        let mut text = self.place(watch);
        if let (How::Detail, Outcome::Fitted(run)) = (self.how, &update.assessment.outcome) {
            let _ = write!(text, "  CdA {}", area_interval(&run.fit.area));
        }
        let verdict = update.verdict;
        let style = style(verdict);
        match (verdict, update.assessment.probability_within_limit()) {
            (Some(verdict), _) if update.decided() => {
                let _ = write!(text, "  {style}{verdict}{style:#}");
            }
            (Some(verdict), Some(within)) => {
                let _ = write!(text, "  {style}{verdict}{style:#}");
                // What speaks against the fit comes before what the fit says.
                match update.assessment.doubts().next() {
                    Some(doubt) => {
                        let _ = write!(text, ": {}", doubt.words(self.unit));
                    }
                    None => text.push_str(&certainty(within, update.needed_probability)),
                }
            }
            _ => {}
        }
        text.push('\n');
        if update.decided() && !self.said_decided {
            self.said_decided = true;
            let verdict = verdict.map_or(String::new(), |v| v.to_string());
            let _ = writeln!(
                text,
                "{style}Decided: {verdict}. You may stop; end the input to see all of it.{style:#}"
            );
        }
        Self::line(&text);
    }

    /// Time and gauge of the last reading.
    fn place(&self, watch: &Watch) -> String {
        let (time, gauge) = last(watch);
        let unit = self.unit;
        format!(
            "{time:>8.1} s {:>8} {}",
            number(unit.from_si(gauge)),
            unit.symbol()
        )
    }

    /// What is printed last. The verdict of the session becomes the one over all looks. `rig_tested` says whether the bench's
    /// sheet has a run of the rig alone in the run's direction.
    pub(super) fn end(
        &self,
        session: &mut Session,
        (sheet, rig_tested): (&Sheet, bool),
        verdict: Option<Verdict>,
        last: Option<&Update>,
        file: &Path,
    ) -> Result<String, CommandError> {
        let mut text = String::new();
        for run in &mut session.runs {
            let single = run.assessment.verdict;
            run.assessment.verdict = verdict;
            let next = next_steps(run, rig_tested);
            if self.is_json() {
                let document = document(run, &next).map_err(|source| CommandError::Session {
                    file: file.display().to_string(),
                    source,
                })?;
                let event = Event::End {
                    file: file.display().to_string(),
                    verdict,
                    looks: last.map_or(0, |update| update.looks),
                    assessment: Box::new(document),
                };
                text = serde_json::to_string(&event)?;
                text.push('\n');
                continue;
            }
            match self.how {
                How::Detail => say_run(&mut text, sheet, run),
                _ => brief::assess::say_run(&mut text, run),
            }
            if single != verdict {
                text.push_str(&wrapped("  Looks   ", &looks(single, verdict, last)));
            }
            text.push_str(&wrapped(
                "  Kept    ",
                &format!(
                    "in {}; to keep it with the sheet, give its run file = \"{}\"",
                    words::path(file),
                    printable::line(&file.file_name().unwrap_or_default().to_string_lossy())
                ),
            ));
            match self.how {
                How::Detail => say_next(&mut text, &next),
                _ => brief::assess::say_next(&mut text, &next),
            }
        }
        Ok(text)
    }
}

fn last(watch: &Watch) -> (f64, f64) {
    let of = |column: &[f64]| column.last().copied().unwrap_or(f64::NAN);
    (of(watch.times_s()), of(watch.gauges_pa()))
}

fn reading(watch: &Watch, update: Option<&Update>) -> ReadingEvent {
    let (time_s, gauge_pa) = last(watch);
    let fitted = update.and_then(|update| match &update.assessment.outcome {
        Outcome::Fitted(run) => Some(&run.fit),
        _ => None,
    });
    ReadingEvent {
        time_s,
        gauge_pa,
        readings: watch.times_s().len(),
        verdict: watch.verdict(),
        decided: update.is_some_and(Update::decided),
        looks: update.map_or(0, |update| update.looks),
        probability_within_limit: update
            .and_then(|update| update.assessment.probability_within_limit()),
        needed_probability: update.and_then(|update| update.needed_probability),
        effective_area_m2: fitted.map(|fit| fit.area.si()),
        rate_per_s: fitted.map(|fit| fit.rate.si()),
    }
}

/// ": 97.1 % sure to be within the limit, 98.9 % is asked of this look".
fn certainty(within: f64, needed: Option<f64>) -> String {
    let asked = needed.map_or(String::new(), |p| {
        format!(", {} % is asked of this look", percent(p))
    });
    format!(": {} the limit{asked}", side_in_words(within))
}

/// Why the verdict differs from that of a single look.
fn looks(single: Option<Verdict>, verdict: Option<Verdict>, last: Option<&Update>) -> String {
    let words = |v: Option<Verdict>| v.map_or("no verdict".to_owned(), |v| format!("\"{v}\""));
    let asked = last.and_then(|update| update.needed_probability);
    let asked = asked.map_or(String::new(), |p| {
        format!(" the last one asked for {} %, so that", percent(p))
    });
    format!(
        "a single look after such a hold would say {}. This run was looked at {} times:{asked} all looks together are wrong \
         in at most 5 % of tests. Over all of them: {}.",
        words(single),
        last.map_or(0, |update| update.looks),
        words(verdict)
    )
}

fn next_steps(run: &SessionRun, rig_tested: bool) -> Vec<NextStep> {
    let mut next = vec![match run.assessment.verdict {
        Some(Verdict::Holds) => NextStep::Done,
        Some(Verdict::Leaks) => NextStep::FindSite(Hunt {
            under: run.assessment.direction,
            rig_tested,
        }),
        Some(_) => NextStep::Decide,
        None => NextStep::StateLimit,
    }];
    if rises(&run.assessment) {
        next.push(NextStep::Settle);
    }
    next
}

fn rises(assessment: &RunAssessment) -> bool {
    match &assessment.outcome {
        Outcome::Fitted(run) => run.fit.course == Course::Rises,
        _ => false,
    }
}

fn document(run: &SessionRun, next: &[NextStep]) -> Result<AssessDocument, SessionError> {
    let document =
        RunDocument::new(&run.name, &run.assessment).map_err(|source| SessionError::Run {
            run: run.name.clone(),
            source,
        })?;
    Ok(AssessDocument {
        format: FORMAT,
        runs: vec![document],
        next: next.iter().map(ToString::to_string).collect(),
    })
}
