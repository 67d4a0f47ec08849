//! Where the piston stands, and so which spaces are under test.

use std::fmt;
use std::str::FromStr;

use uom::si::angle::{degree, radian};
use uom::si::f64::Angle;

/// The widest half-width of a crank angle \[deg\]: within it the piston's travel is straight enough for first order
/// (at top dead center 10 deg are 1 % of the stroke).
const WIDEST: f64 = 10.0;

/// Whether the transfer ports join case and cylinder.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Transfers {
    /// The piston has uncovered them: case and cylinder are one volume.
    Open,
    /// The piston covers them: only the case side is under test.
    Shut,
}

impl fmt::Display for Transfers {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Open => "open",
            Self::Shut => "shut",
        })
    }
}

/// Where the piston stands during a run.
///
/// In words, as a sheet has it: `bottom`, `top`, or an angle after top dead center with what the transfer ports do there,
/// `60 deg, transfers shut`; the angle may carry the half-width within which it was set, `60 +- 2 deg, transfers shut`.
///
/// ```
/// use casetight::volume::{Piston, Transfers};
///
/// assert_eq!("bottom".parse(), Ok(Piston::Bottom));
/// let shut: Piston = "60 deg, transfers shut".parse()?;
/// assert_eq!(shut.transfers(), Transfers::Shut);
/// let error = "60 deg".parse::<Piston>().unwrap_err();
/// assert!(error.to_string().contains("60 deg, transfers shut"));
/// # Ok::<(), casetight::volume::PistonError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Piston {
    /// At bottom dead center: transfers open, case and cylinder one volume, which does not depend on the crank's angle.
    Bottom,
    /// At top dead center: transfers shut, the case side alone, at its largest.
    Top,
    /// At an angle of the crank.
    Angle {
        /// Crank angle after top dead center.
        after_top: Angle,
        /// Within how much of it the crank surely stood (rectangular), 10 degrees at most; zero for an angle taken as
        /// exact.
        half_width: Angle,
        /// What the transfer ports do there. Their timing is the engine's own, so it has to be said.
        transfers: Transfers,
    },
}

/// What can be wrong with a piston position.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PistonError {
    /// Not one of the forms.
    #[error(
        "piston position `{text}` is not understood: write \"bottom\", \"top\" or an angle such as \"60 deg, transfers shut\""
    )]
    Unknown {
        /// What was written.
        text: String,
    },
    /// An angle without its unit.
    #[error("piston position `{text}` has no unit: write \"{number} deg, transfers shut\"")]
    NoUnit {
        /// What was written.
        text: String,
        /// The number in it.
        number: f64,
    },
    /// An angle alone does not say what is under test.
    #[error(
        "piston position `{text}` does not say whether the transfer ports are open there: write \"{degrees} deg, transfers shut\" or \"{degrees} deg, transfers open\""
    )]
    NoTransfers {
        /// What was written.
        text: String,
        /// The angle.
        degrees: f64,
    },
    /// Bottom means open, top means shut.
    #[error(
        "piston position `{text}` contradicts itself: at the {position} the transfers are {transfers}"
    )]
    Contradiction {
        /// What was written.
        text: String,
        /// `top` or `bottom`.
        position: &'static str,
        /// What they are there.
        transfers: Transfers,
    },
    /// An angle beyond one turn, set too loosely, or not a number.
    #[error(
        "crank angle of {degrees} deg, set within {half_width} deg: the angle must lie within 360 deg of the top and be set within {WIDEST} deg or closer"
    )]
    OutOfTurn {
        /// The angle in degrees.
        degrees: f64,
        /// Its half-width in degrees.
        half_width: f64,
    },
}

impl Piston {
    /// Whether the transfer ports are open.
    #[must_use]
    pub fn transfers(self) -> Transfers {
        match self {
            Self::Bottom => Transfers::Open,
            Self::Top => Transfers::Shut,
            Self::Angle { transfers, .. } => transfers,
        }
    }

    /// Crank angle after top dead center and its half-width.
    #[must_use]
    pub fn angle(self) -> (Angle, Angle) {
        let zero = Angle::new::<radian>(0.0);
        match self {
            Self::Bottom => (Angle::HALF_TURN, zero),
            Self::Top => (zero, zero),
            Self::Angle {
                after_top,
                half_width,
                ..
            } => (after_top, half_width),
        }
    }

    /// The position as text that parses back to the same bits: in degrees where those do, else in radians.
    #[must_use]
    pub fn written(&self) -> String {
        let shown = self.to_string();
        match self {
            Self::Angle {
                after_top,
                half_width,
                transfers,
            } if shown.parse() != Ok(*self) => format!(
                "{} +- {} rad, transfers {transfers}",
                after_top.get::<radian>(),
                half_width.get::<radian>()
            ),
            _ => shown,
        }
    }

    /// Checks an angle that was not parsed.
    pub(super) fn checked(self) -> Result<Self, PistonError> {
        let (after_top, half_width) = self.angle();
        let (degrees, half_width) = (after_top.get::<degree>(), half_width.get::<degree>());
        // A unit in the last place is allowed for the conversion to degrees.
        let within = |size: f64, most: f64| size <= most * (1.0 + f64::EPSILON);
        if within(degrees.abs(), 360.0) && half_width >= 0.0 && within(half_width, WIDEST) {
            Ok(self)
        } else {
            Err(PistonError::OutOfTurn {
                degrees,
                half_width,
            })
        }
    }
}

impl fmt::Display for Piston {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Bottom => f.write_str("bottom"),
            Self::Top => f.write_str("top"),
            Self::Angle {
                after_top,
                half_width,
                transfers,
            } => {
                // Twelve decimals: enough for any angle, and free of the conversion's last digit.
                let tidy = |angle: Angle| (angle.get::<degree>() * 1e12).round() / 1e12;
                write!(f, "{}", tidy(*after_top))?;
                if half_width.value > 0.0 {
                    write!(f, " +- {}", tidy(*half_width))?;
                }
                write!(f, " deg, transfers {transfers}")
            }
        }
    }
}

/// Angle after top, half-width and unit from the words of a position; `text` is what they stand in.
fn stated_angle<'w>(position: &[&'w str], text: &str) -> Result<(f64, f64, &'w str), PistonError> {
    let unknown = || PistonError::Unknown { text: text.into() };
    let (angle, sign) = match position {
        [angle @ .., "before", "top" | "tdc"] | [angle @ .., "btdc"] => (angle, -1.0),
        [angle @ .., "after", "top" | "tdc"] | [angle @ .., "atdc"] | angle => (angle, 1.0),
    };
    let number = |word: &str| word.parse::<f64>().map_err(|_| unknown());
    let (angle, half_width, unit) = match angle {
        [angle] => {
            return Err(PistonError::NoUnit {
                text: text.into(),
                number: sign * number(angle)?,
            });
        }
        [angle, unit] => (number(angle)?, 0.0, *unit),
        [angle, "+-", half_width, unit] => (number(angle)?, number(half_width)?, *unit),
        [angle, unit, "+-", half_width, same] if unit == same => {
            (number(angle)?, number(half_width)?, *unit)
        }
        _ => return Err(unknown()),
    };
    Ok((sign * angle, half_width, unit))
}

impl FromStr for Piston {
    type Err = PistonError;

    fn from_str(text: &str) -> Result<Self, PistonError> {
        let plain = text
            .to_lowercase()
            .replace(',', " ")
            .replace('°', " deg ")
            .replace("degrees", "deg")
            .replace("deg", " deg ")
            .replace('±', " +- ")
            .replace("+-", " +- ")
            .replace("+/-", " +- ");
        let words: Vec<&str> = plain.split_whitespace().collect();
        let (position, stated) = match words.as_slice() {
            [position @ .., "transfers", "open"] => (position, Some(Transfers::Open)),
            [position @ .., "transfers", "shut" | "closed"] => (position, Some(Transfers::Shut)),
            position => (position, None),
        };
        let fixed = |piston: Self, position: &'static str| match stated {
            Some(stated) if stated != piston.transfers() => Err(PistonError::Contradiction {
                text: text.into(),
                position,
                transfers: piston.transfers(),
            }),
            _ => Ok(piston),
        };
        match position {
            ["bottom" | "bdc"] | ["bottom", "dead", "center" | "centre"] => {
                return fixed(Self::Bottom, "bottom");
            }
            ["top" | "tdc"] | ["top", "dead", "center" | "centre"] => {
                return fixed(Self::Top, "top");
            }
            _ => {}
        }
        let (angle, half_width, unit) = stated_angle(position, text)?;
        let (of, degrees) = match unit {
            "deg" => (Angle::new::<degree> as fn(f64) -> Angle, angle),
            "rad" => (Angle::new::<radian> as fn(f64) -> Angle, angle.to_degrees()),
            _ => return Err(PistonError::Unknown { text: text.into() }),
        };
        let transfers = stated.ok_or_else(|| PistonError::NoTransfers {
            text: text.into(),
            degrees,
        })?;
        Self::Angle {
            after_top: of(angle),
            half_width: of(half_width),
            transfers,
        }
        .checked()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn at(degrees: f64, half_width: f64, transfers: Transfers) -> Piston {
        Piston::Angle {
            after_top: Angle::new::<degree>(degrees),
            half_width: Angle::new::<degree>(half_width),
            transfers,
        }
    }

    #[test]
    fn every_form_is_read() {
        use Transfers::{Open, Shut};
        for (text, piston) in [
            ("bottom", Piston::Bottom),
            (" BDC ", Piston::Bottom),
            ("bottom dead centre", Piston::Bottom),
            ("bottom, transfers open", Piston::Bottom),
            ("Top", Piston::Top),
            ("top, transfers closed", Piston::Top),
            ("60 deg, transfers shut", at(60.0, 0.0, Shut)),
            ("60deg transfers closed", at(60.0, 0.0, Shut)),
            ("130.5°, transfers open", at(130.5, 0.0, Open)),
            ("60 +- 10 deg, transfers shut", at(60.0, 10.0, Shut)),
            ("60 +- 2 deg, transfers shut", at(60.0, 2.0, Shut)),
            ("60 deg ± 2 deg, transfers shut", at(60.0, 2.0, Shut)),
            (
                "60 degrees +/- 2 degrees after top, transfers shut",
                at(60.0, 2.0, Shut),
            ),
            ("60 deg before TDC, transfers shut", at(-60.0, 0.0, Shut)),
            (
                "0.5 rad, transfers shut",
                at(0.5_f64.to_degrees(), 0.0, Shut),
            ),
        ] {
            assert_eq!(text.parse(), Ok(piston), "{text}");
        }
    }

    #[test]
    fn errors_say_what_to_write() {
        let error = |text: &str| text.parse::<Piston>().unwrap_err();
        for text in [
            "",
            "middle",
            "sixty deg, transfers shut",
            "60 mm, transfers shut",
            "transfers shut",
            "60 deg, transfers ajar",
            "60,5 deg, transfers shut",
        ] {
            assert!(
                matches!(error(text), PistonError::Unknown { .. }),
                "{text}: {:?}",
                error(text)
            );
        }
        assert!(matches!(
            error("60"),
            PistonError::NoUnit { number: 60.0, .. }
        ));
        assert!(matches!(
            error("60, transfers shut"),
            PistonError::NoUnit { .. }
        ));
        assert_eq!(
            error("60 deg").to_string(),
            "piston position `60 deg` does not say whether the transfer ports are open there: \
             write \"60 deg, transfers shut\" or \"60 deg, transfers open\""
        );
        assert!(matches!(
            error("top, transfers open"),
            PistonError::Contradiction {
                position: "top",
                ..
            }
        ));
        assert!(matches!(
            error("bottom, transfers shut"),
            PistonError::Contradiction {
                position: "bottom",
                ..
            }
        ));
        for text in [
            "NaN deg, transfers shut",
            "inf deg, transfers shut",
            "361 deg, transfers shut",
            "60 +- -1 deg, transfers shut",
            "60 +- 10.1 deg, transfers shut",
            "60 +- NaN deg, transfers shut",
        ] {
            assert!(
                matches!(error(text), PistonError::OutOfTurn { .. }),
                "{text}"
            );
        }
    }

    #[test]
    fn a_whole_turn_is_allowed() {
        assert!("360 deg, transfers shut".parse::<Piston>().is_ok());
        assert!("-360 deg, transfers shut".parse::<Piston>().is_ok());
    }

    proptest! {
        #[test]
        fn display_and_parse_agree(tenths in -3600_i32..=3600, width in 0_u32..100, open: bool) {
            let transfers = if open { Transfers::Open } else { Transfers::Shut };
            let piston = at(f64::from(tenths) / 10.0, f64::from(width) / 10.0, transfers);
            prop_assert_eq!(piston.to_string().parse::<Piston>(), Ok(piston));
        }

        #[test]
        fn written_text_parses_back_to_the_same_bits(after_top in -6.25..6.25_f64, half_width in 0.0..0.17_f64) {
            let transfers = Transfers::Shut;
            let (after_top, half_width) = (Angle::new::<radian>(after_top), Angle::new::<radian>(half_width));
            let piston = Piston::Angle { after_top, half_width, transfers };
            prop_assert_eq!(piston.written().parse::<Piston>(), Ok(piston));
        }
    }
}
