"""The lumped thermal vessel beside Cantera: a reactor, a leak and a wall.

Cantera integrates mass, energy and heat of a reactor of ideal gas with its own equations and its own integrator (CVODES).
Its reactors know nothing of orifices: the flow through the leak is given to a mass flow controller as a function of the
reactor's state. `tests/tests/thermal.rs` holds casetight's `ThermalVessel` to the table that this file writes with

    python tests/python/test_vessel_peers.py --write

and the test below holds the table to the Cantera that is installed. The gas is calorically perfect: gamma = 1.4 exactly.
"""

import csv
import math
import sys
from dataclasses import dataclass
from pathlib import Path

import cantera as ct
import numpy as np
import pytest

TABLE = Path(__file__).resolve().parents[1] / "data" / "cantera_vessel.csv"

GAMMA = 1.4
BETA = (GAMMA - 1) / GAMMA
X_CRITICAL = (2 / (GAMMA + 1)) ** (1 / BETA)

# Tolerances of Cantera's integrator.
RELATIVE, ABSOLUTE = 1e-13, 1e-17
# Agreement with the table, as a part of ambient pressure and of ambient temperature: another build of Cantera may take
# other steps; the same one repeats the table to its last digit.
TOLERANCE = 1e-9

AIR = f"""
elements:
- {{symbol: Air, atomic-weight: 28.9647}}
phases:
- name: air
  thermo: ideal-gas
  elements: [Air]
  species: [Air]
species:
- name: Air
  composition: {{Air: 1}}
  thermo:
    model: constant-cp
    T0: 298.15 K
    h0: 0 J/mol
    s0: 0 J/mol/K
    cp0: {ct.gas_constant / 1e3 / BETA!r} J/mol/K
"""


@dataclass(frozen=True)
class Case:
    """One test of a case that leaks through an orifice."""

    name: str
    start_gauge_pa: float
    conductance_w_per_k: float
    start_temperature_k: float
    wall_temperature_k: float
    ends_s: float
    ambient_pa: float = 101_325.0
    ambient_k: float = 293.15
    volume_m3: float = 250e-6
    area_m2: float = 5e-8


CASES = [
    Case("discharge", 70e3, 0.35, 293.15, 293.15, 14.0),
    Case("discharge, adiabatic", 70e3, 0.0, 293.15, 293.15, 10.0),
    Case("discharge, hot gas", 70e3, 0.35, 307.15, 293.15, 14.0),
    Case("discharge, choked at first", 200e3, 0.9, 293.15, 293.15, 24.0),
    Case("discharge, warm wall", 50e3, 0.15, 293.15, 308.15, 12.0),
    Case("charge", -60e3, 0.35, 293.15, 293.15, 17.0),
    Case("charge, adiabatic", -60e3, 0.0, 293.15, 293.15, 12.5),
    Case("charge, cold gas", -90e3, 0.35, 283.15, 293.15, 22.0),
    Case("charge, warm wall", -40e3, 0.9, 293.15, 308.15, 13.0),
]


def air() -> ct.Solution:
    """A calorically perfect air of its own, so that no two vessels share a state."""
    gas = ct.Solution(yaml=AIR)
    assert abs(gas.cp / gas.cv - GAMMA) < 1e-12
    return gas


GAS_R = ct.gas_constant / air().mean_molecular_weight


def mass_flux(p_up: float, t_up: float, p_down: float) -> float:
    """Mass flow through one square meter of ideal orifice [kg/(s m2)]; zero against the pressure."""
    x = p_down / p_up
    if x >= 1:
        return 0.0
    x = max(x, X_CRITICAL)
    # 1 - x^beta without cancellation.
    psi = math.sqrt(2 / BETA * x ** (2 / GAMMA) * -math.expm1(BETA * math.log(x)))
    return p_up / math.sqrt(GAS_R * t_up) * psi


def cantera(case: Case, times: np.ndarray) -> np.ndarray:
    """Rows of gauge pressure [Pa] and gas temperature [K] at the times."""
    inside, outside, wall = air(), air(), air()
    inside.TP = case.start_temperature_k, case.ambient_pa + case.start_gauge_pa
    outside.TP = case.ambient_k, case.ambient_pa
    wall.TP = case.wall_temperature_k, case.ambient_pa
    vessel = ct.IdealGasReactor(inside, volume=case.volume_m3, clone=False)
    ambient, metal = ct.Reservoir(outside, clone=False), ct.Reservoir(wall, clone=False)

    def out(_t: float) -> float:
        return case.area_m2 * mass_flux(inside.P, inside.T, case.ambient_pa)

    def into(_t: float) -> float:
        return case.area_m2 * mass_flux(case.ambient_pa, case.ambient_k, inside.P)

    parts = [
        ct.MassFlowController(vessel, ambient, mdot=out),
        ct.MassFlowController(ambient, vessel, mdot=into),
        ct.Wall(metal, vessel, A=1.0, U=case.conductance_w_per_k),
    ]
    net = ct.ReactorNet([vessel])
    net.rtol, net.atol = RELATIVE, ABSOLUTE
    net.max_steps = 200_000
    rows = []
    for time in times:
        if time > 0:
            net.advance(time)
        rows.append((inside.P - case.ambient_pa, inside.T))
    del parts
    return np.array(rows)


def times_of(case: Case) -> np.ndarray:
    """Seven times of a case, the start not among them."""
    return case.ends_s * np.arange(1, 8) / 7


def write() -> None:
    """Writes the table."""
    lines = [
        "# Discharge and charge of a vessel through an ideal orifice, with heat from the wall, as Cantera has them.",
        f"# Source: Cantera {ct.__version__} (IdealGasReactor, two MassFlowControllers, Wall to a Reservoir), by",
        "#   python tests/python/test_vessel_peers.py --write",
        f"# Gas: calorically perfect, gamma 1.4, R {GAS_R!r} J/(kg K). Gas drawn in has the ambient temperature.",
        "# Units: as the column names say; gauge pressure over ambient.",
        "# Status: independent script.",
        "case,start_gauge_pa,conductance_w_per_k,start_temperature_k,wall_temperature_k,ambient_pa,ambient_k,volume_m3,"
        "area_m2,gas_r,time_s,gauge_pa,temperature_k",
    ]
    for case in CASES:
        times = times_of(case)
        for time, (gauge, temperature) in zip(times, cantera(case, times), strict=True):
            fields = [
                case.name.replace(",", ";"),
                case.start_gauge_pa,
                case.conductance_w_per_k,
                case.start_temperature_k,
                case.wall_temperature_k,
                case.ambient_pa,
                case.ambient_k,
                case.volume_m3,
                case.area_m2,
                GAS_R,
                float(time),
                f"{gauge:.6f}",
                f"{temperature:.9f}",
            ]
            lines.append(",".join(str(field) for field in fields))
    TABLE.write_text("\n".join(lines) + "\n", encoding="utf-8")


def table_of(case: Case) -> np.ndarray:
    """Rows of time, gauge pressure and temperature of a case, as the table has them."""
    with TABLE.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    return np.array(
        [
            [float(row[name]) for name in ("time_s", "gauge_pa", "temperature_k")]
            for row in rows
            if row["case"] == case.name.replace(",", ";")
        ]
    )


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_the_table_is_what_cantera_gives(case: Case) -> None:
    table = table_of(case)
    assert np.allclose(table[:, 0], times_of(case), rtol=1e-15, atol=0)
    found = cantera(case, table[:, 0])
    assert np.all(np.abs(found[:, 0] - table[:, 1]) < TOLERANCE * case.ambient_pa)
    assert np.all(np.abs(found[:, 1] - table[:, 2]) < TOLERANCE * case.ambient_k)


@pytest.mark.parametrize("case", [c for c in CASES if c.conductance_w_per_k == 0], ids=lambda case: case.name)
def test_cantera_keeps_the_adiabatic_laws(case: Case) -> None:
    """What Cantera is asked is what is meant: exact relations of an adiabatic vessel, whatever the leak's size."""
    for _time, gauge, temperature in table_of(case):
        pressure = 1 + gauge / case.ambient_pa
        start = 1 + case.start_gauge_pa / case.ambient_pa
        if case.start_gauge_pa > 0:
            # Isentropic for what stays inside.
            expected = (pressure / start) ** BETA
        else:
            # Energy: (P - P0)/gamma is the mass drawn in, in the units of P0/theta0 = P0.
            expected = pressure / (start + (pressure - start) / GAMMA)
        assert abs(temperature / case.start_temperature_k - expected) < TOLERANCE


if __name__ == "__main__":
    if sys.argv[1:] != ["--write"]:
        sys.exit("usage: python tests/python/test_vessel_peers.py --write")
    write()
