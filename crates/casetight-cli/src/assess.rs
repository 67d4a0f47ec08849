//! `casetight assess`.

use std::path::Path;

use casetight::caution;
use casetight::doubt::Doubt;
use casetight_bench::assess::{FittedRun, Note, Outcome};
use casetight_bench::session::{NextStep, Session, SessionRun};
use casetight_bench::sheet::Sheet;
use casetight_report::decay_chart;
use casetight_report::words::{
    NOT_FOLLOWED, area_in_words, area_interval, contradicted, held, interval, limit_in_words,
    shares_in_words, shown, side_in_words, sure_verdict_in_words, title, undecided_in_words,
    volume_in_words,
};

use crate::brief::{self, How, Manner};
use crate::files::Files;
use crate::words::{HEADING, WARNING, by_rule, say, style, wrapped};
use crate::{Answer, CommandError, exit_of, in_json};

const MILLIMETERS: f64 = 1e3;
/// 1 m3/s in cm3/min.
pub(crate) const CUBIC_CENTIMETERS_A_MINUTE: f64 = 60e6;

pub(crate) fn run(
    files: &Files,
    path: &Path,
    manner: Manner,
    plot_to: Option<&Path>,
) -> Result<Answer, CommandError> {
    let sheet = files.sheet(path)?;
    let in_session = |source| CommandError::Session {
        file: path.display().to_string(),
        source,
    };
    let session = Session::assess(&sheet).map_err(in_session)?;
    if let Some(file) = plot_to {
        files.write(file, &decay_chart(&sheet, &session))?;
    }
    let text = match manner.how() {
        How::Json => in_json(&session.document().map_err(in_session)?)?,
        How::Detail => say(&sheet, &session),
        How::Brief => brief::assess::say_session(&sheet, &session),
    };
    let exit = exit_of(session.worst());
    Ok(Answer { text, exit })
}

fn say(sheet: &Sheet, session: &Session) -> String {
    let mut out = String::new();
    say!(out, "{HEADING}{}{HEADING:#}", title(sheet));
    if let Some(how) = disagreement(sheet) {
        say!(
            out,
            "\n{WARNING}The ways to the tested volume disagree{WARNING:#}"
        );
        let text =
            format!("{how}. All areas below rest on their mean; `casetight volume` shows each.");
        out.push_str(&wrapped("  ", &text));
    }
    for run in &session.runs {
        say_run(&mut out, sheet, run);
    }
    say_next(&mut out, &session.next);
    out
}

/// What to do next, with the cautions that belong beside it.
pub(crate) fn say_next(out: &mut String, next: &[NextStep]) {
    say!(out, "\n{HEADING}Next{HEADING:#}");
    for step in next {
        out.push_str(&wrapped("  ", &format!("{step}.")));
    }
    let cautions = |of: &[&str], out: &mut String| {
        for caution in of {
            out.push_str(&wrapped("  ", caution));
        }
    };
    if next.iter().any(|step| step.pumps()) {
        say!(out, "\n{WARNING}Before pumping{WARNING:#}");
        cautions(caution::BEFORE_PUMPING, out);
    }
    if next.iter().any(|step| step.sprays()) {
        cautions(caution::BEFORE_SPRAYING, out);
    }
}

/// How the sheet's ways to the tested volume disagree, if they do for a run.
pub(crate) fn disagreement(sheet: &Sheet) -> Option<String> {
    let volumes = sheet
        .runs
        .iter()
        .filter_map(|run| sheet.volumes_of(run).ok().flatten());
    let combined = volumes.filter_map(|volumes| volumes.combined);
    combined
        .filter(|c| !c.agree())
        .map(|c| c.to_string())
        .next()
}

/// Whether a note is of a pressure that should not have been: it comes before any verdict.
pub(crate) fn is_caution(note: &Note) -> bool {
    matches!(
        note,
        Note::Doubt {
            doubt: Doubt::AboveCaution { .. },
            ..
        }
    )
}

pub(crate) fn say_run(out: &mut String, sheet: &Sheet, run: &SessionRun) {
    let assessment = &run.assessment;
    let style = style(assessment.verdict);
    let verdict = sure_verdict_in_words(assessment);
    out.push('\n');
    // A pressure that should not have been comes before any verdict.
    for caution in assessment.notes.iter().filter(|note| is_caution(note)) {
        let text = format!("{WARNING}Caution{WARNING:#} {caution}.");
        out.push_str(&wrapped("", &text));
    }
    say!(
        out,
        "{HEADING}{}{HEADING:#}: {style}{verdict}{style:#}",
        run.name
    );
    let is_doubt = |note: &&Note| matches!(note, Note::Doubt { .. });
    let why = assessment.notes.iter().filter(is_doubt);
    for doubt in why.filter(|note| !is_caution(note)) {
        out.push_str(&wrapped("  Why     ", &format!("{doubt}.")));
    }
    if let (None, Some(side)) = (assessment.doubts().next(), undecided_in_words(assessment)) {
        out.push_str(&wrapped("  Why     ", &format!("only {side}.")));
    }
    match &assessment.outcome {
        Outcome::Fitted(fitted) => say_fitted(out, sheet, run, fitted),
        Outcome::Stalled { stall, bound } => {
            out.push_str(&wrapped(
                "  Pump    ",
                &format!(
                    "{} test; the needle went no further than {}",
                    assessment.direction,
                    shown(stall.reached(), assessment.assumptions.pressure_unit)
                ),
            ));
            let least = area_in_words(bound.area.square_meters());
            out.push_str(&wrapped(
                "  Leak    ",
                &format!("effective area (CdA) at least {least}"),
            ));
        }
        _ => {}
    }
    for note in assessment.notes.iter().filter(|note| !is_doubt(note)) {
        out.push_str(&wrapped("  Note    ", &format!("{note}.")));
    }
}

fn say_fitted(out: &mut String, sheet: &Sheet, run: &SessionRun, fitted: &FittedRun) {
    let fit = &fitted.fit;
    let unit = run.assessment.assumptions.pressure_unit;
    let held = held(fit).map_or(NOT_FOLLOWED.to_owned(), |(readings, seconds)| {
        format!("{readings} readings over {seconds} s")
    });
    out.push_str(&wrapped(
        "  Test    ",
        &format!(
            "{}, {held} from {}; volume under test {}",
            fit.direction,
            shown(fit.judged_from(), unit),
            volume_in_words(&run.bench.volume),
        ),
    ));
    say_sizes(out, run, fitted);
    for (decision, stated) in fitted.decisions.iter().zip(&sheet.limits) {
        out.push_str(&wrapped(
            "  Limit   ",
            &format!(
                "{}{}: at most {} here{}",
                limit_in_words(&decision.allowed.limit, unit),
                by_rule(stated),
                area_in_words(decision.allowed.area_m2),
                decision
                    .supported_probability()
                    .map_or(String::new(), |p| format!("; {} it", side_in_words(p)))
            ),
        ));
    }
    if let Some(shares) = shares_in_words(fit) {
        out.push_str(&wrapped(
            "  From    ",
            &format!("the interval comes from {shares}"),
        ));
    }
}

/// How large the leak is: as an area, a hole and a flow.
fn say_sizes(out: &mut String, run: &SessionRun, fitted: &FittedRun) {
    let assumptions = &run.assessment.assumptions;
    out.push_str(&wrapped(
        "  Leak    ",
        &format!(
            "{}effective area (CdA) {}",
            contradicted(&run.assessment),
            area_interval(&fitted.fit.area)
        ),
    ));
    out.push_str(&wrapped(
        "  Hole    ",
        &format!(
            "{} across, if round with Cd {}",
            interval(&fitted.diameter, MILLIMETERS, "mm"),
            assumptions.discharge_coefficient
        ),
    ));
    out.push_str(&wrapped(
        "  Flow    ",
        &format!(
            "{} at the start pressure, counted at {}",
            interval(&fitted.flow, CUBIC_CENTIMETERS_A_MINUTE, "cm3/min"),
            assumptions.flow_reference
        ),
    ));
}
