//! The critical values of a one-sided test that is looked at again and again while its information grows.
//!
//! At the limit the score S = Z sqrt(I) of an estimate with the information I = 1/u^2 is a Brownian motion in I. A look
//! ends the sequence where Z >= c; the c of each look is the one at which the sequences that get there for the first
//! time are the probability that the look may spend. The density f of the scores that have not got there yet is carried
//! from look to look:
//!
//! ```text
//! f_i(s) = Int f_(i-1)(r) phi((s - r)/sqrt(I_i - I_(i-1)))/sqrt(I_i - I_(i-1)) dr,   s < c_i sqrt(I_i)
//! ```
//!
//! Source: `[ArmitageMcPhersonRowe1969]` (the recursion), `[LanDeMets1983]` (spending).

use casetight::below::numerics::probability::{normal_cdf, normal_quantile};
use casetight::below::numerics::root::newton_bracketed;

/// Intervals of Simpson's rule over the scores of a look; with [`LEAST_GROWTH`] the critical values are good to 1e-6.
const INTERVALS: usize = 240;

/// Scores further below zero than this many standard deviations carry no probability that counts.
const LOWEST: f64 = -8.0;

/// No critical value is larger: beyond it not even the largest leak would be one.
const HIGHEST: f64 = 37.0;

/// The information must grow by this factor from look to look, so that the grid of scores can follow.
pub(super) const LEAST_GROWTH: f64 = 1.2;

/// Units in the last place to which a critical value is solved for; far below the grid's own error.
const ULPS: u32 = 1 << 12;

/// The sequences that no look has ended yet.
#[derive(Debug, Clone, Default)]
pub(super) struct Boundary {
    information: f64,
    spent: f64,
    /// Score, and the probability that stands for it.
    going_on: Vec<(f64, f64)>,
}

impl Boundary {
    /// Information of the last look; zero before the first.
    pub(super) fn information(&self) -> f64 {
        self.information
    }

    /// The critical value of a look at this information, by which the probability of an error may have grown to
    /// `spent` in all.
    pub(super) fn critical(&mut self, information: f64, spent: f64) -> f64 {
        let new = (spent - self.spent).max(0.0);
        let critical = if self.going_on.is_empty() {
            -normal_quantile(new)
        } else {
            let excess = |critical: f64| {
                let crossing = self.crossing(information, critical);
                (crossing - new, f64::NAN)
            };
            // Where even a critical value of zero spends less, the rest is saved for later looks.
            newton_bracketed(0.0, HIGHEST, ULPS, excess).unwrap_or(if new > 0.0 {
                0.0
            } else {
                HIGHEST
            })
        }
        .min(HIGHEST);
        self.look(information, critical);
        critical
    }

    /// Probability that a sequence gets past this critical value at this information for the first time.
    fn crossing(&self, information: f64, critical: f64) -> f64 {
        let edge = critical * information.sqrt();
        let step = (information - self.information).sqrt();
        self.going_on
            .iter()
            .map(|(score, probability)| probability * normal_cdf((score - edge) / step))
            .sum()
    }

    /// Ends the sequences past the critical value; gives the probability that they had.
    fn look(&mut self, information: f64, critical: f64) -> f64 {
        let first = self.going_on.is_empty();
        let crossing = if first {
            normal_cdf(-critical)
        } else {
            self.crossing(information, critical)
        };
        let deviation = information.sqrt();
        let (low, high) = (LOWEST * deviation, critical * deviation);
        let spacing = (high - low) / INTERVALS as f64;
        let step = (information - self.information).sqrt();
        let normal = |off: f64| (-0.5 * off * off).exp() / (2.0 * std::f64::consts::PI).sqrt();
        let density = |score: f64| -> f64 {
            if first {
                return normal(score / deviation) / deviation;
            }
            self.going_on
                .iter()
                .map(|(before, probability)| probability * normal((score - before) / step))
                .sum::<f64>()
                / step
        };
        self.going_on = (0..=INTERVALS)
            .map(|i| {
                let score = low + spacing * i as f64;
                let weight = match i {
                    0 | INTERVALS => 1.0,
                    i if i % 2 == 1 => 4.0,
                    _ => 2.0,
                } * spacing
                    / 3.0;
                (score, weight * density(score))
            })
            .collect();
        self.information = information;
        self.spent += crossing;
        crossing
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What a grid of [`INTERVALS`] leaves.
    const GRID: f64 = 1e-6;

    fn spent_by(critical: impl Fn(usize) -> f64, looks: usize) -> f64 {
        let mut boundary = Boundary::default();
        (1..=looks)
            .map(|i| boundary.look(i as f64, critical(i)))
            .sum()
    }

    /// From memory: the overall two-sided level of 1, 2, 3, 4, 5 and 10 looks at 5 % each, `[ArmitageMcPhersonRowe1969]`,
    /// Table 2 (three decimals); one side of it is half, but for the sequences that would get past both.
    #[test]
    fn repeated_looks_at_one_level() {
        for (looks, level) in [(1, 0.050), (2, 0.083), (3, 0.107), (4, 0.126), (5, 0.142)] {
            let one_side = spent_by(|_| 1.959_964, looks);
            assert!((2.0 * one_side - level).abs() < 1e-3, "{looks}: {one_side}");
        }
    }

    /// Independent script: 1 - Prob(all Z_i < c_i) by `scipy.stats.multivariate_normal.cdf` (SciPy 1.16.3, abseps 1e-9),
    /// correlation sqrt(I_i/I_j).
    #[test]
    fn probabilities_of_a_multivariate_normal() {
        for (information, critical, expected) in MULTIVARIATE {
            let mut boundary = Boundary::default();
            let crossed: f64 = information
                .iter()
                .zip(critical)
                .map(|(i, c)| boundary.look(*i, *c))
                .sum();
            assert!(
                (crossed - expected).abs() < 1e-6,
                "{information:?}: {crossed} for {expected}"
            );
        }
    }

    type Looks = (&'static [f64], &'static [f64], f64);

    const MULTIVARIATE: [Looks; 3] = [
        (&[1.0, 2.0, 3.0], &[2.0, 2.0, 2.0], 0.049_151_038_8),
        (
            &[1.0, 1.2, 5.0, 40.0],
            &[3.5, 2.5, 2.2, 1.9],
            0.045_417_456_7,
        ),
        (&[0.01, 0.5, 1.0], &[3.0, 2.0, 1.8], 0.050_066_596_4),
    ];

    /// Five evenly spaced looks, one-sided 2.5 %, spent as 2 - 2 Phi(z/sqrt(t)), `[LanDeMets1983]`. The first two by an
    /// independent script: mpmath with 25 digits, `quad` over the first score and `findroot`. All five from memory, three
    /// decimals.
    #[test]
    fn critical_values_of_a_known_spending() {
        let z = -normal_quantile(0.0125);
        let mut boundary = Boundary::default();
        for (i, (expected, digits)) in [
            (4.876_884_949, GRID),
            (3.357_011_922, GRID),
            (2.680, 5e-4),
            (2.290, 5e-4),
            (2.031, 5e-4),
        ]
        .iter()
        .enumerate()
        {
            let t = (i + 1) as f64 / 5.0;
            let spent = 2.0 * normal_cdf(-z / t.sqrt());
            let got = boundary.critical(t, spent);
            assert!((got - expected).abs() < *digits, "look {}: {got}", i + 1);
        }
    }

    #[test]
    fn what_is_spent_is_what_was_allowed() {
        let mut boundary = Boundary::default();
        let mut information = 1e-6;
        for look in 1..=60 {
            let allowed = 0.05 * f64::from(look) / 60.0;
            let critical = boundary.critical(information, allowed);
            assert!(critical > 0.0 && critical < 5.0, "{look}: {critical}");
            assert!((boundary.spent - allowed).abs() < 1e-6, "{look}");
            // What goes on and what ended make one.
            let on: f64 = boundary.going_on.iter().map(|(_, p)| p).sum();
            assert!((on + allowed - 1.0).abs() < GRID, "{look}: {on}");
            information *= LEAST_GROWTH;
        }
    }
}
