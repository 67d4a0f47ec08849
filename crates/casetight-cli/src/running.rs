//! `casetight running`.

use std::path::Path;

use casetight::quantity::TradeUnits;
use casetight::vessel::Direction;
use casetight_bench::mixture::Mixture;
use casetight_bench::running::{ASSUMPTIONS, LeanShift, SMALL_IS_NOT_HARMLESS};
use casetight_bench::sheet::Sheet;
use casetight_report::turn_chart;
use casetight_report::words::{area_in_words, estimate_in_words, number, title};

use crate::brief::{self, How, Manner};
use crate::files::Files;
use crate::words::{HEADING, WARNING, say, wrapped};
use crate::{ALL_HOLD, Answer, CommandError, in_json};

/// Kilograms in milligrams.
const MILLIGRAMS: f64 = 1e6;

/// The word that stands beside every number of this command.
const ESTIMATE: &str = "estimate";

pub(crate) fn run(
    files: &Files,
    path: &Path,
    manner: Manner,
    plot_to: Option<&Path>,
) -> Result<Answer, CommandError> {
    let sheet = files.sheet(path)?;
    let mixture = Mixture::of(&sheet).map_err(|source| CommandError::Mixture {
        file: path.display().to_string(),
        source,
    })?;
    if let Some(plot) = plot_to {
        files.write(plot, &turn_chart(&sheet, &mixture))?;
    }
    let text = match manner.how() {
        How::Json => in_json(&mixture.document())?,
        How::Detail => say(&sheet, &mixture),
        How::Brief => brief::running::say_mixture(&sheet, &mixture),
    };
    Ok(Answer {
        text,
        exit: ALL_HOLD,
    })
}

fn say(sheet: &Sheet, mixture: &Mixture) -> String {
    let mut out = String::new();
    say!(
        out,
        "{HEADING}{}{HEADING:#}: what the leak does to the running engine",
        title(sheet)
    );
    out.push('\n');
    say!(
        out,
        "{WARNING}Estimate{WARNING:#}: computed from the leak that was measured and the case pressure that the engine"
    );
    say!(
        out,
        "should have when running. Nothing here was measured on the running engine."
    );
    out.push('\n');
    for (lead, leak, wanted) in [
        ("  Air in          ", &mixture.inward, Direction::Vacuum),
        ("  Mixture out     ", &mixture.outward, Direction::Pressure),
    ] {
        let stand_in = if leak.direction == wanted {
            String::new()
        } else {
            format!("; the sheet has no {wanted} run, which would tell more")
        };
        out.push_str(&wrapped(
            lead,
            &format!(
                "leak of {} by the {} run \"{}\"{stand_in}",
                estimate_in_words(leak.area, area_in_words),
                leak.direction,
                leak.run
            ),
        ));
    }
    for (name, lean) in mixture.loads() {
        say_load(&mut out, name, lean);
    }
    if mixture.loads().iter().any(|(_, lean)| lean.is_small()) {
        out.push('\n');
        out.push_str(&wrapped("", &format!("{SMALL_IS_NOT_HARMLESS}.")));
    }
    say!(out, "\n{HEADING}Taken for granted{HEADING:#}");
    for assumption in ASSUMPTIONS {
        out.push_str(&wrapped("  - ", assumption));
    }
    out
}

fn say_load(out: &mut String, name: &str, lean: &LeanShift) {
    let kilopascals = |pascals: f64| number(pascals / 1e3);
    let milligrams = |kg: f64| format!("{} mg", number(kg * MILLIGRAMS));
    let percent = |part: f64| format!("{} %", number(100.0 * part));
    let (low, high) = lean.pressure.extremes();
    let rpm = lean.load.speed.value_in("rpm").unwrap_or(f64::NAN);
    say!(
        out,
        "\n{HEADING}{name}{HEADING:#}: {} rpm, delivery ratio {}",
        rpm.round(),
        number(lean.load.delivery_ratio.value().value)
    );
    out.push_str(&wrapped(
        "  Leaner by       ",
        &format!("{} ({ESTIMATE})", estimate_in_words(lean.shift, percent)),
    ));
    out.push_str(&wrapped(
        "  Air in a turn   ",
        &format!(
            "{} beside {} by the carburetor ({ESTIMATE})",
            estimate_in_words(lean.leaked_in, milligrams),
            milligrams(lean.delivered_kg)
        ),
    ));
    out.push_str(&wrapped(
        "  Out in a turn   ",
        &format!(
            "{} of mixture ({ESTIMATE})",
            estimate_in_words(lean.leaked_out, milligrams)
        ),
    ));
    out.push_str(&wrapped(
        "  Case pressure   ",
        &format!(
            "from {} to {} kPa gauge over a turn ({ESTIMATE})",
            kilopascals(low.pascals()),
            kilopascals(high.pascals())
        ),
    ));
    let mut shares: Vec<_> = lean
        .shares
        .iter()
        .filter_map(|share| Some((share.from, share.up?.max(share.down).powi(2))))
        .collect();
    let whole: f64 = shares.iter().map(|(_, square)| square).sum();
    shares.retain(|(_, square)| *square >= 0.005 * whole && whole > 0.0);
    shares.sort_by(|a, b| b.1.total_cmp(&a.1));
    if !shares.is_empty() && lean.shift.high.is_finite() {
        let listed: Vec<String> = shares
            .iter()
            .map(|(from, square)| format!("{from} {:.0} %", 100.0 * square / whole))
            .collect();
        out.push_str(&wrapped(
            "  From            ",
            &format!("the range comes from {}", listed.join(", ")),
        ));
    }
}
