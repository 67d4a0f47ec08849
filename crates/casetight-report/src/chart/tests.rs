//! Whole figures: well-formed, the same every time, and drawn whatever the numbers are.

use super::*;
use proptest::prelude::*;
use roxmltree::{Document, Node};

/// The fall of a needle \[kPa\].
fn decay(t: f64) -> f64 {
    39.0 * (1.0 - t / 190.0).powi(2)
}

/// Made up: rounding to the gauge's divisions gives the scatter.
fn read(t: f64) -> f64 {
    ((decay(t) + 0.35 * (t * 1.7).sin()) * 4.0).round() / 4.0
}

fn times() -> impl Iterator<Item = f64> {
    (0..=24).map(|index| 5.0 * f64::from(index))
}

fn time() -> Axis {
    Axis::new("Time", "s")
}

fn sheet() -> Figure {
    Figure::new(
        "assess-1",
        "Pressure decay of the crankcase",
        "Readings fall from 39.0 kPa to 5.3 kPa in 120 s. The fit follows them within 0.4 kPa.",
    )
    .caption(
        "Readings were taken by eye on a gauge with divisions of 0.25 kPa. The band is the 95 % \
         interval of the fitted curve and does not hold the uncertainty of the volume.",
    )
    .panel(readings_and_fit())
    .panel(residuals())
    .panel(straightened())
}

fn readings_and_fit() -> Panel {
    Panel::new(
        "Readings and fit",
        time(),
        Axis::new("Gauge pressure", "kPa").include(0.0),
    )
    .band(
        "95 % interval",
        Tone::First,
        times().map(|x| Slice {
            x,
            lower: decay(x) - 0.9 - 0.006 * x,
            upper: decay(x) + 0.9 + 0.006 * x,
        }),
    )
    .points("Readings", Tone::Ink, times().map(|t| (t, read(t)).into()))
    .line("Orifice fit", Tone::First, times().map(|t| (t, decay(t))))
}

fn residuals() -> Panel {
    Panel::new("Residuals", time(), Axis::new("Reading minus fit", "kPa"))
        .height(120.0)
        .band(
            "\u{b1}2\u{3c3} of the gauge",
            Tone::Second,
            [0.0, 120.0].map(|x| Slice {
                x,
                lower: -0.4,
                upper: 0.4,
            }),
        )
        .level(0.0, "")
        .points(
            "Residuals",
            Tone::Ink,
            times().map(|t| (t, read(t) - decay(t)).into()),
        )
}

fn straightened() -> Panel {
    Panel::new("Straightened", time(), Axis::new("Coordinate F", ""))
        .height(150.0)
        .points(
            "Readings",
            Tone::Ink,
            times().map(|t| Point {
                x: t,
                y: read(t).max(0.0).sqrt(),
                interval: Some(((read(t) - 0.4).max(0.0).sqrt(), (read(t) + 0.4).sqrt())),
            }),
        )
        .line(
            "Straight line",
            Tone::First,
            times().map(|t| (t, decay(t).sqrt())),
        )
}

/// Everything a figure can hold, with labels and numbers that ask for trouble.
fn crowded() -> Figure {
    Figure::new(
        "crowded",
        "A title that is long enough to need a second line however wide the letters of the font are",
        "Made up.",
    )
    .panel(estimates_over_truth())
    .panel(where_it_leaks())
    .panel(
        Panel::new("Nothing", time(), Axis::new("Gauge pressure", "kPa")).points(
            "Readings",
            Tone::Ink,
            [],
        ),
    )
    .panel(small_numbers())
}

fn estimates_over_truth() -> Panel {
    let sizes = || (0..12_i32).map(|index| (0.05 * 1.5_f64.powi(index), f64::from(index)));
    let log = |title: &str, unit: &str| Axis::new(title, unit).scale(Scale::Log);
    let first = sizes().map(|(x, index)| {
        let y = 1.0 + 0.2 * (index * 7.0 % 5.0 - 2.0);
        let upper = if index > 2.5 && index < 3.5 {
            f64::INFINITY
        } else {
            1.3 * y
        };
        Point {
            x,
            y,
            interval: Some((0.8 * y, upper)),
        }
    });
    let second = sizes().map(|(x, index)| (1.2 * x, 0.9 + 0.05 * (index % 4.0)).into());
    let third = sizes().map(|(x, index)| (1.1 * x, 0.6 + 0.05 * (index % 5.0)).into());
    let failed = |index: f64| index > 3.5 && index < 4.5;
    let fourth = sizes().map(|(x, index)| (x, if failed(index) { f64::NAN } else { 0.4 }).into());
    Panel::new(
        "Ladder of leak sizes",
        log("True equivalent diameter", "mm"),
        log("Estimate over truth", ""),
    )
    .points("First bench, with intervals", Tone::First, first)
    .points("Second bench", Tone::Second, second)
    .points("Third bench", Tone::Third, third)
    .points("Fourth bench, one failed", Tone::Fourth, fourth)
    .level(1.1, "Upper allowance")
    .level(1.0, "Exact")
    .level(0.9, "Lower allowance")
    .upright(0.5, "Smallest that matters")
    .upright(0.6, "Smallest that is found")
}

fn where_it_leaks() -> Panel {
    let bar = |name: &str, value, interval, note: &str| Bar {
        name: name.into(),
        value,
        interval,
        note: note.into(),
    };
    Panel::bars(
        "Where it leaks",
        Axis::new("Equivalent diameter", "mm"),
        "Estimate with 95 % interval",
        vec![
            bar(
                "Seal, ignition side",
                0.42,
                Some((0.30, 0.55)),
                "0.42 (0.30 to 0.55)",
            ),
            bar(
                "Seal, drive side",
                0.12,
                Some((0.0, 0.22)),
                "0.12 (0.00 to 0.22)",
            ),
            bar(
                "A flange whose name is much too long for the room it has",
                0.05,
                Some((0.0, f64::INFINITY)),
                "no upper end",
            ),
            bar("Base gasket", f64::NAN, None, "not measured"),
        ],
    )
    .upright(0.35, "Limit")
}

fn small_numbers() -> Panel {
    let zigzag = |by: i32, of: i32| {
        (0..9_i32).map(move |index| (f64::from(index), 1e-7 * f64::from(index * by % of)))
    };
    Panel::new("Small numbers", time(), Axis::new("Flow", "kg/s"))
        .height(100.0)
        .line("Second", Tone::Second, zigzag(5, 4))
        .line("Third", Tone::Third, zigzag(5, 3))
        .line("Fourth", Tone::Fourth, zigzag(7, 3))
        .line("Ink", Tone::Ink, zigzag(1, 9))
}

/// One panel over two axes from 0 to 10.
fn square() -> Panel {
    let axis = || Axis::new("A", "").range(0.0, 10.0);
    Panel::new("", axis(), axis())
}

fn figure(panel: Panel) -> String {
    Figure::new("one", "T", "D").panel(panel).to_svg()
}

fn classed<'a>(document: &'a Document<'a>, class: &str) -> Vec<Node<'a, 'a>> {
    document
        .descendants()
        .filter(|node| {
            node.attribute("class")
                .is_some_and(|classes| classes.split(' ').any(|one| one == class))
        })
        .collect()
}

fn texts(document: &Document<'_>) -> Vec<String> {
    document
        .descendants()
        .filter(|node| node.has_tag_name(("http://www.w3.org/2000/svg", "text")))
        .map(|node| node.text().unwrap_or_default().trim().to_owned())
        .collect()
}

/// Left, top, right and bottom of every text, by the same wide estimate the layout uses.
fn text_boxes(document: &Document<'_>) -> Vec<(String, [f64; 4])> {
    document
        .descendants()
        .filter(|node| node.has_tag_name(("http://www.w3.org/2000/svg", "text")))
        .map(|node| {
            let number = |name: &str| node.attribute(name).unwrap().parse::<f64>().unwrap();
            let has = |class: &str| node.attribute("class").unwrap_or_default().contains(class);
            let content = node.text().unwrap_or_default().trim().to_owned();
            let size = match () {
                () if has("ctc-subheading") => 13.5,
                () if has("ctc-heading") => 17.0,
                () => 12.0,
            };
            // Bold letters are wider.
            let weight = if size > 12.0 { 1.14 } else { 1.0 };
            let wide = text::width(&content, weight * size);
            let left = number("x")
                - match () {
                    () if has("ctc-middle") => wide / 2.0,
                    () if has("ctc-end") => wide,
                    () => 0.0,
                };
            // Ascenders reach three quarters of the size above the baseline, descenders a fifth below.
            let baseline = number("y");
            let sides = [
                left,
                baseline - 0.75 * size,
                left + wide,
                baseline + 0.2 * size,
            ];
            (content, sides)
        })
        .collect()
}

fn view_box(document: &Document<'_>) -> [f64; 4] {
    let sides: Vec<f64> = document
        .root_element()
        .attribute("viewBox")
        .unwrap()
        .split(' ')
        .map(|side| side.parse().unwrap())
        .collect();
    sides.try_into().unwrap()
}

/// Left, top, width and height of the first drawing area, which its clip surrounds.
fn drawing_area(document: &Document<'_>) -> [f64; 4] {
    let clip = document
        .descendants()
        .find(|node| node.tag_name().name() == "clipPath")
        .and_then(|node| node.first_element_child())
        .unwrap();
    let number = |name: &str| clip.attribute(name).unwrap().parse::<f64>().unwrap();
    [
        number("x") + 4.0,
        number("y") + 4.0,
        number("width") - 8.0,
        number("height") - 8.0,
    ]
}

#[test]
fn no_text_is_cut_off_or_covers_another() {
    for svg in [sheet().to_svg(), crowded().to_svg()] {
        let document = Document::parse(&svg).unwrap();
        let [.., width, height] = view_box(&document);
        let boxes = text_boxes(&document);
        assert!(boxes.len() > 30);
        for (index, (one, a)) in boxes.iter().enumerate() {
            assert!(
                a[0] >= 0.0 && a[1] >= 0.0 && a[2] <= width && a[3] <= height,
                "{one} {a:?}"
            );
            for (other, b) in &boxes[..index] {
                let overlap = a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3];
                assert!(!overlap, "'{one}' {a:?} covers '{other}' {b:?}");
            }
        }
    }
}

#[test]
fn a_figure_is_an_image_with_a_title_and_a_description() {
    let svg = sheet().to_svg();
    let document = Document::parse(&svg).unwrap();
    let root = document.root_element();
    assert_eq!(root.attribute("role"), Some("img"));
    assert_eq!(root.attribute("width"), Some("180mm"));
    for (reference, tag, content) in [
        (
            "aria-labelledby",
            "title",
            "Pressure decay of the crankcase",
        ),
        (
            "aria-describedby",
            "desc",
            "Readings fall from 39.0 kPa to 5.3 kPa in 120 s. The fit follows them within 0.4 kPa.",
        ),
    ] {
        let id = root.attribute(reference).unwrap();
        let node = document
            .descendants()
            .find(|node| node.attribute("id") == Some(id))
            .unwrap();
        assert_eq!(node.tag_name().name(), tag);
        assert_eq!(node.text().map(str::trim), Some(content));
    }
}

#[test]
fn a_figure_needs_nothing_from_outside_and_clashes_with_no_other() {
    let svg = crowded().to_svg();
    let document = Document::parse(&svg).unwrap();
    let ids: Vec<_> = document
        .descendants()
        .filter_map(|node| node.attribute("id"))
        .collect();
    assert_eq!(ids.len(), 3 + 4, "root, title, description and four clips");
    for id in &ids {
        assert!(id.starts_with("crowded"), "{id}");
    }
    for node in document.descendants() {
        assert!(
            !["script", "image", "use", "a", "foreignObject"].contains(&node.tag_name().name())
        );
        for attribute in node.attributes() {
            assert!(!attribute.name().starts_with("on") && attribute.name() != "href");
        }
        if let Some(clip) = node.attribute("clip-path") {
            let id = clip
                .strip_prefix("url(#")
                .unwrap()
                .strip_suffix(')')
                .unwrap();
            assert!(ids.contains(&id), "{id}");
        }
        for class in node
            .attribute("class")
            .unwrap_or_default()
            .split_whitespace()
        {
            assert!(class.starts_with("ctc-"), "{class}");
        }
    }
    assert_eq!(svg.matches("http").count(), 1, "the name space only");
    let odd = Figure::new("a b\"<\u{e9}", "", "").to_svg();
    assert_eq!(
        Document::parse(&odd)
            .unwrap()
            .root_element()
            .attribute("id"),
        Some("a-b---")
    );
}

#[test]
fn the_same_figure_gives_the_same_bytes() {
    assert_eq!(sheet().to_svg(), sheet().to_svg());
    assert_eq!(crowded().to_svg(), crowded().clone().to_svg());
}

#[test]
fn text_comes_out_as_it_went_in() {
    let nasty = "<b>&amp; \"q\" 'a' ]]> --> </svg>";
    let axis = || Axis::new(nasty, nasty);
    let svg = Figure::new("n", nasty, nasty)
        .caption(nasty)
        .panel(Panel::new(nasty, axis(), axis()).level(1.0, "a<b&c").line(
            nasty,
            Tone::First,
            [(0.0, 1.0)],
        ))
        .to_svg();
    let document = Document::parse(&svg).unwrap();
    let texts = texts(&document);
    assert_eq!(texts.iter().filter(|text| *text == nasty).count(), 4);
    assert!(texts.contains(&format!("{nasty} ({nasty})")));
    assert!(texts.contains(&"a<b&c".to_owned()));
    let title = document.root_element().first_element_child().unwrap();
    assert_eq!(title.text(), Some(nasty));
}

#[test]
fn a_value_is_drawn_where_its_tick_is() {
    for scale in [Scale::Linear, Scale::Log] {
        let axis = || Axis::new("", "").scale(scale).range(1.0, 10.0);
        let svg = figure(Panel::new("", axis(), axis()).points("", Tone::Ink, [(5.0, 2.0).into()]));
        let document = Document::parse(&svg).unwrap();
        let tick = |label: &str, class: &str| {
            let node = classed(&document, class)
                .into_iter()
                .find(|node| node.text().map(str::trim) == Some(label))
                .unwrap();
            ["x", "y"].map(|name| node.attribute(name).unwrap().parse::<f64>().unwrap())
        };
        let marker = classed(&document, "ctc-marker")[0].attribute("d").unwrap();
        // A ring starts at its leftmost point, its radius left of the center.
        let start = marker.trim_start_matches('M').split('a').next().unwrap();
        let (x, y) = start.split_once(' ').unwrap();
        assert!((x.parse::<f64>().unwrap() + 3.2 - tick("5", "ctc-middle")[0]).abs() < 0.011);
        assert!((y.parse::<f64>().unwrap() + 4.2 - tick("2", "ctc-end")[1]).abs() < 0.011);
    }
}

#[test]
fn a_line_from_corner_to_corner_spans_the_clip() {
    let svg = figure(square().line("", Tone::First, [(0.0, 0.0), (10.0, 10.0)]));
    let document = Document::parse(&svg).unwrap();
    let [left, top, width, height] = drawing_area(&document);
    assert!((height - 190.0).abs() < 0.01);
    let number = |value: f64| text::coordinate(value);
    assert_eq!(
        classed(&document, "ctc-line")[0].attribute("d").unwrap(),
        format!(
            "M{} {}L{} {}",
            number(left),
            number(top + height),
            number(left + width),
            number(top)
        )
    );
}

#[test]
fn a_bar_reaches_from_the_zero_to_its_value() {
    let ends = |low: f64, value: f64| {
        let bar = Bar {
            name: "Seal".into(),
            value,
            interval: None,
            note: String::new(),
        };
        let axis = Axis::new("", "").range(low, 10.0);
        let svg = figure(Panel::bars("", axis, "", vec![bar]));
        let document = Document::parse(&svg).unwrap();
        let [left, _, room, _] = drawing_area(&document);
        let data = classed(&document, "ctc-bar")[0].attribute("d").unwrap();
        let share = |corner: &str| {
            let x: f64 = corner.split_once(' ').unwrap().0.parse().unwrap();
            (x - left) / room
        };
        let corners: Vec<_> = data.trim_matches(['M', 'Z']).split('L').collect();
        (share(corners[0]), share(corners[1]))
    };
    for ((start, end), expected) in [
        (ends(-10.0, 5.0), (0.5, 0.75)),
        (ends(-10.0, -5.0), (0.5, 0.25)),
    ] {
        assert!((start - expected.0).abs() < 1e-4 && (end - expected.1).abs() < 1e-4);
    }
}

/// A logarithmic axis has no zero: no bar, whose length would tell nothing, but a dot at the value, filled where it was measured and a
/// ring where it is known.
#[test]
fn on_a_logarithmic_axis_a_size_is_a_dot() {
    let dot = |interval| {
        let bar = Bar {
            name: "Seal".into(),
            value: 1.0,
            interval,
            note: String::new(),
        };
        let axis = Axis::new("", "").scale(Scale::Log).range(0.1, 10.0);
        figure(Panel::bars("", axis, "", vec![bar]))
    };
    let center = |svg: &str, class: &str, reach: f64| {
        let document = Document::parse(svg).unwrap();
        let [left, _, room, _] = drawing_area(&document);
        let data = classed(&document, class)[0].attribute("d").unwrap();
        let first: f64 = data[1..].split_once(' ').unwrap().0.parse().unwrap();
        assert!((first + reach - left - 0.5 * room).abs() < 0.011, "{data}");
        assert!(classed(&document, "ctc-bar").is_empty());
        classed(&document, "ctc-whisker").len()
    };
    // A diamond starts at its top, a ring at its leftmost point.
    assert_eq!(center(&dot(Some((0.5, 2.0))), "ctc-dot", 0.0), 1);
    assert_eq!(center(&dot(None), "ctc-marker", 4.0), 0);
}

/// Half a page's width for one of two drawings side by side, the letters as large.
#[test]
fn a_drawing_in_a_page_is_half_as_wide() {
    let panel = || square().line("", Tone::First, [(0.0, 0.0), (10.0, 10.0)]);
    let svg = Figure::new("half", "", "")
        .in_page()
        .panel(panel())
        .to_svg();
    let document = Document::parse(&svg).unwrap();
    let root = document.root_element();
    assert_eq!(root.attribute("width"), Some("90mm"));
    assert!(root.attribute("viewBox").unwrap().starts_with("0 0 360 "));
    let [left, _, room, _] = drawing_area(&document);
    assert!(left > 0.0 && left + room < 360.0);
}

#[test]
fn what_is_not_drawn_is_counted() {
    let points = [
        (1.0, 1.0),
        (2.0, f64::NAN),
        (f64::INFINITY, 3.0),
        (4.0, 40.0),
        (5.0, 5.0),
    ];
    let svg = figure(square().points("Readings", Tone::Ink, points.map(Point::from)));
    let document = Document::parse(&svg).unwrap();
    assert!(texts(&document).contains(&"Readings (3 not drawn)".to_owned()));
    let legend_and_data = classed(&document, "ctc-marker");
    let data = legend_and_data[1].attribute("d").unwrap();
    assert_eq!(data.matches('M').count(), 2);
}

#[test]
fn a_line_and_a_band_break_where_a_value_is_missing() {
    let line = [
        (1.0, 1.0),
        (2.0, 2.0),
        (3.0, f64::NAN),
        (4.0, 4.0),
        (5.0, 5.0),
    ];
    let slices = line.map(|(x, lower)| Slice {
        x,
        lower,
        upper: f64::INFINITY,
    });
    let svg = figure(
        square()
            .line("", Tone::First, line)
            .band("", Tone::First, slices),
    );
    let document = Document::parse(&svg).unwrap();
    let moves = |class: &str| {
        // The legend's sample comes first.
        let node = classed(&document, class).pop().unwrap();
        node.attribute("d").unwrap().matches('M').count()
    };
    assert_eq!(moves("ctc-line"), 2);
    assert_eq!(moves("ctc-band"), 2, "an open end is no missing value");
    assert_eq!(moves("ctc-edge"), 4);
}

#[test]
fn a_panel_without_data_says_so() {
    let nothing = [
        square(),
        square().points("Readings", Tone::Ink, []),
        square().line("Fit", Tone::First, [(f64::NAN, 1.0)]),
        square().level(5.0, "Limit"),
        Panel::bars("", Axis::new("", ""), "", Vec::new()),
    ];
    for panel in nothing {
        let svg = figure(panel);
        let document = Document::parse(&svg).unwrap();
        assert!(texts(&document).contains(&"no readings".to_owned()));
        assert!(!classed(&document, "ctc-axis").is_empty());
    }
    let svg = figure(square().points("", Tone::Ink, [(1.0, 1.0).into()]));
    assert!(!svg.contains("no readings"));
}

#[test]
fn labels_of_close_lines_move_apart_evenly() {
    let svg = figure(square().level(5.0, "L").level(5.1, "M").level(1.0, "N"));
    let document = Document::parse(&svg).unwrap();
    let boxes = text_boxes(&document);
    let top = |label: &str| boxes.iter().find(|(text, _)| text == label).unwrap().1[1];
    assert!((top("L") - top("M") - 14.4).abs() < 0.02);
    // Their mean is where the mean of the lines is: 4.05 of 10 above N, 19 units each.
    let mean = f64::midpoint(top("L"), top("M"));
    assert!((top("N") - mean - 4.05 * 19.0).abs() < 0.02);
}

/// Numbers of every kind, plain ones among them often.
fn any_number() -> impl Strategy<Value = f64> {
    prop_oneof![
        prop::num::f64::ANY,
        -100.0..100.0_f64,
        Just(0.0),
        Just(f64::NAN),
        Just(f64::INFINITY),
        Just(1e300),
    ]
}

fn any_axis() -> impl Strategy<Value = Axis> {
    (
        any::<String>(),
        any::<bool>(),
        prop::option::of((any_number(), any_number())),
        any_number(),
    )
        .prop_map(|(title, is_log, range, include)| {
            let axis = Axis::new(title, "kPa").include(include).scale(if is_log {
                Scale::Log
            } else {
                Scale::Linear
            });
            match range {
                Some((low, high)) => axis.range(low, high),
                None => axis,
            }
        })
}

proptest! {
    #[test]
    fn any_numbers_and_words_give_a_well_formed_figure(
        x in any_axis(),
        y in any_axis(),
        values in prop::collection::vec((any_number(), any_number(), any_number()), 0..8),
        label in any::<String>(),
    ) {
        let pairs = || values.iter().map(|(x, y, _)| (*x, *y));
        let bars = values.iter().map(|(value, lower, upper)| Bar {
            name: label.clone(),
            value: *value,
            interval: Some((*lower, *upper)),
            note: label.clone(),
        });
        let figure = Figure::new(&label, &label, &label)
            .caption(&label)
            .panel(Panel::bars(&label, x.clone(), &label, bars.collect()))
            .panel(
                Panel::new(&label, x, y)
                    .height(values.first().map_or(100.0, |value| value.0))
                    .points(&label, Tone::Ink, values.iter().map(|(x, y, end)| Point {
                        x: *x,
                        y: *y,
                        interval: Some((*end, *y)),
                    }))
                    .line(&label, Tone::First, pairs())
                    .band(&label, Tone::Third, values.iter().map(|(x, lower, upper)| Slice {
                        x: *x,
                        lower: *lower,
                        upper: *upper,
                    }))
                    .level(values.first().map_or(0.0, |value| value.1), &label)
                    .upright(values.last().map_or(0.0, |value| value.2), &label),
            );
        let svg = figure.to_svg();
        let document = Document::parse(&svg);
        prop_assert!(document.is_ok(), "{:?}", document.err());
        let document = document.unwrap();
        for node in document.descendants() {
            for attribute in node.attributes().filter(|attribute| attribute.name() != "id") {
                let value = attribute.value();
                prop_assert!(!value.contains("NaN") && !value.contains("inf"), "{}", value);
            }
        }
        let [.., width, height] = view_box(&document);
        for (content, [left, top, right, bottom]) in text_boxes(&document) {
            prop_assert!(left >= 0.0 && top >= 0.0 && right <= width && bottom <= height, "{}", content);
        }
    }
}
