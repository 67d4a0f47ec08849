//! What the program prints for the demo sheets, word by word, beside files in `tests/snapshots`.
//!
//! A change of words or of a digit shows as a difference in review. After looking at it, write the files anew with
//! `CASETIGHT_RENEW_SNAPSHOTS=1 cargo test -p casetight-cli --test snapshots`.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

use std::path::{Path, PathBuf};
use std::process::Command;

const RENEW: &str = "CASETIGHT_RENEW_SNAPSHOTS";

/// Snapshot's file name, exit code, arguments; the demo sheets are named without their folder.
const SNAPSHOTS: &[(&str, i32, &[&str])] = &[
    (
        "assess-ice-auger-7.txt",
        1,
        &["assess", "ice-auger-7.toml", "--detail"],
    ),
    (
        "assess-ice-auger-7.json",
        1,
        &["assess", "ice-auger-7.toml", "--json"],
    ),
    (
        "assess-kart-engine-2.txt",
        3,
        &["assess", "kart-engine-2.toml", "--detail"],
    ),
    (
        "assess-kart-engine-2.json",
        3,
        &["assess", "kart-engine-2.toml", "--json"],
    ),
    (
        "compare-mist-blower-9.txt",
        0,
        &[
            "compare",
            "mist-blower-9-before.toml",
            "mist-blower-9-repaired.toml",
            "--detail",
        ],
    ),
    (
        "compare-mist-blower-9.json",
        0,
        &[
            "compare",
            "mist-blower-9-before.toml",
            "mist-blower-9-repaired.toml",
            "--json",
        ],
    ),
    (
        "trend-clearing-saw-11.txt",
        1,
        &[
            "compare",
            "--trend",
            "clearing-saw-11-2024-04-15.toml",
            "clearing-saw-11-2024-10-21.toml",
            "clearing-saw-11-2025-04-14.toml",
            "clearing-saw-11-2025-10-20.toml",
            "clearing-saw-11-2026-04-13.toml",
            "--detail",
        ],
    ),
    (
        "isolate-clearing-saw-5.txt",
        1,
        &["isolate", "clearing-saw-5.toml", "--detail"],
    ),
    (
        "isolate-clearing-saw-5.json",
        1,
        &["isolate", "clearing-saw-5.toml", "--json"],
    ),
    (
        "isolate-clearing-saw-5-repaired.txt",
        0,
        &["isolate", "clearing-saw-5-repaired.toml", "--detail"],
    ),
    (
        "isolate-log-splitter-1.txt",
        3,
        &["isolate", "log-splitter-1.toml", "--detail"],
    ),
    (
        "volume-clearing-saw-5.txt",
        0,
        &["volume", "clearing-saw-5.toml", "--detail"],
    ),
    (
        "volume-clearing-saw-5.json",
        0,
        &["volume", "clearing-saw-5.toml", "--json"],
    ),
    (
        "volume-mist-blower-14.txt",
        0,
        &["volume", "mist-blower-14.toml", "--detail"],
    ),
    (
        "volume-ice-auger-12.txt",
        0,
        &["volume", "ice-auger-12.toml", "--detail"],
    ),
    (
        "volume-ice-auger-12.json",
        0,
        &["volume", "ice-auger-12.toml", "--json"],
    ),
    (
        "assess-ice-auger-12.txt",
        0,
        &["assess", "ice-auger-12.toml", "--detail"],
    ),
    (
        "plan-mist-blower-14.txt",
        0,
        &["plan", "mist-blower-14.toml", "--detail"],
    ),
    (
        "plan-string-trimmer-6.txt",
        0,
        &["plan", "string-trimmer-6.toml", "--detail"],
    ),
    (
        "plan-string-trimmer-6.json",
        0,
        &["plan", "string-trimmer-6.toml", "--json"],
    ),
    (
        "running-string-trimmer-6.txt",
        0,
        &["running", "string-trimmer-6.toml", "--detail"],
    ),
    (
        "running-string-trimmer-6.json",
        0,
        &["running", "string-trimmer-6.toml", "--json"],
    ),
    (
        "running-kart-engine-2.txt",
        0,
        &["running", "kart-engine-2.toml", "--detail"],
    ),
];

/// Numbers that come from a solver may differ in the last digits from one machine to the next.
const RELATIVE_TOLERANCE: f64 = 1e-6;

fn folder(of: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(of)
}

/// Text between numbers, and the numbers.
fn taken_apart(text: &str) -> (Vec<String>, Vec<f64>) {
    let (mut words, mut numbers) = (vec![String::new()], Vec::new());
    for line in text.lines() {
        // Only JSON has numbers of all digits; in words they are rounded already, and belong to the text.
        let value = line.split_once("\": ").and_then(|(key, value)| {
            let number: f64 = value.trim_end_matches(',').parse().ok()?;
            Some((key, number))
        });
        match value {
            Some((key, number)) => {
                words.push(key.to_owned());
                numbers.push(number);
            }
            None => words.push(line.to_owned()),
        }
    }
    (words, numbers)
}

#[test]
fn the_program_prints_what_it_printed() {
    let renew = std::env::var_os(RENEW).is_some();
    for (name, code, arguments) in SNAPSHOTS {
        let out = Command::new(env!("CARGO_BIN_EXE_casetight"))
            .current_dir(folder("../../docs/demo"))
            .args(*arguments)
            .output()
            .unwrap();
        let printed = String::from_utf8(out.stdout).unwrap();
        assert_eq!(out.status.code(), Some(*code), "{name}");
        let file = folder("tests/snapshots").join(name);
        if renew {
            std::fs::write(&file, &printed).unwrap();
            continue;
        }
        let kept = std::fs::read_to_string(&file)
            .unwrap_or_else(|error| panic!("{}: {error}; write it with {RENEW}=1", file.display()))
            .replace("\r\n", "\n");
        let (words, numbers) = taken_apart(&printed);
        let (kept_words, kept_numbers) = taken_apart(&kept);
        for (line, (new, old)) in words.iter().zip(&kept_words).enumerate() {
            assert_eq!(
                new, old,
                "{name}, line {line}; if it is right, write it anew with {RENEW}=1"
            );
        }
        assert_eq!(words.len(), kept_words.len(), "{name}");
        for (new, old) in numbers.iter().zip(&kept_numbers) {
            let near = (new - old).abs() <= RELATIVE_TOLERANCE * old.abs();
            assert!(
                near,
                "{name}: {new} was {old}; if it is right, write it anew with {RENEW}=1"
            );
        }
    }
}

/// Every file there belongs to the table.
#[test]
fn no_snapshot_is_left_over() {
    for entry in std::fs::read_dir(folder("tests/snapshots")).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        assert!(SNAPSHOTS.iter().any(|(kept, ..)| *kept == name), "{name}");
    }
}
