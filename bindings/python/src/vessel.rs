//! Pressure against time.

use casetight::gas::{Gas as CoreGas, GasState};
use casetight::leak::EffectiveArea;
use casetight::quantity::{
    AbsolutePressure, Area, GaugePressure, TemperatureDrift, ThermalConductance,
    ThermodynamicTemperature, Time, TradeUnits, Volume,
};
use casetight::vessel::{
    DecayLaw as CoreLaw, IsothermalDecay, LawDecay, ThermalVessel as CoreVessel, VesselError,
    VesselState,
};
use numpy::{IntoPyArray, PyArray1};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyString};
use uom::si::thermal_conductance::watt_per_kelvin;

use crate::array::{Broadcast, Floats, map};
use crate::errors::{Answer, Failure};
use crate::gas::{Gas, or_air, state};
use crate::leak::{LeakLaw, Shared};
use crate::restore::{Made, Restored, restore};
use crate::same::by_value;
use crate::scalar::{Given, Plain, Si};

/// A leak law as the shape of the decay that it gives. Where one is asked for, the name of one without a number does too.
///
/// Parameters
/// ----------
/// name : str
///     One of `DecayLaw.names()`.
/// number : float, optional
///     The law's own number, where it has one.
///
/// Raises
/// ------
/// Error
///     For a name that no law has, a number that is missing or one too many.
///
/// Examples
/// --------
/// >>> DecayLaw("power law", 0.75)
/// DecayLaw('power law', 0.75)
/// >>> DecayLaw.power(0.75) == DecayLaw("power law", 0.75)
/// True
/// >>> DecayLaw.laminar().words
/// 'a fine gap'
#[pyclass(frozen, eq, hash, module = "casetight")]
#[derive(Debug)]
pub(crate) struct DecayLaw(pub(crate) CoreLaw);

by_value!(DecayLaw: |this| this.0);

/// The law of a name and its number.
fn law_of(name: &str, number: Option<f64>) -> Result<CoreLaw, Failure> {
    let Some(kind) = CoreLaw::KINDS.iter().find(|kind| kind.name == name) else {
        let names: Vec<String> = CoreLaw::KINDS
            .iter()
            .map(|kind| format!("{:?}", kind.name))
            .collect();
        return Err(Failure::new(format!(
            "no law has the name {name:?}; there are {}",
            names.join(", ")
        )));
    };
    match (kind.number, number) {
        (Some(_), Some(number)) => Ok(kind.with(number)),
        (None, None) => Ok(kind.with(f64::NAN)),
        (Some(what), None) => Err(Failure::new(format!(
            "the law {name:?} needs its {}: write DecayLaw({name:?}, number)",
            what.replace('_', " ")
        ))),
        (None, Some(_)) => Err(Failure::new(format!(
            "the law {name:?} has no number of its own"
        ))),
    }
}

#[pymethods]
impl DecayLaw {
    #[new]
    #[pyo3(signature = (name, number=None))]
    fn new(name: &str, number: Option<Plain>) -> Answer<Self> {
        Ok(Self(law_of(name, number.map(|number| number.0))?))
    }

    /// Every law's name.
    ///
    /// Examples
    /// --------
    /// >>> "orifice" in DecayLaw.names()
    /// True
    #[staticmethod]
    fn names() -> Vec<&'static str> {
        CoreLaw::KINDS.iter().map(|kind| kind.name).collect()
    }

    /// A hole.
    #[staticmethod]
    fn orifice() -> Self {
        Self(CoreLaw::Orifice)
    }

    /// A fine gap: capillary or slot.
    #[staticmethod]
    fn laminar() -> Self {
        Self(CoreLaw::Laminar)
    }

    /// A tube or fitting of a critical pressure ratio b, by ISO 6358.
    #[staticmethod]
    fn sonic(critical_ratio: Plain) -> Self {
        Self(CoreLaw::Sonic {
            critical_ratio: critical_ratio.0,
        })
    }

    /// A power law of an exponent n, between a hole (0.5) and a fine gap (1).
    #[staticmethod]
    fn power(exponent: Plain) -> Self {
        Self(CoreLaw::Power {
            exponent: exponent.0,
        })
    }

    /// Name of the law.
    #[getter]
    fn name(&self) -> &'static str {
        self.0.name()
    }

    /// The law's own number; none where it has none.
    #[getter]
    fn number(&self) -> Option<f64> {
        self.0.number()
    }

    /// The kind of leak in the trade's words.
    #[getter]
    fn words(&self) -> &'static str {
        self.0.words()
    }

    fn __repr__(&self) -> String {
        match self.0.number() {
            Some(number) => format!("DecayLaw('{}', {number:?})", self.0.name()),
            None => format!("DecayLaw('{}')", self.0.name()),
        }
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Restored<'py>> {
        restore::<_, f64>(py, "DecayLaw", (self.0.name(), self.0.number()), &[])
    }
}

/// A law of a decay, or the name of one that has no number of its own.
#[derive(Debug, Clone, Copy)]
pub(crate) struct NamedLaw(pub(crate) CoreLaw);

impl<'py> FromPyObject<'_, 'py> for NamedLaw {
    type Error = PyErr;

    fn extract(object: Borrowed<'_, 'py, PyAny>) -> PyResult<Self> {
        if let Ok(law) = object.cast::<DecayLaw>() {
            return Ok(Self(law.get().0));
        }
        let Ok(name) = object.cast::<PyString>() else {
            return Err(
                Failure::kind("a law is a DecayLaw, or the name of one without a number").into(),
            );
        };
        Ok(Self(law_of(name.to_cow()?.as_ref(), None)?))
    }
}

/// A decay in closed form: the one of the orifice, or of another law.
#[derive(Debug, Clone, Copy)]
enum Closed {
    Orifice(IsothermalDecay),
    Other(LawDecay),
}

impl Closed {
    fn new(
        law: CoreLaw,
        area: f64,
        volume: Volume,
        start: f64,
        ambient: GasState,
        gas: &CoreGas,
    ) -> Answer<Self> {
        let area = EffectiveArea::from_square_meters(area)?;
        let start = GaugePressure::from_pascals(start)?;
        Ok(if law == CoreLaw::Orifice {
            Self::Orifice(IsothermalDecay::new(area, volume, start, ambient, gas)?)
        } else {
            Self::Other(LawDecay::new(law, area, volume, start, ambient, gas)?)
        })
    }

    fn gauge_at(&self, time: f64) -> Answer<f64> {
        // The core answers times without meaning with the start pressure; an array with a gap in it deserves better.
        if !(time.is_finite() && time >= 0.0) {
            return Err(VesselError::Time {
                place: 0,
                got: time,
            }
            .into());
        }
        let time = Time::from_si_value(time)?;
        Ok(match self {
            Self::Orifice(decay) => decay.gauge_at(time),
            Self::Other(decay) => decay.gauge_at(time),
        }
        .pascals())
    }

    fn time_to(&self, gauge: f64) -> Answer<f64> {
        let gauge = GaugePressure::from_pascals(gauge)?;
        let time = match self {
            Self::Orifice(decay) => decay.time_to(gauge),
            Self::Other(decay) => decay.time_to(gauge),
        };
        Ok(time.map_or(f64::NAN, TradeUnits::si_value))
    }
}

/// Decay of an isothermal vessel, in closed form: the limit of slow leaks.
///
/// Parameters
/// ----------
/// area_m2 : float
///     Effective area CdA at the start pressure [m2].
/// volume_m3 : float
///     Volume under test [m3].
/// start_gauge_pa : float
///     Gauge pressure at time zero [Pa]; below zero for a vacuum test.
/// ambient_pa : float
///     Ambient absolute pressure [Pa].
/// temperature_k : float
///     Temperature of gas and wall [K].
/// law : DecayLaw or str
///     The kind of leak; an orifice unless stated otherwise.
/// gas : Gas, optional
///     Dry air unless stated otherwise.
///
/// Raises
/// ------
/// VesselError, LeakError, QuantityError
///     For a number that is not valid.
///
/// Notes
/// -----
/// The orifice's flow is that of NACA report 1135; the closed forms are derived in the theory manual.
///
/// Examples
/// --------
/// >>> decay = Decay(4.869e-9, "250 cm3", "7 psi", ambient_pa=101325.0, temperature_k=293.15)
/// >>> round(decay.time_s("6 psi"), 1)
/// 13.0
/// >>> decay.gauge_pa([0.0, 13.0]).round(0)
/// array([48263., 41377.])
#[pyclass(frozen, eq, hash, module = "casetight")]
#[derive(Debug)]
pub(crate) struct Decay {
    closed: Closed,
    law: CoreLaw,
    made: Made,
}

by_value!(Decay: |this| this.closed);

#[pymethods]
impl Decay {
    #[new]
    #[pyo3(signature = (area_m2, volume_m3, start_gauge_pa, *, ambient_pa, temperature_k, law=NamedLaw(CoreLaw::Orifice), gas=None))]
    fn new(
        area_m2: Si<Area>,
        volume_m3: Si<Volume>,
        start_gauge_pa: Si<GaugePressure>,
        ambient_pa: Si<AbsolutePressure>,
        temperature_k: Si<ThermodynamicTemperature>,
        law: NamedLaw,
        gas: Option<Given<Bound<'_, Gas>>>,
    ) -> Answer<Self> {
        let (area, start) = (area_m2.0.si_value(), start_gauge_pa.0.pascals());
        let closed = Closed::new(
            law.0,
            area,
            volume_m3.0,
            start,
            state(ambient_pa.0, temperature_k.0),
            &or_air(gas.as_ref()),
        )?;
        let gas = gas.map(|gas| gas.0.unbind());
        let made = Made::by("Decay", move |py| {
            let named = PyDict::new(py);
            named.set_item("ambient_pa", ambient_pa.0.pascals())?;
            named.set_item("temperature_k", temperature_k.0.si_value())?;
            named.set_item("law", DecayLaw(law.0))?;
            named.set_item("gas", &gas)?;
            let numbers = (area, volume_m3.0.si_value(), start);
            Ok((numbers.into_pyobject(py)?, named))
        });
        Ok(Self {
            closed,
            law: law.0,
            made,
        })
    }

    /// Gauge pressure [Pa] at times [s] after the start, an array of any shape.
    ///
    /// Raises
    /// ------
    /// VesselError
    ///     For a time that is no number or before the start.
    ///
    /// Examples
    /// --------
    /// >>> decay = Decay(5e-9, 250e-6, -40e3, ambient_pa=101325.0, temperature_k=293.15)
    /// >>> round(decay.gauge_pa(30.0))
    /// -28453
    fn gauge_pa<'py>(
        &self,
        py: Python<'py>,
        time_s: Floats<'py, Time>,
    ) -> Answer<Bound<'py, PyAny>> {
        map(py, [&time_s], |[time]| self.closed.gauge_at(time))
    }

    /// Time [s] at which the gauge passes pressures [Pa]; NaN where it never does.
    ///
    /// Examples
    /// --------
    /// >>> decay = Decay(5e-9, 250e-6, 48e3, ambient_pa=101325.0, temperature_k=293.15)
    /// >>> decay.time_s([48e3, 12e3, -1.0]).round(3)
    /// array([ 0.   , 84.715,    nan])
    fn time_s<'py>(
        &self,
        py: Python<'py>,
        gauge_pa: Floats<'py, GaugePressure>,
    ) -> Answer<Bound<'py, PyAny>> {
        map(py, [&gauge_pa], |[gauge]| self.closed.time_to(gauge))
    }

    /// The straightening coordinate of gauge pressures [Pa]: a straight line in time for this law.
    ///
    /// Examples
    /// --------
    /// >>> decay = Decay(5e-9, 250e-6, 48e3, ambient_pa=101325.0, temperature_k=293.15)
    /// >>> a, b, c = decay.straightened(decay.gauge_pa([0.0, 20.0, 40.0]))
    /// >>> bool(abs((a - b) - (b - c)) < 1e-12)
    /// True
    fn straightened<'py>(
        &self,
        py: Python<'py>,
        gauge_pa: Floats<'py, GaugePressure>,
    ) -> Answer<Bound<'py, PyAny>> {
        map(py, [&gauge_pa], |[gauge]| {
            let gauge = GaugePressure::from_pascals(gauge)?;
            Ok(match &self.closed {
                Closed::Orifice(decay) => decay.straightened(gauge)?,
                Closed::Other(decay) => decay.straightened(gauge)?,
            })
        })
    }

    /// When the needle reaches zero [s]; None without a leak or with a laminar one.
    #[getter]
    fn ends_after_s(&self) -> Option<f64> {
        match &self.closed {
            Closed::Orifice(decay) => decay.ends_after(),
            Closed::Other(decay) => decay.ends_after(),
        }
        .map(TradeUnits::si_value)
    }

    /// The kind of leak.
    #[getter]
    fn law(&self) -> DecayLaw {
        DecayLaw(self.law)
    }

    fn __repr__(&self) -> String {
        let start = match &self.closed {
            Closed::Orifice(decay) => decay.gauge_at(Time::default()),
            Closed::Other(decay) => decay.gauge_at(Time::default()),
        };
        format!("<Decay: {} from {} Pa>", self.law.name(), start.pascals())
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Restored<'py>> {
        self.made.reduce(py)
    }
}

/// Gauge pressure [Pa] of isothermal decays, broadcast over time and parameters together.
///
/// Parameters
/// ----------
/// time_s, area_m2, volume_m3, start_gauge_pa, ambient_pa, temperature_k : float or array_like
///     As those of `Decay`; arrays broadcast together.
/// law : DecayLaw or str
///     The kind of leak.
/// gas : Gas, optional
///     Dry air unless stated otherwise.
///
/// Returns
/// -------
/// float or ndarray
///     A float where all inputs are.
///
/// Raises
/// ------
/// VesselError, LeakError, QuantityError
///     For a number that is not valid.
///
/// Examples
/// --------
/// >>> import numpy as np
/// >>> areas = np.array([1e-9, 5e-9])
/// >>> decay_gauge_pa([0.0, 30.0, 60.0], areas[:, None], 250e-6, 48e3, ambient_pa=101325.0, temperature_k=293.15).shape
/// (2, 3)
#[pyfunction]
#[pyo3(signature = (time_s, area_m2, volume_m3, start_gauge_pa, *, ambient_pa, temperature_k, law=NamedLaw(CoreLaw::Orifice), gas=None))]
pub(crate) fn decay_gauge_pa<'py>(
    py: Python<'py>,
    time_s: Floats<'py, Time>,
    area_m2: Floats<'py, Area>,
    volume_m3: Floats<'py, Volume>,
    start_gauge_pa: Floats<'py, GaugePressure>,
    ambient_pa: Floats<'py, AbsolutePressure>,
    temperature_k: Floats<'py, ThermodynamicTemperature>,
    law: NamedLaw,
    gas: Option<Given<Bound<'py, Gas>>>,
) -> Answer<Bound<'py, PyAny>> {
    let gas = or_air(gas.as_ref());
    let inputs: [&dyn Broadcast; 6] = [
        &time_s,
        &area_m2,
        &volume_m3,
        &start_gauge_pa,
        &ambient_pa,
        &temperature_k,
    ];
    map(
        py,
        inputs,
        |[time, area, volume, start, ambient, kelvins]| {
            let ambient = state(
                AbsolutePressure::from_pascals(ambient)?,
                ThermodynamicTemperature::from_si_value(kelvins)?,
            );
            let volume = Volume::from_si_value(volume)?;
            Closed::new(law.0, area, volume, start, ambient, &gas)?.gauge_at(time)
        },
    )
}

/// A vessel whose gas exchanges heat with its wall, with any leak law, followed as differential equations.
///
/// Parameters
/// ----------
/// law : LeakLaw
///     The leak.
/// volume_m3, start_gauge_pa, ambient_pa, temperature_k : float
///     As those of `Decay`; gas and wall start at the ambient temperature.
/// conductance_w_k : float, optional
///     Thermal conductance hA between gas and wall [W/K]; 0 is adiabatic, None isothermal.
/// start_temperature_k : float, optional
///     Temperature of the gas at time zero [K], as just after pumping.
/// wall_temperature_k : float, optional
///     Temperature of the wall at time zero [K].
/// wall_drift_k_s : float
///     Its steady drift [K/s].
/// compliance_m3_pa : float
///     Growth of the volume with the gauge pressure [m3/Pa], as of a soft boot; none unless stated otherwise.
/// gas : Gas, optional
///     Dry air unless stated otherwise.
///
/// Raises
/// ------
/// VesselError, QuantityError
///     For a number that is not valid.
///
/// Examples
/// --------
/// >>> vessel = ThermalVessel(Orifice(5e-9), 250e-6, 48e3, ambient_pa=101325.0, temperature_k=293.15,
/// ...                        conductance_w_k=0.35, start_temperature_k=303.15)
/// >>> gauge_pa, temperature_k = vessel.states([0.0, 1.0, 60.0])
/// >>> temperature_k.round(2)
/// array([303.15, 296.08, 292.91])
#[pyclass(frozen, eq, hash, module = "casetight")]
#[derive(Debug)]
pub(crate) struct ThermalVessel {
    law: Shared,
    given: Py<LeakLaw>,
    own_gas: Option<Py<Gas>>,
    volume: Volume,
    start: GaugePressure,
    ambient: GasState,
    gas: CoreGas,
    conductance: ThermalConductance,
    start_temperature: Option<ThermodynamicTemperature>,
    wall_temperature: ThermodynamicTemperature,
    wall_drift: TemperatureDrift,
    compliance: f64,
}

by_value!(ThermalVessel: |this| (
    &this.given.get().repr,
    (this.volume, this.start, this.ambient, this.gas),
    (this.conductance, this.start_temperature),
    (this.wall_temperature, this.wall_drift, this.compliance),
));

impl ThermalVessel {
    fn core(&self) -> Result<CoreVessel<'_>, VesselError> {
        let vessel = CoreVessel::new(
            &self.law,
            self.volume,
            self.start,
            self.ambient,
            &self.gas,
            self.conductance,
        )?
        .with_wall(self.wall_temperature, self.wall_drift)?
        .with_compliance(self.compliance)?;
        match self.start_temperature {
            Some(temperature) => vessel.with_start_temperature(temperature),
            None => Ok(vessel),
        }
    }

    fn follow(&self, py: Python<'_>, times: &[f64]) -> Answer<Vec<VesselState>> {
        let mut seconds = Vec::with_capacity(times.len());
        for (place, time) in times.iter().enumerate() {
            let wrong = VesselError::Time { place, got: *time };
            seconds.push(Time::from_si_value(*time).map_err(|_| wrong)?);
        }
        Ok(py.detach(|| self.core()?.states_at(&seconds))?)
    }
}

#[pymethods]
impl ThermalVessel {
    #[new]
    #[pyo3(signature = (law, volume_m3, start_gauge_pa, *, ambient_pa, temperature_k, conductance_w_k=None, start_temperature_k=None, wall_temperature_k=None, wall_drift_k_s=None, compliance_m3_pa=Plain(0.0), gas=None))]
    fn new(
        law: Given<Bound<'_, LeakLaw>>,
        volume_m3: Si<Volume>,
        start_gauge_pa: Si<GaugePressure>,
        ambient_pa: Si<AbsolutePressure>,
        temperature_k: Si<ThermodynamicTemperature>,
        conductance_w_k: Option<Si<ThermalConductance>>,
        start_temperature_k: Option<Si<ThermodynamicTemperature>>,
        wall_temperature_k: Option<Si<ThermodynamicTemperature>>,
        wall_drift_k_s: Option<Si<TemperatureDrift>>,
        compliance_m3_pa: Plain,
        gas: Option<Given<Bound<'_, Gas>>>,
    ) -> Answer<Self> {
        let infinite = ThermalConductance::new::<watt_per_kelvin>(f64::INFINITY);
        let vessel = Self {
            law: law.0.get().law.clone(),
            given: law.0.unbind(),
            volume: volume_m3.0,
            start: start_gauge_pa.0,
            ambient: state(ambient_pa.0, temperature_k.0),
            gas: or_air(gas.as_ref()),
            own_gas: gas.map(|gas| gas.0.unbind()),
            conductance: conductance_w_k.map_or(infinite, |c| c.0),
            start_temperature: start_temperature_k.map(|t| t.0),
            wall_temperature: wall_temperature_k.map_or(temperature_k.0, |t| t.0),
            wall_drift: wall_drift_k_s.map_or(TemperatureDrift::ZERO, |d| d.0),
            compliance: compliance_m3_pa.0,
        };
        vessel.core()?;
        Ok(vessel)
    }

    /// Gauge pressure [Pa] and gas temperature [K] at times [s] in any order, as two arrays.
    ///
    /// Raises
    /// ------
    /// VesselError
    ///     For a time that is no number or before the start, or a law without a flow for this gas.
    ///
    /// Examples
    /// --------
    /// >>> vessel = ThermalVessel(Orifice(5e-9), 250e-6, 48e3, ambient_pa=101325.0, temperature_k=293.15,
    /// ...                        conductance_w_k=0.0)
    /// >>> gauge_pa, temperature_k = vessel.states([60.0])
    /// >>> gauge_pa.round(), temperature_k.round(2)
    /// (array([12699.]), array([271.41]))
    fn states<'py>(
        &self,
        py: Python<'py>,
        time_s: Floats<'py, Time>,
    ) -> Answer<(Bound<'py, PyArray1<f64>>, Bound<'py, PyArray1<f64>>)> {
        let states = self.follow(py, &time_s.column("time_s")?)?;
        let gauges: Vec<f64> = states.iter().map(|s| s.gauge.pascals()).collect();
        let kelvins: Vec<f64> = states.iter().map(|s| s.temperature.si_value()).collect();
        Ok((gauges.into_pyarray(py), kelvins.into_pyarray(py)))
    }

    /// Gauge pressure [Pa] at times [s] in any order; as the first of `states`.
    ///
    /// Examples
    /// --------
    /// >>> vessel = ThermalVessel(Orifice(5e-9), 250e-6, 48e3, ambient_pa=101325.0, temperature_k=293.15)
    /// >>> vessel.gauge_pa([0.0, 84.715]).round()
    /// array([48000., 12000.])
    fn gauge_pa<'py>(
        &self,
        py: Python<'py>,
        time_s: Floats<'py, Time>,
    ) -> Answer<Bound<'py, PyArray1<f64>>> {
        Ok(self.states(py, time_s)?.0)
    }

    /// Time constant m cv/(hA) [s] with which the gas settles to the wall's temperature; None where it is adiabatic.
    #[getter]
    fn settling_time_s(&self) -> Answer<Option<f64>> {
        Ok(self.core()?.settling_time().map(TradeUnits::si_value))
    }

    fn __repr__(&self) -> String {
        format!(
            "<ThermalVessel: {} on {} m3 from {} Pa>",
            casetight::leak::LeakLaw::name(&self.law),
            self.volume.si_value(),
            self.start.pascals()
        )
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Restored<'py>> {
        let conductance = self.conductance.si_value();
        let start = self.start_temperature.map(TradeUnits::si_value);
        let numbers = [
            ("ambient_pa", Some(self.ambient.pressure.pascals())),
            ("temperature_k", Some(self.ambient.temperature.si_value())),
            (
                "conductance_w_k",
                Some(conductance).filter(|c| c.is_finite()),
            ),
            ("start_temperature_k", start),
            ("wall_temperature_k", Some(self.wall_temperature.si_value())),
            ("wall_drift_k_s", Some(self.wall_drift.kelvins_per_second())),
            ("compliance_m3_pa", Some(self.compliance)),
        ];
        let mut named: Vec<(&str, Bound<'py, PyAny>)> = Vec::new();
        for (name, number) in numbers {
            named.push((name, number.into_pyobject(py)?));
        }
        named.push(("gas", (&self.own_gas).into_pyobject(py)?));
        let sizes = (&self.given, self.volume.si_value(), self.start.pascals());
        restore(py, "ThermalVessel", sizes, &named)
    }
}
