//! `casetight assess`.

use std::fmt::Write;
use std::path::Path;

use casetight::assess::{FittedRun, Outcome};
use casetight::caution;
use casetight::fit::{Course, Fit};
use casetight::limit::{Limit, Verdict};
use casetight::quantity::TradeUnits;
use casetight::session::{NextStep, Session, SessionRun};
use casetight::sheet::Sheet;

use crate::words::{HEADING, WARNING, area_unit, interval, number, style, title, wrapped};
use crate::{ALL_HOLD, Answer, CommandError, NOT_DECIDED, SOME_LEAK, files, plot};

const MILLIMETERS: f64 = 1e3;
/// 1 m3/s in cm3/min.
const CUBIC_CENTIMETERS_A_MINUTE: f64 = 60e6;

pub(crate) fn run(path: &Path, json: bool, plot_to: Option<&Path>) -> Result<Answer, CommandError> {
    let sheet = files::read_sheet(path)?;
    let in_session = |source| CommandError::Session {
        file: path.display().to_string(),
        source,
    };
    let session = Session::assess(&sheet).map_err(in_session)?;
    if let Some(file) = plot_to {
        let runs = session.runs.iter().zip(&sheet.runs);
        let runs = runs.map(|(run, read)| (run.name.as_str(), &run.assessment, &read.record));
        files::write_whole(file, &plot::figure(title(&sheet), runs).to_svg())?;
    }
    let text = if json {
        let mut text = serde_json::to_string_pretty(&session.document().map_err(in_session)?)?;
        text.push('\n');
        text
    } else {
        say(&sheet, &session)
    };
    let exit = match session.worst() {
        Some(Verdict::Holds) => ALL_HOLD,
        Some(Verdict::Leaks) => SOME_LEAK,
        _ => NOT_DECIDED,
    };
    Ok(Answer { text, exit })
}

pub(crate) fn area_in_words(area: f64) -> String {
    let (factor, unit) = area_unit(area);
    format!("{} {unit}", number(area * factor))
}

/// Writing to a string can't fail; its `Result` is dropped here once.
macro_rules! say {
    ($out:expr, $($word:tt)*) => {
        let _ = writeln!($out, $($word)*);
    };
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
fn disagreement(sheet: &Sheet) -> Option<String> {
    let volumes = sheet
        .runs
        .iter()
        .filter_map(|run| sheet.volumes_for(run.piston).ok());
    let combined = volumes.filter_map(|volumes| volumes.combined);
    combined
        .filter(|c| !c.agree())
        .map(|c| c.to_string())
        .next()
}

pub(crate) fn say_run(out: &mut String, sheet: &Sheet, run: &SessionRun) {
    let assessment = &run.assessment;
    let style = style(assessment.verdict);
    let verdict = assessment
        .verdict
        .map_or("no limit stated".to_owned(), |v| v.to_string());
    let certainty = assessment
        .probability_within_limit()
        .map_or(String::new(), |p| {
            format!(", {} % sure to be within the limit", percent(p))
        });
    say!(
        out,
        "\n{HEADING}{}{HEADING:#}: {style}{verdict}{style:#}{certainty}",
        run.name
    );
    match &assessment.outcome {
        Outcome::Fitted(fitted) => say_fitted(out, sheet, run, fitted),
        Outcome::Stalled { stall, bound } => {
            out.push_str(&wrapped(
                "  Pump    ",
                &format!(
                    "{} test; the needle went no further than {}",
                    assessment.direction,
                    shown(stall.reached(), sheet)
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
    for note in &assessment.notes {
        out.push_str(&wrapped("  Note    ", &format!("{note}.")));
    }
}

/// Where the interval comes from: "noise and rounding of the readings 59 %, ..."; none where the needle did not fall.
pub(crate) fn shares_in_words(fit: &Fit) -> Option<String> {
    let variance: f64 = fit
        .parts
        .iter()
        .map(|p| p.standard_uncertainty_m2.powi(2))
        .sum();
    if !(variance > 0.0 && fit.course == Course::Falls) {
        return None;
    }
    let mut parts: Vec<_> = fit
        .parts
        .iter()
        .map(|p| (p.standard_uncertainty_m2.powi(2) / variance, p.kind))
        .filter(|(share, _)| *share >= 0.005)
        .collect();
    parts.sort_by(|a, b| b.0.total_cmp(&a.0));
    let listed: Vec<String> = parts
        .iter()
        .map(|(share, kind)| format!("{} {:.0} %", kind.words(), 100.0 * share))
        .collect();
    Some(listed.join(", "))
}

/// A probability in percent that never claims certainty.
pub(crate) fn percent(p: f64) -> String {
    match 100.0 * p {
        p if p > 99.9 => "over 99.9".to_owned(),
        p if p < 0.1 => "under 0.1".to_owned(),
        p => number(p),
    }
}

pub(crate) fn shown<Q: TradeUnits>(pressure: Q, sheet: &Sheet) -> String {
    pressure.display_in(sheet.gauge_unit.symbol()).map_or_else(
        |_| pressure.trade().to_string(),
        |s| s.digits(3).to_string(),
    )
}

fn say_fitted(out: &mut String, sheet: &Sheet, run: &SessionRun, fitted: &FittedRun) {
    let fit = &fitted.fit;
    let assumptions = &run.assessment.assumptions;
    let seconds = fit.residuals.last().map_or(0.0, |r| r.time_s)
        - fit.residuals.first().map_or(0.0, |r| r.time_s);
    out.push_str(&wrapped(
        "  Test    ",
        &format!(
            "{}, {} readings over {} s from {}; volume under test {} +- {} (standard uncertainty)",
            fit.direction,
            fit.residuals.len(),
            number(seconds),
            shown(fit.start, sheet),
            run.bench.volume.value().trade(),
            run.bench.volume.standard_uncertainty().trade().digits(2),
        ),
    ));
    let (factor, unit) = area_unit(if fit.area.high.is_finite() {
        fit.area.high
    } else {
        fit.area.low
    });
    out.push_str(&wrapped(
        "  Leak    ",
        &format!("effective area (CdA) {}", interval(&fit.area, factor, unit)),
    ));
    out.push_str(&wrapped(
        "  Hole    ",
        &format!(
            "{} across, if round with Cd {}",
            interval(&fitted.diameter_m, MILLIMETERS, "mm"),
            assumptions.discharge_coefficient
        ),
    ));
    out.push_str(&wrapped(
        "  Flow    ",
        &format!(
            "{} at the start pressure, counted at {}",
            interval(&fitted.flow_m3_s, CUBIC_CENTIMETERS_A_MINUTE, "cm3/min"),
            assumptions.flow_reference
        ),
    ));
    for (decision, stated) in fitted.decisions.iter().zip(&sheet.limits) {
        let source = stated
            .rule
            .map_or(String::new(), |rule| format!(" ({})", rule.name()));
        out.push_str(&wrapped(
            "  Limit   ",
            &format!(
                "{}{source}: at most {} here; {} % sure to be within it",
                limit_in_words(&decision.allowed.limit, sheet),
                area_in_words(decision.allowed.area_m2),
                percent(decision.probability_within)
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

pub(crate) fn limit_in_words(limit: &Limit, sheet: &Sheet) -> String {
    match limit {
        Limit::Drop {
            drop,
            from,
            over,
            at_volume,
        } => {
            let volume = at_volume.map_or(String::new(), |v| format!(" at {}", v.trade()));
            format!(
                "no more than {} lost from {} in {}{volume}",
                shown(*drop, sheet),
                shown(*from, sheet),
                over.trade()
            )
        }
        Limit::Area(area) => format!("effective area of at most {}", area.trade()),
        Limit::Flow { flow, reference } => {
            let flow = flow
                .display_in("cm3/min")
                .map_or_else(|_| flow.trade().to_string(), |f| f.to_string());
            format!("flow of at most {flow} at {reference}")
        }
        Limit::Hold { time, from } => {
            let from = from.map_or("the start pressure".to_owned(), |p| shown(p, sheet));
            format!("no readable fall from {from} for {}", time.trade())
        }
        _ => "limit".to_owned(),
    }
}
