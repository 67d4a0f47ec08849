//! Which side of ambient a run's readings lie on where their numbers carry no sign, as those of a vacuum dial.

use super::doubt::Doubt;
use super::error::Problem;
use casetight::vessel::Direction;

/// Words of a run's name that say vacuum.
const VACUUM_WORDS: [&str; 3] = ["vacuum", "vac", "suction"];

/// Units that vacuum dials are marked in, without a sign (common practice, no source).
const VACUUM_UNITS: [&str; 2] = ["inHg", "mmHg"];

/// What a sheet says of the side of ambient that a run's readings lie on.
///
/// ```
/// use casetight_bench::sheet::Side;
/// use casetight::vessel::Direction;
///
/// // "20" on a vacuum dial is 20 below ambient, where the run says so; else it is asked.
/// assert_eq!(Side::of(Some(Direction::Vacuum), "run 3", "kPa").turns(20.0), Ok(true));
/// assert_eq!(Side::of(None, "run 3", "kPa").turns(20.0), Ok(false));
/// let asked = Side::of(None, "Vacuum, seals new", "kPa").turns(20.0).unwrap_err();
/// assert!(asked.to_string().contains("direction = \"vacuum\""));
/// assert_eq!(Side::of(None, "Vacuum, seals new", "kPa").turns(-20.0), Ok(false));
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Side {
    stated: Option<Direction>,
    doubt: Option<Doubt>,
}

impl Side {
    /// By the direction that a run states, or else by its name and the unit of its readings.
    #[must_use]
    pub fn of(stated: Option<Direction>, name: &str, unit: &str) -> Self {
        let mut words = name.split(|letter: char| !letter.is_alphanumeric());
        let says = |word: &str| {
            VACUUM_WORDS
                .iter()
                .any(|known| known.eq_ignore_ascii_case(word))
        };
        let named = words.any(says).then_some(Doubt::Name);
        let unit = VACUUM_UNITS.iter().find(|known| **known == unit);
        Self {
            stated,
            doubt: named.or(unit.map(|unit| Doubt::Unit(unit))),
        }
    }

    /// Whether readings are to be taken with the other sign, by the one that is farthest from zero.
    ///
    /// # Errors
    /// [`Problem::NoSide`] where they carry no sign and may be a pressure as well as a vacuum, [`Problem::OtherSide`] where
    /// they are below zero in a run that states pressure.
    pub fn turns(&self, farthest: f64) -> Result<bool, Problem> {
        match (self.stated, self.doubt) {
            (Some(Direction::Vacuum), _) => Ok(farthest > 0.0),
            (Some(stated), _) if farthest < 0.0 => Err(Problem::OtherSide { stated }),
            (None, Some(doubt)) if farthest >= 0.0 => Err(Problem::NoSide { doubt }),
            _ => Ok(false),
        }
    }

    /// The same for readings that follow from absolute pressures, whose sign is sure: nothing is asked or turned.
    ///
    /// # Errors
    /// [`Problem::OtherSide`] where they lie on the side that the run does not state.
    pub fn agrees(&self, farthest: f64) -> Result<(), Problem> {
        match self.stated {
            Some(stated) if farthest * stated.sign() < 0.0 => Err(Problem::OtherSide { stated }),
            _ => Ok(()),
        }
    }
}

/// The one that is farthest from zero; zero of none.
pub(super) fn farthest(gauges: &[f64]) -> f64 {
    let size = |g: &&f64| g.abs();
    let found = gauges.iter().max_by(|a, b| size(a).total_cmp(&size(b)));
    found.copied().unwrap_or(0.0)
}

/// Takes readings with the other sign.
pub(super) fn turn(gauges: &mut [f64]) {
    for gauge in gauges {
        *gauge = -*gauge;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whole_words_in_any_case_say_vacuum() {
        let doubt = |name, unit| Side::of(None, name, unit).doubt;
        for name in [
            "vacuum",
            "VAC 2",
            "after repair (suction)",
            "all-open/Vacuum",
        ] {
            assert_eq!(doubt(name, "kPa"), Some(Doubt::Name), "{name}");
        }
        for name in ["vacant", "pressure", "evacuated", "vacuums"] {
            assert_eq!(doubt(name, "kPa"), None, "{name}");
        }
        assert_eq!(doubt("pressure", "inHg"), Some(Doubt::Unit("inHg")));
        assert_eq!(doubt("pressure", "psi"), None);
    }

    #[test]
    fn what_is_stated_decides() {
        let turns = |stated, farthest| Side::of(Some(stated), "vacuum", "inHg").turns(farthest);
        assert_eq!(turns(Direction::Vacuum, 7.0), Ok(true));
        assert_eq!(turns(Direction::Vacuum, -7.0), Ok(false));
        assert_eq!(turns(Direction::Pressure, 7.0), Ok(false));
        assert!(turns(Direction::Pressure, -7.0).is_err());
        let absolute = Side::of(Some(Direction::Vacuum), "vacuum", "kPa");
        assert!(absolute.agrees(7.0).is_err() && absolute.agrees(-7.0).is_ok());
    }
}
