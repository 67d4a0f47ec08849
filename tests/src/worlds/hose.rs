//! Two gas spaces at one pressure: the case, which leaks, and the hose, each with a wall and a conductance of its own.
//!
//! ```text
//! dp/dt V/(gamma-1) = Q1 + Q2 - cp out T_u             Q_i = hA_i (T_wi - T_i),  T_i = p V_i/(m_i R)
//! h cp T_h          = Q2 - dp/dt V2/(gamma-1)          h: mass flow from hose to case, T_h: of where it comes from
//! dm1/dt = h - out,   dm2/dt = -h
//! ```

use super::vessel::{Vessel, Wall, follow};

/// The hose beside a case.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hose {
    /// Its part of the volume under test, between 0 and 1.
    pub part: f64,
    /// Thermal conductance \[W/K\].
    pub conductance_w_per_k: f64,
    /// Its wall.
    pub wall: Wall,
    /// Gas temperature at time zero over its wall's \[K\].
    pub start_excess_k: f64,
}

/// Gauge pressures \[Pa\] at the given times \[s\], in their order, of a vessel of which a part is the hose: volume, leak and
/// surroundings are the vessel's, wall, conductance and start excess those of the case. The volume is rigid and the gauge without lag.
#[must_use]
pub fn gauge_at(vessel: &Vessel, hose: &Hose, times_s: &[f64]) -> Vec<f64> {
    let y = vessel.start_gauge_pa / vessel.ambient_pa;
    let mass = |part: f64, wall: Wall, excess: f64| {
        part * (1.0 + y) * vessel.ambient_k / (wall.at(0.0) + excess)
    };
    let start = [
        y,
        mass(1.0 - hose.part, vessel.wall, vessel.start_excess_k),
        mass(hose.part, hose.wall, hose.start_excess_k),
    ];
    let breaks = vessel.leak.change.map(|change| change.at_s);
    follow(
        times_s,
        start,
        (breaks, |time| vessel.leak.factor_at(time)),
        |time, factor, state| rates(vessel, hose, time, factor, state),
    )
    .into_iter()
    .map(|[y, _, _]| y * vessel.ambient_pa)
    .collect()
}

fn rates(
    vessel: &Vessel,
    hose: &Hose,
    time_s: f64,
    factor: f64,
    &[y, in_case, in_hose]: &[f64; 3],
) -> [f64; 3] {
    let temperature = |part: f64, mass: f64| (1.0 + y) * part / mass * vessel.ambient_k;
    let case_k = temperature(1.0 - hose.part, in_case);
    let hose_k = temperature(hose.part, in_hose);
    let out = factor * vessel.leak.flow_out(&vessel.surroundings(), y, case_k);
    let upstream_k = if out >= 0.0 { case_k } else { vessel.ambient_k };
    let cp = vessel.gas_r * vessel.gamma / (vessel.gamma - 1.0);
    let to_case_gas = vessel.conductance_w_per_k * (vessel.wall.at(time_s) - case_k);
    let to_hose_gas = hose.conductance_w_per_k * (hose.wall.at(time_s) - hose_k);
    // d(p V)/dt/(gamma - 1) [W].
    let gains = to_case_gas + to_hose_gas - cp * out * upstream_k;
    let surplus = to_hose_gas - hose.part * gains;
    let over_k = if surplus >= 0.0 { hose_k } else { case_k };
    let over = surplus / (cp * over_k);
    let per_mass = vessel.gas_r * vessel.ambient_k / (vessel.ambient_pa * vessel.volume_m3);
    [
        gains * (vessel.gamma - 1.0) / (vessel.ambient_pa * vessel.volume_m3),
        per_mass * (over - out),
        -per_mass * over,
    ]
}
