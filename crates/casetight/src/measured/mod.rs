//! A value with its standard uncertainty, how that was got and where from; and what a calculation makes of several.
//!
//! Terms are those of the GUM `[JCGM100]`: a Type A evaluation comes from repeated readings, a Type B evaluation from
//! anything else and names the distribution that stands behind it. [`propagate`] is the law of propagation with exact
//! derivatives, [`monte_carlo`] the check that does without it `[JCGM101]`.

mod monte_carlo;
mod propagation;
mod text;

use std::borrow::Cow;
use std::marker::PhantomData;

use uom::Kind;
use uom::si::marker::AngleKind;
use uom::si::thermodynamic_temperature::kelvin;
use uom::si::{ISQ, Quantity, SI};
use uom::typenum::Integer;

use crate::numerics::probability::Z_95;
use crate::quantity::{
    AbsolutePressure, GaugePressure, Pressure, Stretch, TemperatureInterval,
    ThermodynamicTemperature,
};

pub use monte_carlo::{CoverageInterval, MonteCarlo, monte_carlo, monte_carlo_slice};
pub use propagation::{
    Contribution, Propagated, PropagatedJointly, coverage_factor, propagate, propagate_jointly,
    propagate_slice,
};

/// The number that a model function computes with: a value and its derivative. It is `Copy` and takes `+ - * /` with
/// itself and with `f64`; bring [`DualNum`] into scope for `sqrt`, `sin`, `exp`, `powf` and the rest.
pub type Dual = num_dual::Dual64;
pub use num_dual::DualNum;
pub use text::ParseMeasuredError;

/// What can be wrong with a measured value, a propagation or a Monte Carlo run.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum MeasuredError {
    /// A value must be finite (and, for an absolute pressure, above zero).
    #[error("measured value {got} (in SI units) is not a possible value of its quantity")]
    Value {
        /// What was given, in the SI unit of the quantity.
        got: f64,
    },
    /// A standard uncertainty or a half-width must be finite and not below zero.
    #[error("uncertainty {got} (in SI units) is not a finite number of zero or more")]
    Uncertainty {
        /// What was given, in the SI unit of the quantity.
        got: f64,
    },
    /// A coverage factor must be finite and above zero.
    #[error("coverage factor {got} is not a finite number above zero")]
    CoverageFactor {
        /// What was given.
        got: f64,
    },
    /// Degrees of freedom are 1 or more; infinity is allowed.
    #[error("{got} degrees of freedom: a number of 1 or more is needed (infinite is allowed)")]
    DegreesOfFreedom {
        /// What was given.
        got: f64,
    },
    /// A spread can't be told from fewer than two readings.
    #[error("{got} readings: two or more are needed to tell their spread")]
    TooFewReadings {
        /// How many there were.
        got: usize,
    },
    /// A correlation matrix of n inputs has n x n entries.
    #[error(
        "correlation matrix has {got} entries, but {inputs} inputs need {} (row by row)",
        inputs * inputs
    )]
    CorrelationSize {
        /// How many entries were given.
        got: usize,
        /// How many inputs there are.
        inputs: usize,
    },
    /// Entries lie between -1 and 1, those on the diagonal are 1, and r(i, j) = r(j, i).
    #[error(
        "correlation matrix, row {row}, column {column}: {got} (must be 1 on the diagonal, from -1 to 1 elsewhere, and symmetric)"
    )]
    CorrelationEntry {
        /// Row, from zero.
        row: usize,
        /// Column, from zero.
        column: usize,
        /// What was given.
        got: f64,
    },
    /// No set of quantities can have these correlations together.
    #[error(
        "these correlations contradict each other (smallest eigenvalue {smallest_eigenvalue} of their matrix is below zero)"
    )]
    CorrelationContradiction {
        /// The smallest eigenvalue.
        smallest_eigenvalue: f64,
    },
    /// Only normal inputs can be drawn with a correlation.
    #[error("input `{input}` is correlated but not normal: its joint distribution is not known")]
    CorrelatedNotNormal {
        /// The input's name.
        input: Cow<'static, str>,
    },
    /// The model's value is not a finite number.
    #[error("output {output} of the model is {got} at the inputs' values")]
    ModelValue {
        /// Which output, from zero.
        output: usize,
        /// What the model gave.
        got: f64,
    },
    /// The model has no finite derivative there.
    #[error("output {output} of the model has the derivative {got} with respect to `{input}`")]
    ModelDerivative {
        /// Which output, from zero.
        output: usize,
        /// The input's name.
        input: Cow<'static, str>,
        /// The derivative.
        got: f64,
    },
    /// A model has to return the same number of outputs each time, and at least one.
    #[error("the model returned {got} outputs where {expected} were expected")]
    ModelOutputs {
        /// How many came.
        got: usize,
        /// How many had to come.
        expected: usize,
    },
    /// A Monte Carlo trial gave no finite number.
    #[error("trial {trial} of the Monte Carlo run gave {got}: an input's range leaves the model's")]
    Trial {
        /// Which trial, from zero.
        trial: usize,
        /// What the model gave.
        got: f64,
    },
    /// Too few trials to tell a 95 % interval's ends, or too many to keep.
    #[error("{got} Monte Carlo trials: take from {least} to {most}")]
    Trials {
        /// How many were asked for.
        got: usize,
        /// The least number.
        least: usize,
        /// The greatest number.
        most: usize,
    },
    /// A level lies between 0 and 1.
    #[error("level {got} does not lie between 0 and 1, clear of both (0.95 for 95 %)")]
    Level {
        /// What was given.
        got: f64,
    },
    /// Welch-Satterthwaite needs independent inputs.
    #[error(
        "inputs of few degrees of freedom are correlated: no effective degrees of freedom are defined for them"
    )]
    NoDegreesOfFreedom,
}

/// The distribution behind a Type B evaluation, symmetric about the value (JCGM 100, 4.3.4 to 4.3.9 and F.2.2; `[JCGM100]`).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Distribution {
    /// Normal; its half-width is that of its 95 % interval.
    Normal,
    /// Equally likely anywhere within the half-width: the last digit shown, a tolerance.
    Rectangular,
    /// Likelier at the middle, nothing beyond the half-width: the sum of two like rectangular ones.
    Triangular,
    /// Likeliest at the ends: a thing that swings like a sine, such as a thermostat.
    Arcsine,
}

impl Distribution {
    /// What a half-width is divided by to give the standard uncertainty: 1.96, sqrt 3, sqrt 6, sqrt 2.
    #[must_use]
    pub fn half_width_divisor(self) -> f64 {
        match self {
            Self::Normal => Z_95,
            Self::Rectangular => 3.0_f64.sqrt(),
            Self::Triangular => 6.0_f64.sqrt(),
            Self::Arcsine => std::f64::consts::SQRT_2,
        }
    }
}

/// How a standard uncertainty was got.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Evaluation {
    /// From the scatter of repeated readings.
    TypeA,
    /// From a certificate, a tolerance, a resolution, experience.
    TypeB(Distribution),
    /// Propagated from other measured values.
    Combined,
}

/// A quantity that can carry a standard uncertainty.
///
/// Every `uom` quantity does, and so do [`AbsolutePressure`], [`GaugePressure`] and a plain `f64` (a pure number).
pub trait Measurable: Copy {
    /// What differences of the quantity are: a temperature's spread is a temperature interval, a gauge pressure's a
    /// plain pressure, most quantities' is the quantity itself.
    type Spread: Copy;
    /// The number in the SI unit.
    fn si(self) -> f64;
    /// The quantity of this number in the SI unit; `None` where there is no such value.
    fn from_si(si: f64) -> Option<Self>;
    /// A spread as a number in the SI unit.
    fn spread_si(spread: Self::Spread) -> f64;
    /// The spread of this number in the SI unit.
    fn spread_from_si(si: f64) -> Self::Spread;
}

/// The two kinds of `uom` quantity whose spread is the quantity itself.
macro_rules! measurable_uom {
    ($kind:ty) => {
        impl<L, M, T, I, Th, N, J> Measurable
            for Quantity<ISQ<L, M, T, I, Th, N, J, $kind>, SI<f64>, f64>
        where
            L: Integer,
            M: Integer,
            T: Integer,
            I: Integer,
            Th: Integer,
            N: Integer,
            J: Integer,
        {
            type Spread = Self;
            fn si(self) -> f64 {
                self.value
            }
            fn from_si(si: f64) -> Option<Self> {
                si.is_finite().then_some(Self::spread_from_si(si))
            }
            fn spread_si(spread: Self) -> f64 {
                spread.value
            }
            fn spread_from_si(si: f64) -> Self {
                Self {
                    dimension: PhantomData,
                    units: PhantomData,
                    value: si,
                }
            }
        }
    };
}
measurable_uom!(dyn Kind);
measurable_uom!(dyn AngleKind);

impl Measurable for ThermodynamicTemperature {
    type Spread = TemperatureInterval;
    fn si(self) -> f64 {
        self.value
    }
    fn from_si(si: f64) -> Option<Self> {
        si.is_finite().then(|| Self::new::<kelvin>(si))
    }
    fn spread_si(spread: TemperatureInterval) -> f64 {
        spread.value
    }
    fn spread_from_si(si: f64) -> TemperatureInterval {
        TemperatureInterval::spread_from_si(si)
    }
}

impl Measurable for AbsolutePressure {
    type Spread = Pressure;
    fn si(self) -> f64 {
        self.pascals()
    }
    fn from_si(si: f64) -> Option<Self> {
        Self::from_pascals(si).ok()
    }
    fn spread_si(spread: Pressure) -> f64 {
        spread.value
    }
    fn spread_from_si(si: f64) -> Pressure {
        Pressure::spread_from_si(si)
    }
}

impl Measurable for GaugePressure {
    type Spread = Pressure;
    fn si(self) -> f64 {
        self.pascals()
    }
    fn from_si(si: f64) -> Option<Self> {
        Self::from_pascals(si).ok()
    }
    fn spread_si(spread: Pressure) -> f64 {
        spread.value
    }
    fn spread_from_si(si: f64) -> Pressure {
        Pressure::spread_from_si(si)
    }
}

impl Measurable for Stretch {
    type Spread = Self;
    fn si(self) -> f64 {
        self.per_pascal()
    }
    fn from_si(si: f64) -> Option<Self> {
        Self::from_per_pascal(si).ok()
    }
    fn spread_si(spread: Self) -> f64 {
        spread.per_pascal()
    }
    fn spread_from_si(si: f64) -> Self {
        Self::spread(si)
    }
}

impl Measurable for f64 {
    type Spread = Self;
    fn si(self) -> f64 {
        self
    }
    fn from_si(si: f64) -> Option<Self> {
        si.is_finite().then_some(si)
    }
    fn spread_si(spread: f64) -> f64 {
        spread
    }
    fn spread_from_si(si: f64) -> f64 {
        si
    }
}

/// A quantity's value with its standard uncertainty u, how u was got and from where.
///
/// Source: `[JCGM100]`, clauses 4.2 (Type A) and 4.3 (Type B).
///
/// ```
/// use casetight::measured::{Distribution, Measured};
/// use casetight::quantity::Length;
/// use uom::si::length::millimeter;
///
/// // A bore written as 40 mm, right to half its last digit.
/// let bore = Measured::from_half_width(
///     Length::new::<millimeter>(40.0),
///     Length::new::<millimeter>(0.5),
///     Distribution::Rectangular,
/// )?
/// .with_source("workshop manual");
/// assert!((bore.standard_uncertainty().get::<millimeter>() - 0.2887).abs() < 1e-4);
/// # Ok::<(), casetight::measured::MeasuredError>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Measured<Q> {
    value: Q,
    /// In the SI unit of the spread.
    standard_uncertainty: f64,
    evaluation: Evaluation,
    degrees_of_freedom: f64,
    source: Cow<'static, str>,
}

/// What is taken as measured: a value with its uncertainty, or a plain value as an exact one.
pub trait IntoMeasured<Q: Measurable> {
    /// The value with its uncertainty, none for a plain value.
    ///
    /// # Errors
    /// As [`Measured::exact`].
    fn into_measured(self) -> Result<Measured<Q>, MeasuredError>;
}

impl<Q: Measurable> IntoMeasured<Q> for Q {
    fn into_measured(self) -> Result<Measured<Q>, MeasuredError> {
        Measured::exact(self)
    }
}

impl<Q: Measurable> IntoMeasured<Q> for Measured<Q> {
    fn into_measured(self) -> Result<Measured<Q>, MeasuredError> {
        Ok(self)
    }
}

impl<Q: Measurable> Measured<Q> {
    /// A value with its standard uncertainty, of infinite degrees of freedom and no stated source.
    ///
    /// # Errors
    /// [`MeasuredError::Value`] for a value that is not finite, [`MeasuredError::Uncertainty`] for an uncertainty that
    /// is not finite or lies below zero.
    pub fn new(
        value: Q,
        standard_uncertainty: Q::Spread,
        evaluation: Evaluation,
    ) -> Result<Self, MeasuredError> {
        Self::from_parts(value, Q::spread_si(standard_uncertainty), evaluation)
    }

    /// A value known, or taken, to be exact.
    ///
    /// # Errors
    /// [`MeasuredError::Value`] for a value that is not finite.
    pub fn exact(value: Q) -> Result<Self, MeasuredError> {
        Self::from_parts(value, 0.0, Evaluation::TypeB(Distribution::Normal))
    }

    /// A Type B value from the half-width a of its distribution: u = a/sqrt 3 for a rectangular one, and so on
    /// ([`Distribution::half_width_divisor`]). Source: `[JCGM100]`, 4.3.7 and 4.3.9.
    ///
    /// # Errors
    /// As [`Measured::new`].
    pub fn from_half_width(
        value: Q,
        half_width: Q::Spread,
        distribution: Distribution,
    ) -> Result<Self, MeasuredError> {
        Self::from_parts(
            value,
            Q::spread_si(half_width) / distribution.half_width_divisor(),
            Evaluation::TypeB(distribution),
        )
    }

    /// A Type B value from a certificate's expanded uncertainty U and its coverage factor k: u = U/k.
    /// Source: `[JCGM100]`, 4.3.3.
    ///
    /// # Errors
    /// As [`Measured::new`]; [`MeasuredError::CoverageFactor`] unless k is finite and above zero.
    pub fn from_expanded(
        value: Q,
        expanded: Q::Spread,
        coverage_factor: f64,
    ) -> Result<Self, MeasuredError> {
        if !(coverage_factor.is_finite() && coverage_factor > 0.0) {
            return Err(MeasuredError::CoverageFactor {
                got: coverage_factor,
            });
        }
        Self::from_parts(
            value,
            Q::spread_si(expanded) / coverage_factor,
            Evaluation::TypeB(Distribution::Normal),
        )
    }

    /// A Type A value from n repeated independent readings: their mean, u = s/sqrt n with s their sample standard
    /// deviation, and n - 1 degrees of freedom. Source: `[JCGM100]`, 4.2.
    ///
    /// # Errors
    /// [`MeasuredError::TooFewReadings`] below two; as [`Measured::new`] for readings that are not finite.
    pub fn from_readings(readings: &[Q]) -> Result<Self, MeasuredError> {
        if readings.len() < 2 {
            return Err(MeasuredError::TooFewReadings {
                got: readings.len(),
            });
        }
        let (mean, s) = mean_and_deviation(readings.iter().map(|reading| reading.si()));
        let value = Q::from_si(mean).ok_or(MeasuredError::Value { got: mean })?;
        let n = readings.len() as f64;
        Self::from_parts(value, s / n.sqrt(), Evaluation::TypeA)?.with_degrees_of_freedom(n - 1.0)
    }

    fn from_parts(value: Q, u: f64, evaluation: Evaluation) -> Result<Self, MeasuredError> {
        let si = value.si();
        if !si.is_finite() {
            return Err(MeasuredError::Value { got: si });
        }
        if !(u.is_finite() && u >= 0.0) {
            return Err(MeasuredError::Uncertainty { got: u });
        }
        Ok(Self {
            value,
            standard_uncertainty: u,
            evaluation,
            degrees_of_freedom: f64::INFINITY,
            source: Cow::Borrowed(""),
        })
    }

    /// The same with the number of degrees of freedom behind its standard uncertainty.
    ///
    /// # Errors
    /// [`MeasuredError::DegreesOfFreedom`] below 1.
    pub fn with_degrees_of_freedom(self, degrees_of_freedom: f64) -> Result<Self, MeasuredError> {
        check_degrees_of_freedom(degrees_of_freedom)?;
        Ok(Self {
            degrees_of_freedom,
            ..self
        })
    }

    /// The same with a word on where the value comes from.
    #[must_use]
    pub fn with_source(self, source: impl Into<Cow<'static, str>>) -> Self {
        Self {
            source: source.into(),
            ..self
        }
    }

    /// The value.
    #[must_use]
    pub fn value(&self) -> Q {
        self.value
    }

    /// The standard uncertainty u, in the quantity of the spread.
    #[must_use]
    pub fn standard_uncertainty(&self) -> Q::Spread {
        Q::spread_from_si(self.standard_uncertainty)
    }

    /// u/|value| \[1\]; `None` where the value is zero.
    #[must_use]
    pub fn relative(&self) -> Option<f64> {
        let size = self.value.si().abs();
        (size > 0.0).then(|| self.standard_uncertainty / size)
    }

    /// How the standard uncertainty was got.
    #[must_use]
    pub fn evaluation(&self) -> Evaluation {
        self.evaluation
    }

    /// The degrees of freedom behind the standard uncertainty (infinite where it is itself taken as known).
    #[must_use]
    pub fn degrees_of_freedom(&self) -> f64 {
        self.degrees_of_freedom
    }

    /// Where the value comes from; empty where nothing was said.
    #[must_use]
    pub fn source(&self) -> &str {
        &self.source
    }

    /// This value as an input of a model, under a name that its contribution will be listed by.
    #[must_use]
    pub fn input(&self, name: impl Into<Cow<'static, str>>) -> Input {
        Input {
            name: name.into(),
            value: self.value.si(),
            standard_uncertainty: self.standard_uncertainty,
            evaluation: self.evaluation,
            degrees_of_freedom: self.degrees_of_freedom,
        }
    }
}

/// A measured value as an input of a model: plain numbers in SI units, under a name.
///
/// Made by [`Measured::input`] (or from a constant), so it is always valid.
#[derive(Debug, Clone, PartialEq)]
pub struct Input {
    pub(crate) name: Cow<'static, str>,
    pub(crate) value: f64,
    pub(crate) standard_uncertainty: f64,
    pub(crate) evaluation: Evaluation,
    pub(crate) degrees_of_freedom: f64,
}

impl Input {
    /// The name its contribution is listed by.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The value in the SI unit.
    #[must_use]
    pub fn value(&self) -> f64 {
        self.value
    }

    /// The standard uncertainty in the SI unit.
    #[must_use]
    pub fn standard_uncertainty(&self) -> f64 {
        self.standard_uncertainty
    }
}

/// Below one degree of freedom Student's t has tails that no reading supports.
fn check_degrees_of_freedom(got: f64) -> Result<(), MeasuredError> {
    if got >= 1.0 {
        Ok(())
    } else {
        Err(MeasuredError::DegreesOfFreedom { got })
    }
}

/// Mean and sample standard deviation in two passes, so that a small scatter on a large mean keeps its digits.
fn mean_and_deviation(values: impl ExactSizeIterator<Item = f64> + Clone) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.clone().sum::<f64>() / n;
    let squares: f64 = values.map(|value| (value - mean).powi(2)).sum();
    (mean, (squares / (n - 1.0)).sqrt())
}

#[cfg(test)]
mod tests;
