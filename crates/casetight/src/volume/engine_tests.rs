//! Crank and engine against independent scripts, by hand and by simulation.

use super::*;
use crate::measured::{Evaluation, monte_carlo};
use proptest::prelude::*;
use uom::si::angle::degree;
use uom::si::length::millimeter;
use uom::si::ratio::ratio;
use uom::si::volume::cubic_centimeter;

/// Lengths, volumes and angles are a few operations from their inputs: some units in the last place.
const ROUNDING: f64 = 1e-13;

const NORMAL: Evaluation = Evaluation::TypeB(Distribution::Normal);

fn mm(value: f64) -> Length {
    Length::new::<millimeter>(value)
}

fn deg(value: f64) -> Angle {
    Angle::new::<degree>(value)
}

fn length(value: f64, uncertainty: f64) -> Measured<Length> {
    Measured::new(mm(value), mm(uncertainty), NORMAL).unwrap()
}

fn number(value: f64, uncertainty: f64) -> Measured<Ratio> {
    Measured::new(
        Ratio::new::<ratio>(value),
        Ratio::new::<ratio>(uncertainty),
        NORMAL,
    )
    .unwrap()
}

fn cm3(value: f64, uncertainty: f64) -> Measured<Volume> {
    let volume = Volume::new::<cubic_centimeter>;
    Measured::new(volume(value), volume(uncertainty), NORMAL).unwrap()
}

fn in_cm3(volume: &Measured<Volume>) -> f64 {
    volume.value().get::<cubic_centimeter>()
}

/// An engine of the given swept volume [cm3] at a stroke of 40 mm.
fn engine_of(swept: f64, primary: f64) -> Engine {
    let bore = (swept * 1000.0 / (FRAC_PI_4 * 40.0)).sqrt();
    Engine::new(
        length(bore, 0.0),
        length(40.0, 0.0),
        length(80.0, 0.0),
        number(primary, 0.0),
    )
    .unwrap()
}

/// A blower's engine with uncertainties as a bench would state them.
fn blower() -> Engine {
    Engine::new(
        length(40.0, 0.03),
        length(34.0, 0.03),
        length(62.0, 0.3),
        number(1.45, 0.02),
    )
    .unwrap()
    .with_compression_ratio(number(8.0, 0.3))
    .unwrap()
}

#[test]
fn travel_agrees_with_an_independent_script() {
    // Independent script: s = r (1 - cos a) + l - sqrt(l^2 - r^2 sin^2 a), printed to 1e-4 mm.
    for (stroke, rod, table) in [
        (
            60.0,
            110.0,
            [
                (30.0, 5.0468),
                (60.0, 18.1122),
                (90.0, 34.1699),
                (110.0, 43.9343),
                (120.0, 48.1122),
            ],
        ),
        (
            34.0,
            62.0,
            [
                (30.0, 2.8630),
                (60.0, 10.2733),
                (90.0, 19.3762),
                (110.0, 24.9077),
                (120.0, 27.2733),
            ],
        ),
        (
            32.0,
            60.0,
            [
                (30.0, 2.6793),
                (60.0, 9.6219),
                (90.0, 18.1727),
                (110.0, 23.3866),
                (120.0, 25.6219),
            ],
        ),
    ] {
        let crank = Crank::new(mm(stroke), mm(rod)).unwrap();
        for (angle, travel) in table {
            let got = crank.travel(deg(angle)).unwrap().get::<millimeter>();
            assert!(
                (got - travel).abs() < 5.1e-5,
                "{stroke}/{rod} at {angle}: {got}"
            );
        }
    }
}

#[test]
fn case_volumes_agree_with_an_independent_script() {
    // Independent script: V(bottom) = V_swept/(ratio - 1), V(top) = V(bottom) + V_swept, printed to 0.1 cm3.
    for (swept, primary, bottom, top) in [
        (50.0, 1.4, 125.0, 175.0),
        (65.0, 1.5, 130.0, 195.0),
        (35.0, 1.45, 77.8, 112.8),
    ] {
        let engine = engine_of(swept, primary);
        let at = |degrees| in_cm3(&engine.at(deg(degrees)).unwrap().case_side);
        assert!((at(180.0) - bottom).abs() < 0.051);
        assert!((at(0.0) - top).abs() < 0.051);
    }
}

#[test]
fn half_a_square_engine_by_hand() {
    // Self-consistency: swept 40 cm3, primary 1.5, compression 9, so case 80, clearance 5, rig 12 cm3.
    let engine = engine_of(40.0, 1.5)
        .with_compression_ratio(number(9.0, 0.0))
        .unwrap();
    let whole = |piston| TestedVolume::from_engine(&engine, piston, &cm3(12.0, 0.0)).unwrap();
    let volume = |piston| in_cm3(whole(piston).volume());
    assert!((volume(Piston::Bottom) - 137.0).abs() < 1e-10);
    assert!((volume(Piston::Top) - 132.0).abs() < 1e-10);
    let shut = "90 deg, transfers shut".parse().unwrap();
    // r = 20, l = 80: s(90 deg) = 20 + 80 - sqrt(6000) mm.
    let left = 40.0 - (100.0 - 6000.0_f64.sqrt());
    assert!((volume(shut) - (92.0 + left)).abs() < 1e-10);
    let open = "130 deg, transfers open".parse().unwrap();
    assert_eq!(volume(open), volume(Piston::Bottom));
    let bottom = whole(Piston::Bottom);
    let names: Vec<_> = bottom
        .parts()
        .iter()
        .map(|part| part.name.as_ref())
        .collect();
    assert_eq!(
        names,
        ["case at bottom", "swept volume", "clearance at top", "rig"]
    );
    assert_eq!(
        whole(Piston::Top).volume().standard_uncertainty().value,
        0.0
    );
    assert_eq!(whole(Piston::Top).method(), Method::EngineDimensions);
}

#[test]
fn uncertainty_goes_through_the_whole_sum_at_once() {
    let (engine, rig) = (blower(), cm3(15.0, 1.5));
    let tested = TestedVolume::from_engine(&engine, Piston::Bottom, &rig).unwrap();
    // By hand: V = V_s k + V_rig with k = 1 + 1/(P - 1) + 1/(C - 1).
    let swept = FRAC_PI_4 * 4.0 * 4.0 * 3.4;
    let k = 1.0 + 1.0 / 0.45 + 1.0 / 7.0;
    let parts = [
        2.0 * swept * k * 0.03 / 40.0,
        swept * k * 0.03 / 34.0,
        -swept * 0.02 / 0.45_f64.powi(2),
        -swept * 0.3 / 49.0,
        1.5,
    ];
    let u = parts.iter().map(|part| part * part).sum::<f64>().sqrt();
    let got = tested
        .volume()
        .standard_uncertainty()
        .get::<cubic_centimeter>();
    assert!((got / u - 1.0).abs() < ROUNDING, "{got} {u}");
    assert!((in_cm3(tested.volume()) / (swept * k + 15.0) - 1.0).abs() < ROUNDING);
    for (contribution, part) in tested.contributions().iter().zip(parts) {
        let got = contribution.uncertainty * 1e6;
        assert!((got / part - 1.0).abs() < 1e-12, "{contribution:?} {part}");
    }
    let shares: f64 = tested
        .contributions()
        .iter()
        .map(|c| c.variance_share)
        .sum();
    assert!((shares - 1.0).abs() < ROUNDING);
    // The parts share bore, stroke and the ratio's swept volume: in quadrature they give another number.
    let quadrature = tested
        .parts()
        .iter()
        .map(|part| {
            part.volume
                .standard_uncertainty()
                .get::<cubic_centimeter>()
                .powi(2)
        })
        .sum::<f64>()
        .sqrt();
    assert!(quadrature < got);
}

#[test]
fn first_order_agrees_with_monte_carlo_for_usual_uncertainties() {
    let engine = blower();
    let rig = cm3(15.0, 1.5);
    let piston: Piston = "60 +- 2 deg, transfers shut".parse().unwrap();
    let tested = TestedVolume::from_engine(&engine, piston, &rig).unwrap();
    let (after_top, half_width) = piston.angle();
    let angle =
        Measured::from_half_width(after_top, half_width, Distribution::Rectangular).unwrap();
    let [bore, stroke, rod, primary] = engine.case_inputs();
    let inputs = [
        bore,
        stroke,
        rod,
        primary,
        angle.input(ANGLE),
        rig.input(RIG),
    ];
    // Written from the textbook's form, not the code's.
    let run = monte_carlo(&inputs, None, 100_000, 7, |[b, s, l, p, t, rig]| {
        let r = s / 2.0;
        let down = r - r * t.cos() + l - (l * l - (r * t.sin()).powi(2)).sqrt();
        let area = b * b * FRAC_PI_4;
        area * s * p / (p - 1.0) - area * down + rig
    })
    .unwrap();
    let volume = tested.volume();
    // 1/(P - 1) bends: (u/(P - 1))^2 = 0.2 % of the case volume in the mean, about as much in u; 0.3 % from sampling.
    let bias = run.mean() / volume.value().value - 1.0;
    assert!(bias.abs() < 3e-3, "{bias}");
    let spread = run.standard_uncertainty() / volume.standard_uncertainty().value - 1.0;
    assert!(spread.abs() < 0.012, "{spread}");
    // The angle counts, but little.
    let share = tested.contributions()[4].variance_share;
    assert!((0.001..0.1).contains(&share), "{share}");
}

#[test]
fn a_turn_starts_at_the_top_and_is_even() {
    let turn = blower().over_a_turn(36).unwrap();
    assert_eq!(turn.len(), 36);
    assert_eq!(turn[0].after_top.value, 0.0);
    assert_eq!(turn[0].travel.value().value, 0.0);
    for point in &turn {
        let mirrored = blower().at(deg(360.0) - point.after_top).unwrap();
        let relative = point.case_side.value() / mirrored.case_side.value();
        assert!((relative.value - 1.0).abs() < ROUNDING);
    }
    let cylinder = |point: &TurnPoint| in_cm3(point.cylinder_side.as_ref().unwrap());
    assert!((cylinder(&turn[18]) / cylinder(&turn[0]) - 8.0).abs() < 1e-12);
    assert!(matches!(
        blower().over_a_turn(0),
        Err(VolumeError::NoAngles)
    ));
    assert!(
        engine_of(40.0, 1.5)
            .at(deg(10.0))
            .unwrap()
            .cylinder_side
            .is_none()
    );
}

#[test]
fn impossible_dimensions_are_refused() {
    for got in [0.0, -1.0, f64::INFINITY, f64::NAN] {
        let error = Crank::new(mm(got), mm(60.0)).unwrap_err();
        assert!(matches!(error, VolumeError::Length { name: "stroke", .. }));
        let error = Crank::new(mm(34.0), mm(got)).unwrap_err();
        assert!(matches!(error, VolumeError::Length { name: "rod", .. }));
    }
    for rod in [10.0, 17.0] {
        let error = Crank::new(mm(34.0), mm(rod)).unwrap_err();
        assert!(matches!(error, VolumeError::Rod { .. }), "{error}");
    }
    let engine = |bore, primary| {
        Engine::new(
            length(bore, 0.0),
            length(34.0, 0.0),
            length(62.0, 0.0),
            primary,
        )
    };
    assert!(matches!(
        engine(0.0, number(1.45, 0.0)),
        Err(VolumeError::Length { name: "bore", .. })
    ));
    for primary in [number(1.0, 0.0), number(0.7, 0.0), number(1.1, 0.06)] {
        let error = engine(40.0, primary).unwrap_err();
        assert!(
            matches!(error, VolumeError::Ratio { name: PRIMARY, .. }),
            "{error}"
        );
    }
    let error = blower()
        .with_compression_ratio(number(1.0, 0.0))
        .unwrap_err();
    assert!(matches!(
        error,
        VolumeError::Ratio {
            name: COMPRESSION,
            ..
        }
    ));
}

#[test]
fn impossible_tests_are_refused() {
    let rig = cm3(15.0, 0.0);
    let refused = |engine: &Engine, piston: Piston, rig: &Measured<Volume>| {
        TestedVolume::from_engine(engine, piston, rig).unwrap_err()
    };
    let engine = engine_of(40.0, 1.5);
    let error = refused(&engine, Piston::Bottom, &rig);
    assert_eq!(error, VolumeError::NoCompressionRatio);
    let error = refused(&engine, Piston::Top, &cm3(-1.0, 0.0));
    assert!(matches!(error, VolumeError::Rig { .. }));
    let piston = Piston::Angle {
        after_top: deg(f64::NAN),
        half_width: deg(0.0),
        transfers: Transfers::Shut,
    };
    let error = refused(&engine, piston, &rig);
    assert!(matches!(error, VolumeError::Piston(_)));
    let speck = Engine::new(
        length(1e-150, 0.0),
        length(1e-150, 0.0),
        length(1e-150, 0.0),
        number(1.5, 0.0),
    );
    let error = refused(&speck.unwrap(), Piston::Top, &cm3(0.0, 0.0));
    assert!(matches!(
        error,
        VolumeError::NotPositive { .. } | VolumeError::Measured(_)
    ));
    let crank = engine.crank();
    for travel in [-0.1, 40.1, f64::NAN] {
        let error = crank.angle(mm(travel)).unwrap_err();
        assert!(matches!(error, VolumeError::Travel { .. }));
    }
    for angle in [f64::NAN, f64::INFINITY] {
        assert!(matches!(
            crank.travel(deg(angle)),
            Err(VolumeError::Angle { .. })
        ));
        assert!(matches!(
            engine.at(deg(angle)),
            Err(VolumeError::Angle { .. })
        ));
    }
}

prop_compose! {
    fn cranks()(stroke in 20.0..80.0_f64, rods in 0.55..3.0_f64) -> Crank {
        Crank::new(mm(stroke), mm(stroke * rods)).unwrap()
    }
}

proptest! {
    #[test]
    fn travel_goes_down_steadily(crank in cranks(), a in 0.0..180.0_f64, b in 0.0..180.0_f64) {
        let (low, high) = (a.min(b), a.max(b));
        let travel = |angle| crank.travel(deg(angle)).unwrap();
        let slack = crank.stroke() * ROUNDING;
        prop_assert!(travel(low) <= travel(high) + slack);
        prop_assert!(travel(0.0).value == 0.0);
        prop_assert!((travel(180.0) - crank.stroke()).abs() <= slack);
    }

    #[test]
    fn angle_undoes_travel(crank in cranks(), angle in 0.0..180.0_f64) {
        let travel = crank.travel(deg(angle)).unwrap().min(crank.stroke());
        let back = crank.angle(travel).unwrap();
        // Near bottom dead center the travel's last digit is the angle's eighth, so compare what can be told:
        // the travel at the angle found.
        let again = crank.travel(back).unwrap();
        prop_assert!((again - travel).abs() <= crank.stroke() * ROUNDING);
        if angle < 170.0 {
            prop_assert!((back.get::<degree>() - angle).abs() < 1e-9, "{}", back.get::<degree>());
        }
    }

    #[test]
    fn derivative_is_the_slope(crank in cranks(), angle in 0.0..360.0_f64) {
        let h = 1e-3;
        let travel = |angle| crank.travel(deg(angle)).unwrap().value;
        let slope = (travel(angle + h) - travel(angle - h)) / (2.0 * h.to_radians());
        let got = crank.travel_dual(deg(angle)).unwrap().eps;
        // Central difference: its third-order term and the travels' rounding over h, with room for short rods.
        prop_assert!((got - slope).abs() < 1e-6 * crank.stroke().value, "{got} {slope}");
    }

    #[test]
    fn case_and_cylinder_share_the_swept_volume(
        bore in 30.0..60.0_f64, stroke in 25.0..60.0_f64, primary in 1.2..2.0_f64, angle in 0.0..360.0_f64,
    ) {
        let engine = Engine::new(
            length(bore, 0.1), length(stroke, 0.1), length(1.8 * stroke, 0.5), number(primary, 0.01),
        ).unwrap().with_compression_ratio(number(8.0, 0.1)).unwrap();
        let swept = engine.swept_volume().unwrap().value();
        let (top, here, bottom) =
            (engine.at(deg(0.0)).unwrap(), engine.at(deg(angle)).unwrap(), engine.at(deg(180.0)).unwrap());
        let slack = top.case_side.value() * ROUNDING;
        prop_assert!((top.case_side.value() - bottom.case_side.value() - swept).abs() <= slack);
        let quotient = top.case_side.value() / bottom.case_side.value();
        prop_assert!((quotient.value - primary).abs() <= 1e-12);
        let both = |point: &TurnPoint| point.case_side.value() + point.cylinder_side.as_ref().unwrap().value();
        prop_assert!((both(&here) - both(&top)).abs() <= slack);
        let tested = TestedVolume::from_engine(&engine, Piston::Bottom, &cm3(0.0, 0.0)).unwrap();
        prop_assert!((both(&here) - tested.volume().value()).abs() <= slack);
        let parts: Volume = tested.parts().iter().map(|part| part.volume.value()).sum();
        prop_assert!((parts - tested.volume().value()).abs() <= slack);
    }
}
