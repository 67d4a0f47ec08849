//! Cells joined into straight pieces of least cost.

use std::ops::Range;

use super::cells::Cell;

/// Price of a piece, in units of ln(number of cells).
const PIECE_PRICE: f64 = 5.0;

/// A straight piece of the trace.
#[derive(Debug, Clone)]
pub(super) struct Piece {
    pub(super) cells: Range<usize>,
    /// Times \[s\] and sizes \[Pa\] of its ends, on the line.
    pub(super) start: (f64, f64),
    pub(super) end: (f64, f64),
}

impl Piece {
    pub(super) fn seconds(&self) -> f64 {
        self.end.0 - self.start.0
    }

    /// Where the line, if it is long enough to be trusted beyond its end, would be at a time; else the end's level.
    pub(super) fn beyond(&self, time: f64, until: f64) -> f64 {
        let ahead = time - self.end.0;
        if self.cells.len() < 4 || self.seconds() < until * ahead {
            return self.end.1;
        }
        self.end.1 + (self.end.1 - self.start.1) / self.seconds() * ahead
    }
}

/// Sums over the first so many cells, for the cost of a straight piece in constant time.
#[derive(Clone, Copy, Default)]
struct Sums {
    w: f64,
    t: f64,
    v: f64,
    tt: f64,
    tv: f64,
    vv: f64,
}

impl Sums {
    fn with(self, t: f64, v: f64, w: f64) -> Self {
        Self {
            w: self.w + w,
            t: self.t + w * t,
            v: self.v + w * v,
            tt: self.tt + w * t * t,
            tv: self.tv + w * t * v,
            vv: self.vv + w * v * v,
        }
    }

    /// Mean time, mean size, slope and weighted sum of squared deviations of the cells after `before`.
    fn line(self, before: Self) -> (f64, f64, f64, f64) {
        let w = self.w - before.w;
        let (t, v) = ((self.t - before.t) / w, (self.v - before.v) / w);
        let tt = self.tt - before.tt - w * t * t;
        let tv = self.tv - before.tv - w * t * v;
        let vv = self.vv - before.vv - w * v * v;
        let slope = if tt > 0.0 { tv / tt } else { 0.0 };
        (t, v, slope, (vv - slope * tv).max(0.0))
    }
}

/// The straight pieces of least cost.
pub(super) fn pieces(cells: &[Cell]) -> Vec<Piece> {
    // Small numbers in the sums keep digits.
    let center = cells.get(cells.len() / 2).map_or(0.0, |cell| cell.t);
    let level = cells.iter().fold(0.0, |sum, cell| sum + cell.v) / cells.len() as f64;
    let mut sums = Vec::with_capacity(cells.len() + 1);
    let mut so_far = Sums::default();
    sums.push(so_far);
    for cell in cells {
        so_far = so_far.with(cell.t - center, cell.v - level, cell.weight);
        sums.push(so_far);
    }
    let price = PIECE_PRICE * (cells.len().max(2) as f64).ln();
    let best = cheapest(&sums, price);
    let mut found = Vec::new();
    let mut end = cells.len();
    while end > 0 {
        let start = best.get(end).map_or(0, |(_, start)| *start);
        if let (Some(before), Some(upto), Some(first), Some(last)) = (
            sums.get(start),
            sums.get(end),
            cells.get(start),
            cells.get(end - 1),
        ) {
            let (t, v, slope, _) = upto.line(*before);
            let at = |cell: &Cell| (cell.t, level + v + slope * (cell.t - center - t));
            found.push(Piece {
                cells: start..end,
                start: at(first),
                end: at(last),
            });
        }
        end = start;
    }
    found.reverse();
    found
}

/// Least cost of the cells before each border at a price for each piece, and where the last piece then starts. The search is exact:
/// a start is dropped only when it can't win any more.
fn cheapest(sums: &[Sums], price: f64) -> Vec<(f64, usize)> {
    let mut best: Vec<(f64, usize)> = vec![(-price, 0)];
    let mut starts = vec![0_usize];
    let mut costs: Vec<f64> = Vec::new();
    for (end, upto) in sums.iter().enumerate().skip(1) {
        let mut least = (f64::INFINITY, 0);
        costs.clear();
        for &start in &starts {
            let (Some(before), Some(&(cost, _))) = (sums.get(start), best.get(start)) else {
                continue;
            };
            let deviation = if end - start > 2 {
                upto.line(*before).3
            } else {
                0.0
            };
            let cost = cost + deviation;
            costs.push(cost);
            if cost + price < least.0 {
                least = (cost + price, start);
            }
        }
        best.push(least);
        let mut at = costs.iter();
        starts.retain(|_| at.next().is_some_and(|cost| *cost <= least.0));
        starts.push(end);
    }
    best
}
