//! Scales and ticks: from data values to a fraction of an axis, and the round values worth a label.

use super::text::superscript;

/// Largest magnitude that is drawn, so that no span, sum or power of ten overflows.
const LARGEST: f64 = 1e120;
/// Smallest magnitude that is told apart from zero, and the smallest value on a logarithmic axis.
const SMALLEST: f64 = 1e-120;
/// A span below this share of the values is one value for the eye, and for the digits of an `f64`.
const DEGENERATE: f64 = 1e-9;
/// Air left between the outermost value and the end of the axis, as a share of the span.
const PADDING: f64 = 0.06;
/// Where an interval's open end is drawn: a little beyond the axis, so that its cap is cut off.
const BEYOND: f64 = 0.1;

/// How values are spread along an axis.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Scale {
    /// Equal differences get equal lengths.
    Linear,
    /// Equal ratios get equal lengths; values that are not positive have no place.
    Log,
}

impl Scale {
    /// Whether `value` has a place on an axis of this scale.
    pub(super) fn draws(self, value: f64) -> bool {
        // A NaN fails both comparisons.
        match self {
            Self::Linear => value.abs() <= LARGEST,
            Self::Log => (SMALLEST..=LARGEST).contains(&value),
        }
    }
}

/// The values an axis spans: finite, `low < high`, and positive on a logarithmic scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Range {
    low: f64,
    high: f64,
    scale: Scale,
}

impl Range {
    /// The range as asked for, or `None` where it is empty, reversed or not drawable.
    pub(super) fn fixed(scale: Scale, low: f64, high: f64) -> Option<Self> {
        let drawable = scale.draws(low) && scale.draws(high);
        (drawable && wide_enough(scale, low, high)).then_some(Self { low, high, scale })
    }

    /// A range with a little air around the drawable values among `values`.
    ///
    /// No value gives 0 to 1 (logarithmic: 1 to 10); values that are all equal sit in the middle.
    pub(super) fn around(scale: Scale, values: impl IntoIterator<Item = f64>) -> Self {
        let ends = values.into_iter().filter(|value| scale.draws(*value)).fold(
            None,
            |ends: Option<(f64, f64)>, value| {
                Some(ends.map_or((value, value), |(low, high)| {
                    (low.min(value), high.max(value))
                }))
            },
        );
        let (low, high) = match (scale, ends) {
            (Scale::Linear, None) => (0.0, 1.0),
            (Scale::Log, None) => (1.0, 10.0),
            (_, Some((low, high))) if wide_enough(scale, low, high) => padded(scale, low, high),
            (Scale::Linear, Some((low, high))) => {
                let middle = f64::midpoint(low, high);
                let half = if middle.abs() < SMALLEST {
                    0.5
                } else {
                    0.05 * middle.abs()
                };
                (middle - half, middle + half)
            }
            (Scale::Log, Some((low, high))) => (low / 2.0, high * 2.0),
        };
        Self { low, high, scale }
    }

    /// How values are spread along it.
    pub(super) fn scale(&self) -> Scale {
        self.scale
    }

    /// Where `value` lies, 0 at the low end and 1 at the high end; `None` where it has no place.
    pub(super) fn fraction(&self, value: f64) -> Option<f64> {
        self.scale.draws(value).then(|| match self.scale {
            Scale::Linear => (value - self.low) / (self.high - self.low),
            Scale::Log => (value / self.low).ln() / (self.high / self.low).ln(),
        })
    }

    /// Like [`Self::fraction`] for the end of an interval, which may be open.
    ///
    /// An infinite end, and one at or below zero on a logarithmic scale, lies just beyond the axis.
    pub(super) fn end_fraction(&self, value: f64) -> Option<f64> {
        if value.is_nan() {
            None
        } else if value > LARGEST {
            Some(1.0 + BEYOND)
        } else if value < -LARGEST || (self.scale == Scale::Log && value < SMALLEST) {
            Some(-BEYOND)
        } else {
            self.fraction(value)
        }
    }

    /// Whether `value` lies on the axis, rounding at the ends forgiven.
    pub(super) fn contains(&self, value: f64) -> bool {
        self.fraction(value)
            .is_some_and(|fraction| (-DEGENERATE..=1.0 + DEGENERATE).contains(&fraction))
    }

    /// Round values inside the range, about `target` of them labeled and at least two.
    pub(super) fn ticks(&self, target: u32) -> Ticks {
        match self.scale {
            Scale::Linear => self.linear_ticks(target),
            Scale::Log => self.log_ticks(target),
        }
    }

    fn linear_ticks(&self, target: u32) -> Ticks {
        let largest = self.low.abs().max(self.high.abs());
        let exponent = if (1e-3..1e6).contains(&largest) {
            0
        } else {
            power_of_ten(largest).div_euclid(3) * 3
        };
        let labeled_by = |target: u32| -> Vec<Tick> {
            let step = Step::at_least((self.high - self.low) / f64::from(target));
            step.multiples(self.low, self.high)
                .map(|count| Tick {
                    value: step.times(count),
                    label: step.label(count, exponent),
                })
                .filter(|tick| self.contains(tick.value))
                .collect()
        };
        let mut labeled = labeled_by(target.max(3));
        if labeled.len() < 2 {
            // Rounded up, a fifth of the span is at most half of it: two multiples are inside.
            labeled = labeled_by(5);
        }
        Ticks {
            labeled,
            unlabeled: Vec::new(),
            exponent,
        }
    }

    fn log_ticks(&self, target: u32) -> Ticks {
        let (first, last) = (power_of_ten(self.low), power_of_ten(self.high));
        let decades = || decades(first, last);
        let inside = |step: &Step| self.contains(step.times(1.0));
        let with_mantissas = |kept: &[i32]| -> Vec<Step> {
            decades()
                .filter(|step| kept.contains(&step.mantissa))
                .filter(inside)
                .collect()
        };
        let most = usize::try_from(target.max(3)).unwrap_or(usize::MAX);
        let fits = |steps: &Vec<Step>| (2..=most).contains(&steps.len());
        let chosen = MANTISSAS.into_iter().map(with_mantissas).find(fits);
        let chosen = match chosen {
            Some(steps) => steps,
            // Within part of one decade the scale is nearly linear.
            None if last - first < 2 => return self.linear_ticks(target),
            None => {
                let stride = usize::try_from(last - first)
                    .unwrap_or(1)
                    .div_ceil(most)
                    .max(1);
                (first..=last)
                    .step_by(stride)
                    .map(|decade| Step {
                        mantissa: 1,
                        decade,
                    })
                    .filter(inside)
                    .collect()
            }
        };
        let unlabeled = if last - first <= 8 {
            decades()
                .filter(inside)
                .filter(|step| !chosen.contains(step))
                .map(|step| step.times(1.0))
                .collect()
        } else {
            Vec::new()
        };
        Ticks {
            labeled: chosen
                .into_iter()
                .map(|step| Tick {
                    value: step.times(1.0),
                    label: step.log_label(),
                })
                .collect(),
            unlabeled,
            exponent: 0,
        }
    }
}

/// What a decade of a logarithmic axis may be divided by, the densest first.
const MANTISSAS: [&[i32]; 5] = [
    &[1, 2, 3, 4, 5, 6, 7, 8, 9],
    &[1, 2, 3, 5, 7],
    &[1, 2, 5],
    &[1, 3],
    &[1],
];

/// Every step of these decades.
fn decades(first: i32, last: i32) -> impl Iterator<Item = Step> {
    (first..=last).flat_map(|decade| (1..=9).map(move |mantissa| Step { mantissa, decade }))
}

/// One labeled value of an axis.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Tick {
    /// Where it is.
    pub(super) value: f64,
    /// What is printed, in units of ten to [`Ticks::exponent`].
    pub(super) label: String,
}

/// The ticks of an axis, in rising order.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Ticks {
    /// Ticks that carry a label.
    pub(super) labeled: Vec<Tick>,
    /// Values between, marked but not labeled.
    pub(super) unlabeled: Vec<f64>,
    /// Power of ten taken out of every label, 0 for plain numbers.
    pub(super) exponent: i32,
}

/// A round number: a small whole number times a power of ten.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Step {
    mantissa: i32,
    decade: i32,
}

impl Step {
    /// The smallest of 1, 2 and 5 times a power of ten that is not below `size` > 0.
    fn at_least(size: f64) -> Self {
        let decade = power_of_ten(size);
        let rest = size / 10_f64.powi(decade);
        [1, 2, 5]
            .into_iter()
            .find(|mantissa| f64::from(*mantissa) >= rest * (1.0 - DEGENERATE))
            .map_or(
                Self {
                    mantissa: 1,
                    decade: decade + 1,
                },
                |mantissa| Self { mantissa, decade },
            )
    }

    /// `count` steps; divided by a whole power of ten where that is exact, so that 3 x 0.1 is 0.3.
    fn times(self, count: f64) -> f64 {
        scaled(count * f64::from(self.mantissa), self.decade)
    }

    /// The whole numbers of steps between `low` and `high`.
    fn multiples(self, low: f64, high: f64) -> impl Iterator<Item = f64> {
        let size = self.times(1.0);
        let last = (high / size + DEGENERATE).floor();
        std::iter::successors(Some((low / size - DEGENERATE).ceil()), |count| {
            Some(count + 1.0)
        })
        .take_while(move |count| *count <= last)
    }

    /// `count` steps in units of ten to `exponent`, with the digits the step needs.
    fn label(self, count: f64, exponent: i32) -> String {
        let decimals = usize::try_from(exponent - self.decade).unwrap_or(0);
        // Adding zero turns a negative zero into zero.
        let value = scaled(count * f64::from(self.mantissa), self.decade - exponent) + 0.0;
        format!("{value:.decimals$}").replace('-', "\u{2212}")
    }

    /// The value written out, as a power of ten far from one.
    fn log_label(self) -> String {
        if (-3..=4).contains(&self.decade) {
            self.label(1.0, 0)
        } else if self.mantissa == 1 {
            format!("10{}", superscript(self.decade))
        } else {
            format!("{}\u{d7}10{}", self.mantissa, superscript(self.decade))
        }
    }
}

/// `value` times ten to `decade`, by the operation that rounds once.
fn scaled(value: f64, decade: i32) -> f64 {
    if decade < 0 {
        value / 10_f64.powi(-decade)
    } else {
        value * 10_f64.powi(decade)
    }
}

/// The whole power of ten at or below `value` > 0.
#[expect(
    clippy::cast_possible_truncation,
    reason = "values are within 1e-130..1e130, so the logarithm fits"
)]
fn power_of_ten(value: f64) -> i32 {
    let guess = value.log10().floor() as i32;
    // The logarithm of a value just below a power of ten may round up to it, and the other way.
    if scaled(1.0, guess) > value {
        guess - 1
    } else if scaled(1.0, guess + 1) <= value {
        guess + 1
    } else {
        guess
    }
}

fn wide_enough(scale: Scale, low: f64, high: f64) -> bool {
    match scale {
        Scale::Linear => high - low > SMALLEST.max(DEGENERATE * low.abs().max(high.abs())),
        Scale::Log => high / low > 1.0 + DEGENERATE,
    }
}

fn padded(scale: Scale, low: f64, high: f64) -> (f64, f64) {
    match scale {
        Scale::Linear => {
            let pad = PADDING * (high - low);
            // An axis that starts or ends at zero keeps it as its edge.
            let at_zero = |end: f64| end.abs() < SMALLEST;
            (
                if at_zero(low) {
                    low.min(0.0)
                } else {
                    low - pad
                },
                if at_zero(high) {
                    high.max(0.0)
                } else {
                    high + pad
                },
            )
        }
        Scale::Log => {
            let pad = (high / low).powf(PADDING);
            (low / pad, high * pad)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn labels(ticks: &Ticks) -> Vec<&str> {
        ticks.labeled.iter().map(|tick| &*tick.label).collect()
    }

    fn linear(low: f64, high: f64) -> Range {
        Range::fixed(Scale::Linear, low, high).unwrap()
    }

    fn log(low: f64, high: f64) -> Range {
        Range::fixed(Scale::Log, low, high).unwrap()
    }

    #[test]
    fn linear_labels_are_round_and_carry_the_digits_of_the_step() {
        assert_eq!(
            labels(&linear(0.0, 60.0).ticks(6)),
            ["0", "10", "20", "30", "40", "50", "60"]
        );
        assert_eq!(
            labels(&linear(-0.25, 0.25).ticks(5)),
            ["\u{2212}0.2", "\u{2212}0.1", "0.0", "0.1", "0.2"]
        );
        assert_eq!(
            labels(&linear(101_324.9, 101_325.2).ticks(4)),
            ["101324.9", "101325.0", "101325.1", "101325.2"]
        );
    }

    #[test]
    fn a_common_power_of_ten_leaves_the_labels() {
        let ticks = linear(0.0, 2.4e-5).ticks(5);
        assert_eq!(ticks.exponent, -6);
        assert_eq!(labels(&ticks), ["0", "5", "10", "15", "20"]);
        let ticks = linear(0.0, 4.0e6).ticks(4);
        assert_eq!(ticks.exponent, 6);
        assert_eq!(labels(&ticks), ["0", "1", "2", "3", "4"]);
    }

    #[test]
    fn log_labels_follow_the_width_of_the_range() {
        assert_eq!(
            labels(&log(0.008, 1.2).ticks(8)),
            ["0.01", "0.02", "0.05", "0.1", "0.2", "0.5", "1"]
        );
        assert_eq!(
            labels(&log(1e-7, 1e-4).ticks(4)),
            [
                "10\u{207b}\u{2077}",
                "10\u{207b}\u{2076}",
                "10\u{207b}\u{2075}",
                "10\u{207b}\u{2074}"
            ]
        );
        assert_eq!(
            labels(&log(2.1, 2.9).ticks(4)),
            ["2.2", "2.4", "2.6", "2.8"]
        );
        assert_eq!(
            log(1.0, 100.0).ticks(4).unlabeled.len(),
            2 * 9 + 1 - 3,
            "1, 10 and 100 are labeled, the other whole multiples of a decade are not"
        );
    }

    #[test]
    fn a_range_that_cannot_be_drawn_is_refused() {
        for (low, high) in [
            (1.0, 1.0),
            (2.0, 1.0),
            (f64::NAN, 1.0),
            (0.0, f64::INFINITY),
        ] {
            assert_eq!(Range::fixed(Scale::Linear, low, high), None, "{low} {high}");
        }
        assert_eq!(Range::fixed(Scale::Log, 0.0, 1.0), None);
        assert_eq!(Range::fixed(Scale::Log, -1.0, 1.0), None);
    }

    #[test]
    fn equal_values_and_none_get_a_sensible_span() {
        let range = Range::around(Scale::Linear, [40.0, 40.0, f64::NAN, f64::INFINITY]);
        assert_eq!((range.low, range.high), (38.0, 42.0));
        assert_eq!(range.fraction(40.0), Some(0.5));
        assert_eq!(Range::around(Scale::Linear, [0.0]), linear(-0.5, 0.5));
        assert_eq!(Range::around(Scale::Linear, []), linear(0.0, 1.0));
        assert_eq!(Range::around(Scale::Log, [-1.0, 0.0]), log(1.0, 10.0));
        assert_eq!(Range::around(Scale::Log, [3.0]), log(1.5, 6.0));
    }

    #[test]
    fn an_open_end_lies_beyond_the_axis() {
        let range = log(1.0, 10.0);
        assert_eq!(range.fraction(0.0), None);
        assert!(range.end_fraction(0.0).unwrap() < 0.0);
        assert!(range.end_fraction(f64::INFINITY).unwrap() > 1.0);
        assert!(
            linear(0.0, 1.0).end_fraction(f64::NEG_INFINITY).unwrap() < 0.0,
            "minus infinity lies below"
        );
        assert_eq!(range.end_fraction(f64::NAN), None);
    }

    proptest! {
        #[test]
        fn linear_ticks_are_even_round_and_inside(
            low in -1e6..1e6_f64, exponent in -6..6_i32, mantissa in 1.0..10.0_f64, target in 0..12_u32,
        ) {
            let span = mantissa * 10_f64.powi(exponent);
            prop_assume!(span > 1e-8 * low.abs());
            let range = linear(low, low + span);
            let ticks = range.ticks(target).labeled;
            prop_assert!(ticks.len() >= 2);
            prop_assert!(ticks.len() <= usize::try_from(target.max(5)).unwrap() + 1);
            let step = ticks[1].value - ticks[0].value;
            for pair in ticks.windows(2) {
                prop_assert!(pair[0].label != pair[1].label);
                prop_assert!((pair[1].value - pair[0].value - step).abs() <= 1e-6 * step);
            }
            let leading = format!("{step:.5e}");
            prop_assert!(
                ["1.00000", "2.00000", "5.00000"].iter().any(|round| leading.starts_with(round))
                    || low.abs() > 1e4 * span,
                "{}", leading
            );
            for tick in &ticks {
                prop_assert!(range.contains(tick.value));
            }
        }

        #[test]
        fn a_plain_label_reads_back_as_its_value(low in -1e3..1e3_f64, span in 0.01..1e3_f64) {
            let ticks = linear(low, low + span).ticks(6);
            for tick in &ticks.labeled {
                let read: f64 = tick.label.replace('\u{2212}', "-").parse().unwrap();
                let value = tick.value / 10_f64.powi(ticks.exponent);
                prop_assert!((read - value).abs() < 1e-9 * (1.0 + value.abs()), "{} {}", read, value);
            }
        }

        #[test]
        fn log_ticks_rise_and_stay_inside(
            exponent in -120.0..110.0_f64, decades in 1e-6..10.0_f64, target in 0..12_u32,
        ) {
            let low = 10_f64.powf(exponent);
            let range = log(low, low * 10_f64.powf(decades));
            let ticks = range.ticks(target);
            prop_assert!(ticks.labeled.len() >= 2, "{:?}", ticks);
            prop_assert!(ticks.labeled.len() <= usize::try_from(target.max(5)).unwrap() + 1);
            for pair in ticks.labeled.windows(2) {
                prop_assert!(pair[0].value < pair[1].value);
                prop_assert!(pair[0].label != pair[1].label);
            }
            for value in ticks.labeled.iter().map(|tick| tick.value).chain(ticks.unlabeled) {
                prop_assert!(range.contains(value));
            }
        }

        #[test]
        fn any_values_give_a_range_that_holds_them(
            values in prop::collection::vec(prop::num::f64::ANY, 0..6), is_log in any::<bool>(),
        ) {
            let scale = if is_log { Scale::Log } else { Scale::Linear };
            let range = Range::around(scale, values.iter().copied());
            prop_assert!(range.low.is_finite() && range.high.is_finite() && range.low < range.high);
            for value in values {
                prop_assert_eq!(range.contains(value), scale.draws(value));
            }
            prop_assert!(range.ticks(5).labeled.len() >= 2);
        }
    }
}
