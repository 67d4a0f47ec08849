//! A value of the sheet and its uncertainty, which has a key of its own.

use super::entry::{Absent, Entry, Value};
use super::keyed::{Key, KeyRule, ReadKey};
use super::stated::{in_trade_units, quoted, uncertainty, with_uncertainty};
use super::writer::Writer;
use crate::sheet::document::Table;
use crate::sheet::error::Problem;
use crate::sheet::error::SheetError;
use crate::sheet::usual::{LAST_DIGIT, USUAL};
use casetight::below::half_of_last_digit;
use casetight::measured::{Distribution, Measurable, Measured, MeasuredError};
use casetight::quantity::TradeUnits;

/// What stands for an uncertainty that is not stated.
pub(in crate::sheet) enum Unstated {
    /// Half a unit of the last digit written.
    LastDigit,
    /// What is usual.
    Usual(&'static str),
    /// Nothing: it must be stated, such as in this example.
    Needed(&'static str),
}

impl Unstated {
    /// What stands for it, in words; none where it must be stated.
    pub(in crate::sheet) fn words(&self) -> &'static str {
        match self {
            Self::LastDigit => "half the last digit written",
            Self::Usual(usual) => usual,
            Self::Needed(_) => "",
        }
    }
}

/// A quantity with its uncertainty from two keys of a table.
pub(in crate::sheet) fn measured<Q>(
    table: &Table<'_>,
    key: &Key,
    unstated: &Unstated,
) -> Result<Measured<Q>, SheetError>
where
    Q: TradeUnits + Measurable<Spread: TradeUnits>,
{
    let item = table.need(key.name, key.example)?;
    let value = item.quantity::<Q>()?;
    match (table.get(key.uncertainty), unstated) {
        (Some(stated), _) => {
            let text = stated.characters("text with a number and a unit")?;
            with_uncertainty(value, text).map_err(|problem| match problem {
                Problem::Measured(MeasuredError::Uncertainty { got }) if got < 0.0 => {
                    stated.below_zero()
                }
                problem => stated.error(problem),
            })
        }
        // "52.0 mm" lies within 0.05 mm, "7.2" within 0.05, "75 mm" within 0.5 mm, "250 cm3" within 0.5 cm3 (zeros before a point count as
        // digits that were read), the half-width of a rectangular distribution. Source: `[JCGM100]`, F.2.2.1.
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
        (None, Unstated::Needed(example)) => Err(table.missing(key.uncertainty, example)),
    }
}

impl Key {
    /// The entries of a value and of its uncertainty.
    pub(in crate::sheet) fn pair<Q>(&self, unstated: &str) -> Vec<Entry>
    where
        Q: TradeUnits + Measurable<Spread: TradeUnits>,
    {
        let stands = match unstated {
            "" => Absent::Never,
            words => Absent::Stands(words.to_owned()),
        };
        let second = Entry {
            key: self.uncertainty,
            what: "Its uncertainty.".to_owned(),
            absent: stands,
            is_uncertainty: true,
            beside: vec![self.name],
            value: Value::quantity::<Q::Spread>(),
        };
        vec![self.entry(Absent::Never, Value::quantity::<Q>()), second]
    }

    pub(in crate::sheet) fn write_pair<Q>(&self, value: &Measured<Q>, out: &mut Writer)
    where
        Q: TradeUnits + Measurable<Spread: TradeUnits>,
    {
        out.line(self.name, quoted(&in_trade_units(value.value())));
        if value.source() != USUAL {
            out.line(self.uncertainty, quoted(&uncertainty(value)));
        }
    }
}

/// A value, and its uncertainty under a key of its own.
pub(in crate::sheet) struct Valued(pub(in crate::sheet) Unstated);

impl<Q> KeyRule<Measured<Q>> for Valued
where
    Q: TradeUnits + Measurable<Spread: TradeUnits>,
{
    fn names(&self, key: &Key, names: &mut Vec<&'static str>) {
        names.extend([key.name, key.uncertainty]);
    }

    fn entries(&self, key: &Key) -> Vec<Entry> {
        key.pair::<Q>(self.0.words())
    }

    fn write(&self, key: &Key, value: &Measured<Q>, out: &mut Writer) {
        key.write_pair(value, out);
    }
}

impl<Q, C> ReadKey<Measured<Q>, C> for Valued
where
    Q: TradeUnits + Measurable<Spread: TradeUnits>,
{
    fn read(&self, key: &Key, table: &Table<'_>, _: &C) -> Result<Measured<Q>, SheetError> {
        measured(table, key, &self.0)
    }
}
