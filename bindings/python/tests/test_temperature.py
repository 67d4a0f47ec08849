"""The temperature's course beside the readings: from a trace to the fit, or stated with arrays."""

from __future__ import annotations

import pickle
from typing import Any

import frames
import numpy as np
import pyarrow as pa
import pytest
from conftest import DEMO

import casetight as ct

HEAD = """format = 1
[volume]
value = "250 cm3"
uncertainty = "5 cm3"
[ambient]
pressure = "1013.25 hPa"
temperature = "20 C"
[gauge]
unit = "kPa"
resolution = "1 mbar"
"""
TIME_S = np.arange(0.0, 300.0, 10.0)


def logged(kelvins_per_second: float = 2e-3) -> tuple[Any, Any]:
    """Readings [Pa] of a hole in a case that warms, and its temperatures [K]."""
    decay = ct.Decay(2e-10, 250e-6, 48e3, ambient_pa=101_325.0, temperature_k=293.15)
    kelvins = np.round(293.15 + kelvins_per_second * TIME_S + 0.004 * np.sin(TIME_S), 3)
    felt = (decay.gauge_pa(TIME_S) + 101_325.0) * (1.0 + kelvins_per_second * TIME_S / 293.15) - 101_325.0
    return np.round(felt / 100.0) * 100.0, kelvins


def sheet(ambient: str = "") -> ct.Sheet:
    gauge_pa, kelvins = logged()
    rows = [f"{t},{p},{k}" for t, p, k in zip(TIME_S, gauge_pa, kelvins, strict=True)]
    text = HEAD.replace("[gauge]", f"{ambient}[gauge]") + '[[run]]\nname = "warming"\nfile = "warming.csv"\n'
    return ct.Sheet.from_toml(text, traces={"warming.csv": "\n".join(["time_s,gauge_pa,temperature_k", *rows]).encode()})


def test_a_logged_temperature_reaches_the_fit() -> None:
    found = sheet()
    (run,) = found.assess()
    assert run.fit is not None
    time_s, gauge_pa = found.readings("warming")
    bench = found.bench("warming")
    kelvins = found.temperature_k("warming")
    assert ct.fit(time_s, gauge_pa, bench, temperature_k=kelvins) == run.fit
    assert ct.assess(time_s, gauge_pa, bench, name="warming", temperature_k=kelvins).fit == run.fit
    # It does make a difference here.
    still = ct.Bench(
        volume_m3=bench.volume_m3, ambient_pa=bench.ambient_pa, temperature_k=bench.temperature_k, gauge=bench.gauge,
        drift_allowance_k_s=bench.drift_allowance_k_s, settled_for_s=bench.settled_for_s,
    )  # fmt: skip
    without = ct.fit(time_s, gauge_pa, still)
    assert without.effective_area_m2.value != pytest.approx(run.fit.effective_area_m2.value, rel=0.01)


def test_arrays_state_their_temperature() -> None:
    found = sheet()
    (run,) = found.assess()
    time_s, gauge_pa = found.readings("warming")
    kelvins = found.temperature_k("warming")
    assert kelvins is not None and kelvins.shape == time_s.shape
    bench = found.bench("warming")
    plain = ct.Bench(
        volume_m3=bench.volume_m3, ambient_pa=bench.ambient_pa, temperature_k=bench.temperature_k, gauge=bench.gauge,
        drift_allowance_k_s=bench.drift_allowance_k_s, settled_for_s=bench.settled_for_s,
        stretch_per_pa=bench.stretch_per_pa, creep_per_pa=bench.creep_per_pa, warmth_k=bench.warmth_k,
        sticks=bench.sticks,
    )  # fmt: skip
    ways: list[dict[str, Any]] = [{"temperature_k": kelvins}, {"temperature_k": list(kelvins)}]
    for stated in ways:
        assert ct.fit(time_s, gauge_pa, plain, **stated) == run.fit
        assert ct.assess(time_s, gauge_pa, plain, **stated).fit == run.fit


def test_a_sheets_runs_are_the_sessions_to_the_last_bit() -> None:
    for path in sorted(DEMO.glob("*.toml")):
        found = ct.Sheet.read(path)
        for run in found.assess():
            if run.fit is None or run.fit.rig_area_m2 is not None:
                continue
            assert ct.fit(*found.readings(run.name), found.bench(run.name)) == run.fit, (path.stem, run.name)


@pytest.mark.parametrize(("stated", "error", "message"), [
    ({"temperature_k": [293.0, 293.1]}, ct.ReadingsError, "30 times but 2 temperatures"),
    ({"temperature_k": [293.0] * 29 + [float("nan")]}, ct.ReadingsError, "reading 30: NaN K is no temperature"),
    ({"temperature_k": 293.0}, ct.Error, "temperature_k is one number"),
    ({"temperature_k": [293.0] * 30, "drift_k_s": 1e-3}, ct.Error, "exclude each other"),
    ({"drift_k_s": (1e-3, -1e-4)}, ct.Error, "standard uncertainty is -0.0001"),
    ({"drift_k_s": "20 C"}, ct.QuantityError, "temperature drift|C"),
])  # fmt: skip
def test_a_temperature_that_can_not_be_is_refused(stated: dict[str, Any], error: type[Exception], message: str) -> None:
    gauge_pa, _ = logged()
    with pytest.raises(error, match=message):
        ct.fit(TIME_S, gauge_pa, frames.bench(), **stated)


def test_a_frame_has_a_column_of_temperatures() -> None:
    gauge_pa, kelvins = logged()
    frame = pa.table({"run": ["a"] * TIME_S.size, "time_s": TIME_S, "gauge_pa": gauge_pa, "case_k": kelvins})
    (row,) = ct.fit_many(frame, frames.bench(), temperature_k="case_k").to_pylist()
    one = ct.fit(TIME_S, gauge_pa, frames.bench(), temperature_k=kelvins)
    assert row["effective_area_m2"] == one.effective_area_m2.value
    gap = frame.set_column(3, "case_k", pa.array([None, *kelvins[1:]]))
    (row,) = ct.fit_many(gap, frames.bench(), temperature_k="case_k").to_pylist()
    assert "reading 1: NaN K is no temperature" in row["error"]


@pytest.mark.parametrize("touched", ["wall", "gas", "room", "nearby"])
def test_a_bench_knows_what_its_thermometer_touches(touched: str) -> None:
    found = sheet(f'thermometer = "{touched}"\n')
    bench = found.bench("warming")
    assert bench.thermometer == touched and pickle.loads(pickle.dumps(bench)) == bench
    time_s, gauge_pa = found.readings("warming")
    kelvins = found.temperature_k("warming")
    frame = pa.table({"run": ["a"] * time_s.size, "time_s": time_s, "gauge_pa": gauge_pa, "case_k": kelvins})
    (row,) = ct.fit_many(frame, {"a": bench}, temperature_k="case_k").to_pylist()
    (run,) = found.assess()
    assert run.fit is not None and row["effective_area_m2"] == run.fit.effective_area_m2.value
    again = pickle.loads(pickle.dumps(ct.fit(time_s, gauge_pa, bench, temperature_k=kelvins)))
    assert again == run.fit


def test_a_wall_that_was_logged_narrows_the_interval() -> None:
    found = sheet('thermometer = "wall"\n')
    (run,) = found.assess()
    assert run.fit is not None
    area = run.fit.effective_area_m2
    assert area.low < 2e-10 < area.high
    time_s, gauge_pa = found.readings("warming")
    without = ct.fit(time_s, gauge_pa, found.bench("warming")).effective_area_m2
    assert area.high - area.low < without.high - without.low
    with pytest.raises(ct.Error, match='a thermometer is one of "wall", "gas"'):
        ct.Bench(volume_m3=1e-3, ambient_pa=101_325.0, temperature_k=293.15, gauge=ct.Gauge.digital(100.0), thermometer="casing")
