//! Readings against a model of the decay: residuals and their derivatives for the least-squares solver.

use std::sync::Arc;

use uom::si::pressure::pascal;
use uom::si::time::second;

use super::terms::PartKind;
use crate::numerics::least_squares::Residuals;
use crate::readings::{Bench, Effects, Readings, TemperatureCourse, Touched};
use crate::vessel::{DecayModel, HeatParameters, HeatPrior, ModelParameters, ModelPartials};

/// A term that is known to a standard uncertainty does not lie this many of them off (once in 16 000).
const FAR_OFF: f64 = 4.0;

/// Something all readings of a run share, known beforehand to within a standard uncertainty. What is fitted tells the number
/// of standard uncertainties that it lies off its known value ([`Known::off`]).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Term {
    /// Gauge offset b.
    Offset,
    /// Gauge scale error a.
    Scale,
    /// Ambient pressure.
    Ambient,
    /// ln tau, the time in which the gas settles.
    SettlingTime,
    /// How far the gas is off the wall's temperature at the first reading.
    StartExcess,
    /// Drift of the wall's temperature.
    WallDrift,
    /// How much that drift changes in the run: it is steady by name only.
    DriftBend,
    /// How much warmer than the room the engine is at the first reading.
    Warmth,
}

impl Term {
    const ALL: [Self; 8] = [
        Self::Offset,
        Self::Scale,
        Self::Ambient,
        Self::SettlingTime,
        Self::StartExcess,
        Self::WallDrift,
        Self::DriftBend,
        Self::Warmth,
    ];

    /// The part of the uncertainty that it belongs to.
    pub(super) fn kind(self) -> PartKind {
        match self {
            Self::Offset | Self::Scale => PartKind::Gauge,
            Self::Ambient => PartKind::Ambient,
            Self::SettlingTime | Self::StartExcess => PartKind::Heat,
            Self::WallDrift | Self::DriftBend => PartKind::Drift,
            Self::Warmth => PartKind::Warmth,
        }
    }
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
    /// What the gauge shows at it beside the leak, by what the bench is known to do of itself \[Pa\].
    pub(super) beside: f64,
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
            beside: 0.0,
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
    ambient_uncertainty: f64,
    /// What the gauge shows of no pressure \[Pa\].
    pub(super) offset: f64,
    pub(super) offset_uncertainty: f64,
    /// Whether the uncertainty is that of a zero that was looked at, not of a class alone.
    zero_was_seen: bool,
    scale_uncertainty: f64,
    heat: HeatPrior,
    /// Relative drift of the wall's temperature \[1/s\], and its uncertainty.
    pub(super) drift: f64,
    pub(super) drift_uncertainty: f64,
    /// Of how that drift changes in the run, as far as the bench allows for one: whoever asks for a faster drift asks for a steady one.
    bend_uncertainty: f64,
    /// Standard uncertainty of how warm the engine is \[K\].
    warmth_uncertainty: f64,
    /// Of the wall \[K\].
    kelvins: f64,
    /// From the first reading to the last \[s\].
    hold: f64,
    /// What a thermometer showed, where it was logged.
    pub(super) logged: Option<Logged>,
}

/// A temperature that was logged beside the readings.
#[derive(Debug, Clone)]
pub(super) struct Logged {
    pub(super) course: Arc<TemperatureCourse>,
    /// When the first reading was taken, by its clock \[s\].
    pub(super) first_s: f64,
}

impl Known {
    /// Of a run that starts near this gauge pressure \[Pa\] and is held for so long \[s\].
    pub(super) fn of(bench: &Bench, (start, hold): (f64, f64)) -> Self {
        Self::new(bench, (start, start), hold)
    }

    /// Of a run between these gauge pressures \[Pa\].
    fn new(bench: &Bench, between: (f64, f64), hold: f64) -> Self {
        let ambient = bench.ambient();
        let drift_uncertainty = bench.drift_allowance.kelvins_per_second() / ambient.kelvins();
        let (offset, offset_uncertainty) = bench.effects.zero.as_ref().map_or((0.0, 0.0), |zero| {
            let uncertainty = zero.standard_uncertainty().get::<pascal>();
            (zero.value().pascals(), uncertainty)
        });
        Self {
            ambient: ambient.pressure.pascals(),
            ambient_uncertainty: bench
                .ambient_pressure
                .standard_uncertainty()
                .get::<pascal>(),
            offset,
            zero_was_seen: bench.effects.zero.is_some(),
            offset_uncertainty: (bench.gauge.offset_uncertainty().get::<pascal>())
                .hypot(offset_uncertainty),
            scale_uncertainty: bench.gauge.scale_uncertainty(),
            heat: bench.heat_between(between),
            drift: 0.0,
            drift_uncertainty,
            bend_uncertainty: drift_uncertainty,
            warmth_uncertainty: bench.effects.uncertainty_of_warmth(),
            kelvins: ambient.kelvins(),
            hold,
            logged: None,
        }
    }

    /// Of a run with these readings.
    pub(super) fn of_run(bench: &Bench, readings: &Readings) -> Self {
        let gauges = readings.gauges_pa();
        let [first, last] = [gauges.first(), gauges.last()].map(|g| g.copied().unwrap_or(f64::NAN));
        let hold = readings.duration().get::<second>();
        Self::new(bench, (first, last), hold).beside(readings, bench)
    }

    /// With the temperature that was measured beside the readings, where it was.
    fn beside(mut self, readings: &Readings, bench: &Bench) -> Self {
        let kelvins = bench.ambient().kelvins();
        if let Some((drift, uncertainty)) = readings.drift() {
            self.drift = drift.kelvins_per_second() / kelvins;
            self.drift_uncertainty = uncertainty.kelvins_per_second() / kelvins;
        }
        if let Some(course) = readings.temperature() {
            if course.touched() != Touched::Nearby {
                self.drift_uncertainty = course.hidden_drift() / kelvins;
            }
            self.logged = Some(Logged {
                course: Arc::clone(course),
                first_s: readings.times_s().first().copied().unwrap_or(0.0),
            });
        }
        self.bend_uncertainty = self.drift_uncertainty;
        self
    }

    /// The terms that are uncertain at all.
    pub(super) fn terms(&self) -> Vec<Term> {
        Term::ALL
            .into_iter()
            .filter(|term| self.uncertainty(*term) > 0.0)
            .collect()
    }

    pub(super) fn uncertainty(&self, term: Term) -> f64 {
        match term {
            Term::Offset => self.offset_uncertainty,
            Term::Scale => self.scale_uncertainty,
            Term::Ambient => self.ambient_uncertainty,
            Term::SettlingTime => self.heat.ln_settling_time_uncertainty,
            Term::StartExcess => self.heat.excess_uncertainty,
            Term::WallDrift => self.drift_uncertainty,
            // As much again at either end as the drift itself may be (common practice, no source): over hours a temperature that drifts
            // goes up and down, and no curve of the needle tells it from a leak.
            Term::DriftBend if self.hold > 0.0 => self.bend_uncertainty,
            Term::DriftBend => 0.0,
            Term::Warmth => self.warmth_uncertainty,
        }
    }

    /// The most standard uncertainties that a term can lie off, as far as physics or the gauge's class tells.
    pub(super) fn possible(&self, term: Term) -> f64 {
        match term {
            Term::StartExcess => self.heat.largest_excess / self.heat.excess_uncertainty,
            // The class's largest permitted error; the two terms have half of its variance each.
            Term::Offset if self.zero_was_seen => FAR_OFF,
            Term::Offset | Term::Scale => 6.0_f64.sqrt(),
            _ => FAR_OFF,
        }
    }

    /// How fast gas that settles can move the needle at a point, at most \[Pa/s\].
    pub(super) fn settling_speed(&self, point: &Point) -> f64 {
        if point.time >= self.heat.settled_after {
            return 0.0;
        }
        let soonest = (self.heat.ln_settling_time - self.heat.ln_settling_time_uncertainty).exp();
        (self.ambient + point.reading) * self.heat.largest_excess / soonest
    }

    /// A size of the start excess in kelvin, of so many of its standard uncertainties.
    pub(super) fn excess_kelvins(&self, off: f64, wall_kelvins: f64) -> f64 {
        off * self.heat.excess_uncertainty * wall_kelvins
    }

    /// The number of standard uncertainties that a term lies off at its fitted parameter x, and its derivative: x itself,
    /// but for a settling time above the known one. There the parameter is tau, not its logarithm: the pressure follows tau
    /// nearly in a straight line, and so does all else that the readings hold together with it.
    pub(super) fn off(&self, term: Term, x: f64) -> (f64, f64) {
        if term != Term::SettlingTime || x <= 0.0 {
            return (x, 1.0);
        }
        let u = self.uncertainty(term);
        ((u * x).ln_1p() / u, 1.0 / (1.0 + u * x))
    }

    /// The parameter of a term that lies this many standard uncertainties off.
    pub(super) fn parameter(&self, term: Term, off: f64) -> f64 {
        if term != Term::SettlingTime || off <= 0.0 {
            return off;
        }
        let u = self.uncertainty(term);
        (u * off).exp_m1() / u
    }

    /// Their values before any reading.
    pub(super) fn values(&self) -> SharedValues {
        // Gas that always has the temperature of a wall that stays needs no heat in its model.
        let still = self.drift == 0.0 && self.drift_uncertainty == 0.0;
        SharedValues {
            offset: self.offset,
            scale: 0.0,
            ambient: self.ambient,
            slow: Slow {
                bend: 0.0,
                warmth: 0.0,
                kelvins: self.kelvins,
                hold: self.hold,
            },
            heat: (!(self.heat.settles_at_once() && still)).then_some(HeatParameters {
                ln_settling_time: self.heat.ln_settling_time,
                start_excess: 0.0,
                wall_drift: self.drift,
            }),
        }
    }
}

/// The shared terms at given parameters.
#[derive(Debug, Clone, Copy)]
pub(super) struct SharedValues {
    pub(super) offset: f64,
    pub(super) scale: f64,
    pub(super) ambient: f64,
    pub(super) heat: Option<HeatParameters>,
    slow: Slow,
}

/// How the wall's temperature goes beside a steady drift: each moves the needle by so little that its effects add up.
#[derive(Debug, Clone, Copy)]
struct Slow {
    /// By how much the relative drift differs at the ends from that in the middle of the hold \[1/s\].
    bend: f64,
    /// How much warmer than is known the engine is \[K\].
    warmth: f64,
    kelvins: f64,
    hold: f64,
}

impl SharedValues {
    /// What the gauge feels at a gauge pressure: its scale error and offset included.
    pub(super) fn felt(&self, gauge: f64) -> f64 {
        (1.0 + self.scale) * gauge + self.offset
    }

    /// What the gauge shows at a moment of the model: what it feels there, and what the slow changes of temperature do to it.
    pub(super) fn shows(&self, at: &ModelPartials, time: f64) -> f64 {
        let Slow { bend, warmth, .. } = self.slow;
        let mut shown = self.felt(at.gauge);
        if bend != 0.0 {
            shown += bend * self.by_bend(at, time);
        }
        if warmth != 0.0 {
            shown += warmth * self.by_warmth(at, time);
        }
        shown
    }

    /// How a point follows a drift that changes \[Pa s\]: the temperature leaves the steady drift's line by a parabola that comes back
    /// to it at the end of the hold.
    fn by_bend(&self, at: &ModelPartials, time: f64) -> f64 {
        self.by_drift(at, time) * (time / self.slow.hold - 1.0)
    }

    /// How a point follows an engine that is warmer than the room \[Pa/K\]: as a steady drift that has gone as far.
    pub(super) fn by_warmth(&self, at: &ModelPartials, time: f64) -> f64 {
        if time <= 0.0 {
            return 0.0;
        }
        let gone = -(-time / Effects::COOLING_SECONDS).exp_m1();
        -self.by_drift(at, time) * gone / (self.slow.kelvins * time)
    }

    /// How a point follows a drift of the wall's temperature \[Pa s\].
    pub(super) fn by_drift(&self, at: &ModelPartials, time: f64) -> f64 {
        match self.heat {
            Some(_) => at.by_wall_drift,
            // Gas that follows its wall at once is not in a model without heat.
            None => (self.ambient + at.gauge) * time,
        }
    }

    /// The model's parameters at a rate and start pressure.
    pub(super) fn with(&self, rate: f64, start: f64) -> ModelParameters {
        ModelParameters {
            rate,
            start,
            ambient: self.ambient,
            heat: self.heat,
        }
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
    pub(super) model: &'a DecayModel,
    pub(super) points: &'a [Point],
    pub(super) times: &'a [f64],
    pub(super) known: &'a Known,
    pub(super) terms: &'a [Term],
    pub(super) held_rate: Option<f64>,
    /// The model at the points, and of each term how far it is off, that by its parameter, and its own change by it: kept to
    /// save their allocation.
    at: Vec<ModelPartials>,
    offs: Vec<(f64, f64, f64)>,
}

impl<'a> Problem<'a> {
    pub(super) fn new(
        model: &'a DecayModel,
        (points, times): (&'a [Point], &'a [f64]),
        (known, terms): (&'a Known, &'a [Term]),
    ) -> Self {
        Self {
            model,
            points,
            times,
            known,
            terms,
            held_rate: None,
            at: Vec::with_capacity(points.len()),
            offs: Vec::with_capacity(terms.len()),
        }
    }

    pub(super) fn with_held_rate(mut self, rate: f64) -> Self {
        self.held_rate = Some(rate);
        self
    }

    /// How many parameters come before the shared terms.
    fn own(&self) -> usize {
        if self.held_rate.is_some() { 1 } else { 2 }
    }

    /// Rate, start pressure and shared terms behind the solver's parameters.
    pub(super) fn meaning(&self, theta: &[f64]) -> (f64, f64, SharedValues) {
        let mut values = self.known.values();
        let (own, shared) = theta.split_at(self.own().min(theta.len()));
        let (rate, start) = match (self.held_rate, own) {
            (Some(k), [g0, ..]) => (k, *g0),
            (None, [k, g0, ..]) => (*k, *g0),
            _ => (f64::NAN, f64::NAN),
        };
        for (term, x) in self.terms.iter().zip(shared) {
            let off = self.known.off(*term, *x).0 * self.known.uncertainty(*term);
            match (term, &mut values.heat) {
                (Term::Offset, _) => values.offset += off,
                (Term::Scale, _) => values.scale = off,
                (Term::Ambient, _) => values.ambient += off,
                (Term::SettlingTime, Some(heat)) => heat.ln_settling_time += off,
                (Term::StartExcess, Some(heat)) => heat.start_excess += off,
                (Term::WallDrift, Some(heat)) => heat.wall_drift += off,
                (Term::DriftBend, _) => values.slow.bend += off,
                (Term::Warmth, _) => values.slow.warmth += off,
                (_, None) => {}
            }
        }
        (rate, start, values)
    }
}

impl Residuals for Problem<'_> {
    fn parameters(&self) -> usize {
        self.own() + self.terms.len()
    }

    fn residuals(&self) -> usize {
        self.points.len() + self.terms.len()
    }

    fn evaluate(&mut self, theta: &[f64], residuals: &mut [f64], jacobian: &mut [f64]) -> bool {
        let (rate, start, shared) = self.meaning(theta);
        let model = shared.with(rate, start);
        if self
            .model
            .follow(&model, self.times, &mut self.at)
            .is_none()
        {
            return false;
        }
        let gain = 1.0 + shared.scale;
        let width = self.parameters();
        let terms_from = self.own();
        self.offs.clear();
        let terms = self.terms.iter().zip(theta.iter().skip(terms_from));
        self.offs.extend(terms.map(|(term, x)| {
            let (off, by_x) = self.known.off(*term, *x);
            (off, by_x, by_x * self.known.uncertainty(*term))
        }));
        let mut rows = residuals.iter_mut().zip(jacobian.chunks_exact_mut(width));
        for ((point, at), (residual, row)) in self.points.iter().zip(&self.at).zip(&mut rows) {
            *residual =
                (shared.shows(at, point.time) + point.beside - point.reading) * point.weight;
            let weight = gain * point.weight;
            let own: &[f64] = if self.held_rate.is_some() {
                &[at.by_start]
            } else {
                &[at.by_rate, at.by_start]
            };
            let (of_own, of_terms) = row.split_at_mut(own.len());
            for (entry, slope) in of_own.iter_mut().zip(own) {
                *entry = weight * slope;
            }
            let terms = self.terms.iter().zip(&self.offs);
            for (entry, (term, (_, _, step))) in of_terms.iter_mut().zip(terms) {
                let slope = match term {
                    Term::Offset => 1.0 / gain,
                    Term::Scale => at.gauge / gain,
                    Term::Ambient => at.by_ambient,
                    Term::SettlingTime => at.by_ln_settling_time,
                    Term::StartExcess => at.by_start_excess,
                    Term::WallDrift => at.by_wall_drift,
                    Term::DriftBend => shared.by_bend(at, point.time) / gain,
                    Term::Warmth => shared.by_warmth(at, point.time) / gain,
                };
                *entry = step * slope * weight;
            }
        }
        for (j, ((off, by_x, _), (residual, row))) in self.offs.iter().zip(rows).enumerate() {
            *residual = *off;
            row.fill(0.0);
            if let Some(entry) = row.get_mut(terms_from + j) {
                *entry = *by_x;
            }
        }
        true
    }
}
