//! What one more measurement would make of a volume, and of a leak that rests on it.

use std::fmt::Write;

use casetight::estimate::Estimate;
use casetight::measured::{Evaluation, Measured};
use casetight::quantity::Area;
use casetight_bench::assess::Outcome;
use casetight_bench::narrow::VolumeOutlook;
use casetight_bench::session::Session;
use casetight_bench::sheet::{Run, Sheet, Space};
use casetight_report::words::area_interval;
use serde::Serialize;

/// The leak of a run, and as it would be known with the best measurement of its volume.
pub(crate) struct Narrowed<'s> {
    run: &'s str,
    area: Estimate<Area>,
    with_the_best: Estimate<Area>,
}

/// An interval that keeps more than this part of its width gains nothing worth a measurement.
const WORTH_IT: f64 = 0.95;

impl<'s> Narrowed<'s> {
    /// Of the first run that has readings; none where nothing narrows its volume, or where it can't be assessed.
    pub(crate) fn of(sheet: &Sheet, runs: &[&'s Run], outlook: &VolumeOutlook) -> Option<Self> {
        let best = outlook.ways.first()?;
        let run = runs.iter().find(|run| run.record.readings().is_some())?;
        let volume = outlook.volume.value();
        let narrower = volume * best.relative_uncertainty;
        let narrower = Measured::new(volume, narrower, Evaluation::Combined).ok()?;
        let area = |space: Space| {
            let alone = Sheet {
                space,
                runs: vec![(*run).clone()],
                ..sheet.clone()
            };
            let assessed = Session::assess(&alone).ok()?.runs.into_iter().next()?;
            match assessed.assessment.outcome {
                Outcome::Fitted(fitted) => Some(fitted.fit.area),
                _ => None,
            }
        };
        Some(Self {
            run: &run.name,
            area: area(Space::Measured(outlook.volume.clone()))?,
            with_the_best: area(Space::Measured(narrower))?,
        })
    }

    /// Whether the leak is known better for it.
    fn gains(&self) -> bool {
        let width = |area: &Estimate<Area>| area.si().high - area.si().low;
        width(&self.with_the_best) < WORTH_IT * width(&self.area)
    }
}

/// How well the volume is known, and what one more measurement would make of it.
#[derive(Debug, Serialize)]
pub(crate) struct OutlookDocument {
    relative_uncertainty: f64,
    /// What stands for what nobody stated.
    taken: Vec<String>,
    ways: Vec<Way>,
    leak: Option<LeakWithTheBest>,
    cautions: Vec<&'static str>,
    text: String,
}

#[derive(Debug, Serialize)]
struct Way {
    measurement: &'static str,
    relative_uncertainty: f64,
}

/// The leak of a run, and as it would be known with the best way.
#[derive(Debug, Serialize)]
struct LeakWithTheBest {
    run: String,
    area_m2: Estimate<f64>,
    area_with_the_best_m2: Estimate<f64>,
}

impl OutlookDocument {
    pub(crate) fn new(outlook: &VolumeOutlook, leak: Option<&Narrowed<'_>>) -> Self {
        let ways = outlook.ways.iter().map(|way| Way {
            measurement: way.measurement.name(),
            relative_uncertainty: way.relative_uncertainty,
        });
        Self {
            relative_uncertainty: outlook.relative_uncertainty(),
            taken: outlook.taken.iter().map(ToString::to_string).collect(),
            ways: ways.collect(),
            leak: leak.map(|leak| LeakWithTheBest {
                run: leak.run.to_owned(),
                area_m2: leak.area.si(),
                area_with_the_best_m2: leak.with_the_best.si(),
            }),
            cautions: outlook.cautions(),
            text: outlook_in_words(outlook, leak),
        }
    }
}

/// How well the volume is known, what would narrow it, and what that does to the leak.
pub(crate) fn outlook_in_words(outlook: &VolumeOutlook, leak: Option<&Narrowed<'_>>) -> String {
    let mut text = format!("{outlook}.");
    let Some(leak) = leak else {
        return text;
    };
    let with = match outlook.ways.as_slice() {
        [_] => "it",
        _ => "the first of these",
    };
    let (run, area) = (leak.run, area_interval(&leak.area));
    // Writing to a string can't fail.
    let _ = if leak.gains() {
        let narrower = area_interval(&leak.with_the_best);
        write!(
            text,
            " With {with} the leak of \"{run}\", {area}, would be known as closely as {narrower}."
        )
    } else {
        write!(
            text,
            " The leak of \"{run}\", {area}, would be known hardly any closer with {with}: its readings leave more open."
        )
    };
    text
}
