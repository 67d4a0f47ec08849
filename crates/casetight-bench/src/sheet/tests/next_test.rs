//! The next test, and the running engine.

use super::{DIRECT, FULL, parse, refused};
use crate::running::Conditions;
use crate::sheet::*;
use casetight::quantity::{Pressure, Time, TradeUnits};
use casetight::vessel::Direction;
use uom::si::pressure::pascal;
use uom::si::ratio::ratio;

#[test]
fn the_next_test_is_planned_as_stated() {
    let sheet = parse(FULL).unwrap();
    let plan = sheet.plan;
    assert_eq!(plan.direction, Some(Direction::Vacuum));
    assert_eq!(plan.piston, Some(Piston::Top));
    assert_eq!(sheet.planned_piston(), Piston::Top);
    let plans = sheet.plan().unwrap();
    assert_eq!(plans.len(), 1);
    let psi = Pressure::parse("6 psi").unwrap().get::<pascal>();
    assert_eq!(plans[0].intent.target.pascals(), -psi);
    assert_eq!(plans[0].readings, 13);
    assert!(plans[0].rig.is_some());
    // Five limits, one of them by its rule.
    assert_eq!(plans[0].limits.len(), sheet.limits.len());
}

#[test]
fn what_a_plan_leaves_open_follows_from_limits_and_runs() {
    let bare = parse(DIRECT).unwrap();
    assert_eq!(bare.plan, Planned::default());
    let seven = bare.target() / Pressure::parse("7 psi").unwrap();
    assert!((seven.get::<ratio>() - 1.0).abs() < 1e-14);
    assert_eq!(bare.hold(), Time::parse("60 s").unwrap());
    assert_eq!(bare.readings_every(), Time::parse("6 s").unwrap());
    assert_eq!(bare.planned_piston(), Piston::Bottom);
    assert_eq!(bare.plan().unwrap().len(), 2);
    assert!(bare.plan().unwrap()[0].rig.is_none());
    let limited = format!("{DIRECT}[limit]\nmin_hold = \"3 min\"\nfrom = \"40 kPa\"\n");
    let limited = parse(&limited).unwrap();
    assert_eq!(limited.target(), Pressure::parse("40 kPa").unwrap());
    assert_eq!(limited.hold(), Time::parse("3 min").unwrap());
    let stated = parse(&format!("{DIRECT}[plan]\ndirection = \"both\"\n")).unwrap();
    assert_eq!(stated, bare);
    // An engine without compression ratio has no known volume with the transfers open.
    let no_ratio = FULL
        .replace(
            "compression_ratio = \"8.2:1\"\ncompression_ratio_uncertainty = 0.1\n",
            "",
        )
        .split("[[run]]")
        .next()
        .unwrap()
        .to_owned();
    assert_eq!(parse(&no_ratio).unwrap().planned_piston(), Piston::Top);
    // Piston of the first run.
    let first = FULL.replace("piston = \"top\"\nstroke_volume", "stroke_volume");
    assert_eq!(parse(&first).unwrap().planned_piston(), Piston::Bottom);
}

#[test]
#[rustfmt::skip] // one case, one line
fn plans_that_can_not_be() {
    for (from, to, key, on, said) in [
        ("direction = \"vacuum\"", "direction = \"sideways\"", "plan.direction", "\"sideways\"", "\"pressure\", \"vacuum\" or \"both\""),
        ("target = \"6 psi\"", "target = \"16 psi\"", "plan.target", "\"16 psi\"", "perfect vacuum"),
        ("direction = \"vacuum\"\ntarget = \"6 psi\"", "direction = \"pressure\"\ntarget = \"11 psi\"", "plan.target", "\"11 psi\"", "no pressure above 10.15 psi"),
        ("target = \"6 psi\"", "target = \"-6 psi\"", "plan.target", "\"-6 psi\"", "above zero"),
        ("readings_every = \"10 s\"", "readings_every = \"3 min\"", "plan.readings_every", "\"3 min\"", "single reading"),
        ("dead_space = \"1.5 cm3\"", "dead_space = \"-1 cm3\"", "plan.dead_space", "\"-1 cm3\"", "below zero"),
        ("stroke_every = \"0.8 s\"", "stroke_ever = \"0.8 s\"", "plan.stroke_ever", "stroke_ever", "is `stroke_every` meant?"),
        ("transfer_opens = \"121 deg\"", "transfer_opens = \"60 deg\"", "running", "[running]", "intake must be shut"),
        ("transfer_opens = \"121 deg\"", "transfer_opens = 121", "running.transfer_opens", "121", "deg"),
        ("idle_speed = \"2600 rpm\"", "idle_speed = \"0 rpm\"", "running.idle_speed", "\"0 rpm\"", "above zero"),
        ("idle_delivery_ratio = 0.22", "idle_delivery_ratio = nan", "running.idle_delivery_ratio", "nan", "finite"),
        ("full_delivery_ratio = \"65 %\"", "full_delivery_ratio = \"650 %\"", "running", "[running]", "delivery ratio is 6.5"),
    ] {
        refused(FULL, from, to, key, on, said);
    }
}

#[test]
fn what_is_not_said_of_the_running_engine_is_typical() {
    let bare = parse(DIRECT).unwrap();
    assert_eq!(bare.running, Conditions::typical().unwrap());
    let running = parse(FULL).unwrap().running;
    let degrees =
        |angle: &Measured<casetight::quantity::Angle>| angle.value().value_in("deg").unwrap();
    assert!((degrees(&running.ports.intake_opens) - 72.0).abs() < 1e-12);
    assert!((degrees(&running.ports.intake_closes) - 65.0).abs() < 1e-12);
    assert_eq!(running.ports.intake_opens.source(), USUAL);
    assert_eq!(running.ports.intake_closes.source(), STATED);
    assert_eq!(running.ports.exhaust_opens.source(), USUAL);
    let typical = bare.running;
    assert_eq!(
        running.ports.intake_opens.standard_uncertainty(),
        typical.ports.intake_opens.standard_uncertainty()
    );
    assert_eq!(running.full.speed, typical.full.speed);
    assert!((running.full.delivery_ratio.value().get::<ratio>() - 0.65).abs() < 1e-12);
}
