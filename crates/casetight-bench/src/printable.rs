//! Text from outside, as it may be shown: on a terminal, a page, a drawing, in a table.
//!
//! A name may hold anything: a line break that fakes a line of the answer, an escape sequence that a terminal obeys, a mark that
//! turns the reading direction of what follows. They are shown by their numbers, as a bench sheet would write them.

use std::borrow::Cow;
#[cfg(feature = "sheet")]
use std::fmt;
use std::fmt::Write;

/// Text on one line, with what would not be seen as a letter shown by its number.
///
/// ```
/// use casetight_bench::printable::line;
///
/// assert_eq!(line("Mist blower 14, été"), "Mist blower 14, été");
/// assert_eq!(line("good\nVERDICT: holds"), "good\\nVERDICT: holds");
/// assert_eq!(line("\u{1b}[2Jgone"), "\\u001B[2Jgone");
/// ```
#[must_use]
pub fn line(text: &str) -> Cow<'_, str> {
    escaped(text, is_unseen)
}

/// Text of several lines, otherwise as [`line()`].
#[must_use]
pub fn lines(text: &str) -> Cow<'_, str> {
    escaped(text, |c| c != '\n' && is_unseen(c))
}

/// A text's cell of a table that a spreadsheet may open: one that it would take for a formula gets an apostrophe before it.
///
/// The marks are those that OWASP lists under "CSV Injection" (from memory).
///
/// ```
/// use casetight_bench::printable::cell;
///
/// assert_eq!(cell("blower 14"), "blower 14");
/// assert_eq!(cell("=1+1"), "'=1+1");
/// ```
#[must_use]
pub fn cell(text: &str) -> Cow<'_, str> {
    if text.starts_with(['=', '+', '-', '@', '\t', '\r']) {
        Cow::Owned(format!("'{text}"))
    } else {
        Cow::Borrowed(text)
    }
}

/// Hands on what is formatted, as [`line()`] shows it.
#[cfg(feature = "sheet")]
pub(crate) struct Line<'f, 'a>(pub(crate) &'f mut fmt::Formatter<'a>);

#[cfg(feature = "sheet")]
impl fmt::Write for Line<'_, '_> {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        self.0.write_str(&line(text))
    }
}

/// Controls of C0 and C1, ends of lines and paragraphs, marks of the reading direction (Unicode Standard Annex 9; from memory), and
/// the mark of byte order.
fn is_unseen(c: char) -> bool {
    c.is_control()
        || matches!(
            c,
            '\u{061c}'
                | '\u{200e}'
                | '\u{200f}'
                | '\u{2028}'..='\u{202e}'
                | '\u{2066}'..='\u{2069}'
                | '\u{feff}'
        )
}

fn escaped(text: &str, unseen: impl Fn(char) -> bool) -> Cow<'_, str> {
    if !text.contains(&unseen) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 8);
    for c in text.chars() {
        match c {
            c if !unseen(c) => out.push(c),
            '\n' => out.push_str("\\n"),
            '\r' => out.push_str("\\r"),
            '\t' => out.push_str("\\t"),
            c => {
                // Writing to a string can't fail.
                let _ = write!(out, "\\u{:04X}", u32::from(c));
            }
        }
    }
    Cow::Owned(out)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn what_is_not_seen_is_shown_by_its_number() {
        for (text, shown) in [
            ("a\r\nb\tc", "a\\r\\nb\\tc"),
            ("\u{0}\u{7}\u{7f}", "\\u0000\\u0007\\u007F"),
            ("\u{9b}31m", "\\u009B31m"),
            ("\u{202e}sdloh", "\\u202Esdloh"),
            ("a\u{2028}b\u{2066}c\u{feff}", "a\\u2028b\\u2066c\\uFEFF"),
        ] {
            assert_eq!(line(text), shown);
        }
        assert_eq!(lines("a\nb\r"), "a\nb\\r");
    }

    #[test]
    fn cells_that_a_spreadsheet_would_reckon_are_text() {
        for (text, guarded) in [("=A1", "'=A1"), ("+1", "'+1"), ("-1", "'-1"), ("@x", "'@x")] {
            assert_eq!(cell(text), guarded);
        }
        assert_eq!(cell("a=1"), "a=1");
        assert_eq!(cell(""), "");
    }

    proptest! {
        #[test]
        fn nothing_unseen_is_left_and_what_was_shown_stays(text: String) {
            let shown = line(&text).into_owned();
            prop_assert!(!shown.contains(is_unseen));
            prop_assert_eq!(line(&shown), shown.as_str());
        }
    }
}
