//! The core's errors as Python exceptions, one class a family, each with the core's message.

use casetight::{fit, gas, gauge, leak, limit, measured, quantity, readings, vessel, volume};
use casetight_bench::{assess, compare, locate, mixture, plan, pump, running, session, sheet};
use casetight_report::ReportError;
use pyo3::exceptions::{
    PyIndexError, PyKeyError, PyMemoryError, PyOverflowError, PyTypeError, PyValueError,
};
use pyo3::prelude::*;
use pyo3::sync::PyOnceLock;
use pyo3::types::{PyDict, PyTuple, PyType};
use pyo3::{CastError, create_exception};

create_exception!(
    casetight,
    Error,
    PyValueError,
    "What all errors of casetight are: a value that is not valid, and what would be right."
);

/// What a function of this binding may fail with: ready for Python.
#[derive(Debug)]
pub(crate) struct Failure(PyErr);

/// The result of a function of this binding.
pub(crate) type Answer<T> = Result<T, Failure>;

impl From<Failure> for PyErr {
    fn from(failure: Failure) -> Self {
        failure.0
    }
}

impl From<PyErr> for Failure {
    fn from(error: PyErr) -> Self {
        Self(error)
    }
}

impl From<CastError<'_, '_>> for Failure {
    fn from(error: CastError<'_, '_>) -> Self {
        Self(Python::attach(|py| ours(py, error.into())))
    }
}

impl From<std::collections::TryReserveError> for Failure {
    fn from(error: std::collections::TryReserveError) -> Self {
        Self(PyMemoryError::new_err(error.to_string()))
    }
}

impl Failure {
    /// An error of this binding's own, that no family of the core has.
    pub(crate) fn new(message: impl Into<String>) -> Self {
        Self(Error::new_err(message.into()))
    }

    /// A value of a kind that can't be used there.
    pub(crate) fn kind(message: impl Into<String>) -> Self {
        Self::of(argument_error, message.into())
    }

    /// Something that is asked for by name or place, and is not there.
    pub(crate) fn missing(message: impl Into<String>) -> Self {
        Self::of(missing_error, message.into())
    }

    fn of(class: fn(Python<'_>) -> PyResult<&Bound<'_, PyType>>, message: String) -> Self {
        Python::attach(|py| match class(py) {
            Ok(class) => Self(PyErr::from_type(class.clone(), message)),
            Err(error) => Self(error),
        })
    }
}

/// An error of Python's own about an argument, as one of ours with the same message; any other as it is.
pub(crate) fn ours(py: Python<'_>, error: PyErr) -> PyErr {
    if error.is_instance_of::<Error>(py) {
        return error;
    }
    let told = || error.value(py).to_string();
    let raised: PyErr = if error.is_instance_of::<PyTypeError>(py) {
        Failure::kind(told()).into()
    } else if error.is_instance_of::<PyValueError>(py)
        || error.is_instance_of::<PyOverflowError>(py)
    {
        Failure::new(told()).into()
    } else {
        return error;
    };
    raised.set_cause(py, Some(error));
    raised
}

/// `ArgumentError`: ours, and a `TypeError`.
fn argument_error(py: Python<'_>) -> PyResult<&Bound<'_, PyType>> {
    static CLASS: PyOnceLock<Py<PyType>> = PyOnceLock::new();
    let doc = "A value of a kind that can't be used there, and what can; a ``TypeError`` too.";
    let bases = (py.get_type::<Error>(), py.get_type::<PyTypeError>());
    let made = CLASS.get_or_try_init(py, || {
        class(py, "ArgumentError", doc, bases.into_pyobject(py)?)
    });
    made.map(|class| class.bind(py))
}

/// `MissingError`: ours, and a `KeyError` and an `IndexError`.
fn missing_error(py: Python<'_>) -> PyResult<&Bound<'_, PyType>> {
    static CLASS: PyOnceLock<Py<PyType>> = PyOnceLock::new();
    let doc = "Something that is asked for by name or place, and is not there; a ``KeyError`` and an ``IndexError`` too.";
    let bases = (
        py.get_type::<Error>(),
        py.get_type::<PyKeyError>(),
        py.get_type::<PyIndexError>(),
    );
    let made = CLASS.get_or_try_init(py, || {
        class(py, "MissingError", doc, bases.into_pyobject(py)?)
    });
    made.map(|class| class.bind(py))
}

/// A class of several bases, which says its message as it stands.
fn class(py: Python<'_>, name: &str, doc: &str, bases: Bound<'_, PyTuple>) -> PyResult<Py<PyType>> {
    let members = PyDict::new(py);
    members.set_item("__module__", "casetight")?;
    members.set_item("__doc__", doc)?;
    members.set_item("__str__", py.get_type::<PyValueError>().getattr("__str__")?)?;
    let made = py.get_type::<PyType>().call1((name, bases, members))?;
    Ok(made.cast_into::<PyType>()?.unbind())
}

/// An exception class for each family, its conversion, and its registration.
macro_rules! families {
    ($($name:ident: $doc:literal, $($core:ty),+;)+) => {
        $(
            create_exception!(casetight, $name, Error, $doc);
            $(impl From<$core> for Failure {
                fn from(error: $core) -> Self {
                    Self($name::new_err(error.to_string()))
                }
            })+
        )+

        /// Adds all classes to the module.
        pub(crate) fn register(module: &Bound<'_, PyModule>) -> PyResult<()> {
            let py = module.py();
            module.add("Error", py.get_type::<Error>())?;
            module.add("SheetError", py.get_type::<SheetError>())?;
            module.add("ArgumentError", argument_error(py)?)?;
            module.add("MissingError", missing_error(py)?)?;
            $(module.add(stringify!($name), py.get_type::<$name>())?;)+
            Ok(())
        }
    };
}

families! {
    QuantityError: "A quantity that is not valid, or text that states none.",
        quantity::QuantityError, quantity::ParseQuantityError;
    MeasuredError: "A value or its uncertainty that is not valid.", measured::MeasuredError;
    GasError: "A gas that is not valid.", gas::GasError;
    LeakError: "A leak's size that is not valid.", leak::LeakError;
    VolumeError: "A volume that is not valid, or a method that can't give one.",
        volume::VolumeError, volume::PistonError;
    VesselError: "A vessel that is not valid.", vessel::VesselError;
    GaugeError: "A gauge that is not valid.", gauge::GaugeError;
    ReadingsError: "Readings that can't be those of one run.", readings::ReadingsError, readings::CourseError;
    FitError: "What keeps readings from being fitted.", fit::FitError;
    LimitError: "A limit that is not valid.", limit::LimitError;
    PumpError: "A pump or a stall that is not valid.", pump::PumpError;
    PlanError: "A test that can't be planned.", plan::PlanError;
    RunningError: "Running conditions that are not valid, or a sheet that can't tell what its leaks do to the running engine.",
        running::RunningError;
    AssessError: "What keeps a run from being assessed.", assess::AssessError;
    SessionError: "What keeps a sheet from being assessed; it names the run.", session::SessionError;
    CompareError: "Sheets or runs that can't be compared.", compare::CompareError, compare::SheetsError;
    LocateError: "What keeps a sheet's runs from telling the leaking place.", locate::LocateError;
}

impl From<mixture::MixtureError> for Failure {
    fn from(error: mixture::MixtureError) -> Self {
        match error {
            mixture::MixtureError::Session(source) => source.into(),
            other => Self(RunningError::new_err(other.to_string())),
        }
    }
}

impl From<ReportError> for Failure {
    fn from(error: ReportError) -> Self {
        match error {
            ReportError::Session(source) => source.into(),
            ReportError::Before(source) => source.into(),
            other => Self::new(other.to_string()),
        }
    }
}

create_exception!(
    casetight,
    SheetError,
    Error,
    "A bench sheet that can't be read or written.\n\nAttributes ``file``, ``key``, ``line`` and ``column`` say where; the \
     last two are None where the text has no such place."
);

impl From<sheet::SheetError> for Failure {
    fn from(error: sheet::SheetError) -> Self {
        let raised = SheetError::new_err(error.to_string());
        let place = error.position();
        let told = Python::attach(|py| -> PyResult<()> {
            let value = raised.value(py);
            value.setattr("file", error.file())?;
            value.setattr("key", error.key())?;
            value.setattr("line", place.map(|p| p.line))?;
            value.setattr("column", place.map(|p| p.column))
        });
        Self(told.err().unwrap_or(raised))
    }
}
