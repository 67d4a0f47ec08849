//! What a plan tells, part by part.

use crate::pump::{HandPump, Pumped};
use casetight::gauge::Gauge;
use casetight::leak::EffectiveArea;
use casetight::limit::Allowed;
use casetight::measured::Measured;
use casetight::quantity::{Length, Pressure, TemperatureInterval, Time, Volume};

/// The rig within the volume under test.
#[derive(Debug, Clone, PartialEq)]
pub struct RigShare {
    /// Volume of hose, gauge and adapters.
    pub volume: Measured<Volume>,
    /// Its share of the volume under test.
    pub share: f64,
    /// How many times larger the least leak that can be told is than with a rig of no volume: V/(V - `V_rig`).
    pub costs: f64,
}

/// What pumping up takes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pumping {
    /// The pump.
    pub pump: HandPump,
    /// Strokes to the target on a tight case, fractions counted.
    pub strokes: f64,
    /// Standard uncertainty of that number: the pump's delivery ([`DELIVERY_UNCERTAINTY`](crate::pump::DELIVERY_UNCERTAINTY)) and the volume.
    pub strokes_uncertainty: f64,
    /// The leak that would hold the needle at the target while the pump goes on: with a larger one it is not reached.
    pub stalls_at_target: EffectiveArea,
    /// The leak that would hold the needle halfway.
    pub stalls_halfway: EffectiveArea,
}

/// How long the gas needs to come to the wall's temperature after the last stroke.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settling {
    /// How far the gas may be off the wall's temperature when pumping stops (95 %): what pumping without loss of heat would
    /// do to it.
    pub excess: TemperatureInterval,
    /// Time in which the difference falls to a part of 1/e, in a usual case.
    pub time_constant: Time,
    /// What it may still move the needle by: a readable step, or a tenth of what the strictest limit lets the needle fall,
    /// the smaller of the two.
    pub allowed: Pressure,
    /// Until then, in a usual case.
    pub usual: Time,
    /// Until then, in a case that settles slowly (95 %).
    pub safe: Time,
}

/// What a leak of a size does to the needle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expected {
    /// Effective area.
    pub area: EffectiveArea,
    /// Diameter of the round hole of the assumed discharge coefficient.
    pub diameter: Length,
    /// Fall of the needle over the hold, as a size.
    pub fall: Pressure,
    /// The same in readable steps of the gauge.
    pub steps: f64,
    /// When the needle has fallen by one readable step; none where it never does.
    pub one_step_after: Option<Time>,
    /// When the needle is at zero; none where it never is.
    pub at_zero_after: Option<Time>,
    /// Expected standard uncertainty of the area over the area.
    pub relative_uncertainty: f64,
}

/// A limit, and what the plan can do about it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LimitOutlook {
    /// The limit as it applies.
    pub allowed: Allowed,
    /// A leak right at the limit.
    pub at_limit: Expected,
    /// Hold that decides between no leak and a leak at the limit, each with 95 %; none where no hold of four hours or less
    /// does.
    pub decides_after: Option<Time>,
    /// What becomes of pumping on a leak right at the limit.
    pub pumping: Pumped,
}

/// The least leaks that a gauge and a hold can tell: see this module's first lines.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Detection {
    /// What the readings of a tight case leave open: 95 % upper bound, critical value.
    pub bound: EffectiveArea,
    /// The least leak that is told from none 95 times in 100: minimum detectable value. None where the volume's
    /// uncertainty keeps every leak within reach of zero.
    pub detected: Option<EffectiveArea>,
}

/// What another gauge would do in the same test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GaugeOutlook {
    /// What kind of gauge.
    pub name: &'static str,
    /// The gauge.
    pub gauge: Gauge,
    /// What it can tell.
    pub detection: Detection,
    /// Hold that decides the strictest limit with it; none without a limit, or where no hold of four hours or less does.
    pub decides_after: Option<Time>,
}

/// What a change of the surroundings over the hold does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Disturbance {
    /// Change of the gauge pressure.
    pub needle: Pressure,
    /// The leak that would move the needle as far.
    pub area: EffectiveArea,
    /// Whether the needle moves towards zero, as with a leak; else the change hides one.
    pub like_a_leak: bool,
}

/// Something to know before pumping, in a sentence ([`std::fmt::Display`]).
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum PlanNote {
    /// No limit is stated.
    NoLimit,
    /// A limit lets the needle fall by less than a readable step in this hold.
    UnderAStep {
        /// Hold \[s\] in which it falls by one step.
        one_step_after: f64,
    },
    /// The hold is too short to decide.
    HoldLonger {
        /// Hold that decides \[s\].
        decides_after: f64,
    },
    /// No hold decides.
    NoHoldDecides,
    /// A leak at the limit empties the case within the hold.
    EmptiesBefore {
        /// When \[s\].
        at_zero_after: f64,
    },
    /// A leak at the limit would not let the pump reach the target.
    PumpTooSmall {
        /// Where the needle would stall \[Pa\].
        needle: f64,
    },
    /// The rig holds a large part of the volume under test.
    RigDrowns {
        /// Its share.
        share: f64,
        /// Whether it was tested alone in this direction.
        tested: bool,
    },
    /// A kelvin over the hold outweighs the strictest limit.
    KelvinOutweighs {
        /// Its apparent leak over the limit.
        times: f64,
    },
}

impl std::fmt::Display for PlanNote {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NoLimit => f.write_str("No limit is stated in [limit], so no hold can be said to decide anything"),
            Self::UnderAStep { one_step_after } => write!(
                f,
                "A leak at the limit moves the needle by less than one readable step in this hold: it takes {one_step_after:.0} s \
                 to move it by one. Hold longer, or use a finer gauge"
            ),
            Self::HoldLonger { decides_after } => write!(
                f,
                "This hold is too short to tell a leak at the limit from none: hold {decides_after:.0} s"
            ),
            Self::NoHoldDecides => f.write_str(
                "No hold tells a leak at the limit from none: let the temperature settle and state a smaller drift_allowance if \
                 you measured it, know the volume better, or use a finer gauge",
            ),
            Self::EmptiesBefore { at_zero_after } => write!(
                f,
                "A leak at the limit empties the case in {at_zero_after:.3} s: read often from the first second on"
            ),
            Self::PumpTooSmall { needle } => write!(
                f,
                "With a leak at the limit this pump stalls at {:.1} kPa: pump faster, or take a larger pump",
                needle / 1e3
            ),
            Self::RigDrowns { share, tested } => write!(
                f,
                "The rig holds {:.0} % of the volume under test and makes the needle slower by that much: shorten the hose{}",
                100.0 * share,
                if *tested { "" } else { ", and test the rig alone first" }
            ),
            Self::KelvinOutweighs { times } => write!(
                f,
                "One kelvin over the hold looks like a leak {times:.1} times the limit: leave engine, hose and hands off each \
                 other until the temperature has settled"
            ),
        }
    }
}
