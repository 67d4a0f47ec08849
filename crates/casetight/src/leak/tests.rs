use proptest::prelude::*;
use uom::si::length::millimeter;
use uom::si::pressure::pascal;
use uom::si::thermodynamic_temperature::kelvin;
use uom::si::volume_rate::cubic_meter_per_second;

use super::*;
use crate::quantity::{
    Pressure, QuantityError, SonicConductance, ThermodynamicTemperature, VolumeRate,
};

/// Rounding of a handful of operations.
const ROUNDING: f64 = 1e-12;

fn state(pascals: f64) -> GasState {
    GasState {
        pressure: pressure(pascals),
        temperature: ThermodynamicTemperature::new::<kelvin>(293.15),
    }
}

fn pressure(pascals: f64) -> AbsolutePressure {
    AbsolutePressure::from_pascals(pascals).unwrap()
}

fn mm(length: f64) -> Length {
    Length::new::<millimeter>(length)
}

fn orifice(square_millimeters: f64) -> Orifice {
    Orifice::new(EffectiveArea::from_square_meters(1e-6 * square_millimeters).unwrap())
}

fn sonic(c: f64, b: f64) -> SonicConductanceLaw {
    SonicConductanceLaw::new(
        SonicConductance::from_cubic_meters_per_second_pascal(c).unwrap(),
        b,
    )
    .unwrap()
}

fn power(flow: f64, exponent: f64) -> PowerLaw {
    PowerLaw::new(
        VolumeRate::new::<cubic_meter_per_second>(flow),
        Pressure::new::<pascal>(50e3),
        exponent,
    )
    .unwrap()
}

fn slot(width: f64, gap: f64, length: f64) -> Slot {
    Slot::new(mm(width), mm(gap), mm(length)).unwrap()
}

fn capillary(diameter: f64, length: f64) -> Capillary {
    Capillary::new(mm(diameter), mm(length)).unwrap()
}

fn hole(diameter: f64) -> SharpEdgedHole {
    SharpEdgedHole::new(mm(diameter)).unwrap()
}

type Law = Box<dyn LeakLaw>;

/// One of each, in the order of [`NAMES`].
fn each() -> Vec<Law> {
    vec![
        Box::new(orifice(0.05)),
        Box::new(hole(0.3)),
        Box::new(sonic(1e-10, 0.3)),
        Box::new(capillary(0.1, 10.0)),
        Box::new(slot(10.0, 0.02, 5.0)),
        Box::new(power(1e-5, 0.65)),
        Box::new(Parallel::new().and(orifice(0.02)).and(capillary(0.1, 10.0))),
    ]
}

fn flow(law: &dyn LeakLaw, gas: &Gas, upstream: f64, downstream: f64) -> f64 {
    law.mass_flow(gas, state(upstream), pressure(downstream))
        .get::<kilogram_per_second>()
}

fn notes(law: &dyn LeakLaw, upstream: f64, downstream: f64) -> Vec<RangeNote> {
    law.regime(&Gas::dry_air(), state(upstream), pressure(downstream))
        .out_of_range
}

#[test]
fn names_are_those_of_the_list() {
    let names: Vec<_> = each().iter().map(|law| law.name()).collect();
    assert_eq!(names, NAMES);
    let unique: std::collections::BTreeSet<_> = names.iter().collect();
    assert_eq!(unique.len(), NAMES.len());
}

#[test]
fn nothing_flows_without_a_difference_or_against_it() {
    for law in each() {
        for downstream in [101_325.0, 101_325.0_f64.next_up(), 150e3] {
            let got = flow(&*law, &Gas::dry_air(), 101_325.0, downstream);
            assert_eq!(got, 0.0, "{law:?}");
            let regime = law.regime(&Gas::dry_air(), state(101_325.0), pressure(downstream));
            assert_eq!(regime.kind, FlowKind::Subsonic);
            assert!(regime.reynolds.is_none_or(|re| re == 0.0), "{regime:?}");
            assert!(regime.mach.is_none_or(|mach| mach == 0.0), "{regime:?}");
        }
        let error = EffectiveArea::passing(
            &*law,
            &Gas::dry_air(),
            state(101_325.0),
            pressure(101_325.0),
        );
        assert!(matches!(error, Err(LeakError::NoFlow { .. })));
    }
}

#[test]
fn a_closed_passage_passes_nothing_and_says_no_wrong_number() {
    let closed: [Law; 6] = [
        Box::new(orifice(0.0)),
        Box::new(hole(0.0)),
        Box::new(capillary(0.0, 1.0)),
        Box::new(slot(0.0, 0.0, 1.0)),
        Box::new(power(0.0, 0.5)),
        Box::new(Parallel::new()),
    ];
    for law in closed {
        assert_eq!(flow(&*law, &Gas::dry_air(), 150e3, 1e5), 0.0, "{law:?}");
        let regime = law.regime(&Gas::dry_air(), state(150e3), pressure(1e5));
        assert!(regime.reynolds.is_none(), "{regime:?}");
        assert!(regime.knudsen.is_none(), "{regime:?}");
    }
}

#[test]
fn choked_flow_is_a_plateau() {
    let air = Gas::dry_air();
    for (law, critical) in [
        (
            Box::new(orifice(0.05)) as Law,
            air.critical_pressure_ratio(),
        ),
        (Box::new(sonic(1e-10, 0.3)), 0.3),
        (Box::new(sonic(1e-10, 0.3).with_exponent(0.6).unwrap()), 0.3),
        (Box::new(power(1e-5, 0.5)), 1.0 / 3.0),
    ] {
        let at = |x: f64| flow(&*law, &air, 2e5, 2e5 * x);
        assert_eq!(at(critical * 0.999), at(0.01));
        // Continuous there, and falling beyond.
        let beyond = at(critical * (1.0 + 1e-7)) / at(critical * 0.999);
        assert!((beyond - 1.0).abs() < 1e-6, "{law:?} {beyond}");
        assert!(at(critical + 0.05) < at(critical));
        let kind = |x: f64| law.regime(&air, state(2e5), pressure(2e5 * x)).kind;
        assert_eq!(kind(critical * 0.999), FlowKind::Choked);
        assert_eq!(kind(critical * 1.001), FlowKind::Subsonic);
    }
    // The jet of a sharp-edged hole goes on widening: a tenth more flow, no plateau.
    let hole = hole(0.3);
    let rise = flow(&hole, &air, 2e5, 2e3) / flow(&hole, &air, 2e5, 105e3);
    assert!((1.10..1.16).contains(&rise), "{rise}");
}

/// Whether a note of this kind stands with a law at two pressures.
fn has(law: &dyn LeakLaw, upstream: f64, downstream: f64, is: fn(&RangeNote) -> bool) -> bool {
    notes(law, upstream, downstream).iter().any(is)
}

#[test]
fn each_range_note_of_a_hole_is_given_where_it_should_be() {
    assert!(has(&orifice(1e-5), 101e3, 1e5, |n| matches!(
        n,
        RangeNote::LowReynolds { .. }
    )));
    assert_eq!(notes(&orifice(0.05), 150e3, 1e5), []);
    assert!(has(&orifice(1e-6), 150e3, 1e5, |n| matches!(
        n,
        RangeNote::Slip { .. }
    )));
}

#[test]
fn each_range_note_of_a_gap_is_given_where_it_should_be() {
    let wide = capillary(0.2, 100.0);
    assert!(has(&capillary(0.2, 10.0), 2e5, 1e5, |n| matches!(
        n,
        RangeNote::Turbulent { .. }
    )));
    assert!(has(&capillary(0.1, 10.0), 2e5, 1e5, |n| matches!(
        n,
        RangeNote::Fast { .. }
    )));
    assert!(has(&capillary(0.1, 5.0), 15e4, 1e5, |n| matches!(
        n,
        RangeNote::Entrance { .. }
    )));
    assert_eq!(notes(&wide, 105e3, 1e5), []);
    assert!(has(&capillary(0.004, 5.0), 15e4, 1e5, |n| matches!(
        n,
        RangeNote::Slip { .. }
    )));

    assert_eq!(notes(&slot(10.0, 0.02, 8.0), 15e4, 1e5), []);
    assert!(has(&slot(0.1, 0.02, 8.0), 15e4, 1e5, |n| matches!(
        n,
        RangeNote::EndWalls { .. }
    )));
    assert!(has(&slot(10.0, 0.004, 8.0), 15e4, 1e5, |n| matches!(
        n,
        RangeNote::Slip { .. }
    )));
}

#[test]
fn each_range_note_of_an_empirical_law_is_given_where_it_should_be() {
    assert!(has(&sonic(1e-10, 0.6), 15e4, 1e5, |n| matches!(
        n,
        RangeNote::CriticalRatio { .. }
    )));
    assert_eq!(notes(&sonic(1e-10, 0.5), 15e4, 1e5), []);

    assert!(has(&power(1e-5, 0.6), 15e4, 7e4, |n| matches!(
        n,
        RangeNote::BeyondChoking { .. }
    )));
    assert_eq!(notes(&power(1e-5, 0.6), 15e4, 1e5), []);

    let both = Parallel::new()
        .and(sonic(1e-10, 0.6))
        .and(power(1e-5, 0.6))
        .and(orifice(0.05));
    assert_eq!(notes(&both, 15e4, 7e4).len(), 2);
    for note in notes(&both, 15e4, 7e4) {
        assert!(note.to_string().contains("ideal nozzle") || note.to_string().contains("chokes"));
    }
}

#[test]
fn a_gas_of_unknown_viscosity_is_named() {
    let gas = Gas::new("mystery", 287.0, 1.4).unwrap();
    let scratch = capillary(0.1, 10.0);
    assert!(flow(&scratch, &gas, 150e3, 1e5).is_nan());
    assert_eq!(
        scratch
            .regime(&gas, state(150e3), pressure(1e5))
            .out_of_range,
        [RangeNote::ViscosityUnknown { gas: "mystery" }]
    );
    assert_eq!(
        EffectiveArea::passing(&scratch, &gas, state(150e3), pressure(1e5)),
        Err(LeakError::ViscosityUnknown {
            gas: "mystery",
            law: "capillary"
        })
    );
    // Laws that don't need it work, without the numbers that do.
    let regime = orifice(0.05).regime(&gas, state(150e3), pressure(1e5));
    assert_eq!((regime.reynolds, regime.knudsen), (None, None));
    assert!(regime.mach.is_some());
}

#[test]
fn what_no_leak_has_is_named() {
    for bad in [-1.0, f64::NAN, f64::INFINITY] {
        for error in [
            SharpEdgedHole::new(mm(bad)).unwrap_err(),
            Capillary::new(mm(bad), mm(1.0)).unwrap_err(),
            Capillary::new(mm(1.0), mm(bad)).unwrap_err(),
            Slot::new(mm(bad), mm(1.0), mm(1.0)).unwrap_err(),
            Slot::new(mm(1.0), mm(bad), mm(1.0)).unwrap_err(),
            Slot::new(mm(1.0), mm(1.0), mm(bad)).unwrap_err(),
        ] {
            assert!(matches!(error, LeakError::Dimension { .. }), "{error}");
        }
        let (flow, dp) = (
            VolumeRate::new::<cubic_meter_per_second>,
            Pressure::new::<pascal>,
        );
        assert!(matches!(
            PowerLaw::new(flow(bad), dp(1.0), 0.6),
            Err(LeakError::Flow { .. })
        ));
        assert!(matches!(
            PowerLaw::new(flow(1.0), dp(bad), 0.6),
            Err(LeakError::PressureDifference { .. })
        ));
        assert!(matches!(
            SonicConductance::from_cubic_meters_per_second_pascal(bad),
            Err(QuantityError::SonicConductance { .. })
        ));
    }
    assert_eq!(
        Capillary::new(mm(1.0), mm(0.0)).unwrap_err().to_string(),
        "capillary length 0 m is not a finite number above zero"
    );
    let c = SonicConductance::from_cubic_meters_per_second_pascal(1e-9).unwrap();
    for b in [-0.1, 1.0, f64::NAN] {
        assert!(matches!(
            SonicConductanceLaw::new(c, b),
            Err(LeakError::CriticalRatio { .. })
        ));
    }
    for exponent in [0.1, 1.1, f64::NAN] {
        assert!(matches!(
            sonic(1e-9, 0.3).with_exponent(exponent),
            Err(LeakError::Exponent { .. })
        ));
        assert!(matches!(
            PowerLaw::check_exponent(exponent),
            Err(LeakError::Exponent { .. })
        ));
    }
}

#[test]
fn another_gas_passes_a_sonic_passage_as_it_passes_a_throat() {
    let law = sonic(1e-10, 0.3);
    for gas in Gas::known() {
        let area = |law: &dyn LeakLaw| {
            EffectiveArea::passing(law, &gas, state(2e5), pressure(2e4)).unwrap()
        };
        let air = EffectiveArea::passing(&law, &Gas::dry_air(), state(2e5), pressure(2e4));
        let ratio = area(&law).square_meters() / air.unwrap().square_meters();
        assert!((ratio - 1.0).abs() < ROUNDING, "{gas:?} {ratio}");
    }
}

#[test]
fn a_law_of_exponent_one_is_the_laminar_law() {
    // c = pi d^4/(128 mu L), self-consistency.
    let air = Gas::dry_air();
    let mu = air.pascal_seconds(293.15).unwrap();
    let c = PI * 1e-16 / (128.0 * mu * 0.01);
    let line = power(c * 50e3, 1.0);
    for (up, down) in [(150e3, 1e5), (1e5, 2e4), (100.001e3, 1e5)] {
        let ratio = flow(&line, &air, up, down) / flow(&capillary(0.1, 10.0), &air, up, down);
        assert!((ratio - 1.0).abs() < ROUNDING, "{ratio}");
    }
}

proptest! {
    #[test]
    fn more_difference_passes_more(
        up in 20e3..300e3_f64,
        x in 0.02..0.98_f64,
        step in 0.001..0.02_f64,
    ) {
        let air = Gas::dry_air();
        for law in each() {
            let (less, more) = (flow(&*law, &air, up, up * (x + step)), flow(&*law, &air, up, up * x));
            prop_assert!(more >= less && less > 0.0, "{:?} {} {}", law, less, more);
            // A higher pressure upstream passes more too.
            prop_assert!(flow(&*law, &air, up * (1.0 + step), up * x) > more);
        }
    }

    #[test]
    fn flow_goes_with_the_size(scale in 0.1..10.0_f64, up in 105e3..300e3_f64) {
        let air = Gas::dry_air();
        let pairs: [(Law, Law, f64); 6] = [
            (Box::new(orifice(0.05)), Box::new(orifice(0.05 * scale)), scale),
            (Box::new(hole(0.3)), Box::new(hole(0.3 * scale)), scale.powi(2)),
            (Box::new(sonic(1e-10, 0.3)), Box::new(sonic(1e-10 * scale, 0.3)), scale),
            (Box::new(capillary(0.1, 10.0)), Box::new(capillary(0.1 * scale, 10.0 * scale)), scale.powi(3)),
            (Box::new(slot(10.0, 0.02, 5.0)), Box::new(slot(10.0 * scale, 0.02, 5.0)), scale),
            (Box::new(power(1e-5, 0.65)), Box::new(power(1e-5 * scale, 0.65)), scale),
        ];
        for (one, other, factor) in pairs {
            let ratio = flow(&*other, &air, up, 1e5) / flow(&*one, &air, up, 1e5);
            prop_assert!((ratio / factor - 1.0).abs() < ROUNDING, "{:?} {}", one, ratio);
        }
    }

    #[test]
    fn parts_add_up(a in 1e-4..0.1_f64, d in 0.01..0.1_f64, up in 101e3..300e3_f64) {
        let air = Gas::dry_air();
        let both = Parallel::new().and(orifice(a)).and(capillary(d, 10.0));
        let parts: f64 = both.parts().map(|part| flow(part, &air, up, 1e5)).sum();
        let total = flow(&both, &air, up, 1e5);
        prop_assert!((total / parts - 1.0).abs() < ROUNDING);
        let area = |law: &dyn LeakLaw| {
            EffectiveArea::passing(law, &air, state(up), pressure(1e5)).unwrap().square_meters()
        };
        let sum = area(&orifice(a)) + area(&capillary(d, 10.0));
        prop_assert!((area(&both) / sum - 1.0).abs() < ROUNDING);
    }

    #[test]
    fn an_orifice_passes_what_its_area_says(
        a in 1e-6..1.0_f64,
        up in 20e3..300e3_f64,
        x in 0.01..0.999_f64,
    ) {
        for gas in Gas::known() {
            let area = EffectiveArea::passing(&orifice(a), &gas, state(up), pressure(up * x)).unwrap();
            prop_assert!((area.square_meters() * 1e6 / a - 1.0).abs() < ROUNDING);
        }
    }

    #[test]
    fn the_hole_in_a_thin_wall_has_its_own_coefficient(d in 0.01..1.0_f64, x in 0.0..0.999_f64) {
        let area = EffectiveArea::passing(&hole(d), &Gas::dry_air(), state(2e5), pressure(2e5 * x.max(1e-6))).unwrap();
        let geometric = PI * d * d / 4.0 * 1e-6;
        let cd = area.square_meters() / geometric;
        prop_assert!((cd - SharpEdgedHole::discharge_coefficient(x.max(1e-6))).abs() < ROUNDING);
        prop_assert!((0.6..0.8415).contains(&cd));
    }
}
