//! Comparisons and trends in sentences.

use std::fmt;

use super::ratio::{Change, Comparison, Note};
use super::test::{Known, SharedVolume};
use super::trend::{Course, Trend, Unit};
use casetight::estimate::Estimate;
use casetight::quantity::{self, GaugePressure};

/// Digits of a pressure.
const DIGITS: usize = 3;

/// Below this ratio a change reads better in percent, above it as a multiple.
const IN_PERCENT_BELOW: f64 = 1.5;

/// A number with about two digits, plain.
fn plain(value: f64) -> String {
    let size = value.abs();
    let decimals = match size {
        s if s >= 9.95 || s == 0.0 => 0,
        s if s >= 0.995 => 1,
        s if s >= 0.0995 => 2,
        _ => 3,
    };
    format!("{value:.decimals$}")
}

/// A ratio as "8 %" or "2.1 times".
fn part(ratio: f64, percent: bool) -> String {
    if percent {
        format!("{} %", plain(100.0 * ratio))
    } else {
        format!("{} times", plain(ratio))
    }
}

/// "8 % (95 % interval 5 to 12 %)".
fn with_interval(value: f64, r: &Estimate<f64>, percent: bool) -> String {
    let (factor, unit) = if percent {
        (100.0, " %")
    } else {
        (1.0, " times")
    };
    format!(
        "{}{unit} ({} % interval {} to {}{unit})",
        plain(factor * value),
        plain(100.0 * r.level),
        plain(factor * r.low),
        plain(factor * r.high)
    )
}

/// How seldom chance would do it: "less than once in 10 000 times".
fn chance(p: f64) -> String {
    let times = [1_000_000, 100_000, 10_000, 1000, 100, 20]
        .into_iter()
        .find(|n| p * f64::from(*n) < 1.0);
    match times {
        Some(n) => {
            let n = n.to_string();
            // Thin spaces are for typesetters; a plain one keeps large numbers readable.
            let grouped = match n.len() {
                7 => "1 000 000".to_owned(),
                6 => "100 000".to_owned(),
                5 => "10 000".to_owned(),
                _ => n,
            };
            format!("less than once in {grouped} times")
        }
        None => format!("in {} % of cases", plain(100.0 * p.min(1.0))),
    }
}

impl fmt::Display for Comparison {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let r = self.ratio;
        let percent = r.value < IN_PERCENT_BELOW;
        let size = match self.tells_value() {
            true => with_interval(r.value, &r, percent),
            false if r.high.is_finite() && r.low > 0.0 => {
                let (factor, unit) = if percent {
                    (100.0, " %")
                } else {
                    (1.0, " times")
                };
                format!(
                    "{} to {}{unit}",
                    plain(factor * r.low),
                    plain(factor * r.high)
                )
            }
            false if r.high.is_finite() => format!("at most {}", part(r.high, percent)),
            false if r.low > 0.0 => format!("at least {}", part(r.low, percent)),
            false => {
                return f.write_str(
                    "Whether the leak changed can't be told: the tests give no two ends that could be compared",
                );
            }
        };
        match self.change {
            Change::Fell => write!(
                f,
                "The leak fell to {size} of what it was; chance alone would show such a difference {}",
                chance(self.p_value)
            ),
            Change::Grew => write!(
                f,
                "The leak grew to {size} {}; chance alone would show such a difference {}",
                if percent {
                    "of what it was"
                } else {
                    "what it was"
                },
                chance(self.p_value)
            ),
            Change::NotTold => write!(
                f,
                "The leak is {size} {}: whether it changed can't be told from these readings, since chance alone may show \
                 such a difference {}{}",
                if percent {
                    "of what it was"
                } else {
                    "what it was"
                },
                if self.p_is_bound() { "up to " } else { "" },
                chance(self.p_value)
            ),
        }
    }
}

fn size_in(unit: &quantity::Unit, gauge: GaugePressure) -> String {
    let side = if gauge.is_vacuum() { " vacuum" } else { "" };
    unit.shown(gauge.pascals().abs(), DIGITS) + side
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Shared(shared) => {
                let mut common = Vec::new();
                match shared.volume {
                    SharedVolume::Same => common.push("the volume"),
                    SharedVolume::InPart { .. } => common.push("the engine's dimensions"),
                    SharedVolume::Apart => {}
                }
                if shared.gauge {
                    common.push("the gauge");
                }
                if shared.surroundings {
                    common.push("the thermometer");
                }
                write!(
                    f,
                    "Both tests state alike, and are taken to share: {}. What these leave open cancels in the ratio{}",
                    common.join(", "),
                    if shared.gauge {
                        "; two different gauges of one kind would not cancel"
                    } else {
                        ""
                    }
                )
            }
            Self::Starts {
                before,
                after,
                at,
                orifices,
                unit,
            } => write!(
                f,
                "The runs start at {} and {}; the areas are compared at {}. {}",
                size_in(unit, *before),
                size_in(unit, *after),
                size_in(unit, *at),
                if *orifices {
                    "Both leaks are taken as orifices, which have one area at every pressure"
                } else {
                    "Each is moved there by the law of its flow, and what the readings leave open of that law is in the interval"
                }
            ),
            Self::Directions => f.write_str(
                "One run is a pressure test, the other a vacuum test: a lip seal can leak in one and hold in the other, so \
                 this says little about a repair",
            ),
            Self::Blanks => f.write_str(
                "Different sites were blanked in the two runs: a blank changes what leaks, whatever the repair did",
            ),
            Self::Dates => f.write_str("The sheet given as the one after has the earlier date; the two may be swapped"),
            Self::Names => f.write_str("The runs have different names and were matched as the only ones of their direction"),
        }
    }
}

impl Unit {
    /// What one step of it is called in a sentence.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Days => "in 30 days",
            Self::Tests => "from test to test",
        }
    }
}

impl fmt::Display for Trend {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Some(slope) = &self.growth else {
            return write!(
                f,
                "No trend can be told: {} of {} tests tell a leak's size to both sides, and three are needed",
                self.two_sided, self.tests
            );
        };
        // Up to a doubling a growth reads well in percent, beyond it as a factor.
        let shown = |growth: f64| {
            if slope.high < 2.0 {
                let change = 100.0 * (growth - 1.0);
                format!("{}{}", if change > 0.0 { "+" } else { "" }, plain(change))
            } else {
                plain(growth)
            }
        };
        let size = format!(
            "{}{}{unit} ({} % interval {} to {}{unit})",
            if slope.high < 2.0 {
                ""
            } else {
                "by a factor of "
            },
            shown(slope.value),
            plain(100.0 * slope.level),
            shown(slope.low),
            shown(slope.high),
            unit = if slope.high < 2.0 { " %" } else { "" },
        );
        let per = self.unit.words();
        match self.course {
            Course::Grows => write!(
                f,
                "The leak grows, {size} {per}; chance alone would show such a trend {}",
                chance(self.p_value)
            ),
            Course::Shrinks => write!(
                f,
                "The leak shrinks, {size} {per}; chance alone would show such a trend {}",
                chance(self.p_value)
            ),
            Course::NotTold => write!(
                f,
                "No trend can be told from these {} tests: {size} {per}, and chance alone would show such a trend {}",
                self.tests,
                chance(self.p_value)
            ),
        }
    }
}

/// What is known, in a word for tables.
impl fmt::Display for Known {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Both => "measured",
            Self::AtMost => "at most",
            Self::AtLeast => "at least",
        })
    }
}
