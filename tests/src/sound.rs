//! How often a sound engine is told to hold: simulated tests of a leak of a part of its limit, with the verdict by the fit alone beside
//! the one that is said once the fit is held against the readings.

use std::collections::BTreeMap;
use std::fmt;

use casetight::limit::{Limit, Verdict, decide, verdict};
use casetight::quantity::{Area, TradeUnits};

use crate::recovery::Study;
use crate::simulator::study;

/// Verdicts on the tests of one study.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Shares {
    /// Tests.
    pub runs: usize,
    /// Said to hold by the fit alone.
    pub by_fit: usize,
    /// Said to hold.
    pub said: usize,
    /// Why not, where the fit alone would: the gravest doubt of each.
    pub doubts: BTreeMap<&'static str, usize>,
}

impl Shares {
    /// Head of the table whose rows [`Shares::row`] gives.
    pub const HEAD: &'static str = "| study | runs | holds by the fit alone | holds | share lost | doubts |\n|---|---:|---:|---:|---:|---|";

    /// How much of the share of "holds" is lost.
    #[must_use]
    pub fn lost(&self) -> f64 {
        (self.by_fit - self.said) as f64 / self.runs as f64
    }

    /// A row, the study's name in front.
    #[must_use]
    pub fn row(&self, study: &str) -> String {
        format!("| {study} {self}")
    }
}

impl fmt::Display for Shares {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let share = |n: usize| n as f64 / self.runs as f64;
        let doubts: Vec<String> = self
            .doubts
            .iter()
            .map(|(name, n)| format!("{name} {n}"))
            .collect();
        write!(
            f,
            "| {} | {:.4} | {:.4} | {:.4} | {} |",
            self.runs,
            share(self.by_fit),
            share(self.said),
            self.lost(),
            doubts.join(", ")
        )
    }
}

/// Simulates so many tests of a leak that is this part of the limit on its area.
#[must_use]
pub fn shares(of: &Study, part: f64, runs: u64, seed: u64) -> Shares {
    let decided = study(seed, runs, |_, rng| {
        let test = of.simulate(rng);
        let (fit, bench) = test.found.ok()?;
        let limit = Limit::Area(Area::from_value_in(test.area / part, "m2").unwrap());
        decide(&limit, &fit, &bench).ok()
    });
    let mut shares = Shares {
        runs: decided.len(),
        ..Shares::default()
    };
    for decision in decided.into_iter().flatten() {
        if verdict(decision.probability_within) != Verdict::Holds {
            continue;
        }
        shares.by_fit += 1;
        match decision.doubts.first() {
            None => shares.said += 1,
            Some(doubt) => *shares.doubts.entry(doubt.name()).or_default() += 1,
        }
    }
    shares
}
