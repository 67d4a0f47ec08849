//! What a gauge shows: the step of its readings, its noise, its accuracy class, and the stopwatch beside it.
//!
//! A reading r of a true gauge pressure g is modeled as r = (1 + a) g + b + noise, rounded to the gauge's step h. Noise
//! and rounding differ from reading to reading; the scale error a and the offset b are shared by all readings of a
//! gauge, do not show in the scatter, and have priors from the accuracy class.

use uom::si::pressure::pascal;
use uom::si::time::second;

use crate::numerics::probability;
use crate::quantity::{GaugePressure, KILOPASCAL, Pressure, Time, Unit, pressure_in};

/// Noise of a dial read by eye, as a part of its readable step (common practice, no source): a reader who takes a
/// pressure to the nearest quarter division is right about the quarter except near the middle between two.
const DIAL_NOISE_OF_STEP: f64 = 0.1;

/// Noise of a digital gauge that states none, as a part of its resolution (common practice, no source).
const DIGITAL_NOISE_OF_STEP: f64 = 0.5;

/// Standard uncertainty of the moment at which a dial is read against a stopwatch (common practice, no source).
const STOPWATCH_SECONDS: f64 = 0.15;

/// With less noise than this part of a step, readings stick to steps and rounding no longer acts like noise: the
/// characteristic function of the noise at the step's frequency, exp(-2 pi^2 0.5^2) = 0.7 %, is what is then neglected.
pub(crate) const COARSE_BELOW: f64 = 0.5;

/// Accuracy class after EN 837-1: the largest permitted error is `class` percent of the span, at every reading.
///
/// Source: `[EN837]`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AccuracyClass {
    /// Percent of span: 0.1, 0.25, 0.6, 1, 1.6, 2.5 or 4 in EN 837-1; any number above zero and up to 20 is taken.
    pub class: f64,
    /// The span of the scale, from its lowest to its highest mark.
    pub span: Pressure,
}

/// A gauge as its readings see it.
///
/// ```
/// use casetight::gauge::{AccuracyClass, Gauge};
/// use casetight::quantity::Pressure;
/// use uom::si::pressure::{kilopascal, pascal, pound_force_per_square_inch};
///
/// // A dial with a mark each half psi, read to a quarter of a division, class 1.6, 0 to 100 kPa.
/// let division = Pressure::new::<pound_force_per_square_inch>(0.5);
/// let gauge = Gauge::dial(division, division / 4.0)?
///     .with_accuracy_class(AccuracyClass { class: 1.6, span: Pressure::new::<kilopascal>(100.0) })?;
/// assert!(gauge.is_coarse());
/// assert!((gauge.offset_uncertainty().get::<pascal>() - 653.2).abs() < 0.1);
/// # Ok::<(), casetight::gauge::GaugeError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gauge {
    step: f64,
    noise: f64,
    accuracy: Option<AccuracyClass>,
    stopwatch: f64,
}

/// What can be wrong with a gauge.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum GaugeError {
    /// A step (resolution, division, readable) must be finite and above zero.
    #[error("{}", step(what, *got, &KILOPASCAL))]
    Step {
        /// Which one.
        what: &'static str,
        /// What was given, in pascals.
        got: f64,
    },
    /// A gauge can't be read finer than it is readable.
    #[error("{}", readable_beyond(*readable, *division, &KILOPASCAL))]
    ReadableBeyondDivision {
        /// In pascals.
        readable: f64,
        /// In pascals.
        division: f64,
    },
    /// Noise must be finite and not below zero.
    #[error("{}", noise(*got, &KILOPASCAL))]
    Noise {
        /// What was given, in pascals.
        got: f64,
    },
    /// The accuracy class is a percentage above 0 and up to 20, the span finite and above zero.
    #[error("{}", accuracy(*class, *span, &KILOPASCAL))]
    AccuracyClass {
        /// In percent.
        class: f64,
        /// In pascals.
        span: f64,
    },
    /// The stopwatch uncertainty must be finite and not below zero.
    #[error("stopwatch uncertainty is {got} s; it must be finite and not below zero")]
    Stopwatch {
        /// In seconds.
        got: f64,
    },
}

impl GaugeError {
    /// The message with its pressures in the unit that the gauge shows.
    #[must_use]
    pub fn words(&self, unit: &Unit) -> String {
        match self {
            Self::Step { what, got } => step(what, *got, unit),
            Self::ReadableBeyondDivision { readable, division } => {
                readable_beyond(*readable, *division, unit)
            }
            Self::Noise { got } => noise(*got, unit),
            Self::AccuracyClass { class, span } => accuracy(*class, *span, unit),
            other @ Self::Stopwatch { .. } => other.to_string(),
        }
    }
}

fn step(what: &str, got: f64, unit: &Unit) -> String {
    format!(
        "{what} of the gauge is {}; it must be finite and above zero",
        pressure_in(unit, got)
    )
}

fn readable_beyond(readable: f64, division: f64, unit: &Unit) -> String {
    format!(
        "the readable step of {} is larger than the division of {}",
        pressure_in(unit, readable),
        pressure_in(unit, division)
    )
}

fn noise(got: f64, unit: &Unit) -> String {
    format!(
        "noise of the gauge is {}; it must be finite and not below zero",
        pressure_in(unit, got)
    )
}

fn accuracy(class: f64, span: f64, unit: &Unit) -> String {
    format!(
        "accuracy class {class} % of a span of {}; the class must lie above 0 and up to 20, the span above zero",
        pressure_in(unit, span)
    )
}

impl Gauge {
    /// A dial read by eye: `division` between marks, `readable` the smallest step that is read between them. Its noise
    /// is taken as a tenth of the readable step and its stopwatch as good to 0.15 s unless stated otherwise.
    ///
    /// # Errors
    /// [`GaugeError::Step`], [`GaugeError::ReadableBeyondDivision`].
    pub fn dial(division: Pressure, readable: Pressure) -> Result<Self, GaugeError> {
        let division = check_step("the division", division)?;
        let step = check_step("the readable step", readable)?;
        // A quarter of a division written in another unit may round a hair above itself.
        if step > division * (1.0 + 1e-9) {
            return Err(GaugeError::ReadableBeyondDivision {
                readable: step,
                division,
            });
        }
        Ok(Self {
            step,
            noise: DIAL_NOISE_OF_STEP * step,
            accuracy: None,
            stopwatch: STOPWATCH_SECONDS,
        })
    }

    /// A digital gauge: `resolution` of its display. Its noise is taken as half the resolution unless stated otherwise,
    /// and its times as exact (a logger's).
    ///
    /// # Errors
    /// [`GaugeError::Step`].
    pub fn digital(resolution: Pressure) -> Result<Self, GaugeError> {
        let step = check_step("the resolution", resolution)?;
        Ok(Self {
            step,
            noise: DIGITAL_NOISE_OF_STEP * step,
            accuracy: None,
            stopwatch: 0.0,
        })
    }

    /// The same gauge with a stated noise: the standard deviation of a reading before rounding.
    ///
    /// # Errors
    /// [`GaugeError::Noise`].
    pub fn with_noise(self, noise: Pressure) -> Result<Self, GaugeError> {
        let noise = noise.get::<pascal>();
        if noise.is_finite() && noise >= 0.0 {
            Ok(Self { noise, ..self })
        } else {
            Err(GaugeError::Noise { got: noise })
        }
    }

    /// The same gauge with an accuracy class.
    ///
    /// # Errors
    /// [`GaugeError::AccuracyClass`].
    pub fn with_accuracy_class(self, accuracy: AccuracyClass) -> Result<Self, GaugeError> {
        let (class, span) = (accuracy.class, accuracy.span.get::<pascal>());
        if class > 0.0 && class <= 20.0 && span.is_finite() && span > 0.0 {
            Ok(Self {
                accuracy: Some(accuracy),
                ..self
            })
        } else {
            Err(GaugeError::AccuracyClass { class, span })
        }
    }

    /// The same gauge taken at its word: neither offset nor scale is wrong.
    #[must_use]
    pub fn without_accuracy_class(self) -> Self {
        Self {
            accuracy: None,
            ..self
        }
    }

    /// The same gauge with a stated standard uncertainty of the moment of each reading.
    ///
    /// # Errors
    /// [`GaugeError::Stopwatch`].
    pub fn with_stopwatch(self, uncertainty: Time) -> Result<Self, GaugeError> {
        let stopwatch = uncertainty.get::<second>();
        if stopwatch.is_finite() && stopwatch >= 0.0 {
            Ok(Self { stopwatch, ..self })
        } else {
            Err(GaugeError::Stopwatch { got: stopwatch })
        }
    }

    /// The smallest change that a reading can show.
    #[must_use]
    pub fn step(&self) -> Pressure {
        Pressure::new::<pascal>(self.step)
    }

    /// Standard deviation of a reading's noise before rounding.
    #[must_use]
    pub fn noise(&self) -> Pressure {
        Pressure::new::<pascal>(self.noise)
    }

    /// The accuracy class, where one is stated.
    #[must_use]
    pub fn accuracy_class(&self) -> Option<AccuracyClass> {
        self.accuracy
    }

    /// Standard uncertainty of the moment of each reading.
    #[must_use]
    pub fn stopwatch(&self) -> Time {
        Time::new::<second>(self.stopwatch)
    }

    /// Standard uncertainty of the offset b, shared by all readings: the largest permitted error E is taken as
    /// rectangular, E/sqrt(3), and half of its variance is given to the offset, half to the scale at full span.
    /// Zero without an accuracy class. Source: `[JCGM100]` (4.3.7).
    #[must_use]
    pub fn offset_uncertainty(&self) -> Pressure {
        self.accuracy.map_or(Pressure::new::<pascal>(0.0), |a| {
            a.span * (a.class / 100.0 / 6.0_f64.sqrt())
        })
    }

    /// Standard uncertainty of the relative scale error a; the other half of the variance, see
    /// [`Gauge::offset_uncertainty`].
    #[must_use]
    pub fn scale_uncertainty(&self) -> f64 {
        self.accuracy
            .map_or(0.0, |a| a.class / 100.0 / 6.0_f64.sqrt())
    }

    /// The gauge's own error of the difference of two readings, as large as it gets: a step, since each is rounded by up to half of one,
    /// two standard deviations of the difference's noise, and twice the scale's standard uncertainty of a fall. Source: derived.
    #[must_use]
    pub fn error_of_fall(&self, fall: Pressure) -> Pressure {
        let noise = 2.0 * 2.0_f64.sqrt() * self.noise;
        let scale = 2.0 * self.scale_uncertainty() * fall.get::<pascal>();
        Pressure::new::<pascal>(self.step + noise + scale)
    }

    /// Whether readings stick to steps: the noise is below half a step, so that rounding can't pass for noise and the
    /// interval likelihood is needed.
    #[must_use]
    pub fn is_coarse(&self) -> bool {
        self.noise < COARSE_BELOW * self.step
    }

    /// What the gauge shows for a pressure that it feels as this: rounded to the nearest step.
    #[must_use]
    pub fn rounded(&self, felt: GaugePressure) -> GaugePressure {
        GaugePressure::from_pascals((felt.pascals() / self.step).round() * self.step)
            .unwrap_or(felt)
    }

    /// Log-likelihood of a reading given the pressure that the gauge feels (offset and scale included), as the
    /// probability that noise and rounding lead there:
    /// ln(Phi((r + h/2 - g)/sigma) - Phi((r - h/2 - g)/sigma)).
    #[must_use]
    pub fn ln_likelihood(&self, reading: GaugePressure, felt: GaugePressure) -> f64 {
        ln_interval_likelihood(reading.pascals() - felt.pascals(), self.step, self.noise)
    }

    /// Standard uncertainty of a reading from noise and rounding, sqrt(sigma^2 + h^2/12).
    #[must_use]
    pub fn reading_uncertainty(&self) -> Pressure {
        Pressure::new::<pascal>(self.noise.hypot(self.step / 12.0_f64.sqrt()))
    }
}

/// Standard deviations of noise within which a reading surely (to 1e-13) stays on its step.
const SURELY: f64 = 7.5;

/// The probability's logarithm that noise of `sigma` and rounding to steps of `step` take a felt pressure to the reading
/// that differs from it by `difference` \[Pa\].
pub(crate) fn ln_interval_likelihood(difference: f64, step: f64, sigma: f64) -> f64 {
    let half = step / 2.0;
    if sigma > 0.0 && half - difference.abs() > SURELY * sigma {
        0.0
    } else if sigma > 0.0 {
        probability::ln_normal_interval((difference - half) / sigma, (difference + half) / sigma)
    } else if difference.abs() <= half {
        0.0
    } else {
        f64::NEG_INFINITY
    }
}

/// The derivative of [`ln_interval_likelihood`] by the difference \[1/Pa\], for a gauge with noise.
pub(crate) fn ln_interval_slope(difference: f64, step: f64, sigma: f64) -> f64 {
    let ln = ln_interval_likelihood(difference, step, sigma);
    let density = |edge: f64| {
        let z = (difference + edge) / sigma;
        (-0.5 * z * z - ln).exp() / (sigma * (2.0 * std::f64::consts::PI).sqrt())
    };
    density(step / 2.0) - density(-step / 2.0)
}

fn check_step(what: &'static str, step: Pressure) -> Result<f64, GaugeError> {
    let got = step.get::<pascal>();
    if got.is_finite() && got > 0.0 {
        Ok(got)
    } else {
        Err(GaugeError::Step { what, got })
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Log-likelihood of a reading with rounding taken as noise of h/sqrt(12), per step h so that the two compare. Source: `[JCGM100]`
    /// (F.2.2.1).
    fn gaussian(gauge: &Gauge, reading: GaugePressure, felt: GaugePressure) -> f64 {
        let sigma = gauge.reading_uncertainty().get::<pascal>();
        let z = (reading.pascals() - felt.pascals()) / sigma;
        -0.5 * z * z + (gauge.step / (sigma * (2.0 * std::f64::consts::PI).sqrt())).ln()
    }

    fn pa(value: f64) -> Pressure {
        Pressure::new::<pascal>(value)
    }

    fn gauge(value: f64) -> GaugePressure {
        GaugePressure::from_pascals(value).unwrap()
    }

    #[test]
    fn a_class_1_6_gauge_of_one_bar() {
        // Published: EN 837-1, class 1.6 permits 1.6 % of span; JCGM 100, 4.3.7: rectangular, u = a/sqrt(3).
        let g = Gauge::digital(pa(100.0))
            .unwrap()
            .with_accuracy_class(AccuracyClass {
                class: 1.6,
                span: pa(1e5),
            })
            .unwrap();
        let at_full_scale = g
            .offset_uncertainty()
            .get::<pascal>()
            .hypot(g.scale_uncertainty() * 1e5);
        assert!((at_full_scale - 1600.0 / 3.0_f64.sqrt()).abs() < 1e-9);
    }

    #[test]
    fn what_no_gauge_has_is_refused() {
        assert!(matches!(
            Gauge::digital(pa(0.0)),
            Err(GaugeError::Step { .. })
        ));
        assert!(matches!(
            Gauge::digital(pa(f64::NAN)),
            Err(GaugeError::Step { .. })
        ));
        assert!(matches!(
            Gauge::dial(pa(100.0), pa(200.0)),
            Err(GaugeError::ReadableBeyondDivision { .. })
        ));
        let g = Gauge::digital(pa(100.0)).unwrap();
        assert!(matches!(
            g.with_noise(pa(-1.0)),
            Err(GaugeError::Noise { .. })
        ));
        assert!(matches!(
            g.with_stopwatch(Time::new::<second>(f64::INFINITY)),
            Err(GaugeError::Stopwatch { .. })
        ));
        for class in [0.0, -1.0, 21.0, f64::NAN] {
            let accuracy = AccuracyClass {
                class,
                span: pa(1e5),
            };
            assert!(matches!(
                g.with_accuracy_class(accuracy),
                Err(GaugeError::AccuracyClass { .. })
            ));
        }
    }

    proptest! {
        #[test]
        fn the_interval_likelihood_has_its_slope(difference in -900.0_f64..900.0, part in 0.1_f64..2.0) {
            let (step, sigma) = (862.0, 862.0 * part);
            let at = |difference: f64| ln_interval_likelihood(difference, step, sigma);
            let by = 1e-3 * sigma;
            let want = (at(difference + by) - at(difference - by)) / (2.0 * by) * sigma;
            let got = ln_interval_slope(difference, step, sigma) * sigma;
            prop_assert!((got - want).abs() < 1e-4 * (1.0 + want.abs()), "{} {}", got, want);
        }

        /// Over all readings that a felt pressure can lead to, the likelihood sums to one. The steps are sixteenths of a pascal, whose multiples
        /// are exact: others leave gaps between the readings' cells, of 7e-12 Pa at 50 kPa.
        #[test]
        fn the_interval_likelihood_is_a_distribution(felt in -5e4_f64..5e4, sixteenths in 160_u32..16_000, part in 0.01_f64..2.0) {
            let step = f64::from(sixteenths) / 16.0;
            let g = Gauge::digital(pa(step)).unwrap().with_noise(pa(part * step)).unwrap();
            let nearest = (felt / step).round();
            let total: f64 = (-40..=40)
                .map(|i| g.ln_likelihood(gauge((nearest + f64::from(i)) * step), gauge(felt)).exp())
                .sum();
            prop_assert!((total - 1.0).abs() < 1e-12, "{total}");
        }

        /// Where the noise is a step or more, rounding passes for noise.
        #[test]
        fn the_gaussian_stands_in_for_a_noisy_gauge(z in -2.0_f64..2.0, part in 1.0_f64..5.0) {
            let step = 100.0;
            let g = Gauge::digital(pa(step)).unwrap().with_noise(pa(part * step)).unwrap();
            let (reading, felt) = (gauge(2000.0), gauge(2000.0 + z * part * step));
            prop_assert!((g.ln_likelihood(reading, felt) - gaussian(&g, reading, felt)).abs() < 0.01);
        }
    }
}
