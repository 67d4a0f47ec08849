//! What a decision takes back, and what it is as sure as.

use super::Verdict::{self, Holds, Leaks, Stalled, Undecided};
use super::*;
use crate::fit::{BeyondReach, Strain};
use crate::gauge::Gauge;
use crate::quantity::{AbsolutePressure, ThermodynamicTemperature, TradeUnits, Volume};
use crate::vessel::Outside;

fn bench() -> Bench {
    Bench::new(
        Volume::parse("250 cm3").unwrap(),
        AbsolutePressure::parse("101325 Pa").unwrap(),
        ThermodynamicTemperature::parse("20 C").unwrap(),
        Gauge::digital(Pressure::parse("0.1 kPa").unwrap()).unwrap(),
    )
    .unwrap()
}

#[test]
fn the_worst_of_several_verdicts() {
    let worst = |of: &[Option<Verdict>]| Verdict::worst(of.iter().copied());
    assert_eq!(worst(&[]), Some(Holds));
    assert_eq!(worst(&[Some(Holds), Some(Holds)]), Some(Holds));
    assert_eq!(worst(&[Some(Undecided), None, Some(Leaks)]), Some(Leaks));
    assert_eq!(worst(&[Some(Holds), None, Some(Undecided)]), None);
    assert_eq!(worst(&[Some(Holds), Some(Stalled), None]), Some(Stalled));
}

fn decision(verdict: Verdict, probability_within: f64, doubts: Vec<Doubt>) -> Decision {
    let start = GaugePressure::from_pascals(48e3).unwrap();
    let allowed = Rule::OnePsiAMinute
        .limit()
        .allowed(&bench(), Direction::Pressure, start)
        .unwrap();
    Decision {
        allowed,
        probability_within,
        verdict,
        doubts,
    }
}

fn in_a_tank() -> BeyondReach {
    BeyondReach {
        outside: Outside::Volume { cubic_meters: 0.04 },
        may_move_pa: 900.0,
        settled_after_s: Some(95.0),
    }
}

/// What lies outside, what the default was made for, and what to do: by waiting, or where waiting is no help.
#[test]
fn heat_beyond_its_reach_says_what_to_do() {
    let unit = Pressure::unit("bar").unwrap();
    let said = Doubt::BeyondReach(in_a_tank()).words(unit);
    for words in [
        "40 L",
        "20 cm3 to 2 L",
        "0.3 and 3 bar",
        "Wait 2 min",
        "settled_for",
        "conductance",
    ] {
        assert!(said.contains(words), "{said}");
    }
    // A volume near the end of the reach is not told as that end.
    for (cubic_meters, told) in [(2.3e-3, "this is 2.30 L"), (0.25e-6, "this is 0.25 cm3")] {
        let outside = Outside::Volume { cubic_meters };
        let of = BeyondReach {
            outside,
            ..in_a_tank()
        };
        let said = Doubt::BeyondReach(of).words(unit);
        assert!(said.contains(told), "{said}");
    }
    let by_leak = BeyondReach {
        outside: Outside::Pressure { pascals: 150e5 },
        settled_after_s: None,
        ..in_a_tank()
    };
    let said = Doubt::BeyondReach(by_leak).words(unit);
    for words in [
        "150 bar absolute",
        "20 L",
        "0.01 and 10 bar",
        "no help",
        "conductance",
    ] {
        assert!(said.contains(words), "{said}");
    }
}

/// The table of docs/src/holds.md: each doubt takes back "holds", some take back "leaks" too; of what is undecided there is nothing
/// to take back.
#[test]
fn doubts_take_back_what_the_table_says() {
    let (by_pa, seconds) = (900.0, 60.0);
    for (doubt, takes_leaks) in [
        (Doubt::AboveCaution { start_pa: 90e3 }, false),
        (Doubt::NotFinite, true),
        (Doubt::WrongSide { start_pa: -1.0 }, true),
        (Doubt::Rose { by_pa, seconds }, true),
        (Doubt::Misfit { probability: 1e-9 }, true),
        (Doubt::Strained(Strain::Rig), false),
        (Doubt::BeyondReach(in_a_tank()), true),
    ] {
        let doubted = decision(Undecided, 0.99, vec![doubt]);
        assert!(!doubted.supports(Holds), "{doubt:?}");
        assert_eq!(doubted.supports(Leaks), !takes_leaks, "{doubt:?}");
        assert!(doubted.supports(Undecided), "{doubt:?}");
        assert_eq!(doubted.supported_probability(), None, "{doubt:?}");
    }
    let plain = decision(Holds, 0.99, Vec::new());
    assert!(plain.supports(Holds) && plain.supports(Leaks));
    assert_eq!(plain.supported_probability(), Some(0.99));
    // Of a leak that stays one, the probability is told in spite of what may be more.
    let more = decision(Leaks, 0.01, vec![Doubt::AboveCaution { start_pa: 90e3 }]);
    assert_eq!(more.supported_probability(), Some(0.01));
}

/// Sure of being within is one less sure of being beyond; what is undecided is not sure.
#[test]
fn a_decision_is_as_sure_as_its_side() {
    let sure = |verdict, within| decision(verdict, within, Vec::new()).sureness();
    assert_eq!(sure(Holds, 0.96), Some(0.96));
    assert!((sure(Leaks, 0.03).unwrap() - 0.97).abs() < 1e-15);
    assert_eq!(sure(Undecided, 0.5), None);
    assert_eq!(sure(Stalled, 0.0), None);
}

/// 95 % either way, the ends included.
#[test]
fn a_verdict_needs_its_probability() {
    for (within, wanted) in [
        (1.0, Holds),
        (DECISION_PROBABILITY, Holds),
        (0.949, Undecided),
        (0.5, Undecided),
        (0.051, Undecided),
        (1.0 - DECISION_PROBABILITY, Leaks),
        (0.0, Leaks),
    ] {
        assert_eq!(verdict(within), wanted, "{within}");
    }
}
