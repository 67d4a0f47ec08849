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
//! | `window` | of a `file`: `[from_s, to_s]`, the times \[s\] between which readings are used | the hold that is found ([`Segments`]) |
//! | `stalled` | `{ strokes, stroke_volume, over, reached }`: the pump did not raise the needle further | |
//! | `blanked`, `bubbles`, `dry` | lists of [`Site`]s: shut off; seen to bubble; watched and dry | `[]` |
//! | `repaired` | [`Site`]s repaired before this run, after the one above; they stay so below | `[]` |
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
//! | **`[profiles.NAME]`** | how a foreign logger's files are read ([`ReadingProfile`]); as many as there are | |
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

mod document;
mod error;
mod heat;
pub mod methods;
mod parse;
mod plan;
mod running;
mod side;
#[cfg(test)]
mod tests;
mod write;

use std::collections::BTreeMap;
use std::io::{self, Read};

use crate::assess::Assumptions;
use crate::gas::Gas;
use crate::gauge::Gauge;
use crate::limit::{Limit, Rule};
use crate::measured::Measured;
use crate::quantity::{
    AbsolutePressure, GaugePressure, Length, Ratio, TemperatureDrift, TemperatureInterval,
    ThermodynamicTemperature, Time, Unit, Volume,
};
use crate::record::{
    Bench, CourseError, Date, ReadingProfile, Readings, Segments, Site, TemperatureCourse, Window,
};
use crate::running::Conditions;
use crate::vessel::{Direction, Heat};
use crate::volume::{Engine, Piston, TestedVolume, VolumeError};

pub use error::{Position, Problem, SheetError};
pub use methods::{Methods, Volumes};
pub use plan::Planned;
pub use side::{Doubt, Side};

/// The format of the sheets that are read and written.
pub const FORMAT: u32 = 1;

/// No name on a sheet, of a run, a site, a part, is longer \[letters\].
pub const LONGEST_NAME: usize = 200;

/// No sheet has more runs.
pub const MOST_RUNS: usize = 10_000;

/// Standard uncertainty of the ambient pressure where none is stated (common practice, no source): that of a household
/// barometer, or of a weather service's value for the place.
pub const PRESSURE_UNCERTAINTY: &str = "100 Pa";

/// Standard uncertainty of the temperature where none is stated (common practice, no source): that of a room thermometer
/// near the case.
pub const TEMPERATURE_UNCERTAINTY: &str = "1 K";

/// Standard uncertainty of the wall's steady temperature drift where none is stated (common practice, no source): that
/// of a case that has stood in the room for hours. A case that was just run, washed or sprayed drifts more.
pub const DRIFT_ALLOWANCE: &str = "0.1 K/min";

/// [`Measured::source`] of a value whose uncertainty the sheet states.
pub const STATED: &str = "stated on the bench sheet";

/// [`Measured::source`] of a value whose uncertainty is taken from the digits that it is written with.
pub const LAST_DIGIT: &str = "half the last digit written on the bench sheet";

/// [`Measured::source`] of a value whose uncertainty is what is usual on a bench.
pub const USUAL: &str = "not stated on the bench sheet, usual on the bench";

/// A bench sheet.
///
/// One that was parsed is valid; one that was put together by hand is checked where it is used.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// What was tested; may be empty.
    pub title: String,
    /// The machine, by the name that all its sheets have.
    pub machine: Option<String>,
    /// The day of the test.
    pub date: Option<Date>,
    /// What the tested volume follows from.
    pub space: Space,
    /// The surroundings.
    pub ambient: Ambient,
    /// The heat between gas and wall.
    pub heat: Heat,
    /// The gauge and its stopwatch.
    pub gauge: Gauge,
    /// The unit that the gauge shows.
    pub gauge_unit: &'static Unit,
    /// The limits, in the order of the keys in this module's table; none where the runs are not judged.
    pub limits: Vec<StatedLimit>,
    /// What is assumed beyond what was measured.
    pub assumptions: Assumptions,
    /// Where to look for leaks.
    pub search: Search,
    /// How foreign loggers' files are read, by the names that runs call them by.
    pub profiles: BTreeMap<String, ReadingProfile>,
    /// The runs in the order of the sheet; there may be none yet.
    pub runs: Vec<Run>,
    /// How the next test is meant to be run.
    pub plan: Planned,
    /// How the engine runs.
    pub running: Conditions,
}

/// What the tested volume follows from.
#[derive(Debug, Clone, PartialEq)]
pub enum Space {
    /// The engine's dimensions, each run's piston position, and the rig.
    Engine {
        /// The dimensions.
        dimensions: Box<Dimensions>,
        /// Volume of hose, gauge and adapters up to the case.
        rig: Measured<Volume>,
    },
    /// A volume that was measured directly, rig included.
    Measured(Measured<Volume>),
    /// The volume in several ways, or in one of the bench's own.
    Methods(Box<Methods>),
}

/// The dimensions of an engine as the sheet states them.
#[derive(Debug, Clone, PartialEq)]
pub struct Dimensions {
    /// Bore.
    pub bore: Measured<Length>,
    /// Stroke.
    pub stroke: Measured<Length>,
    /// Rod length from center to center.
    pub rod: Measured<Length>,
    /// Crankcase volume at the top over that at the bottom.
    pub primary_compression_ratio: Measured<Ratio>,
    /// Cylinder volume at the bottom over that at the top, geometric.
    pub compression_ratio: Option<Measured<Ratio>>,
}

impl Dimensions {
    /// The engine of these dimensions.
    ///
    /// # Errors
    /// As [`Engine::new`] and [`Engine::with_compression_ratio`].
    pub fn engine(&self) -> Result<Engine, VolumeError> {
        let engine = Engine::new(
            self.bore.clone(),
            self.stroke.clone(),
            self.rod.clone(),
            self.primary_compression_ratio.clone(),
        )?;
        match &self.compression_ratio {
            Some(ratio) => engine.with_compression_ratio(ratio.clone()),
            None => Ok(engine),
        }
    }
}

impl Space {
    /// The engine's dimensions, where the sheet has them.
    #[must_use]
    pub fn dimensions(&self) -> Option<&Dimensions> {
        match self {
            Self::Engine { dimensions, .. } => Some(dimensions),
            Self::Measured(_) => None,
            Self::Methods(methods) => methods.engine.as_ref().map(|(engine, _)| engine.as_ref()),
        }
    }

    /// The rig's volume, where the sheet has it.
    #[must_use]
    pub fn rig(&self) -> Option<&Measured<Volume>> {
        match self {
            Self::Engine { rig, .. } => Some(rig),
            Self::Measured(_) => None,
            Self::Methods(methods) => methods.engine.as_ref().map(|(_, rig)| rig),
        }
    }
}

/// Where to look for leaks, and with what.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Search {
    /// Where the engine can leak, beyond the sites that its runs name.
    pub sites: Vec<Site>,
    /// Which of them can be blanked; any but gaskets and seams where it is not stated.
    pub can_blank: Option<Vec<Site>>,
    /// Which of them can be sprayed; all where it is not stated.
    pub can_spray: Option<Vec<Site>>,
}

/// The surroundings of a session.
#[derive(Debug, Clone, PartialEq)]
pub struct Ambient {
    /// Absolute pressure by the barometer.
    pub pressure: Measured<AbsolutePressure>,
    /// Temperature of the case's wall, and so of the gas.
    pub temperature: Measured<ThermodynamicTemperature>,
    /// Standard uncertainty of an unknown steady drift of the wall's temperature.
    pub drift_allowance: TemperatureDrift,
}

/// A limit of the sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StatedLimit {
    /// The limit.
    pub limit: Limit,
    /// The rule that it was asked for by, if the sheet names one instead of numbers.
    pub rule: Option<Rule>,
}

/// One run of a session.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// Its name on the sheet.
    pub name: String,
    /// Where the piston stood; with a volume that was measured directly it need not be said.
    pub piston: Option<Piston>,
    /// Pressure or vacuum, where the sheet states it; readings without a sign are then taken on that side of ambient.
    pub direction: Option<Direction>,
    /// What was shut off.
    pub blanked: Vec<Site>,
    /// What was repaired before this run, after the one above it; it stays so in the runs below.
    pub repaired: Vec<Site>,
    /// What was read.
    pub record: Record,
    /// Where soap solution bubbled.
    pub bubbles: Vec<Site>,
    /// Where soap solution was watched and stayed dry.
    pub dry: Vec<Site>,
    /// Gauge pressure that soap was sprayed at; where it is not stated, the run's own pressures count, those that say the
    /// least.
    pub soaped_at: Option<GaugePressure>,
    /// Time from the last stroke of the pump to the first reading, where it is not the sheet's.
    pub settled_for: Option<Time>,
    /// The rig was tested alone.
    pub rig_alone: Option<RigAlone>,
    /// Anything else.
    pub note: Option<String>,
}

/// A run of the rig alone, its hose stopped where the engine would be.
#[derive(Debug, Clone, PartialEq)]
pub enum RigAlone {
    /// Of the rig's volume on the sheet.
    AsStated,
    /// Of this volume.
    Of(Measured<Volume>),
}

/// What was read in a run.
#[derive(Debug, Clone, PartialEq)]
pub enum Record {
    /// Readings on the sheet.
    Readings(Readings),
    /// Readings in a logger's file.
    Trace {
        /// The file's name on the sheet.
        file: String,
        /// The name of the profile that it was read by, if not by the default.
        profile: Option<String>,
        /// Its readings, those of the window.
        readings: Readings,
        /// Its temperatures \[K\], one for each of the readings, where it has a column of them.
        temperature_k: Option<Vec<f64>>,
        /// Which readings of the file these are, and why.
        window: Window,
        /// What the whole file holds.
        segments: Box<Segments>,
    },
    /// A needle that the pump did not raise further.
    Stalled(Stalled),
}

impl Record {
    /// The readings, on the sheet or in a file; none of a stalled run.
    #[must_use]
    pub fn readings(&self) -> Option<&Readings> {
        match self {
            Self::Readings(readings) | Self::Trace { readings, .. } => Some(readings),
            Self::Stalled(_) => None,
        }
    }

    /// Which readings of a trace are used, and why; none of a run without a trace.
    #[must_use]
    pub fn window(&self) -> Option<&Window> {
        match self {
            Self::Trace { window, .. } => Some(window),
            Self::Readings(_) | Self::Stalled(_) => None,
        }
    }

    /// How the temperature went over the window of a trace that has a column of it; `step` is the thermometer's
    /// resolution where it is known.
    ///
    /// # Errors
    /// As [`TemperatureCourse::of`].
    pub fn temperature_course(
        &self,
        step: Option<TemperatureInterval>,
    ) -> Result<Option<TemperatureCourse>, CourseError> {
        match self {
            Self::Trace {
                readings,
                temperature_k: Some(kelvins),
                ..
            } => TemperatureCourse::of(readings.times_s(), kelvins, step).map(Some),
            _ => Ok(None),
        }
    }
}

/// A pump that stalled: so many strokes, and the needle stood still.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stalled {
    /// How many strokes.
    pub strokes: u32,
    /// Volume that one stroke displaces.
    pub stroke_volume: Volume,
    /// Time that the strokes took.
    pub over: Time,
    /// Gauge pressure that was reached: zero, or as far as the needle went.
    pub reached: GaugePressure,
}

/// Where the traces that a sheet names are to be had. This crate opens no file itself.
pub trait Traces {
    /// Opens the trace of this name, as the sheet states it.
    ///
    /// # Errors
    /// What kept it from being opened.
    fn open<'t>(&'t self, file: &str) -> io::Result<Box<dyn Read + 't>>;

    /// Whether the trace of this name is yet to be written, so that what stands in for it says nothing of the run's side of
    /// ambient.
    fn awaits(&self, _file: &str) -> bool {
        false
    }
}

/// No traces: a sheet that names one is an error.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct NoTraces;

impl Traces for NoTraces {
    fn open<'t>(&'t self, _: &str) -> io::Result<Box<dyn Read + 't>> {
        Err(io::Error::new(
            io::ErrorKind::Unsupported,
            "no traces can be read here; put the readings on the sheet",
        ))
    }
}

/// Traces in memory by their names.
impl Traces for BTreeMap<String, Vec<u8>> {
    fn open<'t>(&'t self, file: &str) -> io::Result<Box<dyn Read + 't>> {
        match self.get(file) {
            Some(bytes) => Ok(Box::new(bytes.as_slice())),
            None => Err(io::Error::new(io::ErrorKind::NotFound, "no such trace")),
        }
    }
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
