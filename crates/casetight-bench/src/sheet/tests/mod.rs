//! Sheets that say much and little, and how they are asked for what is read or refused.

mod altitude;
mod gas;
mod next_test;
mod read;
mod refused;
mod shop;
mod spelling;
mod traces;
mod written;

use std::collections::BTreeMap;

use super::{Sheet, SheetError};

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
thermometer = "wall"

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

[job]
shop = "Training workshop"
complaint = "dies when hot,\nhard to start"
work_done = "new crank seals"

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

/// The least that a sheet must say.
pub(super) const SMALLEST: &str = r#"format = 1
title = "Mist blower 3"
[engine]
displacement = "51.5 cm3"
displacement_uncertainty = "0.1 cm3"
[ambient]
pressure = "1013 hPa"
temperature = "20 C"
[gauge]
unit = "psi"
division = "0.5 psi"
[[run]]
name = "all blanked"
readings = [[0, 7.0], [30, 6.25], [60, 5.5]]
"#;

/// What other sheets can say.
pub(super) const MORE: [&str; 4] = [
    // As little as a shop knows.
    SMALLEST,
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
pressure_at = "sea level"
altitude = "1200 ft"
altitude_uncertainty = "+- 50 ft"
temperature = "20 C"
temperature_uncertainty = "0.5 K"
[gas]
name = "argon"
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
[bench]
zero = "-0.2 kPa"
zero_uncertainty = "0.1 kPa"
lag = "0.5 s"
lag_uncertainty = "0.2 s"
stretch = "1.5 %/bar"
stretch_uncertainty = "0.5 %/bar"
creep = "0.2 %/bar"
creep_uncertainty = "+- 0.1 %/bar"
warmth = "-5 K"
warmth_uncertainty = "2 K"
tapped = true
[[run]]
name = "a"
at_rest = "0.1 kPa"
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
unit = "psi"
rig_alone = "35 cm3"
rig_alone_uncertainty = "1 cm3"
readings = [["0:00", 7.0], ["1:00", 6.98], [120, 6.96]]
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
tested_before = "-20 kPa"
tested_before_uncertainty = "0.1 kPa"
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
[gas]
molar_mass = "20.18 g/mol"
heat_capacity_ratio = 1.667
viscosity = "31.4 uPa s"
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
humidity = "60 %"
humidity_uncertainty = "3 %"
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
