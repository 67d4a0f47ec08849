//! How the temperature went while the readings were taken.

use uom::si::temperature_interval::kelvin as kelvins_apart;
use uom::si::thermodynamic_temperature::kelvin;

use crate::quantity::{
    QuantityError, TemperatureDrift, TemperatureInterval, ThermodynamicTemperature,
};

/// A straight line through temperatures against time: `T(t) = T_m + r (t - t_m)`.
///
/// The slope r \[K/s\] and its standard uncertainty are those of ordinary least squares,
/// `r = S_tT/S_tt` and `u_r^2 = s^2/S_tt` with `s^2` the sum of squared residuals over `n - 2`. A thermometer that shows
/// whole steps of h hides a drift that stays within one, so that a stated step adds `h/sqrt(6)` over the time from first to
/// last reading: the standard uncertainty of a difference of two roundings. Source: `[JCGM100]`, H.3 for the line, F.2.2.1
/// for the rounding.
///
/// A slow drift enters a decay as `dp/dt = p r/T`; with r known, only u_r is left of the drift allowance.
///
/// ```
/// use casetight::readings::TemperatureCourse;
///
/// // A wall that warms by 0.01 K each 10 s.
/// let course = TemperatureCourse::of(&[0.0, 10.0, 20.0, 30.0], &[293.15, 293.16, 293.17, 293.18], None)?;
/// assert!((course.drift.kelvins_per_second() - 0.001).abs() < 1e-12);
/// assert!(course.standard_uncertainty.kelvins_per_second() < 1e-12);
/// # Ok::<(), casetight::readings::CourseError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TemperatureCourse {
    /// Slope r.
    pub drift: TemperatureDrift,
    /// Its standard uncertainty.
    pub standard_uncertainty: TemperatureDrift,
    /// Temperature T_m in the middle of the readings' times.
    pub middle: ThermodynamicTemperature,
    /// How many readings the line goes through.
    pub readings: usize,
}

/// What can be wrong with temperatures that a line is to go through. Readings are counted from 1.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CourseError {
    /// Times and temperatures come in pairs.
    #[error("{times} times but {temperatures} temperatures; each reading needs both")]
    Lengths {
        /// How many times.
        times: usize,
        /// How many temperatures.
        temperatures: usize,
    },
    /// A line with an uncertainty takes three points.
    #[error("{got} temperature(s): a drift with its uncertainty needs at least three")]
    TooFew {
        /// How many there are.
        got: usize,
    },
    /// A time is not a number.
    #[error("reading {row}: the time is {got}, not a finite number")]
    Time {
        /// Which reading.
        row: usize,
        /// What was given \[s\].
        got: f64,
    },
    /// No temperature.
    #[error("reading {row}: {got} K is no temperature; is the column's unit right?")]
    Temperature {
        /// Which reading.
        row: usize,
        /// What was given \[K\].
        got: f64,
    },
    /// All at one time.
    #[error("all temperatures are of one time; a drift needs different times")]
    OneTime,
    /// A step below zero or not finite.
    #[error("the thermometer's step is {got} K; it must be finite and not below zero")]
    Step {
        /// What was given \[K\].
        got: f64,
    },
    /// A drift beyond what a number can hold.
    #[error(transparent)]
    Quantity(#[from] QuantityError),
}

impl TemperatureCourse {
    /// The line through temperatures \[K\] against times \[s\], in any order; `step` is the thermometer's resolution where
    /// it is known.
    ///
    /// # Errors
    /// [`CourseError`] names the first reading that is not valid.
    pub fn of(
        time_s: &[f64],
        temperature_k: &[f64],
        step: Option<TemperatureInterval>,
    ) -> Result<Self, CourseError> {
        let readings = time_s.len();
        if readings != temperature_k.len() {
            return Err(CourseError::Lengths {
                times: readings,
                temperatures: temperature_k.len(),
            });
        }
        if let Some(at) = time_s.iter().position(|time| !time.is_finite()) {
            let got = time_s.get(at).copied().unwrap_or(f64::NAN);
            return Err(CourseError::Time { row: at + 1, got });
        }
        let possible = |kelvins: &f64| kelvins.is_finite() && *kelvins > 0.0;
        if let Some(at) = temperature_k.iter().position(|kelvins| !possible(kelvins)) {
            let got = temperature_k.get(at).copied().unwrap_or(f64::NAN);
            return Err(CourseError::Temperature { row: at + 1, got });
        }
        if readings < 3 {
            return Err(CourseError::TooFew { got: readings });
        }
        let step = step.map_or(0.0, |step| step.get::<kelvins_apart>());
        if !(step.is_finite() && step >= 0.0) {
            return Err(CourseError::Step { got: step });
        }
        let line = straight_line(time_s, temperature_k);
        if line.lasted <= 0.0 {
            return Err(CourseError::OneTime);
        }
        let hidden = step / 6.0_f64.sqrt() / line.lasted;
        Ok(Self {
            drift: TemperatureDrift::from_kelvins_per_second(line.slope)?,
            standard_uncertainty: TemperatureDrift::from_kelvins_per_second(
                line.slope_uncertainty.hypot(hidden),
            )?,
            middle: ThermodynamicTemperature::new::<kelvin>(line.middle),
            readings,
        })
    }
}

struct Line {
    slope: f64,
    slope_uncertainty: f64,
    /// Of the ordinates, at the mean abscissa.
    middle: f64,
    lasted: f64,
}

/// Ordinary least squares about the means.
fn straight_line(x: &[f64], y: &[f64]) -> Line {
    let count = x.len() as f64;
    let mean = |values: &[f64]| values.iter().sum::<f64>() / count;
    let (x_mean, y_mean) = (mean(x), mean(y));
    let pairs = || x.iter().zip(y).map(|(x, y)| (x - x_mean, y - y_mean));
    let xx: f64 = pairs().map(|(x, _)| x * x).sum();
    let slope = pairs().map(|(x, y)| x * y).sum::<f64>() / xx;
    let squares: f64 = pairs().map(|(x, y)| (y - slope * x).powi(2)).sum();
    let (low, high) = x
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| {
            (low.min(*x), high.max(*x))
        });
    Line {
        slope,
        slope_uncertainty: (squares / (count - 2.0) / xx).sqrt(),
        middle: y_mean,
        lasted: high - low,
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Published: NIST StRD, linear regression, data set Norris; pairs (y, x). From memory, and held by the certified
    /// results, which no slip in a digit would reproduce.
    #[rustfmt::skip]
    const NORRIS: [(f64, f64); 36] = [
        (0.1, 0.2), (338.8, 337.4), (118.1, 118.2), (888.0, 884.6), (9.2, 10.1), (228.1, 226.5), (668.5, 666.3),
        (998.5, 996.3), (449.1, 448.6), (778.9, 777.0), (559.2, 558.2), (0.3, 0.4), (0.1, 0.6), (778.1, 775.5),
        (668.8, 666.9), (339.3, 338.0), (448.9, 447.5), (10.8, 11.6), (557.7, 556.0), (228.3, 228.1), (998.0, 995.8),
        (888.8, 887.6), (119.6, 120.2), (0.3, 0.3), (0.6, 0.3), (557.6, 556.8), (339.3, 339.1), (888.0, 887.2),
        (998.5, 999.0), (778.9, 779.0), (10.2, 11.1), (117.6, 118.3), (228.9, 229.2), (668.4, 669.1), (449.2, 448.9),
        (0.2, 0.5),
    ];

    #[test]
    fn the_certified_line_of_norris() {
        let (y, x): (Vec<f64>, Vec<f64>) = NORRIS.into_iter().unzip();
        let line = straight_line(&x, &y);
        // Certified: slope and its standard deviation, 15 digits; rounding of sums over 36 numbers leaves about 13.
        assert!(
            (line.slope - 1.002_116_818_020_45).abs() < 1e-13,
            "{}",
            line.slope
        );
        let sd = 0.429_796_848_199_937e-3;
        assert!(
            (line.slope_uncertainty - sd).abs() < 1e-12 * 1e3 * sd,
            "{}",
            line.slope_uncertainty
        );
        // Certified intercept.
        let mean = x.iter().sum::<f64>() / 36.0;
        assert!((line.middle - line.slope * mean + 0.262_323_073_774_029).abs() < 1e-10);
    }

    #[test]
    fn what_no_line_goes_through_is_refused() {
        let of = |t: &[f64], k: &[f64]| TemperatureCourse::of(t, k, None).unwrap_err();
        assert_eq!(
            of(&[0.0], &[]),
            CourseError::Lengths {
                times: 1,
                temperatures: 0
            }
        );
        assert_eq!(
            of(&[0.0, 1.0], &[293.0, 293.0]),
            CourseError::TooFew { got: 2 }
        );
        assert!(matches!(
            of(&[0.0, f64::NAN, 1.0], &[293.0; 3]),
            CourseError::Time { row: 2, .. }
        ));
        for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(matches!(
                of(&[0.0, 1.0, 2.0], &[293.0, 293.0, bad]),
                CourseError::Temperature { row: 3, .. }
            ));
        }
        assert_eq!(of(&[1.0; 3], &[293.0; 3]), CourseError::OneTime);
        let step = Some(TemperatureInterval::new::<kelvins_apart>(-0.1));
        let negative = TemperatureCourse::of(&[0.0, 1.0, 2.0], &[293.0; 3], step);
        assert!(matches!(negative, Err(CourseError::Step { .. })));
    }

    #[test]
    fn a_thermometer_that_stands_still_may_hide_a_drift() {
        // By hand: 0.1 K/sqrt(6) over 60 s.
        let step = Some(TemperatureInterval::new::<kelvins_apart>(0.1));
        let course = TemperatureCourse::of(&[0.0, 30.0, 60.0], &[293.1; 3], step).unwrap();
        let hidden = course.standard_uncertainty.kelvins_per_second();
        assert!(
            (hidden - 0.1 / 6.0_f64.sqrt() / 60.0).abs() < 1e-15,
            "{hidden}"
        );
    }

    proptest! {
        #[test]
        fn a_shift_of_time_or_zero_changes_no_drift(
            rows in prop::collection::vec((0.0..600.0_f64, 290.0..300.0_f64), 3..40),
            later in 0.0..1e4_f64,
        ) {
            let (t, k): (Vec<f64>, Vec<f64>) = rows.into_iter().unzip();
            let shifted: Vec<f64> = t.iter().map(|t| t + later).collect();
            prop_assume!(straight_line(&t, &k).lasted > 1.0);
            let one = TemperatureCourse::of(&t, &k, None).unwrap();
            let other = TemperatureCourse::of(&shifted, &k, None).unwrap();
            let scale = one.standard_uncertainty.kelvins_per_second().max(1e-9);
            let off = one.drift.kelvins_per_second() - other.drift.kelvins_per_second();
            prop_assert!(off.abs() < 1e-6 * scale, "{off}");
        }
    }
}
