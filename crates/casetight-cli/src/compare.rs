//! `casetight compare`.

use std::path::PathBuf;

use casetight::caution;
use casetight::estimate::Estimate;
use casetight::limit::Verdict;
use casetight::quantity::Area;
use casetight_bench::compare::document::{CompareDocument, TrendsDocument};
use casetight_bench::compare::{
    Known, Pair, Repair, SheetTrend, SheetsComparison, Test, compare_sheets, trend_of_sheets,
};
use casetight_bench::sheet::Sheet;
use casetight_report::words::{
    after_repair, area_unit, number, repair_in_words, size_in_words, title, verdict_in_words,
};

use crate::brief::{self, How, Manner};
use crate::files::Files;
use crate::words::{HEADING, WARNING, say, style, wrapped};
use crate::{Answer, CommandError, in_json};

/// Repaired, or never seen to leak: the run after holds, or, without a limit, the leak fell. Of a trend: no leak grows.
const REPAIRED: u8 = 0;
/// It still leaks, or leaks more. Of a trend: a leak grows.
const STILL_LEAKS: u8 = 1;
/// It can't be told.
const NOT_TOLD: u8 = 3;

/// A smaller scatter than this is none [%].
const TOLD_SCATTER: f64 = 0.5;

/// Which sheets, and which of their runs.
#[derive(Debug, clap::Args)]
pub(crate) struct Arguments {
    /// Bench sheets (TOML, format 1): the one before and the one after, or with --trend three or more.
    #[arg(required = true, value_name = "SHEET")]
    sheets: Vec<PathBuf>,
    /// Follow one machine over many sheets, by their dates or in the order given.
    #[arg(long)]
    trend: bool,
    /// The run of the sheet before, by its name; else runs are matched by direction and name.
    #[arg(
        long,
        value_name = "NAME",
        requires = "run_after",
        conflicts_with = "trend"
    )]
    run_before: Option<String>,
    /// The run of the sheet after, by its name.
    #[arg(
        long,
        value_name = "NAME",
        requires = "run_before",
        conflicts_with = "trend"
    )]
    run_after: Option<String>,
    /// With --trend: the run of each sheet, by its name; else the first of each direction.
    #[arg(long, value_name = "NAME", requires = "trend")]
    run: Option<String>,
    #[command(flatten)]
    manner: Manner,
}

pub(crate) fn run(files: &Files, arguments: &Arguments) -> Result<Answer, CommandError> {
    let sheets: Vec<Sheet> = arguments
        .sheets
        .iter()
        .map(|path| files.sheet(path))
        .collect::<Result<_, _>>()?;
    if arguments.trend {
        let trends = trend_of_sheets(&sheets, arguments.run.as_deref())?;
        let text = match arguments.manner.how() {
            How::Json => in_json(&TrendsDocument::from(trends.as_slice()))?,
            How::Detail => say_trends(&sheets, &trends),
            How::Brief => brief::compare::say_trends(&sheets, &trends),
        };
        let exit = if trends.iter().any(SheetTrend::grows) {
            STILL_LEAKS
        } else if trends.iter().any(|t| t.trend.growth.is_none()) {
            NOT_TOLD
        } else {
            REPAIRED
        };
        return Ok(Answer { text, exit });
    }
    let [before, after] = sheets.as_slice() else {
        return Err(CommandError::TwoSheets { got: sheets.len() });
    };
    let chosen = arguments
        .run_before
        .as_deref()
        .zip(arguments.run_after.as_deref());
    let compared = compare_sheets(before, after, chosen)?;
    let text = match arguments.manner.how() {
        How::Json => in_json(&CompareDocument::from(&compared))?,
        How::Detail => say(before, after, &compared),
        How::Brief => brief::compare::say_comparison(before, after, &compared),
    };
    let exit = match compared.repair {
        Repair::Repaired | Repair::Holds => REPAIRED,
        Repair::StillLeaks => STILL_LEAKS,
        _ => NOT_TOLD,
    };
    Ok(Answer { text, exit })
}

pub(crate) fn repair_style(repair: Repair) -> anstyle::Style {
    style(match repair {
        Repair::Repaired | Repair::Holds => Some(Verdict::Holds),
        Repair::StillLeaks => Some(Verdict::Leaks),
        _ => None,
    })
}

pub(crate) fn named(sheet: &Sheet) -> String {
    let date = sheet
        .date
        .map_or(String::new(), |date| format!(" ({date})"));
    format!("{}{date}", title(sheet))
}

fn say(before: &Sheet, after: &Sheet, compared: &SheetsComparison) -> String {
    let mut out = String::new();
    say!(out, "{HEADING}Before{HEADING:#}  {}", named(before));
    say!(out, "{HEADING}After{HEADING:#}   {}", named(after));
    for pair in &compared.pairs {
        say_pair(&mut out, pair);
    }
    for text in not_compared(compared) {
        out.push_str(&wrapped("\n", &text));
    }
    for note in &compared.notes {
        out.push_str(&wrapped("\n", &format!("{note}.")));
    }
    if !matches!(compared.repair, Repair::Repaired | Repair::Holds) {
        say!(out, "\n{HEADING}Next{HEADING:#}");
        out.push_str(&wrapped("  ", after_repair(compared.repair)));
        say!(out, "\n{WARNING}Before pumping{WARNING:#}");
        for caution in caution::BEFORE_PUMPING
            .iter()
            .chain(caution::BEFORE_SPRAYING)
        {
            out.push_str(&wrapped("  ", caution));
        }
    }
    out
}

/// The runs of either sheet that have none to be compared with, in a sentence a sheet.
pub(crate) fn not_compared(compared: &SheetsComparison) -> Vec<String> {
    let of_sheets = [
        ("before", &compared.only_before),
        ("after", &compared.only_after),
    ];
    let with_any = of_sheets.into_iter().filter(|(_, names)| !names.is_empty());
    with_any
        .map(|(sheet, names)| {
            let names = names.join(", ");
            format!("Only on the sheet {sheet}, and not compared: {names}.")
        })
        .collect()
}

/// Before and after: the lead of the line, the area and what is known of it, the verdict.
pub(crate) fn sides(pair: &Pair) -> [(&'static str, &Estimate<Area>, Known, Option<Verdict>); 2] {
    let c = &pair.comparison;
    [
        ("  Before  ", &c.before, c.known.0, pair.verdicts.0),
        ("  After   ", &c.after, c.known.1, pair.verdicts.1),
    ]
}

fn say_pair(out: &mut String, pair: &Pair) {
    let c = &pair.comparison;
    let style = repair_style(pair.repair);
    say!(
        out,
        "\n{HEADING}{}{HEADING:#}: {style}{}{style:#}",
        pair.after,
        repair_in_words(pair.repair)
    );
    out.push_str(&wrapped("  Change  ", &format!("{c}.")));
    for (lead, area, known, of) in sides(pair) {
        let text = format!(
            "effective area (CdA) {}; {}",
            size_in_words(area, known),
            verdict_in_words(of)
        );
        out.push_str(&wrapped(lead, &text));
    }
    for note in &c.notes {
        out.push_str(&wrapped("  Note    ", &format!("{note}.")));
    }
}

/// What the sheets are of.
pub(crate) fn machine(sheets: &[Sheet]) -> &str {
    let named = sheets.iter().find_map(|s| s.machine.as_deref());
    named.unwrap_or("One machine")
}

fn say_trends(sheets: &[Sheet], trends: &[SheetTrend]) -> String {
    let mut out = String::new();
    say!(
        out,
        "{HEADING}{}, {} sheets{HEADING:#}",
        machine(sheets),
        sheets.len()
    );
    for trend in trends {
        say!(out, "\n{HEADING}{}{HEADING:#}", trend.direction);
        out.push_str(&wrapped("  Trend   ", &format!("{}.", trend.trend)));
        if trend.trend.scatter.is_finite() && trend.trend.growth.is_some() {
            let percent = 100.0 * trend.trend.scatter.exp_m1();
            let text = if percent < TOLD_SCATTER {
                "the tests lie about the trend no further than their readings explain".to_owned()
            } else {
                format!(
                    "from test to test by {} % beyond what the readings explain",
                    number(percent)
                )
            };
            out.push_str(&wrapped("  Scatter ", &text));
        }
        for (run, fitted) in trend.runs.iter().zip(&trend.trend.fitted_m2) {
            let when = run
                .date
                .map_or(format!("{:>3}", run.at), |date| date.to_string());
            let test: &Test = &run.test;
            let line = if fitted.is_finite() {
                let (factor, unit) = area_unit(*fitted);
                format!("; on the line {} {unit}", number(fitted * factor))
            } else {
                String::new()
            };
            let text = format!(
                "{}, {}{line}",
                run.title,
                size_in_words(&test.area(), test.known())
            );
            out.push_str(&wrapped(&format!("  {when}  "), &text));
        }
    }
    out
}
