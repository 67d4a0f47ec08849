//! Demo sheets on their pages and charts, and what can't be reported. What stands on a page, and that it can be read without
//! seeing it, is tested through the program: `crates/casetight-cli/tests/report.rs`.
#![allow(clippy::unwrap_used, reason = "a test may fail")]

mod demo;

use casetight::limit::Verdict;
use casetight_bench::compare::SheetsError;
use casetight_bench::mixture::Mixture;
use casetight_bench::session::{Session, SessionError};
use casetight_bench::sheet::{NoTraces, Sheet};
use casetight_report::{HandoutError, Report, ReportError, decay_chart, handout, turn_chart};

use demo::{demo, sheet};

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

/// The holes of a handout. Independent script: the time to lose half of 7 psi in 250 cm3 of air at 20 C and 101.325 kPa by a round hole of
/// 0.1 mm with Cd 0.62 is Int V/(R T mdot(p)) dp, with mdot that of an ideal nozzle, 51.2 s; in 60 s the needle loses 3.98 psi.
#[test]
fn a_handout_says_what_holes_do() {
    let text = r#"
format = 1
title = "Mist blower 20"
[volume]
value = "250 cm3"
uncertainty = "5 cm3"
[ambient]
pressure = "101.325 kPa"
temperature = "20 C"
[gauge]
unit = "psi"
resolution = "0.001 psi"
[limit]
max_drop = "1 psi"
from = "7 psi"
over = "60 s"
[[run]]
name = "hose"
rig_alone = "35 cm3"
readings = [[0, 7.000], [60, 6.990], [120, 6.980]]
[[run]]
name = "pressure"
readings = [[0, 7.000], [30, 6.900], [60, 6.801], [90, 6.703]]
"#;
    let sheet = Sheet::parse(text, "sheet.toml", &NoTraces).unwrap();
    let page = handout(&sheet).unwrap();
    assert_eq!(page, handout(&sheet).unwrap());
    for row in [
        "<th scope=\"row\">hole of 0.1 mm</th><td>4870 um2</td><td>3.98 psi</td><td>51.2 s</td>",
        "<th scope=\"row\">hole of 0.05 mm</th><td>1220 um2</td>",
        "<strong>0.199 psi in 60 s</strong>",
        "Computed; only the readings were measured",
        "plug lead grounded",
        "run pressure",
    ] {
        assert!(page.contains(row), "{row}: {page}");
    }
    // A leak at the limit loses what the limit says, in its time.
    let at_limit = page.split("at the limit</th>").nth(1).unwrap();
    let cells: Vec<&str> = at_limit.split("<td>").skip(1).take(2).collect();
    assert!(cells.last().unwrap().starts_with("1 psi<"), "{cells:?}");
    // Six holes and the limit, its legend's sample beside them.
    let svg = page.split("<svg").nth(1).unwrap();
    assert_eq!(svg.matches("ctc-line ctc-first").count(), 6);
    assert_eq!(svg.matches("ctc-line ctc-second").count(), 2);
}

#[test]
fn a_handout_needs_a_run_with_readings() {
    let stalled = sheet("kart-engine-2.toml");
    let refused = handout(&stalled).unwrap_err();
    assert_eq!(refused, HandoutError::NoReadings);
    assert!(refused.to_string().contains("[[run]]"), "{refused}");
}
