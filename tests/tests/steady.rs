//! Does one steady leak explain the readings? Simulated benches that share no code with the library: leaks that open and close, engines
//! that cool, gauges that do not return to zero, and steady ones, of which none may be said.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "test code"
)]

mod common;

use casetight::doubt::Doubt;
use casetight::fit::{Cause, Fit, PartKind, fit};
use casetight::gauge::Gauge;
use casetight::limit::{Limit, Verdict, decide};
use casetight::quantity::Area;
use casetight::readings::{Bench, Readings};
use casetight_tests::simulator::run_rng;
use casetight_tests::worlds::{
    Answer, Change, Direction, Family, GaugeKind, Leak, Setup, Vessel, Wall, assess,
};
use common::{absolute, cubic_meters, kelvins, pascals};
use uom::si::area::square_meter;

const AMBIENT_PA: f64 = 101_300.0;
const KELVINS: f64 = 293.15;
const STEP_PA: f64 = 100.0;
const AREA_M2: f64 = 20e-9;
const HOLD_S: f64 = 90.0;

/// 300 cm3 of settled gas behind a hole, from 50 kPa or -40 kPa.
fn vessel(direction: Direction) -> Vessel {
    Vessel {
        leak: Leak::hole(AREA_M2),
        volume_m3: 300e-6,
        ambient_pa: AMBIENT_PA,
        ambient_k: KELVINS,
        gas_r: 287.05,
        gamma: 1.4,
        start_gauge_pa: match direction {
            Direction::Pressure => 50e3,
            Direction::Vacuum => -40e3,
        },
        start_excess_k: 0.0,
        conductance_w_per_k: 0.4,
        wall: Wall::steady(KELVINS, 0.0),
        elastic_per_pa: 0.0,
        creep: None,
        lag_s: 0.0,
    }
}

fn bench() -> Bench {
    Bench::new(
        cubic_meters(300e-6),
        absolute(AMBIENT_PA),
        kelvins(KELVINS),
        Gauge::digital(pascals(STEP_PA)).unwrap(),
    )
    .unwrap()
}

/// Of a hold, to the step of the gauge, off by `zero_pa`.
fn readings(vessel: &Vessel, zero_pa: f64, hold_s: f64) -> Readings {
    let times: Vec<f64> = (0..=30).map(|i| hold_s * f64::from(i) / 30.0).collect();
    let shown: Vec<f64> = (vessel.gauge_at(&times).iter())
        .map(|gauge| ((gauge + zero_pa) / STEP_PA).round() * STEP_PA)
        .collect();
    Readings::from_si(&times, &shown, absolute(AMBIENT_PA)).unwrap()
}

fn fitted(vessel: &Vessel, zero_pa: f64) -> Fit {
    fit(&readings(vessel, zero_pa, HOLD_S), &bench(), 0.95).unwrap()
}

#[track_caller]
fn cause(fit: &Fit) -> Cause {
    fit.unsteady.unwrap().cause.unwrap()
}

fn changing(direction: Direction, factor: f64) -> Vessel {
    let mut vessel = vessel(direction);
    vessel.leak.change = Some(Change { at_s: 40.0, factor });
    vessel
}

#[test]
fn a_leak_that_opens_or_closes_is_told_with_its_time_and_both_areas() {
    for direction in Direction::ALL {
        for factor in [0.3, 0.5, 3.0] {
            let fit = fitted(&changing(direction, factor), 0.0);
            let Cause::Changed {
                time_s,
                before,
                after,
            } = cause(&fit)
            else {
                panic!("{direction:?} {factor}: {:?}", fit.unsteady)
            };
            assert!(
                (time_s - 40.0).abs() <= 3.0,
                "{direction:?} {factor}: {time_s}"
            );
            let (before, after) = (before.si().value, after.si().value);
            assert!((before / AREA_M2 - 1.0).abs() < 0.1, "{factor}: {before}");
            assert!(
                (after / AREA_M2 / factor - 1.0).abs() < 0.2,
                "{factor}: {after}"
            );
            let area = fit.area.si();
            assert!(area.low < before.min(after) && before.max(after) < area.high);
            assert_eq!((fit.law, fit.is_acceptable()), (None, false));
            assert!(fit.relative_part(PartKind::Unsteady) > 0.05);
        }
    }
}

/// In a long hold, in which a small leak slows down and the engine does not; in a short one an engine that cools is a leak to any
/// gauge. A zero that is off may look the same, so that none is named; one that warms may be another law instead.
#[test]
fn an_engine_that_cools_is_told() {
    for direction in Direction::ALL {
        let kelvins_per_minute = -2.0 * direction.sign();
        let mut vessel = vessel(direction);
        vessel.leak = Leak::hole(0.1 * AREA_M2);
        vessel.wall = Wall::steady(KELVINS, kelvins_per_minute / 60.0);
        let fit = fit(&readings(&vessel, 0.0, 4.0 * HOLD_S), &bench(), 0.95).unwrap();
        assert!(fit.unsteady.is_some() && !fit.is_acceptable());
        match fit.unsteady.unwrap().cause {
            Some(Cause::Drifts {
                kelvins_per_minute: told,
            }) => assert!((told / kelvins_per_minute - 1.0).abs() < 0.1, "{told}"),
            None => {}
            other => panic!("{direction:?}: {other:?}"),
        }
        let area = fit.area.si();
        assert!((area.low..area.high).contains(&(0.1 * AREA_M2)), "{area:?}");
    }
}

#[test]
fn a_gauge_that_does_not_return_to_zero_is_told() {
    let mut vessel = vessel(Direction::Pressure);
    // Nearly to zero in the hold.
    vessel.leak = Leak::hole(4.0 * AREA_M2);
    for zero_pa in [-2e3, 2e3] {
        let fit = fitted(&vessel, zero_pa);
        let Cause::Zero { off_pa } = cause(&fit) else {
            panic!("{zero_pa}: {:?}", fit.unsteady)
        };
        assert!((off_pa / zero_pa - 1.0).abs() < 0.3, "{off_pa} {zero_pa}");
    }
}

/// A needle that rises and falls again is that of no drift, whose size would be next to nothing.
#[test]
fn a_needle_that_rises_and_falls_again_drifts_by_nothing() {
    for start in [50e3, -40e3] {
        let times: Vec<f64> = (0..=30).map(|i| 2.0 * f64::from(i)).collect();
        let swings = |t: &f64| start + 1e3 * (std::f64::consts::PI * t / 60.0).sin();
        let shown: Vec<f64> = (times.iter().map(swings))
            .map(|gauge| (gauge / STEP_PA).round() * STEP_PA)
            .collect();
        let readings = Readings::from_si(&times, &shown, absolute(AMBIENT_PA)).unwrap();
        let fit = fit(&readings, &bench(), 0.95).unwrap();
        let cause = fit.unsteady.and_then(|unsteady| unsteady.cause);
        assert!(!fit.is_acceptable(), "{start}");
        assert!(
            !matches!(cause, Some(Cause::Drifts { .. })),
            "{start}: {cause:?}"
        );
    }
}

/// Of steady leaks on ordinary benches hardly one is called unsteady.
#[test]
fn a_steady_leak_is_not_called_unsteady() {
    let runs = 150;
    for direction in Direction::ALL {
        for gauge in GaugeKind::ALL {
            let unsteady = |run: &u64| {
                let mut rng = run_rng(31, *run);
                let setup = Setup::draw(direction, gauge, &mut rng);
                let simulated = Family::Plain.simulate(&setup, &mut rng);
                let Answer::Answered(answered) = assess(&simulated) else {
                    panic!("{direction:?} {gauge:?} {run}")
                };
                answered.strict.warnings.contains(&"unsteady")
            };
            let said = (0..runs).filter(unsteady).count();
            assert!(said <= 2, "{direction:?} {gauge:?}: {said} of {runs}");
        }
    }
}

/// By a limit between its areas a leak that changes is not decided, and by one on either side of both not wrongly; far beyond its limit
/// it leaks whatever its shape.
#[test]
fn a_leak_far_beyond_its_limit_leaks_whatever_its_shape() {
    for direction in Direction::ALL {
        for factor in [0.3, 3.0] {
            let fit = fitted(&changing(direction, factor), 0.0);
            let least = factor.min(1.0) * AREA_M2;
            let largest = factor.max(1.0) * AREA_M2;
            let by = |limit_m2: f64| {
                let limit = Limit::Area(Area::new::<square_meter>(limit_m2));
                decide(&limit, &fit, &bench()).unwrap()
            };
            let between = by((least * largest).sqrt());
            assert_eq!(between.verdict, Verdict::Undecided, "{factor}");
            let said = |d: &Doubt| matches!(d, Doubt::Unsteady(_));
            assert!(between.doubts.iter().any(said), "{:?}", between.doubts);
            assert_ne!(by(0.8 * least).verdict, Verdict::Holds, "{factor}");
            assert_ne!(by(1.25 * largest).verdict, Verdict::Leaks, "{factor}");
            let far = by(0.1 * least);
            assert_eq!(far.verdict, Verdict::Leaks, "{direction:?} {factor}");
            assert!(far.sureness().unwrap() > 0.99);
        }
    }
}

/// What opened on the way is said beside "leaks", too: it does not take that back, and tells where to look.
#[test]
fn a_leak_far_beyond_its_limit_says_that_it_opened() {
    let vessel = changing(Direction::Pressure, 6.0);
    let readings = readings(&vessel, 0.0, HOLD_S);
    let limit = Limit::Area(Area::new::<square_meter>(AREA_M2 / 20.0));
    let assessed = casetight_bench::assess::assess(
        &readings,
        &bench(),
        &[limit],
        &casetight_bench::assess::Assumptions::default(),
    );
    let assessed = assessed.unwrap();
    assert_eq!(assessed.verdict, Some(Verdict::Leaks));
    assert_eq!(assessed.doubts().count(), 0);
    let said: Vec<String> = assessed.notes.iter().map(ToString::to_string).collect();
    assert!(
        said.iter()
            .any(|note| note.contains("it opened at about t =")),
        "{said:#?}"
    );
}
