//! That a run was not of dry air.

use casetight::below::flow_of_hole;
use casetight::gas::Gas;
use casetight::limit::Limit;
use casetight::quantity::GaugePressure;
use casetight::readings::Bench;
use casetight::vessel::Direction;

/// The gas of a run that was not of dry air, and what it does to the needle, in a sentence ([`std::fmt::Display`]).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OtherGas {
    /// The gas's name.
    pub name: &'static str,
    /// How fast the needle moves by the same hole, over how fast it does in dry air.
    pub pace: f64,
    /// Whether a limit is stated as a fall of the needle, and so is one in this gas.
    pub limits_a_fall: bool,
}

impl OtherGas {
    /// Of a run at a gauge pressure; none of one in dry air.
    ///
    /// The needle moves by sqrt(R T) f/V in each gas, with the dimensionless flow f of a hole.
    #[must_use]
    pub fn of(
        bench: &Bench,
        direction: Direction,
        gauge: GaugePressure,
        limits: &[Limit],
    ) -> Option<Self> {
        let air = Gas::dry_air();
        if bench.gas == air {
            return None;
        }
        let y = gauge.pascals() / bench.ambient_pressure.value().pascals();
        let pace = |gas: &Gas| gas.specific_gas_constant().sqrt() * flow_of_hole(gas, direction, y);
        Some(Self {
            name: bench.gas.name(),
            pace: pace(&bench.gas) / pace(&air),
            limits_a_fall: limits
                .iter()
                .any(|limit| matches!(limit, Limit::Drop { .. } | Limit::Hold { .. })),
        })
    }
}

impl std::fmt::Display for OtherGas {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { name, pace, .. } = self;
        write!(
            f,
            "The gas is {name}, in which the same hole moves the needle {pace:.3} times as fast as in dry air"
        )?;
        if *name == Gas::propane().name() {
            write!(
                f,
                ". It burns: no flammable gas belongs into an engine where anything can light it"
            )?;
        }
        if self.limits_a_fall {
            write!(f, "; the limit on the needle is taken as one in {name}")?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use casetight::gauge::Gauge;
    use casetight::quantity::{
        AbsolutePressure, Pressure, ThermodynamicTemperature, TradeUnits, Volume,
    };

    fn bench(gas: Gas) -> Bench {
        let bench = Bench::new(
            Volume::parse("250 cm3").unwrap(),
            AbsolutePressure::parse("100 kPa").unwrap(),
            ThermodynamicTemperature::parse("20 C").unwrap(),
            Gauge::digital(Pressure::parse("0.1 kPa").unwrap()).unwrap(),
        );
        Bench {
            gas,
            ..bench.unwrap()
        }
    }

    /// By hand: sqrt(208.132/287.055) = 0.85150 for argon and sqrt(2077.26/287.055) = 2.69006 for helium, times the ratio of the flow
    /// functions sqrt(gamma/(gamma - 1) (x^(2/gamma) - x^((gamma + 1)/gamma))) at x = 100/120, which are worked out below.
    #[test]
    fn the_needle_goes_with_the_root_of_the_gas_constant() {
        let start = GaugePressure::from_pascals(20e3).unwrap();
        let of = |gas| OtherGas::of(&bench(gas), Direction::Pressure, start, &[]);
        assert_eq!(of(Gas::dry_air()), None);
        let psi = |gamma: f64| {
            let x: f64 = 1.0 / 1.2;
            (gamma / (gamma - 1.0) * (x.powf(2.0 / gamma) - x.powf((gamma + 1.0) / gamma))).sqrt()
        };
        let by_shape = psi(5.0 / 3.0) / psi(1.4);
        for (gas, root) in [(Gas::argon(), 0.851_50), (Gas::helium(), 2.690_06)] {
            let found = of(gas).unwrap();
            assert!(
                (found.pace / (root * by_shape) - 1.0).abs() < 2e-5,
                "{found:?}"
            );
            assert!(!found.to_string().contains("limit") && !found.to_string().contains("burns"));
        }
        assert!(of(Gas::propane()).unwrap().to_string().contains("It burns"));
    }
}
