//! The certified nonlinear regressions of the NIST Statistical Reference Datasets, all 27 of them.
//!
//! Published values: `[NISTStRD]`, the files of `tests/data/nist_strd`. The slopes of the models are written out
//! here, by hand, and compared with dual numbers.

use super::least_squares::{Options, Residuals, Solution, Termination, minimize};
use num_dual::{Dual64, DualNum};
use std::f64::consts::PI;
use std::fs;

/// Number type of a model: plain or dual.
trait Number: DualNum<f64> + Copy {}
impl<T: DualNum<f64> + Copy> Number for T {}

/// `(b, x) -> y`.
type Model<T> = fn(&[T], &[f64]) -> T;

/// `(b, x, dy/db)`.
type Slopes = fn(&[f64], &[f64], &mut [f64]);

struct Regression {
    name: &'static str,
    model: Model<f64>,
    dual: Model<Dual64>,
    slopes: Slopes,
}

macro_rules! regressions {
    ($($name:literal: $model:ident, $slopes:ident;)*) => {
        &[$(Regression { name: $name, model: $model::<f64>, dual: $model::<Dual64>, slopes: $slopes }),*]
    };
}

const REGRESSIONS: &[Regression] = regressions! {
    "Misra1a": saturation, saturation_slopes;
    "Misra1b": misra1b, misra1b_slopes;
    "Misra1c": misra1c, misra1c_slopes;
    "Misra1d": misra1d, misra1d_slopes;
    "BoxBOD": saturation, saturation_slopes;
    "Chwirut1": chwirut, chwirut_slopes;
    "Chwirut2": chwirut, chwirut_slopes;
    "DanWood": power, power_slopes;
    "Lanczos1": decays, decays_slopes;
    "Lanczos2": decays, decays_slopes;
    "Lanczos3": decays, decays_slopes;
    "Gauss1": peaks, peaks_slopes;
    "Gauss2": peaks, peaks_slopes;
    "Gauss3": peaks, peaks_slopes;
    "Nelson": nelson, nelson_slopes;
    "Kirby2": rational, rational_slopes;
    "Hahn1": rational, rational_slopes;
    "Thurber": rational, rational_slopes;
    "MGH09": mgh09, mgh09_slopes;
    "MGH10": mgh10, mgh10_slopes;
    "MGH17": mgh17, mgh17_slopes;
    "Roszman1": roszman, roszman_slopes;
    "ENSO": enso, enso_slopes;
    "Rat42": rat42, rat42_slopes;
    "Rat43": rat43, rat43_slopes;
    "Eckerle4": eckerle, eckerle_slopes;
    "Bennett5": bennett, bennett_slopes;
};

/// `b1 (1 - exp(-b2 x))`: Misra1a, `BoxBOD`.
fn saturation<T: Number>(b: &[T], x: &[f64]) -> T {
    b[0] * (T::one() - (-b[1] * x[0]).exp())
}
fn saturation_slopes(b: &[f64], x: &[f64], slopes: &mut [f64]) {
    let e = (-b[1] * x[0]).exp();
    slopes.copy_from_slice(&[1.0 - e, b[0] * x[0] * e]);
}

fn misra1b<T: Number>(b: &[T], x: &[f64]) -> T {
    b[0] * (T::one() - (b[1] * (0.5 * x[0]) + 1.0).powi(-2))
}
fn misra1b_slopes(b: &[f64], x: &[f64], slopes: &mut [f64]) {
    let u = 1.0 + 0.5 * b[1] * x[0];
    slopes.copy_from_slice(&[1.0 - u.powi(-2), b[0] * x[0] * u.powi(-3)]);
}

fn misra1c<T: Number>(b: &[T], x: &[f64]) -> T {
    b[0] * (T::one() - (b[1] * (2.0 * x[0]) + 1.0).powf(-0.5))
}
fn misra1c_slopes(b: &[f64], x: &[f64], slopes: &mut [f64]) {
    let u = 1.0 + 2.0 * b[1] * x[0];
    slopes.copy_from_slice(&[1.0 - u.powf(-0.5), b[0] * x[0] * u.powf(-1.5)]);
}

fn misra1d<T: Number>(b: &[T], x: &[f64]) -> T {
    b[0] * b[1] * x[0] / (b[1] * x[0] + 1.0)
}
fn misra1d_slopes(b: &[f64], x: &[f64], slopes: &mut [f64]) {
    let u = 1.0 + b[1] * x[0];
    slopes.copy_from_slice(&[b[1] * x[0] / u, b[0] * x[0] / (u * u)]);
}

fn chwirut<T: Number>(b: &[T], x: &[f64]) -> T {
    (-b[0] * x[0]).exp() / (b[1] + b[2] * x[0])
}
fn chwirut_slopes(b: &[f64], x: &[f64], slopes: &mut [f64]) {
    let u = b[1] + b[2] * x[0];
    let y = (-b[0] * x[0]).exp() / u;
    slopes.copy_from_slice(&[-x[0] * y, -y / u, -x[0] * y / u]);
}

/// `b1 x^b2`: `DanWood`.
fn power<T: Number>(b: &[T], x: &[f64]) -> T {
    b[0] * (b[1] * x[0].ln()).exp()
}
fn power_slopes(b: &[f64], x: &[f64], slopes: &mut [f64]) {
    let y = x[0].powf(b[1]);
    slopes.copy_from_slice(&[y, b[0] * y * x[0].ln()]);
}

/// Sum of three exponentials: Lanczos1 to 3.
fn decays<T: Number>(b: &[T], x: &[f64]) -> T {
    b.chunks(2)
        .fold(T::zero(), |sum, b| sum + b[0] * (-b[1] * x[0]).exp())
}
fn decays_slopes(b: &[f64], x: &[f64], slopes: &mut [f64]) {
    for (b, slopes) in b.chunks(2).zip(slopes.chunks_mut(2)) {
        let e = (-b[1] * x[0]).exp();
        slopes.copy_from_slice(&[e, -b[0] * x[0] * e]);
    }
}

/// A decay and two Gaussian peaks: Gauss1 to 3.
fn peaks<T: Number>(b: &[T], x: &[f64]) -> T {
    let peak = |b: &[T]| b[0] * (-((b[1] - x[0]) / b[2]).powi(2)).exp();
    b[0] * (-b[1] * x[0]).exp() + peak(&b[2..5]) + peak(&b[5..8])
}
fn peaks_slopes(b: &[f64], x: &[f64], slopes: &mut [f64]) {
    let e = (-b[1] * x[0]).exp();
    slopes[..2].copy_from_slice(&[e, -b[0] * x[0] * e]);
    for (b, slopes) in b[2..].chunks(3).zip(slopes[2..].chunks_mut(3)) {
        let z = (x[0] - b[1]) / b[2];
        let g = (-z * z).exp();
        let shift = 2.0 * b[0] * g * z / b[2];
        slopes.copy_from_slice(&[g, shift, shift * z]);
    }
}

/// The response is `ln y`, taken when the file is read.
fn nelson<T: Number>(b: &[T], x: &[f64]) -> T {
    b[0] - b[1] * x[0] * (-b[2] * x[1]).exp()
}
fn nelson_slopes(b: &[f64], x: &[f64], slopes: &mut [f64]) {
    let e = (-b[2] * x[1]).exp();
    slopes.copy_from_slice(&[1.0, -x[0] * e, b[1] * x[0] * x[1] * e]);
}

/// Polynomials of equal degree above and below, the lower one with constant 1: Kirby2, Hahn1, Thurber.
fn rational<T: Number>(b: &[T], x: &[f64]) -> T {
    let (upper, lower) = b.split_at(b.len() / 2 + 1);
    let horner = |coefficients: &[T]| {
        coefficients
            .iter()
            .rev()
            .fold(T::zero(), |sum, b| sum * x[0] + *b)
    };
    horner(upper) / (horner(lower) * x[0] + 1.0)
}
fn rational_slopes(b: &[f64], x: &[f64], slopes: &mut [f64]) {
    let (upper, lower) = b.split_at(b.len() / 2 + 1);
    let horner =
        |coefficients: &[f64]| coefficients.iter().rev().fold(0.0, |sum, b| sum * x[0] + b);
    let denominator = 1.0 + x[0] * horner(lower);
    let y = horner(upper) / denominator;
    let (upper, lower) = slopes.split_at_mut(b.len() / 2 + 1);
    for (slope, power) in upper.iter_mut().zip(0..) {
        *slope = x[0].powi(power) / denominator;
    }
    for (slope, power) in lower.iter_mut().zip(1..) {
        *slope = -y * x[0].powi(power) / denominator;
    }
}

fn mgh09<T: Number>(b: &[T], x: &[f64]) -> T {
    b[0] * (b[1] + x[0]) * x[0] / ((b[2] + x[0]) * x[0] + b[3])
}
fn mgh09_slopes(b: &[f64], x: &[f64], slopes: &mut [f64]) {
    let denominator = x[0] * x[0] + x[0] * b[2] + b[3];
    let shape = (x[0] * x[0] + x[0] * b[1]) / denominator;
    let y = b[0] * shape;
    slopes.copy_from_slice(&[
        shape,
        b[0] * x[0] / denominator,
        -y * x[0] / denominator,
        -y / denominator,
    ]);
}

fn mgh10<T: Number>(b: &[T], x: &[f64]) -> T {
    b[0] * (b[1] / (b[2] + x[0])).exp()
}
fn mgh10_slopes(b: &[f64], x: &[f64], slopes: &mut [f64]) {
    let u = x[0] + b[2];
    let e = (b[1] / u).exp();
    slopes.copy_from_slice(&[e, b[0] * e / u, -b[0] * e * b[1] / (u * u)]);
}

fn mgh17<T: Number>(b: &[T], x: &[f64]) -> T {
    b[0] + b[1] * (-b[3] * x[0]).exp() + b[2] * (-b[4] * x[0]).exp()
}
fn mgh17_slopes(b: &[f64], x: &[f64], slopes: &mut [f64]) {
    let (u, v) = ((-b[3] * x[0]).exp(), (-b[4] * x[0]).exp());
    slopes.copy_from_slice(&[1.0, u, v, -x[0] * b[1] * u, -x[0] * b[2] * v]);
}

fn roszman<T: Number>(b: &[T], x: &[f64]) -> T {
    b[0] - b[1] * x[0] - (b[2] / (-b[3] + x[0])).atan() / PI
}
fn roszman_slopes(b: &[f64], x: &[f64], slopes: &mut [f64]) {
    let u = x[0] - b[3];
    let q = PI * (u * u + b[2] * b[2]);
    slopes.copy_from_slice(&[1.0, -x[0], -u / q, -b[2] / q]);
}

/// An annual cycle and two of unknown period.
fn enso<T: Number>(b: &[T], x: &[f64]) -> T {
    let cycle = |b: &[T]| {
        let angle = b[0].recip() * (2.0 * PI * x[0]);
        b[1] * angle.cos() + b[2] * angle.sin()
    };
    let annual = 2.0 * PI * x[0] / 12.0;
    b[0] + b[1] * annual.cos() + b[2] * annual.sin() + cycle(&b[3..6]) + cycle(&b[6..9])
}
fn enso_slopes(b: &[f64], x: &[f64], slopes: &mut [f64]) {
    let annual = 2.0 * PI * x[0] / 12.0;
    slopes[..3].copy_from_slice(&[1.0, annual.cos(), annual.sin()]);
    for (b, slopes) in b[3..].chunks(3).zip(slopes[3..].chunks_mut(3)) {
        let angle = 2.0 * PI * x[0] / b[0];
        let (sin, cos) = angle.sin_cos();
        slopes.copy_from_slice(&[(b[1] * sin - b[2] * cos) * angle / b[0], cos, sin]);
    }
}

fn rat42<T: Number>(b: &[T], x: &[f64]) -> T {
    b[0] / ((b[1] - b[2] * x[0]).exp() + 1.0)
}
fn rat42_slopes(b: &[f64], x: &[f64], slopes: &mut [f64]) {
    let e = (b[1] - b[2] * x[0]).exp();
    let s = 1.0 / (1.0 + e);
    slopes.copy_from_slice(&[s, -b[0] * e * s * s, x[0] * b[0] * e * s * s]);
}

fn rat43<T: Number>(b: &[T], x: &[f64]) -> T {
    b[0] * (-((b[1] - b[2] * x[0]).exp() + 1.0).ln() / b[3]).exp()
}
fn rat43_slopes(b: &[f64], x: &[f64], slopes: &mut [f64]) {
    let e = (b[1] - b[2] * x[0]).exp();
    let s = (1.0 + e).powf(-1.0 / b[3]);
    let y = b[0] * s;
    let growth = y / b[3] * e / (1.0 + e);
    slopes.copy_from_slice(&[
        s,
        -growth,
        x[0] * growth,
        y * (1.0 + e).ln() / (b[3] * b[3]),
    ]);
}

fn eckerle<T: Number>(b: &[T], x: &[f64]) -> T {
    b[0] / b[1] * (((b[2] - x[0]) / b[1]).powi(2) * -0.5).exp()
}
fn eckerle_slopes(b: &[f64], x: &[f64], slopes: &mut [f64]) {
    let z = (x[0] - b[2]) / b[1];
    let shape = (-0.5 * z * z).exp() / b[1];
    let y = b[0] * shape;
    slopes.copy_from_slice(&[shape, y * (z * z - 1.0) / b[1], y * z / b[1]]);
}

fn bennett<T: Number>(b: &[T], x: &[f64]) -> T {
    b[0] * (-(b[1] + x[0]).ln() / b[2]).exp()
}
fn bennett_slopes(b: &[f64], x: &[f64], slopes: &mut [f64]) {
    let u = b[1] + x[0];
    let shape = u.powf(-1.0 / b[2]);
    let y = b[0] * shape;
    slopes.copy_from_slice(&[shape, -y / (b[2] * u), y * u.ln() / (b[2] * b[2])]);
}

/// What a file holds.
struct Certified {
    starts: [Vec<f64>; 2],
    parameters: Vec<f64>,
    deviations: Vec<f64>,
    sum_of_squares: f64,
    y: Vec<f64>,
    x: Vec<Vec<f64>>,
}

fn read(name: &str) -> Certified {
    let path = format!(
        "{}/../../tests/data/nist_strd/{name}.dat",
        env!("CARGO_MANIFEST_DIR")
    );
    let text = fs::read_to_string(&path).unwrap_or_else(|error| panic!("{path}: {error}"));
    let numbers = |text: &str| -> Vec<f64> {
        text.split_whitespace()
            .map(|word| word.parse().unwrap())
            .collect()
    };
    let certified: Vec<Vec<f64>> = text
        .lines()
        .skip(40)
        .filter_map(|line| line.trim_start().strip_prefix('b')?.split_once('='))
        .map(|(_, values)| numbers(values))
        .collect();
    let column = |k: usize| certified.iter().map(|row| row[k]).collect::<Vec<_>>();
    let sum_of_squares = text
        .lines()
        .find_map(|line| line.strip_prefix("Residual Sum of Squares:"))
        .map(|value| value.trim().parse().unwrap())
        .unwrap();
    let mut y = Vec::new();
    let mut x = Vec::new();
    for line in text.lines().skip(60).filter(|line| !line.trim().is_empty()) {
        let row = numbers(line);
        y.push(if name == "Nelson" {
            row[0].ln()
        } else {
            row[0]
        });
        x.push(row[1..].to_vec());
    }
    Certified {
        starts: [column(0), column(1)],
        parameters: column(2),
        deviations: column(3),
        sum_of_squares,
        y,
        x,
    }
}

struct Fit<'a> {
    regression: &'a Regression,
    certified: &'a Certified,
}

impl Residuals for Fit<'_> {
    fn parameters(&self) -> usize {
        self.certified.parameters.len()
    }

    fn residuals(&self) -> usize {
        self.certified.y.len()
    }

    fn evaluate(&mut self, theta: &[f64], residuals: &mut [f64], jacobian: &mut [f64]) -> bool {
        let rows = residuals
            .iter_mut()
            .zip(jacobian.chunks_exact_mut(theta.len()));
        for ((residual, slopes), (y, x)) in rows.zip(self.certified.y.iter().zip(&self.certified.x))
        {
            *residual = (self.regression.model)(theta, x) - y;
            (self.regression.slopes)(theta, x, slopes);
        }
        true
    }
}

/// Digits two sets of numbers share, at the worst: the log relative error, at most 11 as certified.
fn digits(got: &[f64], certified: &[f64]) -> f64 {
    got.iter()
        .zip(certified)
        .map(|(got, certified)| -((got - certified) / certified).abs().log10())
        .fold(11.0, |worst, digits| {
            if digits.is_nan() {
                0.0
            } else {
                worst.min(digits)
            }
        })
}

fn fit(regression: &Regression, certified: &Certified, start: usize) -> Solution {
    minimize(
        &mut Fit {
            regression,
            certified,
        },
        &certified.starts[start],
        &Options::default(),
    )
    .unwrap()
}

/// As NIST does: scaled by the scatter of the residuals.
fn deviations(solution: &Solution) -> Option<Vec<f64>> {
    let freedom = (solution.residuals.len() - solution.theta.len()) as f64;
    let scatter = (solution.sum_of_squares / freedom).sqrt();
    let errors = solution.linearized().ok()?.standard_errors();
    Some(errors.iter().map(|error| error * scatter).collect())
}

/// Certified values a fit does not reach, and why: (set, the standard deviations' digits it has at least).
const KNOWN_SHORTFALLS: [(&str, f64, &str); 1] = [(
    "Lanczos1",
    2.0,
    "the certified residuals, 9e-14, are the 13th digit of the data; f64 keeps 3 digits of them, no longer a slope",
)];

/// At least 4 digits from the far start, 6 from the near one, for the parameters and their standard deviations.
#[test]
fn certified_values_from_both_starts() {
    for regression in REGRESSIONS {
        let certified = read(regression.name);
        for (start, required) in [(0, 4.0), (1, 6.0)] {
            let solution = fit(regression, &certified, start);
            let parameters = digits(&solution.theta, &certified.parameters);
            let deviations = digits(&deviations(&solution).unwrap(), &certified.deviations);
            let sum = digits(&[solution.sum_of_squares], &[certified.sum_of_squares]);
            let summary = format!(
                "{} from start {}: digits {parameters:.1}, {deviations:.1}, {sum:.1}; {} iterations, {:?}",
                regression.name,
                start + 1,
                solution.iterations,
                solution.termination
            );
            assert_ne!(solution.theta, certified.starts[start], "{summary}");
            assert!(parameters >= required, "{summary}");
            let shortfall = KNOWN_SHORTFALLS
                .iter()
                .find(|(name, ..)| *name == regression.name);
            if let Some((_, least, reason)) = shortfall {
                assert!(deviations >= *least && sum >= *least, "{summary}");
                assert!(
                    deviations < required,
                    "no longer falls short ({reason}): {summary}"
                );
                assert_eq!(solution.termination, Termination::Stalled, "{summary}");
            } else {
                assert!(deviations >= required && sum >= required, "{summary}");
                assert!(solution.termination.converged(), "{summary}");
            }
        }
    }
}

/// Relative to the largest slope of its column, the slopes agree with dual numbers at both starts and at the solution.
#[test]
fn slopes_agree_with_dual_numbers() {
    for regression in REGRESSIONS {
        let certified = read(regression.name);
        let n = certified.parameters.len();
        for b in [
            &certified.starts[0],
            &certified.starts[1],
            &certified.parameters,
        ] {
            let mut worst = vec![0.0f64; n];
            let mut largest = vec![0.0f64; n];
            for x in &certified.x {
                let mut slopes = vec![0.0; n];
                (regression.slopes)(b, x, &mut slopes);
                for (j, slope) in slopes.iter().enumerate() {
                    let seeded: Vec<Dual64> = b
                        .iter()
                        .enumerate()
                        .map(|(k, b)| Dual64::new(*b, if k == j { 1.0 } else { 0.0 }))
                        .collect();
                    let dual = (regression.dual)(&seeded, x);
                    worst[j] = worst[j].max((slope - dual.eps).abs());
                    largest[j] = largest[j].max(slope.abs());
                }
            }
            for (j, (worst, largest)) in worst.iter().zip(&largest).enumerate() {
                assert!(
                    *worst <= 1e-11 * largest,
                    "{}, slope {j}: off by {worst:e} of {largest:e}",
                    regression.name
                );
            }
        }
    }
}
