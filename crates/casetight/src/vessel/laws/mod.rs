//! The leak laws that a decay can be followed and fitted by. A law is a file here that implements [`Shape`], its `mod`, and its line in
//! the list below; sheets, documents, reports, the Python package and the tests that must hold of each law read the list.

mod laminar;
mod lip;
mod orifice;
mod power;
mod sonic;

use super::direction::Direction;
use super::shape::{Prior, Shape, Start};
use crate::gas::Gas;
use crate::leak::LeakError;

#[cfg(test)]
pub(crate) use laminar::LaminarShape;
pub(crate) use orifice::OrificeShape;

/// Makes, from the list of laws: the public [`DecayLaw`], what is told of each, [`AnyShape`] and `with_shape!`, which does something
/// with the shape of whichever law it is by its own type. The list begins with a `$`, for the macro that it makes.
macro_rules! laws {
    (
        $d:tt
        $(
            $(#[$doc:meta])*
            $law:ident $({ $(#[$number_doc:meta])* $number:ident })? => $shape:ty,
        )+
    ) => {
        /// A leak law as the shape of the decay that it gives: all of it but the leak's size.
        #[derive(Debug, Clone, Copy, PartialEq)]
        #[non_exhaustive]
        pub enum DecayLaw {
            $(
                $(#[$doc])*
                $law $({ $(#[$number_doc])* $number: f64 })?,
            )+
        }

        impl DecayLaw {
            /// Every kind of law, in the order in which a fit tries them.
            pub const KINDS: &'static [LawKind] = &[
                $(
                    LawKind {
                        name: <$shape as Shape>::NAME,
                        words: <$shape as Shape>::WORDS,
                        number: laws!(@one $(stringify!($number))?),
                        law: |_number| Self::$law $({ $number: _number })?,
                    },
                )+
            ];

            /// The name of the leak law, as its own [`crate::leak::LeakLaw::name`].
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self {
                    $(Self::$law { .. } => <$shape as Shape>::NAME,)+
                }
            }

            /// The kind of leak in the trade's words.
            #[must_use]
            pub const fn words(self) -> &'static str {
                match self {
                    $(Self::$law { .. } => <$shape as Shape>::WORDS,)+
                }
            }

            /// The law's own number, where it has one.
            #[must_use]
            pub const fn number(self) -> Option<f64> {
                match self {
                    $(Self::$law $({ $number })? => laws!(@one $($number)?),)+
                }
            }
        }

        const NUMBERS: usize = 0 $(+ <$shape as Shape>::PRIORS.len())+;

        /// The laws that a fit tries, each with its probability before any reading.
        #[allow(clippy::indexing_slicing, reason = "reckoned when compiled")]
        pub(crate) const PRIORS: [(DecayLaw, f64); NUMBERS] = {
            let mut all = [(DecayLaw::Orifice, 0.0); NUMBERS];
            let mut at = 0;
            $(
                let priors = <$shape as Shape>::PRIORS;
                let mut i = 0;
                while i < priors.len() {
                    let Prior { number: _number, probability } = priors[i];
                    all[at] = (DecayLaw::$law $({ $number: _number })?, probability);
                    at += 1;
                    i += 1;
                }
            )+
            all
        };

        /// The shape of any of the laws.
        #[derive(Debug, Clone, Copy)]
        pub(crate) enum AnyShape {
            $($law($shape),)+
        }

        impl AnyShape {
            /// The shape of a law in a gas and direction.
            ///
            /// # Errors
            /// A number that the law can't have.
            pub(crate) fn new(law: DecayLaw, gas: &Gas, direction: Direction) -> Result<Self, LeakError> {
                // Of a law without a number it is not looked at.
                let number = law.number().unwrap_or(f64::NAN);
                Ok(match law {
                    $(DecayLaw::$law { .. } => Self::$law(Shape::new(number, gas, direction)?),)+
                })
            }
        }

        macro_rules! with_shape {
            ($d any:expr, $d shape:ident => $d body:expr) => {
                match $d any {
                    $($crate::vessel::laws::AnyShape::$law($d shape) => $d body,)+
                }
            };
        }
        pub(crate) use with_shape;
    };
    (@one) => { None };
    (@one $one:expr) => { Some($one) };
}

laws! {
    $
    /// [`crate::leak::Orifice`].
    Orifice => orifice::OrificeShape,
    /// [`crate::leak::SonicConductanceLaw`] with the exponent 0.5.
    Sonic {
        /// Critical pressure ratio b.
        critical_ratio
    } => sonic::SonicShape,
    /// [`crate::leak::PowerLaw`].
    Power {
        /// Exponent n.
        exponent
    } => power::PowerShape,
    /// [`crate::leak::Capillary`] and [`crate::leak::Slot`].
    Laminar => laminar::LaminarShape,
    /// A leak whose area follows the pressure: [`crate::leak::PowerLaw`] beyond its bounds.
    Lip {
        /// Exponent n.
        exponent
    } => lip::LipShape,
}

/// A kind of leak law: a law without its number.
#[derive(Debug, Clone, Copy)]
pub struct LawKind {
    /// As [`DecayLaw::name`].
    pub name: &'static str,
    /// As [`DecayLaw::words`].
    pub words: &'static str,
    /// What its number is called; none where it has none.
    pub number: Option<&'static str>,
    law: fn(f64) -> DecayLaw,
}

impl LawKind {
    /// The law of this number, which is not looked at where the kind has none. Whether a law can have it is told where it is used.
    #[must_use]
    pub fn with(&self, number: f64) -> DecayLaw {
        (self.law)(number)
    }
}

impl AnyShape {
    pub(crate) fn of(&self, y: f64) -> f64 {
        with_shape!(self, shape => shape.of(y))
    }

    pub(crate) fn ratio(&self, s: f64) -> (f64, f64) {
        with_shape!(self, shape => shape.ratio(s))
    }

    pub(crate) fn place(&self, y: f64) -> (f64, f64) {
        with_shape!(self, shape => shape.place(y))
    }

    pub(crate) fn speed(&self) -> f64 {
        with_shape!(self, shape => shape.speed())
    }

    pub(crate) fn end(&self) -> f64 {
        with_shape!(self, shape => shape.end())
    }

    pub(crate) fn start(&self, g0: f64, ambient: f64) -> Option<Start> {
        with_shape!(self, shape => shape.start(g0, ambient))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::vessel::root::Roots;

    /// Every law of the list, at its usual numbers.
    fn each() -> impl Iterator<Item = DecayLaw> {
        PRIORS.into_iter().map(|(law, _)| law)
    }

    #[test]
    fn the_list_tells_of_each_law() {
        for law in each() {
            let named = |kind: &&LawKind| kind.name == law.name();
            let kind = DecayLaw::KINDS.iter().find(named).unwrap();
            assert_eq!((kind.name, kind.words), (law.name(), law.words()));
            assert_eq!(kind.number.is_some(), law.number().is_some());
            assert_eq!(kind.with(law.number().unwrap_or(f64::NAN)), law);
        }
        let mut names: Vec<_> = DecayLaw::KINDS.iter().map(|kind| kind.name).collect();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), DecayLaw::KINDS.len());
    }

    /// Only their ratios count: a new law takes its share from all others alike.
    #[test]
    fn each_prior_is_a_probability_and_none_is_certain() {
        let sum: f64 = PRIORS.iter().map(|(_, probability)| probability).sum();
        for (law, probability) in PRIORS {
            assert!(probability > 0.0 && probability < 0.5 * sum, "{law:?}");
        }
    }

    /// What must be true of each law's shape; that it is straight for its own law, its file shows.
    #[test]
    fn each_shape_inverts_and_has_its_slopes() {
        for law in each() {
            for direction in [Direction::Pressure, Direction::Vacuum] {
                let shape = AnyShape::new(law, &Gas::dry_air(), direction).unwrap();
                with_shape!(&shape, shape => {
                    crate::vessel::shape::checks::inverse(shape, direction);
                    crate::vessel::shape::checks::partials(shape, direction);
                });
            }
        }
    }

    /// The flow with heat is the one of the straight line, and its slope, choked or not, that of its difference quotient.
    #[test]
    fn each_laws_flow_has_its_own_slope() {
        let gas = Gas::dry_air();
        let roots = Roots::new(&gas);
        let power = [0.5, 0.65, 0.9].map(|exponent| DecayLaw::Power { exponent });
        for law in each().chain(power) {
            for y in [
                -0.95, -0.8, -0.6, -0.3, -0.05, 0.05, 0.3, 0.8, 1.5, 2.5, 6.5,
            ] {
                let direction = if y > 0.0 {
                    Direction::Pressure
                } else {
                    Direction::Vacuum
                };
                let shape = AnyShape::new(law, &gas, direction).unwrap();
                with_shape!(&shape, shape => {
                    let flow = |w: f64| shape.heated(&roots.at(w));
                    let w = roots.of(y);
                    let step = 1e-5 * w.abs();
                    let quotient = (flow(w + step).0 - flow(w - step).0) / (2.0 * step);
                    let (here, slope) = flow(w);
                    assert!(
                        (slope - quotient).abs() <= 1e-7 * (1.0 + quotient.abs()),
                        "{law:?} at {y}: {slope} {quotient}"
                    );
                    // F counts mass: mdot R T/(V p_a).
                    let straight = shape.flow(y) * (1.0 + y.max(0.0)) * y.signum();
                    assert!((here / straight - 1.0).abs() < 1e-6, "{law:?} at {y}: {here} {straight}");
                });
            }
        }
    }
}
