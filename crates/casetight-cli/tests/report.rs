//! `casetight report`: the page is whole, self-contained, well formed, readable without sight, and safe.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "test code")]

mod common;

use std::path::Path;
use std::process::Command;

use scraper::{Html, Selector};

use common::demo;

fn report(sheet: &Path, more: &[&str]) -> (i32, String) {
    let folder = tempfile::tempdir().unwrap();
    let page = folder.path().join("page.html");
    let out = Command::new(env!("CARGO_BIN_EXE_casetight"))
        .args([
            "report",
            sheet.to_str().unwrap(),
            "--out",
            page.to_str().unwrap(),
        ])
        .args(more)
        .output()
        .unwrap();
    let said = String::from_utf8(out.stderr).unwrap();
    let page = std::fs::read_to_string(&page).unwrap_or(said);
    (out.status.code().unwrap(), page)
}

fn all(page: &Html, selector: &str) -> Vec<String> {
    let selector = Selector::parse(selector).unwrap();
    page.select(&selector)
        .map(|e| e.text().collect::<String>().trim().to_owned())
        .collect()
}

fn attributes(page: &Html, selector: &str, name: &str) -> Vec<String> {
    page.select(&Selector::parse(selector).unwrap())
        .map(|e| e.value().attr(name).unwrap_or_default().to_owned())
        .collect()
}

const DEMOS: [(&str, i32); 5] = [
    ("mist-blower-14.toml", 0),
    ("clearing-saw-3.toml", 1),
    ("ice-auger-7.toml", 1),
    ("kart-engine-2.toml", 3),
    ("mist-blower-9-repaired.toml", 0),
];

fn pages() -> Vec<String> {
    let before = demo("mist-blower-9-before.toml");
    let with_before = ["--before", before.to_str().unwrap()];
    DEMOS
        .iter()
        .map(|(name, code)| {
            let more = if name.contains("repaired") {
                &with_before[..]
            } else {
                &[]
            };
            let (got, page) = report(&demo(name), more);
            assert_eq!(got, *code, "{name}: {page}");
            page
        })
        .collect()
}

#[test]
fn pages_are_well_formed_and_self_contained() {
    for page in pages() {
        assert!(
            page.starts_with("<!DOCTYPE html><html lang=\"en\">") && page.ends_with("</html>\n")
        );
        let html = Html::parse_document(&page);
        assert_eq!(html.errors, Vec::<std::borrow::Cow<'_, str>>::new());
        // Nothing is fetched: no address but the namespace of SVG, no script, no reference to a file.
        let addresses: Vec<&str> = page
            .match_indices("http")
            .map(|(at, _)| &page[at..(at + 26).min(page.len())])
            .collect();
        assert!(
            addresses.iter().all(|a| *a == "http://www.w3.org/2000/svg"),
            "{addresses:?}"
        );
        for forbidden in [
            "<script",
            "<link",
            "<img",
            "<iframe",
            "@import",
            "url(http",
            "src=",
            " on",
            "@font-face",
        ] {
            let found = page
                .find(forbidden)
                .map(|at| &page[at..(at + 40).min(page.len())]);
            let allowed =
                found.is_some_and(|text| text.starts_with(" on") && !text.contains("=\""));
            assert!(found.is_none() || allowed, "{found:?}");
        }
        // Identifiers are unique, and every reference has its target.
        let mut ids = attributes(&html, "[id]", "id");
        let count = ids.len();
        ids.sort();
        ids.dedup();
        assert_eq!(ids.len(), count);
        for name in ["aria-labelledby", "aria-describedby"] {
            for target in attributes(&html, &format!("[{name}]"), name) {
                assert!(ids.contains(&target), "{name}={target}");
            }
        }
        for part in page.split("<svg").skip(1) {
            let svg = format!("<svg{}</svg>", part.split("</svg>").next().unwrap());
            roxmltree::Document::parse(&svg).unwrap();
        }
    }
}

#[test]
fn pages_can_be_read_without_seeing_them() {
    for page in pages() {
        let html = Html::parse_document(&page);
        for landmark in ["header", "main", "footer", "aside"] {
            assert_eq!(
                all(&html, &format!("body > {landmark}, main > {landmark}")).len(),
                1,
                "{landmark}"
            );
        }
        assert_eq!(all(&html, "h1").len(), 1);
        // Headings go down one level at a time.
        let levels: Vec<u32> = html
            .select(&Selector::parse("h1, h2, h3, h4").unwrap())
            .map(|h| h.value().name()[1..].parse().unwrap())
            .collect();
        assert_eq!(levels[0], 1);
        assert!(
            levels.windows(2).all(|pair| pair[1] <= pair[0] + 1),
            "{levels:?}"
        );
        assert!(
            attributes(&html, "th", "scope")
                .iter()
                .all(|s| s == "row" || s == "col")
        );
        assert!(
            attributes(&html, "section, aside", "aria-labelledby")
                .iter()
                .all(|l| !l.is_empty())
        );
        let svgs = attributes(&html, "svg", "role");
        assert!(!svgs.is_empty() && svgs.iter().all(|role| role == "img"));
        assert!(all(&html, "svg > title").len() == svgs.len());
        assert!(all(&html, "svg > desc").iter().all(|text| text.len() > 20));
        assert!(
            all(&html, "svg > title")
                .iter()
                .all(|text| !text.is_empty())
        );
        assert!(all(&html, "title")[0].contains("crankcase leak test"));
    }
}

#[test]
fn a_page_holds_what_the_record_needs() {
    let before = demo("mist-blower-9-before.toml");
    let (_, page) = report(
        &demo("mist-blower-9-repaired.toml"),
        &["--before", before.to_str().unwrap()],
    );
    let html = Html::parse_document(&page);
    assert_eq!(
        all(&html, "h2"),
        [
            "Verdict",
            "Numbers",
            "Notes",
            "What to do next",
            "Cautions",
            "Before and after",
            "Readings and fit",
            "How large is that?",
            "Assumptions",
            "Inputs",
            "The readings"
        ]
    );
    let said = all(&html, "body")[0]
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ");
    for wanted in [
        "Mist blower 9, new crank seals",
        "2026-03-05",
        "holds",
        "95 % interval",
        "at Cd 0.62",
        "plug lead grounded",
        "maker's manual",
        "The leak fell to 1.",
        "46 mm \u{b1} 0.05 mm",
        "exhaust blank",
        "240 s",
        "Signature",
    ] {
        assert!(said.contains(wanted), "{wanted:?}");
    }
    // A trace stays in its file.
    let (_, page) = report(&demo("ice-auger-7.toml"), &[]);
    assert!(page.contains("121 readings in the file ice-auger-7-vacuum.csv."));
    let (_, page) = report(&demo("kart-engine-2.toml"), &[]);
    assert!(page.contains("The pump stalled: 60 strokes of 25 cm3 over"));
}

#[test]
fn a_page_says_which_gas_it_was() {
    let folder = tempfile::tempdir().unwrap();
    let sheet = std::fs::read_to_string(demo("mist-blower-14.toml")).unwrap();
    let page = |lines: &str| {
        let path = folder.path().join("sheet.toml");
        std::fs::write(
            &path,
            sheet.replacen("[gauge]", &format!("{lines}\n[gauge]"), 1),
        )
        .unwrap();
        report(&path, &[]).1
    };
    let dry = page("");
    assert!(!dry.contains("Gas pumped in") && !dry.contains("Relative humidity"));
    let argon = page("[gas]\nname = \"argon\"");
    assert!(
        argon.contains("<dt>Gas pumped in</dt><dd>argon</dd>")
            && argon.contains("The gas is argon")
    );
    let given = "[gas]\nmolar_mass = \"20.18 g/mol\"\nheat_capacity_ratio = 1.667\nviscosity = \"31.4 uPa s\"";
    let given = page(given);
    assert!(
        given.contains("<dd>20.18 g/mol, cp/cv 1.667, 31.4 uPa s</dd>"),
        "{given}"
    );
    let humid = sheet.replacen("[ambient]", "[ambient]\nhumidity = \"60 %\"", 1);
    let path = folder.path().join("humid.toml");
    std::fs::write(&path, humid).unwrap();
    let humid = report(&path, &[]).1;
    assert!(
        humid.contains("<dt>Relative humidity</dt><dd>60 ± 5 %</dd>"),
        "{humid}"
    );
}

#[test]
fn whatever_stands_in_a_sheet_is_text() {
    let folder = tempfile::tempdir().unwrap();
    let evil = r#"<script>alert("1")</script> & 'co' </title></style>"#;
    let text = format!(
        r#"format = 1
title = '''{evil}'''
machine = '''{evil}'''
[volume]
value = "250 cm3"
uncertainty = "10 cm3"
[ambient]
pressure = "101325 Pa"
temperature = "20 C"
[gauge]
unit = "kPa"
resolution = "0.1 kPa"
[[run]]
name = '''{evil}'''
blanked = ['''other: {evil}''']
readings = [[0, 48.0], [10, 42.8], [20, 37.7], [30, 32.8]]
dry = ['''other: 2 {evil}''']
note = '''{evil}'''
"#
    );
    let sheet = folder.path().join("evil.toml");
    std::fs::write(&sheet, text).unwrap();
    let (code, page) = report(&sheet, &["--before", sheet.to_str().unwrap()]);
    assert_eq!(code, 3, "no limit: {page}");
    assert!(
        !page.contains("<script") && page.contains("&lt;script&gt;"),
        "escaped"
    );
    let html = Html::parse_document(&page);
    assert_eq!(html.errors, Vec::<std::borrow::Cow<'_, str>>::new());
    assert_eq!(all(&html, "h1"), [evil]);
    assert_eq!(all(&html, "head > style").len(), 1);
    assert!(all(&html, "td").iter().any(|cell| cell == evil));
}

#[test]
fn a_report_is_written_whole_or_not_at_all() {
    let folder = tempfile::tempdir().unwrap();
    let nowhere = folder.path().join("no/such/folder/page.html");
    let out = Command::new(env!("CARGO_BIN_EXE_casetight"))
        .args([
            "report",
            demo("mist-blower-14.toml").to_str().unwrap(),
            "--out",
        ])
        .arg(&nowhere)
        .output()
        .unwrap();
    assert_eq!(out.status.code(), Some(2));
    assert!(
        String::from_utf8(out.stderr)
            .unwrap()
            .contains("can't be written")
    );
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
    // A sheet that can't be read leaves the old page in place.
    let page = folder.path().join("page.html");
    std::fs::write(&page, "old").unwrap();
    let out = Command::new(env!("CARGO_BIN_EXE_casetight"))
        .args(["report", "nowhere.toml", "--out"])
        .arg(&page)
        .output()
        .unwrap();
    assert_eq!(out.status.code(), Some(2));
    assert_eq!(std::fs::read_to_string(&page).unwrap(), "old");
}

/// The same sheet gives the same bytes.
#[test]
fn a_report_has_no_clock() {
    assert_eq!(
        report(&demo("mist-blower-14.toml"), &[]),
        report(&demo("mist-blower-14.toml"), &[])
    );
}
