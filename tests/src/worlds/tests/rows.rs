//! Sheets, answers and what is counted of them.

use casetight::limit::Verdict;

use crate::simulator::run_rng;
use crate::worlds::assessed::{Answer, Answered, Judged, assess, sheet_text};
use crate::worlds::setup::{Direction, GaugeKind, Setup};
use crate::worlds::{Family, Row, Simulated, row};

fn simulated(gauge: GaugeKind) -> Simulated {
    let mut rng = run_rng(3, 0);
    let setup = Setup::draw(Direction::Vacuum, gauge, &mut rng);
    Family::Plain.simulate(&setup, &mut rng)
}

/// A sheet says no more than a technician would: the step of the gauge, no noise, class or heat.
#[test]
fn sheets_are_silent() {
    for gauge in GaugeKind::ALL {
        let simulated = simulated(gauge);
        let text = sheet_text(&simulated, 1e-9);
        for key in [
            "noise",
            "accuracy_class",
            "heat",
            "drift",
            "law",
            "settled_for",
        ] {
            assert!(!text.contains(key), "{text}");
        }
        assert!(text.contains("max_area = \"1.000000e-3 mm2\""), "{text}");
        assert_eq!(text.matches("\n  [").count(), gauge.readings());
        // As noted, to the last digit of the display.
        let (_, first) = simulated.readings[0];
        let shown = first / gauge.unit_pa();
        assert!(text.contains(&format!("[0, {shown:.2}")[..8]), "{text}");
    }
}

#[test]
fn a_sheet_is_answered_or_refused() {
    let run = simulated(GaugeKind::Digital);
    let Answer::Answered(said) = assess(&run) else {
        panic!("refused");
    };
    assert!(said.low < said.value && said.value < said.high);
    let none = Simulated {
        readings: Vec::new(),
        ..run
    };
    assert!(matches!(assess(&none), Answer::Refused(_)));
}

fn judged(verdict: Verdict, warnings: &[&'static str]) -> Judged {
    Judged {
        verdict: Some(verdict),
        warnings: warnings.to_vec(),
        converged: warnings.is_empty(),
    }
}

fn answered(value: f64, strict: Judged, lax: Judged) -> Answer {
    Answer::Answered(Answered {
        value,
        low: 0.9 * value,
        high: 1.1 * value,
        strict,
        lax,
    })
}

/// Ten answers, counted by hand.
#[test]
fn answers_are_counted() {
    use Verdict::{Holds, Leaks, Undecided};
    let right = answered(1.05, judged(Leaks, &[]), judged(Holds, &[]));
    let mut answers = vec![((1.0, 1.0), right); 6];
    answers.push(((1.0, 1.0), Answer::Refused("no".to_owned())));
    let wrong = answered(0.5, judged(Holds, &[]), judged(Holds, &[]));
    answers.push(((1.0, 1.0), wrong));
    let warned = answered(
        2.0,
        judged(Leaks, &["scatter"]),
        judged(Leaks, &["scatter"]),
    );
    answers.push(((1.0, 1.0), warned));
    // Within the two areas that may be called true, though by neither of them.
    let between = answered(1.5, judged(Undecided, &["misfit"]), judged(Undecided, &[]));
    answers.push(((1.0, 2.0), between));
    let row = Row::of(Family::Film, Direction::Pressure, GaugeKind::Dial, &answers);
    assert_eq!((row.runs, row.refused), (10, 1));
    let coverage = row.coverage.unwrap();
    assert_eq!((coverage.runs, coverage.covered), (9, 7));
    assert_eq!((coverage.misses_above, coverage.misses_below), (1, 1));
    assert_eq!((row.wrong_holds, row.wrong_leaks), (1, 1));
    assert_eq!((row.wrong_unwarned, row.undecided), (1, (1, 1)));
    assert_eq!((row.warned, row.not_converged), (2, 2));
    assert_eq!((row.warnings["scatter"], row.warnings["misfit"]), (1, 1));
    assert!((row.wrong() - 0.2).abs() < 1e-12 && !row.meets_the_bar());
    let text = row.to_string();
    assert!(text.contains("| MISSED |"), "{text}");
    let columns = |line: &str| line.matches('|').count();
    for line in Row::HEAD.lines() {
        assert_eq!(columns(line), columns(&text), "{text}");
    }
    // Without the two wrong ones it stands where it should; so it would with nine of ten intervals right.
    answers.retain(|(_, answer)| {
        !matches!(answer, Answer::Answered(said) if said.value == 0.5 || said.value == 2.0)
    });
    let row = Row::of(Family::Film, Direction::Pressure, GaugeKind::Dial, &answers);
    assert!(row.meets_the_bar() && row.to_string().ends_with("| ok |"));
}

/// The same seed gives the same row on one thread and on several.
#[test]
fn a_row_does_not_depend_on_the_threads() {
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads);
        let run = || {
            row(
                Family::WarmEngine,
                Direction::Vacuum,
                GaugeKind::Digital,
                12,
                9,
            )
        };
        pool.build().unwrap().install(run)
    };
    assert_eq!(on(1), on(3));
}
