//! `casetight compare` as its user runs it.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "test code"
)]

mod common;

use std::ffi::OsStr;
use std::path::{Path, PathBuf};

use serde_json::Value;

use common::{demo, program};

fn compare(sheets: &[&Path], more: &[&str]) -> (i32, String, String) {
    let sheets = sheets.iter().map(|sheet| sheet.as_os_str());
    let words = std::iter::once(OsStr::new("compare")).chain(sheets);
    program(words.chain(more.iter().map(OsStr::new)))
}

const BEFORE: &str = "mist-blower-9-before.toml";
const AFTER: &str = "mist-blower-9-repaired.toml";

/// A sheet of an engine whose runs can be swapped.
fn sheet(head: &str, runs: &str) -> String {
    format!(
        r#"format = 1
title = "test"
{head}
[volume]
value = "250 cm3"
uncertainty = "10 cm3"
[ambient]
pressure = "101325 Pa"
temperature = "20 C"
[gauge]
unit = "kPa"
resolution = "0.1 kPa"
[limit]
max_area = "0.002 mm2"
{runs}
"#
    )
}

const FAST: &str =
    "[[run]]\nname = \"a\"\nreadings = [[0, 48.0], [10, 42.8], [20, 37.7], [30, 32.8]]\n";
const SLOW: &str =
    "[[run]]\nname = \"a\"\nreadings = [[0, 48.2], [60, 47.4], [120, 46.6], [180, 45.8]]\n";
const STILL: &str = "[[run]]\nname = \"a\"\nreadings = [[0, 48.0], [30, 48.0], [60, 48.0]]\n";
const SUCKED: &str = "[[run]]\nname = \"v\"\nreadings = [[0, -48.0], [60, -47.0], [120, -46.0]]\n";

struct Folder(tempfile::TempDir);

impl Folder {
    fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    fn with(&self, name: &str, text: &str) -> PathBuf {
        let path = self.0.path().join(name);
        std::fs::write(&path, text).unwrap();
        path
    }
}

fn of_two(one: &str, other: &str, more: &[&str]) -> (i32, String, String) {
    let folder = Folder::new();
    let (a, b) = (
        folder.with("one.toml", one),
        folder.with("other.toml", other),
    );
    compare(&[&a, &b], more)
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The demo's holes are 0.110 and 0.015 mm: the areas stand as 0.0186 to 1.
#[test]
fn the_demo_repair_is_told_with_its_true_ratio_inside() {
    let (code, out, err) = compare(&[&demo(BEFORE), &demo(AFTER)], &["--json"]);
    assert_eq!(code, 0, "{err}");
    let json: Value = serde_json::from_str(&out).unwrap();
    assert_eq!(
        (&json["format"], &json["repair"]),
        (&1.into(), &"repaired".into())
    );
    let pair = &json["pairs"][0];
    let number = |value: &Value| value.as_f64().unwrap();
    let truth = (0.015_f64 / 0.110).powi(2);
    let ratio = &pair["ratio"];
    assert!(
        number(&ratio["low"]) < truth && truth < number(&ratio["high"]),
        "{ratio}"
    );
    assert!(number(&ratio["high"]) < 1.3 * number(&ratio["low"]) * 1.2);
    assert_eq!(ratio["level"].to_string(), "0.95");
    assert!(number(&pair["p_value"]) > 0.0 && number(&pair["p_value"]) < 1e-6);
    for (field, value) in [
        ("change", "fell"),
        ("verdict_before", "leaks"),
        ("verdict_after", "holds"),
        ("direction", "pressure"),
    ] {
        assert_eq!(pair[field], value, "{field}");
    }
}

/// The fields of the document are a promise to programs: a change of them is a change of `format`.
#[test]
fn the_fields_of_the_documents_are_these() {
    fn names(value: &Value, path: &str, found: &mut Vec<String>) {
        match value {
            Value::Object(fields) => {
                for (name, value) in fields {
                    names(value, &format!("{path}.{name}"), found);
                }
            }
            Value::Array(items) if items.iter().any(Value::is_object) => {
                names(&items[0], &format!("{path}[]"), found);
            }
            _ => found.push(path.trim_start_matches('.').to_owned()),
        }
    }
    let fields = |out: &str| {
        let mut found = Vec::new();
        names(&serde_json::from_str(out).unwrap(), "", &mut found);
        found.sort();
        found.join(" ")
    };
    let (_, out, _) = compare(&[&demo(BEFORE), &demo(AFTER)], &["--json"]);
    assert_eq!(
        fields(&out),
        "format notes only_after only_before pairs[].at_gauge_pa pairs[].change pairs[].direction \
         pairs[].effective_area_after_m2.high pairs[].effective_area_after_m2.low pairs[].effective_area_after_m2.value \
         pairs[].effective_area_before_m2.high pairs[].effective_area_before_m2.low \
         pairs[].effective_area_before_m2.value pairs[].notes pairs[].p_value pairs[].p_value_is_bound \
         pairs[].probability_fell pairs[].ratio.high pairs[].ratio.level pairs[].ratio.low pairs[].ratio.value \
         pairs[].repair pairs[].run_after pairs[].run_before pairs[].sentence pairs[].verdict_after \
         pairs[].verdict_before repair"
    );
    let (_, out, _) = of_demo_trend(&["--trend", "--json"]);
    assert_eq!(
        fields(&out),
        "format trends[].course trends[].direction trends[].growth.high trends[].growth.level trends[].growth.low \
         trends[].growth.value trends[].p_value trends[].scatter_ln trends[].sentence trends[].tests[].at \
         trends[].tests[].date trends[].tests[].effective_area_m2.high trends[].tests[].effective_area_m2.low \
         trends[].tests[].effective_area_m2.value trends[].tests[].fitted_area_m2 trends[].tests[].run \
         trends[].tests[].title trends[].unit"
    );
}

#[test]
fn words_say_how_much_and_how_sure() {
    let (_, out, _) = compare(&[&demo(BEFORE), &demo(AFTER)], &["--detail"]);
    let said = one_line(&out);
    for wanted in [
        "After Mist blower 9, new crank seals (2026-03-05)",
        "pressure: repaired",
        "The leak fell to 1.",
        "% interval",
        "chance alone would show such a difference less than once in 1 000 000 times",
        "taken to share: the volume, the gauge",
    ] {
        assert!(said.contains(wanted), "{wanted:?} is not in: {said}");
    }
    assert!(
        !said.contains("plug lead"),
        "nothing is left to pump: {said}"
    );
}

#[test]
fn the_other_way_round_it_still_leaks_and_the_cautions_follow() {
    let (code, out, _) = compare(&[&demo(AFTER), &demo(BEFORE)], &[]);
    assert_eq!(code, 1);
    let said = one_line(&out);
    for wanted in [
        "still leaks",
        "The leak grew to",
        "the two may be swapped",
        "plug lead grounded",
        "soap",
    ] {
        assert!(said.contains(wanted), "{wanted:?} is not in: {said}");
    }
}

#[test]
fn exit_codes_are_those_of_the_help() {
    let help = compare(&[], &["--help"]).1;
    assert!(
        help.contains("0 repaired") && help.contains("Example"),
        "{help}"
    );
    let fast = sheet("", FAST);
    for (after, code) in [(SLOW, 0), (STILL, 0), (FAST, 1)] {
        assert_eq!(of_two(&fast, &sheet("", after), &[]).0, code, "{after}");
    }
    // Without a limit the change alone counts, and the same run again shows none.
    let free = |runs: &str| sheet("", runs).replace("[limit]\nmax_area = \"0.002 mm2\"\n", "");
    for (before, after, code) in [
        (FAST, SLOW, 0),
        (SLOW, FAST, 1),
        (FAST, FAST, 3),
        (STILL, STILL, 3),
    ] {
        assert_eq!(
            of_two(&free(before), &free(after), &[]).0,
            code,
            "{before} {after}"
        );
    }
}

/// A volume known to 4 % is 4 % once, and cancels where both sheets state it; of two volumes it is 5.7 % in all.
#[test]
fn what_the_sheets_state_alike_cancels() {
    let width = |after: &str| {
        let (_, out, err) = of_two(&sheet("", FAST), after, &["--json"]);
        let json: Value = serde_json::from_str(&out).unwrap_or_else(|_| panic!("{err}"));
        let ratio = &json["pairs"][0]["ratio"];
        (ratio["high"].as_f64().unwrap() / ratio["low"].as_f64().unwrap()).ln() / (2.0 * 1.96)
    };
    let same = width(&sheet("", SLOW));
    let other = width(&sheet("", SLOW).replace("250 cm3", "251 cm3"));
    let apart = (other * other - same * same).sqrt();
    let by_hand = (10.0_f64 / 250.0).hypot(10.0 / 251.0);
    assert!((apart / by_hand - 1.0).abs() < 0.05, "{same} {other}");
}

#[test]
fn a_run_that_holds_gives_an_upper_end_only() {
    let (code, out, _) = of_two(&sheet("", FAST), &sheet("", STILL), &["--json"]);
    let json: Value = serde_json::from_str(&out).unwrap();
    let ratio = &json["pairs"][0]["ratio"];
    assert_eq!((code, ratio["low"].as_f64()), (0, Some(0.0)));
    assert!(
        ratio["value"].is_null() && ratio["high"].as_f64().unwrap() < 0.05,
        "{ratio}"
    );
}

#[test]
fn runs_are_matched_by_direction_and_name_or_chosen() {
    let renamed = SLOW.replace("\"a\"", "\"again\"");
    let (code, out, _) = of_two(
        &sheet("", &format!("{FAST}{SUCKED}")),
        &sheet("", &renamed),
        &[],
    );
    let said = one_line(&out);
    assert_eq!(code, 0);
    assert!(said.contains("matched as the only ones"), "{said}");
    assert!(
        said.contains("Only on the sheet before, and not compared: v."),
        "{said}"
    );

    let chosen = ["--run-before", "v", "--run-after", "a"];
    let (_, out, _) = of_two(&sheet("", SUCKED), &sheet("", SLOW), &chosen);
    assert!(one_line(&out).contains("One run is a pressure test, the other a vacuum test"));
    let blanked = SLOW.replace("readings", "blanked = [\"exhaust blank\"]\nreadings");
    let (_, out, _) = of_two(&sheet("", FAST), &sheet("", &blanked), &[]);
    assert!(one_line(&out).contains("Different sites were blanked"));
}

#[track_caller]
fn refused(one: &str, other: &str, more: &[&str], said: &str) {
    let (code, out, err) = of_two(one, other, more);
    assert_eq!((code, out.as_str()), (2, ""), "{err}");
    assert!(one_line(&err).contains(said), "{said:?} is not in: {err}");
}

#[test]
fn sheets_that_cannot_be_compared_are_refused() {
    let (fast, slow) = (sheet("", FAST), sheet("", SLOW));
    refused(
        &fast,
        &sheet("", SUCKED),
        &[],
        "name one run of each (--run-before, --run-after)",
    );
    refused(
        &sheet("machine = \"Saw 1\"", FAST),
        &sheet("machine = \"Saw 2\"", SLOW),
        &[],
        "two machines, \"Saw 1\" and \"Saw 2\"",
    );
    let chosen = ["--run-before", "b", "--run-after", "a"];
    refused(&fast, &slow, &chosen, "has no run \"b\"; it has: \"a\"");
    refused(&fast, &sheet("", ""), &[], "has no [[run]] yet");
    refused(
        &sheet("date = \"2026-02-30\"", FAST),
        &slow,
        &[],
        "the month has no such day",
    );
    let (code, _, err) = compare(&[&demo(BEFORE)], &[]);
    assert_eq!(code, 2);
    assert!(err.contains("two sheets, before and after, not 1"), "{err}");
}

fn of_demo_trend(more: &[&str]) -> (i32, String, String) {
    let days = [
        "2026-04-13",
        "2024-04-15",
        "2025-04-14",
        "2024-10-21",
        "2025-10-20",
    ];
    let files: Vec<PathBuf> = days
        .iter()
        .map(|day| demo(&format!("clearing-saw-11-{day}.toml")))
        .collect();
    let files: Vec<&Path> = files.iter().map(PathBuf::as_path).collect();
    compare(&files, more)
}

/// The demo's holes grow from 0.016 to 0.047 mm between the second test and the last, in 539 days: by (47/16)^2 in area,
/// 12.7 % in thirty days. The first test tells an upper end only.
#[test]
fn a_trend_is_told_in_the_order_of_its_dates() {
    let (code, out, err) = of_demo_trend(&["--trend", "--json"]);
    assert_eq!(code, 1, "{err}");
    let json: Value = serde_json::from_str(&out).unwrap();
    let trend = &json["trends"][0];
    assert_eq!(
        (&trend["course"], &trend["unit"]),
        (&"grows".into(), &"days".into())
    );
    let truth = (47.0_f64 / 16.0).powf(2.0 * 30.0 / 539.0);
    let growth = &trend["growth"];
    let (low, high) = (
        growth["low"].as_f64().unwrap(),
        growth["high"].as_f64().unwrap(),
    );
    assert!(
        low < truth && truth < high && high < 1.25,
        "{growth} {truth}"
    );
    let tests = trend["tests"].as_array().unwrap();
    let days: Vec<&str> = tests.iter().map(|t| t["date"].as_str().unwrap()).collect();
    assert!(days.is_sorted() && days.len() == 5, "{days:?}");
    assert_eq!(tests[0]["effective_area_m2"]["low"], 0.0);
    let (_, out, _) = of_demo_trend(&["--trend", "--detail"]);
    let said = one_line(&out);
    for wanted in [
        "Clearing saw 11, 5 sheets",
        "The leak grows, +1",
        "in 30 days",
        "2024-04-15 Clearing saw 11, 2024-04-15, at most",
    ] {
        assert!(said.contains(wanted), "{wanted:?} is not in: {said}");
    }
}

#[test]
fn trends_that_cannot_be_are_refused() {
    let (code, _, err) = compare(&[&demo(BEFORE), &demo(AFTER)], &["--trend"]);
    assert_eq!(code, 2);
    assert!(err.contains("three tests or more, not 2"), "{err}");
    let folder = Folder::new();
    let files = [
        folder.with("a.toml", &sheet("date = 2026-01-01", FAST)),
        folder.with("b.toml", &sheet("", FAST)),
        folder.with("c.toml", &sheet("date = 2026-03-01", FAST)),
    ];
    let paths: Vec<&Path> = files.iter().map(PathBuf::as_path).collect();
    let (code, _, err) = compare(&paths, &["--trend"]);
    assert_eq!(code, 2);
    assert!(err.contains("date all of them or none"), "{err}");
    // Three that tell no size: answered, and not told.
    for path in &files {
        std::fs::write(path, sheet("", STILL)).unwrap();
    }
    let (code, out, err) = compare(&paths, &["--trend"]);
    assert_eq!(code, 3, "{err}");
    assert!(out.contains("No trend can be told: 0 of 3"), "{out}");
}
