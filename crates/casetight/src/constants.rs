//! Constants of nature and of convention, each with its standard uncertainty, unit and source.
//!
//! ```
//! use casetight::constants::{DRY_AIR_KG_PER_MOL, MOLAR_GAS_J_PER_MOL_K};
//!
//! let specific = MOLAR_GAS_J_PER_MOL_K.value() / DRY_AIR_KG_PER_MOL.value();
//! assert!((specific - 287.055).abs() < 5e-4); // J/(kg K)
//! ```

use crate::measured::{Distribution, Evaluation, Input};

/// A constant: its number in the SI unit that its name ends with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Constant {
    name: &'static str,
    value: f64,
    standard_uncertainty: f64,
    distribution: Distribution,
    unit: &'static str,
    source: &'static str,
}

impl Constant {
    const fn exact(
        name: &'static str,
        value: f64,
        unit: &'static str,
        source: &'static str,
    ) -> Self {
        Self {
            name,
            value,
            standard_uncertainty: 0.0,
            distribution: Distribution::Normal,
            unit,
            source,
        }
    }

    /// Equally likely within `half_width` of the value: u = half-width/sqrt 3.
    pub(crate) const fn within(
        name: &'static str,
        value: f64,
        half_width: f64,
        unit: &'static str,
        source: &'static str,
    ) -> Self {
        const SQRT_3: f64 = 1.732_050_807_568_877_2;
        Self {
            name,
            value,
            standard_uncertainty: half_width / SQRT_3,
            distribution: Distribution::Rectangular,
            unit,
            source,
        }
    }

    /// What it is, in words.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        self.name
    }

    /// The value in [`Constant::unit`].
    #[must_use]
    pub const fn value(&self) -> f64 {
        self.value
    }

    /// The standard uncertainty in [`Constant::unit`]; zero for a constant fixed by definition.
    #[must_use]
    pub const fn standard_uncertainty(&self) -> f64 {
        self.standard_uncertainty
    }

    /// The SI unit.
    #[must_use]
    pub const fn unit(&self) -> &'static str {
        self.unit
    }

    /// The key of its source in `docs/references.bib`.
    #[must_use]
    pub const fn source(&self) -> &'static str {
        self.source
    }

    /// The constant as an input of a model ([`crate::measured::propagate`]).
    #[must_use]
    pub fn input(&self) -> Input {
        Input {
            name: self.name.into(),
            value: self.value,
            standard_uncertainty: self.standard_uncertainty,
            evaluation: Evaluation::TypeB(self.distribution),
            degrees_of_freedom: f64::INFINITY,
        }
    }
}

/// Molar gas constant \[J/(mol K)\], the product of two constants that the SI fixes: exact. `[CODATA2018]`
pub const MOLAR_GAS_J_PER_MOL_K: Constant = Constant::exact(
    "molar gas constant",
    8.314_462_618_153_24,
    "J/(mol K)",
    "CODATA2018",
);

/// Molar mass of dry air \[kg/mol\].
///
/// The value in common use, between that of the U.S. Standard Atmosphere (28.9644 g/mol) and that of `[CIPM2007]`
/// (28.96546 g/mol, at a CO2 fraction of 400 umol/mol), 26 ppm below the latter. The half-width of 7 mg/mol is what
/// 600 umol/mol more of CO2 add in an occupied workshop (12.011 g/mol times the fraction, `[CIPM2007]`); it covers both.
pub const DRY_AIR_KG_PER_MOL: Constant = Constant::within(
    "molar mass of dry air",
    28.9647e-3,
    7e-6,
    "kg/mol",
    "CIPM2007",
);

/// Molar mass of water \[kg/mol\] as `[CIPM2007]` has it; the half-width is that of normal terrestrial water `[Meija2016]`.
pub const WATER_KG_PER_MOL: Constant = Constant::within(
    "molar mass of water",
    18.015_28e-3,
    0.71e-6,
    "kg/mol",
    "CIPM2007",
);

/// Molar mass of nitrogen N2 \[kg/mol\]; the half-width is that of normal terrestrial nitrogen `[Meija2016]`.
pub const NITROGEN_KG_PER_MOL: Constant = Constant::within(
    "molar mass of nitrogen",
    28.0134e-3,
    1.2e-6,
    "kg/mol",
    "Meija2016",
);

/// Molar mass of helium \[kg/mol\]. `[Meija2016]`
pub const HELIUM_KG_PER_MOL: Constant = Constant::within(
    "molar mass of helium",
    4.002_602e-3,
    2e-9,
    "kg/mol",
    "Meija2016",
);

/// Molar mass of argon \[kg/mol\]. `[Meija2016]`
pub const ARGON_KG_PER_MOL: Constant = Constant::within(
    "molar mass of argon",
    39.948e-3,
    1e-6,
    "kg/mol",
    "Meija2016",
);

/// Molar mass of propane C3H8 \[kg/mol\]; the half-width is that of normal terrestrial carbon and hydrogen `[Meija2016]`.
pub const PROPANE_KG_PER_MOL: Constant = Constant::within(
    "molar mass of propane",
    44.0956e-3,
    4.1e-6,
    "kg/mol",
    "Meija2016",
);

/// Molar mass of carbon dioxide \[kg/mol\]; the half-width is that of normal terrestrial carbon and oxygen `[Meija2016]`.
pub const CARBON_DIOXIDE_KG_PER_MOL: Constant = Constant::within(
    "molar mass of carbon dioxide",
    44.0095e-3,
    1.9e-6,
    "kg/mol",
    "Meija2016",
);

/// Standard atmosphere \[Pa\], by definition. `[SIBrochure]`
pub const STANDARD_ATMOSPHERE_PA: Constant =
    Constant::exact("standard atmosphere", 101_325.0, "Pa", "SIBrochure");

/// Zero degrees Celsius \[K\], by definition. `[SIBrochure]`
pub const ZERO_CELSIUS_K: Constant =
    Constant::exact("zero degrees Celsius", 273.15, "K", "SIBrochure");

/// Standard acceleration of free fall \[m/s2\], by definition. `[CGPM1901]`
pub const STANDARD_GRAVITY_M_PER_S2: Constant = Constant::exact(
    "standard acceleration of free fall",
    9.806_65,
    "m/s2",
    "CGPM1901",
);

/// Every constant, for a listing.
pub const ALL: &[Constant] = &[
    MOLAR_GAS_J_PER_MOL_K,
    DRY_AIR_KG_PER_MOL,
    WATER_KG_PER_MOL,
    NITROGEN_KG_PER_MOL,
    HELIUM_KG_PER_MOL,
    ARGON_KG_PER_MOL,
    PROPANE_KG_PER_MOL,
    CARBON_DIOXIDE_KG_PER_MOL,
    STANDARD_ATMOSPHERE_PA,
    ZERO_CELSIUS_K,
    STANDARD_GRAVITY_M_PER_S2,
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gas_constant_is_the_product_of_the_fixed_constants() {
        // Published: the SI's defining values of the Boltzmann and Avogadro constants (SI Brochure, 9th edition, 2019).
        let product = 1.380_649e-23 * 6.022_140_76e23;
        let relative = MOLAR_GAS_J_PER_MOL_K.value() / product - 1.0;
        assert!(relative.abs() < 1e-15, "{relative}"); // rounding of one product
    }

    #[test]
    fn dry_air_covers_the_published_molar_masses() {
        // Published: 28.9644 g/mol (U.S. Standard Atmosphere, 1976) and 28.96546 g/mol (CIPM-2007, Picard et al. 2008).
        for published in [28.9644e-3, 28.965_46e-3] {
            let distance = (published - DRY_AIR_KG_PER_MOL.value()).abs();
            assert!(distance < DRY_AIR_KG_PER_MOL.standard_uncertainty());
        }
    }

    #[test]
    fn molar_masses_add_up_from_the_elements_within_their_half_widths() {
        // From memory: conventional atomic weights (IUPAC 2013) H 1.008, C 12.011, N 14.007, O 15.999.
        let half_width = |constant: Constant| constant.standard_uncertainty() * 3.0_f64.sqrt();
        for (constant, grams) in [
            (WATER_KG_PER_MOL, 2.0 * 1.008 + 15.999),
            (NITROGEN_KG_PER_MOL, 2.0 * 14.007),
            (CARBON_DIOXIDE_KG_PER_MOL, 12.011 + 2.0 * 15.999),
            (PROPANE_KG_PER_MOL, 3.0 * 12.011 + 8.0 * 1.008),
        ] {
            let distance = (constant.value() - 1e-3 * grams).abs();
            assert!(distance < half_width(constant), "{}", constant.name());
        }
    }

    #[test]
    fn every_constant_is_valid_and_has_unit_and_source() {
        for constant in ALL {
            assert!(constant.value().is_finite() && constant.value() > 0.0);
            assert!(constant.standard_uncertainty() < 1e-3 * constant.value());
            assert!(!constant.unit().is_empty() && !constant.source().is_empty());
            assert_eq!(constant.input().name(), constant.name());
            assert_eq!(constant.input().value(), constant.value());
        }
    }
}
