//! From a sheet to text.

use std::fmt::Write as _;

use super::running::is_typical;
use super::stated::LAST_DIGIT_MARK;
use super::{
    Ambient, Dimensions, FORMAT, LAST_DIGIT, Planned, Problem, Record, RigAlone, Run, Search,
    Sheet, SheetError, Space, StatedLimit, USUAL,
};
use crate::assess::Assumptions;
use crate::gauge::Gauge;
use crate::limit::Limit;
use crate::measured::{Distribution, Evaluation, Measurable, Measured};
use crate::quantity::{ReferenceConditions, TradeUnits, Unit, Volume};
use crate::record::{Chosen, ReadingProfile, Readings, Site};
use crate::running::Conditions;
use crate::vessel::{Conductance, Heat};

impl Sheet {
    /// The sheet as text that [`Sheet::parse`] reads as an equal sheet, if it was parsed in the first place.
    ///
    /// Quantities are written with every bit, in the unit that takes the fewest digits. In a sheet that was put
    /// together by hand, what a sheet has no words for changes: an uncertainty that is neither a standard uncertainty nor
    /// a tolerance is written as a standard uncertainty, and sources are those of this module. A dial is written as the
    /// digital gauge that it reads like. A trace stays in its file.
    ///
    /// # Errors
    /// [`Problem::NotWritable`] for limits that one `[limit]` table can't hold, such as two of one kind, and for a profile
    /// that TOML can't.
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
        out.space(&self.space, self.gauge_unit);
        out.ambient(&self.ambient);
        out.heat(&self.heat);
        out.gauge(&self.gauge, self.gauge_unit);
        out.limits(&self.limits)?;
        out.assumptions(&self.assumptions);
        out.search(&self.search);
        for (name, profile) in &self.profiles {
            out.profile(name, profile)?;
        }
        for run in &self.runs {
            out.run(run, self.gauge_unit);
        }
        out.plan(&self.plan);
        out.running(&self.running);
        Ok(out.0)
    }
}

pub(super) struct Text(String);

impl Text {
    fn raw(&mut self, text: std::fmt::Arguments<'_>) {
        // Writing to a string does not fail.
        let _ = self.0.write_fmt(text);
    }

    pub(super) fn table(&mut self, header: &str) {
        self.raw(format_args!("\n{header}\n"));
    }

    pub(super) fn line(&mut self, key: &str, value: impl std::fmt::Display) {
        self.raw(format_args!("{key} = {value}\n"));
    }

    pub(super) fn quoted(&mut self, key: &str, text: &str) {
        self.line(key, quoted(text));
    }

    pub(super) fn quantity<Q: TradeUnits>(&mut self, key: &str, quantity: Q) {
        self.quoted(key, &in_trade_units(quantity));
    }

    pub(super) fn measured<Q>(&mut self, key: &str, uncertainty_key: &str, measured: &Measured<Q>)
    where
        Q: TradeUnits + Measurable<Spread: TradeUnits>,
    {
        self.quantity(key, measured.value());
        if measured.source() != USUAL {
            self.quoted(uncertainty_key, &uncertainty(measured));
        }
    }

    fn space(&mut self, space: &Space, unit: &Unit) {
        match space {
            Space::Engine { dimensions, rig } => self.engine(dimensions, rig),
            Space::Measured(volume) => {
                self.table("[volume]");
                self.measured("value", "uncertainty", volume);
            }
            Space::Methods(methods) => self.methods(methods, unit),
        }
    }

    pub(super) fn engine(&mut self, dimensions: &Dimensions, rig: &Measured<Volume>) {
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

    fn heat(&mut self, heat: &Heat) {
        if *heat == Heat::default() {
            return;
        }
        self.table("[heat]");
        if let Conductance::Known {
            value,
            ln_uncertainty,
        } = heat.conductance
        {
            self.quantity("conductance", value);
            self.line("conductance_factor", number(ln_uncertainty.exp()));
        }
        self.quantity("settled_for", heat.settled_for);
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
        if let Some(law) = assumptions.law {
            self.quoted("law", law.name());
        }
    }

    fn search(&mut self, search: &Search) {
        if *search == Search::default() {
            return;
        }
        self.table("[isolate]");
        self.sites("sites", &search.sites);
        for (key, sites) in [
            ("can_blank", &search.can_blank),
            ("can_spray", &search.can_spray),
        ] {
            if let Some(sites) = sites {
                self.line(key, format_args!("[{}]", listed(sites)));
            }
        }
    }

    fn profile(&mut self, name: &str, profile: &ReadingProfile) -> Result<(), SheetError> {
        self.table(&format!("[profiles.{}]", quoted(name)));
        let keys = toml::to_string(profile).map_err(|_| {
            let what = "a profile with a count beyond what TOML can hold";
            SheetError::new(
                "",
                format!("profiles.{name}"),
                None,
                Problem::NotWritable { what },
            )
        })?;
        self.raw(format_args!("{keys}"));
        Ok(())
    }

    fn run(&mut self, run: &Run, unit: &Unit) {
        self.table("[[run]]");
        self.quoted("name", &run.name);
        if let Some(piston) = run.piston {
            self.quoted("piston", &piston.written());
        }
        if let Some(direction) = run.direction {
            self.quoted("direction", &direction.to_string());
        }
        self.sites("blanked", &run.blanked);
        self.sites("repaired", &run.repaired);
        match &run.record {
            Record::Readings(readings) => self.readings(readings, unit),
            Record::Trace {
                file,
                profile,
                window,
                ..
            } => {
                self.quoted("file", file);
                if let Some(profile) = profile {
                    self.quoted("profile", profile);
                }
                if window.chosen == Chosen::Stated {
                    let (from, to) = (number(window.from_s), number(window.to_s));
                    self.line("window", format_args!("[{from}, {to}]"));
                }
            }
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
        if let Some(pressure) = run.soaped_at {
            self.quantity("soaped_at", pressure);
        }
        if let Some(time) = run.settled_for {
            self.quantity("settled_for", time);
        }
        match &run.rig_alone {
            Some(RigAlone::AsStated) => self.line("rig_alone", true),
            Some(RigAlone::Of(volume)) => {
                self.measured("rig_alone", "rig_alone_uncertainty", volume);
            }
            None => {}
        }
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

    fn plan(&mut self, plan: &Planned) {
        if *plan == Planned::default() {
            return;
        }
        self.table("[plan]");
        if let Some(direction) = plan.direction {
            self.quoted("direction", &direction.to_string());
        }
        self.some("target", plan.target);
        self.some("hold", plan.hold);
        self.some("readings_every", plan.readings_every);
        if let Some(piston) = plan.piston {
            self.quoted("piston", &piston.written());
        }
        self.some("stroke_volume", plan.stroke_volume);
        self.some("dead_space", plan.dead_space);
        self.some("stroke_every", plan.stroke_every);
    }

    fn some<Q: TradeUnits>(&mut self, key: &str, quantity: Option<Q>) {
        if let Some(quantity) = quantity {
            self.quantity(key, quantity);
        }
    }

    fn running(&mut self, running: &Conditions) {
        if Conditions::typical().is_ok_and(|typical| typical == *running) {
            return;
        }
        self.table("[running]");
        let ports = &running.ports;
        self.unless_typical("exhaust_opens", &ports.exhaust_opens);
        self.unless_typical("transfer_opens", &ports.transfer_opens);
        self.unless_typical("intake_opens", &ports.intake_opens);
        self.unless_typical("intake_closes", &ports.intake_closes);
        self.unless_typical("polytropic_exponent", &running.polytropic_exponent);
        self.quantity("idle_speed", running.idle.speed);
        self.unless_typical("idle_delivery_ratio", &running.idle.delivery_ratio);
        self.quantity("full_speed", running.full.speed);
        self.unless_typical("full_delivery_ratio", &running.full.delivery_ratio);
    }

    fn unless_typical<Q>(&mut self, key: &str, measured: &Measured<Q>)
    where
        Q: TradeUnits + Measurable<Spread: TradeUnits>,
    {
        if !is_typical(measured) {
            self.measured(key, &format!("{key}_uncertainty"), measured);
        }
    }

    fn sites(&mut self, key: &str, sites: &[Site]) {
        if !sites.is_empty() {
            self.line(key, format_args!("[{}]", listed(sites)));
        }
    }
}

fn listed(sites: &[Site]) -> String {
    let names: Vec<String> = sites.iter().map(|site| quoted(&site.to_string())).collect();
    names.join(", ")
}

pub(super) fn quoted(text: &str) -> String {
    toml::Value::from(text).to_string()
}

/// A number as TOML has it, with the digits that hold every bit.
pub(super) fn number(value: f64) -> String {
    if value == 0.0 || (1e-5..1e15).contains(&value.abs()) {
        value.to_string()
    } else {
        format!("{value:e}")
    }
}

/// The value of fewest digits in a unit that is, to the bit, this value in the SI unit; and how many digits these are.
pub(super) fn exact_in(unit: &Unit, si: f64) -> Option<(usize, f64)> {
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
pub(super) fn in_trade_units<Q: TradeUnits>(quantity: Q) -> String {
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
pub(super) fn uncertainty<Q>(measured: &Measured<Q>) -> String
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
