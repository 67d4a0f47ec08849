//! The theory manual says what the library does: numbers in its text are computed here and looked for, word by word.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "test code"
)]

mod common;

use std::collections::BTreeSet;
use std::f64::consts::PI;
use std::fs;
use std::path::{Path, PathBuf};

use casetight::gas::{Gas, GasState};
use casetight::gauge::{AccuracyClass, Gauge};
use casetight::leak::{EffectiveArea, KNUDSEN_LIMIT, LeakLaw, Orifice, SharpEdgedHole};
use casetight::limit::DECISION_PROBABILITY;
use casetight::measured::{Measurable, Measured};
use casetight::quantity::{
    GaugePressure, Length, Pressure, ReferenceConditions, SpecificGasConstant, TemperatureDrift,
    Time, TradeUnits, VolumeRate,
};
use casetight::readings::Bench;
use casetight::vessel::{Heat, IsothermalDecay, ThermalVessel, rate_per_area};
use casetight_bench::isolate::{LABORATORY_LIMIT_MOL_PER_S, Watcher, smallest_visible};

use common::{absolute, area, cubic_meters, gauge, of, state};

const SOURCES: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../docs/src");
const PSI: f64 = 6_894.757_293;
const AMBIENT_PA: f64 = 101_325.0;

fn read(place: &Path) -> String {
    fs::read_to_string(place).unwrap_or_else(|error| panic!("{}: {error}", place.display()))
}

/// A chapter of the manual as one line, its words one blank apart.
fn chapter(name: &str) -> String {
    let text = read(&Path::new(SOURCES).join("theory").join(format!("{name}.md")));
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[track_caller]
fn says(chapter: &str, words: &str) {
    assert!(chapter.contains(words), "the chapter does not say: {words}");
}

/// A number with so many significant digits.
fn digits(value: f64, count: i32) -> String {
    let before = value.abs().log10().floor();
    let decimals = (f64::from(count) - 1.0 - before).max(0.0);
    let mut places = 0;
    while f64::from(places) < decimals {
        places += 1;
    }
    let unit = 10.0_f64.powf(before + 1.0 - f64::from(count));
    let rounded = if decimals == 0.0 {
        (value / unit).round() * unit
    } else {
        value
    };
    format!("{rounded:.*}", usize::try_from(places).unwrap())
}

fn ambient() -> GasState {
    state(AMBIENT_PA, 293.15)
}

/// Which gauge pressure an orifice chokes at [kPa].
fn chokes_at(vacuum: bool) -> f64 {
    let critical = Gas::dry_air().critical_pressure_ratio();
    let pressure = if vacuum {
        AMBIENT_PA * critical
    } else {
        AMBIENT_PA / critical
    };
    (pressure - AMBIENT_PA) / 1e3
}

#[test]
fn what_a_decay_identifies() {
    let text = chapter("identified");
    let air = Gas::dry_air();
    says(&text, &format!("R = {:.3}$", air.specific_gas_constant()));
    says(&text, &format!("\\gamma = {}$", air.heat_capacity_ratio()));
    let by_coefficient = 100.0 * (1.0 - (0.62_f64 / 0.84).sqrt());
    says(&text, &format!("makes it {by_coefficient:.0} % smaller"));
    says(
        &text,
        &format!("3 K in 293 K count {:.1} %", 100.0 * 0.5 * 3.0 / 293.0),
    );
    for mm in [0.02, 0.05, 0.10, 0.30, 1.00] {
        let hole = EffectiveArea::of_hole(of::<Length>(mm, "mm"), 0.62).unwrap();
        let time = |from: f64, to: f64| {
            let decay =
                IsothermalDecay::new(hole, cubic_meters(250e-6), gauge(from), ambient(), &air);
            let time = decay.unwrap().time_to(gauge(to)).unwrap();
            digits(time.si_value(), 3)
        };
        let upstream = state(AMBIENT_PA + 7.0 * PSI, 293.15);
        let mass = Orifice::new(hole).mass_flow(&air, upstream, absolute(AMBIENT_PA));
        let r = SpecificGasConstant::from_si(air.specific_gas_constant()).unwrap();
        let flow: VolumeRate = ReferenceConditions::NORMAL
            .volume_rate_of_mass(mass, r)
            .unwrap();
        let row = format!(
            "| {mm:.2} mm | {} mm² | {} s | {} s | {} s | {} cm³/min |",
            digits(1e6 * hole.square_meters(), 3),
            time(7.0 * PSI, 6.0 * PSI),
            time(7.0 * PSI, 5.0 * PSI),
            time(-7.0 * PSI, -6.0 * PSI),
            digits(flow.value_in("cm3/min").unwrap(), 3),
        );
        says(&text, &row);
    }
}

#[test]
fn leak_laws() {
    let text = chapter("leak-laws");
    let air = Gas::dry_air();
    let critical = air.critical_pressure_ratio();
    let choked = Orifice::flow_function(&air, 0.0);
    says(&text, &format!("$x^*$ = {critical:.6}"));
    says(&text, &format!("$\\Psi^*$ = {choked:.6}"));
    says(&text, &format!("above {:.1} kPa gauge", chokes_at(false)));
    says(&text, &format!("below {:.1} kPa gauge", chokes_at(true)));
    let cd = SharpEdgedHole::discharge_coefficient;
    says(
        &text,
        &format!("{:.4} at $x = 1$ and {:.4} at $x = 0$", cd(1.0), cd(0.0)),
    );
    let at = |pascals: f64| cd(AMBIENT_PA / (AMBIENT_PA + pascals));
    let (first, last) = (at(70e3), at(5e3));
    says(
        &text,
        &format!("from {first:.3} at 70 kPa to {last:.3} at 5 kPa gauge"),
    );
    let shrinks = 100.0 * (1.0 - last / first);
    says(&text, &format!("shrink by {shrinks:.0} %"));
    // The ellipse with the ideal nozzle's critical ratio.
    let off = |x: f64| {
        let w = (x - critical) / (1.0 - critical);
        ((1.0 - w * w).sqrt() - Orifice::flow_function(&air, x) / choked).abs()
    };
    let largest = (1..1000)
        .map(|i| off(critical + (1.0 - critical) * f64::from(i) / 1000.0))
        .fold(0.0, f64::max);
    says(&text, &format!("within {largest:.4} of"));
    let conductance = 1e-6 * choked / (1.185 * (air.specific_gas_constant() * 293.15).sqrt());
    says(
        &text,
        &format!("1 mm² is {:.3} dm³/(s bar)", conductance * 1e3 * 1e5),
    );
    let path = air.mean_free_path(ambient()).unwrap().si_value();
    says(&text, &format!("{:.1} nm", 1e9 * path));
    says(
        &text,
        &format!("widths of {:.1} µm", 1e6 * path / KNUDSEN_LIMIT),
    );
    says(&text, &format!("is below {KNUDSEN_LIMIT}"));
}

#[test]
fn closed_forms() {
    let text = chapter("isothermal");
    let air = Gas::dry_air();
    let choked_s = |vacuum: bool| {
        let start = gauge(if vacuum { -60e3 } else { 120e3 });
        let decay = IsothermalDecay::from_rate(1.0, start, ambient(), &air).unwrap();
        decay.straightened(gauge(1e3 * chokes_at(vacuum))).unwrap()
    };
    says(&text, &format!("chokes above $s$ = {:.5}", choked_s(false)));
    says(&text, &format!("at $s$ = {:.5}", choked_s(true)));
    // The polynomial, and the speed sqrt(beta/2), by the formulas as they stand on the page.
    let decay = IsothermalDecay::from_rate(0.05, gauge(70e3), ambient(), &air).unwrap();
    let f = |y: f64| {
        let q = ((1.0 + y).powf(2.0 / 7.0) - 1.0).sqrt();
        q + 2.0 * q.powi(3) / 3.0 + q.powi(5) / 5.0
    };
    let (from, to) = (f(70e3 / AMBIENT_PA), f(20e3 / AMBIENT_PA));
    let time = (from - to) / (0.05 * (1.0_f64 / 7.0).sqrt());
    let got = decay.time_to(gauge(20e3)).unwrap().si_value();
    assert!((got / time - 1.0).abs() < 1e-13, "{got} {time}");
    let end = from * 7.0_f64.sqrt() / 0.05;
    let got = decay.ends_after().unwrap().si_value();
    assert!((got / end - 1.0).abs() < 1e-13, "{got} {end}");
}

#[test]
fn the_thermal_vessel() {
    let text = chapter("thermal");
    let air = Gas::dry_air();
    let capacity = AMBIENT_PA * 250e-6 / (293.15 * 0.4);
    says(&text, &format!("$m c_v$ is {capacity:.3} J/K"));
    // A case that is next to ambient, for the mass at ambient pressure.
    let leak = Orifice::new(area(5e-8));
    let at_rest = ThermalVessel::new(
        &leak,
        cubic_meters(250e-6),
        gauge(1e-3),
        ambient(),
        &air,
        of(0.35, "W/K"),
    );
    let tau = at_rest.unwrap().settling_time().unwrap().si_value();
    says(&text, &format!("$\\tau$ is {tau:.2} s"));
    says(&text, &format!("$\\tau$ = {tau:.2} s"));
    let warmed = 293.15 * ((1.0 + 7.0 * PSI / AMBIENT_PA).powf(2.0 / 7.0) - 1.0);
    says(&text, &format!("warm the gas by {warmed:.1} K"));
    let rate = 5e-8 * rate_per_area(cubic_meters(250e-6), ambient(), &air).unwrap();
    says(&text, &format!("$k$ = {rate:.3} 1/s"));
    says(&text, &format!("{:.1} Pa/s", 150e3 / 60.0 / 293.0));
    assert!(
        (5.0 * 10.0 * rate * tau) > 1.0,
        "ten times as large is not isothermal"
    );
}

/// What a vacuum and a discharge say of heat, in both chapters that say it.
#[test]
fn the_ambiguity_of_heat() {
    let leak = Orifice::new(area(5e-8));
    let adiabatic = |start: f64, time: f64| {
        let vessel = ThermalVessel::new(
            &leak,
            cubic_meters(250e-6),
            gauge(start),
            ambient(),
            &Gas::dry_air(),
            of(0.0, "W/K"),
        )
        .unwrap();
        vessel.gauge_at(&[of::<Time>(time, "s")]).unwrap()[0].pascals()
    };
    let isothermal = |start: f64, end: f64| {
        let decay = IsothermalDecay::new(
            area(5e-8),
            cubic_meters(250e-6),
            gauge(start),
            ambient(),
            &Gas::dry_air(),
        );
        decay.unwrap().time_to(gauge(end)).unwrap().si_value()
    };
    let fill = adiabatic(-60e3, isothermal(-60e3, -10e3) / 1.4);
    assert!((fill + 10e3).abs() < 1e-3, "{fill}");
    // 1.34 to 1.40 for a discharge: faster than by the one, slower than by the other.
    for (start, end) in [(70e3, 5e3), (200e3, 70e3), (50e3, 49e3)] {
        let time = isothermal(start, end);
        assert!(adiabatic(start, time / 1.34) < end, "{start} {end}");
        assert!(adiabatic(start, time / 1.40) > end, "{start} {end}");
    }
    for name in ["thermal", "unknowable"] {
        says(&chapter(name), "1.34 to 1.40");
        says(&chapter(name), "$\\gamma$ = 1.4");
    }
}

#[test]
fn the_gauge() {
    let text = chapter("gauge");
    let pascals = |value: f64| of::<Pressure>(value, "Pa");
    let step = 100.0;
    let dial = Gauge::dial(pascals(2.0 * step), pascals(step)).unwrap();
    let digital = Gauge::digital(pascals(step)).unwrap();
    let noise = |gauge: Gauge| gauge.noise().si_value() / step;
    says(&text, &format!("$\\sigma = {} h$", noise(dial)));
    says(&text, &format!("$\\sigma = {} h$", noise(digital)));
    says(
        &text,
        &format!("{} s at a dial", dial.stopwatch().si_value()),
    );
    let neglected = 100.0 * (-2.0 * PI * PI * 0.25_f64).exp();
    says(&text, &format!("{neglected:.1} % at $\\sigma = h/2$"));
    let classed = digital
        .with_accuracy_class(AccuracyClass {
            class: 1.6,
            span: of(100.0, "kPa"),
        })
        .unwrap();
    says(
        &text,
        &format!(
            "$u(b)$ = {:.0} Pa and $u(a)$ = {:.2} %",
            classed.offset_uncertainty().si_value(),
            100.0 * classed.scale_uncertainty()
        ),
    );
}

#[test]
fn the_fit() {
    let text = chapter("fit");
    let (low, high) = (
        0.35 * (-1.96 * 0.45_f64).exp(),
        0.35 * (1.96 * 0.45_f64).exp(),
    );
    assert!(
        (0.135..0.155).contains(&low) && (0.8..0.95).contains(&high),
        "{low} {high}"
    );
    let half = 0.5 * 293.15 * ((1.0 + 7.0 * PSI / AMBIENT_PA).powf(2.0 / 7.0) - 1.0);
    says(&text, &format!("at 7 psi is {half:.0} K"));
    let tau = AMBIENT_PA * 250e-6 / (293.15 * 0.4) / 0.35 * 0.45_f64.exp();
    let left = half * (-3.0 / tau).exp();
    says(&text, &format!("three seconds later it is {left:.2} K"));
}

#[test]
fn decisions() {
    let text = chapter("limits");
    let percent = 100.0 * DECISION_PROBABILITY;
    says(&text, &format!("**holds** at {percent:.0} % or more"));
    says(
        &text,
        &format!("**leaks** at {:.0} % or less", 100.0 - percent),
    );
    says(&text, "1.645 standard uncertainties");
    let other = 100.0 * (293.15 / 273.15 - 1.0);
    says(&text, &format!("alone make {other:.0} %"));
}

#[test]
fn soap() {
    let text = chapter("isolation");
    says(
        &text,
        &format!("$\\dot n$ = {LABORATORY_LIMIT_MOL_PER_S:e} mol/s"),
    );
    let bench = Bench {
        volume: Measured::exact(cubic_meters(250e-6)).unwrap(),
        ambient_pressure: Measured::exact(absolute(AMBIENT_PA)).unwrap(),
        temperature: Measured::exact(ambient().temperature).unwrap(),
        drift_allowance: TemperatureDrift::ZERO,
        effects: casetight::readings::Effects::none(),
        heat: Heat::default(),
        gauge: Gauge::digital(of(100.0, "Pa")).unwrap(),
        gas: Gas::dry_air(),
    };
    let hole = |pressure: GaugePressure| {
        let visible = smallest_visible(&bench, pressure, Watcher::Workshop).unwrap();
        visible.by_liquid.diameter(0.62).unwrap().si_value()
    };
    says(
        &text,
        &format!("At 7 psi this is {:.1} µm", 1e6 * hole(of(7.0, "psi"))),
    );
    says(
        &text,
        &format!("at 1 kPa it is {:.2} mm", 1e3 * hole(gauge(1e3))),
    );
}

// The book as a whole.

fn pages() -> Vec<PathBuf> {
    let (mut found, mut folders) = (Vec::new(), vec![PathBuf::from(SOURCES)]);
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|end| end == "md") {
                found.push(path);
            }
        }
    }
    found
}

/// Every citation of the book, a key in brackets within backticks, is in the bibliography.
#[test]
fn the_book_cites_what_the_bibliography_has() {
    let bibliography = read(&Path::new(SOURCES).join("../references.bib"));
    let mut cited = 0;
    for page in pages() {
        let text = read(&page);
        for code in text.split('`').skip(1).step_by(2) {
            let key = code.strip_prefix('[').and_then(|key| key.strip_suffix(']'));
            // A table of the bench sheet is in small letters.
            let is_key = |key: &&str| {
                key.chars().all(|c| c.is_ascii_alphanumeric())
                    && key.starts_with(|c: char| c.is_ascii_uppercase())
            };
            let Some(key) = key.filter(is_key) else {
                continue;
            };
            let entry = format!("{{{key},");
            assert!(bibliography.contains(&entry), "{}: {key}", page.display());
            cited += 1;
        }
    }
    assert!(cited > 40, "{cited}");
}

/// Links within the book lead to files, and the summary lists every page.
#[test]
fn links_lead_somewhere() {
    let mut listed = BTreeSet::new();
    for page in pages() {
        let folder = page.parent().unwrap();
        for target in read(&page)
            .split("](")
            .skip(1)
            .filter_map(|rest| rest.split(')').next())
        {
            if target.contains("://") || target.starts_with('#') {
                continue;
            }
            let file = target.split('#').next().unwrap();
            assert!(folder.join(file).is_file(), "{}: {target}", page.display());
            if page.ends_with("SUMMARY.md") {
                listed.insert(folder.join(file).canonicalize().unwrap());
            }
        }
    }
    for page in pages()
        .into_iter()
        .filter(|page| !page.ends_with("SUMMARY.md"))
    {
        let page = page.canonicalize().unwrap();
        assert!(
            listed.contains(&page),
            "{} is not in the summary",
            page.display()
        );
    }
}
