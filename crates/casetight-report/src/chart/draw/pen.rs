//! What is drawn with: path data, markers and words.

use svg::node::element::{Path, Text};

use crate::chart::text::{coordinate, printable};
use crate::chart::theme::{Marker, Tone};

/// Path data in the making.
#[derive(Default)]
pub(super) struct Pen(pub(super) String);

impl Pen {
    fn go(&mut self, command: char, numbers: &[f64]) {
        self.0.push(command);
        for (index, number) in numbers.iter().enumerate() {
            if index > 0 {
                self.0.push(' ');
            }
            self.0 += &coordinate(*number);
        }
    }

    /// A straight line between two points.
    pub(super) fn stroke(&mut self, (x0, y0): (f64, f64), (x1, y1): (f64, f64)) {
        self.go('M', &[x0, y0]);
        self.go('L', &[x1, y1]);
    }

    /// A level line with a cap at both ends.
    pub(super) fn whisker(&mut self, lower: f64, upper: f64, middle: f64, cap: f64) {
        self.stroke((lower, middle), (upper, middle));
        for end in [lower, upper] {
            self.stroke((end, middle - cap), (end, middle + cap));
        }
    }

    /// A line through `points`; a single one becomes a short stroke, so that it is seen.
    pub(super) fn through(&mut self, points: &[(f64, f64)]) {
        if let [(x, y)] = points {
            self.stroke((x - 1.5, *y), (x + 1.5, *y));
            return;
        }
        for (index, (x, y)) in points.iter().enumerate() {
            self.go(if index == 0 { 'M' } else { 'L' }, &[*x, *y]);
        }
    }

    pub(super) fn marker(&mut self, marker: Marker, (x, y): (f64, f64), radius: f64) {
        let r = radius;
        match marker {
            Marker::Circle => {
                self.go('M', &[x - r, y]);
                self.go('a', &[r, r, 0.0, 1.0, 0.0, 2.0 * r, 0.0]);
                self.go('a', &[r, r, 0.0, 1.0, 0.0, -2.0 * r, 0.0]);
            }
            Marker::Diamond => self.closed(&[
                (x, y - 1.3 * r),
                (x + 1.3 * r, y),
                (x, y + 1.3 * r),
                (x - 1.3 * r, y),
            ]),
            Marker::Square => self.closed(&[
                (x - 0.9 * r, y - 0.9 * r),
                (x + 0.9 * r, y - 0.9 * r),
                (x + 0.9 * r, y + 0.9 * r),
                (x - 0.9 * r, y + 0.9 * r),
            ]),
            Marker::Triangle => self.closed(&[
                (x, y - 1.3 * r),
                (x + 1.2 * r, y + 0.9 * r),
                (x - 1.2 * r, y + 0.9 * r),
            ]),
            Marker::Cross => {
                self.stroke((x - r, y - r), (x + r, y + r));
                self.stroke((x - r, y + r), (x + r, y - r));
            }
        }
    }

    pub(super) fn closed(&mut self, corners: &[(f64, f64)]) {
        self.through(corners);
        self.0.push('Z');
    }

    /// A level rectangle around the line from `x0` to `x1`.
    pub(super) fn beam(&mut self, (x0, x1): (f64, f64), y: f64, half: f64) {
        self.closed(&[
            (x0, y - half),
            (x1, y - half),
            (x1, y + half),
            (x0, y + half),
        ]);
    }

    pub(super) fn path(self, class: &str, tone: Option<Tone>) -> Path {
        let class = match tone {
            Some(tone) => format!("{class} {}", tone.class()),
            None => class.to_owned(),
        };
        Path::new().set("class", class).set("d", self.0)
    }
}

pub(super) fn words(x: f64, y: f64, class: &str, content: &str) -> Text {
    let text = Text::new(printable(content))
        .set("x", coordinate(x))
        .set("y", coordinate(y));
    if class.is_empty() {
        text
    } else {
        text.set("class", class)
    }
}
