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

mod common;

use casetight::fit::{
    Candidate, Course, Fit, FitError, FitNote, Interval, Method, PartKind, fit, fit_laws,
};
use casetight::gas::Gas;
use casetight::gauge::{AccuracyClass, Gauge};
use casetight::measured::{Distribution, Evaluation, Measured};
use casetight::quantity::{GaugePressure, TemperatureInterval, Time, TradeUnits, Volume};
use casetight::record::{Bench, Readings};
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

fn covers(interval: Interval, truth: f64) -> bool {
    interval.low <= truth && truth <= interval.high
}

fn half_width(interval: Interval) -> f64 {
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

// What runs show.

#[test]
fn two_readings_are_solved_exactly() {
    for (first, second) in [(48_300.0, 41_200.0), (-48_300.0, -41_200.0)] {
        let fit = fitted_hole(&[5.0, 65.0], &[first, second], &bench(digital()));
        let unit =
            IsothermalDecay::from_rate(1.0, gauge(first), state(AMBIENT, 293.15), &Gas::dry_air());
        let rate = unit.unwrap().time_to(gauge(second)).unwrap().value / 60.0;
        assert_close("rate", fit.rate.value, rate, 1e-7);
        assert_close("start", fit.start.pascals(), first, 1e-7);
        assert!(fit.residual_rms_pa < 0.01, "{}", fit.residual_rms_pa);
        assert_eq!((fit.degrees_of_freedom, misfit(&fit)), (0, None));
        assert_eq!(fit.course, Course::Falls);
        // First-order propagation of two independent readings, each of 50 Pa noise and 100/sqrt(12) Pa rounding.
        let u = 50.0_f64.hypot(100.0 / 12.0_f64.sqrt());
        let by = |first: f64, second: f64| {
            fitted_hole(&[5.0, 65.0], &[first, second], &bench(digital()))
                .rate
                .value
        };
        let slope = [
            (by(first + 10.0, second) - by(first - 10.0, second)) / 20.0,
            (by(first, second + 10.0) - by(first, second - 10.0)) / 20.0,
        ];
        let want = Z * u * slope[0].hypot(slope[1]);
        assert_close("half-width", half_width(fit.rate), want, 1e-3);
    }
}

#[test]
fn a_standing_needle_has_an_upper_bound_that_shrinks_with_the_hold() {
    for gauge in [digital(), dial()] {
        for level in [48_263.3, -48_263.3] {
            let bound = |minutes: f64| {
                let fit = fitted(&hold(60.0 * minutes, 9), &[level; 9], &bench(gauge));
                assert_eq!(fit.course, Course::Stands, "{gauge:?}, {level} Pa");
                assert!(fit.area.low <= 0.0 && fit.area.value >= 0.0);
                assert!(fit.area.high.is_finite() && fit.area.high > fit.area.value);
                assert!(fit.area.value < 0.5 * fit.area.high);
                assert!(misfit(&fit).is_none());
                fit.area.high
            };
            let one = bound(1.0);
            assert_close("ten minutes", bound(10.0), one / 10.0, 0.05);
            assert!(bound(2.0) < 0.6 * one);
        }
    }
}

#[test]
fn a_rising_needle_is_no_leak() {
    let times = hold(60.0, 7);
    for sign in [1.0, -1.0] {
        let gauges: Vec<f64> = times.iter().map(|t| sign * (48_000.0 + 20.0 * t)).collect();
        let fit = fitted(&times, &gauges, &bench(digital()));
        assert_eq!(fit.course, Course::Rises);
        assert!(fit.area.value <= 0.0 && fit.area.low <= 0.0 && fit.area.high > 0.0);
        let level = fitted(&times, &[sign * 48_000.0; 7], &bench(digital()));
        assert_eq!(level.course, Course::Stands);
    }
}

#[test]
fn a_needle_long_at_rest_tells_no_less() {
    for start in [48_263.3, -48_263.3] {
        let truth = truth(2e-8, start);
        let end = truth.time_to_gauge(0.0).unwrap();
        let moving = hold(0.9 * end, 12);
        let mut long = moving.clone();
        long.extend((1..60).map(|i| end + 10.0 * f64::from(i)));
        let bench = bench(digital().with_noise(pascals(60.0)).unwrap());
        let of = |times: &[f64]| fitted(times, &read(&truth, times, 60.0, 1), &bench);
        let (short, long) = (of(&moving), of(&long));
        assert!(
            covers(short.area, 2e-8) && covers(long.area, 2e-8),
            "{long:?}"
        );
        assert_close("long", long.area.value, 2e-8, 0.01);
        assert!(half_width(long.area) <= 1.001 * half_width(short.area));
        assert!(misfit(&long).is_none());
    }
}

/// A run whose readings are at rest from the second on: the leak is at least so large that the needle fell in that time, and
/// nothing says how much larger it is.
#[test]
fn a_needle_that_fell_between_the_first_two_readings() {
    let class = AccuracyClass {
        class: 1.6,
        span: of(1.0, "bar"),
    };
    for gauge in [
        digital(),
        dial(),
        digital().with_accuracy_class(class).unwrap(),
    ] {
        for sign in [1.0, -1.0] {
            let first = sign * 8.0 * dial().step().value * 7.0;
            let unit = IsothermalDecay::from_rate(
                1.0,
                common::gauge(first),
                state(AMBIENT, 293.15),
                &Gas::dry_air(),
            );
            let least = unit.unwrap().ends_after().unwrap().value / 10.0;
            for rest in [[0.0, 0.0, 0.0], [-100.0, 0.0, 100.0]] {
                let gauges = [first, rest[0], rest[1], rest[2]];
                let fit = fit(&run(&[0.0, 10.0, 20.0, 30.0], &gauges), &bench(gauge), 0.95);
                let fit = fit.unwrap_or_else(|error| panic!("{gauge:?}, {gauges:?}: {error}"));
                assert_eq!(fit.course, Course::Falls, "{gauge:?}, {gauges:?}");
                let rate = fit.rate;
                assert!(
                    (0.7..1.1).contains(&(rate.low / least)),
                    "{rate:?}, {least}"
                );
                assert!(
                    rate.value >= 0.9 * least && rate.high >= 3.0 * least,
                    "{rate:?}"
                );
            }
        }
    }
}

#[test]
fn an_outlier_is_a_misfit() {
    let truth = truth(5e-9, 48_263.3);
    let times = hold(60.0, 13);
    let bench = bench(digital().with_noise(pascals(60.0)).unwrap());
    let mut gauges = read(&truth, &times, 60.0, 2);
    let good = fitted_hole(&times, &gauges, &bench);
    assert_eq!(misfit(&good), None);
    gauges[6] += 2000.0;
    // One that all others contradict is left out and named; two make a misfit.
    let named = fitted_hole(&times, &gauges, &bench);
    assert_eq!(
        (named.misread.map(|m| m.row), misfit(&named)),
        (Some(7), None)
    );
    assert_close(
        "half-width without it",
        half_width(named.area),
        half_width(good.area),
        0.2,
    );
    gauges[4] += 1500.0;
    let bad = fitted_hole(&times, &gauges, &bench);
    let widened = misfit(&bad).unwrap();
    let birge = (bad.chi_squared / bad.degrees_of_freedom as f64).sqrt();
    assert_close("Birge ratio", widened, birge, 1e-12);
    assert_close(
        "half-width",
        half_width(bad.area),
        widened * half_width(good.area),
        0.05,
    );
    let worst = bad
        .residuals
        .iter()
        .max_by(|a, b| a.standardized.abs().total_cmp(&b.standardized.abs()))
        .unwrap();
    assert_close("the outlier", worst.time_s, times[6], 1e-15);
}

#[test]
fn two_hundred_thousand_readings() {
    for start in [48_263.3, -48_263.3] {
        let truth = truth(5e-9, start);
        let times = hold(100.0, 200_000);
        // The simulator at 2001 places, between which a straight line is good to 0.01 Pa.
        let places = hold(100.0, 2001);
        let places = truth.gauge_at(&places);
        let instrument = Instrument {
            resolution_pa: 100.0,
            noise_pa: 60.0,
            ..Instrument::PERFECT
        };
        let between = |moments: &[f64]| -> Vec<f64> {
            let step = 100.0 / (places.len() - 1) as f64;
            let mut before = 0;
            let mut at = |t: &f64| {
                while before + 2 < places.len() && step * (before + 1) as f64 <= *t {
                    before += 1;
                }
                let part = t / step - before as f64;
                places[before] + (places[before + 1] - places[before]) * part
            };
            moments.iter().map(&mut at).collect()
        };
        let (times, gauges): (Vec<f64>, Vec<f64>) = instrument
            .read(between, &times, &mut run_rng(7, 3))
            .into_iter()
            .unzip();
        let bench = bench(digital().with_noise(pascals(60.0)).unwrap());
        let fit = fitted(&times, &gauges, &bench);
        assert!(covers(fit.area, 5e-9), "{:?}", fit.area);
        assert!(half_width(fit.area) < 1e-3 * fit.area.value);
        assert_eq!(fit.residuals.len(), 200_000);
        let blocks: Vec<usize> = fit
            .notes
            .iter()
            .filter_map(|note| match note {
                FitNote::Averaged { block } => Some(*block),
                _ => None,
            })
            .collect();
        assert!(blocks.len() == 1 && blocks[0] > 1, "{:?}", fit.notes);
        assert_eq!(misfit(&fit), None);
    }
}

#[test]
fn noise_as_large_as_the_fall_leaves_a_wide_interval() {
    let truth = truth(5e-9, 48_263.3);
    let times = hold(60.0, 40);
    let gauges = read(&truth, &times, 10_000.0, 4);
    let noisy = bench(digital().with_noise(pascals(10_000.0)).unwrap());
    let fit = fitted(&times, &gauges, &noisy);
    assert!(covers(fit.area, 5e-9), "{:?}", fit.area);
    assert!(half_width(fit.area) > 0.1 * fit.area.value && fit.area.high < 1e-7);
    assert_eq!(misfit(&fit), None);
    // The same readings from a gauge that is trusted too much.
    assert!(misfit(&fitted(&times, &gauges, &bench(digital()))).unwrap() > 50.0);
}

// Levels.

#[test]
fn levels_from_a_half_to_nearly_one() {
    let readings = run(&[0.0, 20.0, 40.0, 60.0], &[48e3, 45.6e3, 43.2e3, 40.9e3]);
    for gauge in [digital(), dial()] {
        let bench = bench(gauge);
        for level in [
            0.499_999,
            0.999_901,
            0.0,
            1.0,
            -1.0,
            f64::NAN,
            f64::INFINITY,
        ] {
            match fit(&readings, &bench, level) {
                Err(FitError::Level { got }) => assert_eq!(got.to_bits(), level.to_bits()),
                other => panic!("level {level}: {other:?}"),
            }
        }
        let widths = [0.5, 0.68, 0.9, 0.95, 0.99, 0.9999].map(|level| {
            let area = fit(&readings, &bench, level).unwrap().area;
            assert!(covers(area, area.value) && area.level.to_bits() == level.to_bits());
            half_width(area)
        });
        assert!(widths.is_sorted_by(|a, b| a < b), "{widths:?}");
    }
}

// What must not matter, or matter in proportion.

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

/// Value and ends of one are `factor` times those of the other.
#[track_caller]
fn assert_scaled(got: Interval, of: Interval, factor: f64, relative: f64) {
    for (what, got, of) in [
        ("value", got.value, of.value),
        ("low", got.low, of.low),
        ("high", got.high, of.high),
    ] {
        assert!(
            (got - factor * of).abs() <= relative * factor * of,
            "{what}: {got}, not {factor} times {of}"
        );
    }
}

/// The solver's stop leaves this much of an interval open.
const SOLVED: f64 = 1e-6;

#[test]
fn a_later_clock_changes_nothing() {
    for (times, gauges, bench) in examples() {
        let fit = fitted(&times, &gauges, &bench);
        for shift in [-4096.0, 0.5, 65_536.0] {
            let later: Vec<f64> = times.iter().map(|t| t + shift).collect();
            let shifted = fitted(&later, &gauges, &bench);
            // The shifts are exact in binary: not a bit may change.
            assert_eq!((shifted.area, shifted.rate), (fit.area, fit.rate));
            assert_eq!(shifted.start, fit.start);
            assert_close("time", shifted.residuals[2].time_s, later[2], 1e-15);
        }
    }
}

#[test]
fn a_slower_clock_is_a_smaller_leak() {
    for (times, gauges, bench) in examples() {
        let fit = fitted(&times, &gauges, &bench);
        let minutes: Vec<f64> = times.iter().map(|t| 60.0 * t).collect();
        let slow = fitted(&minutes, &gauges, &bench);
        assert_scaled(slow.area, fit.area, 1.0 / 60.0, SOLVED);
        assert_scaled(slow.rate, fit.rate, 1.0 / 60.0, SOLVED);
    }
}

#[test]
fn area_is_in_proportion_to_volume() {
    for (times, gauges, bench) in examples() {
        let fit = fitted(&times, &gauges, &bench);
        let volume = Measured::exact(cubic_meters(3.0 * VOLUME)).unwrap();
        let larger = fitted(&times, &gauges, &Bench { volume, ..bench });
        assert_scaled(larger.area, fit.area, 3.0, 1e-12);
        assert_eq!(larger.rate, fit.rate);
    }
}

#[test]
fn area_goes_with_the_root_of_temperature_and_gas_constant() {
    for (times, gauges, bench) in examples() {
        let fit = fitted(&times, &gauges, &bench);
        let temperature = Measured::exact(kelvins(4.0 * 293.15)).unwrap();
        let hot = Bench {
            temperature,
            ..bench.clone()
        };
        let r = bench.gas.specific_gas_constant();
        let light = Bench {
            gas: Gas::new("light", 4.0 * r, 1.4).unwrap(),
            ..bench
        };
        for other in [hot, light] {
            let other = fitted(&times, &gauges, &other);
            assert_scaled(other.area, fit.area, 0.5, 1e-12);
            assert_eq!(other.rate, fit.rate);
        }
    }
}

#[test]
fn all_pressures_in_another_unit_are_the_same_leak() {
    let factor = 0.75;
    for (times, gauges, bench) in examples() {
        let fit = fitted(&times, &gauges, &bench);
        let scaled: Vec<f64> = gauges.iter().map(|g| factor * g).collect();
        let ambient = absolute(factor * AMBIENT);
        let mut gauge = Gauge::digital(bench.gauge.step() * factor)
            .unwrap()
            .with_noise(bench.gauge.noise() * factor)
            .unwrap();
        if let Some(accuracy) = bench.gauge.accuracy_class() {
            let span = accuracy.span * factor;
            gauge = gauge
                .with_accuracy_class(AccuracyClass { span, ..accuracy })
                .unwrap();
        }
        let readings = Readings::from_si(&times, &scaled, ambient).unwrap();
        let other = Bench {
            ambient_pressure: Measured::exact(ambient).unwrap(),
            gauge,
            ..bench
        };
        let other = casetight::fit::fit(&readings, &other, 0.95).unwrap();
        assert_scaled(other.area, fit.area, 1.0, SOLVED);
    }
}

/// Readings in psi are those in pascals.
#[test]
fn units_of_readings_do_not_matter() {
    let (times, gauges, bench) = example(Direction::Pressure, digital());
    let typed: Vec<(Time, GaugePressure)> = times
        .iter()
        .zip(&gauges)
        .map(|(t, g)| {
            let psi = gauge(*g).value_in("psi").unwrap();
            (
                Time::parse(&format!("{} min", t / 60.0)).unwrap(),
                GaugePressure::parse(&format!("{psi} psi")).unwrap(),
            )
        })
        .collect();
    let readings = Readings::new(&typed, absolute(AMBIENT)).unwrap();
    let by_psi = fit(&readings, &bench, 0.95).unwrap();
    assert_scaled(
        by_psi.area,
        fitted(&times, &gauges, &bench).area,
        1.0,
        SOLVED,
    );
}

// Where the interval comes from.

/// First-order propagation by hand: what offset and scale each shift the rate by when all readings are changed so.
#[test]
fn an_accuracy_class_widens_as_first_order_propagation_says() {
    let class = AccuracyClass {
        class: 1.6,
        span: of(1.0, "bar"),
    };
    for sign in [1.0, -1.0] {
        // A fall short enough that the readings' own bend tells nothing of offset and scale.
        let times = hold(60.0, 24);
        let gauges = read(&truth(2e-9, sign * 48_263.3), &times, 60.0, 6);
        let plain = bench(digital().with_noise(pascals(60.0)).unwrap());
        let classed = bench(plain.gauge.with_accuracy_class(class).unwrap());
        let rate = |change: &dyn Fn(f64) -> f64| {
            let changed: Vec<f64> = gauges.iter().map(|g| change(*g)).collect();
            fitted_hole(&times, &changed, &plain).rate.value
        };
        let offset = classed.gauge.offset_uncertainty().value;
        let scale = classed.gauge.scale_uncertainty();
        let by_offset = (rate(&|g| g + offset) - rate(&|g| g - offset)) / 2.0;
        let by_scale = (rate(&|g| g * (1.0 + scale)) - rate(&|g| g * (1.0 - scale))) / 2.0;
        let gauge_part = by_offset.hypot(by_scale);

        let (without, with) = (
            fitted_hole(&times, &gauges, &plain),
            fitted_hole(&times, &gauges, &classed),
        );
        let found = with.relative_part(PartKind::Gauge) * with.rate.value;
        assert_close("gauge's part", found, gauge_part, 0.03);
        let want = half_width(without.rate).hypot(Z * gauge_part);
        assert_close("half-width", half_width(with.rate), want, 0.03);
        assert!(half_width(with.rate) > 1.1 * half_width(without.rate));
        assert!(without.relative_part(PartKind::Gauge) <= 0.0);
    }
}

#[test]
fn parts_add_in_quadrature() {
    let (times, gauges, mut bench) = example(Direction::Pressure, digital());
    bench.gauge = bench
        .gauge
        .with_accuracy_class(AccuracyClass {
            class: 0.6,
            span: of(1.0, "bar"),
        })
        .unwrap();
    let type_b = Evaluation::TypeB(Distribution::Normal);
    let pressure = Measured::new(absolute(AMBIENT), pascals(500.0), type_b);
    bench.ambient_pressure = pressure.unwrap();
    let by_rate = fitted_hole(&times, &gauges, &bench);
    let volume: Volume = cubic_meters(0.01 * VOLUME);
    bench.volume = Measured::new(cubic_meters(VOLUME), volume, type_b).unwrap();
    let warm: TemperatureInterval = of(3.0, "K");
    bench.temperature = Measured::new(kelvins(293.15), warm, type_b).unwrap();
    let fit = fitted_hole(&times, &gauges, &bench);
    assert_eq!(fit.method, Method::Quadratic);
    let parts = |fit: &Fit| {
        fit.parts
            .iter()
            .map(|part| part.standard_uncertainty_m2.powi(2))
            .sum::<f64>()
            .sqrt()
    };
    for kind in [
        PartKind::Noise,
        PartKind::Gauge,
        PartKind::Ambient,
        PartKind::Volume,
        PartKind::Temperature,
    ] {
        assert!(fit.relative_part(kind) > 0.0, "{kind:?}");
    }
    assert_close("volume", fit.relative_part(PartKind::Volume), 0.01, 1e-9);
    let kelvin_part = 0.5 * 3.0 / 293.15;
    assert_close(
        "temperature",
        fit.relative_part(PartKind::Temperature),
        kelvin_part,
        1e-9,
    );
    // Without volume and temperature the interval is the quadratic's own; with them it is one on the logarithm, which
    // differs by the second order of some percent.
    assert_close("rate", half_width(by_rate.area), Z * parts(&by_rate), 1e-9);
    assert_close("area", half_width(fit.area), Z * parts(&fit), 5e-3);
    assert_eq!(fit.rate, by_rate.rate);
}

/// The band of the fit is the readings' own curve.
#[test]
fn the_fitted_curve_passes_through_its_residuals() {
    for (times, gauges, bench) in examples() {
        let fit = fitted(&times, &gauges, &bench);
        for (residual, reading) in fit.residuals.iter().zip(&gauges) {
            let shown = fit.reading_at(residual.time_s, fit.rate.value).unwrap();
            assert_close("curve", shown, residual.fitted_pa, 1e-9);
            assert_close("reading", residual.reading_pa, *reading, 1e-15);
        }
        assert!(fit.converged);
        let sum: f64 = fit
            .residuals
            .iter()
            .map(|r| (r.reading_pa - r.fitted_pa).powi(2))
            .sum();
        assert_close("rms", fit.residual_rms_pa, (sum / 9.0).sqrt(), 1e-12);
    }
}

// Anything that a notebook may hold.

fn gauges_in_use() -> impl Strategy<Value = Gauge> {
    let step = (1.0_f64.ln()..7000.0_f64.ln()).prop_map(f64::exp);
    let class = prop_oneof![Just(None), (0.1..4.0_f64).prop_map(Some)];
    (step, any::<bool>(), 0.0..3.0_f64, 0.0..1.0_f64, class).prop_map(
        |(step, by_eye, noise, stopwatch, class)| {
            let mut gauge = if by_eye {
                Gauge::dial(pascals(4.0 * step), pascals(step))
            } else {
                Gauge::digital(pascals(step)).and_then(|g| g.with_noise(pascals(noise * step)))
            }
            .and_then(|g| g.with_stopwatch(seconds(stopwatch)))
            .unwrap();
            if let Some(class) = class {
                let span = pascals(2e5);
                gauge = gauge
                    .with_accuracy_class(AccuracyClass { class, span })
                    .unwrap();
            }
            gauge
        },
    )
}

/// Any readings that the record takes: falling, rising, scattered, standing, at rest.
fn any_readings() -> impl Strategy<Value = (Vec<f64>, Vec<f64>)> {
    let start = prop_oneof![
        1.0..200e3_f64,
        1e3..70e3_f64,
        -95e3..-1.0_f64,
        -60e3..-1e3_f64
    ];
    let pace = (1e-3_f64.ln()..1e3_f64.ln()).prop_map(f64::exp);
    let scatter = prop_oneof![Just(0.0), Just(1.0), 0.0..1.0_f64];
    let places = prop::collection::vec((0.01..1.0_f64, 0.0..1.2_f64), 2..24);
    (start, pace, scatter, places, -1.0..1.5_f64).prop_map(
        |(start, pace, scatter, places, falls)| {
            let (mut time, count) = (0.0, places.len() as f64);
            let mut lines = Vec::new();
            for (i, (wait, chance)) in places.into_iter().enumerate() {
                let smooth = (1.0 - falls * i as f64 / count).clamp(0.0, 1.2);
                let part = (1.0 - scatter) * smooth + scatter * chance;
                let gauge = if i == 0 {
                    start
                } else {
                    (part * start).max(-98e3)
                };
                lines.push((time, gauge));
                time += pace * wait;
            }
            lines.into_iter().unzip()
        },
    )
}

/// An interval is in order, never below zero, and finite unless it is open upward.
fn in_order(interval: Interval, open_upward: bool) -> bool {
    let Interval {
        value, low, high, ..
    } = interval;
    high.is_infinite() == open_upward && high >= value && value >= low && low >= 0.0
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    #[test]
    fn any_readings_give_an_interval_or_a_plain_refusal(
        (times, gauges) in any_readings(),
        gauge in gauges_in_use(),
        level in prop_oneof![Just(0.95), 0.5..0.9999_f64],
        relative_volume in prop_oneof![Just(0.0), 0.0..0.3_f64],
    ) {
        let spread = cubic_meters(relative_volume * VOLUME);
        let volume = Measured::new(cubic_meters(VOLUME), spread, Evaluation::TypeB(Distribution::Normal)).unwrap();
        let bench = Bench { volume, ..bench(gauge) };
        match fit(&run(&times, &gauges), &bench, level) {
            Ok(fit) => {
                // Only a needle that was at rest by the second reading leaves the upper end open.
                let open = fit.method == Method::Fallen;
                prop_assert!(in_order(fit.rate, open), "{:?}", fit.rate);
                prop_assert!(in_order(fit.area, open), "{:?}", fit.area);
                prop_assert!(fit.start.pascals() * gauges[0] > 0.0, "{:?}", fit.start);
                prop_assert!(fit.parts.iter().all(|part| part.standard_uncertainty_m2 >= 0.0), "{:?}", fit.parts);
                prop_assert!(fit.residuals.len() == times.len());
                prop_assert!(fit.residuals.iter().all(|r| r.fitted_pa.is_finite() && r.standardized.is_finite()));
                prop_assert!(fit.residual_rms_pa.is_finite() && fit.chi_squared >= 0.0);
                prop_assert!((-1.0 - 1e-9..=1.0 + 1e-9).contains(&fit.correlation), "{}", fit.correlation);
                for limit in [0.0, 1e-12, 1e-9, 1e-6, fit.area.value, fit.area.high, f64::INFINITY, f64::NAN] {
                    let within = fit.area.probability_within(limit);
                    prop_assert!((0.0..=1.0).contains(&within), "{within} at {limit}: {:?}", fit.area);
                }
            }
            Err(error) => prop_assert!(matches!(error, FitError::NoFit), "{error}"),
        }
    }

    /// What a gauge shows of a leak in its own range is fitted: no refusal there. Rounding alone must not lead far astray.
    #[test]
    fn a_leak_in_a_gauges_range_is_always_fitted(
        gauge in gauges_in_use(),
        vacuum: bool,
        start in 20e3..70e3_f64,
        remaining in 0.02..0.95_f64,
        count in 3..20_usize,
    ) {
        let start = if vacuum { -start } else { start };
        let unit = IsothermalDecay::from_rate(1.0, common::gauge(start), state(AMBIENT, 293.15), &Gas::dry_air()).unwrap();
        let rate = unit.time_to(common::gauge(remaining * start)).unwrap().value / 60.0;
        let decay = IsothermalDecay::from_rate(rate, common::gauge(start), state(AMBIENT, 293.15), &Gas::dry_air()).unwrap();
        let times = hold(60.0, count);
        let gauges: Vec<f64> = times.iter().map(|t| gauge.rounded(decay.gauge_at(seconds(*t))).pascals()).collect();
        let fit = fit(&run(&times, &gauges), &bench(gauge), 0.9999);
        let fit = match fit {
            Ok(fit) => fit,
            Err(error) => return Err(TestCaseError::fail(error.to_string())),
        };
        // With a class, see the known failure in `recovery.rs`.
        if gauge.accuracy_class().is_none() {
            prop_assert!(covers(fit.rate, rate), "{:?}, truth {rate}", fit.rate);
        }
    }
}
