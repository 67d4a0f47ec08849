//! A fit as what moves the needle beside the leak sees it: the model at the points, and how the rate follows each.
//!
//! Takes an optimum; gives columns, what one unit of something moves each point by. Checked with the effects that use it
//! ([`super::effects`], [`super::thermometer`]).

use nalgebra::{DMatrix, DVector};

use super::least_squares::Solved;
use super::problem::{Known, Point, SharedValues};
use super::terms::PartKind;
use crate::numerics::least_squares::LinearizedFit;
use crate::vessel::ModelPartials;

/// Less than this of a step of the start pressure is nothing.
const AT_REST: f64 = 1e-6;

/// A fit, as the effects see it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fitted<'a> {
    pub(super) known: &'a Known,
    pub(super) points: &'a [Point],
    /// The model at the points.
    pub(super) at: &'a [ModelPartials],
    /// How the rate follows each weighted residual.
    pub(super) rate_row: &'a [f64],
    /// The weighted residuals, those of the terms last.
    pub(super) weighted: &'a [f64],
    /// The fit at its optimum.
    pub(super) linear: &'a LinearizedFit,
    pub(super) rate: f64,
    /// Start gauge pressure \[Pa\].
    pub(super) start: f64,
    pub(super) shared: SharedValues,
    /// The power of the gas's temperature that the fall goes with.
    pub(super) hastens: f64,
}

/// An effect of this size beside a fit.
pub(super) struct Sized {
    pub(super) kind: PartKind,
    pub(super) value: f64,
    pub(super) uncertainty: f64,
    /// What one unit of it moves each point by \[Pa\].
    pub(super) column: Vec<f64>,
}

/// How something that changes the pressure by a part of itself stands at a moment.
#[derive(Clone, Copy)]
struct Carried {
    part: f64,
    /// The whole pressure, and what the leak's own fall has more for the part \[1/s\], both over what is left of a step of the start.
    whole: f64,
    leaks: f64,
}

/// What is not known of an effect.
#[derive(Debug, Clone, Copy)]
pub(super) struct Open {
    pub(super) kind: PartKind,
    /// As a standard uncertainty of the rate \[1/s\].
    pub(super) of_rate: f64,
    /// By how much the rate moves for what the readings tell of it \[1/s\].
    pub(super) moves: f64,
}

impl<'a> Fitted<'a> {
    /// A law's fit with the model at its points.
    pub(super) fn of(solved: &'a Solved<'_>, at: &'a [ModelPartials]) -> Self {
        Self {
            known: &solved.circumstances.known,
            points: &solved.data.points,
            at,
            rate_row: &solved.rate_row,
            weighted: &solved.weighted,
            linear: &solved.linear,
            rate: solved.rate,
            start: solved.start,
            shared: solved.shared,
            hastens: solved.model.hastens(),
        }
    }

    /// Effects as so many more terms of the fit, each known beforehand to within its uncertainty. With C their columns in that, A = C - Q Q^T C
    /// what the fit's own terms can't take of them, e the residuals and r = C^T R what they move the rate by: the rate moves by
    /// r (1 + A^T A)^-1 A^T e, and its variance grows by r (1 + A^T A)^-1 r.
    pub(super) fn open(&self, linear: Option<&LinearizedFit>, effects: &[&Sized]) -> Vec<Open> {
        let weighted = |effect: &Sized| {
            let by_unit = effect.column.iter().zip(self.points);
            let mut column: Vec<f64> = by_unit
                .map(|(by, point)| by * point.weight * effect.uncertainty)
                .collect();
            column.resize(self.rate_row.len(), 0.0);
            column
        };
        let product = |a: &[f64], b: &[f64]| -> f64 { a.iter().zip(b).map(|(a, b)| a * b).sum() };
        let columns: Vec<Vec<f64>> = effects.iter().copied().map(weighted).collect();
        let of_rate = DVector::from_iterator(
            columns.len(),
            columns.iter().map(|column| product(column, self.rate_row)),
        );
        let apart = |column: &Vec<f64>| linear?.beside(column);
        let apart: Vec<Vec<f64>> = columns
            .iter()
            .map(|c| apart(c).unwrap_or_default())
            .collect();
        let told =
            DVector::from_iterator(apart.len(), apart.iter().map(|a| product(a, self.weighted)));
        let known = DMatrix::from_fn(apart.len(), apart.len(), |i, j| {
            let both = apart.get(i).zip(apart.get(j));
            f64::from(u8::from(i == j)) + both.map_or(0.0, |(a, b)| product(a, b))
        });
        let left = known
            .cholesky()
            .map(|known| (known.solve(&of_rate), known.solve(&told)));
        let (spread, sizes) = left.unwrap_or_else(|| (of_rate.clone(), 0.0 * &told));
        let each = effects
            .iter()
            .zip(of_rate.iter().zip(spread.iter().zip(&sizes)));
        each.map(|(effect, (of_rate, (spread, size)))| Open {
            kind: effect.kind,
            of_rate: (of_rate * spread).max(0.0).sqrt(),
            moves: of_rate * size,
        })
        .collect()
    }

    pub(super) fn column(&self, mut moved: impl FnMut(&Point, &ModelPartials) -> f64) -> Vec<f64> {
        let points = self.points.iter().zip(self.at);
        points.map(|(point, at)| moved(point, at)).collect()
    }

    /// Of what changes the pressure by such parts of itself, at the start and at the points \[Pa\]: of each bit of it the gauge keeps
    /// what the leak leaves of a step of the start pressure. The leak's own fall goes with so high a power of the same parts.
    pub(super) fn carried(&self, first: f64, parts: &[f64], hastens: f64) -> Vec<f64> {
        let mut before = Carried {
            part: first,
            whole: self.shared.ambient + self.start,
            leaks: 0.0,
        };
        let (mut kept, mut time) = (0.0_f64, 0.0);
        let points = self.points.iter().zip(self.at).zip(parts);
        let each = points.map(|((point, at), part)| {
            // Where the needle has come to rest nothing is left of any step.
            if at.by_start <= AT_REST {
                return 0.0;
            }
            let here = Carried {
                part: *part,
                whole: (self.shared.ambient + at.gauge) / at.by_start,
                leaks: hastens * part * at.by_time / at.by_start,
            };
            kept += 0.5 * (here.part - before.part) * (here.whole + before.whole);
            kept += 0.5 * (point.time - time) * (here.leaks + before.leaks);
            (before, time) = (here, point.time);
            kept * at.by_start
        });
        each.collect()
    }
}
