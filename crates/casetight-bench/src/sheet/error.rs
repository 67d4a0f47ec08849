//! What can be wrong with a bench sheet, and where.

use std::borrow::Cow;
use std::fmt::{self, Write};
use std::io;

use super::usual::{LONGEST_NAME, MOST_RUNS};
use crate::plan::PlanError;
use crate::printable;
use crate::record::{
    DateError, EncodingError, ProfileError, SegmentsError, SiteError, TraceError, WindowError,
};
use crate::running::RunningError;
use casetight::below::KILOPASCAL;
use casetight::fit::FitError;
use casetight::gas::GasError;
use casetight::gauge::GaugeError;
use casetight::limit::LimitError;
use casetight::measured::{MeasuredError, ParseMeasuredError};
use casetight::quantity::{ParseQuantityError, QuantityError, Unit};
use casetight::readings::{CourseError, EffectsError, ReadingsError};
use casetight::vessel::VesselError;
use casetight::volume::{PistonError, VolumeError};

/// A place in a text: line and column, both counted from 1, columns in characters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Position {
    /// Line.
    pub line: usize,
    /// Column.
    pub column: usize,
}

/// Something wrong with a bench sheet: file, key, place, and what would be right.
///
/// Shown as `sheet.toml:7:8: engine.stroke: ...`. Runs, readings and sites in a key's path are counted from 1.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetError(Box<Parts>);

#[derive(Debug, Clone, PartialEq)]
struct Parts {
    file: String,
    key: String,
    position: Option<Position>,
    problem: Problem,
    /// What its pressures are told in, where that is known.
    unit: Option<&'static Unit>,
}

impl SheetError {
    pub(super) fn new(
        file: &str,
        key: impl Into<String>,
        position: Option<Position>,
        problem: impl Into<Problem>,
    ) -> Self {
        Self(Box::new(Parts {
            file: file.to_owned(),
            key: key.into(),
            position,
            problem: problem.into(),
            unit: None,
        }))
    }

    /// The same told in a unit of pressure, unless one is known already.
    pub(super) fn told_in(mut self, unit: &'static Unit) -> Self {
        self.0.unit.get_or_insert(unit);
        self
    }

    /// The same where it is known which tables know a key that this one does not.
    pub(super) fn told_where(mut self, tables: impl FnOnce(&str) -> Vec<String>) -> Self {
        let (own, key) = self.0.key.rsplit_once('.').unwrap_or(("", &self.0.key));
        let (own, key) = (unnumbered(own), key.to_owned());
        if let Problem::UnknownKey { elsewhere, .. } = &mut self.0.problem {
            *elsewhere = tables(&key);
            // A key that is known here, but not beside another one.
            elsewhere.retain(|heading| heading.trim_matches(['[', ']']) != own);
        }
        self
    }

    /// The sheet's name, as it was given with its text; empty for a sheet that was not read from text.
    #[must_use]
    pub fn file(&self) -> &str {
        &self.0.file
    }

    /// The path of the key: `engine.stroke`, `run[2].readings[5]`; empty where the text as a whole is at fault.
    #[must_use]
    pub fn key(&self) -> &str {
        &self.0.key
    }

    /// Where in the text; the table's place for a key that is missing, none for a sheet that was not read from text.
    #[must_use]
    pub fn position(&self) -> Option<Position> {
        self.0.position
    }

    /// What is wrong.
    #[must_use]
    pub fn problem(&self) -> &Problem {
        &self.0.problem
    }
}

impl fmt::Display for SheetError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Parts {
            file,
            key,
            position,
            problem,
            unit,
        } = &*self.0;
        // What is wrong is quoted, whatever it holds.
        let mut f = printable::Line(f);
        f.write_str(file)?;
        if let Some(Position { line, column }) = position {
            write!(f, ":{line}:{column}")?;
        }
        if !file.is_empty() || position.is_some() {
            f.write_str(": ")?;
        }
        if !key.is_empty() {
            write!(f, "{key}: ")?;
        }
        f.write_str(&problem.words(unit.unwrap_or(&KILOPASCAL)))
    }
}

impl std::error::Error for SheetError {}

/// What is wrong, apart from where.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Problem {
    /// Not UTF-8.
    #[error(transparent)]
    Encoding(#[from] EncodingError),
    /// Not TOML.
    #[error("not TOML: {message}")]
    Syntax {
        /// What was likely meant, or else the TOML reader's words.
        message: String,
    },
    /// A file with nothing in it.
    #[error("the file is empty; a sheet starts with `format = 1`")]
    Blank,
    /// A format that is not known.
    #[error("format {found} is not known; this version reads sheets with `format = 1`")]
    Format {
        /// What is written.
        found: String,
    },
    /// A key that is not known in its table.
    #[error("no such key{}", known_keys((*meant, *nearest), elsewhere, known))]
    UnknownKey {
        /// The known key that the word stands for.
        meant: Option<&'static str>,
        /// The known key that comes nearest, if any comes near.
        nearest: Option<&'static str>,
        /// The tables that know this key.
        elsewhere: Vec<String>,
        /// Every key that is known there.
        known: Vec<&'static str>,
    },
    /// Readings that may be a pressure as well as a vacuum.
    #[error(
        "these readings carry no sign and {doubt}, so they may be a vacuum or a pressure; add `direction = \"vacuum\"` to the run, or `direction = \"pressure\"`"
    )]
    NoSide {
        /// Why they may be a vacuum.
        doubt: super::Doubt,
    },
    /// Readings on the other side of ambient than the run states.
    #[error(
        "the run states `direction = \"{stated}\"`, and its readings lie on the other side of ambient; correct the direction or the readings' sign"
    )]
    OtherSide {
        /// What the run states.
        stated: casetight::vessel::Direction,
    },
    /// A key that must be there is not.
    #[error("missing; write `{example}`")]
    Missing {
        /// A line that would be right.
        example: String,
    },
    /// A table that must be there is not.
    #[error("missing; write `[{name}]` on a line of its own, and its keys on lines below")]
    MissingTable {
        /// Its name.
        name: &'static str,
    },
    /// A value of another type.
    #[error("{found} where {expected} belongs")]
    Type {
        /// What belongs there.
        expected: String,
        /// The type that is there.
        found: &'static str,
    },
    /// A list that is not of two values.
    #[error("{} where {expected} belongs{}", values(*got), decimal_commas(*got))]
    NotTwo {
        /// What belongs there.
        expected: &'static str,
        /// How many values there are.
        got: usize,
    },
    /// A reading's pressure with a unit of its own.
    #[error(
        "a reading's pressure is a number in the run's unit, `unit` of the run or of [gauge]; write {number}"
    )]
    UnitInReading {
        /// The number alone.
        number: String,
    },
    /// Readings whose pressure stands first.
    #[error("the pressure stands before the time; write the time first, as in `[{time}, {gauge}]`")]
    Swapped {
        /// The time of the last reading.
        time: f64,
        /// Its pressure in the run's unit.
        gauge: f64,
    },
    /// An uncertainty in percent of its value.
    #[error("an uncertainty has the unit of its value; write `{write}`")]
    Percent {
        /// The same as a quantity.
        write: String,
    },
    /// Text without a letter.
    #[error("empty; write {what}")]
    Empty {
        /// What should be there.
        what: &'static str,
    },
    /// A name longer than any place has room for.
    #[error("a name of {letters} letters; write one of up to {LONGEST_NAME}")]
    LongName {
        /// How long it is.
        letters: usize,
    },
    /// More runs than one session of one engine has.
    #[error(
        "{runs} runs; a sheet is the session of one engine, of up to {MOST_RUNS}: put the readings of many runs into one CSV file, as a batch"
    )]
    ManyRuns {
        /// How many there are.
        runs: usize,
    },
    /// A value that must be above zero.
    #[error("{got} must be above zero")]
    NotPositive {
        /// What is written.
        got: String,
    },
    /// A value that can't be below zero.
    #[error("{got} must not be below zero")]
    BelowZero {
        /// What is written.
        got: String,
    },
    /// A value outside its range.
    #[error("{got} is outside {range}")]
    Range {
        /// What is written.
        got: String,
        /// What is allowed, in words.
        range: Cow<'static, str>,
    },
    /// Keys that say the same thing in two ways.
    #[error("this and `{other}` exclude each other; {advice}")]
    Excludes {
        /// The other key.
        other: &'static str,
        /// What to do.
        advice: &'static str,
    },
    /// None of several keys is there, and one must be.
    #[error("needs one of {}; {advice}", listed(keys))]
    NeedsOneOf {
        /// The keys.
        keys: &'static [&'static str],
        /// What to do.
        advice: &'static str,
    },
    /// A key that needs another beside it.
    #[error("needs `{partner}` beside it, such as `{example}`")]
    NeedsPartner {
        /// The other key.
        partner: &'static str,
        /// A line that would be right.
        example: String,
    },
    /// A rule's name that is not known.
    #[error("no rule of this name is known; write \"{known}\", or state the limit itself")]
    UnknownRule {
        /// A name that is known.
        known: &'static str,
    },
    /// A word that is not known here.
    #[error("\"{found}\" is not known here; write {}", alternatives(known))]
    UnknownWord {
        /// What is written.
        found: String,
        /// The words that are known.
        known: Vec<&'static str>,
    },
    /// A profile that the sheet doesn't have.
    #[error("no profile of this name; {}", profiles(known))]
    UnknownProfile {
        /// The profiles that the sheet has.
        known: Vec<String>,
    },
    /// Two runs of one name.
    #[error("run[{first}] has the name \"{name}\" too; give each run its own")]
    SameName {
        /// The name.
        name: String,
        /// The run, from 1, that has it already.
        first: usize,
    },
    /// A site that is named twice.
    #[error("\"{site}\" is already in `{list}`; name it once")]
    SiteTwice {
        /// The site.
        site: String,
        /// The list that it is in already.
        list: String,
    },
    /// One measured volume for two positions of the piston.
    #[error(
        "a volume that was measured directly belongs to one piston position, but run[{first}] has \"{other}\"; put the runs into two sheets"
    )]
    TwoVolumes {
        /// The run, from 1, that stands elsewhere.
        first: usize,
        /// Its piston position.
        other: String,
    },
    /// A run whose volume depends on the piston does not say where that stands.
    #[error(
        "the volume depends on where the piston stands; write `piston = \"bottom\"`, \"top\" or an angle such as \"60 deg, transfers shut\""
    )]
    NoPiston,
    /// A run that is named in another place is not there.
    #[error("no run has the name \"{name}\"; the runs are {}", listed(known))]
    UnknownRun {
        /// What is written.
        name: String,
        /// The names that there are.
        known: Vec<String>,
    },
    /// A run that a volume is to follow from has no readings.
    #[error("run \"{run}\" has no readings that a rate could follow from: its pump stalled")]
    NoReadings {
        /// The run's name.
        run: String,
    },
    /// A run that a volume is to follow from can't be fitted.
    #[error("run \"{run}\": {error}")]
    RunFit {
        /// The run's name.
        run: String,
        /// Why not.
        error: FitError,
    },
    /// A shared input that no method has.
    #[error(
        "no method has an input \"{input}\"; their inputs are {}",
        listed(known)
    )]
    UnknownInput {
        /// What is written.
        input: String,
        /// The names of all inputs.
        known: Vec<String>,
    },
    /// A run of the rig alone on a sheet that doesn't have the rig's volume.
    #[error(
        "the sheet has no rig volume for a run of the rig alone; write the volume itself: rig_alone = \"35 cm3\""
    )]
    NoRigVolume,
    /// The heat between gas and wall is not valid.
    #[error(transparent)]
    Heat(#[from] VesselError),
    /// Two repairs of one site in one sheet.
    #[error(
        "\"{site}\" was repaired before run[{first}] already; put the runs from here on into a sheet of their own"
    )]
    RepairedTwice {
        /// The site.
        site: String,
        /// The run, from 1, that names its repair.
        first: usize,
    },
    /// What a sheet has no words for.
    #[error("{what} can't be written in a sheet")]
    NotWritable {
        /// What.
        what: &'static str,
    },
    /// The gas, or the humidity of the air.
    #[error(transparent)]
    Gas(#[from] GasError),
    /// What the bench is said to do of itself.
    #[error(transparent)]
    Effects(#[from] EffectsError),
    /// Humid air, and another gas that is pumped in.
    #[error(
        "humidity is about air, and [gas] says that another gas is pumped in: leave out one of them"
    )]
    HumidGas,
    /// The day of the test.
    #[error(transparent)]
    Date(#[from] DateError),
    /// A quantity as text.
    #[error(transparent)]
    Quantity(#[from] ParseQuantityError),
    /// A value with its uncertainty.
    #[error(transparent)]
    Measured(#[from] MeasuredError),
    /// The gauge.
    #[error(transparent)]
    Gauge(#[from] GaugeError),
    /// The engine's dimensions or the volume.
    #[error(transparent)]
    Volume(#[from] VolumeError),
    /// The piston's position.
    #[error(transparent)]
    Piston(#[from] PistonError),
    /// A site's name.
    #[error(transparent)]
    Site(#[from] SiteError),
    /// A limit.
    #[error(transparent)]
    Limit(#[from] LimitError),
    /// The plan of the next test.
    #[error(transparent)]
    Plan(#[from] PlanError),
    /// How the engine runs.
    #[error(transparent)]
    Running(#[from] RunningError),
    /// The readings of a run.
    #[error(transparent)]
    Readings(#[from] ReadingsError),
    /// How a logger's file is to be read.
    #[error(transparent)]
    Profile(#[from] ProfileError),
    /// The part of a trace that is to be used.
    #[error(transparent)]
    Window(#[from] WindowError),
    /// A trace with no hold in it.
    #[error("trace `{file}`: {error}")]
    TraceSegments {
        /// The trace's file.
        file: String,
        /// What is wrong with it.
        error: SegmentsError,
    },
    /// A trace's file that can't be opened.
    #[error("can't open the trace `{file}`: {message}")]
    TraceUnreadable {
        /// The trace's file.
        file: String,
        /// What kind of failure.
        kind: io::ErrorKind,
        /// The system's words.
        message: String,
    },
    /// A trace that can't be read.
    #[error("trace `{file}`: {error}")]
    Trace {
        /// The trace's file.
        file: String,
        /// What is wrong with it.
        error: TraceError,
    },
    /// A trace whose readings make no run.
    #[error("trace `{file}`{}: {error}", at_line(*line))]
    TraceReadings {
        /// The trace's file.
        file: String,
        /// The line of the reading at fault.
        line: Option<u64>,
        /// What is wrong with the readings.
        error: ReadingsError,
    },
    /// A trace whose temperatures can't be.
    #[error("trace `{file}`{}: {error}", at_line(*line))]
    TraceTemperatures {
        /// The trace's file.
        file: String,
        /// The line of the temperature at fault.
        line: Option<u64>,
        /// What is wrong with them.
        error: CourseError,
    },
}

impl Problem {
    /// The message with its pressures in a unit.
    #[must_use]
    pub fn words(&self, unit: &Unit) -> String {
        match self {
            Self::Readings(error) => error.words(unit),
            Self::TraceReadings { file, line, error } => {
                format!("trace `{file}`{}: {}", at_line(*line), error.words(unit))
            }
            Self::Limit(error) => error.words(unit),
            Self::Gauge(error) => error.words(unit),
            Self::Plan(error) => error.words(unit),
            Self::Quantity(ParseQuantityError::Value(error)) => error.words(unit),
            other => other.to_string(),
        }
    }
}

impl From<ParseMeasuredError> for Problem {
    fn from(error: ParseMeasuredError) -> Self {
        match error {
            ParseMeasuredError::Quantity(error) => Self::Quantity(error),
            ParseMeasuredError::Measured(error) => Self::Measured(error),
        }
    }
}

impl From<QuantityError> for Problem {
    fn from(error: QuantityError) -> Self {
        Self::Quantity(error.into())
    }
}

/// A path without the numbers of runs and items in it.
fn unnumbered(path: &str) -> String {
    let names = path
        .split('.')
        .map(|part| part.split('[').next().unwrap_or_default());
    names.collect::<Vec<_>>().join(".")
}

fn listed<S: fmt::Display>(keys: &[S]) -> String {
    let quoted: Vec<String> = keys.iter().map(|key| format!("`{key}`")).collect();
    quoted.join(", ")
}

fn alternatives(words: &[&str]) -> String {
    let quoted: Vec<String> = words.iter().map(|word| format!("\"{word}\"")).collect();
    match quoted.as_slice() {
        [first @ .., last] if !first.is_empty() => format!("{} or {last}", first.join(", ")),
        all => all.join(", "),
    }
}

fn profiles(known: &[String]) -> String {
    if known.is_empty() {
        return "the sheet has none: write one as [profiles.NAME]".to_owned();
    }
    let quoted: Vec<String> = known.iter().map(|name| format!("\"{name}\"")).collect();
    format!("the sheet has {}", quoted.join(", "))
}

fn known_keys(
    (meant, nearest): (Option<&str>, Option<&str>),
    elsewhere: &[String],
    known: &[&str],
) -> String {
    // A key that stands elsewhere is more likely meant than one of other letters.
    match (meant, elsewhere, nearest) {
        (Some(meant), ..) => format!("; is `{meant}` meant?"),
        (None, [], Some(nearest)) => format!("; is `{nearest}` meant?"),
        (None, [], None) => format!("; known here: {}", listed(known)),
        (None, tables, _) => format!(" here; it belongs under {}", tables.join(" or ")),
    }
}

fn values(got: usize) -> String {
    match got {
        1 => "1 value".to_owned(),
        got => format!("{got} values"),
    }
}

fn decimal_commas(values: usize) -> &'static str {
    if values > 2 {
        ". A decimal comma is a point: write 7.5, not 7,5"
    } else {
        ""
    }
}

fn at_line(line: Option<u64>) -> String {
    line.map_or(String::new(), |line| format!(", line {line}"))
}
