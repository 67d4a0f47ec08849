"""What results draw of themselves, with matplotlib (extra ``plot``)."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ._extras import needed

if TYPE_CHECKING:
    from ._core import Fit

_MARKER = {"linestyle": "none", "marker": "o", "markersize": 4}


def fit(run: Fit, axes: tuple[Any, Any] | None = None) -> tuple[Any, Any]:
    """Readings and fitted curve above, standardized residuals below; gives the axes of both.

    A figure of its own is one of pyplot's, so a notebook shows it at the end of its cell and a script by ``show()``. It is not
    what is given back: a notebook would show it twice.
    """
    import numpy as np

    if axes is None:
        pyplot = needed("matplotlib.pyplot", "plot", "plot")
        _, (curve, residuals) = pyplot.subplots(
            2, 1, sharex=True, height_ratios=[3, 1], figsize=(7, 5.5), layout="constrained"
        )
    else:
        curve, residuals = axes

    time_s = run.time_s
    dense_s = np.linspace(time_s[0], time_s[-1], 300)
    rate = run.rate_per_s
    curve.plot(time_s, run.reading_pa / 1e3, color="C0", label="readings", **_MARKER)
    curve.plot(dense_s, run.reading_at(dense_s) / 1e3, color="C1", label=f"fit ({run.laws[0].law.words})" if run.laws else "fit")
    if np.isfinite(rate.high):
        ends = [run.reading_at(dense_s, rate_per_s=end) / 1e3 for end in (rate.low, rate.high)]
        curve.fill_between(dense_s, *ends, color="C1", alpha=0.25, linewidth=0, label=f"{100 * rate.level:g} % of the rate")
    curve.set_ylabel("gauge pressure [kPa]")
    curve.legend(frameon=False)
    area = run.effective_area_m2
    curve.set_title(f"{run.direction} run: {area.value * 1e12:.4g} µm² ({area.low * 1e12:.4g} to {area.high * 1e12:.4g})", loc="left")

    residuals.axhspan(-2, 2, color="0.9", linewidth=0)
    residuals.axhline(0, color="0.6", linewidth=0.8)
    residuals.plot(time_s, run.standardized, color="C0", **_MARKER)
    residuals.set_ylabel("residual / u")
    residuals.set_xlabel("time [s]")
    return curve, residuals
