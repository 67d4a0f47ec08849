//! From readings to a leak: rate and effective area with their intervals, where the intervals come from, and whether the
//! readings look like a leak at all.
//!
//! What a decay identifies is the rate k = `CdA` sqrt(R T)/V. The effective area needs the volume, a hole's diameter an
//! assumed discharge coefficient as well.
//!
//! The interval of k comes from the readings' noise and rounding and from what they share: gauge offset and scale,
//! ambient pressure (each a fitted term with its known value as one more observation, after `[JCGM100]`), and from a drift
//! of the gas temperature, which looks so much like a leak that it is carried through the fit instead of fitted. It is quadratic
//! where the likelihood is, from the likelihood's own profile where it is not, and from the probability of the rounded
//! readings themselves where the gauge is coarse. Volume and temperature widen the area's interval only.

mod coarse;
mod interval;
mod least_squares;
mod problem;
#[cfg(test)]
mod tests;

use uom::si::pressure::pascal;

use crate::gauge::Gauge;
use crate::leak::{EffectiveArea, LeakLaw, Orifice, Regime};
use crate::numerics::probability;
use crate::quantity::{GaugePressure, QuantityError};
use crate::record::{Bench, Readings, sides};
use crate::vessel::{Direction, OrificeCoordinate, VesselError, rate_per_area};

pub use interval::Interval;
pub(crate) use least_squares::expected_rate;

use least_squares::Solved;
use problem::{Known, SharedValues};

/// More readings than this are averaged in blocks for the fit (not for the residuals).
const MOST_POINTS: usize = 5000;

/// Scatter as large as this or larger happens by chance in one run of a hundred; beyond it the interval is widened.
const MISFIT_PROBABILITY: f64 = 0.01;

/// A fall that lies this many standard uncertainties on the wrong side is a rise.
const RISING: f64 = 3.0;

/// The quadratic interval is kept where it lies this close to the likelihood's own, in standard uncertainties.
const QUADRATIC_TOLERANCE: f64 = 0.02;

/// A half-width below this part of the rate is kept quadratic unseen: the curve bends by this much of itself across it.
const PLAINLY_QUADRATIC: f64 = 0.02;

/// What the readings show.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Course {
    /// The needle fell towards zero, by more than noise can.
    Falls,
    /// The needle can't be told from one that stands still: the leak has an upper bound only.
    Stands,
    /// The needle moved away from zero by more than noise can: no leak does that; warming gas or a moving gauge does.
    /// The upper bound takes such a change to be as likely as its opposite.
    Rises,
}

/// Where a part of the interval comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize),
    serde(rename_all = "lowercase")
)]
#[non_exhaustive]
pub enum PartKind {
    /// Noise and rounding of the readings.
    Noise,
    /// Offset and scale of the gauge.
    Gauge,
    /// The volume under test.
    Volume,
    /// The gas temperature.
    Temperature,
    /// The ambient pressure.
    Ambient,
    /// A drift of the gas temperature during the run.
    Drift,
}

/// One part of the effective area's uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    /// Where it comes from.
    pub kind: PartKind,
    /// Its standard uncertainty in the area \[m2\]; the parts add in quadrature.
    pub standard_uncertainty_m2: f64,
}

/// A reading, what the fit has there, and their difference in standard uncertainties of a reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Residual {
    /// Time as noted \[s\].
    pub time_s: f64,
    /// Reading \[Pa\].
    pub reading_pa: f64,
    /// What the gauge would have shown \[Pa\], fitted offset and scale included.
    pub fitted_pa: f64,
    /// (reading - fitted)/u.
    pub standardized: f64,
}

/// How the interval of the rate was got.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Method {
    /// The quadratic around the best fit.
    Quadratic,
    /// The profile of the likelihood.
    Profile,
    /// The probability of the rounded readings.
    Rounded,
    /// The time in which the needle had fallen to rest, a lower end only.
    Fallen,
}

/// Something the reader of a fit should know.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum FitNote {
    /// The readings scatter more about the fitted curve than the gauge explains; the interval is widened by this factor.
    Misfit {
        /// Chi-squared of the residuals.
        chi_squared: f64,
        /// Its degrees of freedom.
        degrees_of_freedom: usize,
        /// What the readings' part of the interval was multiplied by (the Birge ratio).
        widened_by: f64,
    },
    /// The needle stood at rest from the second reading on: the leak has a lower bound only.
    Fallen,
    /// The readings were averaged in blocks of this many for the fit.
    Averaged {
        /// Readings a block.
        block: usize,
    },
}

/// A leak fitted to the readings of one run.
#[derive(Debug, Clone)]
pub struct Fit {
    /// Pressure or vacuum.
    pub direction: Direction,
    /// What the readings show.
    pub course: Course,
    /// Rate k = `CdA` sqrt(R T)/V \[1/s\]; its interval holds noise, gauge and ambient.
    pub rate: Interval,
    /// Effective area `CdA` \[m2\]; its interval holds volume and temperature as well.
    pub area: Interval,
    /// Gauge pressure at the first reading, fitted.
    pub start: GaugePressure,
    /// Where the area's interval comes from.
    pub parts: Vec<Part>,
    /// One for each reading.
    pub residuals: Vec<Residual>,
    /// Root mean square of reading less fit \[Pa\].
    pub residual_rms_pa: f64,
    /// Sum of the squared standardized residuals and of the shared terms.
    pub chi_squared: f64,
    /// Readings less the two fitted quantities, rate and start pressure.
    pub degrees_of_freedom: usize,
    /// Correlation of rate and start pressure.
    pub correlation: f64,
    /// How the rate's interval was got.
    pub method: Method,
    /// The solver's iterations, and whether it stopped because it was done.
    pub iterations: u64,
    /// Whether the solver reached an optimum.
    pub converged: bool,
    /// Flow regime at the start.
    pub regime: Regime,
    /// What to know.
    pub notes: Vec<FitNote>,
    shared: SharedValues,
    coordinate: OrificeCoordinate,
}

/// What can go wrong in a fit.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FitError {
    /// The level of an interval lies between 0.5 and 0.9999.
    #[error("confidence level {got} is outside 0.5 to 0.9999; 0.95 is usual")]
    Level {
        /// What was given.
        got: f64,
    },
    /// Volume or temperature can't be.
    #[error(transparent)]
    Vessel(#[from] VesselError),
    /// A pressure can't be.
    #[error(transparent)]
    Quantity(#[from] QuantityError),
    /// No rate and start pressure explain the readings.
    #[error(
        "no leak rate and start pressure explain these readings; are the gauge's unit, step and noise right?"
    )]
    NoFit,
}

/// Fits an orifice on an isothermal vessel to the readings of a run, with intervals at this level (0.95 is usual).
///
/// ```
/// use casetight::fit::fit;
/// use casetight::gas::Gas;
/// use casetight::gauge::Gauge;
/// use casetight::measured::{Evaluation, Distribution, Measured};
/// use casetight::quantity::{AbsolutePressure, Pressure, TemperatureDrift, ThermodynamicTemperature, Volume};
/// use casetight::record::{Bench, Readings};
/// use uom::si::{pressure::pascal, thermodynamic_temperature::kelvin, volume::cubic_centimeter};
///
/// let cm3 = |v| Volume::new::<cubic_centimeter>(v);
/// let bench = Bench {
///     volume: Measured::new(cm3(250.0), cm3(5.0), Evaluation::TypeB(Distribution::Normal))?,
///     ambient_pressure: Measured::exact(AbsolutePressure::from_pascals(101_325.0)?)?,
///     drift_allowance: TemperatureDrift::ZERO,
///     heat: casetight::vessel::Heat::default(),
///     temperature: Measured::exact(ThermodynamicTemperature::new::<kelvin>(293.15))?,
///     gauge: Gauge::digital(Pressure::new::<pascal>(100.0))?,
///     gas: Gas::dry_air(),
/// };
/// let readings = Readings::from_si(
///     &[0.0, 5.0, 10.0, 15.0],
///     &[48_300.0, 45_500.0, 42_800.0, 40_300.0],
///     bench.ambient_pressure.value(),
/// )?;
/// let leak = fit(&readings, &bench, 0.95)?;
/// assert!(leak.area.low < leak.area.value && leak.area.value < leak.area.high);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// [`FitError`] names what can't be.
pub fn fit(readings: &Readings, bench: &Bench, level: f64) -> Result<Fit, FitError> {
    if !(0.5..=0.9999).contains(&level) {
        return Err(FitError::Level { got: level });
    }
    let z = probability::normal_quantile(0.5 + level / 2.0);
    let per_area = rate_per_area(bench.volume.value(), bench.ambient(), &bench.gas)?;
    let direction = readings.direction();
    let coordinate = OrificeCoordinate::new(&bench.gas, direction);
    let known = Known::of(bench);
    let mut notes = Vec::new();

    let (points, block) = least_squares::points(readings, &bench.gauge);
    if block > 1 {
        notes.push(FitNote::Averaged { block });
    }
    let fallen = Solved::fallen(coordinate, &points, &known);
    let (solved, fallen) = match fallen {
        Some((solved, least, low)) => (solved, Some(Spread::fallen(least, low, readings))),
        None => (
            least_squares::solve(coordinate, points, known, &bench.gauge).ok_or(FitError::NoFit)?,
            None,
        ),
    };
    if fallen.is_some() {
        notes.push(FitNote::Fallen);
    }
    let degrees_of_freedom = solved.points.len() - 2;
    let chi_squared = solved.chi_squared();
    // A chi-squared below its degrees of freedom is no misfit, whatever its probability.
    let misfit = degrees_of_freedom > 0
        && chi_squared > degrees_of_freedom as f64
        && probability::chi_squared_sf(chi_squared, degrees_of_freedom as f64) < MISFIT_PROBABILITY;
    let widening = if misfit {
        (chi_squared / degrees_of_freedom as f64).sqrt()
    } else {
        1.0
    };
    if misfit {
        notes.push(FitNote::Misfit {
            chi_squared,
            degrees_of_freedom,
            widened_by: widening,
        });
    }

    let mut spread = fallen
        .unwrap_or_else(|| rate_spread(&solved, &bench.gauge, z, 0.5 - level / 2.0, widening));
    spread.add(z * solved.drift_part);
    let course = spread.course(z);
    let rate = Interval::of_size(spread.value, spread.low, spread.high, level);
    let relative_volume = bench.volume.relative().unwrap_or(0.0);
    let relative_temperature = 0.5 * bench.temperature.relative().unwrap_or(0.0);
    let area = rate
        .scaled(1.0 / per_area)
        .widened(relative_volume.hypot(relative_temperature));

    let size = area.value;
    let parts = vec![
        part(
            PartKind::Noise,
            (spread.noise_low + spread.noise_high) / (2.0 * z) / per_area,
        ),
        part(PartKind::Gauge, solved.gauge_part() / per_area),
        part(PartKind::Ambient, solved.ambient_part() / per_area),
        part(PartKind::Drift, solved.drift_part / per_area),
        part(PartKind::Volume, relative_volume * size),
        part(PartKind::Temperature, relative_temperature * size),
    ];

    let start = GaugePressure::from_pascals(spread.start)?;
    let residuals = solved.residuals(readings, spread.value, spread.start);
    let residual_rms_pa = root_mean_square(&residuals);
    let (upstream, downstream) = sides(start, direction, bench.ambient())?;
    let regime =
        Orifice::new(EffectiveArea::from_square_meters(area.value).map_err(|_| FitError::NoFit)?)
            .regime(&bench.gas, upstream, downstream);
    Ok(Fit {
        direction,
        course,
        rate,
        area,
        start,
        parts,
        residuals,
        residual_rms_pa,
        chi_squared,
        degrees_of_freedom,
        correlation: solved.correlation,
        method: spread.method,
        iterations: solved.iterations,
        converged: solved.converged,
        regime,
        notes,
        shared: solved.shared,
        coordinate,
    })
}

fn root_mean_square(residuals: &[Residual]) -> f64 {
    let sum: f64 = residuals
        .iter()
        .map(|r| (r.reading_pa - r.fitted_pa).powi(2))
        .sum();
    (sum / residuals.len() as f64).sqrt()
}

fn part(kind: PartKind, standard_uncertainty_m2: f64) -> Part {
    Part {
        kind,
        standard_uncertainty_m2,
    }
}

/// The rate, before it is cut off at zero.
struct Spread {
    value: f64,
    low: f64,
    high: f64,
    /// Lower and upper half-width by the readings alone.
    noise_low: f64,
    noise_high: f64,
    start: f64,
    method: Method,
}

impl Spread {
    /// Of a needle that had fallen to rest by the second reading: open upward.
    fn fallen(least: f64, low: f64, readings: &Readings) -> Self {
        Self {
            value: least,
            low,
            high: f64::INFINITY,
            noise_low: least - low,
            noise_high: least - low,
            start: readings.gauges_pa().first().copied().unwrap_or(f64::NAN),
            method: Method::Fallen,
        }
    }

    /// What the readings show, by where the interval lies.
    fn course(&self, z: f64) -> Course {
        if self.value < -RISING / z * (self.value - self.low) {
            Course::Rises
        } else if self.low <= 0.0 {
            Course::Stands
        } else {
            Course::Falls
        }
    }

    /// Adds an independent half-width in quadrature.
    fn add(&mut self, half_width: f64) {
        self.low = self.value - (self.value - self.low).hypot(half_width);
        self.high = self.value + (self.high - self.value).hypot(half_width);
    }
}

/// Value and ends of the rate at z standard uncertainties (`tail` of probability beyond either end); `widening`
/// multiplies what the readings' scatter contributes.
fn rate_spread(solved: &Solved, gauge: &Gauge, z: f64, tail: f64, widening: f64) -> Spread {
    let shared = z * solved.shared_part();
    let noise = z * solved.noise_variance.sqrt();
    let (rate, start) = (solved.rate, solved.start);
    let spread = |value: f64, (noise_low, noise_high): (f64, f64), start, method| Spread {
        value,
        low: value - noise_low.hypot(shared),
        high: value + noise_high.hypot(shared),
        noise_low,
        noise_high,
        start,
        method,
    };

    if solved.is_coarse(gauge)
        && let Some(p) = solved.posterior_of_rounded(gauge, tail)
    {
        return spread(
            p.median,
            (p.median - p.low, p.high - p.median),
            p.start,
            Method::Rounded,
        );
    }
    let half = noise.hypot(shared);
    if half < PLAINLY_QUADRATIC * rate {
        return spread(
            rate,
            (widening * noise, widening * noise),
            start,
            Method::Quadratic,
        );
    }
    let ends = [-z, z].map(|drop| {
        solved
            .rate_at_drop(drop, z * QUADRATIC_TOLERANCE)
            .map(|end| (end - rate).abs())
    });
    let (method, [low, high]) = match ends {
        [Some(low), Some(high)]
            if (low - half).abs().max((high - half).abs()) > QUADRATIC_TOLERANCE * half =>
        {
            (Method::Profile, [low, high])
        }
        _ => (Method::Quadratic, [half, half]),
    };
    // The profile's ends hold noise and shared terms together; the quadratic tells their shares.
    let alone = |end: f64| widening * end * noise / half;
    let mut spread = spread(rate, (alone(low), alone(high)), start, method);
    if widening <= 1.0 {
        (spread.low, spread.high) = (rate - low, rate + high);
    }
    spread
}

impl Solved {
    /// Whether rounding rules the readings' errors.
    fn is_coarse(&self, gauge: &Gauge) -> bool {
        let step = gauge.step().get::<pascal>();
        let fine = self
            .sigmas
            .iter()
            .filter(|s| **s >= crate::gauge::COARSE_BELOW * step)
            .count();
        2 * fine < self.sigmas.len()
    }

    /// The posterior with the shared terms held at their fitted values. What the readings leave open of those widens it
    /// as it widens the least-squares fit; what they were known by beforehand is added with the shared part.
    fn posterior_of_rounded(&self, gauge: &Gauge, tail: f64) -> Option<coarse::Posterior> {
        let (held_uncertainty, held_valley) = self.with_shared_held();
        let frame = coarse::Frame {
            rate: self.rate,
            start: self.start,
            skew: held_valley,
            rate_scale: held_uncertainty,
            start_scale: gauge.step().get::<pascal>(),
        };
        let step = gauge.step().get::<pascal>();
        let posterior = coarse::posterior(
            &self.coordinate,
            &self.points,
            &self.sigmas,
            step,
            self.shared,
            frame,
            tail,
        )?;
        let widening = (self.noise_variance.sqrt() / held_uncertainty).max(1.0);
        let wider = |end: f64| posterior.median + widening * (end - posterior.median);
        Some(coarse::Posterior {
            low: wider(posterior.low),
            high: wider(posterior.high),
            ..posterior
        })
    }
}

impl Fit {
    /// A part's standard uncertainty relative to the area; zero where the area is.
    #[must_use]
    pub fn relative_part(&self, kind: PartKind) -> f64 {
        let part = self
            .parts
            .iter()
            .find(|p| p.kind == kind)
            .map_or(0.0, |p| p.standard_uncertainty_m2);
        if self.area.value > 0.0 {
            part / self.area.value
        } else {
            0.0
        }
    }

    /// Gauge reading \[Pa\] that the fit has at a time, offset and scale of the gauge included; a rate \[1/s\] other than
    /// the fitted one gives the edges of a band.
    #[must_use]
    pub fn reading_at(&self, time_s: f64, rate: f64) -> Option<f64> {
        let start = self
            .coordinate
            .start(self.start.pascals(), self.shared.ambient)?;
        let gauge = self
            .coordinate
            .partials(rate, &start, time_s - self.first_time()?)
            .gauge;
        Some(self.shared.felt(gauge))
    }

    /// A gauge reading \[Pa\] in the law's straightening coordinate: along it the readings of such a leak fall on a
    /// straight line in time. None for a reading at or past zero.
    #[must_use]
    pub fn straightened(&self, reading_pa: f64) -> Option<f64> {
        let gauge = (reading_pa - self.shared.offset) / (1.0 + self.shared.scale);
        let s = self.coordinate.of(gauge / self.shared.ambient);
        (s > 0.0).then_some(s)
    }

    /// The fitted straight line at a time.
    #[must_use]
    pub fn straight_line(&self, time_s: f64) -> Option<f64> {
        let s = self
            .coordinate
            .of(self.start.pascals() / self.shared.ambient);
        let fall = self.rate.value * self.coordinate.slope() * (time_s - self.first_time()?);
        Some((s - fall).max(0.0))
    }

    fn first_time(&self) -> Option<f64> {
        self.residuals.first().map(|r| r.time_s)
    }
}
