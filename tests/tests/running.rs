//! The pressure in the running case, and what a leak passes in a turn, against a script that shares nothing with the library.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "test code"
)]

mod common;

use casetight::gas::Gas;
use casetight::leak::Orifice;
use casetight::measured::Measured;
use casetight::quantity::{Angle, Frequency, Ratio, TradeUnits};
use casetight::volume::Engine;
use casetight_bench::running::{CasePressure, Conditions, LeakRange, LeanShift, Load, Ports};
use casetight_tests::table::{Row, Table};

use common::{absolute, area, of, state};

/// The script's Runge-Kutta steps: relative.
const PRESSURE: f64 = 1e-6;

/// Both sides integrate a root that starts at each crossing of ambient pressure in small steps: relative.
const FLOW: f64 = 1e-4;

fn exact<Q: casetight::measured::Measurable>(value: Q) -> Measured<Q> {
    Measured::exact(value).unwrap()
}

fn number(row: &Row<'_>, column: &str) -> Measured<Ratio> {
    exact(of(row.number(column), ""))
}

fn angle(row: &Row<'_>, column: &str) -> Measured<Angle> {
    exact(of(row.number(column), "deg"))
}

/// A row's engine, and how it runs, at one load.
fn stated(row: &Row<'_>) -> (Engine, Conditions) {
    let engine = Engine::new(
        exact(of(row.number("bore_mm"), "mm")),
        exact(of(row.number("stroke_mm"), "mm")),
        exact(of(row.number("rod_mm"), "mm")),
        number(row, "primary_compression_ratio"),
    )
    .unwrap();
    let load = Load {
        speed: Frequency::from_value_in(row.number("rpm"), "rpm").unwrap(),
        delivery_ratio: number(row, "delivery_ratio"),
    };
    let conditions = Conditions {
        ports: Ports {
            exhaust_opens: exact(of(105.0, "deg")),
            transfer_opens: angle(row, "transfer_opens"),
            intake_opens: angle(row, "intake_opens"),
            intake_closes: angle(row, "intake_closes"),
        },
        polytropic_exponent: number(row, "exponent"),
        idle: load.clone(),
        full: load,
    };
    (engine, conditions)
}

/// Independent script: `running_case.csv`.
#[test]
fn a_turn_agrees_with_an_independent_script() {
    let ambient = state(101_325.0, 293.15);
    let mut checked = 0;
    for row in Table::open("running_case.csv").rows() {
        let name = row.text("case");
        let (engine, conditions) = stated(&row);
        let load = &conditions.idle;
        let turn = CasePressure::new(&engine, &conditions, load, ambient.pressure).unwrap();
        for degrees in (0..360).step_by(30) {
            let expected = row.number(&format!("p{degrees}"));
            let gauge = turn.gauge_at(of(f64::from(degrees), "deg"));
            let got = gauge.absolute(absolute(101_325.0)).unwrap().pascals();
            assert!(
                (got / expected - 1.0).abs() < PRESSURE,
                "{name} at {degrees}: {got} {expected}"
            );
        }
        let hole = Orifice::new(area(row.number("area_mm2") * 1e-6));
        let leak = LeakRange {
            law: &hole,
            low: &hole,
            high: Some(&hole),
            level: 0.95,
        };
        let air = Gas::dry_air();
        let lean =
            LeanShift::new(&engine, &conditions, load, (&leak, &leak), (ambient, &air)).unwrap();
        for (what, got, column) in [
            ("delivered", lean.delivered_kg, "delivered_kg"),
            ("in", lean.leaked_in.si().value, "in_kg"),
            ("out", lean.leaked_out.si().value, "out_kg"),
        ] {
            let expected = row.number(column);
            assert!(
                (got / expected - 1.0).abs() < FLOW,
                "{name}, {what}: {got} {expected}"
            );
        }
        let shift = row.number("in_kg") / row.number("delivered_kg");
        assert!((lean.shift.value / shift - 1.0).abs() < 2.0 * FLOW);
        checked += 1;
    }
    assert_eq!(checked, 4);
}
