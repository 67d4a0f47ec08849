//! From a sheet to text.

use super::content::Sheet;
use super::error::SheetError;
use super::keys::keyed::Keyed;
use super::keys::writer::Writer;

impl Sheet {
    /// The sheet as text that [`Sheet::parse`] reads as an equal sheet, if it was parsed in the first place.
    ///
    /// Quantities are written with every bit, in the unit that takes the fewest digits. In a sheet that was put
    /// together by hand, what a sheet has no words for changes: an uncertainty that is neither a standard uncertainty nor
    /// a tolerance is written as a standard uncertainty, and sources are those of this module. A dial is written as the
    /// digital gauge that it reads like. A trace stays in its file.
    ///
    /// # Errors
    /// [`Problem::NotWritable`](super::Problem::NotWritable) for limits that one `[limit]` table can't hold, such as two of one kind.
    pub fn to_toml(&self) -> Result<String, SheetError> {
        let mut out = Writer::new(self.gauge_unit);
        self.write(&mut out);
        out.text()
    }
}
