//! What stands for what a sheet does not say, and how long a sheet may be.

/// The format of the sheets that are read and written.
pub const FORMAT: u32 = 1;

/// No name on a sheet, of a run, a site, a part, is longer \[letters\].
pub const LONGEST_NAME: usize = 200;

/// No sheet has more runs.
pub const MOST_RUNS: usize = 10_000;

/// Standard uncertainty of the ambient pressure where none is stated (common practice, no source): that of a household
/// barometer, or of a weather service's value for the place.
pub const PRESSURE_UNCERTAINTY: &str = "100 Pa";

/// Standard uncertainty of the altitude where none is stated (common practice, no source): that of a map's.
pub const ALTITUDE_UNCERTAINTY: &str = "20 m";

/// Standard uncertainty \[Pa\] of the ambient pressure that an altitude alone tells: the weather's (common practice, no source; at one place
/// it stands within 2.5 kPa of its mean on most days).
pub(super) const WEATHER_PA: f64 = 1200.0;

/// Standard uncertainty \[K\] of the air's temperature between the bench and sea level, beside that of the standard atmosphere, which a
/// pressure was reduced with or was not (common practice, no source).
pub(super) const COLUMN_K: f64 = 10.0;

/// Standard uncertainty of the temperature where none is stated (common practice, no source): that of a room thermometer
/// near the case.
pub const TEMPERATURE_UNCERTAINTY: &str = "1 K";

/// Standard uncertainty of the relative humidity where none is stated (common practice, no source): that of a household
/// hygrometer.
pub const HUMIDITY_UNCERTAINTY: &str = "5 %";

/// [`Measured::source`](casetight::measured::Measured::source) of a value whose uncertainty the sheet states.
pub const STATED: &str = "stated on the bench sheet";

/// [`Measured::source`](casetight::measured::Measured::source) of a value whose uncertainty is taken from the digits that it is written with.
pub const LAST_DIGIT: &str = "half the last digit written on the bench sheet";

/// [`Measured::source`](casetight::measured::Measured::source) of a value whose uncertainty is what is usual on a bench.
pub const USUAL: &str = "not stated on the bench sheet, usual on the bench";
