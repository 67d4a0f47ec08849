//! That each spelling is read as what it stands for, and what may stand for two things is not read.

use proptest::prelude::*;

use super::*;

/// Two texts of one quantity, to the bit.
fn same<Q: TradeUnits + core::fmt::Debug + PartialEq>(text: &str, canonical: &str) {
    let read = Q::parse(text).unwrap_or_else(|error| panic!("{text}: {error}"));
    let bits = Q::parse(canonical).unwrap().si_value().to_bits();
    assert_eq!(read.si_value().to_bits(), bits, "{text}");
    // What is written for it is read as the same.
    assert_eq!(Q::parse(&read.written()).unwrap(), read, "{text}");
}

#[test]
fn spellings_of_the_bench() {
    for text in [
        "14 inHg",
        "14 in Hg",
        "14 in. Hg",
        "14\"Hg",
        "14 \u{2033} Hg",
        "14 inches Hg",
        "14 inches of mercury",
    ] {
        same::<GaugePressure>(text, "14 inHg");
    }
    same::<AbsolutePressure>("29 7/8 inHg", "29.875 inHg");
    same::<GaugePressure>("-7,5 psig", "-7.5 psi");
    same::<GaugePressure>("7,5 psi gauge", "7.5 psi");
    same::<AbsolutePressure>("760 mm Hg", "760 mmHg");
    same::<AbsolutePressure>("1013 mbar", "1013 hPa");
    for text in [
        "20 degC",
        "20 \u{b0}C",
        "20 deg C",
        "20\u{2103}",
        "20 \u{b0} C",
    ] {
        same::<ThermodynamicTemperature>(text, "20 C");
        same::<TemperatureInterval>(text, "20 C");
    }
    for text in ["68 degF", "68 \u{b0}F", "68 deg F", "68\u{2109}"] {
        same::<ThermodynamicTemperature>(text, "68 F");
    }
    same::<TemperatureDrift>("0,3 \u{b0}C/min", "0.3 C/min");
    same::<TemperatureDrift>("0.3 degC/min", "0.3 C/min");
}

#[test]
fn spellings_of_sizes() {
    for text in [
        "250 ml",
        "250 mL",
        "250 cc",
        "250 ccm",
        "250 cm3",
        "250 cm\u{b3}",
        "250 cm^3",
        "250cc",
    ] {
        same::<Volume>(text, "250 cm3");
    }
    same::<Mass>("8 oz", "8 oz");
    for text in [
        "1-3/4 in",
        "1 3/4 in",
        "1-3/4\"",
        "1 3/4\u{2033}",
        "1\u{be} in",
        "1 \u{be}\"",
        "7/4 inch",
        "1.75 inches",
        "1,75 in.",
    ] {
        same::<Length>(text, "1.75 in");
    }
    for text in ["3/8 in", "3/8\"", "\u{215c} in", "3\u{2044}8 in"] {
        same::<Length>(text, "0.375 in");
    }
    same::<Pressure>("1/4 psi", "0.25 psi");
    same::<GaugePressure>("\u{2212}6-1/2 psi", "-6.5 psi");
    // A unit that starts with a stroke is none of a fraction's.
    same::<Frequency>("50 1/s", "50 Hz");
    same::<Frequency>("3000 1/min", "3000 rpm");
}

#[test]
fn minutes_and_seconds_of_a_time() {
    for (text, seconds) in [
        ("0:30", "30 s"),
        (":30", "30 s"),
        ("1:00", "60 s"),
        ("01:05", "65 s"),
        ("1:30 min", "90 s"),
        ("90:00", "5400 s"),
        ("1:00:00", "3600 s"),
        ("0:02,5", "2.5 s"),
        ("-0:30", "-30 s"),
        ("1,5 min", "90 s"),
        ("1-1/2 min", "90 s"),
        ("30 sec", "30 s"),
        ("2 minutes", "120 s"),
    ] {
        same::<Time>(text, seconds);
    }
    for text in ["1:00:00:00", "1:30/2", "1:30 2"] {
        let wrong = Time::parse(text).unwrap_err();
        assert!(
            matches!(wrong, ParseQuantityError::NotANumber { .. }),
            "{text}: {wrong}"
        );
    }
    // Nothing else is read so: a compression ratio is none of minutes.
    same::<Ratio>("8.2:1", "8.2");
    assert!(Length::parse("1:30").is_err());
}

#[test]
fn the_last_digit_of_each_spelling() {
    fn half<Q: TradeUnits>(text: &str, half: &str) {
        let got = text::half_of_last_digit::<Q>(text).unwrap().si_value();
        let want = Q::parse(half).unwrap().si_value();
        assert!(
            (got - want).abs() <= f64::EPSILON * want,
            "{text}: {got} {want}"
        );
    }
    half::<Length>("52.0 mm", "0.05 mm");
    half::<Length>("52,0 mm", "0.05 mm");
    half::<Length>("52 mm", "0.5 mm");
    half::<Length>("5.2e1 mm", "0.5 mm");
    // Half of a part of the fraction.
    half::<Length>("1-3/4 in", "0.125 in");
    half::<Length>("\u{215c} in", "0.0625 in");
    half::<Time>("1:30", "0.5 s");
    half::<Time>("1:30.5", "0.05 s");
    half::<TemperatureInterval>("20 degC", "0.5 K");
}

/// What is refused, and what is to be written instead, which is read.
#[test]
fn what_may_mean_two_things_is_refused_with_both() {
    fn refused<Q: TradeUnits>(text: &str, meant: &[&str]) {
        let Err(ParseQuantityError::Unclear { write, .. }) = Q::parse(text) else {
            panic!("{text}: {:?}", Q::parse(text).map(Q::si_value));
        };
        let mut told: Vec<&str> = write.split('`').skip(1).step_by(2).collect();
        assert_eq!(told, meant, "{text}");
        told.retain(|told| !told.starts_with("+-"));
        for told in told {
            assert!(Q::parse(told).is_ok(), "{text}: {told}");
        }
    }
    refused::<Volume>("1,000 cm3", &["1000 cm3", "1.000 cm3"]);
    refused::<Volume>("-12,500e3 cm3", &["-12500e3 cm3", "-12.500e3 cm3"]);
    refused::<Volume>("1,250.5 cm3", &["1250.5 cm3"]);
    refused::<Volume>("1.250,5 cm3", &["1250.5 cm3"]);
    refused::<AbsolutePressure>("101,325,000 mmHg", &["101325000 mmHg"]);
    refused::<AbsolutePressure>("1 013 hPa", &["1013 hPa"]);
    refused::<AbsolutePressure>("101'325 Pa", &["101325 Pa"]);
    refused::<Length>("1-5/4 in", &["2-1/4 in", "2.25 in"]);
    refused::<Length>("1-4/4 in", &["2-0/4 in", "2 in"]);
    refused::<Time>("1:5", &["1:05", "1:50"]);
    refused::<Time>(":5", &["0:05", "0:50"]);
    refused::<Time>("-0:75", &["-1:15"]);
    refused::<Time>("1:75:00", &["135:00"]);
    refused::<Time>("1:30 h", &["1:30", "1:30:00"]);
    refused::<Time>("1 min 30 s", &["90 s"]);
    refused::<Volume>("240-260 cm3", &["250 cm3", "+- 10 cm3"]);
    refused::<Volume>("25O cm3", &["250 cm3"]);
    // No thousands start with a zero, nor end after two digits.
    assert_eq!(
        Length::parse("0,500 mm").unwrap(),
        Length::parse("0.5 mm").unwrap()
    );
    assert_eq!(
        Length::parse("1000,500 mm").unwrap(),
        Length::parse("1000.5 mm").unwrap()
    );
}

#[test]
fn bare_numbers_are_spelled_alike() {
    for (text, value) in [
        ("6.5", 6.5),
        ("6,5", 6.5),
        (" 6-1/2 ", 6.5),
        ("\u{2212}7", -7.0),
        ("1e3", 1e3),
    ] {
        assert_eq!(text::bare_number(text), Ok(value));
    }
    for text in ["1,000", "", "six", "6.5 psi", "0:30", "nan"] {
        assert!(text::bare_number(text).is_err(), "{text}");
    }
}

proptest! {
    #[test]
    fn a_decimal_comma_is_a_point(whole in 0_u32..100_000, decimals in "[0-9]{1,2}|[0-9]{4,6}", minus in any::<bool>(), power in -9_i32..9) {
        let sign = if minus { "-" } else { "" };
        for exponent in [String::new(), format!("e{power}")] {
            let comma = GaugePressure::parse(&format!("{sign}{whole},{decimals}{exponent} psi")).unwrap();
            let point = GaugePressure::parse(&format!("{sign}{whole}.{decimals}{exponent} psi")).unwrap();
            prop_assert_eq!(comma.pascals().to_bits(), point.pascals().to_bits());
        }
    }

    #[test]
    fn three_digits_behind_a_comma_are_refused(whole in 1_u32..1000, decimals in "[0-9]{3}") {
        let number = format!("{whole},{decimals}");
        prop_assert!(text::bare_number(&number).is_err());
        prop_assert!(Volume::parse(&(number + " cm3")).is_err());
    }

    #[test]
    fn a_fraction_is_its_quotient(whole in 0_u32..1000, above in 0_u32..64, power in 1_u32..8) {
        let below = 2_u32.pow(power);
        let above = above % below;
        // Such a quotient has no rounding.
        let decimal = Length::parse(&format!("{} in", f64::from(whole) + f64::from(above)/f64::from(below))).unwrap();
        for text in [format!("{whole}-{above}/{below} in"), format!("{whole} {above}/{below}\""), format!("{}/{below} in", whole * below + above)] {
            prop_assert_eq!(Length::parse(&text).unwrap(), decimal, "{}", text);
        }
    }

    #[test]
    fn minutes_and_seconds_are_seconds(minutes in 0_u32..1000, seconds in 0_u32..60) {
        let total = Time::parse(&format!("{} s", 60 * minutes + seconds)).unwrap();
        prop_assert_eq!(Time::parse(&format!("{minutes}:{seconds:02}")).unwrap(), total);
        prop_assert_eq!(Time::parse(&format!("{}:{:02}:{seconds:02}", minutes/60, minutes % 60)).unwrap(), total);
    }

    #[test]
    fn no_text_of_marks_and_digits_makes_it_panic(text in "[-+\u{2212}0-9.,:/' \u{bd}\u{2044}eEOl\"inshmpC%]{0,16}") {
        let _ = Length::parse(&text);
        let _ = Time::parse(&text);
        let _ = GaugePressure::parse(&text);
        let _ = text::half_of_last_digit::<Time>(&text);
        let _ = text::unit_of::<Time>(&text);
        // What is told to be written instead is read, but for what is refused on other grounds.
        if let Err(error @ ParseQuantityError::Unclear { .. }) = Time::parse(&text) {
            prop_assert!(error.to_string().matches('`').count() >= 4);
        }
        // A bare number is a number of any unit.
        if let Ok(number) = text::bare_number(&text) && number.is_finite() {
            prop_assert_eq!(Ratio::parse(&text).map(Ratio::si_value), Ok(number));
        }
    }
}
