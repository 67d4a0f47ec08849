//! The families: what the world does and the sheet does not mention.

use rand::RngExt;
use rand_chacha::ChaCha8Rng;

use super::hose::{self, Hose};
use super::leak::{Change, Leak, Shape};
use super::setup::{GaugeKind, PSI_PA, Setup, normal};
use super::told::Simulated;
use super::vessel::{Creep, Vessel, Wall};
use crate::simulator::Instrument;

/// Saturation pressure of water vapor at 40 C \[Pa\]. Source: from memory, steam tables.
const SATURATION_40_C_PA: f64 = 7_384.0;
/// Specific gas constant of water vapor \[J/(kg K)\], 8.314/0.018015.
const VAPOR_GAS_R: f64 = 461.5;
/// Specific heat of water vapor at constant pressure \[J/(kg K)\]. Source: from memory.
const VAPOR_CP: f64 = 1_870.0;

/// What the sheet does not mention.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Family {
    /// Nothing: gas as pumping leaves it, at most adiabatic, and warm after pumping up, cool after pumping down.
    Plain,
    /// Nothing: the gas is off the wall either way, volume and wall give way either way, as the silent sheet takes it. No bench does that,
    /// but by it the intervals are made.
    AsTold,
    /// The wall starts 5 to 30 K off ambient, of five runs four warmer, and settles with a time constant of 300 to 3000 s.
    WarmEngine,
    /// The volume grows with the gauge pressure, 1 to 6 % a bar.
    Elastic,
    /// The volume goes on growing by 0.2 to 0.8 % for each 50 kPa, with a time constant of 10 to 60 s.
    Creep,
    /// The gauge's zero is off by 0.5 to 2 kPa, either way.
    GaugeZero,
    /// The gauge follows with a time constant of 0.3 to 2 s.
    GaugeLag,
    /// The readings scatter by 1 to 3 steps of the gauge, each correlated with the one before by 0.6 to 0.95.
    Correlated,
    /// The leak lies between a hole and a fine gap: both beside each other, or a power law.
    BetweenLaws,
    /// A thin sharp-edged hole, whose coefficient follows the pressure ratio.
    SharpEdged,
    /// The leak's area follows the pressure: by 20 to 80 % of itself down to ambient, of four runs one the other way.
    Lip,
    /// The leak changes to at most half or to 2 to 5 times its area at a moment between a fifth and four fifths of the hold. True is any
    /// area between both.
    Film,
    /// The same, true is the area at the start only.
    FilmFromStart,
    /// One reading is noted wrongly: on a dial by one psi, on a digital gauge in one of its digits.
    Misread,
    /// Case and hose have walls of other temperatures, and the leak is fast.
    TwoTemperatures,
    /// Saturated air at 40 C.
    Humid,
    /// The gauge's scale is off by 1 to 2.5 % of full scale at full scale, so of any reading, either way.
    BadAccuracy,
    /// A start at 1 to 5 bar, or -60 to -90 kPa, with gas that has 30 to 100 % of the adiabatic temperature change to lose.
    HighPressure,
}

impl Family {
    /// All of them.
    pub const ALL: [Self; 18] = [
        Self::Plain,
        Self::AsTold,
        Self::WarmEngine,
        Self::Elastic,
        Self::Creep,
        Self::GaugeZero,
        Self::GaugeLag,
        Self::Correlated,
        Self::BetweenLaws,
        Self::SharpEdged,
        Self::Lip,
        Self::Film,
        Self::FilmFromStart,
        Self::Misread,
        Self::TwoTemperatures,
        Self::Humid,
        Self::BadAccuracy,
        Self::HighPressure,
    ];

    /// Its name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Plain => "plain",
            Self::AsTold => "as_told",
            Self::WarmEngine => "warm_engine",
            Self::Elastic => "elastic",
            Self::Creep => "creep",
            Self::GaugeZero => "gauge_zero",
            Self::GaugeLag => "gauge_lag",
            Self::Correlated => "correlated",
            Self::BetweenLaws => "between_laws",
            Self::SharpEdged => "sharp_edged",
            Self::Lip => "lip",
            Self::Film => "film",
            Self::FilmFromStart => "film_from_start",
            Self::Misread => "misread",
            Self::TwoTemperatures => "two_temperatures",
            Self::Humid => "humid",
            Self::BadAccuracy => "bad_accuracy",
            Self::HighPressure => "high_pressure",
        }
    }

    /// The family of a name.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|family| family.name() == name)
    }

    /// Simulates a run on a bench, changed by what the sheet does not mention.
    pub fn simulate(self, setup: &Setup, rng: &mut ChaCha8Rng) -> Simulated {
        match self {
            Self::Correlated => correlated(setup, rng),
            Self::Misread => misread(setup, rng),
            Self::TwoTemperatures => two_temperatures(setup, rng),
            Self::GaugeZero | Self::BadAccuracy => {
                let instrument = self.instrument(setup, rng);
                read(setup, instrument, &[], rng)
            }
            _ => {
                let setup = self.changed(setup, rng);
                read(&setup, setup.told.gauge.instrument(), &[], rng)
                    .with_area(self.area_m2(&setup.vessel.leak))
            }
        }
    }

    /// The bench with the change that the family makes to what is under test.
    fn changed(self, setup: &Setup, rng: &mut ChaCha8Rng) -> Setup {
        let mut changed = setup.clone();
        let vessel = &mut changed.vessel;
        match self {
            Self::WarmEngine => {
                let warm = either_way(0.8, rng);
                vessel.wall.excess_k = warm * rng.random_range(5.0..30.0);
                vessel.wall.relaxation_s = rng.random_range(300.0..3000.0);
            }
            Self::Elastic => vessel.elastic_per_pa = rng.random_range(0.01..0.06) / 1e5,
            Self::Creep => {
                vessel.creep = Some(Creep {
                    per_pa: rng.random_range(0.002..0.008) / 50e3,
                    time_s: rng.random_range(10.0..60.0),
                });
            }
            Self::GaugeLag => vessel.lag_s = rng.random_range(0.3..2.0),
            Self::BetweenLaws => vessel.leak.parts = between_laws(rng),
            Self::SharpEdged => vessel.leak = Leak::of(vessel.leak.area_m2, Shape::SharpEdged),
            Self::Lip => {
                let way = either_way(0.75, rng);
                let slope = way * rng.random_range(0.2..0.8);
                vessel.leak = Leak::of(vessel.leak.area_m2, Shape::Lip(slope));
            }
            Self::Film | Self::FilmFromStart => {
                vessel.leak.change = Some(film(setup.hold_s, rng));
            }
            Self::Humid => humid(&mut changed),
            Self::AsTold => {
                taken_for_granted(vessel, rng);
                changed.adiabatic_part = 0.5 * normal(rng);
                let start = changed.vessel.start_gauge_pa;
                return changed.with_start(start);
            }
            Self::HighPressure => {
                changed.adiabatic_part = rng.random_range(0.3..1.0);
                let start = if vessel.start_gauge_pa > 0.0 {
                    rng.random_range(1e5..5e5)
                } else {
                    rng.random_range(-90e3..-60e3)
                };
                return changed.with_start(start);
            }
            _ => {}
        }
        changed
    }

    fn instrument(self, setup: &Setup, rng: &mut ChaCha8Rng) -> Instrument {
        let way = either_way(0.5, rng);
        let mut instrument = setup.told.gauge.instrument();
        if self == Self::GaugeZero {
            instrument.offset_pa = way * rng.random_range(500.0..2000.0);
        } else {
            instrument.scale = 1.0 + way * rng.random_range(0.01..0.025);
        }
        instrument
    }

    /// Which areas may be called true.
    fn area_m2(self, leak: &Leak) -> (f64, f64) {
        let before = leak.area_m2;
        let after = leak.change.map_or(before, |change| before * change.factor);
        match self {
            Self::Film => (before.min(after), before.max(after)),
            _ => (before, before),
        }
    }
}

/// One with this probability, else minus one.
fn either_way(probability: f64, rng: &mut ChaCha8Rng) -> f64 {
    if rng.random_range(0.0..1.0) < probability {
        1.0
    } else {
        -1.0
    }
}

impl Simulated {
    fn with_area(self, area_m2: (f64, f64)) -> Self {
        Self { area_m2, ..self }
    }
}

/// Reads the gauge on a bench; `scatter` \[Pa\] is added to what is read, reading by reading.
fn read(setup: &Setup, instrument: Instrument, scatter: &[f64], rng: &mut ChaCha8Rng) -> Simulated {
    let vessel = &setup.vessel;
    read_of(
        setup,
        instrument,
        scatter,
        |times| vessel.gauge_at(times),
        rng,
    )
}

fn read_of(
    setup: &Setup,
    instrument: Instrument,
    scatter: &[f64],
    gauge_at: impl Fn(&[f64]) -> Vec<f64>,
    rng: &mut ChaCha8Rng,
) -> Simulated {
    let scattered = |times: &[f64]| {
        let mut gauges = gauge_at(times);
        for (gauge, by) in gauges.iter_mut().zip(scatter) {
            *gauge += by;
        }
        gauges
    };
    let area = setup.vessel.leak.area_m2;
    Simulated {
        told: setup.told,
        readings: instrument.read(scattered, &setup.times_s(), rng),
        area_m2: (area, area),
    }
}

/// A hole and a fine gap with 20 to 80 % of the flow at the start each, or a power law of an exponent between 0.5 and 1, on the
/// difference of the pressures or of their squares.
fn between_laws(rng: &mut ChaCha8Rng) -> Vec<(f64, Shape)> {
    let kind = rng.random_range(0.0..1.0);
    if kind < 0.5 {
        let share = rng.random_range(0.2..0.8);
        vec![(share, Shape::Orifice), (1.0 - share, Shape::Laminar)]
    } else {
        let exponent = rng.random_range(0.5..1.0);
        let shape = if kind < 0.75 {
            Shape::Squares(exponent)
        } else {
            Shape::Drop(exponent)
        };
        vec![(1.0, shape)]
    }
}

/// A film that closes or opens.
fn film(hold_s: f64, rng: &mut ChaCha8Rng) -> Change {
    let at_s = rng.random_range(0.2..0.8) * hold_s;
    let factor = if rng.random_range(0.0..1.0) < 0.5 {
        rng.random_range(0.0..0.5)
    } else {
        rng.random_range(2.0..5.0)
    };
    Change { at_s, factor }
}

/// A volume that stretches and creeps, and a wall off ambient, as a silent sheet takes it for possible: by 1.5 and 0.3 % a bar and by 3 K,
/// each one standard deviation either way.
fn taken_for_granted(vessel: &mut Vessel, rng: &mut ChaCha8Rng) {
    vessel.elastic_per_pa = 1.5e-7 * normal(rng);
    vessel.creep = Some(Creep {
        per_pa: 0.3e-7 * normal(rng),
        time_s: 30.0,
    });
    // What is told is the wall's temperature at the start.
    let warmth = 3.0 * normal(rng);
    vessel.wall.settled_k -= warmth;
    vessel.wall.excess_k = warmth;
    vessel.wall.relaxation_s = 300.0 * 10.0_f64.powf(rng.random_range(0.0..1.0));
}

/// Case, room and air at 40 C, which is told, and the air saturated at the higher of its pressures, which is not: nothing condenses.
fn humid(setup: &mut Setup) {
    let warmer = 313.15 - setup.told.temperature_k;
    setup.told.temperature_k += warmer;
    let vessel = &mut setup.vessel;
    vessel.ambient_k += warmer;
    vessel.wall.settled_k += warmer;
    let pressure = vessel.ambient_pa + vessel.start_gauge_pa.max(0.0);
    let moles = SATURATION_40_C_PA / pressure;
    (vessel.gas_r, vessel.gamma) = moist(moles, (vessel.gas_r, vessel.gamma));
}

/// Gas constant and ratio of specific heats of a dry gas with this mole fraction of water vapor.
pub(super) fn moist(moles: f64, (dry_r, dry_gamma): (f64, f64)) -> (f64, f64) {
    // Molar masses go as one over the gas constants.
    let (dry, vapor) = ((1.0 - moles) / dry_r, moles / VAPOR_GAS_R);
    let part = vapor / (dry + vapor);
    let gas_r = 1.0 / (dry + vapor);
    let dry_cp = dry_r * dry_gamma / (dry_gamma - 1.0);
    let cp = (1.0 - part) * dry_cp + part * VAPOR_CP;
    (gas_r, cp / (cp - gas_r))
}

/// Scatter of 1 to 3 steps, each of which remembers 60 to 95 % of the one before.
fn correlated(setup: &Setup, rng: &mut ChaCha8Rng) -> Simulated {
    let mut instrument = setup.told.gauge.instrument();
    let memory = rng.random_range(0.6..0.95);
    let spread = rng.random_range(1.0..3.0) * instrument.resolution_pa;
    instrument.noise_pa = 0.0;
    let scatter = remembering(memory, spread, setup.told.gauge.readings(), rng);
    read(setup, instrument, &scatter, rng)
}

/// A stationary series, `e_i = rho e_(i-1) + sqrt(1 - rho^2) N(0, spread)`.
pub(super) fn remembering(
    memory: f64,
    spread: f64,
    count: usize,
    rng: &mut ChaCha8Rng,
) -> Vec<f64> {
    let mut last = spread * normal(rng);
    (0..count)
        .map(|i| {
            if i > 0 {
                last = memory * last + (1.0 - memory * memory).sqrt() * spread * normal(rng);
            }
            last
        })
        .collect()
}

/// One reading of the run, noted wrongly.
fn misread(setup: &Setup, rng: &mut ChaCha8Rng) -> Simulated {
    let mut simulated = read(setup, setup.told.gauge.instrument(), &[], rng);
    let row = rng.random_range(0..simulated.readings.len());
    let way = either_way(0.5, rng);
    let (place, by) = (rng.random_range(0..6), rng.random_range(1..10));
    if let Some((_, gauge)) = simulated.readings.get_mut(row) {
        *gauge = match setup.told.gauge {
            GaugeKind::Dial => beside(*gauge, way * PSI_PA),
            GaugeKind::Digital => with_digit(*gauge, place, by),
        };
    }
    simulated
}

/// A reading one unit off; the other way where it would pass zero.
pub(super) fn beside(gauge: f64, by: f64) -> f64 {
    let read = gauge + by;
    if read * gauge < 0.0 { gauge - by } else { read }
}

/// A reading \[Pa\] that shows kPa to one decimal, with one of its digits replaced: `place` says which, counted round from the first,
/// `by` what is added to it modulo ten.
pub(super) fn with_digit(gauge: f64, place: usize, by: u32) -> f64 {
    let shown = format!("{:.1}", gauge.abs() / 1e3);
    let digits = shown.chars().filter(char::is_ascii_digit).count();
    let mut left = place % digits;
    let replaced: String = shown
        .chars()
        .map(|letter| match letter.to_digit(10) {
            Some(digit) if left == 0 => {
                left = digits;
                char::from_digit((digit + by) % 10, 10).unwrap_or(letter)
            }
            Some(_) => {
                left -= 1;
                letter
            }
            None => letter,
        })
        .collect();
    let kilopascals: f64 = replaced.parse().unwrap();
    (1e3 * kilopascals).copysign(gauge)
}

/// The case 2 to 15 K off the hose, of five runs four warmer; the hose 10 to 30 % of the volume, its gas settled three to eight times as
/// fast as the case's; a hold of 10 to 30 s.
fn two_temperatures(setup: &Setup, rng: &mut ChaCha8Rng) -> Simulated {
    let mut setup = setup.clone().with_hold(rng.random_range(10.0..30.0));
    let warm = either_way(0.8, rng);
    let part = rng.random_range(0.1..0.3);
    let faster = rng.random_range(3.0..8.0);
    let vessel: &mut Vessel = &mut setup.vessel;
    let hose = Hose {
        part,
        conductance_w_per_k: faster * part * vessel.conductance_w_per_k,
        wall: Wall::steady(vessel.ambient_k, 0.0),
        start_excess_k: vessel.start_excess_k,
    };
    vessel.conductance_w_per_k *= 1.0 - part;
    vessel.wall.settled_k += warm * rng.random_range(2.0..15.0);
    let vessel = setup.vessel.clone();
    let gauge_at = |times: &[f64]| hose::gauge_at(&vessel, &hose, times);
    let instrument = setup.told.gauge.instrument();
    read_of(&setup, instrument, &[], gauge_at, rng)
}
