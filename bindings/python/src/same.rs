//! Equality and hashes by value: of all that an object holds, private parts included, as its derived `Debug` writes it.
//!
//! Such text has each float in the shortest form that reads back to the same bits, so nothing that differs compares equal;
//! unlike `==` of floats it has NaN equal to itself, which an object that comes back from a pickle must be.

use std::fmt::Debug;
use std::hash::{Hash, Hasher};

/// Whether two things hold the same.
pub(crate) fn same(one: &impl Debug, other: &impl Debug) -> bool {
    written(one) == written(other)
}

/// The hash that goes with [`same`].
pub(crate) fn hash(thing: &impl Debug, state: &mut impl Hasher) {
    written(thing).hash(state);
}

/// Zero has no sign here, as with `==`.
fn written(thing: &impl Debug) -> String {
    const NEGATIVE: &str = "-0.0";
    let text = format!("{thing:?}");
    let mut pieces = text.split(NEGATIVE);
    let mut all = pieces.next().unwrap_or_default().to_owned();
    for piece in pieces {
        let longer = piece.starts_with(|c: char| c.is_ascii_digit() || c == 'e');
        all += if longer { NEGATIVE } else { "0.0" };
        all += piece;
    }
    all
}

/// `Eq` and `Hash` of a class by what one expression of it holds.
macro_rules! by_value {
    ($class:ty: |$this:ident| $value:expr) => {
        impl PartialEq for $class {
            fn eq(&self, other: &Self) -> bool {
                let $this = self;
                let one = $value;
                let $this = other;
                $crate::same::same(&one, &$value)
            }
        }

        impl std::hash::Hash for $class {
            fn hash<H: std::hash::Hasher>(&self, state: &mut H) {
                let $this = self;
                $crate::same::hash(&$value, state);
            }
        }
    };
}

pub(crate) use by_value;
