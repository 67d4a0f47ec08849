//! Site by site: which of the places that a crankcase can leak at does leak, by how much, and what to blank or spray next.
//!
//! Areas add: the effective area of a run is the sum over the sites that were exposed in it, and the rig. Runs with
//! different blanks, or before and after a repair, tell the sites apart; soap tells of one site alone.
//!
//! - [`Evidence`] is what was done and seen; [`isolate`] gives each site's area with an interval that knows that no area
//!   is below zero, and names the sites that no run told apart ([`Isolation`]);
//! - [`Sprayed`] says what bubbles, or none, are worth at the pressure that the case really reached;
//! - [`suspects`] gives the probability of each place to be the worst, [`next_step`] what to do to find it.
//!
//! Runs that are put together have one direction, pressure or vacuum: a worn lip seal leaks in one and not in the other.

mod areas;
mod error;
mod evidence;
mod next;
mod nnls;
mod site_name;
mod soap;
mod worlds;

pub use areas::{Isolation, Share, isolate};
pub use error::IsolateError;
pub use evidence::{Evidence, Measurement, Place, Run, Spot, Stage};
pub use next::{Choices, Proposal, Step, next_step};
pub use site_name::SiteName;
pub use soap::{
    CAPILLARY_TENSION_N_PER_M, FULL_PRESSURE_PA, LABORATORY_LIMIT_MOL_PER_S, Sight, Sprayed,
    Visible, WORKSHOP_FACTOR, Watcher, smallest_visible,
};
pub use worlds::{Suspects, suspects};
