//! Runs to time casetight on: the bench of a session, and readings of a known leak.
#![forbid(unsafe_code)]

use casetight::gas::Gas;
use casetight::gauge::{Gauge, GaugeError};
use casetight::measured::{Measured, MeasuredError};
use casetight::quantity::{
    AbsolutePressure, GaugePressure, ParseQuantityError, Pressure, QuantityError,
    ThermodynamicTemperature, Time, TradeUnits, Volume,
};
use casetight::readings::{Bench, Readings, ReadingsError};
use casetight::vessel::{IsothermalDecay, VesselError};

/// What can be wrong with a run to time.
#[derive(Debug, thiserror::Error)]
pub enum RunError {
    /// The gauge.
    #[error(transparent)]
    Gauge(#[from] GaugeError),
    /// A measured value.
    #[error(transparent)]
    Measured(#[from] MeasuredError),
    /// A quantity.
    #[error(transparent)]
    Quantity(#[from] QuantityError),
    /// A quantity's unit.
    #[error(transparent)]
    Unit(#[from] ParseQuantityError),
    /// The vessel.
    #[error(transparent)]
    Vessel(#[from] VesselError),
    /// The readings.
    #[error(transparent)]
    Readings(#[from] ReadingsError),
}

/// A bench: volume under test \[m3\], ambient pressure \[Pa\] and temperature \[K\], all taken as exact, dry air, and a gauge.
///
/// # Errors
/// [`RunError`] names what is not valid.
pub fn bench(
    volume_m3: f64,
    ambient_pa: f64,
    temperature_k: f64,
    gauge: Gauge,
) -> Result<Bench, RunError> {
    Ok(Bench {
        drift_allowance: casetight::quantity::TemperatureDrift::ZERO,
        effects: casetight::readings::Effects::none(),
        heat: casetight::vessel::Heat::ISOTHERMAL,
        volume: Measured::exact(Volume::from_value_in(volume_m3, "m3")?)?,
        ambient_pressure: Measured::exact(AbsolutePressure::from_pascals(ambient_pa)?)?,
        temperature: Measured::exact(ThermodynamicTemperature::from_value_in(temperature_k, "K")?)?,
        gauge,
        gas: Gas::dry_air(),
    })
}

/// A digital gauge of a resolution and a noise \[Pa\], its times exact.
///
/// # Errors
/// As [`bench()`].
pub fn digital(resolution_pa: f64, noise_pa: f64) -> Result<Gauge, RunError> {
    let pascals = |value| Pressure::from_value_in(value, "Pa");
    Ok(Gauge::digital(pascals(resolution_pa)?)?.with_noise(pascals(noise_pa)?)?)
}

/// A decay of a rate \[1/s\] from a start gauge pressure \[Pa\] on a bench.
///
/// # Errors
/// As [`bench()`].
pub fn decay(rate: f64, start_pa: f64, bench: &Bench) -> Result<IsothermalDecay, RunError> {
    let start = GaugePressure::from_pascals(start_pa)?;
    Ok(IsothermalDecay::from_rate(
        rate,
        start,
        bench.ambient(),
        &bench.gas,
    )?)
}

/// What the bench's gauge shows of a decay at evenly spaced times \[s\]: rounded, and with its noise as a wave that is never
/// twice the same, so that no random numbers are needed.
///
/// # Errors
/// As [`bench()`].
pub fn readings(
    decay: &IsothermalDecay,
    bench: &Bench,
    seconds: f64,
    count: u32,
) -> Result<Readings, RunError> {
    let noise = bench.gauge.noise().value;
    let mut run = Vec::new();
    for i in 0..count {
        let time = Time::from_value_in(seconds * f64::from(i) / f64::from(count.max(2) - 1), "s")?;
        let shown = decay.gauge_at(time).pascals() + noise * 1.4 * (2.4 * f64::from(i)).sin();
        run.push((
            time,
            bench.gauge.rounded(GaugePressure::from_pascals(shown)?),
        ));
    }
    Ok(Readings::new(&run, bench.ambient_pressure.value())?)
}
