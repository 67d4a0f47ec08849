//! Layout and drawing of a figure.
//!
//! The drawing is 720 units wide and printed at 180 mm, so a unit is a quarter of a millimeter and
//! text of 12 units is 8.5 points high on paper.

use svg::Document;
use svg::node;
use svg::node::element::{
    ClipPath, Definitions, Description, Group, Path, Rectangle, Style, Text, Title,
};

use super::scale::{Range, Scale, Tick, Ticks};
use super::text::{coordinate, lines, one_line, printable, superscript, width};
use super::theme::{Marker, Tone, style_sheet};
use super::{Axis, Bar, Body, Figure, Level, Panel, Point, Series, Shape, Slice};

/// Width of the drawing, in its units.
const WIDTH: f64 = 720.0;
/// Millimeters to a unit at the printed width.
const MILLIMETERS: f64 = 180.0 / WIDTH;
/// Blank rim on every side.
const RIM: f64 = 18.0;
/// Least blank right of the drawing areas: half of a wide tick label sticks out there.
const RIGHT: f64 = 30.0;
/// Blank between panels, and between the last panel and the caption.
const GAP: f64 = 20.0;
/// Size of plain text, and the heights of lines of plain text, panel titles and the figure's title.
const TEXT: f64 = 12.0;
const LINE: f64 = 17.0;
const SUBHEADING: f64 = 13.5;
const SUBHEADING_LINE: f64 = 19.0;
const HEADING: f64 = 17.0;
const HEADING_LINE: f64 = 23.0;
/// Bold text to plain text, in width, on the wide side.
const BOLD: f64 = 1.14;
/// From an axis to its tick labels.
const TICK: f64 = 5.0;
/// How far markers and caps may stick out of the drawing area.
const OVERHANG: f64 = 4.0;
/// Height of a row of a panel of bars, and the thickness of its bar.
const ROW: f64 = 28.0;
const BAR: f64 = 13.0;
/// Most of the width that names left of the drawing area and notes right of it may take, and the
/// blank before a note.
const NAME: f64 = 210.0;
const NOTE: f64 = 150.0;
const NOTE_GAP: f64 = 10.0;
/// Width of a legend's sample, the blank after it and the blank between entries.
const SAMPLE: f64 = 24.0;
const SAMPLE_GAP: f64 = 6.0;
const ENTRY_GAP: f64 = 18.0;

/// The whole drawing.
pub(super) fn document(figure: &Figure) -> Document {
    let name = &figure.name;
    let mut sheet = Sheet {
        drawn: Group::new(),
        clips: Definitions::new(),
        name,
        y: RIM,
    };
    if figure.headed {
        sheet.paragraph(&figure.title, "ctc-heading", HEADING, HEADING_LINE);
    }
    let frames = Frames::of(figure);
    for (index, panel) in figure.panels.iter().enumerate() {
        sheet.y += if index == 0 { GAP / 2.0 } else { GAP };
        sheet.panel(index, panel, &frames);
    }
    if !figure.caption.trim().is_empty() {
        sheet.y += GAP * 0.8;
        sheet.paragraph(&figure.caption, "ctc-quiet", TEXT, LINE);
    }
    let height = sheet.y + RIM;
    let (title, description) = (format!("{name}-title"), format!("{name}-description"));
    Document::new()
        .set("id", name.as_str())
        .set("class", "ctc-figure ctc-ink")
        .set("role", "img")
        .set("aria-labelledby", title.as_str())
        .set("aria-describedby", description.as_str())
        .set("width", format!("{}mm", coordinate(WIDTH * MILLIMETERS)))
        .set("height", format!("{}mm", coordinate(height * MILLIMETERS)))
        .set(
            "viewBox",
            format!("0 0 {} {}", coordinate(WIDTH), coordinate(height)),
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
                .set("width", coordinate(WIDTH))
                .set("height", coordinate(height)),
        )
        .add(sheet.drawn)
}

/// What the panels share: the drawing areas start and end at the same places.
struct Frames {
    left: f64,
    right: f64,
}

impl Frames {
    fn of(figure: &Figure) -> Self {
        let widest = |texts: Vec<&str>| {
            texts
                .into_iter()
                .map(|text| width(text, TEXT))
                .fold(0.0, f64::max)
        };
        let (mut left, mut right) = (0.0_f64, 0.0_f64);
        for panel in &figure.panels {
            match &panel.body {
                Body::Plane { levels, .. } => {
                    right = right.max(widest(levels.iter().map(|l| &*l.label).collect()).min(NOTE));
                    let ticks = y_ticks(&y_range(panel), panel.height);
                    left = left.max(widest(ticks.labeled.iter().map(|t| &*t.label).collect()));
                }
                Body::Rows { bars, .. } => {
                    left = left.max(widest(bars.iter().map(|b| &*b.name).collect()).min(NAME));
                    right = right.max(widest(bars.iter().map(|b| &*b.note).collect()).min(NOTE));
                }
            }
        }
        let right = if right > 0.0 {
            right + RIM + 10.0
        } else {
            RIGHT
        };
        Self {
            left: RIM + left + 2.0 * TICK,
            right: WIDTH - right.max(RIGHT),
        }
    }
}

/// The range of an axis: the fixed one, or one around the data and what it was told to reach.
fn range(axis: &Axis, values: impl Iterator<Item = f64>) -> Range {
    axis.range
        .and_then(|(low, high)| Range::fixed(axis.scale, low, high))
        .unwrap_or_else(|| Range::around(axis.scale, values.chain(axis.include.iter().copied())))
}

fn x_values(panel: &Panel) -> Vec<f64> {
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

fn y_range(panel: &Panel) -> Range {
    let Body::Plane { y, series, levels } = &panel.body else {
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
fn y_ticks(y: &Range, height: f64) -> Ticks {
    let roomy = clear_ticks(y, height, |_, _| 2.0 * TEXT);
    if roomy.labeled.len() < 4 {
        clear_ticks(y, height, |_, _| 1.5 * TEXT)
    } else {
        roomy
    }
}

/// As many labels as stand clear of each other across the drawing area.
fn x_ticks(x: &Range, room: f64) -> Ticks {
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
fn axis_title(axis: &Axis, exponent: i32) -> String {
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
struct Area {
    left: f64,
    top: f64,
    right: f64,
    bottom: f64,
}

/// A drawing area and the ranges across it.
struct Frame {
    area: Area,
    x: Range,
    y: Range,
}

impl Frame {
    fn across(&self, fraction: f64) -> f64 {
        self.area.left + fraction * (self.area.right - self.area.left)
    }

    fn up(&self, fraction: f64) -> f64 {
        self.area.bottom - fraction * (self.area.bottom - self.area.top)
    }

    fn x(&self, value: f64) -> Option<f64> {
        self.x.fraction(value).map(|fraction| self.across(fraction))
    }

    fn y(&self, value: f64) -> Option<f64> {
        self.y.fraction(value).map(|fraction| self.up(fraction))
    }

    fn x_end(&self, value: f64) -> Option<f64> {
        self.x
            .end_fraction(value)
            .map(|fraction| self.across(fraction))
    }

    fn y_end(&self, value: f64) -> Option<f64> {
        self.y.end_fraction(value).map(|fraction| self.up(fraction))
    }

    fn at(&self, (x, y): (f64, f64)) -> Option<(f64, f64)> {
        Some((self.x(x)?, self.y(y)?))
    }

    /// Where a point is drawn: points outside a fixed range are not.
    fn point(&self, point: &Point) -> Option<(f64, f64)> {
        (self.x.contains(point.x) && self.y.contains(point.y))
            .then(|| self.at((point.x, point.y)))
            .flatten()
    }

    /// The middle of a row of a panel of bars.
    fn row(&self, row: usize) -> f64 {
        self.area.top + (row as f64 + 0.5) * ROW
    }

    /// Where the two ends of a slice are drawn.
    fn slice(&self, slice: &Slice) -> Option<(f64, f64, f64)> {
        Some((
            self.x(slice.x)?,
            self.y_end(slice.lower)?,
            self.y_end(slice.upper)?,
        ))
    }
}

/// Path data in the making.
#[derive(Default)]
struct Pen(String);

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
    fn stroke(&mut self, (x0, y0): (f64, f64), (x1, y1): (f64, f64)) {
        self.go('M', &[x0, y0]);
        self.go('L', &[x1, y1]);
    }

    /// A line through `points`; a single one becomes a short stroke, so that it is seen.
    fn through(&mut self, points: &[(f64, f64)]) {
        if let [(x, y)] = points {
            self.stroke((x - 1.5, *y), (x + 1.5, *y));
            return;
        }
        for (index, (x, y)) in points.iter().enumerate() {
            self.go(if index == 0 { 'M' } else { 'L' }, &[*x, *y]);
        }
    }

    fn marker(&mut self, marker: Marker, (x, y): (f64, f64), radius: f64) {
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

    fn closed(&mut self, corners: &[(f64, f64)]) {
        self.through(corners);
        self.0.push('Z');
    }

    /// A level rectangle around the line from `x0` to `x1`.
    fn beam(&mut self, (x0, x1): (f64, f64), y: f64, half: f64) {
        self.closed(&[
            (x0, y - half),
            (x1, y - half),
            (x1, y + half),
            (x0, y + half),
        ]);
    }

    fn path(self, class: &str, tone: Option<Tone>) -> Path {
        let class = match tone {
            Some(tone) => format!("{class} {}", tone.class()),
            None => class.to_owned(),
        };
        Path::new().set("class", class).set("d", self.0)
    }
}

fn words(x: f64, y: f64, class: &str, content: &str) -> Text {
    let text = Text::new(printable(content))
        .set("x", coordinate(x))
        .set("y", coordinate(y));
    if class.is_empty() {
        text
    } else {
        text.set("class", class)
    }
}

/// Radius of markers: smaller where there are many.
fn marker_radius(points: usize) -> f64 {
    match points {
        0..=120 => 3.2,
        121..=400 => 2.4,
        _ => 1.6,
    }
}

/// Consecutive drawable items, cut where one is not.
fn runs<T, U>(items: &[T], drawn: impl Fn(&T) -> Option<U>) -> Vec<Vec<U>> {
    items
        .split(|item| drawn(item).is_none())
        .filter(|run| !run.is_empty())
        .map(|run| run.iter().filter_map(&drawn).collect())
        .collect()
}

/// A legend's entry: what is sampled and its words.
struct Entry {
    sample: Sample,
    words: String,
}

#[derive(Clone, Copy)]
enum Sample {
    Points(Tone),
    Line(Tone),
    Band(Tone),
    Bar,
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

    fn width(&self) -> f64 {
        SAMPLE + SAMPLE_GAP + width(&self.words, TEXT)
    }
}

/// Breaks entries into rows no wider than `room`.
fn legend_rows(entries: Vec<Entry>, room: f64) -> Vec<Vec<Entry>> {
    let mut rows: Vec<Vec<Entry>> = Vec::new();
    for entry in entries {
        match rows.last_mut() {
            Some(row) if row_width(row) + ENTRY_GAP + entry.width() <= room => row.push(entry),
            _ => rows.push(vec![entry]),
        }
    }
    rows
}

fn row_width(row: &[Entry]) -> f64 {
    let gaps = row.iter().skip(1).map(|_| ENTRY_GAP);
    row.iter().map(Entry::width).chain(gaps).sum()
}

/// A figure in the making: what is drawn so far and how far down it reaches.
struct Sheet<'a> {
    drawn: Group,
    clips: Definitions,
    name: &'a str,
    y: f64,
}

impl Sheet<'_> {
    fn add(&mut self, node: impl Into<Box<dyn svg::Node>>) {
        svg::Node::append(&mut self.drawn, node);
    }

    /// Adds lines of text across the whole width; sizes above that of plain text are bold.
    fn paragraph(&mut self, content: &str, class: &str, size: f64, line: f64) {
        let weight = if size > TEXT { BOLD } else { 1.0 };
        for words_of_line in lines(content, weight * size, WIDTH - 2.0 * RIM, usize::MAX) {
            self.add(words(RIM, self.y + size, class, &words_of_line));
            self.y += line;
        }
    }

    fn panel(&mut self, index: usize, panel: &Panel, frames: &Frames) {
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
            Body::Plane { series, levels, .. } => {
                // Areas lie at the bottom; a fitted line lies over the points it goes through.
                let mut under = clipped();
                for series in series {
                    under = band(under, &frame, series);
                }
                under = reference_lines(under, &frame, levels, &panel.uprights);
                let (mut markers, mut over) = (Group::new(), clipped());
                for series in series {
                    (under, markers) = scatter((under, markers), &frame, series);
                    over = curve(over, &frame, series);
                }
                for layer in [under, markers, over] {
                    self.add(layer);
                }
                self.level_labels(&frame, levels);
            }
            Body::Rows { bars, .. } => {
                let mut layer = clipped();
                for (row, bar) in bars.iter().enumerate() {
                    self.row_words(&frame, row, bar);
                    layer = row_bar(layer, &frame, row, bar);
                }
                self.add(reference_lines(layer, &frame, &[], &panel.uprights));
            }
        }
        if !anything {
            let middle = (
                f64::midpoint(frame.area.left, frame.area.right),
                f64::midpoint(frame.area.top, frame.area.bottom) + 0.35 * TEXT,
            );
            self.add(words(
                middle.0,
                middle.1,
                "ctc-middle ctc-halo ctc-quiet",
                "no readings",
            ));
        }
        let title = axis_title(&panel.x, x_ticks.exponent);
        let room = WIDTH - 2.0 * RIM;
        for line in lines(&title, TEXT, room, 2) {
            // Centered below the area where that fits, else on the sheet.
            let half = width(&line, TEXT) / 2.0;
            let middle = f64::midpoint(frame.area.left, frame.area.right)
                .min(WIDTH - RIM - half)
                .max(RIM + half);
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
        let room = WIDTH - 2.0 * RIM;
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
            self.entries(RIM, &row);
            self.y += LINE;
        }
        let title_lines = lines(y_title, TEXT, room, 2);
        if let Some(row) = beside {
            let left = WIDTH - RIGHT - row_width(&row);
            self.entries(left, &row);
            if title_lines.is_empty() {
                self.y += LINE;
            }
        }
        for line in title_lines {
            self.add(words(RIM, self.y + TEXT, "ctc-quiet", &line));
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

    fn x_axis(&mut self, frame: &Frame, ticks: &Ticks) {
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

    fn y_axis(&mut self, frame: &Frame, ticks: &Ticks) {
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

    fn row_words(&mut self, frame: &Frame, row: usize, bar: &Bar) {
        let baseline = frame.row(row) + 0.35 * TEXT;
        let name = one_line(&bar.name, TEXT, NAME);
        let left = frame.area.left - 2.0 * TICK;
        self.add(words(left, baseline, "ctc-end", &name));
        let note = one_line(&bar.note, TEXT, NOTE);
        if !note.is_empty() {
            self.add(words(frame.area.right + NOTE_GAP, baseline, "", &note));
        }
    }

    /// Labels of horizontal reference lines, right of the drawing area, where no data are.
    ///
    /// Labels that would touch are moved apart; an elbow leads from each line to its label.
    fn level_labels(&mut self, frame: &Frame, levels: &[Level]) {
        let mut labels: Vec<(f64, String)> = levels
            .iter()
            .filter(|level| frame.y.contains(level.value))
            .filter_map(|level| Some((frame.y(level.value)?, one_line(&level.label, TEXT, NOTE))))
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
    fn upright_labels(&mut self, frame: &Frame, uprights: &[Level]) {
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

/// The entries of the legend, and whether anything but reference lines is drawn.
fn legend(panel: &Panel, frame: &Frame) -> (Vec<Entry>, bool) {
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
            vec![(Sample::Bar, label.as_str(), bars.len(), drawn.count())]
        }
    };
    let anything = counted.iter().any(|(_, _, _, drawn)| *drawn > 0);
    let entries = counted
        .into_iter()
        .filter_map(|(sample, label, all, drawn)| Entry::new(sample, label, all, drawn))
        .collect();
    (entries, anything)
}

/// Both ends of an interval on the sheet, where it has both.
fn whisker(interval: Option<(f64, f64)>, end: impl Fn(f64) -> Option<f64>) -> Option<(f64, f64)> {
    let (lower, upper) = interval?;
    Some((end(lower)?, end(upper)?))
}

fn reference_lines(mut group: Group, frame: &Frame, levels: &[Level], uprights: &[Level]) -> Group {
    let area = frame.area;
    let mut pen = Pen::default();
    for y in levels.iter().filter_map(|level| frame.y(level.value)) {
        pen.stroke((area.left, y), (area.right, y));
    }
    for x in uprights.iter().filter_map(|upright| frame.x(upright.value)) {
        pen.stroke((x, area.top), (x, area.bottom));
    }
    if !pen.0.is_empty() {
        group = group.add(pen.path("ctc-level", None));
    }
    group
}

fn row_bar(group: Group, frame: &Frame, row: usize, bar: &Bar) -> Group {
    let Some(end) = frame.x(bar.value) else {
        return group;
    };
    let Area { left, right, .. } = frame.area;
    let start = frame.x(0.0).unwrap_or(left).clamp(left, right);
    let (middle, half) = (frame.row(row), BAR / 2.0);
    let mut pen = Pen::default();
    pen.beam((start, end), middle, half);
    let group = group.add(pen.path("ctc-bar", Some(Tone::First)));
    let Some((lower, upper)) = whisker(bar.interval, |value| frame.x_end(value)) else {
        return group;
    };
    let mut pen = Pen::default();
    pen.stroke((lower, middle), (upper, middle));
    for end in [lower, upper] {
        pen.stroke((end, middle - half + 2.0), (end, middle + half - 2.0));
    }
    group.add(pen.path("ctc-whisker", Some(Tone::Ink)))
}

fn band(group: Group, frame: &Frame, series: &Series) -> Group {
    let Shape::Band(slices) = &series.shape else {
        return group;
    };
    let (mut fill, mut edge) = (Pen::default(), Pen::default());
    for run in runs(slices, |slice| frame.slice(slice)) {
        let upper: Vec<_> = run.iter().map(|(x, _, upper)| (*x, *upper)).collect();
        let lower: Vec<_> = run.iter().map(|(x, lower, _)| (*x, *lower)).collect();
        if let [(x, lower, upper)] = run.as_slice() {
            edge.stroke((*x, *lower), (*x, *upper));
            continue;
        }
        edge.through(&upper);
        edge.through(&lower);
        let around: Vec<_> = upper.into_iter().chain(lower.into_iter().rev()).collect();
        fill.closed(&around);
    }
    group
        .add(fill.path("ctc-band", Some(series.tone)))
        .add(edge.path("ctc-edge", Some(series.tone)))
}

/// Error bars go into the first group, which is clipped, and markers into the second.
fn scatter((bars, markers): (Group, Group), frame: &Frame, series: &Series) -> (Group, Group) {
    let Shape::Points(points) = &series.shape else {
        return (bars, markers);
    };
    let radius = marker_radius(points.len());
    let (mut whiskers, mut shapes) = (Pen::default(), Pen::default());
    for point in points {
        let Some((x, y)) = frame.point(point) else {
            continue;
        };
        shapes.marker(series.tone.marker(), (x, y), radius);
        if let Some((lower, upper)) = whisker(point.interval, |value| frame.y_end(value)) {
            whiskers.stroke((x, lower), (x, upper));
            for end in [lower, upper] {
                whiskers.stroke((x - radius, end), (x + radius, end));
            }
        }
    }
    (
        bars.add(whiskers.path("ctc-whisker", Some(series.tone))),
        markers.add(shapes.path("ctc-marker", Some(series.tone))),
    )
}

fn curve(group: Group, frame: &Frame, series: &Series) -> Group {
    let Shape::Line(points) = &series.shape else {
        return group;
    };
    let mut pen = Pen::default();
    for run in runs(points, |point| frame.at(*point)) {
        pen.through(&run);
    }
    group.add(pen.path("ctc-line", Some(series.tone)))
}
