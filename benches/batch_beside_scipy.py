"""Times `casetight batch` and a SciPy script on the same file of many runs, in one go.

    python benches/batch_beside_scipy.py [--runs 10000] [--scipy-runs 100] [--memory]

10 000 pressure tests of 24 readings each are simulated (an isothermal orifice in closed form, noise and rounding of a
digital gauge from a fixed seed) and written as one CSV file in long form. casetight reads the file, fits and judges every
run and writes its results, on as many processors as the machine has. The SciPy script does for 100 of them what a
researcher would write for the purpose, in as many processes; its time is scaled to all runs, and the table says so.

The SciPy script fits casetight's laws to each run, with casetight's priors: an orifice, a sonic conductance with each of its critical
ratios b, a power law with each of its exponents n (a lip's law is one outside 0.5 to 1), and a laminar leak; each on a lumped thermal
vessel by `solve_ivp`, with y = p/p_a, h = T/T_a:

    dy/dt = -gamma h k g(y, h) + (h_w - h)/tau
    dh/dt = (h/y) (-(gamma - 1) h k g(y, h) + (h_w - h)/tau),      h_w = 1 + r t

    orifice   g = y/sqrt(h) Psi(1/y)            sonic     g = y/sqrt(h) sqrt(1 - ((1/y - b)/(1 - b))^2), 1/y > b
    power     g = y/h (y - 1)^n                 laminar   g = (y^2 - 1)/h

Five parameters: rate, start pressure, ln tau, excess of the gas temperature at the start, wall drift r. The last three
have normal priors, which are extra residuals of `least_squares`. (casetight's fit has two terms more, of an engine that is not at the
room's temperature, and says what a bench does of itself.) Each law's evidence by Laplace's approximation weighs it.
The answer is the mean of the laws' effective areas and a 95 % interval of their mixture, widened by the volume.

With --memory, the peak memory of `casetight batch` is printed for 10 000 and for 200 000 runs as well.
Ends with 1 where the two sides' intervals do not hold each other's areas in at least nine runs of ten.
"""

import argparse
import csv
import multiprocessing
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import least_squares
from scipy.special import ndtr, ndtri

from beside_scipy import (
    AMBIENT_PA,
    BETA,
    GAMMA,
    NOISE_PA,
    READINGS,
    RESOLUTION_PA,
    ROOT,
    SLOPE,
    inverse,
    processor,
    shown,
    straightened,
)

SEED = 10_000
VOLUME_M3 = 250e-6
VOLUME_UNCERTAINTY = 0.01
TEMPERATURE_K = 293.15
GAS_R = 287.055

# One standard uncertainty of a reading: noise and rounding.
SIGMA_PA = np.hypot(NOISE_PA, RESOLUTION_PA / np.sqrt(12))

# Priors of what the readings tell little of, the same as casetight's: thermal conductance of a case of 250 cm3, the
# temperature that pumping leaves as a part of the adiabatic one, and the wall's drift.
CONDUCTANCE_W_PER_K = 0.35
LN_CONDUCTANCE_UNCERTAINTY = 0.45
PART_OF_ADIABATIC = 0.5
DRIFT_K_PER_S = 0.1 / 60

# Prior probabilities of the laws, and their numbers.
ORIFICE, LAMINAR = 0.42, 0.42
SONIC = {0.3: 0.04, 0.15: 0.01, 0.42: 0.01}
POWER = {0.75: 0.04, 0.55: 0.02, 0.65: 0.03, 0.85: 0.03, 0.95: 0.02, 1.2: 0.03, 1.5: 0.02, 0.2: 0.02}

SHEET = f"""\
format = 1
title = "Many runs, simulated"
[volume]
value = "{VOLUME_M3 * 1e6} cm3"
uncertainty = "{VOLUME_UNCERTAINTY * VOLUME_M3 * 1e6} cm3"
[ambient]
pressure = "{AMBIENT_PA} Pa"
pressure_uncertainty = "0 Pa"
temperature = "{TEMPERATURE_K} K"
temperature_uncertainty = "0 K"
drift_allowance = "0.1 K/min"
[gauge]
unit = "Pa"
resolution = "{RESOLUTION_PA} Pa"
noise = "{NOISE_PA} Pa"
[limit]
max_drop = "1 psi"
from = "7 psi"
over = "60 s"
"""


# The runs.


def simulated(count):
    """Times [s] and readings [Pa] of many runs, one a row: a sixth to two thirds lost in 20 to 300 s."""
    random = np.random.default_rng(SEED)
    start = random.uniform(35e3, 55e3, (count, 1))
    left = random.uniform(0.35, 0.85, (count, 1)) * start
    hold = np.exp(random.uniform(np.log(20), np.log(300), (count, 1)))
    times = hold * np.linspace(0.0, 1.0, READINGS)
    s = straightened(start) - (straightened(start) - straightened(left)) * times / hold
    truth = AMBIENT_PA * ((1 + inverse(s) ** 2) ** 3.5 - 1)
    noisy = truth + random.normal(0.0, NOISE_PA, truth.shape)
    return times, np.round(noisy / RESOLUTION_PA) * RESOLUTION_PA


def write(path, times, gauges):
    with path.open("w", encoding="utf-8", newline="") as file:
        file.write("run,time_s,gauge_pa\n")
        for number, (time_s, gauge_pa) in enumerate(zip(times, gauges)):
            file.writelines(f"r{number},{t:.3f},{g:.0f}\n" for t, g in zip(time_s, gauge_pa))


# SciPy.


def orifice(y, h):
    x = 1 / y
    return y / np.sqrt(h) * np.sqrt(2 / BETA * np.maximum(x ** (2 / GAMMA) - x ** (1 + 1 / GAMMA), 0.0))


def sonic(b):
    def flow(y, h):
        w = max((1 / y - b) / (1 - b), 0.0)
        return y / np.sqrt(h) * np.sqrt(max(1 - w * w, 0.0))

    return flow


def power(n):
    return lambda y, h: y / h * max(y - 1, 0.0) ** n


def laminar(y, h):
    return (y * y - 1) / h


LAWS = [
    (orifice, ORIFICE),
    (laminar, LAMINAR),
    *((sonic(b), prior) for b, prior in SONIC.items()),
    *((power(n), prior) for n, prior in POWER.items()),
]


def readings_of(law, theta, times):
    """Gauge pressures [p_a] of a law at the times."""
    ln_rate, start, ln_tau, excess, drift = theta
    rate, tau = np.exp(ln_rate), np.exp(ln_tau)

    def rates(t, state):
        y, h = max(state[0], 1.0), state[1]
        out = rate * h * law(y, h)
        heat = (1 + drift * t - h) / tau
        return [-GAMMA * out + heat, h / y * (-(GAMMA - 1) * out + heat)]

    solution = solve_ivp(
        rates,
        (times[0], times[-1]),
        [1 + start, 1 + excess],
        method="LSODA",
        t_eval=times,
        rtol=1e-7,
        atol=1e-9,
    )
    return solution.y[0] - 1


def fit_law(law, times, gauge, tau, excess_uncertainty):
    """Effective area [m2], its standard uncertainty and the logarithm of the evidence for a law."""
    sigma = SIGMA_PA / AMBIENT_PA
    priors = np.array(
        [LN_CONDUCTANCE_UNCERTAINTY, excess_uncertainty, DRIFT_K_PER_S / TEMPERATURE_K]
    )
    center = np.array([np.log(tau), 0.0, 0.0])

    def residuals(theta):
        model = readings_of(law, theta, times)
        return np.concatenate([(model - gauge) / sigma, (theta[2:] - center) / priors])

    fall = max((gauge[0] - gauge[-1]) / (times[-1] - times[0]), sigma / times[-1])
    half = 1 + 0.5 * (gauge[0] + gauge[-1])
    first = np.array([np.log(fall / law(half, 1.0)), gauge[0], *center])
    scale = np.array([0.1, sigma, *priors])
    found = least_squares(residuals, first, method="lm", x_scale=scale, diff_step=1e-5)
    _, triangle = np.linalg.qr(found.jac)
    inverse_triangle = np.linalg.inv(triangle)
    ln_uncertainty = np.linalg.norm(inverse_triangle[0])
    # Laplace: the peak times the volume beneath it; priors and noise are the same for all laws.
    evidence = -found.cost - np.log(np.abs(np.diag(triangle))).sum()
    start = 1 + found.x[1]
    rate = np.exp(found.x[0]) * law(start, 1.0) / orifice(start, 1.0)
    area = rate * VOLUME_M3 / np.sqrt(GAS_R * TEMPERATURE_K)
    return area, area * ln_uncertainty, evidence


def fit(run):
    """Area, and the ends of its 95 % interval, over the laws [m2]."""
    times, gauge_pa = run
    gauge = gauge_pa / AMBIENT_PA
    capacity = AMBIENT_PA * VOLUME_M3 / (TEMPERATURE_K * (GAMMA - 1))
    tau = capacity / CONDUCTANCE_W_PER_K
    excess = PART_OF_ADIABATIC * ((1 + gauge[0]) ** BETA - 1)
    fits = [fit_law(law, times, gauge, tau, excess) for law, _ in LAWS]
    areas, sigmas, evidences = map(np.array, zip(*fits))
    priors = np.array([prior for _, prior in LAWS])
    weights = priors * np.exp(evidences - evidences.max())
    weights /= weights.sum()
    sigmas = np.hypot(sigmas, VOLUME_UNCERTAINTY * areas)
    ends = [quantile(p, weights, areas, sigmas) for p in (0.025, 0.975)]
    return float(weights @ areas), *ends


def quantile(probability, weights, areas, sigmas):
    """Of a mixture of normal distributions, by bisection."""
    z = ndtri(probability)
    low, high = np.min(areas + z * sigmas), np.max(areas + z * sigmas)
    for _ in range(60):
        middle = 0.5 * (low + high)
        if weights @ ndtr((middle - areas) / sigmas) < probability:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


# Both.


def casetight(folder, name, watched=False):
    """Time [s] and, if watched and where the system tells, peak memory [bytes] of `casetight batch`; its results."""
    program = os.environ.get("CASETIGHT_BIN", str(ROOT / "target" / "release" / "casetight"))
    out = folder / "results.csv"
    command = [program, "batch", str(folder / name), "--sheet", str(folder / "sheet.toml")]
    start = time.perf_counter()
    child = subprocess.Popen([*command, "--out", str(out)], stdout=subprocess.DEVNULL)
    memory = None
    while watched and child.poll() is None:
        memory = peak_memory(child.pid) or memory
        time.sleep(0.005)
    code = child.wait()
    seconds = time.perf_counter() - start
    if code not in (0, 1, 3):
        sys.exit(f"casetight batch ended with {code}")
    return seconds, memory, out


def peak_memory(process):
    """Of a process so far [bytes], on Linux. (What `wait4` tells holds the parent's own memory as well.)"""
    try:
        lines = Path(f"/proc/{process}/status").read_text(encoding="utf-8").splitlines()
    except OSError:
        return None
    found = [line.split()[1] for line in lines if line.startswith("VmHWM:")]
    return int(found[0]) * 1024 if found else None


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--runs", type=int, default=10_000)
    parser.add_argument("--scipy-runs", type=int, default=100)
    parser.add_argument("--memory", action="store_true")
    asked = parser.parse_args()
    processes = os.cpu_count() or 1
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "sheet.toml").write_text(SHEET, encoding="utf-8")
        times, gauges = simulated(asked.runs)
        write(folder / "readings.csv", times, gauges)
        tries = [casetight(folder, "readings.csv") for _ in range(3)]
        ours_s = float(np.median([seconds for seconds, _, _ in tries]))
        out = tries[0][2]
        with out.open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        if len(rows) != asked.runs or any(row["error"] for row in rows):
            sys.exit("a run was not assessed")

        # Evenly over the file, as it is in the file.
        chosen = np.linspace(0, asked.runs - 1, min(asked.scipy_runs, asked.runs)).astype(int)
        runs = [(np.round(times[i], 3), gauges[i]) for i in chosen]
        with multiprocessing.get_context("spawn").Pool(processes) as pool:
            pool.map(fit, runs[:processes])  # a warm-up: the processes have started
            start = time.perf_counter()
            theirs = pool.map(fit, runs, chunksize=1)
            theirs_s = (time.perf_counter() - start) * asked.runs / len(runs)

        column = lambda name: np.array([float(rows[i][name]) for i in chosen])
        area, low, high = column("effective_area_m2"), column("area_low_m2"), column("area_high_m2")
        their_area, their_low, their_high = np.array(theirs).T
        held = np.mean((low <= their_area) & (their_area <= high))
        holds = np.mean((their_low <= area) & (area <= their_high))
        print(
            f"Areas of {len(runs)} runs: median ratio SciPy/casetight {np.median(their_area / area):.4f}; casetight's interval "
            f"holds SciPy's area in {held:.0%}, SciPy's holds casetight's in {holds:.0%}; median half-widths "
            f"{np.median((high - low) / (2 * area)):.2%} and {np.median((their_high - their_low) / (2 * their_area)):.2%}."
        )
        load = f", load {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
        print(f"\n{processor()}, {processes} processors{load}\n")
        print("| what | time | a run | over casetight |")
        print("|---|---:|---:|---:|")
        for what, seconds in (
            (f"{asked.runs} runs of {READINGS} readings, casetight batch, file to file", ours_s),
            (
                f"the same, SciPy in {processes} processes, the same laws (scaled from {len(runs)} runs)",
                theirs_s,
            ),
        ):
            a_run = shown(seconds / asked.runs)
            print(f"| {what} | {shown(seconds)} | {a_run} | {seconds / ours_s:.4g} |")
        if asked.memory:
            print("\n| runs | file | peak memory of casetight batch |")
            print("|---:|---:|---:|")
            for count in (10_000, 200_000):
                write(folder / "many.csv", *simulated(count))
                size = (folder / "many.csv").stat().st_size
                _, memory, _ = casetight(folder, "many.csv", watched=True)
                shown_memory = "not told" if memory is None else f"{memory / 2**20:.1f} MiB"
                print(f"| {count} | {size / 2**20:.1f} MiB | {shown_memory} |")
    if min(held, holds) < 0.9:
        sys.exit("The two sides don't agree.")


if __name__ == "__main__":
    main()
