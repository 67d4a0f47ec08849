//! `[assumptions]`: what is assumed beyond what was measured.

use super::document::{Item, Table};
use super::error::SheetError;
use super::keys::declare::{table, together};
use super::keys::entry::Value;
use super::keys::form::{Form, ReadForm, Within, needed};
use super::keys::keyed::{Together, TogetherFrom};
use super::keys::rule::{Optional, Usual};
use super::keys::stated::quoted;
use super::limits::REFERENCE;
use crate::assess::{Assumptions, DISCHARGE_COEFFICIENT, LEVEL};
use casetight::fit::{CANDIDATES, Candidate};
use casetight::quantity::{ReferenceConditions, Unit};
use casetight::vessel::DecayLaw;

table! {
    /// What is assumed beyond what was measured.
    pub(super) struct AssumptionKeys {
        /// Discharge coefficient, for the diameter of a hole, above 0, up to 1.
        discharge_coefficient: f64 = Usual(Within( |c| c > 0.0 && c <= 1.0, "what a discharge coefficient can be: above 0, up to 1", ), || DISCHARGE_COEFFICIENT);
        /// Confidence level of the intervals, 0.5 to 0.9999.
        level: f64 = Usual(Within(|level| (0.5..=0.9999).contains(&level), "0.5 to 0.9999; 0.95 is usual"), || LEVEL);
        /// Conditions that flows are counted at: `"normal"`, `"ANR"`, `"ISA"`, `"0 C, 101.325 kPa"`.
        flow_reference: ReferenceConditions = Usual(REFERENCE, || ReferenceConditions::NORMAL);
        /// Kind of leak, where it is known, as `"orifice"` for a hole, `"laminar"` for a fine gap.
        law: Option<DecayLaw> = Optional(ALaw), else "told by the readings, or not";
    }
}

/// A leak law by its name.
struct ALaw;

needed!(ALaw => DecayLaw);

impl Form<DecayLaw> for ALaw {
    fn value(&self) -> Value {
        Value::Words(DecayLaw::KINDS.iter().map(|kind| kind.name).collect())
    }

    fn write(&self, law: &DecayLaw) -> String {
        quoted(law.name())
    }
}

impl<C> ReadForm<DecayLaw, C> for ALaw {
    fn read(&self, item: &Item<'_>, _: &C) -> Result<DecayLaw, SheetError> {
        // The likeliest number of each kind comes first.
        let mut words: Vec<(&str, DecayLaw)> = Vec::with_capacity(CANDIDATES.len());
        for Candidate { law, .. } in CANDIDATES {
            if words.iter().all(|(name, _)| *name != law.name()) {
                words.push((law.name(), law));
            }
        }
        item.word(&words)
    }
}

impl Together for Assumptions {
    type Keys = AssumptionKeys;

    fn keys(&self, _: &'static Unit) -> Result<AssumptionKeys, &'static str> {
        Ok(AssumptionKeys {
            discharge_coefficient: self.discharge_coefficient,
            level: self.level,
            flow_reference: self.flow_reference,
            law: self.law,
        })
    }
}

impl<C> TogetherFrom<C> for Assumptions {
    /// The unit of sentences is that of the gauge, which stands elsewhere.
    fn of(keys: AssumptionKeys, _: &Table<'_>, _: &C) -> Result<Self, SheetError> {
        Ok(Self {
            discharge_coefficient: keys.discharge_coefficient,
            level: keys.level,
            flow_reference: keys.flow_reference,
            law: keys.law,
            ..Self::default()
        })
    }
}

together!(Assumptions);
