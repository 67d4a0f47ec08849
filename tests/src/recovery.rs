//! Recovery studies: simulated tests of known truth, fitted by casetight; bias and coverage of what comes back.

use std::f64::consts::PI;

use casetight::fit::fit;
use casetight::gas::Gas;
use casetight::gauge::Gauge;
use casetight::measured::Measured;
use casetight::quantity::{
    AbsolutePressure, Pressure, TemperatureDrift, ThermodynamicTemperature, TradeUnits, Volume,
};
use casetight::record::{Bench, Readings};
use casetight::vessel::Direction;
use rand::RngExt;
use rand_distr::{Distribution, StandardNormal};

use crate::coverage::{Coverage, Run};
use crate::simulator::{DRY_AIR_GAS_R, Instrument, Law, Thermal, Truth, study};

/// Longest hold, as long as a technician has patience [s].
const LONGEST_HOLD_S: f64 = 600.0;

/// A gauge as the simulator has it and as the sheet would state it.
#[derive(Debug, Clone, Copy)]
pub struct Reader {
    /// What reads in truth.
    pub instrument: Instrument,
    /// What the fit is told.
    pub gauge: Gauge,
    /// Readings a run.
    pub readings: usize,
}

/// A digital gauge of 100 Pa with 60 Pa of noise, 24 readings.
#[must_use]
pub fn digital() -> Reader {
    Reader {
        instrument: Instrument {
            resolution_pa: 100.0,
            noise_pa: 60.0,
            ..Instrument::PERFECT
        },
        gauge: Gauge::digital(pascals(100.0))
            .unwrap()
            .with_noise(pascals(60.0))
            .unwrap(),
        readings: 24,
    }
}

/// A dial with 0.5 psi divisions read to a quarter of one, nine readings against a stopwatch.
#[must_use]
pub fn dial() -> Reader {
    let division = Pressure::parse("0.5 psi").unwrap();
    let gauge = Gauge::dial(division, division / 4.0).unwrap();
    let noise_pa = gauge.noise().value;
    Reader {
        instrument: Instrument {
            resolution_pa: gauge.step().value,
            noise_pa,
            stopwatch_s: gauge.stopwatch().value,
            ..Instrument::PERFECT
        },
        gauge,
        readings: 9,
    }
}

fn pascals(value: f64) -> Pressure {
    Pressure::from_value_in(value, "Pa").unwrap()
}

/// Coverage of the effective area over simulated tests in an isothermal case: holes of 20 to 180 um (Cd 0.62, evenly on
/// the logarithm), 100 to 600 cm3, 5 to 10 psi, a hold in which the needle falls by 15 to 90 % or of ten minutes.
#[must_use]
pub fn isothermal(reader: Reader, direction: Direction, runs: u64, seed: u64) -> Coverage {
    drifting(reader, direction, 0.0, runs, seed)
}

/// As [`isothermal`], under a steady drift of the wall's temperature, normal with this standard deviation \[K/s\], which is
/// the allowance that the fit is told.
#[must_use]
pub fn drifting(
    reader: Reader,
    direction: Direction,
    allowance: f64,
    runs: u64,
    seed: u64,
) -> Coverage {
    let results = study(seed, runs, |_, rng| {
        let diameter = 20e-6 * (180.0_f64 / 20.0).powf(rng.random_range(0.0..1.0));
        let truth = Truth {
            law: Law::Orifice {
                cd_area_m2: 0.62 * PI * diameter * diameter / 4.0,
            },
            volume_m3: rng.random_range(100e-6..600e-6),
            ambient_pa: 101_325.0,
            wall_temperature_k: 293.15,
            gas_r: DRY_AIR_GAS_R,
            gamma: 1.4,
            start_gauge_pa: direction.sign() * 6894.757 * rng.random_range(5.0..10.0),
            thermal: Thermal::Isothermal,
            wall_drift_k_per_s: 0.0,
        };
        let drift: f64 = if allowance > 0.0 {
            StandardNormal.sample(rng)
        } else {
            0.0
        };
        let remaining = rng.random_range(0.1..0.85);
        let hold = truth
            .time_to_gauge(remaining * truth.start_gauge_pa)
            .map_or(LONGEST_HOLD_S, |t| t.min(LONGEST_HOLD_S));
        let times: Vec<f64> = (0..reader.readings)
            .map(|i| hold * i as f64 / (reader.readings - 1) as f64)
            .collect();
        let truth = Truth {
            wall_drift_k_per_s: allowance * drift,
            ..truth
        };
        let read = reader
            .instrument
            .read(|moments| truth.gauge_at(moments), &times, rng);
        answer(&truth, &read, &reader.gauge, allowance)
    });
    Coverage::of(&results).unwrap()
}

fn answer(truth: &Truth, read: &[(f64, f64)], gauge: &Gauge, allowance: f64) -> Run {
    let Law::Orifice { cd_area_m2 } = truth.law else {
        panic!("an orifice is expected")
    };
    let bench = Bench {
        volume: Measured::exact(Volume::from_value_in(truth.volume_m3, "m3").unwrap()).unwrap(),
        ambient_pressure: Measured::exact(
            AbsolutePressure::from_pascals(truth.ambient_pa).unwrap(),
        )
        .unwrap(),
        drift_allowance: TemperatureDrift::from_kelvins_per_second(allowance).unwrap(),
        heat: casetight::vessel::Heat::default(),
        temperature: Measured::exact(
            ThermodynamicTemperature::from_value_in(truth.wall_temperature_k, "K").unwrap(),
        )
        .unwrap(),
        gauge: *gauge,
        gas: Gas::dry_air(),
    };
    let (times, gauges): (Vec<f64>, Vec<f64>) = read.iter().copied().unzip();
    let fitted = Readings::from_si(&times, &gauges, bench.ambient_pressure.value())
        .map_err(|e| e.to_string())
        .and_then(|readings| fit(&readings, &bench, 0.95).map_err(|e| e.to_string()));
    match fitted {
        Ok(fit) => Run {
            truth: cd_area_m2,
            value: fit.area.value,
            low: fit.area.low,
            high: fit.area.high,
        },
        Err(_) => Run {
            truth: cd_area_m2,
            value: f64::NAN,
            low: f64::NAN,
            high: f64::NAN,
        },
    }
}
