//! What is known beforehand of the heat that gas and wall exchange.
//!
//! Pressure alone tells little of it (a vacuum rise looks the same isothermal and adiabatic, with areas that differ by
//! gamma), so the fit carries it as a nuisance with the priors given here.

use uom::si::thermal_conductance::watt_per_kelvin;
use uom::si::time::second;
use uom::si::volume::cubic_meter;

use super::error::VesselError;
use super::reach::{Extrapolated, USUAL_PRESSURES_PA};
use crate::gas::{Gas, GasState};
use crate::quantity::{ThermalConductance, Time, Volume};

/// Thermal conductance hA between gas and wall of a case of 250 cm3 \[W/K\]: engineering estimate, no source; 0.03 to
/// 0.06 m2 of wall times 5 to 15 W/(m2 K) of free convection.
const USUAL_CONDUCTANCE: f64 = 0.35;
/// The volume that it belongs to \[m3\].
const USUAL_VOLUME: f64 = 250e-6;
/// Standard deviation of its logarithm: 95 % of cases lie between 0.15 and 0.9 W/K (engineering estimate, no source).
const USUAL_LN_UNCERTAINTY: f64 = 0.45;
/// Standard deviation of the gas temperature when pumping stops, as a part of what pumping without any loss of heat
/// would do to it (engineering estimate, no source).
const PART_OF_ADIABATIC: f64 = 0.5;
/// The slowest settling that is allowed for lies this many standard uncertainties of ln hA beyond the usual.
const AT_MOST_TIMES: f64 = 2.0;
/// After so many settling times less than a hundredth of the excess is left.
const SETTLED_TIMES: f64 = 5.0;
/// With a tail, the times after which the excess is so many times as small.
const SETTLED_TO: f64 = 100.0;
/// Settling time that stands for "at once" \[s\].
const AT_ONCE: f64 = 1e-3;

/// What is known of the thermal conductance hA between the gas and the wall of the case.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Conductance {
    /// What a crankcase of this volume usually has: hA = 0.35 W/K (V/250 cm3)^(2/3), lognormal, ln hA known to 0.45
    /// (engineering estimate, no source). That is for 20 cm3 to 5 L between 0.3 and 3 bar absolute; beyond it follows free convection,
    /// with the density to the power of 7/12 within 1/12, in thin gas down to a fifth of it, and with the volume to the power of 1/2 within
    /// 1/6, each known so much less well. Source: `[ChurchillChu1975]`.
    Usual,
    /// Infinite: the gas has the wall's temperature at all times.
    Infinite,
    /// Known, with the standard uncertainty of its logarithm.
    Known {
        /// hA.
        value: ThermalConductance,
        /// Standard uncertainty of ln hA.
        ln_uncertainty: f64,
    },
}

/// Heat between gas and wall in one run: the conductance, and how long the gas had to settle before the first reading.
///
/// ```
/// use casetight::quantity::Time;
/// use casetight::vessel::Heat;
/// use uom::si::time::second;
///
/// // The needle was read from ten seconds after the last stroke of the pump.
/// let heat = Heat { settled_for: Time::new::<second>(10.0), ..Heat::default() };
/// assert_ne!(heat, Heat::ISOTHERMAL);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Heat {
    /// Thermal conductance.
    pub conductance: Conductance,
    /// Time from the last stroke of the pump to the first reading; zero where it isn't known.
    pub settled_for: Time,
}

impl Heat {
    /// Gas that always has the wall's temperature.
    pub const ISOTHERMAL: Self = Self {
        conductance: Conductance::Infinite,
        settled_for: Time {
            dimension: std::marker::PhantomData,
            units: std::marker::PhantomData,
            value: 0.0,
        },
    };

    /// Checks what was stated.
    ///
    /// # Errors
    /// [`VesselError::Conductance`] for a conductance that is not above zero or an uncertainty that is not at least zero,
    /// [`VesselError::SettledFor`] for a time that is not at least zero.
    pub fn check(&self) -> Result<(), VesselError> {
        if let Conductance::Known {
            value,
            ln_uncertainty,
        } = self.conductance
        {
            let got = value.get::<watt_per_kelvin>();
            if !(got.is_finite() && got > 0.0) {
                return Err(VesselError::Conductance { got });
            }
            if !(ln_uncertainty.is_finite() && ln_uncertainty >= 0.0) {
                return Err(VesselError::Conductance {
                    got: ln_uncertainty,
                });
            }
        }
        let got = self.settled_for.get::<second>();
        if got.is_finite() && got >= 0.0 {
            Ok(())
        } else {
            Err(VesselError::SettledFor { got })
        }
    }

    /// The priors of a run that starts at this ratio y of gauge to ambient pressure.
    #[doc(hidden)]
    #[must_use]
    pub fn prior(&self, volume: Volume, ambient: GasState, gas: &Gas, y: f64) -> HeatPrior {
        let start = ambient.pressure.pascals() * (1.0 + y);
        self.prior_over(volume, ambient, gas, (y, start))
    }

    /// As [`Heat::prior`], of a run whose mean absolute pressure \[Pa\] is known too: it is there that gas and wall exchange heat.
    #[doc(hidden)]
    #[must_use]
    pub fn prior_over(
        &self,
        volume: Volume,
        ambient: GasState,
        gas: &Gas,
        (y, mean): (f64, f64),
    ) -> HeatPrior {
        let v = volume.get::<cubic_meter>();
        let p_a = ambient.pressure.pascals();
        let extrapolated = self.extrapolated(v, mean);
        let Some((conductance, ln_uncertainty)) = self.known_of(v, &extrapolated) else {
            return HeatPrior::at_once();
        };
        // tau = m cv/(hA), m cv = p_a V/(T (gamma - 1)).
        let gamma = gas.heat_capacity_ratio();
        let capacity = p_a * v / (ambient.kelvins() * (gamma - 1.0));
        let settling_time = capacity / conductance;
        let adiabatic_at = |y: f64| (1.0 + y).powf((gamma - 1.0) / gamma) - 1.0;
        let adiabatic = adiabatic_at(y);
        let beyond =
            self.conductance == Conductance::Usual && p_a * (1.0 + y) > USUAL_PRESSURES_PA.1;
        // At a high pressure there is as much more gas to settle, and nobody pumps it up without loss of heat: a vessel that is filled from
        // a supply warms to gamma times the supply's temperature at most. Source: derived.
        let (denser, usual_excess) = if beyond {
            let filled = (gamma - 1.0).max(adiabatic_at(USUAL_PRESSURES_PA.1 / p_a - 1.0));
            (1.0 + y, adiabatic.abs().min(filled))
        } else {
            (1.0, adiabatic.abs())
        };
        // What is left after settling, a spread of settling times as long as their uncertainty says: the longer counts.
        let longer = denser * settling_time * ln_uncertainty.exp();
        let settled_for = self.settled_for.get::<second>();
        let left = extrapolated.left_after(settled_for / longer);
        let longest = denser * settling_time * (AT_MOST_TIMES * ln_uncertainty).exp();
        let settled_times = if extrapolated.has_tail {
            Extrapolated::settling_times(true, SETTLED_TO)
        } else {
            SETTLED_TIMES
        };
        HeatPrior {
            ln_settling_time: settling_time.max(AT_ONCE).ln(),
            ln_settling_time_uncertainty: ln_uncertainty,
            excess_uncertainty: PART_OF_ADIABATIC * usual_excess * left,
            largest_excess: adiabatic.abs() * extrapolated.left_after(settled_for / longest),
            settled_after: (settled_times * longest - settled_for).max(0.0),
            has_tail: extrapolated.has_tail,
        }
    }

    /// What is known of the usual conductance beyond its reach; nothing of one that is stated.
    fn extrapolated(&self, cubic_meters: f64, mean: f64) -> Extrapolated {
        if self.conductance == Conductance::Usual {
            Extrapolated::of(cubic_meters, mean)
        } else {
            Extrapolated::NONE
        }
    }

    /// hA \[W/K\] and the standard uncertainty of ln hA; none where the gas has the wall's temperature at all times.
    fn known_of(&self, cubic_meters: f64, extrapolated: &Extrapolated) -> Option<(f64, f64)> {
        match self.conductance {
            Conductance::Usual => Some((
                USUAL_CONDUCTANCE
                    * (cubic_meters / USUAL_VOLUME).powf(2.0 / 3.0)
                    * extrapolated.ln_factor.exp(),
                USUAL_LN_UNCERTAINTY.hypot(extrapolated.uncertainty),
            )),
            Conductance::Known {
                value,
                ln_uncertainty,
            } => Some((value.get::<watt_per_kelvin>(), ln_uncertainty)),
            Conductance::Infinite => None,
        }
    }
}

impl Default for Heat {
    /// A usual crankcase, read from the moment that pumping stops.
    fn default() -> Self {
        Self {
            conductance: Conductance::Usual,
            ..Self::ISOTHERMAL
        }
    }
}

/// Priors of the nuisance terms, all normal with these standard deviations; the excess about zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeatPrior {
    /// ln(tau/s).
    pub ln_settling_time: f64,
    /// Its standard uncertainty.
    pub ln_settling_time_uncertainty: f64,
    /// Of `T0/T_w` - 1 at the first reading.
    pub excess_uncertainty: f64,
    /// Largest size of `T0/T_w` - 1 that is physically possible at the first reading: what pumping without any loss of heat does,
    /// less what the slowest settling of such cases has taken off it.
    pub largest_excess: f64,
    /// Seconds after the first reading from which nothing worth a reading is left of it, however slowly such a case settles.
    pub settled_after: f64,
    /// Whether gas settles with the long tail of free convection, beyond what the usual conductance was made for.
    pub has_tail: bool,
}

impl HeatPrior {
    /// Of gas that always has the wall's temperature.
    fn at_once() -> Self {
        Self {
            ln_settling_time: AT_ONCE.ln(),
            ln_settling_time_uncertainty: 0.0,
            excess_uncertainty: 0.0,
            largest_excess: 0.0,
            settled_after: 0.0,
            has_tail: false,
        }
    }

    /// After how many settling times an excess is so many times as small; zero where it is small enough.
    #[must_use]
    pub fn settling_times(&self, smaller: f64) -> f64 {
        Extrapolated::settling_times(self.has_tail, smaller)
    }

    /// Whether the gas always has the wall's temperature.
    pub(crate) fn settles_at_once(&self) -> bool {
        self.ln_settling_time <= AT_ONCE.ln()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{AbsolutePressure, ThermodynamicTemperature};
    use uom::si::thermodynamic_temperature::kelvin;

    /// By hand, from the module's own constants: 250 cm3 of air at 20 C and 101.325 kPa hold 0.2160 J/K, so that 0.35 W/K settle them
    /// in 0.617 s; half of the adiabatic 34.5 K is the excess at the last stroke. What 2 s leave of it is that of a case slower by
    /// the factor exp(0.45); the most, that of one slower by exp(0.9).
    #[test]
    fn what_settling_leaves_is_that_of_a_slow_case() {
        let ambient = GasState {
            pressure: AbsolutePressure::from_pascals(101_325.0).unwrap(),
            temperature: ThermodynamicTemperature::new::<kelvin>(293.15),
        };
        let volume = Volume::new::<cubic_meter>(250e-6);
        let prior = |settled_for| {
            let heat = Heat {
                settled_for: Time::new::<second>(settled_for),
                ..Heat::default()
            };
            heat.prior(volume, ambient, &Gas::dry_air(), 48_263.3 / 101_325.0)
        };
        let agrees = |got: f64, wanted: f64| {
            assert!((got / wanted - 1.0).abs() < 2e-3, "{got} {wanted}");
        };
        let fresh = prior(0.0);
        agrees(fresh.ln_settling_time.exp(), 0.617);
        agrees(fresh.excess_uncertainty * 293.15, 0.5 * 34.5);
        agrees(fresh.largest_excess * 293.15, 34.5);
        let settled = prior(2.0);
        let left = |slower: f64| (-2.0 / (0.617_2 * slower)).exp();
        agrees(
            settled.excess_uncertainty / fresh.excess_uncertainty,
            left(0.45_f64.exp()),
        );
        agrees(
            settled.largest_excess / fresh.largest_excess,
            left(0.9_f64.exp()),
        );
    }

    fn prior_of(cubic_centimeters: f64, start_pa: f64, settled_for: f64) -> HeatPrior {
        let ambient = GasState {
            pressure: AbsolutePressure::from_pascals(101_325.0).unwrap(),
            temperature: ThermodynamicTemperature::new::<kelvin>(293.15),
        };
        let heat = Heat {
            settled_for: Time::new::<second>(settled_for),
            ..Heat::default()
        };
        let volume = Volume::new::<cubic_meter>(1e-6 * cubic_centimeters);
        let y = start_pa / 101_325.0 - 1.0;
        heat.prior(volume, ambient, &Gas::dry_air(), y)
    }

    /// Inside its reach the prior is what it was to the last bit: hA = 0.35 W/K (V/250 cm3)^(2/3), ln hA known to 0.45, e^(-t/tau).
    #[test]
    fn inside_its_reach_the_prior_is_the_usual_one_to_the_bit() {
        let capacity =
            |v: f64| 101_325.0 * v / (293.15 * (Gas::dry_air().heat_capacity_ratio() - 1.0));
        for cubic_centimeters in [20.1, 250.0, 4999.0] {
            let v = Volume::new::<cubic_meter>(1e-6 * cubic_centimeters);
            let v = v.get::<cubic_meter>();
            let tau = capacity(v) / (0.35 * (v / 250e-6).powf(2.0 / 3.0));
            for start in [30.1e3, 101e3, 299.9e3] {
                let prior = prior_of(cubic_centimeters, start, 2.0);
                assert_eq!(prior.ln_settling_time.to_bits(), tau.ln().to_bits());
                assert_eq!(prior.ln_settling_time_uncertainty, 0.45);
                assert!(!prior.has_tail);
            }
        }
    }

    /// By hand, from [`Extrapolated`]: 40 L hold 34.56 J/K, the usual 10.32 W/K times 0.707 settle them in 4.73 s, known to
    /// sqrt(0.45^2 + 0.2^2); at 150 bar 250 cm3 settle in 0.617/9.80 s of gas at ambient pressure, and 148 times as long at theirs, of
    /// which 3 s leave (1 + 3/(9.32 e^0.488 3))^-3; the excess is that of a fill, half of 0.4.
    #[test]
    fn beyond_its_reach_the_prior_follows_free_convection() {
        let agrees = |got: f64, wanted: f64| {
            assert!((got / wanted - 1.0).abs() < 5e-3, "{got} {wanted}");
        };
        let tank = prior_of(40e3, 101e3, 0.0);
        agrees(tank.ln_settling_time.exp(), 4.73);
        agrees(tank.ln_settling_time_uncertainty, 0.4924);
        let dense = prior_of(250.0, 150e5, 0.0);
        agrees(dense.ln_settling_time.exp(), 0.617 / 9.80);
        agrees(dense.ln_settling_time_uncertainty, 0.4877);
        agrees(dense.excess_uncertainty, 0.5 * 0.4);
        let settled = prior_of(250.0, 150e5, 3.0);
        let left = (1.0 + 3.0 / (3.0 * 9.32 * 0.4877_f64.exp())).powi(-3);
        agrees(settled.excess_uncertainty, 0.2 * left);
        // Thin gas: known less well, and its excess as before.
        let thin = prior_of(250.0, 3e3, 0.0);
        agrees(thin.ln_settling_time_uncertainty, 0.45_f64.hypot(0.443));
        assert!(thin.excess_uncertainty > 0.3);
    }

    /// What is stated reaches everywhere.
    #[test]
    fn a_stated_conductance_is_taken_at_its_word() {
        let ambient = GasState {
            pressure: AbsolutePressure::from_pascals(101_325.0).unwrap(),
            temperature: ThermodynamicTemperature::new::<kelvin>(293.15),
        };
        let heat = Heat {
            conductance: Conductance::Known {
                value: ThermalConductance::new::<watt_per_kelvin>(20.0),
                ln_uncertainty: 0.2,
            },
            ..Heat::default()
        };
        let prior = heat.prior(
            Volume::new::<cubic_meter>(0.04),
            ambient,
            &Gas::dry_air(),
            147.0,
        );
        assert!((prior.ln_settling_time.exp() / (34.56 / 20.0) - 1.0).abs() < 5e-3);
        assert_eq!(prior.ln_settling_time_uncertainty, 0.2);
        assert!(!prior.has_tail);
    }
}
