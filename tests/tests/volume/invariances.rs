//! What must undo itself, or not matter.

use super::*;

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
