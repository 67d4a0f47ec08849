//! The picture of an assessed run: readings, fit and band; residuals; the straightening coordinate.

use casetight::fit::Fit;
use casetight::quantity::Unit;
use casetight_bench::assess::{Outcome, RunAssessment};
use casetight_bench::record::{Segments, Window};
use casetight_bench::sheet::Record;

use crate::chart::{Axis, Figure, Panel, Point, Slice, Tone};
use crate::words::NOT_FOLLOWED;

/// Places along a drawn curve.
const CURVE_PLACES: u32 = 160;

/// The figure of all runs that have readings, one below the other.
pub(crate) fn figure<'a>(
    title: &str,
    runs: impl Iterator<Item = (&'a str, &'a RunAssessment, &'a Record)>,
) -> Figure {
    let fitted: Vec<(&str, &Fit, Option<Cut<'_>>, &Unit)> = runs
        .filter_map(|(name, run, record)| match &run.outcome {
            Outcome::Fitted(fitted) => {
                let unit = run.assumptions.pressure_unit;
                Some((name, &fitted.fit, Cut::of(record), unit))
            }
            _ => None,
        })
        .collect();
    let description: Vec<String> = fitted
        .iter()
        .map(|(name, fit, cut, unit)| {
            let cut = cut.as_ref().map_or(String::new(), Cut::words);
            describe(name, fit, unit) + &cut
        })
        .collect();
    let mut figure = Figure::new("assess", title, description.join(" ")).caption(
        "Points are readings. The band is the interval of the leak rate at the fitted start pressure; it does not hold the \
         volume's uncertainty. In the straightened coordinate the readings of an orifice fall on a line.",
    );
    for (name, fit, cut, unit) in fitted {
        if let Some(cut) = cut {
            figure = figure.panel(cut.panel(name, unit));
        }
        for panel in panels(name, fit, unit) {
            figure = figure.panel(panel);
        }
    }
    figure
}

/// A trace of which a part is used.
struct Cut<'a> {
    segments: &'a Segments,
    window: &'a Window,
}

impl<'a> Cut<'a> {
    fn of(record: &'a Record) -> Option<Self> {
        match record {
            Record::Trace {
                window, segments, ..
            } if window.leaves_out() => Some(Self { segments, window }),
            _ => None,
        }
    }

    fn words(&self) -> String {
        let phases: Vec<String> = self
            .segments
            .phases()
            .iter()
            .map(|phase| {
                format!(
                    "{} {:.1} s to {:.1} s",
                    phase.kind, phase.start_s, phase.end_s
                )
            })
            .collect();
        format!(
            " The trace: {}; used: {:.1} s to {:.1} s.",
            phases.join(", "),
            self.window.from_s,
            self.window.to_s
        )
    }

    /// The whole trace, with what is not used shaded.
    fn panel(&self, name: &str, unit: &Unit) -> Panel {
        let outline = self.segments.outline();
        let shade = |from: f64, to: f64| {
            [from, to].map(|x| Slice {
                x,
                lower: f64::NEG_INFINITY,
                upper: f64::INFINITY,
            })
        };
        let (first, last) = match (outline.first(), outline.last()) {
            (Some((first, _)), Some((last, _))) => (*first, *last),
            _ => (self.window.from_s, self.window.to_s),
        };
        let mut panel = Panel::new(
            format!("{name}: the whole trace"),
            Axis::new("Time", "s"),
            Axis::new("Gauge pressure", unit.symbol()).include(0.0),
        )
        .height(120.0);
        for (label, from, to) in [
            ("before, not used", first, self.window.from_s),
            ("after, not used", self.window.to_s, last),
        ] {
            if from < to {
                panel = panel.band(label, Tone::Second, shade(from, to));
            }
        }
        let readings = outline
            .iter()
            .map(|(time, gauge)| (*time, unit.from_si(*gauge)));
        panel.line("readings", Tone::First, readings)
    }
}

pub(crate) fn describe(name: &str, fit: &Fit, unit: &Unit) -> String {
    let (Some(first), Some(last)) = (fit.residuals.first(), fit.residuals.last()) else {
        return format!("Run {name}: {NOT_FOLLOWED}.");
    };
    format!(
        "Run {name}: readings go from {} to {}; they lie about the fitted curve by {} (root mean square).",
        unit.shown(first.reading_pa, 3),
        unit.shown(last.reading_pa, 3),
        unit.shown(fit.residual_rms_pa, 2),
    )
}

/// Times along a run for a drawn curve.
pub(crate) fn places(fit: &Fit) -> impl Iterator<Item = f64> {
    let (first, last) = match (fit.residuals.first(), fit.residuals.last()) {
        (Some(first), Some(last)) => (first.time_s, last.time_s),
        _ => (0.0, 0.0),
    };
    (0..=CURVE_PLACES).map(move |i| first + (last - first) * f64::from(i) / f64::from(CURVE_PLACES))
}

/// Readings, the fitted curve and the band of the rate's interval.
pub(crate) fn readings_panel(name: &str, fit: &Fit, unit: &Unit) -> Panel {
    let shown = |t: f64, rate: f64| unit.from_si(fit.reading_at(t, rate).unwrap_or(f64::NAN));
    Panel::new(
        format!("{name}: readings and fit"),
        Axis::new("Time", "s"),
        Axis::new("Gauge pressure", unit.symbol()),
    )
    .band(
        "interval",
        Tone::First,
        places(fit).map(|x| {
            let (a, b) = (shown(x, fit.rate.si().low), shown(x, fit.rate.si().high));
            Slice {
                x,
                lower: a.min(b),
                upper: a.max(b),
            }
        }),
    )
    .points(
        "readings",
        Tone::Ink,
        fit.residuals
            .iter()
            .map(|r| (r.time_s, unit.from_si(r.reading_pa)).into()),
    )
    .line(
        "fit",
        Tone::First,
        places(fit).map(|x| (x, shown(x, fit.rate.si().value))),
    )
}

fn panels(name: &str, fit: &Fit, unit: &Unit) -> [Panel; 3] {
    let time = || Axis::new("Time", "s");
    let readings = readings_panel(name, fit, unit);
    let off = |r: &casetight::fit::Residual| unit.from_si(r.reading_pa - r.fitted_pa);
    let two_sigma = |r: &casetight::fit::Residual| {
        // A residual on the curve tells no size; its neighbors do.
        let sigma = off(r) / r.standardized;
        if sigma.is_finite() {
            2.0 * sigma
        } else {
            f64::NAN
        }
    };
    let residuals = Panel::new(
        format!("{name}: residuals"),
        time(),
        Axis::new("Reading less fit", unit.symbol()),
    )
    .height(120.0)
    .band(
        "two standard uncertainties of a reading",
        Tone::Second,
        fit.residuals.iter().map(|r| Slice {
            x: r.time_s,
            lower: -two_sigma(r),
            upper: two_sigma(r),
        }),
    )
    .level(0.0, "")
    .points(
        "residuals",
        Tone::Ink,
        fit.residuals.iter().map(|r| (r.time_s, off(r)).into()),
    );
    let straight = Panel::new(
        format!("{name}: straightened"),
        time(),
        Axis::new("Orifice coordinate", ""),
    )
    .height(150.0)
    .points(
        "readings",
        Tone::Ink,
        fit.residuals.iter().map(|r| Point {
            x: r.time_s,
            y: fit.straightened(r.reading_pa).unwrap_or(f64::NAN),
            interval: None,
        }),
    )
    .line(
        "fit",
        Tone::First,
        places(fit).map(|x| (x, fit.straightened_at(x).unwrap_or(f64::NAN))),
    );
    [readings, residuals, straight]
}
