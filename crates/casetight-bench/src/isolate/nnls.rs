//! Least squares with no unknown below zero. Why no crate's: DEVELOPERS.md, "Ours, and why".

use nalgebra::{DMatrix, DVector};

/// A gradient below this part of its terms is rounding.
const GRADIENT_TOLERANCE: f64 = 1e-11;

/// A column is a combination of others where less than this part of it is left beside them.
const DEPENDENT: f64 = 1e-9;

/// The least sum of squares and where it is reached.
#[derive(Debug, Clone)]
pub(super) struct Minimum {
    pub(super) x: DVector<f64>,
    pub(super) sum_of_squares: f64,
}

/// Minimizes |A x - b|^2 over x >= 0 by the active set method of Lawson and Hanson `[LawsonHanson1974]` (
/// chapter 23; from memory): a column whose gradient points inward is freed, and one that would turn negative is set to
/// zero on the way to the free columns' least squares, until no gradient points inward.
pub(super) fn minimize(a: &DMatrix<f64>, b: &DVector<f64>) -> Minimum {
    let columns = a.ncols();
    let mut x = DVector::zeros(columns);
    let mut free: Vec<usize> = Vec::new();
    let sizes: Vec<f64> = a.column_iter().map(|c| c.norm()).collect();
    let tolerance = GRADIENT_TOLERANCE * b.norm();
    // Each round lowers the sum of squares, so no set of free columns comes back; the bound only ends a cycle by rounding.
    for _ in 0..(3 * columns + 10) {
        let residual = b - a * &x;
        let entering = (0..columns)
            .filter(|j| !free.contains(j))
            .filter_map(|j| {
                let size = *sizes.get(j)?;
                let inward = a.column(j).dot(&residual) / size;
                (size > 0.0 && inward > tolerance).then_some((j, inward))
            })
            .max_by(|one, other| one.1.total_cmp(&other.1));
        let Some((entering, _)) = entering else { break };
        free.push(entering);
        while let Some(wanted) = least_squares(a, &free, b) {
            // The longest part of the step on which all stay above zero.
            let leaving = free
                .iter()
                .zip(wanted.iter())
                .filter(|(_, w)| **w <= 0.0)
                .filter_map(|(&j, &w)| {
                    let now = *x.get(j)?;
                    Some((j, if now > 0.0 { now / (now - w) } else { 0.0 }))
                })
                .min_by(|one, other| one.1.total_cmp(&other.1));
            let part = leaving.map_or(1.0, |(_, part)| part);
            for (&j, &w) in free.iter().zip(wanted.iter()) {
                if let Some(now) = x.get_mut(j) {
                    *now += part * (w - *now);
                }
            }
            let Some((leaving, _)) = leaving else { break };
            if let Some(now) = x.get_mut(leaving) {
                *now = 0.0;
            }
            free.retain(|&j| j != leaving);
        }
    }
    Minimum {
        sum_of_squares: (b - a * &x).norm_squared(),
        x,
    }
}

/// Least squares over some columns alone; none where they depend on each other.
fn least_squares(a: &DMatrix<f64>, free: &[usize], b: &DVector<f64>) -> Option<DVector<f64>> {
    if free.is_empty() || free.len() > a.nrows() {
        return None;
    }
    let qr = a.select_columns(free).qr();
    qr.r().solve_upper_triangular(&qr.q().tr_mul(b))
}

/// Length of what is left of a vector beside the columns that x makes use of; none where nothing is left.
pub(super) fn beside(vector: &DVector<f64>, a: &DMatrix<f64>, x: &DVector<f64>) -> Option<f64> {
    let used: Vec<usize> = (0..a.ncols())
        .filter(|&j| x.get(j).is_some_and(|&x| x > 0.0))
        .collect();
    let left = if used.is_empty() {
        vector.norm()
    } else {
        let q = a.select_columns(&used).qr().q();
        (vector - &q * q.tr_mul(vector)).norm()
    };
    (left > DEPENDENT * vector.norm()).then_some(left)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn one_column_turns_away() {
        // Minimum by hand: x0 = 0 since its least squares value is -1, x1 = 2.
        let a = DMatrix::from_row_slice(2, 2, &[1.0, 0.0, 0.0, 1.0]);
        let m = minimize(&a, &DVector::from_vec(vec![-1.0, 2.0]));
        assert_eq!((m.x[0], m.x[1], m.sum_of_squares), (0.0, 2.0, 1.0));
    }

    proptest! {
        /// Karush-Kuhn-Tucker: x >= 0, gradient >= 0, and no column is used whose gradient is not zero. They hold at the
        /// minimum of this convex problem and nowhere else.
        #[test]
        fn the_minimum_meets_its_conditions(
            entries in prop::collection::vec(prop::bool::ANY, 24),
            targets in prop::collection::vec(-1.0_f64..4.0, 4),
            weights in prop::collection::vec(1.0_f64..50.0, 4),
        ) {
            let a = DMatrix::from_fn(4, 6, |i, j| if entries[6 * i + j] { weights[i] } else { 0.0 });
            let b = DVector::from_fn(4, |i, _| weights[i] * targets[i]);
            let m = minimize(&a, &b);
            let gradient = -a.tr_mul(&(&b - &a * &m.x));
            let rounding = 1e-9 * (1.0 + a.norm() * b.norm());
            for j in 0..6 {
                prop_assert!(m.x[j] >= 0.0 && gradient[j] > -rounding);
                prop_assert!(m.x[j] * gradient[j] < rounding);
            }
        }
    }
}
