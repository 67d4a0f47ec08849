//! `[heat]`: what is known of the heat between gas and wall.

use super::document::{Item, Table};
use super::{Problem, SheetError};
use crate::quantity::{ThermalConductance, Time};
use crate::vessel::{Conductance, Heat, VesselError};

const KEYS: &[&str] = &["conductance", "conductance_factor", "settled_for"];

/// Factor within which a stated conductance is known, as one standard uncertainty, where none is stated.
const FACTOR: f64 = 1.5;

pub(super) fn heat(item: Option<&Item<'_>>) -> Result<Heat, SheetError> {
    let mut heat = Heat::default();
    let Some(item) = item else {
        return Ok(heat);
    };
    let table = item.table("a table [heat]", KEYS)?;
    table.needs_partner(
        "conductance_factor",
        "conductance",
        "conductance = \"0.35 W/K\"",
    )?;
    if let Some(item) = table.get("conductance") {
        let factor = match table.get("conductance_factor") {
            None => FACTOR,
            Some(item) => {
                let factor = item.number()?;
                if !(factor.is_finite() && factor >= 1.0) {
                    let got = item.as_written().to_owned();
                    let range = "the numbers from 1 on; 1.5 says that it is known to within half as much again";
                    return Err(item.error(Problem::Range { got, range }));
                }
                factor
            }
        };
        heat.conductance = Conductance::Known {
            value: item.positive::<ThermalConductance>()?,
            ln_uncertainty: factor.ln(),
        };
    }
    if let Some(time) = settled_for(&table)? {
        heat.settled_for = time;
    }
    Ok(heat)
}

/// Time from the last stroke to the first reading, where it is stated.
pub(super) fn settled_for(table: &Table<'_>) -> Result<Option<Time>, SheetError> {
    let Some(item) = table.get("settled_for") else {
        return Ok(None);
    };
    let settled_for: Time = item.quantity()?;
    let heat = Heat {
        settled_for,
        ..Heat::default()
    };
    heat.check().map_err(|error| match error {
        VesselError::SettledFor { .. } => {
            let got = item.as_written().to_owned();
            item.error(Problem::BelowZero { got })
        }
        error => item.error(error),
    })?;
    Ok(Some(settled_for))
}
