//! The readings as the sheet has them.

use casetight::quantity::{TradeUnits, Unit};
use casetight_bench::sheet::{Record, Sheet};
use maud::{Markup, html};

use crate::words::shown;

/// Readings shown of a run at most; of more, every so many-th.
const MOST_READINGS: usize = 60;

pub(super) fn all_readings(sheet: &Sheet) -> Markup {
    html! {
        section.long aria-labelledby="all-readings-heading" {
            h2 #all-readings-heading { "The readings" }
            @for run in &sheet.runs {
                @let unit = sheet.unit_of(run);
                h3 { (run.name) ", seconds and " (unit.symbol()) " gauge" }
                @match &run.record {
                    Record::Stalled(stalled) => p {
                        "The pump stalled: " (stalled.strokes) " strokes of " (stalled.stroke_volume.trade()) " over "
                        (stalled.over.trade()) ", needle at " (shown(stalled.reached, unit)) "."
                    },
                    Record::Trace { file, readings, .. } => p {
                        (readings.len()) " readings in the file " (file) "."
                    },
                    Record::Readings(readings) => {
                        @let every = readings.len().div_ceil(MOST_READINGS);
                        @if every > 1 {
                            p { "One in " (every) " of " (readings.len()) " readings is shown; the fit used all." }
                        }
                        ul.readings {
                            @for (time, gauge) in readings.times_s().iter().zip(readings.gauges_pa()).step_by(every) {
                                li { span { (time) " s" } span { (in_unit(unit, *gauge)) } }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// A reading as the sheet has it, up to the rounding of its unit.
fn in_unit(unit: &Unit, pascals: f64) -> String {
    let value = (unit.from_si(pascals) * 1e6).round() / 1e6;
    // No reading is minus zero.
    format!("{}", value + 0.0)
}
