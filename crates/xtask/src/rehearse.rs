//! Rehearsals: changes that the house is built for, kept as patches in `docs/rehearsals`, each applied to a copy of the repository
//! whose core is then tested. That each still fits, and in how few places, the tests here see without building anything.

use std::fmt;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::{fs, io};

use crate::cargo;
use crate::runner::{Failure, Reason, Runner};

const PATCHES: &str = "docs/rehearsals";
const COPIES: &str = "target/rehearsals";
/// What a build of the core needs.
const NEEDED: [&str; 7] = [
    "Cargo.toml",
    "Cargo.lock",
    "crates",
    "bindings",
    "benches",
    "tests",
    "docs",
];

/// One file of a patch, changed.
#[derive(Debug)]
struct Change {
    /// From the top of the repository.
    path: PathBuf,
    /// None where the file is new.
    before: Option<String>,
    after: String,
}

impl Change {
    /// Lines more than before.
    fn added(&self) -> usize {
        let lines = |text: &str| text.lines().count();
        lines(&self.after).saturating_sub(self.before.as_deref().map_or(0, lines))
    }
}

impl fmt::Display for Change {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let kind = match self.before {
            None => "new",
            Some(_) => "changed",
        };
        write!(
            f,
            "{}: {kind}, {} lines more",
            self.path.display(),
            self.added()
        )
    }
}

/// The rehearsals by name.
pub(crate) fn names(root: &Path) -> Result<Vec<String>, Failure> {
    listed(root).map_err(|error| {
        let path = root.join(PATCHES);
        Failure::new("list of rehearsals", Reason::File { path, error })
    })
}

fn listed(root: &Path) -> io::Result<Vec<String>> {
    let mut names = Vec::new();
    for entry in fs::read_dir(root.join(PATCHES))? {
        let path = entry?.path();
        if path.extension().is_some_and(|end| end == "patch") {
            names.extend(path.file_stem().map(|name| name.to_string_lossy().into()));
        }
    }
    names.sort_unstable();
    Ok(names)
}

/// Applies a rehearsal to a copy and tests the copy's core.
pub(crate) fn rehearse(runner: &mut Runner, name: &str) -> Result<(), Failure> {
    let step = format!("rehearsal {name}");
    let root = runner.root().to_owned();
    let failed = |path: &Path| {
        let path = path.to_owned();
        let step = step.clone();
        move |error| Failure::new(&step, Reason::File { path, error })
    };
    let patch = root.join(PATCHES).join(format!("{name}.patch"));
    let changes = changes(&root, &patch).map_err(failed(&patch))?;
    let copy = root.join(COPIES).join(name);
    if copy.exists() {
        fs::remove_dir_all(&copy).map_err(failed(&copy))?;
    }
    fs::create_dir_all(&copy).map_err(failed(&copy))?;
    for part in NEEDED {
        let from = root.join(part);
        copy_all(&from, &copy.join(part)).map_err(failed(&from))?;
    }
    for change in &changes {
        let path = copy.join(&change.path);
        fs::write(&path, &change.after).map_err(failed(&path))?;
        println!("{change}");
    }
    let mut test = Command::new(cargo::program());
    test.args(["test", "--all-features", "--lib"])
        .args(["--package", "casetight", "--package", "casetight-bench"])
        .arg("--manifest-path")
        .arg(copy.join("Cargo.toml"))
        .arg("--target-dir")
        // Of its own: cargo takes the copy for the repository.
        .arg(root.join(COPIES).join("build"));
    runner.step(&step, test)
}

/// What a patch makes of the files that it names.
fn changes(root: &Path, patch: &Path) -> io::Result<Vec<Change>> {
    let text = fs::read_to_string(patch)?;
    let invalid = |what: String| io::Error::new(io::ErrorKind::InvalidData, what);
    let mut changes = Vec::new();
    for part in text.split("diff --git ").skip(1) {
        let start = part
            .find("--- ")
            .ok_or_else(|| invalid("a part without its files".into()))?;
        let part = part.get(start..).unwrap_or_default();
        let patch = diffy::Patch::from_str(part).map_err(|error| invalid(error.to_string()))?;
        let named = patch.modified().and_then(|name| name.strip_prefix("b/"));
        let path = PathBuf::from(named.ok_or_else(|| invalid("a part that names no file".into()))?);
        let before = match patch.original() {
            Some("/dev/null") => None,
            _ => Some(fs::read_to_string(root.join(&path))?),
        };
        let after = diffy::apply(before.as_deref().unwrap_or_default(), &patch)
            .map_err(|error| invalid(format!("{}: {error}", path.display())))?;
        changes.push(Change {
            path,
            before,
            after,
        });
    }
    Ok(changes)
}

fn copy_all(from: &Path, to: &Path) -> io::Result<()> {
    if !from.is_dir() {
        return fs::copy(from, to).map(drop);
    }
    fs::create_dir_all(to)?;
    for entry in fs::read_dir(from)? {
        let entry = entry?;
        copy_all(&entry.path(), &to.join(entry.file_name()))?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn root() -> PathBuf {
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
    }

    fn changed(name: &str) -> Vec<Change> {
        let patch = root().join(PATCHES).join(format!("{name}.patch"));
        changes(&root(), &patch).unwrap()
    }

    #[test]
    fn every_rehearsal_still_fits() {
        let names = names(&root()).unwrap();
        assert!(names.len() >= 2, "{names:?}");
        for name in names {
            assert!(!changed(&name).is_empty(), "{name}");
        }
    }

    /// A file, its `mod` and its line in the list with the line that says what it is.
    #[test]
    fn a_law_is_a_file_and_a_line() {
        let changes = changed("law");
        let [file, list] = changes.as_slice() else {
            panic!("{changes:?}");
        };
        assert!(file.before.is_none());
        assert_eq!(
            list.path,
            Path::new("crates/casetight/src/vessel/laws/mod.rs")
        );
        assert_eq!(list.added(), 3);
    }

    /// Its declaration, and its line in a sheet of the tests: they see that each key is read and written.
    #[test]
    fn a_key_is_a_declaration() {
        let changes = changed("key");
        let [declared, tried] = changes.as_slice() else {
            panic!("{changes:?}");
        };
        let sheet = Path::new("crates/casetight-bench/src/sheet");
        assert_eq!(declared.path, sheet.join("planned.rs"));
        assert_eq!(tried.path, sheet.join("tests/mod.rs"));
        assert_eq!((declared.added(), tried.added()), (2, 1));
    }

    #[test]
    fn a_gas_is_an_entry() {
        let changes = changed("gas");
        let [list] = changes.as_slice() else {
            panic!("{changes:?}");
        };
        assert_eq!(list.path, Path::new("crates/casetight/src/gas/mod.rs"));
        assert_eq!(list.added(), 5);
    }
}
