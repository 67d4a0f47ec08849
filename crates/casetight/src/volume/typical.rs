//! The tested volume from what a shop knows of an engine: its displacement, or bore and stroke, and what is typical for the rest.

use std::f64::consts::PI;
use std::fmt;

use uom::si::volume::cubic_centimeter;

use super::crank::{Crank, STROKE, check_length, travel};
use super::engine::{BORE, COMPRESSION, PRIMARY, RIG, check_ratio, check_rig, position, swept};
use super::error::{VolumeError, check_positive};
use super::method::Method;
use super::piston::{Piston, Transfers};
use super::tested::TestedVolume;
use crate::measured::{
    Distribution, Dual, Evaluation, Input, Measured, MeasuredError, propagate, propagate_slice,
};
use crate::quantity::{Length, Ratio, Volume};

/// Primary compression ratios of small two-stroke engines, crankcase and transfers over the full stroke, one as likely as another.
/// Source: `[Blair1996]`, `[HeywoodSher1999]`.
pub const PRIMARY_RATIOS: (f64, f64) = (1.3, 1.6);

/// Compression ratios of their cylinders, geometric, one as likely as another (common practice, no source).
pub const COMPRESSION_RATIOS: (f64, f64) = (7.0, 12.0);

/// Lengths of their rods from center to center, in strokes, one as likely as another (common practice, no source).
pub const ROD_LENGTHS: (f64, f64) = (1.6, 2.1);

/// Where their transfers open \[deg after top\] (common practice, no source): they stay open for some 120 degrees about the bottom.
pub const TRANSFERS_OPEN_DEG: f64 = 120.0;

/// Volume of a usual hose and gauge \[cm3\], from least to most, one as likely as another (common practice, no source): half a meter to two of
/// a hose of 4 to 5 mm, a gauge, a valve and an adapter.
pub const USUAL_RIG_CM3: (f64, f64) = (10.0, 40.0);

/// [`Measured::source`] of [`usual_rig`].
pub const USUAL_RIG: &str = "a usual hose and gauge, common practice";

/// By how much a stated displacement may differ from that of bore and stroke beyond their uncertainties: makers round it.
const ROUNDED: f64 = 0.02;

/// Differences beyond so many standard uncertainties are contradictions.
const CONTRADICTION: f64 = 3.0;

/// Angles that the mean over half a turn is taken from.
const ANGLES: u32 = 720;

/// The volume of a hose and gauge that nobody measured, 10 to 40 cm3 (common practice, no source).
///
/// # Errors
/// None, but for constants that were edited into something impossible: [`MeasuredError`].
pub fn usual_rig() -> Result<Measured<Volume>, MeasuredError> {
    let (least, most) = USUAL_RIG_CM3;
    let cm3 = Volume::new::<cubic_centimeter>;
    let (value, half) = (cm3(f64::midpoint(least, most)), cm3((most - least) / 2.0));
    let rig = Measured::from_half_width(value, half, Distribution::Rectangular)?;
    Ok(rig.with_source(USUAL_RIG))
}

/// What is typical of two-stroke engines and stands where an [`Outline`] says nothing. Its `Display` says what it is taken to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Typical {
    /// [`PRIMARY_RATIOS`].
    PrimaryRatio,
    /// [`COMPRESSION_RATIOS`].
    CompressionRatio,
    /// [`ROD_LENGTHS`].
    Rod,
    /// A crank that stands at any angle, one as likely as another.
    Position,
}

impl Typical {
    /// All of them.
    pub const ALL: [Self; 4] = [
        Self::PrimaryRatio,
        Self::CompressionRatio,
        Self::Rod,
        Self::Position,
    ];

    /// The name that a volume lists it by among its contributions.
    #[must_use]
    pub const fn input(self) -> &'static str {
        match self {
            Self::PrimaryRatio => "typical primary compression ratio",
            Self::CompressionRatio => "typical compression ratio",
            Self::Rod => "typical rod",
            Self::Position => "position of the piston",
        }
    }
}

impl fmt::Display for Typical {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut range = |what: &str, (least, most): (f64, f64), unit: &str| {
            write!(f, "{what} of {least} to {most}{unit}")
        };
        match self {
            Self::PrimaryRatio => range("a primary compression ratio", PRIMARY_RATIOS, ""),
            Self::CompressionRatio => range("a compression ratio", COMPRESSION_RATIOS, ""),
            Self::Rod => range("a rod", ROD_LENGTHS, " strokes"),
            Self::Position => f.write_str("a piston that stands anywhere"),
        }
    }
}

/// What is known of an engine where not all of its dimensions are: its displacement, or bore and stroke, and as much more as there is.
///
/// The displacement is that of the one cylinder whose crankcase is under test: cylinders have crankcases of their own.
///
/// ```
/// use casetight::measured::{Distribution, Measured};
/// use casetight::quantity::Volume;
/// use casetight::volume::{Outline, Piston, TestedVolume, usual_rig};
/// use uom::si::volume::cubic_centimeter;
///
/// let cm3 = Volume::new::<cubic_centimeter>;
/// let displacement = Measured::from_half_width(cm3(51.5), cm3(0.05), Distribution::Rectangular)?;
/// let saw = Outline::of_displacement(displacement)?;
/// let tested = TestedVolume::from_outline(&saw, None, &usual_rig()?)?;
/// let [value, u] = [tested.volume().value(), tested.volume().standard_uncertainty()].map(|v| v.get::<cubic_centimeter>());
/// assert!((value - 186.1).abs() < 0.1 && (u - 29.9).abs() < 0.1, "{value} {u}");
/// // Where the piston stands costs less than the ratio.
/// let at_top = TestedVolume::from_outline(&saw, Some(Piston::Top), &usual_rig()?)?;
/// assert!(at_top.volume().relative() < tested.volume().relative());
/// # Ok::<(), casetight::volume::VolumeError>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Outline {
    size: Size,
    crank: Option<Crank>,
    primary: Option<Measured<Ratio>>,
    compression: Option<Measured<Ratio>>,
}

/// What the swept volume follows from.
#[derive(Debug, Clone, PartialEq)]
enum Size {
    Displacement(Measured<Volume>),
    BoreAndStroke(Measured<Length>, Measured<Length>),
}

impl Size {
    fn inputs(&self) -> Vec<Input> {
        match self {
            Self::Displacement(displacement) => vec![displacement.input("displacement")],
            Self::BoreAndStroke(bore, stroke) => vec![bore.input(BORE), stroke.input(STROKE)],
        }
    }
}

/// Displacement, or bore and stroke, as a swept volume.
fn swept_of(size: &[Dual]) -> Option<Dual> {
    match *size {
        [displacement] => Some(displacement),
        [bore, stroke] => Some(swept(bore, stroke)),
        _ => None,
    }
}

impl Outline {
    fn of(size: Size) -> Self {
        Self {
            size,
            crank: None,
            primary: None,
            compression: None,
        }
    }

    /// An engine of this displacement, of one cylinder.
    ///
    /// # Errors
    /// [`VolumeError::Input`] unless it is above zero.
    pub fn of_displacement(displacement: Measured<Volume>) -> Result<Self, VolumeError> {
        check_positive("displacement", &displacement)?;
        Ok(Self::of(Size::Displacement(displacement)))
    }

    /// An engine of this bore and stroke.
    ///
    /// # Errors
    /// [`VolumeError::Length`] for one that is not above zero.
    pub fn of_bore_and_stroke(
        bore: Measured<Length>,
        stroke: Measured<Length>,
    ) -> Result<Self, VolumeError> {
        check_length(BORE, bore.value())?;
        check_length(STROKE, stroke.value())?;
        Ok(Self::of(Size::BoreAndStroke(bore, stroke)))
    }

    /// The same, whose displacement is stated beside bore and stroke: these are the closer, and are kept.
    ///
    /// # Errors
    /// [`VolumeError::Displacement`] where they contradict it by more than their uncertainties and a maker's rounding of 2 % explain.
    pub fn beside_displacement(self, stated: &Measured<Volume>) -> Result<Self, VolumeError> {
        let swept = self.swept_volume()?;
        let (stated_m3, swept_m3) = (stated.value().value, swept.value().value);
        let u = (stated.standard_uncertainty().value).hypot(swept.standard_uncertainty().value);
        if (stated_m3 - swept_m3).abs() <= ROUNDED * swept_m3 + CONTRADICTION * u {
            return Ok(self);
        }
        Err(VolumeError::Displacement {
            stated: stated_m3,
            swept: swept_m3,
        })
    }

    /// The same with its stroke and rod, by which the piston's travel is known at an angle. Their uncertainty is nothing beside that of the
    /// rest.
    #[must_use]
    pub fn with_crank(self, crank: Crank) -> Self {
        let crank = Some(crank);
        Self { crank, ..self }
    }

    /// The same with its primary compression ratio.
    ///
    /// # Errors
    /// [`VolumeError::Ratio`] unless it is above 1 by more than twice its standard uncertainty.
    pub fn with_primary_compression_ratio(
        self,
        ratio: Measured<Ratio>,
    ) -> Result<Self, VolumeError> {
        check_ratio(PRIMARY, &ratio)?;
        let primary = Some(ratio);
        Ok(Self { primary, ..self })
    }

    /// The same with its compression ratio (geometric).
    ///
    /// # Errors
    /// As [`Outline::with_primary_compression_ratio`].
    pub fn with_compression_ratio(self, ratio: Measured<Ratio>) -> Result<Self, VolumeError> {
        check_ratio(COMPRESSION, &ratio)?;
        let compression = Some(ratio);
        Ok(Self {
            compression,
            ..self
        })
    }

    /// Swept volume \[m3\].
    ///
    /// # Errors
    /// [`VolumeError::Measured`] where the result is beyond what a number holds.
    pub fn swept_volume(&self) -> Result<Measured<Volume>, VolumeError> {
        match &self.size {
            Size::Displacement(displacement) => Ok(displacement.clone()),
            Size::BoreAndStroke(bore, stroke) => {
                let inputs = [bore.input(BORE), stroke.input(STROKE)];
                Ok(propagate(&inputs, None, |[bore, stroke]| swept(bore, stroke))?.measured()?)
            }
        }
    }

    /// Rod over stroke, and its standard uncertainty.
    fn rod_per_stroke(&self) -> (f64, f64) {
        match self.crank {
            Some(crank) => ((crank.rod() / crank.stroke()).value, 0.0),
            None => rectangular(ROD_LENGTHS),
        }
    }

    /// What is under test above the case at bottom, over the swept volume.
    fn above(&self, piston: Option<Piston>) -> Result<Above, VolumeError> {
        let clearance = Beyond::of(
            self.compression.as_ref(),
            (COMPRESSION, Typical::CompressionRatio.input()),
            COMPRESSION_RATIOS,
        )?;
        let rod = self.rod_per_stroke();
        let Some(piston) = piston.map(Piston::checked).transpose()? else {
            let share = anywhere(rod.0, clearance.per_swept());
            return Ok(Above::Anywhere(named(Typical::Position.input(), share)?));
        };
        Ok(match piston.transfers() {
            Transfers::Open => Above::Open(clearance),
            Transfers::Shut => {
                let name = match self.crank {
                    Some(_) => "rod over stroke",
                    None => Typical::Rod.input(),
                };
                Above::Shut(named(name, rod)?, position(piston)?)
            }
        })
    }
}

/// What lies beyond the swept volume on one side of the piston, over the swept volume: by that side's ratio, or as is typical.
struct Beyond {
    input: Input,
    by_ratio: bool,
}

impl Beyond {
    fn of(
        stated: Option<&Measured<Ratio>>,
        (name, typical): (&'static str, &'static str),
        range: (f64, f64),
    ) -> Result<Self, MeasuredError> {
        Ok(match stated {
            Some(ratio) => Self {
                input: ratio.input(name),
                by_ratio: true,
            },
            None => Self {
                input: named(typical, beyond_swept(range))?,
                by_ratio: false,
            },
        })
    }

    fn share(&self, x: Dual) -> Dual {
        if self.by_ratio {
            Dual::from(1.0) / (x - 1.0)
        } else {
            x
        }
    }

    /// Value and standard uncertainty.
    fn per_swept(&self) -> (f64, f64) {
        let share = self.share(Dual::from(self.input.value()).derivative());
        (share.re, share.eps.abs() * self.input.standard_uncertainty)
    }
}

/// What is under test above the case at bottom, over the swept volume.
enum Above {
    /// The cylinder with its clearance.
    Open(Beyond),
    /// What the piston has left free, by rod over stroke and the crank's angle.
    Shut(Input, Input),
    /// Either, nobody knows.
    Anywhere(Input),
}

impl Above {
    fn inputs(&self) -> Vec<Input> {
        match self {
            Self::Open(clearance) => vec![clearance.input.clone()],
            Self::Shut(rod, angle) => vec![rod.clone(), angle.clone()],
            Self::Anywhere(share) => vec![share.clone()],
        }
    }

    fn share(&self, x: &[Dual]) -> Option<Dual> {
        match (self, x) {
            (Self::Open(clearance), &[x]) => Some(clearance.share(x) + 1.0),
            (Self::Shut(..), &[rod, angle]) => Some(-travel(Dual::from(1.0), rod, angle) + 1.0),
            (Self::Anywhere(_), &[share]) => Some(share),
            _ => None,
        }
    }

    fn words(&self) -> &'static str {
        match self {
            Self::Open(_) => "cylinder above the piston",
            Self::Shut(..) => "cylinder below the piston",
            Self::Anywhere(_) => "cylinder, what is under test",
        }
    }
}

fn named(
    name: &'static str,
    (value, standard_uncertainty): (f64, f64),
) -> Result<Input, MeasuredError> {
    let measured = Measured::new(value, standard_uncertainty, Evaluation::Combined)?;
    Ok(measured.input(name))
}

/// Mean and standard deviation between two ends, one value as likely as another.
fn rectangular((least, most): (f64, f64)) -> (f64, f64) {
    (f64::midpoint(least, most), (most - least) / 12.0_f64.sqrt())
}

/// Mean and standard deviation of 1/(r - 1) for a ratio r between two ends, one value as likely as another. 1/(r - 1) is far from straight over
/// such a range, so that first order about the middle gives a mean 4 % too small for the primary ratio and a spread 8 % too small:
/// with `x = r - 1` from a to b the mean is `ln(b/a)/(b - a)` and the mean of the square `1/(a b)`. Source: derived.
fn beyond_swept((least, most): (f64, f64)) -> (f64, f64) {
    let (a, b) = (least - 1.0, most - 1.0);
    let mean = (b / a).ln() / (b - a);
    (mean, (1.0 / (a * b) - mean * mean).sqrt())
}

/// Mean and standard deviation of what is under test above the case at bottom, over the swept volume, of a crank that stands at any
/// angle: what the piston has left free as long as the transfers are shut, the cylinder with its clearance beyond.
fn anywhere(rod_per_stroke: f64, (clearance, clearance_u): (f64, f64)) -> (f64, f64) {
    let opens = TRANSFERS_OPEN_DEG.to_radians();
    let (mut sum, mut squares) = (0.0, 0.0);
    for step in 0..ANGLES {
        let theta = PI * (f64::from(step) + 0.5) / f64::from(ANGLES);
        let (share, u) = if theta < opens {
            (1.0 - travel(1.0, rod_per_stroke, theta), 0.0)
        } else {
            (1.0 + clearance, clearance_u)
        };
        sum += share;
        squares += share * share + u * u;
    }
    let count = f64::from(ANGLES);
    let mean = sum / count;
    (mean, (squares / count - mean * mean).sqrt())
}

impl TestedVolume {
    /// The tested volume from what is known of an engine, typical where it says nothing, and the rig's own volume ([`usual_rig`] where nobody
    /// measured it).
    ///
    /// `V = V_swept (1/(r - 1) + f) + V_rig`, r the primary compression ratio; with the transfers open `f = 1 + 1/(CR - 1)`, the whole
    /// cylinder; with them shut `f = 1 - s(theta)/stroke`; with the piston anywhere (`None`) mean and spread over half a turn of the crank.
    /// A typical ratio goes through with mean and standard deviation of `1/(r - 1)` itself, since that is far from straight over its
    /// range. So wide an uncertainty is one of the logarithm, as a fit takes it: an interval of the volume has ends at
    /// `V exp(-z u/V)` and `V exp(z u/V)`.
    ///
    /// Limits: a crankcase that pumps its own mixture, of usual make; one cylinder to a case.
    ///
    /// # Errors
    /// [`VolumeError::Rig`] for a rig volume below zero; [`VolumeError::Piston`] for an impossible crank angle.
    pub fn from_outline(
        outline: &Outline,
        piston: Option<Piston>,
        rig: &Measured<Volume>,
    ) -> Result<Self, VolumeError> {
        check_rig(rig)?;
        let case = Beyond::of(
            outline.primary.as_ref(),
            (PRIMARY, Typical::PrimaryRatio.input()),
            PRIMARY_RATIOS,
        )?;
        let above = outline.above(piston)?;
        let mut inputs = outline.size.inputs();
        let of_size = inputs.len();
        inputs.push(case.input.clone());
        inputs.extend(above.inputs());
        inputs.push(rig.input(RIG));
        let model = |x: &[Dual]| {
            let (size, rest) = x.split_at_checked(of_size)?;
            let [beyond, up @ .., rig] = rest else {
                return None;
            };
            let swept = swept_of(size)?;
            let below = swept * case.share(*beyond);
            let cylinder = swept * above.share(up)?;
            Some(vec![below + cylinder + *rig, below, cylinder, *rig])
        };
        let joint = propagate_slice(&inputs, None, |x| model(x).unwrap_or_default())?;
        let names = ["case at bottom", above.words(), RIG];
        Self::from_outputs(Method::EngineOutline, &joint, names.map(Into::into))
    }

    /// What is typical of two-stroke engines and stands in this volume for what nobody stated, each with its share of the variance.
    pub fn typical(&self) -> impl Iterator<Item = (Typical, f64)> {
        let outlined = self.method() == Method::EngineOutline;
        let each = Typical::ALL.into_iter().filter(move |_| outlined);
        each.filter_map(|typical| {
            let mut those = self.contributions().iter();
            let found = those.find(|c| c.name == typical.input())?;
            Some((typical, found.variance_share))
        })
    }
}

#[cfg(test)]
#[path = "typical_tests.rs"]
mod tests;
