//! Demo sheets on their pages and charts, and what can't be reported. What stands on a page, and that it can be read without
//! seeing it, is tested through the program: `crates/casetight-cli/tests/report.rs`.
#![allow(clippy::unwrap_used, reason = "a test may fail")]

use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use casetight::limit::Verdict;
use casetight_bench::compare::SheetsError;
use casetight_bench::mixture::Mixture;
use casetight_bench::session::{Session, SessionError};
use casetight_bench::sheet::{NoTraces, Sheet, Traces};
use casetight_report::{Report, ReportError, decay_chart, turn_chart};

fn demo(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../../docs/demo")
        .join(name)
}

struct Beside;

impl Traces for Beside {
    fn open<'t>(&'t self, file: &str) -> io::Result<Box<dyn Read + 't>> {
        Ok(Box::new(File::open(demo(file))?))
    }
}

fn sheet(name: &str) -> Sheet {
    let bytes = std::fs::read(demo(name)).unwrap();
    Sheet::from_bytes(&bytes, name, &Beside).unwrap()
}

/// Text pieces of a drawing, or an error where it is none.
fn texts(svg: &str) -> String {
    let drawing = roxmltree::Document::parse(svg).unwrap();
    assert_eq!(drawing.root_element().tag_name().name(), "svg");
    drawing
        .descendants()
        .filter_map(|node| node.text())
        .collect()
}

#[test]
fn a_report_is_what_the_session_says() {
    for (name, verdict) in [
        ("mist-blower-14.toml", Some(Verdict::Holds)),
        ("clearing-saw-3.toml", Some(Verdict::Leaks)),
        ("ice-auger-7.toml", Some(Verdict::Leaks)),
        ("kart-engine-2.toml", Some(Verdict::Stalled)),
    ] {
        let sheet = sheet(name);
        let report = Report::new(&sheet, None).unwrap();
        assert_eq!(report.session().worst(), verdict, "{name}");
        let page = report.page();
        assert_eq!(page, report.page(), "{name}");
        assert!(page.contains(&sheet.title), "{name}");
        for run in &sheet.runs {
            assert!(page.contains(&run.name), "{name}: {}", run.name);
        }
    }
}

#[test]
fn charts_are_drawings_with_the_runs_in_them() {
    let sheet = sheet("string-trimmer-6.toml");
    let decay = texts(&decay_chart(&sheet, &Session::assess(&sheet).unwrap()));
    assert!(decay.contains("vacuum: residuals"), "{decay}");
    let turn = texts(&turn_chart(&sheet, &Mixture::of(&sheet).unwrap()));
    for words in ["idle", "full throttle", "transfers open", "estimate"] {
        assert!(turn.contains(words), "{words}: {turn}");
    }
}

#[test]
fn what_can_not_be_reported_is_an_error_of_its_kind() {
    let sheet = sheet("mist-blower-9-repaired.toml");
    let text = std::fs::read_to_string(demo("mist-blower-9-before.toml")).unwrap();
    let (without_runs, _) = text.split_once("[[run]]").unwrap();
    let empty = Sheet::parse(without_runs, "empty.toml", &NoTraces).unwrap();
    assert_eq!(
        Report::new(&empty, None).unwrap_err(),
        ReportError::Session(SessionError::NoRuns)
    );
    assert_eq!(
        Report::new(&sheet, Some(&empty)).unwrap_err(),
        ReportError::Before(SheetsError::Session(SessionError::NoRuns))
    );
    let named = |machine: &str| Sheet {
        machine: Some(machine.to_owned()),
        ..sheet.clone()
    };
    let (one, other) = (named("mist blower 9"), named("mist blower 14"));
    let error = Report::new(&one, Some(&other)).unwrap_err();
    assert!(
        matches!(&error, ReportError::Before(SheetsError::Machines { .. })),
        "{error}"
    );
    assert!(error.to_string().contains("mist blower 14"), "{error}");
}
