//! What a sheet gives for each way to get the volume: the keys of `[volume]` and of its tables.

use super::liquid::FillLiquid;
use super::rates::Rates;
use super::reading::{Gauged, Reading, StrokeRows, of_a_difference, of_one, of_size};
use super::with::With;
use crate::sheet::dimensions::Dimensions;
use crate::sheet::document::Table;
use crate::sheet::error::{Problem, SheetError};
use crate::sheet::keys::declare::{table, together};
use crate::sheet::keys::form::{Each, Inline, Name, NotNegative, Within};
use crate::sheet::keys::keyed::{Together, TogetherFrom};
use crate::sheet::keys::rule::{Apart, Here, Optional, OwnTable, Tables, Usual};
use crate::sheet::keys::valued::Unstated;
use crate::sheet::keys::valued::Unstated::LastDigit;
use crate::sheet::keys::valued::Valued;
use crate::sheet::usual::TEMPERATURE_UNCERTAINTY;
use casetight::measured::Measured;
use casetight::quantity::{
    Angle, Area, GaugePressure, Length, Mass, MassDensity, Pressure, Ratio, TemperatureInterval,
    ThermodynamicTemperature, Time, Unit, Volume,
};
use casetight::volume::{Loss, Piece, StrokeReading};

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

table! {
    /// Gas let in from a known volume; see [`Expansion`](casetight::volume::Expansion).
    pub struct ExpansionReadings, given Gauged {
        /// Reference volume up to the valve, gauge included.
        pub reference: Measured<Volume> = Valued(LastDigit), like "200 cm3";
        /// Reading with the valve shut.
        pub before: Measured<GaugePressure> = Reading(of_one), like "50 kPa";
        /// Reading on the tested side with the valve shut, where it was pumped or evacuated before.
        pub tested_before: Option<Measured<GaugePressure>> = Optional(Reading(of_one)), like "-50 kPa", else "it stood open to the air";
        /// Settled reading with the valve open.
        pub after: Measured<GaugePressure> = Reading(of_one), like "50 kPa";
    }
}

table! {
    /// Crank turned with the transfers shut; see [`Rotation`](casetight::volume::Rotation).
    pub struct RotationReadings, given Gauged {
        /// Bore, stroke and rod, where `[engine]` does not have all three.
        pub crank: Option<[Measured<Length>; 3]> = Here;
        /// First crank angle after top dead center.
        pub from: Measured<Angle> = Valued(Unstated::Usual(CRANK_ANGLE_UNCERTAINTY)), like "0 deg";
        /// Second crank angle after top dead center.
        pub to: Measured<Angle> = Valued(Unstated::Usual(CRANK_ANGLE_UNCERTAINTY)), like "90 deg";
        /// Reading at the first angle.
        pub before: Measured<GaugePressure> = Reading(of_size), like "0 kPa";
        /// Settled reading at the second angle.
        pub after: Measured<GaugePressure> = Reading(of_size), like "20 kPa";
        /// What leaked in between, from how fast the needle moved with the crank held.
        pub loss: Option<Loss> = Optional(Inline);
    }
}

table! {
    /// How fast the needle moved with the crank held.
    pub(in crate::sheet) struct LossKeys, given Gauged {
        /// By how much the reading fell while it was watched; below zero under vacuum.
        fall: Measured<Pressure> = Reading(of_a_difference), like "0.1 kPa";
        /// For how long it was watched.
        watched: Measured<Time> = Valued(LastDigit), like "30 s";
        /// Time between the two readings.
        between: Measured<Time> = Valued(LastDigit), like "10 s";
    }
}

impl Together for Loss {
    type Keys = LossKeys;

    fn keys(&self, _: &'static Unit) -> Result<LossKeys, &'static str> {
        let Self {
            fall,
            watched,
            between,
        } = self.clone();
        Ok(LossKeys {
            fall,
            watched,
            between,
        })
    }
}

impl TogetherFrom<Gauged> for Loss {
    fn of(keys: LossKeys, _: &Table<'_>, _: &Gauged) -> Result<Self, SheetError> {
        let LossKeys {
            fall,
            watched,
            between,
        } = keys;
        Ok(Self {
            fall,
            watched,
            between,
        })
    }
}

together!(Loss);

table! {
    /// Counted pump strokes; see [`Strokes`](casetight::volume::Strokes).
    pub struct StrokesReadings, given Gauged {
        /// What the pump's piston sweeps.
        pub stroke_volume: Measured<Volume> = Valued(LastDigit), like "25 cm3";
        /// Share of a stroke that arrives.
        pub delivery: Option<Measured<Ratio>> = Optional(Valued(LastDigit)), like "0.95", else "1 within a tenth";
        /// What stays in the pump.
        pub dead_space: Option<Measured<Volume>> = Optional(Valued(LastDigit)), like "2 cm3", else "none";
        /// `[[strokes, gauge], ...]` in the gauge's unit, the gas settled.
        pub readings: Vec<StrokeReading> = StrokeRows;
    }
}

table! {
    /// A known leak beside the unknown one; see [`AddedLeak`](casetight::volume::AddedLeak).
    pub struct AddedLeakReadings {
        /// Effective area of the known leak.
        pub known_area: Measured<Area> = Valued(LastDigit), like "0.02 mm2";
        /// The two rates.
        pub rates: Rates = Here;
        /// Correlation of the two rates, -1 to 1.
        pub rate_correlation: Option<f64> = Optional(Within(|r| (-1.0..=1.0).contains(&r), "-1 to 1")), else "0; of runs what gauge and barometer make it";
    }
}

table! {
    /// Filled with a liquid and weighed; see [`Fill`](casetight::volume::Fill).
    pub struct FillReadings {
        /// The balance with the case empty.
        pub empty: Measured<Mass> = Valued(LastDigit), like "1850 g";
        /// The balance with the case full.
        pub full: Measured<Mass> = Valued(LastDigit), like "2100 g";
        /// The liquid.
        pub liquid: FillLiquid = Here;
        /// Volume of the air that stayed in.
        pub trapped: Measured<Volume> = Valued(LastDigit), like "1 cm3";
        /// Relative standard uncertainty of the balance's scale.
        pub balance_scale_uncertainty: Option<Ratio> = Optional(NotNegative), else "0.001 (common practice)";
        /// Density of the air.
        pub air_density: Option<Measured<MassDensity>> = Optional(Valued(LastDigit)), like "1.2 kg/m3", else "that of any workshop";
    }
}

table! {
    /// Added up from its parts; see [`PartsList`](casetight::volume::PartsList).
    pub struct PartsReadings, before a_piece {
        /// Relative standard uncertainty of the caliper's scale.
        pub caliper_scale_uncertainty: Option<Ratio> = Optional(NotNegative), else "0.0005 (common practice)";
        /// The pieces.
        pub pieces as "piece": Vec<Piece> = Tables("piece");
    }
}

fn a_piece(table: &Table<'_>) -> Result<(), SheetError> {
    if table.has("piece") {
        return Ok(());
    }
    let example = "[[volume.parts.piece]]".to_owned();
    Err(table.error_at("piece", Problem::Missing { example }))
}

table! {
    /// The tested volume by measurement. Ways that stand beside each other, and `[engine]`, are combined by weight.
    ///
    /// ```
    /// use casetight_bench::sheet::{NoTraces, Sheet};
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
    /// # Ok::<(), casetight_bench::sheet::SheetError>(())
    /// ```
    #[derive(Default)]
    pub struct Methods, given Gauged, before one_at_least {
        /// The engine's dimensions, and the rig.
        pub engine: Option<(Box<Dimensions>, Measured<Volume>)> = Apart;
        /// The volume as a number, rig included.
        pub value: Option<Measured<Volume>> = Optional(Valued(Unstated::Needed("5 cm3"))), like "250 cm3", uncertainty "uncertainty";
        /// Names of inputs that several ways share, beyond those that the sheet states once.
        pub shared: Vec<String> = Usual(
            Each(Name("the name of an input"), "a list of the names of inputs `[\"reference volume\", ...]`"),
            Vec::new,
        );
        /// What the gauge shows when it is open to the air.
        pub gauge_zero: Option<Measured<GaugePressure>> = Optional(Reading(of_one)), like "0 kPa", else "0";
        /// Temperature of the gas.
        pub temperature: Option<Measured<ThermodynamicTemperature>> = Optional(Valued(Unstated::Usual(TEMPERATURE_UNCERTAINTY))), like "20 C", else "that in `[ambient]`";
        /// Within how much of its first temperature the gas surely was at the later reading.
        pub settled_within: Option<TemperatureInterval> = Optional(NotNegative), else "0.5 K (common practice)";
        /// Gas let in from a known volume.
        pub expansion: Option<With<ExpansionReadings>> = Optional(OwnTable);
        /// Crank turned with the transfers shut.
        pub rotation: Option<With<RotationReadings>> = Optional(OwnTable);
        /// Counted pump strokes.
        pub strokes: Option<With<StrokesReadings>> = Optional(OwnTable);
        /// A known leak beside the unknown one.
        pub added_leak: Option<With<AddedLeakReadings>> = Optional(OwnTable);
        /// Filled with a liquid and weighed.
        pub fill: Option<With<FillReadings>> = Optional(OwnTable);
        /// Added up from its parts.
        pub parts: Option<With<PartsReadings>> = Optional(OwnTable);
    }
}

fn one_at_least(table: &Table<'_>) -> Result<(), SheetError> {
    const WAYS: &[&str] = &[
        "value",
        "expansion",
        "rotation",
        "strokes",
        "added_leak",
        "fill",
        "parts",
    ];
    if WAYS.iter().any(|key| table.has(key)) {
        return Ok(());
    }
    let (keys, advice) = (WAYS, "state the volume, or how it was measured");
    Err(table.error(Problem::NeedsOneOf { keys, advice }))
}
