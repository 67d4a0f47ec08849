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

mod combination;
mod coverage;
mod invariances;
mod published;
mod refusals;
mod script;

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

const PA: f64 = 100e3;
const T: f64 = 293.15;

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

fn expansion(v1: f64, g1: f64, gf: f64, pa: f64) -> Expansion {
    Expansion {
        reference: exact(v1),
        before: exact(g1),
        tested: None,
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

fn parts(pieces: Vec<Piece>) -> TestedVolume {
    let caliper_scale = exact(1.0);
    let list = PartsList {
        pieces,
        caliper_scale,
    };
    TestedVolume::from_parts_list(&list).unwrap()
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

/// Free length of the cylinder below the piston, from the position of the wrist pin in the plane of the crank.
fn below_piston(stroke: f64, rod: f64, degrees: f64) -> f64 {
    let (r, a) = (stroke / 2.0, degrees.to_radians());
    let pin = r * a.cos() + (rod.powi(2) - (r * a.sin()).powi(2)).sqrt();
    pin - (rod - r)
}

/// Absolute pressure after strokes of a pump with dead space, stroke by stroke.
fn pumped(v: f64, stroke: f64, dead: f64, strokes: u32) -> f64 {
    (0..strokes).fold(PA, |p, _| (p * v + PA * (stroke + dead)) / (v + dead))
}
