//! The least-squares fit of one law: start values from the straightening coordinate, weights, the solver, and what its
//! optimum says of the rate.

use super::held::Held;
use super::problem::{Known, Point, Problem, SharedValues, Term};
use super::terms::{PartKind, Strain};
use crate::gauge::Gauge;
use crate::numerics::least_squares::{LinearizedFit, Options, Rival, minimize};
use crate::numerics::probability;
use crate::readings::{Bench, Readings};
use crate::vessel::{DecayModel, ModelPartials};

use uom::si::pressure::pascal;
use uom::si::time::second;

/// More readings than this are averaged in blocks for the fit (not for the residuals).
const MOST_POINTS: usize = 5000;

/// A reading within this many standard uncertainties of zero may belong to a needle that has come to rest: it gives no
/// start value.
const AT_REST: f64 = 2.0;

/// Steps on the likelihood's profile at most; each is a small fit.
const PROFILE_STEPS: usize = 12;

/// Beyond this many standard uncertainties of the bulk a reading's weight falls with its distance: it pulls no harder than
/// one that lies there (Huber's weights, `[Huber1964]`).
const OUTLYING: f64 = 3.0;
/// A reading this far off is called an outlier; of a thousand good ones none is.
const OUTLIER: f64 = 5.0;
/// Fewer readings don't tell an outlier from a curve.
const ROBUST_FROM: usize = 30;
/// Rounds of weights and fit.
const ROBUST_ROUNDS: usize = 4;
/// Standard deviation of a normal distribution over its median absolute deviation.
const OVER_MEDIAN: f64 = 1.482_602;

/// A needle is at most so many times as fast at a reading as between it and its neighbor: it has then lost 94 % on the way
/// of an exponential fall.
const STEEPEST_OVER_CHORD: f64 = 3.0;

/// Less than this part of the rate's uncertainty by heat does not bend it.
const PLAINLY_NOT_HEAT: f64 = 0.3;

/// More than this part of the rate's uncertainty by drift is all drift.
const PLAINLY_DRIFT: f64 = 0.9;

/// Other starts of settling time and start excess, in their standard uncertainties: gas that settles slowly from far off the
/// wall's temperature may look like a faster or a slower leak. The later ones, of gas that settles fast, are tried only where no law
/// fits the readings.
const OTHER_STARTS: [(f64, f64); 4] = [(1.5, 1.5), (1.5, -1.5), (-1.5, 1.5), (-1.5, -1.5)];
/// How many of them are of gas that settles slowly.
pub(super) const SLOW_STARTS: usize = 2;

/// Optima whose rates lie closer than this part of their uncertainty are one.
const SAME: f64 = 0.3;

/// A fit is done when another step would change it by a thousandth of its uncertainty.
const OPTIONS: Options = Options {
    gradient_tolerance: 1e-7,
    step_tolerance: 1e-8,
    reduction_tolerance: 1e-10,
    negligible_reduction: 1e-6,
    rival: Rival::NONE,
    max_iterations: 100,
    first_radius: 100.0,
};
/// A step on the likelihood's profile, whose drop is wanted to [`QUADRATIC_TOLERANCE`].
const PROFILE_OPTIONS: Options = Options {
    negligible_reduction: 1e-3,
    ..OPTIONS
};

/// The readings of a run as the solver sees them.
#[derive(Debug, Clone)]
pub(super) struct Data {
    pub(super) points: Vec<Point>,
    /// The points' times, for the model.
    pub(super) times: Vec<f64>,
    /// Noise of each point before rounding \[Pa\].
    pub(super) sigmas: Vec<f64>,
    scatter: Scatter,
    /// Readings that went into each point: one, or a block's mean where there are many.
    pub(super) block: usize,
    /// Readings that outlie.
    pub(super) outliers: usize,
}

/// How readings scatter before they are rounded.
#[derive(Debug, Clone, Copy)]
struct Scatter {
    /// Of the gauge \[Pa\].
    gauge: f64,
    /// Of a temperature that was logged beside them, relative to it.
    thermometer: f64,
    ambient: f64,
}

impl Scatter {
    fn of(readings: &Readings, bench: &Bench) -> Self {
        let course = readings.temperature();
        let noise = course.map_or(0.0, |course| course.noise_kelvins(readings.len()));
        let ambient = bench.ambient();
        Self {
            gauge: bench.gauge.noise().get::<pascal>(),
            thermometer: noise / ambient.kelvins(),
            ambient: ambient.pressure.pascals(),
        }
    }

    /// Of one reading \[Pa\].
    fn at(&self, reading: f64) -> f64 {
        (self.thermometer * (self.ambient + reading)).hypot(self.gauge)
    }
}

/// What is fitted beside rate and start pressure.
#[derive(Debug, Clone)]
pub(super) struct Circumstances {
    pub(super) known: Known,
    pub(super) terms: Vec<Term>,
    /// Whether the readings only may be those of the run: of many such, the usual starts are enough.
    pub(super) is_a_guess: bool,
}

impl Circumstances {
    pub(super) fn new(known: Known) -> Self {
        let terms = known.terms();
        Self {
            known,
            terms,
            is_a_guess: false,
        }
    }

    /// The same for readings that only may be those of the run.
    pub(super) fn of_a_guess(self) -> Self {
        Self {
            is_a_guess: true,
            ..self
        }
    }

    /// Places of the shared terms where another optimum may lie; none where the heat is known.
    pub(super) fn other_places(&self) -> Vec<Vec<f64>> {
        let heat = [Term::SettlingTime, Term::StartExcess];
        if !heat.iter().all(|term| self.terms.contains(term)) {
            return Vec::new();
        }
        let at = |(of_time, of_excess): (f64, f64)| {
            let value = |term: &Term| match term {
                Term::SettlingTime => self.known.parameter(*term, of_time),
                Term::StartExcess => of_excess,
                _ => 0.0,
            };
            self.terms.iter().map(value).collect()
        };
        OTHER_STARTS.into_iter().map(at).collect()
    }
}

impl Data {
    pub(super) fn of(readings: &Readings, bench: &Bench) -> Self {
        Self::in_blocks(readings, bench, MOST_POINTS)
    }

    /// With about so many points, where there are more than twice as many readings of a gauge that is not coarse.
    pub(super) fn in_blocks(readings: &Readings, bench: &Bench, most: usize) -> Self {
        let gauge = &bench.gauge;
        let first = readings.times_s().first().copied().unwrap_or(0.0);
        let block = if readings.len() > 2 * most && !gauge.is_coarse() {
            readings.len().div_ceil(most)
        } else {
            1
        };
        let scatter = Scatter::of(readings, bench);
        let step = gauge.step().get::<pascal>() / 12.0_f64.sqrt();
        let of_reading = |reading: f64| {
            let noise = scatter.at(reading);
            (noise, noise.hypot(step))
        };
        let alike = (scatter.thermometer == 0.0).then(|| of_reading(0.0));
        let (points, sigmas) = readings
            .times_s()
            .chunks(block)
            .zip(readings.gauges_pa().chunks(block))
            .map(|(times, gauges)| {
                let n = times.len() as f64;
                let time = times.iter().map(|t| t - first).sum::<f64>() / n;
                let reading = gauges.iter().sum::<f64>() / n;
                let (noise, sigma) = alike.unwrap_or_else(|| of_reading(reading));
                (Point::new(time, reading, n, sigma), noise)
            })
            .unzip::<Point, f64, Vec<_>, Vec<_>>();
        Self {
            times: points.iter().map(|p| p.time).collect(),
            sigmas,
            points,
            scatter,
            block,
            outliers: 0,
        }
    }

    /// What the gauge shows beside the leak at the points, by the times as noted; nothing where the bench does nothing of itself.
    pub(super) fn beside(&self, readings: &Readings) -> Vec<(f64, f64)> {
        let first = readings.times_s().first().copied().unwrap_or(0.0);
        let none = self.points.iter().all(|point| point.beside == 0.0);
        let points = self.points.iter().filter(|_| !none);
        points
            .map(|point| (first + point.time, point.beside))
            .collect()
    }

    /// Whether readings that outlie are told from a curve.
    pub(super) fn tells_outliers(&self, gauge: &Gauge) -> bool {
        self.points.len() >= ROBUST_FROM && !gauge.is_coarse()
    }

    /// Sets the weights that a first fit tells: a stopwatch's error counts by the speed of the needle, and, where `robust`, readings
    /// that outlie by their distance. None where no fit is found.
    pub(super) fn weigh(
        &mut self,
        model: &DecayModel,
        circumstances: &Circumstances,
        (gauge, robust): (&Gauge, bool),
    ) -> Option<()> {
        let stopwatch = gauge.stopwatch().get::<second>();
        if stopwatch <= 0.0 && !robust {
            return Some(());
        }
        let step = gauge.step().get::<pascal>() / 12.0_f64.sqrt();
        let scatter = self.scatter;
        let mut guess = None;
        for _ in 0..if robust { ROBUST_ROUNDS } else { 1 } {
            let solved = Solved::find(model, self, circumstances, guess.as_deref())?;
            let off: Vec<f64> = (self.points.iter().zip(&solved.weighted))
                .map(|(point, weighted)| weighted / point.weight)
                .collect();
            let at = solved.at_points()?;
            guess = Some(solved.theta);
            let fastest = self.fastest(&circumstances.known);
            let points = self.points.iter_mut().zip(&mut self.sigmas);
            for (((point, sigma), at), fastest) in points.zip(&at).zip(fastest) {
                let noise = scatter.at(point.reading);
                *sigma = noise.hypot(stopwatch * at.by_time.abs().min(fastest));
                point.weigh(sigma.hypot(step));
            }
            if !(robust && self.set_outlying_aside(&off)) {
                break;
            }
        }
        Some(())
    }

    /// The fastest that the needle can have been at each point \[Pa/s\], by the points beside it and by gas that settles: a
    /// curve that does not fit must not be able to call a reading worthless by its own speed there.
    fn fastest(&self, known: &Known) -> Vec<f64> {
        let speeds: Vec<f64> = (self.points.iter().zip(self.points.iter().skip(1)))
            .map(|(a, b)| ((b.reading - a.reading) / (b.time - a.time)).abs())
            .collect();
        let before = std::iter::once(&0.0).chain(&speeds);
        let after = speeds.iter().chain(std::iter::once(&0.0));
        (self.points.iter().zip(before.zip(after)))
            .map(|(point, (before, after))| {
                STEEPEST_OVER_CHORD * before.max(*after) + known.settling_speed(point)
            })
            .collect()
    }

    /// Lowers the weights of points that lie this far \[Pa\] off a fit, where they outlie; false where none does.
    pub(super) fn set_outlying_aside(&mut self, off: &[f64]) -> bool {
        let sizes = || {
            self.points
                .iter()
                .zip(off)
                .map(|(p, off)| (off * p.weight).abs())
        };
        let mut sorted: Vec<f64> = sizes().collect();
        let middle = sorted.len() / 2;
        let (_, median, _) = sorted.select_nth_unstable_by(middle, f64::total_cmp);
        // Readings that scatter less than they should are not held to it.
        let bulk = (OVER_MEDIAN * *median).max(1.0);
        let sizes: Vec<f64> = sizes().map(|size| size / bulk).collect();
        self.outliers = sizes.iter().filter(|size| **size > OUTLIER).count();
        for (point, size) in self.points.iter_mut().zip(&sizes) {
            if *size > OUTLYING {
                point.weight *= (OUTLYING / size).sqrt();
            }
        }
        sizes.iter().any(|size| *size > OUTLYING)
    }
}

/// An optimum of one law.
#[derive(Debug)]
pub(super) struct Solved<'a> {
    pub(super) model: DecayModel,
    pub(super) data: &'a Data,
    pub(super) circumstances: &'a Circumstances,
    pub(super) theta: Vec<f64>,
    /// Weighted residuals at the optimum, model less reading, the points' first.
    pub(super) weighted: Vec<f64>,
    /// Sum of squares at the optimum, shared terms included.
    pub(super) chi_squared: f64,
    pub(super) rate: f64,
    pub(super) start: f64,
    pub(super) shared: SharedValues,
    /// Variances of the rate: from the readings, and from each shared term.
    pub(super) noise_variance: f64,
    /// How the rate follows each weighted residual, those of the shared terms last.
    pub(super) rate_row: Vec<f64>,
    term_variances: Vec<(Term, f64)>,
    /// Standard uncertainty of each shared term after the fit, in that before it.
    left_open: Vec<(Term, f64)>,
    /// Standard uncertainty of the rate from the readings with all shared terms held, and how the start pressure then
    /// follows the rate.
    pub(super) held_uncertainty: f64,
    pub(super) held_valley: f64,
    /// Standard uncertainty of the rate by all shared terms where the readings tell nothing of them: the most that it can be.
    pub(super) held_terms: f64,
    /// Shift of each parameter but the rate for a unit of the rate, along the valley of the likelihood.
    valley: Vec<f64>,
    pub(super) correlation: f64,
    /// ln det of the information about all parameters.
    pub(super) ln_information: f64,
    pub(super) iterations: u64,
    pub(super) converged: bool,
    /// The weighted residuals' derivatives at the optimum, row by row.
    jacobian: Vec<f64>,
    /// The fit as it is about its optimum.
    pub(super) linear: LinearizedFit,
}

/// Rate and start pressure from a straight line through the readings in the law's straightening coordinate; a standstill at the
/// farthest of them where the line leads from no pressure.
fn straight_line(model: &DecayModel, points: &[Point], ambient: f64) -> Option<(f64, f64)> {
    let coordinate = model.shape();
    let (mut w, mut wt, mut ws, mut wtt, mut wts, mut used) = (0.0, 0.0, 0.0, 0.0, 0.0, 0);
    for point in points {
        let (s, dy) = coordinate.place(point.reading / ambient);
        if s <= coordinate.end() || point.reading.abs() * point.weight < AT_REST && used >= 2 {
            continue;
        }
        // A reading's uncertainty in the coordinate: 1/(weight p_a dy/ds).
        let weight = (point.weight * ambient * dy).powi(2);
        w += weight;
        wt += weight * point.time;
        ws += weight * s;
        wtt += weight * point.time * point.time;
        wts += weight * point.time * s;
        used += 1;
    }
    let spread = wtt - wt * wt / w;
    let falls = if used >= 2 && spread > 0.0 {
        -(wts - wt * ws / w) / spread
    } else {
        0.0
    };
    let s0 = (ws + falls * wt) / w;
    let (y0, _) = coordinate.ratio(s0);
    let (over, _) = model.orifice_over_own(y0);
    if y0 != 0.0 && y0 > -1.0 && y0.is_finite() && over.is_finite() {
        return Some((falls * over / coordinate.speed(), ambient * y0));
    }
    let sizes = points.iter().map(|point| point.reading);
    sizes
        .max_by(|a, b| a.abs().total_cmp(&b.abs()))
        .map(|farthest| (0.0, farthest))
}

/// Where the solver starts without a guess: on the straight line, the shared terms as known beforehand.
fn start_values(
    model: &DecayModel,
    points: &[Point],
    Circumstances { known, terms, .. }: &Circumstances,
) -> Option<Vec<f64>> {
    let (rate, start) = straight_line(model, points, known.ambient)?;
    let mut theta = vec![rate, start];
    theta.resize(2 + terms.len(), 0.0);
    Some(theta)
}

impl<'a> Solved<'a> {
    /// All optima of a law: that from the usual start first, then those that other places of the shared terms lead to, where heat
    /// counts or it is to be sought.
    pub(super) fn optima(
        model: &DecayModel,
        (data, circumstances): (&'a Data, &'a Circumstances),
        (places, sought): (&[Vec<f64>], bool),
        rival: Rival,
    ) -> Vec<Self> {
        let from =
            |guess: Option<&[f64]>| Self::find_beside(model, (data, circumstances), guess, rival);
        let Some(usual) = from(None) else {
            return Vec::new();
        };
        if places.is_empty() || !(sought || usual.heat_counts()) {
            return vec![usual];
        }
        let line = straight_line(model, &data.points, circumstances.known.ambient);
        let Some((rate, start)) = line else {
            return vec![usual];
        };
        let mut found = vec![usual];
        for place in places {
            let mut guess = vec![rate, start];
            guess.extend_from_slice(place);
            let Some(other) = from(Some(&guess)) else {
                continue;
            };
            let known = found.iter_mut().find(|s| {
                (s.rate - other.rate).abs() < SAME * s.uncertainty().min(other.uncertainty())
            });
            match known {
                Some(known) if known.chi_squared <= other.chi_squared => {}
                Some(known) => *known = other,
                None => found.push(other),
            }
        }
        found
    }

    /// The model at the points.
    pub(super) fn at_points(&self) -> Option<Vec<ModelPartials>> {
        let mut at = Vec::with_capacity(self.data.times.len());
        let parameters = self.shared.with(self.rate, self.start);
        self.model.follow(&parameters, &self.data.times, &mut at)?;
        Some(at)
    }

    /// Where its shared terms lie.
    pub(super) fn place(&self) -> Vec<f64> {
        self.theta.get(2..).unwrap_or_default().to_vec()
    }

    /// Whether heat makes up enough of the rate's variance that its bend with the settling time counts.
    pub(super) fn heat_counts(&self) -> bool {
        self.part(PartKind::Heat) > PLAINLY_NOT_HEAT * self.uncertainty()
    }

    /// Whether the drift of the temperature makes up the rate's uncertainty: that is in proportion to the allowance, and no profile of the
    /// likelihood, which bends where the allowance is far more than any room does in so long a hold.
    pub(super) fn is_ruled_by_drift(&self) -> bool {
        self.part(PartKind::Drift) > PLAINLY_DRIFT * self.uncertainty()
    }

    /// Solves for rate, start pressure and shared terms, from a guess or from the straight line; none where no start can
    /// be found.
    pub(super) fn find(
        model: &DecayModel,
        data: &'a Data,
        circumstances: &'a Circumstances,
        guess: Option<&[f64]>,
    ) -> Option<Self> {
        Self::find_beside(model, (data, circumstances), guess, Rival::NONE)
    }

    /// As [`find`](Self::find), of a law that is weighed against another.
    fn find_beside(
        model: &DecayModel,
        (data, circumstances): (&'a Data, &'a Circumstances),
        guess: Option<&[f64]>,
        rival: Rival,
    ) -> Option<Self> {
        let Circumstances { known, terms, .. } = circumstances;
        let start = match guess {
            Some(guess) => guess.to_vec(),
            None => start_values(model, &data.points, circumstances)?,
        };
        let mut problem = Problem::new(model, (&data.points, &data.times), (known, terms));
        let options = Options { rival, ..OPTIONS };
        let solution = minimize(&mut problem, &start, &options).ok()?;
        let linear = solution.linearized().ok()?;
        let theta = solution.theta;
        let (rate, start, shared) = problem.meaning(&theta);
        let row = linear.pseudo_inverse_row(0)?;
        let (by_points, by_terms) = row.split_at(data.points.len());
        let square = |g: &f64| g * g;
        let covariance = linear.covariance();
        let of_rate = covariance.column(0);
        let offs: Vec<f64> = (terms.iter().zip(theta.iter().skip(2)))
            .map(|(term, x)| known.off(*term, *x).1)
            .collect();
        let variance = *of_rate.get(0)?;
        let held = Held::of(&solution.jacobian, (theta.len(), data.points.len()));
        let noise_variance: f64 = by_points.iter().map(square).sum();
        Some(Self {
            model: *model,
            data,
            circumstances,
            chi_squared: solution.sum_of_squares,
            weighted: solution.residuals,
            rate,
            start,
            shared,
            noise_variance,
            term_variances: held.variances(terms, (noise_variance, by_terms)),
            left_open: (terms.iter().zip(&offs).enumerate())
                .filter_map(|(i, (term, by_x))| {
                    Some((*term, by_x * covariance.get((2 + i, 2 + i))?.sqrt()))
                })
                .collect(),
            held_uncertainty: held.uncertainty,
            held_valley: held.valley,
            held_terms: held.by_all().sqrt(),
            valley: of_rate.iter().skip(1).map(|c| c / variance).collect(),
            correlation: of_rate.get(1)? / (variance * covariance.get((1, 1))?).sqrt(),
            // About the terms themselves, whatever parameters stand for them.
            ln_information: linear.ln_information()
                - 2.0 * offs.iter().map(|by_x| by_x.ln()).sum::<f64>(),
            iterations: solution.iterations,
            rate_row: row,
            converged: solution.termination.converged(),
            theta,
            jacobian: solution.jacobian,
            linear,
        })
    }

    /// The weighted residuals' derivatives at the optimum, a row a point: by the rate, the start pressure and the shared terms.
    pub(super) fn rows(&self) -> impl Iterator<Item = &[f64]> {
        let rows = self.jacobian.chunks_exact(self.theta.len());
        rows.take(self.data.points.len())
    }

    /// Whether a kind has terms of its own in the fit.
    pub(super) fn has(&self, kind: PartKind) -> bool {
        self.term_variances
            .iter()
            .any(|(term, _)| term.kind() == kind)
    }

    /// Standard uncertainty of the rate by the shared terms of a kind.
    pub(super) fn part(&self, kind: PartKind) -> f64 {
        let those = self.term_variances.iter();
        let those = those.filter(|(term, _)| term.kind() == kind);
        those.map(|(_, v)| v).sum::<f64>().sqrt()
    }

    /// Standard uncertainty of the rate by all shared terms.
    pub(super) fn shared_part(&self) -> f64 {
        let all = self.term_variances.iter().map(|(_, v)| v);
        all.sum::<f64>().sqrt()
    }

    /// The shared term that lies furthest beyond what is possible, by more than the readings leave open of it.
    pub(super) fn strain(&self, wall_kelvins: f64) -> Option<Strain> {
        let known = &self.circumstances.known;
        let beyond = |(term, x): (&Term, &f64)| {
            let off = known.off(*term, *x).0;
            let open = self.left_open.iter().find(|(t, _)| t == term)?.1;
            let beyond = off.abs() - 2.0 * open - known.possible(*term);
            (beyond > 0.0).then_some((beyond, *term, off))
        };
        let terms = self.circumstances.terms.iter();
        let (_, term, off) = (terms.zip(self.theta.iter().skip(2)).filter_map(beyond))
            .max_by(|a, b| a.0.total_cmp(&b.0))?;
        Some(if term == Term::StartExcess {
            Strain::Heat {
                kelvins: known.excess_kelvins(off, wall_kelvins),
                at_most_kelvins: known.excess_kelvins(known.possible(term), wall_kelvins),
            }
        } else {
            Strain::Term {
                kind: term.kind(),
                off,
            }
        })
    }

    /// ln tau of the gas and its standard uncertainty after the fit, where it was fitted.
    pub(super) fn ln_settling_time(&self) -> Option<(f64, f64)> {
        let heat = self.shared.heat?;
        let (term, open) = self
            .left_open
            .iter()
            .find(|(term, _)| *term == Term::SettlingTime)?;
        let before = self.circumstances.known.uncertainty(*term);
        Some((heat.ln_settling_time, open * before))
    }

    /// Standard uncertainty of the rate, all told.
    pub(super) fn uncertainty(&self) -> f64 {
        self.noise_variance.sqrt().hypot(self.shared_part())
    }

    /// How far the likelihood's own profile has dropped at a rate, as a signed number of standard uncertainties: the root
    /// of what the sum of squares has risen by with all else fitted again.
    fn drop_at(&self, rate: f64) -> Option<f64> {
        let Circumstances { known, terms, .. } = self.circumstances;
        let mut problem = Problem::new(
            &self.model,
            (&self.data.points, &self.data.times),
            (known, terms),
        )
        .with_held_rate(rate);
        let off = rate - self.rate;
        let guess: Vec<f64> = self
            .theta
            .iter()
            .skip(1)
            .zip(&self.valley)
            .map(|(value, per)| value + per * off)
            .collect();
        let found = minimize(&mut problem, &guess, &PROFILE_OPTIONS).ok()?;
        Some(off.signum() * (found.sum_of_squares - self.chi_squared).max(0.0).sqrt())
    }

    /// The rate at which the profile has dropped by a signed number of standard uncertainties, from the quadratic's
    /// answer: each step scales the distance by what is missing, which is exact on a quadratic. None where the profile
    /// levels off before.
    pub(super) fn rate_at_drop(&self, drop: f64, tolerance: f64) -> Option<f64> {
        let mut off = drop * self.uncertainty();
        for _ in 0..PROFILE_STEPS {
            let got = self.drop_at(self.rate + off)?;
            if (got - drop).abs() <= tolerance {
                return Some(self.rate + off);
            }
            off *= (drop / got).clamp(0.3, 3.0);
        }
        None
    }
}

/// A needle that stood at rest from the second reading on: no fit, since the rate then has no slope. The leak is at least
/// so large that the needle fell in that time. The least rate, and the least that the first two readings allow at a level. None
/// for any other run.
pub(super) fn fallen(
    model: &DecayModel,
    data: &Data,
    (known, level): (&Known, f64),
) -> Option<(f64, f64)> {
    let coordinate = model.shape();
    let (first, rest) = data.points.split_first()?;
    let next = rest.first()?;
    let uncertainty = |p: &Point| (1.0 / p.weight).hypot(known.offset_uncertainty);
    let reach = |p: &Point| AT_REST * uncertainty(p);
    let sign = first.reading.signum();
    if first.reading.abs() <= 2.0 * reach(first) || rest.iter().any(|p| p.reading.abs() > reach(p))
    {
        return None;
    }
    let z = probability::normal_quantile(0.5 + level / 2.0);
    let s = |size: f64| coordinate.of(sign * size / known.ambient);
    let over = coordinate.speed() * (next.time - first.time);
    let rate = |from: f64, to: f64| (s(from) - s(to)) / over;
    let (from, to) = (first.reading.abs(), (sign * next.reading).max(0.0));
    let as_read = rate(from, to);
    let by_first = as_read - rate((from - z * uncertainty(first)).max(0.0), to);
    let by_next = as_read - rate(from, to + z * uncertainty(next));
    Some((rate(from, 0.0), as_read - by_first.hypot(by_next)))
}
