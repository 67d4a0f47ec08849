//! `casetight running`.

use std::fmt::Write;
use std::path::Path;

use casetight::assess::Outcome;
use casetight::gas::{Gas, GasState};
use casetight::leak::{EffectiveArea, LeakError, LeakLaw, Orifice};
use casetight::quantity::{Angle, TradeUnits};
use casetight::running::document::{LoadDocument, RunningDocument};
use casetight::running::{ASSUMPTIONS, Conditions, Estimate, LeakRange, LeanShift};
use casetight::session::{Session, SessionRun};
use casetight::sheet::Sheet;
use casetight::vessel::Direction;
use uom::si::angle::degree;

use crate::assess::area_in_words;
use crate::chart::{Axis, Figure, Panel, Tone};
use crate::words::{HEADING, WARNING, number, title, wrapped};
use crate::{ALL_HOLD, Answer, CommandError, files};

/// Kilograms in milligrams.
const MILLIGRAMS: f64 = 1e6;

/// The word that stands beside every number of this command.
const ESTIMATE: &str = "estimate";

/// Writing to a string can't fail; its `Result` is dropped here once.
macro_rules! say {
    ($out:expr, $($word:tt)*) => {
        let _ = writeln!($out, $($word)*);
    };
}

/// A leak as a run measured it.
struct Measured {
    run: String,
    direction: Direction,
    area: Estimate,
}

/// The three sizes of a leak as orifices.
struct Orifices {
    value: Orifice,
    low: Orifice,
    high: Option<Orifice>,
}

impl Orifices {
    fn new(area: Estimate) -> Result<Self, LeakError> {
        let orifice = |area| EffectiveArea::from_square_meters(area).map(Orifice::new);
        Ok(Self {
            value: orifice(area.value)?,
            low: orifice(area.low)?,
            high: area.high.map(orifice).transpose()?,
        })
    }

    fn range(&self) -> LeakRange<'_> {
        LeakRange {
            law: &self.value,
            low: &self.low,
            high: self.high.as_ref().map(|law| law as &dyn LeakLaw),
        }
    }
}

/// What the command found.
struct Found {
    inward: Measured,
    outward: Measured,
    loads: [(&'static str, LeanShift); 2],
}

pub(crate) fn run(path: &Path, json: bool, plot_to: Option<&Path>) -> Result<Answer, CommandError> {
    let sheet = files::read_sheet(path)?;
    let file = || path.display().to_string();
    let session = Session::assess(&sheet).map_err(|source| CommandError::Session {
        file: file(),
        source,
    })?;
    let dimensions = sheet
        .space
        .dimensions()
        .ok_or_else(|| CommandError::NoEngine { file: file() })?;
    let engine = dimensions.engine()?;
    let (inward, outward) =
        leaks(&session.runs).ok_or_else(|| CommandError::NoLeak { file: file() })?;
    let (air_in, mixture_out) = (Orifices::new(inward.area)?, Orifices::new(outward.area)?);
    let surroundings = GasState {
        pressure: sheet.ambient.pressure.value(),
        temperature: sheet.ambient.temperature.value(),
    };
    let lean = |load| {
        LeanShift::new(
            &engine,
            &sheet.running,
            load,
            (&air_in.range(), &mixture_out.range()),
            (surroundings, &Gas::dry_air()),
        )
        .map_err(|source| CommandError::Running {
            file: file(),
            source,
        })
    };
    let found = Found {
        loads: [
            ("idle", lean(&sheet.running.idle)?),
            ("full throttle", lean(&sheet.running.full)?),
        ],
        inward,
        outward,
    };
    if let Some(plot) = plot_to {
        files::write_whole(
            plot,
            &figure(title(&sheet), &sheet.running, &found).to_svg(),
        )?;
    }
    let text = if json {
        let mut text = serde_json::to_string_pretty(&document(&found))?;
        text.push('\n');
        text
    } else {
        say(&sheet, &found)
    };
    Ok(Answer {
        text,
        exit: ALL_HOLD,
    })
}

/// The leaks for air that goes in, from the vacuum test, and for mixture that goes out, from the pressure test; where only
/// one direction was tested, it stands for both. Of several runs the largest leak counts.
fn leaks(runs: &[SessionRun]) -> Option<(Measured, Measured)> {
    let largest = |wanted: Option<Direction>| {
        runs.iter()
            .map(leak)
            .filter(|leak| wanted.is_none_or(|direction| leak.direction == direction))
            .max_by(|a, b| a.area.value.total_cmp(&b.area.value))
    };
    let either = |wanted| largest(Some(wanted)).or_else(|| largest(None));
    Some((either(Direction::Vacuum)?, either(Direction::Pressure)?))
}

fn leak(run: &SessionRun) -> Measured {
    let area = match &run.assessment.outcome {
        Outcome::Fitted(fitted) => Estimate {
            value: fitted.fit.area.value,
            low: fitted.fit.area.low,
            high: Some(fitted.fit.area.high).filter(|high| high.is_finite()),
        },
        Outcome::Stalled { bound, .. } => at_least(bound.area.square_meters()),
        _ => at_least(0.0),
    };
    Measured {
        run: run.name.clone(),
        direction: run.assessment.direction,
        area,
    }
}

fn at_least(area: f64) -> Estimate {
    Estimate {
        value: area,
        low: area,
        high: None,
    }
}

fn document(found: &Found) -> RunningDocument {
    let leak = |leak: &Measured| (leak.area, leak.run.clone());
    RunningDocument::new(
        leak(&found.inward),
        leak(&found.outward),
        found
            .loads
            .iter()
            .map(|(name, lean)| LoadDocument::new(name, lean))
            .collect(),
    )
}

fn say(sheet: &Sheet, found: &Found) -> String {
    let mut out = String::new();
    say!(
        out,
        "{HEADING}{}{HEADING:#}: what the leak does to the running engine",
        title(sheet)
    );
    out.push('\n');
    say!(
        out,
        "{WARNING}Estimate{WARNING:#}: computed from the leak that was measured and the case pressure that the engine"
    );
    say!(
        out,
        "should have when running. Nothing here was measured on the running engine."
    );
    out.push('\n');
    for (lead, leak, wanted) in [
        ("  Air in          ", &found.inward, Direction::Vacuum),
        ("  Mixture out     ", &found.outward, Direction::Pressure),
    ] {
        let stand_in = if leak.direction == wanted {
            String::new()
        } else {
            format!("; the sheet has no {wanted} run, which would tell more")
        };
        out.push_str(&wrapped(
            lead,
            &format!(
                "leak of {} by the {} run \"{}\"{stand_in}",
                range(leak.area, &area_in_words),
                leak.direction,
                leak.run
            ),
        ));
    }
    for (name, lean) in &found.loads {
        say_load(&mut out, name, lean);
    }
    say!(out, "\n{HEADING}Taken for granted{HEADING:#}");
    for assumption in ASSUMPTIONS {
        out.push_str(&wrapped("  - ", assumption));
    }
    out
}

/// "2.1 (1.8 to 2.6)" with a unit, or "at least 2.1".
fn range(estimate: Estimate, words: &dyn Fn(f64) -> String) -> String {
    match estimate.high {
        None => format!("at least {}", words(estimate.low)),
        Some(high) if estimate.low > 0.0 => format!(
            "{} ({} to {})",
            words(estimate.value),
            words(estimate.low),
            words(high)
        ),
        Some(high) => format!("at most {}", words(high)),
    }
}

fn say_load(out: &mut String, name: &str, lean: &LeanShift) {
    let kilopascals = |pascals: f64| number(pascals / 1e3);
    let milligrams = |kg: f64| format!("{} mg", number(kg * MILLIGRAMS));
    let percent = |part: f64| format!("{} %", number(100.0 * part));
    let (low, high) = lean.pressure.extremes();
    let rpm = lean.load.speed.value_in("rpm").unwrap_or(f64::NAN);
    say!(
        out,
        "\n{HEADING}{name}{HEADING:#}: {} rpm, delivery ratio {}",
        rpm.round(),
        number(lean.load.delivery_ratio.value().value)
    );
    out.push_str(&wrapped(
        "  Leaner by       ",
        &format!("{} ({ESTIMATE})", range(lean.shift, &percent)),
    ));
    out.push_str(&wrapped(
        "  Air in a turn   ",
        &format!(
            "{} beside {} by the carburetor ({ESTIMATE})",
            range(lean.leaked_in_kg, &milligrams),
            milligrams(lean.delivered_kg)
        ),
    ));
    out.push_str(&wrapped(
        "  Out in a turn   ",
        &format!(
            "{} of mixture ({ESTIMATE})",
            range(lean.leaked_out_kg, &milligrams)
        ),
    ));
    out.push_str(&wrapped(
        "  Case pressure   ",
        &format!(
            "from {} to {} kPa gauge over a turn ({ESTIMATE})",
            kilopascals(low.pascals()),
            kilopascals(high.pascals())
        ),
    ));
    let mut shares: Vec<_> = lean
        .shares
        .iter()
        .filter_map(|share| Some((share.from, share.up?.max(share.down).powi(2))))
        .collect();
    let whole: f64 = shares.iter().map(|(_, square)| square).sum();
    shares.retain(|(_, square)| *square >= 0.005 * whole && whole > 0.0);
    shares.sort_by(|a, b| b.1.total_cmp(&a.1));
    if !shares.is_empty() && lean.shift.high.is_some() {
        let listed: Vec<String> = shares
            .iter()
            .map(|(from, square)| format!("{from} {:.0} %", 100.0 * square / whole))
            .collect();
        out.push_str(&wrapped(
            "  From            ",
            &format!("the range comes from {}", listed.join(", ")),
        ));
    }
}

/// Pressure over crank angle.
fn figure(title: &str, conditions: &Conditions, found: &Found) -> Figure {
    let ports = &conditions.ports;
    let degrees = |angle: Angle| angle.get::<degree>();
    let (intake_closes, intake_opens) = (
        degrees(ports.intake_closes.value()),
        360.0 - degrees(ports.intake_opens.value()),
    );
    let (exhaust, transfer) = (
        degrees(ports.exhaust_opens.value()),
        degrees(ports.transfer_opens.value()),
    );
    let mut panel = Panel::new(
        "Pressure in the crankcase over a turn (estimate)",
        Axis::new("Crank angle after top dead center", "deg").range(0.0, 360.0),
        Axis::new("Gauge pressure", "kPa"),
    )
    .height(260.0)
    .level(0.0, "ambient");
    let tones = [Tone::First, Tone::Second];
    for ((name, lean), tone) in found.loads.iter().zip(tones) {
        let pressure = lean.pressure;
        panel = panel.line(
            *name,
            tone,
            (0..=720_u16).map(|half| {
                let after_top = Angle::new::<degree>(f64::from(half) / 2.0);
                (
                    degrees(after_top),
                    pressure.gauge_at(after_top).pascals() / 1e3,
                )
            }),
        );
    }
    for (angle, label) in [
        (intake_closes, "intake closes"),
        (exhaust, "exhaust opens"),
        (transfer, "transfers open"),
        (360.0 - transfer, "transfers close"),
        (intake_opens, "intake opens"),
    ] {
        panel = panel.upright(angle, label);
    }
    let described: Vec<String> = found
        .loads
        .iter()
        .map(|(name, lean)| {
            let (low, high) = lean.pressure.extremes();
            format!(
                "At {name} the pressure in the case goes from {:.1} to {:.1} kPa gauge.",
                low.pascals() / 1e3,
                high.pascals() / 1e3
            )
        })
        .collect();
    Figure::new("running", title, described.join(" "))
        .caption(
            "An estimate: computed, not measured. Below ambient a leak draws in air that the carburetor gives no fuel for; \
             above, it lets mixture out.",
        )
        .panel(panel)
}
