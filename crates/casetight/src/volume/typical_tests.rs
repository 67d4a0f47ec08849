//! The volume of engines that are drawn from what is typical, and what of it is told.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::*;
use crate::numerics::probability::Z_95;
use crate::volume::bench::{cm3, mm, number};
use crate::volume::{Engine, PistonError};

const SWEPT_CM3: f64 = 51.5;

fn saw() -> Outline {
    Outline::of_displacement(cm3(SWEPT_CM3, 0.03)).unwrap()
}

fn volume(outline: &Outline, piston: Option<Piston>) -> TestedVolume {
    TestedVolume::from_outline(outline, piston, &cm3(20.0, 1.0)).unwrap()
}

fn value_and_u(tested: &TestedVolume) -> (f64, f64) {
    let cm3 = |v: Volume| v.get::<cubic_centimeter>();
    let volume = tested.volume();
    (cm3(volume.value()), cm3(volume.standard_uncertainty()))
}

/// Whether the 95 % interval of a volume, even on the logarithm as a fit takes it, holds a true one.
fn holds(tested: &TestedVolume, truth: f64) -> bool {
    let (value, u) = value_and_u(tested);
    (truth / value).ln().abs() <= Z_95 * u / value
}

fn between(draw: &mut ChaCha8Rng, (least, most): (f64, f64)) -> f64 {
    draw.random_range(least..most)
}

/// Independent script: volume \[cm3\] of an engine of these ratios, piston by the slider-crank in its textbook form.
fn truth(draw: &mut ChaCha8Rng, degrees: f64) -> f64 {
    let case = SWEPT_CM3 / (between(draw, PRIMARY_RATIOS) - 1.0);
    let clearance = SWEPT_CM3 / (between(draw, COMPRESSION_RATIOS) - 1.0);
    let rod = between(draw, ROD_LENGTHS);
    let theta = degrees.to_radians();
    let gone = 0.5 * (1.0 - theta.cos()) + rod - (rod * rod - 0.25 * theta.sin().powi(2)).sqrt();
    let cylinder = if degrees < TRANSFERS_OPEN_DEG {
        SWEPT_CM3 * (1.0 - gone)
    } else {
        SWEPT_CM3 + clearance
    };
    case + cylinder + 20.0 + between(draw, (-1.7, 1.7))
}

/// With the piston told, and not told, at either end and anywhere, the interval holds as many engines as it says.
#[test]
fn intervals_hold_engines_of_the_stated_ranges() {
    const ENGINES: usize = 4000;
    let mut draw = ChaCha8Rng::seed_from_u64(20);
    let [bottom, top, anywhere] =
        [Some(Piston::Bottom), Some(Piston::Top), None].map(|piston| volume(&saw(), piston));
    let shut: Piston = "70 deg, transfers shut".parse().unwrap();
    let shut = volume(&saw(), Some(shut));
    for (tested, degrees) in [
        (&bottom, Some(180.0)),
        (&top, Some(0.0)),
        (&shut, Some(70.0)),
        (&anywhere, None),
        (&anywhere, Some(180.0)),
        (&anywhere, Some(0.0)),
    ] {
        let held = (0..ENGINES).filter(|_| {
            let at = degrees.unwrap_or_else(|| between(&mut draw, (0.0, 180.0)));
            holds(tested, truth(&mut draw, at))
        });
        let covered = held.count() as f64 / ENGINES as f64;
        assert!(covered >= 0.95, "{degrees:?}: {covered}");
    }
}

/// Mean and spread are those of the engines, which first order about the middle of the ratio misses.
#[test]
fn mean_and_spread_are_those_of_the_engines() {
    const ENGINES: usize = 40_000;
    let mut draw = ChaCha8Rng::seed_from_u64(21);
    for (piston, degrees) in [(Some(Piston::Bottom), Some(180.0)), (None, None)] {
        let each: Vec<f64> = (0..ENGINES)
            .map(|_| {
                let at = degrees.unwrap_or_else(|| between(&mut draw, (0.0, 180.0)));
                truth(&mut draw, at)
            })
            .collect();
        let mean = each.iter().sum::<f64>() / ENGINES as f64;
        let squares: f64 = each.iter().map(|v| (v - mean).powi(2)).sum();
        let sd = (squares / ENGINES as f64).sqrt();
        let (value, u) = value_and_u(&volume(&saw(), piston));
        // The trials' own scatter, and what rod and clearance do together: well below the 4 % and 8 % of first order.
        assert!((value / mean - 1.0).abs() < 0.004, "{value} {mean}");
        assert!((u / sd - 1.0).abs() < 0.015, "{u} {sd}");
    }
}

#[test]
fn all_that_is_known_gives_the_volume_of_the_dimensions() {
    let [bore, stroke, rod] = [mm(46.0, 0.02), mm(31.0, 0.02), mm(55.0, 0.0)];
    let (primary, compression) = (number(1.42, 0.01), number(7.1, 0.1));
    let engine = Engine::new(bore.clone(), stroke.clone(), rod.clone(), primary.clone())
        .and_then(|engine| engine.with_compression_ratio(compression.clone()))
        .unwrap();
    let outline = Outline::of_bore_and_stroke(bore, stroke)
        .and_then(|outline| outline.with_primary_compression_ratio(primary))
        .and_then(|outline| outline.with_compression_ratio(compression))
        .unwrap()
        .with_crank(engine.crank());
    let rig = cm3(18.0, 1.0);
    for piston in ["bottom", "top", "60 +- 2 deg, transfers shut"] {
        let piston: Piston = piston.parse().unwrap();
        let by_outline = TestedVolume::from_outline(&outline, Some(piston), &rig).unwrap();
        let by_engine = TestedVolume::from_engine(&engine, piston, &rig).unwrap();
        let ((v, u), (w, w_u)) = (value_and_u(&by_outline), value_and_u(&by_engine));
        assert!((v / w - 1.0).abs() < 1e-12 && (u / w_u - 1.0).abs() < 1e-4);
        assert_eq!(by_outline.typical().count(), 0);
        assert_eq!(
            by_outline.parts()[0].volume.value(),
            by_engine.parts()[0].volume.value()
        );
    }
}

#[test]
fn what_is_typical_is_told_with_its_share() {
    use Typical::{CompressionRatio, Position, PrimaryRatio, Rod};
    let told = |tested: &TestedVolume| -> Vec<Typical> {
        let those = tested.typical().filter(|(_, share)| *share > 0.0);
        those.map(|(typical, _)| typical).collect()
    };
    assert_eq!(told(&volume(&saw(), None)), [PrimaryRatio, Position]);
    assert_eq!(
        told(&volume(&saw(), Some(Piston::Bottom))),
        [PrimaryRatio, CompressionRatio]
    );
    assert_eq!(told(&volume(&saw(), Some(Piston::Top))), [PrimaryRatio]);
    let shut: Piston = "70 deg, transfers shut".parse().unwrap();
    assert_eq!(told(&volume(&saw(), Some(shut))), [PrimaryRatio, Rod]);
    let known = saw()
        .with_primary_compression_ratio(number(1.42, 0.02))
        .unwrap();
    let tested = volume(&known, None);
    assert_eq!(told(&tested), [Position]);
    let shares: f64 = tested
        .contributions()
        .iter()
        .map(|c| c.variance_share)
        .sum();
    assert!((shares - 1.0).abs() < 1e-12);
    assert_eq!(
        Typical::ALL.map(|typical| typical.to_string()),
        [
            "a primary compression ratio of 1.3 to 1.6",
            "a compression ratio of 7 to 12",
            "a rod of 1.6 to 2.1 strokes",
            "a piston that stands anywhere",
        ]
    );
}

#[test]
fn what_cant_be_is_refused() {
    assert!(matches!(
        Outline::of_displacement(cm3(0.0, 0.0)),
        Err(VolumeError::Input {
            name: "displacement",
            ..
        })
    ));
    assert!(matches!(
        Outline::of_bore_and_stroke(mm(46.0, 0.0), mm(-31.0, 0.0)),
        Err(VolumeError::Length { name: "stroke", .. })
    ));
    assert!(matches!(
        saw().with_primary_compression_ratio(number(1.05, 0.03)),
        Err(VolumeError::Ratio { .. })
    ));
    assert!(matches!(
        TestedVolume::from_outline(&saw(), None, &cm3(-1.0, 0.0)),
        Err(VolumeError::Rig { .. })
    ));
    let far = Piston::Angle {
        after_top: uom::si::f64::Angle::new::<uom::si::angle::degree>(700.0),
        half_width: uom::si::f64::Angle::new::<uom::si::angle::degree>(0.0),
        transfers: Transfers::Shut,
    };
    assert!(matches!(
        TestedVolume::from_outline(&saw(), Some(far), &cm3(1.0, 0.0)),
        Err(VolumeError::Piston(PistonError::OutOfTurn { .. }))
    ));
    // 46 mm and 31 mm make 51.52 cm3.
    let by_bore = || Outline::of_bore_and_stroke(mm(46.0, 0.02), mm(31.0, 0.02)).unwrap();
    let refused = by_bore().beside_displacement(&cm3(60.0, 0.3)).unwrap_err();
    assert_eq!(
        refused.to_string(),
        "a displacement of 60.00 cm3 contradicts bore and stroke, which make 51.52 cm3; correct the one that is wrong, or leave \
         the displacement out"
    );
    for stated in [51.5, 52.0, 51.0] {
        assert_eq!(
            by_bore().beside_displacement(&cm3(stated, 0.0)).unwrap(),
            by_bore()
        );
    }
}

#[test]
fn a_usual_rig_is_said_to_be_one() {
    let rig = usual_rig().unwrap();
    assert_eq!(rig.source(), USUAL_RIG);
    let u = rig.standard_uncertainty().get::<cubic_centimeter>();
    assert!((u - 15.0 / 3.0_f64.sqrt()).abs() < 1e-12);
}
