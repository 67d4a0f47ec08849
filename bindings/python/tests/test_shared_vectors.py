"""Numbers of the Rust library, repeated to the last bit. `tests/tests/shared_vectors.rs` writes and checks the same file."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from conftest import ROOT

import casetight as ct

VECTORS: dict[str, Any] = json.loads((ROOT / "tests" / "data" / "shared_vectors.json").read_text())


def numbers(texts: list[str]) -> npt.NDArray[np.float64]:
    return np.array([float(text) for text in texts])


def same(got: object, wanted: object) -> None:
    """Equal bit by bit."""
    assert np.asarray(got, dtype=np.float64).tobytes() == np.asarray(wanted, dtype=np.float64).tobytes()


@pytest.mark.parametrize("case", VECTORS["flow"]["cases"], ids=lambda case: case["class"])
def test_flows(case: dict[str, Any]) -> None:
    arguments = [float(text) for text in case["arguments"]]
    if case["class"] == "Parallel":
        law: ct.LeakLaw = ct.Parallel([ct.Orifice(5e-9), ct.Capillary(5e-5, 6e-3)])
    else:
        law = getattr(ct, case["class"])(*arguments)
    shared = VECTORS["flow"]
    flow = law.mass_flow_kg_s(
        numbers(shared["upstream_pa"]),
        float(shared["downstream_pa"]),
        temperature_k=float(shared["temperature_k"]),
    )
    same(flow, numbers(case["mass_flow_kg_s"]))


@pytest.mark.parametrize("case", VECTORS["decay"]["cases"], ids=lambda case: f"{case['law']} {case['start_gauge_pa']}")
def test_decays(case: dict[str, Any]) -> None:
    shared = VECTORS["decay"]
    law: Any = case["law"]
    if case["number"] is not None:
        law = getattr(ct.DecayLaw, law)(float(case["number"]))
    area_m2, volume_m3 = float(shared["area_m2"]), float(shared["volume_m3"])
    start_gauge_pa = float(case["start_gauge_pa"])
    ambient: dict[str, Any] = {name: float(shared[name]) for name in ("ambient_pa", "temperature_k")}
    decay = ct.Decay(area_m2, volume_m3, start_gauge_pa, law=law, **ambient)
    time_s = numbers(shared["time_s"])
    same(decay.gauge_pa(time_s), numbers(case["gauge_pa"]))
    same(decay.time_s(float(case["quarter_pa"])), float(case["quarter_s"]))
    same(ct.decay_gauge_pa(time_s, area_m2, volume_m3, start_gauge_pa, law=law, **ambient), numbers(case["gauge_pa"]))


def test_vessel() -> None:
    case = VECTORS["vessel"]
    numbers_of: dict[str, Any] = {
        name: float(case[name])
        for name in ("ambient_pa", "temperature_k", "conductance_w_k", "start_temperature_k")
    }
    vessel = ct.ThermalVessel(
        ct.Orifice(float(case["area_m2"])), float(case["volume_m3"]), float(case["start_gauge_pa"]), **numbers_of
    )
    gauge_pa, temperature_k = vessel.states(numbers(case["time_s"]))
    same(gauge_pa, numbers(case["gauge_pa"]))
    same(temperature_k, numbers(case["gas_temperature_k"]))


@pytest.mark.parametrize("case", VECTORS["gas"]["cases"], ids=lambda case: case["name"])
def test_gases(case: dict[str, Any]) -> None:
    gas = ct.Gas.named(case["name"])
    temperature_k = numbers(VECTORS["gas"]["temperature_k"])
    same(gas.viscosity_pa_s(temperature_k), numbers(case["viscosity_pa_s"]))
    same(gas.density_kg_m3(float(VECTORS["gas"]["pressure_pa"]), temperature_k), numbers(case["density_kg_m3"]))
    same(gas.critical_pressure_ratio, float(case["critical_pressure_ratio"]))


@pytest.mark.parametrize("case", VECTORS["fit"]["cases"], ids=lambda case: case["name"])
def test_fits(case: dict[str, Any]) -> None:
    shared = VECTORS["fit"]
    accuracy = (
        {}
        if case["accuracy_class"] is None
        else {"accuracy_class": float(case["accuracy_class"]), "span_pa": float(case["span_pa"])}
    )
    gauge = ct.Gauge.digital(
        float(case["step_pa"]),
        noise_pa=float(case["noise_pa"]),
        stopwatch_s=float(case["stopwatch_s"]),
        **accuracy,
    )

    def pair(name: str) -> tuple[float, float]:
        value, uncertainty = numbers(shared[name])
        return float(value), float(uncertainty)

    bench = ct.Bench(
        volume_m3=pair("volume_m3"),
        ambient_pa=pair("ambient_pa"),
        temperature_k=pair("temperature_k"),
        drift_allowance_k_s=float(shared["drift_allowance_k_s"]),
        gauge=gauge,
    )
    time_s, gauge_pa = numbers(shared["time_s"]), numbers(case["gauge_pa"])
    leak = ct.fit(time_s, gauge_pa, bench, laws=case["law"])
    for interval, name in ((leak.effective_area_m2, "effective_area_m2"), (leak.rate_per_s, "rate_per_s")):
        same([interval.value, interval.low, interval.high], numbers(case[name]))
    for name in ("start_gauge_pa", "residual_rms_pa", "chi_squared"):
        same(getattr(leak, name), float(case[name]))
    same([law.weight for law in leak.laws], numbers(case["weights"]))
    if case["law"] is None:
        run = ct.assess(time_s, gauge_pa, bench, [ct.Limit.one_psi_a_minute()])
        same(run.probability_within_limit, float(case["probability_within"]))
