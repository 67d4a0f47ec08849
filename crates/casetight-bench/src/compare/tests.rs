use uom::si::area::square_millimeter;

use super::*;
use crate::pump::Stall;
use casetight::below::numerics::probability;
use casetight::gas::Gas;
use casetight::gauge::{AccuracyClass, Gauge};
use casetight::leak::EffectiveArea;
use casetight::measured::{Distribution, Evaluation, Measured};
use casetight::quantity::{
    AbsolutePressure, Area, GaugePressure, TemperatureDrift, ThermodynamicTemperature, Time,
    TradeUnits, Volume,
};
use casetight::readings::{Bench, Readings};
use casetight::vessel::{DecayLaw, Heat, IsothermalDecay};

fn of<Q: TradeUnits>(text: &str) -> Q {
    Q::parse(text).unwrap()
}

fn known<Q>(value: Q, relative: f64) -> Measured<Q>
where
    Q: casetight::measured::Measurable<Spread = Q> + std::ops::Mul<f64, Output = Q> + Copy,
{
    let normal = Evaluation::TypeB(Distribution::Normal);
    Measured::new(value, value * relative, normal).unwrap()
}

fn bench(resolution: &str, volume_uncertainty: f64) -> Bench {
    Bench {
        volume: known(of::<Volume>("250 cm3"), volume_uncertainty),
        ambient_pressure: Measured::exact(AbsolutePressure::from_pascals(101_325.0).unwrap())
            .unwrap(),
        drift_allowance: TemperatureDrift::ZERO,
        effects: casetight::readings::Effects::none(),
        heat: Heat::ISOTHERMAL,
        temperature: Measured::exact(of::<ThermodynamicTemperature>("20 C")).unwrap(),
        gauge: Gauge::digital(of(resolution)).unwrap(),
        gas: Gas::dry_air(),
    }
}

fn classed(mut bench: Bench) -> Bench {
    let accuracy = AccuracyClass {
        class: 1.6,
        span: of("1 bar"),
    };
    bench.gauge = bench.gauge.with_accuracy_class(accuracy).unwrap();
    bench
}

/// A test of an orifice: the closed form, rounded to the gauge's step.
fn tested(bench: &Bench, area_mm2: f64, start: &str, hold_s: f64) -> Test {
    let area = EffectiveArea::new(Area::new::<square_millimeter>(area_mm2)).unwrap();
    let decay = IsothermalDecay::new(
        area,
        bench.volume.value(),
        of(start),
        bench.ambient(),
        &bench.gas,
    )
    .unwrap();
    let step = bench.gauge.step().value;
    let times: Vec<f64> = (0..25).map(|n| hold_s * f64::from(n) / 24.0).collect();
    let gauges: Vec<f64> = times
        .iter()
        .map(|t| {
            let gauge = decay
                .gauge_at(Time::new::<uom::si::time::second>(*t))
                .pascals();
            (gauge / step).round() * step
        })
        .collect();
    let readings = Readings::from_si(&times, &gauges, bench.ambient_pressure.value()).unwrap();
    Test::of_readings(&readings, bench, 0.95).unwrap()
}

fn stalled(bench: &Bench, strokes: f64, reached: &str) -> Test {
    let stall = Stall::new(strokes, of("25 cm3"), of("60 s"), of(reached)).unwrap();
    Test::of_stall(&stall, bench, 0.95).unwrap()
}

/// Half-width of ln r over the coverage factor.
fn sigma(c: &Comparison) -> f64 {
    (c.ratio.high / c.ratio.low).ln()
        / (2.0 * probability::normal_quantile(0.5 + c.ratio.level / 2.0))
}

#[test]
fn a_shared_volume_cancels_and_two_volumes_add_up() {
    let bench = bench("20 Pa", 0.04);
    let (before, after) = (
        tested(&bench, 0.004, "48 kPa", 40.0),
        tested(&bench, 0.001, "48 kPa", 120.0),
    );
    let same = compare(&before, &after, &Shared::all(), 0.95).unwrap();
    let apart = compare(&before, &after, &Shared::nothing(), 0.95).unwrap();
    assert!((same.ratio.value - 0.25).abs() < 5e-4, "{same:?}");
    assert!(sigma(&same) < 0.001, "{}", sigma(&same));
    // By hand: 4 % twice in quadrature, beside which the readings are nothing.
    assert!(
        (sigma(&apart) - 0.04 * 2.0_f64.sqrt()).abs() < 1e-4,
        "{}",
        sigma(&apart)
    );
    let part = Shared {
        volume: SharedVolume::InPart {
            ratio_uncertainty: 0.03,
        },
        ..Shared::all()
    };
    let part = compare(&before, &after, &part, 0.95).unwrap();
    assert!((sigma(&part) - 0.03).abs() < 1e-4);
    assert_eq!((same.change, apart.change), (Change::Fell, Change::Fell));
    // The areas themselves keep the volume's uncertainty.
    assert!((same.before.si().high / same.before.si().value).ln() > 0.07);
}

#[test]
fn a_shared_gauge_cancels_as_far_as_the_tests_are_alike() {
    let bench = classed(bench("20 Pa", 0.0));
    let test = |area, start, hold| tested(&bench, area, start, hold);
    let before = test(0.004, "48 kPa", 40.0);
    let compared = |after: &Test, gauge| {
        let shared = Shared {
            gauge,
            ..Shared::all()
        };
        compare(&before, after, &shared, 0.95).unwrap()
    };
    // The same course of pressure, four times as slow: the gauge errs alike.
    let alike = test(0.001, "48 kPa", 160.0);
    assert!(sigma(&compared(&alike, true)) < 0.001);
    assert!(sigma(&compared(&alike, false)) > 0.007);
    // From half the pressure an offset weighs more, and only a part of it cancels.
    let lower = test(0.001, "24 kPa", 120.0);
    let shared = sigma(&compared(&lower, true));
    assert!(
        shared > 0.003 && shared < sigma(&compared(&lower, false)),
        "{shared}"
    );
}

/// By hand, for a short fall from 48 kPa: k is dp/dt over f(p), f the flow of an orifice (`[NACA1135]`'s law). A scale
/// error a takes dp/dt to (1 + a) dp/dt and p to (1 + a) p, an offset b takes p to p + b:
/// d ln k/da = 1 - p f'/f, d ln k/db = -f'/f. With x = p_a/(p_a + p), f ~ sqrt(x^(2/1.4) - x^(2.4/1.4))/x at the middle
/// of the fall, 47.5 kPa; class 1.6 of 1 bar.
#[test]
fn a_gauge_taken_at_its_word_answers_as_by_hand() {
    let bench = classed(bench("1 Pa", 0.0));
    let f = |p: f64| {
        let x = 101_325.0 / (101_325.0 + p);
        (x.powf(2.0 / 1.4) - x.powf(2.4 / 1.4)).sqrt() / x
    };
    let slope = |p: f64| (f(p + 1.0) / f(p - 1.0)).ln() / 2.0;
    for start in ["48 kPa", "47 kPa"] {
        let p = of::<GaugePressure>(start).pascals() - 500.0;
        let held = tested(&bench, 0.004, start, 1.2).held().unwrap();
        let [offset, scale] = held.answers;
        let u = 0.016 / 6.0_f64.sqrt();
        let (by_offset, by_scale) = (-slope(p) * 1e5 * u, (1.0 - p * slope(p)) * u);
        assert!(
            (offset / by_offset - 1.0).abs() < 0.02,
            "{offset} for {by_offset}"
        );
        assert!(
            (scale / by_scale - 1.0).abs() < 0.02,
            "{scale} for {by_scale}"
        );
    }
}

/// By hand: two lognormal areas of 3 and 5 %, ratio 1.1: z = ln 1.1/sqrt(0.03^2 + 0.05^2).
#[test]
fn the_p_value_is_that_of_a_normal_difference() {
    let (before, after) = (bench("1 Pa", 0.03), bench("1 Pa", 0.05));
    let one = tested(&before, 0.002, "48 kPa", 60.0);
    let other = tested(&after, 0.0022, "48 kPa", 60.0);
    let c = compare(&one, &other, &Shared::nothing(), 0.95).unwrap();
    let z = 1.1_f64.ln() / 0.05_f64.hypot(0.03);
    let p = 2.0 * probability::normal_sf(z);
    assert!((c.p_value / p - 1.0).abs() < 0.01, "{} for {p}", c.p_value);
    assert!((c.probability_fell - p / 2.0).abs() < 1e-3);
    assert_eq!(c.change, Change::NotTold);
    let back = compare(&other, &one, &Shared::nothing(), 0.95).unwrap();
    assert!(
        (back.p_value - c.p_value).abs() < 1e-7,
        "{} {}",
        back.p_value,
        c.p_value
    );
    assert!((back.ratio.high * c.ratio.low - 1.0).abs() < 1e-6);
}

#[test]
fn bounds_give_one_sided_answers() {
    let bench = bench("200 Pa", 0.03);
    let leak = tested(&bench, 0.004, "48 kPa", 60.0);
    let sound = tested(&bench, 0.000_000_1, "48 kPa", 60.0);
    let gross = stalled(&bench, 60.0, "7 kPa");
    assert_eq!(
        (leak.known(), sound.known(), gross.known()),
        (Known::Both, Known::AtMost, Known::AtLeast)
    );
    let all = Shared::all();

    // A run that holds has an upper end only, and so has the ratio.
    let c = compare(&leak, &sound, &all, 0.95).unwrap();
    assert_eq!(
        (c.tells_value(), c.ratio.low, c.change),
        (false, 0.0, Change::Fell)
    );
    let by_hand = sound.by_readings().si().high / leak.by_readings().si().value;
    assert!(
        (c.ratio.high / by_hand - 1.0).abs() < 0.01,
        "{} {by_hand}",
        c.ratio.high
    );
    assert!(c.to_string().starts_with("The leak fell to at most"), "{c}");

    // The other way round the ratio is open upward.
    let c = compare(&sound, &leak, &all, 0.95).unwrap();
    assert_eq!((c.ratio.high, c.change), (f64::INFINITY, Change::Grew));
    assert!(
        c.to_string().starts_with("The leak grew to at least"),
        "{c}"
    );

    // A stalled pump before: the leak was at least so large.
    let c = compare(&gross, &leak, &all, 0.95).unwrap();
    assert_eq!((c.ratio.low, c.change), (0.0, Change::Fell));
    assert!(
        c.p_is_bound() && c.p_value < 1e-6 && c.ratio.high < 0.05,
        "{c:?}"
    );
    // And after.
    let c = compare(&leak, &gross, &all, 0.95).unwrap();
    assert_eq!((c.ratio.high, c.change), (f64::INFINITY, Change::Grew));
    // Twice: nothing is told, nor of two that can't be told from none.
    for one in [&gross, &sound] {
        let c = compare(one, one, &all, 0.95).unwrap();
        assert_eq!(
            (c.ratio.low, c.ratio.high, c.change),
            (0.0, f64::INFINITY, Change::NotTold)
        );
        assert!(
            c.p_value > 0.3 && c.to_string().contains("can't be told"),
            "{c}"
        );
    }
}

/// A stall's bound lies where its one-sided level says: the ratio's upper end is that of the leak after, over a bound of
/// 10 % standard uncertainty.
#[test]
fn a_stalls_bound_has_the_pumps_uncertainty() {
    let bench = bench("20 Pa", 0.0);
    let (gross, leak) = (
        stalled(&bench, 60.0, "7 kPa"),
        tested(&bench, 0.004, "48 kPa", 60.0),
    );
    let stall = Stall::new(60.0, of("25 cm3"), of("60 s"), of("7 kPa")).unwrap();
    let c = compare(&gross, &leak, &Shared::all(), 0.95).unwrap();
    let least = stall.least_area(&bench, 0.975).unwrap().square_meters();
    let by_hand = leak.area().si().value / least;
    assert!(
        (c.ratio.high / by_hand - 1.0).abs() < 0.005,
        "{} {by_hand}",
        c.ratio.high
    );
}

#[test]
fn a_needle_that_had_fallen_is_a_lower_bound() {
    let bench = bench("100 Pa", 0.0);
    let readings = Readings::from_si(
        &[0.0, 10.0, 20.0],
        &[48e3, 0.0, 0.0],
        bench.ambient_pressure.value(),
    )
    .unwrap();
    let fallen = Test::of_readings(&readings, &bench, 0.95).unwrap();
    let leak = tested(&bench, 0.004, "48 kPa", 60.0);
    assert_eq!(fallen.known(), Known::AtLeast);
    let c = compare(&fallen, &leak, &Shared::all(), 0.95).unwrap();
    assert_eq!(
        (c.change, c.ratio.low, c.tells_value()),
        (Change::Fell, 0.0, false)
    );
}

#[test]
fn areas_move_between_pressures_by_their_law() {
    let bench = bench("20 Pa", 0.0);
    let test = tested(&bench, 0.004, "48 kPa", 30.0);
    let (before, to) = (test.area().si().value, of::<GaugePressure>("12 kPa"));
    let hole = test.clone().by_law(DecayLaw::Orifice);
    let moved = hole.at_pressure(&bench, to).unwrap();
    assert!((moved.area().si().value / before - 1.0).abs() < 1e-12);
    assert_eq!(moved.gauge_pressure(), to);
    // The capillary of `EffectiveArea::passing`'s example: 0.000 300 5 mm2 at 48 kPa, 0.000 127 1 mm2 at 12 kPa.
    let by = |law| {
        let moved = test.clone().by_law(law).at_pressure(&bench, to).unwrap();
        moved.area().si().value / before
    };
    let laminar = by(DecayLaw::Laminar);
    // The fitted start lies within some pascals of 48 kPa.
    assert!((laminar - 0.1271 / 0.3005).abs() < 1e-3, "{laminar}");
    // A sonic conductance and a power law of a hole's exponent behave much like the orifice, one of exponent 1 like a gap.
    let sonic = by(DecayLaw::Sonic {
        critical_ratio: 0.5,
    });
    let hole = by(DecayLaw::Power { exponent: 0.5 });
    let gap = by(DecayLaw::Power { exponent: 1.0 });
    assert!(
        (sonic - 1.0).abs() < 0.1 && (hole - 1.0).abs() < 0.2,
        "{sonic} {hole}"
    );
    assert!((gap / laminar - 1.0).abs() < 0.2, "{gap} {laminar}");
}

#[test]
fn a_test_tells_no_area_beyond_ambient() {
    let bench = bench("20 Pa", 0.0);
    let test = tested(&bench, 0.004, "48 kPa", 30.0);
    let other = of::<GaugePressure>("-12 kPa");
    let refused = test.clone().at_pressure(&bench, other).unwrap_err();
    assert_eq!(
        refused.to_string(),
        "a pressure test does not tell the leak's area at -12000 Pa gauge, on the other side of ambient"
    );
    let nothing = of::<GaugePressure>("-120 kPa");
    assert!(matches!(
        test.clone().at_pressure(&bench, nothing),
        Err(CompareError::Quantity(_))
    ));
    let no_law = test.by_law(DecayLaw::Power { exponent: 3.0 });
    assert!(matches!(
        no_law.at_pressure(&bench, of::<GaugePressure>("12 kPa")),
        Err(CompareError::Vessel(_))
    ));
}

#[test]
fn what_cannot_be_compared_is_refused() {
    let bench = bench("20 Pa", 0.0);
    let test = tested(&bench, 0.004, "48 kPa", 30.0);
    for level in [f64::NAN, 0.3, 1.0] {
        let refused = compare(&test, &test, &Shared::all(), level);
        assert!(
            matches!(refused, Err(CompareError::Level { .. })),
            "{level}"
        );
    }
    for got in [f64::NAN, -0.1, f64::INFINITY] {
        let shared = Shared {
            volume: SharedVolume::InPart {
                ratio_uncertainty: got,
            },
            ..Shared::all()
        };
        let bench = self::bench("20 Pa", 0.05);
        let test = tested(&bench, 0.004, "48 kPa", 30.0);
        let refused = compare(&test, &test, &shared, 0.95);
        assert!(
            matches!(refused, Err(CompareError::VolumeRatio { .. })),
            "{got}"
        );
    }
    let at = |place: f64| TrendPoint {
        at: place,
        test: test.clone(),
    };
    let of = |points: &[TrendPoint]| trend(points, Unit::Tests, &Shared::all(), 0.95);
    assert_eq!(
        of(&[at(0.0), at(1.0)]),
        Err(CompareError::TooFewTests { got: 2 })
    );
    assert!(matches!(
        of(&[at(0.0), at(f64::NAN), at(1.0)]),
        Err(CompareError::Position { index: 2, .. })
    ));
    assert_eq!(of(&[at(1.0), at(1.0), at(1.0)]), Err(CompareError::OneDate));
}

fn points(bench: &Bench, areas_mm2: &[(f64, f64)]) -> Vec<TrendPoint> {
    areas_mm2
        .iter()
        .map(|(at, area)| TrendPoint {
            at: *at,
            test: tested(bench, *area, "48 kPa", 0.16 / area),
        })
        .collect()
}

/// Independent script: NumPy 2 least squares of ln A on t, its slope's standard error, and SciPy's t quantile and tail.
/// ```text
/// t = np.array([0, 1, 2, 4, 5.5]); y = np.log([1.0, 1.3, 1.2, 1.9, 2.2]); b, a = np.polyfit(t, y, 1)
/// s = np.sqrt(sum((y - a - b t)^2)/3/sum((t - t.mean())^2)); b -+ s stats.t.ppf(0.975, 3); 2 stats.t.sf(b/s, 3)
/// ```
const SLOPE: [f64; 4] = [0.142_172_3, 0.073_012_8, 0.211_331_8, 0.007_259_8];

#[test]
fn without_bounds_the_trend_is_the_usual_least_squares_line() {
    let bench = bench("1 Pa", 0.0);
    let areas = [
        (0.0, 0.001),
        (1.0, 0.0013),
        (2.0, 0.0012),
        (4.0, 0.0019),
        (5.5, 0.0022),
    ];
    let trend = trend(&points(&bench, &areas), Unit::Tests, &Shared::all(), 0.95).unwrap();
    let growth = trend.growth.unwrap();
    // Readings to 1 Pa leave some 2e-5 of the areas open, the golden section 1e-5 of the slope.
    for (got, expected) in [
        (growth.value.ln(), SLOPE[0]),
        (growth.low.ln(), SLOPE[1]),
        (growth.high.ln(), SLOPE[2]),
    ] {
        assert!((got - expected).abs() < 2e-4, "{got} for {expected}");
    }
    assert!(
        (trend.p_value / SLOPE[3] - 1.0).abs() < 0.01,
        "{}",
        trend.p_value
    );
    assert_eq!((trend.course, trend.two_sided), (Course::Grows, 5));
    assert!(
        trend.to_string().starts_with("The leak grows, +1"),
        "{trend}"
    );
}

/// Days count by thirties.
#[test]
fn growth_in_days_is_told_for_thirty() {
    let bench = bench("1 Pa", 0.0);
    let areas = [
        (0.0, 0.001),
        (30.0, 0.0011),
        (60.0, 0.001_21),
        (120.0, 0.001_464_1),
    ];
    let trend = trend(&points(&bench, &areas), Unit::Days, &Shared::all(), 0.95).unwrap();
    let growth = trend.growth.unwrap();
    assert!((growth.value - 1.1).abs() < 1e-3);
    assert!(growth.low > 1.095 && growth.high < 1.105, "{growth:?}");
    assert!(trend.to_string().contains("in 30 days"));
}

/// Four tests that double from one to the next.
fn rising(bench: &Bench) -> Vec<TrendPoint> {
    let rising = [(2.0, 0.001), (3.0, 0.0021), (4.0, 0.0039), (5.0, 0.0083)];
    points(bench, &rising)
}

fn from_test_to_test(points: &[TrendPoint]) -> Trend {
    trend(points, Unit::Tests, &Shared::all(), 0.95).unwrap()
}

/// Bounds from above pull where the line would leave them, and nowhere else.
#[test]
fn upper_bounds_in_a_trend() {
    let coarse = bench("200 Pa", 0.0);
    let alone = rising(&bench("1 Pa", 0.0));
    let of = from_test_to_test;
    let without = of(&alone).growth.unwrap();

    // Two tests of a sound engine before; their upper ends lie above the line through the rest: nothing changes.
    let mut with = vec![
        TrendPoint {
            at: 0.0,
            test: tested(&coarse, 1e-7, "48 kPa", 1.0),
        },
        TrendPoint {
            at: 1.0,
            test: tested(&coarse, 1e-7, "48 kPa", 1.0),
        },
    ];
    assert!(with.iter().all(|p| p.test.known() == Known::AtMost));
    with.extend(alone.clone());
    let lax = of(&with);
    assert_eq!((lax.tests, lax.two_sided), (6, 4));
    let lax = lax.growth.unwrap();
    assert!(
        (lax.value / without.value - 1.0).abs() < 0.02,
        "{lax:?} {without:?}"
    );

    // A much longer hold bounds it far below the line: the line must be steeper.
    with[1].test = tested(&coarse, 1e-7, "48 kPa", 60.0);
    assert_eq!(with[1].test.known(), Known::AtMost);
    let strict = of(&with).growth.unwrap();
    assert!(strict.value > 1.1 * lax.value, "{strict:?}");

    // They alone tell no trend.
    let sound: Vec<TrendPoint> = (0..4)
        .map(|n| TrendPoint {
            at: f64::from(n),
            test: tested(&coarse, 1e-7, "48 kPa", 60.0),
        })
        .collect();
    let none = of(&sound);
    assert_eq!((none.growth, none.course), (None, Course::NotTold));
    assert!(
        none.to_string().contains("No trend can be told: 0 of 4"),
        "{none}"
    );
}

/// A stalled pump at the end, far above the line.
#[test]
fn a_lower_bound_in_a_trend() {
    let fine = bench("1 Pa", 0.0);
    let mut with = rising(&fine);
    let of = from_test_to_test;
    let without = of(&with).growth.unwrap();
    with.push(TrendPoint {
        at: 6.0,
        test: stalled(&fine, 60.0, "7 kPa"),
    });
    let gross = of(&with).growth.unwrap();
    assert!(gross.value > 1.2 * without.value, "{gross:?}");
}

#[test]
#[cfg(feature = "sheet")]
fn pressures_of_the_demo_read_well() {
    let bench = bench("20 Pa", 0.0);
    let note = |one: &str, other: &str| {
        let (a, b) = (
            tested(&bench, 0.002, one, 40.0),
            tested(&bench, 0.001, other, 60.0),
        );
        let starts = [&a, &b].map(|test| (test.gauge_pressure(), false));
        let at = crate::assess::common_pressure(starts).unwrap();
        let note = ratio::unlike_starts(&a, &b, at);
        (at.pascals(), note.map(|n| n.to_string()))
    };
    assert_eq!(note("48 kPa", "47.5 kPa").1, None);
    let (at, said) = note("48 kPa", "30 kPa");
    assert!((at - 30e3).abs() < 50.0);
    assert!(said.unwrap().contains("start at 48 kPa and 30 kPa"));
}
