//! Simulated repairs: one machine tested before and after, compared by casetight; and machines tested many times, for
//! their trend.

use std::f64::consts::PI;

use casetight::gas::Gas;
use casetight::gauge::{AccuracyClass, Gauge};
use casetight::measured::{Distribution as Shape, Evaluation, Measured};
use casetight::quantity::{
    AbsolutePressure, Pressure, TemperatureDrift, ThermodynamicTemperature, TradeUnits, Volume,
};
use casetight::readings::{Bench, Readings};
use casetight::vessel::Heat;
use casetight_bench::compare::{Shared, SharedVolume, Test, TrendPoint, Unit, compare, trend};
use rand::{Rng, RngExt};
use rand_distr::{Distribution, StandardNormal};

use crate::coverage::{Coverage, Run};
use crate::recovery::Reader;
use crate::simulator::{DRY_AIR_GAS_R, Instrument, Law, Thermal, Truth, study};

/// Relative standard uncertainty of the volume that the sheet states; the true one is drawn from it.
const VOLUME_UNCERTAINTY: f64 = 0.03;
/// Longest hold [s].
const LONGEST_HOLD_S: f64 = 600.0;
const AMBIENT_PA: f64 = 101_325.0;

/// What a study of repairs varies.
#[derive(Debug, Clone, Copy)]
pub struct Repairs {
    /// The gauge and its reader.
    pub reader: Reader,
    /// Accuracy class of a gauge of 1 bar span, if it has one; offset and scale are drawn from it.
    pub class: Option<f64>,
    /// Whether both tests used one gauge on one volume; else each its own.
    pub shared: bool,
    /// Whether the comparison is told that they did.
    pub told: bool,
    /// Diameters of the hole before, and after \[m\], evenly on the logarithm.
    pub before_m: (f64, f64),
    /// After.
    pub after_m: (f64, f64),
}

fn deviate(rng: &mut impl Rng) -> f64 {
    StandardNormal.sample(rng)
}

fn area_of_hole(diameter: f64) -> f64 {
    0.62 * PI * diameter * diameter / 4.0
}

fn exact<Q: casetight::measured::Measurable>(value: Q) -> Measured<Q> {
    Measured::exact(value).unwrap()
}

fn bench(gauge: Gauge, volume_m3: f64) -> Bench {
    let volume = Volume::from_value_in(volume_m3, "m3").unwrap();
    let normal = Evaluation::TypeB(Shape::Normal);
    Bench {
        volume: Measured::new(volume, volume * VOLUME_UNCERTAINTY, normal).unwrap(),
        ambient_pressure: exact(AbsolutePressure::from_pascals(AMBIENT_PA).unwrap()),
        drift_allowance: TemperatureDrift::ZERO,
        effects: casetight::readings::Effects::none(),
        heat: Heat::ISOTHERMAL,
        temperature: exact(ThermodynamicTemperature::from_value_in(293.15, "K").unwrap()),
        gauge,
        gas: Gas::dry_air(),
    }
}

/// A vessel as the sheet has it and as it is, with the gauge that reads it.
struct Setup {
    bench: Bench,
    volume_m3: f64,
    instrument: Instrument,
    readings: usize,
}

impl Setup {
    fn draw(reader: &Reader, class: Option<f64>, stated_m3: f64, rng: &mut impl Rng) -> Self {
        let gauge = class.map_or(reader.gauge, |class| {
            let span = Pressure::from_value_in(1e5, "Pa").unwrap();
            reader
                .gauge
                .with_accuracy_class(AccuracyClass { class, span })
                .unwrap()
        });
        Self {
            bench: bench(gauge, stated_m3),
            volume_m3: stated_m3 * (1.0 + VOLUME_UNCERTAINTY * deviate(rng)),
            instrument: Instrument {
                offset_pa: gauge.offset_uncertainty().value * deviate(rng),
                scale: 1.0 + gauge.scale_uncertainty() * deviate(rng),
                ..reader.instrument
            },
            readings: reader.readings,
        }
    }

    /// A test of a leak of this area from 5 to 10 psi, held until the needle has lost 15 to 70 % or ten minutes have passed.
    fn test(&self, area_m2: f64, rng: &mut impl Rng) -> Option<Test> {
        let truth = Truth {
            law: Law::Orifice {
                cd_area_m2: area_m2,
            },
            volume_m3: self.volume_m3,
            ambient_pa: AMBIENT_PA,
            wall_temperature_k: 293.15,
            gas_r: DRY_AIR_GAS_R,
            gamma: 1.4,
            start_gauge_pa: 6894.757 * rng.random_range(5.0..10.0),
            thermal: Thermal::Isothermal,
            wall_drift_k_per_s: 0.0,
        };
        let remaining = rng.random_range(0.3..0.85);
        let hold = truth
            .time_to_gauge(remaining * truth.start_gauge_pa)
            .map_or(LONGEST_HOLD_S, |t| t.min(LONGEST_HOLD_S));
        let times: Vec<f64> = (0..self.readings)
            .map(|i| hold * i as f64 / (self.readings - 1) as f64)
            .collect();
        let (times, gauges): (Vec<f64>, Vec<f64>) = self
            .instrument
            .read(|moments| truth.gauge_at(moments), &times, rng)
            .into_iter()
            .unzip();
        let ambient = self.bench.ambient_pressure.value();
        let readings = Readings::from_si(&times, &gauges, ambient).ok()?;
        Test::of_readings(&readings, &self.bench, 0.95).ok()
    }
}

fn evenly((low, high): (f64, f64), rng: &mut impl Rng) -> f64 {
    low * (high / low).powf(rng.random_range(0.0..1.0))
}

const REFUSED: Run = Run {
    truth: f64::NAN,
    value: f64::NAN,
    low: f64::NAN,
    high: f64::NAN,
};

/// Coverage of the ratio of areas over simulated repairs in an isothermal case of 100 to 600 cm3.
#[must_use]
pub fn repairs(study_of: &Repairs, runs: u64, seed: u64) -> Coverage {
    let results = study(seed, runs, |_, rng| {
        let stated = rng.random_range(100e-6..600e-6);
        let before = Setup::draw(&study_of.reader, study_of.class, stated, rng);
        let other = Setup::draw(&study_of.reader, study_of.class, stated, rng);
        let after = if study_of.shared { &before } else { &other };
        let old = area_of_hole(evenly(study_of.before_m, rng));
        let new = area_of_hole(evenly(study_of.after_m, rng));
        let shared = if study_of.told {
            Shared::all()
        } else {
            Shared::nothing()
        };
        let (Some(one), Some(two)) = (before.test(old, rng), after.test(new, rng)) else {
            return REFUSED;
        };
        let Ok(compared) = compare(&one, &two, &shared, 0.95) else {
            return REFUSED;
        };
        let ratio = compared.ratio;
        Run {
            truth: new / old,
            value: if compared.tells_value() {
                ratio.value
            } else {
                f64::midpoint(ratio.low, ratio.high)
            },
            low: ratio.low,
            high: ratio.high,
        }
    });
    Coverage::of(&results).unwrap()
}

/// How often an unchanged leak is said to have fallen, and to have grown, at 95 %: parts of all runs.
#[must_use]
pub fn false_alarms(study_of: &Repairs, runs: u64, seed: u64) -> (f64, f64) {
    let results: Vec<(bool, bool)> = study(seed, runs, |_, rng| {
        let stated = rng.random_range(100e-6..600e-6);
        let before = Setup::draw(&study_of.reader, study_of.class, stated, rng);
        let other = Setup::draw(&study_of.reader, study_of.class, stated, rng);
        let after = if study_of.shared { &before } else { &other };
        let area = area_of_hole(evenly(study_of.before_m, rng));
        let shared = if study_of.told {
            Shared::all()
        } else {
            Shared::nothing()
        };
        let (Some(one), Some(two)) = (before.test(area, rng), after.test(area, rng)) else {
            return (true, true);
        };
        compare(&one, &two, &shared, 0.95).map_or((true, true), |c| {
            (
                c.p_value < 0.05 && c.probability_fell > 0.5,
                c.p_value < 0.05 && c.probability_fell <= 0.5,
            )
        })
    });
    let part = |count: usize| count as f64 / runs as f64;
    (
        part(results.iter().filter(|r| r.0).count()),
        part(results.iter().filter(|r| r.1).count()),
    )
}

/// Coverage of the growth over this many tests of one machine, a step of time apart, whose leak starts at a hole of
/// `first_m` and grows by 0 to 40 % in area from one to the next with a scatter (standard deviation of ln A).
#[must_use]
pub fn trends(
    reader: Reader,
    (tests, first_m): (u32, f64),
    scatter: f64,
    runs: u64,
    seed: u64,
) -> Coverage {
    let results = study(seed, runs, |_, rng| {
        let setup = Setup::draw(&reader, Some(1.6), rng.random_range(100e-6..600e-6), rng);
        let growth: f64 = rng.random_range(0.0..0.336);
        let points: Option<Vec<TrendPoint>> = (0..tests)
            .map(|n| {
                let ln = growth * f64::from(n) + scatter * deviate(rng);
                let test = setup.test(area_of_hole(first_m) * ln.exp(), rng)?;
                Some(TrendPoint {
                    at: f64::from(n),
                    test,
                })
            })
            .collect();
        let found = points.and_then(|points| {
            let shared = Shared {
                volume: SharedVolume::Same,
                gauge: true,
                surroundings: false,
            };
            trend(&points, Unit::Tests, &shared, 0.95).ok()?.growth
        });
        found.map_or(REFUSED, |found| Run {
            truth: growth.exp(),
            value: found.value,
            low: found.low,
            high: found.high,
        })
    });
    Coverage::of(&results).unwrap()
}
