//! Before the test: what the volume, the pump, the gauge and the hold at hand can show.
//!
//! A [`Plan`] says how many strokes the pressure takes, how long the gas needs to settle, how far the needle should fall
//! for a ladder of holes and for each limit, the least leak that this gauge and hold can tell from none, how long to hold
//! to decide, and what a kelvin or a hectopascal of weather would do to the answer.
//!
//! # What "least leak" means
//! Let u(A) be the standard uncertainty of the area that a run on a leak A is expected to have. With the 5 % errors of
//! [`DECISION_PROBABILITY`](casetight::limit::DECISION_PROBABILITY):
//! - the *bound* 1.645 u(0) is what the readings of a perfectly tight case leave open above zero (its one-sided 95 % upper
//!   end), and the result above which a leak is called one: the *critical value* of `[ISO11843]`. No limit below it can be
//!   said to hold.
//! - the *least leak detected*, 1.645 u(0) + 1.645 u(A) = A, is the leak whose result lies above the critical value 95 times
//!   in 100: the *minimum detectable value* of `[ISO11843]`. A limit is decided, one way or the other, from a leak of zero
//!   and from one at the limit, where this is no more than the limit.

#[cfg(feature = "serde")]
pub mod document;

mod error;
mod intent;
mod outlook;
mod power;
#[cfg(test)]
mod tests;

use crate::pump::{DELIVERY_UNCERTAINTY, Pumped};
use casetight::caution;
use casetight::gauge::{Gauge, GaugeError};
use casetight::leak::EffectiveArea;
use casetight::limit::Limit;
use casetight::measured::Measured;
use casetight::quantity::{GaugePressure, Length, Pressure, TemperatureInterval, Time, Volume};
use casetight::readings::Bench;
use casetight::vessel::{Direction, Heat, IsothermalDecay, VesselError, rate_per_area};

pub use error::PlanError;
pub use intent::{HOLD_SECONDS, INTERVALS, Intent, TARGET_PA};
pub use outlook::{
    Detection, Disturbance, Expected, GaugeOutlook, LimitOutlook, PlanNote, Pumping, RigShare,
    Settling,
};

use intent::PSI;
use power::Power;
use uom::si::length::millimeter;
use uom::si::pressure::pascal;
use uom::si::time::second;
use uom::si::volume::cubic_meter;

/// Diameters of the ladder of holes \[mm\].
pub const LADDER_MM: [f64; 8] = [0.01, 0.02, 0.03, 0.05, 0.1, 0.2, 0.5, 1.0];

/// From this share of the volume under test on, the rig drowns the engine (common practice, no source).
const RIG_DROWNS: f64 = 1.0 / 3.0;

/// Leftover heat is settled when it moves the needle by less than this part of a limit's fall.
const PART_OF_LIMIT: f64 = 0.1;

/// Standard deviations of the heat's priors that the safe settling time allows for.
const SAFE: f64 = 1.645;

/// Gauges that a plan compares: names without maker, and what they read.
const GAUGES: [(&str, GenericGauge); 4] = [
    ("digital, 10 Pa steps", GenericGauge::Digital(10.0)),
    ("digital, 100 Pa steps", GenericGauge::Digital(100.0)),
    ("digital, 1 kPa steps", GenericGauge::Digital(1000.0)),
    (
        "dial of 0.5 psi, read to a quarter",
        GenericGauge::Dial(0.5),
    ),
];

#[derive(Debug, Clone, Copy)]
enum GenericGauge {
    /// Resolution \[Pa\].
    Digital(f64),
    /// Division \[psi\], read to a quarter of it.
    Dial(f64),
}

impl GenericGauge {
    fn gauge(self) -> Result<Gauge, GaugeError> {
        match self {
            Self::Digital(step) => Gauge::digital(Pressure::new::<pascal>(step)),
            Self::Dial(division) => {
                let division = Pressure::new::<pascal>(division * PSI);
                Gauge::dial(division, division / 4.0)
            }
        }
    }
}

/// What to expect of a test.
///
/// ```
/// use casetight::gas::Gas;
/// use casetight::gauge::Gauge;
/// use casetight::limit::Rule;
/// use casetight::measured::{Distribution, Evaluation, Measured};
/// use casetight_bench::plan::{Intent, Plan};
/// use casetight_bench::pump::HandPump;
/// use casetight::quantity::{
///     AbsolutePressure, GaugePressure, Pressure, TemperatureDrift, ThermodynamicTemperature, Time, TradeUnits, Volume,
/// };
/// use casetight::readings::Bench;
/// use uom::si::{thermodynamic_temperature::kelvin, time::second};
///
/// let normal = Evaluation::TypeB(Distribution::Normal);
/// let bench = Bench {
///     volume: Measured::new(Volume::parse("250 cm3")?, Volume::parse("5 cm3")?, normal)?,
///     ambient_pressure: Measured::exact(AbsolutePressure::parse("1013.25 hPa")?)?,
///     temperature: Measured::exact(ThermodynamicTemperature::new::<kelvin>(293.15))?,
///     drift_allowance: TemperatureDrift::parse("0.1 K/min")?,
///     effects: casetight::readings::Effects::none(),
///     heat: casetight::vessel::Heat::default(),
///     gauge: Gauge::digital(Pressure::parse("100 Pa")?)?,
///     gas: Gas::dry_air(),
/// };
/// let intent = Intent {
///     target: GaugePressure::parse("7 psi")?,
///     hold: Time::parse("60 s")?,
///     every: Time::parse("6 s")?,
///     pump: HandPump::new(Volume::parse("25 cm3")?, Volume::parse("0 cm3")?, Time::parse("1 s")?)?,
///     discharge_coefficient: 0.62,
/// };
/// let plan = Plan::new(&bench, None, &[Rule::OnePsiAMinute.limit()], &intent)?;
/// assert!((plan.pumping.strokes - 4.763).abs() < 1e-3);
/// // 1 psi in a minute is a long way for this gauge: less than the minute decides.
/// let decides = plan.limits[0].decides_after.ok_or("never")?;
/// assert!(decides.get::<second>() < 60.0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// Pressure or vacuum.
    pub direction: Direction,
    /// How the test is meant to be run.
    pub intent: Intent,
    /// How many readings that makes.
    pub readings: u32,
    /// The volume under test.
    pub volume: Measured<Volume>,
    /// The rig within it, where it is known apart.
    pub rig: Option<RigShare>,
    /// Pumping up.
    pub pumping: Pumping,
    /// Waiting for the gas.
    pub settling: Settling,
    /// One for each limit.
    pub limits: Vec<LimitOutlook>,
    /// A ladder of holes ([`LADDER_MM`]).
    pub ladder: Vec<Expected>,
    /// What the sheet's gauge can tell in this hold.
    pub detection: Detection,
    /// What other gauges could.
    pub gauges: Vec<GaugeOutlook>,
    /// Gas and wall one kelvin warmer at the end of the hold than at its start.
    pub one_kelvin: Disturbance,
    /// The barometer one hectopascal higher at the end of the hold than at its start.
    pub one_hectopascal: Disturbance,
    /// What to know.
    pub notes: Vec<PlanNote>,
}

impl Plan {
    /// What to expect of a test on this bench; `rig` is the part of its volume that hose and gauge make up, where known.
    ///
    /// Valid for slow leaks through something like an orifice: the gas is taken at the wall's temperature once it has
    /// settled, so a hole that empties the case within the settling time is quicker at first than shown.
    ///
    /// # Errors
    /// [`PlanError`] names what is not valid.
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a whole number of readings, two or more; beyond what a u32 holds the cast saturates"
    )]
    pub fn new(
        bench: &Bench,
        rig: Option<&Measured<Volume>>,
        limits: &[Limit],
        intent: &Intent,
    ) -> Result<Self, PlanError> {
        let direction = check(bench, intent)?;
        let per_area = rate_per_area(bench.volume.value(), bench.ambient(), &bench.gas)?;
        let power = Power::new(bench, intent, per_area);
        let ladder = LADDER_MM
            .iter()
            .map(|mm| {
                let hole = Length::new::<millimeter>(*mm);
                let area = EffectiveArea::of_hole(hole, intent.discharge_coefficient)?;
                expected(bench, intent, &power, area)
            })
            .collect::<Result<Vec<_>, _>>()?;
        let limits = limits
            .iter()
            .map(|limit| {
                let allowed = limit.allowed(bench, direction, intent.target)?;
                let area = EffectiveArea::from_square_meters(allowed.area_m2)?;
                Ok(LimitOutlook {
                    allowed,
                    at_limit: expected(bench, intent, &power, area)?,
                    decides_after: power.decides_after(&allowed),
                    pumping: intent.pump.pump_to(intent.target, area, bench)?,
                })
            })
            .collect::<Result<Vec<_>, PlanError>>()?;
        let strictest = strictest(&limits);
        let one_kelvin = {
            let inside = intent.target.absolute(bench.ambient_pressure.value())?;
            disturbance(
                bench,
                intent,
                per_area,
                inside.pascals() / bench.ambient().kelvins(),
            )?
        };
        let rig = rig.map(|rig| rig_share(rig, &bench.volume)).transpose()?;
        let notes = notes(strictest, rig.as_ref(), &one_kelvin, intent);
        Ok(Self {
            direction,
            intent: *intent,
            readings: power.readings() as u32,
            volume: bench.volume.clone(),
            rig,
            pumping: pumping(bench, intent)?,
            settling: settling(bench, intent, strictest)?,
            detection: power.detection()?,
            gauges: gauges(bench, intent, per_area, strictest)?,
            one_kelvin,
            one_hectopascal: disturbance(bench, intent, per_area, -100.0)?,
            limits,
            ladder,
            notes,
        })
    }

    /// Takes note that the rig was tested alone in this direction: it is not asked for again.
    pub fn rig_is_tested(&mut self) {
        for note in &mut self.notes {
            if let PlanNote::RigDrowns { tested, .. } = note {
                *tested = true;
            }
        }
    }

    /// The limit that allows the least leak.
    #[must_use]
    pub fn strictest(&self) -> Option<&LimitOutlook> {
        strictest(&self.limits)
    }
}

fn strictest(limits: &[LimitOutlook]) -> Option<&LimitOutlook> {
    limits
        .iter()
        .min_by(|a, b| a.allowed.area_m2.total_cmp(&b.allowed.area_m2))
}

fn check(bench: &Bench, intent: &Intent) -> Result<Direction, PlanError> {
    let target = intent.target.pascals();
    let direction = Direction::of(intent.target).ok_or(VesselError::NoPressure)?;
    intent.target.absolute(bench.ambient_pressure.value())?;
    bench.heat.check()?;
    let most = caution::pressure_limit().get::<pascal>();
    if direction == Direction::Pressure && target > most {
        return Err(PlanError::AboveCaution { target, most });
    }
    let (hold, every) = (intent.hold.get::<second>(), intent.every.get::<second>());
    for (what, got) in [("hold", hold), ("time between readings", every)] {
        if !(got.is_finite() && got > 0.0) {
            return Err(PlanError::NotPositive { what, got });
        }
    }
    // A tenth of a hold ten times over may end a rounding short of it.
    if every > hold * (1.0 + 1e-9) {
        return Err(PlanError::OneReading { every, hold });
    }
    let step = bench.gauge.step().get::<pascal>();
    if step >= target.abs() {
        let target = target.abs();
        return Err(PlanError::StepTooCoarse { step, target });
    }
    Ok(direction)
}

fn decay(
    bench: &Bench,
    intent: &Intent,
    area: EffectiveArea,
) -> Result<IsothermalDecay, PlanError> {
    Ok(IsothermalDecay::new(
        area,
        bench.volume.value(),
        intent.target,
        bench.ambient(),
        &bench.gas,
    )?)
}

fn expected(
    bench: &Bench,
    intent: &Intent,
    power: &Power<'_>,
    area: EffectiveArea,
) -> Result<Expected, PlanError> {
    let decay = decay(bench, intent, area)?;
    let start = intent.target.pascals();
    let fall = (start - decay.gauge_at(intent.hold).pascals()).abs();
    let step = bench.gauge.step().get::<pascal>();
    let one_step = GaugePressure::from_pascals(start - start.signum() * step)?;
    let square_meters = area.square_meters();
    let uncertainty = power
        .area_uncertainty(square_meters)
        .unwrap_or(f64::INFINITY);
    Ok(Expected {
        area,
        diameter: area.diameter(intent.discharge_coefficient)?,
        fall: Pressure::new::<pascal>(fall),
        steps: fall / step,
        one_step_after: decay.time_to(one_step),
        at_zero_after: decay.ends_after(),
        relative_uncertainty: uncertainty / square_meters,
    })
}

fn rig_share(rig: &Measured<Volume>, tested: &Measured<Volume>) -> Result<RigShare, PlanError> {
    let (of_rig, volume) = (
        rig.value().get::<cubic_meter>(),
        tested.value().get::<cubic_meter>(),
    );
    if of_rig >= volume {
        return Err(PlanError::Rig {
            rig: of_rig,
            volume,
        });
    }
    Ok(RigShare {
        volume: rig.clone(),
        share: of_rig / volume,
        costs: volume / (volume - of_rig),
    })
}

fn pumping(bench: &Bench, intent: &Intent) -> Result<Pumping, PlanError> {
    let pump = intent.pump;
    let ambient = bench.ambient_pressure.value();
    let strokes = pump.strokes_to(intent.target, bench.volume.value(), ambient)?;
    let relative = DELIVERY_UNCERTAINTY.hypot(bench.volume.relative().unwrap_or(0.0));
    let halfway =
        GaugePressure::new(intent.target.size() * (0.5 * intent.target.pascals().signum()))?;
    Ok(Pumping {
        pump,
        strokes,
        strokes_uncertainty: relative * strokes,
        stalls_at_target: pump.leak_at(intent.target, bench)?,
        stalls_halfway: pump.leak_at(halfway, bench)?,
    })
}

/// What is left of an excess e0 after a time t is e0 exp(-t/tau), and moves the needle by p times that.
fn settling(
    bench: &Bench,
    intent: &Intent,
    strictest: Option<&LimitOutlook>,
) -> Result<Settling, PlanError> {
    let heat = Heat {
        settled_for: Heat::ISOTHERMAL.settled_for,
        ..bench.heat
    };
    let inside = intent
        .target
        .absolute(bench.ambient_pressure.value())?
        .pascals();
    let y = intent.target.pascals() / bench.ambient_pressure.value().pascals();
    let prior = heat.prior(bench.volume.value(), bench.ambient(), &bench.gas, y);
    // Two of the prior's standard deviations: all of what pumping without loss of heat would do.
    let excess = 2.0 * prior.excess_uncertainty;
    let step = bench.gauge.step().get::<pascal>();
    let allowed = strictest.map_or(step, |limit| {
        step.min(PART_OF_LIMIT * limit.at_limit.fall.get::<pascal>())
    });
    let constants = prior.settling_times(inside * excess / allowed);
    let tau = prior.ln_settling_time.exp();
    let slow = (prior.ln_settling_time + SAFE * prior.ln_settling_time_uncertainty).exp();
    Ok(Settling {
        excess: TemperatureInterval::new::<uom::si::temperature_interval::kelvin>(
            excess * bench.ambient().kelvins(),
        ),
        time_constant: Time::new::<second>(tau),
        allowed: Pressure::new::<pascal>(allowed),
        usual: Time::new::<second>(tau * constants),
        safe: Time::new::<second>(slow * constants),
    })
}

fn gauges(
    bench: &Bench,
    intent: &Intent,
    per_area: f64,
    strictest: Option<&LimitOutlook>,
) -> Result<Vec<GaugeOutlook>, PlanError> {
    let mut gauges = Vec::with_capacity(GAUGES.len());
    for (name, generic) in GAUGES {
        let bench = Bench {
            gauge: generic.gauge()?,
            ..bench.clone()
        };
        // A gauge too coarse for the target has no place in the list.
        if check(&bench, intent).is_err() {
            continue;
        }
        let power = Power::new(&bench, intent, per_area);
        let decides_after = strictest.and_then(|limit| {
            // A limit on holding is stated in the gauge's own steps.
            let direction = Direction::of(intent.target)?;
            let allowed = limit
                .allowed
                .limit
                .allowed(&bench, direction, intent.target)
                .ok()?;
            power.decides_after(&allowed)
        });
        gauges.push(GaugeOutlook {
            name,
            gauge: bench.gauge,
            detection: power.detection()?,
            decides_after,
        });
    }
    Ok(gauges)
}

/// A change of the gauge pressure \[Pa\] over the hold, and the leak that starts out as fast.
fn disturbance(
    bench: &Bench,
    intent: &Intent,
    per_area: f64,
    needle: f64,
) -> Result<Disturbance, PlanError> {
    let direction = Direction::of(intent.target).ok_or(VesselError::NoPressure)?;
    let ambient = bench.ambient_pressure.value().pascals();
    let y = intent.target.pascals() / ambient;
    let flow = casetight::below::flow_of_hole(&bench.gas, direction, y);
    // dp/dt = k flow p_u, the pressure upstream being the larger one.
    let speed = flow * ambient * (1.0 + y.max(0.0));
    let rate = needle.abs() / (intent.hold.get::<second>() * speed);
    Ok(Disturbance {
        needle: Pressure::new::<pascal>(needle),
        area: EffectiveArea::from_square_meters(rate / per_area)?,
        like_a_leak: needle * direction.sign() < 0.0,
    })
}

fn notes(
    strictest: Option<&LimitOutlook>,
    rig: Option<&RigShare>,
    one_kelvin: &Disturbance,
    intent: &Intent,
) -> Vec<PlanNote> {
    let mut notes = Vec::new();
    let hold = intent.hold.get::<second>();
    if let Some(limit) = strictest {
        let at_limit = &limit.at_limit;
        match limit.decides_after.map(|t| t.get::<second>()) {
            None => notes.push(PlanNote::NoHoldDecides),
            Some(decides_after) if decides_after > hold => {
                notes.push(PlanNote::HoldLonger { decides_after });
            }
            Some(_) => {}
        }
        if let Some(one_step_after) = at_limit.one_step_after.filter(|_| at_limit.steps < 1.0) {
            let one_step_after = one_step_after.get::<second>();
            notes.push(PlanNote::UnderAStep { one_step_after });
        }
        if let Some(at_zero_after) = at_limit.at_zero_after.map(|t| t.get::<second>())
            && at_zero_after < hold
        {
            notes.push(PlanNote::EmptiesBefore { at_zero_after });
        }
        if let Pumped::Stalls { needle } = limit.pumping {
            let needle = needle.pascals();
            notes.push(PlanNote::PumpTooSmall { needle });
        }
        let times = one_kelvin.area.square_meters() / limit.allowed.area_m2;
        if times > 1.0 {
            notes.push(PlanNote::KelvinOutweighs { times });
        }
    } else {
        notes.push(PlanNote::NoLimit);
    }
    if let Some(share) = rig.map(|rig| rig.share).filter(|share| *share > RIG_DROWNS) {
        notes.push(PlanNote::RigDrowns {
            share,
            tested: false,
        });
    }
    notes
}
