"""What the tests share."""

from __future__ import annotations

from pathlib import Path

import pytest

import casetight

ROOT = Path(__file__).resolve().parents[3]
DEMO = ROOT / "docs" / "demo"

AMBIENT_PA = 101_325.0
KELVINS = 293.15


@pytest.fixture
def bench() -> casetight.Bench:
    """A digital gauge on 250 cm3."""
    return casetight.Bench(
        volume_m3=(250e-6, 5e-6),
        ambient_pa=(AMBIENT_PA, 100.0),
        temperature_k=(KELVINS, 1.0),
        gauge=casetight.Gauge.digital(100.0),
    )
