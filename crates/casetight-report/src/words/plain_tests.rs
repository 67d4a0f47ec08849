//! The sentence of every kind of answer.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test may fail"
)]

use casetight::fit::{BeyondReach, Misread, PartKind, Unsteady};
use casetight::vessel::Outside;
use casetight_bench::session::Session;
use casetight_bench::sheet::{NoTraces, Sheet};

use super::*;

/// The answers of a sheet with these limits and runs, a psi dial read to an eighth.
fn answers(limit: &str, runs: &str) -> Vec<String> {
    on(
        "unit = \"psi\"\ndivision = \"0.5 psi\"\nreadable = \"0.125 psi\"",
        limit,
        runs,
    )
}

fn on(gauge: &str, limit: &str, runs: &str) -> Vec<String> {
    let text = format!(
        "format = 1\n[volume]\nvalue = \"250 cm3\"\nuncertainty = \"5 cm3\"\n[ambient]\npressure = \"1013 hPa\"\n\
         temperature = \"20 C\"\n[gauge]\n{gauge}\n{limit}\n{runs}"
    );
    let sheet = Sheet::parse(&text, "sheet.toml", &NoTraces).unwrap();
    let session = Session::assess(&sheet).unwrap();
    session.runs.iter().map(plain_answer).collect()
}

const ONE_PSI: &str = "[limit]\nmax_drop = \"1 psi\"\nfrom = \"7 psi\"\nover = \"60 s\"";

fn run(rows: &str) -> String {
    format!("[[run]]\nname = \"a\"\nreadings = [{rows}]\n")
}

fn stalled(reached: &str) -> String {
    format!(
        "[[run]]\nname = \"a\"\nstalled = {{ strokes = 60, stroke_volume = \"25 cm3\", over = \"60 s\", reached = \"{reached}\" }}\n"
    )
}

/// Each of these is the whole answer.
fn all_are(cases: &[(&str, String, &str)]) {
    for (limit, runs, wanted) in cases {
        assert_eq!(answers(limit, runs), [*wanted], "{runs}");
    }
}

const HELD: &str =
    "[0, 7.0], [20, 6.875], [40, 6.875], [60, 6.75], [80, 6.75], [100, 6.625], [120, 6.625]";
const AT_THE_LIMIT: &str = "[0, 7.0], [20, 6.625], [40, 6.375], [60, 6.0]";

/// The fall over the limit's own time where a reading stands there, else the whole; a limit that the run did not start at is told as
/// what it comes to there. By hand: differences of the readings.
#[test]
fn what_is_decided_says_what_was_read() {
    all_are(&[
        (
            ONE_PSI,
            run(HELD),
            "Holds: it lost 0.25 psi in 60 s, the limit is 1 psi; over 99.9 % sure.",
        ),
        (
            ONE_PSI,
            run("[0, 7.0], [30, 6.875], [90, 6.75], [180, 6.5], [300, 6.25]"),
            "Holds: it lost 0.75 psi in 300 s, the limit is 1 psi in 60 s; over 99.9 % sure.",
        ),
        (
            ONE_PSI,
            run(
                "[0, -7.0], [20, -6.875], [40, -6.875], [60, -6.75], [80, -6.75], [100, -6.625], [120, -6.625]",
            ),
            "Holds: it lost 0.25 psi of vacuum in 60 s, the limit is 1 psi; over 99.9 % sure.",
        ),
        (
            ONE_PSI,
            run("[0, 7.0], [10, 6.0], [20, 5.125], [30, 4.25]"),
            "Leaks: it lost 2.75 psi in 30 s, the limit is 1 psi in 60 s; over 99.9 % sure.",
        ),
        (
            ONE_PSI,
            run(
                "[0, 4.0], [20, 3.75], [40, 3.625], [60, 3.5], [80, 3.25], [100, 3.125], [120, 3.0]",
            ),
            "Holds: it lost 0.5 psi in 60 s, at the limit it would have lost 0.751 psi; 99 % sure.",
        ),
        (
            ONE_PSI,
            run("[0, 7.0], [20, 7.0], [40, 7.0], [60, 7.0], [80, 7.0], [120, 7.0]"),
            "Holds: the needle stood still for 60 s, the limit is 1 psi; over 99.9 % sure.",
        ),
        (
            "[limit]\nmin_hold = \"10 min\"",
            run("[0, 7.0], [300, 7.0], [600, 7.0], [1200, 7.0], [2400, 7.0], [4800, 7.0]"),
            "Holds: the needle stood still for 10 min, at the limit it would have lost 0.125 psi; 95 % sure.",
        ),
    ]);
}

/// With several limits the one that decides is named as the strictest.
#[test]
fn several_limits_are_told_by_the_strictest() {
    let both = format!("{ONE_PSI}\nmax_area = \"0.01 mm2\"");
    let wanted = "Holds: it lost 0.25 psi in 60 s, the strictest limit is 1 psi; over 99.9 % sure.";
    assert_eq!(answers(&both, &run(HELD)), [wanted]);
    let both = format!("{ONE_PSI}\nmax_area = \"0.0001 mm2\"");
    let said = &answers(&both, &run(HELD))[0];
    assert!(
        said.starts_with(
            "Leaks: it lost 0.375 psi in 120 s, at the strictest limit it would have lost 0.195 psi; "
        ),
        "{said}"
    );
}

/// A fall beyond the limit that is no leak beyond it, and why.
#[test]
fn a_fall_on_the_other_side_of_the_limit_is_explained() {
    let settles = "[0, 7.0], [5, 6.25], [10, 6.0], [20, 5.875], [40, 5.875], [60, 5.75], [80, 5.75], [100, 5.75], [120, 5.625]";
    let said = &answers(ONE_PSI, &run(settles))[0];
    assert!(said.starts_with("Holds: it lost 1.25 psi in 60 s, the limit is 1 psi, but by all readings the leak itself makes up only 0."), "{said}");
    assert!(
        said.ends_with(" psi of that, and heat or the gauge the rest; over 99.9 % sure."),
        "{said}"
    );
}

/// The needle of a run with the engine falls by the rig's leak, too, which is taken off.
#[test]
fn what_the_rig_took_of_the_fall_is_said() {
    let rig = "[[run]]\nname = \"hose\"\nrig_alone = \"35 cm3\"\nreadings = [[0, 7.00], [15, 6.13], [30, 5.31], [45, 4.55], [60, 3.84]]\n";
    let both =
        run("[0, 7.00], [15, 6.72], [30, 6.45], [45, 6.18], [60, 5.92], [75, 5.66], [90, 5.41]");
    let said = on(
        "unit = \"psi\"\nresolution = \"0.01 psi\"",
        ONE_PSI,
        &format!("{rig}{both}"),
    );
    let wanted = "Holds: it lost 1.08 psi in 60 s, the limit is 1 psi, but by all readings the leak itself makes up only 0.";
    assert!(said[1].starts_with(wanted), "{said:?}");
    assert!(
        said[1].contains("and the rig, heat or the gauge the rest"),
        "{said:?}"
    );
}

/// Why a run is undecided: too near the limit, a needle that tells nothing, or what the readings show.
#[test]
fn what_is_open_says_why() {
    all_are(&[
        (
            ONE_PSI,
            run(AT_THE_LIMIT),
            "Undecided: it lost 1 psi in 60 s, the limit is 1 psi, but it is only 54 % sure to be within it, and 95 % is asked for.",
        ),
        (
            "[limit]\nmax_area = \"0.001 mm2\"",
            run(AT_THE_LIMIT),
            "Undecided: it lost 1 psi in 60 s, at the limit it would have lost 0.948 psi, but it is only 59 % sure to be beyond it, \
             and 95 % is asked for.",
        ),
        (
            ONE_PSI,
            run("[0, 7.0], [20, 7.125], [40, 7.25], [60, 7.375]"),
            "Undecided: it gained 0.375 psi in 60 s, the limit is 1 psi, but no leak makes a needle rise, and what does can hide one.",
        ),
        (
            ONE_PSI,
            run("[0, 7.0], [5, 4.0], [10, 2.0], [20, 2.0], [40, 2.0], [60, 2.0], [80, 2.0]"),
            "Undecided: it lost 5 psi in 80 s, the limit is 1 psi in 60 s, but the needle fell at once and then rested at 2 psi, which \
             one steady leak does not do.",
        ),
        (
            ONE_PSI,
            run(
                "[0, 7.0], [10, 6.875], [20, 6.75], [30, 0.675], [40, 6.625], [50, 6.5], [60, 6.5], [70, 6.375]",
            ),
            "Undecided: it lost 0.5 psi in 60 s, the limit is 1 psi, but reading 4 (0.675 psi) does not belong to the others.",
        ),
        (
            ONE_PSI,
            run("[0, 7.0], [10, 6.5], [20, 7.0], [30, 6.0], [40, 7.0], [50, 6.0], [60, 6.5]"),
            "Undecided: it lost 0.5 psi in 60 s, the limit is 1 psi, but the readings scatter more than those of one leak do.",
        ),
        (
            ONE_PSI,
            run("[0, 12.0], [20, 11.875], [40, 11.875], [60, 11.75]"),
            "Undecided: it lost 0.25 psi in 60 s, at the limit it would have lost 1.31 psi, but it was started at 12 psi, more than is \
             safe for seals and blanks.",
        ),
    ]);
}

/// What the readings show is told before that the needle lost much.
#[test]
fn the_doubt_that_tells_most_is_told() {
    let gave = "[0, 48.0], [3, 47.8], [6, 47.6], [9, 47.4], [12, 47.2], [15, 47.0], [18, 46.8], [21, 46.6], [24, 46.4], \
                [27, 46.2], [30, 46.0], [33, 45.1], [36, 44.2], [39, 43.3], [42, 42.4], [45, 41.5], [48, 40.6], [51, 39.7], \
                [54, 38.8], [57, 37.9], [60, 37.0]";
    let said = on(
        "unit = \"kPa\"\nresolution = \"0.1 kPa\"",
        ONE_PSI,
        &run(gave),
    );
    let wanted =
        "Undecided: it lost 11 kPa in 60 s, the limit is 6.89 kPa, but something opened at about 3";
    assert!(said[0].starts_with(wanted), "{said:?}");
}

/// A reading that was left out as misread is neither end of the fall.
#[test]
fn a_misread_reading_is_no_end_of_the_fall() {
    let last = "[0, 7.0], [10, 6.875], [20, 6.75], [30, 6.75], [40, 6.625], [50, 6.5], [60, 6.5], [70, 0.6375]";
    let by_area = answers("[limit]\nmax_area = \"0.01 mm2\"", &run(last));
    assert!(
        by_area[0].contains("it lost 0.5 psi in 60 s"),
        "{by_area:?}"
    );
    assert!(
        by_area[0].ends_with("but reading 8 (0.637 psi) does not belong to the others."),
        "{by_area:?}"
    );
}

#[test]
fn a_stalled_pump_and_what_is_not_judged() {
    all_are(&[
        (
            ONE_PSI,
            stalled("0.5 psi"),
            "Stalled: the pump brought the needle no further than 0.5 psi; the leak is at least 0.274 mm2, beyond the limit already.",
        ),
        (
            "",
            stalled("-0.5 psi"),
            "Stalled: the pump brought the needle no further than 0.5 psi of vacuum; the leak is at least 0.270 mm2.",
        ),
        (
            "",
            run(AT_THE_LIMIT),
            "Not judged: it lost 1 psi in 60 s; no limit is stated.",
        ),
    ]);
    let rig = "[[run]]\nname = \"hose\"\nrig_alone = \"35 cm3\"\nreadings = [[0, 7.0], [60, 6.875], [120, 6.75], [180, 6.625]]\n";
    let said = answers(ONE_PSI, &format!("{rig}{}", run(HELD)));
    assert_eq!(
        said[0],
        "The rig alone, not judged: it lost 0.375 psi in 180 s."
    );
    assert!(
        said[1].starts_with("Holds: it lost 0.25 psi in 60 s"),
        "{said:?}"
    );
}

/// On each kind of gauge the fall is told as finely as it is read, and a long time in minutes.
#[test]
fn falls_are_told_as_finely_as_they_are_read() {
    let kilopascals = "[limit]\nmax_drop = \"7 kPa\"\nfrom = \"48 kPa\"\nover = \"30 min\"";
    let rows = run("[0, 48.03], [600, 47.91], [1200, 47.80], [1800, 47.68]");
    let said = on(
        "unit = \"kPa\"\nresolution = \"0.01 kPa\"",
        kilopascals,
        &rows,
    );
    assert!(
        said[0].starts_with("Holds: it lost 0.35 kPa in 30 min, "),
        "{said:?}"
    );
    for (step, decimals) in [
        (0.125, 3),
        (0.5, 1),
        (5.0, 0),
        (0.02, 2),
        (1.0 / 3.0, 1),
        (0.0145, 2),
        (1e-12, 9),
    ] {
        assert_eq!(decimals_of(step), decimals, "{step}");
    }
}

#[test]
fn no_percent_is_rounded_up() {
    for (p, told) in [
        (0.95, "95"),
        (0.9599, "95"),
        (0.989_999, "98"),
        (0.999, "99"),
        (0.9991, "over 99.9"),
    ] {
        assert_eq!(whole_percent(p), told);
    }
}

/// Each of these doubts ends the sentence with such words, none in those of a laboratory.
fn end_with(doubts: &[(Doubt, &str)]) {
    let told = Told {
        unit: <Pressure as casetight::quantity::TradeUnits>::unit("kPa").unwrap(),
        step: Pressure::new::<pascal>(100.0),
        several: false,
    };
    for (doubt, words) in doubts {
        let said = told.doubt(doubt);
        assert!(said.contains(words), "{said}");
        for science in ["CdA", "chi", "Birge", "Knudsen", "sigma"] {
            assert!(!said.contains(science), "{said}");
        }
    }
}

#[test]
fn every_doubt_has_a_plain_word() {
    let misread = Misread {
        row: 3,
        time_s: 20.0,
        reading_pa: 4_700.0,
        expected_pa: 47_000.0,
        decimal_point: true,
    };
    let beyond = BeyondReach {
        outside: Outside::Volume { cubic_meters: 0.04 },
        may_move_pa: 900.0,
        settled_after_s: None,
    };
    let lost = Doubt::NeedleLost {
        lost_pa: 9e3,
        allowed_pa: 7e3,
        seconds: 60.0,
        rest: None,
    };
    let turned = Doubt::Turned {
        row: 2,
        reading_pa: 46e3,
        moved_pa: None,
    };
    end_with(&[
        (Doubt::NotFinite, "no curve of a leak"),
        (Doubt::WrongSide { start_pa: -1.0 }, "contradict each other"),
        (lost, "settling gas or a moving gauge"),
        (Doubt::Misread(misread), "reading 3 (4.7 kPa)"),
        (turned, "reading 2 (46 kPa) decides alone"),
        (Doubt::BeyondReach(beyond), "warms or cools"),
    ]);
}

#[test]
fn every_cause_and_every_strain_has_a_plain_word() {
    let unsteady = |cause| {
        Doubt::Unsteady(Unsteady {
            cause,
            probability: 1e-4,
        })
    };
    let cooling = Cause::Drifts {
        kelvins_per_minute: -2.0,
    };
    let heat = Strain::Heat {
        kelvins: 9.0,
        at_most_kelvins: 5.0,
    };
    let term = Strain::Term {
        kind: PartKind::Gauge,
        off: 6.0,
    };
    let rig = Strain::RigBeyondWhole {
        rig_m2: 2e-9,
        whole_m2: 1e-9,
    };
    end_with(&[
        (unsteady(None), "one steady leak"),
        (unsteady(Some(cooling)), "still cooling"),
        (
            unsteady(Some(Cause::Zero { off_pa: 500.0 })),
            "0.5 kPa without any pressure",
        ),
        (Doubt::Strained(heat), "temperature"),
        (Doubt::Strained(term), "the gauge's accuracy is further off"),
        (Doubt::Strained(rig), "rig alone leaked more"),
        (Doubt::Strained(Strain::Rig), "rig alone are not"),
    ]);
}

/// A dial of half a psi that was read to a quarter all the same.
#[test]
fn what_was_read_finer_than_the_step_is_told_so() {
    let read = run("[0, 7.00], [60, 6.75], [120, 6.50]");
    let said = on("unit = \"psi\"\ndivision = \"0.5 psi\"", ONE_PSI, &read);
    assert!(
        said[0].starts_with("Holds: it lost 0.25 psi in 60 s"),
        "{said:?}"
    );
}
