//! `[bench]`: what a bench does of itself, beside the leak.

use super::document::Table;
use super::error::SheetError;
use super::keys::declare::{table, together};
use super::keys::keyed::{Together, TogetherFrom};
use super::keys::rule::Optional;
use super::keys::valued::{Unstated, Valued};
use casetight::measured::Measured;
use casetight::quantity::{GaugePressure, Stretch, TemperatureInterval, Time, Unit};
use casetight::readings::Effects;

table! {
    /// What the bench does of itself: each moves the needle as a leak does, so that the answer is corrected for what is stated, and as wide
    /// as that is uncertain.
    pub(super) struct EffectKeys {
        /// What the gauge shows without pressure, before pumping or after venting; a run's own `at_rest` goes before it.
        zero: Option<Measured<GaugePressure>> = Optional(Valued(Unstated::LastDigit)), like "0.2 kPa";
        /// Time constant with which the gauge follows the pressure.
        lag: Option<Measured<Time>> = Optional(Valued(Unstated::LastDigit)), like "0.5 s";
        /// By how much of itself the volume under test grows with the gauge pressure: hose, boots and blanks that give.
        stretch: Option<Measured<Stretch>> = Optional(Valued(Unstated::LastDigit)), like "1.0 %/bar";
        /// By how much more it grows in the minute after pumping: rubber that goes on giving.
        creep: Option<Measured<Stretch>> = Optional(Valued(Unstated::LastDigit)), like "0.5 %/bar";
        /// How much warmer than the room the engine is at the first reading; below zero where it is colder.
        warmth: Option<Measured<TemperatureInterval>> = Optional(Valued(Unstated::LastDigit)), like "10 K";
    }
}

impl Together for Effects {
    type Keys = EffectKeys;

    fn keys(&self, _: &'static Unit) -> Result<EffectKeys, &'static str> {
        let Self {
            zero,
            lag,
            stretch,
            creep,
            warmth,
        } = self.clone();
        Ok(EffectKeys {
            zero,
            lag,
            stretch,
            creep,
            warmth,
        })
    }
}

impl<C> TogetherFrom<C> for Effects {
    fn of(keys: EffectKeys, table: &Table<'_>, _: &C) -> Result<Self, SheetError> {
        let effects = Self {
            zero: keys.zero,
            lag: keys.lag,
            stretch: keys.stretch,
            creep: keys.creep,
            warmth: keys.warmth,
        };
        match effects.check() {
            Ok(()) => Ok(effects),
            Err(error) => Err(table.error_at(error.effect, error)),
        }
    }
}

together!(Effects);
