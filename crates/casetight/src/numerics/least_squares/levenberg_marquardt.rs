//! Levenberg-Marquardt as a trust region.
//!
//! The loop is argmin's, and this is the only file that knows it.

use argmin::core::{
    Error as LoopError, Executor, IterState, KV, Problem, Solver, TerminationReason,
};
use nalgebra::{SMatrix, SVector};

use super::algebra::{DEPENDENT, copy, in_use, reciprocal_condition, triangle, triangularize};
use super::error::LeastSquaresError;
use super::problem::{Linearization, Options, Residuals};
use super::solution::{Solution, Termination};

/// Ratio of actual to predicted reduction from which a step is taken, `[More1978]`.
const ACCEPT: f64 = 1e-4;

/// Slack in `|D p| = Delta`, `[More1978]`.
const RADIUS_SLACK: f64 = 0.1;

/// Slope that still counts as flat when no further step helps: the square root of the rounding unit.
const FLAT: f64 = 1e-8;

/// argmin's state of an iteration: the parameters and the sum of squares, nothing that costs an allocation.
type State<const N: usize> = IterState<SVector<f64, N>, (), (), (), (), f64>;

/// The solver, with room for `N` parameters. Unused ones are padded so that they stay at zero: a unit diagonal in
/// `r` and `scale`, zeros elsewhere.
#[derive(Debug)]
pub(super) struct LevenbergMarquardt<const N: usize> {
    options: Options,
    /// Parameters in use.
    parameters: usize,
    theta: SVector<f64, N>,
    sum_of_squares: f64,
    best: Linearization,
    trial: Linearization,
    /// The Jacobian column by column, for the reflections.
    columns: Vec<f64>,
    /// Triangle of `J = Q R` at the best point.
    r: SMatrix<f64, N, N>,
    /// First entries of `Q^T r`.
    qtr: SVector<f64, N>,
    /// Diagonal of `D`.
    scale: SVector<f64, N>,
    /// Largest cosine between the residuals and a column.
    slope: f64,
    /// `Delta`.
    radius: f64,
    /// The Levenberg-Marquardt parameter of the last step.
    damping: f64,
    /// The best point is new: its Jacobian is not reduced yet.
    moved: bool,
    iterations: u64,
    evaluations: u64,
    termination: Option<Termination>,
}

/// Reductions of the sum of squares by a step, relative to what it is at the best point.
#[derive(Debug, Clone, Copy)]
struct Reduction {
    /// By the linear model.
    predicted: f64,
    /// Below all numbers where the step leads to where nothing is defined.
    actual: f64,
    /// Actual over predicted.
    ratio: f64,
    /// Slope along the step, downward.
    descent: f64,
}

impl<const N: usize> LevenbergMarquardt<N> {
    pub(super) fn new(start: &[f64], residuals: usize, options: Options) -> Self {
        let parameters = start.len();
        Self {
            options,
            parameters,
            theta: SVector::from_iterator(
                start.iter().copied().chain(std::iter::repeat(0.0)).take(N),
            ),
            sum_of_squares: f64::NAN,
            best: Linearization::zeros(residuals, parameters),
            trial: Linearization::zeros(residuals, parameters),
            columns: vec![0.0; residuals * parameters],
            r: SMatrix::identity(),
            qtr: SVector::zeros(),
            scale: SVector::repeat(1.0),
            slope: f64::INFINITY,
            radius: f64::NAN,
            damping: 0.0,
            moved: true,
            iterations: 0,
            evaluations: 0,
            termination: None,
        }
    }

    pub(super) fn run(
        mut self,
        problem: &mut dyn Residuals,
    ) -> Result<Solution, LeastSquaresError> {
        let theta = self.theta;
        let max_iterations = self.options.max_iterations;
        Executor::new(problem, &mut self)
            .configure(|state| state.param(theta).max_iters(max_iterations))
            .timer(false)
            .ctrlc(false)
            .run()
            .map_err(|_| LeastSquaresError::Loop)?;
        let ended = self.termination;
        let termination = match ended {
            Some(reason) if reason.converged() && self.is_singular() => Termination::Singular,
            Some(reason) => reason,
            None => Termination::IterationCap,
        };
        Ok(Solution {
            theta: in_use(&self.theta, self.parameters).to_vec(),
            residuals: self.best.residuals,
            jacobian: self.best.jacobian,
            sum_of_squares: self.sum_of_squares,
            iterations: self.iterations,
            evaluations: self.evaluations,
            termination,
        })
    }

    /// Evaluates the start.
    fn begin(&mut self, problem: &mut dyn Residuals) -> Option<Termination> {
        let theta = in_use(&self.theta, self.parameters);
        if !theta.iter().all(|value| value.is_finite()) {
            return Some(Termination::NotFinite);
        }
        self.evaluations += 1;
        match self.best.evaluate(problem, theta) {
            Some(sum) => self.sum_of_squares = sum,
            None => return Some(Termination::NotFinite),
        }
        None
    }

    /// One step: tried, and taken or rejected.
    fn advance(&mut self, problem: &mut dyn Residuals) -> Option<Termination> {
        self.iterations += 1;
        if self.moved {
            self.factorize();
            self.moved = false;
            if self.slope <= self.options.gradient_tolerance {
                return Some(Termination::ByGradient);
            }
            let Options {
                negligible_reduction,
                rival,
                ..
            } = self.options;
            if self.qtr.norm_squared() < rival.negligible(negligible_reduction, self.sum_of_squares)
            {
                return Some(Termination::ByReduction);
            }
        }
        let step = self.step();
        let length = self.scale.component_mul(&step).norm();
        if self.evaluations == 1 {
            self.radius = self.radius.min(length);
        }
        let theta = self.theta + step;
        self.evaluations += 1;
        let trial_sum = self
            .trial
            .evaluate(problem, in_use(&theta, self.parameters));

        let reduction = self.reduction(&step, length, trial_sum);
        self.resize_region(&reduction, length);
        if let Some(sum) = trial_sum
            && reduction.ratio >= ACCEPT
        {
            self.theta = theta;
            self.sum_of_squares = sum;
            std::mem::swap(&mut self.best, &mut self.trial);
            self.moved = true;
        }
        self.end(&reduction, trial_sum.is_some())
    }

    /// What a step tells of the sum of squares, before it is taken.
    fn reduction(&self, step: &SVector<f64, N>, length: f64, trial_sum: Option<f64>) -> Reduction {
        let linear = (self.r * step).norm_squared() / self.sum_of_squares;
        let damped = self.damping * length * length / self.sum_of_squares;
        let predicted = linear + 2.0 * damped;
        let actual = trial_sum.map_or(f64::NEG_INFINITY, |sum| 1.0 - sum / self.sum_of_squares);
        let ratio = if predicted > 0.0 {
            actual / predicted
        } else {
            0.0
        };
        Reduction {
            predicted,
            actual,
            ratio,
            descent: linear + damped,
        }
    }

    /// Why no further step is tried, after one that led to where the residuals are defined or not.
    fn end(&self, reduction: &Reduction, defined: bool) -> Option<Termination> {
        let tolerance = self.options.reduction_tolerance;
        if reduction.predicted <= tolerance && !defined {
            return Some(Termination::NotFinite);
        }
        if reduction.predicted <= tolerance
            && reduction.actual.abs() <= tolerance
            && reduction.ratio <= 2.0
        {
            return Some(Termination::ByReduction);
        }
        if self.radius <= self.options.step_tolerance * self.scale.component_mul(&self.theta).norm()
        {
            return Some(if !defined {
                Termination::NotFinite
            } else if !self.moved && self.slope > FLAT {
                Termination::Stalled
            } else {
                Termination::ByStep
            });
        }
        None
    }

    /// Widens or narrows the trust region by how well the linear model foretold the reduction, `[More1978]`.
    fn resize_region(&mut self, reduction: &Reduction, length: f64) {
        let Reduction {
            actual,
            ratio,
            descent,
            ..
        } = *reduction;
        if ratio <= 0.25 {
            // Minimum of the parabola through both sums of squares with the known slope at the best point.
            let shrink = if actual >= 0.0 {
                0.5
            } else {
                (0.5 * descent / (descent - 0.5 * actual)).max(0.1)
            };
            self.radius = shrink * self.radius.min(10.0 * length);
            self.damping /= shrink;
        } else if self.damping == 0.0 || ratio >= 0.75 {
            self.radius = 2.0 * length;
            self.damping *= 0.5;
        }
    }

    /// Reduces the Jacobian at the best point to `r` and `qtr`, and updates the scale and the slope.
    fn factorize(&mut self) {
        let rows = self.best.residuals.len();
        for (j, column) in self.columns.chunks_exact_mut(rows).enumerate() {
            copy(
                self.best.jacobian.iter().skip(j).step_by(self.parameters),
                column,
            );
        }
        // The trial's residuals are free until the next trial.
        copy(&self.best.residuals, &mut self.trial.residuals);
        triangularize(&mut self.columns, rows, &mut self.trial.residuals);
        (self.r, self.qtr) = triangle(&self.columns, rows, &self.trial.residuals);

        let first = self.radius.is_nan();
        let residual_norm = self.sum_of_squares.sqrt();
        self.slope = 0.0;
        for (column, scale) in self
            .r
            .column_iter()
            .zip(self.scale.iter_mut())
            .take(self.parameters)
        {
            let norm = column.norm();
            // The scale never falls: else a parameter that a bold step has made ineffective (BoxBOD, MGH10 and
            // MGH17 from their far starts) would run off for good. One without any effect so far keeps the 1.
            if norm > 0.0 {
                *scale = if first { norm } else { scale.max(norm) };
                if residual_norm > 0.0 {
                    self.slope = self
                        .slope
                        .max(column.dot(&self.qtr).abs() / (norm * residual_norm));
                }
            }
        }
        if first {
            let size = self.scale.component_mul(&self.theta).norm();
            // `|J p| <= |r|` holds for any step worth taking, so a start at or near the origin is no hindrance.
            self.radius = self.options.first_radius * size.max(residual_norm);
        }
    }

    /// The step `p` that minimizes `|J p + r|` within the trust region, and the damping that holds it there.
    ///
    /// Undamped if that stays inside. Else `|D p(lambda)| = Delta` is solved for `lambda` by Newton's method on
    /// `1/Delta - 1/|D p|`, which is nearly a straight line in `lambda`, between the bounds of `[More1978]`.
    fn step(&mut self) -> SVector<f64, N> {
        let radius = self.radius;
        let mut low = 0.0;
        if let Some(step) = self.r.solve_upper_triangular(&-self.qtr) {
            let scaled = self.scale.component_mul(&step);
            let length = scaled.norm();
            if length <= (1.0 + RADIUS_SLACK) * radius {
                self.damping = 0.0;
                return step;
            }
            if length.is_finite() {
                low = self
                    .newton_correction(&self.r, &scaled, length)
                    .unwrap_or(0.0);
            }
        }
        let steepest = (self.r.tr_mul(&self.qtr)).component_div(&self.scale).norm();
        let mut high = steepest / radius;
        let mut lambda = self.damping.max(low).min(high.max(low));
        let mut step = SVector::zeros();
        for _ in 0..10 {
            if lambda == 0.0 {
                lambda = (1e-3 * high).max(f64::MIN_POSITIVE);
            }
            let (r, qtr) = self.damped(lambda);
            step = r
                .solve_upper_triangular(&-qtr)
                .unwrap_or_else(SVector::zeros);
            let scaled = self.scale.component_mul(&step);
            let length = scaled.norm();
            let excess = length - radius;
            if excess.abs() <= RADIUS_SLACK * radius {
                break;
            }
            if excess > 0.0 {
                low = low.max(lambda);
            } else {
                high = high.min(lambda);
            }
            let Some(correction) = self.newton_correction(&r, &scaled, length) else {
                break;
            };
            lambda = low.max(lambda + correction);
        }
        self.damping = lambda;
        step
    }

    /// Newton's correction of the damping for a step of this length; `None` where it is not finite.
    fn newton_correction(
        &self,
        r: &SMatrix<f64, N, N>,
        scaled_step: &SVector<f64, N>,
        length: f64,
    ) -> Option<f64> {
        let direction = self.scale.component_mul(scaled_step) / length;
        let w = r.tr_solve_upper_triangular(&direction)?;
        let correction = (length - self.radius) / (self.radius * w.norm_squared());
        correction.is_finite().then_some(correction)
    }

    /// Triangle and carried vector of the augmented system `[R; sqrt(lambda) D] p = [-Q^T r; 0]`.
    ///
    /// By Givens rotations, one row of `D` at a time. Reflections would do here only with the rows sorted by size:
    /// they drown the small rows of a matrix whose large ones stand elsewhere.
    fn damped(&self, lambda: f64) -> (SMatrix<f64, N, N>, SVector<f64, N>) {
        let mut r = self.r;
        let mut qtr = self.qtr;
        for (j, scale) in self.scale.iter().enumerate().take(self.parameters) {
            let mut damping_row = SVector::<f64, N>::zeros();
            copy([&(lambda.sqrt() * scale)], damping_row.iter_mut().skip(j));
            let mut carried = 0.0;
            let rows = r.row_iter_mut().zip(qtr.iter_mut()).enumerate();
            for (k, (mut row, qtr)) in rows.take(self.parameters).skip(j) {
                let (Some(&x), Some(&y)) = (row.get(k), damping_row.get(k)) else {
                    continue;
                };
                let length = x.hypot(y);
                if y == 0.0 || length == 0.0 {
                    continue;
                }
                let (cos, sin) = (x / length, y / length);
                let rotate = |upper: &mut f64, lower: &mut f64| {
                    (*upper, *lower) = (cos * *upper + sin * *lower, cos * *lower - sin * *upper);
                };
                for (upper, lower) in row.iter_mut().zip(damping_row.iter_mut()) {
                    rotate(upper, lower);
                }
                rotate(qtr, &mut carried);
            }
        }
        (r, qtr)
    }

    /// Whether the columns at the best point are dependent.
    fn is_singular(&mut self) -> bool {
        if self.moved {
            self.factorize();
        }
        let mut scaled = self.r;
        for mut column in scaled.column_iter_mut() {
            let norm = column.norm();
            column /= norm;
        }
        let identity = SMatrix::<f64, N, N>::identity();
        reciprocal_condition(scaled.solve_upper_triangular(&identity).as_ref()) < DEPENDENT
    }
}

impl<const N: usize> Solver<&mut dyn Residuals, State<N>> for &mut LevenbergMarquardt<N> {
    fn name(&self) -> &'static str {
        "Levenberg-Marquardt"
    }

    fn init(
        &mut self,
        problem: &mut Problem<&mut dyn Residuals>,
        state: State<N>,
    ) -> Result<(State<N>, Option<KV>), LoopError> {
        // Asked directly: argmin's own counting allocates at every call.
        self.termination = match problem.problem.as_mut() {
            Some(problem) => self.begin(*problem),
            None => Some(Termination::NotFinite),
        };
        Ok((self.report(state), None))
    }

    fn next_iter(
        &mut self,
        problem: &mut Problem<&mut dyn Residuals>,
        state: State<N>,
    ) -> Result<(State<N>, Option<KV>), LoopError> {
        self.termination = match problem.problem.as_mut() {
            Some(problem) => self.advance(*problem),
            None => Some(Termination::NotFinite),
        };
        Ok((self.report(state), None))
    }
}

impl<const N: usize> LevenbergMarquardt<N> {
    /// Hands the best point, and the end if it is reached, to argmin's loop.
    fn report(&self, state: State<N>) -> State<N> {
        use argmin::core::State as _;
        let state = state.param(self.theta).cost(self.sum_of_squares);
        match self.termination {
            None => state,
            Some(reason) if reason.converged() => {
                state.terminate_with(TerminationReason::SolverConverged)
            }
            // The reason itself stays in the solver: a text would be an allocation nobody reads.
            Some(_) => state.terminate_with(TerminationReason::SolverExit(String::new())),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::FEW_PARAMETERS;
    use super::super::cases::decay;
    use super::*;

    /// The damped step solves `(J^T J + lambda D^2) p = -J^T r` and lies on the rim of the trust region.
    #[test]
    fn the_damped_step_is_the_constrained_minimum() {
        let mut solver =
            LevenbergMarquardt::<FEW_PARAMETERS>::new(&[1.0, 0.1], 12, Options::default());
        assert_eq!(solver.begin(&mut decay(1.0)), None);
        solver.factorize();
        let step = solver.step();
        let undamped = solver.scale.component_mul(&step).norm();
        assert_eq!(solver.damping, 0.0);
        for fraction in [0.8, 0.1, 1e-3, 1e-9] {
            solver.radius = fraction * undamped;
            let step = solver.step();
            let length = solver.scale.component_mul(&step).norm();
            assert!(
                (length / solver.radius - 1.0).abs() <= RADIUS_SLACK,
                "{fraction}: {length}"
            );
            let squares = solver.scale.component_mul(&solver.scale);
            let downhill = -solver.r.tr_mul(&solver.qtr);
            let balance =
                solver.r.tr_mul(&(solver.r * step)) + solver.damping * squares.component_mul(&step);
            assert!(
                (balance - downhill).norm() <= 1e-13 * downhill.norm(),
                "{fraction}"
            );
        }
    }
}
