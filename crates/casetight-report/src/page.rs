//! The page itself. Whatever stands in a sheet passes through maud, which escapes it; only drawings and the style sheet,
//! made here, are put in as they are.

use casetight::assess::{FittedRun, Outcome};
use casetight::caution;
use casetight::compare::{Repair, SheetsComparison};
use casetight::limit::Verdict;
use casetight::locate::{LocateError, Located};
use casetight::measured::{Measurable, Measured};
use casetight::quantity::{TradeUnits, Unit};
use casetight::record::Site;
use casetight::session::SessionRun;
use casetight::sheet::{Record, Run, Sheet, Space};
use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::words::{
    NOT_FOLLOWED, after_repair, area_in_words, area_unit, held, how_read, interval, limit_in_words,
    number, percent, repair_in_words, shares_in_words, shown, size_in_words, title,
    undecided_in_words, verdict_in_words,
};
use crate::{Report, figures};

const STYLE: &str = include_str!("style.css");

/// Readings shown of a run at most; of more, every so many-th.
const MOST_READINGS: usize = 60;

const MILLIMETERS: f64 = 1e3;
/// 1 m3/s in cm3/min.
const CUBIC_CENTIMETERS_A_MINUTE: f64 = 60e6;

/// The whole page.
pub(crate) fn page(report: &Report<'_>) -> String {
    let Report {
        sheet,
        session,
        located,
        before,
    } = report;
    let mut page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (title(sheet)) ", crankcase leak test" }
                style { (PreEscaped(STYLE)) }
            }
            body {
                (head(sheet))
                main {
                    (verdicts(&session.runs))
                    (numbers(sheet, &session.runs))
                    div.pair {
                        (notes(&session.runs))
                        (next_steps(report))
                    }
                    aside.cautions aria-labelledby="cautions-heading" {
                        h2 #cautions-heading { "Cautions" }
                        ul.columns {
                            @for caution in caution::BEFORE_PUMPING.iter().chain(caution::BEFORE_SPRAYING) {
                                li { (caution) }
                            }
                        }
                    }
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
                    @if let Some((drawing, caption)) = figures::ladder(sheet, session) {
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

fn leak_in_words(run: &SessionRun) -> String {
    match &run.assessment.outcome {
        Outcome::Fitted(fitted) => {
            let area = fitted.fit.area;
            let (factor, unit) = area_unit(if area.high.is_finite() {
                area.high
            } else {
                area.low
            });
            interval(&area, factor, unit)
        }
        Outcome::Stalled { bound, .. } => {
            format!("at least {}", area_in_words(bound.area.square_meters()))
        }
        _ => String::new(),
    }
}

/// A row of the table of numbers: its head, and what a run with readings says to it.
type Row<'a> = (&'a str, Box<dyn Fn(&SessionRun, &FittedRun) -> String + 'a>);

fn numbers(sheet: &Sheet, runs: &[SessionRun]) -> Markup {
    let rows: Vec<Row<'_>> = vec![
        (
            "Hole, if round",
            Box::new(|run, fitted| {
                format!(
                    "{} at Cd {}",
                    interval(&fitted.diameter_m, MILLIMETERS, "mm"),
                    run.assessment.assumptions.discharge_coefficient
                )
            }),
        ),
        (
            "Flow at the start",
            Box::new(|run, fitted| {
                format!(
                    "{} at {}",
                    interval(&fitted.flow_m3_s, CUBIC_CENTIMETERS_A_MINUTE, "cm3/min"),
                    run.assessment.assumptions.flow_reference
                )
            }),
        ),
        (
            "Limit",
            Box::new(|_, fitted| {
                let limits = fitted.decisions.iter().map(|d| {
                    format!(
                        "{}: at most {} here",
                        limit_in_words(&d.allowed.limit, sheet),
                        area_in_words(d.allowed.area_m2)
                    )
                });
                let limits: Vec<String> = limits.collect();
                if limits.is_empty() {
                    "none stated".to_owned()
                } else {
                    limits.join("; ")
                }
            }),
        ),
        (
            "Start pressure",
            Box::new(|_, fitted| shown(fitted.fit.judged_from(), sheet)),
        ),
        (
            "Readings",
            Box::new(|_, fitted| {
                held(&fitted.fit).map_or(NOT_FOLLOWED.to_owned(), |(readings, seconds)| {
                    let off = number(fitted.fit.residual_rms_pa);
                    format!("{readings} over {seconds} s; they lie {off} Pa (root mean square) about the fit")
                })
            }),
        ),
        (
            "The interval comes from",
            Box::new(|_, fitted| {
                shares_in_words(&fitted.fit)
                    .unwrap_or("the readings, which show no fall".to_owned())
            }),
        ),
    ];
    html! {
        section aria-labelledby="numbers-heading" {
            h2 #numbers-heading { "Numbers" }
            div.scroll role="group" tabindex="0" aria-label="Numbers, a column for each run" {
                table {
                    caption { "The effective area is that of the ideal orifice that passes the same flow." }
                    thead {
                        tr {
                            th scope="col" { "Run" }
                            @for run in runs { th scope="col" { (run.name) } }
                        }
                    }
                    tbody {
                        tr {
                            th scope="row" { "Effective area, CdA" }
                            @for run in runs { td { strong { (leak_in_words(run)) } } }
                        }
                        @for (name, say) in &rows {
                            tr {
                                th scope="row" { (name) }
                                @for run in runs {
                                    td {
                                        @match &run.assessment.outcome {
                                            Outcome::Fitted(fitted) => (say(run, fitted)),
                                            _ => "not told by a stalled pump",
                                        }
                                    }
                                }
                            }
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
                        p { (of.next) "." }
                    }
                    @if !located.notes.is_empty() {
                        ul { @for note in &located.notes { li { (note) "." } } }
                    }
                }
            }
        }
    }
}

fn comparison(before: &Sheet, compared: &SheetsComparison) -> Markup {
    let date = before
        .date
        .map_or(String::new(), |date| format!(", {date}"));
    html! {
        section.figures aria-labelledby="repair-heading" {
            h2 #repair-heading { "Before and after" }
            p { "Compared with the sheet \u{201c}" (title(before)) "\u{201d}" (date) "." }
            @for note in &compared.notes { p { strong { (note) "." } } }
            ul {
                @for pair in &compared.pairs {
                    li {
                        strong { (pair.after) ": " (repair_in_words(pair.repair)) } ". "
                        (pair.comparison) "."
                        @for note in &pair.comparison.notes { " " (note) "." }
                    }
                }
                @for (sheet, names) in [("before", &compared.only_before), ("after", &compared.only_after)] {
                    @if !names.is_empty() {
                        li { "Only on the sheet " (sheet) ", and not compared: " (names.join(", ")) "." }
                    }
                }
            }
            div.scroll role="group" tabindex="0" aria-label="Areas before and after" {
                table {
                    thead {
                        tr {
                            th scope="col" { "Run" }
                            th scope="col" { "Area before" }
                            th scope="col" { "Area after" }
                            th scope="col" { "Verdicts" }
                        }
                    }
                    tbody {
                        @for pair in &compared.pairs {
                            @let c = &pair.comparison;
                            tr {
                                th scope="row" { (pair.after) }
                                td { (size_in_words(&c.before, c.known.0)) }
                                td { (size_in_words(&c.after, c.known.1)) }
                                td { (verdict_in_words(pair.verdicts.0)) " before, " (verdict_in_words(pair.verdicts.1)) " after" }
                            }
                        }
                    }
                }
            }
            figure { (PreEscaped(figures::before_and_after(&compared.pairs))) }
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

/// "200.6 cm3 ± 3.1 cm3".
fn with_uncertainty<Q>(measured: &Measured<Q>) -> String
where
    Q: TradeUnits + Measurable<Spread: TradeUnits>,
{
    let value = measured.value().trade();
    let spread = measured.standard_uncertainty();
    let spread = spread
        .display_in(value.symbol())
        .unwrap_or_else(|_| spread.trade())
        .digits(2);
    let how = how_read(measured).map_or(String::new(), |how| format!(" ({how})"));
    format!("{value} \u{b1} {spread}{how}")
}

fn inputs(sheet: &Sheet, runs: &[SessionRun]) -> Markup {
    let gauge = &sheet.gauge;
    let in_gauge_unit = |p: casetight::quantity::Pressure| shown(p, sheet);
    let class = gauge
        .accuracy_class()
        .map_or("not stated, taken at its word".to_owned(), |a| {
            format!("{} % of a span of {}", a.class, in_gauge_unit(a.span))
        });
    let mut rows: Vec<(String, String)> = Vec::new();
    let mut row = |name: &str, value: String| rows.push((name.to_owned(), value));
    match &sheet.space {
        Space::Engine { dimensions, rig } => {
            row("Bore", with_uncertainty(&dimensions.bore));
            row("Stroke", with_uncertainty(&dimensions.stroke));
            row("Rod", with_uncertainty(&dimensions.rod));
            row(
                "Primary compression ratio",
                with_uncertainty(&dimensions.primary_compression_ratio),
            );
            if let Some(ratio) = &dimensions.compression_ratio {
                row("Compression ratio", with_uncertainty(ratio));
            }
            row("Rig", with_uncertainty(rig));
        }
        Space::Measured(volume) => row("Volume, rig included", with_uncertainty(volume)),
        Space::Methods(_) => {
            let mut of_engine = sheet.runs.iter().filter(|run| run.rig_alone.is_none());
            let piston = of_engine.next().and_then(|run| run.piston);
            for tested in sheet.volumes_for(piston).iter().flat_map(|v| &v.each) {
                row(
                    &format!("Volume, {}", tested.method()),
                    with_uncertainty(tested.volume()),
                );
            }
        }
    }
    row("Barometer", with_uncertainty(&sheet.ambient.pressure));
    row("Temperature", with_uncertainty(&sheet.ambient.temperature));
    row(
        "Allowance for drift",
        sheet.ambient.drift_allowance.trade().to_string(),
    );
    row("Gauge reads in steps of", in_gauge_unit(gauge.step()));
    row("Noise of a reading", in_gauge_unit(gauge.noise()));
    row("Accuracy class", class);
    row("Stopwatch", gauge.stopwatch().trade().to_string());
    for stated in &sheet.limits {
        let source = stated
            .rule
            .map_or(String::new(), |rule| format!(" ({})", rule.name()));
        row(
            "Limit",
            format!("{}{source}", limit_in_words(&stated.limit, sheet)),
        );
    }
    html! {
        section aria-labelledby="inputs-heading" {
            h2 #inputs-heading { "Inputs" }
            dl.inputs {
                @for (name, value) in &rows { div.wide[name == "Limit"] { dt { (name) } dd { (value) } } }
            }
            div.scroll role="group" tabindex="0" aria-label="The runs" {
                table {
                    caption { "What stands behind \u{b1} is a standard uncertainty." }
                    thead {
                        tr {
                            th scope="col" { "Run" }
                            th scope="col" { "Piston" }
                            th scope="col" { "Volume under test" }
                            th scope="col" { "Blanked" }
                            th scope="col" { "Soap" }
                        }
                    }
                    tbody {
                        @for (run, assessed) in sheet.runs.iter().zip(runs) {
                            tr {
                                th scope="row" { (run.name) }
                                td { (run.piston.map_or("not stated".to_owned(), |p| p.to_string())) }
                                td { (with_uncertainty(&assessed.bench.volume)) }
                                td { (list(&run.blanked, "nothing stated")) }
                                td { (soap(run)) }
                            }
                            @if let Some(note) = &run.note {
                                tr {
                                    th scope="row" { (run.name) ", note" }
                                    td colspan="4" { (note) }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn list(sites: &[Site], none: &str) -> String {
    if sites.is_empty() {
        none.to_owned()
    } else {
        sites.iter().map(Site::words).collect::<Vec<_>>().join("; ")
    }
}

fn soap(run: &Run) -> String {
    let mut said = Vec::new();
    if !run.bubbles.is_empty() {
        said.push(format!("bubbles at {}", list(&run.bubbles, "")));
    }
    if !run.dry.is_empty() {
        said.push(format!("dry at {}", list(&run.dry, "")));
    }
    if said.is_empty() {
        "not used".to_owned()
    } else {
        said.join("; ")
    }
}

fn all_readings(sheet: &Sheet) -> Markup {
    let unit: &Unit = sheet.gauge_unit;
    html! {
        section.long aria-labelledby="all-readings-heading" {
            h2 #all-readings-heading { "The readings" }
            @for run in &sheet.runs {
                h3 { (run.name) ", seconds and " (unit.symbol()) " gauge" }
                @match &run.record {
                    Record::Stalled(stalled) => p {
                        "The pump stalled: " (stalled.strokes) " strokes of " (stalled.stroke_volume.trade()) " over "
                        (stalled.over.trade()) ", needle at " (shown(stalled.reached, sheet)) "."
                    },
                    Record::Trace { file, readings, .. } => p {
                        (readings.len()) " readings in the file " (file) "."
                    },
                    Record::Readings(readings) => {
                        @let every = readings.len().div_ceil(MOST_READINGS);
                        @if every > 1 {
                            p { "One in " (every) " of " (readings.len()) " readings is shown; the fit used all." }
                        }
                        ul.readings {
                            @for (time, gauge) in readings.times_s().iter().zip(readings.gauges_pa()).step_by(every) {
                                li { span { (time) " s" } span { (in_unit(unit, *gauge)) } }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// A reading as the sheet has it, up to the rounding of its unit.
fn in_unit(unit: &Unit, pascals: f64) -> String {
    let value = (unit.from_si(pascals) * 1e6).round() / 1e6;
    // No reading is minus zero.
    format!("{}", value + 0.0)
}

#[cfg(test)]
#[allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test may fail"
)]
mod tests {
    use super::*;

    /// Contrast ratio of WCAG 2.2, 1 to 21.
    fn contrast(one: &str, other: &str) -> f64 {
        let luminance = |color: &str| {
            let digits = if color.len() == 4 { 1 } else { 2 };
            let light = |n: usize| {
                let part = &color[1 + n * digits..][..digits];
                let part = if digits == 1 {
                    part.repeat(2)
                } else {
                    part.to_owned()
                };
                let encoded = f64::from(u8::from_str_radix(&part, 16).unwrap()) / 255.0;
                if encoded <= 0.04045 {
                    encoded / 12.92
                } else {
                    ((encoded + 0.055) / 1.055).powf(2.4)
                }
            };
            0.2126 * light(0) + 0.7152 * light(1) + 0.0722 * light(2) + 0.05
        };
        let ratio = luminance(one) / luminance(other);
        ratio.max(1.0 / ratio)
    }

    /// WCAG 2.2, 1.4.3: text stands out from the paper by 4.5, on the screen by day and night, and in print.
    #[test]
    fn every_color_of_text_stands_out_from_the_paper() {
        let themes: Vec<&str> = STYLE.split(":root{").skip(1).collect();
        assert_eq!(themes.len(), 3);
        for theme in themes {
            let color = |name: &str| {
                let from = theme.split(&format!("--{name}:")).nth(1).unwrap();
                &from[..from.find([';', '}']).unwrap()]
            };
            for text in ["ink", "quiet", "holds", "leaks", "open"] {
                let ratio = contrast(color(text), color("paper"));
                assert!(ratio > 4.5, "{text}: {ratio}");
            }
        }
    }

    #[test]
    fn the_style_sheet_cannot_end_early_and_fetches_nothing() {
        assert!(
            !STYLE.contains(['<', '&']) && !STYLE.contains("url(") && !STYLE.contains("@import")
        );
        assert_eq!(STYLE.matches('{').count(), STYLE.matches('}').count());
    }

    #[test]
    fn assumptions_are_sentences() {
        assert_eq!(sentence("no gas passes"), "No gas passes.");
        assert_eq!(sentence("Done."), "Done.");
    }
}
