//! The pressure in the running case: a model over one turn, and what leaks pass under it.

use std::f64::consts::TAU;

use uom::si::angle::radian;
use uom::si::mass_rate::kilogram_per_second;
use uom::si::volume::cubic_meter;

use super::conditions::{Conditions, Load};
use super::error::RunningError;
use super::numbers::Numbers;
use casetight::gas::{Gas, GasState};
use casetight::leak::LeakLaw;
use casetight::quantity::{AbsolutePressure, Angle, GaugePressure};
use casetight::volume::{Crank, Engine};

/// Steps that each phase of a turn is integrated in.
const STEPS: u32 = 240;

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
/// assumptions in [`ASSUMPTIONS`](super::ASSUMPTIONS).
///
/// ```
/// use casetight::measured::{Distribution, Measured};
/// use casetight::quantity::{AbsolutePressure, Angle, Length, Ratio, TradeUnits};
/// use casetight_bench::running::{CasePressure, Conditions};
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
    pub(super) events: [f64; 4],
    /// Gas taken in, as a volume at ambient pressure.
    pub(super) delivered: f64,
    exponent: f64,
}

/// The air around, and the gas that it is.
pub(super) struct Surroundings<'g> {
    pub(super) ambient: GasState,
    pub(super) gas: &'g Gas,
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

    pub(super) fn from_numbers(
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
    pub(super) fn volume(&self, theta: f64) -> f64 {
        // An angle that is no number has no volume either.
        let travel = self
            .crank
            .travel(Angle::new::<radian>(theta))
            .map_or(f64::NAN, |s| s.value);
        self.bottom + self.swept * (1.0 - travel / self.crank.stroke().value)
    }

    /// Absolute pressure \[Pa\] at an angle \[rad\] after top, within one turn.
    pub(super) fn pascals_at(&self, theta: f64) -> f64 {
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
    pub(super) fn middles(&self) -> impl Iterator<Item = (f64, f64)> {
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
    pub(super) fn mean_flows(
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
