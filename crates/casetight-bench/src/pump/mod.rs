//! The hand pump: how many strokes a pressure takes, where a leak holds the needle, and what a needle that will not rise
//! says: it is a lower bound of the leak, not a missing reading.

mod hand;

use uom::si::pressure::pascal;
use uom::si::time::second;
use uom::si::volume::cubic_meter;

use casetight::below::numerics::probability;
use casetight::below::{KILOPASCAL, pressure_in, sides, told};
use casetight::gas::GasState;
use casetight::leak::{EffectiveArea, Orifice};
use casetight::quantity::{GaugePressure, QuantityError, Time, Unit, Volume};
use casetight::readings::Bench;
use casetight::vessel::{Direction, VesselError};

pub use hand::{HandPump, Pumped, STROKE_SECONDS, STROKE_VOLUME_CM3};

/// Relative standard uncertainty of what a stroke delivers against its stroke volume (common practice, no source): valves
/// and dead space lose some of it. Checked by pumping a closed bottle of known volume.
pub const DELIVERY_UNCERTAINTY: f64 = 0.1;

/// What was done at a pump that never raised the needle to its aim.
///
/// ```
/// use casetight_bench::pump::Stall;
/// use casetight::quantity::{GaugePressure, TradeUnits, Time, Volume};
///
/// let stall = Stall::new(
///     60.0,
///     Volume::parse("25 cm3")?,
///     Time::parse("60 s")?,
///     GaugePressure::parse("1 psi")?,
/// )?;
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stall {
    strokes: f64,
    stroke_volume: Volume,
    over: Time,
    reached: GaugePressure,
}

/// What can be wrong with a pump or a stall.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PumpError {
    /// Strokes, stroke volume and time are finite and above zero.
    #[error("the pump's {what} is {got} (SI units); it must be finite and above zero")]
    NotPositive {
        /// Which one.
        what: &'static str,
        /// What was given.
        got: f64,
    },
    /// A dead space is finite and not below zero.
    #[error("the pump's dead space is {}; it must be finite and not below zero", told::<Volume>(*got))]
    DeadSpace {
        /// What was given, in cubic meters.
        got: f64,
    },
    /// The dead space lets the pump go no further.
    #[error("{}", beyond_pump(*target, *limit, &KILOPASCAL))]
    BeyondPump {
        /// What was asked for, gauge pressure in pascals.
        target: f64,
        /// What its strokes tend to, gauge pressure in pascals.
        limit: f64,
    },
    /// A needle that did not move has no pressure to flow by; the least that the gauge would have shown is what is known.
    #[error(
        "the highest gauge pressure reached is zero: give the smallest pressure that the gauge would have shown"
    )]
    NothingReached,
    /// The pressure reached is not valid.
    #[error(transparent)]
    Quantity(#[from] QuantityError),
    /// The volume pumped on is not valid.
    #[error(transparent)]
    Vessel(#[from] VesselError),
}

impl PumpError {
    /// The message with its pressures in the unit that the gauge shows.
    #[must_use]
    pub fn words(&self, unit: &Unit) -> String {
        match self {
            Self::BeyondPump { target, limit } => beyond_pump(*target, *limit, unit),
            Self::Quantity(error) => error.words(unit),
            other => other.to_string(),
        }
    }
}

fn beyond_pump(target: f64, limit: f64, unit: &Unit) -> String {
    format!(
        "{} gauge is beyond the pump, which reaches {} gauge at most",
        pressure_in(unit, target),
        pressure_in(unit, limit)
    )
}

impl Stall {
    /// So many strokes of a volume over a time, and the highest gauge pressure that the needle reached (negative for
    /// vacuum).
    ///
    /// # Errors
    /// [`PumpError`] names what is not valid.
    pub fn new(
        strokes: f64,
        stroke_volume: Volume,
        over: Time,
        reached: GaugePressure,
    ) -> Result<Self, PumpError> {
        for (what, got) in [
            ("number of strokes", strokes),
            ("stroke volume", stroke_volume.get::<cubic_meter>()),
            ("time", over.get::<second>()),
        ] {
            if !(got.is_finite() && got > 0.0) {
                return Err(PumpError::NotPositive { what, got });
            }
        }
        if reached.pascals() == 0.0 {
            return Err(PumpError::NothingReached);
        }
        Ok(Self {
            strokes,
            stroke_volume,
            over,
            reached,
        })
    }

    /// The highest gauge pressure that the needle reached.
    #[must_use]
    pub fn reached(&self) -> GaugePressure {
        self.reached
    }

    /// Pressure or vacuum.
    #[must_use]
    pub fn direction(&self) -> Direction {
        if self.reached.is_vacuum() {
            Direction::Vacuum
        } else {
            Direction::Pressure
        }
    }

    /// Lower bound of the effective area at this one-sided level: what was pumped and is not in the case has leaked, and
    /// the pressure that drove it was never above what was reached.
    ///
    /// m = n `V_stroke` p/(R T) was pumped, with p ambient for pressure and the pressure reached for vacuum (the least
    /// that a stroke took); at most V `p_g`/(R T) of it changed the case's pressure; the rest flowed in the time t through
    /// `CdA` >= (m - stored)/(t flux at the pressure reached). The pump's delivery
    /// ([`DELIVERY_UNCERTAINTY`]) and the volume's uncertainty lower the bound. Zero where what was pumped could all be in
    /// the case.
    ///
    /// # Errors
    /// [`PumpError::Quantity`] for a pressure beyond a perfect vacuum.
    pub fn least_area(&self, bench: &Bench, level: f64) -> Result<EffectiveArea, PumpError> {
        let ambient = bench.ambient();
        let (upstream, downstream) = sides(self.reached, self.direction(), ambient)?;
        let inside = self.reached.absolute(ambient.pressure)?;
        let taken_at = match self.direction() {
            Direction::Pressure => ambient.pressure,
            Direction::Vacuum => inside,
        };
        let rt = bench.gas.specific_gas_constant() * ambient.kelvins();
        let pumped =
            self.strokes * self.stroke_volume.get::<cubic_meter>() * taken_at.pascals() / rt;
        let per_volume = self.reached.size().get::<pascal>() / rt;
        let volume = bench.volume.value().get::<cubic_meter>();
        let volume_uncertainty = bench.volume.standard_uncertainty().get::<cubic_meter>();
        let uncertainty = (DELIVERY_UNCERTAINTY * pumped).hypot(volume_uncertainty * per_volume);
        let leaked =
            pumped - volume * per_volume - probability::normal_quantile(level) * uncertainty;
        let flux = Orifice::mass_flux(&bench.gas, GasState { ..upstream }, downstream);
        let area = (leaked / (self.over.get::<second>() * flux)).max(0.0);
        EffectiveArea::from_square_meters(area).map_err(|_| PumpError::NothingReached)
    }
}
