//! Numbers at the door: SI floats, text with a unit, quantities of a unit library, values with an uncertainty.

use casetight::measured::{Distribution, Evaluation, Measurable, Measured};
use casetight::quantity::{TemperatureDrift, TradeUnits};
use casetight::readings::Touched;
use pyo3::prelude::*;
use pyo3::types::{PyBool, PyFloat, PyString, PyTuple};

use crate::errors::{Failure, ours};
use crate::units::{magnitude, refuse_unit, symbol};

/// A quantity given as a float in its SI unit, as text ("7 psi") or as something that carries a unit ([`crate::units`]).
#[derive(Debug, Clone, Copy)]
pub(crate) struct Si<Q>(pub(crate) Q);

impl<'py, Q: TradeUnits> FromPyObject<'_, 'py> for Si<Q> {
    type Error = PyErr;

    fn extract(object: Borrowed<'_, 'py, PyAny>) -> PyResult<Self> {
        quantity(&object).map(Self).map_err(PyErr::from)
    }
}

/// A quantity, exact or with its standard uncertainty: what [`Si`] takes, a pair of two such, or an object with
/// `nominal_value` and `std_dev`.
#[derive(Debug, Clone)]
pub(crate) struct Uncertain<Q>(pub(crate) Measured<Q>);

impl<'py, Q> FromPyObject<'_, 'py> for Uncertain<Q>
where
    Q: TradeUnits + Measurable<Spread: TradeUnits>,
{
    type Error = PyErr;

    fn extract(object: Borrowed<'_, 'py, PyAny>) -> PyResult<Self> {
        measured(&object).map(Self).map_err(PyErr::from)
    }
}

fn quantity<Q: TradeUnits>(object: &Bound<'_, PyAny>) -> Result<Q, Failure> {
    if let Ok(float) = object.cast_exact::<PyFloat>() {
        return Ok(Q::from_si_value(float.value())?);
    }
    if let Ok(text) = object.cast::<PyString>() {
        return Ok(Q::parse(text.to_cow()?.as_ref())?);
    }
    if let Some(magnitude) = magnitude::<Q>(object)? {
        return Ok(Q::from_si_value(plain::<Q>(&magnitude)?)?);
    }
    Ok(Q::from_si_value(plain::<Q>(object)?)?)
}

/// An argument of a kind that the function asks for; another kind is our error.
#[derive(Debug)]
pub(crate) struct Given<T>(pub(crate) T);

impl<'a, 'py, T: FromPyObject<'a, 'py>> FromPyObject<'a, 'py> for Given<T> {
    type Error = PyErr;

    fn extract(object: Borrowed<'a, 'py, PyAny>) -> PyResult<Self> {
        T::extract(object)
            .map(Self)
            .map_err(|error| ours(object.py(), error.into()))
    }
}

/// A number that has no unit of its own, or one that its argument's name says: what carries another is refused.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Plain(pub(crate) f64);

impl<'py> FromPyObject<'_, 'py> for Plain {
    type Error = PyErr;

    fn extract(object: Borrowed<'_, 'py, PyAny>) -> PyResult<Self> {
        refuse_unit(&object)?;
        let number = object.extract();
        number.map(Self).map_err(|error| ours(object.py(), error))
    }
}

/// A drift of the temperature that was measured, exact or in a pair with its standard uncertainty.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Drift(pub(crate) (TemperatureDrift, TemperatureDrift));

impl<'py> FromPyObject<'_, 'py> for Drift {
    type Error = PyErr;

    fn extract(object: Borrowed<'_, 'py, PyAny>) -> PyResult<Self> {
        if let Some(value) = object.getattr_opt("nominal_value")? {
            let spread = object.getattr("std_dev")?;
            return Self::new(quantity(&value)?, quantity(&spread)?);
        }
        let Ok(pair) = object.cast::<PyTuple>() else {
            return Self::new(quantity(&object)?, TemperatureDrift::ZERO);
        };
        let (value, spread) = of_pair(&pair, TemperatureDrift::DIMENSION)?;
        Self::new(quantity(&value)?, quantity(&spread)?)
    }
}

impl Drift {
    fn new(drift: TemperatureDrift, uncertainty: TemperatureDrift) -> PyResult<Self> {
        let spread = uncertainty.kelvins_per_second();
        if spread < 0.0 {
            return Err(Failure::new(format!(
                "the drift's standard uncertainty is {spread} K/s; it must not be below zero"
            ))
            .into());
        }
        Ok(Self((drift, uncertainty)))
    }
}

/// The two of a pair.
fn of_pair<'py>(
    pair: &Bound<'py, PyTuple>,
    dimension: &str,
) -> PyResult<(Bound<'py, PyAny>, Bound<'py, PyAny>)> {
    pair.extract().map_err(|_| {
        Failure::kind(format!(
            "{dimension}: a tuple is a pair of a value and its standard uncertainty"
        ))
        .into()
    })
}

/// A number of any type but a truth value, which is a slip of the pen here.
fn plain<Q: TradeUnits>(object: &Bound<'_, PyAny>) -> PyResult<f64> {
    let refused = || -> PyErr {
        let kind = object.get_type().name().map_or_else(
            |_| "this".to_owned(),
            |name| name.to_string_lossy().into_owned(),
        );
        Failure::kind(format!(
            "{}: {kind} where a number in {}, text such as \"{}\" or a quantity with a unit belongs",
            Q::DIMENSION,
            match symbol::<Q>() {
                "" => "1",
                symbol => symbol,
            },
            Q::from_si_value(1.0).map_or_else(|_| "1".to_owned(), Q::written),
        ))
        .into()
    };
    if object.is_instance_of::<PyBool>() {
        return Err(refused());
    }
    object.extract().map_err(|_| refused())
}

fn measured<Q>(object: &Bound<'_, PyAny>) -> Result<Measured<Q>, Failure>
where
    Q: TradeUnits + Measurable<Spread: TradeUnits>,
{
    let normal = Evaluation::TypeB(Distribution::Normal);
    if let Ok(pair) = object.cast::<PyTuple>() {
        let (value, uncertainty) = of_pair(pair, Q::DIMENSION)?;
        return Ok(Measured::new(
            quantity(&value)?,
            quantity(&uncertainty)?,
            normal,
        )?);
    }
    if !object.is_exact_instance_of::<PyFloat>() && !object.is_instance_of::<PyString>() {
        let of_units = magnitude::<Q>(object)?;
        let object = of_units.as_ref().unwrap_or(object);
        if let Some(value) = object.getattr_opt("nominal_value")? {
            let spread = object.getattr("std_dev")?;
            return Ok(Measured::new(
                quantity(&value)?,
                quantity(&spread)?,
                normal,
            )?);
        }
        return Ok(Measured::exact(quantity(object)?)?);
    }
    Ok(Measured::exact(quantity(object)?)?)
}

/// Value and standard uncertainty in SI units.
pub(crate) fn pair<Q: Measurable>(measured: &Measured<Q>) -> (f64, f64) {
    (
        measured.value().si(),
        Q::spread_si(measured.standard_uncertainty()),
    )
}

/// What a thermometer touches, by its word.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Thermometer(pub(crate) Touched);

impl Thermometer {
    pub(crate) fn word(self) -> &'static str {
        let known = Touched::WORDS
            .iter()
            .find(|(_, touched)| *touched == self.0);
        known.map_or("nearby", |(word, _)| word)
    }
}

impl<'py> FromPyObject<'_, 'py> for Thermometer {
    type Error = PyErr;

    fn extract(object: Borrowed<'_, 'py, PyAny>) -> PyResult<Self> {
        let given = object.extract::<String>().ok();
        let known = Touched::WORDS
            .iter()
            .find(|(word, _)| given.as_deref() == Some(*word));
        known.map(|(_, touched)| Self(*touched)).ok_or_else(|| {
            let words: Vec<String> = Touched::WORDS
                .iter()
                .map(|(word, _)| format!("\"{word}\""))
                .collect();
            Failure::new(format!("a thermometer is one of {}", words.join(", "))).into()
        })
    }
}
