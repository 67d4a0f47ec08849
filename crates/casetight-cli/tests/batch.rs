//! `casetight batch` as its user runs it.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::float_cmp,
    clippy::cast_precision_loss
)]

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;

use casetight::vessel::DecayLaw;
use casetight_bench::assess::Outcome;
use casetight_bench::session::Session;
use casetight_bench::sheet::Sheet;
use serde_json::Value;

const SHEET: &str = "format = 1\ntitle = \"batch\"\n[volume]\nvalue = \"250 cm3\"\nuncertainty = \"3 cm3\"\n\
    [ambient]\npressure = \"101325 Pa\"\ntemperature = \"20 C\"\n[gauge]\nunit = \"kPa\"\nresolution = \"0.1 kPa\"\nnoise = \"0.06 kPa\"\n\
    [limit]\nmax_drop = \"1 psi\"\nfrom = \"7 psi\"\nover = \"60 s\"\n";

const HEADER: &str = "run,verdict,effective_area_m2,area_low_m2,area_high_m2,rate_per_s,rate_low_per_s,rate_high_per_s,\
    start_gauge_pa,law,residual_rms_pa,error,doubts";

struct Folder(tempfile::TempDir);

impl Folder {
    fn new() -> Self {
        let folder = Self(tempfile::tempdir().unwrap());
        folder.write("sheet.toml", SHEET);
        folder
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn write(&self, name: &str, text: impl AsRef<[u8]>) {
        std::fs::write(self.path(name), text).unwrap();
    }

    fn names(&self) -> Vec<String> {
        let mut names: Vec<String> = std::fs::read_dir(self.0.path())
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    fn batch(&self, more: &[&str]) -> (i32, String, String) {
        run(
            self.0.path(),
            &[
                &[
                    "batch",
                    "readings.csv",
                    "--sheet",
                    "sheet.toml",
                    "--out",
                    "results.csv",
                ],
                more,
            ]
            .concat(),
        )
    }

    /// Rows of the results, by column.
    fn results(&self) -> Vec<Vec<String>> {
        let text = std::fs::read_to_string(self.path("results.csv")).unwrap();
        let (header, _) = text.split_once('\n').unwrap();
        assert_eq!(header, HEADER);
        csv::Reader::from_reader(text.as_bytes())
            .records()
            .map(|row| row.unwrap().iter().map(str::to_owned).collect())
            .collect()
    }
}

fn run(folder: &Path, arguments: &[&str]) -> (i32, String, String) {
    let out = Command::new(env!("CARGO_BIN_EXE_casetight"))
        .args(arguments)
        .current_dir(folder)
        .output()
        .unwrap();
    (
        out.status.code().unwrap(),
        String::from_utf8(out.stdout).unwrap(),
        String::from_utf8(out.stderr).unwrap(),
    )
}

/// Lines of a run that falls by so many pascals a second, from 48 kPa, with a wave of 60 Pa for noise.
fn lines(name: &str, by: f64) -> String {
    let mut out = String::new();
    for i in 0..24 {
        let t = 2.5 * f64::from(i);
        let wave = 85.0 * (2.4 * f64::from(i) + by).sin();
        let shown = ((48_000.0 - by * t + wave) / 100.0).round() * 100.0;
        writeln!(out, "{name},{t},{shown}").unwrap();
    }
    out
}

fn file(runs: &[(&str, f64)]) -> String {
    let mut out = "run,time_s,gauge_pa\n".to_owned();
    for (name, by) in runs {
        out.push_str(&lines(name, *by));
    }
    out
}

#[test]
fn each_run_has_its_row_in_order_and_the_exit_code_is_of_all() {
    for (runs, code) in [
        (&[("a", 10.0), ("b", 30.0)][..], 0),
        (&[("a", 10.0), ("b", 400.0), ("c", 115.0)], 1),
        (&[("c", 115.0), ("a", 10.0)], 3),
    ] {
        let folder = Folder::new();
        folder.write("readings.csv", file(runs));
        let (got, out, err) = folder.batch(&[]);
        assert_eq!((got, err.as_str()), (code, ""), "{out}");
        let names: Vec<&str> = runs.iter().map(|(name, _)| *name).collect();
        let rows = folder.results();
        let got: Vec<&str> = rows.iter().map(|row| row[0].as_str()).collect();
        assert_eq!(got, names);
        assert!(out.starts_with(&format!("{} runs: ", runs.len())), "{out}");
    }
}

#[test]
fn numbers_are_those_of_assess_to_the_last_bit() {
    let falls = [0.0, 12.5, 60.0, 118.0, 240.0, 900.0];
    let folder = Folder::new();
    let names: Vec<String> = falls.iter().map(|by| format!("fall {by}")).collect();
    let runs: Vec<(&str, f64)> = names.iter().map(String::as_str).zip(falls).collect();
    folder.write("readings.csv", file(&runs));
    folder.batch(&[]);
    let mut sheet = SHEET.to_owned();
    let mut traces = BTreeMap::new();
    for (i, (name, by)) in runs.iter().enumerate() {
        let mut trace = "time_s,gauge_pa\n".to_owned();
        for line in lines(name, *by).lines() {
            trace.push_str(line.split_once(',').unwrap().1);
            trace.push('\n');
        }
        traces.insert(format!("{i}.csv"), trace.into_bytes());
        writeln!(sheet, "[[run]]\nname = \"{name}\"\nfile = \"{i}.csv\"").unwrap();
    }
    let session = Session::assess(&Sheet::parse(&sheet, "", &traces).unwrap()).unwrap();
    for (row, alone) in folder.results().iter().zip(session.runs) {
        let Outcome::Fitted(fitted) = &alone.assessment.outcome else {
            panic!("{row:?}")
        };
        let (area, rate) = (fitted.fit.area, fitted.fit.rate);
        assert_eq!(row[0], alone.name);
        assert_eq!(row[1], alone.assessment.verdict.unwrap().to_string());
        let law = fitted.fit.law.map_or("", DecayLaw::name);
        assert_eq!((row[9].as_str(), row[11].as_str()), (law, ""));
        for (column, wanted) in [
            (2, area.si().value),
            (3, area.si().low),
            (4, area.si().high),
            (5, rate.si().value),
            (6, rate.si().low),
            (7, rate.si().high),
            (8, fitted.fit.start.pascals()),
            (10, fitted.fit.residual_rms_pa),
        ] {
            let got: f64 = row[column].parse().unwrap();
            assert_eq!(got.to_bits(), wanted.to_bits(), "{row:?} {column}");
        }
    }
}

#[test]
fn what_is_wrong_with_a_run_is_its_own_error() {
    let folder = Folder::new();
    let mut text = file(&[("good", 10.0)]);
    text.push_str("one,0,48000\n");
    text.push_str("nan,0,48000\nnan,1,NaN\n");
    text.push_str("words,0,48000\nwords,1,low\n");
    text.push_str("short,0,48000\nshort,1\n");
    text.push_str("both,0,48000\nboth,30,-30000\n");
    text.push_str("back,5,48000\nback,3,47000\n");
    text.push_str("good,99,40000\n");
    text.push_str(&lines("last", 20.0));
    folder.write("readings.csv", text);
    let (code, out, _) = folder.batch(&["--json"]);
    assert_eq!(code, 3);
    let json: Value = serde_json::from_str(&out).unwrap();
    assert_eq!(
        (&json["runs"], &json["holds"], &json["errors"]),
        (&9.into(), &2.into(), &7.into())
    );
    let rows = folder.results();
    let errors: Vec<&str> = rows.iter().map(|row| row[11].as_str()).collect();
    for (error, wanted) in errors.iter().zip([
        "",
        "at least two",
        "`NaN` is not a finite number",
        "`low` is not a finite number",
        "2 of 3 fields",
        "two runs",
        "does not come after",
        "a run of this name stands further up",
        "",
    ]) {
        assert!(
            error.contains(wanted) && error.is_empty() == wanted.is_empty(),
            "{errors:?}"
        );
    }
    assert!(rows[1][1..11].iter().all(String::is_empty), "{:?}", rows[1]);
}

#[test]
fn a_file_that_cannot_be_read_leaves_no_results() {
    for (text, wanted) in [
        (&b""[..], "no data"),
        (b"run,time_s,gauge_pa\n", "no readings below"),
        (b"time_s,gauge_pa\n0,1\n", "no column run"),
        (
            b"run,time_s,gauge_ells\na,0,1\n",
            "not a unit of gauge pressure",
        ),
        (
            b"a,0,48000\na,1,47000\n",
            "where the columns' names should be",
        ),
        (b"run,time_s,gauge_pa\na,0,48000\na,1,\xff\n", "line 3"),
    ] {
        let folder = Folder::new();
        folder.write("readings.csv", text);
        folder.write("results.csv", "of an earlier run");
        let (code, out, err) = folder.batch(&[]);
        assert_eq!((code, out.as_str()), (2, ""), "{err}");
        assert!(
            err.contains("readings.csv") && err.contains(wanted),
            "{err}"
        );
        // What was there before is still there, and nothing beside it.
        assert_eq!(
            folder.names(),
            ["readings.csv", "results.csv", "sheet.toml"]
        );
        let kept = std::fs::read_to_string(folder.path("results.csv")).unwrap();
        assert_eq!(kept, "of an earlier run");
    }
}

#[test]
fn results_do_not_overwrite_what_they_come_from() {
    let folder = Folder::new();
    folder.write("readings.csv", file(&[("a", 10.0)]));
    let arguments = ["batch", "readings.csv", "--sheet", "sheet.toml", "--out"];
    for out in ["readings.csv", "./sheet.toml"] {
        let (code, _, err) = run(folder.0.path(), &[&arguments[..], &[out]].concat());
        assert_eq!(code, 2);
        assert!(err.contains("would overwrite"), "{err}");
    }
    let (code, _, err) = run(
        folder.0.path(),
        &[&arguments[..], &["no/such/results.csv"]].concat(),
    );
    assert_eq!(code, 2);
    assert!(err.contains("can't be written"), "{err}");
}

#[test]
fn the_volume_is_that_of_the_run_it_is_like() {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/demo/mist-blower-14.toml");
    let demo = std::fs::read_to_string(demo).unwrap();
    let folder = Folder::new();
    folder.write("readings.csv", file(&[("a", 10.0)]));
    let area = |folder: &Folder| folder.results()[0][2].parse::<f64>().unwrap();

    // Both runs of the demo are made with the piston at the bottom: no need to say which.
    folder.write("sheet.toml", &demo);
    folder.batch(&[]);
    let bottom = area(&folder);
    let (without_runs, _) = demo.split_once("[[run]]").unwrap();
    folder.write("sheet.toml", without_runs);
    let (code, _, err) = folder.batch(&[]);
    assert!(code == 2 && err.contains("--piston"), "{err}");
    folder.batch(&["--piston", "bottom"]);
    assert_eq!(area(&folder).to_bits(), bottom.to_bits());

    folder.write("sheet.toml", demo.replacen("\"bottom\"", "\"top\"", 1));
    let (code, _, err) = folder.batch(&[]);
    assert!(
        code == 2 && err.contains("--run: \"pressure\", \"vacuum\""),
        "{err}"
    );
    folder.batch(&["--run", "vacuum"]);
    assert_eq!(area(&folder).to_bits(), bottom.to_bits());
    folder.batch(&["--run", "pressure"]);
    assert!(area(&folder) != bottom);
    let (code, _, err) = folder.batch(&["--run", "none"]);
    assert!(code == 2 && err.contains("no run \"none\""), "{err}");
}

/// More runs than several blocks hold, one of them longer than a block.
#[test]
fn thousands_of_runs_come_out_in_order() {
    const RUNS: usize = 1100;
    let folder = Folder::new();
    let mut text = "run,time_s,gauge_pa\n".to_owned();
    for i in 0..RUNS {
        let count = if i == 700 { 300_000 } else { 6 };
        for j in 0..count {
            let t = 10.0 * f64::from(j) / f64::from(count);
            let by = 200.0 * (i % 10) as f64;
            writeln!(text, "{i},{t:.5},{:.0}", 48_000.0 - by * t).unwrap();
        }
    }
    folder.write("readings.csv", text);
    let (code, out, err) = folder.batch(&[]);
    assert_eq!((code, err.as_str()), (1, ""), "{out}");
    let rows = folder.results();
    assert_eq!(rows.len(), RUNS);
    for (i, row) in rows.iter().enumerate() {
        assert_eq!((row[0].as_str(), row[11].as_str()), (&*i.to_string(), ""));
    }
}
