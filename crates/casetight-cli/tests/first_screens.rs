//! The first screen of each command on each demo sheet that it can answer: 24 lines of 80 columns, in the words of a bench, and word by
//! word beside `tests/first-screens.txt`.
//!
//! After looking at what changed, write the file anew with
//! `CASETIGHT_RENEW_SNAPSHOTS=1 cargo test -p casetight-cli --test first_screens`.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

mod common;

use std::fmt::Write as _;
use std::path::Path;

use common::{demo, program};

const LINES: usize = 24;
const COLUMNS: usize = 80;

/// What only a metrologist wants.
const NOT_OF_THE_BENCH: &[&str] = &["CdA", "chi-squared", "Birge", "Knudsen"];

/// Commands on one sheet.
const ON_A_SHEET: &[&str] = &["assess", "plan", "isolate", "volume", "running"];

fn is_sheet(name: &str) -> bool {
    Path::new(name).extension() == Some("toml".as_ref())
}

fn sheets() -> Vec<String> {
    let folder = demo("");
    let mut names: Vec<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| is_sheet(name))
        .collect();
    names.sort();
    names
}

/// All command lines on the demo sheets, these named without their folder.
fn command_lines() -> Vec<Vec<String>> {
    let sheets = sheets();
    let mut lines: Vec<Vec<String>> = sheets
        .iter()
        .flat_map(|sheet| {
            let on = |command: &&str| vec![(*command).to_owned(), sheet.clone()];
            ON_A_SHEET.iter().map(on).collect::<Vec<_>>()
        })
        .collect();
    let owned = |words: &[&str]| words.iter().map(|&word| word.to_owned()).collect();
    lines.push(owned(&[
        "compare",
        "mist-blower-9-before.toml",
        "mist-blower-9-repaired.toml",
    ]));
    lines.push(owned(&[
        "compare",
        "mist-blower-9-repaired.toml",
        "mist-blower-9-before.toml",
    ]));
    let mut trend: Vec<String> = owned(&["compare", "--trend"]);
    trend.extend(
        sheets
            .iter()
            .filter(|name| name.starts_with("clearing-saw-11"))
            .cloned(),
    );
    lines.push(trend);
    lines
}

fn in_folder(word: &str) -> std::path::PathBuf {
    if is_sheet(word) {
        demo(word)
    } else {
        word.into()
    }
}

#[test]
fn a_first_screen_fits_and_is_in_the_words_of_a_bench() {
    let mut all = String::new();
    let mut shown = 0;
    let mut faults: Vec<String> = Vec::new();
    for line in command_lines() {
        let (code, out, _) = program(line.iter().map(|word| in_folder(word)));
        // What a sheet lacks for a command is refused with a word of it, elsewhere.
        if code == 2 {
            continue;
        }
        shown += 1;
        let said = line.join(" ");
        let lines = out.lines().count();
        let widest = out.lines().map(|line| line.chars().count()).max();
        if lines > LINES || widest > Some(COLUMNS) {
            faults.push(format!("{said}: {lines} lines, {widest:?} columns\n{out}"));
        }
        for word in NOT_OF_THE_BENCH.iter().filter(|word| out.contains(**word)) {
            faults.push(format!("{said}: {word}\n{out}"));
        }
        writeln!(all, "$ casetight {said}\n{out}").unwrap();
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
    assert!(shown > 60, "{shown} first screens only");
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/first-screens.txt");
    if std::env::var_os("CASETIGHT_RENEW_SNAPSHOTS").is_some() {
        std::fs::write(&path, &all).unwrap();
    }
    let kept = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(
        kept == all,
        "{}: differs; renew it and look at the difference",
        path.display()
    );
}

/// Nothing is lost: what the first screen leaves out, `--detail` says.
#[test]
fn detail_says_more() {
    for command in ON_A_SHEET {
        let line = |more: &[&str]| {
            let words = [&[*command, "clearing-saw-5.toml"][..], more].concat();
            program(words.into_iter().map(in_folder))
        };
        let ((code, brief, _), (same, detail, _)) = (line(&[]), line(&["--detail"]));
        assert_eq!(code, same, "{command}");
        assert!(detail.len() > brief.len(), "{command}:\n{detail}");
    }
}
