//! What to do next to find the worst leak.

use std::collections::BTreeMap;
use std::fmt;

use rand_distr::{Distribution, StandardNormal};

use super::areas::{Isolation, Share};
use super::error::IsolateError;
use super::evidence::{Evidence, Place, Spot, Stage};
use super::site_name::SiteName;
use super::soap::Visible;
use super::worlds::{Suspects, Worlds, sum};
use casetight::below::numerics::probability;
use casetight::caution;

/// A place is named as the worst once it is with this probability.
pub(super) const NAMED: f64 = 0.95;

/// Outcomes that a step's worth is averaged over; the other engines are what they are judged by.
const OUTCOMES: usize = 64;

/// A blank more must add this much to a run's worth \[bit\].
const WORTH_A_BLANK: f64 = 0.05;

/// A step must be worth this much \[bit\].
const WORTH_A_STEP: f64 = 0.05;

/// Spraying needs no blank: it is proposed where it is worth at least this part of the best run.
const SPRAY_INSTEAD: f64 = 0.8;

/// The visible leak is known to a factor of three.
const LN_SPREAD: f64 = 1.1;

/// What can be done at this engine.
#[derive(Debug, Clone, PartialEq)]
pub struct Choices<S> {
    /// Sites that can be blanked (a blank, a plug, a clamp, a coat of grease) and opened again.
    pub blanks: Vec<S>,
    /// Sites that can be sprayed, and what would be visible at the pressure that the case reaches
    /// ([`super::smallest_visible`]).
    pub sprays: Vec<S>,
    /// The smallest leak that a spray would show; without it nothing is sprayed.
    pub visible: Option<Visible>,
}

/// A next step.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Step<S> {
    /// Blank these and repeat the run with all else open.
    Blank(Vec<S>),
    /// Spray this site under pressure.
    Spray(S),
    /// Repair this place and test again.
    Repair(Place<S>),
    /// Nothing was found to leak.
    Done,
    /// No blank and no spray at hand would tell more.
    NothingTells,
}

/// A proposed step, with its reason: as text, a sentence.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal<S> {
    /// What to do.
    pub step: Step<S>,
    /// Expected information on which place is the worst \[bit\].
    pub bits: f64,
    /// Probability of the step's yes: that the worst leak is among the sites to be blanked, that the sprayed site
    /// bubbles, that the place to be repaired is the worst, that nothing leaks.
    pub probability: f64,
    /// Whether the step follows from bubbles that were seen: they name a place that no run has told apart yet.
    pub by_bubbles: bool,
    /// What is known of the worst place now.
    pub suspects: Suspects<S>,
    /// Cautions that belong to the step.
    pub cautions: Vec<&'static str>,
}

impl<S: SiteName> fmt::Display for Proposal<S> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // Of some hundred drawn engines: never certain.
        let percent = match (100.0 * self.probability).round() {
            p if p > 99.0 => "over 99".to_owned(),
            p if p < 1.0 => "under 1".to_owned(),
            p => p.to_string(),
        };
        match &self.step {
            Step::Blank(sites) if self.by_bubbles => {
                f.write_str("Bubbles name the ")?;
                write_list(f, sites)?;
                write!(
                    f,
                    ": blank that place, leave the rest open and repeat the run. The run shows how much of the leak it is; repair \
                     it if it is all"
                )
            }
            Step::Repair(place) if self.by_bubbles => write!(
                f,
                "Bubbles name the {place}, and no blank fits it: repair it and test again, before any other place is opened or \
                 blanked"
            ),
            Step::Blank(sites) => {
                f.write_str("Blank the ")?;
                write_list(f, sites)?;
                let whole = if sites.len() > 1 { " together" } else { "" };
                write!(
                    f,
                    "{whole}, leave the rest open and repeat the run: the worst leak is there with {percent} %, and the run \
                     shows whether it is"
                )
            }
            Step::Spray(site) => write!(
                f,
                "Spray the {site} under pressure: it bubbles with {percent} %, and needs no blank to show it"
            ),
            Step::Repair(place) => {
                write!(
                    f,
                    "Repair the {place} and test again: it is the worst leak with {percent} %"
                )
            }
            Step::Done => write!(
                f,
                "Nothing more to look for: no leak is there with {percent} %"
            ),
            Step::NothingTells => {
                f.write_str("No blank or spray at hand would tell more")?;
                for (at, (place, p)) in self.suspects.worst.iter().take(3).enumerate() {
                    let before = if at == 0 {
                        ": the worst leak is the "
                    } else {
                        ", the "
                    };
                    write!(f, "{before}{place} with {:.0} %", 100.0 * p)?;
                }
                Ok(())
            }
        }
    }
}

/// "a", "a and b", "a, b and c".
fn write_list<S: fmt::Display>(f: &mut fmt::Formatter<'_>, items: &[S]) -> fmt::Result {
    for (at, item) in items.iter().enumerate() {
        f.write_str(match at {
            0 => "",
            _ if at + 1 == items.len() => " and the ",
            _ => ", the ",
        })?;
        item.fmt(f)?;
    }
    Ok(())
}

/// What to do next to find the worst leak, by expected information.
///
/// A step is worth the entropy that it is expected to take from the answer to "which place is the worst?", over engines
/// drawn as [`super::suspects`] has them: outcomes of a run have the uncertainty of those made, a spray bubbles where the
/// area is visible. Blanks are added to a run one by one for as long as each is worth 0.05 bit. A place is to be repaired
/// once it is the worst with 95 %. The pumping cautions come with every run.
///
/// Bubbles come first: a place that was seen to bubble, and that no run has told apart yet, is blanked (or repaired, where no
/// blank fits it) before any other is looked at; of several the most probable one.
///
/// # Errors
/// As [`super::isolate`].
///
/// ```
/// use casetight_bench::isolate::{Choices, Evidence, Measurement, Place, Run, Step, isolate, next_step};
/// use casetight::quantity::Area;
/// use uom::si::area::square_millimeter;
///
/// let mm2 = Area::new::<square_millimeter>;
/// let measured = |area| Measurement::new(mm2(area), mm2(0.03 * area));
/// let sites = ["base gasket", "case seam", "intake boot", "spark plug"];
/// let mut evidence = Evidence {
///     runs: vec![Run::new(sites, measured(0.012)?), Run::new([], measured(0.0001)?)],
///     soap: vec![],
///     shared_relative_uncertainty: 0.03,
/// };
/// let choices = Choices { blanks: sites.to_vec(), sprays: vec![], visible: None };
/// let next = next_step(&evidence, &isolate(&evidence, 0.95)?, &choices)?;
/// // Four like suspects: half of them together.
/// assert!(matches!(&next.step, Step::Blank(sites) if sites.len() == 2), "{next}");
///
/// evidence.runs.push(Run::new(["base gasket", "case seam", "spark plug"], measured(0.001)?));
/// let next = next_step(&evidence, &isolate(&evidence, 0.95)?, &choices)?;
/// assert_eq!(next.step, Step::Repair(Place::Site("intake boot")), "{next}");
/// # Ok::<(), casetight_bench::isolate::IsolateError>(())
/// ```
pub fn next_step<S: SiteName>(
    evidence: &Evidence<S>,
    found: &Isolation<S>,
    choices: &Choices<S>,
) -> Result<Proposal<S>, IsolateError> {
    let mut worlds = Worlds::new(evidence, found)?;
    let suspects = worlds.suspects();
    let proposal = |step, bits, probability, cautions| Proposal {
        step,
        bits,
        probability,
        by_bubbles: false,
        suspects: suspects.clone(),
        cautions,
    };
    if suspects.tight >= NAMED {
        return Ok(proposal(Step::Done, 0.0, suspects.tight, vec![]));
    }
    if let Some((place, p)) = suspects.first().filter(|(_, p)| *p >= NAMED) {
        let step = Step::Repair(place.clone());
        return Ok(proposal(step, 0.0, p, caution::BEFORE_SPRAYING.to_vec()));
    }
    if let Some((site, probability)) = bubbling(evidence, found, &suspects) {
        let (step, cautions) = if choices.blanks.contains(&site) {
            (Step::Blank(vec![site]), caution::BEFORE_PUMPING.to_vec())
        } else {
            let cautions = [caution::BEFORE_PUMPING, caution::BEFORE_SPRAYING].concat();
            (Step::Repair(Place::Site(site)), cautions)
        };
        return Ok(Proposal {
            by_bubbles: true,
            ..proposal(step, 0.0, probability, cautions)
        });
    }
    let weighing = Weighing::new(&mut worlds);
    let blank = weighing.best_blanks(&choices.blanks);
    let spray = choices
        .visible
        .and_then(|visible| weighing.best_spray(&choices.sprays, &visible));
    let blank_bits = blank.as_ref().map_or(0.0, |(_, bits)| *bits);
    if let Some((site, bits, probability)) =
        spray.filter(|(_, bits, _)| *bits >= WORTH_A_STEP && *bits >= SPRAY_INSTEAD * blank_bits)
    {
        let cautions = [caution::BEFORE_PUMPING, caution::BEFORE_SPRAYING].concat();
        return Ok(proposal(Step::Spray(site), bits, probability, cautions));
    }
    if let Some((sites, bits)) = blank.filter(|(_, bits)| *bits >= WORTH_A_STEP) {
        let among = |place: &Place<S>| matches!(place, Place::Site(site) if sites.contains(site));
        let probability = suspects
            .worst
            .iter()
            .filter(|(place, _)| among(place))
            .map(|(_, p)| p)
            .sum();
        let cautions = caution::BEFORE_PUMPING.to_vec();
        return Ok(proposal(Step::Blank(sites), bits, probability, cautions));
    }
    Ok(proposal(Step::NothingTells, 0.0, 0.0, vec![]))
}

/// The place that bubbled and that no run has told apart yet, the most probable worst of several, with that probability.
fn bubbling<S: SiteName>(
    evidence: &Evidence<S>,
    found: &Isolation<S>,
    suspects: &Suspects<S>,
) -> Option<(S, f64)> {
    let probability = |place: &Place<S>| {
        let worst = suspects.worst.iter().find(|(other, _)| other == place);
        worst.map_or(0.0, |(_, p)| *p)
    };
    evidence
        .bubbling()
        .filter(|spot| found.share_of(&spot.place).is_some_and(Share::only_bubbles))
        .filter_map(|spot| match &spot.place {
            Place::Site(site) => Some((site.clone(), probability(&spot.place))),
            Place::Rig => None,
        })
        .reduce(|best, other| if other.1 > best.1 { other } else { best })
}

/// Steps weighed over the engines that the evidence allows.
struct Weighing<'a, S> {
    spots: &'a [Spot<S>],
    /// Each engine with its worst place.
    engines: Vec<(&'a [f64], Option<usize>)>,
    /// A normal error for each outcome.
    errors: Vec<f64>,
    relative: f64,
    least: f64,
}

impl<'a, S: SiteName> Weighing<'a, S> {
    fn new(worlds: &'a mut Worlds<S>) -> Self {
        let errors = (0..OUTCOMES)
            .map(|_| StandardNormal.sample(&mut worlds.rng))
            .collect();
        let worlds: &'a Worlds<S> = worlds;
        let (relative, least) = worlds.of_a_run;
        Self {
            spots: &worlds.spots,
            engines: worlds
                .engines
                .iter()
                .map(|engine| (engine.as_slice(), worlds.worst_of(engine)))
                .collect(),
            errors,
            relative,
            least,
        }
    }

    /// The blanks that tell most, added one by one, and their worth \[bit\].
    fn best_blanks(&self, blanks: &[S]) -> Option<(Vec<S>, f64)> {
        let mut chosen: Vec<S> = Vec::new();
        let mut worth = 0.0;
        loop {
            let best = blanks
                .iter()
                .filter(|site| !chosen.contains(site))
                .map(|site| {
                    let mut with = chosen.clone();
                    with.push(site.clone());
                    let bits = self.worth_of_run(&with);
                    (with, bits)
                })
                .reduce(|best, other| if other.1 > best.1 { other } else { best });
            match best {
                Some((with, bits)) if bits >= worth + WORTH_A_BLANK => {
                    (chosen, worth) = (with, bits);
                }
                _ => break,
            }
        }
        (!chosen.is_empty()).then_some((chosen, worth))
    }

    /// Expected information \[bit\] of a run with these sites blanked and all else open.
    fn worth_of_run(&self, blanked: &[S]) -> f64 {
        let exposed: Vec<bool> = self
            .spots
            .iter()
            .map(|spot| {
                spot.stage == Stage::Now
                    && !matches!(&spot.place, Place::Site(site) if blanked.contains(site))
            })
            .collect();
        let seen: Vec<(f64, f64, Option<usize>)> = self
            .engines
            .iter()
            .map(|(engine, worst)| {
                let area = sum(&exposed, engine);
                (area, (self.relative * area).hypot(self.least), *worst)
            })
            .collect();
        // Outcomes and the engines that they are judged by are not the same ones: an engine would always know itself.
        let outcomes = OUTCOMES.min(seen.len() / 2);
        let (drawn, judged) = seen.split_at(outcomes);
        let before = entropy(judged.iter().map(|&(_, _, worst)| (worst, 1.0)));
        let after: f64 = drawn
            .iter()
            .zip(&self.errors)
            .map(|((area, uncertainty, _), error)| {
                let outcome = area + uncertainty * error;
                entropy(judged.iter().map(|&(area, uncertainty, worst)| {
                    let off = (outcome - area) / uncertainty;
                    (worst, (-0.5 * off * off).exp() / uncertainty)
                }))
            })
            .sum();
        if outcomes == 0 {
            0.0
        } else {
            before - after / outcomes as f64
        }
    }

    /// The spray that tells most, its worth \[bit\] and the probability that it bubbles.
    fn best_spray(&self, sprays: &[S], visible: &Visible) -> Option<(S, f64, f64)> {
        sprays
            .iter()
            .filter_map(|site| {
                let place = Place::Site(site.clone());
                let at = self
                    .spots
                    .iter()
                    .position(|spot| spot.place == place && spot.stage == Stage::Now)?;
                let (bits, bubbles) = self.worth_of_spray(at, visible);
                Some((site.clone(), bits, bubbles))
            })
            .reduce(|best, other| if other.1 > best.1 { other } else { best })
    }

    fn worth_of_spray(&self, at: usize, visible: &Visible) -> (f64, f64) {
        let limit = visible.area().square_meters();
        let bubbles = |engine: &[f64]| match engine.get(at) {
            Some(&area) if area > 0.0 => probability::normal_cdf((area / limit).ln() / LN_SPREAD),
            _ => 0.0,
        };
        let yes: f64 = self.engines.iter().map(|(e, _)| bubbles(e)).sum::<f64>()
            / self.engines.len().max(1) as f64;
        let entropy_where = |weight: &dyn Fn(f64) -> f64| {
            entropy(
                self.engines
                    .iter()
                    .map(|(e, worst)| (*worst, weight(bubbles(e)))),
            )
        };
        let bits = entropy_where(&|_| 1.0)
            - yes * entropy_where(&|p| p)
            - (1.0 - yes) * entropy_where(&|p| 1.0 - p);
        (bits, yes)
    }
}

/// Entropy \[bit\] of a label from weights; zero where there is no weight.
fn entropy(weighted: impl Iterator<Item = (Option<usize>, f64)>) -> f64 {
    let mut weights: BTreeMap<Option<usize>, f64> = BTreeMap::new();
    for (label, weight) in weighted {
        *weights.entry(label).or_default() += weight;
    }
    let total: f64 = weights.values().sum();
    weights
        .values()
        .map(|weight| weight / total)
        .filter(|p| *p > 0.0)
        .map(|p| -p * p.log2())
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn entropy_of_like_weights() {
        let labels = |n: usize| (0..n).map(|i| (Some(i), 3.0));
        assert!((entropy(labels(8)) - 3.0).abs() < 1e-12);
        assert_eq!(entropy(labels(1)), 0.0);
        assert_eq!(entropy([(None, 0.0)].into_iter()), 0.0);
    }
}
