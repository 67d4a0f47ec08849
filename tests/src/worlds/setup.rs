//! An ordinary bench, drawn: what its sheet tells is true within what the sheet allows for.

use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use super::leak::Leak;
use super::told::Told;
use super::vessel::{Vessel, Wall};
use crate::simulator::{DRY_AIR_GAS_R, Instrument, Law, Thermal, Truth};

/// Stated ambient pressure \[Pa\], and what a sheet takes for its standard uncertainty.
const AMBIENT_PA: (f64, f64) = (101_300.0, 100.0);
/// Stated temperature \[K\], and what a sheet takes for its standard uncertainty.
const TEMPERATURE_K: (f64, f64) = (293.15, 1.0);
/// Relative standard uncertainty of the volume, which is stated.
const VOLUME_UNCERTAINTY: f64 = 0.03;
/// Standard deviation of the wall's drift \[K/s\]: what a sheet takes for granted, 0.1 K/min.
const DRIFT_K_PER_S: f64 = 0.1 / 60.0;
/// Usual conductance \[W/K\] of a case of this volume \[m3\], and the standard deviation of its logarithm, as a sheet takes it.
const CONDUCTANCE: (f64, f64, f64) = (0.35, 250e-6, 0.47);
/// Pascals of a psi.
pub(super) const PSI_PA: f64 = 6_894.757_293_168;
/// Ratio of specific heats of air.
pub(super) const GAMMA: f64 = 1.4;

/// Pressure or vacuum.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    /// Above ambient.
    Pressure,
    /// Below ambient.
    Vacuum,
}

impl Direction {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Pressure, Self::Vacuum];

    /// In a word.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Pressure => "pressure",
            Self::Vacuum => "vacuum",
        }
    }

    /// Of a gauge pressure.
    #[must_use]
    pub fn sign(self) -> f64 {
        match self {
            Self::Pressure => 1.0,
            Self::Vacuum => -1.0,
        }
    }
}

/// What reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GaugeKind {
    /// Shows 0.1 kPa, 24 readings.
    Digital,
    /// Half a psi from mark to mark, read to half of that, nine readings beside a stopwatch.
    Dial,
}

impl GaugeKind {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Digital, Self::Dial];

    /// In a word.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Digital => "digital",
            Self::Dial => "dial",
        }
    }

    /// Pascals of the unit that it shows.
    #[must_use]
    pub fn unit_pa(self) -> f64 {
        match self {
            Self::Digital => 1e3,
            Self::Dial => PSI_PA,
        }
    }

    /// A gauge as good as a sheet takes it that says no more than its step.
    #[must_use]
    pub fn instrument(self) -> Instrument {
        match self {
            Self::Digital => Instrument {
                resolution_pa: 100.0,
                noise_pa: 50.0,
                ..Instrument::PERFECT
            },
            Self::Dial => Instrument {
                resolution_pa: 0.25 * PSI_PA,
                noise_pa: 0.025 * PSI_PA,
                stopwatch_s: 0.15,
                ..Instrument::PERFECT
            },
        }
    }

    /// Readings a run.
    #[must_use]
    pub fn readings(self) -> usize {
        match self {
            Self::Digital => 24,
            Self::Dial => 9,
        }
    }
}

/// An ordinary bench: a hole, gas as pumping leaves it, a wall that drifts a little, a volume known to 3 %.
#[derive(Debug, Clone, PartialEq)]
pub struct Setup {
    /// What the sheet tells.
    pub told: Told,
    /// What is under test.
    pub vessel: Vessel,
    /// By how much of the adiabatic temperature change the gas is off the wall when the pump stops.
    pub adiabatic_part: f64,
    /// Part of the start pressure that an isothermal case would lose in the hold.
    pub loss: f64,
    /// Hold \[s\].
    pub hold_s: f64,
}

impl Setup {
    /// Draws one: 100 to 600 cm3, 30 to 70 kPa or -30 to -60 kPa, a hold of 60 to 120 s in which the needle loses 10 to 80 %.
    pub fn draw(direction: Direction, gauge: GaugeKind, rng: &mut ChaCha8Rng) -> Self {
        let stated = rng.random_range(100e-6..600e-6);
        let most = match direction {
            Direction::Pressure => 70e3,
            Direction::Vacuum => 60e3,
        };
        let start_gauge_pa = direction.sign() * rng.random_range(30e3..most);
        let hold_s = rng.random_range(60.0..120.0);
        let loss = rng.random_range(0.1..0.8);
        let volume_m3 = stated * (VOLUME_UNCERTAINTY * normal(rng)).exp();
        let ambient_k = TEMPERATURE_K.0 + TEMPERATURE_K.1 * normal(rng);
        let (usual, at_volume, spread) = CONDUCTANCE;
        let conductance =
            usual * (volume_m3 / at_volume).powf(2.0 / 3.0) * (spread * normal(rng)).exp();
        // Half of adiabatic is what the sheet takes for a standard deviation.
        let adiabatic_part = (0.5 * normal(rng).abs()).min(1.0);
        let setup = Self {
            told: Told {
                gauge,
                volume_m3: stated,
                volume_uncertainty_m3: VOLUME_UNCERTAINTY * stated,
                ambient_pa: AMBIENT_PA.0,
                temperature_k: TEMPERATURE_K.0,
            },
            vessel: Vessel {
                leak: Leak::hole(0.0),
                volume_m3,
                ambient_pa: AMBIENT_PA.0 + AMBIENT_PA.1 * normal(rng),
                ambient_k,
                gas_r: DRY_AIR_GAS_R,
                gamma: GAMMA,
                start_gauge_pa,
                start_excess_k: 0.0,
                conductance_w_per_k: conductance,
                wall: Wall::steady(ambient_k, DRIFT_K_PER_S * normal(rng)),
                elastic_per_pa: 0.0,
                creep: None,
                lag_s: 0.0,
            },
            adiabatic_part,
            loss,
            hold_s,
        };
        setup.with_start(start_gauge_pa)
    }

    /// The same from another start pressure \[Pa\], with the hole and the gas temperature that belong to it.
    #[must_use]
    pub fn with_start(mut self, gauge_pa: f64) -> Self {
        let ratio = 1.0 + gauge_pa / self.vessel.ambient_pa;
        let adiabatic = ratio.powf((GAMMA - 1.0) / GAMMA) - 1.0;
        self.vessel.start_gauge_pa = gauge_pa;
        self.vessel.start_excess_k = self.adiabatic_part * adiabatic * self.vessel.wall.settled_k;
        self.vessel.leak = Leak::hole(self.hole_m2());
        self
    }

    /// The same with another hold \[s\], and the hole that belongs to it.
    #[must_use]
    pub fn with_hold(mut self, seconds: f64) -> Self {
        self.hold_s = seconds;
        self.vessel.leak = Leak::hole(self.hole_m2());
        self
    }

    /// The hole \[m2\] through which an isothermal case loses its part of the start pressure in the hold.
    fn hole_m2(&self) -> f64 {
        // The time scales with one over the area.
        let tried = self.vessel.volume_m3 / self.hold_s * 1e-3;
        let truth = Truth {
            law: Law::Orifice { cd_area_m2: tried },
            thermal: Thermal::Isothermal,
            wall_drift_k_per_s: 0.0,
            ..self.truth()
        };
        let takes = truth.time_to_gauge((1.0 - self.loss) * self.vessel.start_gauge_pa);
        takes.map_or(f64::NAN, |takes| tried * takes / self.hold_s)
    }

    /// The bench as the simulator without anything untold has it, where its leak is a hole.
    #[must_use]
    pub fn truth(&self) -> Truth {
        let vessel = &self.vessel;
        Truth {
            law: Law::Orifice {
                cd_area_m2: vessel.leak.area_m2,
            },
            volume_m3: vessel.volume_m3,
            ambient_pa: vessel.ambient_pa,
            wall_temperature_k: vessel.wall.settled_k,
            gas_r: vessel.gas_r,
            gamma: vessel.gamma,
            start_gauge_pa: vessel.start_gauge_pa,
            thermal: Thermal::Lumped {
                ha_w_per_k: vessel.conductance_w_per_k,
                start_gas_temperature_k: vessel.wall.settled_k + vessel.start_excess_k,
            },
            wall_drift_k_per_s: vessel.wall.drift_k_per_s,
        }
    }

    /// Noted times of the readings \[s\], evenly over the hold, to the tenth.
    #[must_use]
    pub fn times_s(&self) -> Vec<f64> {
        let count = self.told.gauge.readings();
        (0..count)
            .map(|i| (10.0 * self.hold_s * i as f64 / (count - 1) as f64).round() / 10.0)
            .collect()
    }
}

pub(super) fn normal(rng: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(rng)
}
