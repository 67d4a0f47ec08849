//! The tested volume V with its standard uncertainty and how it was got.
//!
//! A decay identifies CdA/V, so whatever is wrong with V is wrong with the leak's area in the same proportion. Each way
//! to get V is one file here (an `impl TestedVolume` that ends in [`TestedVolume`]) and one line in the list of [`Method`].

mod added_leak;
#[cfg(test)]
mod bench;
mod combine;
mod crank;
mod direct;
mod engine;
mod error;
mod expansion;
mod fill;
mod method;
mod parts_list;
mod piston;
mod rotation;
mod settling;
mod strokes;
mod tested;
mod typical;

pub use added_leak::{AddedLeak, VolumeAndArea};
pub use combine::{Combined, Member, combine, combine_sharing};
pub use crank::Crank;
pub use engine::{Engine, TurnPoint};
pub use error::VolumeError;
pub use expansion::Expansion;
pub use fill::{Fill, Liquid, water_density};
pub use method::Method;
pub use parts_list::{MOST_PIECES, PartsList, Piece, Sense, Shape};
pub use piston::{Piston, PistonError, Transfers};
pub use rotation::{Loss, Rotation};
pub use settling::Settling;
pub use strokes::{StrokeReading, Strokes};
pub use tested::{Part, TestedVolume};
pub use typical::{
    COMPRESSION_RATIOS, Outline, PRIMARY_RATIOS, ROD_LENGTHS, TRANSFERS_OPEN_DEG, Typical,
    USUAL_RIG, USUAL_RIG_CM3, usual_rig,
};
