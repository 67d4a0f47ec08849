use proptest::prelude::*;

use super::*;
use crate::assess::Outcome;
use crate::isolate::{Place, Step};
use crate::sheet::NoTraces;
use crate::sheet::methods::tests::vacuum_readings;
use casetight::limit::Verdict;

/// A sheet of 250 cm3 with these lines, and these runs.
fn sheet(lines: &str, runs: &str) -> Sheet {
    let text = format!(
        "format = 1\n[volume]\nvalue = \"250 cm3\"\nuncertainty = \"3 cm3\"\n[ambient]\npressure = \"101325 Pa\"\n\
         temperature = \"20 C\"\n[gauge]\nunit = \"kPa\"\nresolution = \"0.1 kPa\"\n{lines}\n{runs}"
    );
    Sheet::parse(&text, "sheet.toml", &NoTraces).unwrap()
}

/// A run in vacuum with a leak of an area [um2].
fn vacuum(name: &str, area: f64, seconds: f64, lines: &str) -> String {
    let rows = vacuum_readings(area * 1e-12, seconds);
    format!("[[run]]\nname = \"{name}\"\n{lines}\nreadings = [{rows}]\n")
}

fn pressure(name: &str, rows: &str, lines: &str) -> String {
    format!("[[run]]\nname = \"{name}\"\n{lines}\nreadings = [{rows}]\n")
}

const SITES: &str =
    "[isolate]\nsites = [\"spark plug\", \"cover\"]\n[limit]\nmax_area = \"0.001 mm2\"";
const ALL: &str = "blanked = [\"spark plug\", \"cover\"]";

#[test]
fn the_leaking_site_is_told_and_judged() {
    // Truth: the cover leaks 2000 um2, the plug 100, the rig 50.
    let runs = vacuum("open", 2150.0, 60.0, "")
        + &vacuum("cover greased", 150.0, 300.0, "blanked = [\"cover\"]")
        + &vacuum("rig", 50.0, 600.0, ALL);
    let located = locate(&sheet(SITES, &runs)).unwrap();
    let [found] = located.directions.as_slice() else {
        panic!("one direction")
    };
    assert_eq!(found.direction, Direction::Vacuum);
    let area = |site: &str| {
        found
            .found
            .share(&Site::Other(site.to_owned()))
            .unwrap()
            .area
            .si()
    };
    let cover = area("cover");
    assert!(
        cover.low < 2000e-12 && cover.high > 2000e-12 && cover.low > 1800e-12,
        "{cover:?}"
    );
    let plug = found.found.share(&Site::SparkPlug).unwrap();
    assert!(
        plug.area.si().low <= 100e-12 && plug.area.si().high >= 100e-12,
        "{plug:?}"
    );
    assert_eq!(
        found.next.step,
        Step::Repair(Place::Site(Site::Other("cover".into())))
    );
    assert_eq!(found.verdict_on(plug), Some(Verdict::Holds));
    assert_eq!(located.worst(), Some(Verdict::Leaks));
    assert!(located.notes.is_empty(), "{:?}", located.notes);
    assert!(
        found
            .probability_worst(&Place::Site(Site::Other("cover".into())))
            .unwrap()
            > 0.99
    );
}

#[test]
fn a_repair_makes_an_area_of_its_own() {
    let runs = vacuum("open", 2150.0, 60.0, "")
        + &vacuum("rig", 50.0, 600.0, ALL)
        + &vacuum("new cover", 160.0, 300.0, "repaired = [\"cover\"]")
        + &vacuum("plug sealed", 60.0, 600.0, "blanked = [\"spark plug\"]");
    let located = locate(&sheet(SITES, &runs)).unwrap();
    let found = &located.directions[0].found;
    let stages: Vec<(String, f64)> = found
        .shares
        .iter()
        .map(|share| (share.spots[0].to_string(), share.area.si().value * 1e12))
        .collect();
    let of = |name: &str| stages.iter().find(|(spot, _)| spot == name).unwrap().1;
    // Truth: the cover 2000 before and 10 after, plug 100, rig 50.
    assert!(
        (of("cover before its repair") - 2000.0).abs() < 100.0,
        "{stages:?}"
    );
    assert!((of("cover") - 10.0).abs() < 15.0, "{stages:?}");
    assert_eq!(located.worst(), Some(Verdict::Holds));
    // Without saying so the same runs do not fit together.
    let silent = runs.replace("repaired = [\"cover\"]", "");
    let located = locate(&sheet(SITES, &silent)).unwrap();
    let misfit = |note: &Note| matches!(note, Note::Misfit { .. });
    assert!(located.notes.iter().any(misfit), "{:?}", located.notes);
}

#[test]
fn sites_that_no_list_names_are_the_usual_ones() {
    let located = locate(&sheet("", &vacuum("open", 500.0, 60.0, ""))).unwrap();
    let found = &located.directions[0];
    let sites: Vec<&Site> = found.sites().map(|(site, _)| site).collect();
    assert_eq!(sites, USUAL_SITES.iter().collect::<Vec<_>>());
    // None of them was told apart from the rig, and a gasket takes no blank.
    assert_eq!(found.found.shares.len(), 1);
    assert!(matches!(&found.next.step, Step::Blank(sites) if !sites.contains(&Site::BaseGasket)));
    assert_eq!(found.verdict(), None);
    assert_eq!(
        located.notes,
        [Note::RigNotTested {
            directions: vec![Direction::Vacuum]
        }]
    );
}

#[test]
fn a_shared_leak_that_may_be_the_rigs_is_undecided() {
    let located = locate(&sheet(SITES, &vacuum("open", 2150.0, 60.0, ""))).unwrap();
    assert_eq!(located.worst(), Some(Verdict::Undecided));
}

#[test]
fn a_rig_alone_says_nothing_of_the_sites() {
    let located = locate(&sheet(SITES, &vacuum("rig", 50.0, 60.0, ALL))).unwrap();
    assert_eq!(located.worst(), Some(Verdict::Undecided));
    assert_eq!(located.directions[0].sites().count(), 0);
}

#[test]
fn small_leaks_can_be_too_many_together() {
    // 700 um2 each, told apart; the limit is 1000.
    let runs = vacuum("open", 1450.0, 60.0, "")
        + &vacuum("cover greased", 750.0, 120.0, "blanked = [\"cover\"]")
        + &vacuum("rig", 50.0, 600.0, ALL);
    let located = locate(&sheet(SITES, &runs)).unwrap();
    let found = &located.directions[0];
    let judged: Vec<_> = found
        .found
        .shares
        .iter()
        .map(|s| found.verdict_on(s))
        .collect();
    assert_eq!(judged, [Some(Verdict::Holds), Some(Verdict::Holds), None]);
    assert_eq!(located.worst(), Some(Verdict::Leaks));
}

#[test]
fn soap_counts_at_the_pressure_that_says_least() {
    let rows = "[0, 48.0], [30, 30.0], [60, 18.0]";
    let lines = "dry = [\"cover\"]\nbubbles = [\"spark plug\"]";
    let soap = |runs: &str| {
        locate(&sheet(SITES, runs)).unwrap().directions[0]
            .evidence
            .soap
            .clone()
    };
    let seen = soap(&pressure("a", rows, lines));
    let bench = locate(&sheet(SITES, &pressure("a", rows, ""))).unwrap();
    assert_eq!(bench.directions[0].evidence.soap, []);
    let said: Vec<String> = seen.iter().map(ToString::to_string).collect();
    assert!(
        said[0].starts_with("Bubbles at the spark plug at 48 kPa"),
        "{said:?}"
    );
    assert!(
        said[1].starts_with("No bubbles at the cover at 18 kPa"),
        "{said:?}"
    );
    let stated = soap(&pressure(
        "a",
        rows,
        &format!("{lines}\nsoaped_at = \"40 kPa\""),
    ));
    assert!(stated[1].to_string().contains("at 40 kPa"));
    assert!(stated[1].bound() < seen[1].bound());
    // After the repair of the site.
    let repaired =
        pressure("a", rows, "") + &pressure("b", rows, "repaired = [\"cover\"]\ndry = [\"cover\"]");
    assert!(soap(&repaired)[0].is_after_repair());
}

#[test]
fn soap_on_a_blank_at_rest_and_under_vacuum() {
    let rows = "[0, 48.0], [30, 30.0], [60, 18.0]";
    let blank = pressure("a", rows, "blanked = [\"cover\"]\nbubbles = [\"cover\"]");
    let located = locate(&sheet(SITES, &blank)).unwrap();
    assert!(located.notes.contains(&Note::BlankBubbles {
        run: "a".into(),
        site: Site::Other("cover".into())
    }));
    let rest = pressure(
        "a",
        "[0, 48.0], [10, 0.0], [20, 0.0]",
        "dry = [\"cover\", \"spark plug\"]",
    );
    let located = locate(&sheet(SITES, &rest)).unwrap();
    let at_rest = |note: &&Note| matches!(note, Note::NoPressureLeft { .. });
    assert_eq!(located.notes.iter().filter(at_rest).count(), 1);
    assert_eq!(located.directions[0].evidence.soap, []);
    let under_vacuum = vacuum(
        "a",
        100.0,
        60.0,
        "dry = [\"cover\"]\nsoaped_at = \"10 kPa\"",
    );
    let error = locate(&sheet(SITES, &under_vacuum)).unwrap_err();
    assert!(
        error
            .to_string()
            .starts_with("run \"a\": soap shows nothing"),
        "{error}"
    );
}

#[test]
fn a_stalled_pump_bounds_from_below() {
    let stall = |strokes: u32, lines: &str| {
        format!(
            "[[run]]\nname = \"s\"\nstalled = {{ strokes = {strokes}, stroke_volume = \"25 cm3\", over = \"60 s\", reached = \
             \"1.4 kPa\" }}\n{lines}\n"
        )
    };
    let located = locate(&sheet(
        SITES,
        &stall(60, "blanked = [\"cover\"]\ndry = [\"spark plug\"]"),
    ))
    .unwrap();
    let found = &located.directions[0];
    assert!(found.evidence.soap[0].hides_others());
    // A tight plug leaves the rig, and its leak has no upper end.
    let rig = found.found.rig().unwrap();
    assert!(
        rig.area.si().low > 1e-7 && rig.area.si().high.is_infinite(),
        "{rig:?}"
    );
    assert_eq!(located.document().directions[0].rig.unwrap().high, None);
    // One stroke can all be in the case still: 25 cm3 of 250 raise it by 10 kPa.
    let located = locate(&sheet(SITES, &stall(1, "").replace("1.4 kPa", "12 kPa"))).unwrap();
    assert!(
        located
            .notes
            .contains(&Note::NothingSaid { run: "s".into() })
    );
}

#[test]
fn a_run_with_a_known_leak_is_left_out() {
    let added = "[volume.added_leak]\nknown_area = \"0.0010 mm2\"\nalone_run = \"open\"\ntogether_run = \"with the known leak\"";
    let runs = vacuum("open", 500.0, 120.0, "") + &vacuum("with the known leak", 1500.0, 60.0, "");
    let located = locate(&sheet(added, &runs)).unwrap();
    assert_eq!(located.directions[0].evidence.runs.len(), 1);
    assert!(located.notes.contains(&Note::KnownLeak {
        run: "with the known leak".into()
    }));
}

#[test]
fn more_sites_than_can_be_weighed_are_refused() {
    let many: Vec<String> = (0..21).map(|i| format!("\"bolt {i}\"")).collect();
    let lines = format!("[isolate]\nsites = [{}]", many.join(", "));
    let error = locate(&sheet(&lines, &vacuum("a", 100.0, 60.0, ""))).unwrap_err();
    assert!(
        error
            .to_string()
            .contains("leave out the sites that are known to be tight"),
        "{error}"
    );
}

/// Vacuum runs on leaks of these areas \[um2\], each with some of three sites blanked.
fn blanked_runs(blanks: &[([bool; 3], f64)]) -> Vec<String> {
    let names = ["\"cover\"", "\"plate\"", "\"spark plug\""];
    let of = |(at, (blanked, area)): (usize, &([bool; 3], f64))| {
        let listed = names.iter().zip(blanked).filter(|(_, blanked)| **blanked);
        let listed: Vec<&str> = listed.map(|(name, _)| *name).collect();
        let lines = format!("blanked = [{}]", listed.join(", "));
        vacuum(&format!("run {at}"), *area, 60.0, &lines)
    };
    blanks.iter().enumerate().map(of).collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// The same runs in another order, a run of the rig alone with a volume of its own among them, give the same areas,
    /// verdicts, limits and next step, to the last digit.
    #[test]
    fn the_order_of_runs_does_not_matter(
        blanks in prop::collection::vec((any::<[bool; 3]>(), 20.0..2000.0_f64), 1..4),
        keys in prop::collection::vec(any::<u32>(), 4),
    ) {
        let mut runs = blanked_runs(&blanks);
        let rig = "rig_alone = \"20 cm3\"\nrig_alone_uncertainty = \"2 cm3\"";
        runs.push(vacuum("hose", 30.0, 60.0, rig));
        let lines = "[isolate]\nsites = [\"cover\", \"plate\", \"spark plug\"]\n[limit]\nmax_drop = \"1 kPa\"\nfrom = \"40 kPa\"\nover = \"60 s\"";
        let answer = |runs: &[String]| locate(&sheet(lines, &runs.concat())).unwrap();
        let told = answer(&runs);
        let mut order: Vec<usize> = (0..runs.len()).collect();
        order.sort_by_key(|at| keys[*at]);
        let shuffled: Vec<String> = order.iter().map(|at| runs[*at].clone()).collect();
        let again = answer(&shuffled);
        let (one, other) = (&told.directions[0], &again.directions[0]);
        prop_assert_eq!(&one.found, &other.found);
        prop_assert_eq!(&one.next, &other.next);
        prop_assert_eq!(one.allowed_area_m2, other.allowed_area_m2);
        prop_assert_eq!(one.verdict(), other.verdict());
        // The limit is that of the engine's 250 cm3 in each of its runs, and the hose has none.
        for run in &one.runs {
            prop_assert_eq!(run.allowed_area_m2.is_none(), run.rig_alone);
        }
    }

    /// Whatever the blanks of the runs, every site that was open has one share, and intervals are in order.
    #[test]
    fn any_blanks_are_answered(
        blanks in prop::collection::vec((any::<[bool; 3]>(), 20.0..2000.0_f64), 1..5),
    ) {
        let runs = blanked_runs(&blanks).concat();
        let lines = "[isolate]\nsites = [\"cover\", \"plate\", \"spark plug\"]";
        let located = locate(&sheet(lines, &runs)).unwrap();
        let found = &located.directions[0];
        let open: BTreeSet<&Site> = found.evidence.runs.iter().flat_map(|run| &run.exposed).collect();
        let shown: BTreeSet<&Site> = found.sites().map(|(site, _)| site).collect();
        prop_assert_eq!(open, shown);
        for share in &found.found.shares {
            prop_assert!(share.area.low <= share.area.value && share.area.value <= share.area.high);
        }
        let worst: f64 = found.next.suspects.worst.iter().map(|(_, p)| p).sum();
        let total = worst + found.next.suspects.tight;
        let some = found.found.rig().and_then(|rig| found.probability_worst(&rig.spots[0].place));
        let whole = if some.is_some() { 1.0 } else { 0.0 };
        prop_assert!((total - whole).abs() < 1e-9);
    }
}

/// One place through a fine gap, p/`p_a` falling as of a slow laminar leak: (p - p_a)/(p + p_a) by the factor exp(-t/100 s).
fn through_a_gap(name: &str, start_kpa: f64, lines: &str) -> String {
    let of_start = start_kpa / (start_kpa + 202.65);
    let rows: Vec<String> = (0..=10)
        .map(|i| {
            let seconds = 10.0 * f64::from(i);
            let part = of_start * (-seconds / 100.0).exp();
            format!("[{seconds}, {:.1}]", 202.65 * part / (1.0 - part))
        })
        .collect();
    pressure(name, &rows.join(", "), lines)
}

const ORIFICE: &str = "[assumptions]\nlaw = \"orifice\"\n[isolate]\nsites = [\"cover\"]";
const SEAM_ALONE: &str = "[isolate]\nsites = [\"cover\"]\n[heat]\nsettled_for = \"30 s\"";

/// Areas of all runs are told at the lowest start, and a limit on the flow is converted there. The same gap from 50 and from 25 kPa
/// then has one area; by its own runs it has 1.36 times as much from 50 kPa as from 25 (sqrt(2) at small pressures).
#[test]
fn areas_of_unlike_starts_are_told_at_one_pressure() {
    let runs = through_a_gap("high", 50.0, "") + &through_a_gap("low", 25.0, "");
    let lines = format!("{SEAM_ALONE}\n[limit]\nmax_flow = \"10 cm3/min\"");
    let located = locate(&sheet(&lines, &runs)).unwrap();
    let found = &located.directions[0];
    assert!((found.at.pascals() - 25e3).abs() < 100.0, "{:?}", found.at);
    let [high, low] = found.runs.as_slice() else {
        panic!("two runs")
    };
    let ratio = high.area.si().value / low.area.si().value;
    assert!((ratio - 1.0).abs() < 0.02, "{ratio}");
    assert!(high.allowed_area_m2.is_some() && high.allowed_area_m2 == low.allowed_area_m2);
    let document = located.document();
    assert!((document.directions[0].at_gauge_pa - found.at.pascals()).abs() < f64::EPSILON);
}

/// An orifice has one area at every pressure: where the sheet says that it is one, areas stay to the last digit.
#[test]
fn areas_of_a_stated_orifice_stay() {
    let runs = through_a_gap("high", 50.0, "") + &through_a_gap("low", 25.0, "");
    let sheet = sheet(ORIFICE, &runs);
    let found = locate(&sheet).unwrap().directions.remove(0);
    for (told, run) in found.runs.iter().zip(Session::assess(&sheet).unwrap().runs) {
        let Outcome::Fitted(fitted) = run.assessment.outcome else {
            panic!("fitted")
        };
        assert_eq!(told.area, fitted.fit.area);
    }
}

/// Two runs with the same places open, of which one leaks many times as much as the other: nothing holds, however small each share comes
/// out. Without the second run of them the places that stay are told to hold.
#[test]
fn places_of_runs_that_contradict_each_other_do_not_hold() {
    let capped = pressure(
        "seal capped",
        "[0, 20.0], [20, 19.8], [40, 19.6], [60, 19.4], [80, 19.2]",
        "blanked = [\"crank seal, drive side\"]",
    );
    let again = pressure(
        "seal capped again",
        "[0, 20.0], [20, 17.0], [40, 14.4], [60, 12.2], [80, 10.4]",
        "blanked = [\"crank seal, drive side\"]",
    );
    let open = pressure(
        "all open",
        "[0, 55.0], [20, 54.1], [40, 53.3], [60, 52.5], [80, 51.7]",
        "",
    );
    let limit = "[limit]\nmax_area = \"0.01 mm2\"\n[heat]\nsettled_for = \"30 s\"";
    let verdicts = |runs: &str| {
        let found = locate(&sheet(limit, runs)).unwrap().directions.remove(0);
        let each = found.found.shares.iter();
        let each: Vec<Option<Verdict>> = each.map(|share| found.verdict_on(share)).collect();
        (each, found.verdict(), found.found.contradicts_itself())
    };
    let (sound, all, contradict) = verdicts(&format!("{open}{capped}"));
    assert!(
        sound.contains(&Some(Verdict::Holds)) && all == Some(Verdict::Holds),
        "{sound:?}"
    );
    assert!(!contradict);
    let (each, all, contradict) = verdicts(&format!("{open}{capped}{again}"));
    assert!(contradict);
    assert!(
        !each.contains(&Some(Verdict::Holds)) && all == Some(Verdict::Undecided),
        "{each:?}"
    );
}
