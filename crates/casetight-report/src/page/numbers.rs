//! The numbers of each run, side by side.

use casetight::quantity::Unit;
use casetight_bench::assess::{FittedRun, Outcome};
use casetight_bench::session::SessionRun;
use maud::{Markup, html};

use crate::words::{
    NOT_FOLLOWED, area_in_words, area_interval, held, interval, limit_in_words, shares_in_words,
    shown,
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
type Row = (&'static str, fn(&SessionRun, &FittedRun) -> String);

/// The unit that a run's pressures are told in.
fn unit_of(run: &SessionRun) -> &'static Unit {
    run.assessment.assumptions.pressure_unit
}

const ROWS: [Row; 6] = [
    ("Hole, if round", hole),
    ("Flow at the start", flow),
    ("Limit", limits),
    ("Start pressure", |run, fitted| {
        shown(fitted.fit.judged_from(), unit_of(run))
    }),
    ("Readings", readings),
    ("The interval comes from", |_, fitted| {
        shares_in_words(&fitted.fit).unwrap_or("the readings, which show no fall".to_owned())
    }),
];

fn hole(run: &SessionRun, fitted: &FittedRun) -> String {
    format!(
        "{} at Cd {}",
        interval(&fitted.diameter, MILLIMETERS, "mm"),
        run.assessment.assumptions.discharge_coefficient
    )
}

fn flow(run: &SessionRun, fitted: &FittedRun) -> String {
    format!(
        "{} at {}",
        interval(&fitted.flow, CUBIC_CENTIMETERS_A_MINUTE, "cm3/min"),
        run.assessment.assumptions.flow_reference
    )
}

fn limits(run: &SessionRun, fitted: &FittedRun) -> String {
    let limits = fitted.decisions.iter().map(|d| {
        format!(
            "{}: at most {} here",
            limit_in_words(&d.allowed.limit, unit_of(run)),
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

fn readings(run: &SessionRun, fitted: &FittedRun) -> String {
    held(&fitted.fit).map_or(NOT_FOLLOWED.to_owned(), |(readings, seconds)| {
        let off = unit_of(run).shown(fitted.fit.residual_rms_pa, 3);
        format!("{readings} over {seconds} s; they lie {off} (root mean square) about the fit")
    })
}

pub(super) fn numbers(runs: &[SessionRun]) -> Markup {
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
