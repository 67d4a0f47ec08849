//! The steps that are cargo's: format, lints, docs, tests, the release binary and the studies.

use std::env;
use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use crate::runner::{Failure, Reason, Runner};

/// The library's crates, which must compile with each of their features alone.
const LIBRARY: [&str; 2] = ["casetight", "casetight-bench"];
const BINARY: &str = "casetight";
const STUDIES: &str = "tests/src/bin";

/// The cargo that runs us, so that a pinned toolchain stays pinned.
pub(crate) fn program() -> OsString {
    env::var_os("CARGO").unwrap_or_else(|| "cargo".into())
}

fn cargo(arguments: &[&str]) -> Command {
    let mut command = Command::new(program());
    command.args(arguments);
    command
}

/// Format, lints and docs.
pub(crate) fn check(runner: &mut Runner) -> Result<(), Failure> {
    runner.step("format", cargo(&["fmt", "--all", "--check"]))?;
    runner.step(
        "lints",
        cargo(&[
            "clippy",
            "--workspace",
            "--all-targets",
            "--all-features",
            "--",
            "-D",
            "warnings",
        ]),
    )?;
    // Libraries only, as docs.rs builds them: the binary shares the core's name and would overwrite its pages.
    let mut docs = cargo(&["doc", "--workspace", "--lib", "--no-deps", "--all-features"]);
    docs.env("RUSTDOCFLAGS", "-D warnings");
    runner.step("docs", docs)
}

/// The workspace's tests, its doctests, and the core library with each feature alone.
pub(crate) fn test(runner: &mut Runner) -> Result<(), Failure> {
    runner.step(
        "tests",
        cargo(&[
            "test",
            "--workspace",
            "--all-features",
            "--lib",
            "--bins",
            "--tests",
            "--examples",
        ]),
    )?;
    runner.step(
        "doctests",
        cargo(&["test", "--workspace", "--all-features", "--doc"]),
    )?;

    for name in LIBRARY {
        let alone = ["check", "--package", name, "--no-default-features"];
        runner.step(&format!("{name} without features"), cargo(&alone))?;
        let step = format!("{name} with each feature");
        let manifest = runner.root().join("crates").join(name).join("Cargo.toml");
        for feature in features(&read(&step, &manifest)?) {
            let mut command = cargo(&alone);
            command.args(["--features", &feature]);
            runner.step(&format!("{name} with only `{feature}`"), command)?;
        }
    }
    Ok(())
}

/// Builds the command line program in release and says where cargo put it.
pub(crate) fn release_binary(runner: &mut Runner) -> Result<PathBuf, Failure> {
    let step = "release binary";
    let messages = runner.capture(
        step,
        cargo(&[
            "build",
            "--release",
            "--bin",
            BINARY,
            "--message-format=json-render-diagnostics",
        ]),
    )?;
    // Asked of cargo, since the target folder and triple may be set from outside.
    executable(&messages, BINARY)
        .ok_or_else(|| Failure::new(step, Reason::NoBinary { name: BINARY }))
}

/// The studies that there are, by name.
pub(crate) fn studies(runner: &Runner) -> Result<Vec<String>, Failure> {
    let folder = runner.root().join(STUDIES);
    if !folder.is_dir() {
        return Ok(Vec::new());
    }
    let failed = |error| {
        let path = folder.clone();
        Failure::new("list of studies", Reason::File { path, error })
    };
    let mut names = Vec::new();
    for entry in fs::read_dir(&folder).map_err(failed)? {
        let path = entry.map_err(failed)?.path();
        let is_study =
            path.extension().is_some_and(|end| end == "rs") || path.join("main.rs").is_file();
        if let Some(name) = path.file_stem().filter(|_| is_study) {
            names.push(name.to_string_lossy().into_owned());
        }
    }
    names.sort_unstable();
    Ok(names)
}

/// Runs one study in release, with what else was typed.
pub(crate) fn study(
    runner: &mut Runner,
    name: &str,
    arguments: &[OsString],
) -> Result<(), Failure> {
    let known = studies(runner)?;
    if !known.iter().any(|study| study == name) {
        return Err(Failure::new("study", Reason::unknown("study", name, known)));
    }
    let mut command = cargo(&["run", "--release", "--package", "casetight-tests"]);
    command.args(["--bin", name, "--"]).args(arguments);
    runner.step(&format!("study {name}"), command)
}

/// Writes a file, and the folder that it stands in.
pub(crate) fn write(step: &str, path: &Path, text: &str) -> Result<(), Failure> {
    let folder = path.parent().map_or(Ok(()), std::fs::create_dir_all);
    folder
        .and_then(|()| std::fs::write(path, text))
        .map_err(|error| {
            let path = path.to_owned();
            Failure::new(step, Reason::File { path, error })
        })
}

pub(crate) fn read(step: &str, path: &Path) -> Result<String, Failure> {
    fs::read_to_string(path).map_err(|error| {
        let path = path.to_owned();
        Failure::new(step, Reason::File { path, error })
    })
}

/// The names in a manifest's `[features]` table, `default` left out.
fn features(manifest: &str) -> Vec<String> {
    manifest
        .lines()
        .map(str::trim)
        .skip_while(|line| *line != "[features]")
        .skip(1)
        .take_while(|line| !line.starts_with('['))
        .filter_map(|line| {
            let (name, value) = line.split_once('=')?;
            // A value that runs over several lines has no key on its later lines.
            value
                .trim()
                .starts_with('[')
                .then(|| name.trim().trim_matches('"'))
        })
        .filter(|name| *name != "default" && !name.starts_with('#'))
        .map(str::to_owned)
        .collect()
}

/// The path of `binary` in cargo's JSON messages, one a line.
fn executable(messages: &str, binary: &str) -> Option<PathBuf> {
    const KEY: &str = "\"executable\":\"";
    let ours = format!("\"name\":\"{binary}\"");
    messages
        .lines()
        .filter(|line| line.contains("\"compiler-artifact\"") && line.contains(&ours))
        .find_map(|line| line.split_once(KEY).map(|(_, rest)| json_string(rest)))
        .map(PathBuf::from)
}

/// A JSON string's text, from behind its opening quote. Paths need no escape but `\\`, `\"` and `\/`.
fn json_string(text: &str) -> String {
    let mut plain = String::new();
    let mut letters = text.chars();
    while let Some(letter) = letters.next() {
        match letter {
            '"' => break,
            '\\' => plain.extend(letters.next()),
            other => plain.push(other),
        }
    }
    plain
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn features_are_read_from_a_manifest() {
        let manifest = "\
[package]
name = \"x\"

[features]
default = [\"sheet\"]
# With units.
serde = [\"dep:serde\"]
sheet = [
    \"serde\",
    \"dep:toml\",
]

[dependencies]
toml = [\"no\"]
";
        assert_eq!(features(manifest), ["serde", "sheet"]);
        assert!(features("[package]\nname = \"x\"\n").is_empty());
    }

    #[test]
    fn the_core_has_features_to_try_alone() {
        let manifest = crate::repository_root().join("crates/casetight/Cargo.toml");
        let found = features(&read("test", &manifest).unwrap());
        assert!(found.contains(&"serde".to_owned()), "{found:?}");
    }

    #[test]
    fn the_binary_is_found_among_cargo_messages() {
        let messages = r#"
{"reason":"compiler-artifact","target":{"kind":["lib"],"name":"casetight"},"executable":null,"fresh":true}
{"reason":"compiler-artifact","target":{"kind":["bin"],"name":"other"},"executable":"/t/release/other"}
{"reason":"compiler-artifact","target":{"kind":["bin"],"name":"casetight"},"executable":"C:\\t\\release\\casetight.exe","fresh":false}
{"reason":"build-finished","success":true}
"#;
        assert_eq!(
            executable(messages, "casetight"),
            Some(PathBuf::from(r"C:\t\release\casetight.exe"))
        );
        assert_eq!(executable("", "casetight"), None);
    }
}
