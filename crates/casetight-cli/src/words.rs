//! Words on a terminal: styles, and lines no wider than a reader likes.

use anstyle::{AnsiColor, Style};
use casetight::limit::Verdict;

/// Headings.
pub(crate) const HEADING: Style = Style::new().bold();
/// Faults and cautions.
pub(crate) const WARNING: Style = AnsiColor::Yellow.on_default().bold();

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
    fn wrapping_keeps_every_word_and_the_width() {
        let text = "the needle fell ".repeat(30);
        let out = wrapped("  Note    ", &text);
        assert_eq!(out.split_whitespace().count(), 91);
        assert!(out.lines().all(|line| line.chars().count() <= WIDTH));
    }
}
