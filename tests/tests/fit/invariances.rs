//! What must not matter, or matter in proportion.

use super::*;

/// Value and ends of one are `factor` times those of the other.
#[track_caller]
fn assert_scaled<Q: Measurable<Spread = Q>>(
    got: Estimate<Q>,
    of: Estimate<Q>,
    factor: f64,
    relative: f64,
) {
    let (got, of) = (got.si(), of.si());
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
