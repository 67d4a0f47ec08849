//! Where a crankcase leaks or is blanked.

use std::borrow::Cow;
use std::collections::BTreeSet;
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
        /// As text: the words of [`Site::ALL`], in capitals or not, in any order, joined by spaces, commas, hyphens or
        /// underscores, or a name that the trade has for the same place (`mag seal`, `cylinder base gasket`); any other name
        /// stands for itself. Unless it has a digit (`hose joint 2`) or `other: ` before it, a name within two letters of a
        /// known one is refused as a slip of the pen, and one that says less than a known name (`crank seal`) or more
        /// (`front case seam`) is asked about, so that no place gets a second name unnoticed.
        ///
        /// ```
        /// use casetight_bench::record::{Site, SiteError};
        ///
        /// let seal: Site = "crank_seal-drive side".parse()?;
        /// assert_eq!(seal, Site::CrankSealDriveSide);
        /// assert_eq!(seal.to_string(), "crank seal, drive side");
        /// assert_eq!("Mag-side seal".parse(), Ok(Site::CrankSealFlywheelSide));
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

/// Names of the trade for known sites, each in plain words. Source: common practice, no publication.
const ALIASES: &[(Site, &[&str])] = &[
    (
        Site::CrankSealFlywheelSide,
        &[
            "flywheel seal",
            "flywheel side seal",
            "flywheel crank seal",
            "flywheel side crankshaft seal",
            "mag seal",
            "mag side seal",
            "mag side crank seal",
            "mag side crankshaft seal",
            "magneto seal",
            "magneto side seal",
            "magneto side crank seal",
            "magneto side crankshaft seal",
            "ignition seal",
            "ignition side seal",
            "ignition side crank seal",
        ],
    ),
    (
        Site::CrankSealDriveSide,
        &[
            "drive seal",
            "drive side seal",
            "drive crank seal",
            "drive side crankshaft seal",
            "pto seal",
            "pto side seal",
            "pto side crank seal",
            "pto side crankshaft seal",
            "clutch seal",
            "clutch side seal",
            "clutch side crank seal",
            "clutch side crankshaft seal",
        ],
    ),
    (
        Site::BaseGasket,
        &[
            "cylinder base gasket",
            "cylinder gasket",
            "cylinder foot gasket",
        ],
    ),
    (
        Site::CaseSeam,
        &[
            "crankcase seam",
            "crankcase gasket",
            "crankcase joint",
            "case halves",
        ],
    ),
    (
        Site::IntakeBoot,
        &[
            "intake manifold",
            "inlet manifold",
            "inlet boot",
            "manifold",
            "carburetor boot",
            "carb boot",
        ],
    ),
    (
        Site::ImpulseFitting,
        &[
            "impulse line",
            "impulse hose",
            "impulse nipple",
            "pulse line",
            "pulse fitting",
        ],
    ),
    (Site::SparkPlug, &["spark plug seat", "spark plug thread"]),
    (
        Site::DecompressionValve,
        &["decomp valve", "decompressor", "compression release"],
    ),
    (
        Site::ExhaustBlank,
        &["exhaust", "exhaust port", "exhaust port blank"],
    ),
    (Site::IntakeBlank, &["intake port blank", "inlet blank"]),
];

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
    /// A name that says less than those of known sites, or more.
    #[error(
        "site `{text}` may be a known one by another name: write {}, or \"{OTHER}{text}\" for a place of its own",
        either(known)
    )]
    Unclear {
        /// What is written.
        text: String,
        /// The known sites that it may be.
        known: Vec<&'static str>,
    },
}

/// "a" or "b".
fn either(known: &[&str]) -> String {
    let quoted: Vec<String> = known.iter().map(|words| format!("\"{words}\"")).collect();
    quoted.join(" or ")
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

/// A name's words, apart from their order.
fn words_of(plainly: &str) -> BTreeSet<&str> {
    plainly.split(' ').collect()
}

impl Site {
    /// Every name of every known site in plain words, with the words that it is shown by.
    fn names() -> impl Iterator<Item = (Self, &'static str, Cow<'static, str>)> {
        let own = Self::ALL
            .iter()
            .zip(Self::WORDS)
            .map(|(site, words)| (site.clone(), *words, Cow::Owned(plain(words))));
        let aliases = ALIASES.iter().flat_map(|(site, aliases)| {
            let shown = Self::ALL
                .iter()
                .zip(Self::WORDS)
                .find(|(known, _)| *known == site);
            let shown = shown.map_or("", |(_, words)| *words);
            aliases
                .iter()
                .map(move |alias| (site.clone(), shown, Cow::Borrowed(*alias)))
        });
        own.chain(aliases)
    }

    /// The known site of these plain words, in whatever order.
    fn known(plainly: &str) -> Option<Self> {
        let words = words_of(plainly);
        Self::names()
            .find(|(_, _, name)| words_of(name) == words)
            .map(|(site, _, _)| site)
    }

    /// The known sites of which a name says less than their own, or more; each once.
    fn like(plainly: &str) -> Vec<&'static str> {
        let words = words_of(plainly);
        let mut like: Vec<&'static str> = Vec::new();
        for (site, shown, name) in Self::names() {
            let known = words_of(&name);
            // One word more does not make "exhaust flange" the exhaust's blank.
            let says_more = known.len() > 1 && words.is_superset(&known);
            let says_less = words.is_subset(&known) && site.words() == shown;
            if (says_more || says_less) && !like.contains(&shown) {
                like.push(shown);
            }
        }
        like
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
        if text.chars().any(|letter| letter.is_ascii_digit()) {
            return Ok(Self::Other(text.to_owned()));
        }
        let text = text.to_owned();
        let names: Vec<_> = Self::names().collect();
        let near = nearest(&plainly, names.iter().map(|(_, _, name)| &**name), SLIP);
        if let Some((_, nearest, _)) = names.iter().find(|(_, _, name)| Some(&**name) == near) {
            return Err(SiteError::Misspelled { text, nearest });
        }
        let known = Self::like(&plainly);
        if known.is_empty() {
            Ok(Self::Other(text))
        } else {
            Err(SiteError::Unclear { text, known })
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
    fn names_of_different_sites_are_further_apart_than_a_slip() {
        let names: Vec<_> = Site::names().collect();
        for (site, _, name) in &names {
            let others = names.iter().filter(|(other, _, _)| other != site);
            let near = nearest(name, others.map(|(_, _, other)| &**other), SLIP);
            assert_eq!(near, None, "{name}");
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

    /// Common practice: what the trade calls these places.
    #[test]
    fn a_trade_name_is_the_site_that_it_names() {
        for (name, site) in [
            ("mag seal", Site::CrankSealFlywheelSide),
            ("Magneto-side seal", Site::CrankSealFlywheelSide),
            ("flywheel side crank seal", Site::CrankSealFlywheelSide),
            ("crank seal, PTO side", Site::CrankSealDriveSide),
            ("clutch side seal", Site::CrankSealDriveSide),
            ("cylinder base gasket", Site::BaseGasket),
            ("crankcase gasket", Site::CaseSeam),
            ("intake manifold", Site::IntakeBoot),
            ("impulse line", Site::ImpulseFitting),
            ("exhaust", Site::ExhaustBlank),
            ("decomp valve", Site::DecompressionValve),
        ] {
            assert_eq!(name.parse(), Ok(site), "{name}");
        }
        for (site, names) in ALIASES {
            for name in *names {
                assert_eq!(name.parse().as_ref(), Ok(site), "{name}");
                assert_eq!(plain(name), *name);
            }
        }
    }

    #[test]
    fn a_name_that_may_be_a_known_site_is_asked_about() {
        for (name, known) in [
            (
                "crank seal",
                &["crank seal, flywheel side", "crank seal, drive side"][..],
            ),
            ("front case seam", &["case seam"][..]),
            ("lower cylinder base gasket", &["base gasket"][..]),
            ("valve", &["decompression valve"][..]),
        ] {
            let error = name.parse::<Site>().unwrap_err();
            assert_eq!(
                error,
                SiteError::Unclear {
                    text: name.into(),
                    known: known.to_vec()
                }
            );
            assert!(
                error.to_string().contains(&format!("\"other: {name}\"")),
                "{error}"
            );
            let own = format!("other: {name}").parse::<Site>().unwrap();
            assert_eq!(own, Site::Other(name.into()));
            assert_eq!(own.to_string().parse(), Ok(own));
        }
        // A slip in a trade name is one too.
        assert!(matches!(
            "magnetto side seal".parse::<Site>(),
            Err(SiteError::Misspelled {
                nearest: "crank seal, flywheel side",
                ..
            })
        ));
        for own in [
            "cover",
            "plate",
            "cover plate",
            "starter cover",
            "exhaust flange",
            "head bolt",
            "bolt",
        ] {
            assert_eq!(own.parse(), Ok(Site::Other(own.into())), "{own}");
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
