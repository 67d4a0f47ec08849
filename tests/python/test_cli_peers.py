"""The program's answers on the demo sheets beside an independent fit with SciPy.

Nothing of casetight is used here but the program's JSON. The vessel is integrated from its differential equation, the
sheet is read with Python's own TOML reader, and the units are converted with a table of our own.

Equations (isothermal vessel, ideal orifice to ambient, gamma = 1.4; k = CdA sqrt(R T)/V in 1/s):

    pressure test   dp/dt = -k p   Psi(p_a/p)
    vacuum test     dp/dt = +k p_a Psi(p/p_a)
    Psi(x) = sqrt(2/beta (x^(2/gamma) - x^((gamma+1)/gamma))), beta = (gamma-1)/gamma, and its maximum below x* = 0.5283
"""

import csv
import json
import math
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import least_squares

if sys.version_info >= (3, 11):
    import tomllib
else:
    import tomli as tomllib

DEMO = Path(__file__).resolve().parents[2] / "docs" / "demo"

GAMMA = 1.4
BETA = (GAMMA - 1) / GAMMA
X_CRITICAL = (2 / (GAMMA + 1)) ** (1 / BETA)

# [Pa] in one of each unit: NIST SP 811, from memory.
PASCALS = {
    "Pa": 1.0,
    "hPa": 1e2,
    "mbar": 1e2,
    "kPa": 1e3,
    "bar": 1e5,
    "psi": 6894.757293168,
    "inHg": 3386.389,
    "mmHg": 133.322387415,
    "Torr": 101325 / 760,
    "inH2O": 249.08891,
    "atm": 101325.0,
}

# The two fits weigh readings differently: SciPy gives each the same weight and knows no priors, while the program adds
# what the gauge's class, the barometer and the stopwatch leave open. That moves the estimate inside the program's own
# interval, and by less than half a standard error unless one of the two is wrong.
TOLERANCE_STANDARD_ERRORS = 0.5
# Two-sided 95 % of a normal distribution: half-width over standard error.
HALF_WIDTH_95 = 1.959964


def pascals(text: str) -> float:
    """'7 psi' in Pa."""
    number, unit = text.split()
    return float(number) * PASCALS[unit]


def flow_function(x: float) -> float:
    """Psi of the downstream-to-upstream pressure ratio x."""
    x = min(max(x, X_CRITICAL), 1.0)
    return math.sqrt(max(2 / BETA * (x ** (2 / GAMMA) - x ** ((GAMMA + 1) / GAMMA)), 0.0))


def vessel(rate: float, start: float, ambient: float, time: np.ndarray) -> np.ndarray:
    """Absolute pressure [Pa] at the times [s] of a vessel that starts at `start` [Pa] when time[0] strikes."""

    def slope(_t, p):
        if p[0] >= ambient:
            return [-rate * p[0] * flow_function(ambient / p[0])]
        return [rate * ambient * flow_function(p[0] / ambient)]

    span = (time[0], time[-1])
    solution = solve_ivp(slope, span, [start], "DOP853", t_eval=time, rtol=1e-10, atol=1e-4)
    assert solution.success, solution.message
    return solution.y[0]


def peer_fit(time: np.ndarray, gauge: np.ndarray, ambient: float) -> float:
    """The rate k [1/s] that least squares finds, with the start pressure as the second unknown."""
    pressure = ambient + gauge
    up, down = max(pressure[0], ambient), min(pressure[0], ambient)
    flow = up * flow_function(down / up)
    guess = abs(pressure[0] - pressure[-1]) / (flow * (time[-1] - time[0]))

    def residuals(unknowns):
        rate, start = math.exp(unknowns[0]), ambient + gauge[0] * unknowns[1]
        return (vessel(rate, start, ambient, time) - pressure) / 100.0

    fit = least_squares(residuals, [math.log(guess), 1.0], xtol=1e-10, ftol=1e-10, gtol=1e-10)
    assert fit.success, fit.message
    return math.exp(fit.x[0])


@dataclass
class Answer:
    """What the program gave for a sheet."""

    code: int
    out: str
    err: str


def casetight(*arguments: object) -> Answer:
    """Runs the program that was built for this test."""
    done = subprocess.run(
        [os.environ["CASETIGHT_BIN"], *map(str, arguments)],
        capture_output=True,
        encoding="utf-8",
        timeout=60,
        check=False,
    )
    return Answer(done.returncode, done.stdout, done.stderr)


def readings(sheet_path: Path, sheet: dict, run: dict) -> tuple[np.ndarray, np.ndarray]:
    """Times [s] and gauge pressures [Pa] of a run, inline or from its trace."""
    unit = sheet["gauge"]["unit"]
    if "readings" in run:
        table = np.array(run["readings"], dtype=float)
        return table[:, 0], table[:, 1] * PASCALS[unit]
    with open(sheet_path.parent / run["file"], encoding="utf-8-sig", newline="") as trace:
        rows = list(csv.DictReader(line for line in trace if not line.startswith("#")))
    column = next(name for name in rows[0] if name.startswith("gauge"))
    # `gauge_kpa` states its unit in its name; a bare `gauge` is in the sheet's.
    stated = {name.lower(): factor for name, factor in PASCALS.items()}
    factor = stated.get(column.removeprefix("gauge").lstrip("_").lower(), PASCALS[unit])
    time = np.array([float(row["time_s"]) for row in rows])
    return time, np.array([float(row[column]) for row in rows]) * factor


SHEETS = sorted(DEMO.glob("*.toml"))
RUNS = [
    pytest.param(path, sheet, run, id=f"{path.stem}-{run['name']}")
    for path in SHEETS
    for sheet in [tomllib.loads(path.read_text(encoding="utf-8"))]
    for run in sheet.get("run", [])
    if "readings" in run or "file" in run
]


@pytest.fixture(scope="module")
def assessed():
    """`assess --json` of a sheet, asked once for all its runs."""
    answers: dict[Path, Answer] = {}

    def ask(path: Path) -> Answer:
        if path not in answers:
            answers[path] = casetight("assess", path, "--json")
        return answers[path]

    return ask


def test_there_are_runs_to_compare():
    """Without demo sheets the comparisons below would pass by doing nothing."""
    assert RUNS, f"no run with readings in {DEMO}/*.toml"


@pytest.mark.parametrize(("path", "sheet", "run"), RUNS)
def test_rate_agrees_with_scipy(path, sheet, run, assessed):
    """Kind: independent script (this file)."""
    answer = assessed(path)
    results = [r for r in json.loads(answer.out)["runs"] if r["name"] == run["name"]]
    assert len(results) == 1, f"{answer.out}\n{answer.err}"
    result = results[0]
    rate = result["rate_per_s"]
    time, gauge = readings(path, sheet, run)

    assert result["direction"] == ("pressure" if gauge[0] > 0 else "vacuum")
    if np.ptp(gauge) == 0.0:
        # The needle has not moved: a bound, and no estimate to compare.
        assert 0.0 <= rate["low"] <= rate["high"]
        return
    assert rate["low"] < rate["value"] < rate["high"]
    if result["law"] != "orifice":
        pytest.skip(f"the program took the law {result['law']!r}; this peer knows the orifice")

    peer = peer_fit(time, gauge, pascals(sheet["ambient"]["pressure"]))
    standard_error = (rate["high"] - rate["low"]) / (2 * HALF_WIDTH_95)
    assert rate["value"] == pytest.approx(peer, rel=0, abs=TOLERANCE_STANDARD_ERRORS * standard_error)


@pytest.mark.parametrize("path", SHEETS, ids=lambda path: path.stem)
def test_each_interval_holds_its_value(path, assessed):
    """Areas, diameters and flows are inside their own intervals, and the levels are probabilities."""
    for result in json.loads(assessed(path).out)["runs"]:
        for quantity in ("effective_area_m2", "diameter_m", "flow_m3_s"):
            part = result.get(quantity) or {}
            if part.get("value") is None:
                continue
            assert 0.0 <= part["low"] <= part["value"] <= part["high"], (result["name"], quantity)
        area = result.get("effective_area_m2") or {}
        assert area.get("level") is None or 0.5 < area["level"] < 1.0


@pytest.mark.parametrize("path", SHEETS, ids=lambda path: path.stem)
def test_exit_code_follows_the_verdicts(path, assessed):
    """0 all hold, 1 some leak, 3 undecided or stalled: a leak that was found outweighs what is still open."""
    answer = assessed(path)
    verdicts = {result["verdict"] for result in json.loads(answer.out)["runs"]}
    if "leaks" in verdicts:
        expected = 1
    elif verdicts & {"undecided", "stalled"}:
        expected = 3
    else:
        expected = 0
    assert answer.code == expected, (verdicts, answer.err)


@pytest.mark.parametrize("path", SHEETS, ids=lambda path: path.stem)
def test_words_and_json_end_alike(path, assessed):
    """The text for people has the same exit code and is not empty."""
    words = casetight("assess", path)
    assert words.code == assessed(path).code
    assert words.out.strip()


@pytest.mark.parametrize(
    "content",
    [
        pytest.param(b"", id="empty"),
        pytest.param(b"format = 1\n[[run]\n", id="broken TOML"),
        pytest.param(b"format = 999\n", id="unknown format"),
        pytest.param("format = 1\ntitle = 'ä'\n".encode("utf-16"), id="wrong encoding"),
    ],
)
def test_bad_sheets_are_refused(content, tmp_path):
    """Exit code 2, a reason that names the file, and nothing on the standard output."""
    sheet = tmp_path / "bad.toml"
    sheet.write_bytes(content)
    answer = casetight("assess", sheet, "--json")
    assert answer.code == 2
    assert "bad.toml" in answer.err
    assert answer.out == ""


def test_a_missing_sheet_is_refused(tmp_path):
    """Exit code 2, with the path that was not found."""
    answer = casetight("assess", tmp_path / "nowhere.toml", "--json")
    assert answer.code == 2
    assert "nowhere.toml" in answer.err


def test_the_peer_itself_meets_the_closed_form():
    """The vacuum rise is a straight line in u = sqrt(1 - (p/p_a)^beta) for any gamma: u = u0 - k sqrt(beta/2) t.

    And the pressure decay takes 15.00861712 s from 70 to 5 kPa for CdA 0.05 mm2, 250 cm3, 293.15 K, R 287.05287
    (30-digit quadrature of the same equation, done apart from this file). Kind: independent script.
    """
    ambient, time = 101325.0, np.linspace(0.0, 15.0, 9)
    rate = 0.05e-6 * math.sqrt(287.05287 * 293.15) / 250e-6

    rise = vessel(rate, ambient - 40e3, ambient, time)
    u = np.sqrt(1 - (rise / ambient) ** BETA)
    np.testing.assert_allclose(u, u[0] - rate * math.sqrt(BETA / 2) * time, atol=1e-8)

    decay = vessel(rate, ambient + 70e3, ambient, np.array([0.0, 15.00861712]))
    assert decay[-1] - ambient == pytest.approx(5e3, rel=1e-7)

    for start in (ambient + 48e3, ambient - 55e3):
        time = np.linspace(0.0, 8.0, 9)
        found = peer_fit(time, vessel(rate, start, ambient, time) - ambient, ambient)
        assert found == pytest.approx(rate, rel=1e-7)
