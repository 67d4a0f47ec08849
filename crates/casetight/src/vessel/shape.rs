//! What a leak law has to give so that its decays can be followed and fitted.
//!
//! Plain numbers: pressures are ratios y = (p - `p_a`)/`p_a` of gauge to ambient pressure, times are seconds. A law is a file in
//! `laws` that implements [`Shape`], and a line in the list there. `checks` holds what must be true of each.

use super::direction::Direction;
use super::root::Root;
use crate::gas::Gas;
use crate::leak::LeakError;

/// A leak law as the shape of the decay that it gives, for one gas and direction: all of it but the leak's size.
///
/// On an isothermal vessel a coordinate s of the pressure ratio y falls along a straight line: ds/dt = -k c, with the speed c a
/// number and k \[1/s\] the law's own rate, the size of the leak over the volume. s falls as y nears ambient.
///
/// On a vessel that exchanges heat with its wall the flow counts itself, F at the wall's temperature: above zero outward, below it
/// inward.
pub(crate) trait Shape: Copy {
    /// Its name in sheets, results and code, as its own [`crate::leak::LeakLaw::name`] where there is one.
    const NAME: &'static str;
    /// The kind of leak in the trade's words.
    const WORDS: &'static str;
    /// Its numbers that a fit tries, each with its probability before any reading, the likeliest first: the others are tried where
    /// the readings tell the laws apart. What the number is, is the law's own, and of one without a number it is not looked at.
    const PRIORS: &'static [Prior];
    /// The mass flow goes with the upstream temperature to minus this power.
    const TEMPERATURE_EXPONENT: f64;

    /// The shape for a law's number.
    ///
    /// # Errors
    /// A number that the law can't have.
    fn new(number: f64, gas: &Gas, direction: Direction) -> Result<Self, LeakError>;

    /// F for k = 1, and dF/dw.
    fn heated(&self, root: &Root) -> (f64, f64);

    /// Whether the flow is choked at a pressure y = P - 1.
    fn is_choked(&self, y: f64) -> bool;

    /// c: s falls by this much for each unit of k t.
    fn speed(&self) -> f64 {
        1.0
    }

    /// s at ambient, where y = 0: minus infinity if the decay never gets there.
    fn end(&self) -> f64;

    /// s of a pressure y; [`Shape::end`] where y has not the sign of the direction.
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
    /// `start` is [`Shape::start`] of the same g0 and `p_a`. The rate is held as g0 and `p_a` vary.
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

/// A number of a law that a fit tries.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Prior {
    /// The law's own number.
    pub(crate) number: f64,
    /// Its probability before any reading; only the ratios to those of all laws count.
    pub(crate) probability: f64,
}

impl Prior {
    pub(crate) const fn new(number: f64, probability: f64) -> Self {
        Self {
            number,
            probability,
        }
    }
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
pub(crate) mod checks {
    use super::{Direction, Gas, Shape};
    use crate::gas::GasState;
    use crate::leak::LeakLaw;
    use crate::quantity::{AbsolutePressure, ThermodynamicTemperature};
    use uom::si::mass_rate::kilogram_per_second;
    use uom::si::thermodynamic_temperature::kelvin;

    /// Ambient pressure of the checks \[Pa\].
    pub(crate) const AMBIENT: f64 = 101_325.0;

    const SIZES: [f64; 9] = [1e-6, 1e-3, 0.02, 0.2, 0.4, 0.55, 0.9, 1.5, 3.0];

    /// Pressures y of a direction, from near ambient to beyond choking.
    fn ratios(direction: Direction) -> impl Iterator<Item = f64> {
        SIZES
            .into_iter()
            .filter(move |size| direction == Direction::Pressure || *size < 1.0)
            .map(move |size| direction.sign() * size)
    }

    /// The flow of the coordinate is that of the law; `unit` is the law's own k V \[m3/s\].
    pub(crate) fn straight_for(
        coordinate: &impl Shape,
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
    pub(crate) fn inverse(coordinate: &impl Shape, direction: Direction) {
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
    pub(crate) fn partials(coordinate: &impl Shape, direction: Direction) {
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
