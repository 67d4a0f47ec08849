//! Values that the Python package must repeat to the last bit: this side writes them, both sides check them.
//!
//! `CASETIGHT_WRITE_VECTORS=1 cargo test -p casetight-tests --test shared_vectors` writes the file anew after a change of
//! results. Numbers stand as text, since not every JSON reader keeps the last bit. Kind: self-consistency.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "test code"
)]

mod common;

use casetight::fit::{CANDIDATES, Candidate, fit_laws};
use casetight::gas::Gas;
use casetight::gauge::{AccuracyClass, Gauge};
use casetight::leak::{
    Capillary, EffectiveArea, LeakLaw, Orifice, Parallel, PowerLaw, SharpEdgedHole, Slot,
    SonicConductanceLaw,
};
use casetight::limit::{Rule, decide};
use casetight::measured::{Distribution, Evaluation, Measurable, Measured};
use casetight::quantity::{
    AbsolutePressure, GaugePressure, TemperatureDrift, ThermodynamicTemperature, Time, TradeUnits,
};
use casetight::readings::{Bench, Readings};
use casetight::vessel::{DecayLaw, Heat, IsothermalDecay, LawDecay, ThermalVessel};
use serde_json::{Value, json};

use common::{absolute, state};

const FILE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/data/shared_vectors.json");

const AMBIENT: f64 = 101_325.0;
const KELVINS: f64 = 293.15;

/// A number as text with every bit of it.
fn text(value: f64) -> Value {
    json!(format!("{value:e}"))
}

fn texts(values: impl IntoIterator<Item = f64>) -> Value {
    values.into_iter().map(text).collect()
}

fn si<Q: TradeUnits>(value: f64) -> Q {
    Q::from_si_value(value).unwrap()
}

/// A law by its class in Python, with what it is made of there.
type Made = (&'static str, Vec<f64>, Box<dyn LeakLaw>);

fn laws() -> Vec<Made> {
    vec![
        (
            "Orifice",
            vec![5e-9],
            Box::new(Orifice::new(
                EffectiveArea::from_square_meters(5e-9).unwrap(),
            )),
        ),
        (
            "SharpEdgedHole",
            vec![1e-4],
            Box::new(SharpEdgedHole::new(si(1e-4)).unwrap()),
        ),
        (
            "SonicConductance",
            vec![1e-9, 0.3],
            Box::new(SonicConductanceLaw::new(si(1e-9), 0.3).unwrap()),
        ),
        (
            "Capillary",
            vec![5e-5, 6e-3],
            Box::new(Capillary::new(si(5e-5), si(6e-3)).unwrap()),
        ),
        (
            "Slot",
            vec![1e-2, 1e-5, 6e-3],
            Box::new(Slot::new(si(1e-2), si(1e-5), si(6e-3)).unwrap()),
        ),
        (
            "PowerLaw",
            vec![5e-7, 48_263.3, 0.65],
            Box::new(PowerLaw::new(si(5e-7), si(48_263.3), 0.65).unwrap()),
        ),
    ]
}

fn flows() -> Value {
    let upstream = [101_400.0, 120_000.0, 149_325.0, 250_000.0];
    let of = |law: &dyn LeakLaw| {
        texts(upstream.map(|p| {
            law.mass_flow(&Gas::dry_air(), state(p, KELVINS), absolute(AMBIENT))
                .value
        }))
    };
    let mut cases: Vec<Value> = laws()
        .iter()
        .map(|(class, arguments, law)| {
            json!({
                "class": class,
                "arguments": texts(arguments.iter().copied()),
                "mass_flow_kg_s": of(&**law),
            })
        })
        .collect();
    let both = Parallel::new()
        .and(Orifice::new(
            EffectiveArea::from_square_meters(5e-9).unwrap(),
        ))
        .and(Capillary::new(si(5e-5), si(6e-3)).unwrap());
    cases.push(json!({"class": "Parallel", "arguments": [], "mass_flow_kg_s": of(&both)}));
    json!({
        "upstream_pa": texts(upstream),
        "downstream_pa": text(AMBIENT),
        "temperature_k": text(KELVINS),
        "cases": cases,
    })
}

fn decays() -> Value {
    let laws = [
        ("orifice", None, DecayLaw::Orifice),
        ("laminar", None, DecayLaw::Laminar),
        (
            "sonic",
            Some(0.35),
            DecayLaw::Sonic {
                critical_ratio: 0.35,
            },
        ),
        ("power", Some(0.65), DecayLaw::Power { exponent: 0.65 }),
    ];
    let (area, volume) = (5e-9, 250e-6);
    let times = [0.0, 1.0, 17.5, 60.0, 400.0];
    let mut cases = Vec::new();
    for (name, number, law) in laws {
        for start in [48_263.3, 150_000.0, -48_263.3, -80_000.0] {
            let ambient = state(AMBIENT, KELVINS);
            let (from, leak) = (si(start), EffectiveArea::from_square_meters(area).unwrap());
            let gas = Gas::dry_air();
            let (gauge_at, time_to): (Box<dyn Fn(Time) -> GaugePressure>, Option<Time>) = if law
                == DecayLaw::Orifice
            {
                let decay = IsothermalDecay::new(leak, si(volume), from, ambient, &gas).unwrap();
                (
                    Box::new(move |t| decay.gauge_at(t)),
                    decay.time_to(si(0.25 * start)),
                )
            } else {
                let decay = LawDecay::new(law, leak, si(volume), from, ambient, &gas).unwrap();
                (
                    Box::new(move |t| decay.gauge_at(t)),
                    decay.time_to(si(0.25 * start)),
                )
            };
            cases.push(json!({
                "law": name,
                "number": number.map(text),
                "start_gauge_pa": text(start),
                "gauge_pa": texts(times.map(|t| gauge_at(si(t)).pascals())),
                "quarter_pa": text(0.25 * start),
                "quarter_s": text(time_to.unwrap().si()),
            }));
        }
    }
    json!({
        "area_m2": text(area),
        "volume_m3": text(volume),
        "ambient_pa": text(AMBIENT),
        "temperature_k": text(KELVINS),
        "time_s": texts(times),
        "cases": cases,
    })
}

fn vessel() -> Value {
    let law = Orifice::new(EffectiveArea::from_square_meters(5e-9).unwrap());
    let times = [0.0, 0.5, 5.0, 60.0];
    let states = ThermalVessel::new(
        &law,
        si(250e-6),
        si(48e3),
        state(AMBIENT, KELVINS),
        &Gas::dry_air(),
        si(0.35),
    )
    .unwrap()
    .with_start_temperature(si(303.15))
    .unwrap()
    .states_at(&times.map(si))
    .unwrap();
    json!({
        "area_m2": text(5e-9),
        "volume_m3": text(250e-6),
        "start_gauge_pa": text(48e3),
        "ambient_pa": text(AMBIENT),
        "temperature_k": text(KELVINS),
        "conductance_w_k": text(0.35),
        "start_temperature_k": text(303.15),
        "time_s": texts(times),
        "gauge_pa": texts(states.iter().map(|s| s.gauge.pascals())),
        "gas_temperature_k": texts(states.iter().map(|s| s.temperature.si())),
    })
}

fn gases() -> Value {
    let temperatures = [273.15, 293.15, 333.15];
    let of = |gas: Gas| {
        json!({
            "name": gas.name(),
            "viscosity_pa_s": texts(temperatures.map(|t| gas.viscosity(si(t)).unwrap().value)),
            "density_kg_m3": texts(temperatures.map(|t| gas.density(state(AMBIENT, t)).value)),
            "critical_pressure_ratio": text(gas.critical_pressure_ratio()),
        })
    };
    json!({
        "temperature_k": texts(temperatures),
        "pressure_pa": text(AMBIENT),
        "cases": Gas::known().map(of),
    })
}

fn normal<Q: Measurable<Spread: TradeUnits>>(value: Q, uncertainty: f64) -> Measured<Q> {
    let normal = Evaluation::TypeB(Distribution::Normal);
    Measured::new(value, si(uncertainty), normal).unwrap()
}

/// When each run of [`fits`] was read.
fn steady() -> Vec<f64> {
    (0..24).map(|i| 10.0 * f64::from(i)).collect()
}

/// Readings of a decay to a step of the gauge.
fn curve(law: DecayLaw, area: f64, start: f64, step: f64) -> Vec<f64> {
    let area = EffectiveArea::from_square_meters(area).unwrap();
    let ambient = state(AMBIENT, KELVINS);
    let decay = LawDecay::new(law, area, si(250e-6), si(start), ambient, &Gas::dry_air()).unwrap();
    let times = steady();
    let felt = times.iter().map(|t| decay.gauge_at(si(*t)).pascals());
    // Never to zero itself, where a run ends.
    felt.map(|g| (g / step).round() * step)
        .map(|g| if g == 0.0 { step.copysign(start) } else { g })
        .collect()
}

/// A run, and the law that it is fitted by where one is told.
struct Run {
    name: &'static str,
    gauge: Gauge,
    readings: Vec<f64>,
    law: Option<DecayLaw>,
}

impl Run {
    fn fitted(&self) -> Value {
        let bench = Bench {
            volume: normal(si(250e-6), 5e-6),
            ambient_pressure: normal(si::<AbsolutePressure>(AMBIENT), 100.0),
            temperature: normal(si::<ThermodynamicTemperature>(KELVINS), 1.0),
            drift_allowance: si::<TemperatureDrift>(0.0015),
            effects: casetight::readings::Effects::none(),
            heat: Heat::default(),
            gauge: self.gauge,
            gas: Gas::dry_air(),
        };
        let ambient = bench.ambient_pressure.value();
        let run = Readings::from_si(&steady(), &self.readings, ambient).unwrap();
        let certain = |law| vec![Candidate::certain(law)];
        let laws = self.law.map_or(CANDIDATES.to_vec(), certain);
        let fit = fit_laws(&run, &bench, 0.95, &laws).unwrap();
        let decision = decide(&Rule::OnePsiAMinute.limit(), &fit, &bench).unwrap();
        let class = self.gauge.accuracy_class();
        json!({
            "name": self.name,
            "step_pa": text(self.gauge.step().si()),
            "noise_pa": text(self.gauge.noise().si()),
            "stopwatch_s": text(self.gauge.stopwatch().si()),
            "accuracy_class": class.map(|c| text(c.class)),
            "span_pa": class.map(|c| text(c.span.si())),
            "gauge_pa": texts(self.readings.iter().copied()),
            "law": self.law.map(DecayLaw::name),
            "effective_area_m2": texts([fit.area.si().value, fit.area.si().low, fit.area.si().high]),
            "rate_per_s": texts([fit.rate.si().value, fit.rate.si().low, fit.rate.si().high]),
            "start_gauge_pa": text(fit.start.pascals()),
            "residual_rms_pa": text(fit.residual_rms_pa),
            "chi_squared": text(fit.chi_squared),
            "weights": texts(fit.laws.iter().map(|l| l.weight)),
            "probability_within": text(decision.probability_within),
        })
    }
}

/// Readings of decays by hand, off the curve by a step here and there.
fn fits() -> Value {
    let class = AccuracyClass {
        class: 1.6,
        span: si(103e3),
    };
    let dial = Gauge::dial(si(3447.0), si(862.0)).unwrap();
    let dial = dial.with_accuracy_class(class).unwrap();
    let digital = Gauge::digital(si(100.0)).unwrap();
    let run = |name, gauge, readings, law| Run {
        name,
        gauge,
        readings,
        law,
    };
    let hole = curve(DecayLaw::Orifice, 1e-9, 48e3, 100.0);
    let gap = curve(DecayLaw::Laminar, 1e-9, 48e3, 100.0);
    let vacuum = curve(DecayLaw::Orifice, 8e-10, -48e3, 100.0);
    let coarse = curve(DecayLaw::Orifice, 3e-10, 48e3, 862.0);
    let told = Some(DecayLaw::Orifice);
    let cases: Vec<Value> = [
        run("digital hole", digital, hole.clone(), None),
        run("digital gap", digital, gap, None),
        run("digital vacuum", digital, vacuum, None),
        run("dial", dial, coarse, None),
        run("told law", digital, hole, told),
    ]
    .iter()
    .map(Run::fitted)
    .collect();
    json!({
        "volume_m3": texts([250e-6, 5e-6]),
        "ambient_pa": texts([AMBIENT, 100.0]),
        "temperature_k": texts([KELVINS, 1.0]),
        "drift_allowance_k_s": text(0.0015),
        "time_s": texts(steady()),
        "cases": cases,
    })
}

/// Self-consistency: the library gives today what the file holds, bit by bit.
#[test]
fn the_vectors_that_python_repeats_are_the_librarys() {
    let vectors = json!({
        "flow": flows(),
        "decay": decays(),
        "vessel": vessel(),
        "gas": gases(),
        "fit": fits(),
    });
    if std::env::var_os("CASETIGHT_WRITE_VECTORS").is_some() {
        let text = serde_json::to_string_pretty(&vectors).unwrap();
        std::fs::write(FILE, text + "\n").unwrap();
    }
    // As values: the order of keys depends on what else is built beside.
    let kept: Value = serde_json::from_str(&std::fs::read_to_string(FILE).unwrap()).unwrap();
    for (key, now) in vectors.as_object().unwrap() {
        assert_eq!(Some(now), kept.get(key), "{key} of shared_vectors.json");
    }
    assert_eq!(vectors, kept);
}
