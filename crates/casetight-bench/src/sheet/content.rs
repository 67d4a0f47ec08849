//! What a sheet says.

use std::collections::BTreeMap;

use super::ambient::Ambient;
use super::document::{Item, Table};
use super::error::{Problem, SheetError};
use super::gas::TestGas;
use super::gauge::UnitOfGauge;
use super::job::Job;
use super::keys::declare::table;
use super::keys::entry::Value;
use super::keys::form::{ADate, Form, Name, ReadForm, Sites, needed};
use super::keys::rule::{Later, Named, Optional, OrEmpty, OwnTable, Tables, Usual};
use super::limits::StatedLimit;
use super::planned::Planned;
use super::run::Run;
use super::space::{Space, ThreeTables};
use super::usual::FORMAT;
use crate::assess::Assumptions;
use crate::record::{Date, ReadingProfile, Site};
use crate::running::Conditions;
use casetight::gauge::Gauge;
use casetight::quantity::Unit;
use casetight::readings::Effects;
use casetight::vessel::Heat;

table! {
    /// A bench sheet. One that was parsed is valid; one that was put together by hand is checked where it is used.
    pub struct Sheet {
        /// The sheet's format, `1`.
        pub format: Format = One, like "1";
        /// What was tested.
        pub title: String = Usual(Name("text that says what was tested"), String::new);
        /// The machine by its name or number, the same on all its sheets.
        pub machine: Option<String> = Optional(Name("the machine's name or number"));
        /// Day of the test, `2026-03-02`, in quotes or not.
        pub date: Option<Date> = Optional(ADate);
        /// The job that it was tested for.
        pub job: Job = OrEmpty;
        /// The surroundings.
        pub ambient: Ambient = OwnTable;
        /// The gas that is pumped in.
        pub gas: TestGas = OrEmpty;
        /// The heat between gas and wall.
        pub heat: Heat = OrEmpty;
        /// The gauge and its stopwatch.
        pub gauge: Gauge = OwnTable;
        /// The unit that the gauge shows.
        pub gauge_unit: &'static Unit = UnitOfGauge;
        /// What the bench does of itself.
        pub effects as "bench": Effects = OrEmpty;
        /// What the tested volume follows from.
        pub space: Space = ThreeTables;
        /// The limits, in the order of their keys; none where the runs are not judged.
        pub limits as "limit": Vec<StatedLimit> = Later(OrEmpty);
        /// What is assumed beyond what was measured.
        pub assumptions: Assumptions = OrEmpty;
        /// Where to look for leaks, and with what.
        pub search as "isolate": Search = OrEmpty;
        /// How foreign loggers' files are read, by the names that runs call them by.
        pub profiles: BTreeMap<String, ReadingProfile> = Named("profile");
        /// The runs in the order of the sheet; there may be none yet.
        pub runs as "run": Vec<Run> = Later(Tables("run"));
        /// How the next test is meant to be run.
        pub plan: Planned = Later(OrEmpty);
        /// How the engine runs.
        pub running: Conditions = OrEmpty;
    }
}

table! {
    /// Where to look for leaks, and with what.
    #[derive(Default)]
    pub struct Search {
        /// Where the engine can leak, beyond the sites that its runs name.
        pub sites: Vec<Site> = Usual(Sites, Vec::new), else "seals, base gasket and case seam";
        /// Which of them can be blanked.
        pub can_blank: Option<Vec<Site>> = Optional(Sites), else "all but gaskets and seams";
        /// Which of them can be sprayed.
        pub can_spray: Option<Vec<Site>> = Optional(Sites), else "all";
    }
}

/// The format of a sheet: there is one, [`FORMAT`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Format;

struct One;

needed!(One => Format);

/// That the sheet is of a format that is known.
pub(super) fn check_format(sheet: &Table<'_>) -> Result<(), SheetError> {
    let format = sheet.need("format", "1")?;
    One.read(&format, &()).map(|Format| ())
}

impl Form<Format> for One {
    fn value(&self) -> Value {
        Value::Format
    }

    fn write(&self, _: &Format) -> String {
        FORMAT.to_string()
    }
}

impl<C> ReadForm<Format, C> for One {
    fn read(&self, item: &Item<'_>, _: &C) -> Result<Format, SheetError> {
        if item.as_written() == FORMAT.to_string() {
            return Ok(Format);
        }
        let found = item.as_written().to_owned();
        Err(item.error(Problem::Format { found }))
    }
}
