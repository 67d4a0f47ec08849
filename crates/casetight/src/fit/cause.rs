//! What makes readings those of no one steady leak?
//!
//! Each thing that a bench is known to do is fitted beside the leak, by a few laws: a leak that changed, with its time and both areas; an
//! engine that warms or cools by more than is allowed for; a gauge that does not return to zero. What leaves the readings as close to
//! the curve as chance does, and far closer than anything else, is the cause.
//!
//! A leak that changes by a factor at a moment is the same leak on a clock that goes by so much faster from then on: exact while the
//! gas has its wall's temperature, and near where it follows it soon. The drift and the zero are the fit's own terms, known to less.
//! Takes readings that one steady leak does not explain, gives the cause; checked by `tests/tests/steady.rs` on simulated benches.

use super::effects;
use super::least_squares::{Circumstances, Data, Solved};
use super::problem::{Known, SharedValues};
use super::scatter::{ACCEPTABLE_PROBABILITY, probability_of};
use super::steady::{FASTEST_DRIFT, TELLING, ZERO_OFF, moments};
use super::terms::Cause;
use crate::estimate::Estimate;
use crate::numerics::probability;
use crate::readings::{Bench, Readings};
use crate::vessel::{DecayLaw, DecayModel};

/// A thing that leaves chi-squared larger by less than this, in units of the scatter, may be the cause as well: it is then 150 times
/// less likely.
const PLAINLY: f64 = 10.0;
/// More readings than twice this are averaged in blocks: each fit of a search costs by the reading.
const MOST_POINTS: usize = 100;
/// Factors that a leak is first asked to have changed by.
const FACTORS: [f64; 6] = [0.1, 0.3, 0.6, 1.6, 3.0, 8.0];
/// Moments that it is first asked to have changed at, at most.
const MOMENTS: usize = 8;
/// Rounds in which moment and factor are found more closely: each halves the distance to the next.
const ROUNDS: usize = 6;

/// A thing that a bench does, fitted.
struct Tried {
    cause: Cause,
    /// Effective areas that the leak then has in the run, the least and the largest \[m2\].
    areas: (f64, f64),
    /// Chi-squared that is left, and its degrees of freedom.
    left: f64,
    freedom: usize,
}

impl Tried {
    fn explains(&self) -> bool {
        probability_of(self.left, self.freedom) >= ACCEPTABLE_PROBABILITY
    }

    /// What another may leave and be the cause as well.
    fn plainly_below(&self) -> f64 {
        self.left + PLAINLY * (self.left / self.freedom as f64).max(1.0)
    }
}

/// What explains readings that a steady leak does not, with the least and the largest effective area \[m2\] that the leak then has in
/// the run; none where nothing does, or several things do.
pub(super) fn cause(
    readings: &Readings,
    bench: &Bench,
    likeliest: DecayLaw,
    (level, per_area): (f64, f64),
) -> Option<(Cause, (f64, f64))> {
    let mut data = Data::in_blocks(readings, bench, MOST_POINTS);
    if data.points.len() < TELLING {
        return None;
    }
    let first_pa = readings.gauges_pa().first().copied()?;
    let known = Known::of_run(bench, readings);
    let orifice = DecayModel::new(DecayLaw::Orifice, &bench.gas, readings.direction()).ok()?;
    // Readings that lie off a steady leak's curve are what is asked about, not outliers.
    let circumstances = Circumstances::new(known.clone());
    data.weigh(&orifice, &circumstances, (&bench.gauge, false))?;
    effects::tell(&mut data, &orifice, &circumstances, bench)?;
    let mut laws = vec![DecayLaw::Orifice, DecayLaw::Laminar];
    laws.extend((!laws.contains(&likeliest)).then_some(likeliest));
    let models = (laws.iter()).filter_map(|law| orifice.with_law(*law).ok());
    let models: Vec<DecayModel> = models.collect();
    let kelvins = bench.ambient().kelvins();
    let first_s = readings.times_s().first().copied()?;
    let each = [
        zero(&models, &data, known.clone(), (first_pa, per_area)),
        drift(&models, &data, known.clone(), (kelvins, per_area)),
        change(&models, &data, known).map(|found| found.told(first_s, (level, per_area))),
    ];
    let mut each: Vec<Tried> = each.into_iter().flatten().collect();
    each.sort_by(|a, b| a.left.total_cmp(&b.left));
    let (best, others) = each.split_first()?;
    let alone = others.iter().all(|other| other.left > best.plainly_below());
    (best.explains() && alone).then_some((best.cause, best.areas))
}

/// The model that leaves the least.
fn least<'d>(
    models: &[DecayModel],
    data: &'d Data,
    circumstances: &'d Circumstances,
) -> Option<Solved<'d>> {
    let solved = models
        .iter()
        .filter_map(|model| Solved::find(model, data, circumstances, None));
    solved.min_by(|a, b| a.chi_squared.total_cmp(&b.chi_squared))
}

/// What the fit's own terms explain where one of them is known to less: what `told` makes of the best, if it is something that a bench
/// does.
fn by_term(
    models: &[DecayModel],
    data: &Data,
    (known, per_area): (Known, f64),
    told: impl Fn(&SharedValues) -> Option<Cause>,
) -> Option<Tried> {
    let circumstances = Circumstances::new(known);
    let solved = least(models, data, &circumstances)?;
    let area = solved.rate / per_area;
    Some(Tried {
        cause: told(&solved.shared)?,
        areas: (area, area),
        left: solved.chi_squared,
        freedom: data.points.len() - 3,
    })
}

fn zero(
    models: &[DecayModel],
    data: &Data,
    mut known: Known,
    (first_pa, per_area): (f64, f64),
) -> Option<Tried> {
    let most = ZERO_OFF * first_pa.abs();
    known.offset_uncertainty = known.offset_uncertainty.max(most / 2.0);
    by_term(models, data, (known, per_area), |shared| {
        let off_pa = shared.offset;
        (off_pa.abs() <= most).then_some(Cause::Zero { off_pa })
    })
}

fn drift(
    models: &[DecayModel],
    data: &Data,
    mut known: Known,
    (kelvins, per_area): (f64, f64),
) -> Option<Tried> {
    let most = FASTEST_DRIFT / kelvins;
    known.drift_uncertainty = known.drift_uncertainty.max(most / 2.0);
    let before = known.drift;
    by_term(models, data, (known, per_area), |shared| {
        let drift = shared.heat?.wall_drift - before;
        (drift.abs() <= most).then_some(Cause::Drifts {
            kelvins_per_minute: 60.0 * kelvins * drift,
        })
    })
}

/// A leak that changed.
struct Change {
    /// Seconds since the first reading.
    at: f64,
    /// Rate after over rate before.
    factor: f64,
    /// Rate before \[1/s\] and its standard uncertainty.
    rate: (f64, f64),
    /// Relative standard uncertainty of the factor.
    of_factor: f64,
    left: f64,
    freedom: usize,
}

impl Change {
    fn told(&self, first_s: f64, (level, per_area): (f64, f64)) -> Tried {
        let z = probability::normal_quantile(0.5 + level / 2.0);
        let area = |value: f64, relative: f64| {
            let [value, low, high] = [0.0, -z, z].map(|z| value * (1.0 + z * relative));
            Estimate::of_si(Estimate::of_size(value, low, high, level))
        };
        let relative = self.rate.1 / self.rate.0;
        let (before, after) = (self.rate.0 / per_area, self.factor * self.rate.0 / per_area);
        Tried {
            areas: (before.min(after), before.max(after)),
            cause: Cause::Changed {
                time_s: first_s + self.at,
                before: area(before, relative),
                after: area(after, relative.hypot(self.of_factor)),
            },
            left: self.left,
            freedom: self.freedom,
        }
    }
}

/// The change that leaves the least: a coarse search over laws, moments and factors, then ever closer ones about the best, by its law.
fn change(models: &[DecayModel], data: &Data, known: Known) -> Option<Change> {
    let circumstances = Circumstances::new(known);
    let left = |model: &DecayModel, at: f64, ln_factor: f64| {
        let warped = warped(data, at, ln_factor.exp());
        let solved = Solved::find(model, &warped, &circumstances, None)?;
        Some((at, ln_factor, solved.chi_squared))
    };
    let less = |a: &(f64, f64, f64), b: &(f64, f64, f64)| a.2.total_cmp(&b.2);
    let coarse = |model: &DecayModel| {
        let moments = moments(&data.times, MOMENTS);
        let each = moments.flat_map(|at| FACTORS.map(|factor| (at, factor.ln())));
        each.filter_map(|(at, ln_factor)| left(model, at, ln_factor))
            .min_by(less)
    };
    let found = models.iter().filter_map(|m| Some((m, coarse(m)?)));
    let (model, mut best) = found.min_by(|a, b| less(&a.1, &b.1))?;
    let left = |at: f64, ln_factor: f64| left(model, at, ln_factor);
    let (first, last) = (data.times.get(1)?, data.times.iter().nth_back(1)?);
    let mut step = ((last - first) / MOMENTS as f64, 0.6);
    for _ in 0..ROUNDS {
        step = (step.0 / 2.0, step.1 / 2.0);
        let about = [(-1.0, 0.0), (1.0, 0.0), (0.0, -1.0), (0.0, 1.0)];
        // Twice, so that a round can go as far as its steps reach.
        for _ in 0..2 {
            let tried = about.iter().filter_map(|(of_time, of_factor)| {
                let at = (best.0 + of_time * step.0).clamp(*first, *last);
                left(at, best.1 + of_factor * step.1)
            });
            best = tried.min_by(less).filter(|t| t.2 < best.2).unwrap_or(best);
        }
    }
    let (at, ln_factor, chi_squared) = best;
    let here = warped(data, at, ln_factor.exp());
    let solved = Solved::find(model, &here, &circumstances, None)?;
    Some(Change {
        at,
        factor: ln_factor.exp(),
        rate: (solved.rate, solved.uncertainty()),
        of_factor: of_factor(&left, best, step.1),
        left: chi_squared,
        freedom: data.points.len() - 4,
    })
    .filter(|found| found.rate.0 > 0.0)
}

/// Relative standard uncertainty of a factor, from how chi-squared bends about its least.
fn of_factor(
    left: &impl Fn(f64, f64) -> Option<(f64, f64, f64)>,
    (at, ln_factor, least): (f64, f64, f64),
    step: f64,
) -> f64 {
    let ends = [-1.0, 1.0].map(|sign| left(at, ln_factor + sign * step));
    match ends {
        [Some((.., low)), Some((.., high))] if low + high > 2.0 * least => {
            step * (2.0 / (low + high - 2.0 * least)).sqrt()
        }
        _ => f64::INFINITY,
    }
}

/// Readings on the clock of a leak that changed by a factor at a moment.
fn warped(data: &Data, at: f64, factor: f64) -> Data {
    let clock = |time: f64| time + (factor - 1.0) * (time - at).max(0.0);
    let mut warped = data.clone();
    for point in &mut warped.points {
        point.time = clock(point.time);
    }
    for time in &mut warped.times {
        *time = clock(*time);
    }
    warped
}
