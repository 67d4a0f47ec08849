//! Coordinates of the pressure that a leak on an isothermal vessel moves along at a constant speed; the orifice's.
//!
//! Plain numbers: pressures are ratios y = (p - `p_a`)/`p_a` of gauge to ambient pressure, times are seconds.

use super::Direction;
use crate::gas::Gas;
use crate::leak::Orifice;
use crate::numerics::quadrature;

/// Halley steps that take the start value of the inverse to full precision with room to spare.
const INVERSE_STEPS: usize = 6;

/// A straightening coordinate s of the pressure ratio y, for one leak law and direction: ds/dt = -k c, with the speed c a
/// number and k \[1/s\] the law's own rate, the size of the leak over the volume. s falls as y nears ambient.
pub(crate) trait Straight {
    /// c: s falls by this much for each unit of k t.
    fn speed(&self) -> f64;

    /// s at ambient, where y = 0: minus infinity if the decay never gets there.
    fn end(&self) -> f64;

    /// s of a pressure y; [`Straight::end`] where y has not the sign of the direction.
    fn of(&self, y: f64) -> f64;

    /// y at s and its derivative dy/ds; (0, 0) from the end on. Where s lies before any pressure that there is, a perfect
    /// vacuum and a standstill, (-1, 0), or an infinite pressure.
    fn ratio(&self, s: f64) -> (f64, f64);

    /// s of a pressure y and dy/ds there, for where both are wanted and the pressure is known.
    fn place(&self, y: f64) -> (f64, f64) {
        let s = self.of(y);
        (s, self.ratio(s).1)
    }

    /// Flow at a pressure y for k = 1: `mdot R T/(V p_u)`, with `p_u` the pressure upstream.
    fn flow(&self, y: f64) -> f64 {
        let (_, dy) = self.ratio(self.of(y));
        self.speed() * dy.abs() / (1.0 + y.max(0.0))
    }

    /// Gauge pressure after a time t \[s\] at a rate k \[1/s\] from a start gauge pressure g0 \[Pa\] in ambient `p_a` \[Pa\];
    /// `start` is [`Straight::start`] of the same g0 and `p_a`. The rate is held as g0 and `p_a` vary.
    fn partials(&self, k: f64, start: &Start, t: f64) -> Partials {
        let kappa = k * self.speed();
        let (y, dy) = self.ratio(start.s - kappa * t);
        let by_start = dy / start.dy;
        Partials {
            gauge: start.ambient * y,
            by_rate: -self.speed() * t * start.ambient * dy,
            by_start,
            by_ambient: y - by_start * start.y,
            by_time: -kappa * start.ambient * dy,
        }
    }

    /// The start of a decay; none where g0 has not the direction's sign or lies at or beyond a perfect vacuum.
    fn start(&self, g0: f64, ambient: f64) -> Option<Start> {
        let y = g0 / ambient;
        let (s, dy) = self.place(y);
        (s.is_finite() && dy != 0.0 && y > -1.0 && y.is_finite()).then_some(Start {
            y,
            s,
            dy,
            ambient,
        })
    }
}

/// The straightening coordinate s of an isothermal vessel with an orifice: ds/dt = -k sqrt(beta/2), and s = 0 at
/// ambient.
///
/// Subsonic pressure test: s = F(q), `q^2 = (p/p_a)^beta - 1`, `F(q) = Int_0^q (1+v^2)^m dv`, m = 1/beta - 3/2;
/// subsonic vacuum test: s = u, `u^2 = 1 - (p/p_a)^beta`. Choked flow carries on from there at the same speed.
#[derive(Debug, Clone, Copy)]
pub(crate) struct OrificeCoordinate {
    direction: Direction,
    beta: f64,
    /// gamma = 1.4 exactly: F is the quintic q + 2q^3/3 + q^5/5.
    diatomic: bool,
    slope: f64,
    /// 2/beta.
    bend: f64,
    /// s where the flow chokes, and y there.
    choked_s: f64,
    choked_y: f64,
    /// Psi*/sqrt(beta/2).
    choked_speed: f64,
}

/// Gauge pressure and its derivatives with respect to the fitted quantities.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Partials {
    /// Gauge pressure g \[Pa\].
    pub(crate) gauge: f64,
    /// dg/dk \[Pa s\].
    pub(crate) by_rate: f64,
    /// dg/dg0.
    pub(crate) by_start: f64,
    /// `dg/dp_a` at a fixed start gauge pressure.
    pub(crate) by_ambient: f64,
    /// dg/dt \[Pa/s\].
    pub(crate) by_time: f64,
}

impl OrificeCoordinate {
    pub(crate) fn new(gas: &Gas, direction: Direction) -> Self {
        let gamma = gas.heat_capacity_ratio();
        let beta = gas.isentropic_exponent();
        let x_star = gas.critical_pressure_ratio();
        let slope = (beta / 2.0).sqrt();
        let mut new = Self {
            direction,
            beta,
            diatomic: (gamma - 1.4).abs() < 1e-15,
            slope,
            bend: 2.0 / beta,
            choked_s: 0.0,
            choked_y: 0.0,
            choked_speed: Orifice::flow_function(gas, 0.0) / slope,
        };
        (new.choked_s, new.choked_y) = match direction {
            Direction::Pressure => (
                new.integral(((gamma - 1.0) / 2.0).sqrt()),
                1.0 / x_star - 1.0,
            ),
            Direction::Vacuum => (((gamma - 1.0) / (gamma + 1.0)).sqrt(), x_star - 1.0),
        };
        new
    }

    /// Pressure or vacuum.
    pub(crate) fn direction(&self) -> Direction {
        self.direction
    }

    /// sqrt(beta/2): s falls by this much for each unit of k t.
    pub(crate) fn slope(&self) -> f64 {
        self.slope
    }

    /// s of a pressure y; zero where y has not the sign of the direction.
    pub(crate) fn of(&self, y: f64) -> f64 {
        match self.direction {
            Direction::Pressure if y >= self.choked_y => {
                self.choked_s + ((1.0 + y) / (1.0 + self.choked_y)).ln() / self.choked_speed
            }
            Direction::Pressure if y > 0.0 => {
                self.integral((self.beta * y.ln_1p()).exp_m1().sqrt())
            }
            Direction::Vacuum if y <= self.choked_y => {
                self.choked_s + (self.choked_y - y) / self.choked_speed
            }
            Direction::Vacuum if y < 0.0 => (-(self.beta * y.ln_1p()).exp_m1()).sqrt(),
            _ => 0.0,
        }
    }

    /// y at s and its derivative dy/ds; (0, 0) from s = 0 on, since the decay has ended there.
    pub(crate) fn ratio(&self, s: f64) -> (f64, f64) {
        if s <= 0.0 {
            return (0.0, 0.0);
        }
        match self.direction {
            Direction::Pressure if s >= self.choked_s => {
                let p = (1.0 + self.choked_y) * ((s - self.choked_s) * self.choked_speed).exp();
                (p - 1.0, p * self.choked_speed)
            }
            Direction::Pressure => {
                let w = self.inverse_integral(s).powi(2);
                // dy/ds = (dy/dq)/(dF/dq) = (2 q/beta) sqrt(1 + q^2).
                (self.power_less_one(w), self.bend * (w * (1.0 + w)).sqrt())
            }
            Direction::Vacuum if s >= self.choked_s => {
                let y = self.choked_y - (s - self.choked_s) * self.choked_speed;
                if y > -1.0 {
                    (y, -self.choked_speed)
                } else {
                    (-1.0, 0.0)
                }
            }
            Direction::Vacuum => {
                let w = -s * s;
                let y = self.power_less_one(w);
                (y, -self.bend * s * (1.0 + y) / (1.0 + w))
            }
        }
    }

    /// (1 + w)^(1/beta) - 1 without cancellation near w = 0.
    fn power_less_one(&self, w: f64) -> f64 {
        if self.diatomic {
            // (1 + w)^3.5: cube and square root, each less one.
            let cube = w * (3.0 + w * (3.0 + w));
            let root = w / (1.0 + (1.0 + w).sqrt());
            cube + root + cube * root
        } else {
            (w.ln_1p() / self.beta).exp_m1()
        }
    }

    /// F(q).
    fn integral(&self, q: f64) -> f64 {
        if self.diatomic {
            let w = q * q;
            q * (1.0 + w * (2.0 / 3.0 + w / 5.0))
        } else {
            let m = 1.0 / self.beta - 1.5;
            quadrature::gauss_legendre_20(0.0, q, |v| (m * (v * v).ln_1p()).exp())
        }
    }

    /// q of F(q) = s for 0 < s <= F(q*). F is convex for q > 0 and the start value lies close, so the steps settle
    /// within a few; they stop when q no longer moves.
    fn inverse_integral(&self, s: f64) -> f64 {
        let w = s * s;
        if self.diatomic {
            // A rational fit of q/s, right to 3e-7 (checked in the tests); one step cubes that.
            let q = s * (1.0 + w * (2.431_939_2 + w * 0.647_360_336))
                / (1.0 + w * (3.098_566_88 + w * 1.581_649_86));
            return self.closer(q, s);
        }
        let m = 1.0 / self.beta - 1.5;
        // Series reversion of q + (m/3) q^3 + (m(m-1)/10) q^5.
        let (a, b) = (m / 3.0, m * (m - 1.0) / 10.0);
        let mut q = s * (1.0 - w * (a - w * (3.0 * a * a - b) * (1.0 - 2.0 * w)));
        for _ in 0..INVERSE_STEPS {
            let before = q;
            q = self.closer(q, s);
            if (q - before).abs() <= 1e-6 * q {
                // The error cubes: the next one is below rounding.
                break;
            }
        }
        q
    }

    /// Halley's step towards F(q) = s: F' = (1 + q^2)^m, F''/F' = 2 m q/(1 + q^2).
    fn closer(&self, q: f64, s: f64) -> f64 {
        let m = 1.0 / self.beta - 1.5;
        let rise = 1.0 + q * q;
        let slope = if self.diatomic {
            rise * rise
        } else {
            (m * (q * q).ln_1p()).exp()
        };
        let off = self.integral(q) - s;
        // Newton's step off/F', and its correction, over one denominator.
        q - off * rise / (slope * rise - off * m * q)
    }
}

impl Straight for OrificeCoordinate {
    fn speed(&self) -> f64 {
        self.slope()
    }

    fn end(&self) -> f64 {
        0.0
    }

    fn of(&self, y: f64) -> f64 {
        self.of(y)
    }

    fn ratio(&self, s: f64) -> (f64, f64) {
        self.ratio(s)
    }

    /// Without the inverse that [`OrificeCoordinate::ratio`] needs.
    fn place(&self, y: f64) -> (f64, f64) {
        match self.direction {
            Direction::Pressure if y >= self.choked_y => {
                (self.of(y), (1.0 + y) * self.choked_speed)
            }
            Direction::Pressure if y > 0.0 => {
                let w = (self.beta * y.ln_1p()).exp_m1();
                let dy = self.bend * (w * (1.0 + w)).sqrt();
                (self.integral(w.sqrt()), dy)
            }
            Direction::Vacuum if y <= self.choked_y => (self.of(y), -self.choked_speed),
            Direction::Vacuum if y < 0.0 => {
                let s = self.of(y);
                (s, -self.bend * s * (1.0 + y) / (1.0 - s * s))
            }
            _ => (0.0, 0.0),
        }
    }
}

/// The start of a decay in the straightening coordinate.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Start {
    y: f64,
    pub(crate) s: f64,
    dy: f64,
    ambient: f64,
}

/// What must be true of every coordinate; the tests of each law call these.
#[cfg(test)]
pub(super) mod checks {
    use super::{Direction, Gas, Straight};
    use crate::gas::GasState;
    use crate::leak::LeakLaw;
    use crate::quantity::{AbsolutePressure, ThermodynamicTemperature};
    use uom::si::mass_rate::kilogram_per_second;
    use uom::si::thermodynamic_temperature::kelvin;

    /// Ambient pressure of the checks \[Pa\].
    pub(in super::super) const AMBIENT: f64 = 101_325.0;

    const SIZES: [f64; 9] = [1e-6, 1e-3, 0.02, 0.2, 0.4, 0.55, 0.9, 1.5, 3.0];

    /// Pressures y of a direction, from near ambient to beyond choking.
    fn ratios(direction: Direction) -> impl Iterator<Item = f64> {
        SIZES
            .into_iter()
            .filter(move |size| direction == Direction::Pressure || *size < 1.0)
            .map(move |size| direction.sign() * size)
    }

    /// The flow of the coordinate is that of the law; `unit` is the law's own k V \[m3/s\].
    pub(in super::super) fn straight_for(
        coordinate: &dyn Straight,
        law: &dyn LeakLaw,
        unit: f64,
        direction: Direction,
    ) {
        let gas = Gas::dry_air();
        let pressure = |pascals| AbsolutePressure::from_pascals(pascals).unwrap();
        for y in ratios(direction) {
            let (p, p_a) = (AMBIENT * (1.0 + y), AMBIENT);
            let upstream = GasState {
                pressure: pressure(p.max(p_a)),
                temperature: ThermodynamicTemperature::new::<kelvin>(293.15),
            };
            let flow = law
                .mass_flow(&gas, upstream, pressure(p.min(p_a)))
                .get::<kilogram_per_second>();
            let want = flow * gas.specific_gas_constant() * 293.15 / p.max(p_a);
            let got = unit * coordinate.flow(y);
            // Rounding of p - p_a within y.
            let tolerance = 1e-11 + 1e-15 / y.abs();
            assert!(
                (got / want - 1.0).abs() < tolerance,
                "{law:?} y {y}: {got} {want}"
            );
        }
    }

    /// y goes to s and back, s falls with |y|, and dy/ds is the slope between the two.
    pub(in super::super) fn inverse(coordinate: &dyn Straight, direction: Direction) {
        let mut last = coordinate.end();
        for y in ratios(direction) {
            let s = coordinate.of(y);
            assert!(s > last, "y {y}");
            last = s;
            let (back, dy) = coordinate.ratio(s);
            // Where s has a value of order one at ambient, a small y is a small difference of it.
            let tolerance = 1e-12 + 4.0 * f64::EPSILON * (s * dy / y).abs();
            assert!((back / y - 1.0).abs() < tolerance, "y {y}: {back}");
            let h = 1e-5 * (y / dy).abs();
            let slope = (coordinate.ratio(s + h).0 - coordinate.ratio(s - h).0) / (2.0 * h);
            assert!((slope / dy - 1.0).abs() < 1e-6, "y {y}: {slope} {dy}");
        }
        assert_eq!(coordinate.of(-0.1 * direction.sign()), coordinate.end());
        assert_eq!(coordinate.of(0.0), coordinate.end());
        assert_eq!(coordinate.ratio(coordinate.end()), (0.0, 0.0));
        assert!(
            coordinate
                .start(-10e3 * direction.sign(), AMBIENT)
                .is_none()
        );
        assert!(coordinate.start(0.0, AMBIENT).is_none());
        assert!(coordinate.start(f64::NAN, AMBIENT).is_none());
        assert!(coordinate.start(-AMBIENT, AMBIENT).is_none());
    }

    /// Partial derivatives agree with differences, through choking and after the end.
    pub(in super::super) fn partials(coordinate: &dyn Straight, direction: Direction) {
        for y0 in ratios(direction).filter(|y| y.abs() > 0.01) {
            let (k, p_a) = (2e-2, AMBIENT);
            let g0 = y0 * p_a;
            for t in [0.0, 1.0, 8.0, 40.0, 1e3] {
                let at = |k: f64, g0: f64, p_a: f64, t: f64| {
                    coordinate.partials(k, &coordinate.start(g0, p_a).unwrap(), t)
                };
                let p = at(k, g0, p_a, t);
                let difference = |h: f64, f: &dyn Fn(f64) -> f64| (f(h) - f(-h)) / (2.0 * h);
                let close = |got: f64, want: f64, scale: f64| {
                    assert!(
                        (got - want).abs() < 1e-6 * scale,
                        "y0 {y0} t {t}: {got} {want}"
                    );
                };
                close(
                    p.by_rate,
                    difference(1e-7, &|h| at(k + h, g0, p_a, t).gauge),
                    p_a / k,
                );
                close(
                    p.by_start,
                    difference(1.0, &|h| at(k, g0 + h, p_a, t).gauge),
                    1.0,
                );
                close(
                    p.by_ambient,
                    difference(1.0, &|h| at(k, g0, p_a + h, t).gauge),
                    1.0,
                );
                close(
                    p.by_time,
                    difference(1e-5, &|h| at(k, g0, p_a, t + h).gauge),
                    p_a * k * (1.0 + y0.abs()).powi(2),
                );
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn both(gamma: f64) -> [OrificeCoordinate; 2] {
        let gas = Gas::new("test gas", 287.0, gamma).unwrap();
        [Direction::Pressure, Direction::Vacuum].map(|d| OrificeCoordinate::new(&gas, d))
    }

    #[test]
    fn coordinate_and_pressure_invert_each_other() {
        for gamma in [1.1, 1.289, 1.3, 1.4, 5.0 / 3.0] {
            for c in both(gamma) {
                for s in [1e-9, 1e-4, 0.01, 0.1, 0.3, 0.35, 0.5, 0.6] {
                    let y = c.ratio(s).0;
                    if y <= -1.0 {
                        continue; // a perfect vacuum: nothing lies beyond
                    }
                    assert!(
                        (c.of(y) / s - 1.0).abs() < 1e-12,
                        "gamma {gamma} {c:?} s {s}: {}",
                        c.of(y) / s - 1.0
                    );
                }
            }
        }
    }

    #[test]
    fn the_coordinate_is_smooth_where_the_flow_chokes() {
        for gamma in [1.2, 1.4, 1.6] {
            for c in both(gamma) {
                let (below, above) = (c.ratio(c.choked_s * (1.0 - 1e-12)), c.ratio(c.choked_s));
                assert!(
                    (below.0 / above.0 - 1.0).abs() < 1e-10
                        && (below.1 / above.1 - 1.0).abs() < 1e-10
                );
            }
        }
    }

    #[test]
    fn it_is_straight_for_its_law() {
        use crate::leak::EffectiveArea;
        for gas in Gas::known() {
            for direction in [Direction::Pressure, Direction::Vacuum] {
                let area = EffectiveArea::from_square_meters(5e-8).unwrap();
                let law = Orifice::new(area);
                let coordinate = OrificeCoordinate::new(&gas, direction);
                if gas == Gas::dry_air() {
                    let unit = 5e-8 * (gas.specific_gas_constant() * 293.15).sqrt();
                    checks::straight_for(&coordinate, &law, unit, direction);
                }
                checks::inverse(&coordinate, direction);
                checks::partials(&coordinate, direction);
            }
        }
    }
}
