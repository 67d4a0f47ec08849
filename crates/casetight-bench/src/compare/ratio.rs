//! Two tests: the ratio of their areas.

use super::distribution::Ratio;
use super::test::{Known, Shared, SharedVolume, Test};
use super::{CompareError, check_level};
use casetight::below::numerics::probability;
use casetight::estimate::Estimate;
use casetight::quantity::{Area, GaugePressure, Unit};
use casetight::vessel::Direction;

/// Start pressures that differ by less than this part of the larger are the same \[1\]: what a hand pump can be stopped at.
#[cfg(feature = "sheet")]
const SAME_START: f64 = 0.05;

/// Smallest p-value that is told: below it the sums' rounding rules, and the tails of no real gauge are normal.
const LEAST_P: f64 = 1e-12;

/// What became of the leak.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Change {
    /// It fell: the whole interval of the ratio lies below one.
    Fell,
    /// It grew: the whole interval lies above one.
    Grew,
    /// The readings don't tell.
    NotTold,
}

/// Something to know about a comparison, in a sentence ([`std::fmt::Display`]).
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Note {
    /// What both tests have in common.
    Shared(Shared),
    /// The runs started at different pressures.
    Starts {
        /// Before.
        before: GaugePressure,
        /// After.
        after: GaugePressure,
        /// Where the areas are compared.
        at: GaugePressure,
        /// Whether both leaks are taken as orifices, whose areas need no moving.
        orifices: bool,
        /// The unit to state pressures in.
        unit: &'static Unit,
    },
    /// One test under pressure, one under vacuum.
    Directions,
    /// Different sites were blanked.
    Blanks,
    /// The run after is dated before the run before.
    Dates,
    /// The runs were matched though their names differ.
    Names,
}

/// Two tests compared.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// Area before, with all that makes it uncertain.
    pub before: Estimate<Area>,
    /// Area after, likewise.
    pub after: Estimate<Area>,
    /// What was known of the leak before and after.
    pub known: (Known, Known),
    /// Gauge pressure that both areas belong to.
    pub at: GaugePressure,
    /// Area after over area before; an end that the readings don't tell is zero or infinite. Where a test gives a bound only, its
    /// value is an end that is told ([`Comparison::tells_value`]).
    pub ratio: Estimate<f64>,
    /// What became of the leak.
    pub change: Change,
    /// Probability, given both tests, that the leak is smaller than it was. Of bounds that leave it between two values it
    /// is the less telling one; one half where both are lower bounds.
    pub probability_fell: f64,
    /// Two-sided p: how often two tests of one unchanged leak would differ as much, or more, either way. Where a test
    /// gives a lower bound only it is at most this.
    pub p_value: f64,
    /// What to know.
    pub notes: Vec<Note>,
}

/// The ratio of the areas of two tests, after over before, with an interval at this level (0.95 is usual).
///
/// Each area is taken as its interval says: normal to either side, on the logarithm where the whole interval is above
/// zero. What both share ([`Shared`]) is left out of both and only its difference put back: an area whose logarithm answers
/// with s to a shared error b leaves (`s_after` - `s_before`) b in the ratio's. So a shared volume cancels; a shared gauge is
/// taken at its word in both fits, and what is left is the difference of their answers to its offset and scale. The
/// interval of the ratio then is where
///
/// `P(A_after <= r A_before)` = integral of `F_after(r a) dF_before(a)`
///
/// passes (1 - level)/2 and (1 + level)/2. For two well known areas that is
/// `ln r = ln A_after - ln A_before` with the uncertainties in quadrature; it also holds where the sound engine's leak can't
/// be told from none, and the ratio has an upper end only, as Fieller's does `[Fieller1954]`. Coverage: 93 to 97 % of
/// simulated repairs, `docs/src/compare.md`.
///
/// A lower bound (stalled pump, fallen needle) is taken as a leak just so large: the ratio keeps only the end that the
/// bound gives.
///
/// The p-value is `2 min(P(r <= 1), P(r >= 1))` of that distribution, no smaller than 1e-12.
///
/// The areas are those at the tests' own pressures ([`Test::gauge_pressure`]). An orifice has one area at all pressures; for
/// another law bring both to one pressure first ([`Test::at_pressure`]).
///
/// # Errors
/// [`CompareError::Level`]; [`CompareError::VolumeRatio`].
pub fn compare(
    before: &Test,
    after: &Test,
    shared: &Shared,
    level: f64,
) -> Result<Comparison, CompareError> {
    let tail = 0.5 - 0.5 * check_level(level)?;
    let known = (before.known(), after.known());
    let both = known == (Known::Both, Known::Both);
    let common = shared.of_ratio(before, after)?;
    let Sizes {
        before: old,
        after: new,
        gauge,
    } = Sizes::of(before, after, shared);
    let common = common.hypot(gauge);
    // On the logarithm the common part may stand on either side; where one side has none, it stands on the other.
    let distribution = if new.low > 0.0 || old.low <= 0.0 {
        Ratio::new(&old, new.widened(common))
    } else {
        Ratio::new(&old.widened(common), new)
    };

    let Told {
        low,
        high,
        probability_fell,
        p_value,
    } = Told::of(&distribution, known, tail);
    let value = if both {
        new.value / old.value
    } else {
        told_end(low, high)
    };
    let mut notes = Vec::new();
    if *shared != Shared::nothing() {
        notes.push(Note::Shared(*shared));
    }
    if before.direction() != after.direction() {
        notes.push(Note::Directions);
    }
    Ok(Comparison {
        before: before.area(),
        after: after.area(),
        known,
        at: after.gauge_pressure(),
        ratio: Estimate::of_size(value, low, high, level),
        change: Change::by_ends(low, high),
        probability_fell,
        p_value: p_value.max(LEAST_P),
        notes,
    })
}

impl Change {
    fn by_ends(low: f64, high: f64) -> Self {
        if high < 1.0 {
            Self::Fell
        } else if low > 1.0 {
            Self::Grew
        } else {
            Self::NotTold
        }
    }
}

/// The end that stands for a ratio of which only ends are told.
fn told_end(low: f64, high: f64) -> f64 {
    if high.is_finite() { high } else { low }
}

/// What the distribution of the ratio tells, as far as each end of the ratio is known at all.
struct Told {
    low: f64,
    high: f64,
    probability_fell: f64,
    p_value: f64,
}

impl Told {
    fn of(distribution: &Ratio, known: (Known, Known), tail: f64) -> Self {
        let (low_known, high_known) = match known {
            (Known::AtLeast, Known::AtLeast) => (false, false),
            (Known::AtLeast, _) => (false, true),
            (_, Known::AtLeast) => (true, false),
            _ => (true, true),
        };
        let low = if low_known {
            distribution.quantile(tail)
        } else {
            0.0
        };
        let high = if high_known {
            distribution.quantile(1.0 - tail)
        } else {
            f64::INFINITY
        };
        let below = distribution.at_most(1.0);
        let (probability_fell, p_value) = match (low_known, high_known) {
            (true, true) => (below, 2.0 * below.min(1.0 - below)),
            (false, true) => (below, (2.0 * (1.0 - below)).min(1.0)),
            (true, false) => (below, (2.0 * below).min(1.0)),
            (false, false) => (0.5, 1.0),
        };
        Self {
            low,
            high,
            probability_fell,
            p_value,
        }
    }
}

/// The two areas as they enter the ratio, and what a shared gauge leaves in it.
struct Sizes {
    before: Estimate<f64>,
    after: Estimate<f64>,
    /// Relative standard uncertainty.
    gauge: f64,
}

impl Sizes {
    /// With a shared gauge taken at its word, unless each test's own fit of the gauge tells more: where a needle was watched
    /// until it came to rest, say.
    fn of(before: &Test, after: &Test, shared: &Shared) -> Self {
        let each = Self {
            before: before.by_readings().si(),
            after: after.by_readings().si(),
            gauge: 0.0,
        };
        let (true, Some(old), Some(new)) = (shared.gauge, before.held(), after.held()) else {
            return each;
        };
        let squares = old
            .answers
            .iter()
            .zip(new.answers)
            .map(|(a, b)| (b - a).powi(2));
        let held = Self {
            before: old.area.si(),
            after: new.area.si(),
            gauge: squares.sum::<f64>().sqrt(),
        };
        if held.width() < each.width() {
            held
        } else {
            each
        }
    }

    /// Of the ratio's logarithm, in standard uncertainties.
    fn width(&self) -> f64 {
        let z = |i: &Estimate<f64>| 2.0 * probability::normal_quantile(0.5 + i.level / 2.0);
        let width = |i: &Estimate<f64>| (i.high / i.low).ln() / z(i);
        width(&self.before)
            .hypot(width(&self.after))
            .hypot(self.gauge)
    }
}

/// A note of the pressures that two tests start from and are compared at, where they differ by more than [`SAME_START`].
#[cfg(feature = "sheet")]
pub(super) fn unlike_starts(before: &Test, after: &Test, at: GaugePressure) -> Option<Note> {
    let (one, other) = (before.gauge_pressure(), after.gauge_pressure());
    let size = |p: GaugePressure| p.pascals().abs();
    let differ = (size(one) - size(other)).abs() > SAME_START * size(one).max(size(other));
    differ.then(|| Note::Starts {
        before: one,
        after: other,
        at,
        orifices: before.is_orifice() && after.is_orifice(),
        unit: after.unit(),
    })
}

impl Shared {
    pub(super) fn has_volume(&self) -> bool {
        matches!(
            self.volume,
            SharedVolume::Same | SharedVolume::InPart { .. }
        )
    }
}

impl Comparison {
    /// Pressure or vacuum of the test after.
    #[must_use]
    pub fn direction(&self) -> Direction {
        Direction::of(self.at).unwrap_or(Direction::Pressure)
    }

    /// Whether both tests tell the leak's size, so that the ratio is more than ends.
    #[must_use]
    pub fn tells_value(&self) -> bool {
        self.known == (Known::Both, Known::Both)
    }

    /// Whether the p-value is an upper bound.
    #[must_use]
    pub fn p_is_bound(&self) -> bool {
        self.known.0 == Known::AtLeast || self.known.1 == Known::AtLeast
    }
}
