//! A reading of the gauge with its uncertainty, as the ways to get the volume take it.

use crate::sheet::document::{Item, Table};
use crate::sheet::error::{Problem, SheetError};
use crate::sheet::keys::entry::{Absent, Entry, Value};
use crate::sheet::keys::keyed::Key;
use crate::sheet::keys::keyed::{KeyRule, ReadKey};
use crate::sheet::keys::stated::{in_trade_units, number, quoted, shown_in};
use crate::sheet::keys::valued::{Unstated, measured};
use crate::sheet::keys::writer::Writer;
use crate::sheet::usual::{STATED, USUAL};
use casetight::gauge::Gauge;
use casetight::measured::{Distribution, Evaluation, Measurable, Measured};
use casetight::quantity::{GaugePressure, Pressure, TradeUnits, Unit};
use casetight::volume::{StrokeReading, VolumeError};

/// What must be known of the sheet to read `[volume]`.
pub(in crate::sheet) struct Gauged {
    pub(in crate::sheet) gauge: Gauge,
    pub(in crate::sheet) unit: &'static Unit,
    /// Whether `[engine]` has bore, stroke and rod.
    pub(in crate::sheet) has_crank: bool,
}

/// A value that was read off the gauge; without a stated uncertainty it has this one.
pub(super) struct Reading(pub(super) fn(&Gauge, Pressure) -> Pressure);

/// That of one reading. The scale of the gauge drops out of a ratio of two.
pub(super) fn of_one(gauge: &Gauge, _: Pressure) -> Pressure {
    gauge.reading_uncertainty()
}

/// That of a difference of two readings.
pub(super) fn of_a_difference(gauge: &Gauge, _: Pressure) -> Pressure {
    gauge.reading_uncertainty() * std::f64::consts::SQRT_2
}

/// That of a reading whose size counts: noise, rounding, and the scale of a gauge of some class.
pub(super) fn of_size(gauge: &Gauge, size: Pressure) -> Pressure {
    let (noise, scale) = (
        gauge.reading_uncertainty(),
        size * gauge.scale_uncertainty(),
    );
    (noise * noise + scale * scale).sqrt()
}

/// A value with this usual uncertainty.
fn as_read<Q: Measurable>(value: Q, u: Q::Spread) -> Result<Measured<Q>, Problem> {
    let normal = Evaluation::TypeB(Distribution::Normal);
    Ok(Measured::new(value, u, normal)?.with_source(USUAL))
}

impl Reading {
    const UNSTATED: &'static str = "that of a reading";
}

/// A quantity that a gauge shows.
pub(super) trait Shown: TradeUnits + Measurable<Spread = Pressure> {
    fn size(self) -> Pressure;
}

impl Shown for GaugePressure {
    fn size(self) -> Pressure {
        GaugePressure::size(self)
    }
}

impl Shown for Pressure {
    fn size(self) -> Pressure {
        self.abs()
    }
}

impl<Q: Shown> KeyRule<Measured<Q>> for Reading {
    fn names(&self, key: &Key, names: &mut Vec<&'static str>) {
        names.extend([key.name, key.uncertainty]);
    }

    fn entries(&self, key: &Key) -> Vec<Entry> {
        key.pair::<Q>(Self::UNSTATED)
    }

    fn write(&self, key: &Key, value: &Measured<Q>, out: &mut Writer) {
        key.write_pair(value, out);
    }
}

impl<Q: Shown> ReadKey<Measured<Q>, Gauged> for Reading {
    fn read(
        &self,
        key: &Key,
        table: &Table<'_>,
        known: &Gauged,
    ) -> Result<Measured<Q>, SheetError> {
        if table.has(key.uncertainty) {
            return measured(table, key, &Unstated::LastDigit);
        }
        let item = table.need(key.name, key.example)?;
        let value: Q = item.quantity()?;
        item.of(as_read(value, (self.0)(&known.gauge, value.size())))
    }
}

/// Counted strokes with the reading after them, and the uncertainty that all these readings have.
pub(super) struct StrokeRows;

impl StrokeRows {
    const UNCERTAINTY: &'static str = "reading_uncertainty";
    const SHAPE: &'static str = "a list of readings `[[strokes, gauge], ...]`";
    const ROW: &'static str = "a reading `[strokes, gauge]`";

    fn row(
        row: &Item<'_>,
        stated: Option<Pressure>,
        known: &Gauged,
    ) -> Result<StrokeReading, SheetError> {
        let pair = row.list(Self::ROW)?;
        let [strokes, shown] = pair.as_slice() else {
            let (expected, found) = (Self::ROW.to_owned(), "a list that is not of two numbers");
            return Err(row.error(Problem::Type { expected, found }));
        };
        let value = shown.of(GaugePressure::from_si_value(
            known.unit.to_si(shown.number()?),
        ))?;
        let reading = match stated {
            Some(u) => {
                let normal = Evaluation::TypeB(Distribution::Normal);
                shown
                    .of(Measured::new(value, u, normal))?
                    .with_source(STATED)
            }
            None => shown.of(as_read(value, known.gauge.reading_uncertainty()))?,
        };
        Ok(StrokeReading {
            strokes: strokes.whole()?,
            reading,
        })
    }
}

impl KeyRule<Vec<StrokeReading>> for StrokeRows {
    fn names(&self, key: &Key, names: &mut Vec<&'static str>) {
        names.extend([key.name, Self::UNCERTAINTY]);
    }

    fn entries(&self, key: &Key) -> Vec<Entry> {
        let pair = Value::Row(Box::new(Value::Number), 2);
        let of = Key {
            what: "Standard uncertainty of each of them.",
            ..Key::of(Self::UNCERTAINTY)
        };
        let stands = Absent::Stands(Reading::UNSTATED.to_owned());
        vec![
            key.entry(Absent::Never, Value::List(Box::new(pair))),
            of.entry(stands, Value::quantity::<Pressure>()),
        ]
    }

    fn write(&self, key: &Key, readings: &Vec<StrokeReading>, out: &mut Writer) {
        let unit = out.unit();
        let row = |read: &StrokeReading| {
            let shown = shown_in(unit, read.reading.value().pascals());
            format!("[{}, {}]", read.strokes, number(shown))
        };
        let rows: Vec<String> = readings.iter().map(row).collect();
        out.line(key.name, format!("[{}]", rows.join(", ")));
        if let Some(first) = readings
            .first()
            .filter(|read| read.reading.source() != USUAL)
        {
            let u = in_trade_units(first.reading.standard_uncertainty());
            out.line(Self::UNCERTAINTY, quoted(&u));
        }
    }
}

impl ReadKey<Vec<StrokeReading>, Gauged> for StrokeRows {
    fn read(
        &self,
        key: &Key,
        table: &Table<'_>,
        known: &Gauged,
    ) -> Result<Vec<StrokeReading>, SheetError> {
        let list = table.need(key.name, "[[5, 48.1]]")?;
        let stated = match table.get(Self::UNCERTAINTY) {
            Some(item) => Some(item.not_negative()?),
            None => None,
        };
        let rows = list.list(Self::SHAPE)?;
        if rows.is_empty() {
            return Err(list.error(VolumeError::NoStrokes));
        }
        rows.iter()
            .map(|row| Self::row(row, stated, known))
            .collect()
    }
}
