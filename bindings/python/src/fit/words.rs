//! A fit and its area in words.

use casetight::fit::{Fit, Interval};
use casetight::quantity::{Area, TradeUnits};
use uom::si::area::square_meter;

/// A fit in one line.
pub(crate) fn in_words(fit: &Fit) -> String {
    let law = fit.laws.first().map_or(String::new(), |l| {
        format!(", {} {:.0} %", l.law.name(), 100.0 * l.weight)
    });
    format!(
        "{}, effective area {}{law}",
        fit.direction,
        area_in_words(&fit.area)
    )
}

/// An area with its interval in a unit that reads well.
pub(crate) fn area_in_words(area: &Interval) -> String {
    let shown = |value: f64| {
        Area::new::<square_meter>(value)
            .trade()
            .digits(3)
            .to_string()
    };
    let high = if area.high.is_finite() {
        shown(area.high)
    } else {
        "open".to_owned()
    };
    format!(
        "{} ({} to {high}, {} %)",
        shown(area.value),
        shown(area.low),
        100.0 * area.level
    )
}
