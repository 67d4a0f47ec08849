//! An independent peer for the tests, the one file that names a library of integrators: plain numbers, two states of order one.
//!
//! The method is the crate `differential-equations`' Radau IIA of order five: implicit, so that a gas that settles at
//! once costs no more than one that settles slowly. Release 0.7.0 has three flaws, worked around here:
//!
//! - A tolerance given as one number is tightened once for each state: it is given as one number for each.
//! - A decomposition is kept when the step has changed, and Newton's method then fails until the step vanishes: each
//!   step is taken by a new solver, which has none to keep.
//! - Its interpolation between steps is poorer than the steps: the steps land on the times asked for.

use differential_equations::linalg::Matrix;
use differential_equations::ode::{ODE, OrdinaryNumericalMethod};
use differential_equations::prelude::ImplicitRungeKutta;

/// Relative and absolute tolerance of a step; the error of a whole run comes out near 1e-10 (tested).
const RELATIVE_TOLERANCE: f64 = 1e-13;
const ABSOLUTE_TOLERANCE: f64 = 1e-14;
/// Part of the tolerance to which Newton's method solves a step.
const NEWTON_TOLERANCE: f64 = 1e-6;
/// Steps, rejected ones too, after which the run is given up.
const MAX_STEPS: usize = 200_000;
/// Step of the differences in the Jacobian, over the state's size and over the size below which its rate is smooth.
const RELATIVE_DIFFERENCE: f64 = 1e-4;
const SMALLEST_DIFFERENCE: f64 = 1e-2;
/// Part of the time passed within which a time counts as reached.
const LANDING: f64 = 1e-14;

/// The time at which the integration got stuck \[s\].
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stuck(pub(super) f64);

/// Rates of two states against time.
struct Rates<F> {
    rates: F,
    /// Size of the first state below which its rate is smooth.
    smooth: f64,
}

impl<F: Fn(f64, [f64; 2]) -> [f64; 2]> ODE<f64, [f64; 2]> for Rates<F> {
    fn diff(&self, time: f64, state: &[f64; 2], rate: &mut [f64; 2]) {
        *rate = (self.rates)(time, *state);
    }

    /// By central differences, small where the first state is, since its rate bends sharply at zero. They have to be good:
    /// what Newton's method leaves of a stiff state is multiplied by its rate.
    fn jacobian(&self, time: f64, state: &[f64; 2], jacobian: &mut Matrix<f64>) {
        let [first, second] = *state;
        let step = RELATIVE_DIFFERENCE * first.abs() + SMALLEST_DIFFERENCE * self.smooth;
        let at = |first, second| (self.rates)(time, [first, second]);
        let columns = [
            (step, at(first + step, second), at(first - step, second)),
            (
                RELATIVE_DIFFERENCE,
                at(first, second + RELATIVE_DIFFERENCE),
                at(first, second - RELATIVE_DIFFERENCE),
            ),
        ];
        for (column, (step, above, below)) in columns.into_iter().enumerate() {
            for (row, (above, below)) in above.into_iter().zip(below).enumerate() {
                jacobian[(row, column)] = (above - below) / (2.0 * step);
            }
        }
    }
}

/// States at times \[s\] that are above zero and do not go back, from the state at zero; `smooth` is the size of the first
/// state below which its rate has no sharp bend.
pub(super) fn follow(
    rates: impl Fn(f64, [f64; 2]) -> [f64; 2],
    smooth: f64,
    start: [f64; 2],
    times: impl IntoIterator<Item = f64>,
) -> Result<Vec<[f64; 2]>, Stuck> {
    let ode = Rates { rates, smooth };
    let (mut now, mut state) = (0.0, start);
    // Zero asks the solver for a first step of its own.
    let mut free = 0.0_f64;
    let mut steps = 0;
    times
        .into_iter()
        .map(|target| {
            while target - now > LANDING * target {
                let left = target - now;
                let cut = free >= left;
                let stuck = |_| Stuck(now);
                let mut solver = ImplicitRungeKutta::radau5()
                    .rtol([RELATIVE_TOLERANCE; 2])
                    .atol([ABSOLUTE_TOLERANCE; 2])
                    .newton_tol(NEWTON_TOLERANCE)
                    .h0(if cut { left } else { free })
                    .h_max(left);
                solver.init(&ode, now, target, &state).map_err(stuck)?;
                while solver.t() <= now {
                    steps += 1;
                    if steps > MAX_STEPS {
                        return Err(Stuck(now));
                    }
                    solver.step(&ode).map_err(stuck)?;
                }
                now = solver.t();
                state = *solver.y();
                // A state that is no number passes the solver's own tests.
                if !state.iter().all(|number| number.is_finite()) {
                    return Err(Stuck(now));
                }
                // A step cut short to land says nothing against the length that was due.
                free = if cut {
                    free.max(solver.h())
                } else {
                    solver.h()
                };
            }
            now = target;
            Ok(state)
        })
        .collect()
}
