"""Pressure in the crankcase over a turn, and what a hole passes: the check of the Rust module `running`.

Run from the repository's root: python3 tests/python/running_case.py > tests/data/running_case.csv

Shares nothing with casetight. The state goes around the turn by a differential equation, dp = n p (dm/m - dV/V), in small
steps (classical Runge-Kutta) from the closing of the transfers, with the slider-crank's volume written out here, where
casetight has a closed form. The hole passes isentropic flow of air, gamma 1.4, R 287.055 J/(kg K), at 293.15 K.
"""

import math

AMBIENT, GAS_R, T, GAMMA = 101_325.0, 287.055, 293.15, 1.4
CRITICAL = (2 / (GAMMA + 1)) ** (GAMMA / (GAMMA - 1))
STEPS = 72_000

CASES = [
    # name, bore, stroke, rod [mm], primary ratio, exponent, transfers open, intake opens (before), closes, delivery, rpm, mm2
    ("blower-idle", 46, 31, 55, 1.42, 1.3, 120, 65, 65, 0.25, 2800, 0.1),
    ("blower-full", 46, 31, 55, 1.42, 1.3, 120, 65, 65, 0.60, 9000, 0.1),
    ("kart-idle", 54, 54.5, 102, 1.38, 1.2, 118, 80, 60, 0.20, 2000, 0.5),
    ("saw-full", 42, 32, 58, 1.45, 1.4, 122, 70, 75, 0.70, 11000, 0.02),
]


def flow(up, down):
    """Isentropic mass flow through 1 m2 [kg/s]."""
    x = max(down / up, CRITICAL)
    psi = math.sqrt(2 * GAMMA / (GAMMA - 1) * (x ** (2 / GAMMA) - x ** ((GAMMA + 1) / GAMMA)))
    return up / math.sqrt(GAS_R * T) * psi


def turn(bore, stroke, rod, primary, n, transfers, opens, closes, delivery):
    area, r = math.pi / 4 * (bore * 1e-3) ** 2, stroke * 0.5e-3
    rod *= 1e-3
    swept = area * 2 * r
    bottom = swept / (primary - 1)

    def volume(deg):
        a = math.radians(deg)
        pin = r * math.cos(a) + math.sqrt(rod**2 - (r * math.sin(a)) ** 2)
        return bottom + area * (pin - (rod - r))

    def volume_slope(deg):
        a = math.radians(deg)
        s = -r * math.sin(a) - r * r * math.sin(a) * math.cos(a) / math.sqrt(rod**2 - (r * math.sin(a)) ** 2)
        return area * s * math.pi / 180

    density = AMBIENT / (GAS_R * T)
    fresh = delivery * swept * density

    def mass_slope(deg):
        deg %= 360
        if deg > 360 - opens or deg < closes:
            return fresh / (opens + closes)
        if transfers < deg < 360 - transfers:
            return -fresh / (360 - 2 * transfers)
        return 0.0

    start = 360.0 - transfers
    p, m = AMBIENT, density * volume(start)
    path = [(start, p)]
    # The phases one by one, so that no step straddles a kink.
    ends = [start, 360.0 - opens, 360.0 + closes, 360.0 + transfers, 360.0 + 360.0 - transfers]
    for a, b in zip(ends, ends[1:]):
        count = max(10, round(STEPS * (b - a) / 360))
        h = (b - a) / count
        dm = mass_slope(0.5 * (a + b))
        for i in range(count):
            deg = a + i * h

            def slope(d, pressure, mass):
                return n * pressure * (dm / mass - volume_slope(d) / volume(d))

            k1 = slope(deg, p, m)
            k2 = slope(deg + h / 2, p + h / 2 * k1, m + h / 2 * dm)
            k3 = slope(deg + h / 2, p + h / 2 * k2, m + h / 2 * dm)
            k4 = slope(deg + h, p + h * k3, m + h * dm)
            p += h / 6 * (k1 + 2 * k2 + 2 * k3 + k4)
            m += h * dm
            path.append((deg + h, p))
    return path, fresh


def at(path, deg):
    deg = deg if deg >= path[0][0] else deg + 360
    return min(path, key=lambda row: abs(row[0] - deg))


def main():
    print("# Pressure in the crankcase over a turn, and what a hole in it passes in a turn.")
    print("# Source: independent script, tests/python/running_case.py (Runge-Kutta around the turn; isentropic flow).")
    print("# Units: mm, degrees after (intake_opens: before) top dead center, rpm, mm2 (effective area), Pa absolute, kg a turn.")
    print("# Tolerances: pressure 1e-6, flows 1e-4 relative (the steps of either side). Status: computed.")
    angles = [0, 30, 60, 90, 120, 150, 180, 210, 240, 270, 300, 330]
    names = ",".join(f"p{a}" for a in angles)
    print(
        "case,bore_mm,stroke_mm,rod_mm,primary_compression_ratio,exponent,transfer_opens,intake_opens,intake_closes,"
        f"delivery_ratio,rpm,area_mm2,{names},delivered_kg,in_kg,out_kg,status"
    )
    for name, *inputs in CASES:
        *engine, rpm, mm2 = inputs
        path, fresh = turn(*engine)
        assert abs(path[-1][1] / AMBIENT - 1) < 1e-9, "the turn closes"
        into = out = 0.0
        for (a, p), (b, q) in zip(path, path[1:]):
            middle = 0.5 * (p + q)
            seconds = (b - a) / 360 * 60 / rpm
            if middle < AMBIENT:
                into += mm2 * 1e-6 * flow(AMBIENT, middle) * seconds
            else:
                out += mm2 * 1e-6 * flow(middle, AMBIENT) * seconds
        pressures = ",".join(f"{at(path, a)[1]:.4f}" for a in angles)
        given = ",".join(f"{x:g}" for x in inputs)
        print(f"{name},{given},{pressures},{fresh:.9e},{into:.9e},{out:.9e},computed")


if __name__ == "__main__":
    main()
