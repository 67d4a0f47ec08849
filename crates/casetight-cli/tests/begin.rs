//! `casetight begin` on a pseudo terminal, as a technician types.
#![cfg(unix)]
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

use std::path::Path;
use std::process::Command;

use rexpect::reader::Options;
use rexpect::session::{PtySession, spawn_with_options};

mod common;

/// Milliseconds to wait for a question: a test machine may be busy.
const PATIENCE_MS: u64 = 60_000;

/// An arrow key down.
const DOWN: &str = "\u{1b}[B";

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
