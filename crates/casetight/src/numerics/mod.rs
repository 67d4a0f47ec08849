//! Plain numbers: knows no physics.

pub(crate) mod least_squares;
pub(crate) mod probability;
pub(crate) mod quadrature;
