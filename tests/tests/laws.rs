//! Leak laws and the decays that they give, against published values, an independent script and the simulator.
#![allow(clippy::unwrap_used, clippy::panic, reason = "test code")]

use std::f64::consts::PI;

use casetight::gas::{Gas, GasState};
use casetight::leak::{
    Capillary, EffectiveArea, LeakLaw, Orifice, Parallel, PowerLaw, RangeNote, SharpEdgedHole,
    Slot, SonicConductanceLaw,
};
use casetight::quantity::{
    AbsolutePressure, DynamicViscosity, GaugePressure, Length, Pressure, SonicConductance,
    ThermodynamicTemperature, Time, Volume, VolumeRate,
};
use casetight::vessel::{DecayLaw, LawDecay};
use casetight_tests::simulator::{DRY_AIR_GAS_R, Law, Thermal, Truth};
use casetight_tests::table::Table;
use uom::si::dynamic_viscosity::pascal_second;
use uom::si::length::meter;
use uom::si::mass_rate::kilogram_per_second;
use uom::si::pressure::pascal;
use uom::si::thermodynamic_temperature::kelvin;
use uom::si::time::second;
use uom::si::volume::cubic_meter;
use uom::si::volume_rate::cubic_meter_per_second;

const ATMOSPHERE_PA: f64 = 101_325.0;
const ROOM_K: f64 = 293.15;

/// The 12 digits that the script's times are printed with, and rounding.
const PRINTED_TIMES: f64 = 2e-11;

/// Air of the golden values: R = 287.05287 J/(kg K), gamma = 1.4, a constant viscosity.
fn air(mu: f64) -> Gas {
    Gas::new("air", DRY_AIR_GAS_R, 1.4)
        .unwrap()
        .with_viscosity(
            DynamicViscosity::new::<pascal_second>(mu),
            ThermodynamicTemperature::new::<kelvin>(ROOM_K),
            0.0,
        )
        .unwrap()
}

fn pressure(pascals: f64) -> AbsolutePressure {
    AbsolutePressure::from_pascals(pascals).unwrap()
}

fn gauge(pascals: f64) -> GaugePressure {
    GaugePressure::from_pascals(pascals).unwrap()
}

fn room(pascals: f64) -> GasState {
    GasState {
        pressure: pressure(pascals),
        temperature: ThermodynamicTemperature::new::<kelvin>(ROOM_K),
    }
}

fn length(meters: f64) -> Length {
    Length::new::<meter>(meters)
}

fn sonic(conductance: f64, critical_ratio: f64) -> SonicConductanceLaw {
    SonicConductanceLaw::new(
        SonicConductance::from_cubic_meters_per_second_pascal(conductance).unwrap(),
        critical_ratio,
    )
    .unwrap()
}

fn mass_flow(law: &dyn LeakLaw, gas: &Gas, upstream: f64, downstream: f64) -> f64 {
    law.mass_flow(gas, room(upstream), pressure(downstream))
        .get::<kilogram_per_second>()
}

/// Throughput `q_pV` = mdot R T [Pa m3/s].
fn throughput(law: &dyn LeakLaw, gas: &Gas, upstream: f64, downstream: f64) -> f64 {
    mass_flow(law, gas, upstream, downstream) * gas.specific_gas_constant() * ROOM_K
}

#[track_caller]
fn assert_close(got: f64, want: f64, relative: f64) {
    assert!(
        (got / want - 1.0).abs() <= relative,
        "{got} is not within {relative} of {want}"
    );
}

// Flow.

/// Formula published: ISO 6358-1, as simulation tools document it; the values are evaluated from it by hand.
#[test]
fn sonic_conductance_by_the_formula_of_iso_6358() {
    let valve = sonic(1e-8, 0.3);
    let dry = Gas::dry_air();
    // Choked, 7 bar at 20 °C: 1e-8 x 1.185 x 7e5.
    assert_close(mass_flow(&valve, &dry, 7e5, 1e5), 8.295e-3, 1e-12);
    // x = 6/7: w = 0.795_918, sqrt(1 - w^2) = 0.605404.
    assert_close(
        mass_flow(&valve, &dry, 7e5, 6e5),
        8.295e-3 * 0.605_404,
        1e-6,
    );
    // m = 0.6: 0.366514^0.6 = 0.547588.
    let other = valve.with_exponent(0.6).unwrap();
    assert_close(
        mass_flow(&other, &dry, 7e5, 6e5),
        8.295e-3 * 0.547_588,
        1e-5,
    );
    // 60 °C: times sqrt(293.15/333.15) = 0.938048.
    let warm = GasState {
        temperature: ThermodynamicTemperature::new::<kelvin>(333.15),
        ..room(7e5)
    };
    let flow = valve.mass_flow(&dry, warm, pressure(1e5));
    assert_close(
        flow.get::<kilogram_per_second>(),
        8.295e-3 * 0.938_048,
        1e-6,
    );
}

/// Independent script: 1 mm2 of effective area is C = 0.19919 dm3/(s bar), with rho_0 = 1.185 kg/m3 and
/// R = 287.05287 J/(kg K). From memory: the handbooks' rule "C in dm3/(s bar) is a fifth of the area in mm2".
#[test]
fn one_square_millimeter_is_a_fifth_of_a_conductance() {
    let c = 1.991_94e-9;
    let area = EffectiveArea::passing(&sonic(c, 0.5), &air(1.8e-5), room(7e5), pressure(1e5));
    assert_close(area.unwrap().square_meters(), 1e-6, 1e-5);
}

/// Independent script: the same ellipse as an approximation of the nozzle, off by at most 0.00152 of choked flow.
#[test]
fn an_ellipse_stands_for_a_nozzle() {
    let gas = air(1.8e-5);
    let nozzle = Orifice::new(EffectiveArea::from_square_meters(1e-6).unwrap());
    let c = 1.991_944e-9;
    let ellipse = sonic(c, gas.critical_pressure_ratio());
    let choked = mass_flow(&nozzle, &gas, 2e5, 5e4);
    let worst = (1..1000)
        .map(|i| 2e2 * f64::from(i))
        .map(|p| (mass_flow(&nozzle, &gas, 2e5, p) - mass_flow(&ellipse, &gas, 2e5, p)).abs())
        .fold(0.0, f64::max);
    assert!(
        (worst / choked - 0.001_52).abs() < 1e-5,
        "{}",
        worst / choked
    );
}

/// Independent script: capillaries of 0.1 and 0.2 mm, 10 mm long, from 200 to 100 kPa absolute, mu = 1.81341e-5 Pa s:
/// 0.20302 Pa m3/s at a Reynolds number of about 1700, and 3.2483 Pa m3/s at about 14000, which is not laminar.
#[test]
fn capillaries_between_two_bar_and_one() {
    let gas = air(1.813_41e-5);
    let turbulent = |d: f64, re: f64, q: f64| {
        let law = Capillary::new(length(d), length(0.01)).unwrap();
        assert_close(throughput(&law, &gas, 2e5, 1e5), q, 3e-5);
        let regime = law.regime(&gas, room(2e5), pressure(1e5));
        assert_close(regime.reynolds.unwrap(), re, 0.03);
        regime
            .out_of_range
            .iter()
            .any(|note| matches!(note, RangeNote::Turbulent { .. }))
    };
    assert!(!turbulent(1e-4, 1.7e3, 0.203_02));
    assert!(turbulent(2e-4, 1.37e4, 3.2483));
}

/// From memory: vacuum handbooks give the conductance of a tube as C = 135 d^4/l times the mean pressure, for air at 20 °C in
/// l/s, cm and mbar. Computed: pi/(128 mu) in those units is 135.6 at mu = 1.81e-5 Pa s.
#[test]
fn the_tube_constant_of_vacuum_handbooks() {
    let gas = air(1.81e-5);
    let (d, l) = (0.1, 100.0); // cm
    let tube = Capillary::new(length(1e-2 * d), length(1e-2 * l)).unwrap();
    let (up, down) = (12.0, 8.0); // mbar
    let mbar_l_per_s = 10.0 * throughput(&tube, &gas, 100.0 * up, 100.0 * down);
    let conductance = mbar_l_per_s / (up - down);
    let constant = conductance * l / (d.powi(4) * 0.5 * (up + down));
    assert_close(constant, 135.6, 5e-4);
}

/// Self-consistency: a slot is the flow between parallel plates, mdot = w h^3 (p_u^2 - p_d^2)/(24 mu L R T) (EN 1330-8 and
/// vacuum texts, from memory).
#[test]
fn a_slot_by_its_formula() {
    let gas = air(1.8e-5);
    let slot = Slot::new(length(20e-3), length(10e-6), length(8e-3)).unwrap();
    let q = 20e-3 * 1e-15 * (4e10 - 1e10) / (24.0 * 1.8e-5 * 8e-3);
    assert_close(throughput(&slot, &gas, 2e5, 1e5), q, 1e-12);
    // A round capillary of the same section at the same length passes far more: a wide crack is a poor leak.
    let round = Capillary::new(length((4.0 * 20e-3 * 10e-6 / PI).sqrt()), length(8e-3)).unwrap();
    assert!(throughput(&round, &gas, 2e5, 1e5) > 100.0 * q);
}

/// Form from memory: ASTM E779, effective leakage area c sqrt(rho/2) dp^(n - 1/2); density of reference air 1.2041 kg/m3
/// published (a primer on building simulation). Computed: 0.7759 m2 for c = 1 m3/(s Pa^n), n = 1/2, at any difference.
#[test]
fn effective_leakage_area_of_astm_e779() {
    let gas = Gas::dry_air();
    let area = |n: f64, dp: f64| {
        let house = PowerLaw::new(
            VolumeRate::new::<cubic_meter_per_second>(1.0),
            Pressure::new::<pascal>(1.0),
            n,
        )
        .unwrap();
        EffectiveArea::passing(
            &house,
            &gas,
            room(ATMOSPHERE_PA + dp),
            pressure(ATMOSPHERE_PA),
        )
        .unwrap()
        .square_meters()
    };
    for dp in [1.0, 4.0, 10.0, 50.0] {
        // Compressibility: some ten-thousandths at 50 Pa.
        assert_close(area(0.5, dp), 0.7759, 5e-4);
        assert_close(area(0.65, dp), 0.7759 * dp.powf(0.15), 5e-4);
    }
}

/// Published: polynomial through Perry's data (Trans. ASME 71, 1949, 757) in the documentation of a simulation tool; values
/// evaluated from it.
#[allow(
    clippy::approx_constant,
    reason = "a printed coefficient that happens to look like one"
)]
#[test]
fn discharge_coefficients_of_a_sharp_edged_hole() {
    for (x, cd) in [
        (0.0, 0.8414),
        (0.2, 0.8306),
        (0.4, 0.7869),
        (0.5283, 0.7374),
        (0.6, 0.7071),
        (0.7, 0.6676),
        (0.8, 0.6358),
        (0.9, 0.6142),
        (1.0, 0.6001),
    ] {
        let got = SharpEdgedHole::discharge_coefficient(x);
        assert!((got - cd).abs() < 1e-4, "{x}: {got}");
    }
    // Published: expansibility of an orifice plate in a wide pipe (ISO 5167-2:2003, eq. 5), evaluated at x = 0.9, against
    // the isentropic expansion: their ratio is the same rise of the coefficient.
    let x = 0.9_f64;
    let plate = 1.0 - 0.351 * (1.0 - x.powf(1.0 / 1.4));
    let nozzle = Orifice::flow_function(&Gas::dry_air(), x) / (2.0 * (1.0 - x)).sqrt();
    let rise =
        SharpEdgedHole::discharge_coefficient(x) / SharpEdgedHole::discharge_coefficient(1.0);
    assert_close(rise, plate / nozzle, 1e-2);
}

/// Self-consistency: between 70 and 5 kPa the effective area of a hole in a thin wall falls by 15 %: why a run quotes its
/// pressure.
#[test]
fn a_sharp_edged_hole_shrinks_with_the_pressure() {
    let hole = SharpEdgedHole::new(length(1e-4)).unwrap();
    let area = |g: f64| {
        EffectiveArea::passing(
            &hole,
            &Gas::dry_air(),
            room(ATMOSPHERE_PA + g),
            pressure(ATMOSPHERE_PA),
        )
        .unwrap()
        .square_meters()
    };
    let fall = 1.0 - area(5e3) / area(70e3);
    assert!((fall - 0.147).abs() < 5e-4, "{fall}");
}

// Decay.

fn decay(law: DecayLaw, area: EffectiveArea, start: f64, gas: &Gas) -> LawDecay {
    LawDecay::new(
        law,
        area,
        Volume::new::<cubic_meter>(250e-6),
        gauge(start),
        room(ATMOSPHERE_PA),
        gas,
    )
    .unwrap()
}

fn seconds_to(decay: &LawDecay, end: f64) -> f64 {
    decay.time_to(gauge(end)).unwrap().get::<second>()
}

/// The effective area of a law where a test starts.
fn area_at(law: &dyn LeakLaw, gas: &Gas, start: f64) -> EffectiveArea {
    let inside = ATMOSPHERE_PA + start;
    EffectiveArea::passing(
        law,
        gas,
        room(inside.max(ATMOSPHERE_PA)),
        pressure(inside.min(ATMOSPHERE_PA)),
    )
    .unwrap()
}

/// Independent script: quadrature with 30 digits.
#[test]
fn decay_times_of_every_law() {
    for row in Table::open("law_times.csv").rows() {
        let law = match row.text("law") {
            "sonic" => DecayLaw::Sonic {
                critical_ratio: row.number("parameter"),
            },
            "laminar" => DecayLaw::Laminar,
            "power" => DecayLaw::Power {
                exponent: row.number("parameter"),
            },
            other => panic!("no law {other}"),
        };
        let (start, end) = (row.number("start_gauge_pa"), row.number("end_gauge_pa"));
        let area = EffectiveArea::from_square_meters(5e-8).unwrap();
        let decay = decay(law, area, start, &air(1.8e-5));
        let want = row.number("time_s");
        assert_close(seconds_to(&decay, end), want, PRINTED_TIMES);
        // And back.
        let back = decay.gauge_at(Time::new::<second>(want)).pascals();
        assert_close(back, end, 1e-9);
    }
}

/// Independent script: 0.2 mm, 20 mm, 250 cm3, mu = 1.8134e-5 Pa s, 70 to 35 kPa in 12.6640397 s, by
/// t = ln[(p1 - pa)(p2 + pa)/((p1 + pa)(p2 - pa))]/(2 K pa), K = pi d^4/(256 mu L V).
#[test]
fn a_laminar_decay_takes_its_golden_time() {
    let gas = air(1.8134e-5);
    let scratch = Capillary::new(length(2e-4), length(0.02)).unwrap();
    let decay = decay(DecayLaw::Laminar, area_at(&scratch, &gas, 70e3), 70e3, &gas);
    assert_close(seconds_to(&decay, 35e3), 12.664_039_7, 4e-9);
    assert!(decay.ends_after().is_none());
}

/// The simulator integrates the equations and shares no code with the library.
#[test]
fn a_laminar_decay_is_the_simulated_one() {
    let gas = air(1.8134e-5);
    let (d, l) = (5e-5_f64, 5e-3);
    let scratch = Capillary::new(length(d), length(l)).unwrap();
    let times = [0.0, 3.0, 30.0, 120.0, 600.0, 3000.0];
    for start in [70e3, 20e3, -20e3, -80e3] {
        let truth = Truth {
            law: Law::Laminar {
                c: PI * d.powi(4) / (256.0 * 1.8134e-5 * l),
            },
            volume_m3: 250e-6,
            ambient_pa: ATMOSPHERE_PA,
            wall_temperature_k: ROOM_K,
            gas_r: DRY_AIR_GAS_R,
            gamma: 1.4,
            start_gauge_pa: start,
            thermal: Thermal::Isothermal,
            wall_drift_k_per_s: 0.0,
        };
        let decay = decay(
            DecayLaw::Laminar,
            area_at(&scratch, &gas, start),
            start,
            &gas,
        );
        for (time, simulated) in times.iter().zip(truth.gauge_at(&times)) {
            let got = decay.gauge_at(Time::new::<second>(*time)).pascals();
            assert!(
                (got - simulated).abs() < 1e-7 * start.abs(),
                "{start} {time}"
            );
        }
    }
}

/// The size that the fit sees of two leaks is the sum of their sizes at the start.
#[test]
fn leak_and_rig_add_where_the_run_starts() {
    let gas = Gas::dry_air();
    let leak = Orifice::new(EffectiveArea::from_square_meters(5e-9).unwrap());
    let rig = Capillary::new(length(5e-5), length(6e-3)).unwrap();
    for start in [48e3, -48e3] {
        let sum = area_at(&leak, &gas, start).square_meters()
            + area_at(&rig, &gas, start).square_meters();
        let both = area_at(&Parallel::new().and(leak).and(rig), &gas, start);
        assert_close(both.square_meters(), sum, 1e-14);
    }
}
