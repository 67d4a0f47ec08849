//! Slopes of the fit against dual numbers: a vessel of its own, written out in them and followed by fixed Runge-Kutta steps, shares nothing
//! with the model but the question.

use num_dual::{Dual64, DualNum};
use uom::si::pressure::pascal;
use uom::si::thermodynamic_temperature::kelvin;
use uom::si::time::second;

use crate::fit::beside::Fitted;
use crate::fit::least_squares::{Circumstances, Data, Solved};
use crate::fit::problem::{Known, Problem, Term};
use crate::gas::Gas;
use crate::gauge::{AccuracyClass, Gauge};
use crate::measured::{Distribution, Evaluation, Measured};
use crate::numerics::least_squares::Residuals;
use crate::quantity::{
    AbsolutePressure, Pressure, TemperatureDrift, ThermodynamicTemperature, Time, TradeUnits,
    Volume,
};
use crate::readings::{Bench, Effects, Readings};
use crate::vessel::{DecayLaw, DecayModel, Direction, Heat};

const HOLD_S: f64 = 90.0;
const RATE: f64 = 0.004;
const AMBIENT_PA: f64 = 101_325.0;
const WALL_K: f64 = 293.15;
const SETTLED_S: f64 = 20.0;
const STEPS: u32 = 40;

/// What the vessel's slope is wanted by.
#[derive(Debug, Clone, Copy, PartialEq)]
enum By {
    Rate,
    Start,
    Ambient,
    WallDrift,
    DriftBend,
    Warmth,
    Stretch,
    Creep,
}

/// A vessel that empties through a hole, or fills, its gas at the temperature of a wall that changes, its volume at what the pressure makes
/// of it: m' = -A p/sqrt(R T) Phi(r), p V = m R T.
struct Written {
    gamma: f64,
    start: Dual64,
    rate: Dual64,
    ambient: Dual64,
    drift: Dual64,
    bend: Dual64,
    warmth: Dual64,
    stretch: Dual64,
    creep: Dual64,
}

impl Written {
    fn by(by: By, gas: &Gas, start: f64) -> Self {
        let of = |this: By, value: f64| Dual64::new(value, f64::from(u8::from(this == by)));
        Self {
            gamma: gas.heat_capacity_ratio(),
            start: of(By::Start, start),
            rate: of(By::Rate, RATE),
            ambient: of(By::Ambient, AMBIENT_PA),
            drift: of(By::WallDrift, 0.0),
            bend: of(By::DriftBend, 0.0),
            warmth: of(By::Warmth, 0.0),
            stretch: of(By::Stretch, 0.0),
            creep: of(By::Creep, 0.0),
        }
    }

    /// Temperature over that of the first reading.
    fn temperature(&self, time: f64) -> Dual64 {
        let cooled = 1.0 - (-time / Effects::COOLING_SECONDS).exp();
        self.drift * time + self.bend * (time * (time / HOLD_S - 1.0))
            - self.warmth * (cooled / WALL_K)
            + 1.0
    }

    /// Pressure of so much gas: m stands for p V/T of gas at the first volume and temperature.
    fn pressure(&self, time: f64, mass: Dual64, growth: Dual64) -> Dual64 {
        // V/V0 = 1 + c g + x, where c and x have slopes and no size: their slope asks for the pressure's size alone.
        let rigid = mass * self.temperature(time);
        rigid / (self.stretch * (rigid - self.ambient) + growth + 1.0)
    }

    /// m' and x'.
    fn slopes(&self, time: f64, [mass, growth]: [Dual64; 2]) -> [Dual64; 2] {
        let p = self.pressure(time, mass, growth);
        let (inside, outside) = (p, self.ambient);
        let (upstream, ratio, sign) = if inside.re >= outside.re {
            (inside, outside / inside, -1.0)
        } else {
            (outside, inside / outside, 1.0)
        };
        let g = self.gamma;
        let critical = (2.0 / (g + 1.0)).powf(g / (g - 1.0));
        let r = if ratio.re < critical {
            Dual64::from(critical)
        } else {
            ratio
        };
        let phi = ((r.powf(2.0 / g) - r.powf((g + 1.0) / g)) * (2.0 * g / (g - 1.0))).sqrt();
        // Gas from outside comes at the temperature of the room, and takes up that of the wall at once.
        let by_temperature = if sign < 0.0 {
            self.temperature(time).sqrt().recip()
        } else {
            Dual64::from(1.0)
        };
        [
            self.rate * upstream * phi * by_temperature * sign,
            (self.creep * (p - self.ambient) - growth) / Effects::CREEP_SECONDS,
        ]
    }

    /// Gauge pressures at times, each a multiple of a second.
    fn gauges(&self, times: &[f64]) -> Vec<Dual64> {
        let grown = 1.0 - (-SETTLED_S / Effects::CREEP_SECONDS).exp();
        let growth = self.creep * self.start * grown;
        let mass = (self.start + self.ambient) * (self.stretch * self.start + growth + 1.0);
        let (mut state, mut now) = ([mass, growth], 0.0);
        let mut gauges = Vec::new();
        for time in times {
            let step = (time - now) / f64::from(STEPS);
            for _ in 0..STEPS {
                let and = |slopes: [Dual64; 2], h: f64| {
                    [state[0] + slopes[0] * h, state[1] + slopes[1] * h]
                };
                let a = self.slopes(now, state);
                let b = self.slopes(now + 0.5 * step, and(a, 0.5 * step));
                let c = self.slopes(now + 0.5 * step, and(b, 0.5 * step));
                let d = self.slopes(now + step, and(c, step));
                for (i, to) in state.iter_mut().enumerate() {
                    *to += (a[i] + b[i] * 2.0 + c[i] * 2.0 + d[i]) * (step / 6.0);
                }
                now += step;
            }
            gauges.push(self.pressure(now, state[0], state[1]) - self.ambient);
        }
        gauges
    }
}

fn normal<Q: crate::measured::Measurable>(value: Q, uncertainty: Q::Spread) -> Measured<Q> {
    Measured::new(value, uncertainty, Evaluation::TypeB(Distribution::Normal)).unwrap()
}

/// A bench of which everything is uncertain, its gas always as warm as its wall.
fn bench() -> Bench {
    let mut bench = Bench::new(
        Volume::parse("250 cm3").unwrap(),
        AbsolutePressure::from_pascals(AMBIENT_PA).unwrap(),
        ThermodynamicTemperature::new::<kelvin>(WALL_K),
        Gauge::digital(Pressure::new::<pascal>(10.0))
            .unwrap()
            .with_accuracy_class(AccuracyClass {
                class: 1.0,
                span: Pressure::new::<pascal>(1e5),
            })
            .unwrap(),
    )
    .unwrap();
    let ambient = AbsolutePressure::from_pascals(AMBIENT_PA).unwrap();
    bench.ambient_pressure = normal(ambient, Pressure::new::<pascal>(100.0));
    bench.drift_allowance = TemperatureDrift::from_kelvins_per_second(1e-3).unwrap();
    bench.heat = Heat {
        settled_for: Time::new::<second>(SETTLED_S),
        ..Heat::ISOTHERMAL
    };
    bench
}

/// A perfect run on a bench, and what the fit starts from.
struct Run {
    bench: Bench,
    direction: Direction,
    start: f64,
    times: Vec<f64>,
    readings: Readings,
    model: DecayModel,
    data: Data,
    circumstances: Circumstances,
}

/// One of each direction.
fn runs() -> [Run; 2] {
    [(Direction::Pressure, 48e3), (Direction::Vacuum, -48e3)].map(run)
}

fn run((direction, start): (Direction, f64)) -> Run {
    let bench = bench();
    let times: Vec<f64> = (0..10).map(|i| f64::from(i) * HOLD_S / 9.0).collect();
    let gauges = Written::by(By::Rate, &bench.gas, start).gauges(&times);
    let gauges: Vec<f64> = gauges.iter().map(|g| g.re).collect();
    let readings = Readings::from_si(&times, &gauges, bench.ambient_pressure.value()).unwrap();
    Run {
        model: DecayModel::new(DecayLaw::Orifice, &bench.gas, direction).unwrap(),
        data: Data::of(&readings, &bench),
        circumstances: Circumstances::new(Known::of(&bench, (start, HOLD_S))),
        bench,
        direction,
        start,
        times,
        readings,
    }
}

impl Run {
    /// A column lies no further off the slopes by dual numbers than so much of the largest of them.
    #[track_caller]
    fn is_followed(&self, (by, column, within): &(By, Vec<f64>, f64)) {
        let slopes = Written::by(*by, &self.bench.gas, self.start).gauges(&self.times);
        let largest = slopes
            .iter()
            .fold(0.0, |most: f64, slope| most.max(slope.eps.abs()));
        for (got, slope) in column.iter().zip(&slopes) {
            let off = (got - slope.eps).abs() / largest;
            assert!(off < *within, "{} {by:?}: {off}", self.direction);
        }
    }
}

/// The bend of a drift is an allowance of no known size: its column is a parabola of the drift's, within a fifth of what the leak leaves of
/// such a course.
#[test]
fn slopes_of_rate_start_and_terms_are_those_of_dual_numbers() {
    for run in runs() {
        let Run {
            direction, data, ..
        } = &run;
        let Circumstances { known, terms, .. } = &run.circumstances;
        let mut problem = Problem::new(&run.model, (&data.points, &data.times), (known, terms));
        let (rows, columns) = (problem.residuals(), problem.parameters());
        let (mut residuals, mut jacobian) = (vec![0.0; rows], vec![0.0; rows * columns]);
        let mut theta = vec![0.0; columns];
        theta[..2].copy_from_slice(&[RATE, run.start]);
        assert!(problem.evaluate(&theta, &mut residuals, &mut jacobian));
        for (i, point) in data.points.iter().enumerate() {
            // The model's gas settles in no time that counts.
            let off = residuals[i] / point.weight;
            assert!(off.abs() < 0.5, "{direction} {i}: {off}");
        }
        let column = |j: usize, unit: f64| -> Vec<f64> {
            let rows = data.points.iter().enumerate();
            rows.map(|(i, point)| jacobian[i * columns + j] / (point.weight * unit))
                .collect()
        };
        let mut tried = vec![
            (By::Rate, column(0, 1.0), 1e-4),
            (By::Start, column(1, 1.0), 1e-4),
        ];
        for (j, term) in terms.iter().enumerate() {
            let column = column(2 + j, known.uncertainty(*term));
            tried.push(match term {
                Term::Ambient => (By::Ambient, column, 1e-4),
                Term::WallDrift => (By::WallDrift, column, 1e-4),
                Term::DriftBend => (By::DriftBend, column, 0.2),
                Term::Warmth => (By::Warmth, column, 0.004),
                Term::Offset | Term::Scale => {
                    let gauges = run.readings.gauges_pa().iter();
                    let shown = gauges.map(|g| if *term == Term::Offset { 1.0 } else { *g });
                    for (got, wanted) in column.iter().zip(shown) {
                        assert!(
                            (got / wanted - 1.0).abs() < 1e-5,
                            "{direction} {term:?}: {got} {wanted}"
                        );
                    }
                    continue;
                }
                other => panic!("{other:?} is not uncertain here"),
            });
        }
        assert_eq!(tried.len(), 6);
        for column in &tried {
            run.is_followed(column);
        }
    }
}

/// Stretch and creep are columns beside a fit, trapezoids between readings.
#[test]
fn columns_of_stretch_and_creep_are_those_of_dual_numbers() {
    for run in runs() {
        let solved = Solved::find(&run.model, &run.data, &run.circumstances, None).unwrap();
        let at = solved.at_points().unwrap();
        let fit = Fitted::of(&solved, &at);
        run.is_followed(&(By::Stretch, fit.by_stretch(), 3e-4));
        run.is_followed(&(By::Creep, fit.by_creep(SETTLED_S), 0.015));
    }
}
