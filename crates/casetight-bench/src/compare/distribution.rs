//! The distribution of a ratio of two sizes, each known by an interval.

use casetight::below::numerics::{probability, root};
use casetight::estimate::Estimate;

/// Places of the sum over the denominator: standard deviations to either side, and steps in each.
const REACH: f64 = 8.0;
const STEPS_IN_ONE: f64 = 25.0;
/// Natural logarithm of the largest ratio that is told from none.
const LARGEST_LN: f64 = 60.0;
/// Places of a denominator between zero and its best value.
const PLACES_BELOW: usize = 200;

/// `after/before`, two independent sizes.
pub(super) struct Ratio {
    after: Estimate<f64>,
    /// Values of the denominator with their probabilities; what is left to one is that of zero.
    before: Vec<(f64, f64)>,
}

impl Ratio {
    pub(super) fn new(before: &Estimate<f64>, after: Estimate<f64>) -> Self {
        Self {
            after,
            before: weighted(before),
        }
    }

    /// Probability that the ratio is at most x: the sum over the denominator of that of the numerator. A denominator of
    /// zero makes it larger than any.
    pub(super) fn at_most(&self, x: f64) -> f64 {
        let sum: f64 = self
            .before
            .iter()
            .map(|(size, weight)| weight * self.after.probability_within(x * size))
            .sum();
        sum.clamp(0.0, 1.0)
    }

    /// The x that the ratio is at most with this probability: zero, or infinity, where there is none.
    pub(super) fn quantile(&self, p: f64) -> f64 {
        let at = |ln: f64| self.at_most(ln.exp()) - p;
        if at(-LARGEST_LN) >= 0.0 {
            return 0.0;
        }
        root::newton_bracketed(-LARGEST_LN, LARGEST_LN, 1 << 22, |ln| (at(ln), f64::NAN))
            .map_or(f64::INFINITY, f64::exp)
    }
}

/// A size as places with their probabilities, without what is at zero.
fn weighted(i: &Estimate<f64>) -> Vec<(f64, f64)> {
    let z = probability::normal_quantile(0.5 + i.level / 2.0);
    let step = 1.0 / STEPS_IN_ONE;
    let density = |deviate: f64| {
        (-0.5 * deviate * deviate).exp() * step / (2.0 * std::f64::consts::PI).sqrt()
    };
    let deviates = (1..)
        .map(|n| f64::from(n) * step)
        .take_while(|d| *d <= REACH);
    let mut places = Vec::new();
    // Half of the middle place belongs to either side.
    places.push((i.value, density(0.0)));
    if i.low > 0.0 {
        for deviate in deviates {
            let weight = density(deviate);
            places.push((i.value * (i.low / i.value).powf(deviate / z), weight));
            places.push((i.value * (i.high / i.value).powf(deviate / z), weight));
        }
    } else {
        for deviate in deviates {
            places.push((i.value + (i.high - i.value) * deviate / z, density(deviate)));
        }
        let width = i.value / PLACES_BELOW as f64;
        let mut below = i.probability_within(f64::MIN_POSITIVE);
        for n in 1..=PLACES_BELOW {
            let upper = if n == PLACES_BELOW {
                0.5
            } else {
                i.probability_within(width * n as f64)
            };
            places.push((width * (n as f64 - 0.5), (upper - below).max(0.0)));
            below = upper.max(below);
        }
        // The middle place's lower half is among those.
        if let Some((_, weight)) = places.first_mut() {
            *weight /= 2.0;
        }
    }
    places
}

#[cfg(test)]
mod tests {
    use super::*;

    fn log_normal(value: f64, sigma: f64) -> Estimate<f64> {
        let z = probability::normal_quantile(0.975);
        Estimate::of_size(
            value,
            value * (-z * sigma).exp(),
            value * (z * sigma).exp(),
            0.95,
        )
    }

    /// The ratio of two lognormal sizes is lognormal, its variance the sum of theirs.
    #[test]
    fn lognormal_sizes_have_a_lognormal_ratio() {
        let ratio = Ratio::new(&log_normal(2.0, 0.3), log_normal(0.5, 0.4));
        let z = probability::normal_quantile(0.975);
        for (p, expected) in [
            (0.025, 0.25 * (-0.5 * z).exp()),
            (0.5, 0.25),
            (0.975, 0.25 * (0.5 * z).exp()),
        ] {
            let got = ratio.quantile(p);
            assert!((got / expected - 1.0).abs() < 1e-9, "{got} for {expected}");
        }
        let unity = probability::normal_cdf(4.0_f64.ln() / 0.5);
        assert!((ratio.at_most(1.0) / unity - 1.0).abs() < 1e-10);
    }

    /// Normal sizes: the ratio's ends are where a normal difference `after - x before` lies that far from zero
    /// (`[Fieller1954]`), here with a denominator far from zero and a numerator that may be zero.
    #[test]
    fn a_size_that_may_be_zero_over_one_that_is_not() {
        let z = probability::normal_quantile(0.975);
        let after = Estimate::of_size(0.1, 0.1 - z * 0.2, 0.1 + z * 0.2, 0.95);
        let ratio = Ratio::new(&log_normal(1.0, 0.01), after);
        assert_eq!(ratio.quantile(0.025), 0.0);
        let high = ratio.quantile(0.975);
        let off = (0.1 - high) / (0.2_f64.hypot(0.01 * high));
        assert!((off + z).abs() < 2e-3, "{off}");
    }

    /// A denominator that may be zero leaves the ratio open upward; its median is that of the quotient.
    #[test]
    fn a_denominator_that_may_be_zero_opens_the_ratio_upward() {
        let z = probability::normal_quantile(0.975);
        let before = Estimate::of_size(1.0, 1.0 - z, 1.0 + z, 0.95);
        let ratio = Ratio::new(&before, log_normal(1.0, 0.02));
        assert_eq!(ratio.quantile(0.975), f64::INFINITY);
        let low = ratio.quantile(0.025);
        assert!((low * (1.0 + z) - 1.0).abs() < 5e-3, "{low}");
        assert!((ratio.at_most(1.0) - 0.5).abs() < 2e-3);
        assert!((ratio.at_most(1e20) - probability::normal_cdf(1.0)).abs() < 1e-6);
    }
}
