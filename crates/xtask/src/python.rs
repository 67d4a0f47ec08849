//! The Python side: a virtual environment of our own in `target/venv`, and what runs in it.

use std::env;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use crate::cargo;
use crate::cargo::read;
use crate::runner::{Failure, Reason, Runner};

const REQUIREMENTS: [&str; 2] = [
    "tests/python/requirements.txt",
    "bindings/python/tests/requirements.txt",
];
/// The Python package: its project file and its tests are here.
const PACKAGE: &str = "bindings/python";
const NOTEBOOKS: &str = "docs/notebooks";
const VENV: &str = "target/venv";
/// A copy of the requirements that the environment was filled from, written when all are in.
const STAMP: &str = "requirements.txt";
/// Ends with 0 where the Python is new enough.
const NEW_ENOUGH: &str = "import sys; sys.exit(sys.version_info < (3, 10))";

/// The interpreter of an environment that holds what the tests require, made if need be.
pub(crate) fn environment(runner: &mut Runner) -> Result<PathBuf, Failure> {
    let step = "Python environment";
    let mut requirements = String::new();
    for file in REQUIREMENTS {
        requirements += &read(step, &runner.root().join(file))?;
    }
    let venv = runner.root().join(VENV);
    let interpreter = interpreter_of(&venv);
    let stamp = venv.join(STAMP);

    let filled = fs::read_to_string(&stamp).is_ok_and(|text| text == requirements);
    if filled && answers(Command::new(&interpreter)) {
        eprintln!(
            "\n== {VENV} is up to date with {}",
            REQUIREMENTS.join(" and ")
        );
        return Ok(interpreter);
    }

    let mut make = python()?;
    // Emptied first: what an older list required may hide that the new one lacks something.
    make.args(["-m", "venv", "--clear", VENV]);
    runner.step(step, make)?;

    let mut install = Command::new(&interpreter);
    install
        .args(["-m", "pip", "install", "--disable-pip-version-check"])
        // Ready wheels or a plain refusal: no compiler for C or Fortran is expected here.
        .args(["--no-input", "--only-binary=:all:"]);
    for file in REQUIREMENTS {
        install.args(["--requirement", file]);
    }
    runner.step("Python packages", install)?;

    cargo::write(step, &stamp, &requirements)?;
    Ok(interpreter)
}

/// The interpreter of a new environment in a folder, with one package in it and what that needs.
pub(crate) fn fresh(runner: &mut Runner, folder: &Path, package: &str) -> Result<PathBuf, Failure> {
    let name = folder.file_name().unwrap_or_default().to_string_lossy();
    let mut make = python()?;
    make.args(["-m", "venv", "--clear"]).arg(folder);
    runner.step(&format!("environment {name}"), make)?;
    let interpreter = interpreter_of(folder);
    let mut install = Command::new(&interpreter);
    install
        .args(["-m", "pip", "install", "--disable-pip-version-check"])
        .args(["--no-input", package]);
    runner.step(&format!("packages of {name}"), install)?;
    Ok(interpreter)
}

/// Builds the Python package and puts it into the environment, as a user does.
pub(crate) fn package(runner: &mut Runner, interpreter: &Path) -> Result<(), Failure> {
    let mut install = Command::new(interpreter);
    install
        .args(["-m", "pip", "install", "--disable-pip-version-check"])
        // The version stays the same while the code changes.
        .args(["--no-input", "--force-reinstall", "--no-deps"])
        .arg(format!("./{PACKAGE}"));
    runner.step("Python package", install)
}

/// The Python package's own tests: peers, bad input, batches, docstrings, types.
pub(crate) fn package_pytest(interpreter: &Path, casetight: &Path) -> Command {
    let mut command = Command::new(interpreter);
    let (project, tests) = (
        format!("{PACKAGE}/pyproject.toml"),
        format!("{PACKAGE}/tests"),
    );
    command
        .args(["-m", "pytest", "--config-file", &project, &tests])
        .args(["-p", "no:cacheprovider"])
        .env("CASETIGHT_BIN", casetight);
    command
}

/// The notebooks of the book, as scripts.
pub(crate) fn notebooks(runner: &Runner) -> Result<Vec<PathBuf>, Failure> {
    let folder = runner.root().join(NOTEBOOKS);
    let failed = |error| {
        let path = folder.clone();
        Failure::new("list of notebooks", Reason::File { path, error })
    };
    let mut scripts = Vec::new();
    for entry in fs::read_dir(&folder).map_err(failed)? {
        let path = entry.map_err(failed)?.path();
        if path.extension().is_some_and(|end| end == "py") {
            scripts.push(path);
        }
    }
    scripts.sort_unstable();
    Ok(scripts)
}

/// A notebook run from its first line to its last; pictures are drawn and not shown.
pub(crate) fn notebook(interpreter: &Path, script: &Path) -> Command {
    let mut command = Command::new(interpreter);
    command.arg(script).env("MPLBACKEND", "Agg");
    command
}

/// The Python tests, told where the release binary is.
pub(crate) fn pytest(interpreter: &Path, casetight: &Path) -> Command {
    let mut command = Command::new(interpreter);
    command
        .args(["-m", "pytest", "tests/python", "-ra", "--strict-markers"])
        .args(["-p", "no:cacheprovider"])
        .env("CASETIGHT_BIN", casetight);
    command
}

/// A script of this repository, told where the release binary is.
pub(crate) fn script(interpreter: &Path, script: &str, casetight: &Path) -> Command {
    let mut command = Command::new(interpreter);
    command.arg(script).env("CASETIGHT_BIN", casetight);
    command
}

fn interpreter_of(venv: &Path) -> PathBuf {
    if cfg!(windows) {
        venv.join("Scripts").join("python.exe")
    } else {
        venv.join("bin").join("python")
    }
}

/// The first Python on this machine that is new enough.
fn python() -> Result<Command, Failure> {
    let candidates: Vec<Vec<String>> = match env::var("PYTHON") {
        Ok(path) => vec![vec![path]],
        Err(_) => [&["python3"][..], &["python"], &["py", "-3"]]
            .iter()
            .map(|words| words.iter().map(ToString::to_string).collect())
            .collect(),
    };
    let command = |words: &Vec<String>| {
        let (program, arguments) = words.split_first()?;
        let mut command = Command::new(program);
        command.args(arguments);
        Some(command)
    };
    candidates
        .iter()
        .find(|words| command(words).is_some_and(answers))
        .and_then(command)
        .ok_or_else(|| {
            let tried = candidates.iter().map(|words| words.join(" ")).collect();
            Failure::new("Python", Reason::NoPython { tried })
        })
}

fn answers(mut python: Command) -> bool {
    python
        .args(["-c", NEW_ENOUGH])
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|status| status.success())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_program_that_is_no_python_does_not_answer() {
        assert!(!answers(Command::new("casetight-no-such-program")));
        assert!(!answers(Command::new(crate::cargo::program())));
    }

    #[test]
    fn scripts_are_told_where_the_binary_is() {
        let (python, casetight) = (Path::new("python"), Path::new("/t/casetight"));
        for command in [pytest(python, casetight), package_pytest(python, casetight)] {
            let told: Vec<_> = command.get_envs().collect();
            assert_eq!(
                told,
                [("CASETIGHT_BIN".as_ref(), Some("/t/casetight".as_ref()))]
            );
        }
    }
}
