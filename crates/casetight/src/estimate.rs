//! An estimated size: the value, the ends of its interval, and the level at which they hold.

use std::f64::consts::FRAC_PI_2;
use std::fmt;

use crate::measured::Measurable;
use crate::numerics::probability;
use crate::numerics::root::newton_bracketed;
use crate::quantity::TradeUnits;

/// A quantity that is not below zero, with the interval that holds the truth as often as `level` says.
///
/// The value and the interval's lower end are never below zero: where the best estimate would be, the value is zero and
/// the upper end is what a best estimate of zero would have. An end that nothing bounds is infinite.
///
/// ```
/// use casetight::estimate::Estimate;
/// use casetight::quantity::{Length, TradeUnits};
/// use uom::si::length::millimeter;
///
/// let mm = Length::new::<millimeter>;
/// let hole = Estimate::of_size(mm(0.5), mm(0.4), mm(0.7), 0.95);
/// assert!((hole.probability_within(mm(0.7)) - 0.975).abs() < 1e-9);
/// let shown = hole.map(|d| d.get::<millimeter>());
/// assert!((shown.high - 0.7).abs() < 1e-12);
/// assert_eq!(hole.to_string(), "0.5 mm (0.4 mm to 0.7 mm, 95 %)");
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct Estimate<Q> {
    /// Best estimate.
    pub value: Q,
    /// Lower end; zero where the truth may be zero.
    pub low: Q,
    /// Upper end.
    pub high: Q,
    /// Confidence level, 0.95 for 95 %.
    pub level: f64,
    /// Lower end before it was cut off at zero \[SI unit\]: keeps the lower half-width.
    #[cfg_attr(feature = "serde", serde(skip))]
    uncut_low: f64,
}

impl<Q: Measurable<Spread = Q>> Estimate<Q> {
    /// The interval of a size, from an estimate and ends that may lie below zero. An end that is no number is open.
    #[must_use]
    pub fn of_size(value: Q, low: Q, high: Q, level: f64) -> Self {
        let [value, low, high] = [value, low, high].map(Q::spread_si);
        let moved = value.min(0.0);
        Self::cut(value - moved, low - moved, high - moved, level)
    }

    /// Of a size that is only known to be no less than this.
    #[must_use]
    pub fn at_least(bound: Q, level: f64) -> Self {
        let bound = Q::spread_si(bound);
        Self::cut(bound, bound, f64::INFINITY, level)
    }

    /// As numbers in the SI unit.
    #[must_use]
    pub fn si(self) -> Estimate<f64> {
        Estimate {
            value: Q::spread_si(self.value),
            low: Q::spread_si(self.low),
            high: Q::spread_si(self.high),
            level: self.level,
            uncut_low: self.uncut_low,
        }
    }

    /// Of numbers in the SI unit.
    pub(crate) fn of_si(numbers: Estimate<f64>) -> Self {
        Self {
            value: Q::spread_from_si(numbers.value),
            low: Q::spread_from_si(numbers.low),
            high: Q::spread_from_si(numbers.high),
            level: numbers.level,
            uncut_low: numbers.uncut_low,
        }
    }

    /// Cut off at zero, from numbers in the SI unit. An end that is no number is open: nothing is known of that side.
    fn cut(value: f64, uncut_low: f64, high: f64, level: f64) -> Self {
        let open = |end: f64, without: f64| if end.is_nan() { without } else { end };
        let uncut_low = open(uncut_low, f64::NEG_INFINITY);
        Self::of_si(Estimate {
            value,
            low: uncut_low.max(0.0),
            high: open(high, f64::INFINITY),
            level,
            uncut_low,
        })
    }

    /// The interval of a fixed multiple of the quantity.
    #[must_use]
    pub fn scaled(self, factor: f64) -> Self {
        self.scaled_to(factor)
    }

    /// The interval of another quantity that is a fixed multiple of this one, so many of its SI unit to one of this one's.
    #[must_use]
    pub fn scaled_to<R: Measurable<Spread = R>>(self, factor: f64) -> Estimate<R> {
        let i = self.si();
        Estimate::cut(
            factor * i.value,
            factor * i.uncut_low,
            factor * i.high,
            i.level,
        )
    }

    /// The interval after multiplication by an independent factor of one with this relative standard uncertainty: the
    /// half-widths add in quadrature, on the logarithm where the whole interval is above zero. Where it isn't, the upper end is the
    /// largest product on the circle of both half-widths, since a size and a factor of it that are both large meet there.
    #[must_use]
    pub fn widened(self, relative_uncertainty: f64) -> Self {
        if relative_uncertainty <= 0.0 {
            return self;
        }
        let i = self.si();
        let extra = i.coverage_factor() * relative_uncertainty;
        if i.uncut_low > 0.0 {
            let low = i.value * (-(i.value / i.uncut_low).ln().hypot(extra)).exp();
            let high = i.value * (i.high / i.value).ln().hypot(extra).exp();
            Self::cut(i.value, low, high, i.level)
        } else {
            let low = i.value - (i.value - i.uncut_low).hypot(extra * i.value);
            let high = largest_product(i.value, i.high - i.value, extra);
            Self::cut(i.value, low, high, i.level)
        }
    }

    /// The interval after an independent thing with this standard uncertainty \[SI unit\] is added: half-widths add in quadrature.
    #[must_use]
    pub(crate) fn widened_by(self, standard_uncertainty: f64) -> Self {
        let i = self.si();
        let extra = i.coverage_factor() * standard_uncertainty;
        let low = i.value - (i.value - i.uncut_low).hypot(extra);
        let high = i.value + (i.high - i.value).hypot(extra);
        Self::cut(i.value, low, high, i.level)
    }

    /// The same value with ends this many times as far off.
    #[must_use]
    #[doc(hidden)]
    pub fn stretched(self, factor: f64) -> Self {
        let i = self.si();
        let end = |end: f64| i.value + factor * (end - i.value);
        Self::cut(i.value, end(i.uncut_low), end(i.high), i.level)
    }

    /// The interval of the difference to a part that is known independently: half-widths add in quadrature.
    #[must_use]
    pub(crate) fn less(self, part: Self) -> Self {
        let (i, part) = (self.si(), part.si());
        let value = i.value - part.value;
        let low = (i.value - i.uncut_low).hypot(part.high - part.value);
        let high = (i.high - i.value).hypot(part.value - part.uncut_low);
        let moved = value.min(0.0);
        Self::cut(
            value - moved,
            value - low - moved,
            value + high - moved,
            i.level,
        )
    }

    /// Lower end before it was cut off at zero \[SI unit\].
    pub(crate) fn uncut_low(&self) -> f64 {
        self.uncut_low
    }

    /// The interval of a rising function of the quantity that leaves zero at zero; a change of the unit is one.
    #[must_use]
    pub fn map<R: Measurable<Spread = R>>(self, rising: impl Fn(Q) -> R) -> Estimate<R> {
        let [value, low, high] = [self.value, self.low, self.high].map(|q| R::spread_si(rising(q)));
        Estimate::cut(value, low, high, self.level)
    }

    /// Number of standard uncertainties in a half-width, 1.96 at 95 %.
    fn coverage_factor(&self) -> f64 {
        probability::normal_quantile(0.5 + self.level / 2.0)
    }

    /// Probability that the quantity lies at or below a limit: normal on either side of the value with that side's
    /// standard uncertainty, on the logarithm where the whole interval is above zero. One half, which decides nothing, where the
    /// value is not finite or the limit no number. Source: `[JCGM106]` (7.2).
    #[must_use]
    pub fn probability_within(&self, limit: Q) -> f64 {
        let (i, limit) = (self.si(), Q::spread_si(limit));
        if limit.is_nan() || !i.value.is_finite() {
            return 0.5;
        }
        if limit <= 0.0 {
            return 0.0;
        }
        let distance = if i.uncut_low > 0.0 {
            let off = (limit / i.value).ln();
            off / if off >= 0.0 {
                (i.high / i.value).ln()
            } else {
                (i.value / i.uncut_low).ln()
            }
        } else {
            let off = limit - i.value;
            off / if off >= 0.0 {
                i.high - i.value
            } else {
                i.value - i.uncut_low
            }
        };
        if distance.is_nan() {
            // 0/0: a value without uncertainty that lies on the limit is within it. Else nothing is known.
            if i.value <= limit && i.high <= limit {
                1.0
            } else {
                0.5
            }
        } else {
            probability::normal_cdf(i.coverage_factor() * distance)
        }
    }
}

/// The largest `(value + half cos a) exp(extra sin a)`, a from zero to a quarter turn: where its logarithm's slope,
/// `extra cos a - half sin a/(value + half cos a)`, is zero. Infinite where the half-width is. Source: derived.
fn largest_product(value: f64, half: f64, extra: f64) -> f64 {
    let at = |a: f64| (value + half * a.cos()) * (extra * a.sin()).exp();
    let slope = |a: f64| extra * a.cos() * (value + half * a.cos()) - half * a.sin();
    newton_bracketed(0.0, FRAC_PI_2, 4, |a| (slope(a), f64::NAN)).map_or(value + half, at)
}

/// In a unit that reads well: "0.5 mm (0.4 mm to 0.7 mm, 95 %)"; an end that nothing bounds is "open".
impl<Q: TradeUnits + Measurable<Spread = Q>> fmt::Display for Estimate<Q> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let shown = |size: Q| size.trade().digits(3);
        write!(f, "{} ({} to ", shown(self.value), shown(self.low))?;
        if Q::spread_si(self.high).is_finite() {
            write!(f, "{}", shown(self.high))?;
        } else {
            f.write_str("open")?;
        }
        write!(f, ", {} %)", 100.0 * self.level)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;
    use rand_distr::{Distribution as _, StandardNormal};

    #[test]
    fn quadrature_of_independent_factors() {
        // Half-widths of 3 % and 4 % make one of 5 %.
        let z = probability::normal_quantile(0.975);
        let i = Estimate::of_size(1.0, (-0.03 * z).exp(), (0.03 * z).exp(), 0.95).widened(0.04);
        assert!((i.high.ln() / z - 0.05).abs() < 1e-12 && (i.low.ln() / z + 0.05).abs() < 1e-12);
    }

    /// Against an independent script: the product tried at a thousand places of the circle.
    #[test]
    fn the_upper_end_of_a_size_that_may_be_zero_times_a_factor() {
        let z = probability::normal_quantile(0.975);
        for (value, high, relative) in [(1.0, 2.2, 0.25), (0.0, 1.0, 0.3), (1.0, 2.0, 0.02)] {
            let i = Estimate::of_size(value, -0.2, high, 0.95).widened(relative);
            let tried = (0..1000).map(|n| {
                let a = f64::from(n) * FRAC_PI_2 / 1000.0;
                (value + (high - value) * a.cos()) * (z * relative * a.sin()).exp()
            });
            let largest = tried.fold(0.0, f64::max);
            assert!(
                (i.high / largest - 1.0).abs() < 1e-5,
                "{} {largest}",
                i.high
            );
        }
        let open = Estimate::of_size(1.0, -0.2, f64::INFINITY, 0.95).widened(0.2);
        assert_eq!(open.high, f64::INFINITY);
    }

    /// An area goes with a volume: of a leak that is hardly seen in one that is known to 30 %, the upper end misses no more than it says.
    #[test]
    fn a_wide_factor_keeps_the_upper_ends_promise() {
        const TRIES: usize = 20_000;
        let mut draw = ChaCha8Rng::seed_from_u64(7);
        let z = probability::normal_quantile(0.975);
        for size in [1.0, 2.0, 2.5, 3.0, 6.0] {
            let missed = (0..TRIES).filter(|_| {
                let [noise, factor]: [f64; 2] =
                    std::array::from_fn(|_| StandardNormal.sample(&mut draw));
                let seen = size + noise;
                let interval = Estimate::of_size(seen, seen - z, seen + z, 0.95).widened(0.3);
                size * (0.3 * factor).exp() > interval.high
            });
            let missed = missed.count() as f64 / TRIES as f64;
            assert!(missed < 0.035, "{size}: {missed}");
        }
    }

    #[test]
    fn a_part_taken_off_adds_its_half_widths_in_quadrature() {
        let whole = Estimate::of_size(10.0, 7.0, 13.0, 0.95);
        let left = whole.less(Estimate::of_size(4.0, 0.0, 8.0, 0.95));
        assert_eq!((left.value, left.low, left.high), (6.0, 1.0, 11.0));
        // More than there is leaves nothing, with the upper end of nothing.
        let left = whole.less(Estimate::of_size(11.0, 7.0, 15.0, 0.95));
        assert_eq!((left.value, left.low, left.high), (0.0, 0.0, 5.0));
    }

    #[test]
    fn an_estimate_below_zero_keeps_the_bound_of_zero() {
        let i = Estimate::of_size(-2.0, -4.0, 0.0, 0.95);
        assert_eq!((i.value, i.low, i.high), (0.0, 0.0, 2.0));
    }

    #[test]
    fn probability_of_conformance_from_the_ends() {
        let i = Estimate::of_size(2.0, 1.0, 4.0, 0.95);
        assert!((i.probability_within(4.0) - 0.975).abs() < 1e-12);
        assert!((i.probability_within(1.0) - 0.025).abs() < 1e-12);
        assert!((i.probability_within(2.0) - 0.5).abs() < 1e-12);
    }

    #[test]
    fn what_is_no_number_is_within_nothing_and_beyond_nothing() {
        let i = Estimate::of_size(2.0, 1.0, 4.0, 0.95);
        assert_eq!(i.probability_within(f64::NAN), 0.5);
        let without_ends = Estimate::of_size(2.0, f64::NAN, f64::NAN, 0.95);
        assert_eq!((without_ends.low, without_ends.high), (0.0, f64::INFINITY));
        for limit in [1e-9, 1.0, 2.0, 1e9] {
            let within = without_ends.probability_within(limit);
            assert!((0.05..0.95).contains(&within), "{limit}: {within}");
            let of_nan = Estimate::of_size(f64::NAN, 1.0, 4.0, 0.95);
            assert_eq!(of_nan.probability_within(limit), 0.5);
        }
    }
}
