//! Quantities as the trade writes them: a number and a unit. Why `uom` does not read them: DEVELOPERS.md, "Ours, and why".

use core::fmt;

use super::number::{NoNumber, Number, number_of};
use super::unit::{Unit, joined, significant};
use super::{QuantityError, Ratio};

/// Reads and writes a quantity as a number with a unit.
///
/// Text is a number, a space or none, and a unit: "7 psi", "0.3mm", "1013.25 hPa", "-5e3 Pa". The sign may be a hyphen
/// or the true minus (U+2212). The decimal mark may be a point or a comma, "7,5 psi"; a comma before three digits, "1,000 cm3", may
/// be either and is refused. A fraction is read, "3/8 in", "1-3/4 in", "1 3/4 in", and of a time minutes and seconds, "1:30", ":30". Unit
/// spellings tell capitals from small letters (`mPa` is not
/// `MPa`); superscripts, degree signs, dots of multiplication and both code points of the micro sign are understood.
///
/// # Example
/// ```
/// use casetight::quantity::{Length, ParseQuantityError, TradeUnits};
///
/// let hole = Length::parse("0.3 mm")?;
/// assert_eq!(hole.trade().to_string(), "0.3 mm");
/// assert_eq!(hole.display_in("thou")?.to_string(), "11.81 thou");
/// assert_eq!(format!("{:.1}", hole.display_in("um")?), "300.0 um");
///
/// let mistake = Length::parse("1,000 mm").unwrap_err();
/// assert_eq!(
///     mistake.to_string(),
///     "`1,000 mm`: the comma may stand between thousands or for a decimal point; write `1000 mm` or `1.000 mm`"
/// );
/// # Ok::<(), ParseQuantityError>(())
/// ```
pub trait TradeUnits: Copy + 'static {
    /// What kind of quantity this is, in words: "gauge pressure".
    const DIMENSION: &'static str;
    /// The units that are read, the SI unit first.
    const UNITS: &'static [Unit];
    /// A word after the unit, where the unit alone leaves something open: "gauge". Written always, read if there.
    const KIND: &'static str = "";
    /// A text that would be right, in a unit that is usual; empty where none is known.
    const EXAMPLE: &'static str = "";
    /// Whether minutes and seconds, "1:30", are read without a unit: so many of the SI unit.
    const CLOCK: bool = false;
    /// Units, or last words of units, that are easily written here by mistake, and what to do about each.
    const MISPLACED: &'static [(&'static str, &'static str)] = &[];

    /// The value in the SI unit.
    #[must_use]
    fn si_value(self) -> f64;

    /// The quantity of this value in the SI unit.
    ///
    /// # Errors
    /// [`QuantityError`] unless the value is one that the quantity can have.
    fn from_si_value(value: f64) -> Result<Self, QuantityError>;

    /// The unit of this spelling.
    ///
    /// # Errors
    /// [`ParseQuantityError::UnknownUnit`] or [`ParseQuantityError::MisplacedUnit`].
    fn unit(spelling: &str) -> Result<&'static Unit, ParseQuantityError> {
        find_unit::<Self>(spelling)
    }

    /// The quantity that the text states.
    ///
    /// # Errors
    /// A [`ParseQuantityError`] that says what is wrong and what to write.
    fn parse(text: &str) -> Result<Self, ParseQuantityError> {
        parse::<Self>(text)
    }

    /// The value in a unit.
    ///
    /// # Errors
    /// As [`TradeUnits::unit`].
    fn value_in(self, unit: &str) -> Result<f64, ParseQuantityError> {
        Ok(Self::unit(unit)?.from_si(self.si_value()))
    }

    /// The quantity that has this value in a unit.
    ///
    /// # Errors
    /// As [`TradeUnits::unit`], and [`ParseQuantityError::Value`] unless the quantity can have the value.
    fn from_value_in(value: f64, unit: &str) -> Result<Self, ParseQuantityError> {
        Ok(Self::from_si_value(Self::unit(unit)?.to_si(value))?)
    }

    /// The quantity shown in a unit, to four digits unless the format says `{:.2}` or [`InUnit::digits`] says more.
    ///
    /// # Errors
    /// As [`TradeUnits::unit`].
    fn display_in(self, unit: &str) -> Result<InUnit, ParseQuantityError> {
        Ok(InUnit::new(self, Self::unit(unit)?))
    }

    /// The quantity shown in a unit that reads well at its size, to four digits.
    #[must_use]
    fn trade(self) -> InUnit {
        let size = self.si_value().abs();
        let readable = Self::UNITS
            .iter()
            .filter_map(|unit| Some((unit.reads_well_from()?, unit)))
            .filter(|(from, _)| *from <= size)
            .max_by(|(a, _), (b, _)| a.total_cmp(b))
            .map(|(_, unit)| unit);
        // NaN has no size.
        let unit = readable.or_else(|| Self::UNITS.first());
        InUnit::new(self, unit.unwrap_or(&const { Unit::si("") }))
    }

    /// The quantity as text in the SI unit that parses back to the same bits, for files.
    ///
    /// ```
    /// use casetight::quantity::{GaugePressure, TradeUnits};
    /// let reading = GaugePressure::parse("-0.1 bar")?;
    /// assert_eq!(reading.written(), "-10000 Pa");
    /// # Ok::<(), casetight::quantity::ParseQuantityError>(())
    /// ```
    #[must_use]
    fn written(self) -> String {
        let value = self.si_value();
        let symbol = Self::UNITS.first().map_or("", Unit::symbol);
        // The shortest digits that hold every bit, with an exponent where zeros would run on.
        let number = if value == 0.0 || (1e-5..1e16).contains(&value.abs()) {
            value.to_string()
        } else {
            format!("{value:e}")
        };
        joined(&number, symbol, "")
    }
}

/// A quantity in one of its units, ready to be shown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InUnit {
    value: f64,
    symbol: &'static str,
    kind: &'static str,
    digits: usize,
}

impl InUnit {
    /// Digits that say all a bench can tell.
    const DIGITS: usize = 4;
    /// Digits that tell every number from its neighbors.
    const MOST_DIGITS: usize = 17;

    fn new<Q: TradeUnits>(quantity: Q, unit: &'static Unit) -> Self {
        Self {
            value: unit.from_si(quantity.si_value()),
            symbol: unit.symbol(),
            kind: if unit.says_kind() { "" } else { Q::KIND },
            digits: Self::DIGITS,
        }
    }

    /// The same with this many significant digits (trailing zeros are not shown), of which 17 say all that a number holds.
    #[must_use]
    pub fn digits(mut self, digits: usize) -> Self {
        self.digits = digits.min(Self::MOST_DIGITS);
        self
    }

    /// The value in the unit.
    #[must_use]
    pub fn value(self) -> f64 {
        self.value
    }

    /// The symbol of the unit.
    #[must_use]
    pub fn symbol(self) -> &'static str {
        self.symbol
    }
}

/// A precision, `{:.2}`, sets the decimals; else the significant digits are those of [`InUnit::digits`].
impl fmt::Display for InUnit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let number = match f.precision() {
            Some(decimals) => format!("{:.decimals$}", self.value),
            None => significant(self.value, self.digits),
        };
        let text = joined(&number, self.symbol, self.kind);
        // `pad` would cut the text at the precision.
        match (f.width(), f.align()) {
            (None, _) => f.write_str(&text),
            (Some(width), Some(fmt::Alignment::Right)) => write!(f, "{text:>width$}"),
            (Some(width), Some(fmt::Alignment::Center)) => write!(f, "{text:^width$}"),
            (Some(width), _) => write!(f, "{text:<width$}"),
        }
    }
}

/// What can be wrong with a quantity as text.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ParseQuantityError {
    /// Nothing is written.
    #[error(
        "no {dimension} is given, where a number and a unit should be{}",
        such_as(example)
    )]
    Empty {
        /// Which kind of quantity is asked for.
        dimension: &'static str,
        /// A text that would be right; empty where none is known.
        example: &'static str,
    },
    /// A number that may be meant in two ways, or that is written in one that is not read.
    #[error("`{text}`: {why}; write {write}")]
    Unclear {
        /// What is written.
        text: String,
        /// What is wrong with it.
        why: &'static str,
        /// What to write instead, each text in back quotes.
        write: String,
    },
    /// No number where one should be.
    #[error(
        "`{text}` is not one number and one unit, as {dimension} is written{}",
        such_as(example)
    )]
    NotANumber {
        /// Which kind of quantity is asked for.
        dimension: &'static str,
        /// What is written.
        text: String,
        /// A text that would be right; empty where none is known.
        example: &'static str,
    },
    /// NaN, an infinity, or a number too large to hold.
    #[error("`{text}` is not a finite number, as {dimension} must be")]
    NotFinite {
        /// Which kind of quantity is asked for.
        dimension: &'static str,
        /// What is written.
        text: String,
    },
    /// A number alone.
    #[error(
        "`{number}` has no unit: {dimension} is written with one{}, in one of {}",
        such_as(&joined(number, example, "")), listed(accepted)
    )]
    MissingUnit {
        /// Which kind of quantity is asked for.
        dimension: &'static str,
        /// The number that is written.
        number: String,
        /// A unit that would be right.
        example: &'static str,
        /// The units that are read.
        accepted: &'static [Unit],
    },
    /// A unit that this kind of quantity is not measured in.
    #[error("`{unit}` is not a unit of {dimension}: write {}", meant_or_listed(*meant, accepted))]
    UnknownUnit {
        /// Which kind of quantity is asked for.
        dimension: &'static str,
        /// The unit that is written.
        unit: String,
        /// The unit that has the same letters, capitals or not.
        meant: Option<&'static str>,
        /// The units that are read.
        accepted: &'static [Unit],
    },
    /// A unit of a kind of quantity that is easily taken for this one.
    #[error("`{unit}` is not a unit of {dimension}: {advice}")]
    MisplacedUnit {
        /// Which kind of quantity is asked for.
        dimension: &'static str,
        /// The unit that is written.
        unit: String,
        /// What to do.
        advice: &'static str,
    },
    /// Text that states no reference conditions.
    #[error(
        "`{text}` states no reference conditions: write a name (normal, ANR, ISA), or a temperature and an absolute \
         pressure, as in \"0 C, 101.325 kPa\""
    )]
    ReferenceConditions {
        /// What is written.
        text: String,
    },
    /// A value that the quantity can't have.
    #[error(transparent)]
    Value(#[from] QuantityError),
}

fn such_as(example: &str) -> String {
    match example {
        "" => String::new(),
        example => format!(", such as \"{example}\""),
    }
}

fn meant_or_listed(meant: Option<&str>, units: &[Unit]) -> String {
    match meant {
        Some(meant) => format!("`{meant}`"),
        None => format!("one of {}", listed(units)),
    }
}

fn listed(units: &[Unit]) -> String {
    let symbols: Vec<_> = units
        .iter()
        .map(|unit| match unit.symbol() {
            "" => "(no unit)",
            symbol => symbol,
        })
        .collect();
    symbols.join(", ")
}

/// A unit's text in plain letters: no superscripts, no degree signs (nor `deg` before C and F), one micro sign, one mark of inches, single spaces.
fn plain(unit: &str) -> String {
    let letters: String = unit
        .chars()
        .filter(|letter| !matches!(letter, '\u{b0}' | '\u{ba}' | '^'))
        .map(|letter| match letter {
            '\u{b5}' | '\u{3bc}' => 'u',
            '\u{b2}' => '2',
            '\u{b3}' => '3',
            '\u{b7}' | '\u{22c5}' | '*' => ' ',
            // Marks of inches.
            '\u{2033}' | '\u{201d}' => '"',
            // Degrees of one letter.
            '\u{2103}' => 'C',
            '\u{2109}' => 'F',
            other => other,
        })
        .collect();
    let words: Vec<&str> = letters.split_whitespace().collect();
    let words = words.join(" ");
    // A degree sign in letters. An angle's degrees have no scale behind them.
    let degrees = ["deg C", "degC", "deg F", "degF"];
    match degrees.iter().find(|degrees| words.starts_with(**degrees)) {
        Some(_) => words.replacen("deg", "", 1).trim_start().to_owned(),
        None => words,
    }
}

fn find_unit<Q: TradeUnits>(spelling: &str) -> Result<&'static Unit, ParseQuantityError> {
    let written = plain(spelling);
    let without_kind = written
        .strip_suffix(Q::KIND)
        .and_then(|unit| unit.strip_suffix(' '))
        .unwrap_or(&written);
    if let Some(unit) = Q::UNITS
        .iter()
        .find(|unit| unit.spellings().any(|known| known == without_kind))
    {
        return Ok(unit);
    }
    let last_word = written.rsplit(' ').next();
    let misplaced = Q::MISPLACED
        .iter()
        .find(|(unit, _)| *unit == written || Some(*unit) == last_word);
    Err(match misplaced {
        Some((_, advice)) => ParseQuantityError::MisplacedUnit {
            dimension: Q::DIMENSION,
            unit: spelling.trim().to_owned(),
            advice,
        },
        None => ParseQuantityError::UnknownUnit {
            dimension: Q::DIMENSION,
            unit: spelling.trim().to_owned(),
            meant: but_for_capitals::<Q>(without_kind),
            accepted: Q::UNITS,
        },
    })
}

/// The unit that has the same letters, capitals or not, where there is one alone.
fn but_for_capitals<Q: TradeUnits>(unit: &str) -> Option<&'static str> {
    let spelled = |known: &&Unit| {
        let mut spellings = known.spellings();
        spellings.any(|spelling| spelling.eq_ignore_ascii_case(unit))
    };
    let mut meant = Q::UNITS.iter().filter(spelled);
    let first = meant.next()?;
    meant.next().is_none().then(|| first.symbol())
}

fn parse<Q: TradeUnits>(text: &str) -> Result<Q, ParseQuantityError> {
    let text = text.trim();
    let dimension = Q::DIMENSION;
    if text.is_empty() {
        return Err(ParseQuantityError::Empty {
            dimension,
            example: Q::EXAMPLE,
        });
    }
    let not_finite = || ParseQuantityError::NotFinite {
        dimension,
        text: text.to_owned(),
    };
    let number = number_of(text, Q::CLOCK).map_err(|no_number| match no_number {
        NoNumber::Missing if names_no_finite_number(text) => not_finite(),
        NoNumber::Missing => not_a_number::<Q>(text),
        NoNumber::Unclear { why, write } => unclear(text, why, write),
    })?;
    let unit = unit_behind::<Q>(text, &number)?;
    let si = unit.to_si(number.value);
    if !si.is_finite() {
        return Err(not_finite());
    }
    Ok(Q::from_si_value(si)?)
}

/// The unit that stands behind a number.
fn unit_behind<Q: TradeUnits>(
    text: &str,
    number: &Number<'_>,
) -> Result<&'static Unit, ParseQuantityError> {
    let rest = number.rest;
    if number.is_clock {
        // What is counted so is counted in the SI unit, the first.
        return match rest.trim() {
            "" | "min" => Ok(Q::UNITS.first().unwrap_or(&const { Unit::si("") })),
            more if more.starts_with(|mark: char| !mark.is_alphabetic()) => {
                Err(not_a_number::<Q>(text))
            }
            _ => {
                let written = number.written;
                let write = if written.matches(':').count() == 1 {
                    format!("`{written}`, or with hours before them `{written}:00`")
                } else {
                    format!("`{written}`")
                };
                Err(unclear(
                    text,
                    "minutes and seconds stand without a unit",
                    write,
                ))
            }
        };
    }
    match Q::unit(rest) {
        Err(_) if rest.trim().is_empty() => Err(ParseQuantityError::MissingUnit {
            dimension: Q::DIMENSION,
            number: number.written.to_owned(),
            example: usual_unit::<Q>(),
            accepted: Q::UNITS,
        }),
        Err(unknown) => Err(otherwise::<Q>(text, number).unwrap_or(unknown)),
        unit => unit,
    }
}

/// The unit of the example of this kind of quantity.
fn usual_unit<Q: TradeUnits>() -> &'static str {
    number_of(Q::EXAMPLE, false).map_or("", |number| number.rest.trim())
}

/// What was meant by a text whose unit is none since the number is at fault; none where the unit is.
fn otherwise<Q: TradeUnits>(text: &str, number: &Number<'_>) -> Option<ParseQuantityError> {
    let rest = number.rest;
    let range = rest.trim_start().strip_prefix(['-', '\u{2013}']);
    if let Some(upper) = range.and_then(|range| number_of(range.trim(), Q::CLOCK).ok())
        && Q::unit(upper.rest).is_ok()
    {
        let middle = significant(f64::midpoint(number.value, upper.value), InUnit::DIGITS);
        let half = significant((upper.value - number.value).abs() / 2.0, InUnit::DIGITS);
        let unit = upper.rest.trim();
        let write = format!("`{middle} {unit}`, and `+- {half} {unit}` for its uncertainty");
        return Some(unclear(text, "a range is written as its middle", write));
    }
    let digit = rest.find(|letter: char| letter.is_ascii_digit());
    if let Some((first, second)) = digit.and_then(|place| rest.split_at_checked(place))
        && let Ok(one) = Q::parse(&format!("{}{first}", number.written))
        && let Ok(more) = Q::parse(second)
    {
        let sum = Q::from_si_value(one.si_value() + more.si_value()).ok()?;
        let write = format!("`{}`", sum.written());
        return Some(unclear(text, "there are two units; one is read", write));
    }
    let letters = [('O', '0'), ('o', '0'), ('l', '1'), ('I', '1')];
    let (_, digit) = letters
        .iter()
        .find(|(letter, _)| rest.starts_with(*letter))?;
    let behind = rest.get(1..)?;
    let meant = format!("{}{digit}{behind}", number.written);
    if Q::parse(&meant).is_ok() {
        return Some(unclear(
            text,
            "a letter stands among the digits",
            format!("`{meant}`"),
        ));
    }
    // "1.2.3 mm", "1 01 hPa": the number is at fault, not the unit.
    let more = |letter: char| letter.is_ascii_digit() || matches!(letter, '.' | '/' | ',' | ':');
    let at_fault = rest.trim_start_matches([' ', '-']).starts_with(more) && !rest.starts_with(": ");
    at_fault.then(|| not_a_number::<Q>(text))
}

fn unclear(text: &str, why: &'static str, write: String) -> ParseQuantityError {
    let text = text.to_owned();
    ParseQuantityError::Unclear { text, why, write }
}

fn not_a_number<Q: TradeUnits>(text: &str) -> ParseQuantityError {
    ParseQuantityError::NotANumber {
        dimension: Q::DIMENSION,
        text: text.to_owned(),
        example: Q::EXAMPLE,
    }
}

fn names_no_finite_number(text: &str) -> bool {
    let text = text.trim_start_matches(['+', '-', '\u{2212}']);
    ["nan", "inf"].iter().any(|name| {
        text.get(..name.len())
            .is_some_and(|start| start.eq_ignore_ascii_case(name))
    })
}

/// Half of what the last digit of a quantity's text counts, as a quantity: of "52.0 mm" 0.05 mm, of "1-3/4 in" 1/8 in, of "1:30" half a
/// second.
///
/// # Errors
/// As those of [`TradeUnits::parse`].
pub fn half_of_last_digit<Q: TradeUnits>(text: &str) -> Result<Q, ParseQuantityError> {
    Q::parse(text)?;
    let text = text.trim();
    let number = number_of(text, Q::CLOCK).map_err(|_| not_a_number::<Q>(text))?;
    let unit = unit_behind::<Q>(text, &number)?;
    // Of a scale with a zero of its own, the size of a degree.
    Ok(Q::from_si_value(unit.to_si(number.half_step))?)
}

/// A bare number as people write it, without a unit; none where there is none that is meant for sure.
///
/// # Errors
/// What to write instead, where that can be told.
pub fn bare_number(text: &str) -> Result<f64, ParseQuantityError> {
    let text = text.trim();
    match number_of(text, false) {
        Ok(number) if number.rest.trim().is_empty() => Ok(number.value),
        Err(NoNumber::Unclear { why, write }) => Err(unclear(text, why, write)),
        _ => Err(not_a_number::<Ratio>(text)),
    }
}

/// The unit that a quantity is written in; none where it can't be read.
#[must_use]
pub fn unit_of<Q: TradeUnits>(text: &str) -> Option<&'static Unit> {
    let number = number_of(text.trim(), Q::CLOCK).ok()?;
    unit_behind::<Q>(text, &number).ok()
}
