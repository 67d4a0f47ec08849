//! The order of the method, and a system whose solution is known.

use super::*;

/// a' = -k a and a stiff b' = -1000 (b - cos(w t)) - w sin(w t), whose solution from b = 1 is cos(w t); the content of a is its
/// square.
struct Known {
    k: f64,
    w: f64,
}

impl Balance<2> for Known {
    type Point = f64;
    const TOLERANCE: f64 = 1e-11;
    const SETTLED: f64 = 1e-7;
    const MAX_STEPS: usize = 5000;

    fn at(&self, x: Pair, t: f64) -> Node<f64> {
        let (sin, cos) = (self.w * t).sin_cos();
        Node {
            content: Pair {
                a: x.a * x.a,
                b: x.b,
            },
            mass: Block {
                aa: 2.0 * x.a,
                ab: 0.0,
                ba: 0.0,
                bb: 1.0,
            },
            rate: Pair {
                a: -2.0 * self.k * x.a * x.a,
                b: -1e3 * (x.b - cos) - self.w * sin,
            },
            slope: Block {
                aa: -4.0 * self.k * x.a,
                ab: 0.0,
                ba: 0.0,
                bb: -1e3,
            },
            point: x.a,
        }
    }

    fn forced(&self, nodes: &[Node<f64>; 3], _: [Pair; 3], _: [f64; 3]) -> [[Pair; 3]; 2] {
        let by_k = nodes.map(|node| Pair {
            a: -2.0 * node.point * node.point,
            b: 0.0,
        });
        [by_k, [Pair::ZERO; 3]]
    }
}

fn known() -> Run<Known, 2> {
    // Derivatives by k and by a at the start: c = a^2, dc/da = 2.
    let by = [Pair::ZERO, Pair { a: 2.0, b: 0.0 }];
    Run::start(
        Known { k: 0.3, w: 2.0 },
        Pair { a: 1.0, b: 1.0 },
        by,
        1e-3,
        10.0,
    )
}

#[test]
fn a_system_of_known_solution_is_followed() {
    let mut run = known();
    for i in 0..=20 {
        let t = 0.5 * f64::from(i);
        run.reach(t).unwrap();
        let seen = run.seen(t);
        let square = (-0.6 * t).exp();
        assert!((seen.content - square).abs() < 1e-7, "{t}: {seen:?}");
        assert!((seen.pace + 0.6 * square).abs() < 1e-4, "{t}: {seen:?}");
        let [by_k, by_start] = seen.by;
        assert!((by_k + 2.0 * t * square).abs() < 1e-5, "{t}: {seen:?}");
        assert!((by_start - 2.0 * square).abs() < 1e-6, "{t}: {seen:?}");
    }
}

/// Where it lands it is as good as its steps, the stiff part too.
#[test]
fn it_lands_on_times() {
    let mut run = known();
    for t in [0.0, 0.7, 0.7, 5.0, 10.0, 31.0] {
        let x = run.land(t).unwrap();
        assert!((x.a - (-0.3 * t).exp()).abs() < 1e-10, "{t}: {x:?}");
        assert!((x.b - (2.0 * t).cos()).abs() < 1e-9, "{t}: {x:?}");
    }
    assert_eq!(run.time(), 31.0);
    assert_eq!(run.land(30.0), None);
    assert_eq!(run.reach(f64::NAN), None);
}

/// Self-consistency: the collocation weights integrate polynomials as their order says (stage order three, order
/// five), and the eigenvalue and the estimate's weights belong to them.
#[test]
fn the_method_has_its_order() {
    let rows = [
        (C1, [A11, A12, A13]),
        (C2, [A21, A22, A23]),
        (1.0, [A31, A32, A33]),
    ];
    let sum =
        |row: [f64; 3], power: i32| row[0] * C1.powi(power) + row[1] * C2.powi(power) + row[2];
    for (c, row) in rows {
        for power in 0..3 {
            let want = c.powi(power + 1) / f64::from(power + 1);
            assert!((sum(row, power) - want).abs() < 1e-15);
        }
    }
    for power in 0..5 {
        assert!((sum([A31, A32, A33], power) - 1.0 / f64::from(power + 1)).abs() < 1e-15);
    }
    assert!((sum([A31, A32, A33], 5) - 1.0 / 6.0).abs() > 1e-4);

    // det(x - A) = x^3 - 3/5 x^2 + 3/20 x - 1/60.
    let x = EIGENVALUE;
    assert!((x * x * x - 0.6 * x * x + 0.15 * x - 1.0 / 60.0).abs() < 1e-15);

    // A rate 1, t or t^2 leaves no estimate; t^3 does.
    for (power, want) in [(0, 0.0), (1, 0.0), (2, 0.0)] {
        let at_start = if power == 0 { EIGENVALUE } else { 0.0 };
        let integral = |c: f64| c.powi(power + 1) / f64::from(power + 1);
        let estimate = at_start + E1 * integral(C1) + E2 * integral(C2) + E3 * integral(1.0);
        assert!((estimate - want).abs() < 1e-14, "{power}: {estimate}");
    }
    assert!((E1 * C1.powi(4) + E2 * C2.powi(4) + E3).abs() > 1e-3);
}
