//! What a bench does of itself, beside the leak.

use uom::si::temperature_interval::kelvin;
use uom::si::time::second;

use crate::measured::{Distribution, Evaluation, Measurable, Measured, MeasuredError};
use crate::quantity::{GaugePressure, Stretch, TemperatureInterval, Time};

/// How what is usual is known.
const USUALLY: Evaluation = Evaluation::TypeB(Distribution::Normal);

/// An effect that no bench has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("{effect} lies outside {range}; is the unit right?")]
pub struct EffectsError {
    /// Which.
    pub effect: &'static str,
    /// What benches have.
    pub range: &'static str,
}

/// What a bench does of itself, as far as it is known: each moves the needle as a leak does, so that no run tells its size. None says
/// that it does not happen.
///
/// ```
/// use casetight::prelude::*;
///
/// // Silicone boots on a long hose, and a gauge that shows a little without pressure.
/// let effects = Effects {
///     zero: Some(Measured::parse("0.3 kPa", "0.1 kPa")?),
///     stretch: Some(Measured::parse("2 %/bar", "1 %/bar")?),
///     ..Effects::none()
/// };
/// # let _ = effects;
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Effects {
    /// What the gauge shows of no pressure.
    pub zero: Option<Measured<GaugePressure>>,
    /// Time constant with which the gauge follows the pressure.
    pub lag: Option<Measured<Time>>,
    /// Growth of the volume under test with the gauge pressure, at once.
    pub stretch: Option<Measured<Stretch>>,
    /// Growth that follows, with the time constant [`Effects::CREEP_SECONDS`] from the last stroke of the pump on.
    pub creep: Option<Measured<Stretch>>,
    /// How much warmer than the room the engine is at the first reading; below zero where it is colder. It comes to room temperature
    /// with the time constant [`Effects::COOLING_SECONDS`].
    pub warmth: Option<Measured<TemperatureInterval>>,
    /// Whether what moves one reading may move the next: a needle that sticks, a hand on the hose. Many readings show it; of few a verdict
    /// allows for it ([`Allowed::probability_for`](crate::limit::Allowed::probability_for)).
    pub sticks: bool,
}

impl Effects {
    /// Time in which most of the creep of rubber under a steady load is done \[s\] (common practice, no source: 10 to 60 s).
    pub const CREEP_SECONDS: f64 = 30.0;

    /// Time constant with which a small engine comes to room temperature \[s\]: one over the mean of 1/tau where tau is as likely in
    /// each octave from 300 to 3000 s (common practice, no source).
    pub const COOLING_SECONDS: f64 = 770.0;

    /// Relative standard uncertainty of one over that time constant.
    pub const COOLING_UNCERTAINTY: f64 = 0.64;

    /// What a bench does that nobody has looked at, as far as it is told from one that does nothing: hose, boots and blanks stretch within
    /// 1.5 % a bar and creep within 0.3 % a bar, the engine is at room temperature within 3 K, each one standard uncertainty (common
    /// practice, no source), and nobody tapped the dial. The gauge's zero is taken to be right, and its lag is none.
    ///
    /// # Errors
    /// None: the numbers are finite.
    pub fn usual() -> Result<Self, MeasuredError> {
        let within = |percent_per_bar: f64| {
            let none = Stretch::spread(0.0);
            Measured::new(none, Stretch::spread(1e-7 * percent_per_bar), USUALLY).map(Some)
        };
        let warmth = [0.0, 3.0].map(TemperatureInterval::new::<kelvin>);
        Ok(Self {
            stretch: within(1.5)?,
            creep: within(0.3)?,
            warmth: Some(Measured::new(warmth[0], warmth[1], USUALLY)?),
            sticks: true,
            ..Self::none()
        })
    }

    /// That each is of a size that a bench has: a slip of the unit falls outside.
    ///
    /// # Errors
    /// [`EffectsError`] for the first that is not.
    pub fn check(&self) -> Result<(), EffectsError> {
        // As a sheet's text is read, so that the ends of a range lie in it.
        let most = 50.0 / 1e7;
        let zero = self.zero.as_ref().map(|m| m.value().pascals());
        let lag = self.lag.as_ref().map(|m| m.value().get::<second>());
        let stretch = self.stretch.as_ref().map(|m| m.value().per_pascal());
        let creep = self.creep.as_ref().map(|m| m.value().per_pascal());
        let warmth = self.warmth.as_ref().map(|m| m.value().get::<kelvin>());
        let each = [
            ("zero", zero, (-20e3, 20e3), "-20 to 20 kPa"),
            ("lag", lag, (0.0, 60.0), "0 to 60 s"),
            ("stretch", stretch, (0.0, most), "0 to 50 %/bar"),
            ("creep", creep, (0.0, most), "0 to 50 %/bar"),
            ("warmth", warmth, (-100.0, 100.0), "-100 to 100 K"),
        ];
        for (effect, size, (low, high), range) in each {
            if size.is_some_and(|size| !(low..=high).contains(&size)) {
                return Err(EffectsError { effect, range });
            }
        }
        Ok(())
    }

    /// Standard uncertainty of how much warmer than the room the engine is, as it moves the needle \[K\].
    pub(crate) fn uncertainty_of_warmth(&self) -> f64 {
        let spread = |warmth: &Measured<TemperatureInterval>| {
            let own = warmth.standard_uncertainty().get::<kelvin>();
            own.hypot(Self::COOLING_UNCERTAINTY * warmth.value().get::<kelvin>())
        };
        self.warmth.as_ref().map_or(0.0, spread)
    }

    /// Whether one of them is known to happen, the gauge's zero apart.
    pub(crate) fn move_the_needle(&self) -> bool {
        fn happens<Q: Measurable>(size: Option<&Measured<Q>>) -> bool {
            size.is_some_and(|size| size.value().si() != 0.0)
        }
        happens(self.lag.as_ref())
            || happens(self.stretch.as_ref())
            || happens(self.creep.as_ref())
            || happens(self.warmth.as_ref())
    }

    /// A bench that does nothing of itself.
    #[must_use]
    pub fn none() -> Self {
        Self::default()
    }
}
