//! The least-squares fit: start values from the straightening coordinate, weights, the solver, and what its optimum says
//! of the rate.

use super::problem::{Known, Point, Problem, Shared, SharedValues, drift_response};
use super::{Interval, MOST_POINTS, Residual};
use crate::gauge::Gauge;
use crate::numerics::least_squares::{LinearizedFit, Options, Residuals, Solution, minimize};
use crate::numerics::probability;
use crate::quantity::GaugePressure;
use crate::record::{Bench, Readings};
use crate::vessel::{Direction, OrificeCoordinate, Straight};

use uom::si::pressure::pascal;
use uom::si::time::second;

/// A reading within this many standard uncertainties of zero may belong to a needle that has come to rest: it gives no
/// start value.
const AT_REST: f64 = 2.0;

/// Steps on the likelihood's profile at most; each is a small fit.
const PROFILE_STEPS: usize = 12;

/// An expected run is reckoned with this many places.
const EXPECTED_PLACES: usize = 60;

/// A fit is done when another step would change it by far less than its uncertainty.
const OPTIONS: Options = Options {
    gradient_tolerance: 1e-7,
    step_tolerance: 1e-8,
    reduction_tolerance: 1e-10,
    max_iterations: 100,
    first_radius: 100.0,
};

/// An optimum of the readings of one run.
#[derive(Debug)]
pub(super) struct Solved {
    pub(super) coordinate: OrificeCoordinate,
    pub(super) known: Known,
    pub(super) shared_terms: Vec<Shared>,
    pub(super) points: Vec<Point>,
    /// Noise of each point before rounding \[Pa\].
    pub(super) sigmas: Vec<f64>,
    theta: Vec<f64>,
    /// Weighted residuals at the optimum, model less reading, the points' first.
    weighted: Vec<f64>,
    cost: f64,
    pub(super) rate: f64,
    pub(super) start: f64,
    pub(super) shared: SharedValues,
    /// Variances of the rate: from the readings, and from each shared term.
    pub(super) noise_variance: f64,
    shared_variances: Vec<(Shared, f64)>,
    /// Standard uncertainty of the rate by a drift of the gas temperature.
    pub(super) drift_part: f64,
    /// Variance of the rate from the readings with all shared terms held, and how the start pressure then follows the rate.
    held_variance: f64,
    held_valley: f64,
    /// Shift of each parameter but the rate for a unit of the rate, along the valley of the likelihood.
    valley: Vec<f64>,
    pub(super) correlation: f64,
    pub(super) iterations: u64,
    pub(super) converged: bool,
}

/// The readings as the solver sees them, and how many went into each: one, or a block's mean where there are many.
pub(super) fn points(readings: &Readings, gauge: &Gauge) -> (Vec<Point>, usize) {
    let first = readings.times_s().first().copied().unwrap_or(0.0);
    let block = if readings.len() > 2 * MOST_POINTS && !gauge.is_coarse() {
        readings.len().div_ceil(MOST_POINTS)
    } else {
        1
    };
    let sigma = gauge.reading_uncertainty().get::<pascal>();
    let points = readings
        .times_s()
        .chunks(block)
        .zip(readings.gauges_pa().chunks(block))
        .map(|(times, gauges)| {
            let n = times.len() as f64;
            let time = times.iter().map(|t| t - first).sum::<f64>() / n;
            Point::new(time, gauges.iter().sum::<f64>() / n, n, sigma)
        })
        .collect();
    (points, block)
}

/// Rate and start pressure from a straight line through the readings in the straightening coordinate.
fn straight_line(
    coordinate: &OrificeCoordinate,
    points: &[Point],
    ambient: f64,
) -> Option<(f64, f64)> {
    let (mut w, mut wt, mut ws, mut wtt, mut wts, mut used) = (0.0, 0.0, 0.0, 0.0, 0.0, 0);
    for point in points {
        let (s, dy) = coordinate.place(point.reading / ambient);
        if s <= 0.0 || point.reading.abs() * point.weight < AT_REST && used >= 2 {
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
    (y0 != 0.0 && y0 > -1.0 && y0.is_finite()).then(|| (falls / coordinate.slope(), ambient * y0))
}

/// Solves for rate, start pressure and shared terms; none where no start can be found.
pub(super) fn solve(
    coordinate: OrificeCoordinate,
    mut points: Vec<Point>,
    known: Known,
    gauge: &Gauge,
) -> Option<Solved> {
    let shared_terms = known.shared();
    let (rate, start) = straight_line(&coordinate, &points, known.ambient)?;
    let mut theta = vec![rate, start];
    theta.resize(2 + shared_terms.len(), 0.0);

    let noise = gauge.noise().get::<pascal>();
    let stopwatch = gauge.stopwatch().get::<second>();
    let mut sigmas = vec![noise; points.len()];
    let mut solution = None;
    // A stopwatch's error counts by the speed of the needle, which the first fit tells.
    for _ in 0..if stopwatch > 0.0 { 2 } else { 1 } {
        if stopwatch > 0.0 {
            weigh_by_speed(
                &coordinate,
                &mut points,
                &mut sigmas,
                (&theta, known.ambient),
                (noise, gauge.step().get::<pascal>(), stopwatch),
            );
        }
        let mut problem = Problem {
            coordinate,
            points: &points,
            known: &known,
            shared: &shared_terms,
            held_rate: None,
        };
        let found = minimize(&mut problem, &theta, &OPTIONS).ok()?;
        theta.clone_from(&found.theta);
        solution = Some(found);
    }
    Solved::new(coordinate, known, shared_terms, points, sigmas, &solution?)
}

/// Sets each point's weight by noise, rounding and the stopwatch's error times the needle's speed.
fn weigh_by_speed(
    coordinate: &OrificeCoordinate,
    points: &mut [Point],
    sigmas: &mut [f64],
    at: (&[f64], f64),
    (noise, step, stopwatch): (f64, f64, f64),
) {
    let (&[rate, start, ..], ambient) = at else {
        return;
    };
    let Some(start) = coordinate.start(start, ambient) else {
        return;
    };
    for (point, sigma) in points.iter_mut().zip(sigmas) {
        let speed = coordinate.partials(rate, &start, point.time).by_time;
        *sigma = noise.hypot(stopwatch * speed);
        point.weigh(sigma.hypot(step / 12.0_f64.sqrt()));
    }
}

/// The interval of the rate that a run is expected to give whose readings come evenly over a duration, `rate` and `start`
/// being its truth: readings' noise and rounding taken as independent. None where the run would tell nothing.
pub(crate) fn expected_rate(
    bench: &Bench,
    (rate, start): (f64, GaugePressure),
    duration: f64,
    readings: f64,
    level: f64,
) -> Option<Interval> {
    let coordinate = OrificeCoordinate::new(&bench.gas, Direction::of(start)?);
    let known = Known::of(bench);
    let shared = known.shared();
    // Each place stands for several readings, or for a part of one.
    let count = readings / EXPECTED_PLACES as f64;
    let sigma = bench.gauge.reading_uncertainty().get::<pascal>();
    let mut points: Vec<Point> = (0..EXPECTED_PLACES)
        .map(|i| {
            let time = duration * i as f64 / (EXPECTED_PLACES - 1) as f64;
            Point::new(time, 0.0, count, sigma)
        })
        .collect();
    let mut theta = vec![rate, start.pascals()];
    theta.resize(2 + shared.len(), 0.0);
    let stopwatch = bench.gauge.stopwatch().get::<second>();
    if stopwatch > 0.0 {
        let mut sigmas = vec![0.0; points.len()];
        let noise = bench.gauge.noise().get::<pascal>();
        let step = bench.gauge.step().get::<pascal>();
        weigh_by_speed(
            &coordinate,
            &mut points,
            &mut sigmas,
            (&theta, known.ambient),
            (noise, step, stopwatch),
        );
    }
    let mut problem = Problem {
        coordinate,
        points: &points,
        known: &known,
        shared: &shared,
        held_rate: None,
    };
    let (rows, columns) = (problem.residuals(), problem.parameters());
    let mut residuals = vec![0.0; rows];
    let mut jacobian = vec![0.0; rows * columns];
    if !problem.evaluate(&theta, &mut residuals, &mut jacobian) {
        return None;
    }
    let row = LinearizedFit::new(&jacobian, columns)
        .ok()?
        .pseudo_inverse_row(0)?;
    let by_points = row.get(..points.len())?;
    let drift = drift_response(
        known.relative_drift,
        &coordinate,
        &points,
        by_points,
        (rate, start.pascals(), known.ambient),
    );
    let sigma = row.iter().map(|g| g * g).sum::<f64>().sqrt().hypot(drift);
    let half = probability::normal_quantile(0.5 + level / 2.0) * sigma;
    half.is_finite()
        .then(|| Interval::of_size(rate, rate - half, rate + half, level))
}

impl Solved {
    fn new(
        coordinate: OrificeCoordinate,
        known: Known,
        shared_terms: Vec<Shared>,
        points: Vec<Point>,
        sigmas: Vec<f64>,
        solution: &Solution,
    ) -> Option<Self> {
        let problem = Problem {
            coordinate,
            points: &points,
            known: &known,
            shared: &shared_terms,
            held_rate: None,
        };
        let theta = solution.theta.clone();
        let (rate, start, shared) = problem.meaning(&theta);
        let linear = solution.linearized().ok()?;
        let row = linear.pseudo_inverse_row(0)?;
        let (by_points, by_shared) = row.split_at(points.len());
        let square = |g: &f64| g * g;
        let noise_variance = by_points.iter().map(square).sum();
        let drift_part = drift_response(
            known.relative_drift,
            &coordinate,
            &points,
            by_points,
            (rate, start, shared.ambient),
        );
        let shared_variances = shared_terms
            .iter()
            .copied()
            .zip(by_shared.iter().map(square))
            .collect();
        let covariance = linear.covariance();
        let of_rate = covariance.column(0);
        let variance = *of_rate.get(0)?;
        let valley: Vec<f64> = of_rate.iter().skip(1).map(|c| c / variance).collect();
        let correlation = of_rate.get(1)? / (variance * covariance.get((1, 1))?).sqrt();
        let (mut kk, mut kg, mut gg) = (0.0, 0.0, 0.0);
        for row in solution
            .jacobian
            .chunks_exact(theta.len())
            .take(points.len())
        {
            if let [by_rate, by_start, ..] = row {
                kk += by_rate * by_rate;
                kg += by_rate * by_start;
                gg += by_start * by_start;
            }
        }
        let (held_variance, held_valley) = (gg / (kk * gg - kg * kg), -kg / gg);
        Some(Self {
            coordinate,
            shared_terms,
            points,
            sigmas,
            cost: solution.sum_of_squares,
            weighted: solution.residuals.clone(),
            theta,
            rate,
            start,
            shared,
            noise_variance,
            shared_variances,
            drift_part,
            held_variance,
            held_valley,
            valley,
            correlation,
            iterations: solution.iterations,
            converged: solution.termination.converged(),
            known,
        })
    }

    /// A needle that stood at rest from the second reading on: no fit, since the rate then has no slope. The leak is at
    /// least so large that the needle fell in that time. With it, the least rate, and the least that leaves the second
    /// reading as far from rest as its uncertainty allows. None for any other run.
    pub(super) fn fallen(
        coordinate: OrificeCoordinate,
        points: &[Point],
        known: &Known,
    ) -> Option<(Self, f64, f64)> {
        let (first, rest) = points.split_first()?;
        let next = rest.first()?;
        let reach = |p: &Point| AT_REST * (1.0 / p.weight).hypot(known.offset_uncertainty);
        let sign = first.reading.signum();
        if first.reading.abs() <= 2.0 * reach(first)
            || rest.iter().any(|p| p.reading.abs() > reach(p))
        {
            return None;
        }
        let s = |gauge: f64| coordinate.of(gauge / known.ambient);
        let over = coordinate.slope() * (next.time - first.time);
        let least = s(first.reading) / over;
        let low = (s(first.reading) - s(sign * reach(next))) / over;
        let sigma = (least - low) / AT_REST;
        let solved = Self {
            coordinate,
            shared_terms: Vec::new(),
            points: points.to_vec(),
            sigmas: vec![0.0; points.len()],
            cost: 0.0,
            theta: vec![least, first.reading],
            weighted: Vec::new(),
            rate: least,
            start: first.reading,
            shared: SharedValues {
                offset: 0.0,
                scale: 0.0,
                ambient: known.ambient,
            },
            noise_variance: sigma * sigma,
            shared_variances: Vec::new(),
            drift_part: 0.0,
            held_variance: sigma * sigma,
            held_valley: 0.0,
            valley: Vec::new(),
            correlation: 0.0,
            iterations: 0,
            converged: true,
            known: known.clone(),
        };
        Some((solved, least, low))
    }

    /// With the shared terms held: standard uncertainty of the rate, and change of the start pressure for a unit of it.
    pub(super) fn with_shared_held(&self) -> (f64, f64) {
        (self.held_variance.sqrt(), self.held_valley)
    }

    /// Sum of squares at the optimum, shared terms included.
    pub(super) fn chi_squared(&self) -> f64 {
        self.cost
    }

    /// Standard uncertainty of the rate by what the readings share, gauge and ambient.
    pub(super) fn shared_part(&self) -> f64 {
        self.gauge_part().hypot(self.ambient_part())
    }

    /// Standard uncertainty of the rate by offset and scale of the gauge.
    pub(super) fn gauge_part(&self) -> f64 {
        self.part(|s| s != Shared::Ambient)
    }

    /// Standard uncertainty of the rate by the ambient pressure.
    pub(super) fn ambient_part(&self) -> f64 {
        self.part(|s| s == Shared::Ambient)
    }

    fn part(&self, counts: impl Fn(Shared) -> bool) -> f64 {
        self.shared_variances
            .iter()
            .filter(|(s, _)| counts(*s))
            .map(|(_, v)| v)
            .sum::<f64>()
            .sqrt()
    }

    /// How far the likelihood's own profile has dropped at a rate, as a signed number of standard uncertainties: the root
    /// of what the sum of squares has risen by with all else fitted again.
    fn drop_at(&self, rate: f64) -> Option<f64> {
        let mut problem = Problem {
            coordinate: self.coordinate,
            points: &self.points,
            known: &self.known,
            shared: &self.shared_terms,
            held_rate: Some(rate),
        };
        let off = rate - self.rate;
        let guess: Vec<f64> = self
            .theta
            .iter()
            .skip(1)
            .zip(&self.valley)
            .map(|(value, per)| value + per * off)
            .collect();
        let found = minimize(&mut problem, &guess, &OPTIONS).ok()?;
        Some(off.signum() * (found.sum_of_squares - self.cost).max(0.0).sqrt())
    }

    /// The rate at which the profile has dropped by a signed number of standard uncertainties, from the quadratic's
    /// answer: each step scales the distance by what is missing, which is exact on a quadratic. None where the profile
    /// levels off before.
    pub(super) fn rate_at_drop(&self, drop: f64, tolerance: f64) -> Option<f64> {
        let sigma = self.noise_variance.sqrt().hypot(self.shared_part());
        let mut off = drop * sigma;
        for _ in 0..PROFILE_STEPS {
            let got = self.drop_at(self.rate + off)?;
            if (got - drop).abs() <= tolerance {
                return Some(self.rate + off);
            }
            off *= (drop / got).clamp(0.3, 3.0);
        }
        None
    }

    /// Each reading beside the curve of a rate and a start pressure.
    pub(super) fn residuals(&self, readings: &Readings, rate: f64, start: f64) -> Vec<Residual> {
        // At the optimum of unaveraged readings the solver has them already.
        let at_optimum =
            self.rate.to_bits() == rate.to_bits() && self.start.to_bits() == start.to_bits();
        if at_optimum
            && self.points.len() == readings.len()
            && self.weighted.len() >= readings.len()
        {
            let known = self
                .points
                .iter()
                .zip(&self.weighted)
                .zip(readings.times_s());
            return known
                .map(|((point, off), &time_s)| Residual {
                    time_s,
                    reading_pa: point.reading,
                    fitted_pa: point.reading + off / point.weight,
                    standardized: -off,
                })
                .collect();
        }
        let Some(from) = self.coordinate.start(start, self.shared.ambient) else {
            return Vec::new();
        };
        let first = readings.times_s().first().copied().unwrap_or(0.0);
        let block = readings.len().div_ceil(self.points.len().max(1));
        readings
            .times_s()
            .iter()
            .zip(readings.gauges_pa())
            .enumerate()
            .map(|(i, (&time_s, &reading_pa))| {
                let gauge = self.coordinate.partials(rate, &from, time_s - first).gauge;
                let fitted_pa = self.shared.felt(gauge);
                let point = self.points.get(i / block).or(self.points.last());
                let weight = point.map_or(f64::NAN, |p| p.weight / p.count.sqrt());
                Residual {
                    time_s,
                    reading_pa,
                    fitted_pa,
                    standardized: (reading_pa - fitted_pa) * weight,
                }
            })
            .collect()
    }
}
