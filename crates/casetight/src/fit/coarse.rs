//! The rate behind the readings of a coarse gauge.
//!
//! Where a gauge's noise is small beside its step, readings stick to steps: their errors are not independent, a
//! least-squares fit is overconfident on a slow fall and wasteful on a fast one. The probability of each reading given
//! rate and start pressure is known (noise, then rounding), so the posterior of both, under flat priors, is summed over
//! a grid that closes in on where the probability is. Flat priors in rate and start pressure make the central interval
//! of the rate cover as often as it says (shown by simulation in the workspace's tests).

use super::least_squares::Solved;
use super::problem::SharedValues;
use crate::gauge::{ln_interval_likelihood, ln_interval_slope};
use crate::vessel::{AnyShape, DecayModel};

/// Points on a side of the grid while it closes in, and of the last one.
const SEARCH_SIDE: usize = 14;
const FINAL_SIDE: usize = 36;
/// Log-likelihood below the best at which a place on the grid no longer counts (probability 6e-6 of the best's).
const NEGLIGIBLE: f64 = 12.0;
/// The grid closes in, or widens, at most this often.
const ROUNDS: usize = 12;
/// Places at which the pressure's curve is tabulated: its cubic is good to 1e-6 of ambient.
const CURVE_PLACES: usize = 128;
/// A reading's log-likelihood is tabulated this many standard deviations of noise to either side of a step's edge,
const BEND: f64 = 7.5;
/// at this many places, four or more in each: its cubic is good to 1e-5.
const BEND_PLACES: usize = 61;
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
#[derive(Debug, Clone)]
struct Seen {
    time: f64,
    /// The reading less what heat does to it.
    reading: f64,
    sigma: f64,
    /// Its log-likelihood over the size of the difference between felt pressure and reading, where it bends.
    bend: Table,
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
    let rounded = Rounded::new(solved, step)?;
    let over = |window: Window, side: usize, known: f64| {
        let curve = rounded.curve(window, &frame);
        Grid::over(window, side, known, &|x, y, floor| {
            let start = frame.start + y + frame.skew * x;
            rounded.ln_likelihood(&curve, frame.rate + x, start, floor)
        })
    };

    let wide = 6.0;
    let mut window = Window {
        x: (-wide * frame.rate_scale, wide * frame.rate_scale),
        y: (-wide * frame.start_scale, wide * frame.start_scale),
    };
    let mut best = f64::NEG_INFINITY;
    for _ in 0..ROUNDS {
        let grid = over(window, SEARCH_SIDE, best);
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
    over(window, FINAL_SIDE, best).quantiles(&frame, tail)
}

/// So many places at most, spread evenly over a number of them: by their bits reversed, so that one more place changes no more than one
/// of those taken.
fn spread_over(of: usize, most: usize) -> Vec<usize> {
    let mut places: Vec<usize> = (0..of).collect();
    if of > most {
        places.select_nth_unstable_by_key(most, |place| place.reverse_bits());
        places.truncate(most);
        places.sort_unstable();
    }
    places
}

/// The probability of the rounded readings given rate and start pressure.
struct Rounded<'s> {
    model: &'s DecayModel,
    coordinate: &'s AnyShape,
    shared: SharedValues,
    step: f64,
    seen: Vec<Seen>,
}

impl<'s> Rounded<'s> {
    fn new(solved: &'s Solved<'_>, step: f64) -> Option<Self> {
        let mut new = Self {
            model: &solved.model,
            coordinate: solved.model.shape(),
            shared: solved.shared,
            step,
            seen: Vec::new(),
        };
        let (fall, from) = new.line(solved.rate, solved.start)?;
        let data = solved.data;
        let at_points = solved.at_points()?;
        let places = spread_over(data.points.len(), MOST_POINTS);
        new.seen = (places.into_iter())
            .filter_map(|i| Some((data.points.get(i)?, data.sigmas.get(i)?, at_points.get(i)?)))
            .map(|(point, sigma, at)| {
                // What heat does to the readings, as it is at the optimum: the grid moves by the closed form alone.
                let (y, _) = new.coordinate.ratio(from - fall * point.time);
                let closed = new.shared.ambient * y;
                Seen {
                    time: point.time,
                    reading: point.reading
                        - point.beside
                        - (new.shared.shows(at, point.time) - new.shared.felt(closed)),
                    sigma: *sigma,
                    bend: bend(step, *sigma),
                }
            })
            .collect();
        Some(new)
    }

    /// The speed \[1/s\] at which the coordinate falls, and where it starts; none for a start that is not valid.
    fn line(&self, rate: f64, start: f64) -> Option<(f64, f64)> {
        let from = self.coordinate.start(start, self.shared.ambient)?;
        let (over, _) = self.model.orifice_over_own(start / self.shared.ambient);
        Some((rate / over * self.coordinate.speed(), from.s))
    }

    /// The pressure ratio over the straightening coordinate, as far as a window leads.
    fn curve(&self, window: Window, frame: &Frame) -> Table {
        let last = self.seen.last().map_or(0.0, |seen| seen.time);
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for x in [window.x.0, window.x.1] {
            for y in [window.y.0, window.y.1] {
                let start = frame.start + y + frame.skew * x;
                let Some((fall, from)) = self.line(frame.rate + x, start) else {
                    continue;
                };
                for s in [from, from - fall * last] {
                    low = low.min(s);
                    high = high.max(s);
                }
            }
        }
        let low = low.max(self.coordinate.end());
        Table::of((low, high), CURVE_PLACES, |s| self.coordinate.ratio(s))
    }

    /// Each reading only lowers the sum: what has fallen to the floor counts for nothing, however far it would go on.
    fn ln_likelihood(&self, curve: &Table, rate: f64, start: f64, floor: f64) -> f64 {
        let Some((fall, from)) = self.line(rate, start) else {
            return f64::NEG_INFINITY;
        };
        let mut sum = 0.0;
        for seen in &self.seen {
            let s = from - fall * seen.time;
            let y = curve.at(s).unwrap_or_else(|| self.coordinate.ratio(s).0);
            let difference = seen.reading - self.shared.felt(self.shared.ambient * y);
            sum += (seen.bend.at(difference.abs()))
                .unwrap_or_else(|| ln_interval_likelihood(difference, self.step, seen.sigma));
            if sum < floor {
                break;
            }
        }
        sum
    }
}

/// A reading's log-likelihood over the size of the difference between felt pressure and reading: where it bends, about the
/// edge of a step.
fn bend(step: f64, sigma: f64) -> Table {
    let (low, high) = (
        (step / 2.0 - BEND * sigma).max(0.0),
        step / 2.0 + BEND * sigma,
    );
    Table::of((low, high), BEND_PLACES, |difference| {
        (
            ln_interval_likelihood(difference, step, sigma),
            ln_interval_slope(difference, step, sigma),
        )
    })
}

/// A function at evenly spaced places, and between them the cubic with its values and slopes there.
#[derive(Debug, Clone)]
struct Table {
    from: f64,
    /// Places in a unit of the argument.
    per_unit: f64,
    /// Value, and slope times the distance of places.
    places: Vec<(f64, f64)>,
}

impl Table {
    /// `function` gives value and slope.
    fn of(range: (f64, f64), places: usize, function: impl Fn(f64) -> (f64, f64)) -> Self {
        let distance = (range.1 - range.0) / (places.max(2) - 1) as f64;
        Self {
            from: range.0,
            per_unit: 1.0 / distance,
            places: (0..places)
                .map(|i| {
                    let (value, slope) = function(place(range, i, places));
                    (value, distance * slope)
                })
                .collect(),
        }
    }

    /// None outside its range.
    #[inline]
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "it is not below zero, and what is too large is beyond the places"
    )]
    fn at(&self, x: f64) -> Option<f64> {
        let along = (x - self.from) * self.per_unit;
        if along.is_nan() || along < 0.0 {
            return None;
        }
        let i = along as usize;
        let (below, above) = (self.places.get(i)?, self.places.get(i + 1)?);
        let t = along - i as f64;
        let rise = above.0 - below.0;
        // Hermite's cubic, by its distance from the chord.
        let bow = (below.1 - rise) * (1.0 - t) + (rise - above.1) * t;
        Some(below.0 + t * (rise + (1.0 - t) * bow))
    }
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_is_its_function_between_its_places_and_nothing_beyond() {
        let table = Table::of((0.5, 2.0), 31, |x: f64| (x.exp(), x.exp()));
        for i in 0..=1000 {
            let x = 0.5 + 1.4999 * f64::from(i) / 1000.0;
            let got = table.at(x).unwrap();
            // h^4/384 of a function that is its own fourth derivative.
            assert!((got - x.exp()).abs() < 1.3e-7, "{x}: {got}");
        }
        for beyond in [0.499, 2.06, f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            assert_eq!(table.at(beyond), None);
        }
    }

    /// From noise a hundredth of a step to noise as large as one.
    #[test]
    fn a_tabulated_reading_tells_what_it_would_itself() {
        let step = 862.0;
        for sigma in [8.6, 86.0, 200.0, 862.0] {
            let table = bend(step, sigma);
            for i in 0..2000 {
                let difference = f64::from(i) / 2000.0 * (step / 2.0 + BEND * sigma);
                let want = ln_interval_likelihood(difference, step, sigma);
                let got = table.at(difference).unwrap_or(want);
                assert!(
                    (got - want).abs() < 2e-5,
                    "{sigma} {difference}: {got} {want}"
                );
            }
        }
        let edge = bend(step, 0.0);
        assert!(
            [0.0, 430.0, 431.0, 432.0]
                .iter()
                .all(|d| edge.at(*d).is_none())
        );
    }
}
