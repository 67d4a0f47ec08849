//! A value and its uncertainty as text.

use super::{Distribution, Evaluation, Measurable, Measured, MeasuredError};
use crate::quantity::{ParseQuantityError, TradeUnits};

/// What can be wrong with a value and its uncertainty as text.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ParseMeasuredError {
    /// Text that states no such quantity.
    #[error(transparent)]
    Quantity(#[from] ParseQuantityError),
    /// Quantities that make no measured value.
    #[error(transparent)]
    Measured(#[from] MeasuredError),
}

impl<Q: TradeUnits + Measurable<Spread: TradeUnits>> Measured<Q> {
    /// A value with its uncertainty, each as text: `"0.03 mm"` is a standard uncertainty, `"+- 0.05 mm"` a tolerance, anywhere within
    /// which the value may lie alike.
    ///
    /// ```
    /// use casetight::measured::Measured;
    /// use casetight::quantity::Length;
    ///
    /// let bore: Measured<Length> = Measured::parse("52.00 mm", "+- 0.05 mm")?;
    /// // JCGM 100, 4.3.7: u = a/sqrt(3).
    /// let u = bore.standard_uncertainty().get::<uom::si::length::millimeter>();
    /// assert!((u - 0.05 / 3.0_f64.sqrt()).abs() < 1e-12);
    /// # Ok::<(), casetight::measured::ParseMeasuredError>(())
    /// ```
    ///
    /// # Errors
    /// [`ParseMeasuredError`] says what is wrong and what to write.
    pub fn parse(value: &str, uncertainty: &str) -> Result<Self, ParseMeasuredError> {
        Self::with_uncertainty(Q::parse(value)?, uncertainty)
    }
}

impl<Q: Measurable<Spread: TradeUnits>> Measured<Q> {
    /// A value with its uncertainty as text, as [`Measured::parse`] reads it.
    ///
    /// # Errors
    /// As [`Measured::parse`].
    pub fn with_uncertainty(value: Q, uncertainty: &str) -> Result<Self, ParseMeasuredError> {
        let text = uncertainty.trim();
        let tolerance = ["+-", "+/-", "\u{b1}"]
            .iter()
            .find_map(|mark| text.strip_prefix(mark));
        let measured = if let Some(half) = tolerance {
            Self::from_half_width(value, Q::Spread::parse(half)?, Distribution::Rectangular)
        } else {
            let normal = Evaluation::TypeB(Distribution::Normal);
            Self::new(value, Q::Spread::parse(text)?, normal)
        };
        Ok(measured?)
    }
}
