//! The simulator against published tables, worked examples, high-precision times and its own balances.

use std::f64::consts::PI;

use super::*;
use crate::table::{Row, Table};

const PSI_PA: f64 = 6_894.757_293_168;
const ATMOSPHERE_PA: f64 = 101_325.0;
const FOOT_M: f64 = 0.3048;
const INCH_M: f64 = 0.0254;
const POUND_KG: f64 = 0.453_592_37;

/// Relative tolerance of a time against the golden times: their 12 printed digits.
const GOLDEN_DIGITS: f64 = 1e-11;

fn critical_ratio(gamma: f64) -> f64 {
    (2.0 / (gamma + 1.0)).powf(gamma / (gamma - 1.0))
}

fn truth(start_gauge_pa: f64, thermal: Thermal) -> Truth {
    Truth {
        law: Law::Orifice { cd_area_m2: 5e-8 },
        volume_m3: 250e-6,
        ambient_pa: ATMOSPHERE_PA,
        wall_temperature_k: 293.15,
        gas_r: DRY_AIR_GAS_R,
        gamma: 1.4,
        start_gauge_pa,
        thermal,
        wall_drift_k_per_s: 0.0,
    }
}

fn lumped(start_gauge_pa: f64, ha_w_per_k: f64, start_gas_temperature_k: f64) -> Truth {
    truth(
        start_gauge_pa,
        Thermal::Lumped {
            ha_w_per_k,
            start_gas_temperature_k,
        },
    )
}

#[track_caller]
fn assert_close(got: f64, want: f64, relative: f64) {
    assert!(
        (got - want).abs() <= relative * want.abs(),
        "{got} is not within {relative} of {want}"
    );
}

/// Published: NACA Report 1135 (1953), Table I. Continuity: A/A* = Psi*/Psi(p/p0) below Mach 1.
#[test]
fn the_flow_function_gives_the_published_area_ratios() {
    let mut checked = 0;
    for row in Table::open("naca1135_isentropic.csv").rows() {
        let mach = row.number("mach");
        let temperature_ratio = 1.0 / (1.0 + 0.2 * mach * mach);
        let pressure_ratio = temperature_ratio.powf(3.5);
        let as_printed = |column: &str, got: f64| {
            let error = got - row.number(column);
            assert!(
                error.abs() <= row.half_unit(column) + 1e-12,
                "Mach {mach}, {column}: {got}"
            );
        };
        as_printed("t_over_t0", temperature_ratio);
        as_printed("p_over_p0", pressure_ratio);
        as_printed("rho_over_rho0", temperature_ratio.powf(2.5));
        if mach <= 1.0 {
            as_printed(
                "a_over_a_star",
                flow_function(0.0, 1.4) / flow_function(pressure_ratio, 1.4),
            );
            checked += 1;
        }
    }
    assert_eq!(checked, 11);
}

/// Published values and 12-digit values of the critical ratio and flow function.
#[test]
fn the_critical_values_are_the_published_ones() {
    for row in Table::open("critical_flow_function.csv").rows() {
        let gamma = row.number("gamma");
        let got = match row.text("quantity") {
            "critical_ratio" => critical_ratio(gamma),
            "critical_flow" => flow_function(0.0, gamma),
            "critical_flow_over_sqrt_r" => flow_function(0.0, gamma) / row.input("r").sqrt(),
            "critical_pressure_kpa" => critical_ratio(gamma) * row.input("p0_kpa"),
            "critical_temperature_k" => 2.0 / (gamma + 1.0) * row.input("t0_k"),
            other => panic!("unknown quantity {other}"),
        };
        assert!(
            (got - row.number("value")).abs() <= row.number("absolute_tolerance"),
            "{row:?}: {got}"
        );
    }
}

/// Self-consistency: Psi meets its critical value without a step and falls to zero as sqrt(2 (1 - x)).
#[test]
fn the_flow_function_is_continuous_at_both_ends() {
    for gamma in [1.289, 1.4, 5.0 / 3.0] {
        let edge = critical_ratio(gamma);
        assert_close(
            flow_function(edge * (1.0 + 1e-9), gamma),
            flow_function(0.0, gamma),
            1e-14,
        );
        assert_close(flow_function(1.0 - 1e-12, gamma), 2e-12_f64.sqrt(), 1e-4);
        assert_eq!(flow_function(1.0, gamma), 0.0);
    }
}

/// Independent script: golden times of 30-digit quadrature, by time over pressure.
#[test]
fn times_over_pressure_are_the_golden_times() {
    let mut checked = 0;
    for row in Table::open("golden_times.csv").rows() {
        for (thermal, column) in [
            (Thermal::Isothermal, "isothermal_s"),
            (Thermal::Adiabatic, "adiabatic_s"),
        ] {
            let case = truth(row.number("start_gauge_pa"), thermal);
            let time = case.time_to_gauge(row.number("end_gauge_pa")).unwrap();
            assert_close(time, row.number(column), GOLDEN_DIGITS);
            checked += 1;
        }
    }
    assert_eq!(checked, 18);
}

/// Independent script: the same golden times, by pressure over time.
#[test]
fn pressures_at_the_golden_times_are_the_golden_pressures() {
    for row in Table::open("golden_times.csv").rows() {
        let (start, end) = (row.number("start_gauge_pa"), row.number("end_gauge_pa"));
        for (thermal, column) in [
            (Thermal::Isothermal, "isothermal_s"),
            (Thermal::Adiabatic, "adiabatic_s"),
        ] {
            let golden = row.number(column);
            let step = 1e-6 * golden;
            let [at, after] = truth(start, thermal).gauge_at(&[golden, golden + step])[..] else {
                unreachable!()
            };
            let time = golden + (end - at) * step / (after - at);
            assert_close(time, golden, GOLDEN_DIGITS);
        }
    }
}

/// Self-consistency of three routes: a lumped vessel without conductance is adiabatic, with a large one isothermal.
#[test]
fn the_lumped_vessel_has_both_limits() {
    let times = [0.5, 2.0, 5.0, 8.0];
    for start in [70e3, -60e3] {
        let adiabatic = truth(start, Thermal::Adiabatic).states_at(&times);
        for (got, want) in lumped(start, 0.0, 293.15)
            .states_at(&times)
            .iter()
            .zip(&adiabatic)
        {
            assert_close(got.gauge_pa, want.gauge_pa, 1e-10);
            assert_close(got.temperature_k, want.temperature_k, 1e-11);
        }
        let isothermal = truth(start, Thermal::Isothermal).gauge_at(&times);
        let mut errors = Vec::new();
        for conductance in [20.0, 40.0] {
            let near = lumped(start, conductance, 293.15).gauge_at(&times);
            errors.push((near[2] - isothermal[2]) / isothermal[2]);
        }
        // The distance from the limit falls in proportion to 1/hA.
        assert!(errors[1].abs() < 3e-3, "{errors:?}");
        assert!((errors[0] / errors[1] - 2.0).abs() < 0.05, "{errors:?}");
    }
}

/// Self-consistency: an adiabatic discharge is isentropic; an adiabatic fill from near vacuum heats toward gamma `T_a`.
#[test]
fn adiabatic_temperatures_are_the_textbook_ones() {
    let case = truth(70e3, Thermal::Adiabatic);
    for state in case.states_at(&[1.0, 5.0, 11.0]) {
        let ratio = (state.gauge_pa + ATMOSPHERE_PA) / (70e3 + ATMOSPHERE_PA);
        assert_close(state.temperature_k, 293.15 * ratio.powf(0.4 / 1.4), 1e-12);
    }
    // Energy balance: m cv T - m0 cv T0 = (m - m0) cp T_a, so T = p/(p0/T0 + (p - p0)/(gamma T_a)).
    let start = 10.0 - ATMOSPHERE_PA;
    let filled = truth(start, Thermal::Adiabatic).states_at(&[300.0])[0];
    assert_eq!(filled.gauge_pa, 0.0);
    let ratio = ATMOSPHERE_PA / 10.0;
    // Four decades of pressure gather more rounding than the usual test does.
    assert_close(
        filled.temperature_k,
        293.15 * ratio / (1.0 + (ratio - 1.0) / 1.4),
        1e-10,
    );
    assert_close(filled.temperature_k, 1.4 * 293.15, 1e-4);
}

/// Closed form: a choked isothermal discharge is exponential, a choked vacuum rise a straight line in time.
#[test]
fn choked_tests_are_exponential_and_straight() {
    let psi = flow_function(0.0, 1.4);
    let k = 5e-8 * (DRY_AIR_GAS_R * 293.15).sqrt() / 250e-6;
    let times = [0.1, 1.0, 2.0];
    let discharge = truth(200e3, Thermal::Isothermal).gauge_at(&times);
    let rise = truth(-60e3, Thermal::Isothermal).gauge_at(&times);
    for ((time, above), below) in times.iter().zip(discharge).zip(rise) {
        let exponential = (200e3 + ATMOSPHERE_PA) * (-k * psi * time).exp();
        assert_close(above + ATMOSPHERE_PA, exponential, 1e-13);
        assert_close(below, -60e3 + k * ATMOSPHERE_PA * psi * time, 1e-13);
    }
}

/// Closed form: below choking, u = sqrt(1 - x^beta) is a straight line in a vacuum test, down to ambient and no further.
#[test]
fn the_square_root_end_is_reached_and_kept() {
    let k = 5e-8 * (DRY_AIR_GAS_R * 293.15).sqrt() / 250e-6;
    let beta = 0.4 / 1.4;
    let u = |gauge: f64| (-(beta * (gauge / ATMOSPHERE_PA).ln_1p()).exp_m1()).sqrt();
    let end = u(-30e3) * (2.0 / beta).sqrt() / k;
    let case = truth(-30e3, Thermal::Isothermal);
    for part in [0.3, 0.9, 0.999] {
        let gauge = case.gauge_at(&[part * end])[0];
        assert!((u(gauge) - (1.0 - part) * u(-30e3)).abs() < 1e-13);
    }
    assert_close(case.time_to_gauge(0.0).unwrap(), end, 1e-12);
    assert_eq!(case.gauge_at(&[end * 1.000_001, 2.0 * end, 1e6]), [0.0; 3]);
}

/// Closed form: a laminar leak's (p - `p_a`)/(p + `p_a`) is an exponential, and ambient is never reached.
#[test]
fn laminar_tests_have_their_exponential() {
    // Published form (vacuum texts); computed: d 0.2 mm, L 20 mm, mu 1.8134e-5 Pa s, 250 cm3, 70 to 35 kPa: 12.6640397 s.
    let c = PI * 0.1e-3_f64.powi(4) / (16.0 * 1.8134e-5 * 20e-3);
    let case = Truth {
        law: Law::Laminar { c },
        ..truth(70e3, Thermal::Isothermal)
    };
    assert_close(case.time_to_gauge(35e3).unwrap(), 12.664_039_7, 1e-8);
    assert_eq!(case.time_to_gauge(0.0), None);
    let coordinate = |gauge: f64| gauge / (gauge + 2.0 * ATMOSPHERE_PA);
    for start in [70e3, -60e3] {
        let case = Truth {
            start_gauge_pa: start,
            ..case.clone()
        };
        for time in [1.0_f64, 20.0, 100.0] {
            let want = coordinate(start) * (-2.0 * c * ATMOSPHERE_PA * time / case.volume_m3).exp();
            assert_close(coordinate(case.gauge_at(&[time])[0]), want, 1e-11);
        }
    }
}

/// Self-consistency: the rates of laws in parallel add, however the sum is nested.
#[test]
fn parallel_laws_add() {
    let parts = |a: f64, b: f64, c: f64| {
        Law::Sum(vec![
            Law::Orifice { cd_area_m2: a },
            Law::Sum(vec![Law::Orifice { cd_area_m2: b }, Law::Laminar { c }]),
        ])
    };
    let with = |law: Law| Truth {
        law,
        ..truth(70e3, Thermal::Adiabatic)
    };
    assert_close(
        with(parts(2e-8, 3e-8, 0.0)).gauge_at(&[5.0])[0],
        truth(70e3, Thermal::Adiabatic).gauge_at(&[5.0])[0],
        1e-13,
    );
    let state = GasState {
        gauge_pa: 20e3,
        temperature_k: 280.0,
    };
    let laminar = 1e-15 * (121_325.0_f64.powi(2) - ATMOSPHERE_PA.powi(2)) / (DRY_AIR_GAS_R * 280.0);
    let both = with(parts(2e-8, 3e-8, 1e-15)).mass_flow_out(state);
    assert_close(
        both - with(parts(2e-8, 3e-8, 0.0)).mass_flow_out(state),
        laminar,
        1e-10,
    );
}

/// Integral of f over the states by Simpson's rule.
fn simpson(case: &Truth, end_s: f64, f: impl Fn(f64, GasState) -> f64) -> f64 {
    let panels = 4_000_usize;
    let step = end_s / panels as f64;
    let times: Vec<f64> = (0..=panels).map(|i| i as f64 * step).collect();
    let sum: f64 = times
        .iter()
        .zip(case.states_at(&times))
        .enumerate()
        .map(|(i, (time, state))| {
            let weight = match i {
                0 => 1.0,
                i if i == panels => 1.0,
                i if i % 2 == 1 => 4.0,
                _ => 2.0,
            };
            weight * f(*time, state)
        })
        .sum();
    sum * step / 3.0
}

/// Balances: what left is what is missing, of mass and of energy, with heat from a drifting wall.
#[test]
fn mass_and_energy_are_conserved() {
    let mut cases = vec![
        truth(70e3, Thermal::Isothermal),
        truth(-60e3, Thermal::Adiabatic),
        lumped(70e3, 0.3, 310.0),
        lumped(-60e3, 0.3, 285.0),
    ];
    for case in &mut cases {
        if case.thermal != Thermal::Adiabatic {
            case.wall_drift_k_per_s = 0.05;
        }
        let end = 5.0;
        let [before, after] = case.states_at(&[0.0, end])[..] else {
            unreachable!()
        };
        let mass = |state: GasState| {
            (state.gauge_pa + ATMOSPHERE_PA) * case.volume_m3
                / (DRY_AIR_GAS_R * state.temperature_k)
        };
        let left = simpson(case, end, |_, state| case.mass_flow_out(state));
        assert_close(left, mass(before) - mass(after), 1e-8);

        let cv = DRY_AIR_GAS_R / 0.4;
        let conductance = match case.thermal {
            Thermal::Isothermal => continue,
            Thermal::Adiabatic => 0.0,
            Thermal::Lumped { ha_w_per_k, .. } => ha_w_per_k,
        };
        let gained = simpson(case, end, |time, state| {
            let out = case.mass_flow_out(state);
            let carried_k = if out > 0.0 {
                state.temperature_k
            } else {
                293.15
            };
            let wall = 293.15 + case.wall_drift_k_per_s * time;
            conductance * (wall - state.temperature_k) - out * 1.4 * cv * carried_k
        });
        let energy = |state: GasState| mass(state) * cv * state.temperature_k;
        assert_close(gained, energy(after) - energy(before), 1e-8);
    }
}

/// Limit: a tight vessel's pressure follows its wall, p r/T.
#[test]
fn a_drifting_wall_moves_a_tight_vessel() {
    let case = Truth {
        law: Law::Sum(Vec::new()),
        wall_drift_k_per_s: 1.0 / 60.0,
        ..truth(48_675.0, Thermal::Isothermal)
    };
    let after = case.gauge_at(&[60.0])[0] + ATMOSPHERE_PA;
    assert_close(after, 150e3 * (1.0 + 1.0 / 293.15), 1e-13);
    assert_eq!(case.time_to_gauge(10e3), None);
    let still = Truth {
        wall_drift_k_per_s: 0.0,
        ..case
    };
    assert_eq!(still.time_to_gauge(10e3), None);
    assert_close(still.gauge_at(&[1e4])[0], 48_675.0, 1e-13);
}

/// Limit: after a lumped discharge the cold gas warms, so the gauge goes through ambient, never far, and settles.
#[test]
fn a_lumped_test_settles_at_ambient() {
    for (start, gas) in [(70e3, 293.15), (-60e3, 293.15), (5e3, 250.0), (0.0, 330.0)] {
        let case = Truth {
            law: Law::Orifice { cd_area_m2: 2e-6 },
            ..lumped(start, 0.3, gas)
        };
        let states = case.states_at(&[0.3, 1.0, 5.0, 60.0]);
        assert!(states[2].gauge_pa.abs() < 2.0, "{states:?}");
        assert!(states[3].gauge_pa.abs() < SMOOTHING_PA, "{states:?}");
        assert_close(states[3].temperature_k, 293.15, 1e-6);
    }
    // A large leak and a long record: thousands of steps at the edge of stability.
    let large = Truth {
        law: Law::Orifice { cd_area_m2: 1e-5 },
        ..lumped(70e3, 0.3, 293.15)
    };
    let end = large.gauge_at(&[30.0, 60.0]);
    assert!(
        end.iter().all(|gauge| gauge.abs() < SMOOTHING_PA),
        "{end:?}"
    );
    // Warm gas in a tight-enough vessel at ambient is drawn below it: the gauge crosses, as the equations say.
    let crossing = lumped(500.0, 0.3, 330.0).gauge_at(&[0.0, 1.0]);
    assert!(crossing[0] > 0.0 && crossing[1] < -500.0, "{crossing:?}");
}

/// Self-consistency: order and repetition of times don't matter, and an early reading lies on the same decay.
#[test]
fn times_come_in_any_order() {
    let case = truth(70e3, Thermal::Isothermal);
    let mixed = case.gauge_at(&[5.0, -0.5, 0.0, 5.0, 1.0, -0.1]);
    assert_close(mixed[2], 70e3, 1e-15);
    assert_eq!(mixed[0], mixed[3]);
    assert!(mixed[1] > mixed[5] && mixed[5] > mixed[2] && mixed[2] > mixed[4]);
    let earlier = Truth {
        start_gauge_pa: mixed[1],
        ..case.clone()
    };
    assert_close(earlier.gauge_at(&[5.5])[0], mixed[0], 1e-12);
    let heated = lumped(70e3, 50.0, 330.0).gauge_at(&[-0.2, -0.1, 0.0]);
    assert_close(heated[0] - heated[1], heated[1] - heated[2], 1e-9);
    let alone = case.gauge_at(&[1.0])[0];
    assert_close(mixed[4], alone, 1e-12);
    assert!(case.gauge_at(&[]).is_empty());
}

/// Published and computed worked examples: see the table for each value's source and status.
#[test]
fn worked_examples_come_out() {
    let table = Table::open("worked_examples.csv");
    let mut checked = 0;
    for row in table.rows() {
        assert_close(
            worked(row),
            row.number("value"),
            row.number("relative_tolerance"),
        );
        checked += 1;
    }
    assert_eq!(checked, 26);
}

fn circle(diameter_m: f64) -> f64 {
    PI / 4.0 * diameter_m * diameter_m
}

fn worked(row: Row<'_>) -> f64 {
    let example = Example(row);
    let quantity = row.text("quantity");
    example
        .critical_state_or_flow(quantity)
        .or_else(|| example.fall(quantity))
        .or_else(|| example.choked_fall(quantity))
        .unwrap_or_else(|| panic!("unknown quantity {quantity}"))
}

struct Example<'r>(Row<'r>);

impl Example<'_> {
    fn input(&self, key: &str) -> f64 {
        self.0.input(key)
    }

    fn critical(&self) -> f64 {
        critical_ratio(self.input("gamma"))
    }

    fn flow(&self, p0: f64, p_back: f64, area: f64) -> f64 {
        area * p0 / (self.input("r") * self.input("t_k")).sqrt()
            * flow_function(p_back / p0, self.input("gamma"))
    }

    fn vessel(
        &self,
        thermal: Thermal,
        (p0_pa, ambient_pa): (f64, f64),
        volume_m3: f64,
        cd_area_m2: f64,
    ) -> Truth {
        Truth {
            law: Law::Orifice { cd_area_m2 },
            volume_m3,
            ambient_pa,
            wall_temperature_k: self.input("t_k"),
            gas_r: self.input("r"),
            gamma: self.input("gamma"),
            start_gauge_pa: p0_pa - ambient_pa,
            thermal,
            wall_drift_k_per_s: 0.0,
        }
    }

    /// A case in atmospheres and feet, without heat.
    fn bird(&self) -> Truth {
        let pascals = |key: &str| self.input(key) * ATMOSPHERE_PA;
        self.vessel(
            Thermal::Adiabatic,
            (pascals("p0_atm"), pascals("p_ambient_atm")),
            self.input("volume_ft3") * FOOT_M.powi(3),
            self.input("area_ft2") * FOOT_M.powi(2),
        )
    }

    fn end_of_choking(&self, case: &Truth) -> f64 {
        case.time_to_gauge(case.ambient_pa * (1.0 / self.critical() - 1.0))
            .unwrap()
    }

    fn critical_state_or_flow(&self, quantity: &str) -> Option<f64> {
        let psi = |key: &str| self.input(key) * PSI_PA;
        Some(match quantity {
            "end_of_choking_psia" => self.input("p_ambient_psia") / self.critical(),
            "end_of_choking_atm" => self.input("p_ambient_atm") / self.critical(),
            "critical_pressure_atm" => self.input("p0_atm") * self.critical(),
            "critical_temperature_k" => self.input("t_k") * 2.0 / (self.input("gamma") + 1.0),
            "mass_flow_kg_per_s" => self.flow(
                self.input("p0_pa"),
                self.input("p_back_pa"),
                self.input("area_m2"),
            ),
            "mass_flow_lbm_per_s" => {
                let area = circle(self.input("d_in") * INCH_M);
                self.flow(psi("p0_psia"), psi("p_back_psia"), area) / POUND_KG
            }
            _ => return None,
        })
    }

    fn fall(&self, quantity: &str) -> Option<f64> {
        let psi = |key: &str| self.input(key) * PSI_PA;
        Some(match quantity {
            "isothermal_choked_time_s" => {
                let case = self.vessel(
                    Thermal::Isothermal,
                    (psi("p0_psia"), psi("p_ambient_psia")),
                    self.input("volume_ft3") * FOOT_M.powi(3),
                    circle(self.input("d_in") * INCH_M),
                );
                self.end_of_choking(&case)
            }
            "isothermal_time_s" => self
                .vessel(
                    Thermal::Isothermal,
                    (
                        self.input("p0_bar") * 1e5,
                        self.input("p_ambient_bar") * 1e5,
                    ),
                    self.input("volume_m3"),
                    self.input("area_m2"),
                )
                .time_to_gauge((self.input("p_end_bar") - self.input("p_ambient_bar")) * 1e5)
                .unwrap(),
            "adiabatic_end_of_choking_time_s" => self.end_of_choking(&self.bird()),
            "adiabatic_end_of_choking_temperature_k" => {
                let time = self.end_of_choking(&self.bird());
                self.bird().states_at(&[time])[0].temperature_k
            }
            _ => return None,
        })
    }

    /// Of a fall that is choked from its start to its end: closed forms.
    fn choked_fall(&self, quantity: &str) -> Option<f64> {
        let gamma = self.input("gamma");
        let constant = || {
            let area = self.input("cd") * circle(self.input("d_mm") * 1e-3);
            self.input("volume_l") * 1e-3
                / (area * (self.input("r") * self.input("t_k")).sqrt() * flow_function(0.0, gamma))
        };
        let log_ratio = || (self.input("p0_pa") / self.input("p_end_pa")).ln();
        Some(match quantity {
            "time_coefficient_density_falls_quarter" => {
                (4.0_f64 / 3.0).ln() / flow_function(0.0, gamma)
            }
            "choked_time_constant_s" => constant(),
            "isothermal_choked_law_time_s" => constant() * log_ratio(),
            "adiabatic_choked_law_time_s" => {
                constant() * ((log_ratio() * (gamma - 1.0) / (2.0 * gamma)).exp() - 1.0) * 2.0
                    / (gamma - 1.0)
            }
            _ => return None,
        })
    }
}

/// Computed: slider-crank table, 4 decimals.
#[test]
fn the_slider_crank_table_is_that_of_its_formula() {
    for row in Table::open("slider_crank.csv").rows() {
        let (r, l) = (row.number("stroke_mm") / 2.0, row.number("rod_mm"));
        let (sin, cos) = row.number("crank_deg").to_radians().sin_cos();
        let travel = r * (1.0 - cos) + l - (l * l - r * r * sin * sin).sqrt();
        assert!(
            (travel - row.number("travel_mm")).abs() < 5.1e-5,
            "{row:?}: {travel}"
        );
    }
}

/// The errors of the instrument, one at a time.
#[test]
fn an_instrument_has_the_errors_it_states() {
    let times: Vec<f64> = (0..20_000).map(f64::from).collect();
    let line = |moments: &[f64]| moments.iter().map(|t| 50e3 - 2.0 * t).collect::<Vec<_>>();
    let residuals = |instrument: Instrument| -> (f64, f64) {
        let readings = instrument.read(line, &times, &mut run_rng(1, 0));
        assert!(
            readings
                .iter()
                .zip(&times)
                .all(|(reading, time)| reading.0 == *time)
        );
        let errors: Vec<f64> = readings.iter().map(|(t, p)| p - (50e3 - 2.0 * t)).collect();
        let mean = errors.iter().sum::<f64>() / 20_000.0;
        let variance = errors.iter().map(|e| (e - mean).powi(2)).sum::<f64>() / 19_999.0;
        (mean, variance.sqrt())
    };
    assert_eq!(residuals(Instrument::PERFECT), (0.0, 0.0));
    let (mean, deviation) = residuals(Instrument {
        offset_pa: 120.0,
        ..Instrument::PERFECT
    });
    assert!((mean - 120.0).abs() < 1e-9 && deviation < 1e-9);
    // Standard errors at 20 000 readings: 0.7 % of the mean's sigma, 0.5 % of the sigma; five of them allowed.
    for noisy in [
        Instrument {
            noise_pa: 30.0,
            ..Instrument::PERFECT
        },
        Instrument {
            stopwatch_s: 15.0,
            ..Instrument::PERFECT
        },
    ] {
        let (mean, deviation) = residuals(noisy);
        assert!(mean.abs() < 30.0 * 0.036, "{mean}");
        assert_close(deviation, 30.0, 0.025);
    }
    let (mean, deviation) = residuals(Instrument {
        resolution_pa: 500.0,
        noise_pa: 500.0,
        ..Instrument::PERFECT
    });
    // Sheppard: rounding adds step^2/12 where the noise is as large as the step.
    assert!(mean.abs() < 20.0, "{mean}");
    assert_close(deviation, 500.0 * (1.0 + 1.0 / 12.0_f64).sqrt(), 0.025);
    let coarse = Instrument {
        resolution_pa: 500.0,
        scale: 1.1,
        ..Instrument::PERFECT
    };
    assert_eq!(coarse.read(line, &[0.0], &mut run_rng(1, 0)), [(0.0, 55e3)]);
}

/// A study is the same on any number of threads, and its runs differ.
#[test]
fn studies_repeat_and_their_runs_differ() {
    let one = |_: u64, rng: &mut ChaCha8Rng| -> f64 {
        let instrument = Instrument {
            noise_pa: 30.0,
            ..Instrument::PERFECT
        };
        let case = truth(70e3, Thermal::Isothermal);
        instrument.read(|moments| case.gauge_at(moments), &[1.0], rng)[0].1
    };
    let parallel = study(7, 64, one);
    let serial: Vec<f64> = (0..64).map(|run| one(run, &mut run_rng(7, run))).collect();
    assert_eq!(parallel, serial);
    let mut distinct = parallel.clone();
    distinct.extend(study(8, 64, one));
    distinct.sort_by(f64::total_cmp);
    distinct.dedup();
    assert_eq!(distinct.len(), 128);
}

#[test]
#[should_panic(expected = "time 1 is NaN")]
fn a_time_must_be_a_number() {
    let _ = truth(70e3, Thermal::Isothermal).gauge_at(&[1.0, f64::NAN]);
}
