//! The side of casetight in the comparison with `SciPy`: reads a run as JSON from a file, fits it many times, and prints
//! the answer with its times as JSON. `benches/beside_scipy.py` writes the run and reads the answer.
#![forbid(unsafe_code)]
#![allow(
    clippy::print_stdout,
    clippy::print_stderr,
    reason = "the answer goes to the script that asked"
)]

use std::hint::black_box;
use std::process::ExitCode;
use std::time::Instant;

use casetight::fit::{Candidate, fit_laws};
use casetight::quantity::{AbsolutePressure, Time, TradeUnits};
use casetight::readings::Readings;
use casetight::vessel::DecayLaw;
use casetight_benches::{bench, decay, digital};
use serde::{Deserialize, Serialize};

/// Fits that are run before any is timed, and fits that are timed.
const WARM_UP: usize = 500;
const FITS: usize = 5000;
/// Passes over all readings in one timed evaluation of the forward model, and evaluations.
const PASSES: usize = 400;
const EVALUATIONS: usize = 300;

/// Confidence level of the fit's intervals.
const LEVEL: f64 = 0.95;

#[derive(Debug, Deserialize)]
struct Run {
    volume_m3: f64,
    ambient_pa: f64,
    temperature_k: f64,
    resolution_pa: f64,
    noise_pa: f64,
    time_s: Vec<f64>,
    gauge_pa: Vec<f64>,
}

#[derive(Debug, Serialize)]
struct Answer {
    rate_per_s: f64,
    start_pa: f64,
    fit_s: Times,
    forward_s: Times,
}

/// Median and quartiles of repeated times \[s\].
#[derive(Debug, Serialize)]
struct Times {
    median: f64,
    lower_quartile: f64,
    upper_quartile: f64,
    repeats: usize,
}

impl Times {
    /// Times `work` one repeat at a time.
    fn of(repeats: usize, mut work: impl FnMut()) -> Self {
        let mut seconds: Vec<f64> = (0..repeats)
            .map(|_| {
                let start = Instant::now();
                work();
                start.elapsed().as_secs_f64()
            })
            .collect();
        seconds.sort_by(f64::total_cmp);
        let at = |part: usize| seconds.get(repeats * part / 4).copied().unwrap_or(f64::NAN);
        Self {
            median: at(2),
            lower_quartile: at(1),
            upper_quartile: at(3),
            repeats,
        }
    }

    fn shared_by(self, works: usize) -> Self {
        let works = works as f64;
        Self {
            median: self.median / works,
            lower_quartile: self.lower_quartile / works,
            upper_quartile: self.upper_quartile / works,
            ..self
        }
    }
}

fn answer(path: &str) -> Result<Answer, Box<dyn std::error::Error>> {
    let run: Run = serde_json::from_str(&std::fs::read_to_string(path)?)?;
    let gauge = digital(run.resolution_pa, run.noise_pa)?;
    let bench = bench(run.volume_m3, run.ambient_pa, run.temperature_k, gauge)?;
    let ambient = AbsolutePressure::from_pascals(run.ambient_pa)?;
    let readings = Readings::from_si(&run.time_s, &run.gauge_pa, ambient)?;

    // SciPy fits an orifice on an isothermal vessel; so does this side here.
    let hole = [Candidate::certain(DecayLaw::Orifice)];
    let fitted = fit_laws(&readings, &bench, LEVEL, &hole)?;
    let once = || {
        // What comes back is dropped within the time, as a caller would have to.
        let _ = black_box(fit_laws(
            black_box(&readings),
            black_box(&bench),
            LEVEL,
            &hole,
        ));
    };
    for _ in 0..WARM_UP {
        once();
    }
    let fit_s = Times::of(FITS, once);

    let decay = decay(fitted.rate.si().value, fitted.start.pascals(), &bench)?;
    let mut times = Vec::new();
    for time in &run.time_s {
        times.push(Time::from_value_in(*time, "s")?);
    }
    let forward_s = Times::of(EVALUATIONS, || {
        for _ in 0..PASSES {
            for time in &times {
                black_box(black_box(&decay).gauge_at(black_box(*time)));
            }
        }
    })
    .shared_by(PASSES * times.len());
    Ok(Answer {
        rate_per_s: fitted.rate.si().value,
        start_pa: fitted.start.pascals(),
        fit_s,
        forward_s,
    })
}

fn main() -> ExitCode {
    let Some(path) = std::env::args().nth(1) else {
        eprintln!("usage: beside RUN.json");
        return ExitCode::from(2);
    };
    let printed = answer(&path).and_then(|answer| Ok(serde_json::to_string(&answer)?));
    match printed {
        Ok(json) => {
            println!("{json}");
            ExitCode::SUCCESS
        }
        Err(error) => {
            eprintln!("error: {path}: {error}");
            ExitCode::FAILURE
        }
    }
}
