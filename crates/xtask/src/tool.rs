//! Programs that a chore needs and that are installed by hand; each chore says how.

use std::env;
use std::process::{Command, Stdio};

use crate::cargo;
use crate::runner::{Failure, Reason};

/// A program that is installed by hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Tool {
    pub(crate) name: &'static str,
    pub(crate) install: &'static str,
}

pub(crate) const MDBOOK: Tool = Tool {
    name: "mdbook",
    install: "cargo install mdbook --locked",
};

impl Tool {
    /// Refused where it is not on the PATH.
    pub(crate) fn on_path(self, step: &str) -> Result<Command, Failure> {
        if self.is_on_path() {
            Ok(Command::new(self.name))
        } else {
            Err(self.missing(step))
        }
    }

    pub(crate) fn is_on_path(self) -> bool {
        let name = format!("{}{}", self.name, env::consts::EXE_SUFFIX);
        env::var_os("PATH")
            .is_some_and(|path| env::split_paths(&path).any(|folder| folder.join(&name).is_file()))
    }

    /// One that cargo calls: `cargo-deny` is `cargo deny`. Refused where cargo finds none, in its own folder or on the PATH.
    pub(crate) fn of_cargo(self, step: &str) -> Result<Command, Failure> {
        let command = || {
            let mut command = Command::new(cargo::program());
            command.arg(self.name.trim_start_matches("cargo-"));
            command
        };
        let there = command()
            .arg("--version")
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .status()
            .is_ok_and(|status| status.success());
        if there {
            Ok(command())
        } else {
            Err(self.missing(step))
        }
    }

    fn missing(self, step: &str) -> Failure {
        Failure::new(step, Reason::NoTool(self))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_installed_is_named_with_how_to_install_it() {
        let ghost = Tool {
            name: "cargo-casetight-no-such-tool",
            install: "cargo install ghost",
        };
        for failure in [
            ghost.of_cargo("x").unwrap_err(),
            ghost.on_path("x").unwrap_err(),
        ] {
            let said = failure.to_string();
            assert!(
                said.contains("cargo-casetight-no-such-tool is not installed")
                    && said.contains("`cargo install ghost`"),
                "{said}"
            );
        }
        // Cargo's own commands are there.
        let own = Tool {
            name: "cargo-tree",
            install: "",
        };
        assert!(own.of_cargo("x").is_ok());
    }
}
