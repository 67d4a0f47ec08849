//! The numbers of each run, side by side.

use casetight_bench::assess::{FittedRun, Outcome};
use casetight_bench::session::SessionRun;
use casetight_bench::sheet::Sheet;
use maud::{Markup, html};

use crate::words::{
    NOT_FOLLOWED, area_in_words, area_interval, held, interval, limit_in_words, number,
    shares_in_words, shown,
};

const MILLIMETERS: f64 = 1e3;
/// 1 m3/s in cm3/min.
const CUBIC_CENTIMETERS_A_MINUTE: f64 = 60e6;

pub(super) fn leak_in_words(run: &SessionRun) -> String {
    match &run.assessment.outcome {
        Outcome::Fitted(fitted) => area_interval(&fitted.fit.area),
        Outcome::Stalled { bound, .. } => {
            format!("at least {}", area_in_words(bound.area.square_meters()))
        }
        _ => String::new(),
    }
}

/// A row of the table: its head, and what a run with readings says to it.
type Row = (&'static str, fn(&Sheet, &SessionRun, &FittedRun) -> String);

const ROWS: [Row; 6] = [
    ("Hole, if round", hole),
    ("Flow at the start", flow),
    ("Limit", limits),
    ("Start pressure", |sheet, _, fitted| {
        shown(fitted.fit.judged_from(), sheet)
    }),
    ("Readings", readings),
    ("The interval comes from", |_, _, fitted| {
        shares_in_words(&fitted.fit).unwrap_or("the readings, which show no fall".to_owned())
    }),
];

fn hole(_: &Sheet, run: &SessionRun, fitted: &FittedRun) -> String {
    format!(
        "{} at Cd {}",
        interval(&fitted.diameter, MILLIMETERS, "mm"),
        run.assessment.assumptions.discharge_coefficient
    )
}

fn flow(_: &Sheet, run: &SessionRun, fitted: &FittedRun) -> String {
    format!(
        "{} at {}",
        interval(&fitted.flow, CUBIC_CENTIMETERS_A_MINUTE, "cm3/min"),
        run.assessment.assumptions.flow_reference
    )
}

fn limits(sheet: &Sheet, _: &SessionRun, fitted: &FittedRun) -> String {
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
}

fn readings(_: &Sheet, _: &SessionRun, fitted: &FittedRun) -> String {
    held(&fitted.fit).map_or(NOT_FOLLOWED.to_owned(), |(readings, seconds)| {
        let off = number(fitted.fit.residual_rms_pa);
        format!("{readings} over {seconds} s; they lie {off} Pa (root mean square) about the fit")
    })
}

pub(super) fn numbers(sheet: &Sheet, runs: &[SessionRun]) -> Markup {
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
                        @for (name, say) in ROWS {
                            tr {
                                th scope="row" { (name) }
                                @for run in runs {
                                    td {
                                        @match &run.assessment.outcome {
                                            Outcome::Fitted(fitted) => (say(sheet, run, fitted)),
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
