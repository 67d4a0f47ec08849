//! Inputs that can be reckoned with, but that hardly any bench has: a slip of a unit more often than not.
//!
//! A number that can't be is refused where it comes in. One that only surprises is answered, and said: these notes stand
//! beside the result, wherever it is shown.

use uom::si::pressure::pascal;
use uom::si::thermodynamic_temperature::kelvin;
use uom::si::time::second;
use uom::si::volume::cubic_meter;

use casetight::below::{KILOPASCAL, flow_of_hole, pressure_in, told};
use casetight::caution;
use casetight::constants::{STANDARD_ATMOSPHERE_PA, STANDARD_GRAVITY_M_PER_S2};
use casetight::limit::Limit;
use casetight::quantity::{ThermodynamicTemperature, Time, Unit, Volume};
use casetight::readings::{Bench, Readings};

/// Volumes under test that a hand pump and a bench see \[m3\], from a glow engine's case to a large twin's with its hose
/// (common practice, no source).
const VOLUME_M3: (f64, f64) = (2e-6, 2e-2);

/// Temperatures of a bench \[K\], -40 to 55 C (common practice, no source): 68 C are more often 68 F.
const TEMPERATURE_K: (f64, f64) = (233.15, 328.15);

/// Readings of a dial are further apart than this \[s\] (common practice, no source).
const FASTEST_S: f64 = 1.5;

/// Nobody watches a dial for longer than this \[s\] (common practice, no source).
const LONGEST_S: f64 = 3600.0;

/// A test starts within this factor of the pressure that its limit is from: psi and kPa differ by 6.9, kPa and inHg by 3.4.
const FAR: f64 = 3.0;

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

/// Readings of a dial that differ by less than this part of its step are finer than it is stated to be read: half a step is often read.
const FINER: f64 = 0.3;

/// A rise of this part of its first reading is more than warming gas gives: an absolute pressure of a vacuum rises so, and a needle that is
/// pumped on.
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
    /// Readings of a dial that follow each other faster than anyone reads it.
    Fast {
        /// From one to the next \[s\].
        apart_s: f64,
    },
    /// Readings of a dial over a time that nobody watches it for.
    Long {
        /// From the first to the last \[s\].
        over_s: f64,
    },
    /// A needle that was pumped on after the first reading.
    Pumped {
        /// The first reading \[Pa\].
        first: f64,
        /// The one that is farthest from zero \[Pa\].
        farthest: f64,
        /// Its time \[s\].
        at_s: f64,
    },
    /// Readings of a dial that are finer than its steps.
    Finer {
        /// The least by which two readings differ \[Pa\].
        apart: f64,
        /// The step that the gauge is read to \[Pa\].
        step: f64,
    },
    /// A test that starts far from the pressure that its limit is from.
    FarFromLimit {
        /// The first reading \[Pa\].
        first: f64,
        /// What the limit is from \[Pa\].
        from: f64,
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
        f.write_str(&self.words(&KILOPASCAL))
    }
}

impl Surprise {
    /// The sentence with its pressures in the unit that the gauge shows.
    #[must_use]
    pub fn words(&self, unit: &Unit) -> String {
        match self {
            Self::Volume { cubic_meters } => format!(
                "A volume under test of {} is no crankcase's; is its unit right? 250 cm3 are 250e-6 m3",
                told::<Volume>(*cubic_meters)
            ),
            Self::Temperature { kelvins } => format!(
                "A temperature of {} ({kelvins} K) is no bench's; is its unit right? 20 C are 68 F, or 293.15 K",
                told::<ThermodynamicTemperature>(*kelvins)
            ),
            Self::Ambient { pascals } => format!(
                "An ambient pressure of {} is no bench's; is its unit right, and the pressure absolute? 1013 hPa are {}",
                pressure_in(unit, *pascals),
                pressure_in(unit, 101_300.0)
            ),
            Self::Fast { apart_s } => format!(
                "The readings are {apart_s:.1} s apart, faster than a dial is read by eye. Are the times minutes? Write them as \"0:30\", or in \
                 seconds"
            ),
            Self::Long { over_s } => format!(
                "The readings go over {}, longer than a dial is watched. Are the times right? \"1:30\" is one minute and a half",
                told::<Time>(*over_s)
            ),
            Self::Pumped {
                first,
                farthest,
                at_s,
            } => format!(
                "The needle went on from {} to {} in the first {at_s:.0} s. If it was pumped still, leave out the readings before the last stroke",
                pressure_in(unit, *first),
                pressure_in(unit, *farthest)
            ),
            Self::Finer { apart, step } => format!(
                "Readings differ by {}, and the gauge is stated to be read in steps of {}; look at its division, or state `readable`",
                pressure_in(unit, *apart),
                pressure_in(unit, *step)
            ),
            Self::FarFromLimit { first, from } => format!(
                "The test starts at {}, and the limit is one from {}; look at the readings' unit",
                pressure_in(unit, *first),
                pressure_in(unit, *from)
            ),
            Self::Absolute { first, last } => format!(
                "The readings go from {} to {}, as absolute pressures do, and were taken as gauge pressures; if they are absolute, \
                 subtract the ambient pressure",
                pressure_in(unit, *first),
                pressure_in(unit, *last)
            ),
            Self::Standard { .. } | Self::Altitude { .. } => self.of_barometer(),
        }
    }

    /// What a barometer shows that it hardly can.
    fn of_barometer(&self) -> String {
        match self {
            Self::Standard { meters, larger } => format!(
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
                let reduced = larger.map_or(
                    "Weather does not move it so far; check both, and their units".to_owned(),
                    |larger| {
                        format!(
                            "A pressure that was reduced to sea level would explain it; this leak is then {:.1} % {} than is found. Read the \
                             barometer at the bench, or state pressure_at = \"sea level\"",
                            100.0 * larger.abs(),
                            if larger > 0.0 { "larger" } else { "smaller" }
                        )
                    },
                );
                format!(
                    "The barometer is stated to show {:.1} hPa, and air at {meters:.0} m has about {:.0} hPa. {reduced}",
                    stated / 100.0,
                    standard / 100.0
                )
            }
            _ => String::new(),
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
    found.extend(pace(readings, bench));
    found.extend(pumped(readings, bench));
    found.extend(finer(readings, bench));
    found
}

/// A needle that goes on from its first reading by more than warming gas drives it, and then falls.
fn pumped(readings: &Readings, bench: &Bench) -> Option<Surprise> {
    let sign = readings.direction().sign();
    let gauges = readings.gauges_pa();
    let size = |gauge: f64| gauge * sign;
    let (first, last) = (*gauges.first()?, *gauges.last()?);
    let both = readings.times_s().iter().zip(gauges).enumerate();
    let (at, (time, farthest)) =
        both.max_by(|(_, (_, a)), (_, (_, b))| size(**a).total_cmp(&size(**b)))?;
    let step = bench.gauge.step().get::<pascal>();
    let seen = |from: f64, to: f64| size(to) - size(from) > 2.0 * step;
    // One misread number is followed by readings on the curve of the others.
    let stays = gauges
        .get(at + 1)
        .is_some_and(|next| size(*next) > (1.0 + RISE) * size(first));
    let far = stays && size(*farthest) > (1.0 + RISE) * size(first);
    (far && seen(first, *farthest) && seen(last, *farthest)).then_some(Surprise::Pumped {
        first,
        farthest: *farthest,
        at_s: time - readings.times_s().first()?,
    })
}

/// Readings of a dial of which two differ by much less than a step, and none by nothing.
fn finer(readings: &Readings, bench: &Bench) -> Option<Surprise> {
    let step = bench.gauge.step().get::<pascal>();
    let pairs = readings.gauges_pa().windows(2);
    let apart = pairs.map(|pair| {
        pair.iter()
            .fold(0.0, |between: f64, gauge| gauge - between)
            .abs()
    });
    let apart = apart
        .filter(|apart| *apart > 0.0)
        .fold(f64::INFINITY, f64::min);
    let is_dial = bench.gauge.stopwatch().get::<second>() > 0.0;
    (is_dial && apart < FINER * step).then_some(Surprise::Finer { apart, step })
}

/// Readings of a dial at times that nobody reads one at.
fn pace(readings: &Readings, bench: &Bench) -> Option<Surprise> {
    let times = readings.times_s();
    let over_s = times.last()? - times.first()?;
    let apart_s = over_s / (times.len() as f64 - 1.0);
    // A digital gauge and a logger have no stopwatch.
    if bench.gauge.stopwatch().get::<second>() <= 0.0 {
        None
    } else if apart_s < FASTEST_S {
        Some(Surprise::Fast { apart_s })
    } else {
        (over_s > LONGEST_S).then_some(Surprise::Long { over_s })
    }
}

/// A test that starts far from where all its limits are from.
#[must_use]
pub fn far_from_limits(readings: &Readings, limits: &[Limit]) -> Option<Surprise> {
    let first = *readings.gauges_pa().first()?;
    let from = |limit: &Limit| match limit {
        Limit::Drop { from, .. }
        | Limit::Hold {
            from: Some(from), ..
        } => Some(from.get::<pascal>()),
        _ => None,
    };
    let far = |from: &f64| first.abs() > FAR * from || FAR * first.abs() < *from;
    let mut all = limits.iter().filter_map(from);
    let from = all.next()?;
    let is_far = far(&from) && all.all(|from| far(&from));
    is_far.then_some(Surprise::FarFromLimit { first, from })
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
