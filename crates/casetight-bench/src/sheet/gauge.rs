//! `[gauge]`: the gauge, its stopwatch, and the unit of the readings.

use std::marker::PhantomData;

use super::document::{Item, Table};
use super::error::SheetError;
use super::keys::declare::{table, together};
use super::keys::entry::{Entry, Value};
use super::keys::form::{Any, Form, Number, Positive, ReadForm, needed};
use super::keys::keyed::{Key, KeyRule, ReadKey, Together, TogetherFrom};
use super::keys::rule::{Optional, Unread};
use super::keys::stated::quoted;
use super::keys::writer::Writer;
use casetight::gauge::{AccuracyClass, Gauge};
use casetight::quantity::{GaugePressure, Pressure, Time, TradeUnits, Unit};

table! {
    /// The gauge and its stopwatch.
    pub(super) struct GaugeKeys, before a_dial_or_a_display {
        /// Unit of the readings in this sheet.
        unit: () = Unread(PressureUnit, PhantomData);
        /// Of a dial: from mark to mark; this or `resolution`.
        division: Option<Pressure> = Optional(Positive);
        /// Of a dial: the smallest step that is read between marks.
        readable: Option<Pressure> = Optional(Positive), else "`division`", beside division "0.5 psi";
        /// Of a digital gauge: the display's last step.
        resolution: Option<Pressure> = Optional(Positive);
        /// Standard deviation of a reading before rounding.
        noise: Option<Pressure> = Optional(Any), else "a tenth of `readable`, half of `resolution`";
        /// Accuracy class, percent of the span.
        accuracy_class: Option<f64> = Optional(Number), beside span "15 psi";
        /// The span that the class is of.
        span: Option<Pressure> = Optional(Positive), beside accuracy_class "1.6";
        /// Standard uncertainty of the moment of a reading.
        stopwatch: Option<Time> = Optional(Any), else "0.15 s on a dial, 0 on a digital gauge";
    }
}

/// A unit that gauges show.
pub(super) struct PressureUnit;

needed!(PressureUnit => &'static Unit);

impl Form<&'static Unit> for PressureUnit {
    fn value(&self) -> Value {
        Value::Text
    }

    fn write(&self, unit: &&'static Unit) -> String {
        quoted(unit.symbol())
    }
}

impl<C> ReadForm<&'static Unit, C> for PressureUnit {
    fn read(&self, item: &Item<'_>, _: &C) -> Result<&'static Unit, SheetError> {
        item.of(GaugePressure::unit(item.text("a unit of pressure")?))
    }
}

/// The unit, which stands among the gauge's keys.
pub(super) struct UnitOfGauge;

impl UnitOfGauge {
    const UNIT: Key = Key {
        example: "psi",
        ..Key::of("unit")
    };
}

impl KeyRule<&'static Unit> for UnitOfGauge {
    fn names(&self, _: &Key, _: &mut Vec<&'static str>) {}

    fn entries(&self, _: &Key) -> Vec<Entry> {
        Vec::new()
    }

    fn write(&self, _: &Key, unit: &&'static Unit, out: &mut Writer) {
        out.table("gauge", |out| {
            out.first_line(Self::UNIT.name, Form::write(&PressureUnit, unit));
        });
    }
}

impl<C> ReadKey<&'static Unit, C> for UnitOfGauge {
    fn read(&self, _: &Key, sheet: &Table<'_>, known: &C) -> Result<&'static Unit, SheetError> {
        let gauge = sheet.below("gauge")?;
        ReadKey::read(&PressureUnit, &Self::UNIT, &gauge, known)
    }
}

/// The unit of a sheet's readings.
pub(super) fn unit_of(sheet: &Table<'_>) -> Result<&'static Unit, SheetError> {
    UnitOfGauge.read(&UnitOfGauge::UNIT, sheet, &())
}

const STEPS: &[&str] = &["division", "resolution"];

fn a_dial_or_a_display(table: &Table<'_>) -> Result<(), SheetError> {
    let advice = "a dial has a division, the step from mark to mark, a digital gauge a resolution";
    table.one_of(STEPS, advice).map(drop)
}

impl Together for Gauge {
    type Keys = GaugeKeys;

    /// A dial is written as the digital gauge that it reads like.
    fn keys(&self, _: &'static Unit) -> Result<GaugeKeys, &'static str> {
        let accuracy = self.accuracy_class();
        Ok(GaugeKeys {
            unit: (),
            division: None,
            readable: None,
            resolution: Some(self.step()),
            noise: Some(self.noise()),
            accuracy_class: accuracy.map(|accuracy| accuracy.class),
            span: accuracy.map(|accuracy| accuracy.span),
            stopwatch: Some(self.stopwatch()),
        })
    }
}

impl<C> TogetherFrom<C> for Gauge {
    fn of(keys: GaugeKeys, table: &Table<'_>, _: &C) -> Result<Self, SheetError> {
        let mut gauge = match (keys.division, keys.readable, keys.resolution) {
            (Some(division), readable, _) => {
                let key = if readable.is_some() {
                    "readable"
                } else {
                    "division"
                };
                table.of(key, Gauge::dial(division, readable.unwrap_or(division)))?
            }
            (None, _, Some(resolution)) => table.of("resolution", Gauge::digital(resolution))?,
            (None, ..) => return Err(table.missing("resolution", "0.1 kPa")),
        };
        if let Some(noise) = keys.noise {
            gauge = table.of("noise", gauge.with_noise(noise))?;
        }
        if let (Some(class), Some(span)) = (keys.accuracy_class, keys.span) {
            let accuracy = AccuracyClass { class, span };
            gauge = table.of("accuracy_class", gauge.with_accuracy_class(accuracy))?;
        }
        if let Some(stopwatch) = keys.stopwatch {
            gauge = table.of("stopwatch", gauge.with_stopwatch(stopwatch))?;
        }
        Ok(gauge)
    }
}

together!(Gauge);
