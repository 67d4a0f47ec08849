//! Readings, as they are typed one after the other.

use casetight::quantity::{GaugePressure, Time, TradeUnits};

use super::answers::{Answers, Reading, ReplyError, in_unit};
use super::questions::gauge;

/// Fewer tell nothing of a leak: two of its rate and start, one of whether they can be right.
const LEAST: usize = 3;

/// No gauge shows more than as many parts of its unit.
const FINEST: f64 = 1e9;

/// Takes one more.
pub(super) fn take(answers: &mut Answers, text: &str) -> Result<(), ReplyError> {
    let reading = read(answers, text)?;
    if let Some(before) = answers.readings.last()
        && reading.time_s <= before.time_s
    {
        let before_s = before.time_s;
        return Err(ReplyError::NotLater { before_s });
    }
    answers.readings.push(reading);
    Ok(())
}

/// None, or as many as tell something.
pub(super) fn are_enough(readings: &[Reading]) -> Result<(), ReplyError> {
    match LEAST.checked_sub(readings.len()) {
        None | Some(0 | LEAST) => Ok(()),
        Some(missing) => Err(ReplyError::TooFew {
            least: LEAST,
            missing,
        }),
    }
}

/// A time in seconds or as m:ss, and the gauge, parted by space, a semicolon, or a comma before a space.
fn read(answers: &Answers, text: &str) -> Result<Reading, ReplyError> {
    let gauge = gauge(answers);
    let unit = gauge.unit;
    let mut words: Vec<&str> = text
        .split([' ', '\t', ';'])
        .map(|word| word.trim_end_matches(','))
        .filter(|word| !word.is_empty() && !matches!(*word, "s" | "sec") && *word != unit)
        .collect();
    // As a logger writes it.
    if let [both] = *words
        && let Some((time, gauge)) = both.split_once(',')
    {
        words = vec![time, gauge];
    }
    let [time, shown] = *words else {
        let example = gauge.example;
        return Err(ReplyError::Reading { example });
    };
    let time_s = Time::parse(&in_unit(time, "s"))?.si_value();
    let shown = shown.replace('\u{2212}', "-");
    let gauge = GaugePressure::parse(&in_unit(&shown, unit))?.value_in(unit)?;
    // By way of pascals and back: as it was typed again.
    let gauge = (gauge * FINEST).round() / FINEST;
    Ok(Reading { time_s, gauge })
}
