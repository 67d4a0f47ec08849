//! Inputs that can be reckoned with, but that hardly any bench has: a slip of a unit more often than not.
//!
//! A number that can't be is refused where it comes in. One that only surprises is answered, and said: these notes stand
//! beside the result, wherever it is shown.

use uom::si::pressure::pascal;
use uom::si::thermodynamic_temperature::kelvin;
use uom::si::volume::cubic_meter;

use casetight::below::flow_of_hole;
use casetight::caution;
use casetight::constants::{STANDARD_ATMOSPHERE_PA, STANDARD_GRAVITY_M_PER_S2};
use casetight::readings::{Bench, Readings};

/// Volumes under test that a hand pump and a bench see \[m3\], from a glow engine's case to a large twin's with its hose
/// (common practice, no source).
const VOLUME_M3: (f64, f64) = (2e-6, 2e-2);

/// Temperatures of a bench \[K\], -60 to 100 C (common practice, no source).
const TEMPERATURE_K: (f64, f64) = (213.15, 373.15);

/// Ambient pressures where people work \[Pa\] (common practice, no source).
const AMBIENT_PA: (f64, f64) = (30e3, 120e3);

/// Weather moves a barometer less than this from the standard atmosphere \[Pa\] (common practice, no source; the lowest and the highest
/// pressures of most years).
const WEATHER_PA: f64 = 5e3;

/// Below this altitude \[m\] a pressure that was reduced to sea level is off by less than the weather moves it.
const NEAR_SEA_LEVEL_M: f64 = 100.0;

/// Temperature of the standard atmosphere at sea level \[K\]. Source: `[ISO2533]`.
pub(crate) const STANDARD_KELVINS_AT_SEA_LEVEL: f64 = 288.15;

/// R T/g of the standard atmosphere at sea level \[m\], 8434.5 m: over so much altitude the pressure falls by its own size.
pub(crate) const STANDARD_SCALE_HEIGHT_M: f64 = 8434.5;

/// A barometer that shows the standard atmosphere shows it within this \[Pa\]: 29.92 inHg and 14.696 psi are its, 1013 hPa is not.
const STANDARD_WITHIN_PA: f64 = 4.5;

/// The height \[m\] that the note on the barometer works its numbers out for.
const HEIGHT_M: f64 = 500.0;

/// Readings that never come closer to zero than this part of the ambient pressure may be absolute: such a needle comes to
/// rest at ambient.
const REST: f64 = 0.95;

/// A rise of this part of its first reading is more than warming gas gives: an absolute pressure of a vacuum rises so.
const RISE: f64 = 0.1;

/// An input that surprises, in a sentence ([`std::fmt::Display`]).
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Surprise {
    /// A volume under test that hardly any crankcase has.
    Volume {
        /// The volume \[m3\].
        cubic_meters: f64,
    },
    /// A temperature that no bench has.
    Temperature {
        /// The temperature \[K\].
        kelvins: f64,
    },
    /// An ambient pressure that no bench has.
    Ambient {
        /// The absolute pressure \[Pa\].
        pascals: f64,
    },
    /// A barometer that shows the standard atmosphere to the last digit, as a sheet that was copied does, or the pressure of a
    /// weather report on such a day, which is reduced to sea level.
    Standard {
        /// Altitude \[m\] that the next is worked out for: the bench's, or 500 m where that is not stated.
        meters: f64,
        /// By what part the leak of this run would be larger than is found there.
        larger: f64,
    },
    /// A barometer that stands further from the standard atmosphere at the altitude than weather moves it.
    Altitude {
        /// What it is stated to show \[Pa\].
        stated: f64,
        /// What the standard atmosphere has at the altitude \[Pa\].
        standard: f64,
        /// The altitude \[m\].
        meters: f64,
        /// Where a pressure reduced to sea level explains it: by what part the leak of this run is then larger than is found.
        larger: Option<f64>,
    },
    /// Readings that behave as absolute pressures do.
    Absolute {
        /// The first reading \[Pa\].
        first: f64,
        /// The last reading \[Pa\].
        last: f64,
    },
}

impl std::fmt::Display for Surprise {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Volume { cubic_meters } => write!(
                f,
                "A volume under test of {cubic_meters} m3 ({} cm3) is no crankcase's; is its unit right? 250 cm3 are 250e-6 m3",
                cubic_meters * 1e6
            ),
            Self::Temperature { kelvins } => write!(
                f,
                "A temperature of {kelvins} K ({:.0} C) is no bench's; is its unit right? 20 C are 293.15 K",
                kelvins - 273.15
            ),
            Self::Ambient { pascals } => write!(
                f,
                "An ambient pressure of {pascals} Pa is no bench's; is its unit right, and the pressure absolute? 1013 hPa \
                 are 101300 Pa"
            ),
            Self::Standard { meters, larger } => write!(
                f,
                "The barometer stands at the standard atmosphere to the last digit. A weather report's pressure is reduced to \
                 sea level: {meters:.0} m up the true one is {:.0} % lower, and this leak {:.1} % larger. Read it at the bench, or state \
                 the altitude and pressure_at = \"sea level\"",
                100.0 * (1.0 - standard_part(*meters)),
                100.0 * larger
            ),
            Self::Altitude {
                stated,
                standard,
                meters,
                larger,
            } => {
                write!(
                    f,
                    "The barometer is stated to show {:.1} hPa, and air at {meters:.0} m has about {:.0} hPa. ",
                    stated / 100.0,
                    standard / 100.0
                )?;
                match larger {
                    Some(larger) => write!(
                        f,
                        "A pressure that was reduced to sea level would explain it; this leak is then {:.1} % {} than is found. Read the \
                         barometer at the bench, or state pressure_at = \"sea level\"",
                        100.0 * larger.abs(),
                        if *larger > 0.0 { "larger" } else { "smaller" }
                    ),
                    None => {
                        f.write_str("Weather does not move it so far; check both, and their units")
                    }
                }
            }
            Self::Absolute { first, last } => write!(
                f,
                "The readings go from {:.1} to {:.1} kPa, as absolute pressures do, and were taken as gauge pressures; if \
                 they are absolute, subtract the ambient pressure",
                first / 1e3,
                last / 1e3
            ),
        }
    }
}

/// What surprises about a run and its circumstances; nothing, on a usual bench.
///
/// Source: common practice, no publication.
///
/// ```
/// use casetight::gauge::Gauge;
/// # use casetight::gas::Gas;
/// # use casetight::measured::Measured;
/// # use casetight::quantity::{AbsolutePressure, Pressure, TemperatureDrift, ThermodynamicTemperature, TradeUnits, Volume};
/// # use casetight::vessel::{Conductance, Heat};
/// use casetight_bench::plausible::{Surprise, surprises};
/// use casetight::readings::{Bench, Readings};
///
/// let bench = Bench {
///     // 250 cm3 were meant.
///     volume: Measured::exact(Volume::from_si_value(250.0)?)?,
///     ambient_pressure: Measured::exact(AbsolutePressure::from_pascals(101_325.0)?)?,
///     temperature: Measured::exact(ThermodynamicTemperature::from_si_value(293.15)?)?,
///     drift_allowance: TemperatureDrift::ZERO,
///     effects: casetight::readings::Effects::none(),
///     heat: Heat { conductance: Conductance::Usual, settled_for: Default::default() },
///     gauge: Gauge::digital(Pressure::from_si_value(100.0)?)?,
///     gas: Gas::dry_air(),
/// };
/// let readings = Readings::from_si(&[0.0, 30.0], &[48e3, 45e3], bench.ambient_pressure.value())?;
/// assert_eq!(surprises(&readings, &bench), [Surprise::Volume { cubic_meters: 250.0 }]);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn surprises(readings: &Readings, bench: &Bench) -> Vec<Surprise> {
    let beyond = |got: f64, (least, most): (f64, f64)| got < least || got > most;
    let cubic_meters = bench.volume.value().get::<cubic_meter>();
    let kelvins = bench.temperature.value().get::<kelvin>();
    let pascals = bench.ambient_pressure.value().pascals();
    let mut found = Vec::new();
    if beyond(cubic_meters, VOLUME_M3) {
        found.push(Surprise::Volume { cubic_meters });
    }
    let logged = readings.temperature().zip(readings.times_s().first());
    let logged = logged.map(|(course, first)| course.kelvins_at(*first));
    let temperatures = std::iter::once(kelvins).chain(logged);
    found.extend(
        temperatures
            .filter(|kelvins| beyond(*kelvins, TEMPERATURE_K))
            .map(|kelvins| Surprise::Temperature { kelvins }),
    );
    if beyond(pascals, AMBIENT_PA) {
        found.push(Surprise::Ambient { pascals });
    }
    found.extend(absolute(readings.gauges_pa(), pascals));
    found
}

/// How a barometer that was read at the bench bears on a run where it shows what it hardly can: the standard atmosphere to the last digit
/// ([`Surprise::Standard`]), or what air at the stated altitude \[m\] does not have ([`Surprise::Altitude`]). It says the same of all runs of
/// a session, so that one of them is enough.
///
/// The area of a leak goes with the inverse of the flow of a hole at the gauge pressure of the run's first reading, which follows from
/// the ambient pressure as it is stated and as it would be 500 m up. Source: `[ISO2533]`.
#[must_use]
pub fn barometer(readings: &Readings, bench: &Bench, meters: Option<f64>) -> Option<Surprise> {
    let stated = bench.ambient_pressure.value().pascals();
    let off = |pressure: f64| (stated - pressure).abs();
    if let Some(meters) = meters {
        let standard = STANDARD_ATMOSPHERE_PA.value() * standard_part(meters);
        if off(standard) > WEATHER_PA {
            let reduced = off(STANDARD_ATMOSPHERE_PA.value()) <= WEATHER_PA;
            let larger = larger_at(meters, readings, bench).filter(|_| reduced);
            return Some(Surprise::Altitude {
                stated,
                standard,
                meters,
                larger,
            });
        }
    }
    let near = meters.is_some_and(|meters| meters.abs() <= NEAR_SEA_LEVEL_M);
    if near || off(STANDARD_ATMOSPHERE_PA.value()) > STANDARD_WITHIN_PA {
        return None;
    }
    let meters = meters.unwrap_or(HEIGHT_M);
    let larger = larger_at(meters, readings, bench)?;
    Some(Surprise::Standard { meters, larger })
}

/// By what part the leak of a run is larger than is found where its ambient pressure was reduced to sea level from this height \[m\].
fn larger_at(meters: f64, readings: &Readings, bench: &Bench) -> Option<f64> {
    let stated = bench.ambient_pressure.value().pascals();
    let gauge = *readings.gauges_pa().first()?;
    let flow = |ambient: f64| {
        let y = gauge / ambient;
        let upstream = ambient * (1.0 + y.max(0.0));
        upstream * flow_of_hole(&bench.gas, readings.direction(), y)
    };
    let larger = flow(stated) / flow(stated * standard_part(meters)) - 1.0;
    larger.is_finite().then_some(larger)
}

/// Pressure of the standard atmosphere at a height \[m\], of the first 11 km, over that at sea level: `(1 - L h/T_0)^(g/(R L))`.
/// Source: `[ISO2533]`.
pub(crate) fn standard_part(height: f64) -> f64 {
    const LAPSE_K_PER_M: f64 = 0.0065;
    const R_J_PER_KG_K: f64 = 287.052_87;
    let exponent = STANDARD_GRAVITY_M_PER_S2.value() / (R_J_PER_KG_K * LAPSE_K_PER_M);
    (1.0 - LAPSE_K_PER_M * height / STANDARD_KELVINS_AT_SEA_LEVEL).powf(exponent)
}

/// Readings that behave as absolute pressures: a pressure test's fall towards ambient and stay above it, a vacuum test's
/// rise towards ambient and stay below it.
fn absolute(gauges: &[f64], ambient: f64) -> Option<Surprise> {
    let (&first, &last) = (gauges.first()?, gauges.last()?);
    let least = gauges.iter().copied().fold(f64::INFINITY, f64::min);
    let most = gauges.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let highest = ambient + 1.5 * caution::pressure_limit().get::<pascal>();
    let pressure = least >= REST * ambient && most <= highest;
    let vacuum = least > 0.0 && most <= ambient && last > (1.0 + RISE) * first;
    (pressure || vacuum).then_some(Surprise::Absolute { first, last })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn readings_that_behave_as_absolute_pressures_are_noted() {
        const AMBIENT: f64 = 101_325.0;
        let noted = |gauges: &[f64]| absolute(gauges, AMBIENT).is_some();
        // 7 psi and a vacuum of 40 kPa, with the ambient pressure added.
        assert!(noted(&[149.6e3, 140e3, 131e3]));
        assert!(noted(&[61.3e3, 70e3, 78e3]));
        // The same as they are, a needle that warming gas drives up, and a run from far above the caution limit.
        assert!(!noted(&[48.3e3, 38.7e3, 29.7e3]));
        assert!(!noted(&[-40e3, -31.3e3, -23.3e3]));
        assert!(!noted(&[48.3e3, 48.6e3, 48.9e3]));
        assert!(!noted(&[620e3, 600e3]));
        assert!(!noted(&[]));
    }

    /// Published: U.S. Standard Atmosphere 1976, the same as ISO 2533 there: 954.61, 898.75 and 794.95 hPa at geopotential heights of
    /// 500, 1000 and 2000 m, from memory and by an independent script of its formula.
    #[test]
    fn the_standard_atmosphere() {
        for (height, hectopascals) in [
            (0.0, 1013.25),
            (500.0, 954.61),
            (1e3, 898.75),
            (2e3, 794.95),
        ] {
            let got = 1013.25 * standard_part(height);
            assert!((got - hectopascals).abs() < 0.01, "{height}: {got}");
        }
    }
}
