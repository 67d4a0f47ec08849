//! The program as its user runs it: demo sheets, exit codes, JSON, plots, and every bad input.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

mod common;

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;

use common::{demo, on_sheet};

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_casetight"))
        .args(arguments)
        .output()
        .unwrap()
}

fn assess(sheet: &Path, more: &[&str]) -> (i32, String, String) {
    on_sheet("assess", sheet, more)
}

/// A sheet whose parts can be swapped.
fn sheet(gauge: &str, limit: &str, runs: &str) -> String {
    format!(
        r#"format = 1
title = "test"
[volume]
value = "250 cm3"
uncertainty = "3 cm3"
[ambient]
pressure = "101325 Pa"
temperature = "20 C"
[gauge]
{gauge}
{limit}
{runs}
"#
    )
}

const GAUGE: &str = "unit = \"kPa\"\nresolution = \"0.1 kPa\"\nnoise = \"0.06 kPa\"";
const LIMIT: &str = "[limit]\nmax_drop = \"1 psi\"\nfrom = \"7 psi\"\nover = \"60 s\"";
const RUN: &str = "[[run]]\nname = \"a\"\nreadings = [[0, 48.0], [30, 45.0], [60, 42.1]]";

fn readings(rows: &str) -> String {
    format!("[[run]]\nname = \"a\"\nreadings = [{rows}]")
}

/// Writes a sheet and assesses it.
fn written(bytes: &[u8]) -> (i32, String, String) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("sheet.toml");
    std::fs::write(&path, bytes).unwrap();
    assess(&path, &["--detail"])
}

/// The sheet is refused: exit code 2, nothing on standard output, and a message with all of these.
#[track_caller]
fn refused(sheet: &str, fragments: &[&str]) {
    refused_bytes(sheet.as_bytes(), fragments);
}

#[track_caller]
fn refused_bytes(sheet: &[u8], fragments: &[&str]) {
    let (code, out, err) = written(sheet);
    assert_eq!((code, out.as_str()), (2, ""), "{err}");
    for fragment in fragments {
        assert!(err.contains(fragment), "{fragment:?} is not in: {err}");
    }
    assert!(err.contains("sheet.toml"), "the file is named: {err}");
}

#[test]
fn the_demo_sheets_have_the_verdicts_that_they_were_made_for() {
    for (name, code, verdicts) in [
        ("mist-blower-14.toml", 0, &["holds", "holds"][..]),
        ("clearing-saw-3.toml", 1, &["leaks", "holds"]),
        ("ice-auger-7.toml", 1, &["holds", "leaks"]),
        ("kart-engine-2.toml", 3, &["stalled"]),
        ("mist-blower-9-before.toml", 1, &["leaks"]),
        ("mist-blower-9-repaired.toml", 0, &["holds"]),
    ] {
        let (got, out, err) = assess(&demo(name), &["--json"]);
        assert_eq!(got, code, "{name}: {err}");
        let json: Value = serde_json::from_str(&out).unwrap();
        assert_eq!(json["format"], 1);
        let got: Vec<_> = json["runs"]
            .as_array()
            .unwrap()
            .iter()
            .map(|r| r["verdict"].as_str().unwrap())
            .collect();
        assert_eq!(got, verdicts, "{name}");
    }
}

/// The holes that the demo's readings were made with [mm].
#[test]
fn the_demo_holes_lie_in_their_intervals() {
    for (name, run, hole) in [
        ("mist-blower-14.toml", 0, 0.012),
        ("mist-blower-14.toml", 1, 0.014),
        ("clearing-saw-3.toml", 0, 0.090),
        ("clearing-saw-3.toml", 1, 0.020),
        ("ice-auger-7.toml", 0, 0.018),
        ("ice-auger-7.toml", 1, 0.075),
        ("mist-blower-9-before.toml", 0, 0.110),
        ("mist-blower-9-repaired.toml", 0, 0.015),
    ] {
        let (_, out, _) = assess(&demo(name), &["--json"]);
        let json: Value = serde_json::from_str(&out).unwrap();
        let d = &json["runs"][run]["diameter_m"];
        let (low, high) = (
            d["low"].as_f64().unwrap() * 1e3,
            d["high"].as_f64().unwrap() * 1e3,
        );
        assert!(
            low < hole && hole < high,
            "{name} {run}: {low} to {high} mm, made with {hole}"
        );
    }
}

#[test]
fn words_carry_verdict_interval_and_cautions() {
    let (_, out, _) = assess(&demo("clearing-saw-3.toml"), &["--detail"]);
    let out = out.split_whitespace().collect::<Vec<_>>().join(" ");
    for wanted in [
        "pressure: leaks",
        "vacuum: holds",
        "95 % interval",
        "Cd 0.62",
        "crank seal whose lip faces outward",
        "plug lead grounded",
        "fuel drained",
        "Eye protection",
        "fingers clear",
        "maker's manual",
    ] {
        assert!(out.contains(wanted), "{wanted}");
    }
    assert!(!out.contains('\u{1b}'), "no colors off a terminal");
}

#[test]
fn a_plot_is_written_whole_or_not_at_all() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("decay.svg");
    let (code, _, _) = assess(
        &demo("mist-blower-14.toml"),
        &["--plot", file.to_str().unwrap()],
    );
    let svg = std::fs::read_to_string(&file).unwrap();
    assert_eq!(code, 0);
    assert!(svg.starts_with("<svg") && svg.trim_end().ends_with("</svg>"));
    assert!(
        svg.contains("readings and fit")
            && svg.contains("residuals")
            && svg.contains("straightened")
    );

    let nowhere = folder.path().join("no/such/folder/decay.svg");
    let (code, out, err) = assess(
        &demo("mist-blower-14.toml"),
        &["--plot", nowhere.to_str().unwrap()],
    );
    assert_eq!((code, out.as_str()), (2, ""));
    assert!(err.contains("can't be written"), "{err}");
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
}

#[test]
fn volume_shows_parts_and_turn() {
    let out = run(&[
        "volume",
        demo("mist-blower-14.toml").to_str().unwrap(),
        "--json",
    ]);
    let json: Value = serde_json::from_slice(&out.stdout).unwrap();
    let parts: f64 = json["runs"][0]["parts"]
        .as_array()
        .unwrap()
        .iter()
        .map(|p| p["volume_m3"].as_f64().unwrap())
        .sum();
    let whole = json["runs"][0]["volume_m3"].as_f64().unwrap();
    assert!((parts / whole - 1.0).abs() < 1e-12);
    // By hand: 46 mm x 31 mm sweeps 51.52 cm3; case 51.52/0.42, clearance 51.52/6.1, rig 18.
    let swept: f64 = std::f64::consts::PI * 4.6 * 4.6 / 4.0 * 3.1;
    assert!((whole * 1e6 - (swept / 0.42 + swept + swept / 6.1 + 18.0)).abs() < 1e-6);
    assert_eq!(json["turn"].as_array().unwrap().len(), 12);
}

#[test]
fn no_limit_gives_numbers_and_no_verdict() {
    let (code, out, _) = written(sheet(GAUGE, "", RUN).as_bytes());
    assert_eq!(code, 3);
    assert!(
        out.contains("no limit stated") && out.contains("max_drop"),
        "{out}"
    );
    assert!(!out.contains("holds") && !out.contains(": leaks"), "{out}");
}

#[test]
fn a_rule_asked_for_by_name_says_that_it_is_common_practice() {
    let rule = "[limit]\nrule = \"common practice: one psi a minute\"";
    let (code, out, _) = written(sheet(GAUGE, rule, RUN).as_bytes());
    assert_eq!(code, 0, "{out}");
    assert!(out.contains("common practice on the bench"), "{out}");
}

#[test]
fn an_undecided_run_says_how_long_to_go_on() {
    let short = readings("[0, 48.0], [4, 47.6], [8, 47.2]");
    let tight = "[limit]\nmax_drop = \"6.0 kPa\"\nfrom = \"48 kPa\"\nover = \"60 s\"";
    let (code, out, _) = written(sheet(GAUGE, tight, &short).as_bytes());
    assert_eq!(code, 3, "{out}");
    assert!(
        out.contains("undecided") && out.contains("Hold about"),
        "{out}"
    );
}

#[test]
fn nan_is_refused() {
    refused(
        &sheet(GAUGE, LIMIT, &readings("[0, 48.0], [30, nan]")),
        &["run[1].readings[2]", "finite"],
    );
    refused(
        &sheet("unit = \"kPa\"\nresolution = \"nan kPa\"", LIMIT, RUN),
        &["gauge.resolution", "nan"],
    );
}

#[test]
fn infinity_is_refused() {
    refused(
        &sheet(GAUGE, LIMIT, &readings("[0, 48.0], [inf, 45.0]")),
        &["run[1].readings[2]", "finite"],
    );
    refused(
        &sheet(GAUGE, LIMIT, &readings("[0, 48.0], [30, 1e999]")),
        &["run[1].readings"],
    );
}

#[test]
fn a_negative_volume_is_refused() {
    let text = sheet(GAUGE, LIMIT, RUN).replace("\"250 cm3\"", "\"-250 cm3\"");
    refused(&text, &["volume"]);
    let text = sheet(GAUGE, LIMIT, RUN).replace("\"3 cm3\"", "\"-3 cm3\"");
    refused(&text, &["volume.uncertainty"]);
}

#[test]
fn unsorted_and_repeated_times_are_refused() {
    refused(
        &sheet(GAUGE, LIMIT, &readings("[30, 48.0], [0, 45.0]")),
        &["run[1].readings[2]", "after"],
    );
    refused(
        &sheet(GAUGE, LIMIT, &readings("[0, 48.0], [0, 45.0]")),
        &["run[1].readings[2]", "after"],
    );
}

#[test]
fn a_vacuum_beyond_ambient_is_refused() {
    refused(
        &sheet(GAUGE, LIMIT, &readings("[0, -110.0], [30, -100.0]")),
        &["run[1].readings[1]", "perfect vacuum"],
    );
}

#[test]
fn a_pressure_above_the_caution_limit_is_answered_with_the_caution() {
    let (_, out, _) =
        written(sheet(GAUGE, LIMIT, &readings("[0, 95.0], [30, 80.0], [60, 67.0]")).as_bytes());
    assert!(out.contains("above the usual caution limit"), "{out}");
}

#[test]
fn mixed_directions_are_refused() {
    refused(
        &sheet(GAUGE, LIMIT, &readings("[0, 48.0], [30, -30.0]")),
        &["run[1].readings[2]", "two runs"],
    );
}

#[test]
fn no_reading_and_one_reading_are_refused() {
    refused(
        &sheet(GAUGE, LIMIT, &readings("")),
        &["run[1].readings", "at least two"],
    );
    refused(
        &sheet(GAUGE, LIMIT, &readings("[0, 48.0]")),
        &["run[1].readings", "at least two"],
    );
}

#[test]
fn two_readings_already_give_an_answer() {
    let (code, out, _) =
        written(sheet(GAUGE, LIMIT, &readings("[0, 48.0], [60, 30.0]")).as_bytes());
    // Gas that was still settling at the first reading explains as much of the fall as a leak.
    assert_eq!(code, 3, "{out}");
    assert!(out.contains("settled_for"), "{out}");
    let settled = readings("[0, 48.0], [60, 30.0]") + "\nsettled_for = \"20 s\"\n";
    let (code, out, _) = written(sheet(GAUGE, LIMIT, &settled).as_bytes());
    assert_eq!(code, 1, "{out}");
}

#[test]
fn a_needle_at_rest_by_the_second_reading_leaks_at_least_so_much() {
    let (code, out, _) =
        written(sheet(GAUGE, LIMIT, &readings("[0, 48.0], [10, 0.0], [20, 0.0]")).as_bytes());
    assert_eq!(code, 1, "{out}");
    assert!(
        out.contains("at least") && out.contains("gross leak"),
        "{out}"
    );
}

/// A needle that never left zero: the bound is that of the smallest step, and a limit on holding can't be applied to it.
#[test]
fn a_pump_that_stalls_at_zero_gives_a_lower_bound() {
    let stall = "[[run]]\nname = \"a\"\nstalled = { strokes = 20, stroke_volume = \"30 cm3\", over = \"20 s\", reached = \"0 psi\" }";
    let (code, out, err) = written(sheet(GAUGE, "[limit]\nmin_hold = \"2 min\"", stall).as_bytes());
    assert_eq!(code, 3, "{err}");
    assert!(
        out.contains("stalled") && out.contains("at least") && out.contains("plug lead grounded"),
        "{out}"
    );
}

#[test]
fn equal_readings_give_an_upper_bound() {
    let (code, out, _) =
        written(sheet(GAUGE, LIMIT, &readings("[0, 48.0], [30, 48.0], [60, 48.0]")).as_bytes());
    assert_eq!(code, 0, "{out}");
    assert!(
        out.contains("at most") && out.contains("stands still"),
        "{out}"
    );
}

#[test]
fn rising_readings_are_no_leak() {
    let (code, out, _) =
        written(sheet(GAUGE, LIMIT, &readings("[0, 48.0], [30, 49.0], [60, 50.0]")).as_bytes());
    assert_eq!(code, 3, "{out}");
    assert!(
        out.contains("The needle rose by 2 kPa in 60 s") && out.contains("one temperature"),
        "{out}"
    );
}

#[test]
fn a_gauge_that_cannot_be_is_refused() {
    refused(
        &sheet("unit = \"kPa\"\nresolution = \"0 kPa\"", LIMIT, RUN),
        &["gauge"],
    );
    refused(
        &sheet(
            &format!("{GAUGE}\naccuracy_class = -1\nspan = \"100 kPa\""),
            LIMIT,
            RUN,
        ),
        &["gauge.accuracy_class"],
    );
}

#[test]
fn an_unknown_unit_or_none_is_refused_with_those_accepted() {
    let text = sheet(GAUGE, LIMIT, RUN).replace("\"250 cm3\"", "\"250 gallons\"");
    refused(&text, &["volume.value", "gallons", "cm3"]);
    let text = sheet(GAUGE, LIMIT, RUN).replace("\"250 cm3\"", "\"250\"");
    refused(&text, &["volume.value", "unit"]);
}

#[test]
fn an_unknown_key_is_refused_with_the_nearest() {
    refused(
        &sheet(&format!("{GAUGE}\nstopwach = \"0.1 s\""), LIMIT, RUN),
        &["gauge.stopwach", "stopwatch", "13:"],
    );
}

#[test]
fn another_format_is_refused() {
    refused(
        &sheet(GAUGE, LIMIT, RUN).replace("format = 1", "format = 2"),
        &["format", "2", "1"],
    );
}

#[test]
fn empty_and_truncated_files_are_refused() {
    refused("", &["format"]);
    let whole = sheet(GAUGE, LIMIT, RUN);
    let cut = &whole[..whole.len() - 12];
    refused(cut, &[":19:", "the file ends within this line"]);
}

#[test]
fn a_truncated_trace_is_refused_at_its_line() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(
        folder.path().join("t.csv"),
        "time_s,gauge_kpa\n0,48.0\n1,47.5\n2,",
    )
    .unwrap();
    let path = folder.path().join("sheet.toml");
    std::fs::write(
        &path,
        sheet(GAUGE, LIMIT, "[[run]]\nname = \"a\"\nfile = \"t.csv\""),
    )
    .unwrap();
    let (code, _, err) = assess(&path, &[]);
    assert_eq!(code, 2);
    assert!(err.contains("t.csv") && err.contains('4'), "{err}");
}

/// A logger's whole test in bar absolute and milliseconds: idle, pumped from 5 s to 9 s, held to 69 s, vented, idle.
fn whole_test() -> String {
    let mut text = "Workshop logger, bench 2\nt [ms];p [bar]\n".to_owned();
    for row in 0..400 {
        let time = 0.2 * f64::from(row);
        let gauge = match time {
            5.0..9.0 => 0.48 * (time - 5.0) / 4.0,
            9.0..69.1 => 0.48 * (1.0 - (time - 9.0) / 1500.0).powi(2),
            _ => 0.0,
        };
        let bar = format!("{:.3}", 1.01325 + gauge).replace('.', ",");
        writeln!(text, "{};{bar}", 200 * row).unwrap();
    }
    text
}

const LOGGER: &str = r#"[profiles.logger]
separator = ";"
decimal = ","
skip_rows = 1
time = "t [ms]"
time_unit = "ms"
pressure = 2
pressure_unit = "bar"
pressure_kind = "absolute"
[[run]]
name = "a"
file = "whole.csv"
profile = "logger"
"#;

/// A folder with a sheet and the trace of a whole test.
fn with_trace(trace: &str, keys: &str) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("whole.csv"), trace).unwrap();
    let path = folder.path().join("sheet.toml");
    std::fs::write(&path, sheet(GAUGE, LIMIT, &format!("{LOGGER}{keys}"))).unwrap();
    (folder, path)
}

#[test]
fn a_whole_test_in_a_foreign_file_is_cut_to_its_hold() {
    let (folder, path) = with_trace(&whole_test(), "");
    let figure = folder.path().join("trace.svg");
    let (code, out, err) = assess(&path, &["--detail", "--plot", figure.to_str().unwrap()]);
    assert_eq!(code, 0, "{out}{err}");
    let words = out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        words.contains("of the trace's 400 readings are used"),
        "{words}"
    );
    assert!(
        words.contains("the hold that was found, after pumping and before venting"),
        "{words}"
    );
    let svg = std::fs::read_to_string(figure).unwrap();
    for part in [
        "a: the whole trace",
        "before, not used",
        "pump 5.",
        "used: 9.",
    ] {
        assert!(svg.contains(part), "{part}");
    }
    let (_, out, _) = assess(&path, &["--json"]);
    let json: Value = serde_json::from_str(&out).unwrap();
    let note = json["runs"][0]["notes"][0].as_str().unwrap();
    assert!(note.contains("State `window = [from_s, to_s]`"), "{note}");

    // The same readings, stated.
    let (_folder, path) = with_trace(&whole_test(), "window = [20, 60]\n");
    let (_, out, _) = assess(&path, &["--detail"]);
    let words = out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        words.contains(
            "201 of the trace's 400 readings are used, 20 s to 60 s, as the sheet's window says"
        ),
        "{words}"
    );
    assert!(words.contains("201 readings over 40.0 s"), "{words}");
}

#[test]
fn a_trace_with_no_hold_is_refused() {
    // Cut off while pumping.
    let whole = whole_test();
    let cut: Vec<&str> = whole.lines().take(45).collect();
    let (_folder, path) = with_trace(&cut.join("\n"), "");
    let (code, out, err) = assess(&path, &[]);
    assert_eq!((code, out.as_str()), (2, ""));
    assert!(
        err.contains("no hold found among idle, pump (43 readings, 0 s to 8.4 s)"),
        "{err}"
    );
    assert!(
        err.contains("whole.csv") && err.contains("a window from and to"),
        "{err}"
    );
}

#[test]
fn a_window_without_readings_is_refused() {
    let (_folder, path) = with_trace(&whole_test(), "window = [100, 200]\n");
    let (code, _, err) = assess(&path, &[]);
    assert_eq!(code, 2);
    assert!(
        err.contains(
            "run[1].window: 0 reading(s) between 100 s and 200 s; the trace goes from 0 s to 79.8 s"
        ),
        "{err}"
    );
}

#[test]
fn a_wrong_encoding_is_refused() {
    let mut bytes = sheet(GAUGE, LIMIT, RUN).into_bytes();
    bytes[20] = 0xff;
    refused_bytes(&bytes, &["UTF-8"]);
    let utf16: Vec<u8> = [0xff, 0xfe]
        .into_iter()
        .chain("format = 1".encode_utf16().flat_map(u16::to_le_bytes))
        .collect();
    refused_bytes(&utf16, &["UTF-16"]);
    let with_mark = [b"\xef\xbb\xbf", sheet(GAUGE, LIMIT, RUN).as_bytes()].concat();
    assert_eq!(written(&with_mark).0, 0);
}

#[test]
fn a_missing_file_is_named_with_the_reason() {
    let (code, out, err) = assess(Path::new("no-such-sheet.toml"), &[]);
    assert_eq!((code, out.as_str()), (2, ""));
    assert!(
        err.contains("no-such-sheet.toml") && err.contains("can't be read"),
        "{err}"
    );
}

#[test]
fn the_readme_shows_what_the_program_prints() {
    let readme = std::fs::read_to_string(demo("../../README.md")).unwrap();
    let (_, out, _) = assess(&demo("mist-blower-14.toml"), &[]);
    assert!(
        readme.contains(&format!("```text\n{out}```")),
        "run the README's first command and paste what it prints:\n{out}"
    );
}
