//! Areas and their intervals, from the likelihood.

use nalgebra::{DMatrix, DVector};
use uom::si::area::square_meter;

use super::error::IsolateError;
use super::evidence::{Equation, Equations, Evidence, Place, Relation, Spot, Stage, scale};
use super::nnls;
use super::site_name::SiteName;
use casetight::below::numerics::probability;
use casetight::estimate::Estimate;
use casetight::quantity::Area;

/// An interval's ends are found to this part of the interval.
const END_TOLERANCE: f64 = 1e-6;

/// Runs that depart from each other as much as they do, or more, less often than this by chance, do not fit together.
const MISFIT: f64 = 0.01;

/// Singular values below this part of the largest are zero.
const RANK_TOLERANCE: f64 = 1e-9;

/// What one place, or several that no evidence tells apart, leak together.
#[derive(Debug, Clone, PartialEq)]
pub struct Share<S> {
    /// The places; more than one where every run had either all of them exposed or none.
    pub spots: Vec<Spot<S>>,
    /// Their sum.
    pub area: Estimate<Area>,
    /// Whether the runs alone fix the sum. Where they do not, the interval rests on the fact that no area is below zero
    /// (and on bounds), and the value is one of many that fit as well.
    pub told_apart: bool,
    /// Whether bubbles were seen at one of the places as it is now.
    pub bubbled: bool,
}

impl<S> Share<S> {
    /// Whether only bubbles say that it leaks: no run told it apart, so that between the least that a patient eye could see and
    /// all that a run leaked, decades apart, its value says nothing.
    #[must_use]
    pub fn only_bubbles(&self) -> bool {
        self.bubbled && !self.told_apart
    }
}

/// The areas of all places.
#[derive(Debug, Clone, PartialEq)]
pub struct Isolation<S> {
    /// One entry for each place or combination of places.
    pub shares: Vec<Share<S>>,
    /// Sum of the squared departures from the best areas.
    pub chi_squared: f64,
    /// Runs and soap evidence less the areas that were fitted above zero.
    pub degrees_of_freedom: usize,
    /// Probability of departures as large by chance; below 0.01 something changed between the runs: a blank that leaks, a
    /// hose that was disturbed, a repair that was not noted. One without degrees of freedom.
    pub probability_of_misfit: f64,
}

impl<S> Isolation<S> {
    /// Whether the runs do not fit together: nothing holds by them.
    #[must_use]
    pub fn contradicts_itself(&self) -> bool {
        self.probability_of_misfit < MISFIT
    }
}

impl<S: SiteName> Isolation<S> {
    /// The share that a site has now, alone or with others; none where it was never exposed.
    #[must_use]
    pub fn share(&self, site: &S) -> Option<&Share<S>> {
        self.share_of(&Place::Site(site.clone()))
    }

    /// The rig's share.
    #[must_use]
    pub fn rig(&self) -> Option<&Share<S>> {
        self.share_of(&Place::Rig)
    }

    /// The share that a place has now.
    #[must_use]
    pub fn share_of(&self, place: &Place<S>) -> Option<&Share<S>> {
        self.shares.iter().find(|share| {
            share
                .spots
                .iter()
                .any(|spot| spot.place == *place && spot.stage == Stage::Now)
        })
    }

    /// The site's own interval \[m2\]: that of its share where it stands alone, from zero to the upper end of the sum where
    /// it was never told apart from others.
    #[must_use]
    pub fn bounds(&self, site: &S) -> Option<(f64, f64)> {
        self.share(site).map(|share| match share.spots.as_slice() {
            [_] => (share.area.si().low, share.area.si().high),
            _ => (0.0, share.area.si().high),
        })
    }
}

/// The area of every site and of the rig, with intervals at this level (0.95 is usual).
///
/// Best areas: least squares with no area below zero. An interval holds the areas a of a share for which
///
/// `min chi2(a, others >= 0) - min chi2(all >= 0) <= c(a/sigma)`,
///
/// where sigma is the share's standard uncertainty beside the other areas in use, and c is what makes the ordering by
/// likelihood ratio cover a normal mean that can't be below zero as often as stated, at every true mean: from 2.71 at
/// zero to 3.84 (95 %) well above it. So an upper bound turns into a two-sided interval by itself, and a tight site is
/// called leaking in one of twenty tests, not more. After Feldman and Cousins `[FeldmanCousins1998]` (from
/// memory). The other areas bend a profile near zero: noise that they take up makes the tested one small. The upper end
/// is therefore the larger of two: one with all other places free, and one with only those that show a leak of their own,
/// where the rest may all be tight.
/// Bounds (stalled runs, soap) count by the square of their excess; an interval that nothing bounds from above is open. The uncertainty that all runs share is put on last
/// ([`Estimate::widened`]).
///
/// Measured over simulated engines: the test suite's study `isolation`.
///
/// # Errors
/// [`IsolateError`] names what is wrong with the evidence.
pub fn isolate<S: SiteName>(
    evidence: &Evidence<S>,
    level: f64,
) -> Result<Isolation<S>, IsolateError> {
    if !(0.5..=0.9999).contains(&level) {
        return Err(IsolateError::Level { got: level });
    }
    let equations = Equations::new(evidence)?;
    let scale = scale(&equations.rows);
    let groups = groups(&equations.rows, equations.spots.len());
    let problem = Problem::new(&equations.rows, &groups, scale, level);
    let all: Vec<usize> = (0..groups.len()).collect();
    let best = problem.with(&all);
    let first: Vec<Estimate<f64>> = all.iter().map(|&g| problem.interval(&all, g)).collect();
    let leaks = |g: usize| first.get(g).is_some_and(|i| i.low > 0.0);
    let shares = groups
        .iter()
        .zip(&first)
        .enumerate()
        .map(|(g, (group, &free))| {
            let leaking: Vec<usize> = all
                .iter()
                .copied()
                .filter(|&o| o == g || leaks(o))
                .collect();
            let dropped = all.len() - leaking.len();
            let extra = problem.with(&leaking).sum_of_squares - best.sum_of_squares;
            let may_be_tight = dropped > 0 && chance_of(extra.max(0.0), dropped) >= 1.0 - level;
            let high = if may_be_tight {
                free.high.max(problem.interval(&leaking, g).high)
            } else {
                free.high
            };
            let spots: Vec<Spot<S>> = group
                .iter()
                .filter_map(|&s| equations.spots.get(s).cloned())
                .collect();
            Share {
                bubbled: evidence.bubbling().any(|spot| spots.contains(&spot)),
                spots,
                area: Estimate::of_size(free.value, free.low, high, level)
                    .scaled(scale)
                    .widened(evidence.shared_relative_uncertainty)
                    .map(Area::new::<square_meter>),
                told_apart: told_apart(&equations.rows, &groups, g),
            }
        })
        .collect();
    let used = best.x.iter().filter(|&&x| x > 0.0).count();
    let degrees_of_freedom = equations.rows.len().saturating_sub(used);
    Ok(Isolation {
        shares,
        chi_squared: best.sum_of_squares,
        degrees_of_freedom,
        probability_of_misfit: chance_of(best.sum_of_squares, degrees_of_freedom),
    })
}

/// Probability of so large a sum of squares, or a larger one, by chance.
fn chance_of(sum_of_squares: f64, degrees_of_freedom: usize) -> f64 {
    if degrees_of_freedom == 0 {
        1.0
    } else {
        probability::chi_squared_sf(sum_of_squares, degrees_of_freedom as f64)
    }
}

/// Spots that every row has or lacks together, in order.
pub(super) fn groups(rows: &[Equation], spots: usize) -> Vec<Vec<usize>> {
    let column = |s: usize| -> Vec<bool> {
        rows.iter()
            .map(|row| row.has.get(s).copied().unwrap_or(false))
            .collect()
    };
    let mut found: Vec<(Vec<bool>, Vec<usize>)> = Vec::new();
    for s in 0..spots {
        let column = column(s);
        match found.iter_mut().find(|(other, _)| *other == column) {
            Some((_, group)) => group.push(s),
            None => found.push((column, vec![s])),
        }
    }
    found.into_iter().map(|(_, group)| group).collect()
}

/// 1 where a row has a group, else 0.
fn entry(row: &Equation, group: &[usize]) -> f64 {
    let has = group.first().and_then(|&s| row.has.get(s));
    if has == Some(&true) { 1.0 } else { 0.0 }
}

/// Whether the measured sums alone fix a group's: it is a combination of them.
fn told_apart(rows: &[Equation], groups: &[Vec<usize>], group: usize) -> bool {
    let measured = rows.iter().filter(|r| r.relation == Relation::Equals);
    let mut sums: Vec<Vec<f64>> = measured
        .map(|row| groups.iter().map(|g| entry(row, g)).collect())
        .collect();
    let rank = |sums: &[Vec<f64>]| {
        let matrix =
            DMatrix::from_row_iterator(sums.len(), groups.len(), sums.iter().flatten().copied());
        let values = matrix.singular_values();
        let least = RANK_TOLERANCE * values.max();
        values.iter().filter(|&&v| v > least).count()
    };
    if sums.is_empty() {
        return false;
    }
    let before = rank(&sums);
    sums.push(
        (0..groups.len())
            .map(|g| f64::from(u8::from(g == group)))
            .collect(),
    );
    rank(&sums) == before
}

/// The weighted least squares problem, areas in units of the scale. A bound is an equation with a slack that can't be
/// negative, so one solver does for all.
struct Problem {
    /// Columns of the groups, then of the slacks.
    matrix: DMatrix<f64>,
    target: DVector<f64>,
    groups: usize,
    /// Whether anything keeps a group's area from above.
    bounded: Vec<bool>,
    level: f64,
}

impl Problem {
    fn new(rows: &[Equation], groups: &[Vec<usize>], scale: f64, level: f64) -> Self {
        let mut columns: Vec<DVector<f64>> = groups
            .iter()
            .map(|group| column(rows, |row| entry(row, group) * scale / row.uncertainty))
            .collect();
        for (at, row) in rows.iter().enumerate() {
            let sign = match row.relation {
                Relation::Equals => continue,
                Relation::AtLeast => -1.0,
                Relation::AtMost => 1.0,
            };
            let mut slack = DVector::zeros(rows.len());
            if let Some(entry) = slack.get_mut(at) {
                *entry = sign * scale / row.uncertainty;
            }
            columns.push(slack);
        }
        let bounded = groups
            .iter()
            .map(|group| {
                rows.iter()
                    .any(|row| row.relation != Relation::AtLeast && entry(row, group) > 0.0)
            })
            .collect();
        Self {
            matrix: DMatrix::from_columns(&columns),
            target: column(rows, |row| row.value / row.uncertainty),
            groups: groups.len(),
            bounded,
            level,
        }
    }

    /// Columns of some groups and of all slacks.
    fn columns(&self, groups: &[usize], without: Option<usize>) -> DMatrix<f64> {
        let chosen: Vec<usize> = groups
            .iter()
            .copied()
            .filter(|&g| Some(g) != without)
            .chain(self.groups..self.matrix.ncols())
            .collect();
        self.matrix.select_columns(&chosen)
    }

    /// The best areas where only some groups may leak.
    fn with(&self, groups: &[usize]) -> nnls::Minimum {
        nnls::minimize(&self.columns(groups, None), &self.target)
    }

    /// Interval of one group's area where only some groups may leak.
    fn interval(&self, groups: &[usize], group: usize) -> Estimate<f64> {
        let best = self.with(groups);
        let at = groups.iter().position(|&g| g == group);
        let value = at.and_then(|at| best.x.get(at)).copied().unwrap_or(0.0);
        let others = self.columns(groups, Some(group));
        let own: DVector<f64> = self.matrix.column(group).into_owned();
        // Below zero inside the interval.
        let excess = |a: f64| {
            let fixed = nnls::minimize(&others, &(&self.target - &own * a));
            let ratio = (fixed.sum_of_squares - best.sum_of_squares).max(0.0);
            let distance =
                nnls::beside(&own, &others, &fixed.x).map_or(f64::INFINITY, |left| a * left);
            ratio.sqrt() - critical_distance(distance, self.level)
        };
        let low = if value <= 0.0 || excess(0.0) <= 0.0 {
            0.0
        } else {
            root(excess, 0.0, value)
        };
        let high = if self.bounded.get(group) == Some(&true) {
            let mut outside = value.max(1e-3);
            while excess(outside) <= 0.0 {
                outside *= 2.0;
            }
            root(excess, outside, value)
        } else {
            f64::INFINITY
        };
        Estimate::of_size(value, low, high, self.level)
    }
}

fn column(rows: &[Equation], of: impl Fn(&Equation) -> f64) -> DVector<f64> {
    DVector::from_iterator(rows.len(), rows.iter().map(of))
}

/// Square root of the critical likelihood ratio for a true mean mu >= 0 of standard uncertainty 1.
///
/// A reading x is accepted where (x - mu)^2 - min(x, 0)^2 <= d^2. With mu >= d both ends lie above zero, and d is the
/// two-sided quantile; with mu < d the lower end is (mu^2 - d^2)/(2 mu), below zero, and d follows from
/// Phi(d) - Phi(-(mu^2 + d^2)/(2 mu)) = level.
fn critical_distance(mu: f64, level: f64) -> f64 {
    let two_sided = probability::normal_quantile(0.5 + level / 2.0);
    if mu >= two_sided {
        return two_sided;
    }
    let accepted = |d: f64| {
        let beyond = if mu > 0.0 {
            probability::normal_cdf(-(mu * mu + d * d) / (2.0 * mu))
        } else {
            0.0
        };
        probability::normal_cdf(d) - beyond
    };
    let (mut low, mut high) = (probability::normal_quantile(level), two_sided);
    // Thirty halvings of a range of less than one.
    for _ in 0..30 {
        let middle = f64::midpoint(low, high);
        if accepted(middle) < level {
            low = middle;
        } else {
            high = middle;
        }
    }
    f64::midpoint(low, high)
}

/// Root between a point outside the interval and one inside, by the Illinois variant of false position.
fn root(excess: impl Fn(f64) -> f64, outside: f64, inside: f64) -> f64 {
    let (mut a, mut f_a) = (outside, excess(outside));
    let (mut b, mut f_b) = (inside, excess(inside));
    let close = END_TOLERANCE * (outside - inside).abs();
    for _ in 0..60 {
        if (a - b).abs() <= close {
            break;
        }
        let c = (a * f_b - b * f_a) / (f_b - f_a);
        let f_c = excess(c);
        if f_c == 0.0 {
            return c;
        }
        if f_c.is_sign_positive() == f_b.is_sign_positive() {
            f_a *= 0.5;
        } else {
            (a, f_a) = (b, f_b);
        }
        (b, f_b) = (c, f_c);
        if f_c.abs() < END_TOLERANCE {
            break;
        }
    }
    b
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn critical_distance_from_one_sided_to_two_sided() {
        // Self-consistency: the normal distribution's 95 % quantiles, one-sided and two-sided.
        assert!((critical_distance(0.0, 0.95) - 1.644_853_6).abs() < 1e-6);
        assert!((critical_distance(5.0, 0.95) - 1.959_964).abs() < 1e-6);
        let steps: Vec<f64> = (0..30)
            .map(|i| critical_distance(0.1 * f64::from(i), 0.95))
            .collect();
        assert!(steps.is_sorted(), "{steps:?}");
    }

    /// The interval of a normal mean that can't be below zero, unit standard uncertainty.
    ///
    /// Independent script: acceptance regions ordered by likelihood ratio on a grid of 0.001 in the reading and 0.002 in
    /// the mean. The 90 % upper ends 1.64 and 4.64 are also those of Feldman and Cousins, Physical Review D 57 (1998)
    /// 3873, Table X (from memory).
    #[test]
    fn one_run_gives_the_unified_interval() {
        for (level, x, low, high) in [
            (0.90, -1.0, 0.0, 0.812),
            (0.90, 0.0, 0.0, 1.644),
            (0.90, 1.3, 0.020, 2.944),
            (0.90, 2.0, 0.584, 3.644),
            (0.90, 3.0, 1.370, 4.644),
            (0.95, -1.0, 0.0, 1.102),
            (0.95, 0.0, 0.0, 1.958),
            (0.95, 2.0, 0.356, 3.958),
            (0.95, 3.0, 1.142, 4.958),
        ] {
            let row = Equation {
                has: vec![true],
                relation: Relation::Equals,
                value: x,
                uncertainty: 1.0,
            };
            let got = Problem::new(&[row], &[vec![0]], 1.0, level).interval(&[0], 0);
            assert!(
                (got.low - low).abs() < 0.003 && (got.high - high).abs() < 0.003,
                "{x}: {got:?}"
            );
        }
    }

    #[test]
    fn rank_tells_what_the_runs_fix() {
        let row = |has: [bool; 3]| Equation {
            has: has.to_vec(),
            relation: Relation::Equals,
            value: 1.0,
            uncertainty: 0.1,
        };
        // a + b, b + c, c: all follow. a + b, b + c alone: none does.
        let rows = [
            row([true, true, false]),
            row([false, true, true]),
            row([false, false, true]),
        ];
        let groups = groups(&rows, 3);
        assert!((0..3).all(|g| told_apart(&rows, &groups, g)));
        assert!((0..3).all(|g| !told_apart(&rows[..2], &groups, g)));
    }
}
