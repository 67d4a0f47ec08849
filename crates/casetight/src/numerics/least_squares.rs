//! Weighted nonlinear least squares for a handful of parameters, and the linear statistics at the solution.
//!
//! [`minimize`] finds `theta` with the least `S = sum r_i(theta)^2`. A weight is the caller's: divide each
//! residual, and its row of the Jacobian, by its standard uncertainty.
//!
//! The method is Levenberg-Marquardt as a trust region, after `[More1978]`: the step `p` minimizes `|J p + r|` with
//! `|D p| <= Delta`, where `D` holds the norms of the columns of `J`, so that the unit of a parameter does not
//! matter. `J` is reduced once an iteration by Householder reflections, `J = Q R`; each damping tried after that
//! costs only a small triangular problem. `J^T J` is never formed: it squares the condition number.
//!
//! The loop is argmin's, and this is the only file that knows it.

use argmin::core::{
    Error as LoopError, Executor, IterState, KV, Problem, Solver, TerminationReason,
};
use nalgebra::{DMatrix, DVector, SMatrix, SVector};
use thiserror::Error;

/// Most parameters a fit may have. The largest certified problem of the test suite (ENSO) has as many.
pub(crate) const MAX_PARAMETERS: usize = 9;

/// Fits up to this size run with the smaller fixed-size algebra.
const FEW_PARAMETERS: usize = 4;

/// Reciprocal condition of the column-scaled Jacobian below which its columns count as dependent. Rounding
/// leaves identical columns at a few 1e-16; the hardest certified problems stay above 1e-9.
const DEPENDENT: f64 = 1e-13;

/// Ratio of actual to predicted reduction from which a step is taken, `[More1978]`.
const ACCEPT: f64 = 1e-4;

/// Slack in `|D p| = Delta`, `[More1978]`.
const RADIUS_SLACK: f64 = 0.1;

/// Slope that still counts as flat when no further step helps: the square root of the rounding unit.
const FLAT: f64 = 1e-8;

/// Residuals and their Jacobian as functions of the parameters.
pub(crate) trait Residuals {
    /// Number of parameters.
    fn parameters(&self) -> usize;

    /// Number of residuals.
    fn residuals(&self) -> usize;

    /// Writes the residuals at `theta` and their Jacobian, row by row: one row of `parameters()` slopes for each
    /// residual, `jacobian[i * parameters() + j] = dr_i/dtheta_j`.
    ///
    /// False means: not defined there. So does a value that is not finite. The step to it is then rejected and a
    /// shorter one tried.
    fn evaluate(&mut self, theta: &[f64], residuals: &mut [f64], jacobian: &mut [f64]) -> bool;
}

/// When to stop.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Options {
    /// Largest cosine of the angle between the residuals and a column of the Jacobian.
    pub(crate) gradient_tolerance: f64,
    /// Relative size of a step, in the scale of the columns.
    pub(crate) step_tolerance: f64,
    /// Relative reduction of the sum of squares, both predicted and actual.
    pub(crate) reduction_tolerance: f64,
    /// Reduction of the sum of squares by a full step that is not worth taking. Of residuals in standard uncertainties, a
    /// reduction by d^2 moves no parameter by more than d of its own.
    pub(crate) negligible_reduction: f64,
    /// Steps tried, the rejected ones included.
    pub(crate) max_iterations: u64,
    /// Bound of the first step, in multiples of the start point's size `|D theta|` or of the residuals' `|r|`, the larger.
    pub(crate) first_radius: f64,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            gradient_tolerance: 1e-12,
            step_tolerance: 1e-13,
            reduction_tolerance: 1e-14,
            negligible_reduction: 0.0,
            max_iterations: 1000,
            first_radius: 100.0,
        }
    }
}

/// Why the iteration stopped.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Termination {
    /// The residuals are orthogonal to every column of the Jacobian, or zero.
    ByGradient,
    /// The steps became negligible.
    ByStep,
    /// The sum of squares can be lowered no further.
    ByReduction,
    /// Converged, but to a point where the columns of the Jacobian are dependent: other points are as good.
    Singular,
    /// No step lowers the sum of squares, though its slope is not zero: the Jacobian does not belong to the
    /// residuals, or they are rounded too coarsely.
    Stalled,
    /// The start, or everything around the best point in the direction of descent, is not defined or not finite.
    NotFinite,
    /// The steps allowed were used up.
    IterationCap,
}

impl Termination {
    /// Whether the solution is a unique least-squares estimate.
    pub(crate) fn converged(self) -> bool {
        matches!(self, Self::ByGradient | Self::ByStep | Self::ByReduction)
    }
}

/// Why there is no result.
#[derive(Debug, Clone, PartialEq, Error)]
pub(crate) enum LeastSquaresError {
    /// Too many parameters, or none.
    #[error("a fit has 1 to {MAX_PARAMETERS} parameters, not {got}")]
    ParameterCount {
        /// Number given.
        got: usize,
    },
    /// The start point does not fit the problem.
    #[error("{got} start values were given for {expected} parameters")]
    StartLength {
        /// Number given.
        got: usize,
        /// Number of parameters.
        expected: usize,
    },
    /// Fewer residuals than parameters.
    #[error("{residuals} residuals cannot determine {parameters} parameters")]
    TooFewResiduals {
        /// Number of residuals.
        residuals: usize,
        /// Number of parameters.
        parameters: usize,
    },
    /// The Jacobian holds NaN or infinity.
    #[error("the Jacobian is not finite")]
    NotFinite,
    /// Some parameters change the residuals in the same way.
    #[error(
        "only {rank} combinations of the parameters are determined; those at {parameters:?} cannot be told apart"
    )]
    Inseparable {
        /// Number of independent combinations.
        rank: usize,
        /// Positions of the parameters that take part in an undetermined combination.
        parameters: Vec<usize>,
    },
    /// The iteration loop gave up.
    #[error("the iteration loop gave up")]
    Loop,
}

/// The best point found, and how it was found.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Solution {
    /// Parameters.
    pub(crate) theta: Vec<f64>,
    /// Residuals there.
    pub(crate) residuals: Vec<f64>,
    /// Jacobian there, row by row.
    pub(crate) jacobian: Vec<f64>,
    /// Full sum of squares, `sum r_i^2` (no factor 1/2); NaN if the start was not defined.
    pub(crate) sum_of_squares: f64,
    /// Steps tried.
    pub(crate) iterations: u64,
    /// Calls of [`Residuals::evaluate`].
    pub(crate) evaluations: u64,
    /// Why the iteration stopped.
    pub(crate) termination: Termination,
}

impl Solution {
    /// The linear statistics at the solution.
    ///
    /// # Errors
    /// As [`LinearizedFit::new`].
    pub(crate) fn linearized(&self) -> Result<LinearizedFit, LeastSquaresError> {
        LinearizedFit::new(&self.jacobian, self.theta.len())
    }
}

/// Least-squares estimate from `start`.
///
/// # Errors
/// [`LeastSquaresError`] when the numbers of parameters, start values and residuals do not fit together. How the
/// iteration ended is part of the [`Solution`].
pub(crate) fn minimize(
    problem: &mut dyn Residuals,
    start: &[f64],
    options: &Options,
) -> Result<Solution, LeastSquaresError> {
    let parameters = problem.parameters();
    let residuals = problem.residuals();
    if !(1..=MAX_PARAMETERS).contains(&parameters) {
        return Err(LeastSquaresError::ParameterCount { got: parameters });
    }
    if start.len() != parameters {
        return Err(LeastSquaresError::StartLength {
            got: start.len(),
            expected: parameters,
        });
    }
    if residuals < parameters {
        return Err(LeastSquaresError::TooFewResiduals {
            residuals,
            parameters,
        });
    }
    if parameters <= FEW_PARAMETERS {
        LevenbergMarquardt::<FEW_PARAMETERS>::new(start, residuals, *options).run(problem)
    } else {
        LevenbergMarquardt::<MAX_PARAMETERS>::new(start, residuals, *options).run(problem)
    }
}

/// argmin's state of an iteration: the parameters and the sum of squares, nothing that costs an allocation.
type State<const N: usize> = IterState<SVector<f64, N>, (), (), (), (), f64>;

/// A residual vector with its Jacobian, row by row.
#[derive(Debug, Default)]
struct Linearization {
    residuals: Vec<f64>,
    jacobian: Vec<f64>,
}

impl Linearization {
    fn zeros(residuals: usize, parameters: usize) -> Self {
        Self {
            residuals: vec![0.0; residuals],
            jacobian: vec![0.0; residuals * parameters],
        }
    }

    /// Sum of squares at `theta`, if everything there is finite.
    fn evaluate(&mut self, problem: &mut dyn Residuals, theta: &[f64]) -> Option<f64> {
        let defined = problem.evaluate(theta, &mut self.residuals, &mut self.jacobian);
        let sum = dot(&self.residuals, &self.residuals);
        (defined && sum.is_finite() && self.jacobian.iter().all(|slope| slope.is_finite()))
            .then_some(sum)
    }
}

/// The solver, with room for `N` parameters. Unused ones are padded so that they stay at zero: a unit diagonal in
/// `r` and `scale`, zeros elsewhere.
#[derive(Debug)]
struct LevenbergMarquardt<const N: usize> {
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

impl<const N: usize> LevenbergMarquardt<N> {
    fn new(start: &[f64], residuals: usize, options: Options) -> Self {
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

    fn run(mut self, problem: &mut dyn Residuals) -> Result<Solution, LeastSquaresError> {
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
            if self.qtr.norm_squared() < self.options.negligible_reduction {
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

        // Reductions relative to the sum of squares at the best point.
        let linear = (self.r * step).norm_squared() / self.sum_of_squares;
        let damped = self.damping * length * length / self.sum_of_squares;
        let predicted = linear + 2.0 * damped;
        let actual = trial_sum.map_or(f64::NEG_INFINITY, |sum| 1.0 - sum / self.sum_of_squares);
        let ratio = if predicted > 0.0 {
            actual / predicted
        } else {
            0.0
        };

        self.resize_region(actual, ratio, linear + damped, length);
        if let Some(sum) = trial_sum
            && ratio >= ACCEPT
        {
            self.theta = theta;
            self.sum_of_squares = sum;
            std::mem::swap(&mut self.best, &mut self.trial);
            self.moved = true;
        }

        let tolerance = self.options.reduction_tolerance;
        if predicted <= tolerance && trial_sum.is_none() {
            return Some(Termination::NotFinite);
        }
        if predicted <= tolerance && actual.abs() <= tolerance && ratio <= 2.0 {
            return Some(Termination::ByReduction);
        }
        if self.radius <= self.options.step_tolerance * self.scale.component_mul(&self.theta).norm()
        {
            return Some(match trial_sum {
                None => Termination::NotFinite,
                Some(_) if !self.moved && self.slope > FLAT => Termination::Stalled,
                Some(_) => Termination::ByStep,
            });
        }
        None
    }

    /// Widens or narrows the trust region by how well the linear model foretold the reduction, `[More1978]`.
    fn resize_region(&mut self, actual: f64, ratio: f64, descent: f64, length: f64) {
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

/// The linear statistics of a fit: what the residuals, of unit variance each, tell about the parameters.
///
/// From `J S^-1 = Q R` with the columns scaled to length 1 by `S`, the covariance is `S^-1 R^-1 R^-T S^-1`. It is
/// not scaled by the scatter of the residuals: multiply it by `sum r^2 / (m - n)` where their variance is unknown.
#[derive(Debug, Clone)]
pub(crate) struct LinearizedFit {
    /// Norms of the columns.
    scale: DVector<f64>,
    q: DMatrix<f64>,
    /// `S^-1 R^-1`.
    inverse: DMatrix<f64>,
    reciprocal_condition: f64,
}

impl LinearizedFit {
    /// From a Jacobian given row by row.
    ///
    /// # Errors
    /// [`LeastSquaresError::Inseparable`] if the columns are dependent, with the parameters concerned;
    /// [`LeastSquaresError::TooFewResiduals`] and [`LeastSquaresError::NotFinite`] as they say.
    pub(crate) fn new(jacobian: &[f64], parameters: usize) -> Result<Self, LeastSquaresError> {
        if parameters == 0 {
            return Err(LeastSquaresError::ParameterCount { got: 0 });
        }
        let residuals = jacobian.len() / parameters;
        if residuals < parameters {
            return Err(LeastSquaresError::TooFewResiduals {
                residuals,
                parameters,
            });
        }
        if !jacobian.iter().all(|slope| slope.is_finite()) {
            return Err(LeastSquaresError::NotFinite);
        }
        let mut scaled =
            DMatrix::from_row_iterator(residuals, parameters, jacobian.iter().copied());
        let scale =
            DVector::from_iterator(parameters, scaled.column_iter().map(|column| column.norm()));
        for (mut column, &norm) in scaled.column_iter_mut().zip(&scale) {
            if norm > 0.0 {
                column /= norm;
            }
        }
        let (q, r) = scaled.qr().unpack();
        let inverse = r.solve_upper_triangular(&DMatrix::identity(parameters, parameters));
        let reciprocal_condition = reciprocal_condition(inverse.as_ref());
        match inverse {
            Some(mut inverse) if reciprocal_condition >= DEPENDENT => {
                for (mut row, norm) in inverse.row_iter_mut().zip(&scale) {
                    row /= *norm;
                }
                Ok(Self {
                    scale,
                    q,
                    inverse,
                    reciprocal_condition,
                })
            }
            _ => Err(inseparable(r)),
        }
    }

    /// Covariance of the parameters for residuals of unit variance.
    pub(crate) fn covariance(&self) -> DMatrix<f64> {
        &self.inverse * self.inverse.transpose()
    }

    /// ln det(J^T J), the logarithm of the information about the parameters.
    pub(crate) fn ln_information(&self) -> f64 {
        // The inverse is triangular, and so is its determinant's product.
        -2.0 * self
            .inverse
            .diagonal()
            .iter()
            .map(|d| d.abs().ln())
            .sum::<f64>()
    }

    /// Standard deviations of the parameters for residuals of unit variance.
    pub(crate) fn standard_errors(&self) -> Vec<f64> {
        self.inverse.row_iter().map(|row| row.norm()).collect()
    }

    /// Correlations of the parameters.
    pub(crate) fn correlation(&self) -> DMatrix<f64> {
        let mut rows = self.inverse.clone();
        for mut row in rows.row_iter_mut() {
            let norm = row.norm();
            row /= norm;
        }
        let mut correlation = &rows * rows.transpose();
        correlation.fill_diagonal(1.0);
        correlation
    }

    /// Condition number of the column-scaled Jacobian, in the Frobenius norm: between the spectral one and
    /// `parameters` times that. Digits of the parameters lost to correlation: its decimal logarithm.
    pub(crate) fn condition(&self) -> f64 {
        self.reciprocal_condition.recip()
    }

    /// Row `j` of the pseudo-inverse `J^+ = R^-1 Q^T`: how parameter `j` follows a change of each residual,
    /// `d theta_j = -sum_i (J^+)_ji d r_i`. Its squares are the shares of the residuals in the variance.
    /// `None` if there is no such parameter.
    pub(crate) fn pseudo_inverse_row(&self, j: usize) -> Option<Vec<f64>> {
        let row = self.inverse.row_iter().nth(j)?;
        Some((&self.q * row.transpose()).data.into())
    }

    /// Number of parameters.
    pub(crate) fn parameters(&self) -> usize {
        self.scale.len()
    }
}

/// Reciprocal Frobenius condition of a triangle with columns of length 1, from its inverse; 0 without one.
fn reciprocal_condition<R, C, S>(inverse: Option<&nalgebra::Matrix<f64, R, C, S>>) -> f64
where
    R: nalgebra::Dim,
    C: nalgebra::Dim,
    S: nalgebra::Storage<f64, R, C>,
{
    inverse.map_or(0.0, |inverse| {
        let condition = (inverse.ncols() as f64).sqrt() * inverse.norm();
        if condition.is_finite() {
            condition.recip()
        } else {
            0.0
        }
    })
}

/// Which parameters a singular triangle leaves undetermined.
fn inseparable(r: DMatrix<f64>) -> LeastSquaresError {
    /// Weight in a null direction that counts as taking part.
    const SHARE: f64 = 0.05;
    let parameters = r.ncols();
    let svd = r.svd(false, true);
    let largest = svd.singular_values.max();
    // The condition has told that at least one is undetermined.
    let rank = svd
        .singular_values
        .iter()
        .filter(|value| **value > DEPENDENT * largest)
        .count()
        .min(parameters - 1);
    let mut concerned = vec![false; parameters];
    if let Some(directions) = svd.v_t {
        for direction in directions.row_iter().skip(rank) {
            for (concerned, weight) in concerned.iter_mut().zip(&direction) {
                *concerned |= weight.abs() > SHARE;
            }
        }
    }
    let parameters = (0..parameters)
        .zip(concerned)
        .filter_map(|(j, hit)| hit.then_some(j))
        .collect();
    LeastSquaresError::Inseparable { rank, parameters }
}

/// The leading entries, without the padding.
fn in_use<const N: usize>(vector: &SVector<f64, N>, parameters: usize) -> &[f64] {
    vector.as_slice().get(..parameters).unwrap_or_default()
}

/// Copies as many entries as there are on both sides.
fn copy<'a>(from: impl IntoIterator<Item = &'a f64>, to: impl IntoIterator<Item = &'a mut f64>) {
    to.into_iter().zip(from).for_each(|(to, from)| *to = *from);
}

/// The upper triangle that [`triangularize`] leaves, and the entries of `carried` that belong to it, padded.
fn triangle<const N: usize>(
    columns: &[f64],
    rows: usize,
    carried: &[f64],
) -> (SMatrix<f64, N, N>, SVector<f64, N>) {
    let mut r = SMatrix::<f64, N, N>::identity();
    let mut qtr = SVector::<f64, N>::zeros();
    let entries = r.column_iter_mut().zip(columns.chunks_exact(rows));
    for (j, ((mut to, from), (carried_to, carried_from))) in
        entries.zip(qtr.iter_mut().zip(carried)).enumerate()
    {
        to.iter_mut()
            .zip(from)
            .take(j + 1)
            .for_each(|(to, from)| *to = *from);
        *carried_to = *carried_from;
    }
    (r, qtr)
}

/// Inner product, in four partial sums: faster, and rounding less, than one.
fn dot(a: &[f64], b: &[f64]) -> f64 {
    let (a_blocks, a_rest) = a.as_chunks::<4>();
    let (b_blocks, b_rest) = b.as_chunks::<4>();
    let mut sums = [0.0; 4];
    for (a, b) in a_blocks.iter().zip(b_blocks) {
        for ((sum, a), b) in sums.iter_mut().zip(a).zip(b) {
            *sum += a * b;
        }
    }
    let rest: f64 = a_rest.iter().zip(b_rest).map(|(a, b)| a * b).sum();
    sums.iter().sum::<f64>() + rest
}

/// Reduces a matrix, stored column by column, to its upper triangle by Householder reflections, and applies them
/// to `carried` as well. What is left below the triangle is not meaningful.
fn triangularize(columns: &mut [f64], rows: usize, carried: &mut [f64]) {
    let mut rest = columns;
    let mut k = 0;
    while let Some((column, later)) = rest.split_at_mut_checked(rows) {
        if let Some(axis) = column.get_mut(k..) {
            let norm = dot(axis, axis).sqrt();
            if let Some(&first) = axis.first()
                && norm > 0.0
            {
                // H = I - v v^T / (alpha (alpha - x_0)) with v = x - alpha e_0; the sign avoids cancellation.
                let alpha = -norm.copysign(first);
                let divisor = alpha * (alpha - first);
                if let Some(v_0) = axis.first_mut() {
                    *v_0 = first - alpha;
                }
                for other in later
                    .chunks_exact_mut(rows)
                    .chain(std::iter::once(&mut *carried))
                {
                    if let Some(other) = other.get_mut(k..) {
                        let factor = dot(axis, other) / divisor;
                        other
                            .iter_mut()
                            .zip(axis.iter())
                            .for_each(|(y, v)| *y -= factor * v);
                    }
                }
                if let Some(diagonal) = axis.first_mut() {
                    *diagonal = alpha;
                }
            }
        }
        rest = later;
        k += 1;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Residuals and Jacobian as a closure over plain slices.
    struct Case<F> {
        parameters: usize,
        residuals: usize,
        evaluate: F,
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
    fn linear(matrix: &[f64], y: &[f64]) -> impl Residuals {
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
    fn decay(sign: f64) -> impl Residuals {
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

    const NEVER: Options = Options {
        gradient_tolerance: 0.0,
        step_tolerance: 0.0,
        reduction_tolerance: 0.0,
        negligible_reduction: 0.0,
        max_iterations: 200,
        first_radius: 100.0,
    };

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

    #[test]
    fn ends_for_each_reason() {
        let end = |problem: &mut dyn Residuals, start: &[f64], options: Options| {
            minimize(problem, start, &options).unwrap().termination
        };
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

        let usual = Options::default();
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
        // Nothing to improve: no step at all.
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
            (solution.theta[0] - start[0]).abs() > 1.0
                && (solution.theta[1] - start[1]).abs() > 0.5
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
            refused(10, 30, &[1.0; 10]),
            LeastSquaresError::ParameterCount { got: 10 }
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
        let solution =
            minimize(&mut linear(&matrix, &b), &[0.0, 0.0], &Options::default()).unwrap();
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
            (correlation[(0, 1)] - -0.930).abs() < 5e-4
                && correlation[(1, 0)] == correlation[(0, 1)]
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
}
