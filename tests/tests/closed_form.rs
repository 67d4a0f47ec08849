//! The closed forms of an isothermal vessel against the independent simulator, over the whole envelope, and against
//! themselves where a law of scaling says what must come.
//!
//! Scales. A gauge pressure is compared as a part of the larger of ambient and the start's absolute pressure: the decay ends
//! as the square of the time that is left, so a last-digit error of a time or a coordinate is a first-order error of that
//! pressure and an unbounded one of the small gauge pressure itself. A thousand-millionth of a gauge step is what is then
//! allowed. What stays well-conditioned to the very end is the time at which a pressure is passed: it is compared relative
//! to itself, and so are the smallest pressures.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "test code")]

mod common;

use casetight::gas::{Gas, GasState};
use casetight::vessel::{IsothermalDecay, rate_per_area};
use casetight_tests::simulator::{Law, Thermal, Truth};
use proptest::prelude::*;

use common::{area, cubic_meters, gauge, seconds, state};

/// Agreement of closed form and integration: the integrator's tolerance of a step is 1e-13.
const INTEGRATED: f64 = 1e-11;
/// Agreement of two ways through the closed form: some roundings of numbers of order one.
const ROUNDED: f64 = 1e-12;

/// An orifice on an isothermal vessel, both as the simulator has it.
#[derive(Debug, Clone)]
struct Case {
    gamma: f64,
    gas_r: f64,
    ambient_pa: f64,
    temperature_k: f64,
    start_pa: f64,
    volume_m3: f64,
    area_m2: f64,
}

impl Case {
    fn gas(&self) -> Gas {
        Gas::new("perfect gas", self.gas_r, self.gamma).unwrap()
    }

    fn ambient(&self) -> GasState {
        state(self.ambient_pa, self.temperature_k)
    }

    fn decay(&self) -> IsothermalDecay {
        IsothermalDecay::new(
            area(self.area_m2),
            cubic_meters(self.volume_m3),
            gauge(self.start_pa),
            self.ambient(),
            &self.gas(),
        )
        .unwrap()
    }

    fn truth(&self) -> Truth {
        Truth {
            law: Law::Orifice {
                cd_area_m2: self.area_m2,
            },
            volume_m3: self.volume_m3,
            ambient_pa: self.ambient_pa,
            wall_temperature_k: self.temperature_k,
            gas_r: self.gas_r,
            gamma: self.gamma,
            start_gauge_pa: self.start_pa,
            thermal: Thermal::Isothermal,
            wall_drift_k_per_s: 0.0,
        }
    }

    /// The simulator's legs, each from a time on. The flow function bends where choking ends, and a step across costs the
    /// integrator four digits (seen against quadrature with 30 digits), so a choked start is followed to that pressure and
    /// from it anew: an isothermal vessel at one pressure has no other memory.
    fn legs(&self) -> (Truth, Option<(f64, Truth)>) {
        let first = self.truth();
        let ratio = self.gas().critical_pressure_ratio();
        let bend = self.ambient_pa
            * if self.start_pa > 0.0 {
                1.0 / ratio
            } else {
                ratio
            }
            - self.ambient_pa;
        let second = (bend.abs() < self.start_pa.abs()).then(|| {
            let reached = first.time_to_gauge(bend).unwrap();
            (
                reached,
                Truth {
                    start_gauge_pa: bend,
                    ..first.clone()
                },
            )
        });
        (first, second)
    }

    fn simulated_gauge_at(&self, time: f64) -> f64 {
        match self.legs() {
            (_, Some((from, second))) if time > from => second.gauge_at(&[time - from])[0],
            (first, _) => first.gauge_at(&[time])[0],
        }
    }

    fn simulated_time_to(&self, gauge_pa: f64) -> f64 {
        match self.legs() {
            (_, Some((from, second))) if gauge_pa.abs() < second.start_gauge_pa.abs() => {
                from + second.time_to_gauge(gauge_pa).unwrap()
            }
            (first, _) => first.time_to_gauge(gauge_pa).unwrap(),
        }
    }

    /// The larger of ambient and the start's absolute pressure.
    fn scale(&self) -> f64 {
        self.ambient_pa.max(self.ambient_pa + self.start_pa)
    }
}

/// Pressure tests up to 200 kPa and vacuum tests down to -95 kPa; 50 cm3 to 5 L; areas of holes from 5 um to 5 mm.
fn cases() -> impl Strategy<Value = Case> {
    (
        prop_oneof![Just(1.4), Just(5.0 / 3.0 - 1e-9), 1.1..1.67_f64],
        100.0..4200.0_f64,
        70e3..108e3_f64,
        250.0..330.0_f64,
        prop_oneof![
            1.0..200e3_f64,
            1e3..80e3_f64,
            -95e3..-1.0_f64,
            -60e3..-1e3_f64
        ],
        (50e-6_f64.ln()..5e-3_f64.ln()).prop_map(f64::exp),
        (2e-11_f64.ln()..2e-5_f64.ln()).prop_map(f64::exp),
    )
        .prop_map(
            |(gamma, gas_r, ambient_pa, temperature_k, start_pa, volume_m3, area_m2)| Case {
                gamma,
                gas_r,
                ambient_pa,
                temperature_k,
                // No vacuum is deeper than ambient: at most 98.5 % of it here.
                start_pa: start_pa.max(-0.985 * ambient_pa),
                volume_m3,
                area_m2,
            },
        )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(192))]

    /// Independent script (the simulator integrates the flow law by itself).
    #[test]
    fn gauge_pressures_are_the_simulators(case in cases(), parts in prop::collection::vec(0.0..1.4_f64, 1..8)) {
        let decay = case.decay();
        let end = decay.ends_after().unwrap().value;
        for part in parts {
            let time = part * end;
            let want = case.simulated_gauge_at(time);
            let got = decay.gauge_at(seconds(time)).pascals();
            prop_assert!(
                (got - want).abs() <= INTEGRATED * case.scale(),
                "at {part} of the end: {got}, simulated {want}"
            );
        }
    }

    /// Independent script: the time that a pressure is passed at, relative to itself, down to a millionth of the start.
    #[test]
    fn times_are_the_simulators(case in cases(), remaining in prop_oneof![0.0..0.999_f64, (1e-6_f64.ln()..0.0).prop_map(f64::exp)]) {
        let target = remaining * case.start_pa;
        let got = case.decay().time_to(gauge(target)).unwrap().value;
        let want = case.simulated_time_to(target);
        // Close to the start the time is a small difference of coordinates, which are rounded.
        let end = case.decay().ends_after().unwrap().value;
        prop_assert!((got - want).abs() <= INTEGRATED * want + 1e-15 * end, "{got} s, simulated {want} s");
    }

    /// Self-consistency: the needle falls all the time, and stays at ambient from the end on.
    #[test]
    fn the_needle_falls_and_then_rests(case in cases()) {
        let decay = case.decay();
        let end = decay.ends_after().unwrap().value;
        let at = |part: f64| decay.gauge_at(seconds(part * end)).pascals() / case.start_pa;
        prop_assert_eq!(at(-1.0).to_bits(), 1.0_f64.to_bits());
        prop_assert_eq!(at(0.0).to_bits(), 1.0_f64.to_bits());
        let mut before = 1.0;
        for i in 1..200 {
            let now = at(f64::from(i) / 200.0);
            prop_assert!(now < before && now > 0.0, "{now} after {before}, step {i}");
            before = now;
        }
        for part in [1.0 + 1e-9, 1.5, 1e6] {
            prop_assert!(at(part) == 0.0);
        }
        prop_assert!(decay.gauge_at(seconds(f64::MAX)).pascals() == 0.0);
        let passed = decay.time_to(gauge(0.0)).unwrap().value;
        prop_assert!((passed / end - 1.0).abs() <= ROUNDED);
    }

    /// Self-consistency: time and pressure undo each other.
    #[test]
    fn time_to_a_pressure_is_the_inverse_of_pressure_at_a_time(case in cases(), part in 1e-4..1.0_f64) {
        let decay = case.decay();
        let end = decay.ends_after().unwrap().value;
        let reached = decay.gauge_at(seconds(part * end));
        let back = decay.time_to(reached).unwrap().value;
        prop_assert!((back - part * end).abs() <= ROUNDED * end, "{back} of {end}");
        prop_assert!(decay.time_to(gauge(-reached.pascals())).is_none());
        prop_assert!(decay.time_to(gauge(1.01 * case.start_pa)).is_none());
    }

    /// Self-consistency: times scale as V/(CdA sqrt(R T)), and as nothing else; pressures scale with ambient.
    #[test]
    fn times_scale_with_volume_and_area(case in cases(), factor in 0.1..10.0_f64, remaining in 0.0..0.99_f64) {
        let time = |case: &Case| case.decay().time_to(gauge(remaining * case.start_pa)).unwrap().value;
        let whole = time(&case);
        let larger_hole = Case { area_m2: factor * case.area_m2, ..case.clone() };
        let larger_case = Case { volume_m3: factor * case.volume_m3, ..case.clone() };
        let lighter_gas = Case { gas_r: factor * case.gas_r, ..case.clone() };
        let higher_up = Case {
            ambient_pa: factor * case.ambient_pa,
            start_pa: factor * case.start_pa,
            ..case.clone()
        };
        let loose = 1e-11;
        prop_assert!((time(&larger_hole) * factor / whole - 1.0).abs() <= loose);
        prop_assert!((time(&larger_case) / factor / whole - 1.0).abs() <= loose);
        prop_assert!((time(&lighter_gas) * factor.sqrt() / whole - 1.0).abs() <= loose);
        prop_assert!((time(&higher_up) / whole - 1.0).abs() <= loose);
    }

    /// Self-consistency: the decay moves at the speed of the mass that leaks, V dp/dt = -R T mdot, by central differences.
    #[test]
    fn the_speed_is_that_of_the_leaking_mass(case in cases(), part in 0.01..0.95_f64) {
        use casetight::leak::{LeakLaw, Orifice};
        let decay = case.decay();
        let (time, step) = (part * decay.ends_after().unwrap().value, 1e-5 * decay.ends_after().unwrap().value);
        let at = |time: f64| decay.gauge_at(seconds(time)).pascals();
        let speed = (at(time + step) - at(time - step)) / (2.0 * step);
        let inside = decay.gauge_at(seconds(time)).absolute(case.ambient().pressure).unwrap();
        let inside = GasState { pressure: inside, ..case.ambient() };
        let (upstream, downstream, sign) = if case.start_pa > 0.0 {
            (inside, case.ambient().pressure, -1.0)
        } else {
            (case.ambient(), inside.pressure, 1.0)
        };
        let flow = Orifice::new(area(case.area_m2)).mass_flow(&case.gas(), upstream, downstream).value;
        let want = sign * case.gas_r * case.temperature_k * flow / case.volume_m3;
        // The difference's own error: rounding over the step, and the third derivative's share, which a bend at choking makes
        // first-order in the step.
        let scale = case.scale() / decay.ends_after().unwrap().value;
        prop_assert!((speed - want).abs() <= 1e-5 * want.abs() + 1e-8 * scale, "{speed}, by mass {want}");
    }

    /// Self-consistency: the straightened pressure is a straight line in time, zero at its end.
    #[test]
    fn the_straightened_pressure_is_a_straight_line(case in cases(), part in 0.0..1.0_f64) {
        let decay = case.decay();
        let end = decay.ends_after().unwrap().value;
        let straight = |part: f64| decay.straightened(decay.gauge_at(seconds(part * end))).unwrap();
        prop_assert!((straight(part) - (1.0 - part) * straight(0.0)).abs() <= ROUNDED * straight(0.0));
    }

    /// Self-consistency: a leak given as a rate is the same leak; none at all keeps its pressure.
    #[test]
    fn a_rate_is_an_area_on_a_volume(case in cases(), part in 0.0..1.2_f64) {
        let per_area = rate_per_area(cubic_meters(case.volume_m3), case.ambient(), &case.gas()).unwrap();
        let start = gauge(case.start_pa);
        let by_rate = IsothermalDecay::from_rate(per_area * case.area_m2, start, case.ambient(), &case.gas()).unwrap();
        let time = seconds(part * case.decay().ends_after().unwrap().value);
        prop_assert_eq!(by_rate.gauge_at(time), case.decay().gauge_at(time));
        let tight = IsothermalDecay::from_rate(0.0, start, case.ambient(), &case.gas()).unwrap();
        let kept = tight.gauge_at(seconds(1e9)).pascals();
        prop_assert!((kept - case.start_pa).abs() <= ROUNDED * case.start_pa.abs(), "{kept}");
        prop_assert!(tight.ends_after().is_none() && tight.time_to(gauge(0.5 * case.start_pa)).is_none());
    }
}

/// Self-consistency: a time that is no number leaves the needle where it was, and no pressure is NaN.
#[test]
fn times_that_are_no_numbers_have_the_starts_pressure() {
    let decay = Case {
        gamma: 1.4,
        gas_r: 287.055,
        ambient_pa: 101_325.0,
        temperature_k: 293.15,
        start_pa: 48e3,
        volume_m3: 250e-6,
        area_m2: 5e-9,
    }
    .decay();
    for time in [f64::NAN, f64::NEG_INFINITY, -1.0] {
        assert_eq!(decay.gauge_at(common::seconds_of_any(time)), gauge(48e3));
    }
    assert_eq!(
        decay.gauge_at(common::seconds_of_any(f64::INFINITY)),
        gauge(0.0)
    );
}
