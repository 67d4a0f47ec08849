//! Scatter that goes on from one reading to the next.
//!
//! A logger that smooths, a needle that sticks and a finger on the hose move several readings together, so that they tell less than as many
//! independent ones. The residuals e are taken for a series of which each remembers the part rho of the one before, so that the
//! covariance of the i-th and the j-th is s^2 rho^|i - j|. Each rho of a grid counts by the restricted likelihood of the residuals
//! (`[PattersonThompson1971]`) beside what rate and start pressure take of them,
//!
//! ```text
//! ln L = -1/2 ln det S - 1/2 ln det X^T S^-1 X - (n - 2)/2 ln s^2,    s^2 = e^T (S^-1 - S^-1 X (X^T S^-1 X)^-1 X^T S^-1) e/(n - 2)
//! ```
//!
//! and the rate's variance by the readings is the mean of s^2 r^T S r, r what each reading moves the rate by. The inverse of S is that of
//! a series whose members are the differences (`e_i` - rho `e_(i-1)`)/sqrt(1 - rho^2).
//!
//! Takes an optimum; gives the variance. Checked by its tests on simulated series, and by `tests/tests/correlated.rs` on simulated benches.

use super::least_squares::Solved;

/// Fewer readings tell nothing of it.
const TELLING: usize = 6;
/// What each reading may remember of the one before: beyond the last it looks like a drift, which is another matter. Each is as likely
/// beforehand.
const REMEMBERED: [f64; 11] = [0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95];
/// It is asked for where the residuals' first correlation is as large as by chance one run in a thousand has it, or one in twenty of those
/// that scatter more than the gauge explains: that is not the gauge's own doing.
const SHOWS: f64 = 3.09;
/// See [`SHOWS`].
const SHOWS_IN_MISFIT: f64 = 1.645;

/// What the scatter remembers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Memory {
    /// The part of one reading's scatter that goes on in the next, the mean of what the residuals allow.
    pub(super) correlation: f64,
    /// Variance of the rate by the readings.
    pub(super) variance: f64,
}

/// What the scatter about a fit remembers, where the residuals show that it does.
pub(super) fn memory(best: &Solved<'_>, is_misfit: bool) -> Option<Memory> {
    let n = best.data.points.len();
    let off = best.weighted.get(..n)?;
    if n < TELLING || !shows(off, is_misfit) {
        return None;
    }
    let own = best.rows().filter_map(|row| match row {
        [by_rate, by_start, ..] => Some((*by_rate, *by_start)),
        _ => None,
    });
    let rows: Vec<Row> = off
        .iter()
        .zip(own)
        .map(|(e, (by_rate, by_start))| Row([*e, by_rate, by_start]))
        .collect();
    remembered(&rows, best.rate_row.get(..n)?)
}

/// Whether residuals show a correlation: their first one, its mean of a straight line's residuals taken off.
fn shows(off: &[f64], is_misfit: bool) -> bool {
    let n = off.len() as f64;
    let together: f64 = off.iter().zip(off.iter().skip(1)).map(|(a, b)| a * b).sum();
    let squares: f64 = off.iter().map(|e| e * e).sum();
    let beyond = if is_misfit { SHOWS_IN_MISFIT } else { SHOWS };
    together / squares + 2.0 / n > beyond / n.sqrt()
}

/// A residual and its slopes by rate and start pressure.
#[derive(Debug, Clone, Copy)]
struct Row([f64; 3]);

/// One rho beside the readings.
struct Tried {
    rho: f64,
    ln_likelihood: f64,
    variance: f64,
}

fn remembered(rows: &[Row], of_rate: &[f64]) -> Option<Memory> {
    let tried: Vec<Tried> = REMEMBERED
        .iter()
        .filter_map(|rho| tried(*rho, rows, of_rate))
        .collect();
    let most = tried
        .iter()
        .map(|t| t.ln_likelihood)
        .fold(f64::NEG_INFINITY, f64::max);
    let (mut all, mut correlation, mut variance) = (0.0, 0.0, 0.0);
    for t in &tried {
        let weight = (t.ln_likelihood - most).exp();
        all += weight;
        correlation += weight * t.rho;
        variance += weight * t.variance;
    }
    let memory = Memory {
        correlation: correlation / all,
        variance: variance / all,
    };
    (memory.correlation.is_finite() && memory.variance.is_finite()).then_some(memory)
}

fn tried(rho: f64, rows: &[Row], of_rate: &[f64]) -> Option<Tried> {
    let new = 1.0 / (1.0 - rho * rho).sqrt();
    let mut products = [[0.0; 3]; 3];
    let mut before: Option<Row> = None;
    for row in rows {
        let mut differs = row.0;
        if let Some(Row(last)) = before {
            for (to, last) in differs.iter_mut().zip(last) {
                *to = (*to - rho * last) * new;
            }
        }
        for (sums, a) in products.iter_mut().zip(differs) {
            for (sum, b) in sums.iter_mut().zip(differs) {
                *sum += a * b;
            }
        }
        before = Some(*row);
    }
    let [[ee, ek, eg], [_, kk, kg], [_, _, gg]] = products;
    let both = kk * gg - kg * kg;
    let taken = (gg * ek * ek - 2.0 * kg * ek * eg + kk * eg * eg) / both;
    let freedom = rows.len() as f64 - 2.0;
    let scatter = (ee - taken) / freedom;
    let ln_determinant = (rows.len() as f64 - 1.0) * (1.0 - rho * rho).ln();
    let ln_likelihood = -0.5 * (ln_determinant + both.ln() + freedom * scatter.ln());
    (both > 0.0 && scatter > 0.0 && ln_likelihood.is_finite()).then(|| Tried {
        rho,
        ln_likelihood,
        variance: scatter * spread_of(of_rate, rho),
    })
}

/// r^T S r.
fn spread_of(of_rate: &[f64], rho: f64) -> f64 {
    let (mut sum, mut carried) = (0.0, 0.0);
    for r in of_rate {
        sum += r * (r + 2.0 * carried);
        carried = rho * (carried + r);
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By the definition, term by term.
    #[test]
    fn the_spread_is_the_quadratic_form_of_the_correlations() {
        let r = [0.3, -1.2, 0.7, 2.0, -0.4];
        for rho in [0.0_f64, 0.4, 0.95] {
            let mut sum = 0.0;
            for (i, a) in r.iter().enumerate() {
                for (j, b) in r.iter().enumerate() {
                    sum += a * b * rho.powf(i.abs_diff(j) as f64);
                }
            }
            assert!((spread_of(&r, rho) / sum - 1.0).abs() < 1e-12);
        }
    }

    /// Residuals whose sums of products are those of a dense inverse: 6 readings, one rho, by `numpy.linalg`.
    #[test]
    fn the_likelihood_is_that_of_a_dense_covariance() {
        let rows: Vec<Row> = [0.5, -0.2, 0.9, 1.4, 0.3, -0.8]
            .iter()
            .enumerate()
            .map(|(i, e)| Row([*e, i as f64 - 2.5, 1.0]))
            .collect();
        let of_rate: Vec<f64> = (0..6).map(|i| (f64::from(i) - 2.5) / 17.5).collect();
        let at = tried(0.6, &rows, &of_rate).unwrap();
        assert!(
            (at.ln_likelihood + 0.900_532_521_602_709_6).abs() < 1e-9,
            "{}",
            at.ln_likelihood
        );
        assert!(
            (at.variance / 0.090_120_992_949_907_25 - 1.0).abs() < 1e-9,
            "{}",
            at.variance
        );
    }
}
