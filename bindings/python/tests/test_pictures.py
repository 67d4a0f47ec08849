"""What a picture shows: the data of its artists, and that a notebook and a script show it, once."""

from __future__ import annotations

import sys
import types
from collections.abc import Iterator
from typing import Any

import frames
import matplotlib
import matplotlib.backend_bases
import matplotlib.backends.backend_agg
import matplotlib.pyplot as plt
import numpy as np
import pytest
from conftest import DEMO
from matplotlib.figure import Figure

import casetight as ct


def leak() -> ct.Fit:
    time_s = np.arange(0.0, 240.0, 10.0)
    decay = ct.Decay(1e-9, 250e-6, 48e3, ambient_pa=101_325.0, temperature_k=293.15)
    bench = frames.bench()
    return ct.fit(time_s, bench.gauge.rounded(decay.gauge_pa(time_s)), bench, level=0.9)


@pytest.fixture
def shown() -> Iterator[list[int]]:
    """A window system that notes what is shown: the numbers of the figures that `show` and a notebook's cell would show."""
    figures: list[int] = []

    class Manager(matplotlib.backend_bases.FigureManagerBase):
        @classmethod
        def pyplot_show(cls, *, block: bool | None = None) -> None:
            figures.extend(plt.get_fignums())

    class Canvas(matplotlib.backends.backend_agg.FigureCanvasAgg):
        manager_class: Any = Manager

    backend: Any = types.ModuleType("noting_backend")
    backend.FigureCanvas, backend.FigureManager = Canvas, Manager
    sys.modules["noting_backend"] = backend
    before = matplotlib.get_backend()
    plt.close("all")
    plt.switch_backend("module://noting_backend")
    yield figures
    plt.close("all")
    plt.switch_backend(before)


def test_a_picture_shows_the_readings_the_fit_and_the_residuals() -> None:
    found = leak()
    curve, residuals = found.plot()
    readings, fitted = curve.lines
    assert readings.get_xdata().tolist() == found.time_s.tolist()
    # In kPa, as the axis says.
    assert readings.get_ydata() == pytest.approx(found.reading_pa / 1e3, rel=1e-15)
    assert readings.get_linestyle() == "None" and readings.get_marker() == "o"
    dense_s = fitted.get_xdata()
    assert (dense_s[0], dense_s[-1]) == (found.time_s[0], found.time_s[-1]) and len(dense_s) >= 100
    assert fitted.get_ydata() == pytest.approx(found.reading_at(dense_s) / 1e3, rel=1e-15)
    (band,) = curve.collections
    (path,) = band.get_paths()
    for end in (found.rate_per_s.low, found.rate_per_s.high):
        wanted = found.reading_at(dense_s[-1], rate_per_s=end) / 1e3
        assert np.min(np.abs(path.vertices - [dense_s[-1], wanted]).sum(axis=1)) < 1e-9
    assert [text.get_text() for text in curve.get_legend().get_texts()] == [
        "readings", f"fit ({found.laws[0].law.words})", "90 % of the rate"
    ]  # fmt: skip
    area = found.effective_area_m2
    assert curve.get_title(loc="left") == (
        f"pressure run: {area.value * 1e12:.4g} µm² ({area.low * 1e12:.4g} to {area.high * 1e12:.4g})"
    )
    zero, points = residuals.lines
    assert set(zero.get_ydata()) == {0.0}
    assert points.get_xdata().tolist() == found.time_s.tolist()
    assert points.get_ydata().tolist() == found.standardized.tolist()
    (two,) = residuals.patches
    assert (two.get_y(), two.get_y() + two.get_height()) == (-2, 2)
    assert (curve.get_ylabel(), residuals.get_ylabel(), residuals.get_xlabel()) == ("gauge pressure [kPa]", "residual / u", "time [s]")
    plt.close(curve.figure)


def test_an_open_interval_has_no_band() -> None:
    gauge_pa = np.full(6, 100.0)
    gauge_pa[0] = 48e3
    fallen = ct.fit(np.arange(6.0), gauge_pa, frames.bench())
    assert np.isinf(fallen.rate_per_s.high)
    curve, _ = fallen.plot()
    assert not curve.collections
    plt.close(curve.figure)


def test_a_script_and_a_notebook_show_a_picture_once(shown: list[int]) -> None:
    """Both show the figures that pyplot manages. A notebook shows a figure that is a cell's value besides: it is none."""
    given = leak().plot()
    assert len(plt.get_fignums()) == 1
    assert not isinstance(given, Figure) and not any(isinstance(part, Figure) for part in given)
    plt.show()
    assert shown == plt.get_fignums()
    assert [axes.figure.number for axes in given] == 2 * shown


def test_a_picture_in_a_figure_of_the_callers(shown: list[int]) -> None:
    figure = Figure()
    axes = figure.subplots(2, 1)
    assert list(leak().plot(axes)) == list(axes)
    assert plt.get_fignums() == [] and axes[0].lines and axes[1].lines


def test_assessments_and_sessions_draw_their_fits() -> None:
    session = ct.Sheet.read(DEMO / "clearing-saw-3.toml").assess()
    for run in session:
        assert run.fit is not None
        for curve, _ in (run.plot(), session.plot(run.name)):
            assert curve.lines[0].get_ydata() == pytest.approx(run.fit.reading_pa / 1e3)
            plt.close(curve.figure)
    with pytest.raises(ct.MissingError, match="no such run"):
        session.plot("no such run")
    stalled = [run for run in ct.Sheet.read(DEMO / "kart-engine-2.toml").assess() if run.fit is None]
    with pytest.raises(ct.Error, match="needle was not raised"):
        stalled[0].plot()
