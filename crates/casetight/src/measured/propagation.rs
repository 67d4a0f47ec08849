//! The law of propagation of uncertainty, first order, with derivatives by dual numbers.

use std::borrow::Cow;

use nalgebra::DMatrix;
use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

use super::{
    Dual, Evaluation, Input, Measurable, Measured, MeasuredError, check_degrees_of_freedom,
};

/// Rounding that a correlation matrix may show: published ones carry two digits, computed ones some units in the last place.
const CORRELATION_ROUNDING: f64 = 1e-12;

/// From here on Student's quantile is taken from its expansion about the normal one, whose first term left out is below
/// 1e-9 of it here; its inversion by the incomplete beta function loses its digits as the degrees of freedom grow, and
/// is wrong altogether by 1e7.
const EXPANSION_FROM: f64 = 1e3;

/// How closely a computed quantile must give its tail's probability back.
const TAIL_TOLERANCE: f64 = 1e-3;

/// What one input adds to an output's uncertainty.
#[derive(Debug, Clone, PartialEq)]
pub struct Contribution {
    /// The input's name.
    pub name: Cow<'static, str>,
    /// df/dx at the inputs' values [SI unit of the output / SI unit of the input].
    pub sensitivity: f64,
    /// df/dx u(x), with its sign [SI unit of the output].
    pub uncertainty: f64,
    /// The input's part of the output's variance \[1\]. The parts sum to 1 (unless the variance is zero, where each is
    /// zero); an input correlated with another can have a part below zero.
    pub variance_share: f64,
}

/// An output of a model: value, combined standard uncertainty, and what it is made of.
#[derive(Debug, Clone, PartialEq)]
pub struct Propagated {
    value: f64,
    standard_uncertainty: f64,
    contributions: Vec<Contribution>,
    degrees_of_freedom: Option<f64>,
}

impl Propagated {
    /// The model's value at the inputs' values [SI unit].
    #[must_use]
    pub fn value(&self) -> f64 {
        self.value
    }

    /// Combined standard uncertainty `u_c` [SI unit].
    #[must_use]
    pub fn standard_uncertainty(&self) -> f64 {
        self.standard_uncertainty
    }

    /// What each input adds, in the order of the inputs.
    #[must_use]
    pub fn contributions(&self) -> &[Contribution] {
        &self.contributions
    }

    /// Effective degrees of freedom by Welch and Satterthwaite, `nu = u_c^4 / sum(u_i^4/nu_i)`; infinite where every input's
    /// are. `None` where inputs of finite degrees are correlated: the formula is for independent ones.
    ///
    /// Not rounded down: `[JCGM100]`, G.4.1, allows a fraction and also its next lower integer.
    #[must_use]
    pub fn degrees_of_freedom(&self) -> Option<f64> {
        self.degrees_of_freedom
    }

    /// The expanded uncertainty `U = k u_c` at a level such as 0.95, with k from Student's t ([`coverage_factor`]).
    ///
    /// # Errors
    /// [`MeasuredError::Level`] outside 0 to 1; [`MeasuredError::NoDegreesOfFreedom`] where they are not defined.
    pub fn expanded(&self, level: f64) -> Result<f64, MeasuredError> {
        let degrees_of_freedom = self
            .degrees_of_freedom
            .ok_or(MeasuredError::NoDegreesOfFreedom)?;
        Ok(coverage_factor(level, degrees_of_freedom)? * self.standard_uncertainty)
    }

    /// This output as a measured quantity.
    ///
    /// # Errors
    /// [`MeasuredError::Value`] where the quantity has no such value (an absolute pressure below zero).
    pub fn measured<Q: Measurable>(&self) -> Result<Measured<Q>, MeasuredError> {
        let value = Q::from_si(self.value).ok_or(MeasuredError::Value { got: self.value })?;
        let measured = Measured::new(
            value,
            Q::spread_from_si(self.standard_uncertainty),
            Evaluation::Combined,
        )?;
        match self.degrees_of_freedom {
            Some(degrees_of_freedom) => measured.with_degrees_of_freedom(degrees_of_freedom),
            None => Ok(measured),
        }
    }
}

/// Several outputs of one model with their covariance.
#[derive(Debug, Clone, PartialEq)]
pub struct PropagatedJointly {
    outputs: Vec<Propagated>,
    covariance: Vec<f64>,
}

impl PropagatedJointly {
    /// The outputs, in the model's order.
    #[must_use]
    pub fn outputs(&self) -> &[Propagated] {
        &self.outputs
    }

    /// The outputs themselves.
    #[must_use]
    pub(crate) fn into_outputs(self) -> Vec<Propagated> {
        self.outputs
    }

    /// The covariance of two outputs; `None` where there is no such output.
    #[must_use]
    pub fn covariance(&self, row: usize, column: usize) -> Option<f64> {
        let size = self.outputs.len();
        (row < size && column < size)
            .then(|| self.covariance.get(row * size + column).copied())
            .flatten()
    }

    /// The correlation coefficient of two outputs \[1\]; `None` where there is no such output or one has no uncertainty.
    #[must_use]
    pub fn correlation(&self, row: usize, column: usize) -> Option<f64> {
        let scale = self.outputs.get(row)?.standard_uncertainty
            * self.outputs.get(column)?.standard_uncertainty;
        let covariance = self.covariance(row, column)?;
        (scale > 0.0).then(|| (covariance / scale).clamp(-1.0, 1.0))
    }
}

/// Propagates standard uncertainties through a model of one output.
///
/// `u_c^2 = sum_ij c_i u_i r_ij c_j u_j`, with `c_i = df/dx_i` exact to rounding (dual numbers). First order: a model that
/// bends noticeably within the inputs' uncertainties needs [`super::monte_carlo`], which takes the same model.
/// `correlation` is the inputs' correlation matrix row by row (of an array of rows: `.as_flattened()`); `None` means
/// independent inputs. Source: `[JCGM100]`, equations (10), (13) and (16).
///
/// # Errors
/// [`MeasuredError`]: a correlation matrix of the wrong size or that no quantities can have; a model without finite
/// value or derivatives at the inputs' values.
///
/// ```
/// use casetight::measured::{Distribution, Evaluation, Measured, propagate};
///
/// let normal = Evaluation::TypeB(Distribution::Normal);
/// let length = Measured::new(2.0, 0.01, normal)?.input("length");
/// let width = Measured::new(3.0, 0.02, normal)?.input("width");
/// let area = propagate(&[length, width], None, |[length, width]| length * width)?;
/// assert_eq!(area.value(), 6.0);
/// assert!((area.standard_uncertainty() - 0.05).abs() < 1e-15);
/// assert!((area.contributions()[1].variance_share - 0.64).abs() < 1e-12);
/// # Ok::<(), casetight::measured::MeasuredError>(())
/// ```
pub fn propagate<const N: usize>(
    inputs: &[Input; N],
    correlation: Option<&[f64]>,
    model: impl Fn([Dual; N]) -> Dual,
) -> Result<Propagated, MeasuredError> {
    let joint = propagate_jointly(inputs, correlation, |x| [model(x)])?;
    let missing = MeasuredError::ModelOutputs {
        got: 0,
        expected: 1,
    };
    joint.into_outputs().pop().ok_or(missing)
}

/// Propagates standard uncertainties through a model of several outputs and gives their covariance as well
/// (as example H.2 of `[JCGM100]` needs). Arguments and errors as for [`propagate`].
///
/// # Errors
/// As [`propagate`].
pub fn propagate_jointly<const N: usize, const M: usize>(
    inputs: &[Input; N],
    correlation: Option<&[f64]>,
    model: impl Fn([Dual; N]) -> [Dual; M],
) -> Result<PropagatedJointly, MeasuredError> {
    propagate_slice(inputs, correlation, |x| {
        // Of the inputs' length by construction; an empty answer would be reported as such.
        <[Dual; N]>::try_from(x)
            .map(|x| model(x).to_vec())
            .unwrap_or_default()
    })
}

/// As [`propagate_jointly`], for numbers of inputs and outputs known only when it runs.
///
/// # Errors
/// As [`propagate`]; [`MeasuredError::ModelOutputs`] where the model returns none, or a varying number.
pub fn propagate_slice(
    inputs: &[Input],
    correlation: Option<&[f64]>,
    model: impl Fn(&[Dual]) -> Vec<Dual>,
) -> Result<PropagatedJointly, MeasuredError> {
    let correlation = correlation_matrix(inputs, correlation)?;
    let mut point: Vec<Dual> = inputs.iter().map(|input| input.value.into()).collect();
    let values: Vec<f64> = model(&point).iter().map(|output| output.re).collect();
    if values.is_empty() {
        return Err(MeasuredError::ModelOutputs {
            got: 0,
            expected: 1,
        });
    }
    for (output, &got) in values.iter().enumerate() {
        if !got.is_finite() {
            return Err(MeasuredError::ModelValue { output, got });
        }
    }

    let sensitivity = sensitivities(inputs, &mut point, values.len(), model)?;
    let spread = DMatrix::from_diagonal(&nalgebra::DVector::from_iterator(
        inputs.len(),
        inputs.iter().map(|input| input.standard_uncertainty),
    ));
    let scaled = &sensitivity * spread;
    let covariance = &scaled * &correlation * scaled.transpose();
    let independent = is_identity(&correlation);
    let outputs = values
        .iter()
        .zip(sensitivity.row_iter().zip(scaled.row_iter()))
        .map(|(&value, (sensitivities, parts))| {
            let with_others = &correlation * parts.transpose();
            let variance = (parts * &with_others).sum().max(0.0);
            let contributions = contributions(
                inputs.iter().zip(sensitivities.iter()),
                parts.iter().zip(with_others.iter()),
                variance,
            );
            Propagated {
                value,
                standard_uncertainty: variance.sqrt(),
                degrees_of_freedom: effective_degrees_of_freedom(
                    inputs,
                    &contributions,
                    independent,
                ),
                contributions,
            }
        })
        .collect();
    Ok(PropagatedJointly {
        outputs,
        covariance: covariance.transpose().as_slice().to_vec(),
    })
}

/// Each input's part in an output of this variance: how the output follows it, its own part in the uncertainty, and that together
/// with the inputs that it is correlated with.
fn contributions<'i>(
    inputs: impl Iterator<Item = (&'i Input, &'i f64)>,
    parts: impl Iterator<Item = (&'i f64, &'i f64)>,
    variance: f64,
) -> Vec<Contribution> {
    inputs
        .zip(parts)
        .map(|((input, &sensitivity), (&part, &joint))| Contribution {
            name: input.name.clone(),
            sensitivity,
            uncertainty: part,
            variance_share: if variance > 0.0 {
                part * joint / variance
            } else {
                0.0
            },
        })
        .collect()
}

/// The derivatives of each output by each input, one call of the model for each input.
fn sensitivities(
    inputs: &[Input],
    point: &mut [Dual],
    outputs: usize,
    model: impl Fn(&[Dual]) -> Vec<Dual>,
) -> Result<DMatrix<f64>, MeasuredError> {
    let mut sensitivity = DMatrix::<f64>::zeros(outputs, inputs.len());
    for (column, input) in inputs.iter().enumerate() {
        seed(point, column, 1.0);
        let found = model(point);
        seed(point, column, 0.0);
        if found.len() != outputs {
            return Err(MeasuredError::ModelOutputs {
                got: found.len(),
                expected: outputs,
            });
        }
        for (output, derivative) in found.iter().map(|output| output.eps).enumerate() {
            if !derivative.is_finite() {
                return Err(MeasuredError::ModelDerivative {
                    output,
                    input: input.name.clone(),
                    got: derivative,
                });
            }
            if let Some(entry) = sensitivity.get_mut((output, column)) {
                *entry = derivative;
            }
        }
    }
    Ok(sensitivity)
}

fn seed(point: &mut [Dual], index: usize, derivative: f64) {
    if let Some(x) = point.get_mut(index) {
        x.eps = derivative;
    }
}

/// Welch-Satterthwaite in terms of variance shares `w_i = u_i^2/u_c^2`: `1/nu = sum(w_i^2/nu_i)`, so that no fourth power of
/// an uncertainty under- or overflows.
fn effective_degrees_of_freedom(
    inputs: &[Input],
    contributions: &[Contribution],
    independent: bool,
) -> Option<f64> {
    let reciprocal: f64 = inputs
        .iter()
        .zip(contributions)
        .filter(|(input, part)| input.degrees_of_freedom.is_finite() && part.uncertainty != 0.0)
        .map(|(input, part)| part.variance_share.powi(2) / input.degrees_of_freedom)
        .sum();
    if reciprocal > 0.0 {
        independent.then(|| reciprocal.recip())
    } else {
        Some(f64::INFINITY)
    }
}

fn is_identity(matrix: &DMatrix<f64>) -> bool {
    *matrix == DMatrix::identity(matrix.nrows(), matrix.ncols())
}

/// The checked correlation matrix; the identity where none is given.
pub(super) fn correlation_matrix(
    inputs: &[Input],
    correlation: Option<&[f64]>,
) -> Result<DMatrix<f64>, MeasuredError> {
    let size = inputs.len();
    let Some(entries) = correlation else {
        return Ok(DMatrix::identity(size, size));
    };
    if entries.len() != size * size {
        return Err(MeasuredError::CorrelationSize {
            got: entries.len(),
            inputs: size,
        });
    }
    let matrix = DMatrix::from_row_slice(size, size, entries);
    for row in 0..size {
        for column in 0..size {
            let entry = |at: (usize, usize)| matrix.get(at).copied().unwrap_or(f64::NAN);
            let got = entry((row, column));
            // Written so that a NaN fails each test.
            let possible = if row == column {
                (got - 1.0).abs() <= CORRELATION_ROUNDING
            } else {
                got.abs() <= 1.0 && (got - entry((column, row))).abs() <= CORRELATION_ROUNDING
            };
            if !possible {
                return Err(MeasuredError::CorrelationEntry { row, column, got });
            }
        }
    }
    let smallest_eigenvalue = matrix.symmetric_eigenvalues().min();
    if smallest_eigenvalue < -CORRELATION_ROUNDING * size as f64 {
        return Err(MeasuredError::CorrelationContradiction {
            smallest_eigenvalue,
        });
    }
    Ok(matrix)
}

/// The coverage factor k: the two-sided quantile of Student's t at a level such as 0.95; the normal quantile where the
/// degrees of freedom are infinite. Source: `[JCGM100]`, G.3.
///
/// # Errors
/// [`MeasuredError::Level`] outside 0 to 1, or so near 1 that the quantile can't be told;
/// [`MeasuredError::DegreesOfFreedom`] below 1.
///
/// ```
/// use casetight::measured::coverage_factor;
///
/// assert!((coverage_factor(0.95, f64::INFINITY)? - 1.960).abs() < 5e-4);
/// assert!((coverage_factor(0.95, 10.0)? - 2.23).abs() < 5e-3);
/// # Ok::<(), casetight::measured::MeasuredError>(())
/// ```
pub fn coverage_factor(level: f64, degrees_of_freedom: f64) -> Result<f64, MeasuredError> {
    let wrong_level = MeasuredError::Level { got: level };
    if !(level > 0.0 && level < 1.0) {
        return Err(wrong_level);
    }
    check_degrees_of_freedom(degrees_of_freedom)?;
    let upper = 0.5 + 0.5 * level;
    if degrees_of_freedom >= EXPANSION_FROM {
        let z = Normal::standard().inverse_cdf(upper);
        if z.is_finite() {
            return Ok(quantile_near_normal(z, degrees_of_freedom));
        }
    } else if let Ok(t) = StudentsT::new(0.0, 1.0, degrees_of_freedom) {
        let quantile = t.inverse_cdf(upper);
        if quantile.is_finite()
            && (t.sf(quantile) - (1.0 - upper)).abs() <= TAIL_TOLERANCE * (1.0 - upper)
        {
            return Ok(quantile);
        }
    }
    Err(wrong_level)
}

/// Student's quantile from the normal one for many degrees of freedom (`[AbramowitzStegun]`, 26.7.5, to third order).
fn quantile_near_normal(z: f64, degrees_of_freedom: f64) -> f64 {
    let (x, z2) = (degrees_of_freedom.recip(), z * z);
    let first = (z2 + 1.0) / 4.0;
    let second = ((5.0 * z2 + 16.0) * z2 + 3.0) / 96.0;
    let third = (((3.0 * z2 + 19.0) * z2 + 17.0) * z2 - 15.0) / 384.0;
    z * (1.0 + x * (first + x * (second + x * third)))
}
