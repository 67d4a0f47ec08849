//! A unit: its spellings, its size, and a number shown in it.

/// A unit of measurement: its spellings and its exact size in the SI unit.
///
/// SI value = `(value + shift) numerator/denominator`; the shift is zero except on temperature scales.
///
/// # Example
/// ```
/// use casetight::quantity::{GaugePressure, TradeUnits};
///
/// let psi = GaugePressure::unit("psi")?;
/// assert!((psi.to_si(7.0) - 48_263.301).abs() < 1e-3);
/// assert_eq!(psi.symbol(), "psi");
/// # Ok::<(), casetight::quantity::ParseQuantityError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unit {
    symbol: &'static str,
    other_spellings: &'static [&'static str],
    shift: f64,
    numerator: f64,
    denominator: f64,
    readable_from: Option<f64>,
    says_kind: bool,
}

impl Unit {
    /// The SI unit of a quantity.
    #[must_use]
    pub const fn si(symbol: &'static str) -> Self {
        Self::new(symbol, 1.0, 1.0)
    }

    /// A unit that is numerator/denominator of the SI unit.
    #[must_use]
    pub const fn new(symbol: &'static str, numerator: f64, denominator: f64) -> Self {
        Self {
            symbol,
            other_spellings: &[],
            // Adding zero would turn -0 into 0; adding -0 changes nothing.
            shift: -0.0,
            numerator,
            denominator,
            readable_from: None,
            says_kind: false,
        }
    }

    /// Other spellings that are read as this unit.
    #[must_use]
    pub const fn also(mut self, spellings: &'static [&'static str]) -> Self {
        self.other_spellings = spellings;
        self
    }

    /// A scale whose zero lies this far, in its own degrees, above the zero of the SI unit.
    #[must_use]
    pub const fn shifted(mut self, shift: f64) -> Self {
        self.shift = shift;
        self
    }

    /// Marks a unit that [`TradeUnits::trade`](crate::quantity::TradeUnits::trade) may choose, for sizes from this one, in the SI unit, up to the next.
    #[must_use]
    pub const fn readable_from(mut self, size: f64) -> Self {
        self.readable_from = Some(size);
        self
    }

    /// Marks a unit that already says what [`TradeUnits::KIND`](crate::quantity::TradeUnits::KIND) would say after it, as psig says gauge.
    #[must_use]
    pub(crate) const fn saying_kind(mut self) -> Self {
        self.says_kind = true;
        self
    }

    /// How the unit is written.
    #[must_use]
    pub fn symbol(&self) -> &'static str {
        self.symbol
    }

    /// The smallest size, in the SI unit, at which this unit reads well.
    pub(super) fn reads_well_from(&self) -> Option<f64> {
        self.readable_from
    }

    /// Whether the unit says the kind of its quantity by itself.
    pub(super) fn says_kind(&self) -> bool {
        self.says_kind
    }

    /// Every spelling that is read as this unit.
    pub(super) fn spellings(&self) -> impl Iterator<Item = &'static str> {
        core::iter::once(self.symbol).chain(self.other_spellings.iter().copied())
    }

    /// A value in the SI unit as it is shown in this one, to so many significant digits.
    ///
    /// ```
    /// use casetight::quantity::{GaugePressure, TradeUnits};
    ///
    /// assert_eq!(GaugePressure::unit("psi")?.shown(48_263.3, 3), "7 psi");
    /// # Ok::<(), casetight::quantity::ParseQuantityError>(())
    /// ```
    #[must_use]
    pub fn shown(&self, si: f64, digits: usize) -> String {
        joined(&significant(self.from_si(si), digits), self.symbol, "")
    }

    /// From a value in this unit to the value in the SI unit.
    #[must_use]
    pub fn to_si(&self, value: f64) -> f64 {
        (value + self.shift) * self.numerator / self.denominator
    }

    /// From a value in the SI unit to the value in this unit.
    #[must_use]
    pub fn from_si(&self, value: f64) -> f64 {
        value * self.denominator / self.numerator - self.shift
    }
}

/// What pressures are told in where nobody says which unit a gauge shows.
pub const KILOPASCAL: Unit = Unit::new("kPa", 1e3, 1.0);

/// Digits of a number in a message.
pub(super) const DIGITS: usize = 4;

/// A pressure \[Pa\] in a message, in a unit.
#[must_use]
pub fn pressure_in(unit: &Unit, pascals: f64) -> String {
    unit.shown(pascals, DIGITS)
}

/// Number, unit and kind, with a space before each that is there.
pub(super) fn joined(number: &str, symbol: &str, kind: &str) -> String {
    let mut text = number.to_owned();
    for part in [symbol, kind].into_iter().filter(|part| !part.is_empty()) {
        text.push(' ');
        text.push_str(part);
    }
    text
}

/// A number to so many significant digits, without trailing zeros: plain from 0.001 to below a million.
pub(super) fn significant(value: f64, digits: usize) -> String {
    let decimals = digits.max(1) - 1;
    let scientific = format!("{value:.decimals$e}");
    // NaN and infinities have no exponent.
    let Some((mantissa, exponent)) = scientific.split_once('e') else {
        return value.to_string();
    };
    let exponent: i32 = exponent.parse().unwrap_or(0);
    if value == 0.0 {
        "0".to_owned()
    } else if (-3..6).contains(&exponent) {
        let decimals =
            usize::try_from(i32::try_from(decimals).unwrap_or(i32::MAX) - exponent).unwrap_or(0);
        without_trailing_zeros(&format!("{value:.decimals$}")).to_owned()
    } else {
        format!("{}e{exponent}", without_trailing_zeros(mantissa))
    }
}

fn without_trailing_zeros(number: &str) -> &str {
    if number.contains('.') {
        number.trim_end_matches('0').trim_end_matches('.')
    } else {
        number
    }
}
