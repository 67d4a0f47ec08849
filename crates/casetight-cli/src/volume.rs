//! `casetight volume`.

use std::fmt::Write;
use std::path::Path;

use casetight::quantity::{TradeUnits, Volume};
use casetight::sheet::{Sheet, Space};
use casetight::volume::{TestedVolume, TurnPoint};
use serde::Serialize;
use uom::si::angle::degree;
use uom::si::length::meter;
use uom::si::volume::cubic_meter;

use crate::words::{HEADING, number};
use crate::{ALL_HOLD, Answer, CommandError, files};

/// Steps of the table over a turn: each 30 degrees.
const ANGLES: u16 = 12;

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
    volume_m3: f64,
    standard_uncertainty_m3: f64,
    method: String,
    parts: Vec<PartVolume>,
    shares: Vec<Share>,
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

#[derive(Debug, Serialize)]
struct Turn {
    after_top_deg: f64,
    travel_m: f64,
    case_side_m3: f64,
    cylinder_side_m3: Option<f64>,
}

pub(crate) fn run(path: &Path, json: bool) -> Result<Answer, CommandError> {
    let sheet = files::read_sheet(path)?;
    let runs = sheet
        .runs
        .iter()
        .map(|run| Ok((run.name.as_str(), sheet.volume_for(run.piston)?)))
        .collect::<Result<Vec<_>, CommandError>>()?;
    let turn = match &sheet.space {
        Space::Engine { dimensions, .. } => dimensions.engine()?.over_a_turn(ANGLES)?,
        Space::Measured(_) => Vec::new(),
    };
    let text = if json {
        let document = VolumeDocument {
            format: 1,
            runs: runs
                .iter()
                .map(|(name, tested)| run_volume(name, tested))
                .collect(),
            turn: turn.iter().map(turn_row).collect(),
        };
        let mut text = serde_json::to_string_pretty(&document)?;
        text.push('\n');
        text
    } else {
        say(&sheet, &runs, &turn)
    };
    Ok(Answer {
        text,
        exit: ALL_HOLD,
    })
}

fn run_volume(name: &str, tested: &TestedVolume) -> RunVolume {
    let si = |v: Volume| v.get::<cubic_meter>();
    RunVolume {
        name: name.to_owned(),
        volume_m3: si(tested.volume().value()),
        standard_uncertainty_m3: si(tested.volume().standard_uncertainty()),
        method: tested.method().to_string(),
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

fn say(sheet: &Sheet, runs: &[(&str, TestedVolume)], turn: &[TurnPoint]) -> String {
    let mut out = String::new();
    // Writing to a string can't fail.
    let _ = writeln!(out, "{HEADING}{}{HEADING:#}", sheet.title);
    for (name, tested) in runs {
        let _ = writeln!(
            out,
            "\n{HEADING}{name}{HEADING:#}: {} +- {} (standard uncertainty), {}",
            tested.volume().value().trade(),
            tested.volume().standard_uncertainty().trade().digits(2),
            tested.method()
        );
        for part in tested.parts() {
            let _ = writeln!(
                out,
                "  {:<28} {:>8} cm3 +- {}",
                part.name,
                number(cubic_centimeters(part.volume.value())),
                number(cubic_centimeters(part.volume.standard_uncertainty()))
            );
        }
        for c in tested
            .contributions()
            .iter()
            .filter(|c| c.variance_share >= 0.005)
        {
            let _ = writeln!(
                out,
                "  {:>3.0} % of the uncertainty comes from {}",
                100.0 * c.variance_share,
                c.name
            );
        }
    }
    if !turn.is_empty() {
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
    out
}
