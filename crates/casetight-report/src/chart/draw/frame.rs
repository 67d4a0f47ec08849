//! Drawing areas: their ranges, their ticks, and where a value lies in them.

use super::measures::{RIGHT, ROW, TEXT, TICK, name_room, note_room};
use crate::chart::scale::{Range, Scale, Tick, Ticks};
use crate::chart::text::{superscript, width};
use crate::chart::{Axis, Body, Figure, Panel, Point, Shape, Slice};

/// What the panels share: the drawing areas start and end at the same places.
pub(super) struct Frames {
    pub(super) left: f64,
    pub(super) right: f64,
}

impl Frames {
    pub(super) fn of(figure: &Figure, (sheet, rim): (f64, f64)) -> Self {
        let (name, note) = (name_room(sheet), note_room(sheet));
        let widest = |texts: Vec<&str>| {
            texts
                .into_iter()
                .map(|text| width(text, TEXT))
                .fold(0.0, f64::max)
        };
        let (mut left, mut right) = (0.0_f64, 0.0_f64);
        for panel in &figure.panels {
            match &panel.body {
                Body::Plane { levels, ends, .. } => {
                    let labels = levels.iter().chain(ends).map(|l| &*l.label);
                    right = right.max(widest(labels.collect()).min(note));
                    let ticks = y_ticks(&y_range(panel), panel.height);
                    left = left.max(widest(ticks.labeled.iter().map(|t| &*t.label).collect()));
                }
                Body::Rows { bars, .. } => {
                    left = left.max(widest(bars.iter().map(|b| &*b.name).collect()).min(name));
                    right = right.max(widest(bars.iter().map(|b| &*b.note).collect()).min(note));
                }
            }
        }
        let right = if right > 0.0 {
            right + rim + 10.0
        } else {
            RIGHT
        };
        Self {
            left: rim + left + 2.0 * TICK,
            right: sheet - right.max(RIGHT),
        }
    }
}

/// The range of an axis: the fixed one, or one around the data and what it was told to reach.
pub(super) fn range(axis: &Axis, values: impl Iterator<Item = f64>) -> Range {
    axis.range
        .and_then(|(low, high)| Range::fixed(axis.scale, low, high))
        .unwrap_or_else(|| Range::around(axis.scale, values.chain(axis.include.iter().copied())))
}

pub(super) fn x_values(panel: &Panel) -> Vec<f64> {
    let mut values: Vec<f64> = panel.uprights.iter().map(|upright| upright.value).collect();
    match &panel.body {
        Body::Plane { series, .. } => {
            for series in series {
                match &series.shape {
                    Shape::Points(points) => values.extend(points.iter().map(|p| p.x)),
                    Shape::Line(points) => {
                        values.extend(points.iter().map(|p| p.0));
                    }
                    Shape::Band(slices) => values.extend(slices.iter().map(|s| s.x)),
                }
            }
        }
        Body::Rows { bars, .. } => {
            if panel.x.scale == Scale::Linear {
                values.push(0.0);
            }
            for bar in bars {
                values.push(bar.value);
                values.extend(
                    bar.interval
                        .iter()
                        .flat_map(|(lower, upper)| [*lower, *upper]),
                );
            }
        }
    }
    values
}

pub(super) fn y_range(panel: &Panel) -> Range {
    let Body::Plane {
        y, series, levels, ..
    } = &panel.body
    else {
        return Range::around(Scale::Linear, []);
    };
    let mut values: Vec<f64> = levels.iter().map(|level| level.value).collect();
    for series in series {
        match &series.shape {
            Shape::Points(points) => {
                for point in points {
                    values.push(point.y);
                    values.extend(point.interval.iter().flat_map(|(l, u)| [*l, *u]));
                }
            }
            Shape::Line(points) => {
                values.extend(points.iter().map(|point| point.1));
            }
            Shape::Band(slices) => values.extend(slices.iter().flat_map(|s| [s.lower, s.upper])),
        }
    }
    range(y, values.into_iter())
}

/// As many labels as stand well clear of each other up the drawing area, closer where that leaves
/// only a few.
pub(super) fn y_ticks(y: &Range, height: f64) -> Ticks {
    let roomy = clear_ticks(y, height, |_, _| 2.0 * TEXT);
    if roomy.labeled.len() < 4 {
        clear_ticks(y, height, |_, _| 1.5 * TEXT)
    } else {
        roomy
    }
}

/// As many labels as stand clear of each other across the drawing area.
pub(super) fn x_ticks(x: &Range, room: f64) -> Ticks {
    clear_ticks(x, room, |one, next| {
        f64::midpoint(width(&one.label, TEXT), width(&next.label, TEXT)) + 1.4 * TEXT
    })
}

/// The densest ticks whose neighbors are as far apart as `needed`, along `room` units.
fn clear_ticks(range: &Range, room: f64, needed: impl Fn(&Tick, &Tick) -> f64) -> Ticks {
    const SPARSEST: u32 = 3;
    let place = |tick: &Tick| range.fraction(tick.value).unwrap_or(0.0) * room;
    let clear = |ticks: &Ticks| {
        let following = ticks.labeled.iter().skip(1);
        ticks
            .labeled
            .iter()
            .zip(following)
            .all(|(one, next)| place(next) - place(one) > needed(one, next))
    };
    (SPARSEST..=9)
        .rev()
        .map(|target| range.ticks(target))
        .find(clear)
        .unwrap_or_else(|| range.ticks(SPARSEST))
}

/// Title and unit of an axis, the power of ten its labels leave out with the unit.
pub(super) fn axis_title(axis: &Axis, exponent: i32) -> String {
    let unit = if exponent == 0 {
        axis.unit.clone()
    } else {
        format!("10{} {}", superscript(exponent), axis.unit)
    };
    match (axis.title.trim(), unit.trim()) {
        (title, "") => title.to_owned(),
        ("", unit) => format!("({unit})"),
        (title, unit) => format!("{title} ({unit})"),
    }
}

/// A rectangle of the sheet.
#[derive(Clone, Copy)]
pub(super) struct Area {
    pub(super) left: f64,
    pub(super) top: f64,
    pub(super) right: f64,
    pub(super) bottom: f64,
}

/// A drawing area and the ranges across it.
pub(super) struct Frame {
    pub(super) area: Area,
    pub(super) x: Range,
    pub(super) y: Range,
}

impl Frame {
    fn across(&self, fraction: f64) -> f64 {
        self.area.left + fraction * (self.area.right - self.area.left)
    }

    fn up(&self, fraction: f64) -> f64 {
        self.area.bottom - fraction * (self.area.bottom - self.area.top)
    }

    pub(super) fn x(&self, value: f64) -> Option<f64> {
        self.x.fraction(value).map(|fraction| self.across(fraction))
    }

    pub(super) fn y(&self, value: f64) -> Option<f64> {
        self.y.fraction(value).map(|fraction| self.up(fraction))
    }

    pub(super) fn x_end(&self, value: f64) -> Option<f64> {
        self.x
            .end_fraction(value)
            .map(|fraction| self.across(fraction))
    }

    pub(super) fn y_end(&self, value: f64) -> Option<f64> {
        self.y.end_fraction(value).map(|fraction| self.up(fraction))
    }

    pub(super) fn at(&self, (x, y): (f64, f64)) -> Option<(f64, f64)> {
        Some((self.x(x)?, self.y(y)?))
    }

    /// Where a point is drawn: points outside a fixed range are not.
    pub(super) fn point(&self, point: &Point) -> Option<(f64, f64)> {
        (self.x.contains(point.x) && self.y.contains(point.y))
            .then(|| self.at((point.x, point.y)))
            .flatten()
    }

    /// The middle of a row of a panel of bars.
    pub(super) fn row(&self, row: usize) -> f64 {
        self.area.top + (row as f64 + 0.5) * ROW
    }

    /// Where the two ends of a slice are drawn.
    pub(super) fn slice(&self, slice: &Slice) -> Option<(f64, f64, f64)> {
        Some((
            self.x(slice.x)?,
            self.y_end(slice.lower)?,
            self.y_end(slice.upper)?,
        ))
    }
}
