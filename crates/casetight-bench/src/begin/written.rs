//! The sheet that the replies make, with a remark where something is assumed.

use std::fmt::Write as _;

use super::answers::{Answers, Topic};
use super::questions::{
    AIRS, Air, BETWEEN, FACES, Face, KNOWN, Known, LIMITS, MIDDLING, PISTONS, SIZES, Whose, gauge,
    part_of, side, title,
};
use crate::sheet::FORMAT;
use casetight::limit::Rule;

/// The standard uncertainty of a measured volume, where none is known, as a part of it (common practice, no source).
const WITHIN: f64 = 0.05;

/// The sheet. What was not asked yet is assumed, as what is not known is. A run that is yet to be held keeps its readings in the trace.
pub(super) fn sheet(answers: &Answers, trace: Option<&str>) -> String {
    let mut sheet = Written(
        "# A bench sheet: what was tested, with what, and what the needle did.\n\
         # What comes after # is a remark. Write here what you come to know later, and ask again.\n"
            .to_owned(),
    );
    sheet.bare("format", FORMAT);
    sheet.text("title", title(answers));
    volume(&mut sheet, answers);
    ambient(&mut sheet, answers);
    of_gauge(&mut sheet, answers);
    limit(&mut sheet, answers);
    run(&mut sheet, answers, trace);
    sheet.0
}

/// Writing to a string can't fail; its `Result` is dropped here once.
struct Written(String);

impl Written {
    fn line(&mut self, line: std::fmt::Arguments<'_>) {
        let _ = writeln!(self.0, "{line}");
    }

    fn table(&mut self, name: &str) {
        self.line(format_args!("\n{name}"));
    }

    fn remark(&mut self, words: &str) {
        self.line(format_args!("# {words}"));
    }

    fn bare(&mut self, key: &str, value: impl std::fmt::Display) {
        self.line(format_args!("{key} = {value}"));
    }

    fn text(&mut self, key: &str, value: &str) {
        self.bare(key, toml::Value::String(value.to_owned()));
    }
}

fn volume(sheet: &mut Written, answers: &Answers) {
    if let Some(value) = answers.text(Topic::Measured) {
        sheet.table("[volume]");
        sheet.text("value", value);
        if let Some(within) = answers.text(Topic::MeasuredWithin) {
            sheet.text("uncertainty", within);
        } else {
            sheet.remark("Not known; a twentieth is assumed.");
            sheet.text("uncertainty", &twentieth(value));
        }
        return;
    }
    sheet.table("[engine]");
    let lengths = (answers.text(Topic::Bore), answers.text(Topic::Stroke));
    match (answers.chosen(Topic::Known, KNOWN), lengths) {
        (Some(Known::BoreAndStroke), (Some(bore), Some(stroke))) => {
            sheet.text("bore", bore);
            sheet.text("stroke", stroke);
        }
        _ => match answers.text(Topic::Displacement) {
            Some(displacement) => sheet.text("displacement", displacement),
            None => of_size(sheet, answers),
        },
    }
    sheet.remark(
        "`casetight volume` says what to measure, so that the volume under test is better known.",
    );
    if let Some(rig) = answers.text(Topic::Rig) {
        sheet.table("[rig]");
        sheet.remark("Hose and gauge, up to the engine.");
        sheet.text("volume", rig);
    }
}

/// By the machine's size.
fn of_size(sheet: &mut Written, answers: &Answers) {
    let (displacement, within) = answers.chosen(Topic::Size, SIZES).unwrap_or(MIDDLING);
    sheet.remark("Not known; assumed by the machine's size. The number on its plate or in its manual does better.");
    sheet.text("displacement", displacement);
    sheet.text("displacement_uncertainty", within);
}

fn twentieth(volume: &str) -> String {
    use casetight::quantity::{TradeUnits, Volume};
    let parsed = Volume::parse(volume);
    parsed.map_or_else(|_| volume.to_owned(), |v| (v * WITHIN).trade().to_string())
}

fn ambient(sheet: &mut Written, answers: &Answers) {
    sheet.table("[ambient]");
    let pressure = answers.text(Topic::Barometer);
    let altitude = answers.text(Topic::Altitude);
    match (answers.chosen(Topic::Air, AIRS), pressure, altitude) {
        (Some(Air::Report), Some(pressure), Some(altitude)) => {
            sheet.text("pressure", pressure);
            sheet.text("pressure_at", "sea level");
            sheet.text("altitude", altitude);
        }
        (Some(Air::Barometer), Some(pressure), _) => sheet.text("pressure", pressure),
        (Some(Air::Altitude), _, Some(altitude)) => sheet.text("altitude", altitude),
        _ => {
            sheet.remark("Not known; the usual pressure of any place up to 1000 m. The altitude alone does better.");
            sheet.text("pressure", "95.6 kPa");
            sheet.text("pressure_uncertainty", "3.5 kPa");
        }
    }
    if let Some(temperature) = answers.text(Topic::Temperature) {
        sheet.text("temperature", temperature);
    } else {
        sheet.remark("Not known; any usual shop.");
        sheet.text("temperature", "20 C");
        sheet.text("temperature_uncertainty", "6 K");
    }
}

fn of_gauge(sheet: &mut Written, answers: &Answers) {
    let gauge = gauge(answers);
    let is_display = answers.chosen(Topic::Face, FACES) == Some(Face::Display);
    let (key, coarse) = if is_display {
        ("resolution", gauge.coarse_digit)
    } else {
        ("division", gauge.coarse_mark)
    };
    sheet.table("[gauge]");
    sheet.text("unit", gauge.unit);
    let step = answers.text(Topic::Step);
    if step.is_none() {
        sheet.remark("Not known; a coarse one is assumed.");
    }
    let step = step.unwrap_or(coarse);
    sheet.text(key, step);
    let part = answers.chosen(Topic::Between, BETWEEN).unwrap_or(1.0);
    if part < 1.0
        && !is_display
        && let Ok(readable) = part_of(step, part, gauge.unit)
    {
        sheet.text("readable", &readable);
    }
}

fn limit(sheet: &mut Written, answers: &Answers) {
    match answers.chosen(Topic::Limit, LIMITS) {
        Some(Whose::Practice) => {
            sheet.table("[limit]");
            sheet.remark("The engine maker's manual comes first, wherever it has a limit.");
            sheet.text("rule", Rule::OnePsiAMinute.name());
        }
        Some(Whose::Manual) => {
            let keys = [
                ("max_drop", Topic::Drop),
                ("from", Topic::From),
                ("over", Topic::Over),
            ];
            // Asked for one after the other: none of them says anything alone.
            let all = keys.map(|(key, topic)| answers.text(topic).map(|text| (key, text)));
            if all.iter().all(Option::is_some) {
                sheet.table("[limit]");
                sheet.remark("By the engine maker's manual.");
                for (key, text) in all.into_iter().flatten() {
                    sheet.text(key, text);
                }
            }
        }
        None => {
            sheet.remark("No [limit] is stated: the leak is measured, and not judged.");
        }
    }
}

fn run(sheet: &mut Written, answers: &Answers, trace: Option<&str>) {
    // One reading is no run yet.
    let is_planned = answers.readings.len() < 2 && trace.is_none();
    if is_planned {
        sheet.table("[plan]");
        sheet.remark("The next run, as it is meant to be.");
    } else {
        sheet.table("[[run]]");
        sheet.text("name", side(answers));
    }
    sheet.text("direction", side(answers));
    if let Some(piston) = answers.chosen(Topic::Piston, PISTONS) {
        sheet.text("piston", piston);
    }
    if is_planned {
        return;
    }
    if let Some(trace) = trace {
        sheet.text("file", trace);
        return;
    }
    if let Some(wait) = answers.text(Topic::Wait) {
        sheet.text("settled_for", wait);
    }
    sheet.remark(&format!("[seconds, {}]", gauge(answers).unit));
    sheet.line(format_args!("readings = ["));
    for reading in &answers.readings {
        sheet.line(format_args!("  [{}, {}],", reading.time_s, reading.gauge));
    }
    sheet.line(format_args!("]"));
}
