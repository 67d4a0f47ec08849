//! Help, completions and man pages.
#![allow(clippy::unwrap_used, reason = "test code")]

use std::collections::BTreeMap;
use std::path::Path;
use std::process::Command;

fn run(arguments: &[&str]) -> String {
    let out = Command::new(env!("CARGO_BIN_EXE_casetight"))
        .args(arguments)
        .output()
        .unwrap();
    assert!(out.status.success(), "{arguments:?}");
    String::from_utf8(out.stdout).unwrap()
}

/// Names of the commands that the help lists.
fn commands() -> Vec<String> {
    run(&["--help"])
        .lines()
        .skip_while(|line| *line != "Commands:")
        .skip(1)
        .take_while(|line| !line.is_empty())
        .filter(|line| line.starts_with("  ") && !line.starts_with("   "))
        .filter_map(|line| line.split_whitespace().next().map(str::to_owned))
        .filter(|name| name != "help")
        .collect()
}

fn pages(folder: &Path) -> BTreeMap<String, String> {
    std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .map(|path| {
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            (name, std::fs::read_to_string(path).unwrap())
        })
        .collect()
}

#[test]
fn the_help_of_each_command_has_an_example() {
    let commands = commands();
    assert!(commands.len() >= 5, "{commands:?}");
    for command in commands {
        let help = run(&[&command, "--help"]);
        assert!(help.contains("Example"), "{command}: {help}");
        assert!(
            help.contains(&format!("casetight {command} ")),
            "{command}: {help}"
        );
    }
}

#[test]
fn completions_know_the_commands() {
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let script = run(&["completions", shell]);
        for command in commands() {
            assert!(script.contains(&command), "{shell}: {command}");
        }
    }
}

/// `casetight man docs/man` makes them anew.
#[test]
fn the_man_pages_are_those_of_the_program() {
    let folder = tempfile::tempdir().unwrap();
    run(&["man", folder.path().to_str().unwrap()]);
    let fresh = pages(folder.path());
    let kept = pages(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/man"));
    let names: Vec<&String> = kept.keys().collect();
    assert_eq!(fresh.keys().collect::<Vec<_>>(), names);
    for (name, page) in &fresh {
        assert_eq!(
            Some(page),
            kept.get(name),
            "{name}: run `casetight man docs/man`"
        );
    }
    for command in commands() {
        assert!(
            fresh.contains_key(&format!("casetight-{command}.1")),
            "{command}"
        );
    }
}
