//! A quantity of the sheet, its uncertainty, and its number, as text.

use crate::sheet::error::Problem;
use crate::sheet::usual::{LAST_DIGIT, STATED};
use casetight::below::bare_number;
use casetight::measured::{Distribution, Evaluation, Measurable, Measured};
use casetight::quantity::{TradeUnits, Unit};

/// Marks an uncertainty that was not stated in the first place, in a sheet that was written out.
pub(in crate::sheet) const LAST_DIGIT_MARK: &str = "(last digit)";

/// A value with an uncertainty as text: "0.03 mm" is standard, "+- 0.05 mm" a tolerance.
pub(in crate::sheet) fn with_uncertainty<Q>(value: Q, text: &str) -> Result<Measured<Q>, Problem>
where
    Q: Measurable<Spread: TradeUnits>,
{
    let text = text.trim();
    let (text, source) = match text.strip_suffix(LAST_DIGIT_MARK) {
        Some(text) => (text, LAST_DIGIT),
        None => (text, STATED),
    };
    if let Some(percent) = percent_of(text).filter(|_| Q::Spread::unit("%").is_err()) {
        let spread = Q::spread_from_si(value.si().abs() * percent / 100.0);
        let write = spread.trade().to_string();
        return Err(Problem::Percent { write });
    }
    Ok(Measured::with_uncertainty(value, text)?.with_source(source))
}

/// How many percent a text states; none where it states something else.
fn percent_of(text: &str) -> Option<f64> {
    bare_number(text.strip_suffix('%')?).ok()
}

pub(in crate::sheet) fn quoted(text: &str) -> String {
    toml::Value::from(text).to_string()
}

/// A number as TOML has it, with the digits that hold every bit.
pub(in crate::sheet) fn number(value: f64) -> String {
    if value == 0.0 || (1e-5..1e15).contains(&value.abs()) {
        value.to_string()
    } else {
        format!("{value:e}")
    }
}

/// The value of fewest digits in a unit that is, to the bit, this value in the SI unit; and how many digits these are.
pub(in crate::sheet) fn exact_in(unit: &Unit, si: f64) -> Option<(usize, f64)> {
    fewest_digits(unit.from_si(si), |value| {
        unit.to_si(value).total_cmp(&si).is_eq()
    })
}

/// An SI value in a unit, to the bit where a number of the unit is.
pub(in crate::sheet) fn shown_in(unit: &Unit, si: f64) -> f64 {
    exact_in(unit, si).map_or_else(|| unit.from_si(si), |(_, shown)| shown)
}

/// The number of fewest digits near another that stands for the same; and how many digits these are.
pub(in crate::sheet) fn fewest_digits(
    near: f64,
    same: impl Fn(f64) -> bool,
) -> Option<(usize, f64)> {
    let rounded = (0..17).filter_map(|decimals| format!("{near:.decimals$e}").parse().ok());
    let each = rounded
        .chain([near.next_up(), near.next_down()])
        .enumerate();
    each.into_iter().find(|(_, value)| same(*value))
}

/// From so many digits on no unit is told to be the one that a number was written in.
const ANY_UNIT: usize = 12;

/// A quantity with every bit, in the unit that takes the fewest digits for it: most likely the one that it was written in.
/// Of units that take as many, the one that reads best at this size.
pub(in crate::sheet) fn in_trade_units<Q: TradeUnits>(quantity: Q) -> String {
    let readable = quantity.trade().symbol();
    let exact = Q::UNITS
        .iter()
        .filter_map(|unit| {
            let (digits, value) = exact_in(unit, quantity.si_value())?;
            Some((digits, unit.symbol() != readable, unit.symbol(), value))
        })
        .min_by_key(|(digits, less_readable, ..)| ((*digits).min(ANY_UNIT), *less_readable));
    match exact {
        Some((_, _, symbol, value)) => format!("{} {symbol}", number(value)).trim_end().to_owned(),
        None => quantity.written(),
    }
}

/// An uncertainty as text: a tolerance where it is rectangular.
pub(in crate::sheet) fn uncertainty<Q>(measured: &Measured<Q>) -> String
where
    Q: Measurable<Spread: TradeUnits>,
{
    let spread = measured.standard_uncertainty();
    if measured.evaluation() != Evaluation::TypeB(Distribution::Rectangular) {
        return in_trade_units(spread);
    }
    // Of the half-widths that give this uncertainty to the bit, the one of fewest digits: the one that was written.
    let divisor = Distribution::Rectangular.half_width_divisor();
    let u = spread.si_value();
    let near = u * divisor;
    let half = [near, near.next_up(), near.next_down()]
        .into_iter()
        .filter(|half| (half / divisor).total_cmp(&u).is_eq())
        .filter_map(|half| Q::Spread::from_si_value(half).ok())
        .map(in_trade_units)
        .min_by_key(String::len)
        .unwrap_or_else(|| in_trade_units(Q::spread_from_si(near)));
    let mark = if measured.source() == LAST_DIGIT {
        format!(" {LAST_DIGIT_MARK}")
    } else {
        String::new()
    };
    format!("+- {half}{mark}")
}
