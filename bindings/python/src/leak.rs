//! Leak laws.

use std::fmt::Debug;
use std::sync::Arc;

use casetight::gas::{Gas as CoreGas, GasState};
use casetight::leak::{
    self as core, EffectiveArea, FlowKind, LeakLaw as Law, Regime as CoreRegime,
};
use casetight::quantity::{
    AbsolutePressure, Area, Length, MassRate, Pressure, Ratio, SonicConductance as Conductance,
    ThermodynamicTemperature, TradeUnits, VolumeRate,
};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};
use uom::si::length::meter;
use uom::si::mass_rate::kilogram_per_second;

use crate::array::{Broadcast, Floats, map};
use crate::errors::Answer;
use crate::gas::{Gas, or_air, state};
use crate::restore::{Made, Restored, named};
use crate::same::by_value;
use crate::scalar::{Given, Si};

/// A law that several objects hold.
#[derive(Debug, Clone)]
pub(crate) struct Shared(Arc<dyn Law + Send + Sync>);

impl Law for Shared {
    fn name(&self) -> &'static str {
        self.0.name()
    }

    fn mass_flow(
        &self,
        gas: &CoreGas,
        upstream: GasState,
        downstream: AbsolutePressure,
    ) -> MassRate {
        self.0.mass_flow(gas, upstream, downstream)
    }

    fn regime(
        &self,
        gas: &CoreGas,
        upstream: GasState,
        downstream: AbsolutePressure,
    ) -> CoreRegime {
        self.0.regime(gas, upstream, downstream)
    }
}

/// A law of mass flow through a leak: what `Orifice`, `SharpEdgedHole`, `SonicConductance`, `Capillary`, `Slot`,
/// `PowerLaw` and `Parallel` have in common. It is not made itself.
#[pyclass(frozen, subclass, eq, hash, module = "casetight")]
#[derive(Debug)]
pub(crate) struct LeakLaw {
    pub(crate) law: Shared,
    /// Repeats all that the law was made of, to the last bit.
    pub(crate) repr: String,
    made: Made,
}

by_value!(LeakLaw: |this| &this.repr);

impl LeakLaw {
    fn of(law: impl Law + Send + Sync + 'static, repr: String, made: Made) -> Self {
        Self {
            law: Shared(Arc::new(law)),
            repr,
            made,
        }
    }
}

/// By the constructor of this name with numbers of these names.
fn of_numbers(name: &'static str, numbers: Vec<(&'static str, f64)>) -> Made {
    Made::by(name, move |py| {
        Ok((PyTuple::empty(py), named(py, &numbers)?))
    })
}

#[pymethods]
impl LeakLaw {
    /// The law's name as sheets and results write it.
    #[getter]
    fn name(&self) -> &'static str {
        self.law.name()
    }

    /// Mass flow [kg/s] from an upstream to a downstream absolute pressure.
    ///
    /// Parameters
    /// ----------
    /// upstream_pa, downstream_pa : float or array_like
    ///     Absolute pressures [Pa], broadcast together. Nothing flows where the downstream one is not the lower.
    /// temperature_k : float or array_like
    ///     Temperature of the gas upstream [K], broadcast with them.
    /// gas : Gas, optional
    ///     Dry air unless stated otherwise.
    ///
    /// Returns
    /// -------
    /// float or ndarray
    ///     NaN where the law needs the gas's viscosity and that is unknown.
    ///
    /// Raises
    /// ------
    /// QuantityError
    ///     For a pressure or temperature that is not valid.
    ///
    /// Examples
    /// --------
    /// >>> hole = Orifice.of_hole(0.1e-3, discharge_coefficient=0.62)
    /// >>> hole.mass_flow_kg_s([150e3, 120e3], 101325.0, temperature_k=293.15).round(9)
    /// array([1.639e-06, 1.026e-06])
    #[pyo3(signature = (upstream_pa, downstream_pa, *, temperature_k, gas=None))]
    fn mass_flow_kg_s<'py>(
        &self,
        py: Python<'py>,
        upstream_pa: Floats<'py, AbsolutePressure>,
        downstream_pa: Floats<'py, AbsolutePressure>,
        temperature_k: Floats<'py, ThermodynamicTemperature>,
        gas: Option<Given<Bound<'py, Gas>>>,
    ) -> Answer<Bound<'py, PyAny>> {
        let gas = or_air(gas.as_ref());
        over_pressures(
            py,
            [&upstream_pa, &downstream_pa, &temperature_k],
            |up, down| {
                let flow = self.law.mass_flow(&gas, up, down);
                Ok(flow.get::<kilogram_per_second>())
            },
        )
    }

    /// Effective area CdA [m2]: that of the ideal orifice (Cd = 1) with the same mass flow.
    ///
    /// Parameters as those of `mass_flow_kg_s`.
    ///
    /// Raises
    /// ------
    /// LeakError
    ///     Where nothing flows, or the viscosity that the law needs is unknown.
    ///
    /// Examples
    /// --------
    /// >>> scratch = Capillary(diameter_m="0.05 mm", length_m="6 mm")
    /// >>> f"{scratch.effective_area_m2(149325.0, 101325.0, temperature_k=293.15):.4g}"
    /// '3.005e-10'
    #[pyo3(signature = (upstream_pa, downstream_pa, *, temperature_k, gas=None))]
    fn effective_area_m2<'py>(
        &self,
        py: Python<'py>,
        upstream_pa: Floats<'py, AbsolutePressure>,
        downstream_pa: Floats<'py, AbsolutePressure>,
        temperature_k: Floats<'py, ThermodynamicTemperature>,
        gas: Option<Given<Bound<'py, Gas>>>,
    ) -> Answer<Bound<'py, PyAny>> {
        let gas = or_air(gas.as_ref());
        over_pressures(
            py,
            [&upstream_pa, &downstream_pa, &temperature_k],
            |up, down| Ok(EffectiveArea::passing(&self.law, &gas, up, down)?.square_meters()),
        )
    }

    /// How the gas flows at one pair of absolute pressures [Pa], and what lies outside the law's range there.
    ///
    /// Examples
    /// --------
    /// >>> flow = Orifice(5e-9).regime("2.5 bar", "1 bar", temperature_k="20 C")
    /// >>> flow.choked, flow.out_of_range
    /// (True, [])
    #[pyo3(signature = (upstream_pa, downstream_pa, *, temperature_k, gas=None))]
    fn regime<'py>(
        slf: &Bound<'py, Self>,
        upstream_pa: Si<AbsolutePressure>,
        downstream_pa: Si<AbsolutePressure>,
        temperature_k: Si<ThermodynamicTemperature>,
        gas: Option<Given<Bound<'py, Gas>>>,
    ) -> Regime {
        let (up, down, kelvins) = (upstream_pa.0, downstream_pa.0, temperature_k.0);
        let law = &slf.get().law;
        let core = law.regime(&or_air(gas.as_ref()), state(up, kelvins), down);
        let (law, gas) = (slf.clone().unbind(), gas.map(|gas| gas.0.unbind()));
        let made = Made::by("LeakLaw.regime", move |py| {
            let named = PyDict::new(py);
            named.set_item("temperature_k", kelvins.si_value())?;
            named.set_item("gas", &gas)?;
            Ok((
                (&law, up.pascals(), down.pascals()).into_pyobject(py)?,
                named,
            ))
        });
        Regime { core, made }
    }

    fn __repr__(&self) -> &str {
        &self.repr
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Restored<'py>> {
        self.made.reduce(py)
    }
}

/// A function of the gas that flows and the pressure that it flows to, over arrays of both pressures and the temperature.
fn over_pressures<'py>(
    py: Python<'py>,
    inputs: [&dyn Broadcast; 3],
    of: impl Fn(GasState, AbsolutePressure) -> Answer<f64> + Send + Sync,
) -> Answer<Bound<'py, PyAny>> {
    map(py, inputs, |[up, down, kelvins]| {
        let temperature = ThermodynamicTemperature::from_si_value(kelvins)?;
        let up = state(AbsolutePressure::from_pascals(up)?, temperature);
        of(up, AbsolutePressure::from_pascals(down)?)
    })
}

/// How the gas flows through a leak; numbers are None where the law has no length to form them with.
#[pyclass(frozen, eq, hash, module = "casetight")]
#[derive(Debug)]
pub(crate) struct Regime {
    core: CoreRegime,
    made: Made,
}

by_value!(Regime: |this| &this.core);

#[pymethods]
impl Regime {
    /// Whether the flow is sonic at the narrowest place.
    #[getter]
    fn choked(&self) -> bool {
        self.core.kind == FlowKind::Choked
    }

    /// Downstream over upstream pressure.
    #[getter]
    fn pressure_ratio(&self) -> f64 {
        self.core.pressure_ratio
    }

    /// Reynolds number of the passage.
    #[getter]
    fn reynolds(&self) -> Option<f64> {
        self.core.reynolds
    }

    /// Mach number where the gas is fastest.
    #[getter]
    fn mach(&self) -> Option<f64> {
        self.core.mach
    }

    /// Mean free path over the smallest width.
    #[getter]
    fn knudsen(&self) -> Option<f64> {
        self.core.knudsen
    }

    /// What lies outside the law's range, one sentence each.
    #[getter]
    fn out_of_range(&self) -> Vec<String> {
        self.core
            .out_of_range
            .iter()
            .map(ToString::to_string)
            .collect()
    }

    fn __repr__(&self) -> String {
        let kind = if self.choked() { "choked" } else { "subsonic" };
        format!(
            "<Regime: {kind}, pressure ratio {:.3}>",
            self.core.pressure_ratio
        )
    }
    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Restored<'py>> {
        self.made.reduce(py)
    }
}

/// An ideal orifice of the effective area CdA [m2]; isentropic nozzle flow, choked and subsonic.
///
/// Raises
/// ------
/// LeakError
///     Unless the area is finite and at least zero.
///
/// Examples
/// --------
/// >>> leak = Orifice("0.005 mm2")
/// >>> f"{leak.diameter_m(0.62) * 1e3:.4f} mm"
/// '0.1013 mm'
#[pyclass(frozen, extends = LeakLaw, module = "casetight")]
#[derive(Debug)]
pub(crate) struct Orifice(EffectiveArea);

impl Orifice {
    fn whole(area: EffectiveArea) -> PyClassInitializer<Self> {
        let repr = format!("Orifice(area_m2={:?})", area.square_meters());
        let made = of_numbers("Orifice", vec![("area_m2", area.square_meters())]);
        PyClassInitializer::from(LeakLaw::of(core::Orifice::new(area), repr, made))
            .add_subclass(Self(area))
    }
}

#[pymethods]
impl Orifice {
    #[new]
    fn new(area_m2: Si<Area>) -> Answer<PyClassInitializer<Self>> {
        Ok(Self::whole(EffectiveArea::new(area_m2.0)?))
    }

    /// The orifice that a round hole of a diameter [m] is with a discharge coefficient: CdA = Cd pi d^2/4.
    ///
    /// Examples
    /// --------
    /// >>> f"{Orifice.of_hole('0.1 mm', discharge_coefficient=0.62).area_m2:.4g}"
    /// '4.869e-09'
    #[staticmethod]
    #[pyo3(signature = (diameter_m, *, discharge_coefficient))]
    fn of_hole(
        py: Python<'_>,
        diameter_m: Si<Length>,
        discharge_coefficient: Si<Ratio>,
    ) -> Answer<Py<Self>> {
        let area = EffectiveArea::of_hole(diameter_m.0, discharge_coefficient.0.si_value())?;
        Ok(Py::new(py, Self::whole(area))?)
    }

    /// Effective area CdA [m2].
    #[getter]
    fn area_m2(&self) -> f64 {
        self.0.square_meters()
    }

    /// Diameter [m] of the round hole of this effective area with a discharge coefficient.
    ///
    /// Examples
    /// --------
    /// >>> round(Orifice(5e-9).diameter_m(0.62), 7)
    /// 0.0001013
    fn diameter_m(&self, discharge_coefficient: Si<Ratio>) -> Answer<f64> {
        Ok(self
            .0
            .diameter(discharge_coefficient.0.si_value())?
            .get::<meter>())
    }
}

/// A class of law whose constructor takes SI quantities and whose repr repeats them.
macro_rules! law {
    ($(#[$doc:meta])* $name:ident($($argument:ident: $quantity:ty),+) => $make:expr) => {
        $(#[$doc])*
        #[pyclass(frozen, extends = LeakLaw, module = "casetight")]
        #[derive(Debug)]
        pub(crate) struct $name;

        #[pymethods]
        impl $name {
            #[new]
            fn new($($argument: Si<$quantity>),+) -> Answer<PyClassInitializer<Self>> {
                let repr = format!(
                    concat!(stringify!($name), "({})"),
                    [$(format!(concat!(stringify!($argument), "={:?}"), $argument.0.si_value())),+].join(", ")
                );
                let numbers = vec![$((stringify!($argument), $argument.0.si_value())),+];
                let make = $make;
                let law = make($($argument.0),+)?;
                let made = of_numbers(stringify!($name), numbers);
                Ok(PyClassInitializer::from(LeakLaw::of(law, repr, made)).add_subclass(Self))
            }
        }
    };
}

law! {
    /// A round sharp-edged hole of a diameter [m], its discharge coefficient following the pressure ratio.
    ///
    /// Raises
    /// ------
    /// LeakError
    ///     Unless the diameter is finite and at least zero.
    ///
    /// Examples
    /// --------
    /// >>> SharpEdgedHole("0.3 mm").name
    /// 'sharp-edged hole'
    SharpEdgedHole(diameter_m: Length) => core::SharpEdgedHole::new
}

law! {
    /// A fitting of a sonic conductance C [m3/(s Pa)] and a critical pressure ratio b, by ISO 6358.
    ///
    /// Raises
    /// ------
    /// LeakError
    ///     Unless b is at least 0 and below 1.
    ///
    /// Examples
    /// --------
    /// >>> SonicConductance("0.1 L/(s bar)", 0.3)
    /// SonicConductance(conductance_m3_s_pa=1e-9, critical_ratio=0.3)
    SonicConductance(conductance_m3_s_pa: Conductance, critical_ratio: Ratio) =>
        |conductance, ratio: Ratio| core::SonicConductanceLaw::new(conductance, ratio.si_value())
}

law! {
    /// A round passage of a diameter and a length [m] in laminar flow.
    ///
    /// Raises
    /// ------
    /// LeakError
    ///     For a length that is not valid.
    ///
    /// Examples
    /// --------
    /// >>> Capillary("0.05 mm", "6 mm").regime(149325.0, 101325.0, temperature_k=293.15).choked
    /// False
    Capillary(diameter_m: Length, length_m: Length) => core::Capillary::new
}

law! {
    /// A flat gap in laminar flow: its width across the flow, its gap and its length along the flow [m].
    ///
    /// Raises
    /// ------
    /// LeakError
    ///     For a length that is not valid.
    ///
    /// Examples
    /// --------
    /// >>> Slot("10 mm", "10 um", "6 mm").name
    /// 'slot'
    Slot(width_m: Length, gap_m: Length, length_m: Length) => core::Slot::new
}

law! {
    /// A power law Q = C dp^n through a known flow [m3/s] at a pressure difference [Pa], n from 0.5 to 1.
    ///
    /// Raises
    /// ------
    /// LeakError
    ///     For a flow, a difference or an exponent that is not valid.
    ///
    /// Examples
    /// --------
    /// >>> PowerLaw("30 cm3/min", "7 psi", 0.65).name
    /// 'power law'
    PowerLaw(flow_m3_s: VolumeRate, difference_pa: Pressure, exponent: Ratio) =>
        |flow, difference, exponent: Ratio| core::PowerLaw::new(flow, difference, exponent.si_value())
}

/// Several leaks side by side: their flows add.
///
/// Examples
/// --------
/// >>> both = Parallel([Orifice(5e-9), Orifice(3e-9)])
/// >>> f"{both.effective_area_m2(150e3, 101325.0, temperature_k=293.15):.3g}"
/// '8e-09'
#[pyclass(frozen, extends = LeakLaw, module = "casetight")]
#[derive(Debug)]
pub(crate) struct Parallel;

#[pymethods]
impl Parallel {
    #[new]
    fn new(laws: Given<Vec<Bound<'_, LeakLaw>>>) -> PyClassInitializer<Self> {
        let laws = laws.0;
        let reprs: Vec<&str> = laws.iter().map(|law| law.get().repr.as_str()).collect();
        let repr = format!("Parallel([{}])", reprs.join(", "));
        let all = laws.iter().fold(core::Parallel::new(), |all, law| {
            all.and(law.get().law.clone())
        });
        let laws: Vec<Py<LeakLaw>> = laws.into_iter().map(Bound::unbind).collect();
        let made = Made::by("Parallel", move |py| {
            let laws = pyo3::types::PyList::new(py, &laws)?;
            Ok(((laws,).into_pyobject(py)?, PyDict::new(py)))
        });
        PyClassInitializer::from(LeakLaw::of(all, repr, made)).add_subclass(Self)
    }
}
