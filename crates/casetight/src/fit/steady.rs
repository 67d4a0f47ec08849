//! Does one steady leak explain these readings?
//!
//! Chi-squared asks how far readings lie off a curve, not how they lie: a leak that opens on the way bends the curve, and the fit
//! takes what it can of it for settling gas or for another law. So beside the likeliest law's fit, each thing that a bench is known
//! to do is held against the residuals as one more term of free size: a leak that changes at one of the readings, a temperature that
//! drifts by more than is allowed for, a gauge that does not return to zero. Of each a score test is made (`[Rao1948]`): the part of
//! its effect that the fitted terms can't take, c - Q Q^T c, against the residuals, by Student's t over the scatter that is left,
//! times the ways tried, as Bonferroni has it.
//!
//! Takes the optimum of the likeliest law; gives whether something explains the readings better, and by how much the rate then changes,
//! as the fit linearized there has it: of what is far off, chi-squared tells. What it is, `cause` finds out. Checked by
//! `tests/tests/steady.rs` on simulated benches.

use uom::si::pressure::pascal;

use super::least_squares::Solved;
use super::scatter::probability_of;
use crate::numerics::probability;
use crate::readings::Bench;

/// A thing that happens by chance in fewer runs than this has happened.
const SURE: f64 = 1e-3;
/// Readings after which a leak is asked to have changed, at most; of more they are spread over the run.
const MOMENTS: usize = 48;
/// Readings before a change, and after it, at least.
const EACH_SIDE: usize = 2;
/// Fewer readings don't tell a change from scatter.
pub(super) const TELLING: usize = 6;
/// The fastest drift of a temperature that a bench is thought to have \[K/s\] (common practice, no source: an engine that was run
/// cools by some kelvins a minute).
pub(super) const FASTEST_DRIFT: f64 = 10.0 / 60.0;
/// A gauge that is off by more than this part of the start is not one that does not return to zero.
pub(super) const ZERO_OFF: f64 = 0.2;
/// Readings are looked at when they lie off as far as one run in twenty does.
const LOOKED_AT: f64 = 0.05;
/// Or when they lie off on one side for long: beyond this mean square of the sum of residuals is one steady run in ten. Source of the
/// quantile: `[Kwiatkowski1992]` (table 1, beside a trend).
const ONE_SIDED: f64 = 0.119;
/// A term of which the fit takes all but so small a part has no size of its own.
const INSEPARABLE: f64 = 1e-8;
/// What explains less of chi-squared than this part of what the best explains is not what happened.
const ABOUT_AS_WELL: f64 = 0.8;
/// A rate may scatter so many standard uncertainties below zero.
const BELOW_ZERO: f64 = 2.0;

/// Something that a bench does.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Way {
    /// The leak changes so many seconds after the first reading.
    Change(f64),
    /// The wall's temperature drifts.
    Drift,
    /// The gauge does not return to zero.
    Zero,
}

/// What is beyond chance, and how much of chi-squared it explains.
struct Found {
    explains: f64,
    beyond: Beyond,
}

/// What the readings show beside a steady leak.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Beyond {
    /// By how much the rate would change, at most, with any of what explains them about as well as the best does \[1/s\].
    pub(super) of_rate: f64,
    /// Probability that a steady leak's readings look so by chance, whichever way.
    pub(super) probability: f64,
}

/// What the readings show beside the steady leak of a fit; none where that is not beyond chance.
pub(super) fn beyond(best: &Solved<'_>, bench: &Bench) -> Option<Beyond> {
    if best.data.points.len() < TELLING || !is_looked_at(best) {
        return None;
    }
    let beside = Beside::new(best, bench.ambient().kelvins())?;
    let ways = ways(&best.data.times);
    let step = bench.gauge.step().get::<pascal>();
    let found: Vec<Found> = ways
        .iter()
        .filter_map(|way| beside.beyond(*way, ways.len(), step))
        .collect();
    let most = found.iter().map(|found| found.explains).fold(0.0, f64::max);
    let about_as_well = found.iter().filter(|f| f.explains >= ABOUT_AS_WELL * most);
    let beyond = about_as_well.map(|found| found.beyond);
    beyond.reduce(|a, b| Beyond {
        of_rate: a.of_rate.max(b.of_rate),
        probability: a.probability.min(b.probability),
    })
}

/// Whether the readings lie off the curve far enough, or on one side of it for long enough, to be looked at.
fn is_looked_at(best: &Solved<'_>) -> bool {
    let n = best.data.points.len();
    let off: &[f64] = best.weighted.get(..n).unwrap_or_default();
    let squares: f64 = off.iter().map(|e| e * e).sum();
    let (mut sum, mut of_sums) = (0.0, 0.0);
    for e in off {
        sum += e;
        of_sums += sum * sum;
    }
    let n = n as f64;
    of_sums / (n * squares) > ONE_SIDED
        || probability_of(best.chi_squared, best.data.points.len() - 2) < LOOKED_AT
}

/// All ways that are tried.
fn ways(times: &[f64]) -> Vec<Way> {
    let mut ways: Vec<Way> = moments(times, MOMENTS).map(Way::Change).collect();
    ways.extend([Way::Drift, Way::Zero]);
    ways
}

/// So many of the readings' times, at most, after which a leak may have changed.
pub(super) fn moments(times: &[f64], most: usize) -> impl Iterator<Item = f64> {
    let between = times.get(EACH_SIDE - 1..times.len().saturating_sub(EACH_SIDE));
    let between = between.unwrap_or_default();
    let every = between.len().div_ceil(most).max(1);
    between.iter().step_by(every).copied()
}

/// The fit, as what a further term stands beside.
struct Beside<'s> {
    best: &'s Solved<'s>,
    /// Of the wall \[K\].
    kelvins: f64,
    /// Weighted slopes of each point by the rate.
    by_rate: Vec<f64>,
    /// Of each point by a drift of the wall \[1/s\].
    by_drift: Vec<f64>,
}

impl<'s> Beside<'s> {
    fn new(best: &'s Solved<'s>, kelvins: f64) -> Option<Self> {
        let data = best.data;
        let by_rate = best.rows().filter_map(|row| row.first().copied());
        let by_drift = (best.at_points()?.iter().zip(&data.points))
            .map(|(at, point)| best.shared.by_drift(at, point.time) * point.weight)
            .collect();
        Some(Self {
            best,
            kelvins,
            by_rate: by_rate.collect(),
            by_drift,
        })
    }

    /// The weighted effect of one unit on each residual, that of the terms' own rows with it.
    fn column(&self, way: Way) -> Vec<f64> {
        let points = &self.best.data.points;
        let mut column: Vec<f64> = match way {
            Way::Change(at) => (points.iter().zip(&self.by_rate))
                .map(|(point, by_rate)| {
                    let since = point.time - at;
                    if since > 0.0 {
                        by_rate * since / point.time
                    } else {
                        0.0
                    }
                })
                .collect(),
            Way::Drift => self.by_drift.clone(),
            Way::Zero => points.iter().map(|point| point.weight).collect(),
        };
        column.resize(self.best.weighted.len(), 0.0);
        column
    }

    /// What a way explains, where that is beyond chance and possible.
    fn beyond(&self, way: Way, ways: usize, step: f64) -> Option<Found> {
        let (best, column) = (self.best, self.column(way));
        let apart = self.best.linear.beside(&column)?;
        let square = |of: &[f64]| of.iter().map(|x| x * x).sum::<f64>();
        let product = |a: &[f64], b: &[f64]| -> f64 { a.iter().zip(b).map(|(a, b)| a * b).sum() };
        let own = square(&apart);
        if own.is_nan() || own <= INSEPARABLE * square(&column) {
            return None;
        }
        let along = product(&apart, &best.weighted);
        let explains = along * along / own;
        let freedom = best.data.points.len() as f64 - 3.0;
        let scatter = (best.chi_squared - explains).max(0.0) / freedom;
        let tail = 2.0 * probability::student_t_sf((explains / scatter).sqrt(), freedom);
        let probability = tail * ways as f64;
        let size = -along / own;
        let largest = best.weighted.iter().map(|e| e * e).fold(0.0, f64::max);
        let moved = (apart.iter().zip(&best.data.points))
            .map(|(part, point)| (part * size / point.weight).abs())
            .fold(0.0, f64::max);
        let rate = -size * product(&best.rate_row, &column);
        let uncertainty = (scatter.max(1.0) / own).sqrt();
        // Less than a step of the gauge is its rounding, and less than one reading's own error is that reading.
        let told = probability < SURE && moved > step && explains > largest;
        let of_rate = match way {
            Way::Change(_) => rate.abs().max((rate + size).abs()),
            Way::Drift | Way::Zero => rate.abs(),
        };
        (told && self.is_possible(way, (size, rate), uncertainty)).then_some(Found {
            explains,
            beyond: Beyond {
                of_rate,
                probability,
            },
        })
    }

    /// Whether a bench does that much: the size of it, and by how much the rate changes with it.
    fn is_possible(&self, way: Way, (size, rate): (f64, f64), uncertainty: f64) -> bool {
        let best = self.best;
        let not_below = |rate: f64| rate > -BELOW_ZERO * uncertainty.hypot(best.uncertainty());
        match way {
            Way::Change(_) => not_below(best.rate + rate) && not_below(best.rate + rate + size),
            Way::Drift => size.abs() * self.kelvins <= FASTEST_DRIFT,
            Way::Zero => size.abs() <= ZERO_OFF * best.start.abs(),
        }
    }
}
