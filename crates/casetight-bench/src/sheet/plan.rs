//! `[plan]`: how the next test is meant to be run.

use uom::si::pressure::pascal;
use uom::si::time::second;
use uom::si::volume::cubic_centimeter;

use super::content::Sheet;
use super::document::Table;
use super::error::SheetError;
use super::methods::StrokesReadings;
use super::planned::Planned;
use super::run::Run;
use super::space::Space;
use crate::plan::{self, Intent, Plan, PlanError};
use crate::pump::{self, HandPump};
use casetight::caution;
use casetight::limit::Limit;
use casetight::quantity::{GaugePressure, Pressure, Time, TradeUnits, Volume};
use casetight::vessel::Direction;
use casetight::volume::{Piston, TestedVolume};

/// That the table fits the sheet whose other tables have been read.
pub(super) fn check(planned: &Planned, table: &Table<'_>, sheet: &Sheet) -> Result<(), SheetError> {
    if table.has("piston") {
        let volumes = sheet.volumes(planned.piston);
        table.of("piston", volumes.map_err(|(_, problem)| problem))?;
    }
    if let Some(target) = planned.target {
        let most = caution::pressure_limit();
        if planned.direction != Some(Direction::Vacuum) && target > most {
            let (target, most) = (target.si_value(), most.si_value());
            return Err(table.error_at("target", PlanError::AboveCaution { target, most }));
        }
        if planned.direction != Some(Direction::Pressure) {
            let depth = table.of("target", GaugePressure::new(-target))?;
            let ambient = sheet.ambient_pressure()?.value();
            table.of("target", depth.absolute(ambient))?;
        }
    }
    if let (Some(every), Some(hold)) = (planned.readings_every, planned.hold)
        && every > hold
    {
        let (every, hold) = (every.si_value(), hold.si_value());
        return Err(table.error_at("readings_every", PlanError::OneReading { every, hold }));
    }
    Ok(())
}

/// Pressure that a limit's fall or hold starts from, and its time.
fn start_and_time(limit: &Limit) -> (Option<Pressure>, Option<Time>) {
    match *limit {
        Limit::Drop { from, over, .. } => (Some(from), Some(over)),
        Limit::Hold { time, from } => (from, Some(time)),
        _ => (None, None),
    }
}

impl Sheet {
    /// Size of the gauge pressure that the next test is pumped to: that of `[plan]`, else that of the first limit which has
    /// one, else 7 psi (common practice).
    #[must_use]
    pub fn target(&self) -> Pressure {
        let mut limits = self.limits.iter();
        self.plan
            .target
            .or_else(|| limits.find_map(|stated| start_and_time(&stated.limit).0))
            .unwrap_or_else(|| Pressure::new::<pascal>(plan::TARGET_PA))
    }

    /// How long the next test is held: that of `[plan]`, else that of the first limit which has a time, else 60 s (common
    /// practice).
    #[must_use]
    pub fn hold(&self) -> Time {
        let mut limits = self.limits.iter();
        self.plan
            .hold
            .or_else(|| limits.find_map(|stated| start_and_time(&stated.limit).1))
            .unwrap_or_else(|| Time::new::<second>(plan::HOLD_SECONDS))
    }

    /// Time from reading to reading in the next test: that of `[plan]`, else a tenth of the hold.
    #[must_use]
    pub fn readings_every(&self) -> Time {
        self.plan
            .readings_every
            .unwrap_or_else(|| self.hold() / plan::INTERVALS)
    }

    /// Where the piston stands in the next test: as `[plan]` says, else as in the first run that says, else at the bottom,
    /// or at the top for an engine without compression ratio, whose volume at the bottom is known less well.
    #[must_use]
    pub fn planned_piston(&self) -> Piston {
        let mut runs = self.runs.iter();
        let usual = match self.space.dimensions() {
            Some(dimensions) if dimensions.compression_ratio.is_none() => Piston::Top,
            _ => Piston::Bottom,
        };
        self.plan
            .piston
            .or_else(|| runs.find_map(|run| run.piston))
            .unwrap_or(usual)
    }

    /// The pump of the next test: that of `[plan]`; where it says nothing, the one whose strokes `[volume.strokes]` counted, its
    /// delivery in the stroke volume; else 25 cm3 a stroke and no dead space. A stroke each second where no pace is stated
    /// (common practice).
    ///
    /// # Errors
    /// [`Problem::Plan`](super::Problem::Plan) for a pump that was put together by hand and is not valid.
    pub fn pump(&self) -> Result<HandPump, SheetError> {
        let cm3 = Volume::new::<cubic_centimeter>;
        let plan = &self.plan;
        let counted = match &self.space {
            Space::Methods(methods) => methods.strokes.as_ref().map(|with| &with.method),
            _ => None,
        };
        let delivered = |counted: &StrokesReadings| {
            let delivery = counted.delivery.as_ref().map_or(1.0, |of| of.value().value);
            counted.stroke_volume.value() * delivery
        };
        let dead_space = |counted: &StrokesReadings| Some(counted.dead_space.as_ref()?.value());
        let pump = HandPump::new(
            plan.stroke_volume
                .or_else(|| counted.map(delivered))
                .unwrap_or_else(|| cm3(pump::STROKE_VOLUME_CM3)),
            plan.dead_space
                .or_else(|| counted.and_then(dead_space))
                .unwrap_or_else(|| cm3(0.0)),
            plan.stroke_every
                .unwrap_or_else(|| Time::new::<second>(pump::STROKE_SECONDS)),
        );
        pump.map_err(|error| refused(PlanError::from(error)))
    }

    /// The volume under test in the next test.
    ///
    /// # Errors
    /// As [`Sheet::volume_for`].
    pub fn planned_volume(&self) -> Result<TestedVolume, SheetError> {
        self.volume_for(Some(self.planned_piston()))
    }

    /// What to expect of the next test, one plan for each direction.
    ///
    /// # Errors
    /// [`Problem::Plan`](super::Problem::Plan) says what is not valid, [`Problem::Volume`](super::Problem::Volume) as [`Sheet::volume_for`].
    pub fn plan(&self) -> Result<Vec<Plan>, SheetError> {
        let volume = self.planned_volume()?;
        let rig = self.space.rig();
        let limits: Vec<Limit> = self.limits.iter().map(|stated| stated.limit).collect();
        let pump = self.pump()?;
        let each = [Direction::Pressure, Direction::Vacuum].into_iter();
        each.filter(|direction| self.plan.direction.is_none_or(|only| only == *direction))
            .map(|direction| {
                let target = GaugePressure::new(self.target() * direction.sign())
                    .map_err(|error| refused(PlanError::from(error)))?;
                let intent = Intent {
                    target,
                    hold: self.hold(),
                    every: self.readings_every(),
                    pump,
                    discharge_coefficient: self.assumptions.discharge_coefficient,
                };
                let bench = self.bench_with(volume.volume().clone(), direction)?;
                let mut plan = Plan::new(&bench, rig, &limits, &intent).map_err(refused)?;
                let tested = |run: &Run| {
                    let held = run.record.readings();
                    run.rig_alone.is_some() && held.is_some_and(|r| r.direction() == direction)
                };
                if self.runs.iter().any(tested) {
                    plan.rig_is_tested();
                }
                Ok(plan)
            })
            .collect()
    }
}

fn refused(error: PlanError) -> SheetError {
    SheetError::new("", "plan", None, error)
}
