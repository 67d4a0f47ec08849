//! The committed validation page and figures are what the command makes.
#![allow(clippy::unwrap_used, clippy::panic, reason = "test code")]

use casetight_tests::validation::{Page, same_numbers};

const AGAIN: &str = "run `cargo run --release -p casetight-tests --bin validation`";

#[test]
fn the_tables_on_the_page_are_what_the_library_gives() {
    let text = Page::here().text().unwrap();
    if let Some(difference) = same_numbers(&text, &Page::filled(&text)) {
        panic!("docs/src/validation.md has another table, at {difference}; {AGAIN}");
    }
}

#[test]
fn the_figures_are_what_the_library_gives() {
    let figures = Page::here().figures();
    assert_eq!(figures.len(), 6);
    for (path, content) in figures {
        let Ok(committed) = std::fs::read_to_string(&path) else {
            panic!("{} is missing; {AGAIN}", path.display());
        };
        if let Some(difference) = same_numbers(&committed, &content) {
            panic!("{} differs at {difference}; {AGAIN}", path.display());
        }
    }
}
