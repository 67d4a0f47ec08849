//! The tested volume.

use casetight::measured::{Measurable, Measured};
use casetight::quantity::{
    AbsolutePressure, Angle, GaugePressure, Length, Mass, Ratio, TemperatureInterval,
    ThermodynamicTemperature, TradeUnits, Volume,
};
use casetight::volume::{
    Expansion, Fill, Liquid, Outline, Piston, Settling, TestedVolume as Core, combine_sharing,
    usual_rig,
};
use casetight_bench::sheet::{Dimensions, Problem};
use numpy::{IntoPyArray, PyArray1};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyList, PyTuple};

use crate::errors::{Answer, Failure};
use crate::restore::{Made, Restored};
use crate::same::by_value;
use crate::scalar::{Given, Si, Uncertain, pair};

/// A tested volume with its standard uncertainty and how it was got.
///
/// Wherever a measured quantity is asked for, a number, a pair of it and its standard uncertainty, or an object with
/// `nominal_value` and `std_dev` is taken.
///
/// Examples
/// --------
/// >>> case = TestedVolume.measured_directly(("240 cm3", "4 cm3")).plus("hose and gauge", ("12 cm3", "3 cm3"))
/// >>> case
/// <TestedVolume: 252 cm3 +- 5 cm3, measured directly, rig included>
#[pyclass(frozen, eq, hash, module = "casetight")]
#[derive(Debug)]
pub(crate) struct TestedVolume {
    pub(crate) core: Core,
    made: Made,
}

by_value!(TestedVolume: |this| &this.core);

impl TestedVolume {
    pub(crate) fn new(core: Core, made: Made) -> Self {
        Self { core, made }
    }
}

/// By a call of this name with measured quantities, each a pair of its value and standard uncertainty.
fn of_pairs(name: &'static str, pairs: Vec<(&'static str, Option<(f64, f64)>)>) -> Made {
    Made::by(name, move |py| {
        Ok((PyTuple::empty(py), crate::restore::named(py, &pairs)?))
    })
}

/// A measured quantity under its argument's name.
fn stated<Q: Measurable>(
    name: &'static str,
    quantity: &Uncertain<Q>,
) -> (&'static str, Option<(f64, f64)>) {
    (name, Some(pair(&quantity.0)))
}

#[pymethods]
impl TestedVolume {
    /// A volume that was measured as a whole [m3].
    ///
    /// Raises
    /// ------
    /// VolumeError
    ///     Unless it is above zero.
    ///
    /// Examples
    /// --------
    /// >>> TestedVolume.measured_directly(250e-6).volume_m3
    /// 0.00025
    #[staticmethod]
    fn measured_directly(volume_m3: Uncertain<Volume>) -> Answer<Self> {
        let made = of_pairs(
            "TestedVolume.measured_directly",
            vec![stated("volume_m3", &volume_m3)],
        );
        Ok(Self::new(Core::measured_directly(volume_m3.0)?, made))
    }

    /// By letting gas expand into, or out of, a known reference volume: gauge pressures [Pa] before and after.
    ///
    /// Parameters
    /// ----------
    /// reference_m3 : float or pair
    ///     The known volume [m3].
    /// before_pa, after_pa : float or pair
    ///     Gauge pressures before and after the expansion [Pa].
    /// zero_pa : float or pair
    ///     What the gauge shows at ambient [Pa].
    /// ambient_pa, temperature_k : float or pair
    ///     Ambient absolute pressure [Pa] and temperature [K].
    /// settled_within_k : float
    ///     Half-width within which the gas had come back to the wall's temperature [K].
    /// tested_before_pa : float or pair, optional
    ///     Gauge pressure of the case before the expansion, where it was pumped or evacuated [Pa].
    ///
    /// Raises
    /// ------
    /// VolumeError
    ///     For readings that give no volume.
    ///
    /// Examples
    /// --------
    /// >>> TestedVolume.from_expansion(reference_m3=("100 cm3", "0.5 cm3"), before_pa=50e3, after_pa=14e3,
    /// ...     ambient_pa=101325.0, temperature_k="20 C", settled_within_k=0.2).method
    /// 'expansion from a known volume'
    #[staticmethod]
    #[pyo3(signature = (*, reference_m3, before_pa, after_pa, ambient_pa, temperature_k, settled_within_k, zero_pa=None, tested_before_pa=None))]
    fn from_expansion(
        reference_m3: Uncertain<Volume>,
        before_pa: Uncertain<GaugePressure>,
        after_pa: Uncertain<GaugePressure>,
        ambient_pa: Uncertain<AbsolutePressure>,
        temperature_k: Uncertain<ThermodynamicTemperature>,
        settled_within_k: Si<TemperatureInterval>,
        zero_pa: Option<Uncertain<GaugePressure>>,
        tested_before_pa: Option<Uncertain<GaugePressure>>,
    ) -> Answer<Self> {
        let mut pairs = vec![
            stated("reference_m3", &reference_m3),
            stated("before_pa", &before_pa),
            stated("after_pa", &after_pa),
            stated("ambient_pa", &ambient_pa),
            stated("temperature_k", &temperature_k),
        ];
        pairs.extend(zero_pa.as_ref().map(|zero| stated("zero_pa", zero)));
        pairs.extend((tested_before_pa.as_ref()).map(|tested| stated("tested_before_pa", tested)));
        let within = settled_within_k.0.si_value();
        let made = Made::by("TestedVolume.from_expansion", move |py| {
            let named = crate::restore::named(py, &pairs)?;
            named.set_item("settled_within_k", within)?;
            Ok((PyTuple::empty(py), named))
        });
        let zero = match zero_pa {
            Some(zero) => zero.0,
            None => Measured::exact(GaugePressure::ZERO)?,
        };
        let core = Core::from_expansion(&Expansion {
            reference: reference_m3.0,
            before: before_pa.0,
            tested: tested_before_pa.map(|tested| tested.0),
            after: after_pa.0,
            zero,
            ambient: ambient_pa.0,
            settling: Settling::within(temperature_k.0, settled_within_k.0)?,
        })?;
        Ok(Self::new(core, made))
    }

    /// By filling with water: masses of the case empty and full [kg].
    ///
    /// Parameters
    /// ----------
    /// empty_kg, full_kg : float or pair
    ///     Masses [kg].
    /// water_k : float or pair
    ///     Temperature of the water [K].
    /// trapped_m3 : float or pair
    ///     Volume of the bubbles that stayed [m3].
    /// balance_scale : float or pair
    ///     Relative scale error of the balance, usually (0, 0.001).
    ///
    /// Raises
    /// ------
    /// VolumeError
    ///     For readings that give no volume.
    ///
    /// Examples
    /// --------
    /// >>> TestedVolume.from_water_fill(empty_kg=(1.85, 1e-3), full_kg=(2.1, 1e-3), water_k=("20 C", "2 K"),
    /// ...     trapped_m3=("2 cm3", "1 cm3"), balance_scale=(1.0, 0.001))
    /// <TestedVolume: 252.7 cm3 +- 1.8 cm3, filled with a liquid and weighed>
    #[staticmethod]
    #[pyo3(signature = (*, empty_kg, full_kg, water_k, trapped_m3, balance_scale))]
    fn from_water_fill(
        empty_kg: Uncertain<Mass>,
        full_kg: Uncertain<Mass>,
        water_k: Uncertain<ThermodynamicTemperature>,
        trapped_m3: Uncertain<Volume>,
        balance_scale: Uncertain<Ratio>,
    ) -> Answer<Self> {
        let made = of_pairs(
            "TestedVolume.from_water_fill",
            vec![
                stated("empty_kg", &empty_kg),
                stated("full_kg", &full_kg),
                stated("water_k", &water_k),
                stated("trapped_m3", &trapped_m3),
                stated("balance_scale", &balance_scale),
            ],
        );
        let core = Core::from_fill(&Fill {
            empty: empty_kg.0,
            full: full_kg.0,
            balance_scale: balance_scale.0,
            liquid: Liquid::water(&water_k.0)?,
            air: Fill::any_air()?,
            trapped: trapped_m3.0,
        })?;
        Ok(Self::new(core, made))
    }

    /// The weighted mean of several ways to the same volume; names in `shared` are one quantity in all of them.
    ///
    /// Raises
    /// ------
    /// VolumeError
    ///     Without a volume, or where they can't be weighed.
    ///
    /// Examples
    /// --------
    /// >>> one = TestedVolume.measured_directly((250e-6, 5e-6))
    /// >>> other = TestedVolume.measured_directly((256e-6, 5e-6))
    /// >>> round(TestedVolume.combine([one, other]).volume_m3 * 1e6, 6)
    /// 253.0
    #[staticmethod]
    #[pyo3(signature = (volumes, *, shared=Given(Vec::new())))]
    fn combine(volumes: Given<Vec<Bound<'_, Self>>>, shared: Given<Vec<String>>) -> Answer<Self> {
        let (volumes, shared) = (volumes.0, shared.0);
        let cores: Vec<Core> = volumes.iter().map(|v| v.get().core.clone()).collect();
        let names: Vec<&str> = shared.iter().map(String::as_str).collect();
        let core = combine_sharing(&cores, &names)?.tested();
        let volumes: Vec<Py<Self>> = volumes.into_iter().map(Bound::unbind).collect();
        let made = Made::by("TestedVolume.combine", move |py| {
            let named = PyDict::new(py);
            named.set_item("shared", &shared)?;
            Ok(((PyList::new(py, &volumes)?,).into_pyobject(py)?, named))
        });
        Ok(Self::new(core, made))
    }

    /// The volume with another space in it [m3].
    ///
    /// Examples
    /// --------
    /// >>> round(TestedVolume.measured_directly(250e-6).plus("hose", 10e-6).volume_m3 * 1e6)
    /// 260
    fn plus(
        slf: &Bound<'_, Self>,
        name: Given<String>,
        space_m3: Uncertain<Volume>,
    ) -> Answer<Self> {
        let core = slf.get().core.clone().plus(name.0.clone(), &space_m3.0)?;
        let (volume, space) = (slf.clone().unbind(), pair(&space_m3.0));
        let made = Made::by("TestedVolume.plus", move |py| {
            let given = (&volume, name.0.as_str(), space);
            Ok((given.into_pyobject(py)?, PyDict::new(py)))
        });
        Ok(Self::new(core, made))
    }

    /// The volume [m3].
    #[getter]
    fn volume_m3(&self) -> f64 {
        pair(self.core.volume()).0
    }

    /// Its standard uncertainty [m3].
    #[getter]
    fn standard_uncertainty_m3(&self) -> f64 {
        pair(self.core.volume()).1
    }

    /// How it was got.
    #[getter]
    fn method(&self) -> &'static str {
        self.core.method().words()
    }

    /// What the method assumes, one sentence each.
    #[getter]
    fn assumptions(&self) -> Vec<&'static str> {
        self.core.assumptions().to_vec()
    }

    /// Volume and standard uncertainty [m3] by the name of each part.
    #[getter]
    fn parts<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let parts = PyDict::new(py);
        for part in self.core.parts() {
            parts.set_item(&*part.name, pair(&part.volume))?;
        }
        Ok(parts)
    }

    fn __repr__(&self) -> String {
        let volume = self.core.volume();
        format!(
            "<TestedVolume: {} +- {}, {}>",
            volume.value().trade(),
            volume.standard_uncertainty().trade().digits(2),
            self.method()
        )
    }
    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Restored<'py>> {
        self.made.reduce(py)
    }
}

/// An engine by its dimensions, or by as much of them as there is: the displacement is enough, or bore and stroke.
///
/// Parameters
/// ----------
/// displacement_m3 : float or pair, optional
///     Displacement of the one cylinder whose crankcase is tested [m3].
/// bore_m, stroke_m, rod_m : float or pair, optional
///     Bore, stroke and length of the connecting rod [m].
/// primary_compression_ratio : float or pair, optional
///     Case volume at the top over that at the bottom; 1.3 to 1.6 where it is not given, as small two-stroke engines have.
/// compression_ratio : float or pair, optional
///     Of the cylinder; 7 to 12 where it is not given. It counts where the transfer ports join cylinder and case.
///
/// Raises
/// ------
/// VolumeError
///     For dimensions that no engine has, or that contradict each other.
/// MissingError
///     Without displacement, bore and stroke.
///
/// Examples
/// --------
/// >>> engine = Engine(bore_m="46 mm", stroke_m="31 mm", rod_m="55 mm", primary_compression_ratio=1.42,
/// ...                 compression_ratio=7.1)
/// >>> round(engine.swept_volume_m3[0] * 1e6, 2)
/// 51.52
/// >>> Engine(displacement_m3=("51.5 cm3", "0.1 cm3")).tested_volume("top")
/// <TestedVolume: 195.5 cm3 +- 26 cm3, from the engine's size and what is typical of two-stroke engines>
#[pyclass(frozen, eq, hash, module = "casetight")]
#[derive(Debug)]
pub(crate) struct Engine {
    core: Dimensions,
    made: Made,
}

by_value!(Engine: |this| &this.core);

impl Engine {
    fn outline(&self) -> Answer<Outline> {
        let size = "an engine needs its size: displacement_m3, or bore_m and stroke_m";
        self.core.outline()?.ok_or_else(|| Failure::missing(size))
    }
}

#[pymethods]
impl Engine {
    #[new]
    #[pyo3(signature = (*, displacement_m3=None, bore_m=None, stroke_m=None, rod_m=None, primary_compression_ratio=None, compression_ratio=None))]
    fn new(
        displacement_m3: Option<Uncertain<Volume>>,
        bore_m: Option<Uncertain<Length>>,
        stroke_m: Option<Uncertain<Length>>,
        rod_m: Option<Uncertain<Length>>,
        primary_compression_ratio: Option<Uncertain<Ratio>>,
        compression_ratio: Option<Uncertain<Ratio>>,
    ) -> Answer<Self> {
        let pairs = [
            displacement_m3
                .as_ref()
                .map(|v| stated("displacement_m3", v)),
            bore_m.as_ref().map(|v| stated("bore_m", v)),
            stroke_m.as_ref().map(|v| stated("stroke_m", v)),
            rod_m.as_ref().map(|v| stated("rod_m", v)),
            primary_compression_ratio
                .as_ref()
                .map(|v| stated("primary_compression_ratio", v)),
            compression_ratio
                .as_ref()
                .map(|v| stated("compression_ratio", v)),
        ];
        let core = Dimensions {
            displacement: displacement_m3.map(|v| v.0),
            bore: bore_m.map(|v| v.0),
            stroke: stroke_m.map(|v| v.0),
            rod: rod_m.map(|v| v.0),
            primary_compression_ratio: primary_compression_ratio.map(|v| v.0),
            compression_ratio: compression_ratio.map(|v| v.0),
        };
        let made = of_pairs("Engine", pairs.into_iter().flatten().collect());
        let engine = Self { core, made };
        engine.outline()?;
        Ok(engine)
    }

    /// Swept volume and its standard uncertainty [m3].
    #[getter]
    fn swept_volume_m3(&self) -> Answer<(f64, f64)> {
        Ok(pair(&self.outline()?.swept_volume()?))
    }

    /// The volume under test with the piston at "bottom", "top" or an angle such as "60 deg, transfers shut", and a rig
    /// (hose and gauge) of a volume [m3]; of a rig that nobody measured 10 to 40 cm3. The piston may stand anywhere where the primary
    /// compression ratio is not given.
    ///
    /// Raises
    /// ------
    /// VolumeError
    ///     For a position that is not understood.
    /// MissingError
    ///     Without a position where the primary compression ratio is given.
    ///
    /// Examples
    /// --------
    /// >>> engine = Engine(bore_m="46 mm", stroke_m="31 mm", rod_m="55 mm", primary_compression_ratio=1.42,
    /// ...                 compression_ratio=7.1)
    /// >>> round(engine.tested_volume("bottom", rig_m3=("18 cm3", "1 cm3")).volume_m3 * 1e6, 1)
    /// 200.6
    /// >>> Engine(displacement_m3=51.5e-6).tested_volume().standard_uncertainty_m3 > 25e-6
    /// True
    #[pyo3(signature = (piston=None, *, rig_m3=None))]
    fn tested_volume(
        slf: &Bound<'_, Self>,
        piston: Option<Given<String>>,
        rig_m3: Option<Uncertain<Volume>>,
    ) -> Answer<TestedVolume> {
        let position = piston.as_ref().map(|piston| piston.0.parse::<Piston>());
        let rig = match rig_m3 {
            Some(rig) => rig.0,
            None => usual_rig()?,
        };
        let core = slf.get().core.tested(position.transpose()?, &rig);
        let core = core.map_err(|problem| match problem {
            Problem::Volume(error) => error.into(),
            other => Failure::missing(other.to_string()),
        })?;
        let (engine, rig) = (slf.clone().unbind(), pair(&rig));
        let made = Made::by("Engine.tested_volume", move |py| {
            let named = PyDict::new(py);
            named.set_item("rig_m3", rig)?;
            let piston = piston.as_ref().map(|piston| piston.0.as_str());
            Ok(((&engine, piston).into_pyobject(py)?, named))
        });
        Ok(TestedVolume::new(core, made))
    }

    /// A turn in equal steps from the top: angle [rad], piston travel [m] and case volume [m3], each an array.
    ///
    /// Raises
    /// ------
    /// VolumeError
    ///     For no angles at all.
    /// MissingError
    ///     Where bore, stroke, rod or primary compression ratio was not given.
    ///
    /// Examples
    /// --------
    /// >>> engine = Engine(bore_m="46 mm", stroke_m="31 mm", rod_m="55 mm", primary_compression_ratio=1.42)
    /// >>> angle_rad, travel_m, case_m3 = engine.over_a_turn(12)
    /// >>> float(travel_m.max().round(6))
    /// 0.031
    fn over_a_turn<'py>(
        &self,
        py: Python<'py>,
        angles: Given<u16>,
    ) -> Answer<(
        Bound<'py, PyArray1<f64>>,
        Bound<'py, PyArray1<f64>>,
        Bound<'py, PyArray1<f64>>,
    )> {
        let needs = "a turn needs bore_m, stroke_m, rod_m and primary_compression_ratio";
        let engine = self.core.engine()?.ok_or_else(|| Failure::missing(needs))?;
        let points = engine.over_a_turn(angles.0)?;
        let column = |of: &dyn Fn(&casetight::volume::TurnPoint) -> f64| {
            points.iter().map(of).collect::<Vec<f64>>().into_pyarray(py)
        };
        Ok((
            column(&|p| Angle::si_value(p.after_top)),
            column(&|p| p.travel.value().si_value()),
            column(&|p| p.case_side.value().si_value()),
        ))
    }

    fn __repr__(&self) -> Answer<String> {
        Ok(match self.core.crank() {
            Some([_, stroke, rod]) => format!(
                "<Engine: stroke {}, rod {}>",
                stroke.value().trade(),
                rod.value().trade()
            ),
            None => format!(
                "<Engine: {}>",
                self.outline()?.swept_volume()?.value().trade()
            ),
        })
    }
    fn __reduce__<'py>(&self, py: Python<'py>) -> PyResult<Restored<'py>> {
        self.made.reduce(py)
    }
}
