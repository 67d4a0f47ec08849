//! What makes a part of an interval smaller, in the words of the sheet and the plan.

use casetight::fit::PartKind;

/// What to do about the part of an interval that is the largest.
#[must_use]
pub fn remedy(kind: PartKind) -> &'static str {
    match kind {
        PartKind::Noise => "hold longer, read more often or to a smaller step",
        PartKind::Gauge => "use a gauge of a better class, or one whose span fits the test",
        PartKind::Volume => "measure the volume, or the dimensions it comes from, better",
        PartKind::Temperature => "measure the temperature at the case",
        PartKind::Ambient => "read a barometer at the bench",
        PartKind::Heat => {
            "wait as long after the last stroke as a plan says for a slow case before the first reading, and say so in settled_for"
        }
        PartKind::Rig => "mend the rig, or test it alone for longer",
        PartKind::Law => "hold until the needle has fallen further, reading on the way",
        PartKind::Drift => {
            "let engine and rig come to room temperature, and state a smaller drift_allowance only if you measured it"
        }
        PartKind::Lag => {
            "wait a few seconds after the last stroke, or use a shorter hose to the gauge"
        }
        PartKind::Stretch => "use short stiff hose and blanks that don't give",
        PartKind::Creep => "wait a minute after the last stroke, and say so in settled_for",
        PartKind::Warmth => "let the engine come to room temperature",
        PartKind::Thermometer => {
            "fasten the thermometer to the case under a strip of foam, and say so with `thermometer` in [ambient]"
        }
        // Unsteady, and what is yet to come.
        _ => "hold again once nothing moves any more",
    }
}
