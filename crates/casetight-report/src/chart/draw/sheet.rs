//! A figure in the making, from top to bottom.

use svg::node::element::{ClipPath, Definitions, Group, Rectangle};

use super::frame::{Area, Frame, Frames, axis_title, range, x_ticks, x_values, y_range, y_ticks};
use super::layers::{band, curve, reference_lines, row_size, scatter};
use super::legend::{Entry, Sample, legend, legend_rows, row_width};
use super::measures::{
    BOLD, DOT, ENTRY_GAP, LINE, NOTE_GAP, OVERHANG, RIGHT, ROW, SAMPLE, SAMPLE_GAP, SUBHEADING,
    SUBHEADING_LINE, TEXT, TICK, name_room, note_room,
};
use super::pen::{Pen, words};
use crate::chart::text::{coordinate, lines, one_line, width};
use crate::chart::theme::Tone;
use crate::chart::{Bar, Body, Level, Panel, Series};

/// A figure in the making: what is drawn so far and how far down it reaches.
pub(super) struct Sheet<'a> {
    pub(super) drawn: Group,
    pub(super) clips: Definitions,
    pub(super) name: &'a str,
    pub(super) width: f64,
    pub(super) rim: f64,
    pub(super) y: f64,
}

impl Sheet<'_> {
    pub(super) fn add(&mut self, node: impl Into<Box<dyn svg::Node>>) {
        svg::Node::append(&mut self.drawn, node);
    }

    /// Adds lines of text across the whole width; sizes above that of plain text are bold.
    pub(super) fn paragraph(&mut self, content: &str, class: &str, size: f64, line: f64) {
        let weight = if size > TEXT { BOLD } else { 1.0 };
        for words_of_line in lines(
            content,
            weight * size,
            self.width - 2.0 * self.rim,
            usize::MAX,
        ) {
            self.add(words(self.rim, self.y + size, class, &words_of_line));
            self.y += line;
        }
    }

    pub(super) fn panel(&mut self, index: usize, panel: &Panel, frames: &Frames) {
        let height = match &panel.body {
            Body::Plane { .. } => panel.height,
            Body::Rows { bars, .. } => bars.iter().map(|_| ROW).sum::<f64>().max(2.0 * ROW),
        };
        // Which points are drawn does not depend on where the area is on the sheet.
        let mut frame = Frame {
            area: Area {
                left: frames.left,
                top: 0.0,
                right: frames.right,
                bottom: height,
            },
            x: range(&panel.x, x_values(panel).into_iter()),
            y: y_range(panel),
        };
        let y_ticks = y_ticks(&frame.y, height);
        let y_title = match &panel.body {
            Body::Plane { y, .. } => axis_title(y, y_ticks.exponent),
            Body::Rows { .. } => String::new(),
        };
        let (entries, anything) = legend(panel, &frame);
        self.header(&panel.title, &y_title, entries);
        self.upright_labels(&frame, &panel.uprights);
        frame.area.top = self.y;
        frame.area.bottom = self.y + height;
        self.y = frame.area.bottom;

        let clip = format!("{}-clip-{index}", self.name);
        self.clip(&clip, &frame.area);
        if matches!(panel.body, Body::Plane { .. }) {
            self.y_axis(&frame, &y_ticks);
        }
        let x_ticks = x_ticks(&frame.x, frames.right - frames.left);
        self.x_axis(&frame, &x_ticks);
        let clipped = || Group::new().set("clip-path", format!("url(#{clip})"));
        match &panel.body {
            Body::Plane {
                series,
                levels,
                ends,
                ..
            } => {
                self.plane(&frame, (series, levels, &panel.uprights), clipped);
                let named: Vec<Level> = levels.iter().chain(ends).cloned().collect();
                self.level_labels(&frame, &named);
            }
            Body::Rows { bars, .. } => self.rows(&frame, bars, &panel.uprights, clipped()),
        }
        if !anything {
            self.nothing(&frame.area);
        }
        self.x_title(&frame.area, &axis_title(&panel.x, x_ticks.exponent));
    }

    fn plane(
        &mut self,
        frame: &Frame,
        (series, levels, uprights): (&[Series], &[Level], &[Level]),
        clipped: impl Fn() -> Group,
    ) {
        // Areas lie at the bottom; a fitted line lies over the points it goes through.
        let mut under = clipped();
        for series in series {
            under = band(under, frame, series);
        }
        under = reference_lines(under, frame, levels, uprights);
        let (mut markers, mut over) = (Group::new(), clipped());
        for series in series {
            (under, markers) = scatter((under, markers), frame, series);
            over = curve(over, frame, series);
        }
        for layer in [under, markers, over] {
            self.add(layer);
        }
    }

    fn rows(&mut self, frame: &Frame, bars: &[Bar], uprights: &[Level], mut layer: Group) {
        for (row, bar) in bars.iter().enumerate() {
            self.row_words(frame, row, bar);
            layer = row_size(layer, frame, row, bar);
        }
        self.add(reference_lines(layer, frame, &[], uprights));
    }

    /// Says that there is nothing to be seen.
    fn nothing(&mut self, area: &Area) {
        let middle = (
            f64::midpoint(area.left, area.right),
            f64::midpoint(area.top, area.bottom) + 0.35 * TEXT,
        );
        self.add(words(
            middle.0,
            middle.1,
            "ctc-middle ctc-halo ctc-quiet",
            "no readings",
        ));
    }

    /// The title of the horizontal axis, centered below the area where that fits, else on the sheet.
    fn x_title(&mut self, area: &Area, title: &str) {
        let room = self.width - 2.0 * self.rim;
        for line in lines(title, TEXT, room, 2) {
            let half = width(&line, TEXT) / 2.0;
            let middle = f64::midpoint(area.left, area.right)
                .min(self.width - self.rim - half)
                .max(self.rim + half);
            self.add(words(middle, self.y + TEXT, "ctc-middle ctc-quiet", &line));
            self.y += LINE;
        }
    }

    /// Title, legend and title of the vertical axis, above the drawing area.
    ///
    /// The axis title is level, so that it reads without turning the head, and shares its line with
    /// the legend where both fit.
    fn header(&mut self, title: &str, y_title: &str, entries: Vec<Entry>) {
        self.paragraph(title, "ctc-subheading", SUBHEADING, SUBHEADING_LINE);
        let room = self.width - 2.0 * self.rim;
        let entries = entries
            .into_iter()
            .map(|entry| Entry {
                words: one_line(&entry.words, TEXT, room - SAMPLE - SAMPLE_GAP),
                ..entry
            })
            .collect();
        let mut rows = legend_rows(entries, room);
        let beside = match rows.as_slice() {
            [row] if width(y_title, TEXT) + 2.0 * ENTRY_GAP + row_width(row) <= room => rows.pop(),
            _ => None,
        };
        for row in rows {
            self.entries(self.rim, &row);
            self.y += LINE;
        }
        let title_lines = lines(y_title, TEXT, room, 2);
        if let Some(row) = beside {
            let left = self.width - RIGHT - row_width(&row);
            self.entries(left, &row);
            if title_lines.is_empty() {
                self.y += LINE;
            }
        }
        for line in title_lines {
            self.add(words(self.rim, self.y + TEXT, "ctc-quiet", &line));
            self.y += LINE;
        }
        self.y += 7.0;
    }

    fn entries(&mut self, left: f64, row: &[Entry]) {
        let middle = self.y + 0.65 * TEXT;
        let mut x = left;
        for entry in row {
            let mut pen = Pen::default();
            let ends = ((x, middle), (x + SAMPLE, middle));
            let path = match entry.sample {
                Sample::Points(tone) => {
                    pen.marker(tone.marker(), (x + SAMPLE / 2.0, middle), 3.2);
                    pen.path("ctc-marker", Some(tone))
                }
                Sample::Line(tone) => {
                    pen.stroke(ends.0, ends.1);
                    pen.path("ctc-line", Some(tone))
                }
                Sample::Band(tone) => {
                    let mut edge = Pen::default();
                    for y in [middle - 5.0, middle + 5.0] {
                        edge.stroke((x, y), (x + SAMPLE, y));
                    }
                    self.add(edge.path("ctc-edge", Some(tone)));
                    pen.beam((x, x + SAMPLE), middle, 5.0);
                    pen.path("ctc-band", Some(tone))
                }
                Sample::Dot => {
                    let mut whisker = Pen::default();
                    whisker.whisker(ends.0.0, ends.1.0, middle, 4.0);
                    self.add(whisker.path("ctc-whisker", Some(Tone::Ink)));
                    pen.marker(Tone::First.marker(), (x + SAMPLE / 2.0, middle), DOT);
                    pen.path("ctc-dot", Some(Tone::First))
                }
                Sample::Bar => {
                    pen.beam((x, x + SAMPLE), middle, 4.0);
                    pen.path("ctc-bar", Some(Tone::First))
                }
            };
            self.add(path);
            let after = x + SAMPLE + SAMPLE_GAP;
            self.add(words(after, self.y + TEXT, "", &entry.words));
            x += entry.width() + ENTRY_GAP;
        }
    }

    fn clip(&mut self, id: &str, area: &Area) {
        let rectangle = Rectangle::new()
            .set("x", coordinate(area.left - OVERHANG))
            .set("y", coordinate(area.top - OVERHANG))
            .set("width", coordinate(area.right - area.left + 2.0 * OVERHANG))
            .set(
                "height",
                coordinate(area.bottom - area.top + 2.0 * OVERHANG),
            );
        svg::Node::append(
            &mut self.clips,
            ClipPath::new().set("id", id).add(rectangle),
        );
    }

    fn row_words(&mut self, frame: &Frame, row: usize, bar: &Bar) {
        let baseline = frame.row(row) + 0.35 * TEXT;
        let name = one_line(&bar.name, TEXT, name_room(self.width));
        let left = frame.area.left - 2.0 * TICK;
        self.add(words(left, baseline, "ctc-end", &name));
        let note = one_line(&bar.note, TEXT, note_room(self.width));
        if !note.is_empty() {
            self.add(words(frame.area.right + NOTE_GAP, baseline, "", &note));
        }
    }
}
