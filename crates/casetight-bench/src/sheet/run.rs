//! `[[run]]`: one run of a session.

use super::document::{Item, Table};
use super::error::{Problem, SheetError};
use super::gauge::PressureUnit;
use super::keys::declare::table;
use super::keys::entry::{Entry, Value};
use super::keys::form::{Any, Lines, Name, NotNegative, Parsed, Positive, ReadForm, Sites, Word};
use super::keys::keyed::Key;
use super::keys::keyed::{KeyRule, ReadKey};
use super::keys::rule::{Here, Optional, Usual};
use super::keys::valued::Unstated;
use super::keys::valued::Valued;
use super::keys::writer::Writer;
use super::known::{DIRECTIONS, Known};
use super::record::Record;
use crate::record::Site;
use casetight::measured::Measured;
use casetight::quantity::{GaugePressure, Time, Unit, Volume};
use casetight::readings::Effects;
use casetight::vessel::Direction;
use casetight::volume::Piston;

table! {
    /// One run, as many as there are.
    pub struct Run, given Known<'k>, for 'k, after check {
        /// Its name, each its own.
        pub name: String = Name("a name for the run"), like "all blanked";
        /// Unit of its readings, and of what is said of them: a dial may have two scales.
        pub unit: Option<&'static Unit> = Optional(UnitOfRun), like "inHg", else "that of `[gauge]`";
        /// Where the piston stood: `"bottom"`, `"top"`, `"60 deg, transfers shut"`; needed where `[engine]` states the primary compression ratio.
        pub piston: Option<Piston> = Optional(PISTON), else "anywhere, which widens the volume";
        /// Pressure or vacuum: readings, or a stall's `reached`, without a sign are taken on that side of ambient.
        pub direction: Option<Direction> = Optional(Word(DIRECTIONS)), else "below zero is vacuum; asked for where the name says vacuum (`vacuum`, `vac`, `suction`) or the unit is that of vacuum dials (`inHg`, `mmHg`) and the readings carry no sign";
        /// What was shut off.
        pub blanked: Vec<Site> = Usual(Sites, Vec::new);
        /// What was repaired before this run, after the one above it; it stays so in the runs below.
        pub repaired: Vec<Site> = Usual(Sites, Vec::new);
        /// What was read.
        pub record: Record = Here;
        /// Where soap solution bubbled.
        pub bubbles: Vec<Site> = Usual(Sites, Vec::new);
        /// Where soap solution was watched and stayed dry.
        pub dry: Vec<Site> = Usual(Sites, Vec::new);
        /// Gauge pressure that soap was sprayed at.
        pub soaped_at: Option<GaugePressure> = Optional(Positive), else "the run's own pressures count, those that say the least";
        /// Time from the last stroke of the pump to the first reading, where it is not the sheet's.
        pub settled_for: Option<Time> = Optional(NotNegative), else "that of `[heat]`";
        /// What the gauge showed without pressure, before pumping or after venting.
        pub at_rest: Option<GaugePressure> = Optional(Any), else "`zero` of `[bench]`";
        /// The rig was tested alone, its hose stopped at its end, and its leak is taken off the other runs: `true`, or the
        /// rig's volume where the sheet has no `[rig]`.
        pub rig_alone: Option<RigAlone> = Alone, like "35 cm3", else "`false`";
        /// Anything else.
        pub note: Option<String> = Optional(Lines("a note"));
    }
}

/// The unit of a run, which its readings are written in too.
struct UnitOfRun;

impl KeyRule<&'static Unit> for UnitOfRun {
    fn entries(&self, key: &Key) -> Vec<Entry> {
        KeyRule::entries(&PressureUnit, key)
    }

    fn write(&self, key: &Key, unit: &&'static Unit, out: &mut Writer) {
        KeyRule::write(&PressureUnit, key, unit, out);
        out.readings_in(unit);
    }
}

impl<C> ReadKey<&'static Unit, C> for UnitOfRun {
    fn read(&self, key: &Key, table: &Table<'_>, known: &C) -> Result<&'static Unit, SheetError> {
        ReadKey::read(&PressureUnit, key, table, known)
    }
}

/// The unit that a run states; none where it states none that is known.
pub(super) fn unit_of_run(run: &Item<'_>) -> Option<&'static Unit> {
    let unit = run.any_table(String::new).ok()?.get("unit")?;
    ReadForm::read(&PressureUnit, &unit, &()).ok()
}

/// A piston position.
pub(super) const PISTON: Parsed<Piston> = Parsed("a piston position", Piston::written);

impl Run {
    /// Pressure or vacuum, as the readings or the stalled needle show it; of a needle that never left zero as it is stated, else
    /// pressure.
    #[must_use]
    pub fn shown_direction(&self) -> Direction {
        match &self.record {
            Record::Readings(readings) | Record::Trace { readings, .. } => readings.direction(),
            Record::Stalled(stalled) if stalled.reached.pascals() < 0.0 => Direction::Vacuum,
            Record::Stalled(stalled) if stalled.reached.pascals() > 0.0 => Direction::Pressure,
            Record::Stalled(_) => self.direction.unwrap_or(Direction::Pressure),
        }
    }
}

/// A run of a gauge that shows next to nothing at rest, whose sites are wet or dry.
fn check(run: &Run, table: &Table<'_>) -> Result<(), SheetError> {
    let zero = run.at_rest.map(Measured::exact).transpose();
    let effects = Effects {
        zero: table.of("at_rest", zero)?,
        ..Effects::none()
    };
    table.of("at_rest", effects.check())?;
    wet_or_dry(run, table)
}

/// A site is wet or dry.
fn wet_or_dry(run: &Run, table: &Table<'_>) -> Result<(), SheetError> {
    let twice = run.dry.iter().position(|site| run.bubbles.contains(site));
    let Some((place, list)) = twice.zip(table.get("dry")) else {
        return Ok(());
    };
    let site = run
        .dry
        .get(place)
        .map(ToString::to_string)
        .unwrap_or_default();
    let problem = Problem::SiteTwice {
        site,
        list: "bubbles".to_owned(),
    };
    let items = list.list("a list of sites")?;
    Err(items.get(place).unwrap_or(&list).error(problem))
}

/// A run of the rig alone, its hose stopped where the engine would be.
#[derive(Debug, Clone, PartialEq)]
pub enum RigAlone {
    /// Of the rig's volume on the sheet.
    AsStated,
    /// Of this volume.
    Of(Measured<Volume>),
}

/// Whether the rig was tested alone, and its volume.
struct Alone;

const ITS_VOLUME: Optional<Valued> = Optional(Valued(Unstated::LastDigit));

impl KeyRule<Option<RigAlone>> for Alone {
    fn names(&self, key: &Key, names: &mut Vec<&'static str>) {
        KeyRule::<Option<Measured<Volume>>>::names(&ITS_VOLUME, key, names);
    }

    fn entries(&self, key: &Key) -> Vec<Entry> {
        let mut entries = KeyRule::<Option<Measured<Volume>>>::entries(&ITS_VOLUME, key);
        if let Some(first) = entries.first_mut() {
            let volume = Value::quantity::<Volume>();
            first.value = Value::Either(Box::new(Value::Truth), Box::new(volume));
        }
        entries
    }

    fn write(&self, key: &Key, alone: &Option<RigAlone>, out: &mut Writer) {
        match alone {
            Some(RigAlone::AsStated) => out.line(key.name, "true"),
            Some(RigAlone::Of(volume)) => key.write_pair(volume, out),
            None => {}
        }
    }
}

impl<'k> ReadKey<Option<RigAlone>, Known<'k>> for Alone {
    fn read(
        &self,
        key: &Key,
        table: &Table<'_>,
        known: &Known<'k>,
    ) -> Result<Option<RigAlone>, SheetError> {
        match table.get(key.name).map(|item| (item.truth(), item)) {
            Some((Ok(false), _)) => Ok(None),
            Some((Ok(true), item)) if !known.has_rig => Err(item.error(Problem::NoRigVolume)),
            Some((Ok(true), _)) => Ok(Some(RigAlone::AsStated)),
            Some((Err(_), item)) => {
                item.positive::<Volume>()?;
                Ok(ITS_VOLUME.read(key, table, known)?.map(RigAlone::Of))
            }
            None => Ok(ITS_VOLUME.read(key, table, known)?.map(RigAlone::Of)),
        }
    }
}
