//! Decays by any law that has a straightening coordinate.

use uom::si::time::second;

use super::laminar::LaminarCoordinate;
use super::model::DecayModel;
use super::power::PowerCoordinate;
use super::sonic::SonicCoordinate;
use super::straight::{OrificeCoordinate, Straight};
use super::{Direction, VesselError, rate_per_area};
use crate::gas::{Gas, GasState};
use crate::leak::{EffectiveArea, PowerLaw, check_critical_ratio};
use crate::quantity::{GaugePressure, QuantityError, Time, Volume};

/// A leak law as the shape of the decay that it gives: all of it but the leak's size.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum DecayLaw {
    /// [`crate::leak::Orifice`].
    Orifice,
    /// [`crate::leak::SonicConductanceLaw`] with the exponent 0.5.
    Sonic {
        /// Critical pressure ratio b.
        critical_ratio: f64,
    },
    /// [`crate::leak::Capillary`] and [`crate::leak::Slot`].
    Laminar,
    /// [`crate::leak::PowerLaw`].
    Power {
        /// Exponent n.
        exponent: f64,
    },
}

impl DecayLaw {
    /// The name of the leak law, as its own [`crate::leak::LeakLaw::name`].
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Orifice => "orifice",
            Self::Sonic { .. } => "sonic conductance",
            Self::Laminar => "laminar",
            Self::Power { .. } => "power law",
        }
    }

    /// The kind of leak in the trade's words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Orifice => "a hole",
            Self::Sonic { .. } => "a tube or fitting",
            Self::Laminar => "a fine gap",
            Self::Power { .. } => "between a hole and a fine gap",
        }
    }
}

/// The coordinate of one of the laws.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Coordinate {
    Orifice(OrificeCoordinate),
    Sonic(SonicCoordinate),
    Laminar(LaminarCoordinate),
    Power(PowerCoordinate),
}

impl Coordinate {
    /// The coordinate of a law, in the gas and direction of an orifice's.
    pub(crate) fn beside(law: DecayLaw, orifice: OrificeCoordinate) -> Result<Self, VesselError> {
        let direction = orifice.direction();
        Ok(match law {
            DecayLaw::Orifice => Self::Orifice(orifice),
            DecayLaw::Sonic { critical_ratio } => Self::Sonic(SonicCoordinate::new(
                check_critical_ratio(critical_ratio)?,
                direction,
            )),
            DecayLaw::Laminar => Self::Laminar(LaminarCoordinate::new(direction)),
            DecayLaw::Power { exponent } => Self::Power(PowerCoordinate::new(
                PowerLaw::check_exponent(exponent)?,
                direction,
            )),
        })
    }

    fn any(&self) -> &dyn Straight {
        match self {
            Self::Orifice(coordinate) => coordinate,
            Self::Sonic(coordinate) => coordinate,
            Self::Laminar(coordinate) => coordinate,
            Self::Power(coordinate) => coordinate,
        }
    }
}

impl Straight for Coordinate {
    fn speed(&self) -> f64 {
        self.any().speed()
    }

    fn end(&self) -> f64 {
        self.any().end()
    }

    fn of(&self, y: f64) -> f64 {
        self.any().of(y)
    }

    fn ratio(&self, s: f64) -> (f64, f64) {
        self.any().ratio(s)
    }

    fn place(&self, y: f64) -> (f64, f64) {
        self.any().place(y)
    }
}

/// Decay of an isothermal vessel through a leak of any [`DecayLaw`], its size given as the effective area at the start.
///
/// A coordinate s of the pressure falls along a straight line in time, one for each law; y = (p - `p_a`)/`p_a`:
/// - orifice: as [`super::IsothermalDecay`]
/// - sonic: an angle whose cosine is (x - b)/(1 - b), and in pressure an elementary function of it
/// - laminar: ln |(p - `p_a`)/(p + `p_a`)|, which never ends
/// - power: Int dy/((1 + y/2) |y|^n)
///
/// The own rate of each law follows from the effective area by equal flow at the start pressure
/// ([`EffectiveArea::passing`]). Valid while the gas keeps the wall's temperature: slow leaks. Source: derived.
///
/// ```
/// use casetight::gas::{Gas, GasState};
/// use casetight::leak::EffectiveArea;
/// use casetight::quantity::{AbsolutePressure, GaugePressure, ThermodynamicTemperature, Volume};
/// use casetight::vessel::{DecayLaw, LawDecay};
/// use uom::si::{thermodynamic_temperature::degree_celsius, time::second, volume::cubic_centimeter};
///
/// let ambient = GasState {
///     pressure: AbsolutePressure::from_pascals(101_325.0)?,
///     temperature: ThermodynamicTemperature::new::<degree_celsius>(20.0),
/// };
/// let seconds = |law| -> Result<f64, Box<dyn std::error::Error>> {
///     let decay = LawDecay::new(
///         law,
///         EffectiveArea::from_square_meters(5e-9)?,
///         Volume::new::<cubic_centimeter>(250.0),
///         GaugePressure::from_pascals(48e3)?,
///         ambient,
///         &Gas::dry_air(),
///     )?;
///     let time = decay.time_to(GaugePressure::from_pascals(12e3)?).ok_or("never")?;
///     Ok(time.get::<second>())
/// };
/// // Of leaks that are alike at the start, a laminar one takes longer to the end.
/// assert!((seconds(DecayLaw::Orifice)? - 84.715).abs() < 1e-3);
/// assert!((seconds(DecayLaw::Laminar)? - 129.903).abs() < 1e-3);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Copy)]
pub struct LawDecay {
    coordinate: Coordinate,
    ambient: GasState,
    start: GaugePressure,
    start_coordinate: f64,
    /// Speed of the coordinate \[1/s\].
    speed: f64,
}

impl LawDecay {
    /// A leak of this effective area at the start on this volume, from a start gauge pressure (above zero pressure, below
    /// zero vacuum) at time zero, in ambient gas at the vessel's own temperature.
    ///
    /// # Errors
    /// [`VesselError`] names the quantity that can't be.
    pub fn new(
        law: DecayLaw,
        area_at_start: EffectiveArea,
        volume: Volume,
        start: GaugePressure,
        ambient: GasState,
        gas: &Gas,
    ) -> Result<Self, VesselError> {
        let k = rate_per_area(volume, ambient, gas)? * area_at_start.square_meters();
        Self::from_rate(law, k, start, ambient, gas)
    }

    /// As [`LawDecay::new`], from the rate k = `CdA` sqrt(R T)/V \[1/s\] of the orifice with the same flow at the start.
    pub(super) fn from_rate(
        law: DecayLaw,
        k: f64,
        start: GaugePressure,
        ambient: GasState,
        gas: &Gas,
    ) -> Result<Self, VesselError> {
        let direction = Direction::of(start).ok_or(VesselError::NoPressure)?;
        start.absolute(ambient.pressure)?;
        let model = DecayModel::new(law, gas, direction)?;
        let coordinate = *model.coordinate();
        let y = start.pascals() / ambient.pressure.pascals();
        Ok(Self {
            coordinate,
            ambient,
            start,
            start_coordinate: coordinate.of(y),
            speed: k / model.orifice_over_own(y).0 * coordinate.speed(),
        })
    }

    /// Gauge pressure at a time after the start (the start pressure itself for times before it).
    #[must_use]
    pub fn gauge_at(&self, time: Time) -> GaugePressure {
        let t = time.get::<second>();
        // A time that is no number has no pressure of its own; the start is the neutral answer.
        if t > 0.0 {
            let (y, _) = self
                .coordinate
                .ratio(self.start_coordinate - self.speed * t);
            GaugePressure::from_pascals(self.ambient.pressure.pascals() * y).unwrap_or(self.start)
        } else {
            self.start
        }
    }

    /// When the gauge passes a pressure; none where it never does (beyond the start, past ambient, no leak, or ambient
    /// itself by a laminar leak).
    #[must_use]
    pub fn time_to(&self, gauge: GaugePressure) -> Option<Time> {
        let (now, start) = (gauge.pascals(), self.start.pascals());
        if self.speed <= 0.0 || now * start.signum() < 0.0 || now.abs() > start.abs() {
            return None;
        }
        let s = self.coordinate.of(now / self.ambient.pressure.pascals());
        let seconds = (self.start_coordinate - s) / self.speed;
        seconds.is_finite().then(|| Time::new::<second>(seconds))
    }

    /// When the needle reaches zero; none without a leak, or with a laminar one.
    #[must_use]
    pub fn ends_after(&self) -> Option<Time> {
        let seconds = (self.start_coordinate - self.coordinate.end()) / self.speed;
        (self.speed > 0.0 && seconds.is_finite()).then(|| Time::new::<second>(seconds))
    }

    /// The straightening coordinate of a gauge pressure: against time it is a straight line for this law, the diagnostic
    /// plot for one. Minus infinity at ambient for a laminar leak.
    ///
    /// # Errors
    /// [`QuantityError::BeyondVacuum`].
    pub fn straightened(&self, gauge: GaugePressure) -> Result<f64, QuantityError> {
        gauge.absolute(self.ambient.pressure)?;
        Ok(self
            .coordinate
            .of(gauge.pascals() / self.ambient.pressure.pascals()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::leak::LeakError;
    use crate::quantity::{AbsolutePressure, ThermodynamicTemperature};
    use crate::vessel::IsothermalDecay;
    use uom::si::thermodynamic_temperature::kelvin;
    use uom::si::volume::cubic_centimeter;

    const EACH: [DecayLaw; 4] = [
        DecayLaw::Orifice,
        DecayLaw::Sonic {
            critical_ratio: 0.35,
        },
        DecayLaw::Laminar,
        DecayLaw::Power { exponent: 0.65 },
    ];

    fn gauge(pascals: f64) -> GaugePressure {
        GaugePressure::from_pascals(pascals).unwrap()
    }

    fn ambient() -> GasState {
        GasState {
            pressure: AbsolutePressure::from_pascals(101_325.0).unwrap(),
            temperature: ThermodynamicTemperature::new::<kelvin>(293.15),
        }
    }

    fn decay(law: DecayLaw, area: f64, start: f64) -> Result<LawDecay, VesselError> {
        LawDecay::new(
            law,
            EffectiveArea::from_square_meters(area).unwrap(),
            Volume::new::<cubic_centimeter>(250.0),
            gauge(start),
            ambient(),
            &Gas::dry_air(),
        )
    }

    fn seconds(time: Option<Time>) -> f64 {
        time.unwrap().get::<second>()
    }

    #[test]
    fn all_laws_set_out_at_the_same_speed() {
        for start in [70e3, 200e3, 5e3, -20e3, -60e3, -90e3] {
            let step = 1e-5 * start;
            let first = |law| {
                seconds(
                    decay(law, 5e-8, start)
                        .unwrap()
                        .time_to(gauge(start - step)),
                )
            };
            let orifice = first(DecayLaw::Orifice);
            for law in EACH {
                // They part only by the difference of their curvatures over the step.
                assert!((first(law) / orifice - 1.0).abs() < 1e-4, "{law:?} {start}");
            }
        }
    }

    #[test]
    fn the_orifice_is_the_one_there_is() {
        for start in [70e3, -60e3] {
            let one = decay(DecayLaw::Orifice, 5e-8, start).unwrap();
            let other = IsothermalDecay::new(
                EffectiveArea::from_square_meters(5e-8).unwrap(),
                Volume::new::<cubic_centimeter>(250.0),
                gauge(start),
                ambient(),
                &Gas::dry_air(),
            )
            .unwrap();
            let relative = seconds(one.ends_after()) / seconds(other.ends_after()) - 1.0;
            assert!(relative.abs() < 1e-14, "{relative}");
            let t = Time::new::<second>(3.0);
            let (a, b) = (one.gauge_at(t).pascals(), other.gauge_at(t).pascals());
            assert!((a / b - 1.0).abs() < 1e-13);
        }
    }

    #[test]
    fn it_ends_where_it_should() {
        for start in [70e3, -60e3] {
            for law in EACH {
                let decay = decay(law, 5e-8, start).unwrap();
                let end = decay.ends_after();
                assert_eq!(end.is_none(), law == DecayLaw::Laminar, "{law:?}");
                assert_eq!(decay.time_to(gauge(0.0)).is_none(), end.is_none());
                if let Some(end) = end {
                    assert_eq!(decay.gauge_at(end * 1.001).pascals(), 0.0);
                    assert!(decay.gauge_at(end * 0.99).pascals() * start > 0.0);
                }
                assert!(decay.time_to(gauge(-start)).is_none());
                assert!(decay.time_to(gauge(1.01 * start)).is_none());
                let line = decay.straightened(gauge(0.5 * start)).unwrap();
                let half = seconds(decay.time_to(gauge(0.5 * start)));
                assert!((decay.start_coordinate - decay.speed * half - line).abs() < 1e-14);
                assert_eq!(decay.gauge_at(Time::new::<second>(-1.0)), decay.start);
                assert_eq!(decay.gauge_at(Time::new::<second>(f64::NAN)), decay.start);
            }
        }
    }

    #[test]
    fn no_leak_and_what_can_not_be() {
        let tight = decay(DecayLaw::Laminar, 0.0, 70e3).unwrap();
        assert!(tight.ends_after().is_none() && tight.time_to(gauge(1e3)).is_none());
        assert_eq!(
            tight.gauge_at(Time::new::<second>(1e9)).pascals().round(),
            70e3
        );
        assert!(matches!(
            decay(DecayLaw::Power { exponent: 1.2 }, 1e-8, 70e3),
            Err(VesselError::Leak(LeakError::Exponent { .. }))
        ));
        assert!(matches!(
            decay(
                DecayLaw::Sonic {
                    critical_ratio: 1.0
                },
                1e-8,
                70e3
            ),
            Err(VesselError::Leak(LeakError::CriticalRatio { .. }))
        ));
        assert!(matches!(
            decay(DecayLaw::Laminar, 1e-8, 0.0),
            Err(VesselError::NoPressure)
        ));
        assert!(matches!(
            decay(DecayLaw::Laminar, 1e-8, -110e3),
            Err(VesselError::Quantity(_))
        ));
    }
}
