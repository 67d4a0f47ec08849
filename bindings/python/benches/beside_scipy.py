"""Times the Python package: one call's overhead, batches beside SciPy, scaling with cores, import, size.

Run by ``cargo xtask bench-python``; prints the rows of the table in bindings/README.md. Each time is the best of several
rounds, so that what else the machine does counts least.
"""

from __future__ import annotations

import importlib
import importlib.util
import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import scipy.integrate
import scipy.optimize

import casetight as ct

# The SciPy script that fits four laws, shared with the program's own benchmark.
sys.path.insert(0, str(Path(__file__).resolve().parents[3] / "benches"))
four_laws: Any = importlib.import_module("batch_beside_scipy")

RUNS, READINGS = 10_000, 24
# SciPy's loop over all runs would take many minutes; its time goes with the number of runs.
SCIPY_RUNS = 200
SCIPY_WHOLE_RUNS = 40
AMBIENT_PA, KELVINS, VOLUME_M3, STEP_PA = 101_325.0, 293.15, 250e-6, 100.0
WHERE: dict[str, Any] = {"ambient_pa": AMBIENT_PA, "temperature_k": KELVINS}


def best(function: Callable[[], object], rounds: int = 5, calls: int = 1) -> float:
    """Give the seconds of one call, the best of several rounds."""
    times = []
    for _ in range(rounds):
        begun = time.perf_counter()
        for _ in range(calls):
            function()
        times.append((time.perf_counter() - begun) / calls)
    return min(times)


def row(what: str, value: str) -> None:
    """Print a row of the table."""
    print(f"| {what} | {value} |", flush=True)


def simulated() -> tuple[Any, Any]:
    """Times [s] and one row of readings [Pa] a run."""
    random = np.random.default_rng(1)
    time_s = 10.0 * np.arange(READINGS)
    area_m2 = random.uniform(2e-10, 8e-10, RUNS)
    felt_pa = ct.decay_gauge_pa(time_s, area_m2[:, None], VOLUME_M3, 48e3, **WHERE)
    return time_s, np.round((felt_pa + random.normal(0.0, 50.0, felt_pa.shape)) / STEP_PA) * STEP_PA


def isothermal_bench() -> ct.Bench:
    """The circumstances that SciPy's loop assumes: one law, gas at the wall's temperature, all else exact."""
    return ct.Bench(volume_m3=VOLUME_M3, gauge=ct.Gauge.digital(STEP_PA), isothermal=True, **WHERE)


GAMMA = 1.4
BETA = (GAMMA - 1) / GAMMA
FLUX = np.sqrt(2 / BETA)
CRITICAL = (2 / (GAMMA + 1)) ** (1 / BETA)
ROOT_RT = np.sqrt(ct.Gas.dry_air().specific_gas_constant * KELVINS)


def own_script(time_s: Any, gauge_pa: Any) -> float:
    """Fit as a researcher's own script does: the orifice's equation by `solve_ivp` within `least_squares`."""

    def rate(_: float, y: Any, k: float) -> Any:
        ratio = np.clip(AMBIENT_PA / y, CRITICAL, 1.0)
        return -k * y * FLUX * np.sqrt(np.maximum(ratio ** (2 / GAMMA) - ratio ** (1 + 1 / GAMMA), 0.0))

    def residuals(x: Any) -> Any:
        found = scipy.integrate.solve_ivp(
            rate, (0.0, time_s[-1]), [AMBIENT_PA + x[1] * 1e3], t_eval=time_s, args=(x[0] * 1e-3,), rtol=1e-8, atol=1e-3
        )
        return (found.y[0] - AMBIENT_PA - gauge_pa) / 60.0

    fitted = scipy.optimize.least_squares(residuals, [0.5, gauge_pa[0] / 1e3])
    return float(fitted.x[0] * 1e-3 * VOLUME_M3 / ROOT_RT)


def closed_form(time_s: Any, gauge_pa: Any) -> float:
    """Fit by `least_squares` on this package's own compiled closed form."""

    def residuals(x: Any) -> Any:
        return (ct.decay_gauge_pa(time_s, x[0] * 1e-9, VOLUME_M3, x[1] * 1e3, **WHERE) - gauge_pa) / 60.0

    return float(scipy.optimize.least_squares(residuals, [0.5, gauge_pa[0] / 1e3], method="lm").x[0] * 1e-9)


def leastsq(time_s: Any, gauge_pa: Any) -> float:
    """Fit by MINPACK's driver itself on the same closed form: what `least_squares` adds in Python is left out."""

    def residuals(x: Any) -> Any:
        return ct.decay_gauge_pa(time_s, x[0] * 1e-9, VOLUME_M3, x[1] * 1e3, **WHERE) - gauge_pa

    return float(scipy.optimize.leastsq(residuals, [0.5, gauge_pa[0] / 1e3])[0][0] * 1e-9)


def gauss_newton(time_s: Any, gauge_pa: Any) -> Any:
    """Fit all runs at once: Gauss-Newton steps in NumPy over arrays of every run, differences for the slopes."""

    def model(area_m2: Any, start_pa: Any) -> Any:
        return ct.decay_gauge_pa(time_s, area_m2[:, None], VOLUME_M3, start_pa[:, None], **WHERE)

    area_m2, start_pa = np.full(len(gauge_pa), 0.5e-9), gauge_pa[:, 0].copy()
    for _ in range(20):
        felt_pa = model(area_m2, start_pa)
        by_area = (model(area_m2 * (1 + 1e-6), start_pa) - felt_pa) / (1e-6 * area_m2[:, None])
        by_start = (model(area_m2, start_pa * (1 + 1e-6)) - felt_pa) / (1e-6 * start_pa[:, None])
        off_pa = gauge_pa - felt_pa
        aa, ss, both = ((one * other).sum(axis=1) for one, other in ((by_area, by_area), (by_start, by_start), (by_area, by_start)))
        of_area, of_start = (by_area * off_pa).sum(axis=1), (by_start * off_pa).sum(axis=1)
        determinant = aa * ss - both**2
        step = (ss * of_area - both * of_start) / determinant
        start_pa += (aa * of_start - both * of_area) / determinant
        area_m2 = np.maximum(area_m2 + step, 0.1 * area_m2)
        if np.max(np.abs(step) / area_m2) < 1e-6:
            break
    return area_m2


def calls() -> None:
    """Overhead of one call."""
    decay = ct.Decay(5e-9, VOLUME_M3, 48e3, **WHERE)
    row("one reading, `Decay.gauge_pa(12.5)`", f"{best(lambda: decay.gauge_pa(12.5), calls=20_000) * 1e6:.2f} us")
    two = np.array([0.0, 12.5])
    row("two readings in an array", f"{best(lambda: decay.gauge_pa(two), calls=20_000) * 1e6:.2f} us")
    many = np.linspace(0.0, 60.0, 1_000_000)
    row("a million readings, each", f"{best(lambda: decay.gauge_pa(many)) * 1e9 / many.size:.1f} ns")
    gauge = ct.Gauge.digital(STEP_PA)
    row("`Gauge.digital(100.0)`, all overhead", f"{best(lambda: ct.Gauge.digital(100.0), calls=20_000) * 1e6:.2f} us")
    row("a getter", f"{best(lambda: gauge.step_pa, calls=50_000) * 1e6:.3f} us")
    # A fit that the core refuses at once: what is left is the way there and back, two arrays and an exception.
    bench, time_s = isothermal_bench(), np.arange(float(READINGS))
    wrong_pa = np.full(READINGS, -2e5)

    def refused() -> None:
        try:
            ct.fit(time_s, wrong_pa, bench, laws="orifice")
        except ct.ReadingsError:
            pass

    row(f"`fit` of {READINGS} readings that are refused, all overhead", f"{best(refused, calls=5000) * 1e6:.2f} us")


def batches() -> None:
    """Many runs beside SciPy."""
    time_s, gauge_pa = simulated()
    frame = pa.table(
        {
            "run": np.repeat([f"run {i}" for i in range(RUNS)], READINGS),
            "time_s": np.tile(time_s, RUNS),
            "gauge_pa": gauge_pa.ravel(),
        }
    )
    plain = isothermal_bench()
    full = ct.Bench(
        volume_m3=(VOLUME_M3, 5e-6),
        ambient_pa=(AMBIENT_PA, 100.0),
        temperature_k=(KELVINS, 1.0),
        gauge=ct.Gauge.digital(STEP_PA, accuracy_class=0.5, span_pa="1 bar"),
        drift_allowance_k_s="0.1 K/min",
    )

    def of_scipy(function: Callable[[Any, Any], float]) -> float:
        begun = time.perf_counter()
        areas = [function(time_s, gauge_pa[i]) for i in range(SCIPY_RUNS)]
        spent = (time.perf_counter() - begun) / SCIPY_RUNS
        ours = ct.fit_many(frame, plain, laws="orifice")["effective_area_m2"].to_numpy()[:SCIPY_RUNS]
        # The same fits, or the times say nothing.
        assert np.allclose(areas, ours, rtol=2e-3), np.max(np.abs(areas / ours - 1))
        return spent

    def of_numpy() -> float:
        ours = ct.fit_many(frame, plain, laws="orifice")["effective_area_m2"].to_numpy()
        areas = gauss_newton(time_s, gauge_pa)
        assert np.allclose(areas, ours, rtol=2e-3), np.max(np.abs(areas / ours - 1))
        return best(lambda: gauss_newton(time_s, gauge_pa), 3) / RUNS

    script, vectorised, minpack, numpy = of_scipy(own_script), of_scipy(closed_form), of_scipy(leastsq), of_numpy()
    one = best(lambda: ct.fit_many(frame, plain, laws="orifice"), 3) / RUNS
    all_laws = best(lambda: ct.fit_many(frame, full), 2) / RUNS
    row(f"SciPy loop, own script (`solve_ivp` in `least_squares`), a run (first {SCIPY_RUNS})", f"{script * 1e3:.2f} ms")
    row(f"SciPy loop, `least_squares` on our closed form, a run (first {SCIPY_RUNS})", f"{vectorised * 1e3:.2f} ms")
    row(f"SciPy loop, `leastsq` on our closed form, a run (first {SCIPY_RUNS})", f"{minpack * 1e6:.0f} us")
    row(f"NumPy, Gauss-Newton on our closed form, all {RUNS} runs at once, a run", f"{numpy * 1e6:.1f} us")
    row(f"`fit_many` of {RUNS} runs, same model (one law, isothermal), a run", f"{one * 1e6:.1f} us")
    row("... faster than the own script, than `least_squares`", f"{script / one:.0f} times, {vectorised / one:.0f} times")
    row("... faster than `leastsq`, than NumPy", f"{minpack / one:.0f} times, {numpy / one:.1f} times")
    row(f"`fit_many` of {RUNS} runs, all laws, heat, drift and gauge errors, a run", f"{all_laws * 1e6:.0f} us")
    row("... faster than the own script", f"{script / all_laws:.0f} times")


def whole_job() -> None:
    """The whole fit beside a SciPy script that does as much: four laws, heat and drift with priors, a mixture's interval."""
    times_s, gauges_pa = four_laws.simulated(RUNS)
    frame = pa.table(
        {
            "run": np.repeat([f"run {i}" for i in range(RUNS)], READINGS),
            "time_s": times_s.ravel(),
            "gauge_pa": gauges_pa.ravel(),
        }
    )
    bench = ct.Bench(
        volume_m3=(VOLUME_M3, four_laws.VOLUME_UNCERTAINTY * VOLUME_M3),
        gauge=ct.Gauge.digital(STEP_PA, noise_pa=four_laws.NOISE_PA),
        drift_allowance_k_s="0.1 K/min",
        **WHERE,
    )
    chosen = np.linspace(0, RUNS - 1, SCIPY_WHOLE_RUNS).astype(int)
    begun = time.perf_counter()
    theirs = np.array([four_laws.fit((times_s[i], gauges_pa[i])) for i in chosen])
    script = (time.perf_counter() - begun) / SCIPY_WHOLE_RUNS
    ours = ct.fit_many(frame, bench)
    area, low, high = (ours[name].to_numpy()[chosen] for name in ("effective_area_m2", "area_low_m2", "area_high_m2"))
    # Each side's interval holds the other's area, or the times say nothing.
    assert np.mean((low <= theirs[:, 0]) & (theirs[:, 0] <= high)) >= 0.9
    assert np.mean((theirs[:, 1] <= area) & (area <= theirs[:, 2])) >= 0.9
    spent = best(lambda: ct.fit_many(frame, bench), 3) / RUNS
    row(f"SciPy loop, four laws, heat and drift with priors, a run ({SCIPY_WHOLE_RUNS} of them)", f"{script * 1e3:.0f} ms")
    row(f"`fit_many` of {RUNS} runs, the same, a run", f"{spent * 1e6:.0f} us")
    row("... faster than that script", f"{script / spent:.0f} times")


SCALING = """
import sys, time
sys.path.insert(0, sys.argv[1])
import frames, casetight as ct
frame, bench = frames.table(4000), frames.bench()
ct.fit_many(frame, bench)
begun = time.perf_counter()
ct.fit_many(frame, bench)
print(time.perf_counter() - begun)
"""


def scaling() -> None:
    """Time the same batch on one core and on all."""
    tests = str(Path(__file__).resolve().parents[1] / "tests")

    def seconds(threads: int) -> float:
        environment = os.environ | {"RAYON_NUM_THREADS": str(threads)}
        command = [sys.executable, "-c", SCALING, tests]
        said = [subprocess.run(command, env=environment, check=True, capture_output=True, text=True) for _ in range(2)]
        return min(float(one.stdout) for one in said)

    cores = os.cpu_count() or 1
    row(f"... on {cores} cores over one", f"{seconds(1) / seconds(cores):.2f} times")


def package() -> None:
    """Import and size."""
    code = "import time; t = time.perf_counter(); import casetight; print(time.perf_counter() - t)"
    said = [subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True) for _ in range(7)]
    row("`import casetight`", f"{min(float(one.stdout) for one in said) * 1e3:.1f} ms")
    found = importlib.util.find_spec("casetight._core")
    assert found is not None and found.origin is not None
    row("compiled module", f"{Path(found.origin).stat().st_size / 1e6:.1f} MB")


def main() -> None:
    """Print the table."""
    print("| what | measured |\n|---|---|")
    calls()
    batches()
    scaling()
    whole_job()
    package()


if __name__ == "__main__":
    main()
