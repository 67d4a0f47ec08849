//! Correlations of viscosity and temperature, in SI units, of the gas at low density.

use crate::constants::{DRY_AIR_KG_PER_MOL, WATER_KG_PER_MOL};

/// How a gas's viscosity depends on temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Viscosity {
    /// From kinetic theory: `mu = a sqrt(T)/Omega(T/e)`, `ln Omega = sum of b_i (ln T/e)^i`.
    Kinetic {
        /// a `[Pa s/K^0.5]`.
        amplitude: f64,
        /// Depth e of the molecules' potential over Boltzmann's constant \[K\].
        energy: f64,
        /// `b_0` to `b_4`.
        omega: [f64; 5],
    },
    /// `mu = mu_r (T/T_r)^n`.
    Power {
        /// `mu_r` \[Pa s\].
        reference: f64,
        /// `T_r` \[K\].
        temperature: f64,
        /// n.
        exponent: f64,
    },
    /// Dry air and water vapor, mixed.
    Moist {
        /// Mole fraction of the vapor.
        vapor: f64,
    },
}

impl Viscosity {
    /// mu = 0.0266958 sqrt(M T)/(sigma^2 Omega) [uPa s], M in g/mol, sigma in nm, for air and its parts.
    /// Source: `[LemmonJacobsen2004]`.
    fn of_air_like(grams_per_mol: f64, sigma_nm: f64, energy: f64) -> Self {
        Self::Kinetic {
            amplitude: 0.026_695_8e-6 * grams_per_mol.sqrt() / (sigma_nm * sigma_nm),
            energy,
            omega: [0.431, -0.4623, 0.084_06, 0.005_341, -0.003_31],
        }
    }

    /// Source: `[LemmonJacobsen2004]`, with the molar mass that it was fitted with.
    pub(super) fn dry_air() -> Self {
        Self::of_air_like(28.9586, 0.360, 103.3)
    }

    /// Source: `[LemmonJacobsen2004]`.
    pub(super) fn nitrogen() -> Self {
        Self::of_air_like(28.013_48, 0.3656, 98.94)
    }

    /// Source: `[LemmonJacobsen2004]`, with the molar mass that it was fitted with.
    pub(super) fn argon() -> Self {
        Self::of_air_like(39.948, 0.335, 143.2)
    }

    /// mu = 0.021357 sqrt(M T)/(sigma^2 Omega) [uPa s], M in g/mol, sigma in nm. Source: `[Vogel1998]`.
    pub(super) fn propane() -> Self {
        const GRAMS_PER_MOL: f64 = 44.0956;
        const SIGMA_NM: f64 = 0.497_48;
        Self::Kinetic {
            amplitude: 0.021_357e-6 * GRAMS_PER_MOL.sqrt() / (SIGMA_NM * SIGMA_NM),
            energy: 263.88,
            omega: [0.251_045_74, -0.472_712_38, 0.0, 0.060_836_515, 0.0],
        }
    }

    /// Source: `[Fenghour1998]`: 1.00697 sqrt(T)/Omega [uPa s].
    pub(super) fn carbon_dioxide() -> Self {
        Self::Kinetic {
            amplitude: 1.006_97e-6,
            energy: 251.196,
            omega: [
                0.235_156,
                -0.491_266,
                5.211_155e-2,
                5.347_906e-2,
                -1.537_102e-2,
            ],
        }
    }

    /// Source: `[Petersen1970]`: 3.674e-7 T^0.7 \[Pa s\].
    pub(super) fn helium() -> Self {
        Self::Power {
            reference: 3.674e-7,
            temperature: 1.0,
            exponent: 0.7,
        }
    }

    /// mu \[Pa s\] at T \[K\].
    pub(super) fn at(self, t: f64) -> f64 {
        match self {
            Self::Kinetic {
                amplitude,
                energy,
                omega,
            } => {
                let ln_t = (t / energy).ln();
                let ln_omega = omega.iter().rev().fold(0.0, |sum, b| sum * ln_t + b);
                amplitude * t.sqrt() * (-ln_omega).exp()
            }
            Self::Power {
                reference,
                temperature,
                exponent,
            } => reference * (t / temperature).powf(exponent),
            Self::Moist { vapor } => moist(vapor, t),
        }
    }
}

/// Wilke's rule for two gases. Source: `[Wilke1950]`.
fn moist(vapor: f64, t: f64) -> f64 {
    let air = 1.0 - vapor;
    let (mu_air, mu_vapor) = (Viscosity::dry_air().at(t), water_vapor(t));
    let heavy = DRY_AIR_KG_PER_MOL.value() / WATER_KG_PER_MOL.value();
    // How much a molecule of the second gas hinders one of the first, against one of the first's own kind.
    let phi = |mu_ratio: f64, mass_ratio: f64| {
        (1.0 + mu_ratio.sqrt() * mass_ratio.powf(-0.25)).powi(2) / (8.0 * (1.0 + mass_ratio)).sqrt()
    };
    air * mu_air / (air + vapor * phi(mu_air / mu_vapor, heavy))
        + vapor * mu_vapor / (vapor + air * phi(mu_vapor / mu_air, 1.0 / heavy))
}

/// Water vapor at low density. Source: `[IAPWS2008]`.
fn water_vapor(t: f64) -> f64 {
    let per_t = 647.096 / t;
    let sum = 1.677_52 + per_t * (2.204_62 + per_t * (0.636_656_4 - per_t * 0.241_605));
    1e-4 / (per_t.sqrt() * sum)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mixture_ends_in_its_parts() {
        for t in [273.15, 293.15, 333.15] {
            let at = |vapor| Viscosity::Moist { vapor }.at(t);
            assert!((at(0.0) / Viscosity::dry_air().at(t) - 1.0).abs() < 1e-15);
            assert!((at(1.0) / water_vapor(t) - 1.0).abs() < 1e-15);
            assert!(at(0.02) < at(0.0));
        }
    }

    #[test]
    fn water_vapor_of_the_release_on_its_viscosity() {
        // From memory: IAPWS 2008 release, table of check values, 873.15 K at 1 kg/m3: 32.619287 uPa s. At low density the
        // value lies near it: the density changes it by some thousandths.
        assert!((water_vapor(873.15) / 32.619e-6 - 1.0).abs() < 3e-3);
    }
}
