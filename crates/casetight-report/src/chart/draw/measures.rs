//! Lengths of the drawing, in its units.

/// Width of a drawing across the page, in its units, and of one of two side by side.
pub(super) const FULL_WIDTH: f64 = 720.0;
pub(super) const HALF_WIDTH: f64 = 360.0;
/// Millimeters to a unit at the printed width.
pub(super) const MILLIMETERS: f64 = 180.0 / FULL_WIDTH;
/// Blank rim on every side of a drawing that stands alone; in a page, which has blanks of its own, markers need some.
pub(super) const FULL_RIM: f64 = 18.0;
pub(super) const HALF_RIM: f64 = 4.0;
/// Least blank right of the drawing areas: half of a wide tick label sticks out there.
pub(super) const RIGHT: f64 = 30.0;
/// Blank between panels, and between the last panel and the caption.
pub(super) const GAP: f64 = 20.0;
/// Size of plain text, and the heights of lines of plain text, panel titles and the figure's title.
pub(super) const TEXT: f64 = 12.0;
pub(super) const LINE: f64 = 17.0;
pub(super) const SUBHEADING: f64 = 13.5;
pub(super) const SUBHEADING_LINE: f64 = 19.0;
pub(super) const HEADING: f64 = 17.0;
pub(super) const HEADING_LINE: f64 = 23.0;
/// Bold text to plain text, in width, on the wide side.
pub(super) const BOLD: f64 = 1.14;
/// From an axis to its tick labels.
pub(super) const TICK: f64 = 5.0;
/// How far markers and caps may stick out of the drawing area.
pub(super) const OVERHANG: f64 = 4.0;
/// Height of a row of a panel of sizes, and the thickness of its bar.
pub(super) const ROW: f64 = 22.0;
pub(super) const BAR: f64 = 13.0;
/// Radius of a row's dot.
pub(super) const DOT: f64 = 4.0;
/// Most of a drawing's width that names left of the drawing area may take.
pub(super) fn name_room(width: f64) -> f64 {
    (0.32 * width).min(210.0)
}

/// Most of a drawing's width that notes right of the drawing area may take.
pub(super) fn note_room(width: f64) -> f64 {
    (0.32 * width).min(150.0)
}

/// The blank before a note.
pub(super) const NOTE_GAP: f64 = 10.0;
/// Width of a legend's sample, the blank after it and the blank between entries.
pub(super) const SAMPLE: f64 = 24.0;
pub(super) const SAMPLE_GAP: f64 = 6.0;
pub(super) const ENTRY_GAP: f64 = 18.0;
