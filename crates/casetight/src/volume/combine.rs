//! Several volumes of one engine combined: weighted mean, consistency, and what the methods say of each other.

use std::borrow::Cow;
use std::fmt;

use nalgebra::{Cholesky, DMatrix, DVector};

use super::error::VolumeError;
use super::method::Method;
use super::tested::{Part, TestedVolume, sourced};
use crate::measured::{
    Contribution, Dual, Evaluation, Measurable, Measured, MeasuredError, PropagatedJointly,
    propagate_slice,
};
use crate::numerics::probability;
use crate::quantity::Volume;

/// Methods that scatter as much as they do, or more, less often than this by chance, are said to disagree.
const DISAGREEMENT: f64 = 0.05;

/// One method's share in a combined volume.
#[derive(Debug, Clone, PartialEq)]
pub struct Member {
    /// How its volume was got.
    pub method: Method,
    /// Its volume.
    pub volume: Measured<Volume>,
    /// Its weight in the mean \[1\]; the weights sum to 1. With shared inputs one can lie below zero.
    pub weight: f64,
    /// `(V_i - V)/sqrt(u_i^2 - u^2)` \[1\]: how far it lies from the mean, in standard uncertainties of that distance (before
    /// widening). `None` for a method alone.
    pub pull: Option<f64>,
}

/// The weighted mean of several volumes, and how well they agree. Its `Display` says so in a sentence.
#[derive(Debug, Clone, PartialEq)]
pub struct Combined {
    volume: Measured<Volume>,
    members: Vec<Member>,
    contributions: Vec<Contribution>,
    chi_squared: f64,
    degrees_of_freedom: usize,
    taken_as_independent: Vec<Cow<'static, str>>,
}

/// The weighted mean of volumes that share no input; see [`combine_sharing`]. Inputs of the same name in several of them
/// are listed in [`Combined::taken_as_independent`].
///
/// # Errors
/// As [`combine_sharing`].
///
/// ```
/// use casetight::measured::{Distribution, Evaluation, Measured};
/// use casetight::quantity::Volume;
/// use casetight::volume::{TestedVolume, combine};
/// use uom::si::volume::cubic_centimeter;
///
/// let direct = |value, u| {
///     let volume = Volume::new::<cubic_centimeter>;
///     let normal = Evaluation::TypeB(Distribution::Normal);
///     TestedVolume::measured_directly(Measured::new(volume(value), volume(u), normal)?)
/// };
/// let mean = combine(&[direct(240.0, 4.0)?, direct(260.0, 5.0)?])?;
/// assert!((mean.volume().value().get::<cubic_centimeter>() - 247.80).abs() < 0.01);
/// assert!((mean.birge_ratio().unwrap() - 3.12).abs() < 0.01);
/// assert!((mean.volume().standard_uncertainty().get::<cubic_centimeter>() - 9.76).abs() < 0.01);
/// assert!(!mean.agree());
/// # Ok::<(), casetight::volume::VolumeError>(())
/// ```
pub fn combine(volumes: &[TestedVolume]) -> Result<Combined, VolumeError> {
    combine_sharing(volumes, &[])
}

/// The weighted mean of volumes that share the named inputs: the same gauge's `gauge zero`, the same `bore`.
///
/// `V = sum w_i V_i` with the weights of least variance, `w = C^-1 1/(1' C^-1 1)`; without shared inputs `w_i ~ 1/u_i^2`. C has
/// `u_i^2` on its diagonal and, off it, the sum over the named inputs of `c_i u c_j u`: an input of the same name is one
/// quantity with one error in all of them. `chi^2 = r' C^-1 r` tells whether they agree, on n - 1 degrees of freedom; where the
/// Birge ratio `sqrt(chi^2/(n - 1))` exceeds 1 the mean's uncertainty is multiplied by it, and it is never made smaller.
/// For strongly correlated volumes the mean can lie outside of their range, as least squares then has it.
///
/// Source: `[Birge1932]`; the scale factor as `[PDG2024]` applies it.
///
/// # Errors
/// [`VolumeError::NothingToCombine`] for none; [`VolumeError::NoUncertainty`] for an exact volume among several;
/// [`VolumeError::NotIndependent`] where two share all of their uncertainty.
pub fn combine_sharing(volumes: &[TestedVolume], shared: &[&str]) -> Result<Combined, VolumeError> {
    let count = volumes.len();
    if count == 0 {
        return Err(VolumeError::NothingToCombine);
    }
    let spreads = spreads(volumes)?;
    let correlation = correlation(volumes, shared);
    let values = DVector::from_iterator(count, volumes.iter().map(|v| v.volume.value().si()));
    let weights = weights(&correlation, &spreads)?;
    let mean = weights.dot(&values);
    let residuals = values.map(|value| value - mean);
    let chi_squared = if count > 1 {
        quadratic(&correlation, &spreads, &residuals)?
    } else {
        0.0
    };

    let joint = weighted_sum(volumes, &weights, &correlation)?;
    let (got, expected) = (joint.outputs().len(), 1);
    let output = joint
        .outputs()
        .first()
        .ok_or(MeasuredError::ModelOutputs { got, expected })?;
    let narrow = sourced(output, Method::Combined)?;
    let u = narrow.standard_uncertainty().value;
    let degrees_of_freedom = count - 1;
    let widening = birge(chi_squared, degrees_of_freedom).map_or(1.0, |ratio| ratio.max(1.0));

    let pull = |residual: f64, u_i: f64| {
        (count > 1 && u_i > u).then(|| residual / ((u_i - u) * (u_i + u)).sqrt())
    };
    let members = volumes
        .iter()
        .zip(weights.iter().zip(residuals.iter().zip(&spreads)))
        .map(|(tested, (&weight, (&residual, &u_i)))| Member {
            method: tested.method,
            volume: tested.volume.clone(),
            weight,
            pull: pull(residual, u_i),
        })
        .collect();
    let contributions = output
        .contributions()
        .iter()
        .map(|part| Contribution {
            uncertainty: part.uncertainty * widening,
            ..part.clone()
        })
        .collect();
    Ok(Combined {
        volume: widened(&narrow, widening)?,
        members,
        contributions,
        chi_squared,
        degrees_of_freedom,
        taken_as_independent: common_names(volumes, shared),
    })
}

/// Standard uncertainties \[m3\]; none is zero where there are several.
fn spreads(volumes: &[TestedVolume]) -> Result<Vec<f64>, VolumeError> {
    let spreads: Vec<f64> = volumes
        .iter()
        .map(|tested| tested.volume.standard_uncertainty().value)
        .collect();
    if volumes.len() > 1
        && let Some((exact, _)) = volumes.iter().zip(&spreads).find(|(_, u)| **u <= 0.0)
    {
        return Err(VolumeError::NoUncertainty {
            method: exact.method,
        });
    }
    Ok(spreads)
}

fn correlation(volumes: &[TestedVolume], shared: &[&str]) -> DMatrix<f64> {
    let count = volumes.len();
    DMatrix::from_fn(count, count, |row, column| {
        match (volumes.get(row), volumes.get(column)) {
            (Some(a), Some(b)) if row != column => {
                let scale = a.volume.standard_uncertainty() * b.volume.standard_uncertainty();
                shared_covariance(a, b, shared) / scale.value
            }
            _ => 1.0,
        }
    })
}

/// The mean with its uncertainty before any widening. Independent volumes keep their effective degrees of freedom.
fn weighted_sum(
    volumes: &[TestedVolume],
    weights: &DVector<f64>,
    correlation: &DMatrix<f64>,
) -> Result<PropagatedJointly, MeasuredError> {
    let inputs: Vec<_> = volumes
        .iter()
        .map(|tested| tested.volume.input(tested.method.words()))
        .collect();
    let independent = *correlation == DMatrix::identity(volumes.len(), volumes.len());
    let rows = correlation.transpose();
    propagate_slice(&inputs, (!independent).then_some(rows.as_slice()), |x| {
        let mut sum = Dual::from(0.0);
        for (&volume, &weight) in x.iter().zip(weights.iter()) {
            sum += volume * weight;
        }
        vec![sum]
    })
}

fn widened(narrow: &Measured<Volume>, by: f64) -> Result<Measured<Volume>, MeasuredError> {
    Measured::new(
        narrow.value(),
        narrow.standard_uncertainty() * by,
        Evaluation::Combined,
    )?
    .with_source(Method::Combined.words())
    .with_degrees_of_freedom(narrow.degrees_of_freedom())
}

/// `sqrt(chi^2/nu)`; `None` without degrees of freedom.
fn birge(chi_squared: f64, degrees_of_freedom: usize) -> Option<f64> {
    (degrees_of_freedom > 0).then(|| (chi_squared / degrees_of_freedom as f64).sqrt())
}

/// The part of two volumes' covariance that comes from inputs of the named kind.
fn shared_covariance(a: &TestedVolume, b: &TestedVolume, shared: &[&str]) -> f64 {
    let part = |tested: &TestedVolume, name: &str| -> f64 {
        tested
            .contributions
            .iter()
            .filter(|contribution| contribution.name == name)
            .map(|contribution| contribution.uncertainty)
            .sum()
    };
    shared
        .iter()
        .map(|name| part(a, name) * part(b, name))
        .sum()
}

/// Names under which more than one volume lists an input that counts, less those that were named as shared.
fn common_names(volumes: &[TestedVolume], shared: &[&str]) -> Vec<Cow<'static, str>> {
    let mut common: Vec<Cow<'static, str>> = Vec::new();
    for (place, tested) in volumes.iter().enumerate() {
        let others = volumes.iter().skip(place + 1);
        for contribution in &tested.contributions {
            let name = &contribution.name;
            let again = others.clone().any(|other| counts(other, name));
            let new = !common.contains(name) && !shared.contains(&name.as_ref());
            if again && new && contribution.uncertainty != 0.0 {
                common.push(name.clone());
            }
        }
    }
    common
}

fn counts(tested: &TestedVolume, name: &str) -> bool {
    let same = |part: &&Contribution| part.name == name && part.uncertainty != 0.0;
    tested.contributions.iter().any(|part| same(&part))
}

/// Volumes in units of their own uncertainties have their correlation matrix as covariance.
fn cholesky(correlation: &DMatrix<f64>) -> Result<Cholesky<f64, nalgebra::Dyn>, VolumeError> {
    // Two volumes that share all but one part in 1e9 of their variance tell one thing, and rounding tells the rest.
    const LEAST: f64 = 1e-9;
    Cholesky::new(correlation.clone())
        .filter(|root| root.l_dirty().diagonal().iter().all(|d| d * d > LEAST))
        .ok_or(VolumeError::NotIndependent)
}

/// `C^-1 1/(1' C^-1 1)`.
fn weights(correlation: &DMatrix<f64>, spreads: &[f64]) -> Result<DVector<f64>, VolumeError> {
    if spreads.len() < 2 {
        return Ok(DVector::from_element(spreads.len(), 1.0));
    }
    // In units of the least spread no square of a small volume's uncertainty underflows.
    let least = spreads.iter().copied().fold(f64::INFINITY, f64::min);
    let inverse = DVector::from_iterator(spreads.len(), spreads.iter().map(|u| least / u));
    let scaled = cholesky(correlation)?
        .solve(&inverse)
        .component_mul(&inverse);
    let sum = scaled.sum();
    Ok(scaled / sum)
}

/// `r' C^-1 r`.
fn quadratic(
    correlation: &DMatrix<f64>,
    spreads: &[f64],
    residuals: &DVector<f64>,
) -> Result<f64, VolumeError> {
    let scaled = DVector::from_iterator(
        spreads.len(),
        residuals.iter().zip(spreads).map(|(r, u)| r / u),
    );
    Ok(cholesky(correlation)?.solve(&scaled).dot(&scaled))
}

impl Combined {
    /// The mean, with an uncertainty widened where the methods scatter more than they should.
    #[must_use]
    pub fn volume(&self) -> &Measured<Volume> {
        &self.volume
    }

    /// Each method with its weight and its pull, in the order given.
    #[must_use]
    pub fn members(&self) -> &[Member] {
        &self.members
    }

    /// `chi^2` of the volumes about their mean \[1\].
    #[must_use]
    pub fn chi_squared(&self) -> f64 {
        self.chi_squared
    }

    /// The number of methods less one.
    #[must_use]
    pub fn degrees_of_freedom(&self) -> usize {
        self.degrees_of_freedom
    }

    /// Probability of so large a `chi^2`, or a larger one, by chance \[1\]; `None` for a single method.
    #[must_use]
    pub fn probability(&self) -> Option<f64> {
        (self.degrees_of_freedom > 0)
            .then(|| probability::chi_squared_sf(self.chi_squared, self.degrees_of_freedom as f64))
    }

    /// Birge ratio `sqrt(chi^2/(n - 1))` \[1\]; `None` for a single method.
    #[must_use]
    pub fn birge_ratio(&self) -> Option<f64> {
        birge(self.chi_squared, self.degrees_of_freedom)
    }

    /// Whether the uncertainty was widened (a Birge ratio above 1).
    #[must_use]
    pub fn widened(&self) -> bool {
        self.birge_ratio().is_some_and(|ratio| ratio > 1.0)
    }

    /// Whether the methods agree: a scatter such as theirs happens by chance more often than one time in twenty.
    #[must_use]
    pub fn agree(&self) -> bool {
        self.probability().is_none_or(|p| p >= DISAGREEMENT)
    }

    /// Inputs that several methods list under one name, and that were taken as independent of each other all the same. If
    /// they are one thing (one gauge, one barometer), name them to [`combine_sharing`].
    #[must_use]
    pub fn taken_as_independent(&self) -> &[Cow<'static, str>] {
        &self.taken_as_independent
    }

    /// The mean as a tested volume for a fit to use.
    #[must_use]
    pub fn tested(&self) -> TestedVolume {
        TestedVolume {
            volume: self.volume.clone(),
            method: Method::Combined,
            parts: vec![Part {
                name: "whole volume".into(),
                volume: self.volume.clone(),
            }],
            contributions: self.contributions.clone(),
        }
    }
}

impl fmt::Display for Combined {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (Some(p), Some(ratio)) = (self.probability(), self.birge_ratio()) else {
            return f.write_str("one method only: nothing to compare it with");
        };
        let count = self.members.len();
        let verdict = if self.agree() { "agree" } else { "disagree" };
        write!(
            f,
            "{count} methods {verdict}: chi-squared {:.2} on {} degrees of freedom (probability {p:.2})",
            self.chi_squared, self.degrees_of_freedom
        )?;
        if self.widened() {
            write!(
                f,
                "; the uncertainty is widened by the Birge ratio, {ratio:.2}"
            )?;
        }
        Ok(())
    }
}
