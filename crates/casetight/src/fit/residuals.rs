//! Each reading beside the fitted curve.
//!
//! Takes the readings, the points that the solver had of them and its answer; gives the residuals. Checked by the fit's tests, which hold
//! those beside averaged points against those beside single ones.

use super::least_squares::Data;
use super::problem::SharedValues;
use super::terms::Residual;
use crate::readings::Readings;
use crate::vessel::DecayModel;

/// Readings whose residuals are worked out at a time.
const PIECE: usize = 1 << 16;

/// Each reading beside the solver's own curve, from its weighted residuals; each reading is a point.
pub(super) fn of_solver(readings: &Readings, data: &Data, weighted: &[f64]) -> Vec<Residual> {
    let points = readings.times_s().iter().zip(&data.points).zip(weighted);
    points
        .map(|((&time_s, point), weighted)| Residual {
            time_s,
            reading_pa: point.reading,
            fitted_pa: point.reading + weighted / point.weight,
            standardized: -weighted,
        })
        .collect()
}

/// Each reading beside the curve of a rate, a start pressure and shared terms.
pub(super) fn of_curve(
    readings: &Readings,
    data: &Data,
    model: &DecayModel,
    (rate, start, shared): (f64, f64, &SharedValues),
) -> Vec<Residual> {
    let first = readings.times_s().first().copied().unwrap_or(0.0);
    let parameters = shared.with(rate, start);
    let mut residuals = Vec::with_capacity(readings.len());
    let (mut times, mut at) = (Vec::new(), Vec::new());
    // Piece by piece: what the model gives at each moment takes many times the memory of the readings.
    let pieces = (readings.times_s().chunks(PIECE)).zip(readings.gauges_pa().chunks(PIECE));
    for (piece, (moments, gauges)) in pieces.enumerate() {
        times.clear();
        times.extend(moments.iter().map(|t| t - first));
        if model.follow(&parameters, &times, &mut at).is_none() {
            return Vec::new();
        }
        let readings = moments.iter().zip(gauges).zip(&at);
        residuals.extend(
            readings
                .enumerate()
                .map(|(i, ((&time_s, &reading_pa), at))| {
                    let place = (piece * PIECE + i) / data.block;
                    let point = data
                        .points
                        .get(place.min(data.points.len().saturating_sub(1)));
                    let weight = point.map_or(f64::NAN, |p| p.weight / p.count.sqrt());
                    let beside = point.map_or(0.0, |p| p.beside);
                    let fitted_pa = shared.shows(at, time_s - first) + beside;
                    Residual {
                        time_s,
                        reading_pa,
                        fitted_pa,
                        standardized: (reading_pa - fitted_pa) * weight,
                    }
                }),
        );
    }
    residuals
}
