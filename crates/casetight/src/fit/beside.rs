//! A fit as what moves the needle beside the leak sees it: the model at the points, and how the rate follows each.
//!
//! Takes an optimum; gives columns, what one unit of something moves each point by. Checked with the effects that use it
//! ([`super::effects`], [`super::thermometer`]).

use super::least_squares::Solved;
use super::problem::{Known, Point, SharedValues};
use super::terms::PartKind;
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
    pub(super) rate: f64,
    /// Start gauge pressure \[Pa\].
    pub(super) start: f64,
    pub(super) shared: SharedValues,
}

/// An effect of this size beside a fit.
pub(super) struct Sized {
    pub(super) kind: PartKind,
    pub(super) value: f64,
    pub(super) uncertainty: f64,
    /// What one unit of it moves each point by \[Pa\].
    pub(super) column: Vec<f64>,
}

impl<'a> Fitted<'a> {
    /// A law's fit with the model at its points.
    pub(super) fn of(solved: &'a Solved<'_>, at: &'a [ModelPartials]) -> Self {
        Self {
            known: &solved.circumstances.known,
            points: &solved.data.points,
            at,
            rate_row: &solved.rate_row,
            rate: solved.rate,
            start: solved.start,
            shared: solved.shared,
        }
    }

    pub(super) fn column(&self, mut moved: impl FnMut(&Point, &ModelPartials) -> f64) -> Vec<f64> {
        let points = self.points.iter().zip(self.at);
        points.map(|(point, at)| moved(point, at)).collect()
    }

    /// Of what changes the pressure by such parts of itself, at the start and at the points \[Pa\]: of each bit of it the gauge keeps
    /// what the leak leaves of a step of the start pressure.
    pub(super) fn carried(&self, first: f64, parts: &[f64]) -> Vec<f64> {
        let mut before = (first, self.shared.ambient + self.start);
        let mut kept = 0.0;
        let points = self.at.iter().zip(parts);
        let each = points.map(|(at, part)| {
            // Where the needle has come to rest nothing is left of any step.
            if at.by_start <= AT_REST {
                return 0.0;
            }
            let here = (*part, (self.shared.ambient + at.gauge) / at.by_start);
            kept += (here.0 - before.0) * 0.5 * (here.1 + before.1);
            before = here;
            kept * at.by_start
        });
        each.collect()
    }
}
