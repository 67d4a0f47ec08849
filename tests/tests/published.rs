//! The library against numbers from outside: published tables, textbooks' worked examples, standards, and values of scripts
//! that share nothing with it.
//!
//! Each test names where its numbers come from and of which kind they are: published, independent script,
//! self-consistency, common practice, or from memory. Tables of `tests/data` say the same in their heads.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::float_cmp,
    reason = "test code"
)]

mod common;

use std::f64::consts::PI;

use casetight::estimate::Estimate;
use casetight::gas::{Gas, GasState};
use casetight::gauge::{AccuracyClass, Gauge};
use casetight::leak::{EffectiveArea, LeakLaw, Orifice};
use casetight::limit::{Verdict, verdict};
use casetight::measured::{
    Distribution, DualNum, Evaluation, Measurable, Measured, monte_carlo, propagate,
};
use casetight::quantity::{
    GaugePressure, Length, MolarGasConstant, Pressure, Ratio, ReferenceConditions,
    SonicConductance, SpecificGasConstant, Throughput, Time, TradeUnits, VolumeRate,
};
use casetight::vessel::{Direction, IsothermalDecay};
use casetight::volume::{Crank, Engine, Piston, TestedVolume};
use casetight_tests::table::Table;
use casetight_tests::worked;

use common::{absolute, area, assert_close, cubic_meters, gauge, kelvins, of, pascals, state};

fn gas(specific_gas_constant: f64, gamma: f64) -> Gas {
    Gas::new("perfect gas", specific_gas_constant, gamma).unwrap()
}

fn gas_constant(joules_per_kilogram_kelvin: f64) -> SpecificGasConstant {
    Measurable::from_si(joules_per_kilogram_kelvin).unwrap()
}

/// T/T0 at a Mach number.
fn temperature_ratio(gas: &Gas, mach: f64) -> f64 {
    1.0 / (1.0 + (gas.heat_capacity_ratio() - 1.0) / 2.0 * mach * mach)
}

/// p/p0 at a Mach number, by the gas's own isentropic exponent.
fn pressure_ratio(gas: &Gas, mach: f64) -> f64 {
    temperature_ratio(gas, mach).powf(1.0 / gas.isentropic_exponent())
}

/// A/A* where the flow is not supersonic: by continuity the flow function's maximum over its value there.
fn area_ratio(gas: &Gas, pressure_ratio: f64) -> f64 {
    Orifice::flow_function(gas, 0.0) / Orifice::flow_function(gas, pressure_ratio)
}

#[track_caller]
fn assert_printed(what: &str, got: f64, printed: f64, half_unit: f64) {
    assert!(
        (got - printed).abs() <= half_unit + 1e-12,
        "{what}: {got}, printed {printed}"
    );
}

// Flow of gas.

/// Published: NACA Report 1135 (1953), Table I, as reproduced; every printed digit.
#[test]
fn isentropic_table_of_naca_1135() {
    let air = Gas::dry_air();
    let mut subsonic = 0;
    for row in Table::open("naca1135_isentropic.csv").rows() {
        let mach = row.number("mach");
        let (t, p) = (temperature_ratio(&air, mach), pressure_ratio(&air, mach));
        let printed = |column: &str, got: f64| {
            assert_printed(
                &format!("Mach {mach}, {column}"),
                got,
                row.number(column),
                row.half_unit(column),
            );
        };
        printed("t_over_t0", t);
        printed("p_over_p0", p);
        printed("rho_over_rho0", p / t);
        if mach <= 1.0 {
            printed("a_over_a_star", area_ratio(&air, p));
            subsonic += 1;
        } else {
            assert_eq!(area_ratio(&air, p), 1.0, "choked at Mach {mach}");
        }
    }
    assert_eq!(subsonic, 11);
}

/// Published: an example in the documentation of a numerical toolbox's isentropic-flow function, Mach 0.5; T/T0, p/p0,
/// rho/rho0 and A/A* for three gases.
#[test]
fn isentropic_ratios_of_other_gases() {
    for (gamma, t, p, rho, a) in [
        (1.3, 0.9639, 0.8525, 0.8845, 1.3479),
        (1.33, 0.9604, 0.8497, 0.8847, 1.3454),
        (1.67, 0.9227, 0.8183, 0.8869, 1.3201),
    ] {
        let gas = gas(287.0, gamma);
        let (got_t, got_p) = (temperature_ratio(&gas, 0.5), pressure_ratio(&gas, 0.5));
        for (what, got, printed) in [
            ("T/T0", got_t, t),
            ("p/p0", got_p, p),
            ("rho/rho0", got_p / got_t, rho),
            ("A/A*", area_ratio(&gas, got_p), a),
        ] {
            assert_printed(&format!("gamma {gamma}, {what}"), got, printed, 5e-5);
        }
    }
}

/// Published values and an independent script's 12 digits: `critical_flow_function.csv`.
#[test]
fn critical_values_of_several_gases() {
    let mut checked = 0;
    for row in Table::open("critical_flow_function.csv").rows() {
        let gas = gas(287.0, row.number("gamma"));
        let ratio = gas.critical_pressure_ratio();
        let flow = Orifice::flow_function(&gas, 0.0);
        let got = match row.text("quantity") {
            "critical_ratio" => ratio,
            "critical_flow" => flow,
            "critical_flow_over_sqrt_r" => flow / row.input("r").sqrt(),
            "critical_pressure_kpa" => ratio * row.input("p0_kpa"),
            "critical_temperature_k" => ratio.powf(gas.isentropic_exponent()) * row.input("t0_k"),
            other => panic!("unknown quantity {other}"),
        };
        assert_printed(
            &format!("{row:?}"),
            got,
            row.number("value"),
            row.number("absolute_tolerance"),
        );
        checked += 1;
    }
    assert_eq!(checked, 20);
}

/// Published: the ellipse sqrt(1 - ((x - b)/(1 - b))^2) of ISO 6358 for the flow above the critical ratio b, as the
/// documentation of two simulation tools gives it. Independent script: with the ideal gas's b it lies within 0.00152 of the
/// isentropic flow, as a part of choked flow.
#[test]
fn the_ellipse_of_iso_6358_is_close_to_the_isentropic_flow() {
    let air = Gas::dry_air();
    let b = air.critical_pressure_ratio();
    let choked = Orifice::flow_function(&air, 0.0);
    let off = |x: f64| {
        let ellipse = (1.0 - ((x - b) / (1.0 - b)).powi(2)).sqrt();
        ellipse - Orifice::flow_function(&air, x) / choked
    };
    let largest = (0..=20_000)
        .map(|i| off(b + (1.0 - b) * f64::from(i) / 20_000.0).abs())
        .fold(0.0, f64::max);
    assert!((0.001_515..=0.001_525).contains(&largest), "{largest}");
}

/// Independent script, with constants of ISO 8778 from memory (1.185 kg/m3, 293.15 K): an effective area of 1 mm2 is a
/// sonic conductance of 1.991 94e-9 m3/(s Pa). The handbooks' "C in dm3/(s bar) is a fifth of the area in mm2" is from
/// memory.
#[test]
fn a_square_millimeter_as_a_sonic_conductance() {
    let upstream = state(7e5, 293.15);
    let flow = Orifice::new(area(1e-6)).mass_flow(&gas(287.052_87, 1.4), upstream, absolute(1e5));
    let conductance = flow.value / (1.185 * 7e5);
    assert_printed("C", conductance, 1.991_94e-9, 5e-15);
    let handbook: f64 = of::<SonicConductance>(conductance, "m3/(s Pa)")
        .value_in("dm3/(s bar)")
        .unwrap();
    assert_close("handbook rule", handbook, 0.2, 5e-3);
}

/// Independent script: mdot/(CdA sqrt(2 rho dp)), the expansion factor of an isentropic nozzle; its limit for small drops,
/// 1 - 3/(4 gamma) dp/p, is a textbook's.
#[test]
fn small_pressure_drops_flow_as_a_liquid_would() {
    let air = Gas::dry_air();
    let factor = |drop: f64| Orifice::flow_function(&air, 1.0 - drop) / (2.0 * drop).sqrt();
    assert_printed("dp/p = 0.01", factor(0.01), 0.994_628, 5e-7);
    assert_printed("dp/p = 0.1", factor(0.1), 0.944_920, 5e-7);
    for drop in [1e-4, 1e-6, 1e-8] {
        // The next term is of order drop^2; 1 - drop itself is rounded, which counts as EPSILON/drop.
        let allowed = drop * drop + f64::EPSILON / drop;
        assert_printed("limit", factor(drop), 1.0 - 3.0 / 5.6 * drop, allowed);
    }
}

// Vessels that empty and fill.

/// Independent script: quadrature with 30 digits, printed to 12 (`golden_times.csv`).
#[test]
fn golden_times_of_an_isothermal_vessel() {
    let ambient = state(101_325.0, 293.15);
    let mut checked = 0;
    for row in Table::open("golden_times.csv").rows() {
        let decay = IsothermalDecay::new(
            area(5e-8),
            cubic_meters(250e-6),
            gauge(row.number("start_gauge_pa")),
            ambient,
            &gas(287.052_87, 1.4),
        )
        .unwrap();
        let end = gauge(row.number("end_gauge_pa"));
        let time = decay.time_to(end).unwrap();
        // Half a unit of the twelfth digit, and the rounding of a difference of two coordinates.
        assert_close(
            &format!("{row:?}"),
            time.value,
            row.number("isothermal_s"),
            1e-11,
        );
        let back = decay.gauge_at(time).pascals();
        assert_close(&format!("{row:?}"), back, end.pascals(), 1e-11);
        checked += 1;
    }
    assert_eq!(checked, 9);
}

/// Worked examples of textbooks: flow, and vessels that empty and fill, isothermal and adiabatic. Each row names its source
/// and the status of its value.
#[test]
fn worked_examples_of_textbooks() {
    let mut checked = 0;
    for table in ["worked_examples.csv", "vessel_examples.csv"] {
        for row in Table::open(table).rows() {
            assert_close(
                &format!("{} ({})", row.text("id"), row.text("source")),
                worked::answer(row),
                row.number("value"),
                row.number("relative_tolerance"),
            );
            checked += 1;
        }
    }
    assert_eq!(checked, 41);
}

// Units.

/// Published: factors of flow units as a manufacturers' page repeats NIST's (1 sccm = 1.688 75e-3 Pa m3/s = 0.016 887 5 mbar
/// L/s), and ASTM E515's "4.5e-10 mol/s (1e-5 std cm3/s)". Independent script, exact arithmetic: 1 Pa m3/s = 592.154 sccm;
/// 1e-5 std cm3/s = 4.4615e-10 mol/s; 20 C for 0 C as the standard temperature changes a flow by 7.3 %.
#[test]
fn leak_rates_in_the_units_of_leak_testing() {
    let normal = ReferenceConditions::NORMAL;
    let sccm: Throughput = normal.throughput(of(1.0, "sccm")).unwrap();
    assert_printed(
        "Pa m3/s",
        sccm.value_in("Pa m3/s").unwrap(),
        1.688_75e-3,
        5e-9,
    );
    assert_printed(
        "mbar L/s",
        sccm.value_in("mbar L/s").unwrap(),
        0.016_887_5,
        5e-8,
    );
    let at_0_c: VolumeRate = normal
        .volume_rate(of(1.0, "Pa m3/s"), kelvins(273.15))
        .unwrap();
    assert_printed("sccm", at_0_c.value_in("sccm").unwrap(), 592.154, 5e-4);
    let standard: Throughput = normal.throughput(of(1e-5, "cm3/s")).unwrap();
    let molar = standard
        .molar_rate(
            kelvins(273.15),
            MolarGasConstant::from_si(8.314_462_618).unwrap(),
        )
        .unwrap();
    assert_printed("mol/s", molar.value, 4.4615e-10, 5e-15);
    assert_printed("mol/s as ASTM E515 has it", molar.value, 4.5e-10, 5e-12);
    let at_20_c = ReferenceConditions::new(normal.pressure(), kelvins(293.15)).unwrap();
    let r = gas_constant(287.055);
    let mass = normal.mass_rate(of(1.0, "sccm"), r).unwrap();
    let warmer = at_20_c.volume_rate_of_mass(mass, r).unwrap();
    assert_printed(
        "20 C for 0 C",
        warmer.value_in("sccm").unwrap(),
        1.073,
        5e-4,
    );
}

/// Exact definitions of the pound and the inch, and conventional values of the pressure of columns (NIST SP 811, from
/// memory), as pressures that a bench meets.
#[test]
fn gauge_units() {
    for (text, pascal, half_unit) in [
        ("1 psi", 6_894.757_293, 5e-7),
        ("1 inHg", 3386.389, 5e-4),
        ("1 mmHg", 133.322_387, 5e-7),
        ("1 inH2O", 249.088_91, 5e-6),
        ("1 kgf/cm2", 98_066.5, 0.0),
        ("1 atm", 101_325.0, 0.0),
    ] {
        assert_printed(
            text,
            Pressure::parse(text).unwrap().value,
            pascal,
            half_unit,
        );
    }
}

// Volumes.

/// Independent script: `slider_crank.csv`, four decimals.
#[test]
fn slider_crank_travels() {
    let mut checked = 0;
    for row in Table::open("slider_crank.csv").rows() {
        let crank = Crank::new(
            of(row.number("stroke_mm"), "mm"),
            of(row.number("rod_mm"), "mm"),
        );
        let written = format!("{} deg, transfers shut", row.text("crank_deg"));
        let (angle, _) = written.parse::<Piston>().unwrap().angle();
        let travel = crank.unwrap().travel(angle).unwrap();
        assert_printed(
            &written,
            travel.value_in("mm").unwrap(),
            row.number("travel_mm"),
            5e-5,
        );
        checked += 1;
    }
    assert_eq!(checked, 15);
}

/// Independent script, by the definition CCR = V(top)/V(bottom) with V(top) = V(bottom) + swept: volumes under the piston of
/// three engines [cm3]. The ratios are those of usual small engines (from memory).
#[test]
fn case_volumes_from_primary_compression_ratios() {
    for (swept, ratio, bottom, top) in [
        (50.0, 1.4, 125.0, 175.0),
        (65.0, 1.5, 130.0, 195.0),
        (35.0, 1.45, 77.8, 112.8),
    ] {
        let stroke = 0.034_f64;
        let bore = (4.0 * swept * 1e-6 / (PI * stroke)).sqrt();
        let length = |meters: f64| Measured::exact(of::<Length>(meters, "m")).unwrap();
        let engine = Engine::new(
            length(bore),
            length(stroke),
            length(0.062),
            Measured::exact(of::<Ratio>(ratio, "")).unwrap(),
        )
        .unwrap();
        let turn = engine.over_a_turn(2).unwrap();
        let no_rig = Measured::exact(cubic_meters(0.0)).unwrap();
        let tested = TestedVolume::from_engine(&engine, Piston::Top, &no_rig).unwrap();
        for (what, volume, printed) in [
            ("top", turn[0].case_side.value(), top),
            ("bottom", turn[1].case_side.value(), bottom),
            ("tested at the top", tested.volume().value(), top),
        ] {
            assert_printed(what, volume.value_in("cm3").unwrap(), printed, 0.05);
        }
    }
}

// Measurement and decision.

/// An interval of a normal quantity with this standard uncertainty.
fn interval(value: f64, standard_uncertainty: f64) -> Estimate<f64> {
    let half_width = 1.959_964 * standard_uncertainty;
    Estimate::of_size(value, value - half_width, value + half_width, 0.95)
}

/// From memory: JCGM 106:2012, 7.3.3, Examples 1 and 2 (`conformance.csv`), as printed. An interval that is wholly above zero
/// is taken as log-normal, which at these relative uncertainties differs from the normal distribution by less than the
/// printed digits.
#[test]
fn probabilities_of_conformance_of_jcgm_106() {
    let mut checked = 0;
    for row in Table::open("conformance.csv").rows() {
        let (estimate, u) = (row.number("estimate"), row.number("standard_uncertainty"));
        let size = interval(estimate.abs(), u);
        // A size must not be below the lower limit; the diode's voltage and limit are negative, its sizes aren't.
        let limit = row
            .number_if_any("lower_limit")
            .unwrap_or_else(|| row.number("upper_limit"));
        let probability = 1.0 - size.probability_within(limit.abs());
        assert_printed(
            row.text("id"),
            probability,
            row.number("probability"),
            row.number("absolute_tolerance"),
        );
        // Independent script: the normal distribution's own value, by drawing.
        let input = Measured::new(estimate.abs(), u, Evaluation::TypeB(Distribution::Normal));
        let drawn = monte_carlo(
            &[input.unwrap().input("quantity")],
            None,
            200_000,
            106,
            |[x]| x,
        );
        let drawn = drawn.unwrap();
        let below = drawn.sorted().partition_point(|x| *x < limit.abs());
        let exact = row.number("probability_exact");
        let error = (exact * (1.0 - exact) / 200_000.0).sqrt();
        assert_printed(
            "drawn",
            1.0 - below as f64 / drawn.sorted().len() as f64,
            exact,
            4.0 * error,
        );
        checked += 1;
    }
    assert_eq!(checked, 2);
}

/// Published: ISO 14253-1:2017 asks for 95 % conformance by default, a guard band of 1.65 u (as guides quote it).
#[test]
fn the_guard_band_of_iso_14253() {
    let (value, u) = (1.0, 0.001);
    let size = interval(value, u);
    let decided = |limit: f64| verdict(size.probability_within(limit));
    assert_eq!(decided(value + 1.65 * u), Verdict::Holds);
    assert_eq!(decided(value + 1.64 * u), Verdict::Undecided);
    assert_eq!(decided(value), Verdict::Undecided);
    assert_eq!(decided(value - 1.64 * u), Verdict::Undecided);
    assert_eq!(decided(value - 1.65 * u), Verdict::Leaks);
}

/// Published: EN 837-1:1996, Table 11, as reproduced: the largest permitted error is the class in percent of the span.
/// Independent script: taken as rectangular, class 1.6 of 1 bar is 0.924 kPa.
#[test]
fn accuracy_classes_of_en_837() {
    for class in [0.1, 0.25, 0.6, 1.0, 1.6, 2.5, 4.0] {
        let dial = Gauge::dial(pascals(2000.0), pascals(500.0))
            .unwrap()
            .with_accuracy_class(AccuracyClass {
                class,
                span: of(1.0, "bar"),
            })
            .unwrap();
        let at_full_scale = dial
            .offset_uncertainty()
            .value
            .hypot(dial.scale_uncertainty() * 1e5);
        let permitted = class / 100.0 * 1e5;
        assert_close(
            "full scale",
            at_full_scale,
            permitted / 3.0_f64.sqrt(),
            1e-12,
        );
        if class == 1.6 {
            assert_printed("class 1.6", at_full_scale, 924.0, 0.5);
        }
    }
}

/// Published: JCGM 100:2008, F.2.2.1 (from memory): rounding to a step d has a standard uncertainty of 0.29 d.
#[test]
fn the_uncertainty_of_a_resolution() {
    let exact = Gauge::digital(pascals(1000.0))
        .unwrap()
        .with_noise(pascals(0.0))
        .unwrap();
    assert_printed("0.29 d", exact.reading_uncertainty().value, 290.0, 5.0);
}

/// Published: JCGM 100:2008, H.2 (values as a reproduction of it prints them): the resistance of a circuit from a voltage, a
/// current and a phase that are correlated.
#[test]
fn the_resistance_of_jcgm_100_h2() {
    let measured = |name: &'static str, value: f64, u: f64| {
        Measured::new(value, u, Evaluation::TypeA)
            .unwrap()
            .input(name)
    };
    let inputs = [
        measured("V", 4.9990, 3.2e-3),
        measured("I", 19.661e-3, 9.5e-6),
        measured("phi", 1.044_46, 7.5e-4),
    ];
    let correlation = [1.0, -0.36, 0.86, -0.36, 1.0, -0.65, 0.86, -0.65, 1.0];
    let resistance =
        propagate(&inputs, Some(&correlation), |[v, i, phi]| v / i * phi.cos()).unwrap();
    assert_printed("R", resistance.value(), 127.732, 5e-4);
    assert_printed("u(R)", resistance.standard_uncertainty(), 0.070, 1.5e-3);
}

/// Independent script: times of the magnitudes table, holes in 250 cm3 at 20 C and 101.325 kPa with Cd 0.62, and their flow
/// at 7 psi in cm3/min at 0 C and 101.325 kPa; printed digits.
#[test]
fn magnitudes_that_a_bench_meets() {
    let air = Gas::dry_air();
    let ambient = state(101_325.0, 293.15);
    let psi = |value: f64| of::<GaugePressure>(value, "psi");
    for (mm, to_6, to_5, vacuum, flow) in [
        (0.02, 325.0, 678.0, 441.0, 3.0),
        (0.05, 52.0, 109.0, 71.0, 19.0),
        (0.10, 13.0, 27.1, 17.6, 76.0),
        (0.30, 1.45, 3.0, 2.0, 682.0),
        (1.0, 0.13, 0.27, 0.18, 7579.0),
    ] {
        let hole = EffectiveArea::of_hole(of(mm, "mm"), 0.62).unwrap();
        let time = |direction: Direction, to: f64| -> Time {
            let sign = direction.sign();
            let decay =
                IsothermalDecay::new(hole, cubic_meters(250e-6), psi(sign * 7.0), ambient, &air);
            decay.unwrap().time_to(psi(sign * to)).unwrap()
        };
        // Three or two digits are printed: 3 % covers the last of two.
        assert_close(
            "7 to 6 psi",
            time(Direction::Pressure, 6.0).value,
            to_6,
            0.03,
        );
        assert_close(
            "7 to 5 psi",
            time(Direction::Pressure, 5.0).value,
            to_5,
            0.03,
        );
        assert_close("vacuum", time(Direction::Vacuum, 6.0).value, vacuum, 0.03);
        let upstream = GasState {
            pressure: psi(7.0).absolute(ambient.pressure).unwrap(),
            ..ambient
        };
        let mass = Orifice::new(hole).mass_flow(&air, upstream, ambient.pressure);
        let r = gas_constant(air.specific_gas_constant());
        let counted = ReferenceConditions::NORMAL.volume_rate_of_mass(mass, r);
        assert_close(
            "flow",
            counted.unwrap().value_in("sccm").unwrap(),
            flow,
            0.02,
        );
    }
}
