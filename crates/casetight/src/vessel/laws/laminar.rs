//! The shape of a decay through a laminar leak, capillary or slot: a fine gap.

use crate::gas::Gas;
use crate::leak::LeakError;
use crate::vessel::direction::Direction;
use crate::vessel::root::Root;
use crate::vessel::shape::{Prior, Shape};

/// The straightening coordinate for a laminar leak, `mdot = c (p_u^2 - p_d^2)/(R T)`: s = ln |z|,
/// `z = (p - p_a)/(p + p_a) = y/(2 + y)`, ds/dt = -k, `k = 2 c p_a/V`; with [`crate::leak::Capillary`]'s g, c = g/(2 mu).
///
/// The same in both directions. s falls for ever: a laminar leak nears ambient and never gets there.
#[derive(Debug, Clone, Copy)]
pub(crate) struct LaminarShape {
    direction: Direction,
}

impl LaminarShape {
    pub(super) fn toward(direction: Direction) -> Self {
        Self { direction }
    }
}

impl Shape for LaminarShape {
    const NAME: &'static str = "laminar";
    const WORDS: &'static str = "a fine gap";
    const PRIORS: &'static [Prior] = &[Prior::new(0.0, 0.42)];
    // mdot = c (p_u^2 - p_d^2)/(R T_u); that the viscosity changes as well is left out.
    const TEMPERATURE_EXPONENT: f64 = 1.0;

    fn new(_: f64, _: &Gas, direction: Direction) -> Result<Self, LeakError> {
        Ok(Self::toward(direction))
    }

    fn heated(&self, root: &Root) -> (f64, f64) {
        (0.5 * root.y * (2.0 + root.y), root.p * root.p_by_w)
    }

    fn is_choked(&self, _: f64) -> bool {
        false
    }

    fn end(&self) -> f64 {
        f64::NEG_INFINITY
    }

    fn of(&self, y: f64) -> f64 {
        if y * self.direction.sign() > 0.0 {
            (y.abs() / (2.0 + y)).ln()
        } else {
            self.end()
        }
    }

    fn ratio(&self, s: f64) -> (f64, f64) {
        let z = self.direction.sign() * s.exp();
        match self.direction {
            // From an infinite pressure it falls to any other in finite time.
            Direction::Pressure if z >= 1.0 => (f64::INFINITY, f64::INFINITY),
            Direction::Vacuum if z <= -1.0 => (-1.0, 0.0),
            _ => (2.0 * z / (1.0 - z), 2.0 * z / (1.0 - z).powi(2)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::leak::Capillary;
    use crate::quantity::Length;
    use crate::vessel::shape::checks;
    use uom::si::length::meter;

    #[test]
    fn it_is_straight_for_its_law() {
        let (d, length) = (1e-4_f64, 1e-2);
        let law = Capillary::new(Length::new::<meter>(d), Length::new::<meter>(length)).unwrap();
        let mu = Gas::dry_air().pascal_seconds(293.15).unwrap();
        let c = std::f64::consts::PI * d.powi(4) / (256.0 * mu * length);
        for direction in [Direction::Pressure, Direction::Vacuum] {
            let coordinate = LaminarShape::toward(direction);
            checks::straight_for(&coordinate, &law, 2.0 * c * checks::AMBIENT, direction);
            checks::inverse(&coordinate, direction);
            checks::partials(&coordinate, direction);
        }
    }

    #[test]
    fn it_never_ends() {
        for direction in [Direction::Pressure, Direction::Vacuum] {
            let coordinate = LaminarShape::toward(direction);
            let start = coordinate.start(direction.sign() * 50e3, 1e5).unwrap();
            let late = coordinate.partials(1.0, &start, 500.0);
            assert!(late.gauge * direction.sign() > 0.0);
            assert!(late.gauge.abs() < 1e-200);
            let never = coordinate.partials(1.0, &start, 1e6);
            assert_eq!((never.gauge, never.by_start), (0.0, 0.0));
        }
    }

    #[test]
    fn before_the_start_there_may_be_no_pressure() {
        let pressure = LaminarShape::toward(Direction::Pressure);
        assert_eq!(pressure.ratio(0.0).0, f64::INFINITY);
        let vacuum = LaminarShape::toward(Direction::Vacuum);
        assert_eq!(vacuum.ratio(0.1), (-1.0, 0.0));
    }
}
