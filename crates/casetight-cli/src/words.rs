//! Numbers and verdicts in words.

use anstyle::{AnsiColor, Style};
use casetight::fit::Interval;
use casetight::limit::Verdict;
use casetight::sheet::Sheet;

/// Headings.
pub(crate) const HEADING: Style = Style::new().bold();
/// Faults and cautions.
pub(crate) const WARNING: Style = AnsiColor::Yellow.on_default().bold();

/// Areas below this read better in um2 \[m2\].
const SMALL_AREA: f64 = 1e-9;

/// Width that text is wrapped to.
const WIDTH: usize = 100;

/// The style of a verdict.
pub(crate) fn style(verdict: Option<Verdict>) -> Style {
    match verdict {
        Some(Verdict::Holds) => AnsiColor::Green.on_default().bold(),
        Some(Verdict::Leaks) => AnsiColor::Red.on_default().bold(),
        _ => WARNING,
    }
}

/// A sheet's title, or what stands for it.
pub(crate) fn title(sheet: &Sheet) -> &str {
    if sheet.title.is_empty() {
        "Bench sheet"
    } else {
        &sheet.title
    }
}

/// Factor and unit that an area \[m2\] reads well in.
pub(crate) fn area_unit(area: f64) -> (f64, &'static str) {
    if area < SMALL_AREA {
        (1e12, "um2")
    } else {
        (1e6, "mm2")
    }
}

/// A number to three significant digits, plain where it reads well.
pub(crate) fn number(value: f64) -> String {
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

/// "0.101 mm, 0.0984 to 0.104 mm", or "at most" where the lower end is zero.
pub(crate) fn interval(i: &Interval, factor: f64, unit: &str) -> String {
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

/// Text wrapped after a lead, later lines indented to its width.
pub(crate) fn wrapped(lead: &str, text: &str) -> String {
    let indent = " ".repeat(lead.chars().count());
    let mut out = String::from(lead);
    let mut column = lead.chars().count();
    let mut first = true;
    for word in text.split_whitespace() {
        let length = word.chars().count();
        if !first && column + 1 + length > WIDTH {
            out.push('\n');
            out.push_str(&indent);
            column = indent.len();
        } else if !first {
            out.push(' ');
            column += 1;
        }
        out.push_str(word);
        column += length;
        first = false;
    }
    out.push('\n');
    out
}

#[cfg(test)]
mod tests {
    use super::*;

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

    #[test]
    fn wrapping_keeps_every_word_and_the_width() {
        let text = "the needle fell ".repeat(30);
        let out = wrapped("  Note    ", &text);
        assert_eq!(out.split_whitespace().count(), 91);
        assert!(out.lines().all(|line| line.chars().count() <= WIDTH));
    }
}
