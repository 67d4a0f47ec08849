//! Words on a terminal: styles, and lines no wider than a reader likes.

use std::borrow::Cow;
use std::path::Path;

use anstyle::{AnsiColor, Style};
use casetight::leak::EffectiveArea;
use casetight::limit::Verdict;
use casetight_bench::printable;
use casetight_bench::sheet::StatedLimit;
use uom::si::length::millimeter;

/// Headings.
pub(crate) const HEADING: Style = Style::new().bold();
/// Faults and cautions.
pub(crate) const WARNING: Style = AnsiColor::Yellow.on_default().bold();

/// Width that text is wrapped to.
const WIDTH: usize = 100;
/// Width of a first screen, which any terminal has.
pub(crate) const SCREEN: usize = 80;

/// The style of a verdict.
pub(crate) fn style(verdict: Option<Verdict>) -> Style {
    match verdict {
        Some(Verdict::Holds) => AnsiColor::Green.on_default().bold(),
        Some(Verdict::Leaks) => AnsiColor::Red.on_default().bold(),
        _ => WARNING,
    }
}

/// An answer as it reaches the terminal: its own lines and styles, and whatever else it holds as it may be shown.
pub(crate) fn styled(text: &str) -> Cow<'_, str> {
    /// What each style starts with.
    const STYLE: &str = "\u{1b}[";
    if !text.contains(STYLE) {
        return printable::lines(text);
    }
    let mut parts = text.split(STYLE);
    let mut out = printable::lines(parts.next().unwrap_or_default()).into_owned();
    for part in parts {
        let end = part.find(|c: char| !c.is_ascii_digit() && c != ';');
        match end.and_then(|end| part.split_at_checked(end)) {
            Some((codes, rest)) if rest.starts_with('m') => {
                out.push_str(STYLE);
                out.push_str(codes);
                out.push_str(&printable::lines(rest));
            }
            _ => {
                out.push_str(&printable::lines(STYLE));
                out.push_str(&printable::lines(part));
            }
        }
    }
    Cow::Owned(out)
}

/// A file's name, as it may be shown.
pub(crate) fn path(path: &Path) -> String {
    printable::line(&path.display().to_string()).into_owned()
}

/// A line of text. Writing to a string can't fail; its `Result` is dropped here once.
macro_rules! say {
    ($out:expr, $($word:tt)*) => {{
        use std::fmt::Write as _;
        let _ = writeln!($out, $($word)*);
    }};
}
pub(crate) use say;

/// Diameter \[mm\] of the round hole that leaks as much as an effective area \[m2\]; infinite where the area is.
pub(crate) fn hole_mm(square_meters: f64, discharge_coefficient: f64) -> f64 {
    EffectiveArea::from_square_meters(square_meters)
        .and_then(|area| area.diameter(discharge_coefficient))
        .map_or(f64::INFINITY, |diameter| diameter.get::<millimeter>())
}

/// The rule that a limit was asked for by, in brackets; nothing where it was stated in numbers.
pub(crate) fn by_rule(stated: &StatedLimit) -> String {
    let rule = stated.rule.map(|rule| format!(" ({})", rule.name()));
    rule.unwrap_or_default()
}

/// Text wrapped after a lead, later lines indented to its width.
pub(crate) fn wrapped(lead: &str, text: &str) -> String {
    filled(WIDTH, lead, text)
}

/// The same on a first screen.
pub(crate) fn narrow(lead: &str, text: &str) -> String {
    filled(SCREEN, lead, text)
}

/// Stands for a space that no line ends at, between a number and its percent sign.
const GLUED: &str = "\u{a0}%";

fn filled(width: usize, lead: &str, text: &str) -> String {
    // A style takes no place.
    let indent = " ".repeat(textwrap::core::display_width(lead));
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    let text = text.replace(" %", GLUED);
    let options = textwrap::Options::new(width)
        .initial_indent(lead)
        .subsequent_indent(&indent)
        .break_words(false)
        .word_separator(textwrap::WordSeparator::AsciiSpace)
        .word_splitter(textwrap::WordSplitter::NoHyphenation)
        .wrap_algorithm(textwrap::WrapAlgorithm::FirstFit);
    textwrap::fill(&text, options).replace(GLUED, " %") + "\n"
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn styles_pass_and_other_sequences_are_shown() {
        let own = format!("{HEADING}run{HEADING:#}: holds\n");
        assert_eq!(styled(&own), own);
        assert_eq!(
            styled("a\u{1b}[2Jb\u{1b}]0;t\u{7}c\u{9b}d\u{1b}[1mbold\u{1b}[0m"),
            "a\\u001B[2Jb\\u001B]0;t\\u0007c\\u009Bd\u{1b}[1mbold\u{1b}[0m"
        );
    }

    #[test]
    fn a_style_takes_no_place_on_a_line() {
        let text = "the needle fell ".repeat(30);
        let styled = narrow(
            &format!("{WARNING}Caution{WARNING:#} "),
            &format!("{HEADING}run{HEADING:#}: {text}"),
        );
        let bare = styled
            .replace(&format!("{WARNING}"), "")
            .replace(&format!("{HEADING}"), "")
            .replace("\u{1b}[0m", "");
        assert_eq!(bare, narrow("Caution ", &format!("run: {text}")));
    }

    #[test]
    fn wrapping_keeps_every_word_and_the_width() {
        let text = "the needle fell ".repeat(30);
        let out = wrapped("  Note    ", &text);
        assert_eq!(out.split_whitespace().count(), 91);
        assert!(out.lines().all(|line| line.chars().count() <= WIDTH));
    }
}
