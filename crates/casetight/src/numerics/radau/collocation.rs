//! The method's numbers, and the polynomial through the stages of a step.

// Radau IIA, three stages: roots of the polynomial, collocation weights and the weights of the error estimate. Source:
// from memory; the tests prove the order.
const ROOT_6: f64 = 2.449_489_742_783_178;
pub(crate) const C1: f64 = (4.0 - ROOT_6) / 10.0;
pub(super) const C2: f64 = (4.0 + ROOT_6) / 10.0;
pub(super) const A11: f64 = (88.0 - 7.0 * ROOT_6) / 360.0;
pub(super) const A12: f64 = (296.0 - 169.0 * ROOT_6) / 1800.0;
pub(super) const A13: f64 = (-2.0 + 3.0 * ROOT_6) / 225.0;
pub(super) const A21: f64 = (296.0 + 169.0 * ROOT_6) / 1800.0;
pub(super) const A22: f64 = (88.0 + 7.0 * ROOT_6) / 360.0;
pub(super) const A23: f64 = (-2.0 - 3.0 * ROOT_6) / 225.0;
pub(super) const A31: f64 = (16.0 - ROOT_6) / 36.0;
pub(super) const A32: f64 = (16.0 + ROOT_6) / 36.0;
pub(super) const A33: f64 = 1.0 / 9.0;
/// The real eigenvalue of the collocation weights.
pub(super) const EIGENVALUE: f64 = 0.274_888_829_595_676_4;
pub(super) const E1: f64 = EIGENVALUE / 3.0 * (-13.0 - 7.0 * ROOT_6);
pub(super) const E2: f64 = EIGENVALUE / 3.0 * (-13.0 + 7.0 * ROOT_6);
pub(super) const E3: f64 = -EIGENVALUE / 3.0;

/// What a cubic's values at 0, C1, C2 and 1 count for at c (Lagrange's polynomials; C1 C2 = 1/10).
#[inline]
pub(super) fn shares(c: f64) -> [f64; 4] {
    let (c1, c2, end) = (c - C1, c - C2, c - 1.0);
    [
        -10.0 * c1 * c2 * end,
        OVER_1 * c * c2 * end,
        OVER_2 * c * c1 * end,
        OVER_3 * c * c1 * c2,
    ]
}

/// Their derivatives by c.
#[inline]
pub(super) fn slopes_of_shares(c: f64) -> [f64; 4] {
    let (c1, c2, end) = (c - C1, c - C2, c - 1.0);
    [
        -10.0 * (c2 * end + c1 * end + c1 * c2),
        OVER_1 * (c2 * end + c * end + c * c2),
        OVER_2 * (c1 * end + c * end + c * c1),
        OVER_3 * (c1 * c2 + c * c2 + c * c1),
    ]
}

const OVER_1: f64 = 1.0 / (C1 * (C1 - C2) * (C1 - 1.0));
const OVER_2: f64 = 1.0 / (C2 * (C2 - C1) * (C2 - 1.0));
const OVER_3: f64 = 1.0 / ((1.0 - C1) * (1.0 - C2));

#[inline]
pub(super) fn dot([a0, a1, a2, a3]: [f64; 4], [b0, b1, b2, b3]: [f64; 4]) -> f64 {
    a0 * b0 + a1 * b1 + a2 * b2 + a3 * b3
}
