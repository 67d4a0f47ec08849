//! Sessions of sheets that know the displacement only: what is covered, what is decided, what is said.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, Normal};
use uom::si::area::square_millimeter;
use uom::si::time::second;
use uom::si::volume::cubic_centimeter;

use super::*;
use crate::sheet::NoTraces;
use casetight::gas::{Gas, GasState};
use casetight::leak::EffectiveArea;
use casetight::quantity::{AbsolutePressure, Area, Time, TradeUnits, Volume};
use casetight::vessel::IsothermalDecay;
use casetight::volume::{PRIMARY_RATIOS, TRANSFERS_OPEN_DEG, USUAL_RIG_CM3};

const DISPLACEMENT: &str = "displacement = \"51.5 cm3\"";

fn parse(text: &str) -> Result<Sheet, SheetError> {
    Sheet::parse(text, "sheet.toml", &NoTraces)
}

/// Readings of a hole in an engine, each 15 s for 4 min, as a gauge of 0.02 kPa shows them.
fn readings(area_mm2: f64, volume_cm3: f64, draw: &mut ChaCha8Rng) -> String {
    let ambient = AbsolutePressure::parse("1013 hPa").unwrap();
    let decay = IsothermalDecay::new(
        EffectiveArea::new(Area::new::<square_millimeter>(area_mm2)).unwrap(),
        Volume::new::<cubic_centimeter>(volume_cm3),
        GaugePressure::from_pascals(48e3).unwrap(),
        GasState {
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
        let Outcome::Fitted(run) = &session.runs[0].assessment.outcome else {
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
        let sure = |run: &RunAssessment| run.sureness().unwrap();
        assert!((sure(&wide_run) - sure(&narrow_run)).abs() < 0.01);
        // A limit of the area honors the width.
        let by_area = assessed(&wide.replace(limit, by_area));
        assert_eq!(by_area.verdict, Some(Verdict::Undecided));
    }
}

#[test]
fn assess_says_once_what_the_volume_is_taken_from() {
    let one = blower(
        DISPLACEMENT,
        "",
        "readings = [[0, 48.0], [60, 43.0], [120, 38.5]]",
    );
    let two = format!(
        "{one}[[run]]\nname = \"again\"\nreadings = [[0, 48.0], [60, 43.0], [120, 38.5]]\n"
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
    let by_speed = said(&blower(
        DISPLACEMENT,
        "[limit]\nmin_hold = \"1 min\"",
        "readings = [[0, 48.0], [60, 43.0], [120, 38.5]]",
    ));
    assert!(
        by_speed[0].ends_with("which hardly asks for the volume"),
        "{}",
        by_speed[0]
    );
    assert!(!by_speed[0].contains("would bring"));
    let measured = one.replace(
        "[engine]\ndisplacement = \"51.5 cm3\"",
        "[volume]\nvalue = \"186 cm3\"\nuncertainty = \"30 cm3\"",
    );
    assert!(said(&measured).is_empty());
}
