//! The bench sheet, format 1: one TOML document for the test session of one engine.
//!
//! Every quantity is text with its unit (`"52 mm"`, `"7 psi"`); a ratio or a count may be a bare number. A key that is
//! not in these tables is an error. "Needed" keys have no default.
//!
//! | key | what | default |
//! |---|---|---|
//! | `format` | `1` | needed |
//! | `title` | what was tested | none |
//! | `machine` | the machine by its name or number, the same on all its sheets | none |
//! | `date` | day of the test, `2026-03-02`, in quotes or not | none |
//! | **`[engine]`** | the engine's dimensions; this, `[volume]` or both | |
//! | `bore`, `stroke`, `rod` | lengths, the rod from center to center | needed |
//! | `primary_compression_ratio` | of the crankcase | needed |
//! | `compression_ratio` | of the cylinder, geometric; needed by runs with open transfers | none |
//! | each with `_uncertainty` | see below | half the last digit written |
//! | **`[rig]`** | hose and gauge up to the case; with `[engine]` only | |
//! | `volume` | `"0 cm3"`, taken as exact, where the dimensions already hold it | needed |
//! | `uncertainty` | see below | half the last digit written |
//! | **`[volume]`** | the tested volume by measurement; ways that stand beside each other (and `[engine]`) are combined by weight | |
//! | `value`, `uncertainty` | a number, rig included | none |
//! | `shared` | names of inputs that are one thing in several ways, beyond those that the sheet states once | `[]` |
//! | `gauge_zero` | what the gauge shows open to the air | 0 |
//! | `temperature` | of the gas | that in `[ambient]` |
//! | `settled_within` | of its first temperature the gas surely was at the later reading | [`methods::SETTLED_WITHIN`] |
//! | **`[volume.expansion]`** | gas let in from a known volume ([`TestedVolume::from_expansion`]) | |
//! | `reference`, `before`, `after` | known volume; reading before and after the valve was opened | needed |
//! | **`[volume.rotation]`** | crank turned with the transfers shut ([`TestedVolume::from_rotation`]) | |
//! | `from`, `to`, `before`, `after` | angles after top dead center, reading at each | needed |
//! | `loss` | `{ fall, watched, between }`: how fast the needle moved with the crank held, time between the readings | none |
//! | `bore`, `stroke`, `rod` | without `[engine]` only | needed |
//! | **`[volume.strokes]`** | counted pump strokes ([`TestedVolume::from_strokes`]) | |
//! | `stroke_volume` | | needed |
//! | `readings`, `reading_uncertainty` | `[[strokes, gauge], ...]` in the gauge's unit | needed; the gauge's |
//! | `delivery`, `dead_space` | share of a stroke that arrives; what stays in the pump | 1 within a tenth, none |
//! | **`[volume.added_leak]`** | a known leak beside the unknown one ([`TestedVolume::from_added_leak`]) | |
//! | `known_area` | effective area of the known leak | needed |
//! | `alone`, `together` | rates in 1/s; or | |
//! | `alone_run`, `together_run` | names of the runs that they follow from | |
//! | `rate_correlation` | of the two rates | 0; of runs by gauge and barometer |
//! | **`[volume.fill]`** | filled with a liquid and weighed ([`TestedVolume::from_fill`]) | |
//! | `empty`, `full`, `trapped` | masses; volume of the air that stayed in | needed |
//! | `liquid` | `"water"`, with its `temperature`; or | |
//! | `density` | of another liquid | |
//! | `balance_scale_uncertainty`, `air_density` | | [`methods::BALANCE_SCALE_UNCERTAINTY`], that of any workshop |
//! | **`[volume.parts]`** | added up from its parts ([`TestedVolume::from_parts_list`]) | |
//! | `caliper_scale_uncertainty` | | [`methods::CALIPER_SCALE_UNCERTAINTY`] |
//! | `[[volume.parts.piece]]` | `name`, `shape`, `solid` (false), `count` (1) and the shape's own lengths: a `cylinder`'s `diameter`, `length`; an `annulus`' `outer`, `inner`, `length`; a `frustum`'s `first`, `second`, `length`; a `block`'s `length`, `width`, `height`; or the `volume` of a `known` one | needed |
//! | each way's `add` | `[{ name, volume, uncertainty }, ...]`: spaces that are tested and were not measured; below zero the other way | `[]` |
//! | each value's `_uncertainty` | see below; of a reading that of the gauge, of an angle [`methods::CRANK_ANGLE_UNCERTAINTY`] | half the last digit written |
//! | **`[ambient]`** | | needed |
//! | `pressure` | barometer, absolute, 30 to 120 kPa | needed |
//! | `pressure_uncertainty` | see below | [`PRESSURE_UNCERTAINTY`] |
//! | `temperature` | of the case's wall, -60 to 100 C | needed |
//! | `temperature_uncertainty` | see below | [`TEMPERATURE_UNCERTAINTY`] |
//! | `drift_allowance` | standard uncertainty of an unknown steady drift of the wall's temperature | [`DRIFT_ALLOWANCE`] |
//! | **`[heat]`** | the heat between gas and wall ([`crate::vessel::Heat`]) | that of a usual case |
//! | `conductance` | thermal conductance hA between gas and wall | 0.35 W/K (V/250 cm3)^(2/3), within a factor of 1.6 |
//! | `conductance_factor` | the factor within which it is known, one standard uncertainty | 1.5 |
//! | `settled_for` | time from the last stroke of the pump to the first reading, of runs that don't state their own | `"0 s"` |
//! | **`[gauge]`** | | needed |
//! | `unit` | of the readings in this sheet | needed |
//! | `division` | of a dial: from mark to mark; this or `resolution` | |
//! | `readable` | of a dial: smallest step read between marks | `division` |
//! | `resolution` | of a digital gauge: the display's last step | |
//! | `noise` | standard deviation of a reading before rounding | a tenth of `readable`, half of `resolution` |
//! | `accuracy_class`, `span` | percent of span, and the span; both or neither | none |
//! | `stopwatch` | standard uncertainty of the moment of a reading | 0.15 s on a dial, 0 on a digital gauge |
//! | **`[limit]`** | at least one of the five limits; without the table no run is judged | none |
//! | `max_drop` | largest fall, with `from` and `over` | |
//! | `at_volume` | the volume that `max_drop` was set for | the volume under test |
//! | `max_area` | largest effective area | |
//! | `max_flow` | largest flow | |
//! | `reference` | reference conditions of `max_flow` | `flow_reference` |
//! | `min_hold` | shortest time without a readable fall | |
//! | `from` | pressure that the fall, or the hold, starts from | of a hold: the run's start |
//! | `rule` | a limit by its name: `"common practice: one psi a minute"` | |
//! | **`[assumptions]`** | | |
//! | `discharge_coefficient` | for the diameter of a hole, above 0, up to 1 | [`DISCHARGE_COEFFICIENT`](crate::assess::DISCHARGE_COEFFICIENT) |
//! | `level` | of the intervals, 0.5 to 0.9999 | [`LEVEL`](crate::assess::LEVEL) |
//! | `flow_reference` | conditions that flows are counted at: `"normal"`, `"ANR"`, `"ISA"`, `"0 C, 101.325 kPa"` | `"normal"` |
//! | `law` | kind of leak, where it is known: a name of [`DecayLaw::KINDS`](crate::vessel::DecayLaw::KINDS), as `"orifice"` for a hole, `"laminar"` for a fine gap | told by the readings, or not |
//! | **`[isolate]`** | where to look for leaks | |
//! | `sites` | where it can leak, beyond the sites that the runs name | seals, base gasket and case seam |
//! | `can_blank`, `can_spray` | which of them | all but gaskets and seams; all |
//! | **`[[run]]`** | as many as there are, or none | |
//! | `name` | each its own | needed |
//! | `piston` | `"bottom"`, `"top"`, `"60 deg, transfers shut"` | needed with `[engine]` |
//! | `direction` | `"pressure"` or `"vacuum"`: readings (or a stall's `reached`) without a sign are taken on that side of ambient | below zero is vacuum; asked for where the name says vacuum (`vacuum`, `vac`, `suction`) or the unit is that of vacuum dials (`inHg`, `mmHg`) and the readings carry no sign |
//! | `readings` | `[[seconds, gauge], ...]` in the gauge's unit, below zero for vacuum or with `direction`; or | |
//! | `file` | a trace ([`crate::record::trace`]), as [`Traces`] has it; or | |
//! | `profile` | of a `file`: the profile that it is read by | the format of [`crate::record::trace`] |
//! | `window` | of a `file`: `[from_s, to_s]`, the times \[s\] between which readings are used | the hold that is found ([`Segments`](crate::record::Segments)) |
//! | `stalled` | `{ strokes, stroke_volume, over, reached }`: the pump did not raise the needle further | |
//! | `blanked`, `bubbles`, `dry` | lists of [`Site`](crate::record::Site)s: shut off; seen to bubble; watched and dry | `[]` |
//! | `repaired` | [`Site`](crate::record::Site)s repaired before this run, after the one above; they stay so below | `[]` |
//! | `soaped_at` | gauge pressure while soap was watched | those of the run that say the least |
//! | `settled_for` | time from the last stroke of the pump to the first reading | that of `[heat]` |
//! | `rig_alone` | `true`: the hose was stopped at its end, and the rig's own leak is taken off the other runs; the rig's volume where the sheet has no `[rig]` | `false` |
//! | `rig_alone_uncertainty` | see below | half the last digit written |
//! | `note` | anything | none |
//! | **`[plan]`** | the next test, for `casetight plan` | |
//! | `direction` | `"pressure"`, `"vacuum"`, `"both"` | `"both"` |
//! | `target` | size of the gauge pressure to pump to | that of the first limit with a `from`, else 7 psi (common practice) |
//! | `hold` | how long to hold | the time of the first limit that has one, else 60 s (common practice) |
//! | `readings_every` | time from reading to reading | a tenth of the hold |
//! | `piston` | as in a run | as in the first run; else `"bottom"`, or `"top"` without `compression_ratio` |
//! | `stroke_volume` | of the pump, its delivery counted in | that of `[volume.strokes]`, else 25 cm3 (common practice) |
//! | `dead_space` | of the pump, not cleared by a stroke | that of `[volume.strokes]`, else 0 |
//! | `stroke_every` | time from stroke to stroke | 1 s (common practice) |
//! | **`[running]`** | how the engine runs, for `casetight running`; defaults are [`crate::running::typical`] (common practice) | |
//! | `exhaust_opens`, `transfer_opens` | angles after top dead center | 108 deg, 120 deg, each `"+- 5 deg"` |
//! | `intake_opens` | angle before top | 65 deg `"+- 10 deg"` |
//! | `intake_closes` | angle after top | 65 deg `"+- 10 deg"` |
//! | `polytropic_exponent` | of the gas in the case | 1.3 `"+- 0.1"` |
//! | `idle_speed`, `full_speed` | such as `"2800 rpm"` | 2800 rpm, 9000 rpm |
//! | `idle_delivery_ratio`, `full_delivery_ratio` | air a turn over swept volume | 0.25 `"+- 0.10"`, 0.60 `"+- 0.15"` |
//! | each but the speeds with `_uncertainty` | see below | that of the default value |
//! | **`[profiles.NAME]`** | how a foreign logger's files are read ([`ReadingProfile`](crate::record::ReadingProfile)); as many as there are | |
//! | `time`, `pressure`, `temperature` | columns by name or by number from 1; `temperature` if there is one | needed, needed, none |
//! | `time_unit` | `"s"`, `"ms"`, `"us"`, `"min"`, `"h"`, `"date"` (ISO 8601) | `"s"` |
//! | `pressure_unit`, `temperature_unit` | | `"Pa"`, `"K"` |
//! | `pressure_kind` | `"gauge"` or `"absolute"`, from which the ambient pressure is subtracted | `"gauge"` |
//! | `scale`, `offset` | pressure in its unit = offset + scale times the number in the file | 1, 0 |
//! | `separator`, `decimal` | marks between columns and in numbers | `","`, `"."` |
//! | `time_thousands`, `pressure_thousands` | mark between groups of three digits | none |
//! | `encoding` | `"utf-8"`, `"utf-16le"`, `"latin-1"` | `"utf-8"` |
//! | `skip_rows`, `header`, `comment` | lines before the table; whether names of columns come first; what a comment starts with | 0, true, `"#"` |
//! | `repeated_times` | `"error"` or `"mean"` | `"error"` |
//! | `empty_cells` | `"error"` or `"skip"` the row | `"error"` |
//!
//! Text is kept as [`printable`](crate::printable) shows it. A name has up to [`LONGEST_NAME`] letters.
//!
//! An uncertainty is written in one of two ways: `"0.03 mm"` is a standard uncertainty, `"+- 0.05 mm"` a tolerance,
//! anywhere within which the value may lie alike (rectangular). Where none is stated, [`Measured::source`] says so:
//! [`LAST_DIGIT`] or [`USUAL`].
//!
//! ```
//! use casetight::sheet::{NoTraces, Record, Sheet};
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
//! # Ok::<(), casetight::sheet::SheetError>(())
//! ```

mod content;
mod dimensions;
mod document;
mod doubt;
mod error;
mod heat;
pub mod methods;
mod parse;
mod plan;
mod running;
mod side;
mod stated;
#[cfg(test)]
mod tests;
mod traces;
mod usual;
mod write;

use crate::gas::Gas;
use crate::measured::Measured;
use crate::quantity::Volume;
use crate::record::Bench;
use crate::volume::{Piston, TestedVolume, VolumeError};

pub use content::{
    Ambient, Planned, Record, RigAlone, Run, Search, Sheet, Space, Stalled, StatedLimit,
};
pub use dimensions::Dimensions;
pub use doubt::Doubt;
pub use error::{Position, Problem, SheetError};
pub use methods::{Methods, Volumes};
pub use side::Side;
pub use traces::{NoTraces, Traces};
pub use usual::{
    DRIFT_ALLOWANCE, FORMAT, LAST_DIGIT, LONGEST_NAME, MOST_RUNS, PRESSURE_UNCERTAINTY, STATED,
    TEMPERATURE_UNCERTAINTY, USUAL,
};

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
    /// [`TestedVolume`] and [`crate::volume::combine_sharing`]; none for the positions of the runs of a sheet that was
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
        let one = |tested: Result<TestedVolume, VolumeError>| -> Result<Volumes, methods::Wrong> {
            Ok(Volumes {
                each: vec![tested.map_err(|error| ("", error.into()))?],
                combined: None,
                left_out: Vec::new(),
            })
        };
        match &self.space {
            Space::Engine { dimensions, rig } => {
                let piston = piston.ok_or(("", Problem::NoPiston))?;
                one(dimensions
                    .engine()
                    .and_then(|engine| TestedVolume::from_engine(&engine, piston, rig)))
            }
            Space::Measured(volume) => one(TestedVolume::measured_directly(volume.clone())),
            Space::Methods(methods) => methods.volumes(self, piston),
        }
    }

    /// The circumstances of a run: its tested volume, the surroundings, the gauge; the gas is air.
    ///
    /// # Errors
    /// As [`Sheet::volume_for`]; none for a run of a sheet that was parsed.
    pub fn bench_for(&self, run: &Run) -> Result<Bench, SheetError> {
        let volume = match self.rig_volume_of(run)? {
            Some(rig) => rig.clone(),
            None => self.volume_of(run)?.volume().clone(),
        };
        let mut bench = self.bench_with(volume);
        if let Some(settled_for) = run.settled_for {
            bench.heat.settled_for = settled_for;
        }
        Ok(bench)
    }

    /// The circumstances of a run on a volume.
    fn bench_with(&self, volume: Measured<Volume>) -> Bench {
        Bench {
            volume,
            ambient_pressure: self.ambient.pressure.clone(),
            temperature: self.ambient.temperature.clone(),
            drift_allowance: self.ambient.drift_allowance,
            heat: self.heat,
            gauge: self.gauge,
            gas: Gas::dry_air(),
        }
    }
}
