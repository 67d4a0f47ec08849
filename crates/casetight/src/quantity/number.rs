//! The number that a quantity's text starts with, as people write it: with a point or a comma, as a fraction, as minutes and seconds.
//! What may mean two things is not read; each reading is named as it can be written.

/// A number at the start of a text.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Number<'t> {
    pub(super) value: f64,
    /// Half of what its last digit counts, or half of a part of its fraction.
    pub(super) half_step: f64,
    /// As it is written.
    pub(super) written: &'t str,
    /// What stands behind it.
    pub(super) rest: &'t str,
    /// Whether it is minutes and seconds, which need no unit.
    pub(super) is_clock: bool,
}

/// Why a text starts with no number that is meant for sure.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum NoNumber {
    /// There is none.
    Missing,
    /// There is one that is not read: why, and what to write for it, each such text in back quotes.
    Unclear { why: &'static str, write: String },
}

/// Signs that a number may have: a true minus beside the hyphen.
const SIGNS: [char; 3] = ['+', '-', '\u{2212}'];

/// The stroke of a fraction.
const STROKES: [char; 2] = ['/', '\u{2044}'];

/// Fractions that have a letter of their own.
const LETTERS: [(char, (&str, &str)); 7] = [
    ('\u{bd}', ("1", "2")),
    ('\u{bc}', ("1", "4")),
    ('\u{be}', ("3", "4")),
    ('\u{215b}', ("1", "8")),
    ('\u{215c}', ("3", "8")),
    ('\u{215d}', ("5", "8")),
    ('\u{215e}', ("7", "8")),
];

/// The number that a text starts with; minutes and seconds only where they are asked for.
pub(super) fn number_of(text: &str, clock: bool) -> Result<Number<'_>, NoNumber> {
    let unsigned = text.strip_prefix(SIGNS).unwrap_or(text);
    let sign = text.strip_suffix(unsigned).unwrap_or("");
    let found = match clock.then(|| minutes(unsigned)).flatten() {
        Some(found) => found,
        None => match fraction(unsigned) {
            Some(found) => found,
            None => decimal(unsigned),
        },
    };
    let found = match found {
        Ok(found) => found,
        // The sign belongs to what is to be written too.
        Err(NoNumber::Unclear { why, write }) => {
            let write = write.replace("` or `", &format!("` or `{sign}"));
            let write = write.replacen('`', &format!("`{sign}"), 1);
            return Err(NoNumber::Unclear { why, write });
        }
        Err(NoNumber::Missing) => return Err(NoNumber::Missing),
    };
    let minus = sign == "-" || sign == "\u{2212}";
    Ok(Number {
        value: if minus { -found.value } else { found.value },
        written: text.strip_suffix(found.rest).unwrap_or(text),
        ..found
    })
}

type Found<'t> = Result<Number<'t>, NoNumber>;

fn digits(text: &str) -> (&str, &str) {
    text.split_at(text.bytes().take_while(u8::is_ascii_digit).count())
}

fn unclear<'t>(why: &'static str, write: String) -> Found<'t> {
    Err(NoNumber::Unclear { why, write })
}

/// Minutes and seconds, `1:30` or `:30`, or hours before them; none where no colon stands among digits.
fn minutes(text: &str) -> Option<Found<'_>> {
    let (first, rest) = digits(text);
    let (second, rest) = digits(rest.strip_prefix(':')?);
    if second.is_empty() {
        return None;
    }
    let (third, rest) = digits(rest.strip_prefix(':').unwrap_or(rest));
    let (hours, minutes, seconds) = if third.is_empty() {
        ("0", if first.is_empty() { "0" } else { first }, second)
    } else {
        (first, second, third)
    };
    let (decimals, rest) = match rest.strip_prefix(['.', ',']).map(digits) {
        Some((decimals, rest)) if !decimals.is_empty() => (decimals, rest),
        _ => ("", rest),
    };
    let whole = |text: &str| text.parse::<u32>().map(f64::from).ok();
    let (h, m, s) = (whole(hours)?, whole(minutes)?, whole(seconds)?);
    if !third.is_empty() && (minutes.len() != 2 || m > 59.0) {
        return Some(unclear("minutes behind hours have two digits, below 60", {
            format!("`{}:{:02}`", 60.0 * h + m, s)
        }));
    }
    if seconds.len() != 2 {
        const WHY: &str = "seconds behind minutes have two digits";
        return Some(match seconds.len() {
            1 => unclear(
                WHY,
                format!("`{minutes}:0{seconds}` or `{minutes}:{seconds}0`"),
            ),
            _ => Err(NoNumber::Missing),
        });
    }
    if s > 59.0 {
        let minutes = 60.0 * h + m + 1.0;
        let write = format!("`{minutes}:{:02}`", s - 60.0);
        return Some(unclear("seconds behind minutes stay below 60", write));
    }
    let seconds = format!("{seconds}.{decimals}").parse().unwrap_or(s);
    Some(Ok(Number {
        value: 3600.0 * h + 60.0 * m + seconds,
        half_step: half_of_place(decimals.len(), 0),
        written: text,
        rest,
        is_clock: true,
    }))
}

/// A fraction: `3/8`, `1-3/4`, `1 3/4`, or one of a letter of its own; none where there is none.
fn fraction(text: &str) -> Option<Found<'_>> {
    let (whole, behind) = digits(text);
    let apart = match behind.strip_prefix('-') {
        Some(apart) => apart,
        None => behind.trim_start(),
    };
    let beside = apart.len() < behind.len() && !whole.is_empty();
    let (whole, (above, below, rest)) = if let Some(parts) = parts(text) {
        ("", parts)
    } else if let Some(parts) = letter(apart) {
        (whole, parts)
    } else {
        (whole, parts(apart).filter(|_| beside)?)
    };
    // A date, or a fraction of decimals.
    if rest.starts_with(STROKES) || rest.starts_with(['.', ',']) {
        return Some(Err(NoNumber::Missing));
    }
    let number = |text: &str| text.parse::<u32>().map(f64::from).ok();
    let (n, d) = (number(above)?, number(below)?);
    let w = if whole.is_empty() {
        0.0
    } else {
        number(whole)?
    };
    if d == 0.0 {
        return Some(Err(NoNumber::Missing));
    }
    if !whole.is_empty() && n >= d {
        let (more, left, sum) = (w + (n / d).floor(), n % d, w + n / d);
        let write = format!("`{more}-{left}/{below}{rest}` or `{sum}{rest}`");
        return Some(unclear(
            "a fraction behind a whole number is less than one",
            write,
        ));
    }
    Some(Ok(Number {
        value: w + n / d,
        half_step: 0.5 / d,
        written: text,
        rest,
        is_clock: false,
    }))
}

/// The digits above and below a stroke, and what stands behind them.
fn parts(text: &str) -> Option<(&str, &str, &str)> {
    let (above, rest) = digits(text);
    let (below, rest) = digits(rest.strip_prefix(STROKES)?);
    (!above.is_empty() && !below.is_empty()).then_some((above, below, rest))
}

/// The same of a fraction of a letter of its own.
fn letter(text: &str) -> Option<(&str, &str, &str)> {
    LETTERS
        .iter()
        .find_map(|(letter, (above, below))| Some((*above, *below, text.strip_prefix(*letter)?)))
}

/// A decimal number, with an exponent or none.
fn decimal(text: &str) -> Found<'_> {
    let in_body = |byte: &u8| byte.is_ascii_digit() || matches!(byte, b'.' | b',');
    let (body, rest) = text.split_at(text.bytes().take_while(in_body).count());
    if !body.contains(|letter: char| letter.is_ascii_digit()) {
        return Err(NoNumber::Missing);
    }
    let (points, commas) = (body.matches('.').count(), body.matches(',').count());
    let (before, after) = match (points, commas) {
        (0, 0) => return blanks(body, rest).unwrap_or_else(|| plain(body, "", rest)),
        (1, 0) => body.split_once('.').unwrap_or((body, "")),
        (0, 1) => {
            let (before, after) = body.split_once(',').unwrap_or((body, ""));
            if after.is_empty() {
                return Err(NoNumber::Missing);
            }
            if after.len() == 3 && grouped(body, ',') && !before.starts_with('0') {
                let write = format!("`{before}{after}{rest}` or `{before}.{after}{rest}`");
                return unclear(
                    "the comma may stand between thousands or for a decimal point",
                    write,
                );
            }
            (before, after)
        }
        _ => return thousands(body, rest),
    };
    plain(before, after, rest)
}

/// Digits before and behind the point, then an exponent or none.
fn plain<'t>(before: &str, after: &str, rest: &'t str) -> Found<'t> {
    let exponent = rest.strip_prefix(['e', 'E']).and_then(|behind| {
        let unsigned = behind.strip_prefix(SIGNS).unwrap_or(behind);
        let (power, rest) = digits(unsigned);
        let sign = behind
            .strip_suffix(unsigned)
            .unwrap_or("")
            .replace('\u{2212}', "-");
        (!power.is_empty()).then(|| (format!("{sign}{power}"), rest))
    });
    let (power, rest) = exponent.unwrap_or(("0".to_owned(), rest));
    // No text of digits fails to be a number; one too large is infinite.
    let value = format!("{before}.{after}e{power}").parse();
    // A power that no integer holds leaves nothing or infinity.
    let far = if power.starts_with('-') {
        i64::MIN
    } else {
        i64::MAX
    };
    Ok(Number {
        value: value.map_err(|_| NoNumber::Missing)?,
        half_step: half_of_place(after.len(), power.parse().unwrap_or(far)),
        written: "",
        rest,
        is_clock: false,
    })
}

/// Half of what the last of so many decimals counts, times a power of ten.
fn half_of_place(decimals: usize, power: i64) -> f64 {
    let place = power.saturating_sub(i64::try_from(decimals).unwrap_or(i64::MAX));
    let half = format!("5e{}", place.saturating_sub(1));
    half.parse().unwrap_or(f64::INFINITY)
}

/// Whether marks part the digits in threes, as thousands are.
fn grouped(body: &str, mark: char) -> bool {
    let mut groups = body.split(mark);
    let first = groups.next().unwrap_or_default();
    (1..=3).contains(&first.len()) && groups.all(|group| group.len() == 3)
}

/// A number with several marks: thousands, if anything.
fn thousands<'t>(body: &str, rest: &str) -> Found<'t> {
    let mark = body
        .chars()
        .rev()
        .find(|letter| matches!(letter, '.' | ','));
    let Some(mark) = mark else {
        return Err(NoNumber::Missing);
    };
    let other = if mark == '.' { ',' } else { '.' };
    let (head, tail) = match body.rsplit_once(mark) {
        Some((head, tail)) if head.contains(other) => (head, Some(tail)),
        _ => (body, None),
    };
    let parting = if tail.is_some() { other } else { mark };
    if !grouped(head, parting)
        || head.contains(|letter| letter != parting && matches!(letter, '.' | ','))
    {
        return Err(NoNumber::Missing);
    }
    let whole = head.replace(parting, "");
    let tail = tail.map(|tail| format!(".{tail}")).unwrap_or_default();
    unclear(WITHOUT_MARKS, format!("`{whole}{tail}{rest}`"))
}

const WITHOUT_MARKS: &str = "thousands are written without a mark between them";

/// A number whose thousands are parted by blanks or apostrophes; none where they are not.
fn blanks<'t>(first: &str, behind: &str) -> Option<Found<'t>> {
    let part = |text: &'_ str| -> Option<(String, usize)> {
        let behind =
            text.strip_prefix([' ', '\u{a0}', '\u{2009}', '\u{202f}', '\'', '\u{2019}'])?;
        let (three, rest) = digits(behind);
        (three.len() == 3).then(|| (three.to_owned(), rest.len()))
    };
    let mut whole = first.to_owned();
    let mut rest = behind;
    while let Some((three, left)) = part(rest) {
        whole.push_str(&three);
        rest = rest.get(rest.len() - left..).unwrap_or("");
    }
    let parted = rest.len() < behind.len() && (1..=3).contains(&first.len());
    parted.then(|| unclear(WITHOUT_MARKS, format!("`{whole}{rest}`")))
}
