//! Fuzzing: libFuzzer tries bytes on one of the invariants of `tests/src/fuzz` until the time is up.
//!
//! The program that it drives stands in a workspace of its own, `tests/fuzz`, so that nobody else compiles libFuzzer. The flags are
//! those that rustc needs to tell it what was reached; a stable toolchain takes them.

use std::ffi::OsStr;
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};

use crate::cargo;
use crate::runner::{Failure, Reason, Runner};

const CORPUS: &str = "tests/data/corpus";
const MANIFEST: &str = "tests/fuzz/Cargo.toml";
/// What is built, and what is found.
const FOLDER: &str = "target/fuzz";
/// The variable that tells the program which invariant to try.
const TARGET: &str = "CASETIGHT_FUZZ";
const SECONDS: u64 = 60;

/// What makes rustc count what is reached and hand comparisons on, as libFuzzer expects them.
const FLAGS: &str = "--cfg fuzzing -Cpasses=sancov-module -Cllvm-args=-sanitizer-coverage-level=4 \
    -Cllvm-args=-sanitizer-coverage-inline-8bit-counters -Cllvm-args=-sanitizer-coverage-pc-table \
    -Cllvm-args=-sanitizer-coverage-trace-compares -Ccodegen-units=1";

/// The targets: each has a folder of seeds.
pub(crate) fn targets(runner: &Runner) -> Result<Vec<String>, Failure> {
    let folder = runner.root().join(CORPUS);
    let failed = |error| {
        let path = folder.clone();
        Failure::new("list of targets", Reason::File { path, error })
    };
    let mut names = Vec::new();
    for entry in fs::read_dir(&folder).map_err(failed)? {
        let path = entry.map_err(failed)?.path();
        if path.is_dir() {
            names.extend(path.file_name().map(|name| name.to_string_lossy().into()));
        }
    }
    names.sort_unstable();
    Ok(names)
}

/// Fuzzes one target for a time.
pub(crate) fn fuzz(runner: &mut Runner, name: &str, seconds: Option<u64>) -> Result<(), Failure> {
    let step = format!("fuzz {name}");
    let known = targets(runner)?;
    if !known.iter().any(|target| target == name) {
        return Err(Failure::new(&step, Reason::unknown("target", name, known)));
    }
    let folder = runner.root().join(FOLDER);
    let (kept, faults) = (
        folder.join("corpus").join(name),
        folder.join("faults").join(name),
    );
    for path in [&kept, &faults] {
        fs::create_dir_all(path).map_err(|error| {
            let path = path.clone();
            Failure::new(&step, Reason::File { path, error })
        })?;
    }
    let mut command = Command::new(cargo::program());
    command
        .args(["run", "--release", "--manifest-path", MANIFEST])
        // With a target named, the flags are not those of build scripts and macros.
        .args(["--target", &host(&step)?, "--target-dir", FOLDER, "--"])
        .arg(format!("-max_total_time={}", seconds.unwrap_or(SECONDS)))
        .args(["-timeout=20", "-rss_limit_mb=4096", "-max_len=4096"])
        .args(["-print_final_stats=1", "-verbosity=0"])
        .arg(format!("-artifact_prefix={FOLDER}/faults/{name}/"))
        // What it finds goes into the first folder.
        .arg(format!("{FOLDER}/corpus/{name}"))
        .arg(Path::new(CORPUS).join(name))
        .env("RUSTFLAGS", FLAGS)
        .env(TARGET, name);
    runner.step(&step, command)
}

/// The triple that rustc builds for by itself.
fn host(step: &str) -> Result<String, Failure> {
    let rustc = std::env::var_os("RUSTC").unwrap_or_else(|| OsStr::new("rustc").to_owned());
    let output = Command::new(&rustc)
        .arg("-vV")
        .stdin(Stdio::null())
        .output()
        .map_err(|error| {
            let program = rustc.to_string_lossy().into_owned();
            Failure::new(step, Reason::NotStarted { program, error })
        })?;
    triple(&String::from_utf8_lossy(&output.stdout))
        .ok_or_else(|| Failure::new(step, Reason::Said("rustc does not say its host".into())))
}

fn triple(version: &str) -> Option<String> {
    let line = version.lines().find_map(|line| line.strip_prefix("host: "));
    line.map(|line| line.trim().to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_host_is_read_from_what_rustc_says() {
        assert_eq!(
            triple("rustc 1.95.0\nbinary: rustc\nhost: a-b-c\nrelease: 1\n"),
            Some("a-b-c".to_owned())
        );
        assert_eq!(triple(""), None);
        assert!(host("x").unwrap().contains('-'));
    }

    #[test]
    fn there_are_targets_and_an_unknown_one_is_named_with_them() {
        let mut runner = Runner::new(crate::repository_root());
        assert!(targets(&runner).unwrap().contains(&"quantity".to_owned()));
        let said = fuzz(&mut runner, "no-such", None).unwrap_err().to_string();
        assert!(
            said.contains("no target `no-such`") && said.contains("quantity"),
            "{said}"
        );
    }
}
