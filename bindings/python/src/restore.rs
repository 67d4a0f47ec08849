//! Pickling: each object says which constructor makes it again, so that it travels to other processes.

use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

/// What `__reduce__` gives: a function and its arguments.
pub(crate) type Restored<'py> = (
    Bound<'py, PyAny>,
    (&'static str, Bound<'py, PyTuple>, Bound<'py, PyDict>),
);

/// The constructor of this name in `casetight`, with its arguments.
pub(crate) fn restore<'py, A, V>(
    py: Python<'py>,
    constructor: &'static str,
    arguments: A,
    keywords: &[(&str, V)],
) -> PyResult<Restored<'py>>
where
    A: IntoPyObject<'py, Target = PyTuple, Output = Bound<'py, PyTuple>, Error: Into<PyErr>>,
    V: IntoPyObject<'py> + Clone,
{
    let named = PyDict::new(py);
    for (name, value) in keywords {
        named.set_item(name, value.clone())?;
    }
    let function = py.import("casetight._restore")?.getattr("restore")?;
    let arguments = arguments.into_pyobject(py).map_err(Into::into)?;
    Ok((function, (constructor, arguments, named)))
}
