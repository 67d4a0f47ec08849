//! How long gas settles after pumping, seen in the readings alone.

use super::cells::Cell;
use casetight::quantity::ReferenceConditions;

/// Fewer cells than this don't tell a bend.
const FEWEST_CELLS: usize = 12;
/// Time constants that are tried, from twice the cells' distance to this part of the decay.
const LONGEST_TIME_CONSTANT: f64 = 0.2;
const TIME_CONSTANTS: u32 = 16;
/// The readings are used down to this part of the first: the logarithm of smaller ones is mostly noise.
const DOWN_TO: f64 = 0.3;
/// The transient counts above so many of its standard uncertainties, and of a reading's.
const PLAIN: f64 = 8.0;
const PLAIN_READINGS: f64 = 2.0;
/// It is over when this part of it is left.
const LEFT: f64 = 0.02;
/// Settling that takes more than this part of the decay is not seen to end.
const SEEN: f64 = 0.5;

/// A settling transient.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Settling {
    /// When it is over \[s\].
    pub(super) until_s: f64,
    /// Whether the trace shows the straight course after it.
    pub(super) seen_to_end: bool,
}

/// y = a + b t + c exp(-t/tau) over the decay's cells by weighted least squares, for the tau that fits best; y is
/// ln(s/(s + 2 p_a)) under pressure, ln s under vacuum.
pub(super) fn settling(cells: &[&Cell], sign: f64, sigma: f64) -> Option<Settling> {
    let twice = 2.0 * ReferenceConditions::NORMAL.pressure().pascals();
    // How much of s stands beside twice the ambient pressure.
    let part = sign.max(0.0);
    let first = cells.first()?;
    let used: Vec<&&Cell> = cells
        .iter()
        .take_while(|cell| cell.v > DOWN_TO * first.v)
        .collect();
    let last = used.last()?;
    let lasted = last.t - first.t;
    if used.len() < FEWEST_CELLS || lasted <= 0.0 {
        return None;
    }
    let shortest = 2.0 * lasted / (used.len() - 1) as f64;
    let longest = LONGEST_TIME_CONSTANT * lasted;
    if shortest >= longest {
        return None;
    }
    let growth = (longest / shortest).powf(1.0 / f64::from(TIME_CONSTANTS));
    let best = (0..=TIME_CONSTANTS)
        .map(|power| shortest * growth.powi(power.cast_signed()))
        .filter_map(|tau| {
            Some((
                tau,
                transient(
                    &used,
                    |s| (s / (twice + part * s)).ln(),
                    |s| twice / (twice + part * s),
                    tau,
                )?,
            ))
        })
        .min_by(|a, b| a.1.squares.total_cmp(&b.1.squares))?;
    let (tau, fit) = best;
    // From the coordinate back to pressure, at the start.
    let size = fit.size * first.v * (twice + part * first.v) / twice;
    if fit.size < PLAIN * fit.uncertainty || size < PLAIN_READINGS * sigma {
        return None;
    }
    let left = (sigma / size).clamp(LEFT, 1.0);
    let takes = -tau * left.ln();
    let seen_to_end = takes <= SEEN * lasted;
    Some(Settling {
        until_s: first.t + takes.min(SEEN * lasted),
        seen_to_end,
    })
}

struct Transient {
    size: f64,
    uncertainty: f64,
    squares: f64,
}

/// The transient of one time constant: the least-squares line is taken out of both the coordinate and the exponential, and
/// what is left of one is fitted by what is left of the other. `steepness` is s dy/ds.
fn transient(
    cells: &[&&Cell],
    coordinate: impl Fn(f64) -> f64,
    steepness: impl Fn(f64) -> f64,
    tau: f64,
) -> Option<Transient> {
    let first = cells.first()?;
    let rows: Vec<[f64; 4]> = cells
        .iter()
        .map(|cell| {
            let t = (cell.t - first.t) / tau;
            let variance = cell.variance * (steepness(cell.v) / cell.v).powi(2);
            let weight = 1.0 / variance.max(f64::MIN_POSITIVE);
            [t, coordinate(cell.v), (-t).exp(), weight]
        })
        .collect();
    let sum = |of: &dyn Fn(&[f64; 4]) -> f64| rows.iter().map(of).sum::<f64>();
    let w = sum(&|[_, _, _, w]| *w);
    let mean = |of: &dyn Fn(&[f64; 4]) -> f64| sum(&|row: &[f64; 4]| row[3] * of(row)) / w;
    let (t0, y0, e0) = (mean(&|r| r[0]), mean(&|r| r[1]), mean(&|r| r[2]));
    let tt = sum(&|[t, _, _, w]| w * (t - t0).powi(2));
    let (by, be) = (
        sum(&|[t, y, _, w]| w * (t - t0) * (y - y0)) / tt,
        sum(&|[t, _, e, w]| w * (t - t0) * (e - e0)) / tt,
    );
    let bare = |[t, y, e, w]: &[f64; 4]| (y - y0 - by * (t - t0), e - e0 - be * (t - t0), *w);
    let ee = sum(&|row| {
        let (_, e, w) = bare(row);
        w * e * e
    });
    let ye = sum(&|row| {
        let (y, e, w) = bare(row);
        w * y * e
    });
    let size = ye / ee;
    let squares = sum(&|row| {
        let (y, e, w) = bare(row);
        w * (y - size * e).powi(2)
    });
    // Scatter beyond the noise widens the uncertainty.
    let excess = (squares / (cells.len() - 3) as f64).max(1.0);
    Some(Transient {
        size,
        uncertainty: (excess / ee).sqrt(),
        squares,
    })
    .filter(|fit| fit.size.is_finite() && fit.size > 0.0 && fit.uncertainty.is_finite())
}
