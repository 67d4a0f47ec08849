//! Published examples of propagation, and what must hold for any.

use std::f64::consts::PI;

use proptest::prelude::*;
use uom::si::length::{meter, millimeter};
use uom::si::pressure::pascal;
use uom::si::temperature_interval::kelvin as kelvin_interval;
use uom::si::thermodynamic_temperature::degree_celsius;

use super::*;
use crate::quantity::{Length, Volume};

const NORMAL: Evaluation = Evaluation::TypeB(Distribution::Normal);

fn normal(value: f64, u: f64) -> Measured<f64> {
    Measured::new(value, u, NORMAL).unwrap()
}

fn within(value: f64, half_width: f64, distribution: Distribution) -> Measured<f64> {
    Measured::from_half_width(value, half_width, distribution).unwrap()
}

/// Whether a number is a published one within what its printed digits leave open.
fn printed(got: f64, published: f64, half_last_digit: f64) -> bool {
    (got - published).abs() <= half_last_digit * (1.0 + 1e-9)
}

/// Inputs of JCGM 100, H.1: an end gauge compared with a standard; lengths in nm, temperatures in kelvins.
fn end_gauge() -> [Input; 9] {
    let few = |measured: Measured<f64>, nu| measured.with_degrees_of_freedom(nu).unwrap();
    [
        few(normal(50_000_623.0, 25.0), 18.0).input("standard"),
        few(normal(215.0, 5.8), 24.0).input("readings"),
        few(normal(0.0, 3.9), 5.0).input("comparator, random"),
        few(normal(0.0, 6.7), 8.0).input("comparator, systematic"),
        within(11.5e-6, 2e-6, Distribution::Rectangular).input("expansion of the standard"),
        few(within(0.0, 1e-6, Distribution::Rectangular), 50.0).input("difference in expansion"),
        few(within(0.0, 0.05, Distribution::Rectangular), 2.0).input("difference in temperature"),
        normal(-0.1, 0.2).input("mean temperature"),
        within(0.0, 0.5, Distribution::Arcsine).input("swing of the temperature"),
    ]
}

fn end_gauge_length([ls, d, d1, d2, alpha, d_alpha, d_theta, theta, swing]: [Dual; 9]) -> Dual {
    ls + d + d1 + d2 - ls * (d_alpha * (theta + swing) + alpha * d_theta)
}

#[test]
fn end_gauge_of_jcgm_100_h1() {
    // Published: JCGM 100:2008, H.1 (l = 50.000838 mm, u_c = 32 nm, parts 25, 16.6, 6.7, 5.8, 3.9, 2.9 nm).
    let length = propagate(&end_gauge(), None, end_gauge_length).unwrap();
    assert!(printed(length.value(), 50_000_838.0, 0.5));
    assert!(printed(length.standard_uncertainty(), 32.0, 0.5));
    let parts: Vec<f64> = length
        .contributions()
        .iter()
        .map(|part| part.uncertainty)
        .collect();
    for (got, published) in parts
        .iter()
        .zip([25.0, 5.8, 3.9, 6.7, 0.0, 2.9, -16.6, 0.0, 0.0])
    {
        assert!(printed(*got, published, 0.05), "{got} {published}");
    }
    // From memory: the same example, nu_eff = 16 (rounded down), k = 2.92, U_99 = 2.92 * 32 nm = 93 nm.
    let nu = length.degrees_of_freedom().unwrap().floor();
    assert_eq!(nu, 16.0);
    let k = coverage_factor(0.99, nu).unwrap();
    assert!(printed(k, 2.92, 0.005), "{k}");
    assert!(printed(
        k * length.standard_uncertainty().round(),
        93.0,
        0.5
    ));
}

#[test]
fn end_gauge_with_the_terms_that_first_order_leaves_out() {
    // Published: JCGM 100:2008, H.1.7, u_c = 34 nm with second-order terms. Sampling adds 0.1 nm at 60 000 trials.
    let run = monte_carlo(&end_gauge(), None, 60_000, 20, end_gauge_length).unwrap();
    assert!(
        printed(run.standard_uncertainty(), 34.0, 0.5),
        "{}",
        run.standard_uncertainty()
    );
    assert!(printed(run.mean(), 50_000_838.0, 0.7));
}

#[test]
fn impedance_of_jcgm_100_h2() {
    // Published: JCGM 100:2008, H.2: simultaneous resistance, reactance and impedance from correlated means. Values as
    // printed in the documentation of a public GUM implementation that reruns the example.
    let inputs = [
        normal(4.9990, 3.2e-3).input("V"),
        normal(19.661e-3, 9.5e-6).input("I"),
        normal(1.044_46, 7.5e-4).input("phi"),
    ];
    let correlation = [[1.0, -0.36, 0.86], [-0.36, 1.0, -0.65], [0.86, -0.65, 1.0]];
    let result = propagate_jointly(&inputs, Some(correlation.as_flattened()), |[v, i, phi]| {
        let z = v / i;
        [z * phi.cos(), z * phi.sin(), z]
    })
    .unwrap();
    for (output, (value, half_digit, u)) in result.outputs().iter().zip([
        (127.732, 5e-4, 0.070),
        (219.85, 5e-3, 0.30),
        (254.26, 5e-3, 0.24),
    ]) {
        assert!(
            printed(output.value(), value, half_digit),
            "{}",
            output.value()
        );
        let half_digit = if u < 0.1 { 5e-4 } else { 5e-3 };
        assert!(printed(output.standard_uncertainty(), u, half_digit));
        let shares: f64 = output
            .contributions()
            .iter()
            .map(|part| part.variance_share)
            .sum();
        assert!((shares - 1.0).abs() < 1e-12);
    }
    for (row, column, r) in [(0, 1, -0.59), (0, 2, -0.49), (1, 2, 0.99)] {
        let got = result.correlation(row, column).unwrap();
        assert!(printed(got, r, 5e-3), "r({row}, {column}) = {got}");
        let mirrored = result.correlation(column, row).unwrap();
        assert!((got - mirrored).abs() < 1e-14);
    }
    // The correlated draws of the Monte Carlo run know the same correlation: 1.5 % covers 20 000 trials five times over.
    let run = monte_carlo(
        &inputs,
        Some(correlation.as_flattened()),
        20_000,
        3,
        |[v, i, phi]| v / i * phi.cos(),
    )
    .unwrap();
    let relative = run.standard_uncertainty() / result.outputs()[0].standard_uncertainty() - 1.0;
    assert!(relative.abs() < 0.025, "{relative}");
}

/// JCGM 101 prints two decimals; the ends of a 95 % interval from 200 000 trials scatter by 0.006 u.
const ENDS: f64 = 0.03;

#[test]
fn sum_of_four_rectangular_of_jcgm_101_9_2_3() {
    // Published: JCGM 101:2008, 9.2.3: u = 2.00, interval [-3.88, 3.88]; the normal one would be 3.92.
    let part = within(0.0, 3.0_f64.sqrt(), Distribution::Rectangular);
    let inputs = ["a", "b", "c", "d"].map(|name| part.input(name));
    let run = monte_carlo(&inputs, None, 200_000, 1, |[a, b, c, d]| a + b + c + d).unwrap();
    assert!(printed(run.standard_uncertainty(), 2.00, 0.015));
    let interval = run.symmetric_interval(0.95).unwrap();
    assert!(printed(interval.low, -3.88, ENDS) && printed(interval.high, 3.88, ENDS));
    assert!(
        interval.high < 3.91,
        "not told from the normal one: {interval:?}"
    );
}

#[test]
fn one_wide_rectangular_of_jcgm_101_9_2_4() {
    // Published: JCGM 101:2008, 9.2.4: u = 10.1, interval [-17.0, 17.0], where first order with k = 1.96 says 19.9.
    let narrow = within(0.0, 3.0_f64.sqrt(), Distribution::Rectangular);
    let wide = within(0.0, 300.0_f64.sqrt(), Distribution::Rectangular);
    let inputs = [
        narrow.input("a"),
        narrow.input("b"),
        narrow.input("c"),
        wide.input("d"),
    ];
    let sum = |[a, b, c, d]: [Dual; 4]| a + b + c + d;
    let first = propagate(&inputs, None, sum).unwrap();
    assert!(printed(first.standard_uncertainty(), 10.1, 0.05));
    assert!(printed(first.expanded(0.95).unwrap(), 19.9, 0.05));
    let run = monte_carlo(&inputs, None, 200_000, 2, sum).unwrap();
    assert!(printed(run.standard_uncertainty(), 10.1, 0.08));
    // A flat density of 0.0289 leaves the ends a scatter of 0.012.
    for interval in [
        run.symmetric_interval(0.95).unwrap(),
        run.shortest_interval(0.95).unwrap(),
    ] {
        assert!((interval.high - interval.low - 34.0).abs() < 0.2);
    }
    let interval = run.symmetric_interval(0.95).unwrap();
    assert!(printed(interval.low, -17.0, 0.1) && printed(interval.high, 17.0, 0.1));
}

#[test]
fn mass_calibration_of_jcgm_101_9_4() {
    // Published: JCGM 101:2008, 9.4 (the inputs from memory): Monte Carlo 1.2341 mg, u = 0.0754 mg, shortest interval
    // [1.0834, 1.3825] mg; first order u = 0.0539 mg, which leaves out the term that matters. Masses in mg.
    let inputs = [
        normal(100_000.000, 0.050).input("reference weight"),
        normal(1.234, 0.020).input("added weight"),
        within(1.20, 0.10, Distribution::Rectangular).input("density of air"),
        within(8000.0, 1000.0, Distribution::Rectangular).input("density of the weight"),
        within(8000.0, 50.0, Distribution::Rectangular).input("density of the reference"),
    ];
    let model = |[reference, added, air, weight, standard]: [Dual; 5]| {
        (reference + added) * ((air - 1.2) * (weight.recip() - standard.recip()) + 1.0) - 100_000.0
    };
    let first = propagate(&inputs, None, model).unwrap();
    assert!(printed(first.value(), 1.234, 5e-4));
    assert!(printed(first.standard_uncertainty(), 0.0539, 5e-5));
    let run = monte_carlo(&inputs, None, 400_000, 4, model).unwrap();
    // Standard errors at 400 000 trials: mean and u 0.0001 mg, symmetric ends 0.0004 mg, a shortest interval's ends
    // several times that, since near its minimum the length hardly depends on where it lies.
    assert!(printed(run.mean(), 1.2341, 4e-4), "{}", run.mean());
    assert!(printed(run.standard_uncertainty(), 0.0754, 4e-4));
    let shortest = run.shortest_interval(0.95).unwrap();
    assert!((shortest.low - 1.0834).abs() < 5e-3, "{shortest:?}");
    assert!((shortest.high - 1.3825).abs() < 5e-3, "{shortest:?}");
    let length = shortest.high - shortest.low;
    assert!((length - (1.3825 - 1.0834)).abs() < 1.5e-3, "{length}");
    let symmetric = run.symmetric_interval(0.95).unwrap();
    assert!(symmetric.high - symmetric.low >= length);
}

#[test]
fn coverage_factors_of_the_t_table() {
    // Published: JCGM 100:2008, Table G.2 (from memory).
    for (level, nu, k) in [
        (0.95, 1.0, 12.71),
        (0.95, 2.0, 4.30),
        (0.95, 5.0, 2.57),
        (0.95, 20.0, 2.09),
        (0.95, 100.0, 1.984),
        (0.95, f64::INFINITY, 1.960),
        (0.9545, f64::INFINITY, 2.000),
        (0.99, 10.0, 3.17),
        (0.99, f64::INFINITY, 2.576),
    ] {
        let got = coverage_factor(level, nu).unwrap();
        let digits = if k * 100.0_f64 == (k * 100.0).round() {
            5e-3
        } else {
            5e-4
        };
        assert!(printed(got, k, digits), "{level} {nu}: {got}");
    }
    // Where the expansion takes over, nothing jumps: k falls by k (z^2 + 1)/(4 nu) times the step in nu over nu, 5e-15.
    for level in [0.5, 0.95, 0.9999] {
        let below = coverage_factor(level, 1e3 * (1.0 - 1e-12)).unwrap();
        let above = coverage_factor(level, 1e3).unwrap();
        assert!((below / above - 1.0).abs() < 1e-9, "{below} {above}");
    }
    // One degree of freedom is Cauchy's distribution: k = tan(pi/2 level).
    for level in [0.5, 0.95, 0.9999] {
        let relative = coverage_factor(level, 1.0).unwrap() / (0.5 * PI * level).tan() - 1.0;
        assert!(relative.abs() < 1e-9, "{level}: {relative}");
    }
    for nu in [1.0, 5.0, f64::INFINITY] {
        let level = 1.0 - f64::EPSILON / 2.0;
        assert_eq!(
            coverage_factor(level, nu),
            Err(MeasuredError::Level { got: level })
        );
    }
}

#[test]
fn readings_give_a_type_a_evaluation() {
    // Published: JCGM 100:2008, 4.4.3, Table 1 (from memory): twenty temperatures, mean 100.14, s = 1.49, u = 0.33 C.
    let readings = [
        96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07, 100.33, 100.42,
        100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
    ];
    let mean = Measured::from_readings(&readings).unwrap();
    assert!(printed(mean.value(), 100.14, 0.0051), "{}", mean.value());
    assert!(printed(mean.standard_uncertainty(), 0.33, 0.0051));
    assert_eq!(mean.evaluation(), Evaluation::TypeA);
    assert_eq!(mean.degrees_of_freedom(), 19.0);
    assert_eq!(
        Measured::from_readings(&[1.0]),
        Err(MeasuredError::TooFewReadings { got: 1 })
    );
    assert!(Measured::from_readings(&[1.0, f64::NAN]).is_err());
}

#[test]
fn half_widths_of_each_distribution_are_those_of_its_draws() {
    for (distribution, divisor) in [
        (Distribution::Normal, 1.959_963_984_540_054),
        (Distribution::Rectangular, 3.0_f64.sqrt()),
        (Distribution::Triangular, 6.0_f64.sqrt()),
        (Distribution::Arcsine, 2.0_f64.sqrt()),
    ] {
        let measured = within(5.0, 1.0, distribution);
        assert!((measured.standard_uncertainty() * divisor - 1.0).abs() < 1e-15);
        let run = monte_carlo(&[measured.input("x")], None, 50_000, 5, |[x]| x).unwrap();
        // 50 000 trials: u to 0.3 %, the mean to 0.005 u.
        let relative = run.standard_uncertainty() / measured.standard_uncertainty() - 1.0;
        assert!(relative.abs() < 0.012, "{distribution:?}: {relative}");
        assert!((run.mean() - 5.0).abs() < 0.02 * measured.standard_uncertainty());
        let (low, high) = (run.sorted()[0], run.sorted()[49_999]);
        if distribution == Distribution::Normal {
            assert!(high > 6.0 && low < 4.0);
        } else {
            assert!((4.0..4.02).contains(&low) && (5.98..=6.0).contains(&high));
        }
    }
}

#[test]
fn a_type_a_input_is_drawn_from_students_t() {
    // Student's t with nu degrees of freedom has the variance nu/(nu - 2): 1.25 at ten. Its 95 % end is 2.228 u.
    let input = Measured::new(0.0, 1.0, Evaluation::TypeA)
        .unwrap()
        .with_degrees_of_freedom(10.0)
        .unwrap()
        .input("x");
    let run = monte_carlo(&[input], None, 100_000, 6, |[x]| x).unwrap();
    assert!((run.standard_uncertainty() - 1.25_f64.sqrt()).abs() < 0.015);
    assert!((run.symmetric_interval(0.95).unwrap().high - 2.228).abs() < 0.04);
}

#[test]
fn the_same_seed_gives_the_same_run() {
    let input = [normal(0.0, 1.0).input("x")];
    let run = |seed| monte_carlo(&input, None, 1000, seed, |[x]| x).unwrap();
    assert_eq!(run(1), run(1));
    assert_ne!(run(1).mean(), run(2).mean());
}

#[test]
fn quantities_keep_their_spread() {
    let room = Measured::new(
        ThermodynamicTemperature::new::<degree_celsius>(20.0),
        TemperatureInterval::new::<kelvin_interval>(0.5),
        NORMAL,
    )
    .unwrap();
    assert!((room.input("T").value() - 293.15).abs() < 1e-12);
    assert!((room.standard_uncertainty().get::<kelvin_interval>() - 0.5).abs() < 1e-15);
    let ambient = Measured::from_expanded(
        AbsolutePressure::from_pascals(101_325.0).unwrap(),
        Pressure::new::<pascal>(200.0),
        2.0,
    )
    .unwrap()
    .with_source("workshop barometer");
    assert_eq!(ambient.standard_uncertainty().get::<pascal>(), 100.0);
    assert_eq!(ambient.source(), "workshop barometer");
    assert!((ambient.relative().unwrap() - 100.0 / 101_325.0).abs() < 1e-15);
    let zero = Measured::exact(GaugePressure::from_pascals(0.0).unwrap()).unwrap();
    assert_eq!(zero.relative(), None);
    let below = propagate(&[ambient.input("p")], None, |[p]| p - 2e5).unwrap();
    assert!(matches!(
        below.measured::<AbsolutePressure>(),
        Err(MeasuredError::Value { got }) if got < 0.0
    ));
    let gauge: Measured<GaugePressure> = below.measured().unwrap();
    assert_eq!(gauge.evaluation(), Evaluation::Combined);
}

#[test]
fn impossible_values_are_refused() {
    let length = Length::new::<meter>;
    for bad in [-1.0, f64::NAN, f64::INFINITY] {
        for result in [
            Measured::new(length(1.0), length(bad), NORMAL),
            Measured::from_half_width(length(1.0), length(bad), Distribution::Triangular),
            Measured::from_expanded(length(1.0), length(bad), 2.0),
        ] {
            assert!(matches!(result, Err(MeasuredError::Uncertainty { .. })));
        }
    }
    for bad in [f64::NAN, f64::NEG_INFINITY] {
        assert!(matches!(
            Measured::exact(length(bad)),
            Err(MeasuredError::Value { .. })
        ));
    }
    for k in [0.0, -2.0, f64::NAN, f64::INFINITY] {
        assert!(matches!(
            Measured::from_expanded(1.0, 0.1, k),
            Err(MeasuredError::CoverageFactor { .. })
        ));
    }
    for nu in [0.0, 0.9, -1.0, f64::NAN] {
        assert!(matches!(
            normal(1.0, 0.1).with_degrees_of_freedom(nu),
            Err(MeasuredError::DegreesOfFreedom { .. })
        ));
        assert!(matches!(
            coverage_factor(0.95, nu),
            Err(MeasuredError::DegreesOfFreedom { .. })
        ));
    }
    for level in [0.0, 1.0, -0.5, f64::NAN] {
        assert!(matches!(
            coverage_factor(level, 5.0),
            Err(MeasuredError::Level { .. })
        ));
        let run = monte_carlo(&[normal(0.0, 1.0).input("x")], None, 100, 1, |[x]| x).unwrap();
        assert!(run.symmetric_interval(level).is_err());
        assert!(run.shortest_interval(level).is_err());
    }
}

#[test]
fn impossible_correlations_are_refused() {
    let inputs = ["a", "b", "c"].map(|name| normal(1.0, 0.1).input(name));
    let refused = |matrix: &[f64]| {
        let sum = |[a, b, c]: [Dual; 3]| a + b + c;
        propagate(&inputs, Some(matrix), sum).unwrap_err()
    };
    assert_eq!(
        refused(&[1.0; 4]),
        MeasuredError::CorrelationSize { got: 4, inputs: 3 }
    );
    let with = |row: usize, column: usize, r: f64| {
        let mut matrix = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
        matrix[row][column] = r;
        matrix
    };
    for (row, column, r) in [
        (1, 1, 0.9),
        (0, 1, 0.5),
        (0, 2, 1.5),
        (2, 1, f64::NAN),
        (0, 0, f64::NAN),
    ] {
        let error = refused(with(row, column, r).as_flattened());
        assert!(matches!(error, MeasuredError::CorrelationEntry { .. }));
    }
    // a goes with b and with c, but b against c: no three quantities do.
    let matrix = [[1.0, 0.9, 0.9], [0.9, 1.0, -0.9], [0.9, -0.9, 1.0]];
    assert!(matches!(
        refused(matrix.as_flattened()),
        MeasuredError::CorrelationContradiction { smallest_eigenvalue } if smallest_eigenvalue < 0.0
    ));
}

#[test]
fn impossible_models_are_refused() {
    let input = [normal(0.0, 0.1).input("x")];
    let refused = |model: fn(Dual) -> Dual| propagate(&input, None, |[x]| model(x)).unwrap_err();
    assert!(matches!(
        refused(|x| x.ln()),
        MeasuredError::ModelValue { output: 0, .. }
    ));
    assert!(matches!(
        refused(|x| x.sqrt()),
        MeasuredError::ModelDerivative { output: 0, .. }
    ));
    assert!(matches!(
        propagate_slice(&input, None, |_| Vec::new()),
        Err(MeasuredError::ModelOutputs {
            got: 0,
            expected: 1
        })
    ));
    assert!(matches!(
        propagate_slice(&input, None, |x| vec![
            x[0];
            if x[0].eps == 0.0 { 1 } else { 2 }
        ]),
        Err(MeasuredError::ModelOutputs {
            got: 2,
            expected: 1
        })
    ));
    assert!(matches!(
        monte_carlo(&input, None, 1000, 1, |[x]| x.ln()),
        Err(MeasuredError::Trial { .. })
    ));
    for trials in [0, 99, usize::MAX] {
        assert!(matches!(
            monte_carlo(&input, None, trials, 1, |[x]| x),
            Err(MeasuredError::Trials { got, .. }) if got == trials
        ));
    }
    let swing = within(0.0, 1.0, Distribution::Arcsine).input("swing");
    let pair = [normal(0.0, 1.0).input("x"), swing];
    assert!(matches!(
        monte_carlo(&pair, Some(&[1.0, 0.5, 0.5, 1.0]), 1000, 1, |[x, y]| x + y),
        Err(MeasuredError::CorrelatedNotNormal { input }) if input == "swing"
    ));
}

#[test]
fn degrees_of_freedom_are_left_open_where_the_formula_does_not_hold() {
    let few = normal(0.0, 1.0).with_degrees_of_freedom(4.0).unwrap();
    let inputs = [few.input("a"), few.input("b")];
    let sum = |[a, b]: [Dual; 2]| a + b;
    let independent = propagate(&inputs, None, sum).unwrap();
    assert!((independent.degrees_of_freedom().unwrap() - 8.0).abs() < 1e-12);
    let correlated = propagate(&inputs, Some(&[1.0, 0.5, 0.5, 1.0]), sum).unwrap();
    assert_eq!(correlated.degrees_of_freedom(), None);
    assert_eq!(
        correlated.expanded(0.95),
        Err(MeasuredError::NoDegreesOfFreedom)
    );
    let known = [normal(0.0, 1.0).input("a"), normal(0.0, 1.0).input("b")];
    let correlated = propagate(&known, Some(&[1.0, 0.5, 0.5, 1.0]), sum).unwrap();
    assert_eq!(correlated.degrees_of_freedom(), Some(f64::INFINITY));
}

#[test]
fn opposite_inputs_cancel() {
    let inputs = [normal(3.0, 0.2).input("a"), normal(2.0, 0.2).input("b")];
    let tied = [1.0, 1.0, 1.0, 1.0];
    let difference = |[a, b]: [Dual; 2]| a - b;
    let first = propagate(&inputs, Some(&tied), difference).unwrap();
    assert!(first.standard_uncertainty() < 1e-15);
    // A fully tied pair has a singular matrix, and is drawn all the same.
    let run = monte_carlo(&inputs, Some(&tied), 1000, 1, difference).unwrap();
    assert!(run.standard_uncertainty() < 1e-12);
    assert!(
        first
            .contributions()
            .iter()
            .all(|part| part.variance_share.is_finite())
    );
}

#[test]
fn no_input_has_no_uncertainty() {
    let constant = propagate(&[], None, |[]| Dual::from(3.0)).unwrap();
    assert_eq!(constant.value(), 3.0);
    assert_eq!(constant.standard_uncertainty(), 0.0);
    let nothing = propagate(&[Measured::exact(2.0).unwrap().input("x")], None, |[x]| {
        x * x
    })
    .unwrap();
    assert_eq!(nothing.standard_uncertainty(), 0.0);
    assert_eq!(nothing.contributions()[0].variance_share, 0.0);
}

proptest! {
    #[test]
    fn linear_models_are_exact(
        a in -10.0..10.0_f64, b in -10.0..10.0_f64, u in 0.001..2.0_f64, v in 0.001..2.0_f64, r in -0.99..0.99_f64,
    ) {
        let inputs = [normal(1.0, u).input("x"), normal(-2.0, v).input("y")];
        let line = |[x, y]: [Dual; 2]| x * a + y * b;
        let variance = (a * u).powi(2) + (b * v).powi(2) + 2.0 * r * a * u * b * v;
        let got = propagate(&inputs, Some(&[1.0, r, r, 1.0]), line).unwrap();
        // Relative to the parts, since they may nearly cancel.
        let scale = (a * u).powi(2) + (b * v).powi(2);
        prop_assert!((got.standard_uncertainty().powi(2) - variance).abs() <= 1e-13 * scale);
        prop_assert!((got.value() - (a - 2.0 * b)).abs() < 1e-13 * (a.abs() + 2.0 * b.abs()));
    }

    #[test]
    fn uncertainty_scales_with_the_inputs(
        bore in 0.02..0.08_f64, height in 0.02..0.08_f64, u in 1e-6..1e-3_f64, factor in 0.1..10.0_f64,
    ) {
        let volume = |scale: f64| {
            let inputs = [normal(bore, scale * u).input("d"), normal(height, scale * u).input("h")];
            propagate(&inputs, None, |[d, h]| d * d * h * (PI / 4.0)).unwrap()
        };
        let (plain, scaled) = (volume(1.0), volume(factor));
        prop_assert_eq!(plain.value(), scaled.value());
        let ratio = scaled.standard_uncertainty() / plain.standard_uncertainty();
        prop_assert!((ratio / factor - 1.0).abs() < 1e-12);
        // The power law: relative uncertainties add in quadrature with their exponents.
        let relative = (4.0 * (u / bore).powi(2) + (u / height).powi(2)).sqrt();
        let measured: Measured<Volume> = plain.measured().unwrap();
        prop_assert!((measured.relative().unwrap() / relative - 1.0).abs() < 1e-12);
    }

    #[test]
    fn covariance_agrees_with_the_variances(u in 0.01..1.0_f64, v in 0.01..1.0_f64) {
        let inputs = [normal(2.0, u).input("x"), normal(3.0, v).input("y")];
        let joint = propagate_jointly(&inputs, None, |[x, y]| [x + y, x - y, x * y]).unwrap();
        for (index, output) in joint.outputs().iter().enumerate() {
            let variance = joint.covariance(index, index).unwrap();
            prop_assert!((variance.sqrt() / output.standard_uncertainty() - 1.0).abs() < 1e-13);
        }
        prop_assert!((joint.covariance(0, 1).unwrap() - (u * u - v * v)).abs() < 1e-13);
        prop_assert_eq!(joint.covariance(0, 3), None);
        prop_assert!(joint.correlation(0, 2).unwrap().abs() <= 1.0);
    }

    #[test]
    fn half_width_comes_back(a in 0.0..5.0_f64) {
        let bore = Measured::from_half_width(
            Length::new::<millimeter>(40.0), Length::new::<millimeter>(a), Distribution::Rectangular,
        ).unwrap();
        prop_assert!((bore.standard_uncertainty().get::<millimeter>() * 3.0_f64.sqrt() - a).abs() < 1e-14);
    }
}
