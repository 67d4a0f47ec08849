//! From a sheet to text.

use std::fmt::Write as _;

use super::parse::LAST_DIGIT_MARK;
use super::{Ambient, Assumptions, FORMAT, LAST_DIGIT, Problem, Record, Run, Sheet, SheetError};
use super::{Space, StatedLimit, USUAL};
use crate::gauge::Gauge;
use crate::limit::Limit;
use crate::measured::{Distribution, Evaluation, Measurable, Measured};
use crate::quantity::{ReferenceConditions, TradeUnits, Unit};
use crate::record::{Readings, Site};

impl Sheet {
    /// The sheet as text that [`Sheet::parse`] reads as an equal sheet, if it was parsed in the first place.
    ///
    /// Quantities are written with every bit, in the unit that takes the fewest digits. In a sheet that was put
    /// together by hand, what a sheet has no words for changes: an uncertainty that is neither a standard uncertainty nor
    /// a tolerance is written as a standard uncertainty, and sources are those of this module. A dial is written as the
    /// digital gauge that it reads like. A trace stays in its file.
    ///
    /// # Errors
    /// [`Problem::NotWritable`] for limits that one `[limit]` table can't hold, such as two of one kind.
    pub fn to_toml(&self) -> Result<String, SheetError> {
        let mut out = Text(String::new());
        out.line("format", FORMAT);
        if !self.title.is_empty() {
            out.quoted("title", &self.title);
        }
        if let Some(machine) = &self.machine {
            out.quoted("machine", machine);
        }
        if let Some(date) = self.date {
            out.quoted("date", &date.to_string());
        }
        out.space(&self.space);
        out.ambient(&self.ambient);
        out.gauge(&self.gauge, self.gauge_unit);
        out.limits(&self.limits)?;
        out.assumptions(&self.assumptions);
        for run in &self.runs {
            out.run(run, self.gauge_unit);
        }
        Ok(out.0)
    }
}

struct Text(String);

impl Text {
    fn raw(&mut self, text: std::fmt::Arguments<'_>) {
        // Writing to a string does not fail.
        let _ = self.0.write_fmt(text);
    }

    fn table(&mut self, header: &str) {
        self.raw(format_args!("\n{header}\n"));
    }

    fn line(&mut self, key: &str, value: impl std::fmt::Display) {
        self.raw(format_args!("{key} = {value}\n"));
    }

    fn quoted(&mut self, key: &str, text: &str) {
        self.line(key, quoted(text));
    }

    fn quantity<Q: TradeUnits>(&mut self, key: &str, quantity: Q) {
        self.quoted(key, &in_trade_units(quantity));
    }

    fn measured<Q>(&mut self, key: &str, uncertainty_key: &str, measured: &Measured<Q>)
    where
        Q: TradeUnits + Measurable<Spread: TradeUnits>,
    {
        self.quantity(key, measured.value());
        if measured.source() != USUAL {
            self.quoted(uncertainty_key, &uncertainty(measured));
        }
    }

    fn space(&mut self, space: &Space) {
        match space {
            Space::Engine { dimensions, rig } => {
                self.table("[engine]");
                self.measured("bore", "bore_uncertainty", &dimensions.bore);
                self.measured("stroke", "stroke_uncertainty", &dimensions.stroke);
                self.measured("rod", "rod_uncertainty", &dimensions.rod);
                self.measured(
                    "primary_compression_ratio",
                    "primary_compression_ratio_uncertainty",
                    &dimensions.primary_compression_ratio,
                );
                if let Some(ratio) = &dimensions.compression_ratio {
                    self.measured("compression_ratio", "compression_ratio_uncertainty", ratio);
                }
                self.table("[rig]");
                self.measured("volume", "uncertainty", rig);
            }
            Space::Measured(volume) => {
                self.table("[volume]");
                self.measured("value", "uncertainty", volume);
            }
        }
    }

    fn ambient(&mut self, ambient: &Ambient) {
        self.table("[ambient]");
        self.measured("pressure", "pressure_uncertainty", &ambient.pressure);
        self.measured(
            "temperature",
            "temperature_uncertainty",
            &ambient.temperature,
        );
        self.quantity("drift_allowance", ambient.drift_allowance);
    }

    fn gauge(&mut self, gauge: &Gauge, unit: &Unit) {
        self.table("[gauge]");
        self.quoted("unit", unit.symbol());
        self.quantity("resolution", gauge.step());
        self.quantity("noise", gauge.noise());
        if let Some(accuracy) = gauge.accuracy_class() {
            self.line("accuracy_class", number(accuracy.class));
            self.quantity("span", accuracy.span);
        }
        self.quantity("stopwatch", gauge.stopwatch());
    }

    fn limits(&mut self, limits: &[StatedLimit]) -> Result<(), SheetError> {
        if limits.is_empty() {
            return Ok(());
        }
        let refuse = |what| SheetError::new("", "limit", None, Problem::NotWritable { what });
        let kind =
            |stated: &StatedLimit| (stated.rule.is_some(), std::mem::discriminant(&stated.limit));
        self.table("[limit]");
        let mut from = None;
        for (index, stated) in limits.iter().enumerate() {
            if limits
                .iter()
                .take(index)
                .any(|other| kind(other) == kind(stated))
            {
                return Err(refuse("two limits of one kind"));
            }
            if let Some(rule) = stated.rule {
                self.quoted("rule", rule.name());
                continue;
            }
            match stated.limit {
                Limit::Drop {
                    drop,
                    from: start,
                    over,
                    at_volume,
                } => {
                    self.quantity("max_drop", drop);
                    self.quantity("over", over);
                    if let Some(volume) = at_volume {
                        self.quantity("at_volume", volume);
                    }
                    if from
                        .replace(Some(start))
                        .is_some_and(|other| other != Some(start))
                    {
                        return Err(refuse("a drop and a hold from different pressures"));
                    }
                }
                Limit::Area(area) => self.quantity("max_area", area),
                Limit::Flow { flow, reference } => {
                    self.quantity("max_flow", flow);
                    self.quoted("reference", &conditions(reference));
                }
                Limit::Hold { time, from: start } => {
                    self.quantity("min_hold", time);
                    if from.replace(start).is_some_and(|other| other != start) {
                        return Err(refuse("a drop and a hold from different pressures"));
                    }
                }
            }
        }
        if let Some(Some(from)) = from {
            self.quantity("from", from);
        }
        Ok(())
    }

    fn assumptions(&mut self, assumptions: &Assumptions) {
        self.table("[assumptions]");
        let coefficient = number(assumptions.discharge_coefficient);
        self.line("discharge_coefficient", coefficient);
        self.line("level", number(assumptions.level));
        self.quoted("flow_reference", &conditions(assumptions.flow_reference));
    }

    fn run(&mut self, run: &Run, unit: &Unit) {
        self.table("[[run]]");
        self.quoted("name", &run.name);
        if let Some(piston) = run.piston {
            self.quoted("piston", &piston.to_string());
        }
        self.sites("blanked", &run.blanked);
        match &run.record {
            Record::Readings(readings) => self.readings(readings, unit),
            Record::Trace { file, .. } => self.quoted("file", file),
            Record::Stalled(stalled) => {
                let text = |quantity: String| quoted(&quantity);
                self.raw(format_args!(
                    "stalled = {{ strokes = {}, stroke_volume = {}, over = {}, reached = {} }}\n",
                    stalled.strokes,
                    text(in_trade_units(stalled.stroke_volume)),
                    text(in_trade_units(stalled.over)),
                    text(in_trade_units(stalled.reached)),
                ));
            }
        }
        self.sites("bubbles", &run.bubbles);
        self.sites("dry", &run.dry);
        if let Some(note) = &run.note {
            self.quoted("note", note);
        }
    }

    fn readings(&mut self, readings: &Readings, unit: &Unit) {
        self.raw(format_args!("readings = [\n"));
        for (time, gauge) in readings.times_s().iter().zip(readings.gauges_pa()) {
            let gauge = exact_in(unit, *gauge).map_or_else(|| unit.from_si(*gauge), |(_, v)| v);
            self.raw(format_args!("  [{}, {}],\n", number(*time), number(gauge)));
        }
        self.raw(format_args!("]\n"));
    }

    fn sites(&mut self, key: &str, sites: &[Site]) {
        if !sites.is_empty() {
            let names: Vec<String> = sites.iter().map(|site| quoted(&site.to_string())).collect();
            self.line(key, format_args!("[{}]", names.join(", ")));
        }
    }
}

fn quoted(text: &str) -> String {
    toml::Value::from(text).to_string()
}

/// A number as TOML has it, with the digits that hold every bit.
fn number(value: f64) -> String {
    if value == 0.0 || (1e-5..1e15).contains(&value.abs()) {
        value.to_string()
    } else {
        format!("{value:e}")
    }
}

/// The value of fewest digits in a unit that is, to the bit, this value in the SI unit; and how many digits these are.
fn exact_in(unit: &Unit, si: f64) -> Option<(usize, f64)> {
    let near = unit.from_si(si);
    let rounded = (0..17).filter_map(|decimals| format!("{near:.decimals$e}").parse().ok());
    rounded
        .chain([near.next_up(), near.next_down()])
        .enumerate()
        .find(|(_, value)| unit.to_si(*value).total_cmp(&si).is_eq())
}

/// From so many digits on no unit is told to be the one that a number was written in.
const ANY_UNIT: usize = 12;

/// A quantity with every bit, in the unit that takes the fewest digits for it: most likely the one that it was written in.
/// Of units that take as many, the one that reads best at this size.
fn in_trade_units<Q: TradeUnits>(quantity: Q) -> String {
    let readable = quantity.trade().symbol();
    let exact = Q::UNITS
        .iter()
        .filter_map(|unit| {
            let (digits, value) = exact_in(unit, quantity.si_value())?;
            Some((digits, unit.symbol() != readable, unit.symbol(), value))
        })
        .min_by_key(|(digits, less_readable, ..)| ((*digits).min(ANY_UNIT), *less_readable));
    match exact {
        Some((_, _, symbol, value)) => format!("{} {symbol}", number(value)).trim_end().to_owned(),
        None => quantity.written(),
    }
}

/// An uncertainty as text: a tolerance where it is rectangular.
fn uncertainty<Q>(measured: &Measured<Q>) -> String
where
    Q: Measurable<Spread: TradeUnits>,
{
    let spread = measured.standard_uncertainty();
    if measured.evaluation() != Evaluation::TypeB(Distribution::Rectangular) {
        return in_trade_units(spread);
    }
    // Of the half-widths that give this uncertainty to the bit, the one of fewest digits: the one that was written.
    let divisor = Distribution::Rectangular.half_width_divisor();
    let u = spread.si_value();
    let near = u * divisor;
    let half = [near, near.next_up(), near.next_down()]
        .into_iter()
        .filter(|half| (half / divisor).total_cmp(&u).is_eq())
        .filter_map(|half| Q::Spread::from_si_value(half).ok())
        .map(in_trade_units)
        .min_by_key(String::len)
        .unwrap_or_else(|| in_trade_units(Q::spread_from_si(near)));
    let mark = if measured.source() == LAST_DIGIT {
        format!(" {LAST_DIGIT_MARK}")
    } else {
        String::new()
    };
    format!("+- {half}{mark}")
}

/// Reference conditions by their name where they have one.
fn conditions(conditions: ReferenceConditions) -> String {
    let named = ["normal", "ANR", "ISA"]
        .into_iter()
        .find(|name| name.parse() == Ok(conditions));
    named.map_or_else(|| conditions.written(), str::to_owned)
}
