//! `[running]`: how the engine runs, for the estimate of what a leak does to its mixture.

use super::document::{Item, Table};
use super::error::{Problem, SheetError};
use super::stated::with_uncertainty;
use super::usual::USUAL;
use crate::measured::{Distribution, Evaluation, Measurable, Measured};
use crate::quantity::TradeUnits;
use crate::running::{Conditions, Load, Ports, TYPICAL};

pub(super) const RUNNING: &[&str] = &[
    "exhaust_opens",
    "exhaust_opens_uncertainty",
    "transfer_opens",
    "transfer_opens_uncertainty",
    "intake_opens",
    "intake_opens_uncertainty",
    "intake_closes",
    "intake_closes_uncertainty",
    "polytropic_exponent",
    "polytropic_exponent_uncertainty",
    "idle_speed",
    "idle_delivery_ratio",
    "idle_delivery_ratio_uncertainty",
    "full_speed",
    "full_delivery_ratio",
    "full_delivery_ratio_uncertainty",
];

/// The conditions that a sheet without the table has.
pub(super) fn typical(error: impl Fn(Problem) -> SheetError) -> Result<Conditions, SheetError> {
    Conditions::typical().map_err(|problem| error(problem.into()))
}

/// The table; what it does not say is typical.
pub(super) fn conditions(item: &Item<'_>) -> Result<Conditions, SheetError> {
    let table = item.table("a table [running]", RUNNING)?;
    let typical = typical(|problem| item.error(problem))?;
    let conditions = Conditions {
        ports: Ports {
            exhaust_opens: stated(&table, "exhaust_opens", &typical.ports.exhaust_opens)?,
            transfer_opens: stated(&table, "transfer_opens", &typical.ports.transfer_opens)?,
            intake_opens: stated(&table, "intake_opens", &typical.ports.intake_opens)?,
            intake_closes: stated(&table, "intake_closes", &typical.ports.intake_closes)?,
        },
        polytropic_exponent: stated(&table, "polytropic_exponent", &typical.polytropic_exponent)?,
        idle: load(&table, "idle_speed", "idle_delivery_ratio", &typical.idle)?,
        full: load(&table, "full_speed", "full_delivery_ratio", &typical.full)?,
    };
    item.of(conditions.check())?;
    Ok(conditions)
}

fn load(
    table: &Table<'_>,
    speed: &str,
    delivery: &str,
    typical: &Load,
) -> Result<Load, SheetError> {
    Ok(Load {
        speed: match table.get(speed) {
            Some(item) => item.positive()?,
            None => typical.speed,
        },
        delivery_ratio: stated(table, delivery, &typical.delivery_ratio)?,
    })
}

/// A value with its uncertainty; the typical uncertainty where only the value is stated.
fn stated<Q>(table: &Table<'_>, key: &str, typical: &Measured<Q>) -> Result<Measured<Q>, SheetError>
where
    Q: TradeUnits + Measurable<Spread: TradeUnits>,
{
    let value = match table.get(key) {
        Some(item) => Some(item.quantity::<Q>()?),
        None => None,
    };
    match (value, table.get(&format!("{key}_uncertainty"))) {
        (value, Some(item)) => {
            let text = item.characters("text with a number and a unit")?;
            item.of(with_uncertainty(value.unwrap_or(typical.value()), text))
        }
        (Some(value), None) => {
            let range = Evaluation::TypeB(Distribution::Rectangular);
            let measured = Measured::new(value, typical.standard_uncertainty(), range);
            Ok(measured
                .map_err(|error| table.error_at(key, error))?
                .with_source(USUAL))
        }
        (None, None) => Ok(typical.clone()),
    }
}

/// Whether a value, or its uncertainty, is [`Conditions::typical`]'s, and so not written out.
pub(super) fn is_typical<Q: Measurable>(measured: &Measured<Q>) -> bool {
    measured.source() == TYPICAL
}
