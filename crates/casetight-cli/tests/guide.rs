//! The commands of the book's pages for the bench and the class, run as they stand, and what the pages show of their answers.
#![allow(clippy::unwrap_used, reason = "test code")]

use std::path::Path;
use std::process::Command;

/// Runs the commands of a page, and looks for each line of a block of text in the answers so far; how many commands there are.
fn run_page(page: &str, folder: &Path) -> usize {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let text = std::fs::read_to_string(root.join("docs/src").join(page)).unwrap();
    let mut commands = 0;
    let mut answers = String::new();
    let mut shows = false;
    for line in text.lines() {
        if line.starts_with("```") {
            shows = line == "```text";
            continue;
        }
        if shows {
            let shown = in_one_line(line);
            assert!(answers.contains(&shown), "{page}: `{line}` is in no answer");
        }
        let Some(command) = line.strip_prefix("casetight ") else {
            continue;
        };
        let (words, code) = command.split_once(" # exit ").unwrap();
        // A file that is written goes to a folder of its own.
        let mut after_out = false;
        let arguments = words.split(' ').map(|word| {
            let written = std::mem::replace(&mut after_out, word == "--out");
            if written {
                folder.join(word)
            } else {
                word.into()
            }
        });
        let out = Command::new(env!("CARGO_BIN_EXE_casetight"))
            .current_dir(&root)
            .args(arguments)
            .output()
            .unwrap();
        assert_eq!(out.status.code(), code.parse().ok(), "{page}: {words}");
        answers.push_str(&in_one_line(&String::from_utf8(out.stdout).unwrap()));
        commands += 1;
    }
    commands
}

fn in_one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn every_command_of_the_bench_guide_does_what_it_says() {
    let folder = tempfile::tempdir().unwrap();
    let commands = run_page("bench-guide.md", folder.path());
    assert!(commands >= 9, "{commands}");
    let page = std::fs::read_to_string(folder.path().join("mist-blower-9.html")).unwrap();
    assert!(page.contains("Mist blower 9"));
}

#[test]
fn every_command_of_the_lessons_shows_what_the_page_shows() {
    let folder = tempfile::tempdir().unwrap();
    let commands = run_page("lessons.md", folder.path());
    assert!(commands >= 6, "{commands}");
    let handout = std::fs::read_to_string(folder.path().join("what-a-hole-does.html")).unwrap();
    assert!(handout.contains("Mist blower 14"));
}
