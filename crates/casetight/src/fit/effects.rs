//! What the bench does of itself beside the leak.
//!
//! Each effect ([`Effects`]) moves every reading by so much for one unit of it: a column, which follows from the model at the readings.
//! By its known size the readings are told beforehand what the gauge shows beside the leak ([`tell`]), and are then fitted as ever. What
//! is not known of the size is one more term of the fit, known beforehand to within its standard uncertainty, added to the fit linearized
//! at its optimum ([`Fitted::open`]; `[JCGM100]`, 5.1.2 and F.2.4, after conditioning on the readings). Where a leak looks like the
//! effect, as in any short hold, the readings tell nothing of its size. How warm the engine is is a term from the start: over hours it
//! bends the curve.
//!
//! Takes points and a fit of them; gives what moves the points, and what widens the rate. Checked by `tests/tests/effects.rs` on
//! simulated benches.

use uom::si::time::second;

use super::beside::{Fitted, Open, Sized};
use super::least_squares::{Circumstances, Data, Solved};
use super::terms::{ByTemperature, PartKind};
use super::thermometer;
use crate::measured::{Measurable, Measured};
use crate::readings::{Bench, Effects};
use crate::vessel::DecayModel;

/// Fits by which the effects' columns are found: each column is known as well as the rate, so that of an effect of a tenth a hundredth
/// is left by the first and a thousandth by the second.
const ROUNDS: usize = 2;

/// Tells the points what the gauge shows of the effects beside the leak. None where no fit is found.
pub(super) fn tell(
    data: &mut Data,
    model: &DecayModel,
    circumstances: &Circumstances,
    bench: &Bench,
) -> Option<()> {
    if !bench.effects.move_the_needle() && circumstances.known.logged.is_none() {
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
    if bench.effects == Effects::none() && best.circumstances.known.logged.is_none() {
        return Vec::new();
    }
    let at = best.at_points().unwrap_or_default();
    let mut open = open_of(bench, &Fitted::of(best, &at));
    for effect in &mut open {
        effect.of_rate *= widening;
    }
    open
}

/// What a logged temperature makes of the needle's course beside a law's fit.
pub(super) fn by_temperature(best: &Solved<'_>, bench: &Bench) -> Option<ByTemperature> {
    let logged = best.circumstances.known.logged.as_ref()?;
    let at = best.at_points()?;
    let kelvins = bench.ambient().kelvins();
    let fitted = Fitted::of(best, &at);
    Some(thermometer::moves_by(logged, &fitted, kelvins))
}

/// What is not known of the effects, in a rate.
pub(super) fn open_of(bench: &Bench, fit: &Fitted<'_>) -> Vec<Open> {
    let effects = sized(bench, fit);
    let (apart, of_rate): (Vec<_>, Vec<_>) = (effects.iter())
        .filter(|effect| effect.kind != PartKind::Warmth)
        .partition(|effect| is_told_by_no_curve(effect.kind));
    let mut open: Vec<Open> = Vec::new();
    let apart = apart
        .into_iter()
        .flat_map(|effect| fit.open(None, &[effect]));
    for one in apart.chain(fit.open(Some(fit.linear), &of_rate)) {
        match open.iter_mut().find(|open| open.kind == one.kind) {
            Some(open) => {
                open.of_rate = open.of_rate.hypot(one.of_rate);
                open.moves += one.moves;
            }
            None => open.push(one),
        }
    }
    open
}

/// Whether the needle's curve tells nothing of an effect's size: a volume that stretches makes an area of a rate, whatever the rate, and
/// how the gas followed a thermometer is no more steady than the thermometer's own course.
fn is_told_by_no_curve(kind: PartKind) -> bool {
    kind.is_of_size() || kind == PartKind::Thermometer
}

/// What is not known of an effect whose course is known to a relative uncertainty.
fn spread_of<Q: Measurable>(size: &Measured<Q>, relative: f64) -> f64 {
    Q::spread_si(size.standard_uncertainty()).hypot(relative * size.value().si())
}

/// The effects of a bench beside a fit; the zero is one of its terms already, and a needle that sticks moves no curve.
fn sized(bench: &Bench, fit: &Fitted<'_>) -> Vec<Sized> {
    let Effects {
        zero: _,
        lag,
        stretch,
        creep,
        warmth,
        sticks: _,
    } = &bench.effects;
    let settled = bench.heat.settled_for.get::<second>();
    let about = lag.as_ref().map_or(0.0, |lag| lag.value().si());
    let kelvins = bench.ambient().kelvins();
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
    let logged = fit.known.logged.iter();
    let logged = logged.flat_map(|logged| thermometer::sized(logged, fit, kelvins));
    each.into_iter().flatten().chain(logged).collect()
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

impl Fitted<'_> {
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
    /// pressure, dx/dt = (g - x)/tau.
    fn by_creep(&self, settled: f64) -> Vec<f64> {
        let left = |time: f64| (-time / Effects::CREEP_SECONDS).exp();
        let mut before = (0.0, self.start);
        let mut growth = (1.0 - left(settled)) * self.start;
        let first = -growth;
        let shrunk = self.column(|point, at| {
            let towards = 0.5 * (before.1 + at.gauge);
            growth += (towards - growth) * (1.0 - left(point.time - before.0));
            before = (point.time, at.gauge);
            -growth
        });
        // What is in a larger volume leaves it as much more slowly.
        self.carried(first, &shrunk, 1.0)
    }

    /// Of how much warmer than the room the engine is \[Pa/K\].
    fn by_warmth(&self) -> Vec<f64> {
        self.column(|point, at| self.shared.by_warmth(at, point.time))
    }
}

#[cfg(test)]
mod slopes_tests;
