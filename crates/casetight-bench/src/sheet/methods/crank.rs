//! Bore, stroke and rod among the keys of a turn of the crank, where `[engine]` does not have all three.

use super::reading::Gauged;
use crate::sheet::document::Table;
use crate::sheet::error::{Problem, SheetError};
use crate::sheet::keys::declare::{table, together};
use crate::sheet::keys::keyed::{Together, TogetherFrom};
use crate::sheet::keys::rule::Optional;
use crate::sheet::keys::valued::Unstated::LastDigit;
use crate::sheet::keys::valued::Valued;
use casetight::measured::Measured;
use casetight::quantity::{Length, Unit};

table! {
    /// The crank, where `[engine]` does not have it.
    pub(in crate::sheet) struct CrankKeys {
        /// Bore; where `[engine]` does not have bore, stroke and rod.
        bore: Option<Measured<Length>> = Optional(Valued(LastDigit)), like "42 mm";
        /// Stroke; where `[engine]` does not have bore, stroke and rod.
        stroke: Option<Measured<Length>> = Optional(Valued(LastDigit)), like "32 mm";
        /// Rod length from center to center; where `[engine]` does not have bore, stroke and rod.
        rod: Option<Measured<Length>> = Optional(Valued(LastDigit)), like "58 mm";
    }
}

/// Bore, stroke and rod.
type Crank = [Measured<Length>; 3];

impl Together for Option<Crank> {
    type Keys = CrankKeys;

    fn keys(&self, _: &'static Unit) -> Result<CrankKeys, &'static str> {
        let [bore, stroke, rod] = match self.clone() {
            Some(crank) => crank.map(Some),
            None => [None, None, None],
        };
        Ok(CrankKeys { bore, stroke, rod })
    }
}

impl TogetherFrom<Gauged> for Option<Crank> {
    fn of(keys: CrankKeys, table: &Table<'_>, known: &Gauged) -> Result<Self, SheetError> {
        let each = [
            ("bore", keys.bore, "42 mm"),
            ("stroke", keys.stroke, "32 mm"),
            ("rod", keys.rod, "58 mm"),
        ];
        if known.has_crank {
            return match each.iter().find(|(key, ..)| table.has(key)) {
                Some((key, ..)) => {
                    let (other, advice) = (
                        "engine",
                        "the dimensions in [engine] are used, so remove them here",
                    );
                    Err(table.error_at(key, Problem::Excludes { other, advice }))
                }
                None => Ok(None),
            };
        }
        let [bore, stroke, rod] =
            each.map(|(key, value, example)| value.ok_or_else(|| table.missing(key, example)));
        Ok(Some([bore?, stroke?, rod?]))
    }
}

together!(Option<Crank>);
