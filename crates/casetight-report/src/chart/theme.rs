//! Colors, markers, dashes and the embedded style sheet.
//!
//! Colors are plain declarations in classes, not custom properties: converters to print formats
//! read the former and drop the latter. A page may override any class.

/// The visual voice of a series: a color, a marker for points and a dash for lines, so that two
/// tones stay apart in black and white.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Tone {
    /// The color of the text, circles; what was observed.
    Ink,
    /// Blue, diamonds, solid lines.
    First,
    /// Orange, squares, dashed lines.
    Second,
    /// Purple, triangles, dotted lines.
    Third,
    /// Green, crosses, dash-dotted lines.
    Fourth,
}

/// The shape of a point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Marker {
    /// A ring.
    Circle,
    /// A square on its corner.
    Diamond,
    /// A square.
    Square,
    /// A triangle, point up.
    Triangle,
    /// Two crossed strokes.
    Cross,
}

impl Tone {
    /// Every tone, in the order of [`Palette::tones`].
    const ALL: [Self; 5] = [
        Self::Ink,
        Self::First,
        Self::Second,
        Self::Third,
        Self::Fourth,
    ];

    /// The class that sets the color and the dash.
    pub(super) fn class(self) -> &'static str {
        match self {
            Self::Ink => "ctc-ink",
            Self::First => "ctc-first",
            Self::Second => "ctc-second",
            Self::Third => "ctc-third",
            Self::Fourth => "ctc-fourth",
        }
    }

    /// The shape of its points.
    pub(super) fn marker(self) -> Marker {
        match self {
            Self::Ink => Marker::Circle,
            Self::First => Marker::Diamond,
            Self::Second => Marker::Square,
            Self::Third => Marker::Triangle,
            Self::Fourth => Marker::Cross,
        }
    }

    /// The dash of its lines, empty for solid.
    fn dash(self) -> &'static str {
        match self {
            Self::Ink => "9 2 2 2 2 2",
            Self::First => "",
            Self::Second => "8 4",
            Self::Third => "2 3",
            Self::Fourth => "9 3 2 3",
        }
    }
}

/// The colors of one medium.
struct Palette {
    paper: &'static str,
    quiet: &'static str,
    grid: &'static str,
    tones: [&'static str; 5],
}

const LIGHT: Palette = Palette {
    paper: "#fdfcf9",
    quiet: "#56616a",
    grid: "#dedcd4",
    tones: ["#1f2a33", "#0d8fb7", "#dc5707", "#6b1c6f", "#28632b"],
};

const DARK: Palette = Palette {
    paper: "#14191d",
    quiet: "#a4adb3",
    grid: "#323a40",
    tones: ["#e8e6df", "#308ed2", "#f98a31", "#cf9ec6", "#91bf76"],
};

const PRINT: Palette = Palette {
    paper: "#ffffff",
    quiet: "#000000",
    grid: "#d0d0d0",
    tones: ["#000000"; 5],
};

/// Everything about the look that is the same in every medium.
const SHAPES: &str = "\
.ctc-figure{max-width:100%;height:auto}
.ctc-figure text{font-family:system-ui,sans-serif;font-size:12px;font-variant-numeric:tabular-nums;fill:currentColor}
.ctc-figure .ctc-heading{font-size:17px;font-weight:600}
.ctc-figure .ctc-subheading{font-size:13.5px;font-weight:600}
.ctc-figure .ctc-middle{text-anchor:middle}
.ctc-figure .ctc-end{text-anchor:end}
.ctc-figure .ctc-halo{paint-order:stroke;stroke-width:4px;stroke-linejoin:round}
.ctc-grid{fill:none;stroke-width:1}
.ctc-axis{fill:none;stroke:currentColor;stroke-width:1}
.ctc-level{fill:none;stroke:currentColor;stroke-width:1.2;stroke-dasharray:1 4;stroke-linecap:round}
.ctc-line{fill:none;stroke:currentColor;stroke-width:2;stroke-linejoin:round}
.ctc-band{fill:currentColor;fill-opacity:0.2;stroke:none}
.ctc-edge{fill:none;stroke:currentColor;stroke-width:0.8;stroke-opacity:0.7}
.ctc-whisker{fill:none;stroke:currentColor;stroke-width:1.2}
.ctc-marker{stroke:currentColor;stroke-width:1.2}
.ctc-dot{fill:currentColor;stroke:currentColor;stroke-width:1}
.ctc-bar{fill:currentColor;fill-opacity:0.35;stroke:currentColor;stroke-width:1}
";

/// The style sheet of a figure, the same for every figure, so that several share a page.
pub(super) fn style_sheet() -> String {
    let dashes = Tone::ALL
        .into_iter()
        .filter(|tone| !tone.dash().is_empty())
        .map(|tone| {
            rule(
                &format!(".ctc-line.{}", tone.class()),
                "stroke-dasharray",
                tone.dash(),
            )
        });
    std::iter::once(SHAPES.to_owned())
        .chain(dashes)
        .chain([
            colors(&LIGHT),
            format!(
                "@media (prefers-color-scheme:dark){{\n{}}}\n",
                colors(&DARK)
            ),
            format!("@media print{{\n{}}}\n", colors(&PRINT)),
        ])
        .collect()
}

fn colors(palette: &Palette) -> String {
    let tones = Tone::ALL
        .into_iter()
        .zip(palette.tones)
        .map(|(tone, color)| rule(&format!(".{}", tone.class()), "color", color));
    [
        rule(".ctc-paper,.ctc-marker", "fill", palette.paper),
        rule(".ctc-figure .ctc-halo", "stroke", palette.paper),
        rule(".ctc-grid", "stroke", palette.grid),
        rule(".ctc-quiet", "color", palette.quiet),
    ]
    .into_iter()
    .chain(tones)
    .collect()
}

fn rule(selector: &str, property: &str, value: &str) -> String {
    format!("{selector}{{{property}:{value}}}\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Red, green and blue in linear light, sRGB taken apart as in IEC 61966-2-1.
    fn linear_light(color: &str) -> [f64; 3] {
        [1, 3, 5].map(|at| {
            let encoded = f64::from(u8::from_str_radix(&color[at..at + 2], 16).unwrap()) / 255.0;
            if encoded <= 0.04045 {
                encoded / 12.92
            } else {
                ((encoded + 0.055) / 1.055).powf(2.4)
            }
        })
    }

    fn times(matrix: [[f64; 3]; 3], v: [f64; 3]) -> [f64; 3] {
        matrix.map(|row| row[0] * v[0] + row[1] * v[1] + row[2] * v[2])
    }

    /// Contrast ratio of WCAG 2.2, 1 to 21.
    fn contrast(one: &str, other: &str) -> f64 {
        let luminance = |color| {
            let [r, g, b] = linear_light(color);
            0.2126 * r + 0.7152 * g + 0.0722 * b + 0.05
        };
        let ratio: f64 = luminance(one) / luminance(other);
        ratio.max(1.0 / ratio)
    }

    /// CIE 1976 L*a*b* for the white of D65.
    fn lab(light: [f64; 3]) -> [f64; 3] {
        let [x, y, z] = times(
            [
                [0.412_456_4, 0.357_576_1, 0.180_437_5],
                [0.212_672_9, 0.715_152_2, 0.072_175_0],
                [0.019_333_9, 0.119_192_0, 0.950_304_1],
            ],
            light.map(|part| part.clamp(0.0, 1.0)),
        );
        let root = |t: f64| {
            if t > (6.0_f64 / 29.0).powi(3) {
                t.cbrt()
            } else {
                t / (3.0 * (6.0_f64 / 29.0).powi(2)) + 4.0 / 29.0
            }
        };
        let (x, y, z) = (root(x / 0.950_47), root(y), root(z / 1.088_83));
        [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
    }

    /// Full color vision, then the three dichromacies as simulated by Machado, Oliveira and
    /// Fernandes (2009), severity 1 (published).
    const VISIONS: [[[f64; 3]; 3]; 4] = [
        [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]],
        [
            [0.152_286, 1.052_583, -0.204_868],
            [0.114_503, 0.786_281, 0.099_216],
            [-0.003_882, -0.048_116, 1.051_998],
        ],
        [
            [0.367_322, 0.860_646, -0.227_968],
            [0.280_085, 0.672_501, 0.047_413],
            [-0.011_820, 0.042_940, 0.968_881],
        ],
        [
            [1.255_528, -0.076_749, -0.178_779],
            [-0.078_411, 0.930_809, 0.147_602],
            [0.004_733, 0.691_367, 0.303_900],
        ],
    ];

    #[test]
    fn tones_stay_apart_for_every_color_vision() {
        for palette in [LIGHT, DARK] {
            for vision in VISIONS {
                let seen = palette
                    .tones
                    .map(|tone| lab(times(vision, linear_light(tone))));
                for (at, one) in seen.iter().enumerate() {
                    for other in &seen[..at] {
                        let distance = one
                            .iter()
                            .zip(other)
                            .map(|(a, b)| (a - b).powi(2))
                            .sum::<f64>()
                            .sqrt();
                        // Common practice, no source: 2 is just visible, 20 is plain at a glance.
                        assert!(distance > 20.0, "{distance}: {one:?} {other:?}");
                    }
                }
            }
        }
    }

    #[test]
    fn text_and_shapes_stand_out_from_the_paper() {
        for palette in [LIGHT, DARK, PRINT] {
            // WCAG 2.2, criteria 1.4.3 (text, 4.5) and 1.4.11 (graphics, 3.0).
            assert!(contrast(palette.tones[0], palette.paper) > 4.5);
            assert!(contrast(palette.quiet, palette.paper) > 4.5);
            for tone in palette.tones {
                assert!(contrast(tone, palette.paper) > 3.0, "{tone}");
            }
        }
        assert!((contrast("#000000", "#ffffff") - 21.0).abs() < 1e-9);
    }

    #[test]
    fn tones_differ_without_color() {
        for (at, one) in Tone::ALL.into_iter().enumerate() {
            for other in Tone::ALL.into_iter().take(at) {
                assert_ne!(one.marker(), other.marker());
                assert_ne!(one.dash(), other.dash());
                assert_ne!(one.class(), other.class());
            }
        }
    }

    #[test]
    fn the_sheet_is_balanced_and_needs_no_escape() {
        let sheet = style_sheet();
        assert_eq!(sheet.matches('{').count(), sheet.matches('}').count());
        assert!(!sheet.contains(['<', '>', '&', '"']));
        assert!(!sheet.contains("url(") && !sheet.contains("import"));
        assert!(sheet.find("dark").unwrap() < sheet.find("print").unwrap());
    }
}
