//! Isolation studies: simulated engines with known leaks, blanked site by site; coverage of the areas, and how many runs
//! it takes to find the worst leak.

use std::collections::BTreeSet;
use std::f64::consts::PI;

use casetight::quantity::{Area, TradeUnits};
use casetight_bench::isolate::{
    Choices, Evidence, Isolation, Measurement, Place, Run, Share, Step, isolate, next_step,
    suspects,
};
use rand::seq::SliceRandom;
use rand::{Rng, RngExt};
use rand_distr::{Distribution, StandardNormal};

use crate::coverage::wilson;
use crate::simulator::study;

/// Relative standard uncertainty that all runs of an engine share: its volume.
const SHARED: f64 = 0.03;

/// Standard uncertainty of a run on a tight case, a hole of about 14 um \[m2\].
const LEAST_M2: f64 = 1e-10;

/// Level of the intervals.
const LEVEL: f64 = 0.95;

/// A place is named as the worst once it is with this probability, in either order of blanking.
const NAMED: f64 = 0.95;

/// Sites by number.
pub type Site = usize;

/// An engine of known leaks.
#[derive(Debug, Clone)]
pub struct Engine {
    /// Area of each site \[m2\], zero where it is tight.
    pub areas_m2: Vec<f64>,
    /// Area of the rig \[m2\].
    pub rig_m2: f64,
    /// What every run shows over the true area.
    shared_error: f64,
    /// Relative standard uncertainty of a run.
    relative: f64,
}

impl Engine {
    /// Five to eight sites, one to three of which leak through holes of 30 to 180 um (Cd 0.62, evenly on the logarithm);
    /// every other rig leaks through 15 um. Runs of 2 to 5 %.
    pub fn draw(rng: &mut impl Rng) -> Self {
        let sites = rng.random_range(5..=8);
        let leaks = rng.random_range(1..=3);
        let hole = |diameter: f64| 0.62 * PI * diameter * diameter / 4.0;
        let mut areas_m2: Vec<f64> = (0..sites)
            .map(|site| {
                let diameter = 30e-6 * 6.0_f64.powf(rng.random());
                if site < leaks { hole(diameter) } else { 0.0 }
            })
            .collect();
        areas_m2.shuffle(rng);
        let normal: f64 = StandardNormal.sample(rng);
        Self {
            areas_m2,
            rig_m2: if rng.random() { hole(15e-6) } else { 0.0 },
            shared_error: 1.0 + SHARED * normal,
            relative: rng.random_range(0.02..0.05),
        }
    }

    /// All sites.
    fn sites(&self) -> Vec<Site> {
        (0..self.areas_m2.len()).collect()
    }

    /// The true area of a place.
    fn area(&self, place: &Place<Site>) -> f64 {
        match place {
            Place::Site(site) => self.areas_m2.get(*site).copied().unwrap_or(0.0),
            Place::Rig => self.rig_m2,
        }
    }

    /// The largest area of a site.
    fn worst_m2(&self) -> f64 {
        self.areas_m2.iter().copied().fold(0.0, f64::max)
    }

    /// A run with some sites blanked.
    ///
    /// # Panics
    /// Where the library refuses the measured area.
    pub fn run(&self, blanked: &BTreeSet<Site>, rng: &mut impl Rng) -> Run<Site> {
        let exposed: Vec<Site> = self
            .sites()
            .into_iter()
            .filter(|site| !blanked.contains(site))
            .collect();
        let sum: f64 = exposed
            .iter()
            .map(|&site| self.area(&Place::Site(site)))
            .sum();
        let shown = (sum + self.rig_m2) * self.shared_error;
        let error: f64 = StandardNormal.sample(rng);
        let measured = (shown + error * (self.relative * shown).hypot(LEAST_M2)).max(0.0);
        // What a fit knows of its own uncertainty, it knows from the area that it measured.
        let uncertainty = (self.relative * measured).hypot(LEAST_M2);
        Run::new(
            exposed,
            Measurement::new(square_meters(measured), square_meters(uncertainty)).unwrap(),
        )
    }
}

fn square_meters(value: f64) -> Area {
    Area::from_value_in(value, "m2").unwrap()
}

fn evidence(runs: Vec<Run<Site>>) -> Evidence<Site> {
    Evidence {
        runs,
        soap: Vec::new(),
        shared_relative_uncertainty: SHARED,
    }
}

/// Which sites the runs of an engine blank.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Design {
    /// All open, then one site in each run.
    OneByOne,
    /// All open, then one more in each run, the earlier blanks left on.
    OneMore,
    /// All open, then each site with even chance.
    AtRandom,
}

impl Design {
    /// All designs.
    pub const ALL: [Self; 3] = [Self::OneByOne, Self::OneMore, Self::AtRandom];

    fn blanked(self, sites: &[Site], runs: usize, rng: &mut impl Rng) -> Vec<BTreeSet<Site>> {
        let mut order = sites.to_vec();
        order.shuffle(rng);
        (0..runs)
            .map(|run| match (self, run) {
                (_, 0) => BTreeSet::new(),
                (Self::OneByOne, _) => order.get(run - 1).copied().into_iter().collect(),
                (Self::OneMore, _) => order.iter().take(run).copied().collect(),
                (Self::AtRandom, _) => order.iter().copied().filter(|_| rng.random()).collect(),
            })
            .collect()
    }
}

/// Intervals, and how many of them hold the truth.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Held {
    /// Intervals.
    pub of: usize,
    /// Those that hold the truth, ends included.
    pub held: usize,
    /// Those that lie wholly below it.
    pub below: usize,
}

impl Held {
    pub(crate) fn count(&mut self, truth: f64, low: f64, high: f64) {
        self.of += 1;
        self.held += usize::from(low <= truth && truth <= high);
        self.below += usize::from(high < truth);
    }

    pub(crate) fn add(&mut self, other: Self) {
        self.of += other.of;
        self.held += other.held;
        self.below += other.below;
    }

    /// The part that holds the truth.
    #[must_use]
    pub fn fraction(&self) -> f64 {
        self.held as f64 / self.of as f64
    }
}

/// Coverage of the areas over many engines.
///
/// A site that stands alone and a combination that no run told apart each count once, by the interval that is stated for
/// it. A single site of a combination is stated only to lie between zero and the sum's upper end: those bounds hold more
/// often than the level, and are counted apart.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Coverage {
    /// Sites alone, tight ones.
    pub tight: Held,
    /// Sites alone, leaking ones.
    pub leaking: Held,
    /// Combinations without any leak.
    pub tight_combinations: Held,
    /// Combinations that leak.
    pub leaking_combinations: Held,
    /// Sites in a combination by their bounds.
    pub members: Held,
}

impl Coverage {
    /// Head of the Markdown table.
    pub const HEAD: &'static str = "| study | counted | intervals | hold the truth | 95 % of fraction | wholly below | wholly above |\n\
         |---|---|---:|---:|---:|---:|---:|";

    /// Puts another study's counts to these.
    pub fn add(&mut self, other: Self) {
        self.tight.add(other.tight);
        self.leaking.add(other.leaking);
        self.tight_combinations.add(other.tight_combinations);
        self.leaking_combinations.add(other.leaking_combinations);
        self.members.add(other.members);
    }

    fn of(engine: &Engine, found: &Isolation<Site>) -> Self {
        let mut coverage = Self::default();
        for share in &found.shares {
            let truth = |share: &Share<Site>| -> f64 {
                share
                    .spots
                    .iter()
                    .map(|spot| engine.area(&spot.place))
                    .sum()
            };
            let sum = truth(share);
            let kind = match (share.spots.len(), sum > 0.0) {
                (1, false) => &mut coverage.tight,
                (1, true) => &mut coverage.leaking,
                (_, false) => &mut coverage.tight_combinations,
                (_, true) => &mut coverage.leaking_combinations,
            };
            kind.count(sum, share.area.si().low, share.area.si().high);
            if share.spots.len() > 1 {
                for spot in &share.spots {
                    coverage
                        .members
                        .count(engine.area(&spot.place), 0.0, share.area.si().high);
                }
            }
        }
        coverage
    }

    /// All stated intervals, those of single sites and of combinations.
    #[must_use]
    pub fn all(&self) -> Held {
        let mut all = self.tight;
        for other in [
            self.leaking,
            self.tight_combinations,
            self.leaking_combinations,
        ] {
            all.add(other);
        }
        all
    }

    /// All stated intervals of something that leaks.
    #[must_use]
    pub fn all_leaking(&self) -> Held {
        let mut all = self.leaking;
        all.add(self.leaking_combinations);
        all
    }

    /// All places one by one, those within a combination by their bounds.
    #[must_use]
    pub fn each_place(&self) -> Held {
        let mut each = self.tight;
        each.add(self.leaking);
        each.add(self.members);
        each
    }

    /// Rows of the Markdown table, with the study's name in front.
    #[must_use]
    pub fn rows(&self, study: &str) -> String {
        [
            ("**all stated intervals**", self.all()),
            ("**all that leak**", self.all_leaking()),
            ("sites alone, leaking", self.leaking),
            ("sites alone, tight", self.tight),
            ("combinations, leaking", self.leaking_combinations),
            ("combinations, tight", self.tight_combinations),
            ("places within combinations (bounds)", self.members),
            (
                "every place by itself, bounds among them",
                self.each_place(),
            ),
        ]
        .iter()
        .filter(|(_, held)| held.of > 0)
        .map(|(name, held)| {
            let (low, high) = wilson(held.held, held.of);
            format!(
                "| {study} | {name} | {} | {:.3} | {low:.3} to {high:.3} | {} | {} |",
                held.of,
                held.fraction(),
                held.below,
                held.of - held.held - held.below
            )
        })
        .collect::<Vec<_>>()
        .join("\n")
    }
}

/// Coverage over simulated engines with two to six runs each.
///
/// # Panics
/// Where the library refuses an engine's runs.
#[must_use]
pub fn coverage(design: Design, engines: u64, seed: u64) -> Coverage {
    let each = study(seed, engines, |_, rng| {
        let engine = Engine::draw(rng);
        let runs = rng.random_range(2..=6);
        let runs = design
            .blanked(&engine.sites(), runs, rng)
            .iter()
            .map(|blanked| engine.run(blanked, rng))
            .collect();
        Coverage::of(&engine, &isolate(&evidence(runs), LEVEL).unwrap())
    });
    let mut total = Coverage::default();
    for one in each {
        total.add(one);
    }
    total
}

/// How one search for the worst leak went.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Search {
    /// Runs made, the first with all sites open among them.
    pub runs: usize,
    /// Blanks fitted in all runs together.
    pub blanks: usize,
    /// Whether the place named is the worst, or one as large.
    pub right: bool,
}

/// In what order sites are blanked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Order {
    /// As the library proposes.
    Proposed,
    /// One after another, each alone.
    Fixed,
}

/// One search for the worst leak: all open, then runs until a place is named with 95 %, or no run is left to make.
fn search(engine: &Engine, order: Order, rng: &mut impl Rng) -> Search {
    let sites = engine.sites();
    let choices = Choices {
        blanks: sites.clone(),
        sprays: Vec::new(),
        visible: None,
    };
    let mut evidence = evidence(vec![engine.run(&BTreeSet::new(), rng)]);
    let mut blanks = 0;
    let mut fixed = sites.iter().copied();
    // A search of more runs than twice the sites has lost its way.
    while evidence.runs.len() <= 2 * sites.len() {
        let found = isolate(&evidence, LEVEL).unwrap();
        let blanked: BTreeSet<Site> = match order {
            Order::Proposed => match next_step(&evidence, &found, &choices).unwrap().step {
                Step::Blank(sites) => sites.into_iter().collect(),
                _ => break,
            },
            Order::Fixed => {
                let known = suspects(&evidence, &found).unwrap();
                let named = known.first().is_some_and(|(_, p)| p >= NAMED);
                match fixed.next().filter(|_| !named) {
                    Some(site) => BTreeSet::from([site]),
                    None => break,
                }
            }
        };
        blanks += blanked.len();
        evidence.runs.push(engine.run(&blanked, rng));
    }
    let found = isolate(&evidence, LEVEL).unwrap();
    let known = suspects(&evidence, &found).unwrap();
    let named = known.first().map(|(place, _)| engine.area(place));
    Search {
        runs: evidence.runs.len(),
        blanks,
        right: named == Some(engine.worst_m2()),
    }
}

/// Searches of one order over many engines, put together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Searches {
    /// Engines.
    pub engines: usize,
    /// Mean number of runs.
    pub mean_runs: f64,
    /// Standard error of that mean.
    pub standard_error: f64,
    /// Mean number of blanks fitted.
    pub mean_blanks: f64,
    /// Part of the engines whose worst site was named.
    pub right: f64,
}

impl Searches {
    /// Head of the Markdown table.
    pub const HEAD: &'static str = "| order | engines | mean runs | standard error | mean blanks fitted | worst site named |\n\
         |---|---:|---:|---:|---:|---:|";

    fn of(searches: &[Search]) -> Self {
        let n = searches.len() as f64;
        let mean = |of: &dyn Fn(&Search) -> f64| searches.iter().map(of).sum::<f64>() / n;
        let mean_runs = mean(&|s| s.runs as f64);
        let variance = mean(&|s| (s.runs as f64 - mean_runs).powi(2));
        Self {
            engines: searches.len(),
            mean_runs,
            standard_error: (variance / n).sqrt(),
            mean_blanks: mean(&|s| s.blanks as f64),
            right: mean(&|s| f64::from(u8::from(s.right))),
        }
    }

    /// Row of the Markdown table.
    #[must_use]
    pub fn row(&self, order: &str) -> String {
        format!(
            "| {order} | {} | {:.2} | {:.2} | {:.2} | {:.3} |",
            self.engines, self.mean_runs, self.standard_error, self.mean_blanks, self.right
        )
    }
}

/// The same engines searched in both orders: as proposed, and one site after another.
///
/// # Panics
/// Where the library refuses an engine's runs.
#[must_use]
pub fn searches(engines: u64, seed: u64) -> (Searches, Searches) {
    let both = study(seed, engines, |_, rng| {
        let engine = Engine::draw(rng);
        (
            search(&engine, Order::Proposed, rng),
            search(&engine, Order::Fixed, rng),
        )
    });
    let (proposed, fixed): (Vec<Search>, Vec<Search>) = both.into_iter().unzip();
    (Searches::of(&proposed), Searches::of(&fixed))
}
