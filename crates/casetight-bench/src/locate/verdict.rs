//! What the areas mean beside the limits: the verdict on a place, on a direction, on all.

use super::found::{InDirection, Located, RunArea, least};
use crate::isolate::{Place, Run, Share, Spot, Stage};
use crate::record::Site;
use casetight::doubt::Doubt;
use casetight::limit::Verdict;

/// Whether a share is of the rig alone.
fn is_rig_alone(share: &Share<Site>) -> bool {
    share.spots.iter().all(|spot| spot.place == Place::Rig)
}

fn has_rig(share: &Share<Site>) -> bool {
    share.spots.iter().any(|spot| spot.place == Place::Rig)
}

pub(super) fn is_now(share: &Share<Site>) -> bool {
    share.spots.iter().any(|spot| spot.stage == Stage::Now)
}

impl InDirection {
    /// The strictest limit of the runs that one of these places was open in, as an effective area \[m2\].
    #[must_use]
    pub fn allowed_for(&self, share: &Share<Site>) -> Option<f64> {
        let of = |spot: &Spot<Site>, run: &Run<Site>| match &spot.place {
            Place::Site(site) => run.exposed.contains(site),
            Place::Rig => false,
        };
        let judged_by = |run: &Run<Site>| share.spots.iter().any(|spot| of(spot, run));
        let runs = self.runs.iter().zip(&self.evidence.runs);
        runs.filter(|(_, run)| judged_by(run))
            .map(|(area, _)| area.allowed_area_m2)
            .fold(None, least)
    }

    /// The verdict on a share of the engine's: whether its interval lies within the limit, beyond it, or on both sides. None
    /// without a limit, for the rig alone, and for what was there before a repair.
    ///
    /// A share that the rig has part in does not leak by this: it may be the rig.
    #[must_use]
    pub fn verdict_on(&self, share: &Share<Site>) -> Option<Verdict> {
        let allowed = self.allowed_for(share)?;
        if is_rig_alone(share) || !is_now(share) {
            return None;
        }
        Some(self.taken(if share.area.si().high <= allowed {
            Verdict::Holds
        } else if share.area.si().low > allowed && !has_rig(share) {
            Verdict::Leaks
        } else {
            Verdict::Undecided
        }))
    }

    /// What is left of a verdict in view of what speaks against the fits of the runs: areas are differences of all of them, so that
    /// one which is not those of a leak takes back either verdict. Runs that contradict each other leave no "holds".
    fn taken(&self, verdict: Verdict) -> Verdict {
        if verdict == Verdict::Holds && self.found.contradicts_itself() {
            return Verdict::Undecided;
        }
        let despite = |verdict: Verdict, run: &RunArea| {
            if run.doubts.iter().any(Doubt::contradicts_fit) {
                Verdict::Undecided
            } else {
                verdict.despite(&run.doubts)
            }
        };
        self.runs.iter().fold(verdict, despite)
    }

    /// The verdict on all sites together; none without a limit.
    ///
    /// Leaks: a site (or several that were not told apart, the rig not among them) is beyond the limit by itself, or the lower
    /// ends of all add up to more. Holds: each that was ever open is within it, and so is the sum of their best values. Else
    /// undecided.
    #[must_use]
    pub fn verdict(&self) -> Option<Verdict> {
        let allowed = self.allowed_area_m2?;
        let judged = || {
            let shares = self.found.shares.iter();
            shares.filter_map(|share| Some((share, self.verdict_on(share)?)))
        };
        let sum = |of: &dyn Fn(&Share<Site>) -> f64| -> f64 { judged().map(|(s, _)| of(s)).sum() };
        let leaks = judged().any(|(_, verdict)| verdict == Verdict::Leaks)
            || sum(&|share| {
                if has_rig(share) {
                    0.0
                } else {
                    share.area.si().low
                }
            }) > allowed;
        Some(self.taken(if leaks {
            Verdict::Leaks
        } else if judged().count() > 0
            && judged().all(|(_, verdict)| verdict == Verdict::Holds)
            && sum(&|share| share.area.si().value) <= allowed
        {
            Verdict::Holds
        } else {
            Verdict::Undecided
        }))
    }

    /// Probability of a place to be the worst leak of this direction; none where the runs contradict each other so much that
    /// no engine fits them.
    #[must_use]
    pub fn probability_worst(&self, place: &Place<Site>) -> Option<f64> {
        let suspects = &self.next.suspects;
        if suspects.worst.is_empty() && suspects.tight <= 0.0 {
            return None;
        }
        let worst = suspects.worst.iter().find(|(other, _)| other == place);
        Some(worst.map_or(0.0, |(_, p)| *p))
    }

    /// The sites as they are now, each with its share.
    pub fn sites(&self) -> impl Iterator<Item = (&Site, &Share<Site>)> {
        self.found.shares.iter().flat_map(|share| {
            share
                .spots
                .iter()
                .filter_map(move |spot| match &spot.place {
                    Place::Site(site) if spot.stage == Stage::Now => Some((site, share)),
                    _ => None,
                })
        })
    }
}

impl Located {
    /// The verdict of the worst direction, in the order leaks, undecided or not judged (none), holds.
    #[must_use]
    pub fn worst(&self) -> Option<Verdict> {
        Verdict::worst(self.directions.iter().map(InDirection::verdict))
    }
}
