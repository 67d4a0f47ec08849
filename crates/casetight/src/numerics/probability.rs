//! The few distributions a fit needs, accurate to 1e-12 or better where said.
//!
//! `statrs` is used where it holds that; its `erfc` (1e-10) does not, `libm`'s does.

use super::quadrature::gauss_legendre_16;
use statrs::distribution::{ChiSquared, ContinuousCDF, Normal, StudentsT};
use std::f64::consts::SQRT_2;

/// The 97.5 % point of the standard normal distribution: half-width of a 95 % interval, in standard uncertainties.
pub const Z_95: f64 = 1.959_963_984_540_054;

/// ln sqrt(2 pi).
const LN_SQRT_TAU: f64 = 0.918_938_533_204_672_7;

/// Below this, `ln Phi` comes from the asymptotic series: `erfc` nears underflow at -37.
const SERIES_BELOW: f64 = -30.0;

/// Largest change of the exponent of the normal density, over half an interval, for which 16 points
/// integrate it to the last bit (the error term at 4 is 5e-26).
const NARROW: f64 = 4.0;

/// Normal distribution function, `Phi(x) = (1/2) erfc(-x/sqrt 2)`; NaN for NaN.
///
/// Relative error below 1e-15 in the body and `x^2` times that in the far lower tail.
pub fn normal_cdf(x: f64) -> f64 {
    0.5 * libm::erfc(-x / SQRT_2)
}

/// Normal survival function, `1 - Phi(x)` without the subtraction.
pub fn normal_sf(x: f64) -> f64 {
    normal_cdf(-x)
}

/// Quantile of the normal distribution: infinite at 0 and 1, NaN outside.
pub fn normal_quantile(p: f64) -> f64 {
    if (0.0..=1.0).contains(&p) {
        Normal::standard().inverse_cdf(p)
    } else {
        f64::NAN
    }
}

/// `ln Phi(x)`, with no underflow: for `x` below about -1e154 alone it is minus infinity.
pub fn ln_normal_cdf(x: f64) -> f64 {
    if x >= SERIES_BELOW {
        return if x > 0.0 {
            (-normal_sf(x)).ln_1p()
        } else {
            normal_cdf(x).ln()
        };
    }
    // Phi(x) = phi(x)/|x| (1 - 1/x^2 + 3/x^4 - 15/x^6 + ..), `[AbramowitzStegun]` 26.2.12 (from memory).
    let u = 1.0 / (x * x);
    let series = (1..=7)
        .rev()
        .fold(1.0, |sum, k| 1.0 - f64::from(2 * k - 1) * u * sum);
    -0.5 * x * x - LN_SQRT_TAU - (-x).ln() + series.ln()
}

/// `ln(Phi(b) - Phi(a))`: the log-probability that a standard normal value falls between `a < b`.
///
/// Accurate to about 1e-15 of its value or of 1, whichever is larger: for narrow intervals (a gauge's step against its
/// noise), in either tail, and beyond the underflow of the probability itself. Minus infinity for an empty
/// interval (`a == b`), NaN for `a > b` or NaN.
pub fn ln_normal_interval(a: f64, b: f64) -> f64 {
    if a.is_nan() || b.is_nan() || a > b {
        return f64::NAN;
    }
    if a >= b {
        return f64::NEG_INFINITY;
    }
    // The lower tail holds the digits.
    let (a, b) = if a + b > 0.0 { (-b, -a) } else { (a, b) };
    let middle = 0.5 * (a + b);
    let half_width = 0.5 * (b - a);
    if half_width * (middle.abs() + half_width) <= NARROW {
        // phi(m + h s) = phi(m) exp(-m h s - (h s)^2/2): no difference of near-equal probabilities.
        let mean = 0.5
            * gauss_legendre_16(-1.0, 1.0, |s| {
                let offset = half_width * s;
                (-offset * (middle + 0.5 * offset)).exp()
            });
        return -0.5 * middle * middle - LN_SQRT_TAU + (b - a).ln() + mean.ln();
    }
    if b > 0.0 {
        // Straddles the mode: what is left out on both sides is small.
        return (-normal_cdf(a) - normal_sf(b)).ln_1p();
    }
    let ln_upper = ln_normal_cdf(b);
    ln_upper + (-(ln_normal_cdf(a) - ln_upper).exp()).ln_1p()
}

/// Probability that a chi-squared value with `freedom` degrees of freedom exceeds `x`; NaN for `freedom <= 0` or NaN.
pub fn chi_squared_sf(x: f64, freedom: f64) -> f64 {
    match ChiSquared::new(freedom) {
        Ok(distribution) if freedom.is_finite() && !x.is_nan() => distribution.sf(x),
        _ => f64::NAN,
    }
}

/// Quantile of Student's t with `freedom` degrees of freedom (infinite: the normal one).
///
/// Relative error below 1e-12 for `|p - 1/2| >= 0.05`; towards the median, which no interval asks for, the
/// digits thin out. Infinite at 0 and 1; NaN outside, for `freedom <= 0` and for NaN.
pub fn student_t_quantile(p: f64, freedom: f64) -> f64 {
    if freedom == f64::INFINITY {
        return normal_quantile(p);
    }
    match StudentsT::new(0.0, 1.0, freedom) {
        Ok(distribution) if (0.0..=1.0).contains(&p) => distribution.inverse_cdf(p),
        _ => f64::NAN,
    }
}

/// Probability that Student's t with `freedom` degrees of freedom exceeds `x`; NaN for `freedom <= 0` or NaN.
pub fn student_t_sf(x: f64, freedom: f64) -> f64 {
    if freedom == f64::INFINITY {
        return normal_sf(x);
    }
    match StudentsT::new(0.0, 1.0, freedom) {
        Ok(distribution) if !x.is_nan() => distribution.sf(x),
        _ => f64::NAN,
    }
}

/// Values by an independent script, mpmath 1.4.1 with 40 digits (1200 in the far tails):
/// `Phi(x) = erfc(-x/sqrt(2))/2`; its inverse by 130 bisections; `log(Phi(b) - Phi(a))`;
/// `gammainc(k/2, x/2, inf, regularized=True)`; and for t, Newton on
/// `betainc(nu/2, 1/2, 0, nu/(nu + t^2), regularized=True)/2` from `scipy.stats.t.ppf` 1.17.1.
#[cfg(test)]
#[allow(clippy::unreadable_literal, clippy::excessive_precision)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[track_caller]
    fn assert_close(what: &str, got: f64, expected: f64, tolerance: f64) {
        let error = (got - expected).abs() / expected.abs();
        assert!(
            error <= tolerance,
            "{what}: {got:e} for {expected:e}, off by {error:e}"
        );
    }

    /// (x, Phi(x), 1 - Phi(x))
    const NORMAL: [(f64, f64, f64); 12] = [
        (-20.0, 2.7536241186062336951e-89, 1.0),
        (-8.0, 6.2209605742717841235e-16, 0.9999999999999993779),
        (-3.0, 0.0013498980316300945267, 0.99865010196836990547),
        (-1.0, 0.15865525393145705141, 0.84134474606854294859),
        (-0.1, 0.46017216272297101633, 0.53982783727702898367),
        (0.0, 0.5, 0.5),
        (0.5, 0.69146246127401310364, 0.30853753872598689636),
        (1.0, 0.84134474606854294859, 0.15865525393145705141),
        (1.96, 0.97500210485177956379, 0.024997895148220436213),
        (3.0, 0.99865010196836990547, 0.0013498980316300945267),
        (6.0, 0.99999999901341235496, 9.865876450376981407e-10),
        (8.0, 0.9999999999999993779, 6.2209605742717841235e-16),
    ];

    #[test]
    fn normal_probabilities() {
        for (x, cdf, sf) in NORMAL {
            assert_close(&format!("cdf {x}"), normal_cdf(x), cdf, 1e-13);
            assert_close(&format!("sf {x}"), normal_sf(x), sf, 1e-13);
            assert_close(&format!("ln cdf {x}"), ln_normal_cdf(x).exp(), cdf, 1e-13);
        }
        // Subnormal: 2.8854e-316 has 8 digits left.
        assert_close(
            "cdf -38",
            normal_cdf(-38.0),
            2.8854283600687843084e-316,
            1e-7,
        );
        assert_eq!(normal_cdf(f64::NEG_INFINITY), 0.0);
        assert_eq!(normal_cdf(f64::INFINITY), 1.0);
        assert!(normal_cdf(f64::NAN).is_nan());
        // Both branches of ln Phi meet.
        let below = ln_normal_cdf(SERIES_BELOW.next_down());
        assert_close("seam", below, ln_normal_cdf(SERIES_BELOW), 1e-15);
    }

    #[test]
    fn normal_quantiles() {
        for (p, x) in [
            (1e-300, -37.047096299361199237),
            (1e-100, -21.273453560965324294),
            (1e-20, -9.2623400897984075796),
            (1e-10, -6.3613409024040561991),
            (1e-05, -4.2648907939228246102),
            (0.001, -3.0902323061678135354),
            (0.025, -1.9599639845400542118),
            (0.1, -1.2815515655446004353),
            (0.3, -0.52440051270804081597),
            (0.6, 0.25334710313579974132),
            (0.9, 1.2815515655446005935),
            (0.95, 1.6448536269514722843),
            (0.975, 1.9599639845400538556),
            (0.999, 3.0902323061678132778),
            (0.9999999990686774, 6.0093535655307438932),
        ] {
            assert_close(&format!("quantile {p}"), normal_quantile(p), x, 1e-14);
        }
        assert!(normal_quantile(0.5).abs() < 1e-16);
        assert_eq!(normal_quantile(0.0), f64::NEG_INFINITY);
        assert_eq!(normal_quantile(1.0), f64::INFINITY);
        assert!(normal_quantile(-0.1).is_nan() && normal_quantile(f64::NAN).is_nan());
    }

    #[test]
    fn log_probability_of_an_interval() {
        for (a, b, expected) in [
            (-1.0, 1.0, -0.38171514630212607227),
            (0.0, 0.5, -1.6530635142555676288),
            (-0.25, 0.75, -0.98864915340665501009),
            (1.0, 1.0000009536743164, -15.28188262124085082),
            (8.0, 9.0, -35.013618593437148117),
            (-9.0, -8.0, -35.013618593437148117),
            (20.0, 20.0009765625, -207.86016022745283029),
            (37.0, 38.0, -689.03058557689059365),
            (-50.0, -40.0, -804.60844201375378817),
            (100.0, 100.5, -5005.5242086942050886),
            (-1000.0, -999.0, -499008.32569431385372),
            (3.0, 40.0, -6.6077262215103495433),
            (-40.0, 3.0, -0.0013508099647481937988),
            (-0.001, 0.0005, -7.421228829078636016),
            (5.0, 5.0000000000009095, -41.144825755604758855),
            (-2.0, 8.5, -0.023012909328963498166),
            (30.0, 31.0, -454.32124395634325204),
            (-12.0, -3.0, -6.6077262215103495433),
            (0.5, 3.5, -1.1766660193159196118),
            (-6.0, -5.0, -15.068446096529453352),
        ] {
            let got = ln_normal_interval(a, b);
            let error = (got - expected).abs();
            assert!(
                error <= 2e-15 * expected.abs().max(1.0),
                "({a}, {b}): {got} {expected} {error:e}"
            );
            assert_eq!(ln_normal_interval(-b, -a), got, "mirror of ({a}, {b})");
        }
        assert_eq!(ln_normal_interval(f64::NEG_INFINITY, f64::INFINITY), 0.0);
        assert_eq!(
            ln_normal_interval(f64::NEG_INFINITY, -50.0),
            ln_normal_cdf(-50.0)
        );
        assert_eq!(ln_normal_interval(3.0, 3.0), f64::NEG_INFINITY);
        assert!(ln_normal_interval(1.0, 0.0).is_nan());
        assert!(ln_normal_interval(f64::NAN, 0.0).is_nan());
    }

    #[test]
    fn chi_squared_survival() {
        for (x, freedom, expected) in [
            (0.5, 1.0, 0.47950012218695346232),
            (3.841458820694124, 1.0, 0.050000000000000057435),
            (30.0, 1.0, 4.3204630578274972948e-8),
            (2.0, 2.0, 0.3678794411714423216),
            (100.0, 2.0, 1.928749847963917783e-22),
            (0.01, 3.0, 0.99973483494134439016),
            (7.814727903251178, 3.0, 0.050000000000000037632),
            (4.0, 10.0, 0.94734698265628884326),
            (18.307038053275146, 10.0, 0.050000000000000006706),
            (100.0, 10.0, 5.4497019829205293351e-17),
            (15.0, 22.0, 0.86223798342838794981),
            (22.0, 22.0, 0.45988870269368653909),
            (33.92443847144381, 22.0, 0.049999999999999952816),
            (80.0, 100.0, 0.92966493334060504556),
            (124.34211340400407, 100.0, 0.050000000000000093076),
            (300.0, 100.0, 7.4121008573228767906e-22),
            (1000.0, 1000.0, 0.49405285382923964195),
            (1100.0, 1000.0, 0.014614408126295194045),
            (1400.0, 5.0, 1.3765875143943704219e-300),
        ] {
            assert_close(
                &format!("chi2 {x}, {freedom}"),
                chi_squared_sf(x, freedom),
                expected,
                1e-12,
            );
        }
        assert_eq!(chi_squared_sf(0.0, 3.0), 1.0);
        assert_eq!(chi_squared_sf(f64::INFINITY, 3.0), 0.0);
        assert!(chi_squared_sf(1.0, 0.0).is_nan() && chi_squared_sf(f64::NAN, 3.0).is_nan());
    }

    #[test]
    fn student_t_quantiles() {
        for (p, freedom, expected) in [
            (0.975, 1.0, 12.706204736174693314),
            (0.975, 2.0, 4.3026527297494617894),
            (0.995, 3.0, 5.8409093097333554113),
            (0.975, 4.0, 2.7764451051977934898),
            (0.95, 5.0, 2.0150483733330235417),
            (0.975, 10.0, 2.2281388519862742245),
            (0.9, 22.0, 1.3212367416133617521),
            (0.975, 22.0, 2.073873067904025727),
            (0.99999, 22.0, 5.4023717937144099075),
            (0.975, 100.0, 1.9839715185235518946),
            (0.995, 1000.0, 2.5807546980659507706),
            (0.6, 7.0, 0.26316686135202275215),
            (0.025, 10.0, -2.2281388519862747157),
            (0.3, 3.0, -0.58438972743981870658),
            (0.975, 2.5, 3.5746548420036817607),
            (0.975, 10000.0, 1.9602012398906258778),
            (1e-08, 12.0, -12.984098090861068746),
            (0.999, 1.5, 52.184430008992616749),
        ] {
            assert_close(
                &format!("t {p}, {freedom}"),
                student_t_quantile(p, freedom),
                expected,
                1e-12,
            );
        }
        assert_eq!(student_t_quantile(0.5, 4.0), 0.0);
        assert_eq!(
            student_t_quantile(0.975, f64::INFINITY),
            normal_quantile(0.975)
        );
        assert_eq!(student_t_quantile(0.0, 4.0), f64::NEG_INFINITY);
        assert_eq!(student_t_quantile(1.0, 4.0), f64::INFINITY);
        assert!(student_t_quantile(0.975, 0.0).is_nan() && student_t_quantile(1.5, 3.0).is_nan());
    }

    /// Closed forms: for one degree of freedom 1/2 - atan(x)/pi, for two (1 - x/sqrt(2 + x^2))/2.
    #[test]
    fn student_tail_of_one_and_two_degrees() {
        for x in [-3.0_f64, -0.5, 0.0, 0.7, 2.0, 12.7, 300.0] {
            let one = 0.5 - x.atan() / std::f64::consts::PI;
            let two = 0.5 * (1.0 - x / (2.0 + x * x).sqrt());
            assert!((student_t_sf(x, 1.0) - one).abs() < 1e-12 * one.max(1e-3));
            assert!((student_t_sf(x, 2.0) - two).abs() < 1e-9 * two.max(1e-3));
        }
        assert!(student_t_sf(1.0, 0.0).is_nan() && student_t_sf(f64::NAN, 3.0).is_nan());
        assert_eq!(student_t_sf(1.0, f64::INFINITY), normal_sf(1.0));
    }

    proptest! {
        /// Neighboring intervals add up, in either tail and across the branches.
        #[test]
        fn neighbors_add_up(a in -45f64..45.0, first in 1e-6f64..4.0, second in 1e-6f64..4.0) {
            let (b, c) = (a + first, a + first + second);
            let whole = ln_normal_interval(a, c);
            let parts = (ln_normal_interval(a, b) - whole).exp() + (ln_normal_interval(b, c) - whole).exp();
            // The ends are rounded: a relative error eps |a| in a density of log-slope |a|.
            prop_assert!((parts - 1.0).abs() < 1e-12, "{parts}");
        }

        #[test]
        fn quantile_inverts(z in -35f64..5.0) {
            let p = normal_cdf(z);
            prop_assert!((normal_quantile(p) - z).abs() < 1e-10, "{z}");
        }
    }
}
