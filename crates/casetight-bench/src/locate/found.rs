//! What is found: a sheet's sites direction by direction, and the runs that it comes from.

use super::note::Note;
use crate::isolate::{Evidence, Isolation, Proposal};
use crate::record::Site;
use casetight::doubt::Doubt;
use casetight::estimate::Estimate;
use casetight::quantity::{Area, GaugePressure, Unit};
use casetight::vessel::Direction;

/// A sheet's sites, direction by direction.
#[derive(Debug, Clone)]
pub struct Located {
    /// One for each direction that has runs, pressure first.
    pub directions: Vec<InDirection>,
    /// What to know.
    pub notes: Vec<Note>,
}

/// What the runs of one direction say.
#[derive(Debug, Clone)]
pub struct InDirection {
    /// Pressure or vacuum.
    pub direction: Direction,
    /// The gauge pressure that all areas belong to, and that limits are converted at: of those that the runs started from, the one
    /// nearest to zero.
    pub at: GaugePressure,
    /// What its pressures are told in: the unit of its first run.
    pub pressure_unit: &'static Unit,
    /// The effective area of each run that went into it.
    pub runs: Vec<RunArea>,
    /// What went into it.
    pub evidence: Evidence<Site>,
    /// Each place's area, alone or with others.
    pub found: Isolation<Site>,
    /// What to do next, and how probable each place is to be the worst.
    pub next: Proposal<Site>,
    /// The strictest limit of the sheet, as an effective area, of all runs of the engine in this direction \[m2\].
    pub allowed_area_m2: Option<f64>,
    /// Discharge coefficient that holes are shown with.
    pub discharge_coefficient: f64,
}

/// What leaked in one run, all open places together.
#[derive(Debug, Clone, PartialEq)]
pub struct RunArea {
    /// The run's name.
    pub name: String,
    /// Effective area at the pressure that all are told at ([`InDirection::at`]).
    pub area: Estimate<Area>,
    /// Whether only its lower end is told: a stalled pump.
    pub is_bound: bool,
    /// Whether it is a run of the rig alone, which no limit judges.
    pub rig_alone: bool,
    /// The strictest limit of the sheet as an effective area in this run's volume, at that pressure \[m2\]; none without a limit, and for the
    /// rig alone.
    pub allowed_area_m2: Option<f64>,
    /// Why its fit is not taken at its word.
    pub doubts: Vec<Doubt>,
}

/// The smaller of two, either of which may be missing.
pub(super) fn least(one: Option<f64>, other: Option<f64>) -> Option<f64> {
    [one, other].into_iter().flatten().reduce(f64::min)
}
