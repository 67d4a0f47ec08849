"""Whatever carries a unit is converted by it, as its own library does, or refused: never taken for a plain number."""

# Types that the stubs do not promise, and wrong ones on purpose.
# mypy: disable-error-code="arg-type,list-item,call-overload"
# pyright: reportArgumentType=false, reportCallIssue=false, reportAttributeAccessIssue=false

from __future__ import annotations

import datetime
from collections.abc import Callable
from typing import Any

import astropy.units
import numpy as np
import pandas as pd
import pint
import pytest
import unyt
import xarray

import casetight as ct

PINT: Any = pint.UnitRegistry()
U: Any = astropy.units
TIMES_S = np.array([0.0, 5.0, 10.0, 15.0, 20.0])
READINGS_PA = np.array([48_300.0, 45_500.0, 42_800.0, 40_300.0, 37_900.0])
WHERE: dict[str, Any] = {"ambient_pa": 101_325.0, "temperature_k": 293.15}

# How each library holds numbers in a unit.
LIBRARIES: dict[str, Callable[[Any, str], Any]] = {
    "pint": lambda numbers, unit: PINT.Quantity(numbers, unit),
    "astropy": lambda numbers, unit: U.Quantity(numbers, unit),
    "unyt": lambda numbers, unit: unyt.unyt_array(numbers, unit) if np.ndim(numbers) else unyt.unyt_quantity(numbers, unit),
    "xarray of pint": lambda numbers, unit: xarray.DataArray(PINT.Quantity(np.asarray(numbers), unit)),
    "xarray of astropy": lambda numbers, unit: xarray.DataArray(U.Quantity(np.asarray(numbers), unit)),
    "xarray of unyt": lambda numbers, unit: xarray.DataArray(unyt.unyt_array(np.asarray(numbers), unit)),
    "xarray with a name": lambda numbers, unit: xarray.DataArray(numbers, attrs={"units": unit}),
}
# What the library itself makes of it.
IN_SI: dict[str, Callable[[Any, str], Any]] = {
    "pint": lambda quantity, unit: quantity.m_as(unit),
    "astropy": lambda quantity, unit: quantity.to_value(unit),
    "unyt": lambda quantity, unit: quantity.to_value(unit),
    "xarray of pint": lambda quantity, unit: quantity.data.m_as(unit),
    "xarray of astropy": lambda quantity, unit: quantity.data.to_value(unit),
    "xarray of unyt": lambda quantity, unit: quantity.data.to_value(unit),
    "xarray with a name": lambda array, unit: PINT.Quantity(array.to_numpy(), array.attrs["units"]).m_as(unit),
}
libraries = pytest.mark.parametrize("library", LIBRARIES)


@libraries
def test_an_array_is_converted_by_its_unit(bench: ct.Bench, library: str) -> None:
    times = LIBRARIES[library](TIMES_S / 60.0, "min")
    readings = LIBRARIES[library](READINGS_PA / 1e3, "kPa")
    got = ct.fit(times, readings, bench)
    wanted = ct.fit(IN_SI[library](times, "s"), IN_SI[library](readings, "Pa"), bench)
    assert got.to_json() == wanted.to_json()
    # The library's own conversion rounds in the last place.
    assert got.effective_area_m2.value == pytest.approx(ct.fit(TIMES_S, READINGS_PA, bench).effective_area_m2.value, rel=1e-9)


@libraries
def test_a_single_quantity_is_converted_by_its_unit(library: str) -> None:
    of = LIBRARIES[library]
    volume = of(250.0, "mL") if library == "xarray with a name" else of(250.0, "cm**3")
    gauge = ct.Gauge.digital(of(0.1, "kPa"))
    bench = ct.Bench(volume_m3=volume, gauge=gauge, **WHERE)
    assert bench.volume_m3[0] == pytest.approx(250e-6, rel=1e-14)
    assert gauge.step_pa == pytest.approx(100.0, rel=1e-14)
    pair = (volume, of(5.0, "mL") if library == "xarray with a name" else of(5.0, "cm**3"))
    assert ct.Bench(volume_m3=pair, gauge=gauge, **WHERE).volume_m3 == pytest.approx((250e-6, 5e-6), rel=1e-14)


@pytest.mark.parametrize("library", ["pint", "astropy", "unyt"])
@pytest.mark.parametrize(
    ("made", "unit", "si"),
    [
        (lambda q: ct.Orifice(q(5.0, "mm**2")).area_m2, "mm**2", 5e-6),
        (lambda q: ct.Gas.dry_air().density_kg_m3(q([1.0, 2.0], "bar"), 300.0)[0], "bar", ct.Gas.dry_air().density_kg_m3(1e5, 300.0)),
        (lambda q: ct.Bench(volume_m3=1e-3, gauge=ct.Gauge.digital(1.0), ambient_pa=1e5, temperature_k=300.0,
                            drift_allowance_k_s=q(0.6, "K/min")).drift_allowance_k_s, "K/min", 0.01),
        (lambda q: ct.Orifice.of_hole(1e-3, discharge_coefficient=q(0.5, "")).area_m2, "", 0.5 * np.pi / 4 * 1e-6),
        (lambda q: ct.SonicConductance(q(2.0, "m**3/(s*kPa)"), 0.3).mass_flow_kg_s(2e5, 1e5, temperature_k=300.0),
         "m**3/(s*kPa)", ct.SonicConductance(2e-3, 0.3).mass_flow_kg_s(2e5, 1e5, temperature_k=300.0)),
        (lambda q: ct.Limit.max_flow(q(60.0, "m**3/min"), reference="normal") == ct.Limit.max_flow(1.0, reference="normal"), "", True),
    ],
)  # fmt: skip
def test_each_dimension_converts(library: str, made: Callable[[Any], Any], unit: str, si: float) -> None:
    of = LIBRARIES[library]
    dimensionless = {"pint": "dimensionless", "astropy": "", "unyt": "dimensionless"}[library]
    assert made(lambda numbers, unit: of(numbers, unit or dimensionless)) == pytest.approx(si, rel=1e-12)


@libraries
def test_a_mass_is_no_pressure(bench: ct.Bench, library: str) -> None:
    wrong = LIBRARIES[library](READINGS_PA, "kg")
    with pytest.raises(ct.QuantityError, match=r"(?s)gauge pressure.*kilogram|kg.*Pa"):
        ct.fit(TIMES_S, wrong, bench)
    with pytest.raises(ct.QuantityError, match="kilogram|kg"):
        ct.Gauge.digital(LIBRARIES[library](1.0, "kg"))


@pytest.mark.parametrize("temperature", [
    PINT.Quantity(20.0, "degC"), U.Quantity(20.0, "deg_C"), unyt.unyt_quantity(20.0, "degC"), "20 C",
    xarray.DataArray(20.0, attrs={"units": "C"}),
])  # fmt: skip
def test_a_temperature_keeps_its_zero(temperature: Any) -> None:
    assert ct.Gas.dry_air().viscosity_pa_s(temperature) == ct.Gas.dry_air().viscosity_pa_s(293.15)


@pytest.mark.parametrize("spread", [PINT.Quantity(1.0, "degC"), unyt.unyt_quantity(1.0, "degC"), U.Quantity(1.0, "deg_C")])
def test_a_difference_has_no_zero(spread: Any) -> None:
    """One degree Celsius of uncertainty is 1 K, not 274.15 K; a unit with a zero of its own is refused for it."""
    with pytest.raises(ct.QuantityError, match="temperature difference"):
        ct.Bench(volume_m3=1e-3, ambient_pa=1e5, temperature_k=("20 C", spread), gauge=ct.Gauge.digital(1.0))
    one = ct.Bench(volume_m3=1e-3, ambient_pa=1e5, temperature_k=("20 C", PINT.Quantity(1.0, "delta_degC")), gauge=ct.Gauge.digital(1.0))
    assert one.temperature_k == pytest.approx((293.15, 1.0))


def test_a_column_with_a_unit(bench: ct.Bench) -> None:
    wanted = ct.fit(TIMES_S, READINGS_PA, bench).effective_area_m2.value
    column = pd.Series(READINGS_PA / 1e3)
    column.attrs["units"] = "kPa"
    assert ct.fit(TIMES_S, column, bench).effective_area_m2.value == pytest.approx(wanted, rel=1e-9)
    column.attrs["units"] = "furlong"
    with pytest.raises(ct.QuantityError, match="furlong.*kPa"):
        ct.fit(TIMES_S, column, bench)
    of_pint = pytest.importorskip("pint_pandas") and pd.Series(READINGS_PA / 1e3, dtype="pint[kPa]")
    assert ct.fit(TIMES_S, of_pint, bench).effective_area_m2.value == pytest.approx(wanted, rel=1e-9)


@pytest.mark.parametrize("library", ["pint", "astropy", "unyt"])
def test_a_list_of_quantities(bench: ct.Bench, library: str) -> None:
    readings = [LIBRARIES[library](reading / 1e3, "kPa") for reading in READINGS_PA]
    wanted = ct.fit(TIMES_S, READINGS_PA, bench).effective_area_m2.value
    assert ct.fit(TIMES_S, readings, bench).effective_area_m2.value == pytest.approx(wanted, rel=1e-9)


class Unknown:
    """A quantity of a library that nobody has heard of."""

    units = "kPa"

    def __float__(self) -> float:
        return 48.3

    def __array__(self, dtype: Any = None, copy: Any = None) -> Any:
        return READINGS_PA


def test_a_unit_of_another_library_is_refused(bench: ct.Bench) -> None:
    with pytest.raises(ct.ArgumentError, match="carries the unit kPa.*in Pa"):
        ct.fit(TIMES_S, Unknown(), bench)
    with pytest.raises(ct.ArgumentError, match="carries the unit kPa.*in Pa"):
        ct.Gauge.digital(Unknown())


@pytest.mark.parametrize("call", [
    lambda q: ct.Gauge.digital(1.0, accuracy_class=q, span_pa=1e5),
    lambda q: ct.DecayLaw.power(q),
    lambda q: ct.Gas(q, 1.4),
    lambda q: ct.Gas(287.0, 1.4, viscosity_pa_s=q, viscosity_at_k=300.0, viscosity_exponent=0.8),
])  # fmt: skip
def test_a_plain_number_takes_no_unit(call: Callable[[Any], object]) -> None:
    for quantity in (PINT.Quantity(0.7, "kPa"), U.Quantity(0.7, "kPa"), unyt.unyt_quantity(0.7, "kPa"), Unknown()):
        with pytest.raises(ct.ArgumentError, match="plain number"):
            call(quantity)


SPANS: list[Any] = [
    np.array([0, 5, 10, 15, 20], "m8[s]"),
    np.array([0, 5000, 10000, 15000, 20000], "m8[ms]"),
    [datetime.timedelta(seconds=t) for t in range(0, 25, 5)],
    [np.timedelta64(t, "s") for t in range(0, 25, 5)],
    pd.Series(pd.to_timedelta(TIMES_S, unit="s")),
    pd.to_timedelta(TIMES_S, unit="s"),
    xarray.DataArray(TIMES_S.astype("m8[s]").astype("m8[ns]")),
]


@pytest.mark.parametrize("times", SPANS, ids=lambda times: type(times).__name__)
def test_spans_of_time_are_seconds(bench: ct.Bench, times: Any) -> None:
    assert ct.fit(times, READINGS_PA, bench).to_json() == ct.fit(TIMES_S, READINGS_PA, bench).to_json()


@pytest.mark.parametrize("span", [datetime.timedelta(minutes=2), np.timedelta64(2, "m"), pd.Timedelta(minutes=2)])
def test_a_span_of_time_is_seconds(span: Any) -> None:
    assert ct.Limit.min_hold(span) == ct.Limit.min_hold(120.0)
    with pytest.raises(ct.ArgumentError, match="spans of time where numbers in Pa belong"):
        ct.Gauge.digital(span)


DATES: list[Any] = [
    np.array([0, 5, 10, 15, 20], "M8[s]"),
    [datetime.datetime(2024, 5, 4, 12, 0, t) for t in range(0, 25, 5)],
    pd.Series(pd.to_datetime(TIMES_S, unit="s")),
    xarray.DataArray(TIMES_S.astype("M8[s]").astype("M8[ns]")),
]


@pytest.mark.parametrize("times", DATES, ids=lambda times: type(times).__name__)
def test_dates_are_refused_with_what_to_write(bench: ct.Bench, times: Any) -> None:
    with pytest.raises(ct.ArgumentError) as caught:
        ct.fit(times, READINGS_PA, bench)
    remedy = str(caught.value)
    assert '(t - t[0]) / numpy.timedelta64(1, "s")' in remedy and "(t - t.iloc[0]).dt.total_seconds()" in remedy
    # Both do what they promise.
    t: Any = np.asarray(times, dtype="M8[ns]")
    assert ((t - t[0]) / np.timedelta64(1, "s")).tolist() == TIMES_S.tolist()
    t = pd.Series(t)
    assert (t - t.iloc[0]).dt.total_seconds().tolist() == TIMES_S.tolist()
