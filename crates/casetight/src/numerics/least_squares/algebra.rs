//! The little linear algebra that the solver and the statistics share.

use nalgebra::{DMatrix, SMatrix, SVector};

/// Reciprocal condition of the column-scaled Jacobian below which its columns count as dependent. Rounding
/// leaves identical columns at a few 1e-16; the hardest certified problems stay above 1e-9.
pub(super) const DEPENDENT: f64 = 1e-13;

/// Reciprocal Frobenius condition of a triangle with columns of length 1, from its inverse; 0 without one.
pub(super) fn reciprocal_condition<R, C, S>(inverse: Option<&nalgebra::Matrix<f64, R, C, S>>) -> f64
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

/// The leading entries, without the padding.
pub(super) fn in_use<const N: usize>(vector: &SVector<f64, N>, parameters: usize) -> &[f64] {
    vector.as_slice().get(..parameters).unwrap_or_default()
}

/// Copies as many entries as there are on both sides.
pub(super) fn copy<'a>(
    from: impl IntoIterator<Item = &'a f64>,
    to: impl IntoIterator<Item = &'a mut f64>,
) {
    to.into_iter().zip(from).for_each(|(to, from)| *to = *from);
}

/// The upper triangle that [`triangularize`] leaves, and the entries of `carried` that belong to it, padded.
pub(super) fn triangle<const N: usize>(
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
pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
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

/// Divides each by a norm, where there is one.
pub(super) fn divide(column: &mut [f64], norm: f64) {
    if norm > 0.0 {
        for entry in column {
            *entry /= norm;
        }
    }
}

/// Makes the columns of a matrix orthonormal, in place, and returns the upper triangle that makes them again of the new ones: `A = Q R`.
/// By Gram and Schmidt's projections, each made twice, which leaves columns that are orthogonal to rounding unless `A` is singular to
/// rounding.
pub(super) fn orthonormalize(columns: &mut [f64], rows: usize) -> DMatrix<f64> {
    let count = columns.len() / rows;
    let mut r = DMatrix::zeros(count, count);
    for (k, entries) in r.as_mut_slice().chunks_exact_mut(count).enumerate() {
        let (done, rest) = columns.split_at_mut(k * rows);
        let Some(column) = rest.get_mut(..rows) else {
            break;
        };
        for _ in 0..2 {
            for (q, entry) in done.chunks_exact(rows).zip(entries.iter_mut()) {
                let along = dot(q, column);
                column.iter_mut().zip(q).for_each(|(y, q)| *y -= along * q);
                *entry += along;
            }
        }
        let norm = dot(column, column).sqrt();
        if let Some(diagonal) = entries.get_mut(k) {
            *diagonal = norm;
        }
        divide(column, norm);
    }
    r
}

/// Reduces a matrix, stored column by column, to its upper triangle by Householder reflections, and applies them
/// to `carried` as well. What is left below the triangle is not meaningful.
pub(super) fn triangularize(columns: &mut [f64], rows: usize, carried: &mut [f64]) {
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

    /// Columns of Hilbert's matrix, which are dependent but for the tenth digit: made orthonormal to rounding, and made again by the
    /// triangle.
    #[test]
    fn columns_that_are_nearly_dependent_are_made_orthonormal() {
        let (rows, count) = (9, 7);
        let hilbert: Vec<f64> = (0..count)
            .flat_map(|j| (0..rows).map(move |i| 1.0 / (1 + i + j) as f64))
            .collect();
        let mut q = hilbert.clone();
        let r = orthonormalize(&mut q, rows);
        let q = DMatrix::from_column_slice(rows, count, &q);
        let off = q.tr_mul(&q) - DMatrix::identity(count, count);
        assert!(off.norm() < 1e-14, "{off}");
        let again = &q * &r - DMatrix::from_column_slice(rows, count, &hilbert);
        assert!(again.norm() < 1e-15, "{again}");
        assert!(r[(6, 6)] > 0.0 && r[(6, 6)] < 1e-7, "{r}");
        assert_eq!(r.lower_triangle().norm(), r.diagonal().norm());
    }
}
