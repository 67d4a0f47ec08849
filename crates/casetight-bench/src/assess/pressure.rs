//! Areas of several runs at one pressure.

use super::Assumptions;
use casetight::below::area_moved;
use casetight::fit::CANDIDATES;
use casetight::quantity::GaugePressure;
use casetight::readings::Bench;
use casetight::vessel::{DecayLaw, Direction, VesselError};

/// The pressure that the areas of several runs are told at: the one nearest to zero that they start from, which all of them passed
/// through. A run that only bounds its leak, as it is said here, has no part in it where another measures one: a stalled pump hardly
/// left zero.
pub(crate) fn common_pressure(
    starts: impl IntoIterator<Item = (GaugePressure, bool)>,
) -> Option<GaugePressure> {
    let starts = starts.into_iter();
    let first = starts.min_by(|(one, of_one), (other, of_other)| {
        let nearer = one.pascals().abs().total_cmp(&other.pascals().abs());
        of_one.cmp(of_other).then(nearer)
    });
    first.map(|(start, _)| start)
}

impl Assumptions {
    /// The laws that a leak may follow before any reading, with their probabilities.
    pub(crate) fn laws(&self) -> Vec<(DecayLaw, f64)> {
        match self.law {
            Some(law) => vec![(law, 1.0)],
            None => CANDIDATES.iter().map(|c| (c.law, c.prior)).collect(),
        }
    }
}

/// The gas and the two gauge pressures that an area is moved between.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Move<'b> {
    /// Of the run.
    pub(crate) bench: &'b Bench,
    /// Pressure or vacuum.
    pub(crate) direction: Direction,
    /// Where the area belongs.
    pub(crate) from: GaugePressure,
    /// Where it is wanted.
    pub(crate) to: GaugePressure,
}

impl Move<'_> {
    /// What an area is multiplied by, and the relative standard uncertainty that the laws leave in it; none to the other side of
    /// ambient.
    ///
    /// # Errors
    /// A law that is not valid.
    pub(crate) fn of_area(
        &self,
        laws: impl IntoIterator<Item = (DecayLaw, f64)>,
    ) -> Result<Option<(f64, f64)>, VesselError> {
        let ambient = self.bench.ambient().pressure.pascals();
        let ratio = |gauge: GaugePressure| gauge.pascals() / ambient;
        let gas = (&self.bench.gas, self.direction);
        area_moved(gas, laws.into_iter(), (ratio(self.from), ratio(self.to)))
    }

    /// What a lower bound is multiplied by to stay one whichever law it is.
    ///
    /// # Errors
    /// A law that is not valid.
    pub(crate) fn of_lower_bound(
        &self,
        laws: impl IntoIterator<Item = (DecayLaw, f64)>,
    ) -> Result<Option<f64>, VesselError> {
        let mut least = None;
        for law in laws {
            let Some((factor, _)) = self.of_area([law])? else {
                return Ok(None);
            };
            least = Some(least.map_or(factor, |least: f64| least.min(factor)));
        }
        Ok(least.or(Some(1.0)))
    }
}
