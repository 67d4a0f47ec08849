//! Profiles of foreign files: what they read, and what they refuse.

use proptest::prelude::*;

use super::*;

fn numbered(time: usize, pressure: usize) -> ReadingProfile {
    ReadingProfile {
        header: false,
        ..ReadingProfile::new(Column::Number(time), Column::Number(pressure))
    }
}

fn named(time: &str, pressure: &str) -> ReadingProfile {
    ReadingProfile::new(Column::Named(time.into()), Column::Named(pressure.into()))
}

fn ambient() -> Option<AbsolutePressure> {
    AbsolutePressure::from_pascals(100_000.0).ok()
}

#[track_caller]
fn reads(profile: &ReadingProfile, bytes: &[u8], times: &[f64], gauges: &[f64]) {
    let trace = profile
        .read(bytes, ambient())
        .unwrap_or_else(|error| panic!("{error}"));
    let near = |got: &[f64], expected: &[f64]| {
        got.len() == expected.len()
            && got
                .iter()
                .zip(expected)
                .all(|(a, b)| (a - b).abs() <= 1e-9 * b.abs().max(1.0))
    };
    assert!(
        near(&trace.time_s, times),
        "{:?} is not {times:?}",
        trace.time_s
    );
    assert!(
        near(&trace.gauge_pa, gauges),
        "{:?} is not {gauges:?}",
        trace.gauge_pa
    );
}

/// Microseconds with points between thousands, pressures with decimal points.
#[test]
fn thousands_in_times() {
    let thousands = ReadingProfile {
        separator: ';',
        time_unit: TimeUnit::Microseconds,
        time_thousands: Some('.'),
        pressure_unit: "bar".parse().unwrap(),
        ..numbered(1, 3)
    };
    reads(
        &thousands,
        b"0.000;3.8;7.652\r\n1.003.000;3.7;7.651",
        &[0.0, 1.003],
        &[765_200.0, 765_100.0],
    );
}

/// Decimal commas and thousands points in one column; the true minus.
#[test]
fn decimal_commas() {
    let german = ReadingProfile {
        separator: ';',
        decimal: ',',
        pressure_thousands: Some('.'),
        time_unit: TimeUnit::Minutes,
        ..named("zeit", "druck")
    };
    let text = "Druck ; Zeit\n-1.234,5;0\n\u{2212}12,5;0,5\n1.000.000;1\n";
    reads(
        &german,
        text.as_bytes(),
        &[0.0, 30.0, 60.0],
        &[-1234.5, -12.5, 1e6],
    );
}

/// Runs of spaces, a preamble, comments of another kind, hours.
#[test]
fn columns_parted_by_spaces() {
    let spaces = ReadingProfile {
        separator: ' ',
        comment: "//".to_owned(),
        skip_rows: 2,
        time_unit: TimeUnit::Hours,
        pressure_unit: "kPa".parse().unwrap(),
        ..named("t", "p")
    };
    reads(
        &spaces,
        b"\xFF;\"\nbench 2\n  t    p\n// x\n  0  48.0\n0.5     47.5\n",
        &[0.0, 1800.0],
        &[48e3, 47.5e3],
    );
}

/// Absolute, below ambient.
#[test]
fn absolute_pressures() {
    let absolute = ReadingProfile {
        pressure_unit: "mbar".parse().unwrap(),
        pressure_kind: PressureKind::Absolute,
        time_unit: TimeUnit::Milliseconds,
        ..numbered(1, 2)
    };
    reads(
        &absolute,
        b"0,500\n250,501.5\n",
        &[0.0, 0.25],
        &[-50e3, -49_850.0],
    );
}

/// A sensor of 0.5 to 4.5 V for 0 to 2 bar.
#[test]
fn volts_of_a_sensor() {
    let volts = ReadingProfile {
        pressure_unit: "bar".parse().unwrap(),
        scale: 0.5,
        offset: -0.25,
        separator: '\t',
        ..numbered(2, 1)
    };
    reads(&volts, b"0.5\t0\n4.5\t1\n", &[0.0, 1.0], &[0.0, 2e5]);
}

/// Dates, from the first on.
#[test]
fn dates_are_counted_from_the_first() {
    let dates = ReadingProfile {
        time_unit: TimeUnit::Date,
        ..named("when", "pa")
    };
    reads(
        &dates,
        b"when,pa\n2024-12-31T23:59:59.75Z,5\n2025-01-01 00:00:01Z,4\n",
        &[0.0, 1.25],
        &[5.0, 4.0],
    );
}

#[test]
fn each_encoding_is_read() {
    let text = "t;\u{b5}bar;\u{b0}C\n0;5;20,5\n1;4;20,6\n";
    let latin: Vec<u8> = text.chars().map(|letter| letter as u8).collect();
    let utf16: Vec<u8> = "\u{feff}"
        .encode_utf16()
        .chain(text.encode_utf16())
        .flat_map(u16::to_le_bytes)
        .collect();
    let marked = [b"\xEF\xBB\xBF", text.as_bytes()].concat();
    for (encoding, bytes) in [
        (TextEncoding::Utf8, text.as_bytes()),
        (TextEncoding::Utf8, &marked),
        (TextEncoding::Latin1, &latin),
        (TextEncoding::Utf16Le, &utf16),
    ] {
        let profile = ReadingProfile {
            encoding,
            separator: ';',
            decimal: ',',
            temperature: Some(Column::Named("\u{b0}C".into())),
            temperature_unit: "C".parse().ok(),
            ..named("t", "\u{b5}BAR")
        };
        let trace = profile
            .read(bytes, None)
            .unwrap_or_else(|error| panic!("{encoding:?}: {error}"));
        assert_eq!(trace.gauge_pa, [5.0, 4.0], "{encoding:?}");
        let kelvins = trace.temperature_k.unwrap();
        assert!((kelvins[1] - 293.75).abs() < 1e-9, "{kelvins:?}");
    }
    // The wrong one is told.
    let error = named("t", "p").read(&utf16[..], None).unwrap_err();
    assert!(error.to_string().contains("looks like UTF-16"), "{error}");
    let error = named("t", "p").read(&latin[..], None).unwrap_err();
    assert!(
        error.to_string().contains("byte 2 (line 1) is not UTF-8"),
        "{error}"
    );
}

#[test]
fn repeated_times_and_empty_cells() {
    let file = b"t,p\n0,8\n1,7\n1,5\n1,6\n2,\n3,4\n";
    let strict = named("t", "p");
    let error = strict.read(&file[..], None).unwrap_err();
    assert_eq!(
        error,
        TraceError::RepeatedTime {
            line: 4,
            time_s: 1.0
        }
    );
    assert!(
        error.to_string().contains("repeated_times = \"mean\""),
        "{error}"
    );
    let mean = ReadingProfile {
        repeated_times: RepeatedTimes::Mean,
        ..strict
    };
    let error = mean.read(&file[..], None).unwrap_err();
    assert_eq!(error.line(), Some(6), "{error}");
    let lenient = ReadingProfile {
        empty_cells: EmptyCells::Skip,
        ..mean
    };
    reads(&lenient, file, &[0.0, 1.0, 3.0], &[8.0, 6.0, 4.0]);
    assert_eq!(lenient.line_of_reading(&file[..], None, 2), Some(3));
    assert_eq!(lenient.line_of_reading(&file[..], None, 3), Some(7));
    assert_eq!(lenient.line_of_reading(&file[..], None, 4), None);
}

#[test]
#[rustfmt::skip] // one case, one line
fn a_foreign_file_at_fault_says_line_and_remedy() {
    let commas = ReadingProfile { separator: ';', decimal: ',', pressure_thousands: Some('.'), ..named("t", "p") };
    let points = named("t", "p");
    let dates = ReadingProfile { time_unit: TimeUnit::Date, ..points.clone() };
    for (profile, text, line, said) in [
        (&points, "", None, "no table below the lines that the profile skips"),
        (&points, "t,p\n", Some(1), "no readings below"),
        (&points, "t;p\n0;1\n", Some(1), "no column t among `t;p`; are the profile's separator"),
        (&points, "t,p,P\n0,1,2\n", Some(1), "both p and P are there"),
        (&points, "t,p\n0,1\n2\n", Some(3), "1 field(s) and no column p; if the logger was cut off"),
        (&points, "t,p\n0,x\n", Some(2), "column p: `x` is not a finite number with `.` as its decimal mark; correct it"),
        (&points, "t,p\n0,inf\n", Some(2), "`inf` is not a finite number"),
        (&points, "t,p\n0,\"1,5\"\n", Some(2), "`1,5` is not a finite number with `.`"),
        (&commas, "t;p\n0;1.5\n", Some(2), "`1.5` is not a finite number with `,` as its decimal mark and `.` between groups of three digits"),
        (&commas, "t;p\n0;1.0000\n", Some(2), "`1.0000` is not"),
        (&commas, "t;p\n0;1,000.5\n", Some(2), "`1,000.5` is not"),
        (&commas, "t;p\n0.5;1\n", Some(2), "column t: `0.5` is not"),
        (&dates, "t,p\n01.05.2024 12:00:00,1\n", Some(2), "is not a date and time such as 2024-05-01T12:34:56.789"),
    ] {
        let error = profile.read(text.as_bytes(), None).unwrap_err();
        let words = error.to_string();
        assert_eq!(error.line(), line, "{text}: {words}");
        assert!(words.contains(said), "{text}: {words}");
    }
    let beyond = numbered(1, 5);
    let error = ReadingProfile { header: true, ..beyond.clone() }.read(&b"t,p\n0,1\n"[..], None).unwrap_err();
    assert!(error.to_string().contains("no column 5 among `\u{2026} | \u{2026}`"), "{error}");
    let error = beyond.read(&b"0,1\n"[..], None).unwrap_err();
    assert!(error.to_string().contains("line 1: 2 field(s) and no column 5"), "{error}");
}

/// A profile with one change is refused at a key, in words.
#[track_caller]
fn refuses(change: impl Fn(&mut ReadingProfile), key: &str, said: &str) {
    let mut profile = named("t", "p");
    change(&mut profile);
    let error = profile.check().unwrap_err();
    assert_eq!(error.key(), key, "{error}");
    assert!(error.to_string().contains(said), "{error}");
    assert_eq!(
        profile.read(&b"t,p\n0,1\n"[..], None),
        Err(TraceError::Profile(error))
    );
}

#[test]
fn a_profile_that_contradicts_itself_is_refused() {
    refuses(|p| p.separator = '5', "separator", "can't part columns");
    refuses(
        |p| p.separator = '\u{a7}',
        "separator",
        "can't part columns",
    );
    refuses(|p| p.decimal = ';', "decimal", "write \".\" or \",\"");
    let said = "both separator and decimal mark";
    refuses(|p| p.decimal = ',', "separator", said);
    let said = "can't be told";
    refuses(
        |p| p.pressure_thousands = Some('.'),
        "pressure_thousands",
        said,
    );
    refuses(|p| p.time_thousands = Some(','), "time_thousands", said);
    refuses(|p| p.scale = 0.0, "scale", "a scale not zero");
    refuses(|p| p.offset = f64::INFINITY, "offset", "must be finite");
    let said = "write the column's number";
    refuses(|p| p.header = false, "time", said);
    refuses(|p| *p = numbered(0, 1), "time", "counted from 1");
    refuses(|p| *p = numbered(2, 2), "pressure", "both column 2");
    let absolute = ReadingProfile {
        pressure_kind: PressureKind::Absolute,
        ..named("t", "p")
    };
    let error = absolute.read(&b"t,p\n0,1\n"[..], None).unwrap_err();
    assert_eq!(error, TraceError::Profile(ProfileError::NoAmbient));
}

#[test]
fn a_profile_travels_as_text() {
    let short: ReadingProfile = serde_json::from_str(r#"{"time": 1, "pressure": "p"}"#).unwrap();
    assert_eq!(
        short,
        ReadingProfile::new(Column::Number(1), Column::Named("p".into()))
    );
    let profile = ReadingProfile {
        encoding: TextEncoding::Utf16Le,
        separator: '\t',
        time_unit: TimeUnit::Date,
        time_thousands: Some('\''),
        pressure_unit: "inHg".parse().unwrap(),
        pressure_kind: PressureKind::Absolute,
        temperature: Some(Column::Number(4)),
        temperature_unit: "F".parse().ok(),
        repeated_times: RepeatedTimes::Mean,
        empty_cells: EmptyCells::Skip,
        ..short
    };
    let text = toml::to_string(&profile).unwrap();
    assert_eq!(
        toml::from_str::<ReadingProfile>(&text).unwrap(),
        profile,
        "{text}"
    );
    let wrong = serde_json::from_str::<ReadingProfile>(
        r#"{"time": 1, "pressure": 2, "presure_unit": "bar"}"#,
    );
    assert!(
        wrong
            .unwrap_err()
            .to_string()
            .contains("unknown field `presure_unit`")
    );
    let kind = serde_json::from_str::<ReadingProfile>(
        r#"{"time": 1, "pressure": 2, "pressure_unit": "psia"}"#,
    );
    assert!(kind.unwrap_err().to_string().contains("write psi"));
}

fn any_profile() -> impl Strategy<Value = ReadingProfile> {
    let mark = prop::sample::select(vec![',', ';', '.', '\t', ' ', '|', '\'', '5', '"']);
    let encoding = prop::sample::select(vec![
        TextEncoding::Utf8,
        TextEncoding::Utf16Le,
        TextEncoding::Latin1,
    ]);
    let unit = prop::sample::select(TimeUnit::NAMES.map(|(_, unit)| unit).to_vec());
    let column = || {
        prop_oneof![
            (0_usize..4).prop_map(Column::Number),
            "[tp]".prop_map(Column::Named),
        ]
    };
    (
        (mark.clone(), mark.clone(), prop::option::of(mark)),
        (encoding, unit, any::<bool>(), 0_u64..3),
        (column(), column(), prop::option::of(column())),
        (any::<bool>(), any::<bool>()),
    )
        .prop_map(
            |(
                (separator, decimal, thousands),
                (encoding, time_unit, header, skip_rows),
                columns,
                (mean, skip),
            )| {
                let (time, pressure, temperature) = columns;
                ReadingProfile {
                    encoding,
                    separator,
                    decimal,
                    time_thousands: thousands,
                    pressure_thousands: thousands,
                    time_unit,
                    header,
                    skip_rows,
                    temperature,
                    repeated_times: if mean {
                        RepeatedTimes::Mean
                    } else {
                        RepeatedTimes::Error
                    },
                    empty_cells: if skip {
                        EmptyCells::Skip
                    } else {
                        EmptyCells::Error
                    },
                    ..ReadingProfile::new(time, pressure)
                }
            },
        )
}

proptest! {
    #[test]
    fn any_bytes_in_any_profile_are_answered(
        profile in any_profile(),
        bytes in prop_oneof![
            prop::collection::vec(any::<u8>(), 0..200),
            "[tp0-9.,;'\t\n -]{0,100}".prop_map(String::into_bytes),
        ],
    ) {
        if let Ok(trace) = profile.read(&bytes[..], ambient()) {
            prop_assert!(!trace.time_s.is_empty());
            prop_assert_eq!(trace.time_s.len(), trace.gauge_pa.len());
            prop_assert!(trace.time_s.iter().chain(&trace.gauge_pa).all(|value| value.is_finite()));
            if let Some(kelvins) = trace.temperature_k {
                prop_assert_eq!(kelvins.len(), trace.time_s.len());
            }
        }
    }

    #[test]
    fn what_is_written_with_marks_is_read(
        numbers in prop::collection::vec((0_u32..1_000_000_000, 0_u32..1000), 1..30),
    ) {
        let grouped = |whole: u32| {
            let digits = whole.to_string();
            let groups: Vec<&str> = digits.as_bytes().rchunks(3).rev().map(|g| std::str::from_utf8(g).unwrap()).collect();
            groups.join(".")
        };
        let rows: Vec<String> = numbers
            .iter()
            .enumerate()
            .map(|(row, (whole, thousandths))| format!("{row};{},{thousandths:03}", grouped(*whole)))
            .collect();
        let profile = ReadingProfile {
            separator: ';',
            decimal: ',',
            pressure_thousands: Some('.'),
            ..numbered(1, 2)
        };
        let trace = profile.read(rows.join("\n").as_bytes(), None).unwrap();
        for (got, (whole, thousandths)) in trace.gauge_pa.iter().zip(numbers) {
            let expected: f64 = format!("{whole}.{thousandths:03}").parse().unwrap();
            prop_assert_eq!(*got, expected);
        }
    }
}
