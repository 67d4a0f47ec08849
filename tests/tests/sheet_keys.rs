//! The sheet's keys as the book and editors have them: made from the declarations that the parser uses.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "test code")]

use std::fs;
use std::path::{Path, PathBuf};

use casetight_bench::session::Session;
use casetight_bench::sheet::{self, NoTraces, Sheet};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// The file holds what is made now; it is written anew where the environment says so.
#[track_caller]
fn kept(file: &str, made: &str) {
    let path = root().join(file);
    if std::env::var_os("CASETIGHT_RENEW_SNAPSHOTS").is_some() {
        fs::write(&path, made).unwrap();
    }
    let kept = fs::read_to_string(&path).unwrap_or_default();
    assert!(
        kept == made,
        "{file} is not what the declarations give; CASETIGHT_RENEW_SNAPSHOTS=1 writes it anew"
    );
}

#[test]
fn the_books_reference_is_that_of_the_declarations() {
    kept("docs/sheet-keys.md", &sheet::reference());
}

#[test]
fn the_schema_for_editors_is_that_of_the_declarations() {
    let made = serde_json::to_string_pretty(&sheet::schema()).unwrap() + "\n";
    kept("docs/sheet.schema.json", &made);
}

/// The first sheet of the book's page is one that gives an answer.
#[test]
fn the_smallest_sheet_is_assessed() {
    let page = fs::read_to_string(root().join("docs/src/sheet.md")).unwrap();
    let (_, rest) = page.split_once("```toml\n").unwrap();
    let (text, _) = rest.split_once("```").unwrap();
    let sheet = Sheet::parse(text, "smallest.toml", &NoTraces).unwrap();
    let session = Session::assess(&sheet).unwrap();
    assert_eq!(session.runs.len(), 1);
    // Nothing in it can go: without any one line it is refused.
    let lines: Vec<&str> = text.lines().collect();
    for without in (0..lines.len()).filter(|place| !lines[*place].is_empty()) {
        let mut less = lines.clone();
        less.remove(without);
        let read = Sheet::parse(&less.join("\n"), "less.toml", &NoTraces);
        assert!(read.is_err(), "not needed: {}", lines[without]);
    }
}
