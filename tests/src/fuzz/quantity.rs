//! Quantities as text: what is read is written so that it reads as the same bits, and shown so that it reads as nearly the same.

use casetight::quantity::{
    AbsolutePressure, Angle, Area, GaugePressure, Length, Mass, Pressure, Ratio,
    ReferenceConditions, TemperatureDrift, TemperatureInterval, ThermodynamicTemperature, Time,
    TradeUnits, Volume, VolumeRate,
};

use super::{Fault, ensure, readable};

/// Four digits are shown, so the last is off by half at most: 5e-4 of a number that begins with 1 is the largest share.
const SHOWN: f64 = 5.1e-4;

/// Any text as each kind of quantity.
///
/// # Errors
/// What is wrong with an answer.
pub fn invariant(bytes: &[u8]) -> Result<(), Fault> {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return Ok(());
    };
    of::<AbsolutePressure>(text)?;
    of::<Angle>(text)?;
    of::<Area>(text)?;
    of::<GaugePressure>(text)?;
    of::<Length>(text)?;
    of::<Mass>(text)?;
    of::<Pressure>(text)?;
    of::<Ratio>(text)?;
    of::<TemperatureDrift>(text)?;
    of::<TemperatureInterval>(text)?;
    of::<ThermodynamicTemperature>(text)?;
    of::<Time>(text)?;
    of::<Volume>(text)?;
    of::<VolumeRate>(text)?;
    match text.parse::<ReferenceConditions>() {
        Ok(read) => {
            let again = read.to_string().parse::<ReferenceConditions>();
            ensure(again.is_ok(), || {
                format!("`{read}` of `{text}` does not read")
            })
        }
        Err(error) => refused(text, &error),
    }
}

/// A refusal quotes the text as it is, so it can be read where the text can.
fn refused(text: &str, error: &impl std::fmt::Display) -> Result<(), Fault> {
    if casetight_bench::printable::line(text) == text {
        readable(error)
    } else {
        ensure(!error.to_string().is_empty(), || {
            format!("`{text}` is refused without a word")
        })
    }
}

fn of<Q: TradeUnits>(text: &str) -> Result<(), Fault> {
    let read = match Q::parse(text) {
        Ok(read) => read,
        Err(error) => return refused(text, &error),
    };
    let value = read.si_value();
    let wrong = |what: &str| format!("{} `{text}`, {value:e} in SI: {what}", Q::DIMENSION);
    ensure(value.is_finite(), || wrong("not finite"))?;
    let written = read.written();
    let again = Q::parse(&written).map(Q::si_value);
    ensure(
        again
            .as_ref()
            .is_ok_and(|again| again.to_bits() == value.to_bits()),
        || wrong(&format!("written as `{written}`, read again as {again:?}")),
    )?;
    let shown = read.trade().to_string();
    let again = Q::parse(&shown).map(Q::si_value);
    // A temperature near absolute zero is some -273 C, to four digits.
    let zero = if Q::DIMENSION == ThermodynamicTemperature::DIMENSION {
        273.15
    } else {
        0.0
    };
    let near = SHOWN * value.abs().max(zero);
    ensure(
        again
            .as_ref()
            .is_ok_and(|again| (again - value).abs() <= near),
        || wrong(&format!("shown as `{shown}`, read again as {again:?}")),
    )
}
