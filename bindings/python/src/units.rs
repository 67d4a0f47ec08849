//! What carries a unit: quantities of pint, astropy and unyt, columns that name a unit in their attributes, spans of time.
//! Each is converted by its unit or refused; none is taken for a plain number.

use casetight::quantity::{TemperatureInterval, Time, TradeUnits, Unit};
use pyo3::exceptions::PyException;
use pyo3::intern;
use pyo3::prelude::*;
use pyo3::sync::PyOnceLock;
use pyo3::types::{PyBytes, PyFloat, PyInt, PyString};

use crate::errors::{Failure, QuantityError};

/// What to write for dates, which have no zero to count from.
const DATES: &str = "dates, where times in seconds belong; write (t - t[0]) / numpy.timedelta64(1, \"s\") for an array of \
                     them, (t - t.iloc[0]).dt.total_seconds() for a column of pandas";

/// Symbol of a quantity's SI unit.
pub(crate) fn symbol<Q: TradeUnits>() -> &'static str {
    Q::UNITS.first().map_or("", Unit::symbol)
}

/// The SI symbol as all unit libraries read it.
fn spelled(symbol: &str) -> &str {
    match symbol {
        "m2" => "m**2",
        "m3" => "m**3",
        "m3/s" => "m**3/s",
        "kg/m3" => "kg/m**3",
        "Pa m3/s" => "Pa*m**3/s",
        "m3/(s Pa)" => "m**3/(s*Pa)",
        other => other,
    }
}

/// The magnitude in the quantity's SI unit, one or many, of an object that carries a unit; None of one that carries none.
pub(crate) fn magnitude<'py, Q: TradeUnits>(
    object: &Bound<'py, PyAny>,
) -> PyResult<Option<Bound<'py, PyAny>>> {
    let py = object.py();
    if is_plain(object) {
        return Ok(None);
    }
    if let Some(convert) = object.getattr_opt(intern!(py, "m_as"))? {
        // pint.
        let unit = match symbol::<Q>() {
            "" => "dimensionless",
            symbol => spelled(symbol),
        };
        return by_library::<Q>(object, |of| {
            let convert = if of.is(object) {
                convert.clone()
            } else {
                of.getattr("m_as")?
            };
            convert.call1((unit,))
        })
        .map(Some);
    }
    let carried = unit_of(object)?;
    if carried.is_some() && object.hasattr(intern!(py, "to_value"))? {
        return by_library::<Q>(object, in_si::<Q>).map(Some);
    }
    if let Some(found) = time::<Q>(object)? {
        return Ok(Some(found));
    }
    if let Some(inside) = inside(object)?
        && let Some(found) = magnitude::<Q>(&inside)?
    {
        return Ok(Some(found));
    }
    if let Some(unit) = named(object)? {
        return by_name::<Q>(object, &unit).map(Some);
    }
    match carried {
        Some(unit) => Err(Failure::kind(format!(
            "{}: {} carries the unit {unit}, of a library that is not known here; give its number in {}",
            Q::DIMENSION,
            object.get_type().name()?,
            symbol_or_one::<Q>()
        ))
        .into()),
        None => Ok(None),
    }
}

/// Refuses what carries a unit where a plain number belongs.
pub(crate) fn refuse_unit(object: &Bound<'_, PyAny>) -> PyResult<()> {
    if is_plain(object) {
        return Ok(());
    }
    let unit = match unit_of(object)? {
        None => named(object)?,
        found => found,
    };
    match unit {
        None => Ok(()),
        Some(unit) => Err(Failure::kind(format!(
            "a quantity in {unit} where a plain number belongs; convert it to what the argument's name says and give its number"
        ))
        .into()),
    }
}

/// Numbers and text of Python's own carry nothing.
fn is_plain(object: &Bound<'_, PyAny>) -> bool {
    object.is_instance_of::<PyFloat>()
        || object.is_instance_of::<PyInt>()
        || object.is_instance_of::<PyString>()
        || object.is_none()
}

fn symbol_or_one<Q: TradeUnits>() -> &'static str {
    match symbol::<Q>() {
        "" => "1",
        symbol => symbol,
    }
}

/// The unit that an object says it has, by either of the usual names.
fn unit_of(object: &Bound<'_, PyAny>) -> PyResult<Option<String>> {
    let py = object.py();
    for name in [intern!(py, "units"), intern!(py, "unit")] {
        if let Some(unit) = object.getattr_opt(name)?
            && !unit.is_none()
            && !unit.is_callable()
        {
            return Ok(Some(unit.str()?.to_string_lossy().into_owned()));
        }
    }
    Ok(None)
}

/// A conversion by the object's own library; what it refuses is our error, with the library's as its cause.
fn by_library<'py, Q: TradeUnits>(
    object: &Bound<'py, PyAny>,
    convert: impl Fn(&Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>>,
) -> PyResult<Bound<'py, PyAny>> {
    let py = object.py();
    let converted = convert(object).map_err(|cause| {
        if cause.is_instance_of::<PyException>(py) {
            unconvertible::<Q>(object, cause)
        } else {
            cause
        }
    })?;
    // Of a difference, 0.2 degrees Celsius are 0.2 K and not 273.35 K.
    if Q::DIMENSION == TemperatureInterval::DIMENSION {
        let unit = match object.getattr_opt("units")? {
            Some(unit) => unit,
            None => object.getattr("unit")?,
        };
        let nothing = object.get_type().call1((0.0, unit))?;
        if convert(&nothing)?
            .extract::<f64>()
            .is_ok_and(|zero| zero != 0.0)
        {
            return Err(Failure::from(QuantityError::new_err(format!(
                "{}: a difference in {} has no zero to count from; give it in K, or in a unit of differences",
                Q::DIMENSION,
                unit_of(object)?.unwrap_or_default()
            )))
            .into());
        }
    }
    Ok(converted)
}

fn unconvertible<Q: TradeUnits>(object: &Bound<'_, PyAny>, cause: PyErr) -> PyErr {
    let unit = unit_of(object).ok().flatten().unwrap_or_default();
    let raised = QuantityError::new_err(format!(
        "{}: a quantity in {} is none; one in {} is, or in a unit that converts to it",
        Q::DIMENSION,
        if unit.is_empty() { "no unit" } else { &unit },
        symbol_or_one::<Q>()
    ));
    raised.set_cause(object.py(), Some(cause));
    raised
}

/// By astropy's and unyt's `to_value`; astropy takes a temperature for a difference until told otherwise.
fn in_si<'py, Q: TradeUnits>(object: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
    let py = object.py();
    let of_astropy = object.getattr_opt("equivalencies")?.is_some();
    let unit = match (symbol::<Q>(), of_astropy) {
        ("", false) => "dimensionless",
        (symbol, _) => spelled(symbol),
    };
    let convert = object.getattr("to_value")?;
    if of_astropy && Q::DIMENSION == "temperature" {
        let equal = py.import("astropy.units")?.call_method0("temperature")?;
        return convert.call1((unit, equal));
    }
    convert.call1((unit,))
}

/// Spans of time in seconds; dates are refused.
pub(crate) fn time<'py, Q: TradeUnits>(
    object: &Bound<'py, PyAny>,
) -> PyResult<Option<Bound<'py, PyAny>>> {
    let py = object.py();
    let span = object.getattr_opt(intern!(py, "total_seconds"))?;
    let kind = match object.getattr_opt(intern!(py, "dtype"))? {
        Some(dtype) => dtype.getattr_opt(intern!(py, "kind"))?,
        None => None,
    };
    let kind = kind.and_then(|kind| kind.extract::<String>().ok());
    let is_date =
        kind.as_deref() == Some("M") || object.hasattr(intern!(py, "isoformat"))? && span.is_none();
    let is_span = span.is_some() || kind.as_deref() == Some("m");
    if (is_date || is_span) && Q::DIMENSION != Time::DIMENSION {
        return Err(Failure::kind(format!(
            "{}: {} where numbers in {} belong",
            Q::DIMENSION,
            if is_date { "dates" } else { "spans of time" },
            symbol_or_one::<Q>()
        ))
        .into());
    }
    if is_date {
        let of = kind.map_or_else(String::new, |_| {
            let dtype = object.getattr("dtype").and_then(|dtype| dtype.str());
            dtype.map_or_else(|_| String::new(), |dtype| format!(" ({dtype})"))
        });
        return Err(Failure::kind(format!("{}{of}: {DATES}", Q::DIMENSION)).into());
    }
    match span {
        // NumPy's spans first: a column of them has the method too.
        _ if kind.as_deref() == Some("m") => {
            let second = py.import("numpy")?.call_method1("timedelta64", (1, "s"))?;
            as_array(object)?.div(second).map(Some)
        }
        Some(seconds) => seconds.call0().map(Some),
        None => Ok(None),
    }
}

/// What a labeled array wraps: xarray's `data`, the quantity in a column of pint's own type.
fn inside<'py>(object: &Bound<'py, PyAny>) -> PyResult<Option<Bound<'py, PyAny>>> {
    let py = object.py();
    if object.hasattr(intern!(py, "dims"))? {
        return object.getattr_opt(intern!(py, "data"));
    }
    match object.getattr_opt(intern!(py, "array"))? {
        Some(column) if !column.is_callable() => column.getattr_opt(intern!(py, "quantity")),
        _ => Ok(None),
    }
}

/// The unit that an array names in its attributes.
fn named(object: &Bound<'_, PyAny>) -> PyResult<Option<String>> {
    let py = object.py();
    let Some(attributes) = object.getattr_opt(intern!(py, "attrs"))? else {
        return Ok(None);
    };
    for name in ["units", "unit"] {
        if !attributes.contains(name).unwrap_or(false) {
            continue;
        }
        let unit = attributes.get_item(name)?;
        if let Ok(bytes) = unit.cast::<PyBytes>() {
            return Ok(Some(String::from_utf8_lossy(bytes.as_bytes()).into_owned()));
        }
        return Ok(Some(unit.str()?.to_string_lossy().into_owned()));
    }
    Ok(None)
}

/// Numbers in a unit of the trade, by its spelling.
fn by_name<'py, Q: TradeUnits>(
    object: &Bound<'py, PyAny>,
    spelling: &str,
) -> PyResult<Bound<'py, PyAny>> {
    use numpy::{IntoPyArray, PyArrayDyn, PyArrayMethods};
    let unit = Q::unit(spelling).map_err(Failure::from)?;
    let floats = as_array(object)?.call_method1("astype", ("float64",))?;
    let floats = floats
        .cast::<PyArrayDyn<f64>>()?
        .try_readonly()
        .map_err(Failure::shared)?;
    let si = floats.as_array().mapv(|value| unit.to_si(value));
    Ok(si.into_pyarray(object.py()).into_any())
}

/// `numpy.asarray`, looked up once.
pub(crate) fn as_array<'py>(object: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
    static ASARRAY: PyOnceLock<Py<PyAny>> = PyOnceLock::new();
    ASARRAY
        .import(object.py(), "numpy", "asarray")?
        .call1((object,))
}
