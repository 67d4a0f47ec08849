//! How many sheets of paper a page takes, as a browser prints it: of A4 and of letter. Where no Chromium is installed nothing is
//! printed, and the test says so.
#![allow(clippy::unwrap_used, clippy::print_stderr, reason = "a test may fail")]

mod demo;

use std::process::Command;

use casetight_bench::sheet::{NoTraces, Sheet};
use casetight_report::{Report, handout};

use demo::sheet;

const BROWSERS: [&str; 3] = ["chromium", "chromium-browser", "google-chrome"];
const PAPERS: [&str; 2] = ["A4", "letter"];

fn browser() -> Option<&'static str> {
    let answers = |name: &&str| {
        let asked = Command::new(name).arg("--version").output();
        asked.is_ok_and(|out| out.status.success())
    };
    let found = BROWSERS.into_iter().find(answers);
    if found.is_none() {
        eprintln!("skipped: none of {BROWSERS:?} is installed, so no page is printed");
    }
    found
}

/// A page as the browser prints it, as the text of the PDF, whose objects are not packed.
fn printed(browser: &str, page: &str, paper: &str) -> String {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let on_paper = format!("</style><style>@page{{size:{paper}}}</style></head>");
    assert!(page.contains("</style></head>"));
    std::fs::write(
        at("page.html"),
        page.replacen("</style></head>", &on_paper, 1),
    )
    .unwrap();
    let said = Command::new(browser)
        // A sandbox can't be had everywhere, and the page runs no script.
        .args([
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--no-pdf-header-footer",
        ])
        .arg(format!("--user-data-dir={}", at("profile").display()))
        .arg(format!("--print-to-pdf={}", at("page.pdf").display()))
        .arg(format!("file://{}", at("page.html").display()))
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&said.stderr).into_owned();
    assert!(at("page.pdf").exists(), "{said}");
    String::from_utf8_lossy(&std::fs::read(at("page.pdf")).unwrap()).into_owned()
}

/// The pages of a PDF by their objects, in the order of their tree, whose root counts them.
fn pages(pdf: &str) -> Vec<&str> {
    let root = pdf
        .split("endobj")
        .find(|object| object.contains("/Kids"))
        .unwrap();
    let (_, count) = root.split_once("/Count ").unwrap();
    let count: String = count.chars().take_while(char::is_ascii_digit).collect();
    let kids = root.split(['[', ']']).nth(1).unwrap();
    let pages: Vec<&str> = kids
        .split(" 0 R")
        .map(str::trim)
        .filter(|number| !number.is_empty())
        .map(|number| {
            let starts = format!("\n{number} 0 obj");
            pdf.split("endobj")
                .find(|object| object.contains(&starts))
                .unwrap()
        })
        .collect();
    assert!(pages.iter().all(|page| page.contains("/Type /Page\n")));
    assert_eq!(count.parse(), Ok(pages.len()));
    pages
}

/// An invented sheet with all that a page of two runs has: a job, notes, a limit, the sheet before the repair.
fn two_runs(title: &str, date: &str, [pressure, vacuum]: [&str; 2]) -> Sheet {
    let text = format!(
        r#"format = 1
title = "{title}"
machine = "Clearing saw 8"
date = {date}
[job]
shop = "College training workshop, bench 3"
complaint = "Idles high when hot and dies when the throttle is opened. Hard to start after a rest of a quarter of an hour."
work_done = "New crank seals both sides, new intake boot, carburetor cleaned, base gasket looked at and left."
[engine]
bore = "46 mm"
stroke = "31 mm"
rod = "55 mm"
primary_compression_ratio = "1.42"
compression_ratio = "7.1"
[rig]
volume = "18 cm3"
uncertainty = "1 cm3"
[ambient]
pressure = "1009 hPa"
temperature = "19 C"
[gauge]
unit = "psi"
division = "0.5 psi"
readable = "0.125 psi"
[limit]
max_drop = "1 psi"
from = "7 psi"
over = "60 s"
[[run]]
name = "pressure"
piston = "bottom"
blanked = ["exhaust blank", "intake blank", "impulse fitting"]
note = "cold engine"
readings = [{pressure}]
[[run]]
name = "vacuum"
piston = "bottom"
blanked = ["exhaust blank", "intake blank", "impulse fitting"]
note = "cold engine"
readings = [{vacuum}]
"#
    );
    Sheet::parse(&text, "two-runs.toml", &NoTraces).unwrap()
}

#[test]
fn a_page_of_two_runs_takes_two_sheets_of_paper_signed_on_the_last() {
    let Some(browser) = browser() else { return };
    let before = two_runs(
        "Clearing saw 8, as it came in",
        "2026-03-02",
        [
            "[0, 7], [5, 6.375], [10, 5.875], [15, 5.25], [20, 4.75], [25, 4.25], [30, 3.875], [40, 3], [50, 2.25], [60, 1.625]",
            "[0, -7], [5, -6.375], [10, -5.875], [15, -5.25], [20, -4.75], [25, -4.25], [30, -3.875], [40, -3], [50, -2.25]",
        ],
    );
    let after = two_runs(
        "Clearing saw 8, repaired",
        "2026-03-05",
        [
            "[0, 7], [20, 7], [40, 6.875], [60, 6.875], [80, 6.875], [100, 6.75], [120, 6.75], [140, 6.75], [160, 6.625], [180, 6.625]",
            "[0, -7], [20, -7], [40, -6.875], [60, -6.875], [80, -6.875], [100, -6.75], [120, -6.75], [140, -6.75], [160, -6.625]",
        ],
    );
    let leaking = sheet("clearing-saw-3.toml");
    let logged = sheet("ice-auger-7.toml");
    for (sheet, before) in [
        (&after, Some(&before)),
        (&before, None),
        (&leaking, None),
        (&logged, None),
    ] {
        let page = Report::new(sheet, before).unwrap().page();
        for paper in PAPERS {
            // A link is told in the object of the page that it stands on.
            let linked = page.replacen(
                "Signature",
                "<a href=\"http://sign.invalid\">Signature</a>",
                1,
            );
            let printed = printed(browser, &linked, paper);
            let linked = pages(&printed)
                .iter()
                .map(|page| page.contains("/Annots"))
                .collect::<Vec<_>>();
            assert_eq!(linked, [false, true], "{} on {paper}", sheet.title);
        }
    }
}

#[test]
fn a_handout_takes_one_sheet_of_paper() {
    let Some(browser) = browser() else { return };
    for name in ["mist-blower-14.toml", "ice-auger-7.toml"] {
        let page = handout(&sheet(name)).unwrap();
        for paper in PAPERS {
            let printed = printed(browser, &page, paper);
            assert_eq!(pages(&printed).len(), 1, "{name} on {paper}");
        }
    }
}
