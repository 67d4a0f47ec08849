//! The legend: what is drawn, and how much could not be.

use super::frame::Frame;
use super::measures::{ENTRY_GAP, SAMPLE, SAMPLE_GAP, TEXT};
use crate::chart::text::width;
use crate::chart::theme::Tone;
use crate::chart::{Body, Panel, Scale, Series, Shape};

/// A legend's entry: what is sampled and its words.
pub(super) struct Entry {
    pub(super) sample: Sample,
    pub(super) words: String,
}

#[derive(Clone, Copy)]
pub(super) enum Sample {
    Points(Tone),
    Line(Tone),
    Band(Tone),
    Bar,
    Dot,
}

impl Entry {
    /// `None` where there is neither a label nor anything to own up to.
    fn new(sample: Sample, label: &str, all: usize, drawn: usize) -> Option<Self> {
        let missing = all.saturating_sub(drawn);
        let words = match (label.trim(), missing) {
            ("", 0) => return None,
            ("", _) => format!("{missing} not drawn"),
            (label, _) if drawn == 0 => format!("{label} (none)"),
            (label, 0) => label.to_owned(),
            (label, _) => format!("{label} ({missing} not drawn)"),
        };
        Some(Self { sample, words })
    }

    pub(super) fn width(&self) -> f64 {
        SAMPLE + SAMPLE_GAP + width(&self.words, TEXT)
    }
}

/// Breaks entries into rows no wider than `room`.
pub(super) fn legend_rows(entries: Vec<Entry>, room: f64) -> Vec<Vec<Entry>> {
    let mut rows: Vec<Vec<Entry>> = Vec::new();
    for entry in entries {
        match rows.last_mut() {
            Some(row) if row_width(row) + ENTRY_GAP + entry.width() <= room => row.push(entry),
            _ => rows.push(vec![entry]),
        }
    }
    rows
}

pub(super) fn row_width(row: &[Entry]) -> f64 {
    let gaps = row.iter().skip(1).map(|_| ENTRY_GAP);
    row.iter().map(Entry::width).chain(gaps).sum()
}

/// The entries of the legend, and whether anything but reference lines is drawn.
pub(super) fn legend(panel: &Panel, frame: &Frame) -> (Vec<Entry>, bool) {
    let counted: Vec<(Sample, &str, usize, usize)> = match &panel.body {
        Body::Plane { series, .. } => series
            .iter()
            .map(|Series { label, tone, shape }| {
                let (sample, all, drawn) = match shape {
                    Shape::Points(points) => {
                        let drawn = points.iter().filter(|p| frame.point(p).is_some());
                        (Sample::Points(*tone), points.len(), drawn.count())
                    }
                    Shape::Line(points) => {
                        let drawn = points.iter().filter(|p| frame.at(**p).is_some());
                        (Sample::Line(*tone), points.len(), drawn.count())
                    }
                    Shape::Band(slices) => {
                        let drawn = slices.iter().filter(|s| frame.slice(s).is_some());
                        (Sample::Band(*tone), slices.len(), drawn.count())
                    }
                };
                (sample, label.as_str(), all, drawn)
            })
            .collect(),
        Body::Rows { label, bars } => {
            let drawn = bars.iter().filter(|bar| frame.x(bar.value).is_some());
            let sample = match frame.x.scale() {
                Scale::Linear => Sample::Bar,
                Scale::Log => Sample::Dot,
            };
            vec![(sample, label.as_str(), bars.len(), drawn.count())]
        }
    };
    let anything = counted.iter().any(|(_, _, _, drawn)| *drawn > 0);
    let entries = counted
        .into_iter()
        .filter_map(|(sample, label, all, drawn)| Entry::new(sample, label, all, drawn))
        .collect();
    (entries, anything)
}
