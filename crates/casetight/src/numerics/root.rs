//! The root of a continuous function between two points where its sign differs.

use thiserror::Error;

/// Bisections that bring any finite bracket down to neighboring `f64` (exponent range and significand),
/// twice over, since a Newton step may come between two of them.
const MAX_STEPS: usize = 2 * (2100 + 53);

/// Why no root was found.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum RootError {
    /// The function has the same sign at both ends.
    #[error("no change of sign: f({a}) = {at_a}, f({b}) = {at_b}")]
    NotBracketed {
        /// One end.
        a: f64,
        /// Value there.
        at_a: f64,
        /// The other end.
        b: f64,
        /// Value there.
        at_b: f64,
    },
    /// An end is infinite or NaN, or the function is NaN there.
    #[error("the function is not a number at {at}")]
    NotANumber {
        /// The point asked.
        at: f64,
    },
}

/// Root of `f` between `a` and `b`, to `ulps` units in the last place if it is a simple one, by Newton steps inside a shrinking bracket.
///
/// `f` returns value and slope. Where a Newton step leaves the bracket, is not half the step before the last, or
/// has no finite nonzero slope, the bracket is halved instead. So a slope that is unknown may be NaN: that is
/// plain bisection.
///
/// # Errors
/// [`RootError`] when the signs at the ends agree, an end is not finite, or a value is NaN.
pub fn newton_bracketed(
    a: f64,
    b: f64,
    ulps: u32,
    mut f: impl FnMut(f64) -> (f64, f64),
) -> Result<f64, RootError> {
    let mut evaluate = |at: f64| match f(at) {
        (value, slope) if at.is_finite() && !value.is_nan() => Ok((value, slope)),
        _ => Err(RootError::NotANumber { at }),
    };
    let (at_a, slope_a) = evaluate(a)?;
    let (at_b, slope_b) = evaluate(b)?;
    if at_a == 0.0 {
        return Ok(a);
    }
    if at_b == 0.0 {
        return Ok(b);
    }
    if (at_a < 0.0) == (at_b < 0.0) {
        return Err(RootError::NotBracketed { a, at_a, b, at_b });
    }
    let (mut below, mut above) = if at_a < 0.0 { (a, b) } else { (b, a) };
    // Begin at the end that is nearer in value.
    let (mut x, mut value, mut slope) = if at_a.abs() < at_b.abs() {
        (a, at_a, slope_a)
    } else {
        (b, at_b, slope_b)
    };
    let mut step_before_last = (b - a).abs();
    let mut last_step = step_before_last;
    for _ in 0..MAX_STEPS {
        let newton = -value / slope;
        let inside = (x + newton - below) * (x + newton - above) <= 0.0;
        let useful = slope.is_finite() && inside && 2.0 * newton.abs() <= step_before_last;
        let next = if useful {
            x + newton
        } else {
            below + 0.5 * (above - below)
        };
        step_before_last = last_step;
        last_step = (next - x).abs();
        x = next;
        if last_step <= f64::from(ulps) * f64::EPSILON * x.abs() {
            break;
        }
        (value, slope) = evaluate(x)?;
        if value == 0.0 {
            break;
        }
        if value < 0.0 {
            below = x;
        } else {
            above = x;
        }
    }
    Ok(x)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Wallis's cubic: root from OEIS A007493 (from memory), and checked by substitution below.
    #[test]
    fn wallis_cubic() {
        let f = |x: f64| (x.powi(3) - 2.0 * x - 5.0, 3.0 * x * x - 2.0);
        let root = newton_bracketed(2.0, 3.0, 1, f).unwrap();
        assert!((root - 2.094_551_481_542_326_5).abs() < 1e-15, "{root}");
        assert!(f(root - 1e-15).0 < 0.0 && f(root + 1e-15).0 > 0.0);
    }

    /// Newton alone diverges here: arctan from 10, and a cube root, whose step is always twice too long.
    #[test]
    fn converges_where_newton_diverges() {
        let arctan = newton_bracketed(-10.0, 9.0, 2, |x| (x.atan() - 0.5, 1.0 / (1.0 + x * x)));
        assert!((arctan.unwrap() / 0.5f64.tan() - 1.0).abs() < 4e-16);
        let cube_root = |x: f64| ((x - 0.3).cbrt(), (x - 0.3).cbrt().powi(-2) / 3.0);
        let root = newton_bracketed(-1.0, 2.0, 2, cube_root).unwrap();
        assert!((root - 0.3).abs() < 2e-16, "{root}");
    }

    #[test]
    fn newton_saves_evaluations_and_no_slope_still_works() {
        let count = |slope: fn(f64) -> f64| {
            let mut calls = 0;
            let root = newton_bracketed(0.0, 2.0, 2, |x| {
                calls += 1;
                (x.exp() - 2.0, slope(x))
            });
            (root.unwrap(), calls)
        };
        let (with_slope, few) = count(f64::exp);
        let (without, many) = count(|_| f64::NAN);
        assert!((with_slope - std::f64::consts::LN_2).abs() < 2e-16);
        assert!((without - std::f64::consts::LN_2).abs() < 4e-16);
        assert!(few <= 9, "{few}");
        assert!((50..70).contains(&many), "{many}");

        // At a ninefold root Newton gains a ninth a step; halving does not care.
        let mut calls = 0;
        let flat = newton_bracketed(-1.0, 2.0, 2, |x| {
            calls += 1;
            let d: f64 = x - 0.3;
            (d.powi(9), 9.0 * d.powi(8))
        });
        // The last step is a ninth of what is left.
        assert!((flat.unwrap() - 0.3).abs() < 9.0 * 2.0 * f64::EPSILON * 0.3);
        assert!(calls <= 130, "{calls}");
    }

    #[test]
    fn ends_and_refusals() {
        let line = |x: f64| (x, 1.0);
        assert_eq!(newton_bracketed(0.0, 1.0, 1, line), Ok(0.0));
        assert_eq!(newton_bracketed(-1.0, 0.0, 1, line), Ok(0.0));
        assert_eq!(
            newton_bracketed(1.0, 2.0, 1, line),
            Err(RootError::NotBracketed {
                a: 1.0,
                at_a: 1.0,
                b: 2.0,
                at_b: 2.0
            })
        );
        assert!(matches!(
            newton_bracketed(f64::NEG_INFINITY, 2.0, 1, line),
            Err(RootError::NotANumber { .. })
        ));
        assert_eq!(
            newton_bracketed(-1.0, 1.0, 1, |x| (
                if x < 0.5 { -1.0 } else { f64::NAN },
                1.0
            )),
            Err(RootError::NotANumber { at: 1.0 })
        );
        // A jump has no root; the place of the change of sign is the answer.
        let jump = newton_bracketed(-1.0, 1.0, 1, |x| (if x < 0.25 { -1.0 } else { 1.0 }, 0.0));
        assert!((jump.unwrap() - 0.25).abs() < 1e-16);
    }

    proptest! {
        #[test]
        fn finds_the_root_of_a_power(root in 1e-12f64..1e12, exponent in 0.3f64..7.0, turned: bool) {
            let f = |x: f64| {
                let power = (x / root).powf(exponent);
                (power - 1.0, exponent * power / x)
            };
            let (a, b) = if turned { (1e15, 1e-15) } else { (1e-15, 1e15) };
            let found = newton_bracketed(a, b, 2, f).unwrap();
            // The power itself is rounded: half an ulp of 1 is 1/(2 exponent) ulps of the root.
            prop_assert!((found / root - 1.0).abs() < 1e-15 / exponent.min(1.0), "{found} {root}");
        }
    }
}
