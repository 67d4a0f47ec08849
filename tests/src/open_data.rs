//! Recorded and digitized data of others, each with its license and provenance beside it in `tests/data/open`.
//!
//! All files are read by a [`ReadingProfile`], as a user would read them.

use std::fs::File;
use std::path::{Path, PathBuf};

use casetight::quantity::AbsolutePressure;
use casetight::readings::Readings;
use casetight_bench::record::{Column, PressureKind, ReadingProfile, Segments, TimeUnit, Trace};

/// The cylinder of the two experiments in `tests/data/open/hyddown`.
pub mod cylinder {
    /// Volume \[m3\]: 0.515 m long, 0.200 m in diameter.
    pub const VOLUME_M3: f64 = 0.016_18;
    /// Diameter of the orifice \[m\].
    pub const ORIFICE_M: f64 = 2.71e-3;
    /// Area of the orifice \[m2\].
    pub const ORIFICE_M2: f64 = std::f64::consts::FRAC_PI_4 * ORIFICE_M * ORIFICE_M;
    /// Ambient pressure \[Pa\]: the mean of the last four points of each experiment, good to about 0.1 kPa.
    pub const AMBIENT_PA: f64 = 100_650.0;
    /// Gas and wall at the start of the fill \[K\].
    pub const FILL_START_K: f64 = 295.0;
    /// Gas and wall at the start of the discharge \[K\].
    pub const DISCHARGE_START_K: f64 = 298.0;
}

/// A chamber's trace from `tests/data/open/zillen2021`. Volume and leak are not known: CdA/V is all that follows.
#[derive(Debug)]
pub struct Chamber {
    /// As logged.
    pub trace: Trace,
    /// Its phases.
    pub segments: Segments,
    /// The readings of the hold.
    pub readings: Readings,
}

fn path(folder: &str, file: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("data/open")
        .join(folder)
        .join(file)
}

fn open(folder: &str, file: &str) -> File {
    let path = path(folder, file);
    File::open(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

fn read(folder: &str, file: &str, profile: &ReadingProfile, ambient_pa: f64) -> Trace {
    let ambient = AbsolutePressure::from_pascals(ambient_pa).unwrap();
    profile
        .read(open(folder, file), Some(ambient))
        .unwrap_or_else(|error| panic!("{folder}/{file}: {error}"))
}

/// Times \[s\] and gauge pressures \[Pa\] of the fill from 3.7 kPa absolute: a vacuum test that leaks fast.
///
/// # Panics
/// If the file is not as it was.
#[must_use]
pub fn hyddown_fill() -> (Vec<f64>, Vec<f64>) {
    points("fill_pressure.csv")
}

/// Times \[s\] and gauge pressures \[Pa\] of the discharge from 790 kPa absolute.
///
/// # Panics
/// If the file is not as it was.
#[must_use]
pub fn hyddown_discharge() -> (Vec<f64>, Vec<f64>) {
    points("discharge_pressure.csv")
}

fn points(file: &str) -> (Vec<f64>, Vec<f64>) {
    let profile = ReadingProfile {
        pressure_unit: "bar".parse().unwrap(),
        pressure_kind: PressureKind::Absolute,
        ..ReadingProfile::new(
            Column::Named("time_s".into()),
            Column::Named("pressure_bar_abs".into()),
        )
    };
    let trace = read("hyddown", file, &profile, cylinder::AMBIENT_PA);
    (trace.time_s, trace.gauge_pa)
}

/// The profile of the chambers' files: microseconds with points between thousands beside bar with decimal points.
///
/// # Panics
/// Never: the unit is known.
#[must_use]
pub fn chamber_profile() -> ReadingProfile {
    ReadingProfile {
        separator: ';',
        header: false,
        time_unit: TimeUnit::Microseconds,
        time_thousands: Some('.'),
        pressure_unit: "bar".parse().unwrap(),
        ..ReadingProfile::new(Column::Number(1), Column::Number(3))
    }
}

/// A chamber, `"machined"` or `"printed_015"`.
///
/// # Panics
/// If there is no such file, or it holds no hold.
#[must_use]
pub fn zillen(name: &str) -> Chamber {
    zillen_by(name, &chamber_profile())
}

/// A chamber read by another profile, such as that of the sensor's volts.
///
/// # Panics
/// As [`zillen`].
#[must_use]
pub fn zillen_by(name: &str, profile: &ReadingProfile) -> Chamber {
    let trace = read("zillen2021", &format!("{name}.csv"), profile, 101_325.0);
    let segments = Segments::of(&trace.time_s, &trace.gauge_pa, None).unwrap();
    let window = segments
        .window()
        .unwrap_or_else(|error| panic!("{name}: {error}"))
        .clone();
    let used = trace.clone().within(&window);
    let ambient = AbsolutePressure::from_pascals(101_325.0).unwrap();
    let readings = Readings::from_si(&used.time_s, &used.gauge_pa, ambient).unwrap();
    Chamber {
        trace,
        segments,
        readings,
    }
}

/// The repeated tests of one chamber, from a start pressure that is not in the file \[mbar\].
///
/// # Panics
/// If there is no such column.
#[must_use]
pub fn zillen_restart(column: &str, start_mbar: f64) -> Trace {
    let profile = ReadingProfile {
        separator: ';',
        decimal: ',',
        pressure_unit: "mbar".parse().unwrap(),
        offset: start_mbar,
        ..ReadingProfile::new(
            Column::Named("Tijd (s)".into()),
            Column::Named(column.into()),
        )
    };
    read("zillen2021", "restarts.csv", &profile, 101_325.0)
}
