//! Site by site from a bench sheet: its runs and its soap, put together for each direction, and what to blank or spray next.
//!
//! [`crate::isolate`] holds the reckoning; here stands what of a sheet goes into it:
//!
//! - A run leaks at every site of the engine that it does not list as `blanked`, and at the rig. The sites are those of
//!   `[isolate]` (without it the two crank seals, the base gasket and the case seam, which every crankcase has) and all
//!   that the runs name.
//! - A run with all of them blanked is a test of the rig alone. A blank that itself leaks counts to the rig.
//! - `repaired` names what was repaired before a run, after the one above: from there on the site has an area of its own.
//! - A stalled pump, and a needle at rest by the second reading, bound the area from below.
//! - The area of a leak that is no hole depends on the pressure. All of a direction are told at one ([`InDirection::at`]), that nearest to
//!   zero which a run that measures its leak started from: each run's area is moved there by the laws that its readings leave open, and
//!   their spread is in its uncertainty; a lower bound by the law that leaves the least of it, soap by all that a sheet leaves open.
//! - A limit is converted at that pressure, in the volume of each run of the engine, never in that of the rig alone. A place is judged by the
//!   strictest limit of the runs that it was open in, whatever their order.
//! - A site in `dry` was watched at the lowest pressure that the run had, one in `bubbles` at the highest: of the pressures
//!   that the run reached, those that say the least. `soaped_at` states the pressure instead.
//!
//! Pressure and vacuum are told apart, since a worn lip seal leaks in one and not in the other.
//!
//! ```
//! use casetight_bench::isolate::{Place, Step};
//! use casetight_bench::locate::locate;
//! use casetight_bench::record::Site;
//! use casetight_bench::sheet::{NoTraces, Sheet};
//!
//! let text = r#"
//! format = 1
//! [volume]
//! value = "150 cm3"
//! uncertainty = "3 cm3"
//! [ambient]
//! pressure = "1013 hPa"
//! temperature = "20 C"
//! [gauge]
//! unit = "kPa"
//! resolution = "0.1 kPa"
//! [heat]
//! settled_for = "20 s"
//! [isolate]
//! sites = ["crank seal, flywheel side", "cover plate"]
//! [[run]]
//! name = "all open"
//! readings = [[0, 48.0], [10, 41.6], [20, 35.9], [30, 30.7], [40, 26.1]]
//! [[run]]
//! name = "cover greased"
//! blanked = ["cover plate"]
//! readings = [[0, 48.0], [10, 41.8], [20, 36.0], [30, 30.9], [40, 26.3]]
//! [[run]]
//! name = "rig alone"
//! blanked = ["cover plate", "crank seal, flywheel side"]
//! readings = [[0, 48.0], [100, 47.9], [200, 47.8], [300, 47.7]]
//! "#;
//! let sheet = Sheet::parse(text, "sheet.toml", &NoTraces)?;
//! let located = locate(&sheet)?;
//! let pressure = &located.directions[0];
//! assert_eq!(pressure.next.step, Step::Repair(Place::Site(Site::CrankSealFlywheelSide)));
//! let seal = pressure.found.share(&Site::CrankSealFlywheelSide).unwrap();
//! assert!(seal.told_apart && seal.area.si().low > 3e-9);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub mod document;
mod error;
mod found;
mod gathered;
mod note;
mod soap;
#[cfg(test)]
mod tests;
mod verdict;

use std::collections::BTreeSet;

use crate::record::Site;
use crate::session::{Session, SessionError};
use crate::sheet::Sheet;
use casetight::vessel::Direction;

pub use error::LocateError;
pub use found::{InDirection, Located, RunArea};
pub use note::Note;

use gathered::Gathered;

/// Where every two-stroke crankcase can leak, taken where a sheet lists no sites.
pub const USUAL_SITES: [Site; 4] = [
    Site::CrankSealFlywheelSide,
    Site::CrankSealDriveSide,
    Site::BaseGasket,
    Site::CaseSeam,
];

/// Puts a sheet's runs and soap together, direction by direction.
///
/// # Errors
/// [`LocateError`] names the run, or the direction, that is not valid.
pub fn locate(sheet: &Sheet) -> Result<Located, LocateError> {
    let session = Session::assess_with_rig(sheet)?;
    let sites = sites(sheet);
    let mut notes = Vec::new();
    let mut directions = Vec::new();
    for direction in [Direction::Pressure, Direction::Vacuum] {
        let gathered = Gathered::new(sheet, &session, &sites, direction, &mut notes)?;
        if let Some(gathered) = gathered {
            directions.push(gathered.located(sheet, &sites, &mut notes)?);
        }
    }
    if directions.is_empty() {
        return Err(LocateError::OnlyKnownLeaks);
    }
    // One sentence for all runs of one volume.
    for run in &sheet.runs {
        let volumes = sheet.volumes_of(run).map_err(SessionError::from)?;
        let combined = volumes.and_then(|volumes| volumes.combined);
        if let Some(combined) = combined.filter(|combined| !combined.agree()) {
            let note = Note::VolumesDisagree {
                how: combined.to_string(),
            };
            if !notes.contains(&note) {
                notes.push(note);
            }
        }
    }
    Ok(Located { directions, notes })
}

/// Every site where the engine can leak, in the order of [`Site`].
fn sites(sheet: &Sheet) -> BTreeSet<Site> {
    let listed = if sheet.search.sites.is_empty() {
        USUAL_SITES.as_slice()
    } else {
        &sheet.search.sites
    };
    let named = sheet.runs.iter().flat_map(|run| {
        [&run.blanked, &run.repaired, &run.bubbles, &run.dry]
            .into_iter()
            .flatten()
    });
    listed.iter().chain(named).cloned().collect()
}
