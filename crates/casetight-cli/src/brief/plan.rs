//! The first screen of `casetight plan`.

use casetight::leak::EffectiveArea;
use casetight::quantity::{Time, TradeUnits};
use casetight_bench::plan::Plan;
use casetight_bench::pump::Pumped;
use casetight_bench::sheet::Sheet;
use casetight_report::words::{limit_in_words, number, shown, title};

use super::{cautions, headed, more};
use crate::CommandError;
use crate::words::{HEADING, by_rule, narrow, say};

/// A hole that moves the needle by less than a readable step shows nothing.
const TELLING_STEPS: f64 = 1.0;
/// Holes on the first screen.
const RUNGS: usize = 3;

pub(crate) fn say_plans(sheet: &Sheet, plans: &[Plan]) -> Result<String, CommandError> {
    let mut out = String::new();
    say!(out, "{HEADING}{}{HEADING:#}: before the test", title(sheet));
    for plan in plans {
        say_plan(&mut out, sheet, plan)?;
    }
    out.push('\n');
    cautions(&mut out, false);
    more(&mut out);
    Ok(out)
}

fn say_plan(out: &mut String, sheet: &Sheet, plan: &Plan) -> Result<(), CommandError> {
    out.push('\n');
    let to = shown(plan.intent.target, sheet.gauge_unit);
    let text = format!(
        "pump to {to}, hold {}, read every {}.",
        plan.intent.hold.trade(),
        plan.intent.every.trade()
    );
    headed(out, HEADING, &format!("{}:", plan.direction), &text);
    for (limit, stated) in plan.limits.iter().zip(&sheet.limits) {
        let rule = by_rule(stated);
        let text = format!(
            "{}{rule}; at the limit it loses {} in this hold.",
            limit_in_words(&limit.allowed.limit, sheet.gauge_unit),
            shown(limit.at_limit.fall, sheet.gauge_unit)
        );
        out.push_str(&narrow("  Limit   ", &text));
    }
    let strokes = strokes(plan, sheet);
    let wait = seconds(plan.settling.safe);
    out.push_str(&narrow(
        "  Pump    ",
        &format!("{strokes}; then wait {wait}."),
    ));
    out.push_str(&narrow("  Tells   ", &tells(plan)?));
    if let Some(falls) = falls(plan, sheet) {
        out.push_str(&narrow("  Falls   ", &falls));
    }
    Ok(())
}

/// How many strokes, or where the pump stalls.
fn strokes(plan: &Plan, sheet: &Sheet) -> String {
    let pumping = &plan.pumping;
    let volume = pumping.pump.stroke_volume().trade();
    if let Some(Pumped::Stalls { needle }) = plan.strictest().map(|limit| limit.pumping) {
        return format!(
            "of {volume} a stroke, it stalls at {} with a leak at the limit",
            shown(needle, sheet.gauge_unit)
        );
    }
    format!("about {} strokes of {volume}", pumping.strokes.ceil())
}

fn tells(plan: &Plan) -> Result<String, CommandError> {
    let least = match plan.detection.detected {
        Some(area) => format!("holes from {} on", millimeters(area, plan)?),
        None => "no hole at all".to_owned(),
    };
    let limit = match plan.strictest() {
        Some(limit) => match limit.decides_after {
            Some(time) => format!("; one at the limit after {}", seconds(time)),
            None => "; none at the limit, however long the hold".to_owned(),
        },
        None => String::new(),
    };
    Ok(format!("{least}{limit}."))
}

/// What some holes make the needle lose.
fn falls(plan: &Plan, sheet: &Sheet) -> Option<String> {
    let telling = plan
        .ladder
        .iter()
        .filter(|rung| rung.steps >= TELLING_STEPS);
    let falls: Vec<String> = telling
        .take(RUNGS)
        .map(|rung| {
            let fall = rung.fall.display_in(sheet.gauge_unit.symbol());
            let fall = fall.map_or_else(
                |_| shown(rung.fall, sheet.gauge_unit),
                |fall| fall.digits(2).to_string(),
            );
            let millimeters = rung.diameter.display_in("mm");
            let millimeters = millimeters.map_or_else(
                |_| number(rung.diameter.value * 1e3),
                |d| d.digits(2).to_string(),
            );
            format!("{fall} by a hole of {millimeters}")
        })
        .collect();
    (!falls.is_empty()).then(|| format!("{}.", falls.join(", ")))
}

fn millimeters(area: EffectiveArea, plan: &Plan) -> Result<String, CommandError> {
    let diameter = area.diameter(plan.intent.discharge_coefficient)?;
    Ok(format!("{} mm", number(diameter.value * 1e3)))
}

/// Whole seconds: nobody waits for less.
fn seconds(time: Time) -> String {
    format!("{} s", time.value.ceil())
}
