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
    return decay_of_area(cd * math.pi * (hole_mm * 1e-3) ** 2 / 4, volume_cm3, start_pa, times)


def decay_of_area(area_m2, volume_cm3, start_pa, times):
    rate = area_m2 * math.sqrt(GAS_R * T) / (volume_cm3 * 1e-6)
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
    "string trimmer": ("36 mm", "28 mm", "50 mm", "1.45", "8.0", 36, 28, 1.45, 8.0),
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
# Of the page for the record: the shop, what was said of the machine, and what was done to it.
JOB = """[job]
shop = "Training workshop of the college"
complaint = "Idles high and hunts, dies when it is warm"
work_done = "Both crank seals new, base gasket looked at"

"""
STIFF_AND_COLD = """# Nylon hose and plate blanks; the blower stood in the workshop overnight.
[bench]
stretch = "0 %/bar"
stretch_uncertainty = "0.2 %/bar"
creep = "0 %/bar"
creep_uncertainty = "0.04 %/bar"
warmth = "0 K"
warmth_uncertainty = "0.5 K"

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
PLAN = """[plan]
target = "45 kPa"
hold = "30 s"
readings_every = "1 s"
stroke_volume = "12 cm3"
dead_space = "1 cm3"

[running]
exhaust_opens = "110 deg"
transfer_opens = "123 deg"
transfer_opens_uncertainty = "+- 2 deg"
intake_opens = "70 deg"
intake_closes = "70 deg"
idle_speed = "3000 rpm"
idle_delivery_ratio = 0.20
idle_delivery_ratio_uncertainty = "+- 0.05"
full_speed = "8500 rpm"

"""


BLANKS = ["exhaust blank", "intake blank", "impulse fitting"]


def run(name, times, values, digits, extra="", blanked=BLANKS):
    listed = ", ".join(f'"{site}"' for site in blanked)
    return f"""[[run]]
name = "{name}"
piston = "bottom"
blanked = [{listed}]
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
        head("Mist blower 9, before repair", "mist blower", DIAL, RULE, on("Mist blower 9", "2026-03-02")) + STIFF_AND_COLD + run("pressure", times, before, 3)
    )
    times = list(range(0, 241, 20))
    after = read(decay(0.015, v, 7 * PSI, times), PSI, 0.125, 0.0125, rng)
    (HERE / "mist-blower-9-repaired.toml").write_text(
        head("Mist blower 9, new crank seals", "mist blower", DIAL, RULE, on("Mist blower 9", "2026-03-05")) + JOB + STIFF_AND_COLD + run("pressure", times, after, 3)
    )

    # Its own generator, so that the sheets above keep their readings.
    rng = random.Random(21)
    v = volume_cm3("string trimmer")
    times = [round(0.5 * i, 1) for i in range(13)]
    up = read(decay(0.12, v, 45.0 * KPA, times), KPA, 0.1, 0.06, rng)
    down = read(decay(0.20, v, -45.0 * KPA, times), KPA, 0.1, 0.06, rng)
    (HERE / "string-trimmer-6.toml").write_text(
        head("String trimmer 6, runs lean at idle", "string trimmer", DIGITAL, DROP)
        + PLAN + run("pressure", times, up, 1) + "\n" + run("vacuum", times, down, 1)
    )


# The truth of the sheets that are searched site by site: effective areas [um2].
FLYWHEEL, DRIVE, IMPULSE = "crank seal, flywheel side", "crank seal, drive side", "impulse fitting"
CLEARING_SAW_5 = {
    "pressure": {FLYWHEEL: 1800.0, DRIVE: 60.0, IMPULSE: 90.0, "base gasket": 4.0, "rig": 30.0},
    # The lip is pressed onto the shaft under vacuum.
    "vacuum": {FLYWHEEL: 20.0, DRIVE: 40.0, IMPULSE: 90.0, "base gasket": 4.0, "rig": 30.0},
    "repaired": {FLYWHEEL: 2.0, DRIVE: 60.0, IMPULSE: 90.0, "base gasket": 4.0, "rig": 30.0},
}
WAYS = """[volume]
shared = ["rig"]

[volume.strokes]
stroke_volume = "25.0 cm3"
stroke_volume_uncertainty = "0.2 cm3"
delivery = 0.95
delivery_uncertainty = 0.03
readings = [[1, {one:.1f}], [2, {two:.1f}], [3, {three:.1f}]]

[volume.fill]
empty = "2314.0 g"
empty_uncertainty = "0.5 g"
full = "{full:.1f} g"
full_uncertainty = "0.5 g"
density = "0.845 g/cm3"
density_uncertainty = "0.003 g/cm3"
trapped = "1.5 cm3"
trapped_uncertainty = "+- 1.5 cm3"
add = [{{ name = "rig", volume = "18 cm3", uncertainty = "1 cm3" }}]
"""


def site_by_site():
    rng = random.Random(5)
    v = volume_cm3("clearing saw")
    fixed = ["exhaust blank", "intake blank"]
    dry = 'dry = ["base gasket", "case seam"]\n'

    def searched(name, truth, start, times, capped=(), extra=""):
        area = sum(a for site, a in CLEARING_SAW_5[truth].items() if site not in capped) * 1e-12
        values = read(decay_of_area(area, v, start, times), KPA, 0.1, 0.06, rng)
        return run(name, times, values, 1, extra, fixed + list(capped)) + "\n"

    pumped = [AMBIENT * n * 25.0 * 0.95 / v / KPA + rng.gauss(0, 0.06) for n in (1, 2, 3)]
    full = 2314.0 + (v - RIG_CM3 - 1.2) * 0.845 * (1 - 1.2 / 8000) / (1 - 1.2 / 845) + rng.gauss(0, 0.5)
    ways = WAYS.format(one=pumped[0], two=pumped[1], three=pumped[2], full=full)
    start = head("Clearing saw 5, which seal?", "clearing saw", DIGITAL, DROP).rstrip() + "\n\n" + ways + "\n"
    quick, slow = list(range(0, 61, 4)), list(range(0, 241, 12))
    runs = searched("all open", "pressure", 48 * KPA, quick, extra=dry)
    runs += searched("drive side capped", "pressure", 48 * KPA, quick, [DRIVE])
    runs += searched("impulse plugged", "pressure", 48 * KPA, quick, [IMPULSE])
    runs += searched("flywheel side capped", "pressure", 48 * KPA, slow, [FLYWHEEL])
    runs += searched("both seals capped, impulse plugged", "pressure", 48 * KPA, slow, [FLYWHEEL, DRIVE, IMPULSE])
    runs += searched("vacuum", "vacuum", -48 * KPA, slow)
    (HERE / "clearing-saw-5.toml").write_text((start + runs).rstrip() + "\n")

    repaired = 'repaired = ["crank seal, flywheel side"]\ndry = ["crank seal, flywheel side"]\n'
    runs += searched("new flywheel seal", "repaired", 48 * KPA, slow, extra=repaired)
    again = start.replace("which seal?", "before and after a new seal")
    (HERE / "clearing-saw-5-repaired.toml").write_text((again + runs).rstrip() + "\n")

    # A leak so large that the pump hardly lifts the needle: dry spots say little there.
    (HERE / "log-splitter-1.toml").write_text(
        head("Log splitter 1, one leak hides the others", "ice auger", DIGITAL, AREA)
        + """[isolate]
sites = ["crank seal, flywheel side", "crank seal, drive side", "base gasket", "starter cover"]
can_blank = ["crank seal, flywheel side", "crank seal, drive side"]

[[run]]
name = "pump stalls"
piston = "bottom"
blanked = ["exhaust blank", "intake blank"]
stalled = { strokes = 60, stroke_volume = "25 cm3", over = "60 s", reached = "1.4 kPa" }
bubbles = ["starter cover"]
dry = ["crank seal, flywheel side", "base gasket"]
"""
    )


def over_the_years():
    """One machine, its leak growing: holes by area from a first one too small to be told from none."""
    rng = random.Random(22)
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


def by_its_displacement():
    """As little as a shop knows: the displacement of an engine, three readings and a limit of the needle's speed."""
    rng = random.Random(23)
    times = [0, 60, 120]
    values = read(decay(0.02, volume_cm3("ice auger"), 7 * PSI, times), PSI, 0.25, 0.02, rng)
    (HERE / "ice-auger-12.toml").write_text(
        f"""{MARK}format = 1
title = "Ice auger 12, idles badly"

[engine]
displacement = "45.6 cm3"

[ambient]
pressure = "1008 hPa"
temperature = "20 C"

[gauge]
unit = "psi"
division = "0.5 psi"

[limit]
max_drop = "1 psi"
from = "7 psi"
over = "1 min"

[[run]]
name = "all blanked"
readings = [
{inline(times, values, 2)}
]
"""
    )


if __name__ == "__main__":
    main()
    site_by_site()
    over_the_years()
    by_its_displacement()
