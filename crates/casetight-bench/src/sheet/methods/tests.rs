use proptest::prelude::*;
use uom::si::pressure::kilopascal;

use super::*;
use crate::sheet::tests::{parse, refused};
use crate::sheet::{Sheet, SheetError, Space};

/// Every way to the volume, each with the numbers of its own example in `volume`.
pub(in crate::sheet) const EVERY: &str = r#"format = 1
[engine]
bore = "40.0 mm"
bore_uncertainty = "0.03 mm"
stroke = "34.0 mm"
stroke_uncertainty = "0.03 mm"
rod = "62 mm"
rod_uncertainty = "0.3 mm"
primary_compression_ratio = 1.45
primary_compression_ratio_uncertainty = "+- 0.05"
compression_ratio = "8:1"
[rig]
volume = "15 cm3"
uncertainty = "1 cm3"
[volume]
value = "245 cm3"
uncertainty = "6 cm3"
shared = ["hose and gauge"]
gauge_zero = "0 kPa"
gauge_zero_uncertainty = "0.1 kPa"
temperature = "20.0 C"
temperature_uncertainty = "0.5 K"
settled_within = "0.3 K"
[volume.expansion]
reference = "200 cm3"
reference_uncertainty = "0.5 cm3"
before = "50 kPa"
before_uncertainty = "100 Pa"
after = "20 kPa"
after_uncertainty = "100 Pa"
add = [{ name = "hose and gauge", volume = "-55 cm3", uncertainty = "+- 2 cm3" }]
[volume.rotation]
from = "0 deg"
to = "90 deg"
before = "0 kPa"
before_uncertainty = "50 Pa"
after = "22 kPa"
after_uncertainty = "50 Pa"
loss = { fall = "0.1 kPa", watched = "30 s", between = "10 s", between_uncertainty = "1 s" }
[volume.strokes]
stroke_volume = "25 cm3"
stroke_volume_uncertainty = "0.3 cm3"
delivery = "0.95"
delivery_uncertainty = "0.03"
readings = [[5, 48.13]]
reading_uncertainty = "0.3 kPa"
[volume.added_leak]
known_area = "0.020 mm2"
known_area_uncertainty = "0.0004 mm2"
alone = "0.0116 1/s"
alone_uncertainty = "0.0001 1/s"
together = "0.0348 1/s"
together_uncertainty = "0.0003 1/s"
[volume.fill]
empty = "1850 g"
empty_uncertainty = "0.5 g"
full = "2100 g"
full_uncertainty = "0.5 g"
liquid = "water"
temperature = "20 C"
trapped = "1 cm3"
trapped_uncertainty = "+- 1 cm3"
add = [{ name = "hose and gauge", volume = "-5 cm3", uncertainty = "+- 2 cm3" }]
[volume.parts]
caliper_scale_uncertainty = "0.05 %"
[[volume.parts.piece]]
name = "case"
shape = "cylinder"
diameter = "80.0 mm"
length = "60.0 mm"
[[volume.parts.piece]]
name = "web"
shape = "annulus"
outer = "64.0 mm"
inner = "20.0 mm"
length = "12.0 mm"
solid = true
count = 2
[[volume.parts.piece]]
name = "spigot"
shape = "frustum"
first = "30.0 mm"
second = "20.0 mm"
length = "10.0 mm"
[[volume.parts.piece]]
name = "duct"
shape = "block"
length = "30.0 mm"
width = "12.0 mm"
height = "8.0 mm"
[[volume.parts.piece]]
name = "rod"
shape = "known"
volume = "9.0 cm3"
solid = true
[ambient]
pressure = "101325 Pa"
temperature = "20 C"
[gauge]
unit = "kPa"
resolution = "0.1 kPa"
accuracy_class = 0.6
span = "200 kPa"
[[run]]
name = "one"
piston = "bottom"
readings = [[0, 48.0], [60, 45.0]]
"#;

/// One method alone.
fn alone(table: &str) -> String {
    format!(
        "format = 1\n[volume]\n{table}\n[ambient]\npressure = \"101325 Pa\"\ntemperature = \"20 C\"\n[gauge]\nunit = \"kPa\"\n\
         resolution = \"0.1 kPa\"\naccuracy_class = 0.6\nspan = \"200 kPa\"\n"
    )
}

/// Readings, to 0.1 Pa, of an isothermal vessel of 250 cm3 at 20 C that an orifice of an area \[m2\] fills from -40 kPa:
/// u = sqrt(1 - x^beta) falls along a straight line in time, u = u0 - k sqrt(beta/2) t (closed form of the theory manual).
pub(crate) fn vacuum_readings(area: f64, seconds: f64) -> String {
    let (v, r, t, pa): (f64, f64, f64, f64) = (250e-6, 287.055, 293.15, 101_325.0);
    let beta: f64 = 0.4 / 1.4;
    let k = area * (r * t).sqrt() / v;
    let start = (1.0 - (1.0 - 40e3 / pa).powf(beta)).sqrt();
    let reading = |step: i32| {
        let s = f64::from(step) * seconds / 10.0;
        let u = (start - k * (beta / 2.0).sqrt() * s).max(0.0);
        let gauge = pa * ((1.0 - u * u).powf(1.0 / beta) - 1.0);
        format!("[{s}, {:.4}]", gauge / 1e3)
    };
    (0..=10).map(reading).collect::<Vec<_>>().join(", ")
}

fn cm3(tested: &TestedVolume) -> (f64, f64) {
    let volume = tested.volume();
    (
        volume.value().get::<cubic_centimeter>(),
        volume.standard_uncertainty().get::<cubic_centimeter>(),
    )
}

fn methods(sheet: &Sheet) -> &Methods {
    match &sheet.space {
        Space::Methods(methods) => methods,
        other => panic!("{other:?}"),
    }
}

#[test]
fn each_method_of_a_sheet_is_the_method_of_the_library() {
    let sheet = parse(EVERY).unwrap();
    let volumes = sheet.volumes_for(sheet.runs[0].piston).unwrap();
    let found: Vec<(Method, f64, f64)> = volumes
        .each
        .iter()
        .map(|tested| (tested.method(), cm3(tested).0, cm3(tested).1))
        .collect();
    // The values and uncertainties that stand in the examples of each method's documentation, less what is added here.
    // Self-consistency; the methods themselves are checked in the suite against an independent script.
    for (method, volume, u) in [
        (Method::MeasuredDirectly, 245.0, 6.0),
        (Method::Expansion, 300.0 - 55.0, 3.82),
        (Method::AddedLeak, 250.08, 6.03),
        (Method::LiquidFill, 251.69 - 5.0, 1.49),
    ] {
        let &(_, got, got_u) = found.iter().find(|(m, ..)| *m == method).unwrap();
        assert!((got - volume).abs() < 0.02, "{method}: {got}");
        assert!((got_u - u).abs() < 0.03, "{method}: {got_u}");
    }
    let strokes = found
        .iter()
        .find(|(m, ..)| *m == Method::PumpStrokes)
        .unwrap();
    assert!((strokes.1 - 250.0).abs() < 0.01, "{strokes:?}");
    // By hand: pi/4 80^2 60 - 2 pi/4 (64^2 - 20^2) 12 + pi/12 (30^2 + 30 20 + 20^2) 10 + 30 12 8 - 9000 mm3.
    let parts = found
        .iter()
        .find(|(m, ..)| *m == Method::PartsList)
        .unwrap();
    assert!((parts.1 - 230.779).abs() < 0.01, "{parts:?}");
    // At the bottom the crank method says nothing of the cylinder.
    assert_eq!(volumes.left_out, [Method::CrankRotation]);
    assert_eq!(found.len(), 7);
    let combined = volumes.combined.as_ref().unwrap();
    let weights: f64 = combined.members().iter().map(|m| m.weight).sum();
    assert!((weights - 1.0).abs() < 1e-12);
    // What was named as shared is no longer said to be taken as independent.
    assert!(!volumes.maybe_shared().contains(&"hose and gauge"));
    assert_eq!(
        sheet.bench_for(&sheet.runs[0]).unwrap().volume,
        *combined.volume()
    );
}

#[test]
fn the_crank_method_counts_where_the_transfers_are_shut() {
    let table = "[volume.rotation]\nbore = \"40 mm\"\nbore_uncertainty = \"0.03 mm\"\nstroke = \"34 mm\"\n\
                 stroke_uncertainty = \"0.03 mm\"\nrod = \"62 mm\"\nrod_uncertainty = \"0.3 mm\"\nfrom = \"0 deg\"\n\
                 to = \"90 deg\"\nbefore = \"0 kPa\"\nbefore_uncertainty = \"50 Pa\"\nafter = \"22 kPa\"\n\
                 after_uncertainty = \"50 Pa\"\n";
    let zero =
        "gauge_zero = \"0 kPa\"\ngauge_zero_uncertainty = \"50 Pa\"\nsettled_within = \"0.3 K\"\n";
    let run = "[[run]]\nname = \"a\"\npiston = \"top\"\nreadings = [[0, 40], [60, 39]]\n";
    let sheet = parse(&(alone(&format!("{zero}{table}")) + run)).unwrap();
    let (value, u) = cm3(&sheet.volume_for(sheet.runs[0].piston).unwrap());
    // The example of `TestedVolume::from_rotation`, whose barometer and temperature are exact; here they have the usual
    // uncertainty, which adds little.
    assert!(
        (value - 136.49).abs() < 0.01 && (u - 2.18).abs() < 0.03,
        "{value} {u}"
    );
    let open = run.replace("top", "bottom");
    let error = parse(&(alone(&format!("{zero}{table}")) + &open)).unwrap_err();
    assert_eq!(error.key(), "volume.rotation");
    assert!(error.to_string().contains("case side alone"), "{error}");
}

#[test]
fn a_volume_from_two_runs_with_a_known_leak() {
    let rows = |area| vacuum_readings(area, 24.0);
    let text = alone(
        "[volume.added_leak]\nknown_area = \"0.020 mm2\"\nknown_area_uncertainty = \"0.0002 mm2\"\nalone_run = \"a\"\n\
         together_run = \"b\"",
    ) + &format!(
        "[[run]]\nname = \"a\"\nreadings = [{}]\n[[run]]\nname = \"b\"\nreadings = [{}]\n",
        rows(0.010e-6),
        rows(0.030e-6)
    );
    let sheet = parse(&text).unwrap();
    let (value, u) = cm3(&sheet.volume_for(None).unwrap());
    assert!(
        (value - 250.0).abs() < 2.0 * u && u < 12.0,
        "{value} +- {u}"
    );
    assert_eq!(parse(&sheet.to_toml().unwrap()), Ok(sheet));
    refused(
        &text,
        "alone_run = \"a\"",
        "alone_run = \"c\"",
        "volume.added_leak",
        "[volume.added_leak]",
        "the runs are `a`, `b`",
    );
}

#[test]
fn what_a_method_does_not_state() {
    let sheet = parse(&alone(
        "[volume.strokes]\nstroke_volume = \"25 cm3\"\nreadings = [[3, 29.5], [5, 48.13]]",
    ))
    .unwrap();
    let tested = sheet.volume_for(None).unwrap();
    let relative = tested.volume().relative().unwrap();
    // A delivery known to a tenth, and little else.
    assert!((relative - 0.1).abs() < 0.01, "{relative}");
    let zero = methods(&sheet).zero(&sheet).unwrap();
    // Step 0.1 kPa and half of it of noise: sqrt(1/12 + 1/4) of it; class 0.6 of 200 kPa over sqrt(6). By hand.
    let by_hand =
        (0.1_f64.powi(2) * (1.0 / 12.0 + 0.25) + (1.2_f64 / 6.0_f64.sqrt()).powi(2)).sqrt();
    let u = zero.standard_uncertainty().get::<kilopascal>();
    assert!((u - by_hand).abs() < 1e-6, "{u} {by_hand}");
}

#[test]
fn every_method_is_written_as_it_was_read() {
    let sheet = parse(EVERY).unwrap();
    let text = sheet.to_toml().unwrap();
    assert_eq!(parse(&text), Ok(sheet), "{text}");
    // Other forms of the same keys.
    for (from, to) in [
        (
            "liquid = \"water\"\ntemperature = \"20 C\"",
            "density = \"0.85 g/cm3\"\nbalance_scale_uncertainty = 0.002\nair_density = \"1.18 kg/m3\"",
        ),
        ("reading_uncertainty = \"0.3 kPa\"", ""),
        ("before_uncertainty = \"50 Pa\"\n", ""),
        ("gauge_zero_uncertainty = \"0.1 kPa\"\n", ""),
        (
            "delivery = \"0.95\"\ndelivery_uncertainty = \"0.03\"",
            "dead_space = \"2.0 cm3\"",
        ),
        ("value = \"245 cm3\"\nuncertainty = \"6 cm3\"\n", ""),
    ] {
        assert!(EVERY.contains(from));
        let sheet = parse(&EVERY.replace(from, to)).unwrap();
        assert_eq!(parse(&sheet.to_toml().unwrap()), Ok(sheet), "{to}");
    }
}

#[test]
fn methods_that_disagree_say_so_and_widen() {
    let text = EVERY.replace("value = \"245 cm3\"", "value = \"345 cm3\"");
    let sheet = parse(&text).unwrap();
    let volumes = sheet.volumes_for(sheet.runs[0].piston).unwrap();
    assert!(!volumes.agree());
    let combined = volumes.combined.unwrap();
    assert!(combined.widened() && combined.to_string().contains("disagree"));
}

#[test]
#[rustfmt::skip] // one case, one line
fn a_method_that_cannot_be_is_refused_at_its_key() {
    let parts = "[[volume.parts.piece]]\nname = \"case\"\nshape = \"cylinder\"\ndiameter = \"80.0 mm\"";
    for (from, to, key, on, said) in [
        ("[volume.expansion]\nreference = \"200 cm3\"", "[volume.expansion]\nreference = \"0 cm3\"", "volume.expansion", "[volume.expansion]", "reference volume is 0"),
        ("reference = \"200 cm3\"", "referense = \"200 cm3\"", "volume.expansion.referense", "referense", "is `reference` meant?"),
        ("before = \"50 kPa\"\n", "", "volume.expansion.before", "[volume.expansion]", "write `before = \"50 kPa\"`"),
        ("after = \"20 kPa\"", "after = \"50 kPa\"", "volume.expansion", "[volume.expansion]", "fall of the reading"),
        ("after = \"20 kPa\"\nafter_uncertainty = \"100 Pa\"", "after = \"0.5 kPa\"\nafter_uncertainty = \"1 Pa\"\ntested_before = \"0.3 kPa\"\ntested_before_uncertainty = \"1 Pa\"", "volume.settled_within", "settled_within", "say how nearly in `settled_within`"),
        ("after = \"20 kPa\"", "tested_before = \"20 kPa\"\nafter = \"20 kPa\"", "volume.expansion", "[volume.expansion]", "rise of the reading on the tested side"),
        ("from = \"0 deg\"", "from = \"0 mm\"", "volume.rotation.from", "\"0 mm\"", "not a unit of angle"),
        ("from = \"0 deg\"", "bore = \"40 mm\"\nfrom = \"0 deg\"", "volume.rotation.bore", "\"40 mm\"", "the dimensions in [engine] are used"),
        ("[[5, 48.13]]", "[[0, 48.13]]", "volume.strokes.readings[1][1]", "0, 48.13", "the whole numbers from 1 on"),
        ("[[5, 48.13]]", "[[5, nan]]", "volume.strokes.readings[1][2]", "nan", "not a finite number"),
        ("[[5, 48.13]]", "[]", "volume.strokes.readings", "[]", "at least one reading"),
        ("delivery = \"0.95\"\n", "", "volume.strokes.delivery_uncertainty", "\"0.03\"", "needs `delivery` beside it"),
        ("together = \"0.0348 1/s\"", "together = \"0.0117 1/s\"", "volume.added_leak", "[volume.added_leak]", "difference of the rates"),
        ("alone = \"0.0116 1/s\"", "alone = \"0.0116 1/s\"\nalone_run = \"one\"", "volume.added_leak.alone_run", "\"one\"\nalone", "exclude each other"),
        ("liquid = \"water\"", "liquid = \"oil\"", "volume.fill.liquid", "\"oil\"", "of another state its `density`"),
        ("full = \"2100 g\"", "full = \"1100 g\"", "volume.fill", "[volume.fill]", "not above zero"),
        ("trapped = \"1 cm3\"\n", "", "volume.fill.trapped", "[volume.fill]", "write `trapped = \"1 cm3\"`"),
        (parts, &parts.replace("cylinder", "sphere"), "volume.parts.piece[1].shape", "\"sphere\"", "the shapes \"cylinder\""),
        (parts, &format!("{parts}\nwidth = \"3 mm\""), "volume.parts.piece[1].width", "\"3 mm\"", "known here: `diameter`, `length`"),
        ("inner = \"20.0 mm\"", "inner = \"70.0 mm\"", "volume.parts", "[volume.parts]", "must be smaller than the outer"),
        ("solid = true\ncount = 2", "solid = 1", "volume.parts.piece[2].solid", "solid = 1", "a bare number where true or false belongs"),
        ("shared = [\"hose and gauge\"]", "shared = [\"hose\"]", "volume.shared", "[\"hose\"]", "no method has an input \"hose\""),
        ("settled_within = \"0.3 K\"", "settled_within = \"-0.3 K\"", "volume.settled_within", "\"-0.3 K\"", "must not be below zero"),
        ("uncertainty = \"6 cm3\"", "uncertainty = \"0 cm3\"", "volume", "[volume]", "has no uncertainty, so it can't be weighed"),
        ("[[run]]", "[[run]]\nname = \"two\"\npiston = \"top\"\nreadings = [[0, 4], [1, 3]]\n[[run]]", "run[2].piston", "\"bottom\"", "run[1] has \"top\""),
    ] {
        refused(EVERY, from, to, key, on, said);
    }
    let nothing = alone("settled_within = \"0.3 K\"");
    let error: SheetError = parse(&nothing).unwrap_err();
    assert!(error.to_string().contains("needs one of `value`, `expansion`"), "{error}");
}

proptest! {
    /// A line left out or a word put in the place of another is answered, never a panic; what is read is written alike.
    #[test]
    fn any_damage_is_answered(line in 0_usize..90, word in "[a-z0-9 \\-+.\"=]{0,8}", at in 0_usize..30) {
        let damaged: Vec<String> = EVERY
            .lines()
            .enumerate()
            .filter(|(number, _)| *number != line || !word.is_empty())
            .map(|(number, text)| {
                let mut text = text.to_owned();
                if number == line {
                    let start = at.min(text.len());
                    text.replace_range(start..(start + 3).min(text.len()), &word);
                }
                text
            })
            .collect();
        if let Ok(sheet) = parse(&damaged.join("\n")) {
            prop_assert_eq!(parse(&sheet.to_toml().unwrap()), Ok(sheet));
        }
    }
}
