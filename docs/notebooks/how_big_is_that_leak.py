# %% [markdown]
# # How big is that leak?
#
# For a class at the bench: what a hole does to the needle, and what the needle tells of the hole. Nothing here was
# measured; the readings are simulated.
#
# Before anyone pumps: a test puts a case under pressure. Use the pressure that the engine maker's manual allows, cover the
# eyes, and keep hands and faces away from blanks.

# %%
from __future__ import annotations

from pathlib import Path

import matplotlib.pyplot as plt
import numpy as np

import casetight as ct

pictures = Path(__file__).resolve().parents[2] / "target" / "notebooks"
pictures.mkdir(parents=True, exist_ok=True)

# %% [markdown]
# ## From the hole to the needle
#
# Three holes in a case of 250 cm3 pumped to 7 psi. A round hole passes gas as an ideal one of 0.62 times its area does.

# %%
time_s = np.linspace(0.0, 120.0, 241)
holes_mm = [0.03, 0.1, 0.3]
figure, axes = plt.subplots(figsize=(7, 4), layout="constrained")
for hole_mm in holes_mm:
    hole = ct.Orifice.of_hole(f"{hole_mm} mm", discharge_coefficient=0.62)
    decay = ct.Decay(hole.area_m2, "250 cm3", "7 psi", ambient_pa="1013.25 hPa", temperature_k="20 C")
    axes.plot(time_s, decay.gauge_pa(time_s) / 6894.757, label=f"{hole_mm} mm")
    print(f"{hole_mm} mm: the first psi is gone after {decay.time_s('6 psi'):.1f} s, all after {decay.ends_after_s:.0f} s")
axes.set_xlabel("time [s]")
axes.set_ylabel("gauge pressure [psi]")
axes.legend(title="hole", frameon=False)
axes.set_title("A hole three times as wide is nine times as fast", loc="left")
figure.savefig(pictures / "holes.png", dpi=100)

# %% [markdown]
# ## From the needle to the hole
#
# A student read a dial with a mark each half psi, to a quarter of a division, every ten seconds. What was the hole?

# %%
gauge = ct.Gauge.dial("0.5 psi", "0.125 psi", accuracy_class=1.6, span_pa="15 psi")
bench = ct.Bench(
    volume_m3=("250 cm3", "5 cm3"),
    ambient_pa=("1013.25 hPa", "1 hPa"),
    temperature_k=("20 C", "1 K"),
    gauge=gauge,
    drift_allowance_k_s="0.1 K/min",
    settled_for_s=10.0,
)
truth = ct.Orifice.of_hole("0.04 mm", discharge_coefficient=0.62)
times_s = np.arange(0.0, 130.0, 10.0)
felt_pa = ct.Decay(
    truth.area_m2, "250 cm3", "7 psi", ambient_pa="1013.25 hPa", temperature_k="20 C"
).gauge_pa(times_s)
run = ct.assess(times_s, gauge.rounded(felt_pa), bench, [ct.Limit.one_psi_a_minute()])
print(run)
diameter = run.diameter_m
assert diameter is not None
print(f"hole: {diameter.value * 1e3:.3f} mm, between {diameter.low * 1e3:.3f} and {diameter.high * 1e3:.3f} mm; it was 0.040 mm")
assert diameter.low < 0.04e-3 < diameter.high
for note in run.notes:
    print("-", note)
curve, residuals = run.plot()
curve.figure.savefig(pictures / "student.png", dpi=100)
