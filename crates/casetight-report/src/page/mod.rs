//! The page itself. Whatever stands in a sheet passes through maud, which escapes it; only drawings and the style sheet,
//! made here, are put in as they are.

mod comparison;
mod inputs;
mod numbers;
mod readings;
#[cfg(test)]
mod tests;

use casetight::caution;
use casetight::limit::Verdict;
use casetight_bench::compare::Repair;
use casetight_bench::locate::{LocateError, Located};
use casetight_bench::session::SessionRun;
use casetight_bench::sheet::Sheet;
use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::words::{after_repair, percent, title, undecided_in_words, verdict_in_words};
use crate::{Report, figures};
use comparison::comparison;
use inputs::inputs;
use numbers::{leak_in_words, numbers};
use readings::all_readings;

const STYLE: &str = include_str!("../style.css");

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
    html! {
        main {
            (verdicts(&session.runs))
            (numbers(&session.runs))
            div.pair {
                (notes(&session.runs))
                (next_steps(report))
            }
            (cautions())
            @if let Some(located) = located { (sites(located)) }
            @if let Some((before, compared)) = before {
                (comparison(before, compared))
            }
            @let drawings = figures::readings(session);
            @if !drawings.is_empty() {
                section.figures.long aria-labelledby="readings-heading" {
                    h2 #readings-heading { "Readings and fit" }
                    @for drawing in drawings { figure { (PreEscaped(drawing)) } }
                    p.kind { "The band is the interval of the leak's rate at the fitted start pressure." }
                }
            }
            @if let Some((drawing, caption)) = figures::ladder(session) {
                section.figures aria-labelledby="ladder-heading" {
                    h2 #ladder-heading { "How large is that?" }
                    figure { (PreEscaped(drawing)) }
                    p.kind { (caption) }
                }
            }
            (assumptions(sheet, &session.runs))
            (inputs(sheet, &session.runs))
            (all_readings(sheet))
        }
    }
}

fn cautions() -> Markup {
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
    html! {
        header {
            div.card {
                div.name {
                    p.kind { "Crankcase leak test" }
                    h1 { (title(sheet)) }
                }
            }
            dl.card {
                div.wide { dt { "Machine" } dd { (sheet.machine.as_deref().unwrap_or("not stated")) } }
                div { dt { "Date of the test" } dd { (sheet.date.map_or("not stated".to_owned(), |d| d.to_string())) } }
                div { dt { "Runs" } dd { (sheet.runs.len()) } }
            }
        }
    }
}

fn verdicts(runs: &[SessionRun]) -> Markup {
    html! {
        section aria-labelledby="verdict-heading" {
            h2 #verdict-heading { "Verdict" }
            div.stamps {
                @for run in runs {
                    @let verdict = run.assessment.verdict;
                    @let class = match verdict {
                        Some(Verdict::Holds) => "stamp holds",
                        Some(Verdict::Leaks) => "stamp leaks",
                        _ => "stamp",
                    };
                    div class=(class) {
                        h3 { (run.name) }
                        strong { (verdict_in_words(verdict)) }
                        @match (run.assessment.sureness(), undecided_in_words(&run.assessment)) {
                            (Some(sure), _) => p { (percent(sure)) " % sure" },
                            (None, Some(why)) => p { (why) },
                            (None, None) => p { (leak_in_words(run)) },
                        }
                    }
                }
            }
        }
    }
}

fn sites(located: &Result<Located, LocateError>) -> Markup {
    html! {
        section.figures.long aria-labelledby="sites-heading" {
            h2 #sites-heading { "Site by site" }
            @match located {
                Err(error) => p { "The sites can't be told apart: " (error) "." },
                Ok(located) => {
                    @for of in &located.directions {
                        h3 { (of.direction) }
                        figure { (PreEscaped(figures::sites(of.direction, &of.found))) }
                        p { "All areas are those at " (of.pressure_unit.shown(of.at.pascals(), 3)) ". " (of.next) "." }
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
            @for run in runs {
                h3 { (run.name) }
                ul { @for note in &run.assessment.notes { li { (note) "." } } }
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
