//! Readings against an isothermal orifice: residuals and their exact derivatives for the least-squares solver.

use uom::si::pressure::pascal;

use crate::numerics::least_squares::Residuals;
use crate::record::Bench;
use crate::vessel::{Direction, OrificeCoordinate};

/// Something all readings of a run share, known beforehand to within a standard uncertainty. It is fitted as the number
/// of standard uncertainties that it lies off its known value.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Shared {
    /// Gauge offset b.
    Offset,
    /// Gauge scale error a.
    Scale,
    /// Ambient pressure.
    Ambient,
}

/// One reading as the solver sees it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Point {
    /// Seconds since the first reading.
    pub(super) time: f64,
    /// Gauge pressure as read \[Pa\].
    pub(super) reading: f64,
    /// How many readings it stands for, a block's mean or a part of one.
    pub(super) count: f64,
    /// 1/sigma of the point \[1/Pa\].
    pub(super) weight: f64,
}

impl Point {
    /// A point whose readings have each this standard uncertainty \[Pa\].
    pub(super) fn new(time: f64, reading: f64, count: f64, sigma: f64) -> Self {
        let mut point = Self {
            time,
            reading,
            count,
            weight: 0.0,
        };
        point.weigh(sigma);
        point
    }

    /// Sets the weight from the standard uncertainty of one reading \[Pa\].
    pub(super) fn weigh(&mut self, sigma: f64) {
        self.weight = self.count.sqrt() / sigma;
    }
}

/// What is known of the shared terms.
#[derive(Debug, Clone)]
pub(super) struct Known {
    pub(super) ambient: f64,
    pub(super) ambient_uncertainty: f64,
    pub(super) offset_uncertainty: f64,
    pub(super) scale_uncertainty: f64,
    /// Relative drift of the gas temperature \[1/s\], not fitted: the readings of one run hardly tell it from a leak.
    pub(super) relative_drift: f64,
}

impl Known {
    pub(super) fn of(bench: &Bench) -> Self {
        Self {
            ambient: bench.ambient_pressure.value().pascals(),
            ambient_uncertainty: bench
                .ambient_pressure
                .standard_uncertainty()
                .get::<pascal>(),
            offset_uncertainty: bench.gauge.offset_uncertainty().get::<pascal>(),
            scale_uncertainty: bench.gauge.scale_uncertainty(),
            relative_drift: bench.drift_allowance.kelvins_per_second() / bench.ambient().kelvins(),
        }
    }

    /// The shared terms that are uncertain at all.
    pub(super) fn shared(&self) -> Vec<Shared> {
        [
            (Shared::Offset, self.offset_uncertainty),
            (Shared::Scale, self.scale_uncertainty),
            (Shared::Ambient, self.ambient_uncertainty),
        ]
        .into_iter()
        .filter_map(|(shared, u)| (u > 0.0).then_some(shared))
        .collect()
    }
}

/// The shared terms at given parameters.
#[derive(Debug, Clone, Copy)]
pub(super) struct SharedValues {
    pub(super) offset: f64,
    pub(super) scale: f64,
    pub(super) ambient: f64,
}

impl SharedValues {
    /// What the gauge feels at a gauge pressure: its scale error and offset included.
    pub(super) fn felt(&self, gauge: f64) -> f64 {
        (1.0 + self.scale) * gauge + self.offset
    }
}

/// Weighted residuals (model less reading) of all points, then one row a shared term: its distance from its known value
/// in standard uncertainties.
///
/// Parameters: rate k \[1/s\] (left out where it is held), start gauge pressure g0 \[Pa\], then the shared terms. The rate
/// is fitted as it is, not as its logarithm: the readings of a sound engine may scatter upward, and the interval of a
/// rate whose best value would lie below zero must still be an honest upper bound.
#[derive(Debug)]
pub(super) struct Problem<'a> {
    pub(super) coordinate: OrificeCoordinate,
    pub(super) points: &'a [Point],
    pub(super) known: &'a Known,
    pub(super) shared: &'a [Shared],
    pub(super) held_rate: Option<f64>,
}

impl Problem<'_> {
    /// How many parameters come before the shared terms.
    fn own(&self) -> usize {
        if self.held_rate.is_some() { 1 } else { 2 }
    }

    /// Rate, start pressure and shared terms behind the solver's parameters.
    pub(super) fn meaning(&self, theta: &[f64]) -> (f64, f64, SharedValues) {
        let mut values = SharedValues {
            offset: 0.0,
            scale: 0.0,
            ambient: self.known.ambient,
        };
        let (own, shared) = theta.split_at(self.own().min(theta.len()));
        let (rate, start) = match (self.held_rate, own) {
            (Some(k), [g0, ..]) => (k, *g0),
            (None, [k, g0, ..]) => (*k, *g0),
            _ => (f64::NAN, f64::NAN),
        };
        for (term, z) in self.shared.iter().zip(shared) {
            match term {
                Shared::Offset => values.offset = z * self.known.offset_uncertainty,
                Shared::Scale => values.scale = z * self.known.scale_uncertainty,
                Shared::Ambient => values.ambient += z * self.known.ambient_uncertainty,
            }
        }
        (rate, start, values)
    }
}

/// How far a gas temperature that drifts by this part of itself each second moves the rate of a least-squares fit \[1/s\]: the drift moves each reading, and `by_points`, the rate's row of the pseudo-inverse, tells what that does.
///
/// A drift r makes dp/dt = p r beside the leak; what it has moved by then decays with the leak. In the straightening
/// coordinate, dp(t) = y'(t) Int p(v) r/y'(v) dv, with y' = dy/ds.
/// The leak itself speeds up with the temperature, by r t or half of it.
pub(super) fn drift_response(
    drift: f64,
    coordinate: &OrificeCoordinate,
    points: &[Point],
    by_points: &[f64],
    (rate, start, ambient): (f64, f64, f64),
) -> f64 {
    if drift == 0.0 {
        return 0.0;
    }
    // Outflow m goes as p/sqrt(T) and lowers p by m R T/V; air from outside keeps its temperature until it is in.
    let leak_follows = match coordinate.direction() {
        Direction::Pressure => 0.5,
        Direction::Vacuum => 1.0,
    };
    let s0 = coordinate.of(start / ambient);
    let at = |time: f64| coordinate.ratio(s0 - rate * coordinate.slope() * time);
    // p/p_a over y'; zero where the decay has ended and nothing moves any more.
    let integrand = |(y, dy): (f64, f64)| if dy == 0.0 { 0.0 } else { (1.0 + y) / dy };
    let (mut integral, mut before, mut response) = (0.0, (0.0, integrand(at(0.0))), 0.0);
    for (point, g) in points.iter().zip(by_points) {
        let step = point.time - before.0;
        let here = at(point.time);
        let now = integrand(here);
        integral += step / 6.0 * (before.1 + 4.0 * integrand(at(before.0 + step / 2.0)) + now);
        before = (point.time, now);
        let faster = leak_follows * rate * coordinate.slope() * point.time * point.time / 2.0;
        response += g * point.weight * ambient * here.1 * (integral - faster);
    }
    (drift * response).abs()
}

impl Residuals for Problem<'_> {
    fn parameters(&self) -> usize {
        self.own() + self.shared.len()
    }

    fn residuals(&self) -> usize {
        self.points.len() + self.shared.len()
    }

    fn evaluate(&mut self, theta: &[f64], residuals: &mut [f64], jacobian: &mut [f64]) -> bool {
        let (rate, start, shared) = self.meaning(theta);
        let Some(from) = self.coordinate.start(start, shared.ambient) else {
            return false;
        };
        let gain = 1.0 + shared.scale;
        let mut rows = residuals
            .iter_mut()
            .zip(jacobian.chunks_exact_mut(self.parameters()));
        for (point, (residual, row)) in self.points.iter().zip(&mut rows) {
            let partials = self.coordinate.partials(rate, &from, point.time);
            *residual = (shared.felt(partials.gauge) - point.reading) * point.weight;
            let weight = gain * point.weight;
            let own: &[f64] = if self.held_rate.is_some() {
                &[partials.by_start]
            } else {
                &[partials.by_rate, partials.by_start]
            };
            let (of_own, of_shared) = row.split_at_mut(own.len());
            for (entry, slope) in of_own.iter_mut().zip(own) {
                *entry = weight * slope;
            }
            for (entry, term) in of_shared.iter_mut().zip(self.shared) {
                *entry = match term {
                    Shared::Offset => self.known.offset_uncertainty * point.weight,
                    Shared::Scale => self.known.scale_uncertainty * partials.gauge * point.weight,
                    Shared::Ambient => {
                        self.known.ambient_uncertainty * partials.by_ambient * weight
                    }
                };
            }
        }
        let shared_from = self.own();
        for (j, (z, (residual, row))) in theta.iter().skip(shared_from).zip(rows).enumerate() {
            *residual = *z;
            row.fill(0.0);
            if let Some(entry) = row.get_mut(shared_from + j) {
                *entry = 1.0;
            }
        }
        true
    }
}
