//! Labels of reference lines, moved so that none touches another.

use svg::node::element::Rectangle;

use super::frame::Frame;
use super::measures::{LINE, NOTE_GAP, TEXT, note_room};
use super::pen::{Pen, words};
use super::sheet::Sheet;
use crate::chart::Level;
use crate::chart::text::{coordinate, one_line, width};

impl Sheet<'_> {
    /// Labels of horizontal reference lines, right of the drawing area, where no data are.
    ///
    /// Labels that would touch are moved apart; an elbow leads from each line to its label.
    pub(super) fn level_labels(&mut self, frame: &Frame, levels: &[Level]) {
        let mut labels: Vec<(f64, String)> = levels
            .iter()
            .filter(|level| frame.y.contains(level.value))
            .filter_map(|level| {
                Some((
                    frame.y(level.value)?,
                    one_line(&level.label, TEXT, note_room(self.width)),
                ))
            })
            .filter(|(_, label)| !label.is_empty())
            .collect();
        labels.sort_by(|one, other| one.0.total_cmp(&other.0));
        let places = apart(labels.iter().map(|(y, _)| *y), 1.2 * TEXT);
        let right = frame.area.right;
        let mut elbows = Pen::default();
        for ((y, label), place) in labels.iter().zip(places) {
            elbows.through(&[(right, *y), (right + 3.0, *y), (right + 7.0, place)]);
            self.add(words(right + NOTE_GAP, place + 0.35 * TEXT, "", label));
        }
        self.add(elbows.path("ctc-axis", None));
    }

    /// Labels of vertical reference lines, above the drawing area, in as many rows as it takes for
    /// none to touch another; the line leads up to its label.
    pub(super) fn upright_labels(&mut self, frame: &Frame, uprights: &[Level]) {
        let area = frame.area;
        let mut labels: Vec<(f64, String)> = uprights
            .iter()
            .filter(|upright| frame.x.contains(upright.value))
            .filter_map(|upright| {
                let room = area.right - area.left;
                Some((
                    frame.x(upright.value)?,
                    one_line(&upright.label, TEXT, room),
                ))
            })
            .filter(|(_, label)| !label.is_empty())
            .collect();
        labels.sort_by(|one, other| one.0.total_cmp(&other.0));
        // The end of the last label of each row, the row next to the drawing area first.
        let mut ends: Vec<f64> = Vec::new();
        let mut placed = Vec::new();
        for (x, label) in labels {
            let half = width(&label, TEXT) / 2.0;
            let middle = x.min(area.right - half).max(area.left + half);
            let free = ends.iter().position(|end| *end + TEXT <= middle - half);
            let row = free.unwrap_or(ends.len());
            match ends.get_mut(row) {
                Some(end) => *end = middle + half,
                None => ends.push(middle + half),
            }
            placed.push((x, middle, row, label));
        }
        self.y += ends.iter().map(|_| LINE).sum::<f64>();
        let mut leads = Pen::default();
        let mut flags: Vec<Box<dyn svg::Node>> = Vec::new();
        for (x, middle, row, label) in placed {
            let bottom = self.y - row as f64 * LINE;
            leads.stroke((x, self.y), (x, bottom - 2.0));
            // A lead on its way to a higher row passes behind the label.
            let wide = width(&label, TEXT);
            let behind = Rectangle::new()
                .set("class", "ctc-paper")
                .set("x", coordinate(middle - wide / 2.0))
                .set("y", coordinate(bottom - LINE))
                .set("width", coordinate(wide))
                .set("height", coordinate(LINE - 2.0));
            flags.push(behind.into());
            flags.push(words(middle, bottom - 5.0, "ctc-middle", &label).into());
        }
        if !flags.is_empty() {
            self.add(leads.path("ctc-axis", None));
        }
        for flag in flags {
            self.add(flag);
        }
    }
}

/// Moves rising `places` as little as possible, in the sum of squares, to be `gap` apart.
///
/// Labels that would touch form a block around their mean place; blocks that touch merge.
fn apart(places: impl Iterator<Item = f64>, gap: f64) -> Vec<f64> {
    // Each block: how many labels, and the sum of where its first label would like to be.
    let mut blocks: Vec<(f64, f64)> = Vec::new();
    let start = |(count, sum): (f64, f64)| sum / count;
    for place in places {
        let mut block = (1.0, place);
        while let Some(above) = blocks.pop_if(|above| start(*above) + above.0 * gap > start(block))
        {
            block = (
                above.0 + block.0,
                above.1 + block.1 - block.0 * above.0 * gap,
            );
        }
        blocks.push(block);
    }
    blocks
        .into_iter()
        .flat_map(|block| {
            std::iter::successors(Some(0.0), |index| Some(index + 1.0))
                .take_while(move |index| *index < block.0)
                .map(move |index| start(block) + index * gap)
        })
        .collect()
}
