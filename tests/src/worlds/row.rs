//! What was said of many runs of one family, as a row of the table.

use std::collections::BTreeMap;
use std::fmt;

use casetight::limit::Verdict;

use super::assessed::{Answer, Answered};
use super::family::Family;
use super::setup::{Direction, GaugeKind};
use crate::coverage::{Coverage, Run, wilson};

/// Share of the intervals that must hold the truth,
const COVERED: f64 = 0.90;
/// or else share of the runs that may get a wrong confident verdict.
const WRONG: f64 = 0.025;

/// Counts of one family, direction and gauge.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// The family.
    pub family: Family,
    /// Pressure or vacuum.
    pub direction: Direction,
    /// The gauge.
    pub gauge: GaugeKind,
    /// Runs.
    pub runs: usize,
    /// Runs whose sheet was refused.
    pub refused: usize,
    /// Coverage, bias and width of the others; none where all were refused.
    pub coverage: Option<Coverage>,
    /// Runs that "holds" was said of by the stricter limit.
    pub wrong_holds: usize,
    /// Runs that "leaks" was said of by the laxer limit.
    pub wrong_leaks: usize,
    /// Runs of either kind whose wrong verdict came without a warning.
    pub wrong_unwarned: usize,
    /// Runs undecided by the stricter limit, and by the laxer.
    pub undecided: (usize, usize),
    /// Runs warned of by either limit.
    pub warned: usize,
    /// Runs whose solver did not say that it reached an optimum.
    pub not_converged: usize,
    /// Runs of each warning.
    pub warnings: BTreeMap<&'static str, usize>,
}

impl Row {
    /// Head of the table.
    pub const HEAD: &'static str = "| family | test | gauge | runs | refused | covered | 95 % of covered | median bias | median half-width | warned | wrong holds | wrong leaks | wrong | wrong and not warned | undecided at 0.8 | undecided at 1.25 | not converged | warnings | bar |\n\
         |---|---|---|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|---|---|";

    /// Counts the answers beside the true areas \[m2\], from and to.
    #[must_use]
    pub fn of(
        family: Family,
        direction: Direction,
        gauge: GaugeKind,
        answers: &[((f64, f64), Answer)],
    ) -> Self {
        let answered: Vec<((f64, f64), &Answered)> = answers
            .iter()
            .filter_map(|(area, answer)| match answer {
                Answer::Answered(answered) => Some((*area, answered)),
                Answer::Refused(_) => None,
            })
            .collect();
        let runs: Vec<Run> = answered
            .iter()
            .map(|(area, said)| beside(*area, said))
            .collect();
        let mut row = Self {
            family,
            direction,
            gauge,
            runs: answers.len(),
            refused: answers.len() - answered.len(),
            coverage: Coverage::of(&runs),
            wrong_holds: 0,
            wrong_leaks: 0,
            wrong_unwarned: 0,
            undecided: (0, 0),
            warned: 0,
            not_converged: 0,
            warnings: BTreeMap::new(),
        };
        for (_, said) in answered {
            row.count(said);
        }
        row
    }

    fn count(&mut self, said: &Answered) {
        let (strict, lax) = (&said.strict, &said.lax);
        let holds = strict.verdict == Some(Verdict::Holds);
        let leaks = lax.verdict == Some(Verdict::Leaks);
        self.wrong_holds += usize::from(holds);
        self.wrong_leaks += usize::from(leaks);
        let unwarned = holds && strict.warnings.is_empty() || leaks && lax.warnings.is_empty();
        self.wrong_unwarned += usize::from(unwarned);
        self.undecided.0 += usize::from(strict.verdict == Some(Verdict::Undecided));
        self.undecided.1 += usize::from(lax.verdict == Some(Verdict::Undecided));
        let mut warnings = strict.warnings.clone();
        warnings.extend(&lax.warnings);
        warnings.sort_unstable();
        warnings.dedup();
        self.not_converged += usize::from(!(strict.converged && lax.converged));
        self.warned += usize::from(!warnings.is_empty());
        for warning in warnings {
            *self.warnings.entry(warning).or_default() += 1;
        }
    }

    /// Share of the runs with a wrong confident verdict. No run has both, for none lies below four fifths and above five fourths.
    #[must_use]
    pub fn wrong(&self) -> f64 {
        (self.wrong_holds + self.wrong_leaks) as f64 / self.runs as f64
    }

    /// Whether the row stands where it should: nine of ten intervals hold the truth, or few verdicts are wrong.
    #[must_use]
    pub fn meets_the_bar(&self) -> bool {
        let covered = self
            .coverage
            .is_some_and(|coverage| coverage.fraction >= COVERED);
        covered || self.wrong() <= WRONG
    }
}

/// An answer beside the true area nearest to it.
fn beside((least, most): (f64, f64), said: &Answered) -> Run {
    Run {
        truth: said.value.clamp(least, most),
        value: said.value,
        low: said.low,
        high: said.high,
    }
}

impl fmt::Display for Row {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let share = |n: usize| n as f64 / self.runs as f64;
        let (covered, ends, bias, width) =
            self.coverage
                .map_or((f64::NAN, wilson(0, 0), f64::NAN, f64::NAN), |c| {
                    (
                        c.fraction,
                        (c.wilson_low, c.wilson_high),
                        c.median_bias,
                        c.median_half_width,
                    )
                });
        let warnings: Vec<String> = self
            .warnings
            .iter()
            .map(|(name, n)| format!("{name} {n}"))
            .collect();
        write!(
            f,
            "| {} | {} | {} | {} | {} | {covered:.3} | {:.3} to {:.3} | {:+.1} % | {:.1} % | {:.3} | {:.3} | {:.3} | {:.3} | {:.3} | {:.3} | {:.3} | {} | {} | {} |",
            self.family.name(),
            self.direction.name(),
            self.gauge.name(),
            self.runs,
            self.refused,
            ends.0,
            ends.1,
            100.0 * bias,
            100.0 * width,
            share(self.warned),
            share(self.wrong_holds),
            share(self.wrong_leaks),
            self.wrong(),
            share(self.wrong_unwarned),
            share(self.undecided.0),
            share(self.undecided.1),
            self.not_converged,
            warnings.join(", "),
            if self.meets_the_bar() { "ok" } else { "MISSED" }
        )
    }
}
