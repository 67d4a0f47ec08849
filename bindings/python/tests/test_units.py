"""Text, unit libraries and uncertain numbers at the door; objects that travel."""

from __future__ import annotations

import copy
import pickle
from typing import Any

import numpy as np
import pint
import pytest
import uncertainties

import casetight as ct

UNITS: Any = pint.UnitRegistry()
WHERE: dict[str, Any] = {"ambient_pa": 101_325.0, "temperature_k": 293.15}


@pytest.mark.parametrize(
    ("area", "volume", "start"),
    [
        ("0.005 mm2", "250 cm3", "0.48 bar"),
        (0.005 * UNITS.mm**2, 250 * UNITS.cm**3, 0.48 * UNITS.bar),
        (np.float64(5e-9), 250e-6, 48_000),
    ],
)
def test_each_way_to_write_a_quantity(area: Any, volume: Any, start: Any) -> None:
    got = ct.Decay(area, volume, start, **WHERE).gauge_pa([0.0, 30.0])
    want = ct.Decay(5e-9, 250e-6, 48e3, **WHERE).gauge_pa([0.0, 30.0])
    assert got == pytest.approx(want, rel=1e-14)


def test_arrays_with_a_unit() -> None:
    decay = ct.Decay(5e-9, 250e-6, 48e3, **WHERE)
    minutes = np.array([0.0, 0.5]) * UNITS.minute
    assert decay.gauge_pa(minutes).tolist() == decay.gauge_pa([0.0, 30.0]).tolist()


def test_a_temperature_with_an_offset() -> None:
    air = ct.Gas.dry_air()
    assert air.viscosity_pa_s(UNITS.Quantity(20.0, "degC")) == air.viscosity_pa_s("20 C") == air.viscosity_pa_s(293.15)


def test_a_wrong_dimension_is_refused() -> None:
    with pytest.raises(ct.QuantityError, match="gauge pressure: a quantity in centimeter is none; one in Pa is") as caught:
        ct.Decay(5e-9, 250e-6, 48 * UNITS.cm, **WHERE)
    assert isinstance(caught.value.__cause__, pint.DimensionalityError)


def test_uncertain_numbers() -> None:
    def bench(volume: Any, temperature: Any) -> ct.Bench:
        gauge = ct.Gauge.digital(100.0)
        return ct.Bench(volume_m3=volume, ambient_pa=101_325.0, temperature_k=temperature, gauge=gauge)

    wanted = bench((250e-6, 5e-6), (293.15, 1.0))
    assert bench(uncertainties.ufloat(250e-6, 5e-6), uncertainties.ufloat(293.15, 1.0)) == wanted
    assert bench((250e-6, "5 cm3"), ("293.15 K", "1 K")).volume_m3 == pytest.approx((250e-6, 5e-6))
    measured = UNITS.Quantity(uncertainties.ufloat(250.0, 5.0), "cm**3")
    assert bench(measured, 293.15).volume_m3 == pytest.approx((250e-6, 5e-6))
    assert bench(ct.TestedVolume.measured_directly((250e-6, 5e-6)), (293.15, 1.0)) == wanted


def travellers() -> list[Any]:
    gauge = ct.Gauge.dial("0.5 psi", "0.125 psi", accuracy_class=1.6, span_pa="15 psi")
    base: dict[str, Any] = {"volume_m3": (250e-6, 5e-6), "gauge": gauge} | WHERE
    return [
        gauge,
        ct.Bench(**base),
        ct.Bench(**base, isothermal=True, drift_allowance_k_s="0.1 K/min"),
        ct.Bench(**base, conductance_w_k=0.4, conductance_ln_uncertainty=0.3, settled_for_s=10.0, gas=ct.Gas.named("helium")),
        ct.Bench(**base, gas=ct.Gas(208.13, 5 / 3, viscosity_pa_s=2.2e-5, viscosity_at_k=293.15, viscosity_exponent=0.8)),
        ct.Bench(**base, gas=ct.Gas.humid_air(0.5, pressure_pa=101_325.0, temperature_k=293.15)),
        ct.Limit.max_drop("1 psi", from_pa="7 psi", over_s=60.0, at_volume_m3="250 cm3"),
        ct.Limit.one_psi_a_minute(),
        ct.Limit.max_area(5e-9),
        ct.Limit.max_flow("30 cm3/min", reference="20 C, 1013.25 hPa"),
        ct.Limit.min_hold(60.0, from_pa="7 psi"),
        *every_law(),
    ]


def every_law() -> list[ct.DecayLaw]:
    """Each law of the core's list, a number with those that have one."""
    laws = []
    for name in ct.DecayLaw.names():
        try:
            laws.append(ct.DecayLaw(name))
        except ct.Error:
            laws.append(ct.DecayLaw(name, 0.7))
    return laws


def test_laws_are_those_of_the_core() -> None:
    laws = every_law()
    assert {ct.DecayLaw.orifice(), ct.DecayLaw.laminar(), ct.DecayLaw.sonic(0.7), ct.DecayLaw.power(0.7)} <= set(laws)
    assert [law.name for law in laws] == ct.DecayLaw.names()
    for law in laws:
        assert eval(repr(law), {"DecayLaw": ct.DecayLaw}) == law
        alone: Any = law if law.number is not None else law.name
        assert ct.Decay(5e-9, 250e-6, 48e3, law=alone, **WHERE).gauge_pa(0.0) == pytest.approx(48e3)


@pytest.mark.parametrize("thing", travellers(), ids=repr)
def test_travels_to_other_processes(thing: Any) -> None:
    assert pickle.loads(pickle.dumps(thing)) == thing
    assert copy.deepcopy(thing) == thing


@pytest.mark.parametrize("gas", [ct.Gas.named("helium"), ct.Gas(208.0, 1.6)], ids=repr)
def test_a_gas_travels(gas: ct.Gas) -> None:
    assert repr(pickle.loads(pickle.dumps(gas))) == repr(gas)
