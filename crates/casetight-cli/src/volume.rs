//! `casetight volume`.

use std::fmt::Write;
use std::path::Path;

use casetight::quantity::Volume;
use casetight::volume::{Combined, Member, TestedVolume, TurnPoint};
use casetight_bench::narrow::VolumeOutlook;
use casetight_bench::sheet::{Run, Sheet, Volumes};
use casetight_report::words::{how_read, number, title, volume_in_words};
use serde::Serialize;
use uom::si::angle::degree;
use uom::si::length::meter;
use uom::si::volume::cubic_meter;

use crate::brief::{self, How, Manner};
use crate::files::Files;
use crate::narrowed::{Narrowed, OutlookDocument, outlook_in_words};
use crate::words::{HEADING, WARNING, wrapped};
use crate::{ALL_HOLD, Answer, CommandError, in_json};

/// Steps of the table over a turn: each 30 degrees.
const ANGLES: u16 = 12;

/// Parts of the uncertainty below this are not shown.
const SHOWN_SHARE: f64 = 0.005;

/// The volumes as one JSON document.
#[derive(Debug, Serialize)]
struct VolumeDocument {
    format: u32,
    runs: Vec<RunVolume>,
    turn: Vec<Turn>,
}

#[derive(Debug, Serialize)]
struct RunVolume {
    name: String,
    #[serde(flatten)]
    tested: Tested,
    methods: Vec<Tested>,
    left_out: Vec<&'static str>,
    combination: Option<Combination>,
    outlook: OutlookDocument,
}

#[derive(Debug, Serialize)]
struct Tested {
    volume_m3: f64,
    standard_uncertainty_m3: f64,
    /// How the uncertainty was read, where its number does not stand on the sheet.
    #[serde(skip_serializing_if = "Option::is_none")]
    uncertainty_read_as: Option<String>,
    method: &'static str,
    parts: Vec<PartVolume>,
    shares: Vec<Share>,
    assumptions: &'static [&'static str],
}

#[derive(Debug, Serialize)]
struct PartVolume {
    name: String,
    volume_m3: f64,
    standard_uncertainty_m3: f64,
}

#[derive(Debug, Serialize)]
struct Share {
    input: String,
    variance_share: f64,
}

/// How the methods were weighed, and how well they agree.
#[derive(Debug, Serialize)]
struct Combination {
    members: Vec<Weighed>,
    chi_squared: f64,
    degrees_of_freedom: usize,
    probability: Option<f64>,
    birge_ratio: Option<f64>,
    agree: bool,
    taken_as_independent: Vec<String>,
    text: String,
}

#[derive(Debug, Serialize)]
struct Weighed {
    method: &'static str,
    weight: f64,
    pull: Option<f64>,
}

#[derive(Debug, Serialize)]
struct Turn {
    after_top_deg: f64,
    travel_m: f64,
    case_side_m3: f64,
    cylinder_side_m3: Option<f64>,
}

/// Runs of one volume.
struct Group<'s> {
    names: Vec<&'s str>,
    volumes: Volumes,
    tested: TestedVolume,
    outlook: VolumeOutlook,
    leak: Option<Narrowed<'s>>,
}

pub(crate) fn run(files: &Files, path: &Path, manner: Manner) -> Result<Answer, CommandError> {
    let sheet = files.sheet(path)?;
    let groups = groups(&sheet, manner.how())?;
    let engine = match sheet.space.dimensions() {
        Some(dimensions) => dimensions.engine()?,
        None => None,
    };
    let turn = match engine {
        Some(engine) => engine.over_a_turn(ANGLES)?,
        None => Vec::new(),
    };
    let text = match manner.how() {
        How::Json => {
            let document = VolumeDocument {
                format: 1,
                runs: groups.iter().flat_map(run_volumes).collect(),
                turn: turn.iter().map(turn_row).collect(),
            };
            in_json(&document)?
        }
        How::Detail => say(&sheet, &groups, &turn),
        How::Brief => {
            let of_runs = groups.iter().map(|group| brief::volume::OfRuns {
                names: named(&group.names),
                volumes: &group.volumes,
                tested: &group.tested,
                outlook: &group.outlook,
            });
            brief::volume::say_volumes(&sheet, of_runs)
        }
    };
    Ok(Answer {
        text,
        exit: ALL_HOLD,
    })
}

/// The runs of the engine by piston position, in the sheet's order; without runs, what needs no position.
fn groups(sheet: &Sheet, how: How) -> Result<Vec<Group<'_>>, CommandError> {
    let mut pistons = Vec::new();
    let of_engine = || sheet.runs.iter().filter(|run| run.rig_alone.is_none());
    for run in of_engine() {
        if !pistons.contains(&run.piston) {
            pistons.push(run.piston);
        }
    }
    let mut groups = Vec::new();
    for piston in pistons {
        let runs: Vec<&Run> = of_engine().filter(|run| run.piston == piston).collect();
        let outlook = sheet.volume_outlook(piston)?;
        groups.push(Group {
            names: runs.iter().map(|run| run.name.as_str()).collect(),
            volumes: sheet.volumes_for(piston)?,
            tested: sheet.volume_for(piston)?,
            leak: match how {
                // The first screen does not tell it.
                How::Brief => None,
                _ => Narrowed::of(sheet, &runs, &outlook),
            },
            outlook,
        });
    }
    if groups.is_empty()
        && let Ok(volumes) = sheet.volumes_for(None)
    {
        groups.push(Group {
            names: vec!["no run yet"],
            volumes,
            tested: sheet.volume_for(None)?,
            outlook: sheet.volume_outlook(None)?,
            leak: None,
        });
    }
    Ok(groups)
}

fn run_volumes<'g>(group: &'g Group<'_>) -> impl Iterator<Item = RunVolume> + 'g {
    group.names.iter().map(|name| RunVolume {
        name: (*name).to_owned(),
        tested: tested(&group.tested),
        methods: group.volumes.each.iter().map(tested).collect(),
        left_out: group.volumes.left_out.iter().map(|m| m.words()).collect(),
        combination: group
            .volumes
            .combined
            .as_ref()
            .map(|combined| combination(combined, &group.volumes)),
        outlook: OutlookDocument::new(&group.outlook, group.leak.as_ref()),
    })
}

fn tested(tested: &TestedVolume) -> Tested {
    let si = |v: Volume| v.get::<cubic_meter>();
    Tested {
        volume_m3: si(tested.volume().value()),
        standard_uncertainty_m3: si(tested.volume().standard_uncertainty()),
        uncertainty_read_as: how_read(tested.volume()),
        method: tested.method().words(),
        parts: tested
            .parts()
            .iter()
            .map(|part| PartVolume {
                name: part.name.to_string(),
                volume_m3: si(part.volume.value()),
                standard_uncertainty_m3: si(part.volume.standard_uncertainty()),
            })
            .collect(),
        shares: tested
            .contributions()
            .iter()
            .map(|c| Share {
                input: c.name.to_string(),
                variance_share: c.variance_share,
            })
            .collect(),
        assumptions: tested.assumptions(),
    }
}

fn combination(combined: &Combined, volumes: &Volumes) -> Combination {
    Combination {
        members: combined
            .members()
            .iter()
            .map(|member| Weighed {
                method: member.method.words(),
                weight: member.weight,
                pull: member.pull,
            })
            .collect(),
        chi_squared: combined.chi_squared(),
        degrees_of_freedom: combined.degrees_of_freedom(),
        probability: combined.probability(),
        birge_ratio: combined.birge_ratio(),
        agree: combined.agree(),
        taken_as_independent: volumes
            .maybe_shared()
            .into_iter()
            .map(str::to_owned)
            .collect(),
        text: plainly(combined),
    }
}

fn turn_row(point: &TurnPoint) -> Turn {
    Turn {
        after_top_deg: point.after_top.get::<degree>(),
        travel_m: point.travel.value().get::<meter>(),
        case_side_m3: point.case_side.value().get::<cubic_meter>(),
        cylinder_side_m3: point
            .cylinder_side
            .as_ref()
            .map(|v| v.value().get::<cubic_meter>()),
    }
}

fn cubic_centimeters(volume: Volume) -> f64 {
    volume.get::<cubic_meter>() * 1e6
}

/// What the methods say of each other, in plain sentences.
fn plainly(combined: &Combined) -> String {
    let off = farthest_off(combined).map_or(String::new(), |off| format!(" {off}"));
    format!("{combined}.{off}")
}

/// Of methods that disagree, which is farthest off, and what to do.
pub(crate) fn farthest_off(combined: &Combined) -> Option<String> {
    if combined.agree() {
        return None;
    }
    let pull = |member: &&Member| member.pull.map_or(0.0, f64::abs);
    let members = combined.members().iter();
    let off = members.max_by(|a, b| pull(a).total_cmp(&pull(b)))?;
    let side = if off.pull.is_some_and(|pull| pull < 0.0) {
        "below"
    } else {
        "above"
    };
    Some(format!(
        "Farthest off is the volume {}, {} of its standard uncertainties {side} the rest. One of them is of another space (hose, piston \
         position), or has an uncertainty stated too small: find out before you rely on the mean.",
        off.method,
        number(pull(&off)),
    ))
}

fn say(sheet: &Sheet, groups: &[Group<'_>], turn: &[TurnPoint]) -> String {
    let mut out = String::new();
    // Writing to a string can't fail.
    let _ = writeln!(out, "{HEADING}{}{HEADING:#}", title(sheet));
    for group in groups {
        let _ = writeln!(
            out,
            "\n{HEADING}{}{HEADING:#}: {}, {}",
            named(&group.names),
            volume_in_words(group.tested.volume()),
            group.tested.method()
        );
        match &group.volumes.combined {
            Some(combined) => say_combined(&mut out, group, combined),
            None => say_method(&mut out, &group.tested, "  "),
        }
        out.push_str(&wrapped(
            "  ",
            &outlook_in_words(&group.outlook, group.leak.as_ref()),
        ));
        for caution in group.outlook.cautions() {
            out.push_str(&wrapped("    ", caution));
        }
    }
    if !turn.is_empty() {
        say_turn(&mut out, turn);
    }
    out
}

/// The runs of a group, the first few by name.
fn named(names: &[&str]) -> String {
    match names {
        [first, second, _, rest @ ..] if !rest.is_empty() => {
            format!("{first}; {second}; {} runs more", rest.len() + 1)
        }
        names => names.join("; "),
    }
}

/// Parts, where the uncertainty comes from, and what is taken for granted.
fn say_method(out: &mut String, tested: &TestedVolume, indent: &str) {
    // One part is the whole again.
    for part in tested.parts().iter().filter(|_| tested.parts().len() > 1) {
        let _ = writeln!(
            out,
            "{indent}{:<28} {:>8} cm3 +- {}{}",
            part.name,
            number(cubic_centimeters(part.volume.value())),
            number(cubic_centimeters(part.volume.standard_uncertainty())),
            how_read(&part.volume).map_or(String::new(), |how| format!(" ({how})"))
        );
    }
    let contributions = tested.contributions().iter();
    for c in contributions.filter(|c| c.variance_share >= SHOWN_SHARE) {
        let _ = writeln!(
            out,
            "{indent}{:>3.0} % of the uncertainty comes from {}",
            100.0 * c.variance_share,
            c.name
        );
    }
    let assumed = tested.assumptions().join("; ");
    out.push_str(&wrapped(
        &format!("{indent}Assumes "),
        &format!("{assumed}."),
    ));
}

fn say_combined(out: &mut String, group: &Group<'_>, combined: &Combined) {
    let _ = writeln!(
        out,
        "  {:<42} {:>10}    {:>8} {:>7} {:>7}",
        "method", "cm3", "+-", "weight", "off by"
    );
    for member in combined.members() {
        let off = member
            .pull
            .map_or("-".to_owned(), |pull| format!("{pull:+.1} u"));
        let _ = writeln!(
            out,
            "  {:<42} {:>10} +- {:>8} {:>5.0} % {off:>7}",
            member.method.words(),
            number(cubic_centimeters(member.volume.value())),
            number(cubic_centimeters(member.volume.standard_uncertainty())),
            100.0 * member.weight,
        );
    }
    for method in &group.volumes.left_out {
        let text = format!("{method}: says nothing of this piston position, and is left out.");
        out.push_str(&wrapped("  ", &text));
    }
    if combined.agree() {
        out.push_str(&wrapped("  ", &plainly(combined)));
    } else {
        let _ = write!(out, "{WARNING}");
        out.push_str(&wrapped("  ", &plainly(combined)));
        let _ = write!(out, "{WARNING:#}");
    }
    let independent = group.volumes.maybe_shared();
    if !independent.is_empty() {
        let text = format!(
            "Taken as independent, though several methods have one of that name: {}. If they are one thing, list them in \
             `shared` under [volume].",
            independent.join(", ")
        );
        out.push_str(&wrapped("  ", &text));
    }
    for tested in &group.volumes.each {
        let _ = writeln!(out, "  {HEADING}{}{HEADING:#}", tested.method());
        say_method(out, tested, "    ");
    }
}

fn say_turn(out: &mut String, turn: &[TurnPoint]) {
    let _ = writeln!(out, "\n{HEADING}Over a turn{HEADING:#} (rig not included)");
    let _ = writeln!(
        out,
        "  {:>10} {:>10} {:>14} {:>14}",
        "after top", "travel", "case side", "cylinder side"
    );
    for point in turn {
        let cylinder = point.cylinder_side.as_ref().map_or("-".to_owned(), |v| {
            format!("{} cm3", number(cubic_centimeters(v.value())))
        });
        let _ = writeln!(
            out,
            "  {:>6} deg {:>7} mm {:>10} cm3 {:>14}",
            number(point.after_top.get::<degree>()),
            number(point.travel.value().get::<meter>() * 1e3),
            number(cubic_centimeters(point.case_side.value())),
            cylinder
        );
    }
}
