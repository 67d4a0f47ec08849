//! The interval that a run is expected to give before it is made.

use uom::si::pressure::pascal;
use uom::si::time::second;

use super::beside::Fitted;
use super::effects;
use super::least_squares::Circumstances;
use super::problem::{Known, Point, Problem};
use crate::estimate::Estimate;
use crate::numerics::least_squares::{LinearizedFit, Residuals};
use crate::numerics::probability;
use crate::quantity::{Frequency, GaugePressure};
use crate::readings::Bench;
use crate::vessel::{DecayLaw, DecayModel, Direction, ModelPartials};

/// An expected run is reckoned with this many places.
const EXPECTED_PLACES: usize = 60;

/// The interval of the rate that a run is expected to give whose readings come evenly over a duration, `rate` and `start`
/// being its truth: readings' noise and rounding taken as independent, the law unknown. None where the run would tell
/// nothing.
#[must_use]
pub fn expected_rate(
    bench: &Bench,
    (rate, start): (f64, GaugePressure),
    duration: f64,
    readings: f64,
    level: f64,
) -> Option<Estimate<Frequency>> {
    let direction = Direction::of(start)?;
    let model = DecayModel::new(DecayLaw::Orifice, &bench.gas, direction).ok()?;
    let laminar = DecayModel::new(DecayLaw::Laminar, &bench.gas, direction).ok()?;
    let circumstances = Circumstances::new(Known::of(bench, (start.pascals(), duration)));
    let Circumstances { known, terms, .. } = &circumstances;
    let values = known.values();
    // Each place stands for several readings, or for a part of one.
    let count = readings / EXPECTED_PLACES as f64;
    let sigma = bench.gauge.reading_uncertainty().get::<pascal>();
    let mut points = evenly_over(duration, count, sigma);
    let times: Vec<f64> = points.iter().map(|p| p.time).collect();
    let of = |model: &DecayModel| {
        let mut at = Vec::with_capacity(times.len());
        model.follow(&values.with(rate, start.pascals()), &times, &mut at)?;
        Some(at)
    };
    let by_laminar = of(&laminar)?;
    let stopwatch = bench.gauge.stopwatch().get::<second>();
    if stopwatch > 0.0 {
        for (point, at) in points.iter_mut().zip(&of(&model)?) {
            point.weigh(sigma.hypot(stopwatch * at.by_time));
        }
    }
    let mut problem = Problem::new(&model, (&points, &times), (known, terms));
    let mut theta = vec![rate, start.pascals()];
    theta.resize(2 + terms.len(), 0.0);
    let (wider, columns) = with_the_law(&mut problem, &theta, &points, &by_laminar)?;
    let linear = LinearizedFit::new(&wider, columns + 1).ok()?;
    let fit = Fitted {
        known,
        points: &points,
        at: &of(&model)?,
        rate_row: &linear.pseudo_inverse_row(0)?,
        weighted: &[],
        linear: &linear,
        rate,
        start: start.pascals(),
        shared: values,
        hastens: model.hastens(),
    };
    let by_effects = effects::open_of(bench, &fit);
    let by_effects = by_effects.iter().filter(|by| !by.kind.is_of_size());
    let by_effects: f64 = by_effects.map(|by| by.of_rate.powi(2)).sum();
    let sigma = uncertainty_of_either_law(&linear, columns)?.hypot(by_effects.sqrt());
    let half = probability::normal_quantile(0.5 + level / 2.0) * sigma;
    half.is_finite()
        .then(|| Estimate::of_si(Estimate::of_size(rate, rate - half, rate + half, level)))
}

/// Places from zero to the duration, whose readings are zero and count for so many each.
fn evenly_over(duration: f64, count: f64, sigma: f64) -> Vec<Point> {
    (0..EXPECTED_PLACES)
        .map(|i| {
            let time = duration * i as f64 / (EXPECTED_PLACES - 1) as f64;
            Point::new(time, 0.0, count, sigma)
        })
        .collect()
}

/// The Jacobian with the law as one more column, and how many those before it are: between orifice and laminar, each one standard
/// uncertainty from the middle.
fn with_the_law(
    problem: &mut Problem<'_>,
    theta: &[f64],
    points: &[Point],
    by_laminar: &[ModelPartials],
) -> Option<(Vec<f64>, usize)> {
    let (rows, columns) = (problem.residuals(), problem.parameters());
    let mut residuals = vec![0.0; rows];
    let mut jacobian = vec![0.0; rows * columns];
    if !problem.evaluate(theta, &mut residuals, &mut jacobian) {
        return None;
    }
    let mut wider = Vec::with_capacity((rows + 1) * (columns + 1));
    for (i, row) in jacobian.chunks_exact(columns).enumerate() {
        wider.extend_from_slice(row);
        // The places' readings are zero, so that the orifice's residual is its pressure, weighted.
        let law = points.get(i).zip(by_laminar.get(i)).zip(residuals.get(i));
        wider.push(law.map_or(0.0, |((point, laminar), orifice)| {
            0.5 * (laminar.gauge * point.weight - orifice)
        }));
    }
    wider.resize(rows * (columns + 1) + columns, 0.0);
    wider.push(1.0);
    Some((wider, columns))
}

/// Standard uncertainty of the rate where either law may be the leak's; the law's column stands behind the `columns` others.
fn uncertainty_of_either_law(linear: &LinearizedFit, columns: usize) -> Option<f64> {
    let covariance = linear.covariance();
    let of = |i: usize, j: usize| covariance.get((i, j)).copied();
    let (law, shared) = (of(columns, columns)?, of(0, columns)?);
    // What a law known takes off; then the two laws, as far apart as the whole column, each as likely as its distance in
    // noise leaves it.
    let known = of(0, 0)? - shared * shared / law;
    let distance_squared = 4.0 * (1.0 / law - 1.0);
    let other = 1.0 / (1.0 + (distance_squared / 2.0).exp());
    let apart = 2.0 * shared / law;
    Some((known + apart * apart * other * (1.0 - other)).sqrt())
}
