//! Plain charts of lines and points, as SVG that can be read on light and dark pages alike.

use svg::Document;
use svg::node::element::path::Data;
use svg::node::element::{Circle, Description, Group, Line, Path, Style, Text, Title};

const WIDTH: f64 = 640.0;
const HEIGHT: f64 = 380.0;
const LEFT: f64 = 64.0;
const RIGHT: f64 = 16.0;
const BELOW: f64 = 52.0;
/// Height of a line of the legend.
const LINE: f64 = 20.0;
/// Middle grays and colors have contrast on white as well as on a dark page.
const STYLE: &str = "text{font:13px sans-serif;fill:#7a7a7a}.frame{stroke:#8a8a8a;fill:none}.grid{stroke:#8a8a8a;stroke-opacity:.25}\
.a{stroke:#2f7fd6}.b{stroke:#d2691e}.c{stroke:#2e9e6b}.d{stroke:#a060c8}.line{fill:none;stroke-width:2}\
.dashed{fill:none;stroke-width:2;stroke-dasharray:7 4}.dotted{fill:none;stroke-width:2.4;stroke-dasharray:1 5;stroke-linecap:round}\
.point{fill:none;stroke-width:1.6}";
const COLORS: [&str; 4] = ["a", "b", "c", "d"];

/// An axis from `low` to `high` with a tick each `step`.
#[derive(Debug, Clone, Copy)]
pub(super) struct Axis {
    pub(super) label: &'static str,
    pub(super) low: f64,
    pub(super) high: f64,
    pub(super) step: f64,
}

/// How a series is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Mark {
    Line,
    Dashed,
    Dotted,
    Points,
}

/// What is drawn in one color.
#[derive(Debug)]
pub(super) struct Series {
    pub(super) name: String,
    pub(super) color: usize,
    pub(super) mark: Mark,
    pub(super) points: Vec<(f64, f64)>,
}

/// A chart.
#[derive(Debug)]
pub(super) struct Chart {
    pub(super) title: &'static str,
    pub(super) x: Axis,
    pub(super) y: Axis,
    pub(super) series: Vec<Series>,
}

impl Axis {
    fn part(&self, value: f64) -> f64 {
        (value - self.low) / (self.high - self.low)
    }

    fn ticks(&self) -> impl Iterator<Item = f64> {
        let count = ((self.high - self.low) / self.step).round();
        let mut tick = 0.0;
        std::iter::from_fn(move || {
            (tick <= count).then(|| {
                tick += 1.0;
                self.low + (tick - 1.0) * self.step
            })
        })
    }

    fn written(&self, value: f64) -> String {
        let decimals = if self.step < 0.1 {
            2
        } else {
            usize::from(self.step < 1.0)
        };
        format!("{value:.decimals$}")
    }
}

/// A coordinate, to a tenth of a unit.
fn rounded(value: f64) -> f64 {
    (10.0 * value).round() / 10.0
}

fn text(content: &str, x: f64, y: f64, anchor: &str) -> Text {
    Text::new(content)
        .set("x", rounded(x))
        .set("y", rounded(y))
        .set("text-anchor", anchor)
}

impl Chart {
    /// The chart as an SVG document.
    pub(super) fn drawn(&self) -> String {
        let top = 14.0 + LINE * (self.series.len().div_ceil(2) as f64);
        let (right, bottom) = (WIDTH - RIGHT, HEIGHT - BELOW);
        let x_of = |x: f64| rounded(LEFT + self.x.part(x) * (right - LEFT));
        let y_of = |y: f64| rounded(bottom - self.y.part(y) * (bottom - top));
        let mut document = Document::new()
            .set("viewBox", (0, 0, WIDTH, HEIGHT))
            .set("role", "img")
            .add(Title::new(self.title))
            .add(Description::new().add(svg::node::Text::new(self.described())))
            .add(Style::new(STYLE));
        for tick in self.x.ticks() {
            let x = x_of(tick);
            document = document.add(line("grid", (x, top), (x, bottom))).add(text(
                &self.x.written(tick),
                x,
                bottom + 18.0,
                "middle",
            ));
        }
        for tick in self.y.ticks() {
            let y = y_of(tick);
            document = document.add(line("grid", (LEFT, y), (right, y))).add(text(
                &self.y.written(tick),
                LEFT - 8.0,
                y + 4.5,
                "end",
            ));
        }
        let middle = f64::midpoint(top, bottom);
        document = document
            .add(line("frame", (LEFT, bottom), (right, bottom)))
            .add(line("frame", (LEFT, top), (LEFT, bottom)))
            .add(text(
                self.x.label,
                f64::midpoint(LEFT, right),
                HEIGHT - 12.0,
                "middle",
            ))
            .add(
                text(self.y.label, 18.0, middle, "middle")
                    .set("transform", format!("rotate(-90 18 {})", rounded(middle))),
            );
        for (place, series) in self.series.iter().enumerate() {
            let at: Vec<(f64, f64)> = series
                .points
                .iter()
                .map(|&(x, y)| (x_of(x), y_of(y)))
                .collect();
            document = document.add(series.drawn(&at));
            let (column, row) = ((place % 2) as f64, (place / 2) as f64);
            let (x, y) = (LEFT + column * (right - LEFT) / 2.0, 14.0 + LINE * row);
            document = document
                .add(series.drawn(&[(x, y - 4.5), (x + 13.0, y - 4.5), (x + 26.0, y - 4.5)]))
                .add(text(&series.name, x + 36.0, y, "start"));
        }
        let mut drawn = document.to_string();
        drawn.push('\n');
        drawn
    }

    fn described(&self) -> String {
        let names: Vec<&str> = self.series.iter().map(|s| s.name.as_str()).collect();
        format!(
            "{} against {}: {}",
            self.y.label,
            self.x.label,
            names.join(", ")
        )
    }
}

impl Series {
    fn drawn(&self, at: &[(f64, f64)]) -> Group {
        let color = COLORS.get(self.color % COLORS.len()).unwrap_or(&"a");
        let group = Group::new();
        if self.mark == Mark::Points {
            return at.iter().fold(group, |group, &(x, y)| {
                group.add(
                    Circle::new()
                        .set("class", format!("point {color}"))
                        .set("cx", x)
                        .set("cy", y)
                        .set("r", 3.5),
                )
            });
        }
        let style = match self.mark {
            Mark::Dashed => "dashed",
            Mark::Dotted => "dotted",
            _ => "line",
        };
        let mut data = Data::new();
        for (place, &point) in at.iter().enumerate() {
            data = if place == 0 {
                data.move_to(point)
            } else {
                data.line_to(point)
            };
        }
        group.add(
            Path::new()
                .set("class", format!("{style} {color}"))
                .set("d", data),
        )
    }
}

fn line(class: &str, from: (f64, f64), to: (f64, f64)) -> Line {
    Line::new()
        .set("class", class)
        .set("x1", rounded(from.0))
        .set("y1", rounded(from.1))
        .set("x2", rounded(to.0))
        .set("y2", rounded(to.1))
}
