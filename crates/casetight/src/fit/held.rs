//! What a rate would be uncertain by if the readings told nothing of what they share: from the rows of the Jacobian with rate and start
//! pressure alone. No interval of an optimum is wider, and none that a drift makes is narrower.

use super::problem::Term;

/// A fit of rate and start pressure alone.
pub(super) struct Held {
    /// Standard uncertainty of the rate from the readings.
    pub(super) uncertainty: f64,
    /// How the start pressure follows the rate.
    pub(super) valley: f64,
    /// How the rate follows one uncertainty of each shared term.
    by_terms: Vec<f64>,
}

impl Held {
    /// From a Jacobian of so many columns, row by row, whose first rows are the points'.
    pub(super) fn of(jacobian: &[f64], (columns, points): (usize, usize)) -> Self {
        let rows = || jacobian.chunks_exact(columns).take(points);
        let product = |i: usize, j: usize| -> f64 {
            rows()
                .filter_map(|row| Some(row.get(i)? * row.get(j)?))
                .sum()
        };
        let (kk, kg, gg) = (product(0, 0), product(0, 1), product(1, 1));
        let both = kk * gg - kg * kg;
        let by_term = |at: usize| (gg * product(0, at) - kg * product(1, at)) / both;
        Self {
            uncertainty: (gg / both).sqrt(),
            valley: -kg / gg,
            by_terms: (2..columns).map(by_term).collect(),
        }
    }

    /// Variance of the rate by all shared terms, the most that it can be.
    pub(super) fn by_all(&self) -> f64 {
        self.by_terms.iter().map(|by| by * by).sum()
    }

    /// Variance of the rate by each shared term as a fit has it, by its readings' variance and its slopes: that of the drift no less than
    /// here, since no curve tells a leak from a drift that need not be steady, within what all together can be.
    pub(super) fn variances(
        &self,
        terms: &[Term],
        (noise, by_terms): (f64, &[f64]),
    ) -> Vec<(Term, f64)> {
        let square = |by: &f64| by * by;
        let told = noise + by_terms.iter().map(square).sum::<f64>();
        let untold = (square(&self.uncertainty) + self.by_all() - told).max(0.0);
        let each = terms.iter().zip(by_terms.iter().zip(&self.by_terms));
        each.map(|(term, (by_term, held))| {
            let more = match term {
                Term::WallDrift => (square(held) - square(by_term)).clamp(0.0, untold),
                _ => 0.0,
            };
            (*term, square(by_term) + more)
        })
        .collect()
    }
}
