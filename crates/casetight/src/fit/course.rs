//! Where the needle went, by the readings alone.
//!
//! A fit may call a leak negative where the needle fell: known heat or a logged temperature explain more than the fall. Whether the needle
//! moved away from zero is a matter of the readings, so that it is asked of them: the mean of the first third of the hold beside that of
//! the last, with the gauge's noise and step as the scale. Checked by `tests/tests/needles.rs`.

use uom::si::pressure::pascal;

use super::found::RISING;
use crate::gauge::Gauge;
use crate::readings::Readings;

/// The parts of the hold that are compared are its first and its last third.
const PARTS: f64 = 3.0;
/// A reading further than this from the middle one of its part, in standard uncertainties, counts as one that lies there: a spike is no
/// course.
const OUTLYING: f64 = 5.0;

/// Which way the needle went.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Moved {
    /// Away from zero, by more than a needle that stands still can seem to.
    AwayFromZero,
    /// Towards zero, or not so far that readings tell.
    Not,
}

/// Which way the needle went over the hold; `noisier` multiplies the gauge's noise.
pub(super) fn moved(readings: &Readings, gauge: &Gauge, noisier: f64) -> Moved {
    let (times, sign) = (readings.times_s(), readings.direction().sign());
    let (Some(from), Some(to)) = (times.first(), times.last()) else {
        return Moved::Not;
    };
    // Of most runs the ends tell already that it fell.
    let ends = readings.gauges_pa();
    let ends = ends.first().zip(ends.last());
    let fell = ends.map_or(0.0, |(first, last)| (first - last) * sign);
    let one = Part::still(1.0, gauge, noisier);
    if fell > RISING * still_apart(&one, &one, gauge) {
        return Moved::Not;
    }
    let third = (to - from) / PARTS;
    let before = times.partition_point(|time| *time <= from + third);
    let after = times.partition_point(|time| *time < to - third);
    let part = |range: std::ops::Range<usize>| {
        let gauges = readings.gauges_pa().get(range).unwrap_or_default();
        Part::of(gauges, sign, gauge, noisier)
    };
    let (Some(first), Some(last)) = (part(0..before), part(after..times.len())) else {
        return Moved::Not;
    };
    if last.size - first.size > RISING * still_apart(&first, &last, gauge) {
        Moved::AwayFromZero
    } else {
        Moved::Not
    }
}

/// A part of the readings.
struct Part {
    /// Mean size \[Pa\].
    size: f64,
    count: f64,
    /// Standard deviation of a reading's noise before rounding \[Pa\].
    noise: f64,
}

impl Part {
    fn of(gauges: &[f64], sign: f64, gauge: &Gauge, noisier: f64) -> Option<Self> {
        let mut sizes: Vec<f64> = gauges.iter().map(|gauge| sign * gauge).collect();
        let middle = sizes.len() / 2;
        if sizes.is_empty() {
            return None;
        }
        let (_, median, _) = sizes.select_nth_unstable_by(middle, f64::total_cmp);
        let (median, count) = (*median, gauges.len() as f64);
        let far = OUTLYING * noisier * gauge.reading_uncertainty().get::<pascal>();
        let near = |size: &f64| size.clamp(median - far, median + far);
        Some(Self {
            size: sizes.iter().map(near).sum::<f64>() / count,
            ..Self::still(count, gauge, noisier)
        })
    }

    /// So many readings of a needle that stands still.
    fn still(count: f64, gauge: &Gauge, noisier: f64) -> Self {
        Self {
            size: 0.0,
            count,
            noise: noisier * gauge.noise().get::<pascal>(),
        }
    }

    /// Standard uncertainty of its mean by noise alone, and that of readings which a step's edge sends up or down at random besides.
    fn uncertainties(&self, step: f64) -> (f64, f64) {
        let root = self.count.sqrt();
        (self.noise / root, self.noise.hypot(step / 2.0) / root)
    }
}

/// Standard uncertainty of the difference of two parts \[Pa\] whose needle stands still. Either bound holds: means of rounded readings lie
/// no more than a step further apart than the noise brings them, and rounding is at worst a toss between two steps.
fn still_apart(a: &Part, b: &Part, gauge: &Gauge) -> f64 {
    let step = gauge.step().get::<pascal>();
    let ((noise_a, tossed_a), (noise_b, tossed_b)) = (a.uncertainties(step), b.uncertainties(step));
    let by_a_step = step / RISING + noise_a.hypot(noise_b);
    by_a_step.min(tossed_a.hypot(tossed_b))
}
