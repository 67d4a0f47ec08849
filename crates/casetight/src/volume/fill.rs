//! Filled with a liquid and weighed.

use uom::si::mass_density::kilogram_per_cubic_meter;
use uom::si::thermodynamic_temperature::kelvin;

use super::error::{VolumeError, check_not_negative, check_positive, check_resolved};
use super::method::Method;
use super::tested::TestedVolume;
use crate::constants::ZERO_CELSIUS_K;
use crate::measured::{Distribution, Dual, Input, Measured, propagate, propagate_jointly};
use crate::quantity::{Mass, MassDensity, Ratio, ThermodynamicTemperature, Volume};

/// Density that weights have by convention \[kg/m3\]; a balance shows the mass of such weights in air. `[OIMLD28]`
const WEIGHTS: f64 = 8000.0;

/// Within how much tap water's density is that of pure water \[kg/m3\]: dissolved salts and air (common practice, no source).
const TAP_WATER: f64 = 0.5;

/// Density of pure, air-free water at 101 325 Pa from its temperature t \[°C\], `[Tanaka2001]`:
/// `rho = a5 (1 - (t + a1)^2 (t + a2)/(a3 (t + a4)))`.
fn water(t: Dual) -> Dual {
    const A1: f64 = -3.983_035;
    const A2: f64 = 301.797;
    const A3: f64 = 522_528.9;
    const A4: f64 = 69.348_81;
    const A5: f64 = 999.974_950;
    let from_densest = t + A1;
    let loss = from_densest * from_densest * (t + A2) / ((t + A4) * A3);
    (-loss + 1.0) * A5
}

/// Density of pure, air-free water at atmospheric pressure \[kg/m3\], `rho = a5 (1 - (t + a1)^2 (t + a2)/(a3 (t + a4)))` with t
/// in degrees Celsius. Valid from 0 to 40 °C, there right to about 1 part in a million. Source: `[Tanaka2001]`.
///
/// # Errors
/// [`VolumeError::WaterTemperature`] outside 0 to 40 °C.
///
/// ```
/// use casetight::quantity::ThermodynamicTemperature;
/// use casetight::volume::water_density;
/// use uom::si::{mass_density::kilogram_per_cubic_meter, thermodynamic_temperature::degree_celsius};
///
/// let water = water_density(ThermodynamicTemperature::new::<degree_celsius>(20.0))?;
/// assert!((water.get::<kilogram_per_cubic_meter>() - 998.207).abs() < 1e-3);
/// # Ok::<(), casetight::volume::VolumeError>(())
/// ```
pub fn water_density(temperature: ThermodynamicTemperature) -> Result<MassDensity, VolumeError> {
    let density = water(celsius(temperature)?.into());
    Ok(MassDensity::new::<kilogram_per_cubic_meter>(density.re))
}

/// Degrees Celsius, where the formula for water holds.
fn celsius(temperature: ThermodynamicTemperature) -> Result<f64, VolumeError> {
    let got = temperature.get::<kelvin>();
    let t = got - ZERO_CELSIUS_K.value();
    // The conversion to kelvins costs some units in the last place.
    if (-1e-9..=40.0 + 1e-9).contains(&t) {
        Ok(t)
    } else {
        Err(VolumeError::WaterTemperature { got })
    }
}

/// A liquid by its density.
#[derive(Debug, Clone, PartialEq)]
pub struct Liquid {
    density: Measured<MassDensity>,
}

impl Liquid {
    /// Tap or distilled water of a temperature: density by [`water_density`], within 0.5 kg/m3 (rectangular) for what is
    /// dissolved in it. Source: `[Tanaka2001]`.
    ///
    /// # Errors
    /// [`VolumeError::WaterTemperature`] outside 0 to 40 °C.
    pub fn water(temperature: &Measured<ThermodynamicTemperature>) -> Result<Self, VolumeError> {
        celsius(temperature.value())?;
        let dissolved = Measured::from_half_width(0.0, TAP_WATER, Distribution::Rectangular)?;
        let inputs = [
            temperature.input("water temperature"),
            dissolved.input("dissolved in the water"),
        ];
        let density = propagate(&inputs, None, |[temperature, dissolved]| {
            water(temperature - ZERO_CELSIUS_K.value()) + dissolved
        })?;
        let density: Measured<MassDensity> = density.measured()?;
        Ok(Self {
            density: density.with_source("water at its temperature"),
        })
    }

    /// A liquid of given density at its temperature, such as a light oil's from its data sheet or from weighing a known
    /// volume of it. Oil wets, creeps into corners and does not rust the bearings.
    ///
    /// # Errors
    /// [`VolumeError::Input`] unless the density is above zero.
    pub fn of_density(density: Measured<MassDensity>) -> Result<Self, VolumeError> {
        check_positive("liquid's density", &density)?;
        Ok(Self { density })
    }

    /// The density.
    #[must_use]
    pub fn density(&self) -> &Measured<MassDensity> {
        &self.density
    }
}

/// Two weighings, empty and full.
#[derive(Debug, Clone, PartialEq)]
pub struct Fill {
    /// What the balance showed with the case empty.
    pub empty: Measured<Mass>,
    /// What it showed with the case full.
    pub full: Measured<Mass>,
    /// Scale of the balance: true over shown, about 1. It is shared by both weighings; their zero error drops out.
    pub balance_scale: Measured<Ratio>,
    /// The liquid.
    pub liquid: Liquid,
    /// Density of the air ([`Fill::any_air`] if it was not looked at).
    pub air: Measured<MassDensity>,
    /// Volume of the air that stayed in: bubbles, blind corners, the ring lands.
    pub trapped: Measured<Volume>,
}

impl Fill {
    /// Air of any workshop: 1.1 kg/m3 within 0.2 kg/m3 (rectangular), which holds from the sea to 2000 m and from 0 to 30 °C
    /// (ideal gas). It adds 0.01 % to the uncertainty of the volume.
    ///
    /// # Errors
    /// Never in fact: the numbers are fixed; [`VolumeError::Measured`] stands for those that are not valid.
    pub fn any_air() -> Result<Measured<MassDensity>, VolumeError> {
        let density = MassDensity::new::<kilogram_per_cubic_meter>;
        let air = Measured::from_half_width(density(1.1), density(0.2), Distribution::Rectangular)?;
        Ok(air.with_source("air of any workshop"))
    }

    fn inputs(&self) -> [Input; 6] {
        [
            self.empty.input("mass empty"),
            self.full.input("mass full"),
            self.balance_scale.input("balance scale"),
            self.liquid.density.input("liquid's density"),
            self.air.input("density of the air"),
            self.trapped.input("trapped air"),
        ]
    }
}

/// Outputs: volume, what the liquid filled, what it did not.
fn model([empty, full, scale, liquid, air, trapped]: [Dual; 6]) -> [Dual; 3] {
    // The balance shows weights of the same pull; both they and the liquid are borne by the air.
    let filled = (full - empty) * scale * (-air / WEIGHTS + 1.0) / (liquid - air);
    [filled + trapped, filled, trapped]
}

impl TestedVolume {
    /// The volume by filling it with a liquid and weighing.
    ///
    /// `V = (m_full - m_empty) (1 - rho_a/rho_w)/(rho - rho_a) + V_trapped`, with the densities rho of the liquid, `rho_a` of
    /// the air and `rho_w` = 8000 kg/m3 of the balance's weights. Buoyancy makes 0.1 % for water. Valid for liquids that wet
    /// the walls; air that stays in is the usual error, always on the same side, and has to be stated.
    ///
    /// Source: `[ISO8655]` (the same conversion of mass to volume), `[OIMLD28]` (weights).
    ///
    /// # Errors
    /// [`VolumeError::LiquidDensity`] for a liquid lighter than air; [`VolumeError::Input`] for a balance scale not above zero;
    /// [`VolumeError::Negative`] for a trapped volume below zero; [`VolumeError::Unresolved`] where the masses don't differ
    /// clearly; [`VolumeError::NotPositive`] where the full case weighs less.
    ///
    /// ```
    /// use casetight::measured::{Distribution, Evaluation, Measured};
    /// use casetight::quantity::{Mass, Ratio, TemperatureInterval, ThermodynamicTemperature, Volume};
    /// use casetight::volume::{Fill, Liquid, TestedVolume};
    /// use uom::si::{mass::gram, ratio::ratio, volume::cubic_centimeter};
    /// use uom::si::{temperature_interval::kelvin, thermodynamic_temperature::degree_celsius};
    ///
    /// let normal = Evaluation::TypeB(Distribution::Normal);
    /// let weighed = |g, u| Measured::new(Mass::new::<gram>(g), Mass::new::<gram>(u), normal);
    /// let bath = Measured::new(
    ///     ThermodynamicTemperature::new::<degree_celsius>(20.0),
    ///     TemperatureInterval::new::<kelvin>(1.0),
    ///     normal,
    /// )?;
    /// let fill = Fill {
    ///     empty: weighed(1850.0, 0.5)?,
    ///     full: weighed(2100.0, 0.5)?,
    ///     balance_scale: Measured::new(Ratio::new::<ratio>(1.0), Ratio::new::<ratio>(0.001), normal)?,
    ///     liquid: Liquid::water(&bath)?,
    ///     air: Fill::any_air()?,
    ///     trapped: Measured::from_half_width(
    ///         Volume::new::<cubic_centimeter>(1.0),
    ///         Volume::new::<cubic_centimeter>(1.0),
    ///         Distribution::Rectangular,
    ///     )?,
    /// };
    /// let tested = TestedVolume::from_fill(&fill)?;
    /// assert!((tested.volume().value().get::<cubic_centimeter>() - 251.69).abs() < 0.01);
    /// assert!((tested.volume().standard_uncertainty().get::<cubic_centimeter>() - 0.95).abs() < 0.01);
    /// # Ok::<(), casetight::volume::VolumeError>(())
    /// ```
    pub fn from_fill(fill: &Fill) -> Result<Self, VolumeError> {
        check_positive("balance scale", &fill.balance_scale)?;
        check_not_negative("density of the air", &fill.air)?;
        check_not_negative("trapped volume", &fill.trapped)?;
        let (liquid, air) = (fill.liquid.density.value().value, fill.air.value().value);
        if liquid <= air {
            return Err(VolumeError::LiquidDensity { liquid, air });
        }
        let inputs = fill.inputs();
        let difference = propagate_jointly(&inputs, None, |[empty, full, ..]| [full - empty])?;
        check_resolved("mass of the liquid", &difference, 0)?;
        let joint = propagate_jointly(&inputs, None, model)?;
        Self::from_outputs(
            Method::LiquidFill,
            &joint,
            ["filled", "trapped air"].map(Into::into),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::volume::bench::{agrees_with_monte_carlo, cm3, grams, kelvins, one};

    #[test]
    fn first_order_agrees_with_monte_carlo() {
        let fill = Fill {
            empty: grams(1850.0, 1.0),
            full: grams(2100.0, 1.0),
            balance_scale: one(0.002),
            liquid: Liquid::water(&kelvins(293.15, 2.0)).unwrap(),
            air: Fill::any_air().unwrap(),
            trapped: cm3(2.0, 1.0),
        };
        let tested = TestedVolume::from_fill(&fill).unwrap();
        agrees_with_monte_carlo(&tested, &fill.inputs(), |x| {
            model(<[Dual; 6]>::try_from(x).unwrap())[0]
        });
    }
}
