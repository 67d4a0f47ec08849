//! Dates and times as loggers write them.

use super::day::{day_number, days_of};

const DAY: i64 = 86_400;

/// A moment: whole seconds and the part of one after them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Instant {
    seconds: i64,
    part: f64,
}

impl Instant {
    /// The calendar date and time of ISO 8601, extended format, to the second or finer: `2024-05-01T12:34:56,789+02:00`.
    /// A space may stand for the T, the zone may be left out.
    pub(super) fn parse(text: &str) -> Option<Self> {
        let (date, time) = text.trim().split_once(['T', 't', ' '])?;
        let mut date = date.split('-');
        let (year, month, day) = (
            digits(date.next()?, 4)?,
            digits(date.next()?, 2)?,
            digits(date.next()?, 2)?,
        );
        if date.next().is_some() {
            return None;
        }
        let (time, ahead) = match time.find(['Z', 'z', '+', '-']) {
            Some(at) => (time.get(..at)?, zone(time.get(at..)?)?),
            None => (time, 0),
        };
        let (time, part) = match time.split_once(['.', ',']) {
            Some((time, part)) => (time, fraction(part)?),
            None => (time, 0.0),
        };
        let mut time = time.split(':');
        let (hour, minute, second) = (
            digits(time.next()?, 2)?,
            digits(time.next()?, 2)?,
            digits(time.next()?, 2)?,
        );
        let length = days_of(year, month)?;
        // A leap second is the 60th.
        let possible = (1..=length).contains(&day) && hour < 24 && minute < 60 && second <= 60;
        if time.next().is_some() || !possible {
            return None;
        }
        let clock = i64::from(hour * 3600 + minute * 60 + second);
        let seconds = i64::from(day_number(year, month, day)) * DAY + clock - ahead;
        Some(Self { seconds, part })
    }

    /// Seconds from another moment to this one.
    pub(super) fn seconds_after(self, start: Self) -> f64 {
        (self.seconds - start.seconds) as f64 + (self.part - start.part)
    }
}

fn digits(text: &str, count: usize) -> Option<i32> {
    let all = text.len() == count && text.bytes().all(|byte| byte.is_ascii_digit());
    text.parse().ok().filter(|_| all)
}

fn fraction(text: &str) -> Option<f64> {
    let all = !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    format!("0.{text}").parse().ok().filter(|_| all)
}

/// Seconds that a zone is ahead of universal time.
fn zone(text: &str) -> Option<i64> {
    if text.eq_ignore_ascii_case("z") {
        return Some(0);
    }
    let sign = if text.starts_with('-') { -1 } else { 1 };
    let text = text.get(1..)?;
    let (hours, minutes) = match text.split_once(':') {
        Some((hours, minutes)) => (digits(hours, 2)?, digits(minutes, 2)?),
        None if text.len() == 4 => (digits(text.get(..2)?, 2)?, digits(text.get(2..)?, 2)?),
        None => (digits(text, 2)?, 0),
    };
    (hours < 24 && minutes < 60).then_some(sign * i64::from(hours * 3600 + minutes * 60))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn between(from: &str, to: &str) -> f64 {
        Instant::parse(to)
            .unwrap()
            .seconds_after(Instant::parse(from).unwrap())
    }

    #[test]
    fn moments_by_the_calendar() {
        for (from, to, seconds) in [
            ("2024-05-01T12:34:56", "2024-05-01 12:34:56.25", 0.25),
            ("2024-05-01T12:34:56Z", "2024-05-01T14:34:57,5+02:00", 1.5),
            ("2024-05-01T12:34:56-0030", "2024-05-01T13:04:56+00", 0.0),
            // Over midnight, leap day, year and century.
            ("2024-02-28T23:59:59", "2024-02-29T00:00:00", 1.0),
            ("2023-02-28T23:59:59", "2023-03-01T00:00:01", 2.0),
            ("1999-12-31T23:59:59", "2000-01-01T00:00:00", 1.0),
            ("1900-02-28T00:00:00", "1900-03-01T00:00:00", 86_400.0),
            // The POSIX count of seconds, known from its definition: 2000-01-01 is day 10957.
            (
                "1970-01-01T00:00:00Z",
                "2000-01-01T00:00:00Z",
                10_957.0 * 86_400.0,
            ),
        ] {
            assert!((between(from, to) - seconds).abs() < 1e-9, "{from} {to}");
        }
    }

    #[test]
    fn what_is_no_moment() {
        for text in [
            "",
            "2024-05-01",
            "12:34:56",
            "2024-13-01T00:00:00",
            "2023-02-29T00:00:00",
            "2024-05-01T24:00:00",
            "2024-05-01T12:34",
            "2024-05-01T12:34:56.",
            "2024-05-01T12:34:56+2",
            "24-05-01T12:34:56",
            "2024-05-01T12:34:56:00",
            "01.05.2024 12:34:56",
            "2024-05-01T12:34:5\u{0663}",
        ] {
            assert_eq!(Instant::parse(text), None, "{text}");
        }
    }

    proptest! {
        #[test]
        fn any_text_is_answered(text in "\\PC{0,40}") {
            let _ = Instant::parse(&text);
        }
    }
}
