//! Crank rotation with the transfers shut: the piston's own displacement is the known volume.

use uom::si::f64::Angle;
use uom::si::pressure::pascal;
use uom::si::time::second;

use super::crank::{Crank, ROD, STROKE, check_length, travel};
use super::engine::{BORE, swept};
use super::error::{VolumeError, check_positive, check_resolved};
use super::method::Method;
use super::piston::{Piston, Transfers};
use super::settling::{Settling, settled};
use super::tested::TestedVolume;
use crate::measured::{Distribution, Dual, Input, Measured, MeasuredError, propagate_jointly};
use crate::quantity::{AbsolutePressure, GaugePressure, Length, Pressure, Time};

/// What the leak took away while the crank was turned, from how fast the needle moved with the crank held.
#[derive(Debug, Clone, PartialEq)]
pub struct Loss {
    /// By how much the reading fell while it was watched (below zero in a vacuum test, where it rises).
    pub fall: Measured<Pressure>,
    /// For how long it was watched, crank held.
    pub watched: Measured<Time>,
    /// Time between the readings before and after the turn.
    pub between: Measured<Time>,
}

/// Two crank angles with the transfers shut, and the settled gauge reading at each.
///
/// Pressure or vacuum; the first reading may be zero (the case vented, then shut). The zero error of the gauge is one input
/// for both readings and nearly drops out.
#[derive(Debug, Clone, PartialEq)]
pub struct Rotation {
    /// Bore.
    pub bore: Measured<Length>,
    /// Stroke.
    pub stroke: Measured<Length>,
    /// Rod length from center to center.
    pub rod: Measured<Length>,
    /// Crank angle after top dead center at the first reading.
    pub from: Measured<Angle>,
    /// Crank angle after top dead center at the second reading.
    pub to: Measured<Angle>,
    /// Gauge reading at the first angle.
    pub before: Measured<GaugePressure>,
    /// Gauge reading at the second angle, gas settled.
    pub after: Measured<GaugePressure>,
    /// What the gauge shows when it is open to the air: the zero error that both readings share.
    pub zero: Measured<GaugePressure>,
    /// Ambient pressure.
    pub ambient: Measured<AbsolutePressure>,
    /// How well the gas had settled at the second reading.
    pub settling: Settling,
    /// What the leak took in between; `None` for nothing.
    pub loss: Option<Loss>,
}

impl Rotation {
    fn inputs(&self, piston: Piston) -> Result<[Input; 15], MeasuredError> {
        let (at, half_width) = piston.angle();
        let at = Measured::from_half_width(at, half_width, Distribution::Rectangular)?;
        let Loss {
            fall,
            watched,
            between,
        } = match &self.loss {
            Some(loss) => loss.clone(),
            None => Loss::none()?,
        };
        let [temperature, excess] = self.settling.inputs();
        Ok([
            self.bore.input(BORE),
            self.stroke.input(STROKE),
            self.rod.input(ROD),
            self.from.input("first crank angle"),
            self.to.input("second crank angle"),
            at.input("crank angle of the test"),
            self.before.input("reading before"),
            self.after.input("reading after"),
            self.zero.input("gauge zero"),
            self.ambient.input("ambient pressure"),
            temperature,
            excess,
            fall.input("fall while watched"),
            watched.input("time watched"),
            between.input("time between the readings"),
        ])
    }
}

impl Loss {
    /// A needle that does not move.
    fn none() -> Result<Self, MeasuredError> {
        Ok(Self {
            fall: Measured::exact(Pressure::new::<pascal>(0.0))?,
            watched: Measured::exact(Time::new::<second>(1.0))?,
            between: Measured::exact(Time::new::<second>(0.0))?,
        })
    }
}

/// Outputs: the case side at the angle asked for, the case side at the first angle, what the piston has added to that
/// since, the rise of the pressure, and the volume driven out by the turn.
fn model(
    [
        bore,
        stroke,
        rod,
        from,
        to,
        at,
        before,
        after,
        zero,
        ambient,
        temperature,
        excess,
        fall,
        watched,
        between,
    ]: [Dual; 15],
) -> [Dual; 5] {
    let below = |theta| travel(stroke, rod, theta);
    let displaced = swept(bore, below(to) - below(from));
    let tight = after - zero + fall * between / watched;
    let settled = settled(tight, ambient, temperature, excess);
    let rise = settled - (before - zero);
    let first = (ambient + settled) * displaced / rise;
    let added = swept(bore, below(from) - below(at));
    [first + added, first, added, rise, displaced]
}

impl TestedVolume {
    /// The case-side volume with the piston where a test has it, by turning the crank between two angles.
    ///
    /// `p_1 V_1 = p_2 (V_1 - dV)` with `dV = A (s(theta_2) - s(theta_1))`, so `V_1 = p_2 dV/(p_2 - p_1)`, and from there
    /// `V = V_1 + A (s(theta_1) - s(theta))` at the position of the test. `p_2` is the absolute pressure corrected for a
    /// stated loss ([`Loss`], rate times time) and for gas that has not settled ([`Settling`]). Valid for an ideal gas, a slow
    /// turn and shut transfers. An angle of the test with a half-width is taken to be set anew, independent of the two others.
    ///
    /// Source: derived from the gas law and [`Crank::travel`].
    ///
    /// # Errors
    /// [`VolumeError::TransfersOpen`] for a test position with the transfers open; [`VolumeError::Length`] and
    /// [`VolumeError::Rod`] for dimensions of no engine; [`VolumeError::Input`] for a loss watched over no time;
    /// [`VolumeError::Unresolved`] where the change of pressure or of volume is not told from zero;
    /// [`VolumeError::NotPositive`] where pressure and volume changed the same way; [`VolumeError::Piston`].
    ///
    /// ```
    /// use casetight::measured::{Distribution, Evaluation, Measured};
    /// use casetight::quantity::{
    ///     AbsolutePressure, GaugePressure, Length, Pressure, TemperatureInterval, ThermodynamicTemperature,
    /// };
    /// use casetight::volume::{Piston, Rotation, Settling, TestedVolume};
    /// use uom::si::{angle::degree, f64::Angle, length::millimeter, pressure::pascal, volume::cubic_centimeter};
    /// use uom::si::{temperature_interval::kelvin, thermodynamic_temperature::degree_celsius};
    ///
    /// let normal = Evaluation::TypeB(Distribution::Normal);
    /// let pa = Pressure::new::<pascal>;
    /// let gauge = |value, u| GaugePressure::new(pa(value)).map(|reading| Measured::new(reading, pa(u), normal));
    /// let mm = |value, u| Measured::new(Length::new::<millimeter>(value), Length::new::<millimeter>(u), normal);
    /// let deg = |value, u| Measured::new(Angle::new::<degree>(value), Angle::new::<degree>(u), normal);
    /// let rotation = Rotation {
    ///     bore: mm(40.0, 0.03)?,
    ///     stroke: mm(34.0, 0.03)?,
    ///     rod: mm(62.0, 0.3)?,
    ///     from: deg(0.0, 1.0)?,
    ///     to: deg(90.0, 1.0)?,
    ///     before: gauge(0.0, 50.0)??,
    ///     after: gauge(22_000.0, 50.0)??,
    ///     zero: gauge(0.0, 50.0)??,
    ///     ambient: Measured::exact(AbsolutePressure::from_pascals(101_325.0)?)?,
    ///     settling: Settling::within(
    ///         Measured::exact(ThermodynamicTemperature::new::<degree_celsius>(20.0))?,
    ///         TemperatureInterval::new::<kelvin>(0.3),
    ///     )?,
    ///     loss: None,
    /// };
    /// let tested = TestedVolume::from_rotation(&rotation, Piston::Top)?;
    /// assert!((tested.volume().value().get::<cubic_centimeter>() - 136.49).abs() < 0.01);
    /// assert!((tested.volume().standard_uncertainty().get::<cubic_centimeter>() - 2.18).abs() < 0.01);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn from_rotation(rotation: &Rotation, piston: Piston) -> Result<Self, VolumeError> {
        let piston = piston.checked()?;
        if piston.transfers() == Transfers::Open {
            return Err(VolumeError::TransfersOpen { piston });
        }
        check_length(BORE, rotation.bore.value())?;
        Crank::new(rotation.stroke.value(), rotation.rod.value())?;
        if let Some(loss) = &rotation.loss {
            check_positive("time for which the loss was watched", &loss.watched)?;
        }
        let inputs = rotation.inputs(piston)?;
        // The differences are looked at before the quotient, which would not be finite.
        let differences = propagate_jointly(&inputs, None, |x| {
            let [.., rise, displaced] = model(x);
            [rise, displaced]
        })?;
        check_resolved("change of the pressure", &differences, 0)?;
        check_resolved("volume that the piston moved", &differences, 1)?;
        let joint = propagate_jointly(&inputs, None, model)?;
        let names = ["case side at the first angle", "piston's travel from there"];
        Self::from_outputs(Method::CrankRotation, &joint, names.map(Into::into))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::volume::bench::{
        agrees_with_monte_carlo, ambient, deg, excess, fall, gauge, mm, seconds,
    };

    #[test]
    fn first_order_agrees_with_monte_carlo() {
        let rotation = Rotation {
            bore: mm(40.0, 0.05),
            stroke: mm(34.0, 0.05),
            rod: mm(62.0, 0.5),
            from: deg(20.0, 1.0),
            to: deg(95.0, 1.0),
            before: gauge(10e3, 100.0),
            after: gauge(33e3, 100.0),
            zero: gauge(0.0, 200.0),
            ambient: ambient(101_325.0, 100.0),
            settling: excess(0.0, 0.2),
            loss: Some(Loss {
                fall: fall(200.0, 40.0),
                watched: seconds(20.0, 0.5),
                between: seconds(10.0, 1.0),
            }),
        };
        let piston = "10 +- 3 deg, transfers shut".parse().unwrap();
        let tested = TestedVolume::from_rotation(&rotation, piston).unwrap();
        agrees_with_monte_carlo(&tested, &rotation.inputs(piston).unwrap(), |x| {
            model(<[Dual; 15]>::try_from(x).unwrap())[0]
        });
    }
}
