//! `[bench]`: what a bench does of itself, beside the leak.

use super::document::Table;
use super::error::SheetError;
use super::keys::declare::{table, together};
use super::keys::form::Truth;
use super::keys::keyed::{Together, TogetherFrom};
use super::keys::rule::{Optional, Usual};
use super::keys::valued::{Unstated, Valued};
use super::usual::USUAL;
use casetight::measured::{Measurable, Measured};
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
        stretch: Option<Measured<Stretch>> = Optional(Valued(Unstated::LastDigit)), like "1.0 %/bar", else "0 within 1.5 %/bar";
        /// By how much more it grows in the minute after pumping: rubber that goes on giving.
        creep: Option<Measured<Stretch>> = Optional(Valued(Unstated::LastDigit)), like "0.5 %/bar", else "0 within 0.3 %/bar";
        /// How much warmer than the room the engine is at the first reading; below zero where it is colder.
        warmth: Option<Measured<TemperatureInterval>> = Optional(Valued(Unstated::LastDigit)), like "10 K", else "0 within 3 K";
        /// Whether the dial is tapped before each reading and nobody touches hose and engine, so that nothing moves one reading and the next.
        tapped: bool = Usual(Truth, || false);
    }
}

impl Together for Effects {
    type Keys = EffectKeys;

    fn keys(&self, _: &'static Unit) -> Result<EffectKeys, &'static str> {
        Ok(EffectKeys {
            zero: self.zero.clone(),
            lag: self.lag.clone(),
            stretch: stated(self.stretch.as_ref()),
            creep: stated(self.creep.as_ref()),
            warmth: stated(self.warmth.as_ref()),
            tapped: !self.sticks,
        })
    }
}

/// What a sheet states of an effect that is usual where it is silent.
fn stated<Q: Measurable>(size: Option<&Measured<Q>>) -> Option<Measured<Q>> {
    match size {
        Some(size) => (size.source() != USUAL).then(|| size.clone()),
        None => Q::from_si(0.0).and_then(|none| Measured::exact(none).ok()),
    }
}

impl<C> TogetherFrom<C> for Effects {
    fn of(keys: EffectKeys, table: &Table<'_>, _: &C) -> Result<Self, SheetError> {
        let usual = table.of("stretch", Self::usual())?;
        let effects = Self {
            zero: keys.zero,
            lag: keys.lag,
            stretch: keys.stretch.or_else(|| as_usual(usual.stretch)),
            creep: keys.creep.or_else(|| as_usual(usual.creep)),
            warmth: keys.warmth.or_else(|| as_usual(usual.warmth)),
            sticks: usual.sticks && !keys.tapped,
        };
        match effects.check() {
            Ok(()) => Ok(effects),
            Err(error) => Err(table.error_at(error.effect, error)),
        }
    }
}

fn as_usual<Q: Measurable>(size: Option<Measured<Q>>) -> Option<Measured<Q>> {
    size.map(|size| size.with_source(USUAL))
}

together!(Effects);
