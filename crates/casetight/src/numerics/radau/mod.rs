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
//! Why no crate's integrator: DEVELOPERS.md, "Ours, and why". Checked by the order of its coefficients, and by its users against a library's integrator.

mod blocks;
mod collocation;
#[cfg(test)]
mod tests;

pub(crate) use blocks::{Block, Node, Pair};
pub(crate) use collocation::C1;

use blocks::Eliminated;
use collocation::{
    A11, A12, A13, A21, A22, A23, A31, A32, A33, C2, E1, E2, E3, EIGENVALUE, dot, shares,
    slopes_of_shares,
};

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
