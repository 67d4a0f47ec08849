//! temporary
use nalgebra::{DMatrix, DVector};
pub(crate) trait Residuals {
    fn parameters(&self) -> usize;
    fn residuals(&self) -> usize;
    fn evaluate(&self, theta: &[f64], residuals: &mut [f64], jacobian: Option<&mut [f64]>) -> bool;
}
pub(crate) struct Solution {
    theta: Vec<f64>,
    ss: f64,
    it: u64,
    conv: bool,
}
impl Solution {
    pub(crate) fn theta(&self) -> &[f64] {
        &self.theta
    }
    pub(crate) fn sum_of_squares(&self) -> f64 {
        self.ss
    }
    pub(crate) fn iterations(&self) -> u64 {
        self.it
    }
    pub(crate) fn converged(&self) -> bool {
        self.conv
    }
}
pub(crate) fn minimize<P: Residuals>(p: &mut P, start: &[f64]) -> Option<Solution> {
    let (n, m) = (p.parameters(), p.residuals());
    let mut theta = start.to_vec();
    let mut r = vec![0.0; m];
    let mut j = vec![0.0; m * n];
    if !p.evaluate(&theta, &mut r, Some(&mut j)) {
        return None;
    }
    let mut ss: f64 = r.iter().map(|x| x * x).sum();
    let mut lam = 1e-4;
    let mut conv = false;
    let mut it = 0;
    for _ in 0..100 {
        it += 1;
        let jm = DMatrix::from_column_slice(m, n, &j);
        let mut jtj = jm.transpose() * &jm;
        let g = jm.transpose() * DVector::from_column_slice(&r);
        for i in 0..n {
            jtj[(i, i)] *= 1.0 + lam;
        }
        let Some(step) = jtj.lu().solve(&g) else {
            return None;
        };
        let new: Vec<f64> = theta.iter().zip(step.iter()).map(|(a, b)| a - b).collect();
        let mut r2 = vec![0.0; m];
        let ok = p.evaluate(&new, &mut r2, None);
        let ss2: f64 = r2.iter().map(|x| x * x).sum();
        if ok && ss2 <= ss {
            let small = (ss - ss2) <= 1e-12 * ss + 1e-30;
            theta = new;
            ss = ss2;
            lam *= 0.1;
            p.evaluate(&theta, &mut r, Some(&mut j));
            if small {
                conv = true;
                break;
            }
        } else {
            lam = (lam * 10.0).max(1e-6);
            if lam > 1e12 {
                conv = true;
                break;
            }
        }
    }
    Some(Solution {
        theta,
        ss,
        it,
        conv,
    })
}
pub(crate) struct LinearizedFit {
    j: DMatrix<f64>,
    cov: DMatrix<f64>,
}
impl LinearizedFit {
    pub(crate) fn of<P: Residuals>(p: &P, theta: &[f64]) -> Option<Self> {
        let (n, m) = (p.parameters(), p.residuals());
        let mut r = vec![0.0; m];
        let mut j = vec![0.0; m * n];
        if !p.evaluate(theta, &mut r, Some(&mut j)) {
            return None;
        }
        let j = DMatrix::from_column_slice(m, n, &j);
        let cov = (j.transpose() * &j).try_inverse()?;
        Some(Self { j, cov })
    }
    pub(crate) fn covariance(&self) -> Option<Vec<Vec<f64>>> {
        Some(
            self.cov
                .row_iter()
                .map(|r| r.iter().copied().collect())
                .collect(),
        )
    }
    pub(crate) fn pseudo_inverse_row(&self, k: usize) -> Option<Vec<f64>> {
        Some(
            (&self.cov * self.j.transpose())
                .row(k)
                .iter()
                .copied()
                .collect(),
        )
    }
}
