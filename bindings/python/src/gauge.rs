//! Gauges, and the circumstances of a test.

use casetight::gas::Gas as CoreGas;
use casetight::gauge::{AccuracyClass, Gauge as Core};
use casetight::measured::Measured;
use casetight::quantity::{
    AbsolutePressure, GaugePressure, Pressure, Stretch, TemperatureDrift, TemperatureInterval,
    ThermalConductance, ThermodynamicTemperature, Time, TradeUnits, Volume,
};
use casetight::readings::{Bench as CoreBench, Effects, Touched};
use casetight::vessel::{Conductance, Heat};
use pyo3::IntoPyObjectExt;
use pyo3::prelude::*;
use pyo3::types::{PyBool, PyFloat};

use crate::array::{Floats, map};
use crate::errors::{Answer, Failure};
use crate::gas::Gas;
use crate::restore::{Restored, restore};
use crate::same::by_value;
use crate::scalar::{Drift, Given, Plain, Si, Thermometer, Uncertain, pair};
use crate::volume::TestedVolume;

/// A gauge as its readings see it: made by `Gauge.dial` or `Gauge.digital`.
///
/// Examples
/// --------
/// >>> gauge = Gauge.dial("0.5 psi", "0.125 psi", accuracy_class=1.6, span_pa="100 kPa")
/// >>> gauge.is_coarse, round(gauge.offset_uncertainty_pa, 1)
/// (True, 653.2)
#[pyclass(frozen, eq, hash, module = "casetight")]
#[derive(Debug)]
pub(crate) struct Gauge(pub(crate) Core);

by_value!(Gauge: |this| this.0);

impl Gauge {
    fn with(
        mut gauge: Core,
        noise: Option<Si<Pressure>>,
        class: Option<Plain>,
        span: Option<Si<Pressure>>,
        stopwatch: Option<Si<Time>>,
    ) -> Answer<Self> {
        if let Some(noise) = noise {
            gauge = gauge.with_noise(noise.0)?;
        }
        gauge = match (class, span) {
            (None, None) => gauge,
            (Some(class), Some(span)) => gauge.with_accuracy_class(AccuracyClass {
                class: class.0,
                span: span.0,
            })?,
            _ => {
                return Err(Failure::new(
                    "an accuracy class is a percentage of a span: give both accuracy_class and span_pa",
                ));
            }
        };
        if let Some(stopwatch) = stopwatch {
            gauge = gauge.with_stopwatch(stopwatch.0)?;
        }
        Ok(Self(gauge))
    }
}

#[pymethods]
impl Gauge {
    /// A dial read by eye.
    ///
    /// Parameters
    /// ----------
    /// division_pa, readable_pa : float
    ///     Step between marks, and the smallest step that is read between them [Pa].
    /// noise_pa : float, optional
    ///     Standard deviation of a reading before rounding [Pa]; a tenth of the readable step unless stated otherwise.
    /// accuracy_class, span_pa : float, optional
    ///     Class after EN 837-1 in percent of the span [Pa]; both or neither.
    /// stopwatch_s : float, optional
    ///     Standard uncertainty of the moment of a reading [s]; 0.15 unless stated otherwise.
    ///
    /// Raises
    /// ------
    /// GaugeError
    ///     For a number that no gauge has.
    ///
    /// Examples
    /// --------
    /// >>> Gauge.dial("0.5 psi", "0.125 psi").stopwatch_s
    /// 0.15
    #[staticmethod]
    #[pyo3(signature = (division_pa, readable_pa, *, noise_pa=None, accuracy_class=None, span_pa=None, stopwatch_s=None))]
    fn dial(
        division_pa: Si<Pressure>,
        readable_pa: Si<Pressure>,
        noise_pa: Option<Si<Pressure>>,
        accuracy_class: Option<Plain>,
        span_pa: Option<Si<Pressure>>,
        stopwatch_s: Option<Si<Time>>,
    ) -> Answer<Self> {
        let gauge = Core::dial(division_pa.0, readable_pa.0)?;
        Self::with(gauge, noise_pa, accuracy_class, span_pa, stopwatch_s)
    }

    /// A digital gauge of a resolution [Pa]; the other parameters are those of `dial`.
    ///
    /// Its noise is half the resolution and its times are exact unless stated otherwise.
    ///
    /// Examples
    /// --------
    /// >>> Gauge.digital(100.0).noise_pa
    /// 50.0
    #[staticmethod]
    #[pyo3(signature = (resolution_pa, *, noise_pa=None, accuracy_class=None, span_pa=None, stopwatch_s=None))]
    fn digital(
        resolution_pa: Si<Pressure>,
        noise_pa: Option<Si<Pressure>>,
        accuracy_class: Option<Plain>,
        span_pa: Option<Si<Pressure>>,
        stopwatch_s: Option<Si<Time>>,
    ) -> Answer<Self> {
        let gauge = Core::digital(resolution_pa.0)?;
        Self::with(gauge, noise_pa, accuracy_class, span_pa, stopwatch_s)
    }

    /// The smallest change that a reading can show [Pa].
    #[getter]
    fn step_pa(&self) -> f64 {
        self.0.step().si_value()
    }

    /// Standard deviation of a reading's noise before rounding [Pa].
    #[getter]
    fn noise_pa(&self) -> f64 {
        self.0.noise().si_value()
    }

    /// Standard uncertainty of the moment of a reading [s].
    #[getter]
    fn stopwatch_s(&self) -> f64 {
        self.0.stopwatch().si_value()
    }

    /// Standard uncertainty of the offset that all readings share [Pa].
    #[getter]
    fn offset_uncertainty_pa(&self) -> f64 {
        self.0.offset_uncertainty().si_value()
    }

    /// Standard uncertainty of the relative scale error that all readings share.
    #[getter]
    fn scale_uncertainty(&self) -> f64 {
        self.0.scale_uncertainty()
    }

    /// Standard uncertainty of a reading from noise and rounding [Pa].
    #[getter]
    fn reading_uncertainty_pa(&self) -> f64 {
        self.0.reading_uncertainty().si_value()
    }

    /// Whether readings stick to steps: the noise is below half a step.
    #[getter]
    fn is_coarse(&self) -> bool {
        self.0.is_coarse()
    }

    /// What the gauge shows for gauge pressures that it feels [Pa]: rounded to its step.
    ///
    /// Examples
    /// --------
    /// >>> Gauge.digital(100.0).rounded([1249.0, -1251.0])
    /// array([ 1200., -1300.])
    fn rounded<'py>(
        &self,
        py: Python<'py>,
        felt_pa: Floats<'py, GaugePressure>,
    ) -> Answer<Bound<'py, PyAny>> {
        map(py, [&felt_pa], |[felt]| {
            Ok(self.0.rounded(GaugePressure::from_pascals(felt)?).pascals())
        })
    }

    /// Log-likelihood of readings given the pressures that the gauge feels [Pa], broadcast together.
    ///
    /// Examples
    /// --------
    /// >>> round(Gauge.digital(100.0).ln_likelihood(1200.0, 1200.0), 3)
    /// -0.382
    fn ln_likelihood<'py>(
        &self,
        py: Python<'py>,
        reading_pa: Floats<'py, GaugePressure>,
        felt_pa: Floats<'py, GaugePressure>,
    ) -> Answer<Bound<'py, PyAny>> {
        map(py, [&reading_pa, &felt_pa], |[reading, felt]| {
            Ok(self.0.ln_likelihood(
                GaugePressure::from_pascals(reading)?,
                GaugePressure::from_pascals(felt)?,
            ))
        })
    }

    fn __repr__(&self) -> String {
        let class = self
            .0
            .accuracy_class()
            .map_or(String::new(), |a| format!(", class {}", a.class));
        format!(
            "<Gauge: step {} Pa, noise {} Pa{class}>",
            self.step_pa(),
            self.noise_pa()
        )
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Restored<'py>> {
        let class = self.0.accuracy_class();
        restore(
            py,
            "Gauge.digital",
            (self.step_pa(),),
            &[
                ("noise_pa", Some(self.noise_pa())),
                ("accuracy_class", class.map(|a| a.class)),
                ("span_pa", class.map(|a| a.span.si_value())),
                ("stopwatch_s", Some(self.stopwatch_s())),
            ],
        )
    }
}

/// The volume under test: a measured quantity, or how it was got.
#[derive(Debug)]
pub(crate) struct VolumeUnderTest(Measured<Volume>);

impl<'py> FromPyObject<'_, 'py> for VolumeUnderTest {
    type Error = PyErr;

    fn extract(object: Borrowed<'_, 'py, PyAny>) -> PyResult<Self> {
        match object.cast::<TestedVolume>() {
            Ok(tested) => Ok(Self(tested.get().core.volume().clone())),
            Err(_) => Ok(Self(object.extract::<Uncertain<Volume>>()?.0)),
        }
    }
}

/// What all runs of a session share.
///
/// Each measured quantity is a number, a pair of the number and its standard uncertainty, or an object with
/// `nominal_value` and `std_dev`.
///
/// Parameters
/// ----------
/// volume_m3 : float, pair or TestedVolume
///     Volume under test, rig included [m3].
/// ambient_pa : float or pair
///     Ambient absolute pressure [Pa].
/// temperature_k : float or pair
///     Temperature of the gas, that of the case's wall [K].
/// gauge : Gauge
///     The gauge.
/// drift_allowance_k_s : float
///     Standard uncertainty of an unknown steady drift of the temperature [K/s].
/// conductance_w_k : float, optional
///     Thermal conductance hA between gas and wall [W/K]; what a crankcase of this volume usually has unless stated otherwise.
/// conductance_ln_uncertainty : float
///     Standard uncertainty of ln hA, where it is given; 0 unless stated otherwise.
/// isothermal : bool
///     Take the gas to have the wall's temperature at all times; False unless stated otherwise.
/// settled_for_s : float
///     Time from the last stroke of the pump to the first reading [s]; zero where it isn't known.
/// gas : Gas, optional
///     Dry air unless stated otherwise.
/// drift_k_s : float or pair, optional
///     A steady drift of the temperature that was measured beside the readings [K/s], and its standard uncertainty; it takes
///     the place of the allowance.
/// thermometer : str
///     What the thermometer touches whose temperatures come beside the readings: the "wall" of the case, the "gas" inside, the
///     air of the "room", or something "nearby", which tells least, unless stated otherwise.
/// zero_pa : float or pair, optional
///     What the gauge shows without pressure [Pa]; nothing unless stated otherwise, as of the four below.
/// lag_s : float or pair, optional
///     Time constant with which the gauge follows the pressure [s].
/// stretch_per_pa : float or pair, optional
///     By how much of itself the volume grows with the gauge pressure, at once [1/Pa].
/// creep_per_pa : float or pair, optional
///     By how much of itself it goes on growing in the minute after pumping [1/Pa].
/// warmth_k : float or pair, optional
///     How much warmer than the room the engine is at the first reading [K].
/// sticks : bool
///     Whether what moves one reading may move the next, as a needle that sticks or a hand on the hose does; False unless stated otherwise.
///
/// Raises
/// ------
/// MeasuredError, QuantityError, VesselError, ValueError
///     For a number that is not valid.
///
/// Examples
/// --------
/// >>> bench = Bench(volume_m3=("250 cm3", "5 cm3"), ambient_pa=(101325.0, 100.0), temperature_k=("20 C", "1 K"),
/// ...               gauge=Gauge.digital(100.0))
/// >>> bench
/// <Bench: 0.00025 m3, 101325 Pa, 293.15 K, dry air>
#[pyclass(frozen, eq, hash, module = "casetight")]
#[derive(Debug)]
pub(crate) struct Bench {
    pub(crate) core: CoreBench,
    /// The drift of the temperature that was measured beside the readings, and its standard uncertainty.
    pub(crate) drift: Option<(TemperatureDrift, TemperatureDrift)>,
    /// What the thermometer touches.
    pub(crate) thermometer: Touched,
    /// The gas as it was given, which knows how it was made.
    gas: Option<Py<Gas>>,
}

// What a fit sees of it: where a number comes from is not compared.
by_value!(Bench: |this| (
    (
        pair(&this.core.volume),
        pair(&this.core.ambient_pressure),
        pair(&this.core.temperature),
    ),
    (this.core.drift_allowance, this.drift, this.thermometer),
    (this.effects(), this.sticks()),
    this.core.heat,
    this.core.gauge,
    this.core.gas,
));

impl Bench {
    /// What the bench does of itself, by the names of the arguments.
    fn effects(&self) -> [(&'static str, Option<(f64, f64)>); 5] {
        [
            ("zero_pa", self.zero_pa()),
            ("lag_s", self.lag_s()),
            ("stretch_per_pa", self.stretch_per_pa()),
            ("creep_per_pa", self.creep_per_pa()),
            ("warmth_k", self.warmth_k()),
        ]
    }

    /// Circumstances as a sheet has them for one of its runs, in a gas, or in dry air.
    pub(crate) fn of_sheet(
        py: Python<'_>,
        core: CoreBench,
        thermometer: Touched,
        gas: Option<Gas>,
    ) -> PyResult<Self> {
        Ok(Self {
            core: CoreBench {
                gas: gas.as_ref().map_or_else(CoreGas::dry_air, |gas| gas.core),
                ..core
            },
            drift: None,
            thermometer,
            gas: gas.map(|gas| Py::new(py, gas)).transpose()?,
        })
    }
}

fn checked(effects: Effects) -> Answer<Effects> {
    let check = effects.check();
    check.map_err(|error| Failure::new(error.to_string()))?;
    Ok(effects)
}

/// How gas and wall exchange heat, by what is stated of it.
fn conductance(
    value: Option<ThermalConductance>,
    ln_uncertainty: f64,
    isothermal: bool,
) -> Answer<Conductance> {
    match (value, isothermal) {
        (None, false) => Ok(Conductance::Usual),
        (None, true) => Ok(Conductance::Infinite),
        (Some(value), false) => Ok(Conductance::Known {
            value,
            ln_uncertainty,
        }),
        (Some(_), true) => Err(Failure::new(
            "conductance_w_k and isothermal exclude each other: isothermal gas has an infinite conductance",
        )),
    }
}

#[pymethods]
impl Bench {
    #[new]
    #[pyo3(signature = (*, volume_m3, ambient_pa, temperature_k, gauge, drift_allowance_k_s=None, conductance_w_k=None, conductance_ln_uncertainty=Plain(0.0), isothermal=Given(false), settled_for_s=None, gas=None, drift_k_s=None, zero_pa=None, lag_s=None, stretch_per_pa=None, creep_per_pa=None, warmth_k=None, sticks=Given(false), thermometer=Thermometer(Touched::Nearby)))]
    fn new(
        volume_m3: VolumeUnderTest,
        ambient_pa: Uncertain<AbsolutePressure>,
        temperature_k: Uncertain<ThermodynamicTemperature>,
        gauge: Given<Bound<'_, Gauge>>,
        drift_allowance_k_s: Option<Si<TemperatureDrift>>,
        conductance_w_k: Option<Si<ThermalConductance>>,
        conductance_ln_uncertainty: Plain,
        isothermal: Given<bool>,
        settled_for_s: Option<Si<Time>>,
        gas: Option<Given<Bound<'_, Gas>>>,
        drift_k_s: Option<Drift>,
        zero_pa: Option<Uncertain<GaugePressure>>,
        lag_s: Option<Uncertain<Time>>,
        stretch_per_pa: Option<Uncertain<Stretch>>,
        creep_per_pa: Option<Uncertain<Stretch>>,
        warmth_k: Option<Uncertain<TemperatureInterval>>,
        sticks: Given<bool>,
        thermometer: Thermometer,
    ) -> Answer<Self> {
        let conductance = conductance(
            conductance_w_k.map(|value| value.0),
            conductance_ln_uncertainty.0,
            isothermal.0,
        )?;
        let heat = Heat {
            conductance,
            settled_for: settled_for_s.map_or_else(Time::default, |t| t.0),
        };
        heat.check()?;
        let effects = checked(Effects {
            zero: zero_pa.map(|effect| effect.0),
            lag: lag_s.map(|effect| effect.0),
            stretch: stretch_per_pa.map(|effect| effect.0),
            creep: creep_per_pa.map(|effect| effect.0),
            warmth: warmth_k.map(|effect| effect.0),
            sticks: sticks.0,
        })?;
        let core = CoreBench {
            volume: volume_m3.0,
            ambient_pressure: ambient_pa.0,
            temperature: temperature_k.0,
            drift_allowance: drift_allowance_k_s.map_or(TemperatureDrift::ZERO, |d| d.0),
            effects,
            heat,
            gauge: gauge.0.get().0,
            gas: crate::gas::or_air(gas.as_ref()),
        };
        Ok(Self {
            core,
            drift: drift_k_s.map(|drift| drift.0),
            thermometer: thermometer.0,
            gas: gas.map(|gas| gas.0.unbind()),
        })
    }

    /// Volume under test and its standard uncertainty [m3].
    #[getter]
    fn volume_m3(&self) -> (f64, f64) {
        pair(&self.core.volume)
    }

    /// Ambient absolute pressure and its standard uncertainty [Pa].
    #[getter]
    fn ambient_pa(&self) -> (f64, f64) {
        pair(&self.core.ambient_pressure)
    }

    /// Temperature and its standard uncertainty [K].
    #[getter]
    fn temperature_k(&self) -> (f64, f64) {
        pair(&self.core.temperature)
    }

    /// Standard uncertainty of an unknown steady drift of the temperature [K/s].
    #[getter]
    fn drift_allowance_k_s(&self) -> f64 {
        self.core.drift_allowance.kelvins_per_second()
    }

    /// The drift of the temperature that was measured beside the readings and its standard uncertainty [K/s]; None where
    /// only the allowance is known.
    #[getter]
    fn drift_k_s(&self) -> Option<(f64, f64)> {
        let (drift, uncertainty) = self.drift?;
        Some((drift.kelvins_per_second(), uncertainty.kelvins_per_second()))
    }

    /// What the thermometer touches: "wall", "gas", "room" or "nearby".
    #[getter]
    fn thermometer(&self) -> &'static str {
        Thermometer(self.thermometer).word()
    }

    /// What the gauge shows without pressure and its standard uncertainty [Pa]; None where nothing is stated.
    #[getter]
    fn zero_pa(&self) -> Option<(f64, f64)> {
        self.core.effects.zero.as_ref().map(pair)
    }

    /// Time constant with which the gauge follows the pressure and its standard uncertainty [s].
    #[getter]
    fn lag_s(&self) -> Option<(f64, f64)> {
        self.core.effects.lag.as_ref().map(pair)
    }

    /// Relative growth of the volume with the gauge pressure and its standard uncertainty [1/Pa].
    #[getter]
    fn stretch_per_pa(&self) -> Option<(f64, f64)> {
        self.core.effects.stretch.as_ref().map(pair)
    }

    /// Relative growth that follows in the minute after pumping and its standard uncertainty [1/Pa].
    #[getter]
    fn creep_per_pa(&self) -> Option<(f64, f64)> {
        self.core.effects.creep.as_ref().map(pair)
    }

    /// How much warmer than the room the engine is and its standard uncertainty [K].
    #[getter]
    fn warmth_k(&self) -> Option<(f64, f64)> {
        self.core.effects.warmth.as_ref().map(pair)
    }

    /// Whether what moves one reading may move the next.
    #[getter]
    fn sticks(&self) -> bool {
        self.core.effects.sticks
    }

    /// Time from the last stroke of the pump to the first reading [s].
    #[getter]
    fn settled_for_s(&self) -> f64 {
        self.core.heat.settled_for.si_value()
    }

    /// The gauge.
    #[getter]
    fn gauge(&self) -> Gauge {
        Gauge(self.core.gauge)
    }

    fn __repr__(&self) -> String {
        format!(
            "<Bench: {} m3, {} Pa, {} K, {}>",
            self.volume_m3().0,
            self.ambient_pa().0,
            self.temperature_k().0,
            self.core.gas.name()
        )
    }

    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Restored<'py>> {
        let object = |value: f64| PyFloat::new(py, value).into_any();
        let truth = |value: bool| PyBool::new(py, value).to_owned().into_any();
        let uncertain = |value: (f64, f64)| value.into_bound_py_any(py);
        let mut given = vec![
            ("volume_m3", uncertain(self.volume_m3())?),
            ("ambient_pa", uncertain(self.ambient_pa())?),
            ("temperature_k", uncertain(self.temperature_k())?),
            ("gauge", Bound::new(py, self.gauge())?.into_any()),
            ("drift_allowance_k_s", object(self.drift_allowance_k_s())),
            ("settled_for_s", object(self.settled_for_s())),
            ("sticks", truth(self.sticks())),
        ];
        match self.core.heat.conductance {
            Conductance::Infinite => {
                given.push(("isothermal", truth(true)));
            }
            Conductance::Known {
                value,
                ln_uncertainty,
            } => {
                given.push(("conductance_w_k", object(value.si_value())));
                given.push(("conductance_ln_uncertainty", object(ln_uncertainty)));
            }
            _ => {}
        }
        if let Some(drift) = self.drift_k_s() {
            given.push(("drift_k_s", uncertain(drift)?));
        }
        given.push(("thermometer", self.thermometer().into_bound_py_any(py)?));
        for (name, effect) in self.effects() {
            if let Some(effect) = effect {
                given.push((name, uncertain(effect)?));
            }
        }
        if let Some(gas) = &self.gas {
            given.push(("gas", gas.bind(py).clone().into_any()));
        }
        restore(py, "Bench", (), &given)
    }
}
