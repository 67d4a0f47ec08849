//! Mutants of one module of the core: does each small break of its code fail a test?
//!
//! The module's own crate goes first, by its unit tests alone: most mutants die there, in a third of the time. What is left is tried by all
//! tests that `.cargo/mutants.toml` names; survivors that are known stand with their reasons in `.cargo/mutants.accepted`.

use std::collections::BTreeMap;
use std::ffi::OsString;
use std::fs;
use std::path::Path;
use std::process::Command;

use crate::cargo;
use crate::runner::{Failure, Reason, Runner};
use crate::tool::Tool;

const TOOL: Tool = Tool {
    name: "cargo-mutants",
    install: "cargo install cargo-mutants",
};
const CONFIG: &str = ".cargo/mutants.toml";
const ACCEPTED: &str = ".cargo/mutants.accepted";
/// The library's crates, and their sources.
const CRATES: [(&str, &str); 2] = [
    ("casetight", "crates/casetight/src"),
    ("casetight-bench", "crates/casetight-bench/src"),
];
/// Where cargo-mutants writes, and builds: what the core needs is compiled once for all runs.
const OUTPUT: &str = "target/mutants";
/// The least share of mutants that tests must kill, of a hundred.
const LEAST: usize = 90;

/// The modules that have mutants, by name.
pub(crate) fn modules(runner: &Runner) -> Result<Vec<String>, Failure> {
    let mut names: Vec<String> = crates_of_modules(runner)?.into_keys().collect();
    names.sort_unstable();
    Ok(names)
}

/// Each module with the place of its crate in [`CRATES`].
fn crates_of_modules(runner: &Runner) -> Result<BTreeMap<String, usize>, Failure> {
    let mut modules = BTreeMap::new();
    for (place, (_, sources)) in CRATES.iter().enumerate() {
        let folder = runner.root().join(sources);
        let failed = |error| {
            let path = folder.clone();
            Failure::new("list of modules", Reason::File { path, error })
        };
        for entry in fs::read_dir(&folder).map_err(failed)? {
            let path = entry.map_err(failed)?.path();
            if let Some(name) = path.file_stem().filter(|name| *name != "lib") {
                modules.insert(name.to_string_lossy().into_owned(), place);
            }
        }
    }
    Ok(modules)
}

/// Tries the mutants of a module, with what else was typed for cargo-mutants.
pub(crate) fn mutants(
    runner: &mut Runner,
    module: &str,
    arguments: &[OsString],
) -> Result<(), Failure> {
    let step = format!("mutants of {module}");
    let of_modules = crates_of_modules(runner)?;
    let its_crate = of_modules.get(module).and_then(|place| CRATES.get(*place));
    let Some((package, sources)) = its_crate else {
        let known = of_modules.into_keys().collect();
        return Err(Failure::new(
            &step,
            Reason::unknown("module", module, known),
        ));
    };
    let root = runner.root().to_owned();
    let accepted = survivors(&cargo::read(&step, &root.join(ACCEPTED))?);
    let config = cargo::read(&step, &root.join(CONFIG))?;
    let build = root.join(OUTPUT).join("build");

    // Mutants that die because the tests are broken tell nothing. cargo-mutants would try one package only. Built where no mutant is:
    // cargo takes a copy of the repository for the repository, and would run the last mutant that was built.
    let mut unbroken = Command::new(cargo::program());
    unbroken
        .args(["test", "--profile", "mutants", "--all-features"])
        .args(["--package", package, "--package", "casetight-tests"])
        .args(tests(&config));
    runner.step("tests of unbroken code", unbroken)?;

    let units = root.join(OUTPUT).join("units.toml");
    cargo::write(&step, &units, &by_units(&config, package))?;
    let mut tried = |by: &str, words: Vec<OsString>| {
        let mut command = TOOL.of_cargo(&step)?;
        command
            .args(of(package, sources, module))
            .args(words)
            .env("CARGO_TARGET_DIR", &build)
            // A property that fails by chance, and is kept, would seem to kill all that come after it.
            .env("PROPTEST_RNG_SEED", "1")
            .env("PROPTEST_DISABLE_FAILURE_PERSISTENCE", "true");
        // 2 and 3: some survived, or ran out of time. That is judged here.
        runner.step_that_may_end_with(&format!("{step}, by {by}"), command, &[2, 3])?;
        Found::read(&step, &root.join(OUTPUT).join("mutants.out"))
    };
    let mut by_units = vec!["--config".into(), units.into_os_string()];
    by_units.extend_from_slice(arguments);
    let mut found = tried("its unit tests", by_units)?;
    if !found.survived.is_empty() {
        let patterns = found.survived.iter().map(|line| pattern(line));
        let named = patterns.flat_map(|pattern| ["--re".into(), pattern.into()]);
        found = tried("all tests", named.collect()).map(|again| found.then(&again))?;
    }
    let judged = found.judged(&accepted);
    println!("{judged}");
    if judged.is_good() {
        Ok(())
    } else {
        Err(Failure::new(&step, Reason::Said(judged.complaint())))
    }
}

/// What cargo-mutants is told in both runs.
fn of(package: &str, sources: &str, module: &str) -> Vec<String> {
    let (file, folder) = (
        format!("{sources}/{module}.rs"),
        format!("{sources}/{module}/**"),
    );
    let words = [
        "--baseline",
        "skip",
        "--timeout",
        "120",
        "--build-timeout",
        "600",
        "--package",
        package,
        "--file",
        &file,
        "--file",
        &folder,
        "--output",
        OUTPUT,
    ];
    words.map(str::to_owned).to_vec()
}

/// The configuration with the unit tests of one crate for its tests.
fn by_units(config: &str, package: &str) -> String {
    let tests = tests_at(config).unwrap_or(config.len()..config.len());
    let without = [
        config.get(..tests.start).unwrap_or_default(),
        config.get(tests.end..).unwrap_or_default(),
    ];
    let kept = without.concat();
    let lines = kept
        .lines()
        .filter(|line| !line.starts_with("test_package"));
    let kept: Vec<&str> = lines.collect();
    format!(
        "{}\ntest_package = [\"{package}\"]\nadditional_cargo_test_args = [\"--lib\"]\n",
        kept.join("\n")
    )
}

/// Where the configuration names the tests.
fn tests_at(config: &str) -> Option<std::ops::Range<usize>> {
    let start = config.find("additional_cargo_test_args")?;
    let end = start + config.get(start..)?.find("\n]")? + "\n]".len();
    Some(start..end)
}

/// What matches the name of one mutant alone.
fn pattern(line: &str) -> String {
    let plain = |c: char| c.is_alphanumeric() || c.is_whitespace() || "_/:,'\"<>=&-".contains(c);
    let escaped = line
        .chars()
        .flat_map(|c| [(!plain(c)).then_some('\\'), Some(c)]);
    format!("^{}$", escaped.flatten().collect::<String>())
}

/// The tests that the configuration names, as cargo takes them: the words of `additional_cargo_test_args`.
fn tests(config: &str) -> Vec<String> {
    config
        .split_once("additional_cargo_test_args")
        .and_then(|(_, rest)| rest.split_once('['))
        .and_then(|(_, rest)| rest.split_once(']'))
        .map(|(list, _)| list.split('"').skip(1).step_by(2))
        .into_iter()
        .flatten()
        .map(str::to_owned)
        .collect()
}

/// What became of the mutants, each by its name without line and column.
#[derive(Debug, Default)]
struct Found {
    killed: Vec<String>,
    survived: Vec<String>,
}

/// What that means.
#[derive(Debug, PartialEq, Eq)]
struct Judged {
    killed: usize,
    tried: usize,
    /// Survivors that are not accepted, as cargo-mutants names them.
    new: Vec<String>,
    /// Accepted ones that tests kill by now.
    dead: Vec<String>,
}

impl Found {
    fn read(step: &str, folder: &Path) -> Result<Self, Failure> {
        let lines = |file: &str| -> Result<Vec<String>, Failure> {
            let text = cargo::read(step, &folder.join(file))?;
            Ok(text.lines().map(str::to_owned).collect())
        };
        // One that ran out of time was noticed.
        Ok(Self {
            killed: [lines("caught.txt")?, lines("timeout.txt")?].concat(),
            survived: lines("missed.txt")?,
        })
    }

    /// What is left where survivors were tried again by more tests.
    fn then(self, again: &Self) -> Self {
        let (survived, died): (Vec<_>, Vec<_>) = self
            .survived
            .into_iter()
            .partition(|line| !again.killed.contains(line));
        Self {
            killed: [self.killed, died].concat(),
            survived,
        }
    }

    fn judged(&self, accepted: &BTreeMap<String, usize>) -> Judged {
        let mut left = accepted.clone();
        let mut new = Vec::new();
        for line in &self.survived {
            match left.get_mut(&name(line)) {
                Some(count) if *count > 0 => *count -= 1,
                _ => new.push(line.clone()),
            }
        }
        // As often as it was killed: of several of one name, others may survive.
        let mut dead = Vec::new();
        for name in self.killed.iter().map(|line| name(line)) {
            let survives = self.survived.iter().any(|line| self::name(line) == name);
            if !survives && left.contains_key(&name) && !dead.contains(&name) {
                dead.push(name);
            }
        }
        Judged {
            killed: self.killed.len(),
            tried: self.killed.len() + self.survived.len(),
            new,
            dead,
        }
    }
}

impl Judged {
    fn is_good(&self) -> bool {
        self.new.is_empty() && self.is_enough()
    }

    fn is_enough(&self) -> bool {
        100 * self.killed >= LEAST * self.tried
    }

    fn complaint(&self) -> String {
        let mut said = Vec::new();
        if !self.is_enough() {
            said.push(format!(
                "fewer than {LEAST} of a hundred mutants are killed"
            ));
        }
        if !self.new.is_empty() {
            said.push(format!(
                "{} survived that {ACCEPTED} does not list; write a test that kills them, or list them with the reason",
                self.new.len()
            ));
        }
        said.join("; ")
    }
}

impl std::fmt::Display for Judged {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let share = 100.0 * self.killed as f64 / self.tried.max(1) as f64;
        write!(
            f,
            "{} of {} mutants killed, {share:.1} %",
            self.killed, self.tried
        )?;
        for line in &self.new {
            write!(f, "\nnew survivor: {line}")?;
        }
        for line in &self.dead {
            write!(f, "\nno longer a survivor, take it off {ACCEPTED}: {line}")?;
        }
        Ok(())
    }
}

/// A mutant's name without line and column, which other changes move.
fn name(line: &str) -> String {
    let mut parts = line.splitn(4, ':');
    let (file, what) = (parts.next().unwrap_or_default(), parts.nth(2));
    what.map_or_else(
        || line.trim().to_owned(),
        |what| format!("{file}: {}", what.trim()),
    )
}

/// The names of accepted survivors, and how many there are of each. In the file each stands on a line of its own below the line with
/// its reason, which begins with `#`.
fn survivors(text: &str) -> BTreeMap<String, usize> {
    let mut found = BTreeMap::new();
    for line in text.lines().map(str::trim) {
        if !line.is_empty() && !line.starts_with('#') {
            *found.entry(line.to_owned()).or_default() += 1;
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(killed: &[&str], survived: &[&str]) -> Found {
        let lines = |of: &[&str]| of.iter().map(ToString::to_string).collect();
        Found {
            killed: lines(killed),
            survived: lines(survived),
        }
    }

    #[test]
    fn names_lose_their_place_only() {
        assert_eq!(
            name("crates/casetight/src/limit.rs:252:9: replace a::b -> bool with true"),
            "crates/casetight/src/limit.rs: replace a::b -> bool with true"
        );
    }

    #[test]
    fn a_survivor_is_new_unless_it_is_accepted_as_often() {
        let accepted = survivors("# It cancels.\na.rs: replace * with + in f\n\n");
        let killed = vec!["a.rs:1:1: x"; 18];
        let one = found(&killed, &["a.rs:2:2: replace * with + in f"]);
        let judged = one.judged(&accepted);
        assert!(judged.is_good(), "{judged}");
        let two = found(
            &killed,
            &[
                "a.rs:2:2: replace * with + in f",
                "a.rs:3:3: replace * with + in f",
            ],
        );
        let judged = two.judged(&accepted);
        assert_eq!(judged.new, ["a.rs:3:3: replace * with + in f"]);
        assert!(judged.is_enough() && !judged.is_good());
        assert!(
            judged
                .to_string()
                .starts_with("18 of 20 mutants killed, 90.0 %")
        );
        assert!(judged.complaint().contains("1 survived"));
    }

    #[test]
    fn survivors_of_the_unit_tests_may_die_by_the_others() {
        let first = found(&["a.rs:1:1: x"], &["a.rs:2:2: y", "a.rs:3:3: z"]);
        let both = first.then(&found(&["a.rs:3:3: z", "b.rs:1:1: else"], &["a.rs:2:2: y"]));
        assert_eq!(both.killed, ["a.rs:1:1: x", "a.rs:3:3: z"]);
        assert_eq!(both.survived, ["a.rs:2:2: y"]);
    }

    #[test]
    fn a_pattern_takes_its_signs_for_themselves() {
        assert_eq!(
            pattern("a.rs:1:1: replace + with * in <impl A for B>::f -> Option<(f64, f64)>"),
            r"^a\.rs:1:1: replace \+ with \* in <impl A for B>::f -> Option<\(f64, f64\)>$"
        );
    }

    #[test]
    fn the_first_run_has_the_unit_tests_of_its_crate_alone() {
        let root = crate::repository_root();
        let config = fs::read_to_string(root.join(CONFIG)).unwrap();
        let units = by_units(&config, "casetight");
        assert_eq!(tests(&units), ["--lib"]);
        assert!(units.contains("\ntest_package = [\"casetight\"]\n"));
        assert_eq!(units.matches("test_package").count(), 1);
        for kept in ["profile = ", "exclude_re", "skip_calls"] {
            assert!(units.contains(kept), "{units}");
        }
    }

    #[test]
    fn too_few_killed_is_too_few_though_all_are_accepted() {
        let accepted = survivors("# So it is.\na.rs: y");
        let judged = found(&["a.rs:1:1: x"; 8], &["a.rs:2:2: y"]).judged(&accepted);
        assert!(judged.new.is_empty() && !judged.is_good());
        assert!(judged.complaint().contains("fewer than 90"));
    }

    #[test]
    fn an_accepted_one_that_is_dead_is_told() {
        let accepted = survivors("# So it is.\na.rs: y\n# And so.\na.rs: z");
        let judged = found(&["a.rs:1:1: y"], &[]).judged(&accepted);
        assert_eq!(judged.dead, ["a.rs: y"]);
        assert!(judged.is_good());
    }

    /// Each accepted survivor has its reason above it, and names a file that there is.
    #[test]
    fn accepted_survivors_have_reasons_and_files() {
        let root = crate::repository_root();
        let text = fs::read_to_string(root.join(ACCEPTED)).unwrap();
        let lines: Vec<&str> = text.lines().collect();
        for pair in lines.windows(2) {
            if let [before, line] = pair
                && !line.is_empty()
                && !line.starts_with('#')
            {
                assert!(before.starts_with("# "), "no reason above {line}");
                let (file, _) = line.split_once(": ").unwrap();
                assert!(root.join(file).is_file(), "{line}");
            }
        }
    }

    #[test]
    fn the_tests_are_those_of_the_configuration() {
        assert_eq!(
            tests(
                "x = [\"no\"]\nadditional_cargo_test_args = [\n  \"--lib\", # all\n  \"--test\", \"fit\",\n]\n"
            ),
            ["--lib", "--test", "fit"]
        );
        let config = fs::read_to_string(crate::repository_root().join(CONFIG)).unwrap();
        for pair in tests(&config).windows(2) {
            if let [flag, name] = pair
                && flag == "--test"
            {
                let forms = [format!("{name}.rs"), format!("{name}/main.rs")];
                let tests = crate::repository_root().join("tests/tests");
                let there = forms.iter().any(|form| tests.join(form).is_file());
                assert!(there, "{name}");
            }
        }
    }
}
