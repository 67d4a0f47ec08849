//! The lumped thermal vessel with a leak of any law that has a straightening coordinate, and its derivatives, at the speed
//! that a fit needs.
//!
//! Plain numbers. Pressures are fractions of ambient (P = p/`p_a`), temperatures of the wall's at time zero
//! (theta = T/`T_w`), the mass in the case of that which it holds at rest (mu = m R `T_w`/(`p_a` V)), times are seconds:
//!
//! ```text
//! dmu/dt = -k F                                   an orifice: F = P Psi(1/P)/sqrt(theta) outward, -Psi(P) inward
//! dP/dt  = -k E + (theta_w - theta)/tau           E = gamma theta F outward,          gamma F inward
//! P = mu theta,  theta_w = 1 + rho t              gas drawn in has the wall's temperature at time zero
//! ```
//!
//! [`ThermalVessel`](super::ThermalVessel) solves the same equations, and more, with a library's integrator; the tests
//! hold this one against it. The fit evaluates the model some hundred times for each run and needs six derivatives each
//! time, which no general integrator gives within the time allowed. So this file has a small one of its own: the
//! three-stage Radau IIA method (order five, implicit and stiffly accurate), which is indifferent to how fast the gas
//! settles. Three things suit it to the problem:
//!
//! - The unknowns are w and theta, with w |w| = P^beta - 1. The leak is then smooth through ambient, where as a function of
//!   the pressure it is a square root; what is balanced is P and mu, so energy and mass are kept whatever the step.
//! - Newton's equations are exact, three by three blocks of two by two, solved by elimination without a loop.
//! - The derivatives come from the same eliminated blocks: they are those of the numbers returned, not of an
//!   approximation beside them.
//!
//! Steps are as long as their error allows; times within one are read off its collocation polynomial.

use super::law::Coordinate;
use super::model::ModelPartials;
use crate::gas::Gas;
use crate::leak::Orifice;

/// Estimated error of a step [fractions of ambient] that is accepted: 0.03 Pa, and what a gauge tells is a hundred times as
/// much. The estimate is of third order and the step of fifth, so the error stays near 1e-7; what
/// decides is the end of the decay, where the rate bends.
const STEP_TOLERANCE: f64 = 3e-7;
/// Newton's correction below which the next one is lost in the tolerance, since the error squares.
const SETTLED: f64 = 1e-5;
/// Newton steps before the step is cut.
const MAX_NEWTON: usize = 8;
/// Steps, rejected ones too, from one time to the next, after which the run is given up. Some ten are common.
const MAX_STEPS: usize = 2000;
/// Bounds of one step over the last.
const SHRINK: f64 = 0.2;
const GROW: f64 = 8.0;
/// A step that takes |w| below this part of its start, or through zero, spans the bend at the end of a decay, which the
/// error's estimate may miss: it is cut short of it,
const BEND: f64 = 0.1;
/// to this part of the way to zero,
const SHORT_OF_BEND: f64 = 0.85;
/// until |w| is so small (a pressure of 3e-7 of ambient) that the bend no longer matters.
const PAST_BEND: f64 = 3e-4;
/// Part of what the error allows that is used.
const SAFETY: f64 = 0.9;
/// What the error of a step that spans the end of choking is taken for, over its estimate, which misses that the slope of the
/// rates jumps there.
const SPANS_CHOKING: f64 = 50.0;
/// Longest step over the last for which the last one's polynomial is a good guess.
const FAR: f64 = 3.0;
/// Smallest P^beta, and smallest theta, that a trial may look at: a pressure of 1e-7 of ambient.
const SMALLEST: f64 = 1e-2;
/// Smallest |w| in dP/dw, so that no block is singular where there is next to no leak.
const SMALLEST_ROOT: f64 = 1e-8;
/// |w| below which y/w^2 is taken at ambient: the difference is of the order of w^2.
const NEAR_AMBIENT: f64 = 1e-6;

// Radau IIA, three stages: roots of the polynomial, collocation weights and the weights of the error estimate. Source:
// from memory; the tests prove the order.
const ROOT_6: f64 = 2.449_489_742_783_178;
const C1: f64 = (4.0 - ROOT_6) / 10.0;
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

/// What a decay of the lumped vessel depends on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct LumpedParameters {
    /// The law's own rate k \[1/s\], not below zero; of an orifice `CdA` sqrt(R `T_w`)/V.
    pub(crate) rate: f64,
    /// Start gauge pressure g0 \[Pa\], above a perfect vacuum.
    pub(crate) start_gauge: f64,
    /// Ambient pressure `p_a` \[Pa\].
    pub(crate) ambient: f64,
    /// ln(tau/s), tau = `p_a` V cv/(R `T_w` hA): the time in which gas at ambient pressure settles.
    pub(crate) ln_settling_time: f64,
    /// Relative excess of the start temperature, `T0/T_w` - 1.
    pub(crate) start_excess: f64,
    /// Relative wall drift rho = (`dT_w/dt`)/`T_w` \[1/s\].
    pub(crate) wall_drift: f64,
}

/// A pressure as a law's flow sees it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Root {
    /// w, with w |w| = z - 1 and z = P^beta.
    pub(super) w: f64,
    sqrt_z: f64,
    /// P, and y = P - 1.
    pub(super) p: f64,
    pub(super) y: f64,
    p_over_z: f64,
    /// dP/d(w |w|), and dP/dw.
    pub(super) p_by_z: f64,
    pub(super) p_by_w: f64,
}

impl Root {
    /// |y|/w^2, smooth through ambient.
    #[inline]
    pub(super) fn ratio_by_square(&self) -> f64 {
        if self.w.abs() > NEAR_AMBIENT {
            self.y.abs() / (self.w * self.w)
        } else {
            self.p_by_z
        }
    }
}

/// A law's flow F of its straightening coordinate, at the wall's temperature: above zero outward, below it inward.
pub(super) trait HeatedFlow {
    /// The mass flow goes with the upstream temperature to minus this power.
    const TEMPERATURE_EXPONENT: f64;

    /// F for k = 1, and dF/dw.
    fn at(&self, root: &Root) -> (f64, f64);

    /// Whether the flow is choked at a pressure y = P - 1.
    fn is_choked(&self, y: f64) -> bool;
}

/// The lumped vessel for one gas and law.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Lumped {
    law: Coordinate,
    gamma: f64,
    beta: f64,
    /// gamma = 1.4: z^(1/beta) is z^3 sqrt(z).
    diatomic: bool,
    /// sqrt(2/beta).
    slope: f64,
    /// Psi*.
    choked_flow: f64,
    /// P above which an orifice's flow out is choked, and below which its flow in is.
    choked_above: f64,
    choked_below: f64,
}

/// (w, theta).
#[derive(Debug, Clone, Copy)]
struct Unknown {
    w: f64,
    theta: f64,
}

/// A pair (P, mu) or of their rates or derivatives.
#[derive(Debug, Clone, Copy)]
struct Pair {
    p: f64,
    m: f64,
}

/// A block of two by two: rows P and mu; columns w and theta, or P and mu.
#[derive(Debug, Clone, Copy)]
struct Block {
    pp: f64,
    pm: f64,
    mp: f64,
    mm: f64,
}

/// Everything at one point of a step.
#[derive(Debug, Clone, Copy)]
struct Node {
    /// P and mu.
    content: Pair,
    /// d(P, mu)/d(w, theta).
    mass: Block,
    /// F and E.
    flow: f64,
    energy: f64,
    /// (`theta_w` - theta)/tau.
    heat: f64,
    /// d(dP/dt, dmu/dt)/d(w, theta).
    slope: Block,
}

/// The rates of a vessel for one set of parameters.
#[derive(Debug, Clone, Copy)]
struct Rates {
    gas: Lumped,
    k: f64,
    /// 1/tau.
    h: f64,
    rho: f64,
}

/// Something for each parameter that (P, mu) are derived by: rate, start pressure ratio, ln tau, start excess, wall drift.
type ByEach<T> = [T; 5];

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
struct Past {
    from: f64,
    length: f64,
    w: [f64; 4],
    theta: [f64; 4],
    p: [f64; 4],
    by: ByEach<[f64; 4]>,
}

impl Lumped {
    pub(crate) fn new(gas: &Gas, law: Coordinate) -> Self {
        let gamma = gas.heat_capacity_ratio();
        let beta = gas.isentropic_exponent();
        let choked_above = f64::midpoint(gamma, 1.0).powf(1.0 / beta);
        Self {
            law,
            gamma,
            beta,
            diatomic: (gamma - 1.4).abs() < 1e-15,
            slope: (2.0 / beta).sqrt(),
            choked_flow: Orifice::flow_function(gas, 0.0),
            choked_above,
            choked_below: 1.0 / choked_above,
        }
    }

    /// The same vessel with another law.
    pub(crate) fn with_law(self, law: Coordinate) -> Self {
        Self { law, ..self }
    }

    /// Gauge pressures and their derivatives at times \[s\] that are not below zero and do not go back; none where the
    /// parameters or times are not such, or the equations can't be followed.
    pub(crate) fn follow(
        &self,
        parameters: &LumpedParameters,
        times: &[f64],
        out: &mut Vec<ModelPartials>,
    ) -> Option<()> {
        let mut run = Run::start(*self, parameters, times)?;
        for &time in times {
            run.reach(time)?;
            out.push(run.partials(time, parameters));
        }
        Some(())
    }

    /// The flow F of the law at k = 1 and the wall's temperature over that of the orifice, y being P - 1, and the derivative
    /// of its logarithm by y.
    pub(super) fn flow_over_orifice(&self, y: f64) -> (f64, f64) {
        let root = self.at(self.root(y));
        let (flow, by_w, _) = self.law_flow(&root);
        let (orifice, orifice_by_w) = self.orifice(&root);
        let ln_by_w = by_w / flow - orifice_by_w / orifice;
        (flow / orifice, ln_by_w / root.p_by_w)
    }

    /// A pressure from its w.
    #[inline]
    fn at(&self, w: f64) -> Root {
        let size = w.abs();
        let z = (1.0 + w * size).max(SMALLEST);
        let sqrt_z = z.sqrt();
        // P/z = z^(1/beta - 1).
        let p_over_z = if self.diatomic {
            z * z * sqrt_z
        } else {
            ((1.0 / self.beta - 1.0) * z.ln()).exp()
        };
        let p = p_over_z * z;
        let p_by_z = p_over_z / self.beta;
        Root {
            w,
            sqrt_z,
            p,
            y: p - 1.0,
            p_over_z,
            p_by_z,
            p_by_w: p_by_z * 2.0 * size.max(SMALLEST_ROOT),
        }
    }

    /// F at the wall's temperature, its derivative by w, and its temperature exponent.
    #[inline]
    fn law_flow(&self, root: &Root) -> (f64, f64, f64) {
        match &self.law {
            Coordinate::Orifice(_) => {
                let (flow, by_w) = self.orifice(root);
                (flow, by_w, 0.5)
            }
            Coordinate::Sonic(law) => with_exponent(law, root),
            Coordinate::Power(law) => with_exponent(law, root),
            Coordinate::Laminar(law) => with_exponent(law, root),
        }
    }

    /// An orifice's flow F and dF/dw.
    #[inline]
    fn orifice(&self, root: &Root) -> (f64, f64) {
        let Root { w, sqrt_z, p, .. } = *root;
        if w >= 0.0 {
            if p < self.choked_above {
                (
                    self.slope * sqrt_z * w,
                    self.slope * (sqrt_z + w * w / sqrt_z),
                )
            } else {
                (self.choked_flow * p, self.choked_flow * root.p_by_w)
            }
        } else if p > self.choked_below {
            let p_over_z = root.p_over_z;
            // d(P/z)/dz = (1/beta - 1) P/z^2.
            let by_w = (root.p_by_z - p_over_z) / (sqrt_z * sqrt_z) * 2.0 * w.abs();
            (
                self.slope * p_over_z * w,
                self.slope * (p_over_z + by_w * w),
            )
        } else {
            (-self.choked_flow, 0.0)
        }
    }

    /// Whether the flow at a pressure is choked.
    fn is_choked(&self, p: f64) -> bool {
        match &self.law {
            Coordinate::Orifice(_) => p > self.choked_above || p < self.choked_below,
            Coordinate::Sonic(law) => law.is_choked(p - 1.0),
            Coordinate::Power(law) => law.is_choked(p - 1.0),
            Coordinate::Laminar(law) => law.is_choked(p - 1.0),
        }
    }

    /// w of a pressure ratio P = 1 + y.
    fn root(&self, y: f64) -> f64 {
        let excess = (self.beta * y.ln_1p()).exp_m1();
        excess.abs().sqrt().copysign(excess)
    }
}

/// (1/theta)^exponent; a root is cheaper than a power.
#[inline]
fn thinned(over_theta: f64, exponent: f64) -> f64 {
    if (exponent - 0.5).abs() < f64::EPSILON {
        over_theta.sqrt()
    } else if (exponent - 1.0).abs() < f64::EPSILON {
        over_theta
    } else {
        over_theta.powf(exponent)
    }
}

#[inline]
fn with_exponent<F: HeatedFlow>(law: &F, root: &Root) -> (f64, f64, f64) {
    let (flow, by_w) = law.at(root);
    (flow, by_w, F::TEMPERATURE_EXPONENT)
}

impl Rates {
    /// Rates and their derivatives at (w, theta) and time t.
    #[inline]
    fn at(&self, x: Unknown, t: f64) -> Node {
        let gas = &self.gas;
        let theta = x.theta.max(SMALLEST);
        let over_theta = 1.0 / theta;
        let root = gas.at(x.w);
        let Root { p, p_by_w, .. } = root;
        let (flow, flow_w, exponent) = gas.law_flow(&root);
        // F and E with their derivatives by w and theta: what goes out has the gas's temperature, what comes in the wall's.
        let (flow, flow_w, flow_theta, energy, energy_w, energy_theta) = if x.w >= 0.0 {
            let thinner = thinned(over_theta, exponent);
            let (f, f_w) = (flow * thinner, flow_w * thinner);
            let carried = gas.gamma * theta;
            (
                f,
                f_w,
                -exponent * f * over_theta,
                carried * f,
                carried * f_w,
                (1.0 - exponent) * gas.gamma * f,
            )
        } else {
            (flow, flow_w, 0.0, gas.gamma * flow, gas.gamma * flow_w, 0.0)
        };
        let m = p * over_theta;
        Node {
            content: Pair { p, m },
            mass: Block {
                pp: p_by_w,
                pm: 0.0,
                mp: p_by_w * over_theta,
                mm: -m * over_theta,
            },
            flow,
            energy,
            heat: self.h * (1.0 + self.rho * t - x.theta),
            slope: Block {
                pp: -self.k * energy_w,
                pm: -self.k * energy_theta - self.h,
                mp: -self.k * flow_w,
                mm: -self.k * flow_theta,
            },
        }
    }

    /// d(P, mu)/dt.
    #[inline]
    fn rate(&self, node: &Node) -> Pair {
        Pair {
            p: node.heat - self.k * node.energy,
            m: -self.k * node.flow,
        }
    }
}

/// A decay on its way.
struct Run {
    rates: Rates,
    /// The last time that is asked for, and the last that was.
    end: f64,
    asked: f64,
    time: f64,
    /// Where it is: the unknowns, what is balanced, how fast that changes, and its derivatives.
    x: Unknown,
    content: Pair,
    pace: Pair,
    by: ByEach<Pair>,
    /// The step that the error allows.
    length: f64,
    past: Option<Past>,
}

impl Run {
    fn start(gas: Lumped, of: &LumpedParameters, times: &[f64]) -> Option<Self> {
        let y = of.start_gauge / of.ambient;
        let theta = 1.0 + of.start_excess;
        let rates = Rates {
            gas,
            k: of.rate,
            h: (-of.ln_settling_time).exp(),
            rho: of.wall_drift,
        };
        let possible = y > -1.0
            && theta > SMALLEST
            && rates.k >= 0.0
            && [y, theta, rates.k, rates.h, rates.rho]
                .iter()
                .all(|number| number.is_finite());
        if !possible {
            return None;
        }
        let x = Unknown {
            w: gas.root(y),
            theta,
        };
        let p = 1.0 + y;
        let by_start = Pair {
            p: 1.0,
            m: 1.0 / theta,
        };
        let by_start_excess = Pair {
            p: 0.0,
            m: -p / (theta * theta),
        };
        Some(Self {
            rates,
            end: times.last().copied().unwrap_or(0.0),
            asked: 0.0,
            time: 0.0,
            x,
            content: Pair { p, m: p / theta },
            pace: rates.rate(&rates.at(x, 0.0)),
            by: [
                Pair::ZERO,
                by_start,
                Pair::ZERO,
                by_start_excess,
                Pair::ZERO,
            ],
            length: 0.1 / (rates.h + rates.k + rates.rho.abs()),
            past: None,
        })
    }

    /// Steps until a time lies within the last one.
    fn reach(&mut self, time: f64) -> Option<()> {
        if !time.is_finite() || time < self.asked || time > self.end {
            return None;
        }
        self.asked = time;
        for _ in 0..MAX_STEPS {
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
                self.rates.at(x1, t1),
                self.rates.at(x2, t2),
                self.rates.at(x3, t3),
            ];
            let eliminated = Eliminated::of(&nodes, length);
            let lacking = self.lacking(&nodes, length);
            let corrections = eliminated.solve(lacking);
            let size = corrections
                .iter()
                .fold(0.0_f64, |size, d| size.max(d.p.abs()).max(d.m.abs()));
            if !size.is_finite() {
                break;
            }
            let [d1, d2, d3] = corrections;
            stages = [x1.moved(d1), x2.moved(d2), x3.moved(d3)];
            if size <= SETTLED {
                return Some(self.judge(length, &nodes, stages, corrections, &eliminated));
            }
        }
        self.length = 0.25 * length;
        Some(false)
    }

    /// Start values of the stages: the last step's polynomial, where it is near.
    fn guess(&self, length: f64) -> [Unknown; 3] {
        match &self.past {
            Some(past) if length <= FAR * past.length => {
                let ratio = length / past.length;
                [C1, C2, 1.0].map(|c| {
                    let shares = shares(1.0 + c * ratio);
                    Unknown {
                        w: dot(shares, past.w),
                        theta: dot(shares, past.theta),
                    }
                })
            }
            _ => [self.x; 3],
        }
    }

    /// What each stage's balance lacks.
    fn lacking(&self, nodes: &[Node; 3], length: f64) -> [Pair; 3] {
        let [n1, n2, n3] = nodes;
        let [g1, g2, g3] = [
            self.rates.rate(n1),
            self.rates.rate(n2),
            self.rates.rate(n3),
        ];
        let lack = |node: &Node, a1: f64, a2: f64, a3: f64| Pair {
            p: self.content.p - node.content.p + length * (a1 * g1.p + a2 * g2.p + a3 * g3.p),
            m: self.content.m - node.content.m + length * (a1 * g1.m + a2 * g2.m + a3 * g3.m),
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
        nodes: &[Node; 3],
        stages: [Unknown; 3],
        corrections: [Pair; 3],
        eliminated: &Eliminated,
    ) -> bool {
        let [n1, n2, n3] = nodes;
        let [d1, d2, d3] = corrections;
        // To first order in the last correction, which keeps the balances exactly.
        let reached = |node: &Node, d: Pair| node.content.plus(node.mass.times(d));
        let (u1, u2, u3) = (reached(n1, d1), reached(n2, d2), reached(n3, d3));

        let error = {
            let g = self.pace;
            let part = |from: f64, g: f64, u1: f64, u2: f64, u3: f64| {
                EIGENVALUE * length * g + E1 * (u1 - from) + E2 * (u2 - from) + E3 * (u3 - from)
            };
            let raw = Pair {
                p: part(self.content.p, g.p, u1.p, u2.p, u3.p),
                m: part(self.content.m, g.m, u1.m, u2.m, u3.m),
            };
            // Filtered, so that a settled fast part doesn't count.
            let filter = n3.mass.less(n3.slope.scaled(EIGENVALUE * length));
            let filtered = n3.mass.times(filter.inverse().times(raw));
            filtered.p.abs().max(filtered.m.abs())
        };
        let gas = &self.rates.gas;
        let spans = gas.is_choked(self.content.p) != gas.is_choked(u3.p);
        let relative = error / STEP_TOLERANCE * if spans { SPANS_CHOKING } else { 1.0 };
        let factor = (SAFETY / relative.max(1e-8).sqrt().sqrt()).clamp(SHRINK, GROW);
        // The part of the way to zero that the step covers, by its end and by its first stage, which a bend misleads less.
        let [first, _, end] = stages;
        let way = (1.0 - end.w / self.x.w).max((1.0 - first.w / self.x.w) / C1);
        if self.x.w.abs() > PAST_BEND && way > 1.0 - BEND {
            self.length = length * (SHORT_OF_BEND / way).max(SHRINK);
            return false;
        }
        // Also false for an error that is no number.
        if relative <= 1.0 {
            let corrected = |node: &Node, d: Pair| Node {
                heat: node.heat - self.rates.h * d.m,
                ..*node
            };
            let corrected = [corrected(n1, d1), corrected(n2, d2), corrected(n3, d3)];
            let [x1, x2, x3] = stages;
            let by = self.derivatives(length, &corrected, eliminated);
            let mut at_start = self.by.iter();
            self.past = Some(Past {
                from: self.time,
                length,
                w: [self.x.w, x1.w, x2.w, x3.w],
                theta: [self.x.theta, x1.theta, x2.theta, x3.theta],
                p: [self.content.p, u1.p, u2.p, u3.p],
                by: by.map(|[d1, d2, d3]| {
                    let from = at_start.next().map_or(f64::NAN, |d| d.p);
                    [from, d1.p, d2.p, d3.p]
                }),
            });
            self.by = by.map(|[_, _, d3]| d3);
            self.x = x3;
            self.content = u3;
            self.pace = self.rates.rate(n3).plus(n3.slope.times(d3));
            self.time += length;
            self.length = self.length.max(length * factor).min(length * GROW);
            true
        } else {
            self.length = length * factor.min(0.7);
            false
        }
    }

    /// Derivatives of (P, mu) at the stages of a step: those of the collocation itself.
    fn derivatives(
        &self,
        length: f64,
        nodes: &[Node; 3],
        eliminated: &Eliminated,
    ) -> ByEach<[Pair; 3]> {
        let [n1, n2, n3] = nodes;
        // A change of the start stands in all three balances alike, one of the rates at the stages by the weights.
        let after = |start: Pair, [g1, g2, g3]: [Pair; 3]| {
            let sum = |a1: f64, a2: f64, a3: f64| Pair {
                p: start.p + length * (a1 * g1.p + a2 * g2.p + a3 * g3.p),
                m: start.m + length * (a1 * g1.m + a2 * g2.m + a3 * g3.m),
            };
            let [d1, d2, d3] =
                eliminated.solve([sum(A11, A12, A13), sum(A21, A22, A23), sum(A31, A32, A33)]);
            [n1.mass.times(d1), n2.mass.times(d2), n3.mass.times(d3)]
        };
        let unforced = |start: Pair| {
            let [d1, d2, d3] = eliminated.solve([start; 3]);
            [n1.mass.times(d1), n2.mass.times(d2), n3.mass.times(d3)]
        };
        let of_energy = |p: f64| Pair { p, m: 0.0 };
        let [rate, start, ln_settling_time, start_excess, wall_drift] = self.by;
        [
            after(
                rate,
                [n1, n2, n3].map(|node| Pair {
                    p: -node.energy,
                    m: -node.flow,
                }),
            ),
            unforced(start),
            after(
                ln_settling_time,
                [n1, n2, n3].map(|node| of_energy(-node.heat)),
            ),
            unforced(start_excess),
            after(
                wall_drift,
                [C1, C2, 1.0].map(|c| of_energy(self.rates.h * (self.time + c * length))),
            ),
        ]
    }

    /// The pressure and its derivatives at a time that was reached.
    fn partials(&self, time: f64, of: &LumpedParameters) -> ModelPartials {
        let (p, pace, by) = match &self.past {
            Some(past) => past.at(time),
            None => (self.content.p, self.pace.p, self.by.map(|d| d.p)),
        };
        let y = p - 1.0;
        let [rate, start, ln_settling_time, start_excess, wall_drift] = by;
        ModelPartials {
            gauge: of.ambient * y,
            by_rate: of.ambient * rate,
            by_start: start,
            by_ambient: y - of.start_gauge / of.ambient * start,
            by_time: of.ambient * pace,
            by_ln_settling_time: of.ambient * ln_settling_time,
            by_start_excess: of.ambient * start_excess,
            by_wall_drift: of.ambient * wall_drift,
        }
    }
}

impl Past {
    /// P, dP/dt and the derivatives of P at a time within the step.
    fn at(&self, time: f64) -> (f64, f64, ByEach<f64>) {
        let c = (time - self.from) / self.length;
        let shares = shares(c);
        let pace = dot(slopes_of_shares(c), self.p) / self.length;
        (dot(shares, self.p), pace, self.by.map(|by| dot(shares, by)))
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
    fn of(nodes: &[Node; 3], length: f64) -> Self {
        let [n1, n2, n3] = nodes;
        let off = |node: &Node, a: f64| node.slope.scaled(-length * a);
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

impl Unknown {
    fn moved(self, by: Pair) -> Self {
        Self {
            w: self.w + by.p,
            theta: self.theta + by.m,
        }
    }
}

impl Pair {
    const ZERO: Self = Self { p: 0.0, m: 0.0 };

    fn plus(self, other: Self) -> Self {
        Self {
            p: self.p + other.p,
            m: self.m + other.m,
        }
    }

    fn minus(self, other: Self) -> Self {
        Self {
            p: self.p - other.p,
            m: self.m - other.m,
        }
    }
}

impl Block {
    #[inline]
    fn times(self, v: Pair) -> Pair {
        Pair {
            p: self.pp * v.p + self.pm * v.m,
            m: self.mp * v.p + self.mm * v.m,
        }
    }

    /// The product self other: other is applied first.
    #[inline]
    fn after(self, other: Self) -> Self {
        Self {
            pp: self.pp * other.pp + self.pm * other.mp,
            pm: self.pp * other.pm + self.pm * other.mm,
            mp: self.mp * other.pp + self.mm * other.mp,
            mm: self.mp * other.pm + self.mm * other.mm,
        }
    }

    fn plus(self, other: Self) -> Self {
        Self {
            pp: self.pp + other.pp,
            pm: self.pm + other.pm,
            mp: self.mp + other.mp,
            mm: self.mm + other.mm,
        }
    }

    fn less(self, other: Self) -> Self {
        self.plus(other.scaled(-1.0))
    }

    fn scaled(self, by: f64) -> Self {
        Self {
            pp: self.pp * by,
            pm: self.pm * by,
            mp: self.mp * by,
            mm: self.mm * by,
        }
    }

    #[inline]
    fn inverse(self) -> Self {
        let over = 1.0 / (self.pp * self.mm - self.pm * self.mp);
        Self {
            pp: self.mm * over,
            pm: -self.pm * over,
            mp: -self.mp * over,
            mm: self.pp * over,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::gas::GasState;
    use crate::leak::EffectiveArea;
    use crate::quantity::{
        AbsolutePressure, GaugePressure, TemperatureDrift, ThermalConductance,
        ThermodynamicTemperature, Time, Volume,
    };
    use crate::vessel::straight::Straight;
    use crate::vessel::{DecayLaw, Direction, OrificeCoordinate, ThermalVessel};
    use proptest::prelude::*;
    use uom::si::thermal_conductance::watt_per_kelvin;
    use uom::si::thermodynamic_temperature::kelvin;
    use uom::si::time::second;
    use uom::si::volume::cubic_meter;

    /// Largest difference from the library's integrator where the decay ends, over ambient pressure; found: 3e-7.
    const AGREES: f64 = 1e-6;
    /// The same away from the end of a decay; found: 1e-7.
    const AGREES_ON_THE_WAY: f64 = 3e-7;
    /// Largest difference of the slope in time, over one plus it, for a unit of the time in which the case settles or leaks;
    /// found: 2e-5. A stopwatch's error needs two digits.
    const PACE_AGREES: f64 = 1e-4;
    /// Largest difference of a derivative, over one plus its size; found: 2e-4. A fit needs two digits.
    const SLOPE_AGREES: f64 = 5e-4;
    /// The same once heat has carried the gauge through ambient, where the leak's slope is infinite; found: 7e-4.
    const SLOPE_AGREES_BEYOND: f64 = 3e-3;
    const AMBIENT: f64 = 101_325.0;

    fn air() -> Gas {
        Gas::dry_air()
    }

    /// The same vessel for the library's integrator.
    fn reference(of: &LumpedParameters, gas: &Gas, times: &[f64]) -> Vec<f64> {
        let (v, t_w, r) = (250e-6, 293.15, gas.specific_gas_constant());
        let cv = r / (gas.heat_capacity_ratio() - 1.0);
        let area = of.rate * v / (r * t_w).sqrt();
        let tau = of.ln_settling_time.exp();
        let wall = ThermodynamicTemperature::new::<kelvin>(t_w);
        let law = Orifice::new(EffectiveArea::from_square_meters(area).unwrap());
        let vessel = ThermalVessel::new(
            &law,
            Volume::new::<cubic_meter>(v),
            GaugePressure::from_pascals(of.start_gauge).unwrap(),
            GasState {
                pressure: AbsolutePressure::from_pascals(of.ambient).unwrap(),
                temperature: wall,
            },
            gas,
            ThermalConductance::new::<watt_per_kelvin>(of.ambient * v * cv / (r * t_w * tau)),
        )
        .unwrap()
        .with_start_temperature(ThermodynamicTemperature::new::<kelvin>(
            t_w * (1.0 + of.start_excess),
        ))
        .unwrap()
        .with_wall(
            wall,
            TemperatureDrift::from_kelvins_per_second(of.wall_drift * t_w).unwrap(),
        )
        .unwrap();
        let times: Vec<Time> = times.iter().map(|t| Time::new::<second>(*t)).collect();
        vessel
            .gauge_at(&times)
            .unwrap()
            .into_iter()
            .map(GaugePressure::pascals)
            .collect()
    }

    /// The flow's slope, choked or not, is that of its difference quotient.
    #[test]
    fn each_laws_flow_has_its_own_slope() {
        let gas = air();
        let power = |exponent| DecayLaw::Power { exponent };
        let sonic = DecayLaw::Sonic {
            critical_ratio: 0.3,
        };
        for law in [
            DecayLaw::Orifice,
            sonic,
            DecayLaw::Laminar,
            power(0.5),
            power(0.65),
            power(0.9),
        ] {
            for y in [
                -0.95, -0.8, -0.6, -0.3, -0.05, 0.05, 0.3, 0.8, 1.5, 2.5, 6.0,
            ] {
                let direction = if y > 0.0 {
                    Direction::Pressure
                } else {
                    Direction::Vacuum
                };
                let orifice = OrificeCoordinate::new(&gas, direction);
                let lumped = Lumped::new(&gas, Coordinate::beside(law, orifice).unwrap());
                let flow = |w: f64| lumped.law_flow(&lumped.at(w));
                let w = lumped.root(y);
                let step = 1e-5 * w.abs();
                let quotient = (flow(w + step).0 - flow(w - step).0) / (2.0 * step);
                let slope = flow(w).1;
                assert!(
                    (slope - quotient).abs() <= 1e-7 * (1.0 + quotient.abs()),
                    "{law:?} at {y}: {slope} {quotient}"
                );
            }
        }
    }

    fn orifice(gas: &Gas) -> Lumped {
        // The coordinate's direction does not matter to the flow.
        let law = Coordinate::Orifice(OrificeCoordinate::new(gas, Direction::Pressure));
        Lumped::new(gas, law)
    }

    fn try_to_follow(
        of: &LumpedParameters,
        gas: &Gas,
        times: &[f64],
    ) -> Option<Vec<ModelPartials>> {
        let mut out = Vec::new();
        orifice(gas).follow(of, times, &mut out).map(|()| out)
    }

    fn follow(of: &LumpedParameters, gas: &Gas, times: &[f64]) -> Vec<ModelPartials> {
        try_to_follow(of, gas, times).unwrap()
    }

    fn readings(hold: f64) -> Vec<f64> {
        (0..24).map(|i| f64::from(i) * hold / 23.0).collect()
    }

    prop_compose! {
        /// Both directions, choked starts, and k tau over seven decades.
        fn envelope()(
            ln_tau in 0.05_f64.ln()..50_f64.ln(),
            ln_k_tau in 1e-6_f64.ln()..10_f64.ln(),
            start_gauge in prop_oneof![-95e3..-500.0, 500.0..250e3],
            start_excess in -0.06..0.06,
            wall_drift in prop_oneof![Just(0.0), -2e-5..2e-5],
            ambient in 70e3..105e3,
            turns in 0.02..3.0,
        ) -> (LumpedParameters, f64) {
            let rate = (ln_k_tau - ln_tau).exp();
            let start_gauge = if start_gauge < 0.0 { start_gauge * ambient / AMBIENT } else { start_gauge };
            let of = LumpedParameters {
                rate, start_gauge, ambient, ln_settling_time: ln_tau, start_excess, wall_drift,
            };
            (of, f64::min(turns / rate, 600.0))
        }
    }

    proptest! {
            #[test]
            fn agrees_with_the_library_integrator(
                (of, hold) in envelope(),
                gamma in prop_oneof![Just(1.4), 1.1..1.66],
            ) {
                let gas = Gas::new("test gas", 287.0, gamma).unwrap();
                let times = readings(hold);
                let found = follow(&of, &gas, &times);
                for ((found, want), t) in found.iter().zip(reference(&of, &gas, &times)).zip(&times) {
                    let off = (found.gauge - want).abs() / of.ambient;
                    let bound = if want.abs() > 0.02 * of.ambient { AGREES_ON_THE_WAY } else { AGREES };
                    prop_assert!(off < bound, "at {t} s: {} {want}, off {off:e}", found.gauge);
                }
            }

            /// Derivatives against differences of the library's integrator: each in units of the quantity that it changes,
            /// as a part of ambient pressure. Where the decay ends the differences themselves are no good.
            #[test]
            fn derivatives_agree_with_differences((of, hold) in envelope()) {
                let gas = air();
                let times = readings(hold);
                let found = follow(&of, &gas, &times);
                let shifted = |part: usize, by: f64| {
                    let mut of = of;
                    match part {
                        0 => of.rate *= 1.0 + by,
                        1 => of.start_gauge += by * of.ambient,
                        2 => of.ambient *= 1.0 + by,
                        3 => of.ln_settling_time += by,
                        4 => of.start_excess += by,
                        _ => of.wall_drift += by / hold,
                    }
                    reference(&of, &gas, &times)
                };
                for part in 0..6 {
                    let by = 3e-4;
                    let (up, down) = (shifted(part, by), shifted(part, -by));
                    for (i, p) in found.iter().enumerate() {
                        if up[i].abs().min(down[i].abs()) < 0.02 * of.ambient {
                            continue;
                        }
                        let got = match part {
                            0 => p.by_rate * of.rate,
                            1 => p.by_start * of.ambient,
                            2 => p.by_ambient * of.ambient,
                            3 => p.by_ln_settling_time,
                            4 => p.by_start_excess,
                            _ => p.by_wall_drift / hold,
                        } / of.ambient;
                        let want = (up[i] - down[i]) / (2.0 * by * of.ambient);
                        let beyond = up[i] * of.start_gauge < 0.0;
    let bound = if beyond { SLOPE_AGREES_BEYOND } else { SLOPE_AGREES };
    prop_assert!(
                            (got - want).abs() < bound * (1.0 + want.abs()),
                            "part {part} at {} s: {got} {want}", times[i]
                        );
                    }
                }
            }

            /// The slope in time against differences of the library's integrator.
            #[test]
            fn pace_agrees_with_differences((of, hold) in envelope()) {
                let gas = air();
                let scale = 1.0 / (of.rate + (-of.ln_settling_time).exp());
                let (mut low, mut high) = (readings(hold), readings(hold));
                let by = f64::min(1e-3 * scale, 0.1 * hold / 23.0);
                for t in &mut low { *t += by }
                for t in &mut high { *t += 3.0 * by }
                let times: Vec<f64> = low.iter().map(|t| t + by).collect();
                let (low, high) = (reference(&of, &gas, &low), reference(&of, &gas, &high));
                for (i, p) in follow(&of, &gas, &times).iter().enumerate() {
                    if low[i].abs().min(high[i].abs()) < 0.02 * of.ambient {
                        continue;
                    }
                    let want = (high[i] - low[i]) / (2.0 * by) * scale / of.ambient;
                    let got = p.by_time * scale / of.ambient;
                    prop_assert!((got - want).abs() < PACE_AGREES * (1.0 + want.abs()), "at {} s: {got} {want}", times[i]);
                }
            }

            /// A gas that settles at once is isothermal: the closed form.
            #[test]
            fn settling_at_once_is_the_closed_form((of, hold) in envelope()) {
                let of = LumpedParameters {
                    ln_settling_time: 1e-9_f64.ln() - of.rate.max(1.0).ln(),
                    start_excess: 0.0,
                    wall_drift: 0.0,
                    ..of
                };
                let direction = if of.start_gauge > 0.0 { Direction::Pressure } else { Direction::Vacuum };
                let closed = OrificeCoordinate::new(&air(), direction);
                let start = closed.start(of.start_gauge, of.ambient).unwrap();
                let times = readings(hold);
                for (p, &t) in follow(&of, &air(), &times).iter().zip(&times) {
                    let want = closed.partials(of.rate, &start, t);
                    let ends = want.gauge.abs() < 1e-3 * of.ambient;
                    let bound = if ends { AGREES } else { AGREES_ON_THE_WAY };
                    prop_assert!((p.gauge - want.gauge).abs() < bound * of.ambient, "{p:?} {want:?}");
                    if !ends {
                        let close = |got: f64, want: f64| (got - want).abs() < SLOPE_AGREES * (1.0 + want.abs());
                        prop_assert!(close(p.by_rate * of.rate / of.ambient, want.by_rate * of.rate / of.ambient));
                        prop_assert!(close(p.by_start, want.by_start), "{p:?} {want:?}");
                        prop_assert!(close(p.by_ambient, want.by_ambient), "{p:?} {want:?}");
                    }
                }
            }
        }

    #[test]
    fn golden_adiabatic_times() {
        // Independent script: 30-digit quadrature, gamma 1.4, R 287.05287 J/(kg K), 293.15 K, 101325 Pa, 250 cm3,
        // CdA 0.05 mm2.
        let gas = Gas::new("golden gas", 287.052_87, 1.4).unwrap();
        for (from, to, adiabatic) in [
            (70e3, 35e3, 4.387_600_288_16),
            (70e3, 5e3, 11.137_356_708_8),
            (200e3, 70e3, 10.579_096_942_5),
            (-60e3, -50e3, 1.774_513_0),
            (-60e3, -1e3, 13.730_790_450_8),
        ] {
            let of = LumpedParameters {
                rate: 5e-8 * (287.052_87_f64 * 293.15).sqrt() / 250e-6,
                start_gauge: from,
                ambient: AMBIENT,
                ln_settling_time: 1e9_f64.ln(),
                start_excess: 0.0,
                wall_drift: 0.0,
            };
            let found = follow(&of, &gas, &[adiabatic]);
            assert!(
                (found[0].gauge - to).abs() < AGREES_ON_THE_WAY * AMBIENT,
                "{from} {to} {}",
                found[0].gauge
            );
        }
    }

    /// Few steps span this vacuum, and one of them the end of choking; gas that settles at once gives the closed form.
    #[test]
    fn a_step_over_the_end_of_choking_is_exact() {
        let of = LumpedParameters {
            rate: 0.0519,
            start_gauge: -40_881.16,
            ambient: 70_000.0,
            ln_settling_time: 1e-9_f64.ln(),
            start_excess: 0.0,
            wall_drift: 0.0,
        };
        let closed = OrificeCoordinate::new(&air(), Direction::Vacuum);
        let start = closed.start(of.start_gauge, of.ambient).unwrap();
        let times = readings(23.24);
        for (p, &t) in follow(&of, &air(), &times).iter().zip(&times) {
            let off = (p.gauge - closed.partials(of.rate, &start, t).gauge) / of.ambient;
            assert!(off.abs() < AGREES_ON_THE_WAY, "at {t} s: {off:e}");
        }
    }

    /// After the end of a decay, and at the slowest settling over the longest hold, the gauge rests at ambient.
    #[test]
    fn rests_at_ambient() {
        for start_gauge in [50e3, -50e3] {
            let of = LumpedParameters {
                rate: 0.5,
                start_gauge,
                ambient: AMBIENT,
                ln_settling_time: 0.05_f64.ln(),
                start_excess: 0.0,
                wall_drift: 0.0,
            };
            let found = follow(&of, &air(), &[0.0, 10.0, 600.0]);
            assert!((found[0].gauge - start_gauge).abs() < 1e-9);
            assert!(found[1].gauge.abs() < 0.01 && found[2].gauge.abs() < 1e-3);
        }
    }

    /// Gas that was drawn thin and cold warms up behind a leak that has let it fill: the gauge passes through ambient.
    #[test]
    fn heat_carries_the_gauge_through_ambient() {
        let of = LumpedParameters {
            rate: 1.0,
            start_gauge: -3e3,
            ambient: AMBIENT,
            ln_settling_time: 1.0_f64.ln(),
            start_excess: -0.06,
            wall_drift: 0.0,
        };
        let times = [0.1, 0.3, 1.0, 5.0, 20.0];
        let found = follow(&of, &air(), &times);
        for (p, want) in found.iter().zip(reference(&of, &air(), &times)) {
            assert!(
                (p.gauge - want).abs() < AGREES * AMBIENT,
                "{} {want}",
                p.gauge
            );
        }
        assert!(found[2].gauge > 10.0, "{}", found[2].gauge);
    }

    /// What a fit may try on its way: no leak and a gaping one, gas that settles at once or never, wild drifts.
    #[test]
    fn extremes_are_followed() {
        let mut worst: Vec<LumpedParameters> = Vec::new();
        for rate in [0.0, 1e-12, 1e-3, 1e3] {
            for ln_settling_time in [-20.0, -3.0, 0.0, 20.0] {
                for start_gauge in [-101e3, -50e3, -1.0, 0.0, 1.0, 50e3, 2e6] {
                    for start_excess in [-0.2, 0.0, 0.2] {
                        for wall_drift in [-1e-3, 0.0, 1e-3] {
                            worst.push(LumpedParameters {
                                rate,
                                start_gauge,
                                ambient: AMBIENT,
                                ln_settling_time,
                                start_excess,
                                wall_drift,
                            });
                        }
                    }
                }
            }
        }
        for of in worst {
            let found = try_to_follow(&of, &air(), &[0.0, 1e-3, 1.0, 600.0]);
            let finite = found.as_ref().is_some_and(|found| {
                found
                    .iter()
                    .all(|p| p.gauge.is_finite() && p.by_rate.is_finite())
            });
            assert!(finite, "{of:?}: {found:?}");
        }
    }

    #[test]
    fn what_can_not_be_has_no_answer() {
        let good = LumpedParameters {
            rate: 1e-3,
            start_gauge: 50e3,
            ambient: AMBIENT,
            ln_settling_time: 0.0,
            start_excess: 0.01,
            wall_drift: 0.0,
        };
        let answer = |of: &LumpedParameters, times: &[f64]| try_to_follow(of, &air(), times);
        assert!(answer(&good, &[0.0, 0.0, 1.0]).is_some());
        assert_eq!(answer(&good, &[]), Some(Vec::new()));
        for times in [
            [1.0, 0.5],
            [-1.0, 0.0],
            [0.0, f64::NAN],
            [0.0, f64::INFINITY],
        ] {
            assert_eq!(answer(&good, &times), None);
        }
        let nan = f64::NAN;
        for bad in [
            LumpedParameters { rate: -1.0, ..good },
            LumpedParameters { rate: nan, ..good },
            LumpedParameters {
                start_gauge: -AMBIENT,
                ..good
            },
            LumpedParameters {
                start_gauge: nan,
                ..good
            },
            LumpedParameters {
                ambient: 0.0,
                ..good
            },
            LumpedParameters {
                ln_settling_time: nan,
                ..good
            },
            LumpedParameters {
                ln_settling_time: -1e3,
                ..good
            },
            LumpedParameters {
                start_excess: -1.0,
                ..good
            },
            LumpedParameters {
                wall_drift: f64::INFINITY,
                ..good
            },
        ] {
            assert_eq!(answer(&bad, &[0.0, 1.0]), None, "{bad:?}");
        }
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
