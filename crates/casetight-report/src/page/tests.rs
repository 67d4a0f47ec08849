//! The style sheet, and sentences.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test may fail"
)]

use super::*;

/// Contrast ratio of WCAG 2.2, 1 to 21.
fn contrast(one: &str, other: &str) -> f64 {
    let luminance = |color: &str| {
        let digits = if color.len() == 4 { 1 } else { 2 };
        let light = |n: usize| {
            let part = &color[1 + n * digits..][..digits];
            let part = if digits == 1 {
                part.repeat(2)
            } else {
                part.to_owned()
            };
            let encoded = f64::from(u8::from_str_radix(&part, 16).unwrap()) / 255.0;
            if encoded <= 0.04045 {
                encoded / 12.92
            } else {
                ((encoded + 0.055) / 1.055).powf(2.4)
            }
        };
        0.2126 * light(0) + 0.7152 * light(1) + 0.0722 * light(2) + 0.05
    };
    let ratio = luminance(one) / luminance(other);
    ratio.max(1.0 / ratio)
}

/// WCAG 2.2, 1.4.3: text stands out from the paper by 4.5, on the screen by day and night, and in print.
#[test]
fn every_color_of_text_stands_out_from_the_paper() {
    let themes: Vec<&str> = STYLE.split(":root{").skip(1).collect();
    assert_eq!(themes.len(), 3);
    for theme in themes {
        let color = |name: &str| {
            let from = theme.split(&format!("--{name}:")).nth(1).unwrap();
            &from[..from.find([';', '}']).unwrap()]
        };
        for text in ["ink", "quiet", "holds", "leaks", "open"] {
            let ratio = contrast(color(text), color("paper"));
            assert!(ratio > 4.5, "{text}: {ratio}");
        }
    }
}

#[test]
fn the_style_sheet_cannot_end_early_and_fetches_nothing() {
    assert!(!STYLE.contains(['<', '&']) && !STYLE.contains("url(") && !STYLE.contains("@import"));
    assert_eq!(STYLE.matches('{').count(), STYLE.matches('}').count());
}

#[test]
fn assumptions_are_sentences() {
    assert_eq!(sentence("no gas passes"), "No gas passes.");
    assert_eq!(sentence("Done."), "Done.");
}
