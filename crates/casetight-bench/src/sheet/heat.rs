//! `[heat]`: what is known of the heat between gas and wall.

use super::document::Table;
use super::error::SheetError;
use super::keys::declare::{table, together};
use super::keys::form::{NotNegative, Positive, Within};
use super::keys::keyed::{Together, TogetherFrom};
use super::keys::rule::Optional;
use super::keys::stated::fewest_digits;
use casetight::quantity::{ThermalConductance, Time, Unit};
use casetight::vessel::{Conductance, Heat};

table! {
    /// The heat between gas and wall; that of a usual case where nothing is said.
    pub(super) struct HeatKeys {
        /// Thermal conductance hA between gas and wall.
        conductance: Option<ThermalConductance> = Optional(Positive), else "0.35 W/K (V/250 cm3)^(2/3), within a factor of 1.6";
        /// The factor within which it is known, one standard uncertainty.
        conductance_factor: Option<f64> = Optional(Within(|factor| factor.is_finite() && factor >= 1.0, FACTORS)), else "1.5", beside conductance "0.35 W/K";
        /// Time from the last stroke of the pump to the first reading, of runs that don't state their own.
        settled_for: Option<Time> = Optional(NotNegative), else "`\"0 s\"`";
    }
}

const FACTORS: &str =
    "the numbers from 1 on; 1.5 says that it is known to within half as much again";

/// Factor within which a stated conductance is known, as one standard uncertainty, where none is stated.
const FACTOR: f64 = 1.5;

impl Together for Heat {
    type Keys = HeatKeys;

    fn keys(&self, _: &'static Unit) -> Result<HeatKeys, &'static str> {
        let (conductance, conductance_factor) = match self.conductance {
            Conductance::Known {
                value,
                ln_uncertainty,
            } => {
                let factor = ln_uncertainty.exp();
                let same = |factor: f64| factor.ln().total_cmp(&ln_uncertainty).is_eq();
                (
                    Some(value),
                    Some(fewest_digits(factor, same).map_or(factor, |(_, value)| value)),
                )
            }
            _ => (None, None),
        };
        let settled_for =
            (self.settled_for != Self::default().settled_for).then_some(self.settled_for);
        Ok(HeatKeys {
            conductance,
            conductance_factor,
            settled_for,
        })
    }
}

impl<C> TogetherFrom<C> for Heat {
    fn of(keys: HeatKeys, _: &Table<'_>, _: &C) -> Result<Self, SheetError> {
        let usual = Self::default();
        Ok(Self {
            conductance: keys
                .conductance
                .map_or(usual.conductance, |value| Conductance::Known {
                    value,
                    ln_uncertainty: keys.conductance_factor.unwrap_or(FACTOR).ln(),
                }),
            settled_for: keys.settled_for.unwrap_or(usual.settled_for),
        })
    }
}

together!(Heat);
