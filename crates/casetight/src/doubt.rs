//! Why a fit is not taken at its word.
//!
//! "Holds" is a claim about safety. A fit may call a needle that fell to the ground one that holds, where settling gas, a
//! stopwatch or a rig are made to explain the fall, and its interval knows nothing of a misread number. So a verdict is held
//! against the readings themselves before it is said: [`of_fit`] asks whether they can be those of one leak on this bench,
//! [`of_needle`] what the needle itself lost, without any model but the limit's own fall. Each [`Doubt`] takes back "holds"; some take
//! back "leaks" too. [`crate::limit::decide`] is the one place that asks.
//!
//! Gas cools after pumping, and the needle falls for it. That may explain a fall only while it can last, only as far as pumping
//! without any loss of heat can have warmed the gas, and only where the needle's fall after that, the gauge's error added, is
//! within the limit by itself.

use uom::si::pressure::pascal;
use uom::si::time::second;

use crate::caution;
use crate::fit::{BeyondReach, Cause, Fit, Misread, Residual, Strain, Unsteady};
use crate::quantity::{Pressure, TradeUnits as _, Unit};
use crate::readings::Bench;
use crate::vessel::reach;
use crate::vessel::{Direction, OrificeShape, Outside, Shape as _};

/// Fewer readings than this after the gas has settled show nothing by themselves.
const SETTLED_READINGS: usize = 3;
/// The settled part is at least this share of the hold.
const SETTLED_SHARE: f64 = 0.5;
/// A needle that rises by more than the gauge's error, and by more than this share of what the limit lets it fall or of its start, the
/// lesser of both, is moved by something that could hide a leak.
const RISE_OF_ALLOWED: f64 = 0.1;
/// See [`RISE_OF_ALLOWED`].
const RISE_OF_START: f64 = 0.02;

/// A leak that is this many times its limit is one whatever the readings' shape says.
pub(crate) const FAR_BEYOND: f64 = 2.0;

/// A reason not to take a fit at its word.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Doubt {
    /// The test started above the caution limit.
    AboveCaution {
        /// The first reading \[Pa\].
        start_pa: f64,
    },
    /// A number of the fit is not finite where it must be.
    NotFinite,
    /// The fit has the start on the other side of zero than the reading.
    WrongSide {
        /// Where \[Pa\].
        start_pa: f64,
    },
    /// The needle lost more than the limit allows.
    NeedleLost {
        /// What it lost from the first reading to the last \[Pa\].
        lost_pa: f64,
        /// What it may lose in that time \[Pa\].
        allowed_pa: f64,
        /// The time \[s\].
        seconds: f64,
        /// Where it came to rest on the way, if it did.
        rest: Option<Rest>,
    },
    /// The needle moved away from zero.
    Rose {
        /// By how much, from the first reading to the last \[Pa\].
        by_pa: f64,
        /// In what time \[s\].
        seconds: f64,
    },
    /// One reading is contradicted by the others, and was left out.
    Misread(Misread),
    /// One reading decides: taken otherwise, it turns the verdict round.
    Turned {
        /// Its place in the run, from one.
        row: usize,
        /// What was noted \[Pa\].
        reading_pa: f64,
        /// What it would be with its decimal point moved \[Pa\]; none where it is left out.
        moved_pa: Option<f64>,
    },
    /// The readings are not those of one leak.
    Misfit {
        /// Probability that readings of one scatter as much, or more.
        probability: f64,
    },
    /// The readings follow a curve that is not that of one steady leak.
    Unsteady(Unsteady),
    /// Something that all readings share would have to lie where it can't.
    Strained(Strain),
    /// Heat between gas and wall counts, and what is usual of it was not made for such a run.
    BeyondReach(BeyondReach),
}

/// A needle that fell and then rested off zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rest {
    /// From when on \[s\], counted from the first reading.
    pub from_s: f64,
    /// Where \[Pa\].
    pub at_pa: f64,
}

impl Doubt {
    /// Whether it takes back that the run leaks, too. The others leave a leak a leak: what they say is that there may be more.
    #[must_use]
    pub(crate) fn forbids_leaks(&self) -> bool {
        matches!(
            self,
            Self::NotFinite
                | Self::WrongSide { .. }
                | Self::Rose { .. }
                | Self::Turned { .. }
                | Self::Misfit { .. }
                | Self::Unsteady(_)
                | Self::BeyondReach(_)
        )
    }

    /// Whether it is that the readings do not look like one steady leak: what leaks far beyond its limit does so all the same.
    #[must_use]
    pub(crate) fn is_of_shape(&self) -> bool {
        matches!(self, Self::Misfit { .. } | Self::Unsteady(_))
    }

    /// Whether it is worth saying beside a verdict that the run leaks, which it does not take back.
    #[must_use]
    pub(crate) fn concerns_leaks(&self) -> bool {
        self.forbids_leaks() || matches!(self, Self::AboveCaution { .. } | Self::Misread(_))
    }

    /// Whether the numbers of the fit are not those of the leak, since the readings are not those of one leak as it has them.
    #[must_use]
    pub fn contradicts_fit(&self) -> bool {
        matches!(
            self,
            Self::NotFinite
                | Self::WrongSide { .. }
                | Self::NeedleLost { .. }
                | Self::Misfit { .. }
                | Self::Unsteady(_)
                | Self::Strained(_)
        )
    }

    /// A name for programs.
    #[must_use]
    pub fn name(&self) -> &'static str {
        match self {
            Self::AboveCaution { .. } => "above_caution",
            Self::NotFinite => "not_finite",
            Self::WrongSide { .. } => "wrong_side",
            Self::NeedleLost { .. } => "needle_lost",
            Self::Rose { .. } => "rose",
            Self::Misread(_) => "misread",
            Self::Turned { .. } => "turned",
            Self::Misfit { .. } => "misfit",
            Self::Unsteady(_) => "unsteady",
            Self::Strained(_) => "strained",
            Self::BeyondReach(_) => "beyond_reach",
        }
    }

    /// The reason in a sentence, pressures in this unit.
    #[must_use]
    pub fn words(&self, unit: &Unit) -> String {
        let shown = |pa: f64| unit.shown(pa, 3);
        match self {
            Self::AboveCaution { start_pa } => format!(
                "The test started at {}, above the usual caution limit of {}: seals can leave their seats or be pressed tight, and \
                 blanks can fly. Is the unit right? Release the pressure, and test again at what the engine maker's manual allows",
                shown(*start_pa),
                shown(caution::pressure_limit().get::<pascal>())
            ),
            Self::NotFinite => {
                "These readings give no finite number for the leak: check the gauge's step, the volume and the times".to_owned()
            }
            Self::WrongSide { start_pa } => format!(
                "The readings and a leak contradict each other: the curve nearest to them starts at {}, on the other side of zero. \
                 Check the readings, the gauge's step and its noise",
                shown(*start_pa)
            ),
            Self::NeedleLost {
                lost_pa,
                allowed_pa,
                seconds,
                rest,
            } => {
                let fell = format!(
                    "The needle lost {} in {seconds:.0} s, where the limit allows {}",
                    shown(*lost_pa),
                    shown(*allowed_pa)
                );
                lost(&fell, rest.as_ref(), unit)
            }
            Self::Rose { by_pa, seconds } => format!(
                "The needle rose by {} in {seconds:.0} s. No leak does that, and what does (gas that warms, a boot that settles, a \
                 gauge that moves) can hide one. Let the temperature settle and hold again",
                shown(*by_pa)
            ),
            Self::Misread(misread) => left_out(misread, unit),
            Self::Turned {
                row,
                reading_pa,
                moved_pa,
            } => turned(*row, *reading_pa, *moved_pa, unit),
            Self::Misfit { probability } => format!(
                "The readings are not those of one leak: they scatter about its curve more than chance brings about once in {}. A misread \
                 number, a disturbed hose, or a gauge that is coarser than stated; look at the residuals",
                if *probability < 1e-6 {
                    "a million runs".to_owned()
                } else {
                    format!("{:.0} runs", 1.0 / probability)
                }
            ),
            Self::Unsteady(unsteady) => format!(
                "The readings don't look like one steady leak: {}",
                caused(unsteady.cause.as_ref(), unit)
            ),
            Self::Strained(strain) => strained(strain),
            Self::BeyondReach(beyond) => beyond_reach(beyond),
        }
    }
}

/// What makes readings unsteady, and what to do.
fn caused(cause: Option<&Cause>, unit: &Unit) -> String {
    match cause {
        Some(Cause::Changed {
            time_s,
            before,
            after,
        }) => format!(
            "it {} at about t = {time_s:.0} s ({} before, {} after). An oil film that moved, a lip that lifted or a joint that gave; \
             hold again",
            if after.si().value > before.si().value {
                "opened"
            } else {
                "closed"
            },
            before.value.trade(),
            after.value.trade()
        ),
        Some(Cause::Drifts { kelvins_per_minute }) => format!(
            "the engine is still {}, by {:.1} K a minute. Let engine and rig come to the room's temperature, and hold again",
            if *kelvins_per_minute > 0.0 {
                "warming"
            } else {
                "cooling"
            },
            kelvins_per_minute.abs()
        ),
        Some(Cause::Zero { off_pa }) => format!(
            "the gauge does not return to zero, and would show {} there. Read it with the rig open, and state what it shows",
            unit.shown(*off_pa, 3)
        ),
        None => "it opened or closed, the engine is still warming or cooling, or the gauge does not return to zero. Hold again for \
                 longer, once nothing moves any more"
            .to_owned(),
    }
}

/// Of a needle that `fell` too far: what may have let it, whether it then rested or went on.
fn lost(fell: &str, rest: Option<&Rest>, unit: &Unit) -> String {
    match rest {
        Some(rest) => format!(
            "{fell}: it fell within {} s and then rested at {}. That is a gross leak that closed, a pump valve or a \
             joint that let go, or a gauge that does not come back to zero; look for these, then pump up again",
            if rest.from_s < 10.0 {
                (10.0 * rest.from_s).round() / 10.0
            } else {
                rest.from_s.round()
            },
            unit.shown(rest.at_pa, 3)
        ),
        None => format!(
            "{fell}. Settling gas or a moving gauge would have to make up for the rest: let it settle, state for how \
             long, and hold again"
        ),
    }
}

fn left_out(misread: &Misread, unit: &Unit) -> String {
    format!(
        "Reading {} ({} at {:.0} s) does not belong to the others, which have {} there, and was left out: {}. Read it again \
         in the record, or repeat the run",
        misread.row,
        unit.shown(misread.reading_pa, 3),
        misread.time_s,
        unit.shown(misread.expected_pa, 3),
        if misread.decimal_point {
            "a moved decimal point would explain it"
        } else {
            "it was misread, or something moved"
        }
    )
}

fn turned(row: usize, reading_pa: f64, moved_pa: Option<f64>, unit: &Unit) -> String {
    let reading = unit.shown(reading_pa, 3);
    match moved_pa {
        Some(moved) => format!(
            "Reading {row} decides alone: if it was {} and not {reading}, a moved decimal point, the verdict would be the opposite. \
             Take more readings",
            unit.shown(moved, 3)
        ),
        None => format!(
            "The readings don't fit together, and reading {row} ({reading}) decides alone: without it the verdict would be the \
             opposite. Repeat the run"
        ),
    }
}

fn strained(strain: &Strain) -> String {
    match strain {
        Strain::Heat {
            kelvins,
            at_most_kelvins,
        } => format!(
            "A small leak explains these readings only with gas {:.0} K {} than the case at the first of them; pumping can bring it {:.0} \
             K off at most",
            kelvins.abs(),
            if *kelvins > 0.0 { "warmer" } else { "cooler" },
            at_most_kelvins
        ),
        Strain::Term { kind, off } => format!(
            "The readings are explained only if {} is off by {:.1} times what is stated of its uncertainty",
            kind.words(),
            off.abs()
        ),
        Strain::RigBeyondWhole { rig_m2, whole_m2 } => format!(
            "The rig alone leaked more ({:.1} um2) than rig and engine together ({:.1} um2): something was seated otherwise. Test both \
             again",
            rig_m2 * 1e12,
            whole_m2 * 1e12
        ),
        Strain::Rig => {
            "The readings of the run of the rig alone are not those of one leak, so that what is taken off may be wrong. Test the rig \
             again"
                .to_owned()
        }
    }
}

fn beyond_reach(beyond: &BeyondReach) -> String {
    let bar = |pascals: f64| pascals / 1e5;
    let outside = match beyond.outside {
        Outside::Volume { cubic_meters } if cubic_meters < 1e-3 => {
            format!("{:.2} cm3", cubic_meters * 1e6)
        }
        Outside::Volume { cubic_meters } if cubic_meters < 1e-2 => {
            format!("{:.2} L", cubic_meters * 1e3)
        }
        Outside::Volume { cubic_meters } => format!("{:.0} L", cubic_meters * 1e3),
        Outside::Pressure { pascals } if pascals < 1e6 => {
            format!("{:.2} bar absolute", bar(pascals))
        }
        Outside::Pressure { pascals } => format!("{:.0} bar absolute", bar(pascals)),
        Outside::Vacuum { pascals } => format!("a vacuum of {pascals:.0} Pa absolute"),
    };
    let range =
        |(least, most): (f64, f64)| format!("{} and {} bar absolute", bar(least), bar(most));
    match beyond.settled_after_s {
        Some(seconds) => format!(
            "Gas that settles counts in this run, and what is usual of it was made for crankcases of {:.0} cm3 to {:.0} L between {}; this is \
             {outside}. Wait {} after the last stroke before the first reading and state it in settled_for, or state conductance in [heat]",
            reach::SETTLING_VOLUMES_M3.0 * 1e6,
            reach::SETTLING_VOLUMES_M3.1 * 1e3,
            range(reach::USUAL_PRESSURES_PA),
            waited(seconds)
        ),
        None => format!(
            "The leak moves the gas's temperature in this run, and how soon the wall makes up for that was tried up to {:.0} L and between {} \
             only; this is {outside}. Waiting is no help: state conductance in [heat], or log the gas's temperature beside the readings",
            reach::TRIED_VOLUME_M3 * 1e3,
            range(reach::TRIED_PRESSURES_PA)
        ),
    }
}

/// A time to wait, rounded up to what a clock on the wall shows.
fn waited(seconds: f64) -> String {
    if seconds < 60.0 {
        format!("{:.0} s", 10.0 * (seconds / 10.0).ceil())
    } else if seconds < 7200.0 {
        format!("{:.0} min", (seconds / 60.0).ceil())
    } else {
        format!("{:.0} h", (seconds / 3600.0).ceil())
    }
}

/// Doubts that the fit itself raises, the gravest first.
#[must_use]
pub fn of_fit(fit: &Fit, bench: &Bench) -> Vec<Doubt> {
    let mut doubts = Vec::new();
    let start_pa = fit.first_reading.pascals();
    // A test at the limit may read a step above it.
    let most = caution::pressure_limit() + bench.gauge.step();
    if start_pa > most.get::<pascal>() {
        doubts.push(Doubt::AboveCaution { start_pa });
    }
    let numbers = [
        fit.rate.si().value,
        fit.area.si().value,
        fit.rate.si().low,
        fit.area.si().low,
    ];
    // Without residuals the curve could not be followed.
    if fit.residuals.is_empty() || !numbers.iter().all(|number| number.is_finite()) {
        doubts.push(Doubt::NotFinite);
    }
    if !fit.starts_where_read() {
        doubts.push(Doubt::WrongSide {
            start_pa: fit.start.pascals(),
        });
    }
    doubts.extend(fit.misread.map(Doubt::Misread));
    if fit.probability < crate::fit::ACCEPTABLE_PROBABILITY {
        doubts.push(Doubt::Misfit {
            probability: fit.probability,
        });
    }
    doubts.extend(fit.unsteady.map(Doubt::Unsteady));
    doubts.extend(fit.strain.map(Doubt::Strained));
    doubts.extend(fit.beyond_reach(bench).map(Doubt::BeyondReach));
    doubts
}

/// Whether the needle lost more from the first reading to the last than a limit allows, the gauge's error taken off. `rate` is as in
/// [`of_needle`].
#[must_use]
pub(crate) fn lost_more(fit: &Fit, bench: &Bench, rate: f64) -> bool {
    let more = |needle: Needle<'_>| -> Option<bool> {
        let (first, last) = (needle.readings.first()?, needle.readings.last()?);
        Some(needle.lost_beyond(first, last, 1.0))
    };
    Needle::new(fit, bench, rate).and_then(more) == Some(true)
}

/// Whether the needle, once the gas has settled, lost so much that no disturbance of one reading makes up for it: more than a limit
/// allows by this factor, from either of its first two readings to either of its last two. `rate` is as in [`of_needle`].
#[must_use]
pub(crate) fn lost_far_more(fit: &Fit, bench: &Bench, rate: f64) -> bool {
    let far = |needle: Needle<'_>| -> Option<bool> {
        let from_s = needle.readings.first()?.time_s + needle.settled_after;
        let settled = needle.readings.partition_point(|r| r.time_s < from_s);
        let [first, next, .., before, last] = needle.readings.get(settled..)? else {
            return Some(false);
        };
        let beyond = |from: &Residual, to: &Residual| needle.lost_beyond(from, to, FAR_BEYOND);
        let from_either = |to: &Residual| beyond(first, to) && beyond(next, to);
        Some(from_either(before) && from_either(last))
    };
    Needle::new(fit, bench, rate).and_then(far) == Some(true)
}

/// Doubts that the needle's own course raises against a leak within a limit: `rate` is the largest allowed rate k \[1/s\] in the
/// volume under test.
#[must_use]
pub fn of_needle(fit: &Fit, bench: &Bench, rate: f64) -> Option<Doubt> {
    let needle = Needle::new(fit, bench, rate)?;
    let (first, last) = (needle.readings.first()?, needle.readings.last()?);
    let seconds = last.time_s - first.time_s;
    let lost_pa = needle.lost(first, last);
    let allowed_pa = needle.allowed(first, last);
    let start = needle.size(first);
    let rise = RISE_OF_START * start;
    if -lost_pa - needle.gained_by_temperature
        > needle
            .error(lost_pa)
            .max(rise.min(RISE_OF_ALLOWED * allowed_pa))
    {
        let by_pa = -lost_pa;
        return Some(Doubt::Rose { by_pa, seconds });
    }
    let within = lost_pa <= allowed_pa + needle.error(lost_pa) || needle.settles();
    (!within).then(|| Doubt::NeedleLost {
        lost_pa,
        allowed_pa,
        seconds,
        rest: needle.rest(),
    })
}

/// The readings of a run beside the fall that a limit allows.
struct Needle<'a> {
    readings: &'a [Residual],
    bench: &'a Bench,
    direction: Direction,
    coordinate: OrificeShape,
    ambient: f64,
    /// The largest rate \[1/s\], that of the rig included.
    rate: f64,
    /// What pumping may have done to the gas, and until when.
    largest_excess: f64,
    settled_after: f64,
    /// What a temperature that was logged on the engine, or in it, moves the needle away from zero by \[Pa\].
    gained_by_temperature: f64,
}

fn gained_by_temperature(fit: &Fit) -> f64 {
    let by_temperature = fit.by_temperature.filter(|by| by.touched.is_of_engine());
    by_temperature.map_or(0.0, |by| (by.moves_pa * fit.direction.sign()).max(0.0))
}

impl<'a> Needle<'a> {
    fn new(fit: &'a Fit, bench: &'a Bench, rate: f64) -> Option<Self> {
        let first = fit.residuals.first()?;
        let heat = bench.heat_between((first.reading_pa, first.reading_pa));
        Some(Self {
            readings: &fit.residuals,
            bench,
            direction: fit.direction,
            coordinate: OrificeShape::of_gas(&bench.gas, fit.direction),
            ambient: bench.ambient().pressure.pascals(),
            rate: rate + fit.rig_rate(),
            largest_excess: heat.largest_excess,
            settled_after: heat.settled_after,
            gained_by_temperature: gained_by_temperature(fit),
        })
    }

    /// The size of a reading \[Pa\]: below ambient in a vacuum test.
    fn size(&self, reading: &Residual) -> f64 {
        reading.reading_pa * self.direction.sign()
    }

    fn lost(&self, from: &Residual, to: &Residual) -> f64 {
        self.size(from) - self.size(to)
    }

    /// What a needle may lose between two readings at the limit, the stopwatch's error in its favor \[Pa\].
    fn allowed(&self, from: &Residual, to: &Residual) -> f64 {
        let size = self.size(from);
        let sign = self.direction.sign();
        let stopwatch = 2.0 * 2.0_f64.sqrt() * self.bench.gauge.stopwatch().get::<second>();
        let seconds = to.time_s - from.time_s + stopwatch;
        let s = self.coordinate.of(sign * size / self.ambient);
        let (y, _) = self
            .coordinate
            .ratio(s - self.rate * self.coordinate.speed() * seconds);
        size - (y * self.ambient).abs()
    }

    /// The gauge's own error of a fall \[Pa\].
    fn error(&self, lost: f64) -> f64 {
        let fall = Pressure::new::<pascal>(lost.abs());
        self.bench.gauge.error_of_fall(fall).get::<pascal>()
    }

    /// Whether it lost more than so many times what the limit allows, the gauge's error taken off.
    fn lost_beyond(&self, from: &Residual, to: &Residual, times: f64) -> bool {
        let lost = self.lost(from, to);
        lost - self.error(lost) > times * self.allowed(from, to)
    }

    /// Whether gas that settled explains what the needle lost beyond the limit: it did so early and by no more than it can, and what
    /// the needle lost from then on is within the limit by itself.
    fn settles(&self) -> bool {
        let (Some(first), Some(last)) = (self.readings.first(), self.readings.last()) else {
            return false;
        };
        let settled = self
            .readings
            .partition_point(|r| r.time_s - first.time_s < self.settled_after);
        let part = self.readings.get(settled..).unwrap_or_default();
        let Some(from) = part.first().filter(|_| settled > 0) else {
            return false;
        };
        let long_enough = part.len() >= SETTLED_READINGS
            && last.time_s - from.time_s >= SETTLED_SHARE * (last.time_s - first.time_s);
        let early = self.lost(first, from);
        let inside = self.ambient + first.reading_pa;
        let by_heat =
            inside * self.largest_excess / (1.0 + self.direction.sign() * self.largest_excess);
        let late = self.lost(from, last);
        long_enough
            && early <= self.allowed(first, from) + by_heat + self.error(early)
            && late + self.error(late) <= self.allowed(from, last)
    }

    /// Where the needle rested for the second half of the hold or more, three readings at least, if it did.
    fn rest(&self) -> Option<Rest> {
        let (first, last) = (self.readings.first()?, self.readings.last()?);
        let at = self.size(last);
        let still = |r: &Residual| (self.size(r) - at).abs() <= self.error(0.0);
        let moving = self.readings.iter().rposition(|r| !still(r))?;
        let from = self.readings.get(moving + 1)?;
        let from_s = from.time_s - first.time_s;
        let long = last.time_s - from.time_s >= 0.5 * (last.time_s - first.time_s);
        let told = self.readings.len() - moving > 3;
        let (before, after) = (self.size(first) - self.size(from), self.size(from) - at);
        (long && told && after.abs() <= 0.25 * before.abs()).then_some(Rest {
            from_s,
            at_pa: last.reading_pa,
        })
    }
}
