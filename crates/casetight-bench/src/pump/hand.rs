//! The pump itself: strokes, dead space, pace, and what a leak does to its work.

use uom::si::pressure::pascal;
use uom::si::time::second;
use uom::si::volume::cubic_meter;

use super::PumpError;
use casetight::below::numerics::root;
use casetight::below::sides;
use casetight::leak::{EffectiveArea, Orifice};
use casetight::quantity::{AbsolutePressure, GaugePressure, Pressure, Time, Volume};
use casetight::readings::Bench;
use casetight::vessel::{Direction, IsothermalDecay, VesselError};

/// Stroke volume of a hand pump that is not known better \[cm3\] (common practice, no source).
pub const STROKE_VOLUME_CM3: f64 = 25.0;

/// Time from stroke to stroke of a hand pump that is not known better \[s\] (common practice, no source).
pub const STROKE_SECONDS: f64 = 1.0;

/// A stroke that gains less than this part of ambient pressure gains nothing.
const NO_GAIN: f64 = 1e-7;

/// More strokes than anybody does.
const MOST_STROKES: u32 = 10_000;

/// Units in the last place that a root is found to.
const ULPS: u32 = 4;

/// A hand pump that works at an even pace.
///
/// A stroke of a pressure pump takes `V_s` of ambient air and shares it, with what its dead space `V_d` held, with the
/// case: p' (V + `V_d`) = p V + `p_a` (`V_s` + `V_d`). A stroke of a vacuum pump lets the case's gas expand into it:
/// p' (V + `V_d` + `V_s`) = p V + `p_a` `V_d`. Isothermal: the gas settles between strokes. Without a leak the distance
/// to the pump's [limit](HandPump::limit) shrinks by the same factor at each stroke. The pressure pump is that of
/// [`casetight::volume::Strokes`], with the delivery counted in the stroke volume. Source: derived from the gas law.
///
/// ```
/// use casetight_bench::pump::HandPump;
/// use casetight::quantity::{AbsolutePressure, GaugePressure, TradeUnits, Time, Volume};
///
/// let pump = HandPump::new(Volume::parse("25 cm3")?, Volume::parse("0 cm3")?, Time::parse("1 s")?)?;
/// let (case, ambient) = (Volume::parse("250 cm3")?, AbsolutePressure::parse("1013.25 hPa")?);
/// // 7 psi is 0.476 of ambient pressure, and each stroke adds a tenth of it.
/// let strokes = pump.strokes_to(GaugePressure::parse("7 psi")?, case, ambient)?;
/// assert!((strokes - 4.763).abs() < 1e-3);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HandPump {
    stroke_volume: f64,
    dead_space: f64,
    every: f64,
}

/// What became of pumping against a leak.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Pumped {
    /// The target was reached, right after this many strokes.
    Reaches {
        /// Strokes.
        strokes: u32,
        /// Time from the first stroke to the last.
        time: Time,
    },
    /// The needle came to swing about one place, its highest point (for vacuum, its lowest) right after a stroke here.
    Stalls {
        /// Gauge pressure right after a stroke.
        needle: GaugePressure,
    },
}

impl HandPump {
    /// A pump whose stroke takes in, or draws off, this volume (swept volume times its delivery), with this dead space
    /// between piston and valve, one stroke each so long.
    ///
    /// # Errors
    /// [`PumpError::NotPositive`] for a stroke volume or pace, [`PumpError::DeadSpace`].
    pub fn new(stroke_volume: Volume, dead_space: Volume, every: Time) -> Result<Self, PumpError> {
        let new = Self {
            stroke_volume: stroke_volume.get::<cubic_meter>(),
            dead_space: dead_space.get::<cubic_meter>(),
            every: every.get::<second>(),
        };
        for (what, got) in [("stroke volume", new.stroke_volume), ("pace", new.every)] {
            if !(got.is_finite() && got > 0.0) {
                return Err(PumpError::NotPositive { what, got });
            }
        }
        if new.dead_space.is_finite() && new.dead_space >= 0.0 {
            Ok(new)
        } else {
            Err(PumpError::DeadSpace {
                got: new.dead_space,
            })
        }
    }

    /// Volume of a stroke.
    #[must_use]
    pub fn stroke_volume(&self) -> Volume {
        Volume::new::<cubic_meter>(self.stroke_volume)
    }

    /// Volume that a stroke does not clear.
    #[must_use]
    pub fn dead_space(&self) -> Volume {
        Volume::new::<cubic_meter>(self.dead_space)
    }

    /// Time from stroke to stroke.
    #[must_use]
    pub fn every(&self) -> Time {
        Time::new::<second>(self.every)
    }

    /// What strokes without end tend to: `p_a` (1 + `V_s`/`V_d`) absolute for pressure, `p_a` `V_d`/(`V_d` + `V_s`) for
    /// vacuum. None for pressure without dead space, which has no limit.
    #[must_use]
    pub fn limit(&self, direction: Direction, ambient: AbsolutePressure) -> Option<GaugePressure> {
        GaugePressure::from_pascals(self.limit_pascals(direction, ambient.pascals())).ok()
    }

    /// The limit's gauge pressure \[Pa\], infinite where there is none.
    fn limit_pascals(&self, direction: Direction, ambient: f64) -> f64 {
        match direction {
            Direction::Pressure => ambient * self.stroke_volume / self.dead_space,
            Direction::Vacuum => {
                -ambient * self.stroke_volume / (self.dead_space + self.stroke_volume)
            }
        }
    }

    /// Change \[Pa\] of a case's gauge pressure by one stroke.
    fn gain(&self, direction: Direction, volume: f64, ambient: f64, gauge: f64) -> f64 {
        match direction {
            Direction::Pressure => {
                (ambient * self.stroke_volume - gauge * self.dead_space)
                    / (volume + self.dead_space)
            }
            Direction::Vacuum => {
                let drawn = self.dead_space + self.stroke_volume;
                -(ambient * self.stroke_volume + gauge * drawn) / (volume + drawn)
            }
        }
    }

    /// Strokes that a tight case of this volume takes from ambient to a gauge pressure, fractions counted; zero for none.
    ///
    /// n = -ln(1 - g/`g_limit`)/ln(1 + `V_d`/V) for pressure (g V/(`p_a` `V_s`) without dead space), the same with
    /// ln(1 + (`V_d` + `V_s`)/V) for vacuum.
    ///
    /// # Errors
    /// [`PumpError::BeyondPump`] for a pressure that the pump only tends to or can't reach; [`PumpError::Vessel`] for a
    /// volume that is not above zero; [`PumpError::Quantity`] beyond a perfect vacuum.
    pub fn strokes_to(
        &self,
        target: GaugePressure,
        volume: Volume,
        ambient: AbsolutePressure,
    ) -> Result<f64, PumpError> {
        let volume = check_volume(volume)?;
        let Some(direction) = Direction::of(target) else {
            return Ok(0.0);
        };
        self.check_reach(target, direction, ambient)?;
        let share = target.pascals() / self.limit_pascals(direction, ambient.pascals());
        let grown = match direction {
            Direction::Pressure if self.dead_space == 0.0 => {
                return Ok(target.pascals() * volume / (ambient.pascals() * self.stroke_volume));
            }
            Direction::Pressure => self.dead_space / volume,
            Direction::Vacuum => (self.dead_space + self.stroke_volume) / volume,
        };
        Ok(-(-share).ln_1p() / grown.ln_1p())
    }

    fn check_reach(
        &self,
        target: GaugePressure,
        direction: Direction,
        ambient: AbsolutePressure,
    ) -> Result<(), PumpError> {
        target.absolute(ambient)?;
        let limit = self.limit_pascals(direction, ambient.pascals());
        if target.pascals().abs() < limit.abs() {
            Ok(())
        } else {
            let target = target.pascals();
            Err(PumpError::BeyondPump { target, limit })
        }
    }

    /// Whole strokes to a gauge pressure against a leak that works on between them (isothermal orifice), or where the
    /// needle stalls.
    ///
    /// # Errors
    /// As [`HandPump::strokes_to`]; [`PumpError::NothingReached`] for a target of zero.
    pub fn pump_to(
        &self,
        target: GaugePressure,
        leak: EffectiveArea,
        bench: &Bench,
    ) -> Result<Pumped, PumpError> {
        let volume = check_volume(bench.volume.value())?;
        let direction = Direction::of(target).ok_or(PumpError::NothingReached)?;
        let ambient = bench.ambient_pressure.value();
        self.check_reach(target, direction, ambient)?;
        let p_a = ambient.pascals();
        let every = self.every();
        let (mut before, mut last) = (0.0, 0.0_f64);
        for strokes in 1..=MOST_STROKES {
            let after = before + self.gain(direction, volume, p_a, before);
            let needle = GaugePressure::from_pascals(after)?;
            // A target that a whole number of strokes just reaches is reached, whatever the last digit.
            if after.abs() >= target.pascals().abs() * (1.0 - 4.0 * f64::EPSILON) {
                let time = every * f64::from(strokes - 1);
                return Ok(Pumped::Reaches { strokes, time });
            }
            if (after - last).abs() < NO_GAIN * p_a {
                return Ok(Pumped::Stalls { needle });
            }
            last = after;
            let decay = IsothermalDecay::new(
                leak,
                bench.volume.value(),
                needle,
                bench.ambient(),
                &bench.gas,
            )?;
            before = decay.gauge_at(every).pascals();
        }
        let needle = GaugePressure::from_pascals(last)?;
        Ok(Pumped::Stalls { needle })
    }

    /// Mass flow \[kg/s\] that the pump moves at a gauge pressure: what a stroke changes of the case's gas, over the pace.
    fn mean_flow(&self, direction: Direction, bench: &Bench, gauge: f64) -> f64 {
        let volume = bench.volume.value().get::<cubic_meter>();
        let p_a = bench.ambient_pressure.value().pascals();
        let rt = bench.gas.specific_gas_constant() * bench.ambient().kelvins();
        let gain = direction.sign() * self.gain(direction, volume, p_a, gauge);
        gain * volume / (rt * self.every)
    }

    /// The gauge pressure at which the pump moves, on average, as much as this leak passes: where the needle comes to
    /// rest. Each stroke swings it out from about there by [`HandPump::swing`].
    ///
    /// Root of `n_dot` dm(p) = `CdA` flux(p), with dm(p) the mass that a stroke changes at p. Without a leak, the pump's
    /// limit, if it has one.
    ///
    /// # Errors
    /// [`PumpError::Vessel`] for an impossible volume; [`PumpError::NothingReached`] where there is neither leak nor
    /// limit, so that the needle never rests.
    pub fn equilibrium(
        &self,
        direction: Direction,
        leak: EffectiveArea,
        bench: &Bench,
    ) -> Result<GaugePressure, PumpError> {
        check_volume(bench.volume.value())?;
        let p_a = bench.ambient_pressure.value().pascals();
        let limit = self.limit_pascals(direction, p_a);
        let area = leak.square_meters();
        if area == 0.0 {
            return GaugePressure::from_pascals(limit).map_err(|_| PumpError::NothingReached);
        }
        let surplus = |gauge: f64| {
            let flux = flux_at(direction, bench, gauge).unwrap_or(f64::NAN);
            self.mean_flow(direction, bench, gauge) - area * flux
        };
        // Beyond choking the leak's flow grows with the pressure, so a few doublings bracket the root.
        let end = if limit.is_finite() {
            limit
        } else {
            let mut end = p_a;
            while surplus(end) > 0.0 {
                end *= 2.0;
            }
            end
        };
        let root = root::newton_bracketed(0.0, end, ULPS, |gauge| (surplus(gauge), f64::NAN))
            .map_err(|_| PumpError::NothingReached)?;
        Ok(GaugePressure::from_pascals(root)?)
    }

    /// How far the needle moves at a stroke from this gauge pressure, as a size.
    ///
    /// # Errors
    /// [`PumpError::Vessel`] for an impossible volume.
    pub fn swing(&self, needle: GaugePressure, bench: &Bench) -> Result<Pressure, PumpError> {
        let volume = check_volume(bench.volume.value())?;
        let direction = Direction::of(needle).unwrap_or(Direction::Pressure);
        let p_a = bench.ambient_pressure.value().pascals();
        let gain = self.gain(direction, volume, p_a, needle.pascals());
        Ok(Pressure::new::<pascal>(gain.abs()))
    }

    /// The leak that holds the needle at this gauge pressure while the pump goes on: `CdA` = `n_dot` dm(p)/flux(p), the
    /// reverse of [`HandPump::equilibrium`]. A pump that passes this pressure has a smaller leak before it.
    ///
    /// # Errors
    /// [`PumpError::NothingReached`] at zero, where nothing flows; [`PumpError::BeyondPump`]; [`PumpError::Vessel`];
    /// [`PumpError::Quantity`] beyond a perfect vacuum.
    pub fn leak_at(
        &self,
        needle: GaugePressure,
        bench: &Bench,
    ) -> Result<EffectiveArea, PumpError> {
        check_volume(bench.volume.value())?;
        let direction = Direction::of(needle).ok_or(PumpError::NothingReached)?;
        self.check_reach(needle, direction, bench.ambient_pressure.value())?;
        let flux = flux_at(direction, bench, needle.pascals())?;
        let flow = self.mean_flow(direction, bench, needle.pascals());
        EffectiveArea::from_square_meters(flow / flux).map_err(|_| PumpError::NothingReached)
    }
}

fn check_volume(volume: Volume) -> Result<f64, PumpError> {
    let got = volume.get::<cubic_meter>();
    if got.is_finite() && got > 0.0 {
        Ok(got)
    } else {
        Err(VesselError::Volume { got }.into())
    }
}

/// Mass flow through a square meter of effective area \[kg/(s m2)\] at a gauge pressure \[Pa\].
fn flux_at(direction: Direction, bench: &Bench, gauge: f64) -> Result<f64, PumpError> {
    let gauge = GaugePressure::from_pascals(gauge)?;
    // At the vacuum pump's limit without dead space nothing is left in the case: the leak chokes on its way in.
    let least = AbsolutePressure::from_pascals(f64::MIN_POSITIVE)?;
    if gauge.absolute(bench.ambient_pressure.value()).is_err() {
        return Ok(Orifice::mass_flux(&bench.gas, bench.ambient(), least));
    }
    let (upstream, downstream) = sides(gauge, direction, bench.ambient())?;
    Ok(Orifice::mass_flux(&bench.gas, upstream, downstream))
}

#[cfg(test)]
mod tests;
