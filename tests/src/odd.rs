//! Readings as no engine gives them, and what must never be said of them.
//!
//! [`sheets`] draws bench sheets whose readings fall, rest, jump, rise, scatter or stand, on usual benches and on absurd ones, with
//! and without a slip; [`faults`] assesses one and lists what is wrong with the answer:
//!
//! - "Holds" though the needle lost more than the limit allows, the gauge's own error added. What the limit allows comes from the
//!   simulator, what gas that settles may have taken on the way from its own bound; both know nothing of the library.
//! - A verdict that one moved decimal point turns into its opposite.
//! - NaN or an infinity in the document, in the sentences, in the batch table or on the page.

#![allow(
    clippy::indexing_slicing,
    reason = "a tally's own columns, whose number is known"
)]

use std::collections::BTreeMap;
use std::fmt::{self, Write as _};
use std::ops::Range;

use casetight::limit::Verdict;
use casetight_bench::batch::BatchRow;
use casetight_bench::session::Session;
use casetight_bench::sheet::{NoTraces, Sheet};
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::{RngAlgorithm, TestRng, TestRunner};
use rand::RngExt;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;

use crate::simulator::{DRY_AIR_GAS_R, Law, Thermal, Truth, flow_function, run_rng};

/// How the needle goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Course {
    /// It falls as through a leak.
    Leak,
    /// It falls at once and then rests off zero.
    Rest,
    /// It falls as through a leak, and jumps once.
    Jump,
    /// It settles, then falls slowly.
    Settle,
    /// It rises.
    Rise,
    /// It stands.
    Stand,
    /// It is anywhere.
    Scatter,
    /// It falls as through a leak, on a gauge whose zero is off.
    Offset,
}

impl Course {
    /// All of them.
    pub const ALL: [Self; 8] = [
        Self::Leak,
        Self::Rest,
        Self::Jump,
        Self::Settle,
        Self::Rise,
        Self::Stand,
        Self::Scatter,
        Self::Offset,
    ];

    /// In words.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Leak => "falls as through a leak",
            Self::Rest => "falls at once and rests off zero",
            Self::Jump => "falls as through a leak, and jumps",
            Self::Settle => "settles, then falls slowly",
            Self::Rise => "rises",
            Self::Stand => "stands",
            Self::Scatter => "scatters",
            Self::Offset => "falls, on a gauge whose zero is off",
        }
    }
}

/// The limit of a sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum OddLimit {
    /// No more than so much \[Pa\] from \[Pa\] in \[s\].
    Drop(f64, f64, f64),
    /// Effective area \[m2\].
    Area(f64),
    /// Flow \[m3/s\] at 0 C and 101.325 kPa.
    Flow(f64),
}

/// A bench sheet of one run.
#[derive(Debug, Clone, PartialEq)]
pub struct OddSheet {
    /// How the needle goes.
    pub course: Course,
    /// Volume \[m3\] and its relative standard uncertainty.
    pub volume: (f64, f64),
    /// Ambient pressure \[Pa\].
    pub ambient: f64,
    /// Step of the readings and noise \[Pa\].
    pub gauge: (f64, f64),
    /// Whether it is read by eye, against a stopwatch.
    pub dial: bool,
    /// Accuracy class.
    pub class: Option<f64>,
    /// Time \[s\] that the gas settled.
    pub settled_for: f64,
    /// Confidence level.
    pub level: f64,
    /// The limit.
    pub limit: OddLimit,
    /// Times \[s\] and gauge pressures \[Pa\].
    pub readings: Vec<(f64, f64)>,
}

/// One sheet in so many has its page drawn, which costs as much as all else.
const PAGES: usize = 4;
/// Wall temperature of all sheets \[K\].
const WALL: f64 = 293.15;
/// Standard uncertainty of the stopwatch beside a dial \[s\]; the sheet states it.
const STOPWATCH: f64 = 0.15;
/// Span that a class belongs to \[Pa\].
const SPAN: f64 = 100e3;

impl OddSheet {
    /// The sheet as it is written.
    #[must_use]
    pub fn text(&self) -> String {
        let (volume, relative) = self.volume;
        let (step, noise) = self.gauge;
        let mut text = format!(
            "format = 1\n[volume]\nvalue = \"{volume:e} m3\"\nuncertainty = \"{:e} m3\"\n[ambient]\npressure = \"{:e} Pa\"\n\
             temperature = \"{WALL} K\"\n[heat]\nsettled_for = \"{:e} s\"\n[gauge]\nunit = \"Pa\"\n",
            volume * relative,
            self.ambient,
            self.settled_for
        );
        let step = if self.dial {
            format!(
                "division = \"{step:e} Pa\"\nreadable = \"{step:e} Pa\"\nstopwatch = \"{STOPWATCH} s\"\n"
            )
        } else {
            format!("resolution = \"{step:e} Pa\"\n")
        };
        let _ = writeln!(text, "{step}noise = \"{noise:e} Pa\"");
        if let Some(class) = self.class {
            let _ = write!(text, "accuracy_class = {class}\nspan = \"{SPAN} Pa\"\n");
        }
        text.push_str("[limit]\n");
        let _ = match self.limit {
            OddLimit::Drop(drop, from, over) => writeln!(
                text,
                "max_drop = \"{drop:e} Pa\"\nfrom = \"{from:e} Pa\"\nover = \"{over:e} s\""
            ),
            OddLimit::Area(area) => writeln!(text, "max_area = \"{area:e} m2\""),
            OddLimit::Flow(flow) => writeln!(
                text,
                "max_flow = \"{flow:e} m3/s\"\nreference = \"0 C, 101.325 kPa\""
            ),
        };
        let _ = write!(
            text,
            "[assumptions]\nlevel = {}\n[[run]]\nname = \"odd\"\nreadings = [",
            self.level
        );
        for (time, gauge) in &self.readings {
            let _ = write!(text, "[{time:e}, {gauge:e}], ");
        }
        text.push_str("]\n");
        text
    }

    /// The same with the decimal point of one reading moved.
    #[must_use]
    pub fn with_slip(&self, row: usize, times: f64) -> Self {
        let mut slipped = self.clone();
        if let Some(reading) = slipped.readings.get_mut(row) {
            reading.1 *= times;
        }
        slipped
    }

    fn ends(&self) -> Option<((f64, f64), (f64, f64))> {
        Some((*self.readings.first()?, *self.readings.last()?))
    }

    /// The leak at its limit, from a start \[Pa\].
    fn at_limit(&self, start: f64) -> Truth {
        let with = |cd_area_m2, start_gauge_pa| Truth {
            law: Law::Orifice { cd_area_m2 },
            volume_m3: self.volume.0,
            ambient_pa: self.ambient,
            wall_temperature_k: WALL,
            gas_r: DRY_AIR_GAS_R,
            gamma: 1.4,
            start_gauge_pa,
            thermal: Thermal::Isothermal,
            wall_drift_k_per_s: 0.0,
        };
        let area = match self.limit {
            OddLimit::Area(area) => area,
            OddLimit::Flow(flow) => {
                let (up, down) = (
                    self.ambient.max(self.ambient + start),
                    self.ambient.min(self.ambient + start),
                );
                let density = 101_325.0 / (DRY_AIR_GAS_R * 273.15);
                flow * density * (DRY_AIR_GAS_R * WALL).sqrt()
                    / (up * flow_function(down / up, 1.4))
            }
            OddLimit::Drop(drop, from, over) => {
                // The time scales with one over the area.
                let from = from.copysign(start);
                let tried = self.volume.0 / over * 1e-3;
                let truth = with(tried, from);
                let takes = truth.time_to_gauge(from - drop.copysign(start));
                takes.map_or(f64::INFINITY, |takes| tried * takes / over)
            }
        };
        with(area, start)
    }

    /// What the needle may lose from one reading to another at the limit \[Pa\].
    fn allowed(&self, from: (f64, f64), to: (f64, f64)) -> f64 {
        let truth = self.at_limit(from.1);
        let Law::Orifice { cd_area_m2 } = truth.law else {
            return f64::INFINITY;
        };
        let stopwatch = if self.dial { 3.0 * STOPWATCH } else { 0.0 };
        let seconds = to.0 - from.0 + stopwatch;
        // How often the limit empties the case in this time, more or less.
        let turnover = cd_area_m2 * (DRY_AIR_GAS_R * WALL).sqrt() / self.volume.0 * seconds;
        if turnover > 30.0 {
            return from.1.abs();
        }
        let left = truth.gauge_at(&[seconds]);
        from.1.abs() - left.first().map_or(0.0, |left| left.abs())
    }

    /// The gauge's own error of a fall \[Pa\]: a step, three standard deviations of the difference's noise, and the class.
    fn error(&self, lost: f64) -> f64 {
        let (step, noise) = self.gauge;
        let class = self.class.map_or(0.0, |class| class / 100.0);
        step + 3.0 * 2.0_f64.sqrt() * noise + class * lost.abs()
    }

    /// Whether the needle lost more than the limit and the gauge's error allow: from the first reading to the last, or, where gas
    /// that was pumped can still have settled, after that.
    #[must_use]
    pub fn lost_too_much(&self) -> bool {
        let Some((first, last)) = self.ends() else {
            return false;
        };
        let beyond = |from: (f64, f64)| {
            let lost = from.1.abs() - last.1 * from.1.signum();
            lost > self.allowed(from, last) + self.error(lost)
        };
        if !beyond(first) {
            return false;
        }
        // Settling: tau = C/(hA) with the usual conductance, the slow end of it, and at most the adiabatic temperature.
        let tau = self.ambient * self.volume.0
            / (0.4 * WALL)
            / (0.35 * (self.volume.0 / 250e-6).powf(2.0 / 3.0))
            * 0.9_f64.exp();
        let settled = first.0 + 5.0 * tau - self.settled_for;
        let Some(from) = self
            .readings
            .iter()
            .find(|r| r.0 >= settled)
            .filter(|r| r.0 > first.0)
        else {
            return true;
        };
        let adiabatic = ((1.0 + first.1 / self.ambient).powf(0.4 / 1.4) - 1.0).abs();
        let inside = self.ambient + first.1;
        let early = first.1.abs() - from.1.abs();
        // Some more, for what leaks meanwhile; and gas that was cooled by a third warms by a half.
        let cold = if first.1 < 0.0 {
            adiabatic / (1.0 - adiabatic)
        } else {
            0.0
        };
        let by_heat = inside * (1.2 * adiabatic).max(cold) + self.error(early);
        early > self.allowed(first, *from) + by_heat || beyond(*from)
    }
}

/// What was said of many sheets, by how their needles go.
#[derive(Debug, Default)]
pub struct Tally {
    rows: BTreeMap<&'static str, [usize; 5]>,
    /// Each fault, and the sheet.
    pub faults: Vec<(String, String)>,
}

impl Tally {
    /// Head of its table.
    pub const HEAD: &'static str = "| needle | sheets | holds | leaks | undecided | refused | faults |\n|---|---:|---:|---:|---:|---:|---:|";

    /// Assesses the sheets of these numbers, the same ones each time, and counts what was said of them.
    pub fn assess(&mut self, sheets: Range<u32>) {
        let answers: Vec<_> = sheets
            .into_par_iter()
            .filter_map(sheet_of)
            .map(|(sheet, slipped)| (sheet.course.name(), faults(&sheet, slipped), sheet))
            .collect();
        for (course, (verdict, faults), sheet) in answers {
            self.count(course, verdict, faults.len());
            let told = faults.into_iter().map(|fault| (fault, sheet.text()));
            self.faults.extend(told);
        }
    }

    fn count(&mut self, course: &'static str, verdict: Option<Verdict>, faults: usize) {
        let row = self.rows.entry(course).or_default();
        let column = match verdict {
            Some(Verdict::Holds) => 0,
            Some(Verdict::Leaks) => 1,
            Some(_) => 2,
            None => 3,
        };
        row[column] += 1;
        row[4] += faults;
    }
}

impl fmt::Display for Tally {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (course, [holds, leaks, undecided, refused, faults]) in &self.rows {
            let sheets = holds + leaks + undecided + refused;
            writeln!(
                f,
                "| {course} | {sheets} | {holds} | {leaks} | {undecided} | {refused} | {faults} |"
            )?;
        }
        Ok(())
    }
}

/// The sheet of a number, and the reading of it that slips.
fn sheet_of(number: u32) -> Option<(OddSheet, usize)> {
    let seed: Vec<u8> = (0_u8..8)
        .flat_map(|i| (number ^ u32::from(i).rotate_right(3)).to_le_bytes())
        .collect();
    let rng = TestRng::from_seed(RngAlgorithm::ChaCha, &seed);
    let mut runner = TestRunner::new_with_rng(ProptestConfig::default(), rng);
    let tree = (sheets(), any::<usize>()).new_tree(&mut runner);
    tree.map(|tree| tree.current()).ok()
}

fn log_uniform(from: f64, to: f64) -> impl Strategy<Value = f64> {
    (from.ln()..to.ln()).prop_map(f64::exp)
}

fn limits() -> impl Strategy<Value = OddLimit> {
    prop_oneof![
        3 => (0.02..0.5_f64, 10e3..60e3_f64, 10.0..120.0_f64)
            .prop_map(|(part, from, over)| OddLimit::Drop(part * from, from, over)),
        2 => log_uniform(1e-11, 1e-6).prop_map(OddLimit::Area),
        1 => log_uniform(1e-8, 1e-4).prop_map(OddLimit::Flow),
    ]
}

/// The bench: volume, ambient, gauge, and what is told of them.
fn benches() -> impl Strategy<Value = OddSheet> {
    let usual = (
        log_uniform(20e-6, 1e-3),
        0.0..0.1_f64,
        85e3..103e3_f64,
        log_uniform(10.0, 2e3),
        0.05..1.0_f64,
    );
    let absurd = (
        log_uniform(1e-9, 10.0),
        0.0..0.5_f64,
        40e3..110e3_f64,
        log_uniform(1e-3, 2e4),
        0.0..3.0_f64,
    );
    let bench = prop_oneof![4 => usual.boxed(), 1 => absurd.boxed()];
    let told = (
        prop_oneof![Just(0.0), 0.0..60.0_f64],
        prop_oneof![4 => Just(0.95), 1 => 0.5..0.9999_f64],
        prop_oneof![2 => Just(None), 1 => (0.25..4.0_f64).prop_map(Some)],
    );
    (
        bench,
        told,
        any::<bool>(),
        limits(),
        prop::sample::select(&Course::ALL[..]),
    )
        .prop_map(
            |(
                (volume, relative, ambient, step, noise),
                (settled_for, level, class),
                dial,
                limit,
                course,
            )| OddSheet {
                course,
                volume: (volume, relative),
                ambient,
                gauge: (step, noise * step * if dial { 0.2 } else { 1.0 }),
                dial,
                class,
                settled_for,
                level,
                limit,
                readings: Vec::new(),
            },
        )
}

/// Sheets with readings.
pub fn sheets() -> impl Strategy<Value = OddSheet> {
    (
        benches(),
        2..17_usize,
        log_uniform(5.0, 900.0),
        (
            prop_oneof![3 => 3e3..69e3_f64, 2 => -0.9..-0.05_f64],
            log_uniform(1.0, 1e5),
            0.0..1.0_f64,
        ),
        any::<u64>(),
    )
        .prop_map(|(mut sheet, count, hold, (start, tau, part), seed)| {
            let start = if start > 0.0 {
                start
            } else {
                start * sheet.ambient
            };
            let mut rng = run_rng(seed, 0);
            let place = rng.random_range(1..count);
            for i in 0..count {
                let time = hold * i as f64 / (count - 1) as f64;
                let fall = (-time / tau).exp();
                let of_start = match sheet.course {
                    Course::Leak | Course::Offset => fall,
                    Course::Rest if i < place => 1.0,
                    Course::Rest => part * (-time / (1e3 * tau)).exp(),
                    Course::Jump if i < place => fall,
                    Course::Jump => part * fall,
                    Course::Settle => (1.0 - 0.4 * part * (1.0 - (-time / 2.0).exp())) * fall,
                    Course::Rise => 1.0 + 0.3 * part * time / hold,
                    Course::Stand => 1.0,
                    Course::Scatter => rng.random_range(0.02..1.0),
                };
                let offset = if sheet.course == Course::Offset {
                    3e3 * (part - 0.5)
                } else {
                    0.0
                };
                let (step, noise) = sheet.gauge;
                let deviate: f64 = StandardNormal.sample(&mut rng);
                let read = start * of_start + offset + noise * deviate;
                sheet.readings.push((time, (read / step).round() * step));
            }
            sheet
        })
}

/// Verdict of a sheet; none where it is refused or not judged.
fn assessed(sheet: &OddSheet) -> Option<(Sheet, Session)> {
    let sheet = Sheet::parse(&sheet.text(), "odd.toml", &NoTraces).ok()?;
    let session = Session::assess(&sheet).ok()?;
    Some((sheet, session))
}

fn verdict(session: &Session) -> Option<Verdict> {
    session.runs.first()?.assessment.verdict
}

fn verdict_on(sheet: &OddSheet) -> Option<Verdict> {
    verdict(&assessed(sheet)?.1)
}

/// The verdict on a sheet, none where it is refused, and what is wrong with the answer; empty where nothing is. The reading in place
/// `slipped` is the one whose decimal point is moved, to the left or to the right.
#[must_use]
pub fn faults(odd: &OddSheet, slipped: usize) -> (Option<Verdict>, Vec<String>) {
    let Some((sheet, session)) = assessed(odd) else {
        return (None, Vec::new());
    };
    let said = verdict(&session);
    let mut faults = Vec::new();
    if said == Some(Verdict::Holds) && odd.lost_too_much() {
        faults.push("holds though the needle lost too much".to_owned());
    }
    let opposite = match said {
        Some(Verdict::Holds) => Some(Verdict::Leaks),
        Some(Verdict::Leaks) => Some(Verdict::Holds),
        _ => None,
    };
    if opposite.is_some() {
        let row = slipped % odd.readings.len();
        for times in [10.0, 0.1] {
            if verdict_on(&odd.with_slip(row, times)) == opposite {
                faults.push(format!(
                    "reading {} times {times} turns the verdict round",
                    row + 1
                ));
            }
        }
    }
    faults.extend(not_finite(&sheet, &session, slipped.is_multiple_of(PAGES)));
    (said, faults)
}

/// Where NaN or an infinity shows.
fn not_finite(sheet: &Sheet, session: &Session, page: bool) -> Vec<String> {
    let mut shown = Vec::new();
    for run in &session.runs {
        shown.extend(run.assessment.notes.iter().map(ToString::to_string));
        let row = BatchRow::new("odd", &Ok(run.assessment.clone()));
        let numbers = [
            row.effective_area_m2,
            row.area_low_m2,
            row.area_high_m2,
            row.rate_per_s,
            row.rate_low_per_s,
            row.rate_high_per_s,
            row.start_gauge_pa,
            row.residual_rms_pa,
        ];
        shown.extend(
            numbers
                .into_iter()
                .flatten()
                .map(|number| number.to_string()),
        );
    }
    shown.extend(session.next.iter().map(ToString::to_string));
    match session
        .document()
        .map(|document| serde_json::to_string(&document))
    {
        Ok(Ok(text)) => shown.push(text),
        _ => return vec!["no document".to_owned()],
    }
    if page {
        match casetight_report::Report::new(sheet, None) {
            Ok(report) => shown.push(report.page()),
            Err(error) => return vec![format!("no page: {error}")],
        }
    }
    let is_bad = |word: &str| ["NaN", "inf", "-inf", "infinity"].contains(&word);
    let words = |text: &str| {
        let bad = text
            .split(|c: char| !(c.is_alphanumeric() || c == '-'))
            .find(|w| is_bad(w));
        bad.map(str::to_owned)
    };
    let bad = shown
        .iter()
        .find_map(|text| words(text).map(|word| (word, text)));
    bad.map(|(word, text)| {
        let at = text.find(&word).unwrap_or(0);
        let from = text.floor_char_boundary(at.saturating_sub(60));
        let to = text.ceil_char_boundary((at + 60).min(text.len()));
        format!("{word} in: {}", text.get(from..to).unwrap_or_default())
    })
    .into_iter()
    .collect()
}
