//! `casetight live` as its user runs it: readings piped in, a crash in between, and what stands on the disk.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

mod common;

use std::fmt::Write as _;
use std::io::{BufRead, BufReader, Read as _, Write as _};
use std::path::PathBuf;
use std::process::{Child, Command};

use serde_json::Value;

const SHEET: &str = "format = 1\ntitle = \"live\"\n[volume]\nvalue = \"250 cm3\"\nuncertainty = \"3 cm3\"\n\
    [ambient]\npressure = \"101325 Pa\"\ntemperature = \"20 C\"\n[gauge]\nunit = \"kPa\"\nresolution = \"0.1 kPa\"\nnoise = \"0.06 kPa\"\n";
const LIMIT: &str = "[limit]\nmax_drop = \"1 psi\"\nfrom = \"7 psi\"\nover = \"60 s\"\n";
const KNOWN: &str = "[heat]\nsettled_for = \"20 s\"\n[assumptions]\nlaw = \"orifice\"\n";
const RUN: &str = "[[run]]\nname = \"pressure\"\nfile = \"pressure.csv\"\n";

struct Folder(tempfile::TempDir);

impl Folder {
    fn new(sheet: &[&str]) -> Self {
        let folder = Self(tempfile::tempdir().unwrap());
        std::fs::write(folder.path("sheet.toml"), sheet.concat()).unwrap();
        folder
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn text(&self, name: &str) -> String {
        std::fs::read_to_string(self.path(name)).unwrap()
    }

    fn start(&self, command: &str, more: &[&str]) -> Child {
        let sheet = [command, "sheet.toml"];
        common::started(self.0.path(), sheet.iter().chain(more))
    }

    fn run(&self, command: &str, more: &[&str], input: &str) -> (i32, String, String) {
        let mut child = self.start(command, more);
        // A program that has refused its arguments reads nothing.
        let _ = child.stdin.take().unwrap().write_all(input.as_bytes());
        let out = child.wait_with_output().unwrap();
        (
            out.status.code().unwrap(),
            String::from_utf8(out.stdout).unwrap(),
            String::from_utf8(out.stderr).unwrap(),
        )
    }

    fn live(&self, more: &[&str], input: &str) -> (i32, String, String) {
        self.run("live", more, input)
    }
}

/// Readings each two seconds of a needle that falls by so many kPa a second from 48 kPa.
fn falling(by: f64, from: u32, to: u32) -> String {
    let mut out = String::new();
    for i in from..to {
        let t = 2.0 * f64::from(i);
        writeln!(out, "{t},{:.1}", 48.0 - by * t).unwrap();
    }
    out
}

fn events(out: &str) -> Vec<Value> {
    out.lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect()
}

/// The limit is 0.115 kPa/s.
#[test]
fn the_word_to_stop_comes_and_the_exit_code_says_it() {
    for (by, code, word) in [
        (0.02, 0, "holds"),
        (0.4, 1, "leaks"),
        (0.115, 3, "undecided"),
    ] {
        let folder = Folder::new(&[SHEET, LIMIT]);
        let (got, out, err) = folder.live(&[], &falling(by, 0, 15));
        assert_eq!((got, err.as_str()), (code, ""), "{out}");
        let decided = out.matches("You may stop").count();
        assert_eq!(decided, usize::from(code != 3), "{out}");
        assert!(
            out.to_lowercase().contains(&format!("live - {word}: ")),
            "{out}"
        );
        assert!(
            out.contains("plug lead grounded") && out.contains("Next"),
            "{out}"
        );
        assert!(!out.contains('\u{1b}'), "no colors off a terminal");
    }
}

#[test]
fn what_it_says_word_for_word() {
    let folder = Folder::new(&[SHEET, LIMIT]);
    let (_, out, _) = folder.live(&["--detail"], "0,48\n2,47.9\n4,47.9\n");
    let lines: Vec<&str> = out.lines().collect();
    assert_eq!(lines[0], "live: readings are kept in sheet-live.csv");
    assert_eq!(lines[1], "Before pumping");
    assert_eq!(lines[6], "     0.0 s     48.0 kPa");
    assert!(
        lines[7].starts_with("     2.0 s     47.9 kPa  CdA "),
        "{}",
        lines[7]
    );
    assert!(
        lines[7].ends_with("% sure to be within the limit"),
        "{}",
        lines[7]
    );
}

#[test]
fn the_end_has_the_numbers_that_assess_has_for_the_file() {
    let folder = Folder::new(&[SHEET, LIMIT, RUN]);
    let (code, out, _) = folder.live(&["--run", "pressure", "--json"], &falling(0.03, 0, 30));
    let events = events(&out);
    let end = events.last().unwrap();
    assert_eq!((code, end["event"].as_str()), (0, Some("end")));
    let (assessed, json, _) = folder.run("assess", &["--json"], "");
    assert_eq!(assessed, 0);
    let json: Value = serde_json::from_str(&json).unwrap();
    assert_eq!(end["assessment"], json);
    let last = &events[events.len() - 2];
    assert_eq!(
        last["effective_area_m2"]["high"],
        json["runs"][0]["effective_area_m2"]["high"]
    );
}

/// Under vacuum the gas that leaks in is air, whatever is pumped in else: so it is while the run is held, and at its end. The area of the
/// same needle goes with the inverse root of the gas constant.
#[test]
fn a_vacuum_run_is_of_air_while_it_is_held() {
    let argon = "[gas]\nname = \"argon\"\n";
    let area = |gas: &str, sign: f64| {
        let folder = Folder::new(&[SHEET, gas, LIMIT]);
        let mut readings = String::new();
        for line in falling(0.1, 0, 20).lines() {
            let (time, gauge) = line.split_once(',').unwrap();
            let gauge = sign * gauge.parse::<f64>().unwrap();
            writeln!(readings, "{time},{gauge}").unwrap();
        }
        let (_, out, err) = folder.live(&["--json"], &readings);
        assert_eq!(err, "");
        let events = events(&out);
        let areas = |event: &Value| {
            event
                .pointer("/effective_area_m2/value")
                .and_then(Value::as_f64)
        };
        let looked = events.iter().rev().find_map(areas);
        (looked, out)
    };
    let ((air, _), (other, said)) = (area("", -1.0), area(argon, -1.0));
    assert!(air.is_some(), "{said}");
    assert_eq!((air, said.contains("argon")), (other, false), "{said}");
    let ((air, dry), (other, said)) = (area("", 1.0), area(argon, 1.0));
    assert_ne!(air, other);
    assert!(
        said.contains("The gas is argon") && !dry.contains("argon"),
        "{said}"
    );
}

#[test]
fn json_is_one_object_a_line() {
    let folder = Folder::new(&[SHEET, LIMIT]);
    let (_, out, err) = folder.live(&["--json"], &format!("{}no\n", falling(0.3, 0, 6)));
    assert_eq!(err, "");
    let events = events(&out);
    let kinds: Vec<&str> = events
        .iter()
        .map(|e| e["event"].as_str().unwrap())
        .collect();
    assert_eq!(
        kinds,
        [
            "start", "reading", "reading", "reading", "reading", "reading", "reading", "skipped",
            "end"
        ]
    );
    assert_eq!(events[0]["format"], 1);
    assert_eq!(events[1]["effective_area_m2"], Value::Null);
    let decided: Vec<bool> = events[1..7]
        .iter()
        .map(|e| e["decided"].as_bool().unwrap())
        .collect();
    assert!(!decided[1] && decided[5], "{decided:?}");
    let first = decided.iter().position(|d| *d).unwrap();
    let at = &events[1 + first];
    assert!(at["needed_probability"].as_f64().unwrap() > 0.95);
    assert_eq!(at["verdict"], "leaks");
}

#[test]
fn a_bad_line_is_answered_and_skipped() {
    let folder = Folder::new(&[SHEET, LIMIT]);
    let bad = "later\n3,47,9\n2,47\nnan,47\n9,inf\n9,-30\n9,-500\n";
    let input = format!(
        "# warm\n\n{}{bad}{}",
        falling(0.02, 0, 5),
        falling(0.02, 5, 12)
    );
    let (code, out, err) = folder.live(&[], &input);
    assert_eq!(code, 0, "{out}");
    let answers: Vec<&str> = err.lines().collect();
    assert_eq!(answers.len(), 7, "{err}");
    for (answer, wanted) in answers.iter().zip([
        "1 field(s)",
        "3 field(s)",
        "does not come after",
        "NaN",
        "inf",
        "two runs",
        "perfect vacuum",
    ]) {
        assert!(
            answer.starts_with("skipped: ") && answer.contains(wanted),
            "{answer}"
        );
    }
    let kept = folder.text("sheet-live.csv");
    assert_eq!(
        kept,
        format!(
            "time_s,gauge_kpa\n{}",
            falling(0.02, 0, 12).replace(".0\n", "\n")
        )
    );
}

/// The program is killed without warning; each reading that it has answered is on the disk.
#[test]
fn a_crash_loses_nothing_that_was_answered() {
    let folder = Folder::new(&[SHEET, LIMIT]);
    let mut child = folder.start("live", &["--json"]);
    let mut input = child.stdin.take().unwrap();
    let mut answers = BufReader::new(child.stdout.take().unwrap()).lines();
    answers.next();
    for line in falling(0.12, 0, 9).lines() {
        writeln!(input, "{line}").unwrap();
        let answer: Value = serde_json::from_str(&answers.next().unwrap().unwrap()).unwrap();
        assert_eq!(answer["event"], "reading");
    }
    child.kill().unwrap();
    child.wait().unwrap();
    assert_eq!(folder.text("sheet-live.csv").lines().count(), 10);

    // As if the crash had come in the middle of a line.
    let torn = format!("{}18,45.", folder.text("sheet-live.csv"));
    std::fs::write(folder.path("sheet-live.csv"), torn).unwrap();
    let rest = falling(0.12, 9, 14);
    let (_, out, _) = folder.live(&["--json", "--resume", "sheet-live.csv"], &rest);
    let resumed = events(&out);
    assert!(
        resumed[1]["error"].as_str().unwrap().contains("`18,45.`"),
        "{out}"
    );
    assert_eq!(resumed[2]["readings"], 9);

    // The looks before the crash count: the end is that of a run in one go.
    let whole = Folder::new(&[SHEET, LIMIT]);
    let (_, out, _) = whole.live(&["--json"], &falling(0.12, 0, 14));
    assert_eq!(events(&out).last(), resumed.last());
    assert_eq!(whole.text("sheet-live.csv"), folder.text("sheet-live.csv"));
}

#[test]
fn a_file_that_is_there_is_never_begun_anew() {
    let folder = Folder::new(&[SHEET, LIMIT, RUN]);
    folder.live(&[], &falling(0.02, 0, 5));
    let before = folder.text("sheet-live.csv");
    let (code, out, err) = folder.live(&[], &falling(0.02, 0, 5));
    assert_eq!((code, out.as_str()), (2, ""));
    assert!(
        err.contains("sheet-live.csv") && err.contains("--resume"),
        "{err}"
    );
    assert_eq!(folder.text("sheet-live.csv"), before);

    for (file, text, wanted) in [
        ("none.csv", None, "can't be read"),
        (
            "psi.csv",
            Some("time_s,gauge_psi\n0,7\n"),
            "`time_s,gauge_kpa` should be",
        ),
        ("bad.csv", Some("time_s,gauge_kpa\n0,48\n5,x\n"), "line 3"),
        (
            "turned.csv",
            Some("time_s,gauge_kpa\n5,48\n0,47\n"),
            "does not come after",
        ),
    ] {
        if let Some(text) = text {
            std::fs::write(folder.path(file), text).unwrap();
        }
        let (code, _, err) = folder.live(&["--resume", file], "");
        assert_eq!(code, 2, "{err}");
        assert!(err.contains(file) && err.contains(wanted), "{err}");
    }
    let (code, _, err) = folder.live(&["--clock", "--resume", "sheet-live.csv"], "");
    assert!(code == 2 && err.contains("when its clock started"), "{err}");
}

#[test]
fn marks_take_their_time_from_the_clock() {
    // The clock is the machine's own: whatever it takes between the marks, a hole that the gas had settled behind is beyond
    // the limit.
    let folder = Folder::new(&[SHEET, KNOWN, LIMIT, RUN]);
    let mut child = folder.start(
        "live",
        &["--run", "pressure", "--marks=-48,-40 -30", "--json"],
    );
    let mut input = child.stdin.take().unwrap();
    let mut answers = BufReader::new(child.stdout.take().unwrap()).lines();
    let mut answer =
        || -> Value { serde_json::from_str(&answers.next().unwrap().unwrap()).unwrap() };
    answer();
    let mut times = Vec::new();
    for line in ["", "no", "", ""] {
        std::thread::sleep(std::time::Duration::from_millis(10));
        writeln!(input, "{line}").unwrap();
        let answer = answer();
        match answer["time_s"].as_f64() {
            Some(time) => times.push(time),
            None => assert!(answer["error"].as_str().unwrap().contains("press Enter")),
        }
    }
    // After the last mark the run ends by itself.
    assert_eq!(answer()["event"], "end");
    assert_eq!(child.wait().unwrap().code(), Some(1));
    assert!(times.windows(2).all(|t| t[1] > t[0] + 0.005), "{times:?}");
    let text = folder.text("pressure.csv");
    let rows: Vec<&str> = text.lines().collect();
    assert!(
        rows[0].starts_with("# time_s counts from unix time "),
        "{text}"
    );
    assert_eq!(rows[1], "time_s,gauge_kpa");
    let kept: Vec<String> = times
        .iter()
        .zip([-48, -40, -30])
        .map(|(t, mark)| format!("{t},{mark}"))
        .collect();
    assert_eq!(rows[2..], kept);
    for (marks, wanted) in [("", "give the marks"), ("7,x", "`x` is not a number")] {
        let (code, _, err) = folder.live(&["--run", "other", "--marks", marks], "");
        assert!(code == 2 && err.contains(wanted), "{err}");
    }
}

#[test]
fn a_logger_in_another_unit_says_so_in_its_header() {
    let folder = Folder::new(&[SHEET, LIMIT]);
    let (code, _, err) = folder.live(
        &[],
        "time_s,gauge_pa\n0,48000\n5,47900\n10,47800\n15,47700\n",
    );
    assert_eq!((code, err.as_str()), (0, ""));
    assert!(folder.text("sheet-live.csv").contains("\n10,47.8\n"));
}

#[test]
fn fewer_than_two_readings_are_no_run() {
    let folder = Folder::new(&[SHEET, LIMIT]);
    let (code, _, err) = folder.live(&[], "0,48\n");
    assert_eq!(code, 2);
    assert!(
        err.contains("sheet-live.csv") && err.contains("at least two"),
        "{err}"
    );
}

#[test]
fn without_a_limit_nothing_is_decided() {
    let folder = Folder::new(&[SHEET]);
    let (code, out, _) = folder.live(&[], &falling(0.02, 0, 10));
    assert_eq!(code, 3);
    assert!(
        out.contains("no limit is stated") && !out.contains("You may stop"),
        "{out}"
    );
}

#[test]
fn a_single_look_that_would_say_more_is_told_of() {
    let folder = Folder::new(&[SHEET, KNOWN, LIMIT]);
    // Near the limit a look asks for more than the 95 % that a single one would be content with.
    let mut told = false;
    for by in [0.098, 0.1, 0.102, 0.104, 0.106] {
        let _ = std::fs::remove_file(folder.path("sheet-live.csv"));
        let (code, out, _) = folder.live(&[], &falling(by, 0, 6));
        if out.contains("a single look after such a hold would say") {
            told = true;
            assert_eq!(code, 3, "{out}");
        }
    }
    assert!(told);
}

#[test]
fn a_run_needs_its_piston_and_a_name_of_its_own() {
    let demo = include_str!("../../../docs/demo/mist-blower-14.toml");
    let folder = Folder::new(&[demo]);
    for (more, wanted) in [
        (&["--run", "pressure"][..], "has its readings already"),
        (&["--run", "again"], "--piston"),
        (&["--run", "again", "--piston", "sideways"], "sideways"),
        (
            &["--run", "x", "--piston", "top", "--usual-hold", "0 s"],
            "above zero",
        ),
        (&["--usual-hold", "soon"], "soon"),
    ] {
        let (code, _, err) = folder.live(more, "");
        assert_eq!(code, 2, "{err}");
        assert!(err.contains(wanted), "{err}");
    }
    let (code, out, _) = folder.live(
        &["--detail", "--run", "again", "--piston", "bottom"],
        "0,7\n30,7\n60,6.875\n90,6.875\n120,6.875\n",
    );
    assert_eq!(code, 0, "{out}");
    assert!(out.contains("200.6 cm3"), "{out}");
}

/// A vacuum dial's numbers have no sign: they are asked about, and taken below ambient where the sheet says so.
#[test]
fn a_live_run_on_a_vacuum_dial_asks_for_its_direction() {
    let readings = falling(0.03, 0, 30);
    let run = "[[run]]\nname = \"vacuum\"\nfile = \"dial.csv\"\n";
    let folder = Folder::new(&[SHEET, LIMIT, run]);
    let (code, out, err) = folder.live(&["--run", "vacuum"], &readings);
    let said = format!("{out}{err}");
    assert_eq!(code, 2, "{said}");
    assert!(said.contains("direction = \"vacuum\""), "{said}");
    let stated = format!("{run}direction = \"vacuum\"\n");
    let folder = Folder::new(&[SHEET, LIMIT, &stated]);
    let (code, out, err) = folder.live(&["--run", "vacuum", "--json"], &readings);
    assert_eq!(code, 0, "{out}{err}");
    assert!(
        folder.text("dial.csv").contains("-48"),
        "{}",
        folder.text("dial.csv")
    );
    let end = events(&out).pop().unwrap();
    assert_eq!(end["assessment"]["runs"][0]["direction"], "vacuum");
    let (_, json, _) = folder.run("assess", &["--json"], "");
    let json: Value = serde_json::from_str(&json).unwrap();
    assert_eq!(end["assessment"], json);
    // With their sign they are the same run, in a sheet that states nothing.
    let folder = Folder::new(&[SHEET, LIMIT, run]);
    let signed: String = readings
        .lines()
        .map(|line| line.replace(',', ",-") + "\n")
        .collect();
    let (code, _, err) = folder.live(&["--run", "vacuum"], &signed);
    assert_eq!(code, 0, "{err}");
}

#[test]
fn an_over_long_line_is_refused_whole() {
    let folder = Folder::new(&[SHEET, LIMIT]);
    let input = format!("0,48\n{}2,47.5\n4,47\n", " ".repeat(1020));
    let (_, out, _) = folder.live(&["--json"], &input);
    let mut skipped = events(&out);
    skipped.retain(|event| event["event"] == "skipped");
    assert_eq!(skipped.len(), 1, "{out}");
    assert!(
        skipped[0]["error"]
            .as_str()
            .unwrap()
            .contains("longer than 1024 bytes")
    );
    assert_eq!(
        folder.text("sheet-live.csv"),
        "time_s,gauge_kpa\n0,48\n4,47\n"
    );
}

#[test]
fn an_empty_trace_is_gone_on_with_and_blocks_no_name() {
    for left in [
        "",
        "time_s,gau",
        "time_s,gauge_kpa\n",
        "# time_s counts from unix time 1.000 s\ntime_s,gauge_kpa\n",
    ] {
        for more in [&["--json"][..], &["--json", "--resume", "sheet-live.csv"]] {
            let folder = Folder::new(&[SHEET, LIMIT]);
            std::fs::write(folder.path("sheet-live.csv"), left).unwrap();
            let (code, out, err) = folder.live(more, &falling(0.12, 0, 5));
            assert_ne!(code, 2, "{left:?} {more:?}: {err}");
            assert_eq!(folder.text("sheet-live.csv").lines().count(), 6, "{out}");
        }
    }
    // The same for a run that the sheet has.
    let folder = Folder::new(&[SHEET, LIMIT, RUN]);
    std::fs::write(folder.path("pressure.csv"), "").unwrap();
    let (code, _, err) = folder.live(&["--run", "pressure"], &falling(0.12, 0, 5));
    assert_ne!(code, 2, "{err}");
    assert_eq!(folder.text("pressure.csv").lines().count(), 6);
}

#[test]
fn a_last_reading_without_its_line_end_is_kept() {
    let folder = Folder::new(&[SHEET, LIMIT]);
    folder.live(&[], &falling(0.12, 0, 9));
    let whole = folder.text("sheet-live.csv");
    std::fs::write(folder.path("sheet-live.csv"), whole.trim_end()).unwrap();
    let (_, out, _) = folder.live(
        &["--json", "--resume", "sheet-live.csv"],
        &falling(0.12, 9, 14),
    );
    let resumed = events(&out);
    assert_eq!(resumed[1]["event"], "kept");
    assert!(
        resumed[1]["note"]
            .as_str()
            .unwrap()
            .contains("had no end of its line"),
        "{out}"
    );
    let other = Folder::new(&[SHEET, LIMIT]);
    other.live(&[], &falling(0.12, 0, 14));
    assert_eq!(folder.text("sheet-live.csv"), other.text("sheet-live.csv"));
}

#[test]
fn two_live_runs_do_not_write_one_trace() {
    let folder = Folder::new(&[SHEET, LIMIT]);
    let mut first = folder.start("live", &["--json"]);
    let mut input = first.stdin.take().unwrap();
    let mut answers = BufReader::new(first.stdout.take().unwrap()).lines();
    answers.next();
    for more in [&[][..], &["--resume", "sheet-live.csv"]] {
        let (code, out, err) = folder.live(more, &falling(0.12, 0, 5));
        assert_eq!((code, out.as_str()), (2, ""));
        assert!(err.contains("another live run writes there"), "{err}");
    }
    input.write_all(falling(0.12, 0, 5).as_bytes()).unwrap();
    drop(input);
    answers.for_each(drop);
    first.wait().unwrap();
    assert_eq!(folder.text("sheet-live.csv").lines().count(), 6);
}

#[cfg(unix)]
#[test]
fn a_live_run_that_is_asked_to_end_says_what_it_knows() {
    for (signal, _) in common::ending_signals() {
        for (by, exit) in [(0.02, 0), (0.9, 1)] {
            let folder = Folder::new(&[SHEET, KNOWN, LIMIT]);
            let mut child = folder.start("live", &["--json"]);
            let mut input = child.stdin.take().unwrap();
            let mut answers = BufReader::new(child.stdout.take().unwrap()).lines();
            answers.next();
            for line in falling(by, 0, 40).lines() {
                writeln!(input, "{line}").unwrap();
                answers.next();
            }
            let kill = Command::new("kill")
                .args([format!("-{signal}"), child.id().to_string()])
                .status();
            assert!(kill.unwrap().success());
            // The input stays open: it is the signal that ends it.
            let last = answers.last().unwrap().unwrap();
            let last: Value = serde_json::from_str(&last).unwrap();
            assert_eq!(last["event"], "end", "{signal}: {last}");
            assert_eq!(child.wait().unwrap().code(), Some(exit), "{signal}: {last}");
            drop(input);
            // It is the answer that the whole file gets.
            let (code, out, _) = folder.live(&["--json", "--resume", "sheet-live.csv"], "");
            assert_eq!(code, exit);
            assert_eq!(events(&out).last().unwrap()["verdict"], last["verdict"]);
        }
    }
}

/// However fast lines come in, the word to end is heard; and it is said that the run ended by it.
#[cfg(unix)]
#[test]
fn a_flood_of_lines_does_not_keep_a_live_run_from_ending() {
    let folder = Folder::new(&[SHEET, LIMIT]);
    let mut child = folder.start("live", &[]);
    let mut input = child.stdin.take().unwrap();
    let mut errors = child.stderr.take().unwrap();
    let flood = std::thread::spawn(move || {
        let _ = input.write_all(falling(0.12, 0, 5).as_bytes());
        // Until nobody reads it any more.
        while input.write_all("x,y\n".repeat(1000).as_bytes()).is_ok() {}
    });
    let told = std::thread::spawn(move || {
        let mut text = String::new();
        errors.read_to_string(&mut text).unwrap();
        text
    });
    std::thread::sleep(std::time::Duration::from_millis(300));
    let kill = Command::new("kill")
        .args(["-TERM", &child.id().to_string()])
        .status();
    assert!(kill.unwrap().success());
    let ended = (0..200).any(|_| {
        std::thread::sleep(std::time::Duration::from_millis(100));
        child.try_wait().unwrap().is_some()
    });
    let _ = child.kill();
    let out = child.wait_with_output().unwrap();
    assert!(ended && out.status.code().is_some(), "{}", out.status);
    flood.join().unwrap();
    assert!(
        told.join()
            .unwrap()
            .contains("this is the assessment so far")
    );
}
