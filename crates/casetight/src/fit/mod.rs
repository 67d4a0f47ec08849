//! From readings to a leak: rate and effective area with their intervals, where the intervals come from, and whether the
//! readings look like a leak at all.
//!
//! What a decay identifies is the rate k = `CdA` sqrt(R T)/V. The effective area needs the volume, a hole's diameter an
//! assumed discharge coefficient as well.
//!
//! A leak is one of several laws, and the gas may still be settling while the first readings are taken, so the fit tries
//! each law on a vessel whose gas exchanges heat with its wall, and averages over the laws by how well they explain the
//! readings (see [`CANDIDATES`]). The effective area is that of the ideal orifice with the same flow at the start pressure,
//! so it means the same for each law.
//!
//! The interval of k comes from the readings' noise and rounding and from what they share: gauge offset and scale,
//! ambient pressure, the time in which the gas settles, its temperature at the start, a drift of the wall's temperature;
//! each is a fitted term with its known value as one more observation, after `[JCGM100]`. It is quadratic where the
//! likelihood is, from the likelihood's own profile where it is not, and from the probability of the rounded readings
//! themselves where the gauge is coarse. Volume and temperature widen the area's interval only.

mod coarse;
mod interval;
mod laws;
mod least_squares;
mod otherwise;
mod problem;
#[cfg(test)]
mod tests;

use uom::si::pressure::pascal;

use crate::gauge::Gauge;
use crate::leak::{EffectiveArea, LeakLaw, Orifice, Regime};
use crate::numerics::probability;
use crate::quantity::{GaugePressure, QuantityError};
use crate::record::{Bench, Readings, sides};
use crate::vessel::{DecayLaw, DecayModel, Direction, ModelPartials, VesselError, rate_per_area};

pub use interval::Interval;
pub(crate) use laws::area_moved;
pub use laws::{CANDIDATES, Candidate, LawWeight};
pub(crate) use least_squares::expected_rate;

use laws::Side;
use least_squares::{Circumstances, Data, Solved};
use problem::{Known, SharedValues};

/// More readings than this are averaged in blocks for the fit (not for the residuals).
const MOST_POINTS: usize = 5000;

/// Scatter as large as this or larger happens by chance in one run of a hundred; beyond it the interval is widened.
const MISFIT_PROBABILITY: f64 = 0.01;

/// Readings that scatter about the curve more than chance brings about in one run of a thousand are not those of one leak on
/// this bench, whatever the interval says.
pub const ACCEPTABLE_PROBABILITY: f64 = 1e-3;

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
    /// A drift of the wall's temperature during the run.
    Drift,
    /// Heat between gas and wall: gas that still settles, or that a fast leak cools.
    Heat,
    /// The law of the leak, where the readings can't tell it.
    Law,
    /// The rig's own leak, that was subtracted.
    Rig,
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
    /// Readings that lie far off the curve and were given little weight.
    Outliers {
        /// How many.
        count: usize,
        /// Of how many.
        of: usize,
    },
    /// The readings were averaged in blocks of this many for the fit.
    Averaged {
        /// Readings a block.
        block: usize,
    },
}

/// Something that all readings share, which a fit needs to lie where it can't.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Strain {
    /// Gas that is further off the wall's temperature at the first reading than pumping can bring it.
    Heat {
        /// How far \[K\].
        kelvins: f64,
        /// The most that is possible \[K\], without any loss of heat while pumping.
        at_most_kelvins: f64,
    },
    /// Another term, this many standard uncertainties off what is known of it.
    Term {
        /// Which.
        kind: PartKind,
        /// How far.
        off: f64,
    },
    /// A rig that leaks more by itself than rig and engine together.
    RigBeyondWhole {
        /// The rig's effective area \[m2\].
        rig_m2: f64,
        /// That of both \[m2\].
        whole_m2: f64,
    },
    /// A rig whose own readings are not those of one leak.
    Rig,
}

/// A reading that the others contradict.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Misread {
    /// Its place in the run, from one.
    pub row: usize,
    /// When it was read \[s\].
    pub time_s: f64,
    /// What was noted \[Pa\].
    pub reading_pa: f64,
    /// What the others have there \[Pa\].
    pub expected_pa: f64,
    /// Whether a moved decimal point explains it.
    pub decimal_point: bool,
}

/// The leak that another reading of the record tells.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Otherwise {
    /// Place of the reading that is taken otherwise, from one.
    pub row: usize,
    /// What it is multiplied by; none where it is left out.
    pub times: Option<f64>,
    /// Gauge pressure that limits are converted at, as [`Fit::judged_from`].
    pub start: GaugePressure,
    /// Rate \[1/s\], as [`Fit::rate`].
    pub rate: Interval,
    /// Effective area \[m2\], as [`Fit::area`].
    pub area: Interval,
}

/// A leak fitted to the readings of one run.
#[derive(Debug, Clone)]
pub struct Fit {
    /// Pressure or vacuum.
    pub direction: Direction,
    /// What the readings show.
    pub course: Course,
    /// The law, where the readings tell it from the others tried.
    pub law: Option<DecayLaw>,
    /// The laws tried that can't be dismissed, the likeliest first.
    pub laws: Vec<LawWeight>,
    /// Rate k = `CdA` sqrt(R T)/V \[1/s\] of the ideal orifice with the same flow at the start pressure; its interval holds
    /// all but volume and temperature.
    pub rate: Interval,
    /// Effective area `CdA` \[m2\]; its interval holds volume and temperature as well.
    pub area: Interval,
    /// The rig's own effective area \[m2\] at the start pressure, where it was subtracted ([`Fit::less`]).
    pub rig: Option<Interval>,
    /// Gauge pressure at the first reading, fitted by the likeliest law.
    pub start: GaugePressure,
    /// Time \[s\] in which gas of ambient pressure settles to the wall's temperature, `tau = m cv/(hA)`, by the likeliest law;
    /// none where it is known. What was known of it beforehand is in it.
    pub settling_time_s: Option<Interval>,
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
    /// Probability that readings of such a leak scatter about the curve as much as these, or more: of a chi-squared as large.
    pub probability: f64,
    /// What all readings share, where the fit needs it to lie where it can't.
    pub strain: Option<Strain>,
    /// A reading that was left out as misread, since the others tell one leak and it does not belong to it.
    pub misread: Option<Misread>,
    /// The same leak by other readings of the record: without one of them, or with a decimal point moved. Only looked at where
    /// one reading can turn the answer round: few readings, or ones that don't fit together.
    pub otherwise: Vec<Otherwise>,
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
    first_reading: GaugePressure,
    shared: SharedValues,
    model: DecayModel,
    /// The likeliest law's own rate.
    own_rate: f64,
    /// Rate over effective area \[1/(s m2)\].
    per_area: f64,
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

/// Fits the laws of [`CANDIDATES`] to the readings of a run, with intervals at this level (0.95 is usual).
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
    fit_laws(readings, bench, level, &CANDIDATES)
}

/// As [`fit`], with laws of the caller's choice: one where the leak is known, others where [`CANDIDATES`] won't do.
///
/// # Errors
/// [`FitError`] names what can't be.
pub fn fit_laws(
    readings: &Readings,
    bench: &Bench,
    level: f64,
    candidates: &[Candidate],
) -> Result<Fit, FitError> {
    let fit = fit_once(readings, bench, level, candidates)?;
    let again = |other: &Readings| fit_once(other, bench, level, candidates);
    Ok(otherwise::considered(fit, readings, &bench.gauge, &again))
}

/// As [`fit_laws`], with every reading taken at its word.
fn fit_once(
    readings: &Readings,
    bench: &Bench,
    level: f64,
    candidates: &[Candidate],
) -> Result<Fit, FitError> {
    if !(0.5..=0.9999).contains(&level) {
        return Err(FitError::Level { got: level });
    }
    let per_area = rate_per_area(bench.volume.value(), bench.ambient(), &bench.gas)?;
    bench.heat.check()?;
    let direction = readings.direction();
    let first = readings.gauges_pa().first().copied().unwrap_or(f64::NAN);
    let circumstances = Circumstances::new(Known::of(bench, first).with_drift_of(readings, bench));
    let mut data = Data::of(readings, &bench.gauge);
    let orifice = DecayModel::new(DecayLaw::Orifice, &bench.gas, direction)?;
    let fallen = least_squares::fallen(&orifice, &data, &circumstances.known);
    let answer = if let Some((least, low)) = fallen {
        Answer::fallen((least, low), first, &orifice, &circumstances.known)
    } else {
        data.weigh(&orifice, &circumstances, &bench.gauge)
            .ok_or(FitError::NoFit)?;
        Answer::averaged(
            (&data, &circumstances),
            bench,
            (&orifice, level),
            candidates,
        )?
    };
    answer.finish(readings, &data, bench, (level, per_area))
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
    /// Standard uncertainty by the readings alone.
    noise: f64,
    start: f64,
    method: Method,
}

/// What the laws together say.
struct Answer {
    spread: Spread,
    laws: Vec<LawWeight>,
    model: DecayModel,
    own_rate: f64,
    shared: SharedValues,
    settling_time: Option<(f64, f64)>,
    parts: Vec<(PartKind, f64)>,
    chi_squared: f64,
    degrees_of_freedom: usize,
    correlation: f64,
    iterations: u64,
    converged: bool,
    notes: Vec<FitNote>,
    strain: Option<Strain>,
    /// The readings' weighted residuals, where the curve is the solver's own and each reading a point of it.
    weighted: Option<Vec<f64>>,
}

impl Answer {
    /// Of a needle that had fallen to rest by the second reading: open upward.
    fn fallen((least, low): (f64, f64), start: f64, model: &DecayModel, known: &Known) -> Self {
        Self {
            spread: Spread {
                value: least,
                low,
                high: f64::INFINITY,
                noise: (least - low) / 2.0,
                start,
                method: Method::Fallen,
            },
            laws: Vec::new(),
            own_rate: least,
            shared: known.values(),
            settling_time: None,
            parts: vec![(PartKind::Noise, (least - low) / 2.0)],
            chi_squared: 0.0,
            degrees_of_freedom: 0,
            correlation: 0.0,
            iterations: 0,
            converged: true,
            notes: vec![FitNote::Fallen],
            strain: None,
            weighted: None,
            model: *model,
        }
    }

    /// Fits each law and averages.
    fn averaged(
        (data, circumstances): (&Data, &Circumstances),
        bench: &Bench,
        (orifice, level): (&DecayModel, f64),
        candidates: &[Candidate],
    ) -> Result<Self, FitError> {
        let solved = solve_each(data, circumstances, orifice, candidates)?;
        let degrees_of_freedom = data.points.len() - 2;
        let least = solved
            .iter()
            .map(|(_, s)| s.chi_squared)
            .fold(f64::INFINITY, f64::min);
        let misfit = misfit(least, degrees_of_freedom);
        let weights = laws::weights(&solved, misfit.unwrap_or(1.0));
        let best = solved
            .iter()
            .zip(&weights)
            .max_by(|a, b| a.1.total_cmp(b.1))
            .map(|((_, s), _)| s)
            .ok_or(FitError::NoFit)?;

        let z = probability::normal_quantile(0.5 + level / 2.0);
        let widening = misfit.map_or(1.0, f64::sqrt);
        let of_best = rate_spread(best, &bench.gauge, z, 0.5 - level / 2.0, widening);
        // The other laws' distributions have the shape of the best one's, each in its own uncertainty.
        let sides: Vec<Side> = solved
            .iter()
            .zip(&weights)
            .filter(|(_, weight)| **weight > 0.0)
            .map(|((_, s), weight)| {
                let over = s.uncertainty() / best.uncertainty();
                Side {
                    weight: *weight,
                    value: s.rate + over * (of_best.value - best.rate),
                    sigma_low: over * (of_best.value - of_best.low) / z,
                    sigma_high: over * (of_best.high - of_best.value) / z,
                }
            })
            .collect();
        let spread = match sides.as_slice() {
            [_] => of_best,
            _ => Spread {
                value: laws::quantile(&sides, 0.5).ok_or(FitError::NoFit)?,
                low: laws::quantile(&sides, 0.5 - level / 2.0).ok_or(FitError::NoFit)?,
                high: laws::quantile(&sides, 0.5 + level / 2.0).ok_or(FitError::NoFit)?,
                ..of_best
            },
        };
        let mean: f64 = sides.iter().map(|s| s.weight * s.value).sum();
        let between: f64 = sides
            .iter()
            .map(|s| s.weight * (s.value - mean).powi(2))
            .sum();
        let mut laws: Vec<LawWeight> = solved
            .iter()
            .zip(&weights)
            .filter(|(_, weight)| **weight > 0.0)
            .map(|((candidate, s), weight)| LawWeight {
                law: candidate.law,
                weight: *weight,
                rate_per_s: s.rate,
                chi_squared: s.chi_squared,
            })
            .collect();
        laws.sort_by(|a, b| b.weight.total_cmp(&a.weight));
        laws::merge_same(&mut laws);

        let mut notes = Vec::new();
        if data.block > 1 {
            notes.push(FitNote::Averaged { block: data.block });
        }
        if data.outliers > 0 {
            notes.push(FitNote::Outliers {
                count: data.outliers,
                of: data.points.len(),
            });
        }
        if misfit.is_some() {
            notes.push(FitNote::Misfit {
                chi_squared: best.chi_squared,
                degrees_of_freedom,
                widened_by: widening,
            });
        }
        Ok(Self {
            laws,
            model: best.model,
            own_rate: best.rate,
            shared: best.shared,
            settling_time: best.ln_settling_time(),
            parts: vec![
                (PartKind::Noise, spread.noise),
                (PartKind::Gauge, best.part(PartKind::Gauge)),
                (PartKind::Ambient, best.part(PartKind::Ambient)),
                (PartKind::Drift, best.part(PartKind::Drift)),
                (PartKind::Heat, best.part(PartKind::Heat)),
                (PartKind::Law, between.sqrt()),
            ],
            strain: best.strain(bench.ambient().kelvins()),
            chi_squared: best.chi_squared,
            degrees_of_freedom,
            correlation: best.correlation,
            iterations: best.iterations,
            converged: best.converged,
            notes,
            weighted: (data.block == 1 && spread.method != Method::Rounded)
                .then(|| best.weighted.clone()),
            spread,
        })
    }

    fn finish(
        self,
        readings: &Readings,
        data: &Data,
        bench: &Bench,
        (level, per_area): (f64, f64),
    ) -> Result<Fit, FitError> {
        let z = probability::normal_quantile(0.5 + level / 2.0);
        let spread = &self.spread;
        let rate = Interval::of_size(spread.value, spread.low, spread.high, level);
        let relative_volume = bench.volume.relative().unwrap_or(0.0);
        let relative_temperature = 0.5 * bench.temperature.relative().unwrap_or(0.0);
        let area = rate
            .scaled(1.0 / per_area)
            .widened(relative_volume.hypot(relative_temperature));
        let mut parts: Vec<Part> = self
            .parts
            .iter()
            .map(|(kind, of_rate)| part(*kind, of_rate / per_area))
            .collect();
        parts.push(part(PartKind::Volume, relative_volume * area.value));
        parts.push(part(
            PartKind::Temperature,
            relative_temperature * area.value,
        ));

        let start = GaugePressure::from_pascals(spread.start)?;
        let first = readings.gauges_pa().first().copied();
        let first_reading = GaugePressure::from_pascals(first.unwrap_or(spread.start))?;
        let residuals = match &self.weighted {
            Some(weighted) => least_squares::residuals_of(readings, data, weighted),
            None => least_squares::residuals(
                readings,
                data,
                &self.model,
                (self.own_rate, spread.start, &self.shared),
            ),
        };
        let (upstream, downstream) = sides(start, self.model.direction(), bench.ambient())?;
        let regime = Orifice::new(
            EffectiveArea::from_square_meters(area.value).map_err(|_| FitError::NoFit)?,
        )
        .regime(&bench.gas, upstream, downstream);
        let settling_time_s = self.settling_time.map(|(ln, u)| {
            let at = |z: f64| (ln + z * u).exp();
            Interval::of_size(at(0.0), at(-z), at(z), level)
        });
        Ok(Fit {
            settling_time_s,
            probability: probability_of(self.chi_squared, self.degrees_of_freedom),
            strain: self.strain,
            misread: None,
            otherwise: Vec::new(),
            direction: self.model.direction(),
            course: spread.course(z),
            law: self
                .laws
                .first()
                .and_then(|l| (l.weight >= laws::TOLD).then_some(l.law)),
            rate,
            area,
            per_area,
            rig: None,
            start,
            first_reading,
            parts,
            residual_rms_pa: root_mean_square(&residuals),
            residuals,
            chi_squared: self.chi_squared,
            degrees_of_freedom: self.degrees_of_freedom,
            correlation: self.correlation,
            method: spread.method,
            iterations: self.iterations,
            converged: self.converged,
            regime,
            notes: self.notes,
            shared: self.shared,
            model: self.model,
            own_rate: self.own_rate,
            laws: self.laws,
        })
    }
}

/// The optima of each candidate law, the usual one of each first.
fn solve_each<'a>(
    data: &'a Data,
    circumstances: &'a Circumstances,
    orifice: &DecayModel,
    candidates: &[Candidate],
) -> Result<Vec<(Candidate, Solved<'a>)>, FitError> {
    let mut solved = Vec::with_capacity(candidates.len());
    let mut places = circumstances.other_places();
    for candidate in candidates {
        let model = orifice.with_law(candidate.law)?;
        // A law that can't be fitted to these readings does not explain them.
        let optima = Solved::optima(&model, data, circumstances, &places);
        if solved.is_empty() {
            // Where the first law has no second optimum the others are not searched for one.
            places = optima.iter().skip(1).map(Solved::place).collect();
        }
        solved.extend(optima.into_iter().map(|s| (*candidate, s)));
    }
    Ok(solved)
}

/// Probability of a chi-squared as large or larger; one where it is below its degrees of freedom, which is no misfit, and where
/// there are none. A chi-squared that is no number has the probability zero.
fn probability_of(chi_squared: f64, degrees_of_freedom: usize) -> f64 {
    let freedom = degrees_of_freedom as f64;
    if chi_squared <= freedom || degrees_of_freedom == 0 {
        return 1.0;
    }
    let probability = probability::chi_squared_sf(chi_squared, freedom);
    if probability.is_nan() {
        0.0
    } else {
        probability
    }
}

/// Chi-squared over its degrees of freedom, where it is larger than chance makes it.
fn misfit(chi_squared: f64, degrees_of_freedom: usize) -> Option<f64> {
    (probability_of(chi_squared, degrees_of_freedom) < MISFIT_PROBABILITY)
        .then(|| chi_squared / degrees_of_freedom as f64)
}

impl Spread {
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
}

/// Value and ends of a law's rate at z standard uncertainties (`tail` of probability beyond either end); `widening`
/// multiplies what the readings' scatter contributes.
fn rate_spread(solved: &Solved<'_>, gauge: &Gauge, z: f64, tail: f64, widening: f64) -> Spread {
    let shared = z * solved.shared_part();
    let noise = z * solved.noise_variance.sqrt();
    let (rate, start) = (solved.rate, solved.start);
    let spread = |value: f64, (noise_low, noise_high): (f64, f64), start, method| Spread {
        value,
        low: value - noise_low.hypot(shared),
        high: value + noise_high.hypot(shared),
        noise: (noise_low + noise_high) / (2.0 * z),
        start,
        method,
    };

    if solved.data.is_coarse(gauge)
        && let Some(p) = posterior_of_rounded(solved, gauge, tail)
    {
        return spread(
            p.median,
            (p.median - p.low, p.high - p.median),
            p.start,
            Method::Rounded,
        );
    }
    let half = noise.hypot(shared);
    if half < PLAINLY_QUADRATIC * rate && !solved.heat_counts() {
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

impl Data {
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
}

/// The posterior with the shared terms held at their fitted values. What the readings leave open of those widens it as it
/// widens the least-squares fit; what they were known by beforehand is added with the shared part.
fn posterior_of_rounded(
    solved: &Solved<'_>,
    gauge: &Gauge,
    tail: f64,
) -> Option<coarse::Posterior> {
    let step = gauge.step().get::<pascal>();
    let posterior = coarse::posterior(solved, step, tail)?;
    let widening = (solved.noise_variance.sqrt() / solved.held_uncertainty).max(1.0);
    let wider = |end: f64| posterior.median + widening * (end - posterior.median);
    Some(coarse::Posterior {
        low: wider(posterior.low),
        high: wider(posterior.high),
        ..posterior
    })
}

impl Fit {
    /// Whether the readings can be those of one leak on this bench: they scatter no more than chance allows
    /// ([`ACCEPTABLE_PROBABILITY`]), no shared term lies where it can't, and the start is on the side of zero where it was read.
    #[must_use]
    pub fn is_acceptable(&self) -> bool {
        self.probability >= ACCEPTABLE_PROBABILITY
            && self.strain.is_none()
            && self.starts_where_read()
    }

    /// Whether the fitted start pressure has the run's direction.
    #[must_use]
    pub fn starts_where_read(&self) -> bool {
        self.start.pascals() * self.direction.sign() > 0.0
    }

    /// The pressure that the run is said to start from and that limits are converted at: the fitted start, or the first reading
    /// where the fit has the start on the other side of zero, where nothing flows, or could not be followed.
    #[must_use]
    pub fn judged_from(&self) -> GaugePressure {
        if self.starts_where_read() && !self.residuals.is_empty() {
            self.start
        } else {
            self.first_reading
        }
    }

    /// The first reading, as it was taken.
    pub(crate) fn first_reading(&self) -> GaugePressure {
        self.first_reading
    }

    /// The rate \[1/s\] of the rig's own leak in the volume under test, where it was subtracted.
    pub(crate) fn rig_rate(&self) -> f64 {
        self.rig.map_or(0.0, |rig| rig.value * self.per_area)
    }

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

    /// The same leak without the rig's, known from a run of the rig alone in the same direction: areas add, and so do
    /// rates. The rig's area is that at its own start pressure.
    ///
    /// The half-widths of both add in quadrature, a part called [`PartKind::Rig`]. Readings, residuals and curve stay those
    /// of the whole.
    #[must_use]
    pub fn less(mut self, rig: &Self) -> Self {
        let rigs = rig.area_from(self.start);
        let z = probability::normal_quantile(0.5 + self.area.level / 2.0);
        let of_rig = (rigs.high - rigs.uncut_low()) / (2.0 * z);
        let own = (self.area.value - self.area.uncut_low()) / z;
        let beyond = (rigs.value - self.area.value) / of_rig.hypot(own);
        self.strain = self.strain.or(if beyond > RISING {
            Some(Strain::RigBeyondWhole {
                rig_m2: rigs.value,
                whole_m2: self.area.value,
            })
        } else {
            (!rig.is_acceptable()).then_some(Strain::Rig)
        });
        self.parts.push(part(PartKind::Rig, of_rig));
        self.rate = self.rate.less(rigs.scaled(self.per_area));
        self.area = self.area.less(rigs);
        for other in &mut self.otherwise {
            other.rate = other.rate.less(rigs.scaled(self.per_area));
            other.area = other.area.less(rigs);
        }
        self.rig = Some(rigs);
        self
    }

    /// The effective area that the same leak has at another start pressure: that of a hole is the same, that of a fine gap
    /// smaller at a lower pressure. Where the readings don't tell the law, its interval is wider for it.
    #[must_use]
    pub fn area_from(&self, start: GaugePressure) -> Interval {
        let ratio = |gauge: GaugePressure| gauge.pascals() / self.shared.ambient;
        let laws = self.laws.iter().map(|l| (l.law, l.weight));
        match area_moved(&self.model, laws, (ratio(self.start), ratio(start))) {
            Ok(Some((factor, uncertainty))) => self.area.scaled(factor).widened(uncertainty),
            _ => self.area,
        }
    }

    /// Gauge reading \[Pa\] that the likeliest law has at a time, offset and scale of the gauge included; a rate \[1/s\] other
    /// than the fitted one gives the edges of a band.
    #[must_use]
    pub fn reading_at(&self, time_s: f64, rate: f64) -> Option<f64> {
        let rate = self.own_rate + rate - self.rate.value;
        Some(self.shared.felt(self.model_at(time_s, rate)?.gauge))
    }

    /// A gauge reading \[Pa\] in the straightening coordinate of the likeliest law: along it the readings of such a leak fall
    /// on a straight line in time, once the gas has settled. None for a reading at or past zero.
    #[must_use]
    pub fn straightened(&self, reading_pa: f64) -> Option<f64> {
        let gauge = (reading_pa - self.shared.offset) / (1.0 + self.shared.scale);
        let coordinate = self.model.shape();
        let s = coordinate.of(gauge / self.shared.ambient);
        (s > coordinate.end()).then_some(s)
    }

    /// The fitted curve in that coordinate at a time: a straight line but for what heat does.
    #[must_use]
    pub fn straightened_at(&self, time_s: f64) -> Option<f64> {
        let gauge = self.model_at(time_s, self.own_rate)?.gauge;
        let coordinate = self.model.shape();
        let s = coordinate.of(gauge / self.shared.ambient);
        s.is_finite().then_some(s)
    }

    /// The law of the curve: the likeliest.
    #[must_use]
    pub fn likeliest(&self) -> DecayLaw {
        self.model.law()
    }

    fn model_at(&self, time_s: f64, rate: f64) -> Option<ModelPartials> {
        let first = self.residuals.first()?.time_s;
        let mut at = Vec::with_capacity(1);
        self.model.follow(
            &self.shared.with(rate, self.start.pascals()),
            &[time_s - first],
            &mut at,
        )?;
        at.first().copied()
    }
}
