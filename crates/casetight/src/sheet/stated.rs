//! A value of a sheet with its uncertainty, as it is written.

use super::document::Table;
use super::error::{Problem, SheetError};
use super::usual::{LAST_DIGIT, STATED, USUAL};
use crate::measured::{Distribution, Evaluation, Measurable, Measured};
use crate::quantity::{ParseQuantityError, TradeUnits};

/// What stands for an uncertainty that is not stated.
pub(super) enum Unstated {
    /// Half a unit of the last digit written.
    LastDigit,
    /// What is usual.
    Usual(&'static str),
    /// Nothing: it must be stated, in a line such as this.
    Needed(&'static str),
}

/// A quantity with its uncertainty from two keys of a table.
pub(super) fn measured<Q>(
    table: &Table<'_>,
    (key, example): (&'static str, &'static str),
    uncertainty_key: &'static str,
    unstated: &Unstated,
) -> Result<Measured<Q>, SheetError>
where
    Q: TradeUnits + Measurable<Spread: TradeUnits>,
{
    let item = table.need(key, example)?;
    let value = item.quantity::<Q>()?;
    match (table.get(uncertainty_key), unstated) {
        (Some(stated), _) => {
            let text = stated.characters("text with a number and a unit")?;
            stated.of(with_uncertainty(value, text))
        }
        (None, Unstated::LastDigit) => {
            let text = item.characters("text with a number and a unit")?;
            let half = item.of(half_of_last_digit(text))?;
            let measured = Measured::from_half_width(value, half, Distribution::Rectangular);
            Ok(item.of(measured)?.with_source(LAST_DIGIT))
        }
        (None, Unstated::Usual(text)) => {
            let measured = item.of(with_uncertainty(value, text))?;
            Ok(measured.with_source(USUAL))
        }
        (None, Unstated::Needed(example)) => {
            Err(table.error_at(uncertainty_key, Problem::Missing { example }))
        }
    }
}

/// The uncertainty of a value that states none: half a unit of the last digit written, the half-width of a rectangular
/// distribution. "52.0 mm" lies within 0.05 mm, "7.2" within 0.05, "75 mm" within 0.5 mm, "250 cm3" within 0.5 cm3 (zeros
/// before a point count as digits that were read). Source: `[JCGM100]`, F.2.2.1.
///
/// The text must be one that reads as such a quantity.
fn half_of_last_digit<S: TradeUnits>(text: &str) -> Result<S, ParseQuantityError> {
    let (number, unit) = number_and_unit(text);
    let (digits, exponent) = match number.split_once(['e', 'E']) {
        Some((digits, exponent)) => (digits, exponent.replace('\u{2212}', "-").parse().ok()),
        None => (number, None),
    };
    let decimals = digits.split_once('.').map_or("", |(_, decimals)| decimals);
    let last = exponent.unwrap_or(0_i64) - i64::try_from(decimals.len()).unwrap_or(i64::MAX);
    S::parse(&format!("5e{}{unit}", last.saturating_sub(1)))
}

/// A quantity's text apart: its number, and its unit with the space before it.
pub(super) fn number_and_unit(text: &str) -> (&str, &str) {
    let text = text.trim();
    // No unit starts with a sign, a digit, a point or an e.
    let in_number = |letter: char| {
        letter.is_ascii_digit() || matches!(letter, '+' | '-' | '\u{2212}' | '.' | 'e' | 'E')
    };
    text.split_at(text.find(|c| !in_number(c)).unwrap_or(text.len()))
}

/// Marks an uncertainty that was not stated in the first place, in a sheet that was written out.
pub(super) const LAST_DIGIT_MARK: &str = "(last digit)";

/// A value with an uncertainty as text: "0.03 mm" is standard, "+- 0.05 mm" a tolerance.
pub(super) fn with_uncertainty<Q>(value: Q, text: &str) -> Result<Measured<Q>, Problem>
where
    Q: Measurable<Spread: TradeUnits>,
{
    let text = text.trim();
    let (text, source) = match text.strip_suffix(LAST_DIGIT_MARK) {
        Some(text) => (text, LAST_DIGIT),
        None => (text, STATED),
    };
    let tolerance = ["+-", "+/-", "\u{b1}"]
        .iter()
        .find_map(|mark| text.strip_prefix(mark));
    let measured = if let Some(half) = tolerance {
        let half = Q::Spread::parse(half)?;
        Measured::from_half_width(value, half, Distribution::Rectangular)
    } else {
        let normal = Evaluation::TypeB(Distribution::Normal);
        Measured::new(value, Q::Spread::parse(text)?, normal)
    };
    Ok(measured?.with_source(source))
}
