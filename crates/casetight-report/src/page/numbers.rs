//! The numbers of each run, side by side.

use casetight_bench::assess::{Assumptions, FittedRun, Outcome};
use casetight_bench::session::SessionRun;
use maud::{Markup, html};

use crate::units::{self, Units};
use crate::words::{NOT_FOLLOWED, contradicted, shares_in_words, time};

fn leak_in_words(run: &SessionRun, units: &Units) -> String {
    match &run.assessment.outcome {
        Outcome::Fitted(fitted) => {
            let area = units.area(&fitted.fit.area);
            format!("{}{area}", contradicted(&run.assessment))
        }
        Outcome::Stalled { bound, .. } => {
            format!("at least {}", units.area_alone(bound.area.square_meters()))
        }
        _ => String::new(),
    }
}

/// A row of the table: its head, and what a run with readings says to it.
type Row = (&'static str, fn(&SessionRun, &FittedRun, &Units) -> String);

const ROWS: [Row; 6] = [
    ("Area at the limit", |_, fitted, units| {
        at_limits(fitted, units)
    }),
    ("Hole, if round", |run, fitted, _| {
        format!(
            "{} at Cd {}",
            units::diameter(&fitted.diameter),
            run.assessment.assumptions.discharge_coefficient
        )
    }),
    ("Flow at the start", |_, fitted, _| {
        units::flow(&fitted.flow)
    }),
    ("Start pressure", |_, fitted, units| {
        units.pressure(fitted.fit.judged_from().pascals())
    }),
    ("Readings", |_, fitted, units| readings(fitted, units)),
    ("The interval comes from", |_, fitted, _| {
        shares_in_words(&fitted.fit).unwrap_or("the readings, which show no fall".to_owned())
    }),
];

fn at_limits(fitted: &FittedRun, units: &Units) -> String {
    let limits = fitted.decisions.iter();
    let limits: Vec<String> = limits
        .map(|d| units.area_alone(d.allowed.area_m2))
        .collect();
    if limits.is_empty() {
        "no limit stated".to_owned()
    } else {
        limits.join("; ")
    }
}

fn readings(fitted: &FittedRun, units: &Units) -> String {
    let readings = &fitted.fit.residuals;
    let (Some(first), Some(last)) = (readings.first(), readings.last()) else {
        return NOT_FOLLOWED.to_owned();
    };
    format!(
        "{} over {}, {} (root mean square) about the fit",
        readings.len(),
        time(last.time_s - first.time_s),
        units.pressure.shown(fitted.fit.residual_rms_pa, 2)
    )
}

pub(super) fn numbers(runs: &[SessionRun], units: &Units) -> Markup {
    let stated = runs.first().map(|run| run.assessment.assumptions);
    let Assumptions {
        level,
        flow_reference,
        ..
    } = stated.unwrap_or_default();
    html! {
        section aria-labelledby="numbers-heading" {
            h2 #numbers-heading { "Numbers" }
            div.scroll role="group" tabindex="0" aria-label="Numbers, a column for each run" {
                table {
                    caption {
                        "In brackets the interval that holds the truth in " (100.0 * level) " % of such tests. An ideal orifice of the effective \
                         area passes the same flow. Flows are counted at " (units.reference(&flow_reference)) "."
                    }
                    thead {
                        tr {
                            th scope="col" { "Run" }
                            @for run in runs { th scope="col" { (run.name) } }
                        }
                    }
                    tbody {
                        tr {
                            th scope="row" { "Effective area (CdA)" }
                            @for run in runs { td { strong { (leak_in_words(run, units)) } } }
                        }
                        @for (name, say) in ROWS {
                            tr {
                                th scope="row" { (name) }
                                @for run in runs {
                                    td {
                                        @match &run.assessment.outcome {
                                            Outcome::Fitted(fitted) => (say(run, fitted, units)),
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
