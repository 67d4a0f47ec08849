//! How far the usual conductance between gas and wall reaches, and what is known of it beyond.
//!
//! It was made for crankcases. Outside, what free convection does is published: `Nu ~ Ra^n` with n from 1/4 to 1/3, and `Ra` goes with
//! the square of the density, so that h goes with the density to a power from 1/2 to 2/3; in thin gas it falls to conduction, which does
//! not depend on the pressure. Source: `[ChurchillChu1975]`. Inside the reach nothing is added, not by a bit.

use std::f64::consts::LN_10;

/// Volumes that the usual conductance was made for \[m3\], a small glow engine's case to a large one's (engineering estimate, no source).
const USUAL_VOLUMES_M3: (f64, f64) = (20e-6, 5e-3);
/// Absolute pressures that it was made for \[Pa\] (engineering estimate, no source).
pub(crate) const USUAL_PRESSURES_PA: (f64, f64) = (30e3, 300e3);
/// Volumes \[m3\] in which gas that still settles is told as well as the interval says. Beyond 2 L free convection, whose h falls with the
/// temperature difference, settles more slowly at last than a constant hA has it, and intervals of crankcases of 2 to 5 L hold 0.82 of the
/// truths instead of 0.95. Source: independent script, `tests/tests/reach.rs`.
pub(crate) const SETTLING_VOLUMES_M3: (f64, f64) = (20e-6, 2e-3);
/// Up to here the value that follows free convection has been held against recordings: a cylinder of 16 L, from 7.7 bar and from 1.9 kPa
/// `[HydDown]`.
pub(crate) const TRIED_VOLUME_M3: f64 = 20e-3;
/// See [`TRIED_VOLUME_M3`]; absolute \[Pa\].
pub(crate) const TRIED_PRESSURES_PA: (f64, f64) = (1e3, 1e6);

/// Powers of the density that h goes with beyond the highest pressure, least and largest: 2 n. Source: `[ChurchillChu1975]`.
const BY_DENSITY: (f64, f64) = (0.5, 2.0 / 3.0);
/// Powers of the volume, over the usual 2/3, beyond either end: a vessel that is made as a tank has down to half the wall of a crankcase
/// of its size, and gas that only conducts has h ~ 1/L (engineering estimate, no source).
const BY_VOLUME: (f64, f64) = (-1.0 / 3.0, 0.0);
/// Free convection in thin gas falls at most to conduction, a fifth of what it is at the lowest usual pressure: still air in a sphere of 40
/// L, h = pi^2 k/(3 R) (derived, the slowest mode of a sphere), where free convection at 0.3 bar has 1.9 W/(m2 K).
const LEAST_BY_CONDUCTION: f64 = 0.2;
/// h goes with the temperature difference to the power of a third at most, so that what is left of an excess after a time t falls as
/// `(1 + t/(3 tau))^-3`. Source: derived, from `[ChurchillChu1975]`.
const TAIL: f64 = 3.0;

/// What of a run lies outside of what the usual conductance between gas and wall was made, and tried, for.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Outside {
    /// The volume under test.
    Volume {
        /// The volume \[m3\].
        cubic_meters: f64,
    },
    /// The highest pressure.
    Pressure {
        /// Absolute \[Pa\].
        pascals: f64,
    },
    /// The vacuum.
    Vacuum {
        /// Absolute pressure, the mean of the first and the last \[Pa\].
        pascals: f64,
    },
}

impl Outside {
    /// What lies outside of what settling gas is told in, where it still settles, and of what it was tried for, where the leak alone moves
    /// the gas's temperature: of a volume \[m3\], the highest and the mean absolute pressure \[Pa\] of a run. Of several the one that lies
    /// furthest outside.
    pub(crate) fn of(
        cubic_meters: f64,
        (highest, mean): (f64, f64),
        still_settles: bool,
    ) -> Option<Self> {
        let ((small, large), (thin, dense)) = if still_settles {
            (SETTLING_VOLUMES_M3, USUAL_PRESSURES_PA)
        } else {
            ((0.0, TRIED_VOLUME_M3), TRIED_PRESSURES_PA)
        };
        let volume = Self::Volume { cubic_meters };
        let each = [
            (cubic_meters / large, volume),
            (small / cubic_meters, volume),
            (highest / dense, Self::Pressure { pascals: highest }),
            (thin / mean, Self::Vacuum { pascals: mean }),
        ];
        let outside = each.into_iter().filter(|(times, _)| *times > 1.0);
        outside
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(_, outside)| outside)
    }
}

/// What is known of ln hA beyond that of a usual crankcase.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Extrapolated {
    /// What is added to ln hA.
    pub(super) ln_factor: f64,
    /// Its standard uncertainty.
    pub(super) uncertainty: f64,
    /// Whether gas settles with the long tail of free convection, that of much or dense gas.
    pub(super) has_tail: bool,
}

impl Extrapolated {
    /// Nothing.
    pub(super) const NONE: Self = Self {
        ln_factor: 0.0,
        uncertainty: 0.0,
        has_tail: false,
    };

    /// Of a volume \[m3\] at an absolute pressure \[Pa\]: zero inside the reach. What lies between two powers lies anywhere between alike.
    pub(super) fn of(cubic_meters: f64, pascals: f64) -> Self {
        let volume = beyond(cubic_meters, USUAL_VOLUMES_M3);
        let pressure = beyond(pascals, USUAL_PRESSURES_PA);
        let between = |(least, most): (f64, f64)| (0.5 * (least + most), 0.5 * (most - least));
        let of_volume = between((BY_VOLUME.0 * volume, BY_VOLUME.1 * volume));
        let of_pressure = between(if pressure >= 0.0 {
            (BY_DENSITY.0 * pressure, BY_DENSITY.1 * pressure)
        } else {
            ((BY_DENSITY.1 * pressure).max(LEAST_BY_CONDUCTION.ln()), 0.0)
        });
        Self {
            ln_factor: of_volume.0 + of_pressure.0,
            uncertainty: of_volume.1.hypot(of_pressure.1) / 3.0_f64.sqrt(),
            has_tail: volume > 0.0 || pressure > 0.0,
        }
    }

    /// What is left of an excess after so many settling times.
    pub(super) fn left_after(&self, times: f64) -> f64 {
        if self.has_tail {
            (1.0 + times / TAIL).powf(-TAIL)
        } else {
            (-times).exp()
        }
    }

    /// After how many settling times an excess is so many times as small.
    pub(super) fn settling_times(has_tail: bool, smaller: f64) -> f64 {
        let times = if has_tail {
            TAIL * (smaller.powf(1.0 / TAIL) - 1.0)
        } else {
            smaller.ln()
        };
        times.max(0.0)
    }
}

/// How far a number lies outside of a range, as a logarithm: below zero under it, zero in it.
fn beyond(got: f64, (least, most): (f64, f64)) -> f64 {
    if got < least {
        // A number of zero is as far off as any that is of use.
        (got / least).ln().max(-20.0 * LN_10)
    } else if got > most {
        (got / most).ln()
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Inside nothing is added, the edges included; just outside next to nothing.
    #[test]
    fn at_the_edges_of_the_reach_nothing_jumps() {
        for (v, p) in [(20e-6, 30e3), (5e-3, 300e3), (250e-6, 101_325.0)] {
            let inside = Extrapolated::of(v, p);
            assert_eq!((inside.ln_factor, inside.uncertainty), (0.0, 0.0));
            assert!(!inside.has_tail);
        }
        for (v, p) in [(19.9e-6, 29.9e3), (5.01e-3, 301e3)] {
            let outside = Extrapolated::of(v, p);
            assert!(outside.ln_factor.abs() < 5e-3 && outside.uncertainty < 2e-3);
            assert!(outside.uncertainty > 0.0);
        }
    }

    /// By hand: 150 bar are fifty times 3 bar, 50^(7/12) = 9.80, and a power within 1/12 of it is known to ln 50/12/sqrt 3 = 0.188. 40 L
    /// are eight times 5 L, 8^(-1/6) = 0.707, known to ln 8/6/sqrt 3 = 0.200. Thin gas loses up to a factor of five: sqrt(1/5) = 0.447,
    /// known to ln 5/2/sqrt 3 = 0.465.
    #[test]
    fn beyond_the_reach_it_follows_what_is_published() {
        for (v, p, factor, uncertainty) in [
            (250e-6, 150e5, 9.80, 0.188),
            (40e-3, 1e5, 0.707, 0.200),
            (250e-6, 1e3, 0.447, 0.465),
            (2.5e-6, 1e5, 8.0_f64.powf(1.0 / 6.0), 0.200),
        ] {
            let got = Extrapolated::of(v, p);
            assert!((got.ln_factor.exp() / factor - 1.0).abs() < 2e-3, "{got:?}");
            assert!((got.uncertainty - uncertainty).abs() < 1e-3, "{got:?}");
        }
    }

    #[test]
    fn the_tail_and_its_times_invert_each_other() {
        let tail = Extrapolated::of(40e-3, 1e5);
        let none = Extrapolated::NONE;
        for smaller in [1.1, 10.0, 1e3, 1e6] {
            for extrapolated in [tail, none] {
                let times = Extrapolated::settling_times(extrapolated.has_tail, smaller);
                assert!((extrapolated.left_after(times) * smaller - 1.0).abs() < 1e-9);
            }
        }
        // By hand: 3 (100^(1/3) - 1).
        assert!((Extrapolated::settling_times(true, 100.0) - 10.925).abs() < 1e-3);
        assert_eq!(Extrapolated::settling_times(true, 0.5), 0.0);
    }

    #[test]
    fn the_furthest_outside_is_named() {
        assert_eq!(Outside::of(250e-6, (150e3, 120e3), true), None);
        // A recorded cylinder of settled gas is inside of what was tried; gas that still settles in it is not.
        assert_eq!(Outside::of(16.2e-3, (7.7e5, 4.3e5), false), None);
        let cubic_meters = 16.2e-3;
        assert_eq!(
            Outside::of(cubic_meters, (7.7e5, 4.3e5), true),
            Some(Outside::Volume { cubic_meters })
        );
        let (cubic_meters, pascals) = (40e-3, 150e5);
        assert_eq!(
            Outside::of(cubic_meters, (1e5, 3e3), false),
            Some(Outside::Volume { cubic_meters })
        );
        assert_eq!(
            Outside::of(cubic_meters, (pascals, pascals), false),
            Some(Outside::Pressure { pascals })
        );
        let pascals = 20.0;
        assert_eq!(
            Outside::of(250e-6, (30.0, pascals), false),
            Some(Outside::Vacuum { pascals })
        );
    }
}
