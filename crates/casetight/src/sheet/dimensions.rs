//! The dimensions of an engine as a sheet states them.

use crate::measured::Measured;
use crate::quantity::{Length, Ratio};
use crate::volume::{Engine, VolumeError};

/// The dimensions of an engine as the sheet states them.
#[derive(Debug, Clone, PartialEq)]
pub struct Dimensions {
    /// Bore.
    pub bore: Measured<Length>,
    /// Stroke.
    pub stroke: Measured<Length>,
    /// Rod length from center to center.
    pub rod: Measured<Length>,
    /// Crankcase volume at the top over that at the bottom.
    pub primary_compression_ratio: Measured<Ratio>,
    /// Cylinder volume at the bottom over that at the top, geometric.
    pub compression_ratio: Option<Measured<Ratio>>,
}

impl Dimensions {
    /// The engine of these dimensions.
    ///
    /// # Errors
    /// As [`Engine::new`] and [`Engine::with_compression_ratio`].
    pub fn engine(&self) -> Result<Engine, VolumeError> {
        let engine = Engine::new(
            self.bore.clone(),
            self.stroke.clone(),
            self.rod.clone(),
            self.primary_compression_ratio.clone(),
        )?;
        match &self.compression_ratio {
            Some(ratio) => engine.with_compression_ratio(ratio.clone()),
            None => Ok(engine),
        }
    }
}
