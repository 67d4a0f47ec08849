//! `[limit]`: what a run is judged by.

use super::document::{Item, Table};
use super::error::{Problem, SheetError};
use super::keys::declare::{table, together};
use super::keys::entry::Value;
use super::keys::form::{Form, Parsed, Positive, ReadForm, needed};
use super::keys::keyed::{Together, TogetherFrom};
use super::keys::rule::Optional;
use super::keys::stated::quoted;
use casetight::limit::{Limit, LimitError, Rule};
use casetight::quantity::{
    Area, Pressure, ReferenceConditions, Time, TradeUnits, Unit, Volume, VolumeRate,
};

/// A limit of the sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StatedLimit {
    /// The limit.
    pub limit: Limit,
    /// The rule that it was asked for by, if the sheet names one instead of numbers.
    pub rule: Option<Rule>,
}

table! {
    /// At least one of the five limits; without the table no run is judged.
    #[derive(Default)]
    pub(super) struct LimitKeys, before one_at_least {
        /// Largest fall.
        max_drop: Option<Pressure> = Optional(Positive), beside from "7 psi", beside over "1 min";
        /// Pressure that the fall, or the hold, starts from.
        from: Option<Pressure> = Optional(Positive), else "of a hold: the run's start";
        /// Time that the fall is looked at for.
        over: Option<Time> = Optional(Positive), beside max_drop "1 psi";
        /// The volume that `max_drop` was set for.
        at_volume: Option<Volume> = Optional(Positive), else "the volume under test", beside max_drop "1 psi";
        /// Largest effective area.
        max_area: Option<Area> = Optional(Positive);
        /// Largest flow.
        max_flow: Option<VolumeRate> = Optional(Positive);
        /// Reference conditions of `max_flow`.
        reference: Option<ReferenceConditions> = Optional(REFERENCE), else "`flow_reference` of `[assumptions]`", beside max_flow "5 cm3/min";
        /// Shortest time without a readable fall.
        min_hold: Option<Time> = Optional(Positive);
        /// A limit by its name, such as `"common practice: one psi a minute"`.
        rule: Option<Rule> = Optional(ARule);
    }
}

/// Reference conditions, by their name where they have one.
pub(super) const REFERENCE: Parsed<ReferenceConditions> =
    Parsed("reference conditions as text", written);

fn written(conditions: &ReferenceConditions) -> String {
    let named = ["normal", "ANR", "ISA"]
        .into_iter()
        .find(|name| name.parse() == Ok(*conditions));
    named.map_or_else(|| conditions.written(), str::to_owned)
}

/// A rule by its name.
struct ARule;

needed!(ARule => Rule);

impl Form<Rule> for ARule {
    fn value(&self) -> Value {
        Value::Text
    }

    fn write(&self, rule: &Rule) -> String {
        quoted(rule.name())
    }
}

impl<C> ReadForm<Rule, C> for ARule {
    fn read(&self, item: &Item<'_>, _: &C) -> Result<Rule, SheetError> {
        let name = item.text("a rule's name")?;
        let known = |rule: &&Rule| rule.name().eq_ignore_ascii_case(name);
        let unknown = || {
            let known = Rule::OnePsiAMinute.name();
            item.error(Problem::UnknownRule { known })
        };
        Rule::ALL.iter().find(known).copied().ok_or_else(unknown)
    }
}

const LIMITS: &[&str] = &["max_drop", "max_area", "max_flow", "min_hold", "rule"];

fn one_at_least(table: &Table<'_>) -> Result<(), SheetError> {
    if !LIMITS.iter().any(|key| table.has(key)) {
        return Err(table.error(Problem::NeedsOneOf {
            keys: LIMITS,
            advice: "state a limit, or leave [limit] out and no run is judged",
        }));
    }
    if table.has("min_hold") {
        return Ok(());
    }
    table.needs_partner("from", "max_drop", "1 psi")
}

impl Together for Vec<StatedLimit> {
    type Keys = LimitKeys;

    fn keys(&self, _: &'static Unit) -> Result<LimitKeys, &'static str> {
        let mut keys = LimitKeys::default();
        let mut starts = Vec::new();
        for stated in self {
            match (stated.rule, stated.limit) {
                (Some(rule), _) => state(&mut keys.rule, rule)?,
                (
                    None,
                    Limit::Drop {
                        drop,
                        from: start,
                        over,
                        at_volume,
                    },
                ) => {
                    state(&mut keys.max_drop, drop)?;
                    keys.over = Some(over);
                    keys.at_volume = at_volume;
                    starts.push(Some(start));
                }
                (None, Limit::Area(area)) => state(&mut keys.max_area, area)?,
                (None, Limit::Flow { flow, reference }) => {
                    state(&mut keys.max_flow, flow)?;
                    keys.reference = Some(reference);
                }
                (None, Limit::Hold { time, from: start }) => {
                    state(&mut keys.min_hold, time)?;
                    starts.push(start);
                }
                (None, _) => return Err("a limit of a kind that has no key"),
            }
        }
        if starts.iter().any(|start| starts.first() != Some(start)) {
            return Err("a drop and a hold from different pressures");
        }
        keys.from = starts.first().copied().flatten();
        Ok(keys)
    }
}

fn state<T>(key: &mut Option<T>, value: T) -> Result<(), &'static str> {
    match key.replace(value) {
        Some(_) => Err("two limits of one kind"),
        None => Ok(()),
    }
}

impl TogetherFrom<ReferenceConditions> for Vec<StatedLimit> {
    /// The limits in the order of their keys; flows without reference conditions count at those that are usual on the sheet.
    fn of(
        keys: LimitKeys,
        table: &Table<'_>,
        usual: &ReferenceConditions,
    ) -> Result<Self, SheetError> {
        let mut limits = Vec::new();
        let mut state = |limit, rule| limits.push(StatedLimit { limit, rule });
        if let (Some(drop), Some(from), Some(over)) = (keys.max_drop, keys.from, keys.over) {
            if drop >= from {
                let (drop, from) = (drop.si_value(), from.si_value());
                return Err(table.error_at("max_drop", LimitError::DropBeyondStart { drop, from }));
            }
            let at_volume = keys.at_volume;
            state(
                Limit::Drop {
                    drop,
                    from,
                    over,
                    at_volume,
                },
                None,
            );
        }
        if let Some(area) = keys.max_area {
            state(Limit::Area(area), None);
        }
        if let Some(flow) = keys.max_flow {
            let reference = keys.reference.unwrap_or(*usual);
            state(Limit::Flow { flow, reference }, None);
        }
        if let Some(time) = keys.min_hold {
            state(
                Limit::Hold {
                    time,
                    from: keys.from,
                },
                None,
            );
        }
        if let Some(rule) = keys.rule {
            state(rule.limit(), Some(rule));
        }
        Ok(limits)
    }
}

together!(Vec<StatedLimit>);
