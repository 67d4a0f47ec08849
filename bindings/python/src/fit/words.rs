//! A fit in words.

use casetight::fit::Fit;

/// A fit in one line.
pub(crate) fn in_words(fit: &Fit) -> String {
    let law = fit.laws.first().map_or(String::new(), |l| {
        format!(", {} {:.0} %", l.law.name(), 100.0 * l.weight)
    });
    format!("{}, effective area {}{law}", fit.direction, fit.area)
}
