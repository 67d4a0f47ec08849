//! A handout for a class: what holes of known size do to the needle in a sheet's volume, beside the sheet's own run.

use casetight::leak::EffectiveArea;
use casetight::limit::Decision;
use casetight::quantity::{GaugePressure, Length, Time};
use casetight::vessel::IsothermalDecay;
use casetight_bench::assess::{FittedRun, Outcome};
use casetight_bench::printable;
use casetight_bench::session::{Session, SessionError, SessionRun};
use casetight_bench::sheet::Sheet;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use uom::si::length::millimeter;
use uom::si::pressure::pascal;
use uom::si::time::second;
use uom::si::volume::cubic_centimeter;

use crate::chart::{Axis, Figure, Panel, Tone};
use crate::fall::{decay, deciding, own_time_s};
use crate::page::{STYLE, cautions};
use crate::units::Units;
use crate::words::{as_read, contradicted, time, title};

/// Diameters of the holes \[mm\]. Source: common practice, no publication.
const HOLES_MM: [f64; 6] = [0.05, 0.1, 0.2, 0.3, 0.5, 1.0];
/// Places along a curve.
const PLACES: u32 = 160;
/// Height of the drawing, in the chart's units.
const HEIGHT: f64 = 200.0;
/// The part of the start pressure that is lost when half of it is.
const HALF: f64 = 0.5;
/// Who lost more than this part of it lies at zero, for the eye.
const NEARLY_ALL: f64 = 0.93;

/// What keeps a sheet from becoming a handout.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum HandoutError {
    /// A run, or part of the sheet, that can't be assessed.
    #[error(transparent)]
    Session(#[from] SessionError),
    /// No run of the engine has readings that a curve can be followed through.
    #[error(
        "the sheet has no run of the engine with readings: a handout draws one beside the holes; add a [[run]] with readings or file"
    )]
    NoReadings,
}

/// A handout for a class on one sheet of paper: a ladder of round holes in the sheet's volume, the needle's fall by each from where the
/// sheet's first run with readings started, that run as dots, the limit, and the cautions. All but the dots is computed, and says so.
///
/// The same sheet gives the same page, byte for byte. The holes are those of the sheet's discharge coefficient, on a gas that keeps the
/// case's temperature ([`IsothermalDecay`]).
///
/// ```
/// use casetight_bench::sheet::{NoTraces, Sheet};
///
/// let text = r#"
/// format = 1
/// [volume]
/// value = "250 cm3"
/// uncertainty = "10 cm3"
/// [ambient]
/// pressure = "1013 hPa"
/// temperature = "20 C"
/// [gauge]
/// unit = "kPa"
/// resolution = "0.1 kPa"
/// [[run]]
/// name = "pressure"
/// readings = [[0, 48.0], [10, 42.8], [20, 37.7], [30, 32.8]]
/// "#;
/// let sheet = Sheet::parse(text, "sheet.toml", &NoTraces)?;
/// let page = casetight_report::handout(&sheet)?;
/// assert!(page.contains("hole of 0.1 mm") && page.contains("Computed"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// [`HandoutError`] says what the sheet lacks.
pub fn handout(sheet: &Sheet) -> Result<String, HandoutError> {
    let session = Session::assess(sheet)?;
    let of_engine = session.runs.iter().filter(|run| !run.rig_alone);
    let mut fitted = of_engine.filter_map(|run| match &run.assessment.outcome {
        Outcome::Fitted(fitted) => Some((run, &**fitted)),
        _ => None,
    });
    let found = fitted.find_map(|(run, fitted)| Ladder::of(run, fitted));
    let ladder = found.ok_or(HandoutError::NoReadings)?;
    let units = Units::of(sheet, &session, None);
    let mut page = page(sheet, &ladder, &units).into_string();
    page.push('\n');
    Ok(printable::lines(&page).into_owned())
}

/// The holes beside a run.
struct Ladder<'a> {
    run: &'a SessionRun,
    fitted: &'a FittedRun,
    decision: Option<&'a Decision>,
    start: GaugePressure,
    /// The limit's own time, else that of the run \[s\].
    seconds: f64,
    steps: Vec<Step>,
}

/// A leak of known size, and what it does.
struct Step {
    name: String,
    area_m2: f64,
    decay: IsothermalDecay,
}

impl Step {
    /// "0.1 mm".
    fn size(&self) -> &str {
        self.name.trim_start_matches("hole of ")
    }
}

impl<'a> Ladder<'a> {
    fn of(run: &'a SessionRun, fitted: &'a FittedRun) -> Option<Self> {
        let fit = &fitted.fit;
        let (first, last) = (fit.residuals.first()?, fit.residuals.last()?);
        let start = fit.judged_from();
        let decision = deciding(&run.assessment, &fitted.decisions);
        let cd = run.assessment.assumptions.discharge_coefficient;
        let steps = HOLES_MM.into_iter().map(|hole_mm| {
            let area = EffectiveArea::of_hole(Length::new::<millimeter>(hole_mm), cd).ok()?;
            let bench = &run.bench;
            let decay = IsothermalDecay::new(
                area,
                bench.volume.value(),
                start,
                bench.ambient(),
                &bench.gas,
            );
            Some(Step {
                name: format!("hole of {hole_mm} mm"),
                area_m2: area.square_meters(),
                decay: decay.ok()?,
            })
        });
        let limit = decision.map(|d| &d.allowed.limit);
        Some(Self {
            run,
            fitted,
            decision,
            start,
            seconds: limit
                .and_then(own_time_s)
                .unwrap_or(last.time_s - first.time_s),
            steps: steps.collect::<Option<_>>()?,
        })
    }

    /// A leak just at the limit.
    fn at_limit(&self) -> Option<Step> {
        let allowed = &self.decision?.allowed;
        Some(Step {
            name: "at the limit".to_owned(),
            area_m2: allowed.area_m2,
            decay: decay(allowed.rate, self.start.pascals(), &self.run.bench)?,
        })
    }

    /// What the needle loses by a leak in the limit's time \[Pa\].
    fn fall_pa(&self, step: &Step) -> f64 {
        let left = step.decay.gauge_at(Time::new::<second>(self.seconds));
        (self.start.pascals() - left.pascals()) * self.fitted.fit.direction.sign()
    }

    fn half(&self, step: &Step) -> String {
        let half = GaugePressure::from_pascals(HALF * self.start.pascals());
        let seconds = half.ok().and_then(|half| step.decay.time_to(half));
        match seconds.map(|t| t.get::<second>()) {
            Some(seconds) if seconds < 1.0 => "under 1 s".to_owned(),
            Some(seconds) => time(seconds),
            None => "never".to_owned(),
        }
    }

    /// The readings within the limit's time: seconds from the first, and gauge pressure \[Pa\].
    fn readings(&self) -> impl Iterator<Item = (f64, f64)> {
        let readings = &self.fitted.fit.residuals;
        let from = readings.first().map_or(0.0, |first| first.time_s);
        let each = readings
            .iter()
            .map(move |r| (r.time_s - from, r.reading_pa));
        each.take_while(|(time_s, _)| *time_s <= self.seconds)
    }
}

fn page(sheet: &Sheet, ladder: &Ladder<'_>, units: &Units) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (title(sheet)) ", class handout" }
                style { (PreEscaped(STYLE)) }
            }
            body.handout {
                header {
                    div.card {
                        div.name {
                            p.kind {
                                span { "Crankcase leak test, class handout. Computed; only the readings were measured" }
                                @if let Some(shop) = &sheet.job.shop { span { (shop) } }
                            }
                            h1 { "What a hole does to the needle" }
                            p { (circumstances(sheet, ladder, units)) }
                        }
                    }
                }
                main {
                    section.figures aria-labelledby="curves-heading" {
                        h2 #curves-heading { "The needle over time" }
                        figure { (PreEscaped(figure(ladder, units))) }
                    }
                    (table(ladder, units))
                    (cautions())
                }
                footer {
                    p {
                        "Computed by casetight " (env!("CARGO_PKG_VERSION")) " from the bench sheet, not measured: round holes with a discharge \
                         coefficient of " (ladder.run.assessment.assumptions.discharge_coefficient)
                        ", in gas that keeps the case's temperature. A hole that empties the case within seconds cools the gas, and \
                         the needle then falls somewhat faster. A real leak is seldom round."
                    }
                }
            }
        }
    }
}

fn circumstances(sheet: &Sheet, ladder: &Ladder<'_>, units: &Units) -> String {
    let volume = ladder.run.bench.volume.value().get::<cubic_centimeter>();
    let gauge = ladder.run.bench.gauge;
    let limit = ladder.decision.map(|decision| {
        let limit = units.limit(&decision.allowed.limit);
        format!(" The limit: {limit}.")
    });
    format!(
        "{}, run {}: a volume of {volume:.0} cm3 under {}, from {}, on a gauge that is read in steps of {}.{}",
        title(sheet),
        ladder.run.name,
        ladder.fitted.fit.direction,
        units.pressure(ladder.start.pascals()),
        units.pressure(gauge.step().get::<pascal>()),
        limit.unwrap_or_default()
    )
}

fn figure(ladder: &Ladder<'_>, units: &Units) -> String {
    let shown = |pascals: f64| units.pressure.from_si(pascals);
    let course = |step: &Step| -> Vec<(f64, f64)> {
        let times = (0..=PLACES).map(|i| ladder.seconds * f64::from(i) / f64::from(PLACES));
        let at = |t: f64| step.decay.gauge_at(Time::new::<second>(t)).pascals();
        times.map(|t| (t, shown(at(t)))).collect()
    };
    let mut panel = Panel::new(
        "",
        Axis::new("Time", "s").range(0.0, ladder.seconds),
        Axis::new("Gauge pressure", units.pressure.symbol()).include(0.0),
    )
    .height(HEIGHT);
    // Curves that end at zero can't be named there one by one.
    let (ended, above): (Vec<&Step>, Vec<&Step>) = ladder
        .steps
        .iter()
        .partition(|step| ladder.fall_pa(step) > NEARLY_ALL * ladder.start.pascals().abs());
    for step in above {
        panel = panel.curve(step.size(), Tone::First, course(step));
    }
    for (place, step) in ended.iter().enumerate() {
        let name = if ended.len() > 1 {
            "larger"
        } else {
            step.size()
        };
        panel = match place {
            0 => panel.curve(name, Tone::First, course(step)),
            _ => panel.line("", Tone::First, course(step)),
        };
    }
    if let Some(limit) = ladder.at_limit() {
        panel = panel.line("a leak at the limit", Tone::Second, course(&limit));
    }
    let readings = ladder.readings().map(|(t, pa)| (t, shown(pa)).into());
    let panel = panel.points(
        format!("readings of run {}", ladder.run.name),
        Tone::Ink,
        readings,
    );
    let falls = ladder.steps.iter().map(|step| {
        format!(
            "{} takes {}",
            step.name,
            units.pressure(ladder.fall_pa(step))
        )
    });
    let falls: Vec<String> = falls.collect();
    let description = format!(
        "The needle's fall from {} by round holes, in {}: {}.",
        units.pressure(ladder.start.pascals()),
        time(ladder.seconds),
        falls.join(", ")
    );
    Figure::new("holes", "The needle by holes of known size", description)
        .in_page()
        .panel(panel)
        .to_svg()
}

fn table(ladder: &Ladder<'_>, units: &Units) -> Markup {
    let limit = ladder.at_limit();
    let mut steps: Vec<&Step> = ladder.steps.iter().chain(&limit).collect();
    steps.sort_by(|a, b| a.area_m2.total_cmp(&b.area_m2));
    html! {
        section aria-labelledby="holes-heading" {
            h2 #holes-heading { "Hole by hole" }
            div.scroll role="group" tabindex="0" aria-label="What each hole does" {
                table.even {
                    thead {
                        tr {
                            th scope="col" { "Leak" }
                            th scope="col" { "Effective area" }
                            th scope="col" { "Fall in " (time(ladder.seconds)) }
                            th scope="col" { "Time to lose half" }
                        }
                    }
                    tbody {
                        @for step in steps {
                            tr {
                                th scope="row" { (step.name) }
                                td { (units.area_alone(step.area_m2)) }
                                td { (units.pressure(ladder.fall_pa(step))) }
                                td { (ladder.half(step)) }
                            }
                        }
                        (measured(ladder, units))
                    }
                }
            }
        }
    }
}

/// The row of the sheet's own run.
fn measured(ladder: &Ladder<'_>, units: &Units) -> Markup {
    let lost = ladder.readings().last().map(|(seconds, pascals)| {
        let first = ladder.readings().next().map_or(pascals, |(_, first)| first);
        let lost = (first - pascals) * ladder.fitted.fit.direction.sign();
        let lost = as_read(lost, units.pressure, ladder.run.bench.gauge.step());
        format!("{lost} in {}", time(seconds))
    });
    html! {
        tr {
            th scope="row" { strong { "measured: run " (ladder.run.name) } }
            td { strong { (contradicted(&ladder.run.assessment)) (units.area(&ladder.fitted.fit.area)) } }
            td { strong { (lost.unwrap_or_default()) } }
            td { "\u{2013}" }
        }
    }
}
