//! Axes with their grid and labels.

use super::frame::{Area, Frame};
use super::measures::{LINE, TEXT, TICK};
use super::pen::{Pen, words};
use super::sheet::Sheet;
use crate::chart::scale::Ticks;

impl Sheet<'_> {
    pub(super) fn x_axis(&mut self, frame: &Frame, ticks: &Ticks) {
        let Area {
            left,
            top,
            right,
            bottom,
        } = frame.area;
        let (mut grid, mut axis) = (Pen::default(), Pen::default());
        axis.stroke((left, bottom), (right, bottom));
        for x in ticks.unlabeled.iter().filter_map(|value| frame.x(*value)) {
            axis.stroke((x, bottom), (x, bottom + 0.6 * TICK));
        }
        let mut labels = Vec::new();
        for tick in &ticks.labeled {
            if let Some(x) = frame.x(tick.value) {
                grid.stroke((x, top), (x, bottom));
                axis.stroke((x, bottom), (x, bottom + TICK));
                labels.push(words(
                    x,
                    bottom + TICK + TEXT + 2.0,
                    "ctc-middle",
                    &tick.label,
                ));
            }
        }
        self.add(grid.path("ctc-grid", None));
        self.add(axis.path("ctc-axis", None));
        for label in labels {
            self.add(label);
        }
        self.y = bottom + TICK + LINE + 2.0;
    }

    pub(super) fn y_axis(&mut self, frame: &Frame, ticks: &Ticks) {
        let Area { left, right, .. } = frame.area;
        let (mut grid, mut axis) = (Pen::default(), Pen::default());
        for y in ticks.unlabeled.iter().filter_map(|value| frame.y(*value)) {
            axis.stroke((left - 0.6 * TICK, y), (left, y));
        }
        for tick in &ticks.labeled {
            if let Some(y) = frame.y(tick.value) {
                grid.stroke((left, y), (right, y));
                axis.stroke((left - TICK, y), (left, y));
                self.add(words(
                    left - 2.0 * TICK,
                    y + 0.35 * TEXT,
                    "ctc-end",
                    &tick.label,
                ));
            }
        }
        self.add(grid.path("ctc-grid", None));
        self.add(axis.path("ctc-axis", None));
    }
}
