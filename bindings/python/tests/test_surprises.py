"""Inputs that hardly any bench has are answered with a note, and usual ones without."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from conftest import DEMO

import casetight as ct

TIMES = [0.0, 5.0, 10.0, 15.0, 20.0]
READINGS = np.array([48_300.0, 45_500.0, 42_800.0, 40_300.0, 37_900.0])


@pytest.mark.parametrize(
    ("change", "readings", "words"),
    [
        ({"volume_m3": 250.0}, READINGS, "A volume under test of 250 m3"),
        ({"temperature_k": 20.0}, READINGS, "(20 K) is no bench's"),
        ({"ambient_pa": 1013.25e5}, READINGS, "An ambient pressure of 101325 kPa"),
        ({}, READINGS + 101_325.0, "as absolute pressures do"),
        ({}, 101_325.0 - READINGS, "as absolute pressures do"),
    ],
)
def test_an_input_that_no_bench_has_is_noted(change: dict[str, Any], readings: Any, words: str) -> None:
    usual: dict[str, Any] = {"volume_m3": (250e-6, 5e-6), "ambient_pa": 101_325.0, "temperature_k": 293.15}
    bench = ct.Bench(**(usual | change), gauge=ct.Gauge.digital(100.0))
    leak, run = ct.fit(TIMES, readings, bench), ct.assess(TIMES, readings, bench)
    for notes in (leak.notes, run.notes, leak.to_dict()["notes"], run.to_dict()["notes"]):
        assert sum(words in note for note in notes) == 1
    assert run.fit == leak


def test_a_usual_bench_is_not_remarked_on(bench: ct.Bench) -> None:
    assert not [note for note in ct.fit(TIMES, READINGS, bench).notes if "is its unit right" in note or "absolute" in note]
    for path in sorted(DEMO.glob("*.toml")):
        for run in ct.Sheet.read(path).assess():
            assert not [note for note in run.notes if "is its unit right" in note or "as absolute pressures do" in note], path.stem
