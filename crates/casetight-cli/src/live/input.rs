//! From lines on standard input to readings.

use std::io::{self, BufRead, Read};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, mpsc};
use std::time::{Duration, Instant, SystemTime};

use casetight::quantity::{GaugePressure, QuantityError, TradeUnits, Unit};

use crate::interrupt;

/// No line of a reading is longer \[bytes\].
const LONGEST_LINE: u64 = 1 << 10;

/// How lines become readings.
#[derive(Debug)]
pub(super) enum Manner {
    /// `time_s,gauge` on each line.
    Lines,
    /// The gauge on each line, the time by this machine's clock.
    Clock(Clock),
    /// An Enter as the needle passes each mark, the time by this machine's clock.
    Marks {
        clock: Clock,
        /// The marks to come, the next one last.
        to_come: Vec<f64>,
    },
}

/// Counts from the start of a run, by a clock that is never set back.
#[derive(Debug)]
pub(super) struct Clock {
    from: Instant,
    /// What it stood at then \[s\].
    stood: f64,
}

impl Clock {
    /// A clock that stood at zero at a time of day: now, or when a run that is gone on with was started.
    pub(super) fn since(zero: SystemTime) -> Self {
        Self {
            from: Instant::now(),
            stood: zero.elapsed().unwrap_or(Duration::ZERO).as_secs_f64(),
        }
    }

    /// Seconds at a moment, to the millisecond.
    fn at(&self, moment: Instant) -> f64 {
        let elapsed = moment.saturating_duration_since(self.from);
        ((self.stood + elapsed.as_secs_f64()) * 1e3).round() / 1e3
    }
}

/// A reading as it came: time \[s\], and the gauge in the unit of the input.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Raw {
    pub(super) time_s: f64,
    pub(super) gauge: f64,
}

/// What a line said.
#[derive(Debug, PartialEq)]
pub(super) enum Said {
    Reading(Raw),
    /// A header, that names the unit of what follows.
    Unit(&'static Unit),
    /// A blank line or a comment.
    Nothing,
}

/// Why a line says nothing that can be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub(crate) enum LineError {
    #[error("a line longer than {LONGEST_LINE} bytes is no reading; it was left out whole")]
    Long,
    #[error("`{found}` is not a number")]
    NotANumber { found: String },
    #[error("{got} field(s); a reading is `time_s,gauge`, such as `30,6.75`, with decimal points")]
    TimeAndGauge { got: usize },
    #[error("{got} field(s); with --clock a line is the gauge alone, such as `6.75`")]
    GaugeAlone { got: usize },
    #[error("with --marks a line is empty: press Enter as the needle passes the mark")]
    EnterAlone,
    #[error("`{unit}` is not a unit of gauge pressure")]
    Unit { unit: String },
    #[error(transparent)]
    Quantity(#[from] QuantityError),
    #[error("{0}")]
    Side(Box<casetight_bench::sheet::Problem>),
}

impl Manner {
    /// The mark that is waited for.
    pub(super) fn next_mark(&self) -> Option<f64> {
        match self {
            Self::Marks { to_come, .. } => to_come.last().copied(),
            _ => None,
        }
    }

    /// Whether nothing more is waited for.
    pub(super) fn is_over(&self) -> bool {
        matches!(self, Self::Marks { to_come, .. } if to_come.is_empty())
    }

    /// A reading was kept, now or before the run was gone on with: its mark is passed.
    pub(super) fn passed(&mut self, gauge: f64) {
        if let Self::Marks { to_come, .. } = self
            && to_come
                .last()
                .is_some_and(|mark| (mark - gauge).abs() <= 1e-9 * mark.abs())
        {
            to_come.pop();
        }
    }

    /// What a line says that came at a moment.
    pub(super) fn take(&mut self, line: &str, moment: Instant) -> Result<Said, LineError> {
        let line = line.trim();
        if line.starts_with('#') {
            return Ok(Said::Nothing);
        }
        match self {
            Self::Marks { clock, to_come } => {
                let time_s = clock.at(moment);
                if !line.is_empty() {
                    return Err(LineError::EnterAlone);
                }
                // The mark stays until its reading is kept.
                Ok(to_come.last().map_or(Said::Nothing, |gauge| {
                    Said::Reading(Raw {
                        time_s,
                        gauge: *gauge,
                    })
                }))
            }
            Self::Clock(clock) => {
                let time_s = clock.at(moment);
                match &*fields(line) {
                    [] => Ok(Said::Nothing),
                    [gauge] => Ok(Said::Reading(Raw {
                        time_s,
                        gauge: number(gauge)?,
                    })),
                    more => Err(LineError::GaugeAlone { got: more.len() }),
                }
            }
            Self::Lines => match &*fields(line) {
                [] => Ok(Said::Nothing),
                [time, gauge] if time.eq_ignore_ascii_case("time_s") => unit(gauge),
                [time, gauge] => Ok(Said::Reading(Raw {
                    time_s: number(time)?,
                    gauge: number(gauge)?,
                })),
                more => Err(LineError::TimeAndGauge { got: more.len() }),
            },
        }
    }
}

/// The fields of a line, parted by a comma, a semicolon or space.
fn fields(line: &str) -> Vec<&str> {
    line.split([',', ';', ' ', '\t'])
        .map(str::trim)
        .filter(|field| !field.is_empty())
        .collect()
}

/// A number; whether it is finite is asked later, by who knows what it is.
pub(super) fn number(field: &str) -> Result<f64, LineError> {
    field.parse().map_err(|_| LineError::NotANumber {
        found: field.to_owned(),
    })
}

fn unit(column: &str) -> Result<Said, LineError> {
    let lower = column.to_lowercase();
    let spelling = lower.strip_prefix("gauge_").unwrap_or(&lower);
    let same = |unit: &&Unit| unit.symbol().eq_ignore_ascii_case(spelling);
    let found = GaugePressure::UNITS.iter().find(same);
    found.map(Said::Unit).ok_or_else(|| LineError::Unit {
        unit: spelling.to_owned(),
    })
}

/// The marks of `--marks`, the first one last.
pub(super) fn marks(text: &str) -> Result<Vec<f64>, LineError> {
    let mut marks: Vec<f64> = fields(text)
        .into_iter()
        .map(number)
        .collect::<Result<_, _>>()?;
    marks.reverse();
    Ok(marks)
}

/// A line as it came, or why it is none.
pub(super) type Came = Result<String, LineError>;

/// The next line, without more of it in memory than any reading has; none at the end.
fn next_line(source: &mut impl BufRead) -> io::Result<Option<Came>> {
    let mut line = Vec::new();
    let got = source
        .by_ref()
        .take(LONGEST_LINE)
        .read_until(b'\n', &mut line)?;
    if got as u64 == LONGEST_LINE && !line.ends_with(b"\n") {
        // Whatever follows on it is no reading either.
        source.skip_until(b'\n')?;
        return Ok(Some(Err(LineError::Long)));
    }
    Ok((got > 0).then(|| Ok(String::from_utf8_lossy(&line).into_owned())))
}

/// What a run that listens hears.
#[derive(Debug)]
pub(super) enum Heard {
    /// A line, and when it came.
    Line(Came, Instant),
    /// The input can't be read on.
    Failed(io::Error),
    /// Nothing more: the input ended, or the command is to.
    End,
}

/// Lines of standard input as they come, until it ends or the command is asked to end.
#[derive(Debug)]
pub(super) struct Input {
    heard: mpsc::Receiver<Heard>,
    asked_to_end: Arc<AtomicBool>,
}

impl Input {
    /// Begins to listen.
    pub(super) fn listen() -> Self {
        // So many lines wait; a faster source waits too.
        let (to, heard) = mpsc::sync_channel(64);
        let asked_to_end = Arc::new(AtomicBool::new(false));
        let (ended, asked) = (to.clone(), Arc::clone(&asked_to_end));
        interrupt::tell_first(move || {
            asked.store(true, Ordering::SeqCst);
            // Where lines wait, it is seen after the next of them.
            let _ = ended.try_send(Heard::End);
        });
        std::thread::spawn(move || {
            let mut stdin = io::stdin().lock();
            loop {
                let heard = match next_line(&mut stdin) {
                    Ok(Some(line)) => Heard::Line(line, Instant::now()),
                    Ok(None) => Heard::End,
                    Err(error) => Heard::Failed(error),
                };
                let more = matches!(heard, Heard::Line(..));
                if to.send(heard).is_err() || !more {
                    return;
                }
            }
        });
        Self {
            heard,
            asked_to_end,
        }
    }

    /// Waits for the next line.
    pub(super) fn next(&self) -> Heard {
        if self.was_asked_to_end() {
            return Heard::End;
        }
        self.heard.recv().unwrap_or(Heard::End)
    }

    /// Whether the command was asked to end.
    pub(super) fn was_asked_to_end(&self) -> bool {
        self.asked_to_end.load(Ordering::SeqCst)
    }
}

#[cfg(test)]
#[allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::float_cmp,
    clippy::unnecessary_wraps
)]
mod tests {
    use super::*;

    fn raw(time_s: f64, gauge: f64) -> Result<Said, LineError> {
        Ok(Said::Reading(Raw { time_s, gauge }))
    }

    #[test]
    fn lines_of_a_logger_and_of_a_person() {
        let mut lines = Manner::Lines;
        for text in ["30,6.75", " 30 ; 6.75\r\n", "30 6.75", "3e1\t6.75"] {
            assert_eq!(lines.take(text, Instant::now()), raw(30.0, 6.75), "{text}");
        }
        assert_eq!(lines.take("# warm", Instant::now()), Ok(Said::Nothing));
        assert_eq!(lines.take("", Instant::now()), Ok(Said::Nothing));
        assert!(
            matches!(lines.take("time_s,gauge_kPa", Instant::now()), Ok(Said::Unit(unit)) if unit.symbol() == "kPa")
        );
        assert!(matches!(
            lines.take("time_s,gauge_ells", Instant::now()),
            Err(LineError::Unit { .. })
        ));
        assert_eq!(
            lines.take("30;6,75", Instant::now()),
            Err(LineError::TimeAndGauge { got: 3 })
        );
        assert_eq!(
            lines.take("30", Instant::now()),
            Err(LineError::TimeAndGauge { got: 1 })
        );
        assert!(matches!(
            lines.take("30,six", Instant::now()),
            Err(LineError::NotANumber { .. })
        ));
    }

    #[test]
    fn the_clock_rises_and_goes_on_where_it_was_left() {
        let mut by_clock = Manner::Clock(Clock::since(SystemTime::now()));
        let mut at = |gauge: f64| match by_clock.take(&gauge.to_string(), Instant::now()) {
            Ok(Said::Reading(raw)) if raw.gauge == gauge => raw.time_s,
            other => panic!("{other:?}"),
        };
        let first = at(7.0);
        std::thread::sleep(Duration::from_millis(5));
        let later = at(6.9);
        assert!(later >= first + 0.004 && later < 5.0, "{first} {later}");
        assert_eq!(
            by_clock.take("1,2", Instant::now()),
            Err(LineError::GaugeAlone { got: 2 })
        );
        let resumed = Clock::since(SystemTime::now() - Duration::from_secs(100));
        assert!((resumed.at(Instant::now()) - 100.0).abs() < 5.0);
    }

    #[test]
    fn marks_come_in_their_order_and_end() {
        let mut by_marks = Manner::Marks {
            clock: Clock::since(SystemTime::now()),
            to_come: marks("-7, -6.5").unwrap(),
        };
        assert_eq!(by_marks.next_mark(), Some(-7.0));
        assert_eq!(
            by_marks.take("6", Instant::now()),
            Err(LineError::EnterAlone)
        );
        for mark in [-7.0, -6.5] {
            // Until its reading is kept, a mark is waited for.
            for _ in 0..2 {
                assert!(
                    matches!(by_marks.take("\n", Instant::now()), Ok(Said::Reading(raw)) if raw.gauge == mark)
                );
            }
            by_marks.passed(mark);
        }
        assert!(by_marks.is_over());
        assert!(marks("7, x").is_err());
    }

    #[test]
    fn a_line_that_is_too_long_is_refused_whole() {
        let longest = usize::try_from(LONGEST_LINE).unwrap();
        let text = format!(
            "{}47.5\n1,2\n{}\n3,4",
            " ".repeat(longest - 3),
            "7".repeat(5000)
        );
        let mut source = text.as_bytes();
        let mut next = || next_line(&mut source).unwrap();
        assert_eq!(next(), Some(Err(LineError::Long)));
        assert_eq!(next(), Some(Ok("1,2\n".to_owned())));
        assert_eq!(next(), Some(Err(LineError::Long)));
        assert_eq!(next(), Some(Ok("3,4".to_owned())));
        assert_eq!(next(), None);
    }
}
