//! Many tests of one machine: does the leak grow?

use super::test::{Known, Shared, Test};
use super::{CompareError, check_level};
use casetight::below::numerics::{probability, root};
use casetight::estimate::Estimate;

/// Tests that must tell the size to both sides before a trend and the scatter about it can be told apart.
const LEAST_TESTS: usize = 3;
/// Days that a growth is told for.
const DAYS: f64 = 30.0;
/// Standard deviation of the scatter from test to test, on the logarithm: from none to e.
const SCATTER_LN: (f64, f64) = (-9.0, 1.0);
/// Places that the scatter is first looked for at.
const SCATTER_PLACES: u32 = 12;
/// Steps of a search by golden section: each leaves 0.618 of the range.
const STEPS: usize = 30;
/// Smallest standard uncertainty of ln A, so that a test without any is no division by zero.
const LEAST_UNCERTAINTY: f64 = 1e-6;
/// How far the line at its middle may lie from the tests, and the slope from the steepest pair's, in ln A.
const ROOM: f64 = 3.0;
/// Places and reach of the sum over the scatter, in its standard deviations.
const SUM_PLACES: i32 = 24;
const SUM_REACH: f64 = 6.0;

/// What time is counted in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Unit {
    /// Days; a growth is told for thirty of them.
    Days,
    /// Tests in their order; a growth is told from one to the next.
    Tests,
}

impl Unit {
    fn span(self) -> f64 {
        match self {
            Self::Days => DAYS,
            Self::Tests => 1.0,
        }
    }
}

/// A test and its place in time.
#[derive(Debug, Clone, PartialEq)]
pub struct TrendPoint {
    /// When, in the trend's unit.
    pub at: f64,
    /// What it told.
    pub test: Test,
}

/// What the leak does over time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Course {
    /// It grows: the whole interval of the growth lies above one.
    Grows,
    /// It shrinks.
    Shrinks,
    /// The tests don't tell.
    NotTold,
}

/// The course of a leak over many tests.
#[derive(Debug, Clone, PartialEq)]
pub struct Trend {
    /// What time is counted in.
    pub unit: Unit,
    /// Factor by which the leak grows in thirty days, or from test to test; none where too few tests tell its size.
    pub growth: Option<Estimate<f64>>,
    /// Standard deviation of ln A from test to test about the trend, beyond what the readings explain \[1\].
    pub scatter: f64,
    /// Best area \[m2\] on the trend at each test.
    pub fitted_m2: Vec<f64>,
    /// How often tests of a leak that neither grows nor shrinks would show such a trend or a stronger one, either way.
    pub p_value: f64,
    /// What the leak does.
    pub course: Course,
    /// How many tests there are.
    pub tests: usize,
    /// How many of them tell the leak's size to both sides.
    pub two_sided: usize,
}

/// The trend of a leak over tests, each at its place in time, with an interval of the growth at this level.
///
/// The model is `ln A_i = a + b t_i + e_i`, where e is a scatter of the standard deviation tau from test to test (what
/// reassembly, oil and the day make of a leak) that the tests themselves tell. A test that was measured to both sides has
/// the likelihood of a normal ln A about its value, with its own uncertainty beside tau. A leak that can't be told from
/// none has that of its area, normal about its best value, averaged over the scatter: any leak far below its upper end
/// explains it equally well. A lower bound has the probability of lying below the line. So bounds pull only where the line
/// would leave them.
///
/// b is where the likelihood is largest over a and tau, and its interval where the likelihood's profile has dropped by
/// `2 ln(L_max/L) = n ln(1 + t^2/(n - 2))`, t being Student's quantile for n - 2 degrees of freedom and n the number of
/// tests measured to both sides. For a line through tests of one unknown scatter this is the usual interval of least squares
/// to the digit; where the readings' own uncertainties rule it is wider than need be, as few tests can't tell which of the
/// two it is. Coverage: `docs/src/compare.md`.
///
/// What all tests share ([`Shared`]) moves the whole line and not its slope, and is left out.
///
/// # Errors
/// [`CompareError::Level`]; [`CompareError::TooFewTests`]; [`CompareError::Position`]; [`CompareError::OneDate`];
/// [`CompareError::VolumeRatio`].
pub fn trend(
    points: &[TrendPoint],
    unit: Unit,
    shared: &Shared,
    level: f64,
) -> Result<Trend, CompareError> {
    let level = check_level(level)?;
    let tests = points.len();
    if tests < LEAST_TESTS {
        return Err(CompareError::TooFewTests { got: tests });
    }
    if let Some((index, point)) = (1..).zip(points).find(|(_, p)| !p.at.is_finite()) {
        return Err(CompareError::Position {
            index,
            got: point.at,
        });
    }
    let model = Model::new(points, unit, shared)?;
    let two_sided = model.two_sided();
    if two_sided < LEAST_TESTS {
        return Ok(Trend::not_told(unit, tests, two_sided));
    }
    let steepest = model.steepest().ok_or(CompareError::OneDate)?;
    let best = model.best(steepest);
    let n = two_sided as f64;
    let freedom = n - 2.0;
    let t = probability::student_t_quantile(0.5 + level / 2.0, freedom);
    let drop = n * (t * t / freedom).ln_1p();
    let end = |towards: f64| model.slope_at_drop(&best, (towards, steepest), drop);
    let (low, high) = (end(-1.0), end(1.0));
    let flat = best.drop_to(model.profile(0.0).ln_likelihood);
    let t_of_flat = (freedom * (flat / n).exp_m1()).sqrt();
    let course = if low > 0.0 {
        Course::Grows
    } else if high < 0.0 {
        Course::Shrinks
    } else {
        Course::NotTold
    };
    Ok(Trend {
        unit,
        growth: Some(Estimate::of_size(
            best.slope.exp(),
            low.exp(),
            high.exp(),
            level,
        )),
        scatter: best.scatter,
        fitted_m2: model
            .places
            .iter()
            .map(|place| (best.middle + best.slope * place.at).exp())
            .collect(),
        p_value: (2.0 * probability::student_t_sf(t_of_flat, freedom)).min(1.0),
        course,
        tests,
        two_sided,
    })
}

impl Trend {
    /// Of too few tests that tell the leak's size to both sides.
    fn not_told(unit: Unit, tests: usize, two_sided: usize) -> Self {
        Self {
            unit,
            growth: None,
            scatter: f64::NAN,
            fitted_m2: vec![f64::NAN; tests],
            p_value: 1.0,
            course: Course::NotTold,
            tests,
            two_sided,
        }
    }
}

/// A test as the likelihood sees it.
enum Tells {
    /// ln A, and its standard uncertainties downward and upward.
    Both { ln_area: f64, down: f64, up: f64 },
    /// A, and its standard uncertainty.
    AtMost { area: f64, uncertainty: f64 },
    /// ln of the bound, and its standard uncertainty.
    AtLeast { ln_bound: f64, uncertainty: f64 },
    /// A bound that a leak of nothing explains.
    Nothing,
}

struct Place {
    /// From the mean, in spans.
    at: f64,
    tells: Tells,
}

struct Model {
    places: Vec<Place>,
}

/// The line of largest likelihood for a slope.
#[derive(Clone, Copy)]
struct Line {
    slope: f64,
    middle: f64,
    scatter: f64,
    ln_likelihood: f64,
}

impl Line {
    /// Twice the drop of the log-likelihood from this line to another.
    fn drop_to(&self, ln_likelihood: f64) -> f64 {
        (2.0 * (self.ln_likelihood - ln_likelihood)).max(0.0)
    }
}

impl Model {
    fn new(points: &[TrendPoint], unit: Unit, shared: &Shared) -> Result<Self, CompareError> {
        let (mut sum, mut count) = (0.0, 0.0);
        let mut gauge = [0.0; 2];
        for point in points.iter().filter(|p| p.test.known() == Known::Both) {
            sum += point.at;
            count += 1.0;
            for (mean, one) in gauge
                .iter_mut()
                .zip(point.test.held().map_or([0.0; 2], |held| held.answers))
            {
                *mean += one;
            }
        }
        let count = f64::max(count, 1.0);
        let gauge = gauge.map(|sum| sum / count);
        let places = points
            .iter()
            .map(|point| {
                Ok(Place {
                    at: (point.at - sum / count) / unit.span(),
                    tells: Tells::of(&point.test, shared, gauge)?,
                })
            })
            .collect::<Result<_, CompareError>>()?;
        Ok(Self { places })
    }

    fn two_sided(&self) -> usize {
        self.places
            .iter()
            .filter(|p| matches!(p.tells, Tells::Both { .. }))
            .count()
    }

    /// Times and ln A of the tests measured to both sides.
    fn measured(&self) -> impl Iterator<Item = (f64, f64)> {
        self.places.iter().filter_map(|p| match p.tells {
            Tells::Both { ln_area, .. } => Some((p.at, ln_area)),
            _ => None,
        })
    }

    /// A slope steeper than any that two tests could have; none where no time passes.
    fn steepest(&self) -> Option<f64> {
        let span = |values: &mut dyn Iterator<Item = f64>| {
            let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| {
                (l.min(v), h.max(v))
            });
            high - low
        };
        let time = span(&mut self.measured().map(|m| m.0));
        let size = span(&mut self.measured().map(|m| m.1));
        (time > 0.0).then(|| (size + 1.0) / time * ROOM)
    }

    fn best(&self, steepest: f64) -> Line {
        let slope = golden(-steepest, steepest, 2 * STEPS, |b| {
            self.profile(b).ln_likelihood
        });
        self.profile(slope)
    }

    /// The best line of a slope.
    fn profile(&self, slope: f64) -> Line {
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for (at, ln_area) in self.measured() {
            let middle = ln_area - slope * at;
            (low, high) = (low.min(middle), high.max(middle));
        }
        let middle_at = |scatter: f64| {
            golden(low - ROOM, high + ROOM, STEPS, |a| {
                self.ln_likelihood(slope, a, scatter)
            })
        };
        let of = |ln_scatter: f64| {
            let scatter = ln_scatter.exp();
            self.ln_likelihood(slope, middle_at(scatter), scatter)
        };
        let step = (SCATTER_LN.1 - SCATTER_LN.0) / f64::from(SCATTER_PLACES);
        let start = (0..=SCATTER_PLACES)
            .map(|n| SCATTER_LN.0 + f64::from(n) * step)
            .map(|ln| (ln, of(ln)))
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .map_or(SCATTER_LN.0, |best| best.0);
        let ln_scatter = golden(
            (start - step).max(SCATTER_LN.0),
            (start + step).min(SCATTER_LN.1),
            STEPS / 2,
            of,
        );
        let scatter = ln_scatter.exp();
        let middle = middle_at(scatter);
        Line {
            slope,
            middle,
            scatter,
            ln_likelihood: self.ln_likelihood(slope, middle, scatter),
        }
    }

    /// The slope `towards` lower (-1) or higher (1) ones at which the profile has dropped by so much; infinite where it never does.
    fn slope_at_drop(&self, best: &Line, (towards, steepest): (f64, f64), drop: f64) -> f64 {
        let excess = |b: f64| best.drop_to(self.profile(b).ln_likelihood) - drop;
        let mut step = (towards * steepest * 0.05).abs().max(1e-6);
        let mut inside = best.slope;
        for _ in 0..60 {
            let outside = best.slope + towards * step;
            if excess(outside) > 0.0 {
                return root::newton_bracketed(inside, outside, 1 << 30, |b| (excess(b), f64::NAN))
                    .unwrap_or(outside);
            }
            inside = outside;
            step *= 1.7;
        }
        towards * f64::INFINITY
    }

    fn ln_likelihood(&self, slope: f64, middle: f64, scatter: f64) -> f64 {
        self.places
            .iter()
            .map(|p| p.tells.ln_likelihood(middle + slope * p.at, scatter))
            .sum()
    }
}

impl Tells {
    fn of(test: &Test, shared: &Shared, mean_gauge: [f64; 2]) -> Result<Self, CompareError> {
        let held = test.held().filter(|_| shared.gauge);
        let size = held.map_or(test.by_readings(), |held| held.area);
        let z = probability::normal_quantile(0.5 + size.level / 2.0);
        // Beside the mean of all, which moves the whole line, each test has a share of its own.
        let mut sum = test.temperature().powi(2);
        if !shared.has_volume() {
            sum += test.volume().powi(2);
        }
        if let super::SharedVolume::InPart { ratio_uncertainty } = shared.volume {
            if !(ratio_uncertainty.is_finite() && ratio_uncertainty >= 0.0) {
                return Err(CompareError::VolumeRatio {
                    got: ratio_uncertainty,
                });
            }
            // Half of a ratio's variance belongs to each of the two.
            sum += 0.5 * ratio_uncertainty.powi(2);
        }
        if let Some(held) = held {
            let beside = held.answers.iter().zip(mean_gauge);
            sum += beside.map(|(one, mean)| (one - mean).powi(2)).sum::<f64>();
        }
        let size = size.widened(sum.sqrt()).si();
        Ok(Self::of_size(&size, test.known(), z))
    }

    fn of_size(size: &Estimate<f64>, known: Known, z: f64) -> Self {
        let uncertainty = |ln: f64| (ln / z).max(LEAST_UNCERTAINTY);
        match known {
            Known::Both => Self::Both {
                ln_area: size.value.ln(),
                down: uncertainty((size.value / size.low).ln()),
                up: uncertainty((size.high / size.value).ln()),
            },
            Known::AtMost => Self::AtMost {
                area: size.value,
                uncertainty: (size.high - size.value) / z,
            },
            Known::AtLeast if size.low > 0.0 => Self::AtLeast {
                ln_bound: size.value.ln(),
                uncertainty: uncertainty((size.value / size.low).ln()),
            },
            Known::AtLeast => Self::Nothing,
        }
    }

    /// ln of the likelihood of what was read, for a line that lies at `ln_area` here.
    fn ln_likelihood(&self, line: f64, scatter: f64) -> f64 {
        match *self {
            Self::Both { ln_area, down, up } => {
                let off = line - ln_area;
                let own = if off > 0.0 { up } else { down };
                let spread = f64::midpoint(down, up).hypot(scatter);
                -0.5 * off * off / (own * own + scatter * scatter) - spread.ln()
            }
            Self::AtMost { area, uncertainty } => {
                let step = SUM_REACH / f64::from(SUM_PLACES);
                let sum: f64 = (-SUM_PLACES..=SUM_PLACES)
                    .map(|n| {
                        let deviate = f64::from(n) * step;
                        let off = ((line + scatter * deviate).exp() - area) / uncertainty;
                        (-0.5 * (deviate * deviate + off * off)).exp()
                    })
                    .sum();
                // Where the line lies far above the bound every term is nothing; the nearest tells how far.
                if sum > 0.0 {
                    (sum * step).ln()
                } else {
                    let off = (line.exp() - area) / uncertainty;
                    -0.5 * (off * off).min(1e12) - 700.0
                }
            }
            Self::AtLeast {
                ln_bound,
                uncertainty,
            } => probability::ln_normal_cdf((line - ln_bound) / uncertainty.hypot(scatter)),
            Self::Nothing => 0.0,
        }
    }
}

/// Where a function with one hump between two places is largest.
fn golden(mut low: f64, mut high: f64, steps: usize, f: impl Fn(f64) -> f64) -> f64 {
    const RATIO: f64 = 0.618_033_988_749_894_9;
    let mut inner = [high - RATIO * (high - low), low + RATIO * (high - low)];
    let mut at = inner.map(&f);
    for _ in 0..steps {
        if at[0] >= at[1] {
            high = inner[1];
            inner = [high - RATIO * (high - low), inner[0]];
            at = [f(inner[0]), at[0]];
        } else {
            low = inner[0];
            inner = [inner[1], low + RATIO * (high - low)];
            at = [at[1], f(inner[1])];
        }
    }
    f64::midpoint(low, high)
}
