//! Fast holes on gas that was given time to settle: whether the fit reaches the best curve. A curve of least squares is never worse
//! than the truth is; a fit that is has stopped at an optimum that is not the best.

use casetight::fit::fit;
use casetight::gas::Gas;
use casetight::gauge::Gauge;
use casetight::measured::Measured;
use casetight::quantity::{
    AbsolutePressure, Pressure, TemperatureDrift, ThermodynamicTemperature, Time, TradeUnits,
    Volume,
};
use casetight::readings::{Bench, Effects, Readings};
use casetight::vessel::Heat;
use rand::{Rng, RngExt};
use rand_distr::{Distribution, StandardNormal};

use crate::simulator::{DRY_AIR_GAS_R, Instrument, Law, Thermal, Truth, run_rng, study};

const AMBIENT_PA: f64 = 101_325.0;
const WALL_K: f64 = 293.15;
/// The needle is read from the start until a tenth is left.
const READINGS: usize = 30;
const LEFT: f64 = 0.1;
/// Standard deviation of ln hA of a usual case.
const LN_CONDUCTANCE: f64 = 0.45;
/// A fit whose chi-squared is larger than the truth's by this has missed the best curve: the laws that are not the truth's are
/// given some room.
const MISSED: f64 = 6.0;

/// What a study of settled gas varies.
#[derive(Debug, Clone, Copy)]
pub struct Tests {
    /// How soon a tenth of the pressure is left \[s\].
    pub falls_in_s: (f64, f64),
    /// What the gas was given to settle \[s\].
    pub settled_for_s: f64,
    /// The gauge's step, and the noise of a reading \[Pa\].
    pub gauge_pa: (f64, f64),
}

/// A simulated test and its fit.
#[derive(Debug, Clone, Copy)]
pub struct Settled {
    /// True area \[m2\].
    pub truth: f64,
    /// Area by the fit, with its ends \[m2\].
    pub area: [f64; 3],
    /// Sum of the squared departures of readings and heat from the truth.
    pub chi_squared_of_truth: f64,
    /// That of the fit.
    pub chi_squared: f64,
}

impl Settled {
    /// Whether the fit stopped short of the best curve.
    #[must_use]
    pub fn missed(&self) -> bool {
        self.chi_squared > self.chi_squared_of_truth + MISSED
    }
}

/// Tests of holes that let the needle fall to a tenth in so many seconds, in cases of 100 to 600 cm3 pumped to 5 to 10 psi and
/// given so many seconds to settle, which the fit is told.
#[must_use]
pub fn settled(tests: &Tests, runs: u64, seed: u64) -> Vec<Settled> {
    study(seed, runs, |_, rng| once(tests, rng))
}

/// One run of such a study by itself.
#[must_use]
pub fn one_settled(tests: &Tests, seed: u64, run: u64) -> Settled {
    once(tests, &mut run_rng(seed, run))
}

fn once(tests: &Tests, rng: &mut impl Rng) -> Settled {
    let Tests {
        falls_in_s,
        settled_for_s,
        gauge_pa: (step_pa, noise_pa),
    } = *tests;
    let volume_m3: f64 = rng.random_range(100e-6..600e-6);
    let start = 6894.757 * rng.random_range(5.0..10.0);
    let seconds = rng.random_range(falls_in_s.0..falls_in_s.1);
    let of_area = |cd_area_m2| Truth {
        law: Law::Orifice { cd_area_m2 },
        volume_m3,
        ambient_pa: AMBIENT_PA,
        wall_temperature_k: WALL_K,
        gas_r: DRY_AIR_GAS_R,
        gamma: 1.4,
        start_gauge_pa: start,
        thermal: Thermal::Isothermal,
        wall_drift_k_per_s: 0.0,
    };
    // Time goes as one over the area.
    let area = 1e-8 * of_area(1e-8).time_to_gauge(LEFT * start).unwrap() / seconds;
    let (thermal, of_heat) = heat(&of_area(area), settled_for_s, rng);
    let truth = Truth {
        thermal,
        ..of_area(area)
    };
    let times: Vec<f64> = (0..READINGS)
        .map(|i| seconds * i as f64 / (READINGS - 1) as f64)
        .collect();
    let gauge = Instrument {
        resolution_pa: step_pa,
        noise_pa,
        ..Instrument::PERFECT
    };
    let read = gauge.read(|moments| truth.gauge_at(moments), &times, rng);
    let off = read.iter().zip(truth.gauge_at(&times));
    let variance = noise_pa.powi(2) + step_pa.powi(2) / 12.0;
    let scatter: f64 = off
        .map(|((_, read), true_pa)| (read - true_pa).powi(2) / variance)
        .sum();
    let chi_squared_of_truth = scatter + of_heat;
    let (times, gauges): (Vec<f64>, Vec<f64>) = read.into_iter().unzip();
    let bench = bench(volume_m3, tests);
    let readings = Readings::from_si(&times, &gauges, bench.ambient_pressure.value()).unwrap();
    let fit = fit(&readings, &bench, 0.95).unwrap();
    let found = fit.area.si();
    Settled {
        truth: area,
        area: [found.value, found.low, found.high],
        chi_squared_of_truth,
        chi_squared: fit.chi_squared,
    }
}

/// The heat of a case whose gas has had so many seconds to settle, and what it adds to chi-squared by the priors that the fit is
/// documented to have: half of the adiabatic excess, and what a case that settles slower has left of it.
fn heat(case: &Truth, settled_for_s: f64, rng: &mut impl Rng) -> (Thermal, f64) {
    let normal = |rng: &mut _| -> f64 { StandardNormal.sample(rng) };
    let of_conductance = normal(rng);
    let usual = 0.35 * (case.volume_m3 / 250e-6).powf(2.0 / 3.0);
    let ha_w_per_k = usual * (LN_CONDUCTANCE * of_conductance).exp();
    let capacity = AMBIENT_PA * case.volume_m3 / (0.4 * WALL_K);
    let adiabatic = WALL_K * ((1.0 + case.start_gauge_pa / AMBIENT_PA).powf(0.4 / 1.4) - 1.0);
    let left = |ha: f64| (-settled_for_s * ha / capacity).exp();
    let excess = 0.5 * adiabatic * normal(rng).abs().min(2.0) * left(ha_w_per_k);
    let of_excess = excess / (0.5 * adiabatic * left(usual * (-LN_CONDUCTANCE).exp()));
    let thermal = Thermal::Lumped {
        ha_w_per_k,
        start_gas_temperature_k: WALL_K + excess,
    };
    (thermal, of_conductance.powi(2) + of_excess.powi(2))
}

fn bench(volume_m3: f64, tests: &Tests) -> Bench {
    let (step_pa, noise_pa) = tests.gauge_pa;
    let pascals = |value| Pressure::from_value_in(value, "Pa").unwrap();
    let gauge = Gauge::digital(pascals(step_pa)).unwrap();
    Bench {
        volume: Measured::exact(Volume::from_value_in(volume_m3, "m3").unwrap()).unwrap(),
        ambient_pressure: Measured::exact(AbsolutePressure::from_pascals(AMBIENT_PA).unwrap())
            .unwrap(),
        drift_allowance: TemperatureDrift::ZERO,
        effects: Effects::none(),
        heat: Heat {
            settled_for: Time::from_value_in(tests.settled_for_s, "s").unwrap(),
            ..Heat::default()
        },
        temperature: Measured::exact(ThermodynamicTemperature::from_value_in(WALL_K, "K").unwrap())
            .unwrap(),
        gauge: gauge.with_noise(pascals(noise_pa)).unwrap(),
        gas: Gas::dry_air(),
    }
}
