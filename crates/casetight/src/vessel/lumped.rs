//! The lumped thermal vessel with a leak of any law of the list, and its derivatives, at the speed that a fit needs.
//!
//! Plain numbers. Pressures are fractions of ambient (P = p/`p_a`), temperatures of the wall's at time zero
//! (theta = T/`T_w`), the mass in the case of that which it holds at rest (mu = m R `T_w`/(`p_a` V)), times are seconds:
//!
//! ```text
//! dmu/dt = -k F                                   F: the law's flow, over theta to its temperature exponent outward
//! dP/dt  = -k E + (theta_w - theta)/tau           E = gamma theta F outward,          gamma F inward
//! P = mu theta,  theta_w = 1 + rho t              gas drawn in has the wall's temperature at time zero
//! ```
//!
//! [`ThermalVessel`](super::ThermalVessel) solves the same equations, and more, for any law at all and to more digits; the tests hold
//! this one against a library's integrator. The fit evaluates the model some hundred times for each run and needs six derivatives
//! each time, within microseconds. The integrator is [`crate::numerics::radau`]; what suits it to the problem is here: the unknowns
//! are w and theta ([`Root`]), so that the leak is smooth through ambient, while what is balanced is P and mu, so that energy and mass
//! are kept whatever the step.

use super::partials::ModelPartials;
use super::root::{Root, Roots};
use super::shape::Shape;
use crate::numerics::radau::{Balance, Block, C1, Node, Pair, Run};

/// A step that takes |w| below this part of its start, or through zero, spans the bend at the end of a decay, which the
/// error's estimate may miss: it is cut short of it,
const BEND: f64 = 0.1;
/// to this part of the way to zero,
const SHORT_OF_BEND: f64 = 0.85;
/// until |w| is so small (a pressure of 3e-7 of ambient) that the bend no longer matters.
const PAST_BEND: f64 = 3e-4;
/// What the error of a step that spans the end of choking is taken for, over its estimate, which misses that the slope of the
/// rates jumps there.
const SPANS_CHOKING: f64 = 50.0;
/// Smallest theta that a trial may look at.
const SMALLEST: f64 = 1e-2;

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

/// The lumped vessel for one gas and law.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Lumped<S> {
    law: S,
    roots: Roots,
    gamma: f64,
}

impl<S: Shape> Lumped<S> {
    /// For the roots of a gas and its heat capacity ratio.
    pub(crate) fn new(roots: Roots, gamma: f64, law: S) -> Self {
        Self { law, roots, gamma }
    }

    /// Gauge pressures and their derivatives at times \[s\] that are not below zero and do not go back; none where the
    /// parameters or times are not such, or the equations can't be followed.
    pub(crate) fn follow(
        &self,
        parameters: &LumpedParameters,
        times: &[f64],
        out: &mut Vec<ModelPartials>,
    ) -> Option<()> {
        let mut run = self.start(parameters, times)?;
        for &time in times {
            run.reach(time)?;
            let seen = run.seen(time);
            let y = seen.content - 1.0;
            let [rate, start, ln_settling_time, start_excess, wall_drift] = seen.by;
            let LumpedParameters {
                ambient,
                start_gauge,
                ..
            } = *parameters;
            out.push(ModelPartials {
                gauge: ambient * y,
                by_rate: ambient * rate,
                by_start: start,
                by_ambient: y - start_gauge / ambient * start,
                by_time: ambient * seen.pace,
                by_ln_settling_time: ambient * ln_settling_time,
                by_start_excess: ambient * start_excess,
                by_wall_drift: ambient * wall_drift,
            });
        }
        Some(())
    }

    fn start(&self, of: &LumpedParameters, times: &[f64]) -> Option<Run<Rates<S>, PARAMETERS>> {
        let y = of.start_gauge / of.ambient;
        let theta = 1.0 + of.start_excess;
        let rates = Rates {
            vessel: *self,
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
        let x = Pair {
            a: self.roots.of(y),
            b: theta,
        };
        let by_start = Pair {
            a: 1.0,
            b: 1.0 / theta,
        };
        let by_start_excess = Pair {
            a: 0.0,
            b: -(1.0 + y) / (theta * theta),
        };
        let by = [
            Pair::ZERO,
            by_start,
            Pair::ZERO,
            by_start_excess,
            Pair::ZERO,
        ];
        let first = 0.1 / (rates.h + rates.k + rates.rho.abs());
        let end = times.last().copied().unwrap_or(0.0);
        Some(Run::start(rates, x, by, first, end))
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

/// Rate, start pressure ratio, ln tau, start excess, wall drift: what (P, mu) are derived by.
const PARAMETERS: usize = 5;

/// The rates of a vessel for one set of parameters: contents (P, mu) of the unknowns (w, theta).
#[derive(Debug, Clone, Copy)]
struct Rates<S> {
    vessel: Lumped<S>,
    k: f64,
    /// 1/tau.
    h: f64,
    rho: f64,
}

/// What the derivatives need of a point.
#[derive(Debug, Clone, Copy)]
struct Flows {
    /// F and E.
    flow: f64,
    energy: f64,
    /// (`theta_w` - theta)/tau.
    heat: f64,
}

impl<S: Shape> Balance<PARAMETERS> for Rates<S> {
    type Point = Flows;

    // Fractions of ambient: 0.03 Pa, and what a gauge tells is a hundred times as much. The estimate is of third order and the step
    // of fifth, so the error stays near 1e-7; what decides is the end of the decay, where the rate bends.
    const TOLERANCE: f64 = 3e-7;
    // Newton's error squares.
    const SETTLED: f64 = 1e-5;
    // Some ten are common.
    const MAX_STEPS: usize = 2000;

    #[inline]
    fn at(&self, x: Pair, t: f64) -> Node<Flows> {
        let Lumped { law, roots, gamma } = &self.vessel;
        let exponent = S::TEMPERATURE_EXPONENT;
        let theta = x.b.max(SMALLEST);
        let over_theta = 1.0 / theta;
        let root = roots.at(x.a);
        let Root { p, p_by_w, .. } = root;
        let (flow, flow_w) = law.heated(&root);
        // F and E with their derivatives by w and theta: what goes out has the gas's temperature, what comes in the wall's.
        let (flow, flow_w, flow_theta, energy, energy_w, energy_theta) = if x.a >= 0.0 {
            let thinner = thinned(over_theta, exponent);
            let (f, f_w) = (flow * thinner, flow_w * thinner);
            let carried = gamma * theta;
            (
                f,
                f_w,
                -exponent * f * over_theta,
                carried * f,
                carried * f_w,
                (1.0 - exponent) * gamma * f,
            )
        } else {
            (flow, flow_w, 0.0, gamma * flow, gamma * flow_w, 0.0)
        };
        let m = p * over_theta;
        let heat = self.h * (1.0 + self.rho * t - x.b);
        Node {
            content: Pair { a: p, b: m },
            mass: Block {
                aa: p_by_w,
                ab: 0.0,
                ba: p_by_w * over_theta,
                bb: -m * over_theta,
            },
            rate: Pair {
                a: heat - self.k * energy,
                b: -self.k * flow,
            },
            slope: Block {
                aa: -self.k * energy_w,
                ab: -self.k * energy_theta - self.h,
                ba: -self.k * flow_w,
                bb: -self.k * flow_theta,
            },
            point: Flows { flow, energy, heat },
        }
    }

    fn forced(
        &self,
        nodes: &[Node<Flows>; 3],
        moved: [Pair; 3],
        times: [f64; 3],
    ) -> [[Pair; 3]; PARAMETERS] {
        let [n1, n2, n3] = nodes.map(|node| node.point);
        let [d1, d2, d3] = moved;
        let of_energy = |a: f64| Pair { a, b: 0.0 };
        let by_rate = [n1, n2, n3].map(|point| Pair {
            a: -point.energy,
            b: -point.flow,
        });
        let heat = [(n1, d1), (n2, d2), (n3, d3)].map(|(point, d)| point.heat - self.h * d.b);
        [
            by_rate,
            [Pair::ZERO; 3],
            heat.map(|heat| of_energy(-heat)),
            [Pair::ZERO; 3],
            times.map(|t| of_energy(self.h * t)),
        ]
    }

    fn caution(&self, from: Pair, to: Pair) -> f64 {
        let is_choked = |content: Pair| self.vessel.law.is_choked(content.a - 1.0);
        if is_choked(from) == is_choked(to) {
            1.0
        } else {
            SPANS_CHOKING
        }
    }

    /// The part of the way to zero that the step covers, by its end and by its first stage, which a bend misleads less.
    fn cut(&self, from: Pair, first: Pair, end: Pair) -> Option<f64> {
        let way = (1.0 - end.a / from.a).max((1.0 - first.a / from.a) / C1);
        (from.a.abs() > PAST_BEND && way > 1.0 - BEND).then(|| SHORT_OF_BEND / way)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::gas::{Gas, GasState};
    use crate::leak::{EffectiveArea, Orifice};
    use crate::quantity::{
        AbsolutePressure, GaugePressure, TemperatureDrift, ThermalConductance,
        ThermodynamicTemperature, Time, Volume,
    };
    use crate::vessel::{Direction, OrificeShape, ThermalVessel};
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
            .states_by_the_library(&times)
            .unwrap()
            .into_iter()
            .map(|state| state.gauge.pascals())
            .collect()
    }

    fn orifice(gas: &Gas) -> Lumped<OrificeShape> {
        // The shape's direction does not matter to the flow.
        let law = OrificeShape::of_gas(gas, Direction::Pressure);
        Lumped::new(Roots::new(gas), gas.heat_capacity_ratio(), law)
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
                let closed = OrificeShape::of_gas(&air(), direction);
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
        let closed = OrificeShape::of_gas(&air(), Direction::Vacuum);
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
}
