//! Gases.

use casetight::gas::{Gas as Core, GasState};
use casetight::quantity::{
    AbsolutePressure, DynamicViscosity, Ratio, ThermodynamicTemperature, TradeUnits,
};
use casetight_bench::sheet::{Sheet, TestGas};
use pyo3::prelude::*;
use uom::si::dynamic_viscosity::pascal_second;

use crate::array::{Floats, map};
use crate::errors::Answer;
use crate::restore::{Restored, restore};
use crate::same::by_value;
use crate::scalar::{Given, Plain, Si};

/// What the gas of the caller's own constants is called.
const OWN: &str = "own gas";

/// A perfect gas.
///
/// Parameters
/// ----------
/// specific_gas_constant : float
///     R [J/(kg K)], above zero; dry air has 287.055.
/// heat_capacity_ratio : float
///     gamma, 1.01 to 1.67; air has 1.4.
/// viscosity_pa_s, viscosity_at_k, viscosity_exponent : float, optional
///     mu_r [Pa s] at T_r [K] and n of mu = mu_r (T/T_r)^n; without them laws that need the viscosity raise.
///
/// Raises
/// ------
/// GasError
///     For a number that no gas has.
///
/// Examples
/// --------
/// >>> argon = Gas(208.13, 5 / 3, viscosity_pa_s=22.3e-6, viscosity_at_k=293.15, viscosity_exponent=0.8)
/// >>> round(argon.critical_pressure_ratio, 3)
/// 0.487
/// >>> Gas.named("helium")
/// Gas.named('helium')
#[pyclass(frozen, eq, hash, module = "casetight")]
#[derive(Debug)]
pub(crate) struct Gas {
    pub(crate) core: Core,
    recipe: Recipe,
}

by_value!(Gas: |this| this.core);

/// How the gas was made: for its repr, and to make it again elsewhere.
#[derive(Debug, Clone, Copy)]
enum Recipe {
    Named,
    Own(f64, f64, Option<(f64, f64, f64)>),
    Humid(f64, f64, f64),
}

/// The gas given, or dry air.
pub(crate) fn or_air(gas: Option<&Given<Bound<'_, Gas>>>) -> Core {
    gas.map_or_else(Core::dry_air, |gas| gas.0.get().core)
}

/// Gas at a pressure and a temperature.
pub(crate) fn state(pressure: AbsolutePressure, temperature: ThermodynamicTemperature) -> GasState {
    GasState {
        pressure,
        temperature,
    }
}

impl Gas {
    pub(crate) fn known(core: Core) -> Self {
        Self {
            core,
            recipe: Recipe::Named,
        }
    }

    /// A gas of a sheet, made as a caller would make it; none for dry air.
    pub(crate) fn of_sheet(sheet: &Sheet, core: Core) -> Answer<Option<Self>> {
        if core == Core::dry_air() {
            return Ok(None);
        }
        if Core::known().contains(&core) {
            return Ok(Some(Self::known(core)));
        }
        let temperature = sheet.ambient.temperature.value();
        Ok(match (&sheet.gas, &sheet.ambient.humidity) {
            (TestGas::Given(given), _) => {
                let (r, gamma) = (core.specific_gas_constant(), core.heat_capacity_ratio());
                let core =
                    Core::new(OWN, r, gamma)?.with_viscosity(given.viscosity, temperature, 0.0)?;
                let viscosity = (given.viscosity.si_value(), temperature.si_value(), 0.0);
                let recipe = Recipe::Own(r, gamma, Some(viscosity));
                Some(Self { core, recipe })
            }
            (_, Some(humidity)) => {
                let recipe = Recipe::Humid(
                    humidity.value().si_value(),
                    sheet.ambient_pressure()?.value().si_value(),
                    temperature.si_value(),
                );
                Some(Self { core, recipe })
            }
            _ => None,
        })
    }
}

#[pymethods]
impl Gas {
    #[new]
    #[pyo3(signature = (specific_gas_constant, heat_capacity_ratio, *, viscosity_pa_s=None, viscosity_at_k=None, viscosity_exponent=None))]
    fn new(
        specific_gas_constant: Plain,
        heat_capacity_ratio: Plain,
        viscosity_pa_s: Option<Plain>,
        viscosity_at_k: Option<Si<ThermodynamicTemperature>>,
        viscosity_exponent: Option<Plain>,
    ) -> Answer<Self> {
        let (specific_gas_constant, heat_capacity_ratio) =
            (specific_gas_constant.0, heat_capacity_ratio.0);
        let (viscosity_pa_s, viscosity_exponent) = (
            viscosity_pa_s.map(|mu| mu.0),
            viscosity_exponent.map(|n| n.0),
        );
        let core = Core::new(OWN, specific_gas_constant, heat_capacity_ratio)?;
        let (core, viscosity) = match (viscosity_pa_s, viscosity_at_k, viscosity_exponent) {
            (None, None, None) => (core, None),
            (Some(mu), Some(at), Some(exponent)) => (
                core.with_viscosity(DynamicViscosity::new::<pascal_second>(mu), at.0, exponent)?,
                Some((mu, at.0.si_value(), exponent)),
            ),
            _ => {
                return Err(crate::errors::Failure::new(
                    "a viscosity takes all three: viscosity_pa_s, viscosity_at_k and viscosity_exponent",
                ));
            }
        };
        Ok(Self {
            core,
            recipe: Recipe::Own(specific_gas_constant, heat_capacity_ratio, viscosity),
        })
    }

    /// Dry air.
    ///
    /// Examples
    /// --------
    /// >>> round(Gas.dry_air().specific_gas_constant, 3)
    /// 287.055
    #[staticmethod]
    fn dry_air() -> Self {
        Self::known(Core::dry_air())
    }

    /// A gas by its name: "dry air", "nitrogen", "helium", "argon", "carbon dioxide" or "propane".
    ///
    /// Raises
    /// ------
    /// GasError
    ///     For another name; the message lists the known ones.
    ///
    /// Examples
    /// --------
    /// >>> Gas.named("nitrogen").name
    /// 'nitrogen'
    #[staticmethod]
    fn named(name: Given<String>) -> Answer<Self> {
        Ok(Self::known(Core::named(&name.0)?))
    }

    /// Air of a relative humidity (0 to 1) at a total pressure and a temperature of 0 to 60 C.
    ///
    /// Raises
    /// ------
    /// GasError
    ///     Outside that range.
    ///
    /// Examples
    /// --------
    /// >>> round(Gas.humid_air(0.5, pressure_pa=101325.0, temperature_k="20 C").specific_gas_constant, 2)
    /// 288.32
    #[staticmethod]
    #[pyo3(signature = (relative_humidity, *, pressure_pa, temperature_k))]
    fn humid_air(
        relative_humidity: Si<Ratio>,
        pressure_pa: Si<AbsolutePressure>,
        temperature_k: Si<ThermodynamicTemperature>,
    ) -> Answer<Self> {
        let at = state(pressure_pa.0, temperature_k.0);
        Ok(Self {
            core: Core::humid_air(relative_humidity.0, at)?,
            recipe: Recipe::Humid(
                relative_humidity.0.si_value(),
                pressure_pa.0.si_value(),
                temperature_k.0.si_value(),
            ),
        })
    }

    /// Name of the gas.
    #[getter]
    fn name(&self) -> &'static str {
        self.core.name()
    }

    /// Specific gas constant R [J/(kg K)].
    #[getter]
    fn specific_gas_constant(&self) -> f64 {
        self.core.specific_gas_constant()
    }

    /// Ratio gamma of heat capacities.
    #[getter]
    fn heat_capacity_ratio(&self) -> f64 {
        self.core.heat_capacity_ratio()
    }

    /// Ratio of pressures below which flow through a hole chokes.
    #[getter]
    fn critical_pressure_ratio(&self) -> f64 {
        self.core.critical_pressure_ratio()
    }

    /// Dynamic viscosity mu [Pa s] at temperatures [K], an array of any shape; NaN where it is unknown.
    ///
    /// Examples
    /// --------
    /// >>> round(Gas.dry_air().viscosity_pa_s(293.15) * 1e6, 2)
    /// 18.19
    fn viscosity_pa_s<'py>(
        &self,
        py: Python<'py>,
        temperature_k: Floats<'py, ThermodynamicTemperature>,
    ) -> Answer<Bound<'py, PyAny>> {
        map(py, [&temperature_k], |[kelvins]| {
            let temperature = ThermodynamicTemperature::from_si_value(kelvins)?;
            Ok(self
                .core
                .viscosity(temperature)
                .map_or(f64::NAN, |mu| mu.get::<pascal_second>()))
        })
    }

    /// Density p/(R T) [kg/m3] at absolute pressures [Pa] and temperatures [K], broadcast together.
    ///
    /// Examples
    /// --------
    /// >>> round(Gas.dry_air().density_kg_m3(101325.0, 293.15), 4)
    /// 1.2041
    fn density_kg_m3<'py>(
        &self,
        py: Python<'py>,
        pressure_pa: Floats<'py, AbsolutePressure>,
        temperature_k: Floats<'py, ThermodynamicTemperature>,
    ) -> Answer<Bound<'py, PyAny>> {
        map(py, [&pressure_pa, &temperature_k], |[pressure, kelvins]| {
            let at = state(
                AbsolutePressure::from_pascals(pressure)?,
                ThermodynamicTemperature::from_si_value(kelvins)?,
            );
            Ok(self.core.density(at).value)
        })
    }

    fn __repr__(&self) -> String {
        match self.recipe {
            Recipe::Named => format!("Gas.named('{}')", self.core.name()),
            Recipe::Own(r, gamma, None) => format!("Gas({r:?}, {gamma:?})"),
            Recipe::Own(r, gamma, Some((mu, at, n))) => format!(
                "Gas({r:?}, {gamma:?}, viscosity_pa_s={mu:?}, viscosity_at_k={at:?}, viscosity_exponent={n:?})"
            ),
            Recipe::Humid(h, p, t) => {
                format!("Gas.humid_air({h:?}, pressure_pa={p:?}, temperature_k={t:?})")
            }
        }
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Restored<'py>> {
        match self.recipe {
            Recipe::Named => restore::<_, f64>(py, "Gas.named", (self.core.name(),), &[]),
            Recipe::Own(r, gamma, None) => restore::<_, f64>(py, "Gas", (r, gamma), &[]),
            Recipe::Own(r, gamma, Some((mu, at, n))) => restore(
                py,
                "Gas",
                (r, gamma),
                &[
                    ("viscosity_pa_s", mu),
                    ("viscosity_at_k", at),
                    ("viscosity_exponent", n),
                ],
            ),
            Recipe::Humid(h, p, t) => restore(
                py,
                "Gas.humid_air",
                (h,),
                &[("pressure_pa", p), ("temperature_k", t)],
            ),
        }
    }
}
