//! Words and numbers of a chart: printable characters, estimated widths, line breaks, coordinates.

/// What is cut off ends in this.
const ELLIPSIS: char = '\u{2026}';

/// `text` with the characters XML forbids replaced by the replacement character.
///
/// The escape of `<`, `>`, `&` and quotes is the document builder's.
pub(super) fn printable(text: &str) -> String {
    text.chars()
        .map(|c| match c {
            '\t' | '\n' | '\r' => ' ',
            '\u{0}'..='\u{1f}' | '\u{7f}'..='\u{9f}' | '\u{fffe}' | '\u{ffff}' => '\u{fffd}',
            _ => c,
        })
        .collect()
}

/// Width of `text` at font size 1, on the wide side, since the reader's font is not known.
fn em_width(text: &str) -> f64 {
    text.chars()
        .map(|c| match c {
            'i' | 'j' | 'l' | 'I' | '.' | ',' | ':' | ';' | '\'' | '|' | '!' => 0.34,
            '\u{2070}'..='\u{209f}'
            | '\u{b2}'
            | '\u{b3}'
            | '\u{b9}'
            | ' '
            | 'f'
            | 't'
            | 'r'
            | '('
            | ')'
            | '['
            | ']'
            | '/'
            | '-' => 0.41,
            'm' | 'w' | 'M' | 'W' | '%' | '@' => 0.95,
            '\u{2212}' | '\u{b1}' | '\u{d7}' | '+' | '=' | '<' | '>' | '#' | '^' | '~' => 0.84,
            'A'..='Z' | '&' => 0.74,
            c if c.is_ascii() => 0.63,
            '\u{80}'..='\u{24ff}' => 0.72,
            _ => 1.05,
        })
        .sum()
}

/// Estimated width of `text` at `size`.
pub(super) fn width(text: &str, size: f64) -> f64 {
    em_width(text) * size
}

/// Breaks `text` between words into at most `most` lines no wider than `room`.
///
/// A word wider than a line is broken inside; what does not fit ends in an ellipsis.
pub(super) fn lines(text: &str, size: f64, room: f64, most: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    for word in printable(text).split_whitespace() {
        let joined = if line.is_empty() {
            word.to_owned()
        } else {
            format!("{line} {word}")
        };
        if width(&joined, size) <= room {
            line = joined;
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        for c in word.chars() {
            line.push(c);
            if width(&line, size) > room && line.chars().nth(1).is_some() {
                line.pop();
                lines.push(std::mem::replace(&mut line, c.to_string()));
            }
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    if lines.len() > most {
        lines.truncate(most);
        if let Some(last) = lines.last_mut() {
            while width(last, size) + width("\u{2026}", size) > room && last.pop().is_some() {}
            last.truncate(last.trim_end().len());
            last.push(ELLIPSIS);
        }
    }
    lines
}

/// `text` on one line no wider than `room`.
pub(super) fn one_line(text: &str, size: f64, room: f64) -> String {
    lines(text, size, room, 1).pop().unwrap_or_default()
}

/// `exponent` in raised digits.
pub(super) fn superscript(exponent: i32) -> String {
    exponent
        .to_string()
        .chars()
        .map(|c| match c {
            '-' => '\u{207b}',
            '0' => '\u{2070}',
            '1' => '\u{b9}',
            '2' => '\u{b2}',
            '3' => '\u{b3}',
            '4' => '\u{2074}',
            '5' => '\u{2075}',
            '6' => '\u{2076}',
            '7' => '\u{2077}',
            '8' => '\u{2078}',
            '9' => '\u{2079}',
            _ => c,
        })
        .collect()
}

/// A coordinate in hundredths of a unit, the shortest way.
///
/// Values are held within a million units: a segment that leaves the drawing at that distance
/// still crosses its edge in the right place to within a tenth of a unit.
pub(super) fn coordinate(value: f64) -> String {
    let held = if value.is_nan() {
        0.0
    } else {
        value.clamp(-1e6, 1e6)
    };
    let text = format!("{held:.2}");
    let short = text.trim_end_matches('0').trim_end_matches('.');
    if short == "-0" {
        "0".to_owned()
    } else {
        short.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn coordinates_are_short_and_finite() {
        for (value, text) in [
            (12.0, "12"),
            (0.125, "0.12"),
            (-0.001, "0"),
            (100.0, "100"),
            (-3.5, "-3.5"),
            (f64::NAN, "0"),
            (f64::INFINITY, "1000000"),
        ] {
            assert_eq!(coordinate(value), text);
        }
    }

    #[test]
    fn characters_xml_forbids_are_replaced() {
        assert_eq!(
            printable("a\u{0}b\u{1b}c\td\u{ffff}"),
            "a\u{fffd}b\u{fffd}c d\u{fffd}"
        );
    }

    #[test]
    fn text_breaks_between_words_and_is_cut_with_an_ellipsis() {
        assert_eq!(
            lines("one two three", 10.0, 50.0, 9),
            ["one two", "three"],
            "two words of a line's width share it"
        );
        assert_eq!(
            lines("one two three four", 10.0, 50.0, 1),
            ["one tw\u{2026}"]
        );
        assert_eq!(one_line("", 10.0, 50.0), "");
        assert_eq!(superscript(-12), "\u{207b}\u{b9}\u{b2}");
    }

    proptest! {
        #[test]
        fn lines_fit_and_lose_nothing(text in "\\PC{0,60}", room in 20.0..200.0_f64) {
            let broken = lines(&text, 10.0, room, usize::MAX);
            for line in &broken {
                prop_assert!(width(line, 10.0) <= room, "{}", line);
            }
            let squeeze = |text: &str| -> String { text.split_whitespace().collect() };
            prop_assert_eq!(squeeze(&broken.concat()), squeeze(&printable(&text)));
        }
    }
}
