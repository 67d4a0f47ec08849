//! The first screen of `casetight compare`.

use casetight::estimate::Estimate;
use casetight::quantity::Area;
use casetight_bench::compare::{Known, Note, Pair, Repair, SheetTrend, SheetsComparison};
use casetight_bench::sheet::Sheet;
use casetight_report::words::{after_repair, repair_in_words, verdict_in_words};

use super::{cautions, headed, hole, more};
use crate::compare::{machine, named, not_compared, repair_style, sides};
use crate::words::{HEADING, narrow, say};

pub(crate) fn say_comparison(before: &Sheet, after: &Sheet, compared: &SheetsComparison) -> String {
    let mut out = String::new();
    say!(out, "{HEADING}Before{HEADING:#}  {}", named(before));
    say!(out, "{HEADING}After{HEADING:#}   {}", named(after));
    for pair in &compared.pairs {
        say_pair(&mut out, [before, after], pair);
    }
    for text in not_compared(compared) {
        out.push_str(&narrow("  Note    ", &text));
    }
    for note in &compared.notes {
        out.push_str(&narrow("  Note    ", &format!("{note}.")));
    }
    if !matches!(compared.repair, Repair::Repaired | Repair::Holds) {
        out.push('\n');
        out.push_str(&narrow("  Next  ", after_repair(compared.repair)));
        cautions(&mut out, true);
    }
    more(&mut out);
    out
}

fn say_pair(out: &mut String, [before, after]: [&Sheet; 2], pair: &Pair) {
    let compared = &pair.comparison;
    let style = repair_style(pair.repair);
    out.push('\n');
    say!(
        out,
        "{HEADING}{}{HEADING:#}: {style}{}{style:#}",
        pair.after,
        repair_in_words(pair.repair)
    );
    out.push_str(&narrow("  Change  ", &format!("{compared}.")));
    for ((lead, area, known, verdict), sheet) in sides(pair).into_iter().zip([before, after]) {
        let text = format!(
            "{}; {}.",
            size(area, known, sheet),
            verdict_in_words(verdict)
        );
        out.push_str(&narrow(lead, &text));
    }
    // What both share is told with the numbers.
    let is_first = |note: &&Note| !matches!(note, Note::Shared(_));
    for note in compared.notes.iter().filter(is_first) {
        out.push_str(&narrow("  Note    ", &format!("{note}.")));
    }
}

pub(crate) fn say_trends(sheets: &[Sheet], trends: &[SheetTrend]) -> String {
    let mut out = String::new();
    say!(
        out,
        "{HEADING}{}, {} sheets{HEADING:#}",
        machine(sheets),
        sheets.len()
    );
    for trend in trends {
        out.push('\n');
        let text = format!("{}.", trend.trend);
        headed(&mut out, HEADING, &format!("{}:", trend.direction), &text);
        for run in &trend.runs {
            let when = run
                .date
                .map_or(format!("{:>3}", run.at), |date| date.to_string());
            // One machine is shown by one coefficient, the first sheet's.
            let size = sheets.first().map_or(String::new(), |sheet| {
                size(&run.test.area(), run.test.known(), sheet)
            });
            say!(out, "  {when}  {size}");
        }
    }
    more(&mut out);
    out
}

fn size(area: &Estimate<Area>, known: Known, sheet: &Sheet) -> String {
    let cd = sheet.assumptions.discharge_coefficient;
    let mut area = area.si();
    match known {
        Known::AtMost => area.low = 0.0,
        Known::AtLeast => area.high = f64::INFINITY,
        _ => {}
    }
    hole(area, cd)
}
