//! Problems that the tests share.

use super::{Options, Residuals, Rival};

/// Residuals and Jacobian as a closure over plain slices.
pub(super) struct Case<F> {
    pub(super) parameters: usize,
    pub(super) residuals: usize,
    pub(super) evaluate: F,
}

impl<F: FnMut(&[f64], &mut [f64], &mut [f64]) -> bool> Residuals for Case<F> {
    fn parameters(&self) -> usize {
        self.parameters
    }

    fn residuals(&self) -> usize {
        self.residuals
    }

    fn evaluate(&mut self, theta: &[f64], residuals: &mut [f64], jacobian: &mut [f64]) -> bool {
        (self.evaluate)(theta, residuals, jacobian)
    }
}

/// `A theta - y` with `A` row by row.
pub(super) fn linear(matrix: &[f64], y: &[f64]) -> impl Residuals {
    let parameters = matrix.len() / y.len();
    Case {
        parameters,
        residuals: y.len(),
        evaluate: move |theta: &[f64], r: &mut [f64], jacobian: &mut [f64]| {
            jacobian.copy_from_slice(matrix);
            for ((r, row), y) in r.iter_mut().zip(matrix.chunks(parameters)).zip(y) {
                *r = row.iter().zip(theta).map(|(a, b)| a * b).sum::<f64>() - y;
            }
            true
        },
    }
}

/// `theta_0 exp(-theta_1 t)` against a decay with a ripple; `sign` spoils the Jacobian.
pub(super) fn decay(sign: f64) -> impl Residuals {
    Case {
        parameters: 2,
        residuals: 12,
        evaluate: move |theta: &[f64], r: &mut [f64], jacobian: &mut [f64]| {
            for (i, (r, row)) in r.iter_mut().zip(jacobian.chunks_exact_mut(2)).enumerate() {
                let t = 0.25 * i as f64;
                let e = (-theta[1] * t).exp();
                *r = theta[0] * e - 3.0 * (-0.8 * t).exp() - 0.1 * (5.0 * t).sin();
                row.copy_from_slice(&[sign * e, -sign * theta[0] * t * e]);
            }
            true
        },
    }
}

/// No tolerance ends it.
pub(super) const NEVER: Options = Options {
    gradient_tolerance: 0.0,
    step_tolerance: 0.0,
    reduction_tolerance: 0.0,
    negligible_reduction: 0.0,
    rival: Rival::NONE,
    max_iterations: 200,
    first_radius: 100.0,
};
