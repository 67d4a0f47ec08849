//! What the bench does of itself beside the leak.
//!
//! Each effect ([`Effects`]) moves every reading by so much for one unit of it: a column, which follows from the model at the readings.
//! By its known size the readings are told beforehand what the gauge shows beside the leak ([`tell`]), and are then fitted as ever. What
//! is not known of the size is one more term of the fit, known beforehand to within its standard uncertainty, added to the fit linearized
//! at its optimum: with c what one uncertainty moves the weighted readings by, r the row of the pseudo-inverse that belongs to the rate,
//! and a = c - Q Q^T c what of it the other terms can't take, the rate moves by (r c)(a e)/(1 + a a) with e the weighted residuals, and its
//! variance grows by (r c)^2/(1 + a a) (`[JCGM100]`, 5.1.2 and F.2.4, after conditioning on the readings). Where a leak looks like the
//! effect, as in any short hold, a is nothing and the readings tell nothing of its size. How warm the engine is is a term from the start:
//! over hours it bends the curve.
//!
//! Takes points and a fit of them; gives what moves the points, and what widens the rate. Checked by `tests/tests/effects.rs` on
//! simulated benches.

use uom::si::time::second;

use super::least_squares::{Circumstances, Data, Solved};
use super::problem::{Point, SharedValues};
use super::terms::PartKind;
use crate::measured::{Measurable, Measured};
use crate::numerics::least_squares::LinearizedFit;
use crate::readings::{Bench, Effects};
use crate::vessel::{DecayModel, ModelPartials};

/// Fits by which the effects' columns are found: each column is known as well as the rate, so that of an effect of a tenth a hundredth
/// is left by the first and a thousandth by the second.
const ROUNDS: usize = 2;

/// What is not known of an effect.
#[derive(Debug, Clone, Copy)]
pub(super) struct Open {
    pub(super) kind: PartKind,
    /// As a standard uncertainty of the rate \[1/s\].
    pub(super) of_rate: f64,
    /// By how much the rate moves for what the readings tell of it \[1/s\].
    pub(super) moves: f64,
}

/// A fit, as the effects see it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fitted<'a> {
    pub(super) points: &'a [Point],
    /// The model at the points.
    pub(super) at: &'a [ModelPartials],
    /// How the rate follows each weighted residual.
    pub(super) rate_row: &'a [f64],
    /// The weighted residuals, those of the terms last.
    pub(super) weighted: &'a [f64],
    /// The fit at its optimum.
    pub(super) linear: Option<&'a LinearizedFit>,
    pub(super) rate: f64,
    /// Start gauge pressure \[Pa\].
    pub(super) start: f64,
    pub(super) shared: SharedValues,
}

/// An effect of this size beside a fit.
struct Sized {
    kind: PartKind,
    value: f64,
    uncertainty: f64,
    /// What one unit of it moves each point by \[Pa\].
    column: Vec<f64>,
}

/// Tells the points what the gauge shows of the effects beside the leak. None where no fit is found.
pub(super) fn tell(
    data: &mut Data,
    model: &DecayModel,
    circumstances: &Circumstances,
    bench: &Bench,
) -> Option<()> {
    if !bench.effects.move_the_needle() {
        return Some(());
    }
    let mut guess = None;
    for _ in 0..ROUNDS {
        let solved = Solved::find(model, data, circumstances, guess.as_deref())?;
        let at = solved.at_points()?;
        let mut beside = vec![0.0; at.len()];
        for effect in sized(bench, &Fitted::of(&solved, &at)) {
            for (beside, by_unit) in beside.iter_mut().zip(&effect.column) {
                *beside += effect.value * by_unit;
            }
        }
        guess = Some(solved.theta);
        for (point, beside) in data.points.iter_mut().zip(beside) {
            point.beside = beside;
        }
    }
    Some(())
}

/// What is not known of the effects, in the rate of a law's fit; `widening` multiplies it.
pub(super) fn open(best: &Solved<'_>, bench: &Bench, widening: f64) -> Vec<Open> {
    if bench.effects == Effects::none() {
        return Vec::new();
    }
    let at = best.at_points().unwrap_or_default();
    let linear = best.linearized();
    let fit = Fitted {
        linear: linear.as_ref(),
        ..Fitted::of(best, &at)
    };
    let mut open = open_of(bench, &fit);
    for effect in &mut open {
        effect.of_rate *= widening;
    }
    open
}

/// What is not known of the effects, in a rate.
pub(super) fn open_of(bench: &Bench, fit: &Fitted<'_>) -> Vec<Open> {
    let each = sized(bench, fit);
    let each = each.iter().filter(|effect| effect.kind != PartKind::Warmth);
    each.map(|effect| fit.open(effect)).collect()
}

/// What is not known of an effect whose course is known to a relative uncertainty.
fn spread_of<Q: Measurable>(size: &Measured<Q>, relative: f64) -> f64 {
    Q::spread_si(size.standard_uncertainty()).hypot(relative * size.value().si())
}

/// The effects of a bench beside a fit; the zero is one of its terms already.
fn sized(bench: &Bench, fit: &Fitted<'_>) -> Vec<Sized> {
    let Effects {
        zero: _,
        lag,
        stretch,
        creep,
        warmth,
    } = &bench.effects;
    let settled = bench.heat.settled_for.get::<second>();
    let about = lag.as_ref().map_or(0.0, |lag| lag.value().si());
    let cooling = Effects::COOLING_UNCERTAINTY;
    let each = [
        effect(PartKind::Lag, lag.as_ref(), 0.0, || fit.by_lag(about)),
        effect(PartKind::Stretch, stretch.as_ref(), 0.0, || {
            fit.by_stretch()
        }),
        effect(PartKind::Creep, creep.as_ref(), 0.0, || {
            fit.by_creep(settled)
        }),
        effect(PartKind::Warmth, warmth.as_ref(), cooling, || {
            fit.by_warmth()
        }),
    ];
    each.into_iter().flatten().collect()
}

/// An effect whose column is known to a relative uncertainty.
fn effect<Q: Measurable>(
    kind: PartKind,
    size: Option<&Measured<Q>>,
    relative: f64,
    column: impl FnOnce() -> Vec<f64>,
) -> Option<Sized> {
    let size = size?;
    let value = size.value().si();
    Some(Sized {
        kind,
        value,
        uncertainty: spread_of(size, relative),
        column: column(),
    })
}

impl<'a> Fitted<'a> {
    /// A law's fit with the model at its points.
    fn of(solved: &'a Solved<'_>, at: &'a [ModelPartials]) -> Self {
        Self {
            points: &solved.data.points,
            at,
            rate_row: &solved.rate_row,
            weighted: &solved.weighted,
            linear: None,
            rate: solved.rate,
            start: solved.start,
            shared: solved.shared,
        }
    }

    /// An effect as one more term of the fit, known beforehand to within its uncertainty.
    fn open(&self, effect: &Sized) -> Open {
        let by_unit = effect.column.iter().zip(self.points);
        let mut column: Vec<f64> = by_unit
            .map(|(by, point)| by * point.weight * effect.uncertainty)
            .collect();
        column.resize(self.rate_row.len(), 0.0);
        let product = |a: &[f64], b: &[f64]| -> f64 { a.iter().zip(b).map(|(a, b)| a * b).sum() };
        let of_rate = product(&column, self.rate_row);
        // A volume that stretches makes an area of a rate, whatever the rate.
        let linear = self.linear.filter(|_| !effect.kind.is_of_size());
        let apart = linear.and_then(|linear| linear.beside(&column));
        let apart = apart.unwrap_or_default();
        let known = 1.0 + product(&apart, &apart);
        Open {
            kind: effect.kind,
            of_rate: of_rate.abs() / known.sqrt(),
            moves: of_rate * product(&apart, self.weighted) / known,
        }
    }

    fn column(&self, mut moved: impl FnMut(&Point, &ModelPartials) -> f64) -> Vec<f64> {
        let points = self.points.iter().zip(self.at);
        points.map(|(point, at)| moved(point, at)).collect()
    }

    /// Of a gauge's lag \[Pa/s\] of about so many seconds: it shows the pressure of so long ago, once the pump has stopped for longer.
    fn by_lag(&self, about: f64) -> Vec<f64> {
        self.column(|point, at| {
            if point.time > 0.0 {
                at.by_time * (-point.time / about).exp_m1()
            } else {
                0.0
            }
        })
    }

    /// Of the stretch \[Pa per 1/Pa\]: of a volume V (1 + c g) the leak empties V (1 + c (p_a + 2 g)), d(p V)/dp, so that the same fall
    /// takes so much longer.
    fn by_stretch(&self) -> Vec<f64> {
        let mut before = (0.0, self.shared.ambient + 2.0 * self.start);
        let mut slower = 0.0;
        self.column(|point, at| {
            let here = (point.time, self.shared.ambient + 2.0 * at.gauge);
            slower += 0.5 * (here.0 - before.0) * (here.1 + before.1);
            before = here;
            if point.time > 0.0 {
                -at.by_rate * self.rate * slower / point.time
            } else {
                0.0
            }
        })
    }

    /// Of the creep \[Pa per 1/Pa\], the pump having stopped so long \[s\] before the first reading: the growth x follows the gauge
    /// pressure, dx/dt = (g - x)/tau, and of each bit of it the pressure keeps what the leak leaves of a step of pressure.
    fn by_creep(&self, settled: f64) -> Vec<f64> {
        let left = |time: f64| (-time / Effects::CREEP_SECONDS).exp();
        let mut before = (0.0, self.start, self.shared.ambient + self.start);
        let mut growth = (1.0 - left(settled)) * self.start;
        let mut kept = 0.0;
        self.column(|point, at| {
            let absolute = self.shared.ambient + at.gauge;
            let here = (point.time, at.gauge, absolute / at.by_start);
            let towards = 0.5 * (before.1 + here.1);
            let grown = (towards - growth) * (1.0 - left(here.0 - before.0));
            growth += grown;
            kept -= grown * 0.5 * (before.2 + here.2);
            before = here;
            kept * at.by_start
        })
    }

    /// Of how much warmer than the room the engine is \[Pa/K\].
    fn by_warmth(&self) -> Vec<f64> {
        self.column(|point, at| self.shared.by_warmth(at, point.time))
    }
}
