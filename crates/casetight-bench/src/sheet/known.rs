//! What must be known of the sheet to read a run.

use std::collections::BTreeMap;

use super::traces::Traces;
use crate::record::ReadingProfile;
use casetight::gauge::Gauge;
use casetight::quantity::{AbsolutePressure, Unit};
use casetight::readings::Touched;
use casetight::vessel::Direction;

/// What must be known of the sheet to read a run.
pub(super) struct Known<'k> {
    pub(super) unit: &'static Unit,
    pub(super) gauge: Gauge,
    pub(super) ambient: AbsolutePressure,
    pub(super) thermometer: Touched,
    pub(super) has_rig: bool,
    pub(super) profiles: &'k BTreeMap<String, ReadingProfile>,
    pub(super) traces: &'k dyn Traces,
}

/// The words for a run's direction.
pub(super) const DIRECTIONS: &[(&str, Direction)] = &[
    ("pressure", Direction::Pressure),
    ("vacuum", Direction::Vacuum),
];
