//! What a fit is made of: where its interval comes from, how far each reading lies off, and what it needs that is not valid.

use crate::estimate::Estimate;
use crate::quantity::Area;
use crate::readings::Touched;

/// Where a part of the interval comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize),
    serde(rename_all = "lowercase")
)]
#[non_exhaustive]
pub enum PartKind {
    /// Noise and rounding of the readings.
    Noise,
    /// Offset and scale of the gauge.
    Gauge,
    /// The volume under test.
    Volume,
    /// The gas temperature.
    Temperature,
    /// The ambient pressure.
    Ambient,
    /// A drift of the wall's temperature during the run.
    Drift,
    /// The lag of the gauge.
    Lag,
    /// The stretch of the volume under test.
    Stretch,
    /// The creep of the volume under test.
    Creep,
    /// An engine that is warmer or colder than the room.
    Warmth,
    /// How the gas followed a temperature that was logged.
    Thermometer,
    /// Heat between gas and wall: gas that still settles, or that a fast leak cools.
    Heat,
    /// The law of the leak, where the readings can't tell it.
    Law,
    /// The rig's own leak, that was subtracted.
    Rig,
    /// What the bench did beside one steady leak.
    Unsteady,
}

impl PartKind {
    /// Whether it makes an area of a rate uncertain, and no rate: these are the same in all runs of a session.
    #[must_use]
    pub fn is_of_size(self) -> bool {
        matches!(self, Self::Volume | Self::Stretch | Self::Temperature)
    }

    /// The part in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Noise => "noise and rounding of the readings",
            Self::Gauge => "the gauge's accuracy",
            Self::Volume => "the volume under test",
            Self::Temperature => "the gas temperature",
            Self::Ambient => "the ambient pressure",
            Self::Drift => "a possible drift of the temperature",
            Self::Lag => "the gauge's lag",
            Self::Stretch => "hose, boots and blanks that stretch",
            Self::Creep => "rubber that goes on giving after pumping",
            Self::Warmth => "an engine that is not at room temperature",
            Self::Thermometer => "how the gas followed the logged temperature",
            Self::Heat => "the heat between gas and wall",
            Self::Law => "the kind of leak, which the readings don't tell",
            Self::Rig => "the rig's own leak",
            Self::Unsteady => "what the readings show beside one steady leak",
        }
    }
}

/// Readings that one steady leak does not explain, though they follow a curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unsteady {
    /// What explains them; none where several things do about as well.
    pub cause: Option<Cause>,
    /// Probability that the readings of a steady leak look so by chance.
    pub probability: f64,
}

/// What a bench does beside one steady leak.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Cause {
    /// The leak opened or closed in the run.
    Changed {
        /// Time as noted \[s\], near which it did.
        time_s: f64,
        /// Effective area before.
        before: Estimate<Area>,
        /// And after.
        after: Estimate<Area>,
    },
    /// Engine or gas warm up or cool by more than the drift allowance.
    Drifts {
        /// By how much \[K/min\], beside what is known; below zero where they cool.
        kelvins_per_minute: f64,
    },
    /// The gauge does not return to zero.
    Zero {
        /// What it shows at zero \[Pa\].
        off_pa: f64,
    },
}

/// What a temperature that was logged beside the readings makes of the needle's course, without any leak.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ByTemperature {
    /// What the thermometer touched.
    pub touched: Touched,
    /// By how much it moves the needle from the first reading to the last \[Pa\], the leak's share taken off.
    pub moves_pa: f64,
    /// What is not known of that, where it is most, since the gas follows a thermometer by a share that is not known \[Pa\], one
    /// standard uncertainty.
    pub open_pa: f64,
}

/// One part of the effective area's uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    /// Where it comes from.
    pub kind: PartKind,
    /// Its standard uncertainty in the area \[m2\]; the parts add in quadrature.
    pub standard_uncertainty_m2: f64,
}

/// A reading, what the fit has there, and their difference in standard uncertainties of a reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Residual {
    /// Time as noted \[s\].
    pub time_s: f64,
    /// Reading \[Pa\].
    pub reading_pa: f64,
    /// What the gauge would have shown \[Pa\], fitted offset and scale included.
    pub fitted_pa: f64,
    /// (reading - fitted)/u.
    pub standardized: f64,
}

/// Something that all readings share, which a fit needs to lie where it can't.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Strain {
    /// Gas that is further off the wall's temperature at the first reading than pumping can bring it.
    Heat {
        /// How far \[K\].
        kelvins: f64,
        /// The most that is possible \[K\], without any loss of heat while pumping.
        at_most_kelvins: f64,
    },
    /// Another term, this many standard uncertainties off what is known of it.
    Term {
        /// Which.
        kind: PartKind,
        /// How far.
        off: f64,
    },
    /// A rig that leaks more by itself than rig and engine together.
    RigBeyondWhole {
        /// The rig's effective area \[m2\].
        rig_m2: f64,
        /// That of both \[m2\].
        whole_m2: f64,
    },
    /// A rig whose own readings are not those of one leak.
    Rig,
}

pub(super) fn part(kind: PartKind, standard_uncertainty_m2: f64) -> Part {
    Part {
        kind,
        standard_uncertainty_m2,
    }
}
