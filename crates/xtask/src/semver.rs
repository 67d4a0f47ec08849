//! Does the public interface of the libraries keep what the last release promised?

use std::process::{Command, Stdio};

use crate::package::LIBRARIES;
use crate::runner::{Failure, Runner};
use crate::tool::Tool;

const TOOL: Tool = Tool {
    name: "cargo-semver-checks",
    install: "cargo install cargo-semver-checks --locked",
};

/// Against a revision, or else the last release; where there is neither, it says so and nothing is wrong.
pub(crate) fn semver(runner: &mut Runner, baseline: Option<&str>) -> Result<(), Failure> {
    let Some(baseline) = baseline.map(str::to_owned).or_else(|| last_release(runner)) else {
        println!(
            "There is no release yet, no tag such as v0.1.0, so there is nothing to keep to; \
             `--baseline-rev REVISION` compares with any other."
        );
        return Ok(());
    };
    let step = format!("interface beside {baseline}");
    let mut command = TOOL.of_cargo(&step)?;
    command.args(["--baseline-rev", &baseline]);
    for library in LIBRARIES {
        command.args(["--package", library]);
    }
    runner.step(&step, command)
}

/// The last tag before where we are that names a version.
fn last_release(runner: &Runner) -> Option<String> {
    let output = Command::new("git")
        .args(["describe", "--tags", "--abbrev=0", "--match", "v[0-9]*"])
        .current_dir(runner.root())
        .stdin(Stdio::null())
        .stderr(Stdio::null())
        .output()
        .ok()
        .filter(|output| output.status.success())?;
    let tag = String::from_utf8_lossy(&output.stdout).trim().to_owned();
    (!tag.is_empty()).then_some(tag)
}
