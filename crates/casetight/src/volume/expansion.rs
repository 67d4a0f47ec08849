//! Known-volume expansion: gas from a reference volume is let into the tested one.

use super::error::{VolumeError, check_positive, check_resolved};
use super::method::Method;
use super::settling::{Settling, settled};
use super::tested::TestedVolume;
use crate::measured::{Dual, Input, Measured, propagate_jointly};
use crate::quantity::{AbsolutePressure, GaugePressure, Volume};

/// A reference volume, the reading on it before the valve to the tested side was opened, and the settled reading after.
///
/// The pressure may lie above or below ambient. A scale error of the gauge drops out, since only a ratio of gauge pressures
/// counts; its zero error does not, and is one input for both readings.
///
/// Source: `[ISO12154]`, the same balance of gas that a gas pycnometer rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct Expansion {
    /// Reference volume `V_1` up to the valve, gauge included.
    pub reference: Measured<Volume>,
    /// Gauge reading on the reference volume, valve shut.
    pub before: Measured<GaugePressure>,
    /// Gauge reading on both, valve open, gas settled.
    pub after: Measured<GaugePressure>,
    /// What the gauge shows when it is open to the air: the zero error that both readings share.
    pub zero: Measured<GaugePressure>,
    /// Ambient pressure, which the gas in the tested side had (it counts only as far as the gas has not settled).
    pub ambient: Measured<AbsolutePressure>,
    /// How well the gas had settled at the second reading.
    pub settling: Settling,
}

impl Expansion {
    fn inputs(&self) -> [Input; 7] {
        let [temperature, excess] = self.settling.inputs();
        [
            self.reference.input("reference volume"),
            self.before.input("reading before"),
            self.after.input("reading after"),
            self.zero.input("gauge zero"),
            self.ambient.input("ambient pressure"),
            temperature,
            excess,
        ]
    }
}

/// Expansion balance with gauge pressures: outputs the volume, the fall and the rise.
fn model([reference, before, after, zero, ambient, temperature, excess]: [Dual; 7]) -> [Dual; 3] {
    let rise = settled(after - zero, ambient, temperature, excess);
    let fall = before - zero - rise;
    [reference * fall / rise, fall, rise]
}

impl TestedVolume {
    /// The volume behind the valve by known-volume expansion.
    ///
    /// `(p_1 - p_f) V_1 = (p_f - p_a) V`, so `V = V_1 (g_1 - g_f)/(g_f - z)` with the gauge readings `g_1` before and `g_f`
    /// after and the gauge's zero z; a gas not yet settled enters as [`Settling`] says. Valid for an ideal gas (air at bench
    /// pressures: within 0.05 %) and rigid walls. Everything between the valve and the engine is in V.
    ///
    /// The uncertainty is least, for a given gauge, with a reference of about the tested volume's size.
    ///
    /// Source: `[ISO12154]`.
    ///
    /// # Errors
    /// [`VolumeError::Input`] for a reference volume not above zero, [`VolumeError::Unresolved`] where the fall of the reading
    /// or what is left of it is not told from zero, [`VolumeError::NotPositive`] where the readings contradict each other.
    ///
    /// ```
    /// use casetight::measured::{Distribution, Evaluation, Measured};
    /// use casetight::quantity::{
    ///     AbsolutePressure, GaugePressure, Pressure, TemperatureInterval, ThermodynamicTemperature, Volume,
    /// };
    /// use casetight::volume::{Expansion, Settling, TestedVolume};
    /// use uom::si::pressure::pascal;
    /// use uom::si::volume::cubic_centimeter;
    /// use uom::si::{temperature_interval::kelvin, thermodynamic_temperature::degree_celsius};
    ///
    /// let normal = Evaluation::TypeB(Distribution::Normal);
    /// let pa = Pressure::new::<pascal>;
    /// let gauge = |value, u| GaugePressure::new(pa(value)).map(|reading| Measured::new(reading, pa(u), normal));
    /// let cm3 = Volume::new::<cubic_centimeter>;
    /// let expansion = Expansion {
    ///     reference: Measured::new(cm3(200.0), cm3(0.5), normal)?,
    ///     before: gauge(50_000.0, 100.0)??,
    ///     after: gauge(20_000.0, 100.0)??,
    ///     zero: gauge(0.0, 100.0)??,
    ///     ambient: Measured::exact(AbsolutePressure::from_pascals(101_325.0)?)?,
    ///     settling: Settling::within(
    ///         Measured::exact(ThermodynamicTemperature::new::<degree_celsius>(20.0))?,
    ///         TemperatureInterval::new::<kelvin>(0.3),
    ///     )?,
    /// };
    /// let tested = TestedVolume::from_expansion(&expansion)?;
    /// assert!((tested.volume().value().get::<cubic_centimeter>() - 300.0).abs() < 1e-9);
    /// assert!((tested.volume().standard_uncertainty().get::<cubic_centimeter>() - 3.64).abs() < 0.01);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn from_expansion(expansion: &Expansion) -> Result<Self, VolumeError> {
        check_positive("reference volume", &expansion.reference)?;
        let inputs = expansion.inputs();
        // The differences are looked at before the quotient, which would not be finite.
        let differences = propagate_jointly(&inputs, None, |x| {
            let [_, fall, rise] = model(x);
            [fall, rise]
        })?;
        check_resolved("fall of the reading", &differences, 0)?;
        check_resolved("reading after", &differences, 1)?;
        let joint = propagate_jointly(&inputs, None, model)?;
        Self::from_outputs(Method::Expansion, &joint, None)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::volume::bench::{agrees_with_monte_carlo, ambient, cm3, excess, gauge};

    fn expansion() -> Expansion {
        Expansion {
            reference: cm3(200.0, 1.0),
            before: gauge(50e3, 200.0),
            after: gauge(20e3, 200.0),
            zero: gauge(100.0, 150.0),
            ambient: ambient(101_325.0, 100.0),
            settling: excess(0.1, 0.2),
        }
    }

    #[test]
    fn first_order_agrees_with_monte_carlo() {
        let expansion = expansion();
        let tested = TestedVolume::from_expansion(&expansion).unwrap();
        agrees_with_monte_carlo(&tested, &expansion.inputs(), |x| {
            model(<[Dual; 7]>::try_from(x).unwrap())[0]
        });
    }

    #[test]
    fn the_shared_zero_counts_once() {
        // With z shared, dV/dz = V_1 (g_1 - g_f)/(g_f - z)^2 (no term from the fall), settled gas; by hand:
        // 200 cm3 * 30 kPa/(20 kPa)^2 * 0.15 kPa = 2.25 cm3.
        let expansion = Expansion {
            zero: gauge(0.0, 150.0),
            settling: excess(0.0, 0.0),
            ..expansion()
        };
        let tested = TestedVolume::from_expansion(&expansion).unwrap();
        let zero = &tested.contributions()[3];
        assert_eq!(zero.name, "gauge zero");
        assert!(
            (zero.uncertainty * 1e6 - 2.25).abs() < 1e-9,
            "{}",
            zero.uncertainty
        );
    }
}
