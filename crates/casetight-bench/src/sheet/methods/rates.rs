//! Where the two rates of a known leak beside the unknown one come from.

use crate::sheet::document::Table;
use crate::sheet::error::SheetError;
use crate::sheet::keys::declare::{table, together};
use crate::sheet::keys::form::Name;
use crate::sheet::keys::keyed::{Together, TogetherFrom};
use crate::sheet::keys::rule::Optional;
use crate::sheet::keys::valued::Unstated::LastDigit;
use crate::sheet::keys::valued::Valued;
use casetight::measured::Measured;
use casetight::quantity::{Frequency, Unit};

/// Where two rates come from.
#[derive(Debug, Clone, PartialEq)]
pub enum Rates {
    /// They are stated.
    Stated {
        /// Of the unknown leak alone.
        alone: Measured<Frequency>,
        /// Of both together.
        together: Measured<Frequency>,
    },
    /// They are fitted to runs of the sheet.
    Runs {
        /// Name of the run without the known leak.
        alone: String,
        /// Name of the run with it.
        together: String,
    },
}

table! {
    /// The two rates.
    #[derive(Default)]
    pub(in crate::sheet) struct RateKeys, before one {
        /// Rate of the unknown leak alone, in 1/s; this and `together`, or `alone_run` and `together_run`.
        alone: Option<Measured<Frequency>> = Optional(Valued(LastDigit)), like "0.012 1/s";
        /// Rate of both leaks together.
        together: Option<Measured<Frequency>> = Optional(Valued(LastDigit)), like "0.035 1/s";
        /// Name of the run that the rate of the unknown leak follows from.
        alone_run: Option<String> = Optional(Name("a run's name"));
        /// Name of the run that the rate of both leaks follows from.
        together_run: Option<String> = Optional(Name("a run's name"));
    }
}

fn one(table: &Table<'_>) -> Result<(), SheetError> {
    const KEYS: &[&str] = &["alone", "alone_run"];
    let advice =
        "state the two rates in 1/s, or name the two runs of this sheet that they follow from";
    table.one_of(KEYS, advice).map(drop)
}

impl Together for Rates {
    type Keys = RateKeys;

    fn keys(&self, _: &'static Unit) -> Result<RateKeys, &'static str> {
        Ok(match self.clone() {
            Self::Stated { alone, together } => RateKeys {
                alone: Some(alone),
                together: Some(together),
                ..RateKeys::default()
            },
            Self::Runs { alone, together } => RateKeys {
                alone_run: Some(alone),
                together_run: Some(together),
                ..RateKeys::default()
            },
        })
    }
}

impl<C> TogetherFrom<C> for Rates {
    fn of(keys: RateKeys, table: &Table<'_>, _: &C) -> Result<Self, SheetError> {
        match (keys.alone, keys.alone_run) {
            (Some(alone), _) => Ok(Self::Stated {
                alone,
                together: keys
                    .together
                    .ok_or_else(|| table.missing("together", "0.035 1/s"))?,
            }),
            (None, Some(alone)) => Ok(Self::Runs {
                alone,
                together: keys
                    .together_run
                    .ok_or_else(|| table.missing("together_run", "with the known leak"))?,
            }),
            (None, None) => Err(table.missing("alone", "0.012 1/s")),
        }
    }
}

together!(Rates);
