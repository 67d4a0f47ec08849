//! The core's errors as Python exceptions, one class a family, each with the core's message.

use casetight::{
    assess, compare, fit, gas, gauge, leak, limit, locate, measured, mixture, plan, pump, quantity,
    record, running, session, sheet, vessel, volume,
};
use casetight_report::ReportError;
use pyo3::exceptions::{PyMemoryError, PyValueError};
use pyo3::prelude::*;
use pyo3::{CastError, create_exception};

create_exception!(
    casetight,
    Error,
    PyValueError,
    "What all errors of casetight are: a value that can't be, and what would be right."
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
        Self(error.into())
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
            $(module.add(stringify!($name), py.get_type::<$name>())?;)+
            Ok(())
        }
    };
}

families! {
    QuantityError: "A quantity that can't be, or text that states none.",
        quantity::QuantityError, quantity::ParseQuantityError;
    MeasuredError: "A value or its uncertainty that can't be.", measured::MeasuredError;
    GasError: "A gas that can't be.", gas::GasError;
    LeakError: "A leak's size that can't be.", leak::LeakError;
    VolumeError: "A volume that can't be, or a method that can't give one.",
        volume::VolumeError, volume::PistonError;
    VesselError: "A vessel that can't be.", vessel::VesselError;
    GaugeError: "A gauge that can't be.", gauge::GaugeError;
    ReadingsError: "Readings that can't be those of one run.", record::ReadingsError;
    FitError: "What keeps readings from being fitted.", fit::FitError;
    LimitError: "A limit that can't be.", limit::LimitError;
    PumpError: "A pump or a stall that can't be.", pump::PumpError;
    PlanError: "A test that can't be planned.", plan::PlanError;
    RunningError: "Running conditions that can't be, or a sheet that can't tell what its leaks do to the running engine.",
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
