//! The book: built by mdBook, whose preprocessor for equations this program is.

use std::ffi::{OsStr, OsString};
use std::fs;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use serde_json::Value;

use crate::equations;
use crate::runner::{Failure, Reason, Runner};
use crate::tool::MDBOOK;

const SOURCES: &str = "docs/src";

/// Builds the book into `docs/book`.
pub(crate) fn build(runner: &mut Runner) -> Result<(), Failure> {
    let step = "book";
    let mut command = MDBOOK.on_path(step)?;
    command.args(["build", "docs"]);
    runner.step(step, command)
}

/// Answers mdBook as its preprocessor for equations: the book as JSON comes in on the standard input and goes out again
/// with its equations drawn; `supports RENDERER` asks beforehand whether that is wanted.
pub(crate) fn preprocess(arguments: &[OsString]) -> Result<(), Failure> {
    let step = "equations of the book";
    if let [supports, renderer] = arguments
        && supports == "supports"
    {
        return if renderer == OsStr::new("html") {
            Ok(())
        } else {
            Err(Failure::new(step, Reason::OtherRenderer))
        };
    }
    let broken = |error: io::Error| Failure::new(step, Reason::Said(error.to_string()));
    let mut request = String::new();
    io::stdin().read_to_string(&mut request).map_err(broken)?;
    let answer = answer(&request).map_err(|what| Failure::new(step, Reason::Said(what)))?;
    io::stdout().write_all(answer.as_bytes()).map_err(broken)
}

/// The book with its equations drawn, from mdBook's `[context, book]`.
fn answer(request: &str) -> Result<String, String> {
    let request: Value =
        serde_json::from_str(request).map_err(|error| format!("mdBook's request: {error}"))?;
    let Value::Array(mut parts) = request else {
        return Err("mdBook's request is no list of context and book".to_owned());
    };
    match (parts.pop(), parts.len()) {
        (Some(mut book), 1) => {
            draw_chapters(&mut book)?;
            Ok(book.to_string())
        }
        _ => Err("mdBook's request is no list of context and book".to_owned()),
    }
}

/// Draws the equations of every chapter, however deep it lies.
fn draw_chapters(value: &mut Value) -> Result<(), String> {
    match value {
        Value::Array(values) => values.iter_mut().try_for_each(draw_chapters),
        Value::Object(map) => {
            if let Some(Value::Object(chapter)) = map.get_mut("Chapter") {
                let name = chapter
                    .get("name")
                    .map(Value::to_string)
                    .unwrap_or_default();
                if let Some(Value::String(content)) = chapter.get_mut("content") {
                    let drawn = equations::drawn(content);
                    *content = drawn.map_err(|wrong| format!("chapter {name}, {wrong}"))?.0;
                }
            }
            map.values_mut().try_for_each(draw_chapters)
        }
        _ => Ok(()),
    }
}

/// The book's pages, all Markdown files of `docs/src`.
fn pages(root: &Path) -> io::Result<Vec<PathBuf>> {
    let (mut found, mut folders) = (Vec::new(), vec![root.join(SOURCES)]);
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder)? {
            let path = entry?.path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension() == Some(OsStr::new("md")) {
                found.push(path);
            }
        }
    }
    found.sort();
    Ok(found)
}

/// Checks that every equation of the book can be drawn; how many there are.
pub(crate) fn check(root: &Path) -> Result<usize, Failure> {
    let step = "equations of the book";
    let failed = |path: &Path, error| {
        let path = path.to_owned();
        Failure::new(step, Reason::File { path, error })
    };
    let mut count = 0;
    for page in pages(root).map_err(|error| failed(&root.join(SOURCES), error))? {
        let text = fs::read_to_string(&page).map_err(|error| failed(&page, error))?;
        count += equations::drawn(&text)
            .map_err(|wrong| failed(&page, io::Error::other(wrong.to_string())))?
            .1;
    }
    Ok(count)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_equation_of_the_book_can_be_drawn() {
        let count = check(&crate::repository_root()).unwrap_or_else(|failure| panic!("{failure}"));
        assert!(count > 100, "{count} equations: were the pages found?");
    }

    #[test]
    fn chapters_are_drawn_at_any_depth() {
        // The keys of mdBook 0.5; 0.4 has "sections" for "items".
        for items in ["items", "sections"] {
            let request = format!(
                r#"[{{"root":"/"}},{{"{items}":[{{"Chapter":{{"name":"One","content":"$a$","sub_items":[{{"Chapter":
                {{"name":"Two","content":"b $c$","sub_items":[]}}}}]}}}},"Separator"]}}]"#
            );
            let answer = answer(&request).unwrap();
            assert!(!answer.contains('$'), "{answer}");
            assert!(answer.contains("<math><mi>a</mi></math>"));
            assert!(answer.contains("b <math><mi>c</mi></math>"));
            assert!(answer.contains("Separator") && !answer.contains("root"));
        }
    }

    #[test]
    fn a_request_that_can_not_be_read_is_named() {
        assert!(answer("").unwrap_err().contains("mdBook's request"));
        assert!(answer("[1]").unwrap_err().contains("no list"));
        let wrong = r#"[{},{"items":[{"Chapter":{"name":"One","content":"\n$\\frac$"}}]}]"#;
        let error = answer(wrong).unwrap_err();
        assert!(error.starts_with("chapter \"One\", line 2: "), "{error}");
    }

    #[test]
    fn html_is_what_equations_are_drawn_for() {
        let words = |line: &str| line.split(' ').map(OsString::from).collect::<Vec<_>>();
        assert!(preprocess(&words("supports html")).is_ok());
        assert!(preprocess(&words("supports linkcheck")).is_err());
    }
}
