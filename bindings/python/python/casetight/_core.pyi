from collections.abc import Callable, Iterator, Mapping, Sequence
from os import PathLike
from typing import Any, Literal, Protocol, TypeAlias, final, overload

import numpy as np
import numpy.typing as npt
import pyarrow as pa
from typing_extensions import disjoint_base

__version__: str

class _HasUnit(Protocol):
    def m_as(self, units: Any, /) -> Any: ...

class _HasValue(Protocol):
    def to_value(self, unit: Any, /) -> Any: ...

class _HasSeconds(Protocol):
    def total_seconds(self) -> float: ...

class _HasUncertainty(Protocol):
    @property
    def nominal_value(self) -> float: ...
    @property
    def std_dev(self) -> float: ...

class _HasArray(Protocol):
    def __array__(self) -> npt.NDArray[Any]: ...

class _HasArrowStream(Protocol):
    def __arrow_c_stream__(self, requested_schema: object | None = None) -> object: ...

# What carries a unit, of a unit library or a span of time.
_Number: TypeAlias = float | str | _HasUnit
_Scalar: TypeAlias = _Number | _HasValue | _HasSeconds | np.timedelta64
_Uncertain: TypeAlias = _Scalar | tuple[_Scalar, _Scalar] | _HasUncertainty
_Sequence: TypeAlias = Sequence[float] | Sequence[_HasUnit] | Sequence[_HasValue] | Sequence[Sequence[float]] | _HasArray
_Many: TypeAlias = _Scalar | _Sequence
_Column: TypeAlias = _Sequence | Sequence[_HasSeconds] | _HasUnit
_Floats: TypeAlias = npt.NDArray[np.float64]
# A float where all inputs are numbers, else an array of float64.
_FloatOrArray: TypeAlias = Any
_Law: TypeAlias = DecayLaw | str
_Laws: TypeAlias = _Law | Sequence[_Law | tuple[_Law, float]]
_Verdict: TypeAlias = Literal["holds", "leaks", "undecided", "stalled"]
_Direction: TypeAlias = Literal["pressure", "vacuum"]

class Error(ValueError):
    """What all errors of casetight are: a value that is not valid, and what would be right."""
class AssessError(Error):
    """What keeps a run from being assessed."""
class CompareError(Error):
    """Sheets or runs that can't be compared."""
class FitError(Error):
    """What keeps readings from being fitted."""
class GasError(Error):
    """A gas that is not valid."""
class GaugeError(Error):
    """A gauge that is not valid."""
class LeakError(Error):
    """A leak's size that is not valid."""
class LimitError(Error):
    """A limit that is not valid."""
class LocateError(Error):
    """What keeps a sheet's runs from telling the leaking place."""
class MeasuredError(Error):
    """A value or its uncertainty that is not valid."""
class PlanError(Error):
    """A test that can't be planned."""
class PumpError(Error):
    """A pump or a stall that is not valid."""
class QuantityError(Error):
    """A quantity that is not valid, or text that states none."""
class ReadingsError(Error):
    """Readings that can't be those of one run."""
class RunningError(Error):
    """Running conditions that are not valid, or a sheet that can't tell what its leaks do to the running engine."""
class SessionError(Error):
    """What keeps a sheet from being assessed; it names the run."""

class ArgumentError(Error, TypeError):
    """A value of a kind that can't be used there, and what can; a ``TypeError`` too."""
class MissingError(Error, KeyError, IndexError):
    """Something that is asked for by name or place, and is not there; a ``KeyError`` and an ``IndexError`` too."""

class SheetError(Error):
    """A bench sheet that can't be read or written.

    Attributes ``file``, ``key``, ``line`` and ``column`` say where; the last two are None where the text has no such place.
    """
    # Told where the sheet is at fault; not there on one that a caller makes.
    file: str
    key: str
    line: int | None
    column: int | None

class VesselError(Error):
    """A vessel that is not valid."""
class VolumeError(Error):
    """A volume that is not valid, or a method that can't give one."""

@final
class Gas:
    """A perfect gas.

    Parameters
    ----------
    specific_gas_constant : float
        R [J/(kg K)], above zero; dry air has 287.055.
    heat_capacity_ratio : float
        gamma, 1.01 to 1.67; air has 1.4.
    viscosity_pa_s, viscosity_at_k, viscosity_exponent : float, optional
        mu_r [Pa s] at T_r [K] and n of mu = mu_r (T/T_r)^n; without them laws that need the viscosity raise.

    Raises
    ------
    GasError
        For a number that no gas has.

    Examples
    --------
    >>> argon = Gas(208.13, 5 / 3, viscosity_pa_s=22.3e-6, viscosity_at_k=293.15, viscosity_exponent=0.8)
    >>> round(argon.critical_pressure_ratio, 3)
    0.487
    >>> Gas.named("helium")
    Gas.named('helium')
    """
    def __new__(
        cls,
        specific_gas_constant: float,
        heat_capacity_ratio: float,
        *,
        viscosity_pa_s: float | None = None,
        viscosity_at_k: _Scalar | None = None,
        viscosity_exponent: float | None = None,
    ) -> Gas: ...
    @staticmethod
    def dry_air() -> Gas:
        """Dry air.

        Examples
        --------
        >>> round(Gas.dry_air().specific_gas_constant, 3)
        287.055
        """
    @staticmethod
    def named(name: str) -> Gas:
        """A gas by its name: "dry air", "nitrogen", "helium", "argon", "carbon dioxide" or "propane".

        Raises
        ------
        GasError
            For another name; the message lists the known ones.

        Examples
        --------
        >>> Gas.named("nitrogen").name
        'nitrogen'
        """
    @staticmethod
    def humid_air(relative_humidity: _Scalar, *, pressure_pa: _Scalar, temperature_k: _Scalar) -> Gas:
        """Air of a relative humidity (0 to 1) at a total pressure and a temperature of 0 to 60 C.

        Raises
        ------
        GasError
            Outside that range.

        Examples
        --------
        >>> round(Gas.humid_air(0.5, pressure_pa=101325.0, temperature_k="20 C").specific_gas_constant, 2)
        288.32
        """
    @property
    def name(self) -> str:
        """Name of the gas."""
    @property
    def specific_gas_constant(self) -> float:
        """Specific gas constant R [J/(kg K)]."""
    @property
    def heat_capacity_ratio(self) -> float:
        """Ratio gamma of heat capacities."""
    @property
    def critical_pressure_ratio(self) -> float:
        """Ratio of pressures below which flow through a hole chokes."""
    @overload
    def viscosity_pa_s(self, temperature_k: _Number) -> float:
        """Dynamic viscosity mu [Pa s] at temperatures [K], an array of any shape; NaN where it is unknown.

        Examples
        --------
        >>> round(Gas.dry_air().viscosity_pa_s(293.15) * 1e6, 2)
        18.19
        """
    @overload
    def viscosity_pa_s(self, temperature_k: _Sequence) -> _Floats: ...
    def density_kg_m3(self, pressure_pa: _Many, temperature_k: _Many) -> _FloatOrArray:
        """Density p/(R T) [kg/m3] at absolute pressures [Pa] and temperatures [K], broadcast together.

        Examples
        --------
        >>> round(Gas.dry_air().density_kg_m3(101325.0, 293.15), 4)
        1.2041
        """

@disjoint_base
class LeakLaw:
    """A law of mass flow through a leak: what `Orifice`, `SharpEdgedHole`, `SonicConductance`, `Capillary`, `Slot`,
    `PowerLaw` and `Parallel` have in common. It is not made itself.
    """
    @property
    def name(self) -> str:
        """The law's name as sheets and results write it."""
    def mass_flow_kg_s(
        self, upstream_pa: _Many, downstream_pa: _Many, *, temperature_k: _Many, gas: Gas | None = None
    ) -> _FloatOrArray:
        """Mass flow [kg/s] from an upstream to a downstream absolute pressure.

        Parameters
        ----------
        upstream_pa, downstream_pa : float or array_like
            Absolute pressures [Pa], broadcast together. Nothing flows where the downstream one is not the lower.
        temperature_k : float or array_like
            Temperature of the gas upstream [K], broadcast with them.
        gas : Gas, optional
            Dry air unless stated otherwise.

        Returns
        -------
        float or ndarray
            NaN where the law needs the gas's viscosity and that is unknown.

        Raises
        ------
        QuantityError
            For a pressure or temperature that is not valid.

        Examples
        --------
        >>> hole = Orifice.of_hole(0.1e-3, discharge_coefficient=0.62)
        >>> hole.mass_flow_kg_s([150e3, 120e3], 101325.0, temperature_k=293.15).round(9)
        array([1.639e-06, 1.026e-06])
        """
    def effective_area_m2(
        self, upstream_pa: _Many, downstream_pa: _Many, *, temperature_k: _Many, gas: Gas | None = None
    ) -> _FloatOrArray:
        """Effective area CdA [m2]: that of the ideal orifice (Cd = 1) with the same mass flow.

        Parameters as those of `mass_flow_kg_s`.

        Raises
        ------
        LeakError
            Where nothing flows, or the viscosity that the law needs is unknown.

        Examples
        --------
        >>> scratch = Capillary(diameter_m="0.05 mm", length_m="6 mm")
        >>> f"{scratch.effective_area_m2(149325.0, 101325.0, temperature_k=293.15):.4g}"
        '3.005e-10'
        """
    def regime(
        self, upstream_pa: _Scalar, downstream_pa: _Scalar, *, temperature_k: _Scalar, gas: Gas | None = None
    ) -> Regime:
        """How the gas flows at one pair of absolute pressures [Pa], and what lies outside the law's range there.

        Examples
        --------
        >>> flow = Orifice(5e-9).regime("2.5 bar", "1 bar", temperature_k="20 C")
        >>> flow.choked, flow.out_of_range
        (True, [])
        """

@final
class Regime:
    """How the gas flows through a leak; numbers are None where the law has no length to form them with."""
    @property
    def choked(self) -> bool:
        """Whether the flow is sonic at the narrowest place."""
    @property
    def pressure_ratio(self) -> float:
        """Downstream over upstream pressure."""
    @property
    def reynolds(self) -> float | None:
        """Reynolds number of the passage."""
    @property
    def mach(self) -> float | None:
        """Mach number where the gas is fastest."""
    @property
    def knudsen(self) -> float | None:
        """Mean free path over the smallest width."""
    @property
    def out_of_range(self) -> list[str]:
        """What lies outside the law's range, one sentence each."""

@final
class Orifice(LeakLaw):
    """An ideal orifice of the effective area CdA [m2]; isentropic nozzle flow, choked and subsonic.

    Raises
    ------
    LeakError
        Unless the area is finite and at least zero.

    Examples
    --------
    >>> leak = Orifice("0.005 mm2")
    >>> f"{leak.diameter_m(0.62) * 1e3:.4f} mm"
    '0.1013 mm'
    """
    def __new__(cls, area_m2: _Scalar) -> Orifice: ...
    @staticmethod
    def of_hole(diameter_m: _Scalar, *, discharge_coefficient: _Scalar) -> Orifice:
        """The orifice that a round hole of a diameter [m] is with a discharge coefficient: CdA = Cd pi d^2/4.

        Examples
        --------
        >>> f"{Orifice.of_hole('0.1 mm', discharge_coefficient=0.62).area_m2:.4g}"
        '4.869e-09'
        """
    @property
    def area_m2(self) -> float:
        """Effective area CdA [m2]."""
    def diameter_m(self, discharge_coefficient: _Scalar) -> float:
        """Diameter [m] of the round hole of this effective area with a discharge coefficient.

        Examples
        --------
        >>> round(Orifice(5e-9).diameter_m(0.62), 7)
        0.0001013
        """

@final
class SharpEdgedHole(LeakLaw):
    """A round sharp-edged hole of a diameter [m], its discharge coefficient following the pressure ratio.

    Raises
    ------
    LeakError
        Unless the diameter is finite and at least zero.

    Examples
    --------
    >>> SharpEdgedHole("0.3 mm").name
    'sharp-edged hole'
    """
    def __new__(cls, diameter_m: _Scalar) -> SharpEdgedHole: ...

@final
class SonicConductance(LeakLaw):
    """A fitting of a sonic conductance C [m3/(s Pa)] and a critical pressure ratio b, by ISO 6358.

    Raises
    ------
    LeakError
        Unless b is at least 0 and below 1.

    Examples
    --------
    >>> SonicConductance("0.1 L/(s bar)", 0.3)
    SonicConductance(conductance_m3_s_pa=1e-9, critical_ratio=0.3)
    """
    def __new__(cls, conductance_m3_s_pa: _Scalar, critical_ratio: _Scalar) -> SonicConductance: ...

@final
class Capillary(LeakLaw):
    """A round passage of a diameter and a length [m] in laminar flow.

    Raises
    ------
    LeakError
        For a length that is not valid.

    Examples
    --------
    >>> Capillary("0.05 mm", "6 mm").regime(149325.0, 101325.0, temperature_k=293.15).choked
    False
    """
    def __new__(cls, diameter_m: _Scalar, length_m: _Scalar) -> Capillary: ...

@final
class Slot(LeakLaw):
    """A flat gap in laminar flow: its width across the flow, its gap and its length along the flow [m].

    Raises
    ------
    LeakError
        For a length that is not valid.

    Examples
    --------
    >>> Slot("10 mm", "10 um", "6 mm").name
    'slot'
    """
    def __new__(cls, width_m: _Scalar, gap_m: _Scalar, length_m: _Scalar) -> Slot: ...

@final
class PowerLaw(LeakLaw):
    """A power law Q = C dp^n through a known flow [m3/s] at a pressure difference [Pa], n from 0.5 to 1.

    Raises
    ------
    LeakError
        For a flow, a difference or an exponent that is not valid.

    Examples
    --------
    >>> PowerLaw("30 cm3/min", "7 psi", 0.65).name
    'power law'
    """
    def __new__(cls, flow_m3_s: _Scalar, difference_pa: _Scalar, exponent: _Scalar) -> PowerLaw: ...

@final
class Parallel(LeakLaw):
    """Several leaks side by side: their flows add.

    Examples
    --------
    >>> both = Parallel([Orifice(5e-9), Orifice(3e-9)])
    >>> f"{both.effective_area_m2(150e3, 101325.0, temperature_k=293.15):.3g}"
    '8e-09'
    """
    def __new__(cls, laws: Sequence[LeakLaw]) -> Parallel: ...

@final
class DecayLaw:
    """A leak law as the shape of the decay that it gives. Where one is asked for, the name of one without a number does too.

    Parameters
    ----------
    name : str
        One of `DecayLaw.names()`.
    number : float, optional
        The law's own number, where it has one.

    Raises
    ------
    Error
        For a name that no law has, a number that is missing or one too many.

    Examples
    --------
    >>> DecayLaw("power law", 0.75)
    DecayLaw('power law', 0.75)
    >>> DecayLaw.power(0.75) == DecayLaw("power law", 0.75)
    True
    >>> DecayLaw.laminar().words
    'a fine gap'
    """
    def __new__(cls, name: str, number: float | None = None) -> DecayLaw: ...
    @staticmethod
    def names() -> list[str]:
        """Every law's name.

        Examples
        --------
        >>> "orifice" in DecayLaw.names()
        True
        """
    @staticmethod
    def orifice() -> DecayLaw:
        """A hole."""
    @staticmethod
    def laminar() -> DecayLaw:
        """A fine gap: capillary or slot."""
    @staticmethod
    def sonic(critical_ratio: float) -> DecayLaw:
        """A tube or fitting of a critical pressure ratio b, by ISO 6358."""
    @staticmethod
    def power(exponent: float) -> DecayLaw:
        """A power law of an exponent n, between a hole (0.5) and a fine gap (1)."""
    @property
    def name(self) -> str:
        """Name of the law."""
    @property
    def number(self) -> float | None:
        """The law's own number; none where it has none."""
    @property
    def words(self) -> str:
        """The kind of leak in the trade's words."""

@final
class Decay:
    """Decay of an isothermal vessel, in closed form: the limit of slow leaks.

    Parameters
    ----------
    area_m2 : float
        Effective area CdA at the start pressure [m2].
    volume_m3 : float
        Volume under test [m3].
    start_gauge_pa : float
        Gauge pressure at time zero [Pa]; below zero for a vacuum test.
    ambient_pa : float
        Ambient absolute pressure [Pa].
    temperature_k : float
        Temperature of gas and wall [K].
    law : DecayLaw or str
        The kind of leak; an orifice unless stated otherwise.
    gas : Gas, optional
        Dry air unless stated otherwise.

    Raises
    ------
    VesselError, LeakError, QuantityError
        For a number that is not valid.

    Notes
    -----
    The orifice's flow is that of NACA report 1135; the closed forms are derived in the theory manual.

    Examples
    --------
    >>> decay = Decay(4.869e-9, "250 cm3", "7 psi", ambient_pa=101325.0, temperature_k=293.15)
    >>> round(decay.time_s("6 psi"), 1)
    13.0
    >>> decay.gauge_pa([0.0, 13.0]).round(0)
    array([48263., 41377.])
    """
    def __new__(
        cls,
        area_m2: _Scalar,
        volume_m3: _Scalar,
        start_gauge_pa: _Scalar,
        *,
        ambient_pa: _Scalar,
        temperature_k: _Scalar,
        law: _Law = ...,
        gas: Gas | None = None,
    ) -> Decay: ...
    @overload
    def gauge_pa(self, time_s: _Number) -> float:
        """Gauge pressure [Pa] at times [s] after the start, an array of any shape.

        Raises
        ------
        VesselError
            For a time that is no number or before the start.

        Examples
        --------
        >>> decay = Decay(5e-9, 250e-6, -40e3, ambient_pa=101325.0, temperature_k=293.15)
        >>> round(decay.gauge_pa(30.0))
        -28453
        """
    @overload
    def gauge_pa(self, time_s: _Sequence) -> _Floats: ...
    @overload
    def time_s(self, gauge_pa: _Number) -> float:
        """Time [s] at which the gauge passes pressures [Pa]; NaN where it never does.

        Examples
        --------
        >>> decay = Decay(5e-9, 250e-6, 48e3, ambient_pa=101325.0, temperature_k=293.15)
        >>> decay.time_s([48e3, 12e3, -1.0]).round(3)
        array([ 0.   , 84.715,    nan])
        """
    @overload
    def time_s(self, gauge_pa: _Sequence) -> _Floats: ...
    @overload
    def straightened(self, gauge_pa: _Number) -> float:
        """The straightening coordinate of gauge pressures [Pa]: a straight line in time for this law.

        Examples
        --------
        >>> decay = Decay(5e-9, 250e-6, 48e3, ambient_pa=101325.0, temperature_k=293.15)
        >>> a, b, c = decay.straightened(decay.gauge_pa([0.0, 20.0, 40.0]))
        >>> bool(abs((a - b) - (b - c)) < 1e-12)
        True
        """
    @overload
    def straightened(self, gauge_pa: _Sequence) -> _Floats: ...
    @property
    def ends_after_s(self) -> float | None:
        """When the needle reaches zero [s]; None without a leak or with a laminar one."""
    @property
    def law(self) -> DecayLaw:
        """The kind of leak."""

@final
class ThermalVessel:
    """A vessel whose gas exchanges heat with its wall, with any leak law, followed as differential equations.

    Parameters
    ----------
    law : LeakLaw
        The leak.
    volume_m3, start_gauge_pa, ambient_pa, temperature_k : float
        As those of `Decay`; gas and wall start at the ambient temperature.
    conductance_w_k : float, optional
        Thermal conductance hA between gas and wall [W/K]; 0 is adiabatic, None isothermal.
    start_temperature_k : float, optional
        Temperature of the gas at time zero [K], as just after pumping.
    wall_temperature_k : float, optional
        Temperature of the wall at time zero [K].
    wall_drift_k_s : float
        Its steady drift [K/s].
    compliance_m3_pa : float
        Growth of the volume with the gauge pressure [m3/Pa], as of a soft boot; none unless stated otherwise.
    gas : Gas, optional
        Dry air unless stated otherwise.

    Raises
    ------
    VesselError, QuantityError
        For a number that is not valid.

    Examples
    --------
    >>> vessel = ThermalVessel(Orifice(5e-9), 250e-6, 48e3, ambient_pa=101325.0, temperature_k=293.15,
    ...                        conductance_w_k=0.35, start_temperature_k=303.15)
    >>> gauge_pa, temperature_k = vessel.states([0.0, 1.0, 60.0])
    >>> temperature_k.round(2)
    array([303.15, 296.08, 292.91])
    """
    def __new__(
        cls,
        law: LeakLaw,
        volume_m3: _Scalar,
        start_gauge_pa: _Scalar,
        *,
        ambient_pa: _Scalar,
        temperature_k: _Scalar,
        conductance_w_k: _Scalar | None = None,
        start_temperature_k: _Scalar | None = None,
        wall_temperature_k: _Scalar | None = None,
        wall_drift_k_s: _Scalar | None = None,
        compliance_m3_pa: float = ...,
        gas: Gas | None = None,
    ) -> ThermalVessel: ...
    def states(self, time_s: _Column) -> tuple[_Floats, _Floats]:
        """Gauge pressure [Pa] and gas temperature [K] at times [s] in any order, as two arrays.

        Raises
        ------
        VesselError
            For a time that is no number or before the start, or a law without a flow for this gas.

        Examples
        --------
        >>> vessel = ThermalVessel(Orifice(5e-9), 250e-6, 48e3, ambient_pa=101325.0, temperature_k=293.15,
        ...                        conductance_w_k=0.0)
        >>> gauge_pa, temperature_k = vessel.states([60.0])
        >>> gauge_pa.round(), temperature_k.round(2)
        (array([12699.]), array([271.41]))
        """
    def gauge_pa(self, time_s: _Column) -> _Floats:
        """Gauge pressure [Pa] at times [s] in any order; as the first of `states`.

        Examples
        --------
        >>> vessel = ThermalVessel(Orifice(5e-9), 250e-6, 48e3, ambient_pa=101325.0, temperature_k=293.15)
        >>> vessel.gauge_pa([0.0, 84.715]).round()
        array([48000., 12000.])
        """
    @property
    def settling_time_s(self) -> float | None:
        """Time constant m cv/(hA) [s] with which the gas settles to the wall's temperature; None where it is adiabatic."""

@final
class Gauge:
    """A gauge as its readings see it: made by `Gauge.dial` or `Gauge.digital`.

    Examples
    --------
    >>> gauge = Gauge.dial("0.5 psi", "0.125 psi", accuracy_class=1.6, span_pa="100 kPa")
    >>> gauge.is_coarse, round(gauge.offset_uncertainty_pa, 1)
    (True, 653.2)
    """
    @staticmethod
    def dial(
        division_pa: _Scalar,
        readable_pa: _Scalar,
        *,
        noise_pa: _Scalar | None = None,
        accuracy_class: float | None = None,
        span_pa: _Scalar | None = None,
        stopwatch_s: _Scalar | None = None,
    ) -> Gauge:
        """A dial read by eye.

        Parameters
        ----------
        division_pa, readable_pa : float
            Step between marks, and the smallest step that is read between them [Pa].
        noise_pa : float, optional
            Standard deviation of a reading before rounding [Pa]; a tenth of the readable step unless stated otherwise.
        accuracy_class, span_pa : float, optional
            Class after EN 837-1 in percent of the span [Pa]; both or neither.
        stopwatch_s : float, optional
            Standard uncertainty of the moment of a reading [s]; 0.15 unless stated otherwise.

        Raises
        ------
        GaugeError
            For a number that no gauge has.

        Examples
        --------
        >>> Gauge.dial("0.5 psi", "0.125 psi").stopwatch_s
        0.15
        """
    @staticmethod
    def digital(
        resolution_pa: _Scalar,
        *,
        noise_pa: _Scalar | None = None,
        accuracy_class: float | None = None,
        span_pa: _Scalar | None = None,
        stopwatch_s: _Scalar | None = None,
    ) -> Gauge:
        """A digital gauge of a resolution [Pa]; the other parameters are those of `dial`.

        Its noise is half the resolution and its times are exact unless stated otherwise.

        Examples
        --------
        >>> Gauge.digital(100.0).noise_pa
        50.0
        """
    @property
    def step_pa(self) -> float:
        """The smallest change that a reading can show [Pa]."""
    @property
    def noise_pa(self) -> float:
        """Standard deviation of a reading's noise before rounding [Pa]."""
    @property
    def stopwatch_s(self) -> float:
        """Standard uncertainty of the moment of a reading [s]."""
    @property
    def offset_uncertainty_pa(self) -> float:
        """Standard uncertainty of the offset that all readings share [Pa]."""
    @property
    def scale_uncertainty(self) -> float:
        """Standard uncertainty of the relative scale error that all readings share."""
    @property
    def reading_uncertainty_pa(self) -> float:
        """Standard uncertainty of a reading from noise and rounding [Pa]."""
    @property
    def is_coarse(self) -> bool:
        """Whether readings stick to steps: the noise is below half a step."""
    @overload
    def rounded(self, felt_pa: _Number) -> float:
        """What the gauge shows for gauge pressures that it feels [Pa]: rounded to its step.

        Examples
        --------
        >>> Gauge.digital(100.0).rounded([1249.0, -1251.0])
        array([ 1200., -1300.])
        """
    @overload
    def rounded(self, felt_pa: _Sequence) -> _Floats: ...
    def ln_likelihood(self, reading_pa: _Many, felt_pa: _Many) -> _FloatOrArray:
        """Log-likelihood of readings given the pressures that the gauge feels [Pa], broadcast together.

        Examples
        --------
        >>> round(Gauge.digital(100.0).ln_likelihood(1200.0, 1200.0), 3)
        -0.382
        """

@final
class Bench:
    """What all runs of a session share.

    Each measured quantity is a number, a pair of the number and its standard uncertainty, or an object with
    `nominal_value` and `std_dev`.

    Parameters
    ----------
    volume_m3 : float, pair or TestedVolume
        Volume under test, rig included [m3].
    ambient_pa : float or pair
        Ambient absolute pressure [Pa].
    temperature_k : float or pair
        Temperature of the gas, that of the case's wall [K].
    gauge : Gauge
        The gauge.
    drift_allowance_k_s : float
        Standard uncertainty of an unknown steady drift of the temperature [K/s].
    conductance_w_k : float, optional
        Thermal conductance hA between gas and wall [W/K]; what a crankcase of this volume usually has unless stated otherwise.
    conductance_ln_uncertainty : float
        Standard uncertainty of ln hA, where it is given; 0 unless stated otherwise.
    isothermal : bool
        Take the gas to have the wall's temperature at all times; False unless stated otherwise.
    settled_for_s : float
        Time from the last stroke of the pump to the first reading [s]; zero where it isn't known.
    gas : Gas, optional
        Dry air unless stated otherwise.
    drift_k_s : float or pair, optional
        A steady drift of the temperature that was measured beside the readings [K/s], and its standard uncertainty; it takes
        the place of the allowance.
    thermometer : str
        What the thermometer touches whose temperatures come beside the readings: the "wall" of the case, the "gas" inside, the
        air of the "room", or something "nearby", which tells least, unless stated otherwise.
    zero_pa : float or pair, optional
        What the gauge shows without pressure [Pa]; nothing unless stated otherwise, as of the four below.
    lag_s : float or pair, optional
        Time constant with which the gauge follows the pressure [s].
    stretch_per_pa : float or pair, optional
        By how much of itself the volume grows with the gauge pressure, at once [1/Pa].
    creep_per_pa : float or pair, optional
        By how much of itself it goes on growing in the minute after pumping [1/Pa].
    warmth_k : float or pair, optional
        How much warmer than the room the engine is at the first reading [K].
    sticks : bool
        Whether what moves one reading may move the next, as a needle that sticks or a hand on the hose does; False unless stated otherwise.

    Raises
    ------
    MeasuredError, QuantityError, VesselError, ValueError
        For a number that is not valid.

    Examples
    --------
    >>> bench = Bench(volume_m3=("250 cm3", "5 cm3"), ambient_pa=(101325.0, 100.0), temperature_k=("20 C", "1 K"),
    ...               gauge=Gauge.digital(100.0))
    >>> bench
    <Bench: 0.00025 m3, 101325 Pa, 293.15 K, dry air>
    """
    def __new__(
        cls,
        *,
        volume_m3: _Uncertain | TestedVolume,
        ambient_pa: _Uncertain,
        temperature_k: _Uncertain,
        gauge: Gauge,
        drift_allowance_k_s: _Scalar | None = None,
        conductance_w_k: _Scalar | None = None,
        conductance_ln_uncertainty: float = ...,
        isothermal: bool = ...,
        settled_for_s: _Scalar | None = None,
        gas: Gas | None = None,
        drift_k_s: _Uncertain | None = None,
        zero_pa: _Uncertain | None = None,
        lag_s: _Uncertain | None = None,
        stretch_per_pa: _Uncertain | None = None,
        creep_per_pa: _Uncertain | None = None,
        warmth_k: _Uncertain | None = None,
        sticks: bool = ...,
        thermometer: str = ...,
    ) -> Bench: ...
    @property
    def volume_m3(self) -> tuple[float, float]:
        """Volume under test and its standard uncertainty [m3]."""
    @property
    def ambient_pa(self) -> tuple[float, float]:
        """Ambient absolute pressure and its standard uncertainty [Pa]."""
    @property
    def temperature_k(self) -> tuple[float, float]:
        """Temperature and its standard uncertainty [K]."""
    @property
    def drift_allowance_k_s(self) -> float:
        """Standard uncertainty of an unknown steady drift of the temperature [K/s]."""
    @property
    def drift_k_s(self) -> tuple[float, float] | None:
        """The drift of the temperature that was measured beside the readings and its standard uncertainty [K/s]; None where
        only the allowance is known.
        """
    @property
    def thermometer(self) -> str:
        """What the thermometer touches: "wall", "gas", "room" or "nearby"."""
    @property
    def zero_pa(self) -> tuple[float, float] | None:
        """What the gauge shows without pressure and its standard uncertainty [Pa]; None where nothing is stated."""
    @property
    def lag_s(self) -> tuple[float, float] | None:
        """Time constant with which the gauge follows the pressure and its standard uncertainty [s]."""
    @property
    def stretch_per_pa(self) -> tuple[float, float] | None:
        """Relative growth of the volume with the gauge pressure and its standard uncertainty [1/Pa]."""
    @property
    def creep_per_pa(self) -> tuple[float, float] | None:
        """Relative growth that follows in the minute after pumping and its standard uncertainty [1/Pa]."""
    @property
    def warmth_k(self) -> tuple[float, float] | None:
        """How much warmer than the room the engine is and its standard uncertainty [K]."""
    @property
    def sticks(self) -> bool:
        """Whether what moves one reading may move the next."""
    @property
    def settled_for_s(self) -> float:
        """Time from the last stroke of the pump to the first reading [s]."""
    @property
    def gauge(self) -> Gauge:
        """The gauge."""

@final
class TestedVolume:
    """A tested volume with its standard uncertainty and how it was got.

    Wherever a measured quantity is asked for, a number, a pair of it and its standard uncertainty, or an object with
    `nominal_value` and `std_dev` is taken.

    Examples
    --------
    >>> case = TestedVolume.measured_directly(("240 cm3", "4 cm3")).plus("hose and gauge", ("12 cm3", "3 cm3"))
    >>> case
    <TestedVolume: 252 cm3 +- 5 cm3, measured directly, rig included>
    """
    @staticmethod
    def measured_directly(volume_m3: _Uncertain) -> TestedVolume:
        """A volume that was measured as a whole [m3].

        Raises
        ------
        VolumeError
            Unless it is above zero.

        Examples
        --------
        >>> TestedVolume.measured_directly(250e-6).volume_m3
        0.00025
        """
    @staticmethod
    def from_expansion(
        *,
        reference_m3: _Uncertain,
        before_pa: _Uncertain,
        after_pa: _Uncertain,
        ambient_pa: _Uncertain,
        temperature_k: _Uncertain,
        settled_within_k: _Scalar,
        zero_pa: _Uncertain | None = None,
        tested_before_pa: _Uncertain | None = None,
    ) -> TestedVolume:
        """By letting gas expand into, or out of, a known reference volume: gauge pressures [Pa] before and after.

        Parameters
        ----------
        reference_m3 : float or pair
            The known volume [m3].
        before_pa, after_pa : float or pair
            Gauge pressures before and after the expansion [Pa].
        zero_pa : float or pair
            What the gauge shows at ambient [Pa].
        ambient_pa, temperature_k : float or pair
            Ambient absolute pressure [Pa] and temperature [K].
        settled_within_k : float
            Half-width within which the gas had come back to the wall's temperature [K].
        tested_before_pa : float or pair, optional
            Gauge pressure of the case before the expansion, where it was pumped or evacuated [Pa].

        Raises
        ------
        VolumeError
            For readings that give no volume.

        Examples
        --------
        >>> TestedVolume.from_expansion(reference_m3=("100 cm3", "0.5 cm3"), before_pa=50e3, after_pa=14e3,
        ...     ambient_pa=101325.0, temperature_k="20 C", settled_within_k=0.2).method
        'expansion from a known volume'
        """
    @staticmethod
    def from_water_fill(
        *,
        empty_kg: _Uncertain,
        full_kg: _Uncertain,
        water_k: _Uncertain,
        trapped_m3: _Uncertain,
        balance_scale: _Uncertain,
    ) -> TestedVolume:
        """By filling with water: masses of the case empty and full [kg].

        Parameters
        ----------
        empty_kg, full_kg : float or pair
            Masses [kg].
        water_k : float or pair
            Temperature of the water [K].
        trapped_m3 : float or pair
            Volume of the bubbles that stayed [m3].
        balance_scale : float or pair
            Relative scale error of the balance, usually (0, 0.001).

        Raises
        ------
        VolumeError
            For readings that give no volume.

        Examples
        --------
        >>> TestedVolume.from_water_fill(empty_kg=(1.85, 1e-3), full_kg=(2.1, 1e-3), water_k=("20 C", "2 K"),
        ...     trapped_m3=("2 cm3", "1 cm3"), balance_scale=(1.0, 0.001))
        <TestedVolume: 252.7 cm3 +- 1.8 cm3, filled with a liquid and weighed>
        """
    @staticmethod
    def combine(volumes: Sequence[TestedVolume], *, shared: Sequence[str] = ...) -> TestedVolume:
        """The weighted mean of several ways to the same volume; names in `shared` are one quantity in all of them.

        Raises
        ------
        VolumeError
            Without a volume, or where they can't be weighed.

        Examples
        --------
        >>> one = TestedVolume.measured_directly((250e-6, 5e-6))
        >>> other = TestedVolume.measured_directly((256e-6, 5e-6))
        >>> round(TestedVolume.combine([one, other]).volume_m3 * 1e6, 6)
        253.0
        """
    def plus(self, name: str, space_m3: _Uncertain) -> TestedVolume:
        """The volume with another space in it [m3].

        Examples
        --------
        >>> round(TestedVolume.measured_directly(250e-6).plus("hose", 10e-6).volume_m3 * 1e6)
        260
        """
    @property
    def volume_m3(self) -> float:
        """The volume [m3]."""
    @property
    def standard_uncertainty_m3(self) -> float:
        """Its standard uncertainty [m3]."""
    @property
    def method(self) -> str:
        """How it was got."""
    @property
    def assumptions(self) -> list[str]:
        """What the method assumes, one sentence each."""
    @property
    def parts(self) -> dict[str, tuple[float, float]]:
        """Volume and standard uncertainty [m3] by the name of each part."""

@final
class Engine:
    """An engine by its dimensions, or by as much of them as there is: the displacement is enough, or bore and stroke.

    Parameters
    ----------
    displacement_m3 : float or pair, optional
        Displacement of the one cylinder whose crankcase is tested [m3].
    bore_m, stroke_m, rod_m : float or pair, optional
        Bore, stroke and length of the connecting rod [m].
    primary_compression_ratio : float or pair, optional
        Case volume at the top over that at the bottom; 1.3 to 1.6 where it is not given, as small two-stroke engines have.
    compression_ratio : float or pair, optional
        Of the cylinder; 7 to 12 where it is not given. It counts where the transfer ports join cylinder and case.

    Raises
    ------
    VolumeError
        For dimensions that no engine has, or that contradict each other.
    MissingError
        Without displacement, bore and stroke.

    Examples
    --------
    >>> engine = Engine(bore_m="46 mm", stroke_m="31 mm", rod_m="55 mm", primary_compression_ratio=1.42,
    ...                 compression_ratio=7.1)
    >>> round(engine.swept_volume_m3[0] * 1e6, 2)
    51.52
    >>> Engine(displacement_m3=("51.5 cm3", "0.1 cm3")).tested_volume("top")
    <TestedVolume: 195.5 cm3 +- 26 cm3, from the engine's size and what is typical of two-stroke engines>
    """
    def __new__(
        cls,
        *,
        displacement_m3: _Uncertain | None = None,
        bore_m: _Uncertain | None = None,
        stroke_m: _Uncertain | None = None,
        rod_m: _Uncertain | None = None,
        primary_compression_ratio: _Uncertain | None = None,
        compression_ratio: _Uncertain | None = None,
    ) -> Engine: ...
    @property
    def swept_volume_m3(self) -> tuple[float, float]:
        """Swept volume and its standard uncertainty [m3]."""
    def tested_volume(self, piston: str | None = None, *, rig_m3: _Uncertain | None = None) -> TestedVolume:
        """The volume under test with the piston at "bottom", "top" or an angle such as "60 deg, transfers shut", and a rig
        (hose and gauge) of a volume [m3]; of a rig that nobody measured 10 to 40 cm3. The piston may stand anywhere where the primary
        compression ratio is not given.

        Raises
        ------
        VolumeError
            For a position that is not understood.
        MissingError
            Without a position where the primary compression ratio is given.

        Examples
        --------
        >>> engine = Engine(bore_m="46 mm", stroke_m="31 mm", rod_m="55 mm", primary_compression_ratio=1.42,
        ...                 compression_ratio=7.1)
        >>> round(engine.tested_volume("bottom", rig_m3=("18 cm3", "1 cm3")).volume_m3 * 1e6, 1)
        200.6
        >>> Engine(displacement_m3=51.5e-6).tested_volume().standard_uncertainty_m3 > 25e-6
        True
        """
    def over_a_turn(self, angles: int) -> tuple[_Floats, _Floats, _Floats]:
        """A turn in equal steps from the top: angle [rad], piston travel [m] and case volume [m3], each an array.

        Raises
        ------
        VolumeError
            For no angles at all.
        MissingError
            Where bore, stroke, rod or primary compression ratio was not given.

        Examples
        --------
        >>> engine = Engine(bore_m="46 mm", stroke_m="31 mm", rod_m="55 mm", primary_compression_ratio=1.42)
        >>> angle_rad, travel_m, case_m3 = engine.over_a_turn(12)
        >>> float(travel_m.max().round(6))
        0.031
        """

@final
class Estimate:
    """A value that can't be negative, with the interval that holds the truth as often as its level says.

    `low` is zero where the truth may be zero; `high` is infinite where the interval is open upward.

    Examples
    --------
    >>> Sheet.read(demo / "kart-engine-2.toml").running().idle.lean_shift.high
    inf
    """
    @property
    def value(self) -> float:
        """Best estimate."""
    @property
    def low(self) -> float:
        """Lower end."""
    @property
    def high(self) -> float:
        """Upper end."""
    @property
    def level(self) -> float:
        """Confidence level, 0.95 for 95 %."""
    def probability_within(self, limit: float) -> float:
        """Probability that the quantity lies at or below a limit, in the interval's unit.

        Examples
        --------
        >>> leak = fit([0, 5, 10, 15], [48300, 45500, 42800, 40300], bench)
        >>> round(leak.effective_area_m2.probability_within(leak.effective_area_m2.high), 3)
        0.975
        """
    def to_dict(self) -> dict[str, float | None]:
        """As a dictionary with value, low, high and level.

        Examples
        --------
        >>> list(Sheet.read(demo / "string-trimmer-6.toml").running().idle.lean_shift.to_dict())
        ['value', 'low', 'high', 'level']
        """

@final
class LawWeight:
    """A law with its probability given the readings, among the laws tried."""
    @property
    def law(self) -> DecayLaw:
        """The law."""
    @property
    def weight(self) -> float:
        """Its probability."""
    @property
    def rate_per_s(self) -> float:
        """Rate [1/s] by this law, of the orifice with the same flow at the start pressure."""
    @property
    def chi_squared(self) -> float:
        """Sum of the squared residuals and of the shared terms."""

@final
class Fit:
    """A leak fitted to the readings of one run: what `fit` returns."""
    @property
    def direction(self) -> _Direction:
        """"pressure" or "vacuum"."""
    @property
    def course(self) -> Literal["falls", "stands", "rises", "explained", "unknown"]:
        """What the readings show: the needle "falls", "stands" or "rises"."""
    @property
    def law(self) -> DecayLaw | None:
        """The law, where the readings tell it from the others tried; else None."""
    @property
    def laws(self) -> list[LawWeight]:
        """The laws tried that can't be dismissed, the likeliest first."""
    @property
    def rate_per_s(self) -> Estimate:
        """Rate k = CdA sqrt(R T)/V [1/s]: what a decay identifies. Its interval holds all but volume and temperature."""
    @property
    def effective_area_m2(self) -> Estimate:
        """Effective area CdA [m2]; its interval holds volume and temperature as well."""
    @property
    def rig_area_m2(self) -> Estimate | None:
        """The rig's own effective area [m2] at the start pressure, where it was subtracted."""
    @property
    def start_gauge_pa(self) -> float:
        """Gauge pressure at the first reading, fitted by the likeliest law [Pa]."""
    @property
    def parts(self) -> dict[str, float]:
        """Where the area's interval comes from: standard uncertainty [m2] by the name of each part; they add in quadrature."""
    @property
    def time_s(self) -> _Floats:
        """Times of the readings [s]."""
    @property
    def reading_pa(self) -> _Floats:
        """Readings [Pa]."""
    @property
    def fitted_pa(self) -> _Floats:
        """What the gauge would have shown [Pa], fitted offset and scale included."""
    @property
    def standardized(self) -> _Floats:
        """Reading less fitted, in standard uncertainties of a reading."""
    @property
    def residual_rms_pa(self) -> float:
        """Root mean square of reading less fitted [Pa]."""
    @property
    def chi_squared(self) -> float:
        """Sum of the squared standardized residuals and of the shared terms."""
    @property
    def degrees_of_freedom(self) -> int:
        """Readings less the two fitted quantities, rate and start pressure."""
    @property
    def correlation(self) -> float:
        """Correlation of rate and start pressure."""
    @property
    def method(self) -> Literal["quadratic", "profile", "rounded", "fallen", "unknown"]:
        """How the rate's interval was got: "quadratic", "profile", "rounded" or "fallen"."""
    @property
    def iterations(self) -> int:
        """The solver's iterations."""
    @property
    def converged(self) -> bool:
        """Whether the solver reached an optimum."""
    @property
    def notes(self) -> list[str]:
        """What to know, one sentence each."""
    @overload
    def reading_at(self, time_s: _Number, *, rate_per_s: float | None = None) -> float:
        """Gauge readings [Pa] that the likeliest law has at times [s] on the run's own clock, gauge errors included; a rate
        [1/s] other than the fitted one gives the edges of a band. NaN where there is none.

        Examples
        --------
        >>> leak = fit([0, 5, 10, 15], [48300, 45500, 42800, 40300], bench)
        >>> bool(abs(leak.reading_at(5.0) - 45500) < 200)
        True
        """
    @overload
    def reading_at(self, time_s: _Sequence, *, rate_per_s: float | None = None) -> _Floats: ...
    @overload
    def straightened(self, reading_pa: _Number) -> float:
        """Gauge readings [Pa] in the straightening coordinate of the likeliest law; NaN at or past zero.

        Examples
        --------
        >>> leak = fit([0, 5, 10, 15], [48300, 45500, 42800, 40300], bench)
        >>> leak.straightened(leak.reading_pa).shape
        (4,)
        """
    @overload
    def straightened(self, reading_pa: _Sequence) -> _Floats: ...
    def area_from(self, start_gauge_pa: _Scalar) -> Estimate:
        """The effective area [m2] that the same leak has at another start pressure [Pa].

        Examples
        --------
        >>> leak = fit([0, 5, 10, 15], [48300, 45500, 42800, 40300], bench, laws=["orifice"])
        >>> leak.area_from("1 psi").value == leak.effective_area_m2.value
        True
        """
    def less(self, rig: Fit) -> Fit:
        """The same leak without the rig's, known from a fit of the rig alone in the same direction.

        Examples
        --------
        >>> leak = fit([0, 5, 10, 15], [48300, 45500, 42800, 40300], bench)
        >>> leak.less(leak).effective_area_m2.value
        0.0
        """
    def to_dict(self) -> dict[str, Any]:
        """As a dictionary of plain Python objects, residuals included.

        Examples
        --------
        >>> fit([0, 5, 10, 15], [48300, 45500, 42800, 40300], bench).to_dict()["direction"]
        'pressure'
        """
    def to_json(self, *, indent: bool = False) -> str:
        """As JSON text.

        Examples
        --------
        >>> fit([0, 5, 10, 15], [48300, 45500, 42800, 40300], bench).to_json()[:11]
        '{"format":1'
        """
    def plot(self, axes: tuple[Any, Any] | None = None) -> tuple[Any, Any]:
        """Readings, fitted curve and residuals, drawn by matplotlib (extra "plot").

        Parameters
        ----------
        axes : pair of matplotlib axes, optional
            For the curve and the residuals; without, those of a new figure of ``matplotlib.pyplot``, which a notebook shows by
            itself and a script by ``matplotlib.pyplot.show()``.

        Returns
        -------
        pair of matplotlib axes
            Of the curve and of the residuals.

        Raises
        ------
        ImportError
            Without matplotlib; it says how to install it.
        """
    def _repr_html_(self) -> str: ...

@final
class Limit:
    """An acceptance limit. There is no default one.

    Examples
    --------
    >>> Limit.max_drop("1 psi", from_pa="7 psi", over_s="1 min")
    <Limit: drop of at most 1 psi from 7 psi in 60 s>
    """
    @staticmethod
    def max_drop(
        drop_pa: _Scalar, *, from_pa: _Scalar, over_s: _Scalar, at_volume_m3: _Scalar | None = None
    ) -> Limit:
        """The needle may fall by at most a pressure from a pressure [Pa] over a time [s], in the volume under test or, where
        one is given, in a volume [m3] that the limit was set for.

        Examples
        --------
        >>> Limit.max_drop("1 psi", from_pa="7 psi", over_s=60.0, at_volume_m3="250 cm3")
        <Limit: drop of at most 1 psi from 7 psi in 60 s at 250 cm3>
        """
    @staticmethod
    def max_area(area_m2: _Scalar) -> Limit:
        """The effective area may be at most this [m2].

        Examples
        --------
        >>> Limit.max_area("0.005 mm2")
        <Limit: effective area of at most 5000 um2>
        """
    @staticmethod
    def max_flow(flow_m3_s: _Scalar, *, reference: str) -> Limit:
        """The flow at the run's start pressure may be at most this [m3/s], the gas counted at reference conditions: "normal",
        "ANR", "ISA", or a temperature and a pressure such as "20 C, 1013.25 hPa".

        Raises
        ------
        QuantityError
            For a reference that is not understood.

        Examples
        --------
        >>> Limit.max_flow("30 cm3/min", reference="normal")
        <Limit: flow of at most 30 cm3/min>
        """
    @staticmethod
    def min_hold(time_s: _Scalar, *, from_pa: _Scalar | None = None) -> Limit:
        """The needle must not fall by a readable step for at least a time [s], from a pressure [Pa] or the run's start.

        Examples
        --------
        >>> Limit.min_hold("2 min")
        <Limit: no readable fall for 120 s>
        """
    @staticmethod
    def one_psi_a_minute() -> Limit:
        """"One psi a minute" from 7 psi in the engine under test: common practice, no source; a maker's manual rules.

        Examples
        --------
        >>> Limit.one_psi_a_minute()
        <Limit: drop of at most 1 psi from 7 psi in 60 s>
        """

@final
class Decision:
    """A decision against one limit."""
    @property
    def limit(self) -> Limit:
        """The limit."""
    @property
    def basis(self) -> Literal["rate", "area"]:
        """What the limit is stated in: "rate" (the volume's uncertainty doesn't matter) or "area"."""
    @property
    def allowed_area_m2(self) -> float:
        """Largest allowed effective area, at the best value of the volume [m2]."""
    @property
    def allowed_rate_per_s(self) -> float:
        """Largest allowed rate k in the volume under test [1/s]."""
    @property
    def probability_within(self) -> float:
        """Probability that the leak is within the limit."""
    @property
    def verdict(self) -> _Verdict:
        """"holds", "leaks" or "undecided"."""

@final
class RunAssessment:
    """A run from readings to verdict: what `assess` returns, and what a session holds."""
    @property
    def name(self) -> str:
        """The run's name."""
    @property
    def direction(self) -> _Direction:
        """"pressure" or "vacuum"."""
    @property
    def verdict(self) -> _Verdict | None:
        """"holds", "leaks", "undecided" or "stalled"; None without a limit."""
    @property
    def fit(self) -> Fit | None:
        """The fit; None of a run whose needle was not raised."""
    @property
    def effective_area_m2(self) -> Estimate | None:
        """Effective area CdA [m2]; None of a run whose needle was not raised (`to_dict` has its lower bound)."""
    @property
    def diameter_m(self) -> Estimate | None:
        """Diameter [m] of the round hole of the assumed discharge coefficient."""
    @property
    def flow_m3_s(self) -> Estimate | None:
        """Flow [m3/s] at the run's start pressure, counted at the assumed reference."""
    @property
    def decisions(self) -> list[Decision]:
        """One decision a limit."""
    @property
    def probability_within_limit(self) -> float | None:
        """Probability that the leak is within the strictest limit."""
    @property
    def go_on_s(self) -> float | None:
        """How much longer an undecided run should be held [s]; None where that would not decide it, or nothing is open."""
    @property
    def notes(self) -> list[str]:
        """What to know, one sentence each."""
    def to_dict(self) -> dict[str, Any]:
        """As a dictionary: a run of `casetight assess --json`.

        Examples
        --------
        >>> run = assess([0, 5, 10, 15], [48300, 45500, 42800, 40300], bench, [Limit.one_psi_a_minute()])
        >>> run.to_dict()["verdict"]
        'leaks'
        """
    def to_json(self, *, indent: bool = False) -> str:
        """As JSON text.

        Examples
        --------
        >>> assess([0, 5, 10, 15], [48300, 45500, 42800, 40300], bench).to_json()[:10]
        '{"name":""'
        """
    def plot(self, axes: tuple[Any, Any] | None = None) -> tuple[Any, Any]:
        """Readings, fitted curve and residuals, drawn by matplotlib (extra "plot"); as `Fit.plot`.

        Raises
        ------
        ValueError
            For a run whose needle was not raised: there is no curve to draw.
        """
    def _repr_html_(self) -> str: ...

@final
class Sheet:
    """A bench sheet: one engine's test session as TOML.

    Examples
    --------
    >>> sheet = Sheet.read(demo / "mist-blower-14.toml")
    >>> sheet.title, sheet.runs
    ('Mist blower 14, sound', ['pressure', 'vacuum'])
    """
    @staticmethod
    def from_toml(text: str, *, traces: Mapping[str, bytes] | None = None) -> Sheet:
        """Reads a sheet from its text.

        Parameters
        ----------
        text : str
            The sheet.
        traces : dict of str to bytes, optional
            The trace files that it names.

        Raises
        ------
        SheetError
            Says what is wrong, where, and what would be right.

        Examples
        --------
        >>> text = (demo / "mist-blower-14.toml").read_text()
        >>> Sheet.from_toml(text).to_toml() == Sheet.from_toml(Sheet.from_toml(text).to_toml()).to_toml()
        True
        """
    @staticmethod
    def read(path: str | PathLike[str], *, traces_anywhere: bool = False) -> Sheet:
        """Reads a sheet from a file, and the traces that it names from below its folder.

        Parameters
        ----------
        path : str or path
            The file, no pipe or device, of up to 64 MiB.
        traces_anywhere : bool, optional
            Whether the sheet may name traces outside its folder too.

        Raises
        ------
        OSError
            Where the file can't be read.
        SheetError
            As `from_toml`, and for a trace that the sheet may not name.

        Examples
        --------
        >>> Sheet.read(demo / "ice-auger-7.toml")
        <Sheet: Ice auger 7, leaks under vacuum, 2 runs>
        """
    def to_toml(self) -> str:
        """The sheet as text that reads back to the same sheet.

        Raises
        ------
        SheetError
            For what can't be written.

        Examples
        --------
        >>> Sheet.read(demo / "mist-blower-14.toml").to_toml()[:10]
        'format = 1'
        """
    @property
    def title(self) -> str:
        """The sheet's title."""
    @property
    def runs(self) -> list[str]:
        """Names of its runs."""
    @property
    def limits(self) -> list[Limit]:
        """Its limits."""
    def bench(self, run: str) -> Bench:
        """The circumstances of a run: its tested volume, the surroundings, the gauge. What its trace logged of the temperature
        `temperature_k` has.

        Raises
        ------
        KeyError
            For a run that there is not.

        Examples
        --------
        >>> Sheet.read(demo / "mist-blower-14.toml").bench("vacuum").ambient_pa
        (101325.0, 100.0)
        """
    def readings(self, run: str) -> tuple[_Floats, _Floats]:
        """Times [s] and gauge pressures [Pa] of a run, as two arrays; empty for one whose needle was not raised.

        Raises
        ------
        KeyError
            For a run that there is not.

        Examples
        --------
        >>> time_s, gauge_pa = Sheet.read(demo / "mist-blower-14.toml").readings("pressure")
        >>> time_s.shape
        (11,)
        """
    def temperature_k(self, run: str) -> _Floats | None:
        """Temperatures [K] at the readings of a run, an array; None where its trace has no column of them. With the run's
        `bench`, which knows what the thermometer touched, they go to `fit` and `assess`.

        Raises
        ------
        KeyError
            For a run that there is not.

        Examples
        --------
        >>> Sheet.read(demo / "mist-blower-14.toml").temperature_k("pressure") is None
        True
        """
    def volume(self, run: str) -> TestedVolume:
        """The tested volume of a run.

        Raises
        ------
        KeyError
            For a run that there is not.

        Examples
        --------
        >>> round(Sheet.read(demo / "mist-blower-14.toml").volume("pressure").volume_m3 * 1e6, 1)
        200.6
        """
    def assess(self) -> Session:
        """Fits every run, judges it, and says what to do next.

        Raises
        ------
        SessionError
            Names the run that can't be assessed.

        Examples
        --------
        >>> Sheet.read(demo / "clearing-saw-3.toml").assess().verdict
        'leaks'
        """
    def plan(self) -> Document:
        """What to expect before pumping: the document of `casetight plan --json`, cautions included.

        Raises
        ------
        SheetError, LeakError
            Where the sheet leaves something open that a plan needs.

        Examples
        --------
        >>> len(Sheet.read(demo / "string-trimmer-6.toml").plan()["cautions"]) > 0
        True
        """
    def isolate(self) -> Document:
        """Which place leaks, and what to blank or spray next: the document of `casetight isolate --json`.

        Areas are told at one gauge pressure, `at_gauge_pa` of each direction: of those that its runs started from, the one nearest
        to zero. Limits are converted there.

        Raises
        ------
        LocateError
            Where the runs can't tell.

        Examples
        --------
        >>> found = Sheet.read(demo / "clearing-saw-5.toml").isolate()
        >>> found["directions"][0]["next"]["step"]
        'repair'
        """
    def compare(self, after: Sheet, *, runs: tuple[str, str] | None = None) -> Document:
        """Whether a repair changed the leaks: this sheet before it and another after, the document of `casetight compare
        --json`.

        Parameters
        ----------
        after : Sheet
            The sheet after the repair.
        runs : pair of str, optional
            Names of the run before and the run after; runs are matched by direction and name without.

        Raises
        ------
        CompareError
            Where the sheets or their runs can't be compared.

        Examples
        --------
        >>> before = Sheet.read(demo / "mist-blower-9-before.toml")
        >>> before.compare(Sheet.read(demo / "mist-blower-9-repaired.toml"))["repair"]
        'repaired'
        """
    def running(self) -> Mixture:
        """What its leaks do to the mixture of the running engine: an estimate, at idle and at full throttle.

        Needs the engine's dimensions and a run of the engine. What ``[running]`` does not state is typical of small
        two-strokes.

        Raises
        ------
        SessionError
            Names the run that can't be assessed.
        RunningError
            For a sheet without the engine's dimensions, without a run of the engine, or with running conditions that are not valid.

        Examples
        --------
        >>> Sheet.read(demo / "kart-engine-2.toml").running().inward_area_m2.high
        inf
        """
    def report(self, before: Sheet | None = None) -> Report:
        """The page for the record, as `casetight report` writes it: verdict, numbers, drawings, cautions, inputs.

        Parameters
        ----------
        before : Sheet, optional
            The sheet before a repair, to compare with.

        Raises
        ------
        SessionError
            Names the run that can't be assessed.
        CompareError
            Where the sheet before can't be compared with this one.

        Examples
        --------
        >>> before = Sheet.read(demo / "mist-blower-9-before.toml")
        >>> Sheet.read(demo / "mist-blower-9-repaired.toml").report(before)
        <Report: Mist blower 9, new crank seals, holds>
        """

@final
class Session:
    """An assessed sheet: what `Sheet.assess` returns. It is a sequence of its runs' assessments.

    Examples
    --------
    >>> session = Sheet.read(demo / "mist-blower-14.toml").assess()
    >>> [(run.name, run.verdict) for run in session]
    [('pressure', 'holds'), ('vacuum', 'holds')]
    """
    @property
    def verdict(self) -> _Verdict | None:
        """The worst run's verdict: "leaks" before "undecided", "stalled" or None, before "holds"."""
    @property
    def runs(self) -> list[RunAssessment]:
        """The runs' assessments."""
    @property
    def next(self) -> list[str]:
        """What to do next, one sentence each."""
    @property
    def cautions(self) -> list[str]:
        """Cautions that belong beside the next steps."""
    def __len__(self) -> int: ...
    def __getitem__(self, key: int, /) -> RunAssessment: ...
    def __iter__(self) -> Iterator[RunAssessment]: ...
    def to_dict(self) -> dict[str, Any]:
        """As a dictionary: the document of `casetight assess --json`.

        Examples
        --------
        >>> Sheet.read(demo / "mist-blower-14.toml").assess().to_dict()["runs"][0]["verdict"]
        'holds'
        """
    def to_json(self, *, indent: bool = False) -> str:
        """As JSON text.

        Examples
        --------
        >>> Sheet.read(demo / "mist-blower-14.toml").assess().to_json()[:11]
        '{"format":1'
        """
    def plot(self, run: str | None = None, axes: tuple[Any, Any] | None = None) -> tuple[Any, Any]:
        """The first fitted run as `Fit.plot` draws it, or another by its name.

        Raises
        ------
        ValueError
            Where no such run was fitted.
        """
    def _repr_html_(self) -> str: ...

@final
class Mixture:
    """What the leaks of a sheet do to the mixture of the running engine: what `Sheet.running` returns. An estimate: nothing of
    it was measured on the running engine.

    Examples
    --------
    >>> running = Sheet.read(demo / "string-trimmer-6.toml").running()
    >>> running.inward_run, running.outward_run
    ('vacuum', 'pressure')
    """
    @property
    def inward_area_m2(self) -> Estimate:
        """Effective area of the leak for air that goes in [m2]."""
    @property
    def inward_run(self) -> str:
        """The run that it comes from."""
    @property
    def outward_area_m2(self) -> Estimate:
        """Effective area of the leak for mixture that goes out [m2]."""
    @property
    def outward_run(self) -> str:
        """The run that it comes from."""
    @property
    def idle(self) -> LeanShift:
        """At idle."""
    @property
    def full_throttle(self) -> LeanShift:
        """At full throttle."""
    @property
    def assumptions(self) -> list[str]:
        """What is taken for granted, one sentence each."""
    def to_dict(self) -> dict[str, Any]:
        """As a dictionary: the document of `casetight running --json`.

        Examples
        --------
        >>> Sheet.read(demo / "string-trimmer-6.toml").running().to_dict()["estimate"]
        True
        """
    def to_json(self, *, indent: bool = False) -> str:
        """As JSON text.

        Examples
        --------
        >>> Sheet.read(demo / "string-trimmer-6.toml").running().to_json()[:11]
        '{"format":1'
        """
    def _repr_html_(self) -> str: ...

@final
class LeanShift:
    """What a leak does to the mixture at one load: how much leaner it is, and what that follows from. An estimate.

    Examples
    --------
    >>> running = Sheet.read(demo / "string-trimmer-6.toml").running()
    >>> running.idle.lean_shift.value > running.full_throttle.lean_shift.value
    True
    """
    @property
    def name(self) -> Literal["idle", "full throttle"]:
        """"idle" or "full throttle"."""
    @property
    def speed_hz(self) -> float:
        """Speed, turns in a second [Hz]."""
    @property
    def delivery_ratio(self) -> float:
        """Air through the carburetor a turn over swept volume times ambient density."""
    @property
    def delivered_kg(self) -> float:
        """Air by the carburetor, a turn [kg]."""
    @property
    def leaked_in_kg(self) -> Estimate:
        """Air that leaks in, a turn [kg]."""
    @property
    def leaked_out_kg(self) -> Estimate:
        """Mixture that leaks out, a turn [kg]."""
    @property
    def lean_shift(self) -> Estimate:
        """Relative rise of lambda and of the air/fuel ratio: 0.01 is 1 % leaner."""
    @property
    def shares(self) -> dict[str, tuple[float, float]]:
        """What the range of the lean shift comes from: by how much each lowers and raises it; the parts add in quadrature."""
    @property
    def lowest_gauge_pa(self) -> float:
        """Lowest gauge pressure in the case over a turn [Pa]."""
    @property
    def highest_gauge_pa(self) -> float:
        """Highest gauge pressure in the case over a turn [Pa]."""
    def over_a_turn(self, angles: int) -> tuple[_Floats, _Floats]:
        """A turn in equal steps from the top: angle [rad] and gauge pressure in the case [Pa], each an array.

        Raises
        ------
        ValueError
            For no angles at all.

        Examples
        --------
        >>> angle_rad, gauge_pa = Sheet.read(demo / "string-trimmer-6.toml").running().idle.over_a_turn(360)
        >>> gauge_pa.shape, bool(gauge_pa.min() < 0.0 < gauge_pa.max())
        ((360,), True)
        """
    def to_dict(self) -> dict[str, Any]:
        """As a dictionary: a load of `casetight running --json`.

        Examples
        --------
        >>> Sheet.read(demo / "string-trimmer-6.toml").running().idle.to_dict()["name"]
        'idle'
        """

@final
class Report:
    """A sheet's page for the record: what `Sheet.report` returns, and what `casetight report` writes.

    A notebook shows it in a frame of its own.

    Examples
    --------
    >>> Sheet.read(demo / "clearing-saw-3.toml").report()
    <Report: Clearing saw 3, leaks under pressure, leaks>
    """
    @property
    def title(self) -> str:
        """The sheet's title."""
    @property
    def verdict(self) -> _Verdict | None:
        """The worst run's verdict, as that of `Session`."""
    def to_html(self) -> str:
        """The page as text: HTML in one piece, with its drawings and style in it; it fetches nothing and runs no script.

        Examples
        --------
        >>> Sheet.read(demo / "clearing-saw-3.toml").report().to_html()[:15]
        '<!DOCTYPE html>'
        """
    def write(self, path: str | PathLike[str]) -> None:
        """Writes the page to a file, whole or not at all: an older one of that name stays if anything goes wrong, and the new one has
        its permissions. Through a link the file that it leads to is replaced.

        Parameters
        ----------
        path : str or path
            The file, in a folder that is there; no pipe or device.

        Raises
        ------
        OSError
            Where it can't be written.

        Examples
        --------
        >>> import tempfile, pathlib
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     page = pathlib.Path(folder) / "clearing-saw-3.html"
        ...     Sheet.read(demo / "clearing-saw-3.toml").report().write(page)
        ...     page.read_text(encoding="utf-8")[:15]
        '<!DOCTYPE html>'
        """
    def _repr_html_(self) -> str: ...

@final
class Document:
    """A document of the command line program: its keys are those of `--json`.

    Examples
    --------
    >>> plan = Sheet.read(demo / "string-trimmer-6.toml").plan()
    >>> plan["plans"][0]["direction"]
    'pressure'
    """
    @property
    def kind(self) -> str:
        """What it is a document of: "plan", "isolate" or "compare"."""
    def __getitem__(self, key: str, /) -> Any: ...
    def __len__(self) -> int: ...
    def __contains__(self, key: str, /) -> bool: ...
    def keys(self) -> list[str]:
        """The names of its entries."""
    def to_dict(self) -> dict[str, Any]:
        """The whole as a dictionary of plain Python objects.

        Examples
        --------
        >>> Sheet.read(demo / "string-trimmer-6.toml").plan().to_dict()["format"]
        1
        """
    def to_json(self, *, indent: bool = False) -> str:
        """The whole as JSON text.

        Examples
        --------
        >>> Sheet.read(demo / "string-trimmer-6.toml").plan().to_json()[:10]
        '{"format":'
        """
    def _repr_html_(self) -> str: ...

def decay_gauge_pa(
    time_s: _Many,
    area_m2: _Many,
    volume_m3: _Many,
    start_gauge_pa: _Many,
    *,
    ambient_pa: _Many,
    temperature_k: _Many,
    law: _Law = ...,
    gas: Gas | None = None,
) -> _FloatOrArray:
    """Gauge pressure [Pa] of isothermal decays, broadcast over time and parameters together.

    Parameters
    ----------
    time_s, area_m2, volume_m3, start_gauge_pa, ambient_pa, temperature_k : float or array_like
        As those of `Decay`; arrays broadcast together.
    law : DecayLaw or str
        The kind of leak.
    gas : Gas, optional
        Dry air unless stated otherwise.

    Returns
    -------
    float or ndarray
        A float where all inputs are.

    Raises
    ------
    VesselError, LeakError, QuantityError
        For a number that is not valid.

    Examples
    --------
    >>> import numpy as np
    >>> areas = np.array([1e-9, 5e-9])
    >>> decay_gauge_pa([0.0, 30.0, 60.0], areas[:, None], 250e-6, 48e3, ambient_pa=101325.0, temperature_k=293.15).shape
    (2, 3)
    """
def fit(
    time_s: _Column,
    gauge_pa: _Column,
    bench: Bench,
    *,
    laws: _Laws | None = None,
    level: _Scalar | None = None,
    temperature_k: _Column | None = None,
    drift_k_s: _Uncertain | None = None,
) -> Fit:
    """Fits the readings of one run.

    Parameters
    ----------
    time_s : array_like, shape (n,)
        Times of the readings [s], rising.
    gauge_pa : array_like, shape (n,)
        Gauge pressures [Pa]; below zero for a vacuum test.
    bench : Bench
        Volume, ambient, gauge, gas.
    laws : sequence of laws, optional
        Laws to try: each a `DecayLaw` or its name, or a pair of one and its prior probability. The usual ones without.
    level : float, optional
        Confidence level of the intervals, 0.5 to 0.9999; 0.95 without.
    temperature_k : array_like, shape (n,), optional
        Temperature at each reading [K], three or more, of what the bench's `thermometer` touched: the gas follows its course.
    drift_k_s : float or pair, optional
        A steady drift of the wall's [K/s], where it is known otherwise, and its standard uncertainty. Without either, the
        bench's own holds.

    Returns
    -------
    Fit
        Estimates with intervals, the laws with their weights, residuals.

    Raises
    ------
    ReadingsError
        For readings that can't be those of one run: the message names the reading.
    FitError
        For what keeps them from being fitted.
    ArgumentError
        For arrays of anything but real numbers.
    QuantityError
        For a unit that does not convert.
    KeyboardInterrupt
        At once, where the readings are many.

    Notes
    -----
    What a decay identifies is the rate CdA sqrt(R T)/V; the area needs the volume. The method is that of the theory
    manual's page on the fit. No copy is made of a contiguous ``float64`` array at this door; the core keeps its own.

    Examples
    --------
    >>> leak = fit([0, 5, 10, 15], [48300, 45500, 42800, 40300], bench)
    >>> leak.effective_area_m2.low < leak.effective_area_m2.value < leak.effective_area_m2.high
    True
    """
def assess(
    time_s: _Column,
    gauge_pa: _Column,
    bench: Bench,
    limits: Sequence[Limit] = ...,
    *,
    level: _Scalar | None = None,
    discharge_coefficient: _Scalar | None = None,
    flow_reference: str | None = None,
    name: str = ...,
    temperature_k: _Column | None = None,
    drift_k_s: _Uncertain | None = None,
) -> RunAssessment:
    """Assesses the readings of one run: fit, a decision against each limit, how long to go on.

    Parameters
    ----------
    time_s, gauge_pa, bench
        As those of `fit`.
    limits : sequence of Limit
        A run holds when it holds by all; without one there is no verdict.
    level : float, optional
        Confidence level of the intervals.
    temperature_k, drift_k_s
        As those of `fit`.
    discharge_coefficient : float
        Cd of the hole whose diameter is quoted; only diameters depend on it.
    flow_reference : str
        What flows are counted at: "normal", "ANR", "ISA", or "20 C, 1013.25 hPa".
    name : str
        The run's name in the document.

    Raises
    ------
    ReadingsError, AssessError, QuantityError
        As `fit`, and for a limit that can't be applied.

    Examples
    --------
    >>> run = assess([0, 5, 10, 15], [48300, 45500, 42800, 40300], bench, [Limit.one_psi_a_minute()])
    >>> run.verdict, run.probability_within_limit < 0.001
    ('leaks', True)
    """
def fit_many(
    frame: _HasArrowStream,
    bench: Bench | Mapping[str, Bench],
    *,
    limits: Sequence[Limit] = ...,
    laws: _Laws | None = None,
    level: _Scalar | None = None,
    progress: Callable[[int, int], object] | None = None,
    run: str = "run",
    time_s: str = "time_s",
    gauge_pa: str = "gauge_pa",
    temperature_k: str | None = None,
) -> pa.Table:
    """Fits many runs, on all cores, from a frame of readings in long format.

    Parameters
    ----------
    frame : pandas, polars or pyarrow frame
        Anything with ``__arrow_c_stream__``: one row a reading, with the columns of the next three arguments. Columns of
        64-bit floats are not copied. Readings of a run stand in the order of their times; runs may be interleaved.
    bench : Bench or mapping of str to Bench
        Circumstances of all runs, or of each by its name.
    limits : sequence of Limit
        A run holds when it holds by all; without one the verdict is null.
    laws, level
        As those of `fit`.
    progress : callable, optional
        Called with the runs done and the runs in all, every few hundred runs, or fewer where they are long.
    run, time_s, gauge_pa : str
        Names of the columns. The one of times may hold spans of time.
    temperature_k : str, optional
        Name of a column of temperatures [K] of what the bench's `thermometer` touched; the gas follows their course.

    Returns
    -------
    pyarrow.Table
        One row a run, in the order of first appearance, with the columns of `result_schema`. An interval that is open upward
        ends at infinity; ``law`` is null where the readings don't tell it. A run that can't be fitted, or
        that has a reading or a time without a value, has its reason in ``error`` and null elsewhere.

    Raises
    ------
    Error
        For a frame without such columns, with rows that name no run, or of other types.
    FitError
        For a level or a law that no run can be fitted with.
    ImportError
        Without pyarrow; it says how to install it.
    KeyboardInterrupt
        As often as `progress` is told.

    Notes
    -----
    The interpreter is free for other threads in the meantime. ``RAYON_NUM_THREADS`` limits the cores. A forked child makes
    threads of its own.

    Examples
    --------
    >>> import pyarrow as pa
    >>> frame = pa.table({"run": ["a"] * 4, "time_s": [0.0, 5, 10, 15], "gauge_pa": [48300.0, 45500, 42800, 40300]})
    >>> fit_many(frame, bench, limits=[Limit.one_psi_a_minute()]).column("verdict").to_pylist()
    ['leaks']
    """
def result_schema() -> pa.Schema:
    """The columns of a result of `fit_many`: a pyarrow schema that does not change within a format, which its metadata says.

    Examples
    --------
    >>> result_schema().names[:3]
    ['run', 'verdict', 'effective_area_m2']
    """
