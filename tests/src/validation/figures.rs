//! The figures of the validation page and of the theory manual.

use casetight::gas::Gas;
use casetight::leak::{EffectiveArea, Orifice, SharpEdgedHole};
use casetight::quantity::{Time, TradeUnits as _};
use casetight::vessel::{DecayLaw, LawDecay};

use super::plot::{Axis, Chart, Mark, Series};
use super::{AMBIENT_PA, AREA_M2, VOLUME_M3, ambient, si, vessel};
use crate::table::Table;

const START_PA: f64 = 70e3;
/// Places on a curve.
const PLACES: u32 = 60;

/// The candidate laws of a fit.
const LAWS: [(&str, DecayLaw, Mark); 4] = [
    ("orifice", DecayLaw::Orifice, Mark::Line),
    (
        "sonic conductance, b = 0.3",
        DecayLaw::Sonic {
            critical_ratio: 0.3,
        },
        Mark::Dashed,
    ),
    (
        "power law, n = 0.75",
        DecayLaw::Power { exponent: 0.75 },
        Mark::Dotted,
    ),
    ("laminar", DecayLaw::Laminar, Mark::Line),
];

/// All figures by their file names.
pub(super) fn all() -> Vec<(&'static str, Chart)> {
    vec![
        ("decays", decays()),
        ("straightened", straightened()),
        ("thermal", thermal()),
        ("vacuum-ambiguity", vacuum_ambiguity()),
        ("flow-function", flow_function()),
        ("discharge-coefficient", discharge_coefficient()),
    ]
}

/// Places from `low` to `high`, both included.
fn places(low: f64, high: f64) -> impl Iterator<Item = f64> {
    (0..=PLACES).map(move |i| low + (high - low) * f64::from(i) / f64::from(PLACES))
}

fn axis(label: &'static str, low: f64, high: f64, step: f64) -> Axis {
    Axis {
        label,
        low,
        high,
        step,
    }
}

fn decay(law: DecayLaw) -> LawDecay {
    LawDecay::new(
        law,
        EffectiveArea::from_square_meters(AREA_M2).unwrap(),
        si(VOLUME_M3),
        si(START_PA),
        ambient(),
        &Gas::dry_air(),
    )
    .unwrap()
}

/// Ellipse of the sonic conductance: flow over choked flow.
pub(super) fn ellipse(x: f64, b: f64) -> f64 {
    (1.0 - ((x - b) / (1.0 - b)).max(0.0).powi(2)).sqrt()
}

fn decays() -> Chart {
    let series = LAWS
        .into_iter()
        .enumerate()
        .map(|(color, (name, law, mark))| {
            let decay = decay(law);
            Series {
                name: name.to_owned(),
                color,
                mark,
                points: places(0.0, 30.0)
                    .map(|t| (t, decay.gauge_at(si(t)).pascals() / 1e3))
                    .collect(),
            }
        });
    Chart {
        title: "Four leaks that are alike at the start",
        x: axis("time [s]", 0.0, 30.0, 5.0),
        y: axis("gauge pressure [kPa]", 0.0, 70.0, 10.0),
        series: series.collect(),
    }
}

/// An orifice's decay in the coordinate of each law, scaled to fall from one to zero.
fn straightened() -> Chart {
    let orifice = decay(DecayLaw::Orifice);
    let last = 3e3;
    let ends: f64 = orifice.time_to(si(last)).unwrap().si_value();
    let series = LAWS
        .into_iter()
        .enumerate()
        .map(|(color, (name, law, mark))| {
            let coordinate = decay(law);
            let s = |gauge: f64| coordinate.straightened(si(gauge)).unwrap();
            let (from, to) = (s(START_PA), s(last));
            Series {
                name: name.to_owned(),
                color,
                mark,
                points: places(0.0, ends)
                    .map(|t| {
                        let gauge = orifice.gauge_at(si(t)).pascals().max(last);
                        (t, (s(gauge) - to) / (from - to))
                    })
                    .collect(),
            }
        });
    Chart {
        title: "Which coordinate is straight says what kind of leak it is",
        x: axis("time [s]", 0.0, 18.0, 2.0),
        y: axis("coordinate of each law, scaled", 0.0, 1.0, 0.2),
        series: series.collect(),
    }
}

/// Gauge pressure [kPa] of a vessel at times [s].
fn curve(area: f64, start: f64, conductance: f64, times: &[f64]) -> Vec<(f64, f64)> {
    let leak = Orifice::new(EffectiveArea::from_square_meters(area).unwrap());
    let vessel = vessel(&leak, &Gas::dry_air(), start, conductance);
    let seconds: Vec<Time> = times.iter().map(|t| si(*t)).collect();
    let found = vessel.gauge_at(&seconds).unwrap();
    times
        .iter()
        .copied()
        .zip(found.into_iter().map(|gauge| gauge.pascals() / 1e3))
        .collect()
}

fn thermal() -> Chart {
    let times: Vec<f64> = places(0.0, 16.0).collect();
    let mut series: Vec<Series> = [
        ("isothermal", f64::INFINITY, Mark::Dashed),
        ("hA = 0.35 W/K", 0.35, Mark::Line),
        ("adiabatic", 0.0, Mark::Dotted),
    ]
    .into_iter()
    .enumerate()
    .map(|(color, (name, conductance, mark))| Series {
        name: name.to_owned(),
        color,
        mark,
        points: curve(AREA_M2, START_PA, conductance, &times),
    })
    .collect();
    let peer = Table::open("cantera_vessel.csv");
    series.push(Series {
        name: "Cantera".to_owned(),
        color: 3,
        mark: Mark::Points,
        points: peer
            .rows()
            .filter(|row| matches!(row.text("case"), "discharge" | "discharge; adiabatic"))
            .map(|row| (row.number("time_s"), row.number("gauge_pa") / 1e3))
            .collect(),
    });
    Chart {
        title: "Heat from the wall in a discharge",
        x: axis("time [s]", 0.0, 16.0, 2.0),
        y: axis("gauge pressure [kPa]", 0.0, 70.0, 10.0),
        series,
    }
}

fn vacuum_ambiguity() -> Chart {
    let times: Vec<f64> = places(0.0, 20.0).collect();
    let few: Vec<f64> = times.iter().copied().step_by(4).collect();
    Chart {
        title: "A vacuum rise has one shape, and two areas",
        x: axis("time [s]", 0.0, 20.0, 2.0),
        y: axis("gauge pressure [kPa]", -60.0, 0.0, 10.0),
        series: vec![
            Series {
                name: "isothermal, 0.0500 mm2".to_owned(),
                color: 0,
                mark: Mark::Line,
                points: curve(AREA_M2, -60e3, f64::INFINITY, &times),
            },
            Series {
                name: "adiabatic, 0.0357 mm2".to_owned(),
                color: 1,
                mark: Mark::Points,
                points: curve(AREA_M2 / 1.4, -60e3, 0.0, &few),
            },
            Series {
                name: "adiabatic, 0.0500 mm2".to_owned(),
                color: 2,
                mark: Mark::Dotted,
                points: curve(AREA_M2, -60e3, 0.0, &times),
            },
            Series {
                name: "hA = 0.35 W/K, 0.0500 mm2".to_owned(),
                color: 3,
                mark: Mark::Dashed,
                points: curve(AREA_M2, -60e3, 0.35, &times),
            },
        ],
    }
}

fn flow_function() -> Chart {
    let air = Gas::dry_air();
    let choked = Orifice::flow_function(&air, 0.0);
    let drawn = |of: &dyn Fn(f64) -> f64| -> Vec<(f64, f64)> {
        // Closer where the flow ends in a square root.
        let x = places(0.0, 0.9).chain(places(0.9, 1.0).skip(1));
        x.map(|x| (x, of(x))).collect()
    };
    let naca = Table::open("naca1135_isentropic.csv");
    Chart {
        title: "Flow over choked flow",
        x: axis("pressure ratio x = p_d/p_u", 0.0, 1.0, 0.1),
        y: axis("flow / choked flow", 0.0, 1.0, 0.2),
        series: vec![
            Series {
                name: "isentropic orifice".to_owned(),
                color: 0,
                mark: Mark::Line,
                points: drawn(&|x| Orifice::flow_function(&air, x) / choked),
            },
            Series {
                name: "A*/A of the printed table".to_owned(),
                color: 1,
                mark: Mark::Points,
                points: naca
                    .rows()
                    .filter(|row| row.number("mach") <= 1.0)
                    .map(|row| (row.number("p_over_p0"), 1.0 / row.number("a_over_a_star")))
                    .collect(),
            },
            Series {
                name: "ellipse, b = 0.528".to_owned(),
                color: 2,
                mark: Mark::Dashed,
                points: drawn(&|x| ellipse(x, air.critical_pressure_ratio())),
            },
            Series {
                name: "ellipse, b = 0.3".to_owned(),
                color: 3,
                mark: Mark::Dotted,
                points: drawn(&|x| ellipse(x, 0.3)),
            },
        ],
    }
}

fn discharge_coefficient() -> Chart {
    let x_at = |gauge: f64| AMBIENT_PA / (AMBIENT_PA + gauge);
    Chart {
        title: "A thin sharp-edged hole's discharge coefficient",
        x: axis("pressure ratio x = p_d/p_u", 0.0, 1.0, 0.1),
        y: axis("Cd", 0.55, 0.9, 0.05),
        series: vec![
            Series {
                name: "Cd(x)".to_owned(),
                color: 0,
                mark: Mark::Line,
                points: places(0.0, 1.0)
                    .map(|x| (x, SharpEdgedHole::discharge_coefficient(x)))
                    .collect(),
            },
            Series {
                name: "a pressure test from 70 to 5 kPa".to_owned(),
                color: 1,
                mark: Mark::Points,
                points: [70e3, 50e3, 35e3, 20e3, 10e3, 5e3]
                    .map(|gauge| {
                        let x = x_at(gauge);
                        (x, SharpEdgedHole::discharge_coefficient(x))
                    })
                    .to_vec(),
            },
        ],
    }
}
