//! Chores of this repository, one command each: `cargo xtask help` lists them.
//!
//! Few and small crates, so that a fresh machine has it compiled within half a minute.
#![forbid(unsafe_code)]
#![allow(
    clippy::print_stdout,
    clippy::print_stderr,
    reason = "saying what runs is this program's job"
)]
#![cfg_attr(test, allow(clippy::unwrap_used, clippy::panic))]

mod book;
mod cargo;
mod deny;
mod equations;
mod fuzz;
mod msrv;
mod mutants;
mod package;
mod python;
mod rehearse;
mod release;
mod runner;
mod semver;
mod tool;

use std::env;
use std::ffi::OsString;
use std::path::PathBuf;
use std::process::ExitCode;

use runner::{Failure, Reason, Runner};

const USAGE: &str = "\
Chores of the casetight repository.

Usage: cargo xtask <COMMAND>

Commands:
  test            Everything that can fail: the workspace's tests with all features, its doctests,
                  the core library with each feature alone, the Python tests beside SciPy, the
                  Python package and the notebooks (in target/venv, made on first use)
  check           Format, lints (warnings are errors) and docs, without running anything
  ci              check, then test
  study [NAME]    Run a study of tests/src/bin in release; without NAME, list them.
                  What follows NAME goes to the study
  rehearse [NAME] Apply a change that the house is built for, kept in docs/rehearsals, to a copy and
                  test the copy's core; without NAME, list them
  mutants [MODULE]
                  Break the code of one module of the core in small ways, one at a time, and see
                  that tests fail; without MODULE, list them. What follows goes to cargo-mutants
  fuzz [NAME] [SECONDS]
                  Try bytes on one of the invariants of tests/src/fuzz, for a minute if SECONDS
                  does not say otherwise; without NAME, list them. Needs a C++ compiler
  deny            Licenses, sources, doubled crates and known faults of all dependencies
  msrv            The oldest Rust that dependencies ask for, and which of them do
  semver [--baseline-rev REVISION]
                  The libraries' interface beside that of the last release, or of REVISION
  package         Pack the crates, unpack them in an empty folder and test them there
  release --dry-run
                  Build all that a release has, install each where nothing else is, and try it on
                  the demo data
  beside-scipy    Time casetight and SciPy on the same readings, in one go
  bench-python    Time the Python package: calls, batches beside SciPy, import, size
  book            Build the book of docs/ into docs/book; needs mdbook on the PATH
  book-equations  What mdbook calls to draw the equations; not for typing
  batch-beside-scipy
                  Time `casetight batch` and a SciPy script on one file of many runs, in one go.
                  What follows goes to the script: --runs N, --scipy-runs N, --memory
  help            Show this text

Environment:
  PYTHON          The Python to make target/venv with (3.10 or newer); else python3, python or py

Each step is announced with its command line, so that it can be run alone. The first step that fails
ends the chore, and its exit code is the chore's own. A command line not understood gives 2.

Example:
  cargo xtask test
";

#[derive(Debug, PartialEq, Eq)]
enum Chore {
    Test,
    Check,
    Ci,
    Studies,
    Study {
        name: String,
        arguments: Vec<OsString>,
    },
    Rehearsals,
    Rehearse(String),
    Modules,
    Mutants {
        module: String,
        arguments: Vec<OsString>,
    },
    Targets,
    Fuzz {
        name: String,
        seconds: Option<u64>,
    },
    Deny,
    Msrv,
    Semver {
        baseline: Option<String>,
    },
    Package,
    Release {
        dry_run: bool,
    },
    BesideScipy,
    BenchPython,
    Book,
    BookEquations(Vec<OsString>),
    BatchBesideScipy {
        arguments: Vec<OsString>,
    },
    Help,
}

/// Why a command line was not understood.
#[derive(Debug, PartialEq, Eq)]
enum UsageError {
    NoCommand,
    UnknownCommand(String),
    Surplus(String),
    NoValue(&'static str),
    NoSeconds(String),
}

impl std::fmt::Display for UsageError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NoCommand => write!(f, "a command is missing"),
            Self::UnknownCommand(word) => write!(f, "there is no command `{word}`"),
            Self::Surplus(word) => write!(f, "`{word}` is not expected here"),
            Self::NoValue(flag) => write!(f, "what belongs behind `{flag}` is missing"),
            Self::NoSeconds(word) => write!(f, "`{word}` is no whole number of seconds above zero"),
        }
    }
}

impl Chore {
    fn parse(words: impl IntoIterator<Item = OsString>) -> Result<Self, UsageError> {
        let mut words = words.into_iter().peekable();
        let text = |word: OsString| word.to_string_lossy().into_owned();
        let command = words.next().ok_or(UsageError::NoCommand)?;
        let chore = match command.to_string_lossy().as_ref() {
            "test" => Self::Test,
            "check" => Self::Check,
            "ci" => Self::Ci,
            "beside-scipy" => Self::BesideScipy,
            "bench-python" => Self::BenchPython,
            "book" => Self::Book,
            "book-equations" => Self::BookEquations(words.by_ref().collect()),
            "batch-beside-scipy" => Self::BatchBesideScipy {
                arguments: words.by_ref().collect(),
            },
            "help" | "--help" | "-h" => Self::Help,
            "study" => match words.next() {
                None => Self::Studies,
                Some(name) => Self::Study {
                    name: text(name),
                    arguments: words.by_ref().collect(),
                },
            },
            "rehearse" => match words.next() {
                None => Self::Rehearsals,
                Some(name) => Self::Rehearse(text(name)),
            },
            "mutants" => match words.next() {
                None => Self::Modules,
                Some(module) => Self::Mutants {
                    module: text(module),
                    arguments: words.by_ref().collect(),
                },
            },
            "fuzz" => match words.next() {
                None => Self::Targets,
                Some(name) => Self::Fuzz {
                    name: text(name),
                    seconds: words.next().map(text).map(seconds).transpose()?,
                },
            },
            "deny" => Self::Deny,
            "msrv" => Self::Msrv,
            "semver" => Self::Semver {
                baseline: match words.next_if(|word| word == BASELINE) {
                    None => None,
                    Some(_) => Some(text(words.next().ok_or(UsageError::NoValue(BASELINE))?)),
                },
            },
            "package" => Self::Package,
            "release" => Self::Release {
                dry_run: words.next_if(|word| word == "--dry-run").is_some(),
            },
            other => return Err(UsageError::UnknownCommand(other.to_owned())),
        };
        match words.next() {
            Some(word) => Err(UsageError::Surplus(text(word))),
            None => Ok(chore),
        }
    }

    fn run(&self, runner: &mut Runner) -> Result<(), Failure> {
        match self {
            Self::Check => cargo::check(runner),
            Self::Test => test(runner),
            Self::Ci => {
                cargo::check(runner)?;
                test(runner)
            }
            Self::Studies => {
                list(&cargo::studies(runner)?);
                Ok(())
            }
            Self::Study { name, arguments } => cargo::study(runner, name, arguments),
            Self::Rehearsals => {
                list(&rehearse::names(runner.root())?);
                Ok(())
            }
            Self::Rehearse(name) => rehearse::rehearse(runner, name),
            Self::Modules => {
                list(&mutants::modules(runner)?);
                Ok(())
            }
            Self::Mutants { module, arguments } => mutants::mutants(runner, module, arguments),
            Self::Targets => {
                list(&fuzz::targets(runner)?);
                Ok(())
            }
            Self::Fuzz { name, seconds } => fuzz::fuzz(runner, name, *seconds),
            Self::Deny => deny::deny(runner),
            Self::Msrv => msrv::msrv(runner),
            Self::Semver { baseline } => semver::semver(runner, baseline.as_deref()),
            Self::Package => package::package(runner).map(drop),
            Self::Release { dry_run } => release::release(runner, *dry_run),
            Self::BesideScipy => beside_scipy(runner),
            Self::BenchPython => bench_python(runner),
            Self::Book => {
                let count = book::check(runner.root())?;
                println!("{count} equations");
                book::build(runner)
            }
            Self::BookEquations(arguments) => book::preprocess(arguments),
            Self::BatchBesideScipy { arguments } => batch_beside_scipy(runner, arguments),
            Self::Help => {
                print!("{USAGE}");
                Ok(())
            }
        }
    }
}

fn beside_scipy(runner: &mut Runner) -> Result<(), Failure> {
    let casetight = cargo::release_binary(runner)?;
    let interpreter = python::environment(runner)?;
    runner.step(
        "casetight beside SciPy",
        python::script(&interpreter, "benches/beside_scipy.py", &casetight),
    )
}

fn bench_python(runner: &mut Runner) -> Result<(), Failure> {
    let casetight = cargo::release_binary(runner)?;
    let interpreter = python::environment(runner)?;
    python::package(runner, &interpreter)?;
    let script = python::script(
        &interpreter,
        "bindings/python/benches/beside_scipy.py",
        &casetight,
    );
    runner.step("the Python package timed", script)
}

fn batch_beside_scipy(runner: &mut Runner, arguments: &[OsString]) -> Result<(), Failure> {
    let casetight = cargo::release_binary(runner)?;
    let interpreter = python::environment(runner)?;
    let mut script = python::script(&interpreter, "benches/batch_beside_scipy.py", &casetight);
    script.args(arguments);
    runner.step("casetight batch beside SciPy", script)
}

/// The flag of `semver`.
const BASELINE: &str = "--baseline-rev";

fn seconds(word: String) -> Result<u64, UsageError> {
    match word.parse() {
        Ok(seconds) if seconds > 0 => Ok(seconds),
        _ => Err(UsageError::NoSeconds(word)),
    }
}

fn list(names: &[String]) {
    for name in names {
        println!("{name}");
    }
}

fn test(runner: &mut Runner) -> Result<(), Failure> {
    cargo::test(runner)?;
    let casetight = cargo::release_binary(runner)?;
    let interpreter = python::environment(runner)?;
    runner.step("Python tests", python::pytest(&interpreter, &casetight))?;
    python::package(runner, &interpreter)?;
    runner.step(
        "Python package's tests",
        python::package_pytest(&interpreter, &casetight),
    )?;
    for script in python::notebooks(runner)? {
        let name = script.file_stem().unwrap_or_default().to_string_lossy();
        let run = python::notebook(&interpreter, &script);
        runner.step(&format!("notebook {name}"), run)?;
    }
    Ok(())
}

/// The top of the repository: two folders above this crate.
fn repository_root() -> PathBuf {
    // `cargo run` sets the variable, so a moved checkout with an old target folder is still found.
    let here = env::var_os("CARGO_MANIFEST_DIR")
        .map_or_else(|| PathBuf::from(env!("CARGO_MANIFEST_DIR")), PathBuf::from);
    here.ancestors()
        .nth(2)
        .map_or_else(|| here.clone(), PathBuf::from)
}

fn main() -> ExitCode {
    let chore = match Chore::parse(env::args_os().skip(1)) {
        Ok(chore) => chore,
        Err(error) => {
            eprint!("error: {error}\n\n{USAGE}");
            return ExitCode::from(2);
        }
    };
    let mut runner = Runner::new(repository_root());
    let outcome = chore.run(&mut runner);
    match (&chore, outcome) {
        // mdBook shows what is said on the way, and asks each time.
        (Chore::BookEquations(_), Ok(())) => ExitCode::SUCCESS,
        (
            Chore::BookEquations(_),
            Err(Failure {
                reason: Reason::OtherRenderer,
                ..
            }),
        ) => ExitCode::FAILURE,
        (_, outcome) => runner.close(outcome),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parse(line: &str) -> Result<Chore, UsageError> {
        Chore::parse(line.split_whitespace().map(OsString::from))
    }

    #[test]
    fn every_command_of_the_usage_text_is_understood() {
        let listed: Vec<&str> = USAGE
            .lines()
            .skip_while(|line| !line.starts_with("Commands:"))
            .skip(1)
            .take_while(|line| !line.is_empty())
            .filter(|line| line.starts_with("  ") && !line.starts_with("   "))
            .filter_map(|line| line.split_whitespace().next())
            .collect();
        assert_eq!(
            listed,
            [
                "test",
                "check",
                "ci",
                "study",
                "rehearse",
                "mutants",
                "fuzz",
                "deny",
                "msrv",
                "semver",
                "package",
                "release",
                "beside-scipy",
                "bench-python",
                "book",
                "book-equations",
                "batch-beside-scipy",
                "help"
            ]
        );
        for command in listed {
            assert!(parse(command).is_ok(), "{command}");
        }
    }

    #[test]
    fn what_follows_a_study_goes_to_the_study() {
        assert_eq!(
            parse("study coverage --runs 20"),
            Ok(Chore::Study {
                name: "coverage".into(),
                arguments: vec!["--runs".into(), "20".into()],
            })
        );
        assert_eq!(parse("study"), Ok(Chore::Studies));
        assert_eq!(
            parse("batch-beside-scipy --memory"),
            Ok(Chore::BatchBesideScipy {
                arguments: vec!["--memory".into()],
            })
        );
    }

    #[test]
    fn what_follows_a_module_goes_to_cargo_mutants() {
        assert_eq!(
            parse("mutants limit --shard 0/4"),
            Ok(Chore::Mutants {
                module: "limit".into(),
                arguments: vec!["--shard".into(), "0/4".into()],
            })
        );
        assert_eq!(parse("mutants"), Ok(Chore::Modules));
    }

    #[test]
    fn a_target_is_fuzzed_for_whole_seconds() {
        let fuzz = |seconds| {
            let name = "sheet".into();
            Ok(Chore::Fuzz { name, seconds })
        };
        assert_eq!(parse("fuzz"), Ok(Chore::Targets));
        assert_eq!(parse("fuzz sheet"), fuzz(None));
        assert_eq!(parse("fuzz sheet 90"), fuzz(Some(90)));
        for word in ["0", "-1", "1.5", "long"] {
            let wrong = Err(UsageError::NoSeconds(word.into()));
            assert_eq!(parse(&format!("fuzz sheet {word}")), wrong);
        }
        assert_eq!(
            parse("fuzz sheet 90 more"),
            Err(UsageError::Surplus("more".into()))
        );
    }

    #[test]
    fn a_baseline_follows_its_flag() {
        let semver = |baseline: Option<&str>| {
            let baseline = baseline.map(str::to_owned);
            Ok(Chore::Semver { baseline })
        };
        assert_eq!(parse("semver"), semver(None));
        assert_eq!(
            parse("semver --baseline-rev HEAD~1"),
            semver(Some("HEAD~1"))
        );
        assert_eq!(
            parse("semver --baseline-rev"),
            Err(UsageError::NoValue(BASELINE))
        );
        assert_eq!(
            parse("semver HEAD~1"),
            Err(UsageError::Surplus("HEAD~1".into()))
        );
    }

    #[test]
    fn a_release_is_tried_only() {
        let release = |dry_run| Ok(Chore::Release { dry_run });
        assert_eq!(parse("release --dry-run"), release(true));
        assert_eq!(parse("release"), release(false));
        assert!(parse("release --now").is_err());
        let mut runner = Runner::new(repository_root());
        let said = release::release(&mut runner, false)
            .unwrap_err()
            .to_string();
        assert!(said.contains("--dry-run"), "{said}");
    }

    #[test]
    fn a_wrong_command_line_is_named() {
        assert_eq!(parse(""), Err(UsageError::NoCommand));
        assert_eq!(
            parse("tset"),
            Err(UsageError::UnknownCommand("tset".into()))
        );
        assert_eq!(
            parse("test --fast"),
            Err(UsageError::Surplus("--fast".into()))
        );
    }

    #[test]
    fn the_root_is_where_the_workspace_is() {
        let manifest = std::fs::read_to_string(repository_root().join("Cargo.toml")).unwrap();
        assert!(manifest.contains("[workspace]"));
    }
}
