//! Volumes by measurement and their combination: published values, an independent script's values, coverage of the intervals
//! over simulated measurements, invariances, refusals.
//!
//! Lengths, volumes and so on are given as numbers in SI units here; the field that takes one says what it is.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "test code"
)]

use std::f64::consts::{FRAC_PI_4, PI};

use casetight::gas::Gas;
use casetight::measured::{Distribution, Evaluation, Measurable, Measured};
use casetight::quantity::{MassDensity, ThermodynamicTemperature, Volume};
use casetight::volume::{
    AddedLeak, Combined, Expansion, Fill, Liquid, Loss, Method, PartsList, Piece, Piston, Rotation,
    Sense, Settling, Shape, StrokeReading, Strokes, TestedVolume, VolumeError, combine,
    combine_sharing, water_density,
};
use casetight_tests::table::{Row, Table};
use proptest::prelude::*;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution as _, StandardNormal};

const CM3: f64 = 1e-6;
const MM: f64 = 1e-3;
const ZERO_C: f64 = 273.15;

/// Rounding of some dozen operations.
const ROUNDING: f64 = 1e-11;

/// A measured value from numbers in SI units.
fn known<Q: Measurable>(value: f64, u: f64) -> Measured<Q> {
    let normal = Evaluation::TypeB(Distribution::Normal);
    Measured::new(Q::from_si(value).unwrap(), Q::spread_from_si(u), normal).unwrap()
}

fn exact<Q: Measurable>(value: f64) -> Measured<Q> {
    known(value, 0.0)
}

fn settling(t: f64, u_t: f64, excess: f64, u_excess: f64) -> Settling {
    Settling::new(known(t, u_t), known(excess, u_excess)).unwrap()
}

fn settled() -> Settling {
    settling(293.15, 0.0, 0.0, 0.0)
}

fn cm3(tested: &TestedVolume) -> f64 {
    tested.volume().value().si() / CM3
}

fn u_cm3(tested: &TestedVolume) -> f64 {
    tested.volume().standard_uncertainty().value / CM3
}

fn direct(value: f64, u: f64) -> TestedVolume {
    TestedVolume::measured_directly(known(value, u)).unwrap()
}

fn close(a: f64, b: f64, tolerance: f64) -> bool {
    (a - b).abs() <= tolerance * a.abs().max(b.abs())
}

// Published values.

fn expansion(v1: f64, g1: f64, gf: f64, pa: f64) -> Expansion {
    Expansion {
        reference: exact(v1),
        before: exact(g1),
        after: exact(gf),
        zero: exact(0.0),
        ambient: exact(pa),
        settling: settled(),
    }
}

fn strokes(stroke_volume: f64, readings: &[(u32, f64)], pa: f64) -> Strokes {
    Strokes {
        stroke_volume: exact(stroke_volume),
        delivery: exact(1.0),
        dead_space: exact(0.0),
        readings: readings
            .iter()
            .map(|&(strokes, gauge)| StrokeReading {
                strokes,
                reading: exact(gauge),
            })
            .collect(),
        zero: exact(0.0),
        ambient: exact(pa),
        settling: settled(),
    }
}

/// Strokes that bring a tire to a ratio of absolute pressures, by way of the volume that one stroke is found to go into.
fn strokes_to(row: Row<'_>) -> f64 {
    let (litre, pa) = (1e-3, 101_325.0);
    let gauge = (row.input("ratio") - 1.0) * pa;
    let one = strokes(row.input("stroke_l") * litre, &[(1, gauge)], pa);
    let volume = TestedVolume::from_strokes(&one)
        .unwrap()
        .volume()
        .value()
        .si();
    row.input("v_l") * litre / volume
}

fn combined(row: Row<'_>) -> Combined {
    let count = row.text("inputs").split(';').count() / 2;
    let volumes: Vec<_> = (1..=count)
        .map(|n| direct(row.input(&format!("x{n}")), row.input(&format!("u{n}"))))
        .collect();
    combine(&volumes).unwrap()
}

/// Volume of 1 g as a balance in air shows it, in cm3; humid air of 50 % from the formula that guides to weighing give (from
/// memory: 1.2 kg/m3 in workshops).
fn conversion_factor(t: f64, hectopascals: f64) -> f64 {
    let air = (0.348_48 * hectopascals - 0.009 * 50.0 * (0.061 * t).exp()) / (ZERO_C + t);
    let fill = Fill {
        empty: exact(0.0),
        full: exact(1e-3),
        balance_scale: exact(1.0),
        liquid: Liquid::water(&exact(t + ZERO_C)).unwrap(),
        air: exact(air),
        trapped: exact(0.0),
    };
    cm3(&TestedVolume::from_fill(&fill).unwrap())
}

fn frustum(row: Row<'_>) -> f64 {
    let cm = 0.01;
    let piece = Piece {
        name: "frustum".into(),
        shape: Shape::Frustum {
            first: exact(2.0 * row.input("r1_cm") * cm),
            second: exact(2.0 * row.input("r2_cm") * cm),
            length: exact(row.input("l_cm") * cm),
        },
        sense: Sense::Space,
        count: 1,
    };
    // The printed answers take a rounded pi.
    cm3(&parts(vec![piece])) * row.input("pi") / PI
}

fn parts(pieces: Vec<Piece>) -> TestedVolume {
    let caliper_scale = exact(1.0);
    let list = PartsList {
        pieces,
        caliper_scale,
    };
    TestedVolume::from_parts_list(&list).unwrap()
}

#[test]
fn published_values_are_met() {
    let table = Table::open("volume_published.csv");
    for row in table.rows() {
        let got = match row.text("quantity") {
            "second_volume_dm3" => {
                let pa = row.input("pa_pa");
                let (g1, gf) = (row.input("p1_pa") - pa, row.input("pf_pa") - pa);
                let expansion = expansion(row.input("v1") * 1e-3, g1, gf, pa);
                cm3(&TestedVolume::from_expansion(&expansion).unwrap()) / 1e3
            }
            "strokes" => strokes_to(row),
            "strokes_rounded_up" => strokes_to(row).ceil(),
            "z_cm3_per_g" => conversion_factor(row.input("t_c"), row.input("p_hpa")),
            "water_kg_per_m3" => {
                let temperature = ThermodynamicTemperature::from_si(row.input("t_c") + ZERO_C);
                water_density(temperature.unwrap()).unwrap().si()
            }
            "frustum_cm3" => frustum(row),
            "mean" => combined(row).volume().value().si(),
            "uncertainty" => combined(row).volume().standard_uncertainty().value,
            "uncertainty_not_widened" => {
                let mean = combined(row);
                mean.volume().standard_uncertainty().value / mean.birge_ratio().unwrap()
            }
            "scale_factor" => combined(row).birge_ratio().unwrap(),
            quantity => panic!("{quantity}"),
        };
        let (value, tolerance) = (row.number("value"), row.number("tolerance"));
        assert!(
            (got - value).abs() <= tolerance,
            "{}: {got} instead of {value}",
            row.text("id")
        );
    }
}

#[test]
fn the_gas_pycnometers_equation_is_the_same_balance() {
    // Published (form of ISO 12154, as manuals of such instruments derive it): a cell of volume V_c - V_s at gauge pressure
    // p1 expands into V_e and settles at p2: V_s = V_c - V_e/(p1/p2 - 1). The cell is the reference here, V_e the volume.
    let (cell, sample, p1, p2) = (120.0 * CM3, 45.0 * CM3, 130e3, 61e3);
    let found = TestedVolume::from_expansion(&expansion(cell - sample, p1, p2, 101_325.0)).unwrap();
    let v_e = found.volume().value().si();
    assert!(close(cell - v_e / (p1 / p2 - 1.0), sample, ROUNDING));
}

// An independent script's values.

/// Value and standard uncertainty of an input, both times a factor to SI units.
fn input<Q: Measurable>(row: Row<'_>, name: &str, factor: f64) -> Measured<Q> {
    let u = row.input(&format!("u_{name}"));
    known(row.input(name) * factor, u * factor)
}

fn script_settling(row: Row<'_>) -> Settling {
    Settling::new(input(row, "t", 1.0), input(row, "dt", 1.0)).unwrap()
}

fn script_expansion(row: Row<'_>) -> Result<TestedVolume, VolumeError> {
    TestedVolume::from_expansion(&Expansion {
        reference: input(row, "v1", CM3),
        before: input(row, "g1", 1.0),
        after: input(row, "gf", 1.0),
        zero: input(row, "z", 1.0),
        ambient: input(row, "pa", 1.0),
        settling: script_settling(row),
    })
}

fn script_rotation(row: Row<'_>) -> Result<TestedVolume, VolumeError> {
    let degree = PI / 180.0;
    // The script's standard uncertainty is that of a rectangular distribution here.
    let half_width = row.input("u_at") * 3.0_f64.sqrt();
    let piston = format!("{} +- {half_width} deg, transfers shut", row.input("at"));
    let rotation = Rotation {
        bore: input(row, "b", MM),
        stroke: input(row, "st", MM),
        rod: input(row, "l", MM),
        from: input(row, "a1", degree),
        to: input(row, "a2", degree),
        before: input(row, "g1", 1.0),
        after: input(row, "g2", 1.0),
        zero: input(row, "z", 1.0),
        ambient: input(row, "pa", 1.0),
        settling: script_settling(row),
        loss: Some(Loss {
            fall: input(row, "fall", 1.0),
            watched: input(row, "watched", 1.0),
            between: input(row, "between", 1.0),
        }),
    };
    TestedVolume::from_rotation(&rotation, piston.parse().unwrap())
}

fn script_strokes(row: Row<'_>) -> Result<TestedVolume, VolumeError> {
    let readings = row
        .text("inputs")
        .split(';')
        .filter_map(|field| field.strip_prefix('n')?.split_once('='))
        .map(|(count, _)| StrokeReading {
            strokes: count.parse().unwrap(),
            reading: input(row, &format!("n{count}"), 1.0),
        })
        .collect();
    TestedVolume::from_strokes(&Strokes {
        stroke_volume: input(row, "vs", CM3),
        delivery: input(row, "eta", 1.0),
        dead_space: input(row, "vd", CM3),
        readings,
        zero: input(row, "z", 1.0),
        ambient: input(row, "pa", 1.0),
        settling: script_settling(row),
    })
}

fn script_added_leak(row: Row<'_>) -> Result<TestedVolume, VolumeError> {
    let leak = AddedLeak {
        alone: input(row, "k1", 1.0),
        together: input(row, "k2", 1.0),
        rate_correlation: 0.0,
        known: input(row, "A", 1e-6),
        temperature: input(row, "T", 1.0),
        gas: Gas::dry_air(),
    };
    TestedVolume::from_added_leak(&leak).map(|both| both.volume().clone())
}

fn script_fill(row: Row<'_>) -> Result<TestedVolume, VolumeError> {
    TestedVolume::from_fill(&Fill {
        empty: input(row, "m0", 1e-3),
        full: input(row, "m1", 1e-3),
        balance_scale: input(row, "s", 1.0),
        liquid: Liquid::water(&input(row, "T", 1.0)).unwrap(),
        air: input(row, "ra", 1.0),
        trapped: input(row, "tr", CM3),
    })
}

#[test]
fn an_independent_script_gives_the_same_volumes_and_uncertainties() {
    // Central differences of the script: some 1e-7 of the uncertainty.
    const TOLERANCE: f64 = 1e-6;
    for row in Table::open("volume_methods.csv").rows() {
        let tested = match row.text("method") {
            "expansion" => script_expansion(row),
            "rotation" => script_rotation(row),
            "strokes" => script_strokes(row),
            "added leak" => script_added_leak(row),
            "fill" => script_fill(row),
            method => panic!("{method}"),
        }
        .unwrap();
        let id = row.text("id");
        let (volume, u) = (row.number("volume_cm3"), row.number("u_cm3"));
        assert!(
            close(cm3(&tested), volume, TOLERANCE),
            "{id}: {}",
            cm3(&tested)
        );
        assert!(
            close(u_cm3(&tested), u, TOLERANCE),
            "{id}: {}",
            u_cm3(&tested)
        );
        let shares: f64 = tested
            .contributions()
            .iter()
            .map(|c| c.variance_share)
            .sum();
        assert!((shares - 1.0).abs() < ROUNDING, "{id}: {shares}");
        assert!(!tested.assumptions().is_empty());
    }
}

#[test]
fn area_and_covariance_of_an_added_leak_are_the_scripts() {
    let leak = AddedLeak {
        alone: known(0.02, 4e-4),
        together: known(0.05, 8e-4),
        rate_correlation: 0.0,
        known: known(0.03e-6, 6e-10),
        temperature: known(300.0, 1.0),
        gas: Gas::dry_air(),
    };
    let both = TestedVolume::from_added_leak(&leak).unwrap();
    // Independent script: CdA = 0.02 mm2, u = 0.000942809042 mm2; covariance 0.009129746623 cm3 mm2.
    assert!(close(both.area().value().si(), 0.02e-6, ROUNDING));
    assert!(close(
        both.area().standard_uncertainty().value,
        9.428_090_42e-10,
        1e-7
    ));
    assert!(
        close(both.covariance(), 9.129_746_623e-3 * CM3 * 1e-6, 1e-6),
        "{}",
        both.covariance()
    );
    let scale = both.area().standard_uncertainty().value * u_cm3(both.volume()) * CM3;
    assert!(close(
        both.correlation(),
        both.covariance() / scale,
        ROUNDING
    ));

    // Self-consistency: rates that err together cancel from their difference, so V is better known.
    let together = AddedLeak {
        rate_correlation: 0.9,
        ..leak
    };
    let together = TestedVolume::from_added_leak(&together).unwrap();
    assert!(u_cm3(together.volume()) < u_cm3(both.volume()));
}

// Coverage: what was stated as a standard uncertainty is drawn, the measurement worked, the interval compared with the truth.

const RUNS: usize = 500;

/// Covered runs of 500 at 95 %: 475 within 3.3 standard deviations of the binomial distribution (4.87), which chance leaves
/// once in a thousand.
const BAND: std::ops::RangeInclusive<usize> = 459..=491;

const Z_95: f64 = 1.959_963_984_540_054;

struct Draw(ChaCha8Rng);

impl Draw {
    /// The value as found by a measurement with this standard uncertainty.
    fn found<Q: Measurable>(&mut self, truth: f64, u: f64) -> Measured<Q> {
        let normal: f64 = StandardNormal.sample(&mut self.0);
        known(truth + u * normal, u)
    }
}

fn covered(seed: u64, truth_cm3: f64, mut measure: impl FnMut(&mut Draw) -> TestedVolume) -> usize {
    let mut draw = Draw(ChaCha8Rng::seed_from_u64(seed));
    (0..RUNS)
        .filter(|_| {
            let tested = measure(&mut draw);
            (cm3(&tested) - truth_cm3).abs() <= Z_95 * u_cm3(&tested)
        })
        .count()
}

#[track_caller]
fn assert_covers(seed: u64, truth_cm3: f64, measure: impl FnMut(&mut Draw) -> TestedVolume) {
    let covered = covered(seed, truth_cm3, measure);
    assert!(BAND.contains(&covered), "{covered} of {RUNS}");
}

const PA: f64 = 100e3;
const T: f64 = 293.15;

/// What every volume by gas shares in a simulated bench: true zero of the gauge and true excess of the gas.
const TRUE_ZERO: f64 = 300.0;
const TRUE_EXCESS: f64 = 0.3;

fn found_settling(draw: &mut Draw) -> Settling {
    Settling::new(draw.found(T, 1.0), draw.found(TRUE_EXCESS, 0.2)).unwrap()
}

/// Gauge reading of an absolute pressure.
fn reading(p: f64) -> f64 {
    p - PA + TRUE_ZERO
}

/// Pressure of as much gas as has the pressure p at temperature T, while it is still warm.
fn warm(p: f64) -> f64 {
    p * (T + TRUE_EXCESS) / T
}

#[test]
fn expansion_covers() {
    let (v1, v) = (180.0, 260.0);
    let p1 = PA + 55e3;
    let after = warm((p1 * v1 + PA * v) / (v1 + v));
    assert_covers(1, v, |draw| {
        let expansion = Expansion {
            reference: draw.found(v1 * CM3, 1.0 * CM3),
            before: draw.found(reading(p1), 200.0),
            after: draw.found(reading(after), 200.0),
            zero: draw.found(TRUE_ZERO, 150.0),
            ambient: draw.found(PA, 100.0),
            settling: found_settling(draw),
        };
        TestedVolume::from_expansion(&expansion).unwrap()
    });
}

/// Free length of the cylinder below the piston, from the position of the wrist pin in the plane of the crank.
fn below_piston(stroke: f64, rod: f64, degrees: f64) -> f64 {
    let (r, a) = (stroke / 2.0, degrees.to_radians());
    let pin = r * a.cos() + (rod.powi(2) - (r * a.sin()).powi(2)).sqrt();
    pin - (rod - r)
}

#[test]
fn rotation_covers() {
    let (bore, stroke, rod) = (40.0, 34.0, 62.0);
    let case_bottom = 95.0;
    let side =
        |degrees| case_bottom + FRAC_PI_4 * bore * bore * below_piston(stroke, rod, degrees) / 1e3;
    let (first, second) = (25.0, 100.0);
    let p1 = PA + 5e3;
    // The leak's loss in between: 10 Pa/s for 12 s.
    let p2 = warm(p1 * side(first) / side(second)) - 120.0;
    let degree = PI / 180.0;
    assert_covers(2, side(0.0), |draw| {
        let rotation = Rotation {
            bore: draw.found(bore * MM, 0.05 * MM),
            stroke: draw.found(stroke * MM, 0.05 * MM),
            rod: draw.found(rod * MM, 0.5 * MM),
            from: draw.found(first * degree, 0.8 * degree),
            to: draw.found(second * degree, 0.8 * degree),
            before: draw.found(reading(p1), 120.0),
            after: draw.found(reading(p2), 120.0),
            zero: draw.found(TRUE_ZERO, 150.0),
            ambient: draw.found(PA, 100.0),
            settling: found_settling(draw),
            loss: Some(Loss {
                fall: draw.found(200.0, 40.0),
                watched: draw.found(20.0, 0.5),
                between: draw.found(12.0, 0.7),
            }),
        };
        TestedVolume::from_rotation(&rotation, Piston::Top).unwrap()
    });
}

/// Absolute pressure after strokes of a pump with dead space, stroke by stroke.
fn pumped(v: f64, stroke: f64, dead: f64, strokes: u32) -> f64 {
    (0..strokes).fold(PA, |p, _| (p * v + PA * (stroke + dead)) / (v + dead))
}

#[test]
fn strokes_cover() {
    let (v, stroke, delivery, dead) = (250.0, 28.0, 0.9, 3.0);
    assert_covers(3, v, |draw| {
        let readings = [2, 4, 6].map(|strokes| StrokeReading {
            strokes,
            reading: draw.found(
                reading(warm(pumped(v, stroke * delivery, dead, strokes))),
                300.0,
            ),
        });
        let strokes = Strokes {
            stroke_volume: draw.found(stroke * CM3, 0.3 * CM3),
            delivery: draw.found(delivery, 0.02),
            dead_space: draw.found(dead * CM3, 0.4 * CM3),
            readings: readings.to_vec(),
            zero: draw.found(TRUE_ZERO, 150.0),
            ambient: draw.found(PA, 100.0),
            settling: found_settling(draw),
        };
        TestedVolume::from_strokes(&strokes).unwrap()
    });
}

#[test]
fn added_leak_covers() {
    let (v, unknown, added) = (250.0, 0.01, 0.02);
    let rate =
        |mm2: f64| mm2 * CM3 * (Gas::dry_air().specific_gas_constant() * T).sqrt() / (v * CM3);
    assert_covers(4, v, |draw| {
        let leak = AddedLeak {
            alone: draw.found(rate(unknown), 0.02 * rate(unknown)),
            together: draw.found(rate(unknown + added), 0.015 * rate(unknown + added)),
            rate_correlation: 0.0,
            known: draw.found(added * 1e-6, 0.02 * added * 1e-6),
            temperature: draw.found(T, 1.0),
            gas: Gas::dry_air(),
        };
        TestedVolume::from_added_leak(&leak)
            .unwrap()
            .volume()
            .clone()
    });
}

#[test]
fn fill_covers() {
    let (v, trapped, density, air) = (250.0, 2.0, 860.0, 1.2);
    // What 8000 kg/m3 weights show in this air for the oil that fits in.
    let shown = (v - trapped) * CM3 * (density - air) / (1.0 - air / 8000.0);
    assert_covers(5, v, |draw| {
        let fill = Fill {
            empty: draw.found(1.9, 5e-4),
            full: draw.found(1.9 + shown, 5e-4),
            balance_scale: draw.found(1.0, 1e-3),
            liquid: Liquid::of_density(draw.found::<MassDensity>(density, 3.0)).unwrap(),
            air: draw.found(air, 0.1),
            trapped: draw.found(trapped * CM3, 0.7 * CM3),
        };
        TestedVolume::from_fill(&fill).unwrap()
    });
}

#[test]
fn parts_list_covers() {
    let [case, length, web, thick] = [70.0, 50.0, 64.0, 12.0];
    let truth = FRAC_PI_4 * (case * case * length - 2.0 * web * web * thick) / 1e3;
    assert_covers(6, truth, |draw| {
        // The caliper's scale is drawn once for all its lengths: it shows them too short by that.
        let normal: f64 = StandardNormal.sample(&mut draw.0);
        let scale = 1.0 + 0.003 * normal;
        let mut mm = |truth: f64| draw.found(truth * MM / scale, 0.1 * MM);
        let pieces = vec![
            Piece {
                name: "case".into(),
                shape: Shape::Cylinder {
                    diameter: mm(case),
                    length: mm(length),
                },
                sense: Sense::Space,
                count: 1,
            },
            Piece {
                name: "web".into(),
                shape: Shape::Cylinder {
                    diameter: mm(web),
                    length: mm(thick),
                },
                sense: Sense::Solid,
                count: 2,
            },
        ];
        let caliper_scale = known(1.0, 0.003);
        let list = PartsList {
            pieces,
            caliper_scale,
        };
        TestedVolume::from_parts_list(&list).unwrap()
    });
}

#[test]
fn a_combination_covers_and_its_widening_only_adds() {
    let truth = 250.0;
    let methods = |draw: &mut Draw| {
        [4.0, 5.0, 8.0]
            .map(|u| TestedVolume::measured_directly(draw.found(truth * CM3, u * CM3)).unwrap())
    };
    let mut draw = Draw(ChaCha8Rng::seed_from_u64(7));
    let (mut plain, mut widened, mut disagreeing) = (0, 0, 0);
    for _ in 0..RUNS {
        let mean = combine(&methods(&mut draw)).unwrap();
        let u = mean.volume().standard_uncertainty().value;
        let off = (mean.volume().value().si() - truth * CM3).abs();
        plain += usize::from(off <= Z_95 * u / mean.birge_ratio().unwrap().max(1.0));
        widened += usize::from(off <= Z_95 * u);
        disagreeing += usize::from(!mean.agree());
    }
    assert!(BAND.contains(&plain), "{plain}");
    assert!(widened >= plain);
    // Methods that are as good as they say disagree in 5 % of cases: 25, with the same band.
    assert!(
        (RUNS - BAND.end()..=RUNS - BAND.start()).contains(&disagreeing),
        "{disagreeing}"
    );
}

#[test]
fn a_shared_gauge_zero_is_covered_only_when_it_is_named() {
    // Two expansions with one gauge whose zero error dominates: as independent measurements they would promise too much.
    let v = 260.0;
    let expansions = |draw: &mut Draw| {
        let zero = draw.found(TRUE_ZERO, 600.0);
        [150.0, 220.0].map(|v1| {
            let p1 = PA + 50e3;
            let after = (p1 * v1 + PA * v) / (v1 + v);
            let expansion = Expansion {
                reference: draw.found(v1 * CM3, 0.5 * CM3),
                before: draw.found(reading(p1), 100.0),
                after: draw.found(reading(after), 100.0),
                zero: zero.clone(),
                ambient: exact(PA),
                settling: settled(),
            };
            TestedVolume::from_expansion(&expansion).unwrap()
        })
    };
    let named = covered(8, v, |draw| {
        // Without the Birge ratio, which is not what this looks at.
        let mean = combine_sharing(&expansions(draw), &["gauge zero"]).unwrap();
        assert!(
            mean.taken_as_independent()
                .iter()
                .all(|name| name != "gauge zero")
        );
        narrow(&mean)
    });
    assert!(BAND.contains(&named), "{named}");
    let unnamed = covered(8, v, |draw| {
        let mean = combine(&expansions(draw)).unwrap();
        assert!(
            mean.taken_as_independent()
                .iter()
                .any(|name| name == "gauge zero")
        );
        narrow(&mean)
    });
    assert!(unnamed < *BAND.start(), "{unnamed}");
}

/// A mean before it was widened.
fn narrow(mean: &Combined) -> TestedVolume {
    let by = mean.birge_ratio().unwrap().max(1.0);
    let volume = mean.volume();
    direct(
        volume.value().si(),
        volume.standard_uncertainty().value / by,
    )
}

// The combination.

#[test]
fn the_sentence_says_whether_methods_agree() {
    let agreeing = combine(&[direct(1.0, 0.1), direct(1.06, 0.1)]).unwrap();
    assert_eq!(
        agreeing.to_string(),
        "2 methods agree: chi-squared 0.18 on 1 degrees of freedom (probability 0.67)"
    );
    let disagreeing = combine(&[direct(1.0, 0.1), direct(1.5, 0.1)]).unwrap();
    assert_eq!(
        disagreeing.to_string(),
        "2 methods disagree: chi-squared 12.50 on 1 degrees of freedom (probability 0.00); \
         the uncertainty is widened by the Birge ratio, 3.54"
    );
    assert!(!disagreeing.agree() && disagreeing.widened() && !agreeing.widened());
    // The pulls of two are the root of chi-squared, one of each sign.
    let pulls: Vec<f64> = disagreeing
        .members()
        .iter()
        .filter_map(|m| m.pull)
        .collect();
    assert!(
        close(pulls[0], -(12.5_f64.sqrt()), ROUNDING) && close(pulls[1], 12.5_f64.sqrt(), ROUNDING)
    );
}

#[test]
fn one_method_alone_is_passed_through() {
    let alone = direct(250.0 * CM3, 0.0);
    let mean = combine(std::slice::from_ref(&alone)).unwrap();
    assert_eq!(mean.volume().value(), alone.volume().value());
    assert_eq!(mean.members()[0].pull, None);
    assert_eq!((mean.birge_ratio(), mean.probability()), (None, None));
    assert!(mean.agree() && !mean.widened());
    assert_eq!(
        mean.to_string(),
        "one method only: nothing to compare it with"
    );
    assert_eq!(mean.tested().method(), Method::Combined);
}

#[test]
fn a_fully_shared_input_adds_what_it_would_alone() {
    // By hand: two volumes of own u1, u2 that share an addition of u: 1/(1/u1^2 + 1/u2^2) + u^2.
    let hose = known::<Volume>(12.0, 3.0);
    let with_hose = |value, u| direct(value, u).plus("hose", &hose).unwrap();
    let both = [with_hose(240.0, 4.0), with_hose(241.0, 5.0)];
    let mean = combine_sharing(&both, &["hose"]).unwrap();
    let own = 1.0 / (1.0 / 16.0 + 1.0 / 25.0);
    assert!(close(
        mean.volume().standard_uncertainty().value,
        f64::sqrt(own + 9.0),
        ROUNDING
    ));
    let value = (240.0 / 16.0 + 241.0 / 25.0) * own + 12.0;
    assert!(close(mean.volume().value().si(), value, ROUNDING));
    // "whole volume" is each one's own number here, though both list it.
    assert_eq!(mean.taken_as_independent(), ["whole volume"]);
}

#[test]
fn a_combination_names_what_it_cannot_weigh() {
    assert_eq!(combine(&[]), Err(VolumeError::NothingToCombine));
    let exact = direct(1.0, 0.0);
    assert_eq!(
        combine(&[direct(1.0, 0.1), exact]),
        Err(VolumeError::NoUncertainty {
            method: Method::MeasuredDirectly
        })
    );
    let twice = [direct(1.0, 0.1), direct(1.1, 0.1)];
    assert_eq!(
        combine_sharing(&twice, &["whole volume"]),
        Err(VolumeError::NotIndependent)
    );
}

// Refusals.

#[test]
fn readings_that_tell_nothing_are_refused() {
    let unresolved = |result: Result<TestedVolume, VolumeError>, what: &str| match result {
        Err(VolumeError::Unresolved { name, .. }) => assert!(name.contains(what), "{name}"),
        other => panic!("{other:?}"),
    };
    let tight = expansion(200.0 * CM3, 50e3, 0.0, PA);
    unresolved(TestedVolume::from_expansion(&tight), "reading after");
    let noisy = Expansion {
        after: known(1e3, 300.0),
        ..expansion(200.0 * CM3, 50e3, 1e3, PA)
    };
    unresolved(TestedVolume::from_expansion(&noisy), "reading after");
    let shut = expansion(200.0 * CM3, 50e3, 50e3, PA);
    unresolved(TestedVolume::from_expansion(&shut), "fall");
    unresolved(
        TestedVolume::from_rotation(&rotation(20.0, 20.0, 10e3, 30e3), Piston::Top),
        "piston",
    );
    unresolved(
        TestedVolume::from_rotation(&rotation(20.0, 90.0, 10e3, 10e3), Piston::Top),
        "pressure",
    );
    unresolved(
        TestedVolume::from_strokes(&strokes(25.0 * CM3, &[(5, 0.0)], PA)),
        "needle",
    );
    let leak = AddedLeak {
        alone: known(0.02, 1e-3),
        together: known(0.024, 1e-3),
        rate_correlation: 0.0,
        known: exact(1e-8),
        temperature: exact(T),
        gas: Gas::dry_air(),
    };
    let volume =
        |leak: &AddedLeak| TestedVolume::from_added_leak(leak).map(|both| both.volume().clone());
    unresolved(volume(&leak), "rates");
    // The same rates, had they erred together.
    let together = AddedLeak {
        rate_correlation: 0.99,
        ..leak
    };
    assert!(volume(&together).is_ok());
    unresolved(TestedVolume::from_fill(&fill(1.9, 1.9)), "mass");
}

fn rotation(from: f64, to: f64, before: f64, after: f64) -> Rotation {
    let degree = PI / 180.0;
    Rotation {
        bore: exact(40.0 * MM),
        stroke: exact(34.0 * MM),
        rod: exact(62.0 * MM),
        from: exact(from * degree),
        to: exact(to * degree),
        before: exact(before),
        after: exact(after),
        zero: exact(0.0),
        ambient: exact(PA),
        settling: settled(),
        loss: None,
    }
}

fn fill(empty: f64, full: f64) -> Fill {
    Fill {
        empty: exact(empty),
        full: exact(full),
        balance_scale: exact(1.0),
        liquid: Liquid::water(&exact(T)).unwrap(),
        air: exact(1.2),
        trapped: exact(0.0),
    }
}

#[test]
fn readings_that_contradict_each_other_are_refused() {
    let not_positive = |result: Result<TestedVolume, VolumeError>| {
        assert!(
            matches!(result, Err(VolumeError::NotPositive { .. })),
            "{result:?}"
        );
    };
    // The pressure rose as the gas expanded; it fell as the case grew smaller; the case was lighter full; the pump drew.
    not_positive(TestedVolume::from_expansion(&expansion(
        200.0 * CM3,
        20e3,
        50e3,
        PA,
    )));
    not_positive(TestedVolume::from_rotation(
        &rotation(20.0, 90.0, 10e3, 5e3),
        Piston::Top,
    ));
    not_positive(TestedVolume::from_fill(&fill(2.1, 1.9)));
    not_positive(TestedVolume::from_strokes(&strokes(
        25.0 * CM3,
        &[(5, -20e3)],
        PA,
    )));
    not_positive(direct(1.0, 0.1).plus("not there in the test", &known(-1.0, 0.1)));
    let web = cylinder("web", Sense::Solid, 80.0);
    let list = PartsList {
        pieces: vec![cylinder("case", Sense::Space, 70.0), web],
        caliper_scale: exact(1.0),
    };
    not_positive(TestedVolume::from_parts_list(&list));
}

fn cylinder(name: &'static str, sense: Sense, diameter_mm: f64) -> Piece {
    Piece {
        name: name.into(),
        shape: Shape::Cylinder {
            diameter: exact(diameter_mm * MM),
            length: exact(20.0 * MM),
        },
        sense,
        count: 1,
    }
}

#[test]
#[allow(clippy::too_many_lines, reason = "a table of inputs")]
fn impossible_inputs_are_named() {
    let message = |error: VolumeError| error.to_string();
    let refused = |result: Result<TestedVolume, VolumeError>, start: &str| {
        let text = message(result.unwrap_err());
        assert!(text.starts_with(start), "{text}");
    };
    let open = "130 deg, transfers open".parse().unwrap();
    let turned = rotation(20.0, 90.0, 10e3, 30e3);
    refused(
        TestedVolume::from_rotation(&turned, Piston::Bottom),
        "turning the crank measures the case side",
    );
    refused(
        TestedVolume::from_rotation(&turned, open),
        "turning the crank measures the case side",
    );
    let short = Rotation {
        rod: exact(10.0 * MM),
        ..turned.clone()
    };
    refused(
        TestedVolume::from_rotation(&short, Piston::Top),
        "rod 0.01 m",
    );
    let unwatched = Rotation {
        loss: Some(Loss {
            fall: exact(100.0),
            watched: exact(0.0),
            between: exact(10.0),
        }),
        ..turned
    };
    refused(
        TestedVolume::from_rotation(&unwatched, Piston::Top),
        "time for which the loss was watched is 0",
    );
    refused(
        TestedVolume::from_expansion(&expansion(0.0, 5e4, 2e4, PA)),
        "reference volume is 0",
    );

    refused(
        TestedVolume::from_strokes(&strokes(25.0 * CM3, &[], PA)),
        "counted strokes need",
    );
    refused(
        TestedVolume::from_strokes(&strokes(25.0 * CM3, &[(0, 1e3)], PA)),
        "counted strokes need",
    );
    refused(
        TestedVolume::from_strokes(&strokes(-1.0, &[(1, 1e3)], PA)),
        "stroke volume is -1",
    );
    let weak = Strokes {
        dead_space: exact(20.0 * CM3),
        ..strokes(25.0 * CM3, &[(5, 130e3)], PA)
    };
    refused(
        TestedVolume::from_strokes(&weak),
        "130000 Pa gauge after 5 strokes",
    );
    let negative = Strokes {
        dead_space: exact(-CM3),
        ..weak
    };
    refused(
        TestedVolume::from_strokes(&negative),
        "dead space is -0.000001",
    );

    let leak = AddedLeak {
        alone: exact(0.02),
        together: exact(0.05),
        rate_correlation: 1.5,
        known: exact(1e-8),
        temperature: exact(T),
        gas: Gas::dry_air(),
    };
    let volume =
        |leak: &AddedLeak| TestedVolume::from_added_leak(leak).map(|both| both.volume().clone());
    refused(volume(&leak), "correlation matrix");
    let unknown = AddedLeak {
        known: exact(0.0),
        ..leak
    };
    refused(volume(&unknown), "known leak's effective area is 0");

    let airy = Fill {
        air: exact(1000.0),
        ..fill(1.9, 2.1)
    };
    refused(TestedVolume::from_fill(&airy), "liquid of 998");
    for celsius in [-1.0, 41.0] {
        let bath = exact(celsius + ZERO_C);
        assert!(matches!(
            Liquid::water(&bath),
            Err(VolumeError::WaterTemperature { .. })
        ));
    }
    assert!(Liquid::water(&exact(ZERO_C)).is_ok() && Liquid::water(&exact(ZERO_C + 40.0)).is_ok());
    assert!(Liquid::of_density(exact(0.0)).is_err());

    let list = |pieces| {
        let caliper_scale = exact(1.0);
        TestedVolume::from_parts_list(&PartsList {
            pieces,
            caliper_scale,
        })
    };
    refused(list(vec![]), "a list of parts needs");
    let none = Piece {
        count: 0,
        ..cylinder("case", Sense::Space, 70.0)
    };
    refused(list(vec![none]), "a list of parts needs");
    refused(
        list(vec![cylinder("case", Sense::Space, 0.0)]),
        "`case`: its diameter of 0",
    );
    let ring = Piece {
        shape: Shape::Annulus {
            outer: exact(0.03),
            inner: exact(0.03),
            length: exact(0.01),
        },
        ..cylinder("ring", Sense::Space, 1.0)
    };
    refused(list(vec![ring]), "`ring`: the inner diameter 0.03 m");

    assert!(Settling::new(exact(0.0), exact(0.0)).is_err());
    assert!(Settling::new(exact(200.0), exact(-200.0)).is_err());
}

#[test]
fn an_added_space_keeps_the_account_straight() {
    let tested = direct(240.0, 4.0).plus("hose", &known(12.0, 3.0)).unwrap();
    let names: Vec<_> = tested
        .parts()
        .iter()
        .map(|part| part.name.as_ref())
        .collect();
    assert_eq!(names, ["whole volume", "hose"]);
    let shares: Vec<f64> = tested
        .contributions()
        .iter()
        .map(|c| c.variance_share)
        .collect();
    assert!(close(shares[0], 0.64, ROUNDING) && close(shares[1], 0.36, ROUNDING));
    assert_eq!(tested.method(), Method::MeasuredDirectly);
}

#[test]
fn every_method_states_its_assumptions() {
    for method in Method::ALL {
        assert!(!method.assumptions().is_empty(), "{method}");
    }
}

// Invariances.

proptest! {
    #[test]
    fn an_expansion_is_undone(v1 in 20.0..2000.0_f64, v in 20.0..2000.0_f64, g1 in -70e3..150e3_f64, z in -1e3..1e3_f64, scale in 0.9..1.1_f64) {
        prop_assume!(g1.abs() > 1e3);
        // Gas of pressure p_a + g1 on v1 and p_a on v; the gauge has a zero error and, above it, a scale error.
        let after = g1 * v1 / (v1 + v);
        let expansion = Expansion {
            zero: exact(z),
            ..expansion(v1 * CM3, z + scale * g1, z + scale * after, PA)
        };
        prop_assert!(close(cm3(&TestedVolume::from_expansion(&expansion).unwrap()), v, 1e-9));
    }

    #[test]
    fn a_rotation_is_undone_both_ways(case in 40.0..400.0_f64, from in 0.0..90.0_f64, turn in 10.0..80.0_f64, g in -50e3..50e3_f64, at in -100.0..100.0_f64) {
        let side = |degrees| case + FRAC_PI_4 * 40.0 * 40.0 * below_piston(34.0, 62.0, degrees) / 1e3;
        let to = from + turn;
        let after = (PA + g) * side(from) / side(to) - PA;
        let piston: Piston = format!("{at} deg, transfers shut").parse().unwrap();
        for rotation in [rotation(from, to, g, after), rotation(to, from, after, g)] {
            let tested = TestedVolume::from_rotation(&rotation, piston).unwrap();
            prop_assert!(close(cm3(&tested), side(at), 1e-9), "{} {}", cm3(&tested), side(at));
        }
    }

    #[test]
    fn strokes_are_undone(v in 50.0..2000.0_f64, dead in 0.0..10.0_f64, counts in prop::collection::vec(1_u32..12, 1..5)) {
        let readings: Vec<_> = counts.iter().map(|&n| (n, pumped(v, 25.0, dead, n) - PA)).collect();
        let strokes = Strokes {
            dead_space: exact(dead * CM3),
            ..strokes(25.0 * CM3, &readings, PA)
        };
        prop_assert!(close(cm3(&TestedVolume::from_strokes(&strokes).unwrap()), v, 1e-9));
    }

    #[test]
    fn no_dead_space_is_the_limit_of_little(v in 50.0..2000.0_f64, n in 1_u32..10) {
        let reading = [(n, f64::from(n) * 25.0 * PA / v)];
        let none = strokes(25.0 * CM3, &reading, PA);
        let little = Strokes { dead_space: exact(1e-9 * CM3), ..none.clone() };
        let volume = |strokes: &Strokes| cm3(&TestedVolume::from_strokes(strokes).unwrap());
        prop_assert!(close(volume(&none), v, ROUNDING));
        prop_assert!(close(volume(&little), v, 1e-9));
    }

    #[test]
    fn an_added_leak_is_undone(v in 50.0..1000.0_f64, unknown in 0.0..0.1_f64, added in 0.005..0.1_f64, t in 270.0..310.0_f64) {
        let speed = (Gas::dry_air().specific_gas_constant() * t).sqrt();
        let rate = |mm2: f64| exact(mm2 * 1e-6 * speed / (v * CM3));
        let both = TestedVolume::from_added_leak(&AddedLeak {
            alone: rate(unknown),
            together: rate(unknown + added),
            rate_correlation: 0.0,
            known: exact(added * 1e-6),
            temperature: exact(t),
            gas: Gas::dry_air(),
        }).unwrap();
        prop_assert!(close(cm3(both.volume()), v, 1e-9));
        prop_assert!((both.area().value().si() * 1e6 - unknown).abs() < 1e-12);
    }

    #[test]
    fn a_tare_drops_out_of_a_fill(tare in 0.0..5.0_f64, liquid in 0.05..1.0_f64) {
        let volume = |empty: f64, full: f64| cm3(&TestedVolume::from_fill(&fill(empty, full)).unwrap());
        prop_assert!(close(volume(tare, tare + liquid), volume(0.0, liquid), 1e-12 / liquid * 10.0));
    }

    #[test]
    fn a_parts_list_scales_and_splits(d in 20.0..100.0_f64, l in 5.0..100.0_f64, cut in 0.1..0.9_f64, factor in 0.5..2.0_f64) {
        let u = 0.1;
        let piece = |name: &'static str, length: f64, factor: f64| Piece {
            name: name.into(),
            shape: Shape::Cylinder { diameter: known(d * MM * factor, u * MM * factor), length: known(length * MM * factor, u * MM * factor) },
            sense: Sense::Space,
            count: 1,
        };
        let whole = parts(vec![piece("whole", l, 1.0)]);
        let halves = parts(vec![piece("one", l * cut, 1.0), piece("other", l * (1.0 - cut), 1.0)]);
        prop_assert!(close(cm3(&whole), cm3(&halves), ROUNDING));
        let turned = parts(vec![piece("other", l * (1.0 - cut), 1.0), piece("one", l * cut, 1.0)]);
        prop_assert!(close(cm3(&turned), cm3(&halves), ROUNDING) && close(u_cm3(&turned), u_cm3(&halves), ROUNDING));
        let larger = parts(vec![piece("whole", l, factor)]);
        prop_assert!(close(cm3(&larger), cm3(&whole) * factor.powi(3), ROUNDING));
        prop_assert!(close(u_cm3(&larger), u_cm3(&whole) * factor.powi(3), ROUNDING));
        // A disc is a ring around nothing, a frustum between equal ends, and both ends of it can be taken first.
        let shape = |shape| cm3(&parts(vec![Piece { name: "shape".into(), shape, sense: Sense::Space, count: 1 }]));
        let frustum = |first: f64, second: f64| shape(Shape::Frustum { first: exact(first * MM), second: exact(second * MM), length: exact(l * MM) });
        prop_assert!(close(frustum(d, d), cm3(&whole), ROUNDING));
        prop_assert!(close(frustum(d, d * cut), frustum(d * cut, d), ROUNDING));
        let ring = shape(Shape::Annulus { outer: exact(d * MM), inner: exact(d * cut * MM), length: exact(l * MM) });
        prop_assert!(close(ring, cm3(&whole) * (1.0 - cut * cut), 1e-9));
        let block = shape(Shape::Block { length: exact(l * MM), width: exact(d * MM), height: exact(d * MM) });
        prop_assert!(close(block * FRAC_PI_4, cm3(&whole), ROUNDING));
    }

    #[test]
    fn a_combination_keeps_its_bounds(values in prop::collection::vec((100.0..400.0_f64, 0.5..50.0_f64), 2..6), factor in 0.1..10.0_f64) {
        let volumes = |factor: f64| values.iter().map(|&(v, u)| direct(v * factor * CM3, u * factor * CM3)).collect::<Vec<_>>();
        let mean = combine(&volumes(1.0)).unwrap();
        let number = mean.volume().value().si() / CM3;
        let least = values.iter().map(|v| v.0).fold(f64::INFINITY, f64::min);
        let most = values.iter().map(|v| v.0).fold(0.0, f64::max);
        prop_assert!(number >= least * (1.0 - ROUNDING) && number <= most * (1.0 + ROUNDING));
        let weights: f64 = mean.members().iter().map(|member| member.weight).sum();
        prop_assert!(close(weights, 1.0, ROUNDING));
        // By hand: 1/u^2 = sum 1/u_i^2, widened but never narrowed.
        let plain = values.iter().map(|v| v.1.powi(-2)).sum::<f64>().powf(-0.5);
        let widening = mean.birge_ratio().unwrap().max(1.0);
        let u = mean.volume().standard_uncertainty().value / CM3;
        prop_assert!(close(u, plain * widening, ROUNDING));
        let chi_squared: f64 = values.iter().map(|v| ((v.0 - number) / v.1).powi(2)).sum();
        prop_assert!((mean.chi_squared() - chi_squared).abs() <= 1e-9 * (1.0 + chi_squared));
        let tested = mean.tested();
        let parts = tested.contributions().iter().map(|c| c.uncertainty.powi(2)).sum::<f64>().sqrt() / CM3;
        prop_assert!(close(parts, u, ROUNDING));
        // Order and unit don't matter.
        let mut turned = volumes(factor);
        turned.reverse();
        let turned = combine(&turned).unwrap();
        prop_assert!(close(turned.volume().value().si() / CM3, number * factor, ROUNDING));
        prop_assert!(close(turned.chi_squared(), mean.chi_squared(), 1e-7) || mean.chi_squared() < 1e-6);
    }
}
