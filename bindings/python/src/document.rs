//! Results as documents: one schema, the core's, for Python dictionaries, JSON and notebooks.

use pyo3::IntoPyObjectExt;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyFloat, PyList, PyString};
use serde::Serialize;
use serde_json::Value;

use crate::errors::{Answer, Failure};
use crate::restore::{Made, Restored};
use crate::same::by_value;

impl From<serde_json::Error> for Failure {
    fn from(error: serde_json::Error) -> Self {
        Self::new(error.to_string())
    }
}

/// The document of something.
pub(crate) fn value(document: &impl Serialize) -> Answer<Value> {
    Ok(serde_json::to_value(document)?)
}

/// The document as Python objects.
pub(crate) fn to_python<'py>(py: Python<'py>, value: &Value) -> PyResult<Bound<'py, PyAny>> {
    Ok(match value {
        Value::Null => py.None().into_bound(py),
        Value::Bool(value) => value.into_bound_py_any(py)?,
        Value::Number(number) => match (number.as_i64(), number.as_u64()) {
            (Some(whole), _) => whole.into_bound_py_any(py)?,
            (_, Some(whole)) => whole.into_bound_py_any(py)?,
            _ => PyFloat::new(py, number.as_f64().unwrap_or(f64::NAN)).into_any(),
        },
        Value::String(text) => PyString::new(py, text).into_any(),
        Value::Array(values) => {
            let list = PyList::empty(py);
            for value in values {
                list.append(to_python(py, value)?)?;
            }
            list.into_any()
        }
        Value::Object(entries) => {
            let dict = PyDict::new(py);
            for (key, value) in entries {
                dict.set_item(key, to_python(py, value)?)?;
            }
            dict.into_any()
        }
    })
}

/// The document as JSON text; `indent` for people, one line for machines.
pub(crate) fn to_json(value: &Value, indent: bool) -> Answer<String> {
    Ok(if indent {
        serde_json::to_string_pretty(value)?
    } else {
        serde_json::to_string(value)?
    })
}

/// Text that HTML shows as it stands.
fn escaped(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
}

/// Text as the value of an attribute in double quotes.
pub(crate) fn in_attribute(text: &str) -> String {
    escaped(text).replace('"', "&quot;")
}

/// A table of names and values for a notebook.
pub(crate) fn table(caption: &str, rows: &[(&str, String)]) -> String {
    let cell = "style=\"text-align:left;white-space:pre-wrap\"";
    let rows: Vec<String> = rows
        .iter()
        .map(|(name, value)| {
            let (name, value) = (escaped(name), escaped(value));
            format!("<tr><th scope=\"row\" {cell}>{name}</th><td {cell}>{value}</td></tr>")
        })
        .collect();
    let rows = rows.concat();
    format!(
        "<table><caption>{}</caption>{rows}</table>",
        escaped(caption)
    )
}

/// A document of the command line program: its keys are those of `--json`.
///
/// Examples
/// --------
/// >>> plan = Sheet.read(demo / "string-trimmer-6.toml").plan()
/// >>> plan["plans"][0]["direction"]
/// 'pressure'
#[pyclass(frozen, mapping, eq, hash, module = "casetight")]
#[derive(Debug)]
pub(crate) struct Document {
    kind: &'static str,
    value: Value,
    made: Made,
}

by_value!(Document: |this| (this.kind, &this.value));

impl Document {
    pub(crate) fn new(kind: &'static str, document: &impl Serialize, made: Made) -> Answer<Self> {
        Ok(Self {
            kind,
            value: value(document)?,
            made,
        })
    }
}

#[pymethods]
impl Document {
    /// What it is a document of: "plan", "isolate" or "compare".
    #[getter]
    fn kind(&self) -> &'static str {
        self.kind
    }

    fn __getitem__<'py>(&self, py: Python<'py>, key: &str) -> PyResult<Bound<'py, PyAny>> {
        let entry = self.value.get(key);
        to_python(py, entry.ok_or_else(|| Failure::missing(key))?)
    }

    fn __len__(&self) -> usize {
        self.value.as_object().map_or(0, serde_json::Map::len)
    }

    fn __contains__(&self, key: &str) -> bool {
        self.value.get(key).is_some()
    }

    /// The names of its entries.
    fn keys(&self) -> Vec<&str> {
        let entries = self.value.as_object();
        entries.map_or_else(Vec::new, |e| e.keys().map(String::as_str).collect())
    }

    /// The whole as a dictionary of plain Python objects.
    ///
    /// Examples
    /// --------
    /// >>> Sheet.read(demo / "string-trimmer-6.toml").plan().to_dict()["format"]
    /// 1
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, &self.value)
    }

    /// The whole as JSON text.
    ///
    /// Examples
    /// --------
    /// >>> Sheet.read(demo / "string-trimmer-6.toml").plan().to_json()[:10]
    /// '{"format":'
    #[pyo3(signature = (*, indent=false))]
    fn to_json(&self, indent: bool) -> Answer<String> {
        to_json(&self.value, indent)
    }

    fn __repr__(&self) -> String {
        format!("<Document: {} with {}>", self.kind, self.keys().join(", "))
    }

    fn _repr_html_(&self) -> Answer<String> {
        let mut rows = Vec::new();
        for (key, entry) in self.value.as_object().into_iter().flatten() {
            rows.push((key.as_str(), to_json(entry, true)?));
        }
        Ok(table(self.kind, &rows))
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Restored<'py>> {
        self.made.reduce(py)
    }
}
