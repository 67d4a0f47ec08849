//! `casetight isolate`.

use std::fmt::Write;
use std::path::Path;

use casetight::limit::Verdict;
use casetight_bench::isolate::{Place, Share, Stage};
use casetight_bench::locate::{InDirection, Located, locate};
use casetight_bench::record::Site;
use casetight_report::words::{number, title};

use crate::brief::{self, How, Manner};
use crate::files::Files;
use crate::words::{HEADING, WARNING, hole_mm, style, wrapped};
use crate::{Answer, CommandError, exit_of, in_json};

/// From here on a table of areas reads better in mm2 \[m2\].
const LARGE_AREA: f64 = 1e-7;

/// Behind an area that the runs alone do not fix.
const MARK: &str = " *";

pub(crate) fn run(files: &Files, path: &Path, manner: Manner) -> Result<Answer, CommandError> {
    let sheet = files.sheet(path)?;
    let located = locate(&sheet).map_err(|source| CommandError::Locate {
        file: path.display().to_string(),
        source,
    })?;
    let text = match manner.how() {
        How::Json => in_json(&located.document())?,
        How::Detail => say(title(&sheet), &located),
        How::Brief => brief::isolate::say_located(title(&sheet), &located),
    };
    let exit = exit_of(located.worst());
    Ok(Answer { text, exit })
}

fn say(title: &str, located: &Located) -> String {
    let mut out = String::new();
    // Writing to a string can't fail.
    let _ = writeln!(out, "{HEADING}{title}{HEADING:#}");
    for direction in &located.directions {
        say_direction(&mut out, direction);
    }
    if !located.notes.is_empty() {
        let _ = writeln!(out, "\n{HEADING}Notes{HEADING:#}");
        for note in &located.notes {
            out.push_str(&wrapped("  ", &format!("{note}.")));
        }
    }
    let mut cautions: Vec<&str> = Vec::new();
    for caution in located.directions.iter().flat_map(|d| &d.next.cautions) {
        if !cautions.contains(caution) {
            cautions.push(caution);
        }
    }
    if !cautions.is_empty() {
        let _ = writeln!(out, "\n{WARNING}Before the next step{WARNING:#}");
        for caution in cautions {
            out.push_str(&wrapped("  ", caution));
        }
    }
    out
}

/// A row of the table: place, area, hole, probability to be the worst, verdict.
type Row = [String; 5];

/// What a table's areas are multiplied by, and its unit.
type Scale = (f64, &'static str);

fn say_direction(out: &mut String, of: &InDirection) {
    say_verdict(out, of);
    let scale = scale(of);
    let rows = rows(of, scale);
    table(out, &rows);
    out.push_str(&wrapped("  ", &format!("{}.", legend(of, &rows))));
    say_runs(out, of, scale);
    for sprayed in &of.evidence.soap {
        out.push_str(&wrapped(
            "  Soap    ",
            &format!("{}.", sprayed.words(of.pressure_unit)),
        ));
    }
    out.push_str(&wrapped("  Check   ", &format!("{}.", check(of))));
    let next = if of.verdict() == Some(Verdict::Holds) {
        format!(
            "Every site that was open is within the limit. To know the largest of what is left: {}.",
            of.next
        )
    } else {
        format!("{}.", of.next)
    };
    out.push_str(&wrapped("  Next    ", &next));
}

fn say_verdict(out: &mut String, of: &InDirection) {
    let verdict = of.verdict();
    let style = style(verdict);
    let not_judged = if of.runs.iter().all(|run| run.rig_alone) {
        "the rig alone, which is not judged"
    } else {
        "no limit stated"
    };
    let words = verdict.map_or(not_judged.to_owned(), |verdict| match verdict {
        Verdict::Holds => "every site that was open holds".to_owned(),
        Verdict::Leaks => "a site leaks".to_owned(),
        other => other.to_string(),
    });
    let _ = writeln!(
        out,
        "\n{HEADING}{}{HEADING:#}: {style}{words}{style:#}",
        of.direction
    );
}

/// A table has one unit; the small leaks are what it is read for.
fn scale(of: &InDirection) -> Scale {
    let ends = of
        .found
        .shares
        .iter()
        .flat_map(|s| [s.area.si().low, s.area.si().high]);
    let largest = ends.filter(|area| area.is_finite()).fold(0.0, f64::max);
    if largest < LARGE_AREA {
        (1e12, "um2")
    } else {
        (1e6, "mm2")
    }
}

/// The table: its heads, then the places.
fn rows(of: &InDirection, (factor, unit): Scale) -> Vec<Row> {
    let mut rows: Vec<Row> = vec![[
        "Place".to_owned(),
        format!("CdA, {unit}"),
        format!("hole, mm (Cd {})", of.discharge_coefficient),
        "worst".to_owned(),
        String::new(),
    ]];
    for share in &of.found.shares {
        rows.extend(rows_of(of, share, factor));
    }
    rows
}

/// How the table's rows are to be read.
fn legend(of: &InDirection, rows: &[Row]) -> String {
    let level = of
        .found
        .shares
        .first()
        .map_or(0.0, |share| share.area.level);
    let mut legend = format!(
        "In brackets the {} % interval; all areas are those at {}, a run's that of all its open places",
        100.0 * level,
        of.pressure_unit.shown(of.at.pascals(), 3)
    );
    if rows.iter().any(|row| row[0].starts_with("+ ")) {
        legend.push_str("; places joined by + were never told apart, and the area is their sum");
    }
    if rows.iter().any(|row| row[1].ends_with(MARK)) {
        legend.push_str("; * the runs alone do not fix it: it rests on no area being below zero, and on bounds such as soap");
    }
    legend
}

/// Whether the runs fit together, and what all their areas share.
fn check(of: &InDirection) -> String {
    let found = &of.found;
    let fit = if found.degrees_of_freedom == 0 {
        "there are as many unknowns as runs, and nothing checks them against each other".to_owned()
    } else {
        format!(
            "chi-squared {:.2} on {} degree{} of freedom: runs that fit together as badly or worse happen by chance with {:.0} %",
            found.chi_squared,
            found.degrees_of_freedom,
            if found.degrees_of_freedom == 1 {
                ""
            } else {
                "s"
            },
            100.0 * found.probability_of_misfit
        )
    };
    let shared = 100.0 * of.evidence.shared_relative_uncertainty;
    let shared = if shared > 0.0 {
        format!(". All areas share {shared:.1} % by volume and temperature")
    } else {
        String::new()
    };
    format!("{fit}{shared}")
}

/// The limit, and what leaked in each run; its own limit beside it where the runs are not of one volume.
fn say_runs(out: &mut String, of: &InDirection, (factor, unit): Scale) {
    let mut allowed = of.runs.iter().filter_map(|run| run.allowed_area_m2);
    let first = allowed.next();
    let one_volume = allowed.all(|other| Some(other) == first);
    if let Some(strictest) = of.allowed_area_m2 {
        let text = format!(
            "at most {} {unit} in {} volume",
            number(strictest * factor),
            if one_volume {
                "this"
            } else {
                "the strictest run's"
            }
        );
        out.push_str(&wrapped("  Limit   ", &text));
    }
    for run in &of.runs {
        let area = run.area.si();
        let best = if area.high.is_finite() {
            area.value
        } else {
            area.low
        };
        let area = compact([best, area.low, area.high], |area| area * factor);
        let limit = run
            .allowed_area_m2
            .filter(|_| !one_volume)
            .map_or(String::new(), |allowed| {
                format!("; its limit is {} {unit}", number(allowed * factor))
            });
        let text = format!("{}: {area} {unit}{limit}", run.name);
        out.push_str(&wrapped("  Run     ", &text));
    }
}

/// The rows of a share: one a place, the numbers on the first.
fn rows_of(of: &InDirection, share: &Share<Site>, factor: f64) -> Vec<Row> {
    let diameter = |area: f64| hole_mm(area, of.discharge_coefficient);
    let area = share.area.si();
    let mut rows = Vec::new();
    for (at, spot) in share.spots.iter().enumerate() {
        let joined = if at == 0 { "" } else { "+ " };
        let mut row = [const { String::new() }; 5];
        row[0] = format!("{joined}{spot}");
        if spot.stage == Stage::Now {
            row[3] = of
                .probability_worst(&spot.place)
                .map_or("-".to_owned(), percent);
        }
        if at == 0 {
            let mark = if share.told_apart { "" } else { MARK };
            let shown = |rising: &dyn Fn(f64) -> f64| {
                if share.only_bubbles() {
                    bubbling(area.high, rising)
                } else {
                    compact([area.value, area.low, area.high], rising)
                }
            };
            row[1] = shown(&|area| area * factor) + mark;
            row[2] = shown(&diameter);
            row[4] = match of.verdict_on(share) {
                Some(verdict) => verdict.to_string(),
                None if spot.place == Place::Rig => "not judged".to_owned(),
                None => String::new(),
            };
        }
        rows.push(row);
    }
    rows
}

/// A place that bubbles and was not told apart: bubbles say that it leaks, and no size.
fn bubbling(high: f64, rising: impl Fn(f64) -> f64) -> String {
    if high.is_finite() {
        format!("bubbles, at most {}", number(rising(high)))
    } else {
        "bubbles".to_owned()
    }
}

/// Value, lower and upper end as "77.6 (62.4 to 93.0)", "at most 93.0", "at least 62.4".
fn compact([value, low, high]: [f64; 3], rising: impl Fn(f64) -> f64) -> String {
    let shown = |end: f64| number(rising(end));
    if high.is_infinite() && low <= 0.0 {
        "not known".to_owned()
    } else if high.is_infinite() {
        format!("at least {}", shown(low))
    } else if low > 0.0 {
        format!("{} ({} to {})", shown(value), shown(low), shown(high))
    } else {
        format!("at most {}", shown(high))
    }
}

/// Of 512 drawn engines: no more than two digits, never certain.
fn percent(p: f64) -> String {
    match (100.0 * p).round() {
        p if p > 99.0 => "over 99 %".to_owned(),
        p if p < 1.0 => "under 1 %".to_owned(),
        p => format!("{p} %"),
    }
}

fn table(out: &mut String, rows: &[Row]) {
    let mut widths = [0; 5];
    for row in rows {
        for (width, cell) in widths.iter_mut().zip(row) {
            *width = cell.chars().count().max(*width);
        }
    }
    for row in rows {
        let mut line = String::from("  ");
        for (cell, width) in row.iter().zip(widths) {
            let _ = write!(line, "{cell:<width$}  ");
        }
        let _ = writeln!(out, "{}", line.trim_end());
    }
}
