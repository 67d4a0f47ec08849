//! `[engine]` and `[rig]`: the engine's dimensions, and the hose and gauge up to the case.

use super::document::Table;
use super::error::SheetError;
use super::keys::declare::table;
use super::keys::rule::Optional;
use super::keys::valued::Unstated::LastDigit;
use super::keys::valued::Valued;
use super::usual::STATED;
use casetight::measured::Measured;
use casetight::quantity::{Length, Ratio, TradeUnits, Volume};
use casetight::volume::{Engine, VolumeError};

table! {
    /// The engine's dimensions; this, `[volume]` or both.
    pub struct Dimensions, after check {
        /// Bore.
        pub bore: Measured<Length> = Valued(LastDigit), like "52 mm";
        /// Stroke.
        pub stroke: Measured<Length> = Valued(LastDigit), like "40 mm";
        /// Rod length from center to center.
        pub rod: Measured<Length> = Valued(LastDigit), like "75 mm";
        /// Crankcase volume at the top over that at the bottom.
        pub primary_compression_ratio: Measured<Ratio> = Valued(LastDigit), like "1.45";
        /// Cylinder volume at the bottom over that at the top, geometric; needed by runs with open transfers.
        pub compression_ratio: Option<Measured<Ratio>> = Optional(Valued(LastDigit)), like "8.2";
    }
}

impl Dimensions {
    /// The engine of these dimensions.
    ///
    /// # Errors
    /// As [`Engine::new`] and [`Engine::with_compression_ratio`].
    pub fn engine(&self) -> Result<Engine, VolumeError> {
        let engine = Engine::new(
            self.bore.clone(),
            self.stroke.clone(),
            self.rod.clone(),
            self.primary_compression_ratio.clone(),
        )?;
        match &self.compression_ratio {
            Some(ratio) => engine.with_compression_ratio(ratio.clone()),
            None => Ok(engine),
        }
    }
}

/// Bores and strokes of two-stroke engines \[m\], from a glow engine's to a large single's (common practice, no source).
const SIZES_M: (f64, f64) = (5e-3, 0.2);

fn check(dimensions: &Dimensions, table: &Table<'_>) -> Result<(), SheetError> {
    let (least, most) = SIZES_M;
    for (key, size) in [("bore", &dimensions.bore), ("stroke", &dimensions.stroke)] {
        // What is no length at all is told below.
        let size = size.value().si_value();
        if size > 0.0 && !(least..=most).contains(&size) {
            let item = table.need(key, "52 mm")?;
            return Err(item.outside("what engines have, 5 to 200 mm; is the unit right?"));
        }
    }
    let Err(error) = dimensions.engine() else {
        return Ok(());
    };
    // The core names dimensions as the sheet does.
    let key = match error {
        VolumeError::Length { name, .. } | VolumeError::Ratio { name, .. } => name,
        _ => "rod",
    };
    Err(table.error_at(key, error))
}

table! {
    /// Hose and gauge up to the case; with `[engine]` only.
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
