//! Leaks of several laws tested from several pressures: whether sites, repairs and trends are told as well where the runs of one
//! leak start from unlike pressures. The engines are those of [`simulator`](crate::simulator), which shares no law with the library.

use std::f64::consts::PI;
use std::fmt::Write;

use casetight::vessel::Heat;
use casetight_bench::compare::{Course, compare_sheets, trend_of_sheets};
use casetight_bench::locate::locate;
use casetight_bench::record::Site;
use casetight_bench::sheet::{NoTraces, Sheet};
use rand::{Rng, RngExt};
use rand_distr::{Distribution, StandardNormal};

use crate::isolation::Held;
use crate::simulator::{DRY_AIR_GAS_R, Instrument, Law, Thermal, Truth, study};

const AMBIENT_PA: f64 = 101_325.0;
const WALL_K: f64 = 293.15;
/// Pressure that the sizes of leaks are drawn at \[Pa\].
const DRAWN_AT_PA: f64 = 40e3;
/// Relative standard uncertainty of the volume that a sheet states.
const VOLUME_UNCERTAINTY: f64 = 0.03;
/// The gauge of all runs, by which a hole and a fine gap are told apart in part of them: its step and noise \[Pa\].
const STEP_PA: f64 = 100.0;
const NOISE_PA: f64 = 60.0;
const READINGS: usize = 24;
const LONGEST_HOLD_S: f64 = 600.0;
/// A blank is worth a run: the sites of an engine, by the names that a sheet gives them.
const SITES: [&str; 3] = ["hole", "gap", "cover"];

/// A case with a leak, and the volume that its sheet states.
struct Case {
    stated_m3: f64,
    truth: Truth,
}

/// A run as a sheet has it.
struct Row {
    name: String,
    blanked: Vec<&'static str>,
    readings: Vec<(f64, f64)>,
}

impl Case {
    fn draw(rng: &mut impl Rng) -> Self {
        let stated_m3: f64 = rng.random_range(100e-6..600e-6);
        let off: f64 = StandardNormal.sample(rng);
        let truth = Truth {
            law: Law::Orifice { cd_area_m2: 0.0 },
            volume_m3: stated_m3 * (1.0 + VOLUME_UNCERTAINTY * off),
            ambient_pa: AMBIENT_PA,
            wall_temperature_k: WALL_K,
            gas_r: DRY_AIR_GAS_R,
            gamma: 1.4,
            start_gauge_pa: DRAWN_AT_PA,
            thermal: Thermal::Isothermal,
            wall_drift_k_per_s: 0.0,
        };
        Self { stated_m3, truth }
    }

    /// This leak from this pressure.
    fn with(&self, law: Law, start_gauge_pa: f64) -> Truth {
        Truth {
            law,
            start_gauge_pa,
            ..self.truth.clone()
        }
    }

    /// A leak of this kind with the flow of an orifice of this area at the pressure that sizes are drawn at.
    fn sized(&self, kind: &Law, area_m2: f64) -> Law {
        let of_one = kind.orifice_area_at(&self.with(kind.clone(), DRAWN_AT_PA));
        kind.scaled(area_m2 / of_one)
    }

    /// The area of a leak at a pressure \[m2\].
    fn area_at(&self, law: &Law, gauge_pa: f64) -> f64 {
        law.orifice_area_at(&self.with(law.clone(), gauge_pa))
    }

    /// A run held until the needle has lost 20 to 70 %, or for ten minutes.
    fn run(&self, law: &Law, start_pa: f64, rng: &mut impl Rng) -> Vec<(f64, f64)> {
        let truth = self.with(law.clone(), start_pa);
        let left = start_pa * rng.random_range(0.3..0.8);
        let hold = truth.time_to_gauge(left);
        let hold = hold.map_or(LONGEST_HOLD_S, |hold| hold.min(LONGEST_HOLD_S));
        let times: Vec<f64> = (0..READINGS)
            .map(|i| hold * i as f64 / (READINGS - 1) as f64)
            .collect();
        let gauge = Instrument {
            resolution_pa: STEP_PA,
            noise_pa: NOISE_PA,
            ..Instrument::PERFECT
        };
        gauge.read(|moments| truth.gauge_at(moments), &times, rng)
    }

    fn sheet(&self, rows: &[Row]) -> Sheet {
        let mut text = format!(
            "format = 1\nmachine = \"simulated\"\n[volume]\nvalue = \"{} m3\"\nuncertainty = \"{} m3\"\n[ambient]\npressure = \
             \"{AMBIENT_PA} Pa\"\ntemperature = \"{WALL_K} K\"\n[gauge]\nunit = \"Pa\"\nresolution = \"{STEP_PA} Pa\"\nnoise = \
             \"{NOISE_PA} Pa\"\n[isolate]\nsites = {SITES:?}\n",
            self.stated_m3,
            VOLUME_UNCERTAINTY * self.stated_m3,
        );
        for row in rows {
            let readings: Vec<[f64; 2]> = row.readings.iter().map(|(t, g)| [*t, *g]).collect();
            // Writing to a string can't fail.
            let _ = writeln!(
                text,
                "[[run]]\nname = \"{}\"\nblanked = {:?}\nreadings = {readings:?}",
                row.name, row.blanked
            );
        }
        let mut sheet = Sheet::parse(&text, "simulated", &NoTraces).unwrap();
        sheet.heat = Heat::ISOTHERMAL;
        sheet
    }
}

/// Effective area of a hole of a size between two, evenly on the logarithm \[m2\].
fn hole_between((low, high): (f64, f64), rng: &mut impl Rng) -> f64 {
    let diameter = low * (high / low).powf(rng.random_range(0.0..1.0));
    0.62 * PI * diameter * diameter / 4.0
}

/// How often the interval of a leaking site's area holds the truth at the lowest start of the runs. An engine has a hole, a fine
/// gap and a cover between the two, each of the flow that a hole of 40 to 150 um has at 40 kPa; its runs, all open and then one
/// blank each, start between two pressures \[Pa\].
#[must_use]
pub fn isolated(starts_pa: (f64, f64), engines: u64, seed: u64) -> Held {
    let each = study(seed, engines, |_, rng| {
        let case = Case::draw(rng);
        let n = rng.random_range(0.6..0.95);
        let kinds = [
            Law::Orifice { cd_area_m2: 1.0 },
            Law::Laminar { c: 1.0 },
            Law::Power { c: 1.0, n },
        ];
        let leaks = kinds.map(|kind| case.sized(&kind, hole_between((40e-6, 150e-6), rng)));
        let mut lowest = f64::INFINITY;
        let rows: Vec<Row> = (0..=SITES.len())
            .map(|run| {
                let blanked = run.checked_sub(1);
                let open = (0..).zip(&leaks).filter(|(site, _)| Some(*site) != blanked);
                let open = Law::Sum(open.map(|(_, leak)| leak.clone()).collect());
                let start = rng.random_range(starts_pa.0..starts_pa.1);
                lowest = f64::min(lowest, start);
                Row {
                    name: format!("run {run}"),
                    blanked: blanked
                        .and_then(|site| SITES.get(site))
                        .copied()
                        .into_iter()
                        .collect(),
                    readings: case.run(&open, start, rng),
                }
            })
            .collect();
        let located = locate(&case.sheet(&rows)).unwrap();
        let mut held = Held::default();
        for (site, leak) in SITES.iter().zip(&leaks) {
            let site = Site::Other((*site).to_owned());
            for share in located
                .directions
                .iter()
                .filter_map(|of| of.found.share(&site))
            {
                let area = share.area.si();
                held.count(case.area_at(leak, lowest), area.low, area.high);
            }
        }
        held
    });
    each.into_iter().fold(Held::default(), |mut sum, one| {
        sum.add(one);
        sum
    })
}

/// A hole and a fine gap in parallel, with the flow of a hole of 60 to 150 um at 40 kPa, of which the hole has 20 to 80 %.
fn hole_and_gap(case: &Case, rng: &mut impl Rng) -> Law {
    let area = hole_between((60e-6, 150e-6), rng);
    let part = rng.random_range(0.2..0.8);
    Law::Sum(vec![
        case.sized(&Law::Orifice { cd_area_m2: 1.0 }, part * area),
        case.sized(&Law::Laminar { c: 1.0 }, (1.0 - part) * area),
    ])
}

/// One sheet for each start \[Pa\] of an unchanged leak, each start met to 2 % as a hand pump is.
fn again_and_again(starts_pa: &[f64], rng: &mut impl Rng) -> Vec<Sheet> {
    let case = Case::draw(rng);
    let leak = hole_and_gap(&case, rng);
    starts_pa
        .iter()
        .map(|start| {
            let start = start * rng.random_range(0.98..1.02);
            let row = Row {
                name: "pressure".to_owned(),
                blanked: Vec::new(),
                readings: case.run(&leak, start, rng),
            };
            case.sheet(&[row])
        })
        .collect()
}

/// How often an unchanged leak of a hole and a gap is said to have fallen, and to have grown, by tests from two pressures \[Pa\]:
/// parts of all pairs.
#[must_use]
pub fn said_to_change((before, after): (f64, f64), pairs: u64, seed: u64) -> (f64, f64) {
    let said: Vec<(bool, bool)> = study(seed, pairs, |_, rng| {
        let sheets = again_and_again(&[before, after], rng);
        let [one, other] = sheets.as_slice() else {
            return (true, true);
        };
        let compared = compare_sheets(one, other, None).unwrap();
        let of = &compared.pairs.first().unwrap().comparison;
        let told = of.p_value < 0.05;
        (
            told && of.probability_fell > 0.5,
            told && of.probability_fell <= 0.5,
        )
    });
    let part = |of: &dyn Fn(&(bool, bool)) -> bool| {
        said.iter().filter(|one| of(one)).count() as f64 / pairs as f64
    };
    (part(&|one| one.0), part(&|one| one.1))
}

/// How often an unchanged leak of a hole and a gap is said to shrink, and to grow, by tests from these pressures \[Pa\] in turn:
/// parts of all trends.
#[must_use]
pub fn said_to_drift(starts_pa: &[f64], trends: u64, seed: u64) -> (f64, f64) {
    let said: Vec<Course> = study(seed, trends, |_, rng| {
        let trends = trend_of_sheets(&again_and_again(starts_pa, rng), None).unwrap();
        trends.first().unwrap().trend.course
    });
    let part =
        |course: Course| said.iter().filter(|one| **one == course).count() as f64 / trends as f64;
    (part(Course::Shrinks), part(Course::Grows))
}
