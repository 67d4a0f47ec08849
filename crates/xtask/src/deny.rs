//! Licenses, sources, doubled crates and known faults of all that is compiled in, by `.cargo/deny.toml`.

use crate::runner::{Failure, Runner};
use crate::tool::Tool;

const TOOL: Tool = Tool {
    name: "cargo-deny",
    install: "cargo install cargo-deny --locked",
};
const CONFIG: &str = ".cargo/deny.toml";

/// Two steps, since only the second asks a database of faults, which is fetched.
pub(crate) fn deny(runner: &mut Runner) -> Result<(), Failure> {
    for (step, checks) in [
        (
            "licenses, bans and sources",
            &["licenses", "bans", "sources"][..],
        ),
        ("advisories", &["advisories"]),
    ] {
        let mut command = TOOL.of_cargo(step)?;
        command
            .args(["--workspace", "--all-features", "--config", CONFIG])
            .arg("check")
            .args(checks);
        runner.step(step, command)?;
    }
    Ok(())
}
