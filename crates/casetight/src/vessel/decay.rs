//! The closed form: the decay of an isothermal vessel through a leak of any law of the list.

use uom::si::thermodynamic_temperature::kelvin;
use uom::si::time::second;
use uom::si::volume::cubic_meter;

use super::direction::Direction;
use super::error::VesselError;
use super::laws::{AnyShape, DecayLaw};
use super::model::DecayModel;
use crate::gas::{Gas, GasState};
use crate::leak::EffectiveArea;
use crate::quantity::{GaugePressure, QuantityError, Time, Volume};

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
    shape: AnyShape,
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
    /// [`VesselError`] names the quantity that is not valid.
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
    fn from_rate(
        law: DecayLaw,
        k: f64,
        start: GaugePressure,
        ambient: GasState,
        gas: &Gas,
    ) -> Result<Self, VesselError> {
        let direction = Direction::of(start).ok_or(VesselError::NoPressure)?;
        start.absolute(ambient.pressure)?;
        let model = DecayModel::new(law, gas, direction)?;
        let shape = *model.shape();
        let y = start.pascals() / ambient.pressure.pascals();
        Ok(Self {
            shape,
            ambient,
            start,
            start_coordinate: shape.of(y),
            speed: k / model.orifice_over_own(y).0 * shape.speed(),
        })
    }

    /// Gauge pressure at a time after the start (the start pressure itself for times before it).
    #[must_use]
    pub fn gauge_at(&self, time: Time) -> GaugePressure {
        let t = time.get::<second>();
        // A time that is no number has no pressure of its own; the start is the neutral answer.
        if t > 0.0 {
            let (y, _) = self.shape.ratio(self.start_coordinate - self.speed * t);
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
        let s = self.shape.of(now / self.ambient.pressure.pascals());
        let seconds = (self.start_coordinate - s) / self.speed;
        seconds.is_finite().then(|| Time::new::<second>(seconds))
    }

    /// When the needle reaches zero; none without a leak, or with a laminar one.
    #[must_use]
    pub fn ends_after(&self) -> Option<Time> {
        let seconds = (self.start_coordinate - self.shape.end()) / self.speed;
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
            .shape
            .of(gauge.pascals() / self.ambient.pressure.pascals()))
    }
}

/// Decay of an isothermal vessel (T = ambient temperature) through an ideal orifice; the right limit for slow leaks.
///
/// With k = `CdA` sqrt(R T)/V \[1/s\] and x the ratio of the lower to the higher pressure:
/// - pressure test, choked (p > `p_a`/x*): p = p0 exp(-k Psi* t)
/// - pressure test, subsonic: F(q) = F(q0) - k sqrt(beta/2) t, q^2 = x^-beta - 1, F(q) = Int (1+s^2)^(1/beta - 3/2) ds
/// - vacuum test, choked (p < x* `p_a`): p = p0 + k `p_a` Psi* t
/// - vacuum test, subsonic: u = u0 - k sqrt(beta/2) t, u^2 = 1 - x^beta
///
/// Both reach ambient in finite time and stay there. Derived for this project; source of the flow: `NACA1135`.
///
/// ```
/// use casetight::gas::{Gas, GasState};
/// use casetight::leak::EffectiveArea;
/// use casetight::quantity::{AbsolutePressure, GaugePressure, Length, ThermodynamicTemperature, Volume};
/// use casetight::vessel::IsothermalDecay;
/// use uom::si::{length::millimeter, thermodynamic_temperature::kelvin, time::second, volume::cubic_centimeter};
///
/// // How long does a hole of 0.1 mm take from 7 to 6 psi in 250 cm3?
/// let psi = 6894.757;
/// let decay = IsothermalDecay::new(
///     EffectiveArea::of_hole(Length::new::<millimeter>(0.1), 0.62)?,
///     Volume::new::<cubic_centimeter>(250.0),
///     GaugePressure::from_pascals(7.0 * psi)?,
///     GasState {
///         pressure: AbsolutePressure::from_pascals(101_325.0)?,
///         temperature: ThermodynamicTemperature::new::<kelvin>(293.15),
///     },
///     &Gas::dry_air(),
/// )?;
/// let t = decay.time_to(GaugePressure::from_pascals(6.0 * psi)?).ok_or("never")?;
/// assert!((t.get::<second>() - 13.0).abs() < 0.05);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Copy)]
pub struct IsothermalDecay(LawDecay);

impl IsothermalDecay {
    /// A leak of this effective area on this volume, from a start gauge pressure (above zero pressure, below zero
    /// vacuum) at time zero, in ambient gas at the vessel's own temperature.
    ///
    /// # Errors
    /// [`VesselError`] names the quantity that is not valid.
    pub fn new(
        area: EffectiveArea,
        volume: Volume,
        start: GaugePressure,
        ambient: GasState,
        gas: &Gas,
    ) -> Result<Self, VesselError> {
        Self::from_rate(
            rate_per_area(volume, ambient, gas)? * area.square_meters(),
            start,
            ambient,
            gas,
        )
    }

    /// As [`IsothermalDecay::new`], from the rate k = `CdA` sqrt(R T)/V \[1/s\] that a decay identifies.
    ///
    /// # Errors
    /// As there.
    pub fn from_rate(
        k: f64,
        start: GaugePressure,
        ambient: GasState,
        gas: &Gas,
    ) -> Result<Self, VesselError> {
        LawDecay::from_rate(DecayLaw::Orifice, k, start, ambient, gas).map(Self)
    }

    /// Gauge pressure at a time after the start (the start pressure itself for times before it).
    #[must_use]
    pub fn gauge_at(&self, time: Time) -> GaugePressure {
        self.0.gauge_at(time)
    }

    /// When the gauge passes a pressure; none where it never does (beyond the start, past ambient, or no leak).
    #[must_use]
    pub fn time_to(&self, gauge: GaugePressure) -> Option<Time> {
        self.0.time_to(gauge)
    }

    /// When the needle reaches zero; none without a leak.
    #[must_use]
    pub fn ends_after(&self) -> Option<Time> {
        self.0.ends_after()
    }

    /// The straightening coordinate of a gauge pressure: against time it is a straight line for an orifice, the
    /// diagnostic plot for one. Zero at ambient.
    ///
    /// # Errors
    /// [`QuantityError::BeyondVacuum`].
    pub fn straightened(&self, gauge: GaugePressure) -> Result<f64, QuantityError> {
        self.0.straightened(gauge)
    }
}

/// sqrt(R T)/V \[1/(s m2)\]: what turns an effective area into the rate k.
///
/// # Errors
/// [`VesselError::Volume`], [`VesselError::Temperature`].
pub fn rate_per_area(volume: Volume, ambient: GasState, gas: &Gas) -> Result<f64, VesselError> {
    let v = volume.get::<cubic_meter>();
    if !(v.is_finite() && v > 0.0) {
        return Err(VesselError::Volume { got: v });
    }
    let t = ambient.temperature.get::<kelvin>();
    if !(t.is_finite() && t > 0.0) {
        return Err(VesselError::Temperature { got: t });
    }
    Ok((gas.specific_gas_constant() * t).sqrt() / v)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::leak::LeakError;
    use crate::quantity::{AbsolutePressure, ThermodynamicTemperature};
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
