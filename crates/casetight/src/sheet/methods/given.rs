//! What a sheet gives for each way to get the volume.

use std::borrow::Cow;

use super::super::dimensions::Dimensions;
use super::super::error::Problem;
use crate::measured::Measured;
use crate::quantity::{
    Angle, Area, Frequency, GaugePressure, Length, Mass, MassDensity, Ratio, TemperatureInterval,
    ThermodynamicTemperature, Volume,
};
use crate::volume::{Loss, Piece, StrokeReading, TestedVolume, VolumeError};

/// Within how much of its first temperature the gas surely is at a settled reading, where the sheet does not say
/// (common practice, no source): air in a small case is there in half a minute.
pub const SETTLED_WITHIN: &str = "0.5 K";

/// Standard uncertainty of a crank angle where none is stated (common practice, no source): a paper disc of degrees on the
/// shaft.
pub const CRANK_ANGLE_UNCERTAINTY: &str = "1 deg";

/// Relative standard uncertainty of a caliper's scale where none is stated (common practice, no source).
pub const CALIPER_SCALE_UNCERTAINTY: f64 = 0.0005;

/// Relative standard uncertainty of a balance's scale where none is stated (common practice, no source).
pub const BALANCE_SCALE_UNCERTAINTY: f64 = 0.001;

/// A method with the spaces that were tested but not measured by it.
#[derive(Debug, Clone, PartialEq)]
pub struct With<T> {
    /// What was read.
    pub method: T,
    /// Spaces to be added: hose and gauge that were not there at the measurement; below zero for what was there only then.
    pub add: Vec<Added>,
}

/// A space to be added to what a method measured.
#[derive(Debug, Clone, PartialEq)]
pub struct Added {
    /// Its name.
    pub name: String,
    /// Its volume.
    pub volume: Measured<Volume>,
}

/// Known-volume expansion as the sheet has it; see [`Expansion`](crate::volume::Expansion).
#[derive(Debug, Clone, PartialEq)]
pub struct ExpansionReadings {
    /// Reference volume up to the valve, gauge included.
    pub reference: Measured<Volume>,
    /// Reading with the valve shut.
    pub before: Measured<GaugePressure>,
    /// Settled reading with the valve open.
    pub after: Measured<GaugePressure>,
}

/// A turn of the crank as the sheet has it; see [`Rotation`](crate::volume::Rotation).
#[derive(Debug, Clone, PartialEq)]
pub struct RotationReadings {
    /// Bore, stroke and rod, where the sheet has no `[engine]`.
    pub crank: Option<[Measured<Length>; 3]>,
    /// First crank angle after top dead center.
    pub from: Measured<Angle>,
    /// Second crank angle.
    pub to: Measured<Angle>,
    /// Reading at the first angle.
    pub before: Measured<GaugePressure>,
    /// Settled reading at the second angle.
    pub after: Measured<GaugePressure>,
    /// What leaked in between.
    pub loss: Option<Loss>,
}

/// Counted strokes as the sheet has them; see [`Strokes`](crate::volume::Strokes).
#[derive(Debug, Clone, PartialEq)]
pub struct StrokesReadings {
    /// What the pump's piston sweeps.
    pub stroke_volume: Measured<Volume>,
    /// Share of it that arrives; 1 within [`DELIVERY_UNCERTAINTY`](crate::pump::DELIVERY_UNCERTAINTY) where it is not stated.
    pub delivery: Option<Measured<Ratio>>,
    /// Dead space of the pump; none where it is not stated.
    pub dead_space: Option<Measured<Volume>>,
    /// Strokes and settled readings.
    pub readings: Vec<StrokeReading>,
}

/// A known leak beside the unknown one as the sheet has it; see [`AddedLeak`](crate::volume::AddedLeak).
#[derive(Debug, Clone, PartialEq)]
pub struct AddedLeakReadings {
    /// Effective area of the known leak.
    pub known_area: Measured<Area>,
    /// The two rates.
    pub rates: Rates,
    /// Correlation of the two rates; where it is not stated, zero of stated rates, and of runs what gauge and barometer
    /// make it.
    pub rate_correlation: Option<f64>,
}

/// Where two rates come from.
#[derive(Debug, Clone, PartialEq)]
pub enum Rates {
    /// They are stated.
    Stated {
        /// Of the unknown leak alone.
        alone: Measured<Frequency>,
        /// Of both together.
        together: Measured<Frequency>,
    },
    /// They are fitted to runs of the sheet.
    Runs {
        /// Name of the run without the known leak.
        alone: String,
        /// Name of the run with it.
        together: String,
    },
}

/// Two weighings as the sheet has them; see [`Fill`](crate::volume::Fill).
#[derive(Debug, Clone, PartialEq)]
pub struct FillReadings {
    /// The balance with the case empty.
    pub empty: Measured<Mass>,
    /// The balance with the case full.
    pub full: Measured<Mass>,
    /// The liquid.
    pub liquid: FillLiquid,
    /// Air that stayed in.
    pub trapped: Measured<Volume>,
    /// Relative standard uncertainty of the balance's scale.
    pub balance_scale_uncertainty: Option<Ratio>,
    /// Density of the air; that of any workshop where it is not stated.
    pub air_density: Option<Measured<MassDensity>>,
}

/// What a case was filled with.
#[derive(Debug, Clone, PartialEq)]
pub enum FillLiquid {
    /// Water of a temperature, that of the surroundings where it is not stated.
    Water {
        /// The water's temperature.
        temperature: Option<Measured<ThermodynamicTemperature>>,
    },
    /// A liquid of a density.
    OfDensity(Measured<MassDensity>),
}

/// A list of parts as the sheet has it; see [`PartsList`](crate::volume::PartsList).
#[derive(Debug, Clone, PartialEq)]
pub struct PartsReadings {
    /// The pieces.
    pub pieces: Vec<Piece>,
    /// Relative standard uncertainty of the caliper's scale.
    pub caliper_scale_uncertainty: Option<Ratio>,
}

/// The tested volume in more ways than one, or in a way of the bench's own.
///
/// ```
/// use casetight::sheet::{NoTraces, Sheet};
/// use uom::si::volume::cubic_centimeter;
///
/// let text = r#"
/// format = 1
/// [volume]
/// value = "250 cm3"
/// uncertainty = "6 cm3"
/// [volume.strokes]
/// stroke_volume = "25.0 cm3"
/// delivery = 0.95
/// delivery_uncertainty = 0.02
/// readings = [[5, 48.1]]
/// [ambient]
/// pressure = "101325 Pa"
/// temperature = "20 C"
/// [gauge]
/// unit = "kPa"
/// resolution = "0.1 kPa"
/// "#;
/// let volumes = Sheet::parse(text, "sheet.toml", &NoTraces)?.volumes_for(None)?;
/// let combined = volumes.combined.as_ref().unwrap();
/// assert!(combined.agree());
/// // Both are good to some 6 cm3, and the mean is better than either.
/// let u = combined.volume().standard_uncertainty().get::<cubic_centimeter>();
/// assert!(u < 5.0);
/// # Ok::<(), casetight::sheet::SheetError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Methods {
    /// The engine's dimensions, and the rig.
    pub engine: Option<(Box<Dimensions>, Measured<Volume>)>,
    /// A number, rig included.
    pub value: Option<Measured<Volume>>,
    /// Names of inputs that several methods share, beyond those that the sheet states once.
    pub shared: Vec<String>,
    /// What the gauge shows when it is open to the air; zero within a reading's uncertainty and the gauge's offset where
    /// it is not stated.
    pub gauge_zero: Option<Measured<GaugePressure>>,
    /// Temperature of the gas; that of the surroundings where it is not stated.
    pub temperature: Option<Measured<ThermodynamicTemperature>>,
    /// Within how much of its first temperature the gas surely was; [`SETTLED_WITHIN`] where it is not stated.
    pub settled_within: Option<TemperatureInterval>,
    /// Known-volume expansion.
    pub expansion: Option<With<ExpansionReadings>>,
    /// Crank turned with the transfers shut.
    pub rotation: Option<With<RotationReadings>>,
    /// Counted strokes.
    pub strokes: Option<With<StrokesReadings>>,
    /// A known leak added.
    pub added_leak: Option<With<AddedLeakReadings>>,
    /// Filled with a liquid.
    pub fill: Option<With<FillReadings>>,
    /// A list of parts.
    pub parts: Option<With<PartsReadings>>,
}

impl<T> With<T> {
    /// A method's volume with what is to be added.
    pub(super) fn plus(
        &self,
        measured: Result<TestedVolume, Problem>,
    ) -> Result<TestedVolume, Problem> {
        let add = |so_far: TestedVolume, added: &Added| -> Result<TestedVolume, VolumeError> {
            so_far.plus(Cow::from(added.name.clone()), &added.volume)
        };
        Ok(self.add.iter().try_fold(measured?, add)?)
    }
}
