//! What if one reading were misread?
//!
//! A hand-kept record has slips, a moved decimal point the commonest, and one of them can turn a verdict round. Where readings are
//! so few that they fit whatever they are, or where they do not fit together, the same leak is fitted again without one of them,
//! and with a decimal point moved; what comes out stands beside the fit as [`Otherwise`], for a verdict to be held against. A
//! reading that all others contradict is left out and named ([`Misread`]).

use uom::si::pressure::pascal;

use super::error::FitError;
use super::found::{Course, Fit, Misread, Otherwise};
use super::terms::Residual;
use crate::gauge::Gauge;
use crate::quantity::Pressure;
use crate::readings::Readings;

/// So few readings can be explained by some leak though one of them is far off; each is suspected, of longer records those that
/// stand out.
const FEW: usize = 6;
/// What is left without one reading is at least this many.
const LEFT: usize = 2;
/// Among more readings than this one does not turn the answer round: those of a logger lose their weight where they outlie.
const MANY: usize = 400;
/// Readings that stand out, of a longer record.
const STANDING_OUT: usize = 3;
/// Fewer readings than this can't contradict one of them, a moved decimal point apart.
const CONTRADICTING: usize = 5;
/// What a moved decimal point multiplies a reading by.
const SLIPS: [f64; 2] = [10.0, 0.1];
/// A reading is called misread where it lies so many of its standard uncertainties off the curve of the others, or so many times what these
/// scatter where that is more,
const FAR_OFF: f64 = 5.0;
/// and where chance makes the others scatter as much as they do in one run of twenty at least: of readings that all scatter more than the
/// gauge explains, some few that happen to agree convict none of the rest.
const AGREEING: f64 = 0.05;

/// Fits readings, every one taken at its word.
type FitAgain<'f> = &'f dyn Fn(&Readings) -> Result<Fit, FitError>;

/// The fit with what other readings would have made of it, or the fit of the others where one is misread; where something is known that
/// explains them all, none is.
pub(super) fn considered(
    fit: Fit,
    readings: &Readings,
    (gauge, explained): (&Gauge, bool),
    again: FitAgain<'_>,
) -> Fit {
    let doubtful = !fit.is_acceptable();
    // A needle that was at rest by the second reading fell at one reading's word; one that had lost nine tenths by then, too.
    let few = telling(readings, gauge) <= FEW
        || fit.rate.high.is_infinite()
        || slipped((readings, gauge), 0, 0.1).is_some();
    if readings.len() > MANY || !few && !doubtful {
        return fit;
    }
    let suspects = if few && readings.len() <= 2 * FEW {
        (0..readings.len()).collect()
    } else {
        standing_out(&fit.residuals, readings)
    };
    let (mut otherwise, mut misread) = (Vec::new(), Vec::<(Misread, Residual, Fit)>::new());
    let mut best = 0.0_f64;
    for index in suspects {
        let as_slip = slips((readings, gauge), index, again);
        if doubtful && let Some(others) = without(readings, index, again) {
            best = best.max(others.probability);
            let off = beside(&fit, &others, index, (readings, gauge));
            let found = off.and_then(|off| contradicted(off, &others, index, !as_slip.is_empty()));
            misread.extend(found.map(|(misread, off)| (misread, off, others.clone())));
            otherwise.push(Otherwise::new(index, None, &others));
        }
        otherwise.extend(as_slip);
    }
    // A slip that explains it comes first; where several readings could each be the misread one, or the others of a reading that
    // is not suspected fit better, none is named.
    if misread.iter().any(|(m, ..)| m.decimal_point) {
        misread.retain(|(m, ..)| m.decimal_point);
    } else {
        misread.retain(|(.., others)| others.probability >= best);
    }
    match (misread.pop(), misread.is_empty()) {
        (Some((misread, off, others)), true) if !explained => {
            left_out(others, off, misread, otherwise)
        }
        _ => Fit { otherwise, ..fit },
    }
}

/// How many readings tell of the leak: those of a needle that has not come to rest at zero.
fn telling(readings: &Readings, gauge: &Gauge) -> usize {
    let at_rest = standstill(gauge);
    let sizes = readings.gauges_pa().iter().map(|gauge| gauge.abs());
    sizes.filter(|size| *size > at_rest).count()
}

/// What two readings of a needle that stands still may differ by \[Pa\].
fn standstill(gauge: &Gauge) -> f64 {
    let none = Pressure::new::<pascal>(0.0);
    gauge.error_of_fall(none).get::<pascal>()
}

impl Otherwise {
    fn new(index: usize, times: Option<f64>, fit: &Fit) -> Self {
        Self {
            row: index + 1,
            times,
            start: fit.judged_from(),
            rate: fit.rate,
            area: fit.area,
        }
    }
}

/// The readings that lie furthest off the curve and off the line between their neighbors, and the first and the last, which draw the
/// curve towards themselves.
fn standing_out(residuals: &[Residual], readings: &Readings) -> Vec<usize> {
    let furthest = |off: &dyn Fn(usize) -> f64| {
        let mut order: Vec<usize> = (0..readings.len()).collect();
        order.sort_by(|a, b| off(*b).total_cmp(&off(*a)));
        order.truncate(STANDING_OUT);
        order
    };
    let mut order = furthest(&|i| residuals.get(i).map_or(0.0, |r| r.standardized.abs()));
    order.extend(furthest(&|i| off_the_line(readings, i).unwrap_or(0.0)));
    order.extend([0, readings.len().saturating_sub(1)]);
    order.sort_unstable();
    order.dedup();
    order
}

/// How far a reading lies off the line between its neighbors \[Pa\]; none for the first and the last.
fn off_the_line(readings: &Readings, index: usize) -> Option<f64> {
    let at = |i: usize| Some((*readings.times_s().get(i)?, *readings.gauges_pa().get(i)?));
    let (before, here, after) = (at(index.checked_sub(1)?)?, at(index)?, at(index + 1)?);
    let part = (here.0 - before.0) / (after.0 - before.0);
    Some((here.1 - before.1 - part * (after.1 - before.1)).abs())
}

/// The fit of all readings but one; none where what is left is too few to say anything.
fn without(readings: &Readings, index: usize, again: FitAgain<'_>) -> Option<Fit> {
    let others = readings.without(index)?;
    (others.len() >= LEFT)
        .then(|| again(&others).ok())
        .flatten()
}

/// What the readings tell if the decimal point of one was moved, where that is a fall that some leak explains.
fn slips(
    (readings, gauge): (&Readings, &Gauge),
    index: usize,
    again: FitAgain<'_>,
) -> Vec<Otherwise> {
    let of = |times: f64| {
        let fit = again(&slipped((readings, gauge), index, times)?).ok()?;
        (fit.is_acceptable() && fit.course != Course::Rises)
            .then(|| Otherwise::new(index, Some(times), &fit))
    };
    SLIPS.into_iter().filter_map(of).collect()
}

/// The readings with the decimal point of one moved, where that is a fall.
fn slipped((readings, gauge): (&Readings, &Gauge), index: usize, times: f64) -> Option<Readings> {
    let moved = readings.with_one_times(index, times)?;
    falls_at(&moved, index, standstill(gauge)).then_some(moved)
}

/// Whether a reading lies between its neighbors, give or take a tenth of it and what the gauge may be off \[Pa\]: a moved decimal point
/// goes further.
fn falls_at(readings: &Readings, index: usize, off: f64) -> bool {
    let size = |i: usize| readings.gauges_pa().get(i).map(|gauge| gauge.abs());
    let here = size(index).unwrap_or(0.0);
    let before = index.checked_sub(1).and_then(size);
    before.is_none_or(|before| here <= 1.1 * before + off)
        && size(index + 1).is_none_or(|after| after <= 1.1 * here + off)
}

/// A reading beside the curve of the others, in its standard uncertainty as the fit of all weighs it; as the gauge has it where that fit
/// could not be followed.
fn beside(
    whole: &Fit,
    others: &Fit,
    index: usize,
    (readings, gauge): (&Readings, &Gauge),
) -> Option<Residual> {
    let time_s = *readings.times_s().get(index)?;
    let reading_pa = *readings.gauges_pa().get(index)?;
    let fitted_pa = others.reading_at(time_s, others.rate.si().value)?;
    let uncertainty = whole.residuals.get(index).map_or_else(
        || gauge.reading_uncertainty().get::<pascal>(),
        |at| (at.reading_pa - at.fitted_pa) / at.standardized,
    );
    Some(Residual {
        time_s,
        reading_pa,
        fitted_pa,
        standardized: (reading_pa - fitted_pa) / uncertainty,
    })
}

/// Whether the others contradict a reading: they tell one leak by themselves, and it lies far off its curve. One of few can be a fall
/// that the others missed, and one of many that scatter is no worse than they, so that only a moved decimal point tells it as misread;
/// the first is never named.
fn contradicted(
    off: Residual,
    others: &Fit,
    index: usize,
    decimal_point: bool,
) -> Option<(Misread, Residual)> {
    let enough = others.residuals.len() + 1 >= CONTRADICTING && others.probability >= AGREEING;
    // Two readings are of one leak whatever they are.
    let tell = others.degrees_of_freedom > 0 && others.is_acceptable();
    let scatter = (others.chi_squared / others.degrees_of_freedom as f64).sqrt();
    let far = off.standardized.abs() > FAR_OFF * scatter.max(1.0);
    let told = tell && far && (enough || decimal_point);
    let misread = Misread {
        row: index + 1,
        time_s: off.time_s,
        reading_pa: off.reading_pa,
        expected_pa: off.fitted_pa,
        decimal_point,
    };
    (told && index > 0).then_some((misread, off))
}

/// The fit of the others, with the misread reading among its residuals.
fn left_out(
    mut others: Fit,
    off: Residual,
    misread: Misread,
    mut otherwise: Vec<Otherwise>,
) -> Fit {
    let place = (misread.row - 1).min(others.residuals.len());
    others.residuals.insert(place, off);
    // Without it is what the fit is now.
    otherwise.retain(|other| other.times.is_some());
    Fit {
        misread: Some(misread),
        otherwise,
        ..others
    }
}
