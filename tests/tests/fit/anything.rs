//! Anything that a notebook may hold.

use super::*;

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
fn in_order<Q: Measurable<Spread = Q>>(interval: Estimate<Q>, open_upward: bool) -> bool {
    let Estimate {
        value, low, high, ..
    } = interval.si();
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
                for limit in [0.0, 1e-12, 1e-9, 1e-6, fit.area.si().value, fit.area.si().high, f64::INFINITY, f64::NAN] {
                    let within = fit.area.si().probability_within(limit);
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
