//! The rate behind the readings of a coarse gauge.
//!
//! Where a gauge's noise is small beside its step, readings stick to steps: their errors are not independent, a
//! least-squares fit is overconfident on a slow fall and wasteful on a fast one. The probability of each reading given
//! rate and start pressure is known (noise, then rounding), so the posterior of both, under flat priors, is summed over
//! a grid that closes in on where the probability is. Flat priors in rate and start pressure make the central interval
//! of the rate cover as often as it says (shown by simulation in the workspace's tests).

use super::least_squares::Solved;
use crate::gauge::ln_interval_likelihood;
use crate::vessel::Straight;

/// Points on a side of the grid while it closes in, and of the last one.
const SEARCH_SIDE: usize = 14;
const FINAL_SIDE: usize = 36;
/// Log-likelihood below the best at which a place on the grid no longer counts (probability 6e-6 of the best's).
const NEGLIGIBLE: f64 = 12.0;
/// The grid closes in, or widens, at most this often.
const ROUNDS: usize = 12;
/// More readings than this are thinned evenly: the cost is readings times grid places.
const MOST_POINTS: usize = 240;

/// The rectangle that the grid spans, in the skewed coordinates of [`Frame`].
#[derive(Debug, Clone, Copy)]
struct Window {
    x: (f64, f64),
    y: (f64, f64),
}

/// Rate k = k0 + x, start pressure g0 = g00 + y + skew x: along x the start pressure follows the rate as it does in the
/// least-squares fit, so that the posterior lies square in the window.
#[derive(Debug, Clone, Copy)]
struct Frame {
    rate: f64,
    start: f64,
    skew: f64,
    rate_scale: f64,
    start_scale: f64,
}

/// A reading and what the grid needs with it.
#[derive(Debug, Clone, Copy)]
struct Seen {
    time: f64,
    reading: f64,
    sigma: f64,
    by_heat: f64,
}

/// Quantiles of the rate's posterior.
#[derive(Debug, Clone, Copy)]
pub(super) struct Posterior {
    pub(super) low: f64,
    pub(super) median: f64,
    pub(super) high: f64,
    /// Mean of the start pressure.
    pub(super) start: f64,
}

/// The posterior of a law's rate with the shared terms held at their fitted values; none if no place of the grid can
/// explain the readings. `tail` is the probability left out at either end.
pub(super) fn posterior(solved: &Solved<'_>, step: f64, tail: f64) -> Option<Posterior> {
    let frame = Frame {
        rate: solved.rate,
        start: solved.start,
        skew: solved.held_valley,
        rate_scale: solved.held_uncertainty,
        start_scale: step,
    };
    let data = solved.data;
    let every = data.points.len().div_ceil(MOST_POINTS);
    let coordinate = solved.model.coordinate();
    let shared = solved.shared;
    // What heat does to the readings, as it is at the optimum: the grid moves by the closed form alone.
    let closed = |rate: f64, start: f64| {
        let (over, _) = solved.model.orifice_over_own(start / shared.ambient);
        coordinate
            .start(start, shared.ambient)
            .map(|from| (rate / over, from))
    };
    let (own, from) = closed(solved.rate, solved.start)?;
    let seen: Vec<Seen> = data
        .points
        .iter()
        .zip(&data.sigmas)
        .zip(&solved.at_points()?)
        .step_by(every)
        .map(|((point, sigma), at)| Seen {
            time: point.time,
            reading: point.reading,
            sigma: *sigma,
            by_heat: at.gauge - coordinate.partials(own, &from, point.time).gauge,
        })
        .collect();
    // Each reading only lowers the sum: what has fallen to the floor counts for nothing, however far it would go on.
    let ln_likelihood = |x: f64, y: f64, floor: f64| -> f64 {
        let Some((own, from)) = closed(frame.rate + x, frame.start + y + frame.skew * x) else {
            return f64::NEG_INFINITY;
        };
        let mut sum = 0.0;
        for seen in &seen {
            let gauge = coordinate.partials(own, &from, seen.time).gauge + seen.by_heat;
            sum += ln_interval_likelihood(seen.reading - shared.felt(gauge), step, seen.sigma);
            if sum < floor {
                break;
            }
        }
        sum
    };

    let wide = 6.0;
    let mut window = Window {
        x: (-wide * frame.rate_scale, wide * frame.rate_scale),
        y: (-wide * frame.start_scale, wide * frame.start_scale),
    };
    let mut best = f64::NEG_INFINITY;
    for _ in 0..ROUNDS {
        let grid = Grid::over(window, SEARCH_SIDE, best, &ln_likelihood);
        best = grid.best;
        let next = grid.closing_in()?;
        let shrunk = (next.x.1 - next.x.0) / (window.x.1 - window.x.0);
        let settled = (0.7..1.05).contains(&shrunk)
            && (next.y.1 - next.y.0) > 0.7 * (window.y.1 - window.y.0);
        window = next;
        if settled {
            break;
        }
    }
    Grid::over(window, FINAL_SIDE, best, &ln_likelihood).quantiles(&frame, tail)
}

/// Log-likelihoods over a window, row by row of x.
struct Grid {
    window: Window,
    side: usize,
    values: Vec<f64>,
    best: f64,
}

impl Grid {
    /// `known` is a value that some place is known to have, if any is.
    fn over(
        window: Window,
        side: usize,
        known: f64,
        ln_likelihood: &impl Fn(f64, f64, f64) -> f64,
    ) -> Self {
        let mut values = Vec::with_capacity(side * side);
        let mut highest = known;
        for i in 0..side {
            for j in 0..side {
                // Twice as far below as what counts, so that the edge of what counts is found as it is.
                let floor = highest - 2.0 * NEGLIGIBLE;
                let value =
                    ln_likelihood(place(window.x, i, side), place(window.y, j, side), floor);
                highest = highest.max(value);
                values.push(value);
            }
        }
        let best = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        Self {
            window,
            side,
            values,
            best,
        }
    }

    /// The window around all places that count, with a margin of one step, wider where they touch its edge.
    fn closing_in(&self) -> Option<Window> {
        if !self.best.is_finite() {
            return None;
        }
        let (mut x, mut y) = ((usize::MAX, 0), (usize::MAX, 0));
        for (at, value) in self.values.iter().enumerate() {
            if value - self.best > -NEGLIGIBLE {
                let (i, j) = (at / self.side, at % self.side);
                x = (x.0.min(i), x.1.max(i));
                y = (y.0.min(j), y.1.max(j));
            }
        }
        let side = |range: (f64, f64), found: (usize, usize)| {
            let step = (range.1 - range.0) / (self.side - 1) as f64;
            let widen = |touches: bool| {
                if touches {
                    (range.1 - range.0) / 2.0
                } else {
                    step
                }
            };
            (
                place(range, found.0, self.side) - widen(found.0 == 0),
                place(range, found.1, self.side) + widen(found.1 + 1 == self.side),
            )
        };
        Some(Window {
            x: side(self.window.x, x),
            y: side(self.window.y, y),
        })
    }

    fn quantiles(&self, frame: &Frame, tail: f64) -> Option<Posterior> {
        let weight = |value: &f64| (value - self.best).exp();
        let rows: Vec<f64> = self
            .values
            .chunks(self.side)
            .map(|row| row.iter().map(weight).sum())
            .collect();
        let total: f64 = rows.iter().sum();
        if !(total.is_finite() && total > 0.0) {
            return None;
        }
        // Trapezoids between the rows: probability up to each row.
        let mut cumulative = vec![0.0];
        for pair in rows.windows(2) {
            let last = cumulative.last().copied().unwrap_or(0.0);
            cumulative.push(last + pair.iter().sum::<f64>() / 2.0);
        }
        let whole = cumulative.last().copied()?;
        let quantile = |part: f64| -> Option<f64> {
            let wanted = part * whole;
            let i = cumulative.partition_point(|c| *c < wanted).max(1);
            let (below, above) = (*cumulative.get(i - 1)?, *cumulative.get(i)?);
            let within = if above > below {
                (wanted - below) / (above - below)
            } else {
                0.5
            };
            let (left, right) = (
                place(self.window.x, i - 1, self.side),
                place(self.window.x, i, self.side),
            );
            Some(frame.rate + left + within * (right - left))
        };
        let mut start = 0.0;
        for (at, value) in self.values.iter().enumerate() {
            let x = place(self.window.x, at / self.side, self.side);
            let y = place(self.window.y, at % self.side, self.side);
            start += weight(value) / total * (frame.start + y + frame.skew * x);
        }
        Some(Posterior {
            low: quantile(tail)?,
            median: quantile(0.5)?,
            high: quantile(1.0 - tail)?,
            start,
        })
    }
}

/// Place `i` of `side` evenly spaced ones over a range.
fn place(range: (f64, f64), i: usize, side: usize) -> f64 {
    range.0 + (range.1 - range.0) * i as f64 / (side - 1) as f64
}
