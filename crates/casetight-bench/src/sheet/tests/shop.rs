//! Sheets of what a shop knows: the displacement, or a little more.

use super::{FULL, SMALLEST, parse, refused};
use crate::narrow::Measurement;
use crate::sheet::*;
use casetight::volume::{Method, Typical, USUAL_RIG};
use uom::si::volume::cubic_centimeter;

const DISPLACEMENT: &str = "displacement = \"51.5 cm3\"\ndisplacement_uncertainty = \"0.1 cm3\"";

fn cm3(volume: Volume) -> f64 {
    volume.get::<cubic_centimeter>()
}

fn tested(text: &str) -> TestedVolume {
    let sheet = parse(text).unwrap_or_else(|error| panic!("{error}\n{text}"));
    let again = sheet.to_toml().unwrap();
    assert_eq!(parse(&again).unwrap(), sheet, "{again}");
    sheet.volume_of(&sheet.runs[0]).unwrap()
}

/// Keys of `[engine]` and of the run, and the volume \[cm3\] and its relative standard uncertainty.
///
/// By hand: 51.52 (1/(r - 1) + f) + 25 cm3, where 1/(r - 1) has the mean ln(0.6/0.3)/0.3 = 2.3105 and the mean square 1/(0.3 0.6); the clearance
/// ln(11/6)/5 = 0.1212, or 1/6.1; at 60 deg f = 1 - 0.3014.
#[rustfmt::skip] // one case, one line
const PARTS: [(&str, &str, f64, f64); 9] = [
    ("displacement = \"51.52 cm3\"", TOP, 195.6, 0.131),
    ("bore = \"46 mm\"\nstroke = \"31 mm\"", TOP, 195.6, 0.132),
    ("bore = \"46 mm\"\nstroke = \"31 mm\"\nrod = \"55 mm\"", TOP, 195.6, 0.132),
    ("displacement = \"51.5 cm3\"\nbore = \"46 mm\"", TOP, 195.5, 0.131),
    ("displacement = \"51.52 cm3\"\nprimary_compression_ratio = 1.45\nprimary_compression_ratio_uncertainty = 0.01", TOP, 191.0, 0.047),
    ("displacement = \"51.52 cm3\"", "piston = \"bottom\"", 201.9, 0.127),
    ("displacement = \"51.52 cm3\"\ncompression_ratio = \"7.1\"", "piston = \"bottom\"", 204.0, 0.126),
    ("displacement = \"51.52 cm3\"", "", 186.1, 0.161),
    ("displacement = \"51.52 cm3\"", "piston = \"60 deg, transfers shut\"", 180.0, 0.142),
];

const TOP: &str = "piston = \"top\"";

#[test]
fn any_part_of_the_dimensions_gives_a_volume() {
    for (keys, piston, value, relative) in PARTS {
        let text = SMALLEST.replace(DISPLACEMENT, keys);
        let run = format!("name = \"all blanked\"\n{piston}");
        let volume = tested(&text.replace("name = \"all blanked\"", &run));
        let got = (
            cm3(volume.volume().value()),
            volume.volume().relative().unwrap(),
        );
        let near = (got.0 - value).abs() < 0.1 && (got.1 - relative).abs() < 0.001;
        assert!(near, "{keys} {piston}: {got:?}");
        assert_eq!(volume.method(), Method::EngineOutline);
    }
}

#[test]
fn all_dimensions_but_the_cylinders_ratio_are_enough_at_the_bottom() {
    let ratio = "compression_ratio = \"8.2:1\"\ncompression_ratio_uncertainty = 0.1\n";
    let sheet = parse(&FULL.replace(ratio, "")).unwrap();
    let [bottom, top] = [0, 2].map(|run| sheet.volume_of(&sheet.runs[run]).unwrap());
    let taken: Vec<Typical> = bottom.typical().map(|(typical, _)| typical).collect();
    assert_eq!(taken, [Typical::CompressionRatio]);
    assert_eq!(top.method(), Method::EngineDimensions);
}

#[test]
fn a_rig_that_nobody_measured_is_a_usual_one() {
    let sheet = parse(SMALLEST).unwrap();
    let Space::Engine { rig, .. } = &sheet.space else {
        panic!("no engine");
    };
    assert_eq!((rig.source(), sheet.space.rig()), (USUAL_RIG, None));
    assert!(!sheet.to_toml().unwrap().contains("[rig]"));
    // Nobody knows its volume where it is tested alone.
    let alone = format!(
        "{SMALLEST}[[run]]\nname = \"rig\"\nrig_alone = true\nreadings = [[0, 7.0], [30, 7.0]]\n"
    );
    refused(
        &alone,
        "",
        "",
        "run[2].rig_alone",
        "true",
        "write the volume itself",
    );
    let stated = tested(&SMALLEST.replace(
        "[ambient]",
        "[rig]\nvolume = \"25 cm3\"\nuncertainty = \"1 cm3\"\n[ambient]",
    ));
    assert!(stated.volume().relative() < tested(SMALLEST).volume().relative());
    // All dimensions, without a rig.
    let full = FULL.replace("[rig]\nvolume = \"35 cm3\"\nuncertainty = \"3 cc\"", "");
    assert!((cm3(tested(&full).volume().value()) - 310.5).abs() < 0.1);
}

#[test]
fn the_piston_is_asked_for_where_the_case_is_known() {
    let known = SMALLEST.replace("[ambient]", "primary_compression_ratio = 1.45\n[ambient]");
    refused(
        &known,
        "",
        "",
        "run[1].piston",
        "[[run]]",
        "depends on where the piston stands",
    );
    assert!(
        parse(&known.replace(
            "name = \"all blanked\"",
            "name = \"all blanked\"\npiston = \"top\""
        ))
        .is_ok()
    );
    // Beside a measured volume, which is of one position that nobody need state.
    let beside = SMALLEST.replace(
        "[ambient]",
        "[volume]\nvalue = \"200 cm3\"\nuncertainty = \"4 cm3\"\n[ambient]",
    );
    assert_eq!(tested(&beside).method(), Method::Combined);
}

/// What narrows the volume most, by the methods' own models: what the bench can't do is left out, and what is done keeps what was foretold.
#[test]
fn one_more_measurement_narrows_the_volume_as_foretold() {
    use Measurement::{Expansion, Filling, FillingAndRig, PrimaryRatio, Strokes};
    let ways = |text: &str| {
        let sheet = parse(text).unwrap();
        let outlook = sheet.volume_outlook(sheet.runs[0].piston).unwrap();
        outlook.ways
    };
    let kinds =
        |text: &str| -> Vec<Measurement> { ways(text).iter().map(|way| way.measurement).collect() };
    // A dial in half psi can't tell what a bottle loses.
    assert_eq!(kinds(SMALLEST), [FillingAndRig, PrimaryRatio, Strokes]);
    let fine = SMALLEST.replace(
        "unit = \"psi\"\ndivision = \"0.5 psi\"",
        "unit = \"kPa\"\nresolution = \"0.1 kPa\"",
    );
    assert_eq!(kinds(&fine), [FillingAndRig, Expansion, PrimaryRatio]);
    let rig = "[rig]\nvolume = \"25 cm3\"\nuncertainty = \"+- 1 cm3\"\n[ambient]";
    let with_rig = SMALLEST.replace("[ambient]", rig);
    assert_eq!(kinds(&with_rig), [Filling, PrimaryRatio, Strokes]);
    // The ratio that was foretold, stated.
    let foretold = ways(&with_rig)[1].relative_uncertainty;
    let stated = "primary_compression_ratio = 1.433\nprimary_compression_ratio_uncertainty = \"+- 0.02\"\n[rig]";
    let done = with_rig.replace("[rig]", stated).replace(
        "name = \"all blanked\"",
        "name = \"all blanked\"\npiston = \"bottom\"",
    );
    let kept = tested(&done).volume().relative().unwrap();
    assert!((kept / foretold - 1.0).abs() < 0.03, "{kept} {foretold}");
    assert_eq!(kinds(&done), [Filling]);
    // A case of 198 cm3 filled and weighed.
    let filled = "[volume.fill]\nempty = \"3000.0 g\"\nempty_uncertainty = \"+- 0.5 g\"\nfull = \"3137.2 g\"\nfull_uncertainty = \"+- 0.5 g\"\n\
                  density = \"0.86 g/cm3\"\ndensity_uncertainty = \"+- 0.01 g/cm3\"\ntrapped = \"1.6 cm3\"\ntrapped_uncertainty = \"+- 1.6 cm3\"\n\
                  add = [{ name = \"rig\", volume = \"25 cm3\", uncertainty = \"+- 1 cm3\" }]\n[ambient]";
    let shared = with_rig.replace(
        "[ambient]",
        &format!("[volume]\nshared = [\"rig\"]\n{filled}"),
    );
    let kept = tested(&shared).volume().relative().unwrap();
    let foretold = ways(&with_rig)[0].relative_uncertainty;
    assert!((kept / foretold - 1.0).abs() < 0.03, "{kept} {foretold}");
}
