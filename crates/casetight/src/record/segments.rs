//! What a logger's trace holds: idle, pumping, settling, holding, disturbances, venting; and which part is the hold.
//!
//! Nothing is asked but times and gauge pressures, and what is known of the gauge's step and noise. The method, in the order
//! of its steps, with s the reading's size in the direction of the test:
//!
//! 1. **Cells.** A long trace becomes some thousand cells, each with its rows' median. A cell within which the needle moves
//!    far is split again and again, down to single rows: a vent of one second keeps its place in a trace of a day.
//! 2. **Straight pieces.** The cells are cut into straight pieces by least cost: squared deviations over their variance, and
//!    a price for each piece. Dynamic programming gives the exact minimum, and prunes as it goes (`[Killick2012]`).
//! 3. **Pumping.** Turning points with a dead band of a tenth of the top: a rise from low to high turning point is pumping,
//!    strokes, leaks between strokes and all.
//! 4. **Letting out.** In a case that is shut, gas that leaks through an opening of any fixed kind leaks slower as the
//!    pressure falls, and settling gas slows down too: the rate never grows. Where a piece falls over three times as fast as
//!    the decay before it, something was opened: a vent if that ends near zero, a disturbance if not. If the fall takes longer
//!    than what came before it, a supply held the needle up until then, and the fall is the decay. A quick rise is a
//!    disturbance too, and so is a brief excursion that comes back, a spike or a gauge's dropout.
//! 5. **Settling.** In the coordinate ln(s/(s + 2 p_a)) under pressure, in which a laminar leak falls straight, and ln s under
//!    vacuum, in which a molecular one does, every leak from orifice to narrow path is straight or bends downward (p_a: a
//!    standard atmosphere is near enough here). An exponential that decays on top of it is gas that takes the wall's
//!    temperature; it counts where it is plainly above the noise, until a fiftieth of it is left or it is below the noise of
//!    one reading.
//! 6. **Window.** The longest hold in time. It starts after settling, and ends before vent or disturbance.
//!
//! Time grows linearly with the rows; beyond the trace itself, memory is that of the cells.

use std::fmt;
use std::ops::Range;

use uom::si::pressure::pascal;

use super::readings::{ReadingsError, check_rows};
use super::settling;
use super::window::{Chosen, Edge, Window, seconds};
use crate::gauge::Gauge;

/// With fewer readings than this there is nothing to tell phases by.
const FEWEST_ROWS: usize = 8;
/// A hold has at least this many readings.
const FEWEST_HELD: usize = 3;
/// Cells that a trace is cut into at first.
const COARSE_CELLS: usize = 1024;
/// Cells at most, after splitting.
const MOST_CELLS: usize = 3000;
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
/// Price of a piece, in units of ln(number of cells).
const PIECE_PRICE: f64 = 5.0;
/// What an event moves the needle by at least: so many standard deviations of a reading, and this part of the top.
const EVENT_SIGMAS: f64 = 6.0;
const EVENT_OF_TOP: f64 = 5e-3;
/// Dead band of the turning points.
const TURN_OF_TOP: f64 = 0.1;
const TURN_SIGMAS: f64 = 8.0;
/// A fall this much faster than the decay before it is no decay.
const FASTER: f64 = 3.0;
/// A slow fall that is no decay moves the needle by this part of the top: more than a temperature does.
const BEND_OF_TOP: f64 = 0.05;
/// What happens within this part of a decay is quick.
const QUICK: f64 = 0.1;
/// A spike lasts no longer than this part of the trace.
const SPIKE: f64 = 0.05;
/// Pieces that a spike may be made of.
const SPIKE_PIECES: usize = 4;
/// Below this part of the pressure before, the case is vented.
const VENTED: f64 = 0.2;
/// A hold starts above this part of the top.
const LOW: f64 = 0.2;
/// A pause between strokes is no longer than this part of the longest decay.
const PAUSE: f64 = 0.25;
/// Or than so many strokes.
const STROKES: f64 = 4.0;

/// What happens in a part of a trace.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum PhaseKind {
    /// The needle rests near zero.
    Idle,
    /// The needle is brought up, in strokes or at once, or down in a vacuum test; or a supply holds it there.
    Pump,
    /// Gas takes the wall's temperature.
    Settle,
    /// The case is shut and the needle goes where the leak lets it.
    Hold,
    /// A bumped hose, a spike, a dropout.
    Disturbance,
    /// The case is opened.
    Vent,
}

impl fmt::Display for PhaseKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Idle => "idle",
            Self::Pump => "pump",
            Self::Settle => "settle",
            Self::Hold => "hold",
            Self::Disturbance => "disturbance",
            Self::Vent => "vent",
        })
    }
}

/// A part of a trace.
#[derive(Debug, Clone, PartialEq)]
pub struct Phase {
    /// What happens.
    pub kind: PhaseKind,
    /// Its readings, counted from 0.
    pub rows: Range<usize>,
    /// Time \[s\] of its first reading.
    pub start_s: f64,
    /// Time \[s\] of its last reading.
    pub end_s: f64,
}

/// A trace in phases, and the part of it that is the hold.
///
/// ```
/// use casetight::record::{PhaseKind, Segments};
///
/// // A reading a second: idle, six strokes of a hand pump, a slow fall, a vent.
/// let mut gauge_pa = vec![0.0; 5];
/// gauge_pa.extend([8e3, 16e3, 24e3, 32e3, 40e3, 48e3]);
/// gauge_pa.extend((0..60).map(|i| 48e3 - 25.0 * f64::from(i)));
/// gauge_pa.extend([20e3, 4e3, 0.0, 0.0, 0.0, 0.0]);
/// let time_s: Vec<f64> = (0..gauge_pa.len()).map(|i| i as f64).collect();
///
/// let segments = Segments::of(&time_s, &gauge_pa, None)?;
/// let kinds: Vec<PhaseKind> = segments.phases().iter().map(|phase| phase.kind).collect();
/// assert_eq!(kinds, [PhaseKind::Idle, PhaseKind::Pump, PhaseKind::Hold, PhaseKind::Vent, PhaseKind::Idle]);
/// let window = segments.window()?;
/// assert!((window.from_s - 10.0).abs() <= 1.0 && (window.to_s - 70.0).abs() <= 1.0);
/// # Ok::<(), casetight::record::SegmentsError>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Segments {
    phases: Vec<Phase>,
    window: Option<Window>,
    outline: Vec<(f64, f64)>,
}

/// What can be wrong with a trace that is to be cut into phases.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SegmentsError {
    /// Readings that can't be.
    #[error(transparent)]
    Readings(#[from] ReadingsError),
    /// A trace with pumping or venting in it and no hold.
    #[error(
        "no hold found among {} ({rows} readings, {} s to {} s): after pumping the needle must be left alone for at least {FEWEST_HELD} readings; if there is a hold, say where with a window from and to in seconds",
        in_words(phases),
        seconds(*from_s),
        seconds(*to_s)
    )]
    NoHold {
        /// What was found instead, in order.
        phases: Vec<PhaseKind>,
        /// How many readings there are.
        rows: usize,
        /// Time \[s\] of the first.
        from_s: f64,
        /// Time \[s\] of the last.
        to_s: f64,
    },
}

fn in_words(phases: &[PhaseKind]) -> String {
    let words: Vec<String> = phases.iter().map(ToString::to_string).collect();
    words.join(", ")
}

impl Segments {
    /// Cuts a trace, times \[s\] and gauge pressures \[Pa\] of pressure or vacuum, into phases. What is known of the gauge
    /// sets how small a movement counts; without it, the readings' own scatter and steps do.
    ///
    /// A trace of fewer than eight readings, or one that never leaves the noise, is taken as a hold from end to end.
    ///
    /// # Errors
    /// [`SegmentsError::Readings`] for times that don't rise and numbers that are not finite. A trace without a hold is an
    /// answer; [`Segments::window`] is where it becomes an error.
    pub fn of(
        time_s: &[f64],
        gauge_pa: &[f64],
        gauge: Option<&Gauge>,
    ) -> Result<Self, SegmentsError> {
        check_rows(time_s, gauge_pa)?;
        let (Some(&first), Some(&last)) = (time_s.first(), time_s.last()) else {
            return Err(ReadingsError::TooFew { got: 0 }.into());
        };
        let sign = sign_of(gauge_pa);
        let top = sustained_top(gauge_pa, sign);
        let spread = Spread::of(gauge_pa, gauge);
        let mut segments = Self {
            phases: Vec::new(),
            window: None,
            outline: Vec::new(),
        };
        let trace = View {
            time_s,
            gauge_pa,
            sign,
        };
        let event = (EVENT_SIGMAS * spread.sigma).max(EVENT_OF_TOP * top);
        if time_s.len() < FEWEST_ROWS || top <= event {
            let phase = trace.phase(PhaseKind::Hold, 0..time_s.len());
            segments.phases.extend(phase);
            segments.outline = time_s
                .iter()
                .copied()
                .zip(gauge_pa.iter().copied())
                .take(MOST_CELLS)
                .collect();
            segments.window = Some(Window {
                rows: 0..time_s.len(),
                of_rows: time_s.len(),
                from_s: first,
                to_s: last,
                chosen: Chosen::Whole,
            });
            return Ok(segments);
        }
        let scale = Scale {
            top,
            sigma: spread.sigma,
            event,
        };
        let cells = cells(&trace, &scale, &spread);
        segments.outline = cells.iter().map(|cell| (cell.t, sign * cell.v)).collect();
        let pieces = pieces(&cells);
        let labels = Labels::of(&trace, &cells, &pieces, &scale);
        segments.window = labels.window(&trace);
        segments.phases = labels.phases(&trace);
        Ok(segments)
    }

    /// The phases in order; together they hold every reading once.
    #[must_use]
    pub fn phases(&self) -> &[Phase] {
        &self.phases
    }

    /// The hold to use: the longest in time of those that are undisturbed.
    ///
    /// # Errors
    /// [`SegmentsError::NoHold`] names what the trace holds instead.
    pub fn window(&self) -> Result<&Window, SegmentsError> {
        self.window.as_ref().ok_or_else(|| SegmentsError::NoHold {
            phases: self.phases.iter().map(|phase| phase.kind).collect(),
            rows: self.phases.last().map_or(0, |phase| phase.rows.end),
            from_s: self.phases.first().map_or(f64::NAN, |phase| phase.start_s),
            to_s: self.phases.last().map_or(f64::NAN, |phase| phase.end_s),
        })
    }

    /// The trace's shape in at most some thousand points, time \[s\] and gauge pressure \[Pa\], for a drawing.
    #[must_use]
    pub fn outline(&self) -> &[(f64, f64)] {
        &self.outline
    }
}

/// A trace with its direction.
struct View<'t> {
    time_s: &'t [f64],
    gauge_pa: &'t [f64],
    sign: f64,
}

impl View<'_> {
    fn phase(&self, kind: PhaseKind, rows: Range<usize>) -> Option<Phase> {
        let start_s = *self.time_s.get(rows.start)?;
        let end_s = *self.time_s.get(rows.end.checked_sub(1)?)?;
        Some(Phase {
            kind,
            rows,
            start_s,
            end_s,
        })
    }

    fn readings(&self, rows: Range<usize>) -> &[f64] {
        self.gauge_pa.get(rows).unwrap_or_default()
    }

    fn seconds(&self, rows: &Range<usize>) -> f64 {
        let at = |row: usize| self.time_s.get(row).copied().unwrap_or(0.0);
        at(rows.end.saturating_sub(1)) - at(rows.start)
    }
}

/// Sizes that tell much from little \[Pa\].
struct Scale {
    top: f64,
    sigma: f64,
    event: f64,
}

/// The sign of the pressure that is kept up longest: a glitch of two rows has no say.
fn sign_of(gauge_pa: &[f64]) -> f64 {
    if sustained_top(gauge_pa, 1.0) >= sustained_top(gauge_pa, -1.0) {
        1.0
    } else {
        -1.0
    }
}

/// The largest size that three readings in a row reach.
fn sustained_top(gauge_pa: &[f64], sign: f64) -> f64 {
    let least = |three: &[f64]| three.iter().fold(f64::INFINITY, |low, g| low.min(sign * g));
    gauge_pa.windows(3).map(least).fold(0.0, f64::max)
}

/// What one reading scatters by.
struct Spread {
    /// Standard deviation of a reading, rounding included \[Pa\].
    sigma: f64,
    /// Rounding alone, as a standard deviation; readings that stand on one step share it.
    rounding: f64,
}

impl Spread {
    /// From second differences, which neither a level nor a slope enters, by their median, which jumps don't enter.
    fn of(gauge_pa: &[f64], gauge: Option<&Gauge>) -> Self {
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
    rows: Range<usize>,
    /// Time \[s\] of the middle row.
    pub(super) t: f64,
    /// Median size in the direction of the test \[Pa\].
    pub(super) v: f64,
    /// One over the variance of the median, slack included \[1/Pa2\].
    weight: f64,
    /// Variance of the median by noise alone \[Pa2\].
    pub(super) variance: f64,
}

fn cells(trace: &View<'_>, scale: &Scale, spread: &Spread) -> Vec<Cell> {
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

/// A straight piece of the trace.
#[derive(Debug, Clone)]
struct Piece {
    cells: Range<usize>,
    /// Times \[s\] and sizes \[Pa\] of its ends, on the line.
    start: (f64, f64),
    end: (f64, f64),
}

impl Piece {
    fn seconds(&self) -> f64 {
        self.end.0 - self.start.0
    }

    /// Where the line, if it is long enough to be trusted beyond its end, would be at a time; else the end's level.
    fn beyond(&self, time: f64, until: f64) -> f64 {
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

/// The straight pieces of least cost. The search is exact: a start is dropped only when it can't win any more.
fn pieces(cells: &[Cell]) -> Vec<Piece> {
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
    // Best cost of the cells before each border, and where its last piece starts.
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

/// What each cell is part of.
struct Labels<'c> {
    cells: &'c [Cell],
    kinds: Vec<PhaseKind>,
    /// Decays that start somewhere else than where a cell does: the cell, and the row of the top in it.
    tops: Vec<usize>,
    /// Rows that settling takes from each hold, by the hold's first row.
    settled: Vec<(usize, usize)>,
    holds: Vec<Held>,
}

/// A hold, before it is told from others.
struct Held {
    rows: Range<usize>,
    after: Edge,
    before: Edge,
    settled: bool,
}

impl<'c> Labels<'c> {
    fn of(trace: &View<'_>, cells: &'c [Cell], pieces: &[Piece], scale: &Scale) -> Self {
        let mut labels = Self {
            cells,
            kinds: vec![PhaseKind::Hold; cells.len()],
            tops: Vec::new(),
            settled: Vec::new(),
            holds: Vec::new(),
        };
        let spikes = spikes(pieces, scale);
        let calm: Vec<&Piece> = pieces
            .iter()
            .zip(&spikes)
            .filter(|(_, spike)| !**spike)
            .map(|(piece, _)| piece)
            .collect();
        let pumped = pumped(&calm, cells.len(), scale);
        for cells in &pumped {
            labels.mark(cells.clone(), PhaseKind::Pump);
        }
        // Between pumping lie decays, or the rest before the first.
        let mut from = 0;
        let ends = pumped
            .iter()
            .map(|pump| (pump.start, pump.end))
            .chain([(cells.len(), cells.len())]);
        for (until, next) in ends {
            if from < until {
                let decay: Vec<&Piece> = calm
                    .iter()
                    .copied()
                    .filter(|piece| piece.cells.start >= from && piece.cells.end <= until)
                    .collect();
                labels.decay(from..until, &decay, scale);
                let flags = pieces.iter().zip(&spikes);
                for (piece, _) in flags.filter(|(piece, spike)| {
                    **spike && piece.cells.start >= from && piece.cells.end <= until
                }) {
                    labels.mark(piece.cells.clone(), PhaseKind::Disturbance);
                }
            }
            from = next;
        }
        labels.find_tops(trace, scale);
        labels.find_holds(trace, scale);
        labels
    }

    fn mark(&mut self, cells: Range<usize>, kind: PhaseKind) {
        for label in self.kinds.get_mut(cells).unwrap_or_default() {
            *label = kind;
        }
    }

    /// Labels what is let out of a decay, and the rest near zero.
    fn decay(&mut self, cells: Range<usize>, pieces: &[&Piece], scale: &Scale) {
        let (Some(first), Some(last)) = (pieces.first(), pieces.last()) else {
            return;
        };
        let high = pieces.iter().fold(0.0_f64, |high, piece| {
            high.max(piece.start.1).max(piece.end.1)
        });
        if high < LOW * scale.top {
            self.mark(cells, PhaseKind::Idle);
            return;
        }
        let quick = QUICK * (last.end.0 - first.start.0);
        let mut origin = first.start;
        let mut before = *first;
        let mut index = 1;
        while let Some(piece) = pieces.get(index) {
            let held = before.end.0 - origin.0;
            let rate = if held > 0.0 {
                ((origin.1 - before.end.1) / held).max(0.0)
            } else {
                f64::INFINITY
            };
            // How far the needle fell, beyond what the decay so far allows, from one point to another.
            let beyond = |from: (f64, f64), to: (f64, f64)| {
                from.1 - to.1 > scale.event + FASTER * rate * (to.0 - from.0)
            };
            let rises = |from: (f64, f64), to: (f64, f64)| {
                to.1 - from.1 > scale.event && to.0 - from.0 <= quick
            };
            let falls_within = |piece: &Piece| {
                beyond(piece.start, piece.end)
                    && (piece.seconds() <= quick || piece.end.1 <= VENTED * before.end.1)
            };
            let jumps = beyond(before.end, piece.start) || rises(before.end, piece.start);
            let moves = falls_within(piece) || rises(piece.start, piece.end);
            let bends = beyond(piece.start, piece.end)
                && piece.start.1 - piece.end.1 > BEND_OF_TOP * scale.top;
            if !jumps && !moves && !bends {
                before = piece;
                index += 1;
                continue;
            }
            // What falls for longer than the needle stood before is the decay, and a supply held the needle up until then.
            let falls = pieces
                .iter()
                .skip(index)
                .take_while(|piece| beyond(piece.start, piece.end) || piece.cells.len() <= 1)
                .last()
                .map_or(0.0, |piece| piece.end.0 - before.end.0);
            if falls > before.end.0 - first.start.0 {
                self.mark(cells.start..piece.cells.start, PhaseKind::Pump);
                origin = piece.start;
                before = piece;
                index += 1;
                continue;
            }
            if !jumps && !moves {
                self.mark(piece.cells.start..cells.end, PhaseKind::Disturbance);
                return;
            }
            // The event goes on as long as the needle moves as fast.
            let level = before.end.1;
            let start = piece.cells.start;
            let mut end = index;
            if moves || piece.cells.len() <= 1 {
                end += 1;
                while let Some(next) = pieces.get(end)
                    && (beyond(next.start, next.end) || next.cells.len() <= 1)
                    && next.end.1 > VENTED * level * 0.25
                {
                    end += 1;
                }
            }
            let after = pieces.get(end);
            let landed = after.map_or(f64::NEG_INFINITY, |piece| piece.start.1);
            if landed <= VENTED * level {
                let until = after.map_or(cells.end, |piece| piece.cells.start);
                // The first cell of the rest stands for a vent that fell between two.
                self.mark(start..until.max(start + 1), PhaseKind::Vent);
                self.mark(until.max(start + 1)..cells.end, PhaseKind::Idle);
                return;
            }
            let until = after.map_or(cells.end, |piece| piece.cells.start);
            self.mark(start..until.max(start + 1), PhaseKind::Disturbance);
            let Some(after) = after else { return };
            origin = after.start;
            before = after;
            index = end + 1;
        }
    }

    /// The row of the last reading at the top where pumping ends: the decay starts there.
    fn find_tops(&mut self, trace: &View<'_>, scale: &Scale) {
        let ends: Vec<usize> = (1..self.kinds.len())
            .filter(|at| {
                self.kinds.get(at - 1) == Some(&PhaseKind::Pump)
                    && self.kinds.get(*at) != Some(&PhaseKind::Pump)
            })
            .collect();
        for at in ends {
            let near = at.saturating_sub(2)..(at + 2).min(self.cells.len());
            let rows = self.rows(near);
            let size = |gauge: &f64| trace.sign * gauge;
            let readings = trace.readings(rows.clone());
            let high = readings.iter().map(size).fold(0.0, f64::max);
            // Where the needle rests at the top for a while, the decay starts when it leaves it.
            let last = readings
                .iter()
                .rposition(|gauge| size(gauge) >= high - 2.0 * scale.sigma);
            self.tops.extend(last.map(|at| rows.start + at));
        }
    }

    fn rows(&self, cells: Range<usize>) -> Range<usize> {
        let start = self
            .cells
            .get(cells.start)
            .map_or(0, |cell| cell.rows.start);
        let last = cells.end.checked_sub(1).and_then(|at| self.cells.get(at));
        start..last.map_or(start, |cell| cell.rows.end)
    }

    /// Runs of cells of one kind.
    fn runs(&self) -> Vec<(PhaseKind, Range<usize>)> {
        let mut runs: Vec<(PhaseKind, Range<usize>)> = Vec::new();
        for (at, kind) in self.kinds.iter().enumerate() {
            match runs.last_mut() {
                Some((last, cells)) if last == kind => cells.end = at + 1,
                _ => runs.push((*kind, at..at + 1)),
            }
        }
        runs
    }

    fn find_holds(&mut self, trace: &View<'_>, scale: &Scale) {
        let runs = self.runs();
        let edge = |run: Option<&(PhaseKind, Range<usize>)>| run.map(|(kind, _)| *kind);
        let mut holds = Vec::new();
        for (place, (kind, cells)) in runs.iter().enumerate() {
            if *kind != PhaseKind::Hold {
                continue;
            }
            let before = place.checked_sub(1).and_then(|at| edge(runs.get(at)));
            let after = edge(runs.get(place + 1));
            let mut rows = self.rows(cells.clone());
            let top = self
                .tops
                .iter()
                .copied()
                .min_by_key(|top| top.abs_diff(rows.start));
            if before == Some(PhaseKind::Pump)
                && let Some(top) = top
            {
                rows.start = top.min(rows.end);
            }
            // Of a cell of many rows at the border, nobody knows where in it the border lies.
            let wide = |at: Option<usize>| {
                at.and_then(|at| self.cells.get(at))
                    .map(|cell| cell.rows.clone())
                    .filter(|rows| rows.len() > 1)
            };
            if before.is_some()
                && let Some(cell) = wide(Some(cells.start))
            {
                rows.start = rows.start.max(cell.end);
            }
            if after.is_some()
                && let Some(cell) = wide(cells.end.checked_sub(1))
            {
                rows.end = rows.end.min(cell.start);
            }
            if rows.len() < FEWEST_HELD {
                continue;
            }
            let level = self.cells.get(cells.start).map_or(0.0, |cell| cell.v);
            if level < LOW * scale.top {
                continue;
            }
            let mut start_edge = Edge::of(before);
            let mut settled = true;
            if matches!(before, None | Some(PhaseKind::Pump)) {
                let inside: Vec<&Cell> = self
                    .cells
                    .iter()
                    .filter(|cell| cell.rows.start >= rows.start && cell.rows.end <= rows.end)
                    .collect();
                if let Some(found) = settling::settling(&inside, trace.sign, scale.sigma) {
                    let until = trace
                        .time_s
                        .get(rows.clone())
                        .unwrap_or_default()
                        .partition_point(|time| *time < found.until_s);
                    if until > 0 && rows.len() - until >= FEWEST_HELD {
                        self.settled.push((rows.start, rows.start + until));
                        rows.start += until;
                        start_edge = Edge::Settling;
                        settled = found.seen_to_end;
                    }
                }
            }
            holds.push(Held {
                rows,
                after: start_edge,
                before: Edge::of(after),
                settled,
            });
        }
        self.holds = holds;
    }

    fn window(&self, trace: &View<'_>) -> Option<Window> {
        let longest = self
            .holds
            .iter()
            .max_by(|a, b| trace.seconds(&a.rows).total_cmp(&trace.seconds(&b.rows)))?;
        let rows = longest.rows.clone();
        let all = rows == (0..trace.time_s.len());
        Some(Window {
            of_rows: trace.time_s.len(),
            from_s: trace.time_s.get(rows.start).copied()?,
            to_s: trace.time_s.get(rows.end.checked_sub(1)?).copied()?,
            chosen: if all {
                Chosen::Whole
            } else {
                Chosen::Found {
                    after: longest.after,
                    before: longest.before,
                    of_holds: self.holds.len(),
                    settled: longest.settled,
                }
            },
            rows,
        })
    }

    fn phases(&self, trace: &View<'_>) -> Vec<Phase> {
        let mut runs: Vec<(PhaseKind, Range<usize>)> = self
            .runs()
            .into_iter()
            .map(|(kind, cells)| (kind, self.rows(cells)))
            .collect();
        // The decay starts with the highest reading.
        for at in 1..runs.len() {
            let (left, right) = runs.split_at_mut(at);
            if let (Some((PhaseKind::Pump, pump)), Some((_, decay))) =
                (left.last_mut(), right.first_mut())
                && let Some(top) = self
                    .tops
                    .iter()
                    .copied()
                    .find(|top| (pump.start + 1..decay.end).contains(top))
            {
                pump.end = top;
                decay.start = top;
            }
        }
        let mut phases = Vec::new();
        for (kind, rows) in runs {
            // What a hold lost to settling, wherever it starts.
            let settled = self
                .settled
                .iter()
                .find(|(from, until)| rows.contains(from) && rows.contains(until))
                .filter(|_| kind == PhaseKind::Hold)
                .map(|(_, until)| *until);
            if let Some(until) = settled {
                phases.extend(trace.phase(PhaseKind::Settle, rows.start..until));
                phases.extend(trace.phase(kind, until..rows.end));
            } else {
                phases.extend(trace.phase(kind, rows));
            }
        }
        phases
    }
}

/// Which pieces belong to brief excursions that come back to where the trace would have been.
fn spikes(pieces: &[Piece], scale: &Scale) -> Vec<bool> {
    let mut spikes = vec![false; pieces.len()];
    let (Some(first), Some(last)) = (pieces.first(), pieces.last()) else {
        return spikes;
    };
    let brief = SPIKE * (last.end.0 - first.start.0);
    let mut index = 1;
    while index < pieces.len() {
        let width = (1..=SPIKE_PIECES).find(|width| {
            let (Some(before), Some(inside), Some(after)) = (
                pieces.get(index - 1),
                pieces.get(index..index + width),
                pieces.get(index + width),
            ) else {
                return false;
            };
            let lasted = after.start.0 - before.end.0;
            let back = before.beyond(after.start.0, 1.0);
            let off = inside
                .iter()
                .flat_map(|piece| [piece.start.1, piece.end.1])
                .fold(0.0_f64, |off, v| off.max((v - before.end.1).abs()));
            before.end.1 > LOW * scale.top
                && lasted <= brief
                && before.seconds().max(after.seconds()) > lasted
                && off > scale.event.max(2.0 * (back - before.end.1).abs())
                && (after.start.1 - back).abs() <= scale.event.max(0.1 * off).min(off / 3.0)
        });
        match width {
            Some(width) => {
                for spike in spikes.get_mut(index..index + width).unwrap_or_default() {
                    *spike = true;
                }
                index += width + 1;
            }
            None => index += 1,
        }
    }
    spikes
}

/// A place on a line through the pieces: time, size, and the cell that starts there.
type Place = (f64, f64, usize);

/// The rises from low to high turning point, with a dead band between them.
fn rises(places: &[Place], band: f64, event: f64) -> Vec<(Place, Place)> {
    let Some(&first) = places.first() else {
        return Vec::new();
    };
    let (mut low, mut high) = (first, first);
    let mut rising = None;
    let mut rises = Vec::new();
    // The first top and the last low count where several are alike.
    let lower = |low: Place, place: Place| {
        if place.1 <= low.1 + event {
            (place.0, low.1.min(place.1), place.2)
        } else {
            low
        }
    };
    let higher = |high: Place, place: Place| {
        if place.1 > high.1 + event {
            place
        } else {
            high
        }
    };
    for &place in places {
        if rising != Some(true) {
            low = lower(low, place);
            if place.1 - low.1 > band {
                (rising, high) = (Some(true), place);
            }
        }
        if rising != Some(false) {
            high = higher(high, place);
            if high.1 - place.1 > band {
                if rising == Some(true) {
                    rises.push((low, high));
                }
                (rising, low) = (Some(false), place);
            }
        }
    }
    if rising == Some(true) {
        rises.push((low, high));
    }
    rises
}

/// The cells of each pumping.
fn pumped(pieces: &[&Piece], cells: usize, scale: &Scale) -> Vec<Range<usize>> {
    let band = (TURN_OF_TOP * scale.top).max(TURN_SIGMAS * scale.sigma);
    let places: Vec<Place> = pieces
        .iter()
        .flat_map(|piece| {
            let (start, end) = (piece.start, piece.end);
            [
                (start.0, start.1, piece.cells.start),
                (end.0, end.1, piece.cells.end.min(cells)),
            ]
        })
        .collect();
    let (Some(&first), Some(&last)) = (places.first(), places.last()) else {
        return Vec::new();
    };
    let whole = last.0 - first.0;
    let legs: Vec<(Place, Place)> = rises(&places, band, scale.event)
        .into_iter()
        // A slow rise on top of a pressure that is there is a case that warms.
        .filter(|(low, high)| low.1 < 0.5 * high.1 || high.0 - low.0 <= QUICK * whole)
        .collect();
    // Each leg's steps upward; between them the needle may rest as long as a hold.
    let steps: Vec<(Place, Place)> = places
        .windows(2)
        .filter_map(|two| match two {
            [from, to] if to.1 - from.1 > scale.event => Some((*from, *to)),
            _ => None,
        })
        .filter(|(from, to)| {
            legs.iter()
                .any(|(low, high)| from.0 >= low.0 && to.0 <= high.0)
        })
        .collect();
    let next_starts = steps.iter().skip(1).map(|(from, _)| from.0);
    let longest = steps
        .iter()
        .zip(next_starts.chain([last.0]))
        .map(|((_, to), next)| next - to.0)
        .fold(0.0, f64::max);
    let mut merged: Vec<(Place, Place)> = Vec::new();
    let mut stroke = 0.0_f64;
    for (from, to) in steps {
        stroke = stroke.max(to.0 - from.0);
        match merged.last_mut() {
            Some(before) if from.0 - before.1.0 <= (PAUSE * longest).max(STROKES * stroke) => {
                before.1 = to;
            }
            _ => merged.push((from, to)),
        }
    }
    // The last stroke may end in a step that is too small to count alone.
    let top = |to: Place| {
        places
            .iter()
            .filter(|place| place.0 > to.0 && place.0 - to.0 <= stroke)
            .fold(to, |top, place| {
                if place.1 > top.1 + scale.sigma {
                    *place
                } else {
                    top
                }
            })
    };
    merged
        .into_iter()
        .map(|(from, to)| from.2..top(to).2)
        .filter(|cells| !cells.is_empty())
        .collect()
}

#[cfg(test)]
#[path = "segments_tests.rs"]
mod tests;
