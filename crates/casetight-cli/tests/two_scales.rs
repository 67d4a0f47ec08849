//! A dial with a scale of psi and one of inches of mercury: what is said, drawn and recorded of a run is in the run's own unit.
#![allow(clippy::unwrap_used)]

mod common;

use std::fs;
use std::io::Write as _;

use common::{on_sheet, started};

/// The machine and its readings are invented.
const SHEET: &str = r#"format = 1
title = "Ice auger 12"
[volume]
value = "250 cm3"
uncertainty = "10 cm3"
[ambient]
pressure = "1009 hPa"
temperature = "20 C"
[gauge]
unit = "psi"
division = "0.5 psi"
[limit]
max_drop = "1 psi"
from = "7 psi"
over = "1:00"
[[run]]
name = "pressure"
readings = [["0:00", 7.0], ["0:30", 6.5], ["1:00", 6.0], ["1:30", 5.5]]
[[run]]
name = "drawn"
unit = "in Hg"
direction = "vacuum"
readings = [["0:00", 14], ["0:30", 13], ["1:00", 12], ["1:30", 11]]
"#;

/// The part of a text from a mark on, up to another.
fn between<'t>(text: &'t str, from: &str, to: &str) -> &'t str {
    let (_, behind) = text.split_once(from).unwrap();
    behind.split_once(to).map_or(behind, |(part, _)| part)
}

#[test]
fn words_plot_and_page_are_in_the_runs_unit() {
    let folder = tempfile::tempdir().unwrap();
    let place = |name: &str| folder.path().join(name);
    let sheet = place("sheet.toml");
    fs::write(&sheet, SHEET).unwrap();
    let plot = place("decay.svg");
    let (_, said, error) = on_sheet(
        "assess",
        &sheet,
        &["--detail", "--plot", plot.to_str().unwrap()],
    );
    assert_eq!(error, "");
    let (pressure, drawn) = (
        between(&said, "\npressure: ", "\ndrawn: "),
        between(&said, "\ndrawn: ", "\nNext"),
    );
    assert!(
        pressure.contains("psi gauge") && pressure.contains("1 psi lost from 7 psi"),
        "{pressure}"
    );
    assert!(
        drawn.contains("inHg gauge") && drawn.contains("2.04 inHg lost from 14.3 inHg"),
        "{drawn}"
    );
    assert!(
        !pressure.contains("inHg") && !drawn.contains("psi"),
        "{said}"
    );
    let svg = fs::read_to_string(&plot).unwrap();
    assert!(
        svg.contains("readings go from 7 psi to 5.5 psi")
            && svg.contains("readings go from -14 inHg to -11 inHg"),
        "{svg}"
    );
    assert!(!svg.contains("kPa"), "{svg}");

    let page = place("page.html");
    let (_, _, error) = on_sheet("report", &sheet, &["--out", page.to_str().unwrap()]);
    assert_eq!(error, "");
    let html = fs::read_to_string(&page).unwrap();
    let listed = between(&html, "drawn, seconds and ", "</ul>");
    assert!(
        listed.starts_with("inHg gauge") && listed.contains("<span>-14</span>"),
        "{listed}"
    );
    assert!(html.contains("pressure, seconds and psi gauge"));
}

/// Readings of a live run are typed in the run's unit, and kept in it.
#[test]
fn a_live_run_is_read_in_its_unit() {
    let folder = tempfile::tempdir().unwrap();
    let sheet = SHEET.replace(
        "readings = [[\"0:00\", 14], [\"0:30\", 13], [\"1:00\", 12], [\"1:30\", 11]]",
        "file = \"drawn.csv\"",
    );
    fs::write(folder.path().join("sheet.toml"), sheet).unwrap();
    let words = ["live", "sheet.toml", "--run", "drawn"];
    let mut child = started(folder.path(), words);
    // Deeper than any vacuum, were it psi.
    child
        .stdin
        .take()
        .unwrap()
        .write_all(b"0,20\n30,19\n60,18\n90,17\n")
        .unwrap();
    let out = child.wait_with_output().unwrap();
    let error = String::from_utf8(out.stderr).unwrap();
    assert_ne!(out.status.code(), Some(2), "{error}");
    let trace = fs::read_to_string(folder.path().join("drawn.csv")).unwrap();
    assert!(
        trace.contains("gauge_inhg") && trace.contains("30,-19"),
        "{trace}"
    );
}
