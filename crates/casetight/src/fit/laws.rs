//! Which law? Each candidate is fitted, weighed by how well it explains the readings, and the answers are averaged with
//! those weights, so that the interval covers the laws that the readings can't tell apart.
//!
//! The weight is the law's prior times its marginal likelihood by Laplace's approximation, exp(-chi^2/2) det(J^T J)^(-1/2),
//! flat in rate and start pressure (`[Kass1995]`). The rate is that of the ideal orifice with the same flow at the start,
//! so it means the same in each law, and the flat prior's height cancels.

use crate::numerics::probability;
use crate::numerics::root::newton_bracketed;
use crate::vessel::{DecayLaw, DecayModel, PRIORS, VesselError};

use super::least_squares::Solved;

/// The laws that a fit tries, each with its prior probability: those of the list in `vessel::laws`.
#[allow(clippy::indexing_slicing, reason = "reckoned when compiled")]
pub const CANDIDATES: [Candidate; PRIORS.len()] = {
    let mut all = [Candidate::certain(DecayLaw::Orifice); PRIORS.len()];
    let mut at = 0;
    while at < all.len() {
        let (law, prior) = PRIORS[at];
        all[at] = Candidate { law, prior };
        at += 1;
    }
    all
};

/// A kind of law with this weight or more is told from the others.
const TOLD: f64 = 0.9;

/// Laws whose chi-squared differ by less than this are alike, and so is what lies between them.
const TELLS_LAWS: f64 = 1.0;

/// A law with less weight than this is left out of the average.
const NEGLIGIBLE: f64 = 1e-4;

/// Standard uncertainties beyond which no quantile lies.
const FAR: f64 = 8.0;

/// A law that a fit tries.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Candidate {
    /// The law.
    pub law: DecayLaw,
    /// Its probability before any reading; only the ratios count.
    pub prior: f64,
}

impl Candidate {
    /// The only law, where the kind of leak is known.
    #[must_use]
    pub const fn certain(law: DecayLaw) -> Self {
        Self { law, prior: 1.0 }
    }
}

/// A fitted law.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LawWeight {
    /// The law.
    pub law: DecayLaw,
    /// Its probability given the readings, among the laws tried.
    pub weight: f64,
    /// The rate \[1/s\] of the orifice with the same flow at the start pressure, by this law.
    pub rate_per_s: f64,
    /// Sum of the squared residuals and of the shared terms.
    pub chi_squared: f64,
}

/// Weights of fitted laws, in their order, largest sum one. `tempered` divides chi-squared where all laws misfit.
pub(super) fn weights(solved: &[(Candidate, Solved<'_>)], tempered: f64) -> Vec<f64> {
    let mut weights: Vec<f64> = solved
        .iter()
        .map(|(candidate, s)| {
            candidate.prior.ln() - s.chi_squared / (2.0 * tempered) - s.ln_information / 2.0
        })
        .collect();
    let best = weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    for weight in &mut weights {
        let relative = (*weight - best).exp();
        *weight = if relative < NEGLIGIBLE { 0.0 } else { relative };
    }
    let sum: f64 = weights.iter().sum();
    for weight in &mut weights {
        *weight /= sum;
    }
    weights
}

/// Makes those of one law, or of one kind, one: its weight their sum and its numbers those of the heaviest, which comes first; the
/// heaviest first.
pub(super) fn merged(
    heaviest_first: &[LawWeight],
    are_same: impl Fn(DecayLaw, DecayLaw) -> bool,
) -> Vec<LawWeight> {
    let mut merged: Vec<LawWeight> = Vec::with_capacity(heaviest_first.len());
    for law in heaviest_first {
        match merged.iter_mut().find(|l| are_same(l.law, law.law)) {
            Some(known) => known.weight += law.weight,
            None => merged.push(*law),
        }
    }
    merged.sort_by(|a, b| b.weight.total_cmp(&a.weight));
    merged
}

/// Whether two laws are of one kind and differ in their number only.
pub(super) fn are_of_one_kind(a: DecayLaw, b: DecayLaw) -> bool {
    a.name() == b.name()
}

/// The likeliest law of the kind that the readings tell from the others, if they do.
pub(super) fn told(laws: &[LawWeight]) -> Option<DecayLaw> {
    let kinds = merged(laws, are_of_one_kind);
    let first = kinds.first()?;
    (first.weight >= TOLD).then_some(first.law)
}

/// Candidates as the first of each kind, and all others.
pub(super) fn by_kind(candidates: &[Candidate]) -> (Vec<Candidate>, Vec<Candidate>) {
    let mut firsts: Vec<Candidate> = Vec::with_capacity(DecayLaw::KINDS.len());
    let mut others = Vec::with_capacity(candidates.len());
    for candidate in candidates {
        let known = firsts.iter().any(|f| are_of_one_kind(f.law, candidate.law));
        let part = if known { &mut others } else { &mut firsts };
        part.push(*candidate);
    }
    (firsts, others)
}

/// What the candidates of a law's kind have of the prior.
pub(super) fn prior_of_kind(law: DecayLaw, candidates: &[Candidate]) -> f64 {
    let of_kind = candidates.iter().filter(|c| are_of_one_kind(c.law, law));
    of_kind.map(|c| c.prior).sum()
}

/// Whether the readings tell the fitted laws apart, so that it counts what lies between them.
pub(super) fn are_told(solved: &[(Candidate, Solved<'_>)]) -> bool {
    let each = || solved.iter().map(|(_, s)| s.chi_squared);
    let (least, most) = (
        each().fold(f64::INFINITY, f64::min),
        each().fold(f64::NEG_INFINITY, f64::max),
    );
    most - least > TELLS_LAWS
}

/// How the effective area of a leak changes when it is told at another pressure, y = p/`p_a` - 1: the factor, as the laws'
/// weighted mean of its logarithm, and its relative standard uncertainty, by which the laws differ; where no law is known, it
/// stays. None where the pressures lie on either side of ambient.
///
/// # Errors
/// A law that is not valid.
pub(crate) fn area_moved(
    model: &DecayModel,
    laws: impl IntoIterator<Item = (DecayLaw, f64)>,
    (from, to): (f64, f64),
) -> Result<Option<(f64, f64)>, VesselError> {
    if from * to <= 0.0 {
        return Ok(None);
    }
    let (mut sum, mut mean, mut square) = (0.0, 0.0, 0.0);
    for (law, weight) in laws {
        let law = model.with_law(law)?;
        let ln = (law.orifice_over_own(to).0 / law.orifice_over_own(from).0).ln();
        sum += weight;
        mean += weight * ln;
        square += weight * ln * ln;
    }
    if sum <= 0.0 {
        return Ok(Some((1.0, 0.0)));
    }
    mean /= sum;
    let spread = (square / sum - mean * mean).max(0.0).sqrt();
    Ok(mean.is_finite().then(|| (mean.exp(), spread)))
}

/// The rate by one law: normal on either side of its value, with that side's standard uncertainty.
#[derive(Debug, Clone, Copy)]
pub(super) struct Side {
    pub(super) weight: f64,
    pub(super) value: f64,
    pub(super) sigma_low: f64,
    pub(super) sigma_high: f64,
}

impl Side {
    fn cumulative(&self, x: f64) -> f64 {
        let off = x - self.value;
        let sigma = if off < 0.0 {
            self.sigma_low
        } else {
            self.sigma_high
        };
        // A side without uncertainty is a step.
        if off == 0.0 {
            0.5
        } else {
            probability::normal_cdf(off / sigma)
        }
    }
}

/// Quantile of the average over laws.
pub(super) fn quantile(sides: &[Side], probability: f64) -> Option<f64> {
    let below = |x: f64| {
        sides
            .iter()
            .map(|side| side.weight * side.cumulative(x))
            .sum::<f64>()
    };
    let ends = sides
        .iter()
        .map(|side| {
            (
                side.value - FAR * side.sigma_low,
                side.value + FAR * side.sigma_high,
            )
        })
        .reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))?;
    newton_bracketed(ends.0, ends.1, QUANTILE_ULPS, |x| {
        (below(x) - probability, f64::NAN)
    })
    .ok()
}

/// Precision of a quantile: some 1e-9 of itself.
const QUANTILE_ULPS: u32 = 1 << 22;

#[cfg(test)]
mod tests {
    use super::*;

    fn side(weight: f64, value: f64, sigma: f64) -> Side {
        Side {
            weight,
            value,
            sigma_low: sigma,
            sigma_high: sigma,
        }
    }

    #[test]
    fn one_law_has_its_own_quantiles() {
        let one = [side(1.0, 2.0, 0.5)];
        let got = quantile(&one, 0.975).unwrap();
        assert!(
            (got - (2.0 + 0.5 * 1.959_963_984_540)).abs() < 1e-7,
            "{got}"
        );
        assert!((quantile(&one, 0.5).unwrap() - 2.0).abs() < 1e-7);
    }

    /// Two sharp laws apart: the tails are each law's own, at the part of its weight that is left out.
    #[test]
    fn two_laws_share_the_tails() {
        let two = [side(0.5, 1.0, 0.01), side(0.5, 2.0, 0.01)];
        let low = quantile(&two, 0.025).unwrap();
        let want = 1.0 + 0.01 * crate::numerics::probability::normal_quantile(0.05);
        assert!((low - want).abs() < 1e-7, "{low} {want}");
        let high = quantile(&two, 0.975).unwrap();
        assert!((high - (3.0 - want)).abs() < 1e-7, "{high}");
    }

    /// A hole's area stays and a fine gap's changes by f: of both, as likely, the root of f, known to half its logarithm.
    #[test]
    fn laws_that_are_not_told_widen_an_area_that_moves() {
        use crate::gas::Gas;
        use crate::vessel::Direction;
        let (hole, gap) = (DecayLaw::Orifice, DecayLaw::Laminar);
        let model = DecayModel::new(hole, &Gas::dry_air(), Direction::Pressure).unwrap();
        let moved = |laws: &[(DecayLaw, f64)]| {
            area_moved(&model, laws.iter().copied(), (0.48, 0.12)).unwrap()
        };
        assert_eq!(moved(&[]), Some((1.0, 0.0)));
        assert_eq!(moved(&[(hole, 0.3)]), Some((1.0, 0.0)));
        let (f, none) = moved(&[(gap, 1.0)]).unwrap();
        assert!(f < 0.5 && none < 1e-7, "{f} {none}");
        let (factor, spread) = moved(&[(hole, 0.4), (gap, 0.4)]).unwrap();
        assert!((factor - f.sqrt()).abs() < 1e-12, "{factor}");
        assert!((spread + f.ln() / 2.0).abs() < 1e-12, "{spread}");
        let other_side = area_moved(&model, [(hole, 1.0)], (0.48, -0.12)).unwrap();
        assert_eq!(other_side, None);
    }
}
