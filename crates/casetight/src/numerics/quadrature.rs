//! Gauss-Legendre quadrature with a fixed number of points, for smooth integrands.

/// Positive nodes on [-1, 1] and their weights; each stands for its mirror image too.
///
/// Recomputed, independent script: mpmath 1.4.1 with 40 digits, `x` from
/// `findroot(lambda t: legendre(n, t), start)` and the weight `2 / ((1 - x^2) P_n'(x)^2)`.
/// The same values, to 15 digits, are table 25.4 of `[AbramowitzStegun]` (from memory).
#[rustfmt::skip]
const RULE_16: [(f64, f64); 8] = [
    (0.095_012_509_837_637_44, 0.189_450_610_455_068_5),
    (0.281_603_550_779_258_9, 0.182_603_415_044_923_58),
    (0.458_016_777_657_227_37, 0.169_156_519_395_002_54),
    (0.617_876_244_402_643_8, 0.149_595_988_816_576_74),
    (0.755_404_408_355_003, 0.124_628_971_255_533_88),
    (0.865_631_202_387_831_8, 0.095_158_511_682_492_79),
    (0.944_575_023_073_232_6, 0.062_253_523_938_647_894),
    (0.989_400_934_991_649_9, 0.027_152_459_411_754_096),
];

/// As [`RULE_16`], for 20 points.
#[rustfmt::skip]
const RULE_20: [(f64, f64); 10] = [
    (0.076_526_521_133_497_34, 0.152_753_387_130_725_84),
    (0.227_785_851_141_645_07, 0.149_172_986_472_603_74),
    (0.373_706_088_715_419_55, 0.142_096_109_318_382_04),
    (0.510_867_001_950_827_1, 0.131_688_638_449_176_64),
    (0.636_053_680_726_515, 0.118_194_531_961_518_41),
    (0.746_331_906_460_150_8, 0.101_930_119_817_240_44),
    (0.839_116_971_822_218_8, 0.083_276_741_576_704_75),
    (0.912_234_428_251_326, 0.062_672_048_334_109_07),
    (0.963_971_927_277_913_8, 0.040_601_429_800_386_94),
    (0.993_128_599_185_094_9, 0.017_614_007_139_152_118),
];

/// Integral of `f` from `a` to `b` by 16 points: exact for polynomials up to degree 31.
///
/// `b < a` changes the sign. An integrand with a kink or an endpoint singularity is beyond it.
pub fn gauss_legendre_16(a: f64, b: f64, f: impl FnMut(f64) -> f64) -> f64 {
    integrate(&RULE_16, a, b, f)
}

/// Integral of `f` from `a` to `b` by 20 points: exact for polynomials up to degree 39.
pub fn gauss_legendre_20(a: f64, b: f64, f: impl FnMut(f64) -> f64) -> f64 {
    integrate(&RULE_20, a, b, f)
}

fn integrate(rule: &[(f64, f64)], a: f64, b: f64, mut f: impl FnMut(f64) -> f64) -> f64 {
    let center = 0.5 * (a + b);
    let half_width = 0.5 * (b - a);
    let sum: f64 = rule
        .iter()
        .map(|&(node, weight)| {
            let offset = half_width * node;
            weight * (f(center - offset) + f(center + offset))
        })
        .sum();
    half_width * sum
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The error of n points first shows in x^(2n): there it is the squared norm of the monic Legendre polynomial.
    #[test]
    fn exact_to_the_degree_of_the_rule_and_no_further() {
        let moment = |degree: i32| 2.0 / f64::from(degree + 1);
        for degree in (0..=30).step_by(2) {
            let integral = gauss_legendre_16(-1.0, 1.0, |x| x.powi(degree));
            assert!(
                (integral / moment(degree) - 1.0).abs() < 1e-15 * 8.0,
                "x^{degree}"
            );
        }
        for degree in (0..=38).step_by(2) {
            let integral = gauss_legendre_20(-1.0, 1.0, |x| x.powi(degree));
            assert!(
                (integral / moment(degree) - 1.0).abs() < 1e-15 * 8.0,
                "x^{degree}"
            );
        }
        // Analytic: 2^(2n+1) (n!)^4 / ((2n+1) ((2n)!)^2), n = 16.
        let shortfall = moment(32) - gauss_legendre_16(-1.0, 1.0, |x| x.powi(32));
        let factorial = |n: i32| (1..=n).map(f64::from).product::<f64>();
        let expected = 2f64.powi(33) * factorial(16).powi(4) / (33.0 * factorial(32).powi(2));
        assert!(
            (shortfall / expected - 1.0).abs() < 1e-4,
            "{shortfall} {expected}"
        );
    }

    /// Analytic: the integrals of exp, of 1/x and of an odd power.
    #[test]
    fn smooth_integrals() {
        let exponential = gauss_legendre_16(-1.0, 2.0, f64::exp);
        assert!((exponential / (2f64.exp() - (-1f64).exp()) - 1.0).abs() < 1e-15);
        let logarithm = gauss_legendre_20(1.0, 3.0, f64::recip);
        assert!((logarithm / 3f64.ln() - 1.0).abs() < 1e-15);
        let odd = gauss_legendre_16(0.0, 2.0, |x| x.powi(31));
        assert!((odd / 2f64.powi(27) - 1.0).abs() < 1e-14);
    }

    #[test]
    fn direction_and_empty_interval() {
        let forward = gauss_legendre_16(0.5, 2.5, f64::sin);
        assert_eq!(gauss_legendre_16(2.5, 0.5, f64::sin), -forward);
        assert_eq!(gauss_legendre_20(1.5, 1.5, f64::sin), 0.0);
        assert!(gauss_legendre_16(0.0, f64::NAN, f64::sin).is_nan());
    }
}
