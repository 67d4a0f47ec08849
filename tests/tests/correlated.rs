//! Scatter that goes on from one reading to the next, against a simulator that shares no code with the library (`tests/src/worlds`).
#![allow(clippy::unwrap_used, clippy::panic, reason = "test code")]

use std::fmt::Write as _;

use casetight::fit::{Fit, FitNote};
use casetight_bench::assess::Outcome;
use casetight_bench::session::Session;
use casetight_bench::sheet::{NoTraces, Sheet};
use casetight_tests::simulator::run_rng;
use casetight_tests::worlds::{Direction, GaugeKind, Setup};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// Of one reading, as the sheet states it \[Pa\].
const NOISE_PA: f64 = 60.0;

fn normal(rng: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(rng)
}

/// A logger's run on an ordinary bench of which all else is known, each reading's scatter remembering so much of the one before, and the
/// true area \[m2\].
fn logged(
    direction: Direction,
    (memory, times_stated): (f64, f64),
    count: u32,
    seed: u64,
) -> (Fit, f64) {
    let rng = &mut run_rng(91, seed);
    let mut setup = Setup::draw(direction, GaugeKind::Digital, rng);
    setup.adiabatic_part = 0.0;
    setup.vessel.wall.drift_k_per_s = 0.0;
    let start = setup.vessel.start_gauge_pa;
    let setup = setup.with_start(start);
    let vessel = &setup.vessel;
    let last = count - 1;
    let times: Vec<f64> = (0..count)
        .map(|i| setup.hold_s * f64::from(i) / f64::from(last))
        .collect();
    let mut text = format!(
        "format = 1\n[volume]\nvalue = \"{:.4} cm3\"\nuncertainty = \"0.01 cm3\"\n[ambient]\npressure = \"{:.2} Pa\"\ntemperature = \"{:.3} C\"\n\
         temperature_uncertainty = \"0.1 K\"\ndrift_allowance = \"0 K/min\"\n[gauge]\nunit = \"Pa\"\nresolution = \"10 Pa\"\nnoise = \"{NOISE_PA} Pa\"\n\
         [heat]\nsettled_for = \"60 s\"\n[bench]\nzero = \"0 Pa\"\nlag = \"0 s\"\nstretch = \"0 %/bar\"\ncreep = \"0 %/bar\"\nwarmth = \"0 K\"\n\
         [[run]]\nname = \"all\"\nreadings = [",
        vessel.volume_m3 * 1e6,
        vessel.ambient_pa,
        vessel.wall.at(0.0) - 273.15,
    );
    let mut off = normal(rng);
    for (time, gauge) in times.iter().zip(vessel.gauge_at(&times)) {
        let read = ((gauge + times_stated * NOISE_PA * off) / 10.0).round() * 10.0;
        write!(text, "[{time:.2}, {read:.0}], ").unwrap();
        off = memory * off + (1.0 - memory * memory).sqrt() * normal(rng);
    }
    text.push(']');
    let sheet =
        Sheet::parse(&text, "sheet.toml", &NoTraces).unwrap_or_else(|e| panic!("{e}\n{text}"));
    let mut session = Session::assess(&sheet).unwrap();
    let Outcome::Fitted(fitted) = session.runs.remove(0).assessment.outcome else {
        panic!("no fit");
    };
    (fitted.fit, vessel.leak.area_m2)
}

/// What part of so many runs is covered, and of what part the scatter is told.
fn studied(direction: Direction, scatter: (f64, f64), (count, runs): (u32, u32)) -> (f64, f64) {
    let (mut covered, mut told) = (0, 0);
    for seed in 0..runs.into() {
        let (fit, truth) = logged(direction, scatter, count, seed);
        let area = fit.area.si();
        covered += u32::from(area.low <= truth && truth <= area.high);
        let is_told = |note: &FitNote| matches!(note, FitNote::Correlated { .. });
        told += u32::from(fit.notes.iter().any(is_told));
    }
    let part = |count: u32| f64::from(count) / f64::from(runs);
    (part(covered), part(told))
}

/// A logger's sixty readings, scattered as its sheet states, that remember four fifths or nine tenths of the one before: of 400 runs 0.89 to
/// 0.92 are covered, where 0.75 to 0.78 were under vacuum.
#[test]
fn intervals_of_scatter_that_goes_on_allow_for_it() {
    for direction in Direction::ALL {
        for memory in [0.8, 0.9] {
            let (covered, told) = studied(direction, (memory, 1.0), (60, 120));
            assert!(covered > 0.86, "{direction:?} {memory}: {covered}");
            assert!(told > 0.95, "{direction:?} {memory}: {told}");
        }
    }
}

/// More scatter than is stated, of which each reading remembers some, in 24 readings: 0.82 and 0.70 were covered.
#[test]
fn a_misfit_that_goes_on_is_allowed_for() {
    for direction in Direction::ALL {
        let (covered, _) = studied(direction, (0.7, 3.0), (24, 50));
        assert!(covered > 0.82, "{direction:?}: {covered}");
    }
}

/// Independent scatter of the stated size is taken for another once in a thousand runs, or so.
#[test]
fn independent_scatter_is_hardly_ever_taken_for_another() {
    for direction in Direction::ALL {
        let (covered, told) = studied(direction, (0.0, 1.0), (60, 200));
        assert!(covered > 0.92, "{direction:?}: {covered}");
        assert!(told < 0.02, "{direction:?}: {told}");
    }
}
