//! The fit against its own forward model; the tests against the independent simulator are in the workspace's tests.

use uom::si::pressure::pascal;
use uom::si::thermodynamic_temperature::kelvin;
use uom::si::time::second;
use uom::si::volume::cubic_centimeter;

use super::problem::{Problem, Term};

use super::expected::expected_rate;
use super::*;
use crate::estimate::Estimate;
use crate::fit::least_squares::Solved;
use crate::gas::Gas;
use crate::gauge::Gauge;
use crate::leak::EffectiveArea;
use crate::measured::{Distribution, Evaluation, Measured};
use crate::numerics::least_squares::Residuals;
use crate::quantity::{
    AbsolutePressure, GaugePressure, Pressure, TemperatureDrift, ThermodynamicTemperature, Time,
    Volume,
};
use crate::vessel::{Direction, Heat, HeatParameters, IsothermalDecay, LawDecay, ModelParameters};

fn pa(p: f64) -> Pressure {
    Pressure::new::<pascal>(p)
}

fn bench(gauge: Gauge) -> Bench {
    let cm3 = Volume::new::<cubic_centimeter>;
    Bench {
        volume: Measured::new(
            cm3(250.0),
            cm3(5.0),
            Evaluation::TypeB(Distribution::Normal),
        )
        .unwrap(),
        ambient_pressure: Measured::exact(AbsolutePressure::from_pascals(101_325.0).unwrap())
            .unwrap(),
        drift_allowance: TemperatureDrift::ZERO,
        effects: crate::readings::Effects::none(),
        heat: crate::vessel::Heat::ISOTHERMAL,
        temperature: Measured::exact(ThermodynamicTemperature::new::<kelvin>(293.15)).unwrap(),
        gauge,
        gas: Gas::dry_air(),
    }
}

/// Readings of a perfect run of 5e-9 m2 from 7 psi, rounded by the gauge.
fn run(bench: &Bench, times: &[f64]) -> Readings {
    let decay = IsothermalDecay::new(
        EffectiveArea::from_square_meters(5e-9).unwrap(),
        bench.volume.value(),
        GaugePressure::from_pascals(48_263.3).unwrap(),
        bench.ambient(),
        &bench.gas,
    )
    .unwrap();
    let gauges: Vec<f64> = times
        .iter()
        .map(|t| {
            bench
                .gauge
                .rounded(decay.gauge_at(Time::new::<second>(*t)))
                .pascals()
        })
        .collect();
    Readings::from_si(times, &gauges, bench.ambient_pressure.value()).unwrap()
}

#[test]
fn a_fine_gauge_gives_the_area_and_a_coarse_one_an_interval_around_it() {
    let fine = bench(Gauge::digital(pa(1.0)).unwrap());
    let times: Vec<f64> = (0..24).map(f64::from).collect();
    let found = fit(&run(&fine, &times), &fine, 0.95).unwrap();
    assert!(
        (found.area.si().value / 5e-9 - 1.0).abs() < 1e-4,
        "{:?}",
        found.area
    );
    assert!(found.converged && found.course == Course::Falls);

    let coarse = bench(Gauge::dial(pa(3447.0), pa(862.0)).unwrap());
    let found = fit(&run(&coarse, &times), &coarse, 0.95).unwrap();
    assert_eq!(found.method, Method::Rounded);
    assert!(found.area.si().low < 5e-9 && 5e-9 < found.area.si().high);
}

#[test]
fn the_parts_add_up_to_the_interval() {
    let bench = bench(Gauge::digital(pa(100.0)).unwrap());
    let times: Vec<f64> = (0..24).map(f64::from).collect();
    let hole = [Candidate::certain(DecayLaw::Orifice)];
    let found = fit_laws(&run(&bench, &times), &bench, 0.95, &hole).unwrap();
    let variance: f64 = found
        .parts
        .iter()
        .map(|p| p.standard_uncertainty_m2.powi(2))
        .sum();
    let half = (found.area.si().high / found.area.si().low).ln() / 2.0 / 1.959_964;
    assert!((half / (variance.sqrt() / found.area.si().value) - 1.0).abs() < 1e-3);
    // Nothing is said of what pushes a rate below zero where nothing does.
    assert!(found.parts.iter().all(|p| p.kind != PartKind::Unsteady));
}

#[test]
fn an_expected_run_has_about_the_interval_that_the_run_then_gives() {
    let bench = bench(Gauge::digital(pa(100.0)).unwrap());
    let times: Vec<f64> = (0..60).map(f64::from).collect();
    let found = fit(&run(&bench, &times), &bench, 0.95).unwrap();
    let expected = expected_rate(
        &bench,
        (found.rate.si().value, found.start),
        59.0,
        60.0,
        0.95,
    )
    .unwrap();
    let half = |i: Estimate<f64>| (i.high - i.low) / 2.0;
    // What is expected takes the law as something in between, which readings never tell as surely as one of a few.
    let over = half(expected.si()) / half(found.rate.si());
    assert!((1.0..3.0).contains(&over), "{over}");
}

#[test]
fn a_level_outside_its_range_is_refused() {
    let bench = bench(Gauge::digital(pa(100.0)).unwrap());
    let readings = run(&bench, &[0.0, 1.0]);
    for level in [0.0, 0.4, 1.0, f64::NAN] {
        assert!(matches!(
            fit(&readings, &bench, level),
            Err(FitError::Level { .. })
        ));
    }
}

/// Independent route: a drift moves dp/dt by p r; the rate that then fits two close readings differs by
/// p r/(|dp/dt| per unit of rate).
#[test]
fn a_drift_counts_as_the_leak_that_it_looks_like() {
    let still = bench(Gauge::digital(pa(1.0)).unwrap());
    let drifting = Bench {
        drift_allowance: TemperatureDrift::from_kelvins_per_second(0.005).unwrap(),
        ..still.clone()
    };
    let readings = run(&still, &[0.0, 2.0]);
    let drift = |b: &Bench| {
        let found = fit(&readings, b, 0.95).unwrap();
        let part = found
            .parts
            .iter()
            .find(|p| p.kind == PartKind::Drift)
            .unwrap();
        (part.standard_uncertainty_m2, found.area.si().value)
    };
    assert!(drift(&still).0.abs() < 1e-30);
    let (got, area) = drift(&drifting);
    let (p, fall) = (
        101_325.0 + 47_700.0,
        (readings.gauges_pa()[0] - readings.gauges_pa()[1]) / 2.0,
    );
    let want = area * p * (0.005 / 293.15) / fall;
    assert!((got / want - 1.0).abs() < 0.01, "{got} {want}");
}

/// A residual is that of one reading even where the fit used means of several: rounding's standard uncertainty is a step
/// over the root of twelve, and readings that are rounded without noise scatter by just that.
#[test]
fn residuals_of_averaged_readings_are_those_of_single_ones() {
    let gauge = Gauge::digital(pa(100.0)).unwrap();
    let bench = bench(gauge);
    let times: Vec<f64> = (0..30_000).map(|i| f64::from(i) * 0.002).collect();
    let found = fit(&run(&bench, &times), &bench, 0.95).unwrap();
    assert!(found.notes.contains(&FitNote::Averaged { block: 6 }));
    let squares: f64 = found.residuals.iter().map(|r| r.standardized.powi(2)).sum();
    // Noise of half a step is stated and absent: (1/12)/(1/12 + 1/4) = 1/4.
    let mean = squares / found.residuals.len() as f64;
    assert!((mean - 0.25).abs() < 0.02, "{mean}");
}

/// Largest difference of a weight from its integral; found: 4e-5.
const EVIDENCE_AGREES: f64 = 3e-4;

/// Laplace's weights against the integrals that they stand for: exp(-chi^2/2) over all rates and start pressures, summed on a
/// grid from the closed forms.
#[test]
fn the_weight_of_a_law_is_its_share_of_the_evidence() {
    let bench = bench(Gauge::digital(pa(100.0)).unwrap());
    let times: Vec<f64> = (0..24).map(|i| f64::from(i) * 0.45).collect();
    let readings = run(&bench, &times);
    let laws = [DecayLaw::Orifice, DecayLaw::Laminar];
    let even = laws.map(|law| Candidate { law, prior: 0.5 });
    let found = fit_laws(&readings, &bench, 0.95, &even).unwrap();

    let sigma = bench.gauge.reading_uncertainty().get::<pascal>();
    let evidence = laws.map(|law| {
        let alone = fit_laws(&readings, &bench, 0.95, &[Candidate::certain(law)]).unwrap();
        let (best, start) = (alone.area.si().value, alone.start.pascals());
        let chi_squared = |area: f64, start: f64| -> f64 {
            let decay = LawDecay::new(
                law,
                EffectiveArea::from_square_meters(area).unwrap(),
                bench.volume.value(),
                GaugePressure::from_pascals(start).unwrap(),
                bench.ambient(),
                &bench.gas,
            )
            .unwrap();
            let pairs = times.iter().zip(readings.gauges_pa());
            pairs
                .map(|(t, reading)| {
                    let gauge = decay.gauge_at(Time::new::<second>(*t)).pascals();
                    ((gauge - reading) / sigma).powi(2)
                })
                .sum()
        };
        // Of one size for both laws, so that the cells' area cancels.
        let (area_step, start_step) = (0.01e-9, 4.0);
        let steps = -60..=60;
        steps
            .clone()
            .flat_map(|i| steps.clone().map(move |j| (f64::from(i), f64::from(j))))
            .map(|(i, j)| (-0.5 * chi_squared(best + i * area_step, start + j * start_step)).exp())
            .sum::<f64>()
    });
    let want = evidence[0] / (evidence[0] + evidence[1]);
    let got = found.laws.iter().find(|l| l.law == laws[0]).unwrap().weight;
    assert!((0.05..0.95).contains(&want), "{want}");
    assert!((got - want).abs() < EVIDENCE_AGREES, "{got} {want}");
}

/// Residuals by the solver's own against the curve at each moment.
#[test]
fn residuals_are_readings_less_the_curve() {
    let bench = bench(Gauge::digital(pa(100.0)).unwrap());
    let times: Vec<f64> = (0..24).map(f64::from).collect();
    let found = fit(&run(&bench, &times), &bench, 0.95).unwrap();
    let u = bench.gauge.reading_uncertainty().get::<pascal>();
    assert_eq!(found.residuals.len(), times.len());
    assert!(found.residual_rms_pa > 10.0);
    for (residual, time) in found.residuals.iter().zip(&times) {
        let curve = found.reading_at(*time, found.rate.si().value).unwrap();
        assert_eq!(residual.time_s, *time);
        assert!(
            (residual.fitted_pa - curve).abs() < 1e-6,
            "{residual:?} {curve}"
        );
        let standardized = (residual.reading_pa - curve) / u;
        assert!(
            (residual.standardized - standardized).abs() < 1e-6,
            "{residual:?}"
        );
    }
}

/// Gas that settles e times as slowly as is known, from 5 K off; readings without noise.
fn slow_settling() -> (Bench, DecayModel, Data) {
    let bench = Bench {
        heat: Heat::default(),
        ..bench(Gauge::digital(pa(1.0)).unwrap())
    };
    let model = DecayModel::new(DecayLaw::Orifice, &bench.gas, Direction::Pressure).unwrap();
    let known = Known::of(&bench, (48_263.0, 60.0));
    let heat = known.values().heat.unwrap();
    let given = ModelParameters {
        rate: 0.01,
        start: 48_263.0,
        ambient: 101_325.0,
        heat: Some(HeatParameters {
            ln_settling_time: heat.ln_settling_time + 1.0,
            start_excess: 5.0 / 293.15,
            ..heat
        }),
    };
    let times: Vec<f64> = (0..24).map(|i| 0.5 * f64::from(i)).collect();
    let mut at = Vec::new();
    model.follow(&given, &times, &mut at).unwrap();
    let gauges: Vec<f64> = at.iter().map(|at| at.gauge).collect();
    let readings = Readings::from_si(&times, &gauges, bench.ambient_pressure.value()).unwrap();
    let data = Data::of(&readings, &bench);
    (bench, model, data)
}

#[test]
fn a_terms_parameter_and_its_distance_invert_each_other() {
    let (bench, ..) = slow_settling();
    let known = Known::of(&bench, (48_263.0, 60.0));
    for term in known.terms() {
        for z in [-3.0, -0.5, 0.0, 0.5, 3.0, 8.0] {
            let x = known.parameter(term, z);
            let (off, by_x) = known.off(term, x);
            assert!((off - z).abs() < 1e-12, "{term:?} {z}: {off}");
            let h = 1e-5 * (1.0 + x.abs());
            let want = (known.off(term, x + h).0 - known.off(term, x - h).0) / (2.0 * h);
            assert!((by_x - want).abs() < 1e-5, "{term:?} {z}: {by_x} {want}");
        }
    }
}

/// The information is about rate, start pressure and the terms themselves: here from differences by these, whatever the solver
/// steps in.
#[test]
fn the_information_is_about_the_terms_themselves() {
    let (bench, model, data) = slow_settling();
    let circumstances = Circumstances::new(Known::of(&bench, (48_263.0, 60.0)));
    let Circumstances { known, terms, .. } = &circumstances;
    let solved = Solved::find(&model, &data, &circumstances, None).unwrap();
    let place = terms.iter().zip(&solved.theta[2..]);
    let mut at = vec![solved.rate, solved.start];
    at.extend(place.map(|(term, x)| known.off(*term, *x).0));
    let time = terms.iter().position(|t| *t == Term::SettlingTime).unwrap();
    assert!(at[2 + time] > 1.5, "{at:?}");

    let mut problem = Problem::new(&model, (&data.points, &data.times), (known, terms));
    let (rows, columns) = (problem.residuals(), problem.parameters());
    let mut residuals = |at: &[f64]| {
        let mut theta = at[..2].to_vec();
        theta.extend(
            terms
                .iter()
                .zip(&at[2..])
                .map(|(t, z)| known.parameter(*t, *z)),
        );
        let (mut r, mut jacobian) = (vec![0.0; rows], vec![0.0; rows * columns]);
        assert!(problem.evaluate(&theta, &mut r, &mut jacobian));
        r
    };
    let mut slopes = nalgebra::DMatrix::zeros(rows, columns);
    for j in 0..columns {
        let h = [1e-2 * solved.rate, 20.0, 0.02, 0.02][j];
        let (mut low, mut high) = (at.clone(), at.clone());
        low[j] -= h;
        high[j] += h;
        for (i, (a, b)) in residuals(&low).iter().zip(residuals(&high)).enumerate() {
            slopes[(i, j)] = (b - a) / (2.0 * h);
        }
    }
    let want = (slopes.transpose() * slopes).determinant().ln();
    assert!(
        (solved.ln_information - want).abs() < 0.05,
        "{} {want}",
        solved.ln_information
    );
}

/// From memory: Huber's weights (`[Huber1964]`): a residual r beyond k counts k/|r|, so that its pull no longer grows.
#[test]
fn a_reading_that_outlies_counts_by_hubers_weight() {
    let bench = bench(Gauge::digital(pa(100.0)).unwrap());
    let times: Vec<f64> = (0..24).map(f64::from).collect();
    let mut data = Data::of(&run(&bench, &times), &bench);
    let before: Vec<f64> = data.points.iter().map(|point| point.weight).collect();
    let mut off = vec![0.0; before.len()];
    let sizes = [(5, 2.9), (8, 4.0), (11, 12.0), (20, 300.0)];
    for (place, size) in sizes {
        off[place] = size / before[place];
    }
    assert!(data.set_outlying_aside(&off));
    for (place, (point, before)) in data.points.iter().zip(&before).enumerate() {
        let size = sizes
            .iter()
            .find(|(at, _)| *at == place)
            .map_or(0.0, |(_, size)| *size);
        let wanted = if size > 3.0 { 3.0 / size } else { 1.0 };
        let got = (point.weight / before).powi(2);
        assert!((got - wanted).abs() < 1e-12, "{place}: {got} {wanted}");
    }
    assert_eq!(data.outliers, 2);
}

/// The upper end of a needle that stands still holds what the wall's drift may hide, too, on a gauge of fine steps and of coarse ones.
#[test]
fn a_bound_holds_what_all_readings_share() {
    const GAUGE: f64 = 48_250.0;
    let times: Vec<f64> = (0..24).map(|i| 5.0 * f64::from(i)).collect();
    for (gauge, coarse) in [
        (Gauge::digital(pa(50.0)).unwrap(), false),
        (Gauge::dial(pa(500.0), pa(250.0)).unwrap(), true),
    ] {
        let still = bench(gauge.with_stopwatch(Time::new::<second>(0.0)).unwrap());
        let ambient = still.ambient_pressure.value();
        let readings = Readings::from_si(&times, &[GAUGE; 24], ambient).unwrap();
        let high = |drift: f64| {
            let drift_allowance = TemperatureDrift::from_kelvins_per_second(drift / 60.0).unwrap();
            let drifting = Bench {
                drift_allowance,
                ..still.clone()
            };
            let found = fit(&readings, &drifting, 0.95).unwrap();
            assert_eq!(found.course, Course::Stands);
            assert_eq!(found.method == Method::Rounded, coarse);
            found.rate.si().high
        };
        // A drift of 1 K/min moves (101.3 + 48.3) kPa by 150e3/293/60 = 8.5 Pa/s, as much as a leak of the rate
        // 8.5/101325/(flow at the start); the 95 % end is 1.96 of it, noise in quadrature.
        let (none, one) = (high(0.0), high(1.0));
        let flow = {
            // Subsonic orifice, written out: P sqrt(2 gamma/(gamma - 1) (x^(2/gamma) - x^((gamma + 1)/gamma))), x = 1/P.
            let (p, g) = (1.0 + GAUGE / 101_325.0, 1.4_f64);
            let x = 1.0 / p;
            p * (2.0 * g / (g - 1.0) * (x.powf(2.0 / g) - x.powf((g + 1.0) / g))).sqrt()
        };
        let drift = (101_325.0 + GAUGE) / 293.15 / 60.0 / 101_325.0 / flow;
        let wanted = none.hypot(1.96 * drift);
        assert!(
            (one / wanted - 1.0).abs() < 0.1,
            "coarse: {coarse}, {none} {one} {wanted}"
        );
    }
}

/// No line through them leads from a pressure; they are fitted all the same, and not said to be of one leak.
#[test]
fn readings_that_no_line_leads_to_are_fitted() {
    let bench = bench(Gauge::digital(pa(100.0)).unwrap());
    let ambient = bench.ambient_pressure.value();
    for readings in [[-1.0, -39_360.0, -116.0], [1.0, 39_360.0, 116.0]] {
        let rows: Vec<_> = (0..3_u8)
            .zip(readings)
            .map(|(i, gauge)| {
                let gauge = GaugePressure::from_pascals(gauge).unwrap();
                (Time::new::<second>(f64::from(i)), gauge)
            })
            .collect();
        let found = fit(&Readings::new(&rows, ambient).unwrap(), &bench, 0.95).unwrap();
        let Estimate {
            low, value, high, ..
        } = found.area.si();
        assert!(0.0 <= low && low <= value && value <= high, "{found:?}");
        assert!(!found.is_acceptable());
    }
}
