//! Sequential tests: simulated runs that are judged while they are held, how often they are judged wrong, and how long
//! they take beside a hold whose length is fixed beforehand.

#![allow(clippy::float_cmp, reason = "a hold is known by its own length")]

use std::fmt;

use casetight::gas::Gas;
use casetight::gauge::{AccuracyClass, Gauge};
use casetight::limit::{Limit, Rule, Verdict};
use casetight::measured::{Distribution as Kind, Evaluation, Measured};
use casetight::quantity::{
    AbsolutePressure, Area, GaugePressure, TemperatureDrift, ThermodynamicTemperature, Time,
    TradeUnits, Volume,
};
use casetight::readings::Bench;
use casetight::vessel::{DecayLaw, Direction};
use casetight_bench::assess::{Assumptions, LEVEL};
use casetight_bench::watch::Watch;
use rand::{Rng, RngExt};
use rand_distr::{Distribution, StandardNormal};

use crate::coverage::wilson;
use crate::recovery::{Reader, dial, digital};
use crate::simulator::{DRY_AIR_GAS_R, Instrument, Law, Thermal, Truth, study};

/// What the sheet says: the leak is a hole. The study is of the looks, not of laws, and a fit of one law takes a hundredth of
/// the time.
fn told() -> Assumptions {
    Assumptions {
        law: Some(DecayLaw::Orifice),
        ..Assumptions::default()
    }
}

/// Nobody holds on for longer in this study \[s\].
pub const LONGEST_S: f64 = 300.0;

/// Most tests end in the first of these spans \[s\]; the later ones are simulated only where they don't.
const SPANS_S: [f64; 2] = [60.0, LONGEST_S];

/// Holds of fixed length that are tried, where a reading falls on their end \[s\].
const FIXED_S: [f64; 13] = [
    4.0, 6.0, 10.0, 20.0, 30.0, 40.0, 60.0, 80.0, 100.0, 130.0, 170.0, 230.0, LONGEST_S,
];

/// What is not known exactly in a study, beside the readings' noise and rounding.
#[derive(Debug, Clone, Copy)]
pub struct Unknown {
    /// Relative standard uncertainty of the volume.
    pub volume: f64,
    /// Standard deviation of a steady drift of the wall's temperature \[K/s\].
    pub drift_k_per_s: f64,
    /// Accuracy class of the gauge [% of 100 kPa], if it has one.
    pub class: Option<f64>,
}

impl Unknown {
    /// Nothing: noise and rounding only.
    pub const NOTHING: Self = Self {
        volume: 0.0,
        drift_k_per_s: 0.0,
        class: None,
    };
}

/// How a study's tests are made.
#[derive(Debug, Clone, Copy)]
pub struct Study {
    /// What the rows are called.
    pub name: &'static str,
    /// The gauge; its own number of readings is not used.
    pub reader: Reader,
    /// Time from reading to reading \[s\].
    pub pace_s: f64,
    /// Pressure or vacuum.
    pub direction: Direction,
    /// What is not known.
    pub unknown: Unknown,
}

/// A digital gauge that is logged every other second.
#[must_use]
pub fn logged(direction: Direction) -> Study {
    Study {
        name: "digital, each 2 s",
        reader: digital(),
        pace_s: 2.0,
        direction,
        unknown: Unknown::NOTHING,
    }
}

/// A dial that is read every ten seconds.
#[must_use]
pub fn read_by_eye(direction: Direction) -> Study {
    Study {
        name: "dial, each 10 s",
        reader: dial(),
        pace_s: 10.0,
        direction,
        unknown: Unknown::NOTHING,
    }
}

/// A digital gauge of class 0.6, a volume good to 2 %, a drift of 0.1 K/min: the limit is one of area.
#[must_use]
pub fn logged_with_all_unknown(direction: Direction) -> Study {
    Study {
        name: "digital, each 2 s; class, volume and drift unknown",
        unknown: Unknown {
            volume: 0.02,
            drift_k_per_s: 0.1 / 60.0,
            class: Some(0.6),
        },
        ..logged(direction)
    }
}

/// How one simulated test went.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Course {
    /// The verdict over all looks.
    pub verdict: Verdict,
    /// When it fell, or the longest hold \[s\].
    pub time_s: f64,
    /// The first verdict but undecided of a technician who looks as often at the plain 95 % rule.
    pub plain: Verdict,
    fixed: [Fixed; FIXED_S.len()],
}

/// A hold of fixed length.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Fixed {
    hold_s: f64,
    /// Whether a single look after it decides; none where the test was not simulated so far.
    decides: Option<bool>,
}

impl Study {
    /// Simulated tests of a leak of so many times the limit.
    ///
    /// # Panics
    /// If a test can't be simulated or assessed.
    #[must_use]
    pub fn run(&self, ratio: f64, tests: u64, seed: u64) -> Row {
        let courses = study(seed, tests, |_, rng| self.course(ratio, rng));
        Row::of(self.name, ratio, &courses)
    }

    fn course(&self, ratio: f64, rng: &mut impl Rng) -> Course {
        let (bench, limit, truth, instrument) = self.draw(ratio, rng);
        let mut watch = Watch::new(bench, vec![limit], told());
        let mut course = Course {
            verdict: Verdict::Undecided,
            time_s: LONGEST_S,
            plain: Verdict::Undecided,
            fixed: FIXED_S.map(|hold_s| Fixed {
                hold_s,
                decides: None,
            }),
        };
        let mut from = 0.0;
        for to in SPANS_S {
            let times: Vec<f64> = (0..)
                .map(|i| self.pace_s * f64::from(i))
                .skip_while(|t| *t < from)
                .take_while(|t| *t < to + 0.5 * self.pace_s)
                .collect();
            from = times.last().unwrap() + 0.5 * self.pace_s;
            for (time, gauge) in instrument.read(|moments| truth.gauge_at(moments), &times, rng) {
                let time_of = Time::from_value_in(time, "s").unwrap();
                watch
                    .push(time_of, GaugePressure::from_pascals(gauge).unwrap())
                    .unwrap();
                let fixed = course
                    .fixed
                    .iter_mut()
                    .find(|fixed| (fixed.hold_s - time).abs() < 1e-9);
                let look_is_due = watch.look_is_due();
                if fixed.is_none() && !look_is_due {
                    continue;
                }
                let update = watch.update().unwrap();
                let single = update.assessment.verdict.unwrap();
                if look_is_due && course.plain == Verdict::Undecided {
                    course.plain = single;
                }
                if course.verdict == Verdict::Undecided && update.decided() {
                    course.verdict = update.verdict.unwrap();
                    course.time_s = time;
                }
                if let Some(fixed) = fixed {
                    fixed.decides = Some(single != Verdict::Undecided);
                }
            }
            if course.verdict != Verdict::Undecided {
                break;
            }
        }
        course
    }

    /// The bench as the fit is told.
    fn bench(&self, volume_m3: f64, gauge: Gauge) -> Bench {
        let unknown = self.unknown;
        let volume = Volume::from_value_in(volume_m3, "m3").unwrap();
        Bench {
            volume: Measured::new(
                volume,
                volume * unknown.volume,
                Evaluation::TypeB(Kind::Normal),
            )
            .unwrap(),
            ambient_pressure: Measured::exact(AbsolutePressure::from_pascals(101_325.0).unwrap())
                .unwrap(),
            temperature: Measured::exact(
                ThermodynamicTemperature::from_value_in(293.15, "K").unwrap(),
            )
            .unwrap(),
            drift_allowance: TemperatureDrift::from_kelvins_per_second(unknown.drift_k_per_s)
                .unwrap(),
            effects: casetight::readings::Effects::none(),
            heat: casetight::vessel::Heat::ISOTHERMAL,
            gauge,
            gas: Gas::dry_air(),
        }
    }

    /// The bench as the fit is told, the limit, the truth, and the gauge with its own errors.
    fn draw(&self, ratio: f64, rng: &mut impl Rng) -> (Bench, Limit, Truth, Instrument) {
        let mut normal = |sigma: f64| -> f64 {
            let deviate: f64 = StandardNormal.sample(rng);
            sigma * deviate
        };
        let unknown = self.unknown;
        let (volume_off, drift) = (normal(unknown.volume), normal(unknown.drift_k_per_s));
        let gauge = match unknown.class {
            Some(class) => self
                .reader
                .gauge
                .with_accuracy_class(AccuracyClass {
                    class,
                    span: TradeUnits::parse("100 kPa").unwrap(),
                })
                .unwrap(),
            None => self.reader.gauge,
        };
        let instrument = Instrument {
            offset_pa: normal(gauge.offset_uncertainty().value),
            scale: 1.0 + normal(gauge.scale_uncertainty()),
            ..self.reader.instrument
        };
        let volume_m3 = rng.random_range(150e-6..400e-6);
        let start_gauge_pa = self.direction.sign() * 6894.757 * rng.random_range(6.5..8.0);
        let bench = self.bench(volume_m3, gauge);
        let rule = Rule::OnePsiAMinute.limit();
        let start = GaugePressure::from_pascals(start_gauge_pa).unwrap();
        let allowed = rule.allowed(&bench, self.direction, start).unwrap();
        let limit = if unknown.volume > 0.0 {
            Limit::Area(Area::from_value_in(allowed.area_m2, "m2").unwrap())
        } else {
            rule
        };
        let truth = Truth {
            law: Law::Orifice {
                cd_area_m2: ratio * allowed.area_m2,
            },
            volume_m3: volume_m3 * (1.0 + volume_off),
            ambient_pa: 101_325.0,
            wall_temperature_k: 293.15,
            gas_r: DRY_AIR_GAS_R,
            gamma: 1.4,
            start_gauge_pa,
            thermal: Thermal::Isothermal,
            wall_drift_k_per_s: drift,
        };
        (bench, limit, truth, instrument)
    }
}

/// How the tests of one leak went.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    name: &'static str,
    ratio: f64,
    tests: usize,
    /// Tests that ended with "holds".
    pub holds: usize,
    /// Tests that ended with "leaks".
    pub leaks: usize,
    /// Tests that a technician would have ended with "holds" who looks as often at the plain 95 % rule.
    pub plain_holds: usize,
    /// The same with "leaks".
    pub plain_leaks: usize,
    /// Mean time until the verdict, or the longest hold \[s\].
    pub mean_s: f64,
    /// The shortest of the fixed holds after which a single look decides at least as often; none where none does, or where most
    /// tests end undecided.
    pub fixed_s: Option<f64>,
}

impl Row {
    /// Head of the Markdown table.
    pub const HEAD: &'static str = "| gauge | leak/limit | tests | holds | leaks | undecided | wrong | 95 % of wrong | plain rule: wrong | mean time | fixed hold |\n\
         |---|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|";

    fn of(name: &'static str, ratio: f64, courses: &[Course]) -> Self {
        let count = |of: &dyn Fn(&Course) -> bool| courses.iter().filter(|c| of(c)).count();
        let decided = count(&|c| c.verdict != Verdict::Undecided);
        // A hold that was not simulated is longer than the test that was decided before: it decides as well. One that no
        // test has a reading at is none.
        let decides = |hold_s: f64| {
            let those = || {
                courses
                    .iter()
                    .filter_map(|c| c.fixed.iter().find(|fixed| fixed.hold_s == hold_s))
            };
            those().any(|fixed| fixed.decides.is_some())
                && those().filter(|f| f.decides.unwrap_or(true)).count() >= decided
        };
        // Near the limit neither way decides: there is nothing to compare.
        let fixed_s = (2 * decided > courses.len())
            .then(|| FIXED_S.into_iter().find(|hold_s| decides(*hold_s)))
            .flatten();
        Self {
            name,
            ratio,
            tests: courses.len(),
            holds: count(&|c| c.verdict == Verdict::Holds),
            leaks: count(&|c| c.verdict == Verdict::Leaks),
            plain_holds: count(&|c| c.plain == Verdict::Holds),
            plain_leaks: count(&|c| c.plain == Verdict::Leaks),
            mean_s: courses.iter().map(|c| c.time_s).sum::<f64>() / courses.len() as f64,
            fixed_s,
        }
    }

    /// Of the wrong verdicts, those that there are more of: at the limit itself both kinds are wrong.
    #[must_use]
    pub fn wrong(&self) -> usize {
        Self::wrong_of(self.ratio, self.holds, self.leaks)
    }

    fn wrong_of(ratio: f64, holds: usize, leaks: usize) -> usize {
        if ratio < 1.0 {
            leaks
        } else if ratio > 1.0 {
            holds
        } else {
            holds.max(leaks)
        }
    }

    /// Whether the study is consistent with at most this share of wrong verdicts.
    #[must_use]
    pub fn may_keep(&self, most: f64) -> bool {
        wilson(self.wrong(), self.tests).0 <= most
    }
}

impl fmt::Display for Row {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let share = |n: usize| 100.0 * n as f64 / self.tests as f64;
        let (low, high) = wilson(self.wrong(), self.tests);
        let plain = Self::wrong_of(self.ratio, self.plain_holds, self.plain_leaks);
        let fixed = self.fixed_s.map_or("-".to_owned(), |s| format!("{s:.0} s"));
        write!(
            f,
            "| {} | {} | {} | {} | {} | {} | {:.1} % | {:.1} to {:.1} % | {:.1} % | {:.0} s | {fixed} |",
            self.name,
            self.ratio,
            self.tests,
            self.holds,
            self.leaks,
            self.tests - self.holds - self.leaks,
            share(self.wrong()),
            100.0 * low,
            100.0 * high,
            share(plain),
            self.mean_s,
        )
    }
}

/// The level that both kinds of wrong verdicts keep.
pub const MOST_WRONG: f64 = 1.0 - LEVEL;
