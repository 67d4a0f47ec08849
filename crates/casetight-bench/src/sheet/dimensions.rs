//! `[engine]` and `[rig]`: the engine's dimensions, and the hose and gauge up to the case.

use super::document::Table;
use super::error::{Problem, SheetError};
use super::keys::declare::table;
use super::keys::rule::Optional;
use super::keys::valued::Unstated::LastDigit;
use super::keys::valued::Valued;
use super::usual::STATED;
use casetight::measured::Measured;
use casetight::quantity::{Length, Ratio, TradeUnits, Volume};
use casetight::volume::{Crank, Engine, Outline, Piston, TestedVolume, Transfers, VolumeError};

table! {
    /// What is known of the engine; this, `[volume]` or both. Displacement, or bore and stroke, are enough.
    #[derive(Default)]
    pub struct Dimensions, before of_some_size, after check {
        /// Bore.
        pub bore: Option<Measured<Length>> = Optional(Valued(LastDigit)), like "52 mm";
        /// Stroke.
        pub stroke: Option<Measured<Length>> = Optional(Valued(LastDigit)), like "40 mm";
        /// Displacement of the one cylinder whose crankcase is tested.
        pub displacement: Option<Measured<Volume>> = Optional(Valued(LastDigit)), like "51.5 cm3", else "that of bore and stroke, which are taken where both are there";
        /// Rod length from center to center.
        pub rod: Option<Measured<Length>> = Optional(Valued(LastDigit)), like "75 mm", else "1.6 to 2.1 strokes (common practice)";
        /// Crankcase volume at the top over that at the bottom.
        pub primary_compression_ratio: Option<Measured<Ratio>> = Optional(Valued(LastDigit)), like "1.45", else "1.3 to 1.6, as small two-stroke engines have";
        /// Cylinder volume at the bottom over that at the top, geometric; counts in runs with open transfers.
        pub compression_ratio: Option<Measured<Ratio>> = Optional(Valued(LastDigit)), like "8.2", else "7 to 12 (common practice)";
    }
}

impl Dimensions {
    /// The engine of these dimensions; none where bore, stroke, rod or primary compression ratio is missing.
    ///
    /// # Errors
    /// As [`Engine::new`] and [`Engine::with_compression_ratio`].
    pub fn engine(&self) -> Result<Option<Engine>, VolumeError> {
        let (Some([bore, stroke, rod]), Some(primary)) =
            (self.crank(), &self.primary_compression_ratio)
        else {
            return Ok(None);
        };
        let engine = Engine::new(bore, stroke, rod, primary.clone())?;
        Ok(Some(match &self.compression_ratio {
            Some(ratio) => engine.with_compression_ratio(ratio.clone())?,
            None => engine,
        }))
    }

    /// Bore, stroke and rod, where all are there.
    #[must_use]
    pub fn crank(&self) -> Option<[Measured<Length>; 3]> {
        let all = (self.bore.clone(), self.stroke.clone(), self.rod.clone());
        let (Some(bore), Some(stroke), Some(rod)) = all else {
            return None;
        };
        Some([bore, stroke, rod])
    }

    /// What is known of the engine, much or little; none without displacement, bore and stroke.
    ///
    /// # Errors
    /// As the constructors of [`Outline`] and as [`Crank::new`].
    pub fn outline(&self) -> Result<Option<Outline>, VolumeError> {
        let mut outline = match (&self.bore, &self.stroke, &self.displacement) {
            (Some(bore), Some(stroke), stated) => {
                let outline = Outline::of_bore_and_stroke(bore.clone(), stroke.clone())?;
                match stated {
                    Some(stated) => outline.beside_displacement(stated)?,
                    None => outline,
                }
            }
            (_, _, Some(displacement)) => Outline::of_displacement(displacement.clone())?,
            _ => return Ok(None),
        };
        if let (Some(stroke), Some(rod)) = (&self.stroke, &self.rod) {
            outline = outline.with_crank(Crank::new(stroke.value(), rod.value())?);
        }
        if let Some(ratio) = &self.primary_compression_ratio {
            outline = outline.with_primary_compression_ratio(ratio.clone())?;
        }
        if let Some(ratio) = &self.compression_ratio {
            outline = outline.with_compression_ratio(ratio.clone())?;
        }
        Ok(Some(outline))
    }

    /// The tested volume with the piston in this position and this rig. The position need not be known where the primary compression
    /// ratio isn't, which counts for more.
    ///
    /// # Errors
    /// [`Problem::NoPiston`], [`Problem::NeedsOneOf`] without a size; [`Problem::Volume`] as [`TestedVolume::from_engine`] and
    /// [`TestedVolume::from_outline`].
    pub fn tested(
        &self,
        piston: Option<Piston>,
        rig: &Measured<Volume>,
    ) -> Result<TestedVolume, Problem> {
        if self.needs_piston() && piston.is_none() {
            return Err(Problem::NoPiston);
        }
        if let (Some(engine), Some(piston)) = (self.engine()?, piston)
            && (self.compression_ratio.is_some() || piston.transfers() == Transfers::Shut)
        {
            return Ok(TestedVolume::from_engine(&engine, piston, rig)?);
        }
        let outline = self.outline()?.ok_or_else(no_size)?;
        Ok(TestedVolume::from_outline(&outline, piston, rig)?)
    }

    /// Whether a run must say where its piston stands.
    #[must_use]
    pub fn needs_piston(&self) -> bool {
        self.primary_compression_ratio.is_some()
    }
}

fn no_size() -> Problem {
    Problem::NeedsOneOf {
        keys: &["displacement", "bore"],
        advice: "the displacement is enough, such as `displacement = \"51.5 cm3\"`, or bore and stroke",
    }
}

fn of_some_size(table: &Table<'_>) -> Result<(), SheetError> {
    if table.has("displacement") {
        return Ok(());
    }
    match (table.has("bore"), table.has("stroke")) {
        (true, true) => Ok(()),
        (true, false) => Err(table.missing("stroke", "40 mm")),
        (false, true) => Err(table.missing("bore", "52 mm")),
        (false, false) => Err(table.error(no_size())),
    }
}

/// Bores and strokes of two-stroke engines \[m\], from a glow engine's to a large single's (common practice, no source).
const SIZES_M: (f64, f64) = (5e-3, 0.2);

fn check(dimensions: &Dimensions, table: &Table<'_>) -> Result<(), SheetError> {
    let (least, most) = SIZES_M;
    for (key, size) in [("bore", &dimensions.bore), ("stroke", &dimensions.stroke)] {
        let Some(size) = size else { continue };
        // What is no length at all is told below.
        let size = size.value().si_value();
        if size > 0.0 && !(least..=most).contains(&size) {
            let item = table.need(key, "52 mm")?;
            return Err(item.outside("what engines have, 5 to 200 mm; is the unit right?"));
        }
    }
    let checked = dimensions.outline().map(|_| ());
    let Err(error) = checked.and_then(|()| dimensions.engine().map(|_| ())) else {
        return Ok(());
    };
    // The core names dimensions as the sheet does.
    let key = match error {
        VolumeError::Length { name, .. }
        | VolumeError::Ratio { name, .. }
        | VolumeError::Input { name, .. } => name,
        VolumeError::Displacement { .. } => "displacement",
        _ => "rod",
    };
    Err(table.error_at(key, error))
}

table! {
    /// Hose and gauge up to the case; with `[engine]` only. Where it is not there, a usual hose and gauge of 10 to 40 cm3 (common practice).
    pub(super) struct Rig, after not_below_zero {
        /// Their volume; `"0 cm3"`, taken as exact, where the dimensions already hold it.
        volume: Measured<Volume> = Valued(LastDigit), like "35 cm3", uncertainty "uncertainty";
    }
}

fn not_below_zero(rig: &Rig, table: &Table<'_>) -> Result<(), SheetError> {
    let got = rig.volume.value().si_value();
    if got < 0.0 {
        return Err(table.error_at("volume", VolumeError::Rig { got }));
    }
    Ok(())
}

impl Rig {
    pub(super) fn of(volume: Measured<Volume>) -> Self {
        Self { volume }
    }

    /// The volume; exact where nothing is there and nothing was measured.
    pub(super) fn volume(self, table: &Table<'_>) -> Result<Measured<Volume>, SheetError> {
        let value = self.volume.value();
        if value.si_value() != 0.0 || self.volume.source() == STATED {
            return Ok(self.volume);
        }
        let exact = Measured::exact(value).map_err(|error| table.error_at("volume", error))?;
        Ok(exact.with_source(STATED))
    }
}
