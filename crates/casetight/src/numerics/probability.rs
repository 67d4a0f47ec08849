//! temporary
use statrs::distribution::{ChiSquared, ContinuousCDF, Normal};
pub(crate) fn normal_quantile(p: f64) -> f64 {
    Normal::standard().inverse_cdf(p)
}
pub(crate) fn normal_cdf(x: f64) -> f64 {
    0.5 * libm::erfc(-x / std::f64::consts::SQRT_2)
}
pub(crate) fn chi_squared_sf(x: f64, dof: f64) -> f64 {
    ChiSquared::new(dof).map_or(f64::NAN, |d| d.sf(x))
}
pub(crate) fn ln_normal_interval(a: f64, b: f64) -> f64 {
    let (a, b) = if a > 0.0 { (-b, -a) } else { (a, b) };
    let d = normal_cdf(b) - normal_cdf(a);
    if d > 1e-300 {
        d.ln()
    } else {
        -0.5 * b * b - 1.0
    }
}
