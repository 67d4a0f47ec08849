//! Recordings of others whose leak is known without the library (`tests/data/open`, with provenance, license and `truth.toml`), each
//! assessed from a sheet that states what its source states. None set a default.
#![allow(
    clippy::panic,
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "test code"
)]

use std::sync::LazyLock;

use casetight::limit::Verdict;
use casetight_bench::assess::Note;
use casetight_bench::session::Session;
use casetight_bench::sheet::Sheet;
use casetight_tests::clean_room::{Recording, Said, assess, kept, recordings, row};

static ALL: LazyLock<Vec<(Recording, Said)>> = LazyLock::new(|| {
    let said = |recording: Recording| {
        let said = assess(&recording);
        (recording, said)
    };
    recordings(&kept()).into_iter().map(said).collect()
});

/// Open data: the truth of each recording stands in its `truth.toml`, its source in PROVENANCE.md.
#[test]
fn what_others_recorded_is_covered_or_doubted_and_never_judged_wrongly() {
    // An evacuated cylinder and a full one, nitrogen of 150 bar, two evacuated vessels; and four sheets more with a logged temperature.
    assert!(ALL.len() >= 9, "{}", ALL.len());
    for (recording, said) in &*ALL {
        let row = row(recording, said);
        assert!(!said.is_wrong(), "{row}");
        let doubted = !said.warnings.is_empty();
        assert!(said.covers(recording) || doubted, "{row}");
    }
}

fn of(name: &str) -> &'static (Recording, Said) {
    let found = ALL.iter().find(|(recording, _)| recording.name == name);
    found.unwrap_or_else(|| panic!("{name}"))
}

/// A hole in a steel cylinder is told as one, with its area, under vacuum and under pressure; beside a logged gas temperature that falls
/// by forty kelvins or rises by twenty it is told with its area still, and as nothing else.
#[test]
fn a_known_hole_is_told_with_its_area() {
    for name in ["fill", "fill_logged", "discharge", "discharge_logged"] {
        let (recording, said) = of(&format!("hyddown/{name}"));
        let row = row(recording, said);
        assert!(said.covers(recording) && said.warnings.is_empty(), "{row}");
        let law = said.law.as_deref();
        let is_logged = name.ends_with("logged");
        assert!(
            law == Some("orifice") || is_logged && law.is_none(),
            "{row}"
        );
        let [value, low, high] = said.area_m2;
        // A tenth to either side at the most: an answer that is of use, not one that is wide enough for any truth.
        assert!(low > 0.9 * value && high < 1.1 * value, "{row}");
    }
}

/// A vessel that nothing leaks into is never said to leak, whatever the limit: a finer gauge saw 6 mPa come in two days.
#[test]
fn a_tight_vessel_is_never_said_to_leak() {
    for name in ["first", "second"] {
        let (recording, said) = of(&format!("evacuated/{name}"));
        let row = row(recording, said);
        assert!(said.covers(recording), "{row}");
        assert!(!said.verdicts.contains(&Verdict::Leaks), "{row}");
    }
}

/// Nor in any part of it: 149 pieces of one hour to twelve.
#[test]
fn no_piece_of_a_tight_vessel_is_said_to_leak() {
    let mut pieces = 0;
    for name in ["first", "second"] {
        let (recording, _) = of(&format!("evacuated/{name}"));
        // A reading every five minutes.
        for readings in [12, 36, 72, 144] {
            for piece in recording.pieces(readings) {
                let said = assess(&piece);
                let row = row(&piece, &said);
                assert!(!said.verdicts.contains(&Verdict::Leaks), "{row}");
                pieces += 1;
            }
        }
    }
    assert_eq!(pieces, 149);
}

/// A needle that can't be told from one that stands still is not said to leak, however small the limit: the same vessel with all that its
/// sheet leaves open stated away, as no source states it.
#[test]
fn a_needle_that_may_stand_still_is_not_said_to_leak() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/data/open/evacuated");
    let read = |name: &str| std::fs::read(format!("{folder}/{name}")).unwrap();
    let text = String::from_utf8(read("first.toml")).unwrap();
    let text = text
        .replace(
            "pressure_uncertainty = \"1.5 kPa\"",
            "pressure_uncertainty = \"1 Pa\"",
        )
        .replace("[gauge]", "drift_allowance = \"0.0001 K/min\"\n[gauge]");
    let text = format!(
        "{text}\n[bench]\nwarmth = \"0 K\"\nwarmth_uncertainty = \"0.05 K\"\nstretch = \"0.00 %/bar\"\ncreep = \"0.00 %/bar\"\n\
         zero = \"0.000 Torr\"\nzero_uncertainty = \"0.001 Torr\"\n[limit]\nmax_area = \"2.2e-12 mm2\"\n"
    );
    // Twelve hours after its start, for 55 minutes.
    let trace = String::from_utf8(read("first.csv")).unwrap();
    let (head, rows) = trace.split_once('\n').unwrap();
    let piece: Vec<&str> = std::iter::once(head)
        .chain(rows.lines().skip(144).take(12))
        .collect();
    let trace = piece.join("\n").into_bytes();
    let traces = std::collections::BTreeMap::from([("first.csv".to_owned(), trace)]);
    let sheet = Sheet::parse(&text, "sheet.toml", &traces).unwrap();
    let session = Session::assess(&sheet).unwrap();
    let run = &session.runs[0].assessment;
    assert_eq!(run.verdict, Some(Verdict::Undecided));
    let stands = run.notes.iter().any(|note| matches!(note, Note::Stands));
    assert!(stands, "{:?}", run.notes);
}
