//! The shape of a decay through a sonic conductance with an elliptic subsonic branch: a tube or fitting.

use crate::gas::Gas;
use crate::leak::{LeakError, SonicConductanceLaw, check_critical_ratio};
use crate::vessel::direction::Direction;
use crate::vessel::root::Root;
use crate::vessel::shape::{Prior, Shape};

/// Below this the functions of z = (1 - 2b) tan^2(theta/2) are summed as series, good to rounding.
const SMALL: f64 = 1e-4;

/// The straightening coordinate for a sonic conductance C and critical ratio b: ds/dt = -k, s = 0 at ambient,
/// `k = C rho_0 R sqrt(T_0 T)/V`.
///
/// With x the ratio of the lower to the higher pressure and cos(theta) = (x - b)/(1 - b), theta from 0 at ambient to pi/2
/// where the flow chokes: subsonic vacuum test, s = (1 - b) theta; subsonic pressure test,
/// `s = (1 - b) Int_0^theta da/(b + (1 - b) cos a)`, an inverse hyperbolic tangent of tan(theta/2) for b below 1/2, an inverse
/// tangent above. Choked flow carries on from there: exponential in pressure, straight in vacuum.
#[derive(Debug, Clone, Copy)]
pub(crate) struct SonicShape {
    direction: Direction,
    /// b.
    b: f64,
    /// s where the flow chokes, and y there; infinite where it never does.
    choked_s: f64,
    choked_y: f64,
}

impl SonicShape {
    /// For a critical ratio b of at least 0 and below 1.
    fn of_ratio(critical_ratio: f64, direction: Direction) -> Self {
        let b = critical_ratio;
        let (choked_s, choked_y) = match direction {
            Direction::Pressure => (
                2.0 * (1.0 - b) * inverse_tangent(1.0 - 2.0 * b, 1.0),
                1.0 / b - 1.0,
            ),
            Direction::Vacuum => ((1.0 - b) * std::f64::consts::FRAC_PI_2, b - 1.0),
        };
        Self {
            direction,
            b,
            choked_s,
            choked_y,
        }
    }
}

impl Shape for SonicShape {
    const NAME: &'static str = SonicConductanceLaw::NAME;
    const WORDS: &'static str = "a tube or fitting";
    // Of a tube or fitting b lies between 0.2 and 0.5 (common practice, no source). One near 0.5 is a hole, and tried beside it would
    // only make its answer wider.
    const PRIORS: &'static [Prior] = &[
        Prior::new(0.3, 0.04),
        Prior::new(0.15, 0.01),
        Prior::new(0.42, 0.01),
    ];
    // mdot = C rho_0 p_u sqrt(T_0/T_u).
    const TEMPERATURE_EXPONENT: f64 = 0.5;

    fn new(critical_ratio: f64, _: &Gas, direction: Direction) -> Result<Self, LeakError> {
        Ok(Self::of_ratio(
            check_critical_ratio(critical_ratio)?,
            direction,
        ))
    }

    fn heated(&self, root: &Root) -> (f64, f64) {
        let b = self.b;
        let x = if root.w >= 0.0 { 1.0 / root.p } else { root.p };
        if x <= b {
            return if root.w >= 0.0 {
                (root.p, root.p_by_w)
            } else {
                (-1.0, 0.0)
            };
        }
        // sqrt(1 - r^2) = |w| q, with 1 - r = (1 - x)/(1 - b) and 1 - x as w^2 times something smooth.
        let r = (x - b) / (1.0 - b);
        let one_less_x = root.ratio_by_square() * if root.w >= 0.0 { x } else { 1.0 };
        let q = (one_less_x * (1.0 + r) / (1.0 - b)).sqrt();
        let bend = 2.0 * root.p_by_z * r / (q * (1.0 - b));
        if root.w >= 0.0 {
            (
                root.p * root.w * q,
                root.p_by_w * root.w * q + bend / root.p,
            )
        } else {
            (root.w * q, bend)
        }
    }

    fn is_choked(&self, y: f64) -> bool {
        match self.direction {
            Direction::Pressure => y >= self.choked_y,
            Direction::Vacuum => y <= self.choked_y,
        }
    }

    fn end(&self) -> f64 {
        0.0
    }

    fn of(&self, y: f64) -> f64 {
        let a = 1.0 - self.b;
        match self.direction {
            Direction::Pressure if y >= self.choked_y => {
                self.choked_s + ((1.0 + y) / (1.0 + self.choked_y)).ln()
            }
            Direction::Pressure if y > 0.0 => {
                // sin^2(theta/2) = (1 - x)/(2 (1 - b)).
                let h = y / (1.0 + y) / (2.0 * a);
                2.0 * a * inverse_tangent(1.0 - 2.0 * self.b, (h / (1.0 - h)).sqrt())
            }
            Direction::Vacuum if y <= self.choked_y => self.choked_s + (self.choked_y - y),
            Direction::Vacuum if y < 0.0 => 2.0 * a * (-y / (2.0 * a)).sqrt().asin(),
            _ => 0.0,
        }
    }

    fn ratio(&self, s: f64) -> (f64, f64) {
        if s <= 0.0 {
            return (0.0, 0.0);
        }
        let a = 1.0 - self.b;
        match self.direction {
            Direction::Pressure if s >= self.choked_s => {
                let p = (1.0 + self.choked_y) * (s - self.choked_s).exp();
                (p - 1.0, p)
            }
            Direction::Pressure => {
                let tau = tangent(1.0 - 2.0 * self.b, s / (2.0 * a));
                let w = tau * tau;
                let one_less_x = 2.0 * a * w / (1.0 + w);
                let x = 1.0 - one_less_x;
                // dy/ds = (dy/dx)(dx/dtheta)(dtheta/ds) = sin(theta)/x.
                (one_less_x / x, 2.0 * tau / ((1.0 + w) * x))
            }
            Direction::Vacuum if s >= self.choked_s => {
                let y = self.choked_y - (s - self.choked_s);
                if y > -1.0 { (y, -1.0) } else { (-1.0, 0.0) }
            }
            Direction::Vacuum => {
                let theta = s / a;
                (-2.0 * a * (0.5 * theta).sin().powi(2), -theta.sin())
            }
        }
    }
}

/// `Int_0^t dv/(1 - e v^2)`: artanh(sqrt(e) t)/sqrt(e), or atan(sqrt(-e) t)/sqrt(-e) for e below zero.
fn inverse_tangent(e: f64, t: f64) -> f64 {
    let z = e * t * t;
    if z.abs() < SMALL {
        t * (1.0 + z * (1.0 / 3.0 + z * (1.0 / 5.0 + z * (1.0 / 7.0 + z / 9.0))))
    } else if e > 0.0 {
        (e.sqrt() * t).atanh() / e.sqrt()
    } else {
        ((-e).sqrt() * t).atan() / (-e).sqrt()
    }
}

/// t of [`inverse_tangent`].
fn tangent(e: f64, q: f64) -> f64 {
    let z = e * q * q;
    if z.abs() < SMALL {
        q * (1.0 - z * (1.0 / 3.0 - z * (2.0 / 15.0 - z * (17.0 / 315.0 - z * 62.0 / 2835.0))))
    } else if e > 0.0 {
        (e.sqrt() * q).tanh() / e.sqrt()
    } else {
        ((-e).sqrt() * q).tan() / (-e).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::SonicConductance;
    use crate::vessel::laws::OrificeShape;
    use crate::vessel::shape::checks;

    const RATIOS: [f64; 8] = [0.0, 0.1, 0.3, 0.499_999, 0.5, 0.500_001, 0.528, 0.8];
    const DIRECTIONS: [Direction; 2] = [Direction::Pressure, Direction::Vacuum];

    #[test]
    fn it_is_straight_for_its_law() {
        for b in RATIOS {
            let c = SonicConductance::from_cubic_meters_per_second_pascal(1e-9).unwrap();
            let law = SonicConductanceLaw::new(c, b).unwrap();
            for direction in DIRECTIONS {
                let coordinate = SonicShape::of_ratio(b, direction);
                // C rho_0 R sqrt(T_0 T) at T = T_0: what a unit of the law's flow is.
                let unit = 1e-9 * 1.185 * Gas::dry_air().specific_gas_constant() * 293.15;
                checks::straight_for(&coordinate, &law, unit, direction);
                checks::inverse(&coordinate, direction);
                checks::partials(&coordinate, direction);
            }
        }
    }

    #[test]
    fn it_is_smooth_where_the_flow_chokes() {
        for b in [0.1, 0.3, 0.5, 0.528, 0.8] {
            for direction in DIRECTIONS {
                let c = SonicShape::of_ratio(b, direction);
                let (below, above) = (c.ratio(c.choked_s * (1.0 - 1e-12)), c.ratio(c.choked_s));
                assert!((below.0 / above.0 - 1.0).abs() < 1e-10, "{c:?}");
                assert!((below.1 / above.1 - 1.0).abs() < 1e-10, "{c:?}");
            }
        }
    }

    #[test]
    fn an_ellipse_of_the_nozzle_critical_ratio_is_near_the_nozzle() {
        // Independent script: the ellipse with b = 0.528282 and the isentropic flow function differ by at most 0.00152 of
        // choked flow.
        let air = Gas::dry_air();
        let b = air.critical_pressure_ratio();
        let nozzle = OrificeShape::of_gas(&air, Direction::Vacuum);
        let ellipse = SonicShape::of_ratio(b, Direction::Vacuum);
        let choked = nozzle.flow(-0.9);
        let worst = (1..4718)
            .map(|i| -1e-4 * f64::from(i))
            .map(|y| (nozzle.flow(y) / choked - ellipse.flow(y)).abs())
            .fold(0.0, f64::max);
        assert!((worst - 0.001_52).abs() < 5e-6, "{worst}");
    }
}
