//! The first screen of `casetight assess`, and of a run that was held live.

use casetight::doubt::Doubt;
use casetight_bench::assess::{FittedRun, Note, Outcome};
use casetight_bench::plausible::Surprise;
use casetight_bench::session::{NextStep, Session, SessionRun};
use casetight_bench::sheet::Sheet;
use casetight_report::words::{plain_answer, title};

use super::{cautions, headed, hole, more, ranged};
use crate::assess::{CUBIC_CENTIMETERS_A_MINUTE, disagreement, is_caution};
use crate::words::{HEADING, WARNING, narrow, say, style};

/// More runs than these get a line each.
const FEW: usize = 4;
/// Longer names than this push the sizes to the right.
const LONGEST: usize = 36;

pub(crate) fn say_session(sheet: &Sheet, session: &Session) -> String {
    let mut out = String::new();
    say!(out, "{HEADING}{}{HEADING:#}", title(sheet));
    if disagreement(sheet).is_some() {
        let text =
            "all sizes below rest on their mean; `casetight volume` says which is farthest off.";
        out.push('\n');
        headed(
            &mut out,
            WARNING,
            "The ways to the tested volume disagree:",
            text,
        );
    }
    if session.runs.len() > FEW {
        out.push('\n');
        let names = session.runs.iter().map(|run| run.name.chars().count());
        let width = names.max().unwrap_or(0).min(LONGEST);
        for run in &session.runs {
            say_line(&mut out, run, width);
        }
    } else {
        for run in &session.runs {
            say_run(&mut out, run);
        }
    }
    let mut notes = session.runs.iter().flat_map(|run| &run.assessment.notes);
    if let Some(note) = notes.find(|note| matches!(note, Note::CommonPractice)) {
        out.push('\n');
        out.push_str(&narrow("", &format!("{note}.")));
    }
    say_next(&mut out, &session.next);
    more(&mut out);
    out
}

/// A run: the answer, and the leak by its hole and its flow.
pub(crate) fn say_run(out: &mut String, run: &SessionRun) {
    let style = style(run.assessment.verdict);
    out.push('\n');
    say_cautions(out, run);
    let answer = plain_answer(run);
    let (verdict, rest) = answer.split_once(':').unwrap_or((&answer, ""));
    let name = &run.name;
    out.push_str(&narrow(
        "",
        &format!("{name} - {style}{verdict}{style:#}:{rest}"),
    ));
    if let Some(size) = size(run) {
        out.push_str(&narrow("  ", &format!("{size}.")));
    }
    let outlook = |note: &Note| match note {
        Note::Volume { outlook, .. } => Some(100.0 * outlook.relative_uncertainty()),
        _ => None,
    };
    if let Some(percent) = run.assessment.notes.iter().find_map(outlook) {
        let text = format!(
            "The volume is known to {percent:.0} % only; `casetight volume` says what would narrow it most."
        );
        out.push_str(&narrow("  ", &text));
    }
    for note in run.assessment.notes.iter().filter(|note| is_first(note)) {
        out.push_str(&narrow("  ", &format!("{note}.")));
    }
}

/// One of many runs.
fn say_line(out: &mut String, run: &SessionRun, width: usize) {
    say_cautions(out, run);
    let verdict = run.assessment.verdict;
    let style = style(verdict);
    let words = verdict.map_or("not judged".to_owned(), |verdict| verdict.to_string());
    let name = &run.name;
    let hole = hole_of(run).map_or(String::new(), |hole| format!("  {hole}"));
    say!(out, "{style}{words:<9}{style:#}  {name:<width$}{hole}");
}

/// A pressure that should not have been comes before any verdict.
fn say_cautions(out: &mut String, run: &SessionRun) {
    let of_pressure = run.assessment.notes.iter().filter(|note| is_caution(note));
    for caution in of_pressure {
        headed(out, WARNING, "Caution:", &format!("{caution}."));
    }
}

/// What to do next, with the cautions that belong beside it.
pub(crate) fn say_next(out: &mut String, next: &[NextStep]) {
    say!(out, "\n{HEADING}Next{HEADING:#}");
    for step in next {
        out.push_str(&narrow("  ", &format!("{}.", step.in_short())));
    }
    let sprays = next.iter().any(|step| step.sprays());
    if sprays || next.iter().any(|step| step.pumps()) {
        cautions(out, sprays);
    }
}

/// The leak as the hole that it is like; none where the readings contradict the curve that it comes from.
fn hole_of(run: &SessionRun) -> Option<String> {
    let fitted = fitted(run)?;
    let cd = run.assessment.assumptions.discharge_coefficient;
    Some(hole(fitted.fit.area.si(), cd))
}

/// The hole, and the flow through it at the start.
fn size(run: &SessionRun) -> Option<String> {
    let hole = hole_of(run)?;
    let flow = fitted(run)?.flow.si();
    let ends = [flow.value, flow.low, flow.high].map(|flow| flow * CUBIC_CENTIMETERS_A_MINUTE);
    let (first, rest) = hole.split_at_checked(1)?;
    let first = first.to_uppercase();
    Some(format!("{first}{rest}, flow {}", ranged("cm3/min", ends)))
}

fn fitted(run: &SessionRun) -> Option<&FittedRun> {
    match &run.assessment.outcome {
        Outcome::Fitted(fitted) if !run.assessment.doubts().any(Doubt::contradicts_fit) => {
            Some(fitted)
        }
        _ => None,
    }
}

/// Whether a note belongs on the first screen: what surprises, what else moved the needle, how long to go on.
fn is_first(note: &Note) -> bool {
    // What the air pressure's spelling changes is told with the numbers.
    if let Note::Surprise { surprise, .. } = note {
        return !matches!(surprise, Surprise::Standard { .. });
    }
    matches!(
        note,
        Note::Beside { .. }
            | Note::FallNotTold { .. }
            | Note::ByTemperature { .. }
            | Note::FallExplained { .. }
            | Note::GoOn(_)
    )
}
