//! Runs a chore step by step: announces each command line, stops at the first failure, keeps the time.

use std::ffi::OsStr;
use std::fmt;
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode, ExitStatus, Stdio};
use std::time::{Duration, Instant};

use crate::tool::Tool;

/// The step that failed, and why.
#[derive(Debug)]
pub(crate) struct Failure {
    step: String,
    pub(crate) reason: Reason,
}

/// Why a step failed.
#[derive(Debug)]
pub(crate) enum Reason {
    /// The command ran and said no.
    Status(ExitStatus),
    /// The command could not be started.
    NotStarted {
        program: String,
        error: std::io::Error,
    },
    /// A file or folder could not be read or written.
    File {
        path: PathBuf,
        error: std::io::Error,
    },
    /// No Python that is new enough answers to any of these names.
    NoPython { tried: Vec<String> },
    /// Cargo did not say where it put a program.
    NoBinary { name: &'static str },
    /// A program is not installed.
    NoTool(Tool),
    /// mdBook asks for another renderer than the one that equations are drawn for.
    OtherRenderer,
    /// What the step itself says of it.
    Said(String),
    /// There is none of this name.
    Unknown {
        what: &'static str,
        name: String,
        known: Vec<String>,
    },
    /// It was not asked for as it must be.
    Usage(&'static str),
}

impl Reason {
    pub(crate) fn unknown(what: &'static str, name: &str, known: Vec<String>) -> Self {
        let name = name.to_owned();
        Self::Unknown { what, name, known }
    }
}

impl Failure {
    pub(crate) fn new(step: &str, reason: Reason) -> Self {
        Self {
            step: step.to_owned(),
            reason,
        }
    }

    /// What this program ends with: the command's own code where there is one.
    fn exit_code(&self) -> u8 {
        match &self.reason {
            // Killed by a signal: no code to pass on.
            Reason::Status(status) => status
                .code()
                .and_then(|code| u8::try_from(code).ok())
                .unwrap_or(1),
            Reason::Unknown { .. } | Reason::Usage(_) => 2,
            _ => 1,
        }
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "FAILED at step \"{}\": ", self.step)?;
        match &self.reason {
            Reason::Status(status) => write!(f, "{status}"),
            Reason::NotStarted { program, error } => {
                write!(f, "`{program}` could not be started ({error})")
            }
            Reason::File { path, error } => write!(f, "{} ({error})", path.display()),
            Reason::NoPython { tried } => write!(
                f,
                "Python 3.10 or newer is needed and none was found as {}; set PYTHON to its path",
                tried.join(", ")
            ),
            Reason::NoBinary { name } => {
                write!(f, "cargo did not report where it put the binary `{name}`")
            }
            Reason::NoTool(tool) => write!(
                f,
                "{} is not installed; `{}` installs it (some minutes)",
                tool.name, tool.install
            ),
            Reason::OtherRenderer => write!(f, "equations are drawn for HTML only"),
            Reason::Said(what) => write!(f, "{what}"),
            Reason::Unknown { what, name, known } if known.is_empty() => {
                write!(f, "there is no {what} `{name}`, and no other yet")
            }
            Reason::Unknown { what, name, known } => write!(
                f,
                "there is no {what} `{name}`; there are: {}",
                known.join(", ")
            ),
            Reason::Usage(what) => write!(f, "{what}"),
        }
    }
}

/// Where the chore runs, and what it has done so far.
#[derive(Debug)]
pub(crate) struct Runner {
    root: PathBuf,
    started: Instant,
    steps: usize,
}

impl Runner {
    pub(crate) fn new(root: PathBuf) -> Self {
        Self {
            root,
            started: Instant::now(),
            steps: 0,
        }
    }

    pub(crate) fn root(&self) -> &Path {
        &self.root
    }

    /// Runs one command at the root, its output going where ours goes.
    pub(crate) fn step(&mut self, name: &str, command: Command) -> Result<(), Failure> {
        self.run(name, command, Stdio::inherit(), &[]).map(drop)
    }

    /// The same of a command of which these exit codes are no failure.
    pub(crate) fn step_that_may_end_with(
        &mut self,
        name: &str,
        command: Command,
        codes: &[i32],
    ) -> Result<(), Failure> {
        self.run(name, command, Stdio::inherit(), codes).map(drop)
    }

    /// Runs one command at the root and keeps what it writes to its standard output.
    pub(crate) fn capture(&mut self, name: &str, command: Command) -> Result<String, Failure> {
        self.run(name, command, Stdio::piped(), &[])
    }

    fn run(
        &mut self,
        name: &str,
        mut command: Command,
        stdout: Stdio,
        codes: &[i32],
    ) -> Result<String, Failure> {
        self.steps += 1;
        let line = line(&command, &self.root);
        eprintln!("\n== step {}, {name}: {line}", self.steps);
        let output = command
            .current_dir(&self.root)
            .stdin(Stdio::null())
            .stdout(stdout)
            .stderr(Stdio::inherit())
            .output()
            .map_err(|error| {
                let program = command.get_program().to_string_lossy().into_owned();
                Failure::new(name, Reason::NotStarted { program, error })
            })?;
        let allowed = output
            .status
            .code()
            .is_some_and(|code| codes.contains(&code));
        if output.status.success() || allowed {
            Ok(String::from_utf8_lossy(&output.stdout).into_owned())
        } else {
            Err(Failure::new(name, Reason::Status(output.status)))
        }
    }

    /// Says how the chore ended and how long it took.
    pub(crate) fn close(self, outcome: Result<(), Failure>) -> ExitCode {
        let time = duration(self.started.elapsed());
        match outcome {
            Ok(()) if self.steps == 0 => ExitCode::SUCCESS,
            Ok(()) => {
                eprintln!("\n== all {} steps passed in {time}", self.steps);
                ExitCode::SUCCESS
            }
            Err(failure) => {
                eprintln!("\n== {failure} (after {time})");
                ExitCode::from(failure.exit_code())
            }
        }
    }
}

/// A command as one would type it at the root, with the variables that are set for it.
fn line(command: &Command, root: &Path) -> String {
    let variables = command.get_envs().filter_map(|(key, value)| {
        value.map(|value| format!("{}={}", key.to_string_lossy(), quoted(value)))
    });
    let program = Path::new(command.get_program());
    // A program of the repository by its place, any other by its name: cargo's full path is of no use to a reader.
    let program = program
        .strip_prefix(root)
        .ok()
        .map(Path::as_os_str)
        .or(program.file_name())
        .unwrap_or(command.get_program());
    let words = std::iter::once(program)
        .chain(command.get_args())
        .map(quoted);
    variables.chain(words).collect::<Vec<_>>().join(" ")
}

fn quoted(word: &OsStr) -> String {
    let word = word.to_string_lossy();
    if word.is_empty() || word.contains(char::is_whitespace) {
        format!("\"{word}\"")
    } else {
        word.into_owned()
    }
}

fn duration(time: Duration) -> String {
    match (time.as_secs() / 60, time.as_secs() % 60) {
        (0, _) => format!("{:.1} s", time.as_secs_f64()),
        (minutes, seconds) => format!("{minutes} min {seconds:02} s"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cargo(argument: &str) -> Command {
        let mut command = Command::new(crate::cargo::program());
        command.arg(argument);
        command
    }

    #[test]
    fn a_line_shows_variables_and_quotes_blanks() {
        let mut command = Command::new("cargo");
        command
            .args(["clippy", "--", "-D warnings", ""])
            .env("RUSTDOCFLAGS", "-D warnings");
        assert_eq!(
            line(&command, Path::new("/r")),
            "RUSTDOCFLAGS=\"-D warnings\" cargo clippy -- \"-D warnings\" \"\""
        );
    }

    #[test]
    fn a_line_names_programs_as_one_would_type_them() {
        let root = Path::new("/r");
        let typed = |program: &str| line(&Command::new(program), root);
        assert_eq!(typed("/home/me/bin/cargo"), "cargo");
        assert_eq!(typed("/r/target/venv/bin/python"), "target/venv/bin/python");
    }

    #[test]
    fn times_read_like_a_clock() {
        assert_eq!(duration(Duration::from_millis(2340)), "2.3 s");
        assert_eq!(duration(Duration::from_secs(59)), "59.0 s");
        assert_eq!(duration(Duration::from_mins(1)), "1 min 00 s");
        assert_eq!(duration(Duration::from_secs(754)), "12 min 34 s");
    }

    #[test]
    fn output_is_kept_and_steps_are_counted() {
        let mut runner = Runner::new(crate::repository_root());
        let output = runner.capture("version", cargo("--version")).unwrap();
        assert!(output.starts_with("cargo "), "{output}");
        assert_eq!(runner.steps, 1);
    }

    #[test]
    fn a_failing_command_names_its_step_and_passes_its_code() {
        let mut runner = Runner::new(crate::repository_root());
        let failure = runner
            .step("nonsense", cargo("--no-such-flag"))
            .unwrap_err();
        assert_eq!(failure.exit_code(), 1);
        assert!(
            failure
                .to_string()
                .starts_with("FAILED at step \"nonsense\": ")
        );
    }

    #[test]
    fn a_code_that_is_no_failure_is_let_pass() {
        let mut runner = Runner::new(crate::repository_root());
        let mut ends_with = |codes: &[i32]| {
            runner.step_that_may_end_with("nonsense", cargo("--no-such-flag"), codes)
        };
        assert!(ends_with(&[1]).is_ok());
        assert!(ends_with(&[2]).is_err());
    }

    #[test]
    fn a_missing_program_is_named() {
        let mut runner = Runner::new(crate::repository_root());
        let failure = runner
            .step("ghost", Command::new("casetight-no-such-program"))
            .unwrap_err();
        assert!(
            failure
                .to_string()
                .contains("`casetight-no-such-program` could not be started")
        );
    }
}
