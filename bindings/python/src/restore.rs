//! Pickling: each object says how it is made again, by a constructor, a method or an attribute of the package, so that it
//! travels to other processes. A result travels as what it was reckoned from, and is reckoned again to the last bit.

use std::fmt;
use std::sync::Arc;

use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

/// What `__reduce__` gives: a function and its arguments.
pub(crate) type Restored<'py> = (
    Bound<'py, PyAny>,
    (
        &'static str,
        Bound<'py, PyTuple>,
        Bound<'py, PyDict>,
        &'static str,
    ),
);

/// Arguments without and with a name.
type Given<'py> = (Bound<'py, PyTuple>, Bound<'py, PyDict>);

/// How an object was made.
#[derive(Clone)]
pub(crate) struct Made {
    name: &'static str,
    given: Arc<dyn for<'py> Fn(Python<'py>) -> PyResult<Given<'py>> + Send + Sync>,
}

impl fmt::Debug for Made {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name)
    }
}

impl Made {
    /// By a call of this name, whose arguments are gathered when they are asked for.
    pub(crate) fn by(
        name: &'static str,
        given: impl for<'py> Fn(Python<'py>) -> PyResult<Given<'py>> + Send + Sync + 'static,
    ) -> Self {
        Self {
            name,
            given: Arc::new(given),
        }
    }

    /// As an attribute of an object, or by a method of it without arguments.
    pub(crate) fn of<T>(name: &'static str, parent: &Bound<'_, T>) -> Self {
        let parent = parent.clone().into_any().unbind();
        Self::by(name, move |py| {
            Ok((PyTuple::new(py, [&parent])?, PyDict::new(py)))
        })
    }

    /// As one of several that an attribute holds, or with another argument of a method.
    pub(crate) fn at<T, K>(name: &'static str, parent: &Bound<'_, T>, place: K) -> Self
    where
        K: for<'py> IntoPyObject<'py> + Clone + Send + Sync + 'static,
    {
        let parent = parent.clone().into_any().unbind();
        Self::by(name, move |py| {
            Ok(((&parent, place.clone()).into_pyobject(py)?, PyDict::new(py)))
        })
    }

    /// By a method with another object.
    pub(crate) fn with<T, U>(
        name: &'static str,
        parent: &Bound<'_, T>,
        other: Option<Bound<'_, U>>,
    ) -> Self {
        let parent = parent.clone().into_any().unbind();
        let other = other.map(|other| other.into_any().unbind());
        Self::by(name, move |py| {
            Ok(((&parent, &other).into_pyobject(py)?, PyDict::new(py)))
        })
    }

    pub(crate) fn reduce<'py>(&self, py: Python<'py>) -> PyResult<Restored<'py>> {
        let (arguments, named) = (self.given)(py)?;
        reduced(py, self.name, arguments, named)
    }
}

/// Named arguments.
pub(crate) fn named<'py, V>(py: Python<'py>, keywords: &[(&str, V)]) -> PyResult<Bound<'py, PyDict>>
where
    V: IntoPyObject<'py> + Clone,
{
    let named = PyDict::new(py);
    for (name, value) in keywords {
        named.set_item(name, value.clone())?;
    }
    Ok(named)
}

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
    let arguments = arguments.into_pyobject(py).map_err(Into::into)?;
    reduced(py, constructor, arguments, named(py, keywords)?)
}

fn reduced<'py>(
    py: Python<'py>,
    name: &'static str,
    arguments: Bound<'py, PyTuple>,
    named: Bound<'py, PyDict>,
) -> PyResult<Restored<'py>> {
    let function = py.import("casetight._restore")?.getattr("restore")?;
    let version = env!("CARGO_PKG_VERSION");
    Ok((function, (name, arguments, named, version)))
}
