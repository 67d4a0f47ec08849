//! Times of the core on runs of usual size: `cargo bench -p casetight-benches`. The table in `README.md` says what each
//! measures.
#![forbid(unsafe_code)]
#![allow(
    clippy::unwrap_used,
    reason = "a benchmark whose run can't be made is broken, and says so"
)]

use casetight::fit::{Candidate, fit, fit_laws};
use casetight::gauge::{AccuracyClass, Gauge};
use casetight::limit::{Limit, Verdict};
use casetight::quantity::{Area, GaugePressure, Time, TradeUnits};
use casetight::readings::{Bench, Readings};
use casetight::vessel::{DecayLaw, Heat, IsothermalDecay};
use casetight_bench::assess::{Assumptions, assess};
use casetight_benches::{bench, decay, digital, readings};
use divan::{Bencher, black_box};

fn main() {
    divan::main();
}

/// Rate of a hole of 0.05 mm in 250 cm3 [1/s], and how long the run is [s].
const RATE: f64 = 1.41e-3;
const HOLD: f64 = 115.0;

const PRESSURE: f64 = 48_263.0;
const VACUUM: f64 = -48_263.0;
/// Choked at first.
const DEEP_VACUUM: f64 = -70_000.0;

fn on(gauge: Gauge) -> Bench {
    bench(250e-6, 101_325.0, 293.15, gauge).unwrap()
}

/// With heat and drift as on a bench that says nothing of them.
fn usual(bench: Bench) -> Bench {
    Bench {
        heat: Heat::default(),
        drift_allowance: of("0.1 K/min"),
        ..bench
    }
}

fn of<Q: TradeUnits>(text: &str) -> Q {
    Q::parse(text).unwrap()
}

fn fine() -> Gauge {
    digital(100.0, 60.0).unwrap()
}

fn classed() -> Gauge {
    let span = of("1 bar");
    fine()
        .with_accuracy_class(AccuracyClass { class: 1.6, span })
        .unwrap()
}

fn dial() -> Gauge {
    Gauge::dial(of("0.5 psi"), of("0.125 psi")).unwrap()
}

fn run(gauge: Gauge, start_pa: f64, count: u32) -> (Readings, Bench) {
    let bench = on(gauge);
    let readings = readings(&decay_from(start_pa, &bench), &bench, HOLD, count).unwrap();
    (readings, bench)
}

fn decay_from(start_pa: f64, bench: &Bench) -> IsothermalDecay {
    decay(RATE, start_pa, bench).unwrap()
}

/// One law on an isothermal vessel: the closed form alone.
#[divan::bench(args = [PRESSURE, VACUUM])]
fn fit_plain(bencher: Bencher<'_, '_>, start_pa: f64) {
    let (readings, bench) = run(fine(), start_pa, 24);
    let hole = [Candidate::certain(DecayLaw::Orifice)];
    bencher.bench_local(|| fit_laws(black_box(&readings), &bench, 0.95, &hole));
}

/// All laws, heat and drift: what an assessment does.
#[divan::bench(args = [PRESSURE, VACUUM])]
fn fit_whole(bencher: Bencher<'_, '_>, start_pa: f64) {
    let (readings, bench) = run(fine(), start_pa, 24);
    let bench = usual(bench);
    bencher.bench_local(|| fit(black_box(&readings), &bench, 0.95));
}

/// The same on a dial.
#[divan::bench(args = [9, 24])]
fn fit_whole_dial(bencher: Bencher<'_, '_>, count: u32) {
    let (readings, bench) = run(dial(), PRESSURE, count);
    let bench = usual(bench);
    bencher.bench_local(|| fit(black_box(&readings), &bench, 0.95));
}

/// The same for a leak as fast as the gas settles.
#[divan::bench]
fn fit_whole_fast(bencher: Bencher<'_, '_>) {
    let bench = usual(on(fine()));
    let decay = decay(0.1, PRESSURE, &bench).unwrap();
    let readings = readings(&decay, &bench, 3.0, 24).unwrap();
    bencher.bench_local(|| fit(black_box(&readings), &bench, 0.95));
}

#[divan::bench]
fn fit_classed(bencher: Bencher<'_, '_>) {
    let (readings, bench) = run(classed(), PRESSURE, 24);
    bencher.bench_local(|| fit(black_box(&readings), &bench, 0.95));
}

#[divan::bench]
fn fit_coarse(bencher: Bencher<'_, '_>) {
    let (readings, bench) = run(dial(), PRESSURE, 9);
    bencher.bench_local(|| fit(black_box(&readings), &bench, 0.95));
}

#[divan::bench]
fn fit_logged(bencher: Bencher<'_, '_>) {
    let (readings, bench) = run(fine(), PRESSURE, 100_000);
    bencher.bench_local(|| fit(black_box(&readings), &bench, 0.95));
}

#[divan::bench(args = [PRESSURE, VACUUM, DEEP_VACUUM])]
fn forward(bencher: Bencher<'_, '_>, start_pa: f64) {
    let decay = decay_from(start_pa, &on(fine()));
    let time: Time = of("20 s");
    bencher.bench_local(|| black_box(&decay).gauge_at(black_box(time)));
}

#[divan::bench(args = [PRESSURE, VACUUM])]
fn time_to(bencher: Bencher<'_, '_>, start_pa: f64) {
    let decay = decay_from(start_pa, &on(fine()));
    let half = GaugePressure::from_pascals(0.5 * start_pa).unwrap();
    bencher.bench_local(|| black_box(&decay).time_to(black_box(half)));
}

#[divan::bench]
fn assess_decided(bencher: Bencher<'_, '_>) {
    assess_against(bencher, "0.01 mm2", Verdict::Holds);
}

#[divan::bench]
fn assess_undecided(bencher: Bencher<'_, '_>) {
    // The leak's own area, near enough.
    assess_against(bencher, "0.00122 mm2", Verdict::Undecided);
}

fn assess_against(bencher: Bencher<'_, '_>, largest: &str, expected: Verdict) {
    let (readings, bench) = run(classed(), PRESSURE, 24);
    let (limit, assumptions) = (Limit::Area(of::<Area>(largest)), Assumptions::default());
    let work = || assess(black_box(&readings), &bench, &[limit], &assumptions);
    assert_eq!(work().unwrap().verdict, Some(expected));
    bencher.bench_local(work);
}
