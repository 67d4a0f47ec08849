//! What was likely meant by a line that is not TOML, told as the line that would be read.

use toml::de::DeTable;

/// What was likely meant.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Advice {
    /// What is wrong.
    pub(super) why: &'static str,
    /// The line to write instead; empty where there is none.
    pub(super) write: String,
}

/// How a line is mended: what was wrong, and the mended line where that is wrong with it.
type Mend = (&'static str, fn(&str) -> Option<String>);

/// What is wrong with a line that ends too soon.
const OPEN: [&str; 2] = ["a quote is missing", "a bracket is missing"];

/// The first that lets the text be read beyond the line is told.
const MENDS: &[Mend] = &[
    ("a curly quote is none of a sheet's", straight_quotes),
    ("a blank is none of a sheet's", plain_blanks),
    ("a comment starts with #", comment),
    ("no mark ends a line", without_end),
    (
        "a key and its value stand about an equals sign",
        equals_sign,
    ),
    ("a key has no blank in it", joined_key),
    ("the bracket of a table is open", closed_table),
    (
        "text with an inch mark in it stands in single quotes",
        single_quotes,
    ),
    (OPEN[0], closed_quote),
    ("the inch mark needs a quote behind it", quoted_inches),
    ("a date has two digits of month and day", date),
    ("a decimal comma is a point", decimal_point),
    ("true and false have small letters", truth),
    (
        "a number has a digit before its point and no zero before others",
        number,
    ),
    ("semicolons part nothing", commas_for_semicolons),
    ("a comma is missing", commas_between),
    (OPEN[1], closed_list),
    ("text stands in quotes", quoted_items),
    ("text and numbers with a unit stand in quotes", quoted_value),
];

/// Nobody writes a sheet longer than this \[bytes\]: what a program wrote is not read as often as there are mends.
const LONGEST: usize = 1 << 20;

/// What was likely meant by a text that is not TOML from this byte on, and the number of the line that is to be written anew.
pub(super) fn advice(text: &str, place: usize) -> Option<(Advice, usize)> {
    if text.len() > LONGEST {
        return None;
    }
    if let Some(why) = other_file(text) {
        let write = String::new();
        return Some((Advice { why, write }, place));
    }
    let start = text.get(..place)?.rfind('\n').map_or(0, |end| end + 1);
    let line = text.get(start..)?.lines().next()?;
    if key_and_value(line).is_some_and(|(_, value)| value.is_empty() || value.starts_with('#')) {
        let why = "nothing stands behind the equals sign; write the value, or leave the line out";
        let write = String::new();
        return Some((Advice { why, write }, start));
    }
    if start + line.len() == text.len()
        && mended(text, start).is_none_or(|advice| OPEN.contains(&advice.why))
    {
        let why = "the file ends within this line; is it whole?";
        let write = String::new();
        return Some((Advice { why, write }, start));
    }
    // A list that is open is told where the next key stands.
    let above = text
        .get(..start)?
        .trim_end()
        .rfind('\n')
        .map_or(0, |end| end + 1);
    [start, above]
        .into_iter()
        .find_map(|start| Some((mended(text, start)?, start)))
}

/// The mended line that starts at this byte.
fn mended(text: &str, start: usize) -> Option<Advice> {
    let line = text.get(start..)?.lines().next()?;
    let spaces = line.len() - line.trim_start().len();
    let above = text.get(..start + spaces)?;
    let goes_on = start + line.len() < text.len();
    MENDS.iter().find_map(|(why, mend)| {
        let write = mend(line.trim())?;
        // A list that goes on in the next line is at fault at the end; in the last one nothing goes on.
        let new = format!("{above}{write}");
        let left = DeTable::parse(&new).err().and_then(|error| error.span());
        let is_read = left.is_none_or(|left| goes_on && left.start >= new.len());
        (is_read && write != line.trim()).then_some(Advice { why, write })
    })
}

/// What the text is if it is no sheet at all.
fn other_file(text: &str) -> Option<&'static str> {
    let text = text.trim_start();
    let mut lines = text.lines().filter(|line| !line.trim().is_empty());
    let is_row = |line: &str| {
        line.contains([',', ';', '\t'])
            && !line.contains('=')
            && !line.trim_start().starts_with(['#', '['])
    };
    if text.starts_with('{') {
        Some("this is JSON; a sheet is a TOML file that starts with `format = 1`")
    } else if text.starts_with('<') {
        Some(
            "this is a page or a document; a sheet is a plain text file that starts with `format = 1`",
        )
    } else if lines.next().is_some_and(is_row) && lines.next().is_some_and(is_row) {
        Some(
            "this is a table of readings; a sheet names it in a run, `file = \"trace.csv\"`, and starts with `format = 1`",
        )
    } else {
        None
    }
}

fn key_and_value(line: &str) -> Option<(&str, &str)> {
    let (key, value) = line.split_once('=')?;
    Some((key.trim(), value.trim()))
}

fn with_value(line: &str, mend: impl FnOnce(&str) -> Option<String>) -> Option<String> {
    let (key, value) = key_and_value(line)?;
    Some(format!("{key} = {}", mend(value)?))
}

fn is_key(text: &str) -> bool {
    !text.is_empty()
        && text
            .chars()
            .all(|letter| letter.is_ascii_alphanumeric() || matches!(letter, '_' | '-' | '.'))
}

/// A value without a comment behind it, and the comment.
fn apart(value: &str) -> (&str, String) {
    match value.split_once('#') {
        Some((value, comment)) => (value.trim(), format!(" #{comment}")),
        None => (value, String::new()),
    }
}

fn straight_quotes(line: &str) -> Option<String> {
    const CURLY: [char; 9] = [
        '\u{201c}', '\u{201d}', '\u{201e}', '\u{2018}', '\u{2019}', '\u{201a}', '\u{ab}', '\u{bb}',
        '\u{2033}',
    ];
    line.contains(CURLY).then(|| line.replace(CURLY, "\""))
}

fn plain_blanks(line: &str) -> Option<String> {
    const BLANKS: [char; 5] = ['\u{a0}', '\u{2007}', '\u{202f}', '\u{2009}', '\u{3000}'];
    const NOTHING: [char; 4] = ['\u{200b}', '\u{200e}', '\u{200f}', '\u{feff}'];
    let plain = line.replace(BLANKS, " ").replace(NOTHING, "");
    (plain != line).then_some(plain)
}

fn comment(line: &str) -> Option<String> {
    if let Some(comment) = line
        .strip_prefix("//")
        .or_else(|| line.strip_prefix("--"))
        .or_else(|| line.strip_prefix(';'))
    {
        return Some(format!("# {}", comment.trim()));
    }
    let (line, comment) = line.split_once("//")?;
    Some(format!("{} # {}", line.trim(), comment.trim()))
}

fn without_end(line: &str) -> Option<String> {
    line.strip_suffix([';', ','])
        .map(|line| line.trim().to_owned())
}

fn equals_sign(line: &str) -> Option<String> {
    let (key, value) = if line.contains('=') {
        return None;
    } else if let Some((key, value)) = line.split_once(':') {
        (key, value)
    } else {
        line.split_once(char::is_whitespace)?
    };
    let (key, value) = (key.trim(), value.trim());
    let bare = value.parse::<f64>().is_ok()
        || value.starts_with(['"', '\'', '[', '{'])
        || matches!(value, "true" | "false");
    let value = if bare {
        value.to_owned()
    } else {
        format!("\"{value}\"")
    };
    is_key(key).then(|| format!("{key} = {value}"))
}

fn joined_key(line: &str) -> Option<String> {
    let (key, value) = key_and_value(line)?;
    let words: Vec<&str> = key.split_whitespace().collect();
    let joined = words.join("_");
    (words.len() > 1 && is_key(&joined)).then(|| format!("{joined} = {value}"))
}

fn closed_table(line: &str) -> Option<String> {
    let name = line.trim_matches(['[', ']']).trim();
    let listed = if line.starts_with("[[") {
        ("[[", "]]")
    } else {
        ("[", "]")
    };
    (line.starts_with('[') && is_key(name)).then(|| format!("{}{name}{}", listed.0, listed.1))
}

fn single_quotes(line: &str) -> Option<String> {
    with_value(line, |value| {
        let text = value.strip_prefix('"')?.strip_suffix("\"\"")?;
        (!text.contains(['"', '\''])).then(|| format!("'{text}\"'"))
    })
}

fn quoted_inches(line: &str) -> Option<String> {
    with_value(line, |value| {
        let text = value
            .strip_suffix('"')
            .filter(|text| !text.contains(['"', '\'']))?;
        Some(format!("'{text}\"'"))
    })
}

fn closed_quote(line: &str) -> Option<String> {
    with_value(line, |value| {
        let mark = value
            .chars()
            .next()
            .filter(|mark| matches!(mark, '"' | '\''))?;
        (value.matches(mark).count() == 1).then(|| {
            let (text, comment) = apart(value);
            format!("{text}{mark}{comment}")
        })
    })
}

fn date(line: &str) -> Option<String> {
    with_value(line, |value| {
        let (value, comment) = apart(value);
        let [year, month, day] = value.split('-').collect::<Vec<_>>().try_into().ok()?;
        let number = |text: &str| text.parse::<u8>().ok();
        Some(format!(
            "{year}-{:02}-{:02}{comment}",
            number(month)?,
            number(day)?
        ))
    })
}

fn decimal_point(line: &str) -> Option<String> {
    with_value(line, |value| {
        let (value, comment) = apart(value);
        let (whole, decimals) = value.split_once(',')?;
        let digits =
            |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
        let unsigned = whole.strip_prefix(['-', '+']).unwrap_or(whole);
        (digits(unsigned) && digits(decimals)).then(|| format!("{whole}.{decimals}{comment}"))
    })
}

fn truth(line: &str) -> Option<String> {
    with_value(line, |value| {
        let (value, comment) = apart(value);
        match value.to_lowercase().as_str() {
            "true" | "yes" | "on" => Some(format!("true{comment}")),
            "false" | "no" | "off" => Some(format!("false{comment}")),
            _ => None,
        }
    })
}

/// Each item between brackets and commas, mended where it can be.
fn with_items(line: &str, mend: impl Fn(&str) -> Option<String>) -> Option<String> {
    with_value(line, |value| {
        let (value, comment) = apart(value);
        let mut out = String::new();
        let mut rest = value;
        let mut changed = false;
        while !rest.is_empty() {
            let end = rest.find(['[', ']', ',']).unwrap_or(rest.len());
            let (item, behind) = rest.split_at(end);
            match mend(item.trim()) {
                Some(mended) if !item.trim().is_empty() => {
                    let blanks = item.len() - item.trim_start().len();
                    out.push_str(item.get(..blanks).unwrap_or(""));
                    out.push_str(&mended);
                    changed = true;
                }
                _ => out.push_str(item),
            }
            let mut letters = behind.chars();
            out.extend(letters.next());
            rest = letters.as_str();
        }
        changed.then(|| format!("{out}{comment}"))
    })
}

fn number(line: &str) -> Option<String> {
    with_items(line, |item| {
        let value: f64 = item.parse().ok()?;
        let toml = format!("v = {item}");
        (value.is_finite() && DeTable::parse(&toml).is_err()).then(|| value.to_string())
    })
}

fn commas_for_semicolons(line: &str) -> Option<String> {
    with_value(line, |value| {
        value.contains(';').then(|| value.replace(';', ","))
    })
}

fn commas_between(line: &str) -> Option<String> {
    with_value(line, |value| {
        let mut mended = value.replace("][", "], [");
        while let Some((before, behind)) = mended.split_once("] ") {
            let behind = behind.trim_start();
            if !behind.starts_with('[') {
                break;
            }
            mended = format!("{before}], {behind}");
        }
        (mended != value).then_some(mended)
    })
}

fn closed_list(line: &str) -> Option<String> {
    with_value(line, |value| {
        let (value, comment) = apart(value);
        let open = value
            .matches('[')
            .count()
            .checked_sub(value.matches(']').count())?;
        (1..=2)
            .contains(&open)
            .then(|| format!("{value}{}{comment}", "]".repeat(open)))
    })
}

fn quoted_items(line: &str) -> Option<String> {
    let (_, value) = key_and_value(line)?;
    if !value.starts_with('[') || value.contains(['"', '\'']) {
        return None;
    }
    with_items(line, |item| {
        let toml = format!("v = {item}");
        DeTable::parse(&toml)
            .is_err()
            .then(|| format!("\"{item}\""))
    })
}

fn quoted_value(line: &str) -> Option<String> {
    with_value(line, |value| {
        let (value, comment) = apart(value);
        let has_quote = value.contains(['"', '\\']) || value.starts_with(['[', '{', '\'']);
        (!value.is_empty() && !has_quote).then(|| format!("\"{value}\"{comment}"))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn written(line: &str) -> String {
        let line = &format!("{line}\n");
        let place = DeTable::parse(line).unwrap_err().span().unwrap().start;
        advice(line, place).map_or_else(|| panic!("{line}"), |(advice, _)| advice.write)
    }

    #[test]
    #[rustfmt::skip] // one case, one line
    fn a_line_is_mended() {
        for (line, meant) in [
            ("value = 250 cm3", "value = \"250 cm3\""),
            ("value = 250 cm3 # measured", "value = \"250 cm3\" # measured"),
            ("a = 1\nvalue = \u{201c}250 cm3\u{201d}\nb = 2", "value = \"250 cm3\""),
            ("value = \"250 cm3", "value = \"250 cm3\""),
            ("bore = \"1-3/4\"\"", "bore = '1-3/4\"'"),
            ("bore = 1-3/4\"", "bore = '1-3/4\"'"),
            ("unit: psi", "unit = \"psi\""),
            ("format: 1", "format = 1"),
            ("max drop = \"1 psi\"", "max_drop = \"1 psi\""),
            ("accuracy_class = 1,6", "accuracy_class = 1.6"),
            ("rig_alone = True", "rig_alone = true"),
            ("// note", "# note"),
            ("a = 1 // note", "a = 1 # note"),
            ("unit = \"psi\";", "unit = \"psi\""),
            ("unit\u{a0}= \"psi\"", "unit = \"psi\""),
            ("[gauge", "[gauge]"),
            ("[[run]", "[[run]]"),
            ("date = 2026-3-2", "date = 2026-03-02"),
            ("r = [[0, .5], [00, 7]]", "r = [[0, 0.5], [0, 7]]"),
            ("r = [[0; 7], [30; 6]]", "r = [[0, 7], [30, 6]]"),
            ("r = [[0, 7] [30, 6][60, 5]]", "r = [[0, 7], [30, 6], [60, 5]]"),
            ("r = [[0, 7], [30, 6]", "r = [[0, 7], [30, 6]]"),
            ("r = [[0, 7], [30, 6]\nnote = \"n\"", "r = [[0, 7], [30, 6]]"),
            ("r = [[0:00, 7], [0:30, 6]]", "r = [[\"0:00\", 7], [\"0:30\", 6]]"),
            ("blanked = [intake, exhaust]", "blanked = [\"intake\", \"exhaust\"]"),
        ] {
            assert_eq!(written(line), meant, "{line}");
        }
    }

    #[test]
    fn a_line_that_ends_too_soon() {
        for (text, why) in [
            ("a = 1\nvalue = \"250 c", "the file ends"),
            ("a = 1\nvalue = [1, 2", "the file ends"),
            ("a = 1\nval", "the file ends"),
            ("value =\na = 1\n", "nothing stands behind"),
            ("value = # none yet\na = 1\n", "nothing stands behind"),
        ] {
            let place = DeTable::parse(text).unwrap_err().span().unwrap().start;
            let (advice, _) = advice(text, place).unwrap();
            assert!(advice.why.starts_with(why), "{text}: {}", advice.why);
        }
    }

    #[test]
    fn what_is_no_sheet_is_told_from_one() {
        for text in [
            "{\"format\": 1}",
            "<html>",
            "time,gauge\n0,7\n",
            "0;7\n1;6\n",
        ] {
            assert!(other_file(text).is_some(), "{text}");
        }
        for text in ["format = 1\nx", "a: 1, b\nc = 2", "[a\n[b", ""] {
            assert!(other_file(text).is_none(), "{text}");
        }
    }

    proptest! {
        /// Whatever is told is a line that is read as far as its end.
        #[test]
        fn what_is_told_can_be_written(text in "[a-c =:;,.#0-9\"'\\[\\]\u{201c}\n/-]{0,40}") {
            let Some(span) = DeTable::parse(&text).err().and_then(|error| error.span()) else {
                return Ok(());
            };
            if let Some((advice, start)) = advice(&text, span.start) && !advice.write.is_empty() {
                let mended = format!("{}{}", &text[..start], advice.write);
                let left = DeTable::parse(&mended).err().and_then(|error| error.span());
                prop_assert!(left.is_none_or(|left| left.start >= mended.len()), "{text:?}: {}", advice.write);
            }
        }
    }
}
