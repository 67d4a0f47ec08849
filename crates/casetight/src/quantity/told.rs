//! Quantities in messages.

use super::text::TradeUnits;
use super::unit::DIGITS;

/// A value in the SI unit as a message tells it, in a unit that reads well at its size; in the SI unit where it is none that the quantity
/// can have.
#[must_use]
pub fn told<Q: TradeUnits>(si: f64) -> String {
    match Q::from_si_value(si) {
        Ok(quantity) => quantity.trade().to_string(),
        Err(_) => Q::UNITS
            .first()
            .map_or_else(|| si.to_string(), |unit| unit.shown(si, DIGITS)),
    }
}
