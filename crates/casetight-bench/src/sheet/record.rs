//! What was read in a run: readings, a trace, or a stalled pump.

use super::document::Table;
use super::error::{Problem, SheetError};
use super::keys::declare::{table, together};
use super::keys::form::{Any, Inline, Line, Pair, Positive, Rows, Text, Whole};
use super::keys::keyed::{Together, TogetherFrom};
use super::keys::rule::Optional;
use super::keys::stated::shown_in;
use super::known::{DIRECTIONS, Known};
use super::side::{Side, farthest, turn};
use super::trace::{self, row_of};
use crate::record::{Chosen, Segments, Window};
use casetight::below::unit_of;
use casetight::quantity::{GaugePressure, Time, Unit, Volume};
use casetight::readings::Readings;

/// What was read in a run.
#[derive(Debug, Clone, PartialEq)]
pub enum Record {
    /// Readings on the sheet.
    Readings(Readings),
    /// Readings in a logger's file.
    Trace {
        /// The file's name on the sheet.
        file: String,
        /// The name of the profile that it was read by, if not by the default.
        profile: Option<String>,
        /// Its readings, those of the window.
        readings: Readings,
        /// Its temperatures \[K\], one for each of the readings, where it has a column of them.
        temperature_k: Option<Vec<f64>>,
        /// Which readings of the file these are, and why.
        window: Window,
        /// What the whole file holds.
        segments: Box<Segments>,
    },
    /// A needle that the pump did not raise further.
    Stalled(Stalled),
}

impl Record {
    /// The readings, on the sheet or in a file; none of a stalled run.
    #[must_use]
    pub fn readings(&self) -> Option<&Readings> {
        match self {
            Self::Readings(readings) | Self::Trace { readings, .. } => Some(readings),
            Self::Stalled(_) => None,
        }
    }

    /// Which readings of a trace are used, and why; none of a run without a trace.
    #[must_use]
    pub fn window(&self) -> Option<&Window> {
        match self {
            Self::Trace { window, .. } => Some(window),
            Self::Readings(_) | Self::Stalled(_) => None,
        }
    }
}

table! {
    /// What was read: on the sheet, in a file, or that the pump stalled.
    #[derive(Default)]
    pub(super) struct RecordKeys, given Known<'k>, for 'k, before one {
        /// `[[seconds, gauge], ...]`, the time also as `"0:30"`, the gauge in the run's unit, below zero for vacuum or with `direction`; this, `file` or `stalled`.
        readings: Option<Vec<[f64; 2]>> =
            Optional(Rows("a list of readings `[[seconds, gauge], ...]`", "a reading `[seconds, gauge]`, such as `[30, 6.5]`,"));
        /// A trace in a file.
        file: Option<String> = Optional(Line("the name of a trace's file"));
        /// Of a `file`: the name of the profile that it is read by.
        profile: Option<String> = Optional(Text("a profile's name")), else "the format of traces", beside file "trace.csv";
        /// Of a `file`: `[from_s, to_s]`, the times \[s\] between which readings are used.
        window: Option<[f64; 2]> = Optional(Pair("a window `[from_s, to_s]`")), else "the hold that is found", beside file "trace.csv";
        /// The pump did not raise the needle further.
        stalled: Option<Stalled> = Optional(Inline);
    }
}

table! {
    /// A pump that stalled: so many strokes, and the needle stood still.
    #[derive(Copy)]
    pub struct Stalled {
        /// How many strokes.
        pub strokes: u32 = Whole, like "30";
        /// Volume that one stroke displaces.
        pub stroke_volume: Volume = Positive, like "25 cm3";
        /// Time that the strokes took.
        pub over: Time = Positive, like "30 s";
        /// Gauge pressure that was reached: zero, or as far as the needle went.
        pub reached: GaugePressure = Any, like "0.5 psi";
    }
}

fn one(table: &Table<'_>) -> Result<(), SheetError> {
    const KEYS: &[&str] = &["readings", "file", "stalled"];
    let advice = "a run has readings on the sheet, or a trace's file, or a stalled pump";
    table.one_of(KEYS, advice).map(drop)
}

impl Together for Record {
    type Keys = RecordKeys;

    fn keys(&self, unit: &'static Unit) -> Result<RecordKeys, &'static str> {
        let mut keys = RecordKeys::default();
        match self {
            Self::Readings(readings) => {
                let rows = readings.times_s().iter().zip(readings.gauges_pa());
                keys.readings = Some(
                    rows.map(|(time, gauge)| [*time, shown_in(unit, *gauge)])
                        .collect(),
                );
            }
            Self::Trace {
                file,
                profile,
                window,
                ..
            } => {
                keys.file = Some(file.clone());
                keys.profile.clone_from(profile);
                keys.window =
                    (window.chosen == Chosen::Stated).then_some([window.from_s, window.to_s]);
            }
            Self::Stalled(stalled) => keys.stalled = Some(*stalled),
        }
        Ok(keys)
    }
}

impl<'k> TogetherFrom<Known<'k>> for Record {
    fn of(keys: RecordKeys, run: &Table<'_>, known: &Known<'k>) -> Result<Self, SheetError> {
        let name = run
            .get("name")
            .map(|name| name.name("a name for the run"))
            .transpose()?;
        let direction = run
            .get("direction")
            .map(|item| item.word(DIRECTIONS))
            .transpose()?;
        let side = |unit: &str| Side::of(direction, name.as_deref().unwrap_or_default(), unit);
        match (keys.readings, keys.file, keys.stalled) {
            (Some(rows), ..) => Ok(Self::Readings(readings(
                &rows,
                run,
                known,
                side(known.unit.symbol()),
            )?)),
            (None, Some(file), _) => {
                let found = trace::read(
                    run,
                    &file,
                    keys.profile.as_deref(),
                    keys.window,
                    known,
                    &side,
                )?;
                Ok(Self::Trace {
                    file,
                    profile: keys.profile,
                    readings: found.readings,
                    temperature_k: found.temperature_k,
                    window: found.window,
                    segments: Box::new(found.segments),
                })
            }
            (None, None, Some(stalled)) => {
                Ok(Self::Stalled(on_its_side(stalled, run, known, &side)?))
            }
            (None, None, None) => Err(run.missing("readings", "[[0, 7.0], [60, 6.5]]")),
        }
    }
}

together!(Record);

fn readings(
    rows: &[[f64; 2]],
    run: &Table<'_>,
    known: &Known<'_>,
    side: Side,
) -> Result<Readings, SheetError> {
    let times: Vec<f64> = rows.iter().map(|[time, _]| *time).collect();
    let mut gauges: Vec<f64> = rows
        .iter()
        .map(|[_, gauge]| known.unit.to_si(*gauge))
        .collect();
    if run.of("readings", side.turns(farthest(&gauges)))? {
        turn(&mut gauges);
    }
    Readings::from_si(&times, &gauges, known.ambient).map_err(|error| {
        if let Some(problem) = swapped(rows) {
            return run.error_at("readings", problem);
        }
        let row = || {
            let rows = run.get("readings")?.list("a list of readings").ok()?;
            rows.into_iter().nth(row_of(&error)?.checked_sub(1)?)
        };
        match row() {
            Some(row) => row.error(error),
            None => run.error_at("readings", error),
        }
    })
}

/// Rows whose second number is the time, by what is read of them: it rises from row to row, and the first comes nearer to zero.
fn swapped(rows: &[[f64; 2]]) -> Option<Problem> {
    let rises = |pair: &[[f64; 2]]| matches!(pair, [[a, s], [b, t]] if t > s && b.abs() <= a.abs());
    let [gauge, time] = *rows.last()?;
    (rows.len() > 1 && rows.windows(2).all(rises)).then_some(Problem::Swapped { time, gauge })
}

/// What was reached, with the sign of the run's side of ambient.
fn on_its_side(
    mut stalled: Stalled,
    run: &Table<'_>,
    known: &Known<'_>,
    side: &dyn Fn(&str) -> Side,
) -> Result<Stalled, SheetError> {
    let table = run.below("stalled")?;
    let item = table.need("reached", "0.5 psi")?;
    let text = item.characters("text with a number and a unit")?;
    let unit = unit_of::<GaugePressure>(text).map_or("", Unit::symbol);
    if item.of(side(unit).turns(stalled.reached.pascals()))? {
        stalled.reached = item.of(GaugePressure::new(-stalled.reached.size()))?;
    }
    item.of(stalled.reached.absolute(known.ambient))?;
    Ok(stalled)
}
