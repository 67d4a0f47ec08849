//! `casetight plan`.

use std::path::Path;

use casetight::caution;
use casetight::leak::EffectiveArea;
use casetight::quantity::{Time, TradeUnits};
use casetight::volume::TestedVolume;
use casetight_bench::plan::document::PlansDocument;
use casetight_bench::plan::{Detection, Disturbance, Expected, LimitOutlook, Plan};
use casetight_bench::pump::Pumped;
use casetight_bench::sheet::Sheet;
use casetight_report::words::{
    area_in_words, limit_in_words, number, shown, title, volume_in_words,
};

use crate::brief::{self, How, Manner};
use crate::files::Files;
use crate::words::{HEADING, WARNING, by_rule, say, wrapped};
use crate::{ALL_HOLD, Answer, CommandError, in_json};

pub(crate) fn run(files: &Files, path: &Path, manner: Manner) -> Result<Answer, CommandError> {
    let sheet = files.sheet(path)?;
    let of_sheet = |source| CommandError::OfSheet {
        file: path.display().to_string(),
        source,
    };
    let plans = sheet.plan().map_err(of_sheet)?;
    let text = match manner.how() {
        How::Json => in_json(&PlansDocument::new(&plans)?)?,
        How::Detail => {
            let volume = sheet.planned_volume().map_err(of_sheet)?;
            say(&sheet, &volume, &plans)?
        }
        How::Brief => brief::plan::say_plans(&sheet, &plans)?,
    };
    Ok(Answer {
        text,
        exit: ALL_HOLD,
    })
}

fn say(sheet: &Sheet, volume: &TestedVolume, plans: &[Plan]) -> Result<String, CommandError> {
    let mut out = String::new();
    say!(out, "{HEADING}{}{HEADING:#}: before the test", title(sheet));
    say!(out, "\n{WARNING}Before pumping{WARNING:#}");
    for caution in caution::BEFORE_PUMPING {
        out.push_str(&wrapped("  ", caution));
    }
    say!(out, "\n{HEADING}Volume under test{HEADING:#}");
    out.push_str(&wrapped("  ", &tested_in_words(sheet, volume)));
    if let Some(rig) = plans.first().and_then(|plan| plan.rig.as_ref()) {
        out.push_str(&wrapped(
            "  ",
            &format!(
                "The rig is {} % of it and makes the least leak that can be told {} times larger.",
                number(100.0 * rig.share),
                number(rig.costs)
            ),
        ));
    }
    for plan in plans {
        say_plan(&mut out, sheet, plan)?;
    }
    Ok(out)
}

fn tested_in_words(sheet: &Sheet, volume: &TestedVolume) -> String {
    let parts: Vec<String> = volume
        .parts()
        .iter()
        .map(|part| format!("{} {}", part.name, part.volume.value().trade()))
        .collect();
    let parts = if parts.len() > 1 {
        format!(": {}", parts.join(", "))
    } else {
        String::new()
    };
    format!(
        "{}, piston at {}{parts}.",
        volume_in_words(volume.volume()),
        sheet.planned_piston()
    )
}

fn say_plan(out: &mut String, sheet: &Sheet, plan: &Plan) -> Result<(), CommandError> {
    let hole = |area: EffectiveArea| in_hole(area, plan.intent.discharge_coefficient);
    say!(
        out,
        "\n{HEADING}{}{HEADING:#}: pump to {}, hold {}, read every {} ({} readings)",
        plan.direction,
        shown(plan.intent.target, sheet.gauge_unit),
        plan.intent.hold.trade(),
        plan.intent.every.trade(),
        plan.readings
    );
    let pumping = &plan.pumping;
    out.push_str(&wrapped(
        "  Pump    ",
        &format!(
            "{} +- {} strokes of {}, one each {}, if the case is tight. A needle that stalls halfway has a leak of {} before \
             it, one that stalls at the target {}",
            number(pumping.strokes),
            number(pumping.strokes_uncertainty),
            pumping.pump.stroke_volume().trade(),
            pumping.pump.every().trade(),
            hole(pumping.stalls_halfway)?,
            hole(pumping.stalls_at_target)?,
        ),
    ));
    let settling = &plan.settling;
    out.push_str(&wrapped(
        "  Wait    ",
        &format!(
            "{} after the last stroke in a usual case, {} in a slow one: pumping can leave the gas {} K off the wall, and by \
             then that moves the needle by less than {}",
            seconds(settling.usual),
            seconds(settling.safe),
            number(settling.excess.value),
            shown(settling.allowed, sheet.gauge_unit)
        ),
    ));
    for (limit, stated) in plan.limits.iter().zip(&sheet.limits) {
        let rule = by_rule(stated);
        out.push_str(&wrapped(
            "  Limit   ",
            &format!(
                "{}{rule}: {}",
                limit_in_words(&limit.allowed.limit, sheet.gauge_unit),
                outlook(limit, sheet, &hole)?
            ),
        ));
    }
    out.push_str(&wrapped("  Tells   ", &tells(&plan.detection, &hole)?));
    out.push_str(&wrapped("  Weather ", &weather(plan, sheet)));
    for note in &plan.notes {
        out.push_str(&wrapped("  Note    ", &format!("{note}.")));
    }
    say_ladder(out, sheet, plan);
    say_gauges(out, plan)
}

fn outlook(
    limit: &LimitOutlook,
    sheet: &Sheet,
    hole: &dyn Fn(EffectiveArea) -> Result<String, CommandError>,
) -> Result<String, CommandError> {
    let at_limit = &limit.at_limit;
    let decides = limit.decides_after.map_or_else(
        || "no hold tells such a leak from none".to_owned(),
        |time| format!("a hold of {} tells such a leak from none", seconds(time)),
    );
    let strokes = match limit.pumping {
        Pumped::Reaches { strokes, .. } => format!("{strokes} strokes reach the target"),
        Pumped::Stalls { needle } => {
            format!("this pump stalls at {}", shown(needle, sheet.gauge_unit))
        }
        _ => String::new(),
    };
    Ok(format!(
        "at most {} here. At the limit the needle falls by {} in this hold, {} readable steps; {decides}; {strokes}",
        hole(at_limit.area)?,
        shown(at_limit.fall, sheet.gauge_unit),
        number(at_limit.steps)
    ))
}

fn tells(
    detection: &Detection,
    hole: &dyn Fn(EffectiveArea) -> Result<String, CommandError>,
) -> Result<String, CommandError> {
    let least = match detection.detected {
        Some(area) => format!(
            "the least leak told from none, 95 times in 100, is {}",
            hole(area)?
        ),
        None => "no leak at all is told from none".to_owned(),
    };
    Ok(format!(
        "a tight case leaves open a leak of up to {} (95 %); {least}",
        hole(detection.bound)?
    ))
}

fn weather(plan: &Plan, sheet: &Sheet) -> String {
    let one = |what: &str, change: &Disturbance| {
        let does = if change.like_a_leak {
            "looks like a leak of"
        } else {
            "hides a leak of"
        };
        format!(
            "{what} over the hold moves the needle by {} and {does} {}",
            shown(change.needle.abs(), sheet.gauge_unit),
            area_in_words(change.area.square_meters())
        )
    };
    format!(
        "{}; {}. The other way round it is the reverse",
        one("1 K warmer", &plan.one_kelvin),
        one("a barometer 1 hPa higher", &plan.one_hectopascal)
    )
}

fn say_ladder(out: &mut String, sheet: &Sheet, plan: &Plan) {
    let unit = sheet.gauge_unit.symbol();
    say!(
        out,
        "\n  {:>10} {:>12} {:>14} {:>8} {:>14} {:>14}",
        "hole",
        "area",
        "falls by",
        "steps",
        "one step after",
        "at zero after"
    );
    for rung in &plan.ladder {
        let Expected { area, diameter, .. } = rung;
        let fall = rung.fall.value_in(unit).unwrap_or(f64::NAN);
        say!(
            out,
            "  {:>7} mm {:>12} {:>14} {:>8} {:>14} {:>14}",
            number(diameter.value * 1e3),
            area_in_words(area.square_meters()),
            format!("{} {unit}", number(fall)),
            number(rung.steps),
            time_or_never(rung.one_step_after),
            time_or_never(rung.at_zero_after),
        );
    }
    say!(
        out,
        "  (round holes with Cd {}, in gas that has settled)",
        plan.intent.discharge_coefficient
    );
}

fn say_gauges(out: &mut String, plan: &Plan) -> Result<(), CommandError> {
    let cd = plan.intent.discharge_coefficient;
    say!(
        out,
        "\n  {:<36} {:>16} {:>16} {:>16}",
        "gauge",
        "tight leaves",
        "least leak told",
        "limit told after"
    );
    let own = plan.strictest().and_then(|limit| limit.decides_after);
    let rows = std::iter::once(("the sheet's", &plan.detection, own)).chain(
        plan.gauges
            .iter()
            .map(|gauge| (gauge.name, &gauge.detection, gauge.decides_after)),
    );
    for (name, detection, decides) in rows {
        let millimeters = |area: EffectiveArea| -> Result<String, CommandError> {
            Ok(format!("{} mm", number(area.diameter(cd)?.value * 1e3)))
        };
        say!(
            out,
            "  {name:<36} {:>16} {:>16} {:>16}",
            millimeters(detection.bound)?,
            detection
                .detected
                .map_or(Ok("none".to_owned()), millimeters)?,
            time_or_never(decides),
        );
    }
    say!(out, "  (as diameters of round holes)");
    Ok(())
}

fn in_hole(area: EffectiveArea, cd: f64) -> Result<String, CommandError> {
    let millimeters = area.diameter(cd)?.value * 1e3;
    Ok(format!(
        "{} (a hole of {} mm)",
        area_in_words(area.square_meters()),
        number(millimeters)
    ))
}

fn seconds(time: Time) -> String {
    format!("{} s", number(time.value))
}

fn time_or_never(time: Option<Time>) -> String {
    time.map_or("-".to_owned(), seconds)
}
