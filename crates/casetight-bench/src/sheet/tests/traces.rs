//! Runs whose readings stand in a file.

use super::DIRECT;
use crate::record::Chosen;
use crate::sheet::*;
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// A logger's whole test in its own habits: idle, pumping, a hold from 6 s to 65 s, a vent, rest.
fn foreign() -> BTreeMap<String, Vec<u8>> {
    let mut text = "Logger of the workshop\nt/ms;n;p/mbar\n".to_owned();
    let mut row = |second: i32, pascals: i32| {
        let (whole, hundredths) = (pascals / 100, pascals % 100);
        writeln!(text, "{second}.000;{second};{whole},{hundredths:02}").unwrap();
    };
    for second in 0..80 {
        row(
            second,
            match second {
                3..=5 => 12_000 * (second - 2),
                6..=65 => 48_000 - 20 * (second - 6),
                66 => 9_000,
                _ => 0,
            },
        );
    }
    let files = [("foreign.csv".to_owned(), text.into_bytes())];
    files.into_iter().collect()
}

const PROFILE: &str = r#"[profiles."bench logger"]
separator = ";"
decimal = ","
skip_rows = 1
time = "T/ms"
time_unit = "ms"
time_thousands = "."
pressure = 3
pressure_unit = "mbar"
"#;

fn with_trace(keys: &str) -> String {
    let start = &DIRECT[..DIRECT.find("[[run]]").unwrap()];
    format!(
        "{start}{PROFILE}[[run]]\nname = \"one\"\nfile = \"foreign.csv\"\nprofile = \"bench logger\"\n{keys}"
    )
}

#[test]
fn a_foreign_trace_is_read_by_its_profile_and_cut_to_its_hold() {
    let sheet = Sheet::parse(&with_trace(""), "sheet.toml", &foreign()).unwrap();
    let Record::Trace {
        readings,
        window,
        segments,
        ..
    } = &sheet.runs[0].record
    else {
        panic!("no trace");
    };
    // It starts at the last reading that can't be told from the top: 20 Pa a reading, with steps of 100 Pa.
    let what = segments.phases();
    assert!((6.0..=8.0).contains(&window.from_s), "{what:?}");
    assert_eq!((window.to_s, window.of_rows), (65.0, 80), "{what:?}");
    let first = 48_000.0 - 20.0 * (window.from_s - 6.0);
    assert!((readings.gauges_pa()[0] - first).abs() < 1e-6);
    assert_eq!(readings.len(), window.rows.len());
    let again = Sheet::parse(&sheet.to_toml().unwrap(), "again", &foreign()).unwrap();
    assert_eq!(again, sheet);

    let stated =
        Sheet::parse(&with_trace("window = [10, 29.5]"), "sheet.toml", &foreign()).unwrap();
    let window = stated.runs[0].record.window().unwrap();
    assert_eq!(
        (window.rows.clone(), window.chosen),
        (10..30, Chosen::Stated)
    );
    let again = Sheet::parse(&stated.to_toml().unwrap(), "again", &foreign()).unwrap();
    assert_eq!(again, stated);
}

/// A name is looked up as it is written, whatever it is shown as.
#[test]
fn a_profile_of_any_name_is_found() {
    let name = "bench\\u0007 logger";
    let text = with_trace("").replace("bench logger", name);
    let sheet = Sheet::parse(&text, "sheet.toml", &foreign()).unwrap();
    let again = Sheet::parse(&sheet.to_toml().unwrap(), "again", &foreign()).unwrap();
    assert_eq!(again, sheet);
}

#[test]
#[rustfmt::skip] // one case, one line
fn a_profile_or_window_at_fault_is_refused_at_its_key() {
    let good = with_trace("window = [10, 29.5]");
    for (from, to, key, said) in [
        ("profile = \"bench logger\"", "profile = \"bench\"", "run[1].profile", "the sheet has \"bench logger\""),
        ("window = [10, 29.5]", "window = [30, 10]", "run[1].window", "write the earlier time first"),
        ("window = [10, 29.5]", "window = [10]", "run[1].window", "where a window `[from_s, to_s]` belongs"),
        ("window = [10, 29.5]", "window = [100, 200]", "run[1].window", "0 reading(s) between 100 s and 200 s; the trace goes from 0 s to 79 s"),
        ("window = [10, 29.5]", "window = [nan, 200]", "run[1].window", "is empty"),
        ("separator = \";\"", "separator = \"; \"", "profiles.\"bench logger\".separator", "one character"),
        ("separator = \";\"", "separator = \",\"", "profiles.\"bench logger\".separator", "both separator and decimal mark"),
        ("time_unit = \"ms\"", "time_unit = \"m\"", "profiles.\"bench logger\".time_unit", "write \"s\", \"ms\", \"us\""),
        ("pressure = 3", "pressure = 0", "profiles.\"bench logger\".pressure", "counted from 1"),
        ("pressure = 3", "", "profiles.\"bench logger\".pressure", "missing; write `pressure = 2`"),
        ("pressure = 3", "pressure = 9", "run[1].file", "line 2: no column 9 among `t/ms | n | p/mbar`"),
        ("pressure = 3", "presure = 3", "profiles.\"bench logger\".presure", "is `pressure` meant?"),
        ("pressure_unit = \"mbar\"", "pressure_unit = \"psig\"", "profiles.\"bench logger\".pressure_unit", "write psi"),
        ("skip_rows = 1", "skip_rows = -1", "profiles.\"bench logger\".skip_rows", "the whole numbers from 0 on"),
        ("skip_rows = 1", "header = \"no\"", "profiles.\"bench logger\".header", "text where true or false belongs"),
        ("skip_rows = 1", "temperature_unit = \"C\"", "profiles.\"bench logger\".temperature_unit", "needs `temperature` beside it"),
        ("file = \"foreign.csv\"", "readings = [[0, 48], [60, 45]]", "run[1].profile", "needs `file` beside it"),
    ] {
        assert!(good.contains(from), "{from}");
        let text = good.replacen(from, to, 1);
        let error = Sheet::parse(&text, "sheet.toml", &foreign()).expect_err(&text);
        let words = error.to_string();
        assert_eq!(error.key(), key, "{words}");
        assert!(words.contains(said), "{words}\nlacks {said}");
    }
}

#[test]
fn a_trace_without_a_hold_is_refused_unless_a_window_is_stated() {
    let files: BTreeMap<String, Vec<u8>> = [("foreign.csv".to_owned(), {
        let mut text = "\nt/ms;n;p/mbar\n".to_owned();
        for second in 0..20 {
            let mbar = if second < 5 { 0 } else { 30 * (second - 4) };
            writeln!(text, "{second}.000;0;{mbar}").unwrap();
        }
        text.into_bytes()
    })]
    .into_iter()
    .collect();
    let error = Sheet::parse(&with_trace(""), "sheet.toml", &files).unwrap_err();
    let words = error.to_string();
    assert!(
        words.contains("no hold found among idle, pump (20 readings, 0 s to 19 s)"),
        "{words}"
    );
    assert!(Sheet::parse(&with_trace("window = [10, 19]"), "sheet.toml", &files).is_ok());
}
