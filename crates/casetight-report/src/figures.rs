//! The drawings of a report.

use casetight::estimate::Estimate;
use casetight::fit::Fit;
use casetight::leak::EffectiveArea;
use casetight::quantity::{Area, GaugePressure, Length, Time, Unit};
use casetight::readings::Bench;
use casetight::vessel::{Direction, IsothermalDecay};
use casetight_bench::assess::{FittedRun, Outcome};
use casetight_bench::compare::{Known, Pair};
use casetight_bench::isolate::{Isolation, SiteName};
use casetight_bench::session::{Session, SessionRun};
use uom::si::length::millimeter;
use uom::si::time::second;

use crate::chart::{Axis, Bar, Figure, Panel, Scale, Tone};
use crate::fall::{decay, deciding, rig_rate};
use crate::plot;
use crate::units::{self, Units};
use crate::words::time;

/// Diameters of the holes that a leak is shown among \[mm\].
const HOLES_MM: [f64; 7] = [0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0];
const MILLIMETERS: f64 = 1e3;
/// Height of a run's panel, in the chart's units.
const HEIGHT: f64 = 95.0;
/// So many times as large as the largest leak, and as small as the smallest, is the range of holes that tells a size.
const AMONG: f64 = 5.0;
/// The part of its start pressure that a needle falls by on the ladder of leak sizes.
const FALL: f64 = 1.0 / 7.0;

/// Air above and below what is drawn, as a part of its span.
const AIR: f64 = 0.06;

/// Readings, fit and band, and the course of a leak at the limit: a drawing for each run that has readings, a second and a step of pressure
/// as long in all of them, vacuum upside down.
pub(crate) fn readings(session: &Session, units: &Units) -> Vec<String> {
    let fitted: Vec<(&SessionRun, &FittedRun)> = session
        .runs
        .iter()
        .filter_map(|run| match &run.assessment.outcome {
            Outcome::Fitted(fitted) => Some((run, &**fitted)),
            _ => None,
        })
        .collect();
    let panels: Vec<Panel> = fitted
        .iter()
        .map(|(run, fitted)| readings_panel(run, fitted, units))
        .collect();
    let sizes: Vec<(f64, f64)> = fitted
        .iter()
        .zip(&panels)
        .map(|((_, fitted), panel)| {
            let sign = fitted.fit.direction.sign();
            let sizes = panel.values().map(|value| value * sign);
            sizes.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), size| {
                (low.min(size), high.max(size))
            })
        })
        .collect();
    let widest = sizes
        .iter()
        .map(|(low, high)| high - low)
        .fold(0.0, f64::max);
    let spans = fitted.iter().map(|(_, fitted)| span(&fitted.fit));
    let longest = spans.map(|(from, to)| to - from).fold(0.0, f64::max);
    let air = AIR * widest;
    (1..)
        .zip(fitted.iter().zip(sizes).zip(panels))
        .map(|(place, (((run, fitted), (_, high)), panel))| {
            let fit = &fitted.fit;
            let from = span(fit).0;
            let (low, high) = (high - widest - air, high + air);
            let up = match fit.direction {
                Direction::Pressure => (low, high),
                Direction::Vacuum => (-high, -low),
            };
            Figure::new(
                format!("readings-{place}"),
                format!("Run {}: readings and fit", run.name),
                plot::describe(&run.name, fit, units.pressure),
            )
            .in_page()
            .panel(panel.height(HEIGHT).spanning((from, from + longest), up))
            .to_svg()
        })
        .collect()
}

fn readings_panel(run: &SessionRun, fitted: &FittedRun, units: &Units) -> Panel {
    let fit = &fitted.fit;
    let panel = plot::readings_panel(&run.name, fit, units.pressure);
    let Some(decision) = deciding(&run.assessment, &fitted.decisions) else {
        return panel;
    };
    let start = fit.judged_from().pascals();
    let rate = decision.allowed.rate + rig_rate(fit, &run.bench);
    let Some(decay) = decay(rate, start, &run.bench) else {
        return panel;
    };
    let from = span(fit).0;
    let course = plot::places(fit).map(|time_s| {
        let gauge = decay.gauge_at(Time::new::<second>(time_s - from));
        (time_s, units.pressure.from_si(gauge.pascals()))
    });
    panel.line("limit", Tone::Second, course)
}

/// The first and the last moment of a run's readings \[s\].
fn span(fit: &Fit) -> (f64, f64) {
    match (fit.residuals.first(), fit.residuals.last()) {
        (Some(first), Some(last)) => (first.time_s, last.time_s),
        _ => (0.0, 0.0),
    }
}

/// The round hole of a run \[mm\].
struct Diameter {
    /// How long its bar is: the best value, or the end that is known.
    value: f64,
    ends: (f64, f64),
    words: String,
}

fn diameter(run: &SessionRun) -> Option<Diameter> {
    match &run.assessment.outcome {
        Outcome::Fitted(fitted) => {
            let d = fitted.diameter.si().scaled(MILLIMETERS);
            let words = units::diameter(&fitted.diameter);
            Some(Diameter {
                value: if d.low > 0.0 { d.value } else { d.high },
                ends: (d.low, d.high),
                words: short(&words),
            })
        }
        Outcome::Stalled { bound, .. } => {
            let cd = run.assessment.assumptions.discharge_coefficient;
            let least = bound.area.diameter(cd).ok()?.get::<millimeter>();
            Some(Diameter {
                value: least,
                ends: (least, f64::INFINITY),
                words: format!("at least {} mm", Unit::si("").shown(least, 2)),
            })
        }
        _ => None,
    }
}

/// A hole of known size, with the time that the needle needs from one pressure to another.
fn known_hole(
    hole_mm: f64,
    cd: f64,
    bench: &Bench,
    (start, to): (GaugePressure, GaugePressure),
) -> Option<Bar> {
    let area = EffectiveArea::of_hole(Length::new::<millimeter>(hole_mm), cd).ok()?;
    let decay = IsothermalDecay::new(
        area,
        bench.volume.value(),
        start,
        bench.ambient(),
        &bench.gas,
    )
    .ok()?;
    let seconds = decay.time_to(to)?.get::<second>();
    Some(Bar {
        name: format!("hole of {hole_mm} mm"),
        value: hole_mm,
        interval: None,
        note: if seconds < 1.0 {
            "under 1 s".to_owned()
        } else {
            time(seconds)
        },
    })
}

/// The leaks among holes of known size, each with the time that the needle would need to fall by a seventh; and what to
/// say below the drawing.
pub(crate) fn ladder(session: &Session, units: &Units) -> Option<(String, String)> {
    let first = session.runs.first()?;
    let cd = first.assessment.assumptions.discharge_coefficient;
    let start = match &first.assessment.outcome {
        Outcome::Fitted(fitted) => fitted.fit.judged_from(),
        Outcome::Stalled { stall, .. } => stall.reached(),
        _ => return None,
    };
    let to = GaugePressure::from_pascals(start.pascals() * (1.0 - FALL)).ok()?;
    let leaks: Vec<(&SessionRun, Diameter)> = session
        .runs
        .iter()
        .filter_map(|run| Some((run, diameter(run)?)))
        .collect();
    let smallest = leaks
        .iter()
        .map(|(_, d)| d.value)
        .fold(f64::INFINITY, f64::min);
    let largest = leaks.iter().map(|(_, d)| d.value).fold(0.0, f64::max);
    let mut rows: Vec<Bar> = HOLES_MM
        .into_iter()
        .filter(|hole| *hole > smallest / AMONG && *hole < largest * AMONG)
        .filter_map(|hole| known_hole(hole, cd, &first.bench, (start, to)))
        .collect();
    let mut sizes = Vec::new();
    for (run, Diameter { value, ends, words }) in leaks {
        sizes.push(format!("run {}: {words}", run.name));
        rows.push(Bar {
            name: format!("\u{25b6} {}", run.name),
            value,
            interval: Some(ends),
            note: words,
        });
    }
    rows.sort_by(|a, b| b.value.total_cmp(&a.value));
    let description = format!(
        "The leaks of this engine among round holes of known size. {}.",
        sizes.join("; ")
    );
    let caption = format!(
        "Rings are round holes of known size (discharge coefficient {cd}), each with the time in which the needle falls from {} to {} in the \
         volume of run {}; dots are the leaks of this engine.",
        units.pressure(start.pascals()),
        units.pressure(to.pascals()),
        first.name
    );
    let axis = Axis::new("Diameter of the hole", "mm").scale(Scale::Log);
    let figure = Figure::new("ladder", "The leak among holes of known size", description)
        .in_page()
        .panel(Panel::bars(
            "",
            axis,
            "this engine, with its interval",
            rows,
        ));
    Some((figure.to_svg(), caption))
}

/// Areas before and after, pair by pair.
pub(crate) fn before_and_after(pairs: &[Pair], units: &Units) -> String {
    let mut rows = Vec::new();
    for pair in pairs {
        let c = &pair.comparison;
        for (name, area, known) in [
            (format!("before, {}", pair.before), &c.before, c.known.0),
            (format!("after, {}", pair.after), &c.after, c.known.1),
        ] {
            rows.push(bar(name, area, known, units));
        }
    }
    let description: Vec<String> = rows
        .iter()
        .map(|row| format!("{}: {}.", row.name, row.note))
        .collect();
    let axis = Axis::new("Effective area", units.area.1).scale(Scale::Log);
    Figure::new(
        "before-after",
        "Areas before and after",
        description.join(" "),
    )
    .in_page()
    .panel(Panel::bars("", axis, "area, with its interval", rows))
    .to_svg()
}

/// A size without its interval, which the whisker shows.
fn short(words: &str) -> String {
    words.split(" (").next().unwrap_or_default().to_owned()
}

fn bar(name: String, of: &Estimate<Area>, known: Known, units: &Units) -> Bar {
    let area = of.si();
    let (value, high) = match known {
        Known::AtMost => (area.high, area.high),
        Known::AtLeast => (area.low, f64::INFINITY),
        _ => (area.value, area.high),
    };
    let factor = units.area.0;
    Bar {
        name,
        value: value * factor,
        interval: Some((area.low * factor, high * factor)),
        note: short(&units.size(of, known)),
    }
}

/// The area of each site, or of several that no run told apart.
pub(crate) fn sites<S: SiteName>(
    direction: Direction,
    isolation: &Isolation<S>,
    units: &Units,
) -> String {
    let (factor, unit) = units.area;
    let rows: Vec<Bar> = isolation
        .shares
        .iter()
        .map(|share| {
            let spots: Vec<String> = share.spots.iter().map(ToString::to_string).collect();
            let only_bubbles = share.only_bubbles();
            let area = share.area.si();
            let known = match (area.low > 0.0, area.high.is_finite()) {
                (true, true) if !only_bubbles => Known::Both,
                (_, false) => Known::AtLeast,
                _ => Known::AtMost,
            };
            // Bubbles say that a place leaks, and no size.
            let note = match (only_bubbles, known) {
                (true, Known::AtLeast) => "bubbles".to_owned(),
                (true, _) => format!("bubbles, {}", short(&units.size(&share.area, known))),
                _ => short(&units.size(&share.area, known)),
            };
            Bar {
                name: spots.join(" with "),
                value: factor
                    * match (only_bubbles, known) {
                        (true, Known::AtMost) => area.high,
                        _ => area.value,
                    },
                interval: Some((area.low * factor, area.high * factor)),
                note,
            }
        })
        .collect();
    let description: Vec<String> = rows
        .iter()
        .map(|row| format!("{}: {}.", row.name, row.note))
        .collect();
    Figure::new(
        format!("sites-{direction}"),
        format!("Areas site by site, {direction}"),
        description.join(" "),
    )
    .in_page()
    .panel(Panel::bars(
        "",
        Axis::new("Effective area", unit),
        "area, with its interval",
        rows,
    ))
    .to_svg()
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test may fail")]
mod tests {
    use casetight::quantity::{Area, TradeUnits};
    use casetight_bench::isolate::{Evidence, Measurement, Run, isolate};
    use uom::si::area::square_millimeter;

    use super::*;

    #[test]
    fn sites_have_a_bar_each_and_their_names_are_text() {
        let mm2 = Area::new::<square_millimeter>;
        let run = |exposed: &[&'static str], area: f64| {
            let measured = Measurement::new(mm2(area), mm2(0.03 * area)).unwrap();
            Run::new(exposed.iter().copied(), measured)
        };
        let evidence = Evidence {
            runs: vec![run(&["boot <b>", "plug"], 0.012), run(&["plug"], 0.002)],
            soap: vec![],
            shared_relative_uncertainty: 0.03,
        };
        let units = Units {
            pressure: GaugePressure::unit("psi").unwrap(),
            area: (1e6, "mm2"),
        };
        let svg = sites(
            Direction::Pressure,
            &isolate(&evidence, 0.95).unwrap(),
            &units,
        );
        let drawing = roxmltree::Document::parse(&svg).unwrap();
        let texts: String = drawing
            .descendants()
            .filter_map(|node| node.text())
            .collect();
        assert!(
            texts.contains("boot <b>") && texts.contains("0.0100 mm2"),
            "{texts}"
        );
        assert!(texts.contains("Areas site by site"));
    }
}
