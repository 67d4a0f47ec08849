//! The trace that a run names, read and cut to its window.

use std::io;

use super::document::{Item, Table};
use super::error::{Problem, SheetError};
use super::known::Known;
use super::side::{Side, farthest, turn};
use crate::record::trace::line_of_reading;
use crate::record::{
    PressureKind, ReadingProfile, Segments, SegmentsError, Trace, TraceError, Window,
};
use casetight::readings::{CourseError, Readings, ReadingsError, TemperatureCourse};

/// What is used of a trace, and what it holds.
pub(super) struct Found {
    pub(super) readings: Readings,
    pub(super) temperature_k: Option<Vec<f64>>,
    pub(super) window: Window,
    pub(super) segments: Segments,
}

/// A trace's file with what its readings are read by.
struct File<'f> {
    item: Item<'f>,
    name: &'f str,
    profile: Option<&'f ReadingProfile>,
    known: &'f Known<'f>,
}

/// Reads the trace of this name by a profile, and cuts it to what is stated or to its hold.
pub(super) fn read(
    run: &Table<'_>,
    name: &str,
    profile: Option<&str>,
    stated: Option<[f64; 2]>,
    known: &Known<'_>,
    side: &dyn Fn(&str) -> Side,
) -> Result<Found, SheetError> {
    let profile = profile
        .map(|name| profile_of(name, run, known))
        .transpose()?;
    let item = run.need("file", "trace.csv")?;
    let file = File {
        item,
        name,
        profile,
        known,
    };
    let trace = file.trace()?;
    let segments = Segments::of(&trace.time_s, &trace.gauge_pa, Some(&known.gauge));
    let segments = segments.map_err(|error| match error {
        SegmentsError::Readings(error) => file.at_fault(error, 0),
        error @ SegmentsError::NoHold { .. } => file.without_a_hold(error),
    })?;
    let window = match stated {
        Some([from, to]) => run.of("window", Window::stated(&trace.time_s, from, to))?,
        None => segments
            .window()
            .map_err(|error| file.without_a_hold(error))?
            .clone(),
    };
    let mut trace = trace.within(&window);
    file.turn_to_its_side(&mut trace, side)?;
    let readings = Readings::from_vecs(trace.time_s, trace.gauge_pa, known.ambient);
    let mut readings = readings.map_err(|error| file.at_fault(error, window.rows.start))?;
    if let Some(kelvins) = &trace.temperature_k {
        match TemperatureCourse::of(readings.times_s(), kelvins, None) {
            Ok(course) => {
                readings = readings.with_temperature(course.touching(known.thermometer));
            }
            // Two temperatures give no uncertainty of their course: the allowance stays.
            Err(CourseError::TooFew { .. }) => {}
            Err(error) => return Err(file.too_cold(error, window.rows.start)),
        }
    }
    Ok(Found {
        readings,
        temperature_k: trace.temperature_k,
        window,
        segments,
    })
}

fn profile_of<'k>(
    name: &str,
    run: &Table<'_>,
    known: &Known<'k>,
) -> Result<&'k ReadingProfile, SheetError> {
    known.profiles.get(name).ok_or_else(|| {
        let known = known.profiles.keys().cloned().collect();
        run.error_at("profile", Problem::UnknownProfile { known })
    })
}

impl File<'_> {
    fn trace(&self) -> Result<Trace, SheetError> {
        let unreadable = |error: io::Error| {
            let (file, kind, message) = (self.name.to_owned(), error.kind(), error.to_string());
            self.item.error(Problem::TraceUnreadable {
                file,
                kind,
                message,
            })
        };
        let source = self.known.traces.open(self.name).map_err(unreadable)?;
        let trace: Result<Trace, TraceError> = match self.profile {
            Some(profile) => profile.read(source, Some(self.known.ambient)),
            None => Trace::from_reader(source),
        };
        trace.map_err(|error| {
            let file = self.name.to_owned();
            self.item.error(Problem::Trace { file, error })
        })
    }

    fn without_a_hold(&self, error: SegmentsError) -> SheetError {
        let file = self.name.to_owned();
        self.item.error(Problem::TraceSegments { file, error })
    }

    /// Of a reading that was numbered from `before` on. Lines are not kept for millions of rows; the one that matters is
    /// looked up in a second pass.
    fn at_fault(&self, error: ReadingsError, before: usize) -> SheetError {
        let line = row_of(&error).and_then(|row| self.line_of(row + before));
        let file = self.name.to_owned();
        self.item
            .error(Problem::TraceReadings { file, line, error })
    }

    /// Temperatures that can't be, of a window that so many readings stand before.
    fn too_cold(&self, error: CourseError, before: usize) -> SheetError {
        let line = match error {
            CourseError::Temperature { row, .. } => self.line_of(row + before),
            _ => None,
        };
        let file = self.name.to_owned();
        self.item
            .error(Problem::TraceTemperatures { file, line, error })
    }

    /// The line that a reading of the file stands on, counted from one.
    fn line_of(&self, row: usize) -> Option<u64> {
        let source = self.known.traces.open(self.name).ok()?;
        match self.profile {
            Some(profile) => profile.line_of_reading(source, Some(self.known.ambient), row),
            None => line_of_reading(source, row),
        }
    }

    /// Gives the readings of a window the sign of the run's side of ambient.
    fn turn_to_its_side(
        &self,
        trace: &mut Trace,
        side: &dyn Fn(&str) -> Side,
    ) -> Result<(), SheetError> {
        let far = farthest(&trace.gauge_pa);
        match self.profile {
            _ if self.known.traces.awaits(self.name) => {}
            Some(profile) if profile.pressure_kind == PressureKind::Absolute => {
                self.item.of(side("").agrees(far))?;
            }
            profile => {
                // A trace without a profile is a logger's, or was kept by a live run, which has asked.
                let unit = profile.map_or("", |profile| profile.pressure_unit.unit().symbol());
                if self.item.of(side(unit).turns(far))? {
                    turn(&mut trace.gauge_pa);
                }
            }
        }
        Ok(())
    }
}

/// The reading at fault, counted from 1.
pub(super) fn row_of(error: &ReadingsError) -> Option<usize> {
    match error {
        ReadingsError::NotFinite { row, .. }
        | ReadingsError::TimesNotRising { row, .. }
        | ReadingsError::MixedDirections { row, .. }
        | ReadingsError::BeyondVacuum { row, .. } => Some(*row),
        ReadingsError::NoPressure { .. } => Some(1),
        _ => None,
    }
}
