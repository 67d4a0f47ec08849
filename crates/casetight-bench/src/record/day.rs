//! The day of a test. The calendar is jiff's; the form is checked here, since jiff reads others too (`20260302`) and says of none
//! which part of it is wrong (DEVELOPERS.md, "Ours, and why").

use std::fmt;
use std::str::FromStr;

use jiff::civil;

/// A day of the Gregorian calendar, written as in ISO 8601: `2026-03-02`.
///
/// ```
/// use casetight_bench::record::Date;
///
/// let before: Date = "2026-02-27".parse()?;
/// let after = Date::new(2026, 3, 2)?;
/// assert_eq!(after.days_since(before), 3);
/// assert!("2026-02-29".parse::<Date>().is_err());
/// # Ok::<(), casetight_bench::record::DateError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Date {
    civil: civil::Date,
}

/// What can be wrong with a date.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum DateError {
    /// Not of the form year, month, day.
    #[error(
        "`{got}` is not a date; write year, month and day as in {}",
        example_of(got)
    )]
    Form {
        /// What is written.
        got: String,
    },
    /// No such day.
    #[error("{year:04}-{month:02}-{day:02} is no day of the calendar: {what}{}", exchanged(*year, *month, *day))]
    NoSuchDay {
        /// Year.
        year: u16,
        /// Month.
        month: u8,
        /// Day.
        day: u8,
        /// What is not valid.
        what: &'static str,
    },
}

/// What a date of another form may mean, one or two days; a usual example where it means none.
fn example_of(got: &str) -> String {
    let parts: Vec<&str> = got
        .split(['-', '.', '/', ' '])
        .filter(|part| !part.is_empty())
        .collect();
    let days: Vec<String> = match parts.as_slice() {
        [year, month, day] if year.len() == 4 => vec![day_of(year, month, day)],
        [first, second, year] if year.len() == 4 => {
            vec![day_of(year, second, first), day_of(year, first, second)]
        }
        _ => Vec::new(),
    }
    .into_iter()
    .flatten()
    .collect();
    match days.as_slice() {
        [] => "2026-03-02".to_owned(),
        [one, other] if one != other => format!("{one} or {other}, whichever was the day"),
        [one, ..] => one.clone(),
    }
}

fn day_of(year: &str, month: &str, day: &str) -> Option<String> {
    let date = Date::new(year.parse().ok()?, month.parse().ok()?, day.parse().ok()?);
    Some(date.ok()?.to_string())
}

/// What was meant where month and day were exchanged.
fn exchanged(year: u16, month: u8, day: u8) -> String {
    let meant = Date::new(year, day, month).ok().filter(|_| month > 12);
    meant.map_or(String::new(), |meant| format!("; write {meant}"))
}

impl Date {
    /// # Errors
    /// [`DateError::NoSuchDay`] for a month or day that the year doesn't have, or a year outside 1 to 9999.
    pub fn new(year: u16, month: u8, day: u8) -> Result<Self, DateError> {
        let wrong = |what| DateError::NoSuchDay {
            year,
            month,
            day,
            what,
        };
        if !(1..=9999).contains(&year) {
            return Err(wrong("the year must lie between 1 and 9999"));
        }
        if !(1..=12).contains(&month) {
            return Err(wrong("the month must lie between 1 and 12"));
        }
        let civil = || {
            let (year, month, day) = (year.try_into(), month.try_into(), day.try_into());
            civil::Date::new(year.ok()?, month.ok()?, day.ok()?).ok()
        };
        civil()
            .map(|civil| Self { civil })
            .ok_or_else(|| wrong("the month has no such day"))
    }

    /// Days from another date to this one; below zero where this one is the earlier.
    #[must_use]
    pub fn days_since(self, other: Self) -> i32 {
        (self.civil - other.civil).get_days()
    }
}

impl fmt::Display for Date {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // Years of four digits, as jiff writes those of 1 to 9999.
        self.civil.fmt(f)
    }
}

impl FromStr for Date {
    type Err = DateError;

    fn from_str(text: &str) -> Result<Self, DateError> {
        let text = text.trim();
        let wrong = || DateError::Form {
            got: text.to_owned(),
        };
        let mut parts = text.split('-');
        let mut digits = |count: usize| -> Result<u16, DateError> {
            let part = parts.next().ok_or_else(wrong)?;
            let plain = part.len() == count && part.bytes().all(|b| b.is_ascii_digit());
            plain.then(|| part.parse().ok()).flatten().ok_or_else(wrong)
        };
        let (year, month, day) = (digits(4)?, digits(2)?, digits(2)?);
        if parts.next().is_some() {
            return Err(wrong());
        }
        let small = |n: u16| u8::try_from(n).map_err(|_| wrong());
        Self::new(year, small(month)?, small(day)?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn date(text: &str) -> Date {
        text.parse().unwrap()
    }

    /// Independent script: Python 3.13, `datetime.date.toordinal` differences.
    #[test]
    fn days_between_dates() {
        for (later, earlier, days) in [
            ("2026-03-02", "2026-02-27", 3),
            ("2024-03-01", "2024-02-28", 2),
            ("1900-03-01", "1900-02-28", 1),
            ("2000-03-01", "2000-02-28", 2),
            ("2026-01-01", "1970-01-01", 20_454),
            ("9999-12-31", "0001-01-01", 3_652_058),
            ("2025-12-31", "2026-01-01", -1),
        ] {
            assert_eq!(
                date(later).days_since(date(earlier)),
                days,
                "{later} {earlier}"
            );
        }
    }

    #[test]
    fn what_is_no_date_is_refused() {
        for (text, said) in [
            ("2026-02-29", "no such day"),
            ("1900-02-29", "no such day"),
            ("2026-04-31", "no such day"),
            ("2026-13-01", "between 1 and 12"),
            ("2026-00-10", "between 1 and 12"),
            ("0000-01-01", "between 1 and 9999"),
            ("02.03.2026", "not a date"),
            ("2026-3-2", "not a date"),
            ("2026-03-02-01", "not a date"),
            ("2026-03", "not a date"),
            ("+026-03-02", "not a date"),
            ("", "not a date"),
        ] {
            let error = text.parse::<Date>().unwrap_err().to_string();
            assert!(error.contains(said), "{text}: {error}");
        }
    }

    proptest! {
        #[test]
        fn text_round_trip_and_order(year in 1_u16..=9999, month in 1_u8..=12, day in 1_u8..=28, other in 1_u8..=28) {
            let a = Date::new(year, month, day).unwrap();
            prop_assert_eq!(a.to_string().parse::<Date>().unwrap(), a);
            let b = Date::new(year, month, other).unwrap();
            prop_assert_eq!(a.days_since(b), i32::from(day) - i32::from(other));
            prop_assert_eq!(a > b, a.days_since(b) > 0);
        }
    }
}
