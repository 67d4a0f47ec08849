//! Tests judged while they are held, in small: wrong verdicts at the limit, and the time that clear cases take. Seeded, so
//! that it either passes always or never; the study in large is the program `live`.

use casetight::vessel::Direction;
use casetight_tests::live::{MOST_WRONG, logged, logged_with_all_unknown, read_by_eye};

const TESTS: u64 = 100;
const SEED: u64 = 31;

/// A technician who looks as often at the plain 95 % rule is wrong far more often: the study can tell.
#[test]
fn at_the_limit_both_kinds_of_wrong_verdicts_are_rare() {
    for direction in [Direction::Pressure, Direction::Vacuum] {
        for study in [logged(direction), logged_with_all_unknown(direction)] {
            let row = study.run(1.0, TESTS, SEED);
            assert!(row.may_keep(MOST_WRONG), "{row}");
            let plain = row.plain_holds + row.plain_leaks;
            assert!(plain as u64 > TESTS / 3, "{row}");
        }
    }
}

#[test]
fn half_and_twice_the_limit_are_told_soon_and_right() {
    for (study, soon_s) in [
        (logged(Direction::Pressure), 10.0),
        (logged(Direction::Vacuum), 10.0),
        (logged_with_all_unknown(Direction::Pressure), 10.0),
        (read_by_eye(Direction::Pressure), 40.0),
    ] {
        let tests = 30;
        let half = study.run(0.5, tests, SEED);
        let twice = study.run(2.0, tests, SEED);
        assert_eq!((half.holds as u64, half.leaks), (tests, 0), "{half}");
        assert_eq!((twice.holds, twice.leaks as u64), (0, tests), "{twice}");
        assert!(
            half.mean_s < soon_s && twice.mean_s < soon_s,
            "{half}\n{twice}"
        );
    }
}
