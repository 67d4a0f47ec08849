//! `[running]`: how the engine runs, for the estimate of what a leak does to its mixture.

use super::document::Table;
use super::error::SheetError;
use super::keys::declare::{table, together};
use super::keys::entry::{Absent, Entry, Value};
use super::keys::keyed::{Key, KeyRule, ReadKey, Together, TogetherFrom};
use super::keys::stated::{in_trade_units, quoted, uncertainty, with_uncertainty};
use super::keys::writer::Writer;
use super::usual::USUAL;
use crate::running::{Conditions, Load, Ports, TYPICAL};
use casetight::measured::{Distribution, Evaluation, Measurable, Measured};
use casetight::quantity::{Angle, Frequency, Ratio, TradeUnits, Unit};

table! {
    /// How the engine runs; what is not said is typical of small engines (common practice).
    pub(super) struct RunningKeys {
        /// Exhaust opens, after top dead center.
        exhaust_opens: Measured<Angle> = Typical(|typical| typical.ports.exhaust_opens);
        /// Transfers open, after top dead center.
        transfer_opens: Measured<Angle> = Typical(|typical| typical.ports.transfer_opens);
        /// Intake opens, before top dead center.
        intake_opens: Measured<Angle> = Typical(|typical| typical.ports.intake_opens);
        /// Intake closes, after top dead center.
        intake_closes: Measured<Angle> = Typical(|typical| typical.ports.intake_closes);
        /// Exponent of the polytrope of the gas in the case.
        polytropic_exponent: Measured<Ratio> = Typical(|typical| typical.polytropic_exponent);
        /// Speed at idle.
        idle_speed: Frequency = TypicalSpeed(|typical| typical.idle.speed);
        /// Air a turn over swept volume, at idle.
        idle_delivery_ratio: Measured<Ratio> = Typical(|typical| typical.idle.delivery_ratio);
        /// Speed at full throttle.
        full_speed: Frequency = TypicalSpeed(|typical| typical.full.speed);
        /// Air a turn over swept volume, at full throttle.
        full_delivery_ratio: Measured<Ratio> = Typical(|typical| typical.full.delivery_ratio);
    }
}

impl Together for Conditions {
    type Keys = RunningKeys;

    fn keys(&self, _: &'static Unit) -> Result<RunningKeys, &'static str> {
        let Self {
            ports,
            polytropic_exponent,
            idle,
            full,
        } = self.clone();
        Ok(RunningKeys {
            exhaust_opens: ports.exhaust_opens,
            transfer_opens: ports.transfer_opens,
            intake_opens: ports.intake_opens,
            intake_closes: ports.intake_closes,
            polytropic_exponent,
            idle_speed: idle.speed,
            idle_delivery_ratio: idle.delivery_ratio,
            full_speed: full.speed,
            full_delivery_ratio: full.delivery_ratio,
        })
    }
}

impl<C> TogetherFrom<C> for Conditions {
    fn of(keys: RunningKeys, table: &Table<'_>, _: &C) -> Result<Self, SheetError> {
        let conditions = Self {
            ports: Ports {
                exhaust_opens: keys.exhaust_opens,
                transfer_opens: keys.transfer_opens,
                intake_opens: keys.intake_opens,
                intake_closes: keys.intake_closes,
            },
            polytropic_exponent: keys.polytropic_exponent,
            idle: Load {
                speed: keys.idle_speed,
                delivery_ratio: keys.idle_delivery_ratio,
            },
            full: Load {
                speed: keys.full_speed,
                delivery_ratio: keys.full_delivery_ratio,
            },
        };
        conditions.check().map_err(|error| table.error(error))?;
        Ok(conditions)
    }
}

together!(Conditions);

/// A value with its uncertainty; the typical uncertainty where only the value is stated, and the other way round.
struct Typical<Q>(fn(Conditions) -> Measured<Q>);

impl<Q> KeyRule<Measured<Q>> for Typical<Q>
where
    Q: TradeUnits + Measurable<Spread: TradeUnits>,
{
    fn names(&self, key: &Key, names: &mut Vec<&'static str>) {
        names.extend([key.name, key.uncertainty]);
    }

    fn entries(&self, key: &Key) -> Vec<Entry> {
        let Ok(typical) = Conditions::typical().map(self.0) else {
            return Vec::new();
        };
        let mut entries = key.pair::<Q>(&format!("`\"{}\"`", uncertainty(&typical)));
        for entry in &mut entries {
            entry.beside.clear();
        }
        if let Some(first) = entries.first_mut() {
            let value = in_trade_units(typical.value());
            first.absent = Absent::Stands(format!("`\"{value}\"`"));
        }
        entries
    }

    fn write(&self, key: &Key, value: &Measured<Q>, out: &mut Writer) {
        if value.source() != TYPICAL {
            key.write_pair(value, out);
        }
    }
}

impl<Q, C> ReadKey<Measured<Q>, C> for Typical<Q>
where
    Q: TradeUnits + Measurable<Spread: TradeUnits>,
{
    fn read(&self, key: &Key, table: &Table<'_>, _: &C) -> Result<Measured<Q>, SheetError> {
        let typical = self.0(Conditions::typical().map_err(|error| table.error(error))?);
        let value = match table.get(key.name) {
            Some(item) => Some(item.quantity::<Q>()?),
            None => None,
        };
        match (value, table.get(key.uncertainty)) {
            (value, Some(item)) => {
                let text = item.characters("text with a number and a unit")?;
                item.of(with_uncertainty(value.unwrap_or(typical.value()), text))
            }
            (Some(value), None) => {
                let range = Evaluation::TypeB(Distribution::Rectangular);
                let measured = Measured::new(value, typical.standard_uncertainty(), range);
                Ok(table.of(key.name, measured)?.with_source(USUAL))
            }
            (None, None) => Ok(typical),
        }
    }
}

/// A speed, or the typical one.
struct TypicalSpeed(fn(Conditions) -> Frequency);

impl KeyRule<Frequency> for TypicalSpeed {
    fn entries(&self, key: &Key) -> Vec<Entry> {
        let typical = Conditions::typical().map(self.0);
        let absent = typical.map_or(Absent::Nothing, |speed| {
            Absent::Stands(format!(
                "`\"{} rpm\"`",
                speed.value_in("rpm").unwrap_or_default().round()
            ))
        });
        vec![key.entry(absent, Value::quantity::<Frequency>())]
    }

    fn write(&self, key: &Key, speed: &Frequency, out: &mut Writer) {
        if Conditions::typical().map(self.0).ok() != Some(*speed) {
            out.line(key.name, quoted(&in_trade_units(*speed)));
        }
    }
}

impl<C> ReadKey<Frequency, C> for TypicalSpeed {
    fn read(&self, key: &Key, table: &Table<'_>, _: &C) -> Result<Frequency, SheetError> {
        match table.get(key.name) {
            Some(item) => item.positive(),
            None => Conditions::typical()
                .map(self.0)
                .map_err(|error| table.error(error)),
        }
    }
}
