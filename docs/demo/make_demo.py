"""Writes the invented readings of the demo sheets. All machines here are invented; no engine was tested.

Run from the repository's root: python3 docs/demo/make_demo.py
Readings come from an isothermal vessel with an ideal orifice, integrated in small steps, with noise and rounding of
the sheet's gauge. The seed is fixed, so the files don't change.
"""

import math
import pathlib
import random

HERE = pathlib.Path(__file__).parent
GAMMA, GAS_R, T, AMBIENT = 1.4, 287.055, 293.15, 101_325.0
PSI, KPA = 6894.757293168, 1000.0
CRITICAL = (2 / (GAMMA + 1)) ** (GAMMA / (GAMMA - 1))


def flow_function(x):
    x = max(x, CRITICAL)
    return math.sqrt(max(0.0, 2 * GAMMA / (GAMMA - 1) * (x ** (2 / GAMMA) - x ** ((GAMMA + 1) / GAMMA))))


def decay(hole_mm, volume_cm3, start_pa, times, cd=0.62):
    rate = cd * math.pi * (hole_mm * 1e-3) ** 2 / 4 * math.sqrt(GAS_R * T) / (volume_cm3 * 1e-6)
    p, t, out = AMBIENT + start_pa, 0.0, []
    for wanted in times:
        steps = max(1, math.ceil((wanted - t) / 0.02))
        h = (wanted - t) / steps
        for _ in range(steps):
            def slope(p):
                if p > AMBIENT:
                    return -rate * p * flow_function(AMBIENT / p)
                return rate * AMBIENT * flow_function(p / AMBIENT)
            middle = p + h / 2 * slope(p)
            p += h * slope(middle)
        t = wanted
        out.append(p - AMBIENT)
    return out


def read(pressures, unit, step, noise, rng):
    return [round((p / unit + rng.gauss(0, noise)) / step) * step for p in pressures]


def inline(times, values, digits):
    rows = [f"  [{t:g}, {v:.{digits}f}]," for t, v in zip(times, values)]
    return "\n".join(rows)


MARK = "# Invented demo data of a college workshop: no such engine exists and none was tested.\n"

ENGINES = {
    "mist blower": ("46 mm", "31 mm", "55 mm", "1.42", "7.1", 46, 31, 1.42, 7.1),
    "clearing saw": ("42 mm", "32 mm", "58 mm", "1.45", "8.2", 42, 32, 1.45, 8.2),
    "ice auger": ("44 mm", "30 mm", "54 mm", "1.40", "7.5", 44, 30, 1.40, 7.5),
    "kart engine": ("54 mm", "54.5 mm", "102 mm", "1.38", "9.0", 54, 54.5, 1.38, 9.0),
}
RIG_CM3 = 18.0


def volume_cm3(engine):
    *_, bore, stroke, primary, ratio = ENGINES[engine]
    swept = math.pi * bore**2 / 4 * stroke / 1000
    return swept / (primary - 1) + swept + swept / (ratio - 1) + RIG_CM3


def on(machine, day):
    return f'machine = "{machine}"\ndate = {day}\n'


def head(title, engine, gauge, limit, about=""):
    bore, stroke, rod, primary, ratio, *_ = ENGINES[engine]
    return f"""{MARK}format = 1
title = "{title}"
{about}
[engine]
bore = "{bore}"
bore_uncertainty = "0.05 mm"
stroke = "{stroke}"
stroke_uncertainty = "0.05 mm"
rod = "{rod}"
primary_compression_ratio = "{primary}"
primary_compression_ratio_uncertainty = "0.01"
compression_ratio = "{ratio}"

[rig]
volume = "{RIG_CM3:g} cm3"
uncertainty = "1 cm3"

[ambient]
pressure = "1013.25 hPa"
pressure_uncertainty = "1 hPa"
temperature = "20 C"
temperature_uncertainty = "1 K"

{gauge}
{limit}
"""


DIAL = """[gauge]
unit = "psi"
division = "0.5 psi"
readable = "0.125 psi"
accuracy_class = 1.6
span = "15 psi"
"""
DIGITAL = """[gauge]
unit = "kPa"
resolution = "0.1 kPa"
noise = "0.06 kPa"
accuracy_class = 0.6
span = "200 kPa"
"""
RULE = """[limit]
rule = "common practice: one psi a minute"
"""
DROP = """[limit]
max_drop = "1 psi"
from = "7 psi"
over = "60 s"
"""
AREA = """[limit]
max_area = "0.002 mm2"
"""


def run(name, times, values, digits, extra=""):
    return f"""[[run]]
name = "{name}"
piston = "bottom"
blanked = ["exhaust blank", "intake blank", "impulse fitting"]
{extra}readings = [
{inline(times, values, digits)}
]
"""


def main():
    rng = random.Random(20)

    v = volume_cm3("mist blower")
    times = list(range(0, 301, 30))
    up = read(decay(0.012, v, 7 * PSI, times), PSI, 0.125, 0.0125, rng)
    down = read(decay(0.014, v, -7 * PSI, times), PSI, 0.125, 0.0125, rng)
    (HERE / "mist-blower-14.toml").write_text(
        head("Mist blower 14, sound", "mist blower", DIAL, DROP)
        + run("pressure", times, up, 3) + "\n" + run("vacuum", times, down, 3)
    )

    v = volume_cm3("clearing saw")
    times = list(range(0, 61, 3))
    up = read(decay(0.090, v, 48.0 * KPA, times), KPA, 0.1, 0.06, rng)
    down = read(decay(0.020, v, -48.0 * KPA, times), KPA, 0.1, 0.06, rng)
    (HERE / "clearing-saw-3.toml").write_text(
        head("Clearing saw 3, leaks under pressure", "clearing saw", DIGITAL, DROP)
        + run("pressure", times, up, 1) + "\n" + run("vacuum", times, down, 1)
    )

    v = volume_cm3("ice auger")
    times = [round(0.5 * i, 1) for i in range(121)]
    up = read(decay(0.018, v, 45.0 * KPA, times), KPA, 0.1, 0.06, rng)
    down = read(decay(0.075, v, -50.0 * KPA, times), KPA, 0.1, 0.06, rng)
    for name, values in (("pressure", up), ("vacuum", down)):
        rows = "".join(f"{t:.1f},{g:.1f}\n" for t, g in zip(times, values))
        (HERE / f"ice-auger-7-{name}.csv").write_text(MARK + "time_s,gauge_kpa\n" + rows)
    sheet = head("Ice auger 7, leaks under vacuum", "ice auger", DIGITAL, AREA)
    for name in ("pressure", "vacuum"):
        sheet += f"""[[run]]
name = "{name}"
piston = "bottom"
blanked = ["exhaust blank", "intake blank"]
file = "ice-auger-7-{name}.csv"

"""
    (HERE / "ice-auger-7.toml").write_text(sheet.rstrip() + "\n")

    (HERE / "kart-engine-2.toml").write_text(
        head("Kart engine 2, the pump stalls", "kart engine", DIAL, RULE)
        + """[[run]]
name = "pump stalled"
piston = "bottom"
blanked = ["exhaust blank", "intake blank"]
stalled = { strokes = 60, stroke_volume = "25 cm3", over = "60 s", reached = "0.5 psi" }
"""
    )

    v = volume_cm3("mist blower")
    times = list(range(0, 61, 5))
    before = read(decay(0.110, v, 7 * PSI, times), PSI, 0.125, 0.0125, rng)
    (HERE / "mist-blower-9-before.toml").write_text(
        head("Mist blower 9, before repair", "mist blower", DIAL, RULE, on("Mist blower 9", "2026-03-02")) + run("pressure", times, before, 3)
    )
    times = list(range(0, 241, 20))
    after = read(decay(0.015, v, 7 * PSI, times), PSI, 0.125, 0.0125, rng)
    (HERE / "mist-blower-9-repaired.toml").write_text(
        head("Mist blower 9, new crank seals", "mist blower", DIAL, RULE, on("Mist blower 9", "2026-03-05")) + run("pressure", times, after, 3)
    )

    # One machine over two years, its leak growing: holes by area from a first one too small to be told from none.
    v = volume_cm3("clearing saw")
    for day, hole, seconds in (
        ("2024-04-15", 0.006, 60), ("2024-10-21", 0.016, 120), ("2025-04-14", 0.022, 120),
        ("2025-10-20", 0.033, 120), ("2026-04-13", 0.047, 60),
    ):
        times = list(range(0, seconds + 1, seconds // 12))
        values = read(decay(hole, v, 7 * PSI, times), PSI, 0.125, 0.0125, rng)
        (HERE / f"clearing-saw-11-{day}.toml").write_text(
            head(f"Clearing saw 11, {day}", "clearing saw", DIAL, DROP, on("Clearing saw 11", day))
            + run("pressure", times, values, 3)
        )


if __name__ == "__main__":
    main()
