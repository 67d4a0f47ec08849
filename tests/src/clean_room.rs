//! Recordings of others whose leak is known without the library, each assessed as a user would: from a sheet that states what their
//! source states.
//!
//! A folder of `tests/data/open` with a `truth.toml` names its sheets and what is known of each; nothing here knows a recording by its
//! name, so that one more is a folder more. No default of the library was set by any of them.
#![allow(
    clippy::indexing_slicing,
    reason = "a table that lacks a key fails the test"
)]

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use casetight::limit::Verdict;
use casetight_bench::assess::Outcome;
use casetight_bench::session::{Session, SessionRun};
use casetight_bench::sheet::Sheet;

use crate::worlds::{LIMITS_OVER_TRUTH, warnings};

/// The folder of the recordings that are kept.
#[must_use]
pub fn kept() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data/open")
}

/// A sheet, the files it reads, and what is known of the leak.
#[derive(Debug, Clone, PartialEq)]
pub struct Recording {
    /// Folder and sheet.
    pub name: String,
    /// What was recorded.
    pub what: String,
    /// True effective area \[m2\] and its standard uncertainty.
    pub area_m2: (f64, f64),
    /// The license that stands beside it, by its first line.
    pub license: String,
    sheet: String,
    traces: BTreeMap<String, Vec<u8>>,
}

/// What was said of a recording.
#[derive(Debug, Clone, PartialEq)]
pub struct Said {
    /// Effective area \[m2\] and the ends of its 95 % interval.
    pub area_m2: [f64; 3],
    /// The kind of leak, where it was told.
    pub law: Option<String>,
    /// What speaks against reading it as one leak, by the names of [`warnings`].
    pub warnings: Vec<&'static str>,
    /// The verdicts by limits of [`LIMITS_OVER_TRUTH`] times the true area.
    pub verdicts: [Verdict; 2],
}

impl Recording {
    /// The recording cut into pieces of so many readings, what is left over at its end dropped.
    ///
    /// # Panics
    /// If the sheet names no table.
    #[must_use]
    pub fn pieces(&self, readings: usize) -> Vec<Self> {
        let sheet: toml::Table = self.sheet.parse().unwrap();
        let file = sheet["run"][0]["file"].as_str().unwrap();
        let table = std::str::from_utf8(&self.traces[file]).unwrap();
        let (head, rows) = table.split_once('\n').unwrap();
        let rows: Vec<&str> = rows.lines().collect();
        let piece = |rows: &[&str]| {
            let mut piece = self.clone();
            let table = format!("{head}\n{}\n", rows.join("\n"));
            piece.traces.insert(file.to_owned(), table.into_bytes());
            piece
        };
        rows.chunks_exact(readings).map(piece).collect()
    }
}

impl Said {
    /// Whether the interval meets the truth within two of the truth's own standard uncertainties.
    #[must_use]
    pub fn covers(&self, recording: &Recording) -> bool {
        let [_, low, high] = self.area_m2;
        let (area, uncertainty) = recording.area_m2;
        low <= area + 2.0 * uncertainty && high >= area - 2.0 * uncertainty
    }

    /// Whether a verdict is confident and false.
    #[must_use]
    pub fn is_wrong(&self) -> bool {
        self.verdicts[0] == Verdict::Holds || self.verdicts[1] == Verdict::Leaks
    }
}

/// All recordings below a folder, by name.
///
/// # Panics
/// If a folder with a `truth.toml` lacks what it names.
#[must_use]
pub fn recordings(below: &Path) -> Vec<Recording> {
    let entries = fs::read_dir(below).unwrap_or_else(|e| panic!("{}: {e}", below.display()));
    let mut folders: Vec<PathBuf> = entries
        .map(|entry| entry.unwrap().path())
        .filter(|folder| folder.join("truth.toml").is_file())
        .collect();
    folders.sort();
    folders
        .iter()
        .flat_map(|folder| of_folder(folder))
        .collect()
}

fn of_folder(folder: &Path) -> Vec<Recording> {
    let read = |file: &str| {
        let path = folder.join(file);
        fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
    };
    let truth: toml::Table = read("truth.toml").parse().unwrap();
    let license = read("LICENSE").lines().next().unwrap().trim().to_owned();
    let short = folder.file_name().unwrap().to_string_lossy().into_owned();
    let one = |entry: &toml::Value| {
        let text = |key: &str| entry[key].as_str().unwrap().to_owned();
        let square_meters = |key: &str| 1e-6 * entry[key].as_float().unwrap();
        let sheet = text("sheet");
        Recording {
            name: format!("{short}/{}", sheet.trim_end_matches(".toml")),
            what: text("what"),
            area_m2: (square_meters("area_mm2"), square_meters("uncertainty_mm2")),
            license: license.clone(),
            sheet: read(&sheet),
            traces: traces(folder),
        }
    };
    truth["recording"]
        .as_array()
        .unwrap()
        .iter()
        .map(one)
        .collect()
}

/// The tables of a folder by their names.
fn traces(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let tables = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path());
    tables
        .filter(|path| path.extension().is_some_and(|kind| kind == "csv"))
        .map(|path| {
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            (name, fs::read(&path).unwrap())
        })
        .collect()
}

/// Assesses a recording by limits of [`LIMITS_OVER_TRUTH`] times the true area.
///
/// # Panics
/// If the sheet is refused, or has no run that is fitted.
#[must_use]
pub fn assess(recording: &Recording) -> Said {
    let by = |factor: f64| {
        let limit_mm2 = factor * recording.area_m2.0 * 1e6;
        let text = format!(
            "{}\n[limit]\nmax_area = \"{limit_mm2:e} mm2\"\n",
            recording.sheet
        );
        let sheet = Sheet::parse(&text, "sheet.toml", &recording.traces)
            .unwrap_or_else(|e| panic!("{}: {e}", recording.name));
        let session = Session::assess(&sheet).unwrap_or_else(|e| panic!("{}: {e}", recording.name));
        session.runs.into_iter().next().unwrap()
    };
    let [strict, lax] = [by(LIMITS_OVER_TRUTH.0), by(LIMITS_OVER_TRUTH.1)];
    let Outcome::Fitted(fitted) = &strict.assessment.outcome else {
        panic!("{}: not fitted", recording.name)
    };
    let area = fitted.fit.area.si();
    let verdict = |run: &SessionRun| run.assessment.verdict.unwrap();
    Said {
        area_m2: [area.value, area.low, area.high],
        law: fitted.fit.law.map(|law| law.name().to_owned()),
        warnings: warnings(&strict),
        verdicts: [verdict(&strict), verdict(&lax)],
    }
}

/// Head of the table that the study prints.
pub const HEAD: &str = "| recording | what | true area | answer | 95 % interval | law | said against it | limit at 0.8 | at 1.25 | license |\n\
                        |---|---|---:|---:|---:|---|---|---|---|---|";

/// A row of that table.
#[must_use]
pub fn row(recording: &Recording, said: &Said) -> String {
    let (area, uncertainty) = recording.area_m2;
    // Square micrometers where square millimeters would be all zeros.
    let (unit, scale) = if area < 1e-12 {
        ("um2", 1e12)
    } else {
        ("mm2", 1e6)
    };
    let shown = |area: f64| significant(area * scale);
    let [value, low, high] = said.area_m2;
    let warnings = said.warnings.join(", ");
    format!(
        "| `{}` | {} | {} ± {} {unit} | {} | {} to {} | {} | {} | {} | {} | {} |",
        recording.name,
        recording.what,
        shown(area),
        shown(uncertainty),
        shown(value),
        shown(low),
        shown(high),
        said.law.as_deref().unwrap_or("not told"),
        if warnings.is_empty() {
            "nothing"
        } else {
            &warnings
        },
        said.verdicts[0],
        said.verdicts[1],
        recording.license,
    )
}

/// Three significant digits, in powers of ten where it is small.
fn significant(value: f64) -> String {
    if value != 0.0 && value.abs() < 1e-3 {
        return format!("{value:.1e}");
    }
    let digits = if value.abs() >= 10.0 { 1 } else { 2 };
    let digits = if value.abs() < 0.1 { 4 } else { digits };
    format!("{value:.digits$}")
}
