//! What must stay true of the repository as a whole: its top level, its sources, its promises to contributors.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::print_stderr,
    reason = "test code"
)]

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::process::Command;

const ROOT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/..");

const TOP_LEVEL: [&str; 13] = [
    ".cargo",
    ".ci",
    ".gitignore",
    "Cargo.lock",
    "Cargo.toml",
    "DEVELOPERS.md",
    "LICENSE",
    "README.md",
    "benches",
    "bindings",
    "crates",
    "docs",
    "tests",
];

/// What may stand behind `Source:` where there is no publication to name.
const ORIGINS: [&str; 6] = [
    "independent script",
    "open data",
    "self-consistency",
    "derived",
    "common practice",
    "from memory",
];

const HOW_READ: [&str; 3] = ["Seen", "Quoted", "From memory"];

fn read(path: &str) -> String {
    fs::read_to_string(Path::new(ROOT).join(path)).unwrap_or_else(|error| panic!("{path}: {error}"))
}

/// Tracked files, or `None` where this is no checkout (an unpacked archive, say).
fn tracked() -> Option<Vec<String>> {
    let output = Command::new("git")
        .args(["-C", ROOT, "ls-files", "-z", "--cached"])
        .output()
        .ok()
        .filter(|output| output.status.success())?;
    let listing = String::from_utf8(output.stdout).unwrap();
    let names: Vec<String> = listing.split_terminator('\0').map(str::to_owned).collect();
    (!names.is_empty()).then_some(names)
}

/// Files below the given folders that end in one of `ends`, as (path from the root, text).
fn texts(folders: &[&str], ends: &[&str]) -> Vec<(String, String)> {
    let mut found = Vec::new();
    let mut folders: Vec<_> = folders
        .iter()
        .map(|name| Path::new(ROOT).join(name))
        .collect();
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            if path.is_dir() {
                if name != "target" && !name.starts_with('.') {
                    folders.push(path);
                }
            } else if ends.iter().any(|end| name.ends_with(end)) {
                let place = path.strip_prefix(ROOT).unwrap().display().to_string();
                found.push((place, fs::read_to_string(&path).unwrap()));
            }
        }
    }
    found.sort();
    found
}

#[test]
fn the_top_level_holds_what_it_should() {
    let Some(files) = tracked() else {
        eprintln!("skipped: git does not list this folder's files");
        return;
    };
    let found: BTreeSet<&str> = files
        .iter()
        .filter_map(|file| file.split('/').next())
        .collect();
    assert_eq!(found, BTreeSet::from(TOP_LEVEL));
}

#[test]
fn ci_runs_the_command_that_the_readme_gives() {
    for file in ["README.md", "DEVELOPERS.md", ".ci/run"] {
        assert!(read(file).contains("cargo xtask test"), "{file}");
    }
}

// Citations.

/// What is wrong with the citations of one source file, line by line.
fn wrong_citations(source: &str, keys: &BTreeSet<String>) -> Vec<String> {
    let mut wrong = Vec::new();
    for (number, line) in (1..).zip(source.lines().map(str::trim)) {
        let Some(text) = line
            .strip_prefix("///")
            .or_else(|| line.strip_prefix("//!"))
        else {
            continue;
        };
        for key in backticked(text)
            .filter_map(cited_key)
            .filter(|key| !keys.contains(*key))
        {
            wrong.push(format!("{number}: docs/references.bib has no `{key}`"));
        }
        if let Some((_, origin)) = text.split_once("Source:") {
            let origin = origin.trim_start();
            let known = ORIGINS.iter().any(|known| origin.starts_with(known));
            if !known && !origin.starts_with("`[") {
                wrong.push(format!(
                    "{number}: behind `Source:` stands a key, written `[Key]` with its backticks, or one of: {}",
                    ORIGINS.join(", ")
                ));
            }
        }
        let outside: String = text.split('`').step_by(2).collect::<Vec<_>>().join("`");
        for key in keys
            .iter()
            .filter(|key| outside.contains(&format!("[{key}]")))
        {
            wrong.push(format!(
                "{number}: rustdoc takes [{key}] for a link; put backticks around it: `[{key}]`"
            ));
        }
    }
    wrong
}

/// The key of a citation, from what stands between its backticks: `[Key]`. Units such as `[Pa]` are shorter than any key.
fn cited_key(code: &str) -> Option<&str> {
    let key = code.strip_prefix('[')?.strip_suffix(']')?;
    let is_key = key.len() > 3
        && key.starts_with(|first: char| first.is_ascii_uppercase())
        && key.chars().all(|letter| letter.is_ascii_alphanumeric());
    is_key.then_some(key)
}

/// The words between backticks.
fn backticked(text: &str) -> impl Iterator<Item = &str> {
    text.split('`').skip(1).step_by(2)
}

/// Keys and notes of a BibTeX file.
fn entries(bib: &str) -> Vec<(String, Option<String>)> {
    let mut found: Vec<(String, Option<String>)> = Vec::new();
    for line in bib.lines().map(str::trim) {
        if let Some((_, key)) = line
            .strip_prefix('@')
            .and_then(|entry| entry.split_once('{'))
        {
            found.push((key.trim_end_matches(',').to_owned(), None));
        } else if let Some((name, value)) = line.split_once('=')
            && name.trim() == "note"
            && let Some((_, note)) = found.last_mut()
        {
            *note = Some(value.trim().trim_start_matches('{').to_owned());
        }
    }
    found
}

fn keys() -> BTreeSet<String> {
    let entries = entries(&read("docs/references.bib"));
    let keys: BTreeSet<String> = entries.iter().map(|(key, _)| key.clone()).collect();
    assert_eq!(keys.len(), entries.len(), "a key stands twice");
    assert!(keys.contains("NACA1135"), "{keys:?}");
    keys
}

#[test]
fn every_citation_is_in_the_bibliography() {
    let keys = keys();
    let wrong: Vec<String> = texts(&["crates", "bindings"], &[".rs"])
        .into_iter()
        .flat_map(|(place, source)| {
            wrong_citations(&source, &keys)
                .into_iter()
                .map(move |what| format!("{place}:{what}"))
        })
        .collect();
    assert!(wrong.is_empty(), "\n{}\n", wrong.join("\n"));
}

#[test]
fn the_page_of_sources_lists_the_bibliography() {
    let page = read("docs/src/sources.md");
    let listed: BTreeSet<String> = page
        .lines()
        .filter(|line| line.starts_with("| `"))
        .filter_map(|line| backticked(line).next())
        .map(str::to_owned)
        .collect();
    assert_eq!(listed, keys());
}

#[test]
fn every_source_says_how_it_was_read() {
    for (key, note) in entries(&read("docs/references.bib")) {
        let note = note.unwrap_or_default();
        assert!(
            HOW_READ.iter().any(|how| note.starts_with(how)),
            "{key}: the note begins with one of {HOW_READ:?}, not with \"{note}\""
        );
    }
}

#[test]
fn a_wrong_citation_is_found() {
    let keys = BTreeSet::from(["Known1900".to_owned()]);
    let wrong = |source: &str| wrong_citations(source, &keys);
    for good in [
        "/// Source: `[Known1900]`, Table 3; `[Known1900]`, 5.",
        "/// The law of `[Known1900]`, in `[Pa]` and [m], for `[f64]`.",
        "    //! Source: common practice, no publication",
        "// Source: some page, which only a reader of the test sees",
        "let text = \"Source: `[Unknown2000]`\";",
        "/// An [`Orifice`] or a [link](crate::leak).",
    ] {
        assert_eq!(wrong(good), Vec::<String>::new(), "{good}");
    }
    for bad in [
        "/// Source: `[Unknown2000]`.",
        "/// Good to 1 %. Source: `[Known1900]`, `[Unknown2000]`.",
        "//! As `[Unknown2000]` has it.",
        "/// Source: `Known1900`",
        "/// Source: Known1900",
        "/// Source:",
        "/// The law of [Known1900].",
    ] {
        assert_eq!(wrong(bad).len(), 1, "{bad}: {:?}", wrong(bad));
    }
}

#[test]
fn entries_are_read_with_their_notes() {
    let bib = "% @no{Comment,\n@book{One,\n  title = {A = b},\n  note  = {Seen: all}\n}\n\n@misc{Two,\n  year = {1}\n}\n";
    assert_eq!(
        entries(bib),
        [
            ("One".to_owned(), Some("Seen: all}".to_owned())),
            ("Two".to_owned(), None),
        ]
    );
}

// Bad input.

/// Rows of the table under `heading`: the first cell and the last.
fn rows<'a>(page: &'a str, heading: &str) -> Vec<(&'a str, &'a str)> {
    page.lines()
        .skip_while(|line| *line != heading)
        .skip(1)
        .take_while(|line| !line.starts_with('#'))
        .filter(|line| line.starts_with('|'))
        .skip(2)
        .filter_map(|line| {
            let mut cells = line.trim_matches('|').split('|').map(str::trim);
            Some((cells.next()?, cells.next_back()?))
        })
        .collect()
}

#[test]
fn each_bad_input_has_its_test() {
    let page = read("DEVELOPERS.md");
    let rows = rows(&page, "### Bad input");
    assert!(rows.len() > 10, "{rows:?}");
    let code: String = texts(&["crates", "tests", "bindings"], &[".rs", ".py"])
        .into_iter()
        .map(|(_, source)| source)
        .collect();
    let is_test = |name: &str| {
        code.contains(&format!("fn {name}(")) || code.contains(&format!("def {name}("))
    };
    let without: Vec<String> = rows
        .into_iter()
        .filter(|(_, tests)| backticked(tests).next().is_none() || !backticked(tests).all(is_test))
        .map(|(input, tests)| format!("{input}: {tests}"))
        .collect();
    assert!(
        without.is_empty(),
        "no such test, or none named:\n{}\n",
        without.join("\n")
    );
}

#[test]
fn rows_are_those_of_the_table_asked_for() {
    let page = "# A\n\n| x | y |\n|---|---|\n| 0 | `no` |\n\n### B\n\nText.\n\n| in | out | test |\n|---|---|---|\n| a | b | `c` |\n| d | e |  |\n\n## C\n| f | g |\n";
    assert_eq!(rows(page, "### B"), [("a", "`c`"), ("d", "")]);
}
