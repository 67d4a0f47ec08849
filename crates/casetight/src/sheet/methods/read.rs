//! `[volume]` from text.

use super::{
    Added, AddedLeakReadings, CRANK_ANGLE_UNCERTAINTY, ExpansionReadings, FillLiquid, FillReadings,
    Methods, PartsReadings, Rates, RotationReadings, StrokesReadings, With, Wrong,
};
use crate::gauge::Gauge;
use crate::measured::{Distribution, Evaluation, Measurable, Measured};
use crate::quantity::{GaugePressure, Pressure, Ratio, TemperatureInterval, TradeUnits, Unit};
use crate::sheet::document::{Item, Table};
use crate::sheet::stated::{Unstated, measured};
use crate::sheet::{Problem, SheetError, USUAL};
use crate::volume::{Loss, Piece, Sense, Shape, StrokeReading, VolumeError};

const VOLUME: &[&str] = &[
    "value",
    "uncertainty",
    "shared",
    "gauge_zero",
    "gauge_zero_uncertainty",
    "temperature",
    "temperature_uncertainty",
    "settled_within",
    "expansion",
    "rotation",
    "strokes",
    "added_leak",
    "fill",
    "parts",
];
const WAYS: &[&str] = &[
    "value",
    "expansion",
    "rotation",
    "strokes",
    "added_leak",
    "fill",
    "parts",
];
const EXPANSION: &[&str] = &[
    "reference",
    "reference_uncertainty",
    "before",
    "before_uncertainty",
    "after",
    "after_uncertainty",
    "add",
];
const ROTATION: &[&str] = &[
    "bore",
    "bore_uncertainty",
    "stroke",
    "stroke_uncertainty",
    "rod",
    "rod_uncertainty",
    "from",
    "from_uncertainty",
    "to",
    "to_uncertainty",
    "before",
    "before_uncertainty",
    "after",
    "after_uncertainty",
    "loss",
    "add",
];
const LOSS: &[&str] = &[
    "fall",
    "fall_uncertainty",
    "watched",
    "watched_uncertainty",
    "between",
    "between_uncertainty",
];
const STROKES: &[&str] = &[
    "stroke_volume",
    "stroke_volume_uncertainty",
    "delivery",
    "delivery_uncertainty",
    "dead_space",
    "dead_space_uncertainty",
    "readings",
    "reading_uncertainty",
    "add",
];
const ADDED_LEAK: &[&str] = &[
    "known_area",
    "known_area_uncertainty",
    "alone",
    "alone_uncertainty",
    "together",
    "together_uncertainty",
    "alone_run",
    "together_run",
    "rate_correlation",
    "add",
];
const FILL: &[&str] = &[
    "empty",
    "empty_uncertainty",
    "full",
    "full_uncertainty",
    "liquid",
    "temperature",
    "temperature_uncertainty",
    "density",
    "density_uncertainty",
    "trapped",
    "trapped_uncertainty",
    "balance_scale_uncertainty",
    "air_density",
    "air_density_uncertainty",
    "add",
];
const PARTS: &[&str] = &["caliper_scale_uncertainty", "piece", "add"];
const PIECE: &[&str] = &[
    "name",
    "shape",
    "solid",
    "count",
    "diameter",
    "diameter_uncertainty",
    "outer",
    "outer_uncertainty",
    "inner",
    "inner_uncertainty",
    "first",
    "first_uncertainty",
    "second",
    "second_uncertainty",
    "length",
    "length_uncertainty",
    "width",
    "width_uncertainty",
    "height",
    "height_uncertainty",
    "volume",
    "volume_uncertainty",
];
const ADD: &[&str] = &["name", "volume", "uncertainty"];

/// The shapes by their names, with the dimensions that each has.
const SHAPES: &[(&str, &[&str])] = &[
    ("cylinder", &["diameter", "length"]),
    ("annulus", &["outer", "inner", "length"]),
    ("frustum", &["first", "second", "length"]),
    ("block", &["length", "width", "height"]),
    ("known", &["volume"]),
];

/// A measured value of two keys: the second is the first with `_uncertainty`.
macro_rules! value {
    ($table:expr, $key:literal, $example:literal, $unstated:expr) => {
        measured(
            $table,
            ($key, concat!($key, " = \"", $example, "\"")),
            concat!($key, "_uncertainty"),
            $unstated,
        )
    };
}

/// The same, where the first key is there.
macro_rules! value_if_there {
    ($table:expr, $key:literal, $example:literal, $unstated:expr) => {{
        let partner = concat!($key, " = \"", $example, "\"");
        $table.needs_partner(concat!($key, "_uncertainty"), $key, partner)?;
        if $table.has($key) {
            Some(value!($table, $key, $example, $unstated)?)
        } else {
            None
        }
    }};
}

/// A gauge reading of two keys; without a stated uncertainty it has that of the gauge's readings.
macro_rules! reading {
    ($table:expr, $gauge:expr, $key:literal, $unstated:expr) => {
        if $table.has(concat!($key, "_uncertainty")) {
            value!($table, $key, "50 kPa", &Unstated::LastDigit)
        } else {
            let item = $table.need($key, concat!($key, " = \"50 kPa\""))?;
            item.quantity()
                .and_then(|read| item.of(as_read(read, $unstated)))
        }
    };
}

/// A value with this usual uncertainty.
fn as_read<Q: Measurable>(value: Q, u: Q::Spread) -> Result<Measured<Q>, Problem> {
    let normal = Evaluation::TypeB(Distribution::Normal);
    Ok(Measured::new(value, u, normal)?.with_source(USUAL))
}

/// Standard uncertainty of a reading whose size counts: noise, rounding, and the scale of a gauge of some class.
fn of_size(gauge: &Gauge, reading: GaugePressure) -> Pressure {
    let (noise, scale) = (
        gauge.reading_uncertainty(),
        reading.size() * gauge.scale_uncertainty(),
    );
    (noise * noise + scale * scale).sqrt()
}

/// The methods of a `[volume]` table; the engine is the caller's to add.
pub(in crate::sheet) fn methods(
    item: &Item<'_>,
    gauge: (&Gauge, &'static Unit),
    has_engine: bool,
) -> Result<Methods, SheetError> {
    let table = &item.table("a table [volume]", VOLUME)?;
    if !WAYS.iter().any(|key| table.has(key)) {
        return Err(table.error(Problem::NeedsOneOf {
            keys: WAYS,
            advice: "state the volume, or how it was measured",
        }));
    }
    table.needs_partner("uncertainty", "value", "value = \"250 cm3\"")?;
    let value = if table.has("value") {
        let needed = Unstated::Needed("uncertainty = \"5 cm3\"");
        let key = ("value", "value = \"250 cm3\"");
        Some(measured(table, key, "uncertainty", &needed)?)
    } else {
        None
    };
    table.needs_partner(
        "gauge_zero_uncertainty",
        "gauge_zero",
        "gauge_zero = \"0 kPa\"",
    )?;
    let gauge_zero = if table.has("gauge_zero") {
        Some(reading!(
            table,
            gauge.0,
            "gauge_zero",
            gauge.0.reading_uncertainty()
        )?)
    } else {
        None
    };
    let usual = Unstated::Usual(crate::sheet::TEMPERATURE_UNCERTAINTY);
    let temperature = value_if_there!(table, "temperature", "20 C", &usual);
    let settled_within = match table.get("settled_within") {
        Some(item) => Some(not_negative::<TemperatureInterval>(&item)?),
        None => None,
    };
    let mut shared = Vec::new();
    if let Some(list) = table.get("shared") {
        for name in list.list("a list of the names of inputs `[\"reference volume\", ...]`")? {
            shared.push(name.name("the name of an input")?);
        }
    }
    Ok(Methods {
        engine: None,
        value,
        shared,
        gauge_zero,
        temperature,
        settled_within,
        expansion: method(table, "expansion", EXPANSION, |t| expansion(t, gauge.0))?,
        rotation: method(table, "rotation", ROTATION, |t| {
            rotation(t, gauge.0, has_engine)
        })?,
        strokes: method(table, "strokes", STROKES, |t| strokes(t, gauge))?,
        added_leak: method(table, "added_leak", ADDED_LEAK, added_leak)?,
        fill: method(table, "fill", FILL, fill)?,
        parts: method(table, "parts", PARTS, parts)?,
    })
}

/// An error of the methods at its key in the text.
pub(in crate::sheet) fn place(root: &Table<'_>, (key, problem): Wrong) -> SheetError {
    let in_volume = |item: Item<'_>| match item.table("a table [volume]", VOLUME) {
        Ok(table) if !key.is_empty() => table.error_at(key, problem.clone()),
        _ => item.error(problem.clone()),
    };
    match root.get("volume") {
        Some(item) if key != "engine" => in_volume(item),
        _ => root.error_at("engine", problem),
    }
}

fn method<T>(
    volume: &Table<'_>,
    key: &'static str,
    known: &'static [&'static str],
    read: impl Fn(&Table<'_>) -> Result<T, SheetError>,
) -> Result<Option<With<T>>, SheetError> {
    let Some(item) = volume.get(key) else {
        return Ok(None);
    };
    let table = item.table("a table of a way to measure the volume", known)?;
    let mut add = Vec::new();
    if let Some(list) = table.get("add") {
        for item in list.list("a list of spaces `[{ name, volume, uncertainty }, ...]`")? {
            let space = item.table("a space `{ name, volume, uncertainty }`", ADD)?;
            let name = space.need("name", "name = \"hose and gauge\"")?;
            let key = ("volume", "volume = \"18 cm3\"");
            add.push(Added {
                name: name.name("a name for the space")?,
                volume: measured(&space, key, "uncertainty", &Unstated::LastDigit)?,
            });
        }
    }
    let method = read(&table)?;
    Ok(Some(With { method, add }))
}

fn not_negative<Q: TradeUnits>(item: &Item<'_>) -> Result<Q, SheetError> {
    let quantity = item.quantity::<Q>()?;
    if quantity.si_value() < 0.0 {
        let got = item.as_written().to_owned();
        return Err(item.error(Problem::BelowZero { got }));
    }
    Ok(quantity)
}

/// A relative uncertainty: `0.001`, `"0.1 %"`.
fn relative(table: &Table<'_>, key: &'static str) -> Result<Option<Ratio>, SheetError> {
    table.get(key).map(|item| not_negative(&item)).transpose()
}

fn expansion(table: &Table<'_>, gauge: &Gauge) -> Result<ExpansionReadings, SheetError> {
    // The scale of the gauge drops out of a ratio of two readings.
    Ok(ExpansionReadings {
        reference: value!(table, "reference", "200 cm3", &Unstated::LastDigit)?,
        before: reading!(table, gauge, "before", gauge.reading_uncertainty())?,
        after: reading!(table, gauge, "after", gauge.reading_uncertainty())?,
    })
}

fn rotation(
    table: &Table<'_>,
    gauge: &Gauge,
    has_engine: bool,
) -> Result<RotationReadings, SheetError> {
    const OWN: &[&str] = &["bore", "stroke", "rod"];
    let last_digit = &Unstated::LastDigit;
    let crank = if has_engine {
        if let Some(key) = OWN.iter().find(|key| table.has(key)) {
            let advice = "the dimensions in [engine] are used, so remove them here";
            let other = "engine";
            return Err(table.error_at(key, Problem::Excludes { other, advice }));
        }
        None
    } else {
        Some([
            value!(table, "bore", "42 mm", last_digit)?,
            value!(table, "stroke", "32 mm", last_digit)?,
            value!(table, "rod", "58 mm", last_digit)?,
        ])
    };
    let angle = &Unstated::Usual(CRANK_ANGLE_UNCERTAINTY);
    let at = |key: &'static str| -> Result<Pressure, SheetError> {
        let item = table.need(key, "before = \"0 kPa\"")?;
        Ok(of_size(gauge, item.quantity()?))
    };
    Ok(RotationReadings {
        crank,
        from: value!(table, "from", "0 deg", angle)?,
        to: value!(table, "to", "90 deg", angle)?,
        before: reading!(table, gauge, "before", at("before")?)?,
        after: reading!(table, gauge, "after", at("after")?)?,
        loss: match table.get("loss") {
            Some(item) => Some(loss(&item, gauge)?),
            None => None,
        },
    })
}

fn loss(item: &Item<'_>, gauge: &Gauge) -> Result<Loss, SheetError> {
    let table = &item.table("a table { fall, watched, between }", LOSS)?;
    // A difference of two readings.
    let fall = gauge.reading_uncertainty() * std::f64::consts::SQRT_2;
    Ok(Loss {
        fall: reading!(table, gauge, "fall", fall)?,
        watched: value!(table, "watched", "30 s", &Unstated::LastDigit)?,
        between: value!(table, "between", "10 s", &Unstated::LastDigit)?,
    })
}

fn strokes(
    table: &Table<'_>,
    (gauge, unit): (&Gauge, &'static Unit),
) -> Result<StrokesReadings, SheetError> {
    const SHAPE: &str = "a list of readings `[[strokes, gauge], ...]`";
    const PAIR: &str = "a reading `[strokes, gauge]`";
    const COUNTS: &str = "the whole numbers from 1 on";
    let last_digit = &Unstated::LastDigit;
    let list = table.need("readings", "readings = [[5, 48.1]]")?;
    let stated = match table.get("reading_uncertainty") {
        Some(item) => Some(not_negative::<Pressure>(&item)?),
        None => None,
    };
    let mut readings = Vec::new();
    for row in list.list(SHAPE)? {
        let pair = row.list(PAIR)?;
        let [strokes, shown] = pair.as_slice() else {
            let found = "a list that is not of two numbers";
            let expected = PAIR;
            return Err(row.error(Problem::Type { expected, found }));
        };
        let reading = GaugePressure::from_si_value(unit.to_si(shown.number()?));
        let reading = shown.of(reading)?;
        let reading = match stated {
            Some(u) => {
                let normal = Evaluation::TypeB(Distribution::Normal);
                shown
                    .of(Measured::new(reading, u, normal))?
                    .with_source(crate::sheet::STATED)
            }
            None => shown.of(as_read(reading, gauge.reading_uncertainty()))?,
        };
        let strokes = whole(strokes, COUNTS)?;
        readings.push(StrokeReading { strokes, reading });
    }
    if readings.is_empty() {
        return Err(list.error(VolumeError::NoStrokes));
    }
    Ok(StrokesReadings {
        stroke_volume: value!(table, "stroke_volume", "25 cm3", last_digit)?,
        delivery: value_if_there!(table, "delivery", "0.95", last_digit),
        dead_space: value_if_there!(table, "dead_space", "2 cm3", last_digit),
        readings,
    })
}

/// A whole number above zero.
fn whole(item: &Item<'_>, range: &'static str) -> Result<u32, SheetError> {
    let number = item.characters("a whole number")?.trim().parse();
    number.ok().filter(|count| *count > 0).ok_or_else(|| {
        let got = item.as_written().to_owned();
        item.error(Problem::Range { got, range })
    })
}

fn added_leak(table: &Table<'_>) -> Result<AddedLeakReadings, SheetError> {
    const EITHER: &[&str] = &["alone", "alone_run"];
    const ADVICE: &str =
        "state the two rates in 1/s, or name the two runs of this sheet that they follow from";
    let last_digit = &Unstated::LastDigit;
    let rates = if table.one_of(EITHER, ADVICE)? == "alone" {
        Rates::Stated {
            alone: value!(table, "alone", "0.012 1/s", last_digit)?,
            together: value!(table, "together", "0.035 1/s", last_digit)?,
        }
    } else {
        let name = |key, example| -> Result<String, SheetError> {
            table.need(key, example)?.name("a run's name")
        };
        Rates::Runs {
            alone: name("alone_run", "alone_run = \"all blanked\"")?,
            together: name("together_run", "together_run = \"with the known leak\"")?,
        }
    };
    let rate_correlation = match table.get("rate_correlation") {
        None => None,
        Some(item) => {
            let number = item.number()?;
            if !(-1.0..=1.0).contains(&number) {
                let (got, range) = (item.as_written().to_owned(), "-1 to 1");
                return Err(item.error(Problem::Range { got, range }));
            }
            Some(number)
        }
    };
    Ok(AddedLeakReadings {
        known_area: value!(table, "known_area", "0.02 mm2", last_digit)?,
        rates,
        rate_correlation,
    })
}

fn fill(table: &Table<'_>) -> Result<FillReadings, SheetError> {
    const LIQUID: &[&str] = &["liquid", "density"];
    const ADVICE: &str =
        "write `liquid = \"water\"`, whose density is known, or another liquid's density";
    let last_digit = &Unstated::LastDigit;
    let liquid = if table.one_of(LIQUID, ADVICE)? == "liquid" {
        let item = table.need("liquid", "liquid = \"water\"")?;
        if !item.text("the liquid")?.eq_ignore_ascii_case("water") {
            let got = item.as_written().to_owned();
            let range =
                "the liquids known by name, which is \"water\"; of another state its `density`";
            return Err(item.error(Problem::Range { got, range }));
        }
        let usual = Unstated::Usual(crate::sheet::TEMPERATURE_UNCERTAINTY);
        FillLiquid::Water {
            temperature: value_if_there!(table, "temperature", "20 C", &usual),
        }
    } else {
        table.needs_partner("temperature", "liquid", "liquid = \"water\"")?;
        FillLiquid::OfDensity(value!(table, "density", "0.85 g/cm3", last_digit)?)
    };
    Ok(FillReadings {
        empty: value!(table, "empty", "1850 g", last_digit)?,
        full: value!(table, "full", "2100 g", last_digit)?,
        liquid,
        trapped: value!(table, "trapped", "1 cm3", last_digit)?,
        balance_scale_uncertainty: relative(table, "balance_scale_uncertainty")?,
        air_density: value_if_there!(table, "air_density", "1.2 kg/m3", last_digit),
    })
}

fn parts(table: &Table<'_>) -> Result<PartsReadings, SheetError> {
    let list = table.need("piece", "[[volume.parts.piece]]")?;
    let pieces =
        list.list("a list of pieces, each under [[volume.parts.piece]] with two brackets,")?;
    Ok(PartsReadings {
        pieces: pieces.iter().map(piece).collect::<Result<_, _>>()?,
        caliper_scale_uncertainty: relative(table, "caliper_scale_uncertainty")?,
    })
}

fn piece(item: &Item<'_>) -> Result<Piece, SheetError> {
    let table = &item.table("a piece's table", PIECE)?;
    let name = table.need("name", "name = \"crank web\"")?;
    let shape = table.need("shape", "shape = \"cylinder\"")?;
    let called = shape.text("a shape's name")?;
    let Some((shape_name, own)) = SHAPES.iter().find(|(name, _)| *name == called) else {
        let got = shape.as_written().to_owned();
        let range = "the shapes \"cylinder\", \"annulus\", \"frustum\", \"block\" and \"known\"";
        return Err(shape.error(Problem::Range { got, range }));
    };
    // A dimension of another shape is a slip that would go unseen.
    let others = SHAPES.iter().flat_map(|(_, keys)| keys.iter());
    if let Some(key) = others
        .filter(|key| !own.contains(key))
        .find(|key| table.has(key))
    {
        return Err(table.error_at(
            key,
            Problem::UnknownKey {
                nearest: None,
                known: own,
            },
        ));
    }
    let last_digit = &Unstated::LastDigit;
    let shape = match *shape_name {
        "cylinder" => Shape::Cylinder {
            diameter: value!(table, "diameter", "70 mm", last_digit)?,
            length: value!(table, "length", "50 mm", last_digit)?,
        },
        "annulus" => Shape::Annulus {
            outer: value!(table, "outer", "70 mm", last_digit)?,
            inner: value!(table, "inner", "20 mm", last_digit)?,
            length: value!(table, "length", "50 mm", last_digit)?,
        },
        "frustum" => Shape::Frustum {
            first: value!(table, "first", "30 mm", last_digit)?,
            second: value!(table, "second", "20 mm", last_digit)?,
            length: value!(table, "length", "50 mm", last_digit)?,
        },
        "block" => Shape::Block {
            length: value!(table, "length", "50 mm", last_digit)?,
            width: value!(table, "width", "20 mm", last_digit)?,
            height: value!(table, "height", "10 mm", last_digit)?,
        },
        _ => Shape::Known {
            volume: value!(table, "volume", "12 cm3", last_digit)?,
        },
    };
    let sense = match table.get("solid") {
        Some(item) if item.truth()? => Sense::Solid,
        _ => Sense::Space,
    };
    let count = match table.get("count") {
        Some(item) => whole(&item, "the whole numbers from 1 on")?,
        None => 1,
    };
    Ok(Piece {
        name: name.name("a name for the piece")?.into(),
        shape,
        sense,
        count,
    })
}
