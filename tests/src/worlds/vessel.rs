//! One gas space under test, with all that a bench may do to it: walls that cool, a volume that gives way, a gauge that lags.
//!
//! ```text
//! V      = V0 (1 + e g + x),        dx/dt = (c g - x)/tau                       g = p - p_a
//! dm/dt  = -out,                    T = p V/(m R)
//! dp/dt (V + gamma p V0 e) = (gamma-1) [-cp out T_u + hA (T_w - T)] - gamma p V0 dx/dt
//! dq/dt  = (g - q)/lag              what the gauge feels
//! T_w    = T_s + drift t + excess exp(-t/relaxation) + swing sin(2 pi t/period)
//! ```
//!
//! Air drawn in has the ambient temperature. At the start the rubber has not crept and the gauge feels what is there.

use super::leak::{Leak, Surroundings};
use crate::simulator::march;

/// Relative tolerance of a step; of 100 kPa that is 1e-5 Pa, far below the step of any gauge.
const TOLERANCE: f64 = 1e-10;

/// Temperature of a wall.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wall {
    /// Where it settles, but for the drift \[K\].
    pub settled_k: f64,
    /// Steady drift \[K/s\].
    pub drift_k_per_s: f64,
    /// Excess at time zero \[K\].
    pub excess_k: f64,
    /// Time in which the excess falls to 1/e \[s\].
    pub relaxation_s: f64,
    /// What a thermostat swings it by \[K\], and in what period \[s\].
    pub swing: (f64, f64),
}

impl Wall {
    /// A wall that settled and drifts.
    #[must_use]
    pub fn steady(settled_k: f64, drift_k_per_s: f64) -> Self {
        Self {
            settled_k,
            drift_k_per_s,
            excess_k: 0.0,
            relaxation_s: f64::INFINITY,
            swing: (0.0, f64::INFINITY),
        }
    }

    /// Temperature at a time \[K\].
    #[must_use]
    pub fn at(&self, time_s: f64) -> f64 {
        let excess = self.excess_k * (-time_s / self.relaxation_s).exp();
        let (swing, period) = self.swing;
        let swings = swing * (std::f64::consts::TAU * time_s / period).sin();
        self.settled_k + self.drift_k_per_s * time_s + excess + swings
    }
}

/// Rubber that gives way with time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Creep {
    /// Part of the volume per gauge pressure in the end \[1/Pa\].
    pub per_pa: f64,
    /// Time constant \[s\].
    pub time_s: f64,
}

/// A gas space under test.
#[derive(Debug, Clone, PartialEq)]
pub struct Vessel {
    /// The leak.
    pub leak: Leak,
    /// Volume at ambient pressure V0 \[m3\].
    pub volume_m3: f64,
    /// Ambient absolute pressure `p_a` \[Pa\].
    pub ambient_pa: f64,
    /// Ambient temperature \[K\].
    pub ambient_k: f64,
    /// Specific gas constant R \[J/(kg K)\].
    pub gas_r: f64,
    /// Ratio of specific heats gamma.
    pub gamma: f64,
    /// Gauge pressure at time zero \[Pa\].
    pub start_gauge_pa: f64,
    /// Gas temperature at time zero over the wall's \[K\].
    pub start_excess_k: f64,
    /// Thermal conductance hA \[W/K\].
    pub conductance_w_per_k: f64,
    /// The wall.
    pub wall: Wall,
    /// Part of the volume that a gauge pressure adds at once, e \[1/Pa\].
    pub elastic_per_pa: f64,
    /// What it adds with time.
    pub creep: Option<Creep>,
    /// Time constant of the gauge \[s\]; zero for none.
    pub lag_s: f64,
}

/// Gauge pressure over ambient, mass over that of ambient gas in the volume, creep, felt gauge pressure over ambient.
type State = [f64; 4];

impl Vessel {
    /// Gauge pressures \[Pa\] that a gauge without other faults shows at the given times \[s\], in their order.
    ///
    /// Before zero it shows the start pressure: a reading taken early sees the pump's last stroke end.
    #[must_use]
    pub fn gauge_at(&self, times_s: &[f64]) -> Vec<f64> {
        let felt = |[y, _, _, q]: State| if self.lag_s > 0.0 { q } else { y };
        let breaks = self.leak.change.map(|change| change.at_s);
        let rates = |time: f64, factor: f64, state: &State| self.rates(time, factor, state);
        follow(
            times_s,
            self.start(),
            (breaks, |time| self.leak.factor_at(time)),
            rates,
        )
        .into_iter()
        .map(|state| felt(state) * self.ambient_pa)
        .collect()
    }

    pub(super) fn surroundings(&self) -> Surroundings {
        Surroundings {
            ambient_pa: self.ambient_pa,
            ambient_k: self.ambient_k,
            gas_r: self.gas_r,
            gamma: self.gamma,
            start: self.start_gauge_pa / self.ambient_pa,
        }
    }

    fn start(&self) -> State {
        let y = self.start_gauge_pa / self.ambient_pa;
        let volume = 1.0 + self.elastic_per_pa * self.start_gauge_pa;
        let temperature = (self.wall.at(0.0) + self.start_excess_k) / self.ambient_k;
        [y, (1.0 + y) * volume / temperature, 0.0, y]
    }

    fn rates(&self, time_s: f64, factor: f64, &[y, mu, x, q]: &State) -> State {
        let gauge = y * self.ambient_pa;
        let volume = 1.0 + self.elastic_per_pa * gauge + x;
        let temperature = (1.0 + y) * volume / mu * self.ambient_k;
        let out = factor * self.leak.flow_out(&self.surroundings(), y, temperature);
        let upstream_k = if out >= 0.0 {
            temperature
        } else {
            self.ambient_k
        };
        let cp = self.gas_r * self.gamma / (self.gamma - 1.0);
        let heat = self.conductance_w_per_k * (self.wall.at(time_s) - temperature);
        let creeps = self
            .creep
            .map_or(0.0, |creep| (creep.per_pa * gauge - x) / creep.time_s);
        let per_volume = (self.gamma - 1.0) / (self.volume_m3 * self.ambient_pa);
        let stiffness = volume + self.gamma * (1.0 + y) * self.ambient_pa * self.elastic_per_pa;
        let dy = (per_volume * (heat - cp * out * upstream_k) - self.gamma * (1.0 + y) * creeps)
            / stiffness;
        let dmu = -out * self.gas_r * self.ambient_k / (self.ambient_pa * self.volume_m3);
        let dq = if self.lag_s > 0.0 {
            (y - q) / self.lag_s
        } else {
            0.0
        };
        [dy, dmu, creeps, dq]
    }
}

/// States at the given times, in their order, from the state at zero, which stands before it; `rates` gets the time and the leak's
/// factor.
///
/// The leak may change at one break, and the integration starts anew there.
pub(super) fn follow<const N: usize>(
    times_s: &[f64],
    start: [f64; N],
    (breaks, factor_at): (Option<f64>, impl Fn(f64) -> f64),
    rates: impl Fn(f64, f64, &[f64; N]) -> [f64; N],
) -> Vec<[f64; N]> {
    let mut ordered: Vec<(usize, f64)> = times_s.iter().copied().enumerate().collect();
    ordered.sort_by(|a, b| a.1.total_cmp(&b.1));
    let mut placed = Vec::with_capacity(times_s.len());
    let mut branch = |from: f64, to: f64, state: [f64; N], last: bool| -> [f64; N] {
        let here: Vec<(usize, f64)> = ordered
            .iter()
            .copied()
            .filter(|(_, time)| (from..to).contains(time))
            .collect();
        let mut targets: Vec<f64> = here.iter().map(|(_, time)| time - from).collect();
        if !last {
            targets.push(to - from);
        }
        // Just after the start of the branch, so that a change at its start counts.
        let factor = factor_at(from + f64::EPSILON * (1.0 + from));
        let states = march(
            TOLERANCE,
            |time, state: &[f64; N]| rates(from + time, factor, state),
            state,
            &targets,
            |_| false,
        );
        placed.extend(
            here.iter()
                .map(|(place, _)| *place)
                .zip(states.iter().copied()),
        );
        states.last().copied().unwrap_or(state)
    };
    match breaks {
        Some(at) => {
            let state = branch(0.0, at, start, false);
            branch(at, f64::INFINITY, state, true);
        }
        None => {
            branch(0.0, f64::INFINITY, start, true);
        }
    }
    let before = ordered.iter().filter(|(_, time)| *time < 0.0);
    placed.extend(before.map(|(place, _)| (*place, start)));
    placed.sort_by_key(|(place, _)| *place);
    placed.into_iter().map(|(_, state)| state).collect()
}
