//! A recording cut into cells: short stretches of many rows, each with its middle, its scatter and what stands out of it.

use std::ops::Range;

use uom::si::pressure::pascal;

use super::phase::{Phase, PhaseKind};
use casetight::gauge::Gauge;

/// Cells that a trace is cut into at first.
const COARSE_CELLS: usize = 1024;

/// Cells at most, after splitting.
pub(super) const MOST_CELLS: usize = 3000;

/// A cell is split into so many.
const SPLIT: usize = 8;

/// Triples of readings that the noise is told from.
const NOISE_SAMPLES: usize = 4096;

/// Variance of a median of normal readings over that of their mean, pi/2.
const MEDIAN_VARIANCE: f64 = std::f64::consts::FRAC_PI_2;

/// Standard deviation of a normal distribution over its median absolute deviation.
const MAD_TO_SIGMA: f64 = 1.4826;

/// Deviation from straightness that is not worth a piece, as a part of the top pressure.
const SLACK_OF_TOP: f64 = 5e-4;

/// A trace with its direction.
pub(super) struct View<'t> {
    pub(super) time_s: &'t [f64],
    pub(super) gauge_pa: &'t [f64],
    pub(super) sign: f64,
}

impl View<'_> {
    pub(super) fn phase(&self, kind: PhaseKind, rows: Range<usize>) -> Option<Phase> {
        let start_s = *self.time_s.get(rows.start)?;
        let end_s = *self.time_s.get(rows.end.checked_sub(1)?)?;
        Some(Phase {
            kind,
            rows,
            start_s,
            end_s,
        })
    }

    pub(super) fn readings(&self, rows: Range<usize>) -> &[f64] {
        self.gauge_pa.get(rows).unwrap_or_default()
    }

    pub(super) fn seconds(&self, rows: &Range<usize>) -> f64 {
        let at = |row: usize| self.time_s.get(row).copied().unwrap_or(0.0);
        at(rows.end.saturating_sub(1)) - at(rows.start)
    }
}

/// Sizes that tell much from little \[Pa\].
pub(super) struct Scale {
    pub(super) top: f64,
    pub(super) sigma: f64,
    pub(super) event: f64,
}

/// The sign of the pressure that is kept up longest: a glitch of two rows has no say.
pub(super) fn sign_of(gauge_pa: &[f64]) -> f64 {
    if sustained_top(gauge_pa, 1.0) >= sustained_top(gauge_pa, -1.0) {
        1.0
    } else {
        -1.0
    }
}

/// The largest size that three readings in a row reach.
pub(super) fn sustained_top(gauge_pa: &[f64], sign: f64) -> f64 {
    let least = |three: &[f64]| three.iter().fold(f64::INFINITY, |low, g| low.min(sign * g));
    gauge_pa.windows(3).map(least).fold(0.0, f64::max)
}

/// What one reading scatters by.
pub(super) struct Spread {
    /// Standard deviation of a reading, rounding included \[Pa\].
    pub(super) sigma: f64,
    /// Rounding alone, as a standard deviation; readings that stand on one step share it.
    rounding: f64,
}

impl Spread {
    /// From second differences, which neither a level nor a slope enters, by their median, which jumps don't enter.
    pub(super) fn of(gauge_pa: &[f64], gauge: Option<&Gauge>) -> Self {
        let stride = gauge_pa.len().div_ceil(NOISE_SAMPLES).max(1);
        let mut bends = Vec::with_capacity(NOISE_SAMPLES);
        let mut step = f64::INFINITY;
        for three in gauge_pa.windows(3).step_by(stride) {
            if let [a, b, c] = three {
                bends.push((a - 2.0 * b + c).abs());
                let size = (a - b).abs();
                if size > 0.0 {
                    step = step.min(size);
                }
            }
        }
        let scatter = MAD_TO_SIGMA * median(&mut bends) / 6.0_f64.sqrt();
        let step = gauge.map_or(step, |gauge| gauge.step().get::<pascal>());
        let rounding = if step.is_finite() {
            step / 12.0_f64.sqrt()
        } else {
            0.0
        };
        let known = gauge.map_or(rounding, |gauge| {
            gauge.reading_uncertainty().get::<pascal>()
        });
        Self {
            sigma: scatter.max(known),
            rounding,
        }
    }
}

fn median(values: &mut [f64]) -> f64 {
    let middle = values.len() / 2;
    if values.is_empty() {
        return 0.0;
    }
    *values.select_nth_unstable_by(middle, f64::total_cmp).1
}

/// Some neighboring rows.
pub(super) struct Cell {
    pub(super) rows: Range<usize>,
    /// Time \[s\] of the middle row.
    pub(super) t: f64,
    /// Median size in the direction of the test \[Pa\].
    pub(super) v: f64,
    /// One over the variance of the median, slack included \[1/Pa2\].
    pub(super) weight: f64,
    /// Variance of the median by noise alone \[Pa2\].
    pub(super) variance: f64,
}

pub(super) fn cells(trace: &View<'_>, scale: &Scale, spread: &Spread) -> Vec<Cell> {
    let mut scratch = Vec::new();
    ranges(trace, scale)
        .into_iter()
        .map(|rows| {
            scratch.clear();
            scratch.extend(
                trace
                    .readings(rows.clone())
                    .iter()
                    .map(|gauge| trace.sign * gauge),
            );
            let v = median(&mut scratch);
            let middle = usize::midpoint(rows.start, rows.end);
            let t = trace.time_s.get(middle).copied().unwrap_or(0.0);
            let noise = spread.sigma.powi(2);
            let variance = match rows.len() {
                1 | 2 => noise,
                count => (noise * MEDIAN_VARIANCE / count as f64).max(spread.rounding.powi(2)),
            };
            let slack = SLACK_OF_TOP * scale.top;
            Cell {
                rows,
                t,
                v,
                weight: 1.0 / (variance + slack * slack),
                variance,
            }
        })
        .collect()
}

/// Rows of equal number, split further where the needle moves far.
fn ranges(trace: &View<'_>, scale: &Scale) -> Vec<Range<usize>> {
    let size = trace.time_s.len().div_ceil(COARSE_CELLS).max(1);
    let cut = |rows: &Range<usize>, size: usize| -> Vec<Range<usize>> {
        let end = rows.end;
        rows.clone()
            .step_by(size)
            .map(move |from| from..(from + size).min(end))
            .collect()
    };
    let moves = |rows: &Range<usize>| {
        let (low, high) = trace
            .readings(rows.clone())
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), g| {
                (low.min(*g), high.max(*g))
            });
        high - low
    };
    let mut cells: Vec<(f64, Range<usize>)> = cut(&(0..trace.time_s.len()), size)
        .into_iter()
        .map(|rows| (moves(&rows), rows))
        .collect();
    if size == 1 {
        return cells.into_iter().map(|(_, rows)| rows).collect();
    }
    let mut usual: Vec<f64> = cells.iter().map(|(moved, _)| *moved).collect();
    let limit = (2.0 * median(&mut usual)).max(0.02 * scale.top);
    loop {
        let room = MOST_CELLS.saturating_sub(cells.len()) / (SPLIT - 1);
        let mut wide: Vec<f64> = cells
            .iter()
            .filter(|(moved, rows)| *moved > limit && rows.len() > 1)
            .map(|(moved, _)| *moved)
            .collect();
        if wide.is_empty() || room == 0 {
            return cells.into_iter().map(|(_, rows)| rows).collect();
        }
        // Where not all can be split, those within which the needle moves farthest are.
        wide.sort_by(|a, b| b.total_cmp(a));
        let least = wide.get(room - 1).or(wide.last()).copied();
        let least = least.unwrap_or(limit).max(limit);
        let mut left = room;
        cells = cells
            .into_iter()
            .flat_map(|(moved, rows)| {
                if moved < least || moved <= limit || rows.len() <= 1 || left == 0 {
                    return vec![(moved, rows)];
                }
                left -= 1;
                cut(&rows, rows.len().div_ceil(SPLIT))
                    .into_iter()
                    .map(|rows| (moves(&rows), rows))
                    .collect()
            })
            .collect();
    }
}
