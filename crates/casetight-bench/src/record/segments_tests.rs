//! Traces made here, by simple laws of their own: the truth of every border is known.
//!
//! A small opening lets g = g0 (1 - t/T)^2 through (incompressible orifice), a narrow path g = g0 exp(-t/T).

use proptest::prelude::*;
use uom::si::pressure::pascal;

use super::*;
use crate::record::Edge;
use PhaseKind::{Disturbance, Hold, Idle, Pump, Settle, Vent};
use casetight::quantity::Pressure;
use rand::SeedableRng as _;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, Normal};

/// A trace in the making: what the case does, second by second.
#[derive(Clone)]
struct Maker {
    dt: f64,
    time_s: Vec<f64>,
    gauge_pa: Vec<f64>,
}

impl Maker {
    fn new(dt: f64) -> Self {
        let (time_s, gauge_pa) = (Vec::new(), Vec::new());
        Self {
            dt,
            time_s,
            gauge_pa,
        }
    }

    fn now(&self) -> f64 {
        self.time_s.last().map_or(0.0, |t| t + self.dt)
    }

    fn level(&self) -> f64 {
        self.gauge_pa.last().copied().unwrap_or(0.0)
    }

    /// So many seconds of a course from the level that is there.
    fn go(mut self, seconds: f64, course: impl Fn(f64, f64) -> f64) -> Self {
        let start = self.level();
        let mut step = 1.0;
        while step * self.dt < seconds + 0.5 * self.dt {
            let now = self.now();
            self.time_s.push(now);
            self.gauge_pa.push(course(step * self.dt, start));
            step += 1.0;
        }
        self
    }

    fn idle(self, seconds: f64) -> Self {
        self.go(seconds, |_, _| 0.0)
    }

    /// Strokes of half a second, with half a second of pause in which a part leaks out.
    fn strokes(mut self, count: u32, to: f64, leaks: f64) -> Self {
        let each = to / f64::from(count + 1);
        for _ in 0..count {
            self = self.go(0.5, |t, start| start + each * t / 0.5);
            self = self.go(0.5, |t, start| start * (1.0 - leaks * t / 0.5));
        }
        self.go(0.5, |t, start| start + each * t / 0.5)
    }

    fn orifice(self, seconds: f64, empties_in: f64) -> Self {
        self.go(seconds, |t, start| {
            start * (1.0 - t / empties_in).max(0.0).powi(2)
        })
    }

    /// As an orifice, with gas that settles on top: so much of the start pressure with this time constant.
    fn settling(self, seconds: f64, empties_in: f64, part: f64, tau: f64) -> Self {
        self.go(seconds, |t, start| {
            let leak = (1.0 - t / empties_in).max(0.0).powi(2);
            start * ((1.0 - part) * leak + part * (-t / tau).exp())
        })
    }

    fn vent(self, seconds: f64) -> Self {
        self.go(seconds, |t, start| start * (-5.0 * t / seconds).exp())
            .go(0.5, |_, _| 0.0)
    }

    fn step(mut self, to: f64) -> Self {
        let now = self.now();
        self.time_s.push(now);
        self.gauge_pa.push(to);
        self
    }

    /// What a gauge of this step, noise and direction logs of it.
    fn logged(mut self, step: f64, noise: f64, sign: f64, seed: u64) -> (Vec<f64>, Vec<f64>) {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let noise = Normal::new(0.0, noise).unwrap();
        for gauge in &mut self.gauge_pa {
            let felt = sign * *gauge + noise.sample(&mut rng);
            *gauge = (felt / step).round() * step;
        }
        (self.time_s, self.gauge_pa)
    }
}

fn kinds(segments: &Segments) -> Vec<PhaseKind> {
    segments.phases().iter().map(|phase| phase.kind).collect()
}

#[track_caller]
fn cut(trace: &(Vec<f64>, Vec<f64>)) -> Segments {
    Segments::of(&trace.0, &trace.1, None).unwrap()
}

#[track_caller]
fn near(got: f64, expected: f64, within: f64, what: &dyn std::fmt::Debug) {
    assert!(
        (got - expected).abs() <= within,
        "{got} is not {expected}: {what:?}"
    );
}

/// Idle 5 s, nine strokes and a last half one in 9.5 s, a hold of 120 s, a vent of 1 s.
fn whole_test(dt: f64) -> Maker {
    Maker::new(dt)
        .idle(5.0)
        .strokes(9, 48e3, 0.01)
        .orifice(120.0, 2000.0)
        .vent(1.0)
        .idle(10.0)
}

#[test]
fn a_whole_test_is_cut_where_it_was_made() {
    for (seed, dt, step, noise, sign) in [
        (1, 0.1, 1.0, 0.1, 1.0),
        (2, 0.1, 100.0, 60.0, 1.0),
        (3, 0.1, 100.0, 60.0, -1.0),
        // Steps without noise, as a coarse digital gauge.
        (4, 0.1, 500.0, 1.0, 1.0),
        (5, 0.02, 10.0, 300.0, -1.0),
        (6, 0.5, 100.0, 50.0, 1.0),
    ] {
        let trace = whole_test(dt).logged(step, noise, sign, seed);
        let segments = cut(&trace);
        let what = (seed, segments.phases());
        assert_eq!(kinds(&segments), [Idle, Pump, Hold, Vent, Idle], "{what:?}");
        let window = segments.window().unwrap();
        // Noise of 300 Pa blurs the borders by a few readings.
        near(window.from_s, 14.5, 0.3 + 2.0 * dt, &what);
        near(window.to_s, 134.5, 0.2 + 2.0 * dt, &what);
        assert!(window.from_s >= 14.4 - dt, "{what:?}");
        let expected = Chosen::Found {
            after: Edge::Pump,
            before: Edge::Vent,
            of_holds: 1,
            settled: true,
        };
        assert_eq!(window.chosen, expected, "{what:?}");
    }
}

#[test]
fn the_hold_starts_when_the_gas_has_settled() {
    for seed in 0..10 {
        // 2 % of 48 kPa above the leak, with 4 s: below one reading's noise of 67 Pa after 4 ln(960/67) = 10.6 s.
        let trace = Maker::new(0.1)
            .idle(3.0)
            .strokes(5, 48e3, 0.01)
            .settling(120.0, 3000.0, 0.02, 4.0)
            .vent(1.0)
            .logged(100.0, 60.0, 1.0, seed);
        let segments = cut(&trace);
        let what = segments.phases();
        assert_eq!(
            kinds(&segments)[..4],
            [Idle, Pump, Settle, Hold],
            "{what:?}"
        );
        let window = segments.window().unwrap();
        near(window.from_s, 8.5 + 10.6, 4.0, &what);
        assert!(matches!(
            window.chosen,
            Chosen::Found {
                after: Edge::Settling,
                settled: true,
                ..
            }
        ));
    }
}

#[test]
fn a_trace_that_is_only_a_hold_stays_whole() {
    fn start() -> Maker {
        Maker::new(0.5).step(48e3)
    }
    // Laminar under pressure: g/(g + 2 p_a) falls exponentially; molecular: g does.
    let laminar = |t: f64, s: f64| {
        let ratio = s / (s + 202_650.0) * (-t / 200.0).exp();
        202_650.0 * ratio / (1.0 - ratio)
    };
    let molecular = |t: f64, s: f64| s * (-t / 200.0).exp();
    let makers = [
        ("sound", 0.0, start().go(300.0, |_, s| s)),
        ("orifice", 0.0, start().orifice(300.0, 900.0)),
        // A leak that empties the case within the trace.
        ("gone", 0.0, start().orifice(120.0, 60.0)),
        ("laminar", 1.0, start().go(300.0, laminar)),
        ("molecular", 0.0, start().go(300.0, molecular)),
        ("warming", 0.0, start().go(300.0, |t, s| s + 3.0 * t)),
        (
            "few",
            0.0,
            Maker::new(30.0).step(48e3).orifice(240.0, 900.0),
        ),
    ];
    // Twenty of each, pressure and vacuum: one in 260 may look like more by chance.
    let mut cut_short = Vec::new();
    for (name, only, made) in &makers {
        for seed in 0..20 {
            for sign in [1.0, -1.0] {
                if sign * only < 0.0 {
                    continue;
                }
                let trace = made.clone().logged(100.0, 60.0, sign, seed);
                let segments = cut(&trace);
                if segments.window().ok().map(|window| window.chosen) != Some(Chosen::Whole) {
                    cut_short.push((name, seed, segments.phases().to_vec()));
                }
            }
        }
    }
    assert!(cut_short.len() <= 1, "{cut_short:#?}");
}

#[test]
fn a_bumped_hose_ends_the_hold() {
    // A twentieth is lost at a bump after 40 s; the longer part comes after it.
    let trace = Maker::new(0.1)
        .strokes(4, 48e3, 0.0)
        .orifice(40.0, 3000.0)
        .go(0.3, |t, start| start * (1.0 - 0.05 * t / 0.3))
        .orifice(90.0, 3000.0)
        .vent(1.0)
        .logged(100.0, 60.0, 1.0, 7);
    let segments = cut(&trace);
    let what = segments.phases();
    assert_eq!(
        kinds(&segments),
        [Pump, Hold, Disturbance, Hold, Vent, Idle],
        "{what:?}"
    );
    let window = segments.window().unwrap();
    near(window.from_s, 44.8, 0.4, &what);
    near(window.to_s, 134.8, 0.6, &what);
    assert!(matches!(
        window.chosen,
        Chosen::Found {
            after: Edge::Disturbance,
            of_holds: 2,
            ..
        }
    ));
    assert!(
        window
            .to_string()
            .contains("longest of 2 undisturbed holds"),
        "{window}"
    );
}

#[test]
fn spikes_and_dropouts_come_back() {
    for spike in [60e3, 52e3, 0.0, -5e3] {
        for rows in [1_u32, 3, 20] {
            let brief = f64::from(rows) * 0.1;
            let trace = Maker::new(0.1)
                .idle(2.0)
                .strokes(4, 48e3, 0.0)
                .orifice(80.0, 3000.0)
                .go(brief, |_, _| spike)
                .step(48e3 * (1.0_f64 - 80.0 / 3000.0).powi(2))
                .orifice(40.0, 3000.0)
                .vent(1.0)
                .logged(100.0, 60.0, 1.0, 8);
            let segments = cut(&trace);
            let what = (spike, rows, segments.phases());
            assert_eq!(
                kinds(&segments)[..5],
                [Idle, Pump, Hold, Disturbance, Hold],
                "{what:?}"
            );
            let window = segments.window().unwrap();
            near(window.from_s, 6.5, 0.4, &what);
            near(window.to_s, 86.5, 0.5, &what);
        }
    }
}

#[test]
fn strokes_with_leaks_between_are_one_pumping() {
    // A twelfth of what is there leaks between strokes, and each stroke is a third of the top.
    let trace = Maker::new(0.05)
        .idle(3.0)
        .strokes(4, 60e3, 0.25)
        .orifice(60.0, 200.0)
        .vent(0.5)
        .logged(100.0, 60.0, -1.0, 9);
    let segments = cut(&trace);
    let what = segments.phases();
    assert_eq!(kinds(&segments)[..3], [Idle, Pump, Hold], "{what:?}");
    near(segments.window().unwrap().from_s, 7.5, 0.3, &what);
}

#[test]
fn pumped_twice_the_longer_hold_counts() {
    let trace = Maker::new(0.1)
        .strokes(4, 48e3, 0.0)
        .orifice(40.0, 1000.0)
        .strokes(2, 10e3, 0.0)
        .orifice(70.0, 1000.0)
        .logged(10.0, 30.0, 1.0, 10);
    let segments = cut(&trace);
    let what = segments.phases();
    assert_eq!(kinds(&segments), [Pump, Hold, Pump, Hold], "{what:?}");
    let window = segments.window().unwrap();
    near(window.from_s, 47.0, 0.4, &what);
    near(window.to_s, 117.0, 0.2, &what);
}

#[test]
fn a_supply_that_holds_the_needle_up_is_no_hold() {
    // A regulator for 20 s, then a leak of a tenth of the pressure in 60 s, and one that empties the case.
    for empties_in in [1200.0, 50.0] {
        let trace = Maker::new(0.1)
            .step(48e3)
            .go(20.0, |_, start| start)
            .orifice(60.0, empties_in)
            .logged(10.0, 30.0, 1.0, 15);
        let segments = cut(&trace);
        let what = segments.phases();
        assert_eq!(kinds(&segments), [Pump, Hold], "{what:?}");
        near(segments.window().unwrap().from_s, 20.1, 1.5, &what);
    }
}

#[test]
fn a_logger_that_pauses_is_no_disturbance() {
    let (mut time_s, mut gauge_pa) = whole_test(0.1).logged(100.0, 60.0, 1.0, 11);
    let lost = time_s.partition_point(|t| *t < 60.0)..time_s.partition_point(|t| *t < 75.0);
    time_s.drain(lost.clone());
    gauge_pa.drain(lost);
    let segments = cut(&(time_s, gauge_pa));
    assert_eq!(
        kinds(&segments),
        [Idle, Pump, Hold, Vent, Idle],
        "{:?}",
        segments.phases()
    );
}

#[test]
fn a_day_of_logging_keeps_a_pumping_of_seconds() {
    // 100 readings a second for two hours, a test of five minutes in it: a cell is 7 s at first.
    let trace = Maker::new(0.01)
        .idle(3000.0)
        .strokes(9, 48e3, 0.01)
        .orifice(300.0, 3000.0)
        .vent(0.5)
        .idle(3900.0)
        .logged(10.0, 50.0, -1.0, 12);
    let segments = cut(&trace);
    let what = segments.phases();
    assert_eq!(kinds(&segments), [Idle, Pump, Hold, Vent, Idle], "{what:?}");
    let window = segments.window().unwrap();
    // Border cells of 700 rows are given up.
    near(window.from_s, 3009.5, 8.0, &what);
    near(window.to_s, 3309.5, 8.0, &what);
    assert!(window.from_s >= 3009.4 && window.to_s <= 3309.6, "{what:?}");
    assert!(segments.outline().len() <= MOST_CELLS);
}

#[test]
fn a_trace_without_a_hold_says_so() {
    // Pumped up to the last reading.
    let trace = Maker::new(0.1)
        .idle(5.0)
        .strokes(9, 48e3, 0.0)
        .logged(100.0, 60.0, 1.0, 13);
    let segments = cut(&trace);
    let error = segments.window().unwrap_err();
    let words = error.to_string();
    assert!(
        words.contains("no hold found among idle, pump (145 readings, 0 s to 14.4 s)"),
        "{words}"
    );
    assert!(words.contains("a window from and to"), "{words}");
}

#[test]
fn readings_that_cannot_be_are_refused() {
    let refused =
        |time_s: &[f64], gauge_pa: &[f64]| Segments::of(time_s, gauge_pa, None).unwrap_err();
    let at = |error| match error {
        SegmentsError::Readings(error) => error,
        other => panic!("{other}"),
    };
    assert_eq!(at(refused(&[], &[])), ReadingsError::TooFew { got: 0 });
    assert!(matches!(
        at(refused(&[0.0], &[])),
        ReadingsError::Lengths { .. }
    ));
    assert!(matches!(
        at(refused(&[0.0, 0.0], &[1.0, 1.0])),
        ReadingsError::TimesNotRising { row: 2, .. }
    ));
    assert!(matches!(
        at(refused(&[0.0, 1.0], &[1.0, f64::NAN])),
        ReadingsError::NotFinite { row: 2, .. }
    ));
}

#[test]
fn a_known_gauge_keeps_its_steps_from_counting() {
    // A dial of quarter psi steps, one at a time: each is a step of 4 % of the top, and no disturbance.
    let psi = Pressure::new::<uom::si::pressure::psi>(0.25);
    let gauge = Gauge::dial(psi, psi).unwrap();
    let step = psi.get::<pascal>();
    let trace = Maker::new(1.0)
        .step(48e3)
        .orifice(300.0, 900.0)
        .logged(step, 0.1 * step, 1.0, 14);
    let segments = Segments::of(&trace.0, &trace.1, Some(&gauge)).unwrap();
    assert_eq!(
        segments.window().unwrap().chosen,
        Chosen::Whole,
        "{:?}",
        segments.phases()
    );
}

/// 10 million readings at 1000 a second: not quite three hours, with a test of 40 minutes in it.
#[test]
#[ignore = "heavy: ten million rows"]
fn ten_million_rows_in_phases() {
    let trace = Maker::new(0.001)
        .idle(3600.0)
        .strokes(9, 48e3, 0.01)
        .orifice(2400.0, 20_000.0)
        .vent(0.5)
        .idle(3989.5)
        .logged(10.0, 50.0, 1.0, 16);
    assert_eq!(trace.0.len(), 10_000_000);
    let before = std::time::Instant::now();
    let segments = cut(&trace);
    let took = before.elapsed();
    let what = (took, segments.phases());
    assert_eq!(kinds(&segments), [Idle, Pump, Hold, Vent, Idle], "{what:?}");
    assert!(took.as_secs_f64() < 10.0, "{what:?}");
    let window = segments.window().unwrap();
    near(window.from_s, 3609.5, 11.0, &what);
    near(window.to_s, 6009.5, 11.0, &what);
}

proptest! {
    #[test]
    fn phases_hold_every_reading_once(
        levels in prop::collection::vec((-1e5..1e5_f64, 1_usize..40), 1..12),
        noise in 0.0..1e4_f64,
        seed: u64,
    ) {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let noise = Normal::new(0.0, noise).unwrap();
        let gauge_pa: Vec<f64> = levels
            .iter()
            .flat_map(|(level, rows)| std::iter::repeat_n(*level, *rows))
            .map(|level| level + noise.sample(&mut rng))
            .collect();
        let time_s: Vec<f64> = (0..gauge_pa.len()).map(|i| i as f64).collect();
        let segments = Segments::of(&time_s, &gauge_pa, None).unwrap();
        let mut next = 0;
        for phase in segments.phases() {
            prop_assert_eq!(phase.rows.start, next);
            prop_assert!(phase.rows.end > phase.rows.start);
            next = phase.rows.end;
        }
        prop_assert_eq!(next, gauge_pa.len());
        if let Ok(window) = segments.window() {
            prop_assert!(window.rows.end <= gauge_pa.len());
            prop_assert!(window.rows.len() >= 2 || gauge_pa.len() < 2);
            let inside = segments.phases().iter().any(|phase| {
                phase.kind == Hold && phase.rows.start <= window.rows.start && phase.rows.end >= window.rows.end
            });
            prop_assert!(inside);
        }
    }

    #[test]
    fn the_direction_and_the_unit_do_not_matter(seed in 0_u64..1000, power in -10..10_i32) {
        let (time_s, gauge_pa) = whole_test(0.2).logged(100.0, 60.0, 1.0, seed);
        let scaled: Vec<f64> = gauge_pa.iter().map(|g| -g * 2.0_f64.powi(power)).collect();
        let one = cut(&(time_s.clone(), gauge_pa));
        let other = cut(&(time_s, scaled));
        prop_assert_eq!(one.phases(), other.phases());
    }
}
