//! The lumped thermal vessel: gas that exchanges heat with its wall while it leaks.

use uom::si::thermal_conductance::watt_per_kelvin;
use uom::si::thermodynamic_temperature::kelvin;
use uom::si::time::second;
use uom::si::volume::cubic_meter;

use super::decay::IsothermalDecay;
use super::direction::Direction;
use super::error::VesselError;
use crate::gas::{Gas, GasState};
use crate::leak::{EffectiveArea, LeakLaw, Orifice};
use crate::numerics::radau::{Balance, Block, Node, Pair, Run};
use crate::quantity::{
    AbsolutePressure, GaugePressure, TemperatureDrift, ThermalConductance,
    ThermodynamicTemperature, Time, Volume,
};

/// Gauge pressure, as a part of ambient, below which the flow is taken in proportion to it. An orifice's square root
/// has an infinite slope at zero; a ten-thousandth of a pascal lies far below what any gauge shows.
const ROUNDED: f64 = 1e-9;
/// Smallest part of ambient pressure, and of the wall's temperature, at which a trial step may ask for a flow.
const SMALLEST: f64 = 1e-6;
/// Step of the differences in the rates' slopes, over the state's size and over the size below which the rate of the pressure is
/// smooth.
const RELATIVE_DIFFERENCE: f64 = 1e-4;
const SMALLEST_DIFFERENCE: f64 = 1e-2;

/// Pressure and temperature in the case at one time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct VesselState {
    /// Gauge pressure `p_g`.
    pub gauge: GaugePressure,
    /// Gas temperature T.
    pub temperature: ThermodynamicTemperature,
}

/// A case of well-mixed gas that leaks by any law and exchanges heat with its wall through one conductance.
///
/// ```text
/// dm/dt      = in - out,                           p = m R T/V,   p_g = p - p_a
/// m cv dT/dt = in (cp T_a - cv T) - out R T + hA (T_w - T) - p dV/dt
/// T_w = T_w0 + r t,   V = V0 + kappa p_g
/// ```
///
/// - `in`, `out` [kg/s]: the leak's flow, by the law; gas drawn in has the ambient temperature `T_a`
/// - hA [W/K]: conductance between gas and wall. Infinite: the gas has the wall's temperature (isothermal); zero:
///   adiabatic. The gas settles with the time constant tau = m cv/(hA), [`ThermalVessel::settling_time`].
/// - `T_w0` \[K\], r [K/s]: wall temperature at time zero (ambient, unless stated) and its drift
/// - T at time zero \[K\]: the wall's, unless stated; just after pumping it is higher, after drawing a vacuum lower
/// - kappa [m3/Pa]: compliance of boot and hose (none, unless stated)
///
/// Valid for an ideal gas of constant heat capacities, mixed faster than it leaks, and a wall that the gas doesn't warm.
/// Where it is exact (an ideal orifice, infinite hA, no drift, no compliance) the answer is that of [`IsothermalDecay`];
/// otherwise it is integrated, to 1e-9 of ambient pressure (for hA up to some 1e7 W/K, beyond which isothermal is meant).
/// Source: derived.
///
/// ```
/// use casetight::gas::{Gas, GasState};
/// use casetight::leak::{EffectiveArea, Orifice};
/// use casetight::quantity::{AbsolutePressure, GaugePressure, ThermodynamicTemperature, TradeUnits, Time, Volume};
/// use casetight::quantity::ThermalConductance;
/// use casetight::vessel::ThermalVessel;
///
/// let leak = Orifice::new(EffectiveArea::from_square_meters(5e-8)?);
/// let vessel = ThermalVessel::new(
///     &leak,
///     Volume::parse("250 cm3")?,
///     GaugePressure::parse("70 kPa")?,
///     GasState {
///         pressure: AbsolutePressure::parse("1013.25 hPa")?,
///         temperature: ThermodynamicTemperature::parse("20 C")?,
///     },
///     &Gas::dry_air(),
///     ThermalConductance::parse("0.35 W/K")?,
/// )?;
/// // The gas cools as it expands, and the pressure falls faster than it would at the wall's temperature.
/// let after = vessel.states_at(&[Time::parse("5 s")?])?;
/// let state = after.first().ok_or("no state")?;
/// assert_eq!(state.gauge.to_string(), "38.66 kPa gauge");
/// assert_eq!(state.temperature.trade().to_string(), "16.23 C");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct ThermalVessel<'a> {
    law: &'a dyn LeakLaw,
    gas: Gas,
    ambient: GasState,
    start: GaugePressure,
    /// V0 [m3].
    volume: f64,
    /// kappa [m3/Pa].
    compliance: f64,
    /// hA [W/K]; infinite for an isothermal vessel.
    conductance: f64,
    /// Gas temperature at time zero \[K\], where it is not the wall's.
    start_temperature: Option<f64>,
    /// Wall temperature at time zero \[K\].
    wall_temperature: f64,
    /// r [K/s].
    wall_drift: f64,
}

impl<'a> ThermalVessel<'a> {
    /// A leak on a rigid volume, from a start gauge pressure at time zero, with gas and wall at the ambient temperature.
    /// An infinite conductance hA is an isothermal vessel, zero an adiabatic one.
    ///
    /// # Errors
    /// [`VesselError`] names the quantity that is not valid.
    pub fn new(
        law: &'a dyn LeakLaw,
        volume: Volume,
        start: GaugePressure,
        ambient: GasState,
        gas: &Gas,
        conductance: ThermalConductance,
    ) -> Result<Self, VesselError> {
        start.absolute(ambient.pressure)?;
        let v = volume.get::<cubic_meter>();
        if !(v.is_finite() && v > 0.0) {
            return Err(VesselError::Volume { got: v });
        }
        let ha = conductance.get::<watt_per_kelvin>();
        if ha.is_nan() || ha < 0.0 {
            return Err(VesselError::Conductance { got: ha });
        }
        Ok(Self {
            law,
            gas: *gas,
            ambient,
            start,
            volume: v,
            compliance: 0.0,
            conductance: ha,
            start_temperature: None,
            wall_temperature: checked_kelvins(ambient.temperature)?,
            wall_drift: 0.0,
        })
    }

    /// A leak on a rigid volume whose gas always has the wall's temperature: hA is infinite.
    ///
    /// # Errors
    /// As [`ThermalVessel::new`].
    pub fn isothermal(
        law: &'a dyn LeakLaw,
        volume: Volume,
        start: GaugePressure,
        ambient: GasState,
        gas: &Gas,
    ) -> Result<Self, VesselError> {
        let infinite = ThermalConductance::new::<watt_per_kelvin>(f64::INFINITY);
        Self::new(law, volume, start, ambient, gas, infinite)
    }

    /// With gas that is not at the wall's temperature at time zero, as just after pumping.
    ///
    /// # Errors
    /// [`VesselError::Temperature`]; [`VesselError::SettledAtOnce`] where the conductance is infinite.
    pub fn with_start_temperature(
        mut self,
        temperature: ThermodynamicTemperature,
    ) -> Result<Self, VesselError> {
        let kelvins = checked_kelvins(temperature)?;
        if self.conductance.is_infinite() {
            return Err(VesselError::SettledAtOnce { got: kelvins });
        }
        self.start_temperature = Some(kelvins);
        Ok(self)
    }

    /// With a wall of this temperature at time zero, drifting at a steady rate.
    ///
    /// # Errors
    /// [`VesselError::Temperature`].
    pub fn with_wall(
        mut self,
        temperature: ThermodynamicTemperature,
        drift: TemperatureDrift,
    ) -> Result<Self, VesselError> {
        self.wall_temperature = checked_kelvins(temperature)?;
        self.wall_drift = drift.kelvins_per_second();
        Ok(self)
    }

    /// With a volume that grows by kappa [m3/Pa] with the gauge pressure, as a soft boot or hose does; the volume given to
    /// [`ThermalVessel::new`] is that at ambient pressure.
    ///
    /// # Errors
    /// [`VesselError::Compliance`] unless kappa is finite, at least zero, and leaves a volume at the start pressure.
    pub fn with_compliance(mut self, cubic_meters_per_pascal: f64) -> Result<Self, VesselError> {
        let kappa = cubic_meters_per_pascal;
        let left = self.volume + kappa * self.start.pascals().min(0.0);
        if !(kappa.is_finite() && kappa >= 0.0 && left > 0.0) {
            return Err(VesselError::Compliance { got: kappa });
        }
        self.compliance = kappa;
        Ok(self)
    }

    /// Time constant tau = m cv/(hA) with which the gas settles to the wall's temperature, for the mass in the case at time
    /// zero; none for an adiabatic vessel.
    #[must_use]
    pub fn settling_time(&self) -> Option<Time> {
        let heat = self.mass(self.start_state()) * self.cv();
        (self.conductance > 0.0).then(|| Time::new::<second>(heat / self.conductance))
    }

    /// Gauge pressures at times after the start, in the order of the times.
    ///
    /// # Errors
    /// As [`ThermalVessel::states_at`].
    pub fn gauge_at(&self, times: &[Time]) -> Result<Vec<GaugePressure>, VesselError> {
        Ok(self
            .states_at(times)?
            .into_iter()
            .map(|state| state.gauge)
            .collect())
    }

    /// Pressures and temperatures at times after the start, in the order of the times.
    ///
    /// # Errors
    /// [`VesselError::Time`] for a time that is below zero or no number; [`VesselError::Flow`] where the law gives no
    /// flow; [`VesselError::Integration`] where the equations can't be followed.
    pub fn states_at(&self, times: &[Time]) -> Result<Vec<VesselState>, VesselError> {
        let mut ordered = Vec::with_capacity(times.len());
        for (place, time) in times.iter().enumerate() {
            let seconds = time.get::<second>();
            if !(seconds.is_finite() && seconds >= 0.0) {
                return Err(VesselError::Time {
                    place,
                    got: seconds,
                });
            }
            ordered.push((place, seconds));
        }
        self.check_flow()?;
        if let Some(decay) = self.closed_form()? {
            let temperature = ThermodynamicTemperature::new::<kelvin>(self.wall_temperature);
            return Ok(times
                .iter()
                .map(|&time| VesselState {
                    gauge: decay.gauge_at(time),
                    temperature,
                })
                .collect());
        }
        ordered.sort_by(|a, b| a.1.total_cmp(&b.1));
        let states = self.follow(ordered.iter().map(|(_, seconds)| *seconds))?;
        let mut states = ordered
            .into_iter()
            .zip(states)
            .map(|((place, seconds), state)| Ok((place, self.told(seconds, state)?)))
            .collect::<Result<Vec<_>, VesselError>>()?;
        states.sort_by_key(|(place, _)| *place);
        Ok(states.into_iter().map(|(_, state)| state).collect())
    }

    /// (`p_g`/`p_a`, T/`T_w0`) at times \[s\] that do not go back.
    fn follow(&self, times: impl Iterator<Item = f64>) -> Result<Vec<Pair>, VesselError> {
        let [y, theta] = self.start_state();
        let unit = y.abs().max(1.0);
        let followed = Followed { vessel: self, unit };
        let start = Pair {
            a: y / unit,
            b: theta,
        };
        let rate = followed.at(start, 0.0).rate;
        // A thousandth of the way that the start's own pace would take; the error decides from there.
        let first = 1e-3 / rate.a.abs().max(rate.b.abs()).max(f64::MIN_POSITIVE);
        let mut run = Run::start(followed, start, [], first, 0.0);
        times
            .map(|seconds| {
                let stuck = VesselError::Integration {
                    seconds: run.time(),
                };
                let Pair { a, b } = run.land(seconds).ok_or(stuck)?;
                Ok(Pair { a: a * unit, b })
            })
            .collect()
    }

    /// A state in its units.
    fn told(
        &self,
        seconds: f64,
        Pair { a: y, b: theta }: Pair,
    ) -> Result<VesselState, VesselError> {
        let theta = if self.conductance.is_infinite() {
            self.wall(seconds) / self.wall_temperature
        } else {
            theta
        };
        Ok(VesselState {
            gauge: GaugePressure::from_pascals(y * self.ambient.pressure.pascals())?,
            temperature: ThermodynamicTemperature::new::<kelvin>(theta * self.wall_temperature),
        })
    }

    /// As [`ThermalVessel::states_at`], by a library's integrator from the same rates, at times that do not go back.
    #[cfg(test)]
    pub(crate) fn states_by_the_library(
        &self,
        times: &[Time],
    ) -> Result<Vec<VesselState>, VesselError> {
        let seconds = times.iter().map(Time::get::<second>);
        let states = super::peer::follow(
            |time, state| self.rates(time, state),
            ROUNDED,
            self.start_state(),
            seconds.clone(),
        )
        .map_err(|super::peer::Stuck(seconds)| VesselError::Integration { seconds })?;
        let told = |(seconds, [a, b]): (f64, [f64; 2])| self.told(seconds, Pair { a, b });
        seconds.zip(states).map(told).collect()
    }

    /// Mass of gas in the case in a state \[kg\], p V/(R T).
    #[must_use]
    pub fn mass_in(&self, state: VesselState) -> crate::quantity::Mass {
        crate::quantity::Mass::new::<uom::si::mass::kilogram>(self.mass([
            state.gauge.pascals() / self.ambient.pressure.pascals(),
            state.temperature.get::<kelvin>() / self.wall_temperature,
        ]))
    }

    /// The isothermal closed form, where it is exact.
    fn closed_form(&self) -> Result<Option<IsothermalDecay>, VesselError> {
        let ambient = checked_kelvins(self.ambient.temperature)?;
        let exact = self.conductance.is_infinite()
            && self.wall_drift == 0.0
            && self.compliance == 0.0
            && (self.wall_temperature - ambient).abs() <= f64::EPSILON * ambient
            && self.law.name() == Orifice::NAME;
        if !exact || Direction::of(self.start).is_none() {
            return Ok(None);
        }
        // The flow at the start over that of a unit area is the law's only parameter.
        let (upstream, downstream) = self.start_flow()?;
        let area = self.law.mass_flow(&self.gas, upstream, downstream).value
            / Orifice::mass_flux(&self.gas, upstream, downstream);
        let Ok(area) = EffectiveArea::from_square_meters(area) else {
            return Ok(None);
        };
        IsothermalDecay::new(
            area,
            Volume::new::<cubic_meter>(self.volume),
            self.start,
            self.ambient,
            &self.gas,
        )
        .map(Some)
    }

    /// The two sides of the leak at time zero.
    fn start_flow(&self) -> Result<(GasState, AbsolutePressure), VesselError> {
        let inside = GasState {
            pressure: self.start.absolute(self.ambient.pressure)?,
            temperature: ThermodynamicTemperature::new::<kelvin>(
                self.start_temperature.unwrap_or(self.wall_temperature),
            ),
        };
        Ok(if self.start.is_vacuum() {
            (self.ambient, inside.pressure)
        } else {
            (inside, self.ambient.pressure)
        })
    }

    /// Refuses a law that has no flow for this gas.
    fn check_flow(&self) -> Result<(), VesselError> {
        let (upstream, downstream) = self.start_flow()?;
        let flow = self.law.mass_flow(&self.gas, upstream, downstream).value;
        if flow.is_finite() && flow >= 0.0 {
            Ok(())
        } else {
            Err(VesselError::Flow {
                law: self.law.name(),
                got: flow,
            })
        }
    }

    /// (`p_g`/`p_a`, T/`T_w0`) at time zero.
    fn start_state(&self) -> [f64; 2] {
        [
            self.start.pascals() / self.ambient.pressure.pascals(),
            self.start_temperature
                .map_or(1.0, |t| t / self.wall_temperature),
        ]
    }

    fn cv(&self) -> f64 {
        self.gas.specific_gas_constant() / (self.gas.heat_capacity_ratio() - 1.0)
    }

    /// Wall temperature \[K\]; a cooling wall stays above absolute zero.
    fn wall(&self, time: f64) -> f64 {
        (self.wall_temperature + self.wall_drift * time).max(SMALLEST * self.wall_temperature)
    }

    fn mass(&self, [y, theta]: [f64; 2]) -> f64 {
        let p_a = self.ambient.pressure.pascals();
        let volume = self.volume + self.compliance * y * p_a;
        p_a * (1.0 + y) * volume
            / (self.gas.specific_gas_constant() * theta * self.wall_temperature)
    }

    /// Rates \[1/s\] of (`p_g`/`p_a`, T/`T_w0`).
    fn rates(&self, time: f64, [y, theta]: [f64; 2]) -> [f64; 2] {
        let r = self.gas.specific_gas_constant();
        let gamma = self.gas.heat_capacity_ratio();
        let p_a = self.ambient.pressure.pascals();
        let wall = self.wall(time);
        let y = y.max(SMALLEST - 1.0);
        let p = p_a * (1.0 + y);
        let volume = (self.volume + self.compliance * y * p_a).max(SMALLEST * self.volume);
        let temperature = if self.conductance.is_infinite() {
            wall
        } else {
            theta.max(SMALLEST) * self.wall_temperature
        };
        let out = self.flow_out(y, temperature);
        let drift = self.wall_drift / self.wall_temperature;

        // From the balances of mass and energy with p V = m R T; p dV/dt stands on the left, within the volume.
        if self.conductance.is_infinite() {
            let swept = volume + self.compliance * p;
            let rate = (-out * r * temperature + p * volume * self.wall_drift / wall) / swept;
            return [rate / p_a, drift];
        }
        let ambient = self.ambient.temperature.get::<kelvin>();
        let upstream = if out >= 0.0 { temperature } else { ambient };
        let heat = self.conductance * (wall - temperature);
        let swept = volume + gamma * self.compliance * p;
        let p_rate = (-gamma * r * upstream * out + (gamma - 1.0) * heat) / swept;
        let carried = if out >= 0.0 {
            -out * r * temperature
        } else {
            -out * self.cv() * (gamma * ambient - temperature)
        };
        let work = p * self.compliance * p_rate;
        let heat_capacity = p * volume / (r * temperature) * self.cv();
        [
            p_rate / p_a,
            (carried + heat - work) / (heat_capacity * self.wall_temperature),
        ]
    }

    /// Mass flow out of the case [kg/s], negative inward; in proportion to the pressure next to ambient.
    fn flow_out(&self, y: f64, temperature: f64) -> f64 {
        let size = y.abs();
        let (y, part) = if size < ROUNDED {
            (ROUNDED.copysign(y), size / ROUNDED)
        } else {
            (y, 1.0)
        };
        let Ok(inside) =
            AbsolutePressure::from_pascals(self.ambient.pressure.pascals() * (1.0 + y))
        else {
            return f64::NAN;
        };
        if y < 0.0 {
            return -part * self.law.mass_flow(&self.gas, self.ambient, inside).value;
        }
        let upstream = GasState {
            pressure: inside,
            temperature: ThermodynamicTemperature::new::<kelvin>(temperature),
        };
        part * self
            .law
            .mass_flow(&self.gas, upstream, self.ambient.pressure)
            .value
    }
}

/// A vessel on its way.
#[derive(Debug, Clone, Copy)]
struct Followed<'a> {
    vessel: &'a ThermalVessel<'a>,
    /// Unit of the pressure ratio, so that it is of order one from however high it starts.
    unit: f64,
}

/// The unknowns are what is balanced. Their rates bend sharply at ambient, so the slopes' differences are small where the pressure
/// is; they have to be good: what Newton's method leaves of a stiff state is multiplied by its rate.
impl Balance<0> for Followed<'_> {
    type Point = ();

    // The estimate's; the error of a whole run comes out near 1e-10 (tested).
    const TOLERANCE: f64 = 1e-12;
    // Some hundred times what rounding leaves of a number of order one.
    const SETTLED: f64 = 1e-13;
    const MAX_STEPS: usize = 200_000;

    fn at(&self, x: Pair, t: f64) -> Node<()> {
        let at = |a: f64, b: f64| {
            let [a, b] = self.vessel.rates(t, [a * self.unit, b]);
            Pair {
                a: a / self.unit,
                b,
            }
        };
        let step = RELATIVE_DIFFERENCE * x.a.abs() + SMALLEST_DIFFERENCE * ROUNDED / self.unit;
        let quotient = |up: Pair, down: Pair, step: f64| {
            let over = 1.0 / (2.0 * step);
            ((up.a - down.a) * over, (up.b - down.b) * over)
        };
        let (aa, ba) = quotient(at(x.a + step, x.b), at(x.a - step, x.b), step);
        let by = RELATIVE_DIFFERENCE;
        let (ab, bb) = quotient(at(x.a, x.b + by), at(x.a, x.b - by), by);
        Node {
            content: x,
            mass: Block {
                aa: 1.0,
                ab: 0.0,
                ba: 0.0,
                bb: 1.0,
            },
            rate: at(x.a, x.b),
            slope: Block { aa, ab, ba, bb },
            point: (),
        }
    }

    fn forced(&self, _: &[Node<()>; 3], _: [Pair; 3], _: [f64; 3]) -> [[Pair; 3]; 0] {
        []
    }
}

fn checked_kelvins(temperature: ThermodynamicTemperature) -> Result<f64, VesselError> {
    let got = temperature.get::<kelvin>();
    if got.is_finite() && got > 0.0 {
        Ok(got)
    } else {
        Err(VesselError::Temperature { got })
    }
}
