//! Known-volume expansion: gas from a reference volume is let into the tested one, or the other way round.

use super::error::{VolumeError, check_positive, check_resolved};
use super::method::Method;
use super::settling::{Settling, settled};
use super::tested::TestedVolume;
use crate::measured::{Dual, Input, Measured, MeasuredError, PropagatedJointly, propagate_jointly};
use crate::quantity::{AbsolutePressure, GaugePressure, Volume};

/// A reference volume, the reading on it before the valve to the tested side was opened, and the settled reading after.
///
/// Either side may have been pumped up or evacuated first; the gas flows as it will. A scale error of the gauge drops out, since only a ratio of gauge pressures
/// counts; its zero error does not, and is one input for all readings. Where the tested side was read too, the zero cancels.
///
/// Source: `[ISO12154]`, the same balance of gas that a gas pycnometer rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct Expansion {
    /// Reference volume `V_1` up to the valve, gauge included.
    pub reference: Measured<Volume>,
    /// Gauge reading on the reference volume, valve shut.
    pub before: Measured<GaugePressure>,
    /// Gauge reading on the tested side, valve shut; none where it stood open to the air.
    pub tested: Option<Measured<GaugePressure>>,
    /// Gauge reading on both, valve open, gas settled.
    pub after: Measured<GaugePressure>,
    /// What the gauge shows when it is open to the air: the zero error that all readings share.
    pub zero: Measured<GaugePressure>,
    /// Ambient pressure, which the readings count from (it counts only as far as the gas has not settled).
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

    /// What a model makes of its answers, with the reading on the tested side as one more input where there is one.
    fn joint<const M: usize>(
        &self,
        of: impl Fn([Dual; 3]) -> [Dual; M],
    ) -> Result<PropagatedJointly, MeasuredError> {
        let inputs = self.inputs();
        let Some(tested) = &self.tested else {
            return propagate_jointly(&inputs, None, |x| of(model(x, None)));
        };
        let [a, b, c, d, e, f, g] = inputs;
        let tested = tested.input("reading on the tested side");
        propagate_jointly(&[a, b, c, d, e, f, g, tested], None, |x| {
            let [a, b, c, d, e, f, g, tested] = x;
            of(model([a, b, c, d, e, f, g], Some(tested)))
        })
    }
}

/// Expansion balance with gauge pressures: outputs the volume, the fall on the reference and the rise on the tested side, whose
/// first reading is the gauge's zero where it stood open to the air.
fn model(
    [reference, before, after, zero, ambient, temperature, excess]: [Dual; 7],
    tested: Option<Dual>,
) -> [Dual; 3] {
    let both = settled(after - zero, ambient, temperature, excess);
    let fall = before - zero - both;
    let rise = both - (tested.unwrap_or(zero) - zero);
    [reference * fall / rise, fall, rise]
}

impl TestedVolume {
    /// The volume behind the valve by known-volume expansion.
    ///
    /// `(p_1 - p_f) V_1 = (p_f - p_2) V`, so `V = V_1 (g_1 - g_f)/(g_f - g_2)` with the gauge readings `g_1` and `g_2` on either
    /// side before and `g_f` after; `g_2` is the gauge's zero of a tested side that stood open to the air. A gas not yet settled enters as [`Settling`] says. Valid for an ideal gas (air at bench
    /// pressures: within 0.05 %) and rigid walls. Everything between the valve and the engine is in V.
    ///
    /// The uncertainty is least, for a given gauge, with a reference of about the tested volume's size.
    ///
    /// Source: `[ISO12154]`.
    ///
    /// # Errors
    /// [`VolumeError::Input`] for a reference volume not above zero, [`VolumeError::Unresolved`] where the fall of the reading
    /// or its rise on the tested side is not told from zero, [`VolumeError::NotPositive`] where the readings contradict each other.
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
    ///     tested: None,
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
        // The differences are looked at before the quotient, which would not be finite.
        let differences = expansion.joint(|[_, fall, rise]| [fall, rise])?;
        let rise = match expansion.tested {
            Some(_) => "rise of the reading on the tested side",
            None => "reading after",
        };
        check_resolved("fall of the reading", &differences, 0)?;
        check_resolved(rise, &differences, 1)?;
        let joint = expansion.joint(|outputs| outputs)?;
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
            tested: None,
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
            model(<[Dual; 7]>::try_from(x).unwrap(), None)[0]
        });
    }

    /// By hand, with absolute pressures in kPa at an ambient of 100: a vessel of 200 cm3 at 50 and a case at 100 come to 80:
    /// (50 - 80) 200 = (80 - 100) V, V = 300 cm3. A case of 300 cm3 at 40 and the vessel at 100 come to 64: (100 - 64) 200 =
    /// (64 - 40) 300. A case at 30 and the vessel pumped to 150 come to 78: (150 - 78) 200 = (78 - 30) 300.
    #[test]
    fn either_side_may_be_evacuated() {
        let of = |before: f64, tested: Option<f64>, after: f64| {
            let expansion = Expansion {
                before: gauge(before, 50.0),
                tested: tested.map(|tested| gauge(tested, 50.0)),
                after: gauge(after, 50.0),
                zero: gauge(0.0, 50.0),
                ambient: ambient(100e3, 100.0),
                settling: excess(0.0, 0.1),
                ..expansion()
            };
            TestedVolume::from_expansion(&expansion).unwrap()
        };
        for (before, tested, after) in [
            (-50e3, None, -20e3),
            (0.0, Some(-60e3), -36e3),
            (50e3, Some(-70e3), -22e3),
        ] {
            let volume = of(before, tested, after);
            let got = volume.volume().value().value * 1e6;
            assert!((got - 300.0).abs() < 1e-9, "{got}");
            // The zero of a gauge that read both sides cancels but for the heat that is not settled.
            let zero = volume.contributions()[3].uncertainty * 1e6;
            assert_eq!(zero.abs() < 1e-9, tested.is_some(), "{zero}");
        }
        let told = of(0.0, Some(-60e3), -36e3);
        assert_eq!(told.contributions()[7].name, "reading on the tested side");
    }

    /// By hand: 0.5 K, rectangular, is 0.29 K of 293.15 K, 100 Pa of 101.8 kPa: 0.5 kPa stands clear of it by less than 5 times.
    #[test]
    fn gas_that_is_not_settled_is_named() {
        let unsettled = |after: f64, settling| {
            TestedVolume::from_expansion(&Expansion {
                after: gauge(after, 10.0),
                zero: gauge(0.0, 10.0),
                settling,
                ..expansion()
            })
        };
        match unsettled(480.0, excess(0.0, 0.29)) {
            Err(error @ VolumeError::Unresolved { unsettled, .. }) => {
                assert!(unsettled);
                assert!(error.to_string().contains("`settled_within`"), "{error}");
            }
            other => panic!("{other:?}"),
        }
        assert!(unsettled(600.0, excess(0.0, 0.29)).is_ok());
        match unsettled(40.0, excess(0.0, 0.0)) {
            Err(VolumeError::Unresolved { unsettled, .. }) => assert!(!unsettled),
            other => panic!("{other:?}"),
        }
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
