//! Limits and decisions.

use casetight::limit::{Basis, Decision as CoreDecision, Limit as Core, Rule, Verdict};
use casetight::quantity::{
    Area, Pressure, ReferenceConditions, Time, TradeUnits, Volume, VolumeRate,
};
use pyo3::prelude::*;

use crate::errors::Answer;
use crate::restore::{Made, Restored, restore};
use crate::same::by_value;
use crate::scalar::{Given, Si};

/// An acceptance limit. There is no default one.
///
/// Examples
/// --------
/// >>> Limit.max_drop("1 psi", from_pa="7 psi", over_s="1 min")
/// <Limit: drop of at most 1 psi from 7 psi in 60 s>
#[pyclass(frozen, eq, hash, module = "casetight")]
#[derive(Debug)]
pub(crate) struct Limit(pub(crate) Core);

by_value!(Limit: |this| this.0);

#[pymethods]
impl Limit {
    /// The needle may fall by at most a pressure from a pressure [Pa] over a time [s], in the volume under test or, where
    /// one is given, in a volume [m3] that the limit was set for.
    ///
    /// Examples
    /// --------
    /// >>> Limit.max_drop("1 psi", from_pa="7 psi", over_s=60.0, at_volume_m3="250 cm3")
    /// <Limit: drop of at most 1 psi from 7 psi in 60 s at 250 cm3>
    #[staticmethod]
    #[pyo3(signature = (drop_pa, *, from_pa, over_s, at_volume_m3=None))]
    fn max_drop(
        drop_pa: Si<Pressure>,
        from_pa: Si<Pressure>,
        over_s: Si<Time>,
        at_volume_m3: Option<Si<Volume>>,
    ) -> Self {
        Self(Core::Drop {
            drop: drop_pa.0,
            from: from_pa.0,
            over: over_s.0,
            at_volume: at_volume_m3.map(|v| v.0),
        })
    }

    /// The effective area may be at most this [m2].
    ///
    /// Examples
    /// --------
    /// >>> Limit.max_area("0.005 mm2")
    /// <Limit: effective area of at most 5000 um2>
    #[staticmethod]
    fn max_area(area_m2: Si<Area>) -> Self {
        Self(Core::Area(area_m2.0))
    }

    /// The flow at the run's start pressure may be at most this [m3/s], the gas counted at reference conditions: "normal",
    /// "ANR", "ISA", or a temperature and a pressure such as "20 C, 1013.25 hPa".
    ///
    /// Raises
    /// ------
    /// QuantityError
    ///     For a reference that is not understood.
    ///
    /// Examples
    /// --------
    /// >>> Limit.max_flow("30 cm3/min", reference="normal")
    /// <Limit: flow of at most 30 cm3/min>
    #[staticmethod]
    #[pyo3(signature = (flow_m3_s, *, reference))]
    fn max_flow(flow_m3_s: Si<VolumeRate>, reference: Given<String>) -> Answer<Self> {
        Ok(Self(Core::Flow {
            flow: flow_m3_s.0,
            reference: reference.0.parse::<ReferenceConditions>()?,
        }))
    }

    /// The needle must not fall by a readable step for at least a time [s], from a pressure [Pa] or the run's start.
    ///
    /// Examples
    /// --------
    /// >>> Limit.min_hold("2 min")
    /// <Limit: no readable fall for 120 s>
    #[staticmethod]
    #[pyo3(signature = (time_s, *, from_pa=None))]
    fn min_hold(time_s: Si<Time>, from_pa: Option<Si<Pressure>>) -> Self {
        Self(Core::Hold {
            time: time_s.0,
            from: from_pa.map(|p| p.0),
        })
    }

    /// "One psi a minute" from 7 psi in the engine under test: common practice, no source; a maker's manual rules.
    ///
    /// Examples
    /// --------
    /// >>> Limit.one_psi_a_minute()
    /// <Limit: drop of at most 1 psi from 7 psi in 60 s>
    #[staticmethod]
    fn one_psi_a_minute() -> Self {
        Self(Rule::OnePsiAMinute.limit())
    }

    fn __repr__(&self) -> String {
        let psi = |p: Pressure| {
            p.display_in("psi")
                .map_or_else(|_| p.written(), |shown| shown.to_string())
        };
        let told = match self.0 {
            Core::Drop {
                drop,
                from,
                over,
                at_volume,
            } => format!(
                "drop of at most {} from {} in {}{}",
                psi(drop),
                psi(from),
                over.trade(),
                at_volume.map_or(String::new(), |v| format!(" at {}", v.trade()))
            ),
            Core::Area(area) => format!("effective area of at most {}", area.trade()),
            Core::Flow { flow, .. } => format!(
                "flow of at most {}",
                flow.display_in("cm3/min")
                    .map_or_else(|_| flow.written(), |shown| shown.to_string())
            ),
            Core::Hold { time, from } => format!(
                "no readable fall for {}{}",
                time.trade(),
                from.map_or(String::new(), |p| format!(" from {}", psi(p)))
            ),
            _ => "of another kind".to_owned(),
        };
        format!("<Limit: {told}>")
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Restored<'py>> {
        match self.0 {
            Core::Drop {
                drop,
                from,
                over,
                at_volume,
            } => restore(
                py,
                "Limit.max_drop",
                (drop.si_value(),),
                &[
                    ("from_pa", Some(from.si_value())),
                    ("over_s", Some(over.si_value())),
                    ("at_volume_m3", at_volume.map(TradeUnits::si_value)),
                ],
            ),
            Core::Flow { flow, reference } => restore(
                py,
                "Limit.max_flow",
                (flow.si_value(),),
                &[("reference", reference.written())],
            ),
            Core::Hold { time, from } => restore(
                py,
                "Limit.min_hold",
                (time.si_value(),),
                &[("from_pa", from.map(TradeUnits::si_value))],
            ),
            Core::Area(area) => restore::<_, f64>(py, "Limit.max_area", (area.si_value(),), &[]),
            _ => Err(pyo3::exceptions::PyNotImplementedError::new_err(
                "this kind of limit does not travel",
            )),
        }
    }
}

/// The limits given, as the core has them.
pub(crate) fn limits(limits: &Given<Vec<Bound<'_, Limit>>>) -> Vec<Core> {
    limits.0.iter().map(|limit| limit.get().0).collect()
}

/// A verdict's word.
pub(crate) fn word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Holds => "holds",
        Verdict::Leaks => "leaks",
        Verdict::Undecided => "undecided",
        Verdict::Stalled => "stalled",
    }
}

/// A decision against one limit.
#[pyclass(frozen, eq, hash, module = "casetight")]
#[derive(Debug)]
pub(crate) struct Decision {
    pub(crate) core: CoreDecision,
    pub(crate) made: Made,
}

by_value!(Decision: |this| &this.core);

#[pymethods]
impl Decision {
    /// The limit.
    #[getter]
    fn limit(&self) -> Limit {
        Limit(self.core.allowed.limit)
    }

    /// What the limit is stated in: "rate" (the volume's uncertainty doesn't matter) or "area".
    #[getter]
    fn basis(&self) -> &'static str {
        match self.core.allowed.basis {
            Basis::Rate => "rate",
            Basis::Area => "area",
        }
    }

    /// Largest allowed effective area, at the best value of the volume [m2].
    #[getter]
    fn allowed_area_m2(&self) -> f64 {
        self.core.allowed.area_m2
    }

    /// Largest allowed rate k in the volume under test [1/s].
    #[getter]
    fn allowed_rate_per_s(&self) -> f64 {
        self.core.allowed.rate
    }

    /// Probability that the leak is within the limit.
    #[getter]
    fn probability_within(&self) -> f64 {
        self.core.probability_within
    }

    /// "holds", "leaks" or "undecided".
    #[getter]
    fn verdict(&self) -> &'static str {
        word(self.core.verdict)
    }

    fn __repr__(&self) -> String {
        format!(
            "<Decision: {}, {:.3} sure to be within>",
            self.verdict(),
            self.core.probability_within
        )
    }
    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Restored<'py>> {
        self.made.reduce(py)
    }
}
