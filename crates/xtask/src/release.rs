//! All that a release has, built, installed where nothing else is, and tried on the demo data. Nothing is published.

use std::path::Path;
use std::process::Command;

use crate::book;
use crate::cargo;
use crate::package::{self, Unpacked};
use crate::python;
use crate::runner::{Failure, Reason, Runner};
use crate::tool::MDBOOK;

const FOLDER: &str = "target/release-tried";
const DEMO: &str = "docs/demo/mist-blower-14.toml";
const BINDINGS: &str = "bindings/python";
/// Ends well where each archive that is named behind the license carries that license.
const LICENSED: &str = "\
import sys, tarfile, zipfile
license = open(sys.argv[1], 'rb').read()
for path in sys.argv[2:]:
    if path.endswith('.whl'):
        with zipfile.ZipFile(path) as archive:
            texts = [archive.read(name) for name in archive.namelist() if name.endswith('LICENSE')]
    else:
        with tarfile.open(path) as archive:
            texts = [archive.extractfile(name).read() for name in archive.getnames() if name.endswith('LICENSE')]
    print(path, len(texts))
    if not texts or any(text != license for text in texts):
        sys.exit(f'{path} does not carry the license')
";
/// The first command of README.md, from Python.
const TRIED: &str = "\
import sys
import casetight
verdict = casetight.Sheet.read(sys.argv[1]).assess().verdict
print(casetight.__file__, verdict)
if verdict != 'holds':
    sys.exit('the sound demo engine does not hold')
";

/// The dry run; there is no other.
pub(crate) fn release(runner: &mut Runner, dry_run: bool) -> Result<(), Failure> {
    if !dry_run {
        return Err(Failure::new(
            "release",
            Reason::Usage(
                "a release is made by hand, as DEVELOPERS.md says; `release --dry-run` tries what it is made of",
            ),
        ));
    }
    let folder = runner.root().join(FOLDER);
    package::empty(&folder)?;
    let unpacked = package::package(runner)?;
    program(runner, &folder, &unpacked)?;
    library(runner, &folder, &unpacked)?;
    python_package(runner, &folder)?;
    if MDBOOK.is_on_path() {
        book::build(runner)
    } else {
        eprintln!(
            "\n== the book is left out: {} is not installed; `{}` installs it",
            MDBOOK.name, MDBOOK.install
        );
        Ok(())
    }
}

/// The program, installed from its unpacked crate.
fn program(runner: &mut Runner, folder: &Path, unpacked: &Unpacked) -> Result<(), Failure> {
    let mut install = Command::new(cargo::program());
    install
        .args(["install", "--locked", "--path"])
        .arg(unpacked.of("casetight-cli"))
        .arg("--root")
        .arg(folder)
        .arg("--target-dir")
        .arg(&unpacked.target);
    runner.step("program installed", install)?;
    let name = format!("casetight{}", std::env::consts::EXE_SUFFIX);
    let mut assess = Command::new(folder.join("bin").join(name));
    assess.args(["assess", DEMO]);
    runner.step("program tried", assess)
}

/// The library, as README.md has it used: its example in a project of its own.
fn library(runner: &mut Runner, folder: &Path, unpacked: &Unpacked) -> Result<(), Failure> {
    let step = "library tried";
    let readme = cargo::read(step, &runner.root().join("README.md"))?;
    let example = example(&readme)
        .ok_or_else(|| Failure::new(step, Reason::Said("README.md has no example".into())))?;
    let project = folder.join("library");
    package::empty(&project.join("src"))?;
    let manifest = format!(
        "[package]\nname = \"tried\"\nedition = \"2024\"\n\n[dependencies]\ncasetight-bench = {{ path = '{}' }}\n\n[workspace]\n",
        unpacked.of("casetight-bench").display()
    );
    package::write(&project.join("Cargo.toml"), &manifest)?;
    package::write(&project.join("src/main.rs"), example)?;
    let mut run = Command::new(cargo::program());
    run.args(["run", "--manifest-path"])
        .arg(project.join("Cargo.toml"))
        .arg("--target-dir")
        .arg(&unpacked.target);
    runner.step(step, run)
}

/// The first program in Rust on a page.
fn example(page: &str) -> Option<&str> {
    let (_, rest) = page.split_once("```rust")?;
    let (_, code) = rest.split_once('\n')?;
    let (code, _) = code.split_once("```")?;
    code.contains("fn main").then_some(code)
}

/// Wheel and source distribution, each in an environment of its own.
fn python_package(runner: &mut Runner, folder: &Path) -> Result<(), Failure> {
    let (project, dist) = (runner.root().join(BINDINGS), folder.join("dist"));
    let text = cargo::read("maturin", &project.join("pyproject.toml"))?;
    let maker = python::fresh(runner, &folder.join("maturin"), &requirement(&text))?;
    for (step, what) in [
        ("wheel", &["build", "--release"][..]),
        ("source distribution", &["sdist"]),
    ] {
        let mut make = Command::new(&maker);
        make.args(["-m", "maturin"])
            .args(what)
            .arg("--out")
            .arg(&dist);
        make.arg("--manifest-path").arg(project.join("Cargo.toml"));
        runner.step(step, make)?;
    }
    let made = package::listed(&dist)?;
    let mut licensed = Command::new(&maker);
    let script = folder.join("licensed.py");
    package::write(&script, LICENSED)?;
    licensed.arg(script).arg(runner.root().join("LICENSE"));
    licensed.args(&made);
    runner.step("license in both", licensed)?;
    let script = folder.join("tried.py");
    package::write(&script, TRIED)?;
    for path in made {
        let is_wheel = path.extension().is_some_and(|end| end == "whl");
        let name = if is_wheel { "wheel" } else { "sdist" };
        let wanted = path.to_string_lossy().into_owned();
        let interpreter = python::fresh(runner, &folder.join(name), &wanted)?;
        let mut tried = Command::new(interpreter);
        // -I: not what lies in the folder that it runs in.
        tried.arg("-I").arg(&script).arg(DEMO);
        runner.step(&format!("{name} tried"), tried)?;
    }
    Ok(())
}

/// What the package's own project file requires to build it.
fn requirement(project: &str) -> String {
    project
        .lines()
        .find(|line| line.starts_with("requires = "))
        .and_then(|line| line.split('"').nth(1))
        .unwrap_or("maturin")
        .to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(path: &str) -> String {
        let path = crate::repository_root().join(path);
        std::fs::read_to_string(path).unwrap()
    }

    #[test]
    fn the_readme_has_a_program_to_try() {
        let readme = read("README.md");
        let code = example(&readme).unwrap();
        assert!(
            code.contains(DEMO) && code.starts_with("use casetight"),
            "{code}"
        );
        assert_eq!(example("```rust\nlet x = 1;\n```"), None);
    }

    #[test]
    fn the_maker_of_wheels_is_that_of_the_project() {
        let requirement = requirement(&read("bindings/python/pyproject.toml"));
        assert!(requirement.starts_with("maturin>="), "{requirement}");
    }
}
