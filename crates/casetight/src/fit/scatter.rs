//! Whether readings scatter about a curve as chance lets them.

use crate::numerics::probability;

/// Scatter as large as this or larger happens by chance in one run of a hundred; beyond it the interval is widened.
const MISFIT_PROBABILITY: f64 = 0.01;

/// Readings that scatter about the curve more than chance brings about in one run of a thousand are not those of one leak on
/// this bench, whatever the interval says.
pub const ACCEPTABLE_PROBABILITY: f64 = 1e-3;

/// Probability of a chi-squared as large or larger; one where it is below its degrees of freedom, which is no misfit, and where
/// there are none. A chi-squared that is no number has the probability zero.
pub(super) fn probability_of(chi_squared: f64, degrees_of_freedom: usize) -> f64 {
    let freedom = degrees_of_freedom as f64;
    if chi_squared <= freedom || degrees_of_freedom == 0 {
        return 1.0;
    }
    let probability = probability::chi_squared_sf(chi_squared, freedom);
    if probability.is_nan() {
        0.0
    } else {
        probability
    }
}

/// Chi-squared over its degrees of freedom, where it is larger than chance makes it.
pub(super) fn misfit(chi_squared: f64, degrees_of_freedom: usize) -> Option<f64> {
    (probability_of(chi_squared, degrees_of_freedom) < MISFIT_PROBABILITY)
        .then(|| chi_squared / degrees_of_freedom as f64)
}
