//! Two balances of two unknowns, followed in time: the three-stage Radau IIA method, with derivatives by parameters.
//!
//! In goes a [`Balance`]: what is balanced as a function of two unknowns, d c(x)/dt = g(x, t), with the slopes of c and g and what
//! the parameters force. Out come the first content, its pace and its derivatives at any time that was reached, and the unknowns
//! at the end of the last step. What the contents are is the caller's business.
//!
//! The method (order five, implicit and stiffly accurate) is indifferent to how fast a part of the system settles. What is balanced
//! is kept whatever the step. Newton's equations are three by three blocks of two by two, solved by elimination without a loop; the
//! derivatives come from the same eliminated blocks: they are those of the numbers returned, not of an approximation beside them.
//! Steps are as long as their error allows; times within one are read off its collocation polynomial, which is of a lower order
//! than the step: who needs the step's own order lets it land ([`Run::land`]).
//!
//! Checked by the order of its coefficients, and by its users against a library's integrator.

/// Newton steps before the step is cut.
const MAX_NEWTON: usize = 8;
/// Bounds of one step over the last. What has begun to act at the start, as a drift or a derivative by it, grows as a power of time:
/// a step about as long as all before it keeps the relative error of that too, and costs a step or two.
const SHRINK: f64 = 0.2;
const GROW: f64 = 2.0;
/// Part of what the error allows that is used.
const SAFETY: f64 = 0.9;
/// Longest step over the last for which the last one's polynomial is a good guess.
const FAR: f64 = 3.0;

// Radau IIA, three stages: roots of the polynomial, collocation weights and the weights of the error estimate. Source:
// from memory; the tests prove the order.
const ROOT_6: f64 = 2.449_489_742_783_178;
pub(crate) const C1: f64 = (4.0 - ROOT_6) / 10.0;
const C2: f64 = (4.0 + ROOT_6) / 10.0;
const A11: f64 = (88.0 - 7.0 * ROOT_6) / 360.0;
const A12: f64 = (296.0 - 169.0 * ROOT_6) / 1800.0;
const A13: f64 = (-2.0 + 3.0 * ROOT_6) / 225.0;
const A21: f64 = (296.0 + 169.0 * ROOT_6) / 1800.0;
const A22: f64 = (88.0 + 7.0 * ROOT_6) / 360.0;
const A23: f64 = (-2.0 - 3.0 * ROOT_6) / 225.0;
const A31: f64 = (16.0 - ROOT_6) / 36.0;
const A32: f64 = (16.0 + ROOT_6) / 36.0;
const A33: f64 = 1.0 / 9.0;
/// The real eigenvalue of the collocation weights.
const EIGENVALUE: f64 = 0.274_888_829_595_676_4;
const E1: f64 = EIGENVALUE / 3.0 * (-13.0 - 7.0 * ROOT_6);
const E2: f64 = EIGENVALUE / 3.0 * (-13.0 + 7.0 * ROOT_6);
const E3: f64 = -EIGENVALUE / 3.0;

/// Two balances, d c(x)/dt = g(x, t), and N parameters to derive by.
pub(crate) trait Balance<const N: usize> {
    /// What it keeps of a point for [`Balance::forced`].
    type Point: Copy;

    /// Estimated error of a step that is accepted, in the units of the contents.
    const TOLERANCE: f64;
    /// Newton's correction below which the next one is lost in the tolerance.
    const SETTLED: f64;
    /// Steps, rejected ones too, from one time to the next, after which the run is given up.
    const MAX_STEPS: usize;

    /// Contents, rates and their slopes at x and time t.
    fn at(&self, x: Pair, t: f64) -> Node<Self::Point>;

    /// The derivatives of the rates by each parameter, x held, at the three stages of a step from `time`; `moved` is Newton's last
    /// correction, which the stages don't hold yet.
    fn forced(
        &self,
        nodes: &[Node<Self::Point>; 3],
        moved: [Pair; 3],
        times: [f64; 3],
    ) -> [[Pair; 3]; N];

    /// How much worse than its estimate the error of a step between these contents may be.
    fn caution(&self, _from: Pair, _to: Pair) -> f64 {
        1.0
    }

    /// Where a step from x over a first stage to an end spans something that the estimate may miss: the part of its length to try
    /// instead.
    fn cut(&self, _from: Pair, _first: Pair, _end: Pair) -> Option<f64> {
        None
    }
}

/// Two numbers that go together: the unknowns, the contents, or rates and derivatives of either.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Pair {
    pub(crate) a: f64,
    pub(crate) b: f64,
}

/// A block of two by two: rows and columns as those of a [`Pair`].
#[derive(Debug, Clone, Copy)]
pub(crate) struct Block {
    pub(crate) aa: f64,
    pub(crate) ab: f64,
    pub(crate) ba: f64,
    pub(crate) bb: f64,
}

/// Everything at one point of a step.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Node<P> {
    /// c.
    pub(crate) content: Pair,
    /// dc/dx.
    pub(crate) mass: Block,
    /// g.
    pub(crate) rate: Pair,
    /// dg/dx.
    pub(crate) slope: Block,
    /// The balance's own.
    pub(crate) point: P,
}

/// Three stages of a step, reduced.
#[derive(Debug, Clone, Copy)]
struct Eliminated {
    inverse1: Block,
    inverse2: Block,
    inverse3: Block,
    lower21: Block,
    lower31: Block,
    lower32: Block,
    upper12: Block,
    upper13: Block,
    upper23: Block,
}

/// A step that was accepted: what its polynomials have at 0, C1, C2 and 1 of its length.
#[derive(Debug, Clone, Copy)]
struct Past<const N: usize> {
    from: f64,
    length: f64,
    /// The unknowns.
    a: [f64; 4],
    b: [f64; 4],
    /// The first content, and its derivatives.
    content: [f64; 4],
    by: [[f64; 4]; N],
}

/// A system on its way.
#[derive(Debug)]
pub(crate) struct Run<B, const N: usize> {
    balance: B,
    /// The last time that is asked for, and the last that was.
    end: f64,
    asked: f64,
    time: f64,
    /// Where it is: the unknowns, what is balanced, how fast that changes, and its derivatives.
    x: Pair,
    content: Pair,
    pace: Pair,
    by: [Pair; N],
    /// The step that the error allows.
    length: f64,
    past: Option<Past<N>>,
}

/// The first content at a time, its pace and its derivatives.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Seen<const N: usize> {
    pub(crate) content: f64,
    pub(crate) pace: f64,
    pub(crate) by: [f64; N],
}

impl<B: Balance<N>, const N: usize> Run<B, N> {
    /// From time zero; `by` are the derivatives of the contents there, `first` the length of the first step to try, `end` the last
    /// time that will be asked for.
    pub(crate) fn start(balance: B, x: Pair, by: [Pair; N], first: f64, end: f64) -> Self {
        let node = balance.at(x, 0.0);
        Self {
            balance,
            end,
            asked: 0.0,
            time: 0.0,
            x,
            content: node.content,
            pace: node.rate,
            by,
            length: first,
            past: None,
        }
    }

    /// Steps until a time lies within the last step. None where the time goes back or lies beyond the end, or the equations can't be
    /// followed.
    pub(crate) fn reach(&mut self, time: f64) -> Option<()> {
        if !time.is_finite() || time < self.asked || time > self.end {
            return None;
        }
        self.asked = time;
        for _ in 0..B::MAX_STEPS {
            if self.time >= time {
                return Some(());
            }
            let left = self.end - self.time;
            // Two equal steps rather than a long and a short one.
            let length = if left <= self.length {
                left
            } else {
                self.length.min(0.5 * left)
            };
            let lands = length >= left;
            if self.step(length)? && lands {
                self.time = self.end;
            }
        }
        None
    }

    /// Steps to a time and ends there, so that the unknowns are those of the step itself.
    pub(crate) fn land(&mut self, time: f64) -> Option<Pair> {
        let due = self.length;
        self.end = time;
        self.reach(time)?;
        // A step cut short to land says nothing against the length that was due.
        self.length = self.length.max(due);
        Some(self.x)
    }

    /// How far it is.
    pub(crate) fn time(&self) -> f64 {
        self.time
    }

    /// What is seen at a time within the last step.
    pub(crate) fn seen(&self, time: f64) -> Seen<N> {
        match &self.past {
            Some(past) => past.at(time),
            None => Seen {
                content: self.content.a,
                pace: self.pace.a,
                by: self.by.map(|d| d.a),
            },
        }
    }

    /// Tries a step; whether it was taken.
    fn step(&mut self, length: f64) -> Option<bool> {
        if self.time + 0.1 * length <= self.time {
            return None;
        }
        let times = [
            self.time + C1 * length,
            self.time + C2 * length,
            self.time + length,
        ];
        let mut stages = self.guess(length);
        for _ in 0..MAX_NEWTON {
            let [x1, x2, x3] = stages;
            let [t1, t2, t3] = times;
            let nodes = [
                self.balance.at(x1, t1),
                self.balance.at(x2, t2),
                self.balance.at(x3, t3),
            ];
            let eliminated = Eliminated::of(&nodes, length);
            let lacking = self.lacking(&nodes, length);
            let corrections = eliminated.solve(lacking);
            let size = corrections
                .iter()
                .fold(0.0_f64, |size, d| size.max(d.a.abs()).max(d.b.abs()));
            if !size.is_finite() {
                break;
            }
            let [d1, d2, d3] = corrections;
            stages = [x1.plus(d1), x2.plus(d2), x3.plus(d3)];
            if size <= B::SETTLED {
                return Some(self.judge(length, &nodes, stages, corrections, &eliminated));
            }
        }
        self.length = 0.25 * length;
        Some(false)
    }

    /// Start values of the stages: the last step's polynomial, where it is near.
    fn guess(&self, length: f64) -> [Pair; 3] {
        match &self.past {
            Some(past) if length <= FAR * past.length => {
                let ratio = length / past.length;
                [C1, C2, 1.0].map(|c| {
                    let shares = shares(1.0 + c * ratio);
                    Pair {
                        a: dot(shares, past.a),
                        b: dot(shares, past.b),
                    }
                })
            }
            _ => [self.x; 3],
        }
    }

    /// What each stage's balance lacks.
    fn lacking(&self, nodes: &[Node<B::Point>; 3], length: f64) -> [Pair; 3] {
        let [n1, n2, n3] = nodes;
        let lack = |node: &Node<B::Point>, a1: f64, a2: f64, a3: f64| Pair {
            a: self.content.a - node.content.a
                + length * (a1 * n1.rate.a + a2 * n2.rate.a + a3 * n3.rate.a),
            b: self.content.b - node.content.b
                + length * (a1 * n1.rate.b + a2 * n2.rate.b + a3 * n3.rate.b),
        };
        [
            lack(n1, A11, A12, A13),
            lack(n2, A21, A22, A23),
            lack(n3, A31, A32, A33),
        ]
    }

    /// Accepts a step whose error is small, with the derivatives; sets the next length.
    fn judge(
        &mut self,
        length: f64,
        nodes: &[Node<B::Point>; 3],
        stages: [Pair; 3],
        corrections: [Pair; 3],
        eliminated: &Eliminated,
    ) -> bool {
        let [n1, n2, n3] = nodes;
        let [d1, d2, d3] = corrections;
        // To first order in the last correction, which keeps the balances exactly.
        let reached = |node: &Node<B::Point>, d: Pair| node.content.plus(node.mass.times(d));
        let (u1, u2, u3) = (reached(n1, d1), reached(n2, d2), reached(n3, d3));

        let relative = self.error(length, n3, [u1, u2, u3]) / B::TOLERANCE
            * self.balance.caution(self.content, u3);
        let factor = (SAFETY / relative.max(1e-8).sqrt().sqrt()).clamp(SHRINK, GROW);
        let [x1, x2, x3] = stages;
        if let Some(part) = self.balance.cut(self.x, x1, x3) {
            self.length = length * part.max(SHRINK);
            return false;
        }
        // Also false for an error that is no number.
        if relative <= 1.0 {
            let by = self.derivatives(length, nodes, corrections, eliminated);
            let mut at_start = self.by.iter();
            self.past = Some(Past {
                from: self.time,
                length,
                a: [self.x.a, x1.a, x2.a, x3.a],
                b: [self.x.b, x1.b, x2.b, x3.b],
                content: [self.content.a, u1.a, u2.a, u3.a],
                by: by.map(|[d1, d2, d3]| {
                    let from = at_start.next().map_or(f64::NAN, |d| d.a);
                    [from, d1.a, d2.a, d3.a]
                }),
            });
            self.by = by.map(|[_, _, d3]| d3);
            self.x = x3;
            self.content = u3;
            self.pace = n3.rate.plus(n3.slope.times(d3));
            self.time += length;
            self.length = self.length.max(length * factor).min(length * GROW);
            true
        } else {
            self.length = length * factor.min(0.7);
            false
        }
    }

    /// Estimated error of a step, filtered so that a settled fast part doesn't count.
    fn error(&self, length: f64, n3: &Node<B::Point>, [u1, u2, u3]: [Pair; 3]) -> f64 {
        let part = |from: f64, g: f64, u1: f64, u2: f64, u3: f64| {
            EIGENVALUE * length * g + E1 * (u1 - from) + E2 * (u2 - from) + E3 * (u3 - from)
        };
        let raw = Pair {
            a: part(self.content.a, self.pace.a, u1.a, u2.a, u3.a),
            b: part(self.content.b, self.pace.b, u1.b, u2.b, u3.b),
        };
        let filter = n3.mass.less(n3.slope.scaled(EIGENVALUE * length));
        let filtered = n3.mass.times(filter.inverse().times(raw));
        filtered.a.abs().max(filtered.b.abs())
    }

    /// Derivatives of the contents at the stages of a step: those of the collocation itself. A change of the start stands in all
    /// three balances alike, one of the rates at the stages by the weights.
    fn derivatives(
        &self,
        length: f64,
        nodes: &[Node<B::Point>; 3],
        corrections: [Pair; 3],
        eliminated: &Eliminated,
    ) -> [[Pair; 3]; N] {
        let [n1, n2, n3] = nodes;
        let times = [C1, C2, 1.0].map(|c| self.time + c * length);
        let mut at_start = self.by.iter();
        let forced = self.balance.forced(nodes, corrections, times);
        forced.map(|[g1, g2, g3]| {
            let start = at_start.next().copied().unwrap_or(Pair::ZERO);
            let sum = |a1: f64, a2: f64, a3: f64| Pair {
                a: start.a + length * (a1 * g1.a + a2 * g2.a + a3 * g3.a),
                b: start.b + length * (a1 * g1.b + a2 * g2.b + a3 * g3.b),
            };
            let [d1, d2, d3] =
                eliminated.solve([sum(A11, A12, A13), sum(A21, A22, A23), sum(A31, A32, A33)]);
            [n1.mass.times(d1), n2.mass.times(d2), n3.mass.times(d3)]
        })
    }
}

impl<const N: usize> Past<N> {
    /// What is seen at a time within the step.
    fn at(&self, time: f64) -> Seen<N> {
        let c = (time - self.from) / self.length;
        let shares = shares(c);
        Seen {
            content: dot(shares, self.content),
            pace: dot(slopes_of_shares(c), self.content) / self.length,
            by: self.by.map(|by| dot(shares, by)),
        }
    }
}

/// What a cubic's values at 0, C1, C2 and 1 count for at c (Lagrange's polynomials; C1 C2 = 1/10).
#[inline]
fn shares(c: f64) -> [f64; 4] {
    let (c1, c2, end) = (c - C1, c - C2, c - 1.0);
    [
        -10.0 * c1 * c2 * end,
        OVER_1 * c * c2 * end,
        OVER_2 * c * c1 * end,
        OVER_3 * c * c1 * c2,
    ]
}

/// Their derivatives by c.
#[inline]
fn slopes_of_shares(c: f64) -> [f64; 4] {
    let (c1, c2, end) = (c - C1, c - C2, c - 1.0);
    [
        -10.0 * (c2 * end + c1 * end + c1 * c2),
        OVER_1 * (c2 * end + c * end + c * c2),
        OVER_2 * (c1 * end + c * end + c * c1),
        OVER_3 * (c1 * c2 + c * c2 + c * c1),
    ]
}

const OVER_1: f64 = 1.0 / (C1 * (C1 - C2) * (C1 - 1.0));
const OVER_2: f64 = 1.0 / (C2 * (C2 - C1) * (C2 - 1.0));
const OVER_3: f64 = 1.0 / ((1.0 - C1) * (1.0 - C2));

#[inline]
fn dot([a0, a1, a2, a3]: [f64; 4], [b0, b1, b2, b3]: [f64; 4]) -> f64 {
    a0 * b0 + a1 * b1 + a2 * b2 + a3 * b3
}

impl Eliminated {
    /// Block elimination of `mass_i d_i - length sum_j a_ij slope_j d_j = lacking_i`.
    #[inline]
    fn of<P>(nodes: &[Node<P>; 3], length: f64) -> Self {
        let [n1, n2, n3] = nodes;
        let off = |node: &Node<P>, a: f64| node.slope.scaled(-length * a);
        let inverse1 = n1.mass.plus(off(n1, A11)).inverse();
        let upper12 = off(n2, A12);
        let upper13 = off(n3, A13);
        let lower21 = off(n1, A21).after(inverse1);
        let lower31 = off(n1, A31).after(inverse1);
        let inverse2 = n2
            .mass
            .plus(off(n2, A22))
            .less(lower21.after(upper12))
            .inverse();
        let upper23 = off(n3, A23).less(lower21.after(upper13));
        let lower32 = off(n2, A32).less(lower31.after(upper12)).after(inverse2);
        let inverse3 = n3
            .mass
            .plus(off(n3, A33))
            .less(lower31.after(upper13))
            .less(lower32.after(upper23))
            .inverse();
        Self {
            inverse1,
            inverse2,
            inverse3,
            lower21,
            lower31,
            lower32,
            upper12,
            upper13,
            upper23,
        }
    }

    #[inline]
    fn solve(&self, [r1, r2, r3]: [Pair; 3]) -> [Pair; 3] {
        let r2 = r2.minus(self.lower21.times(r1));
        let r3 = r3
            .minus(self.lower31.times(r1))
            .minus(self.lower32.times(r2));
        let d3 = self.inverse3.times(r3);
        let d2 = self.inverse2.times(r2.minus(self.upper23.times(d3)));
        let d1 = self.inverse1.times(
            r1.minus(self.upper12.times(d2))
                .minus(self.upper13.times(d3)),
        );
        [d1, d2, d3]
    }
}

impl Pair {
    pub(crate) const ZERO: Self = Self { a: 0.0, b: 0.0 };

    fn plus(self, other: Self) -> Self {
        Self {
            a: self.a + other.a,
            b: self.b + other.b,
        }
    }

    fn minus(self, other: Self) -> Self {
        Self {
            a: self.a - other.a,
            b: self.b - other.b,
        }
    }
}

impl Block {
    #[inline]
    fn times(self, v: Pair) -> Pair {
        Pair {
            a: self.aa * v.a + self.ab * v.b,
            b: self.ba * v.a + self.bb * v.b,
        }
    }

    /// The product self other: other is applied first.
    #[inline]
    fn after(self, other: Self) -> Self {
        Self {
            aa: self.aa * other.aa + self.ab * other.ba,
            ab: self.aa * other.ab + self.ab * other.bb,
            ba: self.ba * other.aa + self.bb * other.ba,
            bb: self.ba * other.ab + self.bb * other.bb,
        }
    }

    fn plus(self, other: Self) -> Self {
        Self {
            aa: self.aa + other.aa,
            ab: self.ab + other.ab,
            ba: self.ba + other.ba,
            bb: self.bb + other.bb,
        }
    }

    fn less(self, other: Self) -> Self {
        self.plus(other.scaled(-1.0))
    }

    fn scaled(self, by: f64) -> Self {
        Self {
            aa: self.aa * by,
            ab: self.ab * by,
            ba: self.ba * by,
            bb: self.bb * by,
        }
    }

    #[inline]
    fn inverse(self) -> Self {
        let over = 1.0 / (self.aa * self.bb - self.ab * self.ba);
        Self {
            aa: self.bb * over,
            ab: -self.ab * over,
            ba: -self.ba * over,
            bb: self.aa * over,
        }
    }
}

#[cfg(test)]
mod tests {
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
}
