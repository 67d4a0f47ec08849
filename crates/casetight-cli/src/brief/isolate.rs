//! The first screen of `casetight isolate`.

use casetight::caution;
use casetight::limit::Verdict;
use casetight_bench::isolate::Share;
use casetight_bench::locate::{InDirection, Located, Note};
use casetight_bench::record::Site;

use super::{cautions, hole, more};
use crate::words::{HEADING, narrow, say, style};

/// Widest name of a place that the table is laid out for; a longer one pushes its size to the right.
const PLACE: usize = 36;

pub(crate) fn say_located(title: &str, located: &Located) -> String {
    let mut out = String::new();
    say!(out, "{HEADING}{title}{HEADING:#}");
    for direction in &located.directions {
        say_direction(&mut out, direction);
    }
    let first: Vec<_> = located.notes.iter().filter(|note| is_first(note)).collect();
    if !first.is_empty() {
        out.push('\n');
    }
    for note in first {
        out.push_str(&narrow("Note  ", &format!("{note}.")));
    }
    let mut proposed = located.directions.iter().flat_map(|d| &d.next.cautions);
    if proposed.clone().next().is_some() {
        let sprays = proposed.any(|caution| caution::BEFORE_SPRAYING.contains(caution));
        out.push('\n');
        cautions(&mut out, sprays);
    }
    more(&mut out);
    out
}

/// Whether a note belongs on the first screen: one that takes back what stands there.
fn is_first(note: &Note) -> bool {
    !matches!(
        note,
        Note::NeverExposed { .. } | Note::RigNotTested { .. } | Note::KnownLeak { .. }
    )
}

fn say_direction(out: &mut String, of: &InDirection) {
    let verdict = of.verdict();
    let style = style(verdict);
    say!(
        out,
        "\n{HEADING}{}{HEADING:#}: {style}{}{style:#}",
        of.direction,
        in_words(of, verdict)
    );
    let names: Vec<String> = of.found.shares.iter().map(named).collect();
    let width = names.iter().map(|name| name.chars().count()).max();
    let width = width.unwrap_or(0).min(PLACE);
    for (share, name) in of.found.shares.iter().zip(&names) {
        let found = if share.only_bubbles() {
            "bubbles".to_owned()
        } else {
            hole(share.area.si(), of.discharge_coefficient)
        };
        let verdict = of
            .verdict_on(share)
            .map_or(String::new(), |verdict| format!(", {verdict}"));
        let lead = format!("  {name:<width$}  ");
        out.push_str(&narrow(&lead, &format!("{found}{verdict}")));
    }
    out.push_str(&narrow("  Next  ", &format!("{}.", of.next)));
}

/// The answer.
fn in_words(of: &InDirection, verdict: Option<Verdict>) -> String {
    match verdict {
        Some(Verdict::Leaks) => {
            let leaks = of.found.shares.iter();
            let leaks: Vec<String> = leaks
                .filter(|share| of.verdict_on(share) == Some(Verdict::Leaks))
                .map(named)
                .collect();
            if leaks.is_empty() {
                "it leaks beyond the limit, and no one place is told yet".to_owned()
            } else {
                format!("the {} leaks beyond the limit", leaks.join(" and the "))
            }
        }
        Some(Verdict::Holds) => "every site that was open holds".to_owned(),
        Some(other) => other.to_string(),
        None if of.runs.iter().all(|run| run.rig_alone) => {
            "the rig alone, which is not judged".to_owned()
        }
        None => "no limit is stated".to_owned(),
    }
}

/// A place; of those that were never told apart the first.
fn named(share: &Share<Site>) -> String {
    match share.spots.as_slice() {
        [] => String::new(),
        [one] => one.to_string(),
        [first, more @ ..] => format!("{first} or {} more", more.len()),
    }
}
