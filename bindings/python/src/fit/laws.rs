//! The laws that a caller wants tried, and how sure the intervals are to be.

use casetight::fit::{CANDIDATES, Candidate};
use casetight::quantity::{Ratio, TradeUnits};
use pyo3::prelude::*;
use pyo3::types::{PyList, PyString};

use crate::errors::{Failure, ours};
use crate::scalar::{Plain, Si};
use crate::vessel::{DecayLaw, NamedLaw};

/// Laws to try, each alone or with its prior probability.
#[derive(Debug)]
pub(crate) struct Laws(pub(crate) Vec<Candidate>);

impl<'py> FromPyObject<'_, 'py> for Laws {
    type Error = PyErr;

    fn extract(object: Borrowed<'_, 'py, PyAny>) -> PyResult<Self> {
        // A name is a sequence too, of letters.
        if object.is_instance_of::<DecayLaw>() || object.is_instance_of::<PyString>() {
            let law = object.extract::<NamedLaw>()?;
            return Ok(Self(vec![Candidate::certain(law.0)]));
        }
        let mut candidates = Vec::new();
        let entries = object.try_iter();
        for entry in entries.map_err(|error| ours(object.py(), error))? {
            let entry = entry?;
            let (law, prior) = match entry.extract::<(NamedLaw, Plain)>() {
                Ok((law, prior)) => (law, prior.0),
                Err(_) => (entry.extract::<NamedLaw>()?, 1.0),
            };
            if !(prior.is_finite() && prior > 0.0) {
                return Err(Failure::new(format!(
                    "the prior probability {prior} of the law \"{}\" is not a finite number above zero",
                    law.0.name()
                ))
                .into());
            }
            candidates.push(Candidate { law: law.0, prior });
        }
        if candidates.is_empty() {
            return Err(
                Failure::new("no law to try; leave `laws` out to try the usual ones").into(),
            );
        }
        Ok(Self(candidates))
    }
}

impl Laws {
    /// The laws given, as a list of pairs of each and its prior probability; None where none were.
    pub(super) fn as_given<'py>(
        py: Python<'py>,
        laws: &[Candidate],
    ) -> PyResult<Bound<'py, PyList>> {
        let pairs = laws.iter().map(|c| (DecayLaw(c.law), c.prior));
        PyList::new(
            py,
            pairs
                .map(|pair| pair.into_pyobject(py))
                .collect::<PyResult<Vec<_>>>()?,
        )
    }

    /// The laws given, or those that are tried otherwise.
    pub(crate) fn or_usual(laws: Option<Self>) -> Vec<Candidate> {
        laws.map_or_else(|| CANDIDATES.to_vec(), |laws| laws.0)
    }
}

/// The confidence level given, or the usual one.
pub(crate) fn level_or_usual(level: Option<Si<Ratio>>) -> f64 {
    level.map_or(casetight_bench::assess::LEVEL, |level| level.0.si_value())
}
