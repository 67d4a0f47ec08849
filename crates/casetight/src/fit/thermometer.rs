//! A temperature that was logged beside the readings.
//!
//! The gas follows what the thermometer touched: its pressure changes by the part of itself that the temperature changes by, and the
//! leak takes its share of that as of any pressure. How closely it follows is not known, nor is what the thermometer missed: each is
//! an effect of its own ([`super::effects`]), so that the rate is corrected for the course and as wide as the rest leaves it.
//!
//! Takes the course and a fit; gives the effects. Checked by `tests/tests/temperature.rs` on simulated benches.

use super::beside::{Fitted, Sized};
use super::problem::Logged;
use super::terms::{ByTemperature, PartKind};
use crate::readings::{Effects, TemperatureCourse, Touched};

/// How the gas follows what a thermometer touched.
struct Follows {
    /// Time constant with which something between the two follows \[s\], and the relative standard uncertainty of one over it; zero of
    /// nothing.
    between: (f64, f64),
    /// Whether the gas then follows as it follows its wall.
    by_wall: bool,
    /// Relative standard uncertainty of by how much.
    share: f64,
    /// Standard uncertainty of the thermometer's lag \[s\].
    lag: f64,
}

impl Follows {
    /// Common practice, no source: a thermocouple under a strip of foam has a tenth of the room's temperature in it, one in the gas a
    /// tenth of the wall's; of a surface nearby, nobody knows which, twice the change is as unlikely as none.
    fn of(touched: Touched) -> Self {
        let wall = Self {
            between: (0.0, 0.0),
            by_wall: true,
            share: 0.1,
            lag: 10.0,
        };
        match touched {
            Touched::Wall => wall,
            Touched::Gas => Self {
                by_wall: false,
                lag: 3.0,
                ..wall
            },
            Touched::Room => Self {
                between: (Effects::COOLING_SECONDS, Effects::COOLING_UNCERTAINTY),
                ..wall
            },
            Touched::Nearby => Self {
                share: 0.65,
                lag: 30.0,
                ..wall
            },
        }
    }
}

/// A course as the gas follows it beside a fit.
struct Followed<'a> {
    course: &'a TemperatureCourse,
    fit: &'a Fitted<'a>,
    follows: Follows,
    first_s: f64,
    /// Of the gas to its wall \[s\].
    settling: f64,
    kelvins: f64,
}

impl<'a> Followed<'a> {
    fn new(logged: &'a Logged, fit: &'a Fitted<'a>, kelvins: f64) -> Self {
        let heat = fit.shared.heat;
        Self {
            follows: Follows::of(logged.course.touched()),
            settling: heat.map_or(0.0, |heat| heat.ln_settling_time.exp()),
            course: &logged.course,
            first_s: logged.first_s,
            fit,
            kelvins,
        }
    }

    /// When the run starts and its points were read, by the clock of the course \[s\].
    fn times(&self) -> impl Iterator<Item = f64> {
        let points = self
            .fit
            .points
            .iter()
            .map(|point| self.first_s + point.time);
        std::iter::once(self.first_s).chain(points)
    }

    /// What a course of the gas's temperature \[K\], at the start and at the points, moves the needle by \[Pa\].
    fn moved(&self, gas: &[f64]) -> Vec<f64> {
        let Some((first, points)) = gas.split_first() else {
            return Vec::new();
        };
        let parts: Vec<f64> = (points
            .iter()
            .map(|kelvins| (kelvins - first) / self.kelvins))
        .collect();
        self.fit.carried(0.0, &parts, self.fit.hastens)
    }

    /// By the course, where what lies between follows with so long a time constant \[s\].
    fn by_course(&self, between: f64) -> Vec<f64> {
        let own = if self.follows.by_wall {
            self.settling
        } else {
            0.0
        };
        // Two lags in a row are nearly one of their sum where one of them is short.
        self.moved(&self.course.followed(self.times(), between + own))
    }

    /// By a second of the thermometer's lag.
    fn by_lag(&self) -> Vec<f64> {
        let pace: Vec<f64> = self.times().map(|time| self.course.pace(time)).collect();
        self.moved(&pace)
    }
}

/// The effects of a logged temperature beside a fit.
pub(super) fn sized(logged: &Logged, fit: &Fitted<'_>, kelvins: f64) -> Vec<Sized> {
    let followed = Followed::new(logged, fit, kelvins);
    let (constant, of_pace) = followed.follows.between;
    let column = followed.by_course(constant);
    let open = |uncertainty: f64, column: Vec<f64>| Sized {
        kind: PartKind::Thermometer,
        value: 0.0,
        uncertainty,
        column,
    };
    let mut effects = vec![open(followed.follows.lag, followed.by_lag())];
    if of_pace > 0.0 {
        let faster = followed.by_course(constant / (1.0 + of_pace));
        let differs = faster
            .iter()
            .zip(&column)
            .map(|(faster, usual)| faster - usual);
        effects.push(open(1.0, differs.collect()));
    }
    effects.push(Sized {
        value: 1.0,
        ..open(followed.follows.share, column)
    });
    effects
}

/// What a logged temperature makes of the needle's course.
pub(super) fn moves_by(logged: &Logged, fit: &Fitted<'_>, kelvins: f64) -> ByTemperature {
    let followed = Followed::new(logged, fit, kelvins);
    let moves = followed.by_course(followed.follows.between.0);
    ByTemperature {
        touched: logged.course.touched(),
        moves_pa: moves.last().copied().unwrap_or(0.0),
        open_pa: followed.follows.share * moves.iter().fold(0.0, |most, by| by.abs().max(most)),
    }
}
