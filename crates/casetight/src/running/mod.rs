//! What a leak does to the mixture while the engine runs: an estimate, from the pressure in the crankcase over one turn.
//!
//! While the case lies below ambient, air that no carburetor has seen is drawn in through the leak; while it lies above,
//! mixture is blown out. The leak is the one that the tests measured; the pressure in the running case is a model
//! ([`CasePressure`]) with assumptions that are listed with every result ([`ASSUMPTIONS`]) and whose stated ranges go into
//! its interval. No result of this module is a measurement.

#[cfg(feature = "serde")]
pub mod document;
#[cfg(test)]
mod tests;

use std::f64::consts::{PI, TAU};

use uom::si::angle::{degree, radian};
use uom::si::frequency::hertz;
use uom::si::mass_density::kilogram_per_cubic_meter;
use uom::si::mass_rate::kilogram_per_second;
use uom::si::ratio::ratio;
use uom::si::volume::cubic_meter;

use crate::gas::{Gas, GasState};
use crate::leak::LeakLaw;
use crate::measured::{Distribution, Evaluation, Measured, MeasuredError};
use crate::quantity::{AbsolutePressure, Angle, Frequency, GaugePressure, QuantityError, Ratio};
use crate::volume::{Crank, Engine, VolumeError};

/// Below this rise of lambda a shift looks like nothing, and [`SMALL_IS_NOT_HARMLESS`] belongs beside it: one percent.
pub const SMALL_SHIFT: f64 = 0.01;

/// What belongs beside a shift of less than [`SMALL_SHIFT`]. Source: common practice, no publication.
pub const SMALL_IS_NOT_HARMLESS: &str = "Leaner by less than a percent does not make the leak harmless: a lip seal that leaks a \
     little when it stands may leak more when it turns and is warm, and no bench test at standstill shows that (no source). \
     Loosen no limit on the word of this estimate";

/// What every result of this module takes for granted, a sentence each.
pub const ASSUMPTIONS: &[&str] = &[
    "Estimate, not a measurement: the pressure in the running case is computed, not read.",
    "The case is at ambient pressure when the transfer ports close; the mixture of a turn comes in evenly over the crank angle \
     while the intake is open, and leaves evenly while the transfers are open.",
    "Between, the gas follows a polytrope of the stated exponent. Pressure waves in intake and exhaust are left out, and a \
     reed valve is taken as a port that is open from the stated angle to the stated angle.",
    "The leak passes at each moment what it would pass at a steady pressure difference, air in at ambient temperature and \
     mixture out at the same; it is too small to change the pressure in the case.",
    "The carburetor gives the fuel for the air that goes through it. Air that leaks in gets none; mixture that leaks out \
     takes its fuel with it, and so makes nothing leaner.",
    "The seals leak when running as they did in the test: no allowance for heat, wear while turning, or oil.",
];

/// Steps that each phase of a turn is integrated in.
const STEPS: u32 = 240;

/// The highest exponent of a polytrope that is taken: somewhat above that of air without any loss of heat.
const MOST_EXPONENT: f64 = 1.7;

/// The highest delivery ratio that is taken.
const MOST_DELIVERY: f64 = 1.5;

/// Port timing, each angle with its uncertainty, after or before top dead center.
#[derive(Debug, Clone, PartialEq)]
pub struct Ports {
    /// Exhaust opens, after top; it closes as far before.
    pub exhaust_opens: Measured<Angle>,
    /// Transfers open, after top; they close as far before.
    pub transfer_opens: Measured<Angle>,
    /// Intake opens, before top.
    pub intake_opens: Measured<Angle>,
    /// Intake closes, after top.
    pub intake_closes: Measured<Angle>,
}

/// Speed, and how much air a turn takes in.
#[derive(Debug, Clone, PartialEq)]
pub struct Load {
    /// Turns in a time.
    pub speed: Frequency,
    /// Mass of air that goes through the carburetor in a turn over swept volume times ambient density.
    pub delivery_ratio: Measured<Ratio>,
}

/// How the engine runs.
#[derive(Debug, Clone, PartialEq)]
pub struct Conditions {
    /// Port timing.
    pub ports: Ports,
    /// Exponent of the polytrope that the gas in the case follows.
    pub polytropic_exponent: Measured<Ratio>,
    /// Idling.
    pub idle: Load,
    /// Full throttle.
    pub full: Load,
}

/// Typical values where an engine's own are not stated (common practice of small piston-ported engines, from memory, no
/// source; that of the transfers is what tuning pages on the web give for 6000 to 8000 rpm, half of 120 to 124 degrees
/// off the bottom): value and half-width of a rectangular distribution.
pub mod typical {
    /// Exhaust opens \[deg after top\].
    pub const EXHAUST_OPENS: (f64, f64) = (108.0, 5.0);
    /// Transfers open \[deg after top\].
    pub const TRANSFER_OPENS: (f64, f64) = (120.0, 5.0);
    /// Intake opens \[deg before top\].
    pub const INTAKE_OPENS: (f64, f64) = (65.0, 10.0);
    /// Intake closes \[deg after top\].
    pub const INTAKE_CLOSES: (f64, f64) = (65.0, 10.0);
    /// Exponent of the polytrope.
    pub const POLYTROPIC_EXPONENT: (f64, f64) = (1.3, 0.1);
    /// Speed at idle \[rpm\].
    pub const IDLE_RPM: f64 = 2800.0;
    /// Delivery ratio at idle.
    pub const IDLE_DELIVERY_RATIO: (f64, f64) = (0.25, 0.10);
    /// Speed at full throttle \[rpm\].
    pub const FULL_RPM: f64 = 9000.0;
    /// Delivery ratio at full throttle.
    pub const FULL_DELIVERY_RATIO: (f64, f64) = (0.60, 0.15);
}

/// [`Measured::source`] of a value of [`typical`].
pub const TYPICAL: &str = "typical of small two-stroke engines, common practice";

impl Conditions {
    /// [`typical`] values.
    ///
    /// # Errors
    /// None, but for constants that were edited into something impossible: [`RunningError::Measured`].
    pub fn typical() -> Result<Self, RunningError> {
        let angle = |(value, half): (f64, f64)| -> Result<_, MeasuredError> {
            let degrees = Angle::new::<degree>;
            let range = Distribution::Rectangular;
            Ok(
                Measured::from_half_width(degrees(value), degrees(half), range)?
                    .with_source(TYPICAL),
            )
        };
        let number = |(value, half): (f64, f64)| -> Result<_, MeasuredError> {
            let number = Ratio::new::<ratio>;
            let range = Distribution::Rectangular;
            Ok(Measured::from_half_width(number(value), number(half), range)?.with_source(TYPICAL))
        };
        let rpm = |value: f64| Frequency::new::<hertz>(value / 60.0);
        Ok(Self {
            ports: Ports {
                exhaust_opens: angle(typical::EXHAUST_OPENS)?,
                transfer_opens: angle(typical::TRANSFER_OPENS)?,
                intake_opens: angle(typical::INTAKE_OPENS)?,
                intake_closes: angle(typical::INTAKE_CLOSES)?,
            },
            polytropic_exponent: number(typical::POLYTROPIC_EXPONENT)?,
            idle: Load {
                speed: rpm(typical::IDLE_RPM),
                delivery_ratio: number(typical::IDLE_DELIVERY_RATIO)?,
            },
            full: Load {
                speed: rpm(typical::FULL_RPM),
                delivery_ratio: number(typical::FULL_DELIVERY_RATIO)?,
            },
        })
    }
}

impl Conditions {
    /// Checks port timing, delivery ratios and exponent at their best values.
    ///
    /// # Errors
    /// [`RunningError::Ports`], [`RunningError::Range`], [`RunningError::Speed`].
    pub fn check(&self) -> Result<(), RunningError> {
        for load in [&self.idle, &self.full] {
            load.check()?;
            Numbers::best(self, load, 1.0).check()?;
        }
        Ok(())
    }
}

impl Load {
    /// The speed \[Hz\], finite and above zero.
    fn check(&self) -> Result<f64, RunningError> {
        let got = self.speed.get::<hertz>();
        if got.is_finite() && got > 0.0 {
            Ok(got)
        } else {
            Err(RunningError::Speed { got })
        }
    }
}

/// What can be wrong with an estimate of the running engine.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum RunningError {
    /// The ports must open in their order, over the whole of their stated ranges.
    #[error(
        "intake closes {intake_closes} deg and exhaust opens {exhaust_opens} deg, transfers {transfer_opens} deg after top, intake opens {intake_opens} deg before top: intake must be shut before the transfers open, exhaust open before them, and none past bottom"
    )]
    Ports {
        /// After top, in degrees.
        exhaust_opens: f64,
        /// After top, in degrees.
        transfer_opens: f64,
        /// Before top, in degrees.
        intake_opens: f64,
        /// After top, in degrees.
        intake_closes: f64,
    },
    /// A number outside its range, over the whole of its stated range.
    #[error("the {what} is {got}, which is outside {least} to {most}")]
    Range {
        /// Which one.
        what: &'static str,
        /// What was given, or the end of its range.
        got: f64,
        /// Least that is taken.
        least: f64,
        /// Most that is taken.
        most: f64,
    },
    /// A speed is finite and above zero.
    #[error("the speed is {got} Hz; it must be finite and above zero")]
    Speed {
        /// What was given, in hertz.
        got: f64,
    },
    /// The law gives no flow.
    #[error(
        "the leak law \"{law}\" gives no flow; it may need the viscosity of a gas that has none"
    )]
    NoFlow {
        /// The law.
        law: &'static str,
    },
    /// The engine.
    #[error(transparent)]
    Volume(#[from] VolumeError),
    /// A range.
    #[error(transparent)]
    Measured(#[from] MeasuredError),
    /// A pressure.
    #[error(transparent)]
    Quantity(#[from] QuantityError),
}

/// The pressure in the crankcase over one turn.
///
/// With V(theta) the case's volume from the slider-crank, m the gas in it, counted as the volume that it would have at
/// ambient pressure, and `V_tc` the volume when the transfers close:
///
/// - transfers shut to intake open: m = `V_tc`
/// - intake open: m grows evenly to `V_tc` + DR `V_swept`
/// - intake shut to transfers open: m = `V_tc` + DR `V_swept`
/// - transfers open: m falls evenly to `V_tc`
/// - at all times p = `p_a` (m/V)^n
///
/// The turn closes in itself, and what goes in over the intake leaves over the transfers. Source: derived, with the
/// assumptions in [`ASSUMPTIONS`].
///
/// ```
/// use casetight::measured::{Distribution, Measured};
/// use casetight::quantity::{AbsolutePressure, Angle, Length, Ratio, TradeUnits};
/// use casetight::running::{CasePressure, Conditions};
/// use casetight::volume::Engine;
///
/// let exact = |text: &str| -> Result<_, Box<dyn std::error::Error>> { Ok(Measured::exact(Length::parse(text)?)?) };
/// let primary = Measured::exact(Ratio::parse("1.42")?)?;
/// let engine = Engine::new(exact("46 mm")?, exact("31 mm")?, exact("55 mm")?, primary)?;
/// let running = Conditions::typical()?;
/// let ambient = AbsolutePressure::parse("1013.25 hPa")?;
/// let idle = CasePressure::new(&engine, &running, &running.idle, ambient)?;
/// // Below ambient at the top, above it when the transfers open.
/// assert!(idle.gauge_at(Angle::parse("0 deg")?).is_vacuum());
/// assert!(!idle.gauge_at(Angle::parse("120 deg")?).is_vacuum());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CasePressure {
    crank: Crank,
    swept: f64,
    bottom: f64,
    ambient: f64,
    /// Angles \[rad\]: intake closes, transfers open, transfers close, intake opens.
    events: [f64; 4],
    /// Gas taken in, as a volume at ambient pressure.
    delivered: f64,
    exponent: f64,
}

/// Numbers that an estimate is made with; those with a range are varied one by one.
#[derive(Debug, Clone, Copy)]
struct Numbers {
    exhaust_opens: f64,
    transfer_opens: f64,
    intake_opens: f64,
    intake_closes: f64,
    delivery_ratio: f64,
    exponent: f64,
    bottom: f64,
}

impl CasePressure {
    /// The pressure over a turn of an engine at a load, all at their best values.
    ///
    /// # Errors
    /// [`RunningError::Ports`], [`RunningError::Range`], [`RunningError::Volume`].
    pub fn new(
        engine: &Engine,
        conditions: &Conditions,
        load: &Load,
        ambient: AbsolutePressure,
    ) -> Result<Self, RunningError> {
        let bottom = engine.at(Angle::HALF_TURN)?.case_side.value();
        let numbers = Numbers::best(conditions, load, bottom.get::<cubic_meter>());
        Self::from_numbers(engine, &numbers, ambient)
    }

    fn from_numbers(
        engine: &Engine,
        numbers: &Numbers,
        ambient: AbsolutePressure,
    ) -> Result<Self, RunningError> {
        numbers.check()?;
        let swept = engine.swept_volume()?.value().get::<cubic_meter>();
        Ok(Self {
            crank: engine.crank(),
            swept,
            bottom: numbers.bottom,
            ambient: ambient.pascals(),
            events: [
                numbers.intake_closes,
                numbers.transfer_opens,
                TAU - numbers.transfer_opens,
                TAU - numbers.intake_opens,
            ],
            delivered: numbers.delivery_ratio * swept,
            exponent: numbers.exponent,
        })
    }

    /// Volume of the case \[m3\] at an angle after top.
    fn volume(&self, theta: f64) -> f64 {
        // An angle that is no number has no volume either.
        let travel = self
            .crank
            .travel(Angle::new::<radian>(theta))
            .map_or(f64::NAN, |s| s.value);
        self.bottom + self.swept * (1.0 - travel / self.crank.stroke().value)
    }

    /// Absolute pressure \[Pa\] at an angle \[rad\] after top, within one turn.
    fn pascals_at(&self, theta: f64) -> f64 {
        let [closes, transfers_open, transfers_close, opens] = self.events;
        let base = self.volume(transfers_close);
        let intake = TAU - opens + closes;
        let part = if theta < closes {
            (theta + TAU - opens) / intake
        } else if theta < transfers_open {
            1.0
        } else if theta < transfers_close {
            1.0 - (theta - transfers_open) / (transfers_close - transfers_open)
        } else if theta < opens {
            0.0
        } else {
            (theta - opens) / intake
        };
        let gas = base + self.delivered * part;
        self.ambient * (gas / self.volume(theta)).powf(self.exponent)
    }

    /// Gauge pressure in the case at a crank angle after top dead center; zero for an angle that is not finite.
    #[must_use]
    pub fn gauge_at(&self, after_top: Angle) -> GaugePressure {
        let theta = after_top.get::<radian>().rem_euclid(TAU);
        GaugePressure::from_pascals(self.pascals_at(theta) - self.ambient)
            .unwrap_or(GaugePressure::ZERO)
    }

    /// Angles and weights of the middle of each step of a turn: the weights add up to one.
    fn middles(&self) -> impl Iterator<Item = (f64, f64)> {
        let [closes, transfers_open, transfers_close, opens] = self.events;
        let ends = [0.0, closes, transfers_open, transfers_close, opens, TAU];
        let starts = ends;
        starts
            .into_iter()
            .zip(ends.into_iter().skip(1))
            .flat_map(|(from, to)| {
                let step = (to - from) / f64::from(STEPS);
                (0..STEPS).map(move |i| (from + step * (f64::from(i) + 0.5), step / TAU))
            })
    }

    /// Lowest and highest gauge pressure of the turn.
    #[must_use]
    pub fn extremes(&self) -> (GaugePressure, GaugePressure) {
        let (low, high) = self
            .middles()
            .map(|(theta, _)| theta)
            .chain(self.events)
            .map(|theta| self.pascals_at(theta) - self.ambient)
            .fold((0.0_f64, 0.0_f64), |(low, high), p| {
                (low.min(p), high.max(p))
            });
        let gauge = |p| GaugePressure::from_pascals(p).unwrap_or(GaugePressure::ZERO);
        (gauge(low), gauge(high))
    }

    /// Mean over a turn of the mass flow \[kg/s\] into the case, and out of it, through leaks.
    fn mean_flows(
        &self,
        inward: &dyn LeakLaw,
        outward: &dyn LeakLaw,
        surroundings: &Surroundings<'_>,
    ) -> Result<(f64, f64), RunningError> {
        let flow = |law: &dyn LeakLaw, upstream, downstream| {
            let flow = law
                .mass_flow(surroundings.gas, upstream, downstream)
                .get::<kilogram_per_second>();
            if flow.is_finite() {
                Ok(flow)
            } else {
                Err(RunningError::NoFlow { law: law.name() })
            }
        };
        let ambient = surroundings.ambient;
        let (mut into, mut out) = (0.0, 0.0);
        for (theta, weight) in self.middles() {
            let inside = AbsolutePressure::from_pascals(self.pascals_at(theta))?;
            if inside < ambient.pressure {
                into += weight * flow(inward, ambient, inside)?;
            } else {
                let upstream = GasState {
                    pressure: inside,
                    ..ambient
                };
                out += weight * flow(outward, upstream, ambient.pressure)?;
            }
        }
        Ok((into, out))
    }
}

impl Numbers {
    fn best(conditions: &Conditions, load: &Load, bottom: f64) -> Self {
        let angle = |angle: &Measured<Angle>| angle.value().get::<radian>();
        let ports = &conditions.ports;
        Self {
            exhaust_opens: angle(&ports.exhaust_opens),
            transfer_opens: angle(&ports.transfer_opens),
            intake_opens: angle(&ports.intake_opens),
            intake_closes: angle(&ports.intake_closes),
            delivery_ratio: load.delivery_ratio.value().get::<ratio>(),
            exponent: conditions.polytropic_exponent.value().get::<ratio>(),
            bottom,
        }
    }

    fn check(&self) -> Result<(), RunningError> {
        let in_order = self.intake_closes > 0.0
            && self.intake_opens > 0.0
            && self.intake_closes < self.transfer_opens
            && self.intake_opens < self.transfer_opens
            && self.exhaust_opens > 0.0
            && self.exhaust_opens < self.transfer_opens
            && self.transfer_opens < PI;
        if !in_order {
            return Err(RunningError::Ports {
                exhaust_opens: self.exhaust_opens.to_degrees(),
                transfer_opens: self.transfer_opens.to_degrees(),
                intake_opens: self.intake_opens.to_degrees(),
                intake_closes: self.intake_closes.to_degrees(),
            });
        }
        for (what, got, least, most) in [
            ("delivery ratio", self.delivery_ratio, 0.01, MOST_DELIVERY),
            ("polytropic exponent", self.exponent, 1.0, MOST_EXPONENT),
        ] {
            // A range that just ends at a bound may end a rounding beyond it.
            let room = 1e-9 * most;
            if !(least - room..=most + room).contains(&got) {
                return Err(RunningError::Range {
                    what,
                    got,
                    least,
                    most,
                });
            }
        }
        Ok(())
    }
}

/// The air around, and the gas that it is.
struct Surroundings<'g> {
    ambient: GasState,
    gas: &'g Gas,
}

/// A leak as it was measured: best, least and largest, of any law; no largest where the test gave a lower bound only.
#[derive(Debug, Clone, Copy)]
pub struct LeakRange<'l> {
    /// Best estimate.
    pub law: &'l dyn LeakLaw,
    /// Lower end.
    pub low: &'l dyn LeakLaw,
    /// Upper end.
    pub high: Option<&'l dyn LeakLaw>,
}

/// A value with the ends of its interval, the upper one missing where nothing bounds it.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct Estimate {
    /// Best estimate.
    pub value: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: Option<f64>,
}

/// What an assumption adds to the interval of the lean shift.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct Share {
    /// Which.
    pub from: &'static str,
    /// By how much its range lowers the shift.
    pub down: f64,
    /// By how much it raises it; none where nothing bounds it.
    pub up: Option<f64>,
}

/// The estimate for one load.
#[derive(Debug, Clone, PartialEq)]
pub struct LeanShift {
    /// The load.
    pub load: Load,
    /// Pressure over the turn, at best values.
    pub pressure: CasePressure,
    /// Air that the carburetor gives a turn \[kg\].
    pub delivered_kg: f64,
    /// Air that leaks in a turn \[kg\], by the leak's interval alone.
    pub leaked_in_kg: Estimate,
    /// Mixture that leaks out a turn \[kg\], by the leak's interval alone.
    pub leaked_out_kg: Estimate,
    /// Relative rise of lambda, and so of the air/fuel ratio: leaked air over delivered air, an estimate.
    pub shift: Estimate,
    /// What the interval of the shift comes from; the parts add in quadrature.
    pub shares: Vec<Share>,
}

impl LeanShift {
    /// Whether the shift is so small that [`SMALL_IS_NOT_HARMLESS`] belongs beside it.
    #[must_use]
    pub fn is_small(&self) -> bool {
        self.shift.value < SMALL_SHIFT
    }

    /// Estimate of what a leak does to the mixture at a load.
    ///
    /// The shift is m(in)/m(delivered), with the leak for air that goes in (that of a vacuum test) and the one for mixture
    /// that goes out (of a pressure test). Its interval: the leak's own, and the ranges of port timing, delivery ratio,
    /// exponent and case volume, each varied alone to the ends of its range (95 % for a normal one), in quadrature; and
    /// upward what it would be if the leaked air took the place of delivered air, m/(1 - m). With no leak found, the
    /// upper end's half stands for the size that the assumptions act on.
    ///
    /// # Errors
    /// [`RunningError`] names what can't be.
    pub fn new(
        engine: &Engine,
        conditions: &Conditions,
        load: &Load,
        (inward, outward): (&LeakRange<'_>, &LeakRange<'_>),
        (ambient, gas): (GasState, &Gas),
    ) -> Result<Self, RunningError> {
        let speed = load.check()?;
        let surroundings = Surroundings { ambient, gas };
        let bottom = engine.at(Angle::HALF_TURN)?.case_side;
        let numbers = Numbers::best(conditions, load, bottom.value().get::<cubic_meter>());
        let pressure = CasePressure::from_numbers(engine, &numbers, ambient.pressure)?;
        let density = gas.density(ambient).get::<kilogram_per_cubic_meter>();
        let delivered_kg = pressure.delivered * density;

        let turn = |inward, outward| {
            let (into, out) = pressure.mean_flows(inward, outward, &surroundings)?;
            Ok::<_, RunningError>((into / speed, out / speed))
        };
        let (into, out) = turn(inward.law, outward.law)?;
        let (into_low, out_low) = turn(inward.low, outward.low)?;
        let into_high = inward.high.map(|law| turn(law, outward.law)).transpose()?;
        let out_high = outward.high.map(|law| turn(inward.law, law)).transpose()?;
        let leaked_in_kg = Estimate {
            value: into,
            low: into_low,
            high: into_high.map(|(into, _)| into),
        };

        let shift = into / delivered_kg;
        let high = leaked_in_kg.high.map(|high| high / delivered_kg);
        let mut shares = vec![Share {
            from: "the leak",
            down: (shift - into_low / delivered_kg).max(0.0),
            up: high.map(|high| (high - shift).max(0.0)),
        }];
        // What the assumptions act on: where the best leak is none, its upper end tells their relative weight.
        let size = shift.max(0.5 * high.unwrap_or(shift));
        let probe = if into > 0.0 {
            inward.law
        } else {
            inward.high.unwrap_or(inward.law)
        };
        let relative = |numbers: &Numbers| -> Result<f64, RunningError> {
            let pressure = CasePressure::from_numbers(engine, numbers, ambient.pressure)?;
            let (into, _) = pressure.mean_flows(probe, outward.law, &surroundings)?;
            Ok(into / pressure.delivered)
        };
        let best = relative(&numbers)?;
        for (from, ends) in variants(conditions, load, &bottom, &numbers) {
            let mut share = Share {
                from,
                down: 0.0,
                up: Some(0.0),
            };
            if best > 0.0 {
                for end in ends {
                    let change = size * (relative(&end)? / best - 1.0);
                    share.down = share.down.max(-change);
                    share.up = share.up.map(|up| up.max(change));
                }
            }
            shares.push(share);
        }
        shares.push(Share {
            from: "leaked air that takes the place of delivered air",
            down: 0.0,
            up: (size < 1.0).then(|| size * size / (1.0 - size)),
        });
        let down = shares.iter().map(|s| s.down * s.down).sum::<f64>().sqrt();
        let up = shares
            .iter()
            .map(|s| s.up.map(|up| up * up))
            .sum::<Option<f64>>()
            .map(f64::sqrt);
        Ok(Self {
            load: load.clone(),
            pressure,
            delivered_kg,
            leaked_in_kg,
            leaked_out_kg: Estimate {
                value: out,
                low: out_low,
                high: out_high.map(|(_, out)| out),
            },
            shift: Estimate {
                value: shift,
                low: (shift - down).max(0.0),
                high: up.map(|up| shift + up),
            },
            shares,
        })
    }
}

/// Half of a value's range in the SI unit: the half-width of its distribution, that of 95 % for a normal one.
fn half_range(standard_uncertainty: f64, evaluation: Evaluation) -> f64 {
    let distribution = match evaluation {
        Evaluation::TypeB(distribution) => distribution,
        Evaluation::TypeA | Evaluation::Combined => Distribution::Normal,
    };
    standard_uncertainty * distribution.half_width_divisor()
}

/// The numbers with one of them at either end of its range.
fn variants(
    conditions: &Conditions,
    load: &Load,
    bottom: &Measured<crate::quantity::Volume>,
    best: &Numbers,
) -> Vec<(&'static str, [Numbers; 2])> {
    let ports = &conditions.ports;
    let angle = |angle: &Measured<Angle>| {
        half_range(
            angle.standard_uncertainty().get::<radian>(),
            angle.evaluation(),
        )
    };
    let number = |number: &Measured<Ratio>| {
        half_range(
            number.standard_uncertainty().get::<ratio>(),
            number.evaluation(),
        )
    };
    let case = half_range(
        bottom.standard_uncertainty().get::<cubic_meter>(),
        bottom.evaluation(),
    );
    let both = |half: f64, set: fn(&mut Numbers, f64)| {
        [-half, half].map(|by| {
            let mut numbers = *best;
            set(&mut numbers, by);
            numbers
        })
    };
    vec![
        (
            "delivery ratio",
            both(number(&load.delivery_ratio), |n, by| n.delivery_ratio += by),
        ),
        (
            "polytropic exponent",
            both(number(&conditions.polytropic_exponent), |n, by| {
                n.exponent += by;
            }),
        ),
        (
            "opening of the transfers",
            both(angle(&ports.transfer_opens), |n, by| n.transfer_opens += by),
        ),
        (
            "opening of the intake",
            both(angle(&ports.intake_opens), |n, by| n.intake_opens += by),
        ),
        (
            "closing of the intake",
            both(angle(&ports.intake_closes), |n, by| n.intake_closes += by),
        ),
        ("volume of the case", both(case, |n, by| n.bottom += by)),
    ]
}
