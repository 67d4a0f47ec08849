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

mod answer;
mod beside;
mod cause;
mod coarse;
mod course;
mod effects;
mod error;
pub(crate) mod expected;
mod found;
mod held;
mod laws;
mod least_squares;
mod memory;
mod otherwise;
mod problem;
mod reach;
mod residuals;
mod scatter;
mod steady;
mod terms;
#[cfg(test)]
mod tests;
mod thermometer;

use crate::readings::{Bench, Readings};
use crate::vessel::{DecayLaw, DecayModel, rate_per_area};

pub use error::FitError;
pub use found::{Course, Fit, FitNote, Method, Misread, Otherwise};
pub(crate) use laws::area_moved;
pub use laws::{CANDIDATES, Candidate, LawWeight};
pub use reach::BeyondReach;
pub use scatter::ACCEPTABLE_PROBABILITY;
pub use terms::{ByTemperature, Cause, Part, PartKind, Residual, Strain, Unsteady};

use answer::Answer;
use least_squares::{Circumstances, Data};
use problem::Known;

/// Fits the laws of [`CANDIDATES`] to the readings of a run, with intervals at this level (0.95 is usual).
///
/// ```
/// use casetight::fit::fit;
/// use casetight::gas::Gas;
/// use casetight::gauge::Gauge;
/// use casetight::measured::{Evaluation, Distribution, Measured};
/// use casetight::quantity::{AbsolutePressure, Pressure, TemperatureDrift, ThermodynamicTemperature, Volume};
/// use casetight::readings::{Bench, Readings};
/// use uom::si::{pressure::pascal, thermodynamic_temperature::kelvin, volume::cubic_centimeter};
///
/// let cm3 = |v| Volume::new::<cubic_centimeter>(v);
/// let bench = Bench {
///     volume: Measured::new(cm3(250.0), cm3(5.0), Evaluation::TypeB(Distribution::Normal))?,
///     ambient_pressure: Measured::exact(AbsolutePressure::from_pascals(101_325.0)?)?,
///     drift_allowance: TemperatureDrift::ZERO,
///     effects: casetight::readings::Effects::none(),
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
/// [`FitError`] names what is not valid.
pub fn fit(readings: &Readings, bench: &Bench, level: f64) -> Result<Fit, FitError> {
    fit_laws(readings, bench, level, &CANDIDATES)
}

/// As [`fit`], with laws of the caller's choice: one where the leak is known, others where [`CANDIDATES`] won't do.
///
/// # Errors
/// [`FitError`] names what is not valid.
pub fn fit_laws(
    readings: &Readings,
    bench: &Bench,
    level: f64,
    candidates: &[Candidate],
) -> Result<Fit, FitError> {
    let bench = &*bench.beside(readings);
    let once = |other: &Readings, of: fn(Known) -> Circumstances| {
        fit_once((other, of), bench, level, candidates)
    };
    let fit = once(readings, Circumstances::new)?;
    let again = |other: &Readings| once(other, |known| Circumstances::new(known).of_a_guess());
    let unexplained = fit.probability < ACCEPTABLE_PROBABILITY || fit.unsteady.is_some();
    let cause =
        unexplained.then(|| cause::cause(readings, bench, fit.likeliest(), (level, fit.per_area)));
    let cause = cause.flatten();
    let gauge = (&bench.gauge, cause.is_some());
    let fit = otherwise::considered(fit, readings, gauge, &again);
    Ok(match cause {
        Some(found) => fit.caused_by(found),
        None => fit,
    })
}

/// As [`fit_laws`], with every reading taken at its word.
fn fit_once(
    (readings, circumstances): (&Readings, fn(Known) -> Circumstances),
    bench: &Bench,
    level: f64,
    candidates: &[Candidate],
) -> Result<Fit, FitError> {
    if !(0.5..=0.9999).contains(&level) {
        return Err(FitError::Level { got: level });
    }
    let per_area = rate_per_area(bench.volume.value(), bench.ambient(), &bench.gas)?;
    bench.heat.check()?;
    bench.effects.check()?;
    let direction = readings.direction();
    let first = readings.gauges_pa().first().copied().unwrap_or(f64::NAN);
    let circumstances = circumstances(Known::of_run(bench, readings));
    let mut data = Data::of(readings, bench);
    let orifice = DecayModel::new(DecayLaw::Orifice, &bench.gas, direction)?;
    let fallen = least_squares::fallen(&orifice, &data, (&circumstances.known, level));
    let answer = if let Some((least, low)) = fallen {
        Answer::fallen((least, low), (first, level), &orifice, &circumstances.known)
    } else {
        let robust = data.tells_outliers(&bench.gauge);
        data.weigh(&orifice, &circumstances, (&bench.gauge, robust))
            .ok_or(FitError::NoFit)?;
        effects::tell(&mut data, &orifice, &circumstances, bench).ok_or(FitError::NoFit)?;
        Answer::averaged(
            (&data, &circumstances),
            bench,
            (&orifice, level),
            candidates,
        )?
    };
    answer.finish(readings, &data, bench, (level, per_area))
}
