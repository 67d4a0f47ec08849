//! The forward model: a leak on a volume, and the gauge pressure against time that follows.
//!
//! An isothermal vessel with an orifice has closed forms, in both directions, choked and subsonic, for any gas:
//! [`IsothermalDecay`] is their public face. They rest on one idea: for each leak law there is a coordinate of the
//! pressure that falls along a straight line in time; choked flow and subsonic flow share it. [`LawDecay`] is the same for
//! the other laws that have such a coordinate. Any law at all, gas that exchanges heat with its wall, a wall that drifts and
//! a boot that gives are [`ThermalVessel`].

mod decay;
mod direction;
mod error;
pub(crate) mod heat;
mod laws;
mod lumped;
mod model;
mod partials;
#[cfg(test)]
mod peer;
pub(crate) mod reach;
mod root;
mod shape;
mod thermal;

pub use decay::{IsothermalDecay, LawDecay, rate_per_area};
pub use direction::Direction;
pub use error::VesselError;
pub(crate) use heat::HeatPrior;
pub use heat::{Conductance, Heat};
pub(crate) use laws::{AnyShape, OrificeShape, PRIORS};
pub use laws::{DecayLaw, LawKind};
pub(crate) use model::{DecayModel, HeatParameters, ModelParameters};
pub(crate) use partials::ModelPartials;
pub use reach::Outside;
pub(crate) use shape::Shape;
pub use thermal::{ThermalVessel, VesselState};
