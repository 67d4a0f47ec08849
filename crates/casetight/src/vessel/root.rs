//! A pressure by the signed root of what it lies off ambient, in which the flow of every leak is smooth.
//!
//! P = p/`p_a`, z = P^beta with beta = (gamma - 1)/gamma, and w |w| = z - 1: an orifice's flow, a square root of the pressure, is a
//! straight line in w next to ambient. The powers are those of the gas; the law comes later.

use crate::gas::Gas;

/// Smallest P^beta that a trial may look at: a pressure of 1e-7 of ambient.
const SMALLEST: f64 = 1e-2;
/// Smallest |w| in dP/dw, so that no block is singular where there is next to no leak.
const SMALLEST_ROOT: f64 = 1e-8;
/// |w| below which y/w^2 is taken at ambient: the difference is of the order of w^2.
const NEAR_AMBIENT: f64 = 1e-6;

/// A pressure as a law's flow sees it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Root {
    /// w, with w |w| = z - 1 and z = P^beta.
    pub(crate) w: f64,
    pub(crate) sqrt_z: f64,
    /// P, and y = P - 1.
    pub(crate) p: f64,
    pub(crate) y: f64,
    pub(crate) p_over_z: f64,
    /// dP/d(w |w|), and dP/dw.
    pub(crate) p_by_z: f64,
    pub(crate) p_by_w: f64,
}

impl Root {
    /// |y|/w^2, smooth through ambient.
    #[inline]
    pub(crate) fn ratio_by_square(&self) -> f64 {
        if self.w.abs() > NEAR_AMBIENT {
            self.y.abs() / (self.w * self.w)
        } else {
            self.p_by_z
        }
    }
}

/// Roots of the pressures of one gas.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Roots {
    beta: f64,
    /// gamma = 1.4: z^(1/beta) is z^3 sqrt(z).
    diatomic: bool,
}

impl Roots {
    pub(crate) fn new(gas: &Gas) -> Self {
        Self {
            beta: gas.isentropic_exponent(),
            diatomic: (gas.heat_capacity_ratio() - 1.4).abs() < 1e-15,
        }
    }

    /// A pressure from its w.
    #[inline]
    pub(crate) fn at(&self, w: f64) -> Root {
        let size = w.abs();
        let z = (1.0 + w * size).max(SMALLEST);
        let sqrt_z = z.sqrt();
        // P/z = z^(1/beta - 1).
        let p_over_z = if self.diatomic {
            z * z * sqrt_z
        } else {
            ((1.0 / self.beta - 1.0) * z.ln()).exp()
        };
        let p = p_over_z * z;
        let p_by_z = p_over_z / self.beta;
        Root {
            w,
            sqrt_z,
            p,
            y: p - 1.0,
            p_over_z,
            p_by_z,
            p_by_w: p_by_z * 2.0 * size.max(SMALLEST_ROOT),
        }
    }

    /// w of a pressure ratio P = 1 + y.
    pub(crate) fn of(&self, y: f64) -> f64 {
        let excess = (self.beta * y.ln_1p()).exp_m1();
        excess.abs().sqrt().copysign(excess)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_root_gives_its_pressure_back_with_its_slopes() {
        for gamma in [1.1, 1.4, 5.0 / 3.0] {
            let roots = Roots::new(&Gas::new("test gas", 287.0, gamma).unwrap());
            for y in [-0.9, -0.4, -1e-3, -1e-9, 0.0, 1e-9, 1e-3, 0.5, 3.0] {
                let w = roots.of(y);
                let root = roots.at(w);
                assert!(
                    (root.y - y).abs() < 1e-14 * (1.0 + y.abs()) * 4.0,
                    "{y}: {root:?}"
                );
                let by_square = if y == 0.0 {
                    root.p_by_z
                } else {
                    y.abs() / (w * w)
                };
                assert!(
                    (root.ratio_by_square() / by_square - 1.0).abs() < 1e-5,
                    "{y}: {root:?}"
                );
                if y.abs() > 1e-6 {
                    let step = 1e-5 * w.abs();
                    let slope = (roots.at(w + step).p - roots.at(w - step).p) / (2.0 * step);
                    assert!(
                        (root.p_by_w / slope - 1.0).abs() < 1e-6,
                        "{y}: {slope} {root:?}"
                    );
                }
            }
        }
    }
}
