//! Mistakes that people make at the bench and at the keyboard, and what the program answers: the table of `docs/src/mistakes.md`.
//!
//! Each mistake is made in a sheet or a command line, the program is run on it, and its words stand in the table. It must refuse, or
//! answer with a note that names the mistake. After looking at a change, write the table anew with
//! `CASETIGHT_RENEW_SNAPSHOTS=1 cargo test -p casetight-cli --test mistakes`.
#![allow(clippy::unwrap_used, clippy::panic, clippy::indexing_slicing)]

mod cases;

use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use cases::{Answer, Change, GROUPS, Group, Mistake};

const RENEW: &str = "CASETIGHT_RENEW_SNAPSHOTS";

/// The sheet that each mistake is made in. The machine and the readings are invented.
const SHEET: &str = r#"format = 1
title = "Mist blower 31"
date = 2026-03-02

[volume]
value = "250 cm3"
uncertainty = "10 cm3"

[ambient]
pressure = "1009 hPa"
temperature = "20 C"

[gauge]
unit = "psi"
division = "0.5 psi"

[limit]
max_drop = "1 psi"
from = "7 psi"
over = "60 s"

[[run]]
name = "all blanked"
readings = [[0, 7.0], [30, 6.5], [60, 6.0], [90, 5.5]]
"#;

/// What stands in the sheet in place of `[volume]` where a mistake is one in the engine's dimensions.
const ENGINE: (&str, &str) = (
    "[volume]\nvalue = \"250 cm3\"\nuncertainty = \"10 cm3\"\n",
    "[engine]\nbore = \"52 mm\"\nstroke = \"40 mm\"\nrod = \"75 mm\"\nprimary_compression_ratio = 1.45\ncompression_ratio = \"8.2:1\"\n\
     \n[rig]\nvolume = \"35 cm3\"\n",
);

/// A logger's file.
const TRACE: &str = "time_s,gauge_pa\n0,48300\n30,44800\n60,41400\n90,37900\n";

/// The sheet of a mistake, and the command line on it.
fn made(change: &Change) -> (Vec<u8>, Vec<&'static str>) {
    let edited = |sheet: &str, edits: &[(&str, &str)]| {
        let mut sheet = sheet.to_owned();
        for (from, to) in edits {
            assert_eq!(sheet.matches(from).count(), 1, "{from} in {sheet}");
            sheet = sheet.replace(from, to);
        }
        sheet.into_bytes()
    };
    let engine = SHEET
        .replace(ENGINE.0, ENGINE.1)
        .replace("name = \"all", "piston = \"bottom\"\nname = \"all");
    let assess = vec!["assess", "sheet.toml", "--detail"];
    match change {
        Change::Edit(from, to) => (edited(SHEET, &[(from, to)]), assess),
        Change::Edits(_, edits) => (edited(SHEET, edits), assess),
        Change::OfEngine(from, to) => (edited(&engine, &[(from, to)]), assess),
        Change::Whole(_, bytes) => (bytes.to_vec(), assess),
        Change::Encoded(encode) => (encode(SHEET), assess),
        Change::Line(line) => (SHEET.into(), line.split_whitespace().collect()),
    }
}

/// What was written, as the table shows it.
fn shown(change: &Change) -> String {
    let text = match change {
        Change::Edit(_, to) | Change::OfEngine(_, to) => to,
        Change::Edits(shown, _) | Change::Whole(shown, _) => shown,
        Change::Encoded(_) => "",
        Change::Line(line) => return format!("`casetight {line}`"),
    };
    let lines: Vec<String> = text
        .lines()
        .filter(|line| !line.trim().is_empty())
        .map(|line| {
            let line = line.trim().replace('\t', "\\t");
            // A mark of code of its own needs a longer one around it.
            if line.contains('`') {
                format!("`` {line} ``")
            } else {
                format!("`{line}`")
            }
        })
        .collect();
    lines.join("<br>")
}

/// What the program says of a mistake.
fn answer(mistake: &Mistake) -> String {
    let (sheet, line) = made(&mistake.change);
    let folder = tempfile::tempdir().unwrap();
    let place = |name: &str| folder.path().join(name);
    fs::write(place("sheet.toml"), &sheet).unwrap();
    fs::write(place("trace.csv"), TRACE).unwrap();
    fs::create_dir(place("folder")).unwrap();
    let out = Command::new(env!("CARGO_BIN_EXE_casetight"))
        .current_dir(folder.path())
        .args(line)
        .output()
        .unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    let (said, error) = (text(out.stdout), text(out.stderr));
    let what = mistake.what;
    assert!(!error.contains("panicked"), "{what}: {error}");
    assert_eq!(fs::read(place("sheet.toml")).unwrap(), sheet, "{what}");
    match mistake.answer {
        Answer::Refused => {
            assert_eq!(out.status.code(), Some(2), "{what}: accepted: {said}");
            assert_eq!(said, "", "{what}");
            // Of the command line itself all is told but where its help is.
            let told = error.split("For more information").next().unwrap();
            one_line(told).trim_start_matches("casetight: ").to_owned()
        }
        Answer::Noted(start) => {
            assert_ne!(out.status.code(), Some(2), "{what}: {error}");
            // A note goes on where a line is indented further.
            let from = said
                .find(start)
                .unwrap_or_else(|| panic!("{what}: no note `{start}` in\n{said}"));
            let goes_on = |line: &&str| {
                line.starts_with("          ")
                    || start.starts_with("The test started") && !line.starts_with("all blanked")
            };
            let mut lines = said[from..].lines();
            let first = lines.next().unwrap();
            let more = lines.take_while(goes_on);
            let note: Vec<&str> = std::iter::once(first).chain(more).collect();
            one_line(&note.join("\n"))
        }
    }
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn page() -> String {
    let mut page = include_str!("head.md").to_owned();
    for Group { title, mistakes } in GROUPS {
        write!(
            page,
            "\n## {title}\n\n| what was written | what the program says |\n|---|---|\n"
        )
        .unwrap();
        for mistake in *mistakes {
            let written = match shown(&mistake.change) {
                code if code.is_empty() => mistake.what.to_owned(),
                code => format!("{}: {code}", mistake.what),
            };
            let answer = answer(mistake).replace('<', "&lt;");
            // Nobody wrote any.
            assert!(!answer.contains("SI unit"), "{}: {answer}", mistake.what);
            let row = [written, answer].map(|cell| cell.replace('|', "\\|"));
            writeln!(page, "| {} |", row.join(" | ")).unwrap();
        }
    }
    page
}

#[test]
fn each_mistake_is_answered_as_the_table_says() {
    let file: PathBuf = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/src/mistakes.md");
    let page = page();
    if std::env::var_os(RENEW).is_some() {
        fs::write(&file, &page).unwrap();
        return;
    }
    let kept = fs::read_to_string(&file)
        .unwrap_or_else(|error| panic!("{}: {error}; write it with {RENEW}=1", file.display()));
    for (new, old) in page.lines().zip(kept.lines()) {
        assert_eq!(
            new, old,
            "if it is right, write the table anew with {RENEW}=1"
        );
    }
    assert_eq!(page.lines().count(), kept.lines().count());
}

/// The sheet that the mistakes are made in has none.
#[test]
fn the_sheet_itself_is_answered_without_a_warning() {
    let folder = tempfile::tempdir().unwrap();
    for sheet in [
        SHEET.to_owned(),
        SHEET
            .replace(ENGINE.0, ENGINE.1)
            .replace("[[run]]", "[[run]]\npiston = \"bottom\""),
    ] {
        fs::write(folder.path().join("sheet.toml"), sheet).unwrap();
        let out = Command::new(env!("CARGO_BIN_EXE_casetight"))
            .current_dir(folder.path())
            .args(["assess", "sheet.toml"])
            .output()
            .unwrap();
        assert_ne!(out.status.code(), Some(2), "{out:?}");
    }
}

#[test]
fn there_are_eighty_mistakes_each_with_its_own_words() {
    let mut words: Vec<&str> = GROUPS
        .iter()
        .flat_map(|group| group.mistakes)
        .map(|mistake| mistake.what)
        .collect();
    assert!(words.len() >= 80, "{}", words.len());
    words.sort_unstable();
    for pair in words.windows(2) {
        assert_ne!(pair[0], pair[1]);
    }
}
