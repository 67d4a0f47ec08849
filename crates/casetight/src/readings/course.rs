//! How the temperature went while the readings were taken.

use uom::si::temperature_interval::kelvin as kelvins_apart;

use crate::quantity::{QuantityError, TemperatureDrift, TemperatureInterval};

/// Nodes that a course keeps at most; of more temperatures they are means.
const MOST_NODES: usize = 512;
/// A thermometer's step where neither the caller nor its readings tell it \[K\] (common practice, no source).
const USUAL_STEP_KELVINS: f64 = 0.1;
/// How far a thermometer's error wanders within a run \[K\], one standard uncertainty (common practice, no source).
const WANDERS_KELVINS: f64 = 0.05;
/// What a temperature scatters by at least \[K\] (common practice, no source).
const LEAST_NOISE_KELVINS: f64 = 0.01;

/// The pace of a course is that over so long to either side \[s\].
const PACE_SECONDS: f64 = 10.0;

/// What the thermometer touched whose temperatures were logged beside the readings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[non_exhaustive]
pub enum Touched {
    /// Some surface nearby, nobody said which.
    #[default]
    Nearby,
    /// The wall of the case.
    Wall,
    /// The gas inside.
    Gas,
    /// The air of the room, which the wall follows in its own time.
    Room,
}

impl Touched {
    /// Each by its word.
    pub const WORDS: &'static [(&'static str, Self)] = &[
        ("wall", Self::Wall),
        ("gas", Self::Gas),
        ("room", Self::Room),
        ("nearby", Self::Nearby),
    ];

    /// Whether that is the engine, which shows how it comes to the room's temperature.
    #[must_use]
    pub fn is_of_engine(self) -> bool {
        matches!(self, Self::Wall | Self::Gas)
    }
}

/// Temperatures that were logged beside the readings of a run: their course, and the straight line through it.
///
/// The course itself goes into a fit ([`crate::readings::Readings::with_temperature`]): the gas follows what the thermometer
/// [`touched`](Self::touching), as closely as that is known. For the record there is the line T(t) = `T_m` + r (t - `t_m`): its
/// slope r \[K/s\] and its standard uncertainty are those of ordinary least squares, `r = S_tT/S_tt` and `u_r^2 = s^2/S_tt` with `s^2`
/// the sum of squared residuals over `n - 2`. A thermometer that shows whole steps of h hides a drift that stays within one, so that a
/// step adds `h/sqrt(6)` over the time from first to last reading: the standard uncertainty of a difference of two roundings. Source: `[JCGM100]`,
/// H.3 for the line, F.2.2.1 for the rounding.
///
/// ```
/// use casetight::readings::{TemperatureCourse, Touched};
///
/// // A wall that warms by 0.01 K each 10 s.
/// let course = TemperatureCourse::of(&[0.0, 10.0, 20.0, 30.0], &[293.15, 293.16, 293.17, 293.18], None)?;
/// assert!((course.drift().kelvins_per_second() - 0.001).abs() < 1e-12);
/// let course = course.touching(Touched::Wall);
/// assert!((course.kelvins_at(15.0) - 293.165).abs() < 1e-9);
/// # Ok::<(), casetight::readings::CourseError>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct TemperatureCourse {
    touched: Touched,
    /// Times \[s\] that rise, and temperatures \[K\].
    nodes: Vec<(f64, f64)>,
    drift: TemperatureDrift,
    drift_uncertainty: TemperatureDrift,
    /// How many temperatures were logged, and the standard uncertainty of one by itself \[K\].
    count: usize,
    noise: f64,
    /// What thermometer and rounding leave open of the drift \[K/s\].
    hidden: f64,
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
        let hidden = |step: f64| step / 6.0_f64.sqrt() / line.lasted;
        let rows = in_order(time_s, temperature_k);
        let seen_step = step.max(smallest_step(temperature_k));
        let block = readings.div_ceil(MOST_NODES);
        let noise = scatter(&rows).hypot(seen_step / 12.0_f64.sqrt());
        Ok(Self {
            touched: Touched::default(),
            drift: TemperatureDrift::from_kelvins_per_second(line.slope)?,
            drift_uncertainty: TemperatureDrift::from_kelvins_per_second(
                line.slope_uncertainty.hypot(hidden(step)),
            )?,
            count: readings,
            noise: noise.max(LEAST_NOISE_KELVINS),
            hidden: hidden(seen_step).hypot(2.0_f64.sqrt() * WANDERS_KELVINS / line.lasted),
            nodes: rows.chunks(block).map(mean).collect(),
        })
    }

    /// The same course, the thermometer having touched this.
    #[must_use]
    pub fn touching(self, touched: Touched) -> Self {
        Self { touched, ..self }
    }

    /// What the thermometer touched.
    #[must_use]
    pub fn touched(&self) -> Touched {
        self.touched
    }

    /// Slope of the line through the course.
    #[must_use]
    pub fn drift(&self) -> TemperatureDrift {
        self.drift
    }

    /// Standard uncertainty of that slope.
    #[must_use]
    pub fn drift_uncertainty(&self) -> TemperatureDrift {
        self.drift_uncertainty
    }

    /// Temperature \[K\] at a time \[s\]: between two that were logged on the straight line, before the first and after the last as
    /// there.
    #[must_use]
    pub fn kelvins_at(&self, time_s: f64) -> f64 {
        let next = self.nodes.partition_point(|node| node.0 < time_s);
        let before = next.checked_sub(1).and_then(|at| self.nodes.get(at));
        match (before, self.nodes.get(next)) {
            (Some((t0, k0)), Some((t1, k1))) => k0 + (k1 - k0) * (time_s - t0) / (t1 - t0),
            (Some((_, kelvins)), None) | (None, Some((_, kelvins))) => *kelvins,
            (None, None) => f64::NAN,
        }
    }

    /// How far its scatter moves the gas's temperature at one of so many readings \[K\]; a wall that follows the room averages it.
    pub(crate) fn noise_kelvins(&self, readings: usize) -> f64 {
        if self.touched == Touched::Room {
            return 0.0;
        }
        // Of fewer temperatures than readings each stands for several.
        let each = (readings as f64 / self.count as f64).max(1.0);
        self.noise * each.sqrt()
    }

    /// Temperatures \[K\] at times \[s\] that rise of what follows it with a time constant \[s\], and had its temperature at the first.
    pub(crate) fn followed(&self, times: impl Iterator<Item = f64>, constant: f64) -> Vec<f64> {
        let mut times = times.peekable();
        let mut at = times.peek().copied().unwrap_or(0.0);
        let mut own = self.kelvins_at(at);
        let mut towards = own;
        let later = self.nodes.partition_point(|node| node.0 <= at);
        let mut nodes = self.nodes.iter().skip(later).peekable();
        let mut go = |time: f64, kelvins: f64| {
            let lasts = time - at;
            if lasts > 0.0 {
                let left = (-lasts / constant).exp();
                let behind = (kelvins - towards) / lasts * constant;
                // What follows a straight line ends as far behind it as the time constant.
                own = kelvins - behind + (own - towards + behind) * left;
                (at, towards) = (time, kelvins);
            }
            own
        };
        let each = times.map(|time| {
            while let Some((node, kelvins)) = nodes.next_if(|node| node.0 < time) {
                go(*node, *kelvins);
            }
            go(time, self.kelvins_at(time))
        });
        each.collect()
    }

    /// How fast the temperature changes about a time \[K/s\].
    pub(crate) fn pace(&self, time_s: f64) -> f64 {
        let ends = self.nodes.first().zip(self.nodes.last());
        let Some(((first, _), (last, _))) = ends else {
            return 0.0;
        };
        let apart = PACE_SECONDS.max((last - first) / self.nodes.len() as f64);
        let (from, to) = (time_s - apart, time_s + apart);
        let (from, to) = (from.clamp(*first, *last), to.clamp(*first, *last));
        if to > from {
            (self.kelvins_at(to) - self.kelvins_at(from)) / (to - from)
        } else {
            0.0
        }
    }

    /// What thermometer and rounding leave open of the drift \[K/s\].
    pub(crate) fn hidden_drift(&self) -> f64 {
        self.hidden
    }
}

/// Pairs of time and temperature by rising time.
fn in_order(times: &[f64], kelvins: &[f64]) -> Vec<(f64, f64)> {
    let mut rows: Vec<(f64, f64)> = times.iter().copied().zip(kelvins.iter().copied()).collect();
    rows.sort_by(|a, b| a.0.total_cmp(&b.0));
    rows
}

/// The smallest difference between two temperatures, at most a kelvin; the usual step where all are equal.
fn smallest_step(kelvins: &[f64]) -> f64 {
    let mut sorted = kelvins.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    let steps = (sorted.iter().zip(sorted.iter().skip(1))).map(|(a, b)| b - a);
    // Less than that is the rounding of a sum, not of a thermometer.
    let least = (steps.filter(|step| *step > 1e-6)).fold(f64::INFINITY, f64::min);
    if least.is_finite() {
        least.min(1.0)
    } else {
        USUAL_STEP_KELVINS
    }
}

/// Standard deviation of temperatures about the straight line between their neighbors \[K\].
fn scatter(rows: &[(f64, f64)]) -> f64 {
    let (mut squares, mut count) = (0.0, 0.0);
    for row in rows.windows(3) {
        let [(t0, k0), (t1, k1), (t2, k2)] = row else {
            continue;
        };
        let part = (t1 - t0) / (t2 - t0);
        if part.is_finite() {
            let off = k1 - k0 - part * (k2 - k0);
            squares += off * off / (1.0 + part * part + (1.0 - part).powi(2));
            count += 1.0;
        }
    }
    if count > 0.0 {
        (squares / count).sqrt()
    } else {
        0.0
    }
}

fn mean(block: &[(f64, f64)]) -> (f64, f64) {
    let count = block.len() as f64;
    let sum = |of: fn(&(f64, f64)) -> f64| block.iter().map(of).sum::<f64>();
    (sum(|row| row.0) / count, sum(|row| row.1) / count)
}

struct Line {
    slope: f64,
    slope_uncertainty: f64,
    /// Of the ordinates, at the mean abscissa.
    #[cfg(test)]
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
        #[cfg(test)]
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
        let hidden = course.drift_uncertainty.kelvins_per_second();
        assert!(
            (hidden - 0.1 / 6.0_f64.sqrt() / 60.0).abs() < 1e-15,
            "{hidden}"
        );
    }

    /// By hand: behind T = r t stays what follows it with a time constant c by r c (1 - exp(-t/c)); behind a step of h at time zero, h exp(-t/c).
    #[test]
    fn what_follows_a_course_stays_behind_as_the_closed_form_has_it() {
        let (r, c) = (0.02, 7.0);
        let times: Vec<f64> = (0..=20).map(f64::from).collect();
        let ramp: Vec<f64> = times.iter().map(|t| 290.0 + r * t).collect();
        let course = TemperatureCourse::of(&times, &ramp, None).unwrap();
        let asked = [0.0, 0.4, 5.0, 12.3, 20.0];
        for (t, got) in asked.iter().zip(course.followed(asked.into_iter(), c)) {
            let behind = r * c * (1.0 - (-t / c).exp());
            assert!((got - (290.0 + r * t - behind)).abs() < 1e-10, "{t}: {got}");
        }
        // At once where the constant is none.
        let at_once = course.followed(asked.into_iter(), 0.0);
        assert!(
            asked
                .iter()
                .zip(at_once)
                .all(|(t, got)| (got - 290.0 - r * t).abs() < 1e-10)
        );
        assert!((course.pace(10.0) - r).abs() < 1e-12 && (course.pace(0.0) - r).abs() < 1e-12);
        // The step is a ramp of a microsecond.
        let step = TemperatureCourse::of(
            &[0.0, 1e-6, 10.0, 20.0],
            &[290.0, 291.0, 291.0, 291.0],
            None,
        );
        let got = step.unwrap().followed([0.0, 14.0].into_iter(), c)[1];
        assert!(
            (got - (291.0 - (-14.0_f64 / c).exp())).abs() < 1e-6,
            "{got}"
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
            let scale = one.drift_uncertainty.kelvins_per_second().max(1e-9);
            let off = one.drift.kelvins_per_second() - other.drift.kelvins_per_second();
            prop_assert!(off.abs() < 1e-6 * scale, "{off}");
        }
    }
}
