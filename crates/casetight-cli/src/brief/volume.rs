//! The first screen of `casetight volume`.

use casetight::measured::Measured;
use casetight::quantity::{TradeUnits, Volume};
use casetight::volume::TestedVolume;
use casetight_bench::narrow::VolumeOutlook;
use casetight_bench::sheet::{Sheet, Volumes};
use casetight_report::words::{how_read, title, to_width};
use uom::si::volume::cubic_centimeter;

use super::{headed, more};
use crate::volume::farthest_off;
use crate::words::{HEADING, WARNING, narrow, say};

/// The volume of some runs.
pub(crate) struct OfRuns<'s> {
    pub(crate) names: String,
    pub(crate) volumes: &'s Volumes,
    pub(crate) tested: &'s TestedVolume,
    pub(crate) outlook: &'s VolumeOutlook,
}

pub(crate) fn say_volumes<'s>(sheet: &Sheet, groups: impl Iterator<Item = OfRuns<'s>>) -> String {
    let mut out = String::new();
    say!(out, "{HEADING}{}{HEADING:#}", title(sheet));
    for group in groups {
        say_group(&mut out, &group);
    }
    more(&mut out);
    out
}

fn say_group(out: &mut String, group: &OfRuns<'_>) {
    say_volume(out, group);
    if let Some(best) = group.outlook.best_in_short() {
        out.push_str(&narrow("  ", &format!("{best}.")));
    }
    let best = group.outlook.ways.first();
    for caution in best.map_or(&[][..], |best| best.measurement.cautions()) {
        out.push_str(&narrow("    ", caution));
    }
}

fn say_volume(out: &mut String, group: &OfRuns<'_>) {
    out.push('\n');
    let volume = group.tested.volume();
    let how = group.tested.method();
    let text = format!("the volume under test is {}, {how}.", give_or_take(volume));
    headed(out, HEADING, &format!("{}:", group.names), &text);
    let Some(combined) = &group.volumes.combined else {
        for part in group
            .tested
            .parts()
            .iter()
            .filter(|_| group.tested.parts().len() > 1)
        {
            say!(out, "  {:<38} {}", part.name, give_or_take(&part.volume));
        }
        let shares = group.tested.contributions().iter();
        let most = shares.max_by(|a, b| a.variance_share.total_cmp(&b.variance_share));
        if let Some(most) = most {
            let text = format!(
                "Most of what is open, {:.0} %, comes from the {}.",
                100.0 * most.variance_share,
                most.name.to_string().replace('_', " ")
            );
            out.push_str(&narrow("  ", &text));
        }
        return;
    };
    for member in combined.members() {
        say!(
            out,
            "  {:<38} {}",
            member.method.words(),
            give_or_take(&member.volume)
        );
    }
    if let Some(off) = farthest_off(combined) {
        headed(out, WARNING, "These ways disagree.", &off);
    }
}

/// "166.5 cm3, give or take 1.5".
fn give_or_take(volume: &Measured<Volume>) -> String {
    let in_cm3 = |volume: Volume| volume.get::<cubic_centimeter>();
    let within = in_cm3(volume.standard_uncertainty());
    if within > 0.0 {
        let [value, half] =
            [in_cm3(volume.value()), within].map(|size| to_width(size, 2.0 * within));
        let how = how_read(volume).map_or(String::new(), |how| format!(" ({how})"));
        format!("{value} cm3, give or take {half}{how}")
    } else {
        format!("{} exactly", volume.value().trade())
    }
}
