//! Charts as SVG: plain numbers and labels in, text out. Why no crate's: DEVELOPERS.md, "Ours, and why".
//!
//! A [`Figure`] is a stack of [`Panel`]s of one width, 180 mm when printed, or half of that in a page, where two stand side by side
//! or one fills a telephone. The same input gives the same bytes. Numbers that cannot be drawn (not finite, or not positive on a logarithmic axis) are
//! left out and counted in the legend. The text is one `<svg>` element: a file as it is, or part of
//! an HTML page, where identifiers start with the figure's name and classes with `ctc-`.

#![cfg_attr(
    test,
    allow(
        clippy::unwrap_used,
        clippy::indexing_slicing,
        reason = "a test may fail"
    )
)]

mod draw;
mod scale;
mod text;
mod theme;

pub(crate) use scale::Scale;
pub(crate) use theme::Tone;

/// A horizontal or vertical axis.
#[derive(Debug, Clone)]
pub(crate) struct Axis {
    title: String,
    unit: String,
    scale: Scale,
    range: Option<(f64, f64)>,
    include: Vec<f64>,
}

impl Axis {
    /// A linear axis; `unit` may be empty.
    pub(crate) fn new(title: impl Into<String>, unit: impl Into<String>) -> Self {
        Self {
            title: title.into(),
            unit: unit.into(),
            scale: Scale::Linear,
            range: None,
            include: Vec::new(),
        }
    }

    /// Spreads the values by `scale`.
    pub(crate) fn scale(mut self, scale: Scale) -> Self {
        self.scale = scale;
        self
    }

    /// Spans `low` to `high` whatever the data are; a range that is empty, reversed or not drawable
    /// counts as not given.
    pub(crate) fn range(mut self, low: f64, high: f64) -> Self {
        self.range = Some((low, high));
        self
    }

    /// Makes the automatic range reach `value`.
    pub(crate) fn include(mut self, value: f64) -> Self {
        self.include.push(value);
        self
    }
}

/// A point, with the interval of its y value where it has one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Point {
    /// Position along the horizontal axis.
    pub(crate) x: f64,
    /// Position along the vertical axis.
    pub(crate) y: f64,
    /// Lower and upper end of the error bar; an infinite end runs out of the panel.
    pub(crate) interval: Option<(f64, f64)>,
}

impl From<(f64, f64)> for Point {
    fn from((x, y): (f64, f64)) -> Self {
        let interval = None;
        Self { x, y, interval }
    }
}

/// The lower and upper edge of a band at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Slice {
    /// Position along the horizontal axis.
    pub(crate) x: f64,
    /// Lower edge; may be minus infinity.
    pub(crate) lower: f64,
    /// Upper edge; may be infinity.
    pub(crate) upper: f64,
}

/// One row of a panel of sizes: a bar from zero on a linear axis; a dot on a logarithmic one, which has no zero that a bar could
/// start from.
#[derive(Debug, Clone)]
pub(crate) struct Bar {
    /// What the row is about, printed left of it.
    pub(crate) name: String,
    /// The size.
    pub(crate) value: f64,
    /// Lower and upper end of the whisker; an infinite end runs out of the panel. A dot without one is a ring: what is known, beside
    /// what was measured.
    pub(crate) interval: Option<(f64, f64)>,
    /// Printed right of the panel, such as the value in words; may be empty.
    pub(crate) note: String,
}

#[derive(Debug, Clone)]
enum Shape {
    Points(Vec<Point>),
    Line(Vec<(f64, f64)>),
    Band(Vec<Slice>),
}

#[derive(Debug, Clone)]
struct Series {
    label: String,
    tone: Tone,
    shape: Shape,
}

/// A reference value with its label.
#[derive(Debug, Clone)]
struct Level {
    value: f64,
    label: String,
}

#[derive(Debug, Clone)]
enum Body {
    /// Series over two numeric axes.
    Plane {
        y: Axis,
        series: Vec<Series>,
        levels: Vec<Level>,
        /// Names of curves, beside where they end.
        ends: Vec<Level>,
    },
    /// One bar a row.
    Rows { label: String, bars: Vec<Bar> },
}

/// One pair of axes with what is drawn between them.
#[derive(Debug, Clone)]
pub(crate) struct Panel {
    title: String,
    x: Axis,
    body: Body,
    uprights: Vec<Level>,
    height: f64,
}

impl Panel {
    /// Height of the drawing area where none is set.
    const HEIGHT: f64 = 190.0;

    /// An empty panel over two numeric axes.
    pub(crate) fn new(title: impl Into<String>, x: Axis, y: Axis) -> Self {
        Self {
            title: title.into(),
            x,
            body: Body::Plane {
                y,
                series: Vec::new(),
                levels: Vec::new(),
                ends: Vec::new(),
            },
            uprights: Vec::new(),
            height: Self::HEIGHT,
        }
    }

    /// A panel of sizes, the first on top; `label` is the legend's entry of the bars, or of the dots that have an interval.
    pub(crate) fn bars(
        title: impl Into<String>,
        x: Axis,
        label: impl Into<String>,
        bars: Vec<Bar>,
    ) -> Self {
        Self {
            title: title.into(),
            x,
            body: Body::Rows {
                label: label.into(),
                bars,
            },
            uprights: Vec::new(),
            height: Self::HEIGHT,
        }
    }

    /// Sets the height of the drawing area, held between 80 and 900 units, of which a figure is 720 wide, or half as much; a panel of bars has the height of its rows instead.
    pub(crate) fn height(mut self, height: f64) -> Self {
        if height.is_finite() {
            self.height = height.clamp(80.0, 900.0);
        }
        self
    }

    /// Spans these places across and these values up, whatever the data are; a panel of sizes keeps its rows.
    pub(crate) fn spanning(mut self, x: (f64, f64), y_span: (f64, f64)) -> Self {
        self.x = self.x.range(x.0, x.1);
        if let Body::Plane { y, .. } = &mut self.body {
            y.range = Some(y_span);
        }
        self
    }

    /// Every finite value of points and lines that is drawn over two numeric axes; a band may run out of the panel.
    pub(crate) fn values(&self) -> impl Iterator<Item = f64> {
        let series = match &self.body {
            Body::Plane { series, .. } => series.as_slice(),
            Body::Rows { .. } => &[],
        };
        let each = series.iter().flat_map(|series| match &series.shape {
            Shape::Points(points) => points.iter().map(|point| point.y).collect::<Vec<_>>(),
            Shape::Line(points) => points.iter().map(|(_, y)| *y).collect(),
            Shape::Band(_) => Vec::new(),
        });
        each.filter(|value| value.is_finite())
    }

    /// Adds points.
    pub(crate) fn points(
        self,
        label: impl Into<String>,
        tone: Tone,
        points: impl IntoIterator<Item = Point>,
    ) -> Self {
        self.series(label, tone, Shape::Points(points.into_iter().collect()))
    }

    /// Adds a line through `points` in their order, broken where one cannot be drawn.
    pub(crate) fn line(
        self,
        label: impl Into<String>,
        tone: Tone,
        points: impl IntoIterator<Item = (f64, f64)>,
    ) -> Self {
        self.series(label, tone, Shape::Line(points.into_iter().collect()))
    }

    /// Adds a line that is named beside its last point instead of in the legend.
    pub(crate) fn curve(
        self,
        label: impl Into<String>,
        tone: Tone,
        points: Vec<(f64, f64)>,
    ) -> Self {
        let end = points.last().map(|(_, y)| *y);
        let mut panel = self.line("", tone, points);
        if let (Body::Plane { ends, .. }, Some(value)) = (&mut panel.body, end) {
            ends.push(Level {
                value,
                label: label.into(),
            });
        }
        panel
    }

    /// Adds the area between a lower and an upper edge, broken where a slice cannot be drawn.
    pub(crate) fn band(
        self,
        label: impl Into<String>,
        tone: Tone,
        slices: impl IntoIterator<Item = Slice>,
    ) -> Self {
        self.series(label, tone, Shape::Band(slices.into_iter().collect()))
    }

    /// Adds a horizontal reference line, which the automatic range reaches; a panel of bars has no
    /// place for one and ignores it.
    pub(crate) fn level(mut self, value: f64, label: impl Into<String>) -> Self {
        if let Body::Plane { levels, .. } = &mut self.body {
            levels.push(Level {
                value,
                label: label.into(),
            });
        }
        self
    }

    /// Adds a vertical reference line, which the automatic range reaches.
    pub(crate) fn upright(mut self, value: f64, label: impl Into<String>) -> Self {
        self.uprights.push(Level {
            value,
            label: label.into(),
        });
        self
    }

    fn series(mut self, label: impl Into<String>, tone: Tone, shape: Shape) -> Self {
        if let Body::Plane { series, .. } = &mut self.body {
            series.push(Series {
                label: label.into(),
                tone,
                shape,
            });
        }
        self
    }
}

/// A stack of panels in one drawing.
#[derive(Debug, Clone)]
pub(crate) struct Figure {
    name: String,
    title: String,
    description: String,
    caption: String,
    panels: Vec<Panel>,
    headed: bool,
    width: Width,
}

/// How wide a figure is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Width {
    /// A page's.
    Full,
    /// That of one of two side by side.
    Half,
}

impl Figure {
    /// A figure without panels.
    ///
    /// `name` starts every identifier and must differ between figures of a page; characters other
    /// than ASCII letters, digits, `-` and `_` become `-`. `description` is what a reader who cannot
    /// see the drawing gets: plain sentences with the numbers.
    pub(crate) fn new(
        name: impl AsRef<str>,
        title: impl Into<String>,
        description: impl Into<String>,
    ) -> Self {
        let name = name
            .as_ref()
            .chars()
            .map(|c| match c {
                'a'..='z' | 'A'..='Z' | '0'..='9' | '-' | '_' => c,
                _ => '-',
            })
            .collect();
        Self {
            name,
            title: title.into(),
            description: description.into(),
            caption: String::new(),
            panels: Vec::new(),
            headed: true,
            width: Width::Full,
        }
    }

    /// Sets the text below the panels.
    pub(crate) fn caption(mut self, caption: impl Into<String>) -> Self {
        self.caption = caption.into();
        self
    }

    /// Of half the width, and leaves the title to the page around the drawing; who can't see the drawing still hears it.
    pub(crate) fn in_page(mut self) -> Self {
        self.headed = false;
        self.width = Width::Half;
        self
    }

    /// Adds a panel below those there are.
    pub(crate) fn panel(mut self, panel: Panel) -> Self {
        self.panels.push(panel);
        self
    }

    /// The figure as one `<svg>` element.
    pub(crate) fn to_svg(&self) -> String {
        draw::document(self).to_string()
    }
}

#[cfg(test)]
mod tests;
