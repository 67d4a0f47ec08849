//! The readings of one run.

use std::sync::Arc;

use uom::si::pressure::pascal;
use uom::si::time::second;

use super::course::TemperatureCourse;
use crate::quantity::{
    AbsolutePressure, GaugePressure, KILOPASCAL, Pressure, TemperatureDrift, Time, Unit,
    pressure_in,
};
use crate::vessel::Direction;

/// A needle near zero may show a little of the other sign by offset and noise; up to this much, or up to a tenth of the
/// run's largest reading if that is more, it still belongs to the run's direction.
const WRONG_SIDE_PASCALS: f64 = 2000.0;

/// Readings of one run: at least two, at rising times, in one direction, none beyond a perfect vacuum.
///
/// ```
/// use casetight::quantity::AbsolutePressure;
/// use casetight::readings::Readings;
/// use casetight::vessel::Direction;
///
/// let ambient = AbsolutePressure::from_pascals(101_325.0)?;
/// let readings = Readings::from_si(&[0.0, 30.0, 60.0], &[48_000.0, 45_100.0, 42_300.0], ambient)?;
/// assert_eq!(readings.direction(), Direction::Pressure);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Readings {
    times: Vec<f64>,
    gauges: Vec<f64>,
    direction: Direction,
    warming: Warming,
}

/// What is known of the temperature beside readings.
#[derive(Debug, Clone, PartialEq)]
enum Warming {
    /// Nothing but what the bench allows for.
    Unseen,
    /// A steady drift of the wall's, and its standard uncertainty.
    Steady(TemperatureDrift, TemperatureDrift),
    /// What a thermometer showed.
    Logged(Arc<TemperatureCourse>),
}

/// What can be wrong with the readings of a run. Readings are counted from 1, as a person counts the rows.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ReadingsError {
    /// Times and gauge readings come in pairs.
    #[error("{times} times but {gauges} gauge readings; each reading needs both")]
    Lengths {
        /// How many times.
        times: usize,
        /// How many gauge readings.
        gauges: usize,
    },
    /// A fall takes two readings to see.
    #[error("{got} reading(s): a fall needs at least two readings at different times")]
    TooFew {
        /// How many there are.
        got: usize,
    },
    /// A time or a gauge pressure is not a number.
    #[error("reading {row}: the {what} is {got}, not a finite number")]
    NotFinite {
        /// Which reading, from 1.
        row: usize,
        /// "time" or "gauge pressure".
        what: &'static str,
        /// What was given.
        got: f64,
    },
    /// Times must rise.
    #[error(
        "reading {row}: time {got} s does not come after {before} s; sort the readings and give each its own time"
    )]
    TimesNotRising {
        /// Which reading, from 1.
        row: usize,
        /// Its time in seconds.
        got: f64,
        /// The time of the reading before, in seconds.
        before: f64,
    },
    /// A run is either a pressure test or a vacuum test.
    #[error("{}", mixed_directions(*row, *got, *direction, &KILOPASCAL))]
    MixedDirections {
        /// Which reading, from 1.
        row: usize,
        /// Its gauge pressure in pascals.
        got: f64,
        /// The run's direction by its largest reading.
        direction: Direction,
    },
    /// A vacuum can't be deeper than ambient.
    #[error("{}", beyond_vacuum(*row, (*got, *ambient), &KILOPASCAL))]
    BeyondVacuum {
        /// Which reading, from 1.
        row: usize,
        /// Its gauge pressure in pascals.
        got: f64,
        /// The ambient pressure in pascals.
        ambient: f64,
    },
    /// A run that starts at zero says nothing about a leak.
    #[error("{}", no_pressure(*got, &KILOPASCAL))]
    NoPressure {
        /// The first gauge pressure in pascals.
        got: f64,
    },
}

impl ReadingsError {
    /// The message with its pressures in the unit that the gauge shows.
    #[must_use]
    pub fn words(&self, unit: &Unit) -> String {
        match self {
            Self::MixedDirections {
                row,
                got,
                direction,
            } => mixed_directions(*row, *got, *direction, unit),
            Self::BeyondVacuum { row, got, ambient } => beyond_vacuum(*row, (*got, *ambient), unit),
            Self::NoPressure { got } => no_pressure(*got, unit),
            other => other.to_string(),
        }
    }
}

fn mixed_directions(row: usize, got: f64, direction: Direction, unit: &Unit) -> String {
    format!(
        "reading {row}: {} is {} while the run is a {direction} test; make them two runs",
        pressure_in(unit, got),
        if got > 0.0 { "pressure" } else { "vacuum" }
    )
}

fn beyond_vacuum(row: usize, (got, ambient): (f64, f64), unit: &Unit) -> String {
    format!(
        "reading {row}: {} is deeper than a perfect vacuum at an ambient of {}; is the unit right?",
        pressure_in(unit, got),
        pressure_in(unit, ambient)
    )
}

fn no_pressure(got: f64, unit: &Unit) -> String {
    format!(
        "the first reading is {}, on the side of zero where nothing drives a leak; if the pump could not raise the needle, record the \
         run as stalled",
        pressure_in(unit, got)
    )
}

impl Readings {
    /// # Errors
    /// [`ReadingsError`] names the first reading that is not valid.
    pub fn new(
        readings: &[(Time, GaugePressure)],
        ambient: AbsolutePressure,
    ) -> Result<Self, ReadingsError> {
        let times: Vec<f64> = readings.iter().map(|r| r.0.get::<second>()).collect();
        let gauges: Vec<f64> = readings.iter().map(|r| r.1.pascals()).collect();
        Self::from_vecs(times, gauges, ambient)
    }

    /// From times \[s\] and gauge pressures \[Pa\], two slices of the same length.
    ///
    /// # Errors
    /// As [`Readings::new`], and [`ReadingsError::Lengths`].
    pub fn from_si(
        time_s: &[f64],
        gauge_pa: &[f64],
        ambient: AbsolutePressure,
    ) -> Result<Self, ReadingsError> {
        Self::from_vecs(time_s.to_vec(), gauge_pa.to_vec(), ambient)
    }

    #[doc(hidden)]
    pub fn from_vecs(
        times: Vec<f64>,
        gauges: Vec<f64>,
        ambient: AbsolutePressure,
    ) -> Result<Self, ReadingsError> {
        check_rows(&times, &gauges)?;
        check_vacuum(&gauges, ambient)?;
        let (Some(&first), true) = (gauges.first(), times.len() >= 2) else {
            return Err(ReadingsError::TooFew { got: times.len() });
        };
        let largest = gauges
            .iter()
            .copied()
            .fold(0.0, |a: f64, b| if b.abs() > a.abs() { b } else { a });
        let direction = if largest > 0.0 {
            Direction::Pressure
        } else {
            Direction::Vacuum
        };
        let sign = direction.sign();
        let allowed = WRONG_SIDE_PASCALS.max(0.1 * largest.abs());
        if let Some((i, &got)) = gauges
            .iter()
            .enumerate()
            .find(|(_, g)| **g * sign < -allowed)
        {
            return Err(ReadingsError::MixedDirections {
                row: i + 1,
                got,
                direction,
            });
        }
        if first * sign <= 0.0 {
            return Err(ReadingsError::NoPressure { got: first });
        }
        Ok(Self {
            times,
            gauges,
            direction,
            warming: Warming::Unseen,
        })
    }

    /// The same readings with a steady drift of the wall's temperature that was measured beside them, and its standard
    /// uncertainty: it takes the place of the bench's allowance.
    #[must_use]
    pub fn with_drift(self, drift: TemperatureDrift, uncertainty: TemperatureDrift) -> Self {
        Self {
            warming: Warming::Steady(drift, uncertainty),
            ..self
        }
    }

    /// The same readings with the temperature that was logged beside them, at the same clock's times.
    #[must_use]
    pub fn with_temperature(self, course: impl Into<Arc<TemperatureCourse>>) -> Self {
        Self {
            warming: Warming::Logged(course.into()),
            ..self
        }
    }

    /// The measured steady drift and its standard uncertainty, where there is one.
    #[must_use]
    pub fn drift(&self) -> Option<(TemperatureDrift, TemperatureDrift)> {
        match self.warming {
            Warming::Steady(drift, uncertainty) => Some((drift, uncertainty)),
            Warming::Unseen | Warming::Logged(_) => None,
        }
    }

    /// The logged temperature, where there is one.
    #[must_use]
    pub fn temperature(&self) -> Option<&Arc<TemperatureCourse>> {
        match &self.warming {
            Warming::Logged(course) => Some(course),
            Warming::Unseen | Warming::Steady(..) => None,
        }
    }

    /// All readings but the one in this place (from zero); none where there is no such place, or where what is left is no run.
    pub(crate) fn without(&self, index: usize) -> Option<Self> {
        let mut others = self.clone();
        if index >= others.len() || others.len() <= 2 {
            return None;
        }
        others.times.remove(index);
        others.gauges.remove(index);
        let starts = others.gauges.first().copied().unwrap_or(0.0) * self.direction.sign();
        (starts > 0.0).then_some(others)
    }

    /// The readings with the one in this place (from zero) multiplied.
    pub(crate) fn with_one_times(&self, index: usize, times: f64) -> Option<Self> {
        let mut other = self.clone();
        *other.gauges.get_mut(index)? *= times;
        Some(other)
    }

    /// Whether the run is a pressure or a vacuum test.
    #[must_use]
    pub fn direction(&self) -> Direction {
        self.direction
    }

    /// Times \[s\] as noted.
    #[must_use]
    pub fn times_s(&self) -> &[f64] {
        &self.times
    }

    /// Gauge pressures \[Pa\] as read; same length as the times.
    #[must_use]
    pub fn gauges_pa(&self) -> &[f64] {
        &self.gauges
    }

    /// How many readings; two or more.
    #[must_use]
    #[allow(clippy::len_without_is_empty)] // never empty
    pub fn len(&self) -> usize {
        self.times.len()
    }

    /// Time from the first reading to the last.
    #[must_use]
    pub fn duration(&self) -> Time {
        let (first, last) = (self.times.first().copied(), self.times.last().copied());
        Time::new::<second>(last.unwrap_or(0.0) - first.unwrap_or(0.0))
    }

    /// The size of the largest reading, pressure or vacuum.
    #[must_use]
    pub fn largest(&self) -> Pressure {
        Pressure::new::<pascal>(self.gauges.iter().fold(0.0, |a: f64, g| a.max(g.abs())))
    }
}

/// Checks that times and gauge pressures come in pairs of finite numbers, and that times rise.
///
/// # Errors
/// [`ReadingsError`] names the first row that is not valid.
pub fn check_rows(times: &[f64], gauges: &[f64]) -> Result<(), ReadingsError> {
    if times.len() != gauges.len() {
        return Err(ReadingsError::Lengths {
            times: times.len(),
            gauges: gauges.len(),
        });
    }
    let mut before = f64::NEG_INFINITY;
    for (i, (&time, &gauge)) in times.iter().zip(gauges).enumerate() {
        let row = i + 1;
        if !time.is_finite() {
            return Err(ReadingsError::NotFinite {
                row,
                what: "time",
                got: time,
            });
        }
        if !gauge.is_finite() {
            return Err(ReadingsError::NotFinite {
                row,
                what: "gauge pressure",
                got: gauge,
            });
        }
        if time <= before {
            return Err(ReadingsError::TimesNotRising {
                row,
                got: time,
                before,
            });
        }
        before = time;
    }
    Ok(())
}

/// Checks that no reading is beyond a perfect vacuum.
fn check_vacuum(gauges: &[f64], ambient: AbsolutePressure) -> Result<(), ReadingsError> {
    let ambient = ambient.pascals();
    match gauges.iter().position(|gauge| *gauge <= -ambient) {
        None => Ok(()),
        Some(at) => Err(ReadingsError::BeyondVacuum {
            row: at + 1,
            got: gauges.get(at).copied().unwrap_or(f64::NAN),
            ambient,
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(times: &[f64], gauges: &[f64]) -> Result<Readings, ReadingsError> {
        Readings::from_si(
            times,
            gauges,
            AbsolutePressure::from_pascals(101_325.0).unwrap(),
        )
    }

    #[test]
    fn each_impossible_run_is_named() {
        type E = ReadingsError;
        assert_eq!(read(&[0.0], &[5e4]), Err(E::TooFew { got: 1 }));
        assert_eq!(read(&[], &[]), Err(E::TooFew { got: 0 }));
        assert_eq!(
            read(&[0.0, 1.0], &[5e4]),
            Err(E::Lengths {
                times: 2,
                gauges: 1
            })
        );
        assert!(matches!(
            read(&[0.0, f64::NAN], &[5e4, 4e4]),
            Err(E::NotFinite {
                row: 2,
                what: "time",
                ..
            })
        ));
        assert!(matches!(
            read(&[0.0, 1.0], &[f64::INFINITY, 4e4]),
            Err(E::NotFinite { row: 1, .. })
        ));
        assert_eq!(
            read(&[0.0, 0.0], &[5e4, 4e4]),
            Err(E::TimesNotRising {
                row: 2,
                got: 0.0,
                before: 0.0
            })
        );
        assert_eq!(
            read(&[5.0, 3.0], &[5e4, 4e4]),
            Err(E::TimesNotRising {
                row: 2,
                got: 3.0,
                before: 5.0
            })
        );
        assert!(matches!(
            read(&[0.0, 1.0], &[-5e4, -101_325.0]),
            Err(E::BeyondVacuum { row: 2, .. })
        ));
        assert!(matches!(
            read(&[0.0, 1.0], &[5e4, -2e4]),
            Err(E::MixedDirections { row: 2, .. })
        ));
        assert!(matches!(
            read(&[0.0, 1.0], &[0.0, 0.0]),
            Err(E::NoPressure { .. })
        ));
    }

    #[test]
    fn a_needle_that_rests_a_little_past_zero_keeps_its_direction() {
        let run = read(&[0.0, 10.0, 20.0], &[-3e4, -1e3, 400.0]).unwrap();
        assert_eq!((run.direction(), run.len()), (Direction::Vacuum, 3));
    }
}
