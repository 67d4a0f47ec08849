//! What a sheet says.

use std::collections::BTreeMap;

use super::dimensions::Dimensions;
use super::methods::Methods;
use crate::assess::Assumptions;
use crate::gauge::Gauge;
use crate::limit::{Limit, Rule};
use crate::measured::Measured;
use crate::quantity::{
    AbsolutePressure, GaugePressure, Pressure, TemperatureDrift, TemperatureInterval,
    ThermodynamicTemperature, Time, Unit, Volume,
};
use crate::record::{
    CourseError, Date, ReadingProfile, Readings, Segments, Site, TemperatureCourse, Window,
};
use crate::running::Conditions;
use crate::vessel::{Direction, Heat};
use crate::volume::Piston;

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

/// What the sheet says of the next test. What it leaves open follows from its limits and runs, or is usual: see
/// [`Sheet::target`], [`Sheet::hold`], [`Sheet::readings_every`], [`Sheet::planned_piston`], [`Sheet::pump`].
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Planned {
    /// One direction only; both where none is stated.
    pub direction: Option<Direction>,
    /// Size of the gauge pressure to pump to.
    pub target: Option<Pressure>,
    /// How long to hold.
    pub hold: Option<Time>,
    /// Time from reading to reading.
    pub readings_every: Option<Time>,
    /// Where the piston stands.
    pub piston: Option<Piston>,
    /// Volume of a stroke of the pump, its delivery counted in.
    pub stroke_volume: Option<Volume>,
    /// Volume that a stroke does not clear.
    pub dead_space: Option<Volume>,
    /// Time from stroke to stroke.
    pub stroke_every: Option<Time>,
}
