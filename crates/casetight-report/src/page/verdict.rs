//! The answer of each run, in words and by a mark, and what was measured beside the limit in the limit's own terms.

use casetight::limit::{Decision, Limit, Verdict};
use casetight_bench::assess::{FittedRun, Outcome};
use casetight_bench::session::SessionRun;
use maud::{Markup, PreEscaped, html};
use uom::si::area::square_meter;
use uom::si::pressure::pascal;
use uom::si::time::second;
use uom::si::volume_rate::cubic_meter_per_second;

use crate::fall::Fall;
use crate::units::{self, Units};
use crate::words::{as_read, contradicted, plain_answer, time};

/// A mark whose outline alone tells the verdict, in black and white and from across the bench.
struct Mark {
    class: &'static str,
    name: &'static str,
    /// Outline and sign, in a square of 24.
    drawn: &'static str,
}

const HOLDS: Mark = Mark {
    class: "stamp holds",
    name: "ring with a tick",
    drawn: r#"<circle cx="12" cy="12" r="10"/><path d="M7 12.5l3.5 3.5L17 8.5"/>"#,
};
const LEAKS: Mark = Mark {
    class: "stamp leaks",
    name: "triangle with a cross",
    drawn: r#"<path d="M12 2L23 22H1Z"/><path d="M9 12.5l6 6M15 12.5l-6 6"/>"#,
};
const UNDECIDED: Mark = Mark {
    class: "stamp",
    name: "square on its corner with a question mark",
    drawn: r#"<path d="M12 1L23 12L12 23L1 12Z"/><path d="M9.5 10a2.5 2.5 0 1 1 3.6 2.2q-1.1.6-1.1 1.8M12 17v.4"/>"#,
};
const STALLED: Mark = Mark {
    class: "stamp",
    name: "square with a bar",
    drawn: r#"<path d="M3 3H21V21H3Z"/><path d="M7 12H17"/>"#,
};
const NOT_JUDGED: Mark = Mark {
    class: "stamp plain",
    name: "flat box",
    drawn: r#"<path d="M2 8H22V16H2Z"/>"#,
};

fn mark(verdict: Option<Verdict>) -> Mark {
    match verdict {
        Some(Verdict::Holds) => HOLDS,
        Some(Verdict::Leaks) => LEAKS,
        Some(Verdict::Undecided) => UNDECIDED,
        Some(Verdict::Stalled) => STALLED,
        None => NOT_JUDGED,
    }
}

pub(super) fn verdicts(runs: &[SessionRun], units: &Units) -> Markup {
    html! {
        section aria-labelledby="verdict-heading" {
            h2 #verdict-heading { "Verdict" }
            div.stamps { @for run in runs { (stamp(run)) } }
            (beside_the_limits(runs, units))
        }
    }
}

fn stamp(run: &SessionRun) -> Markup {
    let Mark { class, name, drawn } = mark(run.assessment.verdict);
    let answer = plain_answer(run);
    let (verdict, rest) = answer.split_once(':').unwrap_or((&answer, ""));
    html! {
        div class=(class) {
            svg.mark role="img" viewBox="0 0 24 24" {
                title { "Mark: " (name) }
                (PreEscaped(drawn))
            }
            div {
                h3 { (run.name) }
                p { strong { (verdict) ":" } (rest) }
            }
        }
    }
}

/// What a limit is about, what was measured of that, and the limit.
struct Beside {
    what: String,
    measured: String,
    limit: String,
}

fn beside_the_limits(runs: &[SessionRun], units: &Units) -> Markup {
    let rows: Vec<(&str, Beside)> = runs
        .iter()
        .filter_map(|run| match &run.assessment.outcome {
            Outcome::Fitted(fitted) => Some((run, fitted)),
            _ => None,
        })
        .flat_map(|(run, fitted)| {
            let decisions = fitted.decisions.iter();
            decisions.map(move |d| (run.name.as_str(), beside(run, fitted, d, units)))
        })
        .collect();
    html! {
        @if !rows.is_empty() {
            div.scroll role="group" tabindex="0" aria-label="What was measured beside the limit" {
                table.even {
                    thead {
                        tr {
                            th scope="col" { "Run" }
                            th scope="col" { "What the limit is about" }
                            th scope="col" { "Measured" }
                            th scope="col" { "Limit" }
                        }
                    }
                    tbody {
                        @for (name, row) in &rows {
                            tr {
                                th scope="row" { (name) }
                                td { (row.what) }
                                td { strong { (row.measured) } }
                                td { (row.limit) }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn beside(run: &SessionRun, fitted: &FittedRun, decision: &Decision, units: &Units) -> Beside {
    let by_area = |what: String| Beside {
        what,
        measured: format!(
            "{}{}",
            contradicted(&run.assessment),
            units.area(&fitted.fit.area)
        ),
        limit: units.area_alone(decision.allowed.area_m2),
    };
    match decision.allowed.limit {
        Limit::Area(area) => Beside {
            limit: units.area_alone(area.get::<square_meter>()),
            ..by_area("effective area of the leak".to_owned())
        },
        Limit::Flow { flow, .. } => Beside {
            what: "flow at the start".to_owned(),
            measured: units::flow(&fitted.flow),
            limit: units::flow_alone(flow.get::<cubic_meter_per_second>()),
        },
        Limit::Drop {
            drop,
            over,
            at_volume: Some(volume),
            ..
        } => by_area(format!(
            "effective area; the limit follows from a fall of {} in {} at {}",
            units.pressure(drop.get::<pascal>()),
            time(over.get::<second>()),
            casetight::quantity::TradeUnits::trade(volume),
        )),
        _ => of_needle(run, fitted, decision, units)
            .unwrap_or_else(|| by_area("effective area of the leak".to_owned())),
    }
}

/// Of a limit on the needle's fall.
fn of_needle(
    run: &SessionRun,
    fitted: &FittedRun,
    decision: &Decision,
    units: &Units,
) -> Option<Beside> {
    let limit = &decision.allowed.limit;
    let fall = Fall::of(run, fitted, Some(limit))?;
    let seconds = fall.seconds();
    let own = match (fall.beside_limits_own(decision), limit) {
        (Some((drop, over)), _) if time(over) == time(seconds) => units.pressure(drop),
        (Some((drop, over)), _) => format!("{} in {}", units.pressure(drop), time(over)),
        (
            None,
            Limit::Drop {
                drop, from, over, ..
            },
        ) => format!(
            "{} from here; stated as {} from {} in {}",
            units.pressure(fall.at_limit_pa(decision)?),
            units.pressure(drop.get::<pascal>()),
            units.pressure(from.get::<pascal>()),
            time(over.get::<second>()),
        ),
        (None, Limit::Hold { time: held, .. }) => format!(
            "less than a step of {} in {}",
            units.pressure(run.bench.gauge.step().get::<pascal>()),
            time(held.get::<second>()),
        ),
        (None, _) => return None,
    };
    Some(Beside {
        what: format!("fall of the needle in {}", time(seconds)),
        measured: as_read(fall.lost_pa(), units.pressure, run.bench.gauge.step()),
        limit: own,
    })
}
