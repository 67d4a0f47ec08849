//! From text to a sheet.

use std::collections::{BTreeMap, HashMap};
use std::io;

use super::content::{Ambient, Record, RigAlone, Run, Search, Sheet, Space, Stalled, StatedLimit};
use super::dimensions::Dimensions;
use super::document::{Item, Source, Table};
use super::error::{Problem, SheetError};
use super::methods::{self, Methods};
use super::side::{Side, farthest, turn};
use super::stated::{Unstated, measured, number_and_unit};
use super::traces::Traces;
use super::usual::{
    DRIFT_ALLOWANCE, FORMAT, MOST_RUNS, PRESSURE_UNCERTAINTY, STATED, TEMPERATURE_UNCERTAINTY,
};
use crate::assess::Assumptions;
use crate::fit::CANDIDATES;
use crate::gauge::{AccuracyClass, Gauge};
use crate::limit::{Limit, LimitError, Rule};
use crate::measured::Measured;
use crate::quantity::{
    AbsolutePressure, Area, GaugePressure, Pressure, ReferenceConditions, TemperatureDrift,
    ThermodynamicTemperature, Time, TradeUnits, Unit, Volume, VolumeRate,
};
use crate::record::trace::line_of_reading;
use crate::record::{
    Date, EmptyCells, PressureKind, ReadingProfile, Readings, ReadingsError, RepeatedTimes,
    Segments, SegmentsError, Site, TemperatureCourse, TextEncoding, TimeUnit, Trace, Window,
    text_of,
};
use crate::vessel::Direction;
use crate::volume::{Piston, TestedVolume, Transfers, VolumeError};

const ROOT: &[&str] = &[
    "format",
    "title",
    "machine",
    "date",
    "engine",
    "rig",
    "volume",
    "ambient",
    "heat",
    "gauge",
    "limit",
    "assumptions",
    "isolate",
    "profiles",
    "run",
    "plan",
    "running",
];

const ENGINE: &[&str] = &[
    "bore",
    "bore_uncertainty",
    "stroke",
    "stroke_uncertainty",
    "rod",
    "rod_uncertainty",
    "primary_compression_ratio",
    "primary_compression_ratio_uncertainty",
    "compression_ratio",
    "compression_ratio_uncertainty",
];

const RIG: &[&str] = &["volume", "uncertainty"];

const AMBIENT: &[&str] = &[
    "pressure",
    "pressure_uncertainty",
    "temperature",
    "temperature_uncertainty",
    "drift_allowance",
];

const GAUGE: &[&str] = &[
    "unit",
    "division",
    "readable",
    "resolution",
    "noise",
    "accuracy_class",
    "span",
    "stopwatch",
];

const LIMIT: &[&str] = &[
    "max_drop",
    "from",
    "over",
    "at_volume",
    "max_area",
    "max_flow",
    "reference",
    "min_hold",
    "rule",
];

const LIMITS: &[&str] = &["max_drop", "max_area", "max_flow", "min_hold", "rule"];

const ASSUMPTIONS: &[&str] = &["discharge_coefficient", "level", "flow_reference", "law"];

const RUN: &[&str] = &[
    "name",
    "piston",
    "direction",
    "blanked",
    "repaired",
    "readings",
    "file",
    "profile",
    "window",
    "stalled",
    "bubbles",
    "dry",
    "soaped_at",
    "settled_for",
    "rig_alone",
    "rig_alone_uncertainty",
    "note",
];

const PROFILE: &[&str] = &[
    "encoding",
    "separator",
    "decimal",
    "comment",
    "skip_rows",
    "header",
    "time",
    "time_unit",
    "time_thousands",
    "pressure",
    "pressure_unit",
    "pressure_kind",
    "pressure_thousands",
    "scale",
    "offset",
    "temperature",
    "temperature_unit",
    "repeated_times",
    "empty_cells",
];

const ISOLATE: &[&str] = &["sites", "can_blank", "can_spray"];

const DIRECTIONS: &[(&str, Direction)] = &[
    ("pressure", Direction::Pressure),
    ("vacuum", Direction::Vacuum),
];

const STALLED: &[&str] = &["strokes", "stroke_volume", "over", "reached"];

/// Ambient pressures where people live and work \[Pa\], with room to spare: a slip of the unit falls outside.
const AMBIENT_PASCALS: (f64, f64) = (30e3, 120e3);

/// Temperatures that a case is tested at \[K\], with room to spare.
const AMBIENT_KELVINS: (f64, f64) = (213.15, 373.15);

impl Sheet {
    /// A sheet from its text. `name` is the name that errors show, `traces` opens the files that runs name.
    ///
    /// # Errors
    /// [`SheetError`] names the key and the place of the first thing that can't be.
    pub fn parse(text: &str, name: &str, traces: &dyn Traces) -> Result<Self, SheetError> {
        // A byte order mark is no part of the text.
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let source = Source { file: name, text };
        let document = source.document()?;
        let root = Table::new(&source, String::new(), 0..0, document.get_ref());
        sheet(&root, traces)
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
    let format = root.need("format", "format = 1")?;
    if format.as_written() != FORMAT.to_string() {
        let found = format.as_written().to_owned();
        return Err(format.error(Problem::Format { found }));
    }
    root.check_keys(ROOT)?;
    let title = match root.get("title") {
        Some(title) => title.name("text that says what was tested")?,
        None => String::new(),
    };
    let machine = match root.get("machine") {
        Some(machine) => Some(machine.name("the machine's name or number")?),
        None => None,
    };
    let date = match root.get("date") {
        Some(date) => Some(date.of(date.date()?.parse::<Date>())?),
        None => None,
    };
    let engine = engine(root)?;
    let ambient = ambient(&root.need("ambient", "[ambient]")?)?;
    let heat = super::heat::heat(root.get("heat").as_ref())?;
    let (gauge, gauge_unit) = gauge(&root.need("gauge", "[gauge]")?)?;
    let space = space(root, engine, (&gauge, gauge_unit))?;
    let assumptions = Assumptions {
        pressure_unit: gauge_unit,
        ..assumptions(root.get("assumptions").as_ref())?
    };
    let limits = match root.get("limit") {
        Some(limit) => limits(&limit, assumptions.flow_reference)?,
        None => Vec::new(),
    };
    let mut sheet = Sheet {
        title,
        machine,
        date,
        space,
        ambient,
        heat,
        gauge,
        gauge_unit,
        limits,
        assumptions,
        search: search(root.get("isolate").as_ref())?,
        profiles: profiles(root.get("profiles").as_ref())?,
        runs: Vec::new(),
        plan: super::Planned::default(),
        running: match root.get("running") {
            Some(running) => super::running::conditions(&running)?,
            None => super::running::typical(|problem| root.error_at("running", problem))?,
        },
    };
    if let Some(runs) = root.get("run") {
        let items = runs.list("a list of runs, each under [[run]] with two brackets,")?;
        if items.len() > MOST_RUNS {
            let runs = items.len();
            return Err(root.error_at("run", Problem::ManyRuns { runs }));
        }
        let mut names = HashMap::new();
        for item in items {
            let run = run(&item, &sheet, &mut names, traces)?;
            sheet.runs.push(run);
        }
    }
    check_methods(root, &sheet)?;
    if let Some(plan) = root.get("plan") {
        sheet.plan = super::plan::planned(&plan, &sheet)?;
    }
    Ok(sheet)
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
        volumes.map_err(|wrong| methods::read::place(root, wrong))?;
    }
    Ok(())
}

fn search(item: Option<&Item<'_>>) -> Result<Search, SheetError> {
    let Some(item) = item else {
        return Ok(Search::default());
    };
    let table = item.table("a table [isolate]", ISOLATE)?;
    let if_there = |key| -> Result<Option<Vec<Site>>, SheetError> {
        table.has(key).then(|| sites(&table, key, &[])).transpose()
    };
    Ok(Search {
        sites: sites(&table, "sites", &[])?,
        can_blank: if_there("can_blank")?,
        can_spray: if_there("can_spray")?,
    })
}

const SPACES: &str = "give the engine's dimensions in [engine] and the hose and gauge in [rig], or a volume that was measured as a whole in [volume]";

/// The engine's dimensions and the rig.
type EngineAndRig = (Box<Dimensions>, Measured<Volume>);

fn engine(root: &Table<'_>) -> Result<Option<EngineAndRig>, SheetError> {
    const KEYS: &[&str] = &["engine", "volume"];
    if let Some(item) = root.get("engine") {
        let dimensions = Box::new(dimensions(&item)?);
        let rig = root
            .get("rig")
            .ok_or_else(|| root.error_at("rig", Problem::NoRig))?;
        return Ok(Some((dimensions, rig_volume(&rig)?)));
    }
    if !root.has("volume") {
        return Err(root.error(Problem::NeedsOneOf {
            keys: KEYS,
            advice: SPACES,
        }));
    }
    if root.has("rig") {
        return Err(root.error_at(
            "rig",
            Problem::Excludes {
                other: "volume",
                advice: "a volume that was measured directly includes the rig, so remove [rig]",
            },
        ));
    }
    Ok(None)
}

fn space(
    root: &Table<'_>,
    engine: Option<EngineAndRig>,
    gauge: (&Gauge, &'static Unit),
) -> Result<Space, SheetError> {
    let measured = match root.get("volume") {
        Some(item) => Some(methods::read::methods(&item, gauge, engine.is_some())?),
        None => None,
    };
    let space = match (engine, measured) {
        (Some((dimensions, rig)), None) => return Ok(Space::Engine { dimensions, rig }),
        (engine, measured) => Methods {
            engine,
            ..measured.unwrap_or_default()
        },
    };
    match &space.value {
        Some(volume) if space.is_plain() => {
            let plain = Space::Measured(volume.clone());
            let tested = TestedVolume::measured_directly(volume.clone());
            tested.map_err(|error| methods::read::place(root, ("value", error.into())))?;
            Ok(plain)
        }
        _ => Ok(Space::Methods(Box::new(space))),
    }
}

fn dimensions(item: &Item<'_>) -> Result<Dimensions, SheetError> {
    let engine = item.table("a table [engine]", ENGINE)?;
    let table = &engine;
    let last_digit = &Unstated::LastDigit;
    let primary = (
        "primary_compression_ratio",
        "primary_compression_ratio = 1.45",
    );
    let compression = ("compression_ratio", "compression_ratio = 8.2");
    table.needs_partner(
        "compression_ratio_uncertainty",
        compression.0,
        compression.1,
    )?;
    let dimensions = Dimensions {
        bore: measured(
            table,
            ("bore", "bore = \"52 mm\""),
            "bore_uncertainty",
            last_digit,
        )?,
        stroke: measured(
            table,
            ("stroke", "stroke = \"40 mm\""),
            "stroke_uncertainty",
            last_digit,
        )?,
        rod: measured(
            table,
            ("rod", "rod = \"75 mm\""),
            "rod_uncertainty",
            last_digit,
        )?,
        primary_compression_ratio: measured(
            table,
            primary,
            "primary_compression_ratio_uncertainty",
            last_digit,
        )?,
        compression_ratio: if table.has(compression.0) {
            let key = "compression_ratio_uncertainty";
            Some(measured(table, compression, key, last_digit)?)
        } else {
            None
        },
    };
    match dimensions.engine() {
        Ok(_) => Ok(dimensions),
        Err(error) => {
            // The core names dimensions as the sheet does.
            let key = match error {
                VolumeError::Length { name, .. } | VolumeError::Ratio { name, .. } => name,
                _ => "rod",
            };
            Err(table.error_at(key, error))
        }
    }
}

fn rig_volume(item: &Item<'_>) -> Result<Measured<Volume>, SheetError> {
    let table = item.table("a table [rig]", RIG)?;
    let value = ("volume", "volume = \"35 cm3\"");
    let rig: Measured<Volume> = measured(&table, value, "uncertainty", &Unstated::LastDigit)?;
    let got = rig.value().si_value();
    if got < 0.0 {
        return Err(table.error_at("volume", VolumeError::Rig { got }));
    }
    if got == 0.0 && !table.has("uncertainty") {
        // Nothing is there, and nothing was measured.
        let exact = item.of(Measured::exact(rig.value()))?;
        return Ok(exact.with_source(STATED));
    }
    Ok(rig)
}

fn ambient(item: &Item<'_>) -> Result<Ambient, SheetError> {
    let table = item.table("a table [ambient]", AMBIENT)?;
    let pressure: Measured<AbsolutePressure> = measured(
        &table,
        ("pressure", "pressure = \"1013 hPa\""),
        "pressure_uncertainty",
        &Unstated::Usual(PRESSURE_UNCERTAINTY),
    )?;
    let temperature: Measured<ThermodynamicTemperature> = measured(
        &table,
        ("temperature", "temperature = \"21 C\""),
        "temperature_uncertainty",
        &Unstated::Usual(TEMPERATURE_UNCERTAINTY),
    )?;
    let within = |key, value: f64, (low, high), range| {
        if (low..=high).contains(&value) {
            return Ok(());
        }
        let got = table
            .get(key)
            .map_or("", |item| item.as_written())
            .to_owned();
        Err(table.error_at(key, Problem::Range { got, range }))
    };
    within(
        "pressure",
        pressure.value().si_value(),
        AMBIENT_PASCALS,
        "30 to 120 kPa; is the unit right, and the pressure absolute?",
    )?;
    within(
        "temperature",
        temperature.value().si_value(),
        AMBIENT_KELVINS,
        "-60 to 100 C; is the unit right?",
    )?;
    let drift_allowance = match table.get("drift_allowance") {
        Some(item) => {
            let drift = item.quantity::<TemperatureDrift>()?;
            if drift.si_value() < 0.0 {
                let got = item.as_written().to_owned();
                return Err(item.error(Problem::BelowZero { got }));
            }
            drift
        }
        None => item.of(TemperatureDrift::parse(DRIFT_ALLOWANCE))?,
    };
    Ok(Ambient {
        pressure,
        temperature,
        drift_allowance,
    })
}

fn gauge(item: &Item<'_>) -> Result<(Gauge, &'static Unit), SheetError> {
    const STEPS: &[&str] = &["division", "resolution"];
    let table = item.table("a table [gauge]", GAUGE)?;
    let unit = table.need("unit", "unit = \"psi\"")?;
    let unit = unit.of(GaugePressure::unit(unit.text("a unit of pressure")?))?;
    let step = table.one_of(
        STEPS,
        "a dial has a division, the step from mark to mark, a digital gauge a resolution",
    )?;
    table.needs_partner("readable", "division", "division = \"0.5 psi\"")?;
    let step = table.need(step, "division = \"0.5 psi\"")?;
    let mut gauge = if table.has("division") {
        let division = step.positive::<Pressure>()?;
        match table.get("readable") {
            Some(item) => item.of(Gauge::dial(division, item.positive()?))?,
            None => step.of(Gauge::dial(division, division))?,
        }
    } else {
        step.of(Gauge::digital(step.positive()?))?
    };
    if let Some(item) = table.get("noise") {
        gauge = item.of(gauge.with_noise(item.quantity()?))?;
    }
    table.needs_partner("accuracy_class", "span", "span = \"15 psi\"")?;
    table.needs_partner("span", "accuracy_class", "accuracy_class = 1.6")?;
    if let (Some(class), Some(span)) = (table.get("accuracy_class"), table.get("span")) {
        let accuracy = AccuracyClass {
            class: class.number()?,
            span: span.positive()?,
        };
        gauge = class.of(gauge.with_accuracy_class(accuracy))?;
    }
    if let Some(item) = table.get("stopwatch") {
        gauge = item.of(gauge.with_stopwatch(item.quantity()?))?;
    }
    Ok((gauge, unit))
}

fn assumptions(item: Option<&Item<'_>>) -> Result<Assumptions, SheetError> {
    let mut assumptions = Assumptions::default();
    let Some(item) = item else {
        return Ok(assumptions);
    };
    let table = item.table("a table [assumptions]", ASSUMPTIONS)?;
    let within = |key: &str, allowed: fn(f64) -> bool, range| match table.get(key) {
        None => Ok(None),
        Some(item) => {
            let number = item.number()?;
            let got = item.as_written().to_owned();
            if allowed(number) {
                Ok(Some(number))
            } else {
                Err(item.error(Problem::Range { got, range }))
            }
        }
    };
    if let Some(coefficient) = within(
        "discharge_coefficient",
        |c| c > 0.0 && c <= 1.0,
        "what a discharge coefficient can be: above 0, up to 1",
    )? {
        assumptions.discharge_coefficient = coefficient;
    }
    if let Some(level) = within(
        "level",
        |level| (0.5..=0.9999).contains(&level),
        "0.5 to 0.9999; 0.95 is usual",
    )? {
        assumptions.level = level;
    }
    if let Some(item) = table.get("flow_reference") {
        assumptions.flow_reference = reference(&item)?;
    }
    if let Some(item) = table.get("law") {
        let laws = CANDIDATES.map(|candidate| (candidate.law.name(), candidate.law));
        assumptions.law = Some(item.word(&laws)?);
    }
    Ok(assumptions)
}

fn reference(item: &Item<'_>) -> Result<ReferenceConditions, SheetError> {
    item.of(item.text("reference conditions as text")?.parse())
}

fn limits(
    item: &Item<'_>,
    flow_reference: ReferenceConditions,
) -> Result<Vec<StatedLimit>, SheetError> {
    let table = item.table("a table [limit]", LIMIT)?;
    if !LIMITS.iter().any(|key| table.has(key)) {
        return Err(table.error(Problem::NeedsOneOf {
            keys: LIMITS,
            advice: "state a limit, or leave [limit] out and no run is judged",
        }));
    }
    table.needs_partner("max_drop", "from", "from = \"7 psi\"")?;
    table.needs_partner("max_drop", "over", "over = \"1 min\"")?;
    table.needs_partner("over", "max_drop", "max_drop = \"1 psi\"")?;
    table.needs_partner("at_volume", "max_drop", "max_drop = \"1 psi\"")?;
    table.needs_partner("reference", "max_flow", "max_flow = \"5 cm3/min\"")?;
    if !table.has("min_hold") {
        table.needs_partner("from", "max_drop", "max_drop = \"1 psi\"")?;
    }
    let positive = |key| {
        table
            .get(key)
            .map(|item| item.positive::<Pressure>())
            .transpose()
    };
    let from = positive("from")?;
    let mut limits = Vec::new();
    let mut state = |limit, rule| limits.push(StatedLimit { limit, rule });
    if let (Some(drop), Some(from), Some(over)) = (positive("max_drop")?, from, table.get("over")) {
        if drop >= from {
            let (drop, from) = (drop.si_value(), from.si_value());
            return Err(table.error_at("max_drop", LimitError::DropBeyondStart { drop, from }));
        }
        let at_volume = match table.get("at_volume") {
            Some(item) => Some(item.positive::<Volume>()?),
            None => None,
        };
        let limit = Limit::Drop {
            drop,
            from,
            over: over.positive::<Time>()?,
            at_volume,
        };
        state(limit, None);
    }
    if let Some(area) = table.get("max_area") {
        state(Limit::Area(area.positive::<Area>()?), None);
    }
    if let Some(flow) = table.get("max_flow") {
        let limit = Limit::Flow {
            flow: flow.positive::<VolumeRate>()?,
            reference: match table.get("reference") {
                Some(item) => reference(&item)?,
                None => flow_reference,
            },
        };
        state(limit, None);
    }
    if let Some(hold) = table.get("min_hold") {
        let time = hold.positive::<Time>()?;
        state(Limit::Hold { time, from }, None);
    }
    if let Some(item) = table.get("rule") {
        let name = item.text("a rule's name")?;
        let known = |rule: &&Rule| rule.name().eq_ignore_ascii_case(name);
        let Some(&rule) = Rule::ALL.iter().find(known) else {
            let known = Rule::OnePsiAMinute.name();
            return Err(item.error(Problem::UnknownRule { known }));
        };
        state(rule.limit(), Some(rule));
    }
    Ok(limits)
}

fn profiles(item: Option<&Item<'_>>) -> Result<BTreeMap<String, ReadingProfile>, SheetError> {
    const EXPECTED: &str = "tables of profiles, each under [profiles.NAME],";
    let Some(item) = item else {
        return Ok(BTreeMap::new());
    };
    item.named(EXPECTED)?
        .into_iter()
        .map(|(name, item)| Ok((name, profile(&item)?)))
        .collect()
}

fn profile(item: &Item<'_>) -> Result<ReadingProfile, SheetError> {
    let table = item.table("a profile's table", PROFILE)?;
    let mut profile = ReadingProfile::new(
        table.need("time", "time = \"Time\"")?.column()?,
        table.need("pressure", "pressure = 2")?.column()?,
    );
    table.needs_partner("temperature_unit", "temperature", "temperature = 3")?;
    let set = |key, set: &mut dyn FnMut(Item<'_>) -> Result<(), SheetError>| {
        table.get(key).map_or(Ok(()), set)
    };
    macro_rules! set {
        ($($key:ident: $item:ident => $value:expr;)*) => {$(
            set(stringify!($key), &mut |$item| {
                profile.$key = $value;
                Ok(())
            })?;
        )*};
    }
    set! {
        encoding: item => item.word(&TextEncoding::NAMES)?;
        separator: item => item.mark()?;
        decimal: item => item.mark()?;
        comment: item => item.characters("text that a comment starts with")?.to_owned();
        skip_rows: item => item.count()?;
        header: item => item.truth()?;
        time_unit: item => item.word(&TimeUnit::NAMES)?;
        time_thousands: item => Some(item.mark()?);
        pressure_unit: item => item.of(item.text("a unit of pressure")?.parse())?;
        pressure_kind: item => item.word(&PressureKind::NAMES)?;
        pressure_thousands: item => Some(item.mark()?);
        scale: item => item.number()?;
        offset: item => item.number()?;
        temperature: item => Some(item.column()?);
        temperature_unit: item => Some(item.of(item.text("a unit of temperature")?.parse())?);
        repeated_times: item => item.word(&RepeatedTimes::NAMES)?;
        empty_cells: item => item.word(&EmptyCells::NAMES)?;
    }
    match profile.check() {
        Ok(()) => Ok(profile),
        Err(error) => Err(table.error_at(error.key(), error)),
    }
}

/// A run; `names` are those of the runs before it, with their numbers from 1.
fn run(
    item: &Item<'_>,
    sheet: &Sheet,
    names: &mut HashMap<String, usize>,
    traces: &dyn Traces,
) -> Result<Run, SheetError> {
    const RECORDS: &[&str] = &["readings", "file", "stalled"];
    let table = item.table("a run's table", RUN)?;
    let name_item = table.need("name", "name = \"all blanked\"")?;
    let name = name_item.name("a name for the run")?;
    if let Some(first) = names.insert(name.clone(), sheet.runs.len() + 1) {
        return Err(name_item.error(Problem::SameName { name, first }));
    }
    let piston = piston(&table, sheet)?;
    let record = table.one_of(
        RECORDS,
        "a run has readings on the sheet, or a trace's file, or a stalled pump",
    )?;
    table.needs_partner("profile", "file", "file = \"trace.csv\"")?;
    table.needs_partner("window", "file", "file = \"trace.csv\"")?;
    let item = table.need(record, "readings = [[0, 7.0], [60, 6.5]]")?;
    let ambient = sheet.ambient.pressure.value();
    let direction = match table.get("direction") {
        Some(item) => Some(item.word(DIRECTIONS)?),
        None => None,
    };
    let side = |unit: &str| Side::of(direction, &name, unit);
    let record = match record {
        "readings" => {
            let unit = sheet.gauge_unit;
            Record::Readings(readings(&item, unit, side(unit.symbol()), ambient)?)
        }
        "file" => trace(&table, &item, sheet, traces, &side)?,
        _ => Record::Stalled(stalled(&item, &side, ambient)?),
    };
    let bubbles = sites(&table, "bubbles", &[])?;
    let note = match table.get("note") {
        Some(note) => Some(note.lines("a note")?),
        None => None,
    };
    let repaired = sites(&table, "repaired", &[])?;
    for (index, earlier) in sheet.runs.iter().enumerate() {
        if let Some(site) = repaired.iter().find(|site| earlier.repaired.contains(site)) {
            let (site, first) = (site.to_string(), index + 1);
            return Err(table.error_at("repaired", Problem::RepairedTwice { site, first }));
        }
    }
    let rig_alone = rig_alone(&table, sheet)?;
    let soaped_at = match table.get("soaped_at") {
        Some(item) => Some(item.positive::<GaugePressure>()?),
        None => None,
    };
    Ok(Run {
        name,
        piston,
        direction,
        blanked: sites(&table, "blanked", &[])?,
        repaired,
        record,
        // A site is wet or dry.
        dry: sites(&table, "dry", &bubbles)?,
        bubbles,
        soaped_at,
        settled_for: super::heat::settled_for(&table)?,
        rig_alone,
        note,
    })
}

/// Whether the rig was tested alone, and its volume.
fn rig_alone(table: &Table<'_>, sheet: &Sheet) -> Result<Option<RigAlone>, SheetError> {
    let Some(item) = table.get("rig_alone") else {
        table.needs_partner(
            "rig_alone_uncertainty",
            "rig_alone",
            "rig_alone = \"35 cm3\"",
        )?;
        return Ok(None);
    };
    match item.truth() {
        Ok(false) => Ok(None),
        Ok(true) if sheet.space.rig().is_none() => Err(item.error(Problem::NoRigVolume)),
        Ok(true) => Ok(Some(RigAlone::AsStated)),
        Err(_) => {
            item.positive::<Volume>()?;
            let volume = ("rig_alone", "rig_alone = \"35 cm3\"");
            let unstated = &Unstated::LastDigit;
            let volume = measured(table, volume, "rig_alone_uncertainty", unstated)?;
            Ok(Some(RigAlone::Of(volume)))
        }
    }
}

/// Where the piston stands, with the volume that this makes.
fn piston(table: &Table<'_>, sheet: &Sheet) -> Result<Option<Piston>, SheetError> {
    let piston: Option<Piston> = match table.get("piston") {
        Some(item) => Some(item.of(item.text("a piston position")?.parse())?),
        None => None,
    };
    if rig_alone(table, sheet)?.is_some() {
        // The piston is not in the volume under test.
        return Ok(piston);
    }
    let one_position = match &sheet.space {
        Space::Methods(methods) => {
            if methods.needs_piston() && piston.is_none() {
                return Err(table.error_at("piston", Problem::NoPiston));
            }
            methods.is_of_one_position()
        }
        space => {
            if let Err((_, problem)) = sheet.volumes(piston) {
                return Err(table.error_at("piston", problem));
            }
            matches!(space, Space::Measured(_))
        }
    };
    if let (true, Some(here)) = (one_position, piston) {
        // With the transfers open the volume does not depend on the angle.
        let same = |there: Piston| {
            there == here
                || (there.transfers(), here.transfers()) == (Transfers::Open, Transfers::Open)
        };
        let elsewhere = sheet.runs.iter().enumerate().find_map(|(index, run)| {
            let there = run.piston.filter(|there| !same(*there))?;
            Some((index + 1, there))
        });
        if let Some((first, there)) = elsewhere {
            let other = there.to_string();
            return Err(table.error_at("piston", Problem::TwoVolumes { first, other }));
        }
    }
    Ok(piston)
}

fn readings(
    item: &Item<'_>,
    unit: &Unit,
    side: Side,
    ambient: AbsolutePressure,
) -> Result<Readings, SheetError> {
    const SHAPE: &str = "a list of readings `[[seconds, gauge], ...]`";
    const PAIR: &str = "a reading `[seconds, gauge]`";
    let rows = item.list(SHAPE)?;
    let (mut times, mut gauges) = (Vec::new(), Vec::new());
    for row in &rows {
        let pair = row.list(PAIR)?;
        let [time, gauge] = pair.as_slice() else {
            let found = "a list that is not of two numbers";
            return Err(row.error(Problem::Type {
                expected: PAIR,
                found,
            }));
        };
        times.push(time.number()?);
        gauges.push(unit.to_si(gauge.number()?));
    }
    if item.of(side.turns(farthest(&gauges)))? {
        turn(&mut gauges);
    }
    Readings::from_si(&times, &gauges, ambient).map_err(|error| {
        let at_fault = row_of(&error).and_then(|row| rows.get(row.checked_sub(1)?));
        at_fault.unwrap_or(item).error(error)
    })
}

/// The reading at fault, counted from 1.
fn row_of(error: &ReadingsError) -> Option<usize> {
    match error {
        ReadingsError::NotFinite { row, .. }
        | ReadingsError::TimesNotRising { row, .. }
        | ReadingsError::MixedDirections { row, .. }
        | ReadingsError::BeyondVacuum { row, .. } => Some(*row),
        ReadingsError::NoPressure { .. } => Some(1),
        ReadingsError::Lengths { .. } | ReadingsError::TooFew { .. } => None,
    }
}

fn trace(
    table: &Table<'_>,
    item: &Item<'_>,
    sheet: &Sheet,
    traces: &dyn Traces,
    side: &dyn Fn(&str) -> Side,
) -> Result<Record, SheetError> {
    let file = item.line("the name of a trace's file")?;
    let ambient = sheet.ambient.pressure.value();
    let named = match table.get("profile") {
        Some(item) => Some(profile_of(&item, sheet)?),
        None => None,
    };
    let profile = named.map(|(_, profile)| profile);
    let unreadable = |error: io::Error| {
        item.error(Problem::TraceUnreadable {
            file: file.clone(),
            kind: error.kind(),
            message: error.to_string(),
        })
    };
    let source = traces.open(&file).map_err(unreadable)?;
    let trace = match profile {
        Some(profile) => profile.read(source, Some(ambient)),
        None => Trace::from_reader(source),
    };
    let trace = trace.map_err(|error| {
        let file = file.clone();
        item.error(Problem::Trace { file, error })
    })?;
    // Of a reading that was numbered from `before` on. Lines are not kept for millions of rows; the one that matters is
    // looked up in a second pass.
    let at_fault = |error: ReadingsError, before: usize| {
        let line = row_of(&error).and_then(|row| {
            let (source, row) = (traces.open(&file).ok()?, row + before);
            match profile {
                Some(profile) => profile.line_of_reading(source, Some(ambient), row),
                None => line_of_reading(source, row),
            }
        });
        let file = file.clone();
        item.error(Problem::TraceReadings { file, line, error })
    };
    let segments = Segments::of(&trace.time_s, &trace.gauge_pa, Some(&sheet.gauge));
    let segments = segments.map_err(|error| match error {
        SegmentsError::Readings(error) => at_fault(error, 0),
        error @ SegmentsError::NoHold { .. } => {
            let file = file.clone();
            item.error(Problem::TraceSegments { file, error })
        }
    })?;
    let window = match table.get("window") {
        Some(item) => window(&item, &trace.time_s)?,
        None => segments
            .window()
            .map_err(|error| {
                let file = file.clone();
                item.error(Problem::TraceSegments { file, error })
            })?
            .clone(),
    };
    let mut trace = trace.within(&window);
    let far = farthest(&trace.gauge_pa);
    match profile {
        _ if traces.awaits(&file) => {}
        Some(profile) if profile.pressure_kind == PressureKind::Absolute => {
            item.of(side("").agrees(far))?;
        }
        _ => {
            // A trace without a profile is a logger's, or was kept by a live run, which has asked.
            let unit = profile.map_or("", |profile| profile.pressure_unit.unit().symbol());
            if item.of(side(unit).turns(far))? {
                turn(&mut trace.gauge_pa);
            }
        }
    }
    let readings = Readings::from_vecs(trace.time_s, trace.gauge_pa, ambient);
    let mut readings = readings.map_err(|error| at_fault(error, window.rows.start))?;
    if let Some(kelvins) = &trace.temperature_k {
        let course = TemperatureCourse::of(readings.times_s(), kelvins, None);
        // Two temperatures give no uncertainty of their course: the allowance stays.
        if let Ok(course) = course {
            readings = readings.with_drift(course.drift, course.standard_uncertainty);
        }
    }
    Ok(Record::Trace {
        profile: named.map(|(name, _)| name.to_owned()),
        readings,
        temperature_k: trace.temperature_k,
        segments: Box::new(segments),
        window,
        file,
    })
}

/// The profile that a run names.
fn profile_of<'p>(
    item: &Item<'_>,
    sheet: &'p Sheet,
) -> Result<(&'p str, &'p ReadingProfile), SheetError> {
    let name = item.text("a profile's name")?;
    match sheet.profiles.get_key_value(name) {
        Some((name, profile)) => Ok((name, profile)),
        None => Err(item.error(Problem::UnknownProfile {
            known: sheet.profiles.keys().cloned().collect(),
        })),
    }
}

/// The part of a trace that the sheet states.
fn window(item: &Item<'_>, time_s: &[f64]) -> Result<Window, SheetError> {
    const SHAPE: &str = "a window `[from_s, to_s]`";
    let ends = item.list(SHAPE)?;
    let [from, to] = ends.as_slice() else {
        let found = "a list that is not of two numbers";
        return Err(item.error(Problem::Type {
            expected: SHAPE,
            found,
        }));
    };
    item.of(Window::stated(time_s, from.number()?, to.number()?))
}

fn stalled(
    item: &Item<'_>,
    side: &dyn Fn(&str) -> Side,
    ambient: AbsolutePressure,
) -> Result<Stalled, SheetError> {
    let table = item.table("a table { strokes, stroke_volume, over, reached }", STALLED)?;
    let strokes_item = table.need("strokes", "strokes = 30")?;
    let strokes = strokes_item.characters("a whole number")?.trim().parse();
    let Some(strokes) = strokes.ok().filter(|count: &u32| *count > 0) else {
        let got = strokes_item.as_written().to_owned();
        let range = "the whole numbers from 1 on";
        return Err(strokes_item.error(Problem::Range { got, range }));
    };
    let reached_item = table.need("reached", "reached = \"0.5 psi\"")?;
    let mut reached: GaugePressure = reached_item.quantity()?;
    let text = reached_item.characters("text with a number and a unit")?;
    let unit = GaugePressure::unit(number_and_unit(text).1.trim()).map_or("", Unit::symbol);
    if reached_item.of(side(unit).turns(reached.pascals()))? {
        reached = reached_item.of(GaugePressure::new(-reached.size()))?;
    }
    reached_item.of(reached.absolute(ambient))?;
    Ok(Stalled {
        strokes,
        stroke_volume: table
            .need("stroke_volume", "stroke_volume = \"25 cm3\"")?
            .positive()?,
        over: table.need("over", "over = \"30 s\"")?.positive()?,
        reached,
    })
}

/// A list of sites, none of them twice nor in `bubbles`.
fn sites(table: &Table<'_>, key: &'static str, bubbles: &[Site]) -> Result<Vec<Site>, SheetError> {
    let mut sites = Vec::new();
    let Some(item) = table.get(key) else {
        return Ok(sites);
    };
    for item in item.list("a list of sites `[\"base gasket\", ...]`")? {
        let site: Site = item.of(item.name("a site")?.parse())?;
        for (list, named) in [("bubbles", bubbles), (key, &sites)] {
            if named.contains(&site) {
                let site = site.to_string();
                return Err(item.error(Problem::SiteTwice { site, list }));
            }
        }
        sites.push(site);
    }
    Ok(sites)
}
