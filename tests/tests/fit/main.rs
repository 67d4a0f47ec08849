//! The fit on simulated and hand-made readings: what must come out, and what must not change it.
//!
//! All of self-consistency, unless a test says otherwise; simulated readings come from the simulator, which shares no code
//! with the library.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "test code"
)]

#[path = "../common/mod.rs"]
mod common;

mod anything;
mod invariances;
mod parts;
mod shown;

use casetight::estimate::Estimate;
use casetight::fit::{Candidate, Course, Fit, FitError, FitNote, Method, PartKind, fit, fit_laws};
use casetight::gas::Gas;
use casetight::gauge::{AccuracyClass, Gauge};
use casetight::measured::{Distribution, Evaluation, Measurable, Measured};
use casetight::quantity::{GaugePressure, TemperatureInterval, Time, TradeUnits, Volume};
use casetight::readings::{Bench, Readings};
use casetight::vessel::{DecayLaw, Direction, IsothermalDecay};
use casetight_tests::simulator::{DRY_AIR_GAS_R, Instrument, Law, Thermal, Truth, run_rng};
use proptest::prelude::*;

use common::{absolute, assert_close, cubic_meters, gauge, kelvins, of, pascals, seconds, state};

const AMBIENT: f64 = 101_325.0;
const VOLUME: f64 = 250e-6;
/// Half-width of a 95 % interval in standard uncertainties.
const Z: f64 = 1.959_963_984_540_054;

fn bench(gauge: Gauge) -> Bench {
    Bench {
        drift_allowance: casetight::quantity::TemperatureDrift::ZERO,
        effects: casetight::readings::Effects::none(),
        heat: casetight::vessel::Heat::ISOTHERMAL,
        volume: Measured::exact(cubic_meters(VOLUME)).unwrap(),
        ambient_pressure: Measured::exact(absolute(AMBIENT)).unwrap(),
        temperature: Measured::exact(kelvins(293.15)).unwrap(),
        gauge,
        gas: Gas::dry_air(),
    }
}

/// A digital gauge of 100 Pa, whose noise is half of that.
fn digital() -> Gauge {
    Gauge::digital(pascals(100.0)).unwrap()
}

/// A dial with marks each half psi, read to a quarter of one.
fn dial() -> Gauge {
    Gauge::dial(of(0.5, "psi"), of(0.125, "psi")).unwrap()
}

fn run(times: &[f64], gauges: &[f64]) -> Readings {
    Readings::from_si(times, gauges, absolute(AMBIENT)).unwrap()
}

fn fitted(times: &[f64], gauges: &[f64], bench: &Bench) -> Fit {
    fit(&run(times, gauges), bench, 0.95).unwrap()
}

/// An effective area on the bench's case, from a start gauge pressure.
fn truth(cd_area_m2: f64, start_gauge_pa: f64) -> Truth {
    Truth {
        law: Law::Orifice { cd_area_m2 },
        volume_m3: VOLUME,
        ambient_pa: AMBIENT,
        wall_temperature_k: 293.15,
        gas_r: DRY_AIR_GAS_R,
        gamma: 1.4,
        start_gauge_pa,
        thermal: Thermal::Isothermal,
        wall_drift_k_per_s: 0.0,
    }
}

/// Evenly spaced times from zero.
fn hold(duration: f64, readings: usize) -> Vec<f64> {
    (0..readings)
        .map(|i| duration * i as f64 / (readings - 1) as f64)
        .collect()
}

/// What a digital gauge of 100 Pa with this noise shows of a truth.
fn read(truth: &Truth, times: &[f64], noise_pa: f64, seed: u64) -> Vec<f64> {
    let instrument = Instrument {
        resolution_pa: 100.0,
        noise_pa,
        ..Instrument::PERFECT
    };
    instrument
        .read(
            |moments| truth.gauge_at(moments),
            times,
            &mut run_rng(7, seed),
        )
        .into_iter()
        .map(|(_, reading)| reading)
        .collect()
}

fn covers<Q: Measurable<Spread = Q>>(interval: Estimate<Q>, truth: f64) -> bool {
    let interval = interval.si();
    interval.low <= truth && truth <= interval.high
}

fn half_width<Q: Measurable<Spread = Q>>(interval: Estimate<Q>) -> f64 {
    let interval = interval.si();
    (interval.high - interval.low) / 2.0
}

/// As [`fitted`], where the leak is known to be a hole.
fn fitted_hole(times: &[f64], gauges: &[f64], bench: &Bench) -> Fit {
    let hole = [Candidate::certain(DecayLaw::Orifice)];
    fit_laws(&run(times, gauges), bench, 0.95, &hole).unwrap()
}

fn misfit(fit: &Fit) -> Option<f64> {
    fit.notes.iter().find_map(|note| match note {
        FitNote::Misfit { widened_by, .. } => Some(*widened_by),
        _ => None,
    })
}

/// A run of either direction on a gauge: times, readings, bench.
fn example(direction: Direction, gauge: Gauge) -> (Vec<f64>, Vec<f64>, Bench) {
    let truth = truth(5e-9, direction.sign() * 48_263.3);
    let times = hold(64.0, 9);
    let step = gauge.step().value;
    let gauges = read(&truth, &times, 60.0, 5)
        .into_iter()
        .map(|reading| (reading / step).round() * step)
        .collect();
    (times, gauges, bench(gauge))
}

fn examples() -> impl Iterator<Item = (Vec<f64>, Vec<f64>, Bench)> {
    let exact = |gauge: Gauge| gauge.with_stopwatch(seconds(0.0)).unwrap();
    let class = AccuracyClass {
        class: 1.6,
        span: of(1.0, "bar"),
    };
    let classed = digital().with_accuracy_class(class).unwrap();
    [Direction::Pressure, Direction::Vacuum]
        .into_iter()
        .flat_map(move |direction| {
            [digital(), exact(dial()), classed].map(|gauge| example(direction, gauge))
        })
}
