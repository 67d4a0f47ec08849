//! The tested volume by measurement: what a sheet's `[volume]` table says beyond a number.

mod crank;
mod given;
mod liquid;
mod piece;
mod place;
mod rates;
mod reading;
mod with;

#[cfg(test)]
pub(crate) mod tests;

use uom::si::frequency::hertz;
use uom::si::pressure::pascal;
use uom::si::ratio::ratio;
use uom::si::volume::cubic_centimeter;

use super::content::Sheet;
use super::error::Problem;
use super::run::Run;
use super::usual::USUAL;
use crate::pump::DELIVERY_UNCERTAINTY;
use casetight::below::numerics::probability;
use casetight::fit::{PartKind, fit};
use casetight::measured::{Distribution, Evaluation, Measured, MeasuredError};
use casetight::quantity::{
    Frequency, GaugePressure, Pressure, Ratio, TemperatureInterval, TradeUnits, Volume,
};
use casetight::vessel::Direction;
use casetight::volume::{
    AddedLeak, Combined, Expansion, Fill, Liquid, Method, PartsList, Piston, Rotation, Settling,
    Strokes, TestedVolume, Transfers, VolumeError, combine_sharing,
};

pub use given::{
    AddedLeakReadings, BALANCE_SCALE_UNCERTAINTY, CALIPER_SCALE_UNCERTAINTY,
    CRANK_ANGLE_UNCERTAINTY, ExpansionReadings, FillReadings, Methods, PartsReadings,
    RotationReadings, SETTLED_WITHIN, StrokesReadings,
};
pub use liquid::FillLiquid;
pub(super) use place::{Wrong, place};
pub use rates::Rates;
pub(super) use reading::Gauged;
pub use with::{Added, With};

/// Inputs that a sheet states once and that every method takes from there, so that an error of one is the same error in
/// all of them.
const STATED_ONCE: &[&str] = &[
    "gauge zero",
    "ambient pressure",
    "gas temperature",
    "bore",
    "stroke",
    "rod",
];

/// Inputs that are each method's own, though several call theirs by the same name.
const OF_ONE_METHOD: &[&str] = &["reading before", "reading after", "gas not settled"];

/// The tested volume of one piston position by each method of a sheet, and what they give together.
#[derive(Debug, Clone, PartialEq)]
pub struct Volumes {
    /// One for each method.
    pub each: Vec<TestedVolume>,
    /// Their weighted mean; none of one method.
    pub combined: Option<Combined>,
    /// Methods that say nothing of this piston position.
    pub left_out: Vec<Method>,
}

impl Volumes {
    /// What the sheet's runs are fitted with: the weighted mean, or the one method's volume.
    #[must_use]
    pub fn tested(&self) -> Option<TestedVolume> {
        match (&self.combined, self.each.as_slice()) {
            (Some(combined), _) => Some(combined.tested()),
            (None, each) => each.first().cloned(),
        }
    }

    /// Inputs that several methods list under one name and that were taken as independent: to be named in `shared` if they
    /// are one thing.
    #[must_use]
    pub fn maybe_shared(&self) -> Vec<&str> {
        let names = self
            .combined
            .iter()
            .flat_map(Combined::taken_as_independent);
        names
            .map(AsRef::as_ref)
            .filter(|name| !OF_ONE_METHOD.contains(name))
            .collect()
    }

    /// Whether all methods agree ([`Combined::agree`]).
    #[must_use]
    pub fn agree(&self) -> bool {
        self.combined.as_ref().is_none_or(Combined::agree)
    }
}

/// An error at a key.
fn at<E: Into<Problem>>(key: &'static str) -> impl Fn(E) -> Wrong {
    move |error| match error.into() {
        // What all that is measured by gas shares stands beside the ways.
        problem @ Problem::Volume(VolumeError::Unresolved {
            unsettled: true, ..
        }) => ("settled_within", problem),
        problem => (key, problem),
    }
}

impl Methods {
    /// Whether nothing is said beyond dimensions or a number: a [`super::Space`] has words of its own for that.
    pub(super) fn is_plain(&self) -> bool {
        let bare = Self {
            engine: self.engine.clone(),
            value: self.value.clone(),
            ..Self::default()
        };
        self.engine.is_some() != self.value.is_some() && *self == bare
    }

    /// Whether a method measured the space of one piston position, whatever that is.
    pub(super) fn is_of_one_position(&self) -> bool {
        self.value.is_some()
            || self.expansion.is_some()
            || self.strokes.is_some()
            || self.added_leak.is_some()
            || self.fill.is_some()
            || self.parts.is_some()
    }

    /// Whether a volume depends on the piston by more than else is not known.
    pub(super) fn needs_piston(&self) -> bool {
        let engine = self.engine.as_ref();
        engine.is_some_and(|(dimensions, _)| dimensions.needs_piston()) || self.rotation.is_some()
    }

    /// The volume with the piston in this position, by every method that says something of it.
    pub(super) fn volumes(&self, sheet: &Sheet, piston: Option<Piston>) -> Result<Volumes, Wrong> {
        if self.needs_piston() && piston.is_none() {
            return Err(("", Problem::NoPiston));
        }
        let mut each = Vec::new();
        let mut left_out = Vec::new();
        if let Some((dimensions, rig)) = &self.engine {
            each.push(dimensions.tested(piston, rig).map_err(at("engine"))?);
        }
        if let Some(value) = &self.value {
            each.push(TestedVolume::measured_directly(value.clone()).map_err(at("value"))?);
        }
        if let Some(with) = &self.expansion {
            let tested = self.by_expansion(sheet, &with.method);
            each.push(with.plus(tested).map_err(at("expansion"))?);
        }
        if let (Some(with), Some(piston)) = (&self.rotation, piston) {
            let alone = self.engine.is_none() && !self.is_of_one_position();
            if piston.transfers() == Transfers::Open && !alone {
                left_out.push(Method::CrankRotation);
            } else {
                let tested = self.by_rotation(sheet, &with.method, piston);
                each.push(with.plus(tested).map_err(at("rotation"))?);
            }
        }
        if let Some(with) = &self.strokes {
            let tested = self.by_strokes(sheet, &with.method);
            each.push(with.plus(tested).map_err(at("strokes"))?);
        }
        if let Some(with) = &self.fill {
            let tested = by_fill(sheet, &with.method);
            each.push(with.plus(tested).map_err(at("fill"))?);
        }
        if let Some(with) = &self.parts {
            let tested = by_parts(&with.method);
            each.push(with.plus(tested).map_err(at("parts"))?);
        }
        if let Some(with) = &self.added_leak {
            let tested = self.by_added_leak(sheet, &with.method, each.first());
            each.push(with.plus(tested).map_err(at("added_leak"))?);
        }
        self.together(each, left_out)
    }

    /// The volumes and their weighted mean.
    fn together(&self, each: Vec<TestedVolume>, left_out: Vec<Method>) -> Result<Volumes, Wrong> {
        let known = || each.iter().flat_map(TestedVolume::contributions);
        if let Some(unknown) = (self.shared.iter()).find(|name| known().all(|c| c.name != **name)) {
            let mut names: Vec<String> = known().map(|c| c.name.to_string()).collect();
            names.sort();
            names.dedup();
            let input = unknown.clone();
            return Err((
                "shared",
                Problem::UnknownInput {
                    input,
                    known: names,
                },
            ));
        }
        let combined = if each.len() > 1 {
            let stated = STATED_ONCE.iter().copied();
            let shared: Vec<&str> = stated
                .chain(self.shared.iter().map(String::as_str))
                .collect();
            Some(combine_sharing(&each, &shared).map_err(at(""))?)
        } else {
            None
        };
        Ok(Volumes {
            each,
            combined,
            left_out,
        })
    }

    fn zero(&self, sheet: &Sheet) -> Result<Measured<GaugePressure>, MeasuredError> {
        if let Some(zero) = &self.gauge_zero {
            return Ok(zero.clone());
        }
        let reading = sheet.gauge.reading_uncertainty().get::<pascal>();
        let u = reading.hypot(sheet.gauge.offset_uncertainty().get::<pascal>());
        let normal = Evaluation::TypeB(Distribution::Normal);
        let zero = Measured::new(GaugePressure::ZERO, Pressure::new::<pascal>(u), normal)?;
        Ok(zero.with_source(USUAL))
    }

    fn settling(&self, sheet: &Sheet) -> Result<Settling, Problem> {
        let temperature = self.temperature.as_ref();
        let temperature = temperature.unwrap_or(&sheet.ambient.temperature);
        let within = match self.settled_within {
            Some(within) => within,
            None => TemperatureInterval::parse(SETTLED_WITHIN)?,
        };
        Ok(Settling::within(temperature.clone(), within)?)
    }

    fn by_expansion(
        &self,
        sheet: &Sheet,
        readings: &ExpansionReadings,
    ) -> Result<TestedVolume, Problem> {
        Ok(TestedVolume::from_expansion(&Expansion {
            reference: readings.reference.clone(),
            before: readings.before.clone(),
            tested: readings.tested_before.clone(),
            after: readings.after.clone(),
            zero: self.zero(sheet)?,
            ambient: sheet.ambient.pressure_at_bench()?,
            settling: self.settling(sheet)?,
        })?)
    }

    fn by_rotation(
        &self,
        sheet: &Sheet,
        readings: &RotationReadings,
        piston: Piston,
    ) -> Result<TestedVolume, Problem> {
        let of_engine = || self.engine.as_ref()?.0.crank();
        let crank = readings.crank.clone().or_else(of_engine);
        let example = "bore = \"42 mm\"".to_owned();
        let [bore, stroke, rod] = crank.ok_or(Problem::Missing { example })?;
        let rotation = Rotation {
            bore,
            stroke,
            rod,
            from: readings.from.clone(),
            to: readings.to.clone(),
            before: readings.before.clone(),
            after: readings.after.clone(),
            zero: self.zero(sheet)?,
            ambient: sheet.ambient.pressure_at_bench()?,
            settling: self.settling(sheet)?,
            loss: readings.loss.clone(),
        };
        Ok(TestedVolume::from_rotation(&rotation, piston)?)
    }

    fn by_strokes(
        &self,
        sheet: &Sheet,
        readings: &StrokesReadings,
    ) -> Result<TestedVolume, Problem> {
        let normal = Evaluation::TypeB(Distribution::Normal);
        let one = Ratio::new::<ratio>(1.0);
        let delivery = match &readings.delivery {
            Some(delivery) => delivery.clone(),
            None => Measured::new(one, Ratio::new::<ratio>(DELIVERY_UNCERTAINTY), normal)?,
        };
        // A gauge whose scale is off makes all readings larger alike, as a better delivery would.
        let scale = sheet.gauge.scale_uncertainty() * delivery.value().value;
        let u = delivery.standard_uncertainty().value.hypot(scale);
        let delivery = Measured::new(delivery.value(), Ratio::new::<ratio>(u), normal)?;
        let dead_space = match &readings.dead_space {
            Some(dead_space) => dead_space.clone(),
            None => Measured::exact(Volume::new::<cubic_centimeter>(0.0))?,
        };
        Ok(TestedVolume::from_strokes(&Strokes {
            stroke_volume: readings.stroke_volume.clone(),
            delivery,
            dead_space,
            readings: readings.readings.clone(),
            zero: self.zero(sheet)?,
            ambient: sheet.ambient.pressure_at_bench()?,
            settling: self.settling(sheet)?,
        })?)
    }

    /// `first` is the volume by another method, if there is one: a fit may ask for a rough volume.
    fn by_added_leak(
        &self,
        sheet: &Sheet,
        readings: &AddedLeakReadings,
        first: Option<&TestedVolume>,
    ) -> Result<TestedVolume, Problem> {
        let temperature = self.temperature.as_ref();
        let volume = |rates: FittedRates, gas| {
            TestedVolume::from_added_leak(&AddedLeak {
                alone: rates.alone,
                together: rates.together,
                rate_correlation: readings.rate_correlation.unwrap_or(rates.correlation),
                known: readings.known_area.clone(),
                temperature: temperature.unwrap_or(&sheet.ambient.temperature).clone(),
                gas,
            })
        };
        let gas = |direction| {
            let found = sheet.gas_in(direction);
            found.map_err(|error| error.problem().clone())
        };
        let both = match &readings.rates {
            Rates::Stated { alone, together } => {
                let rates = FittedRates {
                    alone: alone.clone(),
                    together: together.clone(),
                    correlation: 0.0,
                };
                volume(rates, gas(Direction::Pressure)?)?
            }
            Rates::Runs { alone, together } => {
                let [alone, together] = [run_of(sheet, alone)?, run_of(sheet, together)?];
                let gas = gas(alone.shown_direction())?;
                let mut rough = match first {
                    Some(tested) => tested.volume().clone(),
                    None => Measured::exact(Volume::new::<cubic_centimeter>(ROUGH_CM3))?,
                };
                // The rate hardly asks for the volume; a second pass takes what little it does.
                let once = volume(FittedRates::of(sheet, [alone, together], &rough)?, gas)?;
                rough = once.volume().volume().clone();
                volume(FittedRates::of(sheet, [alone, together], &rough)?, gas)?
            }
        };
        Ok(both.volume().clone())
    }
}

/// A volume to start from where none is known \[cm3\].
const ROUGH_CM3: f64 = 250.0;

/// Two rates and their correlation.
struct FittedRates {
    alone: Measured<Frequency>,
    together: Measured<Frequency>,
    correlation: f64,
}

impl FittedRates {
    /// From the readings of two runs: gauge and barometer are shared by both.
    fn of(sheet: &Sheet, runs: [&Run; 2], rough: &Measured<Volume>) -> Result<Self, Problem> {
        let rate = |run: &Run| -> Result<(Measured<Frequency>, f64), Problem> {
            let readings = run.record.readings().ok_or_else(|| Problem::NoReadings {
                run: run.name.clone(),
            })?;
            let bench = sheet
                .bench_with(rough.clone(), readings.direction())
                .map_err(|error| error.problem().clone())?;
            let found =
                fit(readings, &bench, crate::assess::LEVEL).map_err(|error| Problem::RunFit {
                    run: run.name.clone(),
                    error,
                })?;
            let (z, k) = (
                probability::normal_quantile(0.5 + found.rate.level / 2.0),
                found.rate.si(),
            );
            let u = (k.high - k.low) / (2.0 * z);
            let per_second = Frequency::new::<hertz>;
            let measured = Measured::new(per_second(k.value), per_second(u), Evaluation::Combined)?;
            let shared = [PartKind::Gauge, PartKind::Ambient].map(|part| found.relative_part(part));
            let relative = shared.iter().fold(0.0_f64, |sum, part| sum.hypot(*part));
            // In a deep noise the parts are those of the best fit, and can exceed the whole.
            Ok((measured, (relative * k.value / u).min(1.0)))
        };
        let [alone, together] = runs;
        let ((alone, first), (together, second)) = (rate(alone)?, rate(together)?);
        Ok(Self {
            alone,
            together,
            correlation: first * second,
        })
    }
}

fn run_of<'s>(sheet: &'s Sheet, name: &str) -> Result<&'s Run, Problem> {
    let found = sheet.runs.iter().find(|run| run.name == name);
    found.ok_or_else(|| Problem::UnknownRun {
        name: name.to_owned(),
        known: sheet.runs.iter().map(|run| run.name.clone()).collect(),
    })
}

fn by_fill(sheet: &Sheet, readings: &FillReadings) -> Result<TestedVolume, Problem> {
    let liquid = match &readings.liquid {
        FillLiquid::Water { temperature } => {
            Liquid::water(temperature.as_ref().unwrap_or(&sheet.ambient.temperature))?
        }
        FillLiquid::OfDensity(density) => Liquid::of_density(density.clone())?,
    };
    Ok(TestedVolume::from_fill(&Fill {
        empty: readings.empty.clone(),
        full: readings.full.clone(),
        balance_scale: scale(
            readings.balance_scale_uncertainty,
            BALANCE_SCALE_UNCERTAINTY,
        )?,
        liquid,
        air: match &readings.air_density {
            Some(air) => air.clone(),
            None => Fill::any_air()?,
        },
        trapped: readings.trapped.clone(),
    })?)
}

fn by_parts(readings: &PartsReadings) -> Result<TestedVolume, Problem> {
    Ok(TestedVolume::from_parts_list(&PartsList {
        pieces: readings.pieces.clone(),
        caliper_scale: scale(
            readings.caliper_scale_uncertainty,
            CALIPER_SCALE_UNCERTAINTY,
        )?,
    })?)
}

/// A scale of one with its standard uncertainty.
fn scale(stated: Option<Ratio>, usual: f64) -> Result<Measured<Ratio>, MeasuredError> {
    let u = stated.unwrap_or(Ratio::new::<ratio>(usual));
    let normal = Evaluation::TypeB(Distribution::Normal);
    Measured::new(Ratio::new::<ratio>(1.0), u, normal)
}
