//! What the needle lost in a run, as it was read, beside what the limit lets it lose.

use casetight::fit::{Fit, Residual};
use casetight::limit::{Decision, Limit, Verdict};
use casetight::quantity::{GaugePressure, Time};
use casetight::readings::Bench;
use casetight::vessel::{Direction, IsothermalDecay, rate_per_area};
use casetight_bench::assess::{FittedRun, RunAssessment};
use casetight_bench::session::SessionRun;
use uom::si::pressure::pascal;
use uom::si::time::second;

/// A reading within this part of a limit's own time is one at that time.
const NEAR: f64 = 0.05;

/// A run that starts this near to a limit's own pressure, as a part of it, starts there: the limit's fall changes by less than a digit.
const SAME_START: f64 = 0.01;

/// The decision that a run's verdict rests on: of those that give it, the one whose limit is the strictest for this leak.
pub(crate) fn deciding<'a>(run: &RunAssessment, decisions: &'a [Decision]) -> Option<&'a Decision> {
    let verdict: Verdict = run.verdict?;
    let give_it = decisions.iter().filter(|d| d.verdict == verdict);
    give_it.min_by(|a, b| a.probability_within.total_cmp(&b.probability_within))
}

/// What the needle lost from the first reading to another one.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Fall<'a> {
    fit: &'a Fit,
    bench: &'a Bench,
    first: Residual,
    last: Residual,
}

impl<'a> Fall<'a> {
    /// Over the limit's own time where a reading stands there, else to the last reading; a reading that was left out as misread is
    /// neither. None where no curve could be followed through the readings.
    pub(crate) fn of(
        run: &'a SessionRun,
        fitted: &'a FittedRun,
        limit: Option<&Limit>,
    ) -> Option<Self> {
        let fit = &fitted.fit;
        let misread = fit.misread.map(|misread| misread.row - 1);
        let readings = || {
            let each = fit.residuals.iter().enumerate();
            each.filter(|(place, _)| Some(*place) != misread)
                .map(|(_, reading)| *reading)
        };
        let first = readings().next()?;
        let off = |reading: &Residual, time: f64| (reading.time_s - first.time_s - time).abs();
        let at_limits_time = limit.and_then(own_time_s).and_then(|time| {
            let near = readings().filter(|reading| off(reading, time) <= NEAR * time);
            near.min_by(|a, b| off(a, time).total_cmp(&off(b, time)))
        });
        Some(Self {
            fit,
            bench: &run.bench,
            first,
            last: at_limits_time.or_else(|| readings().next_back())?,
        })
    }

    /// How long it took \[s\].
    pub(crate) fn seconds(&self) -> f64 {
        self.last.time_s - self.first.time_s
    }

    /// By how much the needle came nearer to zero \[Pa\]; below zero where it moved away.
    pub(crate) fn lost_pa(&self) -> f64 {
        (self.first.reading_pa - self.last.reading_pa) * self.fit.direction.sign()
    }

    /// A limit on the needle's fall in the volume under test, fall \[Pa\] and time \[s\], where the run starts at its pressure to a step of
    /// the gauge or to a hundredth: one that this fall can stand beside as it is.
    pub(crate) fn beside_limits_own(&self, decision: &Decision) -> Option<(f64, f64)> {
        let Limit::Drop {
            drop,
            from,
            over,
            at_volume: None,
        } = decision.allowed.limit
        else {
            return None;
        };
        let size = self.first.reading_pa * self.fit.direction.sign();
        let off = (size - from.get::<pascal>()).abs();
        let near = self.bench.gauge.step().get::<pascal>();
        let starts_there = off <= near.max(SAME_START * from.get::<pascal>());
        starts_there.then(|| (drop.get::<pascal>(), over.get::<second>()))
    }

    /// What a reader takes the limit to let the needle lose in that time \[Pa\]: the limit's own fall over its own time, else what a leak
    /// at the limit does.
    pub(crate) fn limit_as_told_pa(&self, decision: &Decision) -> Option<f64> {
        match self.beside_limits_own(decision) {
            Some((drop, over)) if (self.seconds() - over).abs() <= NEAR * over => Some(drop),
            Some(_) => self.by_rate_pa(decision.allowed.rate),
            None => self.at_limit_pa(decision),
        }
    }

    /// What a leak at the limit would have let it lose in that time from where it started, the rig's own leak beside it \[Pa\].
    pub(crate) fn at_limit_pa(&self, decision: &Decision) -> Option<f64> {
        self.by_rate_pa(decision.allowed.rate + rig_rate(self.fit, self.bench))
    }

    /// What the fitted leak by itself, a steady one in gas as warm as the case, would have let it lose \[Pa\].
    pub(crate) fn by_leak_pa(&self) -> Option<f64> {
        self.by_rate_pa(self.fit.rate.si().value)
    }

    fn by_rate_pa(&self, rate: f64) -> Option<f64> {
        let start = self.first.reading_pa;
        let decay = decay(rate, start, self.bench)?;
        let left = decay
            .gauge_at(Time::new::<second>(self.seconds()))
            .pascals();
        Some((start - left) * self.fit.direction.sign())
    }

    pub(crate) fn direction(&self) -> Direction {
        self.fit.direction
    }

    pub(crate) fn has_rig(&self) -> bool {
        self.fit.rig.is_some()
    }
}

/// The time that a limit looks at the needle for \[s\], where it does.
pub(crate) fn own_time_s(limit: &Limit) -> Option<f64> {
    match limit {
        Limit::Drop { over: time, .. } | Limit::Hold { time, .. } => Some(time.get::<second>()),
        _ => None,
    }
}

/// The needle's course at a rate \[1/s\] from a gauge pressure \[Pa\] on a bench; none where nothing flows from there.
pub(crate) fn decay(rate: f64, start_pa: f64, bench: &Bench) -> Option<IsothermalDecay> {
    let start = GaugePressure::from_pascals(start_pa).ok()?;
    IsothermalDecay::from_rate(rate, start, bench.ambient(), &bench.gas).ok()
}

/// The rate of the rig's own leak \[1/s\], which the needle of a run with the engine has beside the engine's.
pub(crate) fn rig_rate(fit: &Fit, bench: &Bench) -> f64 {
    let per_area = rate_per_area(bench.volume.value(), bench.ambient(), &bench.gas);
    let rig = fit.rig.map_or(0.0, |rig| rig.si().value);
    per_area.map_or(0.0, |per_area| rig * per_area)
}
