//! Recovery studies: simulated tests of known truth, fitted by casetight; bias and coverage of what comes back.
#![allow(
    clippy::indexing_slicing,
    reason = "a study's own columns, whose number is known"
)]

use std::f64::consts::PI;

use casetight::fit::{Fit, fit};
use casetight::gas::Gas;
use casetight::gauge::Gauge;
use casetight::measured::{Distribution, Evaluation, Measured};
use casetight::quantity::{
    AbsolutePressure, Pressure, TemperatureDrift, ThermodynamicTemperature, TradeUnits, Volume,
};
use casetight::readings::{Bench, Readings};
use casetight::vessel::{Direction, Heat};
use nalgebra::DMatrix;
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, StandardNormal};

use crate::coverage::{Coverage, Run, median};
use crate::simulator::{DRY_AIR_GAS_R, Instrument, Law, Thermal, Truth, flow_function, study};

/// Ambient pressure \[Pa\].
const AMBIENT: f64 = 101_325.0;
/// Wall temperature \[K\].
const WALL: f64 = 293.15;

/// Standard deviation of ln hA of a usual case.
const LN_CONDUCTANCE: f64 = 0.45;

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

/// What leaks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Leak {
    /// A hole.
    Orifice,
    /// A fine gap.
    Laminar,
}

/// How heat passes in the simulated case, and what the fit is told of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Exchange {
    /// Gas always at the wall's temperature, and the fit knows.
    Isothermal,
    /// A conductance \[W/K\] and a start temperature off the wall's \[K\], warm after pumping up and cool after pumping down,
    /// that the fit isn't told.
    Fixed {
        /// hA.
        conductance: f64,
        /// Size of the excess.
        excess: f64,
    },
    /// A settling time \[s\] and a start temperature off the wall's \[K\], not told either.
    Settling {
        /// tau.
        time: f64,
        /// Size of the excess.
        excess: f64,
    },
    /// Conductance and start temperature drawn as the fit's priors say.
    Drawn,
    /// As drawn, but only of what pumping can do: warm after pumping up, cool after pumping down, at most adiabatic.
    Pumped,
}

/// A recovery study: simulated tests of holes of a size in a range (Cd 0.62, evenly on the logarithm) or of gaps of the
/// same flow at the start, on 100 to 600 cm3, from 5 to 10 psi, over a hold in which the needle falls by 15 to 90 % or of
/// ten minutes.
#[derive(Debug, Clone, Copy)]
pub struct Study {
    /// Gauge.
    pub reader: Reader,
    /// Pressure or vacuum.
    pub direction: Direction,
    /// What leaks.
    pub leak: Leak,
    /// Smallest and largest diameter \[m\].
    pub holes: (f64, f64),
    /// Heat.
    pub heat: Exchange,
    /// Standard deviation of the wall's drift \[K/s\], which is the allowance that the fit is told.
    pub drift: f64,
    /// Relative standard uncertainty of the volume, which is told, around a stated volume that is off by as much.
    pub volume_uncertainty: f64,
    /// Whether the rig leaks too, a run of the rig alone is made, and its leak is subtracted.
    pub rig: bool,
}

/// A simulated test and its fit.
pub(crate) struct Simulated {
    /// What leaked, rig included.
    pub(crate) truth: Truth,
    /// Effective area of the engine's leak \[m2\].
    pub(crate) area: f64,
    /// Hold \[s\].
    pub(crate) seconds: f64,
    /// The fit, the rig's leak taken off, and the bench that it was told.
    pub(crate) found: Result<(Fit, Bench), String>,
}

/// Diameters of slow leaks, that a stopwatch can follow \[m\].
pub const SLOW: (f64, f64) = (20e-6, 180e-6);
/// Diameters of leaks about as fast as the gas exchanges heat with the wall \[m\].
pub const FAST: (f64, f64) = (0.2e-3, 0.6e-3);

/// Volume of the rig alone \[m3\].
const RIG_VOLUME: f64 = 40e-6;

impl Study {
    /// Slow holes in an isothermal case.
    #[must_use]
    pub fn isothermal(reader: Reader, direction: Direction) -> Self {
        Self {
            reader,
            direction,
            leak: Leak::Orifice,
            holes: SLOW,
            heat: Exchange::Isothermal,
            drift: 0.0,
            volume_uncertainty: 0.0,
            rig: false,
        }
    }

    /// Simulates and fits so many tests.
    #[must_use]
    pub fn run(&self, runs: u64, seed: u64) -> Coverage {
        let results = study(seed, runs, |_, rng| self.once(rng).0);
        Coverage::of(&results).unwrap()
    }

    /// As [`Study::run`], with the medians of each interval's half-width over the least that the same readings allow
    /// (Cramer and Rao's bound, with all that the fit isn't told as nuisance terms): the law unknown, and the law known.
    #[must_use]
    pub fn run_beside_least(&self, runs: u64, seed: u64) -> (Coverage, [f64; 2]) {
        let results = study(seed, runs, |_, rng| {
            let (run, least) = self.once(rng);
            (run, least().map(|least| (run.high - run.low) / 2.0 / least))
        });
        let of_median = |which: usize| median(results.iter().map(|(_, ratios)| ratios[which]));
        let ratios = [of_median(0), of_median(1)];
        let runs: Vec<Run> = results.into_iter().map(|(run, _)| run).collect();
        (Coverage::of(&runs).unwrap(), ratios)
    }

    fn once(&self, rng: &mut ChaCha8Rng) -> (Run, impl FnOnce() -> [f64; 2] + use<>) {
        let Simulated {
            truth,
            area,
            seconds,
            found,
        } = self.simulate(rng);
        let [value, low, high] = found.map_or([f64::NAN; 3], |(fit, _)| {
            [fit.area.si().value, fit.area.si().low, fit.area.si().high]
        });
        let run = Run {
            truth: area,
            value,
            low,
            high,
        };
        let study = *self;
        (run, move || study.least(&truth, area, seconds))
    }

    /// Simulates one test and fits it.
    pub(crate) fn simulate(&self, rng: &mut ChaCha8Rng) -> Simulated {
        let (smallest, largest) = self.holes;
        let diameter = smallest * (largest / smallest).powf(rng.random_range(0.0..1.0));
        let area = 0.62 * PI * diameter * diameter / 4.0;
        let start = self.direction.sign() * 6894.757 * rng.random_range(5.0..10.0);
        let truth = isothermal(
            self.law(area, start),
            rng.random_range(100e-6..600e-6),
            start,
        );
        let remaining = rng.random_range(0.1..0.85);
        let rig_area = area * rng.random_range(0.05..0.5);
        let rig_leak = Law::Orifice {
            cd_area_m2: rig_area,
        };
        let with_rig = Truth {
            law: if self.rig {
                Law::Sum(vec![truth.law.clone(), rig_leak.clone()])
            } else {
                truth.law.clone()
            },
            ..truth.clone()
        };
        let hold = |truth: &Truth| {
            truth
                .time_to_gauge(remaining * truth.start_gauge_pa)
                .map_or(LONGEST_HOLD_S, |t| t.min(LONGEST_HOLD_S))
        };
        let seconds = hold(&with_rig);
        let with_rig = Truth {
            wall_drift_k_per_s: if self.drift > 0.0 {
                self.drift * normal(rng)
            } else {
                0.0
            },
            thermal: self.thermal(truth.volume_m3, start, rng),
            ..with_rig
        };
        let stated = truth.volume_m3 * (self.volume_uncertainty * normal(rng)).exp();
        let whole = self.fit(&with_rig, stated, self.volume_uncertainty, seconds, rng);
        let found = if self.rig {
            let alone = Truth {
                law: rig_leak,
                volume_m3: RIG_VOLUME,
                thermal: self.thermal(RIG_VOLUME, start, rng),
                ..truth
            };
            let seconds = hold(&alone);
            let rig = self.fit(&alone, RIG_VOLUME, 0.0, seconds, rng);
            whole.and_then(|(whole, bench)| rig.map(|(rig, _)| (whole.less(&rig), bench)))
        } else {
            whole
        };
        Simulated {
            truth: with_rig,
            area,
            seconds,
            found,
        }
    }

    /// Half-width of the 95 % interval by Cramer and Rao's bound, for readings at the study's moments and noise: area and
    /// start pressure unknown, the heat's terms and the drift known as the fit knows them; the law in between orifice and
    /// laminar, and the law known. The rig's run, shorter and steeper, is taken as without error.
    fn least(&self, truth: &Truth, area: f64, hold: f64) -> [f64; 2] {
        let times = self.times(hold);
        let at = |truth: &Truth| truth.gauge_at(&times);
        let base = at(truth);
        let differs = |other: &Truth, step: f64| -> Vec<f64> {
            let there = at(other);
            let pairs = there.iter().zip(&base);
            pairs.map(|(b, a)| (b - a) / step).collect()
        };
        let step = 1e-4;
        let whole = Truth {
            law: truth.law.scaled(1.0 + step),
            ..truth.clone()
        };
        // The rig's share of the flow does not scale with the leak, but its rate is known: the whole tells the leak.
        let size = truth.law.orifice_area_at(truth);
        let higher = Truth {
            start_gauge_pa: truth.start_gauge_pa * (1.0 + step),
            ..truth.clone()
        };
        let mut columns = vec![
            differs(&whole, step * size),
            differs(&higher, step * truth.start_gauge_pa),
        ];
        let mut priors = vec![f64::INFINITY, f64::INFINITY];
        let other = match self.leak {
            Leak::Orifice => Leak::Laminar,
            Leak::Laminar => Leak::Orifice,
        };
        let other = Truth {
            law: Self {
                leak: other,
                ..*self
            }
            .law(size, truth.start_gauge_pa),
            ..truth.clone()
        };
        if let Some([conducting, warmer]) = with_other_heat(truth, step) {
            columns.push(differs(&conducting, step));
            priors.push(LN_CONDUCTANCE);
            columns.push(differs(&warmer, WARMER));
            priors.push(excess_allowance(truth.start_gauge_pa).abs());
        }
        if self.drift > 0.0 {
            let drifting = Truth {
                wall_drift_k_per_s: truth.wall_drift_k_per_s + 1e-4,
                ..truth.clone()
            };
            columns.push(differs(&drifting, 1e-4));
            priors.push(self.drift);
        }
        let by_volume = 1.959_964 * self.volume_uncertainty * area;
        let law_known = self.bound(&columns, &priors).hypot(by_volume);
        columns.push(differs(&other, 1.0));
        priors.push(0.5);
        let law_unknown = self.bound(&columns, &priors).hypot(by_volume);
        [law_unknown, law_known]
    }

    /// Half-width of the first parameter, from the readings' changes by each and their standard deviations beforehand.
    fn bound(&self, columns: &[Vec<f64>], priors: &[f64]) -> f64 {
        let instrument = self.reader.instrument;
        let variance = instrument.noise_pa.powi(2) + instrument.resolution_pa.powi(2) / 12.0;
        let n = columns.len();
        let information = DMatrix::from_fn(n, n, |i, j| {
            let data: f64 = columns[i].iter().zip(&columns[j]).map(|(a, b)| a * b).sum();
            data / variance + if i == j { priors[i].powi(-2) } else { 0.0 }
        });
        // Scaled to a unit diagonal, since the units differ by many decades.
        let scale: Vec<f64> = (0..n).map(|i| information[(i, i)].sqrt()).collect();
        let scaled = DMatrix::from_fn(n, n, |i, j| information[(i, j)] / (scale[i] * scale[j]));
        1.959_964 * scaled.try_inverse().unwrap()[(0, 0)].sqrt() / scale[0]
    }

    fn times(&self, hold: f64) -> Vec<f64> {
        (0..self.reader.readings)
            .map(|i| hold * i as f64 / (self.reader.readings - 1) as f64)
            .collect()
    }

    /// The leak whose flow at the start is that of an orifice of this area.
    fn law(&self, area: f64, start: f64) -> Law {
        match self.leak {
            Leak::Orifice => Law::Orifice { cd_area_m2: area },
            Leak::Laminar => {
                let (up, down) = (AMBIENT.max(AMBIENT + start), AMBIENT.min(AMBIENT + start));
                let flow =
                    area * up / (DRY_AIR_GAS_R * WALL).sqrt() * flow_function(down / up, 1.4);
                Law::Laminar {
                    c: flow * DRY_AIR_GAS_R * WALL / (up * up - down * down),
                }
            }
        }
    }

    fn thermal(&self, volume: f64, start: f64, rng: &mut ChaCha8Rng) -> Thermal {
        // m cv of gas at ambient pressure.
        let capacity = AMBIENT * volume / (0.4 * WALL);
        let (ha_w_per_k, excess) = match self.heat {
            Exchange::Isothermal => return Thermal::Isothermal,
            Exchange::Fixed {
                conductance,
                excess,
            } => (conductance, self.direction.sign() * excess),
            Exchange::Settling { time, excess } => {
                (capacity / time, self.direction.sign() * excess)
            }
            Exchange::Drawn => (
                usual_conductance(volume, rng),
                excess_allowance(start) * normal(rng),
            ),
            Exchange::Pumped => (
                usual_conductance(volume, rng),
                // The prior is half of adiabatic.
                excess_allowance(start) * normal(rng).abs().min(2.0),
            ),
        };
        Thermal::Lumped {
            ha_w_per_k,
            start_gas_temperature_k: WALL + excess,
        }
    }

    fn fit(
        &self,
        truth: &Truth,
        stated: f64,
        uncertainty: f64,
        hold: f64,
        rng: &mut ChaCha8Rng,
    ) -> Result<(Fit, Bench), String> {
        let times = self.times(hold);
        let read = self
            .reader
            .instrument
            .read(|moments| truth.gauge_at(moments), &times, rng);
        let cubic_meters = |v| Volume::from_value_in(v, "m3").unwrap();
        let bench = Bench {
            volume: Measured::new(
                cubic_meters(stated),
                cubic_meters(stated * uncertainty),
                Evaluation::TypeB(Distribution::Normal),
            )
            .unwrap(),
            ambient_pressure: Measured::exact(AbsolutePressure::from_pascals(AMBIENT).unwrap())
                .unwrap(),
            drift_allowance: TemperatureDrift::from_kelvins_per_second(self.drift).unwrap(),
            effects: casetight::readings::Effects::none(),
            heat: match self.heat {
                Exchange::Isothermal => Heat::ISOTHERMAL,
                _ => Heat::default(),
            },
            temperature: Measured::exact(
                ThermodynamicTemperature::from_value_in(WALL, "K").unwrap(),
            )
            .unwrap(),
            gauge: self.reader.gauge,
            gas: Gas::dry_air(),
        };
        let (times, gauges): (Vec<f64>, Vec<f64>) = read.into_iter().unzip();
        Readings::from_si(&times, &gauges, bench.ambient_pressure.value())
            .map_err(|e| e.to_string())
            .and_then(|readings| fit(&readings, &bench, 0.95).map_err(|e| e.to_string()))
            .map(|fit| (fit, bench))
    }
}

/// A case whose gas has the wall's temperature at all times.
fn isothermal(law: Law, volume_m3: f64, start_gauge_pa: f64) -> Truth {
    Truth {
        law,
        volume_m3,
        ambient_pa: AMBIENT,
        wall_temperature_k: WALL,
        gas_r: DRY_AIR_GAS_R,
        gamma: 1.4,
        start_gauge_pa,
        thermal: Thermal::Isothermal,
        wall_drift_k_per_s: 0.0,
    }
}

/// By how much the gas is warmer at the start in [`with_other_heat`] [K].
const WARMER: f64 = 0.1;

/// The same with a conductance larger by a part, and with gas that starts [`WARMER`]; none where no heat is exchanged.
fn with_other_heat(truth: &Truth, step: f64) -> Option<[Truth; 2]> {
    let Thermal::Lumped {
        ha_w_per_k,
        start_gas_temperature_k,
    } = truth.thermal
    else {
        return None;
    };
    let heat = |ha_w_per_k, start_gas_temperature_k| Truth {
        thermal: Thermal::Lumped {
            ha_w_per_k,
            start_gas_temperature_k,
        },
        ..truth.clone()
    };
    Some([
        heat(ha_w_per_k * (1.0 + step), start_gas_temperature_k),
        heat(ha_w_per_k, start_gas_temperature_k + WARMER),
    ])
}

/// The studies of the coverage table, by name.
#[must_use]
pub fn named(direction: Direction) -> Vec<(&'static str, Study)> {
    let told = Study::isothermal(digital(), direction);
    let usual = Study {
        heat: Exchange::Drawn,
        ..told
    };
    let dial = Study {
        reader: dial(),
        ..usual
    };
    let drifting = Study {
        drift: 0.3 / 60.0,
        ..usual
    };
    let of_vague_volume = Study {
        volume_uncertainty: 0.05,
        ..usual
    };
    let gap = |study| Study {
        leak: Leak::Laminar,
        ..study
    };
    let with_heat = |heat| Study { heat, ..told };
    let fast = |heat| Study {
        holes: FAST,
        heat,
        ..told
    };
    let settled = Exchange::Fixed {
        conductance: 0.35,
        excess: 0.0,
    };
    let settling = Exchange::Settling {
        time: 1.0,
        excess: 14.0,
    };
    vec![
        ("hole, isothermal and told so", told),
        ("hole, usual case", usual),
        ("hole, usual case, dial", dial),
        ("fine gap, usual case", gap(usual)),
        ("fine gap, usual case, dial", gap(dial)),
        ("hole, settling from 14 K in 1 s", with_heat(settling)),
        ("hole, drift of 0.3 K/min", drifting),
        ("hole, volume to 5 %", of_vague_volume),
        ("hole, rig subtracted", Study { rig: true, ..usual }),
        ("fast hole, hA 0.35 W/K, settled", fast(settled)),
        ("fast hole, heat as the priors", fast(Exchange::Drawn)),
        ("fast gap, heat as the priors", gap(fast(Exchange::Drawn))),
    ]
}

/// Standard deviation of the gas temperature when pumping stops \[K\]: half of what pumping without loss of heat does.
fn excess_allowance(start: f64) -> f64 {
    0.5 * WALL * ((1.0 + start / AMBIENT).powf(0.4 / 1.4) - 1.0)
}

/// Thermal conductance of a case of this volume \[W/K\], as the fit's prior has it.
fn usual_conductance(volume: f64, rng: &mut ChaCha8Rng) -> f64 {
    0.35 * (volume / 250e-6).powf(2.0 / 3.0) * (LN_CONDUCTANCE * normal(rng)).exp()
}

fn normal(rng: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(rng)
}
