//! A temperature that was logged beside the readings, against simulators that share no code with the library (`tests/src/worlds`).
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "test code"
)]

use std::collections::BTreeMap;
use std::fmt::Write as _;

use casetight::doubt::Doubt;
use casetight::fit::Fit;
use casetight::limit::Verdict;
use casetight::vessel::DecayLaw;
use casetight_bench::assess::{Note, Outcome};
use casetight_bench::session::{Session, SessionRun};
use casetight_bench::sheet::{NoTraces, Sheet};
use casetight_tests::simulator::run_rng;
use casetight_tests::worlds::{Direction, GaugeKind, Leak, Setup, Wall};
use rand::RngExt as _;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

fn normal(rng: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(rng)
}

/// How a thermometer sees a wall.
#[derive(Clone, Copy)]
struct Thermometer {
    /// By how much of its changes.
    share: f64,
    /// How long after \[s\].
    lag_s: f64,
    /// Scatter \[K\].
    noise_k: f64,
    /// Step \[K\].
    step_k: f64,
}

const PERFECT: Thermometer = Thermometer {
    share: 1.0,
    lag_s: 0.0,
    noise_k: 0.0,
    step_k: 0.0,
};

impl Thermometer {
    /// Under a strip of foam.
    fn usual(rng: &mut ChaCha8Rng) -> Self {
        Self {
            share: 1.0 + 0.1 * normal(rng),
            lag_s: 10.0 * normal(rng).abs(),
            noise_k: 0.05,
            step_k: 0.1,
        }
    }

    fn reads(&self, wall: &Wall, times: &[f64], rng: &mut ChaCha8Rng) -> Vec<f64> {
        let first = wall.at(0.0);
        let mut one = |time: &f64| {
            let seen = first
                + self.share * (wall.at(time - self.lag_s) - first)
                + self.noise_k * normal(rng);
            if self.step_k > 0.0 {
                (seen / self.step_k).round() * self.step_k
            } else {
                seen
            }
        };
        times.iter().map(&mut one).collect()
    }
}

/// A run as a logger kept it.
struct Logged {
    setup: Setup,
    /// Time \[s\], gauge pressure \[Pa\], temperature \[K\].
    rows: Vec<(f64, f64, f64)>,
}

impl Logged {
    /// Sixty readings of a digital gauge, evenly over the hold, beside what a thermometer saw.
    fn new(
        setup: Setup,
        (seen, thermometer): (&Wall, Thermometer),
        noise_pa: f64,
        rng: &mut ChaCha8Rng,
    ) -> Self {
        let place = |i: u32| (10.0 * setup.hold_s * f64::from(i) / 59.0).round() / 10.0;
        let times: Vec<f64> = (0..60).map(place).collect();
        let kelvins = thermometer.reads(seen, &times, rng);
        let mut rows = Vec::new();
        for ((time, gauge), kelvins) in times.iter().zip(setup.vessel.gauge_at(&times)).zip(kelvins)
        {
            let read = gauge + noise_pa * normal(rng);
            let read = if noise_pa > 0.0 {
                (read / 100.0).round() * 100.0
            } else {
                read
            };
            rows.push((*time, read, kelvins));
        }
        Self { setup, rows }
    }

    /// By a sheet that says what the thermometer touched; none leaves the column out.
    fn session(&self, touched: Option<&str>) -> Result<SessionRun, String> {
        let told = &self.setup.told;
        let thermometer = touched.unwrap_or("nearby");
        let text = format!(
            "format = 1\n[volume]\nvalue = \"{:.2} cm3\"\nuncertainty = \"{:.2} cm3\"\n\n[ambient]\npressure = \"{:.1} hPa\"\n\
             temperature = \"{:.1} C\"\nthermometer = \"{thermometer}\"\n[gauge]\nunit = \"kPa\"\nresolution = \"0.1 kPa\"\n\
             [limit]\nmax_area = \"1e-5 mm2\"\n[heat]\nsettled_for = \"60 s\"\n[[run]]\nname = \"all blanked\"\n\
             file = \"run.csv\"\nwindow = [0, {}]\n",
            told.volume_m3 * 1e6,
            told.volume_uncertainty_m3 * 1e6,
            told.ambient_pa / 100.0,
            told.temperature_k - 273.15,
            self.setup.hold_s,
        );
        let column = if touched.is_some() {
            "temperature_k"
        } else {
            "of_nothing"
        };
        let mut trace = format!("time_s,gauge_pa,{column}\n");
        for (time, gauge, kelvins) in &self.rows {
            writeln!(trace, "{time},{gauge:.3},{kelvins:.4}").unwrap();
        }
        let traces = BTreeMap::from([("run.csv".to_owned(), trace.into_bytes())]);
        let sheet = Sheet::parse(&text, "sheet.toml", &traces).map_err(|e| e.to_string())?;
        Ok(Session::assess(&sheet).unwrap().runs.remove(0))
    }

    fn assessed(&self, touched: Option<&str>) -> SessionRun {
        self.session(touched).unwrap_or_else(|e| panic!("{e}"))
    }

    fn fit(&self, touched: Option<&str>) -> Fit {
        match self.assessed(touched).assessment.outcome {
            Outcome::Fitted(fitted) => fitted.fit,
            _ => panic!("no fit"),
        }
    }
}

/// An ordinary bench whose gas has settled and whose wall keeps its temperature.
fn drawn(direction: Direction, hold_s: f64, rng: &mut ChaCha8Rng) -> Setup {
    let mut setup = Setup::draw(direction, GaugeKind::Digital, rng);
    setup.adiabatic_part = 0.0;
    let start = setup.vessel.start_gauge_pa;
    setup.vessel.wall.drift_k_per_s = 0.0;
    setup.with_start(start).with_hold(hold_s)
}

/// How a wall warms or cools.
type Warm = fn(&mut Wall, &mut ChaCha8Rng);

/// Courses by their names.
const COURSES: [(&str, Warm); 3] = [
    ("drift", |wall, rng| {
        wall.drift_k_per_s = normal(rng) * 0.5 / 60.0;
    }),
    ("relaxing", |wall, rng| {
        wall.excess_k = 5.0 * normal(rng);
        wall.relaxation_s = rng.random_range(100.0..1000.0);
    }),
    ("thermostat", |wall, rng| {
        wall.swing = (normal(rng), rng.random_range(100.0..900.0));
    }),
];

/// Fits of a run on a known bench without noise: without the column, and with it, the thermometer having touched this; and the true
/// area \[m2\].
fn fits(setup: &Setup, touched: &str, seen: &Wall) -> (Fit, Fit, f64) {
    let rng = &mut run_rng(7, 1);
    let mut setup = setup.clone();
    setup.told.temperature_k = setup.vessel.wall.at(0.0);
    // What comes in has the temperature that the sheet states.
    setup.vessel.ambient_k = setup.told.temperature_k;
    setup.told.volume_m3 = setup.vessel.volume_m3;
    setup.told.ambient_pa = setup.vessel.ambient_pa;
    let logged = Logged::new(setup, (seen, PERFECT), 0.0, rng);
    let truth = logged.setup.vessel.leak.area_m2;
    (logged.fit(None), logged.fit(Some(touched)), truth)
}

/// Without noise a logged temperature is taken off, whatever its course: what it does to the leak itself included.
#[test]
fn a_logged_temperature_is_taken_off() {
    for direction in Direction::ALL {
        for (course, warm) in COURSES {
            let rng = &mut run_rng(7, 1);
            let mut setup = drawn(direction, 300.0, rng);
            warm(&mut setup.vessel.wall, rng);
            let wall = setup.vessel.wall;
            for touched in ["wall", "gas", "nearby"] {
                let (untold, told, truth) = fits(&setup, touched, &wall);
                let [untold, told] = [untold, told].map(|fit| fit.area.si().value / truth - 1.0);
                let what =
                    format!("{direction:?} {course} {touched}: {told} told, {untold} untold");
                assert!(told.abs() < 0.003, "{what}");
                assert!(told.abs() < untold.abs() / 5.0, "{what}");
            }
        }
    }
}

/// A wall follows the room in its own time: behind a room that drifts by r from the first reading on it stays by r tau (1 - exp(-t/tau)).
#[test]
fn a_logged_room_is_followed_in_the_walls_own_time() {
    let (tau, rate) = (770.0, 3.0 / 60.0);
    for direction in Direction::ALL {
        let mut setup = drawn(direction, 300.0, &mut run_rng(7, 1));
        let start_k = setup.vessel.wall.settled_k;
        setup.vessel.wall = Wall {
            excess_k: rate * tau,
            relaxation_s: tau,
            ..Wall::steady(start_k - rate * tau, rate)
        };
        let (untold, told, truth) = fits(&setup, "room", &Wall::steady(start_k, rate));
        let error = told.area.si().value / truth - 1.0;
        assert!(error.abs() < 0.006, "{direction:?}: {error}");
        // What bends the curve is another law's without the column.
        let likeliest = |fit: &Fit| fit.laws[0].law;
        assert_eq!(likeliest(&told), DecayLaw::Orifice, "{direction:?}");
        assert_ne!(likeliest(&untold), DecayLaw::Orifice, "{direction:?}");
    }
}

/// An interval covers 95 % of runs whose thermometer was fastened to the wall as thermometers are.
#[test]
fn intervals_beside_a_logged_wall_are_true() {
    const RUNS: u64 = 150;
    for direction in Direction::ALL {
        for (course, warm) in COURSES {
            let mut covered = 0;
            for run in 0..RUNS {
                let rng = &mut run_rng(41, run);
                let mut setup = drawn(direction, 180.0, rng);
                warm(&mut setup.vessel.wall, rng);
                let thermometer = Thermometer::usual(rng);
                let wall = setup.vessel.wall;
                let logged = Logged::new(setup, (&wall, thermometer), 50.0, rng);
                let truth = logged.setup.vessel.leak.area_m2;
                let area = logged.fit(Some("wall")).area.si();
                covered += u32::from(area.low <= truth && truth <= area.high);
            }
            let part = f64::from(covered) / RUNS as f64;
            assert!(
                (0.92..=1.0).contains(&part),
                "{direction:?} {course}: {covered}"
            );
        }
    }
}

/// Tight engines that warm and cool, and tight ones that don't while what the thermometer touched does: a sheet that does not say what it
/// touched finds no more leaks with the column than without.
#[test]
fn logging_never_makes_a_false_leak_likelier() {
    const RUNS: u64 = 40;
    for (course, warm) in COURSES {
        for follows in [true, false] {
            let (mut with, mut without) = ([0; 2], [0; 2]);
            for run in 0..RUNS {
                let direction = if run % 2 == 0 {
                    Direction::Pressure
                } else {
                    Direction::Vacuum
                };
                let rng = &mut run_rng(77, run);
                let mut setup = drawn(direction, 900.0, rng);
                setup.vessel.leak = Leak::hole(0.0);
                let mut seen = setup.vessel.wall;
                warm(&mut seen, rng);
                if follows {
                    setup.vessel.wall = seen;
                }
                let thermometer = Thermometer::usual(rng);
                let logged = Logged::new(setup, (&seen, thermometer), 50.0, rng);
                for (counts, touched) in [(&mut with, Some("nearby")), (&mut without, None)] {
                    let run = logged.assessed(touched);
                    counts[0] += u32::from(run.assessment.verdict == Some(Verdict::Leaks));
                    let Outcome::Fitted(fitted) = &run.assessment.outcome else {
                        panic!("no fit")
                    };
                    counts[1] += u32::from(fitted.fit.area.si().low > 0.0);
                }
            }
            let what = format!("{course} {follows}: {with:?} with, {without:?} without");
            assert!(with[0] <= without[0] && with[1] <= without[1], "{what}");
            assert!(with[1] <= 2, "{what}");
        }
    }
}

/// What is said of a tight engine that cooled: how much of the fall is the temperature's, and what is left.
#[test]
fn what_the_temperature_leaves_for_a_leak_is_said() {
    let rng = &mut run_rng(3, 0);
    let mut setup = drawn(Direction::Pressure, 600.0, rng).with_start(50e3);
    setup.vessel.leak = Leak::hole(0.0);
    setup.vessel.wall = Wall::steady(setup.vessel.wall.settled_k, -0.2 / 60.0);
    let wall = setup.vessel.wall;
    let logged = Logged::new(setup, (&wall, PERFECT), 0.0, rng);
    let notes = |touched| -> Vec<String> {
        let notes = logged.assessed(touched).assessment.notes;
        notes.iter().map(ToString::to_string).collect()
    };
    // 2 K of 293 K are 1.0 kPa of the 151 kPa inside.
    let says = "By the logged temperature alone the needle would have lost 1.03 kPa; it lost 1.02 kPa, which leaves nothing for a leak";
    let of_wall = notes(Some("wall"));
    assert!(
        of_wall.iter().any(|note| note.starts_with(says)),
        "{of_wall:?}"
    );
    assert!(
        !of_wall
            .iter()
            .any(|note| note.contains("let the gas settle")),
        "{of_wall:?}"
    );
    let asks = "A temperature was logged, but the sheet does not say of what";
    assert!(!of_wall.iter().any(|note| note.starts_with(asks)));
    let of_nearby = notes(Some("nearby"));
    assert!(
        of_nearby.iter().any(|note| note.starts_with(asks)),
        "{of_nearby:?}"
    );
}

/// What the thermometer touched is one of a few words, and is written again.
#[test]
fn what_the_thermometer_touched_is_a_word() {
    let text = |line: &str| {
        format!(
            "format = 1\n[volume]\nvalue = \"150 cm3\"\nuncertainty = \"3 cm3\"\n[ambient]\npressure = \"1008 hPa\"\ntemperature = \"20 C\"\n{line}\n\
             [gauge]\nunit = \"kPa\"\nresolution = \"0.1 kPa\"\n"
        )
    };
    for word in ["wall", "gas", "room"] {
        let line = format!("thermometer = \"{word}\"");
        let sheet = Sheet::parse(&text(&line), "sheet.toml", &NoTraces).unwrap();
        assert!(sheet.to_toml().unwrap().contains(&line));
    }
    let silent = Sheet::parse(&text("thermometer = \"nearby\""), "sheet.toml", &NoTraces).unwrap();
    assert_eq!(
        silent,
        Sheet::parse(&text(""), "sheet.toml", &NoTraces).unwrap()
    );
    let error =
        Sheet::parse(&text("thermometer = \"casing\""), "sheet.toml", &NoTraces).unwrap_err();
    let said = error.to_string();
    assert!(
        said.contains("ambient.thermometer") && said.contains("\"wall\""),
        "{said}"
    );
}

/// A rise that the logged wall explains hides no leak and is no doubt; the same rise without the column is one.
#[test]
fn a_rise_that_a_logged_wall_explains_is_no_doubt() {
    let rng = &mut run_rng(3, 1);
    let mut setup = drawn(Direction::Pressure, 600.0, rng).with_start(50e3);
    setup.vessel.leak = Leak::hole(0.0);
    setup.vessel.wall = Wall::steady(setup.vessel.wall.settled_k, 0.4 / 60.0);
    let wall = setup.vessel.wall;
    let logged = Logged::new(setup, (&wall, PERFECT), 0.0, rng);
    let rose = |touched| {
        let run = logged.assessed(touched).assessment;
        run.doubts()
            .any(|doubt| matches!(doubt, Doubt::Rose { .. }))
    };
    assert!(rose(None) && rose(Some("nearby")) && rose(Some("room")));
    assert!(!rose(Some("wall")) && !rose(Some("gas")));
}

/// Temperatures of the wrong unit are not passed over: what can't be is refused with its line, what no bench has is noted.
#[test]
fn temperatures_of_a_wrong_unit_are_said() {
    let rng = &mut run_rng(3, 2);
    let mut setup = drawn(Direction::Pressure, 300.0, rng);
    setup.vessel.wall = Wall::steady(setup.vessel.wall.settled_k, 0.0);
    let wall = setup.vessel.wall;
    let mut logged = Logged::new(setup, (&wall, PERFECT), 0.0, rng);
    // Degrees Celsius in a column of kelvins.
    for row in &mut logged.rows {
        row.2 -= 273.15;
    }
    let notes = logged.assessed(Some("wall")).assessment.notes;
    let said = |note: &Note| {
        note.to_string()
            .contains("is no bench's; is its unit right")
    };
    assert!(notes.iter().any(said), "{notes:?}");
    logged.rows[6].2 = -4.0;
    let error = logged.session(Some("wall")).unwrap_err();
    assert!(
        error.contains("run.csv") && error.contains("line 8"),
        "{error}"
    );
    assert!(
        error.contains("-4 K is no temperature; is the column's unit right?"),
        "{error}"
    );
}
