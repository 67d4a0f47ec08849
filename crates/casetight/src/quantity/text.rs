//! Quantities as the trade writes them: a number and a unit. Why `uom` does not read them: DEVELOPERS.md, "Ours, and why".

use core::fmt;

use super::QuantityError;
use super::unit::{Unit, joined, significant};

/// Reads and writes a quantity as a number with a unit.
///
/// Text is a number, a space or none, and a unit: "7 psi", "0.3mm", "1013.25 hPa", "-5e3 Pa". The sign may be a hyphen
/// or the true minus (U+2212). The decimal mark is a point. Unit spellings tell capitals from small letters (`mPa` is not
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
/// let mistake = Length::parse("0,3 mm").unwrap_err();
/// assert_eq!(mistake.to_string(), "`0,3 mm`: write a decimal point, and no comma");
/// # Ok::<(), ParseQuantityError>(())
/// ```
pub trait TradeUnits: Copy + 'static {
    /// What kind of quantity this is, in words: "gauge pressure".
    const DIMENSION: &'static str;
    /// The units that are read, the SI unit first.
    const UNITS: &'static [Unit];
    /// A word after the unit, where the unit alone leaves something open: "gauge". Written always, read if there.
    const KIND: &'static str = "";
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
    #[error("no {dimension} is given, where a number and a unit should be")]
    Empty {
        /// Which kind of quantity is asked for.
        dimension: &'static str,
    },
    /// A comma in the number; a decimal comma and a thousands comma look alike.
    #[error("`{text}`: write a decimal point, and no comma")]
    DecimalComma {
        /// What is written.
        text: String,
    },
    /// No number where one should be.
    #[error("`{text}` is not one number and one unit, as {dimension} is written")]
    NotANumber {
        /// Which kind of quantity is asked for.
        dimension: &'static str,
        /// What is written.
        text: String,
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
        "`{number}` has no unit: {dimension} is written in one of {}",
        listed(accepted)
    )]
    MissingUnit {
        /// Which kind of quantity is asked for.
        dimension: &'static str,
        /// The number that is written.
        number: String,
        /// The units that are read.
        accepted: &'static [Unit],
    },
    /// A unit that this kind of quantity is not measured in.
    #[error(
        "`{unit}` is not a unit of {dimension}: write one of {}",
        listed(accepted)
    )]
    UnknownUnit {
        /// Which kind of quantity is asked for.
        dimension: &'static str,
        /// The unit that is written.
        unit: String,
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

/// A unit's text in plain letters: no superscripts, no degree signs, one micro sign, single spaces.
fn plain(unit: &str) -> String {
    let letters: String = unit
        .chars()
        .filter(|letter| !matches!(letter, '\u{b0}' | '\u{ba}' | '^'))
        .map(|letter| match letter {
            '\u{b5}' | '\u{3bc}' => 'u',
            '\u{b2}' => '2',
            '\u{b3}' => '3',
            '\u{b7}' | '\u{22c5}' | '*' => ' ',
            other => other,
        })
        .collect();
    letters.split_whitespace().collect::<Vec<_>>().join(" ")
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
            accepted: Q::UNITS,
        },
    })
}

fn parse<Q: TradeUnits>(text: &str) -> Result<Q, ParseQuantityError> {
    let text = text.trim();
    let dimension = Q::DIMENSION;
    if text.is_empty() {
        return Err(ParseQuantityError::Empty { dimension });
    }
    let (number, rest) = text.split_at(number_length(text));
    if rest.starts_with(',') {
        return Err(ParseQuantityError::DecimalComma {
            text: text.to_owned(),
        });
    }
    let not_finite = || ParseQuantityError::NotFinite {
        dimension,
        text: text.to_owned(),
    };
    let not_a_number = || ParseQuantityError::NotANumber {
        dimension,
        text: text.to_owned(),
    };
    let value: f64 = match number.replace('\u{2212}', "-").parse() {
        Ok(value) => value,
        Err(_) if names_no_finite_number(rest) => return Err(not_finite()),
        Err(_) => return Err(not_a_number()),
    };
    let unit = match Q::unit(rest) {
        Ok(unit) => unit,
        Err(_) if rest.trim().is_empty() => {
            return Err(ParseQuantityError::MissingUnit {
                dimension,
                number: number.to_owned(),
                accepted: Q::UNITS,
            });
        }
        // "1.2.3 mm", "1 013 hPa": the number is at fault, not the unit.
        Err(_)
            if rest
                .trim_start()
                .starts_with(|c: char| c.is_ascii_digit() || c == '.') =>
        {
            return Err(not_a_number());
        }
        Err(unknown) => return Err(unknown),
    };
    let si = unit.to_si(value);
    if !si.is_finite() {
        return Err(not_finite());
    }
    Ok(Q::from_si_value(si)?)
}

fn names_no_finite_number(text: &str) -> bool {
    ["nan", "inf"].iter().any(|name| {
        text.get(..name.len())
            .is_some_and(|start| start.eq_ignore_ascii_case(name))
    })
}

/// The length in bytes of the number that the text starts with: sign, digits, point, digits, exponent.
fn number_length(text: &str) -> usize {
    let sign = |text: &str| {
        let unsigned = text.strip_prefix(['+', '-', '\u{2212}']).unwrap_or(text);
        text.len() - unsigned.len()
    };
    let digits = |text: &str| text.bytes().take_while(u8::is_ascii_digit).count();
    let mut length = sign(text);
    let tail = |length: usize| text.get(length..).unwrap_or("");
    length += digits(tail(length));
    if tail(length).starts_with('.') {
        length += 1 + digits(tail(length + 1));
    }
    if tail(length).starts_with(['e', 'E']) {
        let digits_at = length + 1 + sign(tail(length + 1));
        let exponent = digits(tail(digits_at));
        if exponent > 0 {
            length = digits_at + exponent;
        }
    }
    length
}
