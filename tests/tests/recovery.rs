//! Recovery in small: simulated tests of known leaks, fitted; how often the 95 % interval holds the truth, and how far the
//! median estimate is off. Seeded, so that it either passes always or never; the study in large is the program `coverage`.
#![allow(clippy::unwrap_used, reason = "test code")]

mod common;

use casetight::fit::fit;
use casetight::gas::Gas;
use casetight::gauge::{AccuracyClass, Gauge};
use casetight::measured::Measured;
use casetight::readings::{Bench, Readings};
use casetight::vessel::{Direction, IsothermalDecay};
use casetight_tests::coverage::{Coverage, Run};
use casetight_tests::recovery::{Reader, Study, dial, digital, named};
use casetight_tests::simulator::{Instrument, study};
use rand::RngExt;
use rand_distr::{Distribution, StandardNormal};

use common::{absolute, cubic_meters, gauge, kelvins, of, pascals, seconds, state};

const RUNS: u64 = 300;
const SEED: u64 = 20;
/// Runs of each study of the table.
const TABLE_RUNS: u64 = 100;

/// Most that the median estimate may be off, as a part of the truth.
const BIAS: f64 = 0.005;
/// The same on a dial, whose readings seldom tell the law: the estimate then lies between that of a hole, the truth, and
/// that of a fine gap.
const DIAL_BIAS: f64 = 0.02;

/// `widest` is the largest median half-width, as a part of the truth: coverage by intervals that can't miss is none.
fn recovered(reader: Reader, direction: Direction, widest: f64) {
    let coverage = Study::isothermal(reader, direction).run(RUNS, SEED);
    assert!(coverage.unusable == 0, "a run was refused: {coverage}");
    assert!(coverage.may_reach(0.95), "{coverage}");
    let bias = if reader.gauge.is_coarse() {
        DIAL_BIAS
    } else {
        BIAS
    };
    assert!(coverage.median_bias.abs() < bias, "{coverage}");
    assert!(coverage.median_half_width < widest, "{coverage}");
}

#[test]
fn pressure_tests_on_a_digital_gauge() {
    recovered(digital(), Direction::Pressure, 0.01);
}

#[test]
fn vacuum_tests_on_a_digital_gauge() {
    recovered(digital(), Direction::Vacuum, 0.01);
}

#[test]
fn pressure_tests_on_a_dial() {
    recovered(dial(), Direction::Pressure, 0.1);
}

#[test]
fn vacuum_tests_on_a_dial() {
    recovered(dial(), Direction::Vacuum, 0.1);
}

/// The coverage table in small: each of its studies, both directions. The last two, fast leaks under heat as uncertain as
/// it can be, are in the table only.
#[test]
fn each_study_of_the_table() {
    for direction in [Direction::Pressure, Direction::Vacuum] {
        let studies = named(direction);
        for (name, study) in studies.iter().take(studies.len() - 2) {
            let coverage = study.run(TABLE_RUNS, SEED);
            assert!(coverage.unusable == 0, "{direction} {name}: {coverage}");
            assert!(coverage.may_reach(0.95), "{direction} {name}: {coverage}");
            let bias = if study.reader.gauge.is_coarse() {
                0.04
            } else {
                0.015
            };
            assert!(
                coverage.median_bias.abs() < bias,
                "{direction} {name}: {coverage}"
            );
        }
    }
}

/// The study can fail: a gauge noisier than the fit is told has too narrow intervals.
#[test]
fn an_instrument_worse_than_stated_is_found_out() {
    let mut reader = digital();
    reader.instrument.noise_pa *= 1.5;
    // Enough runs to tell 0.93 from 0.95: where scatter shows, the interval is widened.
    let coverage = Study::isothermal(reader, Direction::Pressure).run(4 * RUNS, SEED);
    let widened_less = Study::isothermal(digital(), Direction::Pressure).run(4 * RUNS, SEED);
    assert!(coverage.fraction < widened_less.fraction, "{coverage}");
    assert!(!coverage.may_reach(0.95), "{coverage}");
}

/// Coverage of the rate where each run's gauge has an offset and a scale error of its own, drawn from what its class says.
/// The decay is the library's closed form, which `closed_form.rs` holds against the simulator.
fn classed(reader: Reader, class: f64, runs: u64) -> Coverage {
    let span = of(1.0, "bar");
    let classed = reader
        .gauge
        .with_accuracy_class(AccuracyClass { class, span })
        .unwrap();
    let (air, ambient) = (Gas::dry_air(), state(101_325.0, 293.15));
    let bench = bench(classed);
    let runs = study(SEED, runs, |_, rng| {
        let mut normal = |sigma: f64| -> f64 {
            let deviate: f64 = StandardNormal.sample(rng);
            sigma * deviate
        };
        let instrument = Instrument {
            offset_pa: normal(classed.offset_uncertainty().value),
            scale: 1.0 + normal(classed.scale_uncertainty()),
            ..reader.instrument
        };
        let start = gauge(rng.random_range(35e3..65e3));
        let unit = IsothermalDecay::from_rate(1.0, start, ambient, &air).unwrap();
        let remaining = rng.random_range(0.2..0.85) * start.pascals();
        let hold = 120.0;
        let rate = unit.time_to(gauge(remaining)).unwrap().value / hold;
        let decay = IsothermalDecay::from_rate(rate, start, ambient, &air).unwrap();
        let times: Vec<f64> = (0..reader.readings)
            .map(|i| hold * i as f64 / (reader.readings - 1) as f64)
            .collect();
        let at = |moments: &[f64]| -> Vec<f64> {
            moments
                .iter()
                .map(|t| decay.gauge_at(seconds(*t)).pascals())
                .collect()
        };
        let (times, gauges): (Vec<f64>, Vec<f64>) =
            instrument.read(at, &times, rng).into_iter().unzip();
        let readings = Readings::from_si(&times, &gauges, ambient.pressure).unwrap();
        let found = fit(&readings, &bench, 0.95).unwrap().rate.si();
        Run {
            truth: rate,
            value: found.value,
            low: found.low,
            high: found.high,
        }
    });
    Coverage::of(&runs).unwrap()
}

fn bench(gauge: Gauge) -> Bench {
    Bench {
        drift_allowance: casetight::quantity::TemperatureDrift::ZERO,
        effects: casetight::readings::Effects::none(),
        heat: casetight::vessel::Heat::ISOTHERMAL,
        volume: Measured::exact(cubic_meters(250e-6)).unwrap(),
        ambient_pressure: Measured::exact(absolute(101_325.0)).unwrap(),
        temperature: Measured::exact(kelvins(293.15)).unwrap(),
        gauge,
        gas: Gas::dry_air(),
    }
}

#[test]
fn a_classed_gauges_own_errors_are_in_the_interval() {
    for (reader, class) in [
        (digital(), 0.25),
        (digital(), 1.6),
        (dial(), 1.6),
        (dial(), 4.0),
    ] {
        let coverage = classed(reader, class, RUNS);
        assert!(coverage.may_reach(0.95), "class {class}: {coverage}");
        assert!(
            coverage.median_bias.abs() < DIAL_BIAS,
            "class {class}: {coverage}"
        );
    }
}

/// A digital gauge whose last digit is steadier than itself: its readings tell much of its own offset by their bend.
#[test]
fn a_classed_gauge_of_little_noise() {
    let gauge = Gauge::digital(pascals(200.0))
        .unwrap()
        .with_noise(pascals(20.0))
        .unwrap();
    let instrument = Instrument {
        resolution_pa: 200.0,
        noise_pa: 20.0,
        ..Instrument::PERFECT
    };
    let reader = Reader {
        instrument,
        gauge,
        readings: 18,
    };
    for class in [1.6, 4.0] {
        let coverage = classed(reader, class, RUNS);
        assert!(coverage.may_reach(0.95), "class {class}: {coverage}");
    }
}
