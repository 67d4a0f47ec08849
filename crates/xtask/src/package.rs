//! The crates as they would be published: packed, unpacked in a folder where nothing else is, and tested there.

use std::ffi::OsStr;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::process::Command;

use crate::cargo;
use crate::runner::{Failure, Reason, Runner};

/// The libraries that others may build on.
pub(crate) const LIBRARIES: [&str; 4] = [
    "casetight",
    "casetight-bench",
    "casetight-files",
    "casetight-report",
];
/// All that would be published, each after those that it needs.
const CRATES: [&str; 5] = [
    "casetight",
    "casetight-bench",
    "casetight-files",
    "casetight-report",
    "casetight-cli",
];
const FOLDER: &str = "target/packages";
const LICENSE: &str = "LICENSE";
/// Tests that read data of the repository, which no crate carries.
const NEED_DATA: &str = "numerics::nist_strd";

/// The unpacked crates.
#[derive(Debug)]
pub(crate) struct Unpacked {
    /// A workspace of them alone, in which they find each other.
    pub(crate) folder: PathBuf,
    pub(crate) target: PathBuf,
    crates: Vec<PathBuf>,
}

impl Unpacked {
    /// The folder of one of them.
    pub(crate) fn of(&self, name: &str) -> PathBuf {
        let is_it = |path: &&PathBuf| crate_of(path) == Some(name);
        self.crates.iter().find(is_it).cloned().unwrap_or_default()
    }
}

/// Packs, unpacks and tests.
pub(crate) fn package(runner: &mut Runner) -> Result<Unpacked, Failure> {
    let target = runner.root().join(FOLDER);
    let packed = target.join("package");
    empty(&packed)?;
    let mut pack = Command::new(cargo::program());
    // As long as they are not to be published, cargo finds none of them for the others' lock files; nor does it build them.
    pack.args([
        "package",
        "--no-verify",
        "--exclude-lockfile",
        "--allow-dirty",
    ])
    .args(["--target-dir", FOLDER]);
    for name in CRATES {
        pack.args(["--package", name]);
    }
    runner.step("crates", pack)?;

    let folder = target.join("unpacked");
    empty(&folder)?;
    for archive in listed(&packed)?
        .into_iter()
        .filter(|path| path.extension() == Some(OsStr::new("crate")))
    {
        let mut unpack = Command::new("tar");
        unpack.arg("-xzf").arg(&archive).arg("-C").arg(&folder);
        let name = archive.file_stem().unwrap_or_default().to_string_lossy();
        runner.step(&format!("{name} unpacked"), unpack)?;
    }
    let unpacked = Unpacked {
        crates: listed(&folder)?,
        folder,
        target: target.join("build"),
    };
    let license = cargo::read("license", &runner.root().join(LICENSE))?;
    for name in CRATES {
        let path = unpacked.of(name).join(LICENSE);
        if cargo::read("license", &path)? != license {
            return Err(other_license(&path));
        }
    }
    let manifest = workspace(&unpacked.crates);
    write(&unpacked.folder.join("Cargo.toml"), &manifest)?;
    // The crates that they need, as the repository has them.
    let lock = cargo::read("unpacked crates", &runner.root().join("Cargo.lock"))?;
    write(&unpacked.folder.join("Cargo.lock"), &lock)?;

    let mut test = Command::new(cargo::program());
    // Optimized: the numerical tests wait for it, and what is installed is built so anyway.
    test.args(["test", "--release", "--workspace", "--all-features"])
        .args(["--lib", "--bins"])
        .arg("--manifest-path")
        .arg(unpacked.folder.join("Cargo.toml"))
        .arg("--target-dir")
        .arg(&unpacked.target)
        .args(["--", "--skip", NEED_DATA]);
    runner.step("tests of the unpacked crates", test)?;
    Ok(unpacked)
}

pub(crate) fn other_license(path: &Path) -> Failure {
    let error = io::Error::other("it is not the repository's license");
    let path = path.to_owned();
    Failure::new("license", Reason::File { path, error })
}

/// The name of the crate that a folder `NAME-VERSION` holds.
fn crate_of(folder: &Path) -> Option<&str> {
    let (name, _) = folder.file_name()?.to_str()?.rsplit_once('-')?;
    Some(name)
}

/// A workspace of these folders, in which they stand for what the registry does not have.
fn workspace(crates: &[PathBuf]) -> String {
    let named: Vec<(&str, String)> = crates
        .iter()
        .filter_map(|path| {
            let folder = path.file_name()?.to_string_lossy().into_owned();
            Some((crate_of(path)?, folder))
        })
        .collect();
    let members: Vec<String> = named.iter().map(|(_, at)| format!("{at:?}")).collect();
    let patches: Vec<String> = named
        .iter()
        .map(|(name, at)| format!("{name} = {{ path = {at:?} }}\n"))
        .collect();
    format!(
        "[workspace]\nresolver = \"3\"\nmembers = [{}]\n\n[patch.crates-io]\n{}",
        members.join(", "),
        patches.concat()
    )
}

/// Makes a folder anew.
pub(crate) fn empty(folder: &Path) -> Result<(), Failure> {
    let failed = |error| {
        let path = folder.to_owned();
        Failure::new("empty folder", Reason::File { path, error })
    };
    if folder.exists() {
        fs::remove_dir_all(folder).map_err(failed)?;
    }
    fs::create_dir_all(folder).map_err(failed)
}

/// What lies in a folder, sorted.
pub(crate) fn listed(folder: &Path) -> Result<Vec<PathBuf>, Failure> {
    let read = || -> io::Result<Vec<PathBuf>> {
        let entries = fs::read_dir(folder)?;
        entries.map(|entry| Ok(entry?.path())).collect()
    };
    let mut paths = read().map_err(|error| {
        let path = folder.to_owned();
        Failure::new("list of files", Reason::File { path, error })
    })?;
    paths.sort_unstable();
    Ok(paths)
}

pub(crate) fn write(path: &Path, text: &str) -> Result<(), Failure> {
    cargo::write("file for a try", path, text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn folders_are_those_of_their_crates() {
        let of = |folder| crate_of(Path::new(folder));
        assert_eq!(of("x/casetight-0.1.0"), Some("casetight"));
        assert_eq!(of("x/casetight-cli-0.1.0"), Some("casetight-cli"));
    }

    #[test]
    fn the_unpacked_crates_find_each_other() {
        let folders = ["/t/a-0.1.0", "/t/a-b-0.1.0"].map(PathBuf::from);
        assert_eq!(
            workspace(&folders),
            "[workspace]\nresolver = \"3\"\nmembers = [\"a-0.1.0\", \"a-b-0.1.0\"]\n\n\
             [patch.crates-io]\na = { path = \"a-0.1.0\" }\na-b = { path = \"a-b-0.1.0\" }\n"
        );
    }

    /// A crate carries what lies in its own folder only.
    #[test]
    fn each_crate_and_the_python_package_have_the_license() {
        let root = crate::repository_root();
        let license = fs::read(root.join(LICENSE)).unwrap();
        let folders = CRATES.map(|name| root.join("crates").join(name));
        for folder in folders.iter().chain([&root.join("bindings/python")]) {
            let copy = fs::read(folder.join(LICENSE)).unwrap_or_default();
            assert!(copy == license, "{}", folder.display());
        }
    }
}
