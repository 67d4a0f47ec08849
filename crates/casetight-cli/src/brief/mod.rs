//! First screens: the answer in a plain sentence, then the numbers that a bench asks for, on 24 lines of 80 columns for a usual sheet.
//! What a metrologist wants stands behind `--detail`, and in JSON.

pub(crate) mod assess;
pub(crate) mod compare;
pub(crate) mod isolate;
pub(crate) mod plan;
pub(crate) mod running;
pub(crate) mod volume;

use anstyle::Style;
use casetight::caution;
use casetight::estimate::Estimate;
use casetight_report::words::{number, to_width};

use crate::words::{WARNING, hole_mm, narrow, say};

/// How an answer is given.
#[derive(Debug, Clone, Copy, clap::Args)]
pub(crate) struct Manner {
    /// One JSON document on standard output instead of words.
    #[arg(long)]
    json: bool,
    /// Everything there is to say, not the first screen only.
    #[arg(long, conflicts_with = "json")]
    detail: bool,
}

/// How an answer is given.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum How {
    /// The first screen.
    Brief,
    /// All of it.
    Detail,
    /// One document.
    Json,
}

impl Manner {
    /// The first screen.
    pub(crate) const BRIEF: Self = Self {
        json: false,
        detail: false,
    };

    pub(crate) fn how(self) -> How {
        How::of(self.json, self.detail)
    }
}

impl How {
    /// By the two options, of which no more than one is given.
    pub(crate) fn of(json: bool, detail: bool) -> Self {
        match (json, detail) {
            (true, _) => Self::Json,
            (_, true) => Self::Detail,
            _ => Self::Brief,
        }
    }
}

/// The last line of a first screen.
fn more(out: &mut String) {
    say!(out, "--detail says where each number comes from.");
}

/// The cautions before pumping, in short, and those before spraying or a repair.
fn cautions(out: &mut String, sprays: bool) {
    headed(
        out,
        WARNING,
        "Before pumping:",
        caution::BEFORE_PUMPING_IN_SHORT,
    );
    if sprays {
        headed(
            out,
            WARNING,
            "Before spraying or a repair:",
            caution::BEFORE_SPRAYING_IN_SHORT,
        );
    }
}

/// A paragraph that begins with a styled head.
fn headed(out: &mut String, style: Style, head: &str, text: &str) {
    out.push_str(&narrow("", &format!("{style}{head}{style:#} {text}")));
}

/// Value and ends with the digits that the interval leaves: "0.0128 mm (0.0102 to 0.0149)"; a bound where one end is open.
fn ranged(unit: &str, [value, low, high]: [f64; 3]) -> String {
    match (low > 0.0, high.is_finite()) {
        (true, true) => {
            let [value, low, high] = [value, low, high].map(|end| to_width(end, high - low));
            format!("{value} {unit} ({low} to {high})")
        }
        (false, true) => format!("at most {} {unit}", number(high)),
        (true, false) => format!("at least {} {unit}", number(low)),
        (false, false) => "of unknown size".to_owned(),
    }
}

/// "hole 0.0128 mm (0.0102 to 0.0149)": a leak by the round hole that leaks as much.
fn hole(area: Estimate<f64>, discharge_coefficient: f64) -> String {
    let diameter = |square_meters: f64| hole_mm(square_meters, discharge_coefficient);
    let (low, high) = (diameter(area.low), diameter(area.high));
    if low > 0.0 || high.is_infinite() {
        format!("hole {}", ranged("mm", [diameter(area.value), low, high]))
    } else {
        format!("no hole above {} mm", number(high))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digits_are_those_that_the_interval_leaves() {
        for (ends, shown) in [
            (
                [0.012_83, 0.010_2, 0.014_92],
                "0.0128 mm (0.0102 to 0.0149)",
            ),
            (
                [0.019_71, 0.018_91, 0.020_5],
                "0.0197 mm (0.0189 to 0.0205)",
            ),
            ([1.234, 1.1, 1.5], "1.23 mm (1.10 to 1.50)"),
            ([1_234.5, 1_100.0, 1_500.0], "1230 mm (1100 to 1500)"),
            ([0.5, 0.0, 0.0363], "at most 0.0363 mm"),
            ([0.5, 0.2, f64::INFINITY], "at least 0.200 mm"),
            ([0.5, 0.0, f64::INFINITY], "of unknown size"),
        ] {
            assert_eq!(ranged("mm", ends), shown);
        }
    }
}
