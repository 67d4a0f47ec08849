//! The simulators against closed forms, an independent script and the plain simulator; the families at no strength; the counts.

mod families;
mod rows;
mod vessels;

use super::leak::Leak;
use super::vessel::{Vessel, Wall};
use crate::simulator::DRY_AIR_GAS_R;

const AMBIENT_PA: f64 = 101_325.0;
const AMBIENT_K: f64 = 293.15;
const GAMMA: f64 = 1.4;

/// A case of 250 cm3 and 0.35 W/K without anything untold.
fn plain(start_gauge_pa: f64, area_m2: f64) -> Vessel {
    Vessel {
        leak: Leak::hole(area_m2),
        volume_m3: 250e-6,
        ambient_pa: AMBIENT_PA,
        ambient_k: AMBIENT_K,
        gas_r: DRY_AIR_GAS_R,
        gamma: GAMMA,
        start_gauge_pa,
        start_excess_k: 9.0_f64.copysign(start_gauge_pa),
        conductance_w_per_k: 0.35,
        wall: Wall::steady(AMBIENT_K, 0.0),
        elastic_per_pa: 0.0,
        creep: None,
        lag_s: 0.0,
    }
}

#[track_caller]
fn assert_near(got: &[f64], want: &[f64], within: f64) {
    assert_eq!(got.len(), want.len());
    for (got, want) in got.iter().zip(want) {
        assert!((got - want).abs() <= within, "{got}, not {want}");
    }
}
