//! What one run tells of the leak.

use uom::si::area::square_meter;

use crate::assess::{Assumptions, Move, Outcome, RunAssessment};
use crate::pump::Stall;
use casetight::below::KILOPASCAL;
use casetight::below::numerics::probability;
use casetight::estimate::Estimate;
use casetight::fit::{Fit, Method, fit};
use casetight::leak::EffectiveArea;
use casetight::quantity::{Area, GaugePressure, Unit};
use casetight::readings::{Bench, Readings};
use casetight::vessel::{DecayLaw, Direction, rate_per_area};

use super::CompareError;

/// One-sided levels at which a stalled pump is asked for its bound: what it says at 50 % is the best value, and the
/// other one tells the uncertainty of it.
const STALL_MIDDLE: f64 = 0.5;
const STALL_BELOW: f64 = 0.6;

/// What a test knows of the leak's size.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Known {
    /// A value with a lower and an upper end.
    Both,
    /// An upper end only: the needle can't be told from one that stands still.
    AtMost,
    /// A lower end only: the pump stalled, or the needle was at rest by the second reading.
    AtLeast,
}

/// What one run tells of the leak, ready to be compared: the area with what the readings alone leave open, and apart from
/// it what may be common to two tests.
///
/// ```
/// use casetight_bench::compare::{Change, Shared, Test, compare};
/// use casetight::gas::Gas;
/// use casetight::gauge::Gauge;
/// use casetight::measured::{Distribution, Evaluation, Measured};
/// use casetight::quantity::{AbsolutePressure, Pressure, TradeUnits, TemperatureDrift, ThermodynamicTemperature, Volume};
/// use casetight::readings::{Bench, Readings};
///
/// // Nobody knows this volume better than to a tenth, but it is the same one before and after.
/// let volume = Volume::parse("250 cm3")?;
/// let bench = Bench {
///     volume: Measured::new(volume, volume * 0.1, Evaluation::TypeB(Distribution::Normal))?,
///     ambient_pressure: Measured::exact(AbsolutePressure::from_pascals(101_325.0)?)?,
///     drift_allowance: TemperatureDrift::ZERO,
///     effects: casetight::readings::Effects::none(),
///     heat: casetight::vessel::Heat::ISOTHERMAL,
///     temperature: Measured::exact(ThermodynamicTemperature::parse("20 C")?)?,
///     gauge: Gauge::digital(Pressure::parse("100 Pa")?)?,
///     gas: Gas::dry_air(),
/// };
/// let test = |gauges: &[f64]| -> Result<Test, Box<dyn std::error::Error>> {
///     let readings = Readings::from_si(&[0.0, 10.0, 20.0, 30.0], gauges, bench.ambient_pressure.value())?;
///     Ok(Test::of_readings(&readings, &bench, 0.95)?)
/// };
/// let before = test(&[48_300.0, 42_800.0, 37_700.0, 32_800.0])?;
/// let after = test(&[48_200.0, 47_000.0, 45_800.0, 44_600.0])?;
/// let repaired = compare(&before, &after, &Shared::all(), 0.95)?;
/// assert_eq!(repaired.change, Change::Fell);
/// assert!(repaired.ratio.low > 0.15 && repaired.ratio.high < 0.25);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Test {
    direction: Direction,
    start: GaugePressure,
    /// What its pressures are told in.
    unit: &'static Unit,
    known: Known,
    /// Area by the readings: noise and rounding, drift, gauge and ambient in it, volume and temperature not. Of a
    /// lower bound: where it lies for a leak that is just as small as it can be.
    by_readings: Estimate<Area>,
    /// The same with the gauge taken at its word; none where a bound is all that is known.
    held: Option<Held>,
    /// The laws that the readings leave open, with their weights.
    laws: Vec<(DecayLaw, f64)>,
    /// Standard uncertainties relative to the area.
    volume: f64,
    temperature: f64,
}

/// An area by the readings with the gauge's offset and scale held at zero, and how it answers to them.
///
/// Where each test fits its own offset, the two differ by their noise and do not cancel. With a gauge that both share, the
/// area that takes it at its word is wrong in both alike.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Held {
    /// Area by the readings.
    pub(super) area: Estimate<Area>,
    /// What ln A would change by for one standard uncertainty of the gauge's offset, and of its scale.
    pub(super) answers: [f64; 2],
}

impl Test {
    /// From readings, at this level (0.95 is usual; it matters little, since the shape of the interval is kept).
    ///
    /// # Errors
    /// As [`fit`].
    pub fn of_readings(
        readings: &Readings,
        bench: &Bench,
        level: f64,
    ) -> Result<Self, CompareError> {
        Self::of_fit(&fit(readings, bench, level)?, bench)
    }

    /// From a stalled pump: the leak has a lower bound.
    ///
    /// # Errors
    /// As [`Stall::least_area`].
    pub fn of_stall(stall: &Stall, bench: &Bench, level: f64) -> Result<Self, CompareError> {
        let at = |level: f64| {
            stall
                .least_area(bench, level)
                .map(EffectiveArea::square_meters)
        };
        let (middle, below) = (at(STALL_MIDDLE)?, at(STALL_BELOW)?);
        let half = (middle - below) * probability::normal_quantile(0.5 + level / 2.0)
            / probability::normal_quantile(STALL_BELOW);
        Ok(Self {
            direction: stall.direction(),
            start: stall.reached(),
            unit: &KILOPASCAL,
            known: Known::AtLeast,
            by_readings: Estimate::of_size(middle, middle - half, middle + half, level)
                .map(Area::new::<square_meter>),
            held: None,
            laws: Assumptions::default().laws(),
            volume: 0.0,
            temperature: 0.0,
        })
    }

    /// From a run that was assessed on this bench.
    ///
    /// # Errors
    /// As [`Test::of_readings`] and [`Test::of_stall`].
    pub fn of_assessment(run: &RunAssessment, bench: &Bench) -> Result<Self, CompareError> {
        let test = match &run.outcome {
            Outcome::Fitted(fitted) => Self::of_fit(&fitted.fit, bench)?,
            Outcome::Stalled { stall, .. } => {
                let test = Self::of_stall(stall, bench, run.assumptions.level)?;
                run.assumptions
                    .law
                    .map_or(test.clone(), |law| test.by_law(law))
            }
        };
        let unit = run.assumptions.pressure_unit;
        Ok(Self { unit, ..test })
    }

    /// What its pressures are told in.
    pub(super) fn unit(&self) -> &'static Unit {
        self.unit
    }

    fn of_fit(fit: &Fit, bench: &Bench) -> Result<Self, CompareError> {
        let per_area = rate_per_area(bench.volume.value(), bench.ambient(), &bench.gas)
            .map_err(casetight::fit::FitError::from)?;
        let by_readings = fit.rate.scaled_to::<Area>(1.0 / per_area);
        let known = if fit.method == Method::Fallen || !fit.rate.high.is_finite() {
            Known::AtLeast
        } else if fit.rate.si().low > 0.0 {
            Known::Both
        } else {
            Known::AtMost
        };
        let by_readings = if known == Known::AtLeast {
            let (least, low) = (by_readings.value, by_readings.low);
            Estimate::of_size(least, low, 2.0 * least - low, by_readings.level)
        } else {
            by_readings
        };
        Ok(Self {
            direction: fit.direction,
            start: fit.start,
            unit: &KILOPASCAL,
            known,
            by_readings,
            held: if known == Known::Both {
                Held::of(fit, bench, 1.0 / per_area)?
            } else {
                None
            },
            laws: fit.laws_between_pressures(),
            // What hose and boots stretch by is the same in both tests.
            volume: bench.volume.relative().unwrap_or(0.0),
            // The rate's square root of the temperature.
            temperature: 0.5 * bench.temperature.relative().unwrap_or(0.0),
        })
    }

    /// The same test, its leak known to follow this law.
    #[must_use]
    pub fn by_law(mut self, law: DecayLaw) -> Self {
        self.laws = vec![(law, 1.0)];
        self
    }

    /// The same test with its area moved to another pressure: what an orifice would need there to pass the flow that the
    /// test's law passes. The area of an orifice is the same at every pressure. Of several laws that the readings leave open
    /// the weighted mean of the logarithms counts, and their spread widens the interval; a lower bound stays one by the law that leaves the
    /// least of it.
    ///
    /// # Errors
    /// A pressure beyond a perfect vacuum or on the other side of ambient; a law that is not valid.
    pub fn at_pressure(
        mut self,
        bench: &Bench,
        gauge: GaugePressure,
    ) -> Result<Self, CompareError> {
        gauge.absolute(bench.ambient().pressure)?;
        let by = Move {
            bench,
            direction: self.direction,
            from: self.start,
            to: gauge,
        };
        let laws = self.laws.iter().copied();
        let moved = match self.known {
            Known::AtLeast => by.of_lower_bound(laws)?.map(|factor| (factor, 0.0)),
            Known::Both | Known::AtMost => by.of_area(laws)?,
        };
        let (factor, uncertainty) = moved.ok_or(CompareError::OtherSide {
            direction: self.direction,
            got: gauge,
        })?;
        let moved = |area: Estimate<Area>| area.scaled(factor).widened(uncertainty);
        self.by_readings = moved(self.by_readings);
        if let Some(held) = &mut self.held {
            held.area = moved(held.area);
        }
        self.start = gauge;
        Ok(self)
    }

    /// Whether the leak is taken as an orifice and nothing else.
    #[must_use]
    pub fn is_orifice(&self) -> bool {
        self.laws.iter().all(|(law, _)| *law == DecayLaw::Orifice)
    }

    /// Pressure or vacuum.
    #[must_use]
    pub fn direction(&self) -> Direction {
        self.direction
    }

    /// The gauge pressure that the area belongs to: the run's start, or where [`Test::at_pressure`] moved it.
    #[must_use]
    pub fn gauge_pressure(&self) -> GaugePressure {
        self.start
    }

    /// What is known of the leak's size.
    #[must_use]
    pub fn known(&self) -> Known {
        self.known
    }

    /// Effective area with all that makes it uncertain; of a lower bound, where it lies for a leak that is just as
    /// small as it can be.
    #[must_use]
    pub fn area(&self) -> Estimate<Area> {
        self.by_readings
            .widened(self.volume.hypot(self.temperature))
    }

    pub(super) fn by_readings(&self) -> Estimate<Area> {
        self.by_readings
    }

    pub(super) fn held(&self) -> Option<Held> {
        self.held
    }

    pub(super) fn volume(&self) -> f64 {
        self.volume
    }

    pub(super) fn temperature(&self) -> f64 {
        self.temperature
    }
}

impl Held {
    /// None where the readings tell no size with the gauge taken at its word.
    ///
    /// A gauge that shows too much by b is one whose readings are to be taken down by b. So the fit itself, whatever its law,
    /// tells the answer with its sign.
    fn of(fitted: &Fit, bench: &Bench, per_rate: f64) -> Result<Option<Self>, CompareError> {
        use uom::si::pressure::pascal;

        // The readings are those of leak and rig together, so that no fit of them gives the leak alone.
        if fitted.rig.is_some() {
            return Ok(None);
        }
        let times: Vec<f64> = fitted.residuals.iter().map(|r| r.time_s).collect();
        let held_bench = Bench {
            gauge: bench.gauge.without_accuracy_class(),
            ..bench.clone()
        };
        let rate = |change: &dyn Fn(f64) -> f64| -> Result<Estimate<f64>, CompareError> {
            let gauges: Vec<f64> = fitted
                .residuals
                .iter()
                .map(|r| change(r.reading_pa))
                .collect();
            let readings = Readings::from_si(&times, &gauges, bench.ambient_pressure.value())?;
            Ok(fit(&readings, &held_bench, fitted.rate.level)?.rate.si())
        };
        let offset = bench.gauge.offset_uncertainty().get::<pascal>();
        let scale = bench.gauge.scale_uncertainty();
        if offset == 0.0 && scale == 0.0 {
            return Ok(Some(Self {
                area: fitted.rate.scaled_to(per_rate),
                answers: [0.0; 2],
            }));
        }
        let held = rate(&|reading| reading)?;
        // Away from zero, so that no reading changes sides.
        let away = fitted.direction.sign();
        let by_offset = rate(&|reading| reading + away * offset)?;
        let by_scale = rate(&|reading| reading * (1.0 + scale))?;
        let answers = [
            away * (by_offset.value / held.value).ln(),
            (by_scale.value / held.value).ln(),
        ];
        let usable =
            held.low > 0.0 && held.high.is_finite() && answers.iter().all(|a| a.is_finite());
        Ok(usable.then(|| Self {
            area: held.scaled_to(per_rate),
            answers,
        }))
    }
}

/// What the volumes of two tests have in common.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum SharedVolume {
    /// One volume, known once: its uncertainty cancels.
    Same,
    /// Two volumes known independently.
    Apart,
    /// Two volumes that follow in part from the same measurements: the relative standard uncertainty of their ratio.
    InPart {
        /// Of the volume after over the volume before.
        ratio_uncertainty: f64,
    },
}

/// What two tests have in common, so that it cancels in their ratio.
///
/// What is not shared is taken as independent. Where in doubt that is the wider answer, unless the two work against each
/// other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shared {
    /// The volume.
    pub volume: SharedVolume,
    /// One gauge, with the same offset and scale error both times.
    pub gauge: bool,
    /// One reading of the thermometer.
    pub surroundings: bool,
}

impl Shared {
    /// Two tests of one session.
    #[must_use]
    pub fn all() -> Self {
        Self {
            volume: SharedVolume::Same,
            gauge: true,
            surroundings: true,
        }
    }

    /// Nothing in common.
    #[must_use]
    pub fn nothing() -> Self {
        Self {
            volume: SharedVolume::Apart,
            gauge: false,
            surroundings: false,
        }
    }

    /// Relative standard uncertainty of the ratio of two areas by volume and temperature.
    pub(super) fn of_ratio(&self, before: &Test, after: &Test) -> Result<f64, CompareError> {
        let volume = match self.volume {
            // A stalled pump's bound hardly follows the volume, so that nothing cancels beside it.
            SharedVolume::Same => (after.volume - before.volume).abs(),
            SharedVolume::InPart { ratio_uncertainty }
                if before.volume > 0.0 && after.volume > 0.0
                    || !(ratio_uncertainty.is_finite() && ratio_uncertainty >= 0.0) =>
            {
                ratio_uncertainty
            }
            SharedVolume::Apart | SharedVolume::InPart { .. } => before.volume.hypot(after.volume),
        };
        if !(volume.is_finite() && volume >= 0.0) {
            return Err(CompareError::VolumeRatio { got: volume });
        }
        let temperature = if self.surroundings {
            after.temperature - before.temperature
        } else {
            before.temperature.hypot(after.temperature)
        };
        Ok(volume.hypot(temperature))
    }
}
