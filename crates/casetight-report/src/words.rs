//! Numbers, verdicts and limits in words: those of the page, and of a program that prints the same results.
//!
//! Three significant digits, and a unit that the size reads well in:
//!
//! ```
//! use casetight_report::words::{area_in_words, number, percent};
//!
//! assert_eq!(number(48_263.3), "48300");
//! assert_eq!(area_in_words(5.24e-9), "0.00524 mm2");
//! assert_eq!(area_in_words(5.24e-10), "524 um2");
//! assert_eq!(percent(0.99995), "over 99.9");
//! ```

mod plain;

use casetight::doubt::Doubt;
use casetight::estimate::Estimate;
use casetight::fit::{Course, Fit};
use casetight::limit::{Limit, Verdict};
use casetight::measured::{Distribution, Evaluation, Measurable, Measured};
use casetight::quantity::{Area, TradeUnits, Unit, Volume};
use casetight_bench::assess::RunAssessment;
use casetight_bench::compare::{Known, Repair};
use casetight_bench::sheet::{LAST_DIGIT, STATED, Sheet};

pub(crate) use plain::as_read;
pub use plain::plain_answer;

/// Areas below this read better in um2 \[m2\].
const SMALL_AREA: f64 = 1e-9;

/// Said of readings beside which no curve can be drawn.
pub const NOT_FOLLOWED: &str = "no curve of a leak can be followed through the readings";

/// How many readings a fit is of, and over how many seconds; none where no curve can be followed through them
/// ([`NOT_FOLLOWED`]).
#[must_use]
pub fn held(fit: &Fit) -> Option<(usize, String)> {
    let seconds = fit.residuals.last()?.time_s - fit.residuals.first()?.time_s;
    Some((fit.residuals.len(), number(seconds)))
}

/// Numbers that are told with a power of ten elsewhere.
const LEAST_PLAIN: f64 = 1e-3;
const SMALL: f64 = 1e-6;

/// From so many seconds on a time is told in minutes, and in hours.
const IN_MINUTES: f64 = 600.0;
const IN_HOURS: f64 = 36e3;

/// "60 s", "20 min", "280 h": a time to three digits.
pub(crate) fn time(seconds: f64) -> String {
    let (value, unit) = match seconds {
        s if s < IN_MINUTES => (s, "s"),
        s if s < IN_HOURS => (s / 60.0, "min"),
        s => (s / 3600.0, "h"),
    };
    Unit::si(unit).shown(rounded(value, 3), 3)
}

/// A number to so many significant digits, those before the decimal point too.
pub(crate) fn rounded(value: f64, digits: usize) -> f64 {
    let decimals = digits.max(1) - 1;
    format!("{value:.decimals$e}").parse().unwrap_or(value)
}

/// A number and its unit to so many significant digits, plain down to a millionth: people who test engines write no powers of ten.
pub(crate) fn plainly(value: f64, unit: &'static str, digits: usize) -> String {
    if !(SMALL..LEAST_PLAIN).contains(&value.abs()) {
        return Unit::si(unit).shown(value, digits);
    }
    let scientific = format!("{value:e}");
    let exponent = scientific
        .split_once("e-")
        .and_then(|(_, e)| e.parse::<usize>().ok());
    let decimals = exponent.unwrap_or_default() + digits.saturating_sub(1);
    let plain = format!("{value:.decimals$}");
    format!("{} {unit}", plain.trim_end_matches('0'))
}

/// A number as far as an interval of this width tells it: to the place that two digits of the width reach.
///
/// ```
/// use casetight_report::words::to_width;
///
/// assert_eq!(to_width(0.012_83, 0.0047), "0.0128");
/// assert_eq!(to_width(5_239.6, 2_222.0), "5200");
/// ```
#[must_use]
pub fn to_width(value: f64, width: f64) -> String {
    let scientific = format!("{width:.1e}");
    let exponent = scientific
        .split_once('e')
        .and_then(|(_, e)| e.parse::<i32>().ok());
    let place = exponent.unwrap_or(0) - 1;
    if let Ok(decimals) = usize::try_from(-place) {
        return format!("{value:.decimals$}");
    }
    let tens = 10_f64.powi(place);
    format!("{:.0}", (value / tens).round() * tens)
}

/// A sheet's title, or what stands for it.
#[must_use]
pub fn title(sheet: &Sheet) -> &str {
    if sheet.title.is_empty() {
        "Bench sheet"
    } else {
        &sheet.title
    }
}

/// Factor and unit that an area \[m2\] reads well in.
#[must_use]
pub fn area_unit(area: f64) -> (f64, &'static str) {
    if area < SMALL_AREA {
        (1e12, "um2")
    } else {
        (1e6, "mm2")
    }
}

/// A number to three significant digits, plain where it reads well.
#[must_use]
pub fn number(value: f64) -> String {
    let scientific = format!("{value:.2e}");
    // The exponent after rounding: 0.009996 is 1.00e-2.
    let Some(exponent) = scientific
        .split_once('e')
        .and_then(|(_, e)| e.parse::<i32>().ok())
    else {
        return scientific;
    };
    if value == 0.0 {
        return "0".to_owned();
    }
    if !(-4..6).contains(&exponent) {
        return scientific;
    }
    let rounded: f64 = scientific.parse().unwrap_or(value);
    format!("{rounded:.*}", usize::try_from(2 - exponent).unwrap_or(0))
}

/// "0.101 mm (95 % interval 0.0984 to 0.104)"; "at most" where the lower end is zero, "at least" where the upper one is infinite.
///
/// The interval is in SI units; `factor` makes them `unit`.
#[must_use]
pub fn interval<Q: Measurable<Spread = Q>>(
    estimate: &Estimate<Q>,
    factor: f64,
    unit: &str,
) -> String {
    let i = estimate.si();
    let percent = format!("{}", i.level * 100.0);
    if i.high.is_infinite() {
        format!(
            "at least {} {unit} (lower end of the {percent} % interval)",
            number(i.low * factor)
        )
    } else if i.low > 0.0 {
        format!(
            "{} {unit} ({} % interval {} to {})",
            number(i.value * factor),
            percent,
            number(i.low * factor),
            number(i.high * factor)
        )
    } else {
        format!(
            "at most {} {unit} (upper end of the {} % interval from zero)",
            number(i.high * factor),
            percent
        )
    }
}

/// An area as [`interval`] has it, in the unit that its upper end reads well in; its lower one where nothing bounds it above.
#[must_use]
pub fn area_interval(area: &Estimate<Area>) -> String {
    let (low, high) = (area.si().low, area.si().high);
    let (factor, unit) = area_unit(if high.is_finite() { high } else { low });
    interval(area, factor, unit)
}

/// "0.00524 mm2": an area \[m2\] in the unit that it reads well in.
#[must_use]
pub fn area_in_words(area: f64) -> String {
    let (factor, unit) = area_unit(area);
    format!("{} {unit}", number(area * factor))
}

/// "2.1 mg (1.8 mg to 2.6 mg)", or a bound, where `words` puts one number and its unit in words.
#[must_use]
pub fn estimate_in_words<Q: Measurable<Spread = Q>>(
    estimate: Estimate<Q>,
    words: impl Fn(f64) -> String,
) -> String {
    let i = estimate.si();
    if i.high.is_infinite() {
        format!("at least {}", words(i.low))
    } else if i.low > 0.0 {
        format!("{} ({} to {})", words(i.value), words(i.low), words(i.high))
    } else {
        format!("at most {}", words(i.high))
    }
}

/// A probability in percent that never claims certainty.
#[must_use]
pub fn percent(p: f64) -> String {
    match 100.0 * p {
        p if p > 99.9 => "over 99.9".to_owned(),
        p if p < 0.1 => "under 0.1".to_owned(),
        p => number(p),
    }
}

/// A pressure, or a drop of one, in the unit that a gauge shows.
#[must_use]
pub fn shown<Q: TradeUnits>(pressure: Q, unit: &Unit) -> String {
    pressure.display_in(unit.symbol()).map_or_else(
        |_| pressure.trade().to_string(),
        |s| s.digits(3).to_string(),
    )
}

/// A limit in the words of a bench: "no more than 1 psi lost from 7 psi in 60 s".
#[must_use]
pub fn limit_in_words(limit: &Limit, unit: &Unit) -> String {
    match limit {
        Limit::Drop {
            drop,
            from,
            over,
            at_volume,
        } => {
            let volume = at_volume.map_or(String::new(), |v| format!(" at {}", v.trade()));
            format!(
                "no more than {} lost from {} in {}{volume}",
                shown(*drop, unit),
                shown(*from, unit),
                over.trade()
            )
        }
        Limit::Area(area) => format!("effective area of at most {}", area.trade()),
        Limit::Flow { flow, reference } => {
            let flow = flow
                .display_in("cm3/min")
                .map_or_else(|_| flow.trade().to_string(), |f| f.to_string());
            format!("flow of at most {flow} at {reference}")
        }
        Limit::Hold { time, from } => {
            let from = from.map_or("the start pressure".to_owned(), |p| shown(p, unit));
            format!("no readable fall from {from} for {}", time.trade())
        }
        _ => "limit".to_owned(),
    }
}

/// Where the interval comes from: "noise and rounding of the readings 59 %, ..."; none where the needle did not fall.
#[must_use]
pub fn shares_in_words(fit: &Fit) -> Option<String> {
    let variance: f64 = fit
        .parts
        .iter()
        .map(|p| p.standard_uncertainty_m2.powi(2))
        .sum();
    if !(variance > 0.0 && fit.course == Course::Falls) {
        return None;
    }
    let mut parts: Vec<_> = fit
        .parts
        .iter()
        .map(|p| (p.standard_uncertainty_m2.powi(2) / variance, p.kind))
        .filter(|(share, _)| *share >= 0.005)
        .collect();
    parts.sort_by(|a, b| b.0.total_cmp(&a.0));
    let listed: Vec<String> = parts
        .iter()
        .map(|(share, kind)| format!("{} {:.0} %", kind.words(), 100.0 * share))
        .collect();
    Some(listed.join(", "))
}

/// How the uncertainty of a value was read from a sheet, where its number does not stand there: a tolerance, or none.
#[must_use]
pub fn how_read<Q>(measured: &Measured<Q>) -> Option<String>
where
    Q: TradeUnits + Measurable<Spread: TradeUnits>,
{
    how_read_in(measured, measured.value().trade().symbol())
}

/// As [`how_read`], in this unit.
pub(crate) fn how_read_in<Q>(measured: &Measured<Q>, unit: &str) -> Option<String>
where
    Q: TradeUnits + Measurable<Spread: TradeUnits>,
{
    let rectangular = Distribution::Rectangular;
    if measured.evaluation() != Evaluation::TypeB(rectangular) {
        return None;
    }
    let half = Q::spread_si(measured.standard_uncertainty()) * rectangular.half_width_divisor();
    let half = Q::spread_from_si(half);
    let half = half
        .display_in(unit)
        .unwrap_or_else(|_| half.trade())
        .digits(2);
    match measured.source() {
        STATED => Some(format!(
            "stated as +- {half}, read as anywhere within that alike"
        )),
        LAST_DIGIT => Some(format!(
            "none stated, read as +- {half} by the last digit written"
        )),
        _ => None,
    }
}

/// "180 cm3 +- 23 cm3 (standard uncertainty; stated as +- 40 cm3, read as anywhere within that alike)".
#[must_use]
pub fn volume_in_words(volume: &Measured<Volume>) -> String {
    let how = how_read(volume).map_or(String::new(), |how| format!("; {how}"));
    format!(
        "{} +- {} (standard uncertainty{how})",
        volume.value().trade(),
        volume.standard_uncertainty().trade().digits(2)
    )
}

/// The verdict of a run; "no limit stated" where there is none.
#[must_use]
pub fn verdict_in_words(verdict: Option<Verdict>) -> String {
    verdict.map_or("no limit stated".to_owned(), |v| v.to_string())
}

/// The verdict on a run, and how sure it is: "leaks, 96.0 % sure".
#[must_use]
pub fn sure_verdict_in_words(assessment: &RunAssessment) -> String {
    let verdict = verdict_in_words(assessment.verdict);
    match assessment.sureness() {
        Some(sure) => format!("{verdict}, {} % sure", percent(sure)),
        None => verdict,
    }
}

/// How sure a leak is to be within its limit, or beyond it: the likelier of both.
#[must_use]
pub fn side_in_words(probability_within: f64) -> String {
    let (sure, side) = if probability_within >= 0.5 {
        (probability_within, "within")
    } else {
        (1.0 - probability_within, "beyond")
    };
    format!("{} % sure to be {side}", percent(sure))
}

/// What stands beside a verdict that does not say how sure it is: why it is not taken from the fit, or which side of the limit is likelier.
#[must_use]
pub fn undecided_in_words(assessment: &RunAssessment) -> Option<String> {
    if assessment.verdict != Some(Verdict::Undecided) {
        return None;
    }
    let unit = assessment.assumptions.pressure_unit;
    match (
        assessment.doubts().next(),
        assessment.probability_within_limit(),
    ) {
        (Some(doubt), _) => Some(doubt.words(unit)),
        (None, Some(within)) => Some(format!("{} the limit", side_in_words(within))),
        (None, None) => None,
    }
}

/// Said before the size of a leak where the readings are not those of the curve that it comes from; else nothing.
#[must_use]
pub fn contradicted(assessment: &RunAssessment) -> &'static str {
    if assessment.doubts().any(Doubt::contradicts_fit) {
        "by a curve that the readings contradict: "
    } else {
        ""
    }
}

/// The verdict of a comparison, in a word or two.
#[must_use]
pub fn repair_in_words(repair: Repair) -> &'static str {
    match repair {
        Repair::Holds => "holds, no repair to tell",
        Repair::Repaired => "repaired",
        Repair::StillLeaks => "still leaks",
        _ => "can't be told",
    }
}

/// "0.00524 mm2 (0.00513 to 0.00535)", or a bound.
#[must_use]
pub fn size_in_words(area: &Estimate<Area>, known: Known) -> String {
    let area = area.si();
    let (factor, unit) = area_unit(if known == Known::AtMost {
        area.high
    } else {
        area.value
    });
    let shown = |value: f64| number(value * factor);
    match known {
        Known::AtLeast => format!("at least {} {unit}", shown(area.low)),
        Known::AtMost => format!("at most {} {unit}", shown(area.high)),
        _ => format!(
            "{} {unit} ({} to {})",
            shown(area.value),
            shown(area.low),
            shown(area.high)
        ),
    }
}

/// What to do about an engine that is not, or not surely, repaired.
#[must_use]
pub fn after_repair(repair: Repair) -> &'static str {
    match repair {
        Repair::StillLeaks => {
            "Find what still leaks: soap it while pressure holds (under vacuum soap shows nothing), or blank one site at a time \
             and repeat the run. A part that was just fitted is a site like any other."
        }
        _ => {
            "Repeat both runs from one start pressure with one gauge, and hold longer: what both share cancels."
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_in_what_a_clock_shows() {
        for (seconds, text) in [
            (60.0, "60 s"),
            (62.55, "62.5 s"),
            (599.0, "599 s"),
            (1200.0, "20 min"),
            (86_400.0, "24 h"),
            (1_007_340.0, "280 h"),
            (7.2e8, "200000 h"),
        ] {
            assert_eq!(time(seconds), text);
        }
    }

    #[test]
    fn small_numbers_without_powers_of_ten() {
        for (value, text) in [
            (9.286e-4, "0.000929 bar"),
            (0.0004, "0.0004 bar"),
            (2.5e-6, "0.0000025 bar"),
            (0.012_345, "0.0123 bar"),
            (-0.000_5, "-0.0005 bar"),
            (0.0, "0 bar"),
        ] {
            assert_eq!(plainly(value, "bar", 3), text);
        }
    }

    #[test]
    fn three_digits_plainly() {
        for (value, text) in [
            (0.0, "0"),
            (0.000_123_4, "0.000123"),
            (0.009_996, "0.0100"),
            (1.0, "1.00"),
            (12.345, "12.3"),
            (123.45, "123"),
            (48_263.3, "48300"),
            (1.5e-9, "1.50e-9"),
            (2.5e7, "2.50e7"),
            (-3.21, "-3.21"),
        ] {
            assert_eq!(number(value), text);
        }
    }
}
