use proptest::prelude::*;
use uom::si::time::second;

use super::*;
use crate::batch::tests::bench;
use casetight::limit::Rule;

fn watch(limits: Vec<Limit>) -> Watch {
    Watch::new(bench(), limits, Assumptions::default())
}

fn s(value: f64) -> Time {
    Time::new::<second>(value)
}

fn pa(value: f64) -> GaugePressure {
    GaugePressure::from_pascals(value).unwrap()
}

/// Adds evenly spaced readings of a needle that falls by so much a second.
fn falling(watch: &mut Watch, by: f64, count: u32) -> Vec<Update> {
    (0..count)
        .filter_map(|i| {
            let t = 2.0 * f64::from(i);
            watch.add(s(t), pa(48_000.0 - by * t)).unwrap()
        })
        .collect()
}

/// The limit is 1 psi in 60 s, 115 Pa/s.
#[test]
fn small_and_large_leaks_are_decided_and_stay_so() {
    for (by, verdict) in [
        (0.0, Verdict::Holds),
        (40.0, Verdict::Holds),
        (250.0, Verdict::Leaks),
        (2_000.0, Verdict::Leaks),
    ] {
        let mut watch = watch(vec![Rule::OnePsiAMinute.limit()]);
        let updates = falling(&mut watch, by, 12);
        let decided = updates.iter().position(Update::decided).unwrap();
        assert!(
            updates[decided..]
                .iter()
                .all(|u| u.verdict == Some(verdict)),
            "{by}"
        );
        assert_eq!(watch.verdict(), Some(verdict), "{by}");
    }
}

#[test]
fn a_look_asks_for_more_than_a_single_one() {
    let mut watch = watch(vec![Rule::OnePsiAMinute.limit()]);
    let updates = falling(&mut watch, 115.0, 40);
    let needed: Vec<f64> = updates
        .iter()
        .filter_map(|u| u.needed_probability)
        .collect();
    assert!(needed.iter().all(|p| *p > DECISION_PROBABILITY && *p < 1.0));
    assert!(updates.last().unwrap().looks > 8);
}

#[test]
fn two_readings_decide_nothing() {
    let mut watch = watch(vec![Rule::OnePsiAMinute.limit()]);
    assert!(watch.add(s(0.0), pa(48e3)).unwrap().is_none());
    let update = watch.add(s(60.0), pa(20e3)).unwrap().unwrap();
    assert_eq!(update.verdict, Some(Verdict::Undecided));
    assert_eq!((update.looks, update.needed_probability), (0, None));
    assert_eq!(update.assessment.verdict, Some(Verdict::Leaks));
    let update = watch.add(s(61.0), pa(19.7e3)).unwrap().unwrap();
    assert_eq!(update.verdict, Some(Verdict::Leaks));
}

/// A start above the caution limit takes back "holds" at each look, and at the end (docs/src/holds.md); a leak stays one.
#[test]
fn above_the_caution_limit_a_watch_does_not_hold() {
    for (by, wanted) in [(0.0, Verdict::Undecided), (2_000.0, Verdict::Leaks)] {
        let mut watch = watch(vec![Rule::OnePsiAMinute.limit()]);
        for i in 0..20 {
            let t = 2.0 * f64::from(i);
            if let Some(update) = watch.add(s(t), pa(90_000.0 - by * t)).unwrap() {
                assert_ne!(update.verdict, Some(Verdict::Holds), "{t} s, {by}");
            }
        }
        assert_eq!(watch.verdict(), Some(wanted), "{by}");
    }
}

/// A needle that stands is decided; where it then rises beyond the gauge's error, no verdict is left.
#[test]
fn what_was_decided_is_taken_back_by_what_follows() {
    let mut watch = watch(vec![Rule::OnePsiAMinute.limit()]);
    let updates = falling(&mut watch, 0.0, 20);
    assert_eq!(updates.last().unwrap().verdict, Some(Verdict::Holds));
    for i in 0..10 {
        watch
            .add(s(40.0 + 2.0 * f64::from(i)), pa(52_000.0))
            .unwrap();
    }
    assert_eq!(watch.verdict(), Some(Verdict::Undecided));
}

#[test]
fn without_a_limit_there_is_no_verdict() {
    let mut watch = watch(Vec::new());
    let updates = falling(&mut watch, 40.0, 10);
    assert_eq!(updates.len(), 9);
    assert!(updates.iter().all(|u| u.verdict.is_none() && !u.decided()));
}

#[test]
fn a_reading_that_cannot_be_leaves_the_run_as_it_was() {
    let mut watch = watch(vec![Rule::OnePsiAMinute.limit()]);
    let refused = |watch: &mut Watch, t: f64, g: f64| {
        let before = watch.times_s().len();
        let error = watch.add(s(t), pa(g)).unwrap_err();
        assert_eq!(watch.times_s().len(), before);
        match error {
            WatchError::Reading(error) => error,
            other => panic!("{other}"),
        }
    };
    assert!(matches!(
        refused(&mut watch, 0.0, 0.0),
        ReadingsError::NoPressure { got: 0.0 }
    ));
    assert!(matches!(
        refused(&mut watch, f64::NAN, 48e3),
        ReadingsError::NotFinite { row: 1, .. }
    ));
    watch.add(s(0.0), pa(48e3)).unwrap();
    watch.add(s(5.0), pa(47e3)).unwrap();
    assert!(matches!(
        refused(&mut watch, 5.0, 46e3),
        ReadingsError::TimesNotRising {
            row: 3,
            got: 5.0,
            before: 5.0
        }
    ));
    assert!(matches!(
        refused(&mut watch, 6.0, -46e3),
        ReadingsError::MixedDirections { row: 3, .. }
    ));
    assert!(matches!(
        refused(&mut watch, 6.0, -2e5),
        ReadingsError::BeyondVacuum { row: 3, .. }
    ));
    assert!(watch.add(s(6.0), pa(46.8e3)).unwrap().is_some());
    assert_eq!(watch.times_s(), [0.0, 5.0, 6.0]);
    assert_eq!(watch.gauges_pa(), [48e3, 47e3, 46.8e3]);
}

/// A look is due from the third reading on, none right after one, and never where there is no limit to judge by.
#[test]
fn a_look_is_due_where_there_is_something_new_to_judge() {
    let limit = Rule::OnePsiAMinute.limit();
    let (mut judged, mut unjudged) = (watch(vec![limit]), watch(Vec::new()));
    let mut due = Vec::new();
    for i in 0..4 {
        let t = 5.0 * f64::from(i);
        for watch in [&mut judged, &mut unjudged] {
            watch.push(s(t), pa(48_000.0 - 115.0 * t)).unwrap();
        }
        due.push(judged.look_is_due());
        assert!(!unjudged.look_is_due());
    }
    assert_eq!(due, [false, false, true, true]);
    assert!(judged.update().unwrap().looks == 1 && !judged.look_is_due());
}

/// What may lie on the other side of zero goes by the largest reading so far, which is neither the first nor the last here.
#[test]
fn the_other_side_of_zero_is_told_by_the_largest_reading() {
    let mut watch = watch(Vec::new());
    for (t, g) in [(0.0, 10e3), (1.0, 50e3), (2.0, 12e3)] {
        watch.push(s(t), pa(g)).unwrap();
    }
    assert!(watch.check(s(3.0), pa(-6e3)).is_err());
    assert_eq!(watch.push(s(3.0), pa(-4e3)), Ok(()));
}

#[test]
fn a_fast_logger_is_fitted_now_and_then() {
    let mut watch = watch(vec![Rule::OnePsiAMinute.limit()]);
    let updates = (0..3000)
        .filter(|i| {
            let t = f64::from(*i) * 0.01;
            watch.add(s(t), pa(48_000.0 - 115.0 * t)).unwrap().is_some()
        })
        .count();
    assert!(updates > 300 && updates < 600, "{updates}");
}

#[test]
fn half_is_spent_by_the_usual_hold() {
    let with = |hold: f64| watch(Vec::new()).with_usual_hold(s(hold));
    for got in [0.0, -1.0, f64::INFINITY] {
        assert_eq!(
            with(got).err(),
            Some(WatchError::UsualHold { got }),
            "{got}"
        );
    }
    let spent = |hold: f64, t: f64| with(hold).unwrap().spent_by(s(t));
    assert!((spent(30.0, 30.0) - 0.025).abs() < 1e-15);
    assert!(spent(30.0, 1e9) < 0.05);
}

proptest! {
    /// Readings that pass one by one are readings together, and the other way round.
    #[test]
    fn one_by_one_is_together(
        gauges in proptest::collection::vec(-60_000.0..60_000.0_f64, 1..8),
        times in proptest::collection::vec(0.0..10.0_f64, 8),
    ) {
        let mut watch = watch(Vec::new());
        let (mut kept_t, mut kept_g) = (Vec::new(), Vec::new());
        for (t, g) in times.iter().zip(&gauges) {
            let mut with = (kept_t.clone(), kept_g.clone());
            with.0.push(*t);
            with.1.push(*g);
            let ambient = bench().ambient_pressure.value();
            let together = match Readings::from_si(&with.0, &with.1, ambient) {
                Err(ReadingsError::TooFew { .. }) => Ok(()),
                other => other.map(|_| ()),
            };
            let alone = watch.check(s(*t), pa(*g));
            prop_assert_eq!(together.is_ok(), alone.is_ok(), "{:?} {:?}", together, alone);
            if alone.is_ok() {
                (kept_t, kept_g) = with;
                let _ = watch.add(s(*t), pa(*g));
            }
        }
    }
}
