//! What `casetight-bench` uses of this crate beyond its interface, beside the methods that are hidden in the documentation. No promise is made
//! to anybody else: it changes without notice.

use crate::gas::Gas;
use crate::vessel::{DecayLaw, DecayModel, Direction, OrificeShape, Shape as _, VesselError};

pub use crate::fit::expected::expected_rate;
pub use crate::leak::check_coefficient;
pub use crate::limit::flow_per_area;
pub use crate::quantity::text::{bare_number, half_of_last_digit, unit_of};
pub use crate::quantity::{KILOPASCAL, pressure_in, told};
pub use crate::readings::bench::sides;
pub use crate::readings::readings::check_rows;
pub use crate::vessel::heat::HeatPrior;

/// Plain numbers.
pub mod numerics {
    pub use crate::numerics::{least_squares, probability, quadrature, root};
}

/// Dimensionless flow of a hole in a gas at a gauge pressure over ambient.
#[must_use]
pub fn flow_of_hole(gas: &Gas, direction: Direction, y: f64) -> f64 {
    OrificeShape::of_gas(gas, direction).flow(y)
}

/// By what factor the area of the hole with the same flow moves from one gauge pressure over ambient to another, and the factor's
/// standard uncertainty, of laws with their weights; none where a law has no flow there.
///
/// # Errors
/// As those of the laws.
pub fn area_moved(
    (gas, direction): (&Gas, Direction),
    laws: impl Iterator<Item = (DecayLaw, f64)>,
    between: (f64, f64),
) -> Result<Option<(f64, f64)>, VesselError> {
    let model = DecayModel::new(DecayLaw::Orifice, gas, direction)?;
    crate::fit::area_moved(&model, laws, between)
}
