use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::io;

use proptest::prelude::*;
use uom::si::length::millimeter;
use uom::si::pressure::pascal;
use uom::si::ratio::ratio;
use uom::si::temperature_interval::kelvin;
use uom::si::volume::cubic_centimeter;

use super::*;
use crate::assess::Assumptions;
use crate::gauge::Gauge;
use crate::limit::{Limit, Rule};
use crate::measured::{Distribution, Evaluation};
use crate::quantity::{
    Area, GaugePressure, Length, Mass, MassDensity, Pressure, Ratio, ReferenceConditions, Time,
    TradeUnits, VolumeRate,
};
use crate::record::{Chosen, Date, Site};
use crate::running::Conditions;
use crate::vessel::{DecayLaw, Direction};
use crate::volume::Method;

/// Everything that a sheet can say about an engine.
pub(super) const FULL: &str = r#"format = 1
title = "Mist blower 14, \"after\" new seals"
machine = "mist blower 14"
date = 2026-03-02

[engine]
bore = "52.0 mm"
stroke = "1.575 in"
stroke_uncertainty = "+- 0.002 in"
rod = "75 mm"
rod_uncertainty = "0.1 mm"
primary_compression_ratio = 1.45
compression_ratio = "8.2:1"
compression_ratio_uncertainty = 0.1

[rig]
volume = "35 cm3"
uncertainty = "3 cc"

[ambient]
pressure = "29.92 inHg"
pressure_uncertainty = "0.5 hPa"
temperature = "70 F"
drift_allowance = "0.3 K/min"

[gauge]
unit = "psi"
division = "0.5 psi"
readable = "0.25 psi"
accuracy_class = 1.6
span = "15 psi"
stopwatch = "0.2 s"

[limit]
max_drop = "1 psi"
from = "7 psi"
over = "1 min"
at_volume = "300 cm3"
max_area = "0.01 mm2"
max_flow = "5 sccm"
reference = "ANR"
min_hold = "2 min"
rule = "common practice: one psi a minute"

[assumptions]
discharge_coefficient = 0.65
level = 0.9
flow_reference = "15 C, 101.325 kPa"

[[run]]
name = "all blanked"
piston = "bottom"
blanked = ["exhaust_blank", "Intake blank", "oil pump shaft"]
readings = [[0, 7.0], [30.5, 6.75], [60, 6.25], [90, 6]]
bubbles = ["crank seal drive side"]
dry = ["base gasket"]
note = "needle sticks\nat 6 psi"

[[run]]
name = "vacuum"
piston = "60 +- 2 deg, transfers shut"
readings = [[0, -7.0], [30, -6.75]]

[[run]]
name = "logged"
piston = "top"
file = "logged.csv"

[[run]]
name = "stalled"
piston = "top"
stalled = { strokes = 30, stroke_volume = "25 cm3", over = "30 s", reached = "0.3 psi" }

[plan]
direction = "vacuum"
target = "6 psi"
hold = "2 min"
readings_every = "10 s"
piston = "top"
stroke_volume = "18 cm3"
dead_space = "1.5 cm3"
stroke_every = "0.8 s"

[running]
exhaust_opens = "105 deg"
transfer_opens = "121 deg"
transfer_opens_uncertainty = "+- 1 deg"
intake_opens = "72 deg"
intake_closes_uncertainty = "2 deg"
polytropic_exponent = 1.25
idle_speed = "2600 rpm"
idle_delivery_ratio = 0.22
idle_delivery_ratio_uncertainty = "+- 0.05"
full_delivery_ratio = "65 %"
"#;

/// What other sheets can say.
pub(super) const MORE: [&str; 3] = [
    // An engine that leaks beside a known leak, and a rig that was tested alone.
    r#"format = 1
[volume.added_leak]
known_area = "0.020 mm2"
alone_run = "a"
together_run = "b"
rate_correlation = 0.1
add = [{ name = "hose", volume = "-5 cm3", uncertainty = "1 cm3" }]
[volume.fill]
empty = "1850 g"
full = "2100 g"
density = "0.85 g/cm3"
density_uncertainty = "0.01 g/cm3"
balance_scale_uncertainty = 0.002
trapped = "1 cm3"
air_density = "1.18 kg/m3"
air_density_uncertainty = "0.02 kg/m3"
[volume.strokes]
stroke_volume = "25 cm3"
dead_space = "2.0 cm3"
dead_space_uncertainty = "0.5 cm3"
readings = [[5, 48.13]]
add = [{ name = "hose", volume = "-5 cm3", uncertainty = "1 cm3" }]
[volume.rotation]
bore = "40 mm"
bore_uncertainty = "0.03 mm"
stroke = "34 mm"
stroke_uncertainty = "0.03 mm"
rod = "62 mm"
rod_uncertainty = "0.3 mm"
from = "0 deg"
from_uncertainty = "2 deg"
to = "90 deg"
to_uncertainty = "2 deg"
before = "0 kPa"
after = "22 kPa"
loss = { fall = "0.1 kPa", fall_uncertainty = "0.05 kPa", watched = "30 s", watched_uncertainty = "1 s", between = "10 s" }
add = [{ name = "hose", volume = "-5 cm3", uncertainty = "1 cm3" }]
[volume.parts]
add = [{ name = "hose", volume = "5 cm3", uncertainty = "1 cm3" }]
[[volume.parts.piece]]
name = "case"
shape = "cylinder"
diameter = "80.0 mm"
diameter_uncertainty = "0.1 mm"
length = "60.0 mm"
length_uncertainty = "0.1 mm"
[[volume.parts.piece]]
name = "ring"
shape = "annulus"
outer = "64.0 mm"
outer_uncertainty = "0.1 mm"
inner = "20.0 mm"
inner_uncertainty = "0.1 mm"
length = "12.0 mm"
[[volume.parts.piece]]
name = "spigot"
shape = "frustum"
first = "30.0 mm"
first_uncertainty = "0.1 mm"
second = "20.0 mm"
second_uncertainty = "0.1 mm"
length = "10.0 mm"
[[volume.parts.piece]]
name = "duct"
shape = "block"
length = "30.0 mm"
width = "12.0 mm"
width_uncertainty = "0.1 mm"
height = "8.0 mm"
height_uncertainty = "0.1 mm"
[[volume.parts.piece]]
name = "rod"
shape = "known"
volume = "9.0 cm3"
volume_uncertainty = "0.2 cm3"
[ambient]
pressure = "101325 Pa"
temperature = "20 C"
temperature_uncertainty = "0.5 K"
[heat]
conductance = "0.5 W/K"
conductance_factor = 1.3
settled_for = "10 s"
[assumptions]
law = "laminar"
[isolate]
sites = ["case seam"]
can_blank = ["exhaust blank"]
can_spray = []
[gauge]
unit = "kPa"
resolution = "0.1 kPa"
noise = "40 Pa"
[[run]]
name = "a"
piston = "top"
direction = "pressure"
readings = [[0, 48.0], [60, 47.0], [120, 46.0]]
bubbles = ["case seam"]
soaped_at = "30 kPa"
settled_for = "20 s"
[[run]]
name = "b"
piston = "top"
repaired = ["case seam"]
readings = [[0, 48.0], [60, 45.0], [120, 42.2]]
[[run]]
name = "rig"
rig_alone = "35 cm3"
rig_alone_uncertainty = "1 cm3"
readings = [[0, 48.0], [60, 47.9], [120, 47.8]]
[running]
exhaust_opens = "106 deg"
exhaust_opens_uncertainty = "1 deg"
intake_opens = "70 deg"
intake_opens_uncertainty = "1 deg"
intake_closes = "70 deg"
polytropic_exponent = 1.25
polytropic_exponent_uncertainty = 0.05
full_speed = "8600 rpm"
full_delivery_ratio = 0.65
full_delivery_ratio_uncertainty = 0.1
"#,
    // A file by a profile.
    r##"format = 1
[volume]
value = "250 cm3"
uncertainty = "5 cm3"
[volume.expansion]
reference = "200 cm3"
before = "50 kPa"
after = "20 kPa"
[volume.fill]
empty = "1850 g"
full = "2100 g"
liquid = "water"
temperature = "20 C"
temperature_uncertainty = "0.5 K"
trapped = "1 cm3"
[ambient]
pressure = "1013 hPa"
temperature = "20 C"
[gauge]
unit = "kPa"
resolution = "0.1 kPa"
[profiles."bench logger"]
encoding = "latin-1"
separator = ","
decimal = "."
comment = "#!"
skip_rows = 0
header = true
time = "time_s"
time_unit = "min"
time_thousands = "'"
pressure = 2
pressure_unit = "kPa"
pressure_kind = "gauge"
pressure_thousands = "'"
scale = 1.5
offset = 0.5
temperature = 3
temperature_unit = "C"
repeated_times = "mean"
empty_cells = "skip"
[[run]]
name = "one"
piston = "top"
file = "logged.csv"
profile = "bench logger"
window = [0, 60]
"##,
    // A profile that differs from the usual one in the rest.
    r#"format = 1
[volume]
value = "250 cm3"
uncertainty = "5 cm3"
[ambient]
pressure = "1013 hPa"
temperature = "20 C"
[gauge]
unit = "kPa"
resolution = "0.1 kPa"
[profiles.plain]
separator = ";"
decimal = ","
header = false
skip_rows = 1
time = 1
pressure = 2
pressure_kind = "absolute"
"#,
];

/// The least that a sheet can say.
const DIRECT: &str = r#"format = 1
[volume]
value = "250 cm3"
uncertainty = "5 cm3"
[ambient]
pressure = "1013 hPa"
temperature = "20 C"
[gauge]
unit = "kPa"
resolution = "0.1 kPa"
[[run]]
name = "one"
readings = [[0, 48.0], [60, 45.0]]
"#;

fn traces() -> BTreeMap<String, Vec<u8>> {
    let file = |text: &str| text.as_bytes().to_vec();
    BTreeMap::from([
        (
            "logged.csv".into(),
            file("time_s,gauge_kpa,temperature_c\n0,48,20\n1,47.9,20\n"),
        ),
        (
            "cut.csv".into(),
            file("time_s,gauge_kpa\n0,48\n1,47.9\n2\n"),
        ),
        (
            "back.csv".into(),
            file("# logger\ntime_s,gauge_kpa\n0,48\n\n2,47.9\n1,47\n"),
        ),
        ("one.csv".into(), file("time_s,gauge_kpa\n0,48\n")),
    ])
}

pub(super) fn parse(text: &str) -> Result<Sheet, SheetError> {
    Sheet::parse(text, "sheet.toml", &traces())
}

/// The line, from 1, that holds this text.
fn line_of(text: &str, part: &str) -> usize {
    let at = text.find(part).unwrap_or_else(|| panic!("no `{part}`"));
    1 + text[..at].matches('\n').count()
}

/// Replaces `from`, which must be there, by `to` and expects an error at `key`, on the line that holds `on` (the first
/// line for an empty one), in words that hold `said`.
#[track_caller]
pub(super) fn refused(text: &str, from: &str, to: &str, key: &str, on: &str, said: &str) {
    assert!(text.contains(from), "no `{from}`");
    let text = text.replacen(from, to, 1);
    let error = parse(&text).expect_err(&text);
    let words = error.to_string();
    assert_eq!(error.key(), key, "{words}");
    assert!(words.contains(said), "{words}\nlacks {said}");
    let position = error.position().unwrap();
    assert_eq!(position.line, line_of(&text, on), "{words}");
    assert!(
        words.starts_with(&format!(
            "sheet.toml:{}:{}: ",
            position.line, position.column
        )),
        "{words}"
    );
}

#[test]
#[allow(clippy::too_many_lines)] // one look at each key
fn a_full_sheet_is_read() {
    let sheet = parse(FULL).unwrap();
    assert_eq!(sheet.title, "Mist blower 14, \"after\" new seals");
    assert_eq!(sheet.machine.as_deref(), Some("mist blower 14"));
    assert_eq!(sheet.date, Some(Date::new(2026, 3, 2).unwrap()));
    let quoted = parse(&FULL.replace("2026-03-02", "\" 2026-03-02 \"")).unwrap();
    assert_eq!(quoted.date, sheet.date);
    let Space::Engine { dimensions, rig } = &sheet.space else {
        panic!("no engine");
    };
    let rectangular = Evaluation::TypeB(Distribution::Rectangular);
    let normal = Evaluation::TypeB(Distribution::Normal);
    let mm = |u: Length| u.get::<millimeter>();
    let cases = [
        // Half the last digit, a tolerance, a standard uncertainty; JCGM 100, 4.3.7: rectangular, u = a/sqrt(3).
        (
            &dimensions.bore,
            0.05 / 3_f64.sqrt(),
            rectangular,
            LAST_DIGIT,
        ),
        (
            &dimensions.stroke,
            0.0508 / 3_f64.sqrt(),
            rectangular,
            STATED,
        ),
        (&dimensions.rod, 0.1, normal, STATED),
    ];
    for (length, u, evaluation, from) in cases {
        assert!((mm(length.standard_uncertainty()) - u).abs() < 1e-12);
        assert_eq!((length.evaluation(), length.source()), (evaluation, from));
    }
    let primary = &dimensions.primary_compression_ratio;
    let u = primary.standard_uncertainty().get::<ratio>();
    assert!((u - 0.005 / 3_f64.sqrt()).abs() < 1e-15);
    let compression = dimensions.compression_ratio.as_ref().unwrap();
    assert_eq!(compression.value().get::<ratio>(), 8.2);
    assert_eq!(rig.standard_uncertainty(), Volume::parse("3 cm3").unwrap());
    assert_eq!(
        sheet
            .ambient
            .pressure
            .standard_uncertainty()
            .get::<pascal>(),
        50.0
    );
    assert_eq!(sheet.ambient.temperature.source(), USUAL);
    let drift = sheet.ambient.drift_allowance;
    assert_eq!(drift.kelvins_per_second(), 0.005);
    let psi = |value| Pressure::parse(&format!("{value} psi")).unwrap();
    let gauge = Gauge::dial(psi(0.5), psi(0.25)).unwrap();
    assert_eq!(
        (sheet.gauge.step(), sheet.gauge.noise()),
        (gauge.step(), gauge.noise())
    );
    assert_eq!(sheet.gauge.accuracy_class().unwrap().span, psi(15.0));
    assert_eq!(sheet.gauge.stopwatch(), Time::parse("0.2 s").unwrap());
    assert_eq!(sheet.gauge_unit.symbol(), "psi");

    let minute = Time::parse("1 min").unwrap();
    let expected = [
        Limit::Drop {
            drop: psi(1.0),
            from: psi(7.0),
            over: minute,
            at_volume: Some(Volume::parse("300 cm3").unwrap()),
        },
        Limit::Area(Area::parse("0.01 mm2").unwrap()),
        Limit::Flow {
            flow: VolumeRate::parse("5 sccm").unwrap(),
            reference: ReferenceConditions::ANR,
        },
        Limit::Hold {
            time: minute + minute,
            from: Some(psi(7.0)),
        },
        Rule::OnePsiAMinute.limit(),
    ];
    let limits: Vec<Limit> = sheet.limits.iter().map(|stated| stated.limit).collect();
    assert_eq!(limits, expected);
    let rules: Vec<bool> = sheet.limits.iter().map(|s| s.rule.is_some()).collect();
    assert_eq!(rules, [false, false, false, false, true]);

    assert_eq!(
        sheet.assumptions,
        Assumptions {
            discharge_coefficient: 0.65,
            level: 0.9,
            flow_reference: ReferenceConditions::ISA,
            law: None,
            pressure_unit: sheet.gauge_unit,
        }
    );
    let [blanked, vacuum, logged, stalled] = sheet.runs.as_slice() else {
        panic!("{} runs", sheet.runs.len());
    };
    let own = Site::Other("oil pump shaft".into());
    assert_eq!(
        blanked.blanked,
        [Site::ExhaustBlank, Site::IntakeBlank, own]
    );
    assert_eq!(blanked.bubbles, [Site::CrankSealDriveSide]);
    assert_eq!(blanked.dry, [Site::BaseGasket]);
    assert_eq!(blanked.note.as_deref(), Some("needle sticks\nat 6 psi"));
    let readings = blanked.record.readings().unwrap();
    assert_eq!(readings.times_s(), [0.0, 30.5, 60.0, 90.0]);
    // Published: NIST SP 811, B.8: 1 psi is 6894.757 Pa.
    assert!((readings.gauges_pa()[0] - 7.0 * 6894.757).abs() < 0.01);
    assert_eq!(
        vacuum.record.readings().unwrap().direction(),
        Direction::Vacuum
    );
    let Record::Trace {
        file,
        readings,
        temperature_k,
        window,
        ..
    } = &logged.record
    else {
        panic!("no trace");
    };
    assert_eq!((file.as_str(), readings.len()), ("logged.csv", 2));
    assert_eq!(temperature_k.as_deref(), Some(&[293.15, 293.15][..]));
    assert_eq!(window.chosen, Chosen::Whole);
    assert!(stalled.record.readings().is_none());
    let Record::Stalled(stalled) = stalled.record else {
        panic!("not stalled");
    };
    assert_eq!((stalled.strokes, stalled.reached.size()), (30, psi(0.3)));
}

#[test]
fn what_is_not_stated() {
    let sheet = parse(DIRECT).unwrap();
    assert_eq!(sheet.title, "");
    let ambient = &sheet.ambient;
    assert_eq!(
        ambient.pressure.standard_uncertainty().get::<pascal>(),
        100.0
    );
    assert_eq!(
        ambient.temperature.standard_uncertainty().get::<kelvin>(),
        1.0
    );
    assert_eq!(ambient.drift_allowance, "0.1 K/min".parse().unwrap());
    assert_eq!(sheet.gauge.noise(), Pressure::parse("50 Pa").unwrap());
    assert!(sheet.gauge.accuracy_class().is_none());
    assert!(sheet.limits.is_empty());
    assert_eq!(sheet.assumptions, Assumptions::default());
    assert_eq!(sheet.assumptions.discharge_coefficient, 0.62);
    assert_eq!(sheet.assumptions.level, 0.95);
    assert_eq!(sheet.runs[0].piston, None);

    // No readable step: the division.
    let dial = DIRECT.replace("resolution", "division");
    let dial = parse(&dial).unwrap().gauge;
    assert_eq!(dial.step(), Pressure::parse("0.1 kPa").unwrap());
    assert_eq!(dial.stopwatch(), Time::parse("0.15 s").unwrap());
    // A limit's flow counts at the sheet's reference.
    let flow =
        format!("{DIRECT}[limit]\nmax_flow = \"5 sccm\"\n[assumptions]\nflow_reference = \"ANR\"");
    assert!(matches!(
        parse(&flow).unwrap().limits[0].limit,
        Limit::Flow { reference, .. } if reference == ReferenceConditions::ANR
    ));
    // A hold without a pressure starts where the run starts.
    let hold = format!("{DIRECT}[limit]\nmin_hold = \"5 min\"");
    assert!(matches!(
        parse(&hold).unwrap().limits[0].limit,
        Limit::Hold { from: None, .. }
    ));
    // No runs yet.
    let none = &DIRECT[..DIRECT.find("[[run]]").unwrap()];
    assert!(parse(none).unwrap().runs.is_empty());
    // A rig that the dimensions already hold.
    let rig = FULL.replace("\"35 cm3\"\nuncertainty = \"3 cc\"", "\"0 cm3\"");
    let Space::Engine { rig, .. } = parse(&rig).unwrap().space else {
        panic!("no engine");
    };
    assert_eq!(rig.standard_uncertainty().get::<cubic_centimeter>(), 0.0);
}

#[test]
fn volumes_follow_the_piston() {
    let sheet = parse(FULL).unwrap();
    let cm3 = |index: usize| {
        let bench = sheet.bench_for(&sheet.runs[index]).unwrap();
        bench.volume.value().get::<cubic_centimeter>()
    };
    // By hand, case + swept + clearance + rig: swept = pi/4 5.2^2 4.0005 = 84.959 cm3;
    // 84.959 (1/0.45 + 1 + 1/7.2) + 35 = 320.55. At the top with the transfers shut: 84.959 (1/0.45 + 1) + 35 = 308.75.
    assert!((cm3(0) - 320.555).abs() < 0.01, "{}", cm3(0));
    assert!((cm3(2) - 308.756).abs() < 0.01, "{}", cm3(2));
    assert!(cm3(1) < cm3(2));
    let error = sheet.volume_for(None).unwrap_err();
    assert_eq!(error.problem(), &Problem::NoPiston);
    assert!(
        error
            .to_string()
            .starts_with("volume: the volume depends on"),
        "{error}"
    );
    let direct = parse(DIRECT).unwrap();
    let tested = direct.volume_for(Some(Piston::Top)).unwrap();
    assert_eq!(tested.method(), Method::MeasuredDirectly);
    let bench = direct.bench_for(&direct.runs[0]).unwrap();
    assert_eq!(&bench.volume, tested.volume());
    assert_eq!(bench.gauge, direct.gauge);
}

#[test]
#[rustfmt::skip] // one case, one line
fn keys_and_types() {
    for (from, to, key, on, said) in [
        ("format = 1\n", "", "format", "", "missing; write `format = 1`"),
        ("format = 1", "format = 2\nnew_key = 1", "format", "format", "format 2 is not known"),
        ("format = 1", "format = \"1\"", "format", "format", "format \"1\" is not known"),
        ("title =", "titel =", "titel", "titel", "is `title` meant?"),
        ("[rig]", "[rigg]", "rigg", "[rigg]", "is `rig` meant?"),
        ("bore =", "Bore =", "engine.Bore", "Bore", "is `bore` meant?"),
        ("bore =", "cooling_fan =", "engine.cooling_fan", "cooling", "known here: `bore`, `bore_uncertainty`"),
        ("bore =", "\"b re\" =", "engine.\"b re\"", "b re", "is `bore` meant?"),
        ("strokes =", "stroks =", "run[4].stalled.stroks", "stroks", "is `strokes` meant?"),
        ("note =", "notes =", "run[1].notes", "notes", "is `note` meant?"),
        ("title = \"", "title = 3 #", "title", "title", "a bare number where text that says"),
        ("date = 2026-03-02", "date = 2026-03-02T08:00:00", "date", "2026", "`2026-03-02T08:00:00` is not a date"),
        ("date = 2026-03-02", "date = \"2026-02-30\"", "date", "2026", "the month has no such day"),
        ("date = 2026-03-02", "date = 2026", "date", "2026", "a bare number where a date such as"),
        ("machine = \"", "machine = \"\" #", "machine", "machine", "empty; write the machine's name"),
        ("title = \"", "title = \" \" #", "title", "title", "empty; write text that says"),
        ("[[run]]\nname = \"stalled\"", "[[rig]]\nname = \"stalled\"", "", "[[rig]]", "not TOML: "),
        ("[ambient]", "[[ambient]]", "ambient", "[[ambient]]", "a list where a table [ambient] belongs"),
        ("drift_allowance = \"0.3 K/min\"", "drift_allowance = true", "ambient.drift_allowance", "drift", "true or false where text with a number and a unit"),
        ("drift_allowance = \"0.3 K/min\"", "drift_allowance = 1979-05-27", "ambient.drift_allowance", "drift", "a date or time"),
        ("blanked = [\"exhaust_blank\", \"Intake blank\", \"oil pump shaft\"]", "blanked = \"all\"", "run[1].blanked", "blanked = ", "text where a list of sites"),
        ("accuracy_class = 1.6", "accuracy_class = \"fine\"", "gauge.accuracy_class", "accuracy", "where a number belongs"),
        ("rod = \"75 mm\"", "rod = \"75 mm", "", "rod = \"75", "not TOML: "),
    ] {
        refused(FULL, from, to, key, on, said);
    }
    let single = DIRECT.replace("[[run]]", "[run]");
    refused(
        &single,
        "",
        "",
        "run",
        "[run]",
        "each under [[run]] with two brackets",
    );
    // Cut off in the middle, as a copy that failed.
    let cut = &FULL[..FULL.find("at 6 psi").unwrap()];
    refused(cut, "", "", "", "note =", "not TOML: ");
    let twice = FULL.replace("rod =", "bore =");
    let again = parse(&twice).unwrap_err();
    assert_eq!(again.position().unwrap().line, 10, "{again}");
    assert!(again.to_string().contains("duplicate key"), "{again}");
}

#[test]
#[rustfmt::skip] // one case, one line
fn volumes() {
    for (from, to, key, on, said) in [
        ("[engine]", "[volume]\nvalue = \"1 L\"\nuncertainty = \"1 cm3\"\n[engine]", "run[2].piston", "\"60 +- 2", "run[1] has \"bottom\""),
        ("bore = \"52.0 mm\"\n", "", "engine.bore", "[engine]", "missing; write `bore = \"52 mm\"`"),
        ("\"52.0 mm\"", "\"52.0\"", "engine.bore", "52.0", "`52.0` has no unit"),
        ("\"52.0 mm\"", "52.0", "engine.bore", "52.0", "`52.0` has no unit"),
        ("\"52.0 mm\"", "\"52,0 mm\"", "engine.bore", "52,0", "write a decimal point"),
        ("\"52.0 mm\"", "\"-52.0 mm\"", "engine.bore", "-52.0", "not a finite length above zero"),
        ("\"75 mm\"", "\"15 mm\"", "engine.rod", "15 mm", "longer than the crank's throw"),
        ("\"0.1 mm\"", "\"-0.1 mm\"", "engine.rod_uncertainty", "-0.1 mm", "uncertainty"),
        ("\"0.1 mm\"", "\"+- a bit\"", "engine.rod_uncertainty", "a bit", "not one number and one unit"),
        ("primary_compression_ratio = 1.45", "primary_compression_ratio = 0.9", "engine.primary_compression_ratio", "0.9", "above 1"),
        ("primary_compression_ratio = 1.45", "primary_compression_ratio = \"1.45 mm\"", "engine.primary_compression_ratio", "1.45 mm", "not a unit of ratio"),
        ("compression_ratio = \"8.2:1\"\n", "", "engine.compression_ratio_uncertainty", "compression_ratio_uncertainty", "needs `compression_ratio` beside it"),
        ("compression_ratio = \"8.2:1\"\ncompression_ratio_uncertainty = 0.1\n", "", "run[1].piston", "\"bottom\"", "give compression_ratio"),
        ("[rig]\nvolume = \"35 cm3\"\nuncertainty = \"3 cc\"", "", "rig", "", "measure the volume of hose and gauge"),
        ("\"35 cm3\"", "\"-35 cm3\"", "rig.volume", "-35", "below zero"),
        ("volume = \"35 cm3\"", "", "rig.volume", "[rig]", "write `volume = \"35 cm3\"`"),
        ("piston = \"bottom\"", "", "run[1].piston", "[[run]]", "depends on where the piston stands"),
        ("piston = \"bottom\"", "piston = \"60 deg\"", "run[1].piston", "60 deg\"", "60 deg, transfers shut"),
        ("piston = \"bottom\"", "piston = 60", "run[1].piston", "piston = 60\n", "where a piston position belongs"),
    ] {
        refused(FULL, from, to, key, on, said);
    }
    for (from, to, key, on, said) in [
        ("[volume]\nvalue = \"250 cm3\"\nuncertainty = \"5 cm3\"\n", "", "", "", "needs one of `engine`, `volume`"),
        ("uncertainty = \"5 cm3\"\n", "", "volume.uncertainty", "[volume]", "write `uncertainty = \"5 cm3\"`"),
        ("\"250 cm3\"", "\"0 cm3\"", "volume.value", "\"0 cm3\"", "not above zero"),
        ("[ambient]", "[rig]\nvolume = \"3 cm3\"\n[ambient]", "rig", "[rig]", "so remove [rig]"),
    ] {
        refused(DIRECT, from, to, key, on, said);
    }
    // One measured volume and two places of the piston.
    let two = format!(
        "{DIRECT}piston = \"top\"\n[[run]]\nname = \"two\"\npiston = \"bottom\"\nreadings = [[0, 4], [1, 3]]\n"
    );
    refused(
        &two,
        "",
        "",
        "run[2].piston",
        "\"bottom\"",
        "run[1] has \"top\"",
    );
    assert!(parse(&two.replace("\"top\"", "\"170 deg, transfers open\"")).is_ok());
}

#[test]
#[rustfmt::skip] // one case, one line
fn surroundings_and_gauge() {
    for (from, to, key, on, said) in [
        ("pressure = \"1013 hPa\"\n", "", "ambient.pressure", "[ambient]", "write `pressure = \"1013 hPa\"`"),
        ("\"1013 hPa\"", "\"1013 Pa\"", "ambient.pressure", "1013 Pa", "\"1013 Pa\" is outside 30 to 120 kPa"),
        ("\"1013 hPa\"", "\"0 psig\"", "ambient.pressure", "psig", "add the ambient pressure"),
        ("temperature = \"20 C\"\n", "", "ambient.temperature", "[ambient]", "write `temperature = \"21 C\"`"),
        ("\"20 C\"", "\"293 C\"", "ambient.temperature", "293", "\"293 C\" is outside -60 to 100 C"),
        ("\"20 C\"", "\"20 C\"\ntemperature_uncertainty = \"2 C above\"", "ambient.temperature_uncertainty", "above", "not a unit of temperature difference"),
        ("\"20 C\"", "\"20 C\"\ndrift_allowance = \"-1 K/min\"", "ambient.drift_allowance", "K/min", "must not be below zero"),
        ("\"20 C\"", "\"20 C\"\ndrift_allowance = \"1 K\"", "ambient.drift_allowance", "\"1 K\"", "K/min"),
        ("[ambient]\npressure = \"1013 hPa\"\ntemperature = \"20 C\"\n", "", "ambient", "", "write `[ambient]`"),
        ("[gauge]\nunit = \"kPa\"\nresolution = \"0.1 kPa\"\n", "", "gauge", "", "write `[gauge]`"),
        ("unit = \"kPa\"\n", "", "gauge.unit", "[gauge]", "write `unit = \"psi\"`"),
        ("unit = \"kPa\"", "unit = \"kpa\"", "gauge.unit", "kpa", "`kpa` is not a unit of gauge pressure"),
        ("unit = \"kPa\"", "unit = \"psia\"", "gauge.unit", "psia", "subtract the ambient"),
        ("resolution = \"0.1 kPa\"\n", "", "gauge", "[gauge]", "needs one of `division`, `resolution`; a dial has"),
        ("resolution = \"0.1 kPa\"", "resolution = \"0.1 kPa\"\ndivision = \"1 kPa\"", "gauge.resolution", "resolution", "this and `division` exclude each other"),
        ("resolution = \"0.1 kPa\"", "resolution = \"0 kPa\"", "gauge.resolution", "\"0 kPa\"", "must be above zero"),
        ("resolution = \"0.1 kPa\"", "resolution = \"1 kPa\"\nreadable = \"1 kPa\"", "gauge.readable", "readable", "needs `division` beside it"),
        ("resolution = \"0.1 kPa\"", "division = \"1 kPa\"\nreadable = \"2 kPa\"", "gauge.readable", "readable", "larger than the division"),
        ("resolution = \"0.1 kPa\"", "resolution = \"1 kPa\"\nnoise = \"-1 Pa\"", "gauge.noise", "noise", "not below zero"),
        ("resolution = \"0.1 kPa\"", "resolution = \"1 kPa\"\naccuracy_class = 1.6", "gauge.accuracy_class", "accuracy", "needs `span` beside it"),
        ("resolution = \"0.1 kPa\"", "resolution = \"1 kPa\"\nspan = \"1 bar\"", "gauge.span", "span", "needs `accuracy_class` beside it"),
        ("resolution = \"0.1 kPa\"", "resolution = \"1 kPa\"\nspan = \"1 bar\"\naccuracy_class = 30", "gauge.accuracy_class", "accuracy", "up to 20"),
        ("resolution = \"0.1 kPa\"", "resolution = \"1 kPa\"\nstopwatch = \"-1 s\"", "gauge.stopwatch", "stopwatch", "not below zero"),
    ] {
        refused(DIRECT, from, to, key, on, said);
    }
}

#[test]
#[rustfmt::skip] // one case, one line
fn limits_and_assumptions() {
    let with = format!("{DIRECT}[limit]\nmin_hold = \"5 min\"\n[assumptions]\nlevel = 0.9\n");
    for (to, key, on, said) in [
        ("", "limit", "[limit]", "needs one of `max_drop`, `max_area`, `max_flow`, `min_hold`, `rule`"),
        ("from = \"7 psi\"", "limit", "[limit]", "leave [limit] out and no run is judged"),
        ("max_drop = \"1 psi\"\nover = \"60 s\"", "limit.max_drop", "max_drop", "needs `from` beside it, such as `from = \"7 psi\"`"),
        ("max_drop = \"1 psi\"\nfrom = \"7 psi\"", "limit.max_drop", "max_drop", "needs `over`"),
        ("min_hold = \"1 min\"\nover = \"1 min\"", "limit.over", "over", "needs `max_drop`"),
        ("max_area = \"1 mm2\"\nfrom = \"7 psi\"", "limit.from", "from", "needs `max_drop`"),
        ("max_area = \"1 mm2\"\nat_volume = \"1 L\"", "limit.at_volume", "at_volume", "needs `max_drop`"),
        ("max_area = \"1 mm2\"\nreference = \"ANR\"", "limit.reference", "reference", "needs `max_flow`"),
        ("max_drop = \"7 psi\"\nfrom = \"7 psi\"\nover = \"60 s\"", "limit.max_drop", "max_drop", "not smaller than"),
        ("max_drop = \"1 psi\"\nfrom = \"-7 psi\"\nover = \"60 s\"", "limit.from", "from", "\"-7 psi\" must be above zero"),
        ("max_drop = \"1 psig\"\nfrom = \"7 psi\"\nover = \"60 s\"", "limit.max_drop", "max_drop", "neither gauge nor absolute"),
        ("max_area = \"1 mm\"", "limit.max_area", "max_area", "not a unit of area"),
        ("max_flow = \"0 sccm\"", "limit.max_flow", "max_flow", "must be above zero"),
        ("max_flow = \"1 sccm\"\nreference = \"standard\"", "limit.reference", "reference", "states no reference conditions"),
        ("min_hold = \"0 s\"", "limit.min_hold", "min_hold", "must be above zero"),
        ("rule = \"two psi a day\"", "limit.rule", "rule", "write \"common practice: one psi a minute\""),
    ] {
        refused(&with, "min_hold = \"5 min\"", to, key, on, said);
    }
    for (to, key, said) in [
        ("level = 95", "assumptions.level", "95 is outside 0.5 to 0.9999"),
        ("level = nan", "assumptions.level", "nan is outside"),
        ("discharge_coefficient = 1.2", "assumptions.discharge_coefficient", "above 0, up to 1"),
        ("flow_reference = 20", "assumptions.flow_reference", "where reference conditions as text belongs"),
    ] {
        refused(&with, "level = 0.9", to, key, to, said);
    }
}

#[test]
#[rustfmt::skip] // one case, one line
fn runs() {
    const GOOD: &str = "readings = [[0, 48.0], [60, 45.0]]";
    for (to, key, on, said) in [
        ("", "run[1]", "[[run]]", "needs one of `readings`, `file`, `stalled`"),
        ("readings = [[0, 4], [1, 3]]\nfile = \"logged.csv\"", "run[1].file", "file", "this and `readings` exclude each other"),
        ("readings = []", "run[1].readings", "readings", "at least two readings"),
        ("readings = [[0, 48.0]]", "run[1].readings", "readings", "at least two readings"),
        ("readings = [[0, 48.0],\n[60]]", "run[1].readings[2]", "[60]", "a list that is not of two numbers where a reading"),
        ("readings = [[0, 48.0],\n[60, 1, 2]]", "run[1].readings[2]", "[60", "where a reading `[seconds, gauge]` belongs"),
        ("readings = [[0, 48.0],\n60]", "run[1].readings[2]", "60]", "a bare number where a reading"),
        ("readings = [[0, 48.0],\n[60, \"low\"]]", "run[1].readings[2][2]", "low", "where a number belongs"),
        ("readings = 48", "run[1].readings", "readings", "where a list of readings"),
        ("readings = [[0, 48.0],\n[60, nan]]", "run[1].readings[2]", "nan", "reading 2: the gauge pressure is NaN"),
        ("readings = [[0, 48.0],\n[60, 45.0],\n[59, 44.0]]", "run[1].readings[3]", "[59", "reading 3: time 59 s does not come after 60 s"),
        ("readings = [[0, 48.0],\n[60, -45.0]]", "run[1].readings[2]", "-45", "make them two runs"),
        ("readings = [\n[0, 0],\n[60, 48.0]]", "run[1].readings[1]", "[0, 0]", "record the run as stalled"),
        ("file = \"\"", "run[1].file", "file", "empty; write the name of a trace's file"),
        ("file = \"lost.csv\"", "run[1].file", "file", "can't open the trace `lost.csv`: no such trace"),
        ("file = \"cut.csv\"", "run[1].file", "file", "trace `cut.csv`: line 4: 1 of 2 fields"),
        ("file = \"back.csv\"", "run[1].file", "file", "trace `back.csv`, line 6: reading 3: time 1 s"),
        ("file = \"one.csv\"", "run[1].file", "file", "trace `one.csv`: 1 reading(s)"),
        ("stalled = 1", "run[1].stalled", "stalled", "where a table { strokes"),
        ("stalled = { strokes = 3, stroke_volume = \"25 cm3\", over = \"3 s\" }", "run[1].stalled.reached", "stalled", "write `reached = \"0.5 psi\"`"),
        ("stalled = { strokes = 0, stroke_volume = \"25 cm3\", over = \"3 s\", reached = \"1 kPa\" }", "run[1].stalled.strokes", "stalled", "0 is outside the whole numbers from 1"),
        ("stalled = { strokes = 2.5, stroke_volume = \"25 cm3\", over = \"3 s\", reached = \"1 kPa\" }", "run[1].stalled.strokes", "stalled", "2.5 is outside"),
        ("stalled = { strokes = 3, stroke_volume = \"0 cm3\", over = \"3 s\", reached = \"1 kPa\" }", "run[1].stalled.stroke_volume", "stalled", "must be above zero"),
        ("stalled = { strokes = 3, stroke_volume = \"25 cm3\", over = \"3 s\", reached = \"-2 bar\" }", "run[1].stalled.reached", "stalled", "below a perfect vacuum"),
        ("readings = [[0, 4], [1, 3]]\nblanked = [\"base gaskt\"]", "run[1].blanked[1]", "gaskt", "write \"base gasket\""),
        ("readings = [[0, 4], [1, 3]]\nblanked = [\"case seam\", \"Case-Seam\"]", "run[1].blanked[2]", "blanked", "already in `blanked`"),
        ("readings = [[0, 4], [1, 3]]\nbubbles = [\"case seam\"]\ndry = [\"case seam\"]", "run[1].dry[1]", "dry", "\"case seam\" is already in `bubbles`"),
        ("readings = [[0, 4], [1, 3]]\ndry = [7]", "run[1].dry[1]", "dry", "where a site belongs"),
        ("readings = [[0, 4], [1, 3]]\nnote = \"\"", "run[1].note", "note", "empty"),
        ("readings = [[0, 4], [1, 3]]\n[[run]]\nname = \" one\"\nfile = \"logged.csv\"", "run[2].name", "\" one\"", "run[1] has the name \"one\" too"),
    ] {
        refused(DIRECT, GOOD, to, key, on, said);
    }
    refused(
        DIRECT,
        "name = \"one\"\n",
        "",
        "run[1].name",
        "[[run]]",
        "write `name =",
    );
    refused(
        DIRECT,
        "\"one\"",
        "\"\"",
        "run[1].name",
        "name",
        "empty; write a name",
    );
    let error = Sheet::parse(FULL, "s", &NoTraces).unwrap_err();
    assert!(matches!(
        error.problem(),
        Problem::TraceUnreadable {
            kind: io::ErrorKind::Unsupported,
            ..
        }
    ));
    assert_eq!((error.file(), error.key()), ("s", "run[3].file"));
}

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
fn plans_that_can_not_be() {
    for (from, to, key, on, said) in [
        (
            "direction = \"vacuum\"",
            "direction = \"sideways\"",
            "plan.direction",
            "\"sideways\"",
            "\"pressure\", \"vacuum\" or \"both\"",
        ),
        (
            "target = \"6 psi\"",
            "target = \"16 psi\"",
            "plan.target",
            "\"16 psi\"",
            "perfect vacuum",
        ),
        (
            "direction = \"vacuum\"\ntarget = \"6 psi\"",
            "direction = \"pressure\"\ntarget = \"11 psi\"",
            "plan.target",
            "\"11 psi\"",
            "no pressure above 70000 Pa",
        ),
        (
            "target = \"6 psi\"",
            "target = \"-6 psi\"",
            "plan.target",
            "\"-6 psi\"",
            "above zero",
        ),
        (
            "readings_every = \"10 s\"",
            "readings_every = \"3 min\"",
            "plan.readings_every",
            "\"3 min\"",
            "single reading",
        ),
        (
            "dead_space = \"1.5 cm3\"",
            "dead_space = \"-1 cm3\"",
            "plan.dead_space",
            "\"-1 cm3\"",
            "below zero",
        ),
        (
            "stroke_every = \"0.8 s\"",
            "stroke_ever = \"0.8 s\"",
            "plan.stroke_ever",
            "stroke_ever",
            "is `stroke_every` meant?",
        ),
        (
            "transfer_opens = \"121 deg\"",
            "transfer_opens = \"60 deg\"",
            "running",
            "[running]",
            "intake must be shut",
        ),
        (
            "transfer_opens = \"121 deg\"",
            "transfer_opens = 121",
            "running.transfer_opens",
            "121",
            "deg",
        ),
        (
            "idle_speed = \"2600 rpm\"",
            "idle_speed = \"0 rpm\"",
            "running.idle_speed",
            "\"0 rpm\"",
            "above zero",
        ),
        (
            "idle_delivery_ratio = 0.22",
            "idle_delivery_ratio = nan",
            "running.idle_delivery_ratio",
            "nan",
            "finite",
        ),
        (
            "full_delivery_ratio = \"65 %\"",
            "full_delivery_ratio = \"650 %\"",
            "running",
            "[running]",
            "delivery ratio is 6.5",
        ),
    ] {
        refused(FULL, from, to, key, on, said);
    }
}

#[test]
fn what_is_not_said_of_the_running_engine_is_typical() {
    let bare = parse(DIRECT).unwrap();
    assert_eq!(bare.running, Conditions::typical().unwrap());
    let running = parse(FULL).unwrap().running;
    let degrees = |angle: &Measured<crate::quantity::Angle>| angle.value().value_in("deg").unwrap();
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

#[test]
fn columns_count_characters() {
    let text = DIRECT.replace(
        "[volume]",
        "volume = { value = \"\u{b5} cm3\", uncertainty = \"1 \u{b5}m\", x = 1 }",
    );
    let text = text.replace("value = \"250 cm3\"\nuncertainty = \"5 cm3\"\n", "");
    let error = parse(&text).unwrap_err();
    let position = Position {
        line: 2,
        column: 51,
    };
    assert_eq!(
        (error.key(), error.position()),
        ("volume.x", Some(position))
    );
}

#[test]
fn bytes_must_be_utf8() {
    let read = |bytes: &[u8]| Sheet::from_bytes(bytes, "s", &traces());
    let plain = parse(FULL).unwrap();
    assert_eq!(read(FULL.as_bytes()).as_ref(), Ok(&plain));
    let marked = format!("\u{feff}{FULL}");
    assert_eq!(read(marked.as_bytes()).as_ref(), Ok(&plain));
    assert_eq!(parse(&marked).as_ref(), Ok(&plain));

    let words = |bytes: &[u8]| read(bytes).unwrap_err().to_string();
    assert_eq!(
        words(b"format = 1\ntitle = \"20 \xB0C\"\n"),
        "s: encoding: byte 23 (line 2) is not UTF-8 text; save the file as UTF-8"
    );
    let utf16: Vec<u8> = marked.encode_utf16().flat_map(u16::to_le_bytes).collect();
    assert!(words(&utf16).contains("byte 0 (line 1) looks like UTF-16"));
    assert!(words(&utf16[2..]).contains("byte 1 (line 1) looks like UTF-16"));
}

#[test]
fn a_written_sheet_reads_the_same() {
    for text in [FULL, DIRECT] {
        let sheet = parse(text).unwrap();
        let written = sheet.to_toml().unwrap();
        let again = parse(&written).unwrap_or_else(|error| panic!("{written}\n{error}"));
        assert_eq!(again, sheet, "{written}");
        // And in the same words.
        assert_eq!(again.to_toml().unwrap(), written);
    }
    let written = parse(FULL).unwrap().to_toml().unwrap();
    for line in [
        "bore = \"52 mm\"\nbore_uncertainty = \"+- 50 um (last digit)\"",
        "stroke = \"1.575 in\"\nstroke_uncertainty = \"+- 0.002 in\"",
        "rod_uncertainty = \"0.1 mm\"",
        "reference = \"ANR\"",
        "flow_reference = \"ISA\"",
        "  [30.5, 6.75],",
        "blanked = [\"exhaust blank\", \"intake blank\", \"oil pump shaft\"]",
    ] {
        assert!(written.contains(line), "{written}\nlacks {line}");
    }
    assert!(!written.contains("temperature_uncertainty"), "{written}");
}

#[test]
fn limits_that_no_table_holds() {
    let mut sheet = parse(DIRECT).unwrap();
    let psi = |value: f64| Pressure::parse(&format!("{value} psi")).unwrap();
    let over = Time::parse("1 min").unwrap();
    let state = |limit| StatedLimit { limit, rule: None };
    let drop = state(Limit::Drop {
        drop: psi(1.0),
        from: psi(7.0),
        over,
        at_volume: None,
    });
    let hold = |from| state(Limit::Hold { time: over, from });
    for (limits, held) in [
        (vec![drop, hold(Some(psi(7.0)))], true),
        (vec![hold(None)], true),
        (vec![drop, drop], false),
        (vec![drop, hold(Some(psi(6.0)))], false),
        (vec![drop, hold(None)], false),
    ] {
        sheet.limits = limits;
        match sheet.to_toml() {
            Ok(text) => {
                assert!(held);
                assert_eq!(parse(&text).as_ref(), Ok(&sheet));
            }
            Err(error) => {
                assert!(!held, "{error}");
                assert!(matches!(error.problem(), Problem::NotWritable { .. }));
            }
        }
    }
}

#[test]
fn no_unit_starts_like_a_number() {
    fn check<Q: TradeUnits>() {
        for unit in Q::UNITS {
            let first = unit.symbol().chars().next().unwrap_or('m');
            assert!(
                !first.is_ascii_digit() && !"+-.eE".contains(first),
                "{}",
                unit.symbol()
            );
        }
    }
    check::<Length>();
    check::<Ratio>();
    check::<Volume>();
    check::<Area>();
    check::<Mass>();
    check::<MassDensity>();
    check::<Time>();
}

/// What is wrong is quoted on one line, whatever it holds, wherever the error goes.
#[test]
fn an_error_quotes_control_characters_by_their_numbers() {
    for (from, to) in [
        ("bore = ", "\"b\\u001bore\\nfaked: line\" = "),
        ("unit = \"psi\"", "unit = \"p\\u001bsi\\nfaked: line\""),
        (
            "name = \"vacuum\"",
            "name = \"vacuum\"\npiston = \"mid\\u001b\\nfaked: line\"\nrig = 1",
        ),
    ] {
        let words = parse(&FULL.replacen(from, to, 1)).unwrap_err().to_string();
        assert!(!words.contains(char::is_control), "{words:?}");
    }
    let named = Sheet::parse("format = 2", "a\u{1b}[2J\nb.toml", &NoTraces).unwrap_err();
    assert!(
        named.to_string().starts_with("a\\u001B[2J\\nb.toml:1:"),
        "{named}"
    );
}

proptest! {
    /// Half the last digit of a length, whatever its digits and exponent.
    #[test]
    fn the_last_digit(digits in 1_u32..100_000, decimals in 0_usize..6, exponent in -3_i32..4, exponential: bool) {
        let number = f64::from(digits) / 10_f64.powi(i32::try_from(decimals).unwrap());
        let (tail, exponent) = if exponential { (format!("e{exponent}"), exponent) } else { (String::new(), 0) };
        let text = format!("{number:.decimals$}{tail} cm3");
        let sheet = parse(&FULL.replace("\"35 cm3\"\nuncertainty = \"3 cc\"", &format!("\"{text}\""))).unwrap();
        let Space::Engine { rig, .. } = sheet.space else { unreachable!() };
        let half = 0.5 * 10_f64.powi(exponent - i32::try_from(decimals).unwrap());
        let got = rig.standard_uncertainty().get::<cubic_centimeter>() * 3_f64.sqrt();
        prop_assert!((got / half - 1.0).abs() < 1e-12, "{text}: {got}");
    }

    /// Whatever can be parsed is written so that it reads equal.
    #[test]
    fn written_numbers_keep_every_bit(
        bore in 10.0..100.0_f64,
        tolerance in 1e-4..0.5_f64,
        kelvins in 260.0..310.0_f64,
        start in 1.0..60.0_f64,
        fall in 0.0..1.0_f64,
        unit in prop::sample::select(vec!["psi", "kPa", "inHg", "mbar", "mmHg"]),
        angle in -360.0..360.0_f64,
        set_within in 0.0..10.0_f64,
    ) {
        let scale = 48e3 / GaugePressure::unit(unit).unwrap().to_si(60.0);
        let text = FULL
            .replace("\"52.0 mm\"", &format!("\"{bore} mm\"\nbore_uncertainty = \"+- {tolerance} mm\""))
            .replace("\"70 F\"", &format!("\"{kelvins} K\""))
            .replace("60 +- 2 deg", &format!("{angle} +- {set_within} deg"))
            .replace("unit = \"psi\"", &format!("unit = \"{unit}\""))
            .replace("name = \"all blanked\"", "name = \"all blanked\"\ndirection = \"pressure\"")
            .replace("readings = [[0, -7.0], [30, -6.75]]", &format!("direction = \"pressure\"\nreadings = [[0, {}], [0.1, {}]]", start * scale, (start - fall) * scale));
        let sheet = parse(&text).unwrap();
        let written = sheet.to_toml().unwrap();
        prop_assert_eq!(parse(&written).unwrap(), sheet);
    }

    #[test]
    fn any_bytes_are_answered(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        let _ = Sheet::from_bytes(&bytes, "s", &NoTraces);
    }

    /// A damaged sheet is read or refused with words; what is read can be written and read again.
    #[test]
    fn any_damage_is_answered(
        at in 0_usize..3000,
        length in 0_usize..30,
        to in prop::string::string_regex("[\\[\\]{}=\"'0-9a-z.,\\-\n\u{b5}e+# ]{0,12}").unwrap(),
    ) {
        let start = at % FULL.len();
        let end = (start + length).min(FULL.len());
        let text = format!("{}{to}{}", &FULL[..start], &FULL[end..]);
        match parse(&text) {
            Ok(sheet) => prop_assert_eq!(parse(&sheet.to_toml().unwrap()).unwrap(), sheet),
            Err(error) => prop_assert!(!error.to_string().is_empty()),
        }
    }
}

/// A logger's whole test in its own habits: idle, pumping, a hold from 6 s to 65 s, a vent, rest.
fn foreign() -> BTreeMap<String, Vec<u8>> {
    let mut text = "Logger of the workshop\nt/ms;n;p/mbar\n".to_owned();
    let mut row = |second: i32, pascals: i32| {
        let (whole, hundredths) = (pascals / 100, pascals % 100);
        writeln!(text, "{second}.000;{second};{whole},{hundredths:02}").unwrap();
    };
    for second in 0..80 {
        row(
            second,
            match second {
                3..=5 => 12_000 * (second - 2),
                6..=65 => 48_000 - 20 * (second - 6),
                66 => 9_000,
                _ => 0,
            },
        );
    }
    let files = [("foreign.csv".to_owned(), text.into_bytes())];
    files.into_iter().collect()
}

const PROFILE: &str = r#"[profiles."bench logger"]
separator = ";"
decimal = ","
skip_rows = 1
time = "T/ms"
time_unit = "ms"
time_thousands = "."
pressure = 3
pressure_unit = "mbar"
"#;

fn with_trace(keys: &str) -> String {
    let start = &DIRECT[..DIRECT.find("[[run]]").unwrap()];
    format!(
        "{start}{PROFILE}[[run]]\nname = \"one\"\nfile = \"foreign.csv\"\nprofile = \"bench logger\"\n{keys}"
    )
}

#[test]
fn a_foreign_trace_is_read_by_its_profile_and_cut_to_its_hold() {
    let sheet = Sheet::parse(&with_trace(""), "sheet.toml", &foreign()).unwrap();
    let Record::Trace {
        readings,
        window,
        segments,
        ..
    } = &sheet.runs[0].record
    else {
        panic!("no trace");
    };
    // It starts at the last reading that can't be told from the top: 20 Pa a reading, with steps of 100 Pa.
    let what = segments.phases();
    assert!((6.0..=8.0).contains(&window.from_s), "{what:?}");
    assert_eq!((window.to_s, window.of_rows), (65.0, 80), "{what:?}");
    let first = 48_000.0 - 20.0 * (window.from_s - 6.0);
    assert!((readings.gauges_pa()[0] - first).abs() < 1e-6);
    assert_eq!(readings.len(), window.rows.len());
    let again = Sheet::parse(&sheet.to_toml().unwrap(), "again", &foreign()).unwrap();
    assert_eq!(again, sheet);

    let stated =
        Sheet::parse(&with_trace("window = [10, 29.5]"), "sheet.toml", &foreign()).unwrap();
    let window = stated.runs[0].record.window().unwrap();
    assert_eq!(
        (window.rows.clone(), window.chosen),
        (10..30, Chosen::Stated)
    );
    let again = Sheet::parse(&stated.to_toml().unwrap(), "again", &foreign()).unwrap();
    assert_eq!(again, stated);
}

#[test]
#[rustfmt::skip] // one case, one line
fn a_profile_or_window_at_fault_is_refused_at_its_key() {
    let good = with_trace("window = [10, 29.5]");
    for (from, to, key, said) in [
        ("profile = \"bench logger\"", "profile = \"bench\"", "run[1].profile", "the sheet has \"bench logger\""),
        ("window = [10, 29.5]", "window = [30, 10]", "run[1].window", "write the earlier time first"),
        ("window = [10, 29.5]", "window = [10]", "run[1].window", "where a window `[from_s, to_s]` belongs"),
        ("window = [10, 29.5]", "window = [100, 200]", "run[1].window", "0 reading(s) between 100 s and 200 s; the trace goes from 0 s to 79 s"),
        ("window = [10, 29.5]", "window = [nan, 200]", "run[1].window", "is empty"),
        ("separator = \";\"", "separator = \"; \"", "profiles.\"bench logger\".separator", "one character"),
        ("separator = \";\"", "separator = \",\"", "profiles.\"bench logger\".separator", "both separator and decimal mark"),
        ("time_unit = \"ms\"", "time_unit = \"m\"", "profiles.\"bench logger\".time_unit", "write \"s\", \"ms\", \"us\""),
        ("pressure = 3", "pressure = 0", "profiles.\"bench logger\".pressure", "counted from 1"),
        ("pressure = 3", "", "profiles.\"bench logger\".pressure", "missing; write `pressure = 2`"),
        ("pressure = 3", "pressure = 9", "run[1].file", "line 2: no column 9 among `t/ms | n | p/mbar`"),
        ("pressure = 3", "presure = 3", "profiles.\"bench logger\".presure", "is `pressure` meant?"),
        ("pressure_unit = \"mbar\"", "pressure_unit = \"psig\"", "profiles.\"bench logger\".pressure_unit", "write psi"),
        ("skip_rows = 1", "skip_rows = -1", "profiles.\"bench logger\".skip_rows", "the whole numbers from 0 on"),
        ("skip_rows = 1", "header = \"no\"", "profiles.\"bench logger\".header", "text where true or false belongs"),
        ("skip_rows = 1", "temperature_unit = \"C\"", "profiles.\"bench logger\".temperature_unit", "needs `temperature` beside it"),
        ("file = \"foreign.csv\"", "readings = [[0, 48], [60, 45]]", "run[1].profile", "needs `file` beside it"),
    ] {
        assert!(good.contains(from), "{from}");
        let text = good.replacen(from, to, 1);
        let error = Sheet::parse(&text, "sheet.toml", &foreign()).expect_err(&text);
        let words = error.to_string();
        assert_eq!(error.key(), key, "{words}");
        assert!(words.contains(said), "{words}\nlacks {said}");
    }
}

#[test]
fn a_trace_without_a_hold_is_refused_unless_a_window_is_stated() {
    let files: BTreeMap<String, Vec<u8>> = [("foreign.csv".to_owned(), {
        let mut text = "\nt/ms;n;p/mbar\n".to_owned();
        for second in 0..20 {
            let mbar = if second < 5 { 0 } else { 30 * (second - 4) };
            writeln!(text, "{second}.000;0;{mbar}").unwrap();
        }
        text.into_bytes()
    })]
    .into_iter()
    .collect();
    let error = Sheet::parse(&with_trace(""), "sheet.toml", &files).unwrap_err();
    let words = error.to_string();
    assert!(
        words.contains("no hold found among idle, pump (20 readings, 0 s to 19 s)"),
        "{words}"
    );
    assert!(Sheet::parse(&with_trace("window = [10, 19]"), "sheet.toml", &files).is_ok());
}

#[test]
#[rustfmt::skip] // one case, one line
fn heat_law_and_the_rig_alone() {
    let text = DIRECT.replace("[gauge]", "[heat]\nconductance = \"0.5 W/K\"\nconductance_factor = 1.3\nsettled_for = \"10 s\"\n\n[assumptions]\nlaw = \"laminar\"\n\n[gauge]")
        + "\n[[run]]\nname = \"rig\"\nrig_alone = \"35 cm3\"\nsettled_for = \"20 s\"\nreadings = [[0, 48.0], [60, 47.9], [120, 47.8]]\n";
    let sheet = parse(&text).unwrap();
    assert_eq!(parse(&sheet.to_toml().unwrap()).unwrap(), sheet);
    assert_eq!(sheet.assumptions.law, Some(DecayLaw::Laminar));
    let rig = sheet.runs.last().unwrap();
    let bench = sheet.bench_for(rig).unwrap();
    assert!((bench.volume.value().si_value() - 35e-6).abs() < 1e-12);
    assert!((bench.heat.settled_for.si_value() - 20.0).abs() < 1e-12);
    let engine = sheet.bench_for(&sheet.runs[0]).unwrap();
    assert!((engine.heat.settled_for.si_value() - 10.0).abs() < 1e-12);
    for (from, to, key, said) in [
        ("conductance_factor = 1.3", "conductance_factor = 0.3", "heat.conductance_factor", "the numbers from 1 on"),
        ("\"0.5 W/K\"", "\"-0.5 W/K\"", "heat.conductance", "above zero"),
        ("conductance = \"0.5 W/K\"\n", "", "heat.conductance_factor", "conductance = \"0.35 W/K\""),
        ("settled_for = \"10 s\"", "settled_for = \"-1 s\"", "heat.settled_for", "below zero"),
        ("settled_for = \"20 s\"", "settled_for = \"20 m\"", "run[2].settled_for", "not a unit of time"),
        ("law = \"laminar\"", "law = \"crack\"", "assumptions.law", "laminar"),
        ("rig_alone = \"35 cm3\"", "rig_alone = true", "run[2].rig_alone", "no rig volume"),
        ("rig_alone = \"35 cm3\"", "rig_alone = \"-5 cm3\"", "run[2].rig_alone", "above zero"),
    ] {
        let error = parse(&text.replace(from, to)).unwrap_err();
        assert_eq!(error.key(), key, "{error}");
        assert!(error.to_string().contains(said), "{error} lacks {said}");
    }
}

/// A dial's numbers without a sign, and the same sheet after it was written out.
#[test]
fn a_stated_direction_is_kept_when_a_sheet_is_written() {
    let text = DIRECT.replacen(
        "readings = [[0, 48",
        "direction = \"vacuum\"\nreadings = [[0, 48",
        1,
    );
    let sheet = parse(&text).unwrap();
    let run = &sheet.runs[0];
    assert_eq!(run.direction, Some(crate::vessel::Direction::Vacuum));
    let readings = run.record.readings().unwrap();
    assert!(readings.gauges_pa().iter().all(|gauge| *gauge < 0.0));
    let written = sheet.to_toml().unwrap();
    assert!(written.contains("direction = \"vacuum\""), "{written}");
    assert_eq!(parse(&written).unwrap(), sheet);
}
