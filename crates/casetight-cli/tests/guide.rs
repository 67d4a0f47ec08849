//! The commands of the bench guide, run as they stand.
#![allow(clippy::unwrap_used, reason = "test code")]

use std::path::Path;
use std::process::Command;

#[test]
fn every_command_of_the_bench_guide_does_what_it_says() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let guide = std::fs::read_to_string(root.join("docs/src/bench-guide.md")).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let mut commands = 0;
    for line in guide.lines() {
        let Some(command) = line.strip_prefix("casetight ") else {
            continue;
        };
        let (words, code) = command.split_once(" # exit ").unwrap();
        // A file that is written goes to a folder of its own.
        let mut after_out = false;
        let arguments = words.split(' ').map(|word| {
            let written = std::mem::replace(&mut after_out, word == "--out");
            if written {
                folder.path().join(word)
            } else {
                word.into()
            }
        });
        let out = Command::new(env!("CARGO_BIN_EXE_casetight"))
            .current_dir(&root)
            .args(arguments)
            .output()
            .unwrap();
        assert_eq!(out.status.code(), code.parse().ok(), "{words}");
        commands += 1;
    }
    assert!(commands >= 9, "{commands}");
    let page = std::fs::read_to_string(folder.path().join("mist-blower-9.html")).unwrap();
    assert!(page.contains("Mist blower 9"));
}
