//! A value that can't be negative, with its interval.

use crate::numerics::probability;

/// A value with the interval that holds the truth as often as `level` says.
///
/// The value and the interval's lower end are never below zero: where the best estimate would be, the value is zero and
/// the upper end is what a best estimate of zero would have.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct Interval {
    /// Best estimate.
    pub value: f64,
    /// Lower end; zero where the truth may be zero.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Confidence level, 0.95 for 95 %.
    pub level: f64,
    /// Lower end before it was cut off at zero: keeps the lower half-width.
    #[cfg_attr(feature = "serde", serde(skip))]
    uncut_low: f64,
}

impl Interval {
    /// The interval of a size that can't be negative, from an estimate that may be.
    #[doc(hidden)]
    #[must_use]
    pub fn of_size(value: f64, low: f64, high: f64, level: f64) -> Self {
        let moved = value.min(0.0);
        Self::new(value - moved, low - moved, high - moved, level)
    }

    /// An end that is no number is open: nothing is known of that side.
    fn new(value: f64, uncut_low: f64, high: f64, level: f64) -> Self {
        let open = |end: f64, without: f64| if end.is_nan() { without } else { end };
        let uncut_low = open(uncut_low, f64::NEG_INFINITY);
        let high = open(high, f64::INFINITY);
        Self {
            value,
            low: uncut_low.max(0.0),
            high,
            level,
            uncut_low,
        }
    }

    /// The interval of a fixed multiple of the quantity.
    #[must_use]
    pub fn scaled(self, factor: f64) -> Self {
        Self::new(
            factor * self.value,
            factor * self.uncut_low,
            factor * self.high,
            self.level,
        )
    }

    /// The interval after multiplication by an independent factor of one with this relative standard uncertainty: the
    /// half-widths add in quadrature, on the logarithm where the whole interval is above zero.
    #[must_use]
    pub fn widened(self, relative_uncertainty: f64) -> Self {
        if relative_uncertainty <= 0.0 {
            return self;
        }
        let extra = self.coverage_factor() * relative_uncertainty;
        if self.uncut_low > 0.0 {
            let low = self.value * (-(self.value / self.uncut_low).ln().hypot(extra)).exp();
            let high = self.value * (self.high / self.value).ln().hypot(extra).exp();
            Self::new(self.value, low, high, self.level)
        } else {
            let extra = extra * self.value;
            let low = self.value - (self.value - self.uncut_low).hypot(extra);
            // Where the value is zero, its upper end stands for the size.
            let extra =
                self.coverage_factor() * relative_uncertainty * self.value.max(0.5 * self.high);
            Self::new(
                self.value,
                low,
                self.value + (self.high - self.value).hypot(extra),
                self.level,
            )
        }
    }

    /// The same value with ends this many times as far off.
    #[must_use]
    #[doc(hidden)]
    pub fn stretched(self, factor: f64) -> Self {
        let end = |end: f64| self.value + factor * (end - self.value);
        Self::new(self.value, end(self.uncut_low), end(self.high), self.level)
    }

    /// The interval of the difference to a part that is known independently: half-widths add in quadrature.
    #[must_use]
    pub(crate) fn less(self, part: Self) -> Self {
        let value = self.value - part.value;
        let low = (self.value - self.uncut_low).hypot(part.high - part.value);
        let high = (self.high - self.value).hypot(part.value - part.uncut_low);
        Self::of_size(value, value - low, value + high, self.level)
    }

    /// Lower end before it was cut off at zero.
    pub(crate) fn uncut_low(&self) -> f64 {
        self.uncut_low
    }

    /// The interval of a rising function of the quantity that leaves zero at zero.
    #[must_use]
    pub fn map(self, rising: impl Fn(f64) -> f64) -> Self {
        let low = rising(self.low);
        Self::new(rising(self.value), low, rising(self.high), self.level)
    }

    /// Number of standard uncertainties in a half-width, 1.96 at 95 %.
    fn coverage_factor(&self) -> f64 {
        probability::normal_quantile(0.5 + self.level / 2.0)
    }

    /// Probability that the quantity lies at or below a limit: normal on either side of the value with that side's
    /// standard uncertainty, on the logarithm where the whole interval is above zero. One half, which decides nothing, where the
    /// value is not finite or the limit no number. Source: `[JCGM106]` (7.2).
    #[must_use]
    pub fn probability_within(&self, limit: f64) -> f64 {
        if limit.is_nan() || !self.value.is_finite() {
            return 0.5;
        }
        if limit <= 0.0 {
            return 0.0;
        }
        let z = self.coverage_factor();
        let distance = if self.uncut_low > 0.0 {
            let off = (limit / self.value).ln();
            off / if off >= 0.0 {
                (self.high / self.value).ln()
            } else {
                (self.value / self.uncut_low).ln()
            }
        } else {
            let off = limit - self.value;
            off / if off >= 0.0 {
                self.high - self.value
            } else {
                self.value - self.uncut_low
            }
        };
        if distance.is_nan() {
            // 0/0: a value without uncertainty that lies on the limit is within it. Else nothing is known.
            if self.value <= limit && self.high <= limit {
                1.0
            } else {
                0.5
            }
        } else {
            probability::normal_cdf(z * distance)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quadrature_of_independent_factors() {
        // Half-widths of 3 % and 4 % make one of 5 %.
        let z = probability::normal_quantile(0.975);
        let i = Interval::of_size(1.0, (-0.03 * z).exp(), (0.03 * z).exp(), 0.95).widened(0.04);
        assert!((i.high.ln() / z - 0.05).abs() < 1e-12 && (i.low.ln() / z + 0.05).abs() < 1e-12);
    }

    #[test]
    fn a_part_taken_off_adds_its_half_widths_in_quadrature() {
        let whole = Interval::of_size(10.0, 7.0, 13.0, 0.95);
        let left = whole.less(Interval::of_size(4.0, 0.0, 8.0, 0.95));
        assert_eq!((left.value, left.low, left.high), (6.0, 1.0, 11.0));
        // More than there is leaves nothing, with the upper end of nothing.
        let left = whole.less(Interval::of_size(11.0, 7.0, 15.0, 0.95));
        assert_eq!((left.value, left.low, left.high), (0.0, 0.0, 5.0));
    }

    #[test]
    fn an_estimate_below_zero_keeps_the_bound_of_zero() {
        let i = Interval::of_size(-2.0, -4.0, 0.0, 0.95);
        assert_eq!((i.value, i.low, i.high), (0.0, 0.0, 2.0));
    }

    #[test]
    fn probability_of_conformance_from_the_ends() {
        let i = Interval::of_size(2.0, 1.0, 4.0, 0.95);
        assert!((i.probability_within(4.0) - 0.975).abs() < 1e-12);
        assert!((i.probability_within(1.0) - 0.025).abs() < 1e-12);
        assert!((i.probability_within(2.0) - 0.5).abs() < 1e-12);
    }

    #[test]
    fn what_is_no_number_is_within_nothing_and_beyond_nothing() {
        let i = Interval::of_size(2.0, 1.0, 4.0, 0.95);
        assert_eq!(i.probability_within(f64::NAN), 0.5);
        let without_ends = Interval::of_size(2.0, f64::NAN, f64::NAN, 0.95);
        assert_eq!((without_ends.low, without_ends.high), (0.0, f64::INFINITY));
        for limit in [1e-9, 1.0, 2.0, 1e9] {
            let within = without_ends.probability_within(limit);
            assert!((0.05..0.95).contains(&within), "{limit}: {within}");
            let of_nan = Interval::of_size(f64::NAN, 1.0, 4.0, 0.95);
            assert_eq!(of_nan.probability_within(limit), 0.5);
        }
    }
}
