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
            "Before and after",
            "How large before and after",
            "How large is that?",
            "Readings and fit",
            "What to do next",
            "Cautions",
            "Numbers",
            "Notes",
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
        "Holds: it lost 0.125 psi in 60 s, the limit is 1 psi; over 99.9 % sure.",
        "leaks before, holds after",
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

/// What the customer said and what was done stand on top, line by line; a sheet that says nothing of it has no empty box.
#[test]
fn a_page_says_what_the_job_was() {
    let folder = tempfile::tempdir().unwrap();
    let sheet = std::fs::read_to_string(demo("mist-blower-14.toml")).unwrap();
    let job = "[job]\nshop = \"Training workshop\"\ncomplaint = \"idles high\\ndies hot\"\nwork_done = \"new seals\"\n[engine]";
    let path = folder.path().join("sheet.toml");
    std::fs::write(&path, sheet.replacen("[engine]", job, 1)).unwrap();
    let html = Html::parse_document(&report(&path, &[]).1);
    assert_eq!(all(&html, "header .kind span")[1], "Training workshop");
    let said = all(&html, "header dd");
    assert!(
        said.contains(&"idles high\ndies hot".to_owned()),
        "{said:?}"
    );
    assert!(said.contains(&"new seals".to_owned()), "{said:?}");
    let html = Html::parse_document(&report(&demo("mist-blower-14.toml"), &[]).1);
    assert_eq!(all(&html, "header dd").len(), 3);
}

/// The gauge's unit for all pressures and one unit for all areas; the page before a repair is told in that of the page.
#[test]
fn a_page_has_one_unit_of_pressure_and_one_of_area() {
    let before = demo("mist-blower-9-before.toml");
    let with_before = ["--before", before.to_str().unwrap()];
    for (name, more, pressure) in [
        ("mist-blower-14.toml", &[][..], "psi"),
        ("mist-blower-9-repaired.toml", &with_before[..], "psi"),
        ("clearing-saw-3.toml", &[], "kPa"),
        ("ice-auger-7.toml", &[], "kPa"),
        ("kart-engine-2.toml", &[], "psi"),
    ] {
        let html = Html::parse_document(&report(&demo(name), more).1);
        let words: Vec<String> = all(&html, "header, main > *")
            .iter()
            .flat_map(|text| {
                text.split_whitespace()
                    .map(str::to_owned)
                    .collect::<Vec<_>>()
            })
            .map(|word| word.trim_matches(|c: char| !c.is_alphanumeric()).to_owned())
            .collect();
        let found = |unit: &&str| words.iter().any(|word| word == unit);
        let pressures: Vec<_> = ["psi", "kPa", "hPa", "Pa", "bar", "mbar"]
            .into_iter()
            .filter(found)
            .collect();
        assert_eq!(pressures, [pressure], "{name}");
        let areas = ["mm2", "um2", "m2"].into_iter().filter(found);
        assert_eq!(areas.count(), 1, "{name}");
    }
}

/// Drawn to one scale, vacuum upside down, each with the dashed course of a leak at the limit.
#[test]
fn plots_of_a_page_have_one_scale_and_the_limit() {
    let html = Html::parse_document(&report(&demo("mist-blower-14.toml"), &[]).1);
    let ticks = |place: usize| -> Vec<i32> {
        let labels = all(&html, &format!("#readings-{place} text.ctc-end"));
        labels
            .iter()
            .map(|label| label.replace('\u{2212}', "-").parse().unwrap())
            .collect()
    };
    let (pressure, mut vacuum) = (ticks(1), ticks(2));
    vacuum.reverse();
    assert!(pressure.len() > 2);
    assert_eq!(
        pressure,
        vacuum.iter().map(|tick| -tick).collect::<Vec<_>>()
    );
    for place in [1, 2] {
        // One in the legend, one in the plot.
        let dashed = attributes(
            &html,
            &format!("#readings-{place} path.ctc-line.ctc-second"),
            "d",
        );
        assert_eq!(dashed.len(), 2);
        assert!(all(&html, &format!("#readings-{place} text")).contains(&"limit".to_owned()));
        let axis = all(&html, &format!("#readings-{place} text.ctc-quiet"));
        assert!(
            axis.contains(&"Gauge pressure (psi)".to_owned()),
            "{axis:?}"
        );
    }
}

/// Without any color the outline of the mark tells the verdict.
#[test]
fn each_verdict_has_an_outline_of_its_own() {
    let folder = tempfile::tempdir().unwrap();
    let sheet = std::fs::read_to_string(demo("mist-blower-14.toml")).unwrap();
    let with = |name: &str, from: &str, to: &str| {
        let path = folder.path().join(name);
        std::fs::write(&path, sheet.replacen(from, to, 1)).unwrap();
        report(&path, &[]).1
    };
    let limit = "[limit]\nmax_drop = \"1 psi\"\nfrom = \"7 psi\"\nover = \"60 s\"\n";
    let tight = "[limit]\nmax_drop = \"0.12 psi\"\nfrom = \"7 psi\"\nover = \"60 s\"\n";
    let mut outlines = Vec::new();
    for (page, verdict) in [
        (report(&demo("mist-blower-14.toml"), &[]).1, "Holds:"),
        (report(&demo("clearing-saw-3.toml"), &[]).1, "Leaks:"),
        (report(&demo("kart-engine-2.toml"), &[]).1, "Stalled:"),
        (with("tight.toml", limit, tight), "Undecided:"),
        (with("unjudged.toml", limit, ""), "Not judged:"),
    ] {
        let html = Html::parse_document(&page);
        assert_eq!(all(&html, ".stamp strong")[0], verdict);
        let mark = html
            .select(&Selector::parse(".stamp svg.mark").unwrap())
            .next()
            .unwrap();
        let outline = mark
            .children()
            .filter_map(scraper::ElementRef::wrap)
            .nth(1)
            .unwrap();
        outlines.push(outline.html());
    }
    outlines.sort();
    outlines.dedup();
    assert_eq!(outlines.len(), 5);
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
[job]
shop = '''{evil}'''
complaint = '''{evil}'''
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
    assert!(all(&html, "header dd").iter().any(|said| said == evil));
    let (code, page) = report(&sheet, &["--class"]);
    assert_eq!(code, 0, "{page}");
    assert!(!page.contains("<script"), "escaped");
    let html = Html::parse_document(&page);
    assert_eq!(html.errors, Vec::<std::borrow::Cow<'_, str>>::new());
    assert!(
        all(&html, "header p")
            .iter()
            .any(|said| said.contains(evil))
    );
}

/// A size that comes from a curve that the readings contradict is told as such, on the page and on the handout.
#[test]
fn a_contradicted_size_is_told_as_such() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("sheet.toml");
    let sheet = std::fs::read_to_string(demo("clearing-saw-3.toml")).unwrap();
    let (head, _) = sheet.split_once("[[run]]").unwrap();
    // Opened half way.
    let rows = (0..21).map(|i| {
        let fell = if i < 10 {
            0.2 * f64::from(i)
        } else {
            2.0 + 0.9 * f64::from(i - 10)
        };
        format!("[{}, {:.1}]", 3 * i, 48.0 - fell)
    });
    let rows = rows.collect::<Vec<_>>().join(", ");
    std::fs::write(
        &path,
        format!("{head}[[run]]\nname = \"a\"\npiston = \"bottom\"\nreadings = [{rows}]\n"),
    )
    .unwrap();
    let (code, page) = report(&path, &[]);
    assert_eq!(code, 3);
    assert!(
        page.contains("<strong>by a curve that the readings contradict: "),
        "{page}"
    );
    let (_, page) = report(&path, &["--class"]);
    assert!(
        page.contains("<strong>by a curve that the readings contradict: "),
        "{page}"
    );
    let (_, page) = report(&demo("clearing-saw-3.toml"), &[]);
    assert!(!page.contains("contradict"));
}

/// A class handout is as well formed, self-contained and safe as a report; it judges nothing, and is not for two sheets.
#[test]
fn a_class_handout_is_a_page_of_its_own() {
    let (code, page) = report(&demo("clearing-saw-3.toml"), &["--class"]);
    assert_eq!(code, 0, "{page}");
    let html = Html::parse_document(&page);
    assert_eq!(html.errors, Vec::<std::borrow::Cow<'_, str>>::new());
    assert_eq!(all(&html, "h1").len(), 1);
    assert_eq!(
        all(&html, "h2"),
        ["The needle over time", "Hole by hole", "Cautions"]
    );
    assert!(!page.contains("<script") && !page.contains("src="));
    assert!(all(&html, "footer")[0].contains("not measured"));
    assert!(all(&html, "svg > desc")[0].contains("hole of 0.1 mm takes"));
    let (code, said) = report(
        &demo("clearing-saw-3.toml"),
        &["--class", "--before", "x.toml"],
    );
    assert_eq!(code, 2);
    assert!(said.contains("cannot be used with"), "{said}");
    let (code, said) = report(&demo("kart-engine-2.toml"), &["--class"]);
    assert_eq!(code, 2);
    assert!(
        said.contains("no run of the engine with readings"),
        "{said}"
    );
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
