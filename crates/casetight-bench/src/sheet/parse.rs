//! From text to a sheet.

use std::collections::HashMap;

use super::content::{Sheet, check_format};
use super::document::{Source, Table};
use super::error::{Problem, SheetError};
use super::gas::TestGas;
use super::gauge::unit_of;
use super::keys::elsewhere::tables_of;
use super::keys::keyed::{FromKeys, Keyed, content, keyed, keyed_as};
use super::known::Known;
use super::methods::place;
use super::run::{Run, unit_of_run};
use super::space::Space;
use super::traces::Traces;
use super::usual::MOST_RUNS;
use crate::record::text_of;
use casetight::volume::{Piston, Transfers};

impl Sheet {
    /// A sheet from its text. `name` is the name that errors show, `traces` opens the files that runs name.
    ///
    /// # Errors
    /// [`SheetError`] names the key and the place of the first thing that is not valid.
    pub fn parse(text: &str, name: &str, traces: &dyn Traces) -> Result<Self, SheetError> {
        // A byte order mark is no part of the text.
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let source = Source { file: name, text };
        if text.trim().is_empty() {
            return Err(SheetError::new(name, "", None, Problem::Blank));
        }
        let document = source.document()?;
        let root = Table::new(&source, String::new(), 0..0, document.get_ref());
        sheet(&root, traces).map_err(|error| {
            let error = error.told_where(|key| tables_of(key, &content::<Self>()));
            match unit_of(&root) {
                Ok(unit) => error.told_in(unit),
                Err(_) => error,
            }
        })
    }

    /// A sheet from the bytes of a file, which must be UTF-8, with or without a byte order mark.
    ///
    /// # Errors
    /// [`Problem::Encoding`] names the byte that is no UTF-8; else as [`Sheet::parse`].
    pub fn from_bytes(bytes: &[u8], name: &str, traces: &dyn Traces) -> Result<Self, SheetError> {
        let text = text_of(bytes, 0, 1).map_err(|error| SheetError::new(name, "", None, error))?;
        Self::parse(text, name, traces)
    }
}

fn sheet(root: &Table<'_>, traces: &dyn Traces) -> Result<Sheet, SheetError> {
    // A sheet of another format may have other keys, so this comes first.
    check_format(root)?;
    let mut names = Vec::new();
    Sheet::names(&mut names);
    root.check_keys(&names)?;
    let mut sheet = Sheet::read(root, &())?;
    sheet.assumptions.pressure_unit = sheet.gauge_unit;
    if let Some(item) = root.get("limit") {
        sheet.limits = keyed(&item, &sheet.assumptions.flow_reference)?;
    }
    if sheet.ambient.humidity.is_some() && sheet.gas != TestGas::Air {
        return Err(root
            .below("ambient")?
            .error_at("humidity", Problem::HumidGas));
    }
    read_runs(root, &mut sheet, traces)?;
    check_methods(root, &sheet)?;
    if let Some(item) = root.get("plan") {
        sheet.plan = keyed(&item, &())?;
        super::plan::check(&sheet.plan, &root.below("plan")?, &sheet)?;
    }
    Ok(sheet)
}

fn read_runs(root: &Table<'_>, sheet: &mut Sheet, traces: &dyn Traces) -> Result<(), SheetError> {
    let Some(runs) = root.get("run") else {
        return Ok(());
    };
    let items = runs.list("a list of runs, each under [[run]] with two brackets,")?;
    if items.len() > MOST_RUNS {
        let runs = items.len();
        return Err(root.error_at("run", Problem::ManyRuns { runs }));
    }
    let mut names: HashMap<String, usize> = HashMap::new();
    for item in items {
        let unit = unit_of_run(&item).unwrap_or(sheet.gauge_unit);
        let known = Known {
            unit,
            gauge: sheet.gauge,
            ambient: sheet.ambient_pressure()?.value(),
            thermometer: sheet.ambient.thermometer,
            has_rig: sheet.space.rig().is_some(),
            profiles: &sheet.profiles,
            traces,
        };
        let run: Run = keyed_as(&item, &known, || "a run's table".to_owned())
            .map_err(|error| error.told_in(unit))?;
        let table = item.any_table(String::new)?;
        if let Some(first) = names.insert(run.name.clone(), sheet.runs.len() + 1) {
            let name = run.name;
            return Err(table.error_at("name", Problem::SameName { name, first }));
        }
        check_repairs(&run, &table, sheet)?;
        check_piston(&run, &table, sheet)?;
        sheet.runs.push(run);
    }
    Ok(())
}

fn check_repairs(run: &Run, table: &Table<'_>, sheet: &Sheet) -> Result<(), SheetError> {
    for (index, earlier) in sheet.runs.iter().enumerate() {
        let again = run
            .repaired
            .iter()
            .find(|site| earlier.repaired.contains(site));
        if let Some(site) = again {
            let (site, first) = (site.to_string(), index + 1);
            return Err(table.error_at("repaired", Problem::RepairedTwice { site, first }));
        }
    }
    Ok(())
}

/// That the run's volume is known with the piston where it stands.
fn check_piston(run: &Run, table: &Table<'_>, sheet: &Sheet) -> Result<(), SheetError> {
    if run.rig_alone.is_some() {
        // The piston is not in the volume under test.
        return Ok(());
    }
    let one_position = match &sheet.space {
        Space::Methods(methods) => {
            if methods.needs_piston() && run.piston.is_none() {
                return Err(table.error_at("piston", Problem::NoPiston));
            }
            methods.is_of_one_position()
        }
        space => {
            let volumes = sheet.volumes(run.piston);
            table.of("piston", volumes.map_err(|(_, problem)| problem))?;
            matches!(space, Space::Measured(_))
        }
    };
    let (true, Some(here)) = (one_position, run.piston) else {
        return Ok(());
    };
    // With the transfers open the volume does not depend on the angle.
    let same = |there: Piston| {
        there == here || (there.transfers(), here.transfers()) == (Transfers::Open, Transfers::Open)
    };
    let elsewhere = sheet.runs.iter().enumerate().find_map(|(index, run)| {
        let there = run.piston.filter(|there| !same(*there))?;
        Some((index + 1, there))
    });
    match elsewhere {
        Some((first, there)) => {
            let other = there.to_string();
            Err(table.error_at("piston", Problem::TwoVolumes { first, other }))
        }
        None => Ok(()),
    }
}

/// That each method gives a volume, for every position of the piston that the runs have. This waits for the runs, since a
/// rate may be one of theirs.
fn check_methods(root: &Table<'_>, sheet: &Sheet) -> Result<(), SheetError> {
    let Space::Methods(methods) = &sheet.space else {
        return Ok(());
    };
    let mut pistons: Vec<Option<Piston>> = Vec::new();
    // A run of the rig alone has no piston.
    for run in sheet.runs.iter().filter(|run| run.rig_alone.is_none()) {
        if !pistons.contains(&run.piston) {
            pistons.push(run.piston);
        }
    }
    if pistons.is_empty() && !methods.needs_piston() {
        pistons.push(None);
    }
    for piston in pistons {
        let volumes = methods.volumes(sheet, piston);
        volumes.map_err(|wrong| place(root, wrong))?;
    }
    Ok(())
}
