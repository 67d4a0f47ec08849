//! The repair: this sheet beside the one before.

use casetight_bench::compare::SheetsComparison;
use casetight_bench::sheet::Sheet;
use maud::{Markup, PreEscaped, html};

use crate::figures;
use crate::units::Units;
use crate::words::{repair_in_words, title, verdict_in_words};

/// The comparison, its drawing with another one `beside` it.
pub(super) fn comparison(
    before: &Sheet,
    compared: &SheetsComparison,
    units: &Units,
    beside: &Markup,
) -> Markup {
    let date = before
        .date
        .map_or(String::new(), |date| format!(", {date}"));
    html! {
        section aria-labelledby="repair-heading" {
            h2 #repair-heading { "Before and after" }
            p { "Compared with the sheet \u{201c}" (title(before)) "\u{201d}" (date) "." }
            @for note in &compared.notes { p { strong { (note) "." } } }
            (areas(compared, units))
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
        }
        div.pair {
            section.figures aria-labelledby="sizes-heading" {
                h2 #sizes-heading { "How large before and after" }
                figure { (PreEscaped(figures::before_and_after(&compared.pairs, units))) }
            }
            (beside)
        }
    }
}

fn areas(compared: &SheetsComparison, units: &Units) -> Markup {
    html! {
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
                            td { (units.size(&c.before, c.known.0)) }
                            td { (units.size(&c.after, c.known.1)) }
                            td { (verdict_in_words(pair.verdicts.0)) " before, " (verdict_in_words(pair.verdicts.1)) " after" }
                        }
                    }
                }
            }
        }

    }
}
