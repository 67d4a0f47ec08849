"""Readings in long format for the tests of batches; in a module of its own, so that worker processes can import it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pyarrow as pa

import casetight as ct


def bench(volume_m3: float = 250e-6) -> ct.Bench:
    """A digital gauge on a volume known to 2 %."""
    return ct.Bench(
        volume_m3=(volume_m3, 0.02 * volume_m3),
        ambient_pa=(101_325.0, 100.0),
        temperature_k=(293.15, 1.0),
        gauge=ct.Gauge.digital(100.0),
    )


def columns(runs: int, readings: int = 24, seed: int = 7) -> dict[str, Any]:
    """Simulated readings of holes of 0.02 to 0.08 mm2 in thousandths, one run after the other."""
    random = np.random.default_rng(seed)
    time_s = 10.0 * np.arange(readings)
    area_m2 = random.uniform(2e-10, 8e-10, runs)
    felt_pa = ct.decay_gauge_pa(time_s, area_m2[:, None], 250e-6, 48e3, ambient_pa=101_325.0, temperature_k=293.15)
    noisy_pa = felt_pa + random.normal(0.0, 50.0, felt_pa.shape)
    return {
        "run": np.repeat([f"run {i}" for i in range(runs)], readings),
        "time_s": np.tile(time_s, runs),
        "gauge_pa": (np.round(noisy_pa / 100.0) * 100.0).ravel(),
    }


def table(runs: int, readings: int = 24) -> pa.Table:
    """The same as an Arrow table."""
    return pa.table(columns(runs, readings))
