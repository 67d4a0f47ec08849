//! Where a crankcase leaks or is blanked.

use std::fmt;
use std::str::FromStr;

use super::spelling::nearest;

/// A name that differs from a known site's in so few letters is taken for a slip of the pen.
const SLIP: usize = 2;

/// What stands before a name of one's own that would be read as another site.
const OTHER: &str = "other: ";

macro_rules! sites {
    ($($(#[$doc:meta])* $name:ident => $words:literal,)+) => {
        /// A place where a crankcase under test can leak or be blanked, in the trade's words.
        ///
        /// As text: the words of [`Site::ALL`], in capitals or not, joined by spaces, commas, hyphens or underscores; any
        /// other name stands for itself. A name within two letters of a known one is refused as a slip of the pen, unless
        /// it has a digit (`hose joint 2`) or `other: ` before it.
        ///
        /// ```
        /// use casetight::record::{Site, SiteError};
        ///
        /// let seal: Site = "crank_seal-drive side".parse()?;
        /// assert_eq!(seal, Site::CrankSealDriveSide);
        /// assert_eq!(seal.to_string(), "crank seal, drive side");
        /// assert_eq!("oil pump shaft".parse(), Ok(Site::Other("oil pump shaft".into())));
        ///
        /// let slip = "base gaskt".parse::<Site>().unwrap_err();
        /// assert!(slip.to_string().contains("base gasket"));
        /// # Ok::<(), SiteError>(())
        /// ```
        #[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
        #[non_exhaustive]
        pub enum Site {
            $($(#[$doc])* $name,)+
            /// Any other place, by a name of one's own.
            Other(String),
        }

        impl Site {
            /// The sites that are known by name.
            pub const ALL: &[Self] = &[$(Self::$name),+];

            const WORDS: &[&str] = &[$($words),+];

            /// The site in words, without what [`Site`]'s text form puts before a name of one's own.
            #[must_use]
            pub fn words(&self) -> &str {
                match self {
                    $(Self::$name => $words,)+
                    Self::Other(name) => name,
                }
            }
        }
    };
}

sites! {
    /// The crankshaft's seal on the side of the flywheel and ignition.
    CrankSealFlywheelSide => "crank seal, flywheel side",
    /// The crankshaft's seal on the side that drives: clutch, chain, shaft.
    CrankSealDriveSide => "crank seal, drive side",
    /// The gasket between cylinder and crankcase.
    BaseGasket => "base gasket",
    /// The seam between the halves of the crankcase.
    CaseSeam => "case seam",
    /// The boot or manifold between carburetor and cylinder.
    IntakeBoot => "intake boot",
    /// The fitting and line that carry the case's pulse to the fuel pump.
    ImpulseFitting => "impulse fitting",
    /// The spark plug's seat and thread.
    SparkPlug => "spark plug",
    /// The decompression valve and its thread.
    DecompressionValve => "decompression valve",
    /// The test's own blank on the exhaust port.
    ExhaustBlank => "exhaust blank",
    /// The test's own blank on the intake.
    IntakeBlank => "intake blank",
    /// A joint of the test's own hose.
    HoseJoint => "hose joint",
    /// The joint of the test's own gauge.
    GaugeJoint => "gauge joint",
}

/// What can be wrong with a site's name.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum SiteError {
    /// Nothing is written.
    #[error("no site is named, where one such as \"base gasket\" should be")]
    Empty,
    /// A slip of the pen.
    #[error(
        "site `{text}` is not known: write \"{nearest}\", or \"{OTHER}{text}\" if that is really its name"
    )]
    Misspelled {
        /// What is written.
        text: String,
        /// The known site that it comes near.
        nearest: &'static str,
    },
}

/// Small letters, and one space for whatever stands between words.
fn plain(text: &str) -> String {
    let words: Vec<String> = text
        .split(|letter: char| letter.is_whitespace() || matches!(letter, ',' | '-' | '_'))
        .filter(|word| !word.is_empty())
        .map(str::to_lowercase)
        .collect();
    words.join(" ")
}

impl Site {
    /// The known site of these plain words.
    fn known(plainly: &str) -> Option<Self> {
        Self::ALL
            .iter()
            .find(|site| plain(site.words()) == plainly)
            .cloned()
    }
}

impl fmt::Display for Site {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Self::Other(name) = self
            && name.parse().as_ref() != Ok(self)
        {
            f.write_str(OTHER)?;
        }
        f.write_str(self.words())
    }
}

impl FromStr for Site {
    type Err = SiteError;

    fn from_str(text: &str) -> Result<Self, SiteError> {
        let text = text.trim();
        if let Some(name) = text.strip_prefix(OTHER.trim_end()) {
            return match name.trim() {
                "" => Err(SiteError::Empty),
                name => Ok(Self::Other(name.to_owned())),
            };
        }
        let plainly = plain(text);
        if plainly.is_empty() {
            return Err(SiteError::Empty);
        }
        if let Some(site) = Self::known(&plainly) {
            return Ok(site);
        }
        // Words compare without their comma, and are shown with it.
        let meant = Self::WORDS
            .iter()
            .find(|words| nearest(&plainly, [plain(words).as_str()], SLIP).is_some());
        match meant {
            Some(nearest) if !text.chars().any(|letter| letter.is_ascii_digit()) => {
                Err(SiteError::Misspelled {
                    text: text.to_owned(),
                    nearest,
                })
            }
            _ => Ok(Self::Other(text.to_owned())),
        }
    }
}

#[cfg(feature = "serde")]
impl serde::Serialize for Site {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

#[cfg(feature = "serde")]
impl<'de> serde::Deserialize<'de> for Site {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn every_known_site_is_read_in_every_dress() {
        assert_eq!(Site::ALL.len(), 12);
        for site in Site::ALL {
            let words = site.to_string();
            for dressed in [
                words.clone(),
                words.to_uppercase(),
                words.replace(", ", " ").replace(' ', "_"),
                words.replace(", ", " ").replace(' ', "-"),
                format!("  {}  ", words.replace(' ', "   ")),
            ] {
                assert_eq!(dressed.parse().as_ref(), Ok(site), "{dressed}");
            }
        }
    }

    #[test]
    fn known_sites_are_further_apart_than_a_slip() {
        for (i, site) in Site::WORDS.iter().enumerate() {
            let others = Site::WORDS.iter().enumerate().filter(|(j, _)| *j != i);
            assert_eq!(nearest(site, others.map(|(_, w)| *w), SLIP), None, "{site}");
        }
    }

    #[test]
    fn slips_are_named_and_names_of_ones_own_are_kept() {
        assert_eq!(
            "crank seal drive sid".parse::<Site>(),
            Err(SiteError::Misspelled {
                text: "crank seal drive sid".into(),
                nearest: "crank seal, drive side",
            })
        );
        for name in ["hose joint 2", "oil pump shaft", "Case Cover"] {
            assert_eq!(name.parse(), Ok(Site::Other(name.into())));
        }
        let own = Site::Other("hose joints".into());
        assert_eq!(own.to_string(), "other: hose joints");
        assert_eq!("other: hose joints".parse(), Ok(own));
        for nothing in ["", "  ", " ,- ", "other:  "] {
            assert_eq!(
                nothing.parse::<Site>(),
                Err(SiteError::Empty),
                "{nothing:?}"
            );
        }
    }

    #[cfg(feature = "serde")]
    #[test]
    fn a_site_is_a_string_in_serde() {
        let json = "[\"spark plug\",\"other: hose joints\",\"reed block\"]";
        let sites: Vec<Site> = serde_json::from_str(json).unwrap();
        assert_eq!(serde_json::to_string(&sites).unwrap(), json);
        assert!(serde_json::from_str::<Site>("\"spark plog\"").is_err());
    }

    proptest! {
        #[test]
        fn display_and_parse_agree(name in "[a-zA-Z0-9:][a-zA-Z0-9 ,:_-]{0,20}[a-z0-9]") {
            let site = Site::Other(name);
            prop_assert_eq!(site.to_string().parse::<Site>(), Ok(site));
        }

        #[test]
        fn any_text_is_answered(text in "\\PC{0,80}") {
            let _ = text.parse::<Site>();
        }
    }
}
