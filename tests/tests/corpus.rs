//! The committed seeds of the fuzzer, replayed: `cargo xtask fuzz` tries the same invariants on more.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail")]

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use casetight_tests::fuzz::INVARIANTS;

fn corpus() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data/corpus")
}

fn files(folder: &Path) -> Vec<PathBuf> {
    let entries =
        fs::read_dir(folder).unwrap_or_else(|error| panic!("{}: {error}", folder.display()));
    let mut paths: Vec<PathBuf> = entries.map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    paths
}

#[test]
fn the_corpus_is_answered_as_it_must_be() {
    let mut wrong = Vec::new();
    for (name, invariant) in INVARIANTS {
        let seeds = files(&corpus().join(name));
        assert!(seeds.len() >= 10, "{name}: {} seeds", seeds.len());
        for path in seeds {
            if let Err(fault) = invariant(&fs::read(&path).unwrap()) {
                wrong.push(format!("{}: {fault}", path.display()));
            }
        }
    }
    assert!(wrong.is_empty(), "\n{}\n", wrong.join("\n"));
}

/// Sheets that were once answered wrongly are sheets like any other.
#[test]
fn the_sheets_of_before_are_answered_as_they_must_be() {
    for path in files(&corpus().join("../regressions")) {
        let bytes = fs::read(&path).unwrap();
        if path.extension().is_some_and(|end| end == "toml") {
            for name in ["sheet", "whole"] {
                let invariant = casetight_tests::fuzz::of(name).unwrap();
                let answered = invariant(&bytes);
                assert!(answered.is_ok(), "{}, {name}: {answered:?}", path.display());
            }
        }
    }
}

#[test]
fn each_folder_of_seeds_has_its_invariant() {
    let folders: BTreeSet<String> = files(&corpus())
        .into_iter()
        .filter(|path| path.is_dir())
        .map(|path| path.file_name().unwrap().to_string_lossy().into_owned())
        .collect();
    let named: BTreeSet<String> = INVARIANTS
        .iter()
        .map(|(name, _)| (*name).to_owned())
        .collect();
    assert_eq!(folders, named);
}
