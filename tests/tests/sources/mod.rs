//! The sources as tokens, for the tests of the house.
#![allow(
    dead_code,
    reason = "each test program that shares this file uses its own part"
)]

use std::fs;
use std::path::{Path, PathBuf};

use proc_macro2::{Delimiter, TokenTree};

pub(crate) const ROOT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/..");

/// The sources of the library's crates: what one run tells, and the bench around it.
pub(crate) const CRATES: [&str; 2] = [
    concat!(env!("CARGO_MANIFEST_DIR"), "/../crates/casetight/src"),
    concat!(env!("CARGO_MANIFEST_DIR"), "/../crates/casetight-bench/src"),
];

/// `#[cfg(test)]`, `#![cfg(test)]`, or the same with `all(test, ...)`.
pub(crate) fn is_test_attribute(tokens: &[TokenTree]) -> bool {
    let inner = usize::from(is_mark(tokens.get(1), '!'));
    let Some(TokenTree::Group(attribute)) = tokens.get(1 + inner) else {
        return false;
    };
    let text: String = attribute.stream().to_string().split_whitespace().collect();
    is_mark(tokens.first(), '#') && (text == "cfg(test)" || text.starts_with("cfg(all(test,"))
}

/// Where the item behind the attribute at `at` ends: all that is left, if the attribute is an inner one.
pub(crate) fn end_of_item(tokens: &[TokenTree], at: usize) -> usize {
    if is_mark(tokens.get(at + 1), '!') {
        return tokens.len();
    }
    let ends = |token: &TokenTree| match token {
        TokenTree::Group(group) => group.delimiter() == Delimiter::Brace,
        mark => is_mark(Some(mark), ';'),
    };
    tokens[at..]
        .iter()
        .position(ends)
        .map_or(tokens.len(), |length| at + length + 1)
}

pub(crate) fn is_word(token: Option<&TokenTree>, word: &str) -> bool {
    matches!(token, Some(TokenTree::Ident(found)) if found == word)
}

pub(crate) fn is_mark(token: Option<&TokenTree>, mark: char) -> bool {
    matches!(token, Some(TokenTree::Punct(found)) if found.as_char() == mark)
}

pub(crate) fn is_path(tokens: &[TokenTree], at: usize) -> bool {
    is_mark(tokens.get(at), ':') && is_mark(tokens.get(at + 1), ':')
}

/// The modules that lead to a file: `leak/orifice.rs` is `leak`, `orifice`; `leak/mod.rs` is `leak`; `lib.rs` is none.
pub(crate) fn modules_of(place: &Path) -> Vec<String> {
    let mut names: Vec<String> = place
        .with_extension("")
        .iter()
        .map(|part| part.to_string_lossy().into_owned())
        .collect();
    if matches!(names.last().map(String::as_str), Some("mod" | "lib")) {
        names.pop();
    }
    names
}

/// All sources below a folder but `tests.rs`, which `#[cfg(test)] mod tests;` names.
pub(crate) fn rust_files(folder: &Path) -> Vec<PathBuf> {
    let mut files = all_rust_files(folder);
    files.retain(|file| !file.ends_with("tests.rs"));
    files
}

/// All sources below a folder, tests too, but nothing that was built.
pub(crate) fn all_rust_files(folder: &Path) -> Vec<PathBuf> {
    let mut files = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() && !path.ends_with("target") {
            files.extend(all_rust_files(&path));
        } else if path.extension().is_some_and(|end| end == "rs") {
            files.push(path);
        }
    }
    files.sort();
    files
}
