//! Acceptance limits as they are typed, converted to what the volume under test may leak, and the decision against them.
//!
//! There is no default limit. [`Rule`] holds the one that is common practice, to be asked for by name.

use uom::si::area::square_meter;
use uom::si::pressure::pascal;
use uom::si::time::second;
use uom::si::volume::cubic_meter;
use uom::si::volume_rate::cubic_meter_per_second;

use crate::doubt::{self, Doubt};
use crate::estimate::Estimate;
use crate::fit::{Fit, Otherwise};
use crate::gas::GasState;
use crate::leak::Orifice;
use crate::quantity::{
    Area, Frequency, GaugePressure, KILOPASCAL, Pressure, QuantityError, ReferenceConditions, Time,
    Unit, Volume, VolumeRate, pressure_in,
};
use crate::readings::Bench;
use crate::readings::sides;
use crate::vessel::{Direction, OrificeShape, Shape as _, VesselError, rate_per_area};

/// A limit is met, or broken, with at least this probability before a run is said to hold, or to leak: 95 %, a guard
/// band of 1.645 standard uncertainties on a normal interval. Source: `[ISO14253]`, `[JCGM106]` (8.3).
pub const DECISION_PROBABILITY: f64 = 0.95;

/// An acceptance limit. Pressures are sizes: for a vacuum test they count below ambient.
///
/// ```
/// use casetight::limit::Limit;
/// use casetight::quantity::{Pressure, Time};
/// use uom::si::{pressure::pound_force_per_square_inch, time::minute};
///
/// let psi = |v| Pressure::new::<pound_force_per_square_inch>(v);
/// let limit = Limit::Drop { drop: psi(1.0), from: psi(7.0), over: Time::new::<minute>(1.0), at_volume: None };
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Limit {
    /// The needle may fall by at most `drop` from `from` over a time: in the volume under test, or in a stated one,
    /// which makes it a limit of the leak's size.
    Drop {
        /// Largest fall.
        drop: Pressure,
        /// Pressure that it falls from.
        from: Pressure,
        /// Time that it takes.
        over: Time,
        /// The volume that the limit was set for; without it, the volume under test.
        at_volume: Option<Volume>,
    },
    /// The effective area may be at most this.
    Area(Area),
    /// The flow at the run's start pressure may be at most this, the gas counted at reference conditions.
    Flow {
        /// Largest flow.
        flow: VolumeRate,
        /// The conditions that its volume is counted at.
        reference: ReferenceConditions,
    },
    /// The needle must not fall by a step that can be read on the gauge, for at least this time.
    Hold {
        /// Shortest time.
        time: Time,
        /// Pressure that is held; without it, the run's start pressure.
        from: Option<Pressure>,
    },
}

/// Limits that are known by a name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Rule {
    /// "One psi a minute": no more than 1 psi lost in one minute from 7 psi, in the engine under test. Common practice
    /// on the bench, no source; an engine maker's manual that says otherwise rules.
    OnePsiAMinute,
}

impl Rule {
    /// All rules.
    pub const ALL: [Self; 1] = [Self::OnePsiAMinute];

    /// The name that asks for it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::OnePsiAMinute => "common practice: one psi a minute",
        }
    }

    /// The limit behind the name.
    #[must_use]
    pub fn limit(self) -> Limit {
        use uom::si::pressure::pound_force_per_square_inch as psi;
        match self {
            Self::OnePsiAMinute => Limit::Drop {
                drop: Pressure::new::<psi>(1.0),
                from: Pressure::new::<psi>(7.0),
                over: Time::new::<second>(60.0),
                at_volume: None,
            },
        }
    }
}

/// What can be wrong with a limit.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LimitError {
    /// A quantity of a limit is finite and above zero.
    #[error("the limit's {what} is {got} (SI units); it must be finite and above zero")]
    NotPositive {
        /// Which one.
        what: &'static str,
        /// What was given, in its SI unit.
        got: f64,
    },
    /// A fall from a pressure stays above zero.
    #[error("{}", drop_beyond(*drop, *from, &KILOPASCAL))]
    DropBeyondStart {
        /// Fall in pascals.
        drop: f64,
        /// Pressure that it falls from, in pascals.
        from: f64,
    },
    /// The gauge's step is no smaller than the pressure that is to be held.
    #[error("{}", too_coarse(*step, *from, &KILOPASCAL))]
    StepTooCoarse {
        /// Step in pascals.
        step: f64,
        /// Pressure to hold, in pascals.
        from: f64,
    },
    /// Nothing flows from the side of zero where the start is.
    #[error("{}", no_flow(*start, *direction, &KILOPASCAL))]
    NoFlow {
        /// Start in pascals.
        start: f64,
        /// Direction of the test.
        direction: Direction,
    },
    /// A pressure is not valid.
    #[error(transparent)]
    Quantity(#[from] QuantityError),
    /// The volume under test is not valid.
    #[error(transparent)]
    Vessel(#[from] VesselError),
}

impl LimitError {
    /// The message with its pressures in the unit that the gauge shows.
    #[must_use]
    pub fn words(&self, unit: &Unit) -> String {
        match self {
            Self::DropBeyondStart { drop, from } => drop_beyond(*drop, *from, unit),
            Self::StepTooCoarse { step, from } => too_coarse(*step, *from, unit),
            Self::NoFlow { start, direction } => no_flow(*start, *direction, unit),
            Self::Quantity(error) => error.words(unit),
            other => other.to_string(),
        }
    }
}

fn drop_beyond(drop: f64, from: f64, unit: &Unit) -> String {
    format!(
        "the limit's drop of {} is not smaller than the {} that it falls from",
        pressure_in(unit, drop),
        pressure_in(unit, from)
    )
}

fn too_coarse(step: f64, from: f64, unit: &Unit) -> String {
    format!(
        "a gauge read in steps of {} can't show whether {} is held",
        pressure_in(unit, step),
        pressure_in(unit, from)
    )
}

fn no_flow(start: f64, direction: Direction, unit: &Unit) -> String {
    let start = pressure_in(unit, start);
    format!("a start of {start} in a {direction} test: nothing drives a leak there")
}

/// What a limit is stated in, and so which uncertainty counts in a decision.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Basis {
    /// The needle's own speed: the volume's uncertainty doesn't matter.
    Rate,
    /// The leak's size.
    Area,
}

/// A limit converted for one run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Allowed {
    /// The limit.
    pub limit: Limit,
    /// What it is stated in.
    pub basis: Basis,
    /// The largest allowed rate k in the volume under test \[1/s\].
    pub rate: f64,
    /// The largest allowed effective area, at the best value of the volume \[m2\].
    pub area_m2: f64,
}

/// Verdict on a run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize),
    serde(rename_all = "lowercase")
)]
pub enum Verdict {
    /// Within the limit with 95 % probability or more.
    Holds,
    /// Beyond the limit with 95 % probability or more.
    Leaks,
    /// Neither: the hold was too short, or something else must be known better.
    Undecided,
    /// The pump never raised the needle: a lower bound of the leak.
    Stalled,
}

impl Verdict {
    /// What is left of a verdict that a fit gives, in view of what speaks against the fit: no doubt leaves "holds", and some leave no
    /// "leaks" either.
    #[must_use]
    pub fn despite(self, doubts: &[Doubt]) -> Self {
        let taken_back = match self {
            Self::Holds => !doubts.is_empty(),
            Self::Leaks => doubts.iter().any(Doubt::forbids_leaks),
            Self::Undecided | Self::Stalled => false,
        };
        if taken_back { Self::Undecided } else { self }
    }

    /// The worst of several verdicts, in the order leaks; undecided, stalled or not judged (none), whichever comes first; holds.
    #[must_use]
    pub fn worst(verdicts: impl IntoIterator<Item = Option<Self>>) -> Option<Self> {
        let mut worst = Some(Self::Holds);
        for verdict in verdicts {
            if verdict == Some(Self::Leaks) {
                return verdict;
            }
            if worst == Some(Self::Holds) {
                worst = verdict;
            }
        }
        worst
    }
}

impl std::fmt::Display for Verdict {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Holds => "holds",
            Self::Leaks => "leaks",
            Self::Undecided => "undecided",
            Self::Stalled => "stalled",
        })
    }
}

/// A decision against one limit.
#[derive(Debug, Clone, PartialEq)]
pub struct Decision {
    /// The limit as it applies to the run.
    pub allowed: Allowed,
    /// Probability that the leak is within it, by the fit ([`Allowed::probability_for`]).
    pub probability_within: f64,
    /// What follows, if the readings support it.
    pub verdict: Verdict,
    /// Why the fit is not taken at its word, the gravest reason first.
    pub doubts: Vec<Doubt>,
}

impl Decision {
    /// Whether the readings let it be said that the run holds, or leaks, where the fit says so.
    #[must_use]
    pub fn supports(&self, verdict: Verdict) -> bool {
        verdict.despite(&self.doubts) == verdict
    }

    /// Probability that the leak is within the limit, where the readings let the fit be taken at its word: none where they take back
    /// what it says.
    #[must_use]
    pub fn supported_probability(&self) -> Option<f64> {
        let taken = self.doubts.is_empty() || self.verdict == Verdict::Leaks;
        taken.then_some(self.probability_within)
    }

    /// How sure the verdict is: the probability of being within the limit for one that holds, of being beyond it for one that leaks;
    /// none for one that is undecided.
    #[must_use]
    pub fn sureness(&self) -> Option<f64> {
        match self.verdict {
            Verdict::Holds => Some(self.probability_within),
            Verdict::Leaks => Some(1.0 - self.probability_within),
            Verdict::Undecided | Verdict::Stalled => None,
        }
    }
}

fn positive(what: &'static str, got: f64) -> Result<f64, LimitError> {
    if got.is_finite() && got > 0.0 {
        Ok(got)
    } else {
        Err(LimitError::NotPositive { what, got })
    }
}

/// The area \[m2\] that gives a rate in a volume other than the bench's.
fn area_in(volume: Volume, rate: f64, bench: &Bench) -> Result<f64, LimitError> {
    let v = positive("volume", volume.get::<cubic_meter>())?;
    let volume = Volume::new::<cubic_meter>(v);
    Ok(rate / rate_per_area(volume, bench.ambient(), &bench.gas)?)
}

impl Limit {
    /// The limit as it applies to a run in a direction from a start pressure on a bench.
    ///
    /// # Errors
    /// [`LimitError`] names what is not valid.
    pub fn allowed(
        &self,
        bench: &Bench,
        direction: Direction,
        start: GaugePressure,
    ) -> Result<Allowed, LimitError> {
        let pascals = start.pascals();
        if pascals * direction.sign() <= 0.0 {
            return Err(LimitError::NoFlow {
                start: pascals,
                direction,
            });
        }
        let per_area = rate_per_area(bench.volume.value(), bench.ambient(), &bench.gas)?;
        let by_rate = |rate: f64| Allowed {
            limit: *self,
            basis: Basis::Rate,
            rate,
            area_m2: rate / per_area,
        };
        let by_area = |area_m2: f64| Allowed {
            limit: *self,
            basis: Basis::Area,
            rate: area_m2 * per_area,
            area_m2,
        };
        Ok(match *self {
            Self::Drop {
                drop,
                from,
                over,
                at_volume,
            } => {
                let from = positive("starting pressure", from.get::<pascal>())?;
                let drop = positive("drop", drop.get::<pascal>())?;
                let over = positive("time", over.get::<second>())?;
                let rate = rate_of_fall(bench, direction, from, drop, over)?;
                match at_volume {
                    None => by_rate(rate),
                    Some(volume) => by_area(area_in(volume, rate, bench)?),
                }
            }
            Self::Area(area) => by_area(positive("area", area.get::<square_meter>())?),
            Self::Flow { flow, reference } => {
                let flow = positive("flow", flow.get::<cubic_meter_per_second>())?;
                by_area(flow / flow_per_area(bench, direction, start, &reference)?)
            }
            Self::Hold { time, from } => {
                let time = positive("holding time", time.get::<second>())?;
                let from = from.map_or(start.pascals().abs(), |p| p.get::<pascal>());
                let from = positive("pressure to hold", from)?;
                let step = bench.gauge.step().get::<pascal>();
                if step >= from {
                    return Err(LimitError::StepTooCoarse { step, from });
                }
                by_rate(rate_of_fall(bench, direction, from, step, time)?)
            }
        })
    }
}

/// Volume flow at reference conditions through one square meter of effective area at a gauge pressure \[m/s\].
#[doc(hidden)]
pub fn flow_per_area(
    bench: &Bench,
    direction: Direction,
    gauge: GaugePressure,
    reference: &ReferenceConditions,
) -> Result<f64, QuantityError> {
    use uom::si::mass_density::kilogram_per_cubic_meter;
    let (upstream, downstream) = sides(gauge, direction, bench.ambient())?;
    let state = GasState {
        pressure: reference.pressure(),
        temperature: reference.temperature(),
    };
    Ok(Orifice::mass_flux(&bench.gas, upstream, downstream)
        / bench.gas.density(state).get::<kilogram_per_cubic_meter>())
}

/// The rate k at which the needle falls by `drop` from `from` in `over` seconds.
fn rate_of_fall(
    bench: &Bench,
    direction: Direction,
    from: f64,
    drop: f64,
    over: f64,
) -> Result<f64, LimitError> {
    if drop >= from {
        return Err(LimitError::DropBeyondStart { drop, from });
    }
    let sign = direction.sign();
    let ambient = bench.ambient_pressure.value();
    GaugePressure::from_pascals(sign * from)?.absolute(ambient)?;
    let coordinate = OrificeShape::of_gas(&bench.gas, direction);
    let s = |size: f64| coordinate.of(sign * size / ambient.pascals());
    Ok((s(from) - s(from - drop)) / (coordinate.speed() * over))
}

impl Allowed {
    /// Whether a leak is so far beyond the limit that the lower end of its interval is, by [`doubt::FAR_BEYOND`].
    fn is_far_beyond(&self, rate: &Estimate<Frequency>, area: &Estimate<Area>) -> bool {
        match self.basis {
            Basis::Rate => rate.si().low > doubt::FAR_BEYOND * self.rate,
            Basis::Area => area.si().low > doubt::FAR_BEYOND * self.area_m2,
        }
    }

    /// Probability that a leak of this rate and area is within the limit.
    #[must_use]
    pub fn probability_within(&self, rate: &Estimate<Frequency>, area: &Estimate<Area>) -> f64 {
        match self.basis {
            Basis::Rate => rate.si().probability_within(self.rate),
            Basis::Area => area.si().probability_within(self.area_m2),
        }
    }

    /// Probability that a fitted leak is within the limit, for a verdict: that of its interval, or where its readings may hide scatter that
    /// goes on, what it would be with that, each as likely as it is. An interval that allowed for it would be too wide for most benches; a
    /// verdict has to be right on the others, too.
    #[must_use]
    pub fn probability_for(&self, fit: &Fit) -> f64 {
        self.probability_expected(fit, (&fit.rate, &fit.area))
    }

    /// The same if such a leak's readings gave this rate and area: they then hide in proportion to what they tell.
    #[doc(hidden)]
    #[must_use]
    pub fn probability_expected(
        &self,
        fit: &Fit,
        (rate, area): (&Estimate<Frequency>, &Estimate<Area>),
    ) -> f64 {
        let shown = self.probability_within(rate, area);
        let Some(unshown) = fit.unshown else {
            return shown;
        };
        let width = |rate: &Estimate<Frequency>| rate.si().high - rate.si().value;
        let of_rate = unshown.of_rate * width(rate) / width(&fit.rate);
        if !of_rate.is_finite() {
            return shown;
        }
        let wider = (
            rate.widened_by(of_rate),
            area.widened_by(of_rate / fit.per_area),
        );
        let hidden = self.probability_within(&wider.0, &wider.1);
        shown + unshown.probability * (hidden - shown)
    }
}

/// Of the readings that were taken otherwise, one that turns a verdict round.
fn turned(limit: &Limit, said: Verdict, fit: &Fit, bench: &Bench) -> Option<Doubt> {
    let opposite = match said {
        Verdict::Holds => Verdict::Leaks,
        Verdict::Leaks => Verdict::Holds,
        Verdict::Undecided | Verdict::Stalled => return None,
    };
    let turns = |other: &&Otherwise| {
        let allowed = limit.allowed(bench, fit.direction, other.start);
        let within = allowed.map(|allowed| allowed.probability_within(&other.rate, &other.area));
        // Readings that don't fit together say the same without any one of them, or nothing.
        within.is_ok_and(|within| match other.times {
            None => verdict(within) != said,
            Some(_) => verdict(within) == opposite,
        })
    };
    let other = fit.otherwise.iter().find(turns)?;
    let reading = fit.residuals.get(other.row.checked_sub(1)?)?;
    Some(Doubt::Turned {
        row: other.row,
        reading_pa: reading.reading_pa,
        moved_pa: other.times.map(|times| times * reading.reading_pa),
    })
}

/// Decides a fitted run against a limit: what the fit makes of it, held against the readings themselves. This is the one place
/// where "holds" and "leaks" are given; see [`crate::doubt`].
///
/// # Errors
/// [`LimitError`] where the limit can't be applied to the run.
pub fn decide(limit: &Limit, fit: &Fit, bench: &Bench) -> Result<Decision, LimitError> {
    let allowed = limit.allowed(bench, fit.direction, fit.judged_from())?;
    let probability_within = allowed.probability_for(fit);
    let by_fit = verdict(probability_within);
    let mut doubts = doubt::of_fit(fit, bench);
    // What the needle did comes before what the fit makes of it, but for a pressure that should not have been.
    let at = usize::from(matches!(doubts.first(), Some(Doubt::AboveCaution { .. })));
    let turned = turned(limit, by_fit, fit, bench);
    let of_needle = doubt::of_needle(fit, bench, allowed.rate);
    doubts.splice(at..at, of_needle.into_iter().chain(turned));
    // What the needle lost tells of a leak far beyond its limit without any curve; a curve that is not the readings' tells it with the
    // needle only.
    let of_shape = doubts.iter().any(Doubt::is_of_shape);
    let of_heat = |d: &Doubt| matches!(d, Doubt::BeyondReach(_));
    let by_needle =
        (of_shape || doubts.iter().any(of_heat)) && doubt::lost_far_more(fit, bench, allowed.rate);
    let by_both = || {
        allowed.is_far_beyond(&fit.rate, &fit.area) && doubt::lost_more(fit, bench, allowed.rate)
    };
    let (by_fit, probability_within) = if by_needle {
        (Verdict::Leaks, probability_within.min(PLAIN_TO_SEE))
    } else {
        (by_fit, probability_within)
    };
    if by_fit == Verdict::Leaks && (by_needle || of_shape && by_both()) {
        // It does not hang on one reading either where the needle tells it.
        let is_left_out = |d: &Doubt| matches!(d, Doubt::Turned { moved_pa: None, .. });
        doubts.retain(|d| !(d.is_of_shape() || by_needle && (is_left_out(d) || of_heat(d))));
    }
    let mut decision = Decision {
        allowed,
        probability_within,
        verdict: by_fit.despite(&doubts),
        doubts,
    };
    // What can't be told from a needle that stands still is no leak yet, however small the limit.
    if decision.verdict == Verdict::Leaks && fit.rate.si().low <= 0.0 && !by_needle {
        decision.verdict = Verdict::Undecided;
    }
    if decision.verdict == Verdict::Leaks {
        decision.doubts.retain(Doubt::concerns_leaks);
    }
    Ok(decision)
}

/// Probability of being within its limit that a leak is given which the needle itself tells.
const PLAIN_TO_SEE: f64 = 1e-3;

/// The verdict that a probability of being within the limit gives, before it is held against the readings.
#[must_use]
pub fn verdict(probability_within: f64) -> Verdict {
    if probability_within >= DECISION_PROBABILITY {
        Verdict::Holds
    } else if probability_within <= 1.0 - DECISION_PROBABILITY {
        Verdict::Leaks
    } else {
        Verdict::Undecided
    }
}

#[cfg(test)]
mod tests;
