//! Propagation of distributions by a seeded Monte Carlo run: what first order leaves out, it shows.

use std::f64::consts::TAU;

use nalgebra::{DMatrix, DVector};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha12Rng;
use rand_distr::{Distribution as _, StandardNormal, StudentT};

use super::propagation::correlation_matrix;
use super::{Distribution, Dual, Evaluation, Input, MeasuredError, mean_and_deviation};

/// With fewer the ends of a 95 % interval rest on two or three trials each.
const LEAST_TRIALS: usize = 100;

/// Every trial's value is kept: 80 MB at this number, which tells a 95 % interval's ends to 0.1 % of u.
const MOST_TRIALS: usize = 10_000_000;

/// An interval [SI unit of the output].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CoverageInterval {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// The outcome of a Monte Carlo run: the sorted values of its trials.
#[derive(Debug, Clone, PartialEq)]
pub struct MonteCarlo {
    sorted: Vec<f64>,
    mean: f64,
    standard_uncertainty: f64,
}

impl MonteCarlo {
    /// The mean of the trials [SI unit].
    #[must_use]
    pub fn mean(&self) -> f64 {
        self.mean
    }

    /// The standard deviation of the trials [SI unit].
    #[must_use]
    pub fn standard_uncertainty(&self) -> f64 {
        self.standard_uncertainty
    }

    /// The trials' values in ascending order [SI unit].
    #[must_use]
    pub fn sorted(&self) -> &[f64] {
        &self.sorted
    }

    /// The probabilistically symmetric interval at a level such as 0.95: as many trials below it as above.
    /// Source: `[JCGM101]`, 7.7.2.
    ///
    /// # Errors
    /// [`MeasuredError::Level`] outside 0 to 1.
    pub fn symmetric_interval(&self, level: f64) -> Result<CoverageInterval, MeasuredError> {
        let inside = self.trials_inside(level)?;
        let below = (self.sorted.len() - inside) / 2;
        self.intervals(inside)
            .nth(below)
            .ok_or(MeasuredError::Level { got: level })
    }

    /// The shortest interval that holds a share such as 0.95 of the trials. Source: `[JCGM101]`, 7.7.4.
    ///
    /// # Errors
    /// [`MeasuredError::Level`] outside 0 to 1.
    pub fn shortest_interval(&self, level: f64) -> Result<CoverageInterval, MeasuredError> {
        let inside = self.trials_inside(level)?;
        self.intervals(inside)
            .min_by(|a, b| (a.high - a.low).total_cmp(&(b.high - b.low)))
            .ok_or(MeasuredError::Level { got: level })
    }

    /// The number q of steps between neighboring trials that an interval at this level spans.
    fn trials_inside(&self, level: f64) -> Result<usize, MeasuredError> {
        if !(level > 0.0 && level < 1.0) {
            return Err(MeasuredError::Level { got: level });
        }
        // Between zero and the number of trials, both of which a usize holds.
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let inside = (level * self.sorted.len() as f64).round() as usize;
        Ok(inside.min(self.sorted.len() - 1))
    }

    /// Every interval between two trials that lie `steps` apart, from the lowest up.
    fn intervals(&self, steps: usize) -> impl Iterator<Item = CoverageInterval> {
        self.sorted
            .iter()
            .zip(self.sorted.iter().skip(steps))
            .map(|(&low, &high)| CoverageInterval { low, high })
    }
}

/// Draws the inputs from their distributions and runs the model on each draw.
///
/// A Type B input is drawn from its named distribution, a Type A or combined one from Student's t with its degrees of
/// freedom, scaled by u (normal where they are infinite): `[JCGM101]`, 6.4. The same seed gives the same result on every
/// machine. The model and `correlation` are as for [`super::propagate`].
///
/// # Errors
/// [`MeasuredError`]: as [`super::propagate`] for the correlation; [`MeasuredError::CorrelatedNotNormal`];
/// [`MeasuredError::Trials`] below 100 or above ten million; [`MeasuredError::Trial`] where the model's value is not finite.
///
/// ```
/// use casetight::measured::{Distribution, Measured, monte_carlo};
///
/// // Four like rectangular parts, each of standard uncertainty 1.
/// let part = Measured::from_half_width(0.0, 3.0_f64.sqrt(), Distribution::Rectangular)?;
/// let parts = [part.input("a"), part.input("b"), part.input("c"), part.input("d")];
/// let sum = monte_carlo(&parts, None, 20_000, 1, |[a, b, c, d]| a + b + c + d)?;
/// assert!((sum.standard_uncertainty() - 2.0).abs() < 0.05);
/// let interval = sum.symmetric_interval(0.95)?;
/// assert!((interval.high - 3.88).abs() < 0.1);
/// # Ok::<(), casetight::measured::MeasuredError>(())
/// ```
pub fn monte_carlo<const N: usize>(
    inputs: &[Input; N],
    correlation: Option<&[f64]>,
    trials: usize,
    seed: u64,
    model: impl Fn([Dual; N]) -> Dual,
) -> Result<MonteCarlo, MeasuredError> {
    monte_carlo_slice(inputs, correlation, trials, seed, |x| {
        // Of the inputs' length by construction; a NaN would be reported as such.
        <[Dual; N]>::try_from(x).map_or(f64::NAN.into(), &model)
    })
}

/// As [`monte_carlo`], for a number of inputs known only when it runs.
///
/// # Errors
/// As [`monte_carlo`].
pub fn monte_carlo_slice(
    inputs: &[Input],
    correlation: Option<&[f64]>,
    trials: usize,
    seed: u64,
    model: impl Fn(&[Dual]) -> Dual,
) -> Result<MonteCarlo, MeasuredError> {
    if !(LEAST_TRIALS..=MOST_TRIALS).contains(&trials) {
        return Err(MeasuredError::Trials {
            got: trials,
            least: LEAST_TRIALS,
            most: MOST_TRIALS,
        });
    }
    let draws = Draws::new(inputs, correlation)?;
    let mut rng = ChaCha12Rng::seed_from_u64(seed);
    let mut point: Vec<Dual> = Vec::with_capacity(inputs.len());
    let mut sorted = Vec::with_capacity(trials);
    for trial in 0..trials {
        draws.draw(&mut rng, &mut point);
        let got = model(&point).re;
        if !got.is_finite() {
            return Err(MeasuredError::Trial { trial, got });
        }
        sorted.push(got);
    }
    sorted.sort_unstable_by(f64::total_cmp);
    let (mean, standard_uncertainty) = mean_and_deviation(sorted.iter().copied());
    Ok(MonteCarlo {
        sorted,
        mean,
        standard_uncertainty,
    })
}

/// What one input's deviation in units of its standard uncertainty is drawn from.
#[derive(Debug, Clone, Copy)]
enum Shape {
    Normal,
    StudentT(StudentT<f64>),
    Rectangular,
    Triangular,
    Arcsine,
}

impl Shape {
    fn of(input: &Input) -> Result<Self, MeasuredError> {
        Ok(match input.evaluation {
            Evaluation::TypeB(Distribution::Normal) => Self::Normal,
            Evaluation::TypeB(Distribution::Rectangular) => Self::Rectangular,
            Evaluation::TypeB(Distribution::Triangular) => Self::Triangular,
            Evaluation::TypeB(Distribution::Arcsine) => Self::Arcsine,
            Evaluation::TypeA | Evaluation::Combined => {
                let got = input.degrees_of_freedom;
                if got.is_finite() {
                    let t = StudentT::new(got);
                    Self::StudentT(t.map_err(|_| MeasuredError::DegreesOfFreedom { got })?)
                } else {
                    Self::Normal
                }
            }
        })
    }

    /// A deviation of standard uncertainty 1 (`[JCGM101]`, 6.4), `normal` being this input's standard normal draw.
    fn deviation(self, rng: &mut ChaCha12Rng, normal: f64) -> f64 {
        match self {
            Self::Normal => normal,
            Self::StudentT(t) => t.sample(rng),
            Self::Rectangular => 3.0_f64.sqrt() * (2.0 * rng.random::<f64>() - 1.0),
            Self::Triangular => 6.0_f64.sqrt() * (rng.random::<f64>() + rng.random::<f64>() - 1.0),
            Self::Arcsine => std::f64::consts::SQRT_2 * (TAU * rng.random::<f64>()).sin(),
        }
    }
}

/// The inputs made ready to be drawn.
struct Draws<'a> {
    inputs: Vec<(&'a Input, Shape)>,
    /// L with L L' = R, where inputs are correlated.
    root: Option<DMatrix<f64>>,
}

impl<'a> Draws<'a> {
    fn new(inputs: &'a [Input], correlation: Option<&[f64]>) -> Result<Self, MeasuredError> {
        let matrix = correlation_matrix(inputs, correlation)?;
        let inputs = inputs
            .iter()
            .map(|input| Ok((input, Shape::of(input)?)))
            .collect::<Result<Vec<_>, MeasuredError>>()?;
        for ((input, shape), row) in inputs.iter().zip(matrix.row_iter()) {
            // The 1 on the diagonal is always there.
            let correlated = row.iter().filter(|&&r| r != 0.0).count() > 1;
            if correlated && !matches!(shape, Shape::Normal) {
                return Err(MeasuredError::CorrelatedNotNormal {
                    input: input.name.clone(),
                });
            }
        }
        // By eigenvalues, since fully correlated inputs have a singular matrix, which Cholesky's method refuses.
        let root = correlation.map(|_| {
            let eigen = matrix.symmetric_eigen();
            let scales = eigen.eigenvalues.map(|value| value.max(0.0).sqrt());
            eigen.eigenvectors * DMatrix::from_diagonal(&scales)
        });
        Ok(Self { inputs, root })
    }

    fn draw(&self, rng: &mut ChaCha12Rng, point: &mut Vec<Dual>) {
        let mut normal = DVector::from_fn(self.inputs.len(), |_, _| StandardNormal.sample(rng));
        if let Some(root) = &self.root {
            normal = root * normal;
        }
        point.clear();
        for (&(input, shape), &normal) in self.inputs.iter().zip(normal.iter()) {
            let deviation = shape.deviation(rng, normal);
            point.push((input.value + input.standard_uncertainty * deviation).into());
        }
    }
}
