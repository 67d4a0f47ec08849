//! A run that is judged while it is held: readings come one by one, and the verdict may be looked at after each.
//!
//! A verdict at 95 % that is looked at again and again is wrong more often than once in twenty, since each look is
//! another chance. Here the chance is shared out: over a whole sequence of looks, however long, a leak at its limit is
//! said to hold in at most 5 % of tests, and to leak in at most 5 %. By the time t after the first reading each of the
//! two may have gone wrong with the probability
//!
//! ```text
//! spent(t) = 5 % t/(t + t_half)
//! ```
//!
//! so half of it is spent by the usual hold t_half, and something is left for any longer one. A look asks for the
//! probability of being within (or beyond) the limit that this leaves it: more than 95 %.
//!
//! The information of a look is 1/u^2, where u is the standard uncertainty that readings like these are expected to
//! leave of a leak at its limit; it follows from the times alone, not from what was read. Estimates from a growing
//! record, in which what all readings share (gauge, volume, drift) is known beforehand to a standard uncertainty, are
//! correlated as sqrt(I_i/I_j), and so are their normal deviates.
//!
//! Sources: `[LanDeMets1983]` (spending), `[LanDeMets1989]` (spending by the clock, while correlations follow the information),
//! `[ArmitageMcPhersonRowe1969]` (the recursion), `[ScharfsteinTsiatisRobins1997]` (correlation of successive estimates).
//!
//! It holds as far as the interval of a single look does, and as far as that look's deviate is normal; how far, a
//! simulation study shows. With several limits the 5 % are each limit's own.
//!
//! ```
//! use casetight_bench::assess::Assumptions;
//! use casetight::gas::Gas;
//! use casetight::gauge::Gauge;
//! use casetight::limit::{Rule, Verdict};
//! use casetight::measured::Measured;
//! use casetight::quantity::{AbsolutePressure, GaugePressure, TradeUnits, TemperatureDrift, Time};
//! use casetight::readings::Bench;
//! use casetight_bench::watch::Watch;
//!
//! let bench = Bench {
//!     volume: Measured::exact(TradeUnits::parse("250 cm3")?)?,
//!     ambient_pressure: Measured::exact(AbsolutePressure::from_pascals(101_325.0)?)?,
//!     temperature: Measured::exact(TradeUnits::parse("20 C")?)?,
//!     drift_allowance: TemperatureDrift::ZERO,
//!     effects: casetight::readings::Effects::none(),
//!     heat: casetight::vessel::Heat::default(),
//!     gauge: Gauge::digital(TradeUnits::parse("0.1 kPa")?)?,
//!     gas: Gas::dry_air(),
//! };
//! let mut watch = Watch::new(bench, vec![Rule::OnePsiAMinute.limit()], Assumptions::default());
//! let mut decided = None;
//! // A needle that falls by a third of what the limit allows.
//! for i in 0..20 {
//!     let time = Time::from_value_in(5.0 * f64::from(i), "s")?;
//!     let gauge = GaugePressure::from_pascals(48_300.0 - 190.0 * f64::from(i))?;
//!     if watch.add(time, gauge)?.is_some_and(|update| update.decided()) {
//!         decided = Some(5 * i);
//!         break;
//!     }
//! }
//! assert_eq!(watch.verdict(), Some(Verdict::Holds));
//! assert!(decided < Some(40));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod boundary;
#[cfg(test)]
mod tests;

use uom::si::time::second;

use crate::assess::{AssessError, Assumptions, LEVEL, Outcome, RunAssessment, assess};
use casetight::below::expected_rate;
use casetight::below::numerics::probability::{normal_cdf, normal_quantile};
use casetight::limit::{Basis, DECISION_PROBABILITY, Limit, Verdict};
use casetight::quantity::{GaugePressure, Time};
use casetight::readings::{Bench, Readings, ReadingsError};
use casetight::vessel::Direction;

use boundary::{Boundary, LEAST_GROWTH};

/// Half of the allowed error is spent by this time unless stated otherwise \[s\]: the minute that a technician holds (common
/// practice, no source).
pub const USUAL_HOLD_SECONDS: f64 = 60.0;

/// Fewer readings than this decide nothing: two can't contradict each other.
const LEAST_READINGS: usize = 3;

/// The estimate is made anew when the readings have grown by this part, so that a fast logger costs no more than a person.
const WORTH_A_FIT: f64 = 0.01;

/// What can go wrong with a run while it is held.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum WatchError {
    /// The reading is not valid, or not after those before it. It was not taken up.
    #[error(transparent)]
    Reading(#[from] ReadingsError),
    /// The readings so far can't be assessed. This one was taken up: the next may mend it.
    #[error(transparent)]
    Assess(#[from] AssessError),
    /// The usual hold is finite and above zero.
    #[error("a usual hold of {got} s; it must be finite and above zero")]
    UsualHold {
        /// What was given, in seconds.
        got: f64,
    },
}

/// One run while it is held.
#[derive(Debug, Clone)]
pub struct Watch {
    bench: Bench,
    limits: Vec<Limit>,
    assumptions: Assumptions,
    usual_hold_s: f64,
    times: Vec<f64>,
    gauges: Vec<f64>,
    /// Where the largest reading stands: it tells the direction.
    largest: usize,
    fitted: usize,
    tests: Vec<Test>,
}

/// The sequence of looks at one limit.
#[derive(Debug, Clone)]
struct Test {
    boundary: Boundary,
    verdict: Verdict,
    /// Whether the readings so far take back that it holds, or leaks.
    doubted: (bool, bool),
    looks: usize,
    needed: f64,
}

/// What a reading changed.
#[derive(Debug, Clone)]
pub struct Update {
    /// How many readings there are.
    pub readings: usize,
    /// Time from the first to the last.
    pub held: Time,
    /// The assessment of the readings so far. Its own verdict is that of a single look; see [`Update::verdict`].
    pub assessment: RunAssessment,
    /// The verdict over all looks; none without a limit. Once it is holds or leaks it stays so, unless the readings that follow take
    /// it back ([`casetight::doubt`]).
    pub verdict: Option<Verdict>,
    /// Looks taken so far.
    pub looks: usize,
    /// Probability of being within the strictest limit, or beyond it, that the last look asked for; none before the
    /// first look.
    pub needed_probability: Option<f64>,
}

impl Update {
    /// Whether the run may stop.
    #[must_use]
    pub fn decided(&self) -> bool {
        is_decided(self.verdict)
    }
}

fn is_decided(verdict: Option<Verdict>) -> bool {
    matches!(verdict, Some(Verdict::Holds | Verdict::Leaks))
}

impl Watch {
    /// A run without readings yet.
    #[must_use]
    pub fn new(bench: Bench, limits: Vec<Limit>, assumptions: Assumptions) -> Self {
        let test = Test {
            boundary: Boundary::default(),
            verdict: Verdict::Undecided,
            doubted: (false, false),
            looks: 0,
            needed: f64::NAN,
        };
        Self {
            bench,
            tests: vec![test; limits.len()],
            limits,
            assumptions,
            usual_hold_s: USUAL_HOLD_SECONDS,
            times: Vec::new(),
            gauges: Vec::new(),
            largest: 0,
            fitted: 0,
        }
    }

    /// The same with another usual hold, by which half of the allowed error is spent: a short one decides large leaks
    /// sooner, a long one those near the limit.
    ///
    /// # Errors
    /// [`WatchError::UsualHold`] for one that is not finite and above zero.
    pub fn with_usual_hold(self, hold: Time) -> Result<Self, WatchError> {
        let usual_hold_s = hold.get::<second>();
        if usual_hold_s.is_finite() && usual_hold_s > 0.0 {
            Ok(Self {
                usual_hold_s,
                ..self
            })
        } else {
            Err(WatchError::UsualHold { got: usual_hold_s })
        }
    }

    /// Times \[s\] so far.
    #[must_use]
    pub fn times_s(&self) -> &[f64] {
        &self.times
    }

    /// Gauge pressures \[Pa\] so far.
    #[must_use]
    pub fn gauges_pa(&self) -> &[f64] {
        &self.gauges
    }

    /// The verdict over all looks; none without a limit. The run leaks where it leaks by one limit, and holds where it
    /// holds by all.
    #[must_use]
    pub fn verdict(&self) -> Option<Verdict> {
        let verdicts = self.tests.iter().map(|test| Some(test.verdict()));
        (!self.tests.is_empty())
            .then(|| Verdict::worst(verdicts))
            .flatten()
    }

    /// Whether a reading may follow those so far. Readings that pass one by one are [`Readings`] together.
    ///
    /// # Errors
    /// [`ReadingsError`] says why not; its row is the reading's place in the run.
    pub fn check(&self, time: Time, gauge: GaugePressure) -> Result<(), ReadingsError> {
        // What the readings before have in common is told by the first, the largest and the last of them.
        let last = self.times.len().saturating_sub(1);
        let mut kept = vec![0, self.largest, last];
        kept.dedup();
        let column = |of: &[f64], new: f64| -> Vec<f64> {
            let before = kept.iter().filter_map(|i| of.get(*i).copied());
            before.chain([new]).collect()
        };
        let times = column(&self.times, time.get::<second>());
        let gauges = column(&self.gauges, gauge.pascals());
        let ambient = self.bench.ambient_pressure.value();
        match Readings::from_si(&times, &gauges, ambient) {
            Ok(_) => Ok(()),
            Err(ReadingsError::TooFew { .. }) if gauge.pascals() != 0.0 => Ok(()),
            Err(ReadingsError::TooFew { .. }) => Err(ReadingsError::NoPressure {
                got: gauge.pascals(),
            }),
            Err(error) => Err(at_row(error, self.times.len() + 1)),
        }
    }

    /// Takes up a reading, and says nothing of it yet.
    ///
    /// # Errors
    /// As [`Watch::check`], and nothing has changed.
    pub fn push(&mut self, time: Time, gauge: GaugePressure) -> Result<(), ReadingsError> {
        self.check(time, gauge)?;
        let largest = self.gauges.get(self.largest).map_or(0.0, |g| g.abs());
        if gauge.pascals().abs() > largest {
            self.largest = self.gauges.len();
        }
        self.times.push(time.get::<second>());
        self.gauges.push(gauge.pascals());
        Ok(())
    }

    /// Whether the readings have told enough since the last look that another is due.
    #[must_use]
    pub fn look_is_due(&self) -> bool {
        let due = |(test, limit): (&Test, &Limit)| {
            let information = self.information(limit);
            information.is_some_and(|information| test.is_due(information))
        };
        self.times.len() >= LEAST_READINGS && self.tests.iter().zip(&self.limits).any(due)
    }

    /// Takes up a reading. An update follows where there is something new to say: from the second reading on, at each
    /// reading of the first hundred, later at each that adds a hundredth, and where a look is due.
    ///
    /// # Errors
    /// [`WatchError::Reading`] as [`Watch::check`], and nothing has changed; [`WatchError::Assess`] where the readings
    /// so far can't be assessed.
    pub fn add(&mut self, time: Time, gauge: GaugePressure) -> Result<Option<Update>, WatchError> {
        self.push(time, gauge)?;
        let new = self.times.len() - self.fitted;
        let worth_it = new as f64 >= WORTH_A_FIT * self.fitted as f64;
        if self.times.len() < 2 || !worth_it && !self.look_is_due() {
            return Ok(None);
        }
        self.update().map(Some)
    }

    /// The estimate from all readings so far, and a look at it where one is due.
    ///
    /// # Errors
    /// [`WatchError::Assess`] where the readings so far can't be assessed, [`WatchError::Reading`] where there are fewer
    /// than two.
    pub fn update(&mut self) -> Result<Update, WatchError> {
        self.fitted = self.times.len();
        let ambient = self.bench.ambient_pressure.value();
        let readings = Readings::from_si(&self.times, &self.gauges, ambient)?;
        let assessment = assess(&readings, &self.bench, &self.limits, &self.assumptions)?;
        let held = readings.duration();
        if let Outcome::Fitted(run) = &assessment.outcome
            && readings.len() >= LEAST_READINGS
        {
            let spent = self.spent_by(held);
            let information: Vec<Option<f64>> =
                self.limits.iter().map(|l| self.information(l)).collect();
            for ((test, decision), information) in
                self.tests.iter_mut().zip(&run.decisions).zip(information)
            {
                let doubts = |verdict| !decision.supports(verdict);
                test.doubted = (doubts(Verdict::Holds), doubts(Verdict::Leaks));
                if let Some(information) = information.filter(|i| test.is_due(*i)) {
                    test.look(decision.probability_within, information, spent);
                }
            }
        }
        let looked_at = self.tests.iter().filter(|test| test.looks > 0);
        let needed_probability = looked_at.map(|test| test.needed).reduce(f64::max);
        Ok(Update {
            readings: readings.len(),
            held,
            assessment,
            verdict: self.verdict(),
            looks: self.tests.iter().map(|test| test.looks).max().unwrap_or(0),
            needed_probability,
        })
    }

    /// Information on a leak at the limit, relative to the limit: 1/u^2 of what as many readings over as long are
    /// expected to leave. None where they would tell nothing.
    fn information(&self, limit: &Limit) -> Option<f64> {
        let (first, last) = (self.times.first()?, self.times.last()?);
        let start = GaugePressure::from_pascals(*self.gauges.first()?).ok()?;
        let allowed = limit
            .allowed(&self.bench, Direction::of(start)?, start)
            .ok()?;
        let count = self.times.len() as f64;
        let at_limit = (allowed.rate, start);
        let expected = expected_rate(&self.bench, at_limit, last - first, count, LEVEL)?.si();
        let z = normal_quantile(0.5 + LEVEL / 2.0);
        let by_readings = (expected.high - expected.value) / (z * allowed.rate);
        let by_size = match allowed.basis {
            Basis::Rate => 0.0,
            Basis::Area => self.bench.size_uncertainty(start),
        };
        let information = (by_readings.powi(2) + by_size.powi(2)).recip();
        (information.is_finite() && information > 0.0).then_some(information)
    }

    /// Probability of a wrong verdict that may have been spent by a time, on each side.
    fn spent_by(&self, held: Time) -> f64 {
        let held = held.get::<second>();
        (1.0 - DECISION_PROBABILITY) * held / (held + self.usual_hold_s)
    }
}

impl Test {
    fn is_due(&self, information: f64) -> bool {
        self.verdict == Verdict::Undecided
            && information >= LEAST_GROWTH * self.boundary.information()
    }

    /// The verdict over all looks, as far as the readings so far support it: one that they contradict later is taken back.
    fn verdict(&self) -> Verdict {
        match (self.verdict, self.doubted) {
            (Verdict::Holds, (true, _)) | (Verdict::Leaks, (_, true)) => Verdict::Undecided,
            (verdict, _) => verdict,
        }
    }

    fn look(&mut self, probability_within: f64, information: f64, spent: f64) {
        let critical = self.boundary.critical(information, spent);
        self.looks += 1;
        self.needed = normal_cdf(critical);
        let deviate = normal_quantile(probability_within);
        let (not_holds, not_leaks) = self.doubted;
        if deviate >= critical && !not_holds {
            self.verdict = Verdict::Holds;
        } else if -deviate >= critical && !not_leaks {
            self.verdict = Verdict::Leaks;
        }
    }
}

/// The same error of the reading in this place of the run.
fn at_row(error: ReadingsError, place: usize) -> ReadingsError {
    match error {
        ReadingsError::NotFinite { what, got, .. } => ReadingsError::NotFinite {
            row: place,
            what,
            got,
        },
        ReadingsError::TimesNotRising { got, before, .. } => ReadingsError::TimesNotRising {
            row: place,
            got,
            before,
        },
        ReadingsError::BeyondVacuum { got, ambient, .. } => ReadingsError::BeyondVacuum {
            row: place,
            got,
            ambient,
        },
        ReadingsError::MixedDirections { got, direction, .. } => ReadingsError::MixedDirections {
            row: place,
            got,
            direction,
        },
        other => other,
    }
}
