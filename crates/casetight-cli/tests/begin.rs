//! `casetight begin` on a pseudo terminal, as a technician types.
#![cfg(unix)]
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

use std::io::Write as _;
use std::path::Path;
use std::process::Command;

use rexpect::reader::Options;
use rexpect::session::{PtySession, spawn_with_options};

mod common;

/// Milliseconds to wait for a question: a test machine may be busy.
const PATIENCE_MS: u64 = 60_000;

/// An arrow key down.
const DOWN: &str = "\u{1b}[B";
/// Two of them.
const DOWN_TWICE: &str = "\u{1b}[B\u{1b}[B";

fn begin(folder: &Path, more: &[&str]) -> PtySession {
    let mut command = Command::new(env!("CARGO_BIN_EXE_casetight"));
    command.arg("begin").args(more).current_dir(folder);
    // A plain terminal of a known width.
    command
        .env("TERM", "xterm")
        .env("COLUMNS", "100")
        .env("NO_COLOR", "1");
    let options = Options::default()
        .timeout_ms(Some(PATIENCE_MS))
        .strip_ansi_escape_codes(true);
    spawn_with_options(command, options).unwrap()
}

/// Waits for a question and types the answer.
fn answer(terminal: &mut PtySession, question: &str, typed: &str) {
    if let Err(error) = terminal.exp_string(question) {
        panic!("{question}: {error}");
    }
    terminal.send(typed).unwrap();
    terminal.send("\r").unwrap();
    terminal.flush().unwrap();
}

/// Up to the readings: a saw of 45 cm3 on a psi dial, in a shop at 300 m, by the common rule.
fn up_to_the_readings(terminal: &mut PtySession) {
    answer(terminal, "What is on the bench?", "Clearing saw 7");
    answer(terminal, "What does the gauge read in?", "");
    answer(terminal, "Pressure or vacuum?", "");
    answer(terminal, "What kind of gauge is it?", "");
    answer(terminal, "from one mark to the next?", "");
    answer(terminal, "How finely do you read it?", DOWN);
    answer(terminal, "What do you know of the engine?", "");
    answer(terminal, "Displacement?", "45 cc");
    answer(terminal, "Where does the piston stand?", "");
    answer(terminal, "What do hose and gauge hold", "?");
    answer(terminal, "How warm are the shop", "");
    answer(terminal, "the air pressure there?", "");
    answer(terminal, "How high above the sea", "300 m");
    answer(terminal, "What may the engine lose?", DOWN);
}

/// From an empty folder to a verdict: one command, no refused file, nothing to look up.
#[test]
fn a_displacement_and_three_readings_end_in_a_verdict() {
    let folder = tempfile::tempdir().unwrap();
    let mut terminal = begin(folder.path(), &[]);
    up_to_the_readings(&mut terminal);
    answer(&mut terminal, "And the readings?", "");
    answer(&mut terminal, "How long after the last stroke", "?");
    answer(&mut terminal, "reading 1?", "0 7");
    answer(&mut terminal, "reading 2?", "0:30 seven");
    answer(&mut terminal, "reading 2?", "0:30 7");
    answer(&mut terminal, "reading 3?", "1:00 6.75");
    answer(&mut terminal, "reading 4?", "");
    terminal.exp_string("clearing-saw-7.toml").unwrap();
    terminal.exp_string("pressure - Holds: it lost").unwrap();
    let rest = terminal.exp_eof().unwrap();
    assert!(rest.contains("All runs hold"), "{rest}");
    let sheet = folder.path().join("clearing-saw-7.toml");
    let text = std::fs::read_to_string(&sheet).unwrap();
    assert!(
        text.contains("displacement = \"45 cc\"") || text.contains("displacement = \"45 cm3\""),
        "{text}"
    );
    let (code, out, err) = common::on_sheet("assess", &sheet, &[]);
    assert_eq!(code, 0, "{out}{err}");
}

/// On into the hold: this machine's clock takes the time.
#[test]
fn the_hold_goes_on_from_the_questions() {
    let folder = tempfile::tempdir().unwrap();
    let mut terminal = begin(folder.path(), &["saw.toml"]);
    up_to_the_readings(&mut terminal);
    answer(&mut terminal, "And the readings?", DOWN);
    terminal.exp_string("kept in saw.toml").unwrap();
    terminal
        .exp_string("then type what the gauge shows")
        .unwrap();
    terminal.exp_string("plug lead grounded").unwrap();
    for gauge in ["7", "7", "7"] {
        std::thread::sleep(std::time::Duration::from_millis(200));
        terminal.send_line(gauge).unwrap();
        terminal.exp_string("7.00 psi").unwrap();
    }
    terminal.send_control('d').unwrap();
    terminal.exp_string("pressure - ").unwrap();
    terminal.exp_eof().unwrap();
    let trace = std::fs::read_to_string(folder.path().join("saw-pressure.csv")).unwrap();
    assert!(
        trace.starts_with("time_s,gauge_psi\n") || trace.starts_with('#'),
        "{trace}"
    );
    assert_eq!(
        trace.lines().filter(|line| line.ends_with(",7")).count(),
        3,
        "{trace}"
    );
}

/// Nothing is written before the last answer.
#[test]
fn who_leaves_early_leaves_nothing_behind() {
    let folder = tempfile::tempdir().unwrap();
    let mut terminal = begin(folder.path(), &[]);
    answer(&mut terminal, "What is on the bench?", "Clearing saw 7");
    terminal.exp_string("What does the gauge read in?").unwrap();
    terminal.send_control('c').unwrap();
    let said = terminal.exp_eof().unwrap();
    assert!(said.contains("nothing was written"), "{said}");
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
}

/// What the program says to do with a sheet that is kept works as it is said: the replies are in the sheet.
#[test]
fn a_sheet_that_is_kept_goes_on_by_the_commands_that_are_told() {
    for (known, piston) in [("don't know", DOWN_TWICE), ("top", DOWN)] {
        let folder = tempfile::tempdir().unwrap();
        let mut terminal = begin(folder.path(), &["saw.toml"]);
        answer(&mut terminal, "What is on the bench?", "Clearing saw 7");
        answer(&mut terminal, "What does the gauge read in?", "");
        answer(&mut terminal, "Pressure or vacuum?", DOWN);
        answer(&mut terminal, "What kind of gauge is it?", "");
        answer(&mut terminal, "from one mark to the next?", "");
        answer(&mut terminal, "How finely do you read it?", "");
        answer(&mut terminal, "What do you know of the engine?", "");
        answer(&mut terminal, "Displacement?", "45 cc");
        answer(&mut terminal, "Where does the piston stand?", piston);
        answer(&mut terminal, "What do hose and gauge hold", "?");
        answer(&mut terminal, "How warm are the shop", "");
        answer(&mut terminal, "the air pressure there?", "");
        answer(&mut terminal, "How high above the sea", "300 m");
        answer(&mut terminal, "What may the engine lose?", DOWN);
        answer(&mut terminal, "And the readings?", DOWN_TWICE);
        let said = terminal.exp_eof().unwrap();
        let told: Vec<&str> = said.split("casetight ").skip(1).collect();
        assert_eq!(told.len(), 2, "{said}");
        for (command, input) in told.iter().zip(["7\n7\n6.5\n", ""]) {
            let words = command.lines().next().unwrap().split_whitespace();
            let mut child = common::started(folder.path(), words);
            let mut typed = child.stdin.take().unwrap();
            for line in input.lines() {
                std::thread::sleep(std::time::Duration::from_millis(200));
                writeln!(typed, "{line}").unwrap();
            }
            drop(typed);
            let out = child.wait_with_output().unwrap();
            let text = String::from_utf8_lossy(&out.stdout);
            let err = String::from_utf8_lossy(&out.stderr);
            assert_ne!(
                out.status.code(),
                Some(2),
                "{known}: {command}\n{text}{err}"
            );
            assert!(text.contains("vacuum"), "{known}: {command}\n{text}{err}");
            assert!(!err.contains("skipped"), "{known}: {command}\n{err}");
        }
        let sheet = std::fs::read_to_string(folder.path().join("saw.toml")).unwrap();
        assert_eq!(
            sheet.contains("piston = \"top\""),
            known == "top",
            "{sheet}"
        );
    }
}
