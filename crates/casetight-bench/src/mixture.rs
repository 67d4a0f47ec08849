//! What the leaks of a sheet do to the mixture of the running engine: an estimate, at idle and at full throttle.
//!
//! [`crate::running`] holds the reckoning; here stands what of a sheet goes into it: the leak of the vacuum runs for air that
//! goes in, that of the pressure runs for mixture that goes out, the engine's dimensions, and `[running]`, typical where the
//! sheet does not state it. Runs of the rig alone do not count. The gas is dry air, and a leak an orifice of its area.
//!
//! ```
//! use casetight_bench::mixture::Mixture;
//! use casetight_bench::sheet::{NoTraces, Sheet};
//!
//! let text = r#"
//! format = 1
//! [engine]
//! bore = "46 mm"
//! bore_uncertainty = "+- 0.05 mm"
//! stroke = "31 mm"
//! stroke_uncertainty = "+- 0.05 mm"
//! rod = "55 mm"
//! rod_uncertainty = "+- 0.5 mm"
//! primary_compression_ratio = 1.42
//! primary_compression_ratio_uncertainty = "+- 0.03"
//! compression_ratio = 7.1
//! compression_ratio_uncertainty = "+- 0.1"
//! [rig]
//! volume = "18 cm3"
//! uncertainty = "1 cm3"
//! [ambient]
//! pressure = "1013 hPa"
//! temperature = "20 C"
//! [gauge]
//! unit = "kPa"
//! resolution = "0.1 kPa"
//! [[run]]
//! name = "vacuum"
//! piston = "bottom"
//! readings = [[0, -40.0], [10, -37.6], [20, -35.3], [30, -33.0], [40, -30.8]]
//! "#;
//! let sheet = Sheet::parse(text, "sheet.toml", &NoTraces)?;
//! let mixture = Mixture::of(&sheet)?;
//! assert_eq!(mixture.inward.run, "vacuum");
//! // A turn at idle takes longer, and the carburetor gives less air in it.
//! assert!(mixture.idle.shift.value > mixture.full.shift.value);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

use crate::assess::Outcome;
use crate::running::document::{LoadDocument, RunningDocument};
use crate::running::{LeakRange, LeanShift, RunningError};
use crate::session::{Session, SessionError, SessionRun};
use crate::sheet::Sheet;
use casetight::estimate::Estimate;
use casetight::gas::GasState;
use casetight::leak::{EffectiveArea, LeakError, LeakLaw, Orifice};
use casetight::quantity::Area;
use casetight::vessel::Direction;
use casetight::volume::VolumeError;

/// What keeps a sheet from telling what its leaks do to the running engine.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum MixtureError {
    /// Its runs.
    #[error(transparent)]
    Session(#[from] SessionError),
    /// The pressure in the running case follows from the engine's dimensions.
    #[error(
        "running: how the case's volume changes over a turn follows from bore, stroke, rod and primary_compression_ratio; give all four in [engine]"
    )]
    NoEngine,
    /// No run of the engine.
    #[error("running: no run of the sheet has measured a leak of the engine")]
    NoLeak,
    /// The engine's dimensions.
    #[error(transparent)]
    Engine(#[from] VolumeError),
    /// A leak's size.
    #[error(transparent)]
    Leak(#[from] LeakError),
    /// How the engine runs.
    #[error("running: {0}")]
    Running(#[from] RunningError),
}

/// A leak as a run measured it.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasuredLeak {
    /// The run's name.
    pub run: String,
    /// Pressure or vacuum.
    pub direction: Direction,
    /// Effective area, with its interval.
    pub area: Estimate<Area>,
}

/// What a sheet's leaks do to the mixture.
#[derive(Debug, Clone, PartialEq)]
pub struct Mixture {
    /// The leak for air that goes in: of the vacuum runs, or of the pressure runs where there is no other.
    pub inward: MeasuredLeak,
    /// The leak for mixture that goes out: of the pressure runs, or of the vacuum runs where there is no other.
    pub outward: MeasuredLeak,
    /// At idle.
    pub idle: LeanShift,
    /// At full throttle.
    pub full: LeanShift,
}

impl Mixture {
    /// Assesses the sheet, and estimates what its leaks do to the running engine.
    ///
    /// # Errors
    /// [`MixtureError`] says what the sheet lacks, or which of its runs or conditions are not valid.
    pub fn of(sheet: &Sheet) -> Result<Self, MixtureError> {
        let session = Session::assess(sheet)?;
        let dimensions = sheet.space.dimensions().ok_or(MixtureError::NoEngine)?;
        let engine = dimensions.engine()?.ok_or(MixtureError::NoEngine)?;
        let (inward, outward) = leaks(&session.runs).ok_or(MixtureError::NoLeak)?;
        let (air_in, mixture_out) = (Orifices::new(inward.area)?, Orifices::new(outward.area)?);
        let surroundings = GasState {
            pressure: sheet
                .ambient_pressure()
                .map_err(SessionError::from)?
                .value(),
            temperature: sheet.ambient.temperature.value(),
        };
        let air = sheet
            .gas_in(Direction::Vacuum)
            .map_err(SessionError::from)?;
        let lean = |load| {
            LeanShift::new(
                &engine,
                &sheet.running,
                load,
                (&air_in.range(), &mixture_out.range()),
                (surroundings, &air),
            )
        };
        Ok(Self {
            idle: lean(&sheet.running.idle)?,
            full: lean(&sheet.running.full)?,
            inward,
            outward,
        })
    }

    /// The loads by their names.
    #[must_use]
    pub fn loads(&self) -> [(&'static str, &LeanShift); 2] {
        [("idle", &self.idle), ("full throttle", &self.full)]
    }

    /// The document of the estimate.
    #[must_use]
    pub fn document(&self) -> RunningDocument {
        let leak = |leak: &MeasuredLeak| (leak.area, leak.run.clone());
        let loads = self.loads();
        RunningDocument::new(
            leak(&self.inward),
            leak(&self.outward),
            loads
                .into_iter()
                .map(|(name, lean)| LoadDocument::new(name, lean))
                .collect(),
        )
    }
}

/// The three sizes of a leak as orifices.
struct Orifices {
    value: Orifice,
    low: Orifice,
    high: Option<Orifice>,
    level: f64,
}

impl Orifices {
    fn new(area: Estimate<Area>) -> Result<Self, LeakError> {
        let area = area.si();
        let orifice = |area| EffectiveArea::from_square_meters(area).map(Orifice::new);
        Ok(Self {
            value: orifice(area.value)?,
            low: orifice(area.low)?,
            high: area
                .high
                .is_finite()
                .then(|| orifice(area.high))
                .transpose()?,
            level: area.level,
        })
    }

    fn range(&self) -> LeakRange<'_> {
        LeakRange {
            law: &self.value,
            low: &self.low,
            high: self.high.as_ref().map(|law| law as &dyn LeakLaw),
            level: self.level,
        }
    }
}

/// The leaks inward and outward; where only one direction was tested, it stands for both. Of several runs the largest leak
/// counts.
fn leaks(runs: &[SessionRun]) -> Option<(MeasuredLeak, MeasuredLeak)> {
    let largest = |wanted: Option<Direction>| {
        runs.iter()
            .filter(|run| !run.rig_alone)
            .map(leak)
            .filter(|leak| wanted.is_none_or(|direction| leak.direction == direction))
            .max_by(|a, b| a.area.si().value.total_cmp(&b.area.si().value))
    };
    let either = |wanted| largest(Some(wanted)).or_else(|| largest(None));
    Some((either(Direction::Vacuum)?, either(Direction::Pressure)?))
}

fn leak(run: &SessionRun) -> MeasuredLeak {
    let area = match &run.assessment.outcome {
        Outcome::Fitted(fitted) => fitted.fit.area,
        Outcome::Stalled { bound, .. } => {
            Estimate::at_least(bound.area.area(), run.assessment.assumptions.level)
        }
    };
    MeasuredLeak {
        run: run.name.clone(),
        direction: run.assessment.direction,
        area,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sheet::NoTraces;

    const ENGINE: &str = r#"
        [engine]
        bore = "46 mm"
        bore_uncertainty = "+- 0.05 mm"
        stroke = "31 mm"
        stroke_uncertainty = "+- 0.05 mm"
        rod = "55 mm"
        rod_uncertainty = "+- 0.5 mm"
        primary_compression_ratio = 1.42
        primary_compression_ratio_uncertainty = "+- 0.03"
        compression_ratio = 7.1
        compression_ratio_uncertainty = "+- 0.1"
        [rig]
        volume = "18 cm3"
        uncertainty = "1 cm3"
    "#;
    const VOLUME: &str = r#"
        [volume]
        value = "200 cm3"
        uncertainty = "3 cm3"
    "#;
    const PRESSURE: &str = r#"
        [[run]]
        name = "pressure"
        piston = "bottom"
        readings = [[0, 48.0], [10, 46.9], [20, 45.8], [30, 44.8]]
    "#;
    const VACUUM: &str = r#"
        [[run]]
        name = "vacuum"
        piston = "bottom"
        readings = [[0, -40.0], [10, -37.6], [20, -35.3], [30, -33.0]]
    "#;
    /// Leaks more than what is left of the runs above without it.
    const RIG: &str = r#"
        [[run]]
        name = "rig"
        rig_alone = true
        readings = [[0, 48.0], [1, 47.0], [2, 46.0], [3, 45.0]]
    "#;

    fn mixture(parts: &[&str]) -> Result<Mixture, MixtureError> {
        let text = format!(
            r#"
            format = 1
            [ambient]
            pressure = "1013 hPa"
            temperature = "20 C"
            [gauge]
            unit = "kPa"
            resolution = "0.1 kPa"
            {}"#,
            parts.concat()
        );
        Mixture::of(&Sheet::parse(&text, "sheet.toml", &NoTraces).unwrap())
    }

    #[test]
    fn each_direction_takes_its_own_run_or_the_only_one() {
        let both = mixture(&[ENGINE, PRESSURE, VACUUM]).unwrap();
        assert_eq!(
            (&*both.inward.run, &*both.outward.run),
            ("vacuum", "pressure")
        );
        let one = mixture(&[ENGINE, PRESSURE]).unwrap();
        assert_eq!(
            (&*one.inward.run, &*one.outward.run),
            ("pressure", "pressure")
        );
        assert_eq!(one.inward, one.outward);
        assert!(one.idle.shift.value < both.idle.shift.value);
    }

    #[test]
    fn the_rig_alone_is_no_leak_of_the_engine() {
        let found = mixture(&[ENGINE, RIG, PRESSURE]).unwrap();
        assert_eq!(found.outward.run, "pressure");
        assert_eq!(mixture(&[ENGINE, RIG]), Err(MixtureError::NoLeak));
    }

    #[test]
    fn what_the_sheet_lacks_is_said() {
        let directly = mixture(&[VOLUME, PRESSURE]).unwrap_err();
        assert_eq!(directly, MixtureError::NoEngine);
        assert!(directly.to_string().contains("[engine]"));
        assert_eq!(
            mixture(&[ENGINE]),
            Err(MixtureError::Session(SessionError::NoRuns))
        );
        let torn = mixture(&[
            ENGINE,
            "[running]\ntransfer_opens = \"123 deg\"\ntransfer_opens_uncertainty = \"+- 60 deg\"\n",
            PRESSURE,
        ]);
        let torn = torn.unwrap_err();
        assert!(matches!(torn, MixtureError::Running(_)), "{torn}");
        assert!(torn.to_string().starts_with("running: "), "{torn}");
    }

    #[test]
    fn the_document_has_both_loads() {
        let found = mixture(&[ENGINE, PRESSURE, VACUUM]).unwrap();
        let document = serde_json::to_value(found.document()).unwrap();
        assert_eq!(document["inward_run"], "vacuum");
        for (at, name) in ["idle", "full throttle"].into_iter().enumerate() {
            assert_eq!(document["loads"][at]["name"], name);
        }
    }
}
