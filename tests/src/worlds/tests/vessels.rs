//! One gas space and two.

use super::*;
use crate::simulator::{Law, Thermal, Truth};
use crate::worlds::hose::{self, Hose};
use crate::worlds::leak::{Change, SHARP_EDGED, Shape, discharge_coefficient};
use crate::worlds::vessel::Creep;

/// Two integrations of the same equations, the looser to 1e-10 of ambient pressure a step \[Pa\].
const INTEGRATED: f64 = 1e-3;
/// The same where the other was integrated to 1e-9, with a hose that resists a little \[Pa\].
const SCRIPT: f64 = 0.05;
const TIMES_S: [f64; 6] = [0.0, 0.7, 3.0, 11.0, 30.0, 60.0];
const STARTS_PA: [f64; 4] = [400e3, 60e3, -50e3, -85e3];

fn truth(vessel: &Vessel, law: Law) -> Truth {
    Truth {
        law,
        volume_m3: vessel.volume_m3,
        ambient_pa: AMBIENT_PA,
        wall_temperature_k: AMBIENT_K,
        gas_r: DRY_AIR_GAS_R,
        gamma: GAMMA,
        start_gauge_pa: vessel.start_gauge_pa,
        thermal: Thermal::Lumped {
            ha_w_per_k: vessel.conductance_w_per_k,
            start_gas_temperature_k: AMBIENT_K + vessel.start_excess_k,
        },
        wall_drift_k_per_s: vessel.wall.drift_k_per_s,
    }
}

/// m cv/(hA) of a rigid vessel that does not leak \[s\].
fn settling_s(vessel: &Vessel) -> f64 {
    let start = AMBIENT_PA + vessel.start_gauge_pa;
    let temperature = vessel.wall.at(0.0) + vessel.start_excess_k;
    let capacity = start * vessel.volume_m3 / temperature / (GAMMA - 1.0);
    capacity / vessel.conductance_w_per_k
}

fn closed(start_gauge_pa: f64) -> Vessel {
    plain(start_gauge_pa, 0.0)
}

/// Self-consistency: all effects at no strength, the states that belong to them followed all the same.
#[test]
fn at_no_strength_it_is_the_plain_simulator() {
    for start in STARTS_PA {
        let mut vessel = plain(start, 3e-8);
        vessel.wall.drift_k_per_s = 0.01;
        vessel.wall.relaxation_s = 500.0;
        vessel.creep = Some(Creep {
            per_pa: 0.0,
            time_s: 20.0,
        });
        let want = truth(&vessel, Law::Orifice { cd_area_m2: 3e-8 }).gauge_at(&TIMES_S);
        assert_near(&vessel.gauge_at(&TIMES_S), &want, INTEGRATED);
        vessel.leak = Leak::of(3e-8, Shape::Lip(0.0));
        vessel.leak.change = Some(Change {
            at_s: 7.0,
            factor: 1.0,
        });
        assert_near(&vessel.gauge_at(&TIMES_S), &want, INTEGRATED);
        assert_near(&vessel.gauge_at(&[-0.2]), &[start], 1e-9);
    }
}

/// Self-consistency: a fine gap, and a gap beside a hole, of the same flow at the start.
#[test]
fn gaps_and_sums_are_those_of_the_plain_simulator() {
    for start in STARTS_PA {
        let mut vessel = plain(start, 3e-8);
        let of_orifice = truth(&vessel, Law::Laminar { c: 1.0 });
        let c = 3e-8 / of_orifice.law.orifice_area_at(&of_orifice);
        let gap = Law::Laminar { c };
        let half = Law::Orifice { cd_area_m2: 1.5e-8 };
        let both = Law::Sum(vec![half, gap.scaled(0.5)]);
        for (law, parts) in [
            (gap.clone(), vec![(1.0, Shape::Laminar)]),
            (gap, vec![(1.0, Shape::Squares(1.0))]),
            (both, vec![(0.5, Shape::Orifice), (0.5, Shape::Laminar)]),
        ] {
            vessel.leak.parts = parts;
            let want = truth(&vessel, law).gauge_at(&TIMES_S);
            assert_near(&vessel.gauge_at(&TIMES_S), &want, INTEGRATED);
        }
    }
}

/// Derived: T' = (T_w - T)/tau with T_w = T_s + a exp(-t/r) + d t, and p/T stays.
#[test]
fn without_a_leak_the_pressure_follows_the_wall() {
    for start in STARTS_PA {
        let mut vessel = closed(start);
        (vessel.wall.excess_k, vessel.wall.relaxation_s) = (25.0, 300.0);
        vessel.wall.drift_k_per_s = -0.02;
        let (tau, relaxation) = (settling_s(&vessel), vessel.wall.relaxation_s);
        let (drift, share) = (vessel.wall.drift_k_per_s, relaxation / (relaxation - tau));
        let first = vessel.wall.at(0.0) + vessel.start_excess_k;
        let steady = |t: f64| {
            let relaxing = vessel.wall.excess_k * share * (-t / relaxation).exp();
            AMBIENT_K + relaxing + drift * (t - tau)
        };
        let temperature = |t: f64| steady(t) + (first - steady(0.0)) * (-t / tau).exp();
        let want = TIMES_S.map(|t| (AMBIENT_PA + start) * temperature(t) / first - AMBIENT_PA);
        assert_near(&vessel.gauge_at(&TIMES_S), &want, INTEGRATED);
    }
}

/// Derived: mass and temperature in the end are those at the start and of the wall, p (1 + s (p - p_a)) = p0 (1 + e g0) T_w/T0, where
/// s is what gives way in the end and e what gave way at once.
#[test]
fn rubber_that_gives_way_keeps_the_mass() {
    let long = [2000.0];
    for start in [60e3, -50e3] {
        for (elastic, creep) in [(6e-7, 0.0), (0.0, 1.6e-7), (3e-7, 1.6e-7), (0.0, 0.0)] {
            let mut vessel = closed(start);
            vessel.elastic_per_pa = elastic;
            vessel.creep = Some(Creep {
                per_pa: creep,
                time_s: 40.0,
            });
            let first = AMBIENT_K + vessel.start_excess_k;
            let mass = (AMBIENT_PA + start) * (1.0 + elastic * start) * AMBIENT_K / first;
            let gives = elastic + creep;
            let linear = 1.0 - gives * AMBIENT_PA;
            let end = 2.0 * mass / (linear + (linear * linear + 4.0 * gives * mass).sqrt());
            assert_near(&vessel.gauge_at(&long), &[end - AMBIENT_PA], INTEGRATED);
        }
    }
}

/// Derived: without heat p V^gamma stays, and rubber that crept to rest holds V = V0 (1 + c g).
#[test]
fn rubber_that_creeps_without_heat_keeps_the_entropy() {
    let mut vessel = closed(60e3);
    vessel.conductance_w_per_k = 0.0;
    vessel.creep = Some(Creep {
        per_pa: 1.6e-7,
        time_s: 20.0,
    });
    let gauges = vessel.gauge_at(&[1.0, 1000.0]);
    let end = gauges[1];
    let kept = (AMBIENT_PA + end) * (1.0 + 1.6e-7 * end).powf(GAMMA);
    assert_near(&[kept], &[AMBIENT_PA + 60e3], INTEGRATED);
    // At first the volume grows by c g0/tau, and the pressure falls by gamma times as much: 1.4 161 kPa 0.0096/20 in a second.
    assert!((60e3 - gauges[0] - 108.0).abs() < 5.0, "{}", gauges[0]);
}

/// Derived: of a pressure g + a exp(-t/tau) a gauge with a lag l shows g + a (tau exp(-t/tau) - l exp(-t/l))/(tau - l).
#[test]
fn a_gauge_lags_behind_settling_gas() {
    let mut vessel = closed(60e3);
    vessel.lag_s = 1.7;
    let (tau, lag) = (settling_s(&vessel), vessel.lag_s);
    let end = (AMBIENT_PA + 60e3) * AMBIENT_K / (AMBIENT_K + 9.0) - AMBIENT_PA;
    let want = TIMES_S.map(|t| {
        let part = (tau * (-t / tau).exp() - lag * (-t / lag).exp()) / (tau - lag);
        end + (60e3 - end) * part
    });
    assert_near(&vessel.gauge_at(&TIMES_S), &want, INTEGRATED);
}

/// Self-consistency: a gauge whose lag is short shows what was there a lag ago.
#[test]
fn a_short_lag_is_a_short_delay() {
    let mut vessel = plain(60e3, 3e-8);
    let then = vessel.gauge_at(&[19.98, 39.98]);
    vessel.lag_s = 0.02;
    assert_near(&vessel.gauge_at(&[20.0, 40.0]), &then, 0.1);
}

/// Self-consistency: where time is in nothing but the leak, a leak of another area is the same course at another pace; a leak that
/// closed leaves the needle where it stands.
#[test]
fn a_film_changes_the_pace() {
    for start in [60e3, -50e3] {
        let mut vessel = plain(start, 3e-8);
        vessel.conductance_w_per_k = 0.0;
        let same = vessel.gauge_at(&[4.0, 10.0, 10.0 + 2.5 * 3.0]);
        vessel.leak.change = Some(Change {
            at_s: 10.0,
            factor: 2.5,
        });
        assert_near(&vessel.gauge_at(&[4.0, 10.0, 13.0]), &same, INTEGRATED);
        vessel.leak.change = Some(Change {
            at_s: 10.0,
            factor: 0.0,
        });
        let stands = [same[0], same[1], same[1]];
        assert_near(&vessel.gauge_at(&[4.0, 10.0, 40.0]), &stands, INTEGRATED);
    }
}

/// From memory: the table's own values, and halfway between two; checked as flows over that of a hole of constant coefficient.
#[test]
fn a_sharp_edge_follows_its_table() {
    for (ratio, cd) in SHARP_EDGED {
        assert_near(&[discharge_coefficient(ratio)], &[cd], 1e-12);
    }
    assert_near(&[discharge_coefficient(0.85)], &[0.655], 1e-12);
    assert_near(&[discharge_coefficient(0.1)], &[0.84], 1e-12);
    // At 60 kPa x = 0.628, at 11.2583 kPa x = 0.9.
    let around = plain(60e3, 1e-8).surroundings();
    let y = 1.0 / 0.9 - 1.0;
    let flow = |shape| Leak::of(1e-8, shape).flow_out(&around, y, AMBIENT_K);
    let start = discharge_coefficient(AMBIENT_PA / (AMBIENT_PA + 60e3));
    let got = flow(Shape::SharpEdged) / flow(Shape::Orifice);
    assert_near(&[got], &[0.63 / start], 1e-12);
}

/// Derived: ratios of flows at a fifth of the start pressure to those at it, by hand.
#[test]
fn the_shapes_follow_the_pressure_as_they_say() {
    for start in [60e3, -50e3] {
        let around = plain(start, 1e-8).surroundings();
        let ratio_of = |shape| {
            let leak = Leak::of(1e-8, shape);
            let at = |y| leak.flow_out(&around, y, AMBIENT_K);
            at(0.2 * around.start) / at(around.start)
        };
        let y = around.start;
        let squares = 0.2 * (2.0 + 0.2 * y) / (2.0 + y);
        let upstream = (1.0 + 0.2 * y.max(0.0)) / (1.0 + y.max(0.0));
        for (shape, want) in [
            (Shape::Squares(0.7), squares.powf(0.7)),
            (Shape::Drop(0.7), upstream * 0.2_f64.powf(0.7)),
            (Shape::Lip(0.5), 0.6 * ratio_of(Shape::Orifice)),
            (Shape::Lip(-0.5), 1.4 * ratio_of(Shape::Orifice)),
            (Shape::Lip(2.0), 0.0),
        ] {
            // The rounding at ambient is 1e-11 of it here.
            assert_near(&[ratio_of(shape)], &[want], 1e-9);
        }
    }
}

/// Independent script: SciPy 1's DOP853 at 1e-12 on mass and energy, dU = h + Q - p dV and p V = (gamma - 1) U with V(p) solved as a
/// quadratic; 20 nm2 whose area follows the pressure, a hose that stretches and creeps, a warm wall that drifts, a gauge that lags.
#[test]
fn all_effects_together_give_the_scripts_values() {
    for (start, slope, want) in [
        (55e3, 0.4, [42_515.668_01, 20_670.775_42, 11_553.457_54]),
        (-45e3, -0.4, [-36_572.867_75, -11_841.878_16, -1_782.919_70]),
    ] {
        let mut vessel = plain(start, 0.0);
        vessel.leak = Leak::of(2e-8, Shape::Lip(slope));
        vessel.elastic_per_pa = 3e-7;
        vessel.creep = Some(Creep {
            per_pa: 1e-7,
            time_s: 25.0,
        });
        vessel.wall = Wall {
            excess_k: 12.0,
            relaxation_s: 400.0,
            ..Wall::steady(AMBIENT_K, 0.002)
        };
        vessel.lag_s = 1.2;
        assert_near(&vessel.gauge_at(&[5.0, 20.0, 30.0]), &want, 0.01);
    }
}

/// Independent script: SciPy's Radau on mass and energy of either space, joined by a wide resistance (100 kg/s for each p_a).
#[test]
fn case_and_hose_give_the_scripts_values() {
    for (start, want) in [
        (55e3, [46_197.665, 32_526.384, 15_917.803]),
        (-45e3, [-40_063.232, -30_378.977, -15_686.371]),
    ] {
        let mut vessel = plain(start, 3e-8);
        vessel.conductance_w_per_k = 0.3;
        vessel.wall = Wall::steady(303.15, 0.0);
        vessel.start_excess_k = 12.0_f64.copysign(start);
        let hose = Hose {
            part: 0.2,
            conductance_w_per_k: 0.25,
            wall: Wall::steady(AMBIENT_K, 0.0),
            start_excess_k: vessel.start_excess_k,
        };
        let got = hose::gauge_at(&vessel, &hose, &[1.0, 5.0, 12.0]);
        assert_near(&got, &want, SCRIPT);
    }
}

/// Derived: in the end p (V1/T1 + V2/T2) is what it was.
#[test]
fn case_and_hose_without_a_leak_keep_the_mass() {
    let mut vessel = closed(60e3);
    vessel.wall = Wall::steady(310.0, 0.0);
    let hose = Hose {
        part: 0.3,
        conductance_w_per_k: 0.2,
        wall: Wall::steady(290.0, 0.0),
        start_excess_k: 3.0,
    };
    let cold = |case: f64, hose: f64| 0.7 / case + 0.3 / hose;
    let end = (AMBIENT_PA + 60e3) * cold(319.0, 293.0) / cold(310.0, 290.0) - AMBIENT_PA;
    assert_near(
        &hose::gauge_at(&vessel, &hose, &[500.0]),
        &[end],
        INTEGRATED,
    );
}

/// Self-consistency: a hose of the case's temperature and of its share of the conductance is a part of the case while gas leaves; what
/// comes in stays in the case, so there only a hose without volume is.
#[test]
fn a_hose_like_the_case_is_a_part_of_it() {
    for (start, part) in [(60e3, 0.3), (-50e3, 1e-7)] {
        let whole = plain(start, 3e-8);
        let want = whole.gauge_at(&TIMES_S);
        let mut case = whole.clone();
        case.conductance_w_per_k *= 1.0 - part;
        let hose = Hose {
            part,
            conductance_w_per_k: part * whole.conductance_w_per_k,
            wall: whole.wall,
            start_excess_k: whole.start_excess_k,
        };
        assert_near(&hose::gauge_at(&case, &hose, &TIMES_S), &want, 0.01);
    }
}
