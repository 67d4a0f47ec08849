"""What a bench does of itself, beside numbers of the core's own tests and of the manual."""

from __future__ import annotations

import pickle
from typing import Any

import numpy as np
import pytest

import casetight as ct

TIMES = np.linspace(0.0, 90.0, 24)
EFFECTS = {
    "zero_pa": (200.0, 100.0),
    "lag_s": (0.5, 0.2),
    "stretch_per_pa": (1e-7, 0.5e-7),
    "creep_per_pa": (0.2e-7, 0.1e-7),
    "warmth_k": (5.0, 2.0),
}


def bench(**effects: Any) -> ct.Bench:
    gauge = ct.Gauge.digital(10.0)
    return ct.Bench(volume_m3=250e-6, ambient_pa=101_325.0, temperature_k=293.15, gauge=gauge, isothermal=True, **effects)


def fit(**effects: Any) -> ct.Fit:
    decay = ct.Decay(4e-9, 250e-6, 50e3, ambient_pa=101_325.0, temperature_k=293.15)
    gauge = np.round(decay.gauge_pa(TIMES) / 10.0) * 10.0
    return ct.fit(TIMES, gauge, bench(**effects), laws=["orifice"])


def test_each_effect_is_kept_with_its_uncertainty() -> None:
    whole = bench(**EFFECTS)
    for name, value in EFFECTS.items():
        assert getattr(whole, name) == pytest.approx(value)
        assert getattr(bench(), name) is None
        assert bench(**{name: value}) != bench()
    again = pickle.loads(pickle.dumps(whole))
    assert again == whole
    assert hash(again) == hash(whole)


def test_a_needle_that_may_stick_makes_a_verdict_less_sure() -> None:
    dial = ct.Gauge.dial("0.5 psi", "0.125 psi")
    at: dict[str, Any] = {"volume_m3": 250e-6, "ambient_pa": 101_325.0, "temperature_k": 293.15, "gauge": dial}
    sticking, tapped = ct.Bench(**at, sticks=True), ct.Bench(**at)
    assert sticking.sticks and not tapped.sticks and sticking != tapped
    assert pickle.loads(pickle.dumps(sticking)) == sticking
    psi = np.array([7.0, 7.0, 6.875, 6.875, 6.875, 6.75, 6.75, 6.75, 6.625])
    limit = ct.Limit.max_drop("0.15 psi", from_pa="7 psi", over_s=60.0)
    runs = [ct.assess(np.arange(9) * 30.0, psi * 6894.757293168, one, [limit]) for one in (sticking, tapped)]
    unsure, sure = (run.probability_within_limit for run in runs)
    assert unsure is not None and sure is not None
    assert 0.5 < unsure < sure
    assert runs[0].fit is not None and runs[1].fit is not None
    assert runs[0].fit.effective_area_m2 == runs[1].fit.effective_area_m2


def test_a_volume_that_stretches_hides_a_part_of_the_leak() -> None:
    rigid = fit().effective_area_m2.value
    stretched = fit(stretch_per_pa=("1 %/bar", "0 %/bar")).effective_area_m2.value
    # Between 50 and 30 kPa the volume behaves as one larger by c (p_a + 2 g), 1.6 to 2 %.
    assert 1.014 < stretched / rigid < 1.022
    unsure = fit(stretch_per_pa=("0 %/bar", "1 %/bar"))
    assert unsure.parts["stretch"] == pytest.approx(stretched - rigid, rel=0.1)


@pytest.mark.parametrize("effect", [{"stretch_per_pa": -1e-7}, {"lag_s": 100.0}, {"zero_pa": "7 psi"}, {"warmth_k": 293.0}])
def test_what_no_bench_does_is_refused(effect: dict[str, Any]) -> None:
    with pytest.raises(ct.Error, match="lies outside"):
        bench(**effect)
