//! The bench sheet, format 1: one TOML document for the test session of one engine.
//!
//! Every quantity is text with its unit (`"52 mm"`, `"7 psi"`); a ratio or a count may be a bare number. A key that is
//! not known is an error; [`reference()`] lists those that are, and [`schema()`] tells them to an editor.
//!
//! Text is kept as [`printable`](crate::printable) shows it. A name has up to [`LONGEST_NAME`] letters.
//!
//! An uncertainty is written in one of two ways: `"0.03 mm"` is a standard uncertainty, `"+- 0.05 mm"` a tolerance,
//! anywhere within which the value may lie alike (rectangular). Where none is stated, [`Measured::source`] says so:
//! [`LAST_DIGIT`] or [`USUAL`].
//!
//! ```
//! use casetight_bench::sheet::{NoTraces, Record, Sheet};
//! use uom::si::volume::cubic_centimeter;
//!
//! let text = r#"
//! format = 1
//! title = "Mist blower 14, after new seals"
//!
//! [engine]
//! bore = "52.0 mm"
//! stroke = "40.0 mm"
//! rod = "75 mm"
//! primary_compression_ratio = 1.45
//! primary_compression_ratio_uncertainty = 0.03
//! compression_ratio = "8.2:1"
//!
//! [rig]
//! volume = "35 cm3"
//! uncertainty = "3 cm3"
//!
//! [ambient]
//! pressure = "1013 hPa"
//! temperature = "21 C"
//! drift_allowance = "0.3 K/min"
//!
//! [gauge]
//! unit = "psi"
//! division = "0.5 psi"
//! readable = "0.25 psi"
//! accuracy_class = 1.6
//! span = "15 psi"
//! stopwatch = "0.2 s"
//!
//! [limit]
//! max_drop = "1 psi"
//! from = "7 psi"
//! over = "1 min"
//!
//! [assumptions]
//! discharge_coefficient = 0.62
//!
//! [[run]]
//! name = "all blanked"
//! piston = "bottom"
//! blanked = ["exhaust blank", "intake blank", "impulse fitting"]
//! readings = [[0, 7.0], [30, 6.75], [60, 6.25], [90, 6.0]]
//! dry = ["base gasket"]
//!
//! [[run]]
//! name = "vacuum"
//! piston = "bottom"
//! blanked = ["exhaust blank", "intake blank", "impulse fitting"]
//! stalled = { strokes = 30, stroke_volume = "25 cm3", over = "30 s", reached = "-1 psi" }
//! "#;
//! let sheet = Sheet::parse(text, "blower14.toml", &NoTraces)?;
//! let run = &sheet.runs[0];
//! assert!(matches!(&run.record, Record::Readings(readings) if readings.len() == 4));
//! let bench = sheet.bench_for(run)?;
//! assert!((bench.volume.value().get::<cubic_centimeter>() - 320.5).abs() < 0.1);
//!
//! // Written out again it reads the same.
//! assert_eq!(Sheet::parse(&sheet.to_toml()?, "again", &NoTraces)?, sheet);
//!
//! let slip = text.replace("stroke =", "stroek =");
//! assert_eq!(
//!     Sheet::parse(&slip, "blower14.toml", &NoTraces).unwrap_err().to_string(),
//!     "blower14.toml:7:1: engine.stroek: no such key; is `stroke` meant?"
//! );
//! # Ok::<(), casetight_bench::sheet::SheetError>(())
//! ```

mod ambient;
mod assumptions;
mod content;
mod dimensions;
mod document;
mod doubt;
mod effects;
mod error;
mod gas;
mod gauge;
mod heat;
mod job;
mod keys;
mod known;
mod limits;
mod meant;
pub mod methods;
mod outlook;
mod parse;
mod plan;
mod planned;
mod profiles;
mod record;
mod run;
mod running;
mod side;
mod space;
mod syntax;
#[cfg(test)]
mod tests;
mod trace;
mod traces;
mod usual;
mod write;

use crate::assess::Assumptions;
use casetight::gas::{Gas, GasError};
use casetight::measured::{Evaluation, Measured};
use casetight::quantity::{AbsolutePressure, Unit, Volume};
use casetight::readings::Bench;
use casetight::vessel::Direction;
use casetight::volume::{Piston, TestedVolume, VolumeError};

pub use ambient::{Ambient, PressureAt};
pub use content::{Format, Search, Sheet};
pub use dimensions::Dimensions;
pub use doubt::Doubt;
pub use error::{Position, Problem, SheetError};
pub use gas::{GivenGas, TestGas};
pub use job::Job;
pub use keys::schema::Schema;
pub use limits::StatedLimit;
pub use methods::{Methods, Volumes};
pub use planned::Planned;
pub use record::{Record, Stalled};
pub use run::{RigAlone, Run};
pub use side::Side;
pub use space::Space;
pub use traces::{NoTraces, Traces};
pub use usual::{
    ALTITUDE_UNCERTAINTY, FORMAT, HUMIDITY_UNCERTAINTY, LAST_DIGIT, LONGEST_NAME, MOST_RUNS,
    PRESSURE_UNCERTAINTY, STATED, TEMPERATURE_UNCERTAINTY, USUAL,
};

/// Every key of the sheet with what it is, in Markdown: a heading and a table for each table of the sheet.
#[must_use]
pub fn reference() -> String {
    keys::reference::page(&keys::keyed::content::<Sheet>())
}

/// The JSON Schema of the sheet.
#[must_use]
pub fn schema() -> Schema {
    keys::schema::schema(&keys::keyed::content::<Sheet>())
}

impl Sheet {
    /// The tested volume with the piston in this position; a volume that was measured directly does not ask for it. Of
    /// several methods it is their weighted mean ([`Sheet::volumes_for`]).
    ///
    /// # Errors
    /// As [`Sheet::volumes_for`].
    pub fn volume_for(&self, piston: Option<Piston>) -> Result<TestedVolume, SheetError> {
        let nothing = || SheetError::new("", "volume", None, VolumeError::NothingToCombine);
        self.volumes_for(piston)?.tested().ok_or_else(nothing)
    }

    /// The tested volume with the piston in this position by every method of the sheet, and their weighted mean. Inputs
    /// that the sheet states once (ambient, gauge zero, temperature, dimensions) and those in `shared` are one quantity in
    /// all methods.
    ///
    /// # Errors
    /// [`Problem::NoPiston`] for a position that is needed and not given, [`Problem::Volume`] as the methods of
    /// [`TestedVolume`] and [`casetight::volume::combine_sharing`]; none for the positions of the runs of a sheet that was
    /// parsed.
    pub fn volumes_for(&self, piston: Option<Piston>) -> Result<Volumes, SheetError> {
        self.volumes(piston).map_err(|(key, problem)| {
            let key = match key {
                "" => "volume".to_owned(),
                "engine" => key.to_owned(),
                key => format!("volume.{key}"),
            };
            SheetError::new("", key, None, problem)
        })
    }

    /// The volume under test of a run by every method of the sheet, and their weighted mean; none of a run of the rig alone,
    /// of whose volume they say nothing and which has no piston to state.
    ///
    /// # Errors
    /// As [`Sheet::volumes_for`].
    pub fn volumes_of(&self, run: &Run) -> Result<Option<Volumes>, SheetError> {
        match run.rig_alone {
            Some(_) => Ok(None),
            None => self.volumes_for(run.piston).map(Some),
        }
    }

    /// The volume under test of a run: [`Sheet::volume_for`] its piston's position, or the rig's for a run of the rig alone.
    ///
    /// # Errors
    /// As [`Sheet::volume_for`]; [`Problem::NoRigVolume`] for a rig whose volume is not stated.
    pub fn volume_of(&self, run: &Run) -> Result<TestedVolume, SheetError> {
        let key = || format!("run \"{}\"", run.name);
        match self.rig_volume_of(run)? {
            Some(rig) => TestedVolume::measured_directly(rig.clone())
                .map_err(|error| SheetError::new("", key(), None, error)),
            None => self
                .volume_for(run.piston)
                .map_err(|error| SheetError::new("", key(), None, error.problem().clone())),
        }
    }

    /// The rig's volume of a run of the rig alone; none of a run of the engine.
    pub(crate) fn rig_volume_of<'r>(
        &'r self,
        run: &'r Run,
    ) -> Result<Option<&'r Measured<Volume>>, SheetError> {
        let key = || format!("run \"{}\"", run.name);
        match &run.rig_alone {
            None => Ok(None),
            Some(RigAlone::Of(volume)) => Ok(Some(volume)),
            Some(RigAlone::AsStated) => match self.space.rig() {
                Some(rig) => Ok(Some(rig)),
                None => Err(SheetError::new("", key(), None, Problem::NoRigVolume)),
            },
        }
    }

    fn volumes(&self, piston: Option<Piston>) -> Result<Volumes, methods::Wrong> {
        let one = |tested: Result<TestedVolume, Problem>| -> Result<Volumes, methods::Wrong> {
            Ok(Volumes {
                each: vec![tested.map_err(|problem| ("", problem))?],
                combined: None,
                left_out: Vec::new(),
            })
        };
        match &self.space {
            Space::Engine { dimensions, rig } => one(dimensions.tested(piston, rig)),
            Space::Measured(volume) => {
                one(TestedVolume::measured_directly(volume.clone()).map_err(Problem::from))
            }
            Space::Methods(methods) => methods.volumes(self, piston),
        }
    }

    /// The ambient pressure at the bench ([`Ambient::pressure_at_bench`]).
    ///
    /// # Errors
    /// As there; none of a sheet that was parsed.
    pub fn ambient_pressure(&self) -> Result<Measured<AbsolutePressure>, SheetError> {
        let wrong = |problem| SheetError::new("", "ambient.pressure", None, problem);
        self.ambient.pressure_at_bench().map_err(wrong)
    }

    /// The circumstances of a run: its tested volume, the surroundings, the gauge, and the gas in the direction that it shows
    /// ([`Sheet::gas_in`]).
    ///
    /// # Errors
    /// As [`Sheet::volume_for`]; none for a run of a sheet that was parsed.
    pub fn bench_for(&self, run: &Run) -> Result<Bench, SheetError> {
        self.bench_in(run, run.shown_direction())
    }

    /// As [`Sheet::bench_for`], of a run that has no readings of its own to tell the direction.
    ///
    /// # Errors
    /// As [`Sheet::bench_for`].
    pub fn bench_in(&self, run: &Run, direction: Direction) -> Result<Bench, SheetError> {
        let volume = match self.rig_volume_of(run)? {
            Some(rig) => rig.clone(),
            None => self.volume_of(run)?.volume().clone(),
        };
        let mut bench = self.bench_with(volume, direction)?;
        if let Some(settled_for) = run.settled_for {
            bench.heat.settled_for = settled_for;
        }
        if let Some(at_rest) = run.at_rest {
            let uncertainty = bench.gauge.reading_uncertainty();
            let zero = Measured::new(at_rest, uncertainty, Evaluation::Combined);
            let wrong = |error| SheetError::new("", "run.at_rest", None, error);
            bench.effects.zero = Some(zero.map_err(wrong)?);
        }
        Ok(bench)
    }

    /// The unit that a run's pressures are told in: its own, or else the gauge's.
    #[must_use]
    pub fn unit_of(&self, run: &Run) -> &'static Unit {
        run.unit.unwrap_or(self.gauge_unit)
    }

    /// What the numbers of a run are stated with, its pressures in its unit.
    #[must_use]
    pub fn assumptions_of(&self, run: &Run) -> Assumptions {
        Assumptions {
            pressure_unit: self.unit_of(run),
            ..self.assumptions
        }
    }

    /// The gas of a run: under pressure what was pumped in, under vacuum the air around, which is what leaks in and what the case
    /// held before.
    ///
    /// # Errors
    /// [`Problem::Gas`] for a gas or a humidity that can't be; none of a sheet that was parsed.
    pub fn gas_in(&self, direction: Direction) -> Result<Gas, SheetError> {
        let wrong = |key, error: GasError| SheetError::new("", key, None, error);
        match (self.gas, direction) {
            (TestGas::Named(gas), Direction::Pressure) => Ok(gas),
            (TestGas::Given(given), Direction::Pressure) => {
                given.gas().map_err(|error| wrong("gas", error))
            }
            (TestGas::Air, _) | (_, Direction::Vacuum) => {
                let air = self.ambient.air();
                air.map_err(|error| wrong("ambient.humidity", error))
            }
        }
    }

    /// The circumstances of a run on a volume.
    fn bench_with(
        &self,
        volume: Measured<Volume>,
        direction: Direction,
    ) -> Result<Bench, SheetError> {
        let temperature = self.ambient.temperature_in_air();
        Ok(Bench {
            volume,
            ambient_pressure: self.ambient_pressure()?,
            temperature: temperature
                .map_err(|problem| SheetError::new("", "ambient.humidity", None, problem))?,
            drift_allowance: self.ambient.drift_allowance,
            effects: self.effects.clone(),
            heat: self.heat,
            gauge: self.gauge,
            gas: self.gas_in(direction)?,
        })
    }
}
