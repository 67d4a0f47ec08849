//! What the tested volume follows from: `[engine]`, `[rig]` and `[volume]`.

use super::dimensions::{Dimensions, Rig};
use super::document::Table;
use super::error::{Problem, SheetError};
use super::keys::entry::{Absent, Entry, Value};
use super::keys::keyed::{Key, KeyRule, Keyed, ReadKey, content, keyed};
use super::keys::rule::OwnTable;
use super::keys::writer::Writer;
use super::methods::{Gauged, Methods, place};
use casetight::gauge::Gauge;
use casetight::measured::Measured;
use casetight::quantity::Volume;
use casetight::volume::{TestedVolume, USUAL_RIG, usual_rig};

/// What the tested volume follows from.
#[derive(Debug, Clone, PartialEq)]
pub enum Space {
    /// The engine's dimensions, each run's piston position, and the rig.
    Engine {
        /// The dimensions.
        dimensions: Box<Dimensions>,
        /// Volume of hose, gauge and adapters up to the case; [`usual_rig`] where the sheet does not state it.
        rig: Measured<Volume>,
    },
    /// A volume that was measured directly, rig included.
    Measured(Measured<Volume>),
    /// The volume in several ways, or in one of the bench's own.
    Methods(Box<Methods>),
}

impl Space {
    /// The engine's dimensions, where the sheet has them.
    #[must_use]
    pub fn dimensions(&self) -> Option<&Dimensions> {
        match self {
            Self::Engine { dimensions, .. } => Some(dimensions),
            Self::Measured(_) => None,
            Self::Methods(methods) => methods.engine.as_ref().map(|(engine, _)| engine.as_ref()),
        }
    }

    /// Whether a run must say where its piston stands: the volume depends on that by more than else is not known.
    #[must_use]
    pub fn needs_piston(&self) -> bool {
        match self {
            Self::Engine { dimensions, .. } => dimensions.needs_piston(),
            Self::Measured(_) => false,
            Self::Methods(methods) => methods.needs_piston(),
        }
    }

    /// The rig's volume, where the sheet states it: what stands for one that was not measured is no such volume.
    #[must_use]
    pub fn rig(&self) -> Option<&Measured<Volume>> {
        let rig = match self {
            Self::Engine { rig, .. } => Some(rig),
            Self::Measured(_) => None,
            Self::Methods(methods) => methods.engine.as_ref().map(|(_, rig)| rig),
        };
        rig.filter(|rig| rig.source() != USUAL_RIG)
    }
}

/// The three tables, each where it is there.
pub(super) struct ThreeTables;

const ENGINE: &str = "engine";
const RIG: &str = "rig";
const VOLUME: &str = "volume";

impl KeyRule<Space> for ThreeTables {
    fn names(&self, _: &Key, names: &mut Vec<&'static str>) {
        names.extend([ENGINE, RIG, VOLUME]);
    }

    fn entries(&self, _: &Key) -> Vec<Entry> {
        let each = [
            (ENGINE, content::<Dimensions>()),
            (RIG, content::<Rig>()),
            (VOLUME, content::<Methods>()),
        ];
        let entry = |(name, content)| Key::of(name).entry(Absent::Nothing, Value::Table(content));
        each.into_iter().map(entry).collect()
    }

    fn write(&self, _: &Key, space: &Space, out: &mut Writer) {
        if let Some(dimensions) = space.dimensions() {
            out.table(ENGINE, |out| dimensions.write(out));
        }
        if let Some(rig) = space.rig() {
            out.table(RIG, |out| Rig::of(rig.clone()).write(out));
        }
        match space {
            Space::Engine { .. } => {}
            Space::Measured(value) => {
                let value = Some(value.clone());
                let plain = Methods {
                    value,
                    ..Methods::default()
                };
                out.table(VOLUME, |out| plain.write(out));
            }
            Space::Methods(methods) => out.table(VOLUME, |out| methods.write(out)),
        }
    }
}

impl<C> ReadKey<Space, C> for ThreeTables {
    fn read(&self, _: &Key, sheet: &Table<'_>, _: &C) -> Result<Space, SheetError> {
        let engine = engine(sheet)?;
        let Some(item) = sheet.get(VOLUME) else {
            let (dimensions, rig) = engine.ok_or_else(|| sheet.error(neither()))?;
            return Ok(Space::Engine { dimensions, rig });
        };
        let gauge = Key::of("gauge");
        let known = Gauged {
            gauge: ReadKey::<Gauge, ()>::read(&OwnTable, &gauge, sheet, &())?,
            has_crank: engine
                .as_ref()
                .is_some_and(|(dimensions, _)| dimensions.crank().is_some()),
            unit: super::gauge::unit_of(sheet)?,
        };
        let methods = Methods {
            engine,
            ..keyed(&item, &known)?
        };
        match &methods.value {
            Some(value) if methods.is_plain() => {
                let tested = TestedVolume::measured_directly(value.clone());
                tested.map_err(|error| place(sheet, ("value", error.into())))?;
                Ok(Space::Measured(value.clone()))
            }
            _ => Ok(Space::Methods(Box::new(methods))),
        }
    }
}

fn neither() -> Problem {
    Problem::NeedsOneOf {
        keys: &[ENGINE, VOLUME],
        advice: "give the engine's displacement in [engine], or more of its dimensions, or a volume that was measured as a whole in [volume]",
    }
}

/// The engine's dimensions and the rig.
type EngineAndRig = (Box<Dimensions>, Measured<Volume>);

fn engine(sheet: &Table<'_>) -> Result<Option<EngineAndRig>, SheetError> {
    let Some(item) = sheet.get(ENGINE) else {
        if !sheet.has(VOLUME) {
            return Err(sheet.error(neither()));
        }
        if sheet.has(RIG) {
            let advice = "a volume that was measured directly includes the rig, so remove [rig]";
            let other = VOLUME;
            return Err(sheet.error_at(RIG, Problem::Excludes { other, advice }));
        }
        return Ok(None);
    };
    let dimensions = Box::new(keyed(&item, &())?);
    let rig = match sheet.get(RIG) {
        Some(item) => keyed::<Rig, _>(&item, &())?.volume(&sheet.below(RIG)?)?,
        None => sheet.of(ENGINE, usual_rig())?,
    };
    Ok(Some((dimensions, rig)))
}
