//! What a gauge and a hold can tell: the uncertainty that a run is expected to have, and the leaks that follow from it.

use uom::si::pressure::pascal;
use uom::si::time::second;

use super::error::PlanError;
use super::intent::Intent;
use super::outlook::Detection;
use casetight::below::expected_rate;
use casetight::below::numerics::probability;
use casetight::leak::EffectiveArea;
use casetight::limit::{Allowed, Basis, DECISION_PROBABILITY};
use casetight::quantity::Time;
use casetight::readings::Bench;
use casetight::vessel::IsothermalDecay;

/// No hold longer than this is proposed \[s\].
const PATIENCE_SECONDS: f64 = 4.0 * 3600.0;

/// A hold is sought in steps of this factor, then halved down to [`CLOSE`].
const LONGER_BY: f64 = 1.1;

/// A hold is told to this part of itself.
const CLOSE: f64 = 1e-3;

/// Level of the intervals asked for; any would do, since only their standard uncertainty counts.
const LEVEL: f64 = 0.95;

/// The least leak is found when it changes by less than this part of itself.
const SETTLED: f64 = 1e-9;

/// Steps after which the least leak would have been found.
const MOST_STEPS: usize = 200;

/// A least leak so many times the bound is none.
const BEYOND: f64 = 1e3;

/// The power of a test on a bench.
pub(super) struct Power<'b> {
    bench: &'b Bench,
    intent: &'b Intent,
    per_area: f64,
    hold: f64,
    every: f64,
    /// Relative standard uncertainty that the area has beyond the rate's: volume and temperature.
    beyond_rate: f64,
}

impl<'b> Power<'b> {
    pub(super) fn new(bench: &'b Bench, intent: &'b Intent, per_area: f64) -> Self {
        Self {
            bench,
            intent,
            per_area,
            hold: intent.hold.get::<second>(),
            every: intent.every.get::<second>(),
            beyond_rate: bench.size_uncertainty(intent.target),
        }
    }

    /// Whole readings in the hold, the first at its start.
    pub(super) fn readings(&self) -> f64 {
        readings(self.hold, self.every)
    }

    /// Expected standard uncertainty of the rate \[1/s\] for a leak of this rate held for so long; none where nothing is
    /// told.
    ///
    /// Where rounding rules a reading's error, a needle that stays in one step says no more, however often it is read,
    /// than its first and its last reading; each step that it crosses adds one. A rule of thumb, within 0.8 and 1.7 of what fits
    /// to simulated readings give. Source: self-consistency.
    fn rate_uncertainty(&self, rate: f64, hold: f64) -> Option<f64> {
        let bench = self.bench;
        let mut count = readings(hold, self.every);
        if bench.gauge.is_coarse() {
            let decay =
                IsothermalDecay::from_rate(rate, self.intent.target, bench.ambient(), &bench.gas)
                    .ok()?;
            let end = decay.gauge_at(Time::new::<second>(hold)).pascals();
            let fall = (self.intent.target.pascals() - end).abs();
            count = count.min(2.0 + fall / bench.gauge.step().get::<pascal>());
        }
        // Of n readings from end to end of the hold the slope's variance is 12 (n - 1)/(n (n + 1)) of what one has; the
        // forecast spreads them evenly, 12/n.
        let spread_evenly = count * (count + 1.0) / (count - 1.0);
        let truth = (rate, self.intent.target);
        let interval = expected_rate(bench, truth, hold, spread_evenly, LEVEL)?.si();
        let z = probability::normal_quantile(0.5 + LEVEL / 2.0);
        Some((interval.high - interval.value) / z)
    }

    /// Expected standard uncertainty of the area \[m2\] of a leak of this area.
    pub(super) fn area_uncertainty(&self, area: f64) -> Option<f64> {
        let by_rate = self.rate_uncertainty(area * self.per_area, self.hold)? / self.per_area;
        Some(by_rate.hypot(self.beyond_rate * area))
    }

    /// Bound and least leak detected.
    pub(super) fn detection(&self) -> Result<Detection, PlanError> {
        let z = one_sided();
        let bound = z * self.area_uncertainty(0.0).ok_or(PlanError::NoForecast)?;
        // The fixed point A = bound + z u(A), approached from below; u grows more slowly than A, or never meets it.
        let mut least = 2.0 * bound;
        let mut detected = None;
        for _ in 0..MOST_STEPS {
            let Some(uncertainty) = self.area_uncertainty(least) else {
                break;
            };
            let next = bound + z * uncertainty;
            if (next - least).abs() <= SETTLED * next {
                detected = Some(EffectiveArea::from_square_meters(next)?);
                break;
            }
            if next > BEYOND * bound {
                break;
            }
            // Where u falls as the leak grows (more steps crossed), the mean keeps the search from swinging.
            least = if next < least {
                0.5 * (least + next)
            } else {
                next
            };
        }
        Ok(Detection {
            bound: EffectiveArea::from_square_meters(bound)?,
            detected,
        })
    }

    /// The shortest hold in which no leak and a leak at the limit are told apart: 1.645 u(0) + 1.645 u(L) <= L.
    pub(super) fn decides_after(&self, allowed: &Allowed) -> Option<Time> {
        let decides = |hold: f64| {
            let uncertainty = |rate: f64| {
                let by_rate = self.rate_uncertainty(rate, hold)?;
                Some(match allowed.basis {
                    Basis::Rate => by_rate,
                    Basis::Area => by_rate.hypot(self.beyond_rate * rate),
                })
            };
            match (uncertainty(0.0), uncertainty(allowed.rate)) {
                (Some(tight), Some(at_limit)) => one_sided() * (tight + at_limit) <= allowed.rate,
                _ => false,
            }
        };
        let mut hold = self.every;
        let mut before = None;
        while hold <= PATIENCE_SECONDS {
            if decides(hold) {
                let mut long_enough = hold;
                if let Some(mut too_short) = before {
                    while long_enough - too_short > CLOSE * long_enough {
                        let middle = 0.5 * (long_enough + too_short);
                        if decides(middle) {
                            long_enough = middle;
                        } else {
                            too_short = middle;
                        }
                    }
                }
                return Some(Time::new::<second>(long_enough));
            }
            before = Some(hold);
            hold *= LONGER_BY;
        }
        None
    }
}

/// Whole readings in a hold, the first at its start; at least two.
fn readings(hold: f64, every: f64) -> f64 {
    // A tenth of a hold ten times over may end a rounding short of it.
    ((hold / every * (1.0 + 1e-9)).floor() + 1.0).max(2.0)
}

/// Standard uncertainties of a one-sided decision: 1.645.
pub(super) fn one_sided() -> f64 {
    casetight::below::numerics::probability::normal_quantile(DECISION_PROBABILITY)
}
