//! Sheets of what a shop knows: the displacement, or a little more.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, Normal};
use uom::si::area::square_millimeter;
use uom::si::time::second;

use super::{FULL, SMALLEST, parse, refused};
use crate::assess::Note;
use crate::narrow::Measurement;
use crate::session::Session;
use crate::sheet::*;
use casetight::gas::Gas;
use casetight::leak::EffectiveArea;
use casetight::limit::Verdict;
use casetight::quantity::{AbsolutePressure, Area, GaugePressure, Time, TradeUnits};
use casetight::vessel::IsothermalDecay;
use casetight::volume::{
    Method, PRIMARY_RATIOS, TRANSFERS_OPEN_DEG, Typical, USUAL_RIG, USUAL_RIG_CM3,
};
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

#[test]
fn any_part_of_the_dimensions_gives_a_volume() {
    let volume = |keys: &str, piston: &str| {
        let text = SMALLEST.replace(DISPLACEMENT, keys);
        let run = format!("name = \"all blanked\"\n{piston}");
        tested(&text.replace("name = \"all blanked\"", &run))
    };
    let top = "piston = \"top\"";
    // By hand: 51.52 (1/(r - 1) + ...) + 25 cm3, with 1/(r - 1) in the mean ln(0.6/0.3)/0.3 = 2.3105.
    for (keys, piston, value, relative) in [
        ("displacement = \"51.52 cm3\"", top, 195.6, 0.131),
        ("bore = \"46 mm\"\nstroke = \"31 mm\"", top, 195.6, 0.132),
        (
            "bore = \"46 mm\"\nstroke = \"31 mm\"\nrod = \"55 mm\"",
            top,
            195.6,
            0.132,
        ),
        (
            "displacement = \"51.5 cm3\"\nbore = \"46 mm\"",
            top,
            195.5,
            0.131,
        ),
        // Known within 0.02: 51.52/0.45 + 51.52 + 25.
        (
            "displacement = \"51.52 cm3\"\nprimary_compression_ratio = 1.45\nprimary_compression_ratio_uncertainty = 0.01",
            top,
            191.0,
            0.047,
        ),
        // The whole cylinder, its clearance typical or 51.52/6.1.
        (
            "displacement = \"51.52 cm3\"",
            "piston = \"bottom\"",
            201.9,
            0.127,
        ),
        (
            "displacement = \"51.52 cm3\"\ncompression_ratio = \"7.1\"",
            "piston = \"bottom\"",
            204.0,
            0.126,
        ),
        ("displacement = \"51.52 cm3\"", "", 186.1, 0.161),
        (
            "displacement = \"51.52 cm3\"",
            "piston = \"60 deg, transfers shut\"",
            180.0,
            0.142,
        ),
    ] {
        let volume = volume(keys, piston);
        let got = (
            cm3(volume.volume().value()),
            volume.volume().relative().unwrap(),
        );
        assert!(
            (got.0 - value).abs() < 0.1 && (got.1 - relative).abs() < 0.001,
            "{keys} {piston}: {got:?}"
        );
        assert_eq!(volume.method(), Method::EngineOutline);
    }
    // All dimensions but the cylinder's ratio are enough at the bottom as well.
    let less = FULL.replace(
        "compression_ratio = \"8.2:1\"\ncompression_ratio_uncertainty = 0.1\n",
        "",
    );
    let sheet = parse(&less).unwrap();
    let bottom = sheet.volume_of(&sheet.runs[0]).unwrap();
    assert_eq!(
        bottom
            .typical()
            .map(|(typical, _)| typical)
            .collect::<Vec<_>>(),
        [Typical::CompressionRatio]
    );
    assert_eq!(
        sheet.volume_of(&sheet.runs[2]).unwrap().method(),
        Method::EngineDimensions
    );
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
    assert!(cm3(tested(&full).volume().value()) - 310.5 < 0.1);
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

/// Readings of a hole in an engine, each 15 s for 4 min, as a gauge of 0.02 kPa shows them.
fn readings(area_mm2: f64, volume_cm3: f64, draw: &mut ChaCha8Rng) -> String {
    let ambient = AbsolutePressure::parse("1013 hPa").unwrap();
    let decay = IsothermalDecay::new(
        EffectiveArea::new(Area::new::<square_millimeter>(area_mm2)).unwrap(),
        Volume::new::<cubic_centimeter>(volume_cm3),
        GaugePressure::from_pascals(48e3).unwrap(),
        casetight::gas::GasState {
            pressure: ambient,
            temperature: TradeUnits::parse("20 C").unwrap(),
        },
        &Gas::dry_air(),
    )
    .unwrap();
    let noise = Normal::new(0.0, 0.02).unwrap();
    let each: Vec<String> = (0..17)
        .map(|n| {
            let t = f64::from(n) * 15.0;
            let kpa = decay.gauge_at(Time::new::<second>(t)).pascals() / 1e3 + noise.sample(draw);
            format!("[{t}, {kpa:.2}]")
        })
        .collect();
    format!("readings = [{}]", each.join(", "))
}

/// A sheet of this engine with these readings.
fn blower(engine: &str, limit: &str, readings: &str) -> String {
    format!(
        r#"format = 1
title = "Invented blower"
[engine]
{engine}
[ambient]
pressure = "1013 hPa"
temperature = "20 C"
drift_allowance = "0.01 K/min"
[heat]
settled_for = "5 min"
[gauge]
unit = "kPa"
resolution = "0.01 kPa"
noise = "0.02 kPa"
{limit}
[[run]]
name = "all blanked"
{readings}
"#
    )
}

/// Engines with the ratios, pistons, hoses and leaks that there are, tested by a sheet that knows the displacement only.
#[test]
fn areas_of_engines_known_by_their_displacement_are_covered() {
    const ENGINES: usize = 120;
    let mut draw = ChaCha8Rng::seed_from_u64(5);
    let mut covered = 0;
    for _ in 0..ENGINES {
        let swept: f64 = draw.random_range(20.0..125.0);
        let case = swept / (draw.random_range(PRIMARY_RATIOS.0..PRIMARY_RATIOS.1) - 1.0);
        let degrees: f64 = draw.random_range(0.0..180.0);
        // The travel of a long rod.
        let cylinder = if degrees < TRANSFERS_OPEN_DEG {
            swept * 0.5 * (1.0 + degrees.to_radians().cos())
        } else {
            swept * (1.0 + 1.0 / draw.random_range(6.0..11.0))
        };
        let volume = case + cylinder + draw.random_range(USUAL_RIG_CM3.0..USUAL_RIG_CM3.1);
        // From next to nothing to half the pressure in the run.
        let area_mm2 = volume * 10_f64.powf(draw.random_range(-6.7..-5.3));
        let engine = format!("displacement = \"{swept:.1} cm3\"");
        let text = blower(&engine, "", &readings(area_mm2, volume, &mut draw));
        let session = Session::assess(&parse(&text).unwrap()).unwrap();
        let crate::assess::Outcome::Fitted(run) = &session.runs[0].assessment.outcome else {
            panic!("stalled");
        };
        let area = run.fit.area.si();
        assert!(area.low >= 0.0 && area.high > area.value);
        if area.low > 0.0 {
            assert!(area.high - area.value > area.value - area.low, "{area:?}");
        }
        covered += usize::from((area.low..=area.high).contains(&(area_mm2 * 1e-6)));
    }
    let covered = covered as f64 / ENGINES as f64;
    assert!(covered >= 0.93, "{covered}");
}

/// The volume cancels between the needle's speed and a limit of it: the verdict is as sure as with a volume that is measured to 1 %.
#[test]
fn a_limit_of_the_needle_s_speed_needs_no_volume() {
    let mut draw = ChaCha8Rng::seed_from_u64(6);
    let limit = "[limit]\nmax_drop = \"3 kPa\"\nfrom = \"48 kPa\"\nover = \"1 min\"";
    let by_area = "[limit]\nmax_area = \"0.00036 mm2\"";
    let known = "[volume]\nvalue = \"186.1 cm3\"\nuncertainty = \"1.8 cm3\"\n[ambient]";
    for (share, verdict) in [(0.9, Verdict::Holds), (1.1, Verdict::Leaks)] {
        // 0.000336 mm2 let it fall by 3 kPa.
        let readings = readings(share * 0.000_336, 186.1, &mut draw);
        let wide = blower("displacement = \"51.5 cm3\"", limit, &readings);
        let narrow = wide.replace("[engine]\ndisplacement = \"51.5 cm3\"\n[ambient]", known);
        assert_ne!(wide, narrow);
        let assessed = |text: &str| {
            Session::assess(&parse(text).unwrap())
                .unwrap()
                .runs
                .remove(0)
                .assessment
        };
        let (wide_run, narrow_run) = (assessed(&wide), assessed(&narrow));
        assert_eq!(
            (wide_run.verdict, narrow_run.verdict),
            (Some(verdict), Some(verdict))
        );
        let sure = |run: &crate::assess::RunAssessment| run.sureness().unwrap();
        assert!((sure(&wide_run) - sure(&narrow_run)).abs() < 0.01);
        // A limit of the area honors the width.
        let by_area = assessed(&wide.replace(limit, by_area));
        assert_eq!(by_area.verdict, Some(Verdict::Undecided));
    }
}

/// What narrows the volume most, by the methods' own models: what the bench can't do is left out, and what is done keeps what was foretold.
#[test]
fn one_more_measurement_narrows_the_volume_as_foretold() {
    let ways = |text: &str| {
        let sheet = parse(text).unwrap();
        let outlook = sheet.volume_outlook(sheet.runs[0].piston).unwrap();
        outlook.ways
    };
    let kinds =
        |text: &str| -> Vec<Measurement> { ways(text).iter().map(|way| way.measurement).collect() };
    use Measurement::{Expansion, Filling, FillingAndRig, PrimaryRatio, Strokes};
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

#[test]
fn assess_says_once_what_the_volume_is_taken_from() {
    let two = format!(
        "{SMALLEST}[[run]]\nname = \"again\"\nreadings = [[0, 7.0], [30, 6.25], [60, 5.5]]\n"
    );
    let said = |text: &str| -> Vec<String> {
        let session = Session::assess(&parse(text).unwrap()).unwrap();
        let notes = session.runs.iter().flat_map(|run| &run.assessment.notes);
        let of_volume = notes.filter(|note| matches!(note, Note::Volume { .. }));
        of_volume.map(ToString::to_string).collect()
    };
    let notes = said(&two);
    assert_eq!(notes.len(), 1);
    assert!(
        notes[0].contains("would bring it to about 0.9 %. Never fuel as the liquid"),
        "{}",
        notes[0]
    );
    let by_speed = said(&SMALLEST.replace("[[run]]", "[limit]\nmin_hold = \"1 min\"\n[[run]]"));
    assert!(
        by_speed[0].ends_with("which hardly asks for the volume"),
        "{}",
        by_speed[0]
    );
    assert!(!by_speed[0].contains("would bring"));
    assert!(said(FULL).is_empty());
}
