use super::*;
use crate::assess::Outcome;
use crate::pump::Stall;
use casetight::gas::Gas;
use casetight::gauge::Gauge;
use casetight::limit::Rule;
use casetight::measured::Measured;
use casetight::quantity::{AbsolutePressure, GaugePressure, TemperatureDrift, TradeUnits};

/// A digital gauge on 250 cm3, all else exact.
pub(crate) fn bench() -> Bench {
    Bench {
        volume: Measured::exact(TradeUnits::parse("250 cm3").unwrap()).unwrap(),
        ambient_pressure: Measured::exact(AbsolutePressure::from_pascals(101_325.0).unwrap())
            .unwrap(),
        temperature: Measured::exact(TradeUnits::parse("20 C").unwrap()).unwrap(),
        drift_allowance: TemperatureDrift::ZERO,
        effects: casetight::readings::Effects::none(),
        heat: casetight::vessel::Heat::default(),
        gauge: Gauge::digital(TradeUnits::parse("0.1 kPa").unwrap()).unwrap(),
        gas: Gas::dry_air(),
    }
}

#[test]
fn each_run_has_the_numbers_it_has_alone() {
    let (bench, assumptions) = (bench(), Assumptions::default());
    let limits = [Rule::OnePsiAMinute.limit()];
    let times: Vec<f64> = (0..12).map(|i| 5.0 * f64::from(i)).collect();
    let gauges: Vec<Vec<f64>> = (0..200)
        .map(|run| {
            let by = 3.0 * f64::from(run);
            times.iter().map(|t| 48_000.0 - by * t / 2.0).collect()
        })
        .collect();
    let runs: Vec<(&[f64], &[f64])> = gauges.iter().map(|g| (&times[..], &g[..])).collect();
    let together = assess_many(&runs, &bench, &limits, &assumptions);
    assert_eq!(together.len(), runs.len());
    for ((time_s, gauge_pa), got) in runs.iter().zip(together) {
        let readings = Readings::from_si(time_s, gauge_pa, bench.ambient_pressure.value()).unwrap();
        let alone = assess(&readings, &bench, &limits, &assumptions).unwrap();
        let got = got.unwrap();
        let bits = |run: &RunAssessment| match &run.outcome {
            Outcome::Fitted(f) => {
                let (a, k) = (f.fit.area.si(), f.fit.rate.si());
                [
                    a.value,
                    a.low,
                    a.high,
                    k.value,
                    k.low,
                    k.high,
                    f.fit.residual_rms_pa,
                ]
                .map(f64::to_bits)
            }
            Outcome::Stalled { .. } => panic!("no pump here"),
        };
        assert_eq!((got.verdict, bits(&got)), (alone.verdict, bits(&alone)));
    }
}

#[test]
fn errors_stay_in_their_place() {
    let good: (&[f64], &[f64]) = (&[0.0, 30.0], &[48e3, 47e3]);
    let runs: [(&[f64], &[f64]); 6] = [
        good,
        (&[0.0], &[48e3]),
        (&[0.0, 30.0], &[48e3, f64::NAN]),
        (&[0.0, 30.0], &[48e3, -40e3]),
        (&[0.0, 30.0], &[48e3]),
        good,
    ];
    let results = assess_many(&runs, &bench(), &[], &Assumptions::default());
    let wrong: Vec<bool> = results.iter().map(Result::is_err).collect();
    assert_eq!(wrong, [false, true, true, true, true, false]);
    let row = BatchRow::new("b", &results[1]);
    assert_eq!((row.run.as_str(), row.verdict), ("b", None));
    assert!(row.error.unwrap().contains("at least two") && row.rate_per_s.is_none());
}

#[test]
fn a_stalled_run_has_lower_ends_only() {
    let stall = Stall::new(
        30.0,
        TradeUnits::parse("25 cm3").unwrap(),
        TradeUnits::parse("30 s").unwrap(),
        GaugePressure::from_pascals(7e3).unwrap(),
    )
    .unwrap();
    let assessed = crate::assess::assess_stalled(stall, &bench(), &[], &Assumptions::default());
    let row = BatchRow::new("s", &assessed.map_err(BatchError::from));
    assert!(row.area_low_m2.unwrap() > 0.0 && row.area_high_m2.is_none());
    assert_eq!(row.start_gauge_pa, Some(7e3));
}
