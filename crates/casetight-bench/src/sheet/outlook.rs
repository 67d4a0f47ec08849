//! What one more measurement would make of a sheet's volume: each is tried with usual uncertainties by the method's own model.

use uom::si::mass::gram;
use uom::si::mass_density::gram_per_cubic_centimeter;
use uom::si::pressure::pascal;
use uom::si::ratio::ratio;
use uom::si::volume::{cubic_centimeter, cubic_meter};

use super::content::Sheet;
use super::dimensions::Dimensions;
use super::error::{Problem, SheetError};
use super::methods::{
    Added, ExpansionReadings, FillLiquid, FillReadings, Methods, StrokesReadings, With,
};
use super::space::Space;
use crate::narrow::{Measurement, Narrowing, Taken, VolumeOutlook};
use crate::pump::STROKE_VOLUME_CM3;
use casetight::caution;
use casetight::measured::{Distribution, Evaluation, Measurable, Measured, MeasuredError};
use casetight::quantity::{GaugePressure, Mass, MassDensity, Ratio, Volume};
use casetight::volume::{Piston, StrokeReading, TestedVolume, usual_rig};

/// Within how much a maker's primary compression ratio is right (common practice, no source).
const RATIO_WITHIN: f64 = 0.02;

/// Within how much hose and gauge are known whose volume was measured \[cm3\] (common practice, no source).
const RIG_WITHIN_CM3: f64 = 1.0;

/// Within how much a workshop's balance is right \[g\]: half of its last digit.
const BALANCE_WITHIN_G: f64 = 0.5;

/// Density of a light oil \[g/cm3\], and within how much it is known where a known volume of it was weighed (common practice, no source).
const OIL: (f64, f64) = (0.86, 0.01);

/// What an engine on the balance weighs \[g\]; it drops out.
const ENGINE_G: f64 = 3000.0;

/// Air that stays in a case that is filled, as a share of it; it may as well be nothing, or twice that (common practice, no source).
const TRAPPED: f64 = 0.01;

/// Within how much a bottle's volume is known that was weighed full of water, as a share of it (common practice, no source).
const BOTTLE_WITHIN: f64 = 0.005;

/// Within how much the volume of a pump's stroke is known \[cm3\]: by caliper (common practice, no source).
const STROKE_WITHIN_CM3: f64 = 0.3;

/// What pumps and bottles are pumped to \[Pa\] (common practice, no source): well below [`caution::pressure_limit`].
const PUMPED_PA: f64 = 48e3;

/// Nobody counts more strokes.
const MOST_STROKES: u32 = 1000;

/// The name of the rig among a volume's inputs, and of the space that is added to a case that was filled.
const RIG: &str = "rig";

/// Shares of the variance below this are not worth a word.
const WORTH_A_WORD: f64 = 0.02;

impl Sheet {
    /// How well the tested volume is known with the piston in this position, what it is taken from, and which one more measurement would
    /// narrow it most: each is tried with usual uncertainties by the model of its method, beside what the sheet has.
    ///
    /// # Errors
    /// As [`Sheet::volume_for`].
    ///
    /// ```
    /// use casetight_bench::narrow::Measurement;
    /// use casetight_bench::sheet::{NoTraces, Sheet};
    ///
    /// let text = r#"
    /// format = 1
    /// [engine]
    /// displacement = "51.5 cm3"
    /// [ambient]
    /// pressure = "1013 hPa"
    /// temperature = "20 C"
    /// [gauge]
    /// unit = "kPa"
    /// resolution = "0.1 kPa"
    /// "#;
    /// let outlook = Sheet::parse(text, "sheet.toml", &NoTraces)?.volume_outlook(None)?;
    /// assert!(outlook.relative_uncertainty() > 0.15);
    /// assert_eq!(outlook.ways[0].measurement, Measurement::FillingAndRig);
    /// assert!(outlook.ways[0].relative_uncertainty < 0.02);
    /// # Ok::<(), casetight_bench::sheet::SheetError>(())
    /// ```
    pub fn volume_outlook(&self, piston: Option<Piston>) -> Result<VolumeOutlook, SheetError> {
        let tested = self.volume_for(piston)?;
        Ok(self.outlook_of(&tested, piston))
    }

    /// The outlook of a volume in which something stands for what the sheet does not state.
    pub(crate) fn taken_volume(
        &self,
        piston: Option<Piston>,
    ) -> Result<Option<VolumeOutlook>, SheetError> {
        let Space::Engine { .. } = &self.space else {
            return Ok(None);
        };
        let tested = self.volume_for(piston)?;
        let is_taken = !self.taken(&tested).is_empty();
        Ok(is_taken.then(|| self.outlook_of(&tested, piston)))
    }

    fn outlook_of(&self, tested: &TestedVolume, piston: Option<Piston>) -> VolumeOutlook {
        // One other bench, whose space is each in turn: a sheet may hold many readings.
        let mut other = self.clone();
        let each = Measurement::ALL.into_iter();
        let ways = each.filter_map(|measurement| {
            let (space, piston) = self.measured_too(measurement, piston, tested)?;
            other.space = space;
            // What this bench's gauge is too coarse for is no way here.
            let volume = other.volume_for(piston).ok()?;
            Some(Narrowing {
                measurement,
                relative_uncertainty: volume.volume().relative()?,
            })
        });
        let ways = ways.collect();
        VolumeOutlook::new(tested.volume().clone(), self.taken(tested), ways)
    }

    /// What stands in a volume for what the sheet does not state, the gravest first; nothing in one that was measured too.
    fn taken(&self, tested: &TestedVolume) -> Vec<Taken> {
        let Space::Engine { .. } = &self.space else {
            return Vec::new();
        };
        let mut taken: Vec<(Taken, f64)> = tested
            .typical()
            .map(|(typical, share)| (Taken::Typical(typical), share))
            .collect();
        if self.space.rig().is_none() {
            let rig = tested.contributions().iter().find(|c| c.name == RIG);
            taken.extend(rig.map(|rig| (Taken::UsualRig, rig.variance_share)));
        }
        taken.retain(|(_, share)| *share >= WORTH_A_WORD);
        taken.sort_by(|a, b| b.1.total_cmp(&a.1));
        taken.into_iter().map(|(taken, _)| taken).collect()
    }

    /// The sheet's space with one more measurement, and where the piston stands then; none where it is there already or says nothing.
    fn measured_too(
        &self,
        measurement: Measurement,
        piston: Option<Piston>,
        tested: &TestedVolume,
    ) -> Option<(Space, Option<Piston>)> {
        let mut methods = methods_of(&self.space);
        let volume = tested.volume().value();
        let told = piston.or(Some(Piston::Bottom));
        match measurement {
            Measurement::PrimaryRatio => {
                let (dimensions, rig) = methods.engine.as_mut()?;
                if dimensions.primary_compression_ratio.is_some() {
                    return None;
                }
                dimensions.primary_compression_ratio = Some(typical_ratio(dimensions, rig)?);
                return Some((Space::Methods(Box::new(methods)), told));
            }
            Measurement::Position => {
                methods.engine.as_ref().filter(|_| piston.is_none())?;
                return Some((Space::Methods(Box::new(methods)), told));
            }
            Measurement::Rig => {
                let (_, rig) = methods.engine.as_mut()?;
                if self.space.rig().is_some() {
                    return None;
                }
                *rig = measured_rig().ok()?;
            }
            Measurement::Filling | Measurement::FillingAndRig if methods.fill.is_none() => {
                let stated = self.space.rig().cloned();
                if stated.is_some() != (measurement == Measurement::Filling) {
                    return None;
                }
                let rig = match stated {
                    Some(rig) => rig,
                    None => measured_rig().ok()?,
                };
                methods.fill = Some(filled(volume, &rig).ok()?);
                if let Some((_, same)) = &mut methods.engine {
                    *same = rig;
                    methods.shared.push(RIG.to_owned());
                }
            }
            Measurement::Strokes if methods.strokes.is_none() => {
                methods.strokes = Some(self.counted(volume)?.ok()?);
            }
            Measurement::Expansion if methods.expansion.is_none() => {
                methods.expansion = Some(self.expanded(volume).ok()?);
            }
            _ => return None,
        }
        Some((Space::Methods(Box::new(methods)), piston))
    }

    /// Strokes of a usual pump, of which nobody tried what it delivers, to the pressure of a usual test; none where one stroke is too many.
    fn counted(&self, whole: Volume) -> Option<Result<With<StrokesReadings>, Problem>> {
        let ambient = self.ambient.pressure_at_bench().ok()?.value().pascals();
        let each =
            ambient * cm3(STROKE_VOLUME_CM3).get::<cubic_meter>() / whole.get::<cubic_meter>();
        let below = |strokes: &u32| f64::from(*strokes) * each <= PUMPED_PA;
        let strokes = (1..=MOST_STROKES).take_while(below).last().unwrap_or(1);
        let reached = f64::from(strokes) * each;
        if reached > caution::pressure_limit().get::<pascal>() {
            return None;
        }
        let stroke_volume = within(cm3(STROKE_VOLUME_CM3), cm3(STROKE_WITHIN_CM3));
        let made = || -> Result<With<StrokesReadings>, Problem> {
            let method = StrokesReadings {
                stroke_volume: stroke_volume?,
                delivery: None,
                dead_space: None,
                readings: vec![StrokeReading {
                    strokes,
                    reading: self.read(reached)?,
                }],
            };
            let add = Vec::new();
            Ok(With { method, add })
        };
        Some(made())
    }

    /// A bottle as large as the volume, pumped up and opened to it.
    fn expanded(&self, whole: Volume) -> Result<With<ExpansionReadings>, Problem> {
        let method = ExpansionReadings {
            reference: within(whole, whole * BOTTLE_WITHIN)?,
            before: self.read(PUMPED_PA)?,
            tested_before: None,
            after: self.read(PUMPED_PA / 2.0)?,
        };
        let add = Vec::new();
        Ok(With { method, add })
    }

    /// This pressure as the bench's gauge shows it.
    fn read(&self, pascals: f64) -> Result<Measured<GaugePressure>, Problem> {
        let reading = GaugePressure::from_pascals(pascals)?;
        let u = self.gauge.reading_uncertainty();
        Ok(Measured::new(reading, u, Evaluation::Combined)?)
    }
}

/// The ways that a space has, so that one more can stand beside them.
fn methods_of(space: &Space) -> Methods {
    match space {
        Space::Engine { dimensions, rig } => Methods {
            engine: Some((dimensions.clone(), rig.clone())),
            ..Methods::default()
        },
        Space::Measured(value) => Methods {
            value: Some(value.clone()),
            ..Methods::default()
        },
        Space::Methods(methods) => methods.as_ref().clone(),
    }
}

fn cm3(value: f64) -> Volume {
    Volume::new::<cubic_centimeter>(value)
}

fn within<Q: Measurable<Spread = Q>>(
    value: Q,
    half_width: Q,
) -> Result<Measured<Q>, MeasuredError> {
    Measured::from_half_width(value, half_width, Distribution::Rectangular)
}

/// A usual hose and gauge whose volume was measured.
fn measured_rig() -> Result<Measured<Volume>, MeasuredError> {
    within(usual_rig()?.value(), cm3(RIG_WITHIN_CM3))
}

/// The ratio that gives the volume as it is known already, as a maker would state it.
fn typical_ratio(dimensions: &Dimensions, rig: &Measured<Volume>) -> Option<Measured<Ratio>> {
    let outline = dimensions.outline().ok()??;
    let tested = TestedVolume::from_outline(&outline, None, rig).ok()?;
    let case = tested.parts().first()?.volume.value();
    let swept = outline.swept_volume().ok()?.value();
    let number = Ratio::new::<ratio>;
    within(number(1.0) + swept / case, number(RATIO_WITHIN)).ok()
}

/// Filled with light oil and weighed; hose and gauge were not filled, and are measured by themselves.
fn filled(whole: Volume, rig: &Measured<Volume>) -> Result<With<FillReadings>, Problem> {
    let case = whole - rig.value();
    let grams = Mass::new::<gram>;
    let (oil, oil_within) = OIL;
    let density = MassDensity::new::<gram_per_cubic_centimeter>;
    let oil_in = case * (1.0 - TRAPPED) * density(oil);
    let method = FillReadings {
        empty: within(grams(ENGINE_G), grams(BALANCE_WITHIN_G))?,
        full: within(grams(ENGINE_G) + oil_in, grams(BALANCE_WITHIN_G))?,
        liquid: FillLiquid::OfDensity(within(density(oil), density(oil_within))?),
        trapped: within(case * TRAPPED, case * TRAPPED)?,
        balance_scale_uncertainty: None,
        air_density: None,
    };
    let add = vec![Added {
        name: RIG.to_owned(),
        volume: rig.clone(),
    }];
    Ok(With { method, add })
}
