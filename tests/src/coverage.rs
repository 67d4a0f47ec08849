//! How often an interval covers the truth, over many simulated runs.

use std::fmt;

/// Two-sided 95 % quantile of the standard normal distribution.
const NORMAL_95: f64 = 1.959_963_984_540_054;

/// One run's truth and answer, all in one unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Run {
    /// True value.
    pub truth: f64,
    /// Estimate.
    pub value: f64,
    /// Lower end of the interval; minus infinity for none.
    pub low: f64,
    /// Upper end of the interval; infinity for none.
    pub high: f64,
}

/// Coverage, bias and width of the intervals of a study.
///
/// ```
/// use casetight_tests::coverage::{Coverage, Run};
///
/// let run = Run { truth: 1.0, value: 1.1, low: 0.9, high: 1.3 };
/// let coverage = Coverage::of(&[run; 20]).unwrap();
/// assert_eq!(coverage.covered, 20);
/// assert!((coverage.median_bias - 0.1).abs() < 1e-12);
/// assert!(coverage.to_string().starts_with("| 20 | 20 | 1.000 |"));
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coverage {
    /// Runs of the study.
    pub runs: usize,
    /// Runs whose interval holds the truth, its ends included.
    pub covered: usize,
    /// `covered / runs`.
    pub fraction: f64,
    /// Lower end of the 95 % Wilson interval of the fraction.
    pub wilson_low: f64,
    /// Upper end of the 95 % Wilson interval of the fraction.
    pub wilson_high: f64,
    /// Median of value/truth - 1, over the runs that have one.
    pub median_bias: f64,
    /// Median of the interval's half-width over the truth; infinite where half of the intervals are open.
    pub median_half_width: f64,
    /// Runs whose interval lies wholly below the truth.
    pub misses_below: usize,
    /// Runs whose interval lies wholly above the truth.
    pub misses_above: usize,
    /// Runs with a NaN among their numbers: never covered, and in neither kind of miss.
    pub unusable: usize,
}

impl Coverage {
    /// Head of the Markdown table whose rows [`Coverage::row`] gives.
    pub const HEAD: &'static str = "| study | runs | covered | fraction | 95 % of fraction | median bias | median half-width | below | above | NaN |\n\
         |---|---:|---:|---:|---:|---:|---:|---:|---:|---:|";

    /// Statistics of the runs, or `None` if there are none.
    #[must_use]
    pub fn of(runs: &[Run]) -> Option<Self> {
        if runs.is_empty() {
            return None;
        }
        let usable: Vec<&Run> = runs
            .iter()
            .filter(|run| {
                ![run.truth, run.value, run.low, run.high]
                    .iter()
                    .any(|number| number.is_nan())
            })
            .collect();
        let misses_below = usable.iter().filter(|run| run.high < run.truth).count();
        let misses_above = usable.iter().filter(|run| run.low > run.truth).count();
        let covered = usable
            .iter()
            .filter(|run| run.low <= run.truth && run.truth <= run.high)
            .count();
        let (wilson_low, wilson_high) = wilson(covered, runs.len());
        Some(Self {
            runs: runs.len(),
            covered,
            fraction: covered as f64 / runs.len() as f64,
            wilson_low,
            wilson_high,
            median_bias: median(usable.iter().map(|run| run.value / run.truth - 1.0)),
            median_half_width: median(
                usable
                    .iter()
                    .map(|run| (run.high - run.low) / (2.0 * run.truth.abs())),
            ),
            misses_below,
            misses_above,
            unusable: runs.len() - usable.len(),
        })
    }

    /// Whether the study is consistent with a true coverage of at least `stated`.
    #[must_use]
    pub fn may_reach(&self, stated: f64) -> bool {
        self.wilson_high >= stated
    }

    /// Row of the Markdown table, with the study's name in front.
    #[must_use]
    pub fn row(&self, study: &str) -> String {
        format!("| {study} {self}")
    }
}

impl fmt::Display for Coverage {
    /// Row of the Markdown table without the study's name.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "| {} | {} | {:.3} | {:.3} to {:.3} | {:+.2} % | {:.2} % | {} | {} | {} |",
            self.runs,
            self.covered,
            self.fraction,
            self.wilson_low,
            self.wilson_high,
            100.0 * self.median_bias,
            100.0 * self.median_half_width,
            self.misses_below,
            self.misses_above,
            self.unusable,
        )
    }
}

/// Wilson's score interval, 95 %, of a fraction `hits`/`trials`; (0, 1) without trials.
///
/// Wilson, Journal of the American Statistical Association 22 (1927) 209.
#[must_use]
pub fn wilson(hits: usize, trials: usize) -> (f64, f64) {
    if trials == 0 {
        return (0.0, 1.0);
    }
    let n = trials as f64;
    let fraction = hits as f64 / n;
    let z2 = NORMAL_95 * NORMAL_95;
    let center = (fraction + z2 / (2.0 * n)) / (1.0 + z2 / n);
    let half_width =
        NORMAL_95 / (1.0 + z2 / n) * (fraction * (1.0 - fraction) / n + z2 / (4.0 * n * n)).sqrt();
    (
        (center - half_width).max(0.0),
        (center + half_width).min(1.0),
    )
}

/// Median of the numbers, NaN if there are none.
pub(crate) fn median(numbers: impl Iterator<Item = f64>) -> f64 {
    let mut sorted: Vec<f64> = numbers.collect();
    sorted.sort_by(f64::total_cmp);
    let middle = sorted.len() / 2;
    match (sorted.get(middle), sorted.len() % 2) {
        (Some(upper), 1) => *upper,
        (Some(upper), _) => {
            let lower = sorted.get(middle - 1).copied().unwrap_or(*upper);
            f64::midpoint(lower, *upper)
        }
        (None, _) => f64::NAN,
    }
}

#[cfg(test)]
mod tests {
    use rand_distr::{Distribution, StandardNormal};

    use super::*;
    use crate::simulator::study;

    /// Runs of an unbiased (or shifted) estimator with a stated 95 % interval that is `stretch` times the right one.
    fn gaussian(runs: u64, shift: f64, stretch: f64) -> Vec<Run> {
        study(20, runs, |_, rng| {
            let deviate: f64 = StandardNormal.sample(rng);
            let value = 10.0 + 0.5 * (deviate + shift);
            let half_width = 0.5 * NORMAL_95 * stretch;
            Run {
                truth: 10.0,
                value,
                low: value - half_width,
                high: value + half_width,
            }
        })
    }

    #[test]
    fn honest_intervals_cover_as_stated() {
        let coverage = Coverage::of(&gaussian(20_000, 0.0, 1.0)).unwrap();
        // Standard error of the fraction 0.0015, of the median 0.05 * 1.25/sqrt(20 000) = 0.0004; five of them allowed.
        assert!((coverage.fraction - 0.95).abs() < 0.0077, "{coverage}");
        assert!(coverage.wilson_low < 0.95 && coverage.may_reach(0.95));
        assert!(coverage.median_bias.abs() < 0.0022);
        assert!((coverage.median_half_width - 0.05 * NORMAL_95).abs() < 1e-12);
        assert_eq!(
            coverage.covered + coverage.misses_above + coverage.misses_below,
            20_000
        );
    }

    #[test]
    fn overconfident_and_biased_intervals_are_found_out() {
        let narrow = Coverage::of(&gaussian(2_000, 0.0, 0.5)).unwrap();
        // P(|z| < 0.98) = 0.673, from the normal distribution.
        assert!((narrow.fraction - 0.673).abs() < 0.053, "{narrow}");
        assert!(!narrow.may_reach(0.95));
        let high = Coverage::of(&gaussian(2_000, 2.0, 1.0)).unwrap();
        assert!(high.misses_above > 900 && high.misses_below == 0, "{high}");
        assert!((high.median_bias - 0.1).abs() < 0.008);
        let low = Coverage::of(&gaussian(2_000, -2.0, 1.0)).unwrap();
        assert!(low.misses_below > 900 && low.misses_above == 0, "{low}");
    }

    /// From memory: Newcombe, Statistics in Medicine 17 (1998) 857, Table I, method 3 (score interval, 4 decimals).
    #[test]
    fn wilson_gives_the_values_of_its_comparison_paper() {
        for (hits, trials, low, high) in [
            (81, 263, 0.2553, 0.3662),
            (15, 148, 0.0624, 0.1605),
            (0, 20, 0.0000, 0.1611),
            (1, 29, 0.0061, 0.1718),
        ] {
            let (got_low, got_high) = wilson(hits, trials);
            assert!((got_low - low).abs() < 5.1e-5, "{hits}/{trials}: {got_low}");
            assert!(
                (got_high - high).abs() < 5.1e-5,
                "{hits}/{trials}: {got_high}"
            );
        }
        assert_eq!(wilson(0, 0), (0.0, 1.0));
    }

    #[test]
    fn open_and_broken_intervals_are_counted() {
        let run = |value, low, high| Run {
            truth: 2.0,
            value,
            low,
            high,
        };
        let coverage = Coverage::of(&[
            run(2.2, f64::NEG_INFINITY, f64::INFINITY),
            run(2.4, 2.0, 3.0),
            run(f64::NAN, 1.0, 3.0),
            run(2.6, 2.5, 2.7),
        ])
        .unwrap();
        assert_eq!((coverage.covered, coverage.misses_above), (2, 1));
        assert_eq!((coverage.misses_below, coverage.unusable), (0, 1));
        assert_eq!(coverage.fraction, 0.5);
        assert!((coverage.median_bias - 0.2).abs() < 1e-12);
        assert_eq!(coverage.median_half_width, 0.25);
        assert_eq!(Coverage::of(&[]), None);
    }

    #[test]
    fn rows_fit_their_head() {
        let coverage = Coverage::of(&gaussian(100, 0.0, 1.0)).unwrap();
        let fields = |line: &str| line.matches('|').count();
        let row = coverage.row("slow leak");
        assert!(row.starts_with("| slow leak | 100 | "), "{row}");
        for line in Coverage::HEAD.lines() {
            assert_eq!(fields(line), fields(&row), "{row}");
        }
    }
}
