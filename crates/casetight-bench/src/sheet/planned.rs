//! `[plan]`: how the next test is meant to be run.

use super::keys::declare::table;
use super::keys::form::{NotNegative, Positive, Word};
use super::keys::rule::{Optional, Usual};
use super::run::PISTON;
use casetight::quantity::{Pressure, Time, Volume};
use casetight::vessel::Direction;
use casetight::volume::Piston;

table! {
    /// The next test, as it is meant to be run. What is left open follows from the limits and runs, or is usual.
    #[derive(Copy, Default)]
    pub struct Planned {
        /// Pressure, vacuum or both.
        pub direction: Option<Direction> = Usual(Word(DIRECTIONS), || None);
        /// Size of the gauge pressure to pump to.
        pub target: Option<Pressure> = Optional(Positive), else "that of the first limit with a `from`, else 7 psi (common practice)";
        /// How long to hold.
        pub hold: Option<Time> = Optional(Positive), else "the time of the first limit that has one, else 60 s (common practice)";
        /// Time from reading to reading.
        pub readings_every: Option<Time> = Optional(Positive), else "a tenth of the hold";
        /// Where the piston stands, as in a run.
        pub piston: Option<Piston> = Optional(PISTON), else "as in the first run; else `\"bottom\"`, or `\"top\"` without `compression_ratio`";
        /// Volume of a stroke of the pump, its delivery counted in.
        pub stroke_volume: Option<Volume> = Optional(Positive), else "that of `[volume.strokes]`, else 25 cm3 (common practice)";
        /// Volume of the pump that a stroke does not clear.
        pub dead_space: Option<Volume> = Optional(NotNegative), else "that of `[volume.strokes]`, else 0";
        /// Time from stroke to stroke.
        pub stroke_every: Option<Time> = Optional(Positive), else "1 s (common practice)";
    }
}

const DIRECTIONS: &[(&str, Option<Direction>)] = &[
    ("pressure", Some(Direction::Pressure)),
    ("vacuum", Some(Direction::Vacuum)),
    ("both", None),
];
