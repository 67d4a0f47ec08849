//! Plain `f64` numerics that know no physics and no units.
//!
//! Callers hand over slices and closures of bare numbers; what they mean is the caller's business.
// The physics above picks its tools from here as it grows.
#![cfg_attr(not(test), allow(dead_code))]

pub(crate) mod least_squares;
pub(crate) mod probability;
pub(crate) mod quadrature;
pub(crate) mod radau;
pub(crate) mod root;

#[cfg(test)]
mod nist_strd;
