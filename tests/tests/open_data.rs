//! Recorded and digitized data of others, read as a user would and cut into phases.
//!
//! Each expected value is open data: counted or read in the file itself, or stated in the PROVENANCE.md beside it.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "test code"
)]

use casetight::quantity::AbsolutePressure;
use casetight::record::{Column, Phase, PhaseKind, ReadingProfile, Readings, Segments};
use casetight::vessel::Direction;
use casetight_tests::open_data::{
    Chamber, chamber_profile, cylinder, hyddown_discharge, hyddown_fill, zillen, zillen_by,
    zillen_restart,
};

/// Half the last digit of the files' bar \[Pa\].
const LAST_DIGIT: f64 = 50.0 + 1e-6;

fn kinds(chamber: &Chamber) -> Vec<PhaseKind> {
    let kind = |phase: &Phase| phase.kind;
    chamber.segments.phases().iter().map(kind).collect()
}

#[test]
fn a_machined_chamber_settles_and_then_hardly_falls() {
    let chamber = zillen("machined");
    let trace = &chamber.trace;
    // 1507 line ends and a last row without one.
    assert_eq!(trace.time_s.len(), 1508);
    assert_eq!((trace.time_s[0], trace.time_s[3]), (0.0, 0.301));
    assert!((trace.time_s[1507] - 151.303).abs() < 1e-9);
    assert!((trace.gauge_pa[0] - 731_500.0).abs() < LAST_DIGIT);
    assert!((trace.gauge_pa[1507] - 728_400.0).abs() < LAST_DIGIT);
    // No pump, no vent, and nothing but the gas's settling before the hold.
    let kinds = kinds(&chamber);
    assert!(
        kinds == [PhaseKind::Hold] || kinds == [PhaseKind::Settle, PhaseKind::Hold],
        "{:?}",
        chamber.segments.phases()
    );
    let readings = &chamber.readings;
    let (first, last) = (
        readings.gauges_pa()[0],
        readings.gauges_pa()[readings.len() - 1],
    );
    // In all it falls by 31 mbar in 151 s; the hold is at least half of that time, and falls by less.
    assert!(readings.duration().value >= 75.0);
    let fall = first - last;
    assert!((500.0..3500.0).contains(&fall), "{fall}");
    assert_eq!(readings.direction(), Direction::Pressure);
}

#[test]
fn a_printed_chamber_leaks_to_nothing_once_its_supply_is_shut() {
    let chamber = zillen("printed_015");
    let (first, last) = (
        chamber.trace.gauge_pa[0],
        *chamber.trace.gauge_pa.last().unwrap(),
    );
    assert!((first - 765_200.0).abs() < LAST_DIGIT && (last - 7_200.0).abs() < LAST_DIGIT);
    // For 7 s the supply holds it up; then it leaks, ever slower, to nothing: no vent.
    let phases = chamber.segments.phases();
    assert_eq!(
        kinds(&chamber),
        [PhaseKind::Pump, PhaseKind::Hold],
        "{phases:?}"
    );
    assert!((phases[1].start_s - 7.0).abs() < 0.4, "{phases:?}");
    assert!((chamber.readings.duration().value - 136.6).abs() < 0.6);
    // Ever slower: by thirds of the hold.
    let gauges = chamber.readings.gauges_pa();
    let at = |third: usize| gauges[third * (gauges.len() - 1) / 3];
    let falls = [at(0) - at(1), at(1) - at(2), at(2) - at(3)];
    assert!(
        falls[0] > falls[1] && falls[1] > falls[2] && falls[2] > 0.0,
        "{falls:?}"
    );
}

#[test]
fn volts_and_bar_of_one_sensor_agree() {
    // The pressure is twice the volts; both columns are rounded to three digits, the volts to half as many steps.
    let volts = ReadingProfile {
        pressure: Column::Number(2),
        scale: 2.0,
        ..chamber_profile()
    };
    let (by_volts, by_bar) = (zillen_by("printed_015", &volts), zillen("printed_015"));
    for (a, b) in by_volts.trace.gauge_pa.iter().zip(&by_bar.trace.gauge_pa) {
        // Half a step of the volts is 1 mbar, half a step of the bar 0.5 mbar.
        assert!((a - b).abs() <= 150.0 + 1e-6, "{a} {b}");
    }
}

#[test]
fn restarts_have_decimal_commas_and_drops() {
    for (column, end) in [
        ("Test 1", -24.0),
        ("Test 2", -24.0),
        ("test 3", -26.0),
        ("0 Meting", -37.0),
    ] {
        let trace = zillen_restart(column, 7500.0);
        assert_eq!(trace.time_s.len(), 1357, "{column}");
        assert!((trace.time_s[1] - 0.1).abs() < 1e-12 && (trace.time_s[1356] - 135.6).abs() < 1e-9);
        assert!((trace.gauge_pa[0] - 750_000.0).abs() < 1e-6);
        assert!(
            (trace.gauge_pa[1356] - 100.0 * (7500.0 + end)).abs() < 1e-6,
            "{column}"
        );
        let segments = Segments::of(&trace.time_s, &trace.gauge_pa, None).unwrap();
        let window = segments.window().unwrap();
        assert!(
            window.to_s - window.from_s > 60.0,
            "{column}: {:?}",
            segments.phases()
        );
    }
}

#[test]
fn a_cylinder_filled_from_vacuum_and_one_emptied() {
    let ambient = AbsolutePressure::from_pascals(cylinder::AMBIENT_PA).unwrap();
    for ((times, gauges), count, first_bar, last_bar, direction) in [
        (hyddown_fill(), 14, 0.019_082, 1.0054, Direction::Vacuum),
        (hyddown_discharge(), 15, 7.6883, 1.0059, Direction::Pressure),
    ] {
        assert_eq!(times.len(), count);
        let absolute = |gauge: f64| (gauge + cylinder::AMBIENT_PA) / 1e5;
        assert!((absolute(gauges[0]) - first_bar).abs() < 1e-9);
        assert!((absolute(gauges[count - 1]) - last_bar).abs() < 1e-9);
        let readings = Readings::from_si(&times, &gauges, ambient).unwrap();
        assert_eq!(readings.direction(), direction);
        // All of it is one course toward ambient.
        let segments = Segments::of(&times, &gauges, None).unwrap();
        assert_eq!(
            segments.window().unwrap().rows,
            0..count,
            "{:?}",
            segments.phases()
        );
    }
    // Length and diameter by hand: pi/4 0.200^2 0.515 = 0.016179 m3; 2.71 mm: 5.768 mm2.
    assert!((cylinder::VOLUME_M3 - 0.016_179).abs() < 5e-6);
    assert!((cylinder::ORIFICE_M2 - 5.768e-6).abs() < 5e-10);
}
