//! The shape of a decay through a leak whose area follows the pressure: a seal's lip, a valve, a flap.
//!
//! It is the power law's outside the bounds that friction and inertia set. A way that the pressure opens passes more than a fine gap
//! does when the pressure grows, and has an exponent above 1; one that the pressure shuts, a lip pressed on its shaft, passes less
//! than a hole does, and has one below 0.5. Takes a number, gives the coordinate; checked as the power law is, whose closed form it
//! shares, and by the checks of every law.

use crate::gas::Gas;
use crate::leak::{LeakError, check_exponent};
use crate::vessel::direction::Direction;
use crate::vessel::root::Root;
use crate::vessel::shape::{Prior, Shape};

use super::power::PowerShape;

/// The least exponent: a leak that nearly shuts itself.
const SHUTTING: f64 = 0.2;
/// The largest: an area that grows with the pressure, times the flow of a fine gap, is the most that is usual.
const OPENING: f64 = 1.9;

/// The straightening coordinate of `Q_v = c dp^n` for any exponent from 0.2 to 1.9.
#[derive(Debug, Clone, Copy)]
pub(crate) struct LipShape(PowerShape);

impl Shape for LipShape {
    const NAME: &'static str = "lip";
    const WORDS: &'static str = "a lip or valve that the pressure opens or shuts";
    // How often a seal leaks so: common practice, no source. One of 0.35 is nearly a hole, and tried beside it would only make its
    // answer wider.
    const PRIORS: &'static [Prior] = &[
        Prior::new(1.2, 0.03),
        Prior::new(1.5, 0.02),
        Prior::new(0.2, 0.02),
    ];
    const TEMPERATURE_EXPONENT: f64 = PowerShape::TEMPERATURE_EXPONENT;

    fn new(exponent: f64, _: &Gas, direction: Direction) -> Result<Self, LeakError> {
        let exponent = check_exponent(exponent, SHUTTING, OPENING)?;
        Ok(Self(PowerShape::of_exponent(exponent, direction)))
    }

    fn heated(&self, root: &Root) -> (f64, f64) {
        self.0.heated(root)
    }

    fn is_choked(&self, y: f64) -> bool {
        self.0.is_choked(y)
    }

    fn end(&self) -> f64 {
        self.0.end()
    }

    fn of(&self, y: f64) -> f64 {
        self.0.of(y)
    }

    fn ratio(&self, s: f64) -> (f64, f64) {
        self.0.ratio(s)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::vessel::shape::checks;

    const DIRECTIONS: [Direction; 2] = [Direction::Pressure, Direction::Vacuum];

    /// s from its own integral, by an independent sum (the trapezoid rule in ln u): ds/du = 1/((1 + y/2) u^n).
    #[test]
    fn it_is_the_integral_of_its_own_flow() {
        for n in [0.2, 1.2, 1.5] {
            for direction in DIRECTIONS {
                let shape = LipShape::new(n, &Gas::dry_air(), direction).unwrap();
                let sign = direction.sign();
                let (from, to) = (0.05_f64, 0.3_f64);
                let steps = 20_000;
                let step = (to / from).ln() / f64::from(steps);
                let slope = |u: f64| u / ((1.0 + 0.5 * sign * u) * u.powf(n));
                let sum: f64 = (0..=steps)
                    .map(|i| {
                        let weight = if i == 0 || i == steps { 0.5 } else { 1.0 };
                        weight * slope(from * (step * f64::from(i)).exp())
                    })
                    .sum();
                let got = shape.of(sign * to) - shape.of(sign * from);
                assert!((got / (step * sum) - 1.0).abs() < 1e-8, "{n} {direction:?}");
            }
        }
    }

    #[test]
    fn every_exponent_inverts_and_has_its_slopes() {
        for n in [0.2, 0.35, 1.05, 1.2, 1.5, 1.9] {
            for direction in DIRECTIONS {
                let shape = LipShape::new(n, &Gas::dry_air(), direction).unwrap();
                checks::inverse(&shape, direction);
                checks::partials(&shape, direction);
            }
        }
    }

    /// Above n = 1 a rising pressure would have come from no pressure at all: infinite, not a number that is none.
    #[test]
    fn before_any_pressure_there_is_it_is_infinite() {
        for n in [1.05, 1.2, 1.5, 1.9] {
            let shape = LipShape::new(n, &Gas::dry_air(), Direction::Pressure).unwrap();
            for s in [10.0, 100.0, 1e4] {
                let (y, slope) = shape.ratio(s);
                assert!(
                    y > 1e3 && !y.is_nan() && !slope.is_nan(),
                    "{n} {s}: {y} {slope}"
                );
            }
            let vacuum = LipShape::new(n, &Gas::dry_air(), Direction::Vacuum).unwrap();
            assert_eq!(vacuum.ratio(1e4), (-1.0, 0.0));
        }
    }
}
