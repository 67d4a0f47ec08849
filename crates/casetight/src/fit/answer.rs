//! From the optima of each law to one answer: the spread of the likeliest, the average over the laws, the parts of the interval.

use uom::si::pressure::pascal;

use super::beside::Open;
use super::coarse;
use super::course::{self, Moved};
use super::effects;
use super::error::FitError;
use super::found::{Course, Fit, FitNote, Method, RISING};
use super::laws::{self, Candidate, LawWeight, Side};
use super::least_squares::{Circumstances, Data, SLOW_STARTS, Solved};
use super::memory::{self, Unshown, memory};
use super::problem::{Known, SharedValues};
use super::residuals;
use super::scatter::{ACCEPTABLE_PROBABILITY, misfit, probability_of};
use super::steady::{self, Beyond};
use super::terms::{ByTemperature, Part, PartKind, Residual, Strain, Unsteady, part};
use crate::estimate::Estimate;
use crate::gauge::Gauge;
use crate::leak::{EffectiveArea, LeakLaw, Orifice};
use crate::numerics::least_squares::Rival;
use crate::numerics::probability;
use crate::quantity::{GaugePressure, Time};
use crate::readings::sides;
use crate::readings::{Bench, Readings};
use crate::vessel::DecayModel;

/// The quadratic interval is kept where it lies this close to the likelihood's own, in standard uncertainties.
const QUADRATIC_TOLERANCE: f64 = 0.02;

/// A half-width below this part of the rate is kept quadratic unseen: the curve bends by this much of itself across it.
const PLAINLY_QUADRATIC: f64 = 0.02;

/// Scatter that widens an interval by less is not spoken of.
const WORTH_A_NOTE: f64 = 1.05;

/// A chi-squared of so many times its degrees of freedom is not that of a leak, whatever the start. A fast hole on a fine gauge has been
/// 1200 times off at a wrong optimum.
const HOPELESS: f64 = 3000.0;

/// The rate, before it is cut off at zero.
#[derive(Clone, Copy)]
struct Spread {
    value: f64,
    low: f64,
    high: f64,
    /// Standard uncertainty by the readings alone.
    noise: f64,
    start: f64,
    method: Method,
}

impl Spread {
    /// The same where so much of the bench's effects is not known, with ends at z standard uncertainties.
    fn widened(self, open: &[Open], z: f64) -> Self {
        let of_rate = || open.iter().filter(|open| !open.kind.is_of_size());
        let squares: f64 = of_rate().map(|open| open.of_rate.powi(2)).sum();
        let wider = |end: f64| (end - self.value).hypot(z * squares.sqrt());
        let value = self.value + of_rate().map(|open| open.moves).sum::<f64>();
        Self {
            value,
            low: value - wider(self.low),
            high: value + wider(self.high),
            ..self
        }
    }

    /// How far below zero it lies beyond what its uncertainty explains \[1/s\].
    fn below_zero(&self, z: f64) -> f64 {
        (-self.value - RISING / z * (self.value - self.low)).max(0.0)
    }

    /// What the readings show: whether the needle moved away from zero they say themselves, the rest is where the interval lies.
    fn course(&self, moved: Moved, z: f64) -> Course {
        if moved == Moved::AwayFromZero {
            Course::Rises
        } else if self.below_zero(z) > 0.0 {
            Course::Explained
        } else if self.low <= 0.0 {
            Course::Stands
        } else {
            Course::Falls
        }
    }
}

/// What the laws together say.
pub(super) struct Answer {
    spread: Spread,
    /// Standard uncertainties that its ends lie off.
    z: f64,
    laws: Vec<LawWeight>,
    model: DecayModel,
    /// The likeliest law's, beside the start pressure.
    own_rate: f64,
    shared: SharedValues,
    settling_time: Option<(f64, f64)>,
    parts: Vec<(PartKind, f64)>,
    chi_squared: f64,
    degrees_of_freedom: usize,
    correlation: f64,
    iterations: u64,
    converged: bool,
    notes: Vec<FitNote>,
    strain: Option<Strain>,
    by_temperature: Option<ByTemperature>,
    /// What the readings show beside a steady leak.
    beyond: Option<Beyond>,
    /// What the volume's stretch leaves open, relative to the area.
    stretch: f64,
    /// What every part is multiplied by, since the readings are not those of the model.
    widening: f64,
    /// Scatter that the residuals may hide.
    unshown: Option<Unshown>,
    /// The readings' weighted residuals, where the curve is the solver's own and each reading a point of it.
    weighted: Option<Vec<f64>>,
}

impl Answer {
    /// Of a needle that had fallen to rest by the second reading: open upward.
    pub(super) fn fallen(
        (least, low): (f64, f64),
        (start, level): (f64, f64),
        model: &DecayModel,
        known: &Known,
    ) -> Self {
        Self {
            z: probability::normal_quantile(0.5 + level / 2.0),
            spread: Spread {
                value: least,
                low,
                high: f64::INFINITY,
                noise: (least - low) / 2.0,
                start,
                method: Method::Fallen,
            },
            laws: Vec::new(),
            own_rate: least,
            shared: known.values(),
            settling_time: None,
            parts: vec![(PartKind::Noise, (least - low) / 2.0)],
            chi_squared: 0.0,
            degrees_of_freedom: 0,
            correlation: 0.0,
            iterations: 0,
            converged: true,
            notes: vec![FitNote::Fallen],
            strain: None,
            by_temperature: None,
            beyond: None,
            stretch: 0.0,
            widening: 1.0,
            unshown: None,
            weighted: None,
            model: *model,
        }
    }

    /// Fits each law and averages.
    pub(super) fn averaged(
        (data, circumstances): (&Data, &Circumstances),
        bench: &Bench,
        (orifice, level): (&DecayModel, f64),
        candidates: &[Candidate],
    ) -> Result<Self, FitError> {
        let solved = solve_each(data, circumstances, orifice, candidates)?;
        let degrees_of_freedom = data.points.len() - 2;
        let least = least_chi_squared(&solved);
        let misfit = misfit(least, degrees_of_freedom);
        let birge = misfit.map_or(1.0, f64::sqrt);
        let weights = laws::weights(&solved, misfit.unwrap_or(1.0));
        let best = likeliest(&solved, &weights).ok_or(FitError::NoFit)?;
        let goes_on = goes_on(best, &bench.gauge, misfit);
        let noisier = birge * goes_on.map_or(1.0, |(_, wider)| wider);
        let z = probability::normal_quantile(0.5 + level / 2.0);
        let widening = widening(birge, (least, degrees_of_freedom));
        let of_best = rate_spread(best, &bench.gauge, (z, level), (noisier, widening));
        let sides = side_of_each(&solved, &weights, best, (&of_best, z));
        let spread = over_all(&sides, of_best, level)?;
        let open = effects::open(best, bench, widening);
        let of_misfit = misfit.map(|_| FitNote::Misfit {
            chi_squared: best.chi_squared,
            degrees_of_freedom,
            widened_by: birge,
        });
        let of_memory = goes_on.map(|(correlation, widened_by)| FitNote::Correlated {
            correlation,
            widened_by,
        });
        let mut notes = notes_on(data);
        notes.extend(of_misfit.into_iter().chain(of_memory));
        Ok(Self {
            laws: likeliest_first(&solved, &weights),
            model: best.model,
            own_rate: of_best.value,
            shared: best.shared,
            settling_time: best.ln_settling_time(),
            parts: std::iter::once((PartKind::Noise, spread.noise))
                .chain(parts_of(best, widening, &open))
                .chain([(PartKind::Law, apart(&sides))])
                .collect(),
            strain: best.strain(bench.ambient().kelvins()),
            by_temperature: effects::by_temperature(best, bench),
            beyond: steady::beyond(best, bench),
            stretch: relative(&open, PartKind::Stretch, best.rate),
            widening,
            chi_squared: best.chi_squared,
            degrees_of_freedom,
            correlation: best.correlation,
            iterations: best.iterations,
            converged: best.converged,
            notes,
            unshown: unshown(best, bench, goes_on.is_some()),
            weighted: (data.block == 1 && spread.method != Method::Rounded)
                .then(|| best.weighted.clone()),
            spread: spread.widened(&open, z),
            z,
        })
    }

    /// The rate, the leak as an area, and what the area's interval comes from: the rate's parts, and the two that make an area of a
    /// rate.
    fn sizes(
        &self,
        bench: &Bench,
        (level, per_area): (f64, f64),
    ) -> (Estimate<f64>, Estimate<f64>, Vec<Part>) {
        let Spread {
            value, low, high, ..
        } = self.spread;
        let relative_volume = self.widened_part(bench.volume.relative().unwrap_or(0.0));
        let relative_temperature =
            self.widened_part(0.5 * bench.temperature.relative().unwrap_or(0.0));
        let mut parts: Vec<Part> = self
            .parts
            .iter()
            .map(|(kind, of_rate)| part(*kind, of_rate / per_area))
            .collect();
        let mut rate = Estimate::of_size(value, low, high, level);
        // What pushes a rate below zero, and is not known, may as well hide a leak of its size.
        let unknown = self.spread.below_zero(self.z);
        let beyond = self.beyond.map_or(0.0, |beyond| beyond.of_rate);
        let of_rate = beyond.hypot(unknown);
        if of_rate > 0.0 {
            rate = rate.widened_by(of_rate);
            parts.push(part(PartKind::Unsteady, of_rate / per_area));
        }
        let area = rate.scaled(1.0 / per_area).widened(
            relative_volume
                .hypot(relative_temperature)
                .hypot(self.stretch),
        );
        parts.push(part(PartKind::Volume, relative_volume * area.value));
        if self.stretch > 0.0 {
            parts.push(part(PartKind::Stretch, self.stretch * area.value));
        }
        parts.push(part(
            PartKind::Temperature,
            relative_temperature * area.value,
        ));
        (rate, area, parts)
    }

    /// Whether what is not known of a logged temperature can be seen on the gauge: it then bends the curve as another law does.
    fn is_bent_by_temperature(&self, gauge: &Gauge) -> bool {
        let seen = gauge.reading_uncertainty().get::<pascal>();
        self.by_temperature.is_some_and(|by| by.open_pa > seen)
    }

    /// A relative uncertainty, widened as all are: to no more than the whole of what it is of, since that has a size.
    fn widened_part(&self, relative: f64) -> f64 {
        (self.widening * relative).min(relative.max(1.0))
    }

    /// The time in which the gas settles, at a level of z standard uncertainties.
    fn settles_in(&self, (z, level): (f64, f64)) -> Option<Estimate<Time>> {
        let (ln, u) = self.settling_time?;
        let [value, low, high] = [0.0, -z, z].map(|z| (ln + z * u).exp());
        Some(Estimate::of_si(Estimate::of_size(value, low, high, level)))
    }

    /// Where the readings say that the needle moved, by noise that is as large as they scatter.
    fn moved(&self, readings: &Readings, bench: &Bench) -> Moved {
        let noisier = self.notes.iter().map(|note| match note {
            FitNote::Misfit { widened_by, .. } | FitNote::Correlated { widened_by, .. } => {
                *widened_by
            }
            _ => 1.0,
        });
        course::moved(readings, &bench.gauge, noisier.product())
    }

    /// Each reading beside the curve.
    fn residuals(&self, readings: &Readings, data: &Data) -> Vec<Residual> {
        match &self.weighted {
            Some(weighted) => residuals::of_solver(readings, data, weighted),
            None => residuals::of_curve(
                readings,
                data,
                &self.model,
                (self.own_rate, self.spread.start, &self.shared),
            ),
        }
    }

    pub(super) fn finish(
        self,
        readings: &Readings,
        data: &Data,
        bench: &Bench,
        (level, per_area): (f64, f64),
    ) -> Result<Fit, FitError> {
        let spread = &self.spread;
        let (rate, area, parts) = self.sizes(bench, (level, per_area));
        let probability = probability_of(self.chi_squared, self.degrees_of_freedom);
        let is_steady = self.beyond.is_none() && probability >= ACCEPTABLE_PROBABILITY;
        let start = GaugePressure::from_pascals(spread.start)?;
        let first = readings.gauges_pa().first().copied();
        let first_reading = GaugePressure::from_pascals(first.unwrap_or(spread.start))?;
        let residuals = self.residuals(readings, data);
        let (upstream, downstream) = sides(start, self.model.direction(), bench.ambient())?;
        let regime = Orifice::new(
            EffectiveArea::from_square_meters(area.value).map_err(|_| FitError::NoFit)?,
        )
        .regime(&bench.gas, upstream, downstream);
        Ok(Fit {
            settling_time: self.settles_in((self.z, level)),
            probability,
            unsteady: self.beyond.map(|beyond| Unsteady {
                cause: None,
                probability: beyond.probability,
            }),
            strain: self.strain,
            misread: None,
            otherwise: Vec::new(),
            by_temperature: self.by_temperature,
            direction: self.model.direction(),
            course: spread.course(self.moved(readings, bench), self.z),
            law: laws::told(&self.laws)
                .filter(|_| is_steady && !self.is_bent_by_temperature(&bench.gauge)),
            rate: Estimate::of_si(rate),
            area: Estimate::of_si(area),
            per_area,
            rig: None,
            start,
            first_reading,
            parts,
            residual_rms_pa: root_mean_square(&residuals),
            residuals,
            chi_squared: self.chi_squared,
            degrees_of_freedom: self.degrees_of_freedom,
            correlation: self.correlation,
            method: spread.method,
            iterations: self.iterations,
            converged: self.converged,
            regime,
            notes: self.notes,
            shared: self.shared,
            model: self.model,
            own_rate: self.own_rate,
            unshown: self.unshown,
            beside: data.beside(readings),
            laws: self.laws,
        })
    }
}

/// Each law's rate and its spread. The other laws' distributions have the shape of the best one's, each in its own uncertainty.
fn side_of_each(
    solved: &[(Candidate, Solved<'_>)],
    weights: &[f64],
    best: &Solved<'_>,
    (of_best, z): (&Spread, f64),
) -> Vec<Side> {
    solved
        .iter()
        .zip(weights)
        .filter(|(_, weight)| **weight > 0.0)
        .map(|((_, s), weight)| {
            let over = s.uncertainty() / best.uncertainty();
            Side {
                weight: *weight,
                value: s.rate + over * (of_best.value - best.rate),
                sigma_low: over * (of_best.value - of_best.low) / z,
                sigma_high: over * (of_best.high - of_best.value) / z,
            }
        })
        .collect()
}

/// The spread of all laws together: the best one's where it is the only one.
fn over_all(sides: &[Side], of_best: Spread, level: f64) -> Result<Spread, FitError> {
    Ok(match sides {
        [_] => of_best,
        _ => Spread {
            value: laws::quantile(sides, 0.5).ok_or(FitError::NoFit)?,
            low: laws::quantile(sides, 0.5 - level / 2.0).ok_or(FitError::NoFit)?,
            high: laws::quantile(sides, 0.5 + level / 2.0).ok_or(FitError::NoFit)?,
            ..of_best
        },
    })
}

fn likeliest<'s, 'a>(
    solved: &'s [(Candidate, Solved<'a>)],
    weights: &[f64],
) -> Option<&'s Solved<'a>> {
    solved
        .iter()
        .zip(weights)
        .max_by(|a, b| a.1.total_cmp(b.1))
        .map(|((_, s), _)| s)
}

/// What the interval comes from, noise and law apart.
fn parts_of(
    best: &Solved<'_>,
    widening: f64,
    open: &[Open],
) -> impl Iterator<Item = (PartKind, f64)> {
    let shared = [
        PartKind::Gauge,
        PartKind::Ambient,
        PartKind::Drift,
        PartKind::Heat,
    ];
    let warmth = best.has(PartKind::Warmth).then_some(PartKind::Warmth);
    let of_terms = |kind| (kind, widening * best.part(kind));
    let shared = shared.map(of_terms);
    let effects = open.iter().filter(|open| !open.kind.is_of_size());
    let effects = effects.map(|open| (open.kind, open.of_rate));
    shared
        .into_iter()
        .chain(effects)
        .chain(warmth.map(of_terms))
}

/// What is not known of an effect, as a part of a rate that it is in proportion to.
fn relative(open: &[Open], kind: PartKind, rate: f64) -> f64 {
    let of_rate = open.iter().find(|open| open.kind == kind);
    let part = of_rate.map_or(0.0, |open| open.of_rate / rate.abs());
    if part.is_finite() { part.min(1.0) } else { 0.0 }
}

/// What the readings' scatter remembers, and by how much the rate scatters more for it than by their size, which is that of the gauge or as
/// many times it: none where it is next to nothing. Readings of a coarse gauge stick to its steps, so that they always remember some.
fn goes_on(best: &Solved<'_>, gauge: &Gauge, misfit: Option<f64>) -> Option<(f64, f64)> {
    if best.data.is_coarse(gauge) && misfit.is_none() {
        return None;
    }
    let memory = memory(best, misfit.is_some())?;
    let scatter = misfit.unwrap_or(1.0) * best.noise_variance;
    let wider = (memory.variance / scatter).sqrt();
    (wider > WORTH_A_NOTE).then_some((memory.correlation, wider))
}

/// What scatter the residuals may hide, on a bench where something may stick; what they show is in the interval already.
fn unshown(best: &Solved<'_>, bench: &Bench, is_shown: bool) -> Option<Unshown> {
    if is_shown || !bench.effects.sticks {
        return None;
    }
    memory::unshown(best)
}

/// How far the laws lie apart: the standard deviation of their rates.
fn apart(sides: &[Side]) -> f64 {
    let mean: f64 = sides.iter().map(|s| s.weight * s.value).sum();
    let between: f64 = sides
        .iter()
        .map(|s| s.weight * (s.value - mean).powi(2))
        .sum();
    between.sqrt()
}

fn likeliest_first(solved: &[(Candidate, Solved<'_>)], weights: &[f64]) -> Vec<LawWeight> {
    let mut laws: Vec<LawWeight> = solved
        .iter()
        .zip(weights)
        .filter(|(_, weight)| **weight > 0.0)
        .map(|((candidate, s), weight)| LawWeight {
            law: candidate.law,
            weight: *weight,
            rate_per_s: s.rate,
            chi_squared: s.chi_squared,
        })
        .collect();
    laws.sort_by(|a, b| b.weight.total_cmp(&a.weight));
    laws::merged(&laws, |a, b| a == b)
}

/// What was done with the readings before the fit.
fn notes_on(data: &Data) -> Vec<FitNote> {
    let mut notes = Vec::new();
    if data.block > 1 {
        notes.push(FitNote::Averaged { block: data.block });
    }
    if data.outliers > 0 {
        notes.push(FitNote::Outliers {
            count: data.outliers,
            of: data.points.len(),
        });
    }
    notes
}

fn root_mean_square(residuals: &[Residual]) -> f64 {
    let sum: f64 = residuals
        .iter()
        .map(|r| (r.reading_pa - r.fitted_pa).powi(2))
        .sum();
    (sum / residuals.len() as f64).sqrt()
}

fn least_chi_squared(solved: &[(Candidate, Solved<'_>)]) -> f64 {
    let each = solved.iter().map(|(_, s)| s.chi_squared);
    each.fold(f64::INFINITY, f64::min)
}

/// What every part is multiplied by: the scatter's own factor, where readings that scatter so are not those of one leak.
fn widening(birge: f64, (chi_squared, degrees_of_freedom): (f64, usize)) -> f64 {
    let unacceptable = || probability_of(chi_squared, degrees_of_freedom) < ACCEPTABLE_PROBABILITY;
    if birge > 1.0 && unacceptable() {
        birge
    } else {
        1.0
    }
}

/// The best law so far, for the next to be weighed against.
fn best_of(solved: &[(Candidate, Solved<'_>)], data: &Data) -> Rival {
    let least = least_chi_squared(solved);
    if least.is_infinite() {
        return Rival::NONE;
    }
    Rival {
        sum_of_squares: least,
        tempered: (least / (data.points.len() - 2) as f64).max(1.0),
    }
}

/// The optima of the candidate laws, the usual one of each first. Where none fits, they are sought anew from all other places: gas that
/// settles slower or faster than it is known to may be what they have missed.
fn solve_each<'a>(
    data: &'a Data,
    circumstances: &'a Circumstances,
    orifice: &DecayModel,
    candidates: &[Candidate],
) -> Result<Vec<(Candidate, Solved<'a>)>, FitError> {
    let run = (data, circumstances);
    let places = circumstances.other_places();
    let slow = places.get(..SLOW_STARTS).unwrap_or_default().to_vec();
    let solved = solve_from(run, orifice, candidates, (slow, false))?;
    if places.is_empty() || circumstances.is_a_guess {
        return Ok(solved);
    }
    let misfit = misfit(least_chi_squared(&solved), data.points.len() - 2);
    if misfit.is_none_or(|ratio| ratio >= HOPELESS) {
        return Ok(solved);
    }
    solve_from(run, orifice, candidates, (places, true))
}

/// As [`solve_each`], from these other places, where they are to be tried or heat counts: of each kind the likeliest number, and its other
/// numbers where the readings tell the kinds apart at all; where they don't, it stands for them.
fn solve_from<'a>(
    run: (&'a Data, &'a Circumstances),
    orifice: &DecayModel,
    candidates: &[Candidate],
    (mut places, sought): (Vec<Vec<f64>>, bool),
) -> Result<Vec<(Candidate, Solved<'a>)>, FitError> {
    let mut solved = Vec::with_capacity(candidates.len());
    let mut solve =
        |candidate: Candidate, solved: &mut Vec<(Candidate, Solved<'a>)>| -> Result<(), FitError> {
            let model = orifice.with_law(candidate.law)?;
            // A law that can't be fitted to these readings does not explain them.
            let rival = best_of(solved, run.0);
            let optima = Solved::optima(&model, run, (&places, sought), rival);
            if solved.is_empty() && !sought {
                // Where the first law has no second optimum the others are not searched for one.
                places = optima.iter().skip(1).map(Solved::place).collect();
            }
            solved.extend(optima.into_iter().map(|s| (candidate, s)));
            Ok(())
        };
    let (firsts, others) = laws::by_kind(candidates);
    for candidate in firsts {
        solve(candidate, &mut solved)?;
    }
    if laws::are_told(&solved) {
        for candidate in others {
            solve(candidate, &mut solved)?;
        }
    } else {
        for (candidate, _) in &mut solved {
            candidate.prior += laws::prior_of_kind(candidate.law, &others);
        }
    }
    Ok(solved)
}

/// Value and ends of a law's rate at z standard uncertainties, those of a level; `noisier` multiplies what the readings' scatter
/// contributes, `widening` the rest.
fn rate_spread(
    solved: &Solved<'_>,
    gauge: &Gauge,
    (z, level): (f64, f64),
    (noisier, widening): (f64, f64),
) -> Spread {
    let shared = widening * z * solved.shared_part();
    let noise = z * solved.noise_variance.sqrt();
    let (rate, start) = (solved.rate, solved.start);
    let spread = |value: f64, (noise_low, noise_high): (f64, f64), start, method| Spread {
        value,
        low: value - noise_low.hypot(shared),
        high: value + noise_high.hypot(shared),
        noise: (noise_low + noise_high) / (2.0 * z),
        start,
        method,
    };

    if solved.data.is_coarse(gauge)
        && let Some(p) = posterior_of_rounded(solved, gauge, 0.5 - level / 2.0)
    {
        return spread(
            p.median,
            (noisier * (p.median - p.low), noisier * (p.high - p.median)),
            p.start,
            Method::Rounded,
        );
    }
    let half = noise.hypot(z * solved.shared_part());
    if solved.is_ruled_by_drift() || half < PLAINLY_QUADRATIC * rate && !solved.heat_counts() {
        return spread(
            rate,
            (noisier * noise, noisier * noise),
            start,
            Method::Quadratic,
        );
    }
    let ends = [-z, z].map(|drop| {
        solved
            .rate_at_drop(drop, z * QUADRATIC_TOLERANCE)
            .map(|end| (end - rate).abs())
    });
    let (method, [low, high]) = match ends {
        [Some(low), Some(high)]
            if (low - half).abs().max((high - half).abs()) > QUADRATIC_TOLERANCE * half =>
        {
            (Method::Profile, [low, high])
        }
        _ => (Method::Quadratic, [half, half]),
    };
    // The profile's ends hold noise and shared terms together; the quadratic tells their shares.
    let alone = |end: f64| noisier * end * noise / half;
    let mut spread = spread(rate, (alone(low), alone(high)), start, method);
    if noisier <= 1.0 {
        (spread.low, spread.high) = (rate - low, rate + high);
    }
    spread
}

impl Data {
    /// Whether rounding rules the readings' errors.
    fn is_coarse(&self, gauge: &Gauge) -> bool {
        let step = gauge.step().get::<pascal>();
        let fine = self
            .sigmas
            .iter()
            .filter(|s| **s >= crate::gauge::COARSE_BELOW * step)
            .count();
        2 * fine < self.sigmas.len()
    }
}

/// The posterior with the shared terms held at their fitted values. What the readings leave open of those widens it as it
/// widens the least-squares fit; what they were known by beforehand is added with the shared part.
fn posterior_of_rounded(
    solved: &Solved<'_>,
    gauge: &Gauge,
    tail: f64,
) -> Option<coarse::Posterior> {
    let step = gauge.step().get::<pascal>();
    let posterior = coarse::posterior(solved, step, tail)?;
    let widening = (solved.noise_variance.sqrt() / solved.held_uncertainty).max(1.0);
    // Readings that stick to a step tell less of the terms than least squares takes them to: no less than nothing, though.
    let told_nothing = (solved.held_terms.powi(2) - solved.shared_part().powi(2)).max(0.0);
    let most = probability::normal_quantile(1.0 - tail) * told_nothing.sqrt();
    let wider = |end: f64| {
        let off = end - posterior.median;
        posterior.median + off.signum() * (widening * off.abs()).min(off.hypot(most))
    };
    Some(coarse::Posterior {
        low: wider(posterior.low),
        high: wider(posterior.high),
        ..posterior
    })
}
