//! The page itself. Whatever stands in a sheet passes through maud, which escapes it; only drawings and the style sheet,
//! made here, are put in as they are.

mod comparison;
mod inputs;
mod numbers;
mod readings;
#[cfg(test)]
mod tests;
mod verdict;

use casetight::caution;
use casetight_bench::compare::Repair;
use casetight_bench::locate::{LocateError, Located};
use casetight_bench::session::{Session, SessionRun};
use casetight_bench::sheet::Sheet;
use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::units::Units;
use crate::words::{after_repair, title};
use crate::{Report, figures};
use comparison::comparison;
use inputs::inputs;
use numbers::numbers;
use readings::all_readings;
use verdict::verdicts;

/// What both pages look like.
pub(crate) const STYLE: &str = include_str!("../style.css");

/// The whole page.
pub(crate) fn page(report: &Report<'_>) -> String {
    let mut page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (title(report.sheet)) ", crankcase leak test" }
                style { (PreEscaped(STYLE)) }
            }
            body {
                (head(report.sheet))
                (content(report))
                dl.sign {
                    div { dt { "Tested by" } dd {} }
                    div { dt { "Signature" } dd {} }
                    div { dt { "Date" } dd {} }
                }
                footer {
                    p {
                        "Written by casetight " (env!("CARGO_PKG_VERSION")) " from the bench sheet. The verdict is about the leak \
                         and the limit stated, with the uncertainty shown; the decision stays with the person who signs."
                    }
                }
            }
        }
    }
    .into_string();
    page.push('\n');
    page
}

fn content(report: &Report<'_>) -> Markup {
    let Report {
        sheet,
        session,
        located,
        before,
    } = report;
    let compared = before.as_ref().map(|(_, compared)| compared);
    let units = &Units::of(sheet, session, compared);
    html! {
        main {
            (verdicts(&session.runs, units))
            (drawings(report, units))
            (cautions())
            (numbers(&session.runs, units))
            (notes(&session.runs))
            @if let Some(located) = located { (sites(located, units)) }
            (assumptions(sheet, &session.runs))
            (inputs(sheet, &session.runs, units))
            (all_readings(sheet))
        }
    }
}

/// The drawings, two side by side where there is room, and what to do next.
fn drawings(report: &Report<'_>, units: &Units) -> Markup {
    let drawn = figures::readings(&report.session, units);
    let several = drawn.len() > 1;
    let readings = html! { @if !drawn.is_empty() { (readings(&drawn)) } };
    let ladder = ladder(&report.session, units);
    let next = next_steps(report);
    html! {
        @match (&report.before, several) {
            (Some((before, compared)), _) => {
                (comparison(before, compared, units, &ladder))
                @if several { (readings) (next) } @else { div.pair { (readings) (next) } }
            }
            (None, true) => { (readings) div.pair { (ladder) (next) } }
            (None, false) => { div.pair { (readings) (ladder) } (next) }
        }
    }
}

fn readings(drawings: &[String]) -> Markup {
    html! {
        section.figures.long aria-labelledby="readings-heading" {
            h2 #readings-heading { "Readings and fit" }
            div.side { @for drawing in drawings { figure { (PreEscaped(drawing)) } } }
            p.kind {
                @if drawings.len() > 1 { "One scale for all runs. " }
                "The band is the interval of the leak's rate; a dashed line is the needle's course by a leak just at the limit."
            }
        }
    }
}

fn ladder(session: &Session, units: &Units) -> Markup {
    html! {
        @if let Some((drawing, caption)) = figures::ladder(session, units) {
            section.figures aria-labelledby="ladder-heading" {
                h2 #ladder-heading { "How large is that?" }
                figure { (PreEscaped(drawing)) }
                p.kind { (caption) }
            }
        }
    }
}

pub(crate) fn cautions() -> Markup {
    html! {
        aside.cautions aria-labelledby="cautions-heading" {
            h2 #cautions-heading { "Cautions" }
            ul.columns {
                @for caution in caution::BEFORE_PUMPING.iter().chain(caution::BEFORE_SPRAYING) {
                    li { (caution) }
                }
            }
        }
    }
}

fn head(sheet: &Sheet) -> Markup {
    let job = &sheet.job;
    let both = job.complaint.is_some() && job.work_done.is_some();
    html! {
        header {
            div.card {
                div.name {
                    p.kind {
                        span { "Crankcase leak test" }
                        @if let Some(shop) = &job.shop { span { (shop) } }
                    }
                    h1 { (title(sheet)) }
                }
            }
            dl.card {
                div.wide { dt { "Machine" } dd { (sheet.machine.as_deref().unwrap_or("not stated")) } }
                div { dt { "Date of the test" } dd { (sheet.date.map_or("not stated".to_owned(), |d| d.to_string())) } }
                div { dt { "Runs" } dd { (sheet.runs.len()) } }
                @for (name, said) in [("What the customer said", &job.complaint), ("Work done", &job.work_done)] {
                    @if let Some(said) = said { div.lines.wide[both].name[!both] { dt { (name) } dd { (said) } } }
                }
            }
        }
    }
}

fn sites(located: &Result<Located, LocateError>, units: &Units) -> Markup {
    html! {
        section.figures.long aria-labelledby="sites-heading" {
            h2 #sites-heading { "Site by site" }
            @match located {
                Err(error) => p { "The sites can't be told apart: " (error) "." },
                Ok(located) => {
                    @for of in &located.directions {
                        h3 { (of.direction) }
                        figure { (PreEscaped(figures::sites(of.direction, &of.found, units))) }
                        p { "All areas are those at " (units.pressure(of.at.pascals())) ". " (of.next) "." }
                    }
                    @if !located.notes.is_empty() {
                        ul { @for note in &located.notes { li { (note) "." } } }
                    }
                }
            }
        }
    }
}

fn notes(runs: &[SessionRun]) -> Markup {
    html! {
        section aria-labelledby="notes-heading" {
            h2 #notes-heading { "Notes" }
            div.side {
                @for run in runs {
                    div {
                        h3 { (run.name) }
                        ul { @for note in &run.assessment.notes { li { (note) "." } } }
                    }
                }
            }
        }
    }
}

fn next_steps(report: &Report<'_>) -> Markup {
    let still = report
        .before
        .as_ref()
        .map(|(_, compared)| compared.repair)
        .filter(|repair| !matches!(repair, Repair::Repaired | Repair::Holds));
    html! {
        section aria-labelledby="next-heading" {
            h2 #next-heading { "What to do next" }
            ul {
                @for step in &report.session.next { li { (step) "." } }
                @if let Some(repair) = still { li { (after_repair(repair)) } }
            }
        }
    }
}

fn assumptions(sheet: &Sheet, runs: &[SessionRun]) -> Markup {
    let mut of_volume: Vec<&'static str> = Vec::new();
    for run in &sheet.runs {
        if let Ok(tested) = sheet.volume_of(run) {
            for assumption in tested.assumptions() {
                if !of_volume.contains(assumption) {
                    of_volume.push(assumption);
                }
            }
        }
    }
    let level = runs
        .first()
        .map_or(0.95, |run| run.assessment.assumptions.level);
    html! {
        section aria-labelledby="assumptions-heading" {
            h2 #assumptions-heading { "Assumptions" }
            ul.columns.three {
                li { "Readings tell area over volume: a volume that is wrong by a tenth is an area that is wrong by a tenth." }
                li { "The effective area is that at the start pressure; a diameter needs the assumed discharge coefficient as well." }
                li { "The gas is dry air." }
                li { "Intervals are meant to hold the truth in " (100.0 * level) " % of such tests." }
                @for assumption in of_volume { li { (sentence(assumption)) } }
            }
        }
    }
}

/// With a capital and a full stop.
fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(|c| c.to_uppercase().to_string());
    let end = if text.ends_with('.') { "" } else { "." };
    format!("{}{}{end}", first.unwrap_or_default(), letters.as_str())
}
