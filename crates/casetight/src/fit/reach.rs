//! Whether a fit rests on heat that the usual conductance was not made for.
//!
//! Takes a fit and its bench; gives what lies outside of the reach ([`Outside`]), and what heat may then have moved the needle by, beside
//! the interval: where that is little, it does not matter how well the heat is known.

use uom::si::pressure::pascal;
use uom::si::volume::cubic_meter;

use super::found::{Course, Fit};
use crate::numerics::probability;
use crate::quantity::TradeUnits as _;
use crate::readings::Bench;
use crate::vessel::{Conductance, HeatPrior, OrificeShape, Outside, Shape as _};

/// Heat counts from this part of the interval's standard uncertainty on: it then adds 5 % to it.
const COUNTS: f64 = 1.0 / 3.0;
/// Gas that settles with a time constant tau moves the slope of a line through readings over a time T by up to 6 tau/T of its size
/// (derived).
const BY_SETTLING: f64 = 6.0;
/// A needle has fallen by this part when its time is taken.
const MOST_OF_FALL: f64 = 0.63;

/// Heat that counts in a run, where what is usual of it was not made for such a run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BeyondReach {
    /// What lies outside.
    pub outside: Outside,
    /// What the heat may have moved the needle by beside what is known of it, from the first reading to the last \[Pa\], one standard
    /// uncertainty.
    pub may_move_pa: f64,
    /// How long after the last stroke the gas would have settled, however slowly such a vessel does \[s\]; none where it is the leak
    /// that cools the gas, so that waiting is no help.
    pub settled_after_s: Option<f64>,
}

/// A run as it went: absolute pressures \[Pa\] and times \[s\].
struct Went {
    first: f64,
    last: f64,
    ambient: f64,
    /// What the needle lost, of either sign.
    lost: f64,
    seconds: f64,
    /// In what time it would have lost that, had it gone on as at first.
    falls_in: f64,
}

impl Went {
    fn of(fit: &Fit, ambient: f64) -> Option<Self> {
        let (first, last) = (fit.residuals.first()?, fit.residuals.last()?);
        let lost = (first.reading_pa - last.reading_pa).abs();
        let most = MOST_OF_FALL * lost;
        let fallen = (fit.residuals.iter())
            .find(|r| (first.reading_pa - r.reading_pa).abs() >= most)
            .map_or(last.time_s, |r| r.time_s);
        let inside = |pa: f64| (ambient + pa).max(0.01 * ambient);
        Some(Self {
            first: inside(first.reading_pa),
            last: inside(last.reading_pa),
            ambient,
            lost,
            seconds: last.time_s - first.time_s,
            falls_in: (fallen - first.time_s) / MOST_OF_FALL,
        })
    }

    fn mean(&self) -> f64 {
        0.5 * (self.first + self.last)
    }
}

/// What heat may have moved the needle by beside what is known of it \[Pa\], one standard uncertainty each.
struct Moved {
    /// Gas that still settles.
    by_settling: f64,
    /// Gas that the leak cools, or that it lets in.
    by_leak: f64,
    /// Its settling time, as slow as two standard uncertainties allow \[s\].
    settles_in: f64,
    prior: HeatPrior,
}

impl Moved {
    fn of(went: &Went, bench: &Bench) -> Self {
        let prior = bench.heat_between((went.first - went.ambient, went.last - went.ambient));
        let (known, open) = (prior.ln_settling_time, prior.ln_settling_time_uncertainty);
        let settles_in = (known + 2.0 * open).exp() * went.first / went.ambient;
        let share = (BY_SETTLING * settles_in / went.seconds).min(1.0);
        // Gas is behind its wall by what the leak has done to it in the last settling time.
        let lags = known.exp() * went.mean() / (went.ambient * went.falls_in);
        let behind = lags * -(-1.0 / lags).exp_m1();
        let gamma = bench.gas.heat_capacity_ratio();
        Self {
            by_settling: went.first * prior.excess_uncertainty * share,
            by_leak: (gamma - 1.0) * went.lost * behind * open,
            settles_in,
            prior,
        }
    }
}

impl Fit {
    /// That heat counts in this run, and that what is usual of it was not made for such a one; none where it does not count, where the
    /// conductance is stated, or where the gas's own temperature was logged.
    #[must_use]
    pub fn beyond_reach(&self, bench: &Bench) -> Option<BeyondReach> {
        // Without a settling time the fit had no heat in it.
        self.settling_time?;
        if bench.heat.conductance != Conductance::Usual {
            return None;
        }
        let ambient = bench.ambient();
        let went = Went::of(self, ambient.pressure.pascals())?;
        let moved = Moved::of(&went, bench);
        let least = (COUNTS * self.open_pa(&went, bench))
            .max(bench.gauge.reading_uncertainty().get::<pascal>());
        let pressures = (went.first.max(went.last), went.mean());
        let cubic_meters = bench.volume.value().get::<cubic_meter>();
        let settles = moved.by_settling > least;
        let leaks = moved.by_leak > least;
        let outside = (settles
            .then(|| Outside::of(cubic_meters, pressures, true))
            .flatten())
        .or(leaks
            .then(|| Outside::of(cubic_meters, pressures, false))
            .flatten())?;
        let settled_for = bench.heat.settled_for.si_value();
        let times = moved.prior.settling_times(moved.by_settling / least);
        Some(BeyondReach {
            outside,
            may_move_pa: moved.by_settling.hypot(moved.by_leak),
            settled_after_s: settles.then_some(settled_for + moved.settles_in * times),
        })
    }

    /// The interval as a fall of the needle \[Pa\], one standard uncertainty.
    fn open_pa(&self, went: &Went, bench: &Bench) -> f64 {
        let area = self.area.si();
        let z = probability::normal_quantile(0.5 + area.level / 2.0);
        let open = (area.high - area.uncut_low()) / (2.0 * z);
        if self.course == Course::Falls {
            return went.lost * open / area.value;
        }
        // Of a needle that stands, what a leak of that size takes off it.
        let coordinate = OrificeShape::of_gas(&bench.gas, self.direction);
        let y = self.judged_from().pascals() / went.ambient;
        let s = coordinate.of(y) - open * self.per_area * coordinate.speed() * went.seconds;
        (y - coordinate.ratio(s).0).abs() * went.ambient
    }
}
