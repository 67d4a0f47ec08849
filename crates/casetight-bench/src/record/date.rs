//! Dates and times as loggers write them. Calendar, clock and zones are read and counted by jiff; what it reads beside the form that
//! is documented is refused here (DEVELOPERS.md, "Ours, and why").

use jiff::fmt::temporal::Pieces;
use jiff::{SignedDuration, Timestamp, tz::Offset};

/// A moment, to the nanosecond.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Instant(Timestamp);

impl Instant {
    /// The calendar date and time of ISO 8601, extended format, to the second or finer: `2024-05-01T12:34:56,789+02:00`.
    /// A space may stand for the T, the zone may be left out.
    pub(super) fn parse(text: &str) -> Option<Self> {
        let text = text.trim();
        let at = |place: usize| text.as_bytes().get(place);
        // Beside this jiff reads shorter times, forms without marks, and zones by name, whose hours only a database knows.
        let whole = at(4) == Some(&b'-') && at(13) == Some(&b':') && at(16) == Some(&b':');
        if !whole || text.ends_with(']') {
            return None;
        }
        let pieces = Pieces::parse(text).ok()?;
        let zone = pieces.to_numeric_offset().unwrap_or(Offset::UTC);
        let clock = pieces.date().to_datetime(pieces.time()?);
        let moment = zone.to_timestamp(clock).ok()?;
        // A leap second, which jiff takes for the 59th, is the next one.
        let leap = i64::from(text.get(17..19) == Some("60"));
        moment
            .checked_add(SignedDuration::from_secs(leap))
            .ok()
            .map(Self)
    }

    /// Seconds from another moment to this one.
    pub(super) fn seconds_after(self, start: Self) -> f64 {
        self.0.duration_since(start.0).as_secs_f64()
    }
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
            // A leap second, after which the next minute begins, and one in a zone.
            ("2016-12-31T23:59:59Z", "2016-12-31T23:59:60.5Z", 1.5),
            ("2017-01-01T02:59:60+03:00", "2017-01-01T00:00:01Z", 1.0),
            // To the nanosecond; a zone of long ago, which had seconds.
            (
                "2024-05-01T12:34:56.123456789",
                "2024-05-01T12:34:57",
                0.876_543_211,
            ),
            ("1880-05-01T12:34:56+00:19:32", "1880-05-01T12:15:24Z", 0.0),
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
            "20240501T123456",
            "2024-05-01T123456",
            "2024-05-01T12+02:30",
            "+02024-05-01T12:34:56",
            // Zones that nobody can count by.
            "2024-05-01T12:34:56[Europe/Berlin]",
            "2024-05-01T12:34:56+02:00[Europe/Berlin]",
            "2024-05-01T12:34:56Z02:00",
            // Finer than a nanosecond.
            "2024-05-01T12:34:56.0123456789",
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
