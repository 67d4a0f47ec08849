//! What runs show, at any level.

use super::*;

#[test]
fn two_readings_are_solved_exactly() {
    for (first, second) in [(48_300.0, 41_200.0), (-48_300.0, -41_200.0)] {
        let fit = fitted_hole(&[5.0, 65.0], &[first, second], &bench(digital()));
        let unit =
            IsothermalDecay::from_rate(1.0, gauge(first), state(AMBIENT, 293.15), &Gas::dry_air());
        let rate = unit.unwrap().time_to(gauge(second)).unwrap().value / 60.0;
        assert_close("rate", fit.rate.si().value, rate, 1e-7);
        assert_close("start", fit.start.pascals(), first, 1e-7);
        assert!(fit.residual_rms_pa < 0.01, "{}", fit.residual_rms_pa);
        assert_eq!((fit.degrees_of_freedom, misfit(&fit)), (0, None));
        assert_eq!(fit.course, Course::Falls);
        // First-order propagation of two independent readings, each of 50 Pa noise and 100/sqrt(12) Pa rounding.
        let u = 50.0_f64.hypot(100.0 / 12.0_f64.sqrt());
        let by = |first: f64, second: f64| {
            fitted_hole(&[5.0, 65.0], &[first, second], &bench(digital()))
                .rate
                .si()
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
                assert!(fit.area.si().low <= 0.0 && fit.area.si().value >= 0.0);
                assert!(fit.area.si().high.is_finite() && fit.area.si().high > fit.area.si().value);
                assert!(fit.area.si().value < 0.5 * fit.area.si().high);
                assert!(misfit(&fit).is_none());
                fit.area.si().high
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
        assert!(fit.area.si().value <= 0.0 && fit.area.si().low <= 0.0 && fit.area.si().high > 0.0);
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
        assert_close("long", long.area.si().value, 2e-8, 0.01);
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
                    (0.7..1.1).contains(&(rate.si().low / least)),
                    "{rate:?}, {least}"
                );
                assert!(
                    rate.si().value >= 0.9 * least && rate.si().high >= 3.0 * least,
                    "{rate:?}"
                );
            }
        }
    }
}

/// The least leak of a needle at rest by the second reading, by hand: the rate that takes it from one reading to the other, less what each
/// reading's uncertainty at the level makes of it, in quadrature.
#[test]
fn the_least_leak_of_a_fallen_needle_goes_by_the_level_and_both_readings() {
    let gauge = digital().with_noise(pascals(2000.0)).unwrap();
    let uncertainty = gauge.reading_uncertainty().value;
    let (first, second) = (48_000.0, 1_500.0);
    let falls = |from: f64, to: f64| {
        let unit = IsothermalDecay::from_rate(
            1.0,
            common::gauge(from),
            state(AMBIENT, 293.15),
            &Gas::dry_air(),
        );
        unit.unwrap().time_to(common::gauge(to)).unwrap().value / 10.0
    };
    for (level, z) in [(0.68, 0.994_458), (0.95, 1.959_964), (0.9999, 3.890_592)] {
        let readings = run(&[0.0, 10.0, 20.0, 30.0], &[first, second, 0.0, 100.0]);
        let fit = fit(&readings, &bench(gauge), level).unwrap();
        assert_eq!(fit.method, Method::Fallen);
        let as_read = falls(first, second);
        let by_first = as_read - falls(first - z * uncertainty, second);
        let by_second = as_read - falls(first, second + z * uncertainty);
        assert_close(
            "the least",
            fit.rate.si().low,
            as_read - by_first.hypot(by_second),
            1e-5,
        );
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
        assert!(half_width(fit.area) < 1e-3 * fit.area.si().value);
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
    assert!(half_width(fit.area) > 0.1 * fit.area.si().value && fit.area.si().high < 1e-7);
    assert_eq!(misfit(&fit), None);
    // The same readings from a gauge that is trusted too much.
    assert!(misfit(&fitted(&times, &gauges, &bench(digital()))).unwrap() > 50.0);
}

/// Readings thousands of their uncertainties off any curve widen an interval, and leave it finite: a volume that is known to a quarter is
/// not one of which nothing is known.
#[test]
fn a_misfit_beyond_all_bounds_has_a_finite_interval() {
    let gauge = Gauge::digital(pascals(2.017))
        .unwrap()
        .with_noise(pascals(0.2017))
        .unwrap();
    let spread = cubic_meters(0.236 * VOLUME);
    let volume = Measured::new(
        cubic_meters(VOLUME),
        spread,
        Evaluation::TypeB(Distribution::Normal),
    );
    let bench = Bench {
        volume: volume.unwrap(),
        ..bench(gauge)
    };
    let times = [0.0, 1.94, 3.89, 5.83, 111.0, 286.9, 337.1, 526.8];
    let gauges = [
        75_769.0, 14_239.0, 42_391.0, 71_742.0, 26_289.0, 34_453.0, 47_324.0, 52_514.0,
    ];
    let fit = fitted(&times, &gauges, &bench);
    assert!(misfit(&fit).is_some());
    for (value, high) in [
        (fit.area.si().value, fit.area.si().high),
        (fit.rate.si().value, fit.rate.si().high),
    ] {
        assert!(high.is_finite() && high > value, "{value} to {high}");
    }
}

/// Readings that rise by a lip's law reach no end: the curve has nothing to say after it, and names no reading misread by it.
#[test]
fn a_curve_that_ends_names_no_reading_misread() {
    let times = [
        0.0, 0.132, 0.148, 0.434, 1.966, 3.249, 3.266, 4.825, 5.985, 7.160, 7.273, 8.185,
    ];
    let gauges = [
        1000.0, 251.2, 252.1, 100.3, 1125.9, 105.2, 64.2, 0.0, 237.9, 434.2, 898.7, 491.1,
    ];
    let gauge = Gauge::digital(pascals(6.54)).unwrap();
    let class = AccuracyClass {
        class: 1.79,
        span: pascals(2e5),
    };
    let gauge = gauge.with_noise(pascals(0.0)).unwrap();
    let gauge = gauge.with_stopwatch(seconds(905.0)).unwrap();
    let gauge = gauge.with_accuracy_class(class).unwrap();
    let fit = fitted(&times, &gauges, &bench(gauge));
    let expected = fit.misread.map(|misread| misread.expected_pa);
    assert!(expected.is_none_or(f64::is_finite), "{expected:?}");
    assert!(fit.residuals.iter().all(|r| r.fitted_pa.is_finite()));
}

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
            assert!(covers(area, area.si().value) && area.level.to_bits() == level.to_bits());
            half_width(area)
        });
        assert!(widths.is_sorted_by(|a, b| a < b), "{widths:?}");
    }
}
