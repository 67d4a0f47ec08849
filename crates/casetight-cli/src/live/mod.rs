//! `casetight live`.

mod input;
mod say;
mod trace;

use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use casetight::limit::Limit;
use casetight::quantity::{GaugePressure, ParseQuantityError, Time, TradeUnits, Unit};
use casetight::readings::{Readings, ReadingsError};
use casetight::vessel::Direction;
use casetight_bench::record::TraceError;
use casetight_bench::session::{Session, SessionError};
use casetight_bench::sheet::{Record, Run, Sheet, Side};
use casetight_bench::watch::{Update, Watch, WatchError};
use casetight_files::Folder;
use clap::Args;

use crate::brief::How;
use crate::files::{self, Files};
use crate::{Answer, CommandError, exit_of};
use input::{Clock, Heard, Input, LineError, Manner, Raw, Said};
use say::Speaker;
use trace::GrowingTrace;
pub(crate) use trace::holds_no_readings;

#[derive(Debug, Args)]
pub(crate) struct Live {
    /// Bench sheet (TOML, format 1).
    sheet: PathBuf,
    /// Name of the run: one of the sheet whose file is not there yet, or a new one.
    #[arg(long, value_name = "NAME", default_value = "live")]
    run: String,
    /// Where the piston stands, for a new run: "bottom", "top", "60 deg, transfers shut"; as `[plan]` has it where left out.
    #[arg(long)]
    piston: Option<String>,
    /// Marks of the gauge, in its unit: press Enter as the needle passes each. This machine's clock takes the time.
    #[arg(long, value_name = "LIST", allow_hyphen_values = true)]
    marks: Option<String>,
    /// Lines are the gauge alone; this machine's clock takes the time.
    #[arg(long, conflicts_with = "marks")]
    clock: bool,
    /// Go on with the readings in this file, after a crash or a pause.
    #[arg(long, value_name = "FILE")]
    resume: Option<PathBuf>,
    /// The usual time of a hold: half of the allowed 5 % of wrong verdicts is spent by then.
    #[arg(long, value_name = "TIME", default_value = Live::USUAL_HOLD, value_parser = Time::parse)]
    usual_hold: Time,
    /// One JSON object a line instead of words.
    #[arg(long)]
    json: bool,
    /// Everything there is to say, not the answer only.
    #[arg(long, conflicts_with = "json")]
    detail: bool,
}

impl Live {
    /// How long a hold usually is.
    const USUAL_HOLD: &str = "60 s";

    /// A run of a sheet, held now: lines are the gauge alone.
    pub(crate) fn by_clock(sheet: PathBuf, run: String) -> Result<Self, ParseQuantityError> {
        Ok(Self {
            sheet,
            run,
            piston: None,
            marks: None,
            clock: true,
            resume: None,
            usual_hold: Time::parse(Self::USUAL_HOLD)?,
            json: false,
            detail: false,
        })
    }
}

/// What can go wrong in a live run as a whole; a bad line is only answered.
#[derive(Debug, thiserror::Error)]
pub(crate) enum LiveError {
    #[error(
        "{}: is there already; go on with it by --resume, or give the run another name by --run",
        path.display()
    )]
    IsThere { path: PathBuf },
    #[error(
        "{}: another live run writes there; end that one first, or give this run another name by --run",
        path.display()
    )]
    InUse { path: PathBuf },
    #[error(
        "{file}: run \"{run}\" has its readings already; give the new one another name by --run"
    )]
    HasReadings { file: String, run: String },
    #[error("{}: {source}", path.display())]
    Trace { path: PathBuf, source: TraceError },
    #[error(
        "{}: {} where `{expected}` should be; only a file that a live run on a gauge of this unit began can be continued",
        path.display(),
        found.as_ref().map_or("something else".to_owned(), |found| format!("`{found}`"))
    )]
    OtherColumns {
        path: PathBuf,
        found: Option<String>,
        expected: String,
    },
    #[error(
        "{}: it doesn't say when its clock started, so this machine's clock can't go on with it; give times with the readings",
        path.display()
    )]
    NoClock { path: PathBuf },
    #[error("{}: {source}", path.display())]
    Readings {
        path: PathBuf,
        source: ReadingsError,
    },
    #[error("--marks: {0}")]
    Marks(LineError),
    #[error("--marks: give the marks that the needle will pass, such as \"7, 6.5, 6, 5.5\"")]
    NoMarks,
    #[error("--usual-hold: {0}")]
    UsualHold(WatchError),
    #[error("standard input can't be read: {0}")]
    Input(std::io::Error),
    #[error(transparent)]
    File(#[from] files::FileError),
}

/// A run under way.
struct Going {
    watch: Watch,
    /// The watch of the same run under vacuum, where the gas is another one there; the first reading tells.
    under_vacuum: Option<Watch>,
    trace: GrowingTrace,
    /// The unit that the run's gauge shows, and the trace is kept in.
    unit: &'static Unit,
    /// The unit that the input is in.
    input_unit: &'static Unit,
    /// What the sheet says of the side of ambient that readings lie on.
    side: Side,
    /// Whether readings are taken with the other sign; the first one tells.
    turned: Option<bool>,
    speaker: Speaker,
    last: Option<Update>,
}

pub(crate) fn run(files: &Files, live: &Live) -> Result<Answer, CommandError> {
    let marks = marks(live)?;
    let (sheet, run) = files.sheet_with(
        &live.sheet,
        &live.run,
        live.piston.as_deref(),
        live.resume.as_deref(),
    )?;
    let Record::Trace { file, .. } = &run.record else {
        return Err(has_readings(live).into());
    };
    let (watch, under_vacuum) = watches(live, &sheet, &run)?;
    let unit = sheet.unit_of(&run);
    let (trace, before, zero) = open(live, &files.folder(&live.sheet), file, unit)?;
    let clock = Clock::since(zero);
    let mut manner = match marks {
        Some(to_come) => Manner::Marks { clock, to_come },
        None if live.clock => Manner::Clock(clock),
        None => Manner::Lines,
    };
    let mut going = Going {
        watch,
        under_vacuum,
        trace,
        unit,
        input_unit: unit,
        side: Side::of(run.direction, &run.name, unit.symbol()),
        turned: None,
        speaker: Speaker::new(How::of(live.json, live.detail), unit),
        last: None,
    };
    going.speaker.start(&run.name, going.trace.path());
    going.speaker.left(&before);
    going.replay(&before, &mut manner)?;
    going.listen(&mut manner)?;
    end(live, &sheet, run, &going)
}

/// The watch of a run under pressure, and the one under vacuum where the gas is another one there.
fn watches(live: &Live, sheet: &Sheet, run: &Run) -> Result<(Watch, Option<Watch>), CommandError> {
    let limits: Vec<Limit> = sheet.limits.iter().map(|stated| stated.limit).collect();
    let watch = |bench| {
        Watch::new(bench, limits.clone(), sheet.assumptions_of(run))
            .with_usual_hold(live.usual_hold)
            .map_err(LiveError::UsualHold)
    };
    let [pressure, vacuum] = [Direction::Pressure, Direction::Vacuum];
    let (pressure, vacuum) = (sheet.bench_in(run, pressure)?, sheet.bench_in(run, vacuum)?);
    let other = (vacuum != pressure).then(|| watch(vacuum)).transpose()?;
    Ok((watch(pressure)?, other))
}

fn has_readings(live: &Live) -> LiveError {
    LiveError::HasReadings {
        file: live.sheet.display().to_string(),
        run: live.run.clone(),
    }
}

/// The trace, what stood in it before, and when the run's clock stood at zero.
fn open(
    live: &Live,
    folder: &Folder,
    file: &str,
    unit: &Unit,
) -> Result<(GrowingTrace, trace::Before, SystemTime), LiveError> {
    let by_clock = live.clock || live.marks.is_some();
    let zero = SystemTime::now();
    let clock_zero = by_clock.then_some(zero);
    if let Some(path) = &live.resume {
        let (trace, before) = GrowingTrace::resume(path, unit, clock_zero)?;
        let zero = match before.clock_zero {
            Some(zero) => zero,
            None if by_clock => return Err(LiveError::NoClock { path: path.clone() }),
            None => zero,
        };
        return Ok((trace, before, zero));
    }
    let path = folder.place(file);
    let path = path.map_err(|source| files::not_written(Path::new(file), source))?;
    let trace = GrowingTrace::start(&path, unit, clock_zero)?;
    Ok((trace, trace::Before::default(), zero))
}

/// The marks that are asked for, the first one last.
fn marks(live: &Live) -> Result<Option<Vec<f64>>, LiveError> {
    match live.marks.as_deref().map(input::marks) {
        None => Ok(None),
        Some(Ok(marks)) if marks.is_empty() => Err(LiveError::NoMarks),
        Some(marks) => marks.map(Some).map_err(LiveError::Marks),
    }
}

impl Going {
    /// Takes up what was read before, with the looks that were taken then.
    fn replay(&mut self, before: &trace::Before, manner: &mut Manner) -> Result<(), LiveError> {
        let Some(readings) = &before.readings else {
            return Ok(());
        };
        if let Some(first) = readings.gauge_pa.iter().find(|gauge| **gauge != 0.0) {
            self.take_side(*first);
        }
        for (time_s, gauge_pa) in readings.time_s.iter().zip(&readings.gauge_pa) {
            let at_fault = |source| LiveError::Readings {
                path: self.trace.path().to_owned(),
                source,
            };
            let reading = quantities(*time_s, *gauge_pa).map_err(|_| {
                at_fault(ReadingsError::NotFinite {
                    row: self.watch.times_s().len() + 1,
                    what: "gauge pressure",
                    got: *gauge_pa,
                })
            })?;
            match self.watch.add(reading.0, reading.1) {
                Ok(Some(update)) => self.last = Some(update),
                Err(WatchError::Reading(source)) => return Err(at_fault(source)),
                // What can't be assessed yet is said of the next reading too.
                Ok(None) | Err(_) => {}
            }
            // A mark of a vacuum dial may have been given without its sign.
            let shown = self.unit.from_si(*gauge_pa);
            manner.passed(shown);
            manner.passed(-shown);
        }
        if let Some(update) = &self.last {
            self.speaker.update(&self.watch, update);
        }
        Ok(())
    }

    /// The watch for the side of ambient that the first reading lies on.
    fn take_side(&mut self, gauge_pa: f64) {
        if let Some(other) = self.under_vacuum.take_if(|_| gauge_pa != 0.0)
            && gauge_pa < 0.0
            && self.watch.times_s().is_empty()
        {
            self.watch = other;
        }
    }

    /// Takes readings until the input ends.
    fn listen(&mut self, manner: &mut Manner) -> Result<(), LiveError> {
        let input = Input::listen();
        let asks = std::io::stdin().is_terminal();
        while !manner.is_over() {
            if asks && let Some(mark) = manner.next_mark() {
                self.speaker.ask(mark);
            }
            let (line, moment) = match input.next() {
                Heard::Line(line, moment) => (line, moment),
                Heard::Failed(error) => return Err(LiveError::Input(error)),
                Heard::End => break,
            };
            match line.and_then(|line| manner.take(&line, moment)) {
                Ok(Said::Reading(raw)) => {
                    if self.take(raw)? {
                        manner.passed(raw.gauge);
                    }
                }
                Ok(Said::Unit(unit)) => self.input_unit = unit,
                Ok(Said::Nothing) => {}
                Err(error) => self.speaker.skipped(&error),
            }
        }
        if input.was_asked_to_end() {
            self.speaker.ends();
        }
        Ok(())
    }

    /// Checks a reading, puts it on the disk, and only then uses it; whether it was kept.
    fn take(&mut self, raw: Raw) -> Result<bool, LiveError> {
        // In the trace's own unit, so that what is used here is what is read from there.
        let gauge = if self.input_unit == self.unit {
            raw.gauge
        } else {
            self.unit.from_si(self.input_unit.to_si(raw.gauge))
        };
        // A vacuum dial shows its numbers without a sign.
        let turns = self.turned.map_or_else(|| self.side.turns(gauge), Ok);
        let turns = match turns {
            Ok(turns) => turns,
            Err(problem) => {
                self.speaker.skipped(&LineError::Side(Box::new(problem)));
                return Ok(false);
            }
        };
        let gauge = if turns { -gauge } else { gauge };
        let (time, pressure) = match quantities(raw.time_s, self.unit.to_si(gauge)) {
            Ok(reading) => reading,
            Err(error) => {
                self.speaker.skipped(&error);
                return Ok(false);
            }
        };
        if let Err(error) = self.watch.check(time, pressure) {
            self.speaker.skipped(&error);
            return Ok(false);
        }
        self.take_side(pressure.pascals());
        self.turned = Some(turns);
        self.trace.add(raw.time_s, gauge)?;
        match self.watch.add(time, pressure) {
            Ok(Some(update)) => {
                self.speaker.update(&self.watch, &update);
                self.last = Some(update);
            }
            Ok(None) => self.speaker.taken(&self.watch),
            Err(error) => self.speaker.skipped(&error),
        }
        Ok(true)
    }
}

fn quantities(time_s: f64, gauge_pa: f64) -> Result<(Time, GaugePressure), LineError> {
    Ok((
        Time::from_si_value(time_s)?,
        GaugePressure::from_pascals(gauge_pa)?,
    ))
}

/// The final assessment: the numbers that `assess` has for the trace, and the verdict over all looks.
fn end(live: &Live, sheet: &Sheet, run: Run, going: &Going) -> Result<Answer, CommandError> {
    let watch = &going.watch;
    let path = going.trace.path();
    let ambient = sheet.ambient_pressure()?.value();
    let readings =
        Readings::from_si(watch.times_s(), watch.gauges_pa(), ambient).map_err(|source| {
            LiveError::Readings {
                path: path.to_owned(),
                source,
            }
        })?;
    let direction = readings.direction();
    let rig_tested = sheet.runs.iter().any(|other| {
        let held = other.record.readings();
        other.rig_alone.is_some() && held.is_some_and(|held| held.direction() == direction)
    });
    let mut alone = sheet.clone();
    alone.runs = vec![Run {
        record: Record::Readings(readings),
        ..run
    }];
    let mut session =
        Session::assess(&alone).map_err(|source: SessionError| CommandError::Session {
            file: live.sheet.display().to_string(),
            source,
        })?;
    let verdict = watch.verdict();
    let text = going.speaker.end(
        &mut session,
        (&alone, rig_tested),
        verdict,
        going.last.as_ref(),
        path,
    )?;
    let exit = exit_of(verdict);
    Ok(Answer { text, exit })
}
