//! Python bindings of casetight: they convert, delegate and name errors. Physics and statistics are the core's.
//!
//! Docstrings are written for Python readers: NumPy style, with units and an example each.
#![forbid(unsafe_code)]
#![allow(
    clippy::needless_pass_by_value,
    clippy::too_many_arguments,
    clippy::fn_params_excessive_bools,
    clippy::type_complexity,
    clippy::doc_link_with_quotes,
    reason = "what Python calls takes its arguments by value, and as many as it has names; brackets in docstrings are Python's"
)]

mod array;
mod assess;
mod batch;
mod document;
mod errors;
mod estimate;
mod fit;
mod gas;
mod gauge;
mod leak;
mod limit;
mod mixture;
mod pool;
mod report;
mod restore;
mod same;
mod scalar;
mod sheet;
mod units;
mod vessel;
mod volume;

use pyo3::prelude::*;

/// The compiled part of `casetight`.
#[pymodule]
#[pyo3(name = "_core")]
fn core(module: &Bound<'_, PyModule>) -> PyResult<()> {
    errors::register(module)?;
    module.add("__version__", env!("CARGO_PKG_VERSION"))?;
    module.add_class::<gas::Gas>()?;
    module.add_class::<leak::LeakLaw>()?;
    module.add_class::<leak::Regime>()?;
    module.add_class::<leak::Orifice>()?;
    module.add_class::<leak::SharpEdgedHole>()?;
    module.add_class::<leak::SonicConductance>()?;
    module.add_class::<leak::Capillary>()?;
    module.add_class::<leak::Slot>()?;
    module.add_class::<leak::PowerLaw>()?;
    module.add_class::<leak::Parallel>()?;
    module.add_class::<vessel::DecayLaw>()?;
    module.add_class::<vessel::Decay>()?;
    module.add_class::<vessel::ThermalVessel>()?;
    module.add_class::<gauge::Gauge>()?;
    module.add_class::<gauge::Bench>()?;
    module.add_class::<volume::TestedVolume>()?;
    module.add_class::<volume::Engine>()?;
    module.add_class::<estimate::Estimate>()?;
    module.add_class::<fit::LawWeight>()?;
    module.add_class::<fit::Fit>()?;
    module.add_class::<limit::Limit>()?;
    module.add_class::<limit::Decision>()?;
    module.add_class::<assess::RunAssessment>()?;
    module.add_class::<sheet::Sheet>()?;
    module.add_class::<sheet::Session>()?;
    module.add_class::<mixture::Mixture>()?;
    module.add_class::<mixture::LeanShift>()?;
    module.add_class::<report::Report>()?;
    module.add_class::<document::Document>()?;
    module.add_function(wrap_pyfunction!(vessel::decay_gauge_pa, module)?)?;
    module.add_function(wrap_pyfunction!(fit::fit, module)?)?;
    module.add_function(wrap_pyfunction!(assess::assess, module)?)?;
    module.add_function(wrap_pyfunction!(batch::fit_many, module)?)?;
    module.add_function(wrap_pyfunction!(batch::result_schema, module)?)?;
    // The package says what is public.
    module.delattr("__all__")
}
