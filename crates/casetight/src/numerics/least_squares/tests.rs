//! Ends, steps and statistics of small problems.

use proptest::prelude::*;

use super::algebra::dot;
use super::cases::{Case, NEVER, decay, linear};
use super::problem::Linearization;
use super::*;

/// What is left to gain stays below what was said to be negligible, and is not paid for.
#[test]
fn a_negligible_reduction_is_not_gone_for() {
    let negligible = Options {
        negligible_reduction: 1e-4,
        ..NEVER
    };
    let start = [1.0, 0.1];
    let near = minimize(&mut decay(1.0), &start, &negligible).unwrap();
    let best = minimize(&mut decay(1.0), &start, &Options::default()).unwrap();
    assert_eq!(near.termination, Termination::ByReduction);
    assert!(near.evaluations < best.evaluations);
    let left = near.sum_of_squares - best.sum_of_squares;
    assert!((0.0..1.5e-4).contains(&left), "{left:e}");
}

/// The worse a fit is than a rival the sooner it ends, and never before it is as near its end as its weight counts; one that is better, or
/// has none, goes on to it.
#[test]
fn a_fit_that_a_rival_beats_ends_sooner() {
    let start = [1.0, 0.1];
    let beside = |less: f64, tempered: f64| {
        let options = Options {
            negligible_reduction: 1e-9,
            rival: Rival {
                sum_of_squares: best() - less,
                tempered,
            },
            ..NEVER
        };
        minimize(&mut decay(1.0), &start, &options).unwrap()
    };
    let alone = beside(f64::NEG_INFINITY, 1.0);
    assert_eq!(alone, beside(-1.0, 1.0));
    assert!(alone.sum_of_squares - best() < 1e-9);
    let beaten = beside(10.0, 1.0);
    assert_eq!(beaten.termination, Termination::ByReduction);
    assert!(beaten.evaluations < alone.evaluations);
    assert!(beaten.sum_of_squares - best() < 1e-9 * 10.0_f64.exp());
    // Where scatter is large, ten are few.
    assert_eq!(beside(10.0, 1e3).evaluations, alone.evaluations);
    // Nor does one that has no weight end before a step would win less than a hundredth of the way.
    let hopeless = beside(200.0, 1.0);
    assert!(hopeless.evaluations < beaten.evaluations);
    assert!(hopeless.sum_of_squares - best() < 2.0);
}

/// Least sum of squares of `decay(1.0)`.
fn best() -> f64 {
    let options = Options::default();
    let best = minimize(&mut decay(1.0), &[1.0, 0.1], &options).unwrap();
    best.sum_of_squares
}

fn end(problem: &mut dyn Residuals, start: &[f64], options: Options) -> Termination {
    minimize(problem, start, &options).unwrap().termination
}

#[test]
fn each_tolerance_and_the_cap_end_it() {
    let start = [1.0, 0.1];
    let gradient = Options {
        gradient_tolerance: 1e-9,
        ..NEVER
    };
    assert_eq!(
        end(&mut decay(1.0), &start, gradient),
        Termination::ByGradient
    );
    let step = Options {
        step_tolerance: 1e-6,
        ..NEVER
    };
    assert_eq!(end(&mut decay(1.0), &start, step), Termination::ByStep);
    let reduction = Options {
        reduction_tolerance: 1e-6,
        ..NEVER
    };
    assert_eq!(
        end(&mut decay(1.0), &start, reduction),
        Termination::ByReduction
    );
    let cap = Options {
        max_iterations: 2,
        ..NEVER
    };
    assert_eq!(end(&mut decay(1.0), &start, cap), Termination::IterationCap);
}

#[test]
fn it_says_where_there_is_no_unique_solution() {
    let usual = Options::default();
    let start = [1.0, 0.1];
    assert_eq!(end(&mut decay(-1.0), &start, usual), Termination::Stalled);
    let twins = [1.0, 1.0, 2.0, 2.0, 3.0, 3.0];
    assert_eq!(
        end(&mut linear(&twins, &[1.0, 2.5, 2.0]), &[0.0, 0.0], usual),
        Termination::Singular
    );
    let idle = [1.0, 0.0, 2.0, 0.0, 3.0, 0.0];
    assert_eq!(
        end(&mut linear(&idle, &[1.0, 2.5, 2.0]), &[0.0, 1.0], usual),
        Termination::Singular
    );
}

#[test]
fn it_ends_where_nothing_is_defined() {
    let usual = Options::default();
    assert_eq!(
        end(&mut decay(1.0), &[f64::NAN, 1.0], usual),
        Termination::NotFinite
    );
    assert_eq!(
        end(&mut decay(1.0), &[1.0, -1e6], usual),
        Termination::NotFinite
    );
    let only_at = |point: f64| Case {
        parameters: 1,
        residuals: 2,
        evaluate: move |theta: &[f64], r: &mut [f64], jacobian: &mut [f64]| {
            r.copy_from_slice(&[theta[0] - 5.0, 1.0]);
            jacobian.copy_from_slice(&[1.0, 0.0]);
            theta[0] == point
        },
    };
    assert_eq!(
        end(&mut only_at(3.0), &[2.0], usual),
        Termination::NotFinite
    );
    assert_eq!(
        end(&mut only_at(3.0), &[3.0], usual),
        Termination::NotFinite
    );
    assert_eq!(
        end(&mut only_at(0.0), &[0.0], usual),
        Termination::NotFinite
    );
}

#[test]
fn where_nothing_is_to_be_improved_no_step_is_made() {
    let usual = Options::default();
    let exact = minimize(&mut linear(&[1.0, 2.0], &[3.0, 6.0]), &[3.0], &usual).unwrap();
    assert_eq!(
        (exact.termination, exact.evaluations),
        (Termination::ByGradient, 1)
    );
}

#[test]
fn moves_off_the_start_and_reports_the_point_it_ends_at() {
    let start = [1.0, 0.1];
    let solution = minimize(&mut decay(1.0), &start, &Options::default()).unwrap();
    assert!(solution.termination.converged());
    assert!(
        (solution.theta[0] - start[0]).abs() > 1.0 && (solution.theta[1] - start[1]).abs() > 0.5
    );
    let mut at_end = Linearization::zeros(12, 2);
    let sum = at_end.evaluate(&mut decay(1.0), &solution.theta).unwrap();
    assert_eq!(solution.sum_of_squares, sum);
    assert_eq!(solution.residuals, at_end.residuals);
    assert_eq!(solution.jacobian, at_end.jacobian);
    // A cap of none leaves the start untouched.
    let none = Options {
        max_iterations: 0,
        ..Options::default()
    };
    let untouched = minimize(&mut decay(1.0), &start, &none).unwrap();
    assert_eq!(
        (untouched.theta.as_slice(), untouched.iterations),
        (start.as_slice(), 0)
    );
}

/// ln is undefined where the first full step lands; the fit comes back.
#[test]
fn a_step_out_of_the_domain_is_rejected() {
    let mut refused = 0;
    let mut problem = Case {
        parameters: 1,
        residuals: 2,
        evaluate: |theta: &[f64], r: &mut [f64], jacobian: &mut [f64]| {
            r.copy_from_slice(&[theta[0].ln() - 0.5, 0.0]);
            jacobian.copy_from_slice(&[1.0 / theta[0], 0.0]);
            refused += usize::from(theta[0] <= 0.0);
            theta[0] > 0.0
        },
    };
    let solution = minimize(&mut problem, &[20.0], &Options::default()).unwrap();
    assert!(
        (solution.theta[0] / 0.5f64.exp() - 1.0).abs() < 1e-12,
        "{solution:?}"
    );
    assert!(
        refused > 0 && solution.termination.converged(),
        "{solution:?}"
    );
}

#[test]
fn refuses_what_does_not_fit_together() {
    let refused = |parameters: usize, residuals: usize, start: &[f64]| {
        let evaluate = |_: &[f64], _: &mut [f64], _: &mut [f64]| true;
        minimize(
            &mut Case {
                parameters,
                residuals,
                evaluate,
            },
            start,
            &Options::default(),
        )
        .unwrap_err()
    };
    assert_eq!(
        refused(0, 3, &[]),
        LeastSquaresError::ParameterCount { got: 0 }
    );
    assert_eq!(
        refused(11, 33, &[1.0; 11]),
        LeastSquaresError::ParameterCount { got: 11 }
    );
    assert_eq!(
        refused(2, 3, &[1.0]),
        LeastSquaresError::StartLength {
            got: 1,
            expected: 2
        }
    );
    assert_eq!(
        refused(2, 1, &[1.0; 2]),
        LeastSquaresError::TooFewResiduals {
            residuals: 1,
            parameters: 2
        }
    );
}

/// GUM H.3 (JCGM 100:2008), published: calibration of a thermometer, a straight line through 11 corrections.
#[test]
fn statistics_of_the_thermometer_line() {
    let t = [
        21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511,
    ];
    let b = [
        -0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160,
    ];
    let matrix: Vec<f64> = t.iter().flat_map(|t| [1.0, t - 20.0]).collect();
    let solution = minimize(&mut linear(&matrix, &b), &[0.0, 0.0], &Options::default()).unwrap();
    let fit = solution.linearized().unwrap();
    let scatter = (solution.sum_of_squares / 9.0).sqrt();
    let errors: Vec<f64> = fit
        .standard_errors()
        .iter()
        .map(|error| error * scatter)
        .collect();
    assert!((solution.theta[0] - -0.1712).abs() < 5e-5 && (errors[0] - 0.0029).abs() < 5e-5);
    assert!((solution.theta[1] - 0.00218).abs() < 5e-6 && (errors[1] - 0.00067).abs() < 5e-6);
    let correlation = fit.correlation();
    assert!(
        (correlation[(0, 1)] - -0.930).abs() < 5e-4 && correlation[(1, 0)] == correlation[(0, 1)]
    );
    assert_eq!((correlation[(0, 0)], correlation[(1, 1)]), (1.0, 1.0));
    // Analytic: variance of the intercept and of the slope from the sums of t.
    let (s_1, s_2) = t.iter().fold((0.0, 0.0), |(a, b), t| {
        (a + (t - 20.0), b + (t - 20.0f64).powi(2))
    });
    let determinant = 11.0 * s_2 - s_1 * s_1;
    let covariance = fit.covariance();
    assert!((covariance[(0, 0)] * determinant / s_2 - 1.0).abs() < 1e-13);
    assert!((covariance[(1, 1)] * determinant / 11.0 - 1.0).abs() < 1e-13);
    assert!((covariance[(0, 1)] * determinant / -s_1 - 1.0).abs() < 1e-13);
}

#[test]
fn dependent_columns_are_named() {
    let inseparable =
        |jacobian: &[f64], parameters| LinearizedFit::new(jacobian, parameters).unwrap_err();
    // The first and the third are proportional, in very different units.
    let proportional = [1.0, 1.0, 1e9, 2.0, -1.0, 2e9, 3.0, 1.0, 3e9, 4.0, 0.5, 4e9];
    assert_eq!(
        inseparable(&proportional, 3),
        LeastSquaresError::Inseparable {
            rank: 2,
            parameters: vec![0, 2]
        }
    );
    // The second has no effect.
    let idle = [1.0, 0.0, 2.0, 0.0, 3.0, 0.0];
    assert_eq!(
        inseparable(&idle, 2),
        LeastSquaresError::Inseparable {
            rank: 1,
            parameters: vec![1]
        }
    );
    assert_eq!(
        inseparable(&[1.0], 2),
        LeastSquaresError::TooFewResiduals {
            residuals: 0,
            parameters: 2
        }
    );
    assert_eq!(
        inseparable(&[1.0, f64::NAN], 1),
        LeastSquaresError::NotFinite
    );
    assert_eq!(
        inseparable(&[1.0], 0),
        LeastSquaresError::ParameterCount { got: 0 }
    );
    // Nearly proportional is told by the condition: columns at an angle of 1e-6.
    let near = LinearizedFit::new(&[1.0, 1.0, 0.0, 1e-6], 2).unwrap();
    assert!(
        (near.condition() / 2e6 - 1.0).abs() < 1e-6,
        "{}",
        near.condition()
    );
    assert!(near.pseudo_inverse_row(2).is_none());
}

/// A matrix of 24 rows whose columns are far from dependent: distinct cosines, with a bounded disturbance.
fn matrices() -> impl Strategy<Value = (usize, Vec<f64>)> {
    (1usize..=8).prop_flat_map(|n| {
        let disturbance = prop::collection::vec(-0.05f64..0.05, 24 * n);
        disturbance.prop_map(move |disturbance| {
            let entry = |k: usize| {
                let (i, j) = (k / n, k % n);
                (std::f64::consts::PI * (i as f64 + 0.5) * j as f64 / 24.0).cos()
            };
            (
                n,
                disturbance
                    .iter()
                    .enumerate()
                    .map(|(k, d)| entry(k) + d)
                    .collect(),
            )
        })
    })
}

proptest! {
    /// One step, and one or two more to see that it was enough.
    #[test]
    fn linear_problems_take_three_iterations(
        (n, matrix) in matrices(),
        truth in prop::collection::vec(0.1f64..10.0, 8),
        start in prop::collection::vec(-1e3f64..1e3, 8),
        noise in prop::collection::vec(-0.1f64..0.1, 24),
    ) {
        let y: Vec<f64> = matrix
            .chunks(n)
            .zip(&noise)
            .map(|(row, e)| row.iter().zip(&truth).map(|(a, b)| a * b).sum::<f64>() + e)
            .collect();
        let solution = minimize(&mut linear(&matrix, &y), &start[..n], &Options::default()).unwrap();
        prop_assert!(solution.iterations <= 3, "{solution:?}");
        prop_assert!(solution.termination.converged());
        // What makes a least-squares solution: residuals orthogonal to the columns. Over the column's square,
        // what is left is the error of the parameter.
        let size = y.iter().map(|y| y * y).sum::<f64>().sqrt().max(1.0);
        for j in 0..n {
            let column: Vec<f64> = matrix.chunks(n).map(|row| row[j]).collect();
            let error = dot(&solution.residuals, &column) / dot(&column, &column);
            prop_assert!(error.abs() < 1e-12 * size, "{error}");
        }
        // Without noise, the truth itself.
        let exact: Vec<f64> = y.iter().zip(&noise).map(|(y, e)| y - e).collect();
        let solution = minimize(&mut linear(&matrix, &exact), &start[..n], &Options::default()).unwrap();
        prop_assert!(solution.iterations <= 3, "{solution:?}");
        for (got, expected) in solution.theta.iter().zip(&truth) {
            prop_assert!((got - expected).abs() < 1e-12 * size, "{got} {expected}");
        }
    }

    /// In units smaller or larger by powers of two the same numbers result, bit by bit; by powers of ten, but for rounding.
    #[test]
    fn the_unit_of_a_parameter_does_not_matter(amplitude in 0.5f64..8.0, rate in 0.1f64..2.0, power in -8i32..=8) {
        let fit = |unit: f64| {
            let mut inner = decay(1.0);
            let mut problem = Case {
                parameters: 2,
                residuals: 12,
                evaluate: move |theta: &[f64], r: &mut [f64], jacobian: &mut [f64]| {
                    let defined = inner.evaluate(&[theta[0] * unit, theta[1] / unit], r, jacobian);
                    for row in jacobian.chunks_exact_mut(2) {
                        row[0] *= unit;
                        row[1] /= unit;
                    }
                    defined
                },
            };
            let start = [amplitude / unit, rate * unit];
            let mut solution = minimize(&mut problem, &start, &Options::default()).unwrap();
            solution.theta = vec![solution.theta[0] * unit, solution.theta[1] / unit];
            solution
        };
        let plain = fit(1.0);
        prop_assert!(plain.termination.converged());
        let binary = fit(2f64.powi(3 * power));
        prop_assert_eq!(&binary.theta, &plain.theta);
        prop_assert_eq!(binary.iterations, plain.iterations);
        let decimal = fit(10f64.powi(power));
        for (a, b) in decimal.theta.iter().zip(&plain.theta) {
            prop_assert!((a / b - 1.0).abs() < 1e-8, "{a} {b}");
        }
        prop_assert!((decimal.sum_of_squares / plain.sum_of_squares - 1.0).abs() < 1e-12);
    }

    #[test]
    fn pseudo_inverse_and_covariance_belong_together((n, matrix) in matrices(), power in -8i32..=8) {
        let unit = 10f64.powi(power);
        let matrix: Vec<f64> = matrix
            .iter()
            .enumerate()
            .map(|(k, a)| if k % n == 0 { a * unit } else { *a })
            .collect();
        let fit = LinearizedFit::new(&matrix, n).unwrap();
        prop_assert_eq!(fit.parameters(), n);
        let covariance = fit.covariance();
        let correlation = fit.correlation();
        let errors = fit.standard_errors();
        for j in 0..n {
            let row = fit.pseudo_inverse_row(j).unwrap();
            // Shares of the residuals add up to the variance.
            let variance: f64 = row.iter().map(|share| share * share).sum();
            prop_assert!((variance / covariance[(j, j)] - 1.0).abs() < 1e-12);
            prop_assert!((errors[j] * errors[j] / variance - 1.0).abs() < 1e-12);
            for k in 0..n {
                // A left inverse of the Jacobian.
                let product: f64 = row.iter().zip(matrix.chunks(n)).map(|(a, b)| a * b[k]).sum();
                let expected = if j == k { 1.0 } else { 0.0 };
                let size = errors[j] * if k == 0 { unit } else { 1.0 };
                prop_assert!((product - expected).abs() < 1e-12 * size.max(1.0), "{product}");
                let consistent = correlation[(j, k)] * errors[j] * errors[k];
                prop_assert!((consistent - covariance[(j, k)]).abs() <= 1e-12 * errors[j] * errors[k]);
            }
        }
    }
}
