//! Engines that the evidence allows, drawn with their probability: what the next step is weighed on.

use std::collections::BTreeMap;

use nalgebra::{Cholesky, DMatrix, DVector};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha12Rng;
use rand_distr::{Distribution, StandardNormal};

use super::areas::Isolation;
use super::error::IsolateError;
use super::evidence::{Equation, Equations, Evidence, Place, Relation, Spot, Stage, scale};
use super::site_name::SiteName;

/// Probability that a place leaks at all before anything is known: one or two of a handful do on the engines that are
/// tested. Source: common practice.
const LEAKS_BEFORE: f64 = 0.2;

/// Engines with more leaks than this are weighed only as far as the runs show that many.
const LEAKS_AT_ONCE: usize = 3;

/// Engines tried for each set of leaking places.
const TRIES: usize = 64;

/// Engines that are drawn in the end, each with the same probability.
pub(super) const WORLDS: usize = 512;

/// Sets of leaking places of less weight than this beside all others are left out.
const NEGLIGIBLE: f64 = 1e-5;

/// Fixed, so that the same evidence gives the same answer.
const SEED: u64 = 0x6361_7365;

/// Engines that the evidence allows, all with the same probability.
#[derive(Debug, Clone)]
pub(super) struct Worlds<S> {
    pub(super) spots: Vec<Spot<S>>,
    /// One area for each spot \[m2\], for each engine.
    pub(super) engines: Vec<Vec<f64>>,
    /// Relative standard uncertainty of another run, and its least standard uncertainty \[m2\].
    pub(super) of_a_run: (f64, f64),
    pub(super) rng: ChaCha12Rng,
}

/// How probable each place is to be the worst of those that leak now.
#[derive(Debug, Clone, PartialEq)]
pub struct Suspects<S> {
    /// Places with their probability to have the largest area, the most probable first; none with a probability of zero.
    pub worst: Vec<(Place<S>, f64)>,
    /// Probability that nothing leaks.
    pub tight: f64,
}

impl<S: SiteName> Suspects<S> {
    /// The most probable worst place.
    #[must_use]
    pub fn first(&self) -> Option<(&Place<S>, f64)> {
        self.worst.first().map(|(place, p)| (place, *p))
    }
}

/// The probability of each place to be the worst.
///
/// Before anything is known, each place leaks with a probability of 0.2 by itself (common practice, no source), with an
/// area whose density falls like half a normal one as wide as the largest area measured. Of the sets of leaking places
/// each is weighed by its evidence: the integral over its areas, by the normal distribution that the runs give and the
/// part of it (64 draws) where no area is below zero and the bounds are kept. A fixed seed: the same evidence, the same
/// answer. The intervals of [`super::isolate`] do not rest on any of this.
///
/// # Errors
/// As [`super::isolate`].
pub fn suspects<S: SiteName>(
    evidence: &Evidence<S>,
    found: &Isolation<S>,
) -> Result<Suspects<S>, IsolateError> {
    Ok(Worlds::new(evidence, found)?.suspects())
}

impl<S: SiteName> Worlds<S> {
    pub(super) fn new(evidence: &Evidence<S>, found: &Isolation<S>) -> Result<Self, IsolateError> {
        let Equations { spots, rows } = Equations::new(evidence)?;
        let scale = scale(&rows);
        let shown = shown_to_leak(&spots, found);
        let mut rng = ChaCha12Rng::seed_from_u64(SEED);
        let mut sets: Vec<LeakingSet> = leaking_sets(spots.len(), &shown)
            .into_iter()
            .filter_map(|members| LeakingSet::new(members, &rows, spots.len(), scale))
            .collect();
        sets.sort_by(|one, other| other.ln_bound.total_cmp(&one.ln_bound));
        let reference = sets.first().map_or(0.0, |set| set.ln_bound);
        let mut tried: Vec<(Vec<f64>, f64)> = Vec::new();
        let mut total = 0.0;
        for set in &sets {
            let bound = (set.ln_bound - reference).exp();
            if bound < NEGLIGIBLE * total {
                break;
            }
            for _ in 0..TRIES {
                let Some(engine) = set.draw(spots.len(), scale, &mut rng) else {
                    continue;
                };
                let weight = bound / TRIES as f64 * bounds_kept(&rows, &engine);
                total += weight;
                tried.push((engine, weight));
            }
        }
        Ok(Self {
            engines: resample(&tried, total, &mut rng),
            of_a_run: of_a_run(&rows),
            spots,
            rng,
        })
    }

    /// The place with the largest area now; none where nothing leaks.
    pub(super) fn worst_of(&self, engine: &[f64]) -> Option<usize> {
        self.spots
            .iter()
            .zip(engine)
            .enumerate()
            .filter(|(_, (spot, area))| spot.stage == Stage::Now && **area > 0.0)
            .max_by(|one, other| one.1.1.total_cmp(other.1.1))
            .map(|(at, _)| at)
    }

    pub(super) fn suspects(&self) -> Suspects<S> {
        let mut counts: BTreeMap<Option<usize>, usize> = BTreeMap::new();
        for engine in &self.engines {
            *counts.entry(self.worst_of(engine)).or_default() += 1;
        }
        let share = |count: usize| count as f64 / self.engines.len().max(1) as f64;
        let mut worst: Vec<(Place<S>, f64)> = counts
            .iter()
            .filter_map(|(at, &count)| {
                let spot = self.spots.get((*at)?)?;
                Some((spot.place.clone(), share(count)))
            })
            .collect();
        worst.sort_by(|one, other| other.1.total_cmp(&one.1));
        Suspects {
            worst,
            tight: share(counts.get(&None).copied().unwrap_or(0)),
        }
    }
}

/// Sets of spots, as bits, of which each has a member that leaks: the shares whose interval lies above zero.
fn shown_to_leak<S: SiteName>(spots: &[Spot<S>], found: &Isolation<S>) -> Vec<u32> {
    found
        .shares
        .iter()
        .filter(|share| share.area.si().low > 0.0)
        .map(|share| {
            spots
                .iter()
                .enumerate()
                .filter(|(_, spot)| share.spots.contains(spot))
                .fold(0, |bits, (at, _)| bits | 1 << at)
        })
        .collect()
}

/// The sets of leaking places to be weighed: each has a member of every share that is shown to leak.
fn leaking_sets(spots: usize, shown: &[u32]) -> Vec<Vec<usize>> {
    let most = LEAKS_AT_ONCE.max(shown.len() + 1);
    (0_u32..1 << spots)
        .filter(|set| set.count_ones() as usize <= most)
        .filter(|set| shown.iter().all(|share| set & share != 0))
        .map(|set| (0..spots).filter(|at| set >> at & 1 == 1).collect())
        .collect()
}

/// A set of places taken to leak, with the normal distribution of their areas in units of the scale.
struct LeakingSet {
    members: Vec<usize>,
    mean: DVector<f64>,
    /// L of the inverse covariance L L'.
    root: DMatrix<f64>,
    /// Logarithm of the set's probability if no area were kept from going below zero, up to a constant.
    ln_bound: f64,
}

impl LeakingSet {
    fn new(members: Vec<usize>, rows: &[Equation], spots: usize, scale: f64) -> Option<Self> {
        let measured: Vec<&Equation> = rows
            .iter()
            .filter(|row| row.relation == Relation::Equals)
            .collect();
        let entry = |row: &Equation, at: usize| {
            if row.has.get(at) == Some(&true) {
                scale / row.uncertainty
            } else {
                0.0
            }
        };
        let matrix = DMatrix::from_row_iterator(
            measured.len(),
            members.len(),
            measured
                .iter()
                .flat_map(|row| members.iter().map(|&at| entry(row, at))),
        );
        let target = DVector::from_iterator(
            measured.len(),
            measured.iter().map(|row| row.value / row.uncertainty),
        );
        let leaking = members.len() as f64;
        let ln_before =
            leaking * LEAKS_BEFORE.ln() + (spots as f64 - leaking) * (1.0 - LEAKS_BEFORE).ln();
        if members.is_empty() {
            return Some(Self {
                members,
                mean: DVector::zeros(0),
                root: DMatrix::zeros(0, 0),
                ln_bound: ln_before - 0.5 * target.norm_squared(),
            });
        }
        // The half normal of the areas before the runs adds one to each diagonal entry, and keeps the matrix regular.
        let precision = matrix.tr_mul(&matrix) + DMatrix::identity(members.len(), members.len());
        let cholesky = Cholesky::new(precision)?;
        let mean = cholesky.solve(&matrix.tr_mul(&target));
        let misfit = (&target - &matrix * &mean).norm_squared() + mean.norm_squared();
        let root = cholesky.unpack();
        let ln_root = root.diagonal().iter().map(|d| d.ln()).sum::<f64>();
        Some(Self {
            ln_bound: ln_before + leaking * std::f64::consts::LN_2 - ln_root - 0.5 * misfit,
            members,
            mean,
            root,
        })
    }

    /// An engine of this set; none where an area would be below zero.
    fn draw(&self, spots: usize, scale: f64, rng: &mut ChaCha12Rng) -> Option<Vec<f64>> {
        let normal = DVector::from_fn(self.members.len(), |_, _| StandardNormal.sample(rng));
        let areas = &self.mean + self.root.tr_solve_lower_triangular(&normal)?;
        if areas.iter().any(|&a| a < 0.0) {
            return None;
        }
        let mut engine = vec![0.0; spots];
        for (&at, &a) in self.members.iter().zip(areas.iter()) {
            *engine.get_mut(at)? = a * scale;
        }
        Some(engine)
    }
}

/// How well an engine keeps the bounds, 1 where it keeps them all.
fn bounds_kept(rows: &[Equation], engine: &[f64]) -> f64 {
    let excess: f64 = rows
        .iter()
        .filter(|row| row.relation != Relation::Equals)
        .map(|row| row.departure(sum(&row.has, engine)).powi(2))
        .sum();
    (-0.5 * excess).exp()
}

/// Sum of the areas that are exposed.
pub(super) fn sum(exposed: &[bool], engine: &[f64]) -> f64 {
    exposed
        .iter()
        .zip(engine)
        .filter(|(exposed, _)| **exposed)
        .map(|(_, area)| area)
        .sum()
}

/// Engines of equal weight, by one comb through the weights, in random order.
fn resample(tried: &[(Vec<f64>, f64)], total: f64, rng: &mut ChaCha12Rng) -> Vec<Vec<f64>> {
    let step = total / WORLDS as f64;
    if step.is_nan() || step <= 0.0 {
        return Vec::new();
    }
    let mut tooth = step * rng.random::<f64>();
    let mut passed = 0.0;
    let mut engines = Vec::with_capacity(WORLDS);
    for (engine, weight) in tried {
        passed += weight;
        while tooth < passed && engines.len() < WORLDS {
            engines.push(engine.clone());
            tooth += step;
        }
    }
    for last in (1..engines.len()).rev() {
        engines.swap(last, rng.random_range(0..=last));
    }
    engines
}

/// What another run would measure with: the middle relative standard uncertainty of those made, and the least standard
/// uncertainty \[m2\].
fn of_a_run(rows: &[Equation]) -> (f64, f64) {
    let measured = || rows.iter().filter(|row| row.relation == Relation::Equals);
    let mut relative: Vec<f64> = measured()
        .filter(|row| row.value > 3.0 * row.uncertainty)
        .map(|row| row.uncertainty / row.value)
        .collect();
    relative.sort_by(f64::total_cmp);
    let least = measured()
        .map(|row| row.uncertainty)
        .fold(f64::INFINITY, f64::min);
    (
        // A twentieth where no run tells.
        relative.get(relative.len() / 2).copied().unwrap_or(0.05),
        if least.is_finite() { least } else { 0.0 },
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sets_hold_a_member_of_every_share_that_leaks() {
        // Four places; one share of places 0 and 1, one of place 3.
        let sets = leaking_sets(4, &[0b0011, 0b1000]);
        assert_eq!(sets.len(), 5); // 0 3, 1 3, 0 1 3, 0 2 3, 1 2 3
        assert!(
            sets.iter()
                .all(|s| s.contains(&3) && (s.contains(&0) || s.contains(&1)))
        );
        // Nothing shown: the empty set, 4 of one, 6 of two, 4 of three.
        assert_eq!(leaking_sets(4, &[]).len(), 15);
    }

    /// One measured sum of two places. Independent: the two sets of one place have the evidence of a half normal at the
    /// sum; that of both integrates x from 0 to s of two half normals. All weights by hand in units of the scale s = 1,
    /// in the limit of an exact run: 2 p(1-p) 2 phi(1) against p^2 4 Int phi(x) phi(1-x) dx.
    #[test]
    fn weights_are_the_integrals() {
        let phi = |x: f64| (-0.5 * x * x).exp() / std::f64::consts::TAU.sqrt();
        let (p, n) = (LEAKS_BEFORE, 2000);
        let one = 2.0 * p * (1.0 - p) * 2.0 * phi(1.0);
        let both: f64 = (0..n)
            .map(|i| (f64::from(i) + 0.5) / f64::from(n))
            .map(|x| 4.0 * phi(x) * phi(1.0 - x) / f64::from(n))
            .sum::<f64>()
            * p
            * p;
        let row = Equation {
            has: vec![true, true],
            relation: Relation::Equals,
            value: 1.0,
            uncertainty: 0.001,
        };
        let mut rng = ChaCha12Rng::seed_from_u64(1);
        let mut weight = |members: Vec<usize>| {
            let set = LeakingSet::new(members, std::slice::from_ref(&row), 2, 1.0).unwrap();
            let kept = (0..4000)
                .filter(|_| set.draw(2, 1.0, &mut rng).is_some())
                .count();
            set.ln_bound.exp() * kept as f64 / 4000.0
        };
        let got = weight(vec![0, 1]) / (weight(vec![0]) + weight(vec![1]));
        // Standard error of the kept part 0.008 at a half, relative 0.016.
        assert!(
            (got / (both / one) - 1.0).abs() < 0.05,
            "{got} {}",
            both / one
        );
    }
}
