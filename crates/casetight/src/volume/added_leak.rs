//! A known leak beside the unknown one: two decays give both the volume and the unknown leak.

use super::error::{VolumeError, check_positive, check_resolved};
use super::method::Method;
use super::tested::TestedVolume;
use crate::gas::Gas;
use crate::measured::{Dual, DualNum, Measured, propagate_jointly};
use crate::quantity::{Area, Frequency, ThermodynamicTemperature};

/// Decay rates without and with a leak of known effective area.
///
/// A rate is `k = CdA sqrt(R T)/V`, what a run's readings tell by themselves.
#[derive(Debug, Clone, PartialEq)]
pub struct AddedLeak {
    /// Rate `k_1` of the unknown leak alone.
    pub alone: Measured<Frequency>,
    /// Rate `k_2` of both together.
    pub together: Measured<Frequency>,
    /// Correlation coefficient of the two rates \[1\]: zero for runs that share nothing; towards 1 the more the gauge's scale,
    /// which both share, makes up their uncertainties.
    pub rate_correlation: f64,
    /// Effective area A of the known leak.
    pub known: Measured<Area>,
    /// Gas temperature T.
    pub temperature: Measured<ThermodynamicTemperature>,
    /// The gas.
    pub gas: Gas,
}

/// What the two decays tell together.
#[derive(Debug, Clone, PartialEq)]
pub struct VolumeAndArea {
    volume: TestedVolume,
    area: Measured<Area>,
    covariance: f64,
    correlation: f64,
}

impl VolumeAndArea {
    /// The tested volume.
    #[must_use]
    pub fn volume(&self) -> &TestedVolume {
        &self.volume
    }

    /// The unknown leak's effective area `CdA = A k_1/(k_2 - k_1)`, which needs neither volume nor temperature.
    #[must_use]
    pub fn area(&self) -> &Measured<Area> {
        &self.area
    }

    /// Covariance of volume and area \[m5\].
    #[must_use]
    pub fn covariance(&self) -> f64 {
        self.covariance
    }

    /// Correlation coefficient of volume and area \[1\]; zero where one of them has no uncertainty.
    #[must_use]
    pub fn correlation(&self) -> f64 {
        self.correlation
    }
}

/// Outputs: volume, unknown area.
fn model(
    specific_gas_constant: f64,
    [alone, together, known, temperature]: [Dual; 4],
) -> [Dual; 2] {
    let per_rate = known / (together - alone);
    let speed = (temperature * specific_gas_constant).sqrt();
    [per_rate * speed, per_rate * alone]
}

impl TestedVolume {
    /// Volume and unknown leak area from two decays, one of them with a known leak added.
    ///
    /// `k_1 = CdA sqrt(R T)/V` and `k_2 = (CdA + A) sqrt(R T)/V`, so `V = A sqrt(R T)/(k_2 - k_1)` and
    /// `CdA = A k_1/(k_2 - k_1)`. Valid where one law, an orifice's, rules both runs over the same pressures; what the known
    /// leak was calibrated for (effective area, not hole area) must be that range too. Source: derived.
    ///
    /// # Errors
    /// [`VolumeError::Input`] unless the known area and the temperature are above zero, [`VolumeError::Unresolved`] where the
    /// rates don't differ clearly, [`VolumeError::NotPositive`] where the known leak made the decay slower,
    /// [`VolumeError::Measured`] for a correlation outside -1 to 1.
    ///
    /// ```
    /// use casetight::gas::Gas;
    /// use casetight::measured::{Distribution, Evaluation, Measured};
    /// use casetight::quantity::{Area, Frequency, ThermodynamicTemperature};
    /// use casetight::volume::{AddedLeak, TestedVolume};
    /// use uom::si::{area::square_millimeter, frequency::hertz, volume::cubic_centimeter};
    /// use uom::si::thermodynamic_temperature::degree_celsius;
    ///
    /// let normal = Evaluation::TypeB(Distribution::Normal);
    /// let rate = |value, u| Measured::new(Frequency::new::<hertz>(value), Frequency::new::<hertz>(u), normal);
    /// let mm2 = Area::new::<square_millimeter>;
    /// let both = TestedVolume::from_added_leak(&AddedLeak {
    ///     alone: rate(0.0116, 0.0001)?,
    ///     together: rate(0.0348, 0.0003)?,
    ///     rate_correlation: 0.0,
    ///     known: Measured::new(mm2(0.020), mm2(0.0004), normal)?,
    ///     temperature: Measured::exact(ThermodynamicTemperature::new::<degree_celsius>(20.0))?,
    ///     gas: Gas::dry_air(),
    /// })?;
    /// let volume = both.volume().volume();
    /// assert!((volume.value().get::<cubic_centimeter>() - 250.08).abs() < 0.01);
    /// assert!((volume.standard_uncertainty().get::<cubic_centimeter>() - 6.05).abs() < 0.01);
    /// assert!((both.area().value().get::<square_millimeter>() - 0.010).abs() < 1e-9);
    /// assert!(both.correlation() > 0.9);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn from_added_leak(leak: &AddedLeak) -> Result<VolumeAndArea, VolumeError> {
        check_positive("known leak's effective area", &leak.known)?;
        check_positive("gas temperature", &leak.temperature)?;
        let inputs = [
            leak.alone.input("rate alone"),
            leak.together.input("rate together"),
            leak.known.input("known leak's effective area"),
            leak.temperature.input("gas temperature"),
        ];
        let r = leak.rate_correlation;
        let rows = [
            [1.0, r, 0.0, 0.0],
            [r, 1.0, 0.0, 0.0],
            [0.0, 0.0, 1.0, 0.0],
            [0.0, 0.0, 0.0, 1.0],
        ];
        // Without correlation the effective degrees of freedom are defined.
        let correlation = (r != 0.0).then_some(rows.as_flattened());
        // The difference is looked at before the quotient, which would not be finite.
        let difference = propagate_jointly(&inputs, correlation, |[alone, together, ..]| {
            [together - alone]
        })?;
        check_resolved("difference of the rates", &difference, 0)?;
        let joint = propagate_jointly(&inputs, correlation, |x| {
            model(leak.gas.specific_gas_constant(), x)
        })?;
        let volume = Self::from_outputs(Method::AddedLeak, &joint, None)?;
        let (got, expected) = (joint.outputs().len(), 2);
        let wrong = crate::measured::MeasuredError::ModelOutputs { got, expected };
        let area: Measured<Area> = joint.outputs().get(1).ok_or(wrong)?.measured()?;
        Ok(VolumeAndArea {
            volume,
            area: area.with_source(Method::AddedLeak.words()),
            covariance: joint.covariance(0, 1).unwrap_or(0.0),
            correlation: joint.correlation(0, 1).unwrap_or(0.0),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::volume::bench::{NORMAL, agrees_with_monte_carlo, kelvins};

    #[test]
    fn first_order_agrees_with_monte_carlo() {
        let rate = |value, u| {
            let hertz = Frequency::new::<uom::si::frequency::hertz>;
            Measured::new(hertz(value), hertz(u), NORMAL).unwrap()
        };
        let mm2 = Area::new::<uom::si::area::square_millimeter>;
        let leak = AddedLeak {
            alone: rate(0.02, 2e-4),
            together: rate(0.05, 6e-4),
            rate_correlation: 0.0,
            known: Measured::new(mm2(0.03), mm2(6e-4), NORMAL).unwrap(),
            temperature: kelvins(293.15, 1.0),
            gas: Gas::dry_air(),
        };
        let both = TestedVolume::from_added_leak(&leak).unwrap();
        let inputs = [
            leak.alone.input("alone"),
            leak.together.input("together"),
            leak.known.input("known"),
            leak.temperature.input("temperature"),
        ];
        let r = leak.gas.specific_gas_constant();
        agrees_with_monte_carlo(both.volume(), &inputs, |x| {
            model(r, <[Dual; 4]>::try_from(x).unwrap())[0]
        });
    }
}
