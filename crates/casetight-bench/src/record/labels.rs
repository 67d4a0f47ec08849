//! Straight pieces named: pumped, held, released, disturbed.

use std::ops::Range;

use super::cells::{Cell, Scale, View};
use super::phase::{Phase, PhaseKind};
use super::pieces::Piece;
use super::settling::settling;
use super::window::{Chosen, Edge, Window};

/// What an event moves the needle by at least: so many standard deviations of a reading, and this part of the top.
pub(super) const EVENT_SIGMAS: f64 = 6.0;

pub(super) const EVENT_OF_TOP: f64 = 5e-3;

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

/// A hold has at least this many readings.
pub(super) const FEWEST_HELD: usize = 3;

/// What each cell is part of.
pub(super) struct Labels<'c> {
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

/// A decay as far as it is followed: what comes next is held against it.
struct SoFar<'p> {
    before: &'p Piece,
    /// How fast the needle fell \[Pa/s\].
    rate: f64,
    /// What happens within this time is quick \[s\].
    quick: f64,
    scale: &'p Scale,
}

impl<'p> SoFar<'p> {
    /// From a point in time and size to the end of the piece before.
    fn new(origin: (f64, f64), before: &'p Piece, quick: f64, scale: &'p Scale) -> Self {
        let held = before.end.0 - origin.0;
        let rate = if held > 0.0 {
            ((origin.1 - before.end.1) / held).max(0.0)
        } else {
            f64::INFINITY
        };
        Self {
            before,
            rate,
            quick,
            scale,
        }
    }

    /// Whether the needle fell further than the decay allows from one point to another.
    fn beyond(&self, from: (f64, f64), to: (f64, f64)) -> bool {
        from.1 - to.1 > self.scale.event + FASTER * self.rate * (to.0 - from.0)
    }

    fn rises(&self, from: (f64, f64), to: (f64, f64)) -> bool {
        to.1 - from.1 > self.scale.event && to.0 - from.0 <= self.quick
    }

    /// Something happened between the piece before and this one.
    fn jumps(&self, piece: &Piece) -> bool {
        let (from, to) = (self.before.end, piece.start);
        self.beyond(from, to) || self.rises(from, to)
    }

    /// Something happens within this piece.
    fn moves(&self, piece: &Piece) -> bool {
        let falls = self.beyond(piece.start, piece.end)
            && (piece.seconds() <= self.quick || piece.end.1 <= VENTED * self.before.end.1);
        falls || self.rises(piece.start, piece.end)
    }

    /// The needle falls slowly in this piece, and yet too far for this decay.
    fn bends(&self, piece: &Piece) -> bool {
        self.beyond(piece.start, piece.end)
            && piece.start.1 - piece.end.1 > BEND_OF_TOP * self.scale.top
    }

    /// For how long the needle goes on to fall beyond this decay from a piece on \[s\].
    fn falls(&self, pieces: &[&Piece], index: usize) -> f64 {
        pieces
            .iter()
            .skip(index)
            .take_while(|piece| self.beyond(piece.start, piece.end) || piece.cells.len() <= 1)
            .last()
            .map_or(0.0, |piece| piece.end.0 - self.before.end.0)
    }

    /// The piece that is no longer part of what began in this one: an event goes on as long as the needle moves as fast.
    fn end_of_event(&self, pieces: &[&Piece], index: usize) -> usize {
        let mut end = index + 1;
        while let Some(next) = pieces.get(end)
            && (self.beyond(next.start, next.end) || next.cells.len() <= 1)
            && next.end.1 > VENTED * self.before.end.1 * 0.25
        {
            end += 1;
        }
        end
    }
}

impl Held {
    /// Takes off it what the needle takes to settle after pumping; the rows that go.
    fn settle(
        &mut self,
        cells: &[Cell],
        trace: &View<'_>,
        scale: &Scale,
    ) -> Option<(usize, usize)> {
        let rows = &mut self.rows;
        let inside: Vec<&Cell> = cells
            .iter()
            .filter(|cell| cell.rows.start >= rows.start && cell.rows.end <= rows.end)
            .collect();
        let found = settling(&inside, trace.sign, scale.sigma)?;
        let until = trace
            .time_s
            .get(rows.clone())
            .unwrap_or_default()
            .partition_point(|time| *time < found.until_s);
        if until == 0 || rows.len() - until < FEWEST_HELD {
            return None;
        }
        let from = rows.start;
        rows.start += until;
        self.after = Edge::Settling;
        self.settled = found.seen_to_end;
        Some((from, self.rows.start))
    }
}

impl<'c> Labels<'c> {
    pub(super) fn of(trace: &View<'_>, cells: &'c [Cell], pieces: &[Piece], scale: &Scale) -> Self {
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
            let so_far = SoFar::new(origin, before, quick, scale);
            let (jumps, moves) = (so_far.jumps(piece), so_far.moves(piece));
            if !jumps && !moves && !so_far.bends(piece) {
                before = piece;
                index += 1;
                continue;
            }
            // What falls for longer than the needle stood before is the decay, and a supply held the needle up until then.
            if so_far.falls(pieces, index) > before.end.0 - first.start.0 {
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
            let start = piece.cells.start;
            let end = if moves || piece.cells.len() <= 1 {
                so_far.end_of_event(pieces, index)
            } else {
                index
            };
            let after = pieces.get(end);
            let landed = after.map_or(f64::NEG_INFINITY, |piece| piece.start.1);
            let until = after.map_or(cells.end, |piece| piece.cells.start);
            // The first cell of the rest stands for an event that fell between two.
            let event = start..until.max(start + 1);
            if landed <= VENTED * before.end.1 {
                let rest = event.end..cells.end;
                self.mark(event, PhaseKind::Vent);
                self.mark(rest, PhaseKind::Idle);
                return;
            }
            self.mark(event, PhaseKind::Disturbance);
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
        let kind_of = |run: Option<&(PhaseKind, Range<usize>)>| run.map(|(kind, _)| *kind);
        let mut holds = Vec::new();
        for (place, (kind, cells)) in runs.iter().enumerate() {
            if *kind != PhaseKind::Hold {
                continue;
            }
            let run_before = place.checked_sub(1).and_then(|at| runs.get(at));
            let (before, after) = (kind_of(run_before), kind_of(runs.get(place + 1)));
            let rows = self.rows_of_hold(cells, run_before, after);
            if rows.len() < FEWEST_HELD {
                continue;
            }
            let level = self.cells.get(cells.start).map_or(0.0, |cell| cell.v);
            if level < LOW * scale.top {
                continue;
            }
            let mut held = Held {
                rows,
                after: Edge::of(before),
                before: Edge::of(after),
                settled: true,
            };
            if matches!(before, None | Some(PhaseKind::Pump)) {
                self.settled.extend(held.settle(self.cells, trace, scale));
            }
            holds.push(held);
        }
        self.holds = holds;
    }

    /// The row at which the decay after pumping starts, by the rows of both: the nearest top, unless that leaves nothing of either.
    fn decay_starts(&self, pump: &Range<usize>, decay: &Range<usize>) -> usize {
        let between = pump.start + 1..decay.end;
        let tops = self
            .tops
            .iter()
            .copied()
            .filter(|top| between.contains(top));
        tops.min_by_key(|top| top.abs_diff(decay.start))
            .unwrap_or(decay.start)
    }

    /// The rows that are surely of a hold, by what stands before and after it.
    fn rows_of_hold(
        &self,
        cells: &Range<usize>,
        before: Option<&(PhaseKind, Range<usize>)>,
        after: Option<PhaseKind>,
    ) -> Range<usize> {
        let mut rows = self.rows(cells.clone());
        if let Some((PhaseKind::Pump, pump)) = before {
            rows.start = self.decay_starts(&self.rows(pump.clone()), &rows);
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
        rows
    }

    pub(super) fn window(&self, trace: &View<'_>) -> Option<Window> {
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

    pub(super) fn phases(&self, trace: &View<'_>) -> Vec<Phase> {
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
            {
                let top = self.decay_starts(pump, decay);
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

/// Each leg's steps upward; between them the needle may rest as long as a hold.
fn steps_upward(places: &[Place], legs: &[(Place, Place)], event: f64) -> Vec<(Place, Place)> {
    places
        .windows(2)
        .filter_map(|two| match two {
            [from, to] if to.1 - from.1 > event => Some((*from, *to)),
            _ => None,
        })
        .filter(|(from, to)| {
            legs.iter()
                .any(|(low, high)| from.0 >= low.0 && to.0 <= high.0)
        })
        .collect()
}

/// Steps joined where only a pause between strokes lies between them, and the longest stroke \[s\].
fn without_pauses(steps: &[(Place, Place)], last: Place) -> (Vec<(Place, Place)>, f64) {
    let next_starts = steps.iter().skip(1).map(|(from, _)| from.0);
    let longest = steps
        .iter()
        .zip(next_starts.chain([last.0]))
        .map(|((_, to), next)| next - to.0)
        .fold(0.0, f64::max);
    let mut merged: Vec<(Place, Place)> = Vec::new();
    let mut stroke = 0.0_f64;
    for &(from, to) in steps {
        stroke = stroke.max(to.0 - from.0);
        match merged.last_mut() {
            Some(before) if from.0 - before.1.0 <= (PAUSE * longest).max(STROKES * stroke) => {
                before.1 = to;
            }
            _ => merged.push((from, to)),
        }
    }
    (merged, stroke)
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
    let steps = steps_upward(&places, &legs, scale.event);
    let (merged, stroke) = without_pauses(&steps, last);
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
