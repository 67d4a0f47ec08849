//! What stands in a drawing area: bands, points, curves, bars and reference lines.

use svg::node::element::Group;

use super::frame::{Area, Frame};
use super::measures::{BAR, DOT};
use super::pen::Pen;
use crate::chart::theme::Tone;
use crate::chart::{Bar, Level, Scale, Series, Shape};

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

/// Both ends of an interval on the sheet, where it has both.
fn whisker(interval: Option<(f64, f64)>, end: impl Fn(f64) -> Option<f64>) -> Option<(f64, f64)> {
    let (lower, upper) = interval?;
    Some((end(lower)?, end(upper)?))
}

pub(super) fn reference_lines(
    mut group: Group,
    frame: &Frame,
    levels: &[Level],
    uprights: &[Level],
) -> Group {
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

/// A row's bar from zero, or its dot where the axis has no zero, with its whisker.
pub(super) fn row_size(group: Group, frame: &Frame, row: usize, bar: &Bar) -> Group {
    let Some(end) = frame.x(bar.value) else {
        return group;
    };
    let (middle, half) = (frame.row(row), BAR / 2.0);
    let ends = whisker(bar.interval, |value| frame.x_end(value));
    let whiskers = |group: Group| match ends {
        Some((lower, upper)) => {
            let mut pen = Pen::default();
            pen.whisker(lower, upper, middle, half - 2.0);
            group.add(pen.path("ctc-whisker", Some(Tone::Ink)))
        }
        None => group,
    };
    let mut pen = Pen::default();
    match frame.x.scale() {
        Scale::Linear => {
            let Area { left, right, .. } = frame.area;
            let start = frame.x(0.0).unwrap_or(left).clamp(left, right);
            pen.beam((start, end), middle, half);
            whiskers(group.add(pen.path("ctc-bar", Some(Tone::First))))
        }
        Scale::Log if ends.is_none() => {
            pen.marker(Tone::Ink.marker(), (end, middle), DOT);
            group.add(pen.path("ctc-marker", Some(Tone::Ink)))
        }
        Scale::Log => {
            pen.marker(Tone::First.marker(), (end, middle), DOT);
            whiskers(group).add(pen.path("ctc-dot", Some(Tone::First)))
        }
    }
}

pub(super) fn band(group: Group, frame: &Frame, series: &Series) -> Group {
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
pub(super) fn scatter(
    (bars, markers): (Group, Group),
    frame: &Frame,
    series: &Series,
) -> (Group, Group) {
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

pub(super) fn curve(group: Group, frame: &Frame, series: &Series) -> Group {
    let Shape::Line(points) = &series.shape else {
        return group;
    };
    let mut pen = Pen::default();
    for run in runs(points, |point| frame.at(*point)) {
        pen.through(&run);
    }
    group.add(pen.path("ctc-line", Some(series.tone)))
}
