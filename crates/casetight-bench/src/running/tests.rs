use std::f64::consts::TAU;

use proptest::prelude::*;
use uom::si::angle::degree;
use uom::si::frequency::hertz;
use uom::si::length::millimeter;
use uom::si::ratio::ratio;
use uom::si::thermodynamic_temperature::kelvin;

use super::*;
use casetight::gas::{Gas, GasState};
use casetight::leak::{Capillary, EffectiveArea, LeakLaw, Orifice, PowerLaw};
use casetight::measured::{Distribution, Measured};
use casetight::quantity::{
    AbsolutePressure, Angle, Frequency, Length, Pressure, Ratio, ThermodynamicTemperature,
    VolumeRate,
};
use casetight::volume::Engine;

fn exact_mm(value: f64) -> Measured<Length> {
    Measured::exact(Length::new::<millimeter>(value)).unwrap()
}

fn number(value: f64) -> Measured<Ratio> {
    Measured::exact(Ratio::new::<ratio>(value)).unwrap()
}

fn degrees(value: f64) -> Measured<Angle> {
    Measured::exact(Angle::new::<degree>(value)).unwrap()
}

fn blower() -> Engine {
    Engine::new(exact_mm(46.0), exact_mm(31.0), exact_mm(55.0), number(1.42)).unwrap()
}

fn ambient() -> GasState {
    GasState {
        pressure: AbsolutePressure::from_pascals(101_325.0).unwrap(),
        temperature: ThermodynamicTemperature::new::<kelvin>(293.15),
    }
}

fn hole(mm2: f64) -> Orifice {
    Orifice::new(EffectiveArea::from_square_meters(mm2 * 1e-6).unwrap())
}

/// The shift at idle or full throttle for best, least and largest hole.
fn lean(
    conditions: &Conditions,
    load: &Load,
    holes: [Option<f64>; 3],
) -> Result<LeanShift, RunningError> {
    let [best, low, high] = holes.map(|mm2| mm2.map(hole));
    let leak = LeakRange {
        law: best.as_ref().unwrap(),
        low: low.as_ref().unwrap(),
        high: high.as_ref().map(|law| law as &dyn LeakLaw),
        level: 0.95,
    };
    LeanShift::new(
        &blower(),
        conditions,
        load,
        (&leak, &leak),
        (ambient(), &Gas::dry_air()),
    )
}

/// Everything exact: only the leak's own interval is left.
fn exact() -> Conditions {
    let typical = Conditions::typical().unwrap();
    let bare = |m: &Measured<Angle>| Measured::exact(m.value()).unwrap();
    let load = |load: &Load| Load {
        speed: load.speed,
        delivery_ratio: Measured::exact(load.delivery_ratio.value()).unwrap(),
    };
    Conditions {
        ports: Ports {
            exhaust_opens: bare(&typical.ports.exhaust_opens),
            transfer_opens: bare(&typical.ports.transfer_opens),
            intake_opens: bare(&typical.ports.intake_opens),
            intake_closes: bare(&typical.ports.intake_closes),
        },
        polytropic_exponent: Measured::exact(typical.polytropic_exponent.value()).unwrap(),
        idle: load(&typical.idle),
        full: load(&typical.full),
    }
}

/// Self-consistency: the pressure has no jump at a port's event, is ambient where the transfers close, and with an exponent
/// of one p V is the gas in the case.
#[test]
fn the_turn_is_continuous_and_closes() {
    let conditions = exact();
    let turn =
        CasePressure::new(&blower(), &conditions, &conditions.idle, ambient().pressure).unwrap();
    for event in turn.events.into_iter().chain([0.0, TAU]) {
        let (before, after) = (
            (event - 1e-9).rem_euclid(TAU),
            (event + 1e-9).rem_euclid(TAU),
        );
        let jump = turn.pascals_at(before) - turn.pascals_at(after);
        assert!(jump.abs() < 1e-2, "{event}: {jump}");
    }
    assert!((turn.pascals_at(turn.events[2]) / 101_325.0 - 1.0).abs() < 1e-12);
    let weights: f64 = turn.middles().map(|(_, weight)| weight).sum();
    assert!((weights - 1.0).abs() < 1e-12);
    let isothermal = Conditions {
        polytropic_exponent: number(1.0),
        ..conditions
    };
    let turn =
        CasePressure::new(&blower(), &isothermal, &isothermal.full, ambient().pressure).unwrap();
    let gas = |degrees: f64| {
        let theta = degrees.to_radians();
        turn.pascals_at(theta) * turn.volume(theta) / 101_325.0
    };
    let swept = std::f64::consts::FRAC_PI_4 * 46e-3_f64.powi(2) * 31e-3;
    assert!(((gas(90.0) - gas(270.0)) / (0.6 * swept) - 1.0).abs() < 1e-9);
    let extremes = turn.extremes();
    assert!(extremes.0.is_vacuum() && extremes.1.pascals() > 0.0);
}

#[test]
fn the_leak_hurts_most_at_idle() {
    let conditions = exact();
    let idle = lean(&conditions, &conditions.idle, [Some(0.1); 3]).unwrap();
    let full = lean(&conditions, &conditions.full, [Some(0.1); 3]).unwrap();
    assert!(idle.shift.value > 5.0 * full.shift.value);
    // By hand: the time of a turn at idle is 9000/2800 of that at full throttle, the air 0.25/0.60.
    let times = (9000.0 / 2800.0) * (0.60 / 0.25);
    let in_a_turn = idle.shift.value / full.shift.value / times;
    assert!((0.8..1.6).contains(&in_a_turn), "{in_a_turn}");
}

#[test]
fn the_interval_holds_the_leak_and_the_assumptions() {
    let conditions = exact();
    let lone = lean(
        &conditions,
        &conditions.idle,
        [Some(0.1), Some(0.08), Some(0.13)],
    )
    .unwrap();
    let shift = lone.shift;
    // Without ranges the lower end is the lower leak's; the upper one also holds air that takes delivered air's place.
    assert!((shift.low / shift.value - 0.8).abs() < 1e-9);
    let displaced = shift.value.powi(2) / (1.0 - shift.value);
    let up = (0.3 * shift.value).hypot(displaced);
    assert!((shift.high / (shift.value + up) - 1.0).abs() < 1e-9);
    let typical = Conditions::typical().unwrap();
    let wide = lean(&typical, &typical.idle, [Some(0.1), Some(0.08), Some(0.13)]).unwrap();
    assert_eq!(wide.shift.value, shift.value);
    assert!(wide.shift.low < shift.low && wide.shift.high > shift.high);
    // The delivery ratio at idle, 0.25 +- 0.10, is the largest of the assumptions.
    let share = |from: &str| wide.shares.iter().find(|share| share.from == from).unwrap();
    let delivery = share("delivery ratio").up.unwrap();
    for other in [
        "polytropic exponent",
        "opening of the transfers",
        "opening of the intake",
    ] {
        assert!(share(other).up.unwrap() < delivery, "{other}");
    }
}

#[test]
fn a_leak_that_was_not_found_has_an_upper_end_only() {
    let typical = Conditions::typical().unwrap();
    let none = lean(&typical, &typical.idle, [Some(0.0), Some(0.0), Some(0.1)]).unwrap();
    let full = lean(&typical, &typical.idle, [Some(0.1); 3]).unwrap();
    assert_eq!((none.shift.value, none.shift.low), (0.0, 0.0));
    assert!(none.shift.high.is_finite() && none.shift.high >= full.shift.value);
    // A lower bound alone, as of a stalled pump, has no upper end.
    let stalled = lean(&typical, &typical.idle, [Some(0.5), Some(0.5), None]).unwrap();
    assert_eq!(
        (stalled.shift.high, stalled.leaked_in.si().high),
        (f64::INFINITY, f64::INFINITY)
    );
    // A leak that outweighs the carburetor may take all of its place.
    let gross = lean(&typical, &typical.idle, [Some(20.0); 3]).unwrap();
    assert!(gross.shift.value > 1.0 && gross.shift.high.is_infinite());
}

#[test]
fn any_law_will_do() {
    let conditions = exact();
    let scratch = Capillary::new(
        Length::new::<millimeter>(0.2),
        Length::new::<millimeter>(5.0),
    )
    .unwrap();
    let power = PowerLaw::new(
        VolumeRate::new::<uom::si::volume_rate::cubic_centimeter_per_second>(20.0),
        Pressure::new::<uom::si::pressure::kilopascal>(10.0),
        0.7,
    );
    let laws: [&dyn LeakLaw; 2] = [&scratch, &power.unwrap()];
    for law in laws {
        let leak = LeakRange {
            law,
            low: law,
            high: Some(law),
            level: 0.95,
        };
        let lean = LeanShift::new(
            &blower(),
            &conditions,
            &conditions.idle,
            (&leak, &leak),
            (ambient(), &Gas::dry_air()),
        )
        .unwrap();
        assert!(
            lean.shift.value > 0.0 && lean.leaked_out.si().value > 0.0,
            "{}",
            law.name()
        );
    }
    let unknown = Gas::new("perfect gas", 287.0, 1.4).unwrap();
    let leak = LeakRange {
        law: &scratch,
        low: &scratch,
        high: None,
        level: 0.95,
    };
    assert!(matches!(
        LeanShift::new(
            &blower(),
            &conditions,
            &conditions.idle,
            (&leak, &leak),
            (ambient(), &unknown)
        ),
        Err(RunningError::NoFlow { .. })
    ));
}

#[test]
fn ports_that_can_not_be() {
    let ports = |change: fn(&mut Ports)| {
        let mut conditions = exact();
        change(&mut conditions.ports);
        let idle = conditions.idle.clone();
        lean(&conditions, &idle, [Some(0.1); 3]).unwrap_err()
    };
    assert!(matches!(
        ports(|p| p.transfer_opens = degrees(60.0)),
        RunningError::Ports { .. }
    ));
    assert!(matches!(
        ports(|p| p.transfer_opens = degrees(180.0)),
        RunningError::Ports { .. }
    ));
    assert!(matches!(
        ports(|p| p.exhaust_opens = degrees(121.0)),
        RunningError::Ports { .. }
    ));
    assert!(matches!(
        ports(|p| p.intake_opens = degrees(0.0)),
        RunningError::Ports { .. }
    ));
    assert!(matches!(
        ports(|p| p.intake_closes = degrees(-5.0)),
        RunningError::Ports { .. }
    ));
}

#[test]
fn loads_that_can_not_be() {
    let typical = Conditions::typical().unwrap();
    for got in [0.0, 2.0] {
        let load = Load {
            delivery_ratio: number(got),
            ..typical.idle.clone()
        };
        assert!(matches!(
            lean(&typical, &load, [Some(0.1); 3]),
            Err(RunningError::Range {
                what: "delivery ratio",
                ..
            })
        ));
    }
    let steep = Conditions {
        polytropic_exponent: number(2.0),
        ..exact()
    };
    assert!(matches!(
        lean(&steep, &steep.idle, [Some(0.1); 3]),
        Err(RunningError::Range {
            what: "polytropic exponent",
            ..
        })
    ));
    for hertz_ in [0.0, f64::NAN, -3.0] {
        let load = Load {
            speed: Frequency::new::<hertz>(hertz_),
            ..typical.idle.clone()
        };
        assert!(matches!(
            lean(&typical, &load, [Some(0.1); 3]),
            Err(RunningError::Speed { .. })
        ));
    }
    // A range whose end can't be is refused as its middle would be.
    let loose = Load {
        delivery_ratio: Measured::from_half_width(
            Ratio::new::<ratio>(0.2),
            Ratio::new::<ratio>(0.3),
            Distribution::Rectangular,
        )
        .unwrap(),
        ..typical.idle.clone()
    };
    assert!(matches!(
        lean(&typical, &loose, [Some(0.1); 3]),
        Err(RunningError::Range { .. })
    ));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]

    #[test]
    fn more_leak_is_leaner_and_speed_thins_it_out(
        mm2 in 0.001..2.0_f64, times in 1.1..5.0_f64, rpm in 1500.0..14_000.0_f64, delivery in 0.15..1.0_f64,
    ) {
        let conditions = exact();
        let load = |rpm: f64| Load {
            speed: Frequency::new::<hertz>(rpm / 60.0),
            delivery_ratio: number(delivery),
        };
        let shift = |mm2: f64, rpm: f64| lean(&conditions, &load(rpm), [Some(mm2); 3]).unwrap().shift.value;
        let one = shift(mm2, rpm);
        // In proportion to the leak, and to the time of a turn.
        prop_assert!((shift(times * mm2, rpm) / one / times - 1.0).abs() < 1e-12);
        prop_assert!((shift(mm2, times * rpm) / one * times - 1.0).abs() < 1e-12);
    }

    #[test]
    fn an_engine_twice_as_large_is_half_as_lean(mm2 in 0.001..2.0_f64, stroke in 25.0..70.0_f64, primary in 1.25..1.6_f64) {
        let conditions = exact();
        let hole = hole(mm2);
        let leak = LeakRange { law: &hole, low: &hole, high: Some(&hole), level: 0.95 };
        let shift = |bore: f64| {
            let engine = Engine::new(
                exact_mm(bore), exact_mm(stroke), exact_mm(1.8 * stroke), number(primary),
            ).unwrap();
            LeanShift::new(&engine, &conditions, &conditions.idle, (&leak, &leak), (ambient(), &Gas::dry_air()))
                .unwrap().shift.value
        };
        prop_assert!((shift(40.0) / shift(40.0 * std::f64::consts::SQRT_2) - 2.0).abs() < 1e-9);
    }
}
