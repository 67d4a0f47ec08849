//! The oldest Rust that the crates ask for: which dependency pins it.
//!
//! What our own code needs besides, clippy's lint `incompatible_msrv` tells of the standard library; of the language a toolchain alone.

use std::collections::BTreeSet;
use std::process::Command;

use serde_json::Value;

use crate::cargo;
use crate::runner::{Failure, Reason, Runner};

/// Whose dependencies are asked, and what those people get.
const ASKED: [(&str, &str); 4] = [
    ("casetight", "the library"),
    ("casetight-cli", "the program"),
    ("casetight-python", "the Python package"),
    ("xtask", "the chores"),
];

/// A Rust version, as its numbers.
type Version = Vec<u64>;

/// Says for each which dependencies ask for the newest Rust, and fails where that is newer than what is stated.
pub(crate) fn msrv(runner: &mut Runner) -> Result<(), Failure> {
    let step = "oldest Rust";
    let mut command = Command::new(cargo::program());
    command.args(["metadata", "--format-version", "1", "--locked"]);
    let metadata = runner.capture(step, command)?;
    let failed = |what: String| Failure::new(step, Reason::Said(what));
    let metadata: Value =
        serde_json::from_str(&metadata).map_err(|error| failed(error.to_string()))?;
    let mut newer = Vec::new();
    for (name, who) in ASKED {
        let pins = Pins::of(&metadata, name)
            .ok_or_else(|| failed(format!("cargo's metadata say nothing of {name}")))?;
        println!("{name} ({who}): {pins}");
        newer.extend((pins.asked > pins.stated).then_some(name));
    }
    if newer.is_empty() {
        Ok(())
    } else {
        Err(failed(format!(
            "a dependency of {} asks for a newer Rust than rust-version says",
            newer.join(", ")
        )))
    }
}

/// What pins the oldest Rust of one crate.
#[derive(Debug, PartialEq, Eq)]
struct Pins {
    stated: Version,
    asked: Version,
    by: Vec<String>,
}

impl Pins {
    /// Of a crate and all that it needs to be built, tests left out.
    fn of(metadata: &Value, name: &str) -> Option<Self> {
        let packages = metadata["packages"].as_array()?;
        let nodes = metadata.pointer("/resolve/nodes")?.as_array()?;
        let own = packages.iter().find(|package| package["name"] == name)?;
        let (mut seen, mut next) = (BTreeSet::new(), vec![own["id"].as_str()?]);
        while let Some(id) = next.pop() {
            let node = nodes.iter().find(|node| node["id"] == id);
            let needed = node.and_then(|node| node["deps"].as_array());
            if seen.insert(id) {
                let built = |dep: &&Value| {
                    let kinds = dep["dep_kinds"].as_array();
                    kinds.is_some_and(|kinds| kinds.iter().any(|kind| kind["kind"] != "dev"))
                };
                let needed = needed.into_iter().flatten().filter(built);
                next.extend(needed.filter_map(|dep| dep["pkg"].as_str()));
            }
        }
        let (mut asked, mut by) = (Version::new(), Vec::new());
        for package in packages.iter().filter(|package| {
            let foreign = !package["source"].is_null();
            foreign && package["id"].as_str().is_some_and(|id| seen.contains(id))
        }) {
            let wants = package["rust_version"].as_str().map(version);
            let Some(wants) = wants.filter(|wants| *wants >= asked) else {
                continue;
            };
            if wants > asked {
                by.clear();
            }
            asked = wants;
            let text = |key: &str| package[key].as_str().unwrap_or_default();
            by.push(format!("{} {}", text("name"), text("version")));
        }
        Some(Self {
            stated: version(own["rust_version"].as_str()?),
            asked,
            by,
        })
    }
}

impl std::fmt::Display for Pins {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let text = |version: &Version| {
            let numbers: Vec<String> = version.iter().map(ToString::to_string).collect();
            numbers.join(".")
        };
        write!(
            f,
            "{} is stated; of its dependencies {} ask for the most, {}",
            text(&self.stated),
            self.by.join(", "),
            text(&self.asked)
        )
    }
}

/// "1.89" and "1.89.0" are one.
fn version(text: &str) -> Version {
    let mut numbers: Version = text
        .split('.')
        .map(|number| number.parse().unwrap_or(0))
        .collect();
    while numbers.len() > 2 && numbers.last() == Some(&0) {
        numbers.pop();
    }
    numbers
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn versions_are_compared_as_numbers() {
        assert_eq!(version("1.89.0"), version("1.89"));
        assert!(version("1.100") > version("1.89.1"));
        assert!(version("1.89.1") > version("1.89"));
    }

    #[test]
    fn the_newest_is_asked_for_by_what_is_built() {
        let metadata = serde_json::json!({
            "packages": [
                {"id": "own", "name": "own", "source": null, "rust_version": "1.90"},
                {"id": "a", "name": "a", "version": "1.0.0", "source": "r", "rust_version": "1.88.0"},
                {"id": "b", "name": "b", "version": "2.0.0", "source": "r", "rust_version": "1.88"},
                {"id": "c", "name": "c", "version": "3.0.0", "source": "r", "rust_version": null},
                {"id": "t", "name": "t", "version": "4.0.0", "source": "r", "rust_version": "1.99"},
            ],
            "resolve": {"nodes": [
                {"id": "own", "deps": [
                    {"pkg": "a", "dep_kinds": [{"kind": null}]},
                    {"pkg": "t", "dep_kinds": [{"kind": "dev"}]},
                ]},
                {"id": "a", "deps": [
                    {"pkg": "b", "dep_kinds": [{"kind": "build"}]},
                    {"pkg": "c", "dep_kinds": [{"kind": null}]},
                    {"pkg": "a", "dep_kinds": [{"kind": null}]},
                ]},
            ]},
        });
        let pins = Pins::of(&metadata, "own").unwrap();
        assert_eq!(
            pins.to_string(),
            "1.90 is stated; of its dependencies a 1.0.0, b 2.0.0 ask for the most, 1.88"
        );
        assert_eq!(Pins::of(&metadata, "none"), None);
    }
}
