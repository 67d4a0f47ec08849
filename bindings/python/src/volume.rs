//! The tested volume.

use casetight::measured::Measured;
use casetight::quantity::{
    AbsolutePressure, Angle, GaugePressure, Length, Mass, Ratio, TemperatureInterval,
    ThermodynamicTemperature, TradeUnits, Volume,
};
use casetight::volume::{
    Engine as CoreEngine, Expansion, Fill, Liquid, Piston, Settling, TestedVolume as Core,
    combine_sharing,
};
use numpy::{IntoPyArray, PyArray1};
use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::errors::Answer;
use crate::gauge::pair;
use crate::scalar::{Si, Uncertain};

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
#[pyclass(frozen, module = "casetight")]
#[derive(Debug)]
pub(crate) struct TestedVolume(pub(crate) Core);

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
        Ok(Self(Core::measured_directly(volume_m3.0)?))
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
    #[pyo3(signature = (*, reference_m3, before_pa, after_pa, ambient_pa, temperature_k, settled_within_k, zero_pa=None))]
    fn from_expansion(
        reference_m3: Uncertain<Volume>,
        before_pa: Uncertain<GaugePressure>,
        after_pa: Uncertain<GaugePressure>,
        ambient_pa: Uncertain<AbsolutePressure>,
        temperature_k: Uncertain<ThermodynamicTemperature>,
        settled_within_k: Si<TemperatureInterval>,
        zero_pa: Option<Uncertain<GaugePressure>>,
    ) -> Answer<Self> {
        let zero = match zero_pa {
            Some(zero) => zero.0,
            None => Measured::exact(GaugePressure::ZERO)?,
        };
        Ok(Self(Core::from_expansion(&Expansion {
            reference: reference_m3.0,
            before: before_pa.0,
            after: after_pa.0,
            zero,
            ambient: ambient_pa.0,
            settling: Settling::within(temperature_k.0, settled_within_k.0)?,
        })?))
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
        Ok(Self(Core::from_fill(&Fill {
            empty: empty_kg.0,
            full: full_kg.0,
            balance_scale: balance_scale.0,
            liquid: Liquid::water(&water_k.0)?,
            air: Fill::any_air()?,
            trapped: trapped_m3.0,
        })?))
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
    #[pyo3(signature = (volumes, *, shared=Vec::new()))]
    fn combine(volumes: Vec<Bound<'_, Self>>, shared: Vec<String>) -> Answer<Self> {
        let volumes: Vec<Core> = volumes
            .iter()
            .map(|volume| volume.get().0.clone())
            .collect();
        let shared: Vec<&str> = shared.iter().map(String::as_str).collect();
        Ok(Self(combine_sharing(&volumes, &shared)?.tested()))
    }

    /// The volume with another space in it [m3].
    ///
    /// Examples
    /// --------
    /// >>> round(TestedVolume.measured_directly(250e-6).plus("hose", 10e-6).volume_m3 * 1e6)
    /// 260
    fn plus(&self, name: String, space_m3: Uncertain<Volume>) -> Answer<Self> {
        Ok(Self(self.0.clone().plus(name, &space_m3.0)?))
    }

    /// The volume [m3].
    #[getter]
    fn volume_m3(&self) -> f64 {
        pair(self.0.volume()).0
    }

    /// Its standard uncertainty [m3].
    #[getter]
    fn standard_uncertainty_m3(&self) -> f64 {
        pair(self.0.volume()).1
    }

    /// How it was got.
    #[getter]
    fn method(&self) -> &'static str {
        self.0.method().words()
    }

    /// What the method assumes, one sentence each.
    #[getter]
    fn assumptions(&self) -> Vec<&'static str> {
        self.0.assumptions().to_vec()
    }

    /// Volume and standard uncertainty [m3] by the name of each part.
    #[getter]
    fn parts<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let parts = PyDict::new(py);
        for part in self.0.parts() {
            parts.set_item(&*part.name, pair(&part.volume))?;
        }
        Ok(parts)
    }

    fn __repr__(&self) -> String {
        let volume = self.0.volume();
        format!(
            "<TestedVolume: {} +- {}, {}>",
            volume.value().trade(),
            volume.standard_uncertainty().trade().digits(2),
            self.method()
        )
    }
}

/// An engine by its dimensions.
///
/// Parameters
/// ----------
/// bore_m, stroke_m, rod_m : float or pair
///     Bore, stroke and length of the connecting rod [m].
/// primary_compression_ratio : float or pair
///     Case volume at the top over that at the bottom.
/// compression_ratio : float or pair, optional
///     Of the cylinder; needed where the transfer ports join cylinder and case.
///
/// Raises
/// ------
/// VolumeError
///     For dimensions that no engine has.
///
/// Examples
/// --------
/// >>> engine = Engine(bore_m="46 mm", stroke_m="31 mm", rod_m="55 mm", primary_compression_ratio=1.42,
/// ...                 compression_ratio=7.1)
/// >>> round(engine.swept_volume_m3[0] * 1e6, 2)
/// 51.52
#[pyclass(frozen, module = "casetight")]
#[derive(Debug)]
pub(crate) struct Engine(CoreEngine);

#[pymethods]
impl Engine {
    #[new]
    #[pyo3(signature = (*, bore_m, stroke_m, rod_m, primary_compression_ratio, compression_ratio=None))]
    fn new(
        bore_m: Uncertain<Length>,
        stroke_m: Uncertain<Length>,
        rod_m: Uncertain<Length>,
        primary_compression_ratio: Uncertain<Ratio>,
        compression_ratio: Option<Uncertain<Ratio>>,
    ) -> Answer<Self> {
        let engine = CoreEngine::new(bore_m.0, stroke_m.0, rod_m.0, primary_compression_ratio.0)?;
        Ok(Self(match compression_ratio {
            Some(ratio) => engine.with_compression_ratio(ratio.0)?,
            None => engine,
        }))
    }

    /// Swept volume and its standard uncertainty [m3].
    #[getter]
    fn swept_volume_m3(&self) -> Answer<(f64, f64)> {
        Ok(pair(&self.0.swept_volume()?))
    }

    /// The volume under test with the piston at "bottom", "top" or an angle such as "60 deg, transfers shut", and a rig
    /// (hose and gauge) of a volume [m3].
    ///
    /// Raises
    /// ------
    /// VolumeError
    ///     For a position that is not understood, or one that needs the compression ratio.
    ///
    /// Examples
    /// --------
    /// >>> engine = Engine(bore_m="46 mm", stroke_m="31 mm", rod_m="55 mm", primary_compression_ratio=1.42,
    /// ...                 compression_ratio=7.1)
    /// >>> round(engine.tested_volume("bottom", rig_m3=("18 cm3", "1 cm3")).volume_m3 * 1e6, 1)
    /// 200.6
    #[pyo3(signature = (piston, *, rig_m3))]
    fn tested_volume(&self, piston: &str, rig_m3: Uncertain<Volume>) -> Answer<TestedVolume> {
        let piston: Piston = piston.parse()?;
        Ok(TestedVolume(Core::from_engine(&self.0, piston, &rig_m3.0)?))
    }

    /// A turn in equal steps from the top: angle [rad], piston travel [m] and case volume [m3], each an array.
    ///
    /// Raises
    /// ------
    /// VolumeError
    ///     For no angles at all.
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
        angles: u16,
    ) -> Answer<(
        Bound<'py, PyArray1<f64>>,
        Bound<'py, PyArray1<f64>>,
        Bound<'py, PyArray1<f64>>,
    )> {
        let points = self.0.over_a_turn(angles)?;
        let column = |of: &dyn Fn(&casetight::volume::TurnPoint) -> f64| {
            points.iter().map(of).collect::<Vec<f64>>().into_pyarray(py)
        };
        Ok((
            column(&|p| Angle::si_value(p.after_top)),
            column(&|p| p.travel.value().si_value()),
            column(&|p| p.case_side.value().si_value()),
        ))
    }

    fn __repr__(&self) -> String {
        let crank = self.0.crank();
        format!(
            "<Engine: stroke {}, rod {}>",
            crank.stroke().trade(),
            crank.rod().trade()
        )
    }
}
