//! The shape of a decay by a power law: between a hole and a fine gap.

use crate::gas::Gas;
use crate::leak::{LeakError, PowerLaw};
use crate::numerics::quadrature;
use crate::vessel::direction::Direction;
use crate::vessel::root::Root;
use crate::vessel::shape::{Prior, Shape};

/// Newton steps that take the start value of the inverse to full precision with room to spare.
const NEWTON_STEPS: usize = 30;

/// Up to this gauge ratio the rest is summed as a series in y/2, which then falls by half or more from term to term.
const SERIES_END: f64 = 1.0;

/// Terms of it that are more than enough at y/2 = 1/2.
const TERMS: usize = 60;

/// The straightening coordinate for a power law, `Q_v = c dp^n` at the mean of the two pressures: ds/dt = -k,
/// `k = c p_a^n/V`.
///
/// With u = |y|: ds/du = 1/((1 + y/2) u^n), so s = (u^m - 1)/m + r(u), m = 1 - n, and the rest
/// `r = -(y/2u) Int_0^u v^m/(1 + (y/2u) v) dv` is small. At n = 1 the first part is ln u: then the decay never ends, and s is
/// the laminar coordinate and ln 2; below n = 1 it ends at s = -1/m, in finite time, and above it never does. Below the pressure ratio of largest flow the
/// leak is choked: the vacuum then falls along a straight line, and `(p/p_a)^-n` of a pressure rises along one.
#[derive(Debug, Clone, Copy)]
pub(crate) struct PowerShape {
    direction: Direction,
    /// n.
    n: f64,
    /// m = 1 - n.
    m: f64,
    /// s where the flow chokes, and u there; infinite where it never does.
    choked_s: f64,
    choked_u: f64,
    /// Largest flow (1 - x)^n (1 + x)/2.
    choked_flow: f64,
}

impl PowerShape {
    /// For an exponent n above zero and below 2.
    pub(super) fn of_exponent(exponent: f64, direction: Direction) -> Self {
        let n = exponent;
        // From n = 1 on the flow grows down to a perfect vacuum.
        let x = PowerLaw::critical_ratio(n).max(0.0);
        let mut new = Self {
            direction,
            n,
            m: 1.0 - n,
            choked_s: f64::INFINITY,
            choked_u: match direction {
                Direction::Pressure => 1.0 / x - 1.0,
                Direction::Vacuum => 1.0 - x,
            },
            choked_flow: (1.0 - x).powf(n) * 0.5 * (1.0 + x),
        };
        if new.choked_u.is_finite() {
            new.choked_s = new.subsonic(new.choked_u);
        }
        new
    }

    /// (u^m - 1)/m, and ln u at m = 0.
    fn main_part(&self, u: f64) -> f64 {
        if self.m == 0.0 {
            u.ln()
        } else {
            (self.m * u.ln()).exp_m1() / self.m
        }
    }

    /// u of the main part; infinite from where on there is none, which is so above n = 1.
    fn inverse_main_part(&self, part: f64) -> f64 {
        if self.m == 0.0 {
            part.exp()
        } else if self.m < 0.0 && self.m * part <= -1.0 {
            f64::INFINITY
        } else {
            ((self.m * part).ln_1p() / self.m).exp()
        }
    }

    /// r(u).
    fn rest(&self, u: f64) -> f64 {
        let half = 0.5 * self.direction.sign();
        if u > SERIES_END {
            // Only a pressure test gets here. In ln v the integrand is smooth.
            return self.rest(SERIES_END)
                - quadrature::gauss_legendre_20(0.0, (u / SERIES_END).ln(), |ln_v| {
                    let v = SERIES_END * ln_v.exp();
                    half * v * v.powf(self.m) / (1.0 + half * v)
                });
        }
        let q = -half * u;
        let mut power = 1.0;
        let mut sum = 0.0;
        for k in 1..=TERMS {
            power *= q;
            let term = power / (k as f64 + self.m);
            sum += term;
            if term.abs() <= f64::EPSILON * sum.abs() {
                break;
            }
        }
        sum * u.powf(self.m)
    }

    /// s of u short of choking.
    fn subsonic(&self, u: f64) -> f64 {
        self.main_part(u) + self.rest(u)
    }

    /// u of s short of choking. s is a monotone function of the main part, of slope 1/(1 + y/2) and bent one way, and the
    /// start value lies on the side that Newton's steps converge from.
    fn inverse_subsonic(&self, s: f64) -> f64 {
        let half = 0.5 * self.direction.sign();
        let mut part = s;
        let mut u = self.inverse_main_part(part).min(self.choked_u);
        for _ in 0..NEWTON_STEPS {
            if u.is_infinite() {
                break;
            }
            let step = (self.subsonic(u) - s) * (1.0 + half * u);
            part = self.main_part(u) - step;
            let next = self.inverse_main_part(part).min(self.choked_u);
            let settled = (next - u).abs() <= 1e-15 * u;
            u = next;
            if settled {
                break;
            }
        }
        u
    }
}

/// Smallest |y| whose power is taken, so that the slope at ambient stays a number.
const SMALLEST_RATIO: f64 = 1e-12;

impl Shape for PowerShape {
    const NAME: &'static str = PowerLaw::NAME;
    const WORDS: &'static str = "between a hole and a fine gap";
    // Many numbers for what is one family: a leak lies anywhere between a hole and a fine gap, or is both.
    const PRIORS: &'static [Prior] = &[
        Prior::new(0.75, 0.04),
        Prior::new(0.55, 0.02),
        Prior::new(0.65, 0.03),
        Prior::new(0.85, 0.03),
        Prior::new(0.95, 0.02),
    ];
    // Q_v = c dp^n of gas at the mean pressure and the upstream temperature.
    const TEMPERATURE_EXPONENT: f64 = 1.0;

    fn new(exponent: f64, _: &Gas, direction: Direction) -> Result<Self, LeakError> {
        Ok(Self::of_exponent(
            PowerLaw::check_exponent(exponent)?,
            direction,
        ))
    }

    fn heated(&self, root: &Root) -> (f64, f64) {
        let n = self.n;
        let u = root.y.abs().max(SMALLEST_RATIO);
        if u >= self.choked_u {
            return if root.w >= 0.0 {
                let choked = self.choked_flow * root.p.powf(n);
                (choked * root.p, (n + 1.0) * choked * root.p_by_w)
            } else {
                (-self.choked_flow, 0.0)
            };
        }
        let (power, mean) = (u.powf(n), 1.0 + 0.5 * root.y);
        let slope = 0.5 * power * root.w.signum() + mean * n * power / u;
        (mean * power * root.w.signum(), slope * root.p_by_w)
    }

    fn is_choked(&self, y: f64) -> bool {
        y.abs() >= self.choked_u
    }

    fn end(&self) -> f64 {
        if self.m > 0.0 {
            -1.0 / self.m
        } else {
            f64::NEG_INFINITY
        }
    }

    fn of(&self, y: f64) -> f64 {
        let u = y * self.direction.sign();
        if u > 0.0 && u <= self.choked_u {
            self.subsonic(u)
        } else if u > 0.0 {
            self.choked_s
                + match self.direction {
                    Direction::Pressure => {
                        ((1.0 + self.choked_u).powf(-self.n) - (1.0 + u).powf(-self.n))
                            / (self.n * self.choked_flow)
                    }
                    Direction::Vacuum => (u - self.choked_u) / self.choked_flow,
                }
        } else {
            self.end()
        }
    }

    fn ratio(&self, s: f64) -> (f64, f64) {
        if s <= self.end() {
            return (0.0, 0.0);
        }
        let sign = self.direction.sign();
        if s <= self.choked_s {
            let u = self.inverse_subsonic(s);
            if u.is_infinite() {
                return (f64::INFINITY, f64::INFINITY);
            }
            return (sign * u, sign * (1.0 + 0.5 * sign * u) * u.powf(self.n));
        }
        let beyond = (s - self.choked_s) * self.choked_flow;
        match self.direction {
            Direction::Pressure => {
                let power = (1.0 + self.choked_u).powf(-self.n) - self.n * beyond;
                if power > 0.0 {
                    let p = power.powf(-1.0 / self.n);
                    (p - 1.0, self.choked_flow * p / power)
                } else {
                    (f64::INFINITY, f64::INFINITY)
                }
            }
            Direction::Vacuum => {
                let u = self.choked_u + beyond;
                if u < 1.0 {
                    (-u, -self.choked_flow)
                } else {
                    (-1.0, 0.0)
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{Pressure, VolumeRate};
    use crate::vessel::laws::LaminarShape;
    use crate::vessel::shape::checks;
    use uom::si::pressure::pascal;
    use uom::si::volume_rate::cubic_meter_per_second;

    const EXPONENTS: [f64; 7] = [0.5, 0.6, 0.65, 0.8, 0.95, 1.0 - 1e-9, 1.0];
    const DIRECTIONS: [Direction; 2] = [Direction::Pressure, Direction::Vacuum];

    #[test]
    fn it_is_straight_for_its_law() {
        for n in EXPONENTS {
            let law = PowerLaw::new(
                VolumeRate::new::<cubic_meter_per_second>(1e-5),
                Pressure::new::<pascal>(checks::AMBIENT),
                n,
            )
            .unwrap();
            for direction in DIRECTIONS {
                let coordinate = PowerShape::of_exponent(n, direction);
                checks::straight_for(&coordinate, &law, 1e-5, direction);
                checks::inverse(&coordinate, direction);
                checks::partials(&coordinate, direction);
            }
        }
    }

    #[test]
    fn the_root_has_a_closed_form() {
        // n = 1/2, pressure: s = 2 sqrt 2 atan(sqrt(y/2)) - 2; vacuum: the same with artanh.
        let root = |y: f64| (0.5 * y).sqrt();
        let k = 2.0 * 2.0_f64.sqrt();
        let [pressure, vacuum] = DIRECTIONS.map(|d| PowerShape::of_exponent(0.5, d));
        for y in [1e-6, 0.01, 0.4, 0.66, 1.0, 1.5, 2.0] {
            let s = k * root(y).atan() - 2.0;
            assert!((pressure.of(y) - s).abs() < 1e-13, "{y}");
        }
        for y in [1e-6, 0.01, 0.4, 0.66] {
            let s = k * root(y).atanh() - 2.0;
            assert!((vacuum.of(-y) - s).abs() < 1e-13, "{y}");
        }
    }

    #[test]
    fn at_exponent_one_it_is_the_laminar_coordinate() {
        for direction in DIRECTIONS {
            let laminar = LaminarShape::toward(direction);
            let near = PowerShape::of_exponent(1.0 - 1e-12, direction);
            let one = PowerShape::of_exponent(1.0, direction);
            for u in [1e-6, 0.1, 0.5, 0.9, 0.99] {
                let y = direction.sign() * u;
                let shift = one.of(y) - laminar.of(y);
                assert!((shift - 2.0_f64.ln()).abs() < 1e-13, "{y} {shift}");
                assert!((near.of(y) - one.of(y)).abs() < 1e-10);
            }
        }
        assert_eq!(
            PowerShape::of_exponent(1.0, Direction::Vacuum).end(),
            f64::NEG_INFINITY
        );
    }

    #[test]
    fn it_is_smooth_where_the_flow_chokes() {
        for n in [0.5, 0.65, 0.9] {
            for direction in DIRECTIONS {
                let c = PowerShape::of_exponent(n, direction);
                let (below, above) = (c.ratio(c.choked_s - 1e-12), c.ratio(c.choked_s + 1e-12));
                assert!((below.0 / above.0 - 1.0).abs() < 1e-10, "{c:?}");
                assert!((below.1 / above.1 - 1.0).abs() < 1e-10, "{c:?}");
            }
        }
    }
}
