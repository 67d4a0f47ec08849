//! What there is to know about a run, in sentences.

use uom::si::time::second;

use super::course::{say_of_fall, say_of_fit, say_of_open_fall};
use super::gas::OtherGas;
use super::remedy::remedy;
use crate::narrow::VolumeOutlook;
use crate::plausible::Surprise;
use casetight::doubt::Doubt;
use casetight::fit::{FitNote, LawWeight, PartKind};
use casetight::quantity::{Time, Unit};

/// Whether holding longer would decide an undecided run.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum GoOn {
    /// About this much longer, at the same pace of readings.
    For(Time),
    /// Holding longer would not decide it: this part of the interval stays.
    Useless {
        /// What must be known better.
        instead: PartKind,
    },
}

/// Something to know about a run, in a sentence ([`std::fmt::Display`]).
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Note {
    /// No limit was stated.
    NoLimit,
    /// The decision is against a common-practice rule.
    CommonPractice,
    /// Why the fit is not taken at its word.
    Doubt {
        /// The reason.
        doubt: Doubt,
        /// The unit to state pressures in.
        unit: &'static Unit,
    },
    /// What the readings show beside a verdict, which does not take it back.
    Beside {
        /// That.
        doubt: Doubt,
        /// The unit to state pressures in.
        unit: &'static Unit,
    },
    /// The needle stood still.
    Stands,
    /// The needle fell for all to see, but how much of that is a leak the readings don't tell.
    FallNotTold {
        /// What it lost \[Pa\].
        lost_pa: f64,
        /// In what time \[s\].
        seconds: f64,
        /// The unit to state pressures in.
        unit: &'static Unit,
    },
    /// What the logged temperature does, and what it leaves for a leak.
    ByTemperature {
        /// What the needle lost from the first reading to the last \[Pa\].
        lost_pa: f64,
        /// What it would have lost by the logged temperature without a leak \[Pa\].
        by_temperature_pa: f64,
        /// The unit to state pressures in.
        unit: &'static Unit,
    },
    /// Nobody said what the thermometer touched.
    ThermometerNearby,
    /// The needle moved away from zero.
    Rises,
    /// What is known of heat and temperature would let the needle fall by more than it did.
    FallExplained {
        /// What it lost from the first reading to the last \[Pa\]; nothing where no fall is seen.
        lost_pa: f64,
        /// What it would have lost without a leak \[Pa\].
        explained_pa: f64,
        /// The time \[s\].
        seconds: f64,
        /// What pressures are told in.
        unit: &'static Unit,
    },
    /// From the fit.
    Fit(FitNote),
    /// The rig was tested alone.
    RigAlone,
    /// The rig's own leak was taken off.
    RigTaken {
        /// Its effective area \[m2\].
        area_m2: f64,
    },
    /// The flow lies outside the range of the law.
    Law(casetight::leak::RangeNote),
    /// Which law the readings tell, or that they can't tell.
    Laws {
        /// The kinds of law that can't be dismissed, the likeliest first.
        kinds: Vec<LawWeight>,
        /// Whether the first is told from the others.
        told: bool,
    },
    /// The largest part of the interval, and what to do about it.
    LargestPart {
        /// Which.
        kind: PartKind,
        /// Its share of the variance.
        share: f64,
    },
    /// How long to go on.
    GoOn(GoOn),
    /// An input that hardly any bench has.
    Surprise {
        /// That.
        surprise: Surprise,
        /// The unit to state pressures in.
        unit: &'static Unit,
    },
    /// The volume under test is taken from what is typical: how well it is known, and what would narrow it most.
    Volume {
        /// That.
        outlook: VolumeOutlook,
        /// Whether all limits are of the needle's speed, so that the verdict hardly rests on it.
        judged_by_speed: bool,
    },
    /// The gas was not dry air.
    Gas(OtherGas),
    /// Which readings of a trace were used, and why.
    Window(crate::record::Window),
    /// A stall's bound and what it assumes.
    Stalled {
        /// Whether the bound alone is beyond the strictest limit.
        beyond_limit: bool,
    },
}

impl std::fmt::Display for Note {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NoLimit => f.write_str(
                "No limit is stated, so there is no verdict. State one in [limit]: max_drop with from and over, max_area, \
                 max_flow, min_hold, or a rule by its name",
            ),
            Self::CommonPractice => f.write_str(
                "The limit is common practice on the bench, not a maker's figure; the engine maker's manual comes first",
            ),
            Self::Doubt { doubt, unit } | Self::Beside { doubt, unit } => f.write_str(&doubt.words(unit)),
            Self::FallNotTold { lost_pa, seconds, unit } => say_of_open_fall(*lost_pa, *seconds, unit, f),
            Self::Stands => f.write_str(
                "The needle can't be told from one that stands still: the leak is somewhere from nothing to the upper end",
            ),
            Self::ByTemperature { lost_pa, by_temperature_pa, unit } => {
                say_of_temperature((*lost_pa, *by_temperature_pa), unit, f)
            }
            Self::ThermometerNearby => f.write_str(
                "A temperature was logged, but the sheet does not say of what: the gas is taken to follow it somehow. Say with \
                 `thermometer` in [ambient] whether it was that of the wall, the gas or the room",
            ),
            Self::Rises => f.write_str(
                "The needle moved away from zero. No leak does that: gas that warms, a boot that settles or a gauge that \
                 moves does. Let the temperature settle and hold again",
            ),
            Self::FallExplained { lost_pa, explained_pa, seconds, unit } => say_of_fall((*lost_pa, *explained_pa), *seconds, unit, f),
            Self::Fit(note) => say_of_fit(note, f),
            Self::Law(note) => note.fmt(f),
            Self::RigAlone => f.write_str(
                "The rig alone: it is not judged, and its leak is taken off the other runs of its direction",
            ),
            Self::RigTaken { area_m2 } => write!(
                f,
                "The rig's own leak of {:.1} um2 at this pressure, from the run of the rig alone, is taken off",
                area_m2 * 1e12
            ),
            Self::Laws { kinds, told } => say_of_laws(kinds, *told, f),
            Self::Window(window) => window.fmt(f),
            Self::Surprise { surprise, unit } => f.write_str(&surprise.words(unit)),
            Self::Volume { outlook, judged_by_speed } => say_of_volume(outlook, *judged_by_speed, f),
            Self::Gas(gas) => gas.fmt(f),
            Self::LargestPart { kind, share } => {
                write!(f, "{:.0} % of the interval comes from {}: {}", 100.0 * share, kind.words(), remedy(*kind))
            }
            Self::GoOn(go_on) => say_how_to_go_on(*go_on, f),
            Self::Stalled { beyond_limit } => {
                f.write_str(
                    "The needle did not rise: what was pumped went out again. The figure is a lower bound of the leak, for a \
                     pump that delivers its stroke volume to within a tenth",
                )?;
                if *beyond_limit { f.write_str("; it is beyond the limit already") } else { Ok(()) }
            }
        }
    }
}

/// The volume with the cautions of what is proposed; sentences end where the note is shown.
fn say_of_volume(
    outlook: &VolumeOutlook,
    judged_by_speed: bool,
    f: &mut std::fmt::Formatter<'_>,
) -> std::fmt::Result {
    write!(f, "{outlook}")?;
    if judged_by_speed {
        f.write_str(
            ". Area and flow are known no better; the verdict goes by the needle's speed, which hardly asks for the volume",
        )?;
    }
    for caution in outlook.cautions() {
        write!(f, ". {}", caution.trim_end_matches('.'))?;
    }
    Ok(())
}

fn say_how_to_go_on(go_on: GoOn, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
    match go_on {
        GoOn::For(time) => write!(
            f,
            "Hold about {:.0} s longer, reading at the same pace, and it should be decided",
            time.get::<second>().ceil()
        ),
        GoOn::Useless { instead } => write!(
            f,
            "Holding longer will not decide it; {} must be known better: {}",
            instead.words(),
            remedy(instead)
        ),
    }
}

/// What a logged temperature leaves for a leak.
fn say_of_temperature(
    (lost_pa, by_temperature_pa): (f64, f64),
    unit: &'static Unit,
    f: &mut std::fmt::Formatter<'_>,
) -> std::fmt::Result {
    let moved = |pa: f64| {
        let how = if pa < 0.0 { "gained" } else { "lost" };
        format!("{how} {}", unit.shown(pa.abs(), 3))
    };
    let left_pa = lost_pa - by_temperature_pa;
    write!(
        f,
        "By the logged temperature alone the needle would have {}; it {}, which leaves {} for a leak",
        moved(by_temperature_pa),
        moved(lost_pa),
        if left_pa > 0.0 {
            unit.shown(left_pa, 3)
        } else {
            "nothing".to_owned()
        }
    )
}

/// The likeliest law where the readings tell it, else all that may be.
fn say_of_laws(
    kinds: &[LawWeight],
    told: bool,
    f: &mut std::fmt::Formatter<'_>,
) -> std::fmt::Result {
    f.write_str(if told {
        "The readings tell the kind of leak: "
    } else {
        "The readings can't tell the kind of leak; the interval covers "
    })?;
    for (i, law) in kinds.iter().filter(|l| l.weight >= 0.005).enumerate() {
        if i > 0 {
            f.write_str(", ")?;
        }
        write!(f, "{} ({:.0} %)", law.law.words(), 100.0 * law.weight)?;
        if told {
            break;
        }
    }
    Ok(())
}
