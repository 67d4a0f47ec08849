//! Layout and drawing of a figure.
//!
//! The drawing is 720 units wide and printed at 180 mm, or half as much in a page, so a unit is a quarter of a millimeter and
//! text of 12 units is 8.5 points high on paper.

mod axes;
mod frame;
mod labels;
mod layers;
mod legend;
mod measures;
mod pen;
mod sheet;

use svg::Document;
use svg::node;
use svg::node::element::{Definitions, Description, Group, Rectangle, Style, Title};

use super::text::{coordinate, printable};
use super::theme::style_sheet;
use super::{Figure, Width};
use frame::Frames;
use measures::{
    FULL_RIM, FULL_WIDTH, GAP, HALF_RIM, HALF_WIDTH, HEADING, HEADING_LINE, LINE, MILLIMETERS, TEXT,
};
use sheet::Sheet;

/// The whole drawing.
pub(super) fn document(figure: &Figure) -> Document {
    let name = &figure.name;
    let (width, rim) = match figure.width {
        Width::Full => (FULL_WIDTH, FULL_RIM),
        Width::Half => (HALF_WIDTH, HALF_RIM),
    };
    let mut sheet = Sheet {
        drawn: Group::new(),
        clips: Definitions::new(),
        name,
        width,
        rim,
        y: rim,
    };
    if figure.headed {
        sheet.paragraph(&figure.title, "ctc-heading", HEADING, HEADING_LINE);
    }
    let frames = Frames::of(figure, (width, rim));
    for (index, panel) in figure.panels.iter().enumerate() {
        sheet.y += if index == 0 { GAP / 2.0 } else { GAP };
        sheet.panel(index, panel, &frames);
    }
    if !figure.caption.trim().is_empty() {
        sheet.y += GAP * 0.8;
        sheet.paragraph(&figure.caption, "ctc-quiet", TEXT, LINE);
    }
    let height = sheet.y + rim;
    let (title, description) = (format!("{name}-title"), format!("{name}-description"));
    Document::new()
        .set("id", name.as_str())
        .set("class", "ctc-figure ctc-ink")
        .set("role", "img")
        .set("aria-labelledby", title.as_str())
        .set("aria-describedby", description.as_str())
        .set("width", format!("{}mm", coordinate(width * MILLIMETERS)))
        .set("height", format!("{}mm", coordinate(height * MILLIMETERS)))
        .set(
            "viewBox",
            format!("0 0 {} {}", coordinate(width), coordinate(height)),
        )
        .add(Title::new(printable(&figure.title)).set("id", title))
        .add(
            Description::new()
                .set("id", description)
                .add(node::Text::new(printable(&figure.description))),
        )
        .add(Style::new(style_sheet()))
        .add(sheet.clips)
        .add(
            Rectangle::new()
                .set("class", "ctc-paper")
                .set("width", coordinate(width))
                .set("height", coordinate(height)),
        )
        .add(sheet.drawn)
}
