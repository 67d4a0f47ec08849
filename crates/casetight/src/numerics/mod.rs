//! Plain `f64` numerics that know no physics and no units.
//!
//! Callers hand over slices and closures of bare numbers; what they mean is the caller's business.
// The physics above picks its tools from here as it grows.
#![cfg_attr(not(test), allow(dead_code))]
#![allow(
    clippy::must_use_candidate,
    reason = "public to `casetight-bench` only"
)]

pub mod least_squares;
pub mod probability;
pub mod quadrature;
pub(crate) mod radau;
pub mod root;

#[cfg(test)]
mod nist_strd;
