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
//! Where the residuals don't show it, it may be there all the same: a few readings that move together by more than a step look like a leak
//! of another size. What that makes of the rate, and how likely it is, [`Unshown`] has; a verdict allows for it, the interval does not.
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

/// So many readings are looked through for what they may hide: more show it, and of fewer only what is thought beforehand would speak.
const HIDING: std::ops::RangeInclusive<usize> = 4..=40;
/// Scatter that moves a leak goes on by this much at least.
const LASTING: f64 = 0.6;
/// What scatter that goes on may be, of what is known of the gauge's: each as likely beforehand. Common practice, no source.
const SIZES: [f64; 5] = [0.7, 1.4, 2.8, 5.6, 11.3];
/// How likely it is beforehand that a needle's scatter is such a one, by a hand that squeezes the hose, a needle that sticks, an eye that
/// has settled on what it expects. Common practice, no source.
const GOES_ON: f64 = 0.8;

/// Scatter that may go on from reading to reading although the residuals don't show it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Unshown {
    /// How likely it is, in view of the residuals.
    pub(crate) probability: f64,
    /// Standard uncertainty of the rate by it \[1/s\].
    pub(crate) of_rate: f64,
}

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
    remembered(&rows(best, off), best.rate_row.get(..n)?)
}

/// What scatter may go on about a fit whose residuals don't show it.
pub(super) fn unshown(best: &Solved<'_>) -> Option<Unshown> {
    let n = best.data.points.len();
    if !HIDING.contains(&n) {
        return None;
    }
    let rows = rows(best, best.weighted.get(..n)?);
    hidden(&rows, best.rate_row.get(..n)?)
}

/// The residuals with the two columns that were fitted to them.
fn rows(best: &Solved<'_>, off: &[f64]) -> Vec<Row> {
    let own = best.rows().filter_map(|row| match row {
        [by_rate, by_start, ..] => Some((*by_rate, *by_start)),
        _ => None,
    });
    let with_own = off.iter().zip(own);
    with_own
        .map(|(e, (by_rate, by_start))| Row([*e, by_rate, by_start]))
        .collect()
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
    /// What the scatter about rate and start pressure adds up to, s^2 = squares/freedom where the readings tell it.
    squares: f64,
    freedom: f64,
    /// The likelihood's determinants.
    ln_determinants: f64,
    /// r^T S r.
    spread: f64,
}

impl Tried {
    /// s^2 as the readings tell it.
    fn scatter(&self) -> f64 {
        self.squares / self.freedom
    }

    /// ln L at the readings' own s.
    fn ln_likelihood(&self) -> f64 {
        -0.5 * (self.ln_determinants + self.freedom * self.scatter().ln())
    }

    /// ln L at a known s, but for what is the same at each rho and s.
    fn ln_likelihood_at(&self, s: f64) -> f64 {
        let of_size = self.freedom * s.powi(2).ln() + self.squares / s.powi(2);
        -0.5 * (self.ln_determinants + of_size)
    }
}

/// The logarithm of the sum of likelihoods, and the share of each in it.
fn weighed(ln_likelihoods: &[f64]) -> (f64, Vec<f64>) {
    let most = ln_likelihoods
        .iter()
        .copied()
        .fold(f64::NEG_INFINITY, f64::max);
    let over_most = || ln_likelihoods.iter().map(|ln| (ln - most).exp());
    let sum: f64 = over_most().sum();
    (
        most + sum.ln(),
        over_most().map(|weight| weight / sum).collect(),
    )
}

fn remembered(rows: &[Row], of_rate: &[f64]) -> Option<Memory> {
    let tried: Vec<Tried> = REMEMBERED
        .iter()
        .filter_map(|rho| tried(*rho, rows, of_rate))
        .filter(|t| t.squares > 0.0)
        .collect();
    let likelihoods: Vec<f64> = tried.iter().map(Tried::ln_likelihood).collect();
    let (_, shares) = weighed(&likelihoods);
    let shared = || tried.iter().zip(&shares);
    let memory = Memory {
        correlation: shared().map(|(t, share)| share * t.rho).sum(),
        variance: shared()
            .map(|(t, share)| share * t.scatter() * t.spread)
            .sum(),
    };
    (memory.correlation.is_finite() && memory.variance > 0.0 && memory.variance.is_finite())
        .then_some(memory)
}

/// Each size and rho that may go on, as likely beforehand as the other, beside the gauge's own scatter.
fn hidden(rows: &[Row], of_rate: &[f64]) -> Option<Unshown> {
    let plain = (1.0 - GOES_ON).ln() + tried(0.0, rows, of_rate)?.ln_likelihood_at(1.0);
    let lasting = REMEMBERED.iter().filter(|rho| **rho >= LASTING);
    let tried: Vec<Tried> = lasting
        .filter_map(|rho| tried(*rho, rows, of_rate))
        .collect();
    let ways = || tried.iter().flat_map(|t| SIZES.map(|s| (t, s)));
    let likelihoods: Vec<f64> = ways().map(|(t, s)| t.ln_likelihood_at(s)).collect();
    let (all, shares) = weighed(&likelihoods);
    let going_on = (GOES_ON / likelihoods.len() as f64).ln() + all;
    let squares = ways()
        .zip(shares)
        .map(|((t, s), share)| share * s * s * t.spread);
    let unshown = Unshown {
        probability: 1.0 / (1.0 + (plain - going_on).exp()),
        of_rate: squares.sum::<f64>().sqrt(),
    };
    (unshown.probability.is_finite() && unshown.of_rate.is_finite()).then_some(unshown)
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
    let of_series = (rows.len() as f64 - 1.0) * (1.0 - rho * rho).ln();
    let tried = Tried {
        rho,
        squares: (ee - taken).max(0.0),
        freedom: rows.len() as f64 - 2.0,
        ln_determinants: of_series + both.ln(),
        spread: spread_of(of_rate, rho),
    };
    (both > 0.0 && taken.is_finite() && tried.ln_determinants.is_finite()).then_some(tried)
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
        let (rows, of_rate) = about_a_line();
        let at = tried(0.6, &rows, &of_rate).unwrap();
        assert!(
            (at.ln_likelihood() + 0.900_532_521_602_709_6).abs() < 1e-9,
            "{}",
            at.ln_likelihood()
        );
        assert!(
            (at.scatter() * at.spread / 0.090_120_992_949_907_25 - 1.0).abs() < 1e-9,
            "{}",
            at.scatter() * at.spread
        );
    }

    /// Six residuals about a line, four in five beforehand: the sums over every rho and s are by dense matrices, `numpy.linalg`.
    #[test]
    fn what_may_go_on_is_that_of_dense_covariances() {
        let (rows, of_rate) = about_a_line();
        let unshown = hidden(&rows, &of_rate).unwrap();
        let off = |got: f64, wanted: f64| (got / wanted - 1.0).abs();
        assert!(
            off(unshown.probability, 0.715_054_029_446_718) < 1e-9,
            "{unshown:?}"
        );
        assert!(
            off(unshown.of_rate, 0.520_983_275_156_366_3) < 1e-9,
            "{unshown:?}"
        );
    }

    /// Readings that lie on the curve hide less than ones that scatter; of fewer than what is fitted nothing can be said.
    #[test]
    fn readings_on_the_curve_hide_less() {
        let (rows, of_rate) = about_a_line();
        let on_it: Vec<Row> = rows
            .iter()
            .map(|Row([_, k, g])| Row([0.0, *k, *g]))
            .collect();
        let still = hidden(&on_it, &of_rate).unwrap().of_rate;
        assert!(4.0 * still < hidden(&rows, &of_rate).unwrap().of_rate);
        assert_eq!(hidden(&rows[..1], &of_rate[..1]), None);
    }

    fn about_a_line() -> (Vec<Row>, Vec<f64>) {
        let place = |i: u32| f64::from(i) - 2.5;
        let off = [0.5, -0.2, 0.9, 1.4, 0.3, -0.8];
        let rows = (0..).zip(off).map(|(i, e)| Row([e, place(i), 1.0]));
        (rows.collect(), (0..6).map(|i| place(i) / 17.5).collect())
    }
}
