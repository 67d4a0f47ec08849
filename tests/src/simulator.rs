//! Pressure and vacuum tests simulated from the equations, independent of the library under test.
//!
//! A vessel of volume V at absolute pressure p and gas temperature T leaks to or from ambient (`p_a`, `T_a`):
//!
//! ```text
//! orifice   mdot = CdA p_u/sqrt(R T_u) Psi(x),                     x = p_d/p_u
//!           Psi  = sqrt(2/beta (x^(2/gamma) - x^((gamma+1)/gamma))), x > x*,   beta = (gamma-1)/gamma
//!           Psi* = sqrt(gamma) (2/(gamma+1))^((gamma+1)/(2(gamma-1))),  x <= x* = (2/(gamma+1))^(1/beta)
//! laminar   mdot = c (p_u^2 - p_d^2)/(R T_u)
//! power     mdot = c (p_u - p_d)^n (p_u + p_d)/(2 R T_u)
//! vessel    dp/dt      = (R/V) [gamma (in T_a - out T) + hA (T_w - T)/cv]
//!           m cv dT/dt = in (cp T_a - cv T) - out R T + hA (T_w - T),   m = p V/(R T)
//! isothermal dp/dt     = (R T_w/V) (in - out) + p (dT_w/dt)/T_w
//! ```
//!
//! At ambient the orifice law is a square root and the decay ends in finite time. Where nothing but the leak moves the
//! pressure (isothermal without drift, or adiabatic) the state is `w = sqrt(|p - p_a|/p_a)`, which passes straight through
//! zero: the end is exact, and the gauge stays at ambient after it. Where heat also moves the pressure, the gauge may pass
//! through ambient and come back; then the state is the gauge itself, and the square root is rounded off within
//! [`SMOOTHING_PA`] of ambient.
//!
//! The integrator is the eighth-order Dormand-Prince method of the crate `differential-equations`, stepped so that it lands
//! on each requested time. The crate's own interpolation between steps is not used: at version 0.7.0 it is four orders
//! of magnitude less accurate than its steps.
//!
//! Everything is plain `f64` in SI units.

use differential_equations::ode::{ODE, OrdinaryNumericalMethod};
use differential_equations::prelude::{ExplicitRungeKutta, Status};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;

/// Specific gas constant of dry air \[J/(kg K)\], the value that the golden times were computed with.
pub const DRY_AIR_GAS_R: f64 = 287.052_87;

/// Half-width of the rounded square root about ambient, where heat moves the pressure too \[Pa\].
///
/// Far below the step of any gauge in use. At a gauge pressure g the flow is low by the fraction `(SMOOTHING_PA/g)^2/4`; a
/// smaller width makes the settled end stiffer, and the simulation slower by one over its square root.
pub const SMOOTHING_PA: f64 = 0.1;

/// Relative tolerance of a step.
const RELATIVE_TOLERANCE: f64 = 1e-13;
/// Absolute tolerance of a step over the relative one, on states of order one.
const ABSOLUTE_PART: f64 = 0.01;
/// Steps after which a simulation is taken to have failed.
const MAX_STEPS: usize = 2_000_000;
/// Part of the whole interval within which a requested point counts as reached; the integrator refuses smaller steps.
const LANDING: f64 = 2e-14;

/// Which way the leak goes and through what: mass flow from the pressures and temperature up- and downstream.
#[derive(Debug, Clone, PartialEq)]
pub enum Law {
    /// Isentropic orifice.
    Orifice {
        /// Effective area `CdA` \[m2\].
        cd_area_m2: f64,
    },
    /// Laminar capillary or slot: `mdot = c (p_u^2 - p_d^2)/(R T_u)`.
    Laminar {
        /// Coefficient c \[m3/(s Pa)\]: pi r^4/(16 mu L) for a capillary, w h^3/(24 mu L) for a slot.
        c: f64,
    },
    /// Power law of the volume flow at the mean pressure: `mdot = c dp^n (p_u + p_d)/(2 R T_u)`, never choked.
    Power {
        /// Coefficient c \[m3/(s Pa^n)\].
        c: f64,
        /// Exponent n.
        n: f64,
    },
    /// Laws in parallel.
    Sum(Vec<Law>),
}

/// Exchange of heat between the gas and the wall.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Thermal {
    /// The gas is always at the wall's temperature.
    Isothermal,
    /// No heat passes; the gas starts at the wall's temperature.
    Adiabatic,
    /// One conductance between a well-mixed gas and the wall.
    Lumped {
        /// Thermal conductance hA \[W/K\].
        ha_w_per_k: f64,
        /// Gas temperature at time zero \[K\].
        start_gas_temperature_k: f64,
    },
}

/// A simulated test: the vessel, its leak and its surroundings.
///
/// Air drawn in has the temperature that the wall has at time zero.
///
/// ```
/// use casetight_tests::simulator::{DRY_AIR_GAS_R, Law, Thermal, Truth};
///
/// let truth = Truth {
///     law: Law::Orifice { cd_area_m2: 5e-8 },
///     volume_m3: 250e-6,
///     ambient_pa: 101_325.0,
///     wall_temperature_k: 293.15,
///     gas_r: DRY_AIR_GAS_R,
///     gamma: 1.4,
///     start_gauge_pa: 70e3,
///     thermal: Thermal::Isothermal,
///     wall_drift_k_per_s: 0.0,
/// };
/// let gauge_pa = truth.gauge_at(&[6.041_213_028_71, 60.0]);
/// assert!((gauge_pa[0] - 35e3).abs() < 1e-4);
/// assert_eq!(gauge_pa[1], 0.0);
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Truth {
    /// The leak.
    pub law: Law,
    /// Volume under test V \[m3\].
    pub volume_m3: f64,
    /// Ambient absolute pressure `p_a` \[Pa\].
    pub ambient_pa: f64,
    /// Wall temperature at time zero, and ambient temperature \[K\].
    pub wall_temperature_k: f64,
    /// Specific gas constant R \[J/(kg K)\].
    pub gas_r: f64,
    /// Ratio of specific heats gamma.
    pub gamma: f64,
    /// Gauge pressure at time zero \[Pa\]; negative for a vacuum test.
    pub start_gauge_pa: f64,
    /// Heat between gas and wall.
    pub thermal: Thermal,
    /// Rate of change of the wall's temperature \[K/s\].
    pub wall_drift_k_per_s: f64,
}

/// State of the gas in the vessel at one moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GasState {
    /// Gauge pressure \[Pa\].
    pub gauge_pa: f64,
    /// Gas temperature \[K\].
    pub temperature_k: f64,
}

impl Truth {
    /// True gauge pressures \[Pa\] at the given times \[s\], in their order.
    ///
    /// A time shortly before zero (a reading taken early) is the same decay followed backward; where heat moves the
    /// pressure too, a straight line with the rates at zero, for heat does not flow backward.
    ///
    /// # Panics
    /// If a time is not finite, or the equations can't be followed that far.
    #[must_use]
    pub fn gauge_at(&self, times_s: &[f64]) -> Vec<f64> {
        self.states_at(times_s)
            .into_iter()
            .map(|state| state.gauge_pa)
            .collect()
    }

    /// Gauge pressures and gas temperatures at the given times \[s\], in their order.
    ///
    /// # Panics
    /// If a time is not finite, or the equations can't be followed that far.
    #[must_use]
    pub fn states_at(&self, times_s: &[f64]) -> Vec<GasState> {
        let mut ordered: Vec<(usize, f64)> = times_s.iter().copied().enumerate().collect();
        if let Some((place, time)) = ordered.iter().find(|(_, time)| !time.is_finite()) {
            panic!("time {place} is {time}, not a finite number of seconds");
        }
        ordered.sort_by(|a, b| a.1.abs().total_cmp(&b.1.abs()));
        let (before, after): (Vec<_>, Vec<_>) =
            ordered.into_iter().partition(|(_, time)| *time < 0.0);

        let mut placed = Vec::with_capacity(times_s.len());
        for branch in [before, after] {
            let times: Vec<f64> = branch.iter().map(|(_, time)| *time).collect();
            let places = branch.into_iter().map(|(place, _)| place);
            placed.extend(places.zip(self.follow(&times)));
        }
        placed.sort_by_key(|(place, _)| *place);
        placed.into_iter().map(|(_, state)| state).collect()
    }

    /// Time \[s\] at which the gauge reaches `gauge_pa`, by integrating time and temperature over the pressure.
    ///
    /// A second route, for tests where nothing but the leak moves the pressure (isothermal without wall drift, or
    /// adiabatic). `None` for other tests, for a target that the decay doesn't pass, and for ambient itself where the law
    /// has a laminar part only (never reached).
    ///
    /// # Panics
    /// If the equations can't be followed to the target.
    #[must_use]
    pub fn time_to_gauge(&self, gauge_pa: f64) -> Option<f64> {
        let passed = gauge_pa * self.start_gauge_pa >= 0.0
            && gauge_pa.abs() <= self.start_gauge_pa.abs()
            && (gauge_pa != 0.0 || self.law.ends());
        if !self.leak_alone() || !passed {
            return None;
        }
        let start = self.start_root();
        let goal = (gauge_pa / self.ambient_pa).abs().sqrt();
        if goal >= start {
            return Some(0.0);
        }
        let temperature = self.start_temperature();
        let first_rate = self.root_rates(start, temperature)[0].abs();
        if first_rate == 0.0 {
            return None;
        }
        // Time in units of the first rate, so that both states are of order one.
        let unit = start / first_rate;
        let rates = |travel: f64, state: &[f64; 2]| {
            let [dw_dt, dtemperature_dt] = self.root_rates(start - travel, state[1] * temperature);
            [
                -1.0 / (dw_dt * unit),
                -dtemperature_dt / (dw_dt * temperature),
            ]
        };
        march(
            RELATIVE_TOLERANCE,
            rates,
            [0.0, 1.0],
            &[start - goal],
            |_| false,
        )
        .last()
        .map(|state| state[0] * unit)
    }

    /// Mass flow out of the vessel \[kg/s\] at a state, negative when the leak goes in.
    #[must_use]
    pub fn mass_flow_out(&self, state: GasState) -> f64 {
        let y = state.gauge_pa / self.ambient_pa;
        self.flow_out(y, state.temperature_k, y.abs().sqrt(), y.abs())
    }

    /// Whether the leak alone moves the pressure.
    fn leak_alone(&self) -> bool {
        match self.thermal {
            Thermal::Isothermal => self.wall_drift_k_per_s == 0.0,
            Thermal::Adiabatic => true,
            Thermal::Lumped { .. } => false,
        }
    }

    fn start_temperature(&self) -> f64 {
        match self.thermal {
            Thermal::Lumped {
                start_gas_temperature_k,
                ..
            } => start_gas_temperature_k,
            Thermal::Isothermal | Thermal::Adiabatic => self.wall_temperature_k,
        }
    }

    /// `w = sqrt(|p - p_a|/p_a)` at time zero.
    fn start_root(&self) -> f64 {
        (self.start_gauge_pa / self.ambient_pa).abs().sqrt()
    }

    /// States at times of one sign, in order of distance from zero.
    fn follow(&self, times_s: &[f64]) -> Vec<GasState> {
        let temperature = self.start_temperature();
        if self.leak_alone() {
            let rates = |_: f64, state: &[f64; 2]| {
                let [dw_dt, dtemperature_dt] = self.root_rates(state[0], state[1] * temperature);
                [dw_dt, dtemperature_dt / temperature]
            };
            let at_rest = |state: &[f64; 2]| state[0] <= 0.0;
            march(
                RELATIVE_TOLERANCE,
                rates,
                [self.start_root(), 1.0],
                times_s,
                at_rest,
            )
            .into_iter()
            .map(|[w, theta]| GasState {
                gauge_pa: self.start_gauge_pa.signum() * w.max(0.0).powi(2) * self.ambient_pa,
                temperature_k: theta * temperature,
            })
            .collect()
        } else {
            let rates = |time: f64, state: &[f64; 2]| {
                let [dy_dt, dtemperature_dt] =
                    self.gauge_rates(time, state[0], state[1] * temperature);
                [dy_dt, dtemperature_dt / temperature]
            };
            let start = [self.start_gauge_pa / self.ambient_pa, 1.0];
            let states = if times_s.last().is_some_and(|time| *time < 0.0) {
                let [dy_dt, dtheta_dt] = rates(0.0, &start);
                times_s
                    .iter()
                    .map(|time| [start[0] + dy_dt * time, start[1] + dtheta_dt * time])
                    .collect()
            } else {
                march(RELATIVE_TOLERANCE, rates, start, times_s, |_| false)
            };
            states
                .into_iter()
                .map(|[y, theta]| GasState {
                    gauge_pa: y * self.ambient_pa,
                    temperature_k: theta * temperature,
                })
                .collect()
        }
    }

    /// dw/dt \[1/s\] and dT/dt \[K/s\] where the leak alone moves the pressure. Both stay regular through w = 0.
    fn root_rates(&self, w: f64, temperature_k: f64) -> [f64; 2] {
        let y = self.start_gauge_pa.signum() * w * w;
        // The flow divided by w: the orifice's square root cancels.
        let out_per_w = self.flow_out(y, temperature_k, 1.0, w);
        let upstream_k = if y >= 0.0 {
            temperature_k
        } else {
            self.wall_temperature_k
        };
        let (exponent, dtemperature_dt) = match self.thermal {
            Thermal::Isothermal => (1.0, 0.0),
            Thermal::Adiabatic | Thermal::Lumped { .. } => (
                self.gamma,
                self.temperature_rate(y, temperature_k, out_per_w * w, 0.0),
            ),
        };
        let dw_dt = -exponent * self.gas_r * upstream_k * out_per_w.abs()
            / (2.0 * self.volume_m3 * self.ambient_pa);
        [dw_dt, dtemperature_dt]
    }

    /// d(p/`p_a`)/dt \[1/s\] and dT/dt \[K/s\] with heat from the wall.
    fn gauge_rates(&self, time_s: f64, y: f64, temperature_k: f64) -> [f64; 2] {
        let wall_k = self.wall_temperature_k + self.wall_drift_k_per_s * time_s;
        let width = SMOOTHING_PA / self.ambient_pa;
        let rounded_root = y.abs() / y.hypot(width).sqrt();
        let per_volume = self.gas_r / (self.volume_m3 * self.ambient_pa);
        match self.thermal {
            Thermal::Isothermal => {
                let out = self.flow_out(y, wall_k, rounded_root, y.abs());
                let drift = (1.0 + y) * self.wall_drift_k_per_s / wall_k;
                [-per_volume * wall_k * out + drift, self.wall_drift_k_per_s]
            }
            Thermal::Adiabatic | Thermal::Lumped { .. } => {
                let out = self.flow_out(y, temperature_k, rounded_root, y.abs());
                let upstream_k = if out >= 0.0 {
                    temperature_k
                } else {
                    self.wall_temperature_k
                };
                let heat_w = match self.thermal {
                    Thermal::Lumped { ha_w_per_k, .. } => ha_w_per_k * (wall_k - temperature_k),
                    Thermal::Isothermal | Thermal::Adiabatic => 0.0,
                };
                let cv = self.gas_r / (self.gamma - 1.0);
                [
                    per_volume * (-self.gamma * upstream_k * out + heat_w / cv),
                    self.temperature_rate(y, temperature_k, out, heat_w),
                ]
            }
        }
    }

    /// dT/dt \[K/s\] from the balance of energy.
    fn temperature_rate(&self, y: f64, temperature_k: f64, out: f64, heat_w: f64) -> f64 {
        let cv = self.gas_r / (self.gamma - 1.0);
        let cp = self.gamma * cv;
        let mass = self.ambient_pa * (1.0 + y) * self.volume_m3 / (self.gas_r * temperature_k);
        let carried = if out >= 0.0 {
            -out * self.gas_r * temperature_k
        } else {
            -out * (cp * self.wall_temperature_k - cv * temperature_k)
        };
        (carried + heat_w) / (mass * cv)
    }

    /// Mass flow out \[kg/s\] at gauge pressure y `p_a`, where `root` stands for sqrt(|y|) and `linear` for |y|.
    fn flow_out(&self, y: f64, temperature_k: f64, root: f64, linear: f64) -> f64 {
        let (sign, upstream_pa, upstream_k) = if y >= 0.0 {
            (1.0, self.ambient_pa * (1.0 + y), temperature_k)
        } else {
            (-1.0, self.ambient_pa, self.wall_temperature_k)
        };
        let per_orifice_area =
            upstream_pa / (self.gas_r * upstream_k).sqrt() * psi_per_root(y, self.gamma) * root;
        let mean = self.ambient_pa * (2.0 + y) / (self.gas_r * upstream_k);
        let per_laminar_c = self.ambient_pa * mean * linear;
        // root^(2 - 2n) linear^(2n - 1): |y|^n, less the same power of w as in the other laws.
        let per_power_c = |n: f64| {
            let of_difference = root.powf(2.0 - 2.0 * n) * linear.powf(2.0 * n - 1.0);
            0.5 * mean * self.ambient_pa.powf(n) * of_difference
        };
        sign * self
            .law
            .total(per_orifice_area, per_laminar_c, &per_power_c)
    }
}

impl Law {
    /// The same law with this many times the flow.
    #[must_use]
    pub fn scaled(&self, by: f64) -> Self {
        match self {
            Self::Orifice { cd_area_m2 } => Self::Orifice {
                cd_area_m2: by * cd_area_m2,
            },
            Self::Laminar { c } => Self::Laminar { c: by * c },
            Self::Power { c, n } => Self::Power { c: by * c, n: *n },
            Self::Sum(laws) => Self::Sum(laws.iter().map(|law| law.scaled(by)).collect()),
        }
    }

    /// Effective area \[m2\] of the orifice with the same flow at the start of a test, of gas at the wall's temperature.
    #[must_use]
    pub fn orifice_area_at(&self, truth: &Truth) -> f64 {
        let start = GasState {
            gauge_pa: truth.start_gauge_pa,
            temperature_k: truth.wall_temperature_k,
        };
        let flow = |law: Self| {
            let truth = Truth {
                law,
                ..truth.clone()
            };
            truth.mass_flow_out(start)
        };
        flow(self.clone()) / flow(Self::Orifice { cd_area_m2: 1.0 })
    }

    /// Sum over the law's parts of each coefficient times its flow.
    fn total(
        &self,
        per_orifice_area: f64,
        per_laminar_c: f64,
        per_power_c: &dyn Fn(f64) -> f64,
    ) -> f64 {
        match self {
            Law::Orifice { cd_area_m2 } => cd_area_m2 * per_orifice_area,
            Law::Laminar { c } => c * per_laminar_c,
            Law::Power { c, n } => c * per_power_c(*n),
            Law::Sum(parts) => parts
                .iter()
                .map(|part| part.total(per_orifice_area, per_laminar_c, per_power_c))
                .sum(),
        }
    }

    /// Whether the decay ends in finite time.
    fn ends(&self) -> bool {
        match self {
            Law::Orifice { cd_area_m2 } => *cd_area_m2 > 0.0,
            Law::Laminar { .. } => false,
            Law::Power { c, n } => *c > 0.0 && *n < 1.0,
            Law::Sum(parts) => parts.iter().any(Law::ends),
        }
    }
}

/// Flow function Psi(x) of the isentropic orifice at the pressure ratio x = `p_d/p_u` in [0, 1].
#[must_use]
pub fn flow_function(x: f64, gamma: f64) -> f64 {
    let y = x - 1.0;
    psi_per_root(y, gamma) * y.abs().sqrt()
}

/// Psi/sqrt(|y|) at the pressure ratio 1 + y or 1/(1 + y), whichever is below one; tends to sqrt(2) at y = 0.
pub(crate) fn psi_per_root(y: f64, gamma: f64) -> f64 {
    let beta = (gamma - 1.0) / gamma;
    // -ln x, exact to the last digits near equal pressures, as is expm1 below.
    let log_ratio = y.ln_1p().abs();
    let choked_log_ratio = f64::midpoint(gamma, 1.0).ln() / beta;
    if log_ratio >= choked_log_ratio {
        let critical =
            gamma.sqrt() * (2.0 / (gamma + 1.0)).powf((gamma + 1.0) / (2.0 * (gamma - 1.0)));
        return critical / y.abs().sqrt();
    }
    let drop_per_y = if y == 0.0 {
        beta
    } else {
        -(-beta * log_ratio).exp_m1() / y.abs()
    };
    (2.0 / beta * drop_per_y).sqrt() * (-log_ratio / gamma).exp()
}

/// States over an interval scaled to one.
struct Scaled<F> {
    rates: F,
    length: f64,
}

impl<F: Fn(f64, &[f64; N]) -> [f64; N], const N: usize> ODE<f64, [f64; N]> for Scaled<F> {
    fn diff(&self, part: f64, state: &[f64; N], derivative: &mut [f64; N]) {
        *derivative = (self.rates)(part * self.length, state).map(|rate| rate * self.length);
    }
}

/// States at `targets`, which lead away from zero, from the state at zero, each step within a relative tolerance.
///
/// Once `at_rest` holds after a step, that step's state stands for every target not yet reached.
pub(crate) fn march<const N: usize>(
    tolerance: f64,
    rates: impl Fn(f64, &[f64; N]) -> [f64; N],
    start: [f64; N],
    targets: &[f64],
    at_rest: impl Fn(&[f64; N]) -> bool,
) -> Vec<[f64; N]> {
    let Some(&length) = targets.last() else {
        return Vec::new();
    };
    if length == 0.0 || at_rest(&start) {
        return vec![start; targets.len()];
    }
    let ode = Scaled { rates, length };
    let mut solver = ExplicitRungeKutta::dop853()
        .rtol(tolerance)
        .atol(ABSOLUTE_PART * tolerance)
        .max_steps(MAX_STEPS);
    if let Err(error) = solver.init(&ode, 0.0, 1.0, &start) {
        panic!("the integration did not start: {error:?}");
    }
    let mut states = Vec::with_capacity(targets.len());
    for target in targets {
        let goal = target / length;
        loop {
            let left = goal - solver.t();
            if left <= LANDING {
                break;
            }
            let free = solver.h();
            let cut = free >= left;
            if cut {
                solver.set_h(left);
            }
            if let Err(error) = solver.step(&ode) {
                panic!("the integration stopped: {error:?}");
            }
            if matches!(solver.status(), Status::RejectedStep) {
                continue;
            }
            if at_rest(solver.y()) {
                states.resize(targets.len(), *solver.y());
                return states;
            }
            // A step shortened to land says nothing against the length that was due.
            if cut && solver.h() < free {
                solver.set_h(free);
            }
        }
        states.push(*solver.y());
    }
    states
}

/// What stands between the true pressure and the notebook: a gauge and a stopwatch.
///
/// `noted = round(scale gauge(time + N(0, stopwatch)) + offset + N(0, noise))`, rounded to the nearest step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Instrument {
    /// Step that readings are rounded to \[Pa\]; zero for none.
    pub resolution_pa: f64,
    /// Standard deviation of one reading's noise \[Pa\].
    pub noise_pa: f64,
    /// Zero error, in every reading alike \[Pa\].
    pub offset_pa: f64,
    /// Indicated over true.
    pub scale: f64,
    /// Standard deviation of the true moment of a reading about its noted time \[s\].
    pub stopwatch_s: f64,
}

impl Instrument {
    /// An instrument without any error.
    pub const PERFECT: Self = Self {
        resolution_pa: 0.0,
        noise_pa: 0.0,
        offset_pa: 0.0,
        scale: 1.0,
        stopwatch_s: 0.0,
    };

    /// Noted times \[s\] with the gauge pressures \[Pa\] noted beside them.
    ///
    /// `gauge_at` gives the true gauge pressures at the true moments, as [`Truth::gauge_at`] does.
    pub fn read(
        &self,
        gauge_at: impl Fn(&[f64]) -> Vec<f64>,
        times_s: &[f64],
        rng: &mut (impl Rng + ?Sized),
    ) -> Vec<(f64, f64)> {
        let mut normal = |sigma: f64| -> f64 {
            let deviate: f64 = StandardNormal.sample(rng);
            sigma * deviate
        };
        let moments: Vec<f64> = times_s
            .iter()
            .map(|time| time + normal(self.stopwatch_s))
            .collect();
        gauge_at(&moments)
            .into_iter()
            .zip(times_s)
            .map(|(truth, time)| {
                let shown = self.scale * truth + self.offset_pa + normal(self.noise_pa);
                let noted = if self.resolution_pa > 0.0 {
                    (shown / self.resolution_pa).round() * self.resolution_pa
                } else {
                    shown
                };
                (*time, noted)
            })
            .collect()
    }
}

/// The random numbers of one run of a study: the same for the same study seed and run, and independent between runs.
#[must_use]
pub fn run_rng(study_seed: u64, run: u64) -> ChaCha8Rng {
    let mut rng = ChaCha8Rng::seed_from_u64(study_seed);
    rng.set_stream(run);
    rng
}

/// Results of `runs` runs of a study, computed in parallel, in order of the run.
///
/// Each run gets its index and its own [`run_rng`], so the results don't depend on the number of threads.
pub fn study<R: Send>(
    study_seed: u64,
    runs: u64,
    simulate: impl Fn(u64, &mut ChaCha8Rng) -> R + Sync,
) -> Vec<R> {
    (0..runs)
        .into_par_iter()
        .map(|run| simulate(run, &mut run_rng(study_seed, run)))
        .collect()
}

#[cfg(test)]
mod tests;
