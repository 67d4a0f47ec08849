//! The first screen of `casetight running`.

use casetight::quantity::TradeUnits;
use casetight_bench::mixture::Mixture;
use casetight_bench::running::SMALL_IS_NOT_HARMLESS;
use casetight_bench::sheet::Sheet;
use casetight_report::words::title;

use super::{headed, more, ranged};
use crate::words::{HEADING, WARNING, narrow, say};

pub(crate) fn say_mixture(sheet: &Sheet, mixture: &Mixture) -> String {
    let mut out = String::new();
    say!(out, "{HEADING}{}{HEADING:#}\n", title(sheet));
    for (name, lean) in mixture.loads() {
        let rpm = lean.load.speed.value_in("rpm").unwrap_or(f64::NAN);
        let shift = lean.shift.si();
        let percents = [shift.value, shift.low, shift.high].map(|part| 100.0 * part);
        let lead = format!("{name}, {} rpm:", rpm.round());
        let text = format!("leaner by {}, estimated.", ranged("%", percents));
        headed(&mut out, HEADING, &lead, &text);
    }
    out.push('\n');
    headed(
        &mut out,
        WARNING,
        "Estimate:",
        "computed from the leak that was measured and the pressure that the case should have when it runs. Nothing here was \
         measured on the running engine.",
    );
    if mixture.loads().iter().any(|(_, lean)| lean.is_small()) {
        out.push('\n');
        out.push_str(&narrow("", &format!("{SMALL_IS_NOT_HARMLESS}.")));
    }
    more(&mut out);
    out
}
