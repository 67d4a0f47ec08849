//! Beyond what the usual conductance was made for: tanks, high pressures, deep vacuum, long holds. Either the interval holds the truth, or
//! the answer says that heat counts and is not known there.
//!
//! The truth is integrated here, by equations that share no code with the library: a leak as a hole, heat by free convection that goes
//! with density and temperature difference and falls to conduction in thin gas, a pump's stirring that dies away, and a wall that has a
//! heat capacity of its own and stands in a room that wanders.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "test code"
)]

use std::f64::consts::PI;
use std::fmt::Write as _;

use casetight::doubt::Doubt;
use casetight::limit::{Limit, Verdict, decide};
use casetight::quantity::Area;
use casetight_bench::assess::Outcome;
use casetight_bench::session::Session;
use casetight_bench::sheet::{NoTraces, Sheet};
use casetight_tests::simulator::study;
use rand::{Rng, RngExt};
use rand_distr::{Distribution, StandardNormal};
use uom::si::area::square_meter;

const R: f64 = 287.05;
const GAMMA: f64 = 1.4;
const CV: f64 = R / (GAMMA - 1.0);
const AMBIENT_PA: f64 = 101_325.0;
const ROOM_K: f64 = 293.15;
/// Air at 20 C: thermal conductivity \[W/(m K)\], viscosity \[Pa s\].
const K_AIR: f64 = 0.0257;
const MU_AIR: f64 = 18.2e-6;
/// A steel wall's heat capacity by its volume \[J/(m3 K)\], and what the room takes from it \[W/(m2 K)\].
const STEEL: f64 = 3.6e6;
const ROOM_H: f64 = 8.0;
const READINGS: usize = 24;

/// A vessel, its leak and its room.
#[derive(Debug, Clone, Copy)]
struct World {
    volume: f64,
    area: f64,
    /// Wall \[m2\], its thickness \[m\], and what its free convection is multiplied by.
    wall: f64,
    thick: f64,
    convects: f64,
    /// The pump's stirring at the last stroke, over free convection.
    stirred: f64,
    /// Swing of the room \[K\] and its period \[s\].
    room: (f64, f64),
    /// When the last stroke was.
    stroke: f64,
}

/// Mass \[kg\], temperatures of gas and wall \[K\].
type State = [f64; 3];

impl World {
    fn pressure(&self, [m, t, _]: State) -> f64 {
        m * R * t / self.volume
    }

    /// hA \[W/K\]: Nu = 0.13 Ra^(1/3), at least the slowest mode of still gas in a sphere.
    fn conductance(&self, time: f64, [m, t, wall]: State) -> f64 {
        let density = m / self.volume;
        let cp = GAMMA * CV;
        let per_length = 9.81 / t * (t - wall).abs() * density * density * cp / (MU_AIR * K_AIR);
        let radius = (3.0 * self.volume / (4.0 * PI)).cbrt();
        let still = PI * PI * K_AIR / (3.0 * radius);
        let free = (0.13 * self.convects * K_AIR * per_length.cbrt()).max(still);
        let stirred = 1.0 + self.stirred * (-(time - self.stroke) / 10.0).exp();
        self.wall * free * stirred
    }

    fn rates(&self, time: f64, state: State) -> State {
        let [m, t, wall] = state;
        let p = self.pressure(state);
        let (upstream, upstream_k, ratio) = if p > AMBIENT_PA {
            (p, t, AMBIENT_PA / p)
        } else {
            (AMBIENT_PA, ROOM_K, p / AMBIENT_PA)
        };
        let critical = (2.0 / (GAMMA + 1.0)).powf(GAMMA / (GAMMA - 1.0));
        let x = ratio.max(critical);
        let psi = (2.0 * GAMMA / (GAMMA - 1.0)
            * (x.powf(2.0 / GAMMA) - x.powf((GAMMA + 1.0) / GAMMA)))
        .max(0.0)
        .sqrt();
        // Until the first reading the pump makes up for what leaks.
        let open = if time < 0.0 { 0.0 } else { self.area };
        let flow = open * upstream / (R * upstream_k).sqrt() * psi;
        let heat = self.conductance(time, state) * (wall - t);
        let (dm, carried) = if p > AMBIENT_PA {
            (-flow, -flow * R * t)
        } else {
            (flow, flow * (GAMMA * CV * ROOM_K - CV * t))
        };
        let (swing, period) = self.room;
        let room = ROOM_K + swing * (2.0 * PI * (time - self.stroke) / period).sin();
        let of_wall = self.wall * self.thick * STEEL;
        let dwall = (ROOM_H * self.wall * (room - wall) - heat) / of_wall;
        [dm, (carried + heat) / (m * CV), dwall]
    }

    /// Pressures at times from the last stroke on \[Pa\].
    fn follow(&self, start: State, times: &[f64]) -> Vec<f64> {
        let (mut time, mut state) = (self.stroke, start);
        let mut pressures = Vec::new();
        for &until in times {
            while time < until {
                let settles = state[0] * CV / self.conductance(time, state);
                let step = (0.25 * settles)
                    .min(1.0 + 0.01 * time.abs())
                    .min(until - time);
                let at = |k: State, part: f64| [0, 1, 2].map(|i| state[i] + part * step * k[i]);
                let k1 = self.rates(time, state);
                let k2 = self.rates(time + 0.5 * step, at(k1, 0.5));
                let k3 = self.rates(time + 0.5 * step, at(k2, 0.5));
                let k4 = self.rates(time + step, at(k3, 1.0));
                state = [0, 1, 2]
                    .map(|i| state[i] + step / 6.0 * (k1[i] + 2.0 * k2[i] + 2.0 * k3[i] + k4[i]));
                time += step;
                if until - time < 1e-9 {
                    break;
                }
            }
            pressures.push(self.pressure(state));
        }
        pressures
    }
}

/// What a study draws from; pairs are the ends of what is drawn evenly on the logarithm.
#[derive(Debug, Clone, Copy)]
struct Bench {
    volume_m3: (f64, f64),
    start_pa: (f64, f64),
    hold_s: (f64, f64),
    /// What the needle loses of the way to ambient.
    loses: (f64, f64),
    waits_s: (f64, f64),
    /// Part of the runs whose sheet says how long was waited.
    told: f64,
    step_pa: f64,
}

/// What became of a run.
#[allow(clippy::struct_excessive_bools, reason = "one question each")]
#[derive(Debug, Clone, Copy, Default)]
struct Told {
    covered: bool,
    doubted: bool,
    beyond: bool,
    /// A wrong "holds" by a limit of 0.8 of the truth or a wrong "leaks" by one of 1.25.
    wrong: bool,
    ratio: f64,
    half: f64,
}

fn between((low, high): (f64, f64), rng: &mut impl Rng) -> f64 {
    low * (high / low).powf(rng.random_range(0.0..1.0))
}

fn draw(of: &Bench, rng: &mut impl Rng) -> (World, f64, f64) {
    let volume = between(of.volume_m3, rng);
    let start = between(of.start_pa, rng);
    let hold = between(of.hold_s, rng);
    let waits = between(of.waits_s, rng);
    let loses = between(of.loses, rng) * (start - AMBIENT_PA).abs();
    let upstream = start.max(AMBIENT_PA);
    // Choked and isothermal: a size about right.
    let area = loses * volume / (hold * 0.685 * upstream * (R * ROOM_K).sqrt());
    let swing: f64 = StandardNormal.sample(rng);
    // A crankcase has twice the wall of a tank of its size.
    let shape = if volume < 5e-3 {
        (8.0, 13.0)
    } else {
        (5.5, 9.0)
    };
    let world = World {
        volume,
        area,
        wall: between(shape, rng) * volume.powf(2.0 / 3.0),
        thick: between((3e-3, 1e-2), rng),
        convects: between((0.8, 1.3), rng),
        stirred: rng.random_range(0.5..3.0),
        room: (swing, between((3600.0, 4.0 * 3600.0), rng)),
        stroke: -waits,
    };
    (world, start, hold)
}

fn once(of: &Bench, rng: &mut impl Rng) -> Told {
    let (world, start, hold) = draw(of, rng);
    // Half of what no loss of heat would do, of a fill at most that of a supply.
    let beta = (GAMMA - 1.0) / GAMMA;
    let most = ((start / AMBIENT_PA).powf(beta) - 1.0).min(GAMMA - 1.0);
    let drawn: f64 = StandardNormal.sample(rng);
    let warm = ROOM_K * (1.0 + most * (0.5 * drawn.abs()).min(1.0));
    // So pumped that the needle stands near the start when the gas has settled.
    let mass = start * world.volume / (R * ROOM_K);
    let times: Vec<f64> = (0..READINGS)
        .map(|i| hold * i as f64 / (READINGS - 1) as f64)
        .collect();
    let pressures = world.follow([mass, warm, ROOM_K], &times);
    let said: f64 = rng.random_range(0.0..1.0);
    let settled = (said < of.told).then_some(-world.stroke);
    let off: f64 = StandardNormal.sample(rng);
    let text = sheet(
        of,
        (&times, &pressures),
        world.volume * (1.0 + 0.02 * off),
        settled,
        rng,
    );
    let sheet = Sheet::parse(&text, "sheet.toml", &NoTraces).unwrap();
    let session = Session::assess(&sheet).unwrap();
    let run = &session.runs[0];
    let Outcome::Fitted(fitted) = &run.assessment.outcome else {
        panic!("stalled");
    };
    let fit = &fitted.fit;
    let area = fit.area.si();
    let by = |factor: f64| {
        let limit = Limit::Area(Area::new::<square_meter>(factor * world.area));
        decide(&limit, fit, &run.bench).unwrap()
    };
    let (strict, lax) = (by(0.8), by(1.25));
    let speaks = |d: &Doubt| !matches!(d, Doubt::AboveCaution { .. } | Doubt::NeedleLost { .. });
    Told {
        covered: (area.low..=area.high).contains(&world.area),
        doubted: strict.doubts.iter().chain(&lax.doubts).any(speaks),
        beyond: fit.beyond_reach(&run.bench).is_some(),
        wrong: strict.verdict == Verdict::Holds || lax.verdict == Verdict::Leaks,
        ratio: area.value / world.area,
        half: 0.5 * (area.high - area.low) / world.area,
    }
}

fn sheet(
    of: &Bench,
    (times, pressures): (&[f64], &[f64]),
    stated_m3: f64,
    settled: Option<f64>,
    rng: &mut impl Rng,
) -> String {
    // Steel does not give; a case's hose and boots are left to the defaults.
    let stiff = if of.volume_m3.1 > 5e-3 {
        "[bench]\nstretch = \"0.00 %/bar\"\ncreep = \"0.00 %/bar\"\n"
    } else {
        ""
    };
    let heat = settled.map_or(String::new(), |s| {
        format!("[heat]\nsettled_for = \"{s:.0} s\"\n")
    });
    let mut text = format!(
        "format = 1\n[volume]\nvalue = \"{} cm3\"\nuncertainty = \"{} cm3\"\n[ambient]\npressure = \"1013.25 hPa\"\ntemperature = \
         \"20 C\"\n[gauge]\nunit = \"Pa\"\nresolution = \"{} Pa\"\nnoise = \"{} Pa\"\n{heat}{stiff}[[run]]\nname = \"all blanked\"\nreadings = [\n",
        stated_m3 * 1e6,
        0.02 * stated_m3 * 1e6,
        of.step_pa,
        0.5 * of.step_pa,
    );
    for (time, pressure) in times.iter().zip(pressures) {
        let noise: f64 = StandardNormal.sample(rng);
        let felt = pressure - AMBIENT_PA + 0.5 * of.step_pa * noise;
        let shown = (felt / of.step_pa).round() * of.step_pa;
        // Nobody notes a needle that has come to rest.
        if shown.abs() < 3.0 * of.step_pa || shown * pressures_sign(pressures) < 0.0 {
            break;
        }
        writeln!(text, "  [{time:.3}, {shown:.1}],").unwrap();
    }
    text + "]\n"
}

/// The row of a study, the part that was covered or doubted, and that of wrong verdicts.
struct Answers {
    row: String,
    told: f64,
    wrong: f64,
}

fn pressures_sign(pressures: &[f64]) -> f64 {
    (pressures[0] - AMBIENT_PA).signum()
}

fn answers(name: &str, of: &Bench, runs: u64, seed: u64) -> Answers {
    let told = study(seed, runs, |_, rng| once(of, rng));
    let part =
        |is: &dyn Fn(&Told) -> bool| told.iter().filter(|t| is(t)).count() as f64 / runs as f64;
    let mut ratios: Vec<f64> = told.iter().map(|t| t.ratio).collect();
    let mut halves: Vec<f64> = told.iter().map(|t| t.half).collect();
    ratios.sort_by(f64::total_cmp);
    halves.sort_by(f64::total_cmp);
    let middle = told.len() / 2;
    let (told, wrong) = (part(&|t| t.covered || t.doubted), part(&|t| t.wrong));
    let row = format!(
        "{name}: covered {:.3}, covered or doubted {told:.3}, beyond reach {:.3}, doubted {:.3}, wrong {wrong:.3}, value/truth {:.3} ({:.3} \
         to {:.3}), half-width {:.3}",
        part(&|t| t.covered),
        part(&|t| t.beyond),
        part(&|t| t.doubted),
        ratios[middle],
        ratios[0],
        ratios[ratios.len() - 1],
        halves[middle]
    );
    Answers { row, told, wrong }
}

const TANK: Bench = Bench {
    volume_m3: (9e-3, 11e-3),
    start_pa: (6.5e5, 9e5),
    hold_s: (60.0, 1800.0),
    loses: (0.1, 0.6),
    waits_s: (2.0, 300.0),
    told: 0.5,
    step_pa: 1000.0,
};

/// The case that lies inside of the reach.
const INSIDE: &str = "crankcase of 0.2 to 2 L";

const CASES: [(&str, Bench); 10] = [
    ("tank of 10 L from 8 bar", TANK),
    (
        "crankcase of 2 to 5 L",
        Bench {
            volume_m3: (2e-3, 4.9e-3),
            start_pa: (1.3e5, 1.7e5),
            hold_s: (30.0, 300.0),
            waits_s: (2.0, 30.0),
            step_pa: 100.0,
            ..TANK
        },
    ),
    (
        INSIDE,
        Bench {
            volume_m3: (0.2e-3, 2e-3),
            start_pa: (1.3e5, 1.7e5),
            hold_s: (30.0, 300.0),
            waits_s: (2.0, 30.0),
            step_pa: 100.0,
            ..TANK
        },
    ),
    (
        "the same, waited for an hour and said so",
        Bench {
            waits_s: (3600.0, 7200.0),
            hold_s: (600.0, 3600.0),
            told: 1.0,
            ..TANK
        },
    ),
    (
        "vessel of 1 to 50 L from 150 bar, waited and said so",
        Bench {
            volume_m3: (1e-3, 50e-3),
            start_pa: (100e5, 200e5),
            step_pa: 1e4,
            waits_s: (7200.0, 14400.0),
            hold_s: (1800.0, 7200.0),
            told: 1.0,
            ..TANK
        },
    ),
    (
        "vessel of 40 L from 3 kPa",
        Bench {
            volume_m3: (35e-3, 45e-3),
            start_pa: (2e3, 4e3),
            loses: (0.03, 0.5),
            step_pa: 100.0,
            ..TANK
        },
    ),
    (
        "vessel of 1 to 50 L from 150 bar",
        Bench {
            volume_m3: (1e-3, 50e-3),
            start_pa: (100e5, 200e5),
            step_pa: 1e4,
            ..TANK
        },
    ),
    (
        "the same, emptied in a minute",
        Bench {
            volume_m3: (1e-3, 50e-3),
            start_pa: (50e5, 200e5),
            hold_s: (10.0, 60.0),
            loses: (0.3, 0.6),
            step_pa: 1e4,
            told: 1.0,
            waits_s: (1.0, 20.0),
        },
    ),
    (
        "crankcase held for an hour",
        Bench {
            volume_m3: (250e-6, 2e-3),
            start_pa: (1.3e5, 1.7e5),
            hold_s: (3600.0, 3601.0),
            step_pa: 100.0,
            waits_s: (2.0, 60.0),
            ..TANK
        },
    ),
    (
        "tank of 5 to 40 L held for an hour",
        Bench {
            volume_m3: (5e-3, 40e-3),
            start_pa: (1.5e5, 6e5),
            hold_s: (3600.0, 3601.0),
            step_pa: 1000.0,
            waits_s: (2.0, 60.0),
            ..TANK
        },
    ),
];

/// Before the prior followed free convection and said where it ends, 0.83 of the tanks were covered or doubted and 0.80 of the vessels at
/// 150 bar, of which 0.07 were said to leak beyond limits that they met. A crankcase of 0.2 to 2 L lies inside: there the bar is that of the
/// worlds (`tests/src/worlds`), since no doubt makes up for a convection that falls with the temperature difference.
#[test]
fn beyond_the_reach_the_truth_is_covered_or_the_answer_says_so() {
    let each = CASES.map(|(name, of)| answers(name, &of, 60, 11));
    let rows: Vec<&str> = each.iter().map(|answers| answers.row.as_str()).collect();
    let good = |answers: &Answers| {
        let inside = answers.row.starts_with(INSIDE);
        answers.wrong <= 0.025 && (inside || answers.told >= 0.90)
    };
    assert!(each.iter().all(good), "{}", rows.join("\n"));
}
