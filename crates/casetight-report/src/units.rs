//! The units that a page tells its numbers in, and how finely.

use casetight::estimate::Estimate;
use casetight::limit::Limit;
use casetight::measured::Measurable;
use casetight::quantity::{Area, Length, ReferenceConditions, Unit, VolumeRate};
use casetight_bench::assess::Outcome;
use casetight_bench::compare::{Known, SheetsComparison};
use casetight_bench::session::Session;
use casetight_bench::sheet::Sheet;
use uom::si::area::square_meter;
use uom::si::thermodynamic_temperature::degree_celsius;
use uom::si::volume_rate::cubic_meter_per_second;

use crate::words::{limit_in_words, plainly, rounded, to_width};

const MILLIMETERS: f64 = 1e3;
/// 1 m3/s in cm3/min.
const CUBIC_CENTIMETERS_A_MINUTE: f64 = 60e6;

/// An area below this reads better in um2 \[m2\],
const SMALL_AREA: f64 = 1e-9;
/// unless one above this stands on the same page.
const LARGE_AREA: f64 = 1e-7;

/// The units of a page: the gauge's for all pressures, one for all areas.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Units {
    pub(crate) pressure: &'static Unit,
    /// Factor from m2, and the unit's name.
    pub(crate) area: (f64, &'static str),
}

impl Units {
    /// Those that a sheet's leaks, and those before a repair, read well in.
    pub(crate) fn of(
        sheet: &Sheet,
        session: &Session,
        compared: Option<&SheetsComparison>,
    ) -> Self {
        let mut areas = Vec::new();
        for run in &session.runs {
            match &run.assessment.outcome {
                Outcome::Fitted(fitted) => {
                    areas.push(end(&fitted.fit.area));
                    areas.extend(fitted.decisions.iter().map(|d| d.allowed.area_m2));
                }
                Outcome::Stalled { bound, .. } => areas.push(bound.area.square_meters()),
                _ => {}
            }
        }
        for pair in compared.iter().flat_map(|compared| &compared.pairs) {
            areas.extend([pair.comparison.before, pair.comparison.after].map(|area| end(&area)));
        }
        let areas = || areas.iter().filter(|area| area.is_finite() && **area > 0.0);
        let small = areas().any(|area| *area < SMALL_AREA);
        let large = areas().any(|area| *area > LARGE_AREA);
        Self {
            pressure: sheet.gauge_unit,
            area: if small && !large {
                (1e12, "um2")
            } else {
                (1e6, "mm2")
            },
        }
    }

    /// "79 um2 (51 to 109)", or a bound.
    pub(crate) fn area(&self, area: &Estimate<Area>) -> String {
        estimate(area, self.area.0, self.area.1)
    }

    /// As [`Units::area`], of an area that is known on one side only, or on both.
    pub(crate) fn size(&self, area: &Estimate<Area>, known: Known) -> String {
        let ends = area.si();
        match known {
            Known::AtLeast => at_least(ends.low, self.area.0, self.area.1),
            Known::AtMost => at_most(ends.high, self.area.0, self.area.1),
            _ => self.area(area),
        }
    }

    /// "848 um2": an area \[m2\] without an interval.
    pub(crate) fn area_alone(&self, area: f64) -> String {
        shown(area, self.area.0, self.area.1, 3)
    }

    /// A pressure, or a difference of two \[Pa\].
    pub(crate) fn pressure(&self, pascals: f64) -> String {
        plainly(self.pressure.from_si(pascals), self.pressure.symbol(), 3)
    }

    /// A limit in the words of a bench: "no more than 1 psi lost from 7 psi in 60 s".
    pub(crate) fn limit(&self, limit: &Limit) -> String {
        match limit {
            Limit::Area(area) => format!(
                "effective area of at most {}",
                self.area_alone(area.get::<square_meter>())
            ),
            Limit::Flow { flow, reference } => format!(
                "flow of at most {} at {}",
                flow_alone(flow.get::<cubic_meter_per_second>()),
                self.reference(reference)
            ),
            _ => limit_in_words(limit, self.pressure),
        }
    }

    /// "0 C, 14.7 psi absolute": the conditions that a flow is counted at.
    pub(crate) fn reference(&self, reference: &ReferenceConditions) -> String {
        let degrees = reference.temperature().get::<degree_celsius>();
        let pressure = self.pressure.shown(reference.pressure().pascals(), 4);
        format!("{degrees:.0} C, {pressure} absolute")
    }
}

/// The end of an interval that tells its size: the upper one, or where there is none the lower.
fn end(area: &Estimate<Area>) -> f64 {
    let ends = area.si();
    if ends.high.is_finite() {
        ends.high
    } else {
        ends.low
    }
}

/// "1.06 cm3/min (0.81 to 1.31)", or a bound.
pub(crate) fn flow(flow: &Estimate<VolumeRate>) -> String {
    estimate(flow, CUBIC_CENTIMETERS_A_MINUTE, "cm3/min")
}

/// A flow \[m3/s\] without an interval.
pub(crate) fn flow_alone(flow: f64) -> String {
    shown(flow, CUBIC_CENTIMETERS_A_MINUTE, "cm3/min", 3)
}

/// "0.0128 mm (0.0102 to 0.0149)", or a bound.
pub(crate) fn diameter(diameter: &Estimate<Length>) -> String {
    estimate(diameter, MILLIMETERS, "mm")
}

fn shown(si: f64, factor: f64, unit: &'static str, digits: usize) -> String {
    plainly(rounded(si * factor, digits), unit, digits)
}

fn at_least(low: f64, factor: f64, unit: &'static str) -> String {
    format!("at least {}", shown(low, factor, unit, 2))
}

fn at_most(high: f64, factor: f64, unit: &'static str) -> String {
    format!("at most {}", shown(high, factor, unit, 2))
}

/// A value with its interval in brackets, both to the place that two digits of the interval's width reach; a bound where one end is open.
fn estimate<Q: Measurable<Spread = Q>>(
    of: &Estimate<Q>,
    factor: f64,
    unit: &'static str,
) -> String {
    let i = of.si();
    if i.high.is_infinite() {
        return at_least(i.low, factor, unit);
    }
    if i.low <= 0.0 {
        return at_most(i.high, factor, unit);
    }
    let width = (i.high - i.low) * factor;
    let [value, low, high] = [i.value, i.low, i.high].map(|end| to_width(end * factor, width));
    format!("{value} {unit} ({low} to {high})")
}

#[cfg(test)]
mod tests {
    use super::*;
    use uom::si::area::square_micrometer;

    /// By hand: two digits of the interval's width.
    #[test]
    fn digits_go_as_far_as_the_interval_tells() {
        let um2 = Area::new::<square_micrometer>;
        let of = |value: f64, low: f64, high: f64| {
            let area = Estimate::of_size(um2(value), um2(low), um2(high), 0.95);
            estimate(&area, 1e12, "um2")
        };
        assert_eq!(of(79.34, 51.02, 109.4), "79 um2 (51 to 109)");
        assert_eq!(of(5239.6, 5228.8, 5250.7), "5240 um2 (5229 to 5251)");
        assert_eq!(of(5239.6, 4128.0, 6350.7), "5200 um2 (4100 to 6400)");
        assert_eq!(of(1.2345, 1.2301, 1.2399), "1.2345 um2 (1.2301 to 1.2399)");
        assert_eq!(of(0.0, -3.0, 12.34), "at most 12 um2");
        assert_eq!(of(7.0, 3.21, f64::INFINITY), "at least 3.2 um2");
        assert_eq!(shown(121_737e-12, 1e12, "um2", 3), "122000 um2");
        assert_eq!(shown(2e-9, 1e6, "mm2", 3), "0.002 mm2");
    }
}
