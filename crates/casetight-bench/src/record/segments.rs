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

use super::cells::{MOST_CELLS, Scale, Spread, View, cells, sign_of, sustained_top};
use super::labels::{EVENT_OF_TOP, EVENT_SIGMAS, FEWEST_HELD, Labels};
use super::phase::{Phase, PhaseKind};
use super::pieces::pieces;
use super::window::{Chosen, Window, seconds};
use casetight::below::check_rows;
use casetight::gauge::Gauge;
use casetight::readings::ReadingsError;

/// With fewer readings than this there is nothing to tell phases by.
const FEWEST_ROWS: usize = 8;

/// A trace in phases, and the part of it that is the hold.
///
/// ```
/// use casetight_bench::record::{PhaseKind, Segments};
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
/// # Ok::<(), casetight_bench::record::SegmentsError>(())
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
    /// Readings that are not valid.
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

#[cfg(test)]
#[path = "segments_tests.rs"]
mod tests;
