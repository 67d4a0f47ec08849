//! Numbers at the door: SI floats, text with a unit, quantities of a unit library, values with an uncertainty.

use casetight::measured::{Distribution, Evaluation, Measurable, Measured};
use casetight::quantity::{TradeUnits, Unit};
use pyo3::exceptions::PyTypeError;
use pyo3::prelude::*;
use pyo3::types::{PyBool, PyFloat, PyString, PyTuple};

use crate::errors::Failure;

/// A quantity given as a float in its SI unit, as text ("7 psi") or as a quantity of a unit library (`m_as`).
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

/// Symbol of a quantity's SI unit.
pub(crate) fn symbol<Q: TradeUnits>() -> &'static str {
    Q::UNITS.first().map_or("", Unit::symbol)
}

/// The SI symbol as unit libraries write it.
pub(crate) fn spelled(symbol: &str) -> &str {
    match symbol {
        "" => "dimensionless",
        "K" => "kelvin",
        "K/s" => "kelvin/s",
        "m2" => "m**2",
        "m3" => "m**3",
        "m3/s" => "m**3/s",
        "kg/m3" => "kg/m**3",
        "W/K" => "W/kelvin",
        "Pa m3/s" => "Pa*m**3/s",
        "m3/(s Pa)" => "m**3/s/Pa",
        other => other,
    }
}

/// The magnitude in the quantity's SI unit, of an object of a unit library.
pub(crate) fn magnitude<'py, Q: TradeUnits>(
    object: &Bound<'py, PyAny>,
) -> PyResult<Option<Bound<'py, PyAny>>> {
    match object.getattr_opt("m_as")? {
        Some(convert) => convert.call1((spelled(symbol::<Q>()),)).map(Some),
        None => Ok(None),
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

/// A number of any type but a truth value, which is a slip of the pen here.
fn plain<Q: TradeUnits>(object: &Bound<'_, PyAny>) -> PyResult<f64> {
    let refused = || {
        let kind = object.get_type().name().map_or_else(
            |_| "this".to_owned(),
            |name| name.to_string_lossy().into_owned(),
        );
        PyTypeError::new_err(format!(
            "{}: {kind} where a number in {}, text such as \"{}\" or a quantity with a unit belongs",
            Q::DIMENSION,
            match symbol::<Q>() {
                "" => "1",
                symbol => symbol,
            },
            Q::from_si_value(1.0).map_or_else(|_| "1".to_owned(), Q::written),
        ))
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
        let (value, uncertainty): (Bound<'_, PyAny>, Bound<'_, PyAny>) =
            pair.extract().map_err(|_| {
                PyTypeError::new_err(format!(
                    "{}: a tuple is a pair of a value and its standard uncertainty",
                    Q::DIMENSION
                ))
            })?;
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
